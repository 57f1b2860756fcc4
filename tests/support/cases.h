#ifndef FOAMPULSE_SUPPORT_CASES_H
#define FOAMPULSE_SUPPORT_CASES_H

#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "solver/study/batch.h"

/* Cases and their results, for tests that run them as a user would. */

/* Loads a sound case; a path without a leading slash is in the source tree. */
static inline void cases_load(const char *path, const char *const *sets, size_t set_count,
                              struct case_file *file)
{
    char whole[512];
    struct errors errors = {0};
    snprintf(whole, sizeof whole, "%s%s", path[0] == '/' ? "" : FOAMPULSE_SOURCE "/", path);
    enum status status = case_load(whole, sets, set_count, file, &errors);
    cr_assert_eq(status, STATUS_OK, "%s: %s", path, errors.kept[0].text);
}

/* The same from a text, by way of a file. */
static inline void cases_load_text(const char *text, struct case_file *file)
{
    char path[] = "/tmp/foampulse_case_XXXXXX";
    int descriptor = mkstemp(path);
    cr_assert(descriptor >= 0);
    cr_assert_eq(write(descriptor, text, strlen(text)), (ssize_t)strlen(text));
    close(descriptor);
    cases_load(path, NULL, 0, file);
    unlink(path);
}

/* Solves a loaded case that has to succeed. */
static inline void cases_run(const struct case_file *file, int threads, struct case_result *result)
{
    struct batch_options options = {.threads = threads};
    struct errors errors = {0};
    enum status status = batch_run(file, &options, result, &errors);
    cr_assert_eq(status, STATUS_OK, "%s: %s", file->path, errors.kept[0].text);
}

/* Loads and solves. */
static inline void cases_solve(const char *path, const char *const *sets, size_t set_count,
                               struct case_result *result)
{
    struct case_file file;
    cases_load(path, sets, set_count, &file);
    cases_run(&file, 0, result);
    case_free(&file);
}

static inline void cases_solve_text(const char *text, struct case_result *result)
{
    struct case_file file;
    cases_load_text(text, &file);
    cases_run(&file, 0, result);
    case_free(&file);
}

#endif
