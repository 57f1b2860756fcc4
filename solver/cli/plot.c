#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "cases/store.h"
#include "cases/store_sweep.h"
#include "plots/layouts.h"
#include "plots/plots.h"
#include "plots/sweeps.h"
#include "solver/base/memory.h"
#include "solver/base/units.h"
#include "solver/cli/command.h"
#include "solver/cli/terminal.h"

enum { PATH = 4096, LIST = 256 };

/* What is to be drawn. */
struct order {
    int wanted[PLOT_COUNT];    /* of results of run */
    int of_many[SWEEPS_COUNT]; /* of sweeps and the like */
    int named;                 /* 1 when the user chose the pictures */
    enum picture_format format;
    const char *folder; /* NULL: beside the first result */
    struct section_view view;
};

/* Names of the pictures that a kind of file has, 0 for a result of run; their count. */
static size_t names_of(unsigned kind, const char *names[PLOT_COUNT + SWEEPS_COUNT])
{
    size_t count = 0;
    for (size_t i = 0; kind == 0 && i < PLOT_COUNT; i++)
        names[count++] = plot_table[i].name;
    for (size_t i = 0; i < SWEEPS_COUNT; i++) {
        if (sweeps_table[i].kinds & kind)
            names[count++] = sweeps_table[i].name;
    }
    return count;
}

/* "pulse, headmap, crush" */
static void join(const char *const *names, size_t count, char *text, size_t size)
{
    text[0] = '\0';
    for (size_t i = 0, at = 0; i < count && at < size; i++)
        at += (size_t)snprintf(text + at, size - at, "%s%s", i ? ", " : "", names[i]);
}

static enum status picture_unknown(const char *name, struct errors *errors)
{
    const char *names[2 * (PLOT_COUNT + SWEEPS_COUNT)];
    char of_run[LIST], of_many[LIST];
    size_t runs = names_of(0, names), many = names_of(SWEEPS_ANY, names + runs);
    join(names, runs, of_run, sizeof of_run);
    join(names + runs, many, of_many, sizeof of_many);
    const char *nearest = units_nearest(name, names, runs + many);
    return errors_add(
        errors, STATUS_USAGE, NULL, 0, 0, "unknown picture '%.60s'; %s%s%sthere are %s; of sweeps %s", name,
        nearest ? "did you mean '" : "", nearest ? nearest : "", nearest ? "'? " : "", of_run, of_many);
}

/* Marks a picture; 0 for an unknown name. */
static int order_picture(struct order *order, const char *name)
{
    int known = 0;
    for (size_t i = 0; i < PLOT_COUNT; i++) {
        if (strcmp(plot_table[i].name, name) == 0)
            known = order->wanted[i] = 1;
    }
    for (size_t i = 0; i < SWEEPS_COUNT; i++) {
        if (strcmp(sweeps_table[i].name, name) == 0)
            known = order->of_many[i] = 1;
    }
    return known;
}

static enum status read_pictures(const char *list, struct order *order, struct errors *errors)
{
    for (size_t i = 0; !list && i < PLOT_COUNT; i++)
        order->wanted[i] = plot_table[i].by_default;
    order->named = list != NULL;
    while (list) {
        char name[64];
        size_t length = strcspn(list, ",");
        snprintf(name, sizeof name, "%.*s", (int)(length < sizeof name ? length : sizeof name - 1), list);
        if (!order_picture(order, name))
            return picture_unknown(name, errors);
        list = list[length] ? list + length + 1 : NULL;
    }
    return STATUS_OK;
}

/* "2 ms,peak": times of the cross-section. */
static enum status read_times(const char *list, struct section_view *view, struct errors *errors)
{
    while (list) {
        char text[64], why[UNITS_MESSAGE];
        size_t length = strcspn(list, ",");
        snprintf(text, sizeof text, "%.*s", (int)(length < sizeof text ? length : sizeof text - 1), list);
        list = list[length] ? list + length + 1 : NULL;
        if (view->time_count == SECTION_TIMES)
            return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--at takes at most %d times", SECTION_TIMES);
        double *time = &view->time[view->time_count++];
        *time = NAN;
        if (strcmp(text, "peak") != 0 && !units_read(QUANTITY_TIME, text, time, why))
            return errors_add(errors, STATUS_USAGE, NULL, 0, 0,
                              "--at: %s; or 'peak', the largest crush on the axis", why);
    }
    return STATUS_OK;
}

/* What is said of the cross-section needs one. */
static enum status read_view(const struct options *options, struct order *order, struct errors *errors)
{
    size_t section = PLOT_COUNT - 1;
    for (int i = 0; options->field && i < SECTION_FIELDS; i++) {
        if (strcmp(options->field, section_field_names[i]) == 0)
            order->view.field = (enum section_field)i;
    }
    if (options->at_count > 1)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--at is given twice; the second is '%s'",
                          options->ats[1]);
    if ((options->at_count || options->field) && !order->wanted[section])
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--%s means nothing without --picture %s",
                          options->at_count ? "at" : "field", plot_table[section].name);
    return read_times(options->at_count ? options->ats[0] : NULL, &order->view, errors);
}

static enum status read_order(const struct options *options, struct order *order, struct errors *errors)
{
    *order = (struct order){.folder = options->output, .format = PICTURE_PNG};
    for (int i = 0; options->format && i < PICTURE_FORMATS; i++) {
        if (strcmp(options->format, picture_format_names[i]) == 0)
            order->format = (enum picture_format)i;
    }
    struct stat about;
    if (order->folder && order->format == PICTURE_TEXT)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0,
                          "-o means nothing for text: it goes to standard output");
    if (order->folder && (stat(order->folder, &about) != 0 || !S_ISDIR(about.st_mode)))
        return errors_add(errors, STATUS_FILE, order->folder, 0, 0,
                          "is no folder: -o names one for the pictures");
    enum status status = read_pictures(options->picture, order, errors);
    return status == STATUS_OK ? read_view(options, order, errors) : status;
}

/* FOLDER/CASE.PICTURE.FORMAT; CASE is the name of the first result without its .h5. */
static enum status name_of(const struct order *order, const char *result, const char *picture,
                           char path[PATH], struct errors *errors)
{
    const char *slash = strrchr(result, '/'), *base = slash ? slash + 1 : result;
    size_t length = strlen(base);
    if (length > 3 && strcmp(base + length - 3, ".h5") == 0)
        length -= 3;
    const char *folder = order->folder ? order->folder : result;
    int folder_length = order->folder ? (int)strlen(order->folder) : slash ? (int)(slash - result + 1) : 0;
    const char *between = order->folder && folder_length > 0 && folder[folder_length - 1] != '/' ? "/" : "";
    int size = snprintf(path, PATH, "%.*s%s%.*s.%s.%s", folder_length, folder, between, (int)length, base,
                        picture, picture_format_names[order->format]);
    return size > 0 && size < PATH
               ? STATUS_OK
               : errors_add(errors, STATUS_FILE, NULL, 0, 0, "the name of a picture would be too long");
}

/* What became of one picture: an error, or a word. One of the default set that has nothing to show is passed
 * over. */
static enum status tell(const struct order *order, const char *picture, enum status status,
                        const struct errors *own, const char *path, const char *text,
                        const struct options *options, struct errors *errors)
{
    if (status == STATUS_INPUT && !order->named) {
        if (!options->quiet)
            terminal_print(stderr, STYLE_FAINT, "%s: %s\n", picture, own->kept[0].text);
        return STATUS_OK;
    }
    if (status == STATUS_INTERRUPTED) /* main says which signal it was */
        return STATUS_OK;
    if (status != STATUS_OK)
        return errors_add(errors, status, own->kept[0].file, 0, 0, "%s: %s", picture, own->kept[0].text);
    if (text)
        terminal_print(stdout, STYLE_PLAIN, "%s\n", text);
    else if (!options->quiet)
        terminal_print(stderr, STYLE_PLAIN, "wrote %s\n", path);
    return STATUS_OK;
}

static enum status draw(const struct order *order, size_t at, const struct case_result *results,
                        const struct options *options, struct errors *errors)
{
    char path[PATH], *text = NULL;
    struct errors own = {0};
    const char *name = plot_table[at].name;
    enum status status = name_of(order, options->operands[0], name, path, errors);
    if (status != STATUS_OK)
        return status;
    status = plots_draw(name, results, options->operand_count, &order->view, order->format,
                        order->format == PICTURE_TEXT ? NULL : path, &text, &own);
    status = tell(order, name, status, &own, path, text, options, errors);
    memory_free(text);
    return status;
}

/* Results without the impact that governs are not in the pictures of it: said once. */
static void tell_left_out(const struct options *options, const struct order *order,
                          const struct case_result *results)
{
    int any = 0;
    for (size_t i = 0; i < PLOT_COUNT; i++)
        any |= order->wanted[i] && plot_table[i].of_one;
    if (!any)
        return;
    struct layout layouts[LAYOUTS_MOST];
    size_t count = options->operand_count;
    if (count < 2 || count > LAYOUTS_MOST || !layouts_pick(results, count, layouts))
        return;
    for (size_t i = 0; i < count; i++) {
        if (!layouts[i].hit)
            terminal_print(stderr, STYLE_WARNING,
                           "%s: has not the impact that governs, and is left out of pictures of it\n",
                           options->operands[i]);
    }
}

static enum status plot_runs(const struct order *order, const struct options *options, struct errors *errors)
{
    size_t count = options->operand_count;
    struct case_result *results = memory_zeroed(count, sizeof *results);
    if (!results)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    for (size_t i = 0; !errors->count && i < count; i++)
        store_read(options->operands[i], &results[i], errors);
    if (!errors->count && !options->quiet)
        tell_left_out(options, order, results);
    for (size_t i = 0; !errors->count && i < PLOT_COUNT && !*terminal_interrupted(); i++) {
        if (order->wanted[i])
            draw(order, i, results, options, errors);
    }
    for (size_t i = 0; i < count; i++)
        case_result_free(&results[i]);
    memory_free(results);
    return errors_status(errors);
}

/* --- files of many layouts --- */

/* One factor, by its path or as tables call it. */
static enum status choose_factor(const struct sweep *sweep, const char *name, struct slice_choice *choice,
                                 struct errors *errors)
{
    const char *names[2 * FACTORS_MOST];
    char labels[FACTORS_MOST][FACTOR_LABEL], all[2 * LIST];
    size_t count = sweep->factor_count < FACTORS_MOST ? sweep->factor_count : FACTORS_MOST;
    for (size_t i = 0; i < count; i++) {
        factor_label(&sweep->factors[i], labels[i]);
        names[i] = sweep->factors[i].path;
        names[count + i] = labels[i];
    }
    for (size_t i = 0; i < count; i++) {
        if (strcmp(names[i], name) != 0 && strcmp(labels[i], name) != 0)
            continue;
        for (size_t k = 0; k < choice->count; k++) {
            if (choice->factor[k] == i)
                return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--factors names '%.100s' twice", name);
        }
        if (choice->count == SLICE_CHOSEN)
            return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--factors takes at most %d", SLICE_CHOSEN);
        choice->factor[choice->count++] = i;
        return STATUS_OK;
    }
    join(names + count, count, all, sizeof all);
    const char *nearest = units_nearest(name, names, 2 * count);
    return errors_add(errors, STATUS_USAGE, NULL, 0, 0,
                      "--factors: '%.100s' is not varied; %s%s%svaried are %s", name,
                      nearest ? "did you mean '" : "", nearest ? nearest : "", nearest ? "'? " : "", all);
}

static enum status choose_factors(const struct sweep *sweep, const char *list, struct slice_choice *choice,
                                  struct errors *errors)
{
    *choice = (struct slice_choice){0};
    while (list) {
        char name[FACTOR_PATH];
        size_t length = strcspn(list, ",");
        snprintf(name, sizeof name, "%.*s", (int)(length < sizeof name ? length : sizeof name - 1), list);
        if (choose_factor(sweep, name, choice, errors) != STATUS_OK)
            return STATUS_USAGE;
        list = list[length] ? list + length + 1 : NULL;
    }
    return STATUS_OK;
}

static int is_wanted(const struct order *order, size_t at, enum sweeps_kind kind, const struct sweep *sweep)
{
    const struct sweeps_info *info = &sweeps_table[at];
    if (order->named)
        return order->of_many[at];
    return (info->defaults & kind) && (!info->shows || info->shows(sweep));
}

static enum status draw_many(const struct order *order, size_t at, const char *file,
                             const struct sweep *sweep, const struct slice_choice *choice,
                             const struct options *options, struct errors *errors)
{
    char path[PATH], *text = NULL;
    struct errors own = {0};
    const char *name = sweeps_table[at].name;
    enum status status = name_of(order, file, name, path, errors);
    if (status != STATUS_OK)
        return status;
    status = sweeps_draw(at, sweep, choice, order->format, order->format == PICTURE_TEXT ? NULL : path, &text,
                         &own);
    status = tell(order, name, status, &own, path, text, options, errors);
    memory_free(text);
    return status;
}

static enum status plot_many(const struct order *order, const char *file, const struct options *options,
                             struct errors *errors)
{
    struct sweep sweep;
    struct slice_choice choice;
    const char *word, *schema;
    enum sweeps_kind kind = sweeps_kind_of(file, &word, &schema);
    enum status status = store_sweep_read(file, schema, &sweep, errors);
    if (status == STATUS_OK)
        status = choose_factors(&sweep, options->factors, &choice, errors);
    for (size_t i = 0; status == STATUS_OK && i < SWEEPS_COUNT && !*terminal_interrupted(); i++) {
        if (is_wanted(order, i, kind, &sweep))
            status = draw_many(order, i, file, &sweep, &choice, options, errors);
    }
    sweep_free(&sweep);
    return status;
}

/* --- the command --- */

/* Whether a file has every picture that was asked for by its name. */
static enum status check_pictures(const struct order *order, const char *file, enum sweeps_kind kind,
                                  const char *word, struct errors *errors)
{
    const char *names[PLOT_COUNT + SWEEPS_COUNT], *wrong = NULL;
    char all[LIST];
    for (size_t i = 0; kind && i < PLOT_COUNT; i++)
        wrong = order->wanted[i] && !wrong ? plot_table[i].name : wrong;
    for (size_t i = 0; i < SWEEPS_COUNT; i++)
        wrong = order->of_many[i] && !(sweeps_table[i].kinds & kind) && !wrong ? sweeps_table[i].name : wrong;
    if (!order->named || !wrong)
        return STATUS_OK;
    join(names, names_of(kind, names), all, sizeof all);
    return errors_add(errors, STATUS_USAGE, file, 0, 0,
                      "is a result of %s, which has no picture '%s'; it has %s", word, wrong, all);
}

/* Whether all files are of one sort: results of run in one picture, or sweeps one by one; `many` says which.
 * What cannot be read is found out when it is. */
static enum status check_kinds(const struct order *order, const struct options *options, int *many,
                               struct errors *errors)
{
    size_t sweeps = 0, count = options->operand_count;
    for (size_t i = 0; i < count && !errors->count; i++) {
        const char *word = "run", *schema;
        enum sweeps_kind kind = sweeps_kind_of(options->operands[i], &word, &schema);
        sweeps += kind != 0;
        check_pictures(order, options->operands[i], kind, word, errors);
    }
    *many = sweeps > 0;
    if (!errors->count && sweeps > 0 && sweeps < count)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0,
                          "results of run and of sweeps are not drawn in one command");
    if (!errors->count && sweeps == 0 && options->factors)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--factors means nothing for a result of run");
    if (!errors->count && sweeps == 0 && count > PLOT_RESULTS)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "a picture shows at most %d results",
                          PLOT_RESULTS);
    return errors_status(errors);
}

enum status command_plot(const struct options *options)
{
    struct errors errors = {0};
    struct order order = {0};
    int many = 0;
    gnuplot_watch(terminal_interrupted());
    enum status status = read_order(options, &order, &errors);
    if (status == STATUS_OK)
        status = check_kinds(&order, options, &many, &errors);
    if (status == STATUS_OK && !many)
        plot_runs(&order, options, &errors);
    for (size_t i = 0; many && !errors.count && i < options->operand_count && !*terminal_interrupted(); i++)
        plot_many(&order, options->operands[i], options, &errors);
    status = errors_status(&errors);
    terminal_errors(&errors, 0);
    return status;
}
