#include "materials/foam.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>

#include "materials/foam_curve.h"
#include "materials/foam_kernel.h"
#include "solver/base/memory.h"
#include "solver/base/numeric.h"

/* Entries of a table over u = sqrt(kappa) in 0 .. 1. 1024 segments keep Y within 1e-5 of the curve for knees
 * as sharp as sigma_pl/E = 0.01. */
enum { TABLE_COUNT = 1025 };

/* Steepest slope of the virgin curve beyond its start, as a share of E. */
static const double steepest_share = 0.9;

struct point {
    double stress, slope;
};

static struct point rounded(const struct foam_parameters *p, double e)
{
    double drop = p->youngs_modulus - p->hardening;
    double left = numeric_exp(-drop * e / p->collapse_stress);
    return (struct point){p->collapse_stress * (1 - left) + p->hardening * e, drop * left + p->hardening};
}

static struct point sharp(const struct foam_parameters *p, double e)
{
    double after = p->collapse_stress + p->hardening * e, before = p->youngs_modulus * e;
    return before < after ? (struct point){before, p->youngs_modulus} : (struct point){after, p->hardening};
}

/* K, by which the slope of closed pores grows to the solid's modulus at strain 1. */
static double solid_growth(const struct foam_parameters *p)
{
    double room = 1 - p->density / p->solid_density, left = 0.02 * room;
    double slope = p->gas_pressure * room / (left * left);
    return p->gas_pressure > 0 && p->solid_modulus > slope ? (p->solid_modulus - slope) / (1 - 0.98 * room)
                                                           : 0;
}

static double gas_stress(const struct foam_parameters *p, double e)
{
    struct foam_values gas = {
        .gas_pressure = p->gas_pressure, .room = 1 - p->density / p->solid_density, .solid = solid_growth(p)};
    return foam_gas(gas, e).pressure;
}

/* Skeleton of a measured curve; straight on beyond its end. The gas is taken off at the points only, so that
 * the skeleton is a broken line too. */
static struct point measured(const struct foam_parameters *p, double e)
{
    size_t i = 0;
    while (i + 1 < p->curve_count && e > p->curve_strain[i])
        i++;
    double from = i ? p->curve_strain[i - 1] : 0, to = p->curve_strain[i];
    double low = i ? p->curve_stress[i - 1] - gas_stress(p, from) : 0;
    double high = p->curve_stress[i] - gas_stress(p, to);
    double slope = (high - low) / (to - from);
    return (struct point){low + slope * (e - from), slope};
}

/* S without densification. */
static struct point plateau_curve(const struct foam_parameters *p, double e)
{
    return p->curve_count ? measured(p, e) : p->sharp ? sharp(p, e) : rounded(p, e);
}

static double densification_from(const struct foam_parameters *p)
{
    return 0.9 * (1 - p->density / p->solid_density);
}

/* What densification adds to S. */
static struct point densification_curve(const struct foam_parameters *p, double e)
{
    double from = densification_from(p), room = 1 - p->density / p->solid_density - from;
    double beyond = e > from ? e - from : 0;
    double limit = steepest_share * p->youngs_modulus - plateau_curve(p, from).slope;
    double turn = 0.5 * limit * room / p->densification_modulus, inside = beyond < turn ? beyond : turn;
    double slope = 2 * p->densification_modulus * inside / room;
    return (struct point){0.5 * slope * inside + slope * (beyond - inside), slope};
}

static struct point virgin_curve(const struct foam_parameters *p, int densifies, double e)
{
    struct point sum = plateau_curve(p, e);
    if (densifies) {
        struct point more = densification_curve(p, e);
        sum.stress += more.stress;
        sum.slope += more.slope;
    }
    return sum;
}

/* e - S(e)/E - kappa, and its slope. A few units in the last place of e count as nothing: below a sharp knee
 * the difference is zero but for rounding. */
static struct point plastic_excess(const struct foam_parameters *p, int densifies, double e, double kappa)
{
    struct point at = virgin_curve(p, densifies, e);
    double share = 1 / p->youngs_modulus;
    return (struct point){e - at.stress * share - kappa - 1e-14 * e, 1 - at.slope * share};
}

/* Largest strain from `low` on with e - S(e)/E <= kappa: Newton steps, kept inside a bracket. */
static double strain_of_plastic(const struct foam_parameters *p, int densifies, double kappa, double low)
{
    double high = low + 0.01;
    while (plastic_excess(p, densifies, high, kappa).stress <= 0)
        high += 0.5 * (high - low) + 0.01;
    double e = high;
    for (int i = 0; i < 80 && high - low > 1e-15 * high; i++) {
        struct point excess = plastic_excess(p, densifies, e, kappa);
        if (excess.stress > 0)
            high = e;
        else
            low = e;
        double next = e - excess.stress / excess.slope;
        if (numeric_absolute(next - e) <= 1e-15 * e)
            return e;
        e = next > low && next < high ? next : 0.5 * (low + high);
    }
    return low;
}

/* Y on the grid, in a new table; NULL when memory is out. */
static double *yield_table(const struct foam_parameters *p, int densifies)
{
    double *table = memory_doubles(TABLE_COUNT), e = 0;
    for (int i = 0; table && i < TABLE_COUNT; i++) {
        double u = (double)i / (TABLE_COUNT - 1);
        e = i || p->sharp || p->curve_count ? strain_of_plastic(p, densifies, u * u, e) : 0;
        table[i] = virgin_curve(p, densifies, e).stress;
    }
    return table;
}

/* Largest softening a for which crushing never gives energy back at rate factors up to 1.5: the loss is
 * s dkappa (1 - (a/E)(Y/2 + kappa dY/dkappa)). It also keeps the virgin curve's slope below the unloading
 * modulus, 1/(1/Y' + 1/E) <= E/(1 + a kappa), so that this modulus bounds every slope of the skeleton at a
 * given rate. */
static double largest_softening(const struct foam *foam)
{
    double largest = 0;
    for (size_t i = 0; i + 1 < foam->table_count; i++) {
        double u = (double)i * foam->table_step, v = u + foam->table_step;
        double low = foam->yield_table[i], high = foam->yield_table[i + 1];
        if (foam->densification_table) {
            low += foam->densification_table[i];
            high += foam->densification_table[i + 1];
        }
        double cost = 0.5 * high + v * v * (high - low) / (v * v - u * u);
        largest = cost > largest ? cost : largest;
    }
    return foam->young / (1.5 * largest);
}

/* Y_f = f Y(kappa/f) falls by a smaller share than f where Y rises with kappa, and never when f rises where
 * Y - kappa dY/dkappa >= 0, A + B u/2 on a segment. Then a yield stress is a lower bound of those to come;
 * the share leaves room for rounding. No bound for measured curves that bend otherwise. */
static double floor_share(const struct foam *foam)
{
    for (size_t i = 0; i + 1 < foam->table_count; i++) {
        double u = (double)i * foam->table_step, low = foam->yield_table[i], high = foam->yield_table[i + 1];
        double slope = (high - low) / foam->table_step, intercept = low - slope * u;
        double least = intercept + 0.5 * slope * (u + foam->table_step);
        if (slope < 0 || least < 0)
            return 0;
    }
    return 1 - 1e-12;
}

/* Energy of the gas [J/m3]: the integral of its pressure, p0 ((1 - R) ln((1 - R)/(1 - R - m)) - m), and of
 * what follows beyond 0.98 (1 - R). */
static double gas_energy(const struct foam *foam, double m)
{
    if (!(m > 0))
        return 0;
    double room = 1 - foam->relative_density, limit = 0.98 * room, inside = m < limit ? m : limit;
    double energy = foam->gas_pressure * (room * numeric_log(room / (room - inside)) - inside);
    double beyond = m - inside;
    struct foam_gas full = foam_gas(foam_values(foam), inside);
    return energy + full.pressure * beyond + 0.5 * full.slope * beyond * beyond +
           foam->solid_growth / 6 * beyond * beyond * beyond;
}

/* Point of the virgin curve at a node of the table: strain, skeleton stress, and energy of the skeleton,
 * which is the integral of Y over kappa + Y^2/2E because e = kappa + Y/E. */
struct node {
    double strain, yield, crushed;
};

static struct node next_node(const struct foam *foam, size_t i, struct node before)
{
    double u = (double)i * foam->table_step, t = u - foam->table_step;
    double yield = foam->yield_table[i];
    if (foam->densification_table)
        yield += foam->densification_table[i];
    struct node node = {u * u + yield / foam->young, yield, before.crushed};
    if (i) {
        /* Y is a straight line in u and dkappa = 2 u du */
        double slope = (yield - before.yield) / foam->table_step, intercept = yield - slope * u;
        node.crushed += intercept * (u * u - t * t) + 2.0 / 3.0 * slope * (u * u * u - t * t * t);
    }
    return node;
}

static double node_energy(const struct foam *foam, struct node node, double strain)
{
    return node.crushed + 0.5 * node.yield * node.yield / foam->young + gas_energy(foam, strain);
}

static double node_efficiency(const struct foam *foam, struct node node)
{
    double stress = node.yield + foam_gas(foam_values(foam), node.strain).pressure;
    return stress > 0 ? node_energy(foam, node, node.strain) / stress : 0;
}

/* Strain where W/sigma of the virgin curve is largest, from a parabola through the best node and its
 * neighbours; the last strain looked at, 0.98 (1 - R), when it rises to the end. */
static double best_strain(const struct foam *foam)
{
    double strain[3] = {0}, efficiency[3] = {0}, best = 0, largest = 0;
    double end = 0.98 * (1 - foam->relative_density);
    struct node node = {0};
    for (size_t i = 0; i < foam->table_count; i++) {
        node = next_node(foam, i, node);
        if (node.strain > end)
            return efficiency[2] >= largest ? end : best;
        for (int k = 0; k < 2; k++) {
            strain[k] = strain[k + 1];
            efficiency[k] = efficiency[k + 1];
        }
        strain[2] = node.strain;
        efficiency[2] = node_efficiency(foam, node);
        if (i < 2 || efficiency[1] < efficiency[0] || efficiency[1] <= efficiency[2] ||
            efficiency[1] < largest)
            continue;
        largest = efficiency[1];
        double a = strain[1] - strain[0], b = strain[2] - strain[1];
        double up = efficiency[1] - efficiency[0], down = efficiency[1] - efficiency[2];
        best = strain[1] + 0.5 * (b * b * up - a * a * down) / (b * up + a * down);
    }
    return best;
}

struct range {
    const char *name;
    double value, low, high; /* exclusive, inclusive */
};

/* The first parameter out of its range as an error. */
static enum status check_ranges(const struct foam_parameters *p, struct errors *errors)
{
    double e = p->youngs_modulus, tiny = 1e-300, large = 1e300;
    const struct range ranges[] = {
        {"solid_density", p->solid_density, 0, large},
        {"density", p->density, 0, 0.95 * p->solid_density},
        {"youngs_modulus", e, 0, large},
        {"collapse_stress", p->curve_count ? tiny : p->collapse_stress, 0, 0.5 * e},
        {"hardening", p->hardening, -tiny, 0.9 * e},
        {"gas_pressure", p->gas_pressure, -tiny, large},
        {"unloading_softening", p->unloading_softening, -tiny, large},
        {"tensile_strength", p->tensile_strength, -tiny, INFINITY},
        {"crushed_tension", p->crushed_tension, -tiny, INFINITY},
        {"rate_gain", p->rate_gain, -tiny, 1},
        {"rate_reference", p->rate_reference, 0, large},
        {"rate_time", p->rate_time, -tiny, large},
        {"densification_modulus", p->densification_modulus, -tiny, large},
    };
    for (size_t i = 0; i < sizeof ranges / sizeof *ranges; i++) {
        const struct range *range = &ranges[i];
        if (!(range->value > range->low && range->value <= range->high))
            return errors_add(errors, STATUS_INPUT, NULL, 0, 0, "foam %s: %s %g is not between %g and %g",
                              p->name, range->name, range->value, range->low > 0 ? range->low : 0.0,
                              range->high);
    }
    return STATUS_OK;
}

/* A measured curve rises in strain, stays below the line of slope E, and above the gas. */
static enum status check_curve(const struct foam_parameters *p, struct errors *errors)
{
    double before = 0, below = 0;
    for (size_t i = 0; i < p->curve_count; i++) {
        double e = p->curve_strain[i], skeleton = p->curve_stress[i] - gas_stress(p, e);
        if (!(e > before && e < 1))
            return errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                              "foam %s: strains of a curve must rise between 0 and 1", p->name);
        if (!(skeleton > 0))
            return errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                              "foam %s: at strain %g the curve lies below the gas alone; lower gas_pressure",
                              p->name, e);
        double share = i ? steepest_share : 1 + 1e-9;
        if (!((skeleton - below) / (e - before) <= share * p->youngs_modulus))
            return errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                              "foam %s: at strain %g the curve is steeper than %g of youngs_modulus", p->name,
                              e, share);
        before = e;
        below = skeleton;
    }
    return STATUS_OK;
}

static void copy_parameters(const struct foam_parameters *p, struct foam *foam)
{
    *foam = (struct foam){
        .law = &foam_law,
        .density = p->density,
        .temperature = p->temperature,
        .young = p->youngs_modulus,
        .plateau = p->curve_count ? measured(p, p->curve_strain[0]).stress : p->collapse_stress,
        .hardening = p->curve_count ? 0 : p->hardening,
        .gas_pressure = p->gas_pressure,
        .solid_growth = solid_growth(p),
        .relative_density = p->density / p->solid_density,
        .softening = p->unloading_softening,
        .tensile_strength = p->tensile_strength,
        .crushed_tension = p->crushed_tension,
        .crushed_from = p->sharp || p->curve_count ? 0 : p->collapse_stress / p->youngs_modulus,
        .rate_gain = p->rate_gain,
        .rate_reference = p->rate_reference,
        .rate_time = p->rate_time,
        .shear_modulus = p->shear_modulus,
        .shear_strength = p->shear_strength,
        .shear_friction = p->shear_friction,
        .densification = p->densification_modulus,
        .densification_from = densification_from(p),
        .table_count = TABLE_COUNT,
        .table_step = 1.0 / (TABLE_COUNT - 1),
        .curve_end = p->curve_count ? p->curve_strain[p->curve_count - 1] : 0,
    };
    snprintf(foam->name, sizeof foam->name, "%s", p->name);
}

/* The two tables; 0 when memory is out. */
static int make_tables(const struct foam_parameters *p, struct foam *foam)
{
    foam->yield_table = yield_table(p, 0);
    if (!foam->yield_table)
        return 0;
    if (p->densification_modulus <= 0)
        return 1;
    foam->densification_table = yield_table(p, 1);
    for (size_t i = 0; foam->densification_table && i < TABLE_COUNT; i++)
        foam->densification_table[i] -= foam->yield_table[i];
    return foam->densification_table != NULL;
}

enum status foam_make(const struct foam_parameters *parameters, struct foam *foam, struct errors *errors)
{
    *foam = (struct foam){0};
    enum status status = check_ranges(parameters, errors);
    if (status == STATUS_OK)
        status = check_curve(parameters, errors);
    if (status != STATUS_OK)
        return status;
    copy_parameters(parameters, foam);
    if (!make_tables(parameters, foam)) {
        status = errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory for the tables of foam %s",
                            parameters->name);
        goto done;
    }
    double limit = largest_softening(foam);
    if (foam->softening > limit && !parameters->curve_count) {
        status =
            errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                       "foam %s: unloading_softening %g is too large for this curve, at most %.3g: unloading "
                       "would give back more than crushing takes",
                       parameters->name, parameters->unloading_softening, limit);
        goto done;
    }
    foam->softening = numeric_smaller(foam->softening, limit);
    foam->best_strain = best_strain(foam);
    foam->floor_share = floor_share(foam);
done:
    if (status != STATUS_OK)
        foam_free(foam);
    return status;
}

void foam_free(struct foam *foam)
{
    memory_free(foam->yield_table);
    memory_free(foam->densification_table);
    *foam = (struct foam){0};
}

double foam_collapse_from_stress_10(const struct foam_parameters *parameters, double stress)
{
    const double strain = 0.1;
    double skeleton = stress - gas_stress(parameters, strain);
    if (!(skeleton > parameters->hardening * strain))
        return NAN;
    struct foam_parameters trial = *parameters;
    double low = 0, high = skeleton;
    /* at a given strain S rises with sigma_pl; a rounded knee lies below sigma_pl, so widen first */
    for (int i = 0; i < 60; i++) {
        trial.collapse_stress = high;
        if (plateau_curve(&trial, strain).stress >= skeleton)
            break;
        low = high;
        high *= 2;
    }
    for (int i = 0; i < 200 && high - low > 1e-15 * high; i++) {
        trial.collapse_stress = 0.5 * (low + high);
        if (plateau_curve(&trial, strain).stress < skeleton)
            low = trial.collapse_stress;
        else
            high = trial.collapse_stress;
    }
    return plateau_curve(&trial, strain).stress < (1 - 1e-6) * skeleton ? NAN : high;
}

/* --- the law --- */

static double stored(const struct foam *foam, double matter, double skeleton, double plastic)
{
    double compliance = (1 + foam->softening * plastic) / foam->young;
    return 0.5 * skeleton * skeleton * compliance + gas_energy(foam, matter);
}

static double virgin(const struct foam *foam, double strain, double rate)
{
    struct foam_values values = foam_values(foam);
    double root = sqrt(foam_rate_factor(values, rate)), gas = foam_gas(values, strain).pressure;
    int densifies = foam->densification_table != NULL;
    struct foam_line line = foam_yield_line(values, densifies, root, 1 / root, 0);
    if (foam->young * strain <= line.intercept)
        return foam->young * strain + gas;
    double u = sqrt(strain);
    for (int i = 0; i < 12; i++) {
        line = foam_yield_line(values, densifies, root, 1 / root, u);
        u = foam_line_meets(values, line, strain);
    }
    return line.intercept + line.slope * u + gas;
}

double foam_energy(const struct foam *foam, double strain)
{
    double skeleton = virgin(foam, strain, 0) - foam_gas(foam_values(foam), strain).pressure;
    double u = sqrt(numeric_larger(strain - skeleton / foam->young, 0));
    struct node node = {0};
    size_t i = 0;
    for (; i < foam->table_count && (double)i * foam->table_step <= u; i++)
        node = next_node(foam, i, node);
    /* the rest of the way to u, on the line of the segment */
    double from = (double)(i - 1) * foam->table_step,
           slope = (skeleton - node.yield) / numeric_larger(u - from, 1e-300);
    double intercept = node.yield - slope * from;
    node.crushed +=
        u > from ? intercept * (u * u - from * from) + 2.0 / 3.0 * slope * (u * u * u - from * from * from)
                 : 0;
    node.yield = skeleton;
    return node_energy(foam, node, strain);
}

const struct law foam_law = {
    .name = "crushable foam",
    .update = {foam_update_base, foam_update_v3, foam_update_v4},
    .update_points = {foam_update_points_base, foam_update_points_v3, foam_update_points_v4},
    .stored = stored,
    .virgin = virgin,
};
