#include "solver/cli/layouts.h"

#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/save.h"
#include "solver/cli/keeping.h"
#include "solver/cli/result_path.h"
#include "solver/cli/terminal.h"

enum status layouts_load(const struct options *options, const char *command, const char *lack,
                         struct case_file *file, struct errors *errors)
{
    const char *path = options->operands[0];
    if (options->model && strchr(options->model, ','))
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "%s takes one model, not '%s'", command,
                          options->model);
    enum status status = case_load(path, options->sets, options->set_count, file, errors);
    if (status == STATUS_OK && lack && !file->sweep.present)
        return errors_add(errors, STATUS_INPUT, path, 0, 0, "has no `sweep`%s", lack);
    return status;
}

/* --- before the first is solved --- */

enum status layouts_name(struct layouts *layouts, struct errors *errors)
{
    const struct options *options = layouts->options;
    return result_paths(options->operands, &layouts->name, 1, options->output, &layouts->path, errors);
}

/* Reads what stands under the name, if it can be added to. */
static enum status read_earlier(struct layouts *layouts, const char *frame, struct errors *errors)
{
    if (!store_sweep_there(layouts->path, layouts->schema) || layouts->options->force)
        return STATUS_OK;
    enum status status = store_sweep_read(layouts->path, layouts->schema, &layouts->earlier, errors);
    if (status == STATUS_OK && strcmp(layouts->earlier.frame, frame) != 0)
        status = errors_add(errors, STATUS_FILE, layouts->path, 0, 0,
                            "%s, or by another program or model, and is not added to: -f replaces it, -o "
                            "names another file",
                            layouts->what);
    return status;
}

enum status layouts_open(struct layouts *layouts, const char *frame, struct errors *errors)
{
    const struct options *options = layouts->options;
    if (!layouts->path[0])
        return STATUS_OK;
    enum status status = store_sweep_check(layouts->path, layouts->schema, options->force, errors);
    if (status == STATUS_OK)
        status = read_earlier(layouts, frame, errors);
    if (status == STATUS_OK)
        status = save_room(1, errors);
    if (status == STATUS_OK)
        status = keeping_begin(layouts->path, layouts->schema, options->quiet, &layouts->journal, errors);
    return status;
}

/* --- solving --- */

static void on_progress(void *context, size_t done, size_t taken, size_t all)
{
    struct layouts *layouts = context;
    layouts->taken = taken;
    progress_taken(&layouts->progress, taken);
    progress_step(&layouts->progress, done, all);
}

void layouts_start(struct layouts *layouts, const char *unit, size_t all, struct explore_options *explore)
{
    const struct options *options = layouts->options;
    *explore = (struct explore_options){.threads = options->jobs,
                                        .model = options->model,
                                        .interrupted = terminal_interrupted(),
                                        .progress = on_progress,
                                        .context = layouts,
                                        .journal = layouts->journal.open ? &layouts->journal : NULL,
                                        .journal_errors = &layouts->failed,
                                        .earlier = layouts->earlier.point_count ? &layouts->earlier : NULL};
    progress_start(&layouts->progress, unit, all, options->quiet || options->json);
}

enum status layouts_end(struct layouts *layouts, enum status status, struct errors *errors)
{
    progress_end(&layouts->progress);
    if (status == STATUS_INTERRUPTED)
        status = terminal_signal();
    if (status == STATUS_OK)
        return STATUS_OK;
    return status_worse(status,
                        keeping_end(&layouts->journal, 0, &layouts->failed, layouts->options->quiet, errors));
}

enum status layouts_store(struct layouts *layouts, struct sweep *sweep, struct errors *errors)
{
    if (!layouts->path[0])
        return STATUS_OK;
    enum status status = explore_keep(&layouts->earlier, sweep);
    if (status == STATUS_OK)
        status = store_sweep_write(layouts->path, layouts->schema, sweep, errors);
    return status_worse(status, keeping_end(&layouts->journal, status == STATUS_OK, &layouts->failed,
                                            layouts->options->quiet, errors));
}

/* --- telling --- */

void layouts_say(const struct layouts *layouts, const char *unit, size_t all)
{
    if (layouts->options->quiet)
        return;
    if (layouts->taken > 0)
        terminal_print(stderr, STYLE_PLAIN, "%zu of %zu %s were there and were not solved again\n",
                       layouts->taken, all, unit);
    if (layouts->path[0])
        terminal_print(stderr, STYLE_PLAIN, "wrote %s\n", layouts->path);
}

void layouts_free(struct layouts *layouts)
{
    sweep_free(&layouts->earlier);
    journal_close(&layouts->journal, NULL);
    memory_free(layouts->path);
}
