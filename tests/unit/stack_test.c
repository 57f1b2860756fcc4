/*
 * Closing of stacks. Expected radii, volumes and masses are worked by hand from the definitions in
 * cases/stack.h: sums of thicknesses, and 4/3 pi (Ro^3 - Ri^3) for parts of spherical shells.
 */

#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "cases/stack.h"

static const double pi = 3.14159265358979323846;

/* One helmet on a ball of 0.1 m: two layers at the crown, one elsewhere, an opening. */
struct helmet {
    struct case_part parts[3];
    struct case_layer layers[3];
    struct case_region regions[3];
    struct case_file file;
};

static void helmet_make(struct helmet *helmet)
{
    static const double densities[3] = {45, 30, 50}, thicknesses[3] = {0.018, 0.017, 0.030};
    static const char *const names[3] = {"vision", "crown", "elsewhere"};
    *helmet = (struct helmet){0};
    for (size_t i = 0; i < 3; i++) {
        helmet->parts[i] = (struct case_part){.share = 1, .foam = "eps", .density = densities[i]};
        helmet->layers[i] =
            (struct case_layer){.thickness = thicknesses[i], .part_count = 1, .parts = &helmet->parts[i]};
        helmet->regions[i] = (struct case_region){
            .comfort_thickness = NAN, .comfort_gap = NAN, .outer_radius = NAN, .head_radius = NAN};
        strcpy(helmet->regions[i].shape.name, names[i]);
    }
    helmet->regions[0].shape.open = 1;
    helmet->regions[1].layer_count = 2;
    helmet->regions[1].layers = &helmet->layers[0];
    helmet->regions[2].layer_count = 1;
    helmet->regions[2].layers = &helmet->layers[2];
    struct case_file *file = &helmet->file;
    file->region_count = 3;
    file->regions = helmet->regions;
    file->headform = (struct case_headform){
        .sphere = 1, .radius = NAN, .circumference = 2 * pi * 0.1, .half_axes = {0.101, 0.08, 0.09}};
    file->shell = (struct case_shell){
        .present = 1, .thickness = 0.0035, .inner_radius = NAN, .helmet_mass = NAN, .extra_mass = 0.35};
    file->comfort = (struct case_comfort){.foam = "comfort-soft", .thickness = 0.008, .gap = 0.001};
}

Test(stack, thickest_stack_sets_the_space)
{
    struct helmet helmet;
    struct stack_site site;
    helmet_make(&helmet);
    cr_assert_float_eq(stack_space(&helmet.file), 0.044, 1e-12);
    cr_assert_float_eq(stack_inner_radius(&helmet.file), 0.144, 1e-12);
    stack_site(&helmet.file, 1, 1.0, 0.3, &site);
    cr_assert_float_eq(site.head, 0.1, 1e-12);
    cr_assert_float_eq(site.inner, 0.144, 1e-12);
    cr_assert_float_eq(site.outer, 0.1475, 1e-12);
}

Test(stack, layers_follow_from_the_shell_inwards)
{
    struct helmet helmet;
    struct stack_site site;
    struct stack stack;
    helmet_make(&helmet);
    stack_site(&helmet.file, 1, 1.0, 0.3, &site);
    stack_close(&helmet.file, 1, &site, &stack);
    cr_assert_eq(stack.layer_count, 2);
    cr_assert_float_eq(stack.layers[0].outer, 0.144, 1e-12);
    cr_assert_float_eq(stack.layers[0].inner, 0.126, 1e-12);
    cr_assert_float_eq(stack.layers[1].inner, 0.109, 1e-12);
    cr_assert_float_eq(stack.comfort, 0.008, 1e-12);
    cr_assert_float_eq(stack.gap, 0.001, 1e-12);
    cr_assert_eq(stack.fill, 0);
    cr_assert_eq(stack.excess, 0);
}

Test(stack, rest_goes_to_padding_or_gap)
{
    struct helmet helmet;
    struct stack_site site;
    struct stack stack;
    helmet_make(&helmet);
    stack_site(&helmet.file, 2, 1.0, 0.3, &site);
    stack_close(&helmet.file, 2, &site, &stack);
    cr_assert_float_eq(stack.fill, 0.005, 1e-12);
    cr_assert_float_eq(stack.comfort, 0.013, 1e-12);
    cr_assert_float_eq(stack.gap, 0.001, 1e-12);
    helmet.file.fill_gap = 1;
    stack_close(&helmet.file, 2, &site, &stack);
    cr_assert_float_eq(stack.comfort, 0.008, 1e-12);
    cr_assert_float_eq(stack.gap, 0.006, 1e-12);
    helmet.file.fill_gap = 0;
    helmet.regions[2].comfort_thickness = 0;
    stack_close(&helmet.file, 2, &site, &stack);
    cr_assert_eq(stack.comfort, 0, "padding that is not there takes up nothing");
    cr_assert_float_eq(stack.gap, 0.014, 1e-12);
}

Test(stack, given_inner_radius_leaves_a_space_or_an_excess)
{
    struct helmet helmet;
    struct stack_site site;
    struct stack stack;
    helmet_make(&helmet);
    helmet.file.shell.inner_radius = 0.142;
    cr_assert_float_eq(stack_space(&helmet.file), 0.042, 1e-12);
    stack_site(&helmet.file, 1, 1.0, 0.3, &site);
    stack_close(&helmet.file, 1, &site, &stack);
    cr_assert_float_eq(stack.excess, 0.002, 1e-12);
}

/* The ellipsoid's radii at the crown are a^2/c and b^2/c; sqrt of their product is a b / c. */
Test(stack, head_radius_is_the_ellipsoids_there)
{
    struct helmet helmet;
    helmet_make(&helmet);
    helmet.file.headform.sphere = 0;
    cr_assert_float_eq(stack_head_radius_at(&helmet.file.headform, pi / 2, 0), 0.101 * 0.08 / 0.09, 1e-12);
    cr_assert_float_eq(stack_head_radius(&helmet.file.headform), 0.1, 1e-12);
    helmet.file.headform.radius = 0.095;
    cr_assert_float_eq(stack_head_radius_at(&helmet.file.headform, pi / 2, 0), 0.095, 1e-12);
}

Test(stack, a_regions_own_radii_come_first)
{
    struct helmet helmet;
    struct stack_site site;
    helmet_make(&helmet);
    helmet.regions[1].outer_radius = 0.2;
    stack_site(&helmet.file, 1, 1.0, 0.3, &site);
    cr_assert_float_eq(site.outer, 0.2, 1e-12);
    cr_assert_float_eq(site.head, 0.2 - 0.0035 - 0.044, 1e-12);
    helmet.regions[1].head_radius = 0.15;
    stack_site(&helmet.file, 1, 1.0, 0.3, &site);
    cr_assert_float_eq(site.head, 0.15, 1e-12);
    cr_assert_float_eq(site.inner, 0.1965, 1e-12);
    stack_site(&helmet.file, 1, NAN, NAN, &site);
    cr_assert_float_eq(site.outer, 0.1475, 1e-12, "over a round head a region's radii are left aside");
}

Test(stack, words_name_every_part)
{
    struct helmet helmet;
    struct stack_site site;
    struct stack stack;
    char text[512];
    helmet_make(&helmet);
    helmet.parts[1].voids = 0.1;
    stack_site(&helmet.file, 1, 1.0, 0.3, &site);
    stack_close(&helmet.file, 1, &site, &stack);
    stack_words(&helmet.file, &stack, text, sizeof text);
    cr_assert_str_eq(text, "shell 3.5 mm | eps 45 kg/m3 18 mm | eps 30 kg/m3 less 10 % voids 17 mm | "
                           "comfort-soft 8 mm | gap 1 mm | head");
}

static double ball(double outer, double inner)
{
    return 4 * pi / 3 * (pow(outer, 3) - pow(inner, 3));
}

Test(stack, masses_add_up_over_the_head)
{
    static const double share[4] = {0.1, 0.25, 0.4, 0.25};
    struct helmet helmet;
    struct stack_masses masses;
    double liner[3];
    helmet_make(&helmet);
    helmet.parts[1].voids = 0.1;
    stack_masses(&helmet.file, share, 1050, 60, &masses, liner);
    double crown = 0.25 * (45 * ball(0.144, 0.126) + 0.9 * 30 * ball(0.126, 0.109));
    double elsewhere = 0.4 * 50 * ball(0.144, 0.114);
    cr_assert_float_eq(masses.covered, 0.65, 1e-12);
    cr_assert_float_eq(masses.shell, 0.65 * 1050 * ball(0.1475, 0.144), 1e-12);
    cr_assert_float_eq(liner[0], 0, 1e-15);
    cr_assert_float_eq(liner[1], crown, 1e-12);
    cr_assert_float_eq(liner[2], elsewhere, 1e-12);
    cr_assert_float_eq(masses.comfort, 60 * (0.25 * ball(0.109, 0.101) + 0.4 * ball(0.114, 0.101)), 1e-12);
    cr_assert_float_eq(masses.other, 0.35, 1e-15);
    cr_assert_float_eq(masses.helmet, masses.shell + crown + elsewhere + masses.comfort + 0.35, 1e-12);
}

Test(stack, helmet_as_weighed_closes_the_mass)
{
    static const double share[4] = {0.1, 0.25, 0.4, 0.25};
    struct helmet helmet;
    struct stack_masses masses;
    helmet_make(&helmet);
    helmet.file.shell.helmet_mass = 1.45;
    stack_masses(&helmet.file, share, 1050, 60, &masses, NULL);
    cr_assert_float_eq(masses.helmet, 1.45, 1e-12);
    cr_assert_float_eq(masses.other, 1.45 - masses.shell - masses.liner - masses.comfort, 1e-12);
}
