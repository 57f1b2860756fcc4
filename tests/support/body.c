#include "tests/support/body.h"

#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "solver/base/memory.h"

static void *taken(size_t count, size_t size)
{
    void *block = memory_zeroed(count, size);
    cr_assert(block, "out of memory");
    return block;
}

size_t body_nodes(const struct body *body)
{
    return body->model.count + body->model.stride;
}

size_t body_node(const struct body *body, size_t i, size_t j)
{
    return j * body->model.stride + i;
}

struct body body_make(const struct body_setup *setup)
{
    struct body body = {0};
    size_t rings = setup->rings, rows = setup->rows, nodes = rings * (rows + 1);
    double *r = taken(nodes, sizeof *r), *z = taken(nodes, sizeof *z);
    for (size_t k = 0; k < nodes; k++)
        setup->map(setup->context, k % rings, k / rings, &r[k], &z[k]);
    size_t zones = (rings - 1) * rows, stride = zones_stride(rings);
    int *zone = taken(zones, sizeof *zone);
    double *share = taken(zones, sizeof *share);
    for (size_t k = 0; k < zones; k++) {
        zone[k] = (int)(k / (rings - 1) * stride + k % (rings - 1));
        share[k] = 1;
    }
    struct zones_block block = {.foam = setup->foam, .count = zones, .zone = zone, .share = share};
    struct zones_setup zones_setup = {.rings = rings,
                                      .rows = rows,
                                      .r = r,
                                      .z = z,
                                      .block_count = 1,
                                      .blocks = &block,
                                      .viscosity_linear = setup->viscosity_linear,
                                      .viscosity_quadratic = setup->viscosity_quadratic,
                                      .hourglass = setup->hourglass,
                                      .fold = setup->fold};
    cr_assert(zones_model_make(&zones_setup, &body.model) && zones_state_make(&body.model, &body.state));
    memory_free(r), memory_free(z), memory_free(zone), memory_free(share);
    body.held = taken(body_nodes(&body), 1);
    for (size_t j = 0; j <= rows; j++)
        body.held[body_node(&body, 0, j)] = BODY_HOLD_R;
    body.bounds = zones_update(&body.model, &body.state, 1e-9);
    return body;
}

void body_free(struct body *body)
{
    zones_state_free(&body->state);
    zones_model_free(&body->model);
    memory_free(body->held);
    *body = (struct body){0};
}

double body_step_limit(const struct body *body, double courant)
{
    return courant / body->bounds.frequency;
}

void body_step(struct body *body, double dt_velocity, double dt)
{
    struct zones_state *s = &body->state;
    for (size_t k = 0; k < body_nodes(body); k++) {
        if (body->held[k] & BODY_HOLD_R)
            s->force_r[k] = 0;
        if (body->held[k] & BODY_HOLD_Z)
            s->force_z[k] = 0;
    }
    zones_move(&body->model, s, 0, dt_velocity, dt);
    body->time += dt;
    body->bounds = zones_update(&body->model, s, dt);
}

double body_energy(const struct body *body, double dt_velocity)
{
    const struct zones_model *model = &body->model;
    const struct zones_state *state = &body->state;
    return zones_kinetic(model, state, 0, dt_velocity) + zones_stored(model, state) +
           zones_sprung(model, state) + zones_artificial(model, state) + zones_absorbed(model, state, 0);
}

void body_reset(struct body *body)
{
    struct zones_model *model = &body->model;
    zones_state_free(&body->state);
    cr_assert(zones_state_make(model, &body->state));
    body->time = 0;
    body->bounds = zones_update(model, &body->state, 1e-9);
}

/* --- static answers --- */

/* Forces (2 x nodes) of the zones when the nodes move by scale x u, over the scale. */
static void pull(struct body *body, const double *u, double scale, double *force)
{
    size_t nodes = body_nodes(body);
    body_reset(body);
    struct zones_state *s = &body->state;
    for (size_t k = 0; k < nodes; k++) {
        s->velocity_r[k] = scale * u[k];
        s->velocity_z[k] = scale * u[nodes + k];
        s->r[k] += s->velocity_r[k];
        s->z[k] += s->velocity_z[k];
    }
    body->bounds = zones_update(&body->model, s, 1);
    for (size_t k = 0; k < nodes; k++) {
        force[k] = s->force_r[k] / scale;
        force[nodes + k] = s->force_z[k] / scale;
    }
}

static double largest_of(const double *u, size_t count)
{
    double largest = 0;
    for (size_t k = 0; k < count; k++)
        largest = fmax(largest, fabs(u[k]));
    return largest;
}

/* 1e-7 of the smallest zone's size over the largest displacement. */
static double small_scale(const struct body *body, const double *u)
{
    double finest = 0, largest = largest_of(u, 2 * body_nodes(body));
    for (size_t k = 0; k < body->model.count; k++)
        finest = fmax(finest, fmax(body->model.inverse_height[k], body->model.inverse_width[k]));
    return largest > 0 ? 1e-7 * 0.5 / finest / largest : 1;
}

static int is_free(const struct body *body, size_t k)
{
    size_t nodes = body_nodes(body);
    return body->model.mass[k % nodes] > 0 &&
           !(body->held[k % nodes] & (k < nodes ? BODY_HOLD_R : BODY_HOLD_Z));
}

/* Stiffness of a node against its neighbours: twice sum of V M/thickness^2 of its zones will do. */
static void precondition(const struct body *body, double *inverse)
{
    size_t nodes = body_nodes(body), stride = body->model.stride;
    for (size_t k = 0; k < body->model.count; k++) {
        if (body->model.live[k] <= 0)
            continue;
        const size_t at[] = {k, k + 1, k + stride + 1, k + stride};
        const double *r = body->model.first_r, *z = body->model.first_z;
        double a = hypot(r[at[2]] - r[at[0]], z[at[2]] - z[at[0]]);
        double area = 0.25 / (body->model.inverse_height[k] * body->model.inverse_width[k]);
        for (int c = 0; c < 4; c++) {
            inverse[at[c]] += body->model.volume[k] * a * a / (area * area);
            inverse[nodes + at[c]] = inverse[at[c]];
        }
    }
    for (size_t k = 0; k < 2 * nodes; k++)
        inverse[k] = is_free(body, k) ? 1 / inverse[k] : 0;
}

static double dot(const double *a, const double *b, size_t count)
{
    double sum = 0;
    for (size_t k = 0; k < count; k++)
        sum += a[k] * b[k];
    return sum;
}

double body_static(struct body *body, const double *load_r, const double *load_z, double *u_r, double *u_z,
                   double tolerance)
{
    size_t nodes = body_nodes(body), all = 2 * nodes;
    double *work = taken(6 * all, sizeof *work);
    double *u = work, *left = work + all, *way = work + 2 * all, *answer = work + 3 * all;
    double *inverse = work + 4 * all, *eased = work + 5 * all;
    memcpy(u, u_r, nodes * sizeof *u);
    memcpy(u + nodes, u_z, nodes * sizeof *u);
    precondition(body, inverse);
    pull(body, u, small_scale(body, u), left);
    for (size_t k = 0; k < nodes; k++) {
        left[k] += load_r ? load_r[k] : 0;
        left[nodes + k] += load_z ? load_z[k] : 0;
    }
    for (size_t k = 0; k < all; k++) {
        left[k] = is_free(body, k) ? left[k] : 0;
        eased[k] = way[k] = inverse[k] * left[k];
    }
    double now = dot(left, eased, all), end = now * tolerance * tolerance;
    int count = 0;
    for (; now > end && count < 20000; count++) {
        pull(body, way, small_scale(body, way), answer);
        for (size_t k = 0; k < all; k++)
            answer[k] = is_free(body, k) ? -answer[k] : 0;
        double along = now / dot(way, answer, all), before = now;
        for (size_t k = 0; k < all; k++) {
            u[k] += along * way[k];
            left[k] -= along * answer[k];
            eased[k] = inverse[k] * left[k];
        }
        now = dot(left, eased, all);
        for (size_t k = 0; k < all; k++)
            way[k] = eased[k] + now / before * way[k];
    }
    cr_assert(now <= end, "no convergence in %d iterations: %g", count, sqrt(now / end) * tolerance);
    double scale = small_scale(body, u);
    pull(body, u, scale, answer);
    memcpy(u_r, u, nodes * sizeof *u);
    memcpy(u_z, u + nodes, nodes * sizeof *u);
    memory_free(work);
    return scale;
}
