#include "solver/impact/headform.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/csv.h"
#include "solver/base/data.h"
#include "solver/base/memory.h"

static const double breadth_to_length = 0.79;

const struct headform_skin headform_skins[HEADFORM_SKINS] = {
    {"bare", 0.16, "published-seen", "bare magnesium on liner fabric, Trotta et al. 2018"},
    {"silicone", 0.3, "from memory", "target of EN 17950:2024 for a skin on liner fabric, text not checked"},
    {"vinyl", 0.75, "published-seen", "vinyl skin on liner fabric, Trotta et al. 2018"},
};

const struct headform_skin *headform_skin_find(const char *name)
{
    for (size_t i = 0; i < HEADFORM_SKINS; i++) {
        if (strcmp(name, headform_skins[i].name) == 0)
            return &headform_skins[i];
    }
    return NULL;
}

void headform_ellipsoid_inertia(double mass, const double half_axes[3], double inertia[3])
{
    for (size_t i = 0; i < 3; i++) {
        double b = half_axes[(i + 1) % 3], c = half_axes[(i + 2) % 3];
        inertia[i] = mass * (b * b + c * c) / 5.0;
    }
}

/* Columns of the data file: header, field, and for numbers what one unit of the file is in SI. */
static const struct {
    const char *header;
    size_t offset;
    double unit;
} numbers[] = {
    {"mass_kg", offsetof(struct headform, mass), 1},
    {"mass_min_kg", offsetof(struct headform, mass_range[0]), 1},
    {"mass_max_kg", offsetof(struct headform, mass_range[1]), 1},
    {"circumference_mm", offsetof(struct headform, circumference), 1e-3},
    {"half_length_mm", offsetof(struct headform, half_axes[0]), 1e-3},
    {"half_breadth_mm", offsetof(struct headform, half_axes[1]), 1e-3},
    {"ixx_kgm2", offsetof(struct headform, inertia[0]), 1},
    {"iyy_kgm2", offsetof(struct headform, inertia[1]), 1},
    {"izz_kgm2", offsetof(struct headform, inertia[2]), 1},
};
static const struct {
    const char *header;
    size_t offset, size;
} texts[] = {
    {"set", offsetof(struct headform, set), HEADFORM_NAME},
    {"size", offsetof(struct headform, size), HEADFORM_NAME},
    {"provenance", offsetof(struct headform, provenance), HEADFORM_NAME},
    {"provenance_shape", offsetof(struct headform, provenance_shape), HEADFORM_NAME},
    {"provenance_inertia", offsetof(struct headform, provenance_inertia), HEADFORM_NAME},
    {"source", offsetof(struct headform, source), HEADFORM_TEXT},
    {"source_shape", offsetof(struct headform, source_shape), HEADFORM_TEXT},
    {"source_inertia", offsetof(struct headform, source_inertia), HEADFORM_TEXT},
    {"note", offsetof(struct headform, note), HEADFORM_TEXT},
};
enum { NUMBERS = sizeof numbers / sizeof *numbers, TEXTS = sizeof texts / sizeof *texts };

/* Index of each column; a missing one is an error. */
static enum status find_columns(const struct csv_table *csv, size_t columns[NUMBERS + TEXTS],
                                struct errors *errors)
{
    for (size_t k = 0; k < NUMBERS + TEXTS; k++) {
        const char *header = k < NUMBERS ? numbers[k].header : texts[k - NUMBERS].header;
        columns[k] = csv_table_column(csv, header);
        if (columns[k] == SIZE_MAX)
            return errors_add(errors, STATUS_INPUT, csv->name, 0, 0, "column `%s` is missing", header);
    }
    return STATUS_OK;
}

static enum status read_row(const struct csv_table *csv, size_t row, const size_t columns[NUMBERS + TEXTS],
                            struct headform *headform, struct errors *errors)
{
    char *base = (char *)headform;
    for (size_t k = 0; k < NUMBERS; k++) {
        double value;
        enum status status = csv_table_number(csv, row, columns[k], &value, errors);
        if (status)
            return status;
        *(double *)(void *)(base + numbers[k].offset) = numbers[k].unit * value;
    }
    for (size_t k = 0; k < TEXTS; k++) {
        const char *text = csv->rows[row].cells[columns[NUMBERS + k]].text;
        snprintf(base + texts[k].offset, texts[k].size, "%s", text);
    }
    headform->half_axes[2] = sqrt(headform->half_axes[0] * headform->half_axes[1]);
    if (!(headform->mass > 0) || !headform->set[0] || !headform->size[0] || !headform->provenance[0])
        return errors_add(errors, STATUS_INPUT, csv->name, csv->rows[row].line, 0,
                          "a headform needs set, size, a positive mass and its provenance");
    return STATUS_OK;
}

enum status headform_table_read(const char *path, struct headform_table *table, struct errors *errors)
{
    struct csv_table csv = {0};
    size_t columns[NUMBERS + TEXTS];
    *table = (struct headform_table){0};
    enum status status = csv_table_read(path, &csv, errors);
    if (status || (status = find_columns(&csv, columns, errors)))
        goto done;
    table->rows = memory_zeroed(csv.row_count, sizeof *table->rows);
    if (!table->rows) {
        status = STATUS_MEMORY;
        goto done;
    }
    for (size_t i = 0; i < csv.row_count && !status; i++)
        status = read_row(&csv, i, columns, &table->rows[i], errors);
    table->count = csv.row_count;
done:
    if (status)
        headform_table_free(table);
    csv_table_free(&csv);
    return status;
}

enum status headform_table_load(struct headform_table *table, struct errors *errors)
{
    static const char name[] = "cases/headforms.csv";
    char *path;
    *table = (struct headform_table){0};
    enum status status = data_find(name, NULL, &path);
    if (status)
        return status;
    if (!path)
        return errors_add(errors, STATUS_FILE, name, 0, 0, DATA_MISSING);
    status = headform_table_read(path, table, errors);
    memory_free(path);
    return status;
}

void headform_table_free(struct headform_table *table)
{
    memory_free(table->rows);
    *table = (struct headform_table){0};
}

const struct headform *headform_find(const struct headform_table *table, const char *set, const char *size)
{
    for (size_t i = 0; i < table->count; i++) {
        if (strcmp(table->rows[i].set, set) == 0 && strcmp(table->rows[i].size, size) == 0)
            return &table->rows[i];
    }
    return NULL;
}

size_t headform_names(const struct headform_table *table, const char *set, const char **names, size_t room)
{
    size_t count = 0;
    for (size_t i = 0; i < table->count; i++) {
        const struct headform *row = &table->rows[i];
        int fresh = set ? strcmp(row->set, set) == 0 : i == 0 || strcmp(row->set, row[-1].set) != 0;
        if (!fresh)
            continue;
        if (count < room)
            names[count] = set ? row->size : row->set;
        count++;
    }
    return count;
}

void headform_ellipse(double circumference, double half_axes[3])
{
    const double pi = 3.14159265358979323846, b = breadth_to_length;
    double h = (1 - b) / (1 + b) * ((1 - b) / (1 + b));
    double perimeter = pi * (1 + b) * (1 + 3 * h / (10 + sqrt(4 - 3 * h)));
    half_axes[0] = circumference / perimeter;
    half_axes[1] = b * half_axes[0];
    half_axes[2] = sqrt(half_axes[0] * half_axes[1]);
}
