#ifndef FOAMPULSE_IMPACT_SNAPSHOTS_H
#define FOAMPULSE_IMPACT_SNAPSHOTS_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * The deformed cross-section of one hit at a few times: nodes, zones, shell and head as they were, and the
 * anvil. Filled by impact/section, written by cases/store_snapshots, drawn by plots/section. Frame: r from
 * the site's axis, z up from the anvil's highest point.
 */

/* Values that an array has at each time: one, (rings), nodes (rows + 1) x (rings), zones (rows) x (rings -
 * 1); ring fastest, row 0 on the shell. Node (i, j) is the first corner of zone (i, j); the others are one
 * ring and one row further. */
enum snapshot_extent { SNAPSHOT_ONE, SNAPSHOT_RINGS, SNAPSHOT_NODES, SNAPSHOT_ZONES };

/* name, extent, values a unit that are told apart (0: all), unit, description. The grains are far below what
 * a picture or a mesh shows; they make files small. */
#define SNAPSHOT_LIST(X)                                                                                     \
    X(time, ONE, 0, "s",                                                                                     \
      "since first touch; the second and later are at even intervals, but for the one at "                   \
      "the largest crush on the axis")                                                                       \
    X(r, NODES, 1048576, "m",                                                                                \
      "nodes of the foam, from the site's axis; (rows + 1) x rings, ring fastest, "                          \
      "row 0 on the shell")                                                                                  \
    X(z, NODES, 1048576, "m", "nodes of the foam, above the anvil's highest point")                          \
    X(strain, ZONES, 16384, "1", "1 - volume / first volume; rows x (rings - 1), ring fastest")              \
    X(density, ZONES, 32, "kg m-3", "foam in the zone over its volume now; 0 in an opening")                 \
    X(stress, ZONES, 0.03125, "Pa",                                                                          \
      "through the thickness, compression positive, without viscosity, mean "                                \
      "over the zone's openings too")                                                                        \
    X(shell_r, RINGS, 1048576, "m", "middle of the shell, or the foam's outer face where there is no shell") \
    X(shell_z, RINGS, 1048576, "m", "the same, above the anvil's highest point")                             \
    X(head_r, RINGS, 1048576, "m", "surface of the head")                                                    \
    X(head_z, RINGS, 1048576, "m", "surface of the head, above the anvil's highest point")

enum snapshot_array {
#define SNAPSHOT_ENUM(name, extent, grain, unit, text) SNAPSHOT_##name,
    SNAPSHOT_LIST(SNAPSHOT_ENUM)
#undef SNAPSHOT_ENUM
        SNAPSHOT_COUNT
};

struct snapshot_info {
    const char *name;
    enum snapshot_extent extent;
    double grain; /* values a unit, 0: not rounded */
    const char *unit, *description;
};
extern const struct snapshot_info snapshot_table[SNAPSHOT_COUNT];

/* Bounds on what a file may hold; points of the anvil's outline. */
enum { SNAPSHOTS_MOST = 1000, SNAPSHOT_RINGS_MOST = 1024, SNAPSHOT_ROWS_MOST = 512, SNAPSHOT_ANVIL = 192 };

struct snapshots {
    size_t count; /* times, in order */
    size_t room;  /* times there is room for */
    size_t rings, rows;
    double shell_thickness;         /* [m], 0 for a bare liner */
    double *array[SNAPSHOT_COUNT];  /* (room x snapshots_values) each; NULL while rings is 0 */
    double anvil_r[SNAPSHOT_ANVIL]; /* outline [m], from the axis outwards and down */
    double anvil_z[SNAPSHOT_ANVIL];
};

/* Values of an array at one time. */
size_t snapshots_values(const struct snapshots *snapshots, enum snapshot_array array);

/* Values of an array at time `at` (from 0). */
double *snapshots_at(const struct snapshots *snapshots, enum snapshot_array array, size_t at);

/* Room for `room` times of a mesh. STATUS_MEMORY: zeroed. */
enum status snapshots_make(struct snapshots *snapshots, size_t rings, size_t rows, size_t room);
void snapshots_free(struct snapshots *snapshots);

/* Puts the time that was filled in at the last place of the room, behind the `count` others, where it belongs
 * among them; dropped when that time is there. */
void snapshots_insert_last(struct snapshots *snapshots);

#endif
