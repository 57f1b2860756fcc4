#ifndef FOAMPULSE_SUPPORT_ZONE_BLOCK_H
#define FOAMPULSE_SUPPORT_ZONE_BLOCK_H

#include "solver/base/memory.h"
#include "solver/impact/law.h"

/* Zones of one foam at rest, for tests of a law. The arrays, of `count` each, in the order of struct
 * foam_zones: strain, matter, skeleton, plastic, rate, dissipated, stress, tangent, floor. */

enum { ZONE_FLOOR = 8, ZONE_ARRAYS };

static inline struct foam_zones zone_block(size_t count, double *arrays[ZONE_ARRAYS])
{
    for (int i = 0; i < ZONE_ARRAYS; i++)
        arrays[i] = memory_zeroed(count, sizeof(double));
    return (struct foam_zones){count,     arrays[0], arrays[1], arrays[2], arrays[3],
                               arrays[4], arrays[5], arrays[6], arrays[7], arrays[ZONE_FLOOR]};
}

static inline void zone_block_free(double *arrays[ZONE_ARRAYS])
{
    for (int i = 0; i < ZONE_ARRAYS; i++)
        memory_free(arrays[i]);
}

#endif
