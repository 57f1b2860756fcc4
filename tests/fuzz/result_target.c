#include <fcntl.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cases/probe.h"
#include "cases/store.h"
#include "plots/plots.h"
#include "solver/base/memory.h"
#include "solver/cli/summary.h"
#include "tests/fuzz/recipe.h"
#include "tests/fuzz/target.h"

static size_t contained;

size_t result_contained(void)
{
    return contained;
}

/* In place of the bridge: the commands are made, nothing is drawn. */
enum status __wrap_gnuplot_draw(const struct script *script, enum picture_format format, const char *path,
                                char **text, struct errors *errors);

enum status __wrap_gnuplot_draw(const struct script *script, enum picture_format format, const char *path,
                                char **text, struct errors *errors)
{
    (void)format;
    (void)path;
    (void)errors;
    TARGET_CHECK(script->failed || strlen(script->text) == script->length);
    if (text)
        *text = memory_text("");
    return STATUS_OK;
}

/* What `show` prints. */
static void use_words(const struct case_result *result)
{
    json_t *object = summary_json(result, 1);
    TARGET_CHECK(object);
    char *text = json_dumps(object, 0);
    TARGET_CHECK(text);
    free(text);
    json_decref(object);
    summary_csv(result, 1);
    TARGET_CHECK(summary_print(result, 1, 1, 1) == STATUS_OK);
    summary_verdicts(result, 1);
}

static void use_pictures(const struct case_result *result)
{
    for (size_t i = 0; i < PLOT_COUNT; i++) {
        char *text = NULL;
        struct errors errors = {0};
        enum status status = plots_draw(plot_table[i].name, result, 1, &(struct section_view){0},
                                        PICTURE_TEXT, NULL, &text, &errors);
        target_messages(&errors, status != STATUS_OK);
        TARGET_CHECK(status == STATUS_OK || status == STATUS_INPUT);
        memory_free(text);
    }
}

/* The words of the program go nowhere. */
static void use(const struct case_result *result)
{
    fflush(stdout);
    int kept = dup(STDOUT_FILENO), nowhere = open("/dev/null", O_WRONLY | O_CLOEXEC);
    TARGET_CHECK(kept >= 0 && nowhere >= 0 && dup2(nowhere, STDOUT_FILENO) >= 0);
    use_words(result);
    use_pictures(result);
    fflush(stdout);
    TARGET_CHECK(dup2(kept, STDOUT_FILENO) >= 0);
    close(kept);
    close(nowhere);
}

static void read_file(const char *path)
{
    struct case_result result;
    struct errors errors = {0};
    enum status status = store_read(path, &result, &errors);
    target_messages(&errors, status != STATUS_OK);
    TARGET_CHECK(status == STATUS_OK || status == STATUS_INPUT || status == STATUS_MEMORY);
    if (status == STATUS_OK) {
        use(&result);
        case_result_free(&result);
    } else if (strcmp(errors.kept[0].text, "damaged or not a foampulse result") == 0) {
        contained++;
    }
}

void result_target(const unsigned char *bytes, size_t size)
{
    static const char first[] = "foampulse file";
    unsigned char *file;
    size_t length = size;
    if (size > PROBE_BLOCK && memcmp(bytes, first, sizeof first - 1) == 0) {
        file = memory_zeroed(size, 1);
        TARGET_CHECK(file);
        memcpy(file, bytes, size);
    } else {
        file = recipe_make(bytes, size, &length);
    }
    if (!file)
        return;
    probe_seal(STORE_RUN, file, length);
    read_file(target_file("result.h5", file, length));
    memory_free(file);
}
