#include "tests/fuzz/target.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "solver/base/memory.h"
#include "solver/base/status.h"
#include "solver/base/text.h"

static char folder[256];
static pid_t owner;

static void remove_folder(void)
{
    if (getpid() != owner)
        return;
    DIR *listing = opendir(folder);
    for (struct dirent *entry; listing && (entry = readdir(listing));) {
        char path[sizeof folder + 256];
        snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        if (entry->d_name[0] != '.')
            unlink(path);
    }
    if (listing)
        closedir(listing);
    rmdir(folder);
}

static void make_folder(void)
{
    const char *where = getenv("TMPDIR");
    snprintf(folder, sizeof folder, "%s/foampulse_fuzz_XXXXXX", where ? where : "/tmp");
    TARGET_CHECK(mkdtemp(folder));
    owner = getpid();
    atexit(remove_folder);
}

const char *target_file(const char *name, const void *bytes, size_t size)
{
    static char path[sizeof folder + 64];
    if (owner != getpid())
        make_folder();
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "wb");
    TARGET_CHECK(file);
    TARGET_CHECK(fwrite(bytes, 1, size, file) == size);
    TARGET_CHECK(fclose(file) == 0);
    return path;
}

unsigned char *target_load(const char *path, size_t *size)
{
    char whole[512];
    snprintf(whole, sizeof whole, "%s/%s", FOAMPULSE_SOURCE, path);
    FILE *file = fopen(path[0] == '/' ? path : whole, "rb");
    TARGET_CHECK(file);
    TARGET_CHECK(fseek(file, 0, SEEK_END) == 0);
    *size = (size_t)ftell(file);
    rewind(file);
    unsigned char *bytes = memory_zeroed(*size + 1, 1);
    TARGET_CHECK(bytes);
    TARGET_CHECK(fread(bytes, 1, *size, file) == *size);
    fclose(file);
    return bytes;
}

_Noreturn void target_fail(const char *file, int line, const char *condition)
{
    fprintf(stderr, "%s:%d: does not hold: %s\n", file, line, condition);
    abort();
}

static int is_clean(const char *text)
{
    size_t left = strlen(text), step;
    for (; left > 0; left -= step, text += step) {
        unsigned code;
        step = text_decode(text, left, &code);
        if (step == 0 || text_is_control(code))
            return 0;
    }
    return 1;
}

void target_messages(const struct errors *errors, int failed)
{
    TARGET_CHECK(failed == (errors->count > 0));
    for (size_t i = 0; i < errors->count && i < ERRORS_KEPT; i++) {
        const struct error *error = &errors->kept[i];
        TARGET_CHECK(error->status != STATUS_OK && error->status != STATUS_INTERNAL);
        TARGET_CHECK(error->text[0] != '\0');
        TARGET_CHECK(error->line >= 0 && error->column >= 0);
        TARGET_CHECK(error->line > 0 || error->column == 0);
        TARGET_CHECK(is_clean(error->file) && is_clean(error->text) && is_clean(error->source));
    }
}
