#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/impact/comfort.h"

enum { COUNT = 19 };

struct rings {
    double thickness[COUNT], closure[COUNT], before[COUNT], friction[COUNT], limit[COUNT], dissipated[COUNT];
    double stored[COUNT], pressure[COUNT];
    struct comfort_rings rings;
};

static void rings_make(struct rings *r)
{
    *r = (struct rings){0};
    for (int i = 0; i < COUNT; i++)
        r->thickness[i] = i == 0 ? 0 : 0.004 + 0.0007 * i;
    r->rings = (struct comfort_rings){COUNT,    r->thickness,  r->closure, r->before,  r->friction,
                                      r->limit, r->dissipated, r->stored,  r->pressure};
}

/* The law as its text says it, with libm. */
static double loading(double p40, double h, double c, double contact)
{
    double x = fmin(c, 0.9 * h) / h, slope = contact;
    double end =
        20 * exp(-18) + 4 * pow(0.9, 3) / (1 - 0.9 / 0.95) + pow(0.9, 4) / (0.95 * pow(1 - 0.9 / 0.95, 2));
    slope = fmax(contact, p40 / h * end);
    return p40 * (1 - exp(-x / 0.05)) + p40 * pow(x, 4) / (1 - x / 0.95) + fmax(0, c - 0.9 * h) * slope;
}

static double even(unsigned *seed)
{
    return (double)rand_r(seed) / RAND_MAX;
}

Test(comfort, loading_curve)
{
    struct rings r;
    const double contact[2] = {1e7, 5e9};
    unsigned seed = 3;
    for (int n = 0; n < 200; n++) {
        struct comfort_law law = comfort_default(contact[n % 2]);
        rings_make(&r);
        for (int i = 0; i < COUNT; i++)
            r.closure[i] = 1.1 * even(&seed) * r.thickness[i];
        r.closure[0] = 1e-4 * even(&seed);
        comfort_update(&law, &r.rings);
        cr_expect_float_eq(r.pressure[0], contact[n % 2] * r.closure[0], 1e-9 * r.pressure[0]);
        cr_expect_eq(r.dissipated[0], 0);
        for (int i = 1; i < COUNT; i++) {
            double p = loading(18e3, r.thickness[i], r.closure[i], contact[n % 2]);
            cr_expect_float_eq(r.pressure[i], p, 1e-12 * p);
            cr_expect_float_eq(comfort_pressure(&law, r.thickness[i], r.closure[i]), p, 1e-12 * p);
        }
    }
}

/* W in closed form against Simpson's rule with 20,000 intervals over each smooth part of the curve. */
Test(comfort, work_is_the_integral)
{
    struct comfort_law law = comfort_default(1e7);
    for (int n = 1; n <= 22; n++) {
        double h = 0.008, c = 0.05 * n * h, part[3] = {0, fmin(c, 0.9 * h), c}, sum = 0;
        for (int j = 0; j < 2; j++) {
            double step = (part[j + 1] - part[j]) / 20000;
            for (int i = 0; i < 10000; i++) {
                double a = part[j] + 2 * i * step;
                sum += step / 3 *
                       (loading(18e3, h, a, 1e7) + 4 * loading(18e3, h, a + step, 1e7) +
                        loading(18e3, h, a + 2 * step, 1e7));
            }
        }
        cr_expect_float_eq(comfort_work(&law, h, c), sum, 1e-9 * sum, "%g: %.15g %.15g", c / h, sum,
                           comfort_work(&law, h, c));
    }
    cr_expect_float_eq(comfort_work(&law, 0, 1e-4), 0.5 * 1e7 * 1e-8, 1e-15);
    cr_expect_eq(comfort_work(&law, 0.008, -1e-3), 0);
}

/* Slow loading to c and back: the work done is W(c) going in. Slipping at tau = loss p(c) from 0 loses
 * integral tau (dc - dtau/k) = loss W - (loss p)^2 / 2k; the element's elastic part comes back. In units of
 * the total: unloading returns (1 - loss) W + (loss p)^2 / 2k. */
Test(comfort, unloading_loses_half)
{
    struct rings r;
    struct comfort_law law = comfort_default(1e8);
    enum { STEPS = 40000 };
    double in[COUNT] = {0}, out[COUNT] = {0}, top[COUNT], lost[COUNT], last[COUNT] = {0};
    rings_make(&r);
    for (int n = 1; n <= 2 * STEPS; n++) {
        double c = n <= STEPS ? (double)n / STEPS : (double)(2 * STEPS - n) / STEPS;
        double move[COUNT];
        for (int i = 0; i < COUNT; i++) {
            double next = c * (i == 0 ? 1e-4 : (0.05 * i) * r.thickness[i]);
            move[i] = next - r.closure[i];
            r.closure[i] = next;
        }
        comfort_update(&law, &r.rings);
        for (int i = 0; i < COUNT; i++) {
            *(n <= STEPS ? &in[i] : &out[i]) += 0.5 * (last[i] + r.pressure[i]) * move[i];
            last[i] = r.pressure[i];
            if (n == STEPS) {
                top[i] = r.pressure[i];
                lost[i] = r.dissipated[i];
            }
        }
    }
    cr_expect_float_eq(in[0], -out[0], 1e-12 * in[0], "contact alone loses nothing");
    for (int i = 1; i < COUNT; i++) {
        double h = r.thickness[i], W = comfort_work(&law, h, 0.05 * i * h), tau = 0.5 * top[i];
        double k = 0.5 * comfort_stiffest(&law, h), elastic = tau * tau / (2 * k);
        cr_expect_float_eq(in[i], W, 1e-5 * W);
        cr_expect_float_eq(lost[i], 0.5 * W - elastic, 1e-6 * W, "%g %g", lost[i], 0.5 * W - elastic);
        cr_expect_float_eq(-out[i], 0.5 * W + elastic, 1e-5 * W);
        cr_expect_eq(r.dissipated[i], lost[i], "unloading slips without friction");
        cr_expect_eq(r.stored[i], 0);
        cr_expect_eq(r.pressure[i], 0);
    }
}

/* Whatever the path, the work done is what is stored (a state function) plus what is lost; the remainder
 * falls with the square of the step. */
static double ledger(int steps)
{
    struct rings r;
    struct comfort_law law = comfort_default(2e8);
    double work[COUNT] = {0}, last[COUNT] = {0}, worst = 0;
    rings_make(&r);
    for (int n = 1; n <= steps; n++) {
        double t = (double)n / steps, shape = sin(5 * t) + 0.35 * sin(37 * t) - 0.1 * t;
        double old[COUNT], lost[COUNT];
        for (int i = 0; i < COUNT; i++) {
            old[i] = r.closure[i];
            lost[i] = r.dissipated[i];
            r.closure[i] = 0.7 * shape * (i == 0 ? 1e-4 : r.thickness[i]);
        }
        comfort_update(&law, &r.rings);
        for (int i = 0; i < COUNT; i++) {
            double from = fmax(old[i], 0), to = fmax(r.closure[i], 0);
            work[i] += 0.5 * (last[i] + r.pressure[i]) * (to - from);
            last[i] = r.pressure[i];
            double held = comfort_spring(&law, r.thickness[i], r.closure[i]) + r.stored[i];
            double whole = comfort_work(&law, r.thickness[i], 0.7 * (i == 0 ? 1e-4 : r.thickness[i]));
            worst = fmax(worst, fabs(work[i] - held - r.dissipated[i]) / whole);
            cr_expect_geq(r.dissipated[i], lost[i]);
            cr_expect_geq(r.pressure[i], 0);
        }
    }
    return worst;
}

Test(comfort, ledger_closes)
{
    double coarse = ledger(4000), fine = ledger(16000);
    cr_expect_lt(fine, 1e-4, "%g", fine);
    cr_expect_lt(fine, coarse / 8, "%g %g", coarse, fine);
}

/* Reloading after a full unloading: the element is slack, and one step takes it from rest through its elastic
 * part into slip. Its loss is that of 4,000 small steps to 2 %; starting the slip at rest would halve it. */
Test(comfort, step_that_starts_to_slip)
{
    double lost[2][COUNT];
    struct comfort_law law = comfort_default(1e8);
    for (int which = 0; which < 2; which++) {
        struct rings r;
        rings_make(&r);
        const double path[3] = {0, 0.4, 0.3};
        for (int leg = 0; leg < 3; leg++) {
            double first[COUNT];
            memcpy(first, r.dissipated, sizeof first);
            int steps = leg < 2 || which ? 4000 : 1;
            for (int n = 1; n <= steps; n++) {
                for (int i = 1; i < COUNT; i++) {
                    double h = r.thickness[i], k = 0.5 * comfort_stiffest(&law, h);
                    double onset = 0.5 * comfort_pressure(&law, h, 0.3 * h) / k;
                    double to = leg == 2 ? path[2] * h + 2 * onset : path[leg + 1] * h;
                    r.closure[i] = path[leg] * h + (to - path[leg] * h) * n / steps;
                }
                comfort_update(&law, &r.rings);
            }
            for (int i = 1; leg == 2 && i < COUNT; i++)
                lost[which][i] = r.dissipated[i] - first[i];
        }
    }
    for (int i = 1; i < COUNT; i++)
        cr_expect_float_eq(lost[0][i], lost[1][i], 0.02 * lost[1][i], "%g %g", lost[0][i], lost[1][i]);
}

Test(comfort, gap_gives_nothing)
{
    struct rings r;
    struct comfort_law law = comfort_default(1e8);
    rings_make(&r);
    for (int i = 0; i < COUNT; i++)
        r.closure[i] = -1e-3 * i;
    comfort_update(&law, &r.rings);
    for (int i = 0; i < COUNT; i++)
        cr_expect(r.pressure[i] == 0 && r.dissipated[i] == 0 && r.stored[i] == 0);
}

Test(comfort, same_bits_with_every_instruction_set)
{
    static struct rings r[ISA_COUNT];
    struct comfort_law law = comfort_default(3e8);
    enum isa first = isa_chosen();
    for (enum isa isa = ISA_BASE; isa < ISA_COUNT; isa++) {
        unsigned seed = 11;
        rings_make(&r[isa]);
        if (isa_force(isa) != isa)
            continue;
        for (int n = 0; n < 300; n++) {
            for (int i = 0; i < COUNT; i++)
                r[isa].closure[i] += (even(&seed) - 0.48) * 0.001;
            comfort_update(&law, &r[isa].rings);
        }
        cr_expect_eq(memcmp(r[isa].pressure, r[0].pressure, sizeof r[0].pressure), 0);
        cr_expect_eq(memcmp(r[isa].dissipated, r[0].dissipated, sizeof r[0].dissipated), 0);
    }
    isa_force(first);
}
