#include "cases/store_snapshots.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"

enum { PATH = 512 };

static const double far = 10.0; /* [m] */

static const char *member(char path[PATH], const char *hit, const char *name)
{
    snprintf(path, PATH, "%s/snapshots/%s", hit, name);
    return path;
}

static void put_array(struct container *container, const char *hit, const struct snapshots *snapshots,
                      enum snapshot_array array)
{
    char path[PATH], scale[PATH];
    const struct snapshot_info *info = &snapshot_table[array];
    struct values values = {.kind = VALUE_DOUBLE,
                            .rank = info->extent == SNAPSHOT_ONE ? 1 : 2,
                            .extent = {snapshots->count, snapshots_values(snapshots, array)},
                            .data = snapshots->array[array]};
    container_array(container, member(path, hit, info->name), info->unit, info->description, &values);
    if (array == SNAPSHOT_time)
        container_scale(container, path, info->name);
    else
        container_attach(container, path, member(scale, hit, "time"), 0);
}

static void put_outline(struct container *container, const char *path, const char *description,
                        const double *values)
{
    container_array(
        container, path, "m", description,
        &(struct values){.kind = VALUE_DOUBLE, .rank = 1, .extent = {SNAPSHOT_ANVIL, 0}, .data = values});
}

void store_put_snapshots(struct container *container, const char *hit, const struct snapshots *snapshots)
{
    char path[PATH];
    if (snapshots->count == 0)
        return;
    snprintf(path, sizeof path, "%s/snapshots", hit);
    int rings = (int)snapshots->rings, rows = (int)snapshots->rows;
    container_group(container, path);
    container_attribute(container, path, "rings", VALUE_INT, &rings);
    container_attribute(container, path, "rows", VALUE_INT, &rows);
    container_attribute(container, path, "shell_thickness_m", VALUE_DOUBLE, &snapshots->shell_thickness);
    for (int a = 0; a < SNAPSHOT_COUNT; a++)
        put_array(container, hit, snapshots, a);
    put_outline(container, member(path, hit, "anvil_r"), "outline of the anvil, from the site's axis",
                snapshots->anvil_r);
    put_outline(container, member(path, hit, "anvil_z"), "outline of the anvil, above its highest point",
                snapshots->anvil_z);
}

static int is_near(const struct container *container, const double *values, size_t count)
{
    for (size_t i = 0; container_status(container) == STATUS_OK && i < count; i++) {
        if (!(fabs(values[i]) < far))
            return 0;
    }
    return 1;
}

static int is_finite(const double *values, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (!isfinite(values[i]))
            return 0;
    }
    return 1;
}

/* A dataset of this shape; NULL after an error. */
static double *get(struct container *container, const char *path, int rank, size_t rows, size_t columns)
{
    struct values values;
    double *block = container_get_array(container, path, VALUE_DOUBLE, rank, &values);
    if (!block || (values.extent[0] == rows && (rank == 1 || values.extent[1] == columns)))
        return block;
    container_bad(container, path, "does not fit the snapshots");
    memory_free(block);
    return NULL;
}

static void get_arrays(struct container *container, const char *hit, struct snapshots *snapshots)
{
    char path[PATH];
    for (int a = 0; a < SNAPSHOT_COUNT; a++) {
        const struct snapshot_info *info = &snapshot_table[a];
        size_t values = snapshots_values(snapshots, a);
        double *block = get(container, member(path, hit, info->name), info->extent == SNAPSHOT_ONE ? 1 : 2,
                            snapshots->count, values);
        snapshots->array[a] = block;
        if (!block)
            continue;
        int is_length = strcmp(info->unit, "m") == 0;
        if (is_length ? !is_near(container, block, snapshots->count * values)
                      : !is_finite(block, snapshots->count * values))
            container_bad(container, path, "is not finite, or out of reach");
    }
}

static void get_outline(struct container *container, const char *path, double *to)
{
    double *block = get(container, path, 1, SNAPSHOT_ANVIL, 0);
    if (block && !is_near(container, block, SNAPSHOT_ANVIL))
        container_bad(container, path, "is not finite, or out of reach");
    if (block)
        memcpy(to, block, SNAPSHOT_ANVIL * sizeof *to);
    memory_free(block);
}

void store_get_snapshots(struct container *container, const char *hit, struct snapshots *snapshots)
{
    char path[PATH];
    int rings = 0, rows = 0;
    struct values values;
    *snapshots = (struct snapshots){0};
    snprintf(path, sizeof path, "%s/snapshots", hit);
    if (!container_has(container, path))
        return;
    container_get(container, path, "rings", VALUE_INT, &rings);
    container_get(container, path, "rows", VALUE_INT, &rows);
    container_get(container, path, "shell_thickness_m", VALUE_DOUBLE, &snapshots->shell_thickness);
    void *time = container_get_array(container, member(path, hit, "time"), VALUE_DOUBLE, 1, &values);
    memory_free(time);
    if (!time)
        return;
    if (rings < 2 || rings > SNAPSHOT_RINGS_MOST || rows < 1 || rows > SNAPSHOT_ROWS_MOST ||
        values.extent[0] < 1 || values.extent[0] > SNAPSHOTS_MOST ||
        !(fabs(snapshots->shell_thickness) < far)) {
        container_bad(container, path, "is no set of snapshots");
        return;
    }
    snapshots->rings = (size_t)rings;
    snapshots->rows = (size_t)rows;
    snapshots->count = snapshots->room = values.extent[0];
    get_arrays(container, hit, snapshots);
    get_outline(container, member(path, hit, "anvil_r"), snapshots->anvil_r);
    get_outline(container, member(path, hit, "anvil_z"), snapshots->anvil_z);
}
