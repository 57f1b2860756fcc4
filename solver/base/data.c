#include "solver/base/data.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "solver/base/memory.h"

static int is_readable_file(const char *path)
{
    struct stat about;
    return stat(path, &about) == 0 && S_ISREG(about.st_mode) && access(path, R_OK) == 0;
}

/* Joins the first `length` bytes of a folder and a name; leaves *path NULL when there is no such file. */
static enum status data_try(const char *folder, size_t length, const char *name, char **path)
{
    char *joined = memory_zeroed(length + strlen(name) + 2, 1);
    if (!joined)
        return STATUS_MEMORY;
    memcpy(joined, folder, length);
    if (length > 0 && folder[length - 1] != '/')
        joined[length++] = '/';
    strcpy(joined + length, name);
    if (is_readable_file(joined))
        *path = joined;
    else
        memory_free(joined);
    return STATUS_OK;
}

enum status data_find(const char *name, const char *beside, char **path)
{
    const char *slash = beside ? strrchr(beside, '/') : NULL;
    const struct {
        const char *folder;
        size_t length;
    } places[] = {
        {beside, slash ? (size_t)(slash - beside) + 1 : 0},
        {getenv("FOAMPULSE_DATA"), SIZE_MAX},
        {FOAMPULSE_PREFIX "/share/foampulse", SIZE_MAX},
        {FOAMPULSE_SOURCE, SIZE_MAX},
    };
    enum status status = STATUS_OK;
    *path = NULL;
    if (name[0] == '/')
        return data_try("", 0, name, path);
    for (size_t i = 0; i < sizeof places / sizeof *places && !*path && status == STATUS_OK; i++) {
        const char *folder = places[i].folder;
        if (folder && folder[0] != '\0')
            status = data_try(folder, places[i].length == SIZE_MAX ? strlen(folder) : places[i].length, name,
                              path);
    }
    return status;
}
