#include "cases/source.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "solver/base/memory.h"

enum { FIRST_BLOCK = 1 << 14 };

static void drop_byte_order_mark(char *content, size_t *length)
{
    if (*length < 3 || memcmp(content, "\xef\xbb\xbf", 3) != 0)
        return;
    *length -= 3;
    memmove(content, content + 3, *length + 1);
}

int source_add(struct tree *tree, const char *name, const char *path, char *content, size_t length)
{
    size_t count = tree->file_count;
    struct source_file *files = memory_resized(tree->files, count, count + 1, sizeof *files);
    struct source_file file = {.included_from = -1, .content = content, .length = length};
    if (files)
        tree->files = files;
    file.name = memory_text(name);
    file.path = memory_text(path);
    if (!files || !file.name || !file.path) {
        memory_free(file.name);
        memory_free(file.path);
        memory_free(content);
        return -1;
    }
    drop_byte_order_mark(file.content, &file.length);
    files[count] = file;
    tree->file_count++;
    return (int)count;
}

static enum status file_problem(const char **why)
{
    *why = errno == ENOENT ? "no such file" : strerror(errno);
    return STATUS_FILE;
}

/* What may be read: no folder; with `plain`, nothing that could block or never end. */
static enum status kind_check(int file, int plain, const char **why)
{
    struct stat about;
    if (fstat(file, &about) != 0)
        return file_problem(why);
    if (S_ISDIR(about.st_mode))
        *why = "this is a folder, not a file";
    else if (plain && !S_ISREG(about.st_mode))
        *why = "this is not an ordinary file";
    else
        return STATUS_OK;
    return STATUS_FILE;
}

/* Reads on until the end of the file or one byte more than is allowed. */
static enum status content_read(int file, char **content, size_t *length, const char **why)
{
    size_t room = 0;
    for (;;) {
        if (*length + 1 >= room) {
            size_t more = room ? 2 * room : FIRST_BLOCK;
            char *larger = memory_resized(*content, room, more, 1);
            if (!larger)
                return STATUS_MEMORY;
            *content = larger;
            room = more;
        }
        ssize_t got = read(file, *content + *length, room - *length - 1);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return file_problem(why);
        *length += (size_t)got;
        if (*length > NODE_TEXT_LIMIT) {
            *why = "the file is larger than 1 MiB, which no case needs";
            return STATUS_INPUT;
        }
        if (got == 0)
            return STATUS_OK;
    }
}

enum status source_read(const char *path, int plain, char **content, size_t *length, const char **why)
{
    int from_input = strcmp(path, "-") == 0 && !plain;
    int file = from_input ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC | (plain ? O_NONBLOCK : 0));
    *content = NULL;
    *length = 0;
    *why = "out of memory";
    if (file < 0)
        return file_problem(why);
    enum status status = kind_check(file, plain, why);
    if (status == STATUS_OK)
        status = content_read(file, content, length, why);
    if (!from_input)
        close(file);
    if (status != STATUS_OK) {
        memory_free(*content);
        *content = NULL;
    }
    return status;
}
