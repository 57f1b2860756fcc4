#include <stdio.h>
#include <string.h>

#include "cases/store.h"
#include "cases/store_sweep.h"
#include "solver/base/memory.h"
#include "solver/cli/command.h"
#include "solver/cli/summary.h"
#include "solver/cli/sweep_text.h"
#include "solver/cli/terminal.h"

static enum status print_all(const struct case_result *results, size_t count, const struct options *options)
{
    enum status status = summary_print(results, count, options->all, options->verbose);
    if (status == STATUS_OK)
        status = summary_compare(results, count, options->all);
    summary_verdicts(results, count);
    return status;
}

static enum status print_json(const struct case_result *results, size_t count)
{
    json_t *object = summary_json(results, count);
    enum status status = terminal_json(object);
    json_decref(object);
    return status;
}

/* --- sweeps --- */

/* The row of a point by its number. */
static enum status print_point(const struct sweep *sweep, const struct options *options,
                               struct errors *errors)
{
    for (size_t i = 0; i < sweep->point_count; i++) {
        if (sweep->points[i].number == options->point)
            return sweep_print_point(sweep, i);
    }
    return errors_add(errors, STATUS_USAGE, options->operands[0], 0, 0,
                      "has no layout number %d; they are counted from 1, %ld of them", options->point,
                      sweep->asked);
}

static enum status show_sweep(const char *schema, const struct options *options, struct errors *errors)
{
    struct sweep sweep;
    const char *path = options->operands[0];
    enum status status = STATUS_OK;
    if (options->operand_count > 1)
        status = errors_add(errors, STATUS_USAGE, path, 0, 0, "is a sweep: show prints one at a time");
    if (options->point && (options->json || options->csv || options->all))
        status = errors_add(errors, STATUS_USAGE, NULL, 0, 0,
                            "--point prints one layout in full: without --json, --csv and --all");
    if (status == STATUS_OK)
        status = store_sweep_read(path, schema, &sweep, errors);
    if (status != STATUS_OK)
        return status;
    if (options->json)
        status = sweep_json(&sweep, path);
    else if (options->csv)
        sweep_csv(&sweep);
    else if (options->point)
        status = print_point(&sweep, options, errors);
    else
        status = sweep_print(&sweep, options->all);
    sweep_free(&sweep);
    return status;
}

/* --- runs --- */

static enum status show_runs(const struct options *options, struct errors *errors)
{
    struct case_result *results = memory_zeroed(options->operand_count, sizeof *results);
    if (!results)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    if (options->point)
        errors_add(errors, STATUS_USAGE, options->operands[0], 0, 0,
                   "is no sweep: --point is for its layouts");
    for (size_t i = 0; !errors->count && i < options->operand_count; i++)
        store_read(options->operands[i], &results[i], errors);
    enum status status = errors_status(errors);
    if (status == STATUS_OK && options->json)
        status = print_json(results, options->operand_count);
    else if (status == STATUS_OK && options->csv)
        summary_csv(results, options->operand_count);
    else if (status == STATUS_OK)
        status = print_all(results, options->operand_count, options);
    for (size_t i = 0; i < options->operand_count; i++)
        case_result_free(&results[i]);
    memory_free(results);
    return status;
}

enum status command_show(const struct options *options)
{
    struct errors errors = {0};
    if (options->json && options->csv)
        errors_add(&errors, STATUS_USAGE, NULL, 0, 0, "--json and --csv: one of the two");
    if (options->all && (options->json || options->csv))
        errors_add(&errors, STATUS_USAGE, NULL, 0, 0,
                   "--all means nothing here: --json and --csv hold every row");
    const char *schema = store_sweep_kind(options->operands[0]);
    enum status status = errors_status(&errors);
    if (status == STATUS_OK)
        status = schema ? show_sweep(schema, options, &errors) : show_runs(options, &errors);
    terminal_errors(&errors, options->json);
    return status;
}
