#include "solver/study/plan.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cases/journal.h"
#include "cases/store.h"
#include "solver/base/memory.h"
#include "solver/base/save.h"
#include "solver/cli/command.h"
#include "solver/cli/plan_words.h"
#include "solver/cli/progress.h"
#include "solver/cli/result_path.h"
#include "solver/cli/terminal.h"
#include "solver/study/batch.h"
#include "solver/study/identity.h"

/*
 * The test list for the laboratory. Predictions come from CASE.h5 beside the list when that is the result of
 * the case in its present state; else the case is solved and stored there, as `run` does.
 */

struct planning {
    const struct options *options;
    struct case_file file;
    struct case_result result;
    char *csv;              /* the list, "" for none */
    char *h5;               /* the result, "" for none */
    struct journal journal; /* {0} without a result file */
    struct plan plan;
};

static void planning_free(struct planning *planning)
{
    plan_free(&planning->plan);
    case_result_free(&planning->result);
    case_free(&planning->file);
    journal_close(&planning->journal, NULL);
    memory_free(planning->csv);
    memory_free(planning->h5);
}

/* --- before anything is solved --- */

static enum status load(struct planning *planning, struct errors *errors)
{
    const struct options *options = planning->options;
    if (options->json && options->csv)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--json and --csv: one of the two");
    if (options->model && strchr(options->model, ','))
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "plan takes one model, not '%s'", options->model);
    enum status status =
        case_load(options->operands[0], options->sets, options->set_count, &planning->file, errors);
    if (status == STATUS_OK)
        status = batch_check(&planning->file, NULL, errors);
    if (status == STATUS_OK && options->model && planning->file.pad.present)
        status = errors_add(errors, STATUS_USAGE, options->operands[0], 0, 0,
                            "is a pad, which has one model: --model is for helmets");
    return status;
}

static int is_folder(const char *path)
{
    struct stat about;
    return path[strlen(path) - 1] == '/' || (stat(path, &about) == 0 && S_ISDIR(about.st_mode));
}

/* The folder of a file, with its slash; "./" where the name has none. */
static const char *folder_of(const char *file, char folder[SAVE_PATH])
{
    const char *slash = strrchr(file, '/');
    snprintf(folder, SAVE_PATH, "%.*s", slash ? (int)(slash - file) + 1 : 2, slash ? file : "./");
    return folder;
}

/* CASE.plan.h5, as results are named, becomes CASE.plan.csv. */
static enum status end_in_csv(char **path, struct errors *errors)
{
    char text[SAVE_PATH + 8];
    if ((*path)[0] == '\0')
        return STATUS_OK;
    snprintf(text, sizeof text, "%.*s.csv", (int)(strlen(*path) - strlen(".h5")), *path);
    memory_free(*path);
    *path = memory_text(text);
    return *path ? STATUS_OK : errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
}

/* The list, and the result in the same folder. */
static enum status name_files(struct planning *planning, struct errors *errors)
{
    const struct options *options = planning->options;
    const char *output = options->output, *list = "plan", *result = NULL;
    char folder[SAVE_PATH];
    int named = output && !is_folder(output);
    size_t length = output ? strlen(output) : 0;
    if (named && length > 3 && strcmp(output + length - 3, ".h5") == 0)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0,
                          "-o '%s': plan writes CSV; the result goes to CASE.h5 in the same folder", output);
    enum status status = result_paths(options->operands, &list, 1, output, &planning->csv, errors);
    if (status == STATUS_OK)
        status = result_paths(options->operands, &result, 1, named ? folder_of(output, folder) : output,
                              &planning->h5, errors);
    return status == STATUS_OK && !named ? end_in_csv(&planning->csv, errors) : status;
}

/* Whether the list may be written: a new file, or any with -f. */
static enum status check_list(const struct planning *planning, struct errors *errors)
{
    struct save save;
    struct stat about;
    if (!planning->csv[0])
        return STATUS_OK;
    if (!planning->options->force && lstat(planning->csv, &about) == 0)
        return errors_add(errors, STATUS_FILE, planning->csv, 0, 0, "is there already: -f replaces it");
    enum status status = save_begin(planning->csv, &save, errors);
    save_abandon(&save);
    return status;
}

/* --- predictions --- */

static void say(const struct planning *planning, const char *format, const char *name)
{
    if (!planning->options->quiet)
        terminal_print(stderr, STYLE_PLAIN, format, name);
}

/* What a run of the case would say of impacts that failed. */
static enum status repeat_failures(const struct case_result *result, struct errors *errors)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct hit_result *hit = &result->hits[i];
        int last = i + 1 == result->hit_count || hit[1].impact != hit->impact;
        if (hit->status == HIT_FAILED && last)
            status = errors_add(errors, STATUS_COMPUTATION, result->file, 0, 0, "impact %d%s%s: %s",
                                hit->impact, hit->size[0] ? ", size " : "", hit->size, hit->message);
    }
    return status;
}

/* Takes the stored result if it is that of the case as it is now; *taken says so. One that is damaged or not
 * ours is no result of the case. */
static enum status take_stored(struct planning *planning, int *taken, struct errors *errors)
{
    unsigned char hash[DIGEST_BYTES];
    char text[IDENTITY_TEXT];
    struct errors unread = {0};
    *taken = 0;
    if (!planning->h5[0] || access(planning->h5, F_OK) != 0)
        return STATUS_OK;
    enum status status =
        batch_identity(&planning->file, planning->options->model, planning->file.text, hash, errors);
    if (status != STATUS_OK || store_read(planning->h5, &planning->result, &unread) != STATUS_OK)
        return status;
    identity_text(hash, text);
    *taken = strcmp(planning->result.identity, text) == 0;
    if (*taken) {
        say(planning, "predictions taken from %s\n", planning->h5);
        return repeat_failures(&planning->result, errors);
    }
    say(planning,
        planning->result.identity[0]
            ? "%s is not of this case and program as they are now: the case is solved\n"
            : "%s does not hold all of the case: the rest is solved\n",
        planning->h5);
    case_result_free(&planning->result);
    return STATUS_OK;
}

static enum status open_result(struct planning *planning, struct errors *errors)
{
    struct store_options store = {0};
    if (!planning->h5[0])
        return STATUS_OK;
    enum status status = store_check(planning->h5, &store, errors);
    if (status == STATUS_OK)
        status = save_room(1, errors);
    if (status == STATUS_OK)
        status = journal_open(planning->h5, STORE_RUN, &planning->journal, errors);
    if (planning->journal.cut > 0 && !planning->options->quiet)
        terminal_print(stderr, STYLE_PLAIN, "%s: %llu bytes behind its last whole record are cut off\n",
                       planning->journal.path, (unsigned long long)planning->journal.cut);
    return status;
}

/* What the callbacks of a batch need. */
struct solving {
    const struct planning *planning;
    struct progress progress;
};

static void on_progress(void *context, size_t done, size_t all)
{
    progress_step(&((struct solving *)context)->progress, done, all);
}

static void on_resumed(void *context, size_t taken, size_t all)
{
    struct solving *solving = context;
    progress_resumed(&solving->progress, taken);
    if (taken > 0 && !solving->planning->options->quiet)
        terminal_print(stderr, STYLE_PLAIN, "%s: %zu of %zu impacts taken from the journal\n",
                       solving->planning->journal.path, taken, all);
}

/* Solves; impacts that failed are in the result all the same. */
static enum status solve(struct planning *planning, struct errors *failed, struct errors *errors)
{
    const struct options *options = planning->options;
    struct solving solving = {.planning = planning};
    struct batch_options batch = {.threads = options->jobs,
                                  .model = options->model,
                                  .interrupted = terminal_interrupted(),
                                  .progress = on_progress,
                                  .resumed = on_resumed,
                                  .context = &solving,
                                  .journal = planning->journal.open ? &planning->journal : NULL,
                                  .journal_errors = failed};
    progress_start(&solving.progress, "impacts", case_impact_count(&planning->file),
                   options->quiet || options->json);
    enum status status = batch_run(&planning->file, &batch, &planning->result, errors);
    progress_end(&solving.progress);
    return status == STATUS_INTERRUPTED ? terminal_signal() : status;
}

static enum status store(struct planning *planning, struct errors *errors)
{
    struct store_options store = {0};
    struct case_result *result = &planning->result;
    if (!planning->h5[0])
        return STATUS_OK;
    char *name = memory_text(planning->h5);
    if (!name)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    memory_free(result->result_file);
    result->result_file = name;
    enum status status = store_write(planning->h5, result, &store, errors);
    if (status == STATUS_OK)
        say(planning, "wrote %s\n", planning->h5);
    else
        result->result_file[0] = '\0';
    return status;
}

/* The journal goes when the result stands. Until then it is what the same command, and `run`, go on from. */
static enum status end_journal(struct planning *planning, int stands, const struct errors *failed,
                               struct errors *errors)
{
    struct journal *journal = &planning->journal;
    if (!journal->open)
        return STATUS_OK;
    if (stands)
        return journal_remove(journal, errors);
    if (journal->count > 0 && !journal->failed)
        say(planning, "kept what is solved in %s: the same command goes on from there\n", journal->path);
    for (size_t i = 0; i < failed->count && i < ERRORS_KEPT; i++)
        errors_add(errors, failed->kept[i].status, failed->kept[i].file, 0, 0, "%s", failed->kept[i].text);
    return status_worse(errors_status(failed), journal_close(journal, errors));
}

/* Fills the result, from the file or by solving. */
static enum status predict(struct planning *planning, struct errors *errors)
{
    int taken;
    struct errors failed = {0};
    enum status status = take_stored(planning, &taken, errors);
    if (taken || status != STATUS_OK)
        return status;
    status = open_result(planning, errors);
    if (status != STATUS_OK)
        return status;
    status = solve(planning, &failed, errors);
    int whole = status == STATUS_OK || status == STATUS_COMPUTATION;
    enum status stored = whole ? store(planning, errors) : STATUS_OK;
    status = status_worse(status, stored);
    return status_worse(status, end_journal(planning, whole && stored == STATUS_OK, &failed, errors));
}

/* --- the list --- */

struct writing {
    struct save save;
    struct errors *errors;
};

static enum status write_line(void *context, const char *line)
{
    struct writing *writing = context;
    return save_write(&writing->save, line, strlen(line), writing->errors);
}

static enum status write_list(const struct planning *planning, struct errors *errors)
{
    struct writing writing = {.errors = errors};
    if (!planning->csv[0])
        return STATUS_OK;
    enum status status = save_begin(planning->csv, &writing.save, errors);
    if (status == STATUS_OK)
        status = plan_csv(&planning->result, &planning->plan, write_line, &writing);
    if (status == STATUS_OK)
        status = save_commit(&writing.save, errors);
    else
        save_abandon(&writing.save);
    return status;
}

static enum status print_line(void *context, const char *line)
{
    (void)context;
    terminal_print(stdout, STYLE_PLAIN, "%s", line);
    return STATUS_OK;
}

static enum status print(const struct planning *planning, const char *csv)
{
    if (planning->options->csv)
        return plan_csv(&planning->result, &planning->plan, print_line, NULL);
    if (!planning->options->json)
        return plan_print(&planning->result, &planning->plan);
    json_t *object = plan_json(&planning->result, &planning->plan, csv);
    enum status status = terminal_json(object);
    json_decref(object);
    return status;
}

/* Plans, writes and prints. */
static enum status tell(struct planning *planning, struct errors *errors)
{
    enum status status = plan_make(&planning->file, &planning->result, &planning->plan);
    if (status != STATUS_OK)
        return errors_add(errors, status, NULL, 0, 0, "out of memory");
    enum status written = write_list(planning, errors);
    int stands = written == STATUS_OK && planning->csv[0];
    status = print(planning, stands ? planning->csv : "");
    terminal_flush();
    if (stands)
        say(planning, "wrote %s\n", planning->csv);
    return status_worse(status, written);
}

enum status command_plan(const struct options *options)
{
    struct errors errors = {0};
    struct planning planning = {.options = options};
    enum status status = load(&planning, &errors);
    if (status == STATUS_OK)
        status = name_files(&planning, &errors);
    if (status == STATUS_OK)
        status = check_list(&planning, &errors);
    if (status == STATUS_OK) {
        status = predict(&planning, &errors);
        if (status == STATUS_OK || (status == STATUS_COMPUTATION && planning.result.hits))
            status = status_worse(status, tell(&planning, &errors));
    }
    terminal_errors(&errors, options->json);
    planning_free(&planning);
    return status;
}
