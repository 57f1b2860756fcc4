#ifndef FOAMPULSE_PLOTS_PULSE_H
#define FOAMPULSE_PLOTS_PULSE_H

#include "plots/gnuplot.h"
#include "plots/layouts.h"

/* Acceleration of the headform against time for the governing impact, all layouts, with the limit of the peak
 * and the window of HIC. */
enum status pulse_compose(struct script *script, const struct layout *layouts, size_t count,
                          enum picture_format format, struct errors *errors);

#endif
