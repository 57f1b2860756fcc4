#ifndef FOAMPULSE_STUDY_EXPLORE_H
#define FOAMPULSE_STUDY_EXPLORE_H

#include <stdatomic.h>

#include "cases/case.h"
#include "cases/journal.h"
#include "cases/sweep.h"

/*
 * Solves many layouts of one case. A layout is the case with other values on some paths; what it gives
 * becomes a row of a sweep (cases/sweep.h). A layout that makes no sound case, or fails, is a row that says
 * so.
 *
 * A row's identity covers all that it depends on, and not its number: what a journal or an earlier sweep
 * holds is taken over wherever it stands there. Rows do not depend on the number of threads.
 */

struct explore_options {
    int threads;             /* 0: all processors */
    const char *model;       /* NULL: the case's */
    atomic_int *interrupted; /* set by a signal handler; NULL allowed */
    /* Called after a layout was solved, or taken (`taken` counts these), and is in the journal. NULL allowed.
     */
    void (*progress)(void *context, size_t done, size_t taken, size_t all);
    void *context;
    struct journal *journal;       /* keeps each row; NULL: none */
    struct errors *journal_errors; /* what goes wrong while it is written, which does not stop the work */
    const struct sweep *earlier;   /* its rows are taken over; NULL */
};

/* Makes an empty sweep of a case by these factors (factor_count, copied): its frame, its hits with their
 * limits, what the case leaves open. Each value of each factor is tried alone, so that a path that names
 * nothing, or a unit that does not fit, is an error at its place. STATUS_INPUT, STATUS_USAGE, STATUS_FILE,
 * STATUS_MEMORY: the sweep is zeroed. */
enum status explore_begin(const struct case_file *base, const struct factor *factors, size_t factor_count,
                          const char *model, struct sweep *sweep, struct errors *errors);

/* Solves rows `first` to the last, whose values are set. STATUS_INTERRUPTED: rows not reached are refused
 * without a message. STATUS_MEMORY, STATUS_FILE (data files). Layouts that fail are no error. */
enum status explore_solve(const struct case_file *base, const struct explore_options *options, size_t first,
                          struct sweep *sweep, struct errors *errors);

/* The case of one row, without its studies (case_free). Errors as case_load. */
enum status explore_case(const struct case_file *base, const struct sweep *sweep, size_t at,
                         struct case_file *file, struct errors *errors);

/* Puts the shares of a sweep (count) together: all of one frame and sample, every point in one of them, rows
 * in the order of their numbers. `names` (count) of the shares stand in messages. STATUS_INPUT when they do
 * not belong together, or points are missing or there twice with different results; STATUS_MEMORY: the whole
 * is zeroed. */
enum status explore_merge(const struct sweep *shares, const char *const *names, size_t count,
                          struct sweep *whole, struct errors *errors);

/* Adds the rows of an earlier sweep with the same frame that are not there yet, as number 0. STATUS_MEMORY.
 */
enum status explore_keep(const struct sweep *earlier, struct sweep *sweep);

#endif
