#ifndef FOAMPULSE_STUDY_TUNE_H
#define FOAMPULSE_STUDY_TUNE_H

#include "solver/study/explore.h"
#include "solver/study/optimise.h"

/*
 * The layout of a case with the largest worst margin, or the smallest metric, that keeps the bounds of
 * `tune`, within the ranges of `sweep`: every layout proposed by solver/study/optimise is solved.
 *
 * A margin of every hit is an output of its own, and so is each hit of a bound; the helmet's mass is known
 * without a run. Questions have TUNE_BATCH layouts whatever the number of threads, so what is tried does not
 * depend on it.
 */

enum { TUNE_BATCH = 4 };

struct tune {
    const struct case_file *base;
    const char *model;    /* NULL: the case's */
    struct sweep sweep;   /* what was tried, in that order */
    struct sweep start;   /* the case as written, one row without factors */
    struct sweep scratch; /* one row, for what is known without a run */
    struct optimise optimise;
    struct seek_factor *space; /* (factors) */
    double *levels;            /* owned, of `space` */
    long best;                 /* row, -1: none keeps the bounds */
    int ended;                 /* nothing was worth a run any more, before the runs were used */
};

/* Opens the tuning of a case with a `sweep`. Errors as explore_begin; zeroed then. */
enum status tune_begin(const struct case_file *base, const char *model, struct tune *tune,
                       struct errors *errors);

/* Runs it to the end: the case as written first. `options` as explore_solve; their progress counts all runs.
 * STATUS_INTERRUPTED, STATUS_MEMORY, STATUS_FILE: what is solved is in the journal, and the same call with it
 * goes the same way. STATUS_COMPUTATION with a message: no layout could be run. */
enum status tune_run(struct tune *tune, const struct explore_options *options, struct errors *errors);

/* Objective of a row of `sweep` as the user says it: its worst margin, or the largest value of the metric
 * over the hits; NaN for none. */
double tune_objective(const struct tune *tune, const struct sweep *sweep, size_t row);

/* By how much a row of `sweep` keeps bound `at`, in its unit: below 0 it does not; NaN unknown. */
double tune_slack(const struct tune *tune, const struct sweep *sweep, size_t row, size_t at);

/* Whether it has an objective and keeps all bounds. */
int tune_allowed(const struct tune *tune, const struct sweep *sweep, size_t row);

/* Whether objective a is better than b, NaN the worst. */
int tune_better(const struct tune *tune, double a, double b);

/* Rows of `sweep`, (point_count), the best first, those that keep no bound behind, failures last
 * (memory_free); NULL when memory is out. */
size_t *tune_order(const struct tune *tune);

/* -1: row `at` has factor `factor` at its low end, 1: at its high end, 0 between. Texts have no ends. */
int tune_bound(const struct tune *tune, size_t row, size_t factor);

/* Releases everything and zeroes; {0} is allowed. */
void tune_free(struct tune *tune);

#endif
