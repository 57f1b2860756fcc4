/* solver/base/binomial against GSL, closed forms, and what an interval of Clopper and Pearson promises. */

#include "solver/base/binomial.h"

#include <criterion/criterion.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdio.h>

static double relative(double value, double reference)
{
    return fabs(value - reference) / fabs(reference);
}

struct worst {
    double beta, tail;
    size_t compared, ends;
};

/* GSL's beta quantile does not converge everywhere; then it gives no number to compare with. */
static void compare_quantile(double value, double quantile, struct worst *worst)
{
    worst->ends++;
    if (!isfinite(quantile))
        return;
    worst->compared++;
    worst->beta = fmax(worst->beta, relative(value, quantile));
}

/* The ends are quantiles of beta distributions, since P(X >= k) = I_p(k, n - k + 1) (DLMF 8.17.5); by their
 * meaning, k or more failures at the lower end and k or fewer at the upper one have the probability (1 -
 * confidence)/2. */
static void compare(size_t failures, size_t count, double confidence, struct worst *worst)
{
    double low, high, tail = (1 - confidence) / 2, k = (double)failures, n = (double)count;
    binomial_interval(failures, count, confidence, &low, &high);
    cr_assert(0 <= low && low <= k / n && k / n <= high && high <= 1);
    if (failures > 0) {
        compare_quantile(low, gsl_cdf_beta_Pinv(tail, k, n - k + 1), worst);
        double more = gsl_cdf_binomial_Q((unsigned)failures - 1, low, (unsigned)count);
        worst->tail = fmax(worst->tail, relative(more, tail));
    }
    if (failures < count) {
        compare_quantile(high, gsl_cdf_beta_Qinv(tail, k + 1, n - k), worst);
        double fewer = gsl_cdf_binomial_P((unsigned)failures, high, (unsigned)count);
        worst->tail = fmax(worst->tail, relative(fewer, tail));
    }
}

Test(binomial, interval_against_gsl)
{
    static const size_t counts[] = {1, 2, 5, 30, 400, 2000, 100000};
    static const double shares[] = {0, 1e-4, 0.003, 0.05, 0.3, 0.5, 0.77, 0.99, 1};
    static const double confidences[] = {0.5, 0.9, 0.95, 0.999};
    struct worst worst = {0};
    gsl_set_error_handler_off();
    for (size_t n = 0; n < sizeof counts / sizeof *counts; n++)
        for (size_t s = 0; s < sizeof shares / sizeof *shares; s++)
            for (size_t c = 0; c < sizeof confidences / sizeof *confidences; c++)
                compare((size_t)lround(shares[s] * (double)counts[n]), counts[n], confidences[c], &worst);
    printf("figure: binomial interval against GSL's beta quantile, %zu of %zu ends: %.1e (at most 1e-09)\n",
           worst.compared, worst.ends, worst.beta);
    printf("figure: binomial interval put into GSL's binomial tails %.1e (at most 1e-09)\n", worst.tail);
    cr_expect(worst.compared * 10 >= worst.ends * 9);
    cr_expect(worst.beta < 1e-9);
    cr_expect(worst.tail < 1e-9);
}

/* No failure: (1 - high)^n = tail. All failed: low^n = tail. */
Test(binomial, closed_forms_at_the_ends)
{
    double low, high;
    for (size_t n = 1; n <= 1000; n = n * 3 + 1) {
        double root = pow(0.025, 1.0 / (double)n);
        binomial_interval(0, n, 0.95, &low, &high);
        cr_expect_eq(low, 0);
        cr_expect(relative(high, 1 - root) < 1e-12, "none of %zu: %g", n, high);
        binomial_interval(n, n, 0.95, &low, &high);
        cr_expect(relative(low, root) < 1e-12, "all of %zu: %g", n, low);
        cr_expect_eq(high, 1);
    }
    binomial_interval(0, 0, 0.95, &low, &high);
    cr_expect(low == 0 && high == 1, "nothing tried, nothing known");
}

/* Summed over all outcomes of 30 trials, the interval holds the true chance at least as often as promised. */
Test(binomial, holds_the_true_chance_as_often_as_promised)
{
    enum { TRIALS = 30 };
    double low[TRIALS + 1], high[TRIALS + 1], least = 1;
    for (size_t k = 0; k <= TRIALS; k++)
        binomial_interval(k, TRIALS, 0.9, &low[k], &high[k]);
    for (double p = 0.0005; p < 1; p += 0.001) {
        double held = 0;
        for (unsigned k = 0; k <= TRIALS; k++)
            held += low[k] <= p && p <= high[k] ? gsl_ran_binomial_pdf(k, p, TRIALS) : 0;
        least = fmin(least, held);
    }
    printf("figure: least coverage of a 90 %% interval, 30 trials %.3f (at least 0.900)\n", least);
    cr_expect(least >= 0.9);
}
