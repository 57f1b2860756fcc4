/*
 * The lower end is the p at which `failures` or more of `count` trials fail with the probability tail =
 * (1 - confidence)/2; the upper end is the same of the trials that did not fail, from 1 downwards.
 */
#include "solver/base/binomial.h"

#include <assert.h>
#include <math.h>

/* ln of the number of ways to choose k of n. Factors are multiplied as far as the range of a double allows: a
 * sum of their logarithms rounds in each step, and 1e5 trials lose two digits more. */
static double log_choices(size_t n, size_t k)
{
    size_t fewer = k < n - k ? k : n - k;
    double sum = 0, product = 1;
    for (size_t i = 1; i <= fewer; i++) {
        product *= (double)(n - fewer + i) / (double)i;
        if (product > 1e280) {
            sum += log(product);
            product = 1;
        }
    }
    return sum + log(product);
}

/* Probability of k or more failures in n trials, p <= k/n: the terms fall from the first on. */
static double at_least(size_t n, size_t k, double p, double log_ways)
{
    double odds = p / (1.0 - p), term = 1, sum = 0;
    for (size_t j = k; j <= n && term > 1e-18 * sum; j++) {
        sum += term;
        term *= (double)(n - j) / (double)(j + 1) * odds;
    }
    return sum * exp(log_ways + (double)k * log(p) + (double)(n - k) * log1p(-p));
}

/* At p = k/n the probability is over one half (the median of a binomial distribution is a neighbour of its
 * mean), so the end lies below; bisection to the last bit. */
static double lower_end(size_t n, size_t k, double tail)
{
    double log_ways = log_choices(n, k), low = 0, high = k ? (double)k / (double)n : 0;
    for (double p = high / 2; p > low && p < high; p = low + (high - low) / 2) {
        if (at_least(n, k, p, log_ways) < tail)
            low = p;
        else
            high = p;
    }
    return low;
}

void binomial_interval(size_t failures, size_t count, double confidence, double *low, double *high)
{
    assert(failures <= count && confidence > 0 && confidence < 1);
    double tail = 0.5 - confidence / 2;
    *low = lower_end(count, failures, tail);
    *high = 1.0 - lower_end(count, count - failures, tail);
}
