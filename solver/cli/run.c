#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "cases/store.h"
#include "solver/base/memory.h"
#include "solver/cli/command.h"
#include "solver/cli/hint.h"
#include "solver/cli/progress.h"
#include "solver/cli/result_path.h"
#include "solver/cli/summary.h"
#include "solver/cli/terminal.h"
#include "solver/study/batch.h"

/*
 * Reads and checks all cases; only when all are sound, solves them, writes their results, prints.
 */

struct run {
    const struct options *options;
    size_t count, solved;
    struct case_file *files;     /* (count) */
    struct case_result *results; /* (count), the first `solved` are filled */
    struct case_result *earlier; /* (count) read from the files that the results replace; {0} for none */
    char **paths;                /* (count) of the result files; "" for none */
};

/* --- before the first is solved --------------------------------------------------------------------------
 */

static enum status run_make(const struct options *options, struct run *run, struct errors *errors)
{
    size_t count = options->operand_count;
    *run = (struct run){.options = options, .count = count};
    run->files = memory_zeroed(count, sizeof *run->files);
    run->results = memory_zeroed(count, sizeof *run->results);
    run->earlier = memory_zeroed(count, sizeof *run->earlier);
    run->paths = memory_zeroed(count, sizeof *run->paths);
    if (!run->files || !run->results || !run->earlier || !run->paths)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
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
    memory_free(run->files);
    memory_free(run->results);
    memory_free(run->earlier);
    memory_free(run->paths);
    *run = (struct run){0};
}

/* Reads and checks every case, also after one that is bad, so that all messages come at once. */
static enum status run_check(struct run *run, struct errors *errors)
{
    const struct options *options = run->options;
    enum status status = result_paths(options->operands, run->count, options->output, run->paths, errors);
    if (status == STATUS_USAGE)
        return status;
    for (size_t i = 0; i < run->count && status != STATUS_MEMORY; i++) {
        enum status found =
            case_load(options->operands[i], options->sets, options->set_count, &run->files[i], errors);
        if (found == STATUS_OK)
            found = batch_check(&run->files[i], errors);
        status = status_worse(status, found);
    }
    struct store_options store = {.force = options->force};
    for (size_t i = 0; i < run->count && status == STATUS_OK; i++) {
        if (run->paths[i][0])
            status = store_check(run->paths[i], &store, errors);
    }
    return status;
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

/* Solves and stores case by case. A failed impact or a full disk does not stop the other cases. */
static enum status run_solve(struct run *run, struct errors *errors)
{
    struct progress progress;
    size_t impacts = 0;
    for (size_t i = 0; i < run->count; i++)
        impacts += run->files[i].impact_count;
    progress_start(&progress, "impacts", impacts, run->options->quiet || run->options->json);
    struct batch_options batch = {.threads = run->options->jobs,
                                  .model = run->options->model,
                                  .interrupted = terminal_interrupted(),
                                  .progress = progress_step,
                                  .context = &progress};
    enum status status = STATUS_OK;
    for (size_t i = 0; i < run->count && status != STATUS_MEMORY && !*terminal_interrupted(); i++) {
        enum status found = batch_run(&run->files[i], &batch, &run->results[i], errors);
        progress.before += run->files[i].impact_count;
        if (found == STATUS_INTERRUPTED)
            found = terminal_signal();
        if (found != STATUS_MEMORY)
            found = status_worse(found, write_result(run, run->solved++, errors));
        status = status_worse(status, found);
    }
    progress_end(&progress);
    return status;
}

/* --- printing --------------------------------------------------------------------------------------------
 */

/* Is there a hit that --gate does not let through? Tight is under its limit. */
static int gate_closed(const struct case_result *result)
{
    int closed = result->not_covered_count > 0 ||
                 (result->verdict != VERDICT_WITHIN && result->verdict != VERDICT_TIGHT);
    for (size_t i = 0; i < result->hit_count; i++)
        closed |= result->hits[i].status != HIT_COMPUTED || result->hits[i].judgement_count == 0;
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
            hint_after_run(run.files, run.results, run.solved);
        }
    }
    terminal_errors(&errors, options->json);
    run_free(&run);
    return status;
}
