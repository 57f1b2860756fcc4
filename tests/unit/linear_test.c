/*
 * solver/base/linear against closed forms. The Hilbert matrix H_ij = 1 / (i + j - 1) has a whole-number
 * inverse:
 * (-1)^(i+j) (i+j-1) C(n+i-1, n-j) C(n+j-1, n-i) C(i+j-2, i-1)^2 (Choi, Tricks or treats with the Hilbert
 * matrix, American Mathematical Monthly 90, 1983); checked below by its product with H in whole numbers over
 * 420.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>

#include "solver/base/linear.h"
#include "solver/base/memory.h"

enum { N = 4 };

static const double inverse[N][N] = {
    {16, -120, 240, -140}, {-120, 1200, -2700, 1680}, {240, -2700, 6480, -4200}, {-140, 1680, -4200, 2800}};

static void hilbert(double a[N][N])
{
    for (int i = 0; i < N; i++) {
        for (int j = 0; j < N; j++)
            a[i][j] = 1.0 / (i + j + 1);
    }
}

Test(linear, the_reference_is_the_inverse)
{
    for (int i = 0; i < N; i++) {
        for (int j = 0; j < N; j++) {
            int sum = 0;
            for (int k = 0; k < N; k++)
                sum += 420 / (i + k + 1) * (int)inverse[k][j];
            cr_assert_eq(sum, i == j ? 420 : 0);
        }
    }
}

/* cond(H4) = 1.5e4: 1e-16 of input error may grow to 3e-12 */
Test(linear, cholesky_inverts_the_hilbert_matrix)
{
    double worst = 0;
    for (int column = 0; column < N; column++) {
        double a[N][N], b[N] = {0};
        hilbert(a);
        b[column] = 1;
        cr_assert_eq(linear_cholesky(N, &a[0][0], b), STATUS_OK);
        for (int i = 0; i < N; i++)
            worst = fmax(worst, fabs(b[i] - inverse[i][column]) / fabs(inverse[i][column]));
    }
    printf("figure: Cholesky, inverse of the 4x4 Hilbert matrix off by %.1e (at most 3e-12)\n", worst);
    cr_assert(worst < 3e-12, "off by %g", worst);
}

Test(linear, cholesky_reads_the_lower_triangle_alone)
{
    double a[4] = {4, 1e300, 2, 3}, b[2] = {8, 7}; /* [4 2; 2 3] x = [8 7], x = [1.25 1.5] */
    cr_assert_eq(linear_cholesky(2, a, b), STATUS_OK);
    cr_assert_float_eq(b[0], 1.25, 1e-15);
    cr_assert_float_eq(b[1], 1.5, 1e-15);
}

Test(linear, cholesky_refuses)
{
    double indefinite[4] = {1, 2, 2, 1}, b[2] = {1, 1};
    cr_assert_eq(linear_cholesky(2, indefinite, b), STATUS_COMPUTATION);
    cr_assert(b[0] == 0 && b[1] == 0);
    double infinite[1] = {INFINITY}, c[1] = {1};
    cr_assert_eq(linear_cholesky(1, infinite, c), STATUS_COMPUTATION);
    double one[1] = {1}, missing[1] = {NAN};
    cr_assert_eq(linear_cholesky(1, one, missing), STATUS_COMPUTATION);
    cr_assert_eq(missing[0], 0);
    cr_assert_eq(linear_cholesky(0, NULL, NULL), STATUS_OK);
}

/* A = L L' with L = [2 0; 1 3]: A = [4 2; 2 10], det A = 36, inverse [10 -2; -2 4] / 36. The upper triangle
 * holds what would spoil the result if it were read. */
Test(linear, a_factor_is_kept_and_used)
{
    double a[4] = {4, NAN, 2, 10}, b[4] = {8, 14, 4, 20}, c[2] = {4, 8};
    cr_assert_eq(linear_factor(2, a), STATUS_OK);
    cr_assert_float_eq(a[0], 2, 1e-15);
    cr_assert_float_eq(a[2], 1, 1e-15);
    cr_assert_float_eq(a[3], 3, 1e-15);
    linear_solve(2, a, 2, b); /* 4 x + 2 y, 2 x + 10 y: (52/36, 40/36) and (0, 2) */
    cr_assert_float_eq(b[0], 52.0 / 36, 1e-14);
    cr_assert_float_eq(b[1], 40.0 / 36, 1e-14);
    cr_assert_float_eq(b[2], 0, 1e-14);
    cr_assert_float_eq(b[3], 2, 1e-14);
    linear_solve_lower(2, a, 1, c); /* 2 x = 4, x + 3 y = 8 */
    cr_assert_float_eq(c[0], 2, 1e-15);
    cr_assert_float_eq(c[1], 2, 1e-15);
    cr_assert_float_eq(linear_log_determinant(2, a), log(36), 1e-14);
    linear_invert(2, a);
    cr_assert_float_eq(a[0], 10.0 / 36, 1e-15);
    cr_assert_float_eq(a[2], -2.0 / 36, 1e-15);
    cr_assert_float_eq(a[3], 4.0 / 36, 1e-15);
    cr_assert(isnan(a[1]), "the upper triangle was written");
}

Test(linear, a_factor_is_refused)
{
    double indefinite[4] = {1, 0, 2, 1}, missing[4] = {1, 0, NAN, 1};
    cr_assert_eq(linear_factor(2, indefinite), STATUS_COMPUTATION);
    cr_assert_eq(linear_factor(2, missing), STATUS_COMPUTATION);
    cr_assert_eq(linear_factor(0, NULL), STATUS_OK);
    cr_assert_eq(linear_log_determinant(0, NULL), 0);
}

/* The straight line through (0, 6), (1, 0), (2, 0): normal equations 3 c + 3 m = 6, 3 c + 5 m = 0: c = 5, m =
 * -3. */
Test(linear, least_squares_line)
{
    double a[6] = {1, 0, 1, 1, 1, 2}, b[3] = {6, 0, 0}, x[2];
    size_t rank = 0;
    cr_assert_eq(linear_least_squares(3, 2, a, b, 1e-12, x, &rank), STATUS_OK);
    cr_assert_eq(rank, 2);
    cr_assert_float_eq(x[0], 5, 1e-13);
    cr_assert_float_eq(x[1], -3, 1e-13);
}

Test(linear, least_squares_solves_the_hilbert_matrix)
{
    for (int column = 0; column < N; column++) {
        double a[N][N], b[N] = {0}, x[N];
        hilbert(a);
        b[column] = 1;
        cr_assert_eq(linear_least_squares(N, N, &a[0][0], b, 1e-15, x, NULL), STATUS_OK);
        for (int i = 0; i < N; i++)
            cr_assert(fabs(x[i] - inverse[i][column]) < 3e-11 * fabs(inverse[i][column]));
    }
}

/* Two equal columns: x1 + x2 = 2 in the least-squares sense; the shortest is (1, 1). */
Test(linear, least_squares_without_full_rank_is_the_shortest)
{
    double a[6] = {1, 1, 1, 1, 1, 1}, b[3] = {1, 2, 3}, x[2];
    size_t rank = 0;
    cr_assert_eq(linear_least_squares(3, 2, a, b, 1e-10, x, &rank), STATUS_OK);
    cr_assert_eq(rank, 1);
    cr_assert_float_eq(x[0], 1, 1e-13);
    cr_assert_float_eq(x[1], 1, 1e-13);
}

Test(linear, least_squares_refuses)
{
    double a[4] = {1, 0, 0, NAN}, b[2] = {1, 1}, x[2] = {7, 7};
    size_t rank = 9;
    cr_assert_eq(linear_least_squares(2, 2, a, b, 1e-12, x, &rank), STATUS_COMPUTATION);
    cr_assert(x[0] == 0 && x[1] == 0 && rank == 0);
    cr_assert_eq(linear_least_squares(1, 2, a, b, 1e-12, x, NULL), STATUS_COMPUTATION);
}

Test(linear, least_squares_out_of_memory)
{
    enum status status = STATUS_MEMORY;
    size_t failed = 0;
    for (; status == STATUS_MEMORY; failed++) {
        double a[4] = {1, 0, 0, 1}, b[2] = {1, 1}, x[2];
        memory_fail_after(failed);
        status = linear_least_squares(2, 2, a, b, 1e-12, x, NULL);
        memory_fail_after(SIZE_MAX);
    }
    cr_assert_eq(status, STATUS_OK);
    cr_assert_eq(failed, 4, "three allocations, each failed once");
}
