/*
 * Masses of whole helmets, and what a case leaves open. A round helmet that ends at an elevation e covers
 * (1 - sin e) / 2 of the sphere; the rest is 4/3 pi (Ro^3 - Ri^3) by hand.
 */

#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cases/assume.h"
#include "cases/mass.h"
#include "solver/base/memory.h"

static const double pi = 3.14159265358979323846;

static void load(const char *text, struct case_file *file)
{
    char path[] = "/tmp/foampulse_mass_XXXXXX";
    struct errors errors = {0};
    int descriptor = mkstemp(path);
    cr_assert_eq(write(descriptor, text, strlen(text)), (ssize_t)strlen(text));
    close(descriptor);
    cr_assert_eq(case_load(path, NULL, 0, file, &errors), STATUS_OK, "%s", errors.kept[0].text);
    unlink(path);
}

#define BALL                                                                                                 \
    "headform: {mass: 4 kg, radius: 100 mm}\n"                                                               \
    "liner: {density: 50 g/l, thickness: 30 mm}\n"                                                           \
    "comfort: {foam: comfort-soft, thickness: 8 mm, gap: 2 mm}\n"                                            \
    "impacts: [{at: P, speed: 5 m/s}]\n"
#define SHELL_OWN "density: 1000 kg/m3, youngs_modulus: 2 GPa, poisson: 0.3, thickness: 4 mm"

static double volume(double outer, double inner)
{
    return 4 * pi / 3 * (pow(outer, 3) - pow(inner, 3));
}

Test(mass, half_a_ball)
{
    struct case_file file;
    struct stack_masses masses;
    struct errors errors = {0};
    double share[2], liner[1];
    load(BALL "shell: {" SHELL_OWN ", lower_edge: 0 deg, extra_mass: 0.2 kg}\n", &file);
    cr_assert_eq(case_masses(&file, &masses, share, liner, &errors), STATUS_OK);
    cr_assert_float_eq(share[0], 0.5, 1e-9);
    cr_assert_float_eq(share[1], 0.5, 1e-9);
    cr_assert_float_eq(masses.shell, 0.5 * 1000 * volume(0.144, 0.140), 1e-9);
    cr_assert_float_eq(masses.liner, 0.5 * 50 * volume(0.140, 0.110), 1e-9);
    cr_assert_float_eq(liner[0], masses.liner, 1e-12);
    cr_assert_float_eq(masses.comfort, 0.5 * 40 * volume(0.110, 0.102), 1e-9);
    cr_assert_float_eq(masses.helmet, masses.shell + masses.liner + masses.comfort + 0.2, 1e-12);
    case_free(&file);
}

Test(mass, default_edge_and_bare_liner)
{
    struct case_file file;
    struct stack_masses masses;
    struct errors errors = {0};
    load(BALL, &file);
    cr_assert_eq(case_masses(&file, &masses, NULL, NULL, &errors), STATUS_OK);
    cr_assert_float_eq(masses.covered, 0.75, 1e-9);
    cr_assert_eq(masses.shell, 0);
    case_free(&file);
}

Test(mass, parts_heavier_than_the_helmet_are_an_error_at_its_mass)
{
    struct case_file file;
    struct stack_masses masses;
    struct errors errors = {0};
    load(BALL
         "shell:\n  helmet_mass: 0.5 kg\n  density: 1000 kg/m3\n  youngs_modulus: 2 GPa\n  poisson: 0.3\n"
         "  thickness: 4 mm\n",
         &file);
    cr_assert_eq(case_masses(&file, &masses, NULL, NULL, &errors), STATUS_INPUT);
    cr_assert_eq(errors.kept[0].line, 6);
    cr_assert_eq(errors.kept[0].column, 16);
    cr_assert(strstr(errors.kept[0].text, "more than the helmet's 0.500 kg"));
    cr_assert_eq(masses.helmet, 0);
    case_free(&file);
}

Test(mass, memory_that_runs_out)
{
    struct case_file file;
    load(BALL "shell: {" SHELL_OWN "}\n", &file);
    size_t successes = 0;
    for (;; successes++) {
        struct stack_masses masses;
        struct errors errors = {0};
        size_t failures = memory_failures();
        memory_fail_after(successes);
        enum status status = case_masses(&file, &masses, NULL, NULL, &errors);
        memory_fail_after(SIZE_MAX);
        if (memory_failures() == failures) {
            cr_assert_eq(status, STATUS_OK);
            break;
        }
        cr_expect_eq(status, STATUS_MEMORY, "failure %zu: status %d", successes, status);
        cr_expect_eq(masses.helmet, 0);
    }
    cr_assert(successes > 3);
    case_free(&file);
}

/* 1 when a line of the case's assumptions holds the text. */
static int assumes(const struct case_file *file, const char *text)
{
    char **list = NULL;
    size_t count = 0;
    int found = 0;
    cr_assert_eq(case_assumptions(file, &list, &count), STATUS_OK);
    for (size_t i = 0; i < count; i++) {
        found |= strstr(list[i], text) != NULL;
        memory_free(list[i]);
    }
    memory_free(list);
    return found;
}

Test(assumptions, what_is_open_is_told)
{
    struct case_file file;
    load("headform: {set: en-960, size: K}\nliner: {density: 50 g/l, thickness: 30 mm}\n"
         "impacts: [{at: P, speed: 5 m/s, condition: hot}, {at: P, speed: 5 m/s, condition: wet}]\n",
         &file);
    cr_expect(assumes(&file, "half height of the headform 91.4 mm"));
    cr_expect(assumes(&file, "headform mass 5 kg: memory-low"));
    cr_expect(assumes(&file, "shell and liner end at -30 deg"));
    cr_expect(assumes(&file, "a bare liner"));
    cr_expect(assumes(&file, "hot is 50 degC"));
    cr_expect(assumes(&file, "wet helmets are computed as ambient"));
    cr_expect(assumes(&file, "the head fits the cavity"));
    cr_expect(assumes(&file,
                      "foam meets anvil and head through a penalty of 1.5 m/dt2, damped at 0.6 of critical"));
    cr_expect_not(assumes(&file, "comfort padding"));
    cr_expect_not(assumes(&file, "the shell meets"));
    cr_expect_not(assumes(&file, "cold"));
    case_free(&file);
}

Test(assumptions, what_damps_is_told)
{
    struct case_file file;
    load("headform: {size: J}\nshell: {" SHELL_OWN "}\ncomfort: {thickness: 8 mm}\n"
         "liner: {density: 50 g/l, thickness: 30 mm}\nimpacts: [{at: P, speed: 5 m/s}]\n",
         &file);
    cr_expect(assumes(
        &file, "the shell meets the anvil through a penalty of 0.25 m/dt2, damped at 0.6 of critical"));
    cr_expect(assumes(
        &file, "comfort padding loses 50 % of the work of closing it: from memory; closed beyond 90 % of its "
               "thickness it is damped"));
    cr_expect_not(assumes(&file, "foam meets"));
    case_free(&file);
    load("pad: {area: 60 cm2, layers: [{density: 50 g/l, thickness: 30 mm}]}\nstriker: {mass: 5 kg}\n"
         "impacts: [{speed: 5 m/s}]\n",
         &file);
    cr_expect(assumes(&file, "striker and pad join at first touch without rebound"));
    case_free(&file);
}

Test(assumptions, what_is_given_is_not)
{
    struct case_file file;
    load("headform: {size: J, half_height: 88 mm}\nliner: {density: 50 g/l, thickness: 30 mm}\n"
         "shell: {" SHELL_OWN
         ", bond: loose, lower_edge: -20 deg, extra_mass: 0.1 kg}\nfit: {mismatch: 2 mm}\n"
         "impacts: [{at: P, speed: 5 m/s}]\n",
         &file);
    cr_expect_not(assumes(&file, "half height"));
    cr_expect_not(assumes(&file, "headform mass"));
    cr_expect_not(assumes(&file, "lower edge"));
    cr_expect_not(assumes(&file, "the liner is bonded"));
    cr_expect_not(assumes(&file, "extra mass"));
    cr_expect_not(assumes(&file, "fits"));
    case_free(&file);
}

/* Keys that this version reads and does not use must not pass in silence. */
Test(assumptions, what_has_no_effect_is_told)
{
    struct case_file file;
    load("headform: {size: J}\nshell: {" SHELL_OWN ", bond: loose}\n"
         "liner: {interface: slip, regions: [{name: face, elevation: [-40 deg, 5 deg], azimuth: [-65 deg, 65 "
         "deg], "
         "open: true}, {name: rest, layers: [{density: 50 g/l, thickness: 30 mm}]}]}\n"
         "impacts: [{at: P, hits: [5 m/s, 4 m/s], recovered: 10 %}]\n",
         &file);
    cr_expect(assumes(&file, "the shell lies loose on the liner, friction 0.3: from memory, unchecked"));
    cr_expect(assumes(
        &file, "layers of the liner slip on each other and part, friction 0.3: from memory, unchecked"));
    cr_expect(assumes(&file, "cut where they are 25 % open (opening_hoop: common practice"));
    cr_expect(assumes(&file, "between two hits foam, shell and padding come to rest; crush stays but for"));
    cr_expect(assumes(&file, "friction of the liner on the head 0.16"));
    case_free(&file);
}

/* What a condition leaves as it is. */
Test(assumptions, conditions_without_data_are_told)
{
#define CONDITIONED(shell, more, impact)                                                                     \
    "headform: {size: J}\nshell: {" SHELL_OWN shell "}\nliner: {density: 50 g/l, thickness: 30 mm}\n" more   \
    "impacts: [{at: P, speed: 5 m/s, " impact "}]\n"
    static const char shell[] = "the shell is as stiff and strong at every temperature";
    struct case_file file;
    load(CONDITIONED("", "", "condition: cold"), &file);
    cr_expect(assumes(&file, shell));
    case_free(&file);
    load(CONDITIONED("", "", "condition: wet"), &file);
    cr_expect_not(assumes(&file, shell));
    cr_expect(assumes(&file, "wet helmets are computed as ambient ones at 23 degC"));
    case_free(&file);
    load(CONDITIONED(", temperature: [[-20 degC, 1.1], [23 degC, 1]]", "wet: {friction_factor: 0.5}\n",
                     "condition: cold"),
         &file);
    cr_expect_not(assumes(&file, shell));
    cr_expect_not(assumes(&file, "wet helmets"));
    case_free(&file);
    load(CONDITIONED("", "wet: {friction_factor: 0.5}\n", "condition: wet"), &file);
    cr_expect(assumes(
        &file, "wet helmets: pressure of the padding times 1, default friction on the head times 0.5"));
    cr_expect_not(assumes(&file, "computed as ambient"));
    case_free(&file);
#undef CONDITIONED
}

/* Sizes that are given are not said to be usual ones. */
Test(assumptions, own_sizes_of_a_kerbstone)
{
    struct case_file file;
    load("headform: {size: J}\nshell: {" SHELL_OWN "}\nliner: {density: 50 g/l, thickness: 30 mm}\n"
         "impacts: [{at: P, anvil: {shape: kerbstone, radius: 20 mm, length: 200 mm}, speed: 5 m/s}]\n",
         &file);
    cr_expect(assumes(&file, "kerbstone: equal-overlap anvil"));
    cr_expect_not(assumes(&file, "usual sizes from memory"));
    cr_expect_not(assumes(&file, "without `length`"));
    case_free(&file);
    load("headform: {size: J}\nshell: {" SHELL_OWN "}\nliner: {density: 50 g/l, thickness: 30 mm}\n"
         "impacts: [{at: P, anvil: {shape: kerbstone, radius: 20 mm}, speed: 5 m/s}]\n",
         &file);
    cr_expect(assumes(&file, "without `length`"));
    cr_expect(assumes(&file, "usual sizes from memory"));
    case_free(&file);
}
