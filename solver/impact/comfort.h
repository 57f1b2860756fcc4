#ifndef FOAMPULSE_IMPACT_COMFORT_H
#define FOAMPULSE_IMPACT_COMFORT_H

#include <stddef.h>

#include "solver/base/isa.h"

/*
 * Comfort padding between liner and head: pressure against closure, ring by ring.
 *
 * For closure c [m] of a layer of thickness h [m], loading follows
 *     p(c) = p40 [1 - exp(-c / 0.05 h)] + p40 (c/h)^4 / (1 - c / 0.95 h),   0 <= c <= 0.9 h,
 * linear beyond 0.9 h, with the contact's stiffness or the tangent there, whichever is larger; zero in a gap
 * (c < 0). Form and p40 are from memory: an input, not a measured law. Where h = 0 there is contact alone.
 *
 * Of p up to 0.9 h, the share `loss` is carried by a friction element (elastic slope k, then slipping at loss
 * p, no tension), the rest by a spring, as is all of the contact beyond: after slow loading, unloading
 * returns 1 - loss of the work up to 0.9 h. k = loss times the tangent at 0.9 h, the steepest of the padding,
 * so that slow loading keeps the element slipping; a steeper k would stick and slip within one time step and
 * lose the energy balance. What is stored, the spring's work + tau^2 / 2k with tau the friction pressure, is
 * a state function; what slipping takes is lost. Contact alone (h = 0) loses nothing.
 */

struct comfort_law {
    double pressure; /* p40 [Pa], near the pressure at 40 % closure */
    double loss;     /* share of the work of loading that unloading does not return, in [0, 1] */
    double contact;  /* stiffness of the contact that follows once the layer is shut [Pa/m], > 0 */
};

/* Dynamic pressure and loss of the default layer; from memory. */
struct comfort_law comfort_default(double contact);

/* Rings, arrays of `count` each. */
struct comfort_rings {
    size_t count;
    const double *thickness; /* h [m], 0 for contact alone */
    const double *closure;   /* c at the end of the step [m], negative in a gap */
    double *before;          /* state: max(c, 0) at the end of the last step [m], first 0 */
    double *friction;        /* state: tau [Pa], first 0 */
    double *limit;           /* state: loss p(before) [Pa], first 0 */
    double *dissipated;      /* state: lost so far [J/m2] */
    double *stored;          /* state: elastic part of the friction element, tau^2 / 2k [J/m2] */
    double *pressure;        /* out: on head and liner [Pa], >= 0 */
};

/* Advances rings to `closure`. Same bits with every instruction set; no allocation. */
void comfort_update(const struct comfort_law *law, const struct comfort_rings *rings);

/* Stiffest slope of pressure against closure that a ring can show [Pa/m]: for step sizes. */
double comfort_stiffest(const struct comfort_law *law, double thickness);

/* Loading curve p(c) [Pa], and its integral W(c) [J/m2] in closed form. */
double comfort_pressure(const struct comfort_law *law, double thickness, double closure);
double comfort_work(const struct comfort_law *law, double thickness, double closure);

/* Energy of the contact beyond a shut layer [J/m2]; with h = 0 all of it. */
double comfort_contact(const struct comfort_law *law, double thickness, double closure);

/* Energy that the springs hold at this closure [J/m2]: (1 - loss) W(c) up to 0.9 h; with rings.stored it is
 * all. */
double comfort_spring(const struct comfort_law *law, double thickness, double closure);

/* The kernel, one an instruction set. */
void comfort_update_base(const struct comfort_law *law, const struct comfort_rings *rings);
void comfort_update_v3(const struct comfort_law *law, const struct comfort_rings *rings);
void comfort_update_v4(const struct comfort_law *law, const struct comfort_rings *rings);

/* Knee, pole and end of the loading curve, as parts of the thickness. */
#define COMFORT_KNEE 0.05
#define COMFORT_POLE 0.95
#define COMFORT_SHUT 0.9

#endif
