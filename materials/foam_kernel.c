#include "materials/foam_kernel.h"

#include <string.h>

#include "materials/foam_curve.h"

/*
 * One step of many zones, in groups of eight and a few passes: an elastic trial for all; the yield stress of
 * the groups where a zone may lie above it; the return to it where one does; the crack where one lies below
 * the cut-off. A pass leaves a list of the groups that the next one is for, and changes only the zones it is
 * meant for, so that the groups do not show.
 */

enum { LANES = 8, GROUPS = 16, CHUNK = LANES * GROUPS };

/* Groups of a chunk, each by its first zone. */
struct list {
    size_t count, first[GROUPS];
};

/* Between the passes, (CHUNK) each. */
struct scratch {
    double old_matter[CHUNK], old_skeleton[CHUNK];
    double modulus[CHUNK];                 /* of unloading, before the step [Pa] */
    double root[CHUNK], inverse[CHUNK];    /* square root of the rate factor, and 1 over it */
    double intercept[CHUNK], slope[CHUNK]; /* a line of Y_f */
    double yield[CHUNK];                   /* Y_f(kappa) before the step [Pa] */
    double target[CHUNK];                  /* kappa + Y_f(kappa)/E after the step */
    double u[CHUNK];                       /* before the step, then on the line at that target */
    double floor[CHUNK];                   /* where the zones keep none */
    struct list may_yield, yields, moves, moves_on, cuts;
};

/* What is the same for all zones. */
struct step {
    struct foam_values foam;
    double per_time;           /* 1/dt [1/s] */
    double decay;              /* of the rate state */
    double stiffness_per_rate; /* of rate_stiffness */
    double floor_keeps;        /* share of a floor that is left after the step */
};

static INLINE void list_add(struct list *list, size_t first, uint64_t belongs)
{
    list->first[list->count] = first;
    list->count += belongs != 0;
}

/* For sums that say whether any zone does. */
static INLINE uint64_t one_if(int condition)
{
    return condition ? 1 : 0;
}

/* Rate state of a step: r <- d + (r - d) exp(-dt/tau), exact for a d constant over the step. */
static inline double filtered(double rate, double d, double decay)
{
    return d + (rate - d) * decay;
}

static INLINE void elastic_trial(struct step step, struct foam_zones z, size_t first,
                                 struct scratch *restrict w)
{
    struct foam_values foam = step.foam;
    uint64_t may_yield = 0, cuts = 0;
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        size_t i = first + lane;
        double kappa = z.plastic[i], change = z.strain[i] - z.matter[i];
        double floor = z.floor[i] * step.floor_keeps;
        double modulus = foam_unloading(foam, kappa), trial = z.skeleton[i] + modulus * change;
        struct foam_gas gas = foam_gas(foam, z.strain[i]);
        double total = trial + gas.pressure;
        w->old_matter[i] = z.matter[i];
        w->old_skeleton[i] = z.skeleton[i];
        w->modulus[i] = modulus;
        z.rate[i] = filtered(z.rate[i], (change > 0.0 ? change : 0.0) * step.per_time, step.decay);
        z.matter[i] = z.strain[i];
        z.skeleton[i] = trial;
        z.stress[i] = total;
        z.tangent[i] = modulus + gas.slope;
        z.floor[i] = floor;
        double room =
            kappa > foam.crushed_from ? total + foam.crushed_tension : trial + foam.tensile_strength;
        may_yield |= one_if(trial > floor);
        cuts |= one_if(room < 0.0);
    }
    list_add(&w->may_yield, first, may_yield);
    list_add(&w->cuts, first, cuts);
}

/* Yield stress at the present rate, the floor of a zone that stays below it. A zone that may not yield gets
 * one that its trial stress does not reach. */
static INLINE void find_yield(struct step step, int densifies, struct foam_zones z, size_t first,
                              struct scratch *restrict w)
{
    struct foam_values foam = step.foam;
    uint64_t yields = 0;
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        size_t i = first + lane;
        double kappa = z.plastic[i], trial = z.skeleton[i], floor = z.floor[i];
        double factor = foam_rate_factor(foam, z.rate[i]);
        double root = sqrt(factor), inverse = root * (1.0 / factor), u = sqrt(kappa);
        struct foam_line line = foam_yield_line(foam, densifies, root, inverse, u);
        double compliance = (1.0 + foam.softening * kappa) * foam.inverse_young;
        double at_u = line.intercept + line.slope * u, yield = trial > floor ? at_u : trial;
        w->root[i] = root;
        w->inverse[i] = inverse;
        w->intercept[i] = line.intercept;
        w->slope[i] = line.slope;
        w->yield[i] = yield;
        w->target[i] = kappa + yield * foam.inverse_young + (trial - yield) * compliance;
        w->u[i] = u;
        z.floor[i] = trial > floor ? at_u * foam.floor_share : floor;
        yields |= one_if(trial > yield);
    }
    list_add(&w->yields, first, yields);
}

/* A strain increment x moves the rate state by x/tau, and with it the yield stress: a stiffness
 * (dY_f/df) k/(ln 10 r tau), which passes E where crushing comes to rest and r becomes small. A step that is
 * too long for it sets neighbouring cells swinging; their swings hold r up and the foam seems strong for
 * milliseconds: a bound at 64 E moves the HIC of a pad by 2 %. `per_rate` is k/(ln 10 tau) as the filter has
 * it over a step, 2 k/(ln 10 dt) tanh(dt/2 tau). Y_f/f is never below dY_f/df. */
static double rate_stiffness_factor(const struct foam *foam, double dt, double decay)
{
    return foam->rate_gain * 0.4342944819032518 * 2.0 * (1.0 - decay) / ((1.0 + decay) * dt);
}

/* `yield` is Y_f/f. */
static inline double rate_stiffness(struct foam_values foam, double yield, double rate, double per_rate)
{
    double least = foam.rate_reference;
    return yield * per_rate / (rate > least ? rate : least);
}

/* Whether two u lie on different segments. */
static INLINE uint64_t apart(struct foam_values foam, int densifies, double inverse, double u, double v)
{
    double last = foam.last, step = foam.step;
    int differ = foam_place(last, step, u * inverse) != foam_place(last, step, v * inverse);
    int denser = densifies && foam_place(last, step, u) != foam_place(last, step, v);
    return one_if(differ | denser);
}

/* u on the line of the old u where kappa + Y_f(kappa)/E is what the step reaches. */
static INLINE void project(struct step step, int densifies, struct foam_zones z, size_t first,
                           struct scratch *restrict w)
{
    uint64_t moves = 0;
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        size_t i = first + lane;
        struct foam_line line = {w->intercept[i], w->slope[i]};
        double before = w->u[i], u = foam_line_meets(step.foam, line, w->target[i]);
        uint64_t leaves = apart(step.foam, densifies, w->inverse[i], before, u);
        w->u[i] = u;
        moves |= z.skeleton[i] > w->yield[i] ? leaves : 0;
    }
    list_add(&w->moves, first, moves);
}

/* The same on the line of the u found, for zones that have moved on to another segment; the others stay where
 * they are. */
static INLINE void project_again(struct step step, int densifies, struct foam_zones z, size_t first,
                                 struct scratch *restrict w, struct list *next)
{
    uint64_t moves = 0;
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        size_t i = first + lane;
        double before = w->u[i];
        struct foam_line line = foam_yield_line(step.foam, densifies, w->root[i], w->inverse[i], before);
        double u = foam_line_meets(step.foam, line, w->target[i]);
        uint64_t leaves = apart(step.foam, densifies, w->inverse[i], before, u);
        w->intercept[i] = line.intercept;
        w->slope[i] = line.slope;
        w->u[i] = u;
        moves |= z.skeleton[i] > w->yield[i] ? leaves : 0;
    }
    list_add(next, first, moves);
}

/* Zones above their yield stress: the strain beyond yield moves the zone along kappa + Y_f(kappa)/E. A stress
 * left above yield because the factor fell comes down at constant strain by the same rule; what the stress
 * above yield did in the meantime is added to the loss, which then is the work less the change of the stored
 * energy, to second order in the step. */
static INLINE void return_to_yield(struct step step, struct foam_zones z, size_t first,
                                   const struct scratch *restrict w)
{
    struct foam_values foam = step.foam;
    double kappa_part = 0.5 * foam.softening * foam.inverse_young;
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        size_t i = first + lane;
        double kappa = z.plastic[i], yield = w->yield[i], inverse = w->inverse[i];
        double compliance = (1.0 + foam.softening * kappa) * foam.inverse_young;
        double kappa_new = w->u[i] * w->u[i], yield_new = w->intercept[i] + w->slope[i] * w->u[i];
        double above = w->old_skeleton[i] > yield ? w->old_skeleton[i] - yield : 0.0;
        double moved = z.matter[i] - w->old_matter[i];
        double crushed = 0.5 * (yield + yield_new) * (kappa_new - kappa);
        double softened = kappa_part * (kappa_new * yield_new * yield_new - kappa * yield * yield);
        double relaxed = 0.5 * above * (moved + (w->old_skeleton[i] - yield_new) * compliance);
        double least = yield_new * (inverse * inverse);
        double stiffness = rate_stiffness(foam, least, z.rate[i], step.stiffness_per_rate);
        int yields = z.skeleton[i] > yield, steeper = yields & (stiffness > w->modulus[i]);
        double gas = z.stress[i] - z.skeleton[i];
        z.tangent[i] += steeper ? stiffness - w->modulus[i] : 0.0;
        z.floor[i] = yields ? yield_new * foam.floor_share : z.floor[i];
        z.plastic[i] = yields ? kappa_new : kappa;
        z.skeleton[i] = yields ? yield_new : z.skeleton[i];
        z.stress[i] = yields ? yield_new + gas : z.stress[i];
        z.dissipated[i] += yields ? (crushed - softened) + relaxed : 0.0;
    }
}

/* Strain of the matter of crushed foam at which skeleton + gas come down to -sigma_tc, unloading from a state
 * (m, s): linear below 0, a quadratic in the distance beyond 0.98 (1 - R), and between one in the distance
 * from a point inside. */
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
    double steep = modulus + gas_limit.slope, grown = steep * steep - 2.0 * foam.solid * at_limit;
    double beyond = -2.0 * at_limit / (steep + sqrt(grown > 0.0 ? grown : 0.0));
    return at_zero > 0.0 ? -at_zero / modulus : at_limit < 0.0 ? limit + beyond : middle;
}

/* Zones below the cut-off: the matter stops where the cut is reached and a crack takes up the rest. */
static INLINE void open_crack(struct foam_values foam, struct foam_zones z, size_t first,
                              const struct scratch *restrict w)
{
    INDEPENDENT
    for (size_t lane = 0; lane < LANES; lane++) {
        size_t i = first + lane;
        double modulus = foam_unloading(foam, z.plastic[i]);
        int crushed = z.plastic[i] > foam.crushed_from;
        double old = w->old_matter[i], old_skeleton = w->old_skeleton[i];
        double torn = old - (foam.tensile_strength + old_skeleton) / modulus;
        double stays = crushed ? strain_at_cut(foam, modulus, old, old_skeleton) : torn;
        struct foam_gas gas = foam_gas(foam, stays);
        double held = crushed ? -foam.crushed_tension - gas.pressure : -foam.tensile_strength;
        double room = crushed ? z.stress[i] + foam.crushed_tension : z.skeleton[i] + foam.tensile_strength;
        int cut = room < 0.0;
        z.matter[i] = cut ? stays : z.matter[i];
        z.skeleton[i] = cut ? held : z.skeleton[i];
        z.stress[i] = cut ? 0.0 : z.stress[i];
        z.tangent[i] = cut ? modulus + gas.slope : z.tangent[i];
    }
}

/* Whole groups of a chunk. */
static INLINE void update_groups(struct step step, int densifies, struct foam_zones z, struct scratch *w)
{
    w->may_yield.count = w->yields.count = w->moves.count = w->moves_on.count = w->cuts.count = 0;
    for (size_t first = 0; first < z.count; first += LANES)
        elastic_trial(step, z, first, w);
    for (size_t g = 0; g < w->may_yield.count; g++)
        find_yield(step, densifies, z, w->may_yield.first[g], w);
    for (size_t g = 0; g < w->yields.count; g++)
        project(step, densifies, z, w->yields.first[g], w);
    for (size_t g = 0; g < w->moves.count; g++)
        project_again(step, densifies, z, w->moves.first[g], w, &w->moves_on);
    w->moves.count = 0;
    for (size_t g = 0; g < w->moves_on.count; g++)
        project_again(step, densifies, z, w->moves_on.first[g], w, &w->moves);
    for (size_t g = 0; g < w->yields.count; g++)
        return_to_yield(step, z, w->yields.first[g], w);
    for (size_t g = 0; g < w->cuts.count; g++)
        open_crack(step.foam, z, w->cuts.first[g], w);
}

/* Y_f falls fastest when the rate only fades: log r by dt/tau a step, so f, and Y_f with it, by less than the
 * share k dt/(ln 10 tau). */
static INLINE struct step step_of(const struct foam *foam, double dt)
{
    double falls = foam->rate_gain * 0.4342944819032518 * dt / foam->rate_time;
    double decay = numeric_exp(-dt / foam->rate_time);
    return (struct step){.foam = foam_values(foam),
                         .per_time = 1.0 / dt,
                         .decay = decay,
                         .stiffness_per_rate = rate_stiffness_factor(foam, dt, decay),
                         .floor_keeps = falls < 1.0 ? 1.0 - falls : 0.0};
}

/* Zones of a chunk; `count` of them. */
static INLINE struct foam_zones part_of(const struct foam_zones *zones, size_t first, size_t count,
                                        double *floor)
{
    struct foam_zones part = {.count = count,
                              .strain = zones->strain + first,
                              .matter = zones->matter + first,
                              .skeleton = zones->skeleton + first,
                              .plastic = zones->plastic + first,
                              .rate = zones->rate + first,
                              .dissipated = zones->dissipated + first,
                              .stress = zones->stress + first,
                              .tangent = zones->tangent + first,
                              .floor = zones->floor ? zones->floor + first : floor};
    /* any stress above zero may yield where no floor is kept */
    if (!zones->floor)
        memset(floor, 0, count * sizeof *floor);
    return part;
}

/* A group that is not full, filled up with its last zone. */
struct full {
    double value[9][LANES];
};

static INLINE struct foam_zones fill_up(struct foam_zones part, struct full *full)
{
    const double *const from[] = {part.strain,     part.matter, part.skeleton, part.plastic, part.rate,
                                  part.dissipated, part.floor,  part.strain,   part.strain};
    for (size_t a = 0; a < 9; a++) {
        for (size_t i = 0; i < LANES; i++)
            full->value[a][i] = from[a][i < part.count ? i : part.count - 1];
    }
    double(*to)[LANES] = full->value;
    return (struct foam_zones){LANES, to[0], to[1], to[2], to[3], to[4], to[5], to[7], to[8], to[6]};
}

static INLINE void take_back(struct foam_zones part, const struct full *full)
{
    double *const to[] = {part.matter,     part.skeleton, part.plastic, part.rate,
                          part.dissipated, part.floor,    part.stress,  part.tangent};
    for (size_t a = 0; a < 8; a++)
        memcpy(to[a], full->value[a + 1], part.count * sizeof(double));
}

static INLINE void update_all(const struct foam *foam, const struct foam_zones *zones, double dt,
                              int densifies)
{
    _Alignas(64) struct scratch scratch;
    _Alignas(64) struct full full;
    struct step step = step_of(foam, dt);
    for (size_t first = 0; first < zones->count;) {
        size_t left = zones->count - first, most = left < CHUNK ? left : CHUNK;
        size_t count = left < LANES ? left : most / LANES * LANES;
        struct foam_zones part = part_of(zones, first, count, scratch.floor);
        struct foam_zones groups = count < LANES ? fill_up(part, &full) : part;
        update_groups(step, densifies, groups, &scratch);
        if (count < LANES)
            take_back(part, &full);
        first += count;
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
