#include "solver/study/sampling.h"

#include <assert.h>

#include "solver/base/random.h"
#include "solver/study/sobol_table.h"

_Static_assert((int)SAMPLING_FACTORS == (int)SOBOL_ROWS, "a row a factor");

size_t sampling_grid_count(const size_t *levels, size_t factors)
{
    size_t count = 1;
    for (size_t f = 0; f < factors; f++)
        count = levels[f] && count > SIZE_MAX / levels[f] ? SIZE_MAX : count * levels[f];
    return count;
}

void sampling_grid_index(const size_t *levels, size_t factors, size_t point, size_t *index)
{
    for (size_t f = factors; f-- > 0;) {
        index[f] = point % levels[f];
        point /= levels[f];
    }
    assert(point == 0);
}

/* Exchanges each value of a column with one of those up to itself: any order is as likely (Fisher and Yates).
 */
static void shuffle(struct random *random, size_t points, size_t stride, double *column)
{
    for (size_t i = points; i > 1; i--) {
        double *last = &column[(i - 1) * stride], *other = &column[random_below(random, i) * stride];
        double kept = *last;
        *last = *other;
        *other = kept;
    }
}

void sampling_latin(size_t points, size_t factors, uint64_t seed, double *unit)
{
    struct random random = {seed};
    assert(points <= SAMPLING_POINTS);
    for (size_t f = 0; f < factors; f++) {
        for (size_t i = 0; i < points; i++) {
            /* 24 bits: part and place together are exact, and stay in their part through the division. */
            double place = ((double)(random_next(&random) >> 40) + 0.5) * 0x1p-24;
            unit[i * factors + f] = ((double)i + place) / (double)points;
        }
        shuffle(&random, points, factors, unit + f);
    }
}

/* Direction numbers of a factor, the first binary digit in the highest bit (Joe and Kuo 2008). */
static void find_directions(const struct sobol_row *row, uint32_t direction[SOBOL_BITS])
{
    size_t degree = row->degree, given = degree ? degree : SOBOL_BITS;
    for (size_t k = 0; k < given; k++)
        direction[k] = (degree ? row->start[k] : 1u) << (SOBOL_BITS - 1 - k);
    for (size_t k = given; k < SOBOL_BITS; k++) {
        direction[k] = direction[k - degree] ^ (direction[k - degree] >> degree);
        for (size_t i = 1; i < degree; i++)
            if (row->polynomial >> (degree - 1 - i) & 1)
                direction[k] ^= direction[k - i];
    }
}

/* Which bit of the Gray code changes towards point number `next`: its trailing zeros. */
static size_t changed_bit(size_t next)
{
    size_t bit = 0;
    for (; !(next & 1); next >>= 1)
        bit++;
    return bit;
}

static double shifted(uint32_t digits, uint64_t shift)
{
    return ((double)(((uint64_t)digits << 20) ^ shift) + 0.5) * 0x1p-52;
}

void sampling_sobol(size_t points, size_t factors, uint64_t seed, double *unit)
{
    struct random random = {seed};
    assert(points <= SAMPLING_POINTS && factors <= SAMPLING_FACTORS);
    for (size_t f = 0; f < factors; f++) {
        uint32_t direction[SOBOL_BITS] = {0}, digits = 0;
        uint64_t shift = random_next(&random) >> 12;
        find_directions(&sobol_table[f], direction);
        for (size_t i = 0; i < points; i++) {
            unit[i * factors + f] = seed ? shifted(digits, shift) : digits * 0x1p-32;
            digits ^= direction[changed_bit(i + 1)];
        }
    }
}
