#include "solver/impact/record.h"

#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "solver/base/memory.h"

enum { STEPS = 400 };

static double uniform(double low, double high)
{
    return low + (high - low) * rand() / RAND_MAX;
}

/* Integral of the step function from `from` to `to`, summed step by step. */
static double integral(const double *times, const double *force, double from, double to)
{
    double sum = 0;
    for (size_t i = 0; i < STEPS; i++) {
        double start = times[i] > from ? times[i] : from, end = times[i + 1] < to ? times[i + 1] : to;
        sum += end > start ? force[i] * (end - start) : 0;
    }
    return sum;
}

/* Steps from a hundredth of an interval to five of them, two forces. */
Test(record, means_are_the_integral_of_the_steps)
{
    struct record record;
    double times[STEPS + 1] = {0}, force[2][STEPS], means[200];
    srand(11);
    cr_assert_eq(record_create(&record, 1e-5, 2e-3, 2, 0, NULL), STATUS_OK);
    cr_assert_eq(record.room, 200);
    for (size_t i = 0; i < STEPS; i++) {
        times[i + 1] = times[i] + 1e-5 * pow(10, uniform(-2, 0.7));
        for (size_t k = 0; k < 2; k++)
            force[k][i] = uniform(-1000, 3000);
        record_step(&record, times[i + 1], (double[]){force[0][i], force[1][i]}, NULL);
    }
    cr_assert_gt(times[STEPS], 2e-3, "the steps must reach past the record");
    cr_assert_eq(record.count, 200);
    for (size_t k = 0; k < 2; k++) {
        double sum = 0;
        record_means(&record, k, 0.25, means);
        for (size_t i = 0; i < 200; i++) {
            double expected =
                integral(times, force[k], (double)i * 1e-5, (double)(i + 1) * 1e-5) / 1e-5 * 0.25;
            cr_expect_float_eq(means[i], expected, 1e-8);
            sum += means[i] * 1e-5;
        }
        cr_expect_float_eq(sum, 0.25 * integral(times, force[k], 0, 2e-3), 1e-12);
    }
    record_free(&record);
}

Test(record, samples_stand_at_the_end_of_intervals)
{
    struct record record;
    double start[2] = {1, -2};
    srand(12);
    cr_assert_eq(record_create(&record, 1e-5, 1e-3, 0, 2, start), STATUS_OK);
    while (record.count < 100) {
        double to = record.time + uniform(1e-7, 3e-5);
        record_step(&record, to, NULL, (double[]){1 + 3e3 * to, -2 - 5e3 * to});
    }
    for (size_t i = 0; i < 100; i++) {
        double end = (double)(i + 1) * 1e-5;
        cr_expect_float_eq(record_samples(&record, 0)[i], 1 + 3e3 * end, 1e-12);
        cr_expect_float_eq(record_samples(&record, 1)[i], -2 - 5e3 * end, 1e-12);
    }
    record_free(&record);
}

/* An interval that a step ends, but for rounding, is complete; one begun is not. */
Test(record, counts_complete_intervals)
{
    struct record record;
    double force = 1;
    cr_assert_eq(record_create(&record, 1e-5, 0.025, 1, 0, NULL), STATUS_OK);
    cr_assert_eq(record.room, 2500);
    for (int i = 1; i <= 25000; i++)
        record_step(&record, record.time + 1e-6, &force, NULL);
    cr_expect_eq(record.count, 2500);
    record_free(&record);
    /* 1e-5/1e-6 is a little more than 10 in doubles */
    cr_assert_eq(record_create(&record, 1e-6, 1e-5, 1, 0, NULL), STATUS_OK);
    cr_expect_eq(record.room, 10);
    record_step(&record, nextafter(1e-5, 0), &force, NULL);
    cr_expect_eq(record.count, 10);
    record_free(&record);
    cr_assert_eq(record_create(&record, 1e-5, 1e-4, 1, 0, NULL), STATUS_OK);
    record_step(&record, 2.5e-5, &force, NULL);
    cr_expect_eq(record.count, 2);
    record_free(&record);
    cr_expect_null(record.integral);
}

Test(record, every_allocation_may_fail)
{
    for (size_t at = 0; at < 3; at++) {
        struct record record;
        double start = 0;
        memory_fail_after(at);
        cr_expect_eq(record_create(&record, 1e-5, 1e-3, 1, 1, &start), STATUS_MEMORY);
        memory_fail_after(SIZE_MAX);
        cr_expect_null(record.integral);
        cr_expect_eq(record.room, 0);
    }
}
