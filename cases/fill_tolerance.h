#ifndef FOAMPULSE_CASES_FILL_TOLERANCE_H
#define FOAMPULSE_CASES_FILL_TOLERANCE_H

#include "cases/fill.h"

/* Reads `tolerance`, or sets its defaults. What the paths name, and whether the widths fit there, is seen
 * when a study is opened (solver/study/scatter). Programmes are filled before. */
void fill_tolerance(struct fill *fill);

#endif
