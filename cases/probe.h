#ifndef FOAMPULSE_CASES_PROBE_H
#define FOAMPULSE_CASES_PROBE_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * The guard before HDF5. Damaged or hostile files crash or hang that library, so a file is first held against
 * its own checksum and then read once by a forked child with limits; only if the child comes back well is it
 * read for good.
 *
 * Every file of ours opens with a block of 512 bytes that HDF5 leaves alone (a user block). It is text: the
 * kind of file, its length, and the CRC-32 of the whole file, taken with the eight digits of the checksum
 * as '0'.
 */

enum { PROBE_BLOCK = 512 };

/* Fills the first 512 bytes of a file of `length` bytes; the rest must be in place. `kind` is a schema name.
 */
void probe_seal(const char *kind, unsigned char *bytes, size_t length);

/* What stands under a name. */
enum probe_owner {
    PROBE_ABSENT,
    PROBE_OURS,       /* a regular file with our first line and this kind */
    PROBE_FOREIGN,    /* another regular file, or a symbolic link */
    PROBE_SPECIAL,    /* folder, device, pipe or socket: never replaced */
    PROBE_UNREADABLE, /* it could not be found out; errno says why */
};
enum probe_owner probe_owner(const char *path, const char *kind);

/* Reads a whole file (the caller frees `bytes` with memory_free) and checks kind, length and checksum.
 * STATUS_FILE when it cannot be read, STATUS_INPUT when it is damaged or of another kind. */
enum status probe_load(const char *path, const char *kind, unsigned char **bytes, size_t *length,
                       struct errors *errors);

/* Runs `attempt` in a child process limited to 10 s of processor time, 120 s by the clock and, except under
 * the address sanitizer, 1 GiB of further address space. The status and first message of the attempt are
 * handed back; a child that dies is STATUS_INPUT, "damaged or not a foampulse result". */
enum status probe_try(const char *path, enum status (*attempt)(void *context, struct errors *errors),
                      void *context, struct errors *errors);

#endif
