#ifndef FOAMPULSE_IMPACT_ANVIL_H
#define FOAMPULSE_IMPACT_ANVIL_H

#include <stddef.h>

/*
 * Rigid anvils, seen in the axisymmetric frame of an impact site: r >= 0 from the axis, z up towards the
 * helmet, the anvil's highest point at r = 0, z = 0.
 */

enum anvil_shape { ANVIL_FLAT, ANVIL_HEMISPHERE, ANVIL_KERBSTONE, ANVIL_EDGE, ANVIL_BAR, ANVIL_SHAPE_COUNT };

/* A named anvil. Lengths [m], angles [rad]; NaN where a value does not apply. */
struct anvil_info {
    const char *name;
    enum anvil_shape shape;
    double diameter;        /* flat: of its face */
    double radius;          /* hemisphere: of the ball; kerbstone: of its edge */
    double angle;           /* of the face from the horizontal; 0 square on */
    const char *text;       /* what it is, in words */
    const char *provenance; /* published-seen, memory-high, ... */
    const char *source;
};

enum { ANVIL_COUNT = 8 };
extern const struct anvil_info anvil_table[ANVIL_COUNT];

/* The anvil of a name ("curbstone" is the kerbstone); NULL when there is none. */
const struct anvil_info *anvil_find(const char *name);

/* Shape of a word of `anvil: {shape: ...}`: "flat", "hemisphere", ...; ANVIL_SHAPE_COUNT when there is none.
 */
enum anvil_shape anvil_shape_find(const char *word);

/* Why impacts on this shape at this angle of the face [rad] are not computed, one sentence; NULL when they
 * are. */
const char *anvil_not_computed(enum anvil_shape shape, double angle);

/* A body of revolution, ready for the solver. */
struct anvil {
    enum anvil_shape shape;
    double radius;   /* flat: of its face; hemisphere: of the ball [m] */
    double rounding; /* flat: radius of the face's edge [m] */
};

/* Makes a flat (from `diameter`) or a hemisphere (from `radius`); NaN takes the dimension of the anvil of
 * that name. 1 on success; 0, zeroed, for a shape that is not computed or a dimension that is not positive.
 */
int anvil_make(struct anvil *anvil, enum anvil_shape shape, double diameter, double radius);

/* Signed distance [m] from (r, z) to the anvil's surface, negative inside; `normal` = its gradient (r, z),
 * a unit vector that points out of the anvil. Smooth but on the ball's lower axis and, in a flat, deeper
 * than its rounding. The flat is a cylinder, the hemisphere a ball on a cylinder of its radius, both without
 * end downwards. */
double anvil_distance(const struct anvil *anvil, double r, double z, double normal[2]);

#endif
