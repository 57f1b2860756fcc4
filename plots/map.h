#ifndef FOAMPULSE_PLOTS_MAP_H
#define FOAMPULSE_PLOTS_MAP_H

#include "plots/gnuplot.h"
#include "plots/slice.h"

/*
 * The least margin of all impacts over two factors, the first two or those chosen: as coloured cells with the
 * boundary of the limits where the layouts form a grid, the other factors as in the best layout; else as
 * coloured dots, whatever the other factors are. Where nothing has a limit the largest peak g.
 */

enum { MAP_LEVELS = 64 /* cells along an axis; of more levels every second, third ... is shown */ };

/* STATUS_INPUT when no layout was computed or fewer than two factors vary. */
enum status map_compose(struct script *script, const struct sweep *sweep, const struct slice_choice *choice,
                        enum picture_format format, struct errors *errors);

/* Whether there are two factors. */
int map_shows(const struct sweep *sweep);

#endif
