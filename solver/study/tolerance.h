#ifndef FOAMPULSE_STUDY_TOLERANCE_H
#define FOAMPULSE_STUDY_TOLERANCE_H

#include <stddef.h>

#include "cases/sweep.h"
#include "solver/base/status.h"

/*
 * What a drawn sample of layouts says of each limit: mean, scatter, chance of exceeding, and which cause of
 * scatter gives how much of it.
 *
 * Rows of the sweep with a number are the sample; its first row is the case as written. What failed has no
 * value: it is left out of mean and scatter and counts as exceeding, since a solution fails where the liner
 * is used up. What was refused, or not computed for want of data, is left out of everything.
 */

#define TOLERANCE_CONFIDENCE 0.95

enum { TOLERANCE_MASS = -1 };

struct tolerance_chance {
    size_t exceeding, count;
    double share, low, high; /* share NaN without a count; bounds of Clopper and Pearson at the confidence,
                              * which take the runs as drawn one by one */
};

/* One limit of one hit, or that of the helmet's mass. */
struct tolerance_limit {
    int hit;            /* column of the sweep, from 0; TOLERANCE_MASS */
    enum metric metric; /* of a hit */
    double limit, nominal;
    size_t count; /* runs with a value */
    double mean, deviation;
    double bound, margin; /* mean + factor x deviation; (limit - bound)/limit */
    enum verdict state;   /* of the bound */
    struct tolerance_chance chance;
};

/* Where the variance of one value comes from, by the plane through the runs over the causes' variables. */
struct tolerance_variance {
    size_t limit;       /* index into limits */
    size_t count;       /* runs; 0: too few for so many causes, and nothing below holds */
    double r2;          /* of the plane: 1 where the value follows the causes in proportion */
    double *share;      /* (sources) of the variance */
    double *slope;      /* (sources) change of the value for one standard deviation of the cause */
    double *halved;     /* (sources) mean + factor x deviation with this cause half as wide, the mean kept */
    double slope_error; /* standard error of a slope, the causes' variables taken as apart in the sample */
    double unexplained; /* share of what bends, and of causes acting together */
};

struct tolerance {
    double factor;
    size_t runs, computed, failed, refused, undecided; /* undecided: of the computed, where a limit is so */
    size_t limit_count;
    struct tolerance_limit *limits;  /* the least margin first; those without a value last */
    struct tolerance_chance any;     /* that a layout exceeds any of its limits, or fails */
    struct tolerance_variance worst; /* of the first limit */
};

/* Evaluates a sample: `standard` (runs x sources) are the causes' variables in the order of the rows'
 * numbers. STATUS_MEMORY: zeroed. */
enum status tolerance_evaluate(const struct sweep *sweep, size_t sources, const double *standard,
                               double factor, struct tolerance *tolerance);

/* Fits value = a + sum slope x variable by least squares: `standard` (count x sources) of mean 0 and variance
 * 1, `values` (count). Shares are of sum slope^2 + the residual variance, so they add up to 1 with what is
 * unexplained. Fewer than 2 (sources + 1) runs: variance->count is 0. STATUS_MEMORY:
 * zeroed. */
enum status tolerance_explain(size_t count, size_t sources, const double *standard, const double *values,
                              double factor, struct tolerance_variance *variance);

/* Mean and standard deviation (count - 1) of values; NaN where they are too few. */
void tolerance_moments(const double *values, size_t count, double *mean, double *deviation);

/* Releases everything and zeroes; {0} is allowed. */
void tolerance_free(struct tolerance *tolerance);
void tolerance_variance_free(struct tolerance_variance *variance);

#endif
