#include "solver/study/measured.h"

#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "solver/base/memory.h"

static const double pi = 3.14159265358979323846;
static char path[64];

static FILE *fresh(void)
{
    snprintf(path, sizeof path, "/tmp/foampulse_measured_XXXXXX");
    int file = mkstemp(path);
    cr_assert(file >= 0);
    return fdopen(file, "w");
}

/* 200 g x 8 ms half-sine between 3 ms before and 5 ms after, `t` [s] from first touch. */
static double half_sine(double t)
{
    return t > 0 && t < 8e-3 ? 200 * sin(pi * t / 8e-3) : 0;
}

/* How to write a pulse. */
struct style {
    const char *header;
    double time_scale, scale[3]; /* of the file's units; a scale of 0 ends the axes */
    double rate;
    double jitter; /* share of the interval by which every other sample is late */
    double rows;   /* 0 for all */
    int separator, comma;
};

static const char *write_pulse(const struct style *style)
{
    FILE *file = fresh();
    size_t count = style->rows > 0 ? (size_t)style->rows : (size_t)(16e-3 * style->rate);
    fprintf(file, "%s\n", style->header);
    for (size_t i = 0; i < count; i++) {
        char line[256];
        double t = ((double)i + (i % 2 ? style->jitter : 0)) / style->rate;
        int used = snprintf(line, sizeof line, "%.12g", style->time_scale * t);
        for (int k = 0; k < 3 && style->scale[k] != 0; k++)
            used += snprintf(line + used, sizeof line - (size_t)used, "%c%.12g", style->separator,
                             style->scale[k] * half_sine(t - 3e-3));
        for (char *at = line; style->comma && *at; at++)
            *at = *at == '.' ? ',' : *at;
        fprintf(file, "%s\n", line);
    }
    fclose(file);
    return path;
}

static struct measured_pulse measured(const struct style *style)
{
    struct measured_pulse pulse;
    struct errors errors = {0};
    cr_assert_eq(measured_read(write_pulse(style), &pulse, &errors), STATUS_OK, "%s", errors.kept[0].text);
    unlink(path);
    cr_expect_eq(errors.count, 0);
    return pulse;
}

static int noted(const struct measured_pulse *pulse, const char *part)
{
    for (size_t i = 0; i < pulse->note_count; i++) {
        if (strstr(pulse->note[i], part))
            return 1;
    }
    return 0;
}

/* HIC 1876.472, GSI 2071.11, dv = 2/pi A g T less g T: closed forms of tests/verify/signals_test.c. */
static void expect_half_sine(const struct measured_pulse *pulse, const char *what)
{
    const double *m = pulse->metrics;
    cr_expect_float_eq(m[METRIC_peak], 200, 0.2, "%s: peak %g", what, m[METRIC_peak]);
    cr_expect_float_eq(m[METRIC_peak_unfiltered], 200, 0.05, "%s: unfiltered %g", what,
                       m[METRIC_peak_unfiltered]);
    cr_expect_float_eq(m[METRIC_hic], 1876.472, 2, "%s: HIC %g", what, m[METRIC_hic]);
    cr_expect_float_eq(m[METRIC_gsi], 2071.11, 3, "%s: GSI %g", what, m[METRIC_gsi]);
    cr_expect_float_eq(m[METRIC_peak_time], 3.936, 0.06, "%s: peak at %g", what, m[METRIC_peak_time]);
    cr_expect_float_eq(m[METRIC_pulse], 7.87, 0.06, "%s: pulse %g", what, m[METRIC_pulse]);
    cr_expect_float_eq(m[METRIC_velocity_change], 200 * 2 / pi * 9.80665 * 8e-3 - 9.80665 * 7.87e-3, 0.03,
                       "%s: dv %g", what, m[METRIC_velocity_change]);
    cr_expect_float_eq(pulse->touch, 3.0637e-3, 0.015e-3, "%s: touch %g", what, pulse->touch);
    cr_expect(isnan(m[METRIC_restitution]) && isnan(m[METRIC_crush]) && isnan(m[METRIC_peak_force]));
}

Test(measured, formats_and_units_give_the_same_pulse)
{
    static const struct style styles[] = {
        {"time (ms),a (g)", 1e3, {1}, 20e3, 0, 0, ',', 0},
        {"t [s];a_x [m/s2]", 1, {9.80665}, 20e3, 0, 0, ';', 1},
        {"\xef\xbb\xbft_us\tacceleration_m/s2", 1e6, {9.80665}, 100e3, 0, 0, '\t', 1},
        {"time \xc2\xb5s;a (m/s\xc2\xb2)", 1e6, {9.80665}, 50e3, 0, 0, ';', 0},
        {"\"time, ms\",\"a_x (g)\",\"a_y (g)\",\"a_z (g)\"", 1e3, {0.6, -0.64, 0.48}, 20e3, 0, 0, ',', 0},
        {"t/ms,a_x/g,a_y/g", 1e3, {0.6, -0.8}, 20e3, 0, 0, ',', 0},
        {"time (ms),a_x (g),a_z (m/s2)", 1e3, {0.6, 0.8 * 9.80665}, 20e3, 0, 0, ',', 0},
    };
    for (size_t i = 0; i < sizeof styles / sizeof *styles; i++) {
        struct measured_pulse pulse = measured(&styles[i]);
        expect_half_sine(&pulse, styles[i].header);
        cr_expect(pulse.filtered && !pulse.resampled && !pulse.reversed && pulse.note_count == 0, "%s: %s",
                  styles[i].header, pulse.note[0]);
        cr_expect_float_eq(pulse.interval, 1 / styles[i].rate, 1e-12);
    }
}

Test(measured, a_negative_channel_changes_sign)
{
    struct measured_pulse pulse = measured(&(struct style){"t (ms),a (g)", 1e3, {-1}, 20e3, 0, 0, ',', 0});
    expect_half_sine(&pulse, "negative");
    cr_expect(pulse.reversed && noted(&pulse, "sign changed"));
}

Test(measured, uneven_sampling_is_resampled_and_told)
{
    struct style style = {"t (ms),a (g)", 1e3, {1}, 50e3, 0.004, 0, ',', 0};
    struct measured_pulse pulse = measured(&style);
    cr_expect(!pulse.resampled && pulse.note_count == 0, "0.8 %% is even");
    style.jitter = 0.1;
    pulse = measured(&style);
    cr_expect(pulse.resampled && noted(&pulse, "resampled at"));
    expect_half_sine(&pulse, "jitter");
}

Test(measured, slow_sampling_is_not_filtered_and_told)
{
    struct measured_pulse pulse = measured(&(struct style){"t (ms),a (g)", 1e3, {1}, 5e3, 0, 0, ',', 0});
    cr_expect(!pulse.filtered && noted(&pulse, "5 kHz") && noted(&pulse, "10 kHz or more"));
    cr_expect_eq(pulse.metrics[METRIC_peak], pulse.metrics[METRIC_peak_unfiltered]);
    pulse = measured(&(struct style){"t (ms),a (g)", 1e3, {1}, 10e3, 0, 0, ',', 0});
    cr_expect(pulse.filtered && pulse.note_count == 0);
}

Test(measured, columns_made_from_others_are_left_out)
{
    struct measured_pulse pulse = measured(
        &(struct style){"t (ms),a_x (g),a_z (g),Resultant (g)", 1e3, {0.6, 0.8, 1}, 20e3, 0, 0, ',', 0});
    expect_half_sine(&pulse, "resultant");
    cr_expect(pulse.channels == 2 && noted(&pulse, "\"Resultant (g)\" is not used"));
    pulse = measured(&(struct style){"t (ms),resultant (g),force (kN)", 1e3, {1, 3}, 20e3, 0, 0, ',', 0});
    expect_half_sine(&pulse, "resultant alone");
    cr_expect(pulse.channels == 1 && noted(&pulse, "\"force (kN)\" is not used"));
}

Test(measured, a_pulse_cut_off_is_told)
{
    struct measured_pulse pulse = measured(&(struct style){"t (ms),a (g)", 1e3, {1}, 20e3, 0, 150, ',', 0});
    cr_expect(noted(&pulse, "ends above 5 g"));
}

static const char *write_text(const char *text)
{
    FILE *file = fresh();
    fputs(text, file);
    fclose(file);
    return path;
}

static void expect_refused(const char *text, enum status status, int line, int column, const char *part)
{
    struct measured_pulse pulse;
    struct errors errors = {0};
    cr_expect_eq(measured_read(write_text(text), &pulse, &errors), status, "%s", part);
    cr_assert_geq(errors.count, 1, "%s", part);
    cr_expect_str_eq(errors.kept[0].file, path);
    cr_expect_eq(errors.kept[0].line, line, "line %d: %s", errors.kept[0].line, errors.kept[0].text);
    cr_expect_eq(errors.kept[0].column, column, "column %d: %s", errors.kept[0].column, errors.kept[0].text);
    cr_expect(strstr(errors.kept[0].text, part), "'%s' instead of '%s'", errors.kept[0].text, part);
    cr_expect_eq(pulse.samples, 0);
    cr_expect_eq(pulse.file[0], '\0');
    unlink(path);
}

Test(measured, bad_files_are_refused_with_their_place)
{
    expect_refused("", STATUS_INPUT, 0, 0, "empty");
    expect_refused("t (ms),a (g)\n", STATUS_INPUT, 0, 0, "0 rows of values; a pulse needs at least 10");
    expect_refused("t (ms),a (g)\n0,1\n", STATUS_INPUT, 0, 0, "1 rows of values");
    expect_refused("t (ms),a (g)\n0,1\n1,2\n2,3\n", STATUS_INPUT, 0, 0, "3 rows of values");
    expect_refused("0,1\n1,2\n", STATUS_INPUT, 1, 1, "header row");
    expect_refused("time,a\n0,1\n", STATUS_INPUT, 1, 0, "no column of time; name it with its unit");
    expect_refused("time (h),a (g)\n0,1\n", STATUS_INPUT, 1, 0, "no column of time");
    expect_refused("t (ms),t (s),a (g)\n0,1,2\n", STATUS_INPUT, 1, 0, "more than one column of time");
    expect_refused("t (ms),f (N)\n0,1\n", STATUS_INPUT, 1, 0, "no column of acceleration");
    expect_refused("t (ms),a (g),b (g),c (g),d (g)\n0,1,1,1,1\n", STATUS_INPUT, 1, 0, "at most three axes");
    expect_refused("t (ms),a (g)\n0,1\n0.1,fast\n", STATUS_INPUT, 3, 5, "\"fast\" in column \"a (g)\"");
    expect_refused("t (ms),a (g)\n0,1\n0.1,nan\n", STATUS_INPUT, 3, 5, "\"nan\" in column \"a (g)\"");
    expect_refused("t (ms),a (g)\n0,1\ninf,2\n", STATUS_INPUT, 3, 1, "\"inf\" in column \"t (ms)\"");
    expect_refused("t (ms),a (g)\n0,1\n0,1,5\n", STATUS_INPUT, 3, 1, "decimal commas need");
    expect_refused("t (ms),a (g)\n0,1\n0.1,2\n0.1,3\n", STATUS_INPUT, 4, 1, "time does not increase");
    expect_refused("t (ms),a (g)\n0,1\n0.1,1e300\n", STATUS_INPUT, 3, 5, "too large to be meant");
}

Test(measured, bad_rows_are_told_together_up_to_ten)
{
    struct measured_pulse pulse;
    struct errors errors = {0};
    FILE *file = fresh();
    fputs("t (ms),a (g)\n", file);
    for (int i = 0; i < 1000; i++)
        fprintf(file, "%d,%s\n", i, i % 10 == 3 ? "x" : "1");
    fclose(file);
    cr_expect_eq(measured_read(path, &pulse, &errors), STATUS_INPUT);
    cr_expect_eq(errors.count, ERRORS_KEPT);
    cr_expect_eq(errors.kept[9].line, 95);
    unlink(path);
}

Test(measured, a_file_that_is_no_pulse_is_refused)
{
    char text[4096];
    size_t used = (size_t)sprintf(text, "t (ms),a (g)\n");
    for (int i = 0; i < 100; i++)
        used += (size_t)sprintf(text + used, "%d,%g\n", i, sin(i));
    expect_refused(text, STATUS_INPUT, 0, 0, "never exceeds 5 g");
    used = (size_t)sprintf(text, "t (us),a (g)\n");
    for (int i = 0; i < 100; i++)
        used += (size_t)sprintf(text + used, "%.3f,100\n", 0.05 * i);
    expect_refused(text, STATUS_INPUT, 0, 0, "more than 10 MHz");
    used = (size_t)sprintf(text, "t (s),a (g)\n");
    for (int i = 0; i < 100; i++)
        used += (size_t)sprintf(text + used, "%.5f,100\n", i < 99 ? 1e-5 * i : 1000.0);
    expect_refused(text, STATUS_INPUT, 0, 0, "too uneven in time");
}

Test(measured, files_that_cannot_be_read)
{
    struct measured_pulse pulse;
    struct errors errors = {0};
    cr_expect_eq(measured_read("/tmp/foampulse_no_such_file.csv", &pulse, &errors), STATUS_FILE);
    cr_expect_eq(measured_read("/tmp", &pulse, &errors), STATUS_FILE);
    cr_expect(strstr(errors.kept[1].text, "folder"));
    FILE *file = fresh();
    for (int i = 0; i < 5000; i++)
        fputc(i * 37 % 256, file);
    fclose(file);
    cr_expect_eq(measured_read(path, &pulse, &errors), STATUS_INPUT);
    cr_expect(strstr(errors.kept[2].text, "not text"), "%s", errors.kept[2].text);
    unlink(path);
}

Test(measured, missing_values_leave_their_row_out)
{
    struct measured_pulse pulse;
    struct errors errors = {0};
    FILE *file = fresh();
    fputs("t (ms),a (g),note (1)\n", file);
    for (int i = 0; i < 320; i++) {
        if (i == 150)
            fprintf(file, "%.12g,,\n", i * 0.05);
        else
            fprintf(file, "%.12g,%.12g,\n", i * 0.05, half_sine(i * 5e-5 - 3e-3));
    }
    fclose(file);
    cr_assert_eq(measured_read(path, &pulse, &errors), STATUS_OK, "%s", errors.kept[0].text);
    unlink(path);
    expect_half_sine(&pulse, "missing");
    cr_expect(noted(&pulse, "1 rows with a missing value") && pulse.resampled && pulse.samples == 320);
}

Test(measured, every_allocation_may_fail)
{
    const char *name =
        write_pulse(&(struct style){"t (ms),a (g),b (g)", 1e3, {0.6, 0.8}, 50e3, 0.2, 0, ',', 0});
    size_t at = 0;
    for (;; at++) {
        struct measured_pulse pulse;
        struct errors errors = {0};
        size_t before = memory_failures();
        memory_fail_after(at);
        enum status status = measured_read(name, &pulse, &errors);
        memory_fail_after(SIZE_MAX);
        if (memory_failures() == before) {
            cr_expect_eq(status, STATUS_OK);
            break;
        }
        cr_expect_eq(status, STATUS_MEMORY, "allocation %zu", at);
        cr_expect_geq(errors.count, 1);
        cr_expect_eq(pulse.samples, 0);
    }
    cr_expect_geq(at, 12);
    unlink(name);
}

/* 1, 2, 4: mean 7/3, s = sqrt(7/3) (n - 1 = 2). */
Test(measured, mean_and_deviation_of_the_sample)
{
    struct measured_pulse pulses[3] = {0};
    struct measured_summary summary;
    for (size_t i = 0; i < 3; i++) {
        for (size_t k = 0; k < METRIC_COUNT; k++)
            pulses[i].metrics[k] = NAN;
        pulses[i].metrics[METRIC_peak] = (double[]){1, 2, 4}[i];
    }
    measured_summarise(3, pulses, 2.4, &summary);
    cr_expect_float_eq(summary.mean[METRIC_peak], 7.0 / 3, 1e-14);
    cr_expect_float_eq(summary.deviation[METRIC_peak], sqrt(7.0 / 3), 1e-14);
    cr_expect_float_eq(summary.bound[METRIC_peak], 7.0 / 3 + 2.4 * sqrt(7.0 / 3), 1e-14);
    cr_expect_eq(summary.largest[METRIC_peak], 4);
    cr_expect(isnan(summary.mean[METRIC_hic]) && isnan(summary.largest[METRIC_hic]));
    measured_summarise(1, pulses, 2.4, &summary);
    cr_expect(isnan(summary.deviation[METRIC_peak]) && summary.bound[METRIC_peak] == 1);
}

Test(measured, limits_are_held_against_the_bound_and_the_largest)
{
    struct measured_summary summary = {.count = 3};
    struct judgement judgements[METRIC_COUNT];
    struct errors errors = {0};
    struct measured_limits limits;
    for (size_t i = 0; i < METRIC_COUNT; i++)
        summary.bound[i] = summary.largest[i] = NAN;
    summary.bound[METRIC_peak] = 240;
    summary.largest[METRIC_peak] = 230;
    summary.bound[METRIC_hic] = 2300;
    summary.largest[METRIC_hic] = 2500;
    cr_assert_eq(measured_limits_read("peak_g=250 g, hic=2400 ,bric = 1", &limits, &errors), STATUS_OK);
    cr_assert_eq(measured_judge(&limits, &summary, judgements), 3);
    cr_expect(judgements[0].metric == METRIC_peak && judgements[0].state == VERDICT_WITHIN);
    cr_expect_float_eq(judgements[0].margin, 0.04, 1e-14);
    cr_expect(judgements[1].metric == METRIC_hic && judgements[1].state == VERDICT_EXCEEDS);
    cr_expect_float_eq(judgements[1].value, 2500, 1e-14);
    cr_expect(judgements[2].metric == METRIC_bric && judgements[2].state == VERDICT_NOT_COMPUTED);
    limits.value[METRIC_peak] = 240;
    measured_judge(&limits, &summary, judgements);
    cr_expect_eq(judgements[0].state, VERDICT_WITHIN, "a value at its limit is within");
    limits.target = 0.9;
    measured_judge(&limits, &summary, judgements);
    cr_expect_eq(judgements[0].state, VERDICT_TIGHT, "above the house mark");
}

Test(measured, bad_limits_are_refused)
{
    static const struct {
        const char *text, *part;
    } rows[] = {{"peakg=275", "did you mean 'peak_g'?"},
                {"crush=3", "no limit can be set for 'crush'"},
                {"peak_g=275 m/s2", "a positive number in g is expected"},
                {"hic=2400 g", "a positive number is expected"},
                {"hic=", "a positive number is expected"},
                {"hic=-1", "a positive number is expected"},
                {"hic=0", "a positive number is expected"},
                {"hic=nan", "a positive number is expected"},
                {"hic=1,hic15", "not NAME=VALUE"},
                {"hic", "not NAME=VALUE"},
                {"", "not NAME=VALUE"},
                {"hic=2400,", "not NAME=VALUE"},
                {"=5", "not NAME=VALUE"},
                {"hic=2400,hic=2500", "hic is given twice"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct errors errors = {0};
        struct measured_limits limits;
        cr_expect_eq(measured_limits_read(rows[i].text, &limits, &errors), STATUS_USAGE, "%s", rows[i].text);
        cr_expect(strstr(errors.kept[0].text, rows[i].part), "%s: %s", rows[i].text, errors.kept[0].text);
    }
}

static enum status limits_from(const char *text, struct measured_limits *limits, struct errors *errors)
{
    enum status status = measured_limits_read(write_text(text), limits, errors);
    unlink(path);
    return status;
}

Test(measured, limits_of_a_case)
{
    static const char *const pad =
        "pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 35 mm}]}\n"
        "striker: {mass: 5 kg}\nimpacts: [{speed: 5.42 m/s}]\n";
    char text[512];
    struct measured_limits limits;
    struct errors errors = {0};
    snprintf(text, sizeof text, "%slimits: {peak_g: 250 g, hic: 2000}\n", pad);
    cr_assert_eq(limits_from(text, &limits, &errors), STATUS_OK, "%s", errors.kept[0].text);
    cr_expect_float_eq(limits.value[METRIC_peak], 250, 1e-9);
    cr_expect_eq(limits.value[METRIC_hic], 2000);
    cr_expect(isnan(limits.value[METRIC_gsi]));
    cr_expect(strstr(limits.provenance, path));
    cr_expect_eq(limits_from(pad, &limits, &errors), STATUS_INPUT);
    cr_expect(strstr(errors.kept[0].text, "sets no limits"), "%s", errors.kept[0].text);
    cr_expect_eq(limits_from("nonsense: [", &limits, &errors), STATUS_INPUT);
    cr_expect_eq(measured_limits_read("/tmp/foampulse_no_such_case.yaml", &limits, &errors), STATUS_FILE);
}
