#include "solver/impact/liner.h"

#include <criterion/criterion.h>
#include <math.h>

#include "solver/impact/columns.h"
#include "solver/impact/pad.h"
#include "tests/support/foams.h"

/* The kernels over the cells of a stack: the bounds that the models stop a run by, and the viscosity. */

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

/* Viscous stress of a cell of density rho and length l that is shortened at the strain rate r: rho l^2 r (C1
 * w + C2 r), w^2 = tangent/(rho l^2) (linear: Landshoff 1955; quadratic: von Neumann and Richtmyer 1950).
 * None where a cell is stretched. C1 and C2 are what pad.h and columns.h say, 0.06 and 1.2; the loss is the
 * trapezoid of the stress over the strain. */
Test(liner, viscosity_of_the_models)
{
    const struct pad_setup pad = pad_setup_default();
    const struct columns_setup columns = columns_setup_default();
    cr_expect_eq(columns.viscosity_linear, pad.viscosity_linear);
    cr_expect_eq(columns.viscosity_quadratic, pad.viscosity_quadratic);
    for (int stretched = 0; stretched < 2; stretched++) {
        struct column column;
        double change = stretched ? -1e-3 : 1e-3, dt = 1e-6, rate = change / dt;
        column_make(&column);
        column.group.viscosity_linear = pad.viscosity_linear;
        column.group.viscosity_quadratic = pad.viscosity_quadratic;
        for (size_t node = 1; node <= CELLS; node++)
            column.state.position[node] += change * 1e-3 * (double)node;
        liner_update(&column.group, &column.state, dt);
        double inertia = 50 * 1e-6, wave = sqrt(column.state.zones[0].tangent[CELLS / 2] / inertia);
        double wanted = stretched ? 0 : inertia * rate * (0.06 * wave + 1.2 * rate);
        for (size_t cell = 0; cell < CELLS; cell++) {
            cr_expect_float_eq(column.state.viscous[cell], wanted, 1e-9 * wanted, "cell %zu: %g, not %g",
                               cell, column.state.viscous[cell], wanted);
            cr_expect_float_eq(column.state.artificial[cell], 0.5 * wanted * change, 1e-9 * wanted * 1e-3);
        }
        column_free(&column);
    }
}

/* The model takes the viscosity of its set-up over. */
Test(liner, a_pad_is_made_with_its_viscosity)
{
    struct column column;
    column_make(&column);
    struct pad_setup setup = pad_setup_default();
    struct pad_model model;
    setup.area = 1e-2;
    setup.striker_mass = 5;
    setup.layer_count = 1;
    setup.layers[0] = (struct liner_layer){0.021, 1, {{&column.foam, 1}}};
    cr_assert_eq(pad_model_make(&setup, &model), STATUS_OK);
    cr_expect_eq(model.group.viscosity_linear, 0.06);
    cr_expect_eq(model.group.viscosity_quadratic, 1.2);
    pad_model_free(&model);
    column_free(&column);
}
