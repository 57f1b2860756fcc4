#ifndef FOAMPULSE_FUZZ_APART_H
#define FOAMPULSE_FUZZ_APART_H

#include "cases/case.h"
#include "cases/result.h"

/*
 * Cases that may break the program, each run in a child process of its own with a limit of time, so that a
 * crash or a hang is one more outcome.
 */

enum apart_kind {
    APART_REFUSED,   /* the case has an error, told in words with its place */
    APART_PLACELESS, /* the same, of the file as a whole */
    APART_COMPUTED,
    APART_NOT_COMPUTED, /* for want of data, said so */
    APART_FAILED,       /* the physics failed, said so */
    APART_UNSOUND,      /* a check of the result does not hold */
    APART_CRASHED,
    APART_HUNG,
    APART_COUNT
};

extern const char *const apart_names[APART_COUNT];

struct apart {
    enum apart_kind kind;
    char text[256];                /* the message, or what does not hold */
    double ledger, impulse, bound; /* largest over the hits: see apart_run */
    int hits, above; /* computed; of these, the ones that `check` counted as above what is normal */
};

/* Loads the case, again with `sets`, checks and solves it in one thread of a child process that may use
 * `seconds` of processor time and thrice as much of any. Every computed hit is held to: all its numbers
 * finite or absent, energy ledger within `ledger_limit` of the first energy, and what `check` (NULL allowed)
 * finds, which writes into `text` and returns 0 when something is wrong. */
void apart_run(const char *path, const char *const *sets, size_t set_count, unsigned seconds,
               double ledger_limit,
               int (*check)(const struct case_file *file, const struct hit_result *hit, struct apart *apart),
               struct apart *apart);

#endif
