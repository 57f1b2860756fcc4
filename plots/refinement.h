#ifndef FOAMPULSE_PLOTS_REFINEMENT_H
#define FOAMPULSE_PLOTS_REFINEMENT_H

#include "plots/gnuplot.h"

enum { REFINEMENT_MESHES = 3, REFINEMENT_ROWS = 8 };

/* One impact on all meshes, the coarsest first. */
struct refinement_row {
    const char *name;               /* from outside */
    double peak[REFINEMENT_MESHES]; /* [g] */
    double hic[REFINEMENT_MESHES];
    double peak_uncertainty, hic_uncertainty; /* of the finest, in the same units; NaN */
};

/* Peak g and HIC against the size of the cells [m], as differences from the finest mesh in %; bars at the
 * finest are its numerical uncertainty. At most REFINEMENT_ROWS rows. */
void refinement_compose(struct script *script, const char *title, const double *cell,
                        const struct refinement_row *rows, size_t count, enum picture_format format);

#endif
