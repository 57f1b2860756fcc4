#include <math.h>

#include "solver/base/isa.h"
#include "solver/impact/shell.h"

/*
 * The loops over segments and nodes. Forces follow from the derivatives of the energy by the strain measures:
 * a segment's length changes by t . (dx_j+1 - dx_j), its angle by n . (dx_j+1 - dx_j) / L, with t its
 * direction and n = (-sin theta, cos theta). Ends are single nodes and are treated outside the loops.
 */

/* The arrays of a shell do not overlap: the loop may become vector code. */
#if defined(__clang__)
#define INDEPENDENT _Pragma("clang loop vectorize(assume_safety)")
#else
#define INDEPENDENT _Pragma("GCC ivdep")
#endif

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
    INDEPENDENT
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

/* Angle from one unit vector to another, given their cross and dot product: -pi .. pi. The tangent is halved
 * twice, to tan(angle/8) in -0.415 .. 0.415, where the series of the arc tangent needs no cases: loops stay
 * vector code.
 */
static inline double angle_between(double across, double along)
{
    double twice = 1.0 + along, fourth = across / (twice + sqrt(twice * twice + across * across));
    double x = fourth / (1.0 + sqrt(1.0 + fourth * fourth)), z = x * x, p = 1.0 / 41.0;
    p = 1.0 / 39.0 - p * z;
    p = 1.0 / 37.0 - p * z;
    p = 1.0 / 35.0 - p * z;
    p = 1.0 / 33.0 - p * z;
    p = 1.0 / 31.0 - p * z;
    p = 1.0 / 29.0 - p * z;
    p = 1.0 / 27.0 - p * z;
    p = 1.0 / 25.0 - p * z;
    p = 1.0 / 23.0 - p * z;
    p = 1.0 / 21.0 - p * z;
    p = 1.0 / 19.0 - p * z;
    p = 1.0 / 17.0 - p * z;
    p = 1.0 / 15.0 - p * z;
    p = 1.0 / 13.0 - p * z;
    p = 1.0 / 11.0 - p * z;
    p = 1.0 / 9.0 - p * z;
    p = 1.0 / 7.0 - p * z;
    p = 1.0 / 5.0 - p * z;
    p = 1.0 / 3.0 - p * z;
    return 8.0 * (x - x * z * p);
}

/* Angles between neighbouring segments. */
static void turns(const struct shell_model *model, struct shell_state *state)
{
    const double *restrict direction_r = state->direction_r, *restrict direction_z = state->direction_z;
    double *restrict turn = state->turn;
    INDEPENDENT
    for (size_t i = 1; i < model->segment_count; i++) {
        double across = direction_r[i - 1] * direction_z[i] - direction_z[i - 1] * direction_r[i];
        double along = direction_r[i - 1] * direction_r[i] + direction_z[i - 1] * direction_z[i];
        turn[i] = angle_between(across, along);
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
    double rotation = angle_between(end.direction[0] * now_z - end.direction[1] * now_r,
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
    INDEPENDENT
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

/* --- yielding --- */

/* Eight halves side by side. Stress and strain are kept as sum and difference of both directions, in which
 * plane stress is diagonal: sum = (s + t), difference = (s - t). */
enum { LANES = 8, NEWTON_ROUNDS = 4 };

struct lanes {
    double strain_s[LANES], strain_t[LANES], curvature_s[LANES], curvature_t[LANES];
    double change_s[LANES], change_t[LANES], turning_s[LANES], turning_t[LANES]; /* since the last call */
    double force_s[LANES], force_t[LANES], moment_s[LANES],
        moment_t[LANES]; /* over the volume [Pa], [Pa m] */
};

/* Stiffness for the sum and the difference of strains, and what they lose per flow. */
struct yield_rule {
    double sum, difference;
    double sum_loss, difference_loss;
    double yield_stress, hardening;
};

static struct yield_rule yield_rule(const struct shell_sheet *sheet)
{
    double young = sheet->youngs_modulus, nu = sheet->poisson;
    struct yield_rule rule = {.sum = young / (1.0 - nu),
                              .difference = young / (1.0 + nu),
                              .sum_loss = 0.5 * young / (1.0 - nu),
                              .difference_loss = 1.5 * young / (1.0 + nu),
                              .yield_stress = sheet->yield_stress,
                              .hardening = sheet->hardening};
    return rule;
}

/*
 * Flow x = (increment of equivalent plastic strain)/(equivalent stress) that brings a trial stress back to
 * the yield surface. Von Mises in plane stress: equivalent^2 = sum^2/4 + 3 difference^2/4 = a + b; the flow
 * rule d plastic = d equivalent_strain x d equivalent_stress/d stress makes sum(x) = sum/(1 + x sum_loss),
 * difference(x) = difference/(1 + x difference_loss), and x solves limit/equivalent(x) = 1 - hardening x. The
 * left side is a mean of order -2 of functions linear in x, so it is concave, nearly straight, and Newton's
 * steps from x = 0 come up to the root from below without passing it: four give it to 1e-13 for trial
 * stresses up to 1000 x the limit.
 */
static inline double flow(const struct yield_rule *rule, double a, double b, double limit)
{
    double x = 0.0;
    for (int round = 0; round < NEWTON_ROUNDS; round++) {
        double p = 1.0 / (1.0 + x * rule->sum_loss), q = 1.0 / (1.0 + x * rule->difference_loss);
        double part_a = a * p * p, part_b = b * q * q, square = part_a + part_b, ratio = limit / sqrt(square);
        double slope = ratio * (rule->sum_loss * part_a * p + rule->difference_loss * part_b * q) / square;
        x -= (ratio - (1.0 - rule->hardening * x)) / (slope + rule->hardening);
    }
    return x;
}

/* State of one point of eight halves. */
struct point {
    double *plastic_s, *plastic_t, *equivalent, *dissipated;
    double share; /* of the thickness */
};

/* Lets the lanes whose trial stress (sum, difference) lies outside the yield surface flow; the others pass
 * through unchanged. `from_sum`, `from_difference` is the stress one call before. */
static inline void yield_lanes(const struct yield_rule *rule, struct point point, double *restrict sum,
                               double *restrict difference, const double *restrict from_sum,
                               const double *restrict from_difference)
{
    for (int l = 0; l < LANES; l++) {
        double limit = rule->yield_stress + rule->hardening * point.equivalent[l];
        double a = 0.25 * sum[l] * sum[l], b = 0.75 * difference[l] * difference[l];
        int outside = a + b > limit * limit;
        double x = flow(rule, outside ? a : 1.0, outside ? b : 0.0, outside ? limit : 1.0);
        x = outside ? x : 0.0;
        double new_sum = sum[l] / (1.0 + x * rule->sum_loss);
        double new_difference = difference[l] / (1.0 + x * rule->difference_loss);
        double flow_sum = 0.5 * x * new_sum, flow_difference = 1.5 * x * new_difference;
        double equivalent = sqrt(0.25 * new_sum * new_sum + 0.75 * new_difference * new_difference);
        point.plastic_s[l] += 0.5 * (flow_sum + flow_difference);
        point.plastic_t[l] += 0.5 * (flow_sum - flow_difference);
        point.equivalent[l] += x * equivalent;
        point.dissipated[l] +=
            point.share * 0.25 *
            ((from_sum[l] + new_sum) * flow_sum + (from_difference[l] + new_difference) * flow_difference);
        sum[l] = new_sum;
        difference[l] = new_difference;
    }
}

/* One point through the thickness, at `height` times half of it. */
static inline void advance_point(const struct yield_rule *rule, struct lanes *lanes, struct point point,
                                 const double *restrict half_thickness, double height)
{
    double sum[LANES], difference[LANES], from_sum[LANES], from_difference[LANES];
    int outside = 0;
    INDEPENDENT
    for (int l = 0; l < LANES; l++) {
        double zeta = height * half_thickness[l];
        double s = lanes->strain_s[l] + zeta * lanes->curvature_s[l] - point.plastic_s[l];
        double t = lanes->strain_t[l] + zeta * lanes->curvature_t[l] - point.plastic_t[l];
        double from_s = s - (lanes->change_s[l] + zeta * lanes->turning_s[l]);
        double from_t = t - (lanes->change_t[l] + zeta * lanes->turning_t[l]);
        double limit = rule->yield_stress + rule->hardening * point.equivalent[l];
        sum[l] = rule->sum * (s + t);
        difference[l] = rule->difference * (s - t);
        from_sum[l] = rule->sum * (from_s + from_t);
        from_difference[l] = rule->difference * (from_s - from_t);
        outside |= 0.25 * sum[l] * sum[l] + 0.75 * difference[l] * difference[l] > limit * limit;
    }
    if (outside)
        yield_lanes(rule, point, sum, difference, from_sum, from_difference);
    INDEPENDENT
    for (int l = 0; l < LANES; l++) {
        double s = point.share * 0.5 * (sum[l] + difference[l]),
               t = point.share * 0.5 * (sum[l] - difference[l]);
        double zeta = height * half_thickness[l];
        lanes->force_s[l] += s;
        lanes->force_t[l] += t;
        lanes->moment_s[l] += zeta * s;
        lanes->moment_t[l] += zeta * t;
    }
}

/* Strains and curvatures of the matter in halves `half` of segments j .. j + 7. */
static inline void load_lanes(const struct shell_model *model, const struct shell_state *state, size_t half,
                              size_t j, struct lanes *lanes)
{
    const double *hoop_share = model->hoop_share + half * model->stride + j;
    INDEPENDENT
    for (int l = 0; l < LANES; l++) {
        size_t segment = j + (size_t)l, node = segment + half;
        lanes->strain_s[l] = state->strain_s[segment];
        lanes->strain_t[l] = hoop_share[l] * state->strain_t[segment];
        lanes->curvature_s[l] = state->curvature_s[node];
        lanes->curvature_t[l] = hoop_share[l] * state->curvature_t[node];
        lanes->change_s[l] = state->change_strain_s[segment];
        lanes->change_t[l] = hoop_share[l] * state->change_strain_t[segment];
        lanes->turning_s[l] = state->change_curvature_s[node];
        lanes->turning_t[l] = hoop_share[l] * state->change_curvature_t[node];
        lanes->force_s[l] = lanes->force_t[l] = lanes->moment_s[l] = lanes->moment_t[l] = 0.0;
    }
}

static inline void add_lanes(const struct shell_model *model, struct shell_state *state, size_t half,
                             size_t j, const struct lanes *lanes)
{
    const double *volume = model->volume + half * model->stride + j;
    const double *hoop_share = model->hoop_share + half * model->stride + j;
    INDEPENDENT
    for (int l = 0; l < LANES; l++) {
        size_t segment = j + (size_t)l, node = segment + half;
        double across = volume[l] * hoop_share[l];
        state->force_s[segment] += volume[l] * lanes->force_s[l];
        state->force_t[segment] += across * lanes->force_t[l];
        state->moment_s[node] += volume[l] * lanes->moment_s[l];
        state->moment_t[node] += across * lanes->moment_t[l];
    }
}

static void clear(size_t count, double *restrict values)
{
    for (size_t k = 0; k < count; k++)
        values[k] = 0.0;
}

static void plastic(const struct shell_model *model, struct shell_state *state)
{
    struct yield_rule rule = yield_rule(&model->sheet);
    clear(model->stride, state->force_s);
    clear(model->stride, state->force_t);
    clear(model->stride, state->moment_s);
    clear(model->stride, state->moment_t);
    for (size_t half = 0; half < SHELL_HALVES; half++) {
        for (size_t j = 0; j < model->segment_count; j += LANES) {
            struct lanes lanes;
            load_lanes(model, state, half, j, &lanes);
            for (int p = 0; p < SHELL_POINTS; p++) {
                size_t at = (half * SHELL_POINTS + (size_t)p) * model->stride + j;
                struct point point = {state->plastic_s + at, state->plastic_t + at, state->equivalent + at,
                                      state->dissipated + half * model->stride + j, shell_point_share[p]};
                advance_point(&rule, &lanes, point, model->half_thickness + half * model->stride + j,
                              shell_point_height[p]);
            }
            add_lanes(model, state, half, j, &lanes);
        }
    }
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
    INDEPENDENT
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
    if (model->yields)
        plastic(model, state);
    else
        elastic(model, state);
    pulls(model, state);
    gather(model, state, force_r, force_z);
}
