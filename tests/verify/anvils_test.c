#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/stack.h"
#include "solver/study/resolve.h"
#include "tests/support/cases.h"
#include "tests/support/sanitized.h"

/*
 * A helmet on every anvil, in both models: the ledger stays closed, the anvil's impulse is the change of all
 * momentum, less of a peak on what overlaps less. Limits as in demo_test.c.
 */

TestSuite(anvils, .timeout = 600);

#define HELMET                                                                                               \
    "headform: {size: J}\nshell: {material: abs, thickness: 3.5 mm}\n"                                       \
    "comfort: {foam: comfort-soft, thickness: 8 mm, gap: 1 mm}\n"                                            \
    "liner: {foam: eps, density: 45 g/l, thickness: 40 mm}\n"                                                \
    "impacts:\n"                                                                                             \
    "  - {at: P, anvil: flat, speed: 5 m/s}\n"                                                               \
    "  - {at: P, anvil: hemisphere, speed: 5 m/s}\n"                                                         \
    "  - {at: P, anvil: kerbstone, speed: 5 m/s}\n"                                                          \
    "  - {at: P, anvil: edge, speed: 5 m/s}\n"                                                               \
    "  - {at: P, anvil: bar, speed: 5 m/s}\n"                                                                \
    "solver: {duration: 14 ms, rings: %d}\nmodel: %s\n"

static void solve_all(const char *model, double ledger)
{
    char text[1200];
    struct case_result result;
    double open = 0.0, impulse = 0.0, artificial = 0.0;
    snprintf(text, sizeof text, HELMET, SANITIZED ? 24 : 48, model);
    cases_solve_text(text, &result);
    cr_assert_eq(result.hit_count, 5);
    for (size_t i = 0; i < result.hit_count; i++) {
        const struct hit_result *hit = &result.hits[i];
        cr_assert_eq(hit->status, HIT_COMPUTED, "%s on %s: %s", model, hit->anvil, hit->message);
        cr_expect_str_eq(hit->anvil_form, i < 2 ? "true" : "equal overlap");
        open = fmax(open, hit->output.balance_error);
        impulse = fmax(impulse, hit->output.impulse_error);
        artificial =
            fmax(artificial, hit->output.energy[ENERGY_artificial] / hit->output.energy[ENERGY_initial]);
        printf("figure: %s: %-10s peak %5.1f g, crush %4.1f mm\n", model, hit->anvil,
               hit->output.metrics[METRIC_peak], hit->output.metrics[METRIC_crush]);
    }
    printf("figure: %s: anvils, ledger %.2g (at most %g), impulse %.2g (at most 0.002), artificial %.2g (at "
           "most 0.02)\n",
           model, open, ledger, impulse, artificial);
    cr_expect_leq(open, ledger);
    cr_expect_leq(impulse, 2e-3);
    cr_expect(SANITIZED || artificial <= 0.02);
    for (size_t i = 1; i < result.hit_count; i++)
        cr_expect_gt(result.hits[i].output.metrics[METRIC_crush], result.hits[0].output.metrics[METRIC_crush],
                     "%s on %s", model, result.hits[i].anvil);
    case_result_free(&result);
}

/* The body of equal overlap is made for the shell's outer face at the site: the case's inner face there and
 * the shell's thickness. */
Test(anvils, made_for_the_outer_face)
{
    char text[1200], sentence[RESOLVE_SENTENCE];
    struct case_file file;
    struct resolver resolver;
    struct resolved resolved;
    struct stack_site site;
    struct errors errors = {0};
    struct anvil anvil;
    snprintf(text, sizeof text, HELMET, 24, "columns");
    cases_load_text(text, &file);
    const struct case_impact *kerb = &file.impacts[2];
    cr_assert_eq(resolver_make(&file, &resolver, &errors), STATUS_OK);
    cr_assert_eq(resolve_impact(&resolver, kerb, &resolved, sentence, &errors), STATUS_OK);
    cr_assert_str_empty(sentence);
    stack_site(&file, kerb->region, kerb->elevation, kerb->azimuth, &site);
    cr_assert(anvil_make(&anvil, ANVIL_KERBSTONE, NULL, site.inner + 3.5e-3));
    cr_expect_arr_eq(resolved.columns.anvil.r, anvil.r, sizeof anvil.r);
    cr_expect_arr_eq(resolved.zones.helmet.anvil.z, anvil.z, sizeof anvil.z);
    resolved_free(&resolved);
    resolver_free(&resolver);
    case_free(&file);
}

Test(anvils, by_columns)
{
    solve_all("columns", 1e-4);
}

Test(anvils, by_zones)
{
    if (!SANITIZED)
        solve_all("axisymmetric", 1e-3);
}
