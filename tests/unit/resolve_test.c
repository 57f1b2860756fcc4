#include "solver/study/resolve.h"

#include <criterion/criterion.h>
#include <math.h>

#include "tests/support/cases.h"

/* From what a case says to what the solvers take: nothing that the case sets is left at its default. */

struct made {
    struct case_file file;
    struct resolver resolver;
    struct resolved resolved;
};

/* Resolves the first impact of a sound case. */
static void made_of(const char *text, struct made *made)
{
    struct errors errors = {0};
    char sentence[RESOLVE_SENTENCE];
    cases_load_text(text, &made->file);
    cr_assert_eq(resolver_make(&made->file, &made->resolver, &errors), STATUS_OK, "%s", errors.kept[0].text);
    cr_assert_eq(resolve_impact(&made->resolver, &made->file.impacts[0], &made->resolved, sentence, &errors),
                 STATUS_OK, "%s", errors.kept[0].text);
    cr_assert_str_eq(sentence, "");
}

static void made_free(struct made *made)
{
    resolved_free(&made->resolved);
    resolver_free(&made->resolver);
    case_free(&made->file);
}

static void expect(const char *what, double value, double wanted)
{
    cr_expect_float_eq(value, wanted, 1e-12 * fabs(wanted), "%s: %.15g, not %.15g", what, value, wanted);
}

Test(resolve, a_pad_takes_what_its_case_sets)
{
    struct made made;
    made_of("pad: {area: 75 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 21 mm, voids: 20 %},\n"
            "  {thickness: 14 mm, parallel: [{share: 40 %, foam: eps, density: 30 g/l, voids: 10 %},\n"
            "                                {share: 60 %, foam: eps, density: 60 g/l}]}]}\n"
            "striker: {mass: 4.2 kg}\nsolver: {cell: 2.5 mm, duration: 7 ms, gravity: false}\n"
            "impacts: [{speed: 4 m/s, temperature: 50 degC}]\n",
            &made);
    const struct pad_setup *pad = &made.resolved.pad, standard = pad_setup_default();
    expect("area", pad->area, 75e-4);
    expect("striker", pad->striker_mass, 4.2);
    expect("cell", pad->cell, 2.5e-3);
    expect("duration", pad->duration, 7e-3);
    cr_expect_eq(pad->gravity, 0);
    cr_expect_eq(pad->courant, standard.courant);
    cr_assert_eq(pad->layer_count, 2);
    expect("thickness", pad->layers[0].thickness, 21e-3);
    expect("share less voids", pad->layers[0].parts[0].share, 0.8);
    cr_assert_eq(pad->layers[1].part_count, 2);
    expect("part less voids", pad->layers[1].parts[0].share, 0.4 * 0.9);
    expect("part without voids", pad->layers[1].parts[1].share, 0.6);
    expect("density", pad->layers[1].parts[1].foam->density, 60);
    expect("temperature", pad->layers[0].parts[0].foam->temperature, 50);
    made_free(&made);
}

Test(resolve, a_helmet_takes_what_its_case_sets)
{
    struct made made;
    made_of("headform: {set: en-960, size: J}\nshell: {material: abs, thickness: 3 mm, helmet_mass: 1.6 kg}\n"
            "comfort: {foam: comfort-soft, thickness: 9 mm, gap: 1 mm}\nfit: {mismatch: 13 mm}\n"
            "liner: {foam: eps, regions: [{name: all, layers: [{density: 45 g/l, thickness: 35 mm, voids: 15 "
            "%}]}]}\n"
            "solver: {rings: 24, cell: 4 mm, duration: 6 ms, phi_max: 70 deg, gravity: false}\n"
            "impacts: [{at: P, anvil: hemisphere, speed: 5 m/s, friction: {head: 0.25}}]\n",
            &made);
    const struct columns_setup *setup = &made.resolved.columns, *zones = &made.resolved.zones.helmet;
    expect("rings", (double)setup->rings, 24);
    expect("cell", setup->cell, 4e-3);
    expect("duration", setup->duration, 6e-3);
    expect("phi_max", setup->phi_max, 70 * acos(-1) / 180);
    expect("mismatch", setup->mismatch, 13e-3);
    expect("friction on the head", setup->head_friction, 0.25);
    expect("shell", setup->shell_thickness, 3e-3);
    expect("helmet", setup->helmet_mass, 1.6);
    expect("speed", setup->speed, 5);
    cr_expect_eq(setup->gravity, 0);
    cr_assert_eq(setup->region_count, 1);
    const struct columns_region *region = &setup->regions[0];
    expect("share less voids", region->layers[0].parts[0].share, 0.85);
    expect("comfort layer", region->comfort_thickness, 9e-3);
    expect("gap", region->gap, 1e-3);
    expect("its pressure at 40 %, of materials/comfort-soft.csv", region->comfort_stress, 18e3);
    expect("its density, of materials/comfort-soft.csv", region->comfort_density, 40);
    expect("mismatch, zones", zones->mismatch, 13e-3);
    expect("friction on the head, zones", zones->head_friction, 0.25);
    expect("duration, zones", zones->duration, 6e-3);
    expect("pressure at 40 %, zones", zones->regions[0].comfort_stress, 18e3);
    made_free(&made);
}

Test(resolve, what_a_case_leaves_out_keeps_its_default)
{
    struct made made;
    const struct columns_setup standard = columns_setup_default();
    made_of("headform: {set: en-960, size: J}\nliner: {foam: eps, density: 45 g/l, thickness: 35 mm}\n"
            "impacts: [{at: P, anvil: flat, speed: 5 m/s}]\n",
            &made);
    const struct columns_setup *setup = &made.resolved.columns;
    cr_expect_eq(setup->head_friction, standard.head_friction);
    cr_expect_eq(setup->mismatch, 0);
    cr_expect_eq(setup->cell, standard.cell);
    cr_expect_eq(setup->duration, standard.duration);
    cr_expect_eq(setup->gravity, standard.gravity);
    cr_expect_eq(setup->regions[0].comfort_stress, 0);
    made_free(&made);
}

/* Voids take area away, of the stress and of the mass: a pad of A with voids v is a pad of A (1 - v). */
Test(resolve, voids_are_area_that_is_not_there)
{
#define PAD(area, voids)                                                                                     \
    "pad: {area: " area ", layers: [{foam: eps, density: 50 g/l, thickness: 30 mm" voids "}]}\n"             \
    "striker: {mass: 4 kg}\nimpacts: [{speed: 4 m/s}]\n"
    struct case_result holed, narrow, whole;
    cases_solve_text(PAD("100 cm2", ", voids: 40 %"), &holed);
    cases_solve_text(PAD("60 cm2", ""), &narrow);
    cases_solve_text(PAD("100 cm2", ""), &whole);
    static const enum metric metrics[] = {METRIC_peak, METRIC_hic, METRIC_crush, METRIC_restitution,
                                          METRIC_pulse};
    for (size_t i = 0; i < sizeof metrics / sizeof *metrics; i++) {
        double value = holed.hits[0].output.metrics[metrics[i]];
        double wanted = narrow.hits[0].output.metrics[metrics[i]];
        printf("figure: 40 %% voids in 100 cm2 against 60 cm2 without: %s off by %.1e (at most 1e-9)\n",
               metric_table[metrics[i]].name, fabs(value / wanted - 1));
        cr_expect_float_eq(value / wanted, 1, 1e-9, "%s: %.12g, not %.12g", metric_table[metrics[i]].name,
                           value, wanted);
    }
    cr_expect(whole.hits[0].output.metrics[METRIC_peak] > 1.2 * holed.hits[0].output.metrics[METRIC_peak]);
    case_result_free(&holed);
    case_result_free(&narrow);
    case_result_free(&whole);
}

/* 30 mm in cells of 5 mm are 6; a record of 3 ms ends there, before the pulse does. */
Test(resolve, cell_and_duration_of_a_pad_are_those_of_the_case)
{
    struct case_result result;
    cases_solve_text(PAD("60 cm2", "") "solver: {cell: 5 mm, duration: 3 ms}\n", &result);
    const struct impact_output *output = &result.hits[0].output;
    cr_expect_eq(output->cells, 6);
    cr_expect_not(output->separated);
    cr_expect_float_eq((double)output->count * output->interval, 3e-3, 1.01 * output->interval);
    case_result_free(&result);
}

/* --- conditions --- */

#define CONDITIONED(shell, more, impact)                                                                     \
    "headform: {size: J}\nshell: {material: abs, thickness: 3 mm" shell "}\n"                                \
    "comfort: {thickness: 6 mm}\nliner: {foam: eps, density: 50 g/l, thickness: 35 mm}\n" more               \
    "impacts: [{at: P, anvil: flat, speed: 5 m/s" impact "}]\n"

/* A table of the shell is one factor on its modulus, yield stress and hardening, by straight lines between
 * its rows: at 1.5 degC half-way from 2 to 1. */
Test(resolve, a_shell_has_the_stresses_of_its_temperature)
{
    static const char *const tables[] = {
        CONDITIONED(", hardening: 10 MPa", "", ", temperature: 1.5 degC"),
        CONDITIONED(", hardening: 10 MPa, temperature: [[-20 degC, 2], [23 degC, 1]]", "",
                    ", temperature: 1.5 degC"),
        CONDITIONED(", hardening: 10 MPa, temperature: [[-20 degC, 2], [23 degC, 1]]", "", "")};
    static const double factor[] = {1.0, 1.5, 1.0};
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++) {
        struct made made;
        made_of(tables[i], &made);
        const struct shell_sheet *sheets[] = {&made.resolved.columns.shell,
                                              &made.resolved.zones.helmet.shell};
        for (int k = 0; k < 2; k++) {
            expect("modulus", sheets[k]->youngs_modulus, 2.39e9 * factor[i]);
            expect("yield stress", sheets[k]->yield_stress, 37.9e6 * factor[i]);
            expect("hardening", sheets[k]->hardening, 10e6 * factor[i]);
            expect("density", sheets[k]->density, 1040);
        }
        made_free(&made);
    }
}

Test(resolve, what_comes_back_between_hits_is_that_of_the_impact)
{
    struct made made;
    made_of("headform: {size: J}\nliner: {foam: eps, density: 50 g/l, thickness: 35 mm}\n"
            "impacts: [{at: P, anvil: flat, hits: [5 m/s, 4 m/s], recovered: 15 %}]\n",
            &made);
    expect("columns", made.resolved.columns.recovered, 0.15);
    expect("zones", made.resolved.zones.helmet.recovered, 0.15);
    made_free(&made);
    made_of("pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 35 mm}]}\nstriker: {mass: "
            "5 kg}\n"
            "impacts: [{hits: [4 m/s, 4 m/s], recovered: 15 %}]\n",
            &made);
    expect("pad", made.resolved.pad.recovered, 0.15);
    made_free(&made);
}

/* Wet factors hold where it is wet, on the padding and on the default friction, not on what an impact gives.
 */
Test(resolve, wet_changes_padding_and_friction)
{
#define WET "wet: {comfort_factor: 0.5, friction_factor: 0.25}\n"
    static const char *const cases[] = {CONDITIONED("", "", ", condition: wet"), CONDITIONED("", WET, ""),
                                        CONDITIONED("", WET, ", condition: wet"),
                                        CONDITIONED("", WET, ", condition: wet, friction: {head: 0.3}"),
                                        CONDITIONED("", "wet: {friction_factor: 2}\n", ", condition: wet")};
    static const double padding[] = {1, 1, 0.5, 0.5, 1}, friction[] = {0.16, 0.16, 0.04, 0.3, 0.32};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct made made;
        made_of(cases[i], &made);
        const struct columns_setup *setups[] = {&made.resolved.columns, &made.resolved.zones.helmet};
        for (int k = 0; k < 2; k++) {
            expect("padding", setups[k]->regions[0].comfort_stress, 18e3 * padding[i]);
            expect("friction", setups[k]->head_friction, friction[i]);
        }
        made_free(&made);
    }
#undef WET
}
