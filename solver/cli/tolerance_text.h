#ifndef FOAMPULSE_CLI_TOLERANCE_TEXT_H
#define FOAMPULSE_CLI_TOLERANCE_TEXT_H

#include "cases/sweep.h"
#include "solver/study/scatter.h"
#include "solver/study/tolerance.h"

/*
 * A tolerance study in words and as JSON.
 */

struct tolerance_report {
    const struct sweep *sweep;
    const struct scatter *scatter;
    const struct tolerance *tolerance;
    const char *factor_provenance, *result_file; /* result_file "" for none */
};

/* What scatters, the limits (the worst eight; `all`: every one), the chance of exceeding any, what to tighten
 * first, the verdict and the caution; on standard output. STATUS_MEMORY. */
enum status tolerance_print(const struct tolerance_report *report, int all);

/* The object of schema foampulse/tolerance-summary/1 on standard output. STATUS_MEMORY. */
enum status tolerance_json(const struct tolerance_report *report);

#endif
