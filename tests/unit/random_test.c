/* solver/base/random: the published sequence, and evenness of what is made of it (fixed seeds, so no chance).
 */

#include "solver/base/random.h"

#include <criterion/criterion.h>
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "solver/base/normal.h"

enum { DRAWS = 200000, BINS = 64 };

/* Rosetta Code, "Pseudo-random numbers/Splitmix64", seed 1234567; the whole numbers of Python give the same.
 */
Test(random, splitmix64_as_published)
{
    static const uint64_t published[] = {UINT64_C(6457827717110365317), UINT64_C(3203168211198807973),
                                         UINT64_C(9817491932198370423), UINT64_C(4593380528125082431),
                                         UINT64_C(16408922859458223821)};
    struct random random = {1234567};
    for (size_t i = 0; i < sizeof published / sizeof *published; i++)
        cr_assert_eq(random_next(&random), published[i], "number %zu", i);
}

/* Sum of squares over bins against an even spread: the chi-square distribution with BINS - 1 degrees of
 * freedom passes its 0.1 % points one time in 500. */
static void expect_even(const size_t *counts, const char *what)
{
    double expected = (double)DRAWS / BINS, sum = 0;
    for (size_t i = 0; i < BINS; i++)
        sum += pow((double)counts[i] - expected, 2) / expected;
    printf("figure: chi-square of %s %.1f (at most %.1f)\n", what, sum, gsl_cdf_chisq_Pinv(0.999, BINS - 1));
    cr_expect(sum < gsl_cdf_chisq_Pinv(0.999, BINS - 1), "%s: %g", what, sum);
    cr_expect(sum > gsl_cdf_chisq_Pinv(0.001, BINS - 1), "%s: %g", what, sum);
}

Test(random, even_numbers_below_a_count_and_between_0_and_1)
{
    size_t below[BINS] = {0}, uniform[BINS] = {0};
    struct random random = {1};
    for (int i = 0; i < DRAWS; i++) {
        size_t n = random_below(&random, BINS);
        double u = random_uniform(&random);
        cr_assert(n < BINS && u > 0 && u < 1);
        below[n]++;
        uniform[(size_t)(u * BINS)]++;
    }
    expect_even(below, "random_below");
    expect_even(uniform, "random_uniform");
    cr_expect_eq(random_below(&random, 0), 0);
    cr_expect_eq(random_below(&random, 1), 0);
}

/* Neighbouring seeds are the usual ones: pairs of their numbers fill 8 x 8 cells evenly. */
Test(random, neighbouring_seeds_are_unrelated)
{
    size_t cells[BINS] = {0};
    for (uint64_t seed = 0; seed < DRAWS; seed++) {
        struct random one = {seed}, other = {seed + 1};
        cells[random_below(&one, 8) * 8 + random_below(&other, 8)]++;
    }
    expect_even(cells, "pairs of seeds");
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Kolmogorov: sqrt(n) times the largest distance of the two distributions passes 1.95 one time in 1,000 (sum
 * 2 (-1)^(k-1) e^(-2 k^2 x^2), first term 2 e^(-2 1.95^2) = 1.0e-3). The cumulative probability is GSL's. */
Test(random, normal_draws_are_normal)
{
    static double draws[DRAWS];
    struct random random = {2};
    double distance = 0;
    for (size_t i = 0; i < DRAWS; i++)
        draws[i] = normal_quantile(random_uniform(&random));
    qsort(draws, DRAWS, sizeof *draws, ascending);
    for (size_t i = 0; i < DRAWS; i++) {
        double p = gsl_cdf_ugaussian_P(draws[i]);
        distance = fmax(distance, fmax(p - (double)i / DRAWS, (double)(i + 1) / DRAWS - p));
    }
    printf("figure: Kolmogorov distance of normal draws, times sqrt n %.2f (at most 1.95)\n",
           distance * sqrt(DRAWS));
    cr_expect(distance * sqrt(DRAWS) < 1.95);
}
