#include <math.h>

#include "solver/base/isa.h"
#include "solver/base/numeric.h"
#include "solver/study/surrogate.h"

enum { LANES = 8 };

/* Distances r of eight points from one. */
static INLINE void distances(size_t factors, size_t stride, const double *restrict scaled,
                             const double *restrict point, double *restrict distance)
{
    double square[LANES] = {0};
    for (size_t k = 0; k < factors; k++) {
        for (int l = 0; l < LANES; l++) {
            double apart = point[k] - scaled[k * stride + (size_t)l];
            square[l] += apart * apart;
        }
    }
    for (int l = 0; l < LANES; l++)
        distance[l] = sqrt(square[l]);
}

void ISA_NAME(surrogate_correlate)(size_t count, size_t factors, size_t stride, const double *scaled,
                                   const double *point, double *correlation)
{
    for (size_t j = 0; j < count; j += LANES) {
        double r[LANES];
        distances(factors, stride, scaled + j, point, r);
        for (int l = 0; l < LANES; l++)
            correlation[j + (size_t)l] = (1.0 + r[l] + r[l] * r[l] / 3.0) * numeric_exp(-r[l]);
    }
}

/* dR/dr = -r (1 + r) exp(-r) / 3 and dr / d ln length_k = -u_k^2 / r, u_k the scaled distance along k. */
void ISA_NAME(surrogate_slopes)(size_t count, size_t factors, size_t stride, const double *scaled,
                                const double *point, double *share, double *slope)
{
    for (size_t j = 0; j < count; j += LANES) {
        double r[LANES];
        distances(factors, stride, scaled + j, point, r);
        for (int l = 0; l < LANES; l++)
            share[j + (size_t)l] *= (1.0 + r[l]) * numeric_exp(-r[l]) / 3.0;
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
