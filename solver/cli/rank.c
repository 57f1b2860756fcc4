#include "solver/study/rank.h"

#include <jansson.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "cases/store_sweep.h"
#include "solver/base/memory.h"
#include "solver/base/units.h"
#include "solver/base/version.h"
#include "solver/cli/command.h"
#include "solver/cli/json_out.h"
#include "solver/cli/sweep_text.h"
#include "solver/cli/table.h"
#include "solver/cli/terminal.h"

enum { ROWS = 8, SHOWN_FACTORS = 8, SHOWN_HITS = 4, LINE = 1024 };

/* What is asked: the whole ranking, or one layout. */
struct ranking {
    const struct options *options;
    struct sweep sweep;
    struct rank rank;
    int one;
    double values[FACTORS_MOST];
    struct rank_layout layout;
    double each[RANK_MODELS], deviations[RANK_MODELS];
};

/* --- the layout of --at --- */

/* The factor with that path, or called so in tables. */
static enum status find_factor(const struct sweep *sweep, const char *name, size_t *at, struct errors *errors)
{
    const char *names[2 * FACTORS_MOST];
    char labels[FACTORS_MOST][FACTOR_LABEL];
    size_t count = sweep->factor_count;
    for (*at = 0; *at < count; ++*at) {
        factor_label(&sweep->factors[*at], labels[*at]);
        names[*at] = sweep->factors[*at].path;
        names[count + *at] = labels[*at];
    }
    for (*at = 0; *at < count; ++*at) {
        if (strcmp(names[*at], name) == 0 || strcmp(labels[*at], name) == 0)
            return STATUS_OK;
    }
    const char *nearest = units_nearest(name, names, 2 * count);
    return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--at: '%.100s' is not varied; %s%s%s", name,
                      nearest ? "did you mean '" : "varied is for one '",
                      nearest ? nearest : sweep->factors[0].path, nearest ? "'?" : "'");
}

static enum status read_text(const struct factor *factor, const char *text, double *value,
                             struct errors *errors)
{
    char all[LINE] = "";
    for (size_t k = 0; k < factor->level_count; k++) {
        if (strcmp(factor->texts[k], text) == 0) {
            *value = (double)k;
            return STATUS_OK;
        }
        size_t length = strlen(all);
        snprintf(all + length, sizeof all - length, "%s%s", k ? ", " : "", factor->texts[k]);
    }
    return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--at: %s is none of the values swept: %.300s", text,
                      all);
}

static enum status read_number(const struct rank *rank, size_t at, const char *text, double *value,
                               struct errors *errors)
{
    const struct factor *factor = &rank->sweep->factors[at];
    char unit[UNITS_NAME], message[UNITS_MESSAGE], low[FACTOR_TEXT], high[FACTOR_TEXT];
    factor_write(factor, rank->low[at], low);
    factor_write(factor, rank->high[at], high);
    if (!units_split(text, value, unit, message))
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--at: %s", message);
    if (strcmp(unit, factor->unit) != 0)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0,
                          "--at: '%.60s' has the unit '%s'; %.100s was swept from %s to %s: write it so",
                          text, unit, factor->path, low, high);
    if (*value < rank->low[at] || *value > rank->high[at])
        return errors_add(
            errors, STATUS_USAGE, NULL, 0, 0,
            "--at: '%.60s' lies outside what was swept, %s to %s; beyond it nothing is predicted", text, low,
            high);
    return STATUS_OK;
}

/* What --at does not name is as in the best layout that was solved. */
static enum status read_layout(struct ranking *ranking, struct errors *errors)
{
    const struct options *options = ranking->options;
    const struct sweep *sweep = &ranking->sweep;
    int given[FACTORS_MOST] = {0};
    size_t *order = sweep_order(sweep);
    if (!order)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    memcpy(ranking->values, sweep_values(sweep, order[0]), sweep->factor_count * sizeof *ranking->values);
    memory_free(order);
    for (size_t i = 0; i < options->at_count; i++) {
        const char *text = options->ats[i], *equals = strchr(text, '=');
        char name[FACTOR_PATH];
        size_t at;
        if (!equals)
            return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--at: '%.100s' is not PATH=VALUE", text);
        snprintf(name, sizeof name, "%.*s", (int)(equals - text), text);
        enum status status = find_factor(sweep, name, &at, errors);
        if (status == STATUS_OK && given[at]++)
            status = errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--at names '%.100s' twice", name);
        if (status == STATUS_OK)
            status = sweep->factors[at].texts
                         ? read_text(&sweep->factors[at], equals + 1, &ranking->values[at], errors)
                         : read_number(&ranking->rank, at, equals + 1, &ranking->values[at], errors);
        if (status != STATUS_OK)
            return status;
    }
    return rank_predict(&ranking->rank, ranking->values, &ranking->layout, ranking->each,
                        ranking->deviations);
}

/* --- text: the processes --- */

static const char *model_words(const struct rank *rank, const struct rank_model *model, char text[SWEEP_HIT])
{
    if (model->hit == SIZE_MAX)
        snprintf(text, SWEEP_HIT, "helmet mass (in g)");
    else
        sweep_hit(rank->sweep, model->hit, text);
    return text;
}

/* Points of margin, or grams. */
static double scale_of(const struct rank_model *model)
{
    return model->hit == SIZE_MAX ? 1000 : 100;
}

static const char *quality(const struct rank_model *model)
{
    if (isnan(model->q2))
        return "does not vary";
    return model->q2 >= RANK_GOOD ? "predicts well"
           : model->q2 >= 0.5     ? "predicts badly"
                                  : "predicts nothing";
}

static void add_model(struct table *table, const struct rank *rank, const struct rank_model *model)
{
    char text[SWEEP_HIT];
    int good = isnan(model->q2) || model->q2 >= RANK_GOOD;
    table_row(table);
    table_text(table, STYLE_PLAIN, "%s", model_words(rank, model, text));
    table_number(table, (double)model->rows, 0);
    table_number(table, model->hit == SIZE_MAX ? (double)NAN : (double)model->governs, 0);
    table_number(table, scale_of(model) * model->spread, 2);
    table_number(table, scale_of(model) * model->error, 2);
    table_number(table, 100 * model->error / model->spread, 1);
    table_number(table, model->q2, 3);
    table_number(table, model->surprise, 1);
    table_text(table, good ? STYLE_GOOD : STYLE_WARNING, "%s", quality(model));
}

static enum status print_models(const struct rank *rank)
{
    static const struct table_column columns[] = {{"margin of", 0}, {"layouts", 1}, {"governs", 1},
                                                  {"spread", 1},    {"error", 1},   {"% of spread", 1},
                                                  {"Q2", 1},        {"of own", 1},  {"", 0}};
    struct table table;
    terminal_print(stdout, STYLE_STRONG,
                   "\nhow well the rest predicts a layout that is left out (points of margin)\n");
    table_make(&table, columns, sizeof columns / sizeof *columns);
    for (size_t m = 0; m < rank->model_count; m++)
        add_model(&table, rank, &rank->models[m]);
    if (rank->mass_varies)
        add_model(&table, rank, &rank->mass);
    enum status status = table_print(&table);
    terminal_print(stdout, STYLE_FAINT,
                   "  (spread: standard deviation; error: root mean square; of own: error over the deviation "
                   "foretold, 1 is honest)\n");
    if (rank->far_count > 0)
        terminal_print(
            stdout, STYLE_PLAIN,
            "  %zu more hits have no surrogate: they never come within 20 points of the least margin%s\n",
            rank->far_count, rank->model_count == RANK_MODELS ? ", or the twelve above do more often" : "");
    if (rank->silent_count > 0)
        terminal_print(stdout, STYLE_WARNING, "  %zu hits have no margin in any layout\n",
                       rank->silent_count);
    for (size_t m = 0; m < rank->model_count; m++) {
        char text[SWEEP_HIT];
        if (rank->models[m].q2 < RANK_GOOD)
            terminal_print(
                stdout, STYLE_WARNING,
                "%s: the surrogate predicts it badly, Q2 %.2f under %.1f: solve more layouts before "
                "you trust what follows\n",
                sweep_hit(rank->sweep, rank->models[m].hit, text), rank->models[m].q2, RANK_GOOD);
    }
    return status;
}

/* --- text: sensitivities --- */

/* "raises it, -12.1 to 8.4 %", "best near 47 kg/m3, 8.4 %", "best epp, 3.1 %; worst eps, -4 %" */
static void effect_words(const struct rank *rank, size_t i, char text[LINE])
{
    const struct rank_effect *effect = &rank->effects[i];
    const struct factor *factor = &rank->sweep->factors[i];
    char high[FACTOR_TEXT], low[FACTOR_TEXT];
    size_t best = 0, worst = 0, last = effect->count - 1;
    int direction = rank_direction(rank, i);
    for (size_t k = 1; k < effect->count; k++) {
        best = effect->margins[k] > effect->margins[best] ? k : best;
        worst = effect->margins[k] < effect->margins[worst] ? k : worst;
    }
    factor_write(factor, effect->values[best], high);
    factor_write(factor, effect->values[worst], low);
    if (direction)
        snprintf(text, LINE, "more %s it, %.1f to %.1f %%", direction > 0 ? "raises" : "lowers",
                 100 * effect->margins[0], 100 * effect->margins[last]);
    else if (effect->margins[best] - effect->margins[worst] < 1e-9)
        snprintf(text, LINE, "nothing");
    else
        snprintf(text, LINE, "best %s%s, %.1f %%; worst %s%s, %.1f %%", factor->texts ? "" : "near ", high,
                 100 * effect->margins[best], factor->texts ? "" : "near ", low,
                 100 * effect->margins[worst]);
}

/* Factors by falling total index. */
static void order_factors(const struct rank *rank, size_t order[FACTORS_MOST])
{
    for (size_t i = 0; i < rank->sweep->factor_count; i++) {
        size_t at = i;
        for (; at > 0 && rank->total[order[at - 1]] < rank->total[i]; at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
}

static enum status print_sensitivities(const struct rank *rank)
{
    static const struct table_column columns[] = {{"factor", 0}, {"total", 1}, {"first", 1}, {"moves it", 0}};
    struct table table;
    size_t order[FACTORS_MOST];
    char text[LINE];
    terminal_print(stdout, STYLE_STRONG,
                   "\nwhat moves the least margin (mean %.1f %%, standard deviation %.1f points, over all "
                   "layouts alike)\n",
                   100 * rank->mean, 100 * sqrt(rank->variance));
    order_factors(rank, order);
    table_make(&table, columns, sizeof columns / sizeof *columns);
    for (size_t k = 0; k < rank->sweep->factor_count; k++) {
        size_t i = order[k];
        factor_label(&rank->sweep->factors[i], text);
        table_row(&table);
        table_text(&table, STYLE_PLAIN, "%s", text);
        table_number(&table, rank->total[i], 3);
        table_number(&table, rank->first[i], 3);
        effect_words(rank, i, text);
        table_text(&table, STYLE_PLAIN, "%s", text);
    }
    enum status status = table_print(&table);
    terminal_print(stdout, STYLE_FAINT,
                   "  (Sobol indices, shares of the variance: first, by itself; total, with all it acts "
                   "together with)\n");
    return status;
}

/* Heads of a table that names some factors; their count. */
static size_t factor_heads(const struct sweep *sweep, char labels[SHOWN_FACTORS][FACTOR_LABEL],
                           struct table_column *columns, int numbers)
{
    size_t shown = sweep->factor_count < SHOWN_FACTORS ? sweep->factor_count : SHOWN_FACTORS;
    for (size_t i = 0; i < shown; i++) {
        factor_label(&sweep->factors[i], labels[i]);
        columns[i] = (struct table_column){labels[i], numbers || !sweep->factors[i].texts};
    }
    return shown;
}

static enum status print_by_hit(const struct rank *rank)
{
    struct table table;
    struct table_column columns[TABLE_COLUMNS];
    char labels[SHOWN_FACTORS][FACTOR_LABEL], text[SWEEP_HIT];
    size_t shown = factor_heads(rank->sweep, labels, columns, 1);
    if (rank->model_count < 2 || rank->sweep->factor_count < 2)
        return STATUS_OK;
    terminal_print(stdout, STYLE_STRONG,
                   "\nwhich factor matters for which impact (total index of its margin)\n");
    columns[shown] = (struct table_column){"impact", 0};
    table_make(&table, columns, shown + 1);
    for (size_t m = 0; m < rank->model_count && m < SHOWN_HITS; m++) {
        table_row(&table);
        for (size_t i = 0; i < shown; i++)
            table_number(&table, rank->models[m].total[i], 3);
        table_text(&table, STYLE_PLAIN, "%s", sweep_hit(rank->sweep, rank->models[m].hit, text));
    }
    return table_print(&table);
}

/* --- text: layouts --- */

static void add_values(struct table *table, const struct sweep *sweep, const double *values, size_t shown)
{
    char value[FACTOR_TEXT];
    for (size_t i = 0; i < shown; i++) {
        factor_write(&sweep->factors[i], values[i], value);
        table_text(table, STYLE_PLAIN, "%s", value);
    }
}

static void add_layout(struct table *table, const struct rank *rank, const struct rank_layout *layout,
                       size_t shown)
{
    const struct sweep *sweep = rank->sweep;
    char text[SWEEP_HIT];
    table_row(table);
    add_values(table, sweep, layout->values, shown);
    table_number(table, layout->mass, 3);
    table_number(table, 100 * layout->margin, 1);
    table_number(table, 100 * layout->deviation, 1);
    if (layout->row == SIZE_MAX)
        table_text(table, STYLE_PLAIN, "not solved");
    else
        table_text(table, STYLE_PLAIN, "no. %ld: %.1f", sweep->points[layout->row].number,
                   100 * sweep->points[layout->row].worst_margin);
    table_text(table, STYLE_PLAIN, "%s", sweep_hit(sweep, rank->models[layout->model].hit, text));
}

static enum status print_layouts(const struct rank *rank, const struct rank_layout *layouts, size_t count)
{
    struct table table;
    struct table_column columns[TABLE_COLUMNS];
    char labels[SHOWN_FACTORS][FACTOR_LABEL];
    size_t shown = factor_heads(rank->sweep, labels, columns, 0), at = shown;
    columns[at++] = (struct table_column){"mass kg", 1};
    columns[at++] = (struct table_column){"margin %", 1};
    columns[at++] = (struct table_column){"+-", 1};
    columns[at++] = (struct table_column){"solved", 0};
    columns[at++] = (struct table_column){"governed by", 0};
    table_make(&table, columns, at);
    for (size_t i = 0; i < count; i++)
        add_layout(&table, rank, &layouts[i], shown);
    return table_print(&table);
}

static enum status print_best(const struct rank *rank)
{
    terminal_print(stdout, STYLE_STRONG, "\nbest layouts expected, of %zu looked at (%s)\n", rank->searched,
                   rank->whole_grid ? "all there are"
                                    : "spread over the ranges, the first one climbed from; "
                                      "the others some way apart");
    if (rank->over_mass > 0)
        terminal_print(stdout, STYLE_PLAIN, "  %zu of them are heavier than the limit of %.3f kg\n",
                       rank->over_mass, rank->sweep->helmet_mass_limit);
    if (rank->best_count == 0)
        return STATUS_OK;
    enum status status = print_layouts(rank, rank->best, rank->best_count);
    terminal_print(stdout, STYLE_FAINT,
                   "  (margin: least of the predicted; +-: one standard deviation of it by the surrogate)\n");
    return status;
}

static enum status print_front(const struct rank *rank, const size_t *front, size_t count, const char *what,
                               int all)
{
    const struct sweep *sweep = rank->sweep;
    struct table table;
    struct table_column columns[TABLE_COLUMNS];
    char labels[SHOWN_FACTORS][FACTOR_LABEL];
    size_t shown = factor_heads(sweep, labels, columns + 1, 0), at = shown + 1;
    size_t rows = all || count < ROWS ? count : ROWS;
    terminal_print(stdout, STYLE_STRONG,
                   "\ntrade-off of %s against mass: none that was solved is lighter and better\n", what);
    columns[0] = (struct table_column){"no.", 1};
    columns[at++] = (struct table_column){"mass kg", 1};
    columns[at++] = (struct table_column){"margin %", 1};
    columns[at++] = (struct table_column){"peak g", 1};
    table_make(&table, columns, at);
    for (size_t i = 0; i < rows; i++) {
        size_t row = front[rows > 1 ? i * (count - 1) / (rows - 1) : 0];
        table_row(&table);
        table_text(&table, STYLE_PLAIN, "%ld", sweep->points[row].number);
        add_values(&table, sweep, sweep_values(sweep, row), shown);
        table_number(&table, sweep->points[row].mass.helmet, 3);
        table_number(&table, 100 * sweep->points[row].worst_margin, 1);
        table_number(&table, rank_peak(sweep, row), 1);
    }
    enum status status = table_print(&table);
    if (rows < count)
        terminal_print(stdout, STYLE_FAINT, "  and %zu more between them (--all)\n", count - rows);
    return status;
}

static enum status print_solved(const struct sweep *sweep, int all)
{
    size_t *order = sweep_order(sweep), shown = sweep->point_count;
    if (!order)
        return STATUS_MEMORY;
    shown = all || shown < ROWS ? shown : ROWS;
    terminal_print(stdout, STYLE_STRONG, "\nsolved, the best first\n");
    enum status status = sweep_print_rows(sweep, order, shown);
    if (shown < sweep->point_count)
        terminal_print(stdout, STYLE_FAINT, "  and %zu more (--all)\n", sweep->point_count - shown);
    memory_free(order);
    return status;
}

static void print_head(const struct rank *rank)
{
    const struct sweep *sweep = rank->sweep;
    char clean[LINE];
    terminal_print(stdout, STYLE_STRONG, "%s\n",
                   sweep->title[0] ? terminal_clean(sweep->title, clean, sizeof clean) : "Untitled case");
    terminal_print(stdout, STYLE_PLAIN, "%zu layouts (%s), %zu hits each, model %s, %zu factors\n",
                   sweep->point_count, sweep->sample, sweep->hit_count, sweep->model, sweep->factor_count);
    if (rank->left_out > 0)
        terminal_print(stdout, STYLE_WARNING, "%zu are left out: failed, refused or without a margin\n",
                       rank->left_out);
}

static enum status print_prediction(const struct ranking *ranking)
{
    static const struct table_column columns[] = {{"margin %", 1}, {"+-", 1}, {"impact", 0}};
    const struct rank *rank = &ranking->rank;
    struct table table;
    char text[SWEEP_HIT];
    terminal_print(stdout, STYLE_STRONG, "\npredicted\n");
    enum status status = print_layouts(rank, &ranking->layout, 1);
    if (ranking->options->at_count < rank->sweep->factor_count)
        terminal_print(stdout, STYLE_FAINT, "  (what --at does not name is as in the best layout solved)\n");
    terminal_print(stdout, STYLE_PLAIN, "\n");
    table_make(&table, columns, sizeof columns / sizeof *columns);
    for (size_t m = 0; m < rank->model_count; m++) {
        table_row(&table);
        table_number(&table, 100 * ranking->each[m], 1);
        table_number(&table, 100 * ranking->deviations[m], 1);
        table_text(&table, STYLE_PLAIN, "%s", sweep_hit(rank->sweep, rank->models[m].hit, text));
    }
    return status_worse(status, table_print(&table));
}

static enum status print_ranking(const struct rank *rank, int all)
{
    enum status status = print_sensitivities(rank);
    if (status == STATUS_OK)
        status = print_by_hit(rank);
    if (status == STATUS_OK)
        status = print_best(rank);
    if (status == STATUS_OK && rank->front_count > 0)
        status = print_front(rank, rank->front, rank->front_count, "the least margin", all);
    if (status == STATUS_OK && rank->peak_count > 0)
        status = print_front(rank, rank->peak_front, rank->peak_count, "the largest peak", all);
    return status;
}

static enum status print(const struct ranking *ranking)
{
    const struct rank *rank = &ranking->rank;
    enum status status = STATUS_OK;
    print_head(rank);
    if (!ranking->one)
        status = print_solved(&ranking->sweep, ranking->options->all);
    if (status == STATUS_OK)
        status = print_models(rank);
    if (status == STATUS_OK)
        status = ranking->one ? print_prediction(ranking) : print_ranking(rank, ranking->options->all);
    terminal_print(stdout, STYLE_FAINT, "\n%s\n", CAUTION_TEXT);
    return status;
}

/* The command that solves the best layout expected, if it is not solved yet. */
static void tell_next(const struct ranking *ranking)
{
    const struct rank *rank = &ranking->rank;
    const struct rank_layout *layout = ranking->one ? &ranking->layout : rank->best;
    char value[FACTOR_TEXT], clean[LINE];
    if (ranking->options->quiet || (!ranking->one && rank->best_count == 0) || layout->row != SIZE_MAX)
        return;
    terminal_flush();
    terminal_print(stderr, STYLE_PLAIN, "to solve it: foampulse run CASE");
    for (size_t i = 0; i < rank->sweep->factor_count; i++) {
        factor_write(&rank->sweep->factors[i], layout->values[i], value);
        terminal_print(stderr, STYLE_PLAIN, " -s \"%s=%s\"",
                       terminal_clean(rank->sweep->factors[i].path, clean, sizeof clean), value);
    }
    terminal_print(stderr, STYLE_PLAIN, "\n");
}

/* --- JSON --- */

static json_t *value_json(const struct factor *factor, double value)
{
    return factor->texts ? json_string(factor->texts[(size_t)value]) : json_out_number(value);
}

static json_t *values_json(const struct sweep *sweep, const double *values)
{
    json_t *object = json_object();
    for (size_t i = 0; i < sweep->factor_count; i++)
        json_object_set_new(object, sweep->factors[i].path, value_json(&sweep->factors[i], values[i]));
    return object;
}

static json_t *numbers_json(size_t count, const double *values)
{
    json_t *array = json_array();
    for (size_t i = 0; i < count; i++)
        json_array_append_new(array, json_out_number(values[i]));
    return array;
}

static json_t *model_json(const struct rank *rank, const struct rank_model *model)
{
    size_t factors = model->first ? rank->sweep->factor_count : 0;
    int mass = model->hit == SIZE_MAX;
    return json_pack("{s:o, s:o, s:s, s:I, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:s}", "impact",
                     mass ? json_null() : json_integer(rank->sweep->hits[model->hit].impact), "hit",
                     mass ? json_null() : json_integer(rank->sweep->hits[model->hit].hit), "of",
                     mass ? "helmet_mass_kg" : "margin", "layouts", (json_int_t)model->rows, "governs",
                     mass ? json_null() : json_integer((json_int_t)model->governs), "spread",
                     json_out_number(model->spread), "error", json_out_number(model->error), "q2",
                     json_out_number(model->q2), "error_over_deviation", json_out_number(model->surprise),
                     "first", numbers_json(factors, model->first), "total",
                     numbers_json(factors, model->total), "word", quality(model));
}

static json_t *models_json(const struct rank *rank)
{
    json_t *array = json_array();
    for (size_t m = 0; m < rank->model_count; m++)
        json_array_append_new(array, model_json(rank, &rank->models[m]));
    if (rank->mass_varies)
        json_array_append_new(array, model_json(rank, &rank->mass));
    return array;
}

static json_t *factors_json(const struct rank *rank)
{
    static const char *const directions[] = {"lowers", "neither", "raises"};
    json_t *array = json_array();
    for (size_t i = 0; i < rank->sweep->factor_count; i++) {
        const struct factor *factor = &rank->sweep->factors[i];
        const struct rank_effect *effect = &rank->effects[i];
        json_t *values = json_array();
        for (size_t k = 0; k < effect->count; k++)
            json_array_append_new(values, value_json(factor, effect->values[k]));
        json_array_append_new(array,
                              json_pack("{s:s, s:s, s:o, s:o, s:s, s:{s:o, s:o}}", "path", factor->path,
                                        "unit", factor->unit, "first", json_out_number(rank->first[i]),
                                        "total", json_out_number(rank->total[i]), "more",
                                        directions[rank_direction(rank, i) + 1], "effect", "values", values,
                                        "margins", numbers_json(effect->count, effect->margins)));
    }
    return array;
}

static json_t *layout_json(const struct rank *rank, const struct rank_layout *layout)
{
    const struct sweep *sweep = rank->sweep;
    const struct hit_result *hit = &sweep->hits[rank->models[layout->model].hit];
    int solved = layout->row != SIZE_MAX;
    return json_pack("{s:o, s:o, s:o, s:o, s:i, s:i, s:o, s:o}", "values", values_json(sweep, layout->values),
                     "margin", json_out_number(layout->margin), "deviation",
                     json_out_number(layout->deviation), "helmet_mass_kg", json_out_number(layout->mass),
                     "impact", hit->impact, "hit", hit->hit, "number",
                     solved ? json_integer(sweep->points[layout->row].number) : json_null(), "solved_margin",
                     solved ? json_out_number(sweep->points[layout->row].worst_margin) : json_null());
}

static json_t *front_json(const struct sweep *sweep, const size_t *front, size_t count)
{
    json_t *array = json_array();
    for (size_t i = 0; i < count; i++) {
        const struct sweep_point *point = &sweep->points[front[i]];
        json_array_append_new(array,
                              json_pack("{s:I, s:o, s:o, s:o, s:o}", "number", (json_int_t)point->number,
                                        "values", values_json(sweep, sweep_values(sweep, front[i])),
                                        "helmet_mass_kg", json_out_number(point->mass.helmet), "margin",
                                        json_out_number(point->worst_margin), "peak_g",
                                        json_out_number(rank_peak(sweep, front[i]))));
    }
    return array;
}

/* The one layout that was asked for, with each hit that has a model. */
static json_t *prediction_json(const struct ranking *ranking)
{
    const struct rank *rank = &ranking->rank;
    json_t *object = layout_json(rank, &ranking->layout), *hits = json_array();
    for (size_t m = 0; m < rank->model_count; m++) {
        const struct hit_result *hit = &rank->sweep->hits[rank->models[m].hit];
        json_array_append_new(hits, json_pack("{s:i, s:i, s:o, s:o}", "impact", hit->impact, "hit", hit->hit,
                                              "margin", json_out_number(ranking->each[m]), "deviation",
                                              json_out_number(ranking->deviations[m])));
    }
    json_object_set_new(object, "hits", hits);
    return object;
}

static enum status print_json(const struct ranking *ranking)
{
    const struct rank *rank = &ranking->rank;
    json_t *best = json_array();
    for (size_t i = 0; i < rank->best_count; i++)
        json_array_append_new(best, layout_json(rank, &rank->best[i]));
    json_t *object = json_pack(
        "{s:s, s:s, s:s, s:s, s:s, s:s, s:I, s:I, s:I, s:I, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}",
        "schema", "foampulse/rank/1", "program_version", FOAMPULSE_VERSION, "caution", CAUTION_TEXT, "title",
        rank->sweep->title, "result_file", ranking->options->operands[0], "model", rank->sweep->model,
        "layouts", (json_int_t)rank->computed, "left_out", (json_int_t)rank->left_out, "hits_not_modelled",
        (json_int_t)rank->far_count, "hits_without_margin", (json_int_t)rank->silent_count, "mean",
        json_out_number(rank->mean), "variance", json_out_number(rank->variance), "models", models_json(rank),
        "factors", factors_json(rank), "best", best, "front",
        front_json(rank->sweep, rank->front, rank->front_count), "peak_front",
        front_json(rank->sweep, rank->peak_front, rank->peak_count), "at",
        ranking->one ? prediction_json(ranking) : json_null());
    enum status status = terminal_json(object);
    json_decref(object);
    return status;
}

/* --- the command --- */

static enum status open_sweep(struct ranking *ranking, struct errors *errors)
{
    const char *path = ranking->options->operands[0], *schema = store_sweep_kind(path);
    if (!schema && access(path, R_OK) == 0)
        return errors_add(errors, STATUS_INPUT, path, 0, 0,
                          "is no result of sweep, tune or tolerance; rank takes CASE.sweep.h5");
    return store_sweep_read(path, schema ? schema : STORE_SWEEP, &ranking->sweep, errors);
}

static enum status make(struct ranking *ranking, struct errors *errors)
{
    struct errors own = {0};
    const char *path = ranking->options->operands[0];
    enum status status = rank_make(&ranking->sweep, &ranking->rank, &own);
    if (own.count > 0)
        return errors_add(errors, status, path, 0, 0, "%s", own.kept[0].text);
    if (status != STATUS_OK)
        return errors_add(errors, status, path, 0, 0, "%s",
                          status == STATUS_MEMORY ? "out of memory" : "no surrogate fits these layouts");
    ranking->one = ranking->options->at_count > 0;
    return ranking->one ? read_layout(ranking, errors) : STATUS_OK;
}

enum status command_rank(const struct options *options)
{
    struct errors errors = {0};
    struct ranking ranking = {.options = options};
    enum status status = STATUS_OK;
    if (options->all && (options->json || options->at_count > 0))
        status = errors_add(&errors, STATUS_USAGE, NULL, 0, 0, "--all means nothing with --json or --at");
    if (status == STATUS_OK)
        status = open_sweep(&ranking, &errors);
    if (status == STATUS_OK)
        status = make(&ranking, &errors);
    if (status == STATUS_OK) {
        status = options->json ? print_json(&ranking) : print(&ranking);
        tell_next(&ranking);
    }
    terminal_errors(&errors, options->json);
    rank_free(&ranking.rank);
    sweep_free(&ranking.sweep);
    return status;
}
