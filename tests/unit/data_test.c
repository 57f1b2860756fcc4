/* Where data files are looked up, and in which order. */

#include <criterion/criterion.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "solver/base/data.h"
#include "solver/base/memory.h"

static char folder[] = "/tmp/foampulse_data_XXXXXX";

static void touch(const char *name)
{
    char path[256];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    cr_assert(file);
    fclose(file);
}

static void begin(void)
{
    char path[256];
    cr_assert(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/data", folder);
    cr_assert_eq(mkdir(path, 0700), 0);
    setenv("FOAMPULSE_DATA", path, 1);
}

/* Expects `name` at `expected` under the folder; NULL: nowhere. */
static void expect(const char *name, const char *beside, const char *expected)
{
    char place[256], wanted[256];
    char *path;
    snprintf(place, sizeof place, "%s/%s", folder, beside);
    cr_assert_eq(data_find(name, place, &path), STATUS_OK);
    if (!expected) {
        cr_expect_null(path, "%s is at %s", name, path);
        return;
    }
    snprintf(wanted, sizeof wanted, "%s/%s", folder, expected);
    cr_expect(path && strcmp(path, wanted) == 0, "%s is at %s", name, path ? path : "nowhere");
    memory_free(path);
}

Test(data, beside_the_case_comes_before_the_data_folder)
{
    begin();
    touch("data/curve.csv");
    expect("curve.csv", "case.yaml", "data/curve.csv");
    touch("curve.csv");
    expect("curve.csv", "case.yaml", "curve.csv");
    expect("nowhere.csv", "case.yaml", NULL);
    expect("data", "case.yaml", NULL);
}

Test(data, absolute_names_and_the_source_tree)
{
    char absolute[256];
    char *path;
    begin();
    touch("curve.csv");
    snprintf(absolute, sizeof absolute, "%s/curve.csv", folder);
    cr_assert_eq(data_find(absolute, NULL, &path), STATUS_OK);
    cr_assert_str_eq(path, absolute);
    memory_free(path);
    cr_assert_eq(data_find("tests/layers.txt", NULL, &path), STATUS_OK);
    cr_assert_str_eq(path, FOAMPULSE_SOURCE "/tests/layers.txt");
    memory_free(path);
}

Test(data, memory_that_runs_out)
{
    char *path;
    memory_fail_after(0);
    cr_assert_eq(data_find("tests/layers.txt", NULL, &path), STATUS_MEMORY);
    memory_fail_after(SIZE_MAX);
    cr_assert_null(path);
}
