#ifndef FOAMPULSE_CLI_HINT_H
#define FOAMPULSE_CLI_HINT_H

#include "cases/case.h"
#include "cases/result.h"
#include "solver/cli/options.h"

/*
 * The command to try next, on stderr. Texts from outside are quoted for the shell.
 */

/* After a run of `count` cases: the pictures of what was computed, and where a limit is exceeded, one step of
 * density in the layer that is named as the cause, unless another hit over a limit asks for the opposite
 * there or another layer under the site leaves its stroke. Settings and model of this run are repeated. */
void hint_after_run(const struct options *options, const struct case_file *files,
                    const struct case_result *results, size_t count);

#endif
