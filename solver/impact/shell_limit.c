#include <math.h>

#include "solver/base/memory.h"
#include "solver/impact/shell.h"

/*
 * Bound on the largest frequency: the largest row sum of |M^-1/2 K M^-1/2| (Gershgorin). For a bar and for a
 * beam of equal segments the row sums are the exact limits 4 k/m and 16 D/(m h^3). The rows are taken in the
 * meridional and normal direction of each node: in r and z a slope of 45 deg would double them.
 *
 * K is built from the gradients of the strain measures, which reach over three nodes, so it has five
 * entries beside the diagonal on each side.
 */

enum { SPREAD = 5, BAND = 2 * SPREAD + 1, MEASURE_NODES = 3 };

/* Gradient of a strain measure by (r, z) of three nodes in a row. */
struct gradient {
    double by[2 * MEASURE_NODES];
};

struct stiffness {
    const struct shell_model *model;
    double *band;    /* (2 node_count x BAND) */
    double *normals; /* (2 node_count) unit normal of each node */
};

/* Unit direction (cosine, sine) of a segment in the first shape. */
static void direction(const struct shell_model *model, const double *r, const double *z, size_t j,
                      double unit[2])
{
    unit[0] = (r[j + 1] - r[j]) * model->inverse_length[j];
    unit[1] = (z[j + 1] - z[j]) * model->inverse_length[j];
}

static void find_normals(struct stiffness *stiffness, const double *r, const double *z)
{
    const struct shell_model *model = stiffness->model;
    for (size_t i = 0; i < model->node_count; i++) {
        double before[2], after[2];
        direction(model, r, z, i > 0 ? i - 1 : 0, before);
        direction(model, r, z, i < model->segment_count ? i : i - 1, after);
        int pole = model->inverse_node_radius[i] == 0.0;
        double along = pole ? 1.0 : before[0] + after[0], up = pole ? 0.0 : before[1] + after[1];
        double size = sqrt(along * along + up * up);
        stiffness->normals[2 * i] = size > 0.0 ? -up / size : 0.0;
        stiffness->normals[2 * i + 1] = size > 0.0 ? along / size : 1.0;
    }
}

/* Turns a gradient over nodes first .. first + 2 into meridional and normal parts. The axis holds a pole. */
static void turn_gradient(const struct stiffness *stiffness, size_t first, struct gradient *gradient)
{
    for (size_t m = 0; m < MEASURE_NODES; m++) {
        size_t node = first + m;
        if (node >= stiffness->model->node_count)
            continue;
        double normal_r = stiffness->normals[2 * node], normal_z = stiffness->normals[2 * node + 1];
        double pole = stiffness->model->inverse_node_radius[node] == 0.0 ? 0.0 : 1.0;
        double by_r = gradient->by[2 * m] * pole, by_z = gradient->by[2 * m + 1];
        gradient->by[2 * m] = normal_z * by_r - normal_r * by_z;
        gradient->by[2 * m + 1] = normal_r * by_r + normal_z * by_z;
    }
}

/* Adds the energy (s g_s^2 + 2 st g_s g_t + t g_t^2)/2 of two measures over nodes first .. first + 2. */
static void add_energy(struct stiffness *stiffness, size_t first, double s, double st, double t,
                       struct gradient by_s, struct gradient by_t)
{
    turn_gradient(stiffness, first, &by_s);
    turn_gradient(stiffness, first, &by_t);
    size_t nodes = stiffness->model->node_count - first;
    size_t unknowns = 2 * (nodes < MEASURE_NODES ? nodes : MEASURE_NODES);
    for (size_t a = 0; a < unknowns; a++) {
        double row_s = s * by_s.by[a] + st * by_t.by[a], row_t = st * by_s.by[a] + t * by_t.by[a];
        double *row = stiffness->band + (2 * first + a) * BAND;
        for (size_t b = 0; b < unknowns; b++)
            row[SPREAD + b - a] += row_s * by_s.by[b] + row_t * by_t.by[b];
    }
}

/* Adds `factor` times the gradient of a segment's angle; the segment's first node is entry `at`. */
static void add_angle(struct gradient *gradient, size_t at, const double unit[2], double factor)
{
    gradient->by[2 * at] += factor * unit[1];
    gradient->by[2 * at + 1] -= factor * unit[0];
    gradient->by[2 * at + 2] -= factor * unit[1];
    gradient->by[2 * at + 3] += factor * unit[0];
}

static void add_segment(struct stiffness *stiffness, const double *r, const double *z, size_t j)
{
    const struct shell_model *model = stiffness->model;
    double unit[2], along = model->inverse_length[j], hoop = 0.5 * model->inverse_radius[j];
    direction(model, r, z, j, unit);
    struct gradient by_s = {{-unit[0] * along, -unit[1] * along, unit[0] * along, unit[1] * along}};
    struct gradient by_t = {{hoop, 0.0, hoop, 0.0}};
    add_energy(stiffness, j, model->membrane_s[j], model->membrane_st[j], model->membrane_t[j], by_s, by_t);
}

static void add_node(struct stiffness *stiffness, const double *r, const double *z, size_t i)
{
    const struct shell_model *model = stiffness->model;
    double before[2], after[2], span = model->inverse_span[i], around = model->inverse_node_radius[i];
    direction(model, r, z, i - 1, before);
    direction(model, r, z, i, after);
    struct gradient by_s = {{0}}, by_t = {{0}};
    add_angle(&by_s, 0, before, -span * model->inverse_length[i - 1]);
    add_angle(&by_s, 1, after, span * model->inverse_length[i]);
    add_angle(&by_t, 0, before, around * model->weight_before[i] * before[0] * model->inverse_length[i - 1]);
    add_angle(&by_t, 1, after, around * model->weight_after[i] * after[0] * model->inverse_length[i]);
    add_energy(stiffness, i - 1, model->bending_s[i], model->bending_st[i], model->bending_t[i], by_s, by_t);
}

static void add_end(struct stiffness *stiffness, const double *r, const double *z, int last)
{
    const struct shell_model *model = stiffness->model;
    size_t j = last ? model->segment_count - 1 : 0, i = last ? model->node_count - 1 : 0;
    enum shell_end kind = last ? model->end : model->start;
    double unit[2], turning = model->inverse_length[j] * 2.0 * model->inverse_length[j];
    direction(model, r, z, j, unit);
    double hoop = unit[0] * model->inverse_length[j] * model->inverse_node_radius[i];
    double contracts = model->sheet.poisson * model->hoop_share[(size_t)last * model->stride + j];
    struct gradient by_s = {{0}}, by_t = {{0}};
    add_angle(&by_s, 0, unit, kind == SHELL_FREE ? -contracts * hoop : turning);
    add_angle(&by_t, 0, unit, kind == SHELL_FREE ? hoop : kind == SHELL_POLE ? turning : 0.0);
    add_energy(stiffness, j, model->bending_s[i], model->bending_st[i], model->bending_t[i], by_s, by_t);
}

/* Largest row sum of |M^-1/2 K M^-1/2|. */
static double largest_row(const struct stiffness *stiffness)
{
    const double *mass = stiffness->model->mass;
    size_t unknowns = 2 * stiffness->model->node_count;
    double largest = 0.0;
    for (size_t a = 0; a < unknowns; a++) {
        double sum = 0.0;
        for (size_t k = 0; k < BAND; k++) {
            size_t b = a + k - SPREAD;
            if (b < unknowns)
                sum += fabs(stiffness->band[a * BAND + k]) / sqrt(mass[a / 2] * mass[b / 2]);
        }
        largest = sum > largest ? sum : largest;
    }
    return largest;
}

double shell_frequency_bound(const struct shell_model *model, const double *r, const double *z)
{
    size_t unknowns = 2 * model->node_count;
    double *memory = memory_zeroed(unknowns * (BAND + 1), sizeof *memory);
    if (!memory)
        return -1.0;
    struct stiffness stiffness = {model, memory, memory + unknowns * BAND};
    find_normals(&stiffness, r, z);
    for (size_t j = 0; j < model->segment_count; j++)
        add_segment(&stiffness, r, z, j);
    for (size_t i = 1; i < model->segment_count; i++)
        add_node(&stiffness, r, z, i);
    add_end(&stiffness, r, z, 0);
    add_end(&stiffness, r, z, 1);
    double bound = sqrt(largest_row(&stiffness));
    memory_free(memory);
    return bound;
}
