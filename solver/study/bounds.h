#ifndef FOAMPULSE_STUDY_BOUNDS_H
#define FOAMPULSE_STUDY_BOUNDS_H

#include "cases/result.h"
#include "solver/study/resolve.h"

/*
 * Bounds at openings. A body of revolution closes the shell over what an opening or the lower edge takes out
 * of its rings on one side. With a share f of a ring open, its hoop stiffness lies between 1 - f, as if the
 * rest still closed the ring, and max(0, 1 - f / opening_hoop). Where the border lies on the rings both are
 * solved, whether it is loaded or not: the shell carries far. The one that is nearer to a limit counts.
 *
 * Hits on one helmet are solved in sequence with either bound, each on what its own bound left; for each hit
 * the bound counts that is nearer to a limit there, which need not be the same for all.
 */

/* Solves the hits (hit_count) of an impact on a helmet: fills their outputs, and their bounds where there are
 * two. Where the cut rings cannot be solved the first solution stands, the second is NaN and `message` says
 * why. Errors as run_columns_hits. */
enum status bounds_solve(const struct resolver *resolver, struct resolved *resolved,
                         const struct case_impact *impact, struct hit_result *hits, const atomic_int *stop,
                         char message[HISTORY_MESSAGE]);

#endif
