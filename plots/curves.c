#include "plots/curves.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "plots/board.h"
#include "plots/layouts.h"
#include "plots/style.h"
#include "solver/base/memory.h"

/* Sizes of the picture in its own units (plots/board). */
enum {
    WIDTH = 900,
    PLOT = 235,  /* height of a plot */
    BELOW = 64,  /* its tics and label */
    ABOVE = 26,  /* room for the word over it */
    LEGEND = 19, /* a row of the legend */
    LEFT = 78,   /* tics and label of the scale */
    COLUMNS = 3, /* of panels, and of the legend */
    LEVELS = 7,  /* so many tics stand at the levels themselves */
    STRETCHES = 8,
    LIMITS = 3 /* lines of limits in a panel */
};

/* [%] Margins below are cut off, or this far below the best layout: they would flatten what matters. */
#define FLOOR      (-100.0)
#define BELOW_BEST 50.0
#define CUT_REMARK "The lowest margins are cut off. "
#define BAND       "#d9d9d9" /* under the worst of all */
#define FAINT      "#b8b8b8" /* impacts that do not govern */

static const int point_types[CURVES_HITS] = {7, 5, 9, 11, 13, 6, 4, 8};

/* One plot: rows by the value of a factor. */
struct panel {
    const struct factor *factor;
    size_t column; /* of the factor */
    enum slice_quantity quantity;
    struct slice_row *rows;
    size_t count;
    int is_line; /* 0: dots of all layouts */
    double low, high;
};

struct drawing {
    struct board board;
    struct script *script; /* of the board */
    enum picture_format format;
    const struct sweep *sweep;
    enum slice_quantity quantity; /* by which hits are ranked */
    size_t best;
    double floor; /* [%] margins below are cut off */
    int is_cut;   /* there are some */
    size_t *rank; /* (hit_count) hits by how they govern */
    size_t shown, faint;
    size_t panel_count, columns, legend_rows;
    struct panel panels[CURVES_PANELS];
};

/* --- what is shown --- */

static enum status add_panel(struct drawing *drawing, size_t column, enum slice_quantity quantity)
{
    const struct sweep *sweep = drawing->sweep;
    struct panel *panel = &drawing->panels[drawing->panel_count++];
    size_t all, line;
    struct slice_row *rows = slice_all(sweep, column, &all);
    *panel = (struct panel){.factor = &sweep->factors[column], .column = column, .quantity = quantity};
    panel->rows = slice_through(sweep, drawing->best, column, column, &line);
    int failed = !panel->rows || !rows;
    /* Samples fill the space: hardly two of their layouts differ in one factor alone. */
    panel->is_line = !failed && line >= 2 && 2 * line > slice_distinct(rows, all);
    panel->count = line;
    if (!failed && !panel->is_line) {
        struct slice_row *through = panel->rows;
        panel->rows = rows;
        panel->count = all;
        rows = through;
    }
    memory_free(rows);
    return failed ? STATUS_MEMORY : STATUS_OK;
}

static enum status choose_panels(struct drawing *drawing, const struct slice_choice *choice)
{
    size_t columns[CURVES_PANELS];
    size_t count = slice_choose(drawing->sweep, choice, CURVES_PANELS, columns);
    enum status status = STATUS_OK;
    if (drawing->sweep->factor_count > 1) {
        for (size_t i = 0; status == STATUS_OK && i < count; i++)
            status = add_panel(drawing, columns[i], drawing->quantity);
        return status;
    }
    if (drawing->quantity == SLICE_MARGIN)
        status = add_panel(drawing, 0, SLICE_MARGIN);
    if (status == STATUS_OK)
        status = add_panel(drawing, 0, SLICE_PEAK);
    return status == STATUS_OK ? add_panel(drawing, 0, SLICE_HIC) : status;
}

static int any_line(const struct drawing *drawing)
{
    int any = 0;
    for (size_t i = 0; i < drawing->panel_count; i++)
        any |= drawing->panels[i].is_line;
    return any;
}

static int is_worst_of_any(const struct drawing *drawing, const struct slice_row *rows, size_t count,
                           size_t hit)
{
    int any = 0;
    for (size_t i = 0; i < count && !any; i++)
        any = slice_worst(drawing->sweep, rows[i].point, drawing->quantity) == (long)hit;
    return any;
}

/* Ranks the hits by all rows of all panels. */
static enum status rank_hits(struct drawing *drawing)
{
    size_t count = 0, at = 0, hits = drawing->sweep->hit_count;
    for (size_t i = 0; i < drawing->panel_count; i++)
        count += drawing->panels[i].count;
    struct slice_row *rows = memory_zeroed(count + 1, sizeof *rows);
    drawing->rank = memory_zeroed(hits + 1, sizeof *drawing->rank);
    enum status status = rows && drawing->rank ? STATUS_OK : STATUS_MEMORY;
    for (size_t i = 0; status == STATUS_OK && i < drawing->panel_count; i++) {
        memcpy(rows + at, drawing->panels[i].rows, drawing->panels[i].count * sizeof *rows);
        at += drawing->panels[i].count;
    }
    if (status == STATUS_OK)
        status = slice_governing(drawing->sweep, rows, count, drawing->quantity, drawing->rank);
    size_t governing = 0;
    for (size_t i = 0; status == STATUS_OK && i < hits; i++)
        governing += is_worst_of_any(drawing, rows, count, drawing->rank[i]);
    memory_free(rows);
    if (!any_line(drawing))
        hits = governing;
    drawing->shown = hits < CURVES_HITS ? hits : CURVES_HITS;
    drawing->faint = hits - drawing->shown < CURVES_FAINT ? hits - drawing->shown : CURVES_FAINT;
    return status;
}

static double limit_of(const struct sweep *sweep, size_t hit, enum slice_quantity quantity)
{
    return sweep->limits[hit * METRIC_COUNT + (quantity == SLICE_PEAK ? METRIC_peak : METRIC_hic)];
}

/* Whether a value of a panel is drawn: on a line each hit, of dots that of the worst hit alone. */
static int is_drawn(const struct drawing *drawing, const struct panel *panel, size_t row, size_t hit)
{
    return panel->is_line ||
           slice_worst(drawing->sweep, panel->rows[row].point, panel->quantity) == (long)hit;
}

/* Least and largest value of a panel, and zero. */
static void find_extent(const struct drawing *drawing, const struct panel *panel, double *low, double *high)
{
    for (size_t k = 0; k < drawing->shown + drawing->faint; k++) {
        size_t hit = drawing->rank[k];
        for (size_t i = 0; i < panel->count; i++) {
            double value = slice_value(drawing->sweep, panel->rows[i].point, hit, panel->quantity);
            if (is_drawn(drawing, panel, i, hit)) {
                *low = fmin(*low, value);
                *high = fmax(*high, value);
            }
        }
    }
}

/* Ends of the scale. Far over a limit nothing has to be told apart. */
static void extend(struct drawing *drawing, struct panel *panel)
{
    double low = 0, high = 0, limit = 0;
    find_extent(drawing, panel, &low, &high);
    for (size_t k = 0; panel->quantity != SLICE_MARGIN && k < drawing->shown + drawing->faint; k++)
        limit = fmax(limit, limit_of(drawing->sweep, drawing->rank[k], panel->quantity));
    if (limit > 0)
        high = fmax(1.1 * limit, fmin(high, 3 * limit));
    drawing->is_cut |= low < drawing->floor;
    low = fmax(low, drawing->floor);
    double span = fmax(high - low, 1);
    panel->low = low - (panel->quantity == SLICE_MARGIN ? 0.1 * span : 0);
    panel->high = high + 0.07 * span;
}

/* One scale for all factors. */
static void share_scale(struct drawing *drawing)
{
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < drawing->panel_count; i++) {
        extend(drawing, &drawing->panels[i]);
        low = fmin(low, drawing->panels[i].low);
        high = fmax(high, drawing->panels[i].high);
    }
    for (size_t i = 0; drawing->sweep->factor_count > 1 && i < drawing->panel_count; i++) {
        drawing->panels[i].low = low;
        drawing->panels[i].high = high;
    }
}

/* --- data --- */

/* Block $hN of panel, or the dots of the layouts in which the hit is worst. */
static void add_hit(const struct drawing *drawing, const struct panel *panel, size_t k, double *x, double *y)
{
    char name[32];
    size_t hit = drawing->rank[k], count = 0;
    for (size_t i = 0; i < panel->count; i++) {
        size_t point = panel->rows[i].point;
        if (!is_drawn(drawing, panel, i, hit))
            continue;
        x[count] = panel->rows[i].value;
        y[count++] = slice_value(drawing->sweep, point, hit, panel->quantity);
    }
    if (count == 0) { /* an empty block is an error */
        x[0] = y[0] = NAN;
        count = 1;
    }
    snprintf(name, sizeof name, "h%zu", k);
    script_block(drawing->script, name, x, y, count);
}

static void add_worst(const struct drawing *drawing, const struct panel *panel, double *x, double *y)
{
    for (size_t i = 0; i < panel->count; i++) {
        x[i] = panel->rows[i].value;
        y[i] = slice_worst_value(drawing->sweep, panel->rows[i].point, panel->quantity);
    }
    script_block(drawing->script, "worst", x, y, panel->count);
}

/* --- marks --- */

static void add_line(struct script *script, double level, const char *dash)
{
    script_add(script,
               "set arrow from graph 0,first %g to graph 1,first %g nohead lc rgb '" STYLE_INK
               "' lw 1.4 dt %s "
               "front\n",
               level, level, dash);
}

/* Limits of the hits shown, each once. */
static void add_limits(const struct drawing *drawing, const struct panel *panel)
{
    double drawn[LIMITS];
    size_t count = 0;
    for (size_t k = 0; k < drawing->shown + drawing->faint && count < LIMITS; k++) {
        double limit = limit_of(drawing->sweep, drawing->rank[k], panel->quantity);
        int known = isnan(limit);
        for (size_t i = 0; i < count; i++)
            known |= drawn[i] == limit;
        if (known)
            continue;
        drawn[count++] = limit;
        add_line(drawing->script, limit, "(10,6)");
        script_add(drawing->script,
                   "set label 'limit %g' at graph 0.99,first %g right offset 0,0.6 tc rgb '" STYLE_INK
                   "' font ',%d' front boxed\n",
                   limit, limit, gnuplot_font(drawing->format, 15));
    }
}

/* Where every impact keeps its limits, as a bar over the scale of the factor. */
static void add_stretches(const struct drawing *drawing, const struct panel *panel, double *x, double *y)
{
    double from[STRETCHES], to[STRETCHES];
    struct script *script = drawing->script;
    for (size_t i = 0; i < panel->count; i++) {
        size_t point = panel->rows[i].point;
        x[i] = panel->rows[i].value;
        y[i] = slice_is_decided(drawing->sweep, point)
                   ? slice_worst_value(drawing->sweep, point, SLICE_MARGIN)
                   : (double)NAN;
    }
    size_t count = slice_stretches(x, y, panel->count, STRETCHES, from, to), widest = 0;
    for (size_t i = 0; i < count; i++) {
        widest = to[i] - from[i] > to[widest] - from[widest] ? i : widest;
        script_add(script,
                   "set arrow from first %g,graph 0.025 to first %g,graph 0.025 nohead lc rgb '" STYLE_INK
                   "' lw 5 front\n",
                   from[i], to[i]);
    }
    char text[64];
    if (count == 0)
        snprintf(text, sizeof text, "nowhere all within the limits");
    else if (to[widest] > from[widest])
        snprintf(text, sizeof text, "all within the limits: %.3g to %.3g", from[widest], to[widest]);
    else
        snprintf(text, sizeof text, "all within the limits: %.3g", from[widest]);
    script_add(script,
               "set label '%s' at graph 0.5,graph 0.075 center tc rgb '" STYLE_INK
               "' font ',%d' front boxed\n",
               text, gnuplot_font(drawing->format, 15));
}

static void add_best(const struct drawing *drawing, const struct panel *panel)
{
    char value[FACTOR_TEXT], text[FACTOR_TEXT + 16];
    double at = sweep_values(drawing->sweep, drawing->best)[panel->column];
    double level = slice_worst_value(drawing->sweep, drawing->best, panel->quantity);
    slice_number(panel->factor, at, value);
    snprintf(text, sizeof text, "best %s", value);
    script_add(drawing->script,
               "set arrow from first %g,graph 0 to first %g,graph 1 nohead lc rgb '" STYLE_SOFT
               "' lw 1 dt (2,4) back\nset label ",
               at, at);
    script_text(drawing->script, text, 30);
    /* the word stays over its own panel, however near the mark is to an end */
    double span = panel->factor->high - panel->factor->low;
    double share = span > 0 ? (at - panel->factor->low) / span : 0.5;
    script_add(drawing->script, " at first %g,graph 1.045 %s tc rgb '" STYLE_SOFT "' font ',%d' front\n", at,
               share < 0.25   ? "left"
               : share > 0.75 ? "right"
                              : "center",
               gnuplot_font(drawing->format, 15));
    if (isfinite(level) && level >= panel->low)
        script_add(drawing->script,
                   "set label '' at first %g,first %g point pt 6 ps 2.4 lw 1.6 lc rgb '" STYLE_INK
                   "' front\n",
                   at, level);
}

/* --- a panel --- */

static void add_ranges(const struct drawing *drawing, const struct panel *panel)
{
    const struct factor *factor = panel->factor;
    struct script *script = drawing->script;
    double low = factor->low, high = factor->high, room = factor->texts ? 0.5 : 0.04 * (high - low);
    for (size_t i = 0; i < panel->count; i++) {
        low = fmin(low, panel->rows[i].value);
        high = fmax(high, panel->rows[i].value);
    }
    room = room > 0 ? room : fmax(0.05 * fabs(high), 1e-9);
    script_add(script, "set xrange [%.9g:%.9g]\nset yrange [%g:%g]\n", low - room, high + room, panel->low,
               panel->high);
    double step = style_step(panel->high - panel->low, 6);
    script_add(script, "set ytics %g,%g\n", step * floor(panel->low / step), step);
    slice_tics(script, "xtics", factor, LEVELS, 60 / (factor->level_count + 1) + 4);
}

static void add_plot(const struct drawing *drawing, const struct panel *panel)
{
    struct script *script = drawing->script;
    int text = drawing->format == PICTURE_TEXT, joined = panel->is_line && !panel->factor->texts;
    const char *before = "plot ";
    double size = panel->count > 60 ? 0.6 : !joined ? 1.4 : 1.0;
    if (!text && panel->is_line && drawing->sweep->hit_count > 1) {
        script_add(script, "plot $worst using 1:2 with %s notitle",
                   joined ? "lines lc rgb '" BAND "' lw 8" : "points pt 7 ps 3 lc rgb '" BAND "'");
        before = ", \\\n";
    }
    for (size_t k = drawing->shown + drawing->faint; k-- > 0;) {
        script_add(script, "%s$h%zu using 1:2 with ", before, k);
        if (text)
            script_add(script, "%s title ", joined ? "linespoints" : "points");
        else if (k >= drawing->shown)
            script_add(script, "%s pt 7 ps 0.5 lc rgb '" FAINT "' lw 1 notitle", joined ? "lines" : "points");
        else if (joined)
            script_add(script, "linespoints %s pt %d ps %g notitle", style_line(k), point_types[k], size);
        else
            script_add(script, "points pt %d ps %g lc rgb '%s' notitle", point_types[k], size,
                       style_color(k));
        if (text) {
            char name[LAYOUT_TEXT];
            layouts_short(&drawing->sweep->hits[drawing->rank[k]], name);
            script_text(script, name, 40);
        }
        before = ", \\\n";
    }
    script_add(script, "\n");
}

/* `first` has the scale that stands for its line. */
static void compose_panel(const struct drawing *drawing, const struct panel *panel, int first, double *x,
                          double *y)
{
    static const char *const scales[] = {"margin (% of the limit)", "peak acceleration (g)", "HIC (1)"};
    char axis[SLICE_AXIS];
    struct script *script = drawing->script;
    if (panel->is_line)
        add_worst(drawing, panel, x, y);
    for (size_t k = 0; k < drawing->shown + drawing->faint; k++)
        add_hit(drawing, panel, k, x, y);
    add_ranges(drawing, panel);
    slice_axis(panel->factor, axis);
    script_add(script, "set xlabel ");
    script_text(script, axis, 46);
    script_add(script, " tc rgb '" STYLE_INK "'\n");
    if (first)
        script_add(script, "set ylabel '%s' tc rgb '" STYLE_INK "'\n", scales[panel->quantity]);
    else
        script_add(script, "unset ylabel\n");
    if (drawing->format != PICTURE_TEXT) {
        if (panel->quantity == SLICE_MARGIN)
            add_line(script, 0, "1");
        else
            add_limits(drawing, panel);
        if (panel->quantity == SLICE_MARGIN && panel->is_line && !panel->factor->texts)
            add_stretches(drawing, panel, x, y);
        add_best(drawing, panel);
    }
    add_plot(drawing, panel);
}

/* Edges of a panel; panels of one scale stand closer. 1 where the scale is written. */
static int place_panel(const struct drawing *drawing, size_t index)
{
    size_t column = index % drawing->columns, line = index / drawing->columns;
    int one_scale = drawing->sweep->factor_count > 1, first = !one_scale || column == 0;
    double gap = one_scale ? 24 : LEFT, right = 18;
    double width = (WIDTH - LEFT - right - gap * (double)(drawing->columns - 1)) / (double)drawing->columns;
    double left = LEFT + (width + gap) * (double)column;
    double top = BOARD_HEAD + ABOVE + (double)(PLOT + BELOW + ABOVE) * (double)line;
    board_plot(&drawing->board, left, left + width, top, top + PLOT);
    script_add(drawing->script, first ? "set format y '%%g'\n" : "set format y ''\n");
    return first;
}

/* --- legend --- */

/* Where entry `at` of the legend stands. */
static void legend_place(const struct drawing *drawing, size_t at, double *x, double *y)
{
    size_t row = at / COLUMNS;
    *x = 18 + (double)(at % COLUMNS) * (WIDTH - 30) / COLUMNS;
    *y = drawing->board.height - BOARD_FOOT - 8 - LEGEND * ((double)drawing->legend_rows - 1 - (double)row);
}

static void legend_row(const struct drawing *drawing, size_t at, const char *line, const char *mark,
                       const char *text)
{
    double x, y;
    legend_place(drawing, at, &x, &y);
    if (line)
        board_line(&drawing->board, x, y, 32, line);
    if (mark)
        board_mark(&drawing->board, x + 16, y, mark);
    board_text(&drawing->board, x + 40, y, text, 52);
}

/* Rows that explain what is no impact of its own. */
static void add_rest(const struct drawing *drawing, size_t at)
{
    char text[LAYOUT_TEXT];
    size_t others = drawing->sweep->hit_count - drawing->shown;
    int lines = any_line(drawing);
    if (drawing->faint > 0) {
        snprintf(text, sizeof text, others > drawing->faint ? "%zu of %zu others" : "%zu others",
                 drawing->faint, others);
        legend_row(drawing, at++, lines ? "lc rgb '" FAINT "' lw 1" : NULL,
                   lines ? NULL : "pt 7 ps 0.5 lc rgb '" FAINT "'", text);
    }
    if (lines && drawing->sweep->hit_count > 1)
        legend_row(drawing, at++, "lc rgb '" BAND "' lw 8", NULL, "worst of all impacts");
}

static void add_legend(const struct drawing *drawing)
{
    for (size_t k = 0; k < drawing->shown; k++) {
        char name[LAYOUT_TEXT], mark[64];
        layouts_short(&drawing->sweep->hits[drawing->rank[k]], name);
        snprintf(mark, sizeof mark, "pt %d ps 1 lc rgb '%s'", point_types[k], style_color(k));
        legend_row(drawing, k, any_line(drawing) ? style_line(k) : NULL, mark, name);
    }
    add_rest(drawing, drawing->shown);
}

/* --- the picture --- */

/* What the other factors are. */
static void second_line(const struct drawing *drawing, char *text, size_t size)
{
    const struct sweep *sweep = drawing->sweep;
    char layout[960];
    slice_layout(sweep, drawing->best, -1, -1, layout, sizeof layout);
    if (sweep->factor_count == 1)
        snprintf(text, size, "%zu layouts, model %s. Best is %s", sweep->point_count, sweep->model, layout);
    else
        snprintf(text, size, "%s %s",
                 any_line(drawing) ? "The other factors as in the best layout,"
                                   : "Each dot a layout, by its worst impact. Best is",
                 layout);
}

static void begin(struct drawing *drawing)
{
    char title[LAYOUT_TEXT], below[1024];
    size_t count = drawing->panel_count > 0 ? drawing->panel_count : 1;
    drawing->columns = count == 4 ? 2 : count < COLUMNS ? count : COLUMNS;
    size_t lines = (count + drawing->columns - 1) / drawing->columns;
    size_t entries = drawing->shown + (drawing->faint > 0) + (drawing->sweep->hit_count > 1);
    drawing->legend_rows = (entries + COLUMNS - 1) / COLUMNS;
    drawing->board.height =
        (double)(BOARD_HEAD + (PLOT + BELOW + ABOVE) * lines + LEGEND * drawing->legend_rows + BOARD_FOOT);
    snprintf(title, sizeof title, "%s. %.90s",
             drawing->quantity == SLICE_MARGIN ? "Margin to the limits, by impact"
                                               : "Peak acceleration, by impact",
             drawing->sweep->title);
    second_line(drawing, below, sizeof below);
    board_begin(&drawing->board, title, below, drawing->is_cut ? CUT_REMARK LAYOUTS_REMARK : LAYOUTS_REMARK);
}

static void compose(struct drawing *drawing, double *x, double *y)
{
    struct script *script = drawing->script;
    begin(drawing);
    if (drawing->format == PICTURE_TEXT) {
        drawing->faint = 0;
        script_add(script, "set key outside bottom center\nset xzeroaxis\n");
        compose_panel(drawing, &drawing->panels[0], 1, x, y);
        return;
    }
    add_legend(drawing);
    script_add(script, "set multiplot\n");
    for (size_t i = 0; i < drawing->panel_count; i++) {
        int first = place_panel(drawing, i);
        compose_panel(drawing, &drawing->panels[i], first, x, y);
        script_add(script, "unset label\nunset arrow\n");
    }
    script_add(script, "unset multiplot\n");
}

enum status curves_compose(struct script *script, const struct sweep *sweep,
                           const struct slice_choice *choice, enum picture_format format,
                           struct errors *errors)
{
    struct drawing drawing = {.board = {script, format, WIDTH, 0},
                              .script = script,
                              .format = format,
                              .sweep = sweep,
                              .quantity = slice_quantity(sweep)};
    double *x = memory_doubles(sweep->point_count + 1), *y = memory_doubles(sweep->point_count + 1);
    enum status status = slice_best(sweep, &drawing.best, errors);
    if (status == STATUS_OK)
        status = choose_panels(&drawing, choice);
    if (status == STATUS_OK)
        status = rank_hits(&drawing);
    if (status == STATUS_OK && x && y) {
        drawing.floor = fmin(FLOOR, slice_worst_value(sweep, drawing.best, SLICE_MARGIN) - BELOW_BEST);
        share_scale(&drawing);
        compose(&drawing, x, y);
    }
    if (status == STATUS_MEMORY || !x || !y)
        status = errors->count ? errors_status(errors)
                               : errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    for (size_t i = 0; i < drawing.panel_count; i++)
        memory_free(drawing.panels[i].rows);
    memory_free(drawing.rank);
    memory_free(x);
    memory_free(y);
    return status;
}
