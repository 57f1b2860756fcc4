#include "solver/impact/shear.h"

#include <math.h>

#include "solver/base/memory.h"
#include "solver/base/numeric.h"

static const double pi = 3.14159265358979323846;
static const double least_share = 1e-9;

/* 1 - sum 2^(n-1) c_n^2 over the arithmetic-geometric mean gives E/K (Abramowitz and Stegun 17.6.4). */
double shear_slip_weight(double phi)
{
    double sine = numeric_sin(phi), cosine = numeric_cos(phi);
    double a = 1.0, b = numeric_absolute(cosine), sum = 0.5 * sine * sine, power = 0.5;
    while (a - b > 1e-15 * a) {
        double c = 0.5 * (a - b), next = 0.5 * (a + b);
        b = sqrt(a * b);
        a = next;
        power *= 2.0;
        sum += power * c * c;
        if (b == 0.0)
            return 2.0 / pi;
    }
    return (1.0 - sum) / a;
}

/* --- model --- */

/* A region's foam between two shares of its thickness: what one cell takes from it. */
struct cut {
    double density;   /* mean [kg/m3] */
    double modulus;   /* of the layers in series [Pa] */
    double strength;  /* the least [Pa] */
    double base;      /* half the least plateau [Pa] */
    double by_push;   /* the least tan */
    int holds_border; /* between two layers */
};

static double least(double a, double b)
{
    return a < b ? a : b;
}

/* Adds the part [from, to] (shares of the thickness) that a layer has of a cell. */
static void add_layer(const struct liner_layer *layer, double part, struct cut *cut, double *compliance)
{
    double modulus = 0.0, strength = 0.0, plateau = 0.0, density = 0.0, friction = INFINITY;
    for (size_t p = 0; p < layer->part_count; p++) {
        const struct foam *foam = layer->parts[p].foam;
        double share = layer->parts[p].share;
        modulus += share * foam->shear_modulus;
        strength += share * foam->shear_strength;
        plateau += share * foam->plateau;
        density += share * foam->density;
        friction = least(friction, foam->shear_friction);
    }
    cut->density += part * density;
    *compliance += part / modulus;
    cut->strength = least(cut->strength, strength);
    cut->base = least(cut->base, 0.5 * plateau);
    cut->by_push = least(cut->by_push, friction);
}

static struct cut cut_region(const struct shear_region *region, double from, double to)
{
    struct cut cut = {.strength = INFINITY, .base = INFINITY, .by_push = INFINITY};
    double all = liner_thickness(region->layers, region->layer_count), outer = 0.0, compliance = 0.0;
    for (size_t l = 0; l < region->layer_count; l++) {
        double inner = l + 1 == region->layer_count ? 1.0 : outer + region->layers[l].thickness / all;
        double low = outer > from ? outer : from, high = inner < to ? inner : to;
        if (high - low > 1e-9)
            add_layer(&region->layers[l], (high - low) / (to - from), &cut, &compliance);
        cut.holds_border |= l > 0 && outer >= from && outer < to;
        outer = inner;
    }
    cut.modulus = 1.0 / compliance;
    return cut;
}

static double ring_angle(const struct shear_setup *setup, size_t i)
{
    return (double)i * setup->phi_max / (double)(setup->rings - 1);
}

static double solid_angle(const struct shear_setup *setup, size_t i)
{
    double half = 0.5 * setup->phi_max / (double)(setup->rings - 1), at = ring_angle(setup, i);
    double from = i == 0 ? 0.0 : at - half, to = i + 1 == setup->rings ? at : at + half;
    return 2.0 * pi * (numeric_cos(from) - numeric_cos(to));
}

/* Thickness of the foam on a ring and room inside it, the means of its regions; 0 where there is none. */
static double ring_thickness(const struct shear_setup *setup, size_t i, double *room)
{
    double thickness = 0.0, all = 0.0;
    *room = 0.0;
    for (size_t k = 0; k < setup->region_count; k++) {
        const struct shear_region *region = &setup->regions[k];
        double share = region->share[i];
        if (share <= least_share || region->layer_count == 0)
            continue;
        thickness += share * liner_thickness(region->layers, region->layer_count);
        *room += share * region->room;
        all += share;
    }
    *room = all > 0.0 ? *room / all : 0.0;
    return all > 0.0 ? thickness / all : 0.0;
}

/* One cell: from row j to j + 1 on ring i, `thickness` that of the ring. */
static void fill_cell(const struct shear_setup *setup, struct shear_model *model, size_t j, size_t i,
                      double thickness)
{
    double rows = (double)model->rows, from = (double)j / rows, to = ((double)j + 1.0) / rows;
    double phi = ring_angle(setup, i), cosine = numeric_cos(phi), square = 0.5 * (1.0 + cosine * cosine);
    double radius = setup->outer_radius - 0.5 * (from + to) * thickness, slip = model->slip_weight[i];
    double disc = radius * radius * solid_angle(setup, i), length = thickness / rows;
    size_t k = j * setup->rings + i;
    model->by_push[k] = INFINITY; /* the least of the regions */
    model->by_friction[k] = j == 0 ? slip * radius * setup->bond_friction : INFINITY;
    for (size_t g = 0; g < setup->region_count; g++) {
        const struct shear_region *region = &setup->regions[g];
        double area = region->share[i] * disc;
        if (region->share[i] <= least_share || region->layer_count == 0)
            continue;
        struct cut cut = cut_region(region, from, to);
        double half = 0.5 * area * length * cut.density * square * radius * radius;
        model->stiffness[k] += square * radius * radius * area * cut.modulus / length;
        model->strength[k] += slip * radius * area * cut.strength;
        model->base[k] += slip * radius * area * cut.base;
        model->by_push[k] = least(model->by_push[k], slip * radius * cut.by_push);
        if (cut.holds_border)
            model->by_friction[k] = least(model->by_friction[k], slip * radius * setup->slip_friction);
        model->mass += area * length * cut.density;
        model->inertia[k] += half;
        model->inertia[k + setup->rings] += half;
        if (j + 1 < model->rows)
            continue;
        model->inertia[k + setup->rings] += area * region->inner_mass * square * radius * radius;
        model->mass += area * region->inner_mass;
    }
}

/* Longest stable step: 2 over a bound of the largest frequency, that of every node's row of the matrix. */
static double longest_step(const struct shear_model *model)
{
    double most = 0.0;
    for (size_t k = model->rings; k < (model->rows + 1) * model->rings; k++) {
        double next = k < model->rows * model->rings ? model->stiffness[k] : 0.0;
        double bound = 2.0 * (model->stiffness[k - model->rings] + next);
        if (model->inertia[k] > 0.0 && bound / model->inertia[k] > most)
            most = bound / model->inertia[k];
    }
    return most > 0.0 ? 2.0 / sqrt(most) : INFINITY;
}

static void fill_rings(const struct shear_setup *setup, struct shear_model *model)
{
    for (size_t i = 0; i < setup->rings; i++) {
        double room, thickness = ring_thickness(setup, i, &room), phi = ring_angle(setup, i);
        model->slip_weight[i] = shear_slip_weight(phi);
        model->head_radius[i] =
            setup->outer_radius - thickness - room - setup->mismatch * (1.0 - numeric_cos(phi));
        for (size_t j = 0; j < model->rows && thickness > 0.0; j++)
            fill_cell(setup, model, j, i, thickness);
    }
}

static void invert(size_t count, const double *values, double *inverse)
{
    for (size_t k = 0; k < count; k++)
        inverse[k] = values[k] > 0.0 ? 1.0 / values[k] : 0.0;
}

enum status shear_model_make(const struct shear_setup *setup, struct shear_model *model)
{
    double thickest = 0.0, room;
    for (size_t i = 0; i < setup->rings; i++)
        thickest = fmax(thickest, ring_thickness(setup, i, &room));
    *model = (struct shear_model){.rings = setup->rings, .rows = (size_t)ceil(thickest / setup->cell)};
    if (model->rows < SHEAR_LEAST_ROWS)
        model->rows = SHEAR_LEAST_ROWS;
    size_t cells = model->rows * model->rings;
    double *next = model->memory = memory_zeroed(8 * cells + 4 * model->rings, sizeof *next);
    if (!next) {
        *model = (struct shear_model){0};
        return STATUS_MEMORY;
    }
    double **const arrays[] = {&model->stiffness, &model->strength,    &model->base,
                               &model->by_push,   &model->by_friction, &model->compliance};
    for (size_t a = 0; a < sizeof arrays / sizeof *arrays; a++, next += cells)
        *arrays[a] = next;
    model->inertia = next;
    model->inverse = next + cells + model->rings;
    model->slip_weight = model->inverse + cells + model->rings;
    model->head_radius = model->slip_weight + model->rings;
    fill_rings(setup, model);
    invert(cells, model->stiffness, model->compliance);
    invert(cells + model->rings, model->inertia, model->inverse);
    model->step = longest_step(model);
    return STATUS_OK;
}

void shear_model_free(struct shear_model *model)
{
    memory_free(model->memory);
    *model = (struct shear_model){0};
}

/* --- state --- */

enum status shear_state_make(const struct shear_model *model, struct shear_state *state)
{
    size_t cells = model->rows * model->rings, nodes = cells + model->rings;
    *state = (struct shear_state){.memory = memory_zeroed(2 * cells + 3 * nodes + 1, sizeof(double))};
    if (!state->memory)
        return STATUS_MEMORY;
    state->angle = state->memory;
    state->rate = state->angle + nodes;
    state->turned = state->rate + nodes;
    state->torque = state->turned + cells;
    state->dissipated = state->torque + cells;
    return STATUS_OK;
}

void shear_state_free(struct shear_state *state)
{
    memory_free(state->memory);
    *state = (struct shear_state){0};
}

/* A row of cells by elastic prediction and return to what the foam bears. Without branches: cells without
 * foam have neither stiffness nor limit; a bound by friction that is infinite gives no number with no push,
 * and then does not count. */
static void act_row(const struct shear_model *model, struct shear_state *state, size_t row,
                    const double *restrict push)
{
    size_t rings = model->rings, first = row * rings;
    const double *restrict outer = state->angle + first, *restrict inner = outer + rings;
    const double *restrict stiffness = model->stiffness + first, *restrict compliance =
                                                                     model->compliance + first;
    const double *restrict strength = model->strength + first, *restrict base = model->base + first;
    const double *restrict by_push = model->by_push + first, *restrict by_friction =
                                                                 model->by_friction + first;
    double *restrict turned = state->turned + first, *restrict torque = state->torque + first;
    double *restrict lost = state->dissipated;
    for (size_t i = 0; i < rings; i++) {
        double now = inner[i] - outer[i], change = now - turned[i], held = torque[i];
        double limit = base[i] + by_push[i] * push[i], slips = by_friction[i] * push[i];
        limit = limit < strength[i] ? limit : strength[i];
        limit = slips < limit ? slips : limit;
        double next = held + stiffness[i] * change;
        next = next > limit ? limit : next;
        next = next < -limit ? -limit : next;
        lost[i] += 0.5 * ((held + next) * change - (next * next - held * held) * compliance[i]);
        turned[i] = now;
        torque[i] = next;
    }
}

double shear_act(const struct shear_model *model, struct shear_state *state, const double *push)
{
    double sum = 0.0;
    for (size_t j = 0; j < model->rows; j++)
        act_row(model, state, j, push);
    for (size_t i = 0; i < model->rings; i++)
        sum += state->torque[i];
    return sum;
}

double shear_dissipated(const struct shear_model *model, const struct shear_state *state)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->rings; i++)
        sum += state->dissipated[i];
    return sum;
}

void shear_move(const struct shear_model *model, struct shear_state *state, double dt_velocity, double dt)
{
    size_t rings = model->rings, count = (model->rows - 1) * rings;
    const double *restrict outside = state->torque, *restrict inside = state->torque + rings;
    const double *restrict inverse = model->inverse + rings;
    double *restrict rate = state->rate + rings, *restrict angle = state->angle + rings;
    for (size_t k = 0; k < count; k++) {
        rate[k] += (inside[k] - outside[k]) * inverse[k] * dt_velocity;
        angle[k] += rate[k] * dt;
    }
}

/* --- sums --- */

double shear_inertia(const struct shear_model *model)
{
    double sum = 0.0;
    for (size_t k = 0; k < (model->rows + 1) * model->rings; k++)
        sum += model->inertia[k];
    return sum;
}

double shear_outer_inertia(const struct shear_model *model)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->rings; i++)
        sum += model->inertia[i];
    return sum;
}

double shear_stored(const struct shear_model *model, const struct shear_state *state)
{
    double sum = 0.0;
    for (size_t k = 0; k < model->rows * model->rings; k++) {
        if (model->stiffness[k] > 0.0)
            sum += 0.5 * state->torque[k] * state->torque[k] / model->stiffness[k];
    }
    return sum;
}

double shear_kinetic(const struct shear_model *model, const struct shear_state *state, double dt_velocity)
{
    double sum = 0.0;
    for (size_t k = model->rings; k < model->rows * model->rings; k++) {
        if (model->inertia[k] <= 0.0)
            continue;
        double gain = (state->torque[k] - state->torque[k - model->rings]) / model->inertia[k] * dt_velocity;
        sum += 0.5 * model->inertia[k] * state->rate[k] * (state->rate[k] + gain);
    }
    return sum;
}

double shear_momentum(const struct shear_model *model, const struct shear_state *state)
{
    double sum = 0.0;
    for (size_t k = model->rings; k < model->rows * model->rings; k++)
        sum += model->inertia[k] * state->rate[k];
    return sum;
}
