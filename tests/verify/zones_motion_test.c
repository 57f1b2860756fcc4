/*
 * Zones that are led along a motion of finite size, far from the axis where the hoop strain of it is nothing:
 * stresses in closed form. What is checked is how stress turns with the foam.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>

#include "tests/support/body.h"
#include "tests/support/elastic.h"

static void limit(const char *what, double value, double most)
{
    printf("figure: %s %.3g (at most %.3g)\n", what, value, most);
    cr_expect(fabs(value) <= most, "%s: %g, at most %g", what, value, most);
}

/* One square zone of 1 m, its middle at (r, z) = (0, 0) of the plane, the axis 1e7 m away; a second one lies
 * between it and the ring that is held on the axis. */
enum { ZONE = 1 };
static const double far_away = 1e7;

static void plane_map(void *context, size_t i, size_t j, double *r, double *z)
{
    (void)context;
    *r = far_away + (double)i - 1.5;
    *z = (double)j - 0.5;
}

/* Plane deformation: place = F x first place. */
struct gradient {
    double rr, rz, zr, zz;
};

static struct body plane_body(const struct elastic *elastic)
{
    return body_make(&(struct body_setup){
        .rings = 3, .rows = 1, .map = plane_map, .foam = &elastic->foam, .hourglass = 0.1});
}

static void lead_to(struct body *body, struct gradient f, double shift)
{
    struct zones_state *s = &body->state;
    for (size_t j = 0; j < 2; j++) {
        for (size_t i = 0; i < 3; i++) {
            size_t k = body_node(body, i, j);
            double x = (double)i - 1.5, z = (double)j - 0.5;
            double to_r = far_away + f.rr * x + f.rz * z, to_z = shift + f.zr * x + f.zz * z;
            s->velocity_r[k] = to_r - s->r[k];
            s->velocity_z[k] = to_z - s->z[k];
            s->r[k] = to_r;
            s->z[k] = to_z;
        }
    }
    body->bounds = zones_update(&body->model, s, 1.0);
}

struct plane_stress {
    double normal, along, hoop, shear;
};

static struct plane_stress stress_of(const struct body *body)
{
    double *const *s = body->state.stress;
    return (struct plane_stress){s[FOAM_NORMAL][ZONE], s[FOAM_ALONG][ZONE], s[FOAM_HOOP][ZONE],
                                 s[FOAM_SHEAR][ZONE]};
}

/* Simple shear g of an elastic solid whose stress turns with the polar rotation (J. K. Dienes, Acta Mechanica
 * 32, 1979). F = I + g e (x) f turns by the angle b, tan b = g/2. In axes that turn along, the rate of
 * deformation g'/2 has the shear component g'/2 cos 2b and the normal ones +-g'/2 sin 2b; with g' = 2
 * b'/cos^2 b shear = 2 G int cos 2b / cos^2 b db = 2 G (2 b - tan b), normal = +-2 G int sin 2b / cos^2 b db
 * = -+4 G ln cos b. */
static double simple_shear(int of_rows, int steps)
{
    struct elastic elastic = elastic_make(20e6, 0.0, 50);
    struct body body = plane_body(&elastic);
    double worst = 0, g = 3;
    for (int n = 1; n <= steps; n++) {
        double part = g * n / steps;
        lead_to(&body, of_rows ? (struct gradient){1, part, 0, 1} : (struct gradient){1, 0, part, 1}, 0);
        double b = atan(0.5 * part), shear = 2 * elastic.shear * (2 * b - tan(b));
        double normal = -4 * elastic.shear * log(cos(b));
        struct plane_stress s = stress_of(&body);
        worst = fmax(worst, fabs(fabs(s.shear) - fabs(shear)));
        worst = fmax(worst, fabs(fabs(s.normal) - normal));
        worst = fmax(worst, fabs(s.normal + s.along));
        worst = fmax(worst, fabs(s.hoop));
    }
    body_free(&body);
    return worst / (2 * elastic.shear);
}

Test(zones_motion, simple_shear_turns_with_the_polar_rotation)
{
    for (int of_rows = 0; of_rows < 2; of_rows++) {
        double coarse = simple_shear(of_rows, 100), fine = simple_shear(of_rows, 200);
        limit(of_rows ? "shear of rows to 3, 200 steps: error over 2 G"
                      : "shear of rings to 3, 200 steps: error over 2 G",
              fine, 2e-4);
        limit("order in the step less 2", log2(coarse / fine) - 2, 0.1);
    }
}

/* A rotation by 90 degrees and a shift of a zone that carries stress: the stress in its axes stays. */
Test(zones_motion, rigid_motion_leaves_the_stress_alone)
{
    struct elastic elastic = elastic_make(20e6, 0.0, 50);
    struct body body = plane_body(&elastic);
    struct gradient stretched = {1.02, 0.03, 0.01, 0.6};
    for (int n = 1; n <= 50; n++) {
        double part = n / 50.0;
        lead_to(&body,
                (struct gradient){1 + part * (stretched.rr - 1), part * stretched.rz, part * stretched.zr,
                                  1 + part * (stretched.zz - 1)},
                0);
    }
    struct plane_stress first = stress_of(&body);
    double worst = 0, size = fabs(first.normal), volume = body.state.volume[ZONE];
    cr_assert(size > 0.3 * 20e6, "the zone carries %g Pa", size);
    for (int n = 1; n <= 90; n++) {
        double a = n * M_PI / 180, c = cos(a), s = sin(a);
        struct gradient f = stretched;
        lead_to(&body,
                (struct gradient){c * f.rr - s * f.zr, c * f.rz - s * f.zz, s * f.rr + c * f.zr,
                                  s * f.rz + c * f.zz},
                0.1 * n);
        struct plane_stress now = stress_of(&body);
        worst = fmax(worst, fabs(now.normal - first.normal));
        worst = fmax(worst, fmax(fabs(now.along - first.along), fabs(now.shear - first.shear)));
    }
    limit("stress changed by a turn of 90 degrees and a shift, share", worst / size, 1e-6);
    limit("volume changed by the same", body.state.volume[ZONE] - volume, 1e-6);
    body_free(&body);
}

/* Rows of crushed foam do not buckle sideways. At a stretch l and a stress S = E (1 - l) through the
 * thickness (strains count per first volume), a small shear g of the rows turns the zone by g l/(1 + l) and
 * meets the force G l g - S g l/(1 + l) an area; were the axes to follow the line through the thickness, G l
 * g - S g. */
Test(zones_motion, compressed_rows_keep_their_shear_stiffness)
{
    struct elastic elastic = elastic_make(20e6, 0.0, 50);
    struct body body = plane_body(&elastic);
    double l = 0.4, g = 1e-3;
    for (int n = 1; n <= 2000; n++)
        lead_to(&body, (struct gradient){1, 0, 0, 1 - (1 - l) * n / 2000}, 0);
    double stress = stress_of(&body).normal;
    limit("uniaxial: stress over E (1 - l), less 1", stress / (20e6 * (1 - l)) - 1, 1e-6);
    lead_to(&body, (struct gradient){1, g * l, 0, l}, 0);
    /* force of the zone on its upper edge along r, over the area of the edge */
    double force = body.state.corner[2][ZONE] + body.state.corner[3][ZONE];
    double stiffness = -force / (2 * M_PI * far_away) / g,
           expected = elastic.shear * l - stress * l / (1 + l);
    limit("shear stiffness of compressed rows over G l - S l/(1 + l), less 1", stiffness / expected - 1,
          1e-3);
    body_free(&body);
}

/* A zone with its corner 2 moved to (x, z) in one step. */
static size_t tangled_by(double x, double z, double *lost)
{
    struct elastic elastic = elastic_make(20e6, 0.0, 50);
    struct body body = plane_body(&elastic);
    struct zones_state *s = &body.state;
    size_t k = body_node(&body, 2, 1);
    s->velocity_r[k] = far_away + x - s->r[k];
    s->velocity_z[k] = z - s->z[k];
    s->r[k] = far_away + x;
    s->z[k] = z;
    size_t tangled = zones_update(&body.model, s, 1.0).tangled;
    *lost = s->volume[ZONE];
    size_t none = body.model.count;
    body_free(&body);
    return tangled == none ? SIZE_MAX : tangled;
}

/* A corner pushed in leaves a concave zone, which can go on; pushed through the side opposite, it leaves two
 * sides that cross, although the volume is above zero in both cases: 0.3 and 0.25 by the shoelace formula. */
Test(zones_motion, crossed_sides_are_a_tangle)
{
    double lost;
    cr_expect_eq(tangled_by(0.5, 0.5, &lost), SIZE_MAX);
    cr_expect_eq(tangled_by(-0.2, -0.2, &lost), SIZE_MAX, "a concave zone counts as tangled");
    cr_expect_float_eq(1 - lost, 0.3, 1e-6, "volume %g", 1 - lost);
    cr_expect_eq(tangled_by(-0.7, 0.2, &lost), ZONE, "crossed sides are not seen");
    cr_expect_float_eq(1 - lost, 0.25, 1e-6, "volume %g", 1 - lost);
    cr_expect_eq(tangled_by(0.2, -0.7, &lost), ZONE, "crossed sides are not seen");
    tangled_by(-0.7, -0.7, &lost);
    cr_expect_lt(1 - lost, 0);
    cr_expect_eq(tangled_by(-0.7, -0.7, &lost), ZONE, "a zone turned inside out is not seen");
}

/* Forces on the corners of the zone and energy stored beside the foam's, with corner 2 at x = z = `at`. */
struct held {
    double r[4], z[4], energy;
};

static struct held held_at(double at, double fold)
{
    struct elastic elastic = elastic_make(20e6, 0.0, 50);
    struct body body = body_make(&(struct body_setup){
        .rings = 3, .rows = 1, .map = plane_map, .foam = &elastic.foam, .fold = fold / elastic.foam.plateau});
    size_t k = body_node(&body, 2, 1);
    struct held held;
    body.state.r[k] = far_away + at;
    body.state.z[k] = at;
    zones_update(&body.model, &body.state, 1.0);
    for (int c = 0; c < 4; c++) {
        held.r[c] = body.state.corner[c][ZONE];
        held.z[c] = body.state.corner[4 + c][ZONE];
    }
    held.energy = zones_sprung(&body.model, &body.state);
    body_free(&body);
    return held;
}

/* With corner 2 at x = z = at the triangle there has the area `at` and the zone 1/2 + at, s = 2 at/(1/2 +
 * at). The energy W = V Y (f - s)^2/(2 s) pushes it along both axes by -1/2 dW/d at, ds/d at = 1/(1/2 +
 * at)^2. */
Test(zones_motion, corners_are_held_open)
{
    double y = 1e6, volume = 2 * M_PI * far_away, f = 0.3;
    for (double at = 0.02; at < 0.14; at += 0.02) {
        struct held with = held_at(at, y), without = held_at(at, 0);
        double s = 2 * at / (0.5 + at), short_of = s < f ? f - s : 0;
        double push = s < f ? 0.25 * volume * y * (f * f / (s * s) - 1) / ((0.5 + at) * (0.5 + at)) : 0;
        double sum_r = 0, sum_z = 0, turn = 0;
        for (int c = 0; c < 4; c++) {
            double r = with.r[c] - without.r[c], z = with.z[c] - without.z[c];
            double x = c == 2 ? at : c == 1 ? 0.5 : -0.5, up = c == 2 ? at : c == 3 ? 0.5 : -0.5;
            sum_r += r, sum_z += z, turn += z * x - r * up;
        }
        limit("corner held open: force off", (with.r[2] - without.r[2] - push) / (volume * y), 1e-6);
        limit("corner held open: energy off", with.energy / (volume * y) - short_of * short_of / (2 * s),
              1e-6);
        limit("corner held open: sum of forces and moment",
              (fabs(sum_r) + fabs(sum_z) + fabs(turn)) / (volume * y), 1e-6);
        cr_expect_eq(without.energy, 0);
    }
}
