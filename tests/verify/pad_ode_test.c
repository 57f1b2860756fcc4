/*
 * One independent integrator: the pad's equations (pad_ode.h) through an ODE solver of the GNU Scientific
 * Library, the embedded pair of order 4 and 5 of Runge, Kutta and Fehlberg with its step by error control. At
 * a tenth of its tolerance the peaks move by less than 1e-5. Compared: unfiltered interval means of 10 us of
 * the striker's acceleration, from first touch until the striker leaves at a seventh of its first speed,
 * crushing at rest and the fall of the rate included. Each row prints its figures.
 */
#include <criterion/criterion.h>
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdio.h>

#include "solver/impact/pad.h"
#include "tests/verify/pad_ode.h"

static const double g0 = 9.80665;

/* Default EPS: rounded knee, gas, rate, softening unloading; values of the density as in foam_law_test.c. */
static struct foam_parameters expanded_polystyrene(double density)
{
    return (struct foam_parameters){.name = "eps",
                                    .density = density,
                                    .solid_density = 1050,
                                    .temperature = 23,
                                    .youngs_modulus = 0.694 * 3e9 * pow(density / 1050, 1.54),
                                    .collapse_stress = 840 * pow(density, 1.6),
                                    .gas_pressure = 101325,
                                    .unloading_softening = 3,
                                    .tensile_strength = 4e5,
                                    .rate_gain = 0.06,
                                    .rate_reference = 1.67e-3,
                                    .rate_time = 50e-6};
}

struct condition {
    double density[2], thickness; /* of two layers of equal thickness, from the anvil; of the stack [m] */
    double area, mass, speed;
    int viscous;
    size_t cells;
};

enum { INTERVALS = 2000, BLOCK = 10 };

struct pulse {
    size_t count;           /* intervals */
    double peak;            /* [g] */
    double mean[INTERVALS]; /* [g] */
};

static void add(struct pulse *pulse, double mean)
{
    pulse->peak = fmax(pulse->peak, mean);
    pulse->mean[pulse->count++] = mean;
}

static struct pad_ode equations(const struct condition *c, const struct foam_parameters foams[2])
{
    struct pad_ode pad = {.cells = c->cells,
                          .length = c->thickness / (double)c->cells,
                          .area = c->area,
                          .striker = c->mass,
                          .gravity = g0,
                          .linear = c->viscous ? 0.06 : 0,
                          .quadratic = c->viscous ? 1.2 : 0,
                          .return_time = 2e-6};
    for (size_t i = 0; i < pad.cells; i++)
        pad.foam[i] = &foams[2 * i / pad.cells];
    pad_ode_fill(&pad);
    return pad;
}

static struct pulse integrate(const struct condition *c, const struct foam_parameters foams[2],
                              double tolerance)
{
    struct pad_ode pad = equations(c, foams);
    double y[6 * PAD_ODE_CELLS + 1], scale[6 * PAD_ODE_CELLS + 1], t = 0, impulse = 0;
    pad_ode_start(&pad, c->speed, y, scale);
    gsl_odeiv2_system system = {pad_ode_slopes, NULL, pad_ode_size(&pad), &pad};
    gsl_odeiv2_driver *driver = gsl_odeiv2_driver_alloc_scaled_new(&system, gsl_odeiv2_step_rkf45, 1e-7,
                                                                   tolerance, tolerance, 1, 0, scale);
    struct pulse pulse = {0};
    while (y[2 * pad.cells - 1] > -c->speed / 7 && pulse.count < INTERVALS) {
        cr_assert_eq(gsl_odeiv2_driver_apply(driver, &t, (double)(pulse.count + 1) * 1e-5, y), GSL_SUCCESS);
        add(&pulse, (y[pad_ode_impulse(&pad)] - impulse) / 1e-5 / c->mass / g0);
        impulse = y[pad_ode_impulse(&pad)];
    }
    gsl_odeiv2_driver_free(driver);
    return pulse;
}

static struct pulse solve(const struct condition *c, const struct foam_parameters foams[2], size_t count)
{
    struct foam made[2];
    struct errors errors = {0};
    struct pad_setup setup = pad_setup_default();
    setup.area = c->area;
    setup.striker_mass = c->mass;
    setup.cell = c->thickness / (double)c->cells;
    setup.layer_count = 2;
    if (!c->viscous)
        setup.viscosity_linear = setup.viscosity_quadratic = 0;
    for (int i = 0; i < 2; i++) {
        cr_assert_eq(foam_make(&foams[i], &made[i], &errors), STATUS_OK);
        setup.layers[i] = (struct liner_layer){0.5 * c->thickness, 1, {{&made[i], 1.0}}};
    }
    struct pad_model model;
    struct pad_state state;
    struct history history;
    char message[HISTORY_MESSAGE] = "";
    cr_assert_eq(pad_model_make(&setup, &model), STATUS_OK);
    cr_assert_eq(model.group.rows, c->cells);
    cr_assert_eq(pad_state_make(&model, &state), STATUS_OK);
    cr_assert_eq(history_make(&history, setup.duration, c->speed, 2), STATUS_OK);
    cr_assert_eq(pad_hit(&model, &state, c->speed, &history, NULL, message), STATUS_OK, "%s", message);
    struct pulse pulse = {0};
    double means[INTERVALS];
    record_means(&history.forces, HISTORY_HEAD_FORCE, 1 / (c->mass * g0), means);
    for (size_t i = 0; i < history.forces.count && i < count; i++)
        add(&pulse, means[i]);
    history_free(&history);
    pad_state_free(&state);
    pad_model_free(&model);
    for (int i = 0; i < 2; i++)
        foam_free(&made[i]);
    return pulse;
}

/* Largest difference of means over `block` intervals [g]. */
static double apart(const struct pulse *a, const struct pulse *b, size_t block)
{
    double most = 0;
    for (size_t k = 0; k + block <= a->count && k + block <= b->count; k++) {
        double sum = 0;
        for (size_t i = k; i < k + block; i++)
            sum += a->mean[i] - b->mean[i];
        most = fmax(most, fabs(sum) / (double)block);
    }
    return most;
}

Test(pad_ode, peak_and_pulse)
{
    static const struct condition rows[] = {{{60, 60}, 0.040, 0.006, 5.0, 7.5, 1, 20},
                                            {{30, 30}, 0.030, 0.010, 4.7, 4.0, 0, 12},
                                            {{50, 80}, 0.040, 0.006, 5.0, 6.0, 1, 16}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const struct condition *c = &rows[i];
        struct foam_parameters foams[2] = {expanded_polystyrene(c->density[0]),
                                           expanded_polystyrene(c->density[1])};
        struct pulse fine = integrate(c, foams, 1e-7), coarse = integrate(c, foams, 1e-6);
        struct pulse ours = solve(c, foams, fine.count);
        double error = ours.peak / fine.peak - 1, pulse = apart(&ours, &fine, BLOCK) / fine.peak;
        printf("figure: pad, EPS %g on %g kg/m3, %g m/s, %zu cells, viscosity %s: peak %.4f g, GSL %.4f g: "
               "%+.4f %% (limit "
               "0.1 %%); means of 100 us within %.2f %% of the peak (limit 1 %%)\n",
               c->density[1], c->density[0], c->speed, c->cells, c->viscous ? "on" : "off", ours.peak,
               fine.peak, error * 100, pulse * 100);
        cr_expect(fabs(coarse.peak / fine.peak - 1) <= 1e-5, "GSL has not converged");
        cr_expect_eq(ours.count, fine.count);
        cr_expect(fabs(error) <= 1e-3);
        cr_expect(pulse <= 0.01);
    }
}
