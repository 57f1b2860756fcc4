#ifndef FOAMPULSE_BASE_UNITS_H
#define FOAMPULSE_BASE_UNITS_H

#include <stddef.h>

/*
 * Physical values with units, as users write them ("35 mm", "45 g/l", "-20 degC"), to SI and back.
 * Temperatures are kept in degC inside the program; everything else is SI (kg, m, s, N, Pa, rad).
 */

enum quantity {
    QUANTITY_NUMBER,   /* no unit allowed */
    QUANTITY_FRACTION, /* bare number or % */
    QUANTITY_LENGTH,
    QUANTITY_AREA,
    QUANTITY_MASS,
    QUANTITY_DENSITY,
    QUANTITY_STRESS,
    QUANTITY_FORCE,
    QUANTITY_SPEED,
    QUANTITY_TIME,
    QUANTITY_ANGLE,
    QUANTITY_TEMPERATURE,
    QUANTITY_INERTIA,
    QUANTITY_RATE, /* 1/s */
    QUANTITY_ENERGY,
    QUANTITY_ACCELERATION,
    QUANTITY_ROTATION_SPEED,
    QUANTITY_ROTATION_ACCELERATION,
    QUANTITY_IMPULSE,
    QUANTITY_ENERGY_PER_AREA,
    QUANTITY_COUNT
};

enum { UNITS_MESSAGE = 384 };

/* Reads "value unit" into SI. 1 on success; 0 with a sentence in `message` that says what is wrong, what is
 * allowed and the nearest known unit. Accepts "35mm", "kg/m3" with a superscript three, the degree sign,
 * no-break spaces and the typographic minus. Refuses decimal commas, inf, nan, hexadecimal, digit separators,
 * and bare numbers where a unit is needed. */
int units_read(enum quantity quantity, const char *text, double *value, char message[UNITS_MESSAGE]);

/* Reads a bare finite decimal number by the same rules. */
int units_number(const char *text, double *value, char message[UNITS_MESSAGE]);

enum { UNITS_NAME = 24 };

/* Parts a value into its number and its unit, "" for none, in plain spelling; whether the unit is known and
 * fits, the place of the value will tell. 1 on success; 0 with a sentence in `message`. */
int units_split(const char *text, double *value, char unit[UNITS_NAME], char message[UNITS_MESSAGE]);

/* Puts a number and a unit together as a case says it, ten digits: "47.5 kg/m3". */
void units_join(double value, const char *unit, char *text, size_t size);

/* A difference of two values in the unit `from`, in the unit `to`: 9 K are 9 degC apart. 1 when both measure
 * the same; 0, and NaN, when they do not. */
int units_convert_difference(double difference, const char *from, const char *to, double *converted);

/* Tells speed, length (drop height) and energy apart by the unit of a text; QUANTITY_COUNT when none fits. */
enum quantity units_kind(const char *text, const enum quantity *among, size_t count);

/* "mm, cm, m, um, in": the units of a quantity, static; "a bare number or %" for a fraction. */
const char *units_allowed(enum quantity quantity);

/* "length", "density", ...; static. */
const char *units_quantity_name(enum quantity quantity);

/* SI value in the unit that reports use (mm, kg/m3, MPa, m/s, degC, g for acceleration ...), six digits:
 * writes "35 mm" into `text`; "-" for NaN and infinity. */
void units_write(enum quantity quantity, double value, char *text, size_t size);

/* Nearest of `names` to `word` by edit distance, swapped neighbours one edit, a changed case half of one;
 * NULL when none is within one edit for every three letters. */
const char *units_nearest(const char *word, const char *const *names, size_t count);

#endif
