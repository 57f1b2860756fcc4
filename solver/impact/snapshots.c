#include "solver/impact/snapshots.h"

#include <string.h>

#include "solver/base/memory.h"

const struct snapshot_info snapshot_table[SNAPSHOT_COUNT] = {
#define SNAPSHOT_ROW(name, extent, grain, unit, text) {#name, SNAPSHOT_##extent, grain, unit, text},
    SNAPSHOT_LIST(SNAPSHOT_ROW)
#undef SNAPSHOT_ROW
};

size_t snapshots_values(const struct snapshots *snapshots, enum snapshot_array array)
{
    switch (snapshot_table[array].extent) {
    case SNAPSHOT_RINGS:
        return snapshots->rings;
    case SNAPSHOT_NODES:
        return (snapshots->rows + 1) * snapshots->rings;
    case SNAPSHOT_ZONES:
        return snapshots->rows * (snapshots->rings - 1);
    default:
        return 1;
    }
}

double *snapshots_at(const struct snapshots *snapshots, enum snapshot_array array, size_t at)
{
    return snapshots->array[array] + at * snapshots_values(snapshots, array);
}

enum status snapshots_make(struct snapshots *snapshots, size_t rings, size_t rows, size_t room)
{
    *snapshots = (struct snapshots){.room = room, .rings = rings, .rows = rows};
    for (int a = 0; a < SNAPSHOT_COUNT; a++) {
        snapshots->array[a] = memory_zeroed(room * snapshots_values(snapshots, a), sizeof(double));
        if (!snapshots->array[a]) {
            snapshots_free(snapshots);
            return STATUS_MEMORY;
        }
    }
    return STATUS_OK;
}

void snapshots_free(struct snapshots *snapshots)
{
    for (int a = 0; a < SNAPSHOT_COUNT; a++)
        memory_free(snapshots->array[a]);
    *snapshots = (struct snapshots){0};
}

void snapshots_insert_last(struct snapshots *snapshots)
{
    const double *time = snapshots->array[SNAPSHOT_time];
    size_t last = snapshots->room - 1, at = 0;
    while (at < snapshots->count && time[at] < time[last])
        at++;
    if (snapshots->count >= last || (at < snapshots->count && time[at] == time[last]))
        return;
    for (int a = 0; a < SNAPSHOT_COUNT; a++) {
        size_t values = snapshots_values(snapshots, a), size = values * sizeof(double);
        double *place = snapshots_at(snapshots, a, at);
        memmove(place + values, place, (snapshots->count - at) * size);
        memcpy(place, snapshots_at(snapshots, a, last), size);
    }
    snapshots->count++;
}
