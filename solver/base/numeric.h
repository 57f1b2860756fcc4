#ifndef FOAMPULSE_BASE_NUMERIC_H
#define FOAMPULSE_BASE_NUMERIC_H

#include <stdint.h>
#include <string.h>

/*
 * exp, logarithms, sin, cos and atan2 from plain IEEE operations.
 *
 * The C library picks other code, with other rounding, on processors with fused multiply-add; these give the
 * same bits with every instruction set and compiler (no contraction). Each is a short inline function
 * without branches, so that loops around it become vector code (atan2, for set-up only, does not). Errors
 * against long double, over the ranges of tests/unit/numeric_test.c: below 2 units in the last place, atan2
 * below 3.
 *
 * Series are Taylor series of the elementary functions; constants are exact values rounded to double, or
 * split into a head with trailing zero bits and a tail.
 */

/* 2^52 + 2^51: adding it rounds to the nearest integer, which then stands in the low bits. */
#define NUMERIC_ROUND 6755399441055744.0

static inline uint64_t numeric_bits(double x)
{
    uint64_t bits;
    memcpy(&bits, &x, sizeof bits);
    return bits;
}

static inline double numeric_from_bits(uint64_t bits)
{
    double x;
    memcpy(&x, &bits, sizeof x);
    return x;
}

static inline double numeric_absolute(double x)
{
    return numeric_from_bits(numeric_bits(x) & ~(UINT64_C(1) << 63));
}

static inline double numeric_larger(double a, double b)
{
    return a > b ? a : b;
}

static inline double numeric_smaller(double a, double b)
{
    return a < b ? a : b;
}

/* 2^n, n a whole number in -1022 .. 1023. */
static inline double numeric_power_of_two(double n)
{
    return numeric_from_bits((numeric_bits(n + NUMERIC_ROUND) + 1023) << 52);
}

/* e^x. Below -745.2 zero, above 709.8 infinity; NaN stays NaN. */
static inline double numeric_exp(double x)
{
    double clamped = x < -746.0 ? -746.0 : x > 710.0 ? 710.0 : x;
    double n = (clamped * 1.4426950408889634 + NUMERIC_ROUND) - NUMERIC_ROUND;
    /* ln 2 = head (32 bits, so that n * head is exact) + tail */
    double r = (clamped - n * 0x1.62e42feep-1) - n * 0x1.a39ef35793c76p-33;
    double p = 1.0 / 6227020800.0;
    p = p * r + 1.0 / 479001600.0;
    p = p * r + 1.0 / 39916800.0;
    p = p * r + 1.0 / 3628800.0;
    p = p * r + 1.0 / 362880.0;
    p = p * r + 1.0 / 40320.0;
    p = p * r + 1.0 / 5040.0;
    p = p * r + 1.0 / 720.0;
    p = p * r + 1.0 / 120.0;
    p = p * r + 1.0 / 24.0;
    p = p * r + 1.0 / 6.0;
    p = p * r + 0.5;
    double value = 1.0 + (r + r * r * p);
    /* two factors, because 2^n alone leaves the range of a double near both ends */
    double half = (n * 0.5 + NUMERIC_ROUND) - NUMERIC_ROUND;
    return value * numeric_power_of_two(half) * numeric_power_of_two(n - half);
}

/* x = 2^exponent (1 + fraction), 1 + fraction in [sqrt 1/2, sqrt 2); ln(1 + fraction) = log. For x > 0. */
struct numeric_split {
    double exponent, log;
};

static inline struct numeric_split numeric_split(double x)
{
    int tiny = x < 0x1p-1022;
    double normal = tiny ? x * 0x1p54 : x;
    uint64_t root_half = UINT64_C(0x3fe6a09e667f3bcd);
    uint64_t shifted = numeric_bits(normal) + (UINT64_C(0x3ff0000000000000) - root_half);
    double biased = numeric_from_bits((shifted >> 52) | UINT64_C(0x4330000000000000)) - 0x1p52;
    double f = numeric_from_bits((shifted & UINT64_C(0x000fffffffffffff)) + root_half) - 1.0;
    /* ln((1 + s)/(1 - s)) = 2 (s + s^3/3 + s^5/5 ...), s = f/(2 + f), |s| < 0.172; regrouped so that f
     * itself, which is exact, carries the leading part */
    double s = f / (2.0 + f), z = s * s, half_square = 0.5 * f * f;
    double p = 2.0 / 25.0;
    p = p * z + 2.0 / 23.0;
    p = p * z + 2.0 / 21.0;
    p = p * z + 2.0 / 19.0;
    p = p * z + 2.0 / 17.0;
    p = p * z + 2.0 / 15.0;
    p = p * z + 2.0 / 13.0;
    p = p * z + 2.0 / 11.0;
    p = p * z + 2.0 / 9.0;
    p = p * z + 2.0 / 7.0;
    p = p * z + 2.0 / 5.0;
    p = p * z + 2.0 / 3.0;
    struct numeric_split split = {biased - (tiny ? 1077.0 : 1023.0),
                                  f - (half_square - s * (half_square + z * p))};
    return split;
}

/* The value of a logarithm where x is positive and finite, else what the logarithm is there. */
static inline double numeric_log_ends(double x, double value)
{
    double infinity = numeric_from_bits(UINT64_C(0x7ff0000000000000));
    double ends = x == 0.0 ? -infinity : x > 0.0 ? x : numeric_from_bits(UINT64_C(0x7ff8000000000000));
    return (x > 0.0 && x < infinity) ? value : ends;
}

/* Natural logarithm. 0 gives -infinity, a negative number NaN. */
static inline double numeric_log(double x)
{
    struct numeric_split split = numeric_split(x);
    double value = split.exponent * 0x1.62e42feep-1 + (split.exponent * 0x1.a39ef35793c76p-33 + split.log);
    return numeric_log_ends(x, value);
}

/* Logarithm to base 2; exact for powers of two. */
static inline double numeric_log2(double x)
{
    struct numeric_split split = numeric_split(x);
    return numeric_log_ends(x, split.exponent + split.log * 1.4426950408889634);
}

/* Logarithm to base 10. */
static inline double numeric_log10(double x)
{
    struct numeric_split split = numeric_split(x);
    /* log10 2 = head (32 bits) + tail */
    double value = split.exponent * 0x1.34413508p-2 +
                   (split.exponent * 0x1.f79fef311f12bp-34 + split.log * 0.4342944819032518);
    return numeric_log_ends(x, value);
}

/* x = quarter pi/2 + head + tail, |head| <= pi/4 (a little more), for |x| up to 1e6. */
struct numeric_quarter {
    double head, tail;
    uint64_t quarter;
};

static inline struct numeric_quarter numeric_quarter(double x)
{
    double shifted = x * 0.6366197723675814 + NUMERIC_ROUND, n = shifted - NUMERIC_ROUND;
    /* pi/2 in three parts; the first two have 33 bits, so that their products with n are exact, and so is
     * the first difference */
    double first = x - n * 0x1.921fb544p+0, second = n * 0x1.0b4611a6p-34;
    double difference = first - second;
    double rest = ((first - difference) - second) - n * 0x1.3198a2e037073p-69;
    double head = difference + rest;
    struct numeric_quarter reduced = {head, (difference - head) + rest, numeric_bits(shifted)};
    return reduced;
}

static inline double numeric_sin_series(double r, double tail)
{
    double z = r * r, p = 1.0 / 355687428096000.0;
    p = p * z - 1.0 / 1307674368000.0;
    p = p * z + 1.0 / 6227020800.0;
    p = p * z - 1.0 / 39916800.0;
    p = p * z + 1.0 / 362880.0;
    p = p * z - 1.0 / 5040.0;
    p = p * z + 1.0 / 120.0;
    p = p * z - 1.0 / 6.0;
    return r + (r * z * p + tail * (1.0 - 0.5 * z));
}

static inline double numeric_cos_series(double r, double tail)
{
    double z = r * r, p = -1.0 / 6402373705728000.0;
    p = p * z + 1.0 / 20922789888000.0;
    p = p * z - 1.0 / 87178291200.0;
    p = p * z + 1.0 / 479001600.0;
    p = p * z - 1.0 / 3628800.0;
    p = p * z + 1.0 / 40320.0;
    p = p * z - 1.0 / 720.0;
    p = p * z + 1.0 / 24.0;
    double head = 1.0 - 0.5 * z;
    return head + (((1.0 - head) - 0.5 * z) + (z * z * p - r * tail));
}

/* Sine of an angle that lies `turn` quarters beyond a reduced one. */
static inline double numeric_circle(struct numeric_quarter reduced, uint64_t turn)
{
    uint64_t quarter = reduced.quarter + turn;
    double value = quarter & 1 ? numeric_cos_series(reduced.head, reduced.tail)
                               : numeric_sin_series(reduced.head, reduced.tail);
    return numeric_from_bits(numeric_bits(value) ^ ((quarter & 2) << 62));
}

/* Sine of an angle [rad], |x| up to 1e6. */
static inline double numeric_sin(double x)
{
    return numeric_circle(numeric_quarter(x), 0);
}

/* Cosine of an angle [rad], |x| up to 1e6. */
static inline double numeric_cos(double x)
{
    return numeric_circle(numeric_quarter(x), 1);
}

/* Arc tangent of small/large in 0 .. 1 as atan(c) + atan((small - c large)/(large + c small)), c the nearest
 * quarter of 1; `head` + `tail`. */
static inline void numeric_atan_unit(double small, double large, double *head, double *tail)
{
    double c = ((4.0 * (small / large) + NUMERIC_ROUND) - NUMERIC_ROUND) * 0.25;
    double u = (small - c * large) / (large + c * small), z = u * u;
    double p = -1.0 / 19.0;
    p = p * z + 1.0 / 17.0;
    p = p * z - 1.0 / 15.0;
    p = p * z + 1.0 / 13.0;
    p = p * z - 1.0 / 11.0;
    p = p * z + 1.0 / 9.0;
    p = p * z - 1.0 / 7.0;
    p = p * z + 1.0 / 5.0;
    p = p * z - 1.0 / 3.0;
    double base = c < 0.125   ? 0.0
                  : c < 0.375 ? 0x1.f5b75f92c80ddp-3
                  : c < 0.625 ? 0x1.dac670561bb4fp-2
                  : c < 0.875 ? 0x1.4978fa3269ee1p-1
                              : 0x1.921fb54442d18p-1;
    *head = base;
    *tail = u + u * z * p;
}

/* Angle of the point (x, y) [rad], -pi .. pi, with the signs of C's atan2, zeros and infinities included. */
static inline double numeric_atan2(double y, double x)
{
    double up = numeric_absolute(y), across = numeric_absolute(x);
    int steep = up > across, left = numeric_bits(x) >> 63 != 0;
    double large = steep ? up : across, small = steep ? across : up;
    double infinity = numeric_from_bits(UINT64_C(0x7ff0000000000000));
    double ends = small == large ? 1.0 : 0.0;
    double scale = large > 0x1p1000 ? 0x1p-100 : large < 0x1p-900 ? 0x1p100 : 1.0;
    double short_leg = large == infinity ? ends : small * scale;
    double long_leg = (large == infinity || large == 0.0) ? 1.0 : large * scale;
    double head, tail;
    numeric_atan_unit(short_leg, long_leg, &head, &tail);
    /* the angle is `turn` +- (head + tail); parts of turn below a double matter to the last place */
    double turn = steep ? 0x1.921fb54442d18p+0 : left ? 0x1.921fb54442d18p+1 : 0.0;
    double rest = steep ? 0x1.1a62633145c07p-54 : left ? 0x1.1a62633145c07p-53 : 0.0;
    int minus = steep ? !left : left;
    double angle = minus ? (turn - head) + (rest - tail) : (turn + head) + (rest + tail);
    return numeric_from_bits(numeric_bits(angle) | (numeric_bits(y) & (UINT64_C(1) << 63)));
}

#endif
