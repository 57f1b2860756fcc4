#ifndef FOAMPULSE_PLOTS_CURVES_H
#define FOAMPULSE_PLOTS_CURVES_H

#include "plots/gnuplot.h"
#include "plots/slice.h"

/*
 * Margins of all impacts against each factor, one panel a factor, the others as in the best layout; of a
 * single factor peak g and HIC besides. Where the sample has no such line of layouts (Latin hypercube,
 * Sobol), all layouts as dots, each by the impact that is worst in it.
 */

enum {
    CURVES_PANELS = 6, /* factors */
    CURVES_HITS = 8,   /* told apart; the ones that govern */
    CURVES_FAINT = 24  /* drawn besides, in grey */
};

/* STATUS_INPUT when no layout was computed. */
enum status curves_compose(struct script *script, const struct sweep *sweep,
                           const struct slice_choice *choice, enum picture_format format,
                           struct errors *errors);

#endif
