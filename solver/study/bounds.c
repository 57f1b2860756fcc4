#include "solver/study/bounds.h"

#include <math.h>
#include <stdio.h>

#include "solver/base/memory.h"
#include "solver/base/numeric.h"
#include "solver/impact/run.h"
#include "solver/study/judge.h"

static enum status run_with(const struct resolver *resolver, struct resolved *resolved,
                            const struct case_impact *impact, const double *hoop,
                            struct impact_output *outputs, const atomic_int *stop, char *message)
{
    size_t hits = impact->hit_count;
    double *across = memory_doubles(hits); /* speeds along the face's normal */
    if (!across)
        return STATUS_MEMORY;
    for (size_t i = 0; i < hits; i++)
        across[i] = impact->speed[i] * numeric_cos(impact->angle);
    resolved->columns.hoop = resolved->zones.helmet.hoop = hoop;
    enum status status = resolver->axisymmetric
                             ? run_axisymmetric_hits(&resolved->zones, across, hits, outputs, stop, message)
                             : run_columns_hits(&resolved->columns, across, hits, outputs, stop, message);
    resolved->columns.hoop = resolved->zones.helmet.hoop = NULL;
    memory_free(across);
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

/* The bound that could not be solved is not a number. */
static void take_one_bound(struct hit_result *hit)
{
    hit->hoop = (struct hoop_bounds){"kept", hit->output.metrics[METRIC_peak],
                                     hit->output.metrics[METRIC_hic], NAN, NAN};
}

/* What both bounds made of one hit; a hit that the first could not solve has failed. */
static void take_hit(const struct case_file *file, struct impact_output *kept, struct impact_output *cut,
                     struct hit_result *hit)
{
    hit->output = *kept;
    if (kept->count > 0 && cut->count > 0)
        take_bounds(file, cut, hit);
    else if (kept->count > 0)
        take_one_bound(hit);
    else
        impact_output_free(cut);
}

/* Outputs of all hits with both bounds: (hit_count) each, `cut` only where there are such rings. */
static enum status solve_both(const struct resolver *resolver, struct resolved *resolved,
                              const struct case_impact *impact, struct impact_output *kept,
                              struct impact_output *cut, struct hit_result *hits, const atomic_int *stop,
                              char message[HISTORY_MESSAGE])
{
    double hoop[COLUMNS_RINGS];
    char why[HISTORY_MESSAGE] = "";
    enum status status = run_with(resolver, resolved, impact, NULL, kept, stop, message), other;
    for (size_t i = 0; i < impact->hit_count; i++)
        hits[i].output = kept[i];
    if ((status != STATUS_OK && status != STATUS_COMPUTATION) ||
        !cut_rings(&resolved->columns, resolver->file->solver.opening_hoop, hoop))
        return status;
    other = run_with(resolver, resolved, impact, hoop, cut, stop, why);
    if (status == STATUS_OK && other != STATUS_OK)
        snprintf(message, HISTORY_MESSAGE, "with the shell's hoops cut at openings: %.200s", why);
    for (size_t i = 0; i < impact->hit_count; i++) {
        if (other == STATUS_OK || other == STATUS_COMPUTATION)
            take_hit(resolver->file, &kept[i], &cut[i], &hits[i]);
        else
            impact_output_free(&hits[i].output);
    }
    return other == STATUS_OK || other == STATUS_COMPUTATION ? status : other;
}

enum status bounds_solve(const struct resolver *resolver, struct resolved *resolved,
                         const struct case_impact *impact, struct hit_result *hits, const atomic_int *stop,
                         char message[HISTORY_MESSAGE])
{
    struct impact_output *outputs = memory_zeroed(2 * impact->hit_count, sizeof *outputs);
    for (size_t i = 0; i < impact->hit_count; i++)
        hits[i].hoop = hoop_bounds_none;
    enum status status = outputs ? solve_both(resolver, resolved, impact, outputs,
                                              outputs + impact->hit_count, hits, stop, message)
                                 : STATUS_MEMORY;
    memory_free(outputs);
    return status;
}
