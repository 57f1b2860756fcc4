#ifndef FOAMPULSE_STUDY_SENSITIVITY_H
#define FOAMPULSE_STUDY_SENSITIVITY_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * How much each factor matters for a function on the unit cube, all factors independent and even in 0..1
 * (Saltelli, Annoni, Azzini, Campolongo, Ratto and Tarantola, Computer Physics Communications 181, 2010,
 * "S10"). Points come from the caller, best from a quasi-random sequence; the function is asked for `count`
 * values at a time.
 */

struct sensitivity_function {
    size_t factors;
    /* Values (count) at x (count x factors, row by row); a status other than STATUS_OK ends the study. */
    enum status (*evaluate)(void *context, size_t count, const double *x, double *values);
    void *context;
};

/* Shares of the variance of y. first[i]: Var(E[y | x_i]) / Var(y), what is known with x_i (S10 table 2, row
 * b). total[i]: E[Var(y | all but x_i)] / Var(y), what is left open without it, joint effects included
 * (Jansen, Computer Physics Communications 117, 1999; S10 table 2, row f). Estimates: `first` may fall a
 * little below 0. All 0 where y does not vary beyond rounding. */
struct sensitivity_indices {
    double mean;           /* of y, from 2 count values */
    double variance;       /* of y */
    double *first, *total; /* (factors), the caller's */
};

/* From count x (factors + 2) values. `base` (count x 2 factors): two independent points a row. A power of two
 * of a Sobol sequence suits. STATUS_COMPUTATION for no points, no factors or a value that is not finite,
 * STATUS_MEMORY or what the function returned: all results are zeroed then. */
enum status sensitivity_find(const struct sensitivity_function *function, size_t count, const double *base,
                             struct sensitivity_indices *indices);

/* E[y | x_factor = at[l]] for each of `levels` values of one factor, into curve (levels), as the mean over
 * the first points of `base` (count x 2 factors). Errors as above. */
enum status sensitivity_main_effect(const struct sensitivity_function *function, size_t count,
                                    const double *base, size_t factor, size_t levels, const double *at,
                                    double *curve);

#endif
