#ifndef FOAMPULSE_IMPACT_LOOSE_H
#define FOAMPULSE_IMPACT_LOOSE_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * A shell that is not bonded to the foam inside it: two rows of nodes that may part and slide, as bodies of
 * revolution.
 *
 * Every node of the foam meets the shell at the nearest point of a smooth curve through its row of nodes, the
 * quadratic B-spline: piece i runs from the middle of one segment to that of the next,
 *
 *   (1 - t)^2/2 x_i-1 + (1/2 + t - t^2) x_i + t^2/2 x_i+1,  0 <= t <= 1,
 *
 * so that nothing snaps where a node slides past one of the shell. The first distance counts as touching.
 * Closer by a depth > 0 the two push apart with a penalty and its damping, along the line between them;
 * further apart nothing acts. The shell's end of the force goes to its three nodes by the weights above: that
 * keeps momentum, and as the point is the nearest the force is minus the gradient of k depth^2/2 although the
 * shell turns. Beyond the last node the curve goes straight on. Across the line Coulomb friction acts,
 * elastic until it slips.
 */

struct loose_model {
    size_t count;       /* rings: a node of the foam and one of the shell each */
    double *first;      /* (count) first distance, which counts as touching [m] */
    double *stiffness;  /* (count) of the penalty [N/m]; 0: no foam on this ring */
    double *damping;    /* (count) [N s/m] */
    double *grip;       /* (count) of friction that sticks [N/m] */
    double *shell_mass; /* (count) [kg] */
    double friction;    /* coefficient */
    int pole;           /* the row starts on the axis */
    double *memory;
};

struct loose_state {
    double *r, *z;                   /* (count) nodes of the shell [m] */
    double *velocity_r, *velocity_z; /* (count) of them [m/s], half a step behind */
    double *force_r, *force_z;       /* (count) on them [N]; the owner adds to it */
    double *depth;                   /* (count) of the foam in the shell [m]; negative: a gap */
    double *push;                    /* (count) [N], never negative */
    double *held;                    /* (count) friction on the foam along increasing phi [N] */
    double *place;                   /* (count) of the nearest point, in pieces of the curve */
    double loss, friction_loss;      /* [J] so far */
    double *memory;
};

/* A row of nodes: places and, where read, masses [kg] and velocities. */
struct loose_row {
    const double *r, *z, *mass, *velocity_r, *velocity_z;
};

/* Both rows (count >= 3) in the first shape, for steps of `step` [s]: penalties as penalty_set of the lighter
 * side, `damping` of critical. STATUS_MEMORY: zeroed. */
enum status loose_model_make(size_t count, struct loose_row foam, struct loose_row shell, double step,
                             double damping, double friction, struct loose_model *model);
void loose_model_free(struct loose_model *model);

/* The shell at the places of `shell`, all nodes at `velocity_z`. STATUS_MEMORY: zeroed. */
enum status loose_state_make(const struct loose_model *model, struct loose_row shell, double velocity_z,
                             struct loose_state *state);
void loose_state_free(struct loose_state *state);

/* Forces at the present places, `dt` after the last call (0 at the first): added to the foam's, set on the
 * shell. */
void loose_press(const struct loose_model *model, struct loose_state *state, struct loose_row foam, double dt,
                 double *foam_force_r, double *foam_force_z);

/* Moves the shell: velocity over `dt_velocity`, place over `dt`; its node 0 stays on the axis. */
void loose_move(const struct loose_model *model, struct loose_state *state, double gravity,
                double dt_velocity, double dt);

/* Of the shell: kinetic energy [J] as v(n - 1/2) v(n + 1/2), before loose_move; momentum along z [N s]; sum
 * of m z [kg m]; mass [kg]. */
double loose_kinetic(const struct loose_model *model, const struct loose_state *state, double gravity,
                     double dt_velocity);
double loose_momentum(const struct loose_model *model, const struct loose_state *state);
double loose_height(const struct loose_model *model, const struct loose_state *state);
double loose_mass(const struct loose_model *model);

/* Energy in penalties and friction that sticks [J]. */
double loose_stored(const struct loose_model *model, const struct loose_state *state);

#endif
