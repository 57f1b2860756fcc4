#include <stdio.h>
#include <string.h>

#include "cases/journal.h"
#include "cases/store_sweep.h"
#include "solver/base/memory.h"
#include "solver/base/save.h"
#include "solver/base/version.h"
#include "solver/cli/command.h"
#include "solver/cli/progress.h"
#include "solver/cli/result_path.h"
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
    char *path;                /* of the result, "" for none */
    char case_path[SAVE_PATH]; /* of the best layout */
    struct sweep earlier;
    struct tune tune;
    struct journal journal;
    size_t taken;
    struct progress progress;
};

static void tuning_free(struct tuning *tuning)
{
    tune_free(&tuning->tune);
    case_free(&tuning->file);
    sweep_free(&tuning->earlier);
    journal_close(&tuning->journal, NULL);
    memory_free(tuning->path);
}

/* --- reading --- */

static enum status load(struct tuning *tuning, struct errors *errors)
{
    const struct options *options = tuning->options;
    const char *path = options->operands[0];
    if (options->model && strchr(options->model, ','))
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "tune takes one model, not '%s'", options->model);
    enum status status = case_load(path, options->sets, options->set_count, &tuning->file, errors);
    if (status == STATUS_OK && !tuning->file.sweep.present)
        status =
            errors_add(errors, STATUS_INPUT, path, 0, 0,
                       "has no `sweep`, whose ranges tune searches: sweep: {vary: {liner.density: {from: "
                       "40 kg/m3, to: 60 kg/m3, step: 5 kg/m3}}}");
    return status;
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
    const char *path = tuning->path;
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

/* Reads what stands under the name, if it can be added to. */
static enum status read_earlier(struct tuning *tuning, struct errors *errors)
{
    if (!store_sweep_there(tuning->path, STORE_TUNE) || tuning->options->force)
        return STATUS_OK;
    enum status status = store_sweep_read(tuning->path, STORE_TUNE, &tuning->earlier, errors);
    if (status == STATUS_OK && strcmp(tuning->earlier.frame, tuning->tune.sweep.frame) != 0)
        status =
            errors_add(errors, STATUS_FILE, tuning->path, 0, 0,
                       "is a tuning of another case, of other factors, or by another program or model, and "
                       "is not added to: -f replaces it, -o names another file");
    return status;
}

static enum status open_files(struct tuning *tuning, struct errors *errors)
{
    const struct options *options = tuning->options;
    const char *name = "tune";
    enum status status = result_paths(options->operands, &name, 1, options->output, &tuning->path, errors);
    if (status != STATUS_OK || !tuning->path[0])
        return status;
    status = name_case(tuning, errors);
    if (status == STATUS_OK)
        status = store_sweep_check(tuning->path, STORE_TUNE, options->force, errors);
    if (status == STATUS_OK)
        status = check_case(tuning, errors);
    if (status == STATUS_OK)
        status = read_earlier(tuning, errors);
    if (status == STATUS_OK)
        status = save_room(1, errors);
    if (status == STATUS_OK)
        status = journal_open(tuning->path, STORE_TUNE, &tuning->journal, errors);
    if (tuning->journal.cut > 0 && !options->quiet)
        terminal_print(stderr, STYLE_PLAIN, "%s: %llu bytes behind its last whole record are cut off\n",
                       tuning->journal.path, (unsigned long long)tuning->journal.cut);
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
    comment(tuning->path, result, sizeof result);
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

static void on_progress(void *context, size_t done, size_t taken, size_t all)
{
    struct tuning *tuning = context;
    tuning->taken = taken;
    progress_taken(&tuning->progress, taken);
    progress_step(&tuning->progress, done, all);
}

static void pass_on(const struct errors *failed, struct errors *errors)
{
    for (size_t i = 0; i < failed->count && i < ERRORS_KEPT; i++)
        errors_add(errors, failed->kept[i].status, failed->kept[i].file, 0, 0, "%s", failed->kept[i].text);
}

static enum status solve(struct tuning *tuning, struct errors *errors)
{
    const struct options *options = tuning->options;
    struct errors failed = {0};
    struct explore_options explore = {.threads = options->jobs,
                                      .model = options->model,
                                      .interrupted = terminal_interrupted(),
                                      .progress = on_progress,
                                      .context = tuning,
                                      .journal = tuning->journal.open ? &tuning->journal : NULL,
                                      .journal_errors = &failed,
                                      .earlier = tuning->earlier.point_count ? &tuning->earlier : NULL};
    progress_start(&tuning->progress, "runs", tuning->file.tune.runs, options->quiet || options->json);
    enum status status = tune_run(&tuning->tune, &explore, errors);
    progress_end(&tuning->progress);
    if (status == STATUS_INTERRUPTED)
        status = terminal_signal();
    if (status == STATUS_OK)
        return STATUS_OK;
    pass_on(&failed, errors);
    if (tuning->journal.open && !tuning->journal.failed && tuning->journal.count > 0)
        terminal_print(stderr, STYLE_PLAIN,
                       "kept what is solved in %s: the same command goes on from there\n",
                       tuning->journal.path);
    return status_worse(status, journal_close(&tuning->journal, errors));
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
    int written = tuning->path[0] != '\0';
    enum status status = options->json
                             ? tune_json(tune, tuning->path, tune->best < 0 ? "" : tuning->case_path)
                             : tune_print(tune, options->all);
    terminal_flush();
    if (status != STATUS_OK || !written)
        return status;
    status = write_case(tuning, errors);
    if (status == STATUS_OK)
        status = explore_keep(&tuning->earlier, &tune->sweep);
    if (status == STATUS_OK)
        status = store_sweep_write(tuning->path, STORE_TUNE, &tune->sweep, errors);
    if (status == STATUS_OK)
        status = journal_remove(&tuning->journal, errors);
    if (status != STATUS_OK || options->quiet)
        return status;
    if (tuning->taken > 0)
        terminal_print(stderr, STYLE_PLAIN, "%zu runs were there and were not solved again\n", tuning->taken);
    terminal_print(stderr, STYLE_PLAIN, "wrote %s\n", tuning->path);
    if (tune->best >= 0)
        say_next(tuning);
    return status;
}

enum status command_tune(const struct options *options)
{
    struct errors errors = {0};
    struct tuning tuning = {.options = options};
    enum status status = load(&tuning, &errors);
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
