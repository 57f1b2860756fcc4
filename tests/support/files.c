#include "tests/support/files.h"

#include <criterion/criterion.h>
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

unsigned char *files_load(const char *path, size_t *length)
{
    *length = files_size(path);
    unsigned char *bytes = malloc(*length + 1);
    FILE *file = fopen(path, "rb");
    cr_assert(file && bytes, "%s", path);
    cr_assert_eq(fread(bytes, 1, *length, file), *length);
    fclose(file);
    return bytes;
}

void files_dump(const char *path, const void *bytes, size_t length)
{
    FILE *file = fopen(path, "wb");
    cr_assert(file, "%s", path);
    cr_assert_eq(fwrite(bytes, 1, length, file), length);
    cr_assert_eq(fclose(file), 0);
}

void files_write(const char *path, const char *text)
{
    files_dump(path, text, strlen(text));
}

size_t files_size(const char *path)
{
    struct stat about;
    return stat(path, &about) == 0 ? (size_t)about.st_size : 0;
}

static size_t visit(const char *folder, int (*action)(const char *))
{
    size_t count = 0;
    DIR *listing = opendir(folder);
    for (struct dirent *entry; listing && (entry = readdir(listing));) {
        char name[512];
        snprintf(name, sizeof name, "%s/%s", folder, entry->d_name);
        if (entry->d_name[0] == '.')
            continue;
        count++;
        if (action)
            action(name);
    }
    if (listing)
        closedir(listing);
    return count;
}

size_t files_count(const char *folder)
{
    return visit(folder, NULL);
}

void files_remove(const char *folder)
{
    visit(folder, remove);
}
