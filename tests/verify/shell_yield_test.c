/*
 * Yielding of the shell: von Mises in plane stress, linear isotropic hardening, five points of Simpson's rule
 * through the thickness. Y yield stress, H hardening (stress against plastic strain), E, nu.
 */
#include <stdint.h>

#include "solver/base/isa.h"
#include "tests/verify/shell_static.h"

static const double thickness = 3e-3;

static struct shell_sheet yielding(double yield_stress, double hardening)
{
    struct shell_sheet sheet = body_abs;
    sheet.yield_stress = yield_stress;
    sheet.hardening = hardening;
    return sheet;
}

/* A cylinder of radius 0.1 m between two free edges. */
static struct body *cylinder(struct shell_sheet sheet)
{
    struct body *body = body_new(12, sheet, thickness);
    for (size_t i = 0; i < body->count; i++) {
        body->first_r[i] = 0.1;
        body->first_z[i] = 5e-3 * (double)i;
    }
    body->setup.start = body->setup.end = SHELL_FREE;
    body_make(body);
    return body;
}

/* Brings a cylinder to these strains. */
static void strain(struct body *body, double strain_s, double strain_t)
{
    for (size_t i = 0; i < body->count; i++) {
        body->r[i] = body->first_r[i] * (1 + strain_t);
        body->z[i] = body->first_z[i] * (1 + strain_s);
    }
    body_forces(body);
}

/* Mean stress of segment j along the meridian and round the hoop [Pa]. */
static void stress(const struct body *body, size_t j, double *s, double *t)
{
    double volume = body->model.volume[j] + body->model.volume[body->model.stride + j];
    *s = body->state.force_s[j] / volume;
    *t = body->state.force_t[j] / volume;
}

static double volume_of(const struct body *body)
{
    double sum = 0.0;
    for (size_t k = 0; k < SHELL_HALVES * body->model.stride; k++)
        sum += body->model.volume[k];
    return sum;
}

/*
 * Uniaxial stress sigma along the meridian: plastic strains p and -p/2, equivalent plastic strain p, so sigma
 * = Y + H p, eps_s = sigma/E + p, eps_t = -nu sigma/E - p/2. Driven along this path the hoop stress stays 0.
 * The energy is sigma^2/2E stored and Y p + H p^2/2 dissipated a volume.
 */
Test(shell_yield, uniaxial)
{
    double young = body_abs.youngs_modulus, nu = body_abs.poisson, yield = 40e6, hardening = 60e6, s, t;
    struct body *body = cylinder(yielding(yield, hardening));
    strain(body, (1 - 1e-12) * yield / young, -nu * (1 - 1e-12) * yield / young);
    cr_assert_eq(shell_dissipated(&body->model, &body->state), 0.0);
    double p = 0.0, sigma = yield;
    for (int n = 1; n <= 50; n++) {
        p = 0.001 * n;
        sigma = yield + hardening * p;
        strain(body, sigma / young + p, -nu * sigma / young - 0.5 * p);
        stress(body, 5, &s, &t);
        cr_assert_float_eq(s, sigma, 1e-9 * sigma, "%g for %g", s, sigma);
        cr_assert_lt(fabs(t), 1e-9 * sigma);
    }
    double lost = (yield * p + 0.5 * hardening * p * p) * volume_of(body);
    cr_assert_float_eq(shell_dissipated(&body->model, &body->state), lost, 1e-9 * lost);
    double kept = 0.5 * sigma * sigma / young * volume_of(body);
    cr_assert_float_eq(shell_stored(&body->model, &body->state), kept, 1e-9 * kept);

    /* back: elastic over 2 sigma, then yielding at -sigma; hardening is isotropic */
    strain(body, -0.999 * sigma / young + p, nu * 0.999 * sigma / young - 0.5 * p);
    stress(body, 5, &s, &t);
    cr_assert_float_eq(s, -0.999 * sigma, 1e-9 * sigma);
    cr_assert_float_eq(shell_dissipated(&body->model, &body->state), lost, 1e-9 * lost);
    double more = 0.01, back = sigma + hardening * more;
    strain(body, -sigma / young + p, nu * sigma / young - 0.5 * p);
    strain(body, -back / young + p - more, nu * back / young - 0.5 * (p - more));
    stress(body, 5, &s, &t);
    cr_assert_float_eq(s, -back, 1e-9 * sigma);
    body_free(body);
}

/*
 * Equal strain e both ways: sigma_s = sigma_t = sigma is also the equivalent stress, plastic strains p each,
 * equivalent plastic strain 2 p (work 2 sigma p): sigma = Y + 2 H p, e = (1 - nu) sigma/E + p.
 */
Test(shell_yield, biaxial)
{
    double young = body_abs.youngs_modulus, nu = body_abs.poisson, yield = 40e6, hardening = 60e6, s, t;
    struct body *body = cylinder(yielding(yield, hardening));
    strain(body, (1 - nu) * yield / young * (1 - 1e-12), (1 - nu) * yield / young * (1 - 1e-12));
    stress(body, 5, &s, &t);
    cr_assert_float_eq(s, yield, 1e-9 * yield);
    cr_assert_eq(shell_dissipated(&body->model, &body->state), 0.0);
    double p = 0.03, sigma = yield + 2 * hardening * p, e = (1 - nu) * sigma / young + p;
    strain(body, e, e);
    stress(body, 5, &s, &t);
    cr_assert_float_eq(s, sigma, 1e-9 * sigma, "%g", s);
    cr_assert_float_eq(t, sigma, 1e-9 * sigma);
    body_free(body);
}

/* Random strain paths with large steps: after each, no point lies outside its yield surface, and the strain
 * is elastic plus plastic with the plastic part normal to the surface at the new stress. */
Test(shell_yield, stress_returns_to_the_surface)
{
    uint64_t seed = 5;
    double worst = 0.0, skew = 0.0, young = body_abs.youngs_modulus;
    for (int path = 0; path < 40; path++) {
        double yield = 20e6 * (1 + path % 5), hardening = path % 3 * 200e6;
        double nu = 0.07 * (path % 8);
        struct shell_sheet sheet = yielding(yield, hardening);
        sheet.poisson = nu;
        struct body *body = cylinder(sheet);
        for (int n = 0; n < 50; n++) {
            double before_s = body->state.plastic_s[2], before_t = body->state.plastic_t[2], move[2];
            for (int k = 0; k < 2; k++) {
                seed = seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
                move[k] = ((double)(seed >> 11) * 0x1p-52 - 1.0) * (n % 2 ? 0.3 : 0.02);
            }
            strain(body, move[0], move[1]);
            double es = body->state.strain_s[2] - body->state.plastic_s[2];
            double et = body->state.strain_t[2] - body->state.plastic_t[2];
            double s = young / (1 - nu * nu) * (es + nu * et), t = young / (1 - nu * nu) * (et + nu * es);
            double limit = yield + hardening * body->state.equivalent[2];
            double equivalent = sqrt(s * s - s * t + t * t);
            double flow_s = body->state.plastic_s[2] - before_s, flow_t = body->state.plastic_t[2] - before_t;
            double size = hypot(flow_s, flow_t) * hypot(2 * s - t, 2 * t - s);
            worst = fmax(worst, equivalent / limit - 1);
            if (size > 0.0 && hypot(flow_s, flow_t) > 1e-6)
                skew = fmax(skew, fabs(flow_s * (2 * t - s) - flow_t * (2 * s - t)) / size);
        }
        body_free(body);
    }
    printf("figure: return to the yield surface: worst %.2g outside, %.2g off its normal\n", worst, skew);
    cr_assert_lt(worst, 1e-12);
    cr_assert_lt(skew, 1e-9);
}

/* Below yield the five points give the elastic forces; a call with an unchanged shape changes nothing. */
Test(shell_yield, elastic_below_yield)
{
    struct body *elastic = body_cap(30, 0.13, 1.2, 0.0, thickness, body_abs, SHELL_CLAMPED);
    struct body *strong = body_cap(30, 0.13, 1.2, 0.0, thickness, yielding(1e12, 0), SHELL_CLAMPED);
    for (size_t i = 1; i + 1 < elastic->count; i++) {
        elastic->r[i] = strong->r[i] += 2e-4 * sin((double)(7 * i));
        elastic->z[i] = strong->z[i] += 5e-4 * sin((double)(5 * i));
    }
    body_forces(elastic);
    body_forces(strong);
    double scale = elastic->model.membrane_s[5] * elastic->model.inverse_length[5];
    for (size_t i = 0; i < elastic->count; i++) {
        cr_assert_float_eq(elastic->force_r[i], strong->force_r[i], 1e-13 * scale);
        cr_assert_float_eq(elastic->force_z[i], strong->force_z[i], 1e-13 * scale);
    }
    double stored = shell_stored(&elastic->model, &elastic->state);
    cr_assert_float_eq(shell_stored(&strong->model, &strong->state), stored, 1e-12 * stored);
    body_free(elastic);
    body_free(strong);
}

Test(shell_yield, an_unchanged_shape_changes_nothing)
{
    struct body *body = body_cap(30, 0.13, 1.2, 0.0, thickness, yielding(30e6, 50e6), SHELL_CLAMPED);
    for (size_t i = 1; i + 1 < body->count; i++)
        body->z[i] += 2e-3 * sin((double)(5 * i));
    body_forces(body);
    double lost = shell_dissipated(&body->model, &body->state), force = body->force_z[7];
    cr_assert_gt(lost, 1.0);
    for (int k = 0; k < 10; k++)
        body_forces(body);
    cr_assert_float_eq(shell_dissipated(&body->model, &body->state), lost, 1e-12 * lost);
    cr_assert_float_eq(body->force_z[7], force, 1e-10 * fabs(force));
    body_free(body);
}

/* Moment a width [N] of a strip bent to `curvature`: nodes on an arc, on a circle so large that hoops do not
 * stretch. */
static double strip_moment(struct body *strip, double curvature)
{
    double step = strip->model.length[0], turn = curvature * step;
    double r = strip->first_r[0], z = 0.0;
    for (size_t i = 0; i < strip->count; i++) {
        strip->r[i] = r;
        strip->z[i] = z;
        r += step * cos(((double)i + 0.5) * turn);
        z += step * sin(((double)i + 0.5) * turn);
    }
    body_forces(strip);
    size_t node = strip->count / 2;
    double area =
        (strip->model.volume[node] + strip->model.volume[strip->model.stride + node - 1]) / thickness;
    return strip->state.moment_s[node] / area;
}

/*
 * A wide strip (hoop strain 0) with nu = 1/2: hoop stress is half the meridional one before and after yield,
 * so it yields at sigma = 2 Y/sqrt 3 everywhere. First yield M_e = sigma t^2/6, fully plastic M_p = sigma
 * t^2/4; M/M_e = 1.5 - 0.5/k^2 at k = curvature/that of first yield > 1. Simpson's five points: the faces
 * (weight 1/12 each) hold sigma from k = 1, the half heights (4/12 each) from k = 2: M/M_e = min(1, k)/2 +
 * min(2, k)/2: exact for k <= 1, 9.1 % too high at k = 2 where it reaches 1.5, exact again for large k.
 */
Test(shell_yield, fully_plastic_moment)
{
    double yield = 40e6, radius = 1e4;
    struct shell_sheet sheet = yielding(yield, 0.0);
    sheet.poisson = 0.5;
    struct body *strip = body_new(20, sheet, thickness);
    for (size_t i = 0; i < strip->count; i++)
        strip->first_r[i] = radius + 5e-3 * (double)i;
    strip->setup.start = strip->setup.end = SHELL_FREE;
    body_make(strip);
    double sigma = 2 * yield / sqrt(3.0), first = sigma * thickness * thickness / 6;
    double plane = sheet.youngs_modulus / (1 - 0.25), bend = 2 * sigma / (plane * thickness), worst = 0.0;
    for (int n = 1; n <= 60; n++) {
        double k = 0.1 * n, ratio = strip_moment(strip, k * bend) / first;
        double points = 0.5 * fmin(1, k) + 0.5 * fmin(2, k), exact = k < 1 ? k : 1.5 - 0.5 / (k * k);
        cr_assert_float_eq(ratio, points, 2e-4, "%g at k = %g", ratio, k);
        worst = fmax(worst, ratio / exact - 1);
    }
    double full = strip_moment(strip, 20 * bend) / first;
    printf("figure: plastic moment / first yield: %.5f (exact 1.49875 at k = 20, 1.5 in the limit); "
           "worst of five points %+.1f %%\n",
           full, 100 * worst);
    cr_assert_float_eq(full, 1.5, 2e-4);
    cr_assert_lt(worst, 0.095);
    body_free(strip);
}

/* A cap out of ABS thrown against its clamped edge at 25 m/s: kinetic + stored + plastic work stay the same.
 */
static double thrown_cap(double share, double *lost, double places[2 * BODY_NODES])
{
    struct body *cap = body_cap(30, 0.13, 1.2, 0.0, thickness, yielding(38e6, 30e6), SHELL_CLAMPED);
    double velocity_r[BODY_NODES] = {0}, velocity_z[BODY_NODES], start = 0.0, worst = 0.0;
    for (size_t i = 0; i < cap->count; i++)
        velocity_z[i] = -25.0 * (1.0 - cap->first_r[i] / cap->first_r[cap->count - 1]);
    double step = share * shell_stable_step(&cap->model, &cap->state);
    for (int n = 0; n * share < 2000; n++) {
        double kinetic = 0.0;
        body_forces(cap);
        for (size_t i = 0; i + 1 < cap->count; i++) {
            double kick = (n ? step : 0.5 * step) / cap->model.mass[i];
            double old_r = velocity_r[i], old_z = velocity_z[i];
            velocity_r[i] += cap->held_r[i] ? 0.0 : cap->force_r[i] * kick;
            velocity_z[i] += cap->force_z[i] * kick;
            kinetic += 0.5 * cap->model.mass[i] * (old_r * velocity_r[i] + old_z * velocity_z[i]);
            cap->r[i] += velocity_r[i] * step;
            cap->z[i] += velocity_z[i] * step;
        }
        double energy =
            kinetic + shell_stored(&cap->model, &cap->state) + shell_dissipated(&cap->model, &cap->state);
        start = n ? start : energy;
        worst = fmax(worst, fabs(energy / start - 1));
    }
    *lost = shell_dissipated(&cap->model, &cap->state) / start;
    for (size_t a = 0; a < 2 * cap->count; a++)
        places[a] = *body_unknown(cap, a);
    body_free(cap);
    return worst;
}

Test(shell_yield, energy_of_a_cycle_closes)
{
    double lost[2], error[2], places[2 * BODY_NODES];
    for (int k = 0; k < 2; k++)
        error[k] = thrown_cap(k ? 0.35 : 0.7, &lost[k], places);
    printf("figure: thrown cap: %.1f %% lost in yielding; energy off by %.2g at 0.7, %.2g at 0.35\n",
           100 * lost[0], error[0], error[1]);
    cr_assert_gt(lost[0], 0.3);
    cr_assert_lt(error[1], 1e-4);
    cr_assert_gt(error[0] / error[1], 3.0, "the error is that of the time step, of order 2");
}

Test(shell_yield, instruction_sets_give_the_same_bits)
{
    static double places[ISA_COUNT][2 * BODY_NODES];
    double lost;
    for (int isa = 0; isa < ISA_COUNT; isa++) {
        if (isa_force((enum isa)isa) == (enum isa)isa)
            thrown_cap(0.7, &lost, places[isa]);
        else {
            printf("no %s on this processor: not compared\n", isa_name((enum isa)isa));
            memcpy(places[isa], places[0], sizeof places[0]);
        }
    }
    for (int isa = 1; isa < ISA_COUNT; isa++)
        cr_assert_eq(memcmp(places[isa], places[0], sizeof places[0]), 0, "%s", isa_name((enum isa)isa));
}
