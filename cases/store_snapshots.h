#ifndef FOAMPULSE_CASES_STORE_SNAPSHOTS_H
#define FOAMPULSE_CASES_STORE_SNAPSHOTS_H

#include "cases/container.h"
#include "solver/impact/snapshots.h"

/*
 * The group `snapshots` of a hit in a result file: attributes rings, rows, shell_thickness_m; time (dimension
 * scale); r, z, strain, density, stress, shell_r, shell_z, head_r, head_z (times x values at one time);
 * anvil_r, anvil_z.
 */

/* Writes the group below `hit`, the path of a hit; nothing where there are no snapshots. */
void store_put_snapshots(struct container *container, const char *hit, const struct snapshots *snapshots);

/* Reads it back; `snapshots` stays zeroed where there is none. What does not fit, is not finite or lies
 * further than 10 m away is an error of the container. */
void store_get_snapshots(struct container *container, const char *hit, struct snapshots *snapshots);

#endif
