/*
 * Filter and metrics against closed forms and published constants. Every pulse here is handed over as exact
 * interval means: five-point Gauss quadrature inside each interval, kinks lying on interval ends.
 *
 * Closed forms of HIC (Chou and Nyquist 1974, SAE 740082). With the free window the derivative of
 * (t2 - t1)^-1.5 I^2.5 with respect to either end is zero: a(t1) = a(t2) = 3/5 of the mean. So:
 *   square A, T:      the whole pulse, A^2.5 T.
 *   half-sine:        window 2 x T/pi about the middle, mean A sin x / x; 5/3 cos x = sin x / x, x
 * = 1.0527943; HIC = A^2.5 T (2/pi) sin(x)^2.5 / x^1.5 = 0.414645649542 A^2.5 T. triangle:         edge 3/7 A
 * (mean of edge and peak is 5/3 edge), window 4/7 T: (4/7)(5/7)^2.5 A^2.5 T, and the same for any position of
 * the peak, because only the width at a level counts. haversine:        a = A cos^2 y, window 2 y T/(2 pi)
 * each side: 5/3 cos^2 y = (y + sin y cos y)/(2 y). parabola:         a = A (1 - u^2), mean A (1 - u^2/3) =
 * 5/3 A (1 - u^2): u^2 = 1/2, mean 5/6 A. trapezoid, ramps 0.2 T each: cutting w off each ramp leaves edge 5
 * w/T A; edge 4/7, window 27/35 T, mean 20/21 A. window W below the free one, centred: half-sine A^2.5 W (sin
 * y/y)^2.5, y = pi W/(2 T). GSI of a half-sine: A^2.5 T / pi x integral of sin^2.5 over 0 .. pi =
 * Gamma(7/4)/(sqrt(pi) Gamma(9/4)); of a triangle 2/7; of a haversine 1/pi x integral of cos^5 over -pi/2 ..
 * pi/2 = 16/(15 pi).
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "solver/impact/filter.h"
#include "solver/impact/metrics.h"
#include "solver/impact/record.h"

enum { ROOM = 40000 };

static const double pi = 3.14159265358979323846;
static double pulse[ROOM], other[ROOM];

enum shape { SQUARE, HALF_SINE, TRIANGLE, SAWTOOTH, HAVERSINE, PARABOLA, TRAPEZOID };

/* Value at u = t/T in 0 .. 1, height 1. */
static double shape_at(enum shape shape, double u)
{
    switch (shape) {
    case SQUARE:
        return 1;
    case HALF_SINE:
        return sin(pi * u);
    case TRIANGLE:
        return u < 0.5 ? 2 * u : 2 - 2 * u;
    case SAWTOOTH:
        return u < 0.9 ? u / 0.9 : (1 - u) / 0.1;
    case HAVERSINE:
        return sin(pi * u) * sin(pi * u);
    case PARABOLA:
        return 4 * u * (1 - u);
    case TRAPEZOID:
        return u < 0.2 ? u / 0.2 : u > 0.8 ? (1 - u) / 0.2 : 1;
    }
    return NAN;
}

/* Fills `pulse` with means at `rate` [Hz]: 20 samples of zero, the shape, 20 samples of zero. */
static size_t fill(enum shape shape, double height, double duration, double rate)
{
    static const double node[5] = {-0.9061798459386640, -0.5384693101056831, 0, 0.5384693101056831,
                                   0.9061798459386640};
    static const double weight[5] = {0.2369268850561891, 0.4786286704993665, 0.5688888888888889,
                                     0.4786286704993665, 0.2369268850561891};
    size_t count = (size_t)lround(duration * rate);
    for (size_t i = 0; i < count + 40; i++) {
        pulse[i] = 0;
        for (int k = 0; k < 5 && i >= 20 && i < count + 20; k++)
            pulse[i] += 0.5 * weight[k] *
                        shape_at(shape, ((double)(i - 20) + 0.5 + 0.5 * node[k]) / (double)count) * height;
    }
    return count + 40;
}

static struct hic_result hic(size_t count, double rate, double window)
{
    struct hic_result result;
    cr_assert_eq(metrics_hic(count, 1 / rate, pulse, window, &result), STATUS_OK);
    return result;
}

static void expect_near(const char *name, double value, double expected, double relative)
{
    printf("figure: %s %.8g, expected %.8g, off by %.1e (at most %.0e)\n", name, value, expected,
           fabs(value / expected - 1), relative);
    cr_expect(fabs(value / expected - 1) <= relative, "%s: %.12g, expected %.12g", name, value, expected);
}

Test(signals, hic_of_a_square)
{
    size_t count = fill(SQUARE, 100, 0.010, 20e3);
    expect_near("square 100 g x 10 ms, HIC", hic(count, 20e3, INFINITY).value, 1000, 1e-9);
    count = fill(SQUARE, 100, 0.040, 20e3);
    expect_near("square 100 g x 40 ms, HIC15", hic(count, 20e3, 0.015).value, 1500, 1e-9);
    expect_near("square 100 g x 40 ms, HIC36", hic(count, 20e3, 0.036).value, 3600, 1e-9);
}

Test(signals, hic_of_a_half_sine_and_its_window)
{
    static const double rate[] = {10e3, 20e3, 100e3}, tolerance[] = {5e-4, 1e-4, 1e-5};
    static const char *const name[] = {"half-sine 200 g x 10 ms at 10 kHz, HIC",
                                       "half-sine 200 g x 10 ms at 20 kHz, HIC",
                                       "half-sine 200 g x 10 ms at 100 kHz, HIC"};
    for (int i = 0; i < 3; i++) {
        size_t count = fill(HALF_SINE, 200, 0.010, rate[i]);
        struct hic_result result = hic(count, rate[i], INFINITY);
        expect_near(name[i], result.value, 2345.59002, tolerance[i]);
        cr_expect(fabs(result.end - result.start - 6.7022966365e-3) <= 2 / rate[i]);
        cr_expect(fabs(result.end + result.start - (double)count / rate[i]) <= 2 / rate[i]);
    }
}

Test(signals, hic_of_other_shapes)
{
    static const struct {
        enum shape shape;
        double hic, tolerance;
        const char *name;
    } rows[] = {{TRIANGLE, 1393.85261, 3e-4, "triangle 200 g x 10 ms, HIC"},
                {SAWTOOTH, 1393.85261, 3e-4, "sawtooth 90/10, HIC"},
                {HAVERSINE, 1713.68095, 2e-4, "haversine, HIC"},
                {PARABOLA, 2535.75258, 2e-4, "parabola, HIC"},
                {TRAPEZOID, 3862.75765, 2e-4, "trapezoid, HIC"}};
    for (int i = 0; i < 5; i++) {
        size_t count = fill(rows[i].shape, 200, 0.010, 20e3);
        expect_near(rows[i].name, hic(count, 20e3, INFINITY).value, rows[i].hic, rows[i].tolerance);
    }
}

Test(signals, hic_with_capped_windows)
{
    size_t count = fill(HALF_SINE, 200, 0.030, 20e3);
    expect_near("half-sine 200 g x 30 ms, HIC15", hic(count, 20e3, 0.015).value, 6526.105, 1e-4);
    expect_near("half-sine 200 g x 30 ms, HIC36", hic(count, 20e3, 0.036).value, 7036.770, 1e-4);
    expect_near("half-sine 200 g x 30 ms, HIC", hic(count, 20e3, INFINITY).value, 7036.770, 1e-4);
    count = fill(HALF_SINE, 200, 0.060, 20e3);
    expect_near("half-sine 200 g x 60 ms, HIC15", hic(count, 20e3, 0.015).value, 7954.551, 1e-4);
    expect_near("half-sine 200 g x 60 ms, HIC36", hic(count, 20e3, 0.036).value, 13902.528, 1e-4);
    expect_near("half-sine 200 g x 60 ms, HIC", hic(count, 20e3, INFINITY).value, 14073.540, 1e-4);
    /* a = sin(20 pi t) g, window 30 ms: half-sine of 50 ms, y = 0.3 pi */
    count = fill(HALF_SINE, 1, 0.050, 20e3);
    struct hic_result result = hic(count, 20e3, 0.030);
    expect_near("half-sine 1 g x 50 ms, window 30 ms, HIC", result.value,
                0.030 * pow(sin(0.3 * pi) / (0.3 * pi), 2.5), 1e-4);
    cr_expect_float_eq(result.start, 0.010 + 20 / 20e3, 1e-12);
    cr_expect_float_eq(result.end, 0.040 + 20 / 20e3, 1e-12);
}

static double uniform(double low, double high)
{
    return low + (high - low) * rand() / RAND_MAX;
}

/* u^p (1 - u)^q scaled to height 1: rises, then falls. */
static double random_shape(double u, double p, double q)
{
    double top = p / (p + q);
    return pow(u / top, p) * pow((1 - u) / (1 - top), q);
}

/* The identities of the optimum, read off a pulse whose samples are 10 us apart. */
static void expect_optimum(size_t count, struct hic_result free_window, double p, double q)
{
    size_t start = (size_t)lround(free_window.start * 1e5), end = (size_t)lround(free_window.end * 1e5);
    double sum = 0, height = pulse[0];
    for (size_t i = start; i < end; i++)
        sum += pulse[i];
    for (size_t i = 0; i < count; i++)
        height = pulse[i] > height ? pulse[i] : height;
    double mean = sum / (double)(end - start);
    double scale = height / random_shape(p / (p + q), p, q);
    double first = scale * random_shape((double)start / (double)count, p, q);
    double last = scale * random_shape((double)end / (double)count, p, q);
    cr_expect(fabs(first / last - 1) < 0.01, "a(t1) %g, a(t2) %g, p %g q %g", first, last, p, q);
    cr_expect(fabs(mean / (5.0 / 3 * first) - 1) < 0.01, "mean %g, a(t1) %g, p %g q %g", mean, first, p, q);
}

Test(signals, identities_on_random_unimodal_pulses)
{
    unsigned seed = 20260101;
    cr_log_info("seed %u\n", seed);
    srand(seed);
    for (int trial = 0; trial < 100; trial++) {
        size_t count = (size_t)uniform(2000, 6000);
        double p = uniform(0.8, 2), q = uniform(0.8, 2), height = uniform(50, 400), s = uniform(0.5, 2);
        double k = uniform(0.5, 2);
        for (size_t i = 0; i < count; i++) {
            pulse[i] = height * random_shape(((double)i + 0.5) / (double)count, p, q);
            other[count - 1 - i] = pulse[i];
        }
        struct hic_result result, free_window = hic(count, 1e5, INFINITY);
        expect_optimum(count, free_window, p, q);
        double hic15 = hic(count, 1e5, 0.015).value, hic36 = hic(count, 1e5, 0.036).value;
        cr_expect(hic15 <= hic36 && hic36 <= free_window.value);
        cr_expect_leq(free_window.value, metrics_gsi(count, 1e-5, pulse));
        metrics_hic(count, 1e-5, other, INFINITY, &result);
        cr_expect(fabs(result.value / free_window.value - 1) < 1e-9);
        for (size_t i = 0; i < count; i++)
            other[i] = s * pulse[i];
        metrics_hic(count, k * 1e-5, other, INFINITY, &result);
        cr_expect(fabs(result.value / (s * s * sqrt(s) * k * free_window.value) - 1) < 1e-9);
    }
}

Test(signals, gsi)
{
    static const enum shape shape[] = {SQUARE, HALF_SINE, TRIANGLE, HAVERSINE};
    static const char *const name[] = {"square, GSI", "half-sine, GSI", "triangle, GSI", "haversine, GSI"};
    static const double expected[] = {5656.85425, 2588.89249, 1616.24407, 1920.67481};
    for (int i = 0; i < 4; i++) {
        size_t count = fill(shape[i], 200, 0.010, 20e3);
        expect_near(name[i], metrics_gsi(count, 1 / 20e3, pulse), expected[i], 2e-4);
    }
}

/* The half-sine holds A cos(1.5 pi / 10) for 3 ms about its middle, the triangle A (1 - 3/10); above a level
 * L they stay T (1 - 2/pi asin(L/A)) and T (1 - L/A). */
Test(signals, clip_and_dwell)
{
    size_t count = fill(HALF_SINE, 200, 0.010, 20e3);
    cr_expect_float_eq(metrics_clip(count, 1 / 20e3, pulse, 0.003), 178.2013, 0.1);
    count = fill(TRIANGLE, 200, 0.010, 20e3);
    cr_expect_float_eq(metrics_clip(count, 1 / 20e3, pulse, 0.003), 140, 0.1);
    count = fill(HALF_SINE, 250, 0.008, 20e3);
    cr_expect_float_eq(metrics_time_above(count, 1 / 20e3, pulse, 150), 4.722676e-3, 0.01e-3);
    cr_expect_float_eq(metrics_time_above(count, 1 / 20e3, pulse, 200), 3.277324e-3, 0.01e-3);
    count = fill(TRIANGLE, 250, 0.008, 20e3);
    cr_expect_float_eq(metrics_time_above(count, 1 / 20e3, pulse, 150), 3.2e-3, 0.01e-3);
    cr_expect_float_eq(metrics_time_above(count, 1 / 20e3, pulse, 200), 1.6e-3, 0.01e-3);
}

/* 49 CFR 571.218 (FMVSS 218): at most 400 g, 2.0 ms above 200 g, 4.0 ms above 150 g. A half-sine of height A
 * that turns 6.0 m/s with restitution 0.3 lasts T = 1.3 x 6.0 pi/(2 A g); its dwell above 200 g is 2.0 ms at
 * A = 245.09 g. */
static int fmvss_218_within(double height)
{
    size_t count = fill(HALF_SINE, height, 7.8 * pi / (2 * height * METRICS_GRAVITY), 1e6);
    double interval = 7.8 * pi / (2 * height * METRICS_GRAVITY) / (double)(count - 40);
    return height <= 400 && metrics_time_above(count, interval, pulse, 200) <= 2.0e-3 &&
           metrics_time_above(count, interval, pulse, 150) <= 4.0e-3;
}

Test(signals, fmvss_218_dwell_decides_between_244_and_246_g)
{
    cr_expect(fmvss_218_within(244));
    cr_expect_not(fmvss_218_within(246));
    double low = 244, high = 246;
    while (high - low > 1e-3) {
        double middle = 0.5 * (low + high);
        *(fmvss_218_within(middle) ? &low : &high) = middle;
    }
    printf("figure: FMVSS 218 dwell limit of a half-sine %.3f g, expected 245.09 g (within 0.01)\n", low);
    cr_expect_float_eq(low, 245.09, 0.01);
}

/* Coefficients by the formulas of the SAE J211-1 annex, worked out in another program to 12 digits. */
Test(signals, cfc_coefficients)
{
    static const struct {
        double cfc, rate, a0, b1, b2;
    } rows[] = {{1000, 10e3, 0.219231417219, 0.311896544996, -0.188822213872},
                {1000, 20e3, 0.0718930970684, 1.11158617616, -0.39915856443},
                {1000, 100e3, 0.00389517447838, 1.81585572767, -0.831436425581},
                {600, 20e3, 0.0298060720398, 1.45572821391, -0.574952502066},
                {180, 20e3, 0.00318263624927, 1.83419642188, -0.846926966875},
                {60, 20e3, 0.000373000630963, 1.94463304553, -0.94612504805}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct filter filter;
        cr_assert(filter_cfc(rows[i].cfc, 1 / rows[i].rate, &filter));
        cr_expect_float_eq(filter.a0, rows[i].a0, 1e-11);
        cr_expect_float_eq(filter.a1, 2 * rows[i].a0, 1e-11);
        cr_expect_float_eq(filter.a2, rows[i].a0, 1e-11);
        cr_expect_float_eq(filter.b1, rows[i].b1, 1e-11);
        cr_expect_float_eq(filter.b2, rows[i].b2, 1e-11);
        cr_expect_float_eq(filter.a0 + filter.a1 + filter.a2 + filter.b1 + filter.b2, 1, 1e-14);
    }
}

/* Filters a long sine and measures, over whole periods in its middle, the parts in phase and a quarter off.
 */
static void measure_gain(double cfc, double rate, double frequency, size_t samples, double *in_phase,
                         double *quadrature)
{
    size_t margin = (size_t)lround(0.1 * rate), count = samples + 2 * margin;
    double s = 0, c = 0;
    cr_assert_leq(count, (size_t)ROOM);
    for (size_t i = 0; i < count; i++)
        pulse[i] = sin(2 * pi * frequency * (double)i / rate);
    cr_assert_eq(filter_apply(cfc, 1 / rate, count, pulse, other), STATUS_OK);
    for (size_t i = margin; i < margin + samples; i++) {
        s += other[i] * sin(2 * pi * frequency * (double)i / rate);
        c += other[i] * cos(2 * pi * frequency * (double)i / rate);
    }
    *in_phase = 2 * s / (double)samples;
    *quadrature = 2 * c / (double)samples;
}

/* Both passes of the bilinear Butterworth filter: 1/(1 + r^4), r = tan(pi f/fs)/tan(pi fd/fs), a real number:
 * phase zero. Samples are chosen so that they hold whole periods. */
Test(signals, cfc_gain_and_phase_by_measured_sines)
{
    double worst = 0;
    static const struct {
        double cfc, rate, frequency;
        size_t samples;
        double gain;
    } rows[] = {{1000, 20e3, 500, 2000, 0.997084},    {1000, 20e3, 1000, 2000, 0.9542266847},
                {1000, 20e3, 2077.5, 8000, 0.5},      {1000, 20e3, 5000, 2000, 0.012949},
                {1000, 100e3, 500, 10000, 0.996674},  {1000, 100e3, 1000, 10000, 0.949262979},
                {1000, 100e3, 5000, 10000, 0.028182}, {60, 24930, 124.65, 20000, 0.5},
                {180, 18697.5, 373.95, 20000, 0.5},   {600, 24930, 1246.5, 20000, 0.5}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double in_phase, quadrature, rate = rows[i].rate;
        measure_gain(rows[i].cfc, rate, rows[i].frequency, rows[i].samples, &in_phase, &quadrature);
        double r = tan(pi * rows[i].frequency / rate) / tan(pi * 2.0775 * rows[i].cfc / rate);
        worst = fmax(worst, fmax(fabs(in_phase - 1 / (1 + r * r * r * r)), fabs(quadrature)));
        cr_expect_float_eq(in_phase, 1 / (1 + r * r * r * r), 1e-9, "%g", in_phase);
        cr_expect_float_eq(in_phase, rows[i].gain, i == 1 || rows[i].gain == 0.5 ? 1e-9 : 1e-6, "%g",
                           in_phase);
        cr_expect_float_eq(quadrature, 0, 1e-9, "%g", quadrature);
    }
    printf("figure: CFC gain and phase by measured sines, worst error %.1e (at most 1e-9)\n", worst);
}

Test(signals, cfc_passes_a_constant_unchanged)
{
    for (size_t i = 0; i < 6000; i++)
        pulse[i] = 7;
    cr_assert_eq(filter_apply(1000, 1 / 20e3, 6000, pulse, pulse), STATUS_OK);
    for (size_t i = 2000; i < 4000; i++)
        cr_expect_float_eq(pulse[i], 7, 1e-11);
}

static double largest(size_t count, const double *values, size_t *at)
{
    *at = 0;
    for (size_t i = 1; i < count; i++)
        *at = values[i] > values[*at] ? i : *at;
    return values[*at];
}

Test(signals, cfc_on_half_sines)
{
    static const struct {
        double cfc, duration, change; /* of the peak, by frequency response of the filter */
    } rows[] = {{1000, 0.006, -0.0003e-2}, {180, 0.006, -0.1171e-2}, {180, 0.004, -2.018e-2}};
    for (size_t i = 0; i < 3; i++) {
        /* samples in the middle of the intervals and an odd number of them: one stands on the peak */
        size_t at, filtered_at, samples = (size_t)lround(rows[i].duration * 100e3) + 1, count = samples + 40;
        for (size_t k = 0; k < count; k++)
            pulse[k] =
                k >= 20 && k < samples + 20 ? 200 * sin(pi * (double)(k - 20) / (double)(samples - 1)) : 0;
        cr_assert_eq(filter_apply(rows[i].cfc, 1e-5, count, pulse, other), STATUS_OK);
        double change = largest(count, other, &filtered_at) / largest(count, pulse, &at) - 1;
        printf("figure: CFC %g on a half-sine of %g ms: peak %+.4f %%, expected %+.4f %% (within 0.002)\n",
               rows[i].cfc, 1e3 * rows[i].duration, 1e2 * change, 1e2 * rows[i].change);
        cr_expect_float_eq(change, rows[i].change, 0.002e-2);
        cr_expect_eq(at, filtered_at);
    }
}

/* Critical values of Takhounts et al. 2013: all axes at their own give sqrt 3. */
Test(signals, bric)
{
    cr_expect_float_eq(metrics_bric((double[]){66.25, 56.45, 42.87}), 1.73205081, 1e-7);
    cr_expect_float_eq(metrics_bric((double[]){30, 30, 30}), 0.98853112, 1e-7);
    cr_expect_float_eq(metrics_bric((double[]){0, 30, 0}), 0.53144376, 1e-7);
    cr_expect_float_eq(metrics_bric((double[]){10, 25, 15}), 0.58424661, 1e-7);
}

/* P(AIS n+) = 1 - exp(-(BrIC/b)^2.84); b of AIS 2 is published (Takhounts et al. 2013), of AIS 3 and 4 from
 * memory. */
Test(signals, bric_risk)
{
    static const double expected[] = {0.87592, 0.40100, 0.25282};
    for (int level = 2; level <= 4; level++)
        cr_expect_float_eq(metrics_bric_risk(0.78, level), expected[level - 2], 1e-5);
    cr_expect_float_eq(metrics_bric_risk(0.602, 2), 0.632121, 1e-6);
}

/* Means over an interval do not alias: chatter that point samples at 100 kHz would fold down to 300 Hz is
 * taken out by the averaging itself, whatever the steps. */
Test(signals, chatter_near_the_sampling_rate_leaves_the_peak_alone)
{
    struct record record;
    static double filtered[ROOM];
    cr_assert_eq(record_create(&record, RECORD_INTERVAL, 0.011, 1, 0, NULL), STATUS_OK);
    srand(7);
    while (record.time < 0.011) {
        double to = record.time + uniform(0.2e-6, 0.9e-6), t = 0.5 * (record.time + to);
        double force = t < 0.010 ? 200 * sin(pi * t / 0.010) + 100 * sin(2 * pi * 99.7e3 * t) : 0;
        record_step(&record, to, &force, NULL);
    }
    record_means(&record, 0, METRICS_GRAVITY, pulse);
    cr_assert_eq(filter_apply(FILTER_HEAD_CLASS, RECORD_INTERVAL, record.count, pulse, filtered), STATUS_OK);
    struct pulse_input input = {.count = record.count,
                                .interval = RECORD_INTERVAL,
                                .acceleration = filtered,
                                .acceleration_unfiltered = pulse};
    double metrics[METRIC_COUNT];
    cr_assert_eq(metrics_from_pulse(&input, metrics), STATUS_OK);
    printf("figure: half-sine of 200 g with 100 g chatter at 99.7 kHz: peak %.4f g (within 0.5)\n",
           metrics[METRIC_peak]);
    cr_expect_float_eq(metrics[METRIC_peak], 200, 0.5);
    record_free(&record);
}

/* A half-sine of height A and length T is above L for T (1 - (2/pi) asin(L/A)), and holds A cos(pi d/2T) for
 * d: 150 and 200 g of 49 CFR 571.218, and 3 ms. */
static void check_levels(const double *metrics, double peak, double duration)
{
    const double level[] = {150, 200}, above[] = {metrics[METRIC_above_150g], metrics[METRIC_above_200g]};
    for (int i = 0; i < 2; i++) {
        double time = peak > level[i] ? duration * (1 - 2 / pi * asin(level[i] / peak)) : 0;
        cr_expect_float_eq(above[i], 1e3 * time, 1e-3, "above %g g for %g ms", level[i], above[i]);
    }
    cr_expect_float_eq(metrics[METRIC_clip_3ms], peak * cos(pi * 0.003 / (2 * duration)), 0.01);
}

/* Half-sine of height A that turns v with restitution e: dv = (1 + e) v = (2/pi) A g T, so T follows, and
 * HIC = 0.414645649542 (pi/2) A^1.5 (1 + e) v/g; the shape number is 0.651324 whatever A, v and e. */
Test(signals, kinematic_envelope_of_a_half_sine)
{
    static const double peak[] = {150, 180, 200, 220, 250, 275};
    static const double milliseconds[] = {10.41, 8.68, 7.81, 7.10, 6.25, 5.68};
    static const double expected[] = {1190, 1564, 1832, 2113, 2560, 2953};
    for (int i = 0; i < 6; i++) {
        double v = 7.5, e = 0.3, metrics[METRIC_COUNT];
        double duration = (1 + e) * v * pi / (2 * peak[i] * METRICS_GRAVITY);
        cr_expect_float_eq(1e3 * duration, milliseconds[i], 0.006);
        size_t count = fill(HALF_SINE, peak[i] * METRICS_GRAVITY, duration, 1e6);
        struct pulse_input input = {.count = count,
                                    .interval = duration / (double)(count - 40),
                                    .acceleration = pulse,
                                    .speed_before = v,
                                    .speed_after = -e * v};
        cr_assert_eq(metrics_from_pulse(&input, metrics), STATUS_OK);
        cr_expect_float_eq(metrics[METRIC_hic], expected[i], 0.6, "%g", metrics[METRIC_hic]);
        expect_near("half-sine 7.5 m/s, e 0.3: change of velocity", metrics[METRIC_velocity_change],
                    (1 + e) * v, 1e-9);
        cr_expect_float_eq(metrics[METRIC_shape_number], 0.651324, 1e-5);
        printf("figure: half-sine of %g g, 7.5 m/s, e 0.3: HIC %.1f, expected %g (within 0.6)\n", peak[i],
               metrics[METRIC_hic], expected[i]);
        cr_expect_float_eq(metrics[METRIC_restitution], e, 1e-12);
        check_levels(metrics, peak[i], duration);
    }
}

Test(signals, shape_numbers)
{
    static const enum shape shape[] = {SQUARE, TRAPEZOID, PARABOLA, HAVERSINE, TRIANGLE};
    static const char *const name[] = {"square, shape number", "trapezoid, shape number",
                                       "parabola, shape number", "haversine, shape number",
                                       "triangle, shape number"};
    static const double expected[] = {1, 0.853557, 0.672393, 0.605878, 0.492801};
    for (int i = 0; i < 5; i++) {
        double metrics[METRIC_COUNT];
        struct pulse_input input = {.count = fill(shape[i], 200 * METRICS_GRAVITY, 0.010, 100e3),
                                    .interval = 1e-5,
                                    .acceleration = pulse};
        cr_assert_eq(metrics_from_pulse(&input, metrics), STATUS_OK);
        expect_near(name[i], metrics[METRIC_shape_number], expected[i],
                    shape[i] == TRIANGLE ? 0.006 : 1e-3); /* an interval mean cuts the tip off */
    }
}

/* The speed that a pulse with restitution e takes off is that of a fall from h: h = (dv/(1 + e))^2/(2 g).
 * JIS T 8133:2015 gives 2.5 m for 7.0 m/s and 1.28 m for 5.0 m/s, as a secondary source quotes it. */
Test(signals, drop_heights)
{
    static const double speed[] = {7.0, 5.0}, height[] = {2.4983, 1.2746}, published[] = {2.5, 1.28};
    for (int i = 0; i < 2; i++) {
        double e = 0.25, metrics[METRIC_COUNT];
        double duration = (1 + e) * speed[i] * pi / (2 * 180 * METRICS_GRAVITY);
        size_t count = fill(HALF_SINE, 180 * METRICS_GRAVITY, duration, 1e6);
        struct pulse_input input = {
            .count = count, .interval = duration / (double)(count - 40), .acceleration = pulse};
        cr_assert_eq(metrics_from_pulse(&input, metrics), STATUS_OK);
        double before = metrics[METRIC_velocity_change] / (1 + e);
        expect_near("drop height", before * before / (2 * METRICS_GRAVITY), height[i], 1e-4);
        expect_near("published drop height", before * before / (2 * METRICS_GRAVITY), published[i], 0.005);
    }
}
