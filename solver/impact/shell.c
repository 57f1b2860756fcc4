#include "solver/impact/shell.h"

#include <assert.h>
#include <math.h>

#include "solver/base/isa.h"
#include "solver/base/memory.h"

#define TWO_PI 6.283185307179586

const double shell_point_height[SHELL_POINTS] = {-1.0, -0.5, 0.0, 0.5, 1.0};
const double shell_point_share[SHELL_POINTS] = {1.0 / 12.0, 4.0 / 12.0, 2.0 / 12.0, 4.0 / 12.0, 1.0 / 12.0};

static void shape(const struct shell_model *model, struct shell_state *state, const double *r,
                  const double *z)
{
    static void (*const kernel[ISA_COUNT])(const struct shell_model *, struct shell_state *, const double *,
                                           const double *) = {shell_shape_base, shell_shape_v3,
                                                              shell_shape_v4};
    kernel[isa_chosen()](model, state, r, z);
}

void shell_forces(const struct shell_model *model, struct shell_state *state, const double *r,
                  const double *z, double *force_r, double *force_z)
{
    static void (*const kernel[ISA_COUNT])(const struct shell_model *, struct shell_state *, const double *,
                                           const double *, double *, double *) = {
        shell_advance_base, shell_advance_v3, shell_advance_v4};
    kernel[isa_chosen()](model, state, r, z, force_r, force_z);
}

/* --- model --- */

#define COUNT_ROWS(name, rows) +(rows)
enum {
    MODEL_ROWS = 0 SHELL_MODEL_LIST(COUNT_ROWS),
    STATE_ROWS = 0 SHELL_STATE_LIST(COUNT_ROWS),
    PLASTIC_ROWS = 0 SHELL_PLASTIC_LIST(COUNT_ROWS),
    DAMAGE_ROWS = 0 SHELL_DAMAGE_LIST(COUNT_ROWS)
};

static enum status allocate_model(struct shell_model *model)
{
    double *next = model->memory = memory_zeroed((size_t)MODEL_ROWS * model->stride, sizeof *next);
    if (!next)
        return STATUS_MEMORY;
#define TAKE(name, rows)                                                                                     \
    model->name = next;                                                                                      \
    next += (rows)*model->stride;
    SHELL_MODEL_LIST(TAKE)
#undef TAKE
    return STATUS_OK;
}

static double share(const double *shares, size_t node, double otherwise)
{
    return shares ? shares[node] : otherwise;
}

/* What half `half` of segment j weighs, and how it resists. */
static void place_half(const struct shell_setup *setup, struct shell_model *model, size_t j, size_t half)
{
    size_t node = j + half, k = half * model->stride + j;
    double thickness = setup->thickness * share(setup->thickness_share, node, 1.0);
    double kept = 1.0 - share(setup->bare, node, 0.0), hoop = share(setup->hoop, node, kept);
    /* exact area of a half of a cone: mean radius of its ends times its length */
    double area = TWO_PI * 0.5 * (setup->r[node] + model->radius[j]) * 0.5 * model->length[j];
    double ratio = sqrt(hoop / kept);
    model->volume[k] = area * thickness * kept;
    model->half_thickness[k] = 0.5 * thickness;
    model->hoop_share[k] = ratio;
    model->mass[node] += setup->sheet.density * model->volume[k];
    double nu = setup->sheet.poisson,
           stiff = model->volume[k] * setup->sheet.youngs_modulus / (1.0 - nu * nu);
    model->membrane_s[j] += stiff;
    model->membrane_st[j] += stiff * nu * ratio;
    model->membrane_t[j] += stiff * ratio * ratio;
    double bend = stiff * thickness * thickness / 12.0;
    model->bending_s[node] += bend;
    model->bending_st[node] += bend * nu * ratio;
    model->bending_t[node] += bend * ratio * ratio;
}

static void place_segments(const struct shell_setup *setup, struct shell_model *model)
{
    for (size_t j = 0; j < model->segment_count; j++) {
        double dr = setup->r[j + 1] - setup->r[j], dz = setup->z[j + 1] - setup->z[j];
        model->length[j] = sqrt(dr * dr + dz * dz);
        model->radius[j] = 0.5 * (setup->r[j] + setup->r[j + 1]);
        assert(model->length[j] > 0.0 && model->radius[j] > 0.0);
        model->inverse_length[j] = 1.0 / model->length[j];
        model->inverse_radius[j] = 1.0 / model->radius[j];
        place_half(setup, model, j, 0);
        place_half(setup, model, j, 1);
    }
}

/* What pads the row gets a strain too, which no half without volume comes to bear. */
static void place_cracks(struct shell_model *model)
{
    for (size_t j = 0; j < model->stride; j++) {
        double length = j < model->segment_count ? model->length[j] : shell_crack_length(&model->sheet);
        model->parted[j] = shell_crack_end(&model->sheet, length);
    }
}

static void place_nodes(const struct shell_setup *setup, struct shell_model *model)
{
    for (size_t i = 1; i < model->segment_count; i++) {
        double before = model->length[i - 1], after = model->length[i];
        model->inverse_span[i] = 2.0 / (before + after);
        model->weight_before[i] = after / (before + after);
        model->weight_after[i] = before / (before + after);
    }
    size_t last = model->node_count - 1;
    for (size_t i = 0; i < model->node_count; i++) {
        int pole = (i == 0 && setup->start == SHELL_POLE) || (i == last && setup->end == SHELL_POLE);
        assert(pole ? setup->r[i] == 0.0 : setup->r[i] > 0.0);
        model->inverse_node_radius[i] = pole ? 0.0 : 1.0 / setup->r[i];
    }
}

/* Turns and slopes of the first shape, by the kernel that will take their differences, so that the first
 * curvatures are exactly zero. */
static enum status take_first_shape(const struct shell_setup *setup, struct shell_model *model)
{
    struct shell_state first;
    enum status status = shell_state_make(model, &first);
    if (status != STATUS_OK)
        return status;
    shape(model, &first, setup->r, setup->z);
    for (size_t i = 1; i < model->segment_count; i++) {
        model->turn[i] = first.turn[i];
        model->sine[i] = model->weight_before[i] * first.direction_z[i - 1] +
                         model->weight_after[i] * first.direction_z[i];
    }
    size_t last = model->segment_count - 1;
    model->start_direction[0] = first.direction_r[0];
    model->start_direction[1] = first.direction_z[0];
    model->end_direction[0] = first.direction_r[last];
    model->end_direction[1] = first.direction_z[last];
    shell_state_free(&first);
    return STATUS_OK;
}

enum status shell_model_make(const struct shell_setup *setup, struct shell_model *model)
{
    assert(setup->node_count >= 3 && setup->thickness > 0.0 && setup->sheet.hardening >= 0.0);
    assert(setup->sheet.crack_energy == 0.0 || setup->sheet.yield_stress == INFINITY);
    *model = (struct shell_model){
        .node_count = setup->node_count,
        .segment_count = setup->node_count - 1,
        .stride = (setup->node_count + 8 + 7) / 8 * 8,
        .sheet = setup->sheet,
        .start = setup->start,
        .end = setup->end,
        .yields = setup->sheet.yield_stress<INFINITY, .cracks = setup->sheet.crack_energy> 0.0};
    enum status status = allocate_model(model);
    if (status != STATUS_OK)
        goto done;
    place_segments(setup, model);
    place_nodes(setup, model);
    if (model->cracks)
        place_cracks(model);
    status = take_first_shape(setup, model);
    if (status != STATUS_OK)
        goto done;
    model->largest_frequency = shell_frequency_bound(model, setup->r, setup->z);
    status = model->largest_frequency < 0.0 ? STATUS_MEMORY : STATUS_OK;
done:
    if (status != STATUS_OK)
        shell_model_free(model);
    return status;
}

void shell_model_free(struct shell_model *model)
{
    memory_free(model->memory);
    *model = (struct shell_model){0};
}

/* --- state --- */

enum status shell_state_make(const struct shell_model *model, struct shell_state *state)
{
    *state = (struct shell_state){0};
    size_t rows = STATE_ROWS + (model->yields ? PLASTIC_ROWS : 0) + (model->cracks ? DAMAGE_ROWS : 0);
    double *next = state->memory = memory_zeroed(rows * model->stride, sizeof *next);
    if (!next)
        return STATUS_MEMORY;
#define TAKE(name, rows)                                                                                     \
    state->name = next;                                                                                      \
    next += (rows)*model->stride;
    SHELL_STATE_LIST(TAKE)
    if (model->yields) {
        SHELL_PLASTIC_LIST(TAKE)
    }
    if (model->cracks) {
        SHELL_DAMAGE_LIST(TAKE)
    }
#undef TAKE
    return STATUS_OK;
}

void shell_state_free(struct shell_state *state)
{
    memory_free(state->memory);
    *state = (struct shell_state){0};
}

/* --- energy, strain, time step --- */

/* Half of a quadratic form. */
static double quadratic(double s, double st, double t, double a_s, double a_t)
{
    return 0.5 * (s * a_s * a_s + 2.0 * st * a_s * a_t + t * a_t * a_t);
}

static double elastic_stored(const struct shell_model *model, const struct shell_state *state)
{
    double sum = 0.0;
    for (size_t j = 0; j < model->segment_count; j++)
        sum += quadratic(model->membrane_s[j], model->membrane_st[j], model->membrane_t[j],
                         state->strain_s[j], state->strain_t[j]);
    for (size_t i = 0; i < model->node_count; i++)
        sum += quadratic(model->bending_s[i], model->bending_st[i], model->bending_t[i],
                         state->curvature_s[i], state->curvature_t[i]);
    return sum;
}

/* Stored energy of half `half` of segment j over its volume [J/m3], from total less plastic strain. */
static double half_stored(const struct shell_model *model, const struct shell_state *state, size_t j,
                          size_t half)
{
    size_t k = half * model->stride + j;
    double nu = model->sheet.poisson, stiff = model->sheet.youngs_modulus / (1.0 - nu * nu), sum = 0.0;
    for (size_t p = 0; p < SHELL_POINTS; p++) {
        size_t at = (half * SHELL_POINTS + p) * model->stride + j;
        double zeta = shell_point_height[p] * model->half_thickness[k];
        double s = state->strain_s[j] + zeta * state->curvature_s[j + half];
        double t = state->strain_t[j] + zeta * state->curvature_t[j + half];
        sum += shell_point_share[p] * quadratic(stiff, nu * stiff, stiff, s - state->plastic_s[at],
                                                model->hoop_share[k] * t - state->plastic_t[at]);
    }
    return sum;
}

double shell_stored(const struct shell_model *model, const struct shell_state *state)
{
    if (model->cracks)
        return shell_cracked_stored(model, state);
    if (!model->yields)
        return elastic_stored(model, state);
    double sum = 0.0;
    for (size_t j = 0; j < model->segment_count; j++) {
        for (size_t half = 0; half < SHELL_HALVES; half++)
            sum += model->volume[half * model->stride + j] * half_stored(model, state, j, half);
    }
    return sum;
}

double shell_dissipated(const struct shell_model *model, const struct shell_state *state)
{
    double sum = 0.0;
    for (size_t k = 0; model->yields && k < SHELL_HALVES * model->stride; k++)
        sum += model->volume[k] * state->dissipated[k];
    return sum;
}

/* Largest of the four fibre strains of half `half` of segment j. */
static double half_strain(const struct shell_model *model, const struct shell_state *state, size_t j,
                          size_t half)
{
    size_t node = j + half, k = half * model->stride + j;
    double height = model->half_thickness[k], share_t = model->hoop_share[k];
    double s = fabs(state->strain_s[j]) + height * fabs(state->curvature_s[node]);
    double t = share_t * (fabs(state->strain_t[j]) + height * fabs(state->curvature_t[node]));
    return s > t ? s : t;
}

double shell_largest_strain(const struct shell_model *model, const struct shell_state *state, size_t *node)
{
    double largest = -1.0;
    for (size_t j = 0; j < model->segment_count; j++) {
        for (size_t half = 0; half < SHELL_HALVES; half++) {
            double strain = half_strain(model, state, j, half);
            if (node && strain > largest)
                *node = j + half;
            largest = strain > largest ? strain : largest;
        }
    }
    return largest;
}

double shell_stable_step(const struct shell_model *model, const struct shell_state *state)
{
    double shortest = 1.0;
    for (size_t j = 0; j < model->segment_count; j++) {
        double ratio = 1.0 + state->strain_s[j];
        shortest = ratio < shortest ? ratio : shortest;
    }
    return 2.0 * shortest / model->largest_frequency;
}
