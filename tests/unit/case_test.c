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
    {PAD STRIKER DROP "@sweep: {points: 5}\n", "`sweep` (sweeps) comes in a later version"},
    {PAD STRIKER DROP "@programme: [x]\n", "later version"},
    {PAD STRIKER DROP "@sizes: {M: {}}\n", "later version"},
    {PAD STRIKER DROP "@tune: {}\n", "later version"},
    {PAD STRIKER DROP "@tolerance: {}\n", "later version"},
    {PAD STRIKER DROP "limits: @un-r22.06\n", "later version"},
    {PAD STRIKER DROP "limits: {@peak: 275 g}\n", "limit 'peak' is not known; nearest: 'peak_g'"},
    {PAD STRIKER DROP "limits: {peak_g: @275}\n", "no unit"},
    {PAD STRIKER DROP "limits: {hic: @2400 g}\n", "`hic`"},
    {PAD STRIKER DROP "limits: {@helmet_mass: 1.4 kg}\n", "a pad has no helmet mass"},
    {PAD STRIKER DROP "limits: @[1]\n", "takes {METRIC: VALUE"},
    {PAD STRIKER DROP "model: @axisymmetric\n", "not available in this version; available: columns"},
    {PAD STRIKER DROP "model: @column\n", "nearest: 'columns'"},
    {PAD STRIKER DROP "model: @columns\n", "does not fit a pad"},
    {PAD STRIKER DROP "target: @110 %\n", "must be above 0"},
    /* kinds */
    {PAD STRIKER DROP "solver: @fast\n", "written as keys with values; keys: gravity, rings"},
    {PAD STRIKER DROP "solver: {gravity: @yes}\n", "takes true or false"},
    {PAD STRIKER DROP "solver: {gravity: @\"true\"}\n", "takes true or false"},
    {PAD STRIKER DROP "solver: {rings: @48.5}\n", "a whole number from 4 to 4096"},
    {PAD STRIKER DROP "solver: {rings: @2}\n", "a whole number from 4 to 4096"},
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
