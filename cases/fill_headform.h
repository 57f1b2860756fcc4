#ifndef FOAMPULSE_CASES_FILL_HEADFORM_H
#define FOAMPULSE_CASES_FILL_HEADFORM_H

#include "cases/fill.h"

/* Fills the headform from `headform`: the values of its size, replaced by those given. */
void fill_headform(struct fill *fill);

#endif
