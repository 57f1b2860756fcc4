#include "materials/foam_curve.h"
#include "materials/foam_kernel.h"

/*
 * One step of many zones of a body of revolution, in chunks and passes like the one-dimensional kernel: an
 * elastic trial for all; the yield stress if any principal stress of the chunk may lie above it; the return
 * to it; the cut-off in tension if any lies below it; the loss, where there was any of these.
 *
 * In the plane of normal and along, principal values are mean +- radius of Mohr's circle; the hoop is the
 * third. Capping them leaves the principal axes alone: the deviator is scaled. With one principal stress not
 * zero every formula below becomes that of the one-dimensional kernel.
 */

enum { CHUNK = 32 };

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
    int may_yield, yields, cuts, closes;                 /* whether any zone does */
};

/* Pointers of a chunk. */
struct chunk {
    size_t count;
    const double *crush[FOAM_COMPONENTS], *volume;
    double *skeleton[FOAM_COMPONENTS], *crack[FOAM_AXES], *stress[FOAM_COMPONENTS];
    double *plastic, *rate, *dissipated, *floor, *tangent;
};

static INLINE struct chunk chunk_of(const struct foam_points *points, size_t first, size_t count)
{
    struct chunk c = {.count = count,
                      .volume = points->volume + first,
                      .plastic = points->plastic + first,
                      .rate = points->rate + first,
                      .dissipated = points->dissipated + first,
                      .floor = points->floor + first,
                      .tangent = points->tangent + first};
    for (int k = 0; k < FOAM_COMPONENTS; k++) {
        c.crush[k] = points->crush[k] + first;
        c.skeleton[k] = points->skeleton[k] + first;
        c.stress[k] = points->stress[k] + first;
    }
    for (int k = 0; k < FOAM_AXES; k++)
        c.crack[k] = points->crack[k] + first;
    return c;
}

/* Part of an increment that only closes a crack. */
static INLINE double closing(double increment, double crack)
{
    double shut = increment < crack ? increment : crack;
    return shut > 0.0 ? shut : 0.0;
}

static INLINE double mohr_radius(double half, double shear)
{
    return sqrt(half * half + shear * shear);
}

static INLINE double larger(double a, double b)
{
    return a > b ? a : b;
}

static INLINE double smaller(double a, double b)
{
    return a < b ? a : b;
}

/* Lowest principal skeleton stress that a zone bears at a gas pressure: no tension in total where a crack is
 * open, sigma_tc in total where the foam has been crushed, sigma_t otherwise. */
static INLINE double tension_limit(struct foam_values foam, double plastic, double cracks, double pressure)
{
    double whole = plastic > foam.crushed_from ? -foam.crushed_tension - pressure : -foam.tensile_strength;
    return cracks > 0.0 ? -pressure : whole;
}

static INLINE void elastic_trial(struct foam_values foam, struct chunk c, double per_time, double decay,
                                 struct scratch *restrict w)
{
    int may_yield = 0, cuts = 0, closes = 0;
    INDEPENDENT
    for (size_t i = 0; i < c.count; i++) {
        double crack_n = c.crack[FOAM_NORMAL][i], crack_a = c.crack[FOAM_ALONG][i];
        double crack_h = c.crack[FOAM_HOOP][i], kappa = c.plastic[i];
        double n = c.crush[FOAM_NORMAL][i], a = c.crush[FOAM_ALONG][i], h = c.crush[FOAM_HOOP][i];
        double s = c.crush[FOAM_SHEAR][i];
        double shut_n = closing(n, crack_n), shut_a = closing(a, crack_a), shut_h = closing(h, crack_h);
        w->old_crack[i] = crack_n + crack_a + crack_h;
        crack_n -= shut_n, crack_a -= shut_a, crack_h -= shut_h;
        n -= shut_n, a -= shut_a, h -= shut_h;
        double fastest = larger(0.5 * (n + a) + mohr_radius(0.5 * (n - a), s), h);
        c.rate[i] = larger(fastest, 0.0) * per_time + (c.rate[i] - larger(fastest, 0.0) * per_time) * decay;
        double modulus = foam_unloading(foam, kappa);
        double normal = c.skeleton[FOAM_NORMAL][i], along = c.skeleton[FOAM_ALONG][i];
        double hoop = c.skeleton[FOAM_HOOP][i], shear = c.skeleton[FOAM_SHEAR][i];
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
        double room = lowest - tension_limit(foam, kappa, cracks, gas.pressure);
        may_yield |= larger(first, hoop) > c.floor[i];
        cuts |= room < 0.0;
        closes |= shut_n + shut_a + shut_h > 0.0;
    }
    w->may_yield = may_yield;
    w->cuts = cuts;
    w->closes = closes;
    w->yields = 0;
}

/* Yield stress at the present rate; a zone that may not yield gets one that its trial does not reach. */
static INLINE void find_yield(struct foam_values foam, int densifies, struct chunk c,
                              struct scratch *restrict w)
{
    double per_rate = 1.0 / foam.rate_reference;
    int yields = 0;
    INDEPENDENT
    for (size_t i = 0; i < c.count; i++) {
        double ratio = c.rate[i] * per_rate, highest = larger(w->first[i], c.skeleton[FOAM_HOOP][i]);
        double factor = 1.0 + foam.rate_gain * numeric_log10(ratio > 1.0 ? ratio : 1.0);
        double root = sqrt(factor), inverse = 1.0 / root, u = sqrt(c.plastic[i]);
        struct foam_line line = foam_yield_line(foam, densifies, root, inverse, u);
        w->root[i] = root;
        w->inverse[i] = inverse;
        w->intercept[i] = line.intercept;
        w->slope[i] = line.slope;
        w->yield[i] = highest > c.floor[i] ? line.intercept + line.slope * u : highest;
        yields |= highest > w->yield[i];
    }
    w->yields = yields;
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
 * on its line. The highest one always counts. */
static INLINE void return_to_yield(struct foam_values foam, int densifies, struct chunk c,
                                   struct scratch *restrict w)
{
    INDEPENDENT
    for (size_t i = 0; i < c.count; i++) {
        double kappa = c.plastic[i], yield = w->yield[i], hoop = c.skeleton[FOAM_HOOP][i];
        double first = w->first[i], second = w->second[i], inverse = w->inverse[i], root = w->root[i];
        double compliance = (1.0 + foam.softening * kappa) * foam.inverse_young;
        double highest = larger(first, hoop), from = yield, u = 0.0;
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
        c.floor[i] = yields ? w->least[i] : c.floor[i];
        c.skeleton[FOAM_NORMAL][i] = yields ? mean + deviator : c.skeleton[FOAM_NORMAL][i];
        c.skeleton[FOAM_ALONG][i] = yields ? mean - deviator : c.skeleton[FOAM_ALONG][i];
        c.skeleton[FOAM_SHEAR][i] = yields ? c.skeleton[FOAM_SHEAR][i] * scale : c.skeleton[FOAM_SHEAR][i];
        c.skeleton[FOAM_HOOP][i] = smaller(hoop, yields ? cap : hoop);
    }
}

/* Stress after yielding, and the stiffness that the rate effect adds: see the one-dimensional kernel. What
 * has just become crushed foam bears less tension. */
static INLINE void set_yielded(struct foam_values foam, struct chunk c, double limit, double per_rate,
                               struct scratch *restrict w)
{
    int cuts = 0;
    INDEPENDENT
    for (size_t i = 0; i < c.count; i++) {
        double rate = larger(c.rate[i], foam.rate_reference);
        double cracks = c.crack[FOAM_NORMAL][i] + c.crack[FOAM_ALONG][i] + c.crack[FOAM_HOOP][i];
        double normal = c.skeleton[FOAM_NORMAL][i], along = c.skeleton[FOAM_ALONG][i];
        double hoop = c.skeleton[FOAM_HOOP][i], shear = c.skeleton[FOAM_SHEAR][i];
        double second = 0.5 * (normal + along) - mohr_radius(0.5 * (normal - along), shear);
        double modulus = foam_unloading(foam, w->old_plastic[i]);
        double stiffness = smaller(w->least[i] * per_rate / rate, limit);
        int yields = c.plastic[i] > w->old_plastic[i];
        double pressure = foam_gas(foam, c.volume[i] + cracks).pressure;
        cuts |= smaller(second, hoop) < tension_limit(foam, c.plastic[i], cracks, pressure);
        c.tangent[i] += yields && stiffness > modulus ? stiffness - modulus : 0.0;
        c.stress[FOAM_NORMAL][i] = normal + pressure;
        c.stress[FOAM_ALONG][i] = along + pressure;
        c.stress[FOAM_HOOP][i] = hoop + pressure;
        c.stress[FOAM_SHEAR][i] = shear;
    }
    w->cuts |= cuts;
}

/* Principal stresses below the cut-off: cracks take up the strain, so that the total stress of those
 * directions is zero. Opening raises the gas pressure: E_u x + n p(m + x) + sum of s = 0 for the sum x of the
 * n openings, by four Newton steps. */
static INLINE void open_cracks(struct foam_values foam, struct chunk c)
{
    INDEPENDENT
    for (size_t i = 0; i < c.count; i++) {
        double normal = c.skeleton[FOAM_NORMAL][i], along = c.skeleton[FOAM_ALONG][i];
        double hoop = c.skeleton[FOAM_HOOP][i], shear = c.skeleton[FOAM_SHEAR][i];
        double cracks = c.crack[FOAM_NORMAL][i] + c.crack[FOAM_ALONG][i] + c.crack[FOAM_HOOP][i];
        double mean = 0.5 * (normal + along), half = 0.5 * (normal - along);
        double radius = mohr_radius(half, shear), first = mean + radius, second = mean - radius;
        double modulus = foam_unloading(foam, c.plastic[i]);
        struct foam_gas gas = foam_gas(foam, c.volume[i] + cracks);
        double limit = tension_limit(foam, c.plastic[i], cracks, gas.pressure);
        int cut_first = first < limit, cut_second = second < limit, cut_hoop = hoop < limit;
        double count = (cut_first ? 1.0 : 0.0) + (cut_second ? 1.0 : 0.0) + (cut_hoop ? 1.0 : 0.0);
        double sum = (cut_first ? first : 0.0) + (cut_second ? second : 0.0) + (cut_hoop ? hoop : 0.0);
        double opening = 0.0;
        for (int pass = 0; pass < 4; pass++) {
            opening -= (modulus * opening + count * gas.pressure + sum) / (modulus + count * gas.slope);
            gas = foam_gas(foam, c.volume[i] + cracks + opening);
        }
        double held = -gas.pressure;
        double high = cut_first ? held : first, low = cut_second ? held : second;
        double scale = radius > 0.0 ? 0.5 * (high - low) / radius : 0.0, per_modulus = 1.0 / modulus;
        double centre = 0.5 * (high + low), deviator = half * scale;
        int cut = count > 0.0;
        double next_normal = centre + deviator, next_along = centre - deviator;
        double next_hoop = cut_hoop ? held : hoop, next_shear = shear * scale;
        double open_n = (next_normal - normal) * per_modulus, open_a = (next_along - along) * per_modulus;
        double open_h = (next_hoop - hoop) * per_modulus;
        c.crack[FOAM_NORMAL][i] += cut ? larger(open_n, -c.crack[FOAM_NORMAL][i]) : 0.0;
        c.crack[FOAM_ALONG][i] += cut ? larger(open_a, -c.crack[FOAM_ALONG][i]) : 0.0;
        c.crack[FOAM_HOOP][i] += cut ? larger(open_h, -c.crack[FOAM_HOOP][i]) : 0.0;
        cracks = c.crack[FOAM_NORMAL][i] + c.crack[FOAM_ALONG][i] + c.crack[FOAM_HOOP][i];
        double pressure = foam_gas(foam, c.volume[i] + cracks).pressure;
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
static INLINE void add_loss(struct foam_values foam, struct chunk c, const struct scratch *restrict w)
{
    double compliance = 0.5 * foam.inverse_young;
    INDEPENDENT
    for (size_t i = 0; i < c.count; i++) {
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

static INLINE void update_all(const struct foam *foam, const struct foam_points *points, double dt,
                              int densifies)
{
    _Alignas(64) struct scratch scratch;
    struct foam_values values = foam_values(foam);
    double decay = numeric_exp(-dt / foam->rate_time);
    double per_rate = foam->rate_gain * 0.4342944819032518 * 2.0 * (1.0 - decay) / ((1.0 + decay) * dt);
    double limit = 64.0 * foam->young;
    for (size_t first = 0; first < points->count; first += CHUNK) {
        size_t left = points->count - first, count = left < CHUNK ? left : CHUNK;
        struct chunk chunk = chunk_of(points, first, count);
        elastic_trial(values, chunk, 1.0 / dt, decay, &scratch);
        if (scratch.may_yield)
            find_yield(values, densifies, chunk, &scratch);
        if (scratch.yields) {
            return_to_yield(values, densifies, chunk, &scratch);
            set_yielded(values, chunk, limit, per_rate, &scratch);
        }
        if (scratch.cuts)
            open_cracks(values, chunk);
        if (scratch.yields | scratch.cuts | scratch.closes)
            add_loss(values, chunk, &scratch);
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
