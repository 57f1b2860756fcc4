#ifndef FOAMPULSE_CLI_SUMMARY_ROTATION_H
#define FOAMPULSE_CLI_SUMMARY_ROTATION_H

#include "cases/result.h"

/* The hits with rotation of a result, in the order of its rows (hit_count), SUMMARY_ROWS of them or `all`, on
 * standard output: where the motion points, rotation with its limits, friction and sliding on the face.
 * Nothing when there is none. STATUS_MEMORY. */
enum status summary_rotation(const struct case_result *result, const struct hit_result *const *rows, int all);

#endif
