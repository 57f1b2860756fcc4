/*
 * Zones of linear elastic foam as a solid: a manufactured solution, and two contacts in closed form.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>

#include "solver/base/memory.h"
#include "tests/support/body.h"
#include "tests/support/elastic.h"

/* Sanitized builds are twenty times slower: coarse meshes there, same limits where they hold. */
#if defined(__SANITIZE_ADDRESS__)
enum { QUICK = 1 };
#else
enum { QUICK = 0 };
#endif

static void limit(const char *what, double value, double most)
{
    printf("figure: %s %.3g (at most %.3g)\n", what, value, most);
    cr_expect(fabs(value) <= most, "%s: %g, at most %g", what, value, most);
}

/* --- manufactured solution --- */

/*
 * u = U r c T, w = W s T with c = cos kz, s = sin kz, T = cos qt on a cylinder, regular at the axis. Strains
 * e_rr = e_hh = U c T, e_zz = W k c T, 2 e_rz = -U r k s T; stresses s_rr = s_hh = (lambda (2 U + W k) + 2 G
 * U) c T, s_zz = (lambda (2 U + W k) + 2 G W k) c T, s_rz = -G U r k s T. What rho u'' = div s + b then asks
 * for: b_r = (G k^2 - rho q^2) U r c T, b_z = (-rho q^2 W + 2 G U k + k (lambda (2 U + W k) + 2 G W k)) s T.
 */
struct made {
    double side, k, q, u, w;
    struct elastic elastic;
    int zones;
};

static void made_map(void *context, size_t i, size_t j, double *r, double *z)
{
    const struct made *made = context;
    *r = made->side * (double)i / made->zones;
    *z = made->side * ((double)j / made->zones - 0.3);
}

static void made_displacement(const struct made *m, double r, double z, double t, double u[2])
{
    u[0] = m->u * r * cos(m->k * z) * cos(m->q * t);
    u[1] = m->w * sin(m->k * z) * cos(m->q * t);
}

static void push_by_body_force(const struct made *m, struct body *body, double t)
{
    double g = m->elastic.shear, lame = m->elastic.lame, rho = m->elastic.foam.density, k = m->k;
    double by_r = (g * k * k - rho * m->q * m->q) * m->u * cos(m->q * t);
    double by_z = (-rho * m->q * m->q * m->w + 2 * g * m->u * k +
                   k * (lame * (2 * m->u + m->w * k) + 2 * g * m->w * k)) *
                  cos(m->q * t);
    for (size_t n = 0; n < body_nodes(body); n++) {
        double volume = body->model.mass[n] / rho, r = body->model.first_r[n], z = body->model.first_z[n];
        body->state.force_r[n] += volume * by_r * r * cos(k * z);
        body->state.force_z[n] += volume * by_z * sin(k * z);
    }
}

/* Velocities that lead nodes along the solution from t to t + dt; held ones only, or all. */
static void lead(const struct made *m, struct body *body, double t, double dt, int all)
{
    for (size_t n = 0; n < body_nodes(body); n++) {
        double now[2], next[2], r = body->model.first_r[n], z = body->model.first_z[n];
        if (body->model.mass[n] <= 0 || !(all || body->held[n] & BODY_HOLD_Z))
            continue;
        made_displacement(m, r, z, t, now);
        made_displacement(m, r, z, t + dt, next);
        body->state.velocity_r[n] = (next[0] - now[0]) / dt;
        body->state.velocity_z[n] = (next[1] - now[1]) / dt;
    }
}

static void start_displaced(const struct made *m, struct body *body)
{
    struct zones_state *s = &body->state;
    for (size_t n = 0; n < body_nodes(body); n++) {
        double u[2];
        made_displacement(m, s->r[n], s->z[n], 0, u);
        s->velocity_r[n] = u[0], s->velocity_z[n] = u[1];
        s->r[n] += u[0], s->z[n] += u[1];
    }
    body->bounds = zones_update(&body->model, s, 1);
}

static double error_of(const struct made *m, const struct body *body, double t)
{
    double wrong = 0, whole = 0;
    for (size_t n = 0; n < body_nodes(body); n++) {
        double u[2], r = body->model.first_r[n], z = body->model.first_z[n], mass = body->model.mass[n];
        made_displacement(m, r, z, t, u);
        double dr = body->state.r[n] - r - u[0], dz = body->state.z[n] - z - u[1];
        wrong += mass * (dr * dr + dz * dz);
        whole += mass * (u[0] * u[0] + u[1] * u[1]);
    }
    return sqrt(wrong / whole);
}

/* L2 error of the displacements at q t = 1, over that of the displacements at that time. */
static double manufactured(int zones)
{
    struct made m = {.side = 0.1, .k = 25, .u = 1e-6, .w = 0.7e-7, .zones = zones};
    m.elastic = elastic_make(20e6, 0.2, 50);
    m.q = 0.8 * m.k * sqrt(20e6 / 50.0);
    struct body body = body_make(&(struct body_setup){.rings = (size_t)zones + 1,
                                                      .rows = (size_t)zones,
                                                      .map = made_map,
                                                      .context = &m,
                                                      .foam = &m.elastic.foam,
                                                      .hourglass = 0.1});
    for (size_t j = 0; j <= (size_t)zones; j++)
        body.held[body_node(&body, (size_t)zones, j)] = BODY_HOLD_R | BODY_HOLD_Z;
    for (size_t i = 0; i <= (size_t)zones; i++)
        body.held[body_node(&body, i, 0)] = body.held[body_node(&body, i, (size_t)zones)] =
            BODY_HOLD_R | BODY_HOLD_Z;
    start_displaced(&m, &body);
    int steps = (int)ceil(1 / m.q / body_step_limit(&body, 0.5));
    double dt = 1 / m.q / steps;
    lead(&m, &body, -dt, dt, 1);
    for (int n = 0; n < steps; n++) {
        push_by_body_force(&m, &body, n * dt);
        lead(&m, &body, n * dt, dt, 0);
        body_step(&body, dt, dt);
    }
    double error = error_of(&m, &body, 1 / m.q);
    body_free(&body);
    return error;
}

Test(zones_solid, manufactured_solution)
{
    double coarse = manufactured(10), middle = manufactured(20), fine = manufactured(40);
    limit("manufactured solution, 40 x 40 zones: error of the displacements", fine, 1e-3);
    limit("order from 10 to 20 zones a side, less 2", log2(coarse / middle) - 2, 0.1);
    limit("order from 20 to 40 zones a side, less 2", log2(middle / fine) - 2, 0.1);
}

/* --- graded blocks --- */

enum { MOST_LINES = 160 };

/* Lines along r from the axis and along z from the top down to a bottom at z = -size. */
struct block {
    double r[MOST_LINES], z[MOST_LINES];
    size_t rings, rows;
};

static void block_map(void *context, size_t i, size_t j, double *r, double *z)
{
    const struct block *block = context;
    *r = block->r[i];
    *z = -block->z[block->rows - j];
}

/* Lines from `from` with a first step that grows by `ratio`, up to `to` exactly; how many were added. */
static size_t add_lines(double *line, size_t count, double to, double step, double ratio)
{
    double from = line[count - 1], span = to - from;
    size_t more = (size_t)ceil(ratio > 1 ? log(1 + span * (ratio - 1) / step) / log(ratio) : span / step);
    double sum = 0, part = 1;
    cr_assert(count + more <= MOST_LINES);
    for (size_t n = 0; n < more; n++, part *= ratio)
        sum += part;
    part = 1;
    for (size_t n = 0; n < more; n++, part *= ratio)
        line[count + n] = line[count + n - 1] + span * part / sum;
    line[count + more - 1] = to;
    return count + more;
}

static struct body block_body(struct block *block, const struct elastic *elastic)
{
    struct body body = body_make(&(struct body_setup){.rings = block->rings,
                                                      .rows = block->rows,
                                                      .map = block_map,
                                                      .context = block,
                                                      .foam = &elastic->foam,
                                                      .hourglass = 0.1});
    for (size_t i = 0; i < block->rings; i++)
        body.held[body_node(&body, i, 0)] |= BODY_HOLD_Z;
    return body;
}

/* V13. Boussinesq's rigid punch on a half-space, its face free to slide: the surface sinks by w under the
 * pressure p(r) = P / (2 pi a sqrt(a^2 - r^2)). At the middle, w = (1 - nu^2)/(pi E) int p/r dA = (1 -
 * nu^2)/(pi E) x P/a int_0^a dr / sqrt(a^2 - r^2) = P (1 - nu^2)/(2 a E). The block is 40 radii wide and
 * deep. */
static double flat_punch(double finest, double ratio)
{
    double a = 0.01, w = 1e-5, size = 40 * a;
    struct elastic elastic = elastic_make(20e6, 0.1, 50);
    struct block block = {.rings = 1, .rows = 1};
    block.rings = add_lines(block.r, 1, a, finest, ratio);
    for (size_t i = 0; i < block.rings / 2; i++) {
        double other = a - block.r[block.rings - 1 - i];
        block.r[block.rings - 1 - i] = a - block.r[i];
        block.r[i] = other;
    }
    if (block.rings % 2)
        block.r[block.rings / 2] = a - block.r[block.rings / 2];
    size_t edge = block.rings - 1;
    block.rings = add_lines(block.r, block.rings, size, finest, ratio);
    block.rows = add_lines(block.z, 1, size, finest, ratio) - 1;
    struct body body = block_body(&block, &elastic);
    size_t nodes = body_nodes(&body), top = block.rows;
    double *u = memory_zeroed(2 * nodes, sizeof *u), force = 0;
    cr_assert(u);
    for (size_t i = 0; i <= edge; i++) {
        body.held[body_node(&body, i, top)] |= BODY_HOLD_Z;
        u[nodes + body_node(&body, i, top)] = -w;
    }
    double scale = body_static(&body, NULL, NULL, u, u + nodes, 1e-7);
    for (size_t i = 0; i <= edge; i++)
        force += body.state.force_z[body_node(&body, i, top)] / scale;
    memory_free(u);
    body_free(&body);
    return force / (2 * a * 20e6 * w / (1 - 0.01)) - 1;
}

Test(zones_solid, flat_punch)
{
    limit("V13 flat punch: force over 2 a E w/(1 - nu^2), less 1",
          QUICK ? flat_punch(0.01 / 32, 1.35) : flat_punch(0.01 / 64, 1.15), 0.03);
}

/* V8. A rigid sphere of mass m and radius R strikes an elastic half-space at v. Hertz: F = 4/3 E* sqrt(R)
 * d^1.5 with E* = E/(1 - nu^2). From m v^2/2 = int F dd = 8/15 E* sqrt(R) D^2.5 follows the largest approach
 * D; with d' = v sqrt(1 - (d/D)^2.5) the contact lasts 2 D/v int_0^1 dx / sqrt(1 - x^2.5) = 2.94327 D/v. */
struct hertz {
    double approach, force, time;
};

static struct hertz hertz_exact(double mass, double radius, double v, double young, double poisson)
{
    double stiff = young / (1 - poisson * poisson) * sqrt(radius);
    double d = pow(15.0 / 16.0 * mass * v * v / stiff, 0.4);
    return (struct hertz){d, 4.0 / 3.0 * stiff * pow(d, 1.5), 2.94327 * d / v};
}

/* The sphere presses nodes of the top by a penalty of a quarter of m/dt^2, along z: no friction. */
static double press_sphere(struct body *body, const struct block *block, double radius, double bottom,
                           double dt)
{
    double force = 0;
    for (size_t i = 0; i < block->rings; i++) {
        size_t n = body_node(body, i, block->rows);
        double r = body->state.r[n];
        double depth = r < radius ? body->state.z[n] - (bottom + radius - sqrt(radius * radius - r * r)) : -1;
        double push = depth > 0 ? 0.25 * body->model.mass[n] / (dt * dt) * depth : 0;
        body->state.force_z[n] -= push;
        force += push;
    }
    return force;
}

/* Nodes that come to lie on the sphere make the force ripple by a quarter, as their penalties have no
 * damping; the largest force is that of means over a fortieth of the contact, which take 0.03 % off a sine.
 */
#define MEAN_TIME 0.25e-3

static struct hertz hertz_by_zones(double v, double reach, double finest)
{
    double radius = 0.1, mass = 5, bottom = 0, speed = -v;
    struct elastic elastic = elastic_make(20e6, 0.1, 50);
    struct block block = {.rings = 1, .rows = 1};
    block.rings = add_lines(block.r, 1, 1.3 * reach, finest, 1);
    block.rings = add_lines(block.r, block.rings, 20 * reach, finest, 1.15);
    block.rows = add_lines(block.z, 1, 0.5 * reach, finest, 1);
    block.rows = add_lines(block.z, block.rows, 20 * reach, finest, 1.15) - 1;
    struct body body = block_body(&block, &elastic);
    struct hertz seen = {0};
    double dt = body_step_limit(&body, 0.4), force = 0, impulse = 0, since = 0;
    while (bottom < 0 || seen.approach == 0) {
        body_step(&body, dt, dt);
        speed += force / mass * dt;
        bottom += speed * dt;
        force = press_sphere(&body, &block, radius, bottom, dt);
        seen.approach = fmax(seen.approach, -bottom);
        seen.time += force > 0 ? dt : 0;
        impulse += force * dt;
        since += dt;
        if (since >= MEAN_TIME) {
            seen.force = fmax(seen.force, impulse / since);
            impulse = since = 0;
        }
    }
    body_free(&body);
    return seen;
}

Test(zones_solid, sphere_on_half_space)
{
    double v = 1;
    struct hertz exact = hertz_exact(5, 0.1, v, 20e6, 0.1);
    double reach = sqrt(exact.approach * 0.1);
    struct hertz seen = hertz_by_zones(v, reach, reach / (QUICK ? 8 : 16));
    printf("figure: V8 sphere: approach %.4f mm (closed form %.4f), force %.1f N (%.1f), %.3f ms (%.3f)\n",
           1e3 * seen.approach, 1e3 * exact.approach, seen.force, exact.force, 1e3 * seen.time,
           1e3 * exact.time);
    limit("V8 largest approach, share off", seen.approach / exact.approach - 1, 0.03);
    limit("V8 largest force, share off", seen.force / exact.force - 1, 0.03);
    limit("V8 time of contact, share off", seen.time / exact.time - 1, 0.03);
}
