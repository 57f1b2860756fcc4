#include <math.h>

#include "solver/base/isa.h"
#include "solver/impact/shell.h"

/*
 * The loops over segments and nodes. Forces follow from the derivatives of the energy by the strain measures:
 * a segment's length changes by t . (dx_j+1 - dx_j), its angle by n . (dx_j+1 - dx_j) / L, with t its
 * direction and n = (-sin theta, cos theta). Ends are single nodes and are treated outside the loops.
 */

/* The arrays of a shell do not overlap: the loop may become vector code. */
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

/* Trial stresses of all halves are found in long loops; eight halves side by side go on to the return mapping
 * when one of them needs it. Stress and strain are kept as sum (s + t) and difference (s - t) of both
 * directions, in which plane stress is diagonal. */
enum { LANES = 8, NEWTON_ROUNDS = 4 };

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

/* One point through the thickness of one half of every segment: arrays by segment. */
struct point {
    double height, share; /* of half the thickness, of the thickness */
    const double *half_thickness, *hoop_share, *volume;
    const double *strain_s, *strain_t, *curvature_s, *curvature_t;
    const double *change_s, *change_t, *turning_s, *turning_t; /* since the last call */
    double *plastic_s, *plastic_t, *equivalent, *dissipated;
    double *sum, *difference, *excess; /* trial stress, square of the equivalent stress over the limit's */
    double *force_s, *force_t, *moment_s, *moment_t;
};

static struct point point_of(const struct shell_model *model, struct shell_state *state, size_t half,
                             size_t p)
{
    size_t at = (half * SHELL_POINTS + p) * model->stride, row = half * model->stride;
    struct point point = {.height = shell_point_height[p],
                          .share = shell_point_share[p],
                          .half_thickness = model->half_thickness + row,
                          .hoop_share = model->hoop_share + row,
                          .volume = model->volume + row,
                          .strain_s = state->strain_s,
                          .strain_t = state->strain_t,
                          .curvature_s = state->curvature_s + half,
                          .curvature_t = state->curvature_t + half,
                          .change_s = state->change_strain_s,
                          .change_t = state->change_strain_t,
                          .turning_s = state->change_curvature_s + half,
                          .turning_t = state->change_curvature_t + half,
                          .plastic_s = state->plastic_s + at,
                          .plastic_t = state->plastic_t + at,
                          .equivalent = state->equivalent + at,
                          .dissipated = state->dissipated + row,
                          .sum = state->trial_sum,
                          .difference = state->trial_difference,
                          .excess = state->trial_excess,
                          .force_s = state->force_s,
                          .force_t = state->force_t,
                          .moment_s = state->moment_s + half,
                          .moment_t = state->moment_t + half};
    return point;
}

/* Stress of halves j .. j + 7 if the step were elastic, and how far outside the yield surface it lies;
 * whether one lies outside. */
static int try_elastic(struct yield_rule rule, struct point at, size_t j)
{
    INDEPENDENT
    for (size_t k = j; k < j + LANES; k++) {
        double zeta = at.height * at.half_thickness[k];
        double s = at.strain_s[k] + zeta * at.curvature_s[k] - at.plastic_s[k];
        double t = at.hoop_share[k] * (at.strain_t[k] + zeta * at.curvature_t[k]) - at.plastic_t[k];
        double limit = rule.yield_stress + rule.hardening * at.equivalent[k];
        double sum = rule.sum * (s + t), difference = rule.difference * (s - t);
        at.sum[k] = sum;
        at.difference[k] = difference;
        at.excess[k] = 0.25 * sum * sum + 0.75 * difference * difference - limit * limit;
    }
    int outside = 0;
    for (size_t k = j; k < j + LANES; k++)
        outside |= at.excess[k] > 0.0;
    return outside;
}

/* Whether this point of one of halves j .. j + 7 has yielded before; the first point to yield is at a face.
 */
static int has_yielded(struct point at, size_t j)
{
    int yielded = 0;
    for (size_t k = j; k < j + LANES; k++)
        yielded |= at.equivalent[k] > 0.0;
    return yielded;
}

/*
 * Flow x = (increment of equivalent plastic strain)/(equivalent stress) that brings a trial stress back to
 * the yield surface. Von Mises in plane stress: equivalent^2 = sum^2/4 + 3 difference^2/4 = a + b; the flow
 * rule d plastic = d equivalent_strain x d equivalent_stress/d stress makes sum(x) = sum/p, p = 1 + x
 * sum_loss,  difference(x) = difference/q, q = 1 + x difference_loss, and x solves h(x) = limit/equivalent(x)
 * - (1 - hardening x) = 0. limit/equivalent is a mean of order -2 of p and q, which are linear in x: it is
 * concave and nearly straight, and Newton's steps from x = 0 come up to the root from below without passing
 * it. Four give it to 1e-13 for trial stresses up to 1000 x the limit. With n = a q^2 + b p^2 = (p q
 * equivalent)^2 both h and its slope are brought over one denominator.
 */
static inline double flow(struct yield_rule rule, double a, double b, double limit)
{
    double x = 0.0;
    for (int round = 0; round < NEWTON_ROUNDS; round++) {
        double p = 1.0 + x * rule.sum_loss, q = 1.0 + x * rule.difference_loss;
        double part_a = a * q * q, part_b = b * p * p, n = part_a + part_b, root = sqrt(n);
        double value = n * (limit * p * q - (1.0 - rule.hardening * x) * root);
        double slope = limit * (rule.sum_loss * part_a * q + rule.difference_loss * part_b * p);
        x -= value / (slope + rule.hardening * root * n);
    }
    return x;
}

/* Lets those of halves j .. j + 7 whose trial stress lies outside the yield surface flow; the others pass
 * through unchanged. The stress one call before follows from the changes of strain. */
static void yield_lanes(struct yield_rule rule, struct point at, size_t j)
{
    INDEPENDENT
    for (size_t k = j; k < j + LANES; k++) {
        double zeta = at.height * at.half_thickness[k];
        double change_s = at.change_s[k] + zeta * at.turning_s[k];
        double change_t = at.hoop_share[k] * (at.change_t[k] + zeta * at.turning_t[k]);
        double sum = at.sum[k], difference = at.difference[k];
        double from_sum = sum - rule.sum * (change_s + change_t);
        double from_difference = difference - rule.difference * (change_s - change_t);
        double limit = rule.yield_stress + rule.hardening * at.equivalent[k];
        int outside = at.excess[k] > 0.0;
        double a = outside ? 0.25 * sum * sum : 1.0, b = outside ? 0.75 * difference * difference : 0.0;
        double x = flow(rule, a, b, outside ? limit : 1.0);
        x = outside ? x : 0.0;
        double new_sum = sum / (1.0 + x * rule.sum_loss);
        double new_difference = difference / (1.0 + x * rule.difference_loss);
        double flow_sum = 0.5 * x * new_sum, flow_difference = 1.5 * x * new_difference;
        double equivalent = sqrt(0.25 * new_sum * new_sum + 0.75 * new_difference * new_difference);
        at.plastic_s[k] += 0.5 * (flow_sum + flow_difference);
        at.plastic_t[k] += 0.5 * (flow_sum - flow_difference);
        at.equivalent[k] += x * equivalent;
        at.dissipated[k] +=
            at.share * 0.25 *
            ((from_sum + new_sum) * flow_sum + (from_difference + new_difference) * flow_difference);
        at.sum[k] = new_sum;
        at.difference[k] = new_difference;
    }
}

/* Adds the stress of a point to the derivatives of the energy. */
static void add_stress(struct point at, size_t j)
{
    INDEPENDENT
    for (size_t k = j; k < j + LANES; k++) {
        double volume = 0.5 * at.share * at.volume[k], zeta = at.height * at.half_thickness[k];
        double s = volume * (at.sum[k] + at.difference[k]);
        double t = volume * at.hoop_share[k] * (at.sum[k] - at.difference[k]);
        at.force_s[k] += s;
        at.force_t[k] += t;
        at.moment_s[k] += zeta * s;
        at.moment_t[k] += zeta * t;
    }
}

/* Adds the derivatives of the energy of an elastic block: the integral over the points in closed form. */
static void add_elastic(struct yield_rule rule, struct point at, size_t j)
{
    INDEPENDENT
    for (size_t k = j; k < j + LANES; k++) {
        double half = at.half_thickness[k], hoop = at.hoop_share[k];
        double volume = 0.5 * at.volume[k], bend = volume * half * half * (1.0 / 3.0);
        double strain_t = hoop * at.strain_t[k], curvature_t = hoop * at.curvature_t[k];
        double sum = rule.sum * (at.strain_s[k] + strain_t);
        double difference = rule.difference * (at.strain_s[k] - strain_t);
        double bent_sum = rule.sum * (at.curvature_s[k] + curvature_t);
        double bent_difference = rule.difference * (at.curvature_s[k] - curvature_t);
        at.force_s[k] += volume * (sum + difference);
        at.force_t[k] += volume * hoop * (sum - difference);
        at.moment_s[k] += bend * (bent_sum + bent_difference);
        at.moment_t[k] += bend * hoop * (bent_sum - bent_difference);
    }
}

/* Halves j .. j + 7, given the points of all. */
static void advance_block(struct yield_rule rule, const struct point points[SHELL_POINTS], size_t j)
{
    struct point low = points[0], high = points[SHELL_POINTS - 1];
    int calm = !has_yielded(low, j) && !has_yielded(high, j) && !try_elastic(rule, low, j) &&
               !try_elastic(rule, high, j);
    if (calm) {
        add_elastic(rule, points[0], j);
        return;
    }
    for (size_t p = 0; p < SHELL_POINTS; p++) {
        if (try_elastic(rule, points[p], j))
            yield_lanes(rule, points[p], j);
        add_stress(points[p], j);
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
        struct point points[SHELL_POINTS];
        for (size_t p = 0; p < SHELL_POINTS; p++)
            points[p] = point_of(model, state, half, p);
        for (size_t j = 0; j < model->segment_count; j += LANES)
            advance_block(rule, points, j);
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
    else if (model->cracks)
        ISA_NAME(shell_crack)(model, state);
    else
        elastic(model, state);
    pulls(model, state);
    gather(model, state, force_r, force_z);
}
