#include "materials/shell_material.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/data.h"
#include "solver/base/memory.h"

enum {
    COLUMN_MATERIAL,
    COLUMN_PARAMETER,
    COLUMN_VALUE,
    COLUMN_UNIT,
    COLUMN_LOW,
    COLUMN_HIGH,
    COLUMN_PROVENANCE,
    COLUMN_SOURCE,
    COLUMN_NOTE,
    COLUMN_COUNT
};

static const char *const columns[COLUMN_COUNT] = {"material",   "parameter",  "value",  "unit", "range low",
                                                  "range high", "provenance", "source", "note"};

/* Every number that a row may hold, and where a material keeps it. */
static const struct property {
    const char *key;
    enum quantity quantity;
    int needed;
    const char *meaning;
    size_t offset;
} properties[] = {
#define PROPERTY(key, quantity, needed, meaning)                                                             \
    {#key, QUANTITY_##quantity, needed, meaning,                                                             \
     offsetof(struct shell_material, values) + offsetof(struct shell_values, key)},
    SHELL_MATERIAL_VALUES(PROPERTY)
#undef PROPERTY
#define PROPERTY(key, quantity, meaning)                                                                     \
    {#key, QUANTITY_##quantity, 0, meaning, offsetof(struct shell_material, key)},
        SHELL_MATERIAL_PLY(PROPERTY)
#undef PROPERTY
};

enum { PROPERTY_COUNT = sizeof properties / sizeof *properties };

static double *property_place(struct shell_material *material, const struct property *property)
{
    return (double *)(void *)((char *)material + property->offset);
}

static double property_value(const struct shell_material *material, const struct property *property)
{
    return *(const double *)(const void *)((const char *)material + property->offset);
}

static const struct property *property_find(const char *key)
{
    for (size_t p = 0; p < PROPERTY_COUNT; p++) {
        if (strcmp(properties[p].key, key) == 0)
            return &properties[p];
    }
    return NULL;
}

static const char *cell(const struct shell_materials *materials, size_t row, const size_t *at, size_t column)
{
    return materials->table.rows[row].cells[at[column]].text;
}

static enum status find_columns(const struct csv_table *table, size_t *at, struct errors *errors)
{
    for (size_t c = 0; c < COLUMN_COUNT; c++) {
        at[c] = csv_table_column(table, columns[c]);
        if (at[c] == SIZE_MAX)
            return errors_add(errors, STATUS_INPUT, table->name, 1, 0, "column `%s` is missing", columns[c]);
    }
    return STATUS_OK;
}

/* The material of that name, a new one when it is the first row of it; NULL when memory is out. */
static struct shell_material *material_of(struct shell_materials *materials, const char *name)
{
    for (size_t m = 0; m < materials->count; m++) {
        if (strcmp(materials->materials[m].name, name) == 0)
            return &materials->materials[m];
    }
    struct shell_material *more =
        memory_resized(materials->materials, materials->count, materials->count + 1, sizeof *more);
    if (!more)
        return NULL;
    materials->materials = more;
    struct shell_material *material = &more[materials->count++];
    snprintf(material->name, sizeof material->name, "%s", name);
    material->title = material->caution = "";
    for (size_t p = 0; p < PROPERTY_COUNT; p++)
        *property_place(material, &properties[p]) = NAN;
    return material;
}

static enum status read_row(struct shell_materials *materials, size_t row, const size_t *at,
                            struct errors *errors)
{
    const char *parameter = cell(materials, row, at, COLUMN_PARAMETER);
    const char *value = cell(materials, row, at, COLUMN_VALUE), *unit = cell(materials, row, at, COLUMN_UNIT);
    struct shell_material *material = material_of(materials, cell(materials, row, at, COLUMN_MATERIAL));
    if (!material)
        return errors_add(errors, STATUS_MEMORY, materials->file, 0, 0, "out of memory");
    if (strcmp(parameter, "title") == 0 || strcmp(parameter, "caution") == 0) {
        *(parameter[0] == 't' ? &material->title : &material->caution) = value;
        return STATUS_OK;
    }
    int line = materials->table.rows[row].line;
    const struct property *property = property_find(parameter);
    if (!property)
        return errors_add(errors, STATUS_INPUT, materials->file, line, 0, "unknown parameter `%s`",
                          parameter);
    char text[128], message[UNITS_MESSAGE];
    snprintf(text, sizeof text, "%s%s%s", value, unit[0] ? " " : "", unit);
    if (!units_read(property->quantity, text, property_place(material, property), message))
        return errors_add(errors, STATUS_INPUT, materials->file, line, 0, "%s: %s", parameter, message);
    return STATUS_OK;
}

void shell_laminate(double modulus_1, double modulus_2, double poisson, double shear_modulus, double *modulus,
                    double *laminate_poisson)
{
    double scale = 1.0 / (1.0 - poisson * poisson * modulus_2 / modulus_1);
    double q11 = modulus_1 * scale, q22 = modulus_2 * scale, q12 = poisson * q22, q66 = shear_modulus;
    double u1 = (3.0 * q11 + 3.0 * q22 + 2.0 * q12 + 4.0 * q66) / 8.0;
    double u4 = (q11 + q22 + 6.0 * q12 - 4.0 * q66) / 8.0;
    *modulus = (u1 * u1 - u4 * u4) / u1;
    *laminate_poisson = u4 / u1;
}

static enum status finish_material(struct shell_materials *materials, struct shell_material *material,
                                   struct errors *errors)
{
    struct shell_values *values = &material->values;
    material->from_ply = isnan(values->youngs_modulus) && !isnan(material->ply_modulus_1);
    if (material->from_ply)
        shell_laminate(material->ply_modulus_1, material->ply_modulus_2, material->ply_poisson,
                       material->ply_shear_modulus, &values->youngs_modulus, &values->poisson);
    for (size_t p = 0; p < PROPERTY_COUNT; p++) {
        if (properties[p].needed && isnan(property_value(material, &properties[p])))
            return errors_add(errors, STATUS_INPUT, materials->file, 0, 0, "%s: `%s` is missing",
                              material->name, properties[p].key);
    }
    return STATUS_OK;
}

enum status shell_materials_load(const char *beside, struct shell_materials *materials, struct errors *errors)
{
    *materials = (struct shell_materials){0};
    size_t at[COLUMN_COUNT];
    enum status status = data_find("materials/shells.csv", beside, &materials->file);
    if (status != STATUS_OK)
        errors_add(errors, status, NULL, 0, 0, "out of memory");
    else if (!materials->file)
        status = errors_add(errors, STATUS_FILE, "materials/shells.csv", 0, 0, DATA_MISSING);
    if (status == STATUS_OK)
        status = csv_table_read(materials->file, &materials->table, errors);
    if (status == STATUS_OK)
        status = find_columns(&materials->table, at, errors);
    for (size_t row = 0; status == STATUS_OK && row < materials->table.row_count; row++)
        status = read_row(materials, row, at, errors);
    for (size_t m = 0; status == STATUS_OK && m < materials->count; m++)
        status = finish_material(materials, &materials->materials[m], errors);
    if (status != STATUS_OK)
        shell_materials_free(materials);
    return status;
}

void shell_materials_free(struct shell_materials *materials)
{
    csv_table_free(&materials->table);
    memory_free(materials->materials);
    memory_free(materials->file);
    *materials = (struct shell_materials){0};
}

const struct shell_material *shell_materials_find(const struct shell_materials *materials, const char *name,
                                                  struct errors *errors)
{
    enum { LISTED = 32 };
    const char *names[LISTED];
    char all[ERROR_TEXT / 2] = "";
    size_t count = 0, used = 0;
    for (size_t m = 0; m < materials->count; m++) {
        const char *other = materials->materials[m].name;
        if (strcmp(other, name) == 0)
            return &materials->materials[m];
        if (count < LISTED)
            names[count++] = other;
        int more = snprintf(all + used, sizeof all - used, "%s%s", used ? ", " : "", other);
        used = used + (size_t)more < sizeof all ? used + (size_t)more : sizeof all - 1;
    }
    const char *nearest = units_nearest(name, names, count);
    errors_add(errors, STATUS_INPUT, NULL, 0, 0, "no shell material '%s'; there are %s%s%s%s", name, all,
               nearest ? "; did you mean '" : "", nearest ? nearest : "", nearest ? "'?" : "");
    return NULL;
}

struct shell_values shell_values_none(void)
{
#define NOTHING(key, quantity, needed, meaning) .key = NAN,
    return (struct shell_values){SHELL_MATERIAL_VALUES(NOTHING)};
#undef NOTHING
}

/* Cracks start at failure_strain, in a sheet that is elastic until then. */
static enum status check_cracks(const struct shell_values *values, struct errors *errors)
{
    if (isnan(values->crack_energy))
        return STATUS_OK;
    if (isnan(values->failure_strain))
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                          "`crack_energy` of the shell takes a `failure_strain`, where cracks start");
    if (!isnan(values->yield_stress))
        return errors_add(
            errors, STATUS_INPUT, NULL, 0, 0,
            "`crack_energy` is for shells that do not yield, and this one has a `yield_stress`");
    return STATUS_OK;
}

/* Refuses values with which a shell makes no sense; NaN counts as missing. */
static enum status check(const struct shell_values *values, struct errors *errors)
{
    static const struct {
        const char *key, *allowed;
        size_t offset;
        double above, below;
        int may_equal, needed;
    } rules[] = {
        {"density", "above 0", offsetof(struct shell_values, density), 0, INFINITY, 0, 1},
        {"youngs_modulus", "above 0", offsetof(struct shell_values, youngs_modulus), 0, INFINITY, 0, 1},
        {"poisson", "0 to 0.5", offsetof(struct shell_values, poisson), 0, 0.5, 1, 1},
        {"yield_stress", "above 0", offsetof(struct shell_values, yield_stress), 0, INFINITY, 0, 0},
        {"hardening", "0 or more", offsetof(struct shell_values, hardening), 0, INFINITY, 1, 0},
        {"failure_strain", "above 0", offsetof(struct shell_values, failure_strain), 0, INFINITY, 0, 0},
        {"crack_energy", "above 0", offsetof(struct shell_values, crack_energy), 0, INFINITY, 0, 0},
    };
    for (size_t k = 0; k < sizeof rules / sizeof *rules; k++) {
        double value = *(const double *)(const void *)((const char *)values + rules[k].offset);
        if (isnan(value) && !rules[k].needed)
            continue;
        if (isnan(value))
            return errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                              "the shell has no `%s`: name a material or give it", rules[k].key);
        if (value < rules[k].above || (value == rules[k].above && !rules[k].may_equal) ||
            value > rules[k].below)
            return errors_add(errors, STATUS_INPUT, NULL, 0, 0, "`%s` of the shell must be %s", rules[k].key,
                              rules[k].allowed);
    }
    return check_cracks(values, errors);
}

static double pick(double own, double otherwise)
{
    return isnan(own) ? otherwise : own;
}

enum status shell_material_choose(const struct shell_materials *materials, const char *name,
                                  const struct shell_values *own, struct shell_choice *choice,
                                  struct errors *errors)
{
    *choice = (struct shell_choice){0};
    struct shell_values values = shell_values_none();
    const struct shell_material *material = NULL;
    if (name[0]) {
        material = shell_materials_find(materials, name, errors);
        if (!material)
            return STATUS_INPUT;
        values = material->values;
    }
#define PICK(key, quantity, needed, meaning) values.key = pick(own->key, values.key);
    SHELL_MATERIAL_VALUES(PICK)
#undef PICK
    enum status status = check(&values, errors);
    if (status != STATUS_OK)
        return status;
    choice->sheet = (struct shell_sheet){.density = values.density,
                                         .youngs_modulus = values.youngs_modulus,
                                         .poisson = values.poisson,
                                         .yield_stress = pick(values.yield_stress, INFINITY),
                                         .hardening = pick(values.hardening, 0.0),
                                         .crack_strain = pick(values.failure_strain, 0.0),
                                         .crack_energy = pick(values.crack_energy, 0.0)};
    choice->failure_strain = values.failure_strain;
    choice->caution = material ? material->caution : "";
    return STATUS_OK;
}

/* Whether a shell has no use for a property: the case gives it, or what would be made of it. */
static int is_given(const struct shell_values *own, const char *key)
{
#define GIVEN(name, quantity, needed, meaning)                                                               \
    if (strcmp(key, #name) == 0)                                                                             \
        return !isnan(own->name);
    SHELL_MATERIAL_VALUES(GIVEN)
#undef GIVEN
    int ply = strncmp(key, "ply_", strlen("ply_")) == 0;
    return !ply || (!isnan(own->youngs_modulus) && !isnan(own->poisson));
}

void shell_material_memory(const struct shell_materials *materials, const char *name,
                           const struct shell_values *own, char *text, size_t size)
{
    size_t at[COLUMN_COUNT];
    text[0] = '\0';
    if (find_columns(&materials->table, at, NULL) != STATUS_OK)
        return;
    for (size_t row = 0; row < materials->table.row_count; row++) {
        const struct property *property = property_find(cell(materials, row, at, COLUMN_PARAMETER));
        const char *provenance = cell(materials, row, at, COLUMN_PROVENANCE);
        size_t used = strlen(text);
        if (property && strcmp(cell(materials, row, at, COLUMN_MATERIAL), name) == 0 &&
            strncmp(provenance, "memory", strlen("memory")) == 0 && !is_given(own, property->key))
            snprintf(text + used, size - used, "%s%s", used ? ", " : "", property->key);
    }
}

/* --- list shells --- */

struct lines {
    struct shell_line *lines;
    size_t size, count;
};

static void add_line(struct lines *lines, struct shell_line line)
{
    if (lines->count < lines->size)
        lines->lines[lines->count] = line;
    lines->count++;
}

static void add_derived(struct lines *lines, const struct shell_material *material, const char *key)
{
    const struct property *property = property_find(key);
    add_line(lines, (struct shell_line){.material = material->name,
                                        .title = material->title,
                                        .parameter = property->key,
                                        .meaning = property->meaning,
                                        .quantity = property->quantity,
                                        .value = property_value(material, property),
                                        .low = "",
                                        .high = "",
                                        .unit = "",
                                        .provenance = "derived",
                                        .source = "the ply, same share of plies in all directions",
                                        .note = material->caution});
}

size_t shell_material_lines(const struct shell_materials *materials, struct shell_line *into, size_t size)
{
    struct lines lines = {into, size, 0};
    size_t at[COLUMN_COUNT];
    if (find_columns(&materials->table, at, NULL) != STATUS_OK)
        return 0;
    for (size_t row = 0; row < materials->table.row_count; row++) {
        const struct property *property = property_find(cell(materials, row, at, COLUMN_PARAMETER));
        const struct shell_material *material =
            shell_materials_find(materials, cell(materials, row, at, COLUMN_MATERIAL), NULL);
        if (!property || !material)
            continue;
        add_line(&lines, (struct shell_line){.material = material->name,
                                             .title = material->title,
                                             .parameter = property->key,
                                             .meaning = property->meaning,
                                             .quantity = property->quantity,
                                             .value = property_value(material, property),
                                             .low = cell(materials, row, at, COLUMN_LOW),
                                             .high = cell(materials, row, at, COLUMN_HIGH),
                                             .unit = cell(materials, row, at, COLUMN_UNIT),
                                             .provenance = cell(materials, row, at, COLUMN_PROVENANCE),
                                             .source = cell(materials, row, at, COLUMN_SOURCE),
                                             .note = cell(materials, row, at, COLUMN_NOTE)});
        if (material->from_ply && strcmp(property->key, "ply_poisson") == 0) {
            add_derived(&lines, material, "youngs_modulus");
            add_derived(&lines, material, "poisson");
        }
    }
    return lines.count;
}
