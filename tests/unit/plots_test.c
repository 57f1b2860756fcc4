#include <criterion/criterion.h>
#include <dirent.h>
#include <fcntl.h>
#include <signal.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "plots/headmap.h"
#include "plots/margins.h"
#include "plots/plots.h"
#include "plots/rotation.h"
#include "plots/script.h"
#include "plots/style.h"
#include "tests/support/sample_result.h"

static char folder[] = "/tmp/foampulse_plots_XXXXXX";
static char path[64];

static void begin(void)
{
    signal(SIGXFSZ, SIG_IGN);
    cr_assert_not_null(mkdtemp(folder));
    cr_assert_eq(chdir(folder), 0);
    snprintf(path, sizeof path, "%s/a.png", folder);
}

static size_t files_in(void)
{
    size_t count = 0;
    DIR *listing = opendir(folder);
    for (struct dirent *entry; listing && (entry = readdir(listing));)
        count += entry->d_name[0] != '.';
    if (listing)
        closedir(listing);
    return count;
}

static void end(void)
{
    DIR *listing = opendir(folder);
    for (struct dirent *entry; listing && (entry = readdir(listing));) {
        if (entry->d_name[0] != '.')
            remove(entry->d_name);
    }
    if (listing)
        closedir(listing);
    rmdir(folder);
}

TestSuite(plots, .init = begin, .fini = end, .timeout = 120);

/* --- text from outside --- */

static void expect_clean(const char *text, const char *want)
{
    char clean[900];
    script_clean(text, SCRIPT_TEXT, clean, sizeof clean);
    cr_expect_str_eq(clean, want, "`%s` became `%s`", text, clean);
}

Test(plots, text_is_cleaned)
{
    expect_clean("Größe M, 45 g/l", "Größe M, 45 g/l");
    expect_clean("it's", "it\xe2\x80\x99s");
    expect_clean("a\nb\tc\x1b[31m\x7f", "a b c [31m ");
    expect_clean("a\xe2\x80\xaez\xe2\x80\xa8", "a z "); /* direction override, line separator */
    expect_clean("a]]>b]]]>", "a]] >b]]] >");           /* end of CDATA */
    expect_clean("\xc3(\xff\xed\xa0\x80", " (    ");    /* broken, and a surrogate */
    expect_clean("\xc0\xaf", "  ");                     /* overlong */
    expect_clean("\xf4\x90\x80\x80", "    ");           /* past the last code point */
    expect_clean("cut \xe2\x82", "cut   ");             /* ends within a character */
    char text[10001], clean[900];
    memset(text, 'x', sizeof text - 1);
    text[sizeof text - 1] = '\0';
    script_clean(text, SCRIPT_TEXT, clean, sizeof clean);
    cr_expect_eq(strlen(clean), SCRIPT_TEXT + 3);
    script_clean("12345", 5, clean, sizeof clean);
    cr_expect_str_eq(clean, "12345");
    script_clean("123456", 5, clean, sizeof clean);
    cr_expect_str_eq(clean, "12345\xe2\x80\xa6");
}

Test(plots, percent_is_doubled_in_tics_only)
{
    struct script script = {0};
    script_text(&script, "5 %", 20);
    script_tic(&script, "5 %", 20);
    cr_expect_str_eq(script.text, "'5 %''5 %%'");
    script_free(&script);
}

Test(plots, thinning_keeps_the_extremes)
{
    enum { N = 100000 };
    static double x[N], y[N];
    for (int i = 0; i < N; i++) {
        x[i] = i;
        y[i] = sin(i * 1e-3);
    }
    y[54321] = 77;
    y[54322] = -88;
    struct script script = {0};
    script_block(&script, "d", x, y, N);
    size_t lines = 0;
    for (const char *at = script.text; (at = strchr(at, '\n')); at++)
        lines++;
    cr_expect_leq(lines, 2 * SCRIPT_PAIRS + 2);
    cr_expect_gt(lines, SCRIPT_PAIRS);
    cr_expect_not_null(strstr(script.text, "\n54321 77\n54322 -88\n"));
    script_free(&script);
}

/* --- pictures --- */

static enum status draw(const char *name, size_t count, enum picture_format format, const char *title,
                        char **text, struct errors *errors)
{
    struct case_result results[3] = {0};
    for (size_t i = 0; i < count; i++) {
        sample_result(&results[i], (int)i);
        if (title) {
            memory_free(results[i].title);
            results[i].title = memory_text(title);
            for (size_t h = 0; h < results[i].hit_count; h++) {
                struct hit_result *hit = &results[i].hits[h];
                snprintf(hit->site, sizeof hit->site, "%.40s", title);
                snprintf(hit->anvil, sizeof hit->anvil, "%.40s", title);
                snprintf(hit->region, sizeof hit->region, "%.40s", title);
                for (size_t layer = 0; layer < hit->output.layer_count; layer++)
                    snprintf(hit->output.layers[layer].region, 48, "%.40s", title);
            }
            for (size_t r = 0; r < results[i].map.region_count; r++)
                snprintf(results[i].map.regions[r].name, REGION_NAME, "%.40s", title);
        }
    }
    *errors = (struct errors){0};
    enum status status = plots_draw(name, results, count, &(struct section_view){0}, format,
                                    format == PICTURE_TEXT ? NULL : path, text, errors);
    for (size_t i = 0; i < count; i++)
        case_result_free(&results[i]);
    return status;
}

/* First bytes of the file. */
static int starts_with(const char *want)
{
    char have[16] = "";
    FILE *file = fopen(path, "rb");
    size_t got = file ? fread(have, 1, sizeof have, file) : 0;
    if (file)
        fclose(file);
    return got >= strlen(want) && memcmp(have, want, strlen(want)) == 0;
}

Test(plots, every_picture_in_every_format)
{
    static const char *const magic[] = {"\x89PNG\r\n", "<?xml", "%PDF-", "GIF89a"};
    struct errors errors;
    for (size_t i = 0; i < PLOT_COUNT; i++) {
        for (int format = 0; format < PICTURE_FORMATS; format++) {
            char *text = NULL;
            enum status status =
                draw(plot_table[i].name, 2, (enum picture_format)format, NULL, &text, &errors);
            cr_expect_eq(status, STATUS_OK, "%s: %s", plot_table[i].name, errors.kept[0].text);
            if (format == PICTURE_TEXT)
                cr_expect(text && strlen(text) > 1000, "%s", plot_table[i].name);
            else
                cr_expect(starts_with(magic[format]), "%s as %s", plot_table[i].name,
                          picture_format_names[format]);
            memory_free(text);
            remove(path);
            cr_expect_eq(files_in(), 0);
        }
    }
}

/* The first number after a text of the script. */
static double number_after(const char *script, const char *text)
{
    const char *at = strstr(script, text);
    return at ? strtod(at + strlen(text), NULL) : NAN;
}

/* A millimetre is as long across as upwards, in one panel and in four; what is coloured is what was asked
 * for, at the snapshot that is nearest. */
Test(plots, cross_sections_are_to_scale)
{
    struct case_result result;
    struct layout layout;
    struct errors errors = {0};
    sample_result(&result, 0);
    layouts_pick(&result, 1, &layout);
    const struct section_view views[] = {{.field = SECTION_STRESS},
                                         {.time_count = 4, .time = {0, 1.8e-3, 2.9e-3, NAN}}};
    static const char *const shown[] = {"stress (kPa)", "strain (%)"};
    for (int v = 0; v < 2; v++) {
        struct script script = {0};
        cr_assert_eq(section_compose(&script, &layout, 1, &views[v], PICTURE_PNG, &errors), STATUS_OK);
        cr_assert_not(script.failed);
        double width = number_after(script.text, "pngcairo noenhanced truecolor size ");
        double height = number_after(strstr(script.text, "truecolor size "), ",");

        const char *panel = strstr(script.text, "set multiplot");
        cr_assert_not_null(panel);
        double across = number_after(panel, "rmargin at screen ") - number_after(panel, "lmargin at screen ");
        double upwards =
            number_after(panel, "tmargin at screen ") - number_after(panel, "bmargin at screen ");
        double reach = -number_after(script.text, "set xrange ["),
               low = number_after(script.text, "set yrange [");
        double high = number_after(strstr(script.text, "set yrange ["), ":");
        cr_expect_float_eq(across * width / (2 * reach), upwards * height / (high - low), 0.01, "%d", v);
        cr_expect_not_null(strstr(script.text, shown[v]));
        script_free(&script);
    }
    case_result_free(&result);
}

/* The anvil, the head and the foam of a GIF move: a frame a snapshot. */
Test(plots, a_gif_has_a_frame_a_snapshot)
{
    struct errors errors;
    cr_assert_eq(draw("section", 1, PICTURE_GIF, NULL, NULL, &errors), STATUS_OK, "%s", errors.kept[0].text);
    FILE *file = fopen(path, "rb");
    size_t frames = 0;
    unsigned char control[3] = {0}; /* of each frame: 21 F9 04 */
    for (int byte; file && (byte = fgetc(file)) != EOF;) {
        control[0] = control[1], control[1] = control[2], control[2] = (unsigned char)byte;
        frames += control[0] == 0x21 && control[1] == 0xf9 && control[2] == 4;
    }
    if (file)
        fclose(file);
    cr_expect_eq(frames, 3);
    remove(path);
}

/* Where a text of the SVG at `path` stands [1/100 of the picture's width and height]; 0 where it is not. */
static int text_place(const char *text, double place[2])
{
    static char content[1 << 21];
    FILE *file = fopen(path, "rb");
    size_t size = file ? fread(content, 1, sizeof content - 1, file) : 0;
    if (file)
        fclose(file);
    content[size] = '\0';
    char *found = strstr(content, text), *box = strstr(content, "viewBox=\"0 0 ");
    const char *at = NULL;
    double width = 0, height = 0;
    if (!found || !box || sscanf(box, "viewBox=\"0 0 %lf %lf", &width, &height) != 2)
        return 0;
    *found = '\0';
    for (const char *next = content; (next = strstr(next, "translate(")); next++)
        at = next;
    if (!at || sscanf(at, "translate(%lf,%lf)", &place[0], &place[1]) != 2)
        return 0;
    place[0] *= 100 / width;
    place[1] *= 100 / height;
    return 1;
}

/* The worst come first, and no more than there is room for; a hit without a limit has no bar, one that a
 * second layout lacks has the first one's. */
Test(plots, margins_worst_first)
{
    enum { HITS = 30 };
    static struct hit_result hits[HITS];
    static struct judgement judgements[HITS];
    static char name[] = "Layout";
    struct case_result result = {.title = name, .hit_count = HITS, .hits = hits}, other = {.title = name};
    struct layout layouts[2] = {{&result, &hits[0], "", name}, {&other, NULL, "", name}};
    struct errors errors = {0};
    for (int i = 0; i < HITS; i++) {
        double margin = 0.01 * (double)((7 * i) % HITS) - 0.1; /* each of -10 .. 19 % once */
        judgements[i] = (struct judgement){.metric = METRIC_peak,
                                           .limit = 100,
                                           .value = 100 - 100 * margin,
                                           .margin = margin,
                                           .state = margin < 0 ? VERDICT_EXCEEDS : VERDICT_WITHIN};
        hits[i] = (struct hit_result){.impact = i + 1,
                                      .hit = 1,
                                      .speed = 1 + (7 * i) % HITS,
                                      .judgement_count = i == 3 ? 0 : 1,
                                      .judgements = &judgements[i]};
        snprintf(hits[i].site, sizeof hits[i].site, "P");
        snprintf(hits[i].anvil, sizeof hits[i].anvil, "flat");
    }
    for (size_t count = 1; count <= 2; count++) {
        struct script script = {0};
        cr_assert_eq(margins_compose(&script, layouts, count, PICTURE_PNG, &errors), STATUS_OK);
        cr_expect(strstr(script.text, "the worst 24 of 29 hits") != NULL);
        const char *last = script.text;
        for (int k = 0; k < MARGINS_ROWS + 1; k++) { /* hit 3 would stand at 22 m/s */
            char tic[64];
            snprintf(tic, sizeof tic, "'P, flat, %d m/s, 0 °C' %d", k < 21 ? k + 1 : k + 2, -k);
            const char *at = strstr(last, tic);
            cr_expect(k < MARGINS_ROWS ? at != NULL : at == NULL, "row %d: %s", k, tic);
            last = at ? at : last;
        }
        script_free(&script);
    }
    result.hit_count = 0;
    struct script script = {0};
    cr_expect_eq(margins_compose(&script, layouts, 1, PICTURE_PNG, &errors), STATUS_INPUT);
    script_free(&script);
}

/* Oblique impacts that differ in one condition only, on one anvil at one site and speed: a bar each, with its
 * own value, in one layout and in two that have them in another order under other numbers. */
Test(plots, margins_of_oblique_impacts)
{
    enum { HITS = 6 };
    static struct hit_result hits[2][HITS];
    static struct judgement judgements[HITS];
    static char name[] = "Layout";
    struct case_result results[2];
    struct layout layouts[2];
    struct errors errors = {0};
    for (int i = 0; i < HITS; i++) {
        judgements[i] = (struct judgement){
            .metric = METRIC_peak, .limit = 100, .value = 91 - i, .margin = 0.09 + 0.01 * i};
        struct hit_result *hit = &hits[0][i];
        *hit = (struct hit_result){.impact = i + 1,
                                   .hit = 1,
                                   .site = "X-right",
                                   .anvil = "hemisphere",
                                   .angle = i == 1 ? 0.25 : 0.5235987755982988,
                                   .towards = {i == 2 ? -1.5 : 1.5, 0},
                                   .face_friction = i == 3 ? 0.5 : 0.35,
                                   .head_friction = i == 4 ? 0.5 : 0.16,
                                   .speed = 7.5,
                                   .temperature = -20,
                                   .judgement_count = 1,
                                   .judgements = &judgements[i]};
        hits[1][HITS - 1 - i] = *hit;
        hits[1][HITS - 1 - i].impact += 20;
    }
    hits[0][5].hit = hits[1][0].hit = 2;
    for (size_t k = 0; k < 2; k++) {
        results[k] = (struct case_result){.title = name, .hit_count = HITS, .hits = hits[k]};
        layouts[k] = (struct layout){&results[k], &hits[k][0], "", name};
    }
    for (size_t count = 1; count <= 2; count++) {
        struct script script = {0};
        cr_assert_eq(margins_compose(&script, layouts, count, PICTURE_PNG, &errors), STATUS_OK);
        for (int i = 0; i < HITS; i++) {
            char bar[48];
            snprintf(bar, sizeof bar, "set label '%d' at first", 9 + i);
            const char *first = strstr(script.text, bar), *second = first ? strstr(first + 1, bar) : NULL;
            cr_expect(first && (second != NULL) == (count == 2), "%zu: %s", count, bar);
        }
        cr_expect_not_null(strstr(script.text, "'X-right, hemisphere 30 deg, 7.5 m/s, -20 °C'"));
        cr_expect_not_null(strstr(script.text, "'X-right, hemisphere 14.32 deg, 7.5 m/s, -20 "));
        cr_expect_geq(number_after(script.text, "set lmargin at screen "), 0.025 + 44 * 0.0085);
        script_free(&script);
    }
}

/* The same hit of another layout has the same face; speeds may differ. */
Test(plots, same_hit_of_two_layouts)
{
    char text[LAYOUT_TEXT];
    const struct hit_result hit = {.impact = 2,
                                   .hit = 1,
                                   .site = "rear",
                                   .anvil = "flat",
                                   .angle = 0.5,
                                   .towards = {1.5, 0},
                                   .speed = 6,
                                   .temperature = 23};
    struct hit_result other[] = {hit, hit, hit, hit, hit, hit};
    other[0].speed = 6.5;
    other[1].angle = 0.6;
    other[2].towards[0] = -1.5;
    other[3].face_friction = 0.5;
    other[4].head_friction = 0.5;
    other[5].impact = 3;
    for (int i = 0; i < 6; i++)
        cr_expect_eq(layouts_same(&hit, &other[i]), i == 0, "%d", i);
    layouts_condition(&hit, text);
    cr_expect_str_eq(text, "Impact 2: rear on flat 28.65 deg, 6 m/s, 23 °C");
}

/* The second layout's head is dashed, so that width alone tells it from the shell; where the face moves
 * stands in the title of oblique impacts. */
Test(plots, rotation_says_what_is_what)
{
    static const struct {
        double towards[2];
        const char *title;
    } rows[] = {
        {{1.5707963267948966, 0}, "'Rotation, towards up. Impact 6: front on "},
        {{0.5235987755982988, -0.78539816339744828}, "'Rotation, towards [30, -45]. Impact 6: front on "},
        {{NAN, NAN}, "'Rotation of the headform. Impact 6: front on "}};
    struct errors errors = {0};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct case_result results[2];
        struct layout layouts[2];
        struct script script = {0};
        for (int k = 0; k < 2; k++) {
            sample_result(&results[k], k);
            for (size_t h = 0; h < results[k].hit_count; h++)
                memcpy(results[k].hits[h].towards, rows[i].towards, sizeof rows[i].towards);
        }
        layouts_pick(results, 2, layouts);
        cr_assert_eq(rotation_compose(&script, layouts, 2, PICTURE_PNG, &errors), STATUS_OK);
        cr_expect_not_null(strstr(script.text, rows[i].title), "%s", rows[i].title);
        cr_expect_not_null(strstr(script.text, ", -20 °C, size M'"));
        cr_expect_not_null(strstr(script.text, "'thick: head'"));
        cr_expect_not_null(strstr(script.text, "'thin, dotted: shell'"));
        cr_expect_null(strstr(script.text, "full line"));
        cr_expect_gt(fmin(style_width(0), style_width(1)), 1.9); /* against 1 of the shell */
        script_free(&script);
        for (int k = 0; k < 2; k++)
            case_result_free(&results[k]);
    }
}

/* Titles that begin alike would be cut to the same words: files tell them apart. */
Test(plots, layouts_are_told_apart)
{
    static char titles[3][64] = {"Two-density touring liner, size M shell, variant 1",
                                 "Two-density touring liner, size M shell, variant 2", "Another"},
                files[3][16] = {"a/v1.yaml", "b/v2.yaml", "v3.yaml"};
    struct case_result results[3];
    struct layout layouts[3];
    for (size_t i = 0; i < 3; i++)
        results[i] = (struct case_result){.title = titles[i], .file = files[i]};
    layouts_pick(results, 3, layouts);
    cr_expect_str_eq(layouts[0].name, "v1.yaml");
    cr_expect_str_eq(layouts[1].name, "v2.yaml");
    layouts_pick(results + 1, 2, layouts);
    cr_expect_str_eq(layouts[0].name, results[1].title);
    cr_expect_str_eq(layouts[1].name, "Another");
}

/* The map of a family shows the governing helmet alone and says which; beside a layout that has no such size
 * each panel says its own. */
Test(plots, map_of_one_size)
{
    struct case_result results[2];
    struct layout layouts[2];
    struct errors errors = {0};
    struct script script = {0};
    sample_result(&results[0], 0);
    sample_result(&results[1], 1);
    struct hit_result *hits = results[0].hits;
    size_t other = 0;
    while (&hits[other] == layouts_pick(results, 1, layouts) || hits[other].judgement_count == 0)
        other++;
    snprintf(hits[other].size, sizeof hits[other].size, "XS");
    snprintf(hits[other].site, sizeof hits[other].site, "nape");
    cr_assert_not_null(layouts_pick(results, 1, layouts));
    cr_expect_str_eq(layouts[0].size, "M");
    cr_assert_eq(headmap_compose(&script, layouts, 1, PICTURE_PNG, &errors), STATUS_OK);
    cr_expect_not_null(strstr(script.text, "limit on size M, by site"));
    cr_expect_null(strstr(script.text, "nape"));
    script_free(&script);
    for (size_t i = 0; i < results[1].hit_count; i++)
        snprintf(results[1].hits[i].size, sizeof results[1].hits[i].size, "L");
    layouts_pick(results, 2, layouts);
    cr_assert_eq(headmap_compose(&script, layouts, 2, PICTURE_PNG, &errors), STATUS_OK);
    cr_expect_not_null(strstr(script.text, "limit, by site"));
    cr_expect_not_null(strstr(script.text, "'M: "));
    cr_expect_not_null(strstr(script.text, "'L: "));
    script_free(&script);
    case_result_free(&results[0]);
    case_result_free(&results[1]);
}

/* What names a mark is not printed over by curves, windows or the names of layouts, and is not cut off. */
Test(plots, labels_have_room)
{
    struct errors errors;
    double place[2] = {0};
    cr_assert_eq(draw("pulse", 2, PICTURE_SVG, NULL, NULL, &errors), STATUS_OK);
    cr_assert(text_place("<text>HIC windows", place));
    cr_expect_gt(place[0], 74.5, "right of the plot: at %g %%", place[0]);
    cr_assert_eq(draw("crush", 2, PICTURE_SVG, NULL, NULL, &errors), STATUS_OK);
    cr_assert(text_place("<text>limit ", place));
    cr_expect_lt(place[0], 73.5, "left of the layouts: at %g %%", place[0]);
    cr_assert_eq(draw("energy", 2, PICTURE_SVG, NULL, NULL, &errors), STATUS_OK);
    cr_assert(text_place("<text>energy at the end", place));
    cr_expect_lt(place[1], 97, "clear of the lower edge: at %g %%", place[1]);
    remove(path);
}

/* Nothing in a title runs, opens or writes anything; the picture is made all the same. Each of these would
 * leave a file `x` in the present folder if it were read as a command, by gnuplot or by a shell. */
Test(plots, hostile_titles_stay_text)
{
    static char big[10001];
    memset(big, '\'', sizeof big - 1);
    memcpy(big + 180, "\nset print 'x'; print 1\n", 24);
    static const char *const titles[] = {
        "'; system('touch x'); print '",
        "`touch x`",
        "\"`touch x`\"",
        "$(touch x)",
        "a\nset output 'x'\nreplot\n",
        "a\r!touch x\r",
        "\n!touch x",
        "\\",
        "ends with a backslash\\",
        "\\'; !touch x",
        "''; !touch x; ''",
        "@ARG0 %s %n %d %%",
        "END_OF_BLOCK\nsystem('touch x')",
        "system(\"touch x\")",
        "'.system('touch x').'",
        "\a\b\v\f\x1b]0;x\x07",
        "@{`touch x`} $x ${x} |x| <x >x &x; #x",
        "\xe2\x80\xae gnp.evil \xe2\x80\xac",
        "]]><script>touch x</script>",
        "<b>&amp;</b> {/Symbol a} ^2_3 ~a{.8-}",
        "\xff\xfe broken \xc3",
        "",
        big,
    };
    struct errors errors;
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++) {
        for (size_t p = 0; p < PLOT_COUNT; p++) {
            enum picture_format format = (enum picture_format)((i + p) % PICTURE_FORMATS);
            char *text = NULL;
            enum status status = draw(plot_table[p].name, 1, format, titles[i], &text, &errors);
            cr_expect_eq(status, STATUS_OK, "%s with title %zu: %s", plot_table[p].name, i,
                         errors.kept[0].text);
            cr_expect_eq(remove(path) == 0, format != PICTURE_TEXT);
            memory_free(text);
            cr_expect_eq(files_in(), 0, "%s with title %zu left a file", plot_table[p].name, i);
        }
    }
}

Test(plots, results_that_hold_nothing)
{
    struct case_result empty = {.worst_hit = -1};
    struct section_view view = {0};
    struct errors errors = {0};
    for (size_t i = 0; i < PLOT_COUNT; i++)
        cr_expect_eq(plots_draw(plot_table[i].name, &empty, 1, &view, PICTURE_PNG, path, NULL, &errors),
                     STATUS_INPUT);
    cr_expect_eq(plots_draw("mandala", &empty, 1, &view, PICTURE_PNG, path, NULL, &errors), STATUS_USAGE);
    cr_expect_eq(files_in(), 0);
}

/* Text that gnuplot could take for markup or a command stands in the picture letter by letter. */
Test(plots, hostile_titles_can_be_read)
{
    static const char *const titles[][2] = {
        {"{/Symbol a} ^2_3 ~a{.8-} @b", "{/Symbol a} ^2_3 ~a{.8-} @b"},
        {"`touch x` $(touch x)", "`touch x` $(touch x)"},
        {"\"system(\\\"touch x\\\")\"", "\"system(\\\"touch x\\\")\""},
        {"it's\n%d\t<b>", "it\xe2\x80\x99s %d &lt;b>"},
    };
    struct errors errors;
    double place[2];
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++) {
        cr_assert_eq(draw("pulse", 1, PICTURE_SVG, titles[i][0], NULL, &errors), STATUS_OK);
        cr_expect(text_place(titles[i][1], place), "%s", titles[i][0]);
        remove(path);
    }
    cr_expect_eq(files_in(), 0);
}

/* --- gnuplot itself --- */

/* Puts a shell script in the place of gnuplot; in it, `real` is gnuplot. */
static void fake_gnuplot(const char *script)
{
    static char search[1024];
    if (!search[0])
        snprintf(search, sizeof search, "%s", getenv("PATH"));
    FILE *file = fopen("gnuplot", "w");
    cr_assert_not_null(file);
    fprintf(file, "#!/bin/sh\nreal() { PATH='%s' exec gnuplot --default-settings; }\n%s\n", search, script);
    fclose(file);
    cr_assert_eq(chmod("gnuplot", 0755), 0);
    char own[1200];
    snprintf(own, sizeof own, "%s:/usr/bin:/bin", folder);
    setenv("PATH", own, 1);
}

/* In every format: this status, one message with these words, the earlier picture as it was, nothing besides.
 */
static void expect_end(enum status want, const char *words)
{
    struct errors errors;
    size_t before = files_in();
    cr_assert_eq(access(path, F_OK), -1);
    for (int format = 0; format < PICTURE_FORMATS; format++) {
        const char *name = picture_format_names[format];
        char *text = NULL;
        FILE *file = fopen(path, "w");
        cr_assert(file && fputs("the earlier picture", file) >= 0 && fclose(file) == 0);
        cr_expect_eq(draw("pulse", 1, (enum picture_format)format, NULL, &text, &errors), want, "%s", name);
        cr_expect_eq(errors.count, 1);
        cr_expect_not_null(strstr(errors.kept[0].text, words), "%s said: %s", name, errors.kept[0].text);
        cr_expect_null(text);
        cr_expect(starts_with("the earlier pic"), "%s", name);
        cr_expect_eq(files_in(), before + 1, "%s", name);
        remove(path);
    }
}

static void expect_failure(const char *words)
{
    expect_end(STATUS_FILE, words);
}

Test(plots, gnuplot_is_missing)
{
    setenv("PATH", "", 1);
    expect_failure("not in PATH");
    unsetenv("PATH");
    if (access("/usr/bin/gnuplot", X_OK) == 0 || access("/usr/local/bin/gnuplot", X_OK) == 0) {
        struct errors errors;
        cr_expect_eq(draw("pulse", 1, PICTURE_SVG, NULL, NULL, &errors), STATUS_OK, "the usual places");
    }
}

Test(plots, gnuplot_cannot_be_started)
{
    fake_gnuplot("");
    FILE *file = fopen("gnuplot", "w");
    cr_assert(file && fputs("#!/no/such/shell\n", file) >= 0 && fclose(file) == 0);
    expect_failure("cannot be started: No such file or directory");
}

Test(plots, gnuplot_of_the_present_folder_is_not_run)
{
    fake_gnuplot("touch x");
    setenv("PATH", ":.", 1);
    expect_failure("not in PATH");
    cr_expect_neq(access("x", F_OK), 0);
}

Test(plots, gnuplot_does_nothing)
{
    fake_gnuplot("exit 0");
    expect_failure("no complete picture");
    fake_gnuplot("exec >&-; exit 0");
    expect_failure("no complete picture");
}

Test(plots, gnuplot_hangs)
{
    fake_gnuplot("exec sleep 100");
    gnuplot_deadline(0.2);
    expect_failure("did not end within 0.2 s");
    /* as one that has drawn the picture and then hangs */
    fake_gnuplot("(real); exec sleep 100");
    expect_failure("did not end within 0.2 s");
}

Test(plots, gnuplot_fails)
{
    fake_gnuplot("printf 'something\\033[31m is wrong\\n' >&2; exit 3");
    expect_failure("gave up: something [31m is wrong");
    fake_gnuplot("exit 1");
    expect_failure("gave up: it gave no reason");
    fake_gnuplot("kill -9 $$");
    expect_failure("signal 9");
}

/* It writes the first part of a picture and dies, or ends as if all were well. */
Test(plots, gnuplot_stops_in_the_middle)
{
    fake_gnuplot("(real) | head -c 700; kill -9 $$");
    expect_failure("signal 9");
    fake_gnuplot("(real) | head -c 700; exit 3");
    expect_failure("gave up");
    fake_gnuplot("(real) | head -c 700");
    expect_failure("no complete picture");
    fake_gnuplot("(real) | head -c -1");
    struct errors errors;
    cr_expect_eq(draw("pulse", 1, PICTURE_PNG, NULL, NULL, &errors), STATUS_FILE);
    char *text = NULL;
    cr_expect_eq(draw("pulse", 1, PICTURE_TEXT, NULL, &text, &errors), STATUS_FILE);
}

/* gnuplot alone meets a full disk, and returns 0 all the same. */
Test(plots, gnuplot_meets_a_full_disk)
{
    fake_gnuplot("ulimit -f 1; real");
    expect_failure("no complete picture");
}

static atomic_int told;

static void on_alarm(int number)
{
    told = number;
}

/* Told to end, the program does not wait for gnuplot. */
Test(plots, interrupted, .timeout = 30)
{
    signal(SIGALRM, on_alarm);
    gnuplot_watch(&told);
    fake_gnuplot("exec sleep 100");
    alarm(1);
    expect_end(STATUS_INTERRUPTED, "interrupted");
    cr_expect_eq(told, SIGALRM);
    gnuplot_watch(NULL);
}

Test(plots, a_broken_script_gives_gnuplots_own_words)
{
    struct script script = {0};
    struct errors errors = {0};
    char *text;
    gnuplot_terminal(&script, PICTURE_TEXT, 800, 500);
    script_add(&script, "plot no_such_function(x)\n");
    cr_expect_eq(gnuplot_draw(&script, PICTURE_TEXT, NULL, &text, &errors), STATUS_FILE);
    cr_expect_not_null(strstr(errors.kept[0].text, "undefined function"), "said: %s", errors.kept[0].text);
    script_free(&script);
}

/* An old picture stays when the new one cannot be written in full. */
Test(plots, a_full_disk_leaves_the_old_picture)
{
    struct errors errors;
    struct rlimit old, small = {.rlim_cur = 24000};
    cr_assert_eq(draw("pulse", 1, PICTURE_PNG, NULL, NULL, &errors), STATUS_OK);
    struct stat before, after;
    cr_assert_eq(stat(path, &before), 0);
    cr_assert_gt(before.st_size, small.rlim_cur);
    getrlimit(RLIMIT_FSIZE, &old);
    small.rlim_max = old.rlim_max;
    /* enough for the commands of one picture, not for the picture */
    setrlimit(RLIMIT_FSIZE, &small);
    enum status status = draw("pulse", 1, PICTURE_PNG, NULL, NULL, &errors);
    setrlimit(RLIMIT_FSIZE, &old);
    cr_expect_eq(status, STATUS_FILE);
    cr_assert_eq(stat(path, &after), 0);
    cr_expect(before.st_ino == after.st_ino && before.st_size == after.st_size);
    cr_expect_eq(files_in(), 1);
}

Test(plots, a_full_tmpfs)
{
    if (mount("none", folder, "tmpfs", 0, "size=4k") != 0)
        cr_skip_test("no right to mount a small disk");
    struct errors errors[PICTURE_TEXT];
    enum status status[PICTURE_TEXT];
    for (int format = 0; format < PICTURE_TEXT; format++)
        status[format] = draw("pulse", 1, (enum picture_format)format, NULL, NULL, &errors[format]);
    size_t left = files_in();
    cr_assert_eq(chdir("/"), 0);
    umount(folder);
    for (int format = 0; format < PICTURE_TEXT; format++) {
        cr_expect_eq(status[format], STATUS_FILE, "%s", picture_format_names[format]);
        cr_expect_not_null(strstr(errors[format].kept[0].text, "no complete picture"), "said: %s",
                           errors[format].kept[0].text);
    }
    cr_expect_eq(left, 0);
}

/* A link under the name of the picture is replaced, one under the temporary name is passed by. */
Test(plots, links_in_the_way)
{
    struct errors errors;
    char temporary[128];
    snprintf(temporary, sizeof temporary, "%s.%ld.0.tmp", path, (long)getpid());
    FILE *file = fopen("target", "w");
    cr_assert(file && fputs("not yours", file) >= 0 && fclose(file) == 0);
    for (int format = 0; format < PICTURE_TEXT; format++) {
        cr_assert(symlink("target", path) == 0 && symlink("target", temporary) == 0);
        cr_expect_eq(draw("pulse", 1, (enum picture_format)format, NULL, NULL, &errors), STATUS_OK);
        struct stat picture, target;
        cr_expect(lstat(path, &picture) == 0 && S_ISREG(picture.st_mode) && picture.st_size > 1000);
        cr_expect(lstat("target", &target) == 0 && S_ISREG(target.st_mode) && target.st_size == 9);
        cr_expect(remove(temporary) == 0 && remove(path) == 0);
        cr_assert(symlink("nowhere", path) == 0);
        cr_expect_eq(draw("pulse", 1, (enum picture_format)format, NULL, NULL, &errors), STATUS_OK);
        cr_expect_neq(access("nowhere", F_OK), 0);
        remove(path);
    }
    cr_expect_eq(files_in(), 1);
}

Test(plots, a_folder_or_pipe_in_the_way)
{
    struct errors errors;
    cr_assert_eq(mkdir(path, 0700), 0);
    cr_expect_eq(draw("pulse", 1, PICTURE_PNG, NULL, NULL, &errors), STATUS_FILE);
    cr_expect_eq(files_in(), 1);
    /* nor is a pipe replaced, which a rename alone would do */
    cr_assert_eq(rmdir(path), 0);
    cr_assert_eq(mkfifo(path, 0600), 0);
    cr_expect_eq(draw("pulse", 1, PICTURE_PNG, NULL, NULL, &errors), STATUS_FILE);
    struct stat about;
    cr_expect(stat(path, &about) == 0 && S_ISFIFO(about.st_mode));
}

Test(plots, memory_runs_out)
{
    struct case_result result;
    sample_result(&result, 0);
    for (size_t i = 0; i < PLOT_COUNT; i++) {
        size_t tried = 0;
        for (enum status status = STATUS_MEMORY; status != STATUS_OK && tried < 500; tried++) {
            struct errors errors = {0};
            memory_fail_after(tried);
            status = plots_draw(plot_table[i].name, &result, 1, &(struct section_view){0}, PICTURE_SVG, path,
                                NULL, &errors);
            memory_fail_after(SIZE_MAX);
            cr_assert(status == STATUS_OK || status == STATUS_MEMORY, "%s: %d", plot_table[i].name, status);
            cr_assert_eq(files_in(), status == STATUS_OK);
        }
        cr_expect(tried > 1 && tried < 500, "%s: %zu", plot_table[i].name, tried);
        remove(path);
    }
    case_result_free(&result);
}
