#ifndef FOAMPULSE_IMPACT_CONTACT_H
#define FOAMPULSE_IMPACT_CONTACT_H

#include <stddef.h>

#include "solver/base/status.h"
#include "solver/impact/anvil.h"

/*
 * A row of nodes against a rigid anvil: penalty with damping at points that ride on the nodes or on the
 * segments between them. Points on the segments let the border of the contact move smoothly between rings.
 *
 * A point pushes with k depth + c rate, never pulls, along the anvil's normal, without friction. What it does
 * not give back is booked as contact loss.
 */

/* Penalties on the anvil under a shell, and of foam on anvil or head, as parts of m / dt^2; the most that a
 * node's damping may be, as a part of m / dt. */
#define PENALTY_ON_SHELL     0.25
#define PENALTY_ON_FOAM      1.5
#define PENALTY_MOST_DAMPING 0.6

struct contact_model {
    size_t count;
    int *node;         /* (count) the node before the point */
    double *share;     /* (count) share of the node after it in its place and force; 0 at a node */
    double *stiffness; /* (count) [N/m] */
    double *damping;   /* (count) [N s/m] */
    double offset;     /* [m] from the row of nodes to the surface that touches */
    double *memory;
};

struct contact_state {
    double *depth; /* (count) in the anvil [m]; negative outside */
    double *push;  /* (count) [N] */
    double force;  /* of all points along the axis, on the anvil [N] */
    double loss;   /* [J] so far */
    double *memory;
};

/* One point a node with the node's stiffness [N/m] and damping [N s/m], (nodes) each. */
enum status contact_at_nodes(size_t nodes, const double *stiffness, const double *damping, double offset,
                             struct contact_model *model);

/* `points` evenly spaced points a segment. `radius` (nodes) are the first radii; the nodes' stiffness and
 * damping are spread over the rings they stand for, by the area of the segment's parts. */
enum status contact_on_segments(size_t nodes, const double *radius, const double *length, size_t points,
                                const double *stiffness, const double *damping, double offset,
                                struct contact_model *model);

void contact_model_free(struct contact_model *model);

enum status contact_state_make(const struct contact_model *model, struct contact_state *state);
void contact_state_free(struct contact_state *state);

/* Forces at the nodes' places r, z, `dt` after the last call (0 at the first): added to force_r, force_z. */
void contact_press(const struct contact_model *model, struct contact_state *state, const struct anvil *anvil,
                   const double *r, const double *z, double dt, double *force_r, double *force_z);

/* Least distance [m] of the surface from the anvil with the nodes at r, z; negative inside. */
double contact_gap(const struct contact_model *model, const struct anvil *anvil, const double *r,
                   const double *z);

/* Energy in the penalties [J]. */
double contact_stored(const struct contact_model *model, const struct contact_state *state);

/* Penalty of a node of `mass` [kg] for a first step [s]: stiffness, unless it is given above 0, of `per_mass`
 * m/dt^2, damping as a share of critical. With velocities half a step behind, a node on springs k' with
 * damping c is stable while k' dt^2/m < 4 - 2 c dt/m. The cell or the shell at the node takes up to 1 or 2 of
 * that; c dt/m is held to 0.6. */
void penalty_set(double mass, double step, double per_mass, double share, double *stiffness, double *damping);

/* Force of a penalty with damping, never negative, and the energy it holds; `rate` is that of depth. */
double penalty_force(double stiffness, double damping, double depth, double rate);
double penalty_energy(double stiffness, double depth);

#endif
