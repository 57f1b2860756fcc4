#ifndef FOAMPULSE_PLOTS_PLOTS_H
#define FOAMPULSE_PLOTS_PLOTS_H

#include "cases/result.h"
#include "plots/gnuplot.h"
#include "plots/section.h"

/*
 * All pictures by name.
 */

struct plot_info {
    const char *name, *help;
    int by_default; /* drawn when no names are given */
    int of_one;     /* shows one impact of each result, the one that governs */
};

enum { PLOT_COUNT = 8, PLOT_RESULTS = 8 };
extern const struct plot_info plot_table[PLOT_COUNT];

/* Draws a picture of one or several results (at most PLOT_RESULTS, the first is the baseline) into the file
 * `path`, or with PICTURE_TEXT and no path into a fresh text. `view` is for the cross-section alone.
 * STATUS_USAGE for a name that is not in the table or too many results, STATUS_INPUT when the results hold
 * nothing to draw, and what gnuplot_draw returns. */
enum status plots_draw(const char *name, const struct case_result *results, size_t count,
                       const struct section_view *view, enum picture_format format, const char *path,
                       char **text, struct errors *errors);

#endif
