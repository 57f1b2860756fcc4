#include "solver/impact/filter.h"

#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "solver/base/memory.h"

enum { COUNT = 400 };

static void noise(double *values)
{
    for (size_t i = 0; i < COUNT; i++)
        values[i] = (double)rand() / RAND_MAX - 0.3;
}

/* Both passes together weigh past and future alike, so filtering commutes with reversal; a tail that is cut
 * off too early, or a start-up that is not at rest, breaks this at the ends. */
Test(filter, filtering_commutes_with_reversal)
{
    static const double cfc[] = {1000, 180, 60, 10};
    double input[COUNT], reversed[COUNT], output[COUNT];
    srand(3);
    noise(input);
    for (size_t k = 0; k < 4; k++) {
        for (size_t i = 0; i < COUNT; i++)
            reversed[i] = input[COUNT - 1 - i];
        cr_assert_eq(filter_apply(cfc[k], 5e-5, COUNT, input, output), STATUS_OK);
        cr_assert_eq(filter_apply(cfc[k], 5e-5, COUNT, reversed, reversed), STATUS_OK);
        for (size_t i = 0; i < COUNT; i++)
            cr_expect_float_eq(output[i], reversed[COUNT - 1 - i], 1e-9, "CFC %g, sample %zu", cfc[k], i);
    }
}

Test(filter, zeros_before_the_signal_change_nothing)
{
    double input[COUNT] = {0}, output[COUNT], shorter[COUNT];
    srand(4);
    noise(input);
    for (size_t i = 0; i < 200; i++)
        input[i] = 0;
    cr_assert_eq(filter_apply(1000, 5e-5, COUNT, input, output), STATUS_OK);
    cr_assert_eq(filter_apply(1000, 5e-5, COUNT - 200, input + 200, shorter), STATUS_OK);
    for (size_t i = 0; i < COUNT - 200; i++)
        cr_expect_eq(output[i + 200], shorter[i]);
}

/* fd = 2.0775 CFC must lie below half the sampling rate: 4155 Hz for CFC 1000. */
Test(filter, too_slow_sampling_is_refused)
{
    double input[COUNT], output[COUNT];
    struct filter filter;
    noise(input);
    cr_expect(filter_cfc(1000, 1 / 4200.0, &filter));
    cr_expect_not(filter_cfc(1000, 1 / 4150.0, &filter));
    cr_expect_not(filter_cfc(0, 1e-5, &filter));
    cr_expect_not(filter_cfc(1000, NAN, &filter));
    output[7] = 1;
    cr_expect_eq(filter_apply(1000, 1 / 4150.0, COUNT, input, output), STATUS_INPUT);
    cr_expect_eq(output[7], 0);
}

Test(filter, out_of_memory)
{
    double input[COUNT];
    noise(input);
    memory_fail_after(0);
    cr_expect_eq(filter_apply(1000, 5e-5, COUNT, input, input), STATUS_MEMORY);
    memory_fail_after(SIZE_MAX);
    cr_expect_eq(input[0], 0);
}
