#include "solver/study/descent.h"

#include <math.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/numeric.h"

/* Less than this share of the value is what rounding makes of a function that large systems stand behind. */
#define SMALLEST_GAIN 1e-11

/* What one search carries along. */
struct search {
    const struct descent *descent;
    size_t n;
    int used;
    double value;
    double *block;                             /* owns the arrays below */
    double *x, *slope, *trial, *trial_slope;   /* (n) */
    double *direction, *step, *change, *image; /* (n) */
    double *inverse;                           /* (n x n), estimate of the inverse Hessian */
    int fresh;                                 /* the estimate is the unit matrix still */
};

static double dot(size_t n, const double *a, const double *b)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

static double largest(size_t n, const double *a)
{
    double most = 0.0;
    for (size_t i = 0; i < n; i++)
        most = numeric_larger(most, numeric_absolute(a[i]));
    return most;
}

static double ask(struct search *search, const double *x)
{
    double value = search->descent->value(search->descent->context, x);
    search->used++;
    return isfinite(value) ? value : (double)INFINITY;
}

static enum status make(struct search *search, const struct descent *descent)
{
    size_t n = descent->count;
    double *next = memory_doubles(n * (n + 8));
    if (!next)
        return STATUS_MEMORY;
    *search = (struct search){.descent = descent, .n = n, .block = next};
    double **arrays[] = {&search->x,         &search->slope, &search->trial,  &search->trial_slope,
                         &search->direction, &search->step,  &search->change, &search->image};
    for (size_t i = 0; i < sizeof arrays / sizeof *arrays; i++, next += n)
        *arrays[i] = next;
    search->inverse = next;
    return STATUS_OK;
}

static void forget(struct search *search)
{
    size_t n = search->n;
    memset(search->inverse, 0, n * n * sizeof *search->inverse);
    for (size_t i = 0; i < n; i++)
        search->inverse[i * n + i] = 1.0;
    search->fresh = 1;
}

/* A coordinate is held where it stands at a bound and the value falls outwards. */
static int held(const struct search *search, size_t i)
{
    const struct descent *descent = search->descent;
    return (search->x[i] <= descent->lower[i] && search->slope[i] > 0) ||
           (search->x[i] >= descent->upper[i] && search->slope[i] < 0);
}

static double free_slope(const struct search *search)
{
    double most = 0.0;
    for (size_t i = 0; i < search->n; i++) {
        if (!held(search, i))
            most = numeric_larger(most, numeric_absolute(search->slope[i]));
    }
    return most;
}

/* Downhill by the estimate, on free coordinates. A part of a positive definite matrix is one as well, so this
 * does fall. */
static void aim(struct search *search)
{
    size_t n = search->n;
    double *p = search->direction;
    for (size_t i = 0; i < n; i++) {
        p[i] = 0.0;
        for (size_t j = 0; j < n && !held(search, i); j++) {
            if (!held(search, j))
                p[i] -= search->inverse[i * n + j] * search->slope[j];
        }
    }
    /* the first step knows no scale: a third of the longest */
    double longest = search->descent->longest, length = largest(n, p);
    double allowed = search->fresh ? longest / 3.0 : longest;
    double scale = length > allowed ? allowed / length : 1.0;
    for (size_t i = 0; i < n; i++)
        p[i] *= scale;
}

static double between(double x, double low, double high)
{
    return x < low ? low : x > high ? high : x;
}

/* Shortens the step until the value falls. 1: trial and its value stand; 0: no step is left. */
static int walk(struct search *search, double *value)
{
    const struct descent *descent = search->descent;
    double along = 1.0;
    for (int tries = 0; tries < 12 && search->used < descent->evaluations; tries++) {
        for (size_t i = 0; i < search->n; i++) {
            double to = search->x[i] + along * search->direction[i];
            search->trial[i] = between(to, descent->lower[i], descent->upper[i]);
            search->step[i] = search->trial[i] - search->x[i];
        }
        double fall = dot(search->n, search->slope, search->step);
        if (!(fall < 0))
            return 0;
        *value = ask(search, search->trial);
        if (*value <= search->value + 1e-4 * fall)
            return 1;
        /* the lowest point of the parabola through both values and the slope */
        double parabola = -0.5 * fall / (*value - search->value - fall);
        along *= between(parabola, 0.1, 0.5);
    }
    return 0;
}

/* BFGS: H <- (I - s y'/ys) H (I - y s'/ys) + s s'/ys. What did not move tells nothing of the curvature. */
static void learn(struct search *search)
{
    size_t n = search->n;
    double *s = search->step, *y = search->change, *image = search->image, *h = search->inverse;
    for (size_t i = 0; i < n; i++)
        y[i] = s[i] != 0.0 ? search->trial_slope[i] - search->slope[i] : 0.0;
    double curvature = dot(n, s, y);
    if (!(curvature > 1e-10 * sqrt(dot(n, s, s) * dot(n, y, y))))
        return;
    for (size_t i = 0; search->fresh && i < n; i++)
        h[i * n + i] = curvature / dot(n, y, y);
    search->fresh = 0;
    for (size_t i = 0; i < n; i++)
        image[i] = dot(n, h + i * n, y);
    double factor = (1.0 + dot(n, y, image) / curvature) / curvature;
    for (size_t i = 0; i < n; i++) {
        for (size_t j = 0; j < n; j++)
            h[i * n + j] += factor * s[i] * s[j] - (s[i] * image[j] + image[i] * s[j]) / curvature;
    }
}

/* One step; 0 when nothing more is to be gained. */
static int advance(struct search *search)
{
    const struct descent *descent = search->descent;
    double value = 0.0;
    aim(search);
    if (!walk(search, &value)) {
        int again = !search->fresh;
        forget(search);
        return again;
    }
    descent->gradient(descent->context, search->trial_slope);
    learn(search);
    double gained = search->value - value;
    memcpy(search->x, search->trial, search->n * sizeof *search->x);
    memcpy(search->slope, search->trial_slope, search->n * sizeof *search->slope);
    search->value = value;
    return gained > SMALLEST_GAIN * numeric_absolute(value);
}

static void go_down(struct search *search)
{
    const struct descent *descent = search->descent;
    descent->gradient(descent->context, search->slope);
    forget(search);
    while (search->used < descent->evaluations && free_slope(search) > descent->tolerance && advance(search))
        ;
}

enum status descent_minimize(const struct descent *descent, double *x, double *value, int *used)
{
    struct search search = {0};
    for (size_t i = 0; i < descent->count; i++)
        x[i] = between(x[i], descent->lower[i], descent->upper[i]);
    enum status status = make(&search, descent);
    if (status == STATUS_OK) {
        memcpy(search.x, x, search.n * sizeof *x);
        search.value = ask(&search, x);
        status = search.value < (double)INFINITY ? STATUS_OK : STATUS_COMPUTATION;
    }
    if (status == STATUS_OK) {
        go_down(&search);
        memcpy(x, search.x, search.n * sizeof *x);
    }
    if (value)
        *value = status == STATUS_OK ? search.value : (double)INFINITY;
    if (used)
        *used = search.used;
    memory_free(search.block);
    return status;
}
