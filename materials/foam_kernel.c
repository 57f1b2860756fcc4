#include "materials/foam_kernel.h"

#include "materials/foam_curve.h"

/*
 * One step of many zones. The zones are worked through in chunks, each in a few passes: an elastic trial for
 * all; the yield stress if any zone of the chunk may lie above it; the return to it if any does; the crack if
 * any zone lies below the cut-off. A pass changes only the zones it is meant for, so that the chunks do not
 * show. Chunks are short: on a helmet some rings crush while others rest or unload.
 */

enum { CHUNK = 32 };

/* Between the passes, (CHUNK) each. */
struct scratch {
    double old_matter[CHUNK], old_skeleton[CHUNK];
    double modulus[CHUNK];                 /* of unloading, before the step [Pa] */
    double trial[CHUNK];                   /* skeleton stress if the step is elastic [Pa] */
    double root[CHUNK], inverse[CHUNK];    /* square root of the rate factor, and 1 over it */
    double intercept[CHUNK], slope[CHUNK]; /* the line of Y_f at u */
    double yield[CHUNK];                   /* Y_f(kappa) before the step [Pa] */
    double u[CHUNK];                       /* after the step */
    double floor[CHUNK];                   /* where the zones keep none */
    int may_yield, yields, moves, cuts;    /* whether any zone does */
};

/* Rate state of a step: r <- d + (r - d) exp(-dt/tau), exact for a d constant over the step. */
static inline double filtered(double rate, double d, double decay)
{
    return d + (rate - d) * decay;
}

static INLINE void elastic_trial(struct foam_values foam, const struct foam_zones *restrict z,
                                 const double *restrict floor, size_t first, size_t count, double dt,
                                 double decay, struct scratch *restrict w)
{
    const double *restrict strain = z->strain + first, *restrict plastic = z->plastic + first;
    double *restrict matter = z->matter + first, *restrict skeleton = z->skeleton + first;
    double *restrict rate = z->rate + first, *restrict stress = z->stress + first;
    double *restrict tangent = z->tangent + first;
    double per_time = 1.0 / dt;
    int may_yield = 0, cuts = 0;
    INDEPENDENT
    for (size_t i = 0; i < count; i++) {
        double change = strain[i] - matter[i];
        rate[i] = filtered(rate[i], (change > 0.0 ? change : 0.0) * per_time, decay);
        double modulus = foam_unloading(foam, plastic[i]);
        double trial = skeleton[i] + modulus * change;
        struct foam_gas gas = foam_gas(foam, strain[i]);
        double total = trial + gas.pressure;
        w->old_matter[i] = matter[i];
        w->old_skeleton[i] = skeleton[i];
        w->modulus[i] = modulus;
        w->trial[i] = trial;
        matter[i] = strain[i];
        skeleton[i] = trial;
        stress[i] = total;
        tangent[i] = modulus + gas.slope;
        double room =
            plastic[i] > foam.crushed_from ? total + foam.crushed_tension : trial + foam.tensile_strength;
        may_yield |= trial > floor[i];
        cuts |= room < 0.0;
    }
    w->may_yield = may_yield;
    w->cuts = cuts;
}

/* Yield stress at the present rate; a zone that may not yield gets one that its trial stress does not reach.
 */
static INLINE void find_yield(struct foam_values foam, int densifies, const struct foam_zones *restrict z,
                              const double *restrict floor, size_t first, size_t count,
                              struct scratch *restrict w)
{
    const double *restrict plastic = z->plastic + first, *restrict rate = z->rate + first;
    double per_rate = 1.0 / foam.rate_reference;
    int yields = 0;
    INDEPENDENT
    for (size_t i = 0; i < count; i++) {
        double ratio = rate[i] * per_rate;
        double factor = 1.0 + foam.rate_gain * numeric_log10(ratio > 1.0 ? ratio : 1.0);
        double root = sqrt(factor), inverse = 1.0 / root, u = sqrt(plastic[i]);
        struct foam_line line = foam_yield_line(foam, densifies, root, inverse, u);
        double yield = line.intercept + line.slope * u;
        w->root[i] = root;
        w->inverse[i] = inverse;
        w->intercept[i] = line.intercept;
        w->slope[i] = line.slope;
        w->yield[i] = w->trial[i] > floor[i] ? yield : w->trial[i];
        yields |= w->trial[i] > w->yield[i];
    }
    w->yields = yields;
}

/* A strain increment x moves the rate state by x/tau, and with it the yield stress: a stiffness
 * (dY_f/df) k/(ln 10 r tau), which passes E where crushing comes to rest and r becomes small. A step that is
 * too long for it sets neighbouring cells swinging; their swings hold r up and the foam seems strong for
 * milliseconds. `per_rate` is k/(ln 10 tau) as the filter has it over a step, 2 k/(ln 10 dt) tanh(dt/2 tau).
 * The bound ends at 64 E, an eighth of the step: there the swings are too small to show in a pulse. Y_f/f is
 * never below dY_f/df. */
static const double rate_stiffness_share = 64.0;

static double rate_stiffness_factor(const struct foam *foam, double dt, double decay)
{
    return foam->rate_gain * 0.4342944819032518 * 2.0 * (1.0 - decay) / ((1.0 + decay) * dt);
}

/* `yield` is Y_f/f. */
static inline double rate_stiffness(struct foam_values foam, double yield, double rate, double per_rate)
{
    double least = foam.rate_reference, limit = rate_stiffness_share * foam.young;
    double stiffness = yield * per_rate / (rate > least ? rate : least);
    return stiffness < limit ? stiffness : limit;
}

/* u on the yield line of the present step where kappa + Y_f(kappa)/E is what the step reaches: the line of
 * the old u first, then that of the u it gives. `moves` says that some u left its segment again. */
static INLINE void project(struct foam_values foam, int densifies, const struct foam_zones *restrict z,
                           size_t first, size_t count, struct scratch *restrict w)
{
    const double *restrict plastic = z->plastic + first;
    int moves = 0;
    INDEPENDENT
    for (size_t i = 0; i < count; i++) {
        double kappa = plastic[i], yield = w->yield[i], inverse = w->inverse[i];
        double compliance = (1.0 + foam.softening * kappa) * foam.inverse_young;
        double target = kappa + yield * foam.inverse_young + (w->trial[i] - yield) * compliance;
        struct foam_line line = {w->intercept[i], w->slope[i]};
        double before = foam_line_meets(foam, line, target);
        line = foam_yield_line(foam, densifies, w->root[i], inverse, before);
        double u = foam_line_meets(foam, line, target);
        int leaves = foam_place(foam.last, foam.step, u * inverse) !=
                     foam_place(foam.last, foam.step, before * inverse);
        if (densifies)
            leaves |= foam_place(foam.last, foam.step, u) != foam_place(foam.last, foam.step, before);
        w->u[i] = u;
        w->intercept[i] = line.intercept;
        w->slope[i] = line.slope;
        moves |= leaves & (w->trial[i] > yield);
    }
    w->moves = moves;
}

/* Once more for zones whose u moved on to another segment; the others stay where they are. */
static INLINE void project_again(struct foam_values foam, int densifies, const struct foam_zones *restrict z,
                                 size_t first, size_t count, struct scratch *restrict w)
{
    const double *restrict plastic = z->plastic + first;
    INDEPENDENT
    for (size_t i = 0; i < count; i++) {
        double kappa = plastic[i], yield = w->yield[i];
        double compliance = (1.0 + foam.softening * kappa) * foam.inverse_young;
        double target = kappa + yield * foam.inverse_young + (w->trial[i] - yield) * compliance;
        struct foam_line line = foam_yield_line(foam, densifies, w->root[i], w->inverse[i], w->u[i]);
        w->u[i] = foam_line_meets(foam, line, target);
        w->intercept[i] = line.intercept;
        w->slope[i] = line.slope;
    }
}

/* Zones above their yield stress: the strain beyond yield moves the zone along kappa + Y_f(kappa)/E. A stress
 * left above yield because the factor fell comes down at constant strain by the same rule; what the stress
 * above yield did in the meantime is added to the loss, which then is the work less the change of the stored
 * energy, to second order in the step. */
static INLINE void return_to_yield(struct foam_values foam, const struct foam_zones *restrict z,
                                   double *restrict floor, size_t first, size_t count, double per_rate,
                                   const struct scratch *restrict w)
{
    double *restrict plastic = z->plastic + first, *restrict skeleton = z->skeleton + first;
    double *restrict dissipated = z->dissipated + first, *restrict stress = z->stress + first;
    double *restrict tangent = z->tangent + first;
    const double *restrict matter = z->matter + first, *restrict rate = z->rate + first;
    double kappa_part = 0.5 * foam.softening * foam.inverse_young;
    INDEPENDENT
    for (size_t i = 0; i < count; i++) {
        double kappa = plastic[i], yield = w->yield[i], inverse = w->inverse[i];
        double compliance = (1.0 + foam.softening * kappa) * foam.inverse_young;
        double kappa_new = w->u[i] * w->u[i], yield_new = w->intercept[i] + w->slope[i] * w->u[i];
        double above = w->old_skeleton[i] > yield ? w->old_skeleton[i] - yield : 0.0;
        double moved = matter[i] - w->old_matter[i];
        double crushed = 0.5 * (yield + yield_new) * (kappa_new - kappa);
        double softened = kappa_part * (kappa_new * yield_new * yield_new - kappa * yield * yield);
        double relaxed = 0.5 * above * (moved + (w->old_skeleton[i] - yield_new) * compliance);
        double least = yield_new * (inverse * inverse);
        double stiffness = rate_stiffness(foam, least, rate[i], per_rate);
        int yields = w->trial[i] > yield, steeper = yields && stiffness > w->modulus[i];
        double gas = stress[i] - skeleton[i];
        tangent[i] += steeper ? stiffness - w->modulus[i] : 0.0;
        floor[i] = yields ? least : floor[i];
        plastic[i] = yields ? kappa_new : kappa;
        skeleton[i] = yields ? yield_new : skeleton[i];
        stress[i] = yields ? yield_new + gas : stress[i];
        dissipated[i] += yields ? (crushed - softened) + relaxed : 0.0;
    }
}

/* Strain of the matter of crushed foam at which skeleton + gas come down to -sigma_tc, unloading from a state
 * (m, s): linear outside 0 .. 0.98 (1 - R), between a quadratic in the distance from a point inside. */
static inline double strain_at_cut(struct foam_values foam, double modulus, double m, double s)
{
    double room = foam.room, limit = 0.98 * room;
    double inside = m < limit ? m : limit;
    inside = inside > 0.0 ? inside : 0.0;
    /* stress above the cut at m = 0, at the limit and at the point inside */
    double over = s + foam.crushed_tension;
    struct foam_gas gas_limit = foam_gas(foam, limit), gas = foam_gas(foam, inside);
    double at_zero = over - modulus * m;
    double at_limit = over + modulus * (limit - m) + gas_limit.pressure;
    double g = over + modulus * (inside - m) + gas.pressure;
    /* E_u d + p(inside) - p(inside - d) = g with q = 1 - R - inside:
     * E_u q d^2 + (E_u q^2 + p0 (1 - R) - g q) d - g q^2 = 0 */
    double q = room - inside, b = modulus * q * q + foam.gas_pressure * room - g * q;
    double square = b * b + 4.0 * modulus * q * g * q * q;
    double back = 2.0 * g * q * q / (b + sqrt(square > 0.0 ? square : 0.0));
    double middle = inside - back;
    return at_zero > 0.0    ? -at_zero / modulus
           : at_limit < 0.0 ? limit - at_limit / (modulus + gas_limit.slope)
                            : middle;
}

/* Zones below the cut-off: the matter stops where the cut is reached and a crack takes up the rest. */
static INLINE void open_crack(struct foam_values foam, const struct foam_zones *restrict z, size_t first,
                              size_t count, const struct scratch *restrict w)
{
    double *restrict matter = z->matter + first, *restrict skeleton = z->skeleton + first;
    double *restrict stress = z->stress + first, *restrict tangent = z->tangent + first;
    const double *restrict plastic = z->plastic + first;
    INDEPENDENT
    for (size_t i = 0; i < count; i++) {
        double modulus = foam_unloading(foam, plastic[i]);
        int crushed = plastic[i] > foam.crushed_from;
        double old = w->old_matter[i], old_skeleton = w->old_skeleton[i];
        double torn = old - (foam.tensile_strength + old_skeleton) / modulus;
        double stays = crushed ? strain_at_cut(foam, modulus, old, old_skeleton) : torn;
        struct foam_gas gas = foam_gas(foam, stays);
        double held = crushed ? -foam.crushed_tension - gas.pressure : -foam.tensile_strength;
        double room = crushed ? stress[i] + foam.crushed_tension : skeleton[i] + foam.tensile_strength;
        int cut = room < 0.0;
        matter[i] = cut ? stays : matter[i];
        skeleton[i] = cut ? held : skeleton[i];
        stress[i] = cut ? 0.0 : stress[i];
        tangent[i] = cut ? modulus + gas.slope : tangent[i];
    }
}

/* Floors for zones that keep none: any stress above zero may yield. */
static double *none(struct scratch *scratch)
{
    for (size_t i = 0; i < CHUNK; i++)
        scratch->floor[i] = 0.0;
    return scratch->floor;
}

static INLINE void update_all(const struct foam *foam, const struct foam_zones *zones, double dt,
                              int densifies)
{
    _Alignas(64) struct scratch scratch;
    struct foam_values values = foam_values(foam);
    double decay = numeric_exp(-dt / foam->rate_time);
    double per_rate = rate_stiffness_factor(foam, dt, decay);
    for (size_t first = 0; first < zones->count; first += CHUNK) {
        size_t left = zones->count - first, count = left < CHUNK ? left : CHUNK;
        double *floor = zones->floor ? zones->floor + first : none(&scratch);
        elastic_trial(values, zones, floor, first, count, dt, decay, &scratch);
        if (scratch.may_yield)
            find_yield(values, densifies, zones, floor, first, count, &scratch);
        if (scratch.may_yield && scratch.yields) {
            project(values, densifies, zones, first, count, &scratch);
            if (scratch.moves)
                project_again(values, densifies, zones, first, count, &scratch);
            return_to_yield(values, zones, floor, first, count, per_rate, &scratch);
        }
        if (scratch.cuts)
            open_crack(values, zones, first, count, &scratch);
    }
}

/* Two functions, so that foam without densification does not pay for its look-up. */
static NOT_INLINE void update_plain(const struct foam *foam, const struct foam_zones *zones, double dt)
{
    update_all(foam, zones, dt, 0);
}

static NOT_INLINE void update_dense(const struct foam *foam, const struct foam_zones *zones, double dt)
{
    update_all(foam, zones, dt, 1);
}

void ISA_NAME(foam_update)(const struct foam *foam, const struct foam_zones *zones, double dt)
{
    (foam->densification_table ? update_dense : update_plain)(foam, zones, dt);
}
