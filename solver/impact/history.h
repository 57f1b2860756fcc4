#ifndef FOAMPULSE_IMPACT_HISTORY_H
#define FOAMPULSE_IMPACT_HISTORY_H

#include <stddef.h>

#include "solver/base/status.h"
#include "solver/impact/law.h"
#include "solver/impact/output.h"
#include "solver/impact/record.h"

/*
 * What a solver writes down while it steps: forces as interval means over 10 us, states at the ends of the
 * intervals, the energy ledger every 100 us. Later turned into an impact_output by impact/run.
 */

enum { HISTORY_MESSAGE = 256, HISTORY_LAYERS = 384 };

/* Channels: means and samples on the clock of the velocities, samples on the clock of the positions. */
enum { HISTORY_HEAD_FORCE, HISTORY_ANVIL_FORCE, HISTORY_FORCES };
enum { HISTORY_TRAVEL, HISTORY_CRUSH, HISTORY_LAYER };
/* Of rotation: means, then samples on the clock of the velocities. */
enum { HISTORY_FRICTION, HISTORY_TORQUE, HISTORY_TURN_MEANS };
enum { HISTORY_HEAD_RATE, HISTORY_SHELL_RATE, HISTORY_SLIP, HISTORY_TURN_SAMPLES };

struct history {
    size_t layer_count;
    double duration;      /* [s] there is room for */
    struct record forces; /* means HISTORY_HEAD_FORCE, HISTORY_ANVIL_FORCE [N]; sample: head velocity [m/s] */
    struct record states; /* samples HISTORY_TRAVEL, HISTORY_CRUSH [m], HISTORY_LAYER + k: nominal crush */
    struct record turns;  /* of an impact with rotation: means of friction on the shell [N] and torque on the
                           * head [N m]; samples of rates of head and shell [rad/s], slip on the face [m/s] */
    double sticks_from;   /* [s] first time at which the shell stuck to the face; NaN: never */
    double slid, drift;   /* of the shell on the face; of the contact over the helmet [m] */
    size_t ledger_capacity, ledger_count;
    double ledger_interval;         /* [s] */
    double *ledger[ENERGY_COUNT];   /* (ledger_capacity) [J] */
    double energy[ENERGY_COUNT];    /* the newest ledger */
    double balance_error;           /* largest |residual| so far over the initial energy */
    double layer_slide;             /* furthest that layers slid on each other [m] */
    double penalty_energy;          /* largest in the penalties of contacts, of the ledgers so far [J] */
    double first_speed, last_speed; /* headform, towards the anvil [m/s] */
    double largest_strain;
    double crush_before; /* on the axis at first touch, of hits before [m]; NaN of a new helmet or pad */
    double shell_strain; /* largest of a fibre at the faces of the shell; NaN without a shell */
    struct foam_past past[HISTORY_LAYERS]; /* (layer_count) so far */
    /* Along the fall [N s]: all momentum before and after, impulses in between. */
    double first_momentum, last_momentum, anvil_impulse, gravity_impulse;
    struct snapshots snapshots; /* of a model that takes them, owned until taken over */
    long steps, cells;
    double
        rests_since; /* [s] no force on the anvil and hardly any on the head from here on; INFINITY: not so */
    int separated;
};

/* Makes room for `duration` [s]; `speed` is the headform's at first touch. STATUS_MEMORY: zeroed. */
enum status history_make(struct history *history, double duration, double speed, size_t layer_count);
void history_free(struct history *history);

/* Forces [N] that acted from the last call until `to` [s], and the headform's velocity then [m/s]. */
void history_force(struct history *history, double to, double head, double anvil, double velocity);

/* Makes room for rotation too; `slip` is that of the shell on the face at first touch [m/s]. */
enum status history_turns(struct history *history, double slip);

/* Means that acted from the last call until `to` [s], samples then; nothing without history_turns. */
void history_turn(struct history *history, double to, const double means[HISTORY_TURN_MEANS],
                  const double samples[HISTORY_TURN_SAMPLES]);

/* State at time t [s]: travel and crush [m], nominal crush of the layers (layer_count). */
void history_state(struct history *history, double t, double travel, double crush, const double *layers);

/* Takes the strain of a fibre of the shell down if it is the largest so far. */
void history_shell_strain(struct history *history, double strain);

/* Takes down the energy in the penalties of contacts [J], which ENERGY_stored holds too, if it is the
 * largest. */
void history_penalties(struct history *history, double energy);

/* 1 when a step to t needs the state: before the step and after it. */
int history_state_due(const struct history *history, double t);

/* 1 when a ledger is due at time t. */
int history_ledger_due(const struct history *history, double t);

/* Books a ledger: all parts as of now. */
void history_ledger(struct history *history, const double energy[ENERGY_COUNT]);

/* 1 when the impact is over, which is put down as separated: for a millisecond nothing has pressed on the
 * anvil and the head's force [N] has stayed below the 5 g that bound a pulse, and the head moves away from
 * the anvil, `velocity` [m/s]. A helmet that has left the anvil may still be slowing the head. Asked after
 * every step. */
int history_over(struct history *history, double time, double anvil_force, double head_force,
                 double head_mass, double velocity);

/* The sentence for foam that is crushed past the strain at which it is solid: `what` is used up, in the layer
 * `place` names, `where` exactly. */
void history_used_up(char message[HISTORY_MESSAGE], const char *what, const char *place, const char *where,
                     const struct foam *foam, double time);

/* |momentum after - before - impulses| over the first momentum. */
double history_impulse_error(const struct history *history);

#endif
