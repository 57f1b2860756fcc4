/*
 * Cost of the surrogate: 2,000 points in 6 factors, fitted from one start and from eight (all but the last
 * search on 300 of the points), 10,000 predictions, leave-one-out errors. Medians of processor time, one
 * thread. The values bend where a liner would bottom out and carry an error of 0.1 in 60, as a sweep's do.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "solver/study/surrogate.h"
#include "tests/support/random.h"
#include "tests/support/stopwatch.h"

enum { COUNT = 2000, FACTORS = 6, QUERIES = 10000, FITS = 3, RUNS = 9 };

static double points[COUNT * FACTORS], values[COUNT], queries[QUERIES * FACTORS], mean[QUERIES],
    deviation[QUERIES];

static double now(void)
{
    return stopwatch_read(CLOCK_PROCESS_CPUTIME_ID);
}

static double median(double *times, int count)
{
    qsort(times, (size_t)count, sizeof *times, stopwatch_order);
    return times[count / 2];
}

static void draw(void)
{
    struct random random = {1};
    for (size_t i = 0; i < COUNT * FACTORS; i++)
        points[i] = random_between(&random, 0, 1);
    for (size_t i = 0; i < QUERIES * FACTORS; i++)
        queries[i] = random_between(&random, 0, 1);
    for (size_t i = 0; i < COUNT; i++) {
        const double *x = points + FACTORS * i;
        values[i] = 150 + 80 * fmax(0.4 - x[0], 0) * (1 + x[1]) + 20 * x[1] * x[2] + 8 * sin(4 * x[3]) +
                    3 * x[4] + random_between(&random, -0.1, 0.1);
    }
}

/* Leaves the last fit in `surrogate`. */
static int time_fit(int starts, struct surrogate *surrogate)
{
    struct surrogate_options options = {.starts = starts, .seed = 1};
    double times[FITS];
    for (int run = 0; run < FITS; run++) {
        surrogate_free(surrogate);
        double start = now();
        if (surrogate_fit(COUNT, FACTORS, points, values, &options, surrogate) != STATUS_OK)
            return 1;
        times[run] = now() - start;
    }
    printf("fit, %d start%-24s %8.2f s, %d values of the likelihood with all points\n", starts,
           starts == 1 ? "" : "s", median(times, FITS), surrogate->evaluations);
    return 0;
}

static void time_predictions(const struct surrogate *surrogate, double *deviations, const char *what)
{
    double times[RUNS];
    for (int run = 0; run < RUNS; run++) {
        double start = now();
        surrogate_predict(surrogate, QUERIES, queries, mean, deviations);
        times[run] = now() - start;
    }
    printf("%d predictions, %-17s %8.3f s\n", QUERIES, what, median(times, RUNS));
}

static int time_leave_one_out(const struct surrogate *surrogate)
{
    double times[RUNS];
    for (int run = 0; run < RUNS; run++) {
        double start = now();
        if (surrogate_leave_one_out(surrogate, mean, deviation) != STATUS_OK)
            return 1;
        times[run] = now() - start;
    }
    printf("leave-one-out, all points           %8.3f s\n", median(times, RUNS));
    return 0;
}

int main(void)
{
    struct surrogate surrogate = {0};
    draw();
    printf("surrogate, %d points in %d factors, processor time (median of %d fits, %d of the rest)\n", COUNT,
           FACTORS, FITS, RUNS);
    int failed = time_fit(1, &surrogate) || time_fit(8, &surrogate);
    if (!failed) {
        time_predictions(&surrogate, NULL, "mean");
        time_predictions(&surrogate, deviation, "mean, deviation");
        failed = time_leave_one_out(&surrogate);
    }
    surrogate_free(&surrogate);
    return failed;
}
