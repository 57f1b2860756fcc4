#ifndef FOAMPULSE_PLOTS_TRADEOFF_H
#define FOAMPULSE_PLOTS_TRADEOFF_H

#include "plots/gnuplot.h"
#include "plots/slice.h"

/*
 * Peak g and least margin against helmet mass: all layouts as dots, and the front of those that no other
 * beats in both (solver/base/front), some of them named. A layout that lacks an impact which others have
 * takes no part in the front: it would look better than it is known to be.
 */

enum { TRADEOFF_NAMED = 8 };

/* STATUS_INPUT when no layout was computed or none has a helmet mass. */
enum status tradeoff_compose(struct script *script, const struct sweep *sweep,
                             const struct slice_choice *choice, enum picture_format format,
                             struct errors *errors);

/* Whether there are masses that differ. */
int tradeoff_shows(const struct sweep *sweep);

#endif
