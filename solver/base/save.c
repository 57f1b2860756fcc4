#include "solver/base/save.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

static enum status refused(const char *path, struct errors *errors, const char *what)
{
    return errors_add(errors, STATUS_FILE, path, 0, 0, "%s: %s", what, strerror(errno));
}

/* A rename would replace a device or a pipe as readily as a file. */
static int is_special(const char *path)
{
    struct stat about;
    return lstat(path, &about) == 0 && !S_ISREG(about.st_mode) && !S_ISLNK(about.st_mode);
}

enum status save_begin(const char *path, struct save *save, struct errors *errors)
{
    *save = (struct save){.descriptor = -1};
    if (is_special(path))
        return errors_add(errors, STATUS_FILE, path, 0, 0, "is a folder or device and is not replaced");
    /* 40 bytes are left for what is added to make the temporary name. */
    if (strlen(path) + 40 > sizeof save->path)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "the name of the file is too long");
    snprintf(save->path, sizeof save->path, "%s", path);
    for (int attempt = 0; attempt < 100; attempt++) {
        int length = snprintf(save->temporary, sizeof save->temporary, "%.*s.%ld.%d.tmp", SAVE_PATH - 40,
                              path, (long)getpid(), attempt);
        if (length < 0)
            break;
        save->descriptor = open(save->temporary, O_RDWR | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
        save->open = save->descriptor >= 0;
        if (save->open || errno != EEXIST)
            break;
    }
    return save->open ? STATUS_OK : refused(path, errors, "cannot be written");
}

enum status save_write(struct save *save, const void *bytes, size_t length, struct errors *errors)
{
    const char *from = bytes;
    while (length > 0) {
        ssize_t done = write(save->descriptor, from, length);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            return refused(save->path, errors, "cannot be written in full");
        from += done;
        length -= (size_t)done;
    }
    return STATUS_OK;
}

/* The folder of a path and where its last name begins. */
static const char *split(const char *path, char folder[SAVE_PATH])
{
    const char *slash = strrchr(path, '/');
    if (!slash)
        snprintf(folder, SAVE_PATH, ".");
    else
        snprintf(folder, SAVE_PATH, "%.*s", slash == path ? 1 : (int)(slash - path), path);
    return slash ? slash + 1 : path;
}

int save_flush_folder(const char *path)
{
    char folder[SAVE_PATH];
    split(path, folder);
    int descriptor = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (descriptor < 0)
        return errno == EACCES ? 0 : -1;
    int failed = fsync(descriptor) != 0 && errno != EINVAL;
    int kept = errno;
    close(descriptor);
    errno = kept;
    return failed ? -1 : 0;
}

/* Is this NAME.NUMBER.NUMBER.tmp? */
static int is_temporary(const char *entry, const char *name)
{
    static const char digits[] = "0123456789";
    size_t length = strlen(name);
    if (strncmp(entry, name, length) != 0)
        return 0;
    for (int i = 0; i < 2; i++) {
        size_t number = entry[length] == '.' ? strspn(entry + length + 1, digits) : 0;
        if (number == 0)
            return 0;
        length += 1 + number;
    }
    return strcmp(entry + length, ".tmp") == 0;
}

void save_clean(const char *path)
{
    char folder[SAVE_PATH];
    const char *name = split(path, folder);
    DIR *listing = opendir(folder);
    for (struct dirent *entry; listing && (entry = readdir(listing));) {
        if (is_temporary(entry->d_name, name))
            unlinkat(dirfd(listing), entry->d_name, 0);
    }
    if (listing)
        closedir(listing);
}

enum status save_commit(struct save *save, struct errors *errors)
{
    int failed = fsync(save->descriptor) != 0;
    int kept = errno;
    if (close(save->descriptor) != 0 && !failed) {
        failed = 1;
        kept = errno;
    }
    save->descriptor = -1;
    errno = kept;
    if (!failed)
        failed = rename(save->temporary, save->path) != 0;
    if (failed) {
        enum status status = refused(save->path, errors, "cannot be written in full");
        save_abandon(save);
        return status;
    }
    save->open = 0;
    return save_flush_folder(save->path) == 0
               ? STATUS_OK
               : refused(save->path, errors, "its folder cannot be flushed to disk");
}

void save_abandon(struct save *save)
{
    if (!save->open)
        return;
    if (save->descriptor >= 0)
        close(save->descriptor);
    unlink(save->temporary);
    *save = (struct save){.descriptor = -1};
}

enum status save_room(size_t files, struct errors *errors)
{
    const rlim_t others = 64; /* streams, libraries, a file that is being read or written */
    struct rlimit limit;
    if (getrlimit(RLIMIT_NOFILE, &limit) != 0 || limit.rlim_cur == RLIM_INFINITY ||
        limit.rlim_cur >= files + others)
        return STATUS_OK;
    rlim_t most = limit.rlim_max;
    limit.rlim_cur = files + others;
    if ((most == RLIM_INFINITY || limit.rlim_cur <= most) && setrlimit(RLIMIT_NOFILE, &limit) == 0)
        return STATUS_OK;
    return errors_add(errors, STATUS_FILE, NULL, 0, 0,
                      "needs %zu files open at a time and may have %llu (`ulimit -Hn`): raise this limit, or "
                      "take fewer at a time",
                      files, (unsigned long long)most);
}

enum status save_file(const char *path, const void *bytes, size_t length, struct errors *errors)
{
    struct save save;
    enum status status = save_begin(path, &save, errors);
    if (status == STATUS_OK)
        status = save_write(&save, bytes, length, errors);
    if (status == STATUS_OK)
        return save_commit(&save, errors);
    save_abandon(&save);
    return status;
}
