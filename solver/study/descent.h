#ifndef FOAMPULSE_STUDY_DESCENT_H
#define FOAMPULSE_STUDY_DESCENT_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * Smallest value of a smooth function between bounds, by a quasi-Newton method: BFGS estimate of the inverse
 * Hessian on the coordinates that are not held at a bound, steps cut to the bounds and shortened until the
 * value falls as Armijo's rule asks (Nocedal and Wright, Numerical Optimization, 2nd edition 2006, eqs. 3.4
 * and 6.17; the set of free coordinates as in Bertsekas, SIAM J. Control Optim. 20, 1982). It finds the
 * minimum of the valley it starts in.
 */

struct descent {
    size_t count;                /* coordinates */
    const double *lower, *upper; /* (count), lower <= upper */
    int evaluations;             /* values to ask for at most, 1 or more */
    double tolerance;            /* ends where no free slope is larger, or a step gains 1e-11 of the value */
    double longest;              /* no coordinate moves further than this in one step */
    double (*value)(void *context, const double *x); /* INFINITY or NaN where there is none */
    void (*gradient)(void *context, double *slope);  /* (count), at the x of the value asked for last */
    void *context;
};

/* Moves x (count, brought between the bounds first) to the smallest value found; `value` and `used` (the
 * values asked for) may be NULL. STATUS_COMPUTATION where the start has no finite value, STATUS_MEMORY; x is
 * then the start between the bounds, value INFINITY. */
enum status descent_minimize(const struct descent *descent, double *x, double *value, int *used);

#endif
