#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "cases/journal.h"
#include "cases/store.h"
#include "solver/base/memory.h"
#include "solver/base/save.h"
#include "solver/cli/command.h"
#include "solver/cli/hint.h"
#include "solver/cli/keeping.h"
#include "solver/cli/progress.h"
#include "solver/cli/result_path.h"
#include "solver/cli/summary.h"
#include "solver/cli/terminal.h"
#include "solver/study/batch.h"

/*
 * Reads and checks all cases; only when all are sound, solves them, writes their results, prints. A case that
 * is solved by several models counts as several cases.
 */

enum { MODELS_MOST = 2 };

struct run {
    const struct options *options;
    size_t count, solved;        /* cases times models */
    const char **cases;          /* (count) as they were given, each as often as there are models */
    const char **models;         /* (count) NULL: one for all */
    char names[MODELS_MOST][16]; /* of the models, when there are several */
    struct case_file *files;     /* (count) */
    struct case_result *results; /* (count), the first `solved` are filled */
    struct case_result *earlier; /* (count) read from the files that the results replace; {0} for none */
    char **paths;                /* (count) of the result files; "" for none */
    struct journal *journals;    /* (count) open until the case's result stands; {0} without a result file */
    int *kept;                   /* (count) the journal of the case stays */
};

/* --- before the first is solved --------------------------------------------------------------------------
 */

/* Takes the models apart, "columns,axisymmetric"; their count, 1 where all cases have the same. */
static size_t read_models(const struct options *options, struct run *run, struct errors *errors)
{
    size_t count = 0;
    for (const char *at = options->model; at && *at; at += *at == ',') {
        size_t length = strcspn(at, ",");
        for (size_t i = 0; i < count; i++) {
            if (strlen(run->names[i]) == length && strncmp(run->names[i], at, length) == 0) {
                errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--model names %s twice", run->names[i]);
                return 1;
            }
        }
        snprintf(run->names[count++], sizeof *run->names, "%.*s", (int)length, at);
        at += length;
    }
    return count > 1 ? count : 1;
}

static void name_cases(struct run *run, size_t models)
{
    for (size_t i = 0; i < run->count; i++) {
        run->cases[i] = run->options->operands[i / models];
        run->models[i] = models > 1 ? run->names[i % models] : NULL;
    }
}

static enum status run_make(const struct options *options, struct run *run, struct errors *errors)
{
    *run = (struct run){.options = options};
    size_t models = read_models(options, run, errors), count = models * options->operand_count;
    if (errors->count)
        return STATUS_USAGE;
    run->count = count;
    run->cases = memory_zeroed(count, sizeof *run->cases);
    run->models = memory_zeroed(count, sizeof *run->models);
    run->files = memory_zeroed(count, sizeof *run->files);
    run->results = memory_zeroed(count, sizeof *run->results);
    run->earlier = memory_zeroed(count, sizeof *run->earlier);
    run->paths = memory_zeroed(count, sizeof *run->paths);
    run->journals = memory_zeroed(count, sizeof *run->journals);
    run->kept = memory_zeroed(count, sizeof *run->kept);
    if (!run->cases || !run->models || !run->files || !run->results || !run->earlier || !run->paths ||
        !run->journals || !run->kept)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    name_cases(run, models);
    return STATUS_OK;
}

static void run_free(struct run *run)
{
    for (size_t i = 0; run->files && i < run->count; i++)
        case_free(&run->files[i]);
    for (size_t i = 0; run->results && i < run->count; i++)
        case_result_free(&run->results[i]);
    for (size_t i = 0; run->earlier && i < run->count; i++)
        case_result_free(&run->earlier[i]);
    for (size_t i = 0; run->paths && i < run->count; i++)
        memory_free(run->paths[i]);
    for (size_t i = 0; run->journals && i < run->count; i++)
        journal_close(&run->journals[i], NULL);
    memory_free(run->cases);
    memory_free(run->models);
    memory_free(run->files);
    memory_free(run->results);
    memory_free(run->earlier);
    memory_free(run->paths);
    memory_free(run->journals);
    memory_free(run->kept);
    *run = (struct run){0};
}

/* Takes every result for this process, before anything is solved. */
static enum status open_journals(struct run *run, struct errors *errors)
{
    enum status status = save_room(run->count, errors);
    for (size_t i = 0; i < run->count && status == STATUS_OK; i++) {
        if (run->paths[i][0])
            status = keeping_begin(run->paths[i], STORE_RUN, run->options->quiet, &run->journals[i], errors);
    }
    return status;
}

static enum status check_case(struct run *run, size_t at, struct errors *errors)
{
    struct case_file *file = &run->files[at];
    enum status status = batch_check(file, NULL, errors);
    const char *model = run->options->model;
    if (status == STATUS_OK && file->pad.present && model && strcmp(model, "pad") != 0)
        status = errors_add(errors, STATUS_USAGE, run->cases[at], 0, 0,
                            "is a pad, which has one model: --model is for helmets");
    if (status != STATUS_OK)
        case_free(file);
    return status;
}

/* Reads and checks every case, also after one that is bad, so that all messages come at once. */
static enum status run_check(struct run *run, struct errors *errors)
{
    const struct options *options = run->options;
    enum status status =
        result_paths(run->cases, run->models, run->count, options->output, run->paths, errors);
    if (status == STATUS_USAGE)
        return status;
    for (size_t i = 0; i < run->count && status != STATUS_MEMORY; i++) {
        if (i > 0 && run->cases[i] == run->cases[i - 1] && !run->files[i - 1].path)
            continue; /* its faults are told */
        enum status found =
            case_load(run->cases[i], options->sets, options->set_count, &run->files[i], errors);
        if (found == STATUS_OK)
            found = check_case(run, i, errors);
        status = status_worse(status, found);
    }
    struct store_options store = {.force = options->force};
    for (size_t i = 0; i < run->count && status == STATUS_OK; i++) {
        if (run->paths[i][0])
            status = store_check(run->paths[i], &store, errors);
    }
    return status == STATUS_OK ? open_journals(run, errors) : status;
}

/* --- solving ---------------------------------------------------------------------------------------------
 */

static int any_computed(const struct case_result *result)
{
    for (size_t i = 0; i < result->hit_count; i++) {
        if (result->hits[i].status == HIT_COMPUTED)
            return 1;
    }
    return 0;
}

/* Reads what is about to be replaced. A file that is damaged, or not ours, has nothing to compare with. */
static void read_earlier(struct run *run, size_t at)
{
    struct errors errors = {0};
    if (access(run->paths[at], F_OK) == 0)
        store_read(run->paths[at], &run->earlier[at], &errors);
}

/* An interrupted case of which nothing is solved does not take the place of an earlier result. */
static enum status write_result(struct run *run, size_t at, struct errors *errors)
{
    struct case_result *result = &run->results[at];
    struct store_options store = {.force = run->options->force};
    if (!run->paths[at][0] || (*terminal_interrupted() && !any_computed(result)))
        return STATUS_OK;
    char *name = memory_text(run->paths[at]);
    if (!name)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    memory_free(result->result_file);
    result->result_file = name;
    read_earlier(run, at);
    enum status status = store_write(run->paths[at], result, &store, errors);
    if (status != STATUS_OK)
        result->result_file[0] = '\0';
    return status;
}

/* The files kept are told together, at the end. */
static enum status end_journal(struct run *run, size_t at, enum status found, const struct errors *failed,
                               struct errors *errors)
{
    struct journal *journal = &run->journals[at];
    int stands = (found == STATUS_OK || found == STATUS_COMPUTATION) && run->results[at].result_file[0];
    run->kept[at] = journal->open && !stands && any_computed(&run->results[at]) && !journal->failed;
    return keeping_end(journal, stands, failed, 1, errors);
}

/* What the callbacks of a batch need. */
struct solving {
    const struct run *run;
    struct progress progress;
};

static void on_progress(void *context, size_t done, size_t all)
{
    progress_step(&((struct solving *)context)->progress, done, all);
}

static void on_resumed(void *context, size_t taken, size_t all)
{
    struct solving *solving = context;
    const struct journal *journal = &solving->run->journals[solving->run->solved];
    progress_resumed(&solving->progress, taken);
    if (solving->run->options->quiet)
        return;
    terminal_print(stderr, STYLE_PLAIN, "%s: %zu of %zu impacts taken from the journal", journal->path, taken,
                   all);
    if (journal->count > taken)
        terminal_print(stderr, STYLE_PLAIN, "; %zu others in it are not of this state of the case",
                       journal->count - taken);
    terminal_print(stderr, STYLE_PLAIN, "\n");
}

static enum status solve_case(struct run *run, struct solving *solving, struct errors *errors)
{
    size_t at = run->solved;
    struct errors failed = {0};
    struct batch_options batch = {.threads = run->options->jobs,
                                  .model = run->models[at] ? run->models[at] : run->options->model,
                                  .interrupted = terminal_interrupted(),
                                  .progress = on_progress,
                                  .resumed = on_resumed,
                                  .context = solving,
                                  .journal = run->journals[at].open ? &run->journals[at] : NULL,
                                  .journal_errors = &failed};
    enum status found = batch_run(&run->files[at], &batch, &run->results[at], errors);
    solving->progress.before += case_impact_count(&run->files[at]);
    if (found == STATUS_INTERRUPTED)
        found = terminal_signal();
    if (!run->results[at].hits)
        return found;
    run->solved++;
    enum status written = write_result(run, at, errors);
    return status_worse(status_worse(found, written),
                        end_journal(run, at, status_worse(found, written), &failed, errors));
}

/* Solves and stores case by case. A failed impact or a full disk does not stop the other cases. */
static enum status run_solve(struct run *run, struct errors *errors)
{
    struct solving solving = {.run = run};
    size_t impacts = 0;
    for (size_t i = 0; i < run->count; i++)
        impacts += case_impact_count(&run->files[i]);
    progress_start(&solving.progress, "impacts", impacts, run->options->quiet || run->options->json);
    enum status status = STATUS_OK;
    while (run->solved < run->count && status != STATUS_MEMORY && !*terminal_interrupted()) {
        size_t before = run->solved;
        status = status_worse(status, solve_case(run, &solving, errors));
        if (run->solved == before)
            break;
    }
    progress_end(&solving.progress);
    return status;
}

/* --- printing --------------------------------------------------------------------------------------------
 */

/* Is there anything that --gate does not let through? Tight is under its limit. Tests of impacts that are not
 * covered make the verdict incomplete; what the model does not touch at all is only listed. */
static int gate_closed(const struct case_result *result)
{
    int closed = result->verdict != VERDICT_WITHIN && result->verdict != VERDICT_TIGHT;
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct hit_result *hit = &result->hits[i];
        closed |= hit->status != HIT_COMPUTED || hit->judgement_count == 0;
        for (size_t k = 0; k < hit->judgement_count; k++)
            closed |= hit->judgements[k].state == VERDICT_NO_LIMIT;
    }
    return closed;
}

static enum status run_gate(const struct run *run)
{
    for (size_t i = 0; run->options->gate && i < run->solved; i++) {
        if (gate_closed(&run->results[i]))
            return STATUS_GATE;
    }
    return STATUS_OK;
}

static enum status print(const struct run *run)
{
    if (run->options->json) {
        json_t *object = summary_json(run->results, run->solved);
        enum status status = terminal_json(object);
        json_decref(object);
        return status;
    }
    enum status status = summary_print(run->results, run->solved, run->options->all, run->options->verbose);
    if (status == STATUS_OK)
        status = summary_compare(run->results, run->solved, run->options->all);
    for (size_t i = 0; i < run->solved && status == STATUS_OK; i++) {
        if (run->earlier[i].hit_count && run->results[i].result_file[0])
            status = summary_changes(&run->earlier[i], &run->results[i]);
    }
    summary_verdicts(run->results, run->solved);
    return status;
}

static void print_files(const struct run *run)
{
    for (size_t i = 0; i < run->solved; i++) {
        if (run->results[i].result_file[0])
            terminal_print(stderr, STYLE_PLAIN, "wrote %s\n", run->results[i].result_file);
    }
    for (size_t i = 0; i < run->solved; i++) {
        if (run->kept[i])
            terminal_print(stderr, STYLE_PLAIN,
                           "kept what is solved in %s" JOURNAL_SUFFIX
                           ": the same command goes on from there\n",
                           run->paths[i]);
    }
}

enum status command_run(const struct options *options)
{
    struct errors errors = {0};
    struct run run;
    enum status status = run_make(options, &run, &errors);
    if (status == STATUS_OK)
        status = run_check(&run, &errors);
    if (status == STATUS_OK) {
        status = run_solve(&run, &errors);
        if (run.solved > 0)
            status = status_worse(status, print(&run));
        terminal_flush();
        status = status_worse(status, run_gate(&run));
        if (!options->quiet) {
            print_files(&run);
            hint_after_run(options, run.files, run.results, run.solved);
        }
    }
    terminal_errors(&errors, options->json);
    run_free(&run);
    return status;
}
