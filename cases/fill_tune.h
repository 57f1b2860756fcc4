#ifndef FOAMPULSE_CASES_FILL_TUNE_H
#define FOAMPULSE_CASES_FILL_TUNE_H

#include "cases/fill.h"

/* Reads `tune`, which needs the ranges of `sweep`; without `tune` a case with a `sweep` gets its defaults. */
void fill_tune(struct fill *fill);

#endif
