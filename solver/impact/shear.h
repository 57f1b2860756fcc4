#ifndef FOAMPULSE_IMPACT_SHEAR_H
#define FOAMPULSE_IMPACT_SHEAR_H

#include <stddef.h>

#include "solver/base/status.h"
#include "solver/impact/liner.h"

/*
 * The liner in shear while shell and head turn about an axis across the site's: a wave through the thickness,
 * ring by ring.
 *
 * Row 0 of nodes turns with the shell, row `rows` bears on the head. On a ring at polar angle phi, a turn by
 * an angle a moves a point at radius R by R a (cos^2 psi + cos^2 phi sin^2 psi)^(1/2), psi the azimuth from
 * the plane of motion. What is elastic or has mass counts with the mean square of that, (1 + cos^2 phi)/2;
 * what slips with its mean, (2/pi) E(sin^2 phi), E the complete elliptic integral of the second kind. Unknown
 * is one angle a node; torques in place of forces keep the angular momentum whatever the radii.
 *
 * A cell's shear stress is G times its shear, on first lengths; it flows at min(shear strength, half the
 * plateau + pressure x tan of the foam's friction angle), the pressure that of the ring's head on the liner.
 * Regions that share a ring act side by side, cell by cell at equal shares of the thickness; layers that
 * share a cell in series. Between layers that slip, and under a loose shell, friction on the ring's pressure
 * is a further bound of the cell.
 *
 * Arrays over cells are (rows x rings), over nodes ((rows + 1) x rings), rings fastest.
 */

enum { SHEAR_REGIONS = 24, SHEAR_LEAST_ROWS = 6 };

struct shear_region {
    const double *share; /* (rings) of the ring's area */
    size_t layer_count;  /* from the shell to the head */
    const struct liner_layer *layers;
    double inner_mass; /* of padding on the inner face [kg/m2] */
    double room;       /* between foam and head: padding and gap [m] */
};

struct shear_setup {
    size_t rings;
    double phi_max;      /* [rad] of the last ring */
    double outer_radius; /* of the liner [m] */
    double cell;         /* [m] at most */
    double mismatch;     /* [m] by which the room grows with 1 - cos phi */
    size_t region_count;
    struct shear_region regions[SHEAR_REGIONS];
    double slip_friction; /* between layers; INFINITY: one piece */
    double bond_friction; /* of the shell on the liner; INFINITY: bonded */
};

struct shear_model {
    size_t rings, rows;
    double *slip_weight; /* (rings) (2/pi) E(sin^2 phi) */
    double *head_radius; /* (rings) of the head's surface [m] */
    double *stiffness;   /* cells [N m/rad] */
    double *strength;    /* cells: torque at the shear strength [N m] */
    double *base;        /* cells: torque at half the plateau [N m] */
    double *by_push;     /* cells: torque by push of the head [N m/N] */
    double *by_friction; /* cells: the same of a border that slips; INFINITY for none */
    double *compliance;  /* cells: 1/stiffness; 0 where there is no foam */
    double *inertia;     /* nodes [kg m2] */
    double *inverse;     /* nodes: 1/inertia; 0 where there is none */
    double *memory;
    double step; /* longest stable step [s]; INFINITY without foam */
    double mass; /* of foam and padding [kg] */
};

struct shear_state {
    double *angle;      /* nodes [rad] */
    double *rate;       /* nodes [rad/s], half a step behind */
    double *turned;     /* cells: angle across, at the last call [rad] */
    double *torque;     /* cells, on the node towards the shell in the sense of rising angles [N m] */
    double *dissipated; /* (rings) [J] so far */
    double *memory;
};

/* Mean speed over azimuths of a ring in units of that on its equator: (2/pi) E(sin^2 phi). */
double shear_slip_weight(double phi);

/* STATUS_OK, or STATUS_MEMORY, then zeroed. */
enum status shear_model_make(const struct shear_setup *setup, struct shear_model *model);
void shear_model_free(struct shear_model *model);

/* Everything at rest, angle 0. STATUS_MEMORY: zeroed. */
enum status shear_state_make(const struct shear_model *model, struct shear_state *state);
void shear_state_free(struct shear_state *state);

/* Torques of the cells at the present angles; `push` (rings) of the head on the liner [N]. Returns the torque
 * on the shell [N m]. */
double shear_act(const struct shear_model *model, struct shear_state *state, const double *push);

/* Moves the nodes between row 0, which is the owner's, and row `rows`: rates over `dt_velocity`, angles over
 * `dt` [s]. */
void shear_move(const struct shear_model *model, struct shear_state *state, double dt_velocity, double dt);

/* Lost in the cells so far [J]. */
double shear_dissipated(const struct shear_model *model, const struct shear_state *state);

/* Inertia of all nodes [kg m2]. */
double shear_inertia(const struct shear_model *model);

/* Inertia of row 0 [kg m2], which turns with the shell. */
double shear_outer_inertia(const struct shear_model *model);

/* Energy stored in the cells [J]; kinetic energy [J] of the nodes between the outer and the inner row, in the
 * middle of `dt_velocity`; their angular momentum [N m s] half a step behind. */
double shear_stored(const struct shear_model *model, const struct shear_state *state);
double shear_kinetic(const struct shear_model *model, const struct shear_state *state, double dt_velocity);
double shear_momentum(const struct shear_model *model, const struct shear_state *state);

#endif
