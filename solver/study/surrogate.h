#ifndef FOAMPULSE_STUDY_SURROGATE_H
#define FOAMPULSE_STUDY_SURROGATE_H

#include <stddef.h>
#include <stdint.h>

#include "solver/base/status.h"

/*
 * A Gaussian process through results of expensive runs: what it predicts at a point, and how sure of it it
 * is. Equations are those of Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006 ("RW").
 *
 * y_i = f(x_i) + noise, f a constant mean plus a process with the anisotropic Matern covariance of order 5/2
 *     k(x, z) = variance R(r),  R = (1 + r + r^2/3) exp(-r),  r^2 = 5 sum_k ((x_k - z_k) / length_k)^2
 * (RW 4.17). Peak g bends sharply where a liner bottoms out; the squared exponential, smooth without end,
 * answers that with short lengths everywhere and waves in between, and Matern 5/2 asks for two derivatives
 * only. The mean is that of generalised least squares under a flat prior (RW 2.7): the deviation of a
 * prediction counts that the mean is estimated too. Length scales and variances are taken as known.
 *
 * Everything passes LAPACK: the same bits on one machine; between processors rounding differs.
 */

enum {
    SURROGATE_STARTS = 8,       /* searches from different lengths */
    SURROGATE_EVALUATIONS = 80, /* values of the likelihood in one search */
    SURROGATE_SUBSAMPLE = 300   /* points that the searches before the last use */
};

/* Least noise variance in shares of the signal variance: keeps the matrix definite, and predictions alike to
 * 1e-9 between processors. Where results are smooth and exact a smaller one, down to 1e-10, predicts
 * better. */
#define SURROGATE_NOISE_FLOOR 1e-6

/* Ranges of what is fitted; the points lie in the unit cube. */
#define SURROGATE_LENGTH_MIN 0.01
#define SURROGATE_LENGTH_MAX 1e4
#define SURROGATE_NOISE_MAX  100.0 /* shares of the signal variance */

/* Zero stands for the default, above. */
struct surrogate_options {
    int starts;
    int evaluations;
    size_t subsample;
    uint64_t seed; /* of the starts and of the subsample; any */
    double noise_floor;
    double
        noise_most; /* shares of the signal variance, no less than the floor; default SURROGATE_NOISE_MAX */
};

/* All matrices row by row. [y] is the unit of the values. */
struct surrogate {
    size_t count, factors;
    double *block;     /* owns the arrays below */
    double *points;    /* (count x factors), in 0..1 */
    double *values;    /* (count) [y] */
    double *lengths;   /* (factors), in widths of the cube */
    double mean;       /* [y] */
    double variance;   /* of the signal [y^2] */
    double noise;      /* variance of the noise [y^2] */
    double *scaled;    /* (factors x stride), sqrt 5 points / lengths, a factor after the other */
    size_t stride;     /* count rounded up to eight */
    double *factor;    /* (count x count), L of C = R + noise/variance = L L', lower triangle */
    double *weights;   /* (count), C^-1 (values - mean) [y] */
    double *ones;      /* (count), C^-1 1 */
    double ones_total; /* 1' C^-1 1 */
    double log_likelihood;
    int evaluations; /* of the likelihood with all points, by surrogate_fit */
};

/* Fits y (count) at points x (count x factors, in 0..1) by maximum likelihood (RW 2.30; mean and variance
 * have a closed form and are put in): lengths and the share of the noise by searches from several starts,
 * where there are more than `subsample` points on so many of them, drawn without repetition, and one more
 * search on all from where the best of these ended. Inputs are copied. Repeated points are allowed; equal
 * values everywhere (also a single point) give that value, deviation 0 to rounding. STATUS_COMPUTATION for no
 * points, no factors, a value that is not finite or an option that is not possible (starts or evaluations
 * below 0, a floor not in 0 .. SURROGATE_NOISE_MAX); STATUS_MEMORY. `surrogate` is zeroed then. */
enum status surrogate_fit(size_t count, size_t factors, const double *x, const double *y,
                          const struct surrogate_options *options, struct surrogate *surrogate);

/* The process with given lengths (factors), variance and noise variance [y^2]; the mean by least squares.
 * STATUS_COMPUTATION as above, or for lengths or a variance not above 0, a noise below 0, a matrix that is
 * not positive definite to rounding (repeated points without noise). */
enum status surrogate_condition(size_t count, size_t factors, const double *x, const double *y,
                                const double *lengths, double variance, double noise,
                                struct surrogate *surrogate);

/* Mean and standard deviation [y] of f, without noise, at n points x (n x factors); RW 2.25, 2.26 and 2.42.
 * `deviation` (n) may be NULL, which is much quicker. Both are NaN where memory is out. */
void surrogate_predict(const struct surrogate *surrogate, size_t n, const double *x, double *mean,
                       double *deviation);

/* The mean as the function of a sensitivity study (sensitivity.h); `surrogate` is a const struct surrogate.
 * STATUS_MEMORY. */
enum status surrogate_evaluate(void *surrogate, size_t n, const double *x, double *mean);

/* What the others say about each point: mean of its value and standard deviation [y], noise included, lengths
 * and variances held (RW 5.10 to 5.12, with the mean estimated from the others too: C^-1 less its part along
 * 1 in place of C^-1, Dubrule, Mathematical Geology 15, 1983). STATUS_COMPUTATION for a single point,
 * STATUS_MEMORY; zeroed then. */
enum status surrogate_leave_one_out(const struct surrogate *surrogate, double *mean, double *deviation);

/* ln p(values | points, lengths, variance, noise, mean), RW 2.30. */
double surrogate_log_likelihood(const struct surrogate *surrogate);

/* Its slope by ln length (factors first), then by ln(noise / variance), both at this variance; RW 5.9.
 * STATUS_MEMORY: zeroed. */
enum status surrogate_likelihood_slope(const struct surrogate *surrogate, double *slope);

void surrogate_free(struct surrogate *surrogate);

/* --- solver/study/surrogate_kernel.c: one row of the matrix, for each instruction set --- */

/* R between one scaled point (factors) and the first `count` (a multiple of eight) of `scaled`. */
#define SURROGATE_CORRELATE(isa)                                                                             \
    void surrogate_correlate_##isa(size_t count, size_t factors, size_t stride, const double *scaled,        \
                                   const double *point, double *correlation)
SURROGATE_CORRELATE(base);
SURROGATE_CORRELATE(v3);
SURROGATE_CORRELATE(v4);

/* Adds sum_j share[j] dR_j / d ln length_k to slope[k] (factors), shares (count, overwritten), `square`
 * (count) for work. */
#define SURROGATE_SLOPES(isa)                                                                                \
    void surrogate_slopes_##isa(size_t count, size_t factors, size_t stride, const double *scaled,           \
                                const double *point, double *share, double *square, double *slope)
SURROGATE_SLOPES(base);
SURROGATE_SLOPES(v3);
SURROGATE_SLOPES(v4);

#endif
