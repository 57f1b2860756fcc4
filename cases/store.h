#ifndef FOAMPULSE_CASES_STORE_H
#define FOAMPULSE_CASES_STORE_H

#include "cases/result.h"

/*
 * Results on disk, step 10 of the life of a run. Layout of a `run` file (SI; temperatures in degC; counts
 * from 1):
 *
 *   /                        schema, versions, compiler, caution, conventions, content_hash (attributes)
 *   /case                    verdict, masses, marks (attributes); text, title; assumptions, warnings,
 *                            not_covered; limits/METRIC; map/ regions, their bounds, the lower edge;
 *                            sizes/ columns, a row each helmet of a family
 *   /impacts/0001/hit1       conditions (attributes)
 *     pulse/                 time (dimension scale), one dataset a channel, layer_crush (layers x samples)
 *     ledger/                time (dimension scale), one dataset a part of the energy
 *     rings/                 angle (dimension scale), edges, regions, area fraction of each on each ring
 *     snapshots/             model axisymmetric: the cross-section at a few times (cases/store_snapshots.h)
 *     energy/ metrics/       one value each, at the end of the run; NaN where a metric does not apply
 *     layers/ judgements/    columns, a row each
 *   /summary                 columns named as in the JSON summary, a row a hit
 *   /run                     host, threads, wall times, names of files: all that may differ between two runs
 */

#define STORE_RUN "foampulse/result/1"

struct store_options {
    int force; /* replace a file that is not a result of this program */
};

/* Writes a result under `path`, complete or not at all. Replaces an earlier result; refuses other files
 * without `force`, and links to elsewhere; folders and devices always. STATUS_FILE, STATUS_MEMORY. */
enum status store_write(const char *path, const struct case_result *result,
                        const struct store_options *options, struct errors *errors);

/* Could store_write write there? Asked before a long computation; nothing is left behind. STATUS_FILE. */
enum status store_check(const char *path, const struct store_options *options, struct errors *errors);

/* Reads a result back, whole, after a child process has read it (cases/probe.h). On errors `result` is
 * zeroed. STATUS_FILE, STATUS_INPUT, STATUS_MEMORY. */
enum status store_read(const char *path, struct case_result *result, struct errors *errors);

/* Hash over everything outside /run (64 hexadecimal digits) of a file, for "same result". */
enum status store_hash(const char *path, char hash[65], struct errors *errors);

#endif
