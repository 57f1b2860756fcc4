#ifndef FOAMPULSE_STUDY_SOBOL_TABLE_H
#define FOAMPULSE_STUDY_SOBOL_TABLE_H

#include <stdint.h>

/*
 * What the factors of a Sobol sequence start from: a primitive polynomial over the integers modulo 2 and the
 * first odd numbers of its recurrence, chosen so that pairs of factors are spread well.
 *
 * The first rows of the table known as new-joe-kuo-6.21201: Joe and Kuo, "Constructing Sobol sequences with
 * better two-dimensional projections", SIAM Journal on Scientific Computing 30 (2008) 2635-2654.
 */

enum { SOBOL_BITS = 32, SOBOL_START = 11, SOBOL_ROWS = 256 };

/* x^degree + a_1 x^(degree - 1) + ... + a_(degree - 1) x + 1 with the number a_1 a_2 ... in binary digits as
 * `polynomial`; `start` holds m_1 .. m_degree, the rest is 0. The first row, degree 0, has all m_k = 1. */
struct sobol_row {
    unsigned char degree;
    uint16_t polynomial;
    uint16_t start[SOBOL_START];
};

extern const struct sobol_row sobol_table[SOBOL_ROWS];

#endif
