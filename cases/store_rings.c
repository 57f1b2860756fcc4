#include "cases/store_rings.h"

#include <stdio.h>
#include <string.h>

#include "cases/fields.h"
#include "solver/base/memory.h"

enum { PATH = 512 };

static const struct field name_field =
    FIELD(struct ring_region, name, FIELD_TEXT, "region", "1", "region of the liner: row of `area_fraction`");

static const char *member(char path[PATH], const char *hit, const char *name)
{
    snprintf(path, PATH, "%s/rings/%s", hit, name);
    return path;
}

static void put_doubles(struct container *container, const char *path, const char *units,
                        const char *description, const double *values, size_t count)
{
    container_array(container, path, units, description,
                    &(struct values){.kind = VALUE_DOUBLE, .rank = 1, .extent = {count, 0}, .data = values});
}

/* Middles of the rings, as a dimension scale. */
static void put_angles(struct container *container, const char *path, const struct hit_rings *rings)
{
    double *angle = memory_doubles(rings->count);
    if (!angle) {
        container_out_of_memory(container);
        return;
    }
    for (size_t i = 0; i < rings->count; i++)
        angle[i] = 0.5 * (rings->edge[i] + rings->edge[i + 1]);
    put_doubles(container, path, "rad", "polar angle of the middle of each ring, from the site's axis", angle,
                rings->count);
    container_scale(container, path, "angle");
    memory_free(angle);
}

void store_put_rings(struct container *container, const char *hit, const struct hit_rings *rings)
{
    char path[PATH], scale[PATH];
    if (rings->count == 0)
        return;
    snprintf(path, sizeof path, "%s/rings", hit);
    container_group(container, path);
    fields_put_columns(container, path, &name_field, 1, rings->regions, sizeof *rings->regions,
                       rings->region_count);
    member(scale, hit, "angle");
    put_angles(container, scale, rings);
    put_doubles(container, member(path, hit, "edge"), "rad",
                "polar angles between which the rings lie, from the site's axis outwards", rings->edge,
                rings->count + 1);
    container_array(container, member(path, hit, "area_fraction"), "1",
                    "share of the ring's area that each region holds",
                    &(struct values){.kind = VALUE_DOUBLE,
                                     .rank = 2,
                                     .extent = {rings->region_count, rings->count},
                                     .data = rings->share});
    container_attach(container, path, scale, 1);
    put_doubles(container, member(path, hit, "bare"), "1",
                "share of the ring's area with neither liner nor shell: openings, below the lower edge",
                rings->share + rings->region_count * rings->count, rings->count);
    container_attach(container, path, scale, 0);
}

/* A dataset of this shape, copied to `to`. */
static void take(struct container *container, const char *path, int rank, size_t rows, size_t columns,
                 double *to)
{
    struct values values;
    double *block = container_get_array(container, path, VALUE_DOUBLE, rank, &values);
    if (block && (values.extent[0] != rows || (rank == 2 && values.extent[1] != columns)))
        container_bad(container, path, "does not fit the rings");
    else if (block)
        memcpy(to, block, values_count(&values) * sizeof *to);
    memory_free(block);
}

void store_get_rings(struct container *container, const char *hit, struct hit_rings *rings)
{
    char path[PATH], group[PATH];
    struct values values;
    *rings = (struct hit_rings){0};
    snprintf(group, sizeof group, "%s/rings", hit);
    if (!container_has(container, group))
        return;
    rings->regions =
        fields_get_columns(container, group, &name_field, 1, sizeof *rings->regions, &rings->region_count);
    rings->edge = container_get_array(container, member(path, hit, "edge"), VALUE_DOUBLE, 1, &values);
    if (!rings->edge)
        return;
    if (values.extent[0] < 2) {
        container_bad(container, path, "holds no ring");
        return;
    }
    rings->count = values.extent[0] - 1;
    rings->share = memory_doubles((rings->region_count + 1) * rings->count);
    if (!rings->share) {
        container_out_of_memory(container);
        return;
    }
    take(container, member(path, hit, "area_fraction"), 2, rings->region_count, rings->count, rings->share);
    take(container, member(path, hit, "bare"), 1, rings->count, 1,
         rings->share + rings->region_count * rings->count);
}
