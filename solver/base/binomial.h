#ifndef FOAMPULSE_BASE_BINOMIAL_H
#define FOAMPULSE_BASE_BINOMIAL_H

#include <stddef.h>

/* The chance of a failure after `failures` of `count` independent trials failed: the interval that holds the
 * true one at least with the probability `confidence` (0 .. 1, ends left out; each side errs with half of the
 * rest). Clopper and Pearson, Biometrika 26 (1934) 404-413. No trial gives 0 .. 1; `low` is 0 without a
 * failure, `high` 1 when all failed. Relative error below 1e-9 to a million trials. */
void binomial_interval(size_t failures, size_t count, double confidence, double *low, double *high);

#endif
