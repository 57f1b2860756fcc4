#include "solver/impact/anvil.h"

#include <math.h>
#include <string.h>

#define DEGREES(x) ((x) * (3.14159265358979323846 / 180))

static const char *const words[ANVIL_SHAPE_COUNT] = {"flat", "hemisphere", "kerbstone", "edge", "bar"};

const struct anvil_info anvil_table[ANVIL_COUNT] = {
    {"flat", ANVIL_FLAT, 0.130, NAN, 0, "flat steel disc", "memory-high",
     "UN R22 and EN standards: 130 +/- 3 mm"},
    {"hemisphere", ANVIL_HEMISPHERE, NAN, 0.048, 0, "steel ball face", "memory-high",
     "radius 48 mm; 48.3 mm in 49 CFR 571.218"},
    {"kerbstone", ANVIL_KERBSTONE, NAN, 0.015, 0, "two faces 52.5 deg from the vertical, edge radius 15 mm",
     "memory-high", "UN R22"},
    {"edge", ANVIL_EDGE, NAN, NAN, 0, "upright plate 6.3 mm thick, 180 mm long", "memory-low",
     "Snell and ASTM standards"},
    {"bar", ANVIL_BAR, NAN, NAN, 0, "upright bar 25 mm wide, 6 mm high, chamfer 1 mm", "memory-medium",
     "UN R22.05"},
    {"abrasive-45", ANVIL_FLAT, 0.130, NAN, DEGREES(45), "flat face at 45 deg under abrasive paper",
     "published-seen", "UN R22.06, secondary source; diameter memory-medium"},
    {"abrasive-15-from-vertical", ANVIL_FLAT, 0.130, NAN, DEGREES(75),
     "flat face 15 deg from the vertical under abrasive paper", "memory-medium", "UN R22.05 method A"},
    {"bars-15-from-vertical", ANVIL_BAR, NAN, NAN, DEGREES(75),
     "five bars on a face 15 deg from the vertical", "memory-medium", "UN R22.05 method A"},
};

/* Radius of the edge of a flat anvil's face [m]; common practice, no source. It keeps the normal of a shell
 * node smooth where it leaves the face. */
static const double flat_rounding = 0.001;

const struct anvil_info *anvil_find(const char *name)
{
    if (strcmp(name, "curbstone") == 0)
        name = "kerbstone";
    for (size_t i = 0; i < ANVIL_COUNT; i++) {
        if (strcmp(name, anvil_table[i].name) == 0)
            return &anvil_table[i];
    }
    return NULL;
}

enum anvil_shape anvil_shape_find(const char *word)
{
    int shape = 0;
    if (strcmp(word, "curbstone") == 0)
        return ANVIL_KERBSTONE;
    while (shape < ANVIL_SHAPE_COUNT && strcmp(word, words[shape]) != 0)
        shape++;
    return (enum anvil_shape)shape;
}

const char *anvil_not_computed(enum anvil_shape shape, double angle)
{
    static const char *const reasons[ANVIL_SHAPE_COUNT] = {
        [ANVIL_KERBSTONE] = "impacts on the kerbstone anvil are not yet computed",
        [ANVIL_EDGE] = "impacts on the edge anvil are not yet computed",
        [ANVIL_BAR] = "impacts on bars are not yet computed",
    };
    if (angle != 0)
        return "oblique impacts are not yet computed";
    return reasons[shape];
}

int anvil_make(struct anvil *anvil, enum anvil_shape shape, double diameter, double radius)
{
    double size = shape == ANVIL_FLAT ? 0.5 * diameter : radius;
    *anvil = (struct anvil){0};
    if (anvil_not_computed(shape, 0))
        return 0;
    if (isnan(size))
        size = shape == ANVIL_FLAT ? 0.5 * anvil_table[0].diameter : anvil_table[1].radius;
    if (!(size > 0))
        return 0;
    *anvil = (struct anvil){shape, size, 0};
    if (shape == ANVIL_FLAT)
        anvil->rounding = flat_rounding < 0.5 * size ? flat_rounding : 0.5 * size;
    return 1;
}

/* A ball below z = 0; beneath its centre a cylinder of the same radius. */
static double ball_distance(double radius, double r, double z, double normal[2])
{
    double up = z + radius > 0 ? z + radius : 0, length = sqrt(r * r + up * up);
    normal[0] = length > 0 ? r / length : 0;
    normal[1] = length > 0 ? up / length : 1;
    return length - radius;
}

/* A rectangle is the set within `rounding` of a smaller one: outside of that, the distance to it. */
static double disc_distance(const struct anvil *anvil, double r, double z, double normal[2])
{
    double out = r - (anvil->radius - anvil->rounding), up = z + anvil->rounding;
    if (out > 0 && up > 0) {
        double length = sqrt(out * out + up * up);
        normal[0] = out / length;
        normal[1] = up / length;
        return length - anvil->rounding;
    }
    int sideways = out > up;
    normal[0] = sideways ? 1 : 0;
    normal[1] = sideways ? 0 : 1;
    return (sideways ? out : up) - anvil->rounding;
}

double anvil_distance(const struct anvil *anvil, double r, double z, double normal[2])
{
    if (anvil->shape == ANVIL_HEMISPHERE)
        return ball_distance(anvil->radius, r, z, normal);
    return disc_distance(anvil, r, z, normal);
}
