#ifndef FOAMPULSE_IMPACT_LOOSE_H
#define FOAMPULSE_IMPACT_LOOSE_H

#include <stddef.h>

#include "solver/base/status.h"
#include "solver/impact/slide.h"

/*
 * A shell that is not bonded to the foam inside it: nodes of its own that the foam's first row meets in a
 * contact, where it parts and slides (solver/impact/slide.h).
 */

struct loose_model {
    size_t count;       /* rings: a node of the foam and one of the shell each */
    double *shell_mass; /* (count) [kg] */
    struct slide_model contact;
};

struct loose_state {
    double *r, *z;                   /* (count) nodes of the shell [m] */
    double *velocity_r, *velocity_z; /* (count) of them [m/s], half a step behind */
    double *force_r, *force_z;       /* (count) on them [N]; the owner adds to it */
    struct slide_state contact;
    double *memory;
};

/* A row of nodes in the first shape: places and, where read, masses [kg]. */
struct loose_row {
    const double *r, *z, *mass;
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
void loose_press(const struct loose_model *model, struct loose_state *state, struct slide_row foam,
                 double dt);

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

#endif
