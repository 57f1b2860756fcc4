#ifndef FOAMPULSE_STUDY_BATCH_H
#define FOAMPULSE_STUDY_BATCH_H

#include <stdatomic.h>

#include "cases/case.h"
#include "cases/journal.h"
#include "cases/result.h"
#include "solver/study/resolve.h"

/*
 * Solves all impacts of a case on threads, judges them, and hands back the result. Steps of the life of a run
 * that happen here: 2 resolve materials, 9 judge (10 store is called by cli/run).
 */

struct batch_options {
    int threads;             /* 0: all processors */
    const char *model;       /* NULL: the case's */
    atomic_int *interrupted; /* set by a signal handler; NULL allowed */
    /* Called after an impact was solved, and is in the journal. NULL allowed. */
    void (*progress)(void *context, size_t done, size_t all);
    /* Called before the first is solved when the journal holds any: so many were taken. NULL allowed. */
    void (*resumed)(void *context, size_t taken, size_t all);
    void *context;
    /* Keeps each solved impact and gives back those of the same case (solver/study/identity.h); NULL: none.
     * What goes wrong while it is written stands in `journal_errors`, and does not stop the run. */
    struct journal *journal;
    struct errors *journal_errors;
};

/* Solves a checked case. Impacts that cannot be computed for want of data are hits with a status, not errors.
 * STATUS_COMPUTATION when an impact failed (the others are in the result), STATUS_MEMORY, STATUS_INTERRUPTED,
 * STATUS_FILE when the journal or a data file cannot be read. */
enum status batch_run(const struct case_file *file, const struct batch_options *options,
                      struct case_result *result, struct errors *errors);

/* What batch_run would begin with: the hits with their conditions, none of them computed, masses, and what
 * the case leaves open. `model` NULL: the case's. Errors as batch_run. */
enum status batch_describe(const struct case_file *file, const char *model, struct case_result *result,
                           struct errors *errors);

/* Hash of all that the results of a case with this text depend on, of all its impacts together
 * (solver/study/identity.h). With the case's own text it is what case_result.identity is made from. Errors as
 * batch_run. */
enum status batch_identity(const struct case_file *file, const char *model, const char *text,
                           unsigned char hash[DIGEST_BYTES], struct errors *errors);

/* What a run of a case will do, impact by impact. */
struct foresight {
    size_t count;
    char (*refused)[RESOLVE_SENTENCE]; /* (count) why it will not be computed; "" where it will */
    int *solves; /* (count) solutions: of each hit, 2 where there are bounds at openings; 0 refused */
};

/* Checks that need the physics and not only the file: foams exist and admit their density, stacks close,
 * regions are not hidden. Called by `check` and by `run` before anything is solved. `foresight` may be NULL.
 */
enum status batch_check(const struct case_file *file, struct foresight *foresight, struct errors *errors);
void foresight_free(struct foresight *foresight);

#endif
