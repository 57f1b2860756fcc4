#define _GNU_SOURCE /* close_range */
#include "cases/probe.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "solver/base/digest.h"
#include "solver/base/memory.h"

#define DAMAGED "damaged or not a foampulse result"

/* Longest time [s] by the clock, for a child that waits and uses no processor. */
enum { LIMIT_WAIT = 120 };

#if defined(__SANITIZE_ADDRESS__)
#define LIMIT_MEMORY 0
#else
#define LIMIT_MEMORY 1
#endif

/* First line of the block, up to and with the kind. */
static int first_line(char line[PROBE_BLOCK], const char *kind)
{
    return snprintf(line, PROBE_BLOCK, "foampulse file\nkind   %s\n", kind);
}

/* The block as text with this checksum; zeros behind. */
static void block_write(unsigned char block[PROBE_BLOCK], const char *kind, size_t length, unsigned checksum)
{
    char text[PROBE_BLOCK] = {0};
    int at = first_line(text, kind);
    snprintf(text + at, sizeof text - (size_t)at,
             "length %zu\ncrc32  %08x\nHDF5 follows at byte %d. Prediction, not evidence of compliance.\n",
             length, checksum, PROBE_BLOCK);
    memcpy(block, text, PROBE_BLOCK);
}

static unsigned file_checksum(const char *kind, const unsigned char *bytes, size_t length)
{
    unsigned char block[PROBE_BLOCK];
    block_write(block, kind, length, 0);
    return digest_crc(digest_crc(0, block, PROBE_BLOCK), bytes + PROBE_BLOCK, length - PROBE_BLOCK);
}

void probe_seal(const char *kind, unsigned char *bytes, size_t length)
{
    block_write(bytes, kind, length, file_checksum(kind, bytes, length));
}

static int sealed(const char *kind, const unsigned char *bytes, size_t length)
{
    if (length < PROBE_BLOCK)
        return 0;
    unsigned char block[PROBE_BLOCK];
    block_write(block, kind, length, file_checksum(kind, bytes, length));
    return memcmp(block, bytes, PROBE_BLOCK) == 0;
}

enum probe_owner probe_owner(const char *path, const char *kind)
{
    struct stat about;
    if (lstat(path, &about) != 0)
        return errno == ENOENT ? PROBE_ABSENT : PROBE_UNREADABLE;
    if (S_ISLNK(about.st_mode))
        return PROBE_FOREIGN;
    if (!S_ISREG(about.st_mode))
        return PROBE_SPECIAL;
    int descriptor = open(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);
    if (descriptor < 0)
        return PROBE_UNREADABLE;
    char want[PROBE_BLOCK], have[PROBE_BLOCK];
    int length = first_line(want, kind);
    ssize_t got;
    do {
        got = read(descriptor, have, (size_t)length);
    } while (got < 0 && errno == EINTR);
    int reason = errno;
    close(descriptor);
    errno = reason;
    if (got < 0)
        return PROBE_UNREADABLE;
    return got == length && memcmp(want, have, (size_t)length) == 0 ? PROBE_OURS : PROBE_FOREIGN;
}

static enum status read_all(int descriptor, unsigned char *bytes, size_t length, const char *path,
                            struct errors *errors)
{
    for (size_t at = 0; at < length;) {
        ssize_t got = read(descriptor, bytes + at, length - at);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return errors_add(errors, STATUS_FILE, path, 0, 0, "cannot be read: %s", strerror(errno));
        if (got == 0)
            return errors_add(errors, STATUS_INPUT, path, 0, 0, "%s: it is cut short", DAMAGED);
        at += (size_t)got;
    }
    return STATUS_OK;
}

enum status probe_load(const char *path, const char *kind, unsigned char **bytes, size_t *length,
                       struct errors *errors)
{
    *bytes = NULL;
    *length = 0;
    int descriptor = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
    struct stat about;
    if (descriptor < 0 || fstat(descriptor, &about) != 0) {
        int reason = errno;
        if (descriptor >= 0)
            close(descriptor);
        return errors_add(errors, STATUS_FILE, path, 0, 0, "cannot be read: %s", strerror(reason));
    }
    enum status status = STATUS_OK;
    if (S_ISDIR(about.st_mode))
        status = errors_add(errors, STATUS_FILE, path, 0, 0, "is a folder, not a result file");
    else if (!S_ISREG(about.st_mode))
        status = errors_add(errors, STATUS_FILE, path, 0, 0, "is not a regular file");
    if (status != STATUS_OK)
        goto done;
    *length = (size_t)about.st_size;
    *bytes = memory_zeroed(*length, 1);
    status = *bytes ? read_all(descriptor, *bytes, *length, path, errors)
                    : errors_add(errors, STATUS_MEMORY, path, 0, 0, "out of memory");
    if (status == STATUS_OK && !sealed(kind, *bytes, *length))
        status = errors_add(errors, STATUS_INPUT, path, 0, 0, "%s of the kind %s", DAMAGED, kind);
done:
    close(descriptor);
    if (status != STATUS_OK) {
        memory_free(*bytes);
        *bytes = NULL;
        *length = 0;
    }
    return status;
}

/* Address space in use now [bytes]; the limit counts from there, for a parent may already hold much. */
static rlim_t space_used(void)
{
    FILE *file = fopen("/proc/self/statm", "r");
    long pages = 0;
    if (file) {
        if (fscanf(file, "%ld", &pages) != 1)
            pages = 0;
        fclose(file);
    }
    return (rlim_t)pages * (rlim_t)sysconf(_SC_PAGESIZE);
}

static void limit(int resource, rlim_t most)
{
    struct rlimit now;
    if (getrlimit(resource, &now) == 0 && (now.rlim_max == RLIM_INFINITY || now.rlim_max > most)) {
        now.rlim_cur = now.rlim_max = most;
        setrlimit(resource, &now);
    }
}

struct verdict_of_child {
    enum status status;
    char text[ERROR_TEXT];
};

/* Leaves the child nothing that is open but standard streams and `out`, which it returns anew. A lock on a
 * journal would else be held until the child ends, even if its parent is dead by then. */
static int close_others(int out)
{
    enum { LOWEST = 3 };
    if (out > LOWEST)
        out = dup2(out, LOWEST);
    if (close_range(LOWEST + 1, ~0u, 0) != 0) { /* before Linux 5.9 */
        for (int i = LOWEST + 1; i < sysconf(_SC_OPEN_MAX); i++)
            close(i);
    }
    return out;
}

static _Noreturn void child_run(int out, enum status (*attempt)(void *context, struct errors *errors),
                                void *context)
{
    /* What a dying library or a sanitizer prints is not for the user. */
    int nothing = open("/dev/null", O_WRONLY);
    dup2(nothing, STDERR_FILENO);
    dup2(nothing, STDOUT_FILENO);
    out = close_others(out);
    limit(RLIMIT_CORE, 0);
    limit(RLIMIT_CPU, 10);
    alarm(LIMIT_WAIT);
    if (LIMIT_MEMORY)
        limit(RLIMIT_AS, space_used() + ((rlim_t)1 << 30));
    struct errors errors = {0};
    struct verdict_of_child verdict = {.status = attempt(context, &errors)};
    if (errors.count)
        snprintf(verdict.text, sizeof verdict.text, "%s", errors.kept[0].text);
    ssize_t sent = write(out, &verdict, sizeof verdict);
    _exit(sent == sizeof verdict ? 0 : 1);
}

enum status probe_try(const char *path, enum status (*attempt)(void *context, struct errors *errors),
                      void *context, struct errors *errors)
{
    int ends[2];
    if (pipe(ends) != 0)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "cannot be read: no pipe: %s", strerror(errno));
    pid_t child = fork();
    if (child == 0) {
        close(ends[0]);
        child_run(ends[1], attempt, context);
    }
    int reason = errno;
    close(ends[1]);
    struct verdict_of_child verdict = {0};
    ssize_t got = child > 0 ? read(ends[0], &verdict, sizeof verdict) : 0;
    while (got < 0 && errno == EINTR)
        got = read(ends[0], &verdict, sizeof verdict);
    close(ends[0]);
    if (child < 0)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "cannot be read: no child process: %s",
                          strerror(reason));
    while (waitpid(child, NULL, 0) < 0 && errno == EINTR)
        continue;
    if (got != sizeof verdict)
        return errors_add(errors, STATUS_INPUT, path, 0, 0, "%s", DAMAGED);
    if (verdict.status != STATUS_OK)
        return errors_add(errors, verdict.status, path, 0, 0, "%s", verdict.text);
    return STATUS_OK;
}
