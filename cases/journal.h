#ifndef FOAMPULSE_CASES_JOURNAL_H
#define FOAMPULSE_CASES_JOURNAL_H

#include <stddef.h>
#include <stdint.h>

#include "solver/base/digest.h"
#include "solver/base/save.h"
#include "solver/base/status.h"

/*
 * Solved points on disk while a long computation runs: RESULT.part beside RESULT, to which every point is
 * appended as soon as it is solved. A computation that is killed finds them there and goes on; the file goes
 * when the result stands. A point is an impact of `run` or a layout of a sweep; what its payload holds is the
 * caller's (cases/pack).
 *
 * The file, integers little-endian: a header of 64 bytes, text "foampulse journal 1\nkind   KIND\n" filled up
 * with NUL; then records of
 *
 *   0   4   magic 0x50464a52
 *   4   4   status of the point, the caller's
 *   8   8   length of the payload [bytes]
 *   16  8   index of the point, from 1
 *   24  32  hash of the resolved point: all that its result depends on
 *   56  n   payload
 *   56+n 4  CRC-32 of the 56 + n bytes before
 *
 * A record is one write(2); what is behind the last whole record is cut off when the file is opened. Records
 * are on the disk a second after they were written at the latest when more follow, and when the journal is
 * closed; a process that dies loses none that journal_append took. The open journal is locked: one process
 * works on a result at a time. It is used by one thread at a time. Records of other points, such as those of
 * an earlier state of the case, stay until the journal is removed.
 */

/* Added to the name of the result. */
#define JOURNAL_SUFFIX ".part"

enum { JOURNAL_KIND = 32 /* longest kind */ };

/* A solved point. */
struct journal_point {
    unsigned char hash[DIGEST_BYTES];
    uint64_t index;
    uint32_t status;
    size_t length; /* of the payload [bytes] */
    const void *payload;
};

/* Where a point stands in the file. */
struct journal_entry {
    unsigned char hash[DIGEST_BYTES];
    uint64_t index;
    uint32_t status;
    size_t length;
    uint64_t offset; /* of the payload [bytes] */
};

struct journal {
    int open; /* {0} is closed */
    int descriptor;
    char path[SAVE_PATH];
    char kind[JOURNAL_KIND + 1];
    uint64_t end;      /* of the last whole record [bytes] */
    uint64_t cut;      /* what was cut off when it was opened [bytes] */
    size_t count;      /* of the entries */
    size_t room;       /* for entries */
    int sorted;        /* the entries are in the order of index and hash */
    int failed;        /* a write failed: no more are tried */
    int listed;        /* the folder's entry of the file is on the disk */
    double last_flush; /* [s] of the monotonic clock */
    size_t flushes;    /* how often records were flushed to the disk */
    struct journal_entry *entries;
};

/* Opens the journal of the result of that name, made when there is none, and locks it. `kind` is the schema
 * of the result. Temporary files that a killed process left beside the result go.
 * STATUS_FILE when another process holds it, or what stands under the name is no journal of that kind (it is
 * left alone); STATUS_MEMORY. On errors the journal is closed. */
enum status journal_open(const char *result, const char *kind, struct journal *journal,
                         struct errors *errors);

/* The entry of a point; NULL when it is not there. A search after something was added sorts again. */
const struct journal_entry *journal_find(struct journal *journal, const unsigned char hash[DIGEST_BYTES],
                                         uint64_t index);

/* Reads the payload of an entry into a fresh block (memory_free), with a NUL behind it. STATUS_FILE,
 * STATUS_MEMORY. */
enum status journal_read(const struct journal *journal, const struct journal_entry *entry,
                         unsigned char **payload, struct errors *errors);

/* Adds a point. It is taken when this returns STATUS_OK. A write that fails (STATUS_FILE) leaves the points
 * before it; later calls then return STATUS_FILE and add no message. STATUS_MEMORY: nothing was written. */
enum status journal_append(struct journal *journal, const struct journal_point *point, struct errors *errors);

/* Adds the points of another journal of the same kind that are not there yet; the other stays as it is, a
 * damaged tail of it is left out. *added counts them. STATUS_FILE when it cannot be read, is another thing or
 * another process works on it; STATUS_INPUT, before anything is added, when the two hold different results
 * for one point. */
enum status journal_merge(struct journal *journal, const char *path, size_t *added, struct errors *errors);

/* The result stands: the file goes, the journal is closed. STATUS_FILE when it cannot be removed. */
enum status journal_remove(struct journal *journal, struct errors *errors);

/* Flushes and closes; the file stays, unless it holds no point. {0} is allowed. STATUS_FILE when it cannot be
 * flushed. */
enum status journal_close(struct journal *journal, struct errors *errors);

#endif
