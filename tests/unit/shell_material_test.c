#include "materials/shell_material.h"

#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "solver/base/memory.h"

static struct shell_materials materials;

static void load(void)
{
    struct errors errors = {0};
    cr_assert_eq(shell_materials_load(NULL, &materials, &errors), STATUS_OK, "%s", errors.kept[0].text);
}

static void unload(void)
{
    shell_materials_free(&materials);
}

TestSuite(shell_material, .init = load, .fini = unload);

Test(shell_material, the_four_materials_are_there)
{
    static const struct {
        const char *name;
        double density, modulus, poisson, yield;
    } known[] = {{"abs", 1040, 2.39e9, 0.37, 37.9e6},
                 {"polycarbonate", 1190, 2.38e9, 0.37, 62e6},
                 {"glass-epoxy", 1800, 23e9, 0.13, INFINITY}};
    struct shell_values none = shell_values_none();
    struct shell_choice choice;
    for (size_t k = 0; k < 3; k++) {
        cr_assert_eq(shell_material_choose(&materials, known[k].name, &none, &choice, NULL), STATUS_OK);
        cr_assert_float_eq(choice.sheet.density, known[k].density, 1e-9);
        cr_assert_float_eq(choice.sheet.youngs_modulus, known[k].modulus, 1);
        cr_assert_float_eq(choice.sheet.poisson, known[k].poisson, 1e-12);
        cr_assert(known[k].yield == INFINITY ? choice.sheet.yield_stress == INFINITY
                                             : fabs(choice.sheet.yield_stress - known[k].yield) < 1);
        cr_assert_gt(choice.failure_strain, 0.01);
    }
    cr_assert(strstr(choice.caution, "ambiguous"));
    cr_assert_eq(materials.count, 4);
}

/* Every number has a provenance word, and a source where it was seen or derived. */
Test(shell_material, every_number_says_where_it_is_from)
{
    struct shell_line lines[64];
    size_t count = shell_material_lines(&materials, lines, 64);
    cr_assert_gt(count, 20);
    cr_assert_leq(count, 64);
    for (size_t k = 0; k < count; k++) {
        const char *from = lines[k].provenance;
        int seen = strcmp(from, "seen") == 0 || strcmp(from, "derived") == 0;
        cr_assert(seen || strncmp(from, "memory-", 7) == 0, "%s %s: %s", lines[k].material,
                  lines[k].parameter, from);
        cr_assert(!seen || lines[k].source[0], "%s %s", lines[k].material, lines[k].parameter);
        cr_assert(isfinite(lines[k].value));
        cr_assert(lines[k].title[0] && lines[k].meaning[0]);
    }
    cr_assert_eq(shell_material_lines(&materials, lines, 3), count);
}

/* A ply turned by an angle: its stiffness Q11, Q22, Q12 in fixed axes follows from the rotation of strain and
 * stress; the mean over all angles must be the isotropic stiffness of E and nu. */
Test(shell_material, a_laminate_is_the_mean_of_turned_plies)
{
    double e1 = 76e9, e2 = 5.5e9, nu = 0.34, g = 2.1e9, scale = 1 / (1 - nu * nu * e2 / e1);
    double q11 = e1 * scale, q22 = e2 * scale, q12 = nu * q22, mean_11 = 0, mean_22 = 0, mean_12 = 0;
    int steps = 360;
    for (int k = 0; k < steps; k++) {
        double angle = acos(-1.0) * k / steps, c = cos(angle), s = sin(angle);
        double cc = c * c, ss = s * s;
        mean_11 += (q11 * cc * cc + 2 * (q12 + 2 * g) * cc * ss + q22 * ss * ss) / steps;
        mean_22 += (q11 * ss * ss + 2 * (q12 + 2 * g) * cc * ss + q22 * cc * cc) / steps;
        mean_12 += ((q11 + q22 - 4 * g) * cc * ss + q12 * (cc * cc + ss * ss)) / steps;
    }
    double modulus, poisson;
    shell_laminate(e1, e2, nu, g, &modulus, &poisson);
    cr_assert_float_eq(mean_11, mean_22, 1e-6 * mean_11);
    cr_assert_float_eq(modulus / (1 - poisson * poisson), mean_11, 1e-9 * mean_11);
    cr_assert_float_eq(poisson, mean_12 / mean_11, 1e-9);
    struct shell_values none = shell_values_none();
    struct shell_choice choice;
    cr_assert_eq(shell_material_choose(&materials, "aramid-epoxy", &none, &choice, NULL), STATUS_OK);
    cr_assert_float_eq(choice.sheet.youngs_modulus, modulus, 1e-9 * modulus);
    cr_assert_float_eq(choice.sheet.poisson, poisson, 1e-12);
    cr_assert(strstr(choice.caution, "compression"));
    printf("aramid-epoxy: E %.2f GPa, nu %.3f\n", 1e-9 * modulus, poisson);
}

Test(shell_material, a_case_may_set_values)
{
    struct shell_values own = shell_values_none();
    struct shell_choice choice;
    own.youngs_modulus = 2.2e9;
    own.failure_strain = 0.05;
    cr_assert_eq(shell_material_choose(&materials, "abs", &own, &choice, NULL), STATUS_OK);
    cr_assert_eq(choice.sheet.youngs_modulus, 2.2e9);
    cr_assert_eq(choice.failure_strain, 0.05);
    cr_assert_float_eq(choice.sheet.density, 1040, 1e-9);
    own = (struct shell_values){1500, 10e9, 0.25, NAN, NAN, NAN, NAN};
    cr_assert_eq(shell_material_choose(&materials, "", &own, &choice, NULL), STATUS_OK);
    cr_assert_eq(choice.sheet.density, 1500);
    cr_assert_eq(choice.sheet.yield_stress, INFINITY);
    cr_assert(isnan(choice.failure_strain));
    cr_assert_str_empty(choice.caution);
}

Test(shell_material, senseless_values_are_refused)
{
    static const struct {
        struct shell_values own;
        const char *says;
    } bad[] = {{{0, 2e9, 0.3, NAN, NAN, NAN, NAN}, "density"},
               {{1000, -1, 0.3, NAN, NAN, NAN, NAN}, "youngs_modulus"},
               {{1000, 2e9, 0.6, NAN, NAN, NAN, NAN}, "poisson"},
               {{1000, 2e9, -0.1, NAN, NAN, NAN, NAN}, "poisson"},
               {{1000, 2e9, 0.3, 0, NAN, NAN, NAN}, "yield_stress"},
               {{1000, 2e9, 0.3, NAN, -1, NAN, NAN}, "hardening"},
               {{1000, 2e9, 0.3, NAN, NAN, 0, NAN}, "failure_strain"},
               {{NAN, 2e9, 0.3, NAN, NAN, NAN, NAN}, "no `density`"},
               {{1000, 2e9, 0.3, NAN, NAN, 0.1, 0}, "`crack_energy`"},
               {{1000, 2e9, 0.3, NAN, NAN, NAN, 1e4}, "takes a `failure_strain`"},
               {{1000, 2e9, 0.3, 1e8, NAN, 0.1, 1e4}, "has a `yield_stress`"}};
    struct shell_choice choice;
    for (size_t k = 0; k < sizeof bad / sizeof *bad; k++) {
        struct errors errors = {0};
        cr_assert_eq(shell_material_choose(&materials, "", &bad[k].own, &choice, &errors), STATUS_INPUT);
        cr_assert(strstr(errors.kept[0].text, bad[k].says), "%s", errors.kept[0].text);
    }
    struct errors errors = {0};
    struct shell_values none = shell_values_none();
    cr_assert_eq(shell_material_choose(&materials, "glas-epoxy", &none, &choice, &errors), STATUS_INPUT);
    cr_assert(strstr(errors.kept[0].text, "did you mean 'glass-epoxy'?"), "%s", errors.kept[0].text);
}

/* Writes materials/shells.csv into a fresh folder and loads it as data beside a case. */
static enum status load_text(const char *text, struct errors *errors)
{
    char folder[] = "/tmp/foampulse_shell_XXXXXX", path[128];
    cr_assert(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/materials", folder);
    cr_assert_eq(mkdir(path, 0700), 0);
    snprintf(path, sizeof path, "%s/materials/shells.csv", folder);
    FILE *file = fopen(path, "w");
    cr_assert(file);
    fputs(text, file);
    fclose(file);
    char beside[128];
    snprintf(beside, sizeof beside, "%s/case.yaml", folder);
    struct shell_materials own;
    enum status status = shell_materials_load(beside, &own, errors);
    cr_assert(status == STATUS_OK || own.materials == NULL);
    shell_materials_free(&own);
    unlink(path);
    snprintf(path, sizeof path, "%s/materials", folder);
    rmdir(path);
    rmdir(folder);
    return status;
}

Test(shell_material, bad_tables_are_refused)
{
    static const char header[] =
        "material,parameter,value,unit,range low,range high,provenance,source,note\n";
    static const struct {
        const char *rows, *says;
    } bad[] = {{"x,density,1000,kg,,,,,\n", "density"},
               {"x,colour,1000,,,,,,\n", "unknown parameter `colour`"},
               {"x,density,1000,kg/m3,,,,,\n", "`youngs_modulus` is missing"}};
    for (size_t k = 0; k < sizeof bad / sizeof *bad; k++) {
        struct errors errors = {0};
        char text[512];
        snprintf(text, sizeof text, "%s%s", header, bad[k].rows);
        cr_assert_eq(load_text(text, &errors), STATUS_INPUT);
        cr_assert(strstr(errors.kept[0].text, bad[k].says), "%s", errors.kept[0].text);
    }
    struct errors errors = {0};
    cr_assert_eq(load_text("material,parameter\nx,density\n", &errors), STATUS_INPUT);
    cr_assert(strstr(errors.kept[0].text, "column `value`"), "%s", errors.kept[0].text);
}

Test(shell_material, memory_that_runs_out_leaves_nothing)
{
    struct shell_materials own;
    size_t k = 0;
    for (; k < 2000; k++) {
        struct errors errors = {0};
        memory_fail_after(k);
        enum status status = shell_materials_load(NULL, &own, &errors);
        memory_fail_after(SIZE_MAX);
        if (status == STATUS_OK)
            break;
        cr_assert_eq(status, STATUS_MEMORY, "allocation %zu", k);
        cr_assert_null(own.materials);
    }
    cr_assert_gt(k, 10);
    cr_assert_lt(k, 2000);
    shell_materials_free(&own);
}
