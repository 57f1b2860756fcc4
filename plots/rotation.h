#ifndef FOAMPULSE_PLOTS_ROTATION_H
#define FOAMPULSE_PLOTS_ROTATION_H

#include "plots/gnuplot.h"
#include "plots/layouts.h"

/* Rotational acceleration of the head, and below it the rates of head and shell, against time: of the
 * governing impact where it has rotation, else of the one with the largest BrIC, all layouts. */
enum status rotation_compose(struct script *script, const struct layout *layouts, size_t count,
                             enum picture_format format, struct errors *errors);

#endif
