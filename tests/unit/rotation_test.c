#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/impact/headform.h"
#include "solver/study/rotation.h"
#include "tests/support/cases.h"

/* Directions on the head, and what the solver takes of an impact. */

#define HELMET(head, impact)                                                                                 \
    "headform: {size: J" head "}\nshell: {material: abs, thickness: 3.5 mm}\n"                               \
    "liner: {foam: eps, density: 50 g/l, thickness: 35 mm}\nimpacts: [" impact "]\n"

static struct oblique_setup setup_of(const char *text, double *aside)
{
    struct case_file file;
    struct oblique_setup setup;
    cases_load_text(text, &file);
    rotation_setup(&file, &file.impacts[0], 10.0, &setup, aside);
    case_free(&file);
    return setup;
}

/* The axis is the outward normal x towards: crown, towards front, -y in SAE J211-1 axes (x forward, y right,
 * z down). The others by hand: front (x) x up (-z) = +y; rear (-x) x up (-z) = -y; right (y) x up (-z) = -x;
 * right (y) x front (x) = -z. Sites at 10 to 20 deg are not on the axes: the part across the normal counts.
 */
Test(rotation, axes)
{
    static const struct {
        const char *site, *towards;
        double axis[3];
    } rows[] = {{"crown", "front", {0, -1, 0}},
                {"crown", "right", {1, 0, 0}},
                {"[0 deg, 0 deg]", "up", {0, 1, 0}},
                {"[0 deg, 180 deg]", "up", {0, -1, 0}},
                {"[0 deg, 90 deg]", "up", {-1, 0, 0}},
                {"[0 deg, 90 deg]", "front", {0, 0, -1}},
                {"front", "up", {0, 1, 0}},
                {"right", "up", {-1, 0, 0}}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[1024];
        double aside;
        snprintf(text, sizeof text, HELMET("", "{at: %s, anvil: abrasive-45, speed: 8 m/s, towards: %s}"),
                 rows[i].site, rows[i].towards);
        struct oblique_setup setup = setup_of(text, &aside);
        for (int k = 0; k < 3; k++)
            cr_expect_float_eq(setup.axis[k], rows[i].axis[k], 1e-12, "%s %s: %g", rows[i].site,
                               rows[i].towards, setup.axis[k]);
    }
}

/* A fall at 28 km/h onto 45 degrees meets the face at 5.5 m/s across and along it: common practice, no
 * source. */
Test(rotation, speed_along_the_face)
{
    double aside;
    struct oblique_setup setup =
        setup_of(HELMET("", "{at: front, anvil: abrasive-45, speed: 28 km/h, towards: up}"), &aside);
    cr_expect(setup.active);
    cr_expect_float_eq(setup.speed, 5.5, 5e-3);
    cr_expect_float_eq(setup.speed, 28.0 / 3.6 * sqrt(0.5), 1e-12);
    cr_expect_float_eq(setup.gravity, 10.0 * sqrt(0.5), 1e-12);
    cr_expect_eq(setup.face_friction, 0.55);
    setup = setup_of(HELMET("", "{at: front, angle: 30 deg, speed: 4 m/s, towards: up}"), &aside);
    cr_expect_float_eq(setup.speed, 2.0, 1e-12);
    cr_expect_eq(setup.face_friction, ANVIL_BARE_FRICTION);
    setup = setup_of(
        HELMET("", "{at: front, angle: 30 deg, speed: 4 m/s, towards: up, friction: {anvil: 0.2}}"), &aside);
    cr_expect_eq(setup.face_friction, 0.2);
}

/* Square on: only an offset across the normal turns the head, in the plane that holds it. */
Test(rotation, offset_centre_of_gravity)
{
    double aside;
    struct oblique_setup setup = setup_of(HELMET("", "{at: crown, speed: 4 m/s}"), &aside);
    cr_expect_not(setup.active);
    setup = setup_of(HELMET(", cg_offset: [0 mm, 0 mm, 5 mm]", "{at: crown, speed: 4 m/s}"), &aside);
    cr_expect_not(setup.active, "along the normal");
    setup = setup_of(HELMET(", cg_offset: [3 mm, 4 mm, 5 mm]", "{at: crown, speed: 4 m/s}"), &aside);
    cr_expect(setup.active);
    cr_expect_float_eq(setup.offset_along, 5e-3, 1e-12);
    cr_expect_float_eq(aside, 0.0, 1e-15);
    setup = setup_of(HELMET(", cg_offset: [3 mm, 4 mm, 5 mm]",
                            "{at: crown, anvil: abrasive-45, speed: 4 m/s, towards: front}"),
                     &aside);
    cr_expect_float_eq(setup.offset_along, 3e-3, 1e-12);
    cr_expect_float_eq(aside, sqrt(16.0 + 25.0) * 1e-3, 1e-12, "across the plane and along the normal");
}

/* About an axis between the principal ones: a' I a. */
Test(rotation, inertia)
{
    double aside, ball[3];
    struct oblique_setup setup =
        setup_of(HELMET(", inertia: [0.01 kg m2, 0.02 kg m2, 0.03 kg m2]",
                        "{at: crown, anvil: abrasive-45, speed: 4 m/s, towards: [0 deg, 30 deg]}"),
                 &aside);
    cr_expect_float_eq(setup.head_inertia, 0.01 * 0.25 + 0.02 * 0.75, 1e-12);
    cr_expect(isnan(setup.helmet_inertia), "from the geometry");
    headform_ellipsoid_inertia(5.0, (double[]){0.1, 0.1, 0.1}, ball);
    cr_expect_float_eq(ball[0], 0.4 * 5.0 * 0.01, 1e-15, "a ball has 2/5 m r^2");
    headform_ellipsoid_inertia(5.0, (double[]){0.1, 0.2, 0.3}, ball);
    cr_expect_float_eq(ball[2], 0.05, 1e-15, "m (a^2 + b^2)/5 about the third axis");
}

/* Friction of the liner on the head: that of the skin unless the impact has its own. */
Test(rotation, skins)
{
    static const struct {
        const char *head, *impact;
        double friction;
    } rows[] = {{"", "", 0.16},
                {", skin: bare", "", 0.16},
                {", skin: silicone", "", 0.3},
                {", skin: vinyl", "", 0.75},
                {", skin: vinyl", ", friction: {head: 0.4}", 0.4}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct case_file file;
        char text[1024];
        snprintf(text, sizeof text, HELMET("%s", "{at: crown, speed: 4 m/s%s}"), rows[i].head,
                 rows[i].impact);
        cases_load_text(text, &file);
        cr_expect_eq(rotation_head_friction(&file, &file.impacts[0]), rows[i].friction, "row %zu", i);
        case_free(&file);
    }
}
