#ifndef FOAMPULSE_BASE_LINEAR_H
#define FOAMPULSE_BASE_LINEAR_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * Dense linear systems through LAPACK, the only place that uses it. Matrices are row by row. LAPACK
 * runs on one thread; its bits may differ between processors, so nothing that has to be the same everywhere
 * passes here.
 */

/* Solves A x = b for a symmetric, positive definite A by Cholesky factors. `a` (n x n, lower triangle read)
 * is overwritten by the factor, `b` (n) by x. STATUS_COMPUTATION when A is not positive definite to rounding
 * or holds a value that is not finite: then b is zeroed. */
enum status linear_cholesky(size_t n, double *a, double *b);

/* The parts of it, for a factor that is kept. linear_factor overwrites the lower triangle of `a` (n x n) by L
 * with A = L L'; the upper one is neither read nor written, here and below. STATUS_COMPUTATION when A is not
 * positive definite to rounding or holds a value that is not finite. */
enum status linear_factor(size_t n, double *a);

/* x of A x = b, and of L x = b, for `count` right-hand sides `b` (count x n), each overwritten by its x. */
void linear_solve(size_t n, const double *factor, size_t count, double *b);
void linear_solve_lower(size_t n, const double *factor, size_t count, double *b);

/* ln det A. */
double linear_log_determinant(size_t n, const double *factor);

/* Overwrites the lower triangle of `factor` (n x n) by that of the inverse of A. */
void linear_invert(size_t n, double *factor);

/* Least squares: the x (columns) of smallest |A x - b| for `a` (rows x columns, rows >= columns), by QR with
 * column pivoting (complete orthogonal factors). Directions in which A is smaller than `tolerance` times its
 * largest do not count: x is then the shortest of the minimisers and `rank` (NULL allowed) below `columns`.
 * `a` and `b` (rows) are overwritten, x zeroed on failure. STATUS_COMPUTATION when a value is not finite or
 * rows < columns, STATUS_MEMORY. */
enum status linear_least_squares(size_t rows, size_t columns, double *a, double *b, double tolerance,
                                 double *x, size_t *rank);

#endif
