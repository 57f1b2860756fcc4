#ifndef FOAMPULSE_IMPACT_SECTION_H
#define FOAMPULSE_IMPACT_SECTION_H

#include "solver/impact/anvil.h"
#include "solver/impact/snapshots.h"
#include "solver/impact/zones.h"

/*
 * Takes the snapshots of a helmet by zones while it is solved: at even intervals from first touch on, and at
 * the largest crush on the axis. Reads the state, changes nothing.
 */

/* The state now. */
struct section {
    const struct zones_model *model;
    const struct zones_state *zones;
    const double *shell_r, *shell_z; /* (rings) [m] */
    const double *head_distance;     /* (rings) of the head's surface from its centre [m] */
    double phi_max;                  /* [rad] of the last ring */
    double head_z;                   /* height of the head's centre [m] */
};

struct section_recorder {
    struct snapshots snapshots; /* owned until somebody takes it */
    double interval;            /* [s] */
    double deepest;             /* largest crush so far [m] */
};

/* Room for a run of `duration`, and the outline of the anvil as far as `reach` [m] from the axis. An interval
 * of 0 records nothing. STATUS_MEMORY: zeroed. */
enum status section_recorder_make(struct section_recorder *recorder, double interval, double duration,
                                  const struct zones_model *model, const struct anvil *anvil, double reach);

/* Asked at every time at which the crush [m] on the axis is known (NaN: it is not). */
void section_record(struct section_recorder *recorder, double time, double crush,
                    const struct section *section);

/* Puts the snapshot of the largest crush among the others. */
void section_recorder_end(struct section_recorder *recorder);

/* Outline of the surface that the helmet can touch: SNAPSHOT_ANVIL points from (0, 0), outwards as far as
 * `reach` or down as far as `depth` [m], at even distances along it. */
void section_outline(const struct anvil *anvil, double reach, double depth, double *r, double *z);

#endif
