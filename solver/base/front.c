#include "solver/base/front.h"

#include <math.h>
#include <string.h>

struct costs {
    const double *a, *b;
};

static int is_before(const struct costs *costs, size_t i, size_t k)
{
    if (costs->a[i] != costs->a[k])
        return costs->a[i] < costs->a[k];
    return costs->b[i] != costs->b[k] ? costs->b[i] < costs->b[k] : i < k;
}

/* Merges the two ordered halves of `order` through `spare`. */
static void merge(const struct costs *costs, size_t *order, size_t half, size_t count, size_t *spare)
{
    size_t left = 0, right = half;
    for (size_t at = 0; at < count; at++) {
        int first = right == count || (left < half && !is_before(costs, order[right], order[left]));
        spare[at] = first ? order[left++] : order[right++];
    }
    memcpy(order, spare, count * sizeof *order);
}

/* qsort has no room for the costs. */
static void sort(const struct costs *costs, size_t *order, size_t count, size_t *spare)
{
    if (count < 2)
        return;
    sort(costs, order, count / 2, spare);
    sort(costs, order + count / 2, count - count / 2, spare);
    merge(costs, order, count / 2, count, spare);
}

size_t front_find(const double *a, const double *b, size_t count, size_t *front)
{
    struct costs costs = {a, b};
    size_t known = 0, kept = 0;
    double least = INFINITY;
    for (size_t i = 0; i < count; i++) {
        if (!isnan(a[i]) && !isnan(b[i]))
            front[known++] = i;
    }
    sort(&costs, front, known, front + count);
    for (size_t i = 0; i < known; i++) {
        if (b[front[i]] < least) {
            least = b[front[i]];
            front[kept++] = front[i];
        }
    }
    return kept;
}

double front_area(const double *a, const double *b, const size_t *front, size_t count, double reference_a,
                  double reference_b)
{
    double area = 0, ceiling = reference_b;
    for (size_t i = 0; i < count; i++) {
        double width = reference_a - a[front[i]], height = ceiling - b[front[i]];
        if (width > 0 && height > 0) {
            area += width * height;
            ceiling = b[front[i]];
        }
    }
    return area;
}
