#include "solver/impact/zones.h"

#include <math.h>
#include <string.h>

#include "solver/base/memory.h"

static const double two_pi = 6.28318530717958647693;

enum { PAD = 8 };

size_t zones_stride(size_t rings)
{
    return (rings + PAD - 1) / PAD * PAD;
}

/* --- model --- */

/* Of a polygon turned about the axis: sum over edges of (z_b - z_a)(r_a^2 + r_a r_b + r_b^2) pi/3. */
static double polygon_volume(const double *r, const double *z, int corners)
{
    double sum = 0.0;
    for (int a = 0; a < corners; a++) {
        int b = (a + 1) % corners;
        sum += (z[b] - z[a]) * (r[a] * r[a] + r[a] * r[b] + r[b] * r[b]);
    }
    return sum * two_pi / 6.0;
}

static void take_corners(const double *r, const double *z, size_t k, size_t stride, double *cr, double *cz)
{
    const size_t at[] = {k, k + 1, k + stride + 1, k + stride};
    for (int c = 0; c < 4; c++) {
        cr[c] = r[at[c]];
        cz[c] = z[at[c]];
    }
}

double zones_volume(const double *r, const double *z, size_t k, size_t stride)
{
    double cr[4], cz[4];
    take_corners(r, z, k, stride, cr, cz);
    return polygon_volume(cr, cz, 4);
}

/* Integrals of the corners' bilinear shares over the volume; two points of Gauss each way are exact. */
static void part_volumes(const double *cr, const double *cz, double *part)
{
    static const double side_r[] = {-1, 1, 1, -1}, side_z[] = {-1, -1, 1, 1};
    const double point = 0.57735026918962576451; /* 1/sqrt 3 */
    for (int c = 0; c < 4; c++)
        part[c] = 0.0;
    for (int g = 0; g < 4; g++) {
        double x = point * side_r[g], y = point * side_z[g], share[4], r = 0.0;
        double rx = 0.0, ry = 0.0, zx = 0.0, zy = 0.0;
        for (int c = 0; c < 4; c++) {
            double along = 1.0 + side_r[c] * x, up = 1.0 + side_z[c] * y;
            share[c] = 0.25 * along * up;
            r += share[c] * cr[c];
            rx += 0.25 * side_r[c] * up * cr[c], ry += 0.25 * side_z[c] * along * cr[c];
            zx += 0.25 * side_r[c] * up * cz[c], zy += 0.25 * side_z[c] * along * cz[c];
        }
        for (int c = 0; c < 4; c++)
            part[c] += two_pi * r * (rx * zy - ry * zx) * share[c];
    }
}

static int take_memory(struct zones_model *model)
{
    size_t nodes = model->count + model->stride + PAD, zones = model->count;
    double *next = model->memory = memory_zeroed(3 * nodes + 12 * zones, sizeof *next);
    if (!next)
        return 0;
    double **const of_nodes[] = {&model->first_r, &model->first_z, &model->mass};
    for (int a = 0; a < 3; a++, next += nodes)
        *of_nodes[a] = next;
    double **const of_zones[] = {&model->live,    &model->volume,         &model->inverse_volume,
                                 &model->density, &model->stiffness,      &model->strength,
                                 &model->give,    &model->inverse_height, &model->inverse_width,
                                 &model->fold,    &model->fold_from,      &model->inverse_density};
    for (int a = 0; a < 12; a++, next += zones)
        *of_zones[a] = next;
    return 1;
}

static int copy_blocks(const struct zones_setup *setup, struct zones_model *model)
{
    size_t all = 0;
    for (size_t b = 0; b < setup->block_count; b++)
        all += setup->blocks[b].count;
    model->blocks = memory_zeroed(setup->block_count, sizeof *model->blocks);
    model->zone_memory = memory_zeroed(all, sizeof *model->zone_memory);
    double *share = memory_zeroed(all, sizeof *share);
    int *zone = model->zone_memory;
    if (!model->blocks || !zone || !share) {
        memory_free(share);
        return 0;
    }
    model->block_count = setup->block_count;
    for (size_t b = 0; b < setup->block_count; b++) {
        const struct zones_block *from = &setup->blocks[b];
        model->blocks[b] = *from;
        model->blocks[b].zone = zone;
        model->blocks[b].share = share;
        memcpy(zone, from->zone, from->count * sizeof *zone);
        memcpy(share, from->share, from->count * sizeof *share);
        zone += from->count;
        share += from->count;
    }
    return 1;
}

/* Runs of a block, written to `runs` unless NULL; their number. */
static size_t list_runs(const struct zones_block *block, struct zones_run *runs)
{
    size_t count = 0;
    for (size_t i = 0; i < block->count; i++) {
        int follows = i > 0 && block->zone[i] == block->zone[i - 1] + 1;
        if (!follows && runs)
            runs[count] = (struct zones_run){.first = (size_t)block->zone[i], .at = i};
        count += !follows;
        if (runs)
            runs[count - 1].count++;
    }
    return count;
}

static int take_runs(struct zones_model *model)
{
    size_t all = 0;
    for (size_t b = 0; b < model->block_count; b++)
        all += list_runs(&model->blocks[b], NULL);
    model->runs = memory_zeroed(all, sizeof *model->runs);
    model->run_end = memory_zeroed(model->block_count, sizeof *model->run_end);
    if (!model->runs || !model->run_end)
        return 0;
    size_t end = 0;
    for (size_t b = 0; b < model->block_count; b++)
        model->run_end[b] = end += list_runs(&model->blocks[b], model->runs + end);
    return 1;
}

/* Shares of half a zone that the triangles at its corners take; returns the smallest. */
static double corner_shares(const double *r, const double *z, double share[4])
{
    double area = 0.5 * ((r[2] - r[0]) * (z[3] - z[1]) - (r[3] - r[1]) * (z[2] - z[0])), smallest = INFINITY;
    for (int c = 0; c < 4; c++) {
        int p = (c + 3) % 4, q = (c + 1) % 4;
        share[c] = ((r[q] - r[c]) * (z[p] - z[c]) - (r[p] - r[c]) * (z[q] - z[c])) / area;
        smallest = fmin(smallest, share[c]);
    }
    return smallest;
}

/* 1 / twice the line from the middle of the edge a-b to that of the edge c-d. */
static double inverse_line(const double *r, const double *z, const int at[4])
{
    double dr = (r[at[0]] + r[at[1]]) - (r[at[2]] + r[at[3]]),
           dz = (z[at[0]] + z[at[1]]) - (z[at[2]] + z[at[3]]);
    return 1.0 / sqrt(dr * dr + dz * dz);
}

static void fill_zone(struct zones_model *model, size_t k)
{
    double cr[4], cz[4], part[4];
    take_corners(model->first_r, model->first_z, k, model->stride, cr, cz);
    model->live[k] = 1.0;
    model->volume[k] = polygon_volume(cr, cz, 4);
    model->inverse_volume[k] = 1.0 / model->volume[k];
    model->inverse_density[k] = 1.0 / model->density[k];
    model->give[k] = model->stiffness[k] > 0.0 ? 1.0 / model->stiffness[k] : 0.0;
    double tightest = corner_shares(cr, cz, part);
    model->fold_from[k] = tightest > 0.0 && model->fold[k] > 0.0 ? ZONES_FOLD_FROM * tightest : -INFINITY;
    model->inverse_height[k] = inverse_line(cr, cz, (const int[]){0, 1, 2, 3});
    model->inverse_width[k] = inverse_line(cr, cz, (const int[]){1, 2, 0, 3});
    part_volumes(cr, cz, part);
    const size_t at[] = {k, k + 1, k + model->stride + 1, k + model->stride};
    for (int c = 0; c < 4; c++)
        model->mass[at[c]] += model->density[k] * part[c];
}

static void fill_zones(const struct zones_setup *setup, struct zones_model *model)
{
    for (size_t b = 0; b < model->block_count; b++) {
        const struct zones_block *block = &model->blocks[b];
        for (size_t i = 0; i < block->count; i++) {
            size_t k = (size_t)block->zone[i];
            model->density[k] += block->share[i] * block->foam->density;
            model->fold[k] += block->share[i] * block->foam->plateau * setup->fold;
            model->stiffness[k] += block->share[i] * block->foam->young * setup->hourglass;
            model->strength[k] += block->share[i] * block->foam->plateau * setup->hourglass;
        }
    }
    for (size_t k = 0; k < model->count; k++) {
        if (model->density[k] > 0.0)
            fill_zone(model, k);
    }
}

int zones_model_make(const struct zones_setup *setup, struct zones_model *model)
{
    size_t stride = zones_stride(setup->rings);
    *model = (struct zones_model){.rings = setup->rings,
                                  .rows = setup->rows,
                                  .stride = stride,
                                  .count = setup->rows * stride,
                                  .viscosity_linear = setup->viscosity_linear,
                                  .viscosity_quadratic = setup->viscosity_quadratic};
    if (!take_memory(model) || !copy_blocks(setup, model) || !take_runs(model)) {
        zones_model_free(model);
        return 0;
    }
    for (size_t j = 0; j <= setup->rows; j++) {
        memcpy(model->first_r + j * stride, setup->r + j * setup->rings, setup->rings * sizeof(double));
        memcpy(model->first_z + j * stride, setup->z + j * setup->rings, setup->rings * sizeof(double));
    }
    fill_zones(setup, model);
    return 1;
}

void zones_model_free(struct zones_model *model)
{
    if (model->block_count > 0)
        memory_free(model->blocks[0].share);
    memory_free(model->blocks);
    memory_free(model->runs);
    memory_free(model->run_end);
    memory_free(model->zone_memory);
    memory_free(model->memory);
    *model = (struct zones_model){0};
}

/* --- state --- */

/* Arrays of the zones: all but the corners. */
enum { ZONE_ARRAYS = 2 + FOAM_COMPONENTS + FOAM_COMPONENTS + 2 + 2 + 2, NODE_ARRAYS = 6, CORNERS = 8 };

static int take_state(const struct zones_model *model, struct zones_state *state)
{
    size_t zones = model->count, nodes = zones + model->stride + PAD, front = model->stride + PAD;
    size_t corner = front + nodes;
    double *next = state->memory =
        memory_zeroed(NODE_ARRAYS * nodes + ZONE_ARRAYS * zones + CORNERS * corner, sizeof *next);
    if (!next)
        return 0;
    double **const of_nodes[NODE_ARRAYS] = {&state->r,          &state->z,       &state->velocity_r,
                                            &state->velocity_z, &state->force_r, &state->force_z};
    for (int a = 0; a < NODE_ARRAYS; a++, next += nodes)
        *of_nodes[a] = next;
    double **const of_zones[] = {&state->volume,     &state->change,       &state->tangent,
                                 &state->viscous,    &state->hourglass[0], &state->hourglass[1],
                                 &state->artificial, &state->folding};
    for (size_t a = 0; a < sizeof of_zones / sizeof *of_zones; a++, next += zones)
        *of_zones[a] = next;
    for (int c = 0; c < FOAM_COMPONENTS; c++, next += 2 * zones) {
        state->crush[c] = next;
        state->stress[c] = next + zones;
    }
    for (int c = 0; c < CORNERS; c++, next += corner)
        state->corner[c] = next + front;
    return 1;
}

/* Arrays of struct foam_points that a block has for itself. */
enum { POINT_ARRAYS = 3 * FOAM_COMPONENTS + 1 + FOAM_AXES + 4 + 1 };

/* Each array begins a cache line. */
static int take_points(const struct zones_model *model, struct zones_state *state)
{
    size_t all = 0;
    for (size_t b = 0; b < model->block_count; b++)
        all += zones_stride(model->blocks[b].count);
    state->points = memory_zeroed(model->block_count, sizeof *state->points);
    double *next = state->point_memory = memory_zeroed(POINT_ARRAYS * all, sizeof *next);
    if (!state->points || !next)
        return 0;
    for (size_t b = 0; b < model->block_count; b++) {
        struct foam_points *points = &state->points[b];
        points->count = model->blocks[b].count;
        size_t count = zones_stride(points->count);
        for (int c = 0; c < FOAM_COMPONENTS; c++, next += 3 * count) {
            points->crush[c] = next;
            points->skeleton[c] = next + count;
            points->stress[c] = next + 2 * count;
        }
        for (int c = 0; c < FOAM_AXES; c++, next += count)
            points->crack[c] = next;
        points->volume = next;
        double **const rest[] = {&points->plastic, &points->rate, &points->dissipated, &points->floor,
                                 &points->tangent};
        next += count;
        for (size_t a = 0; a < sizeof rest / sizeof *rest; a++, next += count)
            *rest[a] = next;
    }
    return 1;
}

int zones_state_make(const struct zones_model *model, struct zones_state *state)
{
    *state = (struct zones_state){0};
    if (!take_state(model, state) || !take_points(model, state)) {
        zones_state_free(state);
        return 0;
    }
    size_t nodes = model->count + model->stride;
    memcpy(state->r, model->first_r, nodes * sizeof *state->r);
    memcpy(state->z, model->first_z, nodes * sizeof *state->z);
    return 1;
}

void zones_state_free(struct zones_state *state)
{
    memory_free(state->points);
    memory_free(state->point_memory);
    memory_free(state->memory);
    *state = (struct zones_state){0};
}

/* --- step --- */

/* Hands a run of a block what its zones did. The arrays behind the constant pointers are the state's own. */
static void load_run(struct zones_run run, const struct zones_state *state, struct foam_points *points)
{
    for (int c = 0; c < FOAM_COMPONENTS; c++)
        memcpy((double *)points->crush[c] + run.at, state->crush[c] + run.first, run.count * sizeof(double));
    memcpy((double *)points->volume + run.at, state->volume + run.first, run.count * sizeof(double));
}

static void add_shares(size_t count, const double *restrict share, const double *restrict from,
                       double *restrict to)
{
    for (size_t i = 0; i < count; i++)
        to[i] += share[i] * from[i];
}

/* Takes what a run answers. */
static void add_run(struct zones_run run, const double *share, const struct foam_points *points,
                    struct zones_state *state)
{
    for (int c = 0; c < FOAM_COMPONENTS; c++)
        add_shares(run.count, share, points->stress[c] + run.at, state->stress[c] + run.first);
    add_shares(run.count, share, points->tangent + run.at, state->tangent + run.first);
}

static void update_blocks(const struct zones_model *model, struct zones_state *state, double dt)
{
    for (int c = 0; c < FOAM_COMPONENTS; c++)
        memset(state->stress[c], 0, model->count * sizeof *state->stress[c]);
    memset(state->tangent, 0, model->count * sizeof *state->tangent);
    for (size_t b = 0; b < model->block_count; b++) {
        const struct zones_block *block = &model->blocks[b];
        size_t first = b > 0 ? model->run_end[b - 1] : 0, end = model->run_end[b];
        for (size_t i = first; i < end; i++)
            load_run(model->runs[i], state, &state->points[b]);
        block->foam->law->update_points[isa_chosen()](block->foam, &state->points[b], dt);
        for (size_t i = first; i < end; i++)
            add_run(model->runs[i], block->share + model->runs[i].at, &state->points[b], state);
    }
}

struct zones_bounds zones_update(const struct zones_model *model, struct zones_state *state, double dt)
{
    static void (*const strain[ISA_COUNT])(const struct zones_model *, struct zones_state *,
                                           double) = {zones_strain_base, zones_strain_v3, zones_strain_v4};
    static struct zones_bounds (*const force[ISA_COUNT])(const struct zones_model *, struct zones_state *,
                                                         double) = {zones_force_base, zones_force_v3,
                                                                    zones_force_v4};
    strain[isa_chosen()](model, state, dt);
    update_blocks(model, state, dt);
    return force[isa_chosen()](model, state, dt);
}

/* --- between hits --- */

/* Strain of the line through a zone. */
static double height_strain(const struct zones_model *model, const struct zones_state *state, size_t k)
{
    double r[4], z[4];
    take_corners(state->r, state->z, k, model->stride, r, z);
    double dr = (r[0] + r[1]) - (r[2] + r[3]), dz = (z[0] + z[1]) - (z[2] + z[3]);
    return 1.0 - sqrt(dr * dr + dz * dz) * model->inverse_height[k];
}

/* Newton on the strain through the thickness with the law as the function, as in liner_settle. */
static void unload(const struct zones_model *model, struct zones_state *state, double *strain)
{
    enum { ROUNDS = 20 };
    for (int c = 0; c < FOAM_COMPONENTS; c++)
        memset(state->crush[c], 0, model->count * sizeof *state->crush[c]);
    for (int round = 0; round < ROUNDS; round++) {
        update_blocks(model, state, 1.0);
        for (size_t k = 0; k < model->count; k++) {
            double back = state->tangent[k] > 0.0 ? state->stress[FOAM_NORMAL][k] / state->tangent[k] : 0.0;
            state->crush[FOAM_NORMAL][k] = -back;
            state->volume[k] -= back;
            strain[k] -= back;
        }
    }
}

/* Adds the smallest crack through the thickness among the foams of each zone; zones in which no foam has been
 * crushed spring back. */
static void close_cracks(const struct zones_model *model, struct zones_state *state, double *strain)
{
    double *least = state->change, *crushed = state->viscous; /* cleared by zones_rest */
    for (size_t k = 0; k < model->count; k++) {
        least[k] = INFINITY;
        crushed[k] = 0.0;
    }
    for (size_t b = 0; b < model->block_count; b++) {
        const struct zones_block *block = &model->blocks[b];
        const struct foam_points *points = &state->points[b];
        for (size_t i = 0; i < block->count; i++) {
            size_t k = (size_t)block->zone[i];
            double crack = points->crack[FOAM_NORMAL][i];
            least[k] = crack < least[k] ? crack : least[k];
            crushed[k] = points->plastic[i] > block->foam->crushed_from ? 1.0 : crushed[k];
        }
    }
    for (size_t k = 0; k < model->count; k++)
        strain[k] = crushed[k] > 0.0 ? strain[k] + least[k] : 0.0;
}

void zones_settle(const struct zones_model *model, struct zones_state *state, double recovered,
                  double *strain)
{
    double left = 1.0 - recovered;
    for (size_t k = 0; k < model->count; k++)
        strain[k] = model->live[k] > 0.0 ? height_strain(model, state, k) : 0.0;
    unload(model, state, strain);
    close_cracks(model, state, strain);
    for (size_t k = 0; k < model->count; k++)
        strain[k] *= left;
    for (size_t b = 0; b < model->block_count; b++) {
        for (size_t i = 0; i < model->blocks[b].count; i++)
            state->points[b].plastic[i] *= left;
    }
}

static void rest_points(const struct zones_block *block, struct foam_points *points)
{
    size_t size = block->count * sizeof *points->rate;
    for (int c = 0; c < FOAM_COMPONENTS; c++)
        memset(points->skeleton[c], 0, size);
    for (int c = 0; c < FOAM_AXES; c++)
        memset(points->crack[c], 0, size);
    memset(points->rate, 0, size);
    memset(points->floor, 0, size);
    memset(points->dissipated, 0, size);
}

void zones_rest(const struct zones_model *model, struct zones_state *state)
{
    static void (*const take_shape[ISA_COUNT])(const struct zones_model *, struct zones_state *, double) = {
        zones_strain_base, zones_strain_v3, zones_strain_v4};
    size_t nodes = model->count + model->stride, zones = model->count * sizeof(double);
    memset(state->velocity_r, 0, nodes * sizeof *state->velocity_r);
    memset(state->velocity_z, 0, nodes * sizeof *state->velocity_z);
    take_shape[isa_chosen()](model, state, 1.0);
    double *const cleared[] = {state->change, state->viscous, state->artificial, state->hourglass[0],
                               state->hourglass[1]};
    for (size_t a = 0; a < sizeof cleared / sizeof *cleared; a++)
        memset(cleared[a], 0, zones);
    for (int c = 0; c < FOAM_COMPONENTS; c++)
        memset(state->crush[c], 0, zones);
    for (size_t b = 0; b < model->block_count; b++)
        rest_points(&model->blocks[b], &state->points[b]);
    update_blocks(model, state, 1.0); /* skeletons without stress: that of a point is its gas */
    for (size_t b = 0; b < model->block_count; b++) {
        struct foam_points *points = &state->points[b];
        for (size_t i = 0; i < points->count; i++) {
            points->skeleton[FOAM_NORMAL][i] -= points->stress[FOAM_NORMAL][i];
            points->skeleton[FOAM_ALONG][i] -= points->stress[FOAM_ALONG][i];
            points->skeleton[FOAM_HOOP][i] -= points->stress[FOAM_HOOP][i];
        }
    }
}

/* --- motion --- */

void zones_move(const struct zones_model *model, struct zones_state *state, double gravity,
                double dt_velocity, double dt)
{
    static void (*const shift[ISA_COUNT])(const struct zones_model *, struct zones_state *, double, double,
                                          double) = {zones_shift_base, zones_shift_v3, zones_shift_v4};
    shift[isa_chosen()](model, state, gravity, dt_velocity, dt);
}

/* --- energy --- */

double zones_kinetic(const struct zones_model *model, const struct zones_state *state, double gravity,
                     double dt_velocity)
{
    double sum = 0.0;
    for (size_t k = 0; k < model->count + model->stride; k++) {
        double m = model->mass[k], vr = state->velocity_r[k], vz = state->velocity_z[k];
        if (m <= 0.0)
            continue;
        double gain_r = k % model->stride ? state->force_r[k] / m * dt_velocity : 0.0;
        double gain_z = (state->force_z[k] / m - gravity) * dt_velocity;
        sum += 0.5 * m * (vr * (vr + gain_r) + vz * (vz + gain_z));
    }
    return sum;
}

double zones_momentum(const struct zones_model *model, const struct zones_state *state)
{
    double sum = 0.0;
    for (size_t k = 0; k < model->count + model->stride; k++)
        sum += model->mass[k] * state->velocity_z[k];
    return sum;
}

double zones_height(const struct zones_model *model, const struct zones_state *state)
{
    double sum = 0.0;
    for (size_t k = 0; k < model->count + model->stride; k++)
        sum += model->mass[k] * state->z[k];
    return sum;
}

double zones_stored(const struct zones_model *model, const struct zones_state *state)
{
    double sum = 0.0;
    for (size_t b = 0; b < model->block_count; b++) {
        const struct zones_block *block = &model->blocks[b];
        const struct foam_points *p = &state->points[b];
        for (size_t i = 0; i < block->count; i++) {
            double n = p->skeleton[FOAM_NORMAL][i], a = p->skeleton[FOAM_ALONG][i];
            double h = p->skeleton[FOAM_HOOP][i], s = p->skeleton[FOAM_SHEAR][i];
            double matter = p->volume[i];
            for (int c = 0; c < FOAM_AXES; c++)
                matter += p->crack[c][i];
            double all = sqrt(n * n + a * a + h * h + 2.0 * s * s);
            sum += block->share[i] * model->volume[block->zone[i]] *
                   block->foam->law->stored(block->foam, matter, all, p->plastic[i]);
        }
    }
    return sum;
}

/* Energy that holds one corner open, over the zone's volume and Y. */
static double fold_energy(double share, double from)
{
    if (share >= from)
        return 0.0;
    double held = fmax(share, ZONES_FOLD_LEAST * from), past = share - held, ratio = from / held;
    return 0.5 * (from - held) * (from - held) / held + 0.5 * (1.0 - ratio * ratio) * past +
           0.5 * ratio * ratio / held * past * past;
}

static double fold_stored(const struct zones_model *model, const struct zones_state *state, size_t k)
{
    double r[4], z[4], share[4], sum = 0.0;
    take_corners(state->r, state->z, k, model->stride, r, z);
    corner_shares(r, z, share);
    for (int c = 0; c < 4; c++)
        sum += fold_energy(share[c], model->fold_from[k]);
    return sum * model->fold[k];
}

double zones_sprung(const struct zones_model *model, const struct zones_state *state)
{
    double sum = 0.0;
    for (size_t k = 0; k < model->count; k++) {
        double n = state->hourglass[0][k], a = state->hourglass[1][k];
        double held = state->folding[k] > 0.0 ? fold_stored(model, state, k) : 0.0;
        sum += model->volume[k] * (0.5 * (n * n + a * a) * model->give[k] + held);
    }
    return sum;
}

double zones_artificial(const struct zones_model *model, const struct zones_state *state)
{
    double sum = 0.0;
    for (size_t k = 0; k < model->count; k++)
        sum += model->volume[k] * state->artificial[k];
    return sum;
}

double zones_absorbed(const struct zones_model *model, const struct zones_state *state, size_t block)
{
    const struct zones_block *of = &model->blocks[block];
    double sum = 0.0;
    for (size_t i = 0; i < of->count; i++)
        sum += of->share[i] * model->volume[of->zone[i]] * state->points[block].dissipated[i];
    return sum;
}

void zones_past(const struct zones_model *model, const struct zones_state *state, size_t block,
                struct foam_past *past)
{
    const struct zones_block *of = &model->blocks[block];
    for (size_t i = 0; of->foam->curve_end > 0.0 && i < of->count; i++)
        foam_past_take(past, of->foam, state->points[block].volume[i]);
}
