#include "cases/fill_helmet.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/fill_foams.h"
#include "cases/shells.h"
#include "solver/base/memory.h"
#include "solver/impact/snapshots.h"

static const struct tree *tree_of(const struct fill *fill)
{
    return &fill->file->tree;
}

/* Has the material made once, so that a name or a value that is refused is told at its place. */
static void check_material(struct fill *fill, const struct node *mapping)
{
    enum { NAMES_MAX = 64 };
    const struct node *material = node_get(mapping, "material");
    const char *names[NAMES_MAX];
    struct shell_materials materials;
    struct shell_choice choice;
    struct errors refusals = {0};
    size_t count = 0, known = !material;
    enum status status = shell_materials_load(fill->file->path, &materials, fill->errors);
    for (size_t i = 0; i < materials.count && count < NAMES_MAX; i++) {
        names[count++] = materials.materials[i].name;
        known |= material && strcmp(materials.materials[i].name, material->text) == 0;
    }
    if (status == STATUS_OK && !known)
        schema_unknown(tree_of(fill), material, "shell material", material->text, names, count, fill->errors);
    if (status == STATUS_OK && known) {
        status = case_shell_choose(fill->file, &materials, &choice, &refusals);
        if (status == STATUS_INPUT)
            node_error(tree_of(fill), mapping, fill->errors, "%s", refusals.kept[0].text);
    }
    if (status == STATUS_MEMORY)
        fill->out_of_memory = 1;
    shell_materials_free(&materials);
}

void fill_shell(struct fill *fill)
{
    struct case_shell *shell = &fill->file->shell;
    const struct node *mapping = node_get(fill->root, "shell");
    shell->place = mapping;
    shell->present = mapping != NULL;
    fill_name(shell->material, schema_text(mapping, SCHEMA_SHELL, "material"));
#define FILL_VALUE(key) shell->key = schema_quantity(mapping, SCHEMA_SHELL, #key);
    FILL_VALUE(density)
    FILL_VALUE(youngs_modulus)
    FILL_VALUE(poisson)
    FILL_VALUE(yield_stress)
    FILL_VALUE(hardening)
    FILL_VALUE(failure_strain)
    FILL_VALUE(crack_energy)
    FILL_VALUE(thickness)
    FILL_VALUE(inner_radius)
    FILL_VALUE(extra_mass)
    FILL_VALUE(helmet_mass)
#undef FILL_VALUE
    shell->loose = strcmp(schema_text(mapping, SCHEMA_SHELL, "bond"), "loose") == 0;
    shell->bond_friction = schema_quantity(mapping, SCHEMA_SHELL, "bond_friction");
    for (size_t i = 0; i < 3; i++)
        shell->helmet_inertia[i] = NAN;
    if (isnan(shell->extra_mass))
        shell->extra_mass = 0;
    if (!mapping)
        return;
    for (size_t i = 0; i < 3 && node_get(mapping, "helmet_inertia"); i++)
        shell->helmet_inertia[i] = schema_item(mapping, SCHEMA_SHELL, "helmet_inertia", i);
    fill_required(fill, mapping, "thickness");
    fill_exclusive(fill, mapping, "extra_mass", "helmet_mass");
    if (node_get(mapping, "temperature"))
        fill_temperatures(fill, node_get(mapping, "temperature"), &shell->temperature_count,
                          &shell->temperature, &shell->temperature_factor);
    if (!shell->loose && node_get(mapping, "bond_friction"))
        node_error(tree_of(fill), node_get(mapping, "bond_friction"), fill->errors,
                   "`bond_friction` is for a shell with `bond: loose`");
    if (!node_get(mapping, "material") &&
        !(node_get(mapping, "density") && node_get(mapping, "youngs_modulus") &&
          node_get(mapping, "poisson")))
        node_error(tree_of(fill), mapping, fill->errors,
                   "a shell needs `material`, or values of its own: density, youngs_modulus and poisson");
    else
        check_material(fill, mapping);
}

static void fill_wet(struct fill *fill)
{
    struct case_wet *wet = &fill->file->wet;
    const struct node *mapping = node_get(fill->root, "wet");
    wet->place = mapping;
    wet->comfort_factor = schema_quantity(mapping, SCHEMA_WET, "comfort_factor");
    wet->friction_factor = schema_quantity(mapping, SCHEMA_WET, "friction_factor");
    if (mapping && node_get(mapping, "comfort_factor") && !node_get(fill->root, "comfort"))
        node_error(tree_of(fill), node_get(mapping, "comfort_factor"), fill->errors,
                   "`comfort_factor` needs `comfort`, which this case has not");
}

void fill_comfort(struct fill *fill)
{
    struct case_file *file = fill->file;
    const struct node *mapping = node_get(fill->root, "comfort"), *taker = node_get(fill->root, "fill");
    const struct node *foam = mapping ? node_get(mapping, "foam") : NULL;
    file->comfort.place = mapping;
    fill_wet(fill);
    if (mapping && fill_required(fill, mapping, "thickness")) {
        fill_name(file->comfort.foam, schema_text(mapping, SCHEMA_COMFORT, "foam"));
        fill_foam_known(fill, foam ? foam : mapping, file->comfort.foam, FILL_FOAM_COMFORT);
        file->comfort.thickness = schema_quantity(mapping, SCHEMA_COMFORT, "thickness");
        file->comfort.gap = schema_quantity(mapping, SCHEMA_COMFORT, "gap");
    }
    file->mismatch = schema_quantity(node_get(fill->root, "fit"), SCHEMA_FIT, "mismatch");
    file->fill_gap = !mapping || (taker && strcmp(taker->text, "gap") == 0);
    if (taker && !mapping && strcmp(taker->text, "comfort") == 0)
        node_error(tree_of(fill), taker, fill->errors,
                   "`fill: comfort` needs `comfort`, which this case has not");
}

/* Keys of a case that mean nothing for a pad. */
static const char *const helmet_keys[] = {"headform", "shell", "comfort", "wet",  "fit",
                                          "fill",     "liner", "sites",   "sizes"};

void fill_pad(struct fill *fill)
{
    struct case_pad *pad = &fill->file->pad;
    const struct node *mapping = node_get(fill->root, "pad"), *striker = node_get(fill->root, "striker");
    pad->present = 1;
    for (size_t i = 0; i < sizeof helmet_keys / sizeof *helmet_keys; i++) {
        const struct node *other = node_get(fill->root, helmet_keys[i]);
        if (other)
            node_error(tree_of(fill), other, fill->errors, "a case with a `pad` has no `%s`", helmet_keys[i]);
    }
    pad->area = schema_quantity(mapping, SCHEMA_PAD, "area");
    fill_required(fill, mapping, "area");
    if (fill_required(fill, mapping, "layers"))
        fill_layers(fill, node_get(mapping, "layers"), NULL, 0, &pad->layers, &pad->layer_count);
    if (fill_required(fill, fill->root, "striker") && fill_required(fill, striker, "mass"))
        pad->striker_mass = schema_quantity(striker, SCHEMA_STRIKER, "mass");
}

/* What a limit is given in, and how many of the metric's unit one SI unit is. */
static const struct {
    const char *unit;
    enum quantity quantity;
    double factor;
} limit_units[] = {
    {"g", QUANTITY_ACCELERATION, 1 / 9.80665},
    {"1", QUANTITY_NUMBER, 1},
    {"ms", QUANTITY_TIME, 1e3},
    {"N", QUANTITY_FORCE, 1},
    {"rad/s2", QUANTITY_ROTATION_ACCELERATION, 1},
    {"rad/s", QUANTITY_ROTATION_SPEED, 1},
    {"N s", QUANTITY_IMPULSE, 1},
};

void fill_metric_limit(struct fill *fill, const struct node *value, const struct metric_info *metric,
                       double *limit)
{
    size_t i = 0;
    while (strcmp(limit_units[i].unit, metric->unit) != 0)
        i++;
    if (fill_value(fill, value, metric->limit_key, limit_units[i].quantity, SCHEMA_ABOVE_0, 1e12, limit))
        *limit *= limit_units[i].factor;
}

/* One key of `limits`. */
static void fill_limit(struct fill *fill, const struct node *key, const struct node *value,
                       double limit[METRIC_COUNT], double *helmet_mass)
{
    static const char mass[] = "helmet_mass";
    const char *names[METRIC_COUNT + 1];
    size_t count = 0;
    if (helmet_mass && strcmp(key->text, mass) == 0) {
        if (fill->file->pad.present)
            node_error(tree_of(fill), key, fill->errors, "a pad has no helmet mass to limit");
        fill_value(fill, value, mass, QUANTITY_MASS, SCHEMA_ABOVE_0, 20, helmet_mass);
        return;
    }
    for (size_t i = 0; i < METRIC_COUNT; i++) {
        if (!metric_table[i].limit_key)
            continue;
        if (strcmp(key->text, metric_table[i].limit_key) == 0) {
            fill_metric_limit(fill, value, &metric_table[i], &limit[i]);
            return;
        }
        names[count++] = metric_table[i].limit_key;
    }
    if (helmet_mass)
        names[count++] = mass;
    schema_unknown(tree_of(fill), key, "limit", key->text, names, count, fill->errors);
}

void fill_metric_limits(struct fill *fill, const struct node *limits, double limit[METRIC_COUNT],
                        double *helmet_mass)
{
    for (size_t i = 0; i < limits->count; i++)
        fill_limit(fill, limits->keys[i], limits->items[i], limit, helmet_mass);
}

void fill_limits(struct fill *fill)
{
    const struct node *limits = node_get(fill->root, "limits");
    for (size_t i = 0; i < METRIC_COUNT; i++)
        fill->file->limit[i] = NAN;
    fill->file->helmet_mass_limit = NAN;
    fill->file->target = schema_quantity(fill->root, SCHEMA_CASE, "target");
    int is_name = limits && limits->kind == NODE_SCALAR && limits->text[0] != '\0';
    if (limits && limits->kind != NODE_MAPPING && !is_name)
        node_error(tree_of(fill), limits, fill->errors,
                   "`limits` takes {METRIC: VALUE, ...}, as peak_g: 275 g, or the name of a programme");
    else if (limits && !is_name)
        fill_metric_limits(fill, limits, fill->file->limit, &fill->file->helmet_mass_limit);
}

static void fill_solver(struct fill *fill)
{
    const struct node *mapping = node_get(fill->root, "solver");
    struct case_solver *solver = &fill->file->solver;
    solver->gravity = schema_flag(mapping, SCHEMA_SOLVER, "gravity");
    solver->rings = (int)schema_quantity(mapping, SCHEMA_SOLVER, "rings");
    solver->cell = schema_quantity(mapping, SCHEMA_SOLVER, "cell");
    solver->duration = schema_quantity(mapping, SCHEMA_SOLVER, "duration");
    solver->phi_max = schema_quantity(mapping, SCHEMA_SOLVER, "phi_max");
    solver->opening_hoop = schema_quantity(mapping, SCHEMA_SOLVER, "opening_hoop");
    solver->snapshots = schema_quantity(mapping, SCHEMA_SOLVER, "snapshots");
}

/* Cells through the layers of one stack. */
static double count_rows(const struct case_layer *layers, size_t count, double cell)
{
    double rows = 0;
    for (size_t i = 0; i < count; i++)
        rows += ceil(layers[i].thickness / cell);
    return rows;
}

/* A key of `solver`, or what stands in its place where it is not given. */
static const struct node *solver_key(const struct fill *fill, const char *name)
{
    const struct node *mapping = node_get(fill->root, "solver");
    const struct node *key = mapping ? node_get(mapping, name) : NULL;
    return key ? key : mapping ? mapping : fill->root;
}

/* Refuses a mesh that is too large for the program or for the memory of this process: every region may have
 * columns on every ring. 1 when it fits. */
static int check_mesh(struct fill *fill)
{
    static const double most = 1e6, bytes_a_cell = 512; /* zones take 410, columns 175 */
    const struct case_file *file = fill->file;
    double cell = file->solver.cell, rows = count_rows(file->pad.layers, file->pad.layer_count, cell);
    for (size_t i = 0; i < file->region_count; i++)
        rows += file->solver.rings * count_rows(file->regions[i].layers, file->regions[i].layer_count, cell);
    double bytes = rows * bytes_a_cell, left = memory_left();
    if (rows > most)
        node_error(
            tree_of(fill), solver_key(fill, "cell"), fill->errors,
            "this mesh may have %.3g million cells, more than 1 million: take larger cells or fewer rings",
            rows / 1e6);
    else if (bytes > left)
        node_error(
            tree_of(fill), solver_key(fill, "cell"), fill->errors,
            "this mesh may have %.0f cells, which take %.0f bytes, and this process may take %.0f more: "
            "take larger cells or fewer rings",
            rows, bytes, left);
    return !(rows > most) && !(bytes > left);
}

/* The thinnest layer so far, and where it is. */
struct thinnest {
    double thickness;
    size_t layer; /* from 1 */
    const char *region;
};

static void find_thinnest(const struct case_layer *layers, size_t count, const char *region,
                          struct thinnest *thinnest)
{
    for (size_t i = 0; i < count; i++) {
        if (layers[i].thickness < thinnest->thickness)
            *thinnest = (struct thinnest){layers[i].thickness, i + 1, region};
    }
}

/* Refuses cells that somebody asked for and that do not cut each layer in two. Those of the default are made
 * thinner where a layer wants it. */
static void check_cell(struct fill *fill)
{
    const struct case_file *file = fill->file;
    const struct node *mapping = node_get(fill->root, "solver");
    struct thinnest thinnest = {.thickness = INFINITY};
    if (!mapping || !node_get(mapping, "cell"))
        return;
    find_thinnest(file->pad.layers, file->pad.layer_count, "pad", &thinnest);
    for (size_t i = 0; i < file->region_count; i++)
        find_thinnest(file->regions[i].layers, file->regions[i].layer_count, file->regions[i].shape.name,
                      &thinnest);
    if (file->solver.cell < thinnest.thickness * (1.0 - 1e-9))
        return;
    node_error(
        tree_of(fill), solver_key(fill, "cell"), fill->errors,
        "a cell of %.6g mm takes the whole of layer %zu of '%s', and a layer takes two at least: allowed "
        "here: less than %.6g mm",
        1e3 * file->solver.cell, thinnest.layer, thinnest.region, 1e3 * thinnest.thickness);
}

/* Refuses more snapshots than a result holds: the zones of all of them, of the thickest stack. */
static void check_snapshots(struct fill *fill)
{
    static const double most_zones = 8e6; /* every mesh that is allowed, at the default interval */
    const struct case_file *file = fill->file;
    double count = file->solver.duration / file->solver.snapshots, rows = 0;
    for (size_t i = 0; i < file->region_count; i++)
        rows =
            fmax(rows, count_rows(file->regions[i].layers, file->regions[i].layer_count, file->solver.cell));
    double zones = fmin(rows, SNAPSHOT_ROWS_MOST) * file->solver.rings;
    if (!(count > SNAPSHOTS_MOST - 3) && !(count * zones > most_zones))
        return;
    node_error(
        tree_of(fill), solver_key(fill, "snapshots"), fill->errors,
        "there may be %.0f snapshots of %.0f zones; at most %d, and 8 million zones in all of them: take "
        "them less often, or shorten the duration",
        count, zones, SNAPSHOTS_MOST - 3);
}

void fill_model(struct fill *fill)
{
    const struct node *model = node_get(fill->root, "model");
    int pad = fill->file->pad.present;
    snprintf(fill->file->model, sizeof fill->file->model, "%s",
             model ? model->text
             : pad ? "pad"
                   : "axisymmetric");
    if (model && (strcmp(model->text, "pad") == 0) != pad)
        node_error(tree_of(fill), model, fill->errors, "model '%s' does not fit %s: it takes %s", model->text,
                   pad ? "a pad" : "a helmet", pad ? "'pad'" : "'columns' or 'axisymmetric'");
    fill_solver(fill);
    check_cell(fill);
    if (check_mesh(fill))
        check_snapshots(fill);
}
