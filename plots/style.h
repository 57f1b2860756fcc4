#ifndef FOAMPULSE_PLOTS_STYLE_H
#define FOAMPULSE_PLOTS_STYLE_H

#include <stddef.h>

#include "plots/gnuplot.h"

/*
 * One look for all pictures: white ground, two axis lines, faint rules, text in dark grey, series told apart
 * by colour, line width and dash at once, so that they stay apart in grey and for colour-blind eyes.
 */

enum { STYLE_SERIES = 8 };

#define STYLE_INK  "#222222" /* text and axes */
#define STYLE_SOFT "#666666" /* remarks */
#define STYLE_RULE "#dddddd" /* grid */

/* Colour of a series ("#rrggbb"), its line width and its dash type; they repeat after STYLE_SERIES. */
const char *style_color(size_t series);
double style_width(size_t series);
const char *style_dash(size_t series);

/* "lc rgb '#...' lw W dt D" of a series; static per thread until the next call. */
const char *style_line(size_t series);

/* Colour of a share 0..1 on the sequential scale, light to dark with even steps in lightness; outside the
 * range its ends. */
void style_scale(double share, char color[8]);

/* Ink that can be read on that colour. */
const char *style_scale_ink(double share);

/* Terminal, ground, title line at the top left and remark at the foot. Both come from outside. */
void style_begin(struct script *script, enum picture_format format, int width, int height, const char *title,
                 const char *remark);

/* Labels of the axes, "quantity (unit)"; our own text. */
void style_axes(struct script *script, const char *x, const char *y);

/* Margins of a picture with a column of text at the right. */
#define STYLE_MARGINS "set rmargin at screen 0.735\nset lmargin at screen 0.095\nset bmargin at screen 0.15\n"

/* A row of that column: a sample of the line, the name, and below it values (our own text). `row` of `rows`.
 */
void style_row(struct script *script, size_t series, size_t row, size_t rows, const char *name,
               const char *values);

/* Several plots side by side: up to four in a row. */
struct style_panels {
    int rows, columns;
};
struct style_panels style_panels_of(size_t count);

/* Margins of a panel (from 0); `right` is the share of its width kept free for text. */
void style_panel(struct script *script, const struct style_panels *panels, size_t index, double right);

/* A round step for about `count` tics over a span. */
double style_step(double span, int count);

#endif
