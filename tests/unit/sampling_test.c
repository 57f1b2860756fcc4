/* solver/study/sampling: the grid, the Latin hypercube, and Sobol's sequence against SciPy's. */

#include "solver/study/sampling.h"

#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/csv.h"
#include "solver/base/digest.h"
#include "solver/base/memory.h"

static double *room(size_t points, size_t factors)
{
    double *unit = memory_doubles(points * factors);
    cr_assert(unit);
    return unit;
}

Test(sampling, grid_counts_like_digits)
{
    static const size_t levels[] = {2, 3, 1, 4};
    static const size_t size_max[] = {SIZE_MAX};
    static const size_t huge[] = {(size_t)1 << 32, (size_t)1 << 32, 3}, zero[] = {SIZE_MAX, SIZE_MAX, 0};
    size_t index[4], point = 0;
    cr_assert_eq(sampling_grid_count(levels, 4), 24);
    for (size_t a = 0; a < 2; a++)
        for (size_t b = 0; b < 3; b++)
            for (size_t d = 0; d < 4; d++) {
                sampling_grid_index(levels, 4, point++, index);
                cr_assert(index[0] == a && index[1] == b && index[2] == 0 && index[3] == d, "point %zu",
                          point);
            }
    cr_expect_eq(sampling_grid_count(levels, 0), 1);
    cr_expect_eq(sampling_grid_count(huge, 1), (size_t)1 << 32);
    cr_expect_eq(sampling_grid_count(huge, 2), SIZE_MAX);
    cr_expect_eq(sampling_grid_count(huge, 3), SIZE_MAX);
    cr_expect_eq(sampling_grid_count(size_max, 1), SIZE_MAX);
    cr_expect_eq(sampling_grid_count(zero, 3), 0);
}

/* Each of as many equal parts of each factor as there are points holds one of them. */
static void expect_strata(const double *unit, size_t points, size_t factors)
{
    size_t *held = memory_zeroed(points, sizeof *held);
    cr_assert(held);
    for (size_t f = 0; f < factors; f++) {
        memset(held, 0, points * sizeof *held);
        for (size_t i = 0; i < points; i++) {
            double x = unit[i * factors + f];
            cr_assert(x >= 0 && x < 1, "point %zu, factor %zu: %g", i, f, x);
            held[(size_t)(x * (double)points)]++;
        }
        for (size_t s = 0; s < points; s++)
            cr_assert_eq(held[s], 1, "factor %zu, part %zu of %zu: %zu", f, s, points, held[s]);
    }
    memory_free(held);
}

Test(sampling, latin_has_one_point_in_each_part_of_each_factor)
{
    static const size_t sizes[][2] = {{1, 1}, {2, 3}, {7, 300}, {49, 5}, {1000, 12}, {100000, 4}};
    for (size_t s = 0; s < sizeof sizes / sizeof *sizes; s++) {
        size_t points = sizes[s][0], factors = sizes[s][1];
        double *unit = room(points, factors);
        for (uint64_t seed = 0; seed < 3; seed++) {
            sampling_latin(points, factors, seed, unit);
            expect_strata(unit, points, factors);
        }
        memory_free(unit);
    }
    sampling_latin(0, 3, 1, NULL);
}

/* A shuffle that favours places would tie factors to each other or to the order: the correlation of n
 * independent pairs has the standard deviation 1/sqrt(n - 1); 5 of them are passed by chance once in a
 * million. */
Test(sampling, latin_factors_are_unrelated)
{
    enum { POINTS = 10000, FACTORS = 6 };
    double *unit = room(POINTS, FACTORS), worst = 0;
    sampling_latin(POINTS, FACTORS, 3, unit);
    for (size_t a = 0; a < FACTORS; a++)
        for (size_t b = a; b < FACTORS; b++) {
            double sum = 0; /* of factor a with factor b, or with the order where they are the same */
            for (size_t i = 0; i < POINTS; i++) {
                double other = a == b ? (double)i / POINTS : unit[i * FACTORS + b];
                sum += 12 * (unit[i * FACTORS + a] - 0.5) * (other - 0.5);
            }
            worst = fmax(worst, fabs(sum) / POINTS * sqrt(POINTS - 1.0));
        }
    printf("figure: largest correlation of Latin factors, in standard deviations %.2f (at most 5)\n", worst);
    cr_expect(worst < 5);
    memory_free(unit);
}

/* Places within the parts are spread evenly: mean 1/2, variance 1/12. */
Test(sampling, latin_places_are_even_within_their_parts)
{
    enum { POINTS = 20000 };
    double *unit = room(POINTS, 1), mean = 0, square = 0;
    sampling_latin(POINTS, 1, 4, unit);
    for (size_t i = 0; i < POINTS; i++) {
        double place = unit[i] * POINTS - floor(unit[i] * POINTS);
        mean += place / POINTS;
        square += place * place / POINTS;
    }
    /* standard deviations: 1/sqrt(12 n) = 0.0020 of the mean, sqrt(4/45/n) = 0.0021 of the mean square */
    cr_expect(fabs(mean - 0.5) < 0.01, "%g", mean);
    cr_expect(fabs(square - 1.0 / 3) < 0.01, "%g", square);
    memory_free(unit);
}

/* tests/unit/sobol.csv, written by tests/unit/sobol.py from SciPy: equal to the last bit. */
Test(sampling, sobol_is_the_published_sequence)
{
    struct csv_table table;
    size_t rows = 0, points = 65536;
    cr_assert_eq(csv_table_read(FOAMPULSE_SOURCE "/tests/unit/sobol.csv", &table, NULL), STATUS_OK);
    size_t factors = table.column_count - 1;
    double *unit = room(points, factors);
    sampling_sobol(points, factors, 0, unit);
    for (; rows < table.row_count; rows++)
        for (size_t f = 0; f <= factors; f++) {
            double point, value;
            cr_assert_eq(csv_table_number(&table, rows, 0, &point, NULL), STATUS_OK);
            cr_assert_eq(csv_table_number(&table, rows, f, &value, NULL), STATUS_OK);
            if (f > 0)
                cr_assert_eq(unit[(size_t)point * factors + f - 1], value * 0x1p-32, "point %g, factor %zu",
                             point, f);
        }
    cr_assert(rows == 72 && factors == 64);
    csv_table_free(&table);
    memory_free(unit);
}

/* SHA-256 of 4096 points of all factors in 32 bits, lowest byte first, printed by tests/unit/sobol.py from
 * SciPy. */
Test(sampling, sobol_has_all_published_factors)
{
    size_t count = (size_t)4096 * SAMPLING_FACTORS;
    double *unit = room(4096, SAMPLING_FACTORS);
    unsigned char *bytes = memory_zeroed(count, 4);
    char hex[DIGEST_HEX];
    cr_assert(bytes);
    sampling_sobol(4096, SAMPLING_FACTORS, 0, unit);
    for (size_t i = 0; i < count * 4; i++)
        bytes[i] = (unsigned char)((uint32_t)(unit[i / 4] * 0x1p32) >> 8 * (i % 4));
    digest_hex(bytes, count * 4, hex);
    cr_expect_str_eq(hex, "e8fb0eb17fd7317357a834949d0cf9d1d41af7a37740e62fa6a2537aa72ca6f2");
    memory_free(bytes);
    memory_free(unit);
}

/* Worked by hand. Directions in binary digits, from the table's first rows: factor 1 (all m = 1) .1 .01 .001;
 * factor 2 (degree 1, m = 1) .1, .1 ^ .01 = .11, .11 ^ .011 = .101; factor 3 (degree 2, a = 1, m = 1 3) .1
 * .11, .1 ^ .001 ^ .11 = .011. From point to point the directions 1 2 1 3 1 2 1 are added without carry. */
Test(sampling, sobol_starts_at_the_corner)
{
    static const double first[] = {0,     0,     0,     0.5,   0.5,   0.5,   0.75,  0.25,
                                   0.25,  0.25,  0.75,  0.75,  0.375, 0.375, 0.625, 0.875,
                                   0.875, 0.125, 0.625, 0.125, 0.875, 0.125, 0.625, 0.375};
    double unit[24];
    sampling_sobol(8, 3, 0, unit);
    for (size_t i = 0; i < 24; i++)
        cr_assert_eq(unit[i], first[i], "value %zu: %g", i, unit[i]);
}

/* Odd numbers in the table make the sequence of each factor a permutation of the binary digits, so that 2^m
 * points fall one into each of 2^m parts. */
Test(sampling, sobol_fills_every_part_of_every_factor)
{
    for (uint64_t seed = 0; seed < 4; seed++)
        for (size_t points = 1; points <= 4096; points *= 8) {
            double *unit = room(points, SAMPLING_FACTORS);
            sampling_sobol(points, SAMPLING_FACTORS, seed, unit);
            expect_strata(unit, points, SAMPLING_FACTORS);
            memory_free(unit);
        }
}

/* The first two factors are a (0, m, 2)-net in base 2 (Sobol 1967): each of the 2^m boxes of 2^-k by 2^-(m-k)
 * holds one of 2^m points, for each k; shifted ones as well. */
static void expect_boxes(const double *unit, size_t points, size_t wide, size_t factors)
{
    unsigned char *held = memory_zeroed(points, sizeof *held);
    cr_assert(held);
    for (size_t i = 0; i < points; i++) {
        size_t column = (size_t)(unit[i * factors] * (double)wide);
        size_t row = (size_t)(unit[i * factors + 1] * (double)(points / wide));
        size_t box = column * (points / wide) + row;
        cr_assert_eq(held[box], 0, "box %zu of %zu columns", box, wide);
        held[box] = 1;
    }
    memory_free(held);
}

Test(sampling, sobol_pair_is_a_net_shifted_or_not)
{
    enum { POINTS = 1024 };
    double unit[POINTS * 2];
    for (uint64_t seed = 0; seed < 50; seed++) {
        sampling_sobol(POINTS, 2, seed, unit);
        for (size_t wide = 1; wide <= POINTS; wide *= 2)
            expect_boxes(unit, POINTS, wide, 2);
    }
}

/* Printed by tests/unit/sobol.py, which follows the description with the whole numbers of Python. */
Test(sampling, seeded_points_are_the_same_everywhere)
{
    static const double latin[] = {0x1.22145b0000000p-3, 0x1.4917188000000p-2, 0x1.2ac2ce8000000p-2,
                                   0x1.b8e0c34000000p-1, 0x1.0bcf770000000p-3, 0x1.e85d684000000p-1,
                                   0x1.7c49d14000000p-1, 0x1.b3baee4000000p-1, 0x1.be6db60000000p-4,
                                   0x1.beeb8d8000000p-2, 0x1.65a1ae4000000p-1, 0x1.529a534000000p-1};
    static const double sobol[] = {0x1.22145bd91204bp-1, 0x1.7dd71b42cb1ddp-1, 0x1.f12745ddf664bp-1,
                                   0x1.10a2dec890258p-4, 0x1.f75c6d0b2c774p-3, 0x1.e24e8bbbecc96p-2,
                                   0x1.4428b7b224096p-2, 0x1.fdd71b42cb1ddp-1, 0x1.712745ddf664bp-1,
                                   0x1.a2145bd91204bp-1, 0x1.fbae3685963bap-2, 0x1.c49d1777d992cp-3};
    double unit[12];
    sampling_latin(4, 3, 1, unit);
    cr_expect(memcmp(unit, latin, sizeof unit) == 0);
    sampling_sobol(4, 3, 1, unit);
    cr_expect(memcmp(unit, sobol, sizeof unit) == 0);
}

typedef void sampler(size_t points, size_t factors, uint64_t seed, double *unit);

/* How many of the values of two seeds are equal. */
static size_t equal_values(sampler *sample, uint64_t one, uint64_t other)
{
    enum { POINTS = 100, FACTORS = 5 };
    double a[POINTS * FACTORS], b[POINTS * FACTORS];
    size_t equal = 0;
    sample(POINTS, FACTORS, one, a);
    sample(POINTS, FACTORS, other, b);
    for (size_t i = 0; i < POINTS * FACTORS; i++)
        equal += a[i] == b[i];
    return equal;
}

Test(sampling, another_seed_gives_other_points)
{
    cr_expect_eq(equal_values(sampling_latin, 1, 1), 500);
    cr_expect_eq(equal_values(sampling_sobol, 1, 1), 500);
    for (uint64_t seed = 0; seed < 20; seed++) {
        cr_expect_eq(equal_values(sampling_latin, seed, seed + 1), 0, "Latin, seed %d", (int)seed);
        cr_expect_eq(equal_values(sampling_sobol, seed, seed + 1), 0, "Sobol, seed %d", (int)seed);
    }
}

/* Points of `many` factors begin with those of `few`. */
static void expect_same_start(sampler *sample, size_t points, size_t more_points, size_t few, size_t many)
{
    double *one = room(points, few), *other = room(more_points, many);
    sample(points, few, 7, one);
    sample(more_points, many, 7, other);
    for (size_t i = 0; i < points; i++)
        for (size_t f = 0; f < few; f++)
            cr_assert_eq(one[i * few + f], other[i * many + f], "point %zu, factor %zu", i, f);
    memory_free(one);
    memory_free(other);
}

Test(sampling, more_factors_or_points_leave_the_others)
{
    expect_same_start(sampling_latin, 50, 50, 3, 9);
    expect_same_start(sampling_sobol, 50, 700, 3, 9);
}
