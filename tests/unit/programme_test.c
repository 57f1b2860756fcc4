/*
 * Test programmes of standards: what impacts they make of a case, and how these are judged.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "cases/fill_programmes.h"
#include "solver/base/memory.h"
#include "tests/support/cases.h"

#define HELMET(more)                                                                                         \
    "headform: {size: J}\n"                                                                                  \
    "shell: {material: abs, thickness: 3.5 mm}\n"                                                            \
    "liner: {density: 50 g/l, thickness: 40 mm}\n" more

static size_t count_own(const struct case_file *file)
{
    size_t count = 0;
    for (size_t i = 0; i < file->impact_count; i++)
        count += file->impacts[i].own != 0;
    return count;
}

/* The test of this name that judges an impact; NULL for none. */
static const struct case_test *test_of(const struct case_file *file, const struct case_impact *impact,
                                       const char *programme, const char *name)
{
    for (size_t i = 0; i < impact->test_count; i++) {
        const struct case_test *test = &file->tests[impact->tests[i]];
        if (strcmp(test->programme, programme) == 0 && strcmp(test->test, name) == 0)
            return test;
    }
    return NULL;
}

/* Every programme on every demo helmet: its headform where it names it, all sites on foam. */
Test(programme, those_shipped_strike_the_demo_helmets)
{
    static const char *const helmets[] = {"single", "crown", "brow"};
    for (size_t p = 0; p < programme_count; p++) {
        int five = strstr("cpsc-1203 astm-f2040", programme_names[p]) != NULL;
        int american = strcmp(programme_names[p], "fmvss-218") == 0;
        for (size_t h = 0; h < 3; h++) {
            struct case_file file;
            char path[64], use[64];
            snprintf(path, sizeof path, "cases/demo/%s.yaml", helmets[h]);
            snprintf(use, sizeof use, "programme=%s", programme_names[p]);
            const char *const sets[] = {use, five ? "headform.set=en-960-5kg"
                                             : american
                                                 ? "headform={set: fmvss-218, size: M, circumference: 570 mm}"
                                                 : "headform.set=en-960"};
            cases_load(path, sets, 2, &file);
            cr_expect_geq(file.impact_count, count_own(&file) + 4, "%s", programme_names[p]);
            cr_expect_gt(file.not_covered_count, 0);
            for (size_t i = 0; i < file.impact_count; i++)
                cr_expect(file.impacts[i].region >= 0 && !file.regions[file.impacts[i].region].shape.open,
                          "%s, %s", helmets[h], file.impacts[i].site);
            case_free(&file);
        }
    }
}

/*
 * UN R22.06 is 72 linear impacts a size before the extra points: P, B, R and one X; flat and kerbstone; 6.0,
 * 7.5 and 8.2 m/s; three temperatures. Limits of these: 180 g and HIC 1300, 275 g and 2400, 275 g and 2880.
 */
Test(programme, un_r22_06_is_72_linear_impacts)
{
    static const double speeds[] = {6.0, 7.5, 8.2}, peaks[] = {180, 275, 275}, hics[] = {1300, 2400, 2880};
    static const char *const tests[] = {"low/kerbstone", "std/kerbstone", "high/kerbstone"};
    struct case_file file;
    cases_load_text(HELMET("programme: un-r22.06\n"), &file);
    cr_assert_eq(file.impact_count, 75);
    cr_expect(file.incomplete, "extra points are not covered");
    int found[3] = {0}, cold = 0, right = 0, oblique = 0;
    for (size_t i = 0; i < 75; i++) {
        const struct case_impact *impact = &file.impacts[i];
        cr_expect_eq(impact->number, (int)i + 1);
        cr_expect_eq(impact->test_count, 1);
        if (impact->angle > 0) {
            const struct case_test *test = test_of(&file, impact, "un-r22.06", "oblique/abrasive-45");
            cr_assert(test);
            cr_expect_float_eq(test->limit[METRIC_peak_rot_acc], 10400, 1e-9);
            cr_expect_eq(test->limit[METRIC_bric], 0.78);
            cr_expect_float_eq(impact->speed[0], 8.0, 1e-12);
            cr_expect_eq(impact->temperature, 25, "one condition of three");
            cr_expect_eq(impact->anvil.friction, 0.55);
            oblique++;
            continue;
        }
        cold += impact->temperature == -20;
        right += strcmp(impact->site, "X-right") == 0;
        for (int k = 0; k < 3; k++) {
            const struct case_test *test = test_of(&file, impact, "un-r22.06", tests[k]);
            if (!test)
                continue;
            found[k]++;
            cr_expect_float_eq(impact->speed[0], speeds[k], 1e-12);
            cr_expect_str_eq(impact->anvil.name, "kerbstone");
            cr_expect_float_eq(test->limit[METRIC_peak], peaks[k], 1e-9);
            cr_expect_eq(test->limit[METRIC_hic], hics[k]);
            cr_expect(isnan(test->limit[METRIC_above_150g]));
            cr_expect(strstr(test->provenance, "from memory") != NULL);
        }
    }
    cr_expect(found[0] == 12 && found[1] == 12 && found[2] == 12 && cold == 24 && right == 18);
    cr_expect_eq(oblique, 3);
    case_free(&file);
}

/* Regions that differ from side to side: the other X as well. */
Test(programme, both_sides_where_they_differ)
{
    struct case_file file;
    cases_load_text("headform: {size: J}\nshell: {material: abs, thickness: 3.5 mm}\n"
                    "liner: {regions: [{name: ear, centre: [0 deg, 90 deg], half_angle: 20 deg, layers: "
                    "[{density: 60 g/l, thickness: 40 mm}]}, {name: rest, layers: [{density: 50 g/l, "
                    "thickness: 40 mm}]}]}\nprogramme: un-r22.06\n",
                    &file);
    cr_assert_eq(file.impact_count, 93);
    case_free(&file);
    cases_load_text(
        "headform: {size: J}\nshell: {material: abs, thickness: 3.5 mm}\n"
        "liner: {regions: [{name: ear, centre: [0 deg, 90 deg], half_angle: 20 deg, mirror: true, "
        "layers: [{density: 60 g/l, thickness: 40 mm}]}, {name: rest, layers: [{density: 50 g/l, "
        "thickness: 40 mm}]}]}\nprogramme: un-r22.06\n",
        &file);
    cr_assert_eq(file.impact_count, 75);
    case_free(&file);
}

/* What two programmes and the case itself share is solved once and judged by each. */
Test(programme, equal_impacts_are_one)
{
    struct case_file file;
    cases_load_text(HELMET("impacts: [{at: P, anvil: flat, speed: 7.5 m/s, temperature: 25 degC}]\n"
                           "programme: [un-r22.05, un-r22.06]\n"),
                    &file);
    cr_assert_eq(file.impact_count, 72 + 3 + 6);
    cr_expect_eq(count_own(&file), 1);
    size_t shared = 0;
    for (size_t i = 0; i < file.impact_count; i++)
        shared += test_of(&file, &file.impacts[i], "un-r22.05", "std/flat") != NULL &&
                  test_of(&file, &file.impacts[i], "un-r22.06", "std/flat") != NULL;
    cr_expect_eq(shared, 12);
    cr_expect_eq(file.impacts[0].test_count, 2);
    case_free(&file);
}

Test(programme, temperatures_and_speed_are_chosen)
{
    struct case_file file;
    cases_load_text(HELMET("programme: {name: un-r22.06, temperatures: [cold], speed: highest}\n"), &file);
    cr_assert_eq(file.impact_count, 24);
    for (size_t i = 0; i < 24; i++)
        cr_expect_eq(file.impacts[i].temperature, -20);
    cr_expect_float_eq(file.impacts[0].speed[0], 6.15, 1e-12);
    case_free(&file);
}

/* A headform that a programme does not name: listed, and an error when nothing else is left. */
Test(programme, another_headform_is_not_covered)
{
    struct case_file file;
    cases_load_text(HELMET("programme: [un-r22.05, cpsc-1203]\n"), &file);
    cr_expect_eq(file.impact_count, 24 + 6);
    cr_expect(file.incomplete);
    cr_expect_str_eq(file.not_covered[file.not_covered_count - 1],
                     "cpsc-1203: strikes headforms en-960-5kg A, E, J, M, O; here it is en-960 J");
    case_free(&file);
}

/* Other names for the same foam on the other side do not make a helmet of two sides; a test with sites of its
 * own has no other side. */
Test(programme, sides_are_compared_by_their_foam)
{
    struct case_file file;
    cases_load_text(
        "headform: {size: J}\nshell: {material: abs, thickness: 3.5 mm}\n"
        "liner: {regions: [{name: one, centre: [0 deg, 90 deg], half_angle: 20 deg, layers: "
        "[{density: 60 g/l, thickness: 40 mm}]}, {name: two, centre: [0 deg, -90 deg], half_angle: "
        "20 deg, layers: [{density: 60 g/l, thickness: 40 mm}]}, {name: rest, layers: [{density: 50 "
        "g/l, thickness: 40 mm}]}]}\nprogramme: un-r22.06\n",
        &file);
    cr_expect_eq(file.impact_count, 75);
    case_free(&file);
}

/* Wet helmets are struck for themselves, though they are computed as dry ones; a programme that is named
 * twice judges once. */
Test(programme, wet_and_twice)
{
    struct case_file file;
    cases_load_text("headform: {set: en-960-5kg, size: J}\nshell: {material: abs, thickness: 3.5 mm}\n"
                    "liner: {density: 50 g/l, thickness: 40 mm}\nprogramme: [cpsc-1203, cpsc-1203]\n",
                    &file);
    cr_expect_eq(file.impact_count, 4 * 3 * 4);
    for (size_t i = 0; i < file.impact_count; i++)
        cr_expect_eq(file.impacts[i].test_count, 1);
    cr_expect_eq(file.not_covered_count, 1);
    case_free(&file);
}

/* Without a shape of the headform a programme is listed, and the case goes on with its own impacts. */
Test(programme, a_headform_without_shape)
{
    struct case_file file;
    cases_load_text("headform: {set: fmvss-218, size: M}\nshell: {material: abs, thickness: 3.5 mm}\n"
                    "liner: {density: 50 g/l, thickness: 40 mm}\nprogramme: fmvss-218\n"
                    "impacts: [{at: P, anvil: flat, speed: 6 m/s}]\n",
                    &file);
    cr_expect_eq(file.impact_count, 1);
    cr_assert_eq(file.not_covered_count, 1);
    cr_expect(strncmp(file.not_covered[0], "fmvss-218: not computed: ", 25) == 0, "%s", file.not_covered[0]);
    cr_expect(file.incomplete);
    case_free(&file);
}

/* --- the user's own --- */

static char folder[] = "/tmp/foampulse_programme_XXXXXX";

static void write_file(const char *name, const char *text)
{
    char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    cr_assert(file && fputs(text, file) >= 0 && fclose(file) == 0);
}

static void own_folder(void)
{
    strcpy(folder, "/tmp/foampulse_programme_XXXXXX");
    cr_assert(mkdtemp(folder) != NULL);
}

static void drop_folder(void)
{
    char command[128];
    snprintf(command, sizeof command, "rm -r %s", folder);
    cr_expect_eq(system(command), 0);
}

TestSuite(house, .init = own_folder, .fini = drop_folder);

#define HOUSE(tests)                                                                                         \
    "title: house\nheadforms: {sizes: [J]}\nsites: [P]\nconditions: {ambient: 25 degC}\ntests:\n" tests

static enum status load_house(const char *programme, const char *more, struct case_file *file,
                              struct errors *errors)
{
    char path[128], text[1024];
    snprintf(text, sizeof text, HELMET("programme: ./house.yaml\n") "%s", more);
    write_file("house.yaml", programme);
    write_file("case.yaml", text);
    snprintf(path, sizeof path, "%s/case.yaml", folder);
    return case_load(path, NULL, 0, file, errors);
}

/* Its text is part of what the case is. */
Test(house, is_read_beside_the_case_and_hashed_with_it)
{
    struct case_file file;
    struct errors errors = {0};
    char hash[33];
    cr_assert_eq(load_house(HOUSE("  - {name: a, anvils: [flat], speed: 5 m/s, limits: {peak_g: 200 g}}\n"),
                            "", &file, &errors),
                 STATUS_OK, "%s", errors.kept[0].text);
    cr_expect_eq(file.impact_count, 1);
    cr_expect_not(file.incomplete);
    cr_expect(strstr(file.text, "\n# programme ./house.yaml\n# title: house\n") != NULL, "%s", file.text);
    strcpy(hash, file.hash);
    case_free(&file);
    cr_assert_eq(load_house(HOUSE("  - {name: a, anvils: [flat], speed: 5 m/s, limits: {peak_g: 201 g}}\n"),
                            "", &file, &errors),
                 STATUS_OK);
    cr_expect_str_neq(file.hash, hash);
    case_free(&file);
}

Test(house, faults_are_located)
{
    static const struct {
        const char *programme;
        int line, column;
        const char *text;
    } faults[] = {
        {HOUSE("  - {name: a, anvils: [flat], speed: 5 m/s}\n"), 6, 5, "`limits` is missing"},
        {HOUSE("  - {name: a, anvils: [flat], speed: 5 m/s, limits: some}\n"), 6, 53,
         "none or not established"},
        {HOUSE("  - {name: a, anvils: [flat], limits: none}\n"), 6, 5, "exactly one of speed"},
        {HOUSE("  - {name: a, anvils: [flat], speed: 5 m/s, limits: {}}\n"), 6, 53,
         "none or not established"},
        {HOUSE("  - {name: a, anvils: [flat], speed: 5 m/s, limits: none, provenance: "
               "123456789 123456789 123456789 123456789 123456789 123456789 123456789 123456789 123456789 "
               "123456}\n"),
         6, 71, "95 bytes"},
        {HOUSE("  - {name: a, speed: 5 m/s, limits: none}\n"), 6, 5, "`anvils` is missing"},
        {HOUSE("  - {name: a, anvils: [flatt], speed: 5 m/s, limits: none}\n"), 6, 24, "nearest: 'flat'"},
        {HOUSE("  - {name: a, anvils: [abrasive-45], speed: 5 m/s, limits: none}\n"), 6, 5,
         "`towards` is missing"},
        {HOUSE("  - {name: a, anvils: [flat], conditions: [tepid], speed: 5 m/s, limits: none}\n"), 6, 44,
         "has no condition tepid"},
        {HOUSE("  - {name: a, anvils: [flat], towards: up, speed: 5 m/s, limits: none}\n"), 6, 40,
         "square on"},
        {HOUSE("  - {name: a, anvils: [flat], sites: [Q], speed: 5 m/s, limits: none}\n"), 6, 39,
         "site 'Q' is not known"},
        {"headforms: {sizes: [J]}\nsites: [P]\ntests: [{name: a, anvils: [flat], speed: 5 m/s, limits: "
         "none}]\n",
         1, 1, "`conditions` takes"},
        {"headforms: {sizes: [J]}\nsites: [P]\nconditions: {hot: 300 degC}\ntests: [{name: a, anvils: "
         "[flat], "
         "speed: 5 m/s, limits: none}]\n",
         3, 19, "must be from"},
        {"tests: []\n", 1, 8, "takes 1 to 64 items"},
        {"title: nothing\n", 1, 1, "`tests` is missing"},
    };
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++) {
        struct case_file file;
        struct errors errors = {0};
        cr_expect_eq(load_house(faults[i].programme, "", &file, &errors), STATUS_INPUT, "fault %zu", i);
        const struct error *first = &errors.kept[0];
        cr_expect(strstr(first->text, faults[i].text) != NULL, "fault %zu: %s", i, first->text);
        cr_expect(first->line == faults[i].line && first->column == faults[i].column, "fault %zu: %d:%d", i,
                  first->line, first->column);
        cr_expect(strstr(first->file, "house.yaml") != NULL, "fault %zu: %s", i, first->file);
        cr_expect_eq(errors.count, 1, "fault %zu: %zu errors", i, errors.count);
    }
}

/* Paths are those of the file that names them: two files of one spelling are two. */
Test(house, is_the_file_that_was_named)
{
    struct case_file file;
    struct errors errors = {0};
    char path[128];
    snprintf(path, sizeof path, "%s/sub", folder);
    cr_assert_eq(mkdir(path, 0777), 0);
    write_file("house.yaml", HOUSE("  - {name: a, anvils: [flat], speed: 5 m/s, limits: {peak_g: 200 g}}\n"));
    write_file("sub/house.yaml",
               HOUSE("  - {name: a, anvils: [flat], speed: 5 m/s, limits: {peak_g: 100 g}}\n"));
    write_file("sub/more.yaml", "programme: ./house.yaml\n");
    write_file("case.yaml", "include: sub/more.yaml\n" HELMET("limits: ./house.yaml\n"));
    snprintf(path, sizeof path, "%s/case.yaml", folder);
    cr_assert_eq(case_load(path, NULL, 0, &file, &errors), STATUS_OK, "%s", errors.kept[0].text);
    cr_assert_eq(file.impact_count, 1);
    cr_expect_eq(file.programme_count, 2);
    cr_assert_eq(file.impacts[0].test_count, 2);
    cr_expect_float_eq(file.tests[file.impacts[0].tests[0]].limit[METRIC_peak], 100, 1e-9);
    cr_expect_float_eq(file.tests[file.impacts[0].tests[1]].limit[METRIC_peak], 200, 1e-9);
    case_free(&file);
}

/* Files of others stay where they are. */
Test(house, lies_in_the_folder_of_the_case)
{
    static const char *const paths[] = {"/etc/passwd", "../house.yaml", "./below/../../house.yaml",
                                        "./link.yaml"};
    char link[128];
    snprintf(link, sizeof link, "%s/link.yaml", folder);
    cr_assert_eq(symlink("/etc/passwd", link), 0);
    for (size_t i = 0; i < 4; i++) {
        struct case_file file;
        struct errors errors = {0};
        char path[128], text[1024];
        snprintf(text, sizeof text, HELMET("programme: %s\n"), paths[i]);
        write_file("case.yaml", text);
        snprintf(path, sizeof path, "%s/case.yaml", folder);
        cr_expect_eq(case_load(path, NULL, 0, &file, &errors), STATUS_INPUT, "%s", paths[i]);
        cr_expect(strstr(errors.kept[0].text, "outside the folder of the case") != NULL, "%s",
                  errors.kept[0].text);
    }
}

/* Every allocation fails once. */
Test(house, without_memory)
{
    static const char *const sets[] = {"programme=[un-r22.06, racing-8.2]"};
    size_t successes = 0;
    for (int done = 0; !done; successes++) {
        struct case_file file;
        struct errors errors = {0};
        size_t failures = memory_failures();
        memory_fail_after(successes);
        enum status status = case_load(FOAMPULSE_SOURCE "/cases/demo/crown.yaml", sets, 1, &file, &errors);
        memory_fail_after(SIZE_MAX);
        done = memory_failures() == failures;
        cr_assert_eq(status, done ? STATUS_OK : STATUS_MEMORY, "allocation %zu: %s", successes,
                     errors.kept[0].text);
        if (status == STATUS_OK)
            case_free(&file);
    }
    cr_expect_gt(successes, 500);
}

/* --- judging --- */

/* Each test of a hit judges by its own limits; one without says so; what is not covered leaves the case
 * incomplete. */
Test(programme, hits_are_judged_by_their_tests)
{
    struct case_result result;
    cases_solve_text(HELMET("model: columns\nsolver: {rings: 8, cell: 4 mm}\n"
                            "limits: {peak_g: 1000 g}\n"
                            "programme: [{name: un-r22.05, temperatures: [ambient]}, racing-8.2]\n"),
                     &result);
    cr_assert_eq(result.hit_count, 16 + 9);
    int own = 0, none = 0, peak = 0, hic = 0;
    for (size_t i = 0; i < result.hit_count; i++) {
        const struct hit_result *hit = &result.hits[i];
        for (size_t k = 0; k < hit->judgement_count; k++) {
            const struct judgement *one = &hit->judgements[k];
            own += one->programme[0] == '\0' && fabs(one->limit - 1000) < 1e-9;
            none += strcmp(one->programme, "racing-8.2") == 0 && one->state == VERDICT_NO_LIMIT &&
                    isnan(one->limit) && strcmp(one->provenance, "not established here") == 0;
            peak += strcmp(one->programme, "un-r22.05") == 0 && one->metric == METRIC_peak &&
                    fabs(one->limit - 275) < 1e-9;
            hic +=
                strcmp(one->programme, "un-r22.05") == 0 && one->metric == METRIC_hic && one->limit == 2400;
        }
    }
    cr_expect(own == 25 && none == 11 && peak == 8 && hic == 8, "%d %d %d %d", own, none, peak, hic);
    cr_expect(result.verdict == VERDICT_INCOMPLETE || result.verdict == VERDICT_EXCEEDS);
    cr_expect_gt(result.not_covered_count, 3);
    case_result_free(&result);
}

/* `limits: NAME` takes the test of the same anvil and a speed within its tolerance, never the nearest. */
Test(programme, limits_by_name)
{
    struct case_file file;
    cases_load_text(HELMET("limits: un-r22.06\n"
                           "impacts:\n"
                           "  - {at: P, anvil: flat, speed: 7.6 m/s}\n"
                           "  - {at: P, anvil: flat, speed: 7.4 m/s}\n"
                           "  - {at: front, anvil: kerbstone, speed: 8.2 m/s}\n"
                           "  - {at: P, anvil: hemisphere, speed: 7.5 m/s}\n"
                           "  - {at: P, anvil: flat, hits: [7.5 m/s, 7.5 m/s]}\n"),
                    &file);
    static const char *const expected[] = {"std/flat", NULL, "high/kerbstone", NULL, NULL};
    cr_assert_eq(file.impact_count, 5);
    for (size_t i = 0; i < 5; i++) {
        cr_expect_eq(file.impacts[i].test_count, expected[i] ? 1 : 0, "impact %zu", i + 1);
        cr_expect(!expected[i] || test_of(&file, &file.impacts[i], "un-r22.06", expected[i]));
    }
    case_free(&file);
}
