/*
 * Helmet families: `sizes` of a case, each the case with its values set, under one shell.
 *
 * Head radii by hand: a round head has radius C / 2 pi, so from the case's C = 570 mm to 540 and 600 mm it
 * changes by 30 mm / 2 pi = 4.774648293 mm, and the space to the shell by as much the other way.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "cases/stack.h"
#include "cases/store.h"
#include "solver/base/memory.h"
#include "tests/support/cases.h"

#define STEP 4.774648292756860e-3 /* 30 mm / 2 pi */

#define SHELL "shell: {material: abs, thickness: 3.5 mm}\n"
#define HEAD  "headform: {size: J}\n"
#define PAD   "comfort: {foam: comfort-soft, thickness: 8 mm, gap: 6 mm}\n"
#define LINER                                                                                                \
    "liner:\n"                                                                                               \
    "  regions:\n"                                                                                           \
    "    - {name: crown, centre: [90 deg, 0 deg], half_angle: 40 deg, comfort: {thickness: 10 mm, gap: 5 "   \
    "mm}, layers: [{density: 45 g/l, thickness: 17 mm}, {density: 30 g/l, thickness: 18 mm}]}\n"             \
    "    - {name: rest, layers: [{density: 45 g/l, thickness: 30 mm}]}\n"
#define PLAIN "liner: {density: 50 g/l, thickness: 35 mm}\n"
#define BASE  HEAD SHELL PAD LINER
#define DROP  "impacts: [{at: P, anvil: flat, speed: 5 m/s}]\n"
#define QUICK "model: columns\nsolver: {rings: 8, cell: 6 mm}\n"

/* --- what a size changes ---------------------------------------------------------------------------------
 */

/* Layers at the head, padding and gap of the crown and of the rest, changed by so many steps. */
static void expect_stacks(const struct case_file *size, double layer, double comfort, double gap)
{
    static const double foam[] = {18e-3, 30e-3}, padding[] = {10e-3, 8e-3}, air[] = {5e-3, 6e-3};
    for (size_t i = 0; i < 2; i++) {
        const struct case_region *region = &size->regions[i];
        struct stack_site site;
        struct stack stack;
        stack_site(size, -1, NAN, NAN, &site);
        stack_close(size, (int)i, &site, &stack);
        /* of the space of 50 mm, the thickest stack, the crown takes all and the rest leaves 6 mm */
        double fill = i == 1 ? 6e-3 : 0;
        cr_expect_float_eq(region->layers[region->layer_count - 1].thickness, foam[i] + layer * STEP, 1e-12);
        cr_expect_float_eq(stack.comfort, padding[i] + fill + comfort * STEP, 1e-12, "%s %zu", size->size, i);
        cr_expect_float_eq(stack.gap, air[i] + gap * STEP, 1e-12, "%s %zu", size->size, i);
        cr_expect_eq(stack.excess, 0);
    }
}

/* Moments of inertia given for the case's head are not those of another: of an ellipsoid, and assumed, unless
 * the size gives its own. */
Test(sizes, inertia_is_of_its_own_head)
{
    struct case_file file;
    cases_load_text(
        "headform: {size: J, inertia: [0.02 kg m2, 0.023 kg m2, 0.021 kg m2]}\n" SHELL PAD LINER DROP
        "sizes:\n"
        "  S: {headform.size: E, take_up: comfort}\n"
        "  M: {comfort.gap: 7 mm}\n"
        "  T: {headform.size: E, headform.inertia: [0.01 kg m2, 0.01 kg m2, 0.01 kg m2], take_up: "
        "comfort}\n",
        &file);
    cr_assert_eq(file.size_count, 3);
    cr_expect_eq(file.sizes[0].headform.inertia_assumed, 1);
    cr_expect_float_eq(file.sizes[0].headform.inertia[2], 4.1 * (0.0957 * 0.0957 + 0.0756 * 0.0756) / 5,
                       1e-6);
    cr_expect_eq(file.sizes[1].headform.inertia_assumed, 0);
    cr_expect_eq(file.sizes[1].headform.inertia[1], 0.023);
    cr_expect_eq(file.sizes[2].headform.inertia_assumed, 0);
    cr_expect_eq(file.sizes[2].headform.inertia[1], 0.01);
    case_free(&file);
}

Test(sizes, take_up_by_hand)
{
    struct case_file file;
    cases_load_text(BASE DROP "sizes:\n"
                              "  S: {headform.size: E, take_up: comfort}\n"
                              "  M: {}\n"
                              "  L: {headform.size: M, take_up: inner layer}\n"
                              "  soft: {headform.size: M, take_up: comfort}\n"
                              "  tight: {headform.size: M, take_up: gap}\n"
                              "  loose: {headform.size: E, take_up: gap}\n"
                              "  thick: {headform.size: E, take_up: inner layer}\n",
                    &file);
    static const double change[][3] = {{0, 1, 0},  {0, 0, 0}, {-1, 0, 0}, {0, -1, 0},
                                       {0, 0, -1}, {0, 0, 1}, {1, 0, 0}};
    cr_assert_eq(file.size_count, 7);
    double inner = 0.57 / (2 * 3.14159265358979323846) + 50e-3;
    for (size_t i = 0; i < 7; i++) {
        expect_stacks(&file.sizes[i], change[i][0], change[i][1], change[i][2]);
        cr_expect_float_eq(stack_inner_radius(&file.sizes[i]), inner, 1e-12, "the shell stays");
        cr_expect_float_eq(file.sizes[i].map.inner_radius, inner, 1e-12);
    }
    case_free(&file);
}

/* Without take_up the stacks stay, and what a smaller head leaves goes to `fill`. */
Test(sizes, what_is_left_goes_to_fill)
{
    static const char *const fills[] = {"fill: comfort\n", "fill: gap\n"};
    for (size_t i = 0; i < 2; i++) {
        struct case_file file;
        struct stack_site site;
        struct stack stack;
        char text[2048];
        snprintf(text, sizeof text, BASE DROP "%ssizes: {S: {headform.size: E}}\n", fills[i]);
        cases_load_text(text, &file);
        stack_site(&file.sizes[0], -1, NAN, NAN, &site);
        stack_close(&file.sizes[0], 0, &site, &stack);
        cr_expect_float_eq(stack.comfort, 10e-3 + (i == 0 ? STEP : 0), 1e-12);
        cr_expect_float_eq(stack.gap, 5e-3 + (i == 1 ? STEP : 0), 1e-12);
        case_free(&file);
    }
}

/* A shell with an inner radius of its own: 52 mm of space for 50 mm of stack; take_up counts from there. */
Test(sizes, a_given_shell_stays)
{
    struct case_file file;
    struct stack_site site;
    struct stack stack;
    cases_load_text(HEAD PAD LINER DROP
                    "shell: {material: abs, thickness: 3.5 mm, inner_radius: 142.7183 mm}\n"
                    "sizes: {L: {headform.size: M, take_up: inner layer}, wide: "
                    "{shell.inner_radius: 145.7183 mm, take_up: gap}}\n",
                    &file);
    stack_site(&file.sizes[0], -1, NAN, NAN, &site);
    stack_close(&file.sizes[0], 0, &site, &stack);
    cr_expect_float_eq(file.sizes[0].regions[0].layers[1].thickness, 18e-3 - STEP, 1e-12);
    cr_expect_float_eq(stack.fill, 0.1427183 - 0.57 / (2 * 3.14159265358979323846) - 50e-3, 1e-12);
    cr_expect_float_eq(file.sizes[1].shell.inner_radius, 0.1457183, 1e-12);
    cr_expect_float_eq(file.sizes[1].regions[0].comfort_gap, 8e-3, 1e-12);
    case_free(&file);
}

/* Any path of the case, several at once, in the order of the file; what is set is the size's alone. */
Test(sizes, any_path)
{
    struct case_file file;
    cases_load_text(
        BASE DROP
        "sizes:\n"
        "  A: {liner.*.layers.1.density: 60 g/l, liner.crown.layers.2.thickness: 15 mm}\n"
        "  B: {impacts.1.speed: 6 m/s, \"liner.crown.layers.1.density + liner.rest.layers.1.density\""
        ": 50 g/l, limits.peak_g: 300 g}\n",
        &file);
    const struct case_file *a = &file.sizes[0], *b = &file.sizes[1];
    cr_expect_float_eq(a->regions[0].layers[0].parts[0].density, 60, 1e-12);
    cr_expect_float_eq(a->regions[1].layers[0].parts[0].density, 60, 1e-12);
    cr_expect_float_eq(a->regions[0].layers[1].thickness, 15e-3, 1e-12);
    cr_expect_float_eq(b->regions[0].layers[0].parts[0].density, 50, 1e-12);
    cr_expect_float_eq(b->regions[0].layers[1].thickness, 18e-3, 1e-12);
    cr_expect_float_eq(a->impacts[0].speed[0], 5, 1e-12);
    cr_expect_float_eq(b->impacts[0].speed[0], 6, 1e-12);
    cr_expect(isnan(a->limit[METRIC_peak]));
    cr_expect_float_eq(b->limit[METRIC_peak], 300, 1e-9);
    cr_expect_eq(file.impact_count, 0);
    cr_expect_eq(case_impact_count(&file), 2);
    cr_expect_eq(a->impacts[0].number, 1);
    cr_expect_eq(b->impacts[0].number, 2);
    const struct case_file *of = NULL;
    cr_expect(case_impact_find(&file, 2, &of) == &b->impacts[0] && of == b);
    cr_expect_null(case_impact_find(&file, 3, NULL));
    case_free(&file);
}

/* --- against helmets written out --------------------------------------------------------------------------
 */

static void expect_same_hits(const struct hit_result *a, const struct hit_result *b)
{
    cr_assert(a->status == HIT_COMPUTED && b->status == HIT_COMPUTED, "%s; %s", a->message, b->message);
    cr_expect_eq(memcmp(a->output.metrics, b->output.metrics, sizeof a->output.metrics), 0);
    cr_assert_eq(a->output.count, b->output.count);
    cr_expect_eq(memcmp(a->output.channel[0], b->output.channel[0], a->output.count * sizeof(double)), 0);
}

/* Each size is, to the bit, the helmet that has its numbers written out. */
Test(sizes, as_written_out)
{
    struct case_file file;
    struct case_result family;
    cases_load_text(BASE DROP QUICK
                    "sizes: {M: {}, S: {headform.size: E, take_up: comfort}, L: {headform.size: "
                    "M, take_up: inner layer}}\n",
                    &file);
    cases_run(&file, 2, &family);
    cr_assert_eq(family.hit_count, 3);
    for (size_t i = 0; i < 3; i++) {
        const struct case_file *size = &file.sizes[i];
        const struct case_region *region = size->regions;
        struct case_result alone;
        char text[2048];
        snprintf(
            text, sizeof text,
            "headform: {size: %s}\n"
            "shell: {material: abs, thickness: 3.5 mm, inner_radius: %.17g m}\n"
            "comfort: {foam: comfort-soft, thickness: 8 mm, gap: 6 mm}\n"
            "liner:\n"
            "  regions:\n"
            "    - {name: crown, centre: [90 deg, 0 deg], half_angle: 40 deg, comfort: {thickness: %.17g "
            "m, gap: 5 mm}, layers: [{density: 45 g/l, thickness: 17 mm}, {density: 30 g/l, thickness: "
            "%.17g m}]}\n"
            "    - {name: rest, comfort: {thickness: %.17g m}, layers: [{density: 45 g/l, thickness: "
            "%.17g m}]}\n" DROP QUICK,
            size->headform.size, size->shell.inner_radius,
            isnan(region[0].comfort_thickness) ? 10e-3 : region[0].comfort_thickness,
            region[0].layers[1].thickness,
            isnan(region[1].comfort_thickness) ? 8e-3 : region[1].comfort_thickness,
            region[1].layers[0].thickness);
        cases_solve_text(text, &alone);
        expect_same_hits(&family.hits[i], &alone.hits[0]);
        cr_expect_str_eq(family.hits[i].size, size->size);
        cr_expect_str_eq(family.sizes[i].name, size->size);
        cr_expect_str_eq(family.sizes[i].headform_size, size->headform.size);
        cr_expect_eq(memcmp(&family.sizes[i].mass, &alone.mass, sizeof alone.mass), 0);
        case_result_free(&alone);
    }
    cr_expect_eq(family.sizes[0].mass.shell, family.sizes[1].mass.shell, "one shell");
    cr_expect_eq(family.sizes[0].mass.shell, family.sizes[2].mass.shell, "one shell");
    double heaviest =
        fmax(fmax(family.sizes[0].mass.helmet, family.sizes[1].mass.helmet), family.sizes[2].mass.helmet);
    cr_expect_eq(family.mass.helmet, heaviest);
    case_result_free(&family);
    case_free(&file);
}

/* A family of one size that changes nothing is the case, but for the last bit of the space, which is found
 * from the two radii. */
Test(sizes, a_size_that_changes_nothing)
{
    struct case_result family, alone;
    cases_solve_text(BASE DROP QUICK "sizes: {M: {}}\n", &family);
    cases_solve_text(BASE DROP QUICK, &alone);
    cr_expect_eq(alone.size_count, 0);
    cr_expect_str_eq(alone.hits[0].size, "");
    for (size_t i = 0; i < 2; i++) {
        enum metric metric = i == 0 ? METRIC_peak : METRIC_hic;
        double was = alone.hits[0].output.metrics[metric];
        cr_expect_float_eq(family.hits[0].output.metrics[metric], was, 1e-9 * was);
    }
    case_result_free(&family);
    case_result_free(&alone);
}

/* --- queue, journal, verdict ------------------------------------------------------------------------------
 */

#define THREE                                                                                                \
    "sizes: {S: {headform.size: E, take_up: comfort}, M: {}, L: {headform.size: M, take_up: inner layer}}\n"
#define TWO_DROPS "impacts: [{at: P, anvil: flat, speed: 5 m/s}, {at: R, anvil: hemisphere, speed: 4 m/s}]\n"

static void expect_same_results(const struct case_result *a, const struct case_result *b)
{
    cr_assert_eq(a->hit_count, b->hit_count);
    for (size_t i = 0; i < a->hit_count; i++) {
        cr_expect_str_eq(a->hits[i].size, b->hits[i].size);
        cr_expect_eq(a->hits[i].impact, (int)i + 1);
        expect_same_hits(&a->hits[i], &b->hits[i]);
    }
}

/* Hash of all that a result file holds but for how it came about. */
static void content_of(const struct case_result *result, char hash[65])
{
    char folder[] = "/tmp/foampulse_sizes_XXXXXX", path[64];
    struct errors errors = {0};
    cr_assert_not_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/a.h5", folder);
    cr_assert_eq(store_write(path, result, NULL, &errors), STATUS_OK, "%s", errors.kept[0].text);
    cr_assert_eq(store_hash(path, hash, &errors), STATUS_OK, "%s", errors.kept[0].text);
    unlink(path);
    rmdir(folder);
}

Test(sizes, any_number_of_threads)
{
    struct case_file file;
    struct case_result one, other;
    char hash[2][65];
    cases_load_text(BASE TWO_DROPS QUICK THREE, &file);
    cases_run(&file, 1, &one);
    cr_assert_eq(one.hit_count, 6);
    content_of(&one, hash[0]);
    for (int threads = 2; threads <= 5; threads += 3) {
        cases_run(&file, threads, &other);
        expect_same_results(&one, &other);
        content_of(&other, hash[1]);
        cr_expect_str_eq(hash[0], hash[1]);
        case_result_free(&other);
    }
    snprintf(one.sizes[1].name, sizeof one.sizes[1].name, "other");
    content_of(&one, hash[1]);
    cr_expect_str_neq(hash[0], hash[1], "sizes are part of it");
    case_result_free(&one);
    case_free(&file);
}

/* What a journal holds of a size is given back to that size, also where two sizes have one headform; a size
 * with another headform is another helmet. */
Test(sizes, journal_tells_sizes_apart)
{
    struct case_file file;
    struct case_result one, other;
    struct errors errors = {0};
    struct journal journal;
    char folder[] = "/tmp/foampulse_sizes_XXXXXX", path[64];
    cr_assert_not_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/a.h5", folder);
    cr_assert_eq(journal_open(path, "test/1", &journal, &errors), STATUS_OK);
    struct batch_options options = {.threads = 1, .journal = &journal, .journal_errors = &errors};
    cases_load_text(
        BASE TWO_DROPS QUICK
        "sizes: {M: {}, K: {headform.size: K, take_up: comfort}, hard: {liner.*.layers.1.density: 60 g/l}}\n",
        &file);
    cr_assert_eq(batch_run(&file, &options, &one, &errors), STATUS_OK);
    cr_expect_eq(journal.count, 6);
    cr_assert_eq(batch_run(&file, &options, &other, &errors), STATUS_OK);
    cr_expect_eq(journal.count, 6, "all were taken");
    expect_same_results(&one, &other);
    case_result_free(&one);
    case_result_free(&other);
    file.sizes[1].headform.mass += 0.1;
    cr_assert_eq(batch_run(&file, &options, &one, &errors), STATUS_OK);
    cr_expect_eq(journal.count, 8, "the two of that size were solved again");
    case_result_free(&one);
    journal_remove(&journal, &errors);
    rmdir(folder);
    case_free(&file);
}

/* The worst of all sizes governs, and each helmet is held against the limit of its mass. */
Test(sizes, the_governing_size)
{
    struct case_file file;
    struct case_result result;
    cases_load_text(BASE DROP QUICK "limits: {peak_g: 1000 g}\n"
                                    "sizes: {M: {}, fast: {impacts.1.speed: 6 m/s}, L: {headform.size: M, "
                                    "take_up: inner layer}}\n",
                    &file);
    cases_run(&file, 2, &result);
    cr_expect_eq(result.verdict, VERDICT_WITHIN);
    cr_assert_geq(result.worst_hit, 0);
    cr_expect_str_eq(result.hits[result.worst_hit].size, "fast");
    case_result_free(&result);
    double lightest = 1e9, heaviest = 0;
    cases_run(&file, 2, &result);
    for (size_t i = 0; i < 3; i++) {
        lightest = fmin(lightest, result.sizes[i].mass.helmet);
        heaviest = fmax(heaviest, result.sizes[i].mass.helmet);
    }
    cr_assert_lt(lightest, heaviest);
    case_result_free(&result);
    for (size_t i = 0; i < 3; i++)
        file.sizes[i].helmet_mass_limit = 0.5 * (lightest + heaviest);
    cases_run(&file, 2, &result);
    cr_expect_eq(result.verdict, VERDICT_EXCEEDS, "one helmet is too heavy");
    case_result_free(&result);
    case_free(&file);
}

/* --- programmes -------------------------------------------------------------------------------------------
 */

static int is_listed(const struct case_file *file, const char *line)
{
    for (size_t i = 0; i < file->not_covered_count; i++) {
        if (strcmp(file->not_covered[i], line) == 0)
            return 1;
    }
    return 0;
}

/* Impacts of the case with these programmes and no sizes. */
static size_t count_alone(const char *more)
{
    struct case_file file;
    char text[2048];
    snprintf(text, sizeof text, "%s%s", BASE, more);
    cases_load_text(text, &file);
    size_t count = file.impact_count;
    case_free(&file);
    return count;
}

/* A programme strikes every size whose headform it names. UN R22.06 names A, C, E, J, M, O and not K. */
Test(sizes, a_programme_strikes_the_headforms_it_names)
{
    struct case_file file;
    cases_load_text(BASE "programme: un-r22.06\n"
                         "sizes: {S: {headform.size: E, take_up: comfort}, M: {}, K: {headform.size: K, "
                         "take_up: comfort}}\n",
                    &file);
    size_t alone = count_alone("programme: un-r22.06\n");
    cr_assert_geq(alone, 72);
    cr_expect_eq(file.sizes[0].impact_count, alone);
    cr_expect_eq(file.sizes[1].impact_count, alone);
    cr_expect_eq(file.sizes[2].impact_count, 0);
    cr_expect_eq(file.sizes[1].impacts[0].number, (int)alone + 1);
    cr_expect(is_listed(&file,
                        "un-r22.06: strikes headforms en-960 A, C, E, J, M, O; here it is en-960 K (size "
                        "K)"));
    cr_expect(is_listed(&file, "size K: nothing strikes it"));
    cr_expect(is_listed(&file,
                        "un-r22.06: about 12 extra points between the basic ones, which the laboratory "
                        "chooses (size S, M)"));
    cr_expect(file.incomplete);
    case_free(&file);
}

/* `sizes` of a programme selects; impacts of the case itself strike every size, and equal ones are one. */
Test(sizes, a_programme_selects_sizes)
{
    struct case_file file;
    cases_load_text(BASE "impacts: [{at: P, anvil: flat, speed: 6 m/s, temperature: 25 degC}]\n"
                         "programme: [{name: un-r22.06, sizes: [M, L]}, {name: un-r22.06, sizes: [S], "
                         "temperatures: [cold]}, {name: un-r22.05, sizes: [M]}]\n" THREE,
                    &file);
    size_t cold = count_alone("programme: {name: un-r22.06, temperatures: [cold]}\n");
    size_t newer = count_alone("programme: un-r22.06\n");
    cr_expect_eq(file.sizes[0].impact_count, 1 + cold, "cold alone, and its own");
    cr_expect_eq(file.sizes[2].impact_count, newer, "its own is one of them");
    cr_expect_eq(file.sizes[2].impacts[0].test_count, 1);
    size_t shared = 0;
    for (size_t i = 0; i < file.sizes[1].impact_count; i++)
        shared += file.sizes[1].impacts[i].test_count == 2;
    cr_expect_geq(shared, 24, "at 7.5 m/s the older series strikes as the newer does: judged by both");
    cr_expect(is_listed(&file, "un-r22.05: left out by `sizes` of the case (size S, L)"));
    cr_expect(is_listed(&file,
                        "un-r22.06: outside of the model: retention, detaching, rigidity, visor, field of "
                        "view, ultraviolet light and moisture, taken as ambient, helmets struck at "
                        "several points in sequence: each impact is on a new helmet here"));
    case_free(&file);
}

/* Sizes left out of all programmes leave the case incomplete, those struck otherwise do not. */
Test(sizes, what_is_left_out_by_choice)
{
    struct case_file file;
    cases_load_text(BASE "programme: {name: racing-8.2, sizes: [M]}\n" THREE, &file);
    cr_expect(is_listed(&file, "size L: nothing strikes it"));
    cr_expect(file.incomplete);
    case_free(&file);
}

/* --- faults ------------------------------------------------------------------------------------------------
 */

/* In a text, @ stands right before the place that the message names. */
struct fault {
    const char *source, *message;
};

static enum status load_marked(const char *source, struct case_file *file, struct errors *errors, int *line,
                               int *column)
{
    char text[4096], path[] = "/tmp/foampulse_case_XXXXXX";
    size_t length = 0;
    int row = 1, at = 1;
    *line = *column = 0;
    for (; *source; source++) {
        if (*source == '@') {
            *line = row;
            *column = at;
            continue;
        }
        text[length++] = *source;
        at = *source == '\n' ? 1 : at + 1;
        row += *source == '\n';
    }
    int descriptor = mkstemp(path);
    cr_assert(descriptor >= 0);
    cr_assert_eq(write(descriptor, text, length), (ssize_t)length);
    close(descriptor);
    enum status status = case_load(path, NULL, 0, file, errors);
    unlink(path);
    return status;
}

static const struct fault faults[] = {
    {BASE DROP "sizes: @[M, L]\n", "`sizes` takes 1 to 16 sizes"},
    {BASE DROP "sizes: @{}\n", "`sizes` takes 1 to 16 sizes"},
    {BASE DROP "sizes: {@headform.size: E}\n", "a size is called by"},
    {BASE DROP "sizes: {@take_up: comfort}\n", "`take_up` is a key, not a name"},
    {BASE DROP "sizes: {@headform: {size: E}}\n", "`headform` is a key, not a name"},
    {BASE DROP "sizes: {M: @J}\n", "size M is written as paths of the case with values"},
    {BASE DROP "sizes: {M: {}, @M: {}}\n", "M"},
    {BASE DROP "sizes: {M: {take_up: @padding}}\n", "allowed: comfort, inner layer, gap"},
    {BASE DROP "sizes: {M: {take_up: @iner layer}}\n", "nearest: 'inner layer'"},
    {BASE DROP "sizes: {M: {@model: columns}}\n", "`model` is the same for all sizes"},
    {BASE DROP "sizes: {M: {@programme: un-r22.06}}\n", "{name: NAME, sizes: [M, L]}"},
    {BASE DROP "sizes: {M: {headform.size: @Z}}\n", "size M: headform size 'Z' is not known"},
    {BASE DROP "sizes: {M: {@headfrom.size: E}}\n", "did you mean headform?"},
    {BASE DROP "sizes: {M: {headform.@sise: E}}\n", "nearest: 'size'"},
    {BASE DROP "sizes: {M: {liner.@crwn.layers.1.density: 40 g/l}}\n", "did you mean crown?"},
    {BASE DROP "sizes: {M: {liner.crown.layers.@3.density: 40 g/l}}\n", "has 2 items"},
    {BASE DROP "sizes: {M: {liner.crown.layers.1.density: @40 mm}}\n", "density"},
    {HEAD SHELL PLAIN DROP "sizes: {L: {headform.size: M, take_up: @comfort}}\n", "needs `comfort`"},
    {BASE DROP "sizes: {O: {headform.size: O, take_up: @gap}}\n",
     "size O: the head takes 7.958 mm more of the space, and the gap of region 'crown' has 5 mm to give"},
    {HEAD SHELL "comfort: {thickness: 3 mm}\nliner: {density: 50 g/l, thickness: 30 mm}\n" DROP
                "sizes: {L: {headform.size: M, take_up: @comfort}}\n",
     "the comfort padding of region 'liner' has 3 mm to give"},
    {HEAD SHELL "liner: {density: 50 g/l, thickness: 4 mm}\n" DROP
                "sizes: {L: {headform.size: M, take_up: @inner layer}}\n",
     "the inner layer of region 'liner' has 4 mm to give"},
    {HEAD SHELL "liner: @{density: 50 g/l, thickness: 30 mm}\n" DROP "sizes: {L: {headform.size: M}}\n",
     "a size says with `take_up` what gives way"},
    {SHELL PAD LINER DROP "sizes: {@S: {comfort.gap: 1 mm}, M: {headform.size: J}}\n",
     "size S has no headform"},
    {"@" SHELL PLAIN DROP "sizes: {M: {headform.size: J}}\n",
     "`headform` is missing: the shell of all sizes is built round the one of the case"},
    {"headform: @{set: fmvss-218, size: M}\n" SHELL PLAIN DROP "sizes: {M: {}}\n",
     "the shell of all sizes is built round this headform"},
    {BASE "programme: {name: un-r22.06, sizes: [M, @XL]}\n" THREE, "size 'XL' is not known"},
    {BASE "programme: {name: un-r22.06, sizes: [M, @M]}\n" THREE, "size M is named twice"},
    {BASE "programme: {name: un-r22.06, sizes: @M}\n" THREE, "`sizes` takes a list of names"},
    {BASE "programme: {name: un-r22.06, sizes: @[M]}\n", "this case has no `sizes`"},
    {BASE "programme: un-r22.06\nsizes: @{K: {headform.size: K, take_up: comfort}}\n",
     "nothing to solve: un-r22.06: strikes headforms"},
};

Test(sizes, faults_are_located)
{
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++) {
        struct errors errors = {0};
        struct case_file file;
        int line, column;
        enum status status = load_marked(faults[i].source, &file, &errors, &line, &column);
        cr_expect_eq(status, STATUS_INPUT, "%zu: status %d", i, status);
        cr_expect(strstr(errors.kept[0].text, faults[i].message) != NULL, "%zu: %s", i, errors.kept[0].text);
        cr_expect(errors.kept[0].line == line && errors.kept[0].column == column, "%zu: %d:%d, not %d:%d: %s",
                  i, errors.kept[0].line, errors.kept[0].column, line, column, errors.kept[0].text);
        cr_expect_eq(errors.count, 1, "%zu: %zu messages, the second: %s", i, errors.count,
                     errors.kept[1].text);
        if (status == STATUS_OK)
            case_free(&file);
    }
}

/* Sizes and impacts are bounded. */
Test(sizes, as_many_as_there_may_be)
{
    char text[4096];
    struct errors errors = {0};
    struct case_file file;
    int line, column;
    size_t used = (size_t)snprintf(text, sizeof text, BASE "programme: un-r22.06\nsizes:\n");
    for (int i = 0; i < 16; i++)
        used += (size_t)snprintf(text + used, sizeof text - used, "  size %c: {}\n", 'a' + i);
    cr_expect_eq(load_marked(text, &file, &errors, &line, &column), STATUS_INPUT);
    cr_expect(strstr(errors.kept[0].text, " impacts in all sizes together"), "%s", errors.kept[0].text);
    errors = (struct errors){0};
    snprintf(text + used, sizeof text - used, "  one more: {}\n");
    cr_expect_eq(load_marked(text, &file, &errors, &line, &column), STATUS_INPUT);
    cr_expect(strstr(errors.kept[0].text, "1 to 16 sizes"), "%s", errors.kept[0].text);
}

/* Includes bring sizes together by name, and drop takes one out. */
Test(sizes, includes_merge_by_name)
{
    char folder[] = "/tmp/foampulse_sizes_XXXXXX", path[64], other[64];
    struct case_file file;
    cr_assert_not_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/case.yaml", folder);
    snprintf(other, sizeof other, "%s/common.yaml", folder);
    FILE *stream = fopen(other, "w");
    cr_assert_not_null(stream);
    fputs(BASE DROP THREE, stream);
    fclose(stream);
    stream = fopen(path, "w");
    cr_assert_not_null(stream);
    fputs("include: common.yaml\nsizes: {S: {drop: true}, L: {take_up: gap}, XS: {headform.size: C, take_up: "
          "gap}}\n",
          stream);
    fclose(stream);
    cases_load(path, NULL, 0, &file);
    cr_assert_eq(file.size_count, 3);
    cr_expect_str_eq(file.sizes[0].size, "M");
    cr_expect_str_eq(file.sizes[1].size, "L");
    cr_expect_str_eq(file.sizes[1].headform.size, "M", "of the included file");
    cr_expect_float_eq(file.sizes[1].regions[0].comfort_gap, 5e-3 - STEP, 1e-12, "of the including one");
    cr_expect_str_eq(file.sizes[2].size, "XS");
    case_free(&file);
    unlink(path);
    unlink(other);
    rmdir(folder);
}

/* --set reaches the case, and one size of it. */
Test(sizes, set_from_the_command_line)
{
    static const char *const sets[] = {"sizes.L.take_up=gap", "sizes.M.headform.size=E",
                                       "liner.rest.layers.1.density=60 g/l", "sizes.XS={headform.size: C}"};
    char path[] = "/tmp/foampulse_case_XXXXXX";
    struct case_file file;
    int descriptor = mkstemp(path);
    cr_assert(descriptor >= 0);
    cr_assert_eq(write(descriptor, BASE DROP THREE, strlen(BASE DROP THREE)),
                 (ssize_t)strlen(BASE DROP THREE));
    close(descriptor);
    cases_load(path, sets, 4, &file);
    unlink(path);
    cr_assert_eq(file.size_count, 4);
    cr_expect_str_eq(file.sizes[1].headform.size, "E");
    cr_expect_float_eq(file.sizes[2].regions[0].layers[1].thickness, 18e-3, 1e-12);
    cr_expect_float_eq(file.sizes[2].regions[1].layers[0].parts[0].density, 60, 1e-12);
    cr_expect_str_eq(file.sizes[3].size, "XS");
    case_free(&file);
}

/* Every allocation of reading a family fails once; each failure is told, and nothing is left behind. */
Test(sizes, memory)
{
    size_t at = 0;
    for (;; at++) {
        struct errors errors = {0};
        struct case_file file;
        int line, column;
        size_t before = memory_failures();
        memory_fail_after(at);
        enum status status =
            load_marked(HEAD SHELL "comfort: {thickness: 9 mm}\nliner: {density: 50 g/l, "
                                   "thickness: 35 mm}\nprogramme: {name: racing-8.2, sizes: "
                                   "[S]}\nsizes: {S: {headform.size: E, take_up: comfort}, M: "
                                   "{}}\n",
                        &file, &errors, &line, &column);
        memory_fail_after(SIZE_MAX);
        if (memory_failures() == before) {
            cr_assert_eq(status, STATUS_OK, "%s", errors.kept[0].text);
            case_free(&file);
            break;
        }
        cr_expect_eq(status, STATUS_MEMORY, "allocation %zu: status %d", at, status);
        cr_expect(file.tree.root == NULL && file.sizes == NULL, "allocation %zu: not zeroed", at);
    }
    printf("figure: %zu allocations failed in turn, each told\n", at);
    cr_assert_gt(at, 200);
}
