#ifndef FOAMPULSE_CASES_SCHEMA_H
#define FOAMPULSE_CASES_SCHEMA_H

#include <stddef.h>

#include "cases/node.h"
#include "solver/base/status.h"
#include "solver/base/units.h"

/*
 * Every key of a case file: where it stands, what it takes, its range, default and help.
 *
 * One const table drives everything that must agree about a key: refusal of unknown keys with the nearest
 * known one, units and ranges, the defaults that the case is filled with, and the reference of all keys.
 * Mappings of one shape are a group; a key that holds such mappings names the group.
 */

enum schema_group {
    SCHEMA_CASE,
    SCHEMA_HEADFORM,
    SCHEMA_SHELL,
    SCHEMA_COMFORT,
    SCHEMA_WET,
    SCHEMA_FIT,
    SCHEMA_LINER,
    SCHEMA_REGION,
    SCHEMA_REGION_COMFORT,
    SCHEMA_AREA,
    SCHEMA_LAYER,
    SCHEMA_PART,
    SCHEMA_IMPACT,
    SCHEMA_ANVIL,
    SCHEMA_FRICTION,
    SCHEMA_FOAM,
    SCHEMA_CURVE,
    SCHEMA_PAD,
    SCHEMA_STRIKER,
    SCHEMA_SOLVER,
    SCHEMA_SIZE, /* keys that are no paths of the case */
    SCHEMA_PROGRAMME_USE,
    SCHEMA_PROGRAMME,
    SCHEMA_PROGRAMME_HEADFORMS,
    SCHEMA_PROGRAMME_SAMPLE,
    SCHEMA_TEST,
    SCHEMA_SWEEP,
    SCHEMA_VARY,
    SCHEMA_TUNE,
    SCHEMA_KEEP,
    SCHEMA_TOLERANCE,
    SCHEMA_SCATTER,
    SCHEMA_GROUP_COUNT
};

enum schema_kind {
    SCHEMA_QUANTITY,   /* a value of `quantity`, from `low` to `high` */
    SCHEMA_WHOLE,      /* a whole number from `low` to `high` */
    SCHEMA_TEXT,       /* any text */
    SCHEMA_NAME,       /* 1-40 letters, digits, spaces, - and _, a letter first */
    SCHEMA_CHOICE,     /* one of `choices` */
    SCHEMA_BOOLEAN,    /* true or false */
    SCHEMA_QUANTITIES, /* list of exactly `items` values of `quantity` */
    SCHEMA_DIRECTION,  /* [elevation, azimuth] */
    SCHEMA_MAPPING,    /* keys of `inner` */
    SCHEMA_LIST,       /* 1 to `items` mappings of `inner` */
    SCHEMA_NAMED,      /* names of the user's, each a mapping of `inner` */
    SCHEMA_OWN         /* several forms, told in the help and checked where the key is read */
};

struct schema_key {
    enum schema_group group;
    const char *name;
    enum schema_kind kind;
    enum quantity quantity;
    double low, high; /* SI, inclusive; low SCHEMA_ABOVE_0: above zero */
    size_t items;
    enum schema_group inner;
    const char *choices;  /* "bonded, loose" */
    const char *fallback; /* the default as a user would write it; NULL: none, or told in the help */
    const char *help;
};

/* Stands in `low` for "above zero, zero itself not allowed". */
#define SCHEMA_ABOVE_0 2.2250738585072014e-308

/* All keys, group after group. */
extern const struct schema_key schema_table[];
extern const size_t schema_count;

/* Title of a group in messages and the reference: "a layer", "the shell"; static. */
const char *schema_group_title(enum schema_group group);

/* The key of a group; NULL when there is none. */
const struct schema_key *schema_find(enum schema_group group, const char *name);

/* Checks a mapping and all below it against the table; every fault is added to `errors` at its place. 1 when
 * there was none. */
int schema_check(const struct tree *tree, const struct node *mapping, enum schema_group group,
                 struct errors *errors);

/* Checks one value against a key's row; 1 when it holds. */
int schema_check_value(const struct tree *tree, const struct node *value, const struct schema_key *key,
                       struct errors *errors);

/* 1 when a text is a name as the contract has it: 1-40 letters, digits, spaces, - and _, a letter first. */
int schema_is_name(const char *text);

/*
 * Values of a mapping that schema_check has found sound: the user's, or the table's default. `mapping` may be
 * NULL: then all defaults.
 */

/* SI value; NaN when neither is given. */
double schema_quantity(const struct node *mapping, enum schema_group group, const char *name);

/* Text, "" when neither is given. Lives as long as the tree. */
const char *schema_text(const struct node *mapping, enum schema_group group, const char *name);

/* Boolean; 0 when neither is given. */
int schema_flag(const struct node *mapping, enum schema_group group, const char *name);

/* Item `index` (from 0) of a list of quantities or of a direction; NaN when the key is absent. */
double schema_item(const struct node *mapping, enum schema_group group, const char *name, size_t index);

/* Adds "WHAT 'word' is not known; nearest: ...; allowed: ..." at a node. */
enum status schema_unknown(const struct tree *tree, const struct node *node, const char *what,
                           const char *word, const char *const *names, size_t count, struct errors *errors);

#endif
