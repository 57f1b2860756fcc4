#include <math.h>

#include "solver/base/isa.h"
#include "solver/base/numeric.h"
#include "solver/study/surrogate.h"

enum { LANES = 8 };

/* Squares of the distances r of `count` points from one. */
static INLINE void squares(size_t count, size_t factors, size_t stride, const double *restrict scaled,
                           const double *restrict point, double *restrict square)
{
    for (size_t j = 0; j < count; j++)
        square[j] = 0.0;
    for (size_t k = 0; k < factors; k++) {
        const double *restrict row = scaled + k * stride;
        INDEPENDENT
        for (size_t j = 0; j < count; j++) {
            double apart = point[k] - row[j];
            square[j] += apart * apart;
        }
    }
}

void ISA_NAME(surrogate_correlate)(size_t count, size_t factors, size_t stride, const double *scaled,
                                   const double *point, double *correlation)
{
    squares(count, factors, stride, scaled, point, correlation);
    INDEPENDENT
    for (size_t j = 0; j < count; j++) {
        double r = sqrt(correlation[j]);
        correlation[j] = (1.0 + r + correlation[j] * (1.0 / 3.0)) * numeric_exp(-r);
    }
}

/* dR/dr = -r (1 + r) exp(-r) / 3 and dr / d ln length_k = -u_k^2 / r, u_k the scaled distance along k. */
void ISA_NAME(surrogate_slopes)(size_t count, size_t factors, size_t stride, const double *scaled,
                                const double *point, double *restrict share, double *restrict square,
                                double *restrict slope)
{
    squares(count, factors, stride, scaled, point, square);
    INDEPENDENT
    for (size_t j = 0; j < count; j++) {
        double r = sqrt(square[j]);
        share[j] *= (1.0 + r) * numeric_exp(-r) * (1.0 / 3.0);
    }
    for (size_t k = 0; k < factors; k++) {
        const double *restrict row = scaled + k * stride;
        double lane[LANES] = {0}, sum = 0.0;
        for (size_t j = 0; j < count; j += LANES) {
            for (size_t l = 0; l < LANES; l++) {
                double apart = point[k] - row[j + l];
                lane[l] += share[j + l] * apart * apart;
            }
        }
        for (int l = 0; l < LANES; l++)
            sum += lane[l];
        slope[k] += sum;
    }
}
