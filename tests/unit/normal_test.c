/* solver/base/normal against GSL's density, cumulative probability and quantile, and against itself. */

#include "solver/base/normal.h"

#include <criterion/criterion.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdio.h>

static double relative(double value, double reference)
{
    return fabs(value - reference) / fabs(reference);
}

static void report(const char *what, double worst, double limit)
{
    printf("figure: %s, relative error %.1e (at most %.0e)\n", what, worst, limit);
    cr_expect(worst <= limit, "%s: %g", what, worst);
}

Test(normal, density_and_cumulative_against_gsl)
{
    double density = 0, cumulative = 0;
    for (int i = -3700; i <= 3700; i++) {
        double x = i * 0.01;
        density = fmax(density, relative(normal_density(x), gsl_ran_ugaussian_pdf(x)));
        cumulative = fmax(cumulative, relative(normal_cumulative(x), gsl_cdf_ugaussian_P(x)));
    }
    report("normal density", density, 1e-14);
    report("normal cumulative probability", cumulative, 1e-12);
    cr_expect_eq(normal_cumulative(0), 0.5);
    cr_expect_eq(normal_cumulative(INFINITY), 1);
    cr_expect_eq(normal_cumulative(-INFINITY), 0);
    cr_expect_eq(normal_density(INFINITY), 0);
    cr_expect(isnan(normal_cumulative(NAN)) && isnan(normal_density(NAN)));
}

/* Every probability from 1e-300 to 1 - 1e-16: GSL's quantile rests on the same algorithm, so its cumulative
 * probability (Cody's erfc) is asked too: dp = density dx. */
static void compare_quantile(double p, double *direct, double *back)
{
    double x = normal_quantile(p);
    double tail = p < 0.5 ? gsl_cdf_ugaussian_P(x) - p : gsl_cdf_ugaussian_Q(x) - (1 - p);
    cr_assert(isfinite(x));
    if (p == 0.5)
        return;
    *direct = fmax(*direct, relative(x, gsl_cdf_ugaussian_Pinv(p)));
    *back = fmax(*back, fabs(tail / gsl_ran_ugaussian_pdf(x)) / fmax(fabs(x), 1e-3));
}

Test(normal, quantile_against_gsl_both_ways)
{
    double direct = 0, back = 0;
    for (int i = 1; i < 4096; i++)
        compare_quantile(i / 4096.0, &direct, &back);
    for (double p = 0.3; p > 1e-300; p *= 0.7)
        compare_quantile(p, &direct, &back);
    for (double q = 0.3; q > 1e-15; q *= 0.7)
        compare_quantile(1 - q, &direct, &back);
    report("normal quantile", direct, 1e-14);
    report("normal quantile through the cumulative probability", back, 1e-14);
}

Test(normal, quantile_is_symmetric_and_has_ends)
{
    for (int i = 1; i < 1024; i++)
        cr_assert_eq(normal_quantile(i / 1024.0), -normal_quantile(1 - i / 1024.0), "%d/1024", i);
    cr_expect_eq(normal_quantile(0.5), 0);
    cr_expect_eq(normal_quantile(0), -INFINITY);
    cr_expect_eq(normal_quantile(1), INFINITY);
    cr_expect(isnan(normal_quantile(-0.1)) && isnan(normal_quantile(1.1)) && isnan(normal_quantile(NAN)));
}
