#ifndef FOAMPULSE_IMPACT_OBLIQUE_H
#define FOAMPULSE_IMPACT_OBLIQUE_H

#include <stddef.h>

#include "solver/base/status.h"
#include "solver/impact/history.h"
#include "solver/impact/shear.h"

/*
 * Motion along the anvil's face and rotation, beside the impact along the face's normal (physics section 7).
 *
 * Senses: n points from the head's centre to the anvil, t along the face where its motion points on the head
 * (`towards`), and a turn is positive about n x t. At first touch the head moves along -t over the face;
 * friction on the shell points along t, slows the head and turns the shell in the positive sense.
 *
 * Bodies: head and helmet share the motion along the face; the shell turns as a rigid body, the liner in
 * shear (solver/impact/shear.h), the head as a rigid body that the liner's inner face turns by friction.
 * Friction is Coulomb's with sticking resolved: the force that ends the slip within the step, or the limit.
 * Between shell and face that is one contact, as a flattened patch slides as one; between liner and head one
 * a ring, bounded by friction x push of the ring x mean speed over its azimuths.
 *
 * The arm of friction on the shell is the height of the common centre of the spheres over the face: the same
 * in the force's moment and in the velocity of the contact, so that no work is lost.
 *
 * The head's centre of gravity lies `offset_along` t from its centre. The force F of the liner on the head,
 * towards -n through the centre, turns the head by -offset_along F, and the centre moves along n by
 * offset_along x rate faster than the centre of gravity. That much of the rotation acts back on the impact
 * along the normal; friction does not. An offset along n, by which slowing the head along the face would turn
 * it, is left out.
 */

struct oblique_setup {
    int active;                    /* 0: nothing here is computed */
    double speed;                  /* of the head along the face at first touch [m/s], 0 or more */
    double gravity;                /* component along the face, that speeds the head up [m/s2] */
    double face_friction;          /* of shell on face */
    double head_friction;          /* of liner on head */
    double head_mass, helmet_mass; /* [kg] */
    double head_inertia;           /* about the axis of rotation [kg m2] */
    double shell_inertia;          /* the same, of the helmet without the foam on the rings */
    double offset_along;           /* [m] */
    double helmet_inertia;         /* of the whole helmet about the axis [kg m2]; NaN: from its geometry */
    double axis[3];                /* n x t on the head, SAE J211-1 axes: forward, right, down */
};

struct oblique_model {
    struct oblique_setup setup;
    struct shear_model shear; /* without rings: shell and liner are one body, and the head does not turn */
};

/* What the impact along the normal gives at one time. */
struct oblique_load {
    double time;        /* [s] */
    double face_force;  /* of the face on the helmet [N] */
    double head_force;  /* of the liner on the head, along -n [N] */
    const double *push; /* (rings) of the head on the liner [N] */
    double height;      /* of the head's centre over the face [m] */
};

struct oblique_state {
    struct shear_state shear;
    double velocity;                /* of the head along -t over the face [m/s], half a step behind */
    double shell_rate, head_rate;   /* [rad/s], half a step behind */
    double shell_angle, head_angle; /* [rad] */
    /* By oblique_act: at present [N], [N m]; of the step to come [m/s], [rad/s]; [J] */
    double friction, head_torque;
    double gain, shell_gain, head_gain;
    double face_loss, head_loss;
    double *most;  /* (rings) impulse of friction between head and liner [N m s] */
    double *inner; /* (rings) rate of the inner nodes, from oblique_act on that after the step */
    /* So far */
    double lost_on_face, lost_on_head; /* [J] */
    double way;                        /* of the head along -t [m] */
    double slid;                       /* on the face while it pressed [m] */
    double drift;                      /* of the contact over the helmet, against t positive [m] */
    double slip;                       /* of the shell on the face, newest [m/s] */
    double sticks_from;                /* first time of sticking on the face [s]; NaN: slid throughout */
    double angular_impulse;            /* of all torques from outside [N m s] */
};

/* STATUS_OK, or STATUS_MEMORY, then zeroed. `liner` is NULL for one rigid body. */
enum status oblique_model_make(const struct oblique_setup *setup, const struct shear_setup *liner,
                               struct oblique_model *model);
void oblique_model_free(struct oblique_model *model);

enum status oblique_state_make(const struct oblique_model *model, struct oblique_state *state);
void oblique_state_free(struct oblique_state *state);

/* Forces now and what they change over the coming `dt` [s]; nothing moves yet. Nothing when not active. */
void oblique_act(const struct oblique_model *model, struct oblique_state *state,
                 const struct oblique_load *load, double dt);

/* Velocities over `dt_velocity`, the dt of oblique_act, and places over `dt`. Returns what the turn of the
 * head adds to the velocity of its centre along n [m/s]. */
double oblique_move(const struct oblique_model *model, struct oblique_state *state, double dt_velocity,
                    double dt);

/* Velocity and way of the head's centre along n less those of its centre of gravity [m/s], [m]. */
double oblique_centre_velocity(const struct oblique_model *model, const struct oblique_state *state);
double oblique_centre_way(const struct oblique_model *model, const struct oblique_state *state);

/* Adds all that moves, is stored and is lost here to a ledger, after oblique_act over `dt_velocity`. */
void oblique_book(const struct oblique_model *model, const struct oblique_state *state, double dt_velocity,
                  double energy[ENERGY_COUNT]);

/* Puts down what acted up to `to` [s] and the rates then; at the end of a run, what it came to. */
void oblique_record(const struct oblique_state *state, double to, struct history *history);
void oblique_end(const struct oblique_state *state, struct history *history);

/* Kinetic energy at first touch [J]. */
double oblique_initial(const struct oblique_model *model);

/* Angular momentum of shell, liner and head about n x t [N m s], half a step behind. */
double oblique_momentum(const struct oblique_model *model, const struct oblique_state *state);

#endif
