#include "solver/cli/summary.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/cli/terminal.h"

#define DEGREE 57.29577951308232 /* 180 / pi */

/* --- JSON -------------------------------------------------------------------------------------------------
 */

static json_t *number(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

/* Text from a file; broken UTF-8, which JSON cannot hold, becomes null. "" becomes null where nothing is
 * meant. */
static json_t *text(const char *value)
{
    json_t *string = value && value[0] ? json_string(value) : NULL;
    return string ? string : json_null();
}

static json_t *lines(char *const *list, size_t count)
{
    json_t *array = json_array();
    for (size_t i = 0; i < count; i++)
        json_array_append_new(array, text(list[i]));
    return array;
}

static const char *status_word(enum hit_status status)
{
    return status == HIT_COMPUTED ? "computed" : status == HIT_FAILED ? "failed" : "not computed";
}

static const struct judgement *worst_judgement(const struct hit_result *hit)
{
    const struct judgement *worst = NULL;
    for (size_t i = 0; i < hit->judgement_count; i++) {
        const struct judgement *one = &hit->judgements[i];
        if (isfinite(one->margin) && (!worst || one->margin < worst->margin))
            worst = one;
    }
    return worst;
}

static json_t *worst_json(const struct case_result *result)
{
    if (result->worst_hit < 0 || (size_t)result->worst_hit >= result->hit_count)
        return json_null();
    const struct hit_result *hit = &result->hits[result->worst_hit];
    const char *metric = result->worst_metric < 0 ? NULL : metric_table[result->worst_metric].name;
    return json_pack("{s:i, s:i, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "impact", hit->impact, "hit", hit->hit,
                     "size", text(hit->size), "site", text(hit->site), "metric", text(metric), "margin",
                     number(result->worst_margin), "region", text(hit->why_region), "layer",
                     hit->why_layer ? json_integer(hit->why_layer) : json_null(), "why", text(hit->why));
}

/* The programmes or the tests that the hit serves, each once, in the order of its judgements. */
static json_t *served(const struct hit_result *hit, int tests)
{
    json_t *array = json_array();
    for (size_t i = 0; i < hit->judgement_count; i++) {
        const char *name = tests ? hit->judgements[i].test : hit->judgements[i].programme;
        int known = name[0] == '\0';
        for (size_t k = 0; k < json_array_size(array) && !known; k++) {
            const char *other = json_string_value(json_array_get(array, k));
            known = other && strcmp(other, name) == 0;
        }
        if (!known)
            json_array_append_new(array, text(name));
    }
    return array;
}

static json_t *metrics_json(const struct hit_result *hit)
{
    json_t *object = json_object();
    for (size_t i = 0; i < METRIC_COUNT; i++)
        json_object_set_new(object, metric_table[i].name,
                            number(hit->status == HIT_COMPUTED ? hit->output.metrics[i] : (double)NAN));
    return object;
}

static json_t *energy_json(const struct hit_result *hit)
{
    json_t *object = json_object();
    for (size_t i = 0; i < ENERGY_COUNT; i++) {
        char name[64];
        snprintf(name, sizeof name, "%s_J", energy_table[i].name);
        json_object_set_new(object, name,
                            number(hit->status == HIT_COMPUTED ? hit->output.energy[i] : (double)NAN));
    }
    return object;
}

static json_t *layers_json(const struct hit_result *hit)
{
    json_t *array = json_array();
    for (size_t i = 0; i < hit->output.layer_count; i++) {
        const struct layer_output *layer = &hit->output.layers[i];
        json_array_append_new(array, json_pack("{s:o, s:i, s:o, s:o}", "region", text(layer->region), "layer",
                                               layer->layer, "absorbed_J", number(layer->absorbed),
                                               "crush_fraction", number(layer->crush_fraction)));
    }
    return array;
}

static json_t *limits_json(const struct hit_result *hit)
{
    json_t *array = json_array();
    for (size_t i = 0; i < hit->judgement_count; i++) {
        const struct judgement *one = &hit->judgements[i];
        const struct metric_info *metric = &metric_table[one->metric];
        json_array_append_new(
            array, json_pack("{s:o, s:o, s:s, s:s, s:o, s:o, s:o, s:s, s:n, s:o, s:o}", "programme",
                             text(one->programme), "test", text(one->test), "metric", metric->name, "unit",
                             metric->unit, "value", number(one->value), "limit", number(one->limit), "margin",
                             number(one->margin), "state", verdict_text(one->state), "band", "provenance",
                             text(one->provenance), "source", text(one->source)));
    }
    return array;
}

/* All the conditions; the arrays and objects are added by hit_json. */
static json_t *conditions_json(const struct hit_result *hit)
{
    return json_pack("{s:i, s:i, s:s, s:o, s:o, s:o, s:o, s:{s:o, s:o, s:o}, s:o, s:[o, o], s:o, s:o, s:o, "
                     "s:o, s:o, s:o, s:o}",
                     "impact", hit->impact, "hit", hit->hit, "status", status_word(hit->status), "message",
                     text(hit->message), "programmes", served(hit, 0), "tests", served(hit, 1), "size",
                     text(hit->size), "headform", "set", text(hit->headform_set), "size",
                     text(hit->headform_size), "mass_kg", number(hit->headform_mass), "site", text(hit->site),
                     "direction_deg", number(hit->elevation * DEGREE), number(hit->azimuth * DEGREE),
                     "region", text(hit->region), "head_radius_mm", number(1e3 * hit->head_radius), "anvil",
                     text(hit->anvil), "angle_deg", number(hit->angle * DEGREE), "speed_m_s",
                     number(hit->speed), "temperature_C", number(hit->temperature), "model",
                     text(hit->model));
}

static json_t *hit_json(const struct hit_result *hit)
{
    const struct impact_output *output = &hit->output;
    json_t *object = conditions_json(hit);
    if (!object)
        return NULL;
    json_object_set_new(object, "metrics", metrics_json(hit));
    json_object_set_new(object, "energy", energy_json(hit));
    json_object_set_new(object, "layers", layers_json(hit));
    json_object_set_new(object, "limits", limits_json(hit));
    json_object_set_new(object, "solver",
                        json_pack("{s:I, s:I, s:o}", "steps", (json_int_t)output->steps, "cells",
                                  (json_int_t)output->cells, "balance_error", number(output->balance_error)));
    return object;
}

static json_t *case_json(const struct case_result *result)
{
    json_t *impacts = json_array();
    for (size_t i = 0; i < result->hit_count; i++)
        json_array_append_new(impacts, hit_json(&result->hits[i]));
    return json_pack("{s:o, s:o, s:s, s:o, s:s, s:o, s:{s:o, s:o, s:o, s:o, s:o}, s:o, s:o, s:o, s:o}",
                     "file", text(result->file), "title", text(result->title), "case_hash", result->case_hash,
                     "result_file", text(result->result_file), "verdict", verdict_text(result->verdict),
                     "worst", worst_json(result), "mass_kg", "helmet", number(result->mass.helmet), "shell",
                     number(result->mass.shell), "liner", number(result->mass.liner), "comfort",
                     number(result->mass.comfort), "other", number(result->mass.other), "assumptions",
                     lines(result->assumptions, result->assumption_count), "warnings",
                     lines(result->warnings, result->warning_count), "not_covered",
                     lines(result->not_covered, result->not_covered_count), "impacts", impacts);
}

/* Wall times add up over the cases; threads and instruction set are the same for all. */
static json_t *run_json(const struct case_result *results, size_t count)
{
    double wall = 0;
    json_t *walls = json_array();
    for (size_t i = 0; i < count; i++) {
        wall += results[i].wall;
        for (size_t h = 0; h < results[i].hit_count; h++)
            json_array_append_new(walls, number(results[i].hits[h].wall));
    }
    return json_pack("{s:o, s:i, s:o, s:o}", "wall_s", number(wall), "threads",
                     count ? results[0].threads : 0, "isa", text(count ? results[0].isa : ""),
                     "impacts_wall_s", walls);
}

json_t *summary_json(const struct case_result *results, size_t count)
{
    json_t *cases = json_array();
    for (size_t i = 0; i < count; i++)
        json_array_append_new(cases, case_json(&results[i]));
    return json_pack("{s:s, s:s, s:s, s:o, s:o}", "schema", "foampulse/summary/1", "program_version",
                     FOAMPULSE_VERSION, "caution", CAUTION_TEXT, "cases", cases, "run",
                     run_json(results, count));
}

/* --- CSV --------------------------------------------------------------------------------------------------
 */

/* One field with the comma or line end behind it. A text that a spreadsheet would take for a formula gets an
 * apostrophe in front. */
static void csv_text(const char *value, const char *end)
{
    char clean[1024];
    terminal_clean(value ? value : "", clean, sizeof clean);
    int formula = clean[0] != '\0' && strchr("=+-@", clean[0]) != NULL;
    if (!formula && !strpbrk(clean, ",\"")) {
        terminal_print(stdout, STYLE_PLAIN, "%s%s", clean, end);
        return;
    }
    terminal_print(stdout, STYLE_PLAIN, "\"%s", formula ? "'" : "");
    for (const char *at = clean; *at;) {
        size_t part = strcspn(at, "\"");
        terminal_print(stdout, STYLE_PLAIN, "%.*s%s", (int)part, at, at[part] ? "\"\"" : "");
        at += part + (at[part] != '\0');
    }
    terminal_print(stdout, STYLE_PLAIN, "\"%s", end);
}

static void csv_number(double value, const char *end)
{
    if (isfinite(value))
        terminal_print(stdout, STYLE_PLAIN, "%.9g%s", value, end);
    else
        terminal_print(stdout, STYLE_PLAIN, "%s", end);
}

static void csv_head(void)
{
    terminal_print(
        stdout, STYLE_PLAIN,
        "file,title,impact,hit,status,message,size,headform_set,headform_size,headform_mass_kg,site,"
        "elevation_deg,azimuth_deg,region,head_radius_mm,anvil,angle_deg,speed_m_s,temperature_C,model,"
        "why,why_region,why_layer,margin_metric,margin,margin_state");
    for (size_t i = 0; i < METRIC_COUNT; i++)
        terminal_print(stdout, STYLE_PLAIN, ",%s", metric_table[i].name);
    for (size_t i = 0; i < ENERGY_COUNT; i++)
        terminal_print(stdout, STYLE_PLAIN, ",%s_J", energy_table[i].name);
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

static void csv_row(const struct case_result *result, const struct hit_result *hit)
{
    const struct judgement *worst = worst_judgement(hit);
    csv_text(result->file, ",");
    csv_text(result->title, ",");
    terminal_print(stdout, STYLE_PLAIN, "%d,%d,%s,", hit->impact, hit->hit, status_word(hit->status));
    csv_text(hit->message, ",");
    csv_text(hit->size, ",");
    csv_text(hit->headform_set, ",");
    csv_text(hit->headform_size, ",");
    csv_number(hit->headform_mass, ",");
    csv_text(hit->site, ",");
    csv_number(hit->elevation * DEGREE, ",");
    csv_number(hit->azimuth * DEGREE, ",");
    csv_text(hit->region, ",");
    csv_number(1e3 * hit->head_radius, ",");
    csv_text(hit->anvil, ",");
    csv_number(hit->angle * DEGREE, ",");
    csv_number(hit->speed, ",");
    csv_number(hit->temperature, ",");
    csv_text(hit->model, ",");
    csv_text(hit->why, ",");
    csv_text(hit->why_region, ",");
    csv_number(hit->why_layer ? hit->why_layer : (double)NAN, ",");
    csv_text(worst ? metric_table[worst->metric].name : "", ",");
    csv_number(worst ? worst->margin : (double)NAN, ",");
    csv_text(worst ? verdict_text(worst->state) : "", "");
    for (size_t i = 0; i < METRIC_COUNT; i++) {
        terminal_print(stdout, STYLE_PLAIN, ",");
        csv_number(hit->status == HIT_COMPUTED ? hit->output.metrics[i] : (double)NAN, "");
    }
    for (size_t i = 0; i < ENERGY_COUNT; i++) {
        terminal_print(stdout, STYLE_PLAIN, ",");
        csv_number(hit->status == HIT_COMPUTED ? hit->output.energy[i] : (double)NAN, "");
    }
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

void summary_csv(const struct case_result *results, size_t count)
{
    csv_head();
    for (size_t i = 0; i < count; i++) {
        for (size_t h = 0; h < results[i].hit_count; h++)
            csv_row(&results[i], &results[i].hits[h]);
    }
}

/* --- table ------------------------------------------------------------------------------------------------
 */

/* A number right-aligned in a column, "-" where there is none. */
static void cell(double value, int width, int decimals)
{
    if (isfinite(value))
        terminal_print(stdout, STYLE_PLAIN, "%*.*f", width, decimals, value);
    else
        terminal_print(stdout, STYLE_PLAIN, "%*s", width, "-");
}

/* A text left-aligned in a column, cut where it is too long. */
static void cell_text(const char *value, int width)
{
    char clean[256];
    terminal_clean(value, clean, sizeof clean);
    int columns = (int)terminal_columns(clean);
    for (size_t length = strlen(clean); columns > width - 1 && length > 0;
         columns = (int)terminal_columns(clean)) {
        do
            length--;
        while (length > 0 && ((unsigned char)clean[length] & 0xc0) == 0x80);
        clean[length] = '\0';
    }
    terminal_print(stdout, STYLE_PLAIN, "%s%*s", clean, width - columns, "");
}

/* A text from a file as one line, so that it cannot look like a line of ours. */
static void print_line(enum style style, const char *before, const char *value, const char *after)
{
    char clean[1024];
    terminal_print(stdout, style, "%s%s%s", before, terminal_clean(value ? value : "", clean, sizeof clean),
                   after);
}

static double limit_of(const struct hit_result *hit, enum metric metric)
{
    double limit = NAN;
    for (size_t i = 0; i < hit->judgement_count; i++) {
        const struct judgement *one = &hit->judgements[i];
        if (one->metric == metric && isfinite(one->limit) && !(limit <= one->limit))
            limit = one->limit;
    }
    return limit;
}

static double margin_of(const struct hit_result *hit)
{
    const struct judgement *worst = worst_judgement(hit);
    return worst ? worst->margin : (double)INFINITY;
}

/* Smallest margin first; without limits the largest peak; those not computed last. */
static int row_order(const void *a, const void *b)
{
    const struct hit_result *x = *(const struct hit_result *const *)a,
                            *y = *(const struct hit_result *const *)b;
    if ((x->status == HIT_COMPUTED) != (y->status == HIT_COMPUTED))
        return x->status == HIT_COMPUTED ? -1 : 1;
    double left = margin_of(x), right = margin_of(y);
    if (left != right)
        return left < right ? -1 : 1;
    left = x->output.metrics[METRIC_peak], right = y->output.metrics[METRIC_peak];
    if (left != right && isfinite(left) && isfinite(right))
        return left > right ? -1 : 1;
    return (x > y) - (x < y);
}

static void print_row(const struct hit_result *hit)
{
    const double *metrics = hit->output.metrics;
    const struct judgement *worst = worst_judgement(hit);
    enum style style = !worst ? STYLE_PLAIN : worst->margin < 0 ? STYLE_ERROR : STYLE_PLAIN;
    terminal_print(stdout, STYLE_PLAIN, "%4d.%-2d", hit->impact, hit->hit);
    cell_text(hit->site[0] ? hit->site : "-", 14);
    cell_text(hit->anvil, 12);
    cell(hit->speed, 6, 2);
    cell(hit->temperature, 6, 0);
    if (hit->status != HIT_COMPUTED) {
        terminal_print(stdout, STYLE_WARNING, "  %s", status_word(hit->status));
        print_line(STYLE_WARNING, ": ", hit->message, "\n");
        return;
    }
    cell(metrics[METRIC_peak], 8, 1);
    cell(limit_of(hit, METRIC_peak), 7, 0);
    cell(metrics[METRIC_hic], 7, 0);
    cell(limit_of(hit, METRIC_hic), 7, 0);
    cell(100 * metrics[METRIC_crush_fraction], 7, 0);
    cell(metrics[METRIC_crush_left], 7, 1);
    cell(worst ? 100 * worst->margin : (double)NAN, 8, 1);
    if (worst)
        terminal_print(stdout, style, "  %s", verdict_text(worst->state));
    if (hit->why[0]) {
        print_line(STYLE_PLAIN, "  ", hit->why, ": ");
        print_line(STYLE_PLAIN, "", hit->why_region, "");
        terminal_print(stdout, STYLE_PLAIN, " layer %d", hit->why_layer);
    }
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

static void print_verdict(const struct case_result *result)
{
    enum style style = result->verdict == VERDICT_WITHIN ? STYLE_GOOD : STYLE_WARNING;
    terminal_print(stdout, STYLE_STRONG, "verdict: ");
    terminal_print(stdout, result->verdict == VERDICT_EXCEEDS ? STYLE_ERROR : style, "%s",
                   verdict_text(result->verdict));
    if (result->worst_hit >= 0 && (size_t)result->worst_hit < result->hit_count && result->worst_metric >= 0)
        terminal_print(stdout, STYLE_PLAIN, "; smallest margin %.1f %% (%s), impact %d hit %d",
                       100 * result->worst_margin, metric_table[result->worst_metric].name,
                       result->hits[result->worst_hit].impact, result->hits[result->worst_hit].hit);
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

void summary_print(const struct case_result *result, int all)
{
    const struct hit_result **rows = memory_zeroed(result->hit_count, sizeof *rows);
    for (size_t i = 0; rows && i < result->hit_count; i++)
        rows[i] = &result->hits[i];
    if (rows)
        qsort(rows, result->hit_count, sizeof *rows, row_order);
    print_line(STYLE_STRONG, "", result->title && result->title[0] ? result->title : result->file, "\n");
    print_line(STYLE_PLAIN, "case ", result->file, ", hash ");
    print_line(STYLE_PLAIN, "", result->case_hash, "\n");
    if (isfinite(result->mass.helmet))
        terminal_print(stdout, STYLE_PLAIN,
                       "helmet %.3f kg: shell %.3f, liner %.3f, comfort %.3f, other %.3f\n",
                       result->mass.helmet, result->mass.shell, result->mass.liner, result->mass.comfort,
                       result->mass.other);
    terminal_print(stdout, STYLE_FAINT, "%7s%-14s%-12s%6s%6s%8s%7s%7s%7s%7s%7s%8s\n", "impact ", "site",
                   "anvil", "m/s", "degC", "peak g", "limit", "HIC", "limit", "crush%", "mm left", "margin%");
    size_t shown = all || result->hit_count < SUMMARY_ROWS ? result->hit_count : SUMMARY_ROWS;
    for (size_t i = 0; rows && i < shown; i++)
        print_row(rows[i]);
    if (shown < result->hit_count)
        terminal_print(stdout, STYLE_FAINT, "and %zu more (--all)\n", result->hit_count - shown);
    for (size_t i = 0; i < result->warning_count; i++)
        print_line(STYLE_WARNING, "warning: ", result->warnings[i], "\n");
    for (size_t i = 0; i < result->not_covered_count; i++)
        print_line(STYLE_PLAIN, "not covered: ", result->not_covered[i], "\n");
    print_verdict(result);
    memory_free(rows);
}
