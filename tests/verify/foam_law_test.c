/*
 * The foam law against its slow twin, against a general integrator, and against itself under other
 * instruction sets and block sizes.
 */
#include <criterion/criterion.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "tests/support/foams.h"
#include "tests/support/random.h"
#include "tests/support/zone_block.h"
#include "tests/verify/foam_twin.h"

static struct random chance;

/* A random walk of strain that crushes, unloads, tears and closes, with rests. */
static double walk(double strain)
{
    double kind = random_between(&chance, 0, 1), size = pow(10, -6 + 4 * random_between(&chance, 0, 1));
    double next = kind < 0.1 ? strain : kind < 0.56 ? strain + size : strain - size;
    return next > 0.9 ? 0.9 : next < -0.3 ? -0.3 : next;
}

/* One zone against the twin over 10^5 random steps; the bound is the table's, and must not grow. */
static double twin_gap(const struct foam_parameters *p, int steps)
{
    struct foam foam = foams_make(p);
    double *arrays[ZONE_ARRAYS], worst = 0;
    struct foam_zones zones = zone_block(1, arrays);
    struct twin twin = {0};
    for (int i = 0; i < steps; i++) {
        double dt = pow(10, -7 + 2 * random_between(&chance, 0, 1));
        arrays[0][0] = walk(arrays[0][0]);
        foam.law->update[isa_chosen()](&foam, &zones, dt);
        twin_step(p, &twin, arrays[0][0], dt);
        worst = fmax(worst, fabs(arrays[6][0] - twin.stress) / p->collapse_stress);
        cr_assert(fabs(arrays[3][0] - twin.plastic) < 1e-6, "step %d: kappa %.12g, twin %.12g", i,
                  arrays[3][0], twin.plastic);
    }
    zone_block_free(arrays);
    foam_free(&foam);
    return worst;
}

Test(foam_law, follows_its_twin)
{
    chance = random_begin();
    for (int kind = 0; kind < 6; kind++) {
        struct foam_parameters p = foams_polystyrene(20 + 80 * random_between(&chance, 0, 1));
        p.sharp = kind & 1;
        p.hardening = kind & 1 ? 2e5 : 0;
        p.unloading_softening = kind & 1 ? 2 : 3; /* what the curve admits at 20 kg/m3 */
        p.tensile_strength = kind == 2 ? INFINITY : p.tensile_strength;
        p.crushed_tension = kind == 2 ? INFINITY : kind == 3 ? 3e4 : 0;
        p.densification_modulus = kind > 3 ? 2e5 : 0;
        int steps = kind > 3 ? 1000 : 100000;
        double gap = twin_gap(&p, steps);
        printf("figure: kind %d: largest difference from the twin %.2e of sigma_pl in %d steps\n", kind, gap,
               steps);
        cr_assert(gap < 2e-5);
    }
}

/* A foam with or without densification, or by a curve that falls and then bends up steeply: there the yield
 * stress may fall while the rate rises. */
static struct foam_parameters bits_foam(int kind)
{
    static double strain[] = {0.02, 0.2, 0.4, 0.5, 0.9}, stress[] = {2e5, 1.8e5, 4e5, 1.8e6, 7e6};
    struct foam_parameters p = foams_polystyrene(50);
    p.densification_modulus = kind == 1 ? 3e5 : 0;
    p.curve_count = kind == 2 ? 5 : 0;
    p.curve_strain = kind == 2 ? strain : NULL;
    p.curve_stress = kind == 2 ? stress : NULL;
    return p;
}

/* Bits: three instruction sets; blocks cut differently; zones that keep no floor of their yield stress. */
Test(foam_law, same_bits_whatever_the_instruction_set_and_block)
{
    enum { ZONES = 203, STEPS = 3000 };
    chance = random_begin();
    for (int kind = 0; kind < 3; kind++) {
        struct foam_parameters p = bits_foam(kind);
        struct foam foam = foams_make(&p);
        double *arrays[4][ZONE_ARRAYS];
        struct foam_zones zones[4];
        for (int k = 0; k < 4; k++)
            zones[k] = zone_block(ZONES, arrays[k]);
        enum isa best = isa_chosen();
        for (int step = 0; step < STEPS; step++) {
            for (size_t i = 0; i < ZONES; i++) {
                double strain = walk(arrays[0][0][i]);
                for (int k = 0; k < 4; k++)
                    arrays[k][0][i] = strain;
            }
            /* now and then so slow that the rate fades and the yield stress falls to its floor */
            double dt = step % 20 ? pow(10, -7 + 2 * random_between(&chance, 0, 1)) : 10;
            for (enum isa isa = ISA_BASE; isa <= best; isa++)
                foam.law->update[isa](&foam, &zones[isa], dt);
            for (size_t i = 0; i < ZONES; i++) { /* one zone at a time */
                struct foam_zones one = {1,
                                         arrays[3][0] + i,
                                         arrays[3][1] + i,
                                         arrays[3][2] + i,
                                         arrays[3][3] + i,
                                         arrays[3][4] + i,
                                         arrays[3][5] + i,
                                         arrays[3][6] + i,
                                         arrays[3][7] + i,
                                         NULL};
                foam.law->update[ISA_BASE](&foam, &one, dt);
            }
            for (int k = 1; k < 4; k++) {
                for (int a = 0; a < ZONE_FLOOR && (k == 3 || k <= (int)best); a++)
                    cr_assert(memcmp(arrays[0][a], arrays[k][a], ZONES * sizeof(double)) == 0,
                              "kind %d: array %d of variant %d differs at step %d", kind, a, k, step);
            }
        }
        printf("figure: instruction sets compared: %d\n", (int)best + 1);
        for (int k = 0; k < 4; k++)
            zone_block_free(arrays[k]);
        foam_free(&foam);
    }
}

/* A strain history, with its velocity: crush, unload, reload further, part. */
static double history(double t, double *speed)
{
    static const double times[] = {0, 4e-3, 5e-3, 7e-3, 10e-3}, strains[] = {0, 0.55, 0.47, 0.68, 0.3};
    int i = 0;
    while (i < 3 && t > times[i + 1])
        i++;
    double length = times[i + 1] - times[i], turn = M_PI * (t - times[i]) / length;
    double rise = strains[i + 1] - strains[i];
    *speed = 0.5 * rise * M_PI / length * sin(turn);
    return strains[i] + 0.5 * rise * (1 - cos(turn));
}

static int derivatives(double t, const double y[], double f[], void *parameters)
{
    double speed, e = history(t, &speed);
    struct twin_state z = {y[0], y[1], y[2], y[3]}, slope = twin_rates(parameters, &z, e, speed, 2e-6);
    f[0] = slope.skeleton;
    f[1] = slope.u;
    f[2] = slope.rate;
    f[3] = slope.gap;
    return GSL_SUCCESS;
}

/* Stress, plastic strain and rate state of a zone through GSL's Dormand-Prince 8(9) pair, foam memory as
 * states, against the kernel in steps of 0.2 us: 1e-4 of the peak stress, after 10 ms. */
Test(foam_law, agrees_with_a_general_integrator)
{
    for (int knee = 0; knee < 2; knee++) {
        struct foam_parameters p = foams_polystyrene(50);
        p.sharp = knee;
        p.hardening = 1e5;
        struct foam foam = foams_make(&p);
        double *arrays[ZONE_ARRAYS], y[4] = {0}, t = 0, peak = 0, worst = 0, worst_rate = 0, worst_kappa = 0;
        struct foam_zones zones = zone_block(1, arrays);
        gsl_odeiv2_system system = {derivatives, NULL, 4, &p};
        /* errors per step: stress 1e-7 of E, strains and sqrt(kappa) 1e-9 (scaled) */
        double scale[4] = {1e5, 1, 1e2, 1};
        gsl_odeiv2_driver *driver =
            gsl_odeiv2_driver_alloc_scaled_new(&system, gsl_odeiv2_step_rk8pd, 1e-8, 1e-8, 1e-8, 1, 0, scale);
        gsl_odeiv2_driver_set_hmax(driver, 1e-5);
        const int steps = 50000;
        const double dt = 10e-3 / steps;
        for (int i = 1; i <= steps; i++) {
            double speed;
            arrays[0][0] = history(i * dt, &speed);
            foam.law->update[isa_chosen()](&foam, &zones, dt);
            if (i % 100)
                continue;
            cr_assert(gsl_odeiv2_driver_apply(driver, &t, i * dt, y) == GSL_SUCCESS);
            struct twin_state z = {y[0], y[1], y[2], y[3]};
            double stress = twin_stress(&p, &z, arrays[0][0]);
            peak = fmax(peak, stress);
            worst = fmax(worst, fabs(stress - arrays[6][0]));
            worst_rate = fmax(worst_rate, fabs(y[2] - arrays[4][0]));
            worst_kappa = fmax(worst_kappa, fabs(twin_kappa(&p, y[1]) - arrays[3][0]));
        }
        printf(
            "figure: GSL: stress within %.2e of the peak, kappa within %.1e, rate within %.2g of 216 1/s\n",
            worst / peak, worst_kappa, worst_rate);
        cr_assert(worst < 1e-4 * peak && worst_kappa < 1e-5 && worst_rate < 0.01);
        gsl_odeiv2_driver_free(driver);
        zone_block_free(arrays);
        foam_free(&foam);
    }
}
