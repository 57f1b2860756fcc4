#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "cases/store.h"
#include "plots/layouts.h"
#include "plots/plots.h"
#include "solver/base/memory.h"
#include "solver/base/units.h"
#include "solver/cli/command.h"
#include "solver/cli/terminal.h"

enum { PATH = 4096 };

/* What is to be drawn. */
struct order {
    int wanted[PLOT_COUNT];
    int named; /* 1 when the user chose the pictures */
    enum picture_format format;
    const char *folder; /* NULL: beside the first result */
    struct section_view view;
};

static enum status picture_unknown(const char *name, struct errors *errors)
{
    const char *names[PLOT_COUNT];
    for (size_t i = 0; i < PLOT_COUNT; i++)
        names[i] = plot_table[i].name;
    char all[256] = "";
    for (size_t i = 0, at = 0; i < PLOT_COUNT && at < sizeof all; i++)
        at += (size_t)snprintf(all + at, sizeof all - at, "%s%s", i ? ", " : "", names[i]);
    const char *nearest = units_nearest(name, names, PLOT_COUNT);
    return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "unknown picture '%.60s'; %s%s%sthere are %s", name,
                      nearest ? "did you mean '" : "", nearest ? nearest : "", nearest ? "'? " : "", all);
}

static enum status read_pictures(const char *list, struct order *order, struct errors *errors)
{
    for (size_t i = 0; !list && i < PLOT_COUNT; i++)
        order->wanted[i] = plot_table[i].by_default;
    order->named = list != NULL;
    while (list) {
        char name[64];
        size_t length = strcspn(list, ","), at = 0;
        snprintf(name, sizeof name, "%.*s", (int)(length < sizeof name ? length : sizeof name - 1), list);
        while (at < PLOT_COUNT && strcmp(plot_table[at].name, name) != 0)
            at++;
        if (at == PLOT_COUNT)
            return picture_unknown(name, errors);
        order->wanted[at] = 1;
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
    if ((options->at || options->field) && !order->wanted[section])
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--%s means nothing without --picture %s",
                          options->at ? "at" : "field", plot_table[section].name);
    return read_times(options->at, &order->view, errors);
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
    if (options->operand_count > PLOT_RESULTS)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "a picture shows at most %d results",
                          PLOT_RESULTS);
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

/* Draws one picture. One of the default set that has nothing to show is passed over, with a word. */
static enum status draw(const struct order *order, size_t at, const struct case_result *results,
                        const struct options *options, struct errors *errors)
{
    char path[PATH], *text = NULL;
    struct errors own = {0};
    int to_file = order->format != PICTURE_TEXT;
    enum status status = name_of(order, options->operands[0], plot_table[at].name, path, errors);
    if (status != STATUS_OK)
        return status;
    status = plots_draw(plot_table[at].name, results, options->operand_count, &order->view, order->format,
                        to_file ? path : NULL, &text, &own);
    if (status == STATUS_INPUT && !order->named) {
        if (!options->quiet)
            terminal_print(stderr, STYLE_FAINT, "%s: %s\n", plot_table[at].name, own.kept[0].text);
        return STATUS_OK;
    }
    if (status == STATUS_INTERRUPTED) /* main says which signal it was */
        return STATUS_OK;
    if (status != STATUS_OK)
        return errors_add(errors, status, own.kept[0].file, 0, 0, "%s: %s", plot_table[at].name,
                          own.kept[0].text);
    if (text)
        terminal_print(stdout, STYLE_PLAIN, "%s\n", text);
    else if (!options->quiet)
        terminal_print(stderr, STYLE_PLAIN, "wrote %s\n", path);
    memory_free(text);
    return STATUS_OK;
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

enum status command_plot(const struct options *options)
{
    struct errors errors = {0};
    struct order order = {0};
    struct case_result *results = memory_zeroed(options->operand_count, sizeof *results);
    gnuplot_watch(terminal_interrupted());
    if (!results)
        errors_add(&errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    else
        read_order(options, &order, &errors);
    for (size_t i = 0; !errors.count && i < options->operand_count; i++)
        store_read(options->operands[i], &results[i], &errors);
    if (!errors.count && !options->quiet)
        tell_left_out(options, &order, results);
    for (size_t i = 0; !errors.count && i < PLOT_COUNT && !*terminal_interrupted(); i++) {
        if (order.wanted[i])
            draw(&order, i, results, options, &errors);
    }
    for (size_t i = 0; results && i < options->operand_count; i++)
        case_result_free(&results[i]);
    memory_free(results);
    enum status status = errors_status(&errors);
    terminal_errors(&errors, 0);
    return status;
}
