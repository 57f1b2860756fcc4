#include "solver/base/linear.h"

#include <lapacke.h>
#include <math.h>
#include <pthread.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/numeric.h"

/* From OpenBLAS; its header is not where every system looks. */
void openblas_set_num_threads(int count);

static void one_thread(void)
{
    openblas_set_num_threads(1);
}

/* LAPACK's own check for NaN lets infinities through. */
static int finite(size_t count, const double *values)
{
    double sum = 0.0;
    for (size_t i = 0; i < count; i++)
        sum += values[i] - values[i];
    return sum == 0.0;
}

static void start(void)
{
    static pthread_once_t once = PTHREAD_ONCE_INIT;
    pthread_once(&once, one_thread);
}

static int finite_lower(size_t n, const double *a)
{
    int all = 1;
    for (size_t i = 0; i < n; i++)
        all &= finite(i + 1, a + i * n);
    return all;
}

/* Row-major lower is column-major upper, and a right-hand side a row is a column there: no copy is made. */
enum status linear_factor(size_t n, double *a)
{
    start();
    lapack_int size = (lapack_int)n;
    if (n == 0)
        return STATUS_OK;
    if (!finite_lower(n, a) || LAPACKE_dpotrf_work(LAPACK_COL_MAJOR, 'U', size, a, size) != 0)
        return STATUS_COMPUTATION;
    return STATUS_OK;
}

void linear_solve_lower(size_t n, const double *factor, size_t count, double *b)
{
    start();
    lapack_int size = (lapack_int)n;
    if (n > 0 && count > 0)
        LAPACKE_dtrtrs_work(LAPACK_COL_MAJOR, 'U', 'T', 'N', size, (lapack_int)count, factor, size, b, size);
}

void linear_solve(size_t n, const double *factor, size_t count, double *b)
{
    start();
    lapack_int size = (lapack_int)n;
    if (n > 0 && count > 0)
        LAPACKE_dpotrs_work(LAPACK_COL_MAJOR, 'U', size, (lapack_int)count, factor, size, b, size);
}

double linear_log_determinant(size_t n, const double *factor)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += numeric_log(factor[i * n + i]);
    return 2.0 * sum;
}

void linear_invert(size_t n, double *factor)
{
    start();
    if (n > 0)
        LAPACKE_dpotri_work(LAPACK_COL_MAJOR, 'U', (lapack_int)n, factor, (lapack_int)n);
}

enum status linear_cholesky(size_t n, double *a, double *b)
{
    enum status status = n == 0 || finite(n, b) ? linear_factor(n, a) : STATUS_COMPUTATION;
    if (status == STATUS_OK)
        linear_solve(n, a, 1, b);
    else
        memset(b, 0, n * sizeof *b);
    return status;
}

/* dgelsy on the matrix turned to column-major in `columns_first`; `b` holds x in front afterwards. */
static enum status solve(size_t rows, size_t columns, double *columns_first, double *b, double tolerance,
                         lapack_int *rank)
{
    lapack_int m = (lapack_int)rows, n = (lapack_int)columns;
    enum status status = STATUS_MEMORY;
    lapack_int *pivots = memory_zeroed(columns, sizeof *pivots);
    double *work = NULL, wanted = 0.0;
    if (!pivots)
        goto done;
    LAPACKE_dgelsy_work(LAPACK_COL_MAJOR, m, n, 1, columns_first, m, b, m, pivots, tolerance, rank, &wanted,
                        -1);
    work = memory_zeroed((size_t)wanted, sizeof *work);
    if (!work)
        goto done;
    lapack_int failed = LAPACKE_dgelsy_work(LAPACK_COL_MAJOR, m, n, 1, columns_first, m, b, m, pivots,
                                            tolerance, rank, work, (lapack_int)wanted);
    status = failed ? STATUS_COMPUTATION : STATUS_OK;
done:
    memory_free(work);
    memory_free(pivots);
    return status;
}

enum status linear_least_squares(size_t rows, size_t columns, double *a, double *b, double tolerance,
                                 double *x, size_t *rank)
{
    start();
    lapack_int found = 0;
    enum status status = STATUS_COMPUTATION;
    double *turned = NULL;
    if (rows < columns || columns == 0 || !finite(rows * columns, a) || !finite(rows, b))
        goto done;
    status = STATUS_MEMORY;
    turned = memory_zeroed(rows * columns, sizeof *turned);
    if (!turned)
        goto done;
    for (size_t i = 0; i < rows; i++) {
        for (size_t j = 0; j < columns; j++)
            turned[j * rows + i] = a[i * columns + j];
    }
    status = solve(rows, columns, turned, b, tolerance, &found);
done:
    for (size_t j = 0; j < columns; j++)
        x[j] = status == STATUS_OK ? b[j] : 0.0;
    if (rank)
        *rank = status == STATUS_OK ? (size_t)found : 0;
    memory_free(turned);
    return status;
}
