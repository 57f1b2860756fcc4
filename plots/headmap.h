#ifndef FOAMPULSE_PLOTS_HEADMAP_H
#define FOAMPULSE_PLOTS_HEADMAP_H

#include "plots/gnuplot.h"
#include "plots/layouts.h"

/*
 * The head from above, front up, wearer's right at the right: an azimuthal equal-area projection about the
 * crown (distance from the middle 2 sin(z / 2), z the angle from the crown), so that a region's share of the
 * picture is its share of the head. Regions are outlined; each site shows its smallest margin as a number on
 * one sequential scale, in a bold ring where a limit is exceeded; without any limit, its largest peak.
 */
enum status headmap_compose(struct script *script, const struct layout *layouts, size_t count,
                            enum picture_format format, struct errors *errors);

#endif
