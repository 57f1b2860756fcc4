#ifndef FOAMPULSE_STUDY_CONVERGENCE_H
#define FOAMPULSE_STUDY_CONVERGENCE_H

#include <stddef.h>

/*
 * What three or more meshes say about the error of a value: observed order, value at mesh size 0 and
 * numerical uncertainty.
 *
 * With f1 the value on the finest of the last three meshes, f2 and f3 on the next coarser and r the ratio of
 * their sizes: p = ln((f3 - f2)/(f2 - f1))/ln r, f = f1 + (f1 - f2)/(r^p - 1), and the grid convergence index
 * 1.25 |f1 - f2|/(r^p - 1) is the uncertainty (P. J. Roache, Perspective: a method for uniform reporting of
 * grid refinement studies, J. Fluids Eng. 116, 1994; as given in J. Fluids Eng. 133, 111501, 2011).
 *
 * Contact and yield spoil a clean order. Where it lies outside 0.5 to 2.5, or the values swing, nothing is
 * extrapolated, and the uncertainty is three times the largest difference of the last three meshes.
 */

enum convergence_kind {
    CONVERGENCE_CREDIBLE, /* order within 0.5 to 2.5 */
    CONVERGENCE_ORDER,    /* order outside */
    CONVERGENCE_SWING,    /* no order: differences of opposite sign, or one of them zero */
    CONVERGENCE_EQUAL,    /* the last three values are equal */
    CONVERGENCE_UNKNOWN   /* fewer than three values, or one that is not finite */
};

struct convergence {
    enum convergence_kind kind;
    double order;       /* NaN: none */
    double limit;       /* value at size 0; NaN unless credible */
    double uncertainty; /* of the finest value, in its unit; NaN when unknown */
    double coarser;     /* the index of the coarser pair, in the same unit; NaN unless credible */
};

/* "credible", "order out of range", ... */
const char *convergence_text(enum convergence_kind kind);

/* Judges `count` values, the coarsest mesh first; `ratio` > 1 of neighbouring mesh sizes. */
struct convergence convergence_judge(const double *values, size_t count, double ratio);

#endif
