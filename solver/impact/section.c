#include "solver/impact/section.h"

#include <math.h>

#include "solver/base/numeric.h"

static const double outline_depth = 0.03;  /* [m] */
static const double more_reach = 1.15;     /* of the outline over the helmet */
static const double near = 5e-6;           /* [s]: half of what parts two times of known crush */
static const double too_far = 1.0;         /* [m]: what the anvil's own distance gives up on */
enum { PROJECTIONS = 4, SPARE_TIMES = 3 }; /* first touch, rounding, the deepest */

static double rounded(double value, double grain)
{
    return grain > 0.0 ? floor(value * grain + 0.5) / grain : value;
}

static void put(struct snapshots *snapshots, enum snapshot_array array, size_t at, size_t index, double value)
{
    snapshots_at(snapshots, array, at)[index] = rounded(value, snapshot_table[array].grain);
}

static void put_rings(struct snapshots *snapshots, size_t at, const struct section *section)
{
    for (size_t i = 0; i < snapshots->rings; i++) {
        double phi = (double)i * section->phi_max / (double)(snapshots->rings - 1);
        put(snapshots, SNAPSHOT_shell_r, at, i, section->shell_r[i]);
        put(snapshots, SNAPSHOT_shell_z, at, i, section->shell_z[i]);
        put(snapshots, SNAPSHOT_head_r, at, i, section->head_distance[i] * numeric_sin(phi));
        put(snapshots, SNAPSHOT_head_z, at, i,
            section->head_z - section->head_distance[i] * numeric_cos(phi));
    }
}

static void put_zone(struct snapshots *snapshots, size_t at, size_t index, const struct section *section,
                     size_t zone)
{
    double left = 1.0 - section->zones->volume[zone]; /* of the volume */
    put(snapshots, SNAPSHOT_strain, at, index, section->zones->volume[zone]);
    put(snapshots, SNAPSHOT_density, at, index, section->model->density[zone] / left);
    put(snapshots, SNAPSHOT_stress, at, index, section->zones->stress[FOAM_NORMAL][zone]);
}

static void take(struct snapshots *snapshots, size_t at, double time, const struct section *section)
{
    size_t rings = snapshots->rings, stride = section->model->stride;
    put(snapshots, SNAPSHOT_time, at, 0, time);
    put_rings(snapshots, at, section);
    for (size_t j = 0; j <= snapshots->rows; j++) {
        for (size_t i = 0; i < rings; i++) {
            put(snapshots, SNAPSHOT_r, at, j * rings + i, section->zones->r[j * stride + i]);
            put(snapshots, SNAPSHOT_z, at, j * rings + i, section->zones->z[j * stride + i]);
            if (j < snapshots->rows && i + 1 < rings)
                put_zone(snapshots, at, j * (rings - 1) + i, section, j * stride + i);
        }
    }
}

/* Back on the surface, along its normal. */
static void project(const struct anvil *anvil, double *r, double *z, double normal[2])
{
    for (int i = 0; i < PROJECTIONS; i++) {
        double distance = anvil_distance(anvil, *r, *z, normal);
        if (!(fabs(distance) < too_far))
            return;
        *r -= distance * normal[0];
        *z -= distance * normal[1];
    }
}

void section_outline(const struct anvil *anvil, double reach, double depth, double *r, double *z)
{
    double step = (reach + depth) / (SNAPSHOT_ANVIL - 1), at_r = 0.0, at_z = 0.0, normal[2];
    for (size_t i = 0; i < SNAPSHOT_ANVIL; i++) {
        project(anvil, &at_r, &at_z, normal);
        r[i] = rounded(at_r, snapshot_table[SNAPSHOT_r].grain);
        z[i] = rounded(at_z, snapshot_table[SNAPSHOT_z].grain);
        if (at_r > reach || at_z < -depth)
            continue;
        at_r += step * normal[1];
        at_z -= step * normal[0];
    }
}

enum status section_recorder_make(struct section_recorder *recorder, double interval, double duration,
                                  const struct zones_model *model, const struct anvil *anvil, double reach)
{
    *recorder = (struct section_recorder){.interval = interval, .deepest = -INFINITY};
    if (interval <= 0.0)
        return STATUS_OK;
    size_t room = (size_t)(duration / interval) + SPARE_TIMES;
    room = room > SNAPSHOTS_MOST ? SNAPSHOTS_MOST : room;
    enum status status = snapshots_make(&recorder->snapshots, model->rings, model->rows, room);
    if (status == STATUS_OK)
        section_outline(anvil, more_reach * reach, outline_depth, recorder->snapshots.anvil_r,
                        recorder->snapshots.anvil_z);
    return status;
}

void section_record(struct section_recorder *recorder, double time, double crush,
                    const struct section *section)
{
    struct snapshots *snapshots = &recorder->snapshots;
    if (snapshots->room == 0)
        return;
    if (snapshots->count + 1 < snapshots->room && time > (double)snapshots->count * recorder->interval - near)
        take(snapshots, snapshots->count++, time, section);
    if (crush > recorder->deepest) {
        recorder->deepest = crush;
        take(snapshots, snapshots->room - 1, time, section);
    }
}

void section_recorder_end(struct section_recorder *recorder)
{
    if (recorder->snapshots.room > 0 && recorder->deepest > -INFINITY)
        snapshots_insert_last(&recorder->snapshots);
}
