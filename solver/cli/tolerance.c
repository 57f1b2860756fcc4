#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/journal.h"
#include "cases/store_sweep.h"
#include "solver/base/memory.h"
#include "solver/base/save.h"
#include "solver/cli/command.h"
#include "solver/cli/progress.h"
#include "solver/cli/result_path.h"
#include "solver/cli/terminal.h"
#include "solver/cli/tolerance_text.h"
#include "solver/study/explore.h"
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
    double *standard;     /* (runs x sources) */
    char *path;           /* of the result, "" for none */
    struct sweep earlier; /* what stands there; {0} */
    struct sweep sweep;   /* its first row is the case as written */
    struct tolerance tolerance;
    struct journal journal; /* {0} without a result file */
    size_t taken;           /* rows that were there */
    struct progress progress;
};

static void study_free(struct study *study)
{
    case_free(&study->file);
    scatter_free(&study->scatter);
    sweep_free(&study->earlier);
    sweep_free(&study->sweep);
    tolerance_free(&study->tolerance);
    journal_close(&study->journal, NULL);
    memory_free(study->standard);
    memory_free(study->path);
}

/* --- beginning --- */

static enum status load(struct study *study, struct errors *errors)
{
    const struct options *options = study->options;
    if (options->model && strchr(options->model, ','))
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "tolerance takes one model, not '%s'",
                          options->model);
    enum status status =
        case_load(options->operands[0], options->sets, options->set_count, &study->file, errors);
    if (status == STATUS_OK)
        status = scatter_resolve(&study->file, &study->scatter, errors);
    if (status == STATUS_OK)
        status = explore_begin(&study->file, study->scatter.factors, study->scatter.factor_count,
                               options->model, &study->sweep, errors);
    return status;
}

/* Reads what stands under the name, if it can be added to. */
static enum status read_earlier(struct study *study, struct errors *errors)
{
    if (!store_sweep_there(study->path, STORE_TOLERANCE) || study->options->force)
        return STATUS_OK;
    enum status status = store_sweep_read(study->path, STORE_TOLERANCE, &study->earlier, errors);
    if (status == STATUS_OK && strcmp(study->earlier.frame, study->sweep.frame) != 0)
        status =
            errors_add(errors, STATUS_FILE, study->path, 0, 0,
                       "is of another case, of other values that scatter, or by another program or model, "
                       "and is not added to: -f replaces it, -o names another file");
    return status;
}

static enum status open_files(struct study *study, struct errors *errors)
{
    const struct options *options = study->options;
    const char *name = "tolerance";
    enum status status = result_paths(options->operands, &name, 1, options->output, &study->path, errors);
    if (status != STATUS_OK || !study->path[0])
        return status;
    status = store_sweep_check(study->path, STORE_TOLERANCE, options->force, errors);
    if (status == STATUS_OK)
        status = read_earlier(study, errors);
    if (status == STATUS_OK)
        status = save_room(1, errors);
    if (status == STATUS_OK)
        status = journal_open(study->path, STORE_TOLERANCE, &study->journal, errors);
    if (study->journal.cut > 0 && !options->quiet)
        terminal_print(stderr, STYLE_PLAIN, "%s: %llu bytes behind its last whole record are cut off\n",
                       study->journal.path, (unsigned long long)study->journal.cut);
    return status;
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

static void on_progress(void *context, size_t done, size_t taken, size_t all)
{
    struct study *study = context;
    study->taken = taken;
    progress_taken(&study->progress, taken);
    progress_step(&study->progress, done, all);
}

static void add_failed(const struct errors *failed, struct errors *errors)
{
    for (size_t i = 0; i < failed->count && i < ERRORS_KEPT; i++)
        errors_add(errors, failed->kept[i].status, failed->kept[i].file, 0, 0, "%s", failed->kept[i].text);
}

/* Writes the result, and only then lets the journal go. */
static enum status store(struct study *study, const struct errors *failed, struct errors *errors)
{
    if (!study->path[0])
        return STATUS_OK;
    enum status status = explore_keep(&study->earlier, &study->sweep);
    if (status == STATUS_OK)
        status = store_sweep_write(study->path, STORE_TOLERANCE, &study->sweep, errors);
    if (status == STATUS_OK)
        return journal_remove(&study->journal, errors);
    add_failed(failed, errors);
    return status_worse(status, errors_status(failed));
}

static enum status solve(struct study *study, struct errors *errors)
{
    const struct options *options = study->options;
    struct errors failed = {0};
    struct explore_options explore = {.threads = options->jobs,
                                      .model = options->model,
                                      .interrupted = terminal_interrupted(),
                                      .progress = on_progress,
                                      .context = study,
                                      .journal = study->journal.open ? &study->journal : NULL,
                                      .journal_errors = &failed,
                                      .earlier = study->earlier.point_count ? &study->earlier : NULL};
    progress_start(&study->progress, "layouts", study->sweep.point_count, options->quiet || options->json);
    enum status status = explore_solve(&study->file, &explore, 0, &study->sweep, errors);
    progress_end(&study->progress);
    if (status == STATUS_INTERRUPTED)
        status = terminal_signal();
    if (status == STATUS_OK)
        return store(study, &failed, errors);
    int kept = study->journal.open && !study->journal.failed;
    add_failed(&failed, errors);
    if (kept && study->journal.count > 0)
        terminal_print(stderr, STYLE_PLAIN,
                       "kept what is solved in %s: the same command goes on from there\n",
                       study->journal.path);
    return status_worse(status, journal_close(&study->journal, errors));
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
        .result_file = study->path};
    enum status status = tolerance_evaluate(&study->sweep, study->scatter.source_count, study->standard,
                                            asked->factor, &study->tolerance);
    if (status != STATUS_OK)
        return status;
    return study->options->json ? tolerance_json(&report) : tolerance_print(&report, study->options->all);
}

static void print_files(const struct study *study)
{
    if (study->taken > 0)
        terminal_print(stderr, STYLE_PLAIN, "%zu of %zu layouts were there and were not solved again\n",
                       study->taken, study->file.tolerance.runs + 1);
    if (study->path[0])
        terminal_print(stderr, STYLE_PLAIN, "wrote %s\n", study->path);
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
        if (!options->quiet)
            print_files(&study);
    }
    if (status == STATUS_MEMORY && errors.count == 0)
        errors_add(&errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    terminal_errors(&errors, options->json);
    study_free(&study);
    return status;
}
