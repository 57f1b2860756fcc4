#include "cases/stack.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/units.h"

static const double pi = 3.14159265358979323846;

/* Stacks that miss by less than this [m] fit: lengths are sums of rounded decimals. */
static const double tolerance = 1e-9;

double stack_head_radius(const struct case_headform *headform)
{
    const double *half = headform->half_axes;
    if (!isnan(headform->radius))
        return headform->radius;
    if (!isnan(headform->circumference))
        return headform->circumference / (2 * pi);
    return cbrt(half[0] * half[1] * half[2]);
}

const char *stack_head_missing(const struct case_headform *headform)
{
    return isnan(headform->radius) && isnan(headform->circumference)
               ? "this headform has no shape data: give its `circumference` or `radius`"
               : NULL;
}

double stack_head_radius_at(const struct case_headform *headform, double elevation, double azimuth)
{
    double radii[2];
    if (!isnan(headform->radius) || headform->sphere)
        return stack_head_radius(headform);
    ellipsoid_radii(headform->half_axes, elevation, azimuth, radii);
    return sqrt(radii[0] * radii[1]);
}

static double comfort_thickness(const struct case_file *file, const struct case_region *region)
{
    return isnan(region->comfort_thickness) ? file->comfort.thickness : region->comfort_thickness;
}

static double comfort_gap(const struct case_file *file, const struct case_region *region)
{
    return isnan(region->comfort_gap) ? file->comfort.gap : region->comfort_gap;
}

double stack_needed(const struct case_file *file, size_t region)
{
    const struct case_region *part = &file->regions[region];
    double sum = 0;
    if (part->shape.open)
        return 0;
    for (size_t i = 0; i < part->layer_count; i++)
        sum += part->layers[i].thickness;
    return sum + comfort_thickness(file, part) + comfort_gap(file, part);
}

double stack_space(const struct case_file *file)
{
    double space = 0;
    if (!isnan(file->shell.inner_radius))
        return file->shell.inner_radius - stack_head_radius(&file->headform);
    for (size_t i = 0; i < file->region_count; i++) {
        double needed = stack_needed(file, i);
        space = needed > space ? needed : space;
    }
    return space;
}

double stack_region_space(const struct case_file *file, size_t region)
{
    const struct case_region *part = &file->regions[region];
    if (isnan(part->outer_radius) || isnan(part->head_radius))
        return stack_space(file);
    return part->outer_radius - file->shell.thickness - part->head_radius;
}

double stack_inner_radius(const struct case_file *file)
{
    return stack_head_radius(&file->headform) + stack_space(file);
}

void stack_site(const struct case_file *file, int region, double elevation, double azimuth,
                struct stack_site *site)
{
    const struct case_region *part = region >= 0 ? &file->regions[region] : NULL;
    double shell = file->shell.present ? file->shell.thickness : 0;
    if (isnan(elevation)) {
        site->head = stack_head_radius(&file->headform);
        site->inner = stack_inner_radius(file);
    } else {
        site->head = stack_head_radius_at(&file->headform, elevation, azimuth);
        if (part && !isnan(part->head_radius))
            site->head = part->head_radius;
        site->inner = site->head + stack_space(file);
        if (part && !isnan(part->outer_radius)) {
            site->inner = part->outer_radius - shell;
            if (isnan(part->head_radius))
                site->head = site->inner - stack_space(file);
        }
    }
    site->outer = site->inner + shell;
}

void stack_close(const struct case_file *file, int region, const struct stack_site *site, struct stack *stack)
{
    const struct case_region *part = &file->regions[region];
    *stack = (struct stack){.site = *site};
    if (part->shape.open)
        return;
    double radius = site->inner;
    stack->layer_count = part->layer_count;
    for (size_t i = 0; i < part->layer_count; i++) {
        double outer = radius;
        radius -= part->layers[i].thickness;
        stack->layers[i] = (struct stack_layer){.outer = outer, .inner = radius, .layer = &part->layers[i]};
    }
    stack->comfort = comfort_thickness(file, part);
    stack->gap = comfort_gap(file, part);
    double rest = radius - site->head - stack->comfort - stack->gap;
    if (rest < -tolerance) {
        stack->excess = -rest;
        return;
    }
    stack->fill = rest > tolerance ? rest : 0;
    if (file->fill_gap || stack->comfort == 0)
        stack->gap += stack->fill;
    else
        stack->comfort += stack->fill;
}

/* Appends one part of a stack: " | NAME 35 mm". */
static void words_add(char *text, size_t size, const char *name, double thickness)
{
    char length[32];
    size_t used = strlen(text);
    units_write(QUANTITY_LENGTH, thickness, length, sizeof length);
    snprintf(text + used, size - used, "%s%s %s", used ? " | " : "", name, length);
}

/* "eps 45 kg/m3", with the parts of a parallel layer joined by " + " and their shares. */
static void layer_words(const struct case_layer *layer, char *text, size_t size)
{
    text[0] = '\0';
    for (size_t i = 0; i < layer->part_count; i++) {
        const struct case_part *part = &layer->parts[i];
        char density[32] = "", voids[48] = "", share[32] = "";
        size_t used = strlen(text);
        if (layer->part_count > 1)
            snprintf(share, sizeof share, "%g %% ", 100 * part->share);
        if (!isnan(part->density))
            units_write(QUANTITY_DENSITY, part->density, density, sizeof density);
        if (part->voids > 0)
            snprintf(voids, sizeof voids, " less %g %% voids", 100 * part->voids);
        snprintf(text + used, size - used, "%s%s%s %s%s", i ? " + " : "", share, part->foam, density, voids);
    }
}

static void layer_add(char *text, size_t size, const struct case_layer *layer)
{
    char name[512];
    layer_words(layer, name, sizeof name);
    words_add(text, size, name, layer->thickness);
}

void stack_layers_words(const struct case_layer *layers, size_t count, char *text, size_t size)
{
    text[0] = '\0';
    for (size_t i = 0; i < count; i++)
        layer_add(text, size, &layers[i]);
}

void stack_words(const struct case_file *file, const struct stack *stack, char *text, size_t size)
{
    text[0] = '\0';
    if (file->shell.present)
        words_add(text, size, "shell", file->shell.thickness);
    for (size_t i = 0; i < stack->layer_count; i++)
        layer_add(text, size, stack->layers[i].layer);
    if (stack->comfort > 0)
        words_add(text, size, file->comfort.foam, stack->comfort);
    if (stack->gap > 0)
        words_add(text, size, "gap", stack->gap);
    size_t used = strlen(text);
    snprintf(text + used, size - used, "%shead", used ? " | " : "");
}

/* Volume [m3] between two radii over a share of the full sphere. */
static double shell_volume(double outer, double inner, double share)
{
    return share * 4.0 / 3.0 * pi * (outer - inner) * (outer * outer + outer * inner + inner * inner);
}

double stack_layer_density(const struct case_layer *layer)
{
    double sum = 0;
    for (size_t i = 0; i < layer->part_count; i++)
        sum += layer->parts[i].share * (1 - layer->parts[i].voids) * layer->parts[i].density;
    return sum;
}

/* Share of a layer's volume that is matter. */
static double layer_matter(const struct case_layer *layer)
{
    double sum = 0;
    for (size_t i = 0; i < layer->part_count; i++)
        sum += layer->parts[i].share * (1 - layer->parts[i].voids);
    return sum;
}

static void add_region(const struct case_file *file, int region, double share, const struct stack_site *site,
                       double comfort_density, struct stack_masses *masses)
{
    struct stack stack;
    stack_close(file, region, site, &stack);
    double inner = site->inner;
    for (size_t i = 0; i < stack.layer_count; i++) {
        const struct stack_layer *layer = &stack.layers[i];
        double volume = shell_volume(layer->outer, layer->inner, share);
        masses->liner_volume += volume * layer_matter(layer->layer);
        masses->liner += volume * stack_layer_density(layer->layer);
        inner = layer->inner;
    }
    double padding = shell_volume(inner, inner - stack.comfort, share);
    masses->comfort_volume += padding;
    masses->comfort += padding * comfort_density;
    masses->covered += share;
}

void stack_masses(const struct case_file *file, const double *share, double shell_density,
                  double comfort_density, struct stack_masses *masses, double *region_liner)
{
    struct stack_site site;
    *masses = (struct stack_masses){0};
    stack_site(file, -1, NAN, NAN, &site);
    for (size_t i = 0; i < file->region_count; i++) {
        double before = masses->liner;
        if (!file->regions[i].shape.open)
            add_region(file, (int)i, share[i], &site, comfort_density, masses);
        if (region_liner)
            region_liner[i] = masses->liner - before;
    }
    masses->shell_volume = shell_volume(site.outer, site.inner, masses->covered);
    masses->shell = masses->shell_volume * shell_density;
    double parts = masses->shell + masses->liner + masses->comfort;
    masses->other = isnan(file->shell.helmet_mass) ? file->shell.extra_mass : file->shell.helmet_mass - parts;
    masses->helmet = parts + masses->other;
}
