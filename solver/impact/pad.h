#ifndef FOAMPULSE_IMPACT_PAD_H
#define FOAMPULSE_IMPACT_PAD_H

#include <stdatomic.h>
#include <stddef.h>

#include "solver/base/status.h"
#include "solver/impact/history.h"
#include "solver/impact/liner.h"

/*
 * The bench drop test: a striker falls on a stack of foam that lies on a rigid anvil (planar, 1-D).
 *
 * Staggered central differences that resolve the waves. The coordinate grows towards the anvil, whose face is
 * at 0 and holds the outermost node. The striker rides on the innermost node as long as it is pressed against
 * it; on joining, the two share momentum and the kinetic energy lost is booked as contact loss.
 */

struct pad_setup {
    double area;         /* [m2] */
    double striker_mass; /* [kg] */
    double gravity;      /* [m/s2], 0 switches it off */
    double cell;         /* largest cell [m] */
    double duration;     /* [s] */
    double courant;      /* share of the stable step, 0.7 by default */
    double viscosity_linear, viscosity_quadratic;
    double recovered;   /* share of the crush that comes back between hits */
    size_t layer_count; /* from the anvil to the striker */
    struct liner_layer layers[LINER_LAYERS];
};

/* Defaults: gravity g0, cell 1 mm, duration 25 ms, courant 0.7, viscosity 0.06 and 1.2; the rest zero. */
struct pad_setup pad_setup_default(void);

struct pad_model {
    struct pad_setup setup;
    struct liner_group group;
    double height; /* [m] */
};

struct pad_state {
    struct liner_state liner;
    double striker_position, striker_velocity;
    double first_position; /* of the striker at first touch [m] */
    int together;
    int hits;                     /* so far */
    double contact_loss, initial; /* [J] */
    double potential_before, stored_before;
};

/* Steps 4 and 5 of the life of a run. STATUS_OK or STATUS_MEMORY, then zeroed. */
enum status pad_model_make(const struct pad_setup *setup, struct pad_model *model);
void pad_model_free(struct pad_model *model);
enum status pad_state_make(const struct pad_model *model, struct pad_state *state);
void pad_state_free(struct pad_state *state);

/* Step 6: solves one hit at `speed` [m/s] on the pad as `state` left it (a virgin pad after pad_state_make;
 * after a hit the foam rests free of stress at what plastic strain it keeps, liner_settle). The history is
 * filled; `stop` may be NULL and is polled. STATUS_COMPUTATION with a message that names place and time when
 * the physics fails.
 */
enum status pad_hit(const struct pad_model *model, struct pad_state *state, double speed,
                    struct history *history, const atomic_int *stop, char message[HISTORY_MESSAGE]);

#endif
