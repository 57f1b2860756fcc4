#ifndef FOAMPULSE_PLOTS_CRUSH_H
#define FOAMPULSE_PLOTS_CRUSH_H

#include "plots/gnuplot.h"
#include "plots/layouts.h"

/* Force on the headform against the crush of the liner in % of its thickness, all layouts in one picture. */
enum status crush_compose(struct script *script, const struct layout *layouts, size_t count,
                          enum picture_format format, struct errors *errors);

/* Crush of each layer on the site's axis against time, a panel a layout. */
enum status layers_compose(struct script *script, const struct layout *layouts, size_t count,
                           enum picture_format format, struct errors *errors);

#endif
