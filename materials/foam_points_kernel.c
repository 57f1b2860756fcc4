#include <float.h>
#include <string.h>

#include "materials/foam_curve.h"
#include "materials/foam_kernel.h"

/*
 * One step of many zones of a body of revolution, in groups of eight and passes like the one-dimensional
 * kernel: an elastic trial for all; the yield stress of groups where a principal stress may lie above it; the
 * return to it; the cut-off in tension where one lies below it; the loss, where there was any of these.
 *
 * In the plane of normal and along, principal values are mean +- radius of Mohr's circle; the hoop is the
 * third. Capping them leaves the principal axes alone: the deviator is scaled. With one principal stress not
 * zero every formula below becomes that of the one-dimensional kernel.
 */

enum { LANES = 8, GROUPS = 8, CHUNK = LANES * GROUPS };

/* Groups of a chunk. */
struct list {
    size_t count, group[GROUPS];
};

/* Between the passes, (CHUNK) each. */
struct scratch {
    double old[FOAM_COMPONENTS][CHUNK]; /* skeleton before the step [Pa] */
    double old_crack[CHUNK];            /* sum of the openings before the step */
    double old_plastic[CHUNK];
    double half[CHUNK], radius[CHUNK];  /* (normal - along)/2 and radius of Mohr's circle [Pa] */
    double first[CHUNK], second[CHUNK]; /* principal stresses of the trial in the plane [Pa] */
    double root[CHUNK], inverse[CHUNK]; /* square root of the rate factor, and 1 over it */
    double intercept[CHUNK], slope[CHUNK], yield[CHUNK]; /* of Y_f before the step */
    double least[CHUNK];                                 /* Y after the step at the reference rate [Pa] */
    /* whether any zone of a group does */
    uint64_t may_yield[GROUPS], yields[GROUPS], cuts[GROUPS], closes[GROUPS];
};

/* What is the same for all zones. */
struct step {
    struct foam_values foam;
    double per_time;           /* 1/dt [1/s] */
    double decay;              /* of the rate state */
    double stiffness_per_rate; /* of the stiffness that the rate adds, as in one dimension */
    double floor_keeps;        /* share of a floor that is left after the step */
};

static INLINE uint64_t one_if(int condition)
{
    return condition ? 1 : 0;
}

static INLINE double larger(double a, double b)
{
    return a > b ? a : b;
}

static INLINE double smaller(double a, double b)
{
    return a < b ? a : b;
}

/* Part of an increment that only closes a crack: what is left of it once the tension [Pa] across the crack is
 * gone. */
static INLINE double closing(double increment, double crack, double tension, double compliance)
{
    double left = increment - larger(tension, 0.0) * compliance;
    return larger(smaller(left, crack), 0.0);
}

static INLINE double mohr_radius(double half, double shear)
{
    return sqrt(half * half + shear * shear);
}

/* What a zone bears in tension: sigma_tc, with the gas counted, where the foam has been crushed; sigma_t of
 * the skeleton alone otherwise. */
struct strength {
    double gas;   /* 1 where the gas counts, 0 where it does not */
    double bears; /* [Pa] */
};

static INLINE struct strength strength_of(struct foam_values foam, double plastic)
{
    int crushed = plastic > foam.crushed_from;
    return (struct strength){crushed ? 1.0 : 0.0, crushed ? foam.crushed_tension : foam.tensile_strength};
}

/* Lowest principal skeleton stress [Pa] that is borne at a gas pressure. */
static INLINE double tension_limit(struct strength strength, double pressure)
{
    return -(strength.gas * pressure + strength.bears);
}

static INLINE void elastic_trial(struct step step, struct foam_points c, size_t group,
                                 struct scratch *restrict w)
{
    struct foam_values foam = step.foam;
    uint64_t may_yield = 0, cuts = 0, closes = 0;
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        size_t i = group * LANES + lane;
        double crack_n = c.crack[FOAM_NORMAL][i], crack_a = c.crack[FOAM_ALONG][i];
        double crack_h = c.crack[FOAM_HOOP][i], kappa = c.plastic[i];
        double n = c.crush[FOAM_NORMAL][i], a = c.crush[FOAM_ALONG][i], h = c.crush[FOAM_HOOP][i];
        double s = c.crush[FOAM_SHEAR][i];
        double normal = c.skeleton[FOAM_NORMAL][i], along = c.skeleton[FOAM_ALONG][i];
        double hoop = c.skeleton[FOAM_HOOP][i], shear = c.skeleton[FOAM_SHEAR][i];
        double compliance = (1.0 + foam.softening * kappa) * foam.inverse_young;
        double open = crack_n + crack_a + crack_h;
        double before = foam_gas(foam, c.volume[i] - (n + a + h) + open).pressure;
        double shut_n = closing(n, crack_n, -normal - before, compliance);
        double shut_a = closing(a, crack_a, -along - before, compliance);
        double shut_h = closing(h, crack_h, -hoop - before, compliance);
        w->old_crack[i] = open;
        crack_n -= shut_n, crack_a -= shut_a, crack_h -= shut_h;
        n -= shut_n, a -= shut_a, h -= shut_h;
        double fastest = larger(0.5 * (n + a) + mohr_radius(0.5 * (n - a), s), h);
        double target = larger(fastest, 0.0) * step.per_time;
        c.rate[i] = target + (c.rate[i] - target) * step.decay;
        double modulus = foam_unloading(foam, kappa);
        w->old[FOAM_NORMAL][i] = normal, w->old[FOAM_ALONG][i] = along;
        w->old[FOAM_HOOP][i] = hoop, w->old[FOAM_SHEAR][i] = shear;
        w->old_plastic[i] = kappa;
        normal += modulus * n, along += modulus * a, hoop += modulus * h, shear += modulus * s;
        double cracks = crack_n + crack_a + crack_h;
        struct foam_gas gas = foam_gas(foam, c.volume[i] + cracks);
        double mean = 0.5 * (normal + along), half = 0.5 * (normal - along);
        double radius = mohr_radius(half, shear), first = mean + radius, second = mean - radius;
        w->half[i] = half, w->radius[i] = radius, w->first[i] = first, w->second[i] = second;
        c.crack[FOAM_NORMAL][i] = crack_n, c.crack[FOAM_ALONG][i] = crack_a;
        c.crack[FOAM_HOOP][i] = crack_h;
        c.skeleton[FOAM_NORMAL][i] = normal, c.skeleton[FOAM_ALONG][i] = along;
        c.skeleton[FOAM_HOOP][i] = hoop, c.skeleton[FOAM_SHEAR][i] = shear;
        c.stress[FOAM_NORMAL][i] = normal + gas.pressure, c.stress[FOAM_ALONG][i] = along + gas.pressure;
        c.stress[FOAM_HOOP][i] = hoop + gas.pressure, c.stress[FOAM_SHEAR][i] = shear;
        c.tangent[i] = modulus + gas.slope;
        double lowest = smaller(second, hoop);
        double room = lowest - tension_limit(strength_of(foam, kappa), gas.pressure);
        double floor = c.floor[i] * step.floor_keeps;
        c.floor[i] = floor;
        may_yield |= one_if(larger(first, hoop) > floor);
        cuts |= one_if(room < 0.0);
        closes |= one_if(shut_n + shut_a + shut_h > 0.0);
    }
    w->may_yield[group] = may_yield;
    w->cuts[group] = cuts;
    w->closes[group] = closes;
    w->yields[group] = 0;
}

/* Yield stress at the present rate, the floor of a zone that stays below it; a zone that may not yield gets
 * one that its trial does not reach. */
static INLINE void find_yield(struct step step, int densifies, struct foam_points c, size_t group,
                              struct scratch *restrict w)
{
    struct foam_values foam = step.foam;
    uint64_t yields = 0;
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        size_t i = group * LANES + lane;
        double highest = larger(w->first[i], c.skeleton[FOAM_HOOP][i]), floor = c.floor[i];
        double factor = foam_rate_factor(foam, c.rate[i]);
        double root = sqrt(factor), inverse = root * (1.0 / factor), u = sqrt(c.plastic[i]);
        struct foam_line line = foam_yield_line(foam, densifies, root, inverse, u);
        w->root[i] = root;
        w->inverse[i] = inverse;
        w->intercept[i] = line.intercept;
        w->slope[i] = line.slope;
        double at_u = line.intercept + line.slope * u, yield = highest > floor ? at_u : highest;
        w->yield[i] = yield;
        c.floor[i] = highest > floor ? at_u * foam.floor_share : floor;
        yields |= one_if(highest > yield);
    }
    w->yields[group] = yields;
}

/* u on a line where kappa + n Y/E = t, `share` = n/E. */
static INLINE double meets(struct foam_line line, double share, double t)
{
    double b = 0.5 * line.slope * share, square = b * b + (t - line.intercept * share);
    double u = sqrt(square > 0.0 ? square : 0.0) - b;
    return u > 0.0 ? u : 0.0;
}

/* Principal stresses of a trial at or above `from`: how many, and by how much they exceed `yield`. */
struct flow {
    double count, over;
};

static INLINE struct flow flow_above(double first, double second, double hoop, double from, double yield)
{
    int flows_1 = first >= from, flows_2 = second >= from, flows_h = hoop >= from;
    double over_1 = flows_1 ? first - yield : 0.0, over_2 = flows_2 ? second - yield : 0.0;
    double over_h = flows_h ? hoop - yield : 0.0;
    return (struct flow){(flows_1 ? 1.0 : 0.0) + (flows_2 ? 1.0 : 0.0) + (flows_h ? 1.0 : 0.0),
                         over_1 + over_2 + over_h};
}

/* Return to yield: n principal stresses that exceed the new yield stress Y' move the zone along kappa + n
 * Y_f(kappa)/E by what lies above the old one, and come down to Y'. Which ones exceed it is found with it:
 * first those above the old yield stress on the line of the old u, then twice those above the Y' this gives,
 * on its line. The highest one always counts; one that is zero never does, though uncrushed foam of a rounded
 * knee yields from zero on: counting it would leave one of the three passes to no use. */
static INLINE void return_to_yield(struct step step, int densifies, struct foam_points c, size_t group,
                                   struct scratch *restrict w)
{
    struct foam_values foam = step.foam;
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        size_t i = group * LANES + lane;
        double kappa = c.plastic[i], yield = w->yield[i], hoop = c.skeleton[FOAM_HOOP][i];
        double first = w->first[i], second = w->second[i], inverse = w->inverse[i], root = w->root[i];
        double compliance = (1.0 + foam.softening * kappa) * foam.inverse_young;
        double highest = larger(first, hoop), from = larger(yield, DBL_MIN), u = 0.0;
        int yields = highest > yield;
        struct foam_line line = {w->intercept[i], w->slope[i]};
        for (int pass = 0; pass < 3; pass++) {
            struct flow flow = flow_above(first, second, hoop, from, yield);
            double share = flow.count * foam.inverse_young;
            u = meets(line, share, kappa + yield * share + flow.over * compliance);
            if (pass == 2)
                break;
            from = smaller(larger(line.intercept + line.slope * u, yield), highest);
            line = foam_yield_line(foam, densifies, root, inverse, u);
        }
        double cap = line.intercept + line.slope * u;
        double low = smaller(second, cap), high = smaller(first, cap), radius = w->radius[i];
        double mean = 0.5 * (high + low), scale = radius > 0.0 ? 0.5 * (high - low) / radius : 0.0;
        double deviator = w->half[i] * scale;
        w->least[i] = cap * (inverse * inverse);
        c.plastic[i] = yields ? u * u : kappa;
        c.floor[i] = yields ? cap * foam.floor_share : c.floor[i];
        c.skeleton[FOAM_NORMAL][i] = yields ? mean + deviator : c.skeleton[FOAM_NORMAL][i];
        c.skeleton[FOAM_ALONG][i] = yields ? mean - deviator : c.skeleton[FOAM_ALONG][i];
        c.skeleton[FOAM_SHEAR][i] = yields ? c.skeleton[FOAM_SHEAR][i] * scale : c.skeleton[FOAM_SHEAR][i];
        c.skeleton[FOAM_HOOP][i] = smaller(hoop, yields ? cap : hoop);
    }
}

/* Stress after yielding, and the stiffness that the rate effect adds: see the one-dimensional kernel. What
 * has just become crushed foam bears less tension. */
static INLINE void set_yielded(struct step step, struct foam_points c, size_t group,
                               struct scratch *restrict w)
{
    struct foam_values foam = step.foam;
    uint64_t cuts = 0;
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        size_t i = group * LANES + lane;
        double rate = larger(c.rate[i], foam.rate_reference);
        double cracks = c.crack[FOAM_NORMAL][i] + c.crack[FOAM_ALONG][i] + c.crack[FOAM_HOOP][i];
        double normal = c.skeleton[FOAM_NORMAL][i], along = c.skeleton[FOAM_ALONG][i];
        double hoop = c.skeleton[FOAM_HOOP][i], shear = c.skeleton[FOAM_SHEAR][i];
        double second = 0.5 * (normal + along) - mohr_radius(0.5 * (normal - along), shear);
        double modulus = foam_unloading(foam, w->old_plastic[i]);
        double stiffness = w->least[i] * step.stiffness_per_rate / rate;
        int yields = c.plastic[i] > w->old_plastic[i];
        double pressure = foam_gas(foam, c.volume[i] + cracks).pressure;
        double limit = tension_limit(strength_of(foam, c.plastic[i]), pressure);
        cuts |= one_if(smaller(second, hoop) < limit);
        c.tangent[i] += yields && stiffness > modulus ? stiffness - modulus : 0.0;
        c.stress[FOAM_NORMAL][i] = normal + pressure;
        c.stress[FOAM_ALONG][i] = along + pressure;
        c.stress[FOAM_HOOP][i] = hoop + pressure;
        c.stress[FOAM_SHEAR][i] = shear;
    }
    w->cuts[group] |= cuts;
}

/* Principal stresses below the cut-off, of a group: their count n and sum, and the sum x of the openings that
 * brings them back to it: the skeleton to -sigma_t, or its sum with the gas to -sigma_tc. */
struct cut {
    double first[LANES], second[LANES],
        radius[LANES];                      /* principal stresses in the plane, Mohr's circle [Pa] */
    double modulus[LANES];                  /* of unloading [Pa] */
    double volume[LANES];                   /* 1 - V/V0 of the matter before */
    double limit[LANES];                    /* lowest stress that is borne [Pa] */
    double gas[LANES], bears[LANES];        /* of struct strength */
    double count[LANES], sum[LANES];        /* n, sum [Pa] */
    double opening[LANES], pressure[LANES]; /* x, of the gas with it [Pa] */
    uint64_t moves[LANES];                  /* whether x is not found yet */
};

static INLINE void find_cuts(struct foam_values foam, struct foam_points c, size_t group,
                             struct cut *restrict w)
{
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        size_t i = group * LANES + lane;
        double normal = c.skeleton[FOAM_NORMAL][i], along = c.skeleton[FOAM_ALONG][i];
        double hoop = c.skeleton[FOAM_HOOP][i], shear = c.skeleton[FOAM_SHEAR][i];
        double cracks = c.crack[FOAM_NORMAL][i] + c.crack[FOAM_ALONG][i] + c.crack[FOAM_HOOP][i];
        double mean = 0.5 * (normal + along), radius = mohr_radius(0.5 * (normal - along), shear);
        double first = mean + radius, second = mean - radius;
        double pressure = foam_gas(foam, c.volume[i] + cracks).pressure;
        struct strength strength = strength_of(foam, c.plastic[i]);
        double limit = tension_limit(strength, pressure);
        w->first[lane] = first, w->second[lane] = second, w->radius[lane] = radius;
        w->modulus[lane] = foam_unloading(foam, c.plastic[i]);
        w->volume[lane] = c.volume[i] + cracks;
        w->limit[lane] = limit;
        w->gas[lane] = strength.gas, w->bears[lane] = strength.bears;
        w->count[lane] =
            (first < limit ? 1.0 : 0.0) + (second < limit ? 1.0 : 0.0) + (hoop < limit ? 1.0 : 0.0);
        w->sum[lane] =
            (first < limit ? first : 0.0) + (second < limit ? second : 0.0) + (hoop < limit ? hoop : 0.0);
        w->opening[lane] = 0.0, w->pressure[lane] = pressure;
        w->moves[lane] = first < limit || second < limit || hoop < limit ? 1 : 0;
    }
}

/* Opening raises the gas pressure: where it counts, E_u x + n (p(m + x) + sigma_tc) + sum = 0 by Newton,
 * which squares the error; a step below 1e-8 leaves none. At most four. 1 if any zone has to go on. */
static INLINE uint64_t solve_cuts(struct foam_values foam, struct cut *restrict w)
{
    uint64_t any = 0;
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        double modulus = w->modulus[lane], n = w->count[lane], x = w->opening[lane];
        struct foam_gas gas = foam_gas(foam, w->volume[lane] + x);
        struct strength strength = {w->gas[lane], w->bears[lane]};
        double limit = tension_limit(strength, gas.pressure), slope = strength.gas * gas.slope;
        double step = (modulus * x - n * limit + w->sum[lane]) / (modulus + n * slope);
        double next = w->moves[lane] ? x - step : x;
        uint64_t moves = numeric_absolute(step) > 1e-8 ? w->moves[lane] : 0;
        w->opening[lane] = next;
        w->moves[lane] = moves;
        any |= moves;
    }
    return any;
}

/* Cracks take up what lies below the cut-off. */
static INLINE void open_cracks(struct foam_values foam, struct foam_points c, size_t group)
{
    _Alignas(64) struct cut w;
    find_cuts(foam, c, group, &w);
    for (int pass = 0; pass < 4 && solve_cuts(foam, &w); pass++)
        ;
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        size_t i = group * LANES + lane;
        double normal = c.skeleton[FOAM_NORMAL][i], along = c.skeleton[FOAM_ALONG][i];
        double hoop = c.skeleton[FOAM_HOOP][i], shear = c.skeleton[FOAM_SHEAR][i];
        double first = w.first[lane], second = w.second[lane], radius = w.radius[lane], limit = w.limit[lane];
        struct strength strength = {w.gas[lane], w.bears[lane]};
        double held = tension_limit(strength, foam_gas(foam, w.volume[lane] + w.opening[lane]).pressure);
        double high = first < limit ? held : first, low = second < limit ? held : second;
        double scale = radius > 0.0 ? 0.5 * (high - low) / radius : 0.0;
        double compliance = (1.0 + foam.softening * c.plastic[i]) * foam.inverse_young;
        double centre = 0.5 * (high + low), deviator = 0.5 * (normal - along) * scale;
        int cut = w.count[lane] > 0.0;
        double next_normal = centre + deviator, next_along = centre - deviator;
        double next_hoop = hoop < limit ? held : hoop, next_shear = shear * scale;
        double open_n = larger((next_normal - normal) * compliance, -c.crack[FOAM_NORMAL][i]);
        double open_a = larger((next_along - along) * compliance, -c.crack[FOAM_ALONG][i]);
        double open_h = larger((next_hoop - hoop) * compliance, -c.crack[FOAM_HOOP][i]);
        double crack_n = c.crack[FOAM_NORMAL][i] + (cut ? open_n : 0.0);
        double crack_a = c.crack[FOAM_ALONG][i] + (cut ? open_a : 0.0);
        double crack_h = c.crack[FOAM_HOOP][i] + (cut ? open_h : 0.0);
        double pressure = foam_gas(foam, c.volume[i] + (crack_n + crack_a + crack_h)).pressure;
        c.crack[FOAM_NORMAL][i] = crack_n, c.crack[FOAM_ALONG][i] = crack_a, c.crack[FOAM_HOOP][i] = crack_h;
        c.skeleton[FOAM_NORMAL][i] = cut ? next_normal : normal;
        c.skeleton[FOAM_ALONG][i] = cut ? next_along : along;
        c.skeleton[FOAM_HOOP][i] = cut ? next_hoop : hoop;
        c.skeleton[FOAM_SHEAR][i] = cut ? next_shear : shear;
        c.stress[FOAM_NORMAL][i] = cut ? next_normal + pressure : c.stress[FOAM_NORMAL][i];
        c.stress[FOAM_ALONG][i] = cut ? next_along + pressure : c.stress[FOAM_ALONG][i];
        c.stress[FOAM_HOOP][i] = cut ? next_hoop + pressure : c.stress[FOAM_HOOP][i];
        c.stress[FOAM_SHEAR][i] = cut ? next_shear : c.stress[FOAM_SHEAR][i];
    }
}

/* Loss of the step: work of the mean stress on the step's strain less what the skeleton and, where cracks
 * moved, the gas have gained. Zero in an elastic step, to second order in others. */
static INLINE void add_loss(struct foam_values foam, struct foam_points c, size_t group,
                            const struct scratch *restrict w)
{
    double compliance = 0.5 * foam.inverse_young;
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        size_t i = group * LANES + lane;
        double n = c.skeleton[FOAM_NORMAL][i], a = c.skeleton[FOAM_ALONG][i];
        double h = c.skeleton[FOAM_HOOP][i], s = c.skeleton[FOAM_SHEAR][i];
        double n0 = w->old[FOAM_NORMAL][i], a0 = w->old[FOAM_ALONG][i];
        double h0 = w->old[FOAM_HOOP][i], s0 = w->old[FOAM_SHEAR][i];
        double dn = c.crush[FOAM_NORMAL][i], da = c.crush[FOAM_ALONG][i], dh = c.crush[FOAM_HOOP][i];
        double work =
            0.5 * ((n0 + n) * dn + (a0 + a) * da + (h0 + h) * dh) + (s0 + s) * c.crush[FOAM_SHEAR][i];
        double square = (n * n + a * a) + (h * h + 2.0 * (s * s));
        double square0 = (n0 * n0 + a0 * a0) + (h0 * h0 + 2.0 * (s0 * s0));
        double gain = compliance * (square * (1.0 + foam.softening * c.plastic[i]) -
                                    square0 * (1.0 + foam.softening * w->old_plastic[i]));
        double cracks = c.crack[FOAM_NORMAL][i] + c.crack[FOAM_ALONG][i] + c.crack[FOAM_HOOP][i];
        double opened = cracks - w->old_crack[i], volume = c.volume[i];
        double before = foam_gas(foam, volume - (dn + da + dh) + w->old_crack[i]).pressure;
        double after = foam_gas(foam, volume + cracks).pressure;
        int moved = (c.plastic[i] > w->old_plastic[i]) | (opened != 0.0);
        double loss = (work - gain) - 0.5 * (before + after) * opened;
        c.dissipated[i] += moved ? loss : 0.0;
    }
}

/* The groups that a flag is set for. */
static INLINE struct list list_of(const uint64_t *flag, size_t groups)
{
    struct list list = {0};
    for (size_t g = 0; g < groups; g++) {
        list.group[list.count] = g;
        list.count += flag[g] != 0;
    }
    return list;
}

/* Whole groups of a chunk. */
static INLINE void update_groups(struct step step, int densifies, struct foam_points c, struct scratch *w)
{
    size_t groups = c.count / LANES;
    for (size_t g = 0; g < groups; g++)
        elastic_trial(step, c, g, w);
    struct list list = list_of(w->may_yield, groups);
    for (size_t l = 0; l < list.count; l++)
        find_yield(step, densifies, c, list.group[l], w);
    list = list_of(w->yields, groups);
    for (size_t l = 0; l < list.count; l++)
        return_to_yield(step, densifies, c, list.group[l], w);
    for (size_t l = 0; l < list.count; l++)
        set_yielded(step, c, list.group[l], w);
    list = list_of(w->cuts, groups);
    for (size_t l = 0; l < list.count; l++)
        open_cracks(step.foam, c, list.group[l]);
    for (size_t g = 0; g < groups; g++)
        w->cuts[g] |= w->yields[g] | w->closes[g];
    list = list_of(w->cuts, groups);
    for (size_t l = 0; l < list.count; l++)
        add_loss(step.foam, c, list.group[l], w);
}

enum {
    STATES = FOAM_COMPONENTS + FOAM_AXES + 4,
    OUTPUTS = FOAM_COMPONENTS + 1,
    INPUTS = FOAM_COMPONENTS + 1
};

/* Addresses of all arrays: states, then outputs, then inputs. */
struct arrays {
    double **written[STATES + OUTPUTS];
    const double **read[INPUTS];
};

static INLINE struct arrays arrays_of(struct foam_points *c)
{
    return (struct arrays){{&c->skeleton[0], &c->skeleton[1], &c->skeleton[2], &c->skeleton[3], &c->crack[0],
                            &c->crack[1], &c->crack[2], &c->plastic, &c->rate, &c->dissipated, &c->floor,
                            &c->stress[0], &c->stress[1], &c->stress[2], &c->stress[3], &c->tangent},
                           {&c->crush[0], &c->crush[1], &c->crush[2], &c->crush[3], &c->volume}};
}

static INLINE struct foam_points part_of(const struct foam_points *points, size_t first, size_t count)
{
    struct foam_points part = *points;
    struct arrays arrays = arrays_of(&part);
    for (size_t a = 0; a < STATES + OUTPUTS; a++)
        *arrays.written[a] += first;
    for (size_t a = 0; a < INPUTS; a++)
        *arrays.read[a] += first;
    part.count = count;
    return part;
}

/* A group that is not full, filled up with its last zone. */
struct full {
    double written[STATES + OUTPUTS][LANES], read[INPUTS][LANES];
};

static void copy_filled(const double *from, size_t count, double *to)
{
    for (size_t i = 0; i < LANES; i++)
        to[i] = from[i < count ? i : count - 1];
}

static struct foam_points fill_up(struct foam_points part, struct full *full)
{
    struct foam_points group = {.count = LANES};
    struct arrays from = arrays_of(&part), to = arrays_of(&group);
    for (size_t a = 0; a < STATES + OUTPUTS; a++) {
        *to.written[a] = full->written[a];
        if (a < STATES)
            copy_filled(*from.written[a], part.count, full->written[a]);
    }
    for (size_t a = 0; a < INPUTS; a++) {
        *to.read[a] = full->read[a];
        copy_filled(*from.read[a], part.count, full->read[a]);
    }
    return group;
}

static void take_back(struct foam_points part, const struct full *full)
{
    struct arrays to = arrays_of(&part);
    for (size_t a = 0; a < STATES + OUTPUTS; a++)
        memcpy(*to.written[a], full->written[a], part.count * sizeof(double));
}

static struct step step_of(const struct foam *foam, double dt)
{
    double falls = foam->rate_gain * 0.4342944819032518 * dt / foam->rate_time;
    double decay = numeric_exp(-dt / foam->rate_time);
    double mean = 2.0 * (1.0 - decay) / ((1.0 + decay) * dt);
    return (struct step){.foam = foam_values(foam),
                         .per_time = 1.0 / dt,
                         .decay = decay,
                         .stiffness_per_rate = foam->rate_gain * 0.4342944819032518 * mean,
                         .floor_keeps = falls < 1.0 ? 1.0 - falls : 0.0};
}

static INLINE void update_all(const struct foam *foam, const struct foam_points *points, double dt,
                              int densifies)
{
    _Alignas(64) struct scratch scratch;
    _Alignas(64) struct full full;
    struct step step = step_of(foam, dt);
    for (size_t first = 0; first < points->count;) {
        size_t left = points->count - first, most = left < CHUNK ? left : CHUNK;
        size_t count = left < LANES ? left : most / LANES * LANES;
        struct foam_points part = part_of(points, first, count);
        struct foam_points groups = count < LANES ? fill_up(part, &full) : part;
        update_groups(step, densifies, groups, &scratch);
        if (count < LANES)
            take_back(part, &full);
        first += count;
    }
}

/* Two functions, so that foam without densification does not pay for its look-up. */
static NOT_INLINE void update_plain(const struct foam *foam, const struct foam_points *points, double dt)
{
    update_all(foam, points, dt, 0);
}

static NOT_INLINE void update_dense(const struct foam *foam, const struct foam_points *points, double dt)
{
    update_all(foam, points, dt, 1);
}

void ISA_NAME(foam_update_points)(const struct foam *foam, const struct foam_points *points, double dt)
{
    (foam->densification_table ? update_dense : update_plain)(foam, points, dt);
}
