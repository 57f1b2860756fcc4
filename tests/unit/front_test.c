#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "solver/base/front.h"

/* ZDT1 (E. Zitzler, K. Deb, L. Thiele, Evolutionary Computation 8(2), 2000, function 1, 30 variables):
 * f1 = x1, g = 1 + 9 (x2 + ... + x30)/29, f2 = g (1 - sqrt(f1/g)); its front is g = 1, f2 = 1 - sqrt(f1).
 * A point with g > 1 is dominated by that of the front with the same x1, as d f2/d g = 1 - sqrt(f1/g)/2 > 0.
 */
enum { VARIABLES = 30, ON_FRONT = 201, BEHIND = 7 * ON_FRONT, ALL = ON_FRONT + BEHIND };

static double random_share(unsigned *state)
{
    *state = *state * 1664525u + 1013904223u;
    return (double)(*state >> 8) / (1 << 24);
}

static void zdt1(const double *x, double *f1, double *f2)
{
    double sum = 0;
    for (int i = 1; i < VARIABLES; i++)
        sum += x[i];
    double g = 1 + 9 * sum / (VARIABLES - 1);
    *f1 = x[0];
    *f2 = g * (1 - sqrt(x[0] / g));
}

/* Points of the front among others, in an order without order. */
static void sample(double *f1, double *f2)
{
    unsigned state = 20240601;
    for (size_t i = 0; i < ALL; i++) {
        size_t place = i * 1009 % ALL; /* 1009 is prime and divides not ALL */
        double x[VARIABLES] = {(double)(i % ON_FRONT) / (ON_FRONT - 1)};
        for (int k = 1; i >= ON_FRONT && k < VARIABLES; k++)
            x[k] = random_share(&state);
        zdt1(x, &f1[place], &f2[place]);
    }
}

Test(front, of_zdt1)
{
    static double f1[ALL], f2[ALL];
    static size_t front[2 * ALL];
    sample(f1, f2);
    size_t count = front_find(f1, f2, ALL, front);
    cr_assert_eq(count, ON_FRONT);
    for (size_t i = 0; i < count; i++) {
        cr_expect_float_eq(f1[front[i]], (double)i / (ON_FRONT - 1), 1e-15);
        cr_expect_float_eq(f2[front[i]], 1 - sqrt(f1[front[i]]), 1e-12);
    }
    /* The area up to (1, 1) is the integral of sqrt(f1), 2/3, less what the steps of 1/200 leave: at most one
     * step times the rise of sqrt over the range, 1. */
    double area = front_area(f1, f2, front, count, 1, 1), step = 1.0 / (ON_FRONT - 1);
    printf("figure: area under the front of ZDT1, off by %.5f (at most %.5f)\n", 2.0 / 3 - area, step);
    cr_expect(area < 2.0 / 3 && area > 2.0 / 3 - step, "%.6f", area);
}

/* Against the definition, with ties and gaps. */
Test(front, as_defined)
{
    enum { N = 300 };
    static double a[N], b[N];
    static size_t front[2 * N];
    unsigned state = 7;
    for (size_t i = 0; i < N; i++) {
        a[i] = floor(20 * random_share(&state));
        b[i] = i % 17 == 0 ? (double)NAN : floor(20 * random_share(&state));
    }
    size_t count = front_find(a, b, N, front), expected = 0;
    for (size_t i = 0; i < N; i++) {
        int beaten = isnan(b[i]);
        for (size_t k = 0; k < N && !beaten; k++) {
            int no_worse = a[k] <= a[i] && b[k] <= b[i], better = a[k] < a[i] || b[k] < b[i];
            beaten = no_worse && (better || k < i);
        }
        int found = 0;
        for (size_t k = 0; k < count; k++)
            found |= front[k] == i;
        cr_expect_eq(found, !beaten, "point %zu", i);
        expected += !beaten;
    }
    cr_expect_eq(count, expected);
    cr_expect_eq(front_find(a, b, 0, front), 0);
}

/* By hand: steps from (1, 3), (2, 2), (4, 1) to (5, 4) are 4 x 1 + 3 x 1 + 1 x 1; what lies beyond counts
 * not. */
Test(front, area_by_hand)
{
    const double a[] = {1, 2, 4, 9}, b[] = {3, 2, 1, 0};
    const size_t front[] = {0, 1, 2, 3};
    cr_expect_float_eq(front_area(a, b, front, 4, 5, 4), 8, 1e-14);
    cr_expect_float_eq(front_area(a, b, front, 4, 1, 1), 0, 1e-14);
}
