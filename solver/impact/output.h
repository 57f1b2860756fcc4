#ifndef FOAMPULSE_IMPACT_OUTPUT_H
#define FOAMPULSE_IMPACT_OUTPUT_H

#include <stddef.h>

#include "solver/impact/metrics.h"
#include "solver/impact/snapshots.h"

/*
 * What one solved hit gives: the pulse at even samples, metrics, the energy ledger by part, crush by layer,
 * and snapshots of the cross-section.
 * Filled by impact/run; written by cases/store, drawn by plots/, judged by study/. SI units, except that
 * metrics carry the unit of their table (solver/impact/metrics.h).
 */

/* Channels of the pulse: field, unit, description. Sample i is the mean over [i, i+1) x interval; travel,
 * crush and force on the anvil's clock alike. The acceleration of an oblique impact is the resultant of those
 * along and across the normal; from normal_acceleration on, channels are those of impacts with rotation. */
#define PULSE_LIST(X)                                                                                        \
    X(acceleration, "m s-2", "headform, contact force / mass, filtered CFC 1000, positive when slowed")      \
    X(acceleration_unfiltered, "m s-2", "headform, contact force / mass, interval mean")                     \
    X(anvil_force, "N", "force of the helmet on the anvil, filtered CFC 1000")                               \
    X(anvil_force_unfiltered, "N", "force of the helmet on the anvil, interval mean")                        \
    X(velocity, "m s-1", "headform, towards the anvil positive, at the end of the interval")                 \
    X(travel, "m", "headform, towards the anvil positive since first touch, at the end of the interval")     \
    X(crush, "m", "shortening of the liner on the site's axis, mean over r <= 15 mm, end of the interval")   \
    X(normal_acceleration, "m s-2", "headform, along the normal of the anvil's face, filtered CFC 1000")     \
    X(tangential_force, "N", "friction of the face on the shell, filtered CFC 1000")                         \
    X(rotational_acceleration, "rad s-2", "headform, torque / moment of inertia, filtered CFC 1000")         \
    X(rotational_velocity, "rad s-1", "headform, at the end of the interval")                                \
    X(shell_rotational_velocity, "rad s-1", "shell, at the end of the interval")                             \
    X(slip_velocity, "m s-1", "shell over the face of the anvil, at the end of the interval")

/* Ledger: initial + gravity = the sum of the rest. field, unit, description. */
#define ENERGY_LIST(X)                                                                                       \
    X(initial, "J", "kinetic energy at first touch")                                                         \
    X(gravity, "J", "work of gravity since first touch")                                                     \
    X(rebound, "J", "kinetic energy")                                                                        \
    X(foam, "J", "lost in crushing foam")                                                                    \
    X(shell, "J", "lost in yielding of the shell")                                                           \
    X(damage, "J", "lost in cracks of the shell")                                                            \
    X(comfort, "J", "lost in the comfort layer")                                                             \
    X(friction, "J", "lost in friction and in the liner's shear")                                            \
    X(friction_on_face, "J", "lost in sliding of the shell along the face of the anvil")                     \
    X(friction_on_head, "J", "lost in turning of the liner over the head")                                   \
    X(contact, "J", "lost in contacts (damping and joining masses)")                                         \
    X(stored, "J", "stored elastically, gas locked in included")                                             \
    X(artificial, "J", "lost in artificial viscosity and hourglass control")

enum energy_part {
#define ENERGY_ENUM(name, unit, text) ENERGY_##name,
    ENERGY_LIST(ENERGY_ENUM)
#undef ENERGY_ENUM
        ENERGY_COUNT
};

enum pulse_channel {
#define PULSE_ENUM(name, unit, text) PULSE_##name,
    PULSE_LIST(PULSE_ENUM)
#undef PULSE_ENUM
        PULSE_COUNT
};

struct channel_info {
    const char *name, *unit, *description;
};
extern const struct channel_info pulse_table[PULSE_COUNT];
extern const struct channel_info energy_table[ENERGY_COUNT];

/* One layer of one region that carried load, or of the pad. */
struct layer_output {
    char region[48];
    int layer;             /* from 1, from the shell (anvil) inwards */
    double absorbed;       /* [J] lost in crushing */
    double crush_fraction; /* largest nominal crush on the site's axis (mean over r <= 15 mm), compression
                            * alone; NaN off axis */
    double best_strain;    /* strain of best efficiency of its foam */
    double thickness;      /* [m] on the site's axis */
    char past_foam[48];    /* foam crushed past the end of its measured curve; "" for none */
    double past_end, past_strain; /* that end, and the strain it was crushed to; NaN for none */
    double *crush; /* (pulse.count) nominal crush on the axis, end of interval; NULL off axis */
};

struct impact_output {
    size_t count;                 /* samples; 0: not solved */
    double interval;              /* [s] */
    double *channel[PULSE_COUNT]; /* (count) each */
    size_t ledger_count;
    double ledger_interval;       /* [s] */
    double *ledger[ENERGY_COUNT]; /* (ledger_count) each, at the end of each ledger interval */
    double energy[ENERGY_COUNT];  /* at the end of the run [J] */
    double metrics[METRIC_COUNT]; /* NaN where a metric does not apply */
    size_t layer_count;
    struct layer_output *layers;
    struct snapshots snapshots; /* of the models that take them */

    long steps, cells;
    double balance_error; /* largest |ledger residual| / initial energy over the run */
    double impulse_error; /* |anvil impulse - change of all momentum| / first momentum */
    double anvil_impulse; /* [N s] */
    double layer_slide;   /* furthest that layers slid on each other while pressed [m] */
    int separated;        /* 1 when history_over ended the run, 0 when its duration did */
};

/* Whether a result may lack this part of the ledger, this channel of the pulse. */
int energy_optional(size_t part);
int pulse_optional(size_t channel);

/* Whether a result has this part of the ledger: one in which nothing cracked says nothing of `damage`, one
 * without rotation nothing of friction on the face and on the head. */
int output_tells(const struct impact_output *output, size_t part);

/* Releases the arrays and zeroes the struct; {0} is allowed. */
void impact_output_free(struct impact_output *output);

#endif
