#include "solver/base/memory.h"

#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <string.h>

Test(memory, blocks_are_zeroed_and_aligned)
{
    for (size_t count = 0; count < 200; count += 7) {
        unsigned char *block = memory_zeroed(count, 3);
        cr_assert(block != NULL);
        cr_assert_eq((uintptr_t)block % MEMORY_ALIGNMENT, 0);
        for (size_t i = 0; i < 3 * count; i++)
            cr_assert_eq(block[i], 0);
        memory_free(block);
    }
}

Test(memory, a_product_that_overflows_is_refused)
{
    cr_assert(memory_zeroed(SIZE_MAX / 8 + 2, 8) == NULL);
    cr_assert(memory_zeroed(SIZE_MAX, 1) == NULL);
    cr_assert(memory_zeroed(2, SIZE_MAX / 2 + 1) == NULL);
    cr_assert(memory_doubles(SIZE_MAX / 8) == NULL);
}

Test(memory, doubles_show_what_is_read_too_early)
{
    double *block = memory_doubles(5);
    for (int i = 0; i < 5; i++) {
#ifdef NDEBUG
        cr_assert_eq(block[i], 0.0);
#else
        cr_assert(isnan(block[i]));
#endif
    }
    memory_free(block);
}

Test(memory, resized_keeps_the_old_and_zeroes_the_new)
{
    int *block = memory_resized(NULL, 0, 3, sizeof *block);
    for (int i = 0; i < 3; i++)
        block[i] = i + 1;
    block = memory_resized(block, 3, 100, sizeof *block);
    for (int i = 0; i < 100; i++)
        cr_assert_eq(block[i], i < 3 ? i + 1 : 0);
    block = memory_resized(block, 100, 2, sizeof *block);
    cr_assert_eq(block[1], 2);
    memory_free(block);
}

Test(memory, texts)
{
    char *whole = memory_text("abc"), *part = memory_text_part("abcdef", 2), *empty = memory_text("");
    cr_assert_str_eq(whole, "abc");
    cr_assert_str_eq(part, "ab");
    cr_assert_str_eq(empty, "");
    memory_free(whole);
    memory_free(part);
    memory_free(empty);
    memory_free(NULL);
}

Test(memory, the_asked_failure_comes_once)
{
    for (size_t successes = 0; successes < 4; successes++) {
        size_t before = memory_failures();
        memory_fail_after(successes);
        for (size_t i = 0; i < 8; i++) {
            void *block = memory_zeroed(1, 1);
            cr_assert_eq(block == NULL, i == successes, "allocation %zu of %zu", i, successes);
            memory_free(block);
        }
        cr_assert_eq(memory_failures(), before + 1);
    }
    memory_fail_after(3);
    memory_fail_after(SIZE_MAX);
    for (int i = 0; i < 8; i++) {
        void *block = memory_zeroed(1, 1);
        cr_assert(block != NULL);
        memory_free(block);
    }
}

Test(memory, a_failed_resize_keeps_the_block)
{
    char *block = memory_text("kept");
    memory_fail_after(0);
    cr_assert(memory_resized(block, 5, 50, 1) == NULL);
    cr_assert_str_eq(block, "kept");
    memory_fail_after(0);
    cr_assert(memory_text("x") == NULL);
    memory_fail_after(0);
    cr_assert(memory_doubles(1) == NULL);
    memory_free(block);
}
