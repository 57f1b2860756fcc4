#include <stdio.h>
#include <string.h>

#include "cases/store.h"
#include "solver/base/memory.h"
#include "solver/cli/command.h"
#include "solver/cli/summary.h"
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

enum status command_show(const struct options *options)
{
    struct errors errors = {0};
    enum status status = STATUS_OK;
    if (options->json && options->csv)
        errors_add(&errors, STATUS_USAGE, NULL, 0, 0, "--json and --csv: one of the two");
    if (options->all && (options->json || options->csv))
        errors_add(&errors, STATUS_USAGE, NULL, 0, 0,
                   "--all means nothing here: --json and --csv hold every row");
    struct case_result *results = memory_zeroed(options->operand_count, sizeof *results);
    if (!results)
        errors_add(&errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    for (size_t i = 0; results && !errors.count && i < options->operand_count; i++)
        store_read(options->operands[i], &results[i], &errors);
    status = errors_status(&errors);
    if (status == STATUS_OK && options->json)
        status = print_json(results, options->operand_count);
    else if (status == STATUS_OK && options->csv)
        summary_csv(results, options->operand_count);
    else if (status == STATUS_OK)
        status = print_all(results, options->operand_count, options);
    terminal_errors(&errors, options->json);
    for (size_t i = 0; results && i < options->operand_count; i++)
        case_result_free(&results[i]);
    memory_free(results);
    return status;
}
