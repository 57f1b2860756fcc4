#ifndef FOAMPULSE_PLOTS_MARGINS_H
#define FOAMPULSE_PLOTS_MARGINS_H

#include "plots/gnuplot.h"
#include "plots/layouts.h"
#include "plots/script.h"

/* Margins of the hits to their nearest limits as bars, worst first, at most MARGINS_ROWS; of several layouts
 * side by side, in the order of the worst of them. STATUS_INPUT when no hit has a limit. */
enum { MARGINS_ROWS = 24 };
enum status margins_compose(struct script *script, const struct layout *layouts, size_t count,
                            enum picture_format format, struct errors *errors);

#endif
