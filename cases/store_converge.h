#ifndef FOAMPULSE_CASES_STORE_CONVERGE_H
#define FOAMPULSE_CASES_STORE_CONVERGE_H

#include "cases/result.h"

/*
 * What meshes of one case say, on disk (SI; temperatures in degC; counts from 1):
 *
 *   /                  schema, versions, compiler, caution, ratio of neighbouring meshes (attributes)
 *   /case              hash, model (attributes); text on its own mesh, title
 *   /meshes/           columns, a row a mesh, the coarsest first: rings, cell, cells
 *   /hits/             columns, a row a hit: impact, hit, site, anvil, speed, temperature
 *   /metrics/NAME/     values (hits x meshes); order, extrapolated, uncertainty, judgement (hits)
 *
 * Nothing in it varies between runs: equal studies are equal byte for byte.
 */

#define STORE_CONVERGE "foampulse/converge/1"

struct converge_mesh {
    int rings;   /* 0 for a pad */
    long cells;  /* of the largest hit */
    double cell; /* [m] */
};

/* What the meshes say of a metric of a hit; NaN where nothing follows. */
struct converge_row {
    double order, extrapolated, uncertainty;
    char judgement[32];
};

struct converge_metric {
    enum metric metric;
    double *values;            /* (hits x meshes), NaN where it was not computed */
    struct converge_row *rows; /* (hits) */
};

struct converge_study {
    const struct case_result *own; /* on the mesh of the case; its hits are the rows */
    int ratio;
    size_t mesh_count, metric_count;
    const struct converge_mesh *meshes;
    const struct converge_metric *metrics;
};

/* Writes a study under `path`, complete or not at all. STATUS_FILE, STATUS_MEMORY. */
enum status store_converge_write(const char *path, const struct converge_study *study, struct errors *errors);

/* Could it be written there? What stands under the name is replaced with `force` only, folders and devices
 * never. Asked before a long computation; nothing is left behind. STATUS_FILE. */
enum status store_converge_check(const char *path, int force, struct errors *errors);

#endif
