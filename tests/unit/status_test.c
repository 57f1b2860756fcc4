#include "solver/base/status.h"

#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

static const enum status falling[] = {STATUS_INTERRUPTED, STATUS_TERMINATED,  STATUS_USAGE, STATUS_MEMORY,
                                      STATUS_FILE,        STATUS_COMPUTATION, STATUS_INPUT, STATUS_GATE,
                                      STATUS_INTERNAL,    STATUS_OK};
static const int exits[] = {130, 143, 2, 6, 4, 5, 3, 7, 1, 0};
enum { STATUSES = sizeof falling / sizeof *falling };

Test(status, exit_of_each)
{
    for (int i = 0; i < STATUSES; i++)
        cr_assert_eq(status_exit(falling[i]), exits[i], "%s: %d", status_text(falling[i]),
                     status_exit(falling[i]));
}

Test(status, the_worse_of_two_either_way_round)
{
    for (int i = 0; i < STATUSES; i++) {
        for (int j = 0; j < STATUSES; j++)
            cr_assert_eq(status_worse(falling[i], falling[j]), falling[i < j ? i : j]);
    }
}

Test(status, texts_differ)
{
    for (int i = 0; i < STATUSES; i++) {
        for (int j = 0; j < i; j++)
            cr_assert_str_neq(status_text(falling[i]), status_text(falling[j]));
    }
}

Test(errors, keeps_ten_and_counts_all)
{
    struct errors errors = {0};
    cr_assert_eq(errors_status(&errors), STATUS_OK);
    for (int i = 1; i <= 25; i++)
        cr_assert_eq(errors_add(&errors, STATUS_INPUT, "a.yaml", i, 2 * i, "number %d", i), STATUS_INPUT);
    cr_assert_eq(errors.count, 25);
    cr_assert_str_eq(errors.kept[9].text, "number 10");
    cr_assert_str_eq(errors.kept[9].file, "a.yaml");
    cr_assert_eq(errors.kept[9].line, 10);
    cr_assert_eq(errors.kept[9].column, 20);
    cr_assert_eq(errors_status(&errors), STATUS_INPUT);
}

Test(errors, worst_status_decides)
{
    struct errors errors = {0};
    errors_add(&errors, STATUS_INPUT, NULL, 0, 0, "a");
    errors_add(&errors, STATUS_FILE, NULL, 0, 0, "b");
    errors_add(&errors, STATUS_GATE, NULL, 0, 0, "c");
    cr_assert_eq(errors_status(&errors), STATUS_FILE);
    cr_assert_str_eq(errors.kept[0].file, "");
}

Test(errors, source_goes_to_the_newest_kept)
{
    struct errors errors = {0};
    errors_source(&errors, "nobody");
    for (int i = 0; i < ERRORS_KEPT; i++)
        errors_add(&errors, STATUS_INPUT, NULL, 1, 1, "e");
    errors_source(&errors, "tenth");
    cr_assert_str_eq(errors.kept[ERRORS_KEPT - 1].source, "tenth");
    errors_add(&errors, STATUS_INPUT, NULL, 1, 1, "not kept");
    errors_source(&errors, "eleventh");
    cr_assert_str_eq(errors.kept[ERRORS_KEPT - 1].source, "tenth");
}

Test(errors, long_texts_are_cut)
{
    struct errors errors = {0};
    static char text[4 * ERROR_TEXT];
    memset(text, 'x', sizeof text - 1);
    errors_add(&errors, STATUS_INPUT, text, 1, 1, "%s", text);
    errors_source(&errors, text);
    cr_assert_eq(strlen(errors.kept[0].text), ERROR_TEXT - 1);
    cr_assert_eq(strlen(errors.kept[0].file), ERROR_FILE - 1);
    cr_assert_eq(strlen(errors.kept[0].source), ERROR_LINE - 1);
}

Test(errors, a_missing_list_keeps_nothing)
{
    cr_assert_eq(errors_add(NULL, STATUS_FILE, "f", 1, 1, "text"), STATUS_FILE);
    errors_source(NULL, "x");
}
