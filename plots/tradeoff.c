#include "plots/tradeoff.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "plots/board.h"
#include "plots/layouts.h"
#include "plots/style.h"
#include "solver/base/front.h"
#include "solver/base/memory.h"

/* Sizes of the picture in its own units (plots/board). */
enum {
    WIDTH = 900,
    LEFT = 78,
    RIGHT = 18,
    TOP = BOARD_HEAD + 14,
    PLOT = 270,
    BELOW = 66, /* tics and label */
    ROW = 19    /* of the legend */
};

#define FLOOR  (-100.0) /* [%] margins below, or so far below the best, are cut off */
#define WITHIN "pt 7 ps 1.3 lc rgb '#56B4E9'"
#define BEYOND "pt 4 ps 1.1 lw 1 lc rgb '#999999'"
#define FRONT  "lc rgb '#000000' lw 1.8"

/* One plot: a cost or merit against mass. */
struct panel {
    const char *scale; /* of its axis */
    double *values;    /* (point_count) NaN where the layout takes no part */
    double sign;       /* 1: small is good, -1: large is good */
    double limit;      /* NaN for none */
    double low, high;
    size_t *front, front_count; /* (point_count, and as much for the search) */
};

struct drawing {
    struct board board;
    const struct sweep *sweep;
    double *mass; /* (point_count) [kg] */
    double low, high;
    size_t panel_count;
    struct panel panels[2];
    size_t named[TRADEOFF_NAMED], named_count;
};

/* --- values --- */

/* The limit of peak g of all hits; NaN where there is none or they differ, and `differ` says which. */
static double common_limit(const struct sweep *sweep, int *differ)
{
    double limit = NAN;
    *differ = 0;
    for (size_t k = 0; k < sweep->hit_count; k++) {
        double own = sweep->limits[k * METRIC_COUNT + METRIC_peak];
        *differ |= !isnan(own) && !isnan(limit) && own != limit;
        limit = isnan(limit) ? own : limit;
    }
    return *differ ? (double)NAN : limit;
}

/* Largest peak of a layout [g], or as share of the limit of its hit [%]. */
static double largest_peak(const struct sweep *sweep, size_t point, int of_limit)
{
    double largest = NAN;
    for (size_t k = 0; k < sweep->hit_count; k++) {
        double limit = sweep->limits[k * METRIC_COUNT + METRIC_peak];
        double peak = sweep_metrics(sweep, point, k)[METRIC_peak];
        largest = fmax(largest, of_limit ? 100 * peak / limit : peak);
    }
    return largest;
}

static size_t computed_hits(const struct sweep *sweep, size_t point)
{
    size_t count = 0;
    for (size_t k = 0; k < sweep->hit_count; k++)
        count += sweep->states[point * sweep->hit_count + k] == HIT_COMPUTED;
    return count;
}

/* Fills the panels and the masses; what lacks an impact or a mass is NaN. */
static void fill_values(struct drawing *drawing, int of_limit)
{
    const struct sweep *sweep = drawing->sweep;
    size_t most = 0;
    for (size_t i = 0; i < sweep->point_count; i++) {
        size_t count = computed_hits(sweep, i);
        most = count > most ? count : most;
    }
    for (size_t i = 0; i < sweep->point_count; i++) {
        int whole = sweep->points[i].status == SWEEP_COMPUTED && computed_hits(sweep, i) == most;
        drawing->mass[i] = sweep->points[i].mass.helmet;
        drawing->panels[0].values[i] = whole ? largest_peak(sweep, i, of_limit) : (double)NAN;
        if (drawing->panel_count > 1)
            drawing->panels[1].values[i] = whole ? 100 * sweep->points[i].worst_margin : (double)NAN;
    }
}

static enum status find_front(const struct drawing *drawing, struct panel *panel)
{
    size_t count = drawing->sweep->point_count;
    double *cost = memory_doubles(count + 1);
    panel->front = memory_zeroed(2 * count + 1, sizeof *panel->front);
    for (size_t i = 0; cost && i < count; i++)
        cost[i] = panel->sign * panel->values[i];
    if (cost && panel->front)
        panel->front_count = front_find(drawing->mass, cost, count, panel->front);
    memory_free(cost);
    return cost && panel->front ? STATUS_OK : STATUS_MEMORY;
}

/* Some of the front of the last panel, its ends included. */
static void choose_named(struct drawing *drawing)
{
    const struct panel *panel = &drawing->panels[drawing->panel_count - 1];
    size_t count = panel->front_count;
    drawing->named_count = count < TRADEOFF_NAMED ? count : TRADEOFF_NAMED;
    for (size_t i = 0; i < drawing->named_count; i++)
        drawing->named[i] =
            panel->front[drawing->named_count > 1 ? i * (count - 1) / (drawing->named_count - 1) : 0];
}

static enum status prepare(struct drawing *drawing)
{
    size_t count = drawing->sweep->point_count;
    int of_limit;
    enum status status = STATUS_OK;
    double limit = common_limit(drawing->sweep, &of_limit);
    drawing->panels[0] =
        (struct panel){.scale = of_limit ? "largest peak (% of its limit)" : "largest peak (g)",
                       .sign = 1,
                       .limit = of_limit ? 100 : limit};
    drawing->panels[1] = (struct panel){.scale = "least margin (% of the limit)", .sign = -1, .limit = 0};
    drawing->panel_count = slice_quantity(drawing->sweep) == SLICE_MARGIN ? 2 : 1;
    drawing->mass = memory_doubles(count + 1);
    for (size_t i = 0; i < drawing->panel_count; i++) {
        drawing->panels[i].values = memory_doubles(count + 1);
        status = drawing->panels[i].values ? status : STATUS_MEMORY;
    }
    if (status != STATUS_OK || !drawing->mass)
        return STATUS_MEMORY;
    fill_values(drawing, of_limit);
    for (size_t i = 0; status == STATUS_OK && i < drawing->panel_count; i++)
        status = find_front(drawing, &drawing->panels[i]);
    choose_named(drawing);
    return status;
}

/* --- scales --- */

static void extend(const struct drawing *drawing, struct panel *panel)
{
    double low = panel->sign < 0 ? 0 : INFINITY, high = panel->sign < 0 ? 0 : -INFINITY, best = -INFINITY;
    for (size_t i = 0; i < drawing->sweep->point_count; i++) {
        low = fmin(low, panel->values[i]);
        high = fmax(high, panel->values[i]);
        best = fmax(best, panel->values[i]);
    }
    if (panel->sign < 0) {
        low = fmax(low, fmin(FLOOR, best + FLOOR));
    } else if (!isnan(panel->limit)) { /* far over the limit nothing has to be told apart */
        high = fmax(1.05 * panel->limit, fmin(high, 2.5 * panel->limit));
        low = fmin(low, panel->limit);
    }
    double room = 0.07 * fmax(high - low, 1);
    panel->low = low - room;
    panel->high = high + room;
}

static void extend_mass(struct drawing *drawing)
{
    double low = INFINITY, high = -INFINITY, limit = drawing->sweep->helmet_mass_limit;
    for (size_t i = 0; i < drawing->sweep->point_count; i++) {
        low = fmin(low, drawing->mass[i]);
        high = fmax(high, drawing->mass[i]);
    }
    double span = fmax(high - low, 0.002);
    if (limit > low - 0.5 * span && limit < high + 0.5 * span) {
        low = fmin(low, limit);
        high = fmax(high, limit);
    }
    drawing->low = low - 0.08 * span;
    drawing->high = high + 0.08 * span;
}

/* --- a panel --- */

/* Layouts on one side of all limits, thinned to what can be told apart. */
static void add_dots(const struct drawing *drawing, const struct panel *panel, const char *name, int within)
{
    struct script *script = drawing->board.script;
    const struct sweep *sweep = drawing->sweep;
    size_t step = 1 + sweep->point_count / (2 * SCRIPT_PAIRS);
    script_add(script, "$%s << END_OF_BLOCK\nNaN NaN\n", name);
    for (size_t i = 0; i < sweep->point_count; i += step) {
        int here = !(sweep->points[i].worst_margin < 0); /* or without a limit */
        if (here == within && isfinite(drawing->mass[i]) && isfinite(panel->values[i]))
            script_add(script, "%.7g %.7g\n", drawing->mass[i], panel->values[i]);
    }
    script_add(script, "END_OF_BLOCK\n");
}

static void add_front(const struct drawing *drawing, const struct panel *panel)
{
    struct script *script = drawing->board.script;
    size_t step = 1 + panel->front_count / SCRIPT_PAIRS;
    script_add(script, "$front << END_OF_BLOCK\nNaN NaN\n");
    for (size_t i = 0; i < panel->front_count; i += step)
        script_add(script, "%.7g %.7g\n", drawing->mass[panel->front[i]], panel->values[panel->front[i]]);
    script_add(script, "END_OF_BLOCK\n");
}

static void add_names(const struct drawing *drawing, const struct panel *panel)
{
    for (size_t i = 0; i < drawing->named_count; i++) {
        size_t point = drawing->named[i];
        double value = panel->values[point];
        if (isfinite(value) && value >= panel->low && value <= panel->high)
            script_add(drawing->board.script,
                       "set label '%c' at first %.7g,first %.7g left offset 0.5,%g tc rgb '" STYLE_INK
                       "' font ',%d' front\n",
                       (int)('A' + (int)i), drawing->mass[point], value,
                       panel->sign > 0 || value < panel->low + 0.1 * (panel->high - panel->low) ? 0.7 : -0.7,
                       gnuplot_font(drawing->board.format, 17));
    }
}

static void add_limits(const struct drawing *drawing, const struct panel *panel)
{
    struct script *script = drawing->board.script;
    double mass = drawing->sweep->helmet_mass_limit;
    int font = gnuplot_font(drawing->board.format, BOARD_SMALL);
    if (!isnan(panel->limit))
        script_add(
            script,
            "set arrow from graph 0,first %g to graph 1,first %g nohead lc rgb '" STYLE_INK
            "' lw 1.4 dt (10,6) back\nset label 'limit' at graph 0.01,first %g left offset 0,0.6 tc rgb "
            "'" STYLE_INK "' font ',%d' front boxed\n",
            panel->limit, panel->limit, panel->limit, font);
    if (mass > drawing->low && mass < drawing->high)
        script_add(script,
                   "set arrow from first %g,graph 0 to first %g,graph 1 nohead lc rgb '" STYLE_INK
                   "' lw 1.4 dt (10,6) back\nset label 'limit %g kg' at first %g,graph 1.03 center tc rgb "
                   "'" STYLE_INK "' font ',%d' front\n",
                   mass, mass, mass, mass, font);
}

static void compose_panel(const struct drawing *drawing, size_t index)
{
    const struct panel *panel = &drawing->panels[index];
    struct script *script = drawing->board.script;
    int text = drawing->board.format == PICTURE_TEXT;
    add_dots(drawing, panel, "beyond", 0);
    add_dots(drawing, panel, "within", 1);
    add_front(drawing, panel);
    style_axes(script, "helmet mass (kg)", panel->scale);
    script_add(script, "set xrange [%.7g:%.7g]\nset yrange [%.7g:%.7g]\nset xtics %g\nset ytics %g\n",
               drawing->low, drawing->high, panel->low, panel->high,
               style_step(drawing->high - drawing->low, 5), style_step(panel->high - panel->low, 6));
    if (text) {
        script_add(
            script,
            "set key outside bottom center\nplot $beyond using 1:2 with points title 'beyond a limit', "
            "$within using 1:2 with points title 'within', $front using 1:2 with points title 'front'\n");
        return;
    }
    add_limits(drawing, panel);
    add_names(drawing, panel);
    script_add(script, "plot $beyond using 1:2 with points " BEYOND " notitle, \\\n"
                       "$within using 1:2 with points " WITHIN " notitle, \\\n"
                       "$front using 1:2 with steps " FRONT " notitle, \\\n"
                       "$front using 1:2 with points pt 6 ps 1.5 lw 1.6 lc rgb '#000000' notitle\n");
}

/* --- words --- */

/* "A  1.042 kg, 350 g, margin -27.1 %; no. 21: crown 1 density 65 g/l" */
static void name_layout(const struct drawing *drawing, size_t i, char *text, size_t size)
{
    const struct sweep *sweep = drawing->sweep;
    size_t point = drawing->named[i];
    char layout[900], margin[32] = "";
    slice_layout(sweep, point, -1, -1, layout, sizeof layout);
    if (drawing->panel_count > 1)
        snprintf(margin, sizeof margin, ", margin %.1f %%", drawing->panels[1].values[point]);
    snprintf(text, size, "%c  %.3f kg, %.0f g%s; %s", (int)('A' + (int)i), drawing->mass[point],
             largest_peak(sweep, point, 0), margin, layout);
}

static void add_legend(const struct drawing *drawing)
{
    const struct board *board = &drawing->board;
    double y = TOP + PLOT + BELOW + 8;
    int limits = drawing->panel_count > 1;
    board_line(board, 18, y, 30, FRONT);
    board_mark(board, 33, y, "pt 6 ps 1.5 lw 1.6 lc rgb '#000000'");
    board_text(board, 58, y, "front: no other is lighter and better", 40);
    board_mark(board, 300, y, WITHIN);
    board_text(board, 314, y, limits ? "layout within all limits" : "layout", 40);
    if (limits) {
        board_mark(board, 480, y, BEYOND);
        board_text(board, 494, y, "layout beyond a limit", 40);
    }
    for (size_t i = 0; i < drawing->named_count; i++) {
        char text[1024];
        name_layout(drawing, i, text, sizeof text);
        board_text(board, 18, y + ROW * (double)(i + 1), text, 150);
    }
}

static void begin(const struct drawing *drawing)
{
    char title[LAYOUT_TEXT], below[LAYOUT_TEXT];
    const struct sweep *sweep = drawing->sweep;
    const struct panel *last = &drawing->panels[drawing->panel_count - 1];
    snprintf(title, sizeof title, "%s against helmet mass. %.80s",
             drawing->panel_count > 1 ? "Peak acceleration and margin" : "Peak acceleration", sweep->title);
    snprintf(below, sizeof below, "%zu layouts, model %s; %zu on the front of %s against mass%s",
             sweep->point_count, sweep->model, last->front_count,
             drawing->panel_count > 1 ? "margin" : "peak g",
             last->front_count > TRADEOFF_NAMED ? ", some of them named" : "");
    board_begin(&drawing->board, title, below, LAYOUTS_REMARK);
}

/* --- the picture --- */

static void compose(struct drawing *drawing)
{
    struct board *board = &drawing->board;
    double gap = LEFT, count = (double)drawing->panel_count;
    double width = (WIDTH - LEFT - RIGHT - gap * (count - 1)) / count;
    board->height = TOP + PLOT + BELOW + ROW * (double)(drawing->named_count + 1) + BOARD_FOOT;
    for (size_t i = 0; i < drawing->panel_count; i++)
        extend(drawing, &drawing->panels[i]);
    extend_mass(drawing);
    begin(drawing);
    if (board->format == PICTURE_TEXT) {
        compose_panel(drawing, 0);
        return;
    }
    add_legend(drawing);
    script_add(board->script, "set multiplot\n");
    for (size_t i = 0; i < drawing->panel_count; i++) {
        double left = LEFT + (width + gap) * (double)i;
        board_plot(board, left, left + width, TOP, TOP + PLOT);
        compose_panel(drawing, i);
        script_add(board->script, "unset label\nunset arrow\n");
    }
    script_add(board->script, "unset multiplot\n");
}

int tradeoff_shows(const struct sweep *sweep)
{
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < sweep->point_count; i++) {
        low = fmin(low, sweep->points[i].mass.helmet);
        high = fmax(high, sweep->points[i].mass.helmet);
    }
    return high > low;
}

static void drawing_free(struct drawing *drawing)
{
    memory_free(drawing->mass);
    for (size_t i = 0; i < 2; i++) {
        memory_free(drawing->panels[i].values);
        memory_free(drawing->panels[i].front);
    }
}

enum status tradeoff_compose(struct script *script, const struct sweep *sweep,
                             const struct slice_choice *choice, enum picture_format format,
                             struct errors *errors)
{
    struct drawing drawing = {.board = {script, format, WIDTH, 0}, .sweep = sweep};
    (void)choice; /* of factors, which are not its axes */
    enum status status = prepare(&drawing);
    if (status != STATUS_OK)
        status = errors_add(errors, status, NULL, 0, 0, "out of memory");
    else if (drawing.panels[0].front_count == 0)
        status = errors_add(errors, STATUS_INPUT, NULL, 0, 0, "no computed layout has a helmet mass");
    else
        compose(&drawing);
    drawing_free(&drawing);
    return status;
}
