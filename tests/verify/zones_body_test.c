/*
 * Bodies of zones whose motion is known from symmetry or in closed form: waves along a bar, uniform strain on
 * a distorted mesh, foam that is crushed from all sides.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>

#include "tests/support/body.h"
#include "tests/support/elastic.h"
#include "tests/support/foams.h"
#include "tests/support/sanitized.h"

static void limit(const char *what, double value, double most)
{
    printf("figure: %s %.3g (at most %.3g)\n", what, value, most);
    cr_expect(fabs(value) <= most, "%s: %g, at most %g", what, value, most);
}

/* --- waves along a bar --- */

/* A round bar, its side free, 3 zones of `size` from axis to side. */
enum { ACROSS = 3, ALONG = SANITIZED ? 240 : 600 };
static const double bar_size = 1e-3;

static void bar_map(void *context, size_t i, size_t j, double *r, double *z)
{
    (void)context;
    *r = bar_size * (double)i;
    *z = bar_size * (double)j;
}

/* Its end moves by 1 um/s x sin^2 for the time in which the wave runs a tenth of the bar. */
static void push_end(struct body *body, double t, double lasts)
{
    double v = t < lasts ? 1e-6 * pow(sin(M_PI * t / lasts), 2) : 0;
    for (size_t i = 0; i <= ACROSS; i++)
        body->state.velocity_z[body_node(body, i, 0)] = v;
}

/*
 * Speed of a wave between a sixth and two thirds of the bar. The mean time int t v dt / int v dt of a pulse
 * at a place x is, by the rule for the moments of a transform, minus the derivative of the phase at the
 * frequency 0; however the bar disperses the pulse, it grows by x/c with c that of the longest waves. Those
 * are one-dimensional: the side is free of stress, rho u'' = E u_zz, c = sqrt(E/rho) whatever Poisson's ratio
 * is; were the side held, it would be sqrt((lambda + 2 G)/rho).
 */
static double bar_speed(double young, double poisson, double density)
{
    struct elastic elastic = elastic_make(young, poisson, density);
    struct body body = body_make(&(struct body_setup){
        .rings = ACROSS + 1, .rows = ALONG, .map = bar_map, .foam = &elastic.foam, .hourglass = 0.1});
    for (size_t i = 0; i <= ACROSS; i++)
        body.held[body_node(&body, i, 0)] |= BODY_HOLD_Z;
    size_t place[2] = {ALONG / 6, 2 * ALONG / 3};
    double length = ALONG * bar_size, c = sqrt(young / density), dt = body_step_limit(&body, 0.5);
    double sum[2] = {0}, moment[2] = {0};
    for (double t = 0; t < 1.25 * length / c; t += dt) {
        push_end(&body, t, 0.1 * length / c);
        body_step(&body, dt, dt);
        for (int p = 0; p < 2; p++) {
            double v = body.state.velocity_z[body_node(&body, 0, place[p])];
            sum[p] += v;
            moment[p] += v * t;
        }
    }
    double way = bar_size * (double)(place[1] - place[0]);
    body_free(&body);
    return way / (moment[1] / sum[1] - moment[0] / sum[0]);
}

Test(zones_body, waves_along_a_bar)
{
    double c = sqrt(20e6 / 50);
    limit("speed of a bar's waves over sqrt(E/rho), nu 0, less 1", bar_speed(20e6, 0, 50) / c - 1, 1e-3);
    limit("speed of a bar's waves over sqrt(E/rho), nu 0.3, less 1", bar_speed(20e6, 0.3, 50) / c - 1, 1e-3);
}

/* --- patch test --- */

enum { PATCH = 8 };

/* A cylinder of 8 x 8 zones of 10 mm, its inner nodes moved by up to 0.35 of a zone; those of the axis stay
 * on it. */
static void patch_map(void *context, size_t i, size_t j, double *r, double *z)
{
    (void)context;
    int inside = i < PATCH && j > 0 && j < PATCH;
    *r = 0.01 * ((double)i + (inside && i > 0 ? 0.35 * sin(2.3 * (double)i + 4.1 * (double)j) : 0));
    *z = 0.01 * ((double)j + (inside ? 0.35 * cos(3.7 * (double)i - 1.9 * (double)j) : 0));
}

struct patch {
    double stress, force; /* largest departure, shares */
};

/*
 * u_r = a r, u_z = b z strains every point alike, e_rr = e_hh = a, e_zz = b: s_rr = s_hh = lambda (2 a + b)
 * + 2 G a, s_zz = lambda (2 a + b) + 2 G b, s_rz = 0, which div s = 0 holds without a force inside. (A
 * uniform s_rz does not: it leaves s_rz/r.) Stresses are compared in the zone's axes, which a first row that
 * is not straight turns; invariants are not turned: the trace, the hoop and s_rr - s_zz up to sign.
 */
static struct patch strained(double a, double b)
{
    struct elastic elastic = elastic_make(20e6, 0.3, 50);
    struct body body = body_make(&(struct body_setup){
        .rings = PATCH + 1, .rows = PATCH, .map = patch_map, .foam = &elastic.foam, .hourglass = 0.1});
    struct zones_state *s = &body.state;
    double scale = 1e-6;
    for (size_t k = 0; k < body_nodes(&body); k++) {
        s->velocity_r[k] = scale * a * s->r[k];
        s->velocity_z[k] = scale * b * s->z[k];
        s->r[k] += s->velocity_r[k];
        s->z[k] += s->velocity_z[k];
    }
    zones_update(&body.model, s, 1);
    double volume = elastic.lame * (2 * a + b), hoop = volume + 2 * elastic.shear * a,
           axial = volume + 2 * elastic.shear * b, size = fabs(hoop) + fabs(axial);
    struct patch worst = {0};
    for (size_t j = 0; j < PATCH; j++) {
        for (size_t i = 0; i < PATCH; i++) {
            size_t k = body_node(&body, i, j);
            double n = -s->stress[FOAM_NORMAL][k] / scale, t = -s->stress[FOAM_ALONG][k] / scale;
            double h = -s->stress[FOAM_HOOP][k] / scale, x = -s->stress[FOAM_SHEAR][k] / scale;
            double departure =
                fabs(h - hoop) + fabs(n + t - hoop - axial) + fabs(hypot(n - t, 2 * x) - fabs(hoop - axial));
            worst.stress = fmax(worst.stress, departure / size);
            double area = i ? 2 * M_PI * s->r[k] * 0.01 : M_PI * 0.005 * 0.005;
            double force = i ? hypot(s->force_r[k], s->force_z[k]) : fabs(s->force_z[k]);
            if (j > 0)
                worst.force = fmax(worst.force, force / scale / (size * area));
        }
    }
    body_free(&body);
    return worst;
}

Test(zones_body, uniform_strain_on_a_distorted_mesh)
{
    const double strain[][2] = {{1, 0}, {0, 1}, {0.3, -1}};
    for (int n = 0; n < 3; n++) {
        struct patch worst = strained(strain[n][0], strain[n][1]);
        limit("patch test: stress of a zone, share off", worst.stress, 1e-5);
        limit("patch test: force on an inner node over stress x area", worst.force, 1e-5);
    }
}

/* --- spherical symmetry --- */

static const double ball_outer = 0.13, ball_inner = 0.10;

/* A quarter of a hollow ball, row 0 outside, from the axis to the equator. */
struct quarter {
    size_t rings, rows;
};

static void ball_map(void *context, size_t i, size_t j, double *r, double *z)
{
    const struct quarter *quarter = context;
    double phi = 0.5 * M_PI * (double)i / (double)(quarter->rings - 1);
    double radius = ball_outer + (ball_inner - ball_outer) * (double)j / (double)quarter->rows;
    int equator = i + 1 == quarter->rings;
    *r = i == 0 ? 0 : equator ? radius : radius * sin(phi);
    *z = equator ? 0 : -radius * cos(phi);
}

/* Pressure on the outside as it is now: minus p times the derivative of the ball's volume, which is pi/3 sum
 * of (z_b - z_a) (r_a^2 + r_a r_b + r_b^2) over its edges. */
static void press_outside(struct body *body, size_t rings, double p)
{
    struct zones_state *s = &body->state;
    const double *r = s->r, *z = s->z, third = p * M_PI / 3;
    for (size_t a = 0, b = 1; b < rings; a++, b++) {
        double square = r[a] * r[a] + r[a] * r[b] + r[b] * r[b];
        s->force_r[a] -= third * (z[b] - z[a]) * (2 * r[a] + r[b]);
        s->force_r[b] -= third * (z[b] - z[a]) * (r[a] + 2 * r[b]);
        s->force_z[a] += third * square;
        s->force_z[b] -= third * square;
    }
}

struct ball {
    double unround; /* largest difference of the ways within a row, over the way of the outside */
    double shrunk;  /* way of the outside over the thickness */
    double strain;  /* largest 1 - V/V0 */
};

static struct ball look_at(const struct body *body, const struct quarter *quarter)
{
    double way = 0, spread = 0;
    for (size_t j = 0; j <= quarter->rows; j++) {
        double low = INFINITY, high = -INFINITY;
        for (size_t i = 0; i < quarter->rings; i++) {
            size_t k = body_node(body, i, j);
            double radius = hypot(body->state.r[k], body->state.z[k]);
            low = fmin(low, radius), high = fmax(high, radius);
        }
        spread = fmax(spread, high - low);
        way = j == 0 ? ball_outer - 0.5 * (low + high) : way;
    }
    return (struct ball){spread / way, way / (ball_outer - ball_inner), body->bounds.largest_strain};
}

/* The ball under the pressure p [Pa] for `time` [s], hollow or on a rigid head. */
static struct ball press_ball(const struct foam *foam, size_t rows, double p, double time, int on_head)
{
    struct quarter quarter = {2 * rows + 1, rows};
    struct body body = body_make(&(struct body_setup){.rings = quarter.rings,
                                                      .rows = rows,
                                                      .map = ball_map,
                                                      .context = &quarter,
                                                      .foam = foam,
                                                      .viscosity_linear = 0.06,
                                                      .viscosity_quadratic = 1.2,
                                                      .hourglass = 0.1,
                                                      .fold = 1});
    for (size_t j = 0; j <= rows; j++)
        body.held[body_node(&body, quarter.rings - 1, j)] |= BODY_HOLD_Z;
    for (size_t i = 0; on_head && i < quarter.rings; i++)
        body.held[body_node(&body, i, rows)] = BODY_HOLD_R | BODY_HOLD_Z;
    while (body.time < time) {
        double dt = fmin(body_step_limit(&body, 0.5), 2e-6);
        press_outside(&body, quarter.rings, p);
        body_step(&body, dt, dt);
        cr_assert(body.bounds.tangled == body.model.count, "tangled at %g s", body.time);
    }
    struct ball ball = look_at(&body, &quarter);
    body_free(&body);
    return ball;
}

/* What symmetry forbids, and only the mesh does: within the 1 % that V7 is held to, at one size of zones and
 * at half of it. */
static void stays_round(const char *what, double p, double time, int on_head)
{
    struct foam_parameters plain = foams_plain(50, 0.44e6, 101325, 20e6);
    struct foam foam = foams_make(&plain);
    for (size_t rows = 12; rows <= (SANITIZED ? 12 : 24); rows *= 2) {
        struct ball ball = press_ball(&foam, rows, p, time, on_head);
        printf(
            "figure: %s, %zu rows: outside moved by %.2f of the thickness, largest crush %.2f, ways of a row "
            "apart by %.2g of it (at most 0.01)\n",
            what, rows, ball.shrunk, ball.strain, ball.unround);
        cr_expect(ball.unround <= 0.01, "%s: ways of a row apart by %g", what, ball.unround);
        cr_expect(ball.strain > 0.05, "the foam is hardly crushed");
    }
    foam_free(&foam);
}

/* The collapse stress is 0.44 MPa: under 0.5 MPa that come at once the ball on a head is crushed through its
 * whole thickness, against the gas. The hollow one, 0.2 MPa times 130/(2 x 30) along its walls on the mean,
 * is crushed in both directions of its surface; stopped before walls of no hardening buckle, as they must. */
Test(zones_body, a_ball_of_foam_under_pressure_stays_round)
{
    stays_round("ball of foam on a rigid head", 0.5e6, 0.5e-3, 1);
    stays_round("hollow ball of foam", 0.2e6, 0.3e-3, 0);
}
