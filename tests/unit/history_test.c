#include "solver/impact/history.h"

#include <criterion/criterion.h>

#include "solver/impact/metrics.h"

/* The end of an impact: 1 ms without force on the anvil and with less than 5 g on the head, which moves away.
 */

static const double head = 5.0, light = 4.9, heavy = 5.1; /* [kg], [g] */

static double of_head(double g)
{
    return g * METRICS_GRAVITY * head;
}

/* Asks every 10 us from `from` to `to` [us]; what the last answer was. */
static int ask(struct history *history, int from, int to, double anvil, double g, double velocity)
{
    int over = 0;
    for (int t = from; t <= to; t += 10)
        over = history_over(history, t * 1e-6, anvil, of_head(g), head, velocity);
    return over;
}

static struct history fresh(void)
{
    struct history history;
    cr_assert_eq(history_make(&history, 0.01, 5.0, 1), STATUS_OK);
    return history;
}

Test(history, the_end_waits_a_millisecond_after_anvil_and_head_are_free)
{
    struct history history = fresh();
    cr_expect_not(ask(&history, 0, 2000, 1.0, light, 1.0), "the anvil is pressed");
    cr_expect_not(ask(&history, 2010, 5000, 0.0, heavy, 1.0), "the head is still pushed");
    cr_expect_not(ask(&history, 5010, 6010, 0.0, light, 1.0), "not for a millisecond yet");
    cr_expect_not(history.separated);
    cr_expect(ask(&history, 6020, 6030, 0.0, light, 1.0));
    cr_expect(history.separated);
    history_free(&history);
}

Test(history, a_new_touch_starts_the_millisecond_again)
{
    struct history history = fresh();
    ask(&history, 0, 900, 0.0, light, 1.0);
    ask(&history, 910, 910, 1.0, light, 1.0);
    cr_expect_not(ask(&history, 920, 1910, 0.0, light, 1.0), "the anvil was touched on the way");
    ask(&history, 1915, 1915, 0.0, heavy, 1.0);
    cr_expect_not(ask(&history, 1920, 2910, 0.0, light, 1.0), "the head was touched on the way");
    cr_expect(ask(&history, 2920, 2940, 0.0, light, 1.0));
    history_free(&history);
}

Test(history, a_head_on_its_way_down_has_its_impact_before_it)
{
    struct history history = fresh();
    cr_expect_not(ask(&history, 0, 5000, 0.0, 0.0, -1.0));
    cr_expect(ask(&history, 5010, 5010, 0.0, 0.0, 1.0));
    history_free(&history);
}
