/*
 * One independent integrator for the body of revolution: the equations of zones_ode.h through the embedded
 * pair of order 4 and 5 of Runge, Kutta and Fehlberg of the GNU Scientific Library, with the yield stress by
 * root finding, beside the solver's zones at their default step.
 */
#include <criterion/criterion.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <math.h>
#include <stdio.h>

#include "tests/verify/zones_cone.h"

enum { MOST = 4 * ZONES_ODE_NODES + ZONES_ODE_STATES * ZONES_ODE_NODES };

static struct cone_pulse integrate(const struct foam_parameters *foam, double tolerance)
{
    struct zones_ode ode = cone_equations(foam, twin_slopes);
    static double y[MOST], scale[MOST];
    double t = 0, mark;
    zones_ode_start(&ode, cone_speed, y, scale);
    gsl_odeiv2_system system = {zones_ode_slopes, NULL, zones_ode_size(&ode), &ode};
    gsl_odeiv2_driver *driver = gsl_odeiv2_driver_alloc_scaled_new(&system, gsl_odeiv2_step_rkf45, 1e-7,
                                                                   tolerance, tolerance, 1, 0, scale);
    struct cone_pulse pulse = {0};
    const double *speed = &y[zones_ode_striker(&ode)];
    for (int i = 1; *speed < 0; i++) {
        mark = *speed;
        cr_assert_eq(gsl_odeiv2_driver_apply(driver, &t, i * cone_interval, y), GSL_SUCCESS);
        cone_take(&pulse, *speed - mark);
    }
    pulse.steps = ode.calls;
    gsl_odeiv2_driver_free(driver);
    return pulse;
}

Test(zones_ode, peak_of_a_cone)
{
    struct foam_parameters parameters = cone_foam();
    struct foam foam = foams_make(&parameters);
    struct cone_pulse fine = integrate(&parameters, 1e-6), coarse = integrate(&parameters, 1e-5);
    struct cone_pulse ours = cone_solve(&foam, cone_courant, 0);
    printf("figure: GSL %.5f g in %ld calls, at ten times the tolerance %.5f g\n", fine.peak, fine.steps,
           coarse.peak);
    near("cone of EPS 60, peak [g] beside GSL", ours.peak, fine.peak, 0.001);
    near("GSL at ten times the tolerance", coarse.peak, fine.peak, 1e-4);
    near("when the striker turns back [s]", ours.end, fine.end, 1e-9);
    foam_free(&foam);
}
