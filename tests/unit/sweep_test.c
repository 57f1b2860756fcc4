#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cases/journal.h"
#include "cases/store_sweep.h"
#include "solver/base/memory.h"
#include "solver/study/explore.h"
#include "tests/support/cases.h"
#include "tests/support/files.h"
#include "tests/support/sanitized.h"

/* Factors, layouts of a case, and the file they go to. */

#define PADS_FOR(duration)                                                                                   \
    "title: Pads\n"                                                                                          \
    "pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 20 mm}]}\n"                        \
    "striker: {mass: 5 kg}\n"                                                                                \
    "solver: {cell: 2 mm, duration: " duration "}\n"                                                         \
    "impacts: [{speed: 3 m/s}, {speed: 4 m/s, temperature: 30 degC}]\n"                                      \
    "limits: {peak_g: 60 g}\n"

#define PADS PADS_FOR("15 ms")

static char folder[64], path[128];

static void begin(void)
{
    snprintf(folder, sizeof folder, "/tmp/foampulse_XXXXXX");
    cr_assert(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/study.h5", folder);
}

static void end(void)
{
    files_remove(folder);
    rmdir(folder);
}

TestSuite(sweep, .init = begin, .fini = end);

static int same_number(double a, double b)
{
    return a == b || (isnan(a) && isnan(b));
}

static int same_text(const char *a, const char *b)
{
    return (!a && !b) || (a && b && strcmp(a, b) == 0);
}

/* Rows for a grid over the factors of a case, in the order of their levels. */
static void make_grid(const struct case_file *file, struct sweep *sweep)
{
    struct errors errors = {0};
    const struct case_sweep *asked = &file->sweep;
    size_t count = 1, stride;
    cr_assert_eq(explore_begin(file, asked->factors, asked->factor_count, NULL, sweep, &errors), STATUS_OK,
                 "%s", errors.kept[0].text);
    for (size_t i = 0; i < asked->factor_count; i++)
        count *= asked->factors[i].level_count;
    cr_assert_eq(sweep_extend(sweep, count), STATUS_OK);
    stride = count;
    for (size_t i = 0; i < asked->factor_count; i++) {
        stride /= asked->factors[i].level_count;
        for (size_t p = 0; p < count; p++)
            sweep_values(sweep, p)[i] = asked->factors[i].levels[p / stride % asked->factors[i].level_count];
    }
    for (size_t p = 0; p < count; p++)
        sweep->points[p].number = (long)p + 1;
    sweep->asked = (long)count;
    snprintf(sweep->sample, sizeof sweep->sample, "grid");
}

static void solve(const struct case_file *file, const struct explore_options *options, struct sweep *sweep)
{
    struct errors errors = {0};
    cr_assert_eq(explore_solve(file, options, 0, sweep, &errors), STATUS_OK, "%s", errors.kept[0].text);
}

static void expect_same_rows(const struct sweep *a, const struct sweep *b)
{
    cr_assert_eq(a->point_count, b->point_count);
    cr_assert_eq(a->hit_count, b->hit_count);
    for (size_t p = 0; p < a->point_count; p++) {
        const struct sweep_point *x = &a->points[p], *y = &b->points[p];
        cr_expect(x->status == y->status && x->number == y->number && x->verdict == y->verdict &&
                      x->worst_hit == y->worst_hit && x->worst_metric == y->worst_metric &&
                      same_number(x->worst_margin, y->worst_margin) &&
                      same_number(x->stroke_left, y->stroke_left) &&
                      same_number(x->mass.helmet, y->mass.helmet) && same_text(x->message, y->message) &&
                      same_text(x->why, y->why) && memcmp(x->identity, y->identity, sizeof x->identity) == 0,
                  "point %zu", p);
        for (size_t i = 0; i < a->factor_count; i++)
            cr_expect_eq(sweep_values(a, p)[i], sweep_values(b, p)[i]);
        for (size_t k = 0; k < a->hit_count; k++) {
            cr_expect(same_number(sweep_margins(a, p)[k], sweep_margins(b, p)[k]));
            cr_expect_eq(a->states[p * a->hit_count + k], b->states[p * a->hit_count + k]);
            for (int m = 0; m < METRIC_COUNT; m++)
                cr_expect(same_number(sweep_metrics(a, p, k)[m], sweep_metrics(b, p, k)[m]), "point %zu, %s",
                          p, metric_table[m].name);
        }
    }
}

/* --- factors --- */

#define VARY(text) PADS "sweep: {sample: latin, vary: {" text "}}\n"

Test(sweep, factors_are_read_as_written)
{
    struct case_file file;
    char text[FACTOR_TEXT], label[FACTOR_LABEL];
    cases_load_text(VARY("pad.layers.1.density: {from: 40 g/l, to: 41 g/l, step: 0.1 g/l}, striker.mass: "
                         "{from: 4 kg, to: 6 kg}, \"pad.layers.*.foam\": [eps, epp], \"impacts.1.speed + "
                         "impacts.2.speed\": [4 m/s, 3 m/s]"),
                    &file);
    const struct factor *factors = file.sweep.factors;
    cr_assert_eq(file.sweep.factor_count, 4);
    cr_expect_eq(factors[0].level_count, 11);
    factor_write(&factors[0], factors[0].levels[7], text);
    cr_expect_str_eq(text, "40.7 g/l");
    cr_expect_eq(factors[1].level_count, 0);
    factor_write(&factors[1], factor_at(&factors[1], 0.25), text);
    cr_expect_str_eq(text, "4.5 kg");
    cr_expect_eq(factors[2].level_count, 2);
    factor_write(&factors[2], 1.0, text);
    cr_expect_str_eq(text, "epp");
    cr_expect(factors[3].low == 3.0 && factors[3].high == 4.0 && factors[3].levels[0] == 4.0);
    const char *const labels[] = {"pad 1 density", "striker mass", "pad foam", "impacts 1 speed ..."};
    for (int i = 0; i < 4; i++) {
        factor_label(&factors[i], label);
        cr_expect_str_eq(label, labels[i]);
    }
    case_free(&file);
}

/* Each level has the same part of the way, and the way back ends between 0 and 1. */
Test(sweep, shares_of_a_factor)
{
    double levels[] = {10, 20, 40}, counts[3] = {0};
    const struct factor listed = {.low = 10, .high = 40, .level_count = 3, .levels = levels};
    for (int i = 0; i < 300; i++) {
        double value = factor_at(&listed, (i + 0.5) / 300);
        for (int k = 0; k < 3; k++)
            counts[k] += value == levels[k];
    }
    cr_expect(counts[0] == 100 && counts[1] == 100 && counts[2] == 100);
    cr_expect_eq(factor_share(&listed, 10), 0.0);
    cr_expect_eq(factor_share(&listed, 40), 1.0);
    char texts[3][FACTOR_TEXT] = {"a", "b", "c"};
    double order[] = {0, 1, 2};
    const struct factor named = {.high = 2, .level_count = 3, .levels = order, .texts = texts};
    for (int k = 0; k < 3; k++)
        cr_expect_eq(factor_at(&named, factor_share(&named, k)), k);
}

/* --- layouts --- */

#define GRID                                                                                                 \
    PADS "sweep: {vary: {pad.layers.1.density: [40 g/l, 60 g/l], pad.layers.1.thickness: {from: 15 mm, to: " \
         "25 mm, step: 5 mm}}}\n"

/* A row holds what running the case with its values gives. */
Test(sweep, a_row_is_a_run)
{
    struct case_file file, layout;
    struct sweep sweep;
    struct explore_options options = {.threads = 2};
    struct errors errors = {0};
    cases_load_text(GRID, &file);
    make_grid(&file, &sweep);
    solve(&file, &options, &sweep);
    double limit = file.limit[METRIC_peak];
    for (size_t p = 0; p < sweep.point_count; p++) {
        struct case_result result;
        cr_assert_eq(explore_case(&file, &sweep, p, &layout, &errors), STATUS_OK);
        cases_run(&layout, 1, &result);
        cr_expect_eq(layout.pad.layers[0].thickness, 1e-3 * sweep_values(&sweep, p)[1]);
        cr_expect_eq(result.worst_margin, sweep.points[p].worst_margin);
        for (size_t k = 0; k < 2; k++) {
            cr_expect_eq(result.hits[k].output.metrics[METRIC_peak],
                         sweep_metrics(&sweep, p, k)[METRIC_peak]);
            cr_expect_eq(sweep_margins(&sweep, p)[k],
                         (limit - result.hits[k].output.metrics[METRIC_peak]) / limit);
        }
        case_result_free(&result);
        case_free(&layout);
    }
    cr_expect_eq(sweep.limits[METRIC_peak], limit);
    cr_expect(isnan(sweep.limits[METRIC_hic]));
    sweep_free(&sweep);
    case_free(&file);
}

Test(sweep, rows_do_not_depend_on_threads_or_order)
{
    struct case_file file;
    struct sweep one, many;
    struct explore_options single = {.threads = 1}, several = {.threads = 5};
    cases_load_text(GRID, &file);
    make_grid(&file, &one);
    make_grid(&file, &many);
    solve(&file, &single, &one);
    solve(&file, &several, &many);
    expect_same_rows(&one, &many);
    sweep_free(&one);
    sweep_free(&many);
    case_free(&file);
}

/* Counts what is solved: progress tells what was taken. */
static size_t last_taken;

static void note_taken(void *context, size_t done, size_t taken, size_t all)
{
    (void)context;
    (void)done;
    (void)all;
    last_taken = taken;
}

/* Rows with the same values are one solution, and none that an earlier sweep or the journal has is solved. */
Test(sweep, nothing_is_solved_twice)
{
    struct case_file file;
    struct sweep sweep, again;
    struct journal journal;
    struct errors errors = {0}, failed = {0};
    cases_load_text(GRID, &file);
    make_grid(&file, &sweep);
    memcpy(sweep_values(&sweep, 5), sweep_values(&sweep, 0), 2 * sizeof(double));
    cr_assert_eq(journal_open(path, STORE_SWEEP, &journal, &errors), STATUS_OK);
    struct explore_options options = {
        .threads = 1, .progress = note_taken, .journal = &journal, .journal_errors = &failed};
    solve(&file, &options, &sweep);
    cr_expect_eq(last_taken, 1, "the row that is there twice: %zu", last_taken);
    cr_expect_eq(journal.count, 5);
    cr_expect_eq(sweep_metrics(&sweep, 5, 1)[METRIC_peak], sweep_metrics(&sweep, 0, 1)[METRIC_peak]);
    make_grid(&file, &again);
    solve(&file, &options, &again);
    cr_expect_eq(last_taken, 5, "from the journal: %zu", last_taken);
    cr_expect_eq(journal.count, 6);
    sweep_free(&again);
    options = (struct explore_options){.threads = 2, .progress = note_taken, .earlier = &sweep};
    make_grid(&file, &again);
    solve(&file, &options, &again);
    cr_expect_eq(last_taken, 5, "from the sweep: %zu", last_taken);
    journal_close(&journal, NULL);
    sweep_free(&again);
    sweep_free(&sweep);
    case_free(&file);
}

/* --- file --- */

Test(sweep, file_gives_back_what_was_written)
{
    struct case_file file;
    struct sweep sweep, back;
    struct errors errors = {0};
    struct explore_options options = {.threads = 2};
    cases_load_text(PADS "sweep: {vary: {pad.layers.1.foam: [eps, epp], striker.mass: [5 kg, 4 kg]}}\n",
                    &file);
    make_grid(&file, &sweep);
    solve(&file, &options, &sweep);
    sweep.points[1].status = SWEEP_FAILED;
    sweep.points[1].message = memory_text("a zone was crushed to nothing");
    cr_assert_eq(store_sweep_write(path, STORE_SWEEP, &sweep, &errors), STATUS_OK, "%s", errors.kept[0].text);
    cr_expect_str_eq(store_sweep_kind(path), STORE_SWEEP);
    cr_assert_eq(store_sweep_read(path, STORE_SWEEP, &back, &errors), STATUS_OK, "%s", errors.kept[0].text);
    expect_same_rows(&sweep, &back);
    cr_expect_str_eq(sweep.frame, back.frame);
    cr_expect_str_eq(back.title, "Pads");
    cr_expect_str_eq(back.case_text, sweep.case_text);
    cr_expect_str_eq(back.factors[0].texts[1], "epp");
    cr_expect_str_eq(back.factors[1].unit, "kg");
    cr_expect(back.factors[1].low == 4 && back.factors[1].levels[0] == 5);
    cr_expect_eq(back.hits[1].speed, 4.0);
    cr_expect_eq(back.hits[1].temperature, 30.0);
    cr_expect_eq(back.limits[METRIC_COUNT + METRIC_peak], file.limit[METRIC_peak]);
    sweep_free(&back);
    cr_expect_eq(store_sweep_read(path, STORE_TUNE, &back, &errors), STATUS_INPUT, "of another kind");
    sweep_free(&sweep);
    case_free(&file);
}

/* The first allocations one by one, then in growing strides: reading a case makes the same ones again and
 * again. */
Test(sweep, memory_runs_out)
{
    struct case_file file;
    struct errors errors;
    size_t tried = 0;
    cases_load_text(PADS_FOR("1 ms") "sweep: {vary: {pad.layers.1.foam: [eps, epp]}}\n", &file);
    size_t failed = 0;
    for (enum status status = STATUS_MEMORY; status != STATUS_OK && tried < 50000; failed++) {
        struct sweep sweep = {0}, back = {0};
        struct explore_options options = {.threads = 1};
        errors = (struct errors){0};
        tried += 1 + tried / (SANITIZED ? 40 : 200);
        memory_fail_after(tried);
        status = explore_begin(&file, file.sweep.factors, file.sweep.factor_count, NULL, &sweep, &errors);
        if (status == STATUS_OK)
            status = sweep_extend(&sweep, 2);
        for (size_t p = 0; status == STATUS_OK && p < 2; p++)
            *sweep_values(&sweep, p) = (double)p;
        if (status == STATUS_OK)
            status = explore_solve(&file, &options, 0, &sweep, &errors);
        if (status == STATUS_OK)
            status = store_sweep_write(path, STORE_SWEEP, &sweep, &errors);
        if (status == STATUS_OK)
            status = store_sweep_read(path, STORE_SWEEP, &back, &errors);
        memory_fail_after(SIZE_MAX);
        cr_assert(status == STATUS_OK || status == STATUS_MEMORY, "%d at %zu: %s", status, tried,
                  errors.kept[0].text);
        sweep_free(&sweep);
        sweep_free(&back);
        files_remove(folder);
    }
    cr_expect_gt(tried, 5000);
    printf("figure: sweep: %zu of %zu allocations failed in turn, each told\n", failed, tried);
    case_free(&file);
}

/* --- order and shares --- */

/* The third lacks a hit, so its larger margin says less. */
Test(sweep, order_puts_undecided_and_failed_last)
{
    struct sweep sweep = {.hit_count = 2};
    cr_assert_eq(sweep_extend(&sweep, 5), STATUS_OK);
    memset(sweep.states, HIT_COMPUTED, 10);
    sweep.states[2 * 2 + 1] = HIT_NOT_COMPUTED;
    const double margins[] = {0.1, 0.5, 0.3, 0.9, NAN};
    for (size_t i = 0; i < 5; i++) {
        sweep.points[i].status = i == 3 ? SWEEP_FAILED : SWEEP_COMPUTED;
        sweep.points[i].verdict = i == 1 ? VERDICT_UNDECIDED : VERDICT_WITHIN;
        sweep.points[i].worst_margin = margins[i];
    }
    size_t *order = sweep_order(&sweep);
    const size_t wanted[] = {0, 2, 1, 3, 4};
    for (size_t i = 0; i < 5; i++)
        cr_expect_eq(order[i], wanted[i], "place %zu: %zu", i, order[i]);
    memory_free(order);
    sweep_free(&sweep);
}
