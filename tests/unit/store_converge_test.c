#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cases/container.h"
#include "cases/probe.h"
#include "cases/store_converge.h"
#include "solver/base/memory.h"
#include "tests/support/files.h"
#include "tests/support/sample_result.h"

/* The file of a study of meshes holds what it was given. */

enum { HITS = 2, MESHES = 3 };

static char folder[64], path[128];

static void begin(void)
{
    snprintf(folder, sizeof folder, "/tmp/foampulse_XXXXXX");
    cr_assert(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/study.h5", folder);
}

static void end(void)
{
    unlink(path);
    rmdir(folder);
}

TestSuite(store_converge, .init = begin, .fini = end);

static const struct converge_mesh meshes[MESHES] = {{12, 100, 3e-3}, {23, 400, 1.5e-3}, {45, 1600, 0.75e-3}};
static double peaks[HITS * MESHES] = {210.5, 205.25, 204.0, 180.0, NAN, 179.0};
static struct converge_row rows[HITS] = {{2.07, 203.6, 0.4, "credible"}, {NAN, NAN, NAN, "unknown"}};

static enum status write_study(const struct case_result *own, struct errors *errors)
{
    struct converge_metric metric = {METRIC_peak, peaks, rows};
    struct converge_study study = {.own = own,
                                   .ratio = 2,
                                   .mesh_count = MESHES,
                                   .metric_count = 1,
                                   .meshes = meshes,
                                   .metrics = &metric};
    *errors = (struct errors){0};
    return store_converge_write(path, &study, errors);
}

static void expect_numbers(struct container *file, const char *name, int rank, const double *wanted,
                           size_t count)
{
    struct values values;
    double *got = container_get_array(file, name, VALUE_DOUBLE, rank, &values);
    cr_assert(got && values_count(&values) == count, "%s", name);
    for (size_t i = 0; i < count; i++)
        cr_expect(got[i] == wanted[i] || (isnan(got[i]) && isnan(wanted[i])), "%s[%zu]: %g", name, i, got[i]);
    memory_free(got);
}

Test(store_converge, holds_the_study)
{
    struct case_result own;
    struct errors errors;
    unsigned char *bytes;
    size_t length;
    char text[64];
    sample_result(&own, 0);
    size_t all = own.hit_count;
    own.hit_count = HITS;
    cr_assert_eq(write_study(&own, &errors), STATUS_OK, "%s", errors.kept[0].text);
    cr_assert_eq(probe_load(path, STORE_CONVERGE, &bytes, &length, &errors), STATUS_OK);
    struct container *file = container_open(bytes, length);
    container_get_text(file, "/", "schema", text, sizeof text);
    cr_expect_str_eq(text, STORE_CONVERGE);
    container_get_text(file, "/case", "case_hash", text, sizeof text);
    cr_expect_str_eq(text, own.case_hash);
    expect_numbers(file, "/metrics/peak_g/values", 2, peaks, HITS * MESHES);
    expect_numbers(file, "/metrics/peak_g/order", 1, (double[]){2.07, NAN}, HITS);
    expect_numbers(file, "/metrics/peak_g/extrapolated", 1, (double[]){203.6, NAN}, HITS);
    expect_numbers(file, "/metrics/peak_g/uncertainty", 1, (double[]){0.4, NAN}, HITS);
    expect_numbers(file, "/meshes/cell", 1, (double[]){3e-3, 1.5e-3, 0.75e-3}, MESHES);
    expect_numbers(file, "/hits/speed_m_s", 1, (double[]){own.hits[0].speed, own.hits[1].speed}, HITS);
    cr_expect_eq(container_close(file, &errors), STATUS_OK, "%s", errors.kept[0].text);
    memory_free(bytes);
    own.hit_count = all;
    case_result_free(&own);
}

Test(store_converge, replaces_with_force_only)
{
    struct errors errors = {0};
    cr_expect_eq(store_converge_check(path, 0, &errors), STATUS_OK);
    cr_expect_eq(files_count(folder), 0, "the question leaves something");
    FILE *other = fopen(path, "w");
    cr_assert(other && fputs("letters", other) >= 0 && fclose(other) == 0);
    cr_expect_eq(store_converge_check(path, 0, &errors), STATUS_FILE);
    cr_expect_eq(store_converge_check(path, 1, &errors), STATUS_OK);
    cr_expect_eq(store_converge_check(folder, 1, &errors), STATUS_FILE, "a folder is never replaced");
}

Test(store_converge, memory_runs_out)
{
    struct case_result own;
    sample_result(&own, 0);
    size_t all = own.hit_count, tried = 0;
    own.hit_count = HITS;
    for (enum status status = STATUS_MEMORY; status != STATUS_OK && tried < 20000; tried++) {
        struct errors errors;
        memory_fail_after(tried);
        status = write_study(&own, &errors);
        memory_fail_after(SIZE_MAX);
        cr_assert(status == STATUS_OK || status == STATUS_MEMORY, "%d at %zu: %s", status, tried,
                  errors.kept[0].text);
        cr_assert_eq(files_count(folder), status == STATUS_OK);
    }
    cr_expect_gt(tried, 20);
    own.hit_count = all;
    case_result_free(&own);
}
