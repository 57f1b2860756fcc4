#include <criterion/criterion.h>
#include <stdint.h>
#include <stdlib.h>
#include <unistd.h>

#include "plots/contour.h"
#include "plots/curves.h"
#include "plots/map.h"
#include "plots/sweeps.h"
#include "plots/tradeoff.h"
#include "tests/support/files.h"
#include "tests/support/sample_sweep.h"

static char folder[] = "/tmp/foampulse_sweeps_XXXXXX";
static char path[64];

static void begin(void)
{
    cr_assert_not_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/a.picture", folder);
}

static void end(void)
{
    files_remove(folder);
    rmdir(folder);
}

TestSuite(sweeps, .init = begin, .fini = end, .timeout = 120);

/* --- what is shown --- */

Test(sweeps, best_and_what_runs_through_it)
{
    struct sweep sweep;
    struct errors errors = {0};
    size_t best, count;
    sample_sweep(&sweep, 3, 4);
    cr_assert_eq(slice_best(&sweep, &best, &errors), STATUS_OK);
    /* the least of the four hits: at 50 of the last, 0.15 - (6/20)^2 = 0.06; at 60 of the first, 0.3 -
     * (10/20)^2 = 0.05 */
    const double wanted[] = {50, 30, 0};
    for (size_t i = 0; i < 3; i++)
        cr_expect_eq(sweep_values(&sweep, best)[i], wanted[i]);
    static const size_t counts[] = {SAMPLE_DENSITIES, SAMPLE_THICKNESSES, SAMPLE_FOAMS};
    for (size_t a = 0; a < 3; a++) {
        struct slice_row *rows = slice_through(&sweep, best, a, a, &count);
        cr_assert_eq(count, counts[a]);
        for (size_t i = 0; i < count; i++) {
            cr_expect_eq(rows[i].value, sweep.factors[a].levels[i]);
            for (size_t k = 0; k < 3; k++)
                cr_expect_eq(sweep_values(&sweep, rows[i].point)[k], k == a ? rows[i].value : wanted[k]);
        }
        memory_free(rows);
    }
    struct slice_row *plane = slice_through(&sweep, best, 0, 1, &count);
    cr_expect_eq(count, (size_t)SAMPLE_DENSITIES * SAMPLE_THICKNESSES);
    cr_expect_eq(slice_distinct(plane, count), (size_t)SAMPLE_DENSITIES);
    memory_free(plane);
    sweep_free(&sweep);
}

/* The same layout twice is one. */
Test(sweeps, twins_are_one)
{
    struct sweep sweep;
    size_t count;
    sample_sweep(&sweep, 2, 2);
    size_t before = sweep.point_count;
    cr_assert_eq(sweep_extend(&sweep, 3), STATUS_OK);
    for (size_t i = 0; i < 3; i++)
        memcpy(sweep_values(&sweep, before + i), sweep_values(&sweep, 3 * i), 2 * sizeof(double));
    struct slice_row *rows = slice_through(&sweep, 0, 0, 1, &count);
    cr_expect_eq(count, before);
    for (size_t i = 0; i < count; i++)
        cr_expect_lt(rows[i].point, before);
    memory_free(rows);
    sweep_free(&sweep);
}

/* A failed layout has no worst hit and is never the best, whatever its other hits say. */
Test(sweeps, failed_layouts_are_not_best)
{
    struct sweep sweep;
    struct errors errors = {0};
    size_t best, again;
    sample_sweep(&sweep, 2, 2);
    cr_assert_eq(slice_best(&sweep, &best, &errors), STATUS_OK);
    cr_expect(slice_is_decided(&sweep, best));
    sweep.points[best].status = SWEEP_FAILED;
    cr_expect_eq(slice_worst(&sweep, best, SLICE_MARGIN), -1);
    cr_expect_not(slice_is_decided(&sweep, best));
    cr_assert_eq(slice_best(&sweep, &again, &errors), STATUS_OK);
    cr_expect_neq(again, best);
    cr_expect_eq(slice_quantity(&sweep), SLICE_MARGIN);
    for (size_t i = 0; i < sweep.point_count; i++)
        sweep.points[i].status = SWEEP_FAILED;
    cr_expect_eq(slice_best(&sweep, &again, &errors), STATUS_INPUT);
    sweep_free(&sweep);
}

/* Without limits the lowest peak counts. */
Test(sweeps, without_limits)
{
    struct sweep sweep;
    struct errors errors = {0};
    size_t best, same;
    sample_sweep(&sweep, 2, 2);
    slice_best(&sweep, &best, &errors);
    for (size_t i = 0; i < sweep.point_count; i++) {
        sweep.points[i].worst_margin = NAN;
        for (size_t k = 0; k < 2; k++)
            sweep_margins(&sweep, i)[k] = NAN;
    }
    cr_expect_eq(slice_quantity(&sweep), SLICE_PEAK);
    cr_assert_eq(slice_best(&sweep, &same, &errors), STATUS_OK);
    cr_expect_eq(same, best); /* peak g falls as the margin grows */
    for (size_t at = 0; at < SWEEPS_COUNT; at++) {
        cr_expect_eq(sweeps_draw(at, &sweep, &(struct slice_choice){0}, PICTURE_PNG, path, NULL, &errors),
                     STATUS_OK, "%s: %s", sweeps_table[at].name, errors.kept[0].text);
    }
    sweep_free(&sweep);
}

Test(sweeps, hits_in_the_order_in_which_they_govern)
{
    struct sweep sweep;
    size_t count, rank[4], times[4] = {0};
    sample_sweep(&sweep, 1, 4);
    struct slice_row *rows = slice_all(&sweep, 0, &count);
    cr_assert_eq(slice_governing(&sweep, rows, count, SLICE_MARGIN, rank), STATUS_OK);
    for (size_t i = 0; i < count; i++)
        times[slice_worst(&sweep, rows[i].point, SLICE_MARGIN)]++;
    for (size_t i = 0; i + 1 < 4; i++)
        cr_expect_geq(times[rank[i]], times[rank[i + 1]]);
    cr_expect_eq(rank[0], 3);
    memory_free(rows);
    sweep_free(&sweep);
}

/* Straight lines through (0, -1), (2, 1), (4, 1), (5, -3), a gap, (7, 2), (8, 2): inside from 1 to 4.25, and
 * from 7 to 8. */
Test(sweeps, stretches_within)
{
    const double x[] = {0, 2, 4, 5, 6, 7, 8}, y[] = {-1, 1, 1, -3, NAN, 2, 2};
    double from[4], to[4];
    cr_assert_eq(slice_stretches(x, y, 7, 4, from, to), 2);
    cr_expect_float_eq(from[0], 1, 1e-15);
    cr_expect_float_eq(to[0], 4.25, 1e-15);
    cr_expect_float_eq(from[1], 7, 1e-15);
    cr_expect_float_eq(to[1], 8, 1e-15);
    cr_expect_eq(slice_stretches(x, y, 7, 1, from, to), 1);
    cr_expect_eq(slice_stretches(x, y, 1, 4, from, to), 0);
    const double gap[] = {1, NAN, NAN};
    cr_assert_eq(slice_stretches(x, gap, 3, 4, from, to), 1);
    cr_expect_eq(to[0], 0);
}

/* --- contours --- */

/* Of 1 - x^2 - y^2 on [-1.2, 1.2]: a chord between points where a parabola of curvature 2 is replaced by a
 * line over h is off by at most h^2/4 in value, so h^2/8 in radius, as the slope there is 2; the length tends
 * to 2 pi. */
Test(sweeps, contour_of_a_circle)
{
    enum { N = 61 };
    static double x[N], values[N * N];
    static struct contour_segment segments[2 * (N - 1) * (N - 1)];
    double h = 2.4 / (N - 1), length = 0, off = 0;
    for (size_t i = 0; i < N; i++)
        x[i] = -1.2 + h * (double)i;
    for (size_t i = 0; i < N * N; i++)
        values[i] = 1 - x[i % N] * x[i % N] - x[i / N] * x[i / N];
    size_t count = contour_zero(x, N, x, N, values, segments);
    for (size_t i = 0; i < count; i++) {
        for (int k = 0; k < 2; k++)
            off = fmax(off, fabs(hypot(segments[i].x[k], segments[i].y[k]) - 1));
        length += hypot(segments[i].x[1] - segments[i].x[0], segments[i].y[1] - segments[i].y[0]);
    }
    printf("figure: contour of a circle, off by %.2e (at most %.2e)\n", off, h * h / 4);
    cr_expect_leq(off, h * h / 4); /* twice: sides cross the circle at up to 45 degrees */
    cr_expect_float_eq(length, 2 * 3.14159265358979, 0.005);
    values[N / 2 + N * (N / 2)] = NAN; /* in the middle: away from the line */
    cr_expect_eq(contour_zero(x, N, x, N, values, segments), count);
}

/* A saddle is parted by its mean: with +3 and +3 on one diagonal the middle is inside. */
Test(sweeps, contour_of_a_saddle)
{
    const double axis[] = {0, 1};
    struct contour_segment segments[2];
    const double inside[] = {3, -1, -1, 3}, outside[] = {1, -3, -3, 1};
    cr_assert_eq(contour_zero(axis, 2, axis, 2, inside, segments), 2);
    /* cuts off the corner (1, 0): from (3/4, 0) to (1, 1/4) */
    cr_expect_float_eq(segments[0].x[0], 0.75, 1e-15);
    cr_expect_float_eq(segments[0].y[1], 0.25, 1e-15);
    cr_assert_eq(contour_zero(axis, 2, axis, 2, outside, segments), 2);
    /* cuts off the corner (0, 0): from (1/4, 0) to (0, 1/4) */
    cr_expect_float_eq(segments[0].x[0], 0.25, 1e-15);
    cr_expect_float_eq(segments[0].y[1], 0.25, 1e-15);
}

Test(sweeps, contour_along_cells)
{
    const double x[] = {0, 1, 3}, y[] = {0, 2, 5}, values[] = {1, -1, 1, NAN};
    struct contour_segment segments[8];
    cr_assert_eq(contour_edges(x, 2, y, 2, values, segments), 1);
    cr_expect(segments[0].x[0] == 1 && segments[0].x[1] == 1 && segments[0].y[0] == 0 &&
              segments[0].y[1] == 2);
}

/* --- pictures --- */

/* The script of a picture; NULL when it was refused. script_free. */
static struct script compose(size_t at, const struct sweep *sweep, const struct slice_choice *choice)
{
    typedef enum status composer(struct script *, const struct sweep *, const struct slice_choice *,
                                 enum picture_format, struct errors *);
    static composer *const composers[SWEEPS_COUNT] = {curves_compose, map_compose, tradeoff_compose};
    struct script script = {0};
    struct errors errors = {0};
    cr_assert_eq(composers[at](&script, sweep, choice, PICTURE_PNG, &errors), STATUS_OK, "%s",
                 errors.kept[0].text);
    cr_assert_not(script.failed);
    return script;
}

/* Lines of a data block; -1 when it is not there. `after`: where to look. */
static long block_lines(const char *script, const char *name)
{
    char head[64];
    snprintf(head, sizeof head, "$%s << END_OF_BLOCK\n", name);
    const char *at = strstr(script, head);
    long lines = 0;
    if (!at)
        return -1;
    for (at += strlen(head); strncmp(at, "END_OF_BLOCK", 12) != 0; at = strchr(at, '\n') + 1)
        lines++;
    return lines;
}

static size_t times_in(const char *script, const char *text)
{
    size_t count = 0;
    for (const char *at = script; (at = strstr(at, text)); at++)
        count++;
    return count;
}

/* Twelve hits: eight with a name, the rest faint; a panel each factor; the best; where all are within. */
Test(sweeps, curves_name_the_governing)
{
    struct sweep sweep;
    sample_sweep(&sweep, 3, 12);
    struct script script = compose(0, &sweep, &(struct slice_choice){0});
    cr_expect_eq(block_lines(script.text, "h0"), SAMPLE_DENSITIES);
    cr_expect_eq(block_lines(script.text, "h11"), SAMPLE_DENSITIES);
    cr_expect_eq(block_lines(script.text, "h12"), -1);
    cr_expect_eq(times_in(script.text, "'site "), CURVES_HITS);
    cr_expect_not_null(strstr(script.text, "'site 11, flat, 16 m/s, 23 °C'"));
    cr_expect_not_null(strstr(script.text, "'4 others'"));
    cr_expect_eq(times_in(script.text, "set xlabel "), 3);
    cr_expect_not_null(strstr(script.text, "set xlabel 'crown 1 density (kg/m3)'"));
    cr_expect_eq(times_in(script.text, "nowhere all within the limits"), 2); /* texts have no stretches */
    script_free(&script);
    sweep_free(&sweep);
}

/* Hit 0 alone: margin 0.3 - ((d - 50)/20)^2 through 0.05 at 40 and 60, -0.7 at 30 and 70: by straight lines 0
 * at 40 - 10 x 0.05/0.75 = 39.33 and 60.67. */
Test(sweeps, curves_say_where_all_is_within)
{
    struct sweep sweep;
    sample_sweep(&sweep, 1, 1);
    struct script script = compose(0, &sweep, &(struct slice_choice){0});
    cr_expect_not_null(strstr(script.text, "all within the limits: 39.3 to 60.7"));
    cr_expect_eq(times_in(script.text, "set xlabel "), 3); /* margin, peak g, HIC */
    cr_expect_not_null(strstr(script.text, "'limit 100'"));
    cr_expect_not_null(strstr(script.text, "'limit 1000'"));
    cr_expect_not_null(strstr(script.text, "'best 50 kg/m3'"));
    script_free(&script);
    /* a hit that was not computed might be over its limit */
    for (size_t i = 0; i < sweep.point_count; i++)
        sweep.states[i] = HIT_NOT_COMPUTED;
    script = compose(0, &sweep, &(struct slice_choice){0});
    cr_expect_not_null(strstr(script.text, "nowhere all within"));
    script_free(&script);
    sweep_free(&sweep);
}

/* No two layouts of a sample differ in one factor alone: dots, each in the block of its worst hit. */
Test(sweeps, samples_are_dots)
{
    struct sweep sweep;
    sample_sweep(&sweep, 2, 2);
    for (size_t i = 0; i < sweep.point_count; i++) {
        double *values = sweep_values(&sweep, i);
        values[0] += 0.01 * (double)i;
        values[1] += 0.013 * (double)i;
    }
    struct script script = compose(0, &sweep, &(struct slice_choice){0});
    long dots = 0;
    for (size_t k = 0; k < 2; k++) {
        char name[8];
        snprintf(name, sizeof name, "h%zu", k);
        long lines = block_lines(script.text, name);
        dots += lines > 0 ? lines : 0;
    }
    cr_expect_eq(dots, (long)sweep.point_count);
    cr_expect_eq(block_lines(script.text, "worst"), -1);
    script_free(&script);
    script = compose(1, &sweep, &(struct slice_choice){0});
    cr_expect_eq(block_lines(script.text, "cells"), -1);
    cr_expect_eq(block_lines(script.text, "within") + block_lines(script.text, "beyond"),
                 (long)sweep.point_count + 2); /* each block opens with an empty row */
    script_free(&script);
    sweep_free(&sweep);
}

/* Cells of the plane through the best; the factors are the first two, or those that are chosen. */
Test(sweeps, map_of_a_grid)
{
    struct sweep sweep;
    sample_sweep(&sweep, 3, 1);
    struct script script = compose(1, &sweep, &(struct slice_choice){0});
    cr_expect_eq(block_lines(script.text, "cells"), SAMPLE_DENSITIES * SAMPLE_THICKNESSES);
    cr_expect_gt(block_lines(script.text, "boundary"), 3);
    cr_expect_not_null(strstr(script.text, "50 30 45 55 27.5 32.5 ")); /* the best cell and its edges */
    cr_expect_not_null(strstr(script.text, "\n50 30 30 "));            /* its number, 30 % */
    cr_expect_not_null(strstr(script.text, "foam foam 0"));            /* the other factor */
    script_free(&script);
    script = compose(1, &sweep, &(struct slice_choice){2, {2, 0}});
    cr_expect_eq(block_lines(script.text, "cells"), SAMPLE_FOAMS * SAMPLE_DENSITIES);
    cr_expect_not_null(strstr(script.text, "set xlabel 'foam'"));
    cr_expect_not_null(strstr(script.text, "'foam 1' 1"));
    script_free(&script);
    sweep_free(&sweep);
}

/* A failed layout has a cross and no cell; one with a hit that was not computed has its number in brackets.
 */
Test(sweeps, map_of_what_failed)
{
    struct sweep sweep;
    sample_sweep(&sweep, 2, 1);
    sweep.points[0].status = SWEEP_FAILED;
    sweep.states[7] = HIT_NOT_COMPUTED; /* density 50, thickness 25: 0.3 - 0.0625 */
    struct script script = compose(1, &sweep, &(struct slice_choice){0});
    cr_expect_eq(block_lines(script.text, "cells"), SAMPLE_DENSITIES * SAMPLE_THICKNESSES - 1);
    cr_expect_eq(block_lines(script.text, "none"), 2);
    cr_expect_not_null(strstr(script.text, "\n50 25 (24) "));
    script_free(&script);
    sweep_free(&sweep);
}

/* Lighter and better: of one hit the margin falls on both sides of density 50 and thickness 30 and mass grows
 * with both, so the front runs up to the best layout. */
Test(sweeps, front_of_margin_and_mass)
{
    struct sweep sweep;
    struct errors errors = {0};
    size_t best;
    sample_sweep(&sweep, 2, 1);
    slice_best(&sweep, &best, &errors);
    struct script script = compose(2, &sweep, &(struct slice_choice){0});
    char last[64];
    snprintf(last, sizeof last, "%.7g %.7g\nEND_OF_BLOCK\n", sweep.points[best].mass.helmet,
             100 * sweep.points[best].worst_margin);
    cr_expect_not_null(strstr(strstr(script.text, "set multiplot"), last));
    cr_expect_eq(block_lines(script.text, "within") + block_lines(script.text, "beyond"),
                 (long)sweep.point_count + 2);
    script_free(&script);
    /* what lacks an impact that others have takes no part */
    sweep.states[best] = HIT_NOT_COMPUTED;
    script = compose(2, &sweep, &(struct slice_choice){0});
    cr_expect_null(strstr(script.text, last));
    script_free(&script);
    for (size_t i = 0; i < sweep.point_count; i++)
        sweep.points[i].mass.helmet = NAN;
    script = (struct script){0};
    cr_expect_eq(tradeoff_compose(&script, &sweep, &(struct slice_choice){0}, PICTURE_PNG, &errors),
                 STATUS_INPUT);
    cr_expect_not(tradeoff_shows(&sweep));
    script_free(&script);
    sweep_free(&sweep);
}

Test(sweeps, a_map_has_two_factors)
{
    struct sweep sweep;
    struct errors errors = {0};
    struct script script = {0};
    sample_sweep(&sweep, 1, 1);
    cr_expect_not(map_shows(&sweep));
    cr_expect_eq(map_compose(&script, &sweep, &(struct slice_choice){0}, PICTURE_PNG, &errors), STATUS_INPUT);
    script_free(&script);
    sweep_free(&sweep);
}

/* First bytes of the file. */
static int starts_with(const char *want)
{
    char have[16] = "";
    FILE *file = fopen(path, "rb");
    size_t got = file ? fread(have, 1, sizeof have, file) : 0;
    if (file)
        fclose(file);
    return got >= strlen(want) && memcmp(have, want, strlen(want)) == 0;
}

static void draw_all(const struct sweep *sweep, int first, int last)
{
    static const char *const magic[] = {"\x89PNG\r\n", "<?xml", "%PDF-", "GIF89a"};
    for (size_t at = 0; at < SWEEPS_COUNT; at++) {
        for (int format = first; format <= last; format++) {
            char *text = NULL;
            struct errors errors = {0};
            cr_expect_eq(sweeps_draw(at, sweep, &(struct slice_choice){0}, (enum picture_format)format,
                                     format == PICTURE_TEXT ? NULL : path, &text, &errors),
                         STATUS_OK, "%s: %s", sweeps_table[at].name, errors.kept[0].text);
            if (format == PICTURE_TEXT)
                cr_expect(text && strlen(text) > 1000, "%s", sweeps_table[at].name);
            else
                cr_expect(starts_with(magic[format]), "%s as %s", sweeps_table[at].name,
                          picture_format_names[format]);
            memory_free(text);
            remove(path);
        }
    }
}

Test(sweeps, every_picture_in_every_format)
{
    struct sweep sweep;
    sample_sweep(&sweep, 2, 3);
    draw_all(&sweep, 0, PICTURE_FORMATS - 1);
    sweep_free(&sweep);
    sample_sweep(&sweep, 3, 80);
    draw_all(&sweep, PICTURE_PNG, PICTURE_PNG);
    sweep_free(&sweep);
}

/* Names from outside are text and nothing but text. */
Test(sweeps, hostile_names)
{
    static const char *const names[] = {"a' ; system 'touch hostile' ; '", "%s %n %d", "`touch hostile`",
                                        "\xff\xfe]]>\n"};
    for (size_t n = 0; n < sizeof names / sizeof *names; n++) {
        struct sweep sweep;
        sample_sweep(&sweep, 3, 3);
        memory_free(sweep.title);
        sweep.title = memory_text(names[n]);
        for (size_t i = 0; i < 3; i++) {
            snprintf(sweep.factors[i].path, FACTOR_PATH, "%s%zu", names[n], i);
            snprintf(sweep.factors[i].unit, UNITS_NAME, "%.6s", names[n]);
            snprintf(sweep.hits[i].site, sizeof sweep.hits[i].site, "%s", names[n]);
        }
        snprintf(sweep.factors[2].texts[1], FACTOR_TEXT, "%s", names[n]);
        draw_all(&sweep, PICTURE_SVG, PICTURE_SVG);
        cr_expect_neq(access("hostile", F_OK), 0);
        struct slice_choice choice = {2, {2, 1}};
        struct errors errors = {0};
        cr_expect_eq(sweeps_draw(1, &sweep, &choice, PICTURE_PNG, path, NULL, &errors), STATUS_OK, "%s",
                     errors.kept[0].text);
        sweep_free(&sweep);
    }
}

/* One layout alone, and factors without a range. */
Test(sweeps, a_single_layout)
{
    struct sweep sweep;
    sample_sweep(&sweep, 2, 1);
    sweep.point_count = 1;
    sweep.factors[0].high = sweep.factors[0].low;
    sweep.factors[0].level_count = 1;
    draw_all(&sweep, PICTURE_PNG, PICTURE_PNG);
    sweep.point_count = SAMPLE_DENSITIES * SAMPLE_THICKNESSES;
    sweep.factors[0].level_count = SAMPLE_DENSITIES;
    sweep_free(&sweep);
}

/* Each allocation fails once, in turn: out of memory is said, or the script knows, and nothing is lost. */
Test(sweeps, memory_runs_out)
{
    typedef enum status composer(struct script *, const struct sweep *, const struct slice_choice *,
                                 enum picture_format, struct errors *);
    static composer *const composers[SWEEPS_COUNT] = {curves_compose, map_compose, tradeoff_compose};
    struct sweep sweep;
    sample_sweep(&sweep, 2, 3);
    for (size_t at = 0; at < SWEEPS_COUNT; at++) {
        size_t failures = 0;
        for (int done = 0; !done && failures < 1000; failures++) {
            struct script script = {0};
            struct errors errors = {0};
            size_t before = memory_failures();
            memory_fail_after(failures);
            enum status status =
                composers[at](&script, &sweep, &(struct slice_choice){0}, PICTURE_PNG, &errors);
            memory_fail_after(SIZE_MAX);
            done = memory_failures() == before;
            cr_expect_eq(done, status == STATUS_OK && !script.failed, "%s, allocation %zu",
                         sweeps_table[at].name, failures);
            cr_expect(status == STATUS_OK || (status == STATUS_MEMORY && errors.count == 1),
                      "%s, allocation %zu: %d", sweeps_table[at].name, failures, (int)status);
            script_free(&script);
        }
        cr_expect(failures > 3 && failures < 1000, "%s: %zu", sweeps_table[at].name, failures);
    }
    sweep_free(&sweep);
}
