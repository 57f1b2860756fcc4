#ifndef FOAMPULSE_CASES_FILL_IMPACTS_H
#define FOAMPULSE_CASES_FILL_IMPACTS_H

#include "cases/fill.h"

/* Fills the impacts from `impacts`; sites, anvils and regions are resolved. The map must be filled and sound
 * (or the case a pad). `mass` [kg] turns energies into speeds. */
void fill_impacts(struct fill *fill, double mass);

#endif
