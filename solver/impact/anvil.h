#ifndef FOAMPULSE_IMPACT_ANVIL_H
#define FOAMPULSE_IMPACT_ANVIL_H

#include <stddef.h>

/*
 * Rigid anvils, seen in the axisymmetric frame of an impact site: r >= 0 from the axis, z up towards the
 * helmet, the anvil's highest point at r = 0, z = 0.
 *
 * An anvil that is no body of revolution is a ridge: the same section along its length. In its place stands
 * the body of revolution of equal overlap. With s(r) = R - sqrt(R^2 - r^2) the sag of the helmet's outer
 * surface and A(x) the area, seen along the axis, in which that surface, pushed in by x and not deformed,
 * overlaps the true anvil, the body's top lies h(r) below the highest point, where
 *     pi r^2 = A(x)  at  x = h(r) + s(r).
 * It meets the same area at every depth; parallel columns feel the true force.
 */

enum anvil_shape { ANVIL_FLAT, ANVIL_HEMISPHERE, ANVIL_KERBSTONE, ANVIL_EDGE, ANVIL_BAR, ANVIL_SHAPE_COUNT };

/* What can be given of a shape. */
enum anvil_size {
    ANVIL_DIAMETER, /* of a flat's face */
    ANVIL_RADIUS,   /* of a ball; of the rounding of an edge */
    ANVIL_WIDTH,    /* across a ridge */
    ANVIL_HEIGHT,   /* of a bar on its plane */
    ANVIL_LENGTH,   /* along a ridge */
    ANVIL_SIZE_COUNT
};
extern const char *const anvil_size_keys[ANVIL_SIZE_COUNT];

/* [m] by anvil_size; NaN where a shape has none. */
struct anvil_sizes {
    double of[ANVIL_SIZE_COUNT];
};

/* One size of a shape [m]: what it is when not given (INFINITY: longer than any contact; NaN: the shape has
 * no such size) and the range that is allowed. */
struct anvil_range {
    double usual, least, most;
};
extern const struct anvil_range anvil_ranges[ANVIL_SHAPE_COUNT][ANVIL_SIZE_COUNT];

/* A named anvil, of the usual sizes of its shape. */
struct anvil_info {
    const char *name;
    enum anvil_shape shape;
    double angle;           /* of the face from the horizontal [rad]; 0 square on */
    double friction;        /* of a shell on it */
    const char *text;       /* what it is, in words */
    const char *provenance; /* published-seen, memory-high, ... */
    const char *source;
};

/* The first ANVIL_SHAPE_COUNT rows are the shapes themselves. */
enum { ANVIL_COUNT = 8 };
extern const struct anvil_info anvil_table[ANVIL_COUNT];

/* The anvil of a name ("curbstone" is the kerbstone); NULL when there is none. */
const struct anvil_info *anvil_find(const char *name);

/* What an anvil is called where it is struck at `angle` [rad]: its name, and the angle behind it where that
 * is not the named anvil's own, "flat 30 deg"; an anvil that has no row in the table is square on of its own.
 */
enum { ANVIL_WORDS = 80 };
const char *anvil_words(const char *name, double angle, char words[ANVIL_WORDS]);

/* Shape of a word of `anvil: {shape: ...}`: "flat", "hemisphere", ...; ANVIL_SHAPE_COUNT when there is none.
 */
enum anvil_shape anvil_shape_find(const char *word);

struct anvil_sizes anvil_usual(enum anvil_shape shape);

/* Whether a body of equal overlap stands in the place of this shape. */
int anvil_equal_overlap(enum anvil_shape shape);

/* Friction of a shell on a face without abrasive: ABS on steel, dynamic, a data sheet (secondary source). */
#define ANVIL_BARE_FRICTION 0.35

/* The largest rounding [m] that fits the section of a shape of these sizes; INFINITY where any does. */
double anvil_largest_rounding(enum anvil_shape shape, const struct anvil_sizes *sizes);

/* Area [m2], seen along the axis, in which a sphere of radius `outer` [m], pushed in by x [m], 0 <= x <=
 * outer, overlaps a ridge. Exact but for quadrature, below 1e-5 of it. */
double anvil_overlap(enum anvil_shape shape, const struct anvil_sizes *sizes, double outer, double x);

/* A body of revolution, ready for the solver. */
enum { ANVIL_POINTS = 257 };
struct anvil {
    enum anvil_shape shape;
    double radius;                           /* flat: of its face; hemisphere: of the ball [m] */
    double rounding;                         /* flat: radius of the face's edge [m] */
    double r[ANVIL_POINTS], z[ANVIL_POINTS]; /* equal overlap: meridian from the axis, r ascending [m] */
};

/* Makes an anvil from its sizes, those of `usual` where `sizes` is NULL or NaN, for a helmet whose outer
 * surface has the radius `outer` [m] at the site (a flat and a hemisphere do not ask). 1 on success; 0,
 * zeroed, for a size or a radius that is not positive or a rounding that does not fit. */
int anvil_make(struct anvil *anvil, enum anvil_shape shape, const struct anvil_sizes *sizes, double outer);

/* Signed distance [m] from (r, z) to the anvil's surface, negative inside; `normal` = its gradient (r, z),
 * a unit vector that points out of the anvil. The flat is a cylinder, the hemisphere a ball on a cylinder of
 * its radius, both without end downwards: smooth but on the ball's lower axis and, in a flat, deeper than its
 * rounding. A body of equal overlap is a polygon turned round the axis, on a cylinder: the normal turns at
 * its corners, by 0.05 rad and less but at the foot of a bar and at the ends of a ridge; deeper inside than
 * 2 mm the distance may be that to a farther side. */
double anvil_distance(const struct anvil *anvil, double r, double z, double normal[2]);

#endif
