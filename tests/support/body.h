#ifndef FOAMPULSE_SUPPORT_BODY_H
#define FOAMPULSE_SUPPORT_BODY_H

#include "solver/impact/zones.h"

/* One body of zones of one foam, for tests: mesh by a map, explicit steps with held nodes, and the static
 * answer of an elastic body to small loads. Out of memory ends the test. */

enum { BODY_FREE = 0, BODY_HOLD_R = 1, BODY_HOLD_Z = 2 };

struct body {
    struct zones_model model;
    struct zones_state state;
    struct zones_bounds bounds; /* of the last update */
    unsigned char *held;        /* (nodes) BODY_HOLD_*; ring 0 is held in r */
    double time;
};

/* Place of ring i, row j. */
typedef void body_map(void *context, size_t i, size_t j, double *r, double *z);

struct body_setup {
    size_t rings, rows;
    body_map *map;
    void *context;
    const struct foam *foam;
    double viscosity_linear, viscosity_quadratic, hourglass, fold;
};

/* With the forces of rest. */
struct body body_make(const struct body_setup *setup);
void body_free(struct body *body);

size_t body_nodes(const struct body *body);
/* Node of ring i, row j. */
size_t body_node(const struct body *body, size_t i, size_t j);

/* Largest step that `courant` allows [s]. */
double body_step_limit(const struct body *body, double courant);

/* Forces at hand, held nodes keep their velocity: velocity over `dt_velocity`, place over `dt`, update. */
void body_step(struct body *body, double dt_velocity, double dt);

/* Stored + kinetic + lost [J], between the velocities on both sides of now. */
double body_energy(const struct body *body, double dt_velocity);

/* Displacements u_r, u_z (nodes) of an elastic body under the forces load_r, load_z (NULL: none), such that
 * held nodes move by what u holds on entry: conjugate gradients on the zones' own forces, each at rest and at
 * strains of about 1e-7 so that geometry does not count. The residual falls to `tolerance` of the load.
 * Leaves the stress of that displacement x `scale` in the state, and returns the scale. */
double body_static(struct body *body, const double *load_r, const double *load_z, double *u_r, double *u_z,
                   double tolerance);

/* Back to rest in the first shape. */
void body_reset(struct body *body);

#endif
