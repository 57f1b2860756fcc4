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

#if defined(__clang__)
#define INDEPENDENT _Pragma("clang loop vectorize(assume_safety)")
#else
#define INDEPENDENT _Pragma("GCC ivdep")
#endif

#define INLINE     inline __attribute__((always_inline))
#define NOT_INLINE __attribute__((noinline))

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

/* Whether a zone's tension is cut on the total stress: it has been crushed, or a crack is open. */
static INLINE int cut_on_total(struct foam_values foam, double plastic, double cracks)
{
    return plastic > foam.crushed_from || cracks > 0.0;
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
        double room = cut_on_total(foam, kappa, cracks) ? lowest + gas.pressure + foam.crushed_tension
                                                        : lowest + foam.tensile_strength;
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

/* Return to yield: n principal stresses above Y move the zone along kappa + n Y_f(kappa)/E by what lies above
 * it; the line of the old u first, then twice that of the u it gives. The principal stresses come down to the
 * new yield stress. */
static INLINE void return_to_yield(struct foam_values foam, int densifies, struct chunk c,
                                   struct scratch *restrict w)
{
    INDEPENDENT
    for (size_t i = 0; i < c.count; i++) {
        double kappa = c.plastic[i], yield = w->yield[i], hoop = c.skeleton[FOAM_HOOP][i];
        double first = w->first[i], second = w->second[i], inverse = w->inverse[i], root = w->root[i];
        double over = larger(first - yield, 0.0) + larger(second - yield, 0.0) + larger(hoop - yield, 0.0);
        double count =
            (first > yield ? 1.0 : 0.0) + (second > yield ? 1.0 : 0.0) + (hoop > yield ? 1.0 : 0.0);
        double share = count * foam.inverse_young;
        double target = kappa + yield * share + over * ((1.0 + foam.softening * kappa) * foam.inverse_young);
        struct foam_line line = {w->intercept[i], w->slope[i]};
        double u = meets(line, share, target);
        line = foam_yield_line(foam, densifies, root, inverse, u);
        u = meets(line, share, target);
        line = foam_yield_line(foam, densifies, root, inverse, u);
        u = meets(line, share, target);
        double cap = line.intercept + line.slope * u;
        double low = smaller(second, cap), high = smaller(first, cap), radius = w->radius[i];
        int yields = count > 0.0;
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

/* Stress after yielding, and the stiffness that the rate effect adds: see the one-dimensional kernel. */
static INLINE void set_yielded(struct foam_values foam, struct chunk c, double limit, double per_rate,
                               const struct scratch *restrict w)
{
    INDEPENDENT
    for (size_t i = 0; i < c.count; i++) {
        double pressure = c.stress[FOAM_HOOP][i], rate = larger(c.rate[i], foam.rate_reference);
        double cracks = c.crack[FOAM_NORMAL][i] + c.crack[FOAM_ALONG][i] + c.crack[FOAM_HOOP][i];
        double modulus = foam_unloading(foam, w->old_plastic[i]);
        double stiffness = smaller(w->least[i] * per_rate / rate, limit);
        int yields = c.plastic[i] > w->old_plastic[i];
        pressure = foam_gas(foam, c.volume[i] + cracks).pressure;
        c.tangent[i] += yields && stiffness > modulus ? stiffness - modulus : 0.0;
        c.stress[FOAM_NORMAL][i] = c.skeleton[FOAM_NORMAL][i] + pressure;
        c.stress[FOAM_ALONG][i] = c.skeleton[FOAM_ALONG][i] + pressure;
        c.stress[FOAM_HOOP][i] = c.skeleton[FOAM_HOOP][i] + pressure;
        c.stress[FOAM_SHEAR][i] = c.skeleton[FOAM_SHEAR][i];
    }
}

/* Principal stresses below the cut-off: cracks take up the strain, so that the total stress of those
 * directions is -sigma_tc. Opening raises the gas pressure, which is counted by its slope; the pressure then
 * is that of the new strain of the matter. */
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
        double held = -foam.crushed_tension - gas.pressure;
        double limit = cut_on_total(foam, c.plastic[i], cracks) ? held : -foam.tensile_strength;
        int cut_first = first < limit, cut_second = second < limit, cut_hoop = hoop < limit;
        double count = (cut_first ? 1.0 : 0.0) + (cut_second ? 1.0 : 0.0) + (cut_hoop ? 1.0 : 0.0);
        double sum = (cut_first ? first : 0.0) + (cut_second ? second : 0.0) + (cut_hoop ? hoop : 0.0);
        double opening = (count * held - sum) / (modulus + count * gas.slope);
        struct foam_gas now = foam_gas(foam, c.volume[i] + cracks + opening);
        held = -foam.crushed_tension - now.pressure;
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
