#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/cli/command.h"
#include "solver/cli/json_out.h"
#include "solver/cli/terminal.h"
#include "solver/study/measured.h"

/* All that one call works out, before anything is printed. */
struct report {
    size_t count;
    struct measured_pulse *pulses; /* (count) */
    struct measured_summary summary;
    const char *factor_provenance;
    struct measured_limits limits;
    size_t judgement_count;
    struct judgement judgements[METRIC_COUNT];
};

/* Columns of the table: metric, head in two lines, width, decimals. */
static const struct column {
    enum metric metric;
    const char *head, *unit;
    int width, decimals;
} columns[] = {
    {METRIC_peak, "peak", "g", 8, 1},
    {METRIC_peak_time, "at", "ms", 7, 2},
    {METRIC_hic, "HIC", "", 8, 0},
    {METRIC_hic_start, "from", "ms", 7, 2},
    {METRIC_hic_end, "to", "ms", 7, 2},
    {METRIC_gsi, "GSI", "", 8, 0},
    {METRIC_clip_3ms, "3 ms", "g", 8, 1},
    {METRIC_above_150g, ">150 g", "ms", 8, 2},
    {METRIC_above_200g, ">200 g", "ms", 8, 2},
    {METRIC_pulse, "pulse", "ms", 7, 2},
    {METRIC_velocity_change, "dv", "m/s", 7, 2},
    {METRIC_shape_number, "shape", "", 7, 3},
};
enum { COLUMN_COUNT = sizeof columns / sizeof *columns, NAME_LEAST = 14, NAME_MOST = 32 };

/* --- working out -----------------------------------------------------------------------------------------
 */

static enum status check_operands(const struct options *options, struct errors *errors)
{
    size_t standard = 0;
    for (size_t i = 0; i < options->operand_count; i++)
        standard += strcmp(options->operands[i], "-") == 0;
    if (standard > 1)
        errors_add(errors, STATUS_USAGE, NULL, 0, 0, "standard input (-) can be read only once");
    if (!isnan(options->factor) && options->operand_count < 2)
        errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--factor needs several pulses");
    if (options->factor < 0)
        errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--factor is 0 or more");
    if (options->gate && !options->limits)
        errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--gate needs --limits");
    return errors_status(errors);
}

/* Reads every pulse, also after one that is bad, so that all messages come at once. */
static enum status work_out(const struct options *options, struct report *report, struct errors *errors)
{
    enum status status = check_operands(options, errors);
    if (options->limits)
        status = status_worse(status, measured_limits_read(options->limits, &report->limits, errors));
    if (status != STATUS_OK)
        return status;
    report->count = options->operand_count;
    report->pulses = memory_zeroed(report->count, sizeof *report->pulses);
    if (!report->pulses)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    for (size_t i = 0; i < report->count; i++)
        status = status_worse(status, measured_read(options->operands[i], &report->pulses[i], errors));
    if (status != STATUS_OK)
        return status;
    int given = !isnan(options->factor);
    report->factor_provenance = given ? "given on the command line" : MEASURED_FACTOR_PROVENANCE;
    measured_summarise(report->count, report->pulses, given ? options->factor : MEASURED_FACTOR,
                       &report->summary);
    if (options->limits)
        report->judgement_count = measured_judge(&report->limits, &report->summary, report->judgements);
    return STATUS_OK;
}

/* The judgement of least margin; one that could not be made comes first. NULL without limits. */
static const struct judgement *worst_judgement(const struct report *report)
{
    const struct judgement *worst = NULL;
    for (size_t i = 0; i < report->judgement_count; i++) {
        const struct judgement *judgement = &report->judgements[i];
        if (!worst || isnan(judgement->margin) || judgement->margin < worst->margin)
            worst = judgement;
    }
    return worst;
}

/* Exceeds before incomplete before tight before within. */
static enum verdict overall(const struct report *report)
{
    enum verdict verdict = report->judgement_count ? VERDICT_WITHIN : VERDICT_NO_LIMIT;
    for (size_t i = 0; i < report->judgement_count; i++) {
        if (report->judgements[i].state == VERDICT_EXCEEDS)
            return VERDICT_EXCEEDS;
        if (report->judgements[i].state == VERDICT_NOT_COMPUTED)
            verdict = VERDICT_INCOMPLETE;
        else if (report->judgements[i].state == VERDICT_TIGHT && verdict == VERDICT_WITHIN)
            verdict = VERDICT_TIGHT;
    }
    return verdict;
}

/* --- text ------------------------------------------------------------------------------------------------
 */

static void print_cell(double value, int width, int decimals)
{
    if (isnan(value))
        terminal_print(stdout, STYLE_PLAIN, "%*s", width, "-");
    else
        terminal_print(stdout, STYLE_PLAIN, "%*.*f", width, decimals, value);
}

/* Width of the first column: that of the longest name. */
static int name_width(const struct report *report)
{
    char clean[ERROR_FILE];
    size_t width = NAME_LEAST;
    for (size_t i = 0; i < report->count; i++) {
        size_t length = terminal_columns(terminal_clean(report->pulses[i].file, clean, sizeof clean));
        width = length > width ? length : width;
    }
    return width < NAME_MOST ? (int)width : NAME_MOST;
}

/* A name, cut from the left to fit, then blanks up to the width. */
static void print_name(enum style style, const char *name, int width)
{
    char clean[ERROR_FILE];
    const char *text = terminal_clean(name, clean, sizeof clean), *mark = "";
    int length = (int)terminal_columns(text);
    if (length > width) {
        mark = "..";
        for (; length > width - 2; length--) {
            do
                text++;
            while ((*text & 0xc0) == 0x80);
        }
        length += 2;
    }
    terminal_print(stdout, style, "%s%s%*s", mark, text, width - length, "");
}

static void print_row(enum style style, const char *name, int width, const double *values)
{
    print_name(style, name, width);
    for (size_t i = 0; i < COLUMN_COUNT; i++)
        print_cell(values[columns[i].metric], columns[i].width, columns[i].decimals);
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

static void print_head(int width)
{
    print_name(STYLE_STRONG, "pulse", width);
    for (size_t i = 0; i < COLUMN_COUNT; i++)
        terminal_print(stdout, STYLE_STRONG, "%*s", columns[i].width, columns[i].head);
    terminal_print(stdout, STYLE_PLAIN, "\n%*s", width, "");
    for (size_t i = 0; i < COLUMN_COUNT; i++)
        terminal_print(stdout, STYLE_FAINT, "%*s", columns[i].width, columns[i].unit);
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

/* Mean + k s, only of what a limit can be set for: of a time or a change of velocity it would mean nothing.
 */
static void print_bound(const struct report *report, int width)
{
    char name[64];
    double values[METRIC_COUNT];
    for (size_t i = 0; i < METRIC_COUNT; i++)
        values[i] = metric_table[i].limit_key ? report->summary.bound[i] : NAN;
    snprintf(name, sizeof name, "mean + %g s", report->summary.factor);
    print_row(STYLE_STRONG, name, width, values);
}

static void print_table(const struct report *report)
{
    int width = name_width(report);
    print_head(width);
    for (size_t i = 0; i < report->count; i++)
        print_row(STYLE_PLAIN, report->pulses[i].file, width, report->pulses[i].metrics);
    if (report->count < 2)
        return;
    print_row(STYLE_STRONG, "mean", width, report->summary.mean);
    print_row(STYLE_STRONG, "s", width, report->summary.deviation);
    print_bound(report, width);
    terminal_print(stdout, STYLE_PLAIN, "factor %g: %s\n", report->summary.factor, report->factor_provenance);
}

/* "275 g", or "2400" for a metric without unit. */
static const char *limit_text(const struct judgement *judgement, char *text, size_t size)
{
    const char *unit = metric_table[judgement->metric].unit;
    int bare = strcmp(unit, "1") == 0;
    snprintf(text, size, "%.6g%s%s", judgement->limit, bare ? "" : " ", bare ? "" : unit);
    return text;
}

/* What the judged value is: mean + k s, or one pulse that lies above it. */
static const char *value_text(const struct report *report, const struct judgement *judgement, char *text,
                              size_t size)
{
    if (report->count == 1)
        return "value";
    if (judgement->value > report->summary.bound[judgement->metric])
        return "largest pulse";
    snprintf(text, size, "mean + %g s", report->summary.factor);
    return text;
}

static void print_judgement(const struct report *report, const struct judgement *judgement)
{
    char value[64], limit[64];
    enum style style = judgement->state == VERDICT_WITHIN ? STYLE_GOOD : STYLE_ERROR;
    terminal_print(stdout, STYLE_PLAIN, "  %-18s", metric_table[judgement->metric].limit_key);
    limit_text(judgement, limit, sizeof limit);
    if (judgement->state == VERDICT_NOT_COMPUTED)
        terminal_print(stdout, STYLE_PLAIN, "limit %s, a pulse does not give it: ", limit);
    else
        terminal_print(stdout, STYLE_PLAIN, "%s %.5g, limit %s, margin %.1f %%: ",
                       value_text(report, judgement, value, sizeof value), judgement->value, limit,
                       100 * judgement->margin);
    terminal_print(stdout, style, "%s\n", verdict_text(judgement->state));
}

static void print_verdict(const struct report *report)
{
    const struct judgement *worst = worst_judgement(report);
    if (!worst)
        return;
    terminal_print(stdout, STYLE_STRONG, "\nlimits");
    terminal_print(stdout, STYLE_PLAIN, " (%s)\n", worst->provenance);
    for (size_t i = 0; i < report->judgement_count; i++)
        print_judgement(report, &report->judgements[i]);
    terminal_print(stdout, STYLE_STRONG, "\nVerdict: %s", verdict_text(overall(report)));
    if (isnan(worst->margin))
        terminal_print(stdout, STYLE_PLAIN, "; %s could not be judged.\n",
                       metric_table[worst->metric].limit_key);
    else
        terminal_print(stdout, STYLE_PLAIN, "; least margin %.1f %%, %s.\n", 100 * worst->margin,
                       metric_table[worst->metric].limit_key);
    terminal_print(stdout, STYLE_PLAIN, "%s\n", CAUTION_TEXT);
}

static void print_notes(const struct report *report)
{
    for (size_t i = 0; i < report->count; i++) {
        const struct measured_pulse *pulse = &report->pulses[i];
        for (size_t k = 0; k < pulse->note_count; k++) {
            terminal_print(stderr, STYLE_WARNING, "%s: note:", pulse->file);
            terminal_print(stderr, STYLE_PLAIN, " %s\n", pulse->note[k]);
        }
    }
}

static void print_report(const struct report *report)
{
    size_t filtered = 0;
    for (size_t i = 0; i < report->count; i++)
        filtered += (size_t)report->pulses[i].filtered;
    terminal_print(stdout, STYLE_PLAIN, "measured pulses, %s; times from the first 5 g\n\n",
                   filtered == report->count ? "CFC 1000"
                   : filtered                ? "CFC 1000 where the sampling allows it"
                                             : "not filtered");
    print_table(report);
    print_verdict(report);
}

/* --- JSON ------------------------------------------------------------------------------------------------
 */

static json_t *metrics_object(const double *values)
{
    json_t *object = json_object();
    for (size_t i = 0; i < METRIC_COUNT; i++)
        json_object_set_new(object, metric_table[i].name, json_out_number(values[i]));
    return object;
}

static json_t *pulse_object(const struct measured_pulse *pulse)
{
    char file[ERROR_FILE], text[NOTE];
    json_t *notes = json_array();
    for (size_t i = 0; i < pulse->note_count; i++)
        json_array_append_new(notes, json_string(terminal_clean(pulse->note[i], text, sizeof text)));
    return json_pack(
        "{s:s, s:I, s:I, s:f, s:f, s:o, s:b, s:b, s:o, s:o}", "file",
        terminal_clean(pulse->file, file, sizeof file), "samples", (json_int_t)pulse->samples, "channels",
        (json_int_t)pulse->channels, "interval_us", 1e6 * pulse->interval, "touch_ms", 1e3 * pulse->touch,
        "cfc", pulse->filtered ? json_integer(1000) : json_null(), "resampled", pulse->resampled,
        "sign_changed", pulse->reversed, "warnings", notes, "metrics", metrics_object(pulse->metrics));
}

static json_t *summary_object(const struct report *report)
{
    const struct measured_summary *summary = &report->summary;
    if (report->count < 2)
        return json_null();
    return json_pack("{s:I, s:f, s:s, s:o, s:o, s:o, s:o}", "count", (json_int_t)summary->count, "factor",
                     summary->factor, "factor_provenance", report->factor_provenance, "mean",
                     metrics_object(summary->mean), "s", metrics_object(summary->deviation), "mean_plus_k_s",
                     metrics_object(summary->bound), "largest", metrics_object(summary->largest));
}

static json_t *limits_array(const struct report *report)
{
    json_t *list = json_array();
    for (size_t i = 0; i < report->judgement_count; i++) {
        const struct judgement *judgement = &report->judgements[i];
        json_array_append_new(
            list, json_pack("{s:s, s:s, s:o, s:f, s:o, s:s, s:s}", "metric",
                            metric_table[judgement->metric].name, "unit",
                            metric_table[judgement->metric].unit, "value", json_out_number(judgement->value),
                            "limit", judgement->limit, "margin", json_out_number(judgement->margin), "state",
                            verdict_text(judgement->state), "provenance", judgement->provenance));
    }
    return list;
}

static enum status print_json(const struct report *report)
{
    json_t *files = json_array();
    for (size_t i = 0; i < report->count; i++)
        json_array_append_new(files, pulse_object(&report->pulses[i]));
    json_t *object =
        json_pack("{s:s, s:s, s:s, s:s, s:o, s:o, s:o}", "schema", "foampulse/measure/1", "program_version",
                  FOAMPULSE_VERSION, "caution", CAUTION_TEXT, "verdict", verdict_text(overall(report)),
                  "files", files, "summary", summary_object(report), "limits", limits_array(report));
    enum status status = terminal_json(object);
    json_decref(object);
    return status;
}

enum status command_measure(const struct options *options)
{
    struct report report = {0};
    struct errors errors = {0};
    enum status status = work_out(options, &report, &errors);
    if (status == STATUS_OK) {
        if (!options->quiet)
            print_notes(&report);
        if (options->json)
            status = print_json(&report);
        else
            print_report(&report);
    }
    terminal_errors(&errors, options->json);
    if (status == STATUS_OK && options->gate && overall(&report) != VERDICT_WITHIN &&
        overall(&report) != VERDICT_TIGHT)
        status = STATUS_GATE;
    memory_free(report.pulses);
    return status;
}
