#include "solver/cli/json_out.h"
#include "solver/cli/tolerance_text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/version.h"
#include "solver/cli/sweep_text.h"
#include "solver/cli/table.h"
#include "solver/cli/terminal.h"
#include "solver/impact/anvil.h"

enum { ROWS = 8, LINE = 1024 };

/* R2 below which shares of a plane say little. */
static const double straight = 0.9;

static const char sampling_words[] = "Latin hypercube", method_words[] = "true solver runs";

/* --- words --- */

static const char *metric_word(const struct tolerance_limit *limit)
{
    return limit->hit == TOLERANCE_MASS ? "helmet mass" : metrics_word(limit->metric);
}

/* "1" for none. */
static const char *metric_unit(const struct tolerance_limit *limit)
{
    return limit->hit == TOLERANCE_MASS ? "kg" : metric_table[limit->metric].unit;
}

static int decimals(const struct tolerance_limit *limit)
{
    return limit->hit == TOLERANCE_MASS ? 3 : metrics_decimals(limit->metric);
}

/* "peak g of impact 3 (...)" */
static const char *limit_words(const struct sweep *sweep, const struct tolerance_limit *limit,
                               char text[SWEEP_HIT + 48])
{
    char hit[SWEEP_HIT] = "";
    if (limit->hit != TOLERANCE_MASS)
        sweep_hit(sweep, (size_t)limit->hit, hit);
    snprintf(text, SWEEP_HIT + 48, "%s%s%s", metric_word(limit), hit[0] ? " of " : "", hit);
    return text;
}

/* "12.5 % (95 %: 8.1 to 18.2 %)" */
static const char *chance_words(const struct tolerance_chance *chance, char text[64])
{
    snprintf(text, 64, "%.1f %% (%.0f %%: %.1f to %.1f %%)", 100 * chance->share, 100 * TOLERANCE_CONFIDENCE,
             100 * chance->low, 100 * chance->high);
    return text;
}

/* --- what scatters --- */

static void join(double value, const char *unit, char text[FACTOR_TEXT])
{
    char number[32];
    snprintf(number, sizeof number, "%.4g", value);
    snprintf(text, FACTOR_TEXT, "%s%s%s", number, unit[0] ? " " : "", unit);
}

/* "even within +-9 kg/m3: lot +-4.5, place +-4.5": what a line of the case asks for. */
static void line_words(const struct case_scatter *line, char *text, size_t size)
{
    char width[FACTOR_TEXT], lot[FACTOR_TEXT], local[FACTOR_TEXT];
    join(line->width, line->unit, width);
    if (line->programme) {
        snprintf(text, size, "even over the tolerance of each test, one draw for all impacts");
        return;
    }
    double parts[2] = {line->width * (line->normal ? sqrt(line->shared) : line->shared),
                       line->width * (line->normal ? sqrt(1 - line->shared) : 1 - line->shared)};
    join(parts[0], line->unit, lot);
    join(parts[1], line->unit, local);
    const char *sign = line->normal ? "s " : "+-";
    if (line->shared <= 0 || line->shared >= 1)
        snprintf(text, size, "%s %s%s, %s", line->normal ? "normal," : "even within", sign, width,
                 line->shared <= 0 ? "each place by itself" : "all places together (lot)");
    else
        snprintf(text, size, "%s %s%s: lot %s%s, each place %s%s", line->normal ? "normal," : "within", sign,
                 width, sign, lot, sign, local);
}

static void print_line(const struct tolerance_report *report, size_t at)
{
    const struct scatter *scatter = report->scatter;
    char words[LINE], clean[LINE], place[FACTOR_TEXT];
    size_t first = 0, count = scatter->line_places[at], shown = count < 6 ? count : 6;
    for (size_t i = 0; i < at; i++)
        first += scatter->line_places[i];
    line_words(&scatter->lines[at], words, sizeof words);
    terminal_print(stdout, STYLE_PLAIN, "  %s: %s",
                   terminal_clean(scatter->lines[at].path, clean, sizeof clean), words);
    if (!scatter->lines[at].programme)
        terminal_print(stdout, STYLE_FAINT, "; %zu place%s: ", count, count == 1 ? "" : "s");
    for (size_t i = first; i < first + shown && !scatter->lines[at].programme; i++) {
        char label[FACTOR_LABEL];
        factor_label(&scatter->factors[i], label);
        factor_write(&scatter->factors[i], scatter->places[i].nominal, place);
        terminal_print(stdout, STYLE_FAINT, "%s%s %s", i > first ? ", " : "",
                       terminal_clean(label, clean, sizeof clean), place);
    }
    terminal_print(stdout, STYLE_FAINT, "%s\n", shown < count ? " ..." : "");
}

static void print_head(const struct tolerance_report *report)
{
    const struct sweep *sweep = report->sweep;
    const struct tolerance *tolerance = report->tolerance;
    char clean[LINE];
    terminal_print(stdout, STYLE_STRONG, "%s\n",
                   sweep->title[0] ? terminal_clean(sweep->title, clean, sizeof clean) : "Untitled case");
    terminal_print(stdout, STYLE_PLAIN, "%zu %s (%s, seed %ld), %zu hit%s each, model %s; scatter:\n",
                   tolerance->runs, method_words, sampling_words, sweep->seed, sweep->hit_count,
                   sweep->hit_count == 1 ? "" : "s", sweep->model);
    for (size_t i = 0; i < report->scatter->line_count; i++)
        print_line(report, i);
    if (report->scatter->assumed)
        terminal_print(stdout, STYLE_WARNING, "  assumed: the case gives no tolerance.scatter; %s\n",
                       SCATTER_PROVENANCE);
    terminal_print(stdout, STYLE_PLAIN, "k = %g of mean + k s: %s\n", tolerance->factor,
                   report->factor_provenance);
    if (tolerance->failed > 0)
        terminal_print(stdout, STYLE_WARNING,
                       "%zu of %zu runs failed: without a value they are not in mean and s, and count as "
                       "exceeding\n",
                       tolerance->failed, tolerance->runs);
    if (tolerance->refused > 0)
        terminal_print(
            stdout, STYLE_WARNING,
            "%zu of %zu runs made no sound case and are left out: the scatter reaches past what the "
            "case allows%s\n",
            tolerance->refused, tolerance->runs,
            2 * tolerance->refused > tolerance->runs ? "; nothing below is to be relied on" : "");
    if (tolerance->undecided > 0)
        terminal_print(
            stdout, STYLE_WARNING,
            "%zu of %zu runs are undecided: some value may be less than what the full impact gives\n",
            tolerance->undecided, tolerance->runs);
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

/* First message of a run that failed or was refused. */
static void print_message(const struct sweep *sweep)
{
    char clean[LINE];
    for (size_t i = 0; i < sweep->point_count; i++) {
        const struct sweep_point *point = &sweep->points[i];
        if (point->status == SWEEP_COMPUTED || !point->message || (point->number == 0 && i > 0))
            continue;
        terminal_print(stdout, STYLE_WARNING, "no. %ld %s: %s\n", point->number,
                       sweep_status_text(point->status), terminal_clean(point->message, clean, sizeof clean));
        return;
    }
}

/* --- limits --- */

static void add_row(struct table *table, const struct sweep *sweep, const struct tolerance_limit *limit)
{
    char anvil[ANVIL_WORDS], again[16] = "";
    table_row(table);
    if (limit->hit == TOLERANCE_MASS) {
        for (int i = 0; i < 5; i++)
            table_text(table, STYLE_PLAIN, "%s", "");
    } else {
        const struct hit_result *hit = &sweep->hits[limit->hit];
        if (hit->hit > 1)
            snprintf(again, sizeof again, ".%d", hit->hit);
        table_text(table, STYLE_PLAIN, "%d%s", hit->impact, again);
        table_text(table, STYLE_PLAIN, "%s%s%s", hit->size, hit->size[0] ? " " : "", hit->site);
        table_text(table, STYLE_PLAIN, "%s", anvil_words(hit->anvil, hit->angle, anvil));
        table_number(table, hit->speed, 2);
        table_number(table, hit->temperature, 0);
    }
    table_text(table, STYLE_PLAIN, "%s", metric_word(limit));
    table_number(table, limit->nominal, decimals(limit));
    table_number(table, limit->mean, decimals(limit));
    table_number(table, limit->deviation, decimals(limit) + 1);
    table_number(table, limit->bound, decimals(limit));
    table_text(table, STYLE_PLAIN, "%g", limit->limit);
    table_number(table, 100 * limit->margin, 1);
    table_number(table, 100 * limit->chance.share, 1);
    if (limit->chance.count > 0)
        table_text(table, STYLE_PLAIN, "%.1f-%.1f", 100 * limit->chance.low, 100 * limit->chance.high);
    else
        table_text(table, STYLE_PLAIN, "%s", "-");
    table_text(table,
               limit->state == VERDICT_WITHIN    ? STYLE_GOOD
               : limit->state == VERDICT_EXCEEDS ? STYLE_ERROR
                                                 : STYLE_WARNING,
               "%s", verdict_text(limit->state));
}

static enum status print_limits(const struct tolerance_report *report, int all)
{
    const struct tolerance *tolerance = report->tolerance;
    char bound[32];
    struct table table;
    size_t shown = all || tolerance->limit_count < ROWS ? tolerance->limit_count : ROWS;
    snprintf(bound, sizeof bound, "mean + %g s", tolerance->factor);
    const struct table_column columns[] = {{"no.", 1},      {"site", 0},  {"anvil", TABLE_IF_ANY},
                                           {"m/s", 1},      {"degC", 1},  {"metric", 0},
                                           {"nominal", 1},  {"mean", 1},  {"s", 1},
                                           {bound, 1},      {"limit", 1}, {"margin %", 1},
                                           {"exceed %", 1}, {"95 %", 1},  {"verdict", 0}};
    table_make(&table, columns, sizeof columns / sizeof *columns);
    for (size_t i = 0; i < shown; i++)
        add_row(&table, report->sweep, &tolerance->limits[i]);
    enum status status = table_print(&table);
    if (shown < tolerance->limit_count)
        terminal_print(stdout, STYLE_FAINT, "  and %zu more limits (--all)\n",
                       tolerance->limit_count - shown);
    return status;
}

/* --- what to tighten --- */

/* Sources by their share of the variance, the largest first (memory_free); NULL when memory is out. */
static size_t *order_sources(const struct tolerance_report *report)
{
    const double *share = report->tolerance->worst.share;
    size_t count = report->scatter->source_count, *order = memory_zeroed(count + 1, sizeof *order);
    for (size_t i = 0; order && i < count; i++) {
        size_t at = i;
        for (; at > 0 && share[order[at - 1]] < share[i]; at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
    return order;
}

/* What a source is called: the lot of a path, or a place. */
static const char *source_words(const struct scatter_source *source, char text[FACTOR_PATH + 32])
{
    snprintf(text, FACTOR_PATH + 32, "%s%s", source->lot ? "lot of " : "", source->path);
    return text;
}

static enum status print_sources(const struct tolerance_report *report, const size_t *order, int all)
{
    const struct tolerance_variance *worst = &report->tolerance->worst;
    const struct tolerance_limit *limit = &report->tolerance->limits[worst->limit];
    const struct scatter *scatter = report->scatter;
    size_t shown = all || scatter->source_count < ROWS ? scatter->source_count : ROWS;
    char bound[48], words[FACTOR_PATH + 32], deviation[FACTOR_TEXT];
    struct table table;
    snprintf(bound, sizeof bound, "mean + %g s if halved", report->tolerance->factor);
    const struct table_column columns[] = {
        {"cause", 0}, {"s of it", 1}, {"moves the value by", 1}, {"variance %", 1}, {bound, 1}};
    table_make(&table, columns, sizeof columns / sizeof *columns);
    for (size_t i = 0; i < shown; i++) {
        const struct scatter_source *source = &scatter->sources[order[i]];
        table_row(&table);
        table_text(&table, STYLE_PLAIN, "%s", source_words(source, words));
        join(source->deviation, source->unit, deviation);
        table_text(&table, STYLE_PLAIN, "%s", deviation);
        table_number(&table, worst->slope[order[i]], decimals(limit) + 1);
        table_number(&table, 100 * worst->share[order[i]], 1);
        table_number(&table, worst->halved[order[i]], decimals(limit));
    }
    enum status status = table_print(&table);
    if (shown < scatter->source_count)
        terminal_print(stdout, STYLE_FAINT, "  and %zu more causes (--all)\n", scatter->source_count - shown);
    return status;
}

/* Whether a sample tells the slope of one cause from the largest: by twice the error of their difference. */
static int as_large(const struct tolerance_variance *worst, size_t largest, size_t other)
{
    double apart = fabs(worst->slope[largest]) - fabs(worst->slope[other]);
    return apart < 2 * sqrt(2.0) * worst->slope_error;
}

static void print_first(const struct tolerance_report *report, const size_t *order)
{
    const struct tolerance_variance *worst = &report->tolerance->worst;
    const struct tolerance_limit *limit = &report->tolerance->limits[worst->limit];
    const struct scatter_source *sources = report->scatter->sources;
    char words[FACTOR_PATH + 32], clean[LINE];
    int places = decimals(limit), has_unit = strcmp(metric_unit(limit), "1") != 0;
    terminal_print(stdout, STYLE_STRONG, "tighten first: %s",
                   terminal_clean(source_words(&sources[order[0]], words), clean, sizeof clean));
    for (size_t i = 1; i < report->scatter->source_count && as_large(worst, order[0], order[i]); i++)
        terminal_print(stdout, STYLE_PLAIN, "%s%s", i == 1 ? ", which these runs do not tell from " : ", ",
                       terminal_clean(source_words(&sources[order[i]], words), clean, sizeof clean));
    terminal_print(
        stdout, STYLE_PLAIN,
        ": %.0f %% of that variance; half as wide, mean + %g s would be %.*f instead of %.*f%s%s\n",
        100 * worst->share[order[0]], report->tolerance->factor, places, worst->halved[order[0]], places,
        limit->bound, has_unit ? " " : "", has_unit ? metric_unit(limit) : "");
}

static enum status print_variance(const struct tolerance_report *report, int all)
{
    const struct tolerance *tolerance = report->tolerance;
    const struct tolerance_variance *worst = &tolerance->worst;
    char words[SWEEP_HIT + 48];
    if (tolerance->limit_count == 0)
        return STATUS_OK;
    limit_words(report->sweep, &tolerance->limits[worst->limit], words);
    if (worst->count == 0) {
        terminal_print(stdout, STYLE_WARNING,
                       "\nwhat to tighten first: not told: %zu causes need %zu runs with a value\n",
                       report->scatter->source_count, 2 * (report->scatter->source_count + 1));
        return STATUS_OK;
    }
    if (!(tolerance->limits[worst->limit].deviation > 0)) {
        terminal_print(stdout, STYLE_WARNING, "\nnothing that scatters moves %s\n", words);
        return STATUS_OK;
    }
    size_t *order = order_sources(report);
    if (!order)
        return STATUS_MEMORY;
    terminal_print(stdout, STYLE_PLAIN,
                   "\nwhere the scatter of %s comes from (plane through the runs, R2 %.3f):\n", words,
                   worst->r2);
    enum status status = print_sources(report, order, all);
    if (worst->r2 < straight)
        terminal_print(
            stdout, STYLE_WARNING,
            "  the value bends or causes act together: %.0f %% of the variance is in no cause's share, "
            "take the shares as rough\n",
            100 * worst->unexplained);
    print_first(report, order);
    memory_free(order);
    return status;
}

/* --- the whole --- */

static void print_lines(enum style style, const char *before, char *const *lines, size_t count)
{
    char clean[LINE];
    for (size_t i = 0; i < count; i++)
        terminal_print(stdout, style, "%s%s\n", before, terminal_clean(lines[i], clean, sizeof clean));
}

static void print_verdict(const struct tolerance_report *report)
{
    const struct tolerance *tolerance = report->tolerance;
    const struct tolerance_limit *worst = tolerance->limits;
    char words[SWEEP_HIT + 48], chance[64];
    size_t over = 0;
    for (size_t i = 0; i < tolerance->limit_count; i++)
        over += tolerance->limits[i].state == VERDICT_EXCEEDS;
    terminal_print(stdout, STYLE_PLAIN, "\n");
    if (tolerance->limit_count == 0) {
        terminal_print(stdout, STYLE_WARNING, "no limit decides: set `limits`, or a programme\n");
        return;
    }
    limit_words(report->sweep, worst, words);
    if (over > 0)
        terminal_print(stdout, STYLE_STRONG, "exceeds: mean + %g s is over %zu of %zu limits",
                       tolerance->factor, over, tolerance->limit_count);
    else
        terminal_print(stdout, STYLE_STRONG, "%s", verdict_text(worst->state));
    terminal_print(stdout, STYLE_PLAIN, "; least margin of mean + %g s %.1f %%: %s\n", tolerance->factor,
                   100 * worst->margin, words);
    terminal_print(stdout, STYLE_PLAIN, "any limit is exceeded in %zu of %zu runs, %s\n",
                   tolerance->any.exceeding, tolerance->any.count, chance_words(&tolerance->any, chance));
}

enum status tolerance_print(const struct tolerance_report *report, int all)
{
    const struct sweep *sweep = report->sweep;
    print_head(report);
    enum status status = print_limits(report, all);
    if (status == STATUS_OK)
        status = print_variance(report, all);
    if (sweep->warning_count + sweep->not_covered_count > 0)
        terminal_print(stdout, STYLE_PLAIN, "\n");
    print_message(sweep);
    print_lines(STYLE_WARNING, "warning: ", sweep->warnings, sweep->warning_count);
    print_lines(STYLE_PLAIN, "not covered: ", sweep->not_covered, sweep->not_covered_count);
    print_verdict(report);
    terminal_print(stdout, STYLE_FAINT, "\n%s\n", CAUTION_TEXT);
    return status;
}

/* --- JSON --- */

static json_t *places_json(const struct scatter *scatter, size_t first, size_t count)
{
    json_t *array = json_array();
    for (size_t i = first; i < first + count; i++) {
        const struct scatter_place *place = &scatter->places[i];
        json_array_append_new(
            array,
            json_pack("{s:o, s:o, s:o, s:o, s:o}", "path", json_out_text(scatter->factors[i].path), "unit",
                      json_out_text(scatter->factors[i].unit), "nominal", json_out_number(place->nominal),
                      "s_lot", json_out_number(place->by_lot), "s_local", json_out_number(place->by_local)));
    }
    return array;
}

static json_t *scatter_json(const struct scatter *scatter)
{
    json_t *array = json_array();
    size_t first = 0;
    for (size_t i = 0; i < scatter->line_count; i++) {
        const struct case_scatter *line = &scatter->lines[i];
        const char *form = line->programme ? "tolerance of the tests" : line->normal ? "sd" : "half_range";
        json_array_append_new(
            array, json_pack("{s:o, s:s, s:o, s:o, s:o, s:o}", "path", json_out_text(line->path), "form",
                             form, "width", json_out_number(line->programme ? NAN : line->width), "unit",
                             json_out_text(line->unit), "shared",
                             json_out_number(line->programme ? NAN : line->shared), "places",
                             places_json(scatter, first, scatter->line_places[i])));
        first += scatter->line_places[i];
    }
    return array;
}

static json_t *chance_json(const struct tolerance_chance *chance)
{
    return json_pack("{s:I, s:I, s:o, s:f, s:o, s:o}", "exceeding", (json_int_t)chance->exceeding, "count",
                     (json_int_t)chance->count, "chance", json_out_number(chance->share), "confidence",
                     TOLERANCE_CONFIDENCE, "low", json_out_number(chance->low), "high",
                     json_out_number(chance->high));
}

static json_t *hit_json(const struct sweep *sweep, int at)
{
    if (at == TOLERANCE_MASS)
        return json_null();
    const struct hit_result *hit = &sweep->hits[at];
    return json_pack("{s:i, s:i, s:o, s:o, s:o, s:o, s:o, s:o}", "impact", hit->impact, "hit", hit->hit,
                     "size", json_out_text(hit->size), "site", json_out_text(hit->site), "region",
                     json_out_text(hit->region), "anvil", json_out_text(hit->anvil), "speed_m_s",
                     json_out_number(hit->speed), "temperature_C", json_out_number(hit->temperature));
}

static json_t *limits_json(const struct tolerance_report *report)
{
    json_t *array = json_array();
    for (size_t i = 0; i < report->tolerance->limit_count; i++) {
        const struct tolerance_limit *limit = &report->tolerance->limits[i];
        const char *name = limit->hit == TOLERANCE_MASS ? "helmet_mass_kg" : metric_table[limit->metric].name;
        json_array_append_new(
            array, json_pack("{s:o, s:s, s:s, s:o, s:I, s:o, s:o, s:o, s:o, s:o, s:s, s:o}", "on",
                             hit_json(report->sweep, limit->hit), "metric", name, "unit", metric_unit(limit),
                             "nominal", json_out_number(limit->nominal), "count", (json_int_t)limit->count,
                             "mean", json_out_number(limit->mean), "s", json_out_number(limit->deviation),
                             "bound", json_out_number(limit->bound), "limit", json_out_number(limit->limit),
                             "margin", json_out_number(limit->margin), "state", verdict_text(limit->state),
                             "exceeds", chance_json(&limit->chance)));
    }
    return array;
}

static json_t *variance_json(const struct tolerance_report *report)
{
    const struct tolerance_variance *worst = &report->tolerance->worst;
    json_t *array = json_array();
    if (worst->count == 0) {
        json_decref(array);
        return json_null();
    }
    for (size_t k = 0; k < report->scatter->source_count; k++) {
        const struct scatter_source *source = &report->scatter->sources[k];
        json_array_append_new(
            array, json_pack("{s:o, s:s, s:o, s:o, s:o, s:o, s:o}", "path", json_out_text(source->path),
                             "part", source->lot ? "lot" : "local", "s", json_out_number(source->deviation),
                             "unit", json_out_text(source->unit), "slope", json_out_number(worst->slope[k]),
                             "share", json_out_number(worst->share[k]), "bound_if_halved",
                             json_out_number(worst->halved[k])));
    }
    return json_pack("{s:I, s:I, s:o, s:o, s:o, s:o}", "of_limit", (json_int_t)worst->limit + 1, "count",
                     (json_int_t)worst->count, "r2", json_out_number(worst->r2), "unexplained",
                     json_out_number(worst->unexplained), "slope_error", json_out_number(worst->slope_error),
                     "causes", array);
}

static json_t *runs_json(const struct tolerance_report *report)
{
    const struct tolerance *tolerance = report->tolerance;
    return json_pack("{s:s, s:s, s:I, s:I, s:I, s:I, s:I, s:I}", "method", method_words, "sample",
                     sampling_words, "seed", (json_int_t)report->sweep->seed, "asked",
                     (json_int_t)report->sweep->asked, "computed", (json_int_t)tolerance->computed, "failed",
                     (json_int_t)tolerance->failed, "refused", (json_int_t)tolerance->refused, "undecided",
                     (json_int_t)tolerance->undecided);
}

enum status tolerance_json(const struct tolerance_report *report)
{
    const struct sweep *sweep = report->sweep;
    json_t *object = json_pack(
        "{s:s, s:s, s:s, s:o, s:s, s:o, s:s, s:o, s:f, s:s, s:b, s:o, s:o, s:o, s:o, s:o, s:o, s:o}",
        "schema", "foampulse/tolerance-summary/1", "program_version", FOAMPULSE_VERSION, "caution",
        CAUTION_TEXT, "title", json_out_text(sweep->title), "case_hash", sweep->case_hash, "result_file",
        json_out_text(report->result_file), "model", sweep->model, "runs", runs_json(report), "factor",
        report->tolerance->factor, "factor_provenance", report->factor_provenance, "scatter_assumed",
        report->scatter->assumed, "scatter", scatter_json(report->scatter), "limits", limits_json(report),
        "any_limit", chance_json(&report->tolerance->any), "variance", variance_json(report), "assumptions",
        json_out_lines(sweep->notes, sweep->note_count), "warnings",
        json_out_lines(sweep->warnings, sweep->warning_count), "not_covered",
        json_out_lines(sweep->not_covered, sweep->not_covered_count));
    enum status status = terminal_json(object);
    json_decref(object);
    return status;
}
