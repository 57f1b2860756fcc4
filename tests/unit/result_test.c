/* Which hits are the same one, in one result and in two. */

#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>

#include "cases/result.h"

static struct hit_result oblique(int impact)
{
    return (struct hit_result){.impact = impact,
                               .hit = 1,
                               .size = "M",
                               .site = "rear",
                               .anvil = "flat",
                               .angle = 0.5,
                               .towards = {0.25, -1.0},
                               .face_friction = 0.35,
                               .head_friction = 0.16,
                               .speed = 7.5,
                               .temperature = 23};
}

/* Each of these alone makes another hit of it. */
Test(result, conditions_one_by_one)
{
    const struct hit_result hit = oblique(1);
    enum { CHANGES = 11, FREE = 2 };
    struct hit_result other[CHANGES];
    for (int i = 0; i < CHANGES; i++)
        other[i] = hit;
    other[0].speed = 7.0; /* the first FREE are no part of the setting */
    other[1].temperature = -20;
    other[2].hit = 2;
    other[3].size[0] = 'L';
    other[4].site[0] = 'R';
    snprintf(other[5].anvil, sizeof other[5].anvil, "own flat");
    other[6].angle += 1e-4;
    other[7].towards[0] = -0.25;
    other[8].towards[1] = 1.0;
    other[9].face_friction = 0.55;
    other[10].head_friction = NAN;
    cr_expect(hit_same_conditions(&hit, &hit));
    for (int i = 0; i < CHANGES; i++) {
        cr_expect_not(hit_same_conditions(&hit, &other[i]), "%d", i);
        cr_expect_not(hit_same_conditions(&other[i], &hit), "%d", i);
        cr_expect_eq(hit_same_setting(&hit, &other[i]), i < FREE, "%d", i);
    }
}

/* Square on there is no `towards`, in a pad no friction: none is as good as none. Angles of files are kept in
 * degrees. */
Test(result, conditions_without_a_value)
{
    struct hit_result a = oblique(1), b = oblique(2);
    b.angle = nextafter(b.angle, 1.0);
    b.towards[1] = nextafter(b.towards[1], 0.0);
    cr_expect(hit_same_conditions(&a, &b));
    a.towards[0] = a.towards[1] = a.face_friction = a.head_friction = NAN;
    cr_expect_not(hit_same_conditions(&a, &b));
    b = a;
    cr_expect(hit_same_conditions(&a, &b));
}

/* Of several equal ones that of the same number, wherever it stands; else the first. */
Test(result, counterparts)
{
    struct hit_result hits[] = {oblique(1), oblique(2), oblique(3), oblique(4)}, as = oblique(3);
    struct case_result result = {.hit_count = 4, .hits = hits};
    hits[0].head_friction = 0.5;
    cr_expect_eq(hit_counterpart(&result, &as), &hits[2]);
    as.impact = 1;
    cr_expect_eq(hit_counterpart(&result, &as), &hits[1]);
    as.towards[0] = 1.5;
    cr_expect_null(hit_counterpart(&result, &as));
    as = hits[0];
    as.impact = 9;
    cr_expect_eq(hit_counterpart(&result, &as), &hits[0]);
    result.hit_count = 0;
    cr_expect_null(hit_counterpart(&result, &as));
}
