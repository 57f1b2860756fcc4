/*
 * Zones of linear elastic foam against closed forms. Displacements are of the order of 1e-7 of a zone, so
 * that the theory of small strain holds.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>

#include "solver/base/memory.h"
#include "tests/support/body.h"
#include "tests/support/elastic.h"
#include "tests/support/sanitized.h"

static void limit(const char *what, double value, double most)
{
    printf("figure: %s %.3g (at most %.3g)\n", what, value, most);
    cr_expect(fabs(value) <= most, "%s: %g, at most %g", what, value, most);
}

static double *doubles(size_t count)
{
    double *values = memory_zeroed(count, sizeof *values);
    cr_assert(values);
    return values;
}

/* --- plane wave --- */

struct bar {
    size_t rings, rows;
    double radius, length;
};

static void bar_map(void *context, size_t i, size_t j, double *r, double *z)
{
    const struct bar *bar = context;
    *r = bar->radius * (double)i / (double)(bar->rings - 1);
    *z = bar->length * (double)j / (double)bar->rows;
}

/* A bar whose side cannot move, struck at one end: uniaxial strain, so every row stays plane, with stress in
 * all directions. Distance of nodes from their row's mean, over the struck end's way. */
static double bulge(double poisson)
{
    struct bar bar = {9, 40, 0.02, 0.1};
    struct elastic elastic = elastic_make(20e6, poisson, 50);
    struct body body = body_make(&(struct body_setup){
        .rings = 9, .rows = 40, .map = bar_map, .context = &bar, .foam = &elastic.foam, .hourglass = 0.1});
    for (size_t j = 0; j <= bar.rows; j++)
        body.held[body_node(&body, 8, j)] = BODY_HOLD_R;
    for (size_t i = 0; i < bar.rings; i++) {
        body.held[i] |= BODY_HOLD_Z;
        body.state.velocity_z[i] = 1e-6;
    }
    double dt = body_step_limit(&body, 0.7), worst = 0, way = 0;
    for (int step = 0; step < 60; step++) {
        body_step(&body, dt, dt);
        way += 1e-6 * dt;
        for (size_t j = 0; j <= bar.rows; j++)
            for (size_t i = 1; i < bar.rings; i++)
                worst = fmax(
                    worst, fabs(body.state.z[body_node(&body, i, j)] - body.state.z[body_node(&body, 0, j)]));
    }
    body_free(&body);
    return worst / way;
}

Test(zones_elastic, a_plane_wave_stays_plane)
{
    limit("plane wave, nu 0: rows bulge by share of the way", bulge(0), 1e-6);
    limit("plane wave, nu 0.3: rows bulge by share of the way", bulge(0.3), 1e-6);
}

/* --- thick sphere, V7 --- */

struct sphere {
    size_t rings, rows;
    double inner, outer;
};

static void sphere_map(void *context, size_t i, size_t j, double *r, double *z)
{
    const struct sphere *s = context;
    double phi = 0.5 * M_PI * (double)i / (double)(s->rings - 1);
    double radius = s->outer + (s->inner - s->outer) * (double)j / (double)s->rows;
    *r = i + 1 == s->rings ? radius : radius * sin(phi);
    *z = i + 1 == s->rings ? 0 : -radius * cos(phi);
    *r = i ? *r : 0;
}

/* Pressure p on the last row: p times the derivative of the cavity's volume, which is pi/3 sum of
 * |(z_b - z_a)| (r_a^2 + r_a r_b + r_b^2) over its edges. */
static void press_inside(const struct body *body, const struct sphere *s, double p, double *fr, double *fz)
{
    const double *r = body->model.first_r, *z = body->model.first_z;
    for (size_t i = 0; i + 1 < s->rings; i++) {
        size_t a = body_node(body, i, s->rows), b = a + 1;
        double square = r[a] * r[a] + r[a] * r[b] + r[b] * r[b], third = p * M_PI / 3;
        fr[a] += third * (z[b] - z[a]) * (2 * r[a] + r[b]);
        fr[b] += third * (z[b] - z[a]) * (r[a] + 2 * r[b]);
        fz[a] -= third * square;
        fz[b] += third * square;
    }
}

/* Lame: u = A r + B/r^2 with s_rr(a) = -p, s_rr(b) = 0, s_rr = (3 lambda + 2 G) A - 4 G B/r^3. */
static double lame(const struct elastic *e, double a, double b, double p, double r, double *srr, double *stt)
{
    double bulk = 3 * e->lame + 2 * e->shear, a3 = a * a * a, b3 = b * b * b, r3 = r * r * r;
    double A = p * a3 / (b3 - a3) / bulk, B = p * a3 * b3 / (b3 - a3) / (4 * e->shear);
    *srr = bulk * A - 4 * e->shear * B / r3;
    *stt = bulk * A + 2 * e->shear * B / r3;
    return A * r + B / (r * r);
}

struct sphere_answer {
    double inner, outer, unround, stress_rr, stress_tt; /* relative errors */
};

static struct sphere_answer thick_sphere(size_t rings, size_t rows, double poisson)
{
    struct sphere s = {rings, rows, 0.1, 0.13};
    struct elastic elastic = elastic_make(2e9, poisson, 1000);
    struct body body = body_make(&(struct body_setup){.rings = rings,
                                                      .rows = rows,
                                                      .map = sphere_map,
                                                      .context = &s,
                                                      .foam = &elastic.foam,
                                                      .hourglass = 0.1});
    for (size_t j = 0; j <= rows; j++)
        body.held[body_node(&body, rings - 1, j)] = BODY_HOLD_Z;
    size_t nodes = body_nodes(&body);
    double *f = doubles(4 * nodes), *u = f + 2 * nodes, p = 1e6;
    press_inside(&body, &s, p, f, f + nodes);
    double scale = body_static(&body, f, f + nodes, u, u + nodes, 1e-8);
    struct sphere_answer answer = {0};
    double srr, stt;
    for (int side = 0; side < 2; side++) {
        double radius = side ? s.outer : s.inner,
               exact = lame(&elastic, s.inner, s.outer, p, radius, &srr, &stt);
        double mean = 0, low = INFINITY, high = -INFINITY;
        for (size_t i = 0; i < rings; i++) {
            size_t k = body_node(&body, i, side ? 0 : rows);
            double way = (u[k] * body.model.first_r[k] + u[nodes + k] * body.model.first_z[k]) / radius;
            mean += way / (double)rings;
            low = fmin(low, way), high = fmax(high, way);
        }
        *(side ? &answer.outer : &answer.inner) = mean / exact - 1;
        answer.unround = fmax(answer.unround, (high - low) / mean);
    }
    /* stress in the zones of the middle row: their centres are at 115 mm */
    for (size_t i = 0; i + 1 < rings; i++) {
        size_t k = body_node(&body, i, rows / 2);
        double middle = s.outer + (s.inner - s.outer) * ((double)(rows / 2) + 0.5) / (double)rows;
        lame(&elastic, s.inner, s.outer, p, middle, &srr, &stt);
        answer.stress_rr = fmax(answer.stress_rr, fabs(-body.state.stress[FOAM_NORMAL][k] / scale / srr - 1));
        answer.stress_tt = fmax(answer.stress_tt, fabs(-body.state.stress[FOAM_ALONG][k] / scale / stt - 1));
        answer.stress_tt = fmax(answer.stress_tt, fabs(-body.state.stress[FOAM_HOOP][k] / scale / stt - 1));
    }
    memory_free(f);
    body_free(&body);
    return answer;
}

Test(zones_elastic, thick_sphere_under_pressure)
{
    struct sphere_answer a = thick_sphere(25, 11, 0.3);
    limit("V7 u(a) error", a.inner, 0.01);
    limit("V7 u(b) error", a.outer, 0.01);
    limit("V7 departure from spherical symmetry", a.unround, 0.01);
    limit("V7 s_rr in the middle, worst zone", a.stress_rr, 0.01);
    limit("V7 s_tt in the middle, worst zone", a.stress_tt, 0.01);
}
