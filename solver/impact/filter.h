#ifndef FOAMPULSE_IMPACT_FILTER_H
#define FOAMPULSE_IMPACT_FILTER_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * Channel frequency class (CFC) filter of SAE J211-1 and ISO 6487: a two-pole Butterworth filter run forward
 * and then backward, so that the phase is zero and there are four poles.
 *
 * With r = tan(pi f / fs) / tan(pi fd / fs) and fd = 2.0775 CFC, the gain of both passes together is
 * 1 / (1 + r^4): exactly 1 at 0 Hz and 1/2 at fd; -3 dB lies at 1.667 CFC. (2.0775 is the constant of SAE
 * J211-1; the variant 25/12 of ISO 6487 moves -3 dB by 0.3 %.)
 */

#define FILTER_HEAD_CLASS 1000.0 /* class of head acceleration channels, 49 CFR 572.200(g) */

/* y[i] = a0 x[i] + a1 x[i-1] + a2 x[i-2] + b1 y[i-1] + b2 y[i-2]. */
struct filter {
    double a0, a1, a2, b1, b2;
};

/* Coefficients for a class [1] and sampling interval [s], SAE J211-1 annex. 1 on success; 0 when the
 * sampling is too slow: fd must lie below half the sampling rate. */
int filter_cfc(double cfc, double interval, struct filter *filter);

/* Filters (count) samples; `output` may be `input`. The signal counts as zero for 10 ms (five periods of fd
 * when that is longer) before and after. STATUS_INPUT when the sampling is too slow for the class,
 * STATUS_MEMORY; the output is then zero. */
enum status filter_apply(double cfc, double interval, size_t count, const double *input, double *output);

#endif
