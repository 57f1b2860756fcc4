#ifndef FOAMPULSE_BASE_NORMAL_H
#define FOAMPULSE_BASE_NORMAL_H

/*
 * The normal distribution of mean 0 and standard deviation 1.
 *
 * Density and quantile have the same bits on every machine (solver/base/numeric), so that points drawn with
 * them are the same; the cumulative probability passes the C library's erfc, for statistics only.
 */

/* Density at x: e^(-x^2/2)/sqrt(2 pi). */
double normal_density(double x);

/* Probability of a value below x: erfc(-x/sqrt 2)/2, so that the lower tail keeps its digits to -37.5. For an
 * upper tail take normal_cumulative(-x). */
double normal_cumulative(double x);

/* The x below which values have the probability p, relative error below 1e-14. 0 gives
 * -infinity, 1 infinity, anything outside 0 .. 1 NaN. Rational approximations of Wichura, "Algorithm AS 241:
 * the percentage points of the normal distribution", Applied Statistics 37 (1988) 477-484, PPND16. */
double normal_quantile(double p);

#endif
