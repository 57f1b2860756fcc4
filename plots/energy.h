#ifndef FOAMPULSE_PLOTS_ENERGY_H
#define FOAMPULSE_PLOTS_ENERGY_H

#include "plots/gnuplot.h"
#include "plots/layouts.h"

/* Where the energy of the governing impact went, by part: against time for one layout, at the end as a bar
 * each for several. */
enum status energy_compose(struct script *script, const struct layout *layouts, size_t count,
                           enum picture_format format, struct errors *errors);

#endif
