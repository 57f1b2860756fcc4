#include <stdio.h>
#include <string.h>

#include "cases/store_sweep.h"
#include "solver/base/memory.h"
#include "solver/cli/command.h"
#include "solver/cli/sweep_text.h"
#include "solver/cli/terminal.h"
#include "solver/study/explore.h"

/*
 * Puts the files of `sweep --share` together.
 */

enum { PATH = 4096 };

struct merge {
    const struct options *options;
    size_t count;
    struct sweep *shares; /* (count) */
    struct sweep whole;
    char path[PATH];
};

static void merge_free(struct merge *merge)
{
    for (size_t i = 0; merge->shares && i < merge->count; i++)
        sweep_free(&merge->shares[i]);
    memory_free(merge->shares);
    sweep_free(&merge->whole);
}

/* Beside the first share: CASE.sweep.2-of-5.h5 is one of CASE.sweep.h5. */
static enum status name_result(struct merge *merge, struct errors *errors)
{
    const char *first = merge->options->operands[0], *mark = strstr(first, ".sweep.");
    for (const char *next = mark; next; next = strstr(next + 1, ".sweep."))
        mark = next;
    int length = -1;
    if (merge->options->output)
        length = snprintf(merge->path, PATH, "%s", merge->options->output);
    else if (mark)
        length = snprintf(merge->path, PATH, "%.*s.sweep.h5", (int)(mark - first), first);
    if (length < 0)
        return errors_add(errors, STATUS_USAGE, first, 0, 0,
                          "is not called CASE.sweep.K-of-N.h5: -o says what the result is called");
    if (length >= PATH)
        return errors_add(errors, STATUS_FILE, first, 0, 0, "the name of the result would be too long");
    for (size_t i = 0; i < merge->count; i++) {
        if (strcmp(merge->options->operands[i], merge->path) == 0)
            return errors_add(errors, STATUS_USAGE, merge->path, 0, 0,
                              "is one of the shares: -o names another file for the result");
    }
    if (store_sweep_there(merge->path, STORE_SWEEP) && !merge->options->force)
        return errors_add(errors, STATUS_FILE, merge->path, 0, 0, "is there already: -f replaces it");
    return store_sweep_check(merge->path, STORE_SWEEP, merge->options->force, errors);
}

static enum status read_shares(struct merge *merge, struct errors *errors)
{
    enum status status = STATUS_OK;
    merge->shares = memory_zeroed(merge->count, sizeof *merge->shares);
    if (!merge->shares)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    for (size_t i = 0; i < merge->count && status != STATUS_MEMORY; i++)
        status = status_worse(
            status, store_sweep_read(merge->options->operands[i], STORE_SWEEP, &merge->shares[i], errors));
    return status;
}

enum status command_merge(const struct options *options)
{
    struct errors errors = {0};
    struct merge merge = {.options = options, .count = options->operand_count};
    enum status status = name_result(&merge, &errors);
    if (status == STATUS_OK)
        status = read_shares(&merge, &errors);
    if (status == STATUS_OK)
        status = explore_merge(merge.shares, options->operands, merge.count, &merge.whole, &errors);
    if (status == STATUS_OK)
        status = store_sweep_write(merge.path, STORE_SWEEP, &merge.whole, &errors);
    if (status == STATUS_OK) {
        status =
            options->json ? sweep_json(&merge.whole, merge.path) : sweep_print(&merge.whole, options->all);
        terminal_flush();
        if (!options->quiet)
            terminal_print(stderr, STYLE_PLAIN, "wrote %s\n", merge.path);
    }
    if (status == STATUS_MEMORY && errors.count == 0)
        errors_add(&errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    terminal_errors(&errors, options->json);
    merge_free(&merge);
    return status;
}
