#ifndef FOAMPULSE_CASES_FILL_IMPACTS_H
#define FOAMPULSE_CASES_FILL_IMPACTS_H

#include "cases/fill.h"

/* Fills the impacts from `impacts`, which a case with a `programme` needs not have; sites, anvils and regions
 * are resolved. The map must be filled and sound
 * (or the case a pad). `mass` [kg] turns energies into speeds. */
void fill_impacts(struct fill *fill, double mass);

/* Speeds of the hits of an impact or a test, from exactly one of its speed, drop_height, energy, hits. */
void fill_severity(struct fill *fill, const struct node *mapping, double mass, struct case_impact *impact);

#endif
