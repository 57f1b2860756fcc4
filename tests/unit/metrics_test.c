#include "solver/impact/metrics.h"

#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/impact/output.h"

static double uniform(double low, double high)
{
    return low + (high - low) * rand() / RAND_MAX;
}

/* All pairs, in the plainest way. */
static double slow_hic(size_t count, double interval, const double *acceleration, size_t window)
{
    double best = 0, sum[512] = {0};
    for (size_t i = 0; i < count; i++)
        sum[i + 1] = sum[i] + acceleration[i];
    for (size_t i = 0; i < count; i++) {
        for (size_t j = i + 1; j <= count && j - i <= window; j++) {
            double s = sum[j] - sum[i], d = (double)(j - i);
            double value = s > 0 ? s * s * sqrt(s) / (d * sqrt(d)) : 0;
            best = value > best ? value : best;
        }
    }
    return interval * best;
}

/* Noise, walks, plateaus, bursts: signs and sizes that pulses do not have. */
static void fill_random(size_t count, double *values)
{
    int kind = rand() % 4;
    double walk = 0;
    for (size_t i = 0; i < count; i++) {
        walk += uniform(-10, 10);
        values[i] = kind == 0   ? uniform(-100, 100)
                    : kind == 1 ? walk
                    : kind == 2 ? (double)(rand() % 3) * 50
                                : (rand() % 20 == 0 ? uniform(0, 500) : 0);
    }
}

Test(metrics, hic_equals_that_of_all_pairs_to_the_last_bit)
{
    unsigned seed = 314159;
    cr_log_info("seed %u\n", seed);
    srand(seed);
    for (int trial = 0; trial < 2000; trial++) {
        double values[511], interval = uniform(1e-5, 1e-3);
        size_t count = 1 + (size_t)rand() % 300, window = 1 + (size_t)rand() % 400;
        struct hic_result result;
        fill_random(count, values);
        cr_assert_eq(metrics_hic(count, interval, values, (double)window * interval, &result), STATUS_OK);
        cr_assert_eq(result.value, slow_hic(count, interval, values, window), "trial %d", trial);
        size_t start = (size_t)lround(result.start / interval), end = (size_t)lround(result.end / interval);
        double sum = 0;
        for (size_t i = start; i < end; i++)
            sum += values[i];
        double again = end > start ? interval * pow(sum, 2.5) / pow((double)(end - start), 1.5) : 0;
        cr_assert(fabs(again - result.value) <= 1e-9 * result.value, "trial %d", trial);
        cr_assert_leq(end - start, window);
    }
}

Test(metrics, hic_without_a_positive_part_is_zero)
{
    double values[100] = {0};
    struct hic_result result;
    cr_assert_eq(metrics_hic(100, 1e-5, values, INFINITY, &result), STATUS_OK);
    cr_expect(result.value == 0 && result.start == 0 && result.end == 0);
    for (size_t i = 0; i < 100; i++)
        values[i] = -50;
    cr_assert_eq(metrics_hic(100, 1e-5, values, INFINITY, &result), STATUS_OK);
    cr_expect_eq(result.value, 0);
    values[0] = 10;
    cr_assert_eq(metrics_hic(1, 1e-5, values, INFINITY, &result), STATUS_OK);
    cr_expect_float_eq(result.value, 1e-5 * pow(10, 2.5), 1e-15);
}

/* Two bumps of 2 ms at 100 g with 1 ms at 20 g between them; level 60 g is crossed half-way between samples.
 */
static size_t two_bumps(double *values)
{
    for (size_t i = 0; i < 70; i++)
        values[i] = i >= 10 && i < 30 ? 100 : i >= 30 && i < 40 ? 20 : i >= 40 && i < 60 ? 100 : 0;
    return 70;
}

Test(metrics, dwell_adds_parts_and_the_clip_does_not)
{
    double values[70], start, end;
    size_t count = two_bumps(values);
    cr_expect_float_eq(metrics_time_above(count, 1e-4, values, 60),
                       4e-3 - 2e-4 + 1e-4 * (0.4 + 0.5 + 0.5 + 0.4), 1e-12);
    cr_expect_float_eq(metrics_clip(count, 1e-4, values, 1.5e-3), 100, 1e-9);
    /* held for 3 ms: through the dip at 20 g; the ends add 1.98 + 2 x 0.8 samples, no more */
    cr_expect_float_eq(metrics_clip(count, 1e-4, values, 3e-3), 20, 1e-9);
    cr_expect_eq(metrics_clip(count, 1e-4, values, 8e-3), 0);
    cr_expect(metrics_part_above(count, 1e-4, values, 60, &start, &end));
    cr_expect_float_eq(start, 1e-4 * (10.5 - 0.4), 1e-12);
    cr_expect_float_eq(end, 1e-4 * (29.5 + 0.5), 1e-12);
    cr_expect(metrics_part_above(count, 1e-4, values, 10, &start, &end));
    cr_expect_float_eq(end - start, 1e-4 * (49 + 2 * 0.9), 1e-12);
    cr_expect_not(metrics_part_above(count, 1e-4, values, 100, &start, &end));
    cr_expect(isnan(start) && isnan(end));
}

Test(metrics, a_pulse_cut_at_both_ends_counts_whole)
{
    double values[20], start, end;
    for (size_t i = 0; i < 20; i++)
        values[i] = 80;
    cr_expect_float_eq(metrics_time_above(20, 1e-4, values, 60), 2e-3, 1e-15);
    cr_expect_float_eq(metrics_clip(20, 1e-4, values, 2e-3 - 1e-9), 80, 1e-9);
    cr_expect_eq(metrics_clip(20, 1e-4, values, 2.1e-3), 0);
    cr_expect(metrics_part_above(20, 1e-4, values, 5, &start, &end));
    cr_expect_float_eq(start, 0, 1e-15);
    cr_expect_float_eq(end, 2e-3, 1e-15);
}

Test(metrics, from_pulse_counts_time_from_first_touch_and_takes_gravity_off)
{
    double acceleration[70], force[70], metrics[METRIC_COUNT];
    size_t count = two_bumps(acceleration);
    for (size_t i = 0; i < count; i++) {
        acceleration[i] *= METRICS_GRAVITY;
        force[i] = 5 * acceleration[i];
    }
    acceleration[15] = 110 * METRICS_GRAVITY;
    struct pulse_input pulse = {.count = count,
                                .interval = 1e-4,
                                .acceleration = acceleration,
                                .touch = 1e-3,
                                .gravity = METRICS_GRAVITY,
                                .speed_before = 4,
                                .speed_after = NAN};
    cr_assert_eq(metrics_from_pulse(&pulse, metrics), STATUS_OK);
    cr_expect_float_eq(metrics[METRIC_peak], 110, 1e-9);
    cr_expect_float_eq(metrics[METRIC_peak_time], 0.55, 1e-9);
    cr_expect_float_eq(metrics[METRIC_hic_start], 0, 1e-9);
    cr_expect_float_eq(metrics[METRIC_hic_end], 5, 1e-9);
    cr_expect_float_eq(metrics[METRIC_velocity_change], METRICS_GRAVITY * (0.421 - 0.007), 1e-9);
    cr_expect(isnan(metrics[METRIC_peak_unfiltered]) && isnan(metrics[METRIC_peak_force]));
    cr_expect(isnan(metrics[METRIC_restitution]) && isnan(metrics[METRIC_crush]) &&
              isnan(metrics[METRIC_bric]));
    pulse.windowed = 1;
    pulse.acceleration_unfiltered = force;
    pulse.anvil_force = force;
    pulse.speed_after = -1;
    cr_assert_eq(metrics_from_pulse(&pulse, metrics), STATUS_OK);
    double width = 1e-4 * (49 + 2 * 0.95); /* 5 g of a step of 100 g */
    cr_expect_float_eq(metrics[METRIC_pulse], 1e3 * width, 1e-9);
    cr_expect_float_eq(metrics[METRIC_velocity_change], METRICS_GRAVITY * (0.421 - width), 1e-9);
    cr_expect_float_eq(metrics[METRIC_peak_unfiltered], 500, 1e-9);
    cr_expect_float_eq(metrics[METRIC_peak_force], 500 * METRICS_GRAVITY, 1e-9);
    cr_expect_float_eq(metrics[METRIC_restitution], 0.25, 1e-12);
}

/* Shape number K = HIC / (A^1.5 area of the pulse): of a square of A g and T, A^2.5 T over A^1.5 A T, 1; of a
 * ramp from 0 to A over T, HIC = max over the last w of T: the mean is A (1 - w/2T), so that w (1 - w/2T)^2.5
 * is largest at w = 4T/7, (4/7) (5/7)^2.5 = 0.246401, over the area A T/2: 0.492801 (the tip's interval is
 * cut by half an interval: n intervals have the factor (1 - 1/2n)^-1.5). Gravity turns the change of velocity
 * by g T, here by 1 and 2 in a hundred, and K not at all. */
Test(metrics, the_shape_number_does_not_know_gravity)
{
    enum { COUNT = 7000 };
    static double square[COUNT], ramp[COUNT];
    const double ramp_shape = 2 * 4.0 / 7 * pow(5.0 / 7, 2.5) * pow(1 - 0.5 / COUNT, -1.5);
    for (size_t i = 0; i < COUNT; i++) {
        square[i] = 100 * METRICS_GRAVITY;
        ramp[i] = 100 * METRICS_GRAVITY * ((double)i + 0.5) / COUNT;
    }
    for (int on = 0; on < 2; on++) {
        double metrics[METRIC_COUNT], change = METRICS_GRAVITY * 7e-3;
        struct pulse_input pulse = {
            .count = COUNT, .interval = 1e-6, .acceleration = square, .gravity = on * METRICS_GRAVITY};
        cr_assert_eq(metrics_from_pulse(&pulse, metrics), STATUS_OK);
        cr_expect_float_eq(metrics[METRIC_shape_number], 1, 1e-9, "%.9f", metrics[METRIC_shape_number]);
        cr_expect_float_eq(metrics[METRIC_velocity_change], change * (100 - on), 1e-9);
        pulse.acceleration = ramp;
        cr_assert_eq(metrics_from_pulse(&pulse, metrics), STATUS_OK);
        cr_expect_float_eq(metrics[METRIC_shape_number], ramp_shape, 1e-6, "%.9f for %.9f",
                           metrics[METRIC_shape_number], ramp_shape);
        cr_expect_float_eq(metrics[METRIC_velocity_change], change * (50 - on), 1e-9);
    }
}

/* A square is A^2.5 times the window; the free one is the whole pulse, 40 ms, the caps are 15 and 36 ms. */
Test(metrics, caps_bind_where_the_free_window_is_longer)
{
    static const double length[] = {0.010, 0.020, 0.040}, hic15[] = {0.010, 0.015, 0.015};
    static const double hic36[] = {0.010, 0.020, 0.036};
    for (size_t i = 0; i < 3; i++) {
        double acceleration[500] = {0}, metrics[METRIC_COUNT];
        for (size_t k = 20; k < 20 + (size_t)lround(length[i] / 1e-4); k++)
            acceleration[k] = 100 * METRICS_GRAVITY;
        struct pulse_input pulse = {.count = 500, .interval = 1e-4, .acceleration = acceleration};
        cr_assert_eq(metrics_from_pulse(&pulse, metrics), STATUS_OK);
        cr_expect_float_eq(metrics[METRIC_hic], 1e5 * length[i], 1e-7);
        cr_expect_float_eq(metrics[METRIC_hic15], 1e5 * hic15[i], 1e-7);
        cr_expect_float_eq(metrics[METRIC_hic36], 1e5 * hic36[i], 1e-7);
    }
}

Test(metrics, a_pulse_without_acceleration_has_no_shape)
{
    double acceleration[10] = {0}, metrics[METRIC_COUNT];
    struct pulse_input pulse = {.count = 10, .interval = 1e-4, .acceleration = acceleration};
    cr_assert_eq(metrics_from_pulse(&pulse, metrics), STATUS_OK);
    cr_expect(metrics[METRIC_hic] == 0 && metrics[METRIC_gsi] == 0 && metrics[METRIC_clip_3ms] == 0);
    cr_expect(isnan(metrics[METRIC_shape_number]) && isnan(metrics[METRIC_pulse]));
}

Test(metrics, every_allocation_may_fail)
{
    double acceleration[70], metrics[METRIC_COUNT];
    size_t count = two_bumps(acceleration), at = 0;
    struct pulse_input pulse = {.count = count, .interval = 1e-4, .acceleration = acceleration};
    for (;; at++) {
        size_t before = memory_failures();
        memory_fail_after(at);
        enum status status = metrics_from_pulse(&pulse, metrics);
        memory_fail_after(SIZE_MAX);
        if (memory_failures() == before)
            break;
        cr_expect_eq(status, STATUS_MEMORY);
        cr_expect(isnan(metrics[METRIC_peak]) && isnan(metrics[METRIC_hic]));
    }
    cr_expect_geq(at, 2);
}

Test(metrics, tables_name_every_row)
{
    cr_expect_str_eq(metric_table[METRIC_hic].name, "hic");
    cr_expect_str_eq(metric_table[METRIC_clip_3ms].limit_key, "clip_3ms");
    cr_expect_str_eq(pulse_table[PULSE_crush].name, "crush");
    cr_expect_str_eq(energy_table[ENERGY_artificial].unit, "J");
    for (size_t i = 0; i < METRIC_COUNT; i++)
        cr_expect(metric_table[i].name && metric_table[i].unit && metric_table[i].description &&
                  metric_table[i].source);
}

Test(metrics, output_of_nothing_may_be_freed)
{
    struct impact_output output = {0};
    impact_output_free(&output);
    output.layer_count = 2;
    output.layers = memory_zeroed(2, sizeof *output.layers);
    output.layers[1].crush = memory_doubles(4);
    output.channel[PULSE_crush] = memory_doubles(4);
    output.ledger[ENERGY_foam] = memory_doubles(4);
    impact_output_free(&output);
    cr_expect_null(output.layers);
    cr_expect_null(output.channel[PULSE_crush]);
    cr_expect_eq(output.layer_count, 0);
}
