#ifndef FOAMPULSE_CASES_STORE_RINGS_H
#define FOAMPULSE_CASES_STORE_RINGS_H

#include "cases/container.h"
#include "cases/result.h"

/*
 * The group `rings` of a hit in a result file: angle (dimension scale), edge, region, area_fraction
 * (regions x rings), bare. The fractions of a ring, bare included, add up to 1.
 */

/* Writes the group below `hit`, the path of a hit; nothing where there are no rings. */
void store_put_rings(struct container *container, const char *hit, const struct hit_rings *rings);

/* Reads it back; `rings` stays zeroed where there is none. */
void store_get_rings(struct container *container, const char *hit, struct hit_rings *rings);

#endif
