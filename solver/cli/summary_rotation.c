#include "solver/cli/summary_rotation.h"

#include <math.h>
#include <stdio.h>

#include "cases/fill_sites.h"
#include "solver/cli/summary.h"
#include "solver/cli/table.h"

static const struct table_column columns[] = {
    {"no.", 1},       {"size", TABLE_IF_ANY}, {"site", 0},        {"towards", 0},  {"rad/s2", 1},
    {"limit", 1},     {"rad/s", 1},           {"BrIC", 1},        {"limit", 1},    {"N along", 1},
    {"N s along", 1}, {"slid mm", 1},         {"on the face", 0}, {"drift mm", 1},
};
enum { COLUMN_COUNT = sizeof columns / sizeof *columns };

static int turns(const struct hit_result *hit)
{
    return hit->status == HIT_COMPUTED && isfinite(hit->output.metrics[METRIC_peak_rot_acc]);
}

static void add_row(struct table *table, const struct case_result *result, const struct hit_result *hit)
{
    const double *metrics = hit->output.metrics;
    char name[SUMMARY_HIT], heading[FILL_HEADING];
    table_row(table);
    table_text(table, STYLE_PLAIN, "%s", summary_hit(result, hit, name));
    table_text(table, STYLE_PLAIN, "%s", hit->size);
    table_text(table, STYLE_PLAIN, "%s", hit->site);
    table_text(table, STYLE_PLAIN, "%s", fill_heading(hit->towards, heading));
    table_number(table, metrics[METRIC_peak_rot_acc], 0);
    table_number(table, summary_limit(hit, METRIC_peak_rot_acc), 0);
    table_number(table, metrics[METRIC_peak_rot_vel], 1);
    table_number(table, metrics[METRIC_bric], 2);
    table_number(table, summary_limit(hit, METRIC_bric), 2);
    table_number(table, metrics[METRIC_tangential_force], 0);
    table_number(table, metrics[METRIC_tangential_impulse], 2);
    table_number(table, metrics[METRIC_sliding], 1);
    if (isnan(metrics[METRIC_sliding]))
        table_text(table, STYLE_PLAIN, "-");
    else if (isfinite(metrics[METRIC_rolls_from]))
        table_text(table, STYLE_PLAIN, "rolls from %.2f ms", metrics[METRIC_rolls_from]);
    else
        table_text(table, STYLE_PLAIN, "slid throughout");
    table_number(table, metrics[METRIC_drift], 1);
}

enum status summary_rotation(const struct case_result *result, const struct hit_result *const *rows, int all)
{
    struct table table;
    size_t count = 0, shown = 0;
    int assumed = 0;
    for (size_t i = 0; i < result->hit_count; i++) {
        count += (size_t)turns(rows[i]);
        assumed |= turns(rows[i]) && rows[i]->inertia_assumed;
    }
    if (count == 0)
        return STATUS_OK;
    table_make(&table, columns, COLUMN_COUNT);
    for (size_t i = 0; i < result->hit_count && (all || shown < SUMMARY_ROWS); i++) {
        if (!turns(rows[i]))
            continue;
        add_row(&table, result, rows[i]);
        shown++;
    }
    terminal_print(stdout, STYLE_PLAIN, "rotation of the head, and the shell on the face:\n");
    enum status status = table_print(&table);
    if (shown < count)
        terminal_print(stdout, STYLE_FAINT, "  and %zu more (--all)\n", count - shown);
    if (assumed)
        terminal_print(stdout, STYLE_PLAIN,
                       "moment of inertia of the head assumed, that of a uniform ellipsoid: no limit on "
                       "rotation is decided (headform.inertia)\n");
    return status;
}
