#include <stdio.h>
#include <string.h>

#include "cases/case.h"
#include "solver/base/memory.h"
#include "solver/study/batch.h"
#include "tests/fuzz/target.h"

enum { SETS = 4, SET_LENGTH = 256 };

/* Lines "#set PATH=VALUE" of the case, which are comments to YAML. */
struct sets {
    size_t count;
    char text[SETS][SET_LENGTH];
    const char *list[SETS];
};

static void find_sets(const unsigned char *bytes, size_t size, struct sets *sets)
{
    static const char mark[] = "#set ";
    const size_t skip = sizeof mark - 1;
    sets->count = 0;
    for (size_t at = 0; at < size && sets->count < SETS;) {
        const unsigned char *end = memchr(bytes + at, '\n', size - at);
        size_t length = end ? (size_t)(end - bytes) - at : size - at;
        if (length > skip && length - skip < SET_LENGTH && memcmp(bytes + at, mark, skip) == 0) {
            char *text = sets->text[sets->count];
            memcpy(text, bytes + at + skip, length - skip);
            text[length - skip] = '\0';
            sets->list[sets->count++] = text;
        }
        at += length + 1;
    }
}

/* What lies beside the case, for include and curves. */
static void make_neighbours(void)
{
    static int made;
    if (made)
        return;
    size_t size;
    unsigned char *common = target_load("cases/demo/common.yaml", &size);
    target_file("common.yaml", common, size);
    memory_free(common);
    static const char curve[] = "strain,stress (kPa)\n0,0\n0.02,250\n0.1,300\n0.5,450\n0.7,900\n0.9,6000\n";
    target_file("curve.csv", curve, sizeof curve - 1);
    made = 1;
}

/* The resolved text stands for the case in the result file: read again it is the same case. */
static void check_text(const struct case_file *file)
{
    struct case_file again;
    struct errors errors = {0};
    const char *path = target_file("again.yaml", file->text, strlen(file->text));
    TARGET_CHECK(case_load(path, NULL, 0, &again, &errors) == STATUS_OK);
    TARGET_CHECK(strcmp(again.text, file->text) == 0 && strcmp(again.hash, file->hash) == 0);
    TARGET_CHECK(case_impact_count(&again) == case_impact_count(file) &&
                 again.region_count == file->region_count);
    case_free(&again);
}

void case_target(const unsigned char *bytes, size_t size)
{
    struct sets sets;
    struct case_file file;
    struct errors errors = {0};
    make_neighbours();
    find_sets(bytes, size, &sets);
    const char *path = target_file("case.yaml", bytes, size);
    enum status status = case_load(path, sets.list, sets.count, &file, &errors);
    target_messages(&errors, status != STATUS_OK);
    TARGET_CHECK(status == STATUS_OK || status == STATUS_INPUT || status == STATUS_USAGE ||
                 status == STATUS_FILE);
    if (status != STATUS_OK)
        return;
    check_text(&file);
    status = batch_check(&file, NULL, &errors);
    target_messages(&errors, status != STATUS_OK);
    TARGET_CHECK(status == STATUS_OK || status == STATUS_INPUT || status == STATUS_FILE);
    case_free(&file);
}
