#ifndef FOAMPULSE_PLOTS_BOARD_H
#define FOAMPULSE_PLOTS_BOARD_H

#include "plots/gnuplot.h"

/*
 * A picture of plots, words and samples at places of its own, measured in the units of gnuplot_terminal: x
 * from the left, y from the top.
 */

struct board {
    struct script *script;
    enum picture_format format;
    double width, height;
};

enum { BOARD_HEAD = 64, BOARD_FOOT = 30, BOARD_SMALL = 15 };

/* Terminal, title, the line below it and remark (plots/style); BOARD_HEAD is left for the two lines at the
 * top, BOARD_FOOT at the foot. Texts from outside. Of a text picture the title alone. */
void board_begin(const struct board *board, const char *title, const char *below, const char *remark);

/* Edges of the next plot. */
void board_plot(const struct board *board, double left, double right, double top, double bottom);

/* A small text from outside, cut to `most` characters, its left end at a place. */
void board_text(const struct board *board, double x, double y, const char *text, size_t most);

/* A sample of a line and of a mark, given as gnuplot writes them: "lc rgb '#000000' lw 2", "pt 7 ps 1". */
void board_line(const struct board *board, double x, double y, double length, const char *look);
void board_mark(const struct board *board, double x, double y, const char *look);

/* A filled rectangle with a thin edge. */
void board_box(const struct board *board, double x, double y, double width, double height, const char *fill);

#endif
