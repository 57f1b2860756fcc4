/*
 * Production scatter: the key, the places of its paths, what is drawn, and what a sample says of the limits.
 * In a text, @ stands right before the place that a message must name.
 */

#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cases/case.h"
#include "solver/base/memory.h"
#include "solver/study/scatter.h"
#include "solver/study/tolerance.h"

enum { TEXT_MAX = 4096 };

#define PAD                                                                                                  \
    "pad: {area: 60 cm2, layers: [{density: 50 g/l, thickness: 20 mm}, {density: 2.5 lb/ft3, thickness: 15 " \
    "mm}, {density: 0.06 g/cm3, thickness: 10 mm}]}\n"                                                       \
    "striker: {mass: 5 kg}\n"                                                                                \
    "impacts: [{speed: 5 m/s}, {drop_height: 1 m}]\n"
#define HELMET "headform: {size: J}\n" HELMET_REST
#define HELMET_REST                                                                                          \
    "shell: {material: abs, thickness: 3.5 mm}\n"                                                            \
    "liner:\n"                                                                                               \
    "  regions:\n"                                                                                           \
    "    - {name: crown, centre: [90 deg, 0 deg], half_angle: 40 deg, layers: [{density: 60 g/l, "           \
    "thickness: 20 mm}, {density: 40 g/l, thickness: 15 mm}]}\n"                                             \
    "    - {name: rest, layers: [{thickness: 35 mm, parallel: [{share: 40 %, density: 50 g/l}, {share: 60 "  \
    "%, density: 45 g/l}]}]}\n"
#define AT_P "impacts: [{at: P, speed: 7.5 m/s}]\n"

/* Reads a case of this text, without its mark, whose place is told. */
static enum status load_marked(const char *source, struct case_file *file, struct errors *errors, int *line,
                               int *column)
{
    char text[TEXT_MAX], path[] = "/tmp/foampulse_tolerance_XXXXXX";
    size_t length = 0;
    int at_line = 1, at_column = 1;
    *line = *column = 0;
    for (; *source && length < TEXT_MAX; source++) {
        if (*source == '@') {
            *line = at_line;
            *column = at_column;
            continue;
        }
        text[length++] = *source;
        at_column = *source == '\n' ? 1 : at_column + 1;
        at_line += *source == '\n';
    }
    int descriptor = mkstemp(path);
    cr_assert(descriptor >= 0 && write(descriptor, text, length) == (ssize_t)length);
    close(descriptor);
    enum status status = case_load(path, NULL, 0, file, errors);
    unlink(path);
    return status;
}

static void resolve_sound(const char *source, struct case_file *file, struct scatter *scatter)
{
    struct errors errors = {0};
    int line, column;
    enum status status = load_marked(source, file, &errors, &line, &column);
    if (status == STATUS_OK)
        status = scatter_resolve(file, scatter, &errors);
    cr_assert_eq(status, STATUS_OK, "%d:%d: %s", errors.kept[0].line, errors.kept[0].column,
                 errors.kept[0].text);
}

/* --- the key --- */

Test(tolerance_key, defaults)
{
    struct case_file file;
    struct scatter scatter;
    resolve_sound(PAD, &file, &scatter);
    cr_expect_eq(file.tolerance.factor, 2.4);
    cr_expect_eq(file.tolerance.factor_given, 0);
    cr_expect_eq(file.tolerance.runs, 400);
    cr_expect_eq(file.tolerance.seed, 1);
    cr_expect_eq(scatter.assumed, 1);
    cr_assert_eq(scatter.factor_count, 3);
    /* 9 kg/m3 in each unit, half of it shared: 1 lb/ft3 = 0.45359237 kg/(0.3048 m)^3 */
    static const double widths[] = {9, 9 * 0.3048 * 0.3048 * 0.3048 / 0.45359237, 0.009};
    for (size_t i = 0; i < 3; i++) {
        cr_expect_float_eq(scatter.places[i].by_lot, widths[i] / 2 / sqrt(3), 1e-14, "place %zu", i);
        cr_expect_float_eq(scatter.places[i].by_local, widths[i] / 2 / sqrt(3), 1e-14, "place %zu", i);
    }
    cr_expect_eq(scatter.source_count, 4, "one lot, three places");
    scatter_free(&scatter);
    case_free(&file);
}

static void expect_paths(const char *source, const char *wanted)
{
    struct case_file file;
    struct scatter scatter;
    char paths[TEXT_MAX] = "";
    resolve_sound(source, &file, &scatter);
    for (size_t i = 0; i < scatter.factor_count; i++) {
        size_t length = strlen(paths);
        char value[FACTOR_TEXT];
        factor_write(&scatter.factors[i], scatter.factors[i].low, value);
        snprintf(paths + length, sizeof paths - length, "%s%s=%s", length ? "; " : "",
                 scatter.factors[i].path, value);
    }
    cr_expect_str_eq(paths, wanted);
    scatter_free(&scatter);
    case_free(&file);
}

Test(tolerance_key, places_of_paths)
{
    expect_paths(
        HELMET AT_P,
        "liner.crown.layers.1.density=60 g/l; liner.crown.layers.2.density=40 g/l; "
        "liner.rest.layers.1.parallel.1.density=50 g/l; liner.rest.layers.1.parallel.2.density=45 g/l");
    expect_paths("headform: {size: J}\nliner: {density: 50 g/l, thickness: 35 mm}\n" AT_P,
                 "liner.density=50 g/l");
    expect_paths(HELMET AT_P
                 "tolerance: {scatter: {\"liner.*.layers.*.thickness + shell.thickness\": {sd: 0.5 mm}, "
                 "impacts.1.speed: {half_range: 0.36 km/h}}}\n",
                 "liner.crown.layers.1.thickness=20 mm; liner.crown.layers.2.thickness=15 mm; "
                 "liner.rest.layers.1.thickness=35 mm; shell.thickness=3.5 mm; impacts.1.speed=7.5 m/s");
    /* behind `*`, what has no such value is passed over */
    expect_paths(
        PAD
        "tolerance: {scatter: {impacts.*.speed: {half_range: 0.1 m/s}, pad.area: {half_range: 10 mm2}}}\n",
        "impacts.1.speed=5 m/s; pad.area=60 cm2");
    expect_paths(PAD "tolerance: {scatter: {pad.layers.2.density: {half_range: 1 kg/m3}}}\n",
                 "pad.layers.2.density=2.5 lb/ft3");
    expect_paths(HELMET "programme: [en-1078]\ntolerance: {scatter: {impacts.*.speed: programme}}\n",
                 "programme_speed=0 %");
}

/* A text with one fault, found when it is read or resolved, and a part of its message. */
static const struct {
    const char *source, *message;
} faults[] = {
    {PAD "tolerance: {@scater: {}}\n", "nearest: 'scatter'"},
    {PAD "tolerance: {scatter: @{}}\n", "`scatter` takes 1 to 32 paths"},
    {PAD "tolerance: {runs: @5}\n", "`runs` takes a whole number from 10 to 100000"},
    {PAD "tolerance: {factor: @-1}\n", "`factor` must be from 0 to 10"},
    {PAD "tolerance: {scatter: {pad.area: @5 cm2}}\n", "what scatters is written as keys"},
    {PAD "tolerance: {scatter: {pad.area: {@halfrange: 5 cm2}}}\n", "nearest: 'half_range'"},
    {PAD "tolerance: {scatter: {pad.area: @{shared: 50 %}}}\n", "`half_range` or `sd` is missing"},
    {PAD "tolerance: {scatter: {pad.area: {half_range: 5 cm2, sd: @5 cm2}}}\n", "exclude each other"},
    {PAD "tolerance: {scatter: {pad.area: {half_range: @0 cm2}}}\n", "`half_range` is above zero"},
    {PAD "tolerance: {scatter: {pad.area: {sd: @-1 cm2}}}\n", "`sd` is above zero"},
    {PAD "tolerance: {scatter: {pad.area: {sd: @some}}}\n", "does not start with a number"},
    {PAD "tolerance: {scatter: {pad.area: {sd: 1 cm2, shared: @101 %}}}\n", "`shared` must be from"},
    {PAD "tolerance: {scatter: {pad.area: {half_range: @5 kg}}}\n",
     "is 60 cm2, to which \"5 kg\" cannot be added"},
    {PAD "tolerance: {scatter: {pad.area: {half_range: @10 %}}}\n", "cannot be added"},
    {PAD "tolerance: {scatter: {pad.@aera: {half_range: 5 cm2}}}\n", "did you mean area?"},
    {PAD "tolerance: {scatter: {pad.layers.@4.density: {half_range: 5 g/l}}}\n", "4 is none of them"},
    {PAD "tolerance: {scatter: {pad.layers.1.@voids: {half_range: 5 %}}}\n", "has no voids written"},
    {PAD "tolerance: {scatter: {\"pad.layers.@*.voids\": {half_range: 5 %}}}\n", "nothing here has the rest"},
    {PAD "tolerance: {scatter: {@comfort.thickness: {half_range: 1 mm}}}\n", "has no comfort written"},
    {PAD "tolerance: {scatter: {pad.layers.1: {half_range: @5 g/l}}}\n", "is not a number"},
    {PAD "tolerance: {scatter: {pad.layers.1.density: {half_range: 5 g/l}, \"pad.layers.*.density\": "
         "{half_range: @5 "
         "g/l}}}\n",
     "pad.layers.1.density: scatters by two paths"},
    {PAD "tolerance: {scatter: {pad.area: @programme}}\n", "stands for impacts.*.speed alone"},
    {PAD "tolerance: {scatter: {impacts.*.speed: @programme}}\n", "this case has no `programme`"},
    {HELMET
     "programme: [{name: en-1078, speed: @highest}]\ntolerance: {scatter: {impacts.*.speed: programme}}\n",
     "the speed of the tests is set here"},
    {HELMET
     "programme: en-1078\nprogramme_speed: @50 %\ntolerance: {scatter: {impacts.*.speed: programme}}\n",
     "the speed of the tests is set here"},
    {HELMET "programme: racing-8.2\ntolerance: {scatter: {impacts.*.speed: @programme}}\n",
     "no test that the programme has for this case has a `tolerance`"},
    {HELMET AT_P "programme_speed: @50 %\n", "`programme_speed` needs a `programme`"},
    {HELMET "programme: {name: en-1078, speed: @nominal}\nprogramme_speed: 50 %\n", "exclude each other"},
    {"headform: {size: J}\nfoams: {own: {density: 60 g/l}}\nliner: {foam: own, thickness: 35 mm}\n" AT_P,
     "has no density in its layers"},
    {HELMET "programme: [en-1078]\nsizes: {S: {headform.size: E, @shell.thickness: 3 mm}, L: {}}\n"
            "tolerance: {scatter: {shell.thickness: {half_range: 0.2 mm}}}\n",
     "size S sets shell.thickness, which scatters"},
};

Test(tolerance_key, faults_are_located)
{
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++) {
        struct errors errors = {0};
        struct case_file file;
        struct scatter scatter = {0};
        int line, column;
        enum status status = load_marked(faults[i].source, &file, &errors, &line, &column);
        if (status == STATUS_OK)
            status = scatter_resolve(&file, &scatter, &errors);
        const struct error *first = &errors.kept[0];
        cr_expect_eq(status, STATUS_INPUT, "accepted:\n%s", faults[i].source);
        cr_expect_eq(errors.count, 1, "%zu errors, the second: %s\n%s", errors.count, errors.kept[1].text,
                     faults[i].source);
        cr_expect(strstr(first->text, faults[i].message), "\"%s\", not \"%s\"", first->text,
                  faults[i].message);
        cr_expect(first->line == line && first->column == column, "%s: at %d:%d, not at %d:%d", first->text,
                  first->line, first->column, line, column);
        cr_expect(scatter.factors == NULL && scatter.sources == NULL);
        scatter_free(&scatter);
        case_free(&file);
    }
}

/* --- the speed of programmes --- */

/* EN 1078 as shipped: 5.42 m/s on flat with 0 to 0.1 m/s; CPSC: 6.2 m/s with 0.186 m/s to either side. */
Test(tolerance_key, programme_speed)
{
    static const struct {
        const char *keys;
        double en, cpsc;
    } rows[] = {{"", 5.42, 6.2},
                {"programme_speed: 0 %\n", 5.42, 6.014},
                {"programme_speed: 0.5\n", 5.47, 6.2},
                {"programme_speed: 100 %\n", 5.52, 6.386}};
    for (size_t r = 0; r < sizeof rows / sizeof *rows; r++) {
        char text[TEXT_MAX];
        for (int cpsc = 0; cpsc < 2; cpsc++) {
            struct errors errors = {0};
            struct case_file file;
            int line, column;
            snprintf(text, sizeof text, "headform: {set: %s, size: J}\n%sprogramme: %s\n%s",
                     cpsc ? "en-960-5kg" : "en-960", HELMET_REST, cpsc ? "cpsc-1203" : "en-1078",
                     rows[r].keys);
            cr_assert_eq(load_marked(text, &file, &errors, &line, &column), STATUS_OK, "%s",
                         errors.kept[0].text);
            cr_expect_float_eq(file.impacts[0].speed[0], cpsc ? rows[r].cpsc : rows[r].en, 1e-12, "%s", text);
            case_free(&file);
        }
    }
}

/* --- what is drawn --- */

enum { RUNS = 4000, PLACES = 5 };
#define SCATTER                                                                                              \
    "tolerance: {scatter: {\"pad.layers.*.density\": {half_range: 9 g/l, shared: 40 %}, "                    \
    "\"pad.layers.1.thickness + pad.layers.2.thickness\": {sd: 0.5 mm, shared: 25 %}}}\n"

/* A sample of PAD SCATTER, or of an other text, and all that holds it. */
struct drawn {
    struct case_file file;
    struct scatter scatter;
    double *standard, *values;
};

static void draw(const char *source, size_t runs, struct drawn *drawn)
{
    resolve_sound(source, &drawn->file, &drawn->scatter);
    drawn->standard = memory_doubles(runs * drawn->scatter.source_count);
    drawn->values = memory_doubles(runs * drawn->scatter.factor_count);
    cr_assert(drawn->standard && drawn->values);
    scatter_draw(&drawn->scatter, runs, 7, drawn->standard, drawn->values);
}

static void drawn_free(struct drawn *drawn)
{
    scatter_free(&drawn->scatter);
    case_free(&drawn->file);
    memory_free(drawn->standard);
    memory_free(drawn->values);
}

/* Means of columns a and b of the values, their standard deviations and their correlation. */
struct pair {
    double mean[2], deviation[2], correlation;
};

static struct pair pair_of(const double *values, size_t runs, size_t width, size_t a, size_t b)
{
    struct pair pair = {0};
    double *columns[2] = {memory_doubles(runs), memory_doubles(runs)}, sum = 0;
    for (size_t i = 0; i < runs; i++) {
        columns[0][i] = values[i * width + a];
        columns[1][i] = values[i * width + b];
    }
    for (int c = 0; c < 2; c++)
        tolerance_moments(columns[c], runs, &pair.mean[c], &pair.deviation[c]);
    for (size_t i = 0; i < runs; i++)
        sum += (columns[0][i] - pair.mean[0]) * (columns[1][i] - pair.mean[1]);
    pair.correlation = sum / ((double)(runs - 1) * pair.deviation[0] * pair.deviation[1]);
    memory_free(columns[0]);
    memory_free(columns[1]);
    return pair;
}

/* Even: value = n + f h u + (1 - f) h u', u of variance 1/3, so s = h sqrt((f^2 + (1 - f)^2)/3), correlation
 * of two places f^2/(f^2 + (1 - f)^2), all within n +- h. Normal: s as given, correlation f. The correlations
 * of a sample of n err by 1/sqrt n: four of these are allowed; the standard deviation of a sum with them by f
 * (1 - f)/(f^2 + (1
 * - f)^2)/sqrt n of itself, less than half of that. */
Test(tolerance_draw, parts_add_up)
{
    const double f = 0.4, h = 9, slack = 4 / sqrt(RUNS);
    struct drawn drawn;
    draw(PAD SCATTER, RUNS, &drawn);
    cr_assert_eq(drawn.scatter.factor_count, PLACES);
    struct pair even = pair_of(drawn.values, RUNS, PLACES, 0, 2);
    double s = h * sqrt((f * f + (1 - f) * (1 - f)) / 3);
    cr_expect_float_eq(even.mean[0], 50, 1e-3 * s);
    cr_expect_float_eq(even.mean[1], 0.06, 1e-3 * 0.001 * s);
    cr_expect_float_eq(even.deviation[0], s, slack / 2 * s);
    cr_expect_float_eq(even.deviation[1], s * 0.001, slack / 2 * s * 0.001);
    cr_expect_float_eq(even.correlation, f * f / (f * f + (1 - f) * (1 - f)), slack);
    struct pair normal = pair_of(drawn.values, RUNS, PLACES, 3, 4);
    cr_expect_float_eq(normal.mean[0], 20, 1e-3);
    cr_expect_float_eq(normal.deviation[0], 0.5, slack / 2 * 0.5);
    cr_expect_float_eq(normal.correlation, 0.25, slack);
    printf("figure: s of a density %.4f, closed form %.4f; correlations %.4f and %.4f, closed form %.4f and "
           "0.25\n",
           even.deviation[0], s, even.correlation, normal.correlation, f * f / (f * f + (1 - f) * (1 - f)));
    double least = INFINITY, most = -INFINITY;
    for (size_t i = 0; i < RUNS; i++) {
        least = fmin(least, drawn.values[i * PLACES]);
        most = fmax(most, drawn.values[i * PLACES]);
    }
    cr_expect(least >= 41 && most <= 59, "%.17g to %.17g", least, most);
    cr_expect(least < 43 && most > 57, "the range is used: %g to %g", least, most);
    drawn_free(&drawn);
}

/* With nothing and with all shared a half range is even over the whole of it: s = h/sqrt 3, a quarter of the
 * values in each quarter (strata: to one run). */
Test(tolerance_draw, one_part_is_even)
{
    for (int all = 0; all < 2; all++) {
        struct drawn drawn;
        draw(all ? PAD
                 "tolerance: {scatter: {\"pad.layers.*.density\": {half_range: 9 g/l, shared: 100 %}}}\n"
                 : PAD "tolerance: {scatter: {\"pad.layers.*.density\": {half_range: 9 g/l}}}\n",
             RUNS, &drawn);
        cr_assert_eq(drawn.scatter.source_count, all ? 1 : 3);
        size_t quarters[4] = {0};
        for (size_t i = 0; i < RUNS; i++)
            quarters[(size_t)fmin(3, 4 * (drawn.values[i * 3] - 41) / 18)]++;
        for (int q = 0; q < 4; q++)
            cr_expect_eq(quarters[q], RUNS / 4, "quarter %d: %zu", q, quarters[q]);
        struct pair pair = pair_of(drawn.values, RUNS, 3, 0, 1);
        cr_expect_float_eq(pair.deviation[0], 9 / sqrt(3), 1e-3);
        cr_expect_float_eq(pair.correlation, all, all ? 1e-9 : 4 / sqrt(RUNS));
        drawn_free(&drawn);
    }
}

Test(tolerance_draw, seeds)
{
    struct drawn one, two;
    draw(PAD SCATTER, 50, &one);
    draw(PAD SCATTER, 50, &two);
    cr_expect_arr_eq(one.values, two.values, 50 * PLACES * sizeof(double));
    scatter_draw(&two.scatter, 50, 8, two.standard, two.values);
    cr_expect_neq(memcmp(one.values, two.values, 50 * PLACES * sizeof(double)), 0);
    drawn_free(&one);
    drawn_free(&two);
}

/* --- linear response --- */

/* y = a + sum b_i value_i over the five places. Each source adds (its standard deviation times the sum of b
 * over its places)^2 to the variance: with b = (2, -1, 1; 3, 1) in the units of the case, lot of densities (f
 * h/sqrt 3)^2 (b1 + b2 c2 + b3 c3)^2     places   ((1 - f) h/sqrt 3)^2 (b c)^2 each lot of thicknesses  f s^2
 * (b4 + b5)^2                         places   (1 - f) s^2 b^2 each c the size of 1 g/l in the unit of the
 * place (lb/ft3, g/cm3). The shares follow without sampling error; the mean errs as the strata, n^-1.5 s; s
 * by the chance correlations of sources, sum over k < l of 2 v_k v_l r_kl with r of deviation 1/sqrt n and v
 * the parts' standard deviations: four of those are allowed. */
Test(tolerance_linear, closed_form)
{
    static const double b[PLACES] = {2, -1, 1000, 3, 1};
    const double f = 0.4, h = 9, g = 0.25, d = 0.5, third = 1 / sqrt(3.0), k = 2.4;
    const double pound = 0.3048 * 0.3048 * 0.3048 / 0.45359237;
    const double c[3] = {1, pound, 0.001};
    double parts[7], mean = 7, variance = 0, crossed = 0;
    const double nominal[PLACES] = {50, 2.5, 0.06, 20, 15};
    parts[0] = f * h * third * (b[0] * c[0] + b[1] * c[1] + b[2] * c[2]);
    for (int i = 0; i < 3; i++)
        parts[1 + i] = (1 - f) * h * third * b[i] * c[i];
    parts[4] = sqrt(g) * d * (b[3] + b[4]);
    parts[5] = sqrt(1 - g) * d * b[3];
    parts[6] = sqrt(1 - g) * d * b[4];
    for (int i = 0; i < PLACES; i++)
        mean += b[i] * nominal[i];
    for (int i = 0; i < 7; i++)
        variance += parts[i] * parts[i];
    for (int i = 0; i < 7; i++)
        for (int j = 0; j < i; j++)
            crossed += 4 * parts[i] * parts[i] * parts[j] * parts[j] / RUNS;

    struct drawn drawn;
    struct tolerance_variance found;
    draw(PAD SCATTER, RUNS, &drawn);
    cr_assert_eq(drawn.scatter.source_count, 7);
    double *y = memory_doubles(RUNS), its_mean, its_deviation, s = sqrt(variance);
    for (size_t r = 0; r < RUNS; r++) {
        y[r] = 7;
        for (int i = 0; i < PLACES; i++)
            y[r] += b[i] * drawn.values[r * PLACES + (size_t)i];
    }
    tolerance_moments(y, RUNS, &its_mean, &its_deviation);
    cr_expect_float_eq(its_mean, mean, 1e-4 * s);
    cr_expect_float_eq(its_deviation * its_deviation, variance, 4 * sqrt(crossed));
    cr_assert_eq(tolerance_explain(RUNS, 7, drawn.standard, y, k, &found), STATUS_OK);
    cr_assert_eq(found.count, RUNS);
    cr_expect_float_eq(found.r2, 1, 1e-10);
    cr_expect_float_eq(found.unexplained, 0, 1e-10);
    double worst = 0;
    for (int i = 0; i < 7; i++) {
        worst = fmax(worst, fabs(found.share[i] - parts[i] * parts[i] / variance));
        cr_expect_float_eq(found.slope[i], parts[i], 1e-9 * s, "source %d: %s", i,
                           drawn.scatter.sources[i].path);
        cr_expect_float_eq(found.halved[i],
                           its_mean + k * its_deviation * sqrt(1 - 0.75 * parts[i] * parts[i] / variance),
                           1e-9 * s);
    }
    printf("figure: linear response of 7 causes, %d runs: mean off by %.1e s, s by %.2f %%, shares by %.0e\n",
           RUNS, fabs(its_mean - mean) / s, 100 * fabs(its_deviation / s - 1), worst);
    cr_expect_lt(worst, 1e-10);
    tolerance_variance_free(&found);
    memory_free(y);
    drawn_free(&drawn);
}

/* Eight runs of a full factorial of three causes at +-1: columns are exactly apart, so halving a slope and
 * looking at the sample again must give what `halved` says. A fourth column would be their product, the
 * response that no cause explains. */
Test(tolerance_linear, halving_a_cause)
{
    double standard[8 * 3], y[8], again[8], mean, deviation;
    static const double slope[3] = {3, -2, 0.5};
    for (int run = 0; run < 8; run++) {
        y[run] = 100;
        for (int k = 0; k < 3; k++) {
            standard[run * 3 + k] = run >> k & 1 ? 1 : -1;
            y[run] += slope[k] * standard[run * 3 + k];
        }
    }
    struct tolerance_variance found;
    cr_assert_eq(tolerance_explain(8, 3, standard, y, 2, &found), STATUS_OK);
    for (int k = 0; k < 3; k++) {
        for (int run = 0; run < 8; run++)
            again[run] = y[run] - slope[k] / 2 * standard[run * 3 + k];
        tolerance_moments(again, 8, &mean, &deviation);
        cr_expect_float_eq(found.halved[k], mean + 2 * deviation, 1e-9, "cause %d", k);
    }
    tolerance_variance_free(&found);
    /* the product alone: nothing is explained; with slopes 3, -2, 0.5 and 1.5 of the product the sum of
     * squares is 15.5 x 8, of which 2.25 x 8 is left with 4 degrees of freedom */
    for (int run = 0; run < 8; run++)
        y[run] += 1.5 * standard[run * 3] * standard[run * 3 + 1] * standard[run * 3 + 2];
    cr_assert_eq(tolerance_explain(8, 3, standard, y, 2, &found), STATUS_OK);
    cr_expect_float_eq(found.r2, 1 - 2.25 / 15.5, 1e-12);
    cr_expect_float_eq(found.unexplained, 4.5 / (13.25 + 4.5), 1e-12);
    cr_expect_float_eq(found.slope_error, sqrt(4.5 / 8), 1e-12);
    cr_expect_float_eq(found.share[0], 9 / (13.25 + 4.5), 1e-12);
    tolerance_variance_free(&found);
    cr_assert_eq(tolerance_explain(7, 3, standard, y, 2, &found), STATUS_OK);
    cr_expect_eq(found.count, 0, "7 runs are too few for 3 causes");
    tolerance_variance_free(&found);
}

/* --- a sample against limits --- */

enum { SAMPLE = 40, HITS = 2 };

static struct hit_result hits[HITS];
static double limits[HITS * METRIC_COUNT];

/* Rows: the case as written, then SAMPLE runs with one cause x: peak g of hit 0 100 + 10 x, of hit 1 50 + x,
 * HIC of hit 1 none. */
static void make_sweep(struct sweep *sweep, double *standard)
{
    *sweep = (struct sweep){
        .hit_count = HITS, .hits = hits, .limits = limits, .target = 0.9, .helmet_mass_limit = NAN};
    for (int i = 0; i < HITS * METRIC_COUNT; i++)
        limits[i] = NAN;
    limits[METRIC_peak] = 120;
    limits[METRIC_COUNT + METRIC_peak] = 60;
    limits[METRIC_COUNT + METRIC_hic] = 1000;
    cr_assert_eq(sweep_extend(sweep, SAMPLE + 1), STATUS_OK);
    for (size_t row = 0; row <= SAMPLE; row++) {
        double x = row == 0 ? 0 : sqrt(3) * (2 * ((double)row - 0.5) / SAMPLE - 1);
        sweep->points[row].number = (long)row;
        sweep->points[row].status = SWEEP_COMPUTED;
        sweep->points[row].mass.helmet = 1.2 + 0.01 * x;
        sweep->states[row * HITS] = sweep->states[row * HITS + 1] = HIT_COMPUTED;
        sweep_metrics(sweep, row, 0)[METRIC_peak] = 100 + 10 * x;
        sweep_metrics(sweep, row, 1)[METRIC_peak] = 50 + x;
        if (row > 0)
            standard[row - 1] = x;
    }
}

static void sweep_release(struct sweep *sweep)
{
    sweep->hits = NULL;
    sweep->limits = NULL;
    sweep->hit_count = 0;
    sweep_free(sweep);
}

/* x in even steps: its variance with SAMPLE - 1 is (1 - 1/n^2) n/(n - 1). */
Test(tolerance_sample, all_computed)
{
    struct sweep sweep;
    struct tolerance tolerance;
    double standard[SAMPLE], s = sqrt((1 - 1.0 / SAMPLE / SAMPLE) * SAMPLE / (SAMPLE - 1));
    make_sweep(&sweep, standard);
    sweep.helmet_mass_limit = 1.205;
    cr_assert_eq(tolerance_evaluate(&sweep, 1, standard, 2, &tolerance), STATUS_OK);
    cr_assert_eq(tolerance.limit_count, 4);
    cr_expect_eq(tolerance.runs, SAMPLE);
    cr_expect_eq(tolerance.computed, SAMPLE);
    /* margins: mass (1.205 - 1.2 - 0.02 s)/1.205 = -1.3 %, hit 0 (20 - 20 s)/120 = -0.2 %, hit 1 (10 - 2
     * s)/60 */
    const struct tolerance_limit *mass = &tolerance.limits[0], *first = &tolerance.limits[1];
    const struct tolerance_limit *second = &tolerance.limits[2], *none = &tolerance.limits[3];
    cr_expect_eq(mass->hit, TOLERANCE_MASS);
    cr_expect_float_eq(mass->margin, (0.005 - 0.02 * s) / 1.205, 1e-12);
    cr_expect_eq(mass->chance.exceeding, 14, "x > 1/2: %zu", mass->chance.exceeding);
    cr_expect_eq(first->hit, 0);
    cr_expect_float_eq(first->nominal, 100, 1e-12);
    cr_expect_float_eq(first->mean, 100, 1e-12);
    cr_expect_float_eq(first->deviation, 10 * s, 1e-12);
    cr_expect_float_eq(first->bound, 100 + 20 * s, 1e-12);
    cr_expect_eq(first->state, VERDICT_EXCEEDS);
    cr_expect_eq(first->chance.exceeding, 0, "x is below 2");
    /* 0 of n: the upper bound p has (1 - p)^n = 0.025 */
    cr_expect_float_eq(first->chance.high, 1 - pow(0.025, 1.0 / SAMPLE), 1e-9);
    cr_expect_eq(first->chance.low, 0);
    cr_expect_eq(second->hit, 1);
    cr_expect_float_eq(second->margin, (10 - 2 * s) / 60, 1e-12);
    cr_expect_eq(second->state, VERDICT_WITHIN);
    cr_expect_eq(none->metric, METRIC_hic);
    cr_expect_eq(none->state, VERDICT_NOT_COMPUTED);
    cr_expect_eq(tolerance.any.exceeding, 14);
    cr_expect_float_eq(tolerance.worst.share[0], 1, 1e-12);
    cr_expect_float_eq(tolerance.worst.slope[0], 0.01, 1e-12);
    tolerance_free(&tolerance);
    sweep_release(&sweep);
}

/* Run 8 is refused, hit 0 of run 16 failed, that of run 24 was not computed, run 4 is undecided; a row of an
 * earlier sample counts nowhere. */
Test(tolerance_sample, what_is_missing)
{
    struct sweep sweep;
    struct tolerance tolerance;
    double standard[SAMPLE];
    make_sweep(&sweep, standard);
    sweep.points[8].status = SWEEP_REFUSED;
    sweep.points[16].status = SWEEP_FAILED;
    sweep.states[16 * HITS] = HIT_FAILED;
    sweep_metrics(&sweep, 16, 0)[METRIC_peak] = NAN;
    sweep.states[24 * HITS] = HIT_NOT_COMPUTED;
    sweep_metrics(&sweep, 24, 0)[METRIC_peak] = NAN;
    sweep.points[4].verdict = VERDICT_UNDECIDED;
    cr_assert_eq(sweep_extend(&sweep, 1), STATUS_OK);
    sweep.points[SAMPLE + 1].status = SWEEP_COMPUTED;
    sweep_metrics(&sweep, SAMPLE + 1, 0)[METRIC_peak] = 1e6;
    cr_assert_eq(tolerance_evaluate(&sweep, 1, standard, 2, &tolerance), STATUS_OK);
    cr_expect_eq(tolerance.runs, SAMPLE);
    cr_expect_eq(tolerance.computed, SAMPLE - 2);
    cr_expect_eq(tolerance.failed, 1);
    cr_expect_eq(tolerance.refused, 1);
    cr_expect_eq(tolerance.undecided, 1);
    const struct tolerance_limit *first = &tolerance.limits[0];
    cr_expect_eq(first->hit, 0);
    cr_expect_eq(first->count, SAMPLE - 3);
    cr_expect_eq(first->chance.count, SAMPLE - 2, "failed counts");
    cr_expect_eq(first->chance.exceeding, 1, "failed counts as exceeding");
    cr_expect_lt(first->mean, 200);
    const struct tolerance_limit *second = &tolerance.limits[1];
    cr_expect_eq(second->count, SAMPLE - 1);
    cr_expect_eq(second->chance.exceeding, 0);
    cr_expect_eq(tolerance.any.count, SAMPLE - 1);
    cr_expect_eq(tolerance.any.exceeding, 1);
    cr_expect_eq(tolerance.worst.count, SAMPLE - 3);
    cr_expect_float_eq(tolerance.worst.r2, 1, 1e-12, "each value beside the variable of its own run");
    tolerance_free(&tolerance);
    sweep_release(&sweep);
}

/* A limit on rotation with an assumed inertia decides nothing and stands behind those that do. */
Test(tolerance_sample, rotation_with_an_assumed_inertia)
{
    struct sweep sweep;
    struct tolerance tolerance;
    double standard[SAMPLE];
    make_sweep(&sweep, standard);
    limits[METRIC_bric] = 0.5;
    hits[0].inertia_assumed = 1;
    for (size_t row = 0; row <= SAMPLE; row++)
        sweep_metrics(&sweep, row, 0)[METRIC_bric] = 0.8;
    cr_assert_eq(tolerance_evaluate(&sweep, 1, standard, 2, &tolerance), STATUS_OK);
    cr_expect_eq(tolerance.limits[0].metric, METRIC_peak);
    cr_expect_eq(tolerance.limits[2].metric, METRIC_bric);
    cr_expect_eq(tolerance.limits[2].state, VERDICT_UNDECIDED);
    cr_expect_eq(tolerance.any.exceeding, 0);
    tolerance_free(&tolerance);
    sweep_release(&sweep);
}

/* --- lack of memory --- */

Test(tolerance_memory, each_allocation_fails_in_turn)
{
    struct case_file file;
    struct scatter scatter;
    struct sweep sweep;
    double standard[SAMPLE];
    resolve_sound(PAD SCATTER, &file, &scatter);
    scatter_free(&scatter);
    make_sweep(&sweep, standard);
    size_t resolved = 0, evaluated = 0;
    for (int stage = 0; stage < 2; stage++) {
        for (size_t at = 0;; at++) {
            struct errors errors = {0};
            struct tolerance tolerance = {0};
            size_t before = memory_failures();
            memory_fail_after(at);
            enum status status = stage == 0 ? scatter_resolve(&file, &scatter, &errors)
                                            : tolerance_evaluate(&sweep, 1, standard, 2, &tolerance);
            memory_fail_after(SIZE_MAX);
            *(stage ? &evaluated : &resolved) = at;
            if (memory_failures() == before) {
                cr_expect_eq(status, STATUS_OK);
                scatter_free(&scatter);
                tolerance_free(&tolerance);
                break;
            }
            cr_expect_eq(status, STATUS_MEMORY, "stage %d, allocation %zu: status %d", stage, at, status);
            cr_expect(scatter.factors == NULL && tolerance.limits == NULL, "not zeroed");
        }
    }
    printf("figure: %zu and %zu allocations failed in turn, each told\n", resolved, evaluated);
    cr_expect_gt(resolved, 20);
    cr_expect_gt(evaluated, 5);
    sweep_release(&sweep);
    case_free(&file);
}
