#include "plots/map.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plots/board.h"
#include "plots/contour.h"
#include "plots/layouts.h"
#include "plots/style.h"
#include "solver/base/memory.h"

/* Sizes of the picture in its own units (plots/board). */
enum {
    WIDTH = 800,
    LEFT = 96,
    RIGHT = 640,
    TOP = BOARD_HEAD + 12,
    BOTTOM = TOP + 390,
    LEGEND = BOTTOM + 66,
    HEIGHT = LEGEND + 12 + BOARD_FOOT,
    BAR = 668, /* scale of colour */
    BAR_WIDTH = 16,
    COLORS = 32
};

enum {
    NUMBERS = 150,     /* so many cells are small enough in number to be written in */
    NUMBERS_WIDE = 14, /* and so many beside each other */
    TICS = 12,
    SEAMS = 24 /* up to so many cells along an axis have a white edge */
};

#define FLOOR  (-100.0) /* [%] the scale of colour ends there */
#define LINE   "lc rgb '#000000' lw 3"
#define CASING "lc rgb '#ffffff' lw 7"

/* What stands in a cell or is a dot. */
struct spot {
    size_t point;
    double x, y, value;
    int decided;
};

struct drawing {
    struct board board;
    const struct sweep *sweep;
    enum slice_quantity quantity;
    const struct factor *factors[2];
    size_t columns[2], best;
    struct slice_row *rows;
    size_t count;
    int is_grid;
    size_t size[2];               /* of the grid */
    double *levels[2], *edges[2]; /* (size), (size + 1) */
    double *values;               /* (size[1], size[0]) NaN for none */
    int is_cut;                   /* margins below the scale */
    double low, high, step;       /* scale of colour */
};

/* --- the grid --- */

static int compare_numbers(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return a < b ? -1 : a > b;
}

/* Values of a factor in the rows, each once, rising; fresh (count). NULL when memory is out. */
static double *distinct(const struct drawing *drawing, size_t axis, size_t *size)
{
    double *levels = memory_doubles(drawing->count + 1);
    size_t kept = 0;
    for (size_t i = 0; levels && i < drawing->count; i++)
        levels[i] = sweep_values(drawing->sweep, drawing->rows[i].point)[drawing->columns[axis]];
    if (levels)
        qsort(levels, drawing->count, sizeof *levels, compare_numbers);
    for (size_t i = 0; levels && i < drawing->count; i++) {
        if (i == 0 || levels[i] != levels[kept - 1])
            levels[kept++] = levels[i];
    }
    *size = kept;
    return levels;
}

/* Every so-manieth level, those that tell where the best is included. */
static void thin(double *levels, size_t *size, double best)
{
    size_t step = (*size + MAP_LEVELS - 1) / MAP_LEVELS, kept = 0, first = 0;
    for (size_t i = 0; i < *size; i++)
        first = levels[i] == best ? i % step : first;
    for (size_t i = first; i < *size; i += step)
        levels[kept++] = levels[i];
    *size = kept;
}

/* Half way between the levels. */
static double *edges_of(const double *levels, size_t size)
{
    double *edges = memory_doubles(size + 1);
    for (size_t i = 0; edges && i + 1 < size; i++)
        edges[i + 1] = 0.5 * (levels[i] + levels[i + 1]);
    if (edges) {
        double first = size > 1 ? edges[1] - levels[0] : 0.5;
        double last = size > 1 ? levels[size - 1] - edges[size - 1] : 0.5;
        edges[0] = levels[0] - first;
        edges[size] = levels[size - 1] + last;
    }
    return edges;
}

/* Place of a value among the levels; -1 for none. */
static long find(const double *levels, size_t size, double value)
{
    const double *found = bsearch(&value, levels, size, sizeof *levels, compare_numbers);
    return found ? (long)(found - levels) : -1;
}

static struct spot spot_of(const struct drawing *drawing, size_t row)
{
    size_t point = drawing->rows[row].point;
    const double *values = sweep_values(drawing->sweep, point);
    return (struct spot){point, values[drawing->columns[0]], values[drawing->columns[1]],
                         slice_worst_value(drawing->sweep, point, drawing->quantity),
                         slice_is_decided(drawing->sweep, point)};
}

/* Whether a spot is in the picture, and in which cell. */
static int cell_of(const struct drawing *drawing, const struct spot *spot, size_t *at)
{
    long i = find(drawing->levels[0], drawing->size[0], spot->x);
    long j = find(drawing->levels[1], drawing->size[1], spot->y);
    *at = i < 0 || j < 0 ? 0 : (size_t)j * drawing->size[0] + (size_t)i;
    return i >= 0 && j >= 0;
}

static enum status fill_values(struct drawing *drawing)
{
    size_t cells = drawing->size[0] * drawing->size[1];
    drawing->values = memory_doubles(cells + 1);
    for (size_t i = 0; i < 2; i++)
        drawing->edges[i] = edges_of(drawing->levels[i], drawing->size[i]);
    if (!drawing->values || !drawing->edges[0] || !drawing->edges[1])
        return STATUS_MEMORY;
    for (size_t i = 0; i < cells; i++)
        drawing->values[i] = NAN;
    for (size_t i = 0; i < drawing->count; i++) {
        size_t at;
        struct spot spot = spot_of(drawing, i);
        /* nothing says that an undecided layout is on this side of the limit */
        if (cell_of(drawing, &spot, &at) &&
            (spot.decided || spot.value < 0 || drawing->quantity != SLICE_MARGIN))
            drawing->values[at] = spot.value;
    }
    return STATUS_OK;
}

/* Takes the plane through the best layout if it is a grid, else all layouts. */
static enum status choose_rows(struct drawing *drawing)
{
    const struct sweep *sweep = drawing->sweep;
    drawing->rows =
        slice_through(sweep, drawing->best, drawing->columns[0], drawing->columns[1], &drawing->count);
    for (size_t i = 0; drawing->rows && i < 2; i++)
        drawing->levels[i] = distinct(drawing, i, &drawing->size[i]);
    if (!drawing->rows || !drawing->levels[0] || !drawing->levels[1])
        return STATUS_MEMORY;
    const double *best = sweep_values(sweep, drawing->best);
    drawing->is_grid = drawing->size[0] > 1 && drawing->size[1] > 1 &&
                       2 * drawing->count > drawing->size[0] * drawing->size[1];
    if (drawing->is_grid) {
        for (size_t i = 0; i < 2; i++)
            thin(drawing->levels[i], &drawing->size[i], best[drawing->columns[i]]);
        return fill_values(drawing);
    }
    memory_free(drawing->rows);
    drawing->rows = slice_all(sweep, drawing->columns[0], &drawing->count);
    return drawing->rows ? STATUS_OK : STATUS_MEMORY;
}

/* --- colours --- */

static void set_scale(struct drawing *drawing)
{
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < drawing->count; i++) {
        double value = spot_of(drawing, i).value;
        low = fmin(low, value);
        high = fmax(high, value);
    }
    double least = low;
    if (drawing->quantity == SLICE_MARGIN)
        low = fmax(low, fmin(FLOOR, high + FLOOR));
    double step = style_step(fmax(high - low, 1), 5);
    drawing->step = step;
    drawing->low = step * floor(low / step);
    drawing->is_cut = least < drawing->low;
    drawing->high = fmax(step * ceil(high / step), drawing->low + step);
}

/* 0 light to 1 dark, which is worse. */
static double shade(const struct drawing *drawing, double value)
{
    double share = (value - drawing->low) / (drawing->high - drawing->low);
    return drawing->quantity == SLICE_MARGIN ? 1 - share : share;
}

/* The colour as gnuplot reads it from a column. */
static long color_number(const char *color)
{
    return strtol(color + 1, NULL, 16);
}

static long color_of(const struct drawing *drawing, double value)
{
    char color[8];
    style_scale(shade(drawing, value), color);
    return color_number(color);
}

/* --- blocks --- */

static void add_cells(const struct drawing *drawing)
{
    struct script *script = drawing->board.script;
    script_add(script, "$cells << END_OF_BLOCK\n");
    for (size_t i = 0; i < drawing->count; i++) {
        struct spot spot = spot_of(drawing, i);
        size_t at;
        if (!cell_of(drawing, &spot, &at) || isnan(spot.value))
            continue;
        const double *x = drawing->edges[0] + at % drawing->size[0],
                     *y = drawing->edges[1] + at / drawing->size[0];
        script_add(script, "%.9g %.9g %.9g %.9g %.9g %.9g %ld\n", spot.x, spot.y, x[0], x[1], y[0], y[1],
                   color_of(drawing, spot.value));
    }
    script_add(script, "END_OF_BLOCK\n");
}

/* Numbers in the cells, near a limit with a decimal: in brackets where something is not computed or
 * undecided. */
static void add_numbers(const struct drawing *drawing)
{
    struct script *script = drawing->board.script;
    script_add(script, "$numbers << END_OF_BLOCK\nNaN NaN - 0\n");
    for (size_t i = 0; i < drawing->count; i++) {
        struct spot spot = spot_of(drawing, i);
        size_t at;
        if (cell_of(drawing, &spot, &at) && !isnan(spot.value))
            script_add(script, spot.decided ? "%.9g %.9g %.*f %ld\n" : "%.9g %.9g (%.*f) %ld\n", spot.x,
                       spot.y, fabs(spot.value) < 0.95, spot.value,
                       color_number(style_scale_ink(shade(drawing, spot.value))));
    }
    script_add(script, "END_OF_BLOCK\n");
}

/* Dots in the order of their rows, thinned to what can be told apart: `side` 0 within, 1 beyond a limit, 2
 * without a value. */
static void add_dots(const struct drawing *drawing, const char *name, int side)
{
    struct script *script = drawing->board.script;
    size_t step = 1 + drawing->count / (2 * SCRIPT_PAIRS), at;
    script_add(script, "$%s << END_OF_BLOCK\nNaN NaN 0\n", name);
    for (size_t i = 0; i < drawing->count; i += step) {
        struct spot spot = spot_of(drawing, i);
        int here = isnan(spot.value) ? 2 : drawing->quantity == SLICE_MARGIN && spot.value < 0;
        if (here == side && (!drawing->is_grid || cell_of(drawing, &spot, &at)))
            script_add(script, "%.9g %.9g %ld\n", spot.x, spot.y,
                       side == 2 ? color_number(STYLE_SOFT) : color_of(drawing, spot.value));
    }
    script_add(script, "END_OF_BLOCK\n");
}

/* The boundary, between levels of numbers and along cells of texts; 0 when there is none. */
static size_t add_boundary(const struct drawing *drawing)
{
    struct script *script = drawing->board.script;
    size_t count = 0, cells = drawing->size[0] * drawing->size[1];
    struct contour_segment *segments = memory_zeroed(2 * cells + 1, sizeof *segments);
    int texts = drawing->factors[0]->texts || drawing->factors[1]->texts;
    if (!segments) {
        script->failed = 1;
        return 0;
    }
    if (drawing->quantity == SLICE_MARGIN)
        count = (texts ? contour_edges : contour_zero)(
            texts ? drawing->edges[0] : drawing->levels[0], drawing->size[0],
            texts ? drawing->edges[1] : drawing->levels[1], drawing->size[1], drawing->values, segments);
    script_add(script, "$boundary << END_OF_BLOCK\nNaN NaN\n");
    for (size_t i = 0; i < count; i++)
        script_add(script, "%.9g %.9g\n%.9g %.9g\n\n", segments[i].x[0], segments[i].y[0], segments[i].x[1],
                   segments[i].y[1]);
    script_add(script, "END_OF_BLOCK\n");
    memory_free(segments);
    return count;
}

/* --- plots --- */

static int has_numbers(const struct drawing *drawing)
{
    return drawing->size[0] * drawing->size[1] <= NUMBERS && drawing->size[0] <= NUMBERS_WIDE;
}

static void plot_cells(const struct drawing *drawing, int boundary)
{
    struct script *script = drawing->board.script;
    int seams = drawing->size[0] <= SEAMS && drawing->size[1] <= SEAMS, numbers = has_numbers(drawing);
    script_add(script,
               "plot $cells using 1:2:3:4:5:6:7 with boxxyerror fs solid 1 %s lc rgb variable notitle",
               seams ? "border rgb '#ffffff'" : "noborder");
    script_add(script, ", \\\n$none using 1:2 with points pt 2 ps 1 lc rgb '" STYLE_SOFT "' notitle");
    if (boundary)
        script_add(script, ", \\\n$boundary using 1:2 with lines " CASING
                           " notitle, \\\n$boundary using 1:2 with lines " LINE " notitle");
    if (numbers)
        script_add(script, ", \\\n$numbers using 1:2:3:4 with labels tc rgb variable font ',%d' notitle",
                   gnuplot_font(drawing->board.format, 17));
    script_add(script, "\n");
}

static void plot_dots(const struct drawing *drawing)
{
    script_add(drawing->board.script,
               "plot $none using 1:2 with points pt 2 ps 1 lc rgb '" STYLE_SOFT "' notitle, \\\n"
               "$within using 1:2:3 with points pt 7 ps 2.8 lc rgb variable notitle, \\\n"
               "$within using 1:2 with points pt 6 ps 2.8 lw 1 lc rgb '" STYLE_INK "' notitle, \\\n"
               "$beyond using 1:2:3 with points pt 5 ps 2.4 lc rgb variable notitle, \\\n"
               "$beyond using 1:2 with points pt 4 ps 2.4 lw 1 lc rgb '" STYLE_INK "' notitle\n");
}

/* A ring of black and white, to be seen on any colour. */
static const char *const rings[] = {"pt 6 ps 4.2 lw 5 lc rgb '#000000'", "pt 6 ps 4.2 lw 2 lc rgb '#ffffff'"};

/* The cell of the best, framed in the same way within its edges. */
static void frame_best(const struct drawing *drawing, const double place[2])
{
    static const char *const looks[] = {"'#000000' lw 5", "'#ffffff' lw 1.6"};
    double low[2], high[2];
    for (size_t i = 0; i < 2; i++) {
        long at = find(drawing->levels[i], drawing->size[i], place[i]);
        const double *edge = drawing->edges[i] + at;
        double inset = 0.05 * (edge[1] - edge[0]);
        low[i] = edge[0] + inset;
        high[i] = edge[1] - inset;
    }
    for (size_t i = 0; i < 2; i++)
        script_add(
            drawing->board.script,
            "set object rectangle from first %.9g,first %.9g to first %.9g,first %.9g fs empty border rgb "
            "%s front\n",
            low[0], low[1], high[0], high[1], looks[i]);
}

static void add_best(const struct drawing *drawing)
{
    const double *values = sweep_values(drawing->sweep, drawing->best);
    double place[2] = {values[drawing->columns[0]], values[drawing->columns[1]]};
    if (drawing->is_grid && has_numbers(drawing)) {
        frame_best(drawing, place);
        return;
    }
    for (size_t i = 0; i < 2; i++)
        script_add(drawing->board.script, "set label '' at first %.9g,first %.9g point %s front\n", place[0],
                   place[1], rings[i]);
}

static void add_bar(const struct drawing *drawing)
{
    const struct board *board = &drawing->board;
    double height = BOTTOM - TOP - 60, top = TOP + 30;
    board_text(board, BAR - 6, TOP + 8, drawing->quantity == SLICE_MARGIN ? "least margin (%)" : "peak (g)",
               20);
    for (int i = 0; i < COLORS; i++) {
        char color[8];
        double share = (i + 0.5) / COLORS;
        style_scale(drawing->quantity == SLICE_MARGIN ? share : 1 - share, color);
        script_add(
            board->script,
            "set object rectangle from screen %g,%g to screen %g,%g fs solid noborder fc rgb '%s' front\n",
            BAR / board->width,
            1 - (top + height * (i + (i + 1 < COLORS ? 1.3 : 1)) / COLORS) / board->height,
            (BAR + BAR_WIDTH) / board->width, 1 - (top + height * i / COLORS) / board->height, color);
    }
    size_t steps = (size_t)((drawing->high - drawing->low) / drawing->step + 0.5);
    for (size_t k = 0; k <= steps; k++) {
        double value = drawing->low + (double)k * drawing->step;
        char text[32];
        double y = top + height * (drawing->high - value) / (drawing->high - drawing->low);
        snprintf(text, sizeof text, "%.4g%s", fabs(value) < 0.5 * drawing->step ? 0.0 : value,
                 drawing->is_cut && value < drawing->low + 0.5 * drawing->step ? " or less" : "");
        board_text(board, BAR + BAR_WIDTH + 8, y, text, 20);
        if (drawing->quantity == SLICE_MARGIN && fabs(value) < 0.5 * drawing->step)
            board_line(board, BAR - 4, y, BAR_WIDTH + 8, "lc rgb '#000000' lw 2");
    }
}

/* --- words --- */

static void add_legend(const struct drawing *drawing, int boundary, int none, int open)
{
    static const char *const frames[] = {"pt 4 ps 3 lw 5 lc rgb '#000000'",
                                         "pt 4 ps 3 lw 1.6 lc rgb '#ffffff'"};
    const struct board *board = &drawing->board;
    int framed = drawing->is_grid && has_numbers(drawing);
    double x = 24;
    for (size_t i = 0; i < 2; i++)
        board_mark(board, x, LEGEND, framed ? frames[i] : rings[i]);
    board_text(board, x + 16, LEGEND, "best", 10);
    x += 90;
    if (boundary) {
        board_line(board, x, LEGEND, 30, LINE);
        int straight = !drawing->factors[0]->texts && !drawing->factors[1]->texts;
        board_text(board, x + 38, LEGEND, straight ? "limit, straight between layouts" : "limit", 40);
        x += straight ? 260 : 120;
    }
    if (!drawing->is_grid && drawing->quantity == SLICE_MARGIN) {
        board_mark(board, x, LEGEND, "pt 6 ps 2.8 lw 1 lc rgb '" STYLE_INK "'");
        board_text(board, x + 16, LEGEND, "within all limits", 30);
        board_mark(board, x + 160, LEGEND, "pt 4 ps 2.4 lw 1 lc rgb '" STYLE_INK "'");
        board_text(board, x + 176, LEGEND, "beyond a limit", 30);
        x += 320;
    }
    if (none) {
        board_mark(board, x, LEGEND, "pt 2 ps 1 lc rgb '" STYLE_SOFT "'");
        board_text(board, x + 16, LEGEND, "failed or not computed", 30);
        x += 190;
    }
    if (open && framed)
        board_text(board, x, LEGEND, "(n) some impacts not computed or undecided", 60);
}

static void begin(const struct drawing *drawing)
{
    char title[LAYOUT_TEXT], below[1024], layout[900];
    const struct sweep *sweep = drawing->sweep;
    int others = sweep->factor_count > 2;
    snprintf(title, sizeof title, "%s. %.90s",
             drawing->quantity == SLICE_MARGIN ? "Least margin of all impacts" : "Largest peak acceleration",
             sweep->title);
    if (others && drawing->is_grid)
        slice_layout(sweep, drawing->best, (long)drawing->columns[0], (long)drawing->columns[1], layout,
                     sizeof layout);
    else
        slice_layout(sweep, drawing->best, -1, -1, layout, sizeof layout);
    snprintf(below, sizeof below, "%s %s",
             others && drawing->is_grid ? "The other factors as in the best layout,"
             : others                   ? "All layouts, whatever their other factors. Best is"
                                        : "Best is",
             layout);
    board_begin(&drawing->board, title, below, LAYOUTS_REMARK);
}

static void add_axes(const struct drawing *drawing)
{
    static const char *const names[] = {"x", "y"};
    struct script *script = drawing->board.script;
    for (size_t i = 0; i < 2; i++) {
        const struct factor *factor = drawing->factors[i];
        char axis[SLICE_AXIS], tics[8];
        double span = factor->high - factor->low, room = factor->texts ? 0.5 : span > 0 ? 0.05 * span : 1;
        double low = drawing->is_grid ? drawing->edges[i][0] : factor->low - room;
        double high = drawing->is_grid ? drawing->edges[i][drawing->size[i]] : factor->high + room;
        slice_axis(factor, axis);
        snprintf(tics, sizeof tics, "%stics", names[i]);
        script_add(script, "set %srange [%.9g:%.9g]\nset %slabel ", names[i], low, high, names[i]);
        script_text(script, axis, 50);
        script_add(script, " tc rgb '" STYLE_INK "'\n");
        slice_tics(script, tics, factor, TICS, 12);
    }
    script_add(script, "unset grid\n");
}

/* --- the picture --- */

/* Counts of shown layouts without a value, and of those that are not wholly decided. */
static void count_open(const struct drawing *drawing, int *none, int *open)
{
    *none = *open = 0;
    for (size_t i = 0; i < drawing->count; i++) {
        struct spot spot = spot_of(drawing, i);
        *none += isnan(spot.value);
        *open += !isnan(spot.value) && !spot.decided;
    }
}

/* In a terminal: the numbers, or marks. */
static void compose_text(const struct drawing *drawing)
{
    struct script *script = drawing->board.script;
    if (drawing->is_grid && has_numbers(drawing)) {
        add_numbers(drawing);
        script_add(script, "plot $numbers using 1:2:3 with labels notitle\n");
        return;
    }
    add_dots(drawing, "within", 0);
    add_dots(drawing, "beyond", 1);
    script_add(script,
               "set key outside bottom center\nplot $within using 1:2 with points pt 4 title 'within all "
               "limits', $beyond using 1:2 with points pt 2 title 'beyond a limit'\n");
}

static void compose(struct drawing *drawing)
{
    int boundary = 0, none, open;
    set_scale(drawing);
    begin(drawing);
    add_axes(drawing);
    if (drawing->board.format == PICTURE_TEXT) {
        compose_text(drawing);
        return;
    }
    board_plot(&drawing->board, LEFT, RIGHT, TOP, BOTTOM);
    add_dots(drawing, "none", 2);
    if (drawing->is_grid) {
        add_cells(drawing);
        add_numbers(drawing);
        boundary = add_boundary(drawing) > 0;
    } else {
        add_dots(drawing, "within", 0);
        add_dots(drawing, "beyond", 1);
    }
    count_open(drawing, &none, &open);
    add_best(drawing);
    add_bar(drawing);
    add_legend(drawing, boundary, none > 0, open > 0);
    if (drawing->is_grid)
        plot_cells(drawing, boundary);
    else
        plot_dots(drawing);
}

int map_shows(const struct sweep *sweep)
{
    return sweep->factor_count >= 2;
}

enum status map_compose(struct script *script, const struct sweep *sweep, const struct slice_choice *choice,
                        enum picture_format format, struct errors *errors)
{
    struct drawing drawing = {.board = {script, format, WIDTH, HEIGHT}, .sweep = sweep};
    if (slice_choose(sweep, choice, 2, drawing.columns) < 2)
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0, "a map has two factors, and here is one");
    drawing.quantity = slice_quantity(sweep);
    enum status status = slice_best(sweep, &drawing.best, errors);
    for (size_t i = 0; i < 2; i++)
        drawing.factors[i] = &sweep->factors[drawing.columns[i]];
    if (status == STATUS_OK && choose_rows(&drawing) != STATUS_OK)
        status = errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    if (status == STATUS_OK)
        compose(&drawing);
    memory_free(drawing.rows);
    memory_free(drawing.values);
    for (size_t i = 0; i < 2; i++) {
        memory_free(drawing.levels[i]);
        memory_free(drawing.edges[i]);
    }
    return status;
}
