/*
 * Reading of cases: what is accepted, defaults, and every fault with its place. In a text, @ stands right
 * before the place that the message must name and is taken out before reading.
 */

#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cases/case.h"
#include "solver/base/memory.h"

enum { TEXT_MAX = 16384 };

/* A text without its mark, and where that stood (0:0 without one). */
struct marked {
    char text[TEXT_MAX];
    int line, column;
};

static void marked_read(const char *source, struct marked *marked)
{
    size_t length = 0;
    int line = 1, column = 1;
    *marked = (struct marked){0};
    for (; *source && length + 1 < TEXT_MAX; source++) {
        if (*source == '@') {
            marked->line = line;
            marked->column = column;
            continue;
        }
        marked->text[length++] = *source;
        column = *source == '\n' ? 1 : column + 1;
        line += *source == '\n';
    }
}

/* Loads a case from a text by way of a file of its own. */
static enum status load_text(const char *text, struct case_file *file, struct errors *errors)
{
    char path[] = "/tmp/foampulse_case_XXXXXX";
    int descriptor = mkstemp(path);
    cr_assert(descriptor >= 0);
    cr_assert_eq(write(descriptor, text, strlen(text)), (ssize_t)strlen(text));
    close(descriptor);
    enum status status = case_load(path, NULL, 0, file, errors);
    unlink(path);
    return status;
}

static void load_sound(const char *text, struct case_file *file)
{
    struct errors errors = {0};
    enum status status = load_text(text, file, &errors);
    cr_assert_eq(status, STATUS_OK, "%d:%d: %s", errors.kept[0].line, errors.kept[0].column,
                 errors.kept[0].text);
    cr_assert_eq(errors.count, 0);
}

/* A text with one fault, and a part of its message. */
struct fault {
    const char *source, *message;
};

static void expect_faults(const struct fault *faults, size_t count)
{
    static struct marked marked;
    for (size_t i = 0; i < count; i++) {
        struct errors errors = {0};
        struct case_file file;
        marked_read(faults[i].source, &marked);
        enum status status = load_text(marked.text, &file, &errors);
        const struct error *first = &errors.kept[0];
        cr_expect_eq(status, STATUS_INPUT, "accepted:\n%s", marked.text);
        cr_expect_eq(errors.count, 1, "%zu errors, the second: %s\n%s", errors.count, errors.kept[1].text,
                     marked.text);
        cr_expect(strstr(first->text, faults[i].message), "message \"%s\", not \"%s\"", first->text,
                  faults[i].message);
        cr_expect(first->line == marked.line && first->column == marked.column,
                  "%s: at %d:%d, not at %d:%d in\n%s", first->text, first->line, first->column, marked.line,
                  marked.column, marked.text);
        cr_expect(file.tree.root == NULL && file.impacts == NULL, "not zeroed");
        case_free(&file);
    }
}
#define EXPECT_FAULTS(faults) expect_faults(faults, sizeof(faults) / sizeof *(faults))

#define PAD     "pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 35 mm}]}\n"
#define STRIKER "striker: {mass: 5 kg}\n"
#define DROP    "impacts: [{speed: 5.42 m/s}]\n"

/* --- bench test --- */

Test(case_pad, smallest_has_all_defaults)
{
    struct case_file file;
    load_sound(PAD STRIKER DROP, &file);
    cr_assert(file.pad.present);
    cr_assert_float_eq(file.pad.area, 60e-4, 1e-15);
    cr_assert_eq(file.pad.layer_count, 1);
    cr_assert_float_eq(file.pad.layers[0].thickness, 0.035, 1e-15);
    cr_assert_eq(file.pad.layers[0].part_count, 1);
    const struct case_part *part = &file.pad.layers[0].parts[0];
    cr_assert_str_eq(part->foam, "eps");
    cr_assert_eq(part->density, 50);
    cr_assert_eq(part->share, 1);
    cr_assert_eq(part->voids, 0);
    cr_assert_eq(file.pad.striker_mass, 5);
    cr_assert_str_eq(file.model, "pad");
    cr_assert_str_eq(file.title, "");
    cr_assert(isnan(file.target));
    cr_assert(isnan(file.limit[METRIC_peak]) && isnan(file.helmet_mass_limit));
    case_free(&file);
}

Test(case_pad, impact_has_all_defaults)
{
    struct case_file file;
    load_sound(PAD STRIKER DROP, &file);
    cr_assert_eq(file.impact_count, 1);
    const struct case_impact *impact = &file.impacts[0];
    cr_assert_eq(impact->number, 1);
    cr_assert_eq(impact->region, -1);
    cr_assert_eq(impact->hit_count, 1);
    cr_assert_eq(impact->speed[0], 5.42);
    cr_assert_eq(impact->temperature, 23);
    cr_assert_eq(impact->recovered, 0);
    cr_assert_eq(impact->angle, 0);
    cr_assert_str_eq(impact->anvil.name, "flat");
    case_free(&file);
}

Test(case_pad, solver_defaults_and_own_values)
{
    struct case_file file;
    load_sound(PAD STRIKER DROP, &file);
    cr_assert_eq(file.solver.gravity, 1);
    cr_assert_eq(file.solver.rings, 48);
    cr_assert_float_eq(file.solver.cell, 1.75e-3, 1e-15);
    cr_assert_float_eq(file.solver.duration, 25e-3, 1e-15);
    cr_assert_float_eq(file.solver.phi_max, 80 * 3.14159265358979323846 / 180, 1e-15);
    cr_assert_eq(file.solver.opening_hoop, 0.25);
    case_free(&file);
    load_sound(PAD STRIKER DROP "solver: {gravity: false, rings: 96, cell: 1 mm, duration: 12 ms}\n", &file);
    cr_assert_eq(file.solver.gravity, 0);
    cr_assert_eq(file.solver.rings, 96);
    cr_assert_float_eq(file.solver.cell, 1e-3, 1e-15);
    cr_assert_float_eq(file.solver.duration, 12e-3, 1e-15);
    case_free(&file);
}

/* sqrt(2 g h) with g = 9.80665 m/s2 for 1.5 m, sqrt(2 E / m) for 90 J and 5 kg: by hand. */
Test(case_pad, hits_of_every_kind)
{
    struct case_file file;
    load_sound(PAD STRIKER "impacts:\n"
                           "  - {drop_height: 1.5 m, condition: cold}\n"
                           "  - {energy: 90 J, temperature: 40 degC}\n"
                           "  - {hits: [5 m/s, 1.5 m, 90 J, 18 km/h], recovered: 10 %, condition: hot}\n",
               &file);
    cr_assert_float_eq(file.impacts[0].speed[0], 5.42401, 1e-5);
    cr_assert_eq(file.impacts[0].temperature, -20);
    cr_assert_str_eq(file.impacts[0].condition, "cold");
    cr_assert_eq(file.impacts[1].speed[0], 6);
    cr_assert_eq(file.impacts[1].temperature, 40);
    const double expected[4] = {5, 5.42401, 6, 5};
    cr_assert_eq(file.impacts[2].hit_count, 4);
    for (int i = 0; i < 4; i++)
        cr_assert_float_eq(file.impacts[2].speed[i], expected[i], 1e-5);
    cr_assert_float_eq(file.impacts[2].recovered, 0.1, 1e-15);
    cr_assert_eq(file.impacts[2].temperature, 50);
    case_free(&file);
}

Test(case_pad, limits_are_kept_in_the_unit_of_the_metric)
{
    struct case_file file;
    load_sound(PAD STRIKER DROP "limits: {peak_g: 275 g, hic: 2400, above_150g: 5 ms, peak_force: 15 kN}\n"
                                "target: 90 %\n",
               &file);
    cr_assert_float_eq(file.limit[METRIC_peak], 275, 1e-10);
    cr_assert_eq(file.limit[METRIC_hic], 2400);
    cr_assert_float_eq(file.limit[METRIC_above_150g], 5, 1e-12);
    cr_assert_eq(file.limit[METRIC_peak_force], 15000);
    cr_assert(isnan(file.limit[METRIC_gsi]));
    cr_assert_float_eq(file.target, 0.9, 1e-15);
    case_free(&file);
}

Test(case_pad, foams_side_by_side_and_own_foams)
{
    struct case_file file;
    load_sound(
        "foams:\n"
        "  bench60: {density: 60 kg/m3, stress_10: 0.4 MPa, gas_pressure: 0 kPa, knee: sharp,\n"
        "            densification_modulus: 1 MPa, unloading_softening: 0,\n"
        "            temperature: [[-20 degC, 1.1], [23 degC, 1.0]]}\n"
        "pad:\n"
        "  area: 60 cm2\n"
        "  layers:\n"
        "    - {foam: bench60, thickness: 10 mm}\n"
        "    - {thickness: 25 mm, voids: 5 %, parallel: [{share: 40 %, density: 30 g/l},\n"
        "                                     {share: 60 %, density: 60 g/l, voids: 10 %}]}\n" STRIKER DROP,
        &file);
    cr_assert_eq(file.foam_count, 1);
    const struct case_foam *foam = &file.foams[0];
    cr_assert_str_eq(foam->name, "bench60");
    cr_assert_str_eq(foam->like, "eps");
    cr_assert_eq(foam->stress_10, 4e5);
    cr_assert_eq(foam->gas_pressure, 0);
    cr_assert(isnan(foam->collapse_stress) && isnan(foam->rate_gain));
    cr_assert_eq(foam->knee, 2);
    cr_assert_eq(foam->temperature_count, 2);
    cr_assert_eq(foam->temperature[0], -20);
    cr_assert_eq(foam->temperature_factor[0], 1.1);
    cr_assert_eq(file.pad.layers[0].parts[0].density, 60);
    const struct case_layer *layer = &file.pad.layers[1];
    cr_assert_eq(layer->part_count, 2);
    cr_assert_float_eq(layer->parts[0].share, 0.4, 1e-15);
    cr_assert_float_eq(layer->parts[0].voids, 0.05, 1e-15);
    cr_assert_float_eq(layer->parts[1].voids, 0.10, 1e-15);
    cr_assert_str_eq(layer->parts[1].foam, "eps");
    case_free(&file);
}

Test(case_pad, hash_follows_the_content_alone)
{
    struct case_file a, b, c;
    load_sound(PAD STRIKER DROP, &a);
    load_sound("# a remark\n" PAD "\n" STRIKER "impacts:\n  - speed: 5.42 m/s\n", &b);
    load_sound(PAD STRIKER "impacts: [{speed: 5.43 m/s}]\n", &c);
    cr_assert_eq(strlen(a.hash), 32);
    cr_assert_str_eq(a.hash, b.hash);
    cr_assert_str_neq(a.hash, c.hash);
    case_free(&a);
    case_free(&b);
    case_free(&c);
}

static const struct fault pad_faults[] = {
    /* keys */
    {PAD STRIKER DROP "@titel: x\n", "key of a case 'titel' is not known; nearest: 'title'"},
    {"pad: {area: 60 cm2, @layer: [{density: 50 g/l, thickness: 35 mm}], layers: [{density: 50 g/l, "
     "thickness: "
     "35 mm}]}\n" STRIKER DROP,
     "nearest: 'layers'"},
    {PAD STRIKER DROP "sweep: @{points: 5}\n", "`vary` takes 1 to 64 paths with values"},
    {PAD STRIKER DROP "tune: @{runs: 5}\n", "`tune` needs the ranges of a `sweep`"},
    {PAD STRIKER DROP "programme: @[x]\n", "a programme strikes helmets"},
    {PAD STRIKER DROP "sizes: @{M: {take_up: gap}}\n", "a case with a `pad` has no `sizes`"},
    {PAD STRIKER DROP "limits: @un-r22.06\n", "a programme strikes helmets"},
    {PAD STRIKER DROP "limits: {@peak: 275 g}\n", "limit 'peak' is not known; nearest: 'peak_g'"},
    {PAD STRIKER DROP "limits: {peak_g: @275}\n", "no unit"},
    {PAD STRIKER DROP "limits: {hic: @2400 g}\n", "`hic`"},
    {PAD STRIKER DROP "limits: {@helmet_mass: 1.4 kg}\n", "a pad has no helmet mass"},
    {PAD STRIKER DROP "limits: @[1]\n", "takes {METRIC: VALUE"},
    {PAD STRIKER DROP "model: @axisymmetric\n", "does not fit a pad: it takes 'pad'"},
    {PAD STRIKER DROP "model: @column\n", "nearest: 'columns'"},
    {PAD STRIKER DROP "model: @columns\n", "does not fit a pad"},
    {PAD STRIKER DROP "target: @110 %\n", "must be above 0"},
    /* kinds */
    {PAD STRIKER DROP "solver: @fast\n", "written as keys with values; keys: gravity, rings"},
    {PAD STRIKER DROP "solver: {gravity: @yes}\n", "takes true or false"},
    {PAD STRIKER DROP "solver: {gravity: @\"true\"}\n", "takes true or false"},
    {PAD STRIKER DROP "solver: {rings: @48.5}\n", "a whole number from 4 to 1024"},
    {PAD STRIKER DROP "solver: {rings: @1025}\n", "a whole number from 4 to 1024"},
    {PAD STRIKER DROP "solver: {rings: @2}\n", "a whole number from 4 to 1024"},
    {PAD STRIKER DROP "title: @[a]\n", "`title` takes a text"},
    {PAD STRIKER "impacts: @{speed: 5 m/s}\n", "`impacts` takes a list"},
    {PAD STRIKER "impacts: @[]\n", "1 to 1000 items; got 0"},
    {PAD STRIKER "impacts: [@5 m/s]\n", "an impact is written as keys"},
    /* what is missing */
    {"@" PAD DROP, "`striker` is missing"},
    {PAD "striker: @{}\n" DROP, "`mass` is missing"},
    {"@" PAD STRIKER, "`impacts` is missing"},
    {"pad: @{layers: [{density: 50 g/l, thickness: 35 mm}]}\n" STRIKER DROP, "`area` is missing"},
    {"pad: @{area: 60 cm2}\n" STRIKER DROP, "`layers` is missing"},
    {"pad: {area: 60 cm2, layers: [@{density: 50 g/l}]}\n" STRIKER DROP, "`thickness` is missing"},
    {"pad: {area: 60 cm2, layers: [@{thickness: 35 mm}]}\n" STRIKER DROP, "`density` is missing"},
    /* values */
    {"pad: {area: @60, layers: [{density: 50 g/l, thickness: 35 mm}]}\n" STRIKER DROP, "no unit"},
    {"pad: {area: @60 mm, layers: [{density: 50 g/l, thickness: 35 mm}]}\n" STRIKER DROP, "a length"},
    {"pad: {area: 60 cm2, layers: [{density: 50 g/l, thickness: @-35 mm}]}\n" STRIKER DROP,
     "`thickness` must be above 0"},
    {"pad: {area: 60 cm2, layers: [{density: 50 g/l, thickness: @0 mm}]}\n" STRIKER DROP,
     "`thickness` must be above 0"},
    {"pad: {area: 60 cm2, layers: [{density: 50 g/l, thickness: @35 m}]}\n" STRIKER DROP, "200 mm at most"},
    {"pad: {area: 60 cm2, layers: [{density: @0 g/l, thickness: 35 mm}]}\n" STRIKER DROP,
     "`density` must be above 0"},
    {"pad: {area: 60 cm2, layers: [{density: @nan, thickness: 35 mm}]}\n" STRIKER DROP, "`density`"},
    {"pad: {area: 60 cm2, layers: [{density: @[50 g/l], thickness: 35 mm}]}\n" STRIKER DROP, "one value"},
    {"pad: {area: 60 cm2, layers: [{density: @\"50 g/l\", thickness: 35 mm}]}\n" STRIKER DROP, "one value"},
    {"pad: {area: 60 cm2, layers: [{density: 50 g/l, thickness: 9 mm, voids: @100 %}]}\n" STRIKER DROP,
     "`voids` must be from 0 % to 95 %"},
    /* parallel */
    {"pad: {area: 60 cm2, layers: [{thickness: 9 mm, parallel: @[{share: 40 %, density: 30 g/l}]}]}\n" STRIKER
         DROP,
     "sum to 40 %, not to 100 %"},
    {"pad: {area: 60 cm2, layers: [{thickness: 9 mm, density: 30 g/l, parallel: @[{share: 1, density: 30 "
     "g/l}]}]}\n" STRIKER DROP,
     "`density` and `parallel` exclude each other"},
    {"pad: {area: 60 cm2, layers: [{thickness: 9 mm, parallel: [@{density: 30 g/l}]}]}\n" STRIKER DROP,
     "`share` is missing"},
    /* own foams */
    {"foams: {@1st: {density: 60 g/l}}\n" PAD STRIKER DROP, "a name has 1 to 40 letters"},
    {"foams: {a: {@densty: 60 g/l}}\n" PAD STRIKER DROP, "nearest: 'density'"},
    {"foams: {a: {collapse_stress: 1 MPa, stress_10: @1 MPa}}\n" PAD STRIKER DROP, "exclude each other"},
    {"foams: {a: {temperature: @[]}}\n" PAD STRIKER DROP, "takes pairs"},
    {"foams: {a: {temperature: [@[20 degC]]}}\n" PAD STRIKER DROP, "a pair is written"},
    {"foams: {a: {temperature: [[20 degC, 1], @[10 degC, 1]]}}\n" PAD STRIKER DROP, "must ascend"},
    {"foams: {a: {curves: [{density: 60 g/l, file: @nowhere.csv}]}}\n" PAD STRIKER DROP, "was not found"},
    {"foams: {a: {curves: [@{density: 60 g/l}]}}\n" PAD STRIKER DROP, "`file` is missing"},
    {"foams: {a: {density: 60 g/l}}\npad: {area: 60 cm2, layers: [{foam: a, density: @50 g/l, thickness: 9 "
     "mm}]}\n" STRIKER DROP,
     "foam 'a' has a density of its own, 60 kg/m3"},
    /* impacts */
    {PAD STRIKER "impacts: [@{temperature: 20 degC}]\n", "exactly one of speed, drop_height, energy, hits"},
    {PAD STRIKER "impacts: [{speed: 5 m/s, drop_height: @1 m}]\n", "exactly one of"},
    {PAD STRIKER "impacts: [{speed: @0 m/s}]\n", "`speed` must be above 0"},
    {PAD STRIKER "impacts: [{hits: @5 m/s}]\n", "a list of 1 to 20 hits"},
    {PAD STRIKER "impacts: [{hits: @[]}]\n", "a list of 1 to 20 hits"},
    {PAD STRIKER "impacts: [{hits: [5 m/s, @5 kg]}]\n", "a hit is a speed"},
    {PAD STRIKER "impacts: [{hits: [5 m/s, @-5 m/s]}]\n", "must be above 0"},
    {PAD STRIKER "impacts: [{speed: 5 m/s, condition: cold, temperature: @20 degC}]\n", "exclude each other"},
    {PAD STRIKER "impacts: [{speed: 5 m/s, condition: @warm}]\n", "allowed: ambient, cold, hot, wet"},
    {PAD STRIKER "impacts: [{speed: 5 m/s, recovered: @10 %}]\n", "two hits or more"},
    {PAD STRIKER "impacts: [{speed: 5 m/s, at: @P}]\n", "an impact on a `pad` has no `at`"},
    {PAD STRIKER "impacts: [{speed: 5 m/s, anvil: @flat}]\n", "an impact on a `pad` has no `anvil`"},
    /* helmet keys */
    {PAD STRIKER DROP "liner: @{density: 50 g/l, thickness: 35 mm}\n", "a case with a `pad` has no `liner`"},
    {PAD STRIKER DROP "headform: @{size: J}\n", "a case with a `pad` has no `headform`"},
};

Test(case_pad, every_fault_has_its_place)
{
    EXPECT_FAULTS(pad_faults);
}

Test(case_pad, all_faults_of_a_round_are_reported_up_to_ten)
{
    struct errors errors = {0};
    struct case_file file;
    cr_assert_eq(load_text("a1: 1\na2: 1\na3: 1\na4: 1\na5: 1\na6: 1\na7: 1\na8: 1\na9: 1\nb1: 1\nb2: 1\n"
                           "b3: 1\n" PAD STRIKER DROP,
                           &file, &errors),
                 STATUS_INPUT);
    cr_assert_eq(errors.count, 12);
    cr_assert_eq(errors.kept[9].line, 10);
}

Test(case_pad, memory_that_runs_out_anywhere_is_reported_and_released)
{
    size_t successes = 0;
    for (;; successes++) {
        struct errors errors = {0};
        struct case_file file;
        size_t failures = memory_failures();
        memory_fail_after(successes);
        enum status status = load_text(
            "foams: {a: {density: 60 g/l, temperature: [[20 degC, 1]]}}\n" PAD STRIKER DROP "title: x\n",
            &file, &errors);
        memory_fail_after(SIZE_MAX);
        if (memory_failures() == failures) {
            cr_assert_eq(status, STATUS_OK);
            case_free(&file);
            break;
        }
        cr_expect_eq(status, STATUS_MEMORY, "failure %zu: status %d", successes, status);
        cr_expect(file.tree.root == NULL && file.pad.layers == NULL, "failure %zu: not zeroed", successes);
    }
    cr_assert(successes > 20, "only %zu allocations", successes);
}

/* --- helmets --- */

#define HEADFORM "headform: {size: J}\n"
#define SHELL    "shell: {material: abs, thickness: 3.5 mm}\n"
#define LINER    "liner: {foam: eps, density: 50 g/l, thickness: 35 mm}\n"
#define IMPACT   "impacts: [{at: P, anvil: flat, speed: 7.5 m/s}]\n"
#define LIMITS   "limits: {peak_g: 275 g, hic: 2400}\n"
#define REST     "    - {name: elsewhere, layers: [{density: 45 g/l, thickness: 35 mm}]}\n"
#define OPENING                                                                                              \
    "    - {name: vision opening, elevation: [-40 deg, 5 deg], azimuth: [-65 deg, 65 deg], open: true}\n"

static const double degree = 3.14159265358979323846 / 180;

Test(case_helmet, smallest_has_all_defaults)
{
    struct case_file file;
    load_sound(HEADFORM SHELL LINER IMPACT LIMITS, &file);
    cr_assert_str_eq(file.headform.set, "en-960");
    cr_assert_str_eq(file.headform.size, "J");
    cr_assert_float_eq(file.headform.mass, 4.7, 1e-12);
    cr_assert_float_eq(file.headform.circumference, 0.57, 1e-12);
    cr_assert_eq(file.headform.sphere, 0);
    cr_assert(isnan(file.headform.radius));
    cr_assert_str_eq(file.shell.material, "abs");
    cr_assert_eq(file.shell.loose, 0);
    cr_assert_eq(file.shell.extra_mass, 0);
    cr_assert(isnan(file.shell.helmet_mass) && isnan(file.shell.inner_radius));
    cr_assert_str_eq(file.comfort.foam, "");
    cr_assert_eq(file.comfort.thickness, 0);
    cr_assert_eq(file.comfort.gap, 0);
    cr_assert_eq(file.mismatch, 0);
    cr_assert_eq(file.fill_gap, 1);
    cr_assert_eq(file.layers_slip, 0);
    cr_assert_float_eq(file.slip_friction, 0.3, 1e-12);
    cr_assert_str_eq(file.model, "axisymmetric");
    case_free(&file);
}

Test(case_helmet, short_liner_is_one_region_with_one_layer)
{
    struct case_file file;
    load_sound(HEADFORM SHELL LINER IMPACT LIMITS, &file);
    cr_assert_eq(file.region_count, 1);
    cr_assert_eq(file.regions[0].layer_count, 1);
    cr_assert_eq(file.regions[0].layers[0].parts[0].density, 50);
    cr_assert_eq(file.map.edge_count, 1);
    cr_assert_float_eq(file.map.edge_elevation[0], -30 * degree, 1e-12);
    cr_assert_float_eq(file.map.inner_radius, 0.57 / (2 * 180 * degree) + 0.035, 1e-12);
    cr_assert_eq(file.impact_count, 1);
    cr_assert_eq(file.impacts[0].region, 0);
    cr_assert_str_eq(file.impacts[0].site, "P");
    cr_assert_float_eq(file.impacts[0].elevation, 90 * degree, 1e-12);
    cr_assert_str_eq(file.impacts[0].anvil.name, "flat");
    cr_assert_eq(file.impacts[0].angle, 0);
    cr_assert(isnan(file.impacts[0].towards[0]));
    case_free(&file);
}

static const char full_case[] =
    "title: \"Two-density touring liner, size M shell\"\n"
    "notes: \"free text, copied to the result\"\n"
    "headform: {set: en-960, size: J}\n"
    "shell:\n"
    "  material: glass-epoxy\n"
    "  thickness: 2.8 mm\n"
    "  lower_edge: -30 deg\n"
    "  bond: bonded\n"
    "  extra_mass: 0.35 kg\n"
    "comfort: {foam: comfort-soft, thickness: 8 mm, gap: 1 mm}\n"
    "fit: {mismatch: 0 mm}\n"
    "fill: comfort\n"
    "liner:\n"
    "  foam: eps\n"
    "  interface: bonded\n"
    "  regions:\n"
    "    - {name: vision opening, elevation: [-40 deg, 5 deg], azimuth: [-65 deg, 65 deg], open: true}\n"
    "    - name: brow\n"
    "      around: vision opening\n"
    "      width: 25 mm\n"
    "      layers: [{density: 60 kg/m3, thickness: 32 mm}]\n"
    "    - name: crown\n"
    "      centre: [90 deg, 0 deg]\n"
    "      half_angle: 40 deg\n"
    "      layers:\n"
    "        - {density: 45 kg/m3, thickness: 18 mm}\n"
    "        - {density: 30 kg/m3, thickness: 17 mm, voids: 10 %}\n"
    "    - {name: temples, elevation: [-30 deg, 30 deg], azimuth: [70 deg, 110 deg], mirror: true, layers: "
    "[{density: 50 kg/m3, thickness: 30 mm}]}\n"
    "    - {name: elsewhere, layers: [{density: 45 kg/m3, thickness: 35 mm}]}\n"
    "impacts:\n"
    "  - {at: P, anvil: flat, speed: 7.5 m/s}\n"
    "  - {at: B, anvil: kerbstone, drop_height: 2.87 m, temperature: -20 degC}\n"
    "  - {at: {region: brow}, anvil: hemisphere, hits: [7.0 m/s, 5.0 m/s], recovered: 10 %}\n"
    "  - {at: [20 deg, 180 deg], anvil: abrasive-45, speed: 28 km/h, towards: front}\n"
    "limits: {peak_g: 275 g, hic: 2400, helmet_mass: 1.45 kg}\n"
    "target: 90 %\n"
    "model: columns\n";

Test(case_helmet, full_case_is_read_whole)
{
    struct case_file file;
    load_sound(full_case, &file);
    cr_assert_str_eq(file.title, "Two-density touring liner, size M shell");
    cr_assert_str_eq(file.notes, "free text, copied to the result");
    cr_assert_float_eq(file.shell.thickness, 2.8e-3, 1e-15);
    cr_assert_float_eq(file.shell.extra_mass, 0.35, 1e-15);
    cr_assert_str_eq(file.comfort.foam, "comfort-soft");
    cr_assert_float_eq(file.comfort.gap, 1e-3, 1e-15);
    cr_assert_eq(file.fill_gap, 0);
    cr_assert_float_eq(file.helmet_mass_limit, 1.45, 1e-12);
    cr_assert_eq(file.region_count, 5);
    case_free(&file);
}

Test(case_helmet, regions_of_the_full_case)
{
    struct case_file file;
    load_sound(full_case, &file);
    const struct region_shape *shape = file.map.regions;
    cr_assert(shape[0].open && shape[0].bounds[0].kind == BOUND_BOX);
    cr_assert_float_eq(shape[0].bounds[0].elevation[0], -40 * degree, 1e-12);
    cr_assert_float_eq(shape[0].bounds[0].azimuth[1], 65 * degree, 1e-12);
    cr_assert_eq(shape[1].bounds[0].kind, BOUND_BAND);
    cr_assert_eq(shape[1].bounds[0].around, 0);
    cr_assert_float_eq(shape[1].bounds[0].width, 0.025, 1e-15);
    cr_assert_eq(shape[2].bounds[0].kind, BOUND_CAP);
    cr_assert_float_eq(shape[2].bounds[0].half_angle, 40 * degree, 1e-12);
    cr_assert(shape[3].mirror && !shape[2].mirror);
    cr_assert_eq(shape[4].bounds[0].kind, BOUND_ALL);
    cr_assert_eq(file.regions[2].layer_count, 2);
    cr_assert_float_eq(file.regions[2].layers[1].parts[0].voids, 0.1, 1e-15);
    cr_assert_eq(file.regions[2].shape.bounds, shape[2].bounds, "one set of bounds");
    case_free(&file);
}

Test(case_helmet, impacts_of_the_full_case)
{
    struct case_file file;
    load_sound(full_case, &file);
    const struct case_impact *impact = file.impacts;
    cr_assert_eq(file.impact_count, 4);
    cr_assert_eq(impact[0].region, 2);
    cr_assert_float_eq(impact[1].speed[0], sqrt(2 * 9.80665 * 2.87), 1e-12);
    cr_assert_eq(impact[1].temperature, -20);
    cr_assert_str_eq(impact[1].anvil.name, "kerbstone");
    cr_assert_eq(impact[2].region, 1);
    cr_assert_str_eq(impact[2].site, "brow");
    cr_assert_eq(impact[2].hit_count, 2);
    cr_assert_float_eq(impact[2].recovered, 0.1, 1e-15);
    cr_assert_float_eq(impact[3].elevation, 20 * degree, 1e-12);
    cr_assert_float_eq(impact[3].azimuth, 180 * degree, 1e-12);
    cr_assert_float_eq(impact[3].angle, 45 * degree, 1e-12);
    cr_assert_float_eq(impact[3].towards[0], 0, 1e-12);
    cr_assert_float_eq(impact[3].towards[1], 0, 1e-12);
    cr_assert_eq(impact[3].region, 4);
    case_free(&file);
}

/* Pairs of the lower edge may begin anywhere; 180 deg and -180 deg are one. */
Test(case_helmet, lower_edge_goes_round)
{
    static const char *const edges[] = {"[[-90 deg, -20 deg], [0 deg, -10 deg], [180 deg, -40 deg]]",
                                        "[[0 deg, -10 deg], [180 deg, -40 deg], [-90 deg, -20 deg]]",
                                        "[[-180 deg, -40 deg], [-90 deg, -20 deg], [0 deg, -10 deg]]"};
    static const double azimuth[] = {-180, -90, 0}, elevation[] = {-40, -20, -10};
    for (size_t k = 0; k < 3; k++) {
        struct case_file file;
        char text[1024];
        snprintf(text, sizeof text,
                 HEADFORM "shell: {material: abs, thickness: 3 mm, lower_edge: %s}\n" LINER IMPACT, edges[k]);
        load_sound(text, &file);
        cr_assert_eq(file.map.edge_count, 3);
        for (size_t i = 0; i < 3; i++) {
            cr_expect_float_eq(file.map.edge_azimuth[i] * 180 / 3.14159265358979, azimuth[i], 1e-9);
            cr_expect_float_eq(file.map.edge_elevation[i] * 180 / 3.14159265358979, elevation[i], 1e-9);
        }
        case_free(&file);
    }
}

Test(case_helmet, own_headform_shell_and_anvil)
{
    struct case_file file;
    load_sound(
        "headform: {mass: 4 kg, circumference: 560 mm, half_height: 88 mm, cg_offset: [1 mm, 0 mm, -2 mm],\n"
        "           inertia: [0.020 kg m2, 0.023 kg m2, 0.021 kg m2]}\n"
        "shell: {density: 1100 kg/m3, youngs_modulus: 2 GPa, poisson: 0.35, thickness: 3 mm,\n"
        "        lower_edge: [[-180 deg, -40 deg], [0 deg, -10 deg]], helmet_mass: 1.4 kg}\n" LINER
        "sites: {nape: [10 deg, 180 deg]}\n"
        "impacts: [{at: nape, anvil: {shape: hemisphere, radius: 48 mm, friction: 0.4}, speed: 5 m/s,\n"
        "           friction: {head: 0.2}}]\n",
        &file);
    cr_assert_str_eq(file.headform.size, "");
    cr_assert_eq(file.headform.mass, 4);
    cr_assert_float_eq(file.headform.half_axes[1] / file.headform.half_axes[0], 0.79, 1e-12);
    cr_assert_float_eq(file.headform.half_axes[2], 0.088, 1e-15);
    cr_assert_float_eq(file.headform.cg_offset[2], -2e-3, 1e-15);
    cr_assert_float_eq(file.headform.inertia[1], 0.023, 1e-15);
    cr_assert_str_eq(file.shell.material, "");
    cr_assert_eq(file.shell.youngs_modulus, 2e9);
    cr_assert_float_eq(file.shell.helmet_mass, 1.4, 1e-15);
    cr_assert_eq(file.map.edge_count, 2);
    cr_assert_float_eq(file.map.edge_azimuth[0], -180 * degree, 1e-12);
    cr_assert_float_eq(file.map.edge_elevation[1], -10 * degree, 1e-12);
    const struct case_impact *impact = &file.impacts[0];
    cr_assert_str_eq(impact->site, "nape");
    cr_assert_str_eq(impact->anvil.name, "own hemisphere");
    cr_assert_str_eq(impact->anvil.shape, "hemisphere");
    cr_assert_float_eq(impact->anvil.sizes.of[ANVIL_RADIUS], 0.048, 1e-15);
    cr_assert_eq(impact->anvil.friction, 0.4);
    cr_assert_eq(impact->head_friction, 0.2);
    case_free(&file);
}

Test(case_helmet, words_for_where_an_oblique_face_moves)
{
    static const struct {
        const char *word;
        double elevation, azimuth;
    } words[] = {{"front", 0, 0},
                 {"rear", 0, 180},
                 {"left", 0, -90},
                 {"right", 0, 90},
                 {"up", 90, 0},
                 {"down", -90, 0},
                 {"[10 deg, 20 deg]", 10, 20}};
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        struct case_file file;
        char text[512];
        snprintf(text, sizeof text,
                 HEADFORM SHELL LINER
                 "impacts: [{at: [20 deg, 45 deg], anvil: flat, angle: 30 deg, speed: 5 m/s, towards: %s}]\n",
                 words[i].word);
        load_sound(text, &file);
        cr_expect_float_eq(file.impacts[0].angle, 30 * degree, 1e-12);
        cr_expect_float_eq(file.impacts[0].towards[0], words[i].elevation * degree, 1e-12, "%s",
                           words[i].word);
        cr_expect_float_eq(file.impacts[0].towards[1], words[i].azimuth * degree, 1e-12, "%s", words[i].word);
        case_free(&file);
    }
}

/* 95 mm on the inner face of the shell: an angle of 95 mm over its radius. */
Test(case_helmet, circle_by_radius_areas_and_own_comfort)
{
    struct case_file file;
    load_sound(
        "headform: {size: J, shape: sphere}\n" SHELL "comfort: {thickness: 8 mm}\n"
        "liner:\n  regions:\n"
        "    - {name: crown, centre: [90 deg, 0 deg], radius: 95 mm, comfort: {thickness: 4 mm, gap: 2 mm},\n"
        "       layers: [{density: 45 g/l, thickness: 30 mm}]}\n"
        "    - {name: pads, areas: [{centre: [0 deg, 90 deg], half_angle: 10 deg},\n"
        "                           {elevation: [-20 deg, 20 deg], azimuth: [170 deg, -170 deg]}],\n"
        "       outer_radius: 140 mm, layers: [{density: 45 g/l, thickness: 30 mm}]}\n" REST IMPACT,
        &file);
    cr_assert_eq(file.headform.sphere, 1);
    cr_assert_float_eq(file.map.regions[0].bounds[0].half_angle, 0.095 / file.map.inner_radius, 1e-12);
    cr_assert_float_eq(file.map.inner_radius, 0.57 / (2 * 180 * degree) + 0.043, 1e-12);
    cr_assert_float_eq(file.regions[0].comfort_thickness, 4e-3, 1e-15);
    cr_assert_float_eq(file.regions[0].comfort_gap, 2e-3, 1e-15);
    cr_assert(isnan(file.regions[1].comfort_gap));
    cr_assert_float_eq(file.regions[1].outer_radius, 0.14, 1e-15);
    cr_assert_eq(file.map.regions[1].bound_count, 2);
    cr_assert_eq(file.map.regions[1].bounds[1].kind, BOUND_BOX);
    case_free(&file);
}

#define REGIONS(text) HEADFORM SHELL "liner:\n  regions:\n" text REST IMPACT
#define IMPACTS(text) HEADFORM SHELL LINER "impacts: [" text "]\n"

/* With data of one's own the default foam may be missing: then no text of the case holds its name. */
Test(case_helmet, default_foam_that_the_data_lack)
{
    char folder[] = "/tmp/foampulse_case_XXXXXX", path[128];
    struct errors errors = {0};
    struct case_file file;
    cr_assert(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/materials", folder);
    cr_assert_eq(mkdir(path, 0700), 0);
    snprintf(path, sizeof path, "%s/materials/foams.csv", folder);
    FILE *foams = fopen(path, "w");
    cr_assert(foams);
    fputs("name,file,use,title\nepp,materials/epp.csv,liner,bead foam\n", foams);
    fclose(foams);
    setenv("FOAMPULSE_DATA", folder, 1);
    cr_assert_eq(
        load_text(HEADFORM SHELL "liner: {density: 50 g/l, thickness: 35 mm}\n" IMPACT, &file, &errors),
        STATUS_INPUT);
    cr_assert_str_eq(errors.kept[0].text, "foam 'eps' is not known; nearest: 'epp'; allowed: epp");
    cr_assert(errors.kept[0].line == 3 && errors.kept[0].column == 8);
    unlink(path);
    *strrchr(path, '/') = '\0';
    rmdir(path);
    rmdir(folder);
}

static const struct fault helmet_faults[] = {
    /* headform */
    {"@" SHELL LINER IMPACT, "`headform` is missing"},
    {"headform: {size: @Q}\n" SHELL LINER IMPACT, "headform size 'Q' is not known"},
    {"headform: {set: @en-961, size: J}\n" SHELL LINER IMPACT, "nearest: 'en-960'"},
    {"headform: @{circumference: 570 mm}\n" SHELL LINER IMPACT, "mass"},
    {"headform: {size: J, mass: @0 kg}\n" SHELL LINER IMPACT, "`mass` must be above 0"},
    {"headform: {size: J, cg_offset: @[0 mm, 0 mm]}\n" SHELL LINER IMPACT, "a list of 3 values"},
    {"headform: {size: J, skin: @viny}\n" SHELL LINER IMPACT, "allowed: bare, silicone, vinyl"},
    {"headform: {size: J, shape: @ball}\n" SHELL LINER IMPACT, "allowed: ellipsoid, sphere"},
    /* shell */
    {HEADFORM SHELL LINER IMPACT "solver: {rings: 1000, cell: @10 um}\n",
     "3.5 million cells, more than 1 million"},
    {HEADFORM SHELL LINER IMPACT "solver: {cell: @35 mm}\n",
     "a cell of 35 mm takes the whole of layer 1 of 'liner', and a layer takes two at least: allowed here: "
     "less "
     "than 35 mm"},
    {HEADFORM SHELL LINER IMPACT "solver: {snapshots: @20 us}\n", "1250 snapshots of 960 zones; at most 997"},
    {HEADFORM SHELL LINER IMPACT "solver: {rings: 1024, cell: 0.1 mm, snapshots: @0.5 ms}\n",
     "50 snapshots of 358400 zones"},
    {HEADFORM "shell: {material: abs, thickness: @0 mm}\n" LINER IMPACT, "`thickness` must be above 0"},
    {HEADFORM "shell: @{material: abs}\n" LINER IMPACT, "`thickness` is missing"},
    {HEADFORM "shell: {material: @asb, thickness: 3 mm}\n" LINER IMPACT,
     "shell material 'asb' is not known; nearest: 'abs'"},
    {HEADFORM "shell: {material: abs, thickness: 3 mm, crack_energy: @0 kJ/m2}\n" LINER IMPACT,
     "`crack_energy` must be above 0"},
    {HEADFORM "shell: {material: abs, thickness: 3 mm, temperature: @1.2}\n" LINER IMPACT, "takes pairs"},
    {HEADFORM "shell: {material: abs, thickness: 3 mm, temperature: [[20 degC, @-1]]}\n" LINER IMPACT,
     "`factor` must be above 0"},
    {HEADFORM
     "shell: {material: abs, thickness: 3 mm, temperature: [[20 degC, 1], @[20 degC, 2]]}\n" LINER IMPACT,
     "must ascend"},
    {HEADFORM SHELL LINER IMPACT "wet: {friction_factor: @-0.1}\n", "`friction_factor` must be"},
    {HEADFORM SHELL LINER IMPACT "wet: {comfort_factor: @0.5}\n", "needs `comfort`, which this case has not"},
    {HEADFORM SHELL LINER IMPACT "wet: {@friction_fator: 0.5}\n", "nearest: 'friction_factor'"},
    {HEADFORM "shell: {material: abs, thickness: 3 mm, bond_friction: @0.2}\n" LINER IMPACT,
     "`bond_friction` is for a shell with `bond: loose`"},
    {HEADFORM "shell: @{thickness: 3 mm}\n" LINER IMPACT, "a shell needs `material`"},
    {HEADFORM "shell: {material: abs, thickness: 3 mm, extra_mass: 1 kg, helmet_mass: @2 kg}\n" LINER IMPACT,
     "`extra_mass` and `helmet_mass` exclude each other"},
    {HEADFORM "shell: {material: abs, thickness: 3 mm, lower_edge: @{}}\n" LINER IMPACT,
     "takes an elevation"},
    {HEADFORM "shell: {material: abs, thickness: 3 mm, lower_edge: [@-30 deg]}\n" LINER IMPACT,
     "a pair of `lower_edge`"},
    {HEADFORM
     "shell: {material: abs, thickness: 3 mm, lower_edge: [[0 deg, -30 deg], @[0 deg, -20 deg]]}\n" LINER
         IMPACT,
     "must ascend"},
    {HEADFORM "shell: {material: abs, thickness: 3 mm, lower_edge: [[180 deg, -30 deg], [0 deg, -20 deg], "
              "@[-180 deg, -30 deg]]}\n" LINER IMPACT,
     "must ascend, once round the head"},
    {HEADFORM "shell: {material: abs, thickness: 3 mm, lower_edge: @-30}\n" LINER IMPACT, "no unit"},
    {HEADFORM SHELL LINER IMPACT "striker: @{mass: 5 kg}\n", "falls on a `pad`"},
    {HEADFORM SHELL LINER IMPACT "model: @pad\n", "does not fit a helmet"},
    /* comfort */
    {HEADFORM SHELL LINER IMPACT "comfort: @{foam: comfort-soft}\n", "`thickness` is missing"},
    {HEADFORM SHELL LINER IMPACT "comfort: {foam: @comfort-sofd, thickness: 8 mm}\n",
     "nearest: 'comfort-soft'"},
    {HEADFORM SHELL LINER IMPACT "fill: @comfort\n", "needs `comfort`"},
    {HEADFORM SHELL LINER IMPACT "foams: {soft: {like: comfort-soft, @rate_gain: 0.1}}\n",
     "has no effect on comfort padding"},
    {HEADFORM SHELL LINER IMPACT "foams: {soft: {like: eps}}\ncomfort: {foam: @soft, thickness: 8 mm}\n",
     "comfort foam"},
    {HEADFORM SHELL LINER IMPACT "foams: {one: {like: eps}, two: {like: @one}}\n", "one"},
    {HEADFORM SHELL "liner: {foam: @soft, density: 50 g/l, thickness: 35 mm}\n" IMPACT
                    "foams: {soft: {like: comfort-soft}}\n",
     "soft"},
    /* liner */
    {"@" HEADFORM SHELL IMPACT, "`liner` is missing"},
    {HEADFORM SHELL "liner: @{density: 50 g/l}\n" IMPACT, "`thickness` is missing"},
    {HEADFORM SHELL "liner: {foam: @esp, density: 50 g/l, thickness: 35 mm}\n" IMPACT, "nearest: 'eps'"},
    {HEADFORM SHELL "liner: {foam: eps, density: @500 g/l, thickness: 35 mm}\n" IMPACT, "500"},
    {HEADFORM SHELL "liner:\n  density: @50 g/l\n  regions:\n" REST IMPACT, "exclude each other"},
    /* regions */
    {REGIONS("    - @{centre: [90 deg, 0 deg], half_angle: 9 deg, layers: [{density: 45 g/l, thickness: 9 "
             "mm}]}\n"),
     "`name` is missing"},
    {REGIONS("    - {name: @2nd, centre: [90 deg, 0 deg], half_angle: 9 deg, layers: [{density: 45 g/l, "
             "thickness: "
             "9 mm}]}\n"),
     "a name has"},
    {REGIONS("    - {name: @foam, centre: [90 deg, 0 deg], half_angle: 9 deg, layers: [{density: 45 g/l, "
             "thickness: 9 mm}]}\n"),
     "cannot be named 'foam'"},
    {REGIONS(OPENING
             "    - {name: @vision opening, centre: [90 deg, 0 deg], half_angle: 9 deg, layers: [{density: "
             "45 g/l, thickness: 9 mm}]}\n"),
     "is there already, on line 5"},
    {REGIONS("    - @{name: a, layers: [{density: 45 g/l, thickness: 9 mm}]}\n"), "must be the last"},
    {HEADFORM SHELL
     "liner:\n  regions:\n    - @{name: a, centre: [90 deg, 0 deg], half_angle: 9 deg, layers: "
     "[{density: 45 g/l, thickness: 9 mm}]}\n" IMPACT,
     "the last region must have no bounds"},
    {HEADFORM SHELL "liner:\n  regions:\n    - @{name: a, open: true}\n" IMPACT, "cannot be open"},
    {REGIONS("    - @{name: a, centre: [90 deg, 0 deg], half_angle: 9 deg}\n"), "`layers` is missing"},
    {REGIONS(
         "    - {name: a, open: true, centre: [0 deg, 0 deg], half_angle: 9 deg, layers: @[{density: 45 g/l, "
         "thickness: 9 mm}]}\n"),
     "an open region has no layers"},
    {REGIONS("    - @{name: a, centre: [0 deg, 0 deg], half_angle: 9 deg, elevation: [0 deg, 9 deg], layers: "
             "[{density: 45 g/l, thickness: 9 mm}]}\n"),
     "do not mix"},
    {REGIONS("    - @{name: a, centre: [0 deg, 0 deg], layers: [{density: 45 g/l, thickness: 9 mm}]}\n"),
     "needs `half_angle` or `radius`"},
    {REGIONS("    - {name: a, centre: [0 deg, 0 deg], half_angle: 9 deg, radius: @9 mm, layers: [{density: "
             "45 g/l, "
             "thickness: 9 mm}]}\n"),
     "exclude each other"},
    {REGIONS("    - @{name: a, half_angle: 9 deg, layers: [{density: 45 g/l, thickness: 9 mm}]}\n"),
     "`centre` is missing"},
    {REGIONS("    - {name: a, centre: [@95 deg, 0 deg], half_angle: 9 deg, layers: [{density: 45 g/l, "
             "thickness: 9 "
             "mm}]}\n"),
     "`elevation` must be from -90 deg to 90 deg"},
    {REGIONS("    - {name: a, elevation: @[9 deg, 0 deg], layers: [{density: 45 g/l, thickness: 9 mm}]}\n"),
     "from the lower to the higher"},
    {REGIONS("    - {name: a, azimuth: @[9 deg, 9 deg], layers: [{density: 45 g/l, thickness: 9 mm}]}\n"),
     "holds no area"},
    {REGIONS("    - {name: a, azimuth: [9 deg, @190 deg], layers: [{density: 45 g/l, thickness: 9 mm}]}\n"),
     "from -180 deg to 180 deg"},
    {REGIONS(OPENING
             "    - {name: a, around: @visionopening, width: 9 mm, layers: [{density: 45 g/l, thickness: 9 "
             "mm}]}\n"),
     "nearest: 'vision opening'"},
    {REGIONS(
         "    - {name: a, around: @elsewhere, width: 9 mm, layers: [{density: 45 g/l, thickness: 9 mm}]}\n"),
     "'elsewhere' is not open"},
    {REGIONS("    - @{name: a, around: lower edge, layers: [{density: 45 g/l, thickness: 9 mm}]}\n"),
     "`width` is missing"},
    {REGIONS("    - {name: a, areas: [@{}], layers: [{density: 45 g/l, thickness: 9 mm}]}\n"),
     "an area needs bounds"},
    {REGIONS("    - {name: a, azimuth: [0 deg, 9 deg], areas: @[{azimuth: [0 deg, 9 deg]}], layers: "
             "[{density: 45 "
             "g/l, thickness: 9 mm}]}\n"),
     "in place of bounds"},
    {REGIONS(
         "    - {name: a, azimuth: [0 deg, 9 deg], comfort: @{thickness: 5 mm}, layers: [{density: 45 g/l, "
         "thickness: 9 mm}]}\n"),
     "has no `comfort`"},
    {REGIONS("    - {name: a, centre: [45 deg, 0 deg], half_angle: 20 deg, layers: [{density: 45 g/l, "
             "thickness: 9 "
             "mm}]}\n"
             "    - @{name: b, centre: [45 deg, 0 deg], half_angle: 19 deg, layers: [{density: 45 g/l, "
             "thickness: 9 "
             "mm}]}\n"),
     "region 'b' is hidden"},
    {REGIONS(
         "    - @{name: low, elevation: [-60 deg, -31 deg], layers: [{density: 45 g/l, thickness: 9 mm}]}\n"),
     "region 'low' is hidden"},
    {HEADFORM "shell: {material: abs, thickness: 3.5 mm, inner_radius: 122 mm}\nliner: @{density: 50 g/l, "
              "thickness: 35 mm}\n" IMPACT,
     "mm more than the space of 31.28 mm"},
    {REGIONS("    - @{name: a, azimuth: [0 deg, 9 deg], outer_radius: 150 mm, head_radius: 120 mm, layers: "
             "[{density: 45 "
             "g/l, thickness: 30 mm}]}\n"),
     "mm more than the space of 26.5 mm"},
    /* sites */
    {HEADFORM SHELL LINER "impacts: [@{anvil: flat, speed: 5 m/s}]\n", "`at` is missing"},
    {IMPACTS("{at: @crwn, speed: 5 m/s}"), "site 'crwn' is not known; nearest: 'crown'"},
    {IMPACTS("{at: {region: @top}, speed: 5 m/s}"), "region 'top' is not known"},
    {IMPACTS("{at: @{site: P}, speed: 5 m/s}"), "`at` takes {region: NAME}"},
    {IMPACTS("{at: @[20 deg], speed: 5 m/s}"), "takes a direction"},
    {IMPACTS("{at: [20 deg, @20], speed: 5 m/s}"), "no unit"},
    {IMPACTS("{at: @[-45 deg, 0 deg], speed: 5 m/s}"), "below the lower edge"},
    {HEADFORM SHELL "liner:\n  regions:\n" OPENING REST "impacts: [{at: @[0 deg, 0 deg], speed: 5 m/s}]\n",
     "lies on the opening 'vision opening'"},
    {HEADFORM SHELL "liner:\n  regions:\n" OPENING REST
                    "impacts: [{at: @{region: vision opening}, speed: 5 m/s}]\n",
     "lies on the opening"},
    {HEADFORM SHELL LINER IMPACT "sites: {nape: @[20 deg]}\n", "takes a direction"},
    {HEADFORM SHELL LINER IMPACT "sites: {@2nd: [20 deg, 0 deg]}\n", "a name has"},
    {HEADFORM SHELL LINER IMPACT "sites: {@P: [20 deg, 0 deg]}\n", "built-in site"},
    {HEADFORM SHELL LINER IMPACT "sites: @[a]\n", "takes {NAME: [elevation, azimuth]"},
    /* anvils */
    {IMPACTS("{at: P, anvil: @flaat, speed: 5 m/s}"), "anvil 'flaat' is not known; nearest: 'flat'"},
    {IMPACTS("{at: P, anvil: {@shap: flat}, speed: 5 m/s}"), "nearest: 'shape'"},
    {IMPACTS("{at: P, anvil: @{friction: 0.5}, speed: 5 m/s}"), "`shape` is missing"},
    {IMPACTS("{at: P, anvil: {shape: @cone}, speed: 5 m/s}"), "allowed: flat, hemisphere"},
    {IMPACTS("{at: P, anvil: @[flat], speed: 5 m/s}"), "`anvil` takes a name"},
    {IMPACTS("@{at: P, anvil: abrasive-45, speed: 5 m/s}"), "`towards` is missing"},
    {IMPACTS("{at: P, anvil: flat, speed: 5 m/s, towards: @front}"), "square on"},
    {IMPACTS("{at: P, anvil: abrasive-45, speed: 5 m/s, towards: @up}"),
     "`towards` points along the face's normal at P"},
    {IMPACTS("{at: P, anvil: flat, angle: @-1 deg, speed: 5 m/s, towards: front}"), "`angle` must be from"},
    {IMPACTS("{at: P, anvil: abrasive-45, speed: 5 m/s, towards: rear, friction: {anvil: @2.1}}"),
     "`anvil` must be from 0 to 2"},
    {IMPACTS("{at: P, anvil: flat, speed: 5 m/s, friction: {head: @-0.1}}"), "`head` must be from 0 to 2"},
    {IMPACTS("{at: P, anvil: {shape: flat, friction: @2.5}, speed: 5 m/s}"),
     "`friction` must be from 0 to 2"},
    {IMPACTS("{at: P, anvil: abrasive-45, speed: 5 m/s, towards: @forward}"), "allowed: front, rear"},
    {IMPACTS("{at: P, anvil: flat, angle: @90 deg, speed: 5 m/s, towards: front}"), "`angle` must be from"},
    {IMPACTS("{at: P, anvil: {shape: flat, angle: 45 deg}, angle: @30 deg, speed: 5 m/s, towards: front}"),
     "has an angle of its own"},
};

Test(case_helmet, every_fault_has_its_place)
{
    EXPECT_FAULTS(helmet_faults);
}

Test(case_helmet, memory_that_runs_out_anywhere_is_reported_and_released)
{
    size_t successes = 0;
    for (;; successes++) {
        struct errors errors = {0};
        struct case_file file;
        size_t failures = memory_failures();
        memory_fail_after(successes);
        enum status status = load_text(full_case, &file, &errors);
        memory_fail_after(SIZE_MAX);
        if (memory_failures() == failures) {
            cr_assert_eq(status, STATUS_OK);
            case_free(&file);
            break;
        }
        cr_expect_eq(status, STATUS_MEMORY, "failure %zu: status %d", successes, status);
        cr_expect(file.tree.root == NULL && file.regions == NULL, "failure %zu: not zeroed", successes);
    }
    cr_assert(successes > 50, "only %zu allocations", successes);
}

/* --- cases that come with the program --- */

Test(case_shipped, all_are_sound)
{
    static const char *const names[] = {"bench-pad",  "smallest",  "touring",    "demo/single",
                                        "demo/crown", "demo/brow", "demo/family"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char path[512];
        struct errors errors = {0};
        struct case_file file;
        snprintf(path, sizeof path, "%s/cases/%s.yaml", FOAMPULSE_SOURCE, names[i]);
        enum status status = case_load(path, NULL, 0, &file, &errors);
        cr_expect_eq(status, STATUS_OK, "%s:%d:%d: %s", errors.kept[0].file, errors.kept[0].line,
                     errors.kept[0].column, errors.kept[0].text);
        case_free(&file);
    }
}

/* Every point that the R22 programmes strike, and every site of this program, lies on foam in every demo. */
Test(case_shipped, named_sites_lie_on_foam)
{
    static const char *const names[] = {"smallest", "touring", "demo/single", "demo/crown", "demo/brow"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char path[512];
        struct errors errors = {0};
        struct case_file file;
        snprintf(path, sizeof path, "%s/cases/%s.yaml", FOAMPULSE_SOURCE, names[i]);
        cr_assert_eq(case_load(path, NULL, 0, &file, &errors), STATUS_OK);
        for (size_t k = 0; k < site_table_count; k++) {
            int region = helmet_map_region(&file.map, site_table[k].elevation, site_table[k].azimuth);
            cr_expect(region >= 0 && !file.regions[region].shape.open, "%s: %s", names[i],
                      site_table[k].name);
        }
        case_free(&file);
    }
}

Test(case_shipped, a_setting_of_the_command_line_is_checked_like_the_file)
{
    static const char *const sound[] = {"liner.density=60 g/l"}, *const bad[] = {"liner.density=-60 g/l"};
    struct errors errors = {0};
    struct case_file file;
    cr_assert_eq(case_load(FOAMPULSE_SOURCE "/cases/smallest.yaml", sound, 1, &file, &errors), STATUS_OK);
    cr_assert_eq(file.regions[0].layers[0].parts[0].density, 60);
    case_free(&file);
    cr_assert_eq(case_load(FOAMPULSE_SOURCE "/cases/smallest.yaml", bad, 1, &file, &errors), STATUS_USAGE);
    cr_assert_str_eq(errors.kept[0].file, "--set");
}
