#include "plots/slice.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plots/style.h"
#include "solver/base/memory.h"

enum slice_quantity slice_quantity(const struct sweep *sweep)
{
    for (size_t i = 0; i < sweep->point_count; i++) {
        if (sweep->points[i].status == SWEEP_COMPUTED && !isnan(sweep->points[i].worst_margin))
            return SLICE_MARGIN;
    }
    return SLICE_PEAK;
}

double slice_value(const struct sweep *sweep, size_t point, size_t hit, enum slice_quantity quantity)
{
    if (quantity == SLICE_MARGIN)
        return 100 * sweep_margins(sweep, point)[hit];
    return sweep_metrics(sweep, point, hit)[quantity == SLICE_PEAK ? METRIC_peak : METRIC_hic];
}

static int is_worse(double value, double than, enum slice_quantity quantity)
{
    return quantity == SLICE_MARGIN ? value < than : value > than;
}

long slice_worst(const struct sweep *sweep, size_t point, enum slice_quantity quantity)
{
    long worst = -1;
    double most = 0;
    size_t hits = sweep->points[point].status == SWEEP_COMPUTED ? sweep->hit_count : 0;
    for (size_t k = 0; k < hits; k++) {
        double value = slice_value(sweep, point, k, quantity);
        if (!isnan(value) && (worst < 0 || is_worse(value, most, quantity))) {
            worst = (long)k;
            most = value;
        }
    }
    return worst;
}

double slice_worst_value(const struct sweep *sweep, size_t point, enum slice_quantity quantity)
{
    long worst = slice_worst(sweep, point, quantity);
    return worst < 0 ? (double)NAN : slice_value(sweep, point, (size_t)worst, quantity);
}

int slice_is_decided(const struct sweep *sweep, size_t point)
{
    const struct sweep_point *row = &sweep->points[point];
    if (row->status != SWEEP_COMPUTED || row->verdict == VERDICT_UNDECIDED)
        return 0;
    for (size_t k = 0; k < sweep->hit_count; k++) {
        if (sweep->states[point * sweep->hit_count + k] != HIT_COMPUTED)
            return 0;
    }
    return 1;
}

enum status slice_best(const struct sweep *sweep, size_t *best, struct errors *errors)
{
    size_t *order = sweep_order(sweep);
    if (!order)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    int found = sweep->point_count > 0 && !isnan(slice_worst_value(sweep, order[0], SLICE_MARGIN));
    *best = found ? order[0] : 0;
    memory_free(order);
    double lowest = INFINITY;
    for (size_t i = 0; !found && i < sweep->point_count; i++) {
        double value = slice_worst_value(sweep, i, SLICE_PEAK);
        if (value < lowest) {
            lowest = value;
            *best = i;
        }
    }
    return found || isfinite(lowest) ? STATUS_OK
                                     : errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                                                  "no layout was computed: there is nothing to draw");
}

size_t slice_choose(const struct sweep *sweep, const struct slice_choice *choice, size_t most,
                    size_t *factors)
{
    size_t count = choice->count > 0 ? choice->count : sweep->factor_count;
    count = count < most ? count : most;
    for (size_t i = 0; i < count; i++)
        factors[i] = choice->count > 0 ? choice->factor[i] : i;
    return count;
}

/* --- rows --- */

static int compare_rows(const void *left, const void *right)
{
    const struct slice_row *a = left, *b = right;
    if (a->value != b->value)
        return a->value < b->value ? -1 : 1;
    return a->point < b->point ? -1 : a->point > b->point;
}

/* Whether two layouts have the same values, but for two factors. */
static int same_but(const struct sweep *sweep, size_t point, size_t other, size_t a, size_t b)
{
    const double *values = sweep_values(sweep, point), *others = sweep_values(sweep, other);
    for (size_t i = 0; i < sweep->factor_count; i++) {
        if (i != a && i != b && values[i] != others[i])
            return 0;
    }
    return 1;
}

/* Leaves the first of neighbours with the same values of both factors. */
static size_t drop_twins(const struct sweep *sweep, struct slice_row *rows, size_t count, size_t b)
{
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        int twin = 0;
        for (size_t k = kept; k-- > 0 && rows[k].value == rows[i].value && !twin;)
            twin = sweep_values(sweep, rows[k].point)[b] == sweep_values(sweep, rows[i].point)[b];
        if (!twin)
            rows[kept++] = rows[i];
    }
    return kept;
}

struct slice_row *slice_through(const struct sweep *sweep, size_t at, size_t a, size_t b, size_t *count)
{
    struct slice_row *rows = memory_zeroed(sweep->point_count + 1, sizeof *rows);
    *count = 0;
    for (size_t i = 0; rows && i < sweep->point_count; i++) {
        if (same_but(sweep, i, at, a, b))
            rows[(*count)++] = (struct slice_row){sweep_values(sweep, i)[a], i};
    }
    if (!rows)
        return NULL;
    qsort(rows, *count, sizeof *rows, compare_rows);
    *count = drop_twins(sweep, rows, *count, b);
    return rows;
}

struct slice_row *slice_all(const struct sweep *sweep, size_t a, size_t *count)
{
    struct slice_row *rows = memory_zeroed(sweep->point_count + 1, sizeof *rows);
    *count = rows ? sweep->point_count : 0;
    for (size_t i = 0; i < *count; i++)
        rows[i] = (struct slice_row){sweep_values(sweep, i)[a], i};
    if (rows)
        qsort(rows, *count, sizeof *rows, compare_rows);
    return rows;
}

size_t slice_distinct(const struct slice_row *rows, size_t count)
{
    size_t distinct = 0;
    for (size_t i = 0; i < count; i++)
        distinct += i == 0 || rows[i].value != rows[i - 1].value;
    return distinct;
}

/* --- hits --- */

struct governing {
    size_t times; /* worst of so many layouts */
    double worst; /* larger is worse; -INFINITY for none */
    size_t hit;
};

static int compare_governing(const void *left, const void *right)
{
    const struct governing *a = left, *b = right;
    if (a->times != b->times)
        return a->times > b->times ? -1 : 1;
    if (a->worst != b->worst)
        return a->worst > b->worst ? -1 : 1;
    return a->hit < b->hit ? -1 : a->hit > b->hit;
}

enum status slice_governing(const struct sweep *sweep, const struct slice_row *rows, size_t count,
                            enum slice_quantity quantity, size_t *rank)
{
    struct governing *hits = memory_zeroed(sweep->hit_count + 1, sizeof *hits);
    double sign = quantity == SLICE_MARGIN ? -1 : 1;
    if (!hits)
        return STATUS_MEMORY;
    for (size_t k = 0; k < sweep->hit_count; k++)
        hits[k] = (struct governing){0, -INFINITY, k};
    for (size_t i = 0; i < count; i++) {
        long worst = slice_worst(sweep, rows[i].point, quantity);
        if (worst >= 0)
            hits[worst].times++;
        for (size_t k = 0; k < sweep->hit_count; k++)
            hits[k].worst = fmax(hits[k].worst, sign * slice_value(sweep, rows[i].point, k, quantity));
    }
    qsort(hits, sweep->hit_count, sizeof *hits, compare_governing);
    for (size_t k = 0; k < sweep->hit_count; k++)
        rank[k] = hits[k].hit;
    memory_free(hits);
    return STATUS_OK;
}

/* --- stretches --- */

size_t slice_stretches(const double *x, const double *y, size_t count, size_t most, double *from, double *to)
{
    size_t found = 0;
    int open = 0;
    for (size_t i = 0; i < count; i++) {
        int inside = y[i] >= 0, joined = i > 0 && !isnan(y[i]) && !isnan(y[i - 1]);
        double crossing = joined ? x[i - 1] + (x[i] - x[i - 1]) * y[i - 1] / (y[i - 1] - y[i]) : x[i];
        if (open && !inside) {
            to[found - 1] = joined ? crossing : x[i - 1];
            open = 0;
        } else if (!open && inside && found < most) {
            from[found] = joined ? crossing : x[i];
            found++;
            open = 1;
        }
        if (open)
            to[found - 1] = x[i];
    }
    return found;
}

/* --- words --- */

void slice_axis(const struct factor *factor, char text[SLICE_AXIS])
{
    char label[FACTOR_LABEL];
    factor_label(factor, label);
    snprintf(text, SLICE_AXIS, factor->unit[0] ? "%s (%s)" : "%s", label, factor->unit);
}

void slice_tics(struct script *script, const char *axis, const struct factor *factor, size_t levels,
                size_t most)
{
    if (!factor->texts && (factor->level_count == 0 || factor->level_count > levels)) {
        script_add(script, "set %s %g\n", axis, style_step(fmax(factor->high - factor->low, 1e-9), 5));
        return;
    }
    script_add(script, "set %s (", axis);
    for (size_t i = 0; i < factor->level_count; i++) {
        char text[FACTOR_TEXT];
        if (factor->texts)
            factor_write(factor, factor->levels[i], text);
        else
            snprintf(text, sizeof text, "%.4g", factor->levels[i]);
        script_add(script, i ? ", " : "");
        script_tic(script, text, most);
        script_add(script, " %.9g", factor->levels[i]);
    }
    script_add(script, ")\n");
}

void slice_number(const struct factor *factor, double value, char text[FACTOR_TEXT])
{
    if (factor->texts)
        factor_write(factor, value, text);
    else
        snprintf(text, FACTOR_TEXT, factor->unit[0] ? "%.4g %s" : "%.4g", value, factor->unit);
}

void slice_layout(const struct sweep *sweep, size_t point, long but, long nor, char *text, size_t size)
{
    size_t at = 0;
    long number = sweep->points[point].number;
    if (number > 0)
        at = (size_t)snprintf(text, size, "no. %ld", number);
    else
        text[0] = '\0';
    const char *before = at ? ": " : "";
    for (size_t i = 0; i < sweep->factor_count && at < size; i++) {
        char label[FACTOR_LABEL], value[FACTOR_TEXT];
        if ((long)i == but || (long)i == nor)
            continue;
        factor_label(&sweep->factors[i], label);
        slice_number(&sweep->factors[i], sweep_values(sweep, point)[i], value);
        at += (size_t)snprintf(text + at, size - at, "%s%s %s", before, label, value);
        before = ", ";
    }
}
