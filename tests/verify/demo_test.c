#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/isa.h"
#include "solver/study/resolve.h"
#include "tests/support/cases.h"
#include "tests/support/sanitized.h"

/*
 * What must hold for every case that is shipped, and for helmets that differ in nothing that counts. All run
 * through case file, study and solver, as `run` does.
 */

static const double g0 = 9.80665;

static const char *const shipped[] = {"cases/bench-pad.yaml",  "cases/smallest.yaml",
                                      "cases/touring.yaml",    "cases/demo/single.yaml",
                                      "cases/demo/crown.yaml", "cases/demo/brow.yaml"};

enum { SHIPPED = sizeof shipped / sizeof *shipped };

TestSuite(demo, .timeout = 800);

/*
 * Both models of a helmet; how far the ledger may stay open; how much a finer mesh may change the peak; how
 * far helmets that differ in nothing that counts may be apart.
 *
 * By zones, rounding grows by some eight powers of ten within an impact: the shell's points that just touch
 * the anvil, and zones that just yield, decide one way or the other. So equal helmets are equal within that
 * noise. A border that moves by 0.01 degrees is a change far above rounding and saturates at some
 * thousandths.
 */
static const struct model {
    const char *name, *set;
    double ledger, end, refined, noise, pulse_noise, border;
} models[] = {{"columns", "model=columns", 1e-4, 14.0, 0.02, 0.0, 0.0, 0.0},
              {"axisymmetric", "model=axisymmetric", 1e-3, 14.0, 0.02, 1e-5, 1e-4, 5e-3}};

enum { MODELS = sizeof models / sizeof *models };

/* Under the sanitizers zones solve one case, once; that is memory enough to watch. */
enum { COMPARED = SANITIZED ? 1 : MODELS };

static int is_pad(const char *path)
{
    return strstr(path, "pad") != NULL;
}

static size_t models_of(const char *path)
{
    int one = is_pad(path) || (SANITIZED && !strstr(path, "single"));
    return one ? 1 : MODELS;
}

/* Coarse and short under the sanitizers, which watch memory here and not figures. */
static void solve_shipped(const char *path, const struct model *model, struct case_result *result)
{
    const char *const sets[] = {model->set, "solver.rings=24", "solver.duration=12 ms"};
    cases_solve(path, sets, is_pad(path) ? 0 : SANITIZED ? 3 : 1, result);
}

/* --- balances and bounds --- */

struct worst {
    double ledger, impulse, head, bound, work, artificial;
};

static void take_worst(double *worst, double value)
{
    *worst = value > *worst ? value : *worst;
}

/*
 * The head alone: m dv/dt = m g - F. With a = F/m, over the pulse: integral of a dt = v_0 - v_end + g T; and
 * down to rest at the travel X: integral of a dx = v_0^2/2 + g X, so that the peak cannot be below
 * v_0^2/(2 X) + g. 0.2 % is a usual tolerance for the impulse of a record; the work is a sum of products of
 * interval means, trapezoidal in the velocity, and gets the same.
 */
static void check_head(const struct hit_result *hit, struct worst *worst)
{
    const struct impact_output *output = &hit->output;
    const double *a = output->channel[PULSE_acceleration_unfiltered], *v = output->channel[PULSE_velocity];
    double impulse = 0.0, work = 0.0, travel = 0.0, before = hit->speed;
    int down = 1;
    for (size_t i = 0; i < output->count; i++) {
        double t = output->interval;
        down = down && v[i] > 0.0;
        impulse += a[i] * t;
        work += down ? a[i] * 0.5 * (before + v[i]) * t : 0.0;
        travel += down ? 0.5 * (before + v[i]) * t : 0.0;
        before = v[i];
    }
    double time = (double)output->count * output->interval, v0 = hit->speed;
    double change = v0 - v[output->count - 1] + g0 * time, energy = 0.5 * v0 * v0 + g0 * travel;
    double most = 0.0;
    for (size_t i = 0; i < output->count; i++)
        most = fmax(most, output->channel[PULSE_travel][i]);
    take_worst(&worst->head, fabs(impulse / change - 1.0));
    take_worst(&worst->work, fabs(work / energy - 1.0));
    double least = (0.5 * v0 * v0 / most + g0) / g0;
    take_worst(&worst->bound, least / output->metrics[METRIC_peak]);
    cr_expect(fabs(impulse / change - 1.0) <= 2e-3, "head's impulse %g, change %g", impulse, change);
    cr_expect(fabs(work / energy - 1.0) <= 2e-3, "work on the head %g, energy %g", work, energy);
    cr_expect(output->metrics[METRIC_peak] >= least, "peak %g g below %g g", output->metrics[METRIC_peak],
              least);
}

static void check_bounds(const double *metrics)
{
    double crushed = metrics[METRIC_crush_fraction], back = metrics[METRIC_restitution];
    cr_expect(crushed >= 0.0 && crushed < 1.0, "crushed by %g", crushed);
    cr_expect(isnan(back) || (back >= 0.0 && back < 1.0), "restitution %g", back);
    cr_expect(metrics[METRIC_hic15] > 0.0 && metrics[METRIC_hic15] <= metrics[METRIC_hic36]);
    cr_expect(metrics[METRIC_hic36] <= metrics[METRIC_hic]);
    cr_expect(metrics[METRIC_hic] <= metrics[METRIC_gsi], "by the inequality of Jensen");
    cr_expect(metrics[METRIC_crush_left] > 0.0);
}

/* Ledger within 0.01 % (zones 0.1 %) of the initial energy, hourglass and viscosity within 2 % of it; the
 * anvil's impulse equals the change of all momentum, with gravity, within 0.2 %: lines of force that turn
 * while masses keep their first direction cost some of it. */
static void check_hit(const struct hit_result *hit, const struct model *model, struct worst *worst)
{
    double artificial = hit->output.energy[ENERGY_artificial] / hit->output.energy[ENERGY_initial];
    cr_assert_eq(hit->status, HIT_COMPUTED, "impact %d: %s", hit->impact, hit->message);
    cr_expect(!hit->hoop.shown[0] || (!isnan(hit->hoop.kept_peak) && !isnan(hit->hoop.cut_peak)),
              "impact %d: one bound at openings is missing", hit->impact);
    take_worst(&worst->ledger, hit->output.balance_error);
    take_worst(&worst->impulse, hit->output.impulse_error);
    take_worst(&worst->artificial, artificial);
    cr_expect(hit->output.balance_error <= model->ledger, "impact %d: ledger %g", hit->impact,
              hit->output.balance_error);
    cr_expect(SANITIZED || artificial <= 0.02, "impact %d: artificial %g", hit->impact, artificial);
    cr_expect(hit->output.impulse_error <= 2e-3, "impact %d: impulse %g", hit->impact,
              hit->output.impulse_error);
    check_head(hit, worst);
    check_bounds(hit->output.metrics);
}

static void check_balances(const char *path, const struct model *model)
{
    struct case_result result;
    struct worst worst = {0};
    solve_shipped(path, model, &result);
    for (size_t k = 0; k < result.hit_count; k++)
        check_hit(&result.hits[k], model, &worst);
    printf("figure: %-24s %-12s ledger %.1e (limit %.0e), impulse: anvil %.1e, head %.1e (limits 2e-3), work "
           "%.1e (limit 2e-3), least possible peak / peak %.2f (limit 1), artificial %.2f %% (limit 2)\n",
           path, is_pad(path) ? "pad" : model->name, worst.ledger, model->ledger, worst.impulse, worst.head,
           worst.work, worst.bound, 100.0 * worst.artificial);
    case_result_free(&result);
}

Test(demo, balances)
{
    for (size_t i = 0; i < SHIPPED; i++) {
        for (size_t m = 0; m < models_of(shipped[i]); m++)
            check_balances(shipped[i], &models[m]);
    }
}

/* --- penalties --- */

/* Largest energy in the penalties of contacts over an impact, of its initial energy; `axisymmetric`: by
 * zones. */
static double penalties(struct resolver *resolver, const struct case_impact *impact, int axisymmetric)
{
    static double absorbed[HISTORY_LAYERS];
    struct resolved resolved = {0};
    struct columns_model columns = {0};
    struct axisymmetric_model zones = {0};
    struct history history = {0};
    struct errors errors = {0};
    char sentence[RESOLVE_SENTENCE] = "", message[HISTORY_MESSAGE] = "";
    resolver->axisymmetric = axisymmetric;
    cr_assert_eq(resolve_impact(resolver, impact, &resolved, sentence, &errors), STATUS_OK);
    cr_assert_str_empty(sentence);
    const struct columns_setup *setup = axisymmetric ? &resolved.zones.helmet : &resolved.columns;
    cr_assert_eq(axisymmetric ? axisymmetric_model_make(&resolved.zones, &zones)
                              : columns_model_make(&resolved.columns, &columns),
                 STATUS_OK);
    size_t layers = axisymmetric ? zones.layer_count : columns.layer_count;
    cr_assert_eq(history_make(&history, setup->duration, setup->speed, layers), STATUS_OK);
    enum status status = axisymmetric ? axisymmetric_run(&zones, NULL, &history, absorbed, NULL, message)
                                      : columns_run(&columns, NULL, &history, absorbed, NULL, message);
    cr_assert_eq(status, STATUS_OK, "%s", message);
    double share = history.penalty_energy / history.energy[ENERGY_initial];
    history_free(&history);
    axisymmetric_model_free(&zones);
    columns_model_free(&columns);
    resolved_free(&resolved);
    return share;
}

/* Penalties stand for bodies that do not enter each other: what they hold is to be small, at most 1 % of the
 * initial energy at any ledger (every 0.1 ms), on the default mesh. */
static void check_penalties(const char *path, const struct model *model)
{
    const char *const sets[] = {model->set, SANITIZED ? "solver.rings=24" : "solver.rings=48"};
    struct case_file file;
    struct resolver resolver = {0};
    struct errors errors = {0};
    double worst = 0.0;
    cases_load(path, sets, 2, &file);
    cr_assert_eq(resolver_make(&file, &resolver, &errors), STATUS_OK);
    for (size_t k = 0; k < file.impact_count; k++) {
        double share = penalties(&resolver, &file.impacts[k], model == &models[1]);
        take_worst(&worst, share);
        cr_expect(share > 0.0 && share <= 0.01, "%s, impact %zu: %g in penalties", path, k + 1, share);
    }
    printf("figure: %-24s %-12s energy in penalties %.3f %% (limit 1)\n", path, model->name, 100.0 * worst);
    resolver_free(&resolver);
    case_free(&file);
}

Test(demo, penalties)
{
    for (size_t i = 0; i < SHIPPED; i++) {
        for (size_t m = 0; m < models_of(shipped[i]) && !is_pad(shipped[i]); m++)
            check_penalties(shipped[i], &models[m]);
    }
}

/* --- refinement --- */

/* Rings doubled, cells halved. The peak comes half a millisecond before `end` [ms], where both runs stop. */
static void check_refined(const char *path, const struct model *model)
{
    char duration[32];
    snprintf(duration, sizeof duration, "solver.duration=%g ms", model->end);
    const char *const sets[] = {duration, model->set, "solver.rings=96", "solver.cell=0.875 mm"};
    const char *const pad[] = {duration, "solver.cell=0.875 mm"};
    struct case_result coarse, refined;
    cases_solve(path, sets, is_pad(path) ? 1 : 2, &coarse);
    cases_solve(path, is_pad(path) ? pad : sets, is_pad(path) ? 2 : 4, &refined);
    printf("figure: %-24s %-12s rings x 2, cells / 2, change of peak g %%:", path,
           is_pad(path) ? "pad" : model->name);
    for (size_t k = 0; k < coarse.hit_count; k++) {
        double peak = coarse.hits[k].output.metrics[METRIC_peak];
        double change = refined.hits[k].output.metrics[METRIC_peak] / peak - 1.0;
        printf(" %+.2f", 100.0 * change);
        cr_expect(fabs(change) < model->refined, "%s impact %d: %g by %g", path, coarse.hits[k].impact, peak,
                  change);
        cr_expect(coarse.hits[k].output.metrics[METRIC_peak_time] < model->end - 0.5);
    }
    printf(" (limit %.0f)\n", 100.0 * model->refined);
    case_result_free(&coarse);
    case_result_free(&refined);
}

/* By zones the two cases that hold all anvils, since a finer mesh takes eight times as long. */
Test(demo, refined_zones)
{
    for (size_t i = 0; !SANITIZED && i < SHIPPED; i++) {
        if (strstr(shipped[i], "smallest") || strstr(shipped[i], "single"))
            check_refined(shipped[i], &models[1]);
    }
}

Test(demo, refined)
{
    for (size_t i = 0; !SANITIZED && i < SHIPPED; i++) {
        check_refined(shipped[i], &models[0]);
    }
}

/* --- bits --- */

static void same_output(const struct impact_output *a, const struct impact_output *b, const char *what)
{
    cr_assert_eq(a->count, b->count, "%s", what);
    cr_assert_eq(a->ledger_count, b->ledger_count, "%s", what);
    cr_expect_eq(a->steps, b->steps, "%s: %ld steps, %ld", what, a->steps, b->steps);
    for (int c = 0; c < PULSE_COUNT; c++) {
        cr_assert_eq(!a->channel[c], !b->channel[c], "%s: %s", what, pulse_table[c].name);
        if (!a->channel[c]) /* no rotation */
            continue;
        cr_expect_eq(memcmp(a->channel[c], b->channel[c], a->count * sizeof(double)), 0, "%s: %s", what,
                     pulse_table[c].name);
    }
    for (int e = 0; e < ENERGY_COUNT; e++) {
        cr_assert_eq(!a->ledger[e], !b->ledger[e], "%s: %s", what, energy_table[e].name);
        if (!a->ledger[e]) /* the shell did not crack */
            continue;
        cr_expect_eq(memcmp(a->ledger[e], b->ledger[e], a->ledger_count * sizeof(double)), 0, "%s: %s", what,
                     energy_table[e].name);
    }
    cr_expect_eq(memcmp(a->metrics, b->metrics, sizeof a->metrics), 0, "%s: metrics", what);
    cr_expect_eq(memcmp(a->energy, b->energy, sizeof a->energy), 0, "%s: energy", what);
    cr_assert_eq(a->layer_count, b->layer_count, "%s", what);
    for (size_t i = 0; i < a->layer_count; i++) {
        cr_expect_eq(memcmp(&a->layers[i].absorbed, &b->layers[i].absorbed, sizeof(double)), 0, "%s", what);
        cr_expect_eq(a->layers[i].crush == NULL, b->layers[i].crush == NULL, "%s", what);
        if (a->layers[i].crush && b->layers[i].crush)
            cr_expect_eq(memcmp(a->layers[i].crush, b->layers[i].crush, a->count * sizeof(double)), 0, "%s",
                         what);
    }
}

static size_t same_results(const struct case_result *a, const struct case_result *b, const char *what)
{
    cr_assert_eq(a->hit_count, b->hit_count);
    cr_expect_eq(memcmp(&a->worst_margin, &b->worst_margin, sizeof a->worst_margin), 0, "%s", what);
    size_t values = 0;
    for (size_t k = 0; k < a->hit_count; k++) {
        same_output(&a->hits[k].output, &b->hits[k].output, what);
        cr_expect_eq(memcmp(&a->hits[k].asymmetry, &b->hits[k].asymmetry, sizeof(double)), 0, "%s", what);
        const struct impact_output *output = &a->hits[k].output;
        for (int c = 0; c < PULSE_COUNT; c++)
            values += output->channel[c] ? output->count : 0;
        for (int e = 0; e < ENERGY_COUNT; e++)
            values += output->ledger[e] ? output->ledger_count : 0;
    }
    return values;
}

static void compare_runs(const char *path, const char *const *sets, size_t set_count)
{
    struct case_file file;
    struct case_result first, other;
    cases_load(path, sets, set_count, &file);
    enum isa best = isa_chosen();
    cases_run(&file, 1, &first);
    for (int threads = 2; threads <= (SANITIZED ? 2 : 4); threads++) {
        cases_run(&file, threads, &other);
        size_t values = same_results(&first, &other, "threads");
        printf("figure: %-24s %d threads: the bits of 1 thread (%zu values)\n", path, threads, values);
        case_result_free(&other);
    }
    for (int isa = ISA_BASE; isa < ISA_COUNT; isa++) {
        if (isa_force((enum isa)isa) != (enum isa)isa)
            continue;
        cases_run(&file, 0, &other);
        cr_expect_str_eq(other.isa, isa_name((enum isa)isa));
        same_results(&first, &other, isa_name((enum isa)isa));
        printf("figure: %-24s kernels %s: the bits of %s\n", path, isa_name((enum isa)isa), isa_name(best));
        case_result_free(&other);
    }
    isa_force(best);
    case_result_free(&first);
    case_free(&file);
}

Test(demo, same_bits)
{
    compare_runs("cases/bench-pad.yaml", NULL, 0);
    for (size_t m = 0; m < COMPARED; m++) {
        const char *const few[] = {SANITIZED ? "solver.rings=12" : "solver.rings=32",
                                   SANITIZED ? "solver.duration=3 ms" : "solver.duration=8 ms",
                                   models[m].set};
        compare_runs("cases/demo/crown.yaml", few, 3);
        compare_runs("cases/demo/glance.yaml", few, 3);
    }
}

/* --- equal helmets --- */

/* A helmet of one's own: `liner` and `impacts` in flow style; the same mass whatever the liner. */
static double helmet_peak(const char *model, const char *liner, const char *impacts, const char *solver,
                          struct case_result *result)
{
    char text[4096];
    snprintf(text, sizeof text,
             "headform: {set: en-960, size: J}\n"
             "shell: {material: abs, thickness: 3.5 mm, lower_edge: -30 deg, helmet_mass: 1.4 kg}\n"
             "comfort: {foam: comfort-soft, thickness: 8 mm, gap: 1 mm}\n"
             "liner: {foam: eps, regions: [%s]}\n"
             "impacts: [%s]\n"
             "solver: {%s}\nmodel: %s\n",
             liner, impacts, solver, model);
    cases_solve_text(text, result);
    return result->hits[0].output.metrics[METRIC_peak];
}

/* Largest difference of two pulses up to sample `end`, part of the larger peak. */
static double pulse_difference(const struct impact_output *a, const struct impact_output *b, size_t end)
{
    double most = 0.0, peak = 0.0;
    for (size_t i = 0; i < a->count && i < b->count; i++) {
        double x = a->channel[PULSE_acceleration][i], y = b->channel[PULSE_acceleration][i];
        most = i < end ? fmax(most, fabs(x - y)) : most;
        peak = fmax(peak, fmax(x, y));
    }
    return most / peak;
}

/* Peak and the pulse up to it are the same within `limit`. Behind the peak, while the dent of the shell
 * swings back, rounding is multiplied: tenfold in 0.15 ms, up to 3e-5 of the peak, and 6e-3 where the shell
 * stays elastic. There the limit is 1e-4, and for HIC, whose window ends there, 1e-5. */
static void equal_in(const struct model *model, const char *what, const char *const liner[2],
                     const char *const impacts[2], double limit)
{
    const char *few =
        SANITIZED ? "rings: 20, cell: 4 mm, duration: 7 ms" : "rings: 32, cell: 2 mm, duration: 8 ms";
    struct case_result results[2];
    double peak[2];
    for (int i = 0; i < 2; i++)
        peak[i] = helmet_peak(model->name, liner[i], impacts[i], few, &results[i]);
    const struct impact_output *a = &results[0].hits[0].output, *b = &results[1].hits[0].output;
    double hic = fabs(b->metrics[METRIC_hic] / a->metrics[METRIC_hic] - 1.0);
    size_t at = (size_t)(a->metrics[METRIC_peak_time] * 1e-3 / a->interval);
    double rise = pulse_difference(a, b, at), whole = pulse_difference(a, b, a->count);
    printf("figure: %-32s %-12s peak %.3f g, differs by %.1e, rise %.1e (limits %.0e), HIC %.1e "
           "(limit %.0e), pulse %.1e (limit %.0e)\n",
           what, model->name, peak[0], fabs(peak[1] / peak[0] - 1.0), rise, limit + model->noise, hic,
           1e-5 + model->noise, whole, 1e-4 + model->pulse_noise);
    if (!SANITIZED) {
        cr_expect(fabs(peak[1] / peak[0] - 1.0) <= limit + model->noise, "%s: peaks %.9g and %.9g", what,
                  peak[0], peak[1]);
        cr_expect(hic <= 1e-5 + model->noise, "%s: HIC differs by %g", what, hic);
        cr_expect(rise <= limit + model->pulse_noise, "%s: pulses differ by %g before the peak", what, rise);
        cr_expect(whole <= 1e-4 + model->pulse_noise, "%s: pulses differ by %g", what, whole);
    }
    for (int i = 0; i < 2; i++)
        case_result_free(&results[i]);
}

static void equal_helmets(const char *what, const char *const liner[2], const char *const impacts[2],
                          double limit)
{
    for (size_t m = 0; m < COMPARED; m++)
        equal_in(&models[m], what, liner, impacts, limit);
}

#define CROWN_FLAT  "{at: crown, anvil: flat, speed: 6.0 m/s}"
#define SIDE(angle) "{at: [40 deg, " angle " deg], anvil: flat, speed: 6.0 m/s}"
#define EVERYWHERE  "{name: everywhere, layers: [{density: 45 g/l, thickness: 40 mm}]}"

Test(demo, layer_cut_in_two)
{
    equal_helmets("a layer of 40 mm, two of 20 mm",
                  (const char *const[]){EVERYWHERE,
                                        "{name: everywhere, layers: [{density: 45 g/l, thickness: 20 mm}, "
                                        "{density: 45 g/l, thickness: 20 mm}]}"},
                  (const char *const[]){CROWN_FLAT, CROWN_FLAT}, 1e-6);
}

Test(demo, region_cut_in_two)
{
    equal_helmets("a region, two of the same layers",
                  (const char *const[]){EVERYWHERE,
                                        "{name: part, centre: [50 deg, 60 deg], half_angle: 35 deg, layers: "
                                        "[{density: 45 g/l, thickness: 40 mm}]}, " EVERYWHERE},
                  (const char *const[]){SIDE("40"), SIDE("40")}, 1e-6);
}

#define SOFT(from, to)                                                                                       \
    "{name: soft, elevation: [0 deg, 60 deg], azimuth: [" from " deg, " to " deg], layers: [{density: 30 "   \
    "g/l, thickness: 38 mm}]}, "

Test(demo, mirrored)
{
    equal_helmets("a helmet, its mirror image",
                  (const char *const[]){SOFT("25", "80") EVERYWHERE, SOFT("-80", "-25") EVERYWHERE},
                  (const char *const[]){SIDE("40"), SIDE("-40")}, 1e-9);
}

/* Columns reach 80 deg from the crown, that is to an elevation of 10 deg. */
Test(demo, far_opening)
{
    equal_helmets("an opening beyond the rings",
                  (const char *const[]){EVERYWHERE, "{name: hole, elevation: [-30 deg, 9 deg], azimuth: [-60 "
                                                    "deg, 60 deg], open: true}, " EVERYWHERE},
                  (const char *const[]){CROWN_FLAT, CROWN_FLAT}, 1e-9);
}

/* --- borders of regions --- */

/*
 * The border of a soft crown moves by steps of 0.01 deg past an impact 6 deg outside it. Shares are
 * integrals, so the peak follows smoothly: its second difference is what curvature leaves, and rounding. A
 * look-up by sampling would stand still and then jump by what a ring weighs, of the order of 1 %.
 */
static void move_border(const struct model *model)
{
    enum { STEPS = SANITIZED ? 2 : 10 };
    double peak[STEPS + 1], first = 0.0, second = 0.0;
    for (int i = 0; i <= STEPS; i++) {
        char liner[512];
        struct case_result result;
        snprintf(liner, sizeof liner,
                 "{name: crown, centre: [90 deg, 0 deg], half_angle: %.2f deg, layers: [{density: 30 g/l, "
                 "thickness: 40 mm}]}, " EVERYWHERE,
                 40.0 + 0.01 * i);
        peak[i] =
            helmet_peak(model->name, liner, "{at: [44 deg, 180 deg], anvil: flat, speed: 6.0 m/s}",
                        SANITIZED ? "rings: 24, duration: 8 ms" : "rings: 48, duration: 12 ms", &result);
        case_result_free(&result);
        if (i > 0)
            first = fmax(first, fabs(peak[i] - peak[i - 1]) / peak[0]);
        if (i > 1)
            second = fmax(second, fabs(peak[i] - 2.0 * peak[i - 1] + peak[i - 2]) / peak[0]);
    }
    printf("figure: %-12s border moved by %d x 0.01 deg: peak %.4f to %.4f g, a step at most %.1e, second "
           "difference %.1e (limit %.0e)\n",
           model->name, STEPS, peak[0], peak[STEPS], first, second, 2e-5 + 2.0 * model->border);
    cr_expect(first > 0.0, "the border must count");
    cr_expect(first <= 1e-4 + model->border, "a step of %g", first);
    cr_expect(second <= 2e-5 + 2.0 * model->border, "second difference %g", second);
}

Test(demo, border_moves_smoothly)
{
    for (size_t m = 0; m < COMPARED; m++)
        move_border(&models[m]);
}
