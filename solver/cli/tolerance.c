#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/cli/command.h"
#include "solver/cli/layouts.h"
#include "solver/cli/terminal.h"
#include "solver/cli/tolerance_text.h"
#include "solver/study/measured.h"
#include "solver/study/scatter.h"
#include "solver/study/tolerance.h"

/*
 * Solves a case as its production scatters and holds mean + k s against each limit.
 */

struct study {
    const struct options *options;
    struct case_file file;
    struct scatter scatter;
    double *standard;   /* (runs x sources) */
    struct sweep sweep; /* its first row is the case as written */
    struct layouts layouts;
    struct tolerance tolerance;
};

static void study_free(struct study *study)
{
    case_free(&study->file);
    scatter_free(&study->scatter);
    sweep_free(&study->sweep);
    tolerance_free(&study->tolerance);
    layouts_free(&study->layouts);
    memory_free(study->standard);
}

/* --- beginning --- */

static enum status load(struct study *study, struct errors *errors)
{
    const struct options *options = study->options;
    enum status status = layouts_load(options, "tolerance", NULL, &study->file, errors);
    if (status == STATUS_OK)
        status = scatter_resolve(&study->file, &study->scatter, errors);
    if (status == STATUS_OK)
        status = explore_begin(&study->file, study->scatter.factors, study->scatter.factor_count,
                               options->model, &study->sweep, errors);
    return status;
}

static enum status open_files(struct study *study, struct errors *errors)
{
    study->layouts = (struct layouts){.options = study->options,
                                      .schema = STORE_TOLERANCE,
                                      .name = "tolerance",
                                      .what = "is of another case, of other values that scatter"};
    enum status status = layouts_name(&study->layouts, errors);
    return status == STATUS_OK ? layouts_open(&study->layouts, study->sweep.frame, errors) : status;
}

/* --- layouts --- */

/* The range that the values of a factor were drawn from is told by their ends. */
static void note_ends(struct sweep *sweep)
{
    for (size_t i = 0; i < sweep->factor_count; i++) {
        struct factor *factor = &sweep->factors[i];
        factor->low = factor->high = sweep_values(sweep, 1)[i];
        for (size_t row = 2; row < sweep->point_count; row++) {
            factor->low = fmin(factor->low, sweep_values(sweep, row)[i]);
            factor->high = fmax(factor->high, sweep_values(sweep, row)[i]);
        }
    }
}

/* The case as written, number 0, then the sample. */
static enum status make_rows(struct study *study)
{
    const struct scatter *scatter = &study->scatter;
    struct sweep *sweep = &study->sweep;
    size_t runs = study->file.tolerance.runs;
    study->standard = memory_doubles(runs * scatter->source_count + 1);
    enum status status = study->standard ? sweep_extend(sweep, runs + 1) : STATUS_MEMORY;
    if (status != STATUS_OK)
        return status;
    for (size_t i = 0; i < scatter->factor_count; i++)
        sweep_values(sweep, 0)[i] = scatter->places[i].nominal;
    scatter_draw(scatter, runs, study->file.tolerance.seed, study->standard, sweep_values(sweep, 1));
    for (size_t row = 0; row <= runs; row++)
        sweep->points[row].number = (long)row;
    note_ends(sweep);
    snprintf(sweep->sample, sizeof sweep->sample, "tolerance");
    sweep->seed = (long)study->file.tolerance.seed;
    sweep->asked = (long)runs;
    return STATUS_OK;
}

static enum status solve(struct study *study, struct errors *errors)
{
    struct explore_options explore;
    layouts_start(&study->layouts, "layouts", study->sweep.point_count, &explore);
    enum status status = explore_solve(&study->file, &explore, 0, &study->sweep, errors);
    status = layouts_end(&study->layouts, status, errors);
    return status == STATUS_OK ? layouts_store(&study->layouts, &study->sweep, errors) : status;
}

/* --- telling --- */

static enum status print(struct study *study)
{
    const struct case_tolerance *asked = &study->file.tolerance;
    const struct tolerance_report report = {
        .sweep = &study->sweep,
        .scatter = &study->scatter,
        .tolerance = &study->tolerance,
        .factor_provenance = asked->factor_given ? "given in the case" : MEASURED_FACTOR_PROVENANCE,
        .result_file = study->layouts.path};
    enum status status = tolerance_evaluate(&study->sweep, study->scatter.source_count, study->standard,
                                            asked->factor, &study->tolerance);
    if (status != STATUS_OK)
        return status;
    return study->options->json ? tolerance_json(&report) : tolerance_print(&report, study->options->all);
}

enum status command_tolerance(const struct options *options)
{
    struct errors errors = {0};
    struct study study = {.options = options};
    enum status status = load(&study, &errors);
    if (status == STATUS_OK)
        status = open_files(&study, &errors);
    if (status == STATUS_OK)
        status = make_rows(&study);
    if (status == STATUS_OK)
        status = solve(&study, &errors);
    if (status == STATUS_OK) {
        status = print(&study);
        terminal_flush();
        layouts_say(&study.layouts, "layouts", study.file.tolerance.runs + 1);
    }
    if (status == STATUS_MEMORY && errors.count == 0)
        errors_add(&errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    terminal_errors(&errors, options->json);
    study_free(&study);
    return status;
}
