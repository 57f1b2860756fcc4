#ifndef FOAMPULSE_CASES_NODE_H
#define FOAMPULSE_CASES_NODE_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * The tree of a YAML file, each node with its place, read from libyaml's events.
 *
 * Includes are merged and --set values applied before anyone else sees the tree. Refused while reading, each
 * with its own message: more than 1 MiB, depth above 32, more than 100,000 nodes, anchors, aliases, tags,
 * merge keys, keys that are not scalars, a second document, NUL in a scalar, repeated keys, bad UTF-8.
 */

enum node_kind { NODE_SCALAR, NODE_MAPPING, NODE_SEQUENCE };

enum { NODE_DEPTH = 32, NODE_LIMIT = 100000, NODE_TEXT_LIMIT = 1 << 20, NODE_KEY_LENGTH = 256 };

/* Stands for the command line in place of a file name; messages about it have STATUS_USAGE. */
#define NODE_SET_FILE "--set"

struct node {
    enum node_kind kind;
    int line, column;    /* from 1, in characters */
    int file;            /* index into tree.files */
    int quoted;          /* scalar was quoted or a block (| or >): text, never a number or boolean */
    char *text;          /* scalar: its text, UTF-8, no NUL; else NULL */
    size_t count;        /* mapping: pairs; sequence: items */
    struct node **keys;  /* mapping: (count) scalar nodes; else NULL */
    struct node **items; /* mapping: (count) values; sequence: (count) items */
};

/* One file that took part: its name as the user wrote it, its whole text, and who included it. */
struct source_file {
    char *name;
    char *path; /* without links, to tell cycles; "" for standard input and --set */
    char *content;
    size_t length;
    int included_from; /* index, -1 for the case file itself and for --set */
    int included_line;
};

struct tree {
    struct node *root;
    size_t file_count;
    struct source_file *files;
};

/* Reads `path` ("-": standard input), merges includes (relative to the including file, within the folder
 * tree of the case; cycles refused), applies `sets` ("PATH=VALUE"). On errors: they are in `errors`, the
 * tree is zeroed. */
enum status tree_read(const char *path, const char *const *sets, size_t set_count, struct tree *tree,
                      struct errors *errors);

/* The same from memory; `name` stands in messages. No includes allowed. */
enum status tree_parse(const char *name, const char *content, size_t length, struct tree *tree,
                       struct errors *errors);

void tree_free(struct tree *tree);

/* Value of a key in a mapping, NULL when absent or not a mapping. */
const struct node *node_get(const struct node *mapping, const char *key);

/* Adds an error at a node, with the file, the include chain and the source line filled in. Returns its
 * status: STATUS_INPUT, or STATUS_USAGE for what --set gave. */
enum status node_error(const struct tree *tree, const struct node *node, struct errors *errors,
                       const char *format, ...) __attribute__((format(printf, 4, 5)));

/* The same at any place of a file. Line 0: the file as a whole. */
enum status tree_error(const struct tree *tree, int file, int line, int column, struct errors *errors,
                       const char *format, ...) __attribute__((format(printf, 6, 7)));

/* A fresh node without content; `text` (scalars) is copied, NULL leaves it out. NULL when memory is out. */
struct node *node_create(enum node_kind kind, int file, int line, int column, const char *text);

/* Appends a pair (mapping) or an item (sequence, key NULL), which the parent then owns. On STATUS_MEMORY
 * the caller still owns both. */
enum status node_append(struct node *parent, struct node *key, struct node *item);

/* Deep copy with all places kept; NULL when memory is out. */
struct node *node_copy(const struct node *node);

/* Deep copy of a tree and its files, all places kept. On STATUS_MEMORY the copy is zeroed. */
enum status tree_copy(const struct tree *tree, struct tree *copy);

/* Takes pair or item `at` out of its parent and releases it. */
void node_remove(struct node *parent, size_t at);

/* Index of a key in a mapping; `count` of the node when absent or not a mapping. */
size_t node_index(const struct node *mapping, const char *key);

/* Index of the item of a list whose `name` is this; `count` of the node when there is none. */
size_t node_named(const struct node *list, const char *name);

/* The key of a mapping, or `name` in a list, that is nearest to `word`; NULL when none is near. */
const char *node_nearest(const struct node *node, const char *word);

void node_free(struct node *node);

/* Length of tree_text without the closing NUL. */
size_t tree_text_length(const struct tree *tree);

/* Writes the tree back as plain YAML into a fresh text (memory_free), the resolved case of a result file;
 * NULL when memory is out. */
char *tree_text(const struct tree *tree);

#endif
