#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>

#include "solver/study/convergence.h"

static void at_most(const char *what, double value, double limit)
{
    printf("figure: %s %.2g (at most %g)\n", what, value, limit);
    cr_expect_leq(value, limit, "%s", what);
}

/* f(h) = a + b h^p has p as its order and a at h = 0, whatever the ratio: (f3 - f2)/(f2 - f1) = r^p, and
 * f1 - f2 = b h^p (1 - r^p), so that f1 + (f1 - f2)/(r^p - 1) = a. The index is 1.25 |b| h^p. */
Test(convergence, manufactured_orders)
{
    double order = 0, limit = 0, index = 0;
    for (double p = 0.5001; p < 2.5; p += 0.19993) {
        for (double ratio = 1.5; ratio <= 3; ratio += 0.5) {
            double values[5];
            for (int k = 0; k < 5; k++)
                values[k] = 240 - 7.5 * pow(0.8 * pow(ratio, -k), p);
            struct convergence got = convergence_judge(values, 5, ratio);
            cr_assert_eq(got.kind, CONVERGENCE_CREDIBLE, "order %g, ratio %g", p, ratio);
            double error = 7.5 * pow(0.8 * pow(ratio, -4), p);
            order = fmax(order, fabs(got.order - p));
            limit = fmax(limit, fabs(got.limit - 240) / error);
            index = fmax(index, fabs(got.uncertainty / (1.25 * error) - 1));
            cr_expect_float_eq(got.coarser / got.uncertainty, pow(ratio, p), 1e-6 * got.coarser);
        }
    }
    at_most("convergence: order of a power law", order, 1e-8);
    at_most("convergence: error left in its extrapolated value", limit, 1e-8);
    at_most("convergence: its index against 1.25 of the error", index, 1e-8);
}

/* The worked example of NASA's pages on grid convergence, the pressure recovery of an inlet on three meshes
 * of ratio 2: p 1.78618, limit 0.97130, GCI 0.10308 % and 0.35625 %. Its digits beyond carry the noise of
 * single precision; in double precision p = ln(0.00676/0.00196)/ln 2 = 1.786170. */
Test(convergence, published_example)
{
    const double values[] = {0.96178, 0.96854, 0.97050};
    struct convergence got = convergence_judge(values, 3, 2);
    cr_assert_eq(got.kind, CONVERGENCE_CREDIBLE);
    cr_expect_float_eq(got.order, 1.78618, 2e-5, "%.9g", got.order);
    cr_expect_float_eq(got.order, 1.786170, 5e-7, "%.9g", got.order);
    cr_expect_float_eq(got.limit, 0.97130, 5e-6, "%.9g", got.limit);
    cr_expect_float_eq(100 * got.uncertainty / values[2], 0.10308, 5e-6, "%.9g", got.uncertainty);
    cr_expect_float_eq(100 * got.coarser / values[1], 0.35625, 1e-5, "%.9g", got.coarser);
    printf("figure: convergence: published example, order %.6f, limit %.7f, index %.5f %%\n", got.order,
           got.limit, 100 * got.uncertainty / values[2]);
}

/* Where no order is to be believed nothing is extrapolated; three times the largest difference of the last
 * three meshes counts, and earlier ones do not. */
Test(convergence, fallback)
{
    static const struct {
        double values[4];
        enum convergence_kind kind;
        double uncertainty;
    } rows[] = {
        {{500, 210, 204, 207}, CONVERGENCE_SWING, 18},  {{500, 210, 210, 207}, CONVERGENCE_SWING, 9},
        {{500, 210, 207, 207}, CONVERGENCE_SWING, 9},   {{500, 207, 207, 207}, CONVERGENCE_EQUAL, 0},
        {{0, 200, 201, 202.5}, CONVERGENCE_ORDER, 7.5}, {{0, 200, 208, 209}, CONVERGENCE_ORDER, 27},
        {{0, 200, 201, NAN}, CONVERGENCE_UNKNOWN, NAN}, {{0, INFINITY, 201, 2}, CONVERGENCE_UNKNOWN, NAN},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct convergence got = convergence_judge(rows[i].values, 4, 2);
        cr_expect_eq(got.kind, rows[i].kind, "row %zu: %s", i, convergence_text(got.kind));
        cr_expect(isnan(got.limit) && isnan(got.coarser), "row %zu", i);
        cr_expect(isnan(rows[i].uncertainty) ? isnan(got.uncertainty)
                                             : fabs(got.uncertainty - rows[i].uncertainty) < 1e-9,
                  "row %zu: %g", i, got.uncertainty);
    }
    const double two[] = {1, 2};
    cr_expect_eq(convergence_judge(two, 2, 2).kind, CONVERGENCE_UNKNOWN);
    const double three[] = {1, 2, 3};
    cr_expect_eq(convergence_judge(three, 3, 1).kind, CONVERGENCE_UNKNOWN);
}
