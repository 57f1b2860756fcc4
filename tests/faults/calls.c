#define _DEFAULT_SOURCE /* MAP_ANONYMOUS */
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

/*
 * Stands between a program and the system: the linker's --wrap sends every call of WRAPPED (Makefile) here
 * first. The environment says which call, counted from 1 over the process and its children, goes wrong:
 *
 *   FOAMPULSE_CALL=NUMBER:MANNER    error       the call fails with EIO, nothing done
 *                                   full        a write does half of its work, the next one fails with
 * ENOSPC; other calls fail with ENOSPC again       the call fails with EINTR, nothing done KILL, TERM, INT
 * the process gets this signal, then the call is made FOAMPULSE_CALL=NUMBER:MANNER:NAME           the same,
 * only calls of this name being counted FOAMPULSE_CALL_LOG=FILE         gets the name of the call that went
 * wrong; stays away when none did
 *
 * A close that fails has closed all the same, as on Linux.
 */

struct shared {
    atomic_long count;
    atomic_int full; /* the next write fails */
    pid_t process;   /* not a child of it */
};
static struct shared *shared;
static long wanted;
static char manner[8];
static const char *only; /* NULL: all */

int __real_open(const char *path, int flags, ...);
int __real_close(int descriptor);
ssize_t __real_read(int descriptor, void *bytes, size_t length);
ssize_t __real_pread(int descriptor, void *bytes, size_t length, off_t offset);
ssize_t __real_write(int descriptor, const void *bytes, size_t length);
ssize_t __real_pwrite(int descriptor, const void *bytes, size_t length, off_t offset);
int __real_fclose(FILE *file);
int __wrap_open(const char *path, int flags, ...);
int __wrap_close(int descriptor);
ssize_t __wrap_write(int descriptor, const void *bytes, size_t length);
ssize_t __wrap_pwrite(int descriptor, const void *bytes, size_t length, off_t offset);
int __wrap_fclose(FILE *file);

__attribute__((constructor)) static void begin(void)
{
    const char *order = getenv("FOAMPULSE_CALL"), *colon = order ? strchr(order, ':') : NULL;
    if (!colon)
        return;
    shared = mmap(NULL, sizeof *shared, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (shared == MAP_FAILED)
        abort();
    shared->process = getpid();
    wanted = strtol(order, NULL, 10);
    size_t length = strcspn(colon + 1, ":");
    memcpy(manner, colon + 1, length < sizeof manner ? length : sizeof manner - 1);
    only = colon[1 + length] ? colon + 2 + length : NULL;
}

static void tell(const char *name)
{
    const char *path = getenv("FOAMPULSE_CALL_LOG");
    int log = path ? __real_open(path, O_WRONLY | O_CREAT | O_APPEND, 0600) : -1;
    if (log < 0 || __real_write(log, name, strlen(name)) < 0)
        abort();
    __real_close(log);
}

static int is(const char *word)
{
    return strcmp(manner, word) == 0;
}

/* Counts a call. The errno with which it is to fail, or 0. */
static int fault(const char *name)
{
    if (!shared || (only && strcmp(only, name) != 0) || atomic_fetch_add(&shared->count, 1) + 1 != wanted)
        return 0;
    tell(name);
    if (is("KILL") || is("TERM") || is("INT")) {
        kill(shared->process, is("KILL") ? SIGKILL : is("TERM") ? SIGTERM : SIGINT);
        return 0;
    }
    return is("full") ? ENOSPC : is("again") ? EINTR : EIO;
}

/* How much of a write is done: all, a half when the disk gets full, or -1 with errno. */
static ssize_t part_of(const char *name, size_t length)
{
    if (shared && atomic_exchange(&shared->full, 0)) {
        errno = ENOSPC;
        return -1;
    }
    errno = fault(name);
    if (errno == ENOSPC && length > 1) {
        atomic_store(&shared->full, 1);
        return (ssize_t)(length / 2);
    }
    return errno ? -1 : (ssize_t)length;
}

ssize_t __wrap_write(int descriptor, const void *bytes, size_t length)
{
    ssize_t part = part_of("write", length);
    return part < 0 ? -1 : __real_write(descriptor, bytes, (size_t)part);
}

ssize_t __wrap_pwrite(int descriptor, const void *bytes, size_t length, off_t offset)
{
    ssize_t part = part_of("pwrite", length);
    return part < 0 ? -1 : __real_pwrite(descriptor, bytes, (size_t)part, offset);
}

int __wrap_open(const char *path, int flags, ...)
{
    va_list arguments;
    va_start(arguments, flags);
    int mode = flags & O_CREAT ? va_arg(arguments, int) : 0;
    va_end(arguments);
    errno = fault("open");
    return errno ? -1 : __real_open(path, flags, mode);
}

int __wrap_close(int descriptor)
{
    int failed = fault("close"), result = __real_close(descriptor);
    errno = failed ? failed : errno;
    return failed ? -1 : result;
}

int __wrap_fclose(FILE *file)
{
    int failed = fault("fclose"), result = __real_fclose(file);
    errno = failed ? failed : errno;
    return failed ? EOF : result;
}

/* Calls that do nothing when they fail. */
#define WRAP(result, name, parameters, values, failure)                                                      \
    result __real_##name parameters;                                                                         \
    result __wrap_##name parameters;                                                                         \
    result __wrap_##name parameters                                                                          \
    {                                                                                                        \
        int failed = fault(#name);                                                                           \
        if (!failed)                                                                                         \
            return __real_##name values;                                                                     \
        errno = failed;                                                                                      \
        return failure;                                                                                      \
    }

WRAP(ssize_t, read, (int file, void *bytes, size_t length), (file, bytes, length), -1)
WRAP(ssize_t, pread, (int file, void *bytes, size_t length, off_t at), (file, bytes, length, at), -1)
WRAP(int, fsync, (int file), (file), -1)
WRAP(int, fdatasync, (int file), (file), -1)
WRAP(int, ftruncate, (int file, off_t length), (file, length), -1)
WRAP(int, flock, (int file, int operation), (file, operation), -1)
WRAP(int, fstat, (int file, struct stat *about), (file, about), -1)
WRAP(int, rename, (const char *from, const char *to), (from, to), -1)
WRAP(int, unlink, (const char *path), (path), -1)
WRAP(int, pipe, (int ends[2]), (ends), -1)
WRAP(pid_t, fork, (void), (), -1)
WRAP(FILE *, fopen, (const char *path, const char *mode), (path, mode), NULL)
WRAP(FILE *, tmpfile, (void), (), NULL)
WRAP(int, posix_spawn,
     (pid_t * child, const char *path, const posix_spawn_file_actions_t *actions,
      const posix_spawnattr_t *attributes, char *const arguments[], char *const environment[]),
     (child, path, actions, attributes, arguments, environment), failed)
