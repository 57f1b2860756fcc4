#include <criterion/criterion.h>
#include <float.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/units.h"

static void read_as(enum quantity quantity, const char *text, double wanted)
{
    char message[UNITS_MESSAGE];
    double value;
    int read = units_read(quantity, text, &value, message);
    cr_assert(read, "\"%s\" is refused: %s", text, message);
    cr_assert(fabs(value - wanted) <= 4 * DBL_EPSILON * fabs(wanted), "\"%s\" gives %.17g, wanted %.17g",
              text, value, wanted);
}

static void refused_with(enum quantity quantity, const char *text, const char *part)
{
    char message[UNITS_MESSAGE];
    double value = 7;
    cr_assert_not(units_read(quantity, text, &value, message), "\"%s\" is read as %g", text, value);
    cr_assert(strstr(message, part), "\"%s\": message \"%s\" lacks \"%s\"", text, message, part);
    cr_assert_eq(value, 0);
}

/*
 * Every unit of the table against its definition, written out here from the defining standards: SI prefixes
 * (SI brochure), litre = dm3; yard and pound agreement of 1959: in = 0.0254 m, ft = 12 in, lb = 0.45359237
 * kg; free fall 9.80665 m/s2 (3rd CGPM, 1901); psi = lbf / in^2; K = degC + 273.15; degF = 1.8 degC + 32.
 */
Test(units, definitions)
{
    const double g0 = 9.80665, inch = 0.0254, foot = 12 * 0.0254, pound = 0.45359237, pi = acos(-1);
    read_as(QUANTITY_LENGTH, "1 um", 1e-6);
    read_as(QUANTITY_LENGTH, "1 mm", 1e-3);
    read_as(QUANTITY_LENGTH, "1 cm", 1e-2);
    read_as(QUANTITY_LENGTH, "1 m", 1);
    read_as(QUANTITY_LENGTH, "1 in", inch);
    read_as(QUANTITY_AREA, "1 mm2", 1e-6);
    read_as(QUANTITY_AREA, "1 cm2", 1e-4);
    read_as(QUANTITY_AREA, "1 m2", 1);
    read_as(QUANTITY_MASS, "1 g", 1e-3);
    read_as(QUANTITY_MASS, "1 kg", 1);
    read_as(QUANTITY_DENSITY, "1 kg/m3", 1);
    read_as(QUANTITY_DENSITY, "1 g/l", 1e-3 / 1e-3);
    read_as(QUANTITY_DENSITY, "1 g/cm3", 1e-3 / 1e-6);
    read_as(QUANTITY_DENSITY, "1 lb/ft3", pound / (foot * foot * foot));
    read_as(QUANTITY_STRESS, "1 Pa", 1);
    read_as(QUANTITY_STRESS, "1 kPa", 1e3);
    read_as(QUANTITY_STRESS, "1 MPa", 1e6);
    read_as(QUANTITY_STRESS, "1 GPa", 1e9);
    read_as(QUANTITY_STRESS, "1 N/mm2", 1 / 1e-6);
    read_as(QUANTITY_STRESS, "1 psi", pound * g0 / (inch * inch));
    read_as(QUANTITY_FORCE, "1 N", 1);
    read_as(QUANTITY_FORCE, "1 kN", 1e3);
    read_as(QUANTITY_SPEED, "1 mm/s", 1e-3);
    read_as(QUANTITY_SPEED, "1 m/s", 1);
    read_as(QUANTITY_SPEED, "1 km/h", 1000.0 / 3600.0);
    read_as(QUANTITY_SPEED, "1 ft/s", foot);
    read_as(QUANTITY_TIME, "1 us", 1e-6);
    read_as(QUANTITY_TIME, "1 ms", 1e-3);
    read_as(QUANTITY_TIME, "1 s", 1);
    read_as(QUANTITY_ANGLE, "180 deg", pi);
    read_as(QUANTITY_ANGLE, "1 rad", 1);
    read_as(QUANTITY_TEMPERATURE, "-20 degC", -20);
    read_as(QUANTITY_TEMPERATURE, "-20 C", -20);
    read_as(QUANTITY_TEMPERATURE, "300 K", 300 - 273.15);
    read_as(QUANTITY_TEMPERATURE, "-4 degF", -20);
    read_as(QUANTITY_TEMPERATURE, "212 degF", 100);
    read_as(QUANTITY_INERTIA, "1 g cm2", 1e-3 * 1e-4);
    read_as(QUANTITY_INERTIA, "1 kg cm2", 1e-4);
    read_as(QUANTITY_INERTIA, "0.020 kg m2", 0.020);
    read_as(QUANTITY_RATE, "10 1/s", 10);
    read_as(QUANTITY_ENERGY, "100 J", 100);
    read_as(QUANTITY_ACCELERATION, "275 g", 275 * g0);
    read_as(QUANTITY_ACCELERATION, "1 m/s2", 1);
    read_as(QUANTITY_ROTATION_SPEED, "30 rad/s", 30);
    read_as(QUANTITY_ROTATION_ACCELERATION, "1e4 rad/s2", 1e4);
    read_as(QUANTITY_IMPULSE, "2.5 N s", 2.5);
    read_as(QUANTITY_ENERGY_PER_AREA, "1 J/m2", 1);
    read_as(QUANTITY_ENERGY_PER_AREA, "1 kJ/m2", 1e3);
    read_as(QUANTITY_FRACTION, "10 %", 0.1);
    read_as(QUANTITY_FRACTION, "0.1", 0.1);
    read_as(QUANTITY_NUMBER, "48", 48);
}

/* "35 mm" is the double nearest to 0.035, not a rounded product. */
Test(units, decimals_are_exact)
{
    char message[UNITS_MESSAGE], text[32];
    double value;
    for (int i = -2000; i <= 2000; i++) {
        snprintf(text, sizeof text, "%d mm", i);
        cr_assert(units_read(QUANTITY_LENGTH, text, &value, message));
        cr_assert_eq(value, i / 1000.0);
        snprintf(text, sizeof text, "%d.5 %%", i);
        cr_assert(units_read(QUANTITY_FRACTION, text, &value, message));
        cr_assert_eq(value, (i < 0 ? i - 0.5 : i + 0.5) / 100.0);
    }
}

Test(units, spellings)
{
    read_as(QUANTITY_LENGTH, "35mm", 0.035);
    read_as(QUANTITY_LENGTH, "  35\t mm ", 0.035);
    read_as(QUANTITY_LENGTH, "35\xc2\xa0mm", 0.035);
    read_as(QUANTITY_LENGTH, "35\xe2\x80\xafmm", 0.035);
    read_as(QUANTITY_LENGTH,
            "\xe2\x88\x92"
            "35 mm",
            -0.035);
    read_as(QUANTITY_LENGTH, "+35 mm", 0.035);
    read_as(QUANTITY_LENGTH, "12 \xc2\xb5m", 12e-6);
    read_as(QUANTITY_LENGTH, "12 \xce\xbcm", 12e-6);
    read_as(QUANTITY_DENSITY, "45 kg/m\xc2\xb3", 45);
    read_as(QUANTITY_DENSITY, "45 kg/m^3", 45);
    read_as(QUANTITY_DENSITY, "45 kg / m3", 45);
    read_as(QUANTITY_AREA, "60 cm\xc2\xb2", 60e-4);
    read_as(QUANTITY_TEMPERATURE,
            "\xe2\x88\x92"
            "20 \xc2\xb0"
            "C",
            -20);
    read_as(QUANTITY_TEMPERATURE, "-20\xc2\xb0 C", -20);
    read_as(QUANTITY_TEMPERATURE, "-20 \xe2\x84\x83", -20);
    read_as(QUANTITY_ANGLE, "90\xc2\xb0", acos(-1) / 2);
    read_as(QUANTITY_INERTIA, "2 kg\xc2\xb7m\xc2\xb2", 2);
    read_as(QUANTITY_INERTIA, "200 kg  cm2", 0.02);
    read_as(QUANTITY_NUMBER, "1e3", 1000);
    read_as(QUANTITY_NUMBER, ".5", 0.5);
    read_as(QUANTITY_NUMBER, "5.", 5);
    read_as(QUANTITY_NUMBER, "-1.5E-3", -1.5e-3);
    read_as(QUANTITY_SPEED, "1e3mm/s", 1);
}

Test(units, numbers_refused)
{
    refused_with(QUANTITY_DENSITY, "45,5 kg/m3", "write 45.5 kg/m3");
    refused_with(QUANTITY_LENGTH, "-0,125 m", "write -0.125 m");
    refused_with(QUANTITY_LENGTH, "1,000 mm", "write 1.000 mm, or 1000 mm if thousands are meant");
    refused_with(QUANTITY_NUMBER, "1_000", "write 1000");
    refused_with(QUANTITY_LENGTH, "1 000 mm", "write 1000 mm");
    refused_with(QUANTITY_LENGTH, "12'000 mm", "write 12000 mm");
    refused_with(QUANTITY_NUMBER, "0x10", "write 16");
    refused_with(QUANTITY_NUMBER, "inf", "inf is not a finite number");
    refused_with(QUANTITY_NUMBER, "-.Inf", "not a finite number");
    refused_with(QUANTITY_NUMBER, "nan", "nan is not a finite number");
    refused_with(QUANTITY_NUMBER, ".nan", "not a finite number");
    refused_with(QUANTITY_NUMBER, "1e999", "1e999 is too large");
    refused_with(QUANTITY_NUMBER, "1e-999", "1e-999 is too small");
    refused_with(QUANTITY_STRESS, "1e308 GPa", "too large");
    refused_with(QUANTITY_NUMBER, "abc", "\"abc\" does not start with a number");
    refused_with(QUANTITY_NUMBER, "-", "does not start with a number");
    refused_with(QUANTITY_NUMBER, ".", "does not start with a number");
    refused_with(QUANTITY_LENGTH, "", "nothing is given; a length is wanted: mm, cm, m, um, in");
    refused_with(QUANTITY_LENGTH, "35 mm,", "the comma after 35 mm is one too many");
}

Test(units, units_refused)
{
    refused_with(QUANTITY_LENGTH, "35", "35 has no unit; a length is wanted: mm, cm, m, um, in");
    refused_with(QUANTITY_LENGTH, "0", "0 has no unit");
    refused_with(QUANTITY_LENGTH, "35 kg", "kg is a mass; a length is wanted: mm, cm, m, um, in");
    refused_with(QUANTITY_LENGTH, "35 g", "g is a mass or an acceleration; a length is wanted");
    refused_with(QUANTITY_LENGTH, "35 %", "% is a fraction; a length is wanted");
    refused_with(QUANTITY_LENGTH, "35 mmm", "unknown unit \"mmm\", did you mean mm?");
    refused_with(QUANTITY_STRESS, "3 mpa", "did you mean MPa?");
    refused_with(QUANTITY_DENSITY, "45 kg/m4", "did you mean kg/m3?");
    refused_with(QUANTITY_LENGTH, "3 furlongs", "unknown unit \"furlongs\"; a length is wanted");
    refused_with(QUANTITY_NUMBER, "48 mm",
                 "mm is a length; a number is wanted: a bare number without a unit");
    refused_with(QUANTITY_FRACTION, "4 J", "J is an energy; a fraction is wanted: a bare number or %");
    refused_with(QUANTITY_LENGTH, "5 \033[31m", "unknown unit \"?[31m\"");
}

/* The longest text a user can give never overruns, whatever it is made of. */
Test(units, long_text)
{
    char text[4096], message[UNITS_MESSAGE];
    double value;
    const char *kinds[] = {"9", "9 ", "1,", "_1", "m", "\xc2\xb0", "\xe2\x84\x83", " ", "/"};
    for (size_t k = 0; k < sizeof kinds / sizeof *kinds; k++) {
        for (size_t length = 1; length + strlen(kinds[k]) < 150; length++) {
            text[0] = '1';
            text[1] = '\0';
            while (strlen(text) < length)
                strcat(text, kinds[k]);
            for (int q = 0; q < QUANTITY_COUNT; q++)
                units_read((enum quantity)q, text, &value, message);
        }
    }
    memset(text, '7', 300);
    strcpy(text + 300, " mm");
    refused_with(QUANTITY_LENGTH, text, "too long for a value");
}

/* A decimal comma in the user's locale changes nothing. Debian's minimal systems have no such locale: then
 * the test says so and is skipped. */
Test(units, locale_is_not_used)
{
    const char *names[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "de_DE.utf8", "de_DE", "nl_NL.UTF-8"};
    const char *set = NULL;
    for (size_t i = 0; i < sizeof names / sizeof *names && !set; i++)
        set = setlocale(LC_ALL, names[i]);
    if (!set)
        cr_skip_test("no locale with a decimal comma is installed");
    read_as(QUANTITY_LENGTH, "1.5 m", 1.5);
    refused_with(QUANTITY_LENGTH, "1,5 m", "write 1.5 m");
    char text[32];
    units_write(QUANTITY_LENGTH, 0.0125, text, sizeof text);
    cr_assert_str_eq(text, "12.5 mm");
}

/* The list shown to users is the list that is read. */
Test(units, allowed_units_are_read)
{
    for (int q = QUANTITY_LENGTH; q < QUANTITY_COUNT; q++) {
        char list[96], text[64], message[UNITS_MESSAGE];
        double value;
        snprintf(list, sizeof list, "%s", units_allowed((enum quantity)q));
        for (char *name = strtok(list, ","); name; name = strtok(NULL, ",")) {
            snprintf(text, sizeof text, "2 %s", name);
            cr_assert(units_read((enum quantity)q, text, &value, message), "%s", message);
        }
        cr_assert_gt(strlen(units_quantity_name((enum quantity)q)), 0);
    }
    cr_assert_str_eq(units_quantity_name(QUANTITY_AREA), "area");
}

Test(units, kind)
{
    const enum quantity among[] = {QUANTITY_SPEED, QUANTITY_LENGTH, QUANTITY_ENERGY};
    cr_assert_eq(units_kind("7.5 m/s", among, 3), QUANTITY_SPEED);
    cr_assert_eq(units_kind("2.87m", among, 3), QUANTITY_LENGTH);
    cr_assert_eq(units_kind("120 J", among, 3), QUANTITY_ENERGY);
    cr_assert_eq(units_kind("120 kg", among, 3), QUANTITY_COUNT);
    cr_assert_eq(units_kind("120", among, 3), QUANTITY_COUNT);
    cr_assert_eq(units_kind("fast", among, 3), QUANTITY_COUNT);
}

/* Differences have no zero of their own: 9 degF are 5 K. 1 lb/ft3 = 0.45359237 kg/(0.3048 m)^3. */
Test(units, convert_difference)
{
    static const struct {
        const char *from, *to;
        double difference, converted;
    } rows[] = {
        {"kg/m3", "g/l", 9, 9},     {"g/cm3", "kg/m3", 0.009, 9}, {"lb/ft3", "kg/m3", 1, 16.018463373960138},
        {"degF", "degC", 9, 5},     {"K", "degC", 9, 9},          {"%", "", 20, 0.2},
        {"", "%", 0.2, 20},         {"g", "kg", 20, 0.02},        {"m/s2", "g", 9.80665, 1},
        {"km/h", "m/s", 0.36, 0.1},
    };
    double converted;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        cr_expect(units_convert_difference(rows[i].difference, rows[i].from, rows[i].to, &converted));
        cr_expect_float_eq(converted, rows[i].converted, 1e-14 * fabs(rows[i].converted), "%s to %s: %.17g",
                           rows[i].from, rows[i].to, converted);
    }
    cr_expect_not(units_convert_difference(1, "mm", "kg", &converted));
    cr_expect(isnan(converted));
    cr_expect_not(units_convert_difference(1, "%", "mm", &converted));
    cr_expect_not(units_convert_difference(1, "parsec", "mm", &converted));
}

Test(units, write)
{
    static const struct {
        enum quantity quantity;
        double value;
        char text[16];
    } rows[] = {
        {QUANTITY_LENGTH, 0.035, "35 mm"},
        {QUANTITY_DENSITY, 45, "45 kg/m3"},
        {QUANTITY_SPEED, 7.5, "7.5 m/s"},
        {QUANTITY_TEMPERATURE, -20, "-20 degC"},
        {QUANTITY_ACCELERATION, 2696.82875, "275 g"},
        {QUANTITY_FRACTION, 0.1, "10 %"},
        {QUANTITY_NUMBER, 48, "48"},
        {QUANTITY_STRESS, 0.25e6, "0.25 MPa"},
        {QUANTITY_LENGTH, -0.0, "0 mm"},
        {QUANTITY_LENGTH, NAN, "-"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[32];
        units_write(rows[i].quantity, rows[i].value, text, sizeof text);
        cr_assert_str_eq(text, rows[i].text);
    }
}

/* What is written reads back to six digits, for every quantity. */
Test(units, write_read)
{
    for (int q = 0; q < QUANTITY_COUNT; q++) {
        char text[32], message[UNITS_MESSAGE];
        double value, wanted = 12.3456;
        units_write((enum quantity)q, wanted, text, sizeof text);
        cr_assert(units_read((enum quantity)q, text, &value, message), "%s: %s", text, message);
        cr_assert_float_eq(value, wanted, 1e-5 * wanted, "%s gives %g", text, value);
    }
}

Test(units, nearest)
{
    const char *names[] = {"density", "thickness", "foam", "voids", "N", "m"};
    cr_assert_str_eq(units_nearest("desnity", names, 6), "density");
    cr_assert_str_eq(units_nearest("Thickness", names, 6), "thickness");
    cr_assert_str_eq(units_nearest("faom", names, 6), "foam");
    cr_assert_null(units_nearest("fome", names, 6));
    cr_assert_str_eq(units_nearest("foan", names, 6), "foam");
    cr_assert_null(units_nearest("x", names, 6));
    cr_assert_null(units_nearest("", names, 6));
    cr_assert_str_eq(units_nearest("n", names, 6), "N");
}
