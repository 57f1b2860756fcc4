#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "solver/base/memory.h"
#include "solver/impact/headform.h"

static const double pi = 3.14159265358979323846;

/* Perimeter of an ellipse: trapezoid over 400 points of the speed on x = a cos t, y = b sin t, which
 * converges faster than any power for a periodic smooth function. */
static double perimeter(double a, double b)
{
    double sum = 0;
    for (int i = 0; i < 400; i++)
        sum += hypot(a * sin(2 * pi * i / 400), b * cos(2 * pi * i / 400)) * 2 * pi / 400;
    return sum;
}

/* Masses of EN 960 sizes, copied from the data file's own sources (JIS T 8134:2018 and others, see there). */
Test(headform, lookup)
{
    struct headform_table table;
    struct errors errors = {0};
    cr_assert_eq(headform_table_load(&table, &errors), STATUS_OK, "%s", errors.kept[0].text);
    static const struct {
        const char *set, *size;
        double mass;
    } expected[] = {{"en-960", "A", 3.1},     {"en-960", "C", 3.6},     {"en-960", "E", 4.1},
                    {"en-960", "J", 4.7},     {"en-960", "M", 5.6},     {"en-960", "O", 6.1},
                    {"en-960-5kg", "J", 5.0}, {"en-960-5kg", "A", 5.0}, {"fmvss-218", "M", 5.0},
                    {"fmvss-218", "S", 3.5},  {"fmvss-218", "L", 6.1},  {"hybrid-iii", "50th", 4.54}};
    for (size_t i = 0; i < sizeof expected / sizeof *expected; i++) {
        const struct headform *headform = headform_find(&table, expected[i].set, expected[i].size);
        cr_assert_not_null(headform, "%s %s", expected[i].set, expected[i].size);
        cr_expect_float_eq(headform->mass, expected[i].mass, 1e-12);
    }
    const struct headform *j = headform_find(&table, "en-960", "J");
    cr_expect_float_eq(j->circumference, 0.570, 1e-15);
    cr_expect_float_eq(j->mass_range[1], 4.84, 1e-15);
    cr_expect_float_eq(j->half_axes[2], sqrt(0.1010 * 0.0798), 1e-15);
    cr_expect_str_eq(j->provenance, "published-seen");
    cr_expect(isnan(j->inertia[0]));
    cr_expect(isnan(headform_find(&table, "fmvss-218", "M")->half_axes[2]));
    cr_expect_float_eq(headform_find(&table, "hybrid-iii", "50th")->inertia[1], 0.024, 1e-15);
    cr_expect_null(headform_find(&table, "en-960", "j"));
    cr_expect_null(headform_find(&table, "EN960", "J"));
    headform_table_free(&table);
    headform_table_free(&table);
}

Test(headform, every_row_is_complete)
{
    struct headform_table table;
    cr_assert_eq(headform_table_load(&table, NULL), STATUS_OK);
    for (size_t i = 0; i < table.count; i++) {
        const struct headform *row = &table.rows[i];
        cr_expect(row->source[0], "%s %s: mass without source", row->set, row->size);
        cr_expect_eq(headform_find(&table, row->set, row->size), row, "%s %s twice", row->set, row->size);
        cr_expect_eq(isnan(row->half_axes[0]), !row->provenance_shape[0]);
        cr_expect_eq(isnan(row->half_axes[0]), !row->source_shape[0]);
        cr_expect_eq(isnan(row->inertia[0]), !row->provenance_inertia[0]);
        cr_expect_eq(isnan(row->inertia[0]), !row->source_inertia[0]);
        if (!isnan(row->mass_range[0]))
            cr_expect(row->mass_range[0] <= row->mass && row->mass <= row->mass_range[1]);
        if (isnan(row->half_axes[0]))
            continue;
        /* the tabled half axes are rounded to 0.1 mm: the perimeter to 2 pi x 0.05 mm */
        double half_axes[3], around = perimeter(row->half_axes[0], row->half_axes[1]);
        cr_expect_float_eq(around, row->circumference, 3.2e-4, "%s %s: %g", row->set, row->size, around);
        headform_ellipse(row->circumference, half_axes);
        cr_expect_float_eq(half_axes[0], row->half_axes[0], 6e-5);
        cr_expect_float_eq(half_axes[1], row->half_axes[1], 6e-5);
        const struct headform *same = headform_find(&table, "en-960", row->size);
        cr_expect_eq(same->half_axes[0], row->half_axes[0], "5 kg set has the shape of EN 960");
    }
    headform_table_free(&table);
}

Test(headform, ellipse_has_its_circumference)
{
    double half_axes[3];
    headform_ellipse(0.57, half_axes);
    cr_expect_float_eq(perimeter(half_axes[0], half_axes[1]), 0.57, 1e-12);
    cr_expect_float_eq(half_axes[1] / half_axes[0], 0.79, 1e-15);
    cr_expect_float_eq(half_axes[2] * half_axes[2], half_axes[0] * half_axes[1], 1e-16);
}

Test(headform, names)
{
    struct headform_table table;
    const char *names[16];
    cr_assert_eq(headform_table_load(&table, NULL), STATUS_OK);
    cr_assert_eq(headform_names(&table, NULL, names, 16), 5);
    cr_expect_str_eq(names[0], "en-960");
    cr_expect_str_eq(names[1], "en-960-5kg");
    names[2] = NULL;
    cr_assert_eq(headform_names(&table, "fmvss-218", names, 2), 3);
    cr_expect_null(names[2], "no more than there is room for");
    cr_expect_str_eq(names[1], "M");
    cr_expect_eq(headform_names(&table, "none", names, 16), 0);
    headform_table_free(&table);
}

Test(headform, bad_files)
{
    static const char header[] = "set,size,mass_kg,mass_min_kg,mass_max_kg,circumference_mm,half_length_mm,"
                                 "half_breadth_mm,ixx_kgm2,iyy_kgm2,izz_kgm2,provenance,provenance_shape,"
                                 "provenance_inertia,source,source_shape,source_inertia,note\n";
    static const char *const rows[] = {"x,A,-1,,,,,,,,,memory-low,,,s,,,\n",
                                       "x,A,,,,,,,,,,memory-low,,,s,,,\n", "x,,1,,,,,,,,,memory-low,,,s,,,\n",
                                       "x,A,1,,,,,,,,,,,,s,,,\n", "x,A,heavy,,,,,,,,,memory-low,,,s,,,\n"};
    struct headform_table table;
    for (size_t i = 0; i <= sizeof rows / sizeof *rows; i++) {
        struct errors errors = {0};
        char path[] = "/tmp/headformXXXXXX";
        int file = mkstemp(path);
        FILE *stream = fdopen(file, "w");
        if (i < sizeof rows / sizeof *rows)
            fprintf(stream, "%s%s", header, rows[i]);
        else
            fprintf(stream, "set,size\nx,A\n");
        fclose(stream);
        cr_expect_eq(headform_table_read(path, &table, &errors), STATUS_INPUT, "row %zu", i);
        cr_expect_eq(errors.count, 1);
        cr_expect_eq(table.count, 0);
        cr_expect_null(table.rows);
        unlink(path);
    }
    cr_expect_eq(headform_table_read("/nowhere/headforms.csv", &table, NULL), STATUS_FILE);
}

Test(headform, memory_failures)
{
    size_t failures = memory_failures();
    for (size_t n = 0;; n++) {
        struct headform_table table;
        memory_fail_after(n);
        enum status status = headform_table_load(&table, NULL);
        memory_fail_after((size_t)-1);
        if (memory_failures() == failures) {
            headform_table_free(&table);
            break;
        }
        failures = memory_failures();
        cr_expect_eq(status, STATUS_MEMORY, "allocation %zu", n);
        cr_expect_null(table.rows);
    }
}
