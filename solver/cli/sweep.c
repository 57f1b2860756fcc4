#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/cli/command.h"
#include "solver/cli/layouts.h"
#include "solver/cli/sweep_text.h"
#include "solver/cli/terminal.h"
#include "solver/study/sampling.h"

/*
 * Solves the layouts that `sweep` of a case asks for and adds them to CASE.sweep.h5.
 */

enum { POINTS_MOST = 100000, NAME = 32 };

struct study {
    const struct options *options;
    struct case_file file;
    struct sweep sweep;
    struct layouts layouts;
    char name[NAME];      /* "sweep" of CASE.sweep.h5, with the share */
    size_t share, shares; /* of the points, from 1; 0 of 0: all */
};

static void study_free(struct study *study)
{
    case_free(&study->file);
    sweep_free(&study->sweep);
    layouts_free(&study->layouts);
}

/* --- reading --- */

/* "2/5" */
static enum status read_share(struct study *study, struct errors *errors)
{
    const char *text = study->options->share;
    unsigned share = 0, shares = 0;
    int length = 0;
    if (!text)
        return STATUS_OK;
    if (sscanf(text, "%5u/%5u%n", &share, &shares, &length) != 2 || text[length] || share < 1 ||
        share > shares)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0,
                          "--share takes K/N, the K-th of N shares, 1 <= K <= N; not '%s'", text);
    study->share = share;
    study->shares = shares;
    return STATUS_OK;
}

static enum status load(struct study *study, struct errors *errors)
{
    enum status status = read_share(study, errors);
    if (status == STATUS_OK)
        status = layouts_load(study->options, "sweep",
                              ": sweep: {vary: {liner.density: {from: 40 kg/m3, to: 60 kg/m3, step: 5 "
                              "kg/m3}}}",
                              &study->file, errors);
    return status;
}

/* --- points --- */

static size_t point_count(const struct case_sweep *sweep)
{
    size_t levels[FACTORS_MOST];
    if (sweep->sample != SAMPLE_GRID)
        return sweep->points;
    for (size_t i = 0; i < sweep->factor_count; i++)
        levels[i] = sweep->factors[i].level_count;
    return sampling_grid_count(levels, sweep->factor_count);
}

/* A case with `tune` may have ranges without values, which are no grid. */
static enum status check_grid(const struct study *study, struct errors *errors)
{
    const struct case_sweep *sweep = &study->file.sweep;
    for (size_t i = 0; sweep->sample == SAMPLE_GRID && i < sweep->factor_count; i++) {
        if (sweep->factors[i].level_count == 0)
            return node_error(
                &study->file.tree, sweep->factors[i].given, errors,
                "a grid needs the values of %s: add `step` or `count`, or take sample: latin or "
                "sobol",
                sweep->factors[i].path);
    }
    return STATUS_OK;
}

static enum status check_count(const struct study *study, struct errors *errors)
{
    size_t count = point_count(&study->file.sweep);
    size_t most = study->options->max_points > 0 ? (size_t)study->options->max_points : POINTS_MOST;
    if (count <= most)
        return STATUS_OK;
    if (count == (size_t)-1)
        return node_error(&study->file.tree, study->file.sweep.place, errors,
                          "the grid has more points than can be counted");
    return node_error(&study->file.tree, study->file.sweep.place, errors,
                      "the sweep has %zu points, more than %zu: take fewer, or --max-points %zu", count, most,
                      count);
}

/* Values of all points (count x factors). */
static void sample(const struct case_sweep *sweep, size_t count, double *values)
{
    size_t levels[FACTORS_MOST], index[FACTORS_MOST], factors = sweep->factor_count;
    for (size_t i = 0; i < factors; i++)
        levels[i] = sweep->factors[i].level_count;
    if (sweep->sample == SAMPLE_LATIN)
        sampling_latin(count, factors, sweep->seed, values);
    else if (sweep->sample == SAMPLE_SOBOL)
        sampling_sobol(count, factors, sweep->seed, values);
    for (size_t p = 0; p < count; p++) {
        if (sweep->sample == SAMPLE_GRID)
            sampling_grid_index(levels, factors, p, index);
        for (size_t i = 0; i < factors; i++) {
            double *value = &values[p * factors + i];
            *value = sweep->sample == SAMPLE_GRID ? sweep->factors[i].levels[index[i]]
                                                  : factor_at(&sweep->factors[i], *value);
        }
    }
}

/* Rows for the points of this share, numbered through the whole sample. */
static enum status make_rows(struct study *study)
{
    static const char *const names[] = {"grid", "latin", "sobol"};
    const struct case_sweep *asked = &study->file.sweep;
    struct sweep *sweep = &study->sweep;
    size_t count = point_count(asked), shares = study->shares > 0 ? study->shares : 1;
    size_t first = study->share > 0 ? study->share - 1 : 0, factors = asked->factor_count;
    double *values = memory_doubles(count * factors + 1);
    enum status status = values ? sweep_extend(sweep, (count + shares - 1 - first) / shares) : STATUS_MEMORY;
    if (status == STATUS_OK) {
        sample(asked, count, values);
        for (size_t p = first, row = 0; p < count; p += shares, row++) {
            sweep->points[row].number = (long)p + 1;
            memcpy(sweep_values(sweep, row), values + p * factors, factors * sizeof *values);
        }
    }
    snprintf(sweep->sample, sizeof sweep->sample, "%s", names[asked->sample]);
    sweep->seed = asked->sample == SAMPLE_GRID ? 0 : (long)asked->seed;
    sweep->asked = (long)count;
    memory_free(values);
    return status;
}

/* --- files --- */

static enum status open_files(struct study *study, struct errors *errors)
{
    snprintf(study->name, NAME, "sweep");
    if (study->share > 0)
        snprintf(study->name, NAME, "sweep.%zu-of-%zu", study->share, study->shares);
    study->layouts = (struct layouts){.options = study->options,
                                      .schema = STORE_SWEEP,
                                      .name = study->name,
                                      .what = "is a sweep of another case, of other factors"};
    enum status status = layouts_name(&study->layouts, errors);
    return status == STATUS_OK ? layouts_open(&study->layouts, study->sweep.frame, errors) : status;
}

/* --- solving --- */

static enum status solve(struct study *study, struct errors *errors)
{
    struct explore_options explore;
    layouts_start(&study->layouts, "layouts", study->sweep.point_count, &explore);
    enum status status = explore_solve(&study->file, &explore, 0, &study->sweep, errors);
    status = layouts_end(&study->layouts, status, errors);
    return status == STATUS_OK ? layouts_store(&study->layouts, &study->sweep, errors) : status;
}

static enum status print(const struct study *study)
{
    const struct options *options = study->options;
    if (options->json)
        return sweep_json(&study->sweep, study->layouts.path);
    return sweep_print(&study->sweep, options->all);
}

enum status command_sweep(const struct options *options)
{
    struct errors errors = {0};
    struct study study = {.options = options};
    enum status status = load(&study, &errors);
    if (status == STATUS_OK)
        status = check_grid(&study, &errors);
    if (status == STATUS_OK)
        status = check_count(&study, &errors);
    if (status == STATUS_OK)
        status = explore_begin(&study.file, study.file.sweep.factors, study.file.sweep.factor_count,
                               options->model, &study.sweep, &errors);
    if (status == STATUS_OK)
        status = open_files(&study, &errors);
    if (status == STATUS_OK)
        status = make_rows(&study);
    if (status == STATUS_OK)
        status = solve(&study, &errors);
    if (status == STATUS_OK) {
        status = print(&study);
        terminal_flush();
        layouts_say(&study.layouts, "layouts", study.sweep.point_count);
    }
    if (status == STATUS_MEMORY && errors.count == 0)
        errors_add(&errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    terminal_errors(&errors, options->json);
    study_free(&study);
    return status;
}
