#include "plots/margins.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plots/style.h"

enum { NAME_MOST = 44 }; /* letters of the name of a row */

/* A row: one hit, as the layout with the smallest margin has it. */
struct row {
    const struct hit_result *hit;
    double margin;
};

static double margin_of(const struct hit_result *hit)
{
    const struct judgement *worst = hit && hit->status == HIT_COMPUTED ? layouts_worst(hit) : NULL;
    return worst ? worst->margin : (double)NAN;
}

/* Puts a hit in its place among the rows, the last of which falls out when there are enough. */
static void put_row(struct row rows[MARGINS_ROWS], size_t *count, struct row row)
{
    size_t at = *count;
    while (at > 0 && rows[at - 1].margin > row.margin)
        at--;
    if (at == MARGINS_ROWS)
        return;
    size_t moved = *count < MARGINS_ROWS ? *count - at : MARGINS_ROWS - 1 - at;
    memmove(rows + at + 1, rows + at, moved * sizeof *rows);
    rows[at] = row;
    *count += *count < MARGINS_ROWS;
}

/* Whether a layout before this one has the same hit, which then stands for both. */
static int is_known(const struct layout *layouts, size_t before, const struct hit_result *hit)
{
    for (size_t i = 0; i < before; i++) {
        if (!isnan(margin_of(hit_counterpart(layouts[i].result, hit))))
            return 1;
    }
    return 0;
}

/* Hits of all layouts that have no margin, as they were not computed or stay undecided. */
static size_t count_open(const struct layout *layouts, size_t count)
{
    size_t open = 0;
    for (size_t i = 0; i < count; i++) {
        for (size_t h = 0; h < layouts[i].result->hit_count; h++) {
            const struct hit_result *hit = &layouts[i].result->hits[h];
            int undecided = hit->status != HIT_COMPUTED;
            for (size_t k = 0; k < hit->judgement_count; k++)
                undecided |= hit->judgements[k].state == VERDICT_UNDECIDED;
            open += undecided && isnan(margin_of(hit));
        }
    }
    return open;
}

/* The worst rows of all layouts; their count, and that of all rows there are. */
static size_t pick_rows(const struct layout *layouts, size_t count, struct row rows[MARGINS_ROWS],
                        size_t *all)
{
    size_t found = 0;
    *all = 0;
    for (size_t i = 0; i < count; i++) {
        for (size_t h = 0; h < layouts[i].result->hit_count; h++) {
            const struct hit_result *hit = &layouts[i].result->hits[h];
            struct row row = {hit, margin_of(hit)};
            if (isnan(row.margin) || is_known(layouts, i, hit))
                continue;
            for (size_t k = i + 1; k < count; k++)
                row.margin = fmin(row.margin, margin_of(hit_counterpart(layouts[k].result, hit)));
            put_row(rows, &found, row);
            ++*all;
        }
    }
    return found;
}

/* "HIC 3615 of 2880", "12223 of 10400 rad/s2": the judgement that a bar stands for, by a short word or its
 * unit. */
static void value_text(const struct judgement *judgement, char *text, size_t size)
{
    enum metric metric = judgement->metric;
    const char *unit = metric_table[metric].unit, *word = metrics_word(metric);
    int by_unit = strcmp(word, metric_table[metric].name) != 0 && strlen(word) > 6;
    int decimals = judgement->value < 100 ? metrics_decimals(metric) : 0;
    snprintf(text, size, "%s%s%.*f of %.6g%s%s%s", by_unit ? "" : word, by_unit ? "" : " ", decimals,
             judgement->value, judgement->limit, by_unit ? " " : "", by_unit ? unit : "",
             layouts_unchecked(judgement) ? " (unchecked)" : "");
}

static const char *fill_of(const struct judgement *judgement)
{
    return judgement->state == VERDICT_EXCEEDS ? "#08306b"
           : judgement->state == VERDICT_TIGHT ? "#6baed6"
                                               : "#cfe1f2";
}

/* A bar from zero at a height, and what it stands for at the right. */
static void add_bar(struct script *script, const struct judgement *judgement, double height, double half,
                    const char *fill)
{
    double margin = 100 * judgement->margin;
    script_add(script,
               "set object rectangle from first 0,first %g to first %g,first %g fs solid border rgb "
               "'" STYLE_INK "' fc rgb '%s' lw 0.5 front\n",
               height - half, margin, height + half, fill);
    script_add(script, "set label '%.0f' at first %g,first %g %s tc rgb '" STYLE_INK "' front\n", margin,
               margin, height, margin < 0 ? "right offset -0.6,0" : "left offset 0.6,0");
}

static void add_bars(struct script *script, const struct layout *layouts, size_t count,
                     const struct row *rows, size_t row_count)
{
    double half = 0.36 / (double)count;
    for (size_t i = 0; i < row_count; i++) {
        for (size_t k = 0; k < count; k++) {
            const struct hit_result *hit = hit_counterpart(layouts[k].result, rows[i].hit);
            if (isnan(margin_of(hit)))
                continue;
            const struct judgement *worst = layouts_worst(hit);
            double height = -(double)i + ((double)count - 1 - 2 * (double)k) * half;
            add_bar(script, worst, height, 0.92 * half, count > 1 ? style_color(k) : fill_of(worst));
            if (count > 1)
                continue;
            char text[96];
            value_text(worst, text, sizeof text);
            script_add(script, "set label ");
            script_text(script, text, 40);
            script_add(script, " at graph 1.02,first %g left tc rgb '" STYLE_SOFT "' front\n", height);
        }
    }
}

/* A sample of a fill and its name, from outside, at a place of the picture. */
static void add_sample(struct script *script, const char *fill, const char *name, double x, double y)
{
    script_add(script,
               "set object rectangle from screen %g,%g to screen %g,%g fs solid border rgb '" STYLE_INK
               "' fc rgb '%s' lw 0.5 front\nset label ",
               x, y - 0.008, x + 0.02, y + 0.008, fill);
    script_text(script, name, 20);
    script_add(script, " at screen %g,%g left tc rgb '" STYLE_INK "' front\n", x + 0.027, y);
}

/* Names of the layouts at the right, or of the states at the foot. */
static void add_legend(struct script *script, const struct layout *layouts, size_t count)
{
    static const struct judgement states[] = {
        {.state = VERDICT_EXCEEDS}, {.state = VERDICT_TIGHT}, {.state = VERDICT_WITHIN}};
    for (size_t i = 0; count == 1 && i < 3; i++)
        add_sample(script, fill_of(&states[i]), verdict_text(states[i].state), 0.02 + 0.12 * (double)i,
                   0.0275);
    for (size_t i = 0; count > 1 && i < count; i++)
        add_sample(script, style_color(i), layouts[i].name, 0.76, 0.84 - 0.06 * (double)i);
}

/* Data block: zero, row, length; for a text, where nothing else is drawn. */
static void add_lengths(struct script *script, const struct layout *layouts, size_t count,
                        const struct row *rows, size_t row_count)
{
    script_add(script, "$bars << END_OF_BLOCK\n");
    for (size_t i = 0; i < row_count; i++) {
        for (size_t k = 0; k < count; k++) {
            double margin = margin_of(hit_counterpart(layouts[k].result, rows[i].hit));
            if (!isnan(margin))
                script_add(script, "0 %g %.7g\n", -(double)i - 0.2 * (double)k, 100 * margin);
        }
    }
    script_add(script, "END_OF_BLOCK\nplot $bars using 1:2:3:(0) with vectors nohead notitle\n");
}

/* Where the axis begins, of the picture's width: behind the longest name of a row, 0.0085 a letter. */
static double left_of(const struct row *rows, size_t row_count)
{
    size_t longest = 0;
    for (size_t i = 0; i < row_count; i++) {
        char text[LAYOUT_TEXT];
        layouts_short(rows[i].hit, text);
        longest = strlen(text) > longest ? strlen(text) : longest;
    }
    return fmax(0.33, 0.025 + 0.0085 * (double)(longest < NAME_MOST ? longest : NAME_MOST));
}

static void add_frame(struct script *script, const struct row *rows, size_t row_count, double low,
                      double high)
{
    script_add(script, "set xtics %g\n", style_step(high - low, 6));
    script_add(script, "set xrange [%g:%g]\nset yrange [%g:0.7]\nunset ylabel\nset ytics scale 0 (", low,
               high, 0.3 - (double)row_count);
    for (size_t i = 0; i < row_count; i++) {
        char text[LAYOUT_TEXT];
        layouts_short(rows[i].hit, text);
        script_add(script, i ? ", " : "");
        script_tic(script, text, NAME_MOST);
        script_add(script, " %d", -(int)i);
    }
    script_add(script,
               ")\nset grid xtics noytics\nset arrow from first 0,graph 0 to first 0,graph 1 nohead lc "
               "rgb '" STYLE_INK "' lw 1.2 front\n");
}

enum status margins_compose(struct script *script, const struct layout *layouts, size_t count,
                            enum picture_format format, struct errors *errors)
{
    struct row rows[MARGINS_ROWS];
    size_t all, row_count = pick_rows(layouts, count, rows, &all);
    if (row_count == 0)
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0, "no hit has a limit to keep a margin to");
    double low = 0, high = 0;
    for (size_t i = 0; i < row_count; i++) {
        for (size_t k = 0; k < count; k++) {
            double margin = 100 * margin_of(hit_counterpart(layouts[k].result, rows[i].hit));
            low = fmin(low, margin), high = fmax(high, margin);
        }
    }
    double room = 0.2 * (high - low + 1);
    char title[LAYOUT_TEXT + 96];
    size_t used = 0, open = count_open(layouts, count);
    used = (size_t)snprintf(title, sizeof title, "Margin to the nearest limit");
    if (all > row_count)
        used += (size_t)snprintf(title + used, sizeof title - used, ", the worst %zu of %zu hits", row_count,
                                 all);
    if (open > 0)
        used +=
            (size_t)snprintf(title + used, sizeof title - used, ", %zu more not computed or undecided", open);
    if (count == 1)
        snprintf(title + used, sizeof title - used, ". %.80s", layouts[0].name);
    style_begin(script, format, 800, 170 + (count > 1 ? 12 + 17 * (int)count : 19) * (int)row_count, title,
                LAYOUTS_REMARK);
    style_axes(script, "margin (% of the limit)", "");
    add_frame(script, rows, row_count, low < 0 ? low - room : 0, high > 0 ? high + room : 0);
    if (format == PICTURE_TEXT) {
        add_lengths(script, layouts, count, rows, row_count);
        return STATUS_OK;
    }
    script_add(script, "set lmargin at screen %g\nset rmargin at screen %g\nset bmargin at screen %g\n",
               left_of(rows, row_count), count > 1 ? 0.735 : 0.685,
               0.06 + 60.0 / (170 + 19 * (double)row_count));
    add_bars(script, layouts, count, rows, row_count);
    add_legend(script, layouts, count);
    script_add(script, "plot NaN notitle\n");
    return STATUS_OK;
}
