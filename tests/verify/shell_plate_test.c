/*
 * Circular plates by the shell: deflection under pressure, frequencies. a radius, t thickness, D = E t^3 /
 * (12 (1 - nu^2)).
 */
#include <gsl/gsl_sf_bessel.h>

#include "tests/verify/shell_static.h"

static const struct shell_sheet plate_sheet = {
    .density = 1050, .youngs_modulus = 2.2e9, .poisson = 0.3, .yield_stress = INFINITY};
static const double plate_radius = 0.1, plate_thickness = 3e-3;

static double plate_rigidity(struct shell_sheet sheet)
{
    return sheet.youngs_modulus * pow(plate_thickness, 3) / (12 * (1 - sheet.poisson * sheet.poisson));
}

/* Deflection [m] at the middle under 10 Pa. */
static double plate_deflection(size_t segments, enum shell_end edge)
{
    struct body *plate = body_plate(segments, plate_radius, plate_thickness, plate_sheet, edge);
    plate->held_z[segments] = 1;
    for (size_t i = 0; i <= segments; i++)
        plate->load_z[i] = 10.0 * plate->model.mass[i] / (plate_sheet.density * plate_thickness);
    body_balance(plate, 1e-13);
    double deflection = plate->z[0];
    body_free(plate);
    return deflection;
}

/*
 * D (1/r d/dr r d/dr)^2 w = q, w = q (a^2 - r^2)^2 / (64 D) clamped; simply supported, with M_r(a) = 0, the
 * factor (5 + nu)/(1 + nu) on the middle. The plate is so little bent (w/t = 0.001 and 0.004) that it is
 * linear to 1e-5.
 */
Test(shell_plate, bends_under_pressure)
{
    double clamped = 10 * pow(plate_radius, 4) / (64 * plate_rigidity(plate_sheet));
    const struct {
        enum shell_end edge;
        double exact, table;
    } cases[] = {{SHELL_CLAMPED, clamped, 2.87247e-6}, {SHELL_FREE, clamped * 5.3 / 1.3, 11.71086e-6}};
    for (int c = 0; c < 2; c++) {
        double error[3];
        cr_assert_float_eq(cases[c].exact, cases[c].table, 1e-5 * cases[c].table);
        for (int k = 0; k < 3; k++)
            error[k] = plate_deflection((size_t)8 << k, cases[c].edge) / cases[c].exact - 1;
        double order = order_observed(error);
        printf("figure: plate, %s: %+.4f %% at 32 segments, order %.3f\n", c ? "simply supported" : "clamped",
               100 * error[2], order);
        cr_assert_float_eq(order, 2.0, 0.2, "order %g", order);
        cr_assert_lt(fabs(error[2]), 0.005);
    }
}

/* Bessel determinants of w = J0(l r/a) + C I0(l r/a), whose roots l are the frequencies: w = w' = 0 clamped;
 * w = M_r = 0 simply supported; M_r = V_r = 0 free (V = d/dr of the Laplacian when n = 0). */
static double determinant(double l, int edge, double nu)
{
    double j0 = gsl_sf_bessel_J0(l), j1 = gsl_sf_bessel_J1(l), i0 = gsl_sf_bessel_I0(l),
           i1 = gsl_sf_bessel_I1(l);
    double moment_j = -l * l * j0 + (1 - nu) * l * j1, moment_i = l * l * i0 - (1 - nu) * l * i1;
    if (edge == 0)
        return j0 * i1 + i0 * j1;
    if (edge == 1)
        return j0 * moment_i - i0 * moment_j;
    return moment_j * i1 - moment_i * j1;
}

/* Root number `number` (from 0) of the determinant, squared: lambda^2 = w a^2 sqrt(rho t/D). */
static double exact_frequency(int edge, double nu, int number)
{
    double step = 0.01, low = 1.0;
    for (;; low += step) {
        if (determinant(low, edge, nu) * determinant(low + step, edge, nu) < 0 && number-- == 0)
            break;
    }
    double high = low + step;
    for (int k = 0; k < 60; k++) {
        double middle = 0.5 * (low + high);
        if (determinant(low, edge, nu) * determinant(middle, edge, nu) <= 0)
            high = middle;
        else
            low = middle;
    }
    return low * low;
}

/* lambda^2 of bending mode `number`: in a flat plate stretching (z still) and bending (r still) part, so r is
 * held. */
static void plate_frequencies(size_t segments, int edge, double nu, double values[4])
{
    struct shell_sheet sheet = plate_sheet;
    sheet.poisson = nu;
    struct body *plate =
        body_plate(segments, plate_radius, plate_thickness, sheet, edge ? SHELL_FREE : SHELL_CLAMPED);
    for (size_t i = 0; i <= segments; i++)
        plate->held_r[i] = 1;
    plate->held_z[segments] = edge != 2;
    double *squares = calloc(2 * BODY_NODES, sizeof *squares);
    body_frequencies(plate, squares);
    for (int k = 0; k < 4; k++)
        values[k] = sqrt(squares[k + (edge == 2)] * sheet.density * plate_thickness / plate_rigidity(sheet)) *
                    plate_radius * plate_radius;
    free(squares);
    body_free(plate);
}

Test(shell_plate, vibrates)
{
    static const struct {
        const char *name;
        double nu;
        int count;
        double table[4];
    } edges[] = {{"clamped", 0.3, 4, {10.2158, 39.7711, 89.1041, 158.184}},
                 {"simply supported", 0.3, 3, {4.93515, 29.7200, 74.1561}},
                 {"free", 0.33, 2, {9.0689, 38.507}}};
    for (int edge = 0; edge < 3; edge++) {
        double values[3][4];
        for (int k = 0; k < 3; k++)
            plate_frequencies((size_t)24 << k, edge, edges[edge].nu, values[k]);
        for (int mode = 0; mode < edges[edge].count; mode++) {
            double exact = exact_frequency(edge, edges[edge].nu, mode), error[3];
            cr_assert_float_eq(exact, edges[edge].table[mode], 3e-5 * exact);
            for (int k = 0; k < 3; k++)
                error[k] = values[k][mode] / exact - 1;
            double order = order_observed(error);
            printf("figure: plate, %s, mode %d: %+.3f %% at 48 segments, order %.3f\n", edges[edge].name,
                   mode + 1, 100 * error[1], order);
            cr_assert_lt(fabs(error[1]), 0.01);
            cr_assert_float_eq(order, 2.0, 0.2, "order %g", order);
        }
    }
}
