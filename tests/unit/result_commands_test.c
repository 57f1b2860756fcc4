#include <criterion/criterion.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "cases/store.h"
#include "tests/support/sample_result.h"

/* plot and show, run as programs on result files made here. */

static char folder[] = "/tmp/foampulse_commands_XXXXXX";

static void begin(void)
{
    cr_assert_not_null(mkdtemp(folder));
    cr_assert_eq(chdir(folder), 0);
}

static void end(void)
{
    char command[128];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    cr_assert_eq(system(command), 0);
}

TestSuite(result_commands, .init = begin, .fini = end, .timeout = 120);

static void make(const char *path, int variant, const char *title)
{
    struct case_result result;
    struct errors errors = {0};
    sample_result(&result, variant);
    if (title) {
        memory_free(result.title);
        result.title = memory_text(title);
    }
    cr_assert_eq(store_write(path, &result, NULL, &errors), STATUS_OK, "%s", errors.kept[0].text);
    case_result_free(&result);
}

static char out[1 << 20];

/* Runs the program with these arguments (a shell line); its output is in `out`. Returns the exit status. */
static int run(const char *arguments, int errors_too)
{
    const char *program = getenv("FOAMPULSE");
    char command[1024];
    snprintf(command, sizeof command, "%s %s %s",
             program ? program : FOAMPULSE_SOURCE "/.build/release/foampulse", arguments,
             errors_too ? "2>&1 >/dev/null" : "2>/dev/null");
    FILE *pipe = popen(command, "r");
    cr_assert_not_null(pipe);
    size_t got = fread(out, 1, sizeof out - 1, pipe);
    out[got] = '\0';
    return WEXITSTATUS(pclose(pipe));
}

static int is_there(const char *path)
{
    struct stat about;
    return stat(path, &about) == 0 && about.st_size > 0;
}

Test(result_commands, plot_writes_beside_the_first_result)
{
    cr_assert_eq(mkdir("sub", 0700), 0);
    make("sub/a.h5", 0, NULL);
    make("b.h5", 1, NULL);
    cr_expect_eq(run("plot sub/a.h5 b.h5", 1), 0, "%s", out);
    cr_expect(is_there("sub/a.pulse.png") && is_there("sub/a.headmap.png") && is_there("sub/a.crush.png"));
    cr_expect_not(is_there("sub/a.energy.png"));
    cr_assert_eq(mkdir("pictures", 0700), 0);
    cr_expect_eq(run("plot sub/a.h5 --picture energy,layers --format svg -o pictures", 1), 0, "%s", out);
    cr_expect(is_there("pictures/a.energy.svg") && is_there("pictures/a.layers.svg"));
    cr_expect_not(is_there("pictures/a.pulse.svg"));
}

Test(result_commands, plot_as_text_goes_to_standard_output)
{
    make("a.h5", 0, NULL);
    cr_expect_eq(run("plot a.h5 --picture pulse --format text", 0), 0);
    cr_expect_not_null(strstr(out, "time since first touch (ms)"));
    cr_expect_not_null(strstr(out, "****"));
    cr_expect_null(strchr(out, '?'), "no character that the terminal's filter would refuse");
    cr_expect_not(is_there("a.pulse.text"));
}

Test(result_commands, plot_mistakes)
{
    make("a.h5", 0, NULL);
    cr_expect_eq(run("plot a.h5 --picture puls", 1), 2);
    cr_expect_not_null(strstr(out, "did you mean 'pulse'"));
    cr_expect_eq(run("plot a.h5 --at '2 ms'", 1), 2);
    cr_expect_not_null(strstr(out, "--at means nothing without --picture section"));
    cr_expect_eq(run("plot a.h5 --picture section --at '2 mm'", 1), 2);
    cr_expect_not_null(strstr(out, "or 'peak'"));
    cr_expect_eq(run("plot a.h5 --picture section --at '50 ms'", 1), 3);
    cr_expect_not_null(strstr(out, "no snapshot near 50 ms"));
    cr_expect_eq(run("plot a.h5 a.h5 a.h5 --picture section --at '0 ms,2 ms,4 ms'", 1), 2);
    cr_expect_not_null(strstr(out, "at most 8 panels, not 9"));
    cr_expect_eq(run("plot a.h5 --picture section --field colour", 1), 2);
    cr_expect_eq(run("plot a.h5 -o nowhere/", 1), 4);
    cr_expect_eq(run("plot a.h5 --format text -o .", 1), 2);
    cr_expect_eq(run("plot a.h5 a.h5 a.h5 a.h5 a.h5 a.h5 a.h5 a.h5 a.h5", 1), 2);
    cr_expect_eq(run("plot absent.h5", 1), 4);
    FILE *file = fopen("case.yaml", "w");
    fputs("headform: {size: J}\n", file);
    fclose(file);
    cr_expect_eq(run("plot case.yaml", 1), 3);
    cr_expect_not_null(strstr(out, "not a foampulse result"));
    cr_expect_not(is_there("a.pulse.png"));
}

/* A bench test has no head: the default set leaves the map out, by name it is an error. */
Test(result_commands, plot_of_a_pad)
{
    struct case_result result;
    struct errors errors = {0};
    sample_result(&result, 0);
    for (size_t i = 0; i < result.hit_count; i++)
        result.hits[i].elevation = result.hits[i].azimuth = NAN;
    cr_assert_eq(store_write("pad.h5", &result, NULL, &errors), STATUS_OK);
    case_result_free(&result);
    cr_expect_eq(run("plot pad.h5", 1), 0, "%s", out);
    cr_expect(is_there("pad.pulse.png") && !is_there("pad.headmap.png"));
    cr_expect_eq(run("plot pad.h5 --picture headmap", 1), 3);
    cr_expect_not_null(strstr(out, "no sites on a head"));
}

Test(result_commands, show_as_table)
{
    make("a.h5", 0, NULL);
    cr_expect_eq(run("show a.h5", 0), 0);
    cr_expect_not_null(strstr(out, "One density, 50 g/l"));
    cr_expect_not_null(strstr(out, "  size M: headform en-960 J with own mass, 4.70 kg; helmet 1.328 kg"));
    cr_expect_not_null(strstr(out, "  6  M     front"));
    cr_expect_lt(strstr(out, "  6  M     front"), strstr(out, "  1  M     P "), "smallest margin first");
    cr_expect_not_null(strstr(out, "  -  not computed "));
    cr_expect_not_null(strstr(out, "  no temperature table for the foam\n"));
    cr_expect_not_null(strstr(out, CAUTION_TEXT "\n"));
    cr_expect_str_eq(strstr(out, CAUTION_TEXT), CAUTION_TEXT "\n", "the caution is the last line");
}

Test(result_commands, show_as_json)
{
    make("a.h5", 0, NULL);
    make("b.h5", 1, NULL);
    cr_expect_eq(run("show a.h5 b.h5 --json", 0), 0);
    json_t *object = json_loads(out, 0, NULL), *hit, *none;
    cr_assert_not_null(object);
    cr_expect_str_eq(json_string_value(json_object_get(object, "schema")), "foampulse/summary/1");
    json_t *cases = json_object_get(object, "cases");
    cr_assert_eq(json_array_size(cases), 2);
    json_t *impacts = json_object_get(json_array_get(cases, 1), "impacts");
    cr_assert_eq(json_array_size(impacts), 7);
    hit = json_array_get(impacts, 1);
    struct case_result want;
    sample_result(&want, 1);
    for (size_t i = 0; i < METRIC_COUNT; i++) {
        json_t *value = json_object_get(json_object_get(hit, "metrics"), metric_table[i].name);
        double metric = want.hits[1].output.metrics[i];
        cr_assert_not_null(value, "%s", metric_table[i].name);
        if (isnan(metric))
            cr_expect(json_is_null(value), "%s", metric_table[i].name);
        else
            cr_expect_float_eq(json_real_value(value), metric, 1e-9 * fabs(metric), "%s",
                               metric_table[i].name);
    }
    for (size_t i = 0; i < ENERGY_COUNT; i++) {
        char name[64];
        snprintf(name, sizeof name, "%s_J", energy_table[i].name);
        json_t *value = json_object_get(json_object_get(hit, "energy"), name);
        cr_expect_float_eq(json_real_value(value), want.hits[1].output.energy[i], 1e-7);
    }
    cr_expect_eq(json_array_size(json_object_get(hit, "limits")), 2);
    cr_expect_eq(json_array_size(json_object_get(hit, "layers")), 3);
    none = json_array_get(impacts, 6);
    cr_expect_str_eq(json_string_value(json_object_get(none, "status")), "not computed");
    cr_expect(json_is_null(json_object_get(json_object_get(none, "energy"), "foam_J")), "null, never 0");
    case_result_free(&want);
    json_decref(object);
}

static size_t commas_outside_quotes(const char *line)
{
    size_t count = 0;
    int quoted = 0;
    for (; *line && *line != '\n'; line++) {
        quoted ^= *line == '"';
        count += *line == ',' && !quoted;
    }
    return count;
}

Test(result_commands, show_as_csv)
{
    make("a.h5", 0, "=HYPERLINK(\"x\"), \"quoted\"\nand a line");
    cr_expect_eq(run("show a.h5 --csv", 0), 0);
    size_t lines = 0, fields = commas_outside_quotes(out);
    cr_expect_gt(fields, 50);
    for (const char *line = out; *line; line = strchr(line, '\n') + 1, lines++)
        cr_expect_eq(commas_outside_quotes(line), fields, "line %zu", lines);
    cr_expect_eq(lines, 8);
    cr_expect_not_null(strstr(out, ",\"'=HYPERLINK(\"\"x\"\"), \"\"quoted\"\" and a line\","));
    cr_expect_eq(run("show a.h5 --csv --json", 0), 2);
}

/* No escape sequence or line break of a file reaches the terminal. */
Test(result_commands, titles_are_text)
{
    make("a.h5", 0, "\033[2Jcleared\r\nverdict: within\a");
    cr_expect_eq(run("show a.h5", 0), 0);
    cr_expect_null(strchr(out, '\033'));
    cr_expect_null(strchr(out, '\r'));
    cr_expect_null(strstr(out, "\nverdict: within"));
    cr_expect_eq(run("plot a.h5 --format text --picture pulse", 0), 0);
    cr_expect_null(strchr(out, '\033'));
}
