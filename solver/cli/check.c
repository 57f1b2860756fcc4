#include <jansson.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "cases/case.h"
#include "cases/family.h"
#include "cases/fill_sites.h"
#include "cases/foams.h"
#include "cases/mass.h"
#include "cases/stack.h"
#include "solver/base/memory.h"
#include "solver/base/units.h"
#include "solver/cli/command.h"
#include "solver/cli/json_out.h"
#include "solver/cli/table.h"
#include "solver/cli/terminal.h"
#include "solver/impact/anvil.h"
#include "solver/study/batch.h"
#include "solver/study/rotation.h"

/*
 * `check`: what the program has understood of a case, before anything is solved: every stack closed, masses,
 * sites. The same figures as JSON with --json.
 */

static const double degree = 3.14159265358979323846 / 180;

/* What is shown of a helmet beside the case itself. */
struct survey {
    const struct case_file *file;
    struct stack_masses masses;
    double *liner;              /* (region_count) [kg]; NULL for a pad */
    double *share;              /* (region_count + 1) of the sphere */
    struct foresight foresight; /* of its impacts; borrowed */
};

static void survey_free(struct survey *survey)
{
    memory_free(survey->liner);
    memory_free(survey->share);
    *survey = (struct survey){0};
}

static enum status survey_make(const struct case_file *file, struct foresight foresight,
                               struct survey *survey, struct errors *errors)
{
    *survey = (struct survey){.file = file, .foresight = foresight};
    if (file->pad.present)
        return STATUS_OK;
    survey->liner = memory_doubles(file->region_count);
    survey->share = memory_doubles(file->region_count + 1);
    enum status status = survey->liner && survey->share ? STATUS_OK : STATUS_MEMORY;
    survey->masses = (struct stack_masses){NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN};
    for (size_t i = 0; status == STATUS_OK && i < file->region_count; i++)
        survey->liner[i] = survey->share[i] = NAN;
    if (status == STATUS_OK && !stack_head_missing(&file->headform))
        status = case_masses(file, &survey->masses, survey->share, survey->liner, errors);
    if (status != STATUS_OK)
        survey_free(survey);
    return status;
}

/* --- text --- */

static void say(const char *format, ...) __attribute__((format(printf, 1, 2)));

static void say(const char *format, ...)
{
    char text[2048];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    terminal_print(stdout, STYLE_PLAIN, "%s", text);
}

static void heading(const char *text)
{
    terminal_print(stdout, STYLE_STRONG, "\n%s\n", text);
}

/* Width of the widest region name. */
static int region_width(const struct case_file *file)
{
    size_t width = 6;
    for (size_t i = 0; i < file->region_count; i++) {
        size_t length = strlen(file->regions[i].shape.name);
        width = length > width ? length : width;
    }
    return (int)width;
}

static void print_stack(const struct case_file *file, size_t region, int width)
{
    char words[1024], taken[96] = "";
    struct stack_site site;
    struct stack stack;
    const struct case_region *part = &file->regions[region];
    if (part->shape.open) {
        say("  %-*s  open\n", width, part->shape.name);
        return;
    }
    stack_site(file, -1, NAN, NAN, &site);
    stack_close(file, (int)region, &site, &stack);
    stack_words(file, &stack, words, sizeof words);
    if (stack.fill > 0)
        snprintf(taken, sizeof taken, "   (%s takes %.4g mm of it)",
                 file->fill_gap || stack.comfort == 0 ? "gap" : "comfort padding", 1e3 * stack.fill);
    say("  %-*s  %s%s\n", width, part->shape.name, words, taken);
}

static void print_stacks(const struct case_file *file)
{
    int width = region_width(file);
    heading("stacks, from the shell to the head");
    for (size_t i = 0; i < file->region_count; i++)
        print_stack(file, i, width);
    if (stack_head_missing(&file->headform)) {
        say("not closed: %s\n", stack_head_missing(&file->headform));
        return;
    }
    say("space between head and shell %.4g mm; over a round head: head %.4g mm, inner face of the shell %.4g "
        "mm\n",
        1e3 * stack_space(file), 1e3 * stack_head_radius(&file->headform), 1e3 * stack_inner_radius(file));
}

static void print_mass(const char *name, int width, double mass, double volume)
{
    char weight[32] = "not known", space[32] = "";
    if (!isnan(mass))
        snprintf(weight, sizeof weight, "%.3f kg", mass);
    if (!isnan(volume))
        snprintf(space, sizeof space, "%9.0f cm3", 1e6 * volume);
    say("  %-*s  %11s%s\n", width, name, weight, space);
}

static void print_masses(const struct case_file *file, const struct survey *survey)
{
    const struct stack_masses *masses = &survey->masses;
    int width = region_width(file) + 2;
    width = width < 14 ? 14 : width;
    heading("masses and volumes over the whole head");
    print_mass("shell", width, masses->shell, masses->shell_volume);
    print_mass("liner", width, masses->liner, masses->liner_volume);
    for (size_t i = 0; file->region_count > 1 && i < file->region_count; i++) {
        char name[CASE_NAME + 2];
        snprintf(name, sizeof name, "  %s", file->regions[i].shape.name);
        if (!file->regions[i].shape.open)
            print_mass(name, width, survey->liner[i], NAN);
    }
    print_mass("comfort", width, masses->comfort, masses->comfort_volume);
    print_mass(isnan(file->shell.helmet_mass) ? "extra mass" : "other parts", width, masses->other, NAN);
    print_mass("helmet", width, masses->helmet, NAN);
    say("shell and liner cover %.1f %% of the full sphere\n", 100 * masses->covered);
}

/* "7.5 m/s", of several hits "7 m/s, 5 m/s". */
static void speed_words(const struct case_impact *impact, char *text, size_t size)
{
    text[0] = '\0';
    for (size_t i = 0; i < impact->hit_count; i++) {
        size_t used = strlen(text);
        snprintf(text + used, size - used, "%s%.4g m/s", i ? ", " : "", impact->speed[i]);
    }
}

/* A length in mm; "-" where it is not known. */
static void length_words(double length, int decimals, char *text, size_t size)
{
    if (isnan(length))
        snprintf(text, size, "-");
    else
        snprintf(text, size, "%.*f mm", decimals, 1e3 * length);
}

/* Distance along the inner face of the shell, round as it is at the site, to the nearest border of the foam
 * [m]; INFINITY when there is none, NaN when the headform has no shape. */
static double edge_distance(const struct case_file *file, const struct case_impact *impact,
                            const struct stack_site *site)
{
    if (stack_head_missing(&file->headform))
        return NAN;
    return site->inner * site_edge_distance(&file->map, impact->elevation, impact->azimuth);
}

static const char *region_name(const struct case_file *file, const struct case_impact *impact)
{
    return impact->region < 0 ? NULL : file->regions[impact->region].shape.name;
}

/* Widths of the columns with names. */
struct widths {
    int site, region, anvil;
};

static int wider(int width, const char *text)
{
    int length = (int)strlen(text);
    return length > width ? length : width;
}

static struct widths impact_widths(const struct case_file *file)
{
    struct widths widths = {4, region_width(file), 5};
    char anvil[ANVIL_WORDS];
    for (size_t i = 0; i < file->impact_count; i++) {
        widths.site = wider(widths.site, file->impacts[i].site);
        widths.anvil =
            wider(widths.anvil, anvil_words(file->impacts[i].anvil.name, file->impacts[i].angle, anvil));
    }
    return widths;
}

/* What only a face at an angle has: where it moves over the head, and friction on both sides. */
static void print_slide(const struct case_file *file, const struct case_impact *impact)
{
    char heading[FILL_HEADING];
    if (impact->angle > 0)
        say("       face at %.4g deg, towards %s; friction %.4g of shell on face, %.4g of liner on head\n",
            impact->angle / degree, fill_heading(impact->towards, heading), impact->anvil.friction,
            rotation_head_friction(file, impact));
}

static void print_impact(const struct case_file *file, const struct case_impact *impact, const char *why,
                         struct widths widths)
{
    char edge[32] = "none", speeds[256], direction[32] = "-", radius[32] = "-", anvil[ANVIL_WORDS];
    const char *region = region_name(file, impact);
    struct stack_site site;
    stack_site(file, impact->region, impact->elevation, impact->azimuth, &site);
    double distance = edge_distance(file, impact, &site);
    if (!isinf(distance))
        length_words(distance, 0, edge, sizeof edge);
    length_words(site.head, 1, radius, sizeof radius);
    speed_words(impact, speeds, sizeof speeds);
    if (isfinite(impact->elevation))
        snprintf(direction, sizeof direction, "%.0f, %.0f", impact->elevation / degree,
                 impact->azimuth / degree);
    say("  %3d  %-*s  %9s  %-*s  %7s  %10s  %-*s  %8.4g degC  %s\n", impact->number, widths.site,
        impact->site, direction, widths.region, region ? region : "-", edge, radius, widths.anvil,
        anvil_words(impact->anvil.name, impact->angle, anvil), impact->temperature, speeds);
    print_slide(file, impact);
    if (why[0])
        say("       not computed: %s\n", why);
}

static size_t count_hits(const struct case_file *file)
{
    size_t hits = 0;
    for (size_t i = 0; i < file->impact_count; i++)
        hits += file->impacts[i].hit_count;
    return hits;
}

/* Processor time [s] that a run takes, roughly: what one solution on the default mesh takes in the cases of
 * cases/demo, which grows with rings, rows and steps; of one hit for a pad. */
static double expected_time(const struct case_file *file, const struct foresight *foresight)
{
    double of_rings = file->solver.rings / 48.0, of_cells = 1.75e-3 / file->solver.cell, solves = 0;
    for (size_t i = 0; i < foresight->count; i++)
        solves += foresight->solves[i];
    if (file->pad.present)
        return 0.01 * (double)count_hits(file);
    return strcmp(file->model, "columns") == 0 ? solves * 0.25 * of_rings * of_cells * of_cells
                                               : solves * 0.45 * of_rings * of_cells * of_cells;
}

/* "57 s", "2.9 min". */
static void time_words(double time, char *text, size_t size)
{
    snprintf(text, size, time < 100 ? "%.2g s" : "%.2g min", time < 100 ? time : time / 60);
}

static void print_count(const struct case_file *file, const struct foresight *foresight)
{
    size_t impacts = file->impact_count, hits = count_hits(file);
    char time[32];
    time_words(expected_time(file, foresight), time, sizeof time);
    say("%zu impact%s, %zu hit%s, model %s; about %s of processor time\n", impacts, impacts == 1 ? "" : "s",
        hits, hits == 1 ? "" : "s", file->model, time);
}

static void print_impacts(const struct case_file *file, const struct foresight *foresight)
{
    struct widths widths = impact_widths(file);
    heading("impacts");
    say("  %3s  %-*s  %9s  %-*s  %7s  %10s  %-*s  %13s  %s\n", "", widths.site, "site", "deg", widths.region,
        "region", "to edge", "head R", widths.anvil, "anvil", "temperature", "speed");
    for (size_t i = 0; i < file->impact_count; i++)
        print_impact(file, &file->impacts[i], foresight->refused[i], widths);
    print_count(file, foresight);
}

static void print_helmet(const struct case_file *file, const struct survey *survey)
{
    const struct case_headform *headform = &file->headform;
    say("headform %s%s%s%s%s, %.4g kg", headform->set[0] ? headform->set : "of its own",
        headform->size[0] ? " " : "", headform->size, headform->own[0] ? " with " : "", headform->own,
        headform->mass);
    if (!isnan(headform->circumference))
        say(", circumference %.4g mm", 1e3 * headform->circumference);
    say("\n");
    print_stacks(file);
    if (!stack_head_missing(headform))
        print_masses(file, survey);
    print_impacts(file, &survey->foresight);
}

static void print_pad(const struct case_file *file, const struct foresight *foresight)
{
    double height = 0, mass = 0;
    char words[1024];
    stack_layers_words(file->pad.layers, file->pad.layer_count, words, sizeof words);
    for (size_t i = 0; i < file->pad.layer_count; i++) {
        height += file->pad.layers[i].thickness;
        mass += file->pad.area * file->pad.layers[i].thickness * stack_layer_density(&file->pad.layers[i]);
    }
    say("pad: anvil | %s | striker\n", words);
    say("%.4g mm high, %.4g cm2, %.4g cm3, %.4g g; striker %.4g kg\n", 1e3 * height, 1e4 * file->pad.area,
        1e6 * height * file->pad.area, 1e3 * mass, file->pad.striker_mass);
    heading("impacts");
    for (size_t i = 0; i < file->impact_count; i++) {
        const struct case_impact *impact = &file->impacts[i];
        speed_words(impact, words, sizeof words);
        say("  %3d  %5.4g degC  %s\n", impact->number, impact->temperature, words);
    }
    print_count(file, foresight);
}

enum { LINES_MOST = 64 };

/* What an own foam takes from the one it is like. */
static size_t taken_lines(const struct registry *registry, const struct case_foam *foam,
                          struct registry_line lines[LINES_MOST])
{
    struct registry_own own = case_foam_own(foam);
    const struct registry_material *material = registry_find(registry, foam->like, NULL);
    size_t count = material ? registry_taken(material, &own, foam->density, lines, LINES_MOST) : 0;
    return count < LINES_MOST ? count : LINES_MOST;
}

static void print_foams(const struct case_file *file, const struct registry *registry)
{
    for (size_t i = 0; i < file->foam_count; i++) {
        struct registry_line lines[LINES_MOST];
        char words[CASE_NAME * 2 + 64];
        size_t count = taken_lines(registry, &file->foams[i], lines);
        snprintf(words, sizeof words, "%s takes from %s", file->foams[i].name, file->foams[i].like);
        heading(words);
        for (size_t k = 0; k < count; k++) {
            char value[48], at[48];
            table_value(lines[k].quantity, lines[k].value, value);
            table_value(QUANTITY_DENSITY, lines[k].density, at);
            say("  %-26s %-12s %s%-12s %s\n", lines[k].parameter, value, at[0] ? "at " : "   ", at,
                lines[k].provenance);
        }
    }
}

static void print_assumptions(char *const *list, size_t count)
{
    if (count > 0)
        heading("assumed");
    for (size_t i = 0; i < count; i++)
        say("  %s\n", list[i]);
}

/* Processor time [s] of all helmets. */
static double whole_time(const struct case_file *file, const struct survey *surveys)
{
    double time = 0;
    for (size_t i = 0; i < case_helmet_count(file); i++)
        time += expected_time(surveys[i].file, &surveys[i].foresight);
    return time;
}

/* One helmet after the other, each below the name of its size. */
static void print_sizes(const struct case_file *file, const struct survey *surveys)
{
    char time[32];
    say("%zu size%s under one shell, its inner face %.4g mm over a round head\n", file->size_count,
        file->size_count == 1 ? "" : "s", 1e3 * stack_inner_radius(file));
    for (size_t i = 0; i < file->size_count; i++) {
        terminal_print(stdout, STYLE_STRONG, "\nsize %s: ", file->sizes[i].size);
        print_helmet(&file->sizes[i], &surveys[i]);
    }
    time_words(whole_time(file, surveys), time, sizeof time);
    say("\n%zu impacts in all; about %s of processor time\n", case_impact_count(file), time);
}

static void print_text(const struct case_file *file, const struct survey *surveys,
                       const struct registry *registry, char *const *assumptions, size_t assumption_count)
{
    terminal_print(stdout, STYLE_STRONG, "%s%s%s\n", file->path, file->title[0] ? ": " : "", file->title);
    if (file->size_count > 0)
        print_sizes(file, surveys);
    else if (file->pad.present)
        print_pad(file, &surveys->foresight);
    else
        print_helmet(file, surveys);
    if (file->not_covered_count > 0)
        heading("not covered");
    for (size_t i = 0; i < file->not_covered_count; i++)
        say("  %s\n", file->not_covered[i]);
    print_foams(file, registry);
    print_assumptions(assumptions, assumption_count);
}

/* --- JSON --- */

/* A number, or null where it does not apply. */
static json_t *stacks_object(const struct case_file *file, const struct survey *survey)
{
    json_t *list = json_array();
    struct stack_site site;
    stack_site(file, -1, NAN, NAN, &site);
    for (size_t i = 0; i < file->region_count; i++) {
        char words[1024];
        struct stack stack;
        stack_close(file, (int)i, &site, &stack);
        stack_words(file, &stack, words, sizeof words);
        json_array_append_new(list,
                              json_pack("{s:s, s:b, s:s, s:f, s:f, s:f, s:o, s:o}", "region",
                                        file->regions[i].shape.name, "open", file->regions[i].shape.open,
                                        "stack", file->regions[i].shape.open ? "open" : words, "comfort_mm",
                                        1e3 * stack.comfort, "gap_mm", 1e3 * stack.gap, "fill_mm",
                                        1e3 * stack.fill, "share", json_out_number(survey->share[i]),
                                        "liner_kg", json_out_number(survey->liner[i])));
    }
    return list;
}

static json_t *headform_object(const struct case_headform *headform)
{
    return json_pack("{s:s, s:s, s:s, s:o, s:o}", "set", headform->set, "size", headform->size, "own",
                     headform->own, "mass_kg", json_out_number(headform->mass), "circumference_mm",
                     json_out_number(1e3 * headform->circumference));
}

static json_t *masses_object(const struct stack_masses *masses)
{
    return json_pack("{s:o, s:o, s:o, s:o, s:o}", "helmet", json_out_number(masses->helmet), "shell",
                     json_out_number(masses->shell), "liner", json_out_number(masses->liner), "comfort",
                     json_out_number(masses->comfort), "other", json_out_number(masses->other));
}

static json_t *volumes_object(const struct stack_masses *masses)
{
    return json_pack("{s:o, s:o, s:o}", "shell", json_out_number(1e6 * masses->shell_volume), "liner",
                     json_out_number(1e6 * masses->liner_volume), "comfort",
                     json_out_number(1e6 * masses->comfort_volume));
}

/* Of a face at an angle, with the names of `run`; null for a square impact. */
static json_t *slide_object(const struct case_file *file, const struct case_impact *impact)
{
    if (!(impact->angle > 0))
        return json_null();
    return json_pack("{s:[o, o], s:o, s:o}", "towards_deg", json_out_number(impact->towards[0] / degree),
                     json_out_number(impact->towards[1] / degree), "face_friction",
                     json_out_number(impact->anvil.friction), "head_friction",
                     json_out_number(rotation_head_friction(file, impact)));
}

static json_t *impact_object(const struct case_file *file, const struct case_impact *impact, const char *why)
{
    json_t *speeds = json_array();
    struct stack_site site = {.head = NAN};
    double distance = NAN;
    for (size_t i = 0; i < impact->hit_count; i++)
        json_array_append_new(speeds, json_real(impact->speed[i]));
    if (!file->pad.present) {
        stack_site(file, impact->region, impact->elevation, impact->azimuth, &site);
        distance = edge_distance(file, impact, &site);
    }
    return json_pack("{s:i, s:s?, s:s, s:[o, o], s:s?, s:o, s:o, s:s, s:f, s:o, s:f, s:o, s:s?}", "impact",
                     impact->number, "size", file->size[0] ? file->size : NULL, "site", impact->site,
                     "direction_deg", json_out_number(impact->elevation / degree),
                     json_out_number(impact->azimuth / degree), "region", region_name(file, impact),
                     "edge_distance_mm", json_out_number(1e3 * distance), "head_radius_mm",
                     json_out_number(1e3 * site.head), "anvil", impact->anvil.name, "angle_deg",
                     impact->angle / degree, "oblique", slide_object(file, impact), "temperature_C",
                     impact->temperature, "speeds_m_s", speeds, "not_computed", why[0] ? why : NULL);
}

static json_t *foams_object(const struct case_file *file, const struct registry *registry)
{
    json_t *list = json_array();
    for (size_t i = 0; i < file->foam_count; i++) {
        struct registry_line lines[LINES_MOST];
        json_t *taken = json_array();
        size_t count = taken_lines(registry, &file->foams[i], lines);
        for (size_t k = 0; k < count; k++) {
            char value[48];
            table_value(lines[k].quantity, lines[k].value, value);
            json_array_append_new(taken,
                                  json_pack("{s:s, s:s, s:o, s:s}", "property", lines[k].parameter, "value",
                                            value, "density_kg_m3", json_out_number(lines[k].density),
                                            "provenance", lines[k].provenance));
        }
        json_array_append_new(list, json_pack("{s:s, s:s, s:o}", "foam", file->foams[i].name, "like",
                                              file->foams[i].like, "taken", taken));
    }
    return list;
}

/* Impacts of all helmets. */
static json_t *impacts_array(const struct case_file *file, const struct survey *surveys)
{
    json_t *impacts = json_array();
    for (size_t i = 0; i < case_helmet_count(file); i++) {
        const struct case_file *helmet = surveys[i].file;
        for (size_t k = 0; k < helmet->impact_count; k++)
            json_array_append_new(
                impacts, impact_object(helmet, &helmet->impacts[k], surveys[i].foresight.refused[k]));
    }
    return impacts;
}

/* What there is of a helmet beside its impacts; nulls for a pad. */
static json_t *helmet_object(const struct case_file *file, const struct survey *survey)
{
    if (file->pad.present || file->size_count > 0)
        return json_pack("{s:n, s:n, s:n, s:n}", "headform", "stacks", "mass_kg", "volume_cm3");
    return json_pack("{s:o, s:o, s:o, s:o}", "headform", headform_object(&file->headform), "stacks",
                     stacks_object(file, survey), "mass_kg", masses_object(&survey->masses), "volume_cm3",
                     volumes_object(&survey->masses));
}

/* The helmets of a family; null when the case is one helmet. */
static json_t *sizes_array(const struct case_file *file, const struct survey *surveys)
{
    json_t *sizes = file->size_count > 0 ? json_array() : json_null();
    for (size_t i = 0; i < file->size_count; i++) {
        json_t *size = helmet_object(&file->sizes[i], &surveys[i]);
        if (size)
            json_object_set_new(size, "size", json_string(file->sizes[i].size));
        json_array_append_new(sizes, size);
    }
    return sizes;
}

static json_t *strings_array(char *const *lines, size_t count)
{
    json_t *list = json_array();
    for (size_t i = 0; i < count; i++)
        json_array_append_new(list, json_string(lines[i]));
    return list;
}

static json_t *case_object(const struct case_file *file, const struct survey *surveys,
                           const struct registry *registry, char *const *assumptions, size_t assumption_count)
{
    json_t *object = helmet_object(file, surveys);
    json_t *rest = json_pack("{s:s, s:s, s:s, s:s, s:o, s:o, s:o, s:f, s:o, s:o}", "file", file->path,
                             "title", file->title, "case_hash", file->hash, "model", file->model, "sizes",
                             sizes_array(file, surveys), "own_foams", foams_object(file, registry), "impacts",
                             impacts_array(file, surveys), "processor_time_s", whole_time(file, surveys),
                             "not_covered", strings_array(file->not_covered, file->not_covered_count),
                             "assumptions", strings_array(assumptions, assumption_count));
    if (object && rest)
        json_object_update(rest, object);
    json_decref(object);
    return rest;
}

/* --- the command --- */

/* What all helmets of a case leave open, each line once. */
static enum status assume(const struct case_file *file, char ***list, size_t *count)
{
    struct family_notes notes[CASE_SIZES] = {{0}};
    enum status status = STATUS_OK;
    for (size_t i = 0; i < case_helmet_count(file) && status == STATUS_OK; i++)
        status = family_assume(file, case_helmet(file, i), &notes[i]);
    if (status == STATUS_OK)
        status = family_notes(file, notes, list, count);
    for (size_t i = 0; i < case_helmet_count(file); i++)
        family_notes_free(&notes[i]);
    return status;
}

/* Surveys every helmet of a case; `surveys` (CASE_SIZES) are released by the caller, also on failure. */
static enum status survey_all(const struct case_file *file, const struct foresight *foresight,
                              struct survey *surveys, struct errors *errors)
{
    enum status status = STATUS_OK;
    size_t first = 0;
    for (size_t i = 0; i < case_helmet_count(file) && status == STATUS_OK; i++) {
        const struct case_file *helmet = case_helmet(file, i);
        struct foresight part = {helmet->impact_count, foresight->refused + first, foresight->solves + first};
        status = survey_make(helmet, part, &surveys[i], errors);
        first += helmet->impact_count;
    }
    return status;
}

/* Shows one sound case: on the terminal, or appended to `cases`. */
static enum status show_case(const struct case_file *file, const struct foresight *foresight, json_t *cases,
                             struct errors *errors)
{
    struct survey surveys[CASE_SIZES] = {{0}};
    struct registry registry;
    struct family_notes assumed = {0};
    enum status status = registry_load(file->path, &registry, errors);
    if (status == STATUS_OK)
        status = survey_all(file, foresight, surveys, errors);
    if (status == STATUS_OK)
        status = assume(file, &assumed.lines, &assumed.count);
    if (status == STATUS_OK && cases) {
        if (json_array_append_new(cases,
                                  case_object(file, surveys, &registry, assumed.lines, assumed.count)) != 0)
            status = STATUS_MEMORY;
    } else if (status == STATUS_OK) {
        print_text(file, surveys, &registry, assumed.lines, assumed.count);
    }
    family_notes_free(&assumed);
    for (size_t i = 0; i < CASE_SIZES; i++)
        survey_free(&surveys[i]);
    registry_free(&registry);
    return status;
}

static enum status check_case(const struct options *options, const char *path, json_t *cases,
                              struct errors *errors)
{
    struct case_file file;
    enum status status = case_load(path, options->sets, options->set_count, &file, errors);
    if (status != STATUS_OK)
        return status;
    struct foresight foresight = {0};
    status = batch_check(&file, &foresight, errors);
    if (status == STATUS_OK)
        status = show_case(&file, &foresight, cases, errors);
    foresight_free(&foresight);
    case_free(&file);
    return status;
}

enum status command_check(const struct options *options)
{
    struct errors errors = {0};
    json_t *cases = options->json ? json_array() : NULL;
    enum status status = options->json && !cases ? STATUS_MEMORY : STATUS_OK;
    for (size_t i = 0; i < options->operand_count && status != STATUS_MEMORY; i++) {
        if (i > 0 && !options->json)
            say("\n");
        status = status_worse(status, check_case(options, options->operands[i], cases, &errors));
    }
    if (cases && status == STATUS_OK) {
        json_t *object = json_pack("{s:s, s:O}", "schema", "foampulse/check/1", "cases", cases);
        status = terminal_json(object);
        json_decref(object);
    }
    json_decref(cases);
    return status_worse(status, terminal_errors(&errors, options->json));
}
