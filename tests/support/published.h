#ifndef FOAMPULSE_TESTS_PUBLISHED_H
#define FOAMPULSE_TESTS_PUBLISHED_H

#include "tests/support/prediction.h"

/*
 * Predictions beside published results, on stdout. A study seldom names all inputs; what it does not name is
 * assumed, and each assumption is changed alone to see how far it moves the prediction. A missed range is
 * printed and is no failure.
 */

enum { VARIANT_SETS = 4 };

/* One assumption changed: `sets` as after --set, ends with NULL. */
struct variant {
    const char *label;
    const char *sets[VARIANT_SETS];
};

/* A published value with the band about it; the band is `low` to `high`, both inside. */
struct published {
    const char *what; /* of the prediction */
    double low, high;
    const char *unit;
    const char *value; /* what was published, in words */
    const char *source;
};

/* The case file as it stands, so that inputs and assumptions are read where they are set. 0: not readable. */
int published_inputs(const char *case_path);

/* One line an impact. */
void published_rows(const struct prediction *prediction);

/* Runs every variant (count) into `varied` and prints one line each: peak g of each impact, then means over
 * the impacts and the change of the mean peak. `common` is set first in all of them (NULL: nothing). A
 * variant that is not computed is said to be, and has no rows. Returns how many are computed. */
size_t published_vary(const char *heading, const char *case_path, const char *common,
                      const struct prediction *base, size_t count, const struct variant *variants,
                      struct prediction *varied);

/* A published value, the predicted one and the words inside or outside. Where some of the assumptions alone
 * (count) move it across an end of the band: "not decidable", and which. `quantity` takes the value out of a
 * prediction. */
void published_state(const struct published *published, double (*quantity)(const struct prediction *),
                     const struct prediction *base, size_t count, const struct variant *variants,
                     const struct prediction *varied);

/* The same for one value without variants. */
void published_value(const struct published *published, double value);

#endif
