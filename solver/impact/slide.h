#ifndef FOAMPULSE_IMPACT_SLIDE_H
#define FOAMPULSE_IMPACT_SLIDE_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * Two rows of nodes that may part and slide, as bodies of revolution: the nodes of one meet a curve through
 * those of the other.
 *
 * The curve is the quadratic B-spline of its row: piece i runs from the middle of one segment to that of the
 * next,
 *
 *   (1 - t)^2/2 x_i-1 + (1/2 + t - t^2) x_i + t^2/2 x_i+1,  0 <= t <= 1,
 *
 * so that nothing snaps where a node slides past one of the curve's. The first distance counts as touching.
 * Closer by a depth > 0 the two push apart with a penalty and its damping, along the line between them;
 * further apart nothing acts. The curve's end of the force goes to its three nodes by the weights above: that
 * keeps momentum, and as the point is the nearest the force is minus the gradient of k depth^2/2 although the
 * curve turns. Across the line Coulomb friction acts, elastic until it slips.
 *
 * Penalties are made for the step and the masses that meet: m of the node and M, the least of the three nodes
 * of its piece, as m M/(m + M). A node that slides to lighter ones, near the axis, gets a penalty that is
 * eased for these, as the step would be too long for the first one; one that slides over the end of the
 * curve, which goes straight on there, loses it within a segment. Both stay so, and what was held is lost.
 */

/* A row of nodes: places [m], velocities [m/s] half a step behind, forces [N] to which those here add. */
struct slide_row {
    const double *r, *z, *velocity_r, *velocity_z;
    double *force_r, *force_z;
};

struct slide_setup {
    size_t count;           /* of either row, >= 3 */
    struct slide_row curve; /* places in the first shape */
    struct slide_row nodes; /* the same */
    int side;               /* of the curve on which the nodes lie: 1 to its left, -1 to its right */
    const double *node_mass, *curve_mass; /* (count) [kg]; where either is 0 there is no contact */
    double share;                         /* of m M/(m + M) */
    double step;                          /* [s] */
    double damping;                       /* share of critical */
    double friction;                      /* coefficient */
};

struct slide_model {
    size_t count;
    double *node_mass, *curve_mass, share;
    double *first;     /* (count) first distance [m] */
    double *mass;      /* (count) that meets in the first shape, share m M/(m + M) [kg] */
    double *stiffness; /* (count) of the penalty [N/m]; 0: no contact */
    double *damping;   /* (count) [N s/m] */
    double *grip;      /* (count) of friction that sticks [N/m] */
    double friction;
    int side, pole; /* pole: the curve starts on the axis */
    double *memory;
};

struct slide_state {
    double *depth;              /* (count) of the nodes in the curve [m]; negative: a gap */
    double *push;               /* (count) [N], never negative */
    double *held;               /* (count) friction on the node along the curve [N] */
    double *touching;           /* (count) distance that counts as touching [m] */
    double *place;              /* (count) of the nearest point, in pieces of the curve */
    double *ease;               /* (count) of stiffness, damping and grip, from 1 downwards */
    double loss, friction_loss; /* [J] so far */
    double furthest;            /* a node slid along the curve while pressed [m] */
    double *memory;
};

/* STATUS_MEMORY: zeroed. */
enum status slide_model_make(const struct slide_setup *setup, struct slide_model *model);
void slide_model_free(struct slide_model *model);

/* Touching, free of force. STATUS_MEMORY: zeroed. */
enum status slide_state_make(const struct slide_model *model, struct slide_state *state);
void slide_state_free(struct slide_state *state);

/* Lets the present places of both rows count as touching, free of force, in a fresh state. */
void slide_settle(const struct slide_model *model, struct slide_state *state, struct slide_row curve,
                  struct slide_row nodes);

/* Adds the forces at the present places to both rows, `dt` after the last call (0 at the first). */
void slide_press(const struct slide_model *model, struct slide_state *state, struct slide_row curve,
                 struct slide_row nodes, double dt);

/* Energy in penalties and friction that sticks [J]. */
double slide_stored(const struct slide_model *model, const struct slide_state *state);

#endif
