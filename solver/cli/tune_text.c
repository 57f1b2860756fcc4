#include "solver/cli/json_out.h"
#include "solver/cli/tune_text.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/version.h"
#include "solver/cli/sweep_text.h"
#include "solver/cli/table.h"
#include "solver/cli/terminal.h"

enum { ROWS = 8, LINE = 1024 };

/* --- words --- */

const char *tune_value(const struct tune *tune, double value, char text[TUNE_VALUE])
{
    int metric = tune->base->tune.metric;
    const char *unit = metric < 0 ? "%" : metric_table[metric].unit;
    const char *word = metric < 0 ? "worst margin" : metrics_word((enum metric)metric);
    if (isnan(value))
        snprintf(text, TUNE_VALUE, "%s%s not computed", metric < 0 ? "" : "largest ", word);
    else if (metric < 0)
        snprintf(text, TUNE_VALUE, "%s %.2f %%", word, 100 * value);
    else
        snprintf(text, TUNE_VALUE, "largest %s %.5g%s%s", word, value, strcmp(unit, "1") == 0 ? "" : " ",
                 strcmp(unit, "1") == 0 ? "" : unit);
    return text;
}

/* "helmet mass at most 1.45 kg" */
static void bound_words(const struct case_keep *keep, char *text, size_t size)
{
    const char *way = keep->most ? "at most" : "at least";
    const char *unit = metric_table[keep->metric].unit;
    if (keep->kind == KEEP_HELMET_MASS)
        snprintf(text, size, "helmet mass %s %.4g kg", way, keep->bound);
    else if (keep->kind == KEEP_STROKE_LEFT)
        snprintf(text, size, "stroke left %s %.4g %%", way, 100 * keep->bound);
    else
        snprintf(text, size, "%s %s %.5g%s%s", metrics_word(keep->metric), way, keep->bound,
                 strcmp(unit, "1") == 0 ? "" : " ", strcmp(unit, "1") == 0 ? "" : unit);
}

/* What a bound leaves, as the user reads it. */
static void slack_words(const struct case_keep *keep, double slack, char *text, size_t size)
{
    double value = keep->most ? keep->bound - slack : keep->bound + slack;
    const char *state = slack < 0 ? "NOT KEPT" : "kept";
    if (isnan(slack))
        snprintf(text, size, "does not apply");
    else if (keep->kind == KEEP_HELMET_MASS)
        snprintf(text, size, "%.4g kg, %s", value, state);
    else if (keep->kind == KEEP_STROKE_LEFT)
        snprintf(text, size, "%.4g %%, %s", 100 * value, state);
    else
        snprintf(text, size, "%.5g, %s", value, state);
}

/* --- text --- */

static void print_head(const struct tune *tune)
{
    const struct sweep *sweep = &tune->sweep;
    const struct case_tune *asked = &tune->base->tune;
    char clean[LINE], low[FACTOR_TEXT], high[FACTOR_TEXT], label[FACTOR_LABEL];
    terminal_print(stdout, STYLE_STRONG, "%s\n",
                   sweep->title[0] ? terminal_clean(sweep->title, clean, sizeof clean) : "Untitled case");
    terminal_print(stdout, STYLE_PLAIN, "%s, model %s, %zu hits a layout; varied:\n",
                   asked->metric < 0 ? "largest worst margin" : "smallest metric", sweep->model,
                   sweep->hit_count);
    for (size_t i = 0; i < sweep->factor_count; i++) {
        const struct factor *factor = &sweep->factors[i];
        factor_label(factor, label);
        factor_write(factor, factor->low, low);
        factor_write(factor, factor->high, high);
        terminal_print(stdout, STYLE_PLAIN, "  %s: ", terminal_clean(label, clean, sizeof clean));
        if (factor->texts)
            terminal_print(stdout, STYLE_PLAIN, "%zu names\n", factor->level_count);
        else if (factor->level_count)
            terminal_print(stdout, STYLE_PLAIN, "%s to %s, %zu values\n", low, high, factor->level_count);
        else
            terminal_print(stdout, STYLE_PLAIN, "%s to %s\n", low, high);
    }
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

/* The runs after which the best had grown, the case as written run 1. */
static void print_convergence(const struct tune *tune)
{
    double best = NAN;
    int shown = 0;
    char text[TUNE_VALUE];
    for (size_t i = 0; i < tune->sweep.point_count; i++) {
        double value = tune_objective(tune, &tune->sweep, i);
        if (!tune_allowed(tune, &tune->sweep, i) || !tune_better(tune, value, best))
            continue;
        best = value;
        terminal_print(stdout, STYLE_PLAIN,
                       shown++ ? "  after %3zu runs: %s\n" : "\nbest so far:\n  after %3zu runs: %s\n", i + 2,
                       tune_value(tune, value, text));
    }
    terminal_print(stdout, STYLE_PLAIN, "%zu runs of %zu used, the case as written one of them; %s\n",
                   tune->sweep.point_count + 1, tune->base->tune.runs,
                   tune->ended ? "nothing more was worth a run" : "the search was not over");
}

static void print_bounds(const struct tune *tune, size_t best)
{
    char words[LINE], state[LINE], clean[LINE], label[FACTOR_LABEL], value[FACTOR_TEXT];
    for (size_t i = 0; i < tune->base->tune.keep_count; i++) {
        const struct case_keep *keep = &tune->base->tune.keeps[i];
        bound_words(keep, words, sizeof words);
        slack_words(keep, tune_slack(tune, &tune->sweep, best, i), state, sizeof state);
        terminal_print(stdout, STYLE_PLAIN, "  %s: %s\n", words, state);
    }
    for (size_t i = 0; i < tune->sweep.factor_count; i++) {
        int end = tune_bound(tune, best, i);
        if (!end)
            continue;
        factor_label(&tune->sweep.factors[i], label);
        factor_write(&tune->sweep.factors[i], sweep_values(&tune->sweep, best)[i], value);
        terminal_print(stdout, STYLE_WARNING, "  %s is at its %s bound, %s: the best may lie beyond\n",
                       terminal_clean(label, clean, sizeof clean), end < 0 ? "lower" : "upper", value);
    }
}

static void print_gain(const struct tune *tune, double start, double best)
{
    char text[TUNE_VALUE];
    int allowed = tune_allowed(tune, &tune->start, 0);
    terminal_print(stdout, STYLE_PLAIN, "as written: %s%s\n", tune_value(tune, start, text),
                   isnan(start) || allowed ? "" : ", a bound is not kept");
    if (isnan(start))
        return;
    if (allowed && !tune_better(tune, best, start))
        terminal_print(stdout, STYLE_WARNING,
                       "the case as written is no worse than the best that was found\n");
    else if (tune->base->tune.metric < 0)
        terminal_print(stdout, STYLE_PLAIN, "better by %.2f points\n", 100 * (best - start));
    else
        terminal_print(stdout, STYLE_PLAIN, "smaller by %.4g (%.1f %%)\n", start - best,
                       100 * (start - best) / start);
}

static void print_best(const struct tune *tune)
{
    double start = tune_objective(tune, &tune->start, 0);
    char layout[SWEEP_LAYOUT], clean[SWEEP_LAYOUT], text[TUNE_VALUE];
    terminal_print(stdout, STYLE_PLAIN, "\n");
    if (tune->best < 0) {
        terminal_print(stdout, STYLE_WARNING, "no layout that was tried was computed and keeps all bounds\n");
        print_gain(tune, start, NAN);
        return;
    }
    size_t best = (size_t)tune->best;
    double value = tune_objective(tune, &tune->sweep, best);
    terminal_print(stdout, STYLE_STRONG, "best: %s",
                   terminal_clean(sweep_layout(&tune->sweep, best, layout), clean, sizeof clean));
    terminal_print(stdout, STYLE_PLAIN, "; %s, %s\n", tune_value(tune, value, text),
                   verdict_text(tune->sweep.points[best].verdict));
    print_bounds(tune, best);
    print_gain(tune, start, value);
}

static void print_lines(enum style style, const char *before, char *const *lines, size_t count)
{
    char clean[LINE];
    for (size_t i = 0; i < count; i++)
        terminal_print(stdout, style, "%s%s\n", before, terminal_clean(lines[i], clean, sizeof clean));
}

enum status tune_print(const struct tune *tune, int all)
{
    const struct sweep *sweep = &tune->sweep;
    size_t *order = tune_order(tune), shown = all || sweep->point_count < ROWS ? sweep->point_count : ROWS;
    if (!order)
        return STATUS_MEMORY;
    print_head(tune);
    enum status status = sweep_print_rows(sweep, order, shown);
    if (shown < sweep->point_count)
        terminal_print(stdout, STYLE_FAINT, "  and %zu more (--all)\n", sweep->point_count - shown);
    memory_free(order);
    print_convergence(tune);
    print_lines(STYLE_WARNING, "warning: ", sweep->warnings, sweep->warning_count);
    print_lines(STYLE_PLAIN, "not covered: ", sweep->not_covered, sweep->not_covered_count);
    print_best(tune);
    terminal_print(stdout, STYLE_FAINT, "\n%s\n", CAUTION_TEXT);
    return status;
}

/* --- JSON --- */

static json_t *values_json(const struct tune *tune, size_t row)
{
    json_t *object = json_object();
    for (size_t i = 0; i < tune->sweep.factor_count; i++) {
        char text[FACTOR_TEXT];
        factor_write(&tune->sweep.factors[i], sweep_values(&tune->sweep, row)[i], text);
        json_object_set_new(object, tune->sweep.factors[i].path, json_out_text(text));
    }
    return object;
}

static json_t *bounds_json(const struct tune *tune, size_t row)
{
    json_t *object = json_object();
    for (size_t i = 0; i < tune->sweep.factor_count; i++) {
        int end = tune_bound(tune, row, i);
        if (end)
            json_object_set_new(object, tune->sweep.factors[i].path,
                                json_out_text(end < 0 ? "lower" : "upper"));
    }
    return object;
}

static json_t *keeps_json(const struct tune *tune, const struct sweep *sweep, size_t row)
{
    json_t *array = json_array();
    for (size_t i = 0; i < tune->base->tune.keep_count; i++) {
        const struct case_keep *keep = &tune->base->tune.keeps[i];
        double slack = tune_slack(tune, sweep, row, i);
        json_array_append_new(array,
                              json_pack("{s:s, s:s, s:o, s:o, s:b}", "of", keep->place->text, "way",
                                        keep->most ? "max" : "min", "bound", json_out_number(keep->bound),
                                        "slack", json_out_number(slack), "kept", !(slack < 0.0)));
    }
    return array;
}

static json_t *point_json(const struct tune *tune, size_t row)
{
    const struct sweep_point *point = &tune->sweep.points[row];
    return json_pack("{s:I, s:s, s:o, s:o, s:o, s:o, s:o, s:b}", "number", (json_int_t)point->number,
                     "status", sweep_status_text(point->status), "message", json_out_text(point->message),
                     "values", values_json(tune, row), "value",
                     json_out_number(tune_objective(tune, &tune->sweep, row)), "helmet_mass_kg",
                     json_out_number(point->mass.helmet), "stroke_left", json_out_number(point->stroke_left),
                     "allowed", tune_allowed(tune, &tune->sweep, row));
}

static json_t *best_json(const struct tune *tune)
{
    if (tune->best < 0)
        return json_null();
    size_t best = (size_t)tune->best;
    json_t *object = point_json(tune, best);
    json_object_set_new(object, "verdict", json_out_text(verdict_text(tune->sweep.points[best].verdict)));
    json_object_set_new(object, "at_bound", bounds_json(tune, best));
    json_object_set_new(object, "keep", keeps_json(tune, &tune->sweep, best));
    return object;
}

static json_t *start_json(const struct tune *tune)
{
    return json_pack("{s:s, s:o, s:b, s:o}", "status", sweep_status_text(tune->start.points[0].status),
                     "value", json_out_number(tune_objective(tune, &tune->start, 0)), "allowed",
                     tune_allowed(tune, &tune->start, 0), "keep", keeps_json(tune, &tune->start, 0));
}

enum status tune_json(const struct tune *tune, const char *path, const char *case_path)
{
    int metric = tune->base->tune.metric;
    json_t *points = json_array();
    for (size_t i = 0; i < tune->sweep.point_count; i++)
        json_array_append_new(points, point_json(tune, i));
    json_t *object = json_pack(
        "{s:s, s:s, s:s, s:o, s:s, s:o, s:o, s:s, s:s, s:I, s:I, s:b, s:o, s:o, s:o}", "schema",
        "foampulse/tune-summary/1", "program_version", FOAMPULSE_VERSION, "caution", CAUTION_TEXT, "title",
        json_out_text(tune->sweep.title), "case_hash", tune->sweep.case_hash, "result_file",
        json_out_text(path), "case_file", json_out_text(case_path), "model", tune->sweep.model, "objective",
        metric < 0 ? "worst margin" : metric_table[metric].name, "runs",
        (json_int_t)tune->sweep.point_count + 1, "runs_most", (json_int_t)tune->base->tune.runs, "ended",
        tune->ended, "start", start_json(tune), "best", best_json(tune), "points", points);
    enum status status = terminal_json(object);
    json_decref(object);
    return status;
}
