#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "cases/fill_programmes.h"
#include "materials/registry.h"
#include "materials/shell_material.h"
#include "solver/base/data.h"
#include "solver/base/memory.h"
#include "solver/base/units.h"
#include "solver/cli/command.h"
#include "solver/cli/table.h"
#include "solver/cli/terminal.h"
#include "solver/impact/anvil.h"
#include "solver/impact/headform.h"
#include "solver/impact/metrics.h"
#include "solver/impact/site.h"

/*
 * `list TOPIC`: what the program knows by name, from the same tables that it computes with. A topic fills a
 * table of texts; one place prints it aligned, or as JSON.
 */

enum { COLUMNS = 9, CELL = 400 };

struct listing {
    int columns;
    const char *heads[COLUMNS]; /* also the names in JSON */
    json_t *rows;               /* array of objects */
    int out_of_memory;
    const char *note; /* one line below the table; NULL for none */
};

/* Names the columns; `count` texts. */
static void listing_heads(struct listing *listing, int count, ...)
{
    va_list heads;
    va_start(heads, count);
    listing->columns = count;
    for (int i = 0; i < count; i++)
        listing->heads[i] = va_arg(heads, const char *);
    va_end(heads);
}

/* Adds a row: as many texts as there are columns; NULL counts as "". */
static void listing_row(struct listing *listing, ...)
{
    va_list cells;
    json_t *row = json_object();
    va_start(cells, listing);
    for (int i = 0; i < listing->columns; i++) {
        char clean[CELL];
        const char *cell = va_arg(cells, const char *);
        terminal_clean(cell ? cell : "", clean, sizeof clean);
        listing->out_of_memory |= json_object_set_new(row, listing->heads[i], json_string(clean)) != 0;
    }
    va_end(cells);
    listing->out_of_memory |= json_array_append_new(listing->rows, row) != 0;
}

static const char *cell_of(const struct listing *listing, size_t row, int column)
{
    return json_string_value(json_object_get(json_array_get(listing->rows, row), listing->heads[column]));
}

static void print_cell(const char *text, size_t width, int last, enum style style)
{
    size_t length = terminal_columns(text);
    terminal_print(stdout, style, "%s", text);
    terminal_print(stdout, STYLE_PLAIN, "%*s", last ? 0 : (int)(width > length ? width - length : 0) + 2, "");
}

static void print_aligned(const struct listing *listing)
{
    size_t width[COLUMNS];
    size_t rows = json_array_size(listing->rows);
    for (int i = 0; i < listing->columns; i++) {
        width[i] = terminal_columns(listing->heads[i]);
        for (size_t k = 0; k < rows; k++) {
            size_t length = terminal_columns(cell_of(listing, k, i));
            width[i] = length > width[i] ? length : width[i];
        }
    }
    for (int i = 0; rows > 0 && i < listing->columns; i++)
        print_cell(listing->heads[i], width[i], i + 1 == listing->columns, STYLE_STRONG);
    if (rows > 0)
        terminal_print(stdout, STYLE_PLAIN, "\n");
    for (size_t k = 0; k < rows; k++) {
        for (int i = 0; i < listing->columns; i++)
            print_cell(cell_of(listing, k, i), width[i], i + 1 == listing->columns, STYLE_PLAIN);
        terminal_print(stdout, STYLE_PLAIN, "\n");
    }
    if (listing->note)
        terminal_print(stdout, STYLE_FAINT, "%s%s\n", rows > 0 ? "\n" : "", listing->note);
}

static enum status print_object(const char *topic, const struct listing *listing)
{
    json_t *object = json_pack("{s:s, s:s, s:O, s:s?}", "schema", "foampulse/list/1", "topic", topic, "rows",
                               listing->rows, "note", listing->note);
    enum status status = terminal_json(object);
    json_decref(object);
    return status;
}

/* --- topics --- */

/* "-20 deg", to a hundredth. */
static void angle_text(double angle, char text[48])
{
    snprintf(text, 48, "%.4g deg", round(angle * (180 / 3.14159265358979323846) * 100) / 100);
}

/* "15 to 120 kg/m3", as the data file has it; "" where it gives no range. */
static void range_text(const char *low, const char *high, const char *unit, char text[96])
{
    text[0] = '\0';
    if (low[0] != '\0' || high[0] != '\0')
        snprintf(text, 96, "%.30s to %.30s%s%.30s", low, high, unit[0] ? " " : "", unit);
}

/* ", factor 0.70 to 1.00 kPa": the range of a number of a power law; nothing where the file gives none. */
static void add_law_range(const char *name, const struct registry_row *row, char *text, size_t size)
{
    char range[96];
    size_t used = strlen(text);
    range_text(row->low, row->high, row->unit, range);
    if (range[0] != '\0')
        snprintf(text + used, size - used, ", %s %s", name, range);
}

/* "0.84 kPa (rho/(kg/m3))^1.60, factor 0.70 to 1.00 kPa, exponent 1.3 to 1.75": a power law in density as the
 * data file has it. The ranges of its numbers belong together, so they give no range of the value. */
static void law_text(const struct registry_line *line, char *text, size_t size)
{
    const struct registry_row *row = line->factor ? line->factor : line->share;
    text[0] = '\0';
    if (!row)
        return;
    snprintf(text, size, "%.30s%s%.30s %s^%.30s", row->value, row->unit[0] ? " " : "", row->unit,
             line->factor ? "(rho/(kg/m3))" : "solid_modulus (rho/solid_density)",
             line->exponent ? line->exponent->value : "0");
    add_law_range(line->factor ? "factor" : "share", row, text, size);
    if (line->exponent)
        add_law_range("exponent", line->exponent, text, size);
}

static void foam_row(struct listing *listing, const struct registry_line *line)
{
    char value[48], density[48], range[96] = "", at[64] = "", law[320];
    table_value(line->quantity, line->value, value);
    table_value(QUANTITY_DENSITY, line->density, density);
    law_text(line, law, sizeof law);
    if (law[0] == '\0')
        range_text(line->low, line->high, line->unit, range);
    if (density[0] != '\0')
        snprintf(at, sizeof at, "at %s", density);
    listing_row(listing, line->material, line->parameter, value, range, at, law, line->provenance,
                line->source, line->note);
}

static enum status list_registry(struct listing *listing, int comfort, struct errors *errors)
{
    struct registry registry;
    enum status status = registry_load(NULL, &registry, errors);
    if (status != STATUS_OK)
        return status;
    size_t count = registry_lines(&registry, comfort, NULL, 0);
    struct registry_line *lines = memory_zeroed(count, sizeof *lines);
    if (lines)
        registry_lines(&registry, comfort, lines, count);
    else
        status = STATUS_MEMORY;
    listing_heads(listing, 9, comfort ? "comfort" : "foam", "property", "value", "range", "at",
                  "power law in density", "provenance", "source", "note");
    for (size_t i = 0; lines && i < count; i++)
        foam_row(listing, &lines[i]);
    memory_free(lines);
    registry_free(&registry);
    return status;
}

static enum status list_foams(struct listing *listing, struct errors *errors)
{
    listing->note =
        "A foam of your own goes under `foams:` in a case, `like: eps` for what it does not give.";
    return list_registry(listing, 0, errors);
}

static enum status list_comfort(struct listing *listing, struct errors *errors)
{
    listing->note =
        "Padding of your own goes under `foams:` in a case, `like: comfort-soft`, with density and "
        "collapse_stress.";
    return list_registry(listing, 1, errors);
}

static enum status list_shells(struct listing *listing, struct errors *errors)
{
    struct shell_materials materials;
    enum status status = shell_materials_load(NULL, &materials, errors);
    if (status != STATUS_OK)
        return status;
    size_t count = shell_material_lines(&materials, NULL, 0);
    struct shell_line *lines = memory_zeroed(count, sizeof *lines);
    if (lines)
        shell_material_lines(&materials, lines, count);
    else
        status = STATUS_MEMORY;
    listing_heads(listing, 7, "shell", "property", "value", "range", "provenance", "source", "note");
    for (size_t i = 0; lines && i < count; i++) {
        char value[48], range[96];
        table_value(lines[i].quantity, lines[i].value, value);
        range_text(lines[i].low, lines[i].high, lines[i].unit, range);
        listing_row(listing, lines[i].material, lines[i].parameter, value, range, lines[i].provenance,
                    lines[i].source, lines[i].note);
    }
    memory_free(lines);
    shell_materials_free(&materials);
    listing->note = "Values given in a case under `shell:` come before these.";
    return status;
}

static enum status list_headforms(struct listing *listing, struct errors *errors)
{
    struct headform_table table;
    enum status status = headform_table_load(&table, errors);
    listing_heads(listing, 8, "set", "size", "mass", "circumference", "half axes", "provenance", "source",
                  "note");
    for (size_t i = 0; i < table.count; i++) {
        const struct headform *row = &table.rows[i];
        char mass[48], girth[48], axes[96] = "";
        table_value(QUANTITY_MASS, row->mass, mass);
        table_value(QUANTITY_LENGTH, row->circumference, girth);
        if (!isnan(row->half_axes[0]))
            snprintf(axes, sizeof axes, "%.1f x %.1f x %.1f mm", 1e3 * row->half_axes[0],
                     1e3 * row->half_axes[1], 1e3 * row->half_axes[2]);
        listing_row(listing, row->set, row->size, mass, girth, axes, row->provenance, row->source, row->note);
    }
    headform_table_free(&table);
    listing->note =
        "Half axes: length, breadth, height; the height is sqrt(length x breadth), common practice, no "
        "source.";
    return status;
}

static enum status list_sites(struct listing *listing, struct errors *errors)
{
    (void)errors;
    listing_heads(listing, 6, "site", "elevation", "azimuth", "where", "provenance", "source");
    for (size_t i = 0; i < site_table_count; i++) {
        const struct site_info *site = &site_table[i];
        char elevation[48], azimuth[48];
        angle_text(site->elevation, elevation);
        angle_text(site->azimuth, azimuth);
        listing_row(listing, site->name, elevation, azimuth, site->text, site->provenance, site->source);
    }
    listing->note =
        "Seen from point Z: elevation up from plane AA', azimuth 0 at the front, positive to the right.";
    return STATUS_OK;
}

/* "radius 15 mm"; a size longer than any contact is left out. */
static void size_words(enum anvil_shape shape, char *words, size_t size)
{
    words[0] = '\0';
    for (size_t i = 0; i < ANVIL_SIZE_COUNT; i++) {
        size_t used = strlen(words);
        double usual = anvil_ranges[shape][i].usual;
        if (isfinite(usual))
            snprintf(words + used, size - used, "%s%s %.4g mm", used ? ", " : "", anvil_size_keys[i],
                     1e3 * usual);
    }
}

static enum status list_anvils(struct listing *listing, struct errors *errors)
{
    (void)errors;
    listing_heads(listing, 8, "anvil", "what it is", "dimensions", "angle", "friction", "computed",
                  "provenance", "source");
    for (size_t i = 0; i < ANVIL_COUNT; i++) {
        const struct anvil_info *anvil = &anvil_table[i];
        char size[96], angle[48], friction[24];
        size_words(anvil->shape, size, sizeof size);
        angle_text(anvil->angle, angle);
        snprintf(friction, sizeof friction, "%.2f", anvil->friction);
        listing_row(listing, anvil->name, anvil->text, size, angle, friction,
                    anvil_equal_overlap(anvil->shape) ? "equal overlap" : "yes", anvil->provenance,
                    anvil->source);
    }
    listing->note =
        "Equal overlap: computed as the body of revolution that the helmet's outer surface overlaps "
        "on the same area at every depth. Friction of a shell along the face: ABS on steel 0.35, a data "
        "sheet "
        "(secondary source); on abrasive paper 0.55, Mills et al. 2009, Int J Impact Eng 36:913.";
    return STATUS_OK;
}

static enum status list_metrics(struct listing *listing, struct errors *errors)
{
    (void)errors;
    listing_heads(listing, 5, "metric", "limit key", "unit", "meaning", "source");
    for (size_t i = 0; i < METRIC_COUNT; i++) {
        const struct metric_info *metric = &metric_table[i];
        listing_row(listing, metric->name, metric->limit_key, metric->unit, metric->description,
                    metric->source);
    }
    listing->note = "`limits:` takes the limit keys, and helmet_mass.";
    return STATUS_OK;
}

static enum status list_units(struct listing *listing, struct errors *errors)
{
    (void)errors;
    listing_heads(listing, 2, "quantity", "units");
    for (int i = 0; i < QUANTITY_COUNT; i++)
        listing_row(listing, units_quantity_name(i), units_allowed(i));
    listing->note = "The place decides whether g is the gram or 9.80665 m/s2.";
    return STATUS_OK;
}

/* "A, C, E"; "" where there is no list. */
static void list_words(const struct node *list, char *text, size_t size)
{
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = 0; list && list->kind == NODE_SEQUENCE && i < list->count && used < size; i++)
        used += (size_t)snprintf(text + used, size - used, "%s%s", i ? ", " : "", list->items[i]->text);
}

static void list_programme(struct listing *listing, const char *name, const struct node *root)
{
    enum { WORDS = 160 };
    const struct node *tests = node_get(root, "tests"), *headforms = node_get(root, "headforms");
    char names[WORDS] = "", sizes[WORDS], sites[WORDS], set[WORDS + 64];
    for (size_t i = 0, used = 0; tests && i < tests->count && used < sizeof names; i++)
        used += (size_t)snprintf(names + used, sizeof names - used, "%s%s", i ? ", " : "",
                                 schema_text(tests->items[i], SCHEMA_TEST, "name"));
    list_words(node_get(headforms, "sizes"), sizes, sizeof sizes);
    list_words(node_get(root, "sites"), sites, sizeof sites);
    snprintf(set, sizeof set, "%s %s", schema_text(headforms, SCHEMA_PROGRAMME_HEADFORMS, "set"), sizes);
    listing_row(listing, name, schema_text(root, SCHEMA_PROGRAMME, "title"), names, sites, set,
                schema_text(root, SCHEMA_PROGRAMME, "source"));
}

static enum status list_programmes(struct listing *listing, struct errors *errors)
{
    enum status status = STATUS_OK;
    listing_heads(listing, 6, "programme", "what it is", "tests", "sites", "headforms", "source");
    for (size_t i = 0; i < programme_count && status == STATUS_OK; i++) {
        struct tree tree = {0};
        char *path = NULL;
        status = programme_find(programme_names[i], &path);
        if (status == STATUS_OK && !path)
            status = errors_add(errors, STATUS_FILE, programme_names[i], 0, 0, DATA_MISSING);
        if (status == STATUS_OK)
            status = tree_read(path, NULL, 0, &tree, errors);
        if (status == STATUS_OK && !schema_check(&tree, tree.root, SCHEMA_PROGRAMME, errors))
            status = STATUS_INPUT;
        if (status == STATUS_OK)
            list_programme(listing, programme_names[i], tree.root);
        tree_free(&tree);
        memory_free(path);
    }
    listing->note = "`programme:` takes these names and paths of your own files (./house.yaml).";
    return status;
}

static const struct {
    const char *name;
    enum status (*fill)(struct listing *listing, struct errors *errors);
} topics[] = {
    {"foams", list_foams},           {"shells", list_shells},   {"comfort", list_comfort},
    {"headforms", list_headforms},   {"sites", list_sites},     {"anvils", list_anvils},
    {"programmes", list_programmes}, {"metrics", list_metrics}, {"units", list_units},
};
enum { TOPICS = sizeof topics / sizeof *topics };

static enum status unknown_topic(const char *name, struct errors *errors)
{
    const char *names[TOPICS];
    char all[160] = "";
    for (size_t i = 0; i < TOPICS; i++) {
        size_t used = strlen(all);
        names[i] = topics[i].name;
        snprintf(all + used, sizeof all - used, "%s%s", i ? ", " : "", names[i]);
    }
    const char *nearest = units_nearest(name, names, TOPICS);
    return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "there is no topic '%.60s'%s%s%s; there are: %s",
                      name, nearest ? "; nearest: '" : "", nearest ? nearest : "", nearest ? "'" : "", all);
}

static enum status print_topic(size_t topic, int json, struct errors *errors)
{
    struct listing listing = {.rows = json_array()};
    enum status status = listing.rows ? topics[topic].fill(&listing, errors) : STATUS_MEMORY;
    if (status == STATUS_OK && listing.out_of_memory)
        status = STATUS_MEMORY;
    if (status == STATUS_OK && json)
        status = print_object(topics[topic].name, &listing);
    else if (status == STATUS_OK)
        print_aligned(&listing);
    json_decref(listing.rows);
    return status;
}

enum status command_list(const struct options *options)
{
    struct errors errors = {0};
    size_t topic = 0;
    while (topic < TOPICS && strcmp(topics[topic].name, options->operands[0]) != 0)
        topic++;
    enum status status = topic < TOPICS ? print_topic(topic, options->json, &errors)
                                        : unknown_topic(options->operands[0], &errors);
    return status_worse(status, terminal_errors(&errors, options->json));
}
