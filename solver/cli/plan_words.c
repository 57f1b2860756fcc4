#include "solver/cli/json_out.h"
#include "solver/cli/plan_words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/fill_sites.h"
#include "solver/base/version.h"
#include "solver/cli/csv_field.h"
#include "solver/cli/summary.h"
#include "solver/cli/table.h"
#include "solver/cli/terminal.h"
#include "solver/impact/anvil.h"

#define DEGREE 57.29577951308232 /* 180 / pi */

static const double gravity = 9.80665; /* [m/s2] */

enum { WORDS = 256, TESTS = CASE_JUDGES * 2 * (CASE_NAME + 2) };

/* --- words of one test -----------------------------------------------------------------------------------
 */

/* "computed", or what the first hit without a prediction is called. */
static const char *status_of(const struct plan_test *test)
{
    return summary_status(test->missing ? test->missing->status : HIT_COMPUTED);
}

/* What is left to the limit; NaN where that is undecided or there is none. */
static double margin_of(const struct plan_test *test)
{
    const struct judgement *judgement = test->judgement;
    return judgement && judgement->state != VERDICT_UNDECIDED ? judgement->margin : (double)NAN;
}

/* The free fall that gives a speed [m]. */
static double drop_height(double speed)
{
    return speed * speed / (2 * gravity);
}

/* Speeds of the hits, or the heights of their drops, with `between` them. */
static const char *hits_words(const struct plan_test *test, int heights, const char *format,
                              const char *between, char words[WORDS])
{
    size_t at = 0;
    words[0] = '\0';
    for (size_t i = 0; i < test->hit_count && at < WORDS; i++) {
        double speed = test->hits[i].speed;
        at += (size_t)snprintf(words + at, WORDS - at, "%s", i ? between : "");
        if (at < WORDS)
            at += (size_t)snprintf(words + at, WORDS - at, format, heights ? drop_height(speed) : speed);
    }
    return words;
}

/* "un-r22.06 low/flat; en-1078 flat/flat": tests of programmes that the impact serves. */
static const char *tests_words(const struct plan_test *test, char words[TESTS])
{
    size_t at = 0;
    words[0] = '\0';
    for (size_t i = 0; i < test->impact->test_count; i++) {
        const struct case_test *one = &test->helmet->tests[test->impact->tests[i]];
        at += (size_t)snprintf(words + at, TESTS - at, "%s%s %s", i ? "; " : "", one->programme, one->test);
    }
    return words;
}

static int is_oblique(const struct plan_test *test)
{
    return test->impact->angle > 0 || isfinite(test->impact->towards[0]);
}

/* "cold -20 degC", "23 degC". */
static const char *condition_words(const struct plan_group *group, char words[WORDS])
{
    snprintf(words, WORDS, "%s%s%.4g degC", group->condition, group->condition[0] ? " " : "",
             group->temperature);
    return words;
}

/* Behind a number of samples: "cold (-20 degC)", "at 23 degC". */
static const char *count_words(const struct plan_group *group, char words[WORDS])
{
    int named = group->condition[0] != '\0';
    snprintf(words, WORDS, named ? "%s (%.4g degC)" : "at%s %.4g degC", group->condition, group->temperature);
    return words;
}

static const char *headform_words(const struct hit_result *hit, char words[WORDS])
{
    snprintf(words, WORDS, "%s%s%s%s%s", hit->headform_set[0] ? hit->headform_set : "its own",
             hit->headform_size[0] ? " " : "", hit->headform_size, hit->headform_own[0] ? " with " : "",
             hit->headform_own);
    return words;
}

/* --- table -----------------------------------------------------------------------------------------------
 */

static const struct table_column columns[] = {
    {"sample", 1},
    {"size", TABLE_IF_ANY},
    {"headform", TABLE_IF_ANY},
    {"condition", 0},
    {"no.", 1},
    {"site", 0},
    {"anvil", 0},
    {"m/s", 1},
    {"drop m", 1},
    {"towards", TABLE_IF_ANY},
    {"predicted", 0},
    {"limit", 1},
    {"margin %", 1},
    {"verdict", 0},
    {"why", 0},
};
enum { COLUMN_COUNT = sizeof columns / sizeof *columns };

static enum style verdict_style(enum verdict verdict)
{
    return verdict == VERDICT_WITHIN ? STYLE_GOOD : verdict == VERDICT_EXCEEDS ? STYLE_ERROR : STYLE_WARNING;
}

/* What the sample is, at its first test only, so that samples stand apart. */
static void add_sample(struct table *table, const struct plan *plan, const struct plan_test *test)
{
    const struct plan_sample *sample = &plan->samples[test->sample];
    char words[WORDS];
    if (test != &plan->tests[sample->first]) {
        for (int i = 0; i < 4; i++)
            table_text(table, STYLE_PLAIN, "%s", "");
        return;
    }
    int pad = test->helmet->pad.present;
    table_text(table, STYLE_STRONG, "%zu", test->sample + 1);
    table_text(table, STYLE_STRONG, "%s", test->hits->size);
    table_text(table, STYLE_STRONG, "%s", pad ? "" : headform_words(test->hits, words));
    table_text(table, STYLE_STRONG, "%s", condition_words(&plan->groups[sample->group], words));
}

static void add_prediction(struct table *table, const struct plan_test *test)
{
    const struct judgement *judgement = test->judgement;
    enum metric metric = judgement ? judgement->metric : METRIC_peak;
    double value = judgement       ? judgement->value
                   : test->governs ? test->governs->output.metrics[METRIC_peak]
                                   : (double)NAN;
    const char *unit = metric_table[metric].unit, *word = metrics_word(metric);
    if (isnan(value))
        table_text(table, STYLE_PLAIN, "-");
    else
        table_text(table, STYLE_PLAIN, "%s %.*f%s%s", metric == METRIC_peak ? "peak" : word,
                   metrics_decimals(metric), value, unit[0] == '1' ? "" : " ", unit[0] == '1' ? "" : unit);
    if (judgement)
        table_text(table, STYLE_PLAIN, "%.6g", judgement->limit);
    else
        table_text(table, STYLE_PLAIN, "-");
    table_number(table, 100 * margin_of(test), 1);
}

static void add_verdict(struct table *table, const struct plan_test *test)
{
    const struct judgement *judgement = test->judgement;
    if (test->missing)
        table_text(table, STYLE_WARNING, "%s", status_of(test));
    else if (judgement)
        table_text(table, verdict_style(judgement->state), "%s%s", verdict_text(judgement->state),
                   strstr(judgement->provenance, "from memory") ? " (limit unchecked)" : "");
    else
        table_text(table, STYLE_PLAIN, "%s", verdict_text(VERDICT_NO_LIMIT));
    if (test->missing && test->hit_count > 1)
        table_text(table, STYLE_PLAIN, "hit %d: %s", test->missing->hit, test->missing->message);
    else if (test->missing)
        table_text(table, STYLE_PLAIN, "%s", test->missing->message);
    else if (test->governs->why[0])
        table_text(table, STYLE_PLAIN, "%s: %s, layer %d", test->governs->why, test->governs->why_region,
                   test->governs->why_layer);
}

static void add_row(struct table *table, const struct plan *plan, const struct plan_test *test)
{
    const struct hit_result *hit = test->hits;
    char words[WORDS], anvil[ANVIL_WORDS], heading[FILL_HEADING];
    table_row(table);
    add_sample(table, plan, test);
    table_text(table, STYLE_PLAIN, "%d", hit->impact);
    table_text(table, STYLE_PLAIN, "%s", hit->site[0] ? hit->site : "-");
    table_text(table, STYLE_PLAIN, "%s", hit->anvil[0] ? anvil_words(hit->anvil, hit->angle, anvil) : "-");
    table_text(table, STYLE_PLAIN, "%s", hits_words(test, 0, "%.2f", ", ", words));
    table_text(table, STYLE_PLAIN, "%s", hits_words(test, 1, "%.3f", ", ", words));
    table_text(table, STYLE_PLAIN, "%s",
               is_oblique(test) ? fill_heading(test->impact->towards, heading) : "");
    add_prediction(table, test);
    add_verdict(table, test);
}

/* --- text ------------------------------------------------------------------------------------------------
 */

static const char *plural(size_t count)
{
    return count == 1 ? "" : "s";
}

static void print_head(const struct case_result *result, const struct plan *plan)
{
    char label[SUMMARY_LABEL], name[WORDS];
    int sizes = plan->group_count > 0 && plan->groups[0].helmet->size[0];
    terminal_print(stdout, STYLE_STRONG, "%s", summary_label(result, 1, 0, label));
    terminal_print(stdout, STYLE_PLAIN, ": %zu test%s on %zu sample%s", plan->test_count,
                   plural(plan->test_count), plan->sample_count, plural(plan->sample_count));
    if (result->title && strcmp(label, result->title) == 0)
        terminal_print(stdout, STYLE_FAINT, "  (%s)", terminal_clean(result->file, name, sizeof name));
    terminal_print(stdout, STYLE_PLAIN, "\n%s, worst predicted margin first; predicted by model %s\n",
                   sizes ? "by helmet size and conditioning" : "by conditioning",
                   result->hit_count ? result->hits[0].model : "");
}

/* "samples: 7 ambient (25 degC), 6 cold (-20 degC)", a line each size; then all of them. */
static void print_count(const struct plan *plan)
{
    char words[WORDS], clean[WORDS];
    for (size_t i = 0; i < plan->group_count; i++) {
        const struct plan_group *group = &plan->groups[i];
        const char *size = group->helmet->size;
        if (i > 0 && group->helmet == plan->groups[i - 1].helmet)
            terminal_print(stdout, STYLE_PLAIN, ", ");
        else
            terminal_print(stdout, STYLE_PLAIN, "%ssamples%s%s: ", i ? "\n" : "", size[0] ? " of size " : "",
                           terminal_clean(size, clean, sizeof clean));
        terminal_print(stdout, STYLE_PLAIN, "%zu %s", group->sample_count,
                       terminal_clean(count_words(group, words), clean, sizeof clean));
    }
    terminal_print(stdout, STYLE_STRONG, "\n%zu sample%s in all for %zu test%s\n", plan->sample_count,
                   plural(plan->sample_count), plan->test_count, plural(plan->test_count));
}

/* Whether the spacing of a group is of no programme. */
static int is_own_spacing(const struct plan *plan)
{
    for (size_t i = 0; i < plan->group_count; i++) {
        if (plan->groups[i].apart == plan_apart && !plan->groups[i].helmet->pad.present)
            return 1;
    }
    return 0;
}

static void print_rules(const struct plan *plan)
{
    char name[CASE_NAME], from[WORDS];
    terminal_print(stdout, STYLE_PLAIN, "a sample is struck at a point once (with all hits of that test)");
    if (is_own_spacing(plan))
        terminal_print(
            stdout, STYLE_PLAIN,
            "; points nearer than %.4g mm along the inner face of the shell count as one (choice of "
            "this program)",
            1e3 * plan_apart);
    terminal_print(stdout, STYLE_PLAIN, "\n");
    for (size_t i = 0; i < plan->rule_count; i++) {
        const struct case_test *rule = plan->rules[i];
        terminal_print(stdout, STYLE_PLAIN, "%s: ", terminal_clean(rule->programme, name, sizeof name));
        if (rule->sample_impacts > 0)
            terminal_print(stdout, STYLE_PLAIN, "at most %d test%s a sample", rule->sample_impacts,
                           plural((size_t)rule->sample_impacts));
        if (!isnan(rule->sample_apart))
            terminal_print(stdout, STYLE_PLAIN, "%spoints at least %.4g mm apart",
                           rule->sample_impacts > 0 ? ", " : "", 1e3 * rule->sample_apart);
        terminal_print(stdout, STYLE_PLAIN, ": %s\n",
                       terminal_clean(rule->sample_provenance, from, sizeof from));
    }
    if (plan->sample_count < plan->test_count)
        terminal_print(
            stdout, STYLE_PLAIN,
            "each test is predicted on a new helmet: what earlier ones at other points of its sample did "
            "is not in it\n");
}

static void print_inertia(const struct plan *plan)
{
    int assumed = 0;
    for (size_t i = 0; i < plan->test_count; i++)
        assumed |= plan->tests[i].judgement && plan->tests[i].judgement->state == VERDICT_UNDECIDED &&
                   plan->tests[i].governs->inertia_assumed;
    if (assumed)
        terminal_print(
            stdout, STYLE_PLAIN,
            "moment of inertia of the head assumed, that of a uniform ellipsoid: no limit on rotation is "
            "decided (headform.inertia)\n");
}

static void print_not_predicted(const struct case_result *result)
{
    char line[1024];
    for (size_t i = 0; i < result->not_covered_count; i++)
        terminal_print(stdout, STYLE_WARNING, "not predicted, no sample counted: %s\n",
                       terminal_clean(result->not_covered[i], line, sizeof line));
}

enum status plan_print(const struct case_result *result, const struct plan *plan)
{
    struct table table;
    print_head(result, plan);
    table_make(&table, columns, COLUMN_COUNT);
    for (size_t i = 0; i < plan->test_count; i++)
        add_row(&table, plan, &plan->tests[i]);
    enum status status = table_print(&table);
    terminal_print(stdout, STYLE_PLAIN, "\n");
    print_inertia(plan);
    print_not_predicted(result);
    print_rules(plan);
    print_count(plan);
    terminal_print(stdout, STYLE_FAINT, "\n%s\n", CAUTION_TEXT);
    return status;
}

/* --- CSV -------------------------------------------------------------------------------------------------
 */

/* A line while it is written. */
struct line {
    char text[PLAN_LINE];
    size_t length;
};

static void put(struct line *line, const char *field)
{
    line->length += (size_t)snprintf(line->text + line->length, PLAN_LINE - line->length, "%s%s",
                                     line->length ? "," : "", field);
}

static void put_text(struct line *line, const char *value)
{
    char field[CSV_FIELD];
    put(line, csv_field_text(value, field));
}

static void put_number(struct line *line, double value)
{
    char field[CSV_FIELD];
    put(line, csv_field_number(value, field));
}

static void put_sample(struct line *line, const struct plan *plan, const struct plan_test *test)
{
    const struct plan_sample *sample = &plan->samples[test->sample];
    const struct plan_group *group = &plan->groups[sample->group];
    const struct hit_result *hit = test->hits;
    put_number(line, (double)test->sample + 1);
    put_number(line, (double)(test - &plan->tests[sample->first]) + 1);
    put_text(line, hit->size);
    put_text(line, hit->headform_set);
    put_text(line, hit->headform_size);
    put_text(line, hit->headform_own);
    put_number(line, hit->headform_mass);
    put_text(line, group->condition);
    put_number(line, group->temperature);
}

static void put_test(struct line *line, const struct plan_test *test)
{
    const struct hit_result *hit = test->hits;
    char words[WORDS], tests[TESTS];
    put_number(line, hit->impact);
    put_text(line, hit->site);
    put_number(line, hit->elevation * DEGREE);
    put_number(line, hit->azimuth * DEGREE);
    put_text(line, hit->region);
    put_text(line, hit->anvil);
    put_number(line, hit->angle * DEGREE);
    put_number(line, hit->towards[0] * DEGREE);
    put_number(line, hit->towards[1] * DEGREE);
    put_text(line, hits_words(test, 0, "%.9g", " ", words));
    put_text(line, hits_words(test, 1, "%.4f", " ", words));
    put_text(line, tests_words(test, tests));
}

static void put_prediction(struct line *line, const struct plan_test *test)
{
    const struct hit_result *hit = test->governs;
    const struct judgement *judgement = test->judgement;
    put_text(line, status_of(test));
    put_text(line, test->missing ? test->missing->message : "");
    put_number(line, hit ? hit->hit : (double)NAN);
    put_text(line, judgement ? metric_table[judgement->metric].name : "");
    put_text(line, judgement ? metric_table[judgement->metric].unit : "");
    put_number(line, judgement ? judgement->value : (double)NAN);
    put_number(line, judgement ? judgement->limit : (double)NAN);
    put_number(line, margin_of(test));
    put_text(line, judgement ? verdict_text(judgement->state) : hit ? verdict_text(VERDICT_NO_LIMIT) : "");
    put_text(line, judgement ? judgement->provenance : "");
    put_number(line, hit ? hit->output.metrics[METRIC_peak] : (double)NAN);
    put_number(line, hit ? hit->output.metrics[METRIC_hic] : (double)NAN);
    put_text(line, hit ? hit->why : "");
    put_text(line, hit ? hit->why_region : "");
    put_number(line, hit && hit->why_layer ? hit->why_layer : (double)NAN);
}

static const char csv_head[] =
    "sample,order,size,headform_set,headform_size,headform_own,headform_mass_kg,condition,temperature_C,"
    "impact,site,elevation_deg,azimuth_deg,region,anvil,angle_deg,towards_elevation_deg,towards_azimuth_deg,"
    "speeds_m_s,drop_heights_m,tests,"
    "status,message,hit,metric,unit,value,limit,margin,state,limit_provenance,peak_g,hic,why,why_region,"
    "why_layer\n";

/* Fields of a line before `status`, and behind `message`. */
enum { FIELDS_BEFORE = 21, FIELDS_BEHIND = 13 };

static void put_not_predicted(struct line *line, const char *text)
{
    line->length =
        (size_t)snprintf(line->text, PLAN_LINE, "%.*s", FIELDS_BEFORE - 1, ",,,,,,,,,,,,,,,,,,,,,");
    put_text(line, "not predicted");
    put_text(line, text);
    for (int i = 0; i < FIELDS_BEHIND; i++)
        put(line, "");
}

enum status plan_csv(const struct case_result *result, const struct plan *plan,
                     enum status (*take)(void *context, const char *line), void *context)
{
    struct line line;
    enum status status = take(context, csv_head);
    for (size_t i = 0; i < plan->test_count + result->not_covered_count && status == STATUS_OK; i++) {
        line.length = 0;
        if (i < plan->test_count) {
            put_sample(&line, plan, &plan->tests[i]);
            put_test(&line, &plan->tests[i]);
            put_prediction(&line, &plan->tests[i]);
        } else {
            put_not_predicted(&line, result->not_covered[i - plan->test_count]);
        }
        snprintf(line.text + line.length, PLAN_LINE - line.length, "\n");
        status = take(context, line.text);
    }
    return status;
}

/* --- JSON ------------------------------------------------------------------------------------------------
 */

static json_t *hits_json(const struct plan_test *test, int heights)
{
    json_t *list = json_array();
    for (size_t i = 0; i < test->hit_count; i++)
        json_array_append_new(
            list, json_out_number(heights ? drop_height(test->hits[i].speed) : test->hits[i].speed));
    return list;
}

static json_t *served_json(const struct plan_test *test)
{
    json_t *list = json_array();
    for (size_t i = 0; i < test->impact->test_count; i++) {
        const struct case_test *one = &test->helmet->tests[test->impact->tests[i]];
        json_array_append_new(list, json_pack("{s:o, s:o}", "programme", json_out_text(one->programme),
                                              "test", json_out_text(one->test)));
    }
    return list;
}

static json_t *judgement_json(const struct plan_test *test)
{
    const struct judgement *judgement = test->judgement;
    if (!judgement)
        return json_null();
    return json_pack("{s:s, s:s, s:o, s:o, s:o, s:s, s:o, s:o}", "metric",
                     metric_table[judgement->metric].name, "unit", metric_table[judgement->metric].unit,
                     "value", json_out_number(judgement->value), "limit", json_out_number(judgement->limit),
                     "margin", json_out_number(margin_of(test)), "state", verdict_text(judgement->state),
                     "provenance", json_out_text(judgement->provenance), "source",
                     json_out_text(judgement->source));
}

static json_t *test_json(const struct plan_test *test)
{
    const struct hit_result *hit = test->hits, *governs = test->governs;
    return json_pack(
        "{s:i, s:o, s:[o, o], s:o, s:o, s:o, s:[o, o], s:o, s:o, s:o, s:s, s:o, s:o, s:o, s:o, s:o, s:o, "
        "s:o, s:o}",
        "impact", hit->impact, "site", json_out_text(hit->site), "direction_deg",
        json_out_number(hit->elevation * DEGREE), json_out_number(hit->azimuth * DEGREE), "region",
        json_out_text(hit->region), "anvil", json_out_text(hit->anvil), "angle_deg",
        json_out_number(hit->angle * DEGREE), "towards_deg", json_out_number(hit->towards[0] * DEGREE),
        json_out_number(hit->towards[1] * DEGREE), "speeds_m_s", hits_json(test, 0), "drop_heights_m",
        hits_json(test, 1), "serves", served_json(test), "status", status_of(test), "message",
        json_out_text(test->missing ? test->missing->message : ""), "hit",
        governs ? json_integer(governs->hit) : json_null(), "governs", judgement_json(test), "peak_g",
        json_out_number(governs ? governs->output.metrics[METRIC_peak] : (double)NAN), "hic",
        json_out_number(governs ? governs->output.metrics[METRIC_hic] : (double)NAN), "why",
        json_out_text(governs ? governs->why : ""), "why_region",
        json_out_text(governs ? governs->why_region : ""), "why_layer",
        governs && governs->why_layer ? json_integer(governs->why_layer) : json_null());
}

static json_t *sample_json(const struct plan *plan, size_t at)
{
    const struct plan_sample *sample = &plan->samples[at];
    const struct plan_group *group = &plan->groups[sample->group];
    const struct hit_result *hit = plan->tests[sample->first].hits;
    json_t *tests = json_array();
    for (size_t i = 0; i < sample->count; i++)
        json_array_append_new(tests, test_json(&plan->tests[sample->first + i]));
    return json_pack("{s:i, s:o, s:{s:o, s:o, s:o, s:o}, s:o, s:o, s:o, s:o}", "sample", (int)at + 1, "size",
                     json_out_text(hit->size), "headform", "set", json_out_text(hit->headform_set), "size",
                     json_out_text(hit->headform_size), "own", json_out_text(hit->headform_own), "mass_kg",
                     json_out_number(hit->headform_mass), "condition", json_out_text(group->condition),
                     "temperature_C", json_out_number(group->temperature), "worst_margin",
                     json_out_number(margin_of(&plan->tests[sample->first])), "tests", tests);
}

static json_t *group_json(const struct plan_group *group)
{
    return json_pack("{s:o, s:o, s:o, s:i, s:i, s:o, s:o}", "size", json_out_text(group->helmet->size),
                     "condition", json_out_text(group->condition), "temperature_C",
                     json_out_number(group->temperature), "tests", (int)group->test_count, "samples",
                     (int)group->sample_count, "most_tests_a_sample",
                     group->most ? json_integer((json_int_t)group->most) : json_null(), "apart_mm",
                     json_out_number(group->helmet->pad.present ? (double)NAN : 1e3 * group->apart));
}

json_t *plan_json(const struct case_result *result, const struct plan *plan, const char *csv)
{
    json_t *samples = json_array(), *groups = json_array(), *open = json_array();
    for (size_t i = 0; i < plan->sample_count; i++)
        json_array_append_new(samples, sample_json(plan, i));
    for (size_t i = 0; i < plan->group_count; i++)
        json_array_append_new(groups, group_json(&plan->groups[i]));
    for (size_t i = 0; i < result->not_covered_count; i++)
        json_array_append_new(open, json_out_text(result->not_covered[i]));
    return json_pack("{s:s, s:s, s:s, s:o, s:o, s:s, s:o, s:o, s:o, s:i, s:i, s:o, s:o, s:o}", "schema",
                     "foampulse/plan/1", "program_version", FOAMPULSE_VERSION, "caution", CAUTION_TEXT,
                     "file", json_out_text(result->file), "title", json_out_text(result->title), "case_hash",
                     result->case_hash, "result_file", json_out_text(result->result_file), "csv_file",
                     json_out_text(csv), "model",
                     json_out_text(result->hit_count ? result->hits[0].model : ""), "sample_count",
                     (int)plan->sample_count, "test_count", (int)plan->test_count, "groups", groups,
                     "samples", samples, "not_predicted", open);
}
