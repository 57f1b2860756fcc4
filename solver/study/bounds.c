#include "solver/study/bounds.h"

#include <math.h>
#include <stdio.h>

#include "solver/impact/run.h"
#include "solver/study/judge.h"

static enum status run_with(const struct resolver *resolver, struct resolved *resolved, const double *hoop,
                            struct impact_output *output, const atomic_int *stop, char *message)
{
    resolved->columns.hoop = resolved->zones.helmet.hoop = hoop;
    enum status status = resolver->axisymmetric
                             ? run_axisymmetric(&resolved->zones, output, NULL, stop, message)
                             : run_columns(&resolved->columns, output, NULL, stop, message);
    resolved->columns.hoop = resolved->zones.helmet.hoop = NULL;
    return status;
}

/* Hoop stiffness that is left of cut rings; 0 when no ring of the shell is cut. */
static int cut_rings(const struct columns_setup *setup, double opening_hoop, double hoop[COLUMNS_RINGS])
{
    int any = 0;
    for (size_t i = 0; i < setup->rings; i++) {
        double left = 1.0 - setup->bare[i] / opening_hoop;
        hoop[i] = left > 0.0 ? left : 0.0;
        any |= setup->bare[i] > 0.0;
    }
    return any && setup->shell_thickness > 0.0;
}

/* Puts both bounds down and keeps the solution that counts. */
static void take_bounds(const struct case_file *file, struct impact_output *cut, struct hit_result *hit)
{
    const double *kept_metrics = hit->output.metrics, *cut_metrics = cut->metrics;
    hit->hoop = (struct hoop_bounds){.kept_peak = kept_metrics[METRIC_peak],
                                     .kept_hic = kept_metrics[METRIC_hic],
                                     .cut_peak = cut_metrics[METRIC_peak],
                                     .cut_hic = cut_metrics[METRIC_hic]};
    int cut_counts = judge_governs(file, case_impact_find(file, hit->impact, NULL), cut, &hit->output);
    snprintf(hit->hoop.shown, sizeof hit->hoop.shown, "%s", cut_counts ? "cut" : "kept");
    impact_output_free(cut_counts ? &hit->output : cut);
    if (cut_counts)
        hit->output = *cut;
}

enum status bounds_solve(const struct resolver *resolver, struct resolved *resolved, struct hit_result *hit,
                         const atomic_int *stop, char message[HISTORY_MESSAGE])
{
    double hoop[COLUMNS_RINGS];
    struct impact_output cut;
    char why[HISTORY_MESSAGE] = "";
    hit->hoop = hoop_bounds_none;
    enum status status = run_with(resolver, resolved, NULL, &hit->output, stop, message);
    if (status != STATUS_OK || !cut_rings(&resolved->columns, resolver->file->solver.opening_hoop, hoop))
        return status;
    status = run_with(resolver, resolved, hoop, &cut, stop, why);
    if (status == STATUS_OK) {
        take_bounds(resolver->file, &cut, hit);
        return status;
    }
    snprintf(message, HISTORY_MESSAGE, "with the shell's hoops cut at openings: %.200s", why);
    if (status == STATUS_COMPUTATION) {
        hit->hoop = (struct hoop_bounds){"kept", hit->output.metrics[METRIC_peak],
                                         hit->output.metrics[METRIC_hic], NAN, NAN};
        return STATUS_OK;
    }
    impact_output_free(&hit->output);
    return status;
}
