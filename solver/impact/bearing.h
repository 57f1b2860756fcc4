#ifndef FOAMPULSE_IMPACT_BEARING_H
#define FOAMPULSE_IMPACT_BEARING_H

#include <stddef.h>

#include "solver/base/status.h"
#include "solver/impact/comfort.h"

/*
 * The head on the inner faces of the foam, face by face: a comfort layer, beyond it and where there is none a
 * penalty with damping; unilateral.
 */

struct bearing_model {
    size_t count;
    double *thickness; /* (count) of the comfort layer [m] */
    double *area;      /* (count) [m2]; 0: the face bears nothing */
    double *stiffness; /* (count) of bare contact [N/m] */
    double *damping;   /* (count) [N s/m] */
    double pressure;   /* p40 of the layer [Pa]; not read where it has no thickness */
    double contact;    /* stiffness beyond a shut layer [Pa/m] */
    double *memory;
};

struct bearing_state {
    double *closure; /* (count) of the layer [m], negative in a gap: set by the owner */
    double *push;    /* (count) of the head on the foam [N], never negative */
    double *before;  /* (count) closure a step ago [m] */
    double *damped;  /* (count) [N] */
    double *lost;    /* (count) in damping [J] */
    struct comfort_law comfort;
    struct comfort_rings rings;
    double *memory;
};

/* Arrays zeroed. STATUS_MEMORY leaves {0}. */
enum status bearing_model_make(size_t count, struct bearing_model *model);
void bearing_model_free(struct bearing_model *model);

/* The closures of the owner are to be set before the first press. */
enum status bearing_state_make(const struct bearing_model *model, struct bearing_state *state);
void bearing_state_free(struct bearing_state *state);

/* `push` at the present closures, `dt` after the last call (0 at the first). */
void bearing_press(const struct bearing_model *model, struct bearing_state *state, double dt);

/* Energy [J]: stored, lost in the comfort layer, lost in damping. */
double bearing_stored(const struct bearing_model *model, const struct bearing_state *state);
double bearing_padding(const struct bearing_model *model, const struct bearing_state *state);
/* Part of what is stored: in penalties, those beyond shut layers included. */
double bearing_penalties(const struct bearing_model *model, const struct bearing_state *state);
double bearing_damping(const struct bearing_model *model, const struct bearing_state *state);

#endif
