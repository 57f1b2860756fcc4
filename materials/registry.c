#include "materials/registry.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "materials/foam_curve.h"
#include "solver/base/csv.h"
#include "solver/base/data.h"
#include "solver/base/memory.h"
#include "solver/base/numeric.h"

/* Ambient temperatures at which a foam without a table counts as tested: 16 CFR 1203.8. */
static const double ambient_low = 17, ambient_high = 27;

static const struct {
    const char *key;
    enum quantity quantity;
    int needed;
    const char *meaning;
} properties[] = {
#define REGISTRY_ROW(key, quantity, needed, meaning) {#key, QUANTITY_##quantity, needed, meaning},
    REGISTRY_PROPERTIES(REGISTRY_ROW)
#undef REGISTRY_ROW
};

/* --- reading data files --- */

enum { COLUMN_COUNT = 8 };

static const char *const columns[COLUMN_COUNT] = {"parameter",  "value",      "unit",   "range low",
                                                  "range high", "provenance", "source", "note"};

/* Places of the columns in a file; an error when one is missing. */
static enum status find_columns(const struct csv_table *table, const char *const *names, size_t count,
                                size_t *at, struct errors *errors)
{
    for (size_t i = 0; i < count; i++) {
        at[i] = csv_table_column(table, names[i]);
        if (at[i] == SIZE_MAX)
            return errors_add(errors, STATUS_INPUT, table->name, 1, 0, "column `%s` is missing", names[i]);
    }
    return STATUS_OK;
}

static char **row_fields(struct registry_row *row, size_t i)
{
    char **fields[COLUMN_COUNT] = {&row->parameter, &row->value,      &row->unit,   &row->low,
                                   &row->high,      &row->provenance, &row->source, &row->note};
    return fields[i];
}

static enum status copy_rows(const struct csv_table *table, struct registry_material *material,
                             struct errors *errors)
{
    size_t at[COLUMN_COUNT] = {0};
    enum status status = find_columns(table, columns, COLUMN_COUNT, at, errors);
    if (status != STATUS_OK)
        return status;
    material->rows = memory_zeroed(table->row_count, sizeof *material->rows);
    if (!material->rows)
        return errors_add(errors, STATUS_MEMORY, table->name, 0, 0, "out of memory");
    material->row_count = table->row_count;
    for (size_t r = 0; r < table->row_count; r++) {
        for (size_t i = 0; i < COLUMN_COUNT; i++) {
            char **field = row_fields(&material->rows[r], i);
            *field = memory_text(table->rows[r].cells[at[i]].text);
            if (!*field)
                return errors_add(errors, STATUS_MEMORY, table->name, 0, 0, "out of memory");
        }
    }
    return STATUS_OK;
}

/* A row's number in SI. */
static enum status row_number(const struct registry_material *material, const struct registry_row *row,
                              enum quantity quantity, const char *text, double *value, struct errors *errors)
{
    char joined[128], message[UNITS_MESSAGE];
    snprintf(joined, sizeof joined, "%s%s%s", text, row->unit[0] ? " " : "", row->unit);
    if (units_read(quantity, joined, value, message))
        return STATUS_OK;
    return errors_add(errors, STATUS_INPUT, material->file, 0, 0, "%s: %s", row->parameter, message);
}

/* The property whose key, or key and ending, a row bears; REGISTRY_PROPERTY_COUNT when none. */
static enum registry_property row_property(const char *parameter, const char *ending)
{
    size_t length = strlen(parameter), tail = strlen(ending);
    if (length <= tail || strcmp(parameter + length - tail, ending) != 0)
        return REGISTRY_PROPERTY_COUNT;
    for (size_t i = 0; i < REGISTRY_PROPERTY_COUNT; i++) {
        if (strlen(properties[i].key) == length - tail &&
            strncmp(properties[i].key, parameter, length - tail) == 0)
            return (enum registry_property)i;
    }
    return REGISTRY_PROPERTY_COUNT;
}

/* A property row, constant or part of a power law; sets *known. A share is turned into a factor at the end.
 */
static enum status read_property(struct registry_material *material, const struct registry_row *row,
                                 double *share, int *known, struct errors *errors)
{
    static const char *const endings[] = {"", "_factor", "_share", "_exponent"};
    for (size_t e = 0; e < sizeof endings / sizeof *endings; e++) {
        enum registry_property property = row_property(row->parameter, endings[e]);
        if (property == REGISTRY_PROPERTY_COUNT)
            continue;
        *known = 1;
        double *places[] = {&material->factor[property], &material->factor[property], &share[property],
                            &material->exponent[property]};
        enum quantity quantity = e < 2 ? properties[property].quantity : QUANTITY_NUMBER;
        return row_number(material, row, quantity, row->value, places[e], errors);
    }
    return STATUS_OK;
}

/* Rows that are not properties. */
static enum status read_other(struct registry_material *material, const struct registry_row *row, int *known,
                              struct errors *errors)
{
    const struct {
        const char *key;
        enum quantity quantity;
        double *place;
    } others[] = {
        {"density", QUANTITY_DENSITY, &material->density},
        {"checked_up_to", QUANTITY_DENSITY, &material->checked_up_to},
        {"solid_modulus", QUANTITY_STRESS, &material->solid_modulus},
        {"solid_strength", QUANTITY_STRESS, &material->solid_strength},
        {"edge_fraction", QUANTITY_NUMBER, &material->edge_fraction},
    };
    for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
        if (strcmp(row->parameter, others[i].key) == 0) {
            *known = 1;
            return row_number(material, row, others[i].quantity, row->value, others[i].place, errors);
        }
    }
    if (strcmp(row->parameter, "knee") == 0) {
        *known = strcmp(row->value, "rounded") == 0 || strcmp(row->value, "sharp") == 0;
        material->sharp = strcmp(row->value, "sharp") == 0;
    }
    return STATUS_OK;
}

/* A row "temperature_factor -20 degC". */
static enum status read_temperature(struct registry_material *material, const struct registry_row *row,
                                    int *known, struct errors *errors)
{
    static const char key[] = "temperature_factor ";
    if (strncmp(row->parameter, key, sizeof key - 1) != 0)
        return STATUS_OK;
    struct registry_temperature *table = &material->temperature;
    size_t at = table->count;
    char message[UNITS_MESSAGE];
    *known = 1;
    if (at == REGISTRY_TEMPERATURES ||
        !units_read(QUANTITY_TEMPERATURE, row->parameter + sizeof key - 1, &table->degree[at], message))
        return errors_add(errors, STATUS_INPUT, material->file, 0, 0, "%s: not a temperature",
                          row->parameter);
    if (at && table->degree[at] <= table->degree[at - 1])
        return errors_add(errors, STATUS_INPUT, material->file, 0, 0, "%s: temperatures must rise",
                          row->parameter);
    table->count++;
    return row_number(material, row, QUANTITY_NUMBER, row->value, &table->factor[at], errors);
}

static enum status read_row(struct registry_material *material, const struct registry_row *row, double *share,
                            struct errors *errors)
{
    int known = 0;
    enum status status = read_property(material, row, share, &known, errors);
    if (status == STATUS_OK && !known)
        status = read_other(material, row, &known, errors);
    if (status == STATUS_OK && !known)
        status = read_temperature(material, row, &known, errors);
    if (status == STATUS_OK && !known)
        status = errors_add(errors, STATUS_INPUT, material->file, 0, 0, "unknown parameter %s, or value %s",
                            row->parameter, row->value);
    if (status == STATUS_OK && (row->provenance[0] == '\0'))
        status =
            errors_add(errors, STATUS_INPUT, material->file, 0, 0, "%s has no provenance", row->parameter);
    if (status == STATUS_OK && strcmp(row->parameter, "density") == 0) {
        status = row_number(material, row, QUANTITY_DENSITY, row->low, &material->density_low, errors);
        if (status == STATUS_OK)
            status = row_number(material, row, QUANTITY_DENSITY, row->high, &material->density_high, errors);
    }
    return status;
}

/* What must be there, after all rows; turns shares of the solid into factors: c E_s (rho/rho_s)^n. */
static enum status finish_material(struct registry_material *material, const double *share,
                                   struct errors *errors)
{
    double solid = material->factor[REGISTRY_solid_density];
    for (size_t i = 0; i < REGISTRY_PROPERTY_COUNT; i++) {
        if (share[i] == share[i])
            material->factor[i] =
                share[i] * material->solid_modulus * numeric_exp(-material->exponent[i] * numeric_log(solid));
        int needed = material->comfort ? i == REGISTRY_collapse_stress : properties[i].needed;
        if (needed && !(material->factor[i] == material->factor[i]))
            return errors_add(errors, STATUS_INPUT, material->file, 0, 0, "%s is missing", properties[i].key);
    }
    if (!(material->density_low > 0 && material->density_low < material->density_high))
        return errors_add(errors, STATUS_INPUT, material->file, 0, 0, "density and its range are missing");
    if (!material->comfort && !(material->factor[REGISTRY_gas_pressure] > 0 ||
                                material->factor[REGISTRY_densification_modulus] > 0))
        return errors_add(errors, STATUS_INPUT, material->file, 0, 0,
                          "open cells (gas_pressure 0) need a densification_modulus");
    return STATUS_OK;
}

static enum status read_material(struct registry_material *material, struct errors *errors)
{
    struct csv_table table;
    double share[REGISTRY_PROPERTY_COUNT];
    for (size_t i = 0; i < REGISTRY_PROPERTY_COUNT; i++) {
        material->factor[i] = share[i] = NAN;
        material->exponent[i] = 0;
    }
    material->checked_up_to = material->solid_modulus = material->solid_strength = NAN;
    material->edge_fraction = NAN;
    enum status status = csv_table_read(material->file, &table, errors);
    if (status == STATUS_OK)
        status = copy_rows(&table, material, errors);
    for (size_t i = 0; status == STATUS_OK && i < material->row_count; i++)
        status = read_row(material, &material->rows[i], share, errors);
    if (status == STATUS_OK)
        status = finish_material(material, share, errors);
    csv_table_free(&table);
    return status;
}

/* One row of foams.csv and the file that it names. */
static enum status load_material(const struct csv_row *row, const size_t *at, const char *beside,
                                 struct registry_material *material, struct errors *errors)
{
    const char *file = row->cells[at[1]].text;
    snprintf(material->name, sizeof material->name, "%s", row->cells[at[0]].text);
    material->comfort = strcmp(row->cells[at[2]].text, "comfort") == 0;
    material->title = memory_text(row->cells[at[3]].text);
    enum status status = data_find(file, beside, &material->file);
    if (status == STATUS_MEMORY || !material->title)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    if (!material->file)
        return errors_add(errors, STATUS_FILE, file, 0, 0, DATA_MISSING);
    return read_material(material, errors);
}

enum status registry_load(const char *beside, struct registry *registry, struct errors *errors)
{
    static const char *const names[] = {"name", "file", "use", "title"};
    static const char list[] = "materials/foams.csv";
    struct csv_table table = {0};
    size_t at[4] = {0};
    char *path = NULL;
    *registry = (struct registry){0};
    enum status status = data_find(list, beside, &path);
    if (status == STATUS_OK && !path)
        status = errors_add(errors, STATUS_FILE, list, 0, 0, DATA_MISSING);
    if (status == STATUS_OK)
        status = csv_table_read(path, &table, errors);
    if (status == STATUS_OK)
        status = find_columns(&table, names, 4, at, errors);
    if (status != STATUS_OK)
        goto done;
    registry->materials = memory_zeroed(table.row_count, sizeof *registry->materials);
    if (!registry->materials) {
        status = errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
        goto done;
    }
    for (size_t i = 0; status == STATUS_OK && i < table.row_count; i++) {
        registry->count++;
        status = load_material(&table.rows[i], at, beside, &registry->materials[i], errors);
    }
done:
    csv_table_free(&table);
    memory_free(path);
    if (status != STATUS_OK)
        registry_free(registry);
    return status;
}

void registry_free(struct registry *registry)
{
    for (size_t m = 0; m < registry->count; m++) {
        struct registry_material *material = &registry->materials[m];
        for (size_t r = 0; r < material->row_count; r++) {
            for (size_t i = 0; i < COLUMN_COUNT; i++)
                memory_free(*row_fields(&material->rows[r], i));
        }
        memory_free(material->rows);
        memory_free(material->title);
        memory_free(material->file);
    }
    memory_free(registry->materials);
    *registry = (struct registry){0};
}

/* --- values --- */

const struct registry_material *registry_find(const struct registry *registry, const char *name,
                                              struct errors *errors)
{
    const char *names[32], *near;
    char listed[ERROR_TEXT / 2] = "";
    size_t count = registry->count < 32 ? registry->count : 32;
    for (size_t i = 0; i < registry->count; i++) {
        if (strcmp(registry->materials[i].name, name) == 0)
            return &registry->materials[i];
    }
    for (size_t i = 0; i < count; i++) {
        size_t used = strlen(listed);
        names[i] = registry->materials[i].name;
        snprintf(listed + used, sizeof listed - used, "%s%s", i ? ", " : "", names[i]);
    }
    near = units_nearest(name, names, count);
    errors_add(errors, STATUS_INPUT, NULL, 0, 0, "unknown foam `%.48s`; known: %s%s%s%s", name, listed,
               near ? "; did you mean `" : "", near ? near : "", near ? "`?" : "");
    return NULL;
}

double registry_value(const struct registry_material *material, enum registry_property property,
                      double density)
{
    double factor = material->factor[property], exponent = material->exponent[property];
    return exponent == 0 ? factor : factor * numeric_exp(exponent * numeric_log(density));
}

struct registry_own registry_own_none(void)
{
    struct registry_own own = {.density = NAN, .stress_10 = NAN};
    for (size_t i = 0; i < REGISTRY_PROPERTY_COUNT; i++)
        own.value[i] = NAN;
    return own;
}

static int given(double value)
{
    return value == value;
}

/* Value of the own foam if it gives one, else of the material; 0 when neither does. */
static double pick(const struct registry_material *material, const struct registry_own *own,
                   enum registry_property property, double density)
{
    double value = own && given(own->value[property]) ? own->value[property]
                                                      : registry_value(material, property, density);
    return given(value) ? value : 0;
}

static struct foam_parameters pick_parameters(const struct registry_material *material,
                                              const struct registry_own *own, double density,
                                              double temperature)
{
    struct foam_parameters p = {.density = density, .temperature = temperature};
    snprintf(p.name, sizeof p.name, "%s", own && own->name ? own->name : material->name);
#define REGISTRY_PICK(key, quantity, needed, meaning) p.key = pick(material, own, REGISTRY_##key, density);
    REGISTRY_PROPERTIES(REGISTRY_PICK)
#undef REGISTRY_PICK
    p.sharp = own && own->knee ? own->knee == 2 : material->sharp;
    return p;
}

double registry_factor_at(size_t count, const double *degree, const double *factor, double temperature)
{
    if (!(temperature >= degree[0] && temperature <= degree[count - 1]))
        return NAN;
    size_t i = 1;
    while (i + 1 < count && temperature > degree[i])
        i++;
    if (count == 1)
        return factor[0];
    double along = (temperature - degree[i - 1]) / (degree[i] - degree[i - 1]);
    return factor[i - 1] + along * (factor[i] - factor[i - 1]);
}

/* Factor at a temperature by straight lines between the rows; 0 where there is none, with a sentence. */
static double temperature_factor(const struct registry_material *material, const struct registry_own *own,
                                 const char *name, double temperature, char *sentence)
{
    const double *degree = material->temperature.degree, *factor = material->temperature.factor;
    size_t count = material->temperature.count;
    if (own && own->temperature_count) {
        degree = own->temperature;
        factor = own->temperature_factor;
        count = own->temperature_count;
    }
    if (count == 0 && temperature >= ambient_low && temperature <= ambient_high)
        return 1;
    if (count == 0) {
        snprintf(sentence, REGISTRY_SENTENCE,
                 "%s has no table of temperatures; %g degC lies outside %g to %g degC", name, temperature,
                 ambient_low, ambient_high);
        return 0;
    }
    double here = registry_factor_at(count, degree, factor, temperature);
    if (!isnan(here))
        return here;
    snprintf(sentence, REGISTRY_SENTENCE, "%s is known from %g to %g degC, not at %g degC", name, degree[0],
             degree[count - 1], temperature);
    return 0;
}

/* Collapse stress of closed cells with a share phi of the solid in edges [Pa]: sigma_ys (0.3 (phi R)^1.5 +
 * 0.4 (1 - phi) R), Gibson and Ashby 1997. NaN where the file does not give the solid's strength. */
static double cross_check(const struct registry_material *material, double density)
{
    double r = density / material->factor[REGISTRY_solid_density], edges = material->edge_fraction * r;
    return material->solid_strength * (0.3 * edges * sqrt(edges) + 0.4 * (r - edges));
}

/* --- measured curves --- */

struct curve {
    double density;
    size_t count;
    double *strain, *stress; /* (count) */
};

static void curve_free(struct curve *curve)
{
    memory_free(curve->strain);
    memory_free(curve->stress);
    *curve = (struct curve){0};
}

/* The column with this name, whatever its unit, and what one unit is in SI. */
static enum status curve_column(const struct csv_table *table, const char *wanted, enum quantity quantity,
                                size_t *at, double *scale, struct errors *errors)
{
    static const char *const units[] = {"Pa", "kPa", "MPa", "GPa", "N/mm2", "psi", "%"};
    char name[64], unknown[64], text[80], message[UNITS_MESSAGE];
    for (*at = 0; *at < table->column_count; ++*at) {
        int unit = csv_column_unit(table->header[*at], units, 7, name, unknown, sizeof name);
        if (strcmp(name, wanted) != 0)
            continue;
        snprintf(text, sizeof text, "1 %s", unit >= 0 ? units[unit] : unit == -2 ? unknown : "");
        if (unit == -1 && quantity == QUANTITY_FRACTION) {
            *scale = 1;
            return STATUS_OK;
        }
        if (units_read(quantity, text, scale, message))
            return STATUS_OK;
        return errors_add(errors, STATUS_INPUT, table->name, 1, 0, "column `%s`: %s", wanted, message);
    }
    return errors_add(errors, STATUS_INPUT, table->name, 1, 0, "column `%s` is missing", wanted);
}

static enum status fill_curve(const struct csv_table *table, struct curve *curve, struct errors *errors)
{
    size_t strain, stress;
    double strain_unit, stress_unit;
    enum status status = curve_column(table, "strain", QUANTITY_FRACTION, &strain, &strain_unit, errors);
    if (status == STATUS_OK)
        status = curve_column(table, "stress", QUANTITY_STRESS, &stress, &stress_unit, errors);
    for (size_t r = 0; status == STATUS_OK && r < table->row_count; r++) {
        double e, s;
        status = csv_table_number(table, r, strain, &e, errors);
        if (status == STATUS_OK)
            status = csv_table_number(table, r, stress, &s, errors);
        if (status != STATUS_OK || (e == 0 && s == 0))
            continue; /* the origin is understood */
        curve->strain[curve->count] = e * strain_unit;
        curve->stress[curve->count++] = s * stress_unit;
    }
    if (status == STATUS_OK && curve->count < 2)
        status =
            errors_add(errors, STATUS_INPUT, table->name, 0, 0, "a curve needs two points beside the origin");
    return status;
}

static enum status read_curve(const char *path, double density, struct curve *curve, struct errors *errors)
{
    struct csv_table table;
    *curve = (struct curve){.density = density};
    enum status status = csv_table_read(path, &table, errors);
    if (status != STATUS_OK)
        return status;
    curve->strain = memory_doubles(table.row_count);
    curve->stress = memory_doubles(table.row_count);
    status = curve->strain && curve->stress ? fill_curve(&table, curve, errors)
                                            : errors_add(errors, STATUS_MEMORY, path, 0, 0, "out of memory");
    csv_table_free(&table);
    if (status != STATUS_OK)
        curve_free(curve);
    return status;
}

/* Stress of a curve, straight between its points and the origin. */
static double curve_stress(const struct curve *curve, double strain)
{
    size_t i = 0;
    while (i + 1 < curve->count && strain > curve->strain[i])
        i++;
    double from = i ? curve->strain[i - 1] : 0, low = i ? curve->stress[i - 1] : 0;
    return low + (curve->stress[i] - low) * (strain - from) / (curve->strain[i] - from);
}

/* Curve at a density between two: the logarithm of stress is straight in the logarithm of density, at every
 * strain where either has a point, up to the shorter one's end. */
static enum status blend_curves(const struct curve *a, const struct curve *b, double density,
                                struct curve *out, struct errors *errors)
{
    double share = numeric_log(density / a->density) / numeric_log(b->density / a->density);
    double end = numeric_smaller(a->strain[a->count - 1], b->strain[b->count - 1]);
    size_t i = 0, k = 0;
    *out = (struct curve){.density = density};
    out->strain = memory_doubles(a->count + b->count);
    out->stress = memory_doubles(a->count + b->count);
    if (!out->strain || !out->stress) {
        curve_free(out);
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    }
    while (i < a->count && k < b->count) {
        double e = numeric_smaller(a->strain[i], b->strain[k]);
        i += a->strain[i] == e;
        k += b->strain[k] == e;
        if (e > end)
            break;
        double low = numeric_log(curve_stress(a, e)), high = numeric_log(curve_stress(b, e));
        out->strain[out->count] = e;
        out->stress[out->count++] = numeric_exp(low + share * (high - low));
    }
    return STATUS_OK;
}

/* The curve of an own foam at a density: one of its curves, or between two. */
static enum status own_curve(const struct registry_own *own, double density, struct curve *out,
                             struct errors *errors)
{
    size_t below = SIZE_MAX, above = SIZE_MAX;
    const double *at = own->curve_density, near = 1e-9 * density;
    for (size_t i = 0; i < own->curve_count; i++) {
        if (at[i] <= density + near && (below == SIZE_MAX || at[i] > at[below]))
            below = i;
        if (at[i] >= density - near && (above == SIZE_MAX || at[i] < at[above]))
            above = i;
    }
    if (below == SIZE_MAX || above == SIZE_MAX) {
        double low = INFINITY, high = 0;
        for (size_t i = 0; i < own->curve_count; i++) {
            low = numeric_smaller(low, at[i]);
            high = numeric_larger(high, at[i]);
        }
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                          "foam %s: density %g kg/m3 lies outside its curves, %g to %g kg/m3", own->name,
                          density, low, high);
    }
    if (below == above)
        return read_curve(own->curve_file[below], density, out, errors);
    struct curve a = {0}, b = {0};
    enum status status = read_curve(own->curve_file[below], at[below], &a, errors);
    if (status == STATUS_OK)
        status = read_curve(own->curve_file[above], at[above], &b, errors);
    if (status == STATUS_OK)
        status = blend_curves(&a, &b, density, out, errors);
    curve_free(&a);
    curve_free(&b);
    return status;
}

/* Young's modulus that a curve itself gives: its first slope, or what keeps a steeper end below 0.9 E. The
 * temperature factor acts on the skeleton alone. */
static void use_curve(const struct registry_own *own, struct curve *curve, double factor,
                      struct foam_parameters *p)
{
    struct foam_values gas = {.gas_pressure = p->gas_pressure, .room = 1 - p->density / p->solid_density};
    double before = 0, below = 0, modulus = 0;
    for (size_t i = 0; i < curve->count; i++) {
        double e = curve->strain[i], pressure = foam_gas(gas, e).pressure;
        double skeleton = factor * (curve->stress[i] - pressure);
        double slope = (skeleton - below) / (e - before) / (i ? 0.9 : 1);
        modulus = slope > modulus ? slope : modulus;
        curve->stress[i] = skeleton + pressure;
        before = e;
        below = skeleton;
    }
    p->youngs_modulus =
        given(own->value[REGISTRY_youngs_modulus]) ? factor * p->youngs_modulus : modulus * (1 + 1e-12);
    p->curve_count = curve->count;
    p->curve_strain = curve->strain;
    p->curve_stress = curve->stress;
}

/* --- foams --- */

/* Whether an own foam says itself at what stress it collapses. */
static int own_curve_given(const struct registry_own *own)
{
    return own && (own->curve_count || given(own->value[REGISTRY_collapse_stress]) || given(own->stress_10));
}

static enum status check_density(const struct registry_material *material, const struct registry_own *own,
                                 double density, struct errors *errors)
{
    const char *name = own && own->name ? own->name : material->name;
    if (!given(density) || density <= 0)
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0, "foam %s needs a density", name);
    if (own_curve_given(own) && (own->curve_count || given(own->value[REGISTRY_youngs_modulus])))
        return STATUS_OK; /* its own curve; curves say their own range */
    if (density < material->density_low || density > material->density_high)
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                          "foam %s: density %g kg/m3 lies outside the range of %s, %g to %g kg/m3", name,
                          density, material->name, material->density_low, material->density_high);
    return STATUS_OK;
}

static void say(const struct registry_material *material, const struct registry_own *own,
                const struct foam_parameters *p, struct registry_report *report)
{
    report->checked_up_to = material->checked_up_to;
    report->extrapolated = !own_curve_given(own) && p->density > material->checked_up_to;
    report->cross_check = own_curve_given(own) ? NAN : cross_check(material, p->density);
    report->softening_asked = p->unloading_softening;
}

/* Collapse stress from the stress at 10 %, before the temperature factor. */
static enum status use_stress_10(const struct registry_own *own, struct foam_parameters *p,
                                 struct errors *errors)
{
    if (!own || !given(own->stress_10))
        return STATUS_OK;
    p->collapse_stress = foam_collapse_from_stress_10(p, own->stress_10);
    if (given(p->collapse_stress))
        return STATUS_OK;
    return errors_add(
        errors, STATUS_INPUT, NULL, 0, 0,
        "foam %s: no collapse_stress gives stress_10 %g kPa with youngs_modulus %g MPa and gas_pressure %g "
        "kPa",
        p->name, 1e-3 * own->stress_10, 1e-6 * p->youngs_modulus, 1e-3 * p->gas_pressure);
}

/* Nothing but densification stops open cells from being crushed to nothing; a measured curve has its own. */
static enum status check_open_cells(const struct registry_own *own, const struct foam_parameters *p,
                                    struct errors *errors)
{
    if ((own && own->curve_count) || p->gas_pressure > 0 || p->densification_modulus > 0)
        return STATUS_OK;
    return errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                      "foam %s: open cells (gas_pressure 0) need a densification_modulus", p->name);
}

static void scale_skeleton(double factor, struct foam_parameters *p)
{
    p->youngs_modulus *= factor;
    p->collapse_stress *= factor;
}

enum status registry_foam(const struct registry *registry, const char *name, const struct registry_own *own,
                          double density, double temperature, struct foam *foam,
                          struct registry_report *report, struct errors *errors)
{
    *foam = (struct foam){0};
    *report = (struct registry_report){.checked_up_to = NAN, .cross_check = NAN};
    const char *like = own ? (own->like && own->like[0] ? own->like : "eps") : name;
    const struct registry_material *material = registry_find(registry, like, errors);
    if (!material)
        return STATUS_INPUT;
    if (material->comfort)
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0, "%s is for comfort padding, not for a liner",
                          material->name);
    density = own && !given(density) ? own->density : density;
    enum status status = check_density(material, own, density, errors);
    if (status != STATUS_OK)
        return status;
    struct foam_parameters p = pick_parameters(material, own, density, temperature);
    status = check_open_cells(own, &p, errors);
    if (status != STATUS_OK)
        return status;
    double factor = temperature_factor(material, own, p.name, temperature, report->sentence);
    if (factor <= 0)
        return STATUS_OK;
    struct curve curve = {0};
    status =
        own && own->curve_count ? own_curve(own, density, &curve, errors) : use_stress_10(own, &p, errors);
    if (status == STATUS_OK && curve.count)
        use_curve(own, &curve, factor, &p);
    else
        scale_skeleton(factor, &p);
    if (status == STATUS_OK) {
        p.solid_modulus = isfinite(material->solid_modulus) ? material->solid_modulus : 0;
        p.shear_modulus = p.shear_modulus > 0 ? p.shear_modulus : 0.5 * p.youngs_modulus;
        report->temperature_factor = factor;
        say(material, own, &p, report);
        status = foam_make(&p, foam, errors);
        report->computed = status == STATUS_OK;
    }
    curve_free(&curve);
    return status;
}

int registry_from_memory(const char *provenance)
{
    return strncmp(provenance, "memory", strlen("memory")) == 0;
}

/* Whether an own foam gives a property itself, or with its curve. */
static int property_given(const struct registry_own *own, enum registry_property property)
{
    if (given(own->value[property]))
        return 1;
    if (property == REGISTRY_collapse_stress)
        return own_curve_given(own);
    return own->curve_count > 0 && (property == REGISTRY_youngs_modulus || property == REGISTRY_hardening);
}

/* Whether an own foam does without a row that is no property: of liner foams the density is the range of the
 * collapse stress. */
static int row_given(const struct registry_own *own, const char *parameter, int comfort)
{
    if (comfort)
        return given(own->density);
    if (strcmp(parameter, "knee") == 0)
        return own->knee || own->curve_count;
    if (strncmp(parameter, "temperature_factor ", strlen("temperature_factor ")) == 0)
        return own->temperature_count > 0;
    if (strcmp(parameter, "solid_modulus") == 0)
        return own->value[REGISTRY_gas_pressure] == 0.0; /* open cells do without */
    return own_curve_given(own);                         /* range and cross-check of the collapse stress */
}

const char *registry_row_taken(const struct registry_material *material, const struct registry_row *row,
                               const struct registry_own *own)
{
    static const char *const endings[] = {"", "_factor", "_share", "_exponent"};
    for (size_t e = 0; e < sizeof endings / sizeof *endings; e++) {
        enum registry_property property = row_property(row->parameter, endings[e]);
        if (property != REGISTRY_PROPERTY_COUNT)
            return own && property_given(own, property) ? NULL : properties[property].key;
    }
    return own && row_given(own, row->parameter, material->comfort) ? NULL : row->parameter;
}

enum status registry_comfort(const struct registry *registry, const char *name,
                             const struct registry_own *own, double *pressure, double *density,
                             struct errors *errors)
{
    *pressure = *density = NAN;
    const struct registry_material *material = registry_find(registry, own ? own->like : name, errors);
    if (!material)
        return STATUS_INPUT;
    if (!material->comfort)
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0, "%s is not a comfort foam", name);
    *density = own && given(own->density) ? own->density : material->density;
    *pressure = pick(material, own, REGISTRY_collapse_stress, *density);
    return STATUS_OK;
}

/* --- lists --- */

/* The row that holds the exponent of a property's power law; NULL when none does. */
static const struct registry_row *exponent_row(const struct registry_material *material,
                                               enum registry_property property)
{
    for (size_t r = 0; r < material->row_count; r++) {
        if (row_property(material->rows[r].parameter, "_exponent") == property)
            return &material->rows[r];
    }
    return NULL;
}

/* The line of a row: the property that it stands for at the reference density, or the number itself. Rows
 * that only complete another one (exponents) give none. */
static int row_line(const struct registry_material *material, const struct registry_row *row, double density,
                    struct registry_line *line)
{
    static const char *const endings[] = {"", "_factor", "_share"};
    if (row_property(row->parameter, "_exponent") != REGISTRY_PROPERTY_COUNT ||
        strcmp(row->parameter, "knee") == 0)
        return 0;
    *line = (struct registry_line){.material = material->name,
                                   .title = material->title,
                                   .parameter = row->parameter,
                                   .meaning = "",
                                   .quantity = QUANTITY_NUMBER,
                                   .value = NAN,
                                   .density = NAN,
                                   .density_low = material->density_low,
                                   .density_high = material->density_high,
                                   .low = row->low,
                                   .high = row->high,
                                   .unit = row->unit,
                                   .provenance = row->provenance,
                                   .source = row->source,
                                   .note = row->note};
    for (size_t e = 0; e < sizeof endings / sizeof *endings; e++) {
        enum registry_property property = row_property(row->parameter, endings[e]);
        if (property == REGISTRY_PROPERTY_COUNT)
            continue;
        line->parameter = properties[property].key;
        line->meaning = properties[property].meaning;
        line->quantity = properties[property].quantity;
        line->value = registry_value(material, property, density);
        line->density = e ? density : NAN;
        line->factor = e == 1 ? row : NULL;
        line->share = e == 2 ? row : NULL;
        line->exponent = e ? exponent_row(material, property) : NULL;
        return 1;
    }
    static const enum quantity kinds[] = {QUANTITY_DENSITY, QUANTITY_STRESS, QUANTITY_NUMBER};
    char text[128], message[UNITS_MESSAGE];
    snprintf(text, sizeof text, "%s%s%s", row->value, row->unit[0] ? " " : "", row->unit);
    for (size_t i = 0; i < 3; i++) {
        line->quantity = kinds[i];
        if (units_read(kinds[i], text, &line->value, message))
            return 1;
    }
    return 0;
}

size_t registry_lines(const struct registry *registry, int comfort, struct registry_line *lines, size_t size)
{
    size_t count = 0;
    for (size_t m = 0; m < registry->count; m++) {
        const struct registry_material *material = &registry->materials[m];
        for (size_t r = 0; material->comfort == comfort && r < material->row_count; r++) {
            struct registry_line line;
            if (!row_line(material, &material->rows[r], material->density, &line))
                continue;
            if (count < size)
                lines[count] = line;
            count++;
        }
    }
    return count;
}

size_t registry_taken(const struct registry_material *material, const struct registry_own *own,
                      double density, struct registry_line *lines, size_t size)
{
    size_t count = 0;
    for (size_t r = 0; r < material->row_count; r++) {
        const struct registry_row *row = &material->rows[r];
        struct registry_line line;
        if (!registry_row_taken(material, row, own) ||
            !row_line(material, row, given(density) ? density : material->density, &line))
            continue;
        if (count < size)
            lines[count] = line;
        count++;
    }
    return count;
}
