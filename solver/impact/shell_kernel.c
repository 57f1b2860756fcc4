#include <math.h>

#include "solver/base/isa.h"
#include "solver/base/numeric.h"
#include "solver/impact/shell.h"

/*
 * The loops over segments and nodes. Forces follow from the derivatives of the energy by the strain measures:
 * a segment's length changes by t . (dx_j+1 - dx_j), its angle by n . (dx_j+1 - dx_j) / L, with t its
 * direction and n = (-sin theta, cos theta). Ends are single nodes and are treated outside the loops.
 */

/* Directions and strains of segments. */
static void stretch(const struct shell_model *model, struct shell_state *state, const double *restrict r,
                    const double *restrict z)
{
    double *restrict direction_r = state->direction_r, *restrict direction_z = state->direction_z;
    double *restrict inverse = state->inverse_length;
    double *restrict strain_s = state->strain_s, *restrict strain_t = state->strain_t;
    double *restrict change_s = state->change_strain_s, *restrict change_t = state->change_strain_t;
    const double *restrict length0 = model->length, *restrict inverse0 = model->inverse_length;
    const double *restrict radius0 = model->radius, *restrict inverse_radius0 = model->inverse_radius;
    for (size_t j = 0; j < model->segment_count; j++) {
        double dr = r[j + 1] - r[j], dz = z[j + 1] - z[j];
        double length = sqrt(dr * dr + dz * dz), one_over = 1.0 / length;
        double now_s = (length - length0[j]) * inverse0[j];
        double now_t = (0.5 * (r[j] + r[j + 1]) - radius0[j]) * inverse_radius0[j];
        inverse[j] = one_over;
        direction_r[j] = dr * one_over;
        direction_z[j] = dz * one_over;
        change_s[j] = now_s - strain_s[j];
        change_t[j] = now_t - strain_t[j];
        strain_s[j] = now_s;
        strain_t[j] = now_t;
    }
}

/* Angles between neighbouring segments. */
static void turns(const struct shell_model *model, struct shell_state *state)
{
    const double *restrict direction_r = state->direction_r, *restrict direction_z = state->direction_z;
    double *restrict turn = state->turn;
    for (size_t i = 1; i < model->segment_count; i++) {
        double across = direction_r[i - 1] * direction_z[i] - direction_z[i - 1] * direction_r[i];
        double along = direction_r[i - 1] * direction_r[i] + direction_z[i - 1] * direction_z[i];
        turn[i] = numeric_atan2(across, along);
    }
}

void ISA_NAME(shell_shape)(const struct shell_model *model, struct shell_state *state, const double *r,
                           const double *z)
{
    stretch(model, state, r, z);
    turns(model, state);
}

static void set_curvature(struct shell_state *state, size_t node, double now_s, double now_t)
{
    state->change_curvature_s[node] = now_s - state->curvature_s[node];
    state->change_curvature_t[node] = now_t - state->curvature_t[node];
    state->curvature_s[node] = now_s;
    state->curvature_t[node] = now_t;
}

/* One end of the row: its node and segment, and how its curvatures follow from the segment's rotation. */
struct end {
    enum shell_end kind;
    size_t node, segment;
    double slope;     /* of kappa_s against the rotation: 2 / L0, with the sign of the end */
    double contracts; /* nu as the matter sees it */
    const double *direction;
};

static struct end end_of(const struct shell_model *model, int last)
{
    size_t segment = last ? model->segment_count - 1 : 0;
    double slope = 2.0 * model->inverse_length[segment];
    struct end end = {.kind = last ? model->end : model->start,
                      .node = last ? model->node_count - 1 : 0,
                      .segment = segment,
                      .slope = last ? -slope : slope,
                      .contracts = model->sheet.poisson * model->hoop_share[last * model->stride + segment],
                      .direction = last ? model->end_direction : model->start_direction};
    return end;
}

static void bend_end(const struct shell_model *model, struct shell_state *state, int last)
{
    struct end end = end_of(model, last);
    double now_r = state->direction_r[end.segment], now_z = state->direction_z[end.segment];
    double rotation = numeric_atan2(end.direction[0] * now_z - end.direction[1] * now_r,
                                    end.direction[0] * now_r + end.direction[1] * now_z);
    double slope = end.slope * rotation;
    double hoop = (now_z - end.direction[1]) * model->inverse_node_radius[end.node];
    if (end.kind == SHELL_POLE)
        set_curvature(state, end.node, slope, slope);
    else if (end.kind == SHELL_CLAMPED)
        set_curvature(state, end.node, slope, 0.0);
    else
        set_curvature(state, end.node, -end.contracts * hoop, hoop);
}

/* Curvatures of nodes. */
static void bend(const struct shell_model *model, struct shell_state *state)
{
    const double *restrict direction_z = state->direction_z, *restrict turn = state->turn;
    double *restrict curvature_s = state->curvature_s, *restrict curvature_t = state->curvature_t;
    double *restrict change_s = state->change_curvature_s, *restrict change_t = state->change_curvature_t;
    const double *restrict turn0 = model->turn, *restrict sine0 = model->sine;
    const double *restrict inverse_span = model->inverse_span, *restrict inverse_r =
                                                                   model->inverse_node_radius;
    const double *restrict before = model->weight_before, *restrict after = model->weight_after;
    for (size_t i = 1; i < model->segment_count; i++) {
        double sine = before[i] * direction_z[i - 1] + after[i] * direction_z[i];
        double now_s = (turn[i] - turn0[i]) * inverse_span[i], now_t = (sine - sine0[i]) * inverse_r[i];
        change_s[i] = now_s - curvature_s[i];
        change_t[i] = now_t - curvature_t[i];
        curvature_s[i] = now_s;
        curvature_t[i] = now_t;
    }
    bend_end(model, state, 0);
    bend_end(model, state, 1);
}

/* b = C a for the symmetric matrices (s, st, t) of `count` segments or nodes. */
static void resultants(size_t count, const double *restrict s, const double *restrict st,
                       const double *restrict t, const double *restrict a_s, const double *restrict a_t,
                       double *restrict b_s, double *restrict b_t)
{
    for (size_t k = 0; k < count; k++) {
        b_s[k] = s[k] * a_s[k] + st[k] * a_t[k];
        b_t[k] = st[k] * a_s[k] + t[k] * a_t[k];
    }
}

static void elastic(const struct shell_model *model, struct shell_state *state)
{
    resultants(model->segment_count, model->membrane_s, model->membrane_st, model->membrane_t,
               state->strain_s, state->strain_t, state->force_s, state->force_t);
    resultants(model->node_count, model->bending_s, model->bending_st, model->bending_t, state->curvature_s,
               state->curvature_t, state->moment_s, state->moment_t);
}

/* What an end adds to the derivative of the energy by the angle of its segment [J]. */
static double end_couple(const struct shell_model *model, const struct shell_state *state, struct end end)
{
    double moment_s = state->moment_s[end.node], moment_t = state->moment_t[end.node];
    if (end.kind == SHELL_POLE)
        return end.slope * (moment_s + moment_t);
    if (end.kind == SHELL_CLAMPED)
        return end.slope * moment_s;
    double by_sine = (moment_t - end.contracts * moment_s) * model->inverse_node_radius[end.node];
    return state->direction_r[end.segment] * by_sine;
}

static void add_end_couple(const struct shell_model *model, struct shell_state *state, int last)
{
    struct end end = end_of(model, last);
    size_t j = end.segment;
    double turning = end_couple(model, state, end) * state->inverse_length[j];
    state->pull_r[j + 1] -= turning * state->direction_z[j];
    state->pull_z[j + 1] += turning * state->direction_r[j];
}

/* Derivatives of the energy by the ends of each segment. */
static void pulls(const struct shell_model *model, struct shell_state *state)
{
    const double *restrict direction_r = state->direction_r, *restrict direction_z = state->direction_z;
    const double *restrict inverse = state->inverse_length;
    const double *restrict force_s = state->force_s, *restrict force_t = state->force_t;
    const double *restrict moment_s = state->moment_s, *restrict moment_t = state->moment_t;
    const double *restrict inverse0 = model->inverse_length, *restrict inverse_radius0 =
                                                                 model->inverse_radius;
    const double *restrict span = model->inverse_span, *restrict inverse_r = model->inverse_node_radius;
    const double *restrict before = model->weight_before, *restrict after = model->weight_after;
    double *restrict pull_r = state->pull_r, *restrict pull_z = state->pull_z;
    double *restrict hoop_pull = state->hoop_pull;
    for (size_t j = 0; j < model->segment_count; j++) {
        double axial = force_s[j] * inverse0[j];
        double by_sine =
            moment_t[j] * inverse_r[j] * after[j] + moment_t[j + 1] * inverse_r[j + 1] * before[j + 1];
        double couple = moment_s[j] * span[j] - moment_s[j + 1] * span[j + 1] + direction_r[j] * by_sine;
        double shear = couple * inverse[j];
        pull_r[j + 1] = axial * direction_r[j] - shear * direction_z[j];
        pull_z[j + 1] = axial * direction_z[j] + shear * direction_r[j];
        hoop_pull[j + 1] = 0.5 * force_t[j] * inverse_radius0[j];
    }
    add_end_couple(model, state, 0);
    add_end_couple(model, state, 1);
}

/* Adds the segments' pulls to the nodes. Entry 0 and entry node_count of the pulls stay 0. */
static void gather(const struct shell_model *model, const struct shell_state *state, double *restrict force_r,
                   double *restrict force_z)
{
    const double *restrict pull_r = state->pull_r, *restrict pull_z = state->pull_z;
    const double *restrict hoop_pull = state->hoop_pull;
    for (size_t i = 0; i < model->node_count; i++)
        force_z[i] += pull_z[i + 1] - pull_z[i];
    size_t first = model->start == SHELL_POLE, past = model->node_count - (model->end == SHELL_POLE);
    for (size_t i = first; i < past; i++)
        force_r[i] += (pull_r[i + 1] - pull_r[i]) - (hoop_pull[i + 1] + hoop_pull[i]);
}

void ISA_NAME(shell_advance)(const struct shell_model *model, struct shell_state *state, const double *r,
                             const double *z, double *force_r, double *force_z)
{
    stretch(model, state, r, z);
    turns(model, state);
    bend(model, state);
    elastic(model, state);
    pulls(model, state);
    gather(model, state, force_r, force_z);
}
