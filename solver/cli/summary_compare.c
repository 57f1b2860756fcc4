#include "solver/cli/summary.h"

#include <math.h>
#include <stdint.h>

#include "solver/base/memory.h"
#include "solver/cli/table.h"
#include "solver/cli/terminal.h"
#include "solver/impact/anvil.h"

/*
 * Two results side by side. Differences within the error of the mesh decide nothing: the mesh is chosen so
 * that peak g lies within 2 % of the converged value, and HIC goes with its power 2.5, hence 5 %. For
 * rotational acceleration 5 % is common practice, no source.
 */

static const double peak_error = 0.02, hic_error = 0.05, rotation_error = 0.05;

static const struct table_column columns[] = {
    {"no.", 1},      {"size", TABLE_IF_ANY},
    {"site", 0},     {"anvil", 0},
    {"m/s", 1},      {"degC", 1},
    {"peak g", 1},   {"change", 1},
    {"%", 1},        {"HIC", 1},
    {"change", 1},   {"%", 1},
    {"margin %", 1}, {"was", 1},
    {"", 0},
};
enum { COLUMN_COUNT = sizeof columns / sizeof *columns };

/* Below it, for the hits of these rows that have rotation. */
static const struct table_column rotation_columns[] = {
    {"no.", 1}, {"size", TABLE_IF_ANY}, {"site", 0},   {"rad/s2", 1}, {"change", 1},
    {"%", 1},   {"rad/s", 1},           {"change", 1}, {"BrIC", 1},   {"change", 1},
};
enum { ROTATION_COLUMNS = sizeof rotation_columns / sizeof *rotation_columns };

static double value_of(const struct hit_result *hit, enum metric metric)
{
    return hit && hit->status == HIT_COMPUTED ? hit->output.metrics[metric] : (double)NAN;
}

/* Whether the head turns in a hit. */
static int turns(const struct hit_result *hit)
{
    return isfinite(value_of(hit, METRIC_peak_rot_acc));
}

static double margin_of(const struct hit_result *hit)
{
    const struct judgement *worst = hit ? summary_worst(hit) : NULL;
    return worst ? 100 * worst->margin : (double)NAN;
}

/* Equal to the bit, or both without a value. */
static int unchanged(const struct hit_result *was, const struct hit_result *hit)
{
    if (!was || was->status != hit->status)
        return 0;
    for (int metric = 0; metric < METRIC_COUNT && hit->status == HIT_COMPUTED; metric++) {
        double a = was->output.metrics[metric], b = hit->output.metrics[metric];
        if (a != b && !(isnan(a) && isnan(b)))
            return 0;
    }
    double a = margin_of(was), b = margin_of(hit);
    return a == b || (isnan(a) && isnan(b));
}

static void add_signed(struct table *table, double value, int decimals)
{
    if (isfinite(value))
        table_text(table, STYLE_PLAIN, "%+.*f", decimals, value);
    else
        table_text(table, STYLE_PLAIN, "-");
}

static void add_change(struct table *table, const struct hit_result *was, const struct hit_result *hit,
                       enum metric metric, int decimals)
{
    double now = value_of(hit, metric);
    table_number(table, now, decimals);
    add_signed(table, now - value_of(was, metric), decimals);
}

static void add_metric(struct table *table, const struct hit_result *was, const struct hit_result *hit,
                       enum metric metric, int decimals)
{
    double before = value_of(was, metric);
    add_change(table, was, hit, metric, decimals);
    add_signed(table, 100 * (value_of(hit, metric) - before) / before, 1);
}

static int agrees(const struct hit_result *was, const struct hit_result *hit, enum metric metric,
                  double share)
{
    double before = value_of(was, metric);
    return fabs(value_of(hit, metric) - before) < share * before;
}

static const char *remark(const struct hit_result *was, const struct hit_result *hit)
{
    if (!was)
        return "no such impact there";
    if (hit->status != HIT_COMPUTED)
        return summary_status(hit->status);
    if (was->status != HIT_COMPUTED)
        return was->status == HIT_FAILED ? "failed there" : "not computed there";
    if (unchanged(was, hit))
        return "unchanged";
    int same = agrees(was, hit, METRIC_peak, peak_error) && agrees(was, hit, METRIC_hic, hic_error);
    if (turns(was) && turns(hit))
        same = same && agrees(was, hit, METRIC_peak_rot_acc, rotation_error);
    return same ? "same within the mesh error" : "";
}

static void add_row(struct table *table, const struct case_result *result, const struct hit_result *was,
                    const struct hit_result *hit)
{
    char name[SUMMARY_HIT], anvil[ANVIL_WORDS];
    table_row(table);
    table_text(table, STYLE_PLAIN, "%s", summary_hit(result, hit, name));
    table_text(table, STYLE_PLAIN, "%s", hit->size);
    table_text(table, STYLE_PLAIN, "%s", hit->site);
    table_text(table, STYLE_PLAIN, "%s", anvil_words(hit->anvil, hit->angle, anvil));
    table_number(table, hit->speed, 2);
    table_number(table, hit->temperature, 0);
    add_metric(table, was, hit, METRIC_peak, 1);
    add_metric(table, was, hit, METRIC_hic, 0);
    table_number(table, margin_of(hit), 1);
    table_number(table, margin_of(was), 1);
    table_text(table, STYLE_PLAIN, "%s", remark(was, hit));
}

static void add_rotation(struct table *table, const struct case_result *result, const struct hit_result *was,
                         const struct hit_result *hit)
{
    char name[SUMMARY_HIT];
    if (!turns(hit) && !turns(was))
        return;
    table_row(table);
    table_text(table, STYLE_PLAIN, "%s", summary_hit(result, hit, name));
    table_text(table, STYLE_PLAIN, "%s", hit->size);
    table_text(table, STYLE_PLAIN, "%s", hit->site);
    add_metric(table, was, hit, METRIC_peak_rot_acc, 0);
    add_change(table, was, hit, METRIC_peak_rot_vel, 1);
    add_change(table, was, hit, METRIC_bric, 2);
}

/* Prints the second table where it has rows, and releases it, also when the first failed with `status`. */
static enum status print_rotation(struct table *table, enum status status)
{
    if (table->status == STATUS_OK)
        table->status = status;
    if (table->row_count == 0)
        return table->status;
    if (table->status == STATUS_OK)
        terminal_print(stdout, STYLE_PLAIN, "rotation of the head:\n");
    return table_print(table);
}

/* Rows of `now` against `was`; `changed`: only those that differ. */
static enum status print_rows(const struct case_result *was, const struct case_result *now, size_t most,
                              int changed)
{
    struct table table, rotation;
    size_t shown = 0, left = 0;
    const struct hit_result **rows = summary_rows(now);
    if (!rows)
        return STATUS_MEMORY;
    table_make(&table, columns, COLUMN_COUNT);
    table_make(&rotation, rotation_columns, ROTATION_COLUMNS);
    for (size_t i = 0; i < now->hit_count; i++) {
        const struct hit_result *other = hit_counterpart(was, rows[i]);
        if (changed && unchanged(other, rows[i]))
            continue;
        if (shown < most) {
            add_row(&table, now, other, rows[i]);
            add_rotation(&rotation, now, other, rows[i]);
        }
        left += shown == most;
        shown += shown < most;
    }
    memory_free(rows);
    enum status status = table_print(&table);
    if (left)
        terminal_print(stdout, STYLE_FAINT, "  and %zu more (--all)\n", left);
    return print_rotation(&rotation, status);
}

static void print_mass(const struct case_result *was, const struct case_result *now)
{
    double change = now->mass.helmet - was->mass.helmet;
    if (isfinite(change))
        terminal_print(stdout, STYLE_PLAIN, "; helmet %.3f kg, %+.0f g (%+.1f %%)", now->mass.helmet,
                       1e3 * change, 100 * change / was->mass.helmet);
}

static int any_turns(const struct case_result *results, size_t count)
{
    int any = 0;
    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < results[i].hit_count && !any; k++)
            any = turns(&results[i].hits[k]);
    }
    return any;
}

enum status summary_compare(const struct case_result *results, size_t count, int all)
{
    enum status status = STATUS_OK;
    char label[SUMMARY_LABEL];
    for (size_t i = 1; i < count && status == STATUS_OK; i++) {
        terminal_print(stdout, STYLE_STRONG, "\n%s", summary_label(results, count, i, label));
        terminal_print(stdout, STYLE_PLAIN, " against the baseline, %s",
                       summary_label(results, count, 0, label));
        print_mass(&results[0], &results[i]);
        terminal_print(stdout, STYLE_PLAIN, "\n");
        status = print_rows(&results[0], &results[i], all ? SIZE_MAX : SUMMARY_ROWS, 0);
    }
    if (count > 1)
        terminal_print(
            stdout, STYLE_FAINT,
            "same within the mesh error: peak g within 2 %%, at which the mesh aims, and HIC, which goes "
            "with its power 2.5, within 5 %%%s\n",
            any_turns(results, count) ? "; rotational acceleration within 5 % (common practice, no source)"
                                      : "");
    return status;
}

static int any_counterpart(const struct case_result *earlier, const struct case_result *now)
{
    int any = 0;
    for (size_t i = 0; i < now->hit_count && !any; i++)
        any = hit_counterpart(earlier, &now->hits[i]) != NULL;
    return any;
}

enum status summary_changes(const struct case_result *earlier, const struct case_result *now)
{
    char label[SUMMARY_LABEL];
    int same = earlier->hit_count == now->hit_count && earlier->verdict == now->verdict;
    for (size_t i = 0; i < now->hit_count && same; i++)
        same = unchanged(hit_counterpart(earlier, &now->hits[i]), &now->hits[i]);
    if (!any_counterpart(earlier, now))
        return STATUS_OK;
    terminal_print(stdout, STYLE_PLAIN, "\n%s against the result that it replaces",
                   terminal_clean(now->result_file, label, sizeof label));
    if (same) {
        size_t missing = 0;
        for (size_t i = 0; i < now->hit_count; i++)
            missing += now->hits[i].status != HIT_COMPUTED;
        terminal_print(stdout, STYLE_PLAIN, ": unchanged");
        if (missing)
            terminal_print(stdout, STYLE_PLAIN, ", %zu of %zu hits not computed", missing, now->hit_count);
        terminal_print(stdout, STYLE_PLAIN, "\n");
        return STATUS_OK;
    }
    print_mass(earlier, now);
    terminal_print(stdout, STYLE_PLAIN, "\n");
    return print_rows(earlier, now, SUMMARY_ROWS, 1);
}
