#ifndef FOAMPULSE_CASES_FILL_SWEEP_H
#define FOAMPULSE_CASES_FILL_SWEEP_H

#include "cases/fill.h"

/* Reads `sweep`: what varies, and how it is sampled. What the paths name and whether the values fit there is
 * seen when a sweep is opened (solver/study/explore). */
void fill_sweep(struct fill *fill);

#endif
