#include "solver/study/resolve.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/foams.h"
#include "cases/mass.h"
#include "cases/shells.h"
#include "solver/base/memory.h"
#include "solver/base/numeric.h"
#include "solver/study/rotation.h"

/* --- materials --- */

/* Repeats what a room below said, at a place of the case. */
static void locate(const struct resolver *resolver, const struct node *place, const struct errors *found,
                   struct errors *errors)
{
    for (size_t i = 0; i < found->count && i < ERRORS_KEPT; i++) {
        const struct error *error = &found->kept[i];
        if (place && !error->file[0])
            node_error(&resolver->file->tree, place, errors, "%s", error->text);
        else
            errors_add(errors, error->status, error->file, error->line, error->column, "%s", error->text);
    }
}

static enum status take_shell(struct resolver *resolver, struct errors *errors)
{
    const struct case_shell *from = &resolver->file->shell;
    if (!from->present)
        return STATUS_OK;
    enum status status = shell_materials_load(resolver->file->path, &resolver->shells, errors);
    if (status != STATUS_OK)
        return status;
    struct errors found = {0};
    status = case_shell_choose(resolver->file, &resolver->shells, &resolver->shell, &found);
    locate(resolver, from->place, &found, errors);
    return status;
}

static enum status take_comfort(struct resolver *resolver, struct errors *errors)
{
    const struct case_comfort *comfort = &resolver->file->comfort;
    if (!comfort->foam[0])
        return STATUS_OK;
    struct errors found = {0};
    enum status status = case_comfort(resolver->file, &resolver->registry, &resolver->comfort_stress,
                                      &resolver->comfort_density, &found);
    locate(resolver, comfort->place, &found, errors);
    return status;
}

static enum status close_masses(struct resolver *resolver, struct errors *errors)
{
    const struct case_file *file = resolver->file;
    resolver->masses = (struct stack_masses){NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN};
    if (stack_head_missing(&file->headform))
        return STATUS_OK;
    double *share = memory_doubles(file->region_count + 1);
    if (!share)
        return STATUS_MEMORY;
    enum status status = helmet_map_shares(&file->map, share);
    stack_masses(file, share, file->shell.present ? resolver->shell.sheet.density : 0.0,
                 resolver->comfort_density, &resolver->masses, NULL);
    memory_free(share);
    return status == STATUS_OK ? case_masses_check(file, &resolver->masses, errors) : status;
}

enum status resolver_make(const struct case_file *file, struct resolver *resolver, struct errors *errors)
{
    *resolver = (struct resolver){.file = file};
    enum status status = registry_load(file->path, &resolver->registry, errors);
    if (status == STATUS_OK && !file->pad.present) {
        status = take_shell(resolver, errors);
        if (status == STATUS_OK)
            status = take_comfort(resolver, errors);
        if (status == STATUS_OK)
            status = close_masses(resolver, errors);
    }
    if (status != STATUS_OK)
        resolver_free(resolver);
    return status;
}

void resolver_free(struct resolver *resolver)
{
    registry_free(&resolver->registry);
    shell_materials_free(&resolver->shells);
    *resolver = (struct resolver){0};
}

/* --- assumptions --- */

/* Whether a word stands in a list with ", " between its words. */
static int is_listed(const char *list, const char *word)
{
    size_t length = strlen(word);
    for (const char *at = strstr(list, word); at; at = strstr(at + 1, word)) {
        if ((at == list || at[-1] == ' ') && (at[length] == ',' || at[length] == '\0'))
            return 1;
    }
    return 0;
}

/* Adds what a foam takes from memory to a list. */
static void list_memory(const struct registry_row *row, const char *taken, char *list, size_t size)
{
    size_t used = strlen(list);
    if (taken && registry_from_memory(row->provenance) && !is_listed(list, taken))
        snprintf(list + used, size - used, "%s%s", used ? ", " : "", taken);
}

enum { MEMORY = 600 };

/* "rate_gain, rate_time": what a foam has from memory. */
static void foam_memory(const struct registry_material *material, const struct case_foam *own,
                        char list[MEMORY])
{
    struct registry_own values = own ? case_foam_own(own) : registry_own_none();
    list[0] = '\0';
    for (size_t i = 0; i < material->row_count; i++)
        list_memory(&material->rows[i],
                    registry_row_taken(material, &material->rows[i], own ? &values : NULL), list, MEMORY);
}

/* One line for each foam that has values from memory. */
static enum status note_memory(const struct resolver *resolver, const char *name, const char *use,
                               const char *topic, char ***list, size_t *count)
{
    const struct case_foam *own = case_foam_find(resolver->file, name);
    const struct registry_material *material =
        registry_find(&resolver->registry, own ? own->like : name, NULL);
    char memory[MEMORY], start[2 * FOAM_NAME + 32];
    if (!material)
        return STATUS_OK;
    snprintf(start, sizeof start, "%s %s%s%s:", use, name, own ? ", like " : "", own ? material->name : "");
    for (size_t i = 0; i < *count; i++) {
        if (strncmp((*list)[i], start, strlen(start)) == 0)
            return STATUS_OK;
    }
    foam_memory(material, own, memory);
    return memory[0] ? result_note(list, count, "%s from memory, unchecked: %s (see `list %s`)", start,
                                   memory, topic)
                     : STATUS_OK;
}

static enum status note_shell(const struct resolver *resolver, char ***list, size_t *count)
{
    const struct case_file *file = resolver->file;
    struct shell_values own = case_shell_own(file);
    const char *caution = resolver->shell.caution;
    char memory[MEMORY] = "";
    if (!file->shell.present)
        return STATUS_OK;
    shell_material_memory(&resolver->shells, file->shell.material, &own, memory, sizeof memory);
    enum status status =
        memory[0] ? result_note(list, count, "shell %s: from memory, unchecked: %s (see `list shells`)",
                                file->shell.material, memory)
                  : STATUS_OK;
    return status == STATUS_OK && caution && caution[0] ? result_note(list, count, "shell: %s", caution)
                                                        : status;
}

/* Cracks have a strain and an energy, and along the meridian a distance, that a reader must know. */
static enum status note_cracks(const struct resolver *resolver, char ***list, size_t *count)
{
    const struct shell_sheet *sheet = &resolver->shell.sheet;
    if (!resolver->file->shell.present || sheet->crack_energy == 0.0)
        return STATUS_OK;
    return result_note(
        list, count,
        "the shell cracks from a strain of %.3g %% on, pulled and pressed alike, and each crack "
        "takes %.4g kJ/m2; cracks along the meridian are %.3g mm apart (characteristic length)",
        100.0 * sheet->crack_strain, 1e-3 * sheet->crack_energy, 1e3 * shell_crack_length(sheet));
}

/* What a model leaves out of a case that asks for it. */
static enum status note_model(const struct resolver *resolver, char ***list, size_t *count)
{
    if (resolver->axisymmetric || !resolver->file->shell.present || !resolver->file->shell.loose)
        return STATUS_OK;
    return result_note(list, count,
                       "bond: loose by columns: foam parts from the shell, but does not slide along it (it "
                       "does by zones, model: axisymmetric)");
}

/* Foam denser than what its curve was checked against, with the value of another formula beside it. */
static enum status note_density(const struct resolver *resolver, const struct case_part *part, char ***list,
                                size_t *count)
{
    struct registry_report report = {0};
    struct foam foam = {0};
    char line[200];
    enum status status =
        case_foam_make(resolver->file, &resolver->registry, part, 23.0, &foam, &report, NULL);
    snprintf(line, sizeof line,
             "%s %.0f kg/m3 is extrapolated beyond %.0f: plateau %.0f kPa; by the "
             "cell-wall formula %.0f kPa",
             part->foam, foam.density, report.checked_up_to, foam.plateau / 1e3, report.cross_check / 1e3);
    int wanted = status == STATUS_OK && report.computed && report.extrapolated;
    for (size_t i = 0; i < *count; i++)
        wanted = wanted && strcmp((*list)[i], line) != 0;
    foam_free(&foam);
    if (status == STATUS_MEMORY)
        return status;
    return wanted ? result_note(list, count, "%s", line) : STATUS_OK;
}

static enum status note_layers(const struct resolver *resolver, const struct case_layer *layers,
                               size_t layer_count, char ***list, size_t *count)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < layer_count; i++) {
        for (size_t k = 0; status == STATUS_OK && k < layers[i].part_count; k++) {
            status = note_memory(resolver, layers[i].parts[k].foam, "foam", "foams", list, count);
            if (status == STATUS_OK)
                status = note_density(resolver, &layers[i].parts[k], list, count);
        }
    }
    return status;
}

enum status resolver_assumptions(const struct resolver *resolver, char ***list, size_t *count)
{
    const struct case_file *file = resolver->file;
    enum status status = note_layers(resolver, file->pad.layers, file->pad.layer_count, list, count);
    for (size_t k = 0; status == STATUS_OK && k < file->region_count; k++)
        status = note_layers(resolver, file->regions[k].layers, file->regions[k].layer_count, list, count);
    if (status == STATUS_OK && file->comfort.foam[0])
        status = note_memory(resolver, file->comfort.foam, "comfort padding", "comfort", list, count);
    if (status == STATUS_OK && !file->pad.present)
        status = note_shell(resolver, list, count);
    if (status == STATUS_OK && !file->pad.present)
        status = note_cracks(resolver, list, count);
    return status == STATUS_OK && !file->pad.present ? note_model(resolver, list, count) : status;
}

/* --- impacts --- */

struct making {
    const struct resolver *resolver;
    struct resolved *resolved;
    double temperature;
    char *sentence;
    struct errors *errors;
};

/* One layer with its foams at the impact's temperature. A foam without a value at that temperature leaves its
 * sentence. */
static enum status take_layer(struct making *making, const struct case_layer *from, struct liner_layer *layer)
{
    *layer = (struct liner_layer){.thickness = from->thickness, .part_count = from->part_count};
    for (size_t i = 0; i < from->part_count; i++) {
        struct registry_report report = {0};
        struct foam *foam = &making->resolved->foams[making->resolved->foam_count];
        enum status status =
            case_foam_make(making->resolver->file, &making->resolver->registry, &from->parts[i],
                           making->temperature, foam, &report, making->errors);
        if (status != STATUS_OK)
            return status;
        if (!report.computed) {
            snprintf(making->sentence, RESOLVE_SENTENCE, "%s", report.sentence);
            return STATUS_OK;
        }
        making->resolved->foam_count++;
        layer->parts[i] = (struct liner_part){foam, from->parts[i].share * (1.0 - from->parts[i].voids)};
    }
    return STATUS_OK;
}

/* `region`: its name, NULL for a pad. */
static enum status take_layers(struct making *making, const char *region, const struct case_layer *from,
                               size_t count, struct liner_layer *layers)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && !making->sentence[0] && i < count; i++) {
        status = take_layer(making, &from[i], &layers[i]);
        size_t used = strlen(making->sentence);
        if (used > 0 && region)
            snprintf(making->sentence + used, RESOLVE_SENTENCE - used, " (region '%.48s', layer %zu)", region,
                     i + 1);
        else if (used > 0)
            snprintf(making->sentence + used, RESOLVE_SENTENCE - used, " (layer %zu)", i + 1);
    }
    return status;
}

static size_t count_parts(const struct case_layer *layers, size_t count)
{
    size_t sum = 0;
    for (size_t i = 0; i < count; i++)
        sum += layers[i].part_count;
    return sum;
}

static enum status resolve_pad(struct making *making, const struct case_impact *impact)
{
    const struct case_file *file = making->resolver->file;
    struct pad_setup *setup = &making->resolved->pad;
    *setup = pad_setup_default();
    setup->area = file->pad.area;
    setup->striker_mass = file->pad.striker_mass;
    setup->gravity = file->solver.gravity ? setup->gravity : 0.0;
    setup->cell = file->solver.cell;
    setup->duration = file->solver.duration;
    setup->recovered = impact->recovered;
    setup->layer_count = file->pad.layer_count;
    return take_layers(making, NULL, file->pad.layers, file->pad.layer_count, setup->layers);
}

/* Shares of the regions between `count` pairs of neighbouring edges, turned so that each region's are
 * together in `shares` (region_count + 1 by count); openings and what is below the edge add up to the bare
 * share, the last. */
static enum status turn_shares(const struct case_file *file, const struct case_impact *impact, size_t count,
                               const double *edge, double *shares)
{
    size_t stride = file->region_count + 1;
    double *table = memory_doubles(count * stride);
    if (!table)
        return STATUS_MEMORY;
    enum status status = site_shares(&file->map, impact->elevation, impact->azimuth, count, edge, table);
    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < stride; k++) {
            int bare = k == file->region_count || file->regions[k].shape.open;
            shares[(bare ? file->region_count : k) * count + i] += table[i * stride + k];
        }
    }
    memory_free(table);
    return status;
}

static enum status take_shares(struct making *making, const struct case_impact *impact)
{
    const struct case_file *file = making->resolver->file;
    struct resolved *resolved = making->resolved;
    size_t rings = resolved->columns.rings, stride = file->region_count + 1;
    double *edge = memory_doubles(rings + 1);
    resolved->shares = memory_zeroed(rings * stride, sizeof *resolved->shares);
    enum status status = edge && resolved->shares ? STATUS_OK : STATUS_MEMORY;
    if (status == STATUS_OK) {
        columns_ring_edges(rings, resolved->columns.phi_max, edge);
        status = turn_shares(file, impact, rings, edge, resolved->shares);
    }
    if (status == STATUS_OK && making->resolver->axisymmetric) {
        resolved->zone_shares = memory_zeroed(rings * stride, sizeof *resolved->zone_shares);
        axisymmetric_zone_edges(rings, resolved->columns.phi_max, edge);
        status = resolved->zone_shares ? turn_shares(file, impact, rings - 1, edge, resolved->zone_shares)
                                       : STATUS_MEMORY;
    }
    memory_free(edge);
    return status;
}

/* Plateau [Pa] of a layer, its parts side by side; NaN where a foam has no value at this temperature. */
static enum status layer_plateau(const struct resolver *resolver, const struct case_layer *layer,
                                 double temperature, double *plateau)
{
    *plateau = 0.0;
    for (size_t i = 0; i < layer->part_count; i++) {
        const struct case_part *part = &layer->parts[i];
        struct registry_report report = {0};
        struct foam foam = {0};
        enum status status =
            case_foam_make(resolver->file, &resolver->registry, part, temperature, &foam, &report, NULL);
        if (status != STATUS_OK)
            return status;
        *plateau += report.computed ? part->share * (1.0 - part->voids) * foam.plateau : NAN;
        foam_free(&foam);
    }
    return STATUS_OK;
}

enum status resolve_stiffness(const struct resolver *resolver, double temperature, double *stiffness)
{
    const struct case_file *file = resolver->file;
    for (size_t k = 0; k < file->region_count; k++) {
        const struct case_region *region = &file->regions[k];
        double thickness = 0.0, weakest = INFINITY, plateau;
        stiffness[k] = 0.0;
        for (size_t i = 0; i < region->layer_count; i++) {
            enum status status = layer_plateau(resolver, &region->layers[i], temperature, &plateau);
            if (status != STATUS_OK)
                return status;
            thickness += region->layers[i].thickness;
            weakest = plateau < weakest || isnan(plateau) ? plateau : weakest;
        }
        if (!region->shape.open)
            stiffness[k] = weakest / thickness;
    }
    return STATUS_OK;
}

static enum status take_region(struct making *making, const struct stack_site *site, size_t index)
{
    const struct case_file *file = making->resolver->file;
    const struct case_region *from = &file->regions[index];
    struct columns_setup *setup = &making->resolved->columns;
    struct stack stack;
    stack_close(file, (int)index, site, &stack);
    if (making->resolved->zone_shares)
        making->resolved->zones.zone_share[setup->region_count] =
            making->resolved->zone_shares + index * (setup->rings - 1);
    struct columns_region *region = &setup->regions[setup->region_count++];
    *region = (struct columns_region){.name = from->shape.name,
                                      .share = making->resolved->shares + index * setup->rings,
                                      .layer_count = from->layer_count,
                                      .comfort_thickness = stack.comfort,
                                      .gap = stack.gap,
                                      .comfort_stress =
                                          stack.comfort > 0.0 ? making->resolver->comfort_stress : 0.0,
                                      .comfort_density = making->resolver->comfort_density};
    if (stack.excess > 0.0) {
        snprintf(making->sentence, RESOLVE_SENTENCE,
                 "the stack of region '%s' is %.1f mm too thick for the space at this site", from->shape.name,
                 stack.excess * 1e3);
        return STATUS_OK;
    }
    return take_layers(making, from->shape.name, from->layers, from->layer_count, region->layers);
}

/* A segment of the shell longer than the characteristic length would give back more energy than its crack
 * takes. */
static void check_segments(struct making *making)
{
    const struct columns_setup *setup = &making->resolved->columns;
    const struct shell_sheet *sheet = &setup->shell;
    if (setup->shell_thickness == 0.0 || sheet->crack_energy == 0.0)
        return;
    double arc = (setup->outer_radius + 0.5 * setup->shell_thickness) * setup->phi_max;
    double segment = arc / (double)(setup->rings - 1), longest = shell_crack_length(sheet);
    if (segment > longest)
        snprintf(
            making->sentence, RESOLVE_SENTENCE,
            "a crack that takes %.4g kJ/m2 needs rings less than %.3g mm apart: solver.rings of %.0f, or a "
            "crack_energy of %.4g kJ/m2",
            1e-3 * sheet->crack_energy, 1e3 * longest, ceil(arc / longest) + 1.0,
            1e-3 * sheet->crack_energy * segment / longest);
}

/* The shell at the impact's temperature: one factor on all its stresses. */
static void take_temperature(struct making *making)
{
    const struct case_shell *shell = &making->resolver->file->shell;
    struct shell_sheet *sheet = &making->resolved->columns.shell;
    if (shell->temperature_count == 0)
        return;
    double factor = registry_factor_at(shell->temperature_count, shell->temperature,
                                       shell->temperature_factor, making->temperature);
    sheet->youngs_modulus *= factor;
    sheet->yield_stress *= factor;
    sheet->hardening *= factor;
    if (isnan(factor))
        snprintf(making->sentence, RESOLVE_SENTENCE, "the shell is known from %g to %g degC, not at %g degC",
                 shell->temperature[0], shell->temperature[shell->temperature_count - 1],
                 making->temperature);
}

/* What being wet changes: the friction that no impact gave, and the padding. */
static void take_wet(struct making *making, const struct case_impact *impact)
{
    const struct case_wet *wet = &making->resolver->file->wet;
    struct columns_setup *setup = &making->resolved->columns;
    if (strcmp(impact->condition, "wet") != 0)
        return;
    if (isnan(impact->head_friction))
        setup->head_friction *= wet->friction_factor;
    for (size_t k = 0; k < setup->region_count; k++)
        setup->regions[k].comfort_stress *= wet->comfort_factor;
}

static enum status resolve_helmet(struct making *making, const struct case_impact *impact)
{
    const struct case_file *file = making->resolver->file;
    struct columns_setup *setup = &making->resolved->columns;
    struct stack_site site;
    stack_site(file, impact->region, impact->elevation, impact->azimuth, &site);
    *setup = columns_setup_default();
    setup->rings = (size_t)file->solver.rings;
    setup->phi_max = file->solver.phi_max;
    setup->cell = file->solver.cell;
    setup->duration = file->solver.duration;
    setup->gravity = file->solver.gravity ? setup->gravity : 0.0;
    rotation_setup(file, impact, setup->gravity, &setup->oblique, &making->resolved->aside);
    setup->gravity *= numeric_cos(impact->angle);
    setup->outer_radius = site.inner;
    setup->shell_thickness = file->shell.present ? file->shell.thickness : 0.0;
    setup->shell = making->resolver->shell.sheet;
    setup->loose = file->shell.loose;
    setup->bond_friction = file->shell.bond_friction;
    setup->head_mass = file->headform.mass;
    setup->mismatch = file->mismatch;
    setup->helmet_mass = making->resolver->masses.helmet;
    setup->speed = impact->speed[0] * numeric_cos(impact->angle);
    setup->head_friction = rotation_head_friction(file, impact);
    setup->layer_friction = file->layers_slip ? file->slip_friction : INFINITY;
    setup->recovered = impact->recovered;
    anvil_make(&setup->anvil, anvil_shape_find(impact->anvil.shape), &impact->anvil.sizes,
               setup->outer_radius + setup->shell_thickness);
    take_temperature(making);
    if (!making->sentence[0])
        check_segments(making);
    enum status status = take_shares(making, impact);
    if (status == STATUS_OK)
        setup->bare = making->resolved->shares + file->region_count * setup->rings;
    making->resolved->zones = axisymmetric_setup_default();
    making->resolved->zones.snapshot_interval = file->solver.snapshots;
    making->resolved->zones.layers_slip = file->layers_slip;
    making->resolved->zones.slip_friction = file->slip_friction;
    for (size_t k = 0; status == STATUS_OK && !making->sentence[0] && k < file->region_count; k++) {
        if (!file->regions[k].shape.open)
            status = take_region(making, &site, k);
    }
    take_wet(making, impact);
    making->resolved->zones.helmet = *setup;
    return status;
}

/* Why an impact cannot be computed whatever its foam; "" when it can. */
static void refuse(const struct case_file *file, char *sentence)
{
    sentence[0] = '\0';
    if (file->pad.present)
        return;
    const char *why = stack_head_missing(&file->headform);
    if (why)
        snprintf(sentence, RESOLVE_SENTENCE, "%s", why);
}

enum status resolve_impact(const struct resolver *resolver, const struct case_impact *impact,
                           struct resolved *resolved, char sentence[RESOLVE_SENTENCE], struct errors *errors)
{
    const struct case_file *file = resolver->file;
    *resolved = (struct resolved){0};
    refuse(file, sentence);
    if (sentence[0])
        return STATUS_OK;
    size_t parts = count_parts(file->pad.layers, file->pad.layer_count);
    for (size_t k = 0; k < file->region_count; k++)
        parts += count_parts(file->regions[k].layers, file->regions[k].layer_count);
    resolved->foams = memory_zeroed(parts, sizeof *resolved->foams);
    if (!resolved->foams)
        return STATUS_MEMORY;
    struct making making = {.resolver = resolver,
                            .resolved = resolved,
                            .temperature = impact->temperature,
                            .sentence = sentence,
                            .errors = errors};
    enum status status = file->pad.present ? resolve_pad(&making, impact) : resolve_helmet(&making, impact);
    if (status != STATUS_OK)
        resolved_free(resolved);
    return status;
}

void resolved_free(struct resolved *resolved)
{
    for (size_t i = 0; i < resolved->foam_count; i++)
        foam_free(&resolved->foams[i]);
    memory_free(resolved->foams);
    memory_free(resolved->shares);
    memory_free(resolved->zone_shares);
    *resolved = (struct resolved){0};
}
