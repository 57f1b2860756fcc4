#include "solver/cli/result_path.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "solver/base/memory.h"

enum { PATH = 4096 };

static int is_folder(const char *path)
{
    struct stat about;
    size_t length = strlen(path);
    return (length > 0 && path[length - 1] == '/') || (stat(path, &about) == 0 && S_ISDIR(about.st_mode));
}

static int is_input(const char *path)
{
    return strcmp(path, "-") == 0;
}

static int ends_in(const char *text, size_t length, const char *end)
{
    size_t part = strlen(end);
    return length > part && memcmp(text + length - part, end, part) == 0;
}

/* Name of the case without folder and ending; its length. */
static const char *stem(const char *path, size_t *length)
{
    if (is_input(path))
        path = "stdin";
    const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path;
    *length = strlen(name);
    if (ends_in(name, *length, ".yaml"))
        *length -= strlen(".yaml");
    else if (ends_in(name, *length, ".yml"))
        *length -= strlen(".yml");
    return name;
}

static enum status one_path(const char *path, const char *model, const char *output, char **result,
                            struct errors *errors)
{
    char text[PATH] = "";
    size_t length;
    const char *name = stem(path, &length);
    int size = 0;
    if (output && !is_folder(output)) {
        size = snprintf(text, sizeof text, "%s", output);
    } else if (output || !is_input(path)) {
        const char *folder = output ? output : path;
        size_t part = output ? strlen(output) : (size_t)(name - path);
        const char *between = part > 0 && folder[part - 1] != '/' ? "/" : "";
        size = snprintf(text, sizeof text, "%.*s%s%.*s%s%s.h5", (int)part, folder, between, (int)length, name,
                        model ? "." : "", model ? model : "");
    }
    if (size < 0 || size >= PATH)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "the name of its result file would be too long");
    *result = memory_text(text);
    return *result ? STATUS_OK : errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
}

/* The file that a name leads to; `there` is 0 when there is none. */
struct place {
    int there;
    dev_t device;
    ino_t file;
};

static struct place place_of(const char *path)
{
    struct stat about;
    if (path[0] == '\0' || stat(path, &about) != 0)
        return (struct place){0};
    return (struct place){.there = 1, .device = about.st_dev, .file = about.st_ino};
}

static int same_place(const struct place *a, const struct place *b)
{
    return a->there && b->there && a->device == b->device && a->file == b->file;
}

static enum status check_pairs(const char *const *cases, size_t count, char *const *paths,
                               const struct place *results, const struct place *inputs, struct errors *errors)
{
    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < i; k++) {
            if (paths[i][0] && strcmp(paths[i], paths[k]) == 0)
                return errors_add(errors, STATUS_USAGE, cases[i], 0, 0,
                                  "its result would have the name of that of %s: %s", cases[k], paths[i]);
        }
        for (size_t k = 0; k < count; k++) {
            if (same_place(&results[i], &inputs[k]))
                return errors_add(errors, STATUS_USAGE, cases[k], 0, 0,
                                  "is a case: a result does not take its place");
        }
    }
    return STATUS_OK;
}

static enum status check_apart(const char *const *cases, size_t count, char *const *paths,
                               struct errors *errors)
{
    struct place *places = memory_zeroed(2 * count, sizeof *places);
    if (!places)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    for (size_t i = 0; i < count; i++) {
        places[i] = place_of(paths[i]);
        places[count + i] = place_of(is_input(cases[i]) ? "" : cases[i]);
    }
    enum status status = check_pairs(cases, count, paths, places, places + count, errors);
    memory_free(places);
    return status;
}

static enum status check_output(const char *const *cases, size_t count, const char *output,
                                struct errors *errors)
{
    size_t inputs = 0;
    for (size_t i = 0; i < count; i++)
        inputs += (size_t)is_input(cases[i]);
    if (inputs > 1)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "standard input (-) can be read only once");
    if (output && strcmp(output, "-") == 0)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0,
                          "-o -: a result file does not go to standard output; --json does");
    if (output && count > 1 && !is_folder(output))
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0,
                          "-o '%s': with several cases or models it names a folder, and ends in /", output);
    struct stat about;
    if (output && is_folder(output) && (stat(output, &about) != 0 || !S_ISDIR(about.st_mode)))
        return errors_add(errors, STATUS_FILE, output, 0, 0, "there is no such folder");
    return STATUS_OK;
}

enum status result_paths(const char *const *cases, const char *const *models, size_t count,
                         const char *output, char **paths, struct errors *errors)
{
    memset(paths, 0, count * sizeof *paths);
    enum status status = check_output(cases, count, output, errors);
    for (size_t i = 0; i < count && status == STATUS_OK; i++)
        status = one_path(cases[i], models[i], output, &paths[i], errors);
    if (status == STATUS_OK)
        status = check_apart(cases, count, paths, errors);
    for (size_t i = 0; i < count && status != STATUS_OK; i++) {
        memory_free(paths[i]);
        paths[i] = NULL;
    }
    return status;
}
