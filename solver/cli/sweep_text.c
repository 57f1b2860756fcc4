#include "solver/cli/json_out.h"
#include "solver/cli/sweep_text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/version.h"
#include "solver/cli/csv_out.h"
#include "solver/cli/table.h"
#include "solver/cli/terminal.h"
#include "solver/impact/anvil.h"

enum { ROWS = 8, SHOWN_FACTORS = 10, LINE = 1024 };

/* --- words --- */

const char *sweep_layout(const struct sweep *sweep, size_t at, char text[SWEEP_LAYOUT])
{
    int length = snprintf(text, SWEEP_LAYOUT, "no. %ld", sweep->points[at].number);
    for (size_t i = 0; i < sweep->factor_count && length > 0 && length < SWEEP_LAYOUT; i++) {
        char label[FACTOR_LABEL], value[FACTOR_TEXT];
        factor_label(&sweep->factors[i], label);
        factor_write(&sweep->factors[i], sweep_values(sweep, at)[i], value);
        length +=
            snprintf(text + length, SWEEP_LAYOUT - (size_t)length, "%s %s %s", i ? "," : ":", label, value);
    }
    return text;
}

const char *sweep_hit(const struct sweep *sweep, size_t at, char text[SWEEP_HIT])
{
    const struct hit_result *hit = &sweep->hits[at];
    char anvil[ANVIL_WORDS], again[16] = "";
    if (hit->hit > 1)
        snprintf(again, sizeof again, ".%d", hit->hit);
    snprintf(text, SWEEP_HIT, "impact %d%s (%s%s%s, %s, %.2f m/s, %.0f degC)", hit->impact, again, hit->size,
             hit->size[0] ? ", " : "", hit->site, anvil_words(hit->anvil, hit->angle, anvil), hit->speed,
             hit->temperature);
    return text;
}

/* "HIC of impact 3 (...)"; "" where no limit decides. */
static const char *worst_words(const struct sweep *sweep, const struct sweep_point *point,
                               char text[SWEEP_HIT + 32])
{
    char hit[SWEEP_HIT];
    text[0] = '\0';
    if (point->worst_hit >= 0 && point->worst_metric >= 0)
        snprintf(text, SWEEP_HIT + 32, "%s, %s", metrics_word((enum metric)point->worst_metric),
                 sweep_hit(sweep, (size_t)point->worst_hit, hit));
    return text;
}

static void count_states(const struct sweep *sweep, size_t counts[SWEEP_REFUSED + 1])
{
    memset(counts, 0, (SWEEP_REFUSED + 1) * sizeof *counts);
    for (size_t i = 0; i < sweep->point_count; i++)
        counts[sweep->points[i].status]++;
}

/* --- text --- */

static void print_factor(const struct factor *factor)
{
    char label[FACTOR_LABEL], low[FACTOR_TEXT], high[FACTOR_TEXT], clean[LINE], path[LINE];
    factor_label(factor, label);
    terminal_print(stdout, STYLE_PLAIN, "  %s: ", terminal_clean(label, clean, sizeof clean));
    if (factor->texts) {
        for (size_t i = 0; i < factor->level_count; i++)
            terminal_print(stdout, STYLE_PLAIN, "%s%s", i ? ", " : "",
                           terminal_clean(factor->texts[i], clean, sizeof clean));
    } else {
        factor_write(factor, factor->low, low);
        factor_write(factor, factor->high, high);
        terminal_print(stdout, STYLE_PLAIN, "%s to %s", low, high);
        if (factor->level_count > 0)
            terminal_print(stdout, STYLE_PLAIN, ", %zu values", factor->level_count);
    }
    terminal_print(stdout, STYLE_FAINT, "  (%s)\n", terminal_clean(factor->path, path, sizeof path));
}

static void print_head(const struct sweep *sweep)
{
    size_t counts[SWEEP_REFUSED + 1];
    char clean[LINE];
    count_states(sweep, counts);
    terminal_print(stdout, STYLE_STRONG, "%s\n",
                   sweep->title[0] ? terminal_clean(sweep->title, clean, sizeof clean) : "Untitled case");
    terminal_print(stdout, STYLE_PLAIN, "%zu layouts (%s), %zu hits each, model %s; varied:\n",
                   sweep->point_count, sweep->sample, sweep->hit_count, sweep->model);
    for (size_t i = 0; i < sweep->factor_count; i++)
        print_factor(&sweep->factors[i]);
    if (counts[SWEEP_FAILED] || counts[SWEEP_REFUSED])
        terminal_print(stdout, STYLE_WARNING, "%zu computed, %zu failed, %zu refused\n",
                       counts[SWEEP_COMPUTED], counts[SWEEP_FAILED], counts[SWEEP_REFUSED]);
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

static void add_row(struct table *table, const struct sweep *sweep, size_t at, size_t factors)
{
    const struct sweep_point *point = &sweep->points[at];
    char text[SWEEP_HIT + 32], value[FACTOR_TEXT];
    table_row(table);
    table_text(table, STYLE_PLAIN, "%ld", point->number);
    for (size_t i = 0; i < factors; i++) {
        factor_write(&sweep->factors[i], sweep_values(sweep, at)[i], value);
        table_text(table, STYLE_PLAIN, "%s", value);
    }
    table_number(table, point->mass.helmet, 3);
    table_number(table, 100 * point->stroke_left, 0);
    table_number(table, 100 * point->worst_margin, 1);
    if (point->status != SWEEP_COMPUTED) {
        table_text(table, STYLE_WARNING, "%s", sweep_status_text(point->status));
        table_text(table, STYLE_PLAIN, "%s", point->message ? point->message : "");
        return;
    }
    table_text(table,
               point->verdict == VERDICT_WITHIN    ? STYLE_GOOD
               : point->verdict == VERDICT_EXCEEDS ? STYLE_ERROR
                                                   : STYLE_WARNING,
               "%s", verdict_text(point->verdict));
    worst_words(sweep, point, text);
    table_text(table, STYLE_PLAIN, "%s%s%s", text, point->why ? "; " : "", point->why ? point->why : "");
}

enum status sweep_print_rows(const struct sweep *sweep, const size_t *order, size_t count)
{
    struct table table;
    struct table_column columns[TABLE_COLUMNS];
    char labels[SHOWN_FACTORS][FACTOR_LABEL];
    size_t factors = sweep->factor_count < SHOWN_FACTORS ? sweep->factor_count : SHOWN_FACTORS, at = 0;
    columns[at++] = (struct table_column){"no.", 1};
    for (size_t i = 0; i < factors; i++) {
        factor_label(&sweep->factors[i], labels[i]);
        columns[at++] = (struct table_column){labels[i], !sweep->factors[i].texts};
    }
    columns[at++] = (struct table_column){"mass kg", 1};
    columns[at++] = (struct table_column){"left %", 1};
    columns[at++] = (struct table_column){"margin %", 1};
    columns[at++] = (struct table_column){"verdict", 0};
    columns[at++] = (struct table_column){"governed by", 0};
    table_make(&table, columns, at);
    for (size_t i = 0; i < count; i++)
        add_row(&table, sweep, order[i], factors);
    if (factors < sweep->factor_count)
        terminal_print(stdout, STYLE_FAINT, "  (%zu more factors: --json, show --csv)\n",
                       sweep->factor_count - factors);
    return table_print(&table);
}

/* Which hits govern, each with the count of layouts, the most frequent first. */
static enum status print_governing(const struct sweep *sweep)
{
    size_t *counts = memory_zeroed(sweep->hit_count + 1, sizeof *counts), all = 0;
    if (!counts)
        return STATUS_MEMORY;
    for (size_t i = 0; i < sweep->point_count; i++) {
        const struct sweep_point *point = &sweep->points[i];
        if (point->status != SWEEP_COMPUTED || point->worst_hit < 0)
            continue;
        counts[point->worst_hit]++;
        all++;
    }
    if (all > 0)
        terminal_print(stdout, STYLE_PLAIN, "\ngoverning:\n");
    for (size_t shown = 0; all > 0 && shown < 5; shown++) {
        size_t most = 0;
        char text[SWEEP_HIT];
        for (size_t k = 1; k < sweep->hit_count; k++)
            most = counts[k] > counts[most] ? k : most;
        if (counts[most] == 0)
            break;
        terminal_print(stdout, STYLE_PLAIN, "  %s in %zu of %zu layouts\n", sweep_hit(sweep, most, text),
                       counts[most], all);
        counts[most] = 0;
    }
    memory_free(counts);
    return STATUS_OK;
}

static void print_lines(enum style style, const char *before, char *const *lines, size_t count)
{
    char clean[LINE];
    for (size_t i = 0; i < count; i++)
        terminal_print(stdout, style, "%s%s\n", before, terminal_clean(lines[i], clean, sizeof clean));
}

void sweep_verdict(const struct sweep *sweep)
{
    size_t *order = sweep_order(sweep);
    const struct sweep_point *best = order && sweep->point_count ? &sweep->points[order[0]] : NULL;
    char layout[SWEEP_LAYOUT], worst[SWEEP_HIT + 32], clean[SWEEP_LAYOUT];
    terminal_print(stdout, STYLE_PLAIN, "\n");
    if (!best || best->status != SWEEP_COMPUTED) {
        terminal_print(stdout, STYLE_WARNING, "no layout was computed\n");
    } else if (isnan(best->worst_margin)) {
        terminal_print(stdout, STYLE_WARNING, "no limit decides: set `limits`, or a programme\n");
    } else {
        terminal_print(stdout, STYLE_STRONG, "best: %s",
                       terminal_clean(sweep_layout(sweep, order[0], layout), clean, sizeof clean));
        terminal_print(stdout, STYLE_PLAIN, "; %s, least margin %.1f %% (%s)\n", verdict_text(best->verdict),
                       100 * best->worst_margin, worst_words(sweep, best, worst));
    }
    memory_free(order);
    terminal_print(stdout, STYLE_FAINT, "\n%s\n", CAUTION_TEXT);
}

enum status sweep_print(const struct sweep *sweep, int all)
{
    size_t *order = sweep_order(sweep), shown = sweep->point_count;
    if (!order)
        return STATUS_MEMORY;
    shown = all || shown < ROWS ? shown : ROWS;
    print_head(sweep);
    enum status status = sweep_print_rows(sweep, order, shown);
    if (shown < sweep->point_count)
        terminal_print(stdout, STYLE_FAINT, "  and %zu more (--all)\n", sweep->point_count - shown);
    memory_free(order);
    if (status == STATUS_OK)
        status = print_governing(sweep);
    if (sweep->warning_count + sweep->not_covered_count > 0)
        terminal_print(stdout, STYLE_PLAIN, "\n");
    print_lines(STYLE_WARNING, "warning: ", sweep->warnings, sweep->warning_count);
    print_lines(STYLE_PLAIN, "not covered: ", sweep->not_covered, sweep->not_covered_count);
    sweep_verdict(sweep);
    return status;
}

/* --- one layout --- */

static void add_hit(struct table *table, const struct sweep *sweep, size_t at, size_t k)
{
    const double *metrics = sweep_metrics(sweep, at, k), *limits = sweep->limits + k * METRIC_COUNT;
    char text[SWEEP_HIT];
    table_row(table);
    table_text(table, STYLE_PLAIN, "%s", sweep_hit(sweep, k, text));
    table_number(table, metrics[METRIC_peak], 1);
    table_number(table, limits[METRIC_peak], 0);
    table_number(table, metrics[METRIC_hic], 0);
    table_number(table, limits[METRIC_hic], 0);
    table_number(table, 100 * metrics[METRIC_crush_fraction], 0);
    table_number(table, metrics[METRIC_crush_left], 1);
    table_number(table, 100 * sweep_margins(sweep, at)[k], 1);
}

/* A value in single quotes, as a shell takes it. */
static void print_quoted(const char *text)
{
    char clean[LINE];
    terminal_print(stdout, STYLE_PLAIN, "'");
    terminal_clean(text, clean, sizeof clean);
    for (const char *c = clean; *c; c++)
        terminal_print(stdout, STYLE_PLAIN, *c == '\'' ? "'\\''" : "%c", *c);
    terminal_print(stdout, STYLE_PLAIN, "'");
}

static void print_command(const struct sweep *sweep, size_t at)
{
    terminal_print(stdout, STYLE_PLAIN, "\nto run it: foampulse run CASE");
    for (size_t i = 0; i < sweep->factor_count; i++) {
        char setting[FACTOR_PATH + FACTOR_TEXT], value[FACTOR_TEXT];
        factor_write(&sweep->factors[i], sweep_values(sweep, at)[i], value);
        snprintf(setting, sizeof setting, "%s=%s", sweep->factors[i].path, value);
        terminal_print(stdout, STYLE_PLAIN, " -s ");
        print_quoted(setting);
    }
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

enum status sweep_print_point(const struct sweep *sweep, size_t at)
{
    static const struct table_column columns[] = {{"hit", 0},     {"peak g", 1},  {"limit", 1},
                                                  {"HIC", 1},     {"limit", 1},   {"crush %", 1},
                                                  {"mm left", 1}, {"margin %", 1}};
    struct table table;
    print_head(sweep);
    enum status status = sweep_print_rows(sweep, &at, 1);
    terminal_print(stdout, STYLE_PLAIN, "\n");
    table_make(&table, columns, sizeof columns / sizeof *columns);
    for (size_t k = 0; k < sweep->hit_count; k++)
        add_hit(&table, sweep, at, k);
    status = status_worse(status, table_print(&table));
    print_command(sweep, at);
    terminal_print(stdout, STYLE_FAINT, "\n%s\n", CAUTION_TEXT);
    return status;
}

/* --- JSON --- */

static json_t *factors_json(const struct sweep *sweep)
{
    json_t *array = json_array();
    for (size_t i = 0; i < sweep->factor_count; i++) {
        const struct factor *factor = &sweep->factors[i];
        json_t *levels = json_array();
        for (size_t k = 0; k < factor->level_count; k++)
            json_array_append_new(levels, factor->texts ? json_out_text(factor->texts[k])
                                                        : json_out_number(factor->levels[k]));
        json_array_append_new(
            array, json_pack("{s:o, s:o, s:o, s:o, s:o}", "path", json_out_text(factor->path), "unit",
                             json_out_text(factor->unit), "low", json_out_number(factor->low), "high",
                             json_out_number(factor->high), "levels", levels));
    }
    return array;
}

static json_t *hits_json(const struct sweep *sweep)
{
    json_t *array = json_array();
    for (size_t i = 0; i < sweep->hit_count; i++) {
        const struct hit_result *hit = &sweep->hits[i];
        json_t *limits = json_object();
        for (int metric = 0; metric < METRIC_COUNT; metric++) {
            double limit = sweep->limits[i * METRIC_COUNT + (size_t)metric];
            if (!isnan(limit))
                json_object_set_new(limits, metric_table[metric].name, json_out_number(limit));
        }
        json_array_append_new(array, json_pack("{s:i, s:i, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "impact",
                                               hit->impact, "hit", hit->hit, "size", json_out_text(hit->size),
                                               "site", json_out_text(hit->site), "region",
                                               json_out_text(hit->region), "anvil", json_out_text(hit->anvil),
                                               "speed_m_s", json_out_number(hit->speed), "temperature_C",
                                               json_out_number(hit->temperature), "limits", limits));
    }
    return array;
}

static json_t *values_json(const struct sweep *sweep, size_t at)
{
    json_t *object = json_object();
    for (size_t i = 0; i < sweep->factor_count; i++) {
        const struct factor *factor = &sweep->factors[i];
        double value = sweep_values(sweep, at)[i];
        json_object_set_new(object, factor->path,
                            factor->texts ? json_out_text(factor->texts[(size_t)value])
                                          : json_out_number(value));
    }
    return object;
}

static json_t *margins_json(const struct sweep *sweep, size_t at)
{
    json_t *array = json_array();
    for (size_t k = 0; k < sweep->hit_count; k++)
        json_array_append_new(array, json_out_number(sweep_margins(sweep, at)[k]));
    return array;
}

static json_t *point_json(const struct sweep *sweep, size_t at)
{
    const struct sweep_point *point = &sweep->points[at];
    const char *metric = point->worst_metric < 0 ? NULL : metric_table[point->worst_metric].name;
    return json_pack("{s:I, s:s, s:o, s:o, s:o, s:o, s:s, s:o, s:o, s:o, s:o, s:o}", "number",
                     (json_int_t)point->number, "status", sweep_status_text(point->status), "message",
                     json_out_text(point->message), "values", values_json(sweep, at), "helmet_mass_kg",
                     json_out_number(point->mass.helmet), "stroke_left", json_out_number(point->stroke_left),
                     "verdict", verdict_text(point->verdict), "margin", json_out_number(point->worst_margin),
                     "row", point->worst_hit < 0 ? json_null() : json_integer(point->worst_hit + 1), "metric",
                     json_out_text(metric), "why", json_out_text(point->why), "margins",
                     margins_json(sweep, at));
}

enum status sweep_json(const struct sweep *sweep, const char *path)
{
    json_t *points = json_array();
    for (size_t i = 0; i < sweep->point_count; i++)
        json_array_append_new(points, point_json(sweep, i));
    json_t *object = json_pack(
        "{s:s, s:s, s:s, s:o, s:s, s:o, s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:o}", "schema",
        "foampulse/layouts/1", "program_version", FOAMPULSE_VERSION, "caution", CAUTION_TEXT, "title",
        json_out_text(sweep->title), "case_hash", sweep->case_hash, "result_file", json_out_text(path),
        "model", sweep->model, "sample", sweep->sample, "factors", factors_json(sweep), "hits",
        hits_json(sweep), "points", points, "assumptions", json_out_lines(sweep->notes, sweep->note_count),
        "warnings", json_out_lines(sweep->warnings, sweep->warning_count), "not_covered",
        json_out_lines(sweep->not_covered, sweep->not_covered_count));
    enum status status = terminal_json(object);
    json_decref(object);
    return status;
}

/* --- CSV --- */

static void csv_head(const struct sweep *sweep)
{
    terminal_print(stdout, STYLE_PLAIN, "number,status,message");
    for (size_t i = 0; i < sweep->factor_count; i++) {
        const struct factor *factor = &sweep->factors[i];
        char name[FACTOR_PATH + UNITS_NAME + 4];
        snprintf(name, sizeof name, factor->unit[0] ? "%s (%s)" : "%s", factor->path, factor->unit);
        terminal_print(stdout, STYLE_PLAIN, ",");
        csv_out_text(name, "");
    }
    terminal_print(stdout, STYLE_PLAIN,
                   ",helmet_mass_kg,stroke_left,verdict,margin,why,impact,hit,size,site,anvil,speed_m_s,"
                   "temperature_C,hit_status,hit_margin");
    for (int metric = 0; metric < METRIC_COUNT; metric++)
        terminal_print(stdout, STYLE_PLAIN, ",%s", metric_table[metric].name);
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

static void csv_point(const struct sweep *sweep, size_t at)
{
    const struct sweep_point *point = &sweep->points[at];
    terminal_print(stdout, STYLE_PLAIN, "%ld,%s,", point->number, sweep_status_text(point->status));
    csv_out_text(point->message, "");
    for (size_t i = 0; i < sweep->factor_count; i++) {
        const struct factor *factor = &sweep->factors[i];
        double value = sweep_values(sweep, at)[i];
        terminal_print(stdout, STYLE_PLAIN, ",");
        if (factor->texts)
            csv_out_text(factor->texts[(size_t)value], "");
        else
            csv_out_number(value, "");
    }
    terminal_print(stdout, STYLE_PLAIN, ",");
    csv_out_number(point->mass.helmet, ",");
    csv_out_number(point->stroke_left, ",");
    terminal_print(stdout, STYLE_PLAIN, "%s,", verdict_text(point->verdict));
    csv_out_number(point->worst_margin, ",");
    csv_out_text(point->why, "");
}

static void csv_hit(const struct sweep *sweep, size_t at, size_t k)
{
    static const char *const states[] = {"computed", "not computed", "failed"};
    const struct hit_result *hit = &sweep->hits[k];
    terminal_print(stdout, STYLE_PLAIN, ",%d,%d,", hit->impact, hit->hit);
    csv_out_text(hit->size, ",");
    csv_out_text(hit->site, ",");
    csv_out_text(hit->anvil, ",");
    csv_out_number(hit->speed, ",");
    csv_out_number(hit->temperature, ",");
    terminal_print(stdout, STYLE_PLAIN, "%s,", states[sweep->states[at * sweep->hit_count + k]]);
    csv_out_number(sweep_margins(sweep, at)[k], "");
    for (int metric = 0; metric < METRIC_COUNT; metric++) {
        terminal_print(stdout, STYLE_PLAIN, ",");
        csv_out_number(sweep_metrics(sweep, at, k)[metric], "");
    }
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

void sweep_csv(const struct sweep *sweep)
{
    csv_head(sweep);
    for (size_t i = 0; i < sweep->point_count; i++) {
        for (size_t k = 0; k < sweep->hit_count; k++) {
            csv_point(sweep, i);
            csv_hit(sweep, i, k);
        }
    }
}
