#ifndef FOAMPULSE_STUDY_SCATTER_H
#define FOAMPULSE_STUDY_SCATTER_H

#include <stddef.h>
#include <stdint.h>

#include "cases/case.h"

/*
 * What scatters in production, resolved on a case: which values of it, about what, and by which causes.
 *
 * A path with `*` or `+` names several places. Each place has a local part of its own; the lot part is common
 * to all places of the path. Both are drawn independently, x even with variance 1 for a half range h, z
 * standard normal for a standard deviation s, and f is what is shared:
 *
 *   value = nominal + f h/sqrt 3 x(lot) + (1 - f) h/sqrt 3 x(place)       within nominal +- h
 *   value = nominal + sqrt(f) s z(lot) + sqrt(1 - f) s z(place)           of standard deviation s
 *
 * Where the half range is parted, the sum crowds about its middle: its standard deviation is
 * h sqrt((f^2 + (1 - f)^2)/3), h/sqrt 3 with nothing or all shared.
 *
 * The speed of the tests of programmes is one place, `programme_speed`, even over the whole tolerance: all
 * impacts of one layout are struck with the same share of it. One rig is set once for a series; a draw for
 * each impact would add as many causes as impacts, and change neither mean nor scatter of any one of them.
 */

#define SCATTER_HALF_RANGE 9.0 /* of densities that the case says nothing of [kg/m3] */
#define SCATTER_SHARED     0.5
#define SCATTER_PROVENANCE                                                                                   \
    "half of up to 18 kg/m3 within one moulded liner (abstract of a study of the density of EPS in bicycle " \
    "helmets); what of it is shared: from memory"

enum { SCATTER_NONE = -1 };

/* One independent cause, a variable of mean 0 and variance 1. */
struct scatter_source {
    char path[FACTOR_PATH]; /* lot: as the case has it; local: of the place */
    int lot;                /* common to all places of the path */
    int normal;             /* else even */
    double deviation; /* what it gives a place, standard deviation in the unit of that place (the lot: of
                       * the first) */
    char unit[UNITS_NAME];
};

/* One value of the case that scatters: factor number `at` of the study. */
struct scatter_place {
    double nominal; /* in the unit of its factor; NaN for `programme_speed`, left as the case has it */
    double middle;  /* what the deviations count from; the nominal */
    int lot, local; /* sources; SCATTER_NONE */
    double by_lot, by_local; /* standard deviation that each gives, unit of the factor */
};

struct scatter {
    size_t factor_count;
    struct factor *factors; /* (factor_count) low and high: the nominal, of `programme_speed` its ends */
    struct scatter_place *places; /* (factor_count) */
    size_t source_count;
    struct scatter_source *sources; /* (source_count) */
    size_t line_count;
    struct case_scatter *lines; /* as the case has them, or the default */
    size_t *line_places;        /* (line_count) places of each */
    int assumed;                /* the default: the case says nothing of scatter */
};

/* Finds the places of `tolerance.scatter` of a case, or all densities of its foam. Faults are added at their
 * place: a path that names nothing or a value that is not written, one that is not a number, a unit that does
 * not fit, a place named twice. STATUS_INPUT, STATUS_USAGE, STATUS_MEMORY: zeroed. */
enum status scatter_resolve(const struct case_file *file, struct scatter *scatter, struct errors *errors);

/* Draws `runs` layouts by a Latin hypercube over the sources: their variables into `standard` (runs x
 * sources), the values into `values` (runs x factors), each in the unit of its factor. The same bits on every
 * machine. */
void scatter_draw(const struct scatter *scatter, size_t runs, uint64_t seed, double *standard,
                  double *values);

/* Releases everything and zeroes; {0} is allowed. */
void scatter_free(struct scatter *scatter);

#endif
