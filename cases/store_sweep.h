#ifndef FOAMPULSE_CASES_STORE_SWEEP_H
#define FOAMPULSE_CASES_STORE_SWEEP_H

#include "cases/sweep.h"

/*
 * Sweeps on disk. Nothing in these files varies between two runs, so equal sweeps are equal byte by byte:
 *
 *   /             schema, versions, compiler, caution, frame, content_hash (attributes)
 *   /case         case_hash, model, target, helmet_mass_limit (attributes); text, title, assumptions,
 *                 warnings, not_covered
 *   /factors/     columns, a row each factor: path, unit, low, high, count of levels, texts or not; levels/
 *                 columns, a row each level: factor (from 1), value, text
 *   /hits/        columns, a row each hit: conditions of the case as written; limits/METRIC
 *   /sweep/       sample, seed, points asked for (attributes); number, identity, status, message, why, mass,
 *                 margin, verdict (points); factors (points x factors) in the unit of the factor, a text as
 *                 the count of levels before its own; hit_status, margins (points x hits); metrics/NAME
 *                 (points x hits)
 */

#define STORE_SWEEP     "foampulse/sweep/1"
#define STORE_TUNE      "foampulse/tune/1"
#define STORE_TOLERANCE "foampulse/tolerance/1"

/* Writes a sweep of that schema under `path`, complete or not at all. STATUS_FILE, STATUS_MEMORY. */
enum status store_sweep_write(const char *path, const char *schema, const struct sweep *sweep,
                              struct errors *errors);

/* Could it be written there? A file of the same schema is added to, anything else replaced with `force`
 * only, folders and devices never. Asked before a long computation; nothing is left behind. STATUS_FILE. */
enum status store_sweep_check(const char *path, const char *schema, int force, struct errors *errors);

/* Is there a file of that schema under the name? */
int store_sweep_there(const char *path, const char *schema);

/* Which of the schemas above a file has, by its first line; NULL for another thing or none. */
const char *store_sweep_kind(const char *path);

/* Reads a sweep back, whole, after a child process has read it (cases/probe.h). On errors `sweep` is zeroed.
 * STATUS_FILE, STATUS_INPUT, STATUS_MEMORY. */
enum status store_sweep_read(const char *path, const char *schema, struct sweep *sweep,
                             struct errors *errors);

#endif
