#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/save.h"
#include "solver/base/version.h"
#include "solver/cli/command.h"
#include "solver/cli/layouts.h"
#include "solver/cli/terminal.h"
#include "solver/cli/tune_text.h"

/*
 * Looks for the best layout in the ranges of a case, and writes it as a case of its own.
 */

enum { HEAD = 1024 };

static const char mark[] = "# Tuned by foampulse";

struct tuning {
    const struct options *options;
    struct case_file file;
    struct layouts layouts;
    char case_path[SAVE_PATH]; /* of the best layout */
    struct tune tune;
};

static void tuning_free(struct tuning *tuning)
{
    tune_free(&tuning->tune);
    case_free(&tuning->file);
    layouts_free(&tuning->layouts);
}

/* --- files --- */

static int ends_in(const char *text, const char *end)
{
    size_t length = strlen(text), its = strlen(end);
    return length > its && strcmp(text + length - its, end) == 0;
}

/* CASE.tune.h5 goes with CASE.tuned.yaml, NAME.h5 with NAME.tuned.yaml. */
static enum status name_case(struct tuning *tuning, struct errors *errors)
{
    const char *path = tuning->layouts.path;
    size_t length = strlen(path);
    length -= ends_in(path, ".tune.h5") ? strlen(".tune.h5") : ends_in(path, ".h5") ? strlen(".h5") : 0;
    if (length + sizeof ".tuned.yaml" > sizeof tuning->case_path)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "the name of the tuned case would be too long");
    snprintf(tuning->case_path, sizeof tuning->case_path, "%.*s.tuned.yaml", (int)length, path);
    return STATUS_OK;
}

/* A tuned case is replaced by the next one, anything else under its name with -f only. */
static enum status check_case(const struct tuning *tuning, struct errors *errors)
{
    char first[sizeof mark] = "";
    struct save save;
    FILE *file = fopen(tuning->case_path, "r");
    if (file) {
        size_t got = fread(first, 1, sizeof mark - 1, file);
        fclose(file);
        if ((got < sizeof mark - 1 || memcmp(first, mark, sizeof mark - 1) != 0) && !tuning->options->force)
            return errors_add(errors, STATUS_FILE, tuning->case_path, 0, 0,
                              "was not written by tune: -f replaces it, -o names another place");
    }
    enum status status = save_begin(tuning->case_path, &save, errors);
    save_abandon(&save);
    return status;
}

static enum status open_files(struct tuning *tuning, struct errors *errors)
{
    tuning->layouts = (struct layouts){.options = tuning->options,
                                       .schema = STORE_TUNE,
                                       .name = "tune",
                                       .what = "is a tuning of another case, of other factors"};
    enum status status = layouts_name(&tuning->layouts, errors);
    if (status != STATUS_OK || !tuning->layouts.path[0])
        return status;
    status = name_case(tuning, errors);
    if (status == STATUS_OK)
        status = check_case(tuning, errors);
    if (status == STATUS_OK)
        status = layouts_open(&tuning->layouts, tuning->tune.sweep.frame, errors);
    return status;
}

/* Text that a comment of one line can hold. */
static void comment(const char *text, char *out, size_t size)
{
    terminal_clean(text, out, size);
}

/* `tolerance` of the case as text, fresh, "" where there is none: what production makes of the best layout is
 * asked next. NULL when memory is out. */
static char *tolerance_text(const struct case_file *base)
{
    const struct node *root = base->tree.root;
    size_t at = node_index(root, "tolerance");
    if (at == root->count)
        return memory_text("");
    struct tree tree = {.root = node_create(NODE_MAPPING, 0, 0, 0, NULL)};
    struct node *key = node_copy(root->keys[at]), *value = node_copy(root->items[at]);
    char *text = NULL;
    if (tree.root && key && value && node_append(tree.root, key, value) == STATUS_OK) {
        text = tree_text(&tree);
    } else {
        node_free(key);
        node_free(value);
    }
    tree_free(&tree);
    return text;
}

/* The best layout as a case: from which case and result, its resolved text, the scatter it has to bear. */
static enum status write_case(const struct tuning *tuning, struct errors *errors)
{
    const struct tune *tune = &tuning->tune;
    struct case_file best;
    struct save save = {0};
    char head[HEAD], value[TUNE_VALUE], from[HEAD / 4], result[HEAD / 4];
    if (tune->best < 0)
        return STATUS_OK;
    enum status status = explore_case(tune->base, &tune->sweep, (size_t)tune->best, &best, errors);
    char *tolerance = tolerance_text(tune->base);
    if (status == STATUS_OK && !tolerance)
        status = STATUS_MEMORY;
    if (status != STATUS_OK) {
        memory_free(tolerance);
        case_free(&best);
        return status;
    }
    comment(tuning->options->operands[0], from, sizeof from);
    comment(tuning->layouts.path, result, sizeof result);
    tune_value(tune, tune_objective(tune, &tune->sweep, (size_t)tune->best), value);
    snprintf(head, sizeof head, "%s %s from %s\n# layout %ld of %s: %s, model %s\n", mark, FOAMPULSE_VERSION,
             from, tune->sweep.points[tune->best].number, result, value, tune->sweep.model);
    status = save_begin(tuning->case_path, &save, errors);
    if (status == STATUS_OK)
        status = save_write(&save, head, strlen(head), errors);
    if (status == STATUS_OK)
        status = save_write(&save, best.text, strlen(best.text), errors);
    if (status == STATUS_OK)
        status = save_write(&save, tolerance, strlen(tolerance), errors);
    if (status == STATUS_OK)
        status = save_commit(&save, errors);
    save_abandon(&save);
    memory_free(tolerance);
    case_free(&best);
    return status;
}

/* --- solving --- */

static enum status solve(struct tuning *tuning, struct errors *errors)
{
    struct explore_options explore;
    layouts_start(&tuning->layouts, "runs", tuning->file.tune.runs, &explore);
    return layouts_end(&tuning->layouts, tune_run(&tuning->tune, &explore, errors), errors);
}

/* What a case names by a relative path lies beside it; where the tuned case went elsewhere, that is missing.
 */
static void say_next(const struct tuning *tuning)
{
    struct errors errors = {0};
    struct case_file file;
    terminal_print(stderr, STYLE_PLAIN, "wrote %s\n", tuning->case_path);
    if (case_load(tuning->case_path, NULL, 0, &file, &errors) == STATUS_OK)
        terminal_print(stderr, STYLE_PLAIN, "next: foampulse run %s\n", tuning->case_path);
    else
        terminal_print(stderr, STYLE_WARNING,
                       "it cannot be run where it is, as %s has what it names beside it: %s\n",
                       tuning->options->operands[0], errors.count ? errors.kept[0].text : "out of memory");
    case_free(&file);
}

/* Prints, then writes: rows of an earlier tuning join the file only. */
static enum status finish(struct tuning *tuning, struct errors *errors)
{
    const struct options *options = tuning->options;
    struct tune *tune = &tuning->tune;
    int written = tuning->layouts.path[0] != '\0';
    size_t run_count = tune->sweep.point_count;
    enum status status = options->json
                             ? tune_json(tune, tuning->layouts.path, tune->best < 0 ? "" : tuning->case_path)
                             : tune_print(tune, options->all);
    terminal_flush();
    if (status != STATUS_OK || !written)
        return status;
    status = write_case(tuning, errors);
    if (status == STATUS_OK)
        status = layouts_store(&tuning->layouts, &tune->sweep, errors);
    if (status != STATUS_OK)
        return status;
    layouts_say(&tuning->layouts, "runs", run_count);
    if (tune->best >= 0 && !options->quiet)
        say_next(tuning);
    return status;
}

enum status command_tune(const struct options *options)
{
    struct errors errors = {0};
    struct tuning tuning = {.options = options};
    enum status status = layouts_load(options, "tune",
                                      ", whose ranges tune searches: sweep: {vary: {liner.density: {from: 40 "
                                      "kg/m3, to: 60 kg/m3, step: 5 kg/m3}}}",
                                      &tuning.file, &errors);
    if (status == STATUS_OK)
        status = tune_begin(&tuning.file, options->model, &tuning.tune, &errors);
    if (status == STATUS_OK)
        status = open_files(&tuning, &errors);
    if (status == STATUS_OK)
        status = solve(&tuning, &errors);
    if (status == STATUS_OK)
        status = finish(&tuning, &errors);
    if (status == STATUS_MEMORY && errors.count == 0)
        errors_add(&errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    terminal_errors(&errors, options->json);
    tuning_free(&tuning);
    return status;
}
