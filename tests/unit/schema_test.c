/* The table of keys against itself, and the helpers that read by it. */

#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/schema.h"

Test(schema, every_key_stands_once_and_has_a_help)
{
    for (size_t i = 0; i < schema_count; i++) {
        const struct schema_key *key = &schema_table[i];
        cr_expect(schema_find(key->group, key->name) == key, "%s stands twice", key->name);
        cr_expect(key->help && key->help[0] != '\0', "%s has no help", key->name);
        cr_expect(strlen(key->help) < 160 && key->help[strlen(key->help) - 1] != '.',
                  "%s: help is one phrase", key->name);
    }
}

Test(schema, every_group_has_a_title_and_keys)
{
    for (int group = 0; group < SCHEMA_GROUP_COUNT; group++) {
        size_t keys = 0;
        for (size_t i = 0; i < schema_count; i++)
            keys += schema_table[i].group == (enum schema_group)group;
        cr_expect(schema_group_title(group), "group %d has no title", group);
        cr_expect(keys > 0, "%s has no keys", schema_group_title(group));
    }
}

/* A default must pass the same check as what a user writes. */
Test(schema, every_default_is_allowed)
{
    struct tree tree = {0};
    for (size_t i = 0; i < schema_count; i++) {
        const struct schema_key *key = &schema_table[i];
        char text[64];
        if (!key->fallback || key->kind == SCHEMA_OWN || key->fallback[0] == '\0')
            continue;
        snprintf(text, sizeof text, "%s", key->fallback);
        struct node node = {.kind = NODE_SCALAR, .text = text};
        cr_expect(schema_check_value(&tree, &node, key, NULL), "%s: %s", key->name, text);
    }
}

Test(schema, ranges_are_ranges)
{
    for (size_t i = 0; i < schema_count; i++) {
        const struct schema_key *key = &schema_table[i];
        if (key->kind == SCHEMA_QUANTITY || key->kind == SCHEMA_WHOLE || key->kind == SCHEMA_QUANTITIES)
            cr_expect(key->low < key->high, "%s", key->name);
        if (key->kind == SCHEMA_LIST)
            cr_expect(key->items > 0, "%s", key->name);
        if (key->kind == SCHEMA_CHOICE)
            cr_expect(strstr(key->choices, ", "), "%s", key->name);
    }
}

Test(schema, names)
{
    static const char *const good[] = {"a", "brow", "Vision opening 2", "x-1_y",
                                       "abcdefghijklmnopqrstuvwxyzabcdefghijklmn"};
    static const char *const bad[] = {
        "",   "2nd", " a",           "a ",   "a.b",
        "a*", "a/b", "br\xc3\xbcke", "a\nb", "abcdefghijklmnopqrstuvwxyzabcdefghijklmno"};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        cr_expect(schema_is_name(good[i]), "%s", good[i]);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        cr_expect_not(schema_is_name(bad[i]), "%s", bad[i]);
}

Test(schema, absent_mappings_give_defaults)
{
    cr_assert_eq(schema_quantity(NULL, SCHEMA_SOLVER, "rings"), 48);
    cr_assert_float_eq(schema_quantity(NULL, SCHEMA_SOLVER, "cell"), 1.75e-3, 1e-15);
    cr_assert(isnan(schema_quantity(NULL, SCHEMA_LAYER, "density")));
    cr_assert_str_eq(schema_text(NULL, SCHEMA_HEADFORM, "set"), "en-960");
    cr_assert_str_eq(schema_text(NULL, SCHEMA_HEADFORM, "size"), "");
    cr_assert_eq(schema_flag(NULL, SCHEMA_SOLVER, "gravity"), 1);
    cr_assert_eq(schema_flag(NULL, SCHEMA_REGION, "open"), 0);
    cr_assert(isnan(schema_item(NULL, SCHEMA_REGION, "centre", 0)));
}
