#include "solver/base/isa.h"

#include <criterion/criterion.h>
#include <stdlib.h>

/* Each Criterion test is a process of its own, so that the choice is made anew in each. */

Test(isa, names)
{
    cr_assert_str_eq(isa_name(ISA_BASE), "base");
    cr_assert_str_eq(isa_name(ISA_V3), "v3");
    cr_assert_str_eq(isa_name(ISA_V4), "v4");
}

Test(isa, a_wish_lowers_the_choice)
{
    setenv("FOAMPULSE_ISA", "base", 1);
    cr_assert_eq(isa_chosen(), ISA_BASE);
    setenv("FOAMPULSE_ISA", "v4", 1);
    cr_assert_eq(isa_chosen(), ISA_BASE, "the choice is made once");
}

Test(isa, an_unknown_wish_changes_nothing)
{
    setenv("FOAMPULSE_ISA", "v9", 1);
    enum isa chosen = isa_chosen();
    cr_assert_eq(isa_force(ISA_V4), chosen);
    cr_assert_eq(chosen, isa_force(chosen));
}

Test(isa, v3_is_never_raised_to_v4)
{
    setenv("FOAMPULSE_ISA", "v3", 1);
    cr_assert_leq(isa_chosen(), ISA_V3);
}

Test(isa, force_goes_down_and_up_again)
{
    unsetenv("FOAMPULSE_ISA");
    enum isa best = isa_chosen();
    for (enum isa isa = ISA_BASE; isa < ISA_COUNT; isa++) {
        enum isa used = isa_force(isa);
        cr_assert_eq(used, isa_chosen());
        cr_assert_eq(used, isa <= best ? isa : best);
    }
    cr_assert_eq(isa_force(ISA_BASE), ISA_BASE);
    cr_assert_eq(isa_force(best), best, "force is not bound by what was forced before");
}

/* The name of a kernel's function carries its set. */
#define ISA v3
static int ISA_NAME(twice)(int x)
{
    return 2 * x;
}
#undef ISA

Test(isa, function_names)
{
    cr_assert_eq(twice_v3(21), 42);
}
