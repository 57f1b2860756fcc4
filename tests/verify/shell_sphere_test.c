/*
 * Spherical shells: breathing of a complete sphere, small loads on a patch, large deflection under a point
 * load and against a flat rigid plate.
 *
 * R radius, t thickness, D = E t^3/(12 (1 - nu^2)), ell = sqrt(R t)/(12 (1 - nu^2))^(1/4).
 */
#include <gsl/gsl_sf_bessel.h>

#include "solver/base/csv.h"
#include "tests/verify/shell_static.h"

static double sphere_length(const struct shell_sheet *sheet, double radius, double thickness)
{
    return sqrt(radius * thickness) / pow(12 * (1 - sheet->poisson * sheet->poisson), 0.25);
}

/* Frequency [Hz] of the mean radial motion over three periods, started from rest by a radial velocity. */
static double breathing(size_t segments)
{
    double radius = 0.13, pi = acos(-1.0), speed = 1e-3;
    struct body *sphere = body_cap(segments, radius, pi, 0.0, 3e-3, body_abs, SHELL_POLE);
    double step = 0.7 * shell_stable_step(&sphere->model, &sphere->state), before = 0.0, swing = 0.0;
    double velocity_r[BODY_NODES], velocity_z[BODY_NODES], period = 0.0;
    for (size_t i = 0; i < sphere->count; i++) {
        velocity_r[i] = speed * sphere->first_r[i] / radius;
        velocity_z[i] = speed * (sphere->first_z[i] + radius) / radius;
    }
    int crossings = 0;
    for (int n = 0; crossings < 6; n++) {
        body_forces(sphere);
        swing = 0.0;
        for (size_t i = 0; i < sphere->count; i++) {
            double inverse = 1.0 / sphere->model.mass[i], kick = n ? step : 0.5 * step;
            velocity_r[i] += sphere->held_r[i] ? 0.0 : sphere->force_r[i] * inverse * kick;
            velocity_z[i] += sphere->force_z[i] * inverse * kick;
            sphere->r[i] += velocity_r[i] * step;
            sphere->z[i] += velocity_z[i] * step;
            swing +=
                sphere->model.mass[i] * ((sphere->r[i] - sphere->first_r[i]) * sphere->first_r[i] +
                                         (sphere->z[i] - sphere->first_z[i]) * (sphere->first_z[i] + radius));
        }
        if (n > 0 && before * swing <= 0.0) {
            crossings++;
            period = (n + before / (before - swing)) * step / (0.5 * crossings);
        }
        before = swing;
    }
    body_free(sphere);
    return 1.0 / period;
}

/* Uniform strain e = w/R in both directions: energy E/(1 - nu) e^2 a volume, kinetic rho w'^2/2: omega^2 =
 * 2 E/(rho R^2 (1 - nu)), 3157.5 Hz. */
Test(shell_sphere, breathes)
{
    double exact = sqrt(2 * 2.2e9 / (1050 * (1 - 0.37))) / 0.13 / (2 * acos(-1.0)), error[3];
    cr_assert_float_eq(exact, 3157.5, 0.05);
    for (int k = 0; k < 3; k++)
        error[k] = breathing((size_t)32 << k) / exact - 1;
    double order = order_observed(error);
    printf("figure: sphere, breathing: %+.4f %% at 64 segments, order %.3f\n", 100 * error[1], order);
    cr_assert_lt(fabs(error[1]), 0.005);
    cr_assert_float_eq(order, 2.0, 0.2, "order %g", order);
}

/* Share of a load, uniform over a patch of radius `patch`, inside radius r. */
static double inside(double r, double patch)
{
    double ratio = r / patch;
    return ratio < 1 ? ratio * ratio : 1;
}

/* Puts a load [N], downwards and uniform over a patch about the pole, on the nodes. */
static void load_patch(struct body *cap, double load, double patch)
{
    for (size_t i = 0; i + 1 < cap->count; i++) {
        double low = i ? 0.5 * (cap->first_r[i - 1] + cap->first_r[i]) : 0.0;
        double high = 0.5 * (cap->first_r[i] + cap->first_r[i + 1]);
        cap->load_z[i] = -load * (inside(high, patch) - inside(low, patch));
    }
}

/* A cap out to 60 ell or the equator, clamped there, with segments of 1/fineness ell at the pole that grow
 * smoothly outwards. The membrane forces about a load decay as 1/r: a clamped edge at 14 ell would stiffen it
 * by 1 %. */
static struct body *cap_of_lengths(size_t fineness, double radius, double thickness, struct shell_sheet sheet)
{
    double ell = sphere_length(&sheet, radius, thickness), grading = 3.0;
    double reach = fmin(60.0, 0.5 * acos(-1.0) * radius / ell);
    size_t segments = (size_t)(reach * grading / sinh(grading) * (double)fineness);
    return body_cap(segments, radius, reach * ell / radius, grading, thickness, sheet, SHELL_CLAMPED);
}

static double point_stiffness(double radius, double thickness, struct shell_sheet sheet)
{
    return 4 * sheet.youngs_modulus * thickness * thickness /
           (radius * sqrt(3 * (1 - sheet.poisson * sheet.poisson)));
}

/* Stiffness under a patch of mu ell / that under a point, deflection about 0.001 t. */
static double patch_stiffness(double mu, size_t fineness, double radius, double thickness)
{
    struct body *cap = cap_of_lengths(fineness, radius, thickness, body_abs);
    double point = point_stiffness(radius, thickness, body_abs), load = 1e-3 * thickness * point;
    load_patch(cap, load, mu * sphere_length(&body_abs, radius, thickness));
    body_balance(cap, 1e-8 * thickness);
    double stiffness = load / -cap->z[0];
    body_free(cap);
    return stiffness / point;
}

/*
 * Shallow shell under a uniform pressure p on r < c (Reissner 1946): D lap^2 w + lap F/R = p, lap^2 F = E t
 * lap w/R. With x = r/ell, ell^4 = D R^2/(E t), Hankel transform, P the total load and mu = c/ell: w(0) = P
 * ell^2/(pi mu D) int_0^inf J1(mu k)/(1 + k^4) dk, and with mu -> 0: P ell^2/(2 pi D) int k/(1 + k^4) dk = P
 * ell^2/(8 D), the point load: 8 sqrt(D E t)/R. Largest thinness here t/R = 1/1000, and 1/32 (ABS 4 mm, R 130
 * mm) for the size of a helmet.
 */
static double patch_exact(double mu)
{
    double sum = 0.0, step = 1e-3;
    for (int n = 0; n < 200000; n++) {
        double k = (n + 0.5) * step;
        sum += gsl_sf_bessel_J1(mu * k) / (1 + k * k * k * k) * step;
    }
    return acos(-1.0) * mu / (8 * sum);
}

Test(shell_sphere, small_loads)
{
    static const double mu[] = {0.1, 0.5, 1.0}, table[] = {1.0059, 1.0896, 1.2859};
    for (int c = 0; c < 3; c++) {
        double exact = patch_exact(mu[c]), value[4];
        cr_assert_float_eq(exact, table[c], 1e-4, "%g", exact);
        for (int k = 0; k < 4; k++)
            value[k] = patch_stiffness(mu[c], (size_t)10 << k, 0.1, 1e-4);
        double order = log2((value[2] - value[1]) / (value[3] - value[2]));
        printf("figure: sphere, patch %.1f ell: %+.3f %% at ell/10, %+.3f %% at ell/80, order %.3f\n", mu[c],
               100 * (value[0] / exact - 1), 100 * (value[3] / exact - 1), order);
        cr_assert_lt(fabs(value[0] / exact - 1), 0.02);
        cr_assert_lt(fabs(value[3] / exact - 1), 0.005);
        cr_assert_float_eq(order, 2.0, 0.2, "order %g", order);
        double helmet = patch_stiffness(mu[c], 10, 0.13, 4e-3);
        printf("figure: sphere, patch %.1f ell, t/R 1/32, no gate: %+.3f %% from shallow theory\n", mu[c],
               100 * (helmet / exact - 1));
    }
}

/* --- large deflection: R 1 m, t 1 mm, nu 0.3 --- */

static const struct shell_sheet large_sheet = {
    .density = 1050, .youngs_modulus = 2.2e9, .poisson = 0.3, .yield_stress = INFINITY};
static const double large_thickness = 1e-3;

/* P R/(E t^3) of a load [N]. */
static double load_number(double load)
{
    return load / (large_sheet.youngs_modulus * pow(large_thickness, 3));
}

/* Reads a column of a table of this folder; `values` (count) is the caller's. */
static size_t column(const char *file, const char *name, double *values, size_t size)
{
    char path[512];
    struct csv_table table;
    snprintf(path, sizeof path, "%s/tests/verify/%s", FOAMPULSE_SOURCE, file);
    cr_assert_eq(csv_table_read(path, &table, NULL), STATUS_OK);
    size_t at = csv_table_column(&table, name), count = table.row_count;
    cr_assert(at != SIZE_MAX && count <= size);
    for (size_t row = 0; row < count; row++) {
        values[row] = strcmp(name, "branch") == 0 ? table.rows[row].cells[at].text[0] == 'd' : NAN;
        if (isnan(values[row]))
            cr_assert_eq(csv_table_number(&table, row, at, &values[row], NULL), STATUS_OK);
    }
    csv_table_free(&table);
    return count;
}

struct worst {
    double error, where;
};

static void note(struct worst *worst, double value, double table, double where)
{
    double error = value / table - 1;
    if (fabs(error) > fabs(worst->error))
        *worst = (struct worst){error, where};
}

/* The pole held at the table's deflections, up to 12 t; the load is what holds it. */
Test(shell_sphere, large_point_load)
{
    double depth[200], load[200];
    struct worst worst = {0};
    size_t count = column("sphere_point_load.csv", "w_over_t", depth, 200);
    column("sphere_point_load.csv", "PR_over_Et3", load, 200);
    struct body *cap = cap_of_lengths(10, 1.0, large_thickness, large_sheet);
    cap->held_z[0] = 1;
    for (size_t row = 0; row < count && depth[row] < 12.2; row++) {
        cap->z[0] = -depth[row] * large_thickness;
        body_balance(cap, 1e-7 * large_thickness);
        note(&worst, load_number(cap->force_z[0]), load[row], depth[row]);
    }
    printf("figure: sphere, point load to w/t 12: worst %+.2f %% at w/t %.3f\n", 100 * worst.error,
           worst.where);
    cr_assert_lt(fabs(worst.error), 0.05);
    body_free(cap);
}

/* Presses a plate down to `depth` t and returns the load number. */
static double press(struct body *cap, double depth)
{
    cap->plate_z = -depth * large_thickness;
    body_balance(cap, 1e-7 * large_thickness);
    return load_number(cap->plate_force);
}

/* An inverted cap: its pole is pushed to twice the plate's depth, then the plate takes over. */
static void invert(struct body *cap, double depth)
{
    double stiffness = cap->plate_stiffness;
    cap->plate_stiffness = 0.0;
    cap->held_z[0] = 1;
    for (double pole = 0.5; pole <= 2 * depth; pole += 0.5) {
        cap->z[0] = -pole * large_thickness;
        body_balance(cap, 1e-7 * large_thickness);
    }
    cap->held_z[0] = 0;
    cap->plate_stiffness = stiffness;
}

/* Both branches of the table, each walked in its order; the dimple one down to d/t 2.4, before it turns back.
 */
Test(shell_sphere, flat_plate)
{
    double depth[200], load[200], dimple[200];
    struct worst worst[2] = {{0}};
    size_t count = column("sphere_flat_plate.csv", "d_over_t", depth, 200);
    column("sphere_flat_plate.csv", "PR_over_Et3", load, 200);
    column("sphere_flat_plate.csv", "branch", dimple, 200);
    for (int branch = 0; branch < 2; branch++) {
        struct body *cap = cap_of_lengths(20, 1.0, large_thickness, large_sheet);
        cap->plate_stiffness = 10 * large_sheet.youngs_modulus * large_thickness;
        size_t rows = 0;
        for (size_t row = 0; row < count; row++) {
            if (dimple[row] != branch || (branch && depth[row] < 2.4))
                continue;
            if (branch && rows++ == 0)
                invert(cap, depth[row]);
            double number = press(cap, depth[row]);
            note(&worst[branch], number, load[row], depth[row]);
        }
        printf("figure: sphere, flat plate, %s branch: worst %+.2f %% at d/t %.3f\n",
               branch ? "dimple" : "flat", 100 * worst[branch].error, worst[branch].where);
        cr_assert_lt(fabs(worst[branch].error), 0.05);
        body_free(cap);
    }
}
