#include "solver/impact/liner.h"

#include <criterion/criterion.h>
#include <math.h>

#include "tests/support/foams.h"

/* The kernel's bounds over the cells of a stack: what the models stop a run by. */

enum { CELLS = 21 }; /* two blocks of eight lanes and a rest */

struct column {
    struct foam foam;
    struct liner_group group;
    struct liner_state state;
};

static void column_make(struct column *column)
{
    struct foam_parameters parameters = foams_plain(50, 0.4e6, 101325, 20e6);
    struct liner_rows rows;
    column->foam = foams_make(&parameters);
    struct liner_layer layer = {0.021, 1, {{&column->foam, 1}}};
    liner_cut(&layer, 1, 1e-3, 1, &rows);
    cr_assert_eq(rows.rows, CELLS);
    cr_assert(liner_group_make(&column->group, 1, &rows));
    liner_group_column(&column->group, 0, 1e-2, 0, &layer, 1, &rows);
    cr_assert(liner_state_make(&column->group, &column->state));
}

static void column_free(struct column *column)
{
    liner_state_free(&column->state);
    liner_group_free(&column->group);
    foam_free(&column->foam);
}

static struct liner_bounds bounds_of(double *broken, struct column *column)
{
    *broken = NAN;
    struct liner_bounds bounds = liner_update(&column->group, &column->state, 1e-6);
    column_free(column);
    return bounds;
}

/* A NaN in any one cell is in its bound, whatever cells follow it: the models end a run whose bounds do not
 * compare. */
Test(liner, a_nan_in_any_cell_reaches_the_bounds)
{
    for (enum isa isa = ISA_BASE; isa < ISA_COUNT; isa++) {
        if (isa_force(isa) != isa)
            continue;
        for (size_t cell = 0; cell < CELLS; cell++) {
            struct column column;
            column_make(&column);
            double strain = bounds_of(&column.group.inverse_length[cell], &column).largest_strain;
            cr_expect(isnan(strain), "%s, cell %zu: strain %g", isa_name(isa), cell, strain);
            column_make(&column);
            double frequency = bounds_of(&column.group.inertia[cell], &column).frequency;
            cr_expect(isnan(frequency), "%s, cell %zu: frequency %g", isa_name(isa), cell, frequency);
        }
    }
}

/* The bounds are those of the one cell that differs, wherever it lies. */
Test(liner, the_bounds_are_the_largest_of_all_cells)
{
    for (size_t cell = 0; cell < CELLS; cell++) {
        struct column column;
        column_make(&column);
        for (size_t node = cell + 1; node <= CELLS; node++)
            column.state.position[node] += 1e-5; /* this cell shorter by 1 % */
        column.group.inertia[cell] *= 0.25;
        struct liner_bounds bounds = liner_update(&column.group, &column.state, 1);
        cr_expect_float_eq(bounds.largest_strain, 0.01, 1e-9, "cell %zu: %g", cell, bounds.largest_strain);
        double wave = sqrt(column.state.zones[0].tangent[cell] / column.group.inertia[cell]);
        cr_expect_float_eq(bounds.frequency / wave, 1, 1e-9, "cell %zu: %g", cell, bounds.frequency);
        column_free(&column);
    }
}
