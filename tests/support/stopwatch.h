#ifndef FOAMPULSE_SUPPORT_STOPWATCH_H
#define FOAMPULSE_SUPPORT_STOPWATCH_H

#include <time.h>

/* Time of a clock [s]. */
static inline double stopwatch_read(clockid_t clock)
{
    struct timespec now;
    clock_gettime(clock, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* Smaller doubles first, for qsort: medians of runs. */
static inline int stopwatch_order(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

#endif
