#ifndef FOAMPULSE_STUDY_OPTIMISE_H
#define FOAMPULSE_STUDY_OPTIMISE_H

#include <stddef.h>
#include <stdint.h>

#include "solver/base/status.h"
#include "solver/study/forecast.h"
#include "solver/study/seek.h"

/*
 * The largest value of what takes long to compute, within few runs: efficient global optimisation (Jones,
 * Schonlau and Welch, J. Global Optimization 13 (1998) 455-492). After a first design spread over the cube
 * the next run goes where the expected improvement on the best so far is largest, times the chance that the
 * constraints hold (Schonlau, Computer experiments and global optimization, Waterloo 1997). What a run gives
 * and what is expected elsewhere: solver/study/forecast.
 *
 * Ask and tell: nothing is run here, nothing read or written. The same answers give the same questions on one
 * machine. LAPACK's rounding may change a question on another processor, and with it the way of a search, but
 * not what a run gives.
 */

struct optimise_options {
    size_t factor_count;
    const struct seek_factor *factors; /* levels in any order */
    size_t output_count, group_count;
    const int *groups; /* (output_count), as forecast_begin */
    int lump;          /* one surrogate a group */
    size_t runs;       /* budget */
    size_t first;    /* runs of the first design, of a Sobol sequence; 0: 5 (factors + 1), at most a third of
                      * the budget */
    size_t searches; /* once nothing is worth a run any more, a fresh search begins that knows nothing of the
                      * points before; so many in all, as long as there are runs for a design; 0: 1 */
    size_t batch;    /* most points of a later question; 0: 1 */
    uint64_t seed;   /* any */
    double worth; /* an expected improvement below it is not worth a run; 0: 1e-4 of the way from the median
                   * of the values to the largest */
    /* Fills what is known of a point without a run (output_count, NaN before). A point with such a constraint
     * below 0 is not asked for. STATUS_COMPUTATION: there is no such layout; other failures end the search.
     * NULL: nothing is known. */
    enum status (*known)(void *context, const double *unit, double *outputs);
    void *context;
};

struct optimise {
    struct optimise_options options; /* its factors owned */
    double *levels;                  /* owned, of the factors */
    struct forecast forecast;
    size_t used;        /* runs asked for or added */
    size_t asked, told; /* points of the last question, and how many of them were told */
    size_t *places;     /* (optimise_room) where they stand in the forecast */
    size_t drawn;       /* points of the Sobol sequence looked at */
    size_t excluded;    /* points that are not to be run, by what is known of them */
    size_t search;      /* which one, from 1; 0 before the first design */
    double improvement; /* expected, of the last search; NaN before */
};

/* Copies the factors. STATUS_COMPUTATION for no factors, more than SAMPLING_FACTORS, no outputs or no budget,
 * a level outside 0..1; STATUS_MEMORY. `optimise` is zeroed then. */
enum status optimise_begin(const struct optimise_options *options, struct optimise *optimise);

/* Tells of a point that was not asked for; it counts as a run. Outputs as optimise_tell. STATUS_MEMORY. */
enum status optimise_add(struct optimise *optimise, const double *unit, const double *outputs);

/* The points to run next, (count x factors), room for optimise_room of them. None when the budget is used,
 * when no point is allowed, or when nothing is worth a run any more: no improvement is expected, and about
 * the best all neighbours have been tried, by one level in each factor, and in each two where they look close
 * to the best. STATUS_MEMORY, or that of `known`. */
enum status optimise_ask(struct optimise *optimise, double *unit, size_t *count);
size_t optimise_room(const struct optimise *optimise);

/* What the next point asked for gave, in the order of the question: (outputs), NaN where one does not apply;
 * NULL for a failure. All points are told before the next question. */
void optimise_tell(struct optimise *optimise, const double *outputs);

/* The best point that keeps all constraints, (factors), and its value; NULL for none. */
const double *optimise_best(const struct optimise *optimise, double *value);

/* Releases everything and zeroes; {0} is allowed. */
void optimise_free(struct optimise *optimise);

#endif
