#include "cases/path.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cases/reader.h"
#include "cases/source.h"
#include "solver/base/memory.h"
#include "solver/base/text.h"

enum { PATH_PARTS = NODE_DEPTH, PATH_LENGTH = NODE_KEY_LENGTH };

struct part {
    char text[PATH_LENGTH];
    int column; /* of its start, in characters from 0 */
};

struct path {
    const struct tree *tree;
    const struct node *place; /* of the whole path */
    const struct node *value;
    struct errors *errors;
    enum status status;
    size_t count;
    struct part parts[PATH_PARTS];
    int quiet;                /* behind a `*`: what does not fit is passed over */
    size_t matches;           /* places set or found */
    int finding;              /* collects places in place of setting them, and makes nothing */
    struct path_place *found; /* (matches) */
    char here[PATH_PLACE];    /* path to the node that is walked, while finding */
};

/* --- splitting --- */

static int characters(const char *text, size_t length)
{
    int count = 0;
    for (size_t i = 0; i < length; i++)
        count += ((unsigned char)text[i] & 0xc0) != 0x80;
    return count;
}

static void path_fail(struct path *path, enum status status)
{
    path->status = status_worse(path->status, status);
}

/* A message at column `offset` of the path. */
static void path_refuse(struct path *path, int offset, const char *text)
{
    const struct node *place = path->place;
    path_fail(path, tree_error(path->tree, place->file, place->line, place->column + place->quoted + offset,
                               path->errors, "%s", text));
}

/* Splits one path (without " + ") that starts `offset` characters into the whole. */
static int path_split(struct path *path, const char *text, size_t length, int offset)
{
    const char *end = text + length;
    path->count = 0;
    for (const char *start = text;; start++) {
        const char *dot = memchr(start, '.', (size_t)(end - start));
        const char *stop = dot ? dot : end;
        size_t part = (size_t)(stop - start);
        int column = offset + characters(text, (size_t)(start - text));
        if (part == 0 || part >= PATH_LENGTH || path->count == PATH_PARTS) {
            path_refuse(path, column, part == 0 ? "a part of the path is empty" : "the path is too long");
            return 0;
        }
        struct part *to = &path->parts[path->count++];
        memcpy(to->text, start, part);
        to->text[part] = '\0';
        to->column = column;
        if (!dot)
            return 1;
        start = dot;
    }
}

/* --- what is not there --- */

/* "liner.crown" for the first `count` parts, "the case" for none. */
static void path_write(const struct path *path, size_t count, char *text, size_t size)
{
    size_t length = 0;
    snprintf(text, size, "the case");
    for (size_t i = 0; i < count && length < size; i++)
        length += (size_t)snprintf(text + length, size - length, "%s%s", i ? "." : "", path->parts[i].text);
}

static const char *nearest_below(const struct path *path, const struct node *node, size_t at)
{
    const char *word = path->parts[at].text;
    const char *nearest = node_nearest(node, word);
    const struct node *regions = at == 1 ? node_get(node, "regions") : NULL;
    return nearest || !regions ? nearest : node_nearest(regions, word);
}

/* Part `at` names nothing in `node`. */
static void refuse_missing(struct path *path, const struct node *node, size_t at)
{
    char above[128], text[ERROR_TEXT];
    const char *name = path->parts[at].text;
    if (path->quiet)
        return;
    path_write(path, at, above, sizeof above);
    if (node->kind == NODE_SCALAR) {
        snprintf(text, sizeof text, "%s is a single value (%.60s) and has no %s", above, node->text, name);
    } else if (node->kind == NODE_SEQUENCE && isdigit((unsigned char)name[0])) {
        snprintf(text, sizeof text, "%s has %zu items, counted from 1; %s is none of them", above,
                 node->count, name);
    } else {
        const char *nearest = nearest_below(path, node, at);
        snprintf(text, sizeof text, "%s has no %s%s%.60s%s", above, name, nearest ? "; did you mean " : "",
                 nearest ? nearest : "", nearest ? "?" : "");
    }
    path_refuse(path, path->parts[at].column, text);
}

/* Part `at` names nothing that is written in `node`. */
static void refuse_unwritten(struct path *path, const struct node *node, size_t at)
{
    char above[128], text[ERROR_TEXT];
    if (path->quiet)
        return;
    if (nearest_below(path, node, at)) {
        refuse_missing(path, node, at);
        return;
    }
    path_write(path, at, above, sizeof above);
    snprintf(text, sizeof text,
             "%s has no %s written: write its value there, as one left to its default has no place", above,
             path->parts[at].text);
    path_refuse(path, path->parts[at].column, text);
}

/* --- finding --- */

static void walk(struct path *path, struct node *node, size_t at);

/* Item that a number or a name means; `count` when none. */
static size_t find_item(const struct node *list, const char *text)
{
    size_t named = node_named(list, text);
    if (named < list->count || strspn(text, "0123456789") < strlen(text))
        return named;
    unsigned long long number = strtoull(text, NULL, 10);
    return number >= 1 && number <= list->count ? (size_t)number - 1 : list->count;
}

/* What a path calls the item in a slot: its key, its name where that tells it, else its number. */
static const char *slot_name(const struct node *parent, size_t slot, char number[24])
{
    if (parent->kind == NODE_MAPPING)
        return parent->keys[slot]->text;
    const struct node *name = node_get(parent->items[slot], "name");
    if (name && name->kind == NODE_SCALAR && !strpbrk(name->text, ".+*") &&
        find_item(parent, name->text) == slot)
        return name->text;
    snprintf(number, 24, "%zu", slot + 1);
    return number;
}

static void note_place(struct path *path, const struct node *value)
{
    struct path_place *more =
        memory_resized(path->found, path->matches, path->matches + 1, sizeof *path->found);
    if (!more) {
        path_fail(path, STATUS_MEMORY);
        return;
    }
    path->found = more;
    struct path_place *into = &path->found[path->matches++];
    into->value = value;
    memcpy(into->path, path->here, sizeof into->path);
}

/* Follows a slot while places are found, the path to it kept in `here`. */
static void find_slot(struct path *path, struct node *parent, size_t slot, size_t next)
{
    char number[24];
    const char *name = slot_name(parent, slot, number);
    size_t length = strlen(path->here);
    if (length + strlen(name) + 2 > sizeof path->here) {
        path_refuse(path, 0, "the path is too long");
        return;
    }
    snprintf(path->here + length, sizeof path->here - length, "%s%s", length ? "." : "", name);
    if (next < path->count)
        walk(path, parent->items[slot], next);
    else
        note_place(path, parent->items[slot]);
    path->here[length] = '\0';
}

/* --- walking --- */

/* Goes on with part `next` in slot `slot` of `parent`, or sets the slot when there is none. */
static void walk_slot(struct path *path, struct node *parent, size_t slot, size_t next)
{
    if (path->finding) {
        find_slot(path, parent, slot, next);
        return;
    }
    if (next < path->count) {
        walk(path, parent->items[slot], next);
        return;
    }
    struct node *fresh = node_copy(path->value);
    if (!fresh) {
        path_fail(path, STATUS_MEMORY);
        return;
    }
    node_free(parent->items[slot]);
    parent->items[slot] = fresh;
    path->matches++;
}

static void walk_all(struct path *path, struct node *node, size_t at)
{
    int quiet = path->quiet;
    size_t matches = path->matches;
    path->quiet = 1;
    for (size_t i = 0; i < node->count; i++)
        walk_slot(path, node, i, at + 1);
    path->quiet = quiet;
    if (path->matches > matches || quiet)
        return;
    path_refuse(path, path->parts[at].column, "nothing here has the rest of this path");
}

/* Letters, digits, spaces, - and _, a letter first: nothing that would need quotes in a file. */
static int key_is_sound(const char *text)
{
    size_t left = strlen(text), step;
    if (!isalpha((unsigned char)text[0]) && (unsigned char)text[0] < 0x80)
        return 0;
    for (; left > 0; left -= step, text += step) {
        unsigned code;
        step = text_decode(text, left, &code);
        if (step == 0 || text_is_control(code) ||
            (code < 0x80 && !isalnum((int)code) && !strchr(" -_", (int)code)))
            return 0;
    }
    return 1;
}

/* A new key for part `at`, with `value`, which is taken over. */
static void create_key(struct path *path, struct node *node, size_t at, struct node *value)
{
    const struct part *part = &path->parts[at];
    if (!key_is_sound(part->text)) {
        node_free(value);
        path_refuse(path, part->column, "a key is made of letters, digits, spaces, - and _, a letter first");
        return;
    }
    const struct node *place = path->place;
    struct node *key = node_create(NODE_SCALAR, place->file, place->line,
                                   place->column + place->quoted + part->column, part->text);
    if (value && key && node_append(node, key, value) == STATUS_OK) {
        walk_slot(path, node, node->count - 1, at + 1);
        return;
    }
    node_free(key);
    node_free(value);
    path_fail(path, STATUS_MEMORY);
}

/* Regions of the node when it is `liner`, NULL else. */
static struct node *regions_of(const struct path *path, const struct node *node, size_t at)
{
    size_t slot = node_index(node, "regions");
    int is_liner = at == 1 && strcmp(path->parts[0].text, "liner") == 0;
    return is_liner && slot < node->count && node->items[slot]->kind == NODE_SEQUENCE ? node->items[slot]
                                                                                      : NULL;
}

/* A part of the case may have been left to its defaults, unless its name looks like a slip, or is that of a
 * region: the keys of the case are checked with the rest of the file. */
static int may_create_above(const struct path *path, const struct node *node, size_t at)
{
    const char *next = at + 1 < path->count ? path->parts[at + 1].text : "";
    return !path->quiet && isalpha((unsigned char)next[0]) && !regions_of(path, node, at) &&
           !node_nearest(node, path->parts[at].text);
}

/* Slot of the key that parts `at` up to *next (not included) spell; keys may hold dots. */
static size_t find_key(const struct path *path, const struct node *node, size_t at, size_t *next)
{
    char key[PATH_LENGTH * 2];
    size_t length = 0;
    for (size_t i = at; i < path->count; i++) {
        length += (size_t)snprintf(key + length, sizeof key - length, "%s%s", i > at ? "." : "",
                                   path->parts[i].text);
        if (length > NODE_KEY_LENGTH)
            break;
        size_t slot = node_index(node, key);
        *next = i + 1;
        if (slot < node->count)
            return slot;
    }
    return node->count;
}

static void walk_mapping(struct path *path, struct node *node, size_t at)
{
    size_t next = at + 1, slot = find_key(path, node, at, &next);
    struct node *regions = regions_of(path, node, at);
    size_t region = regions ? node_named(regions, path->parts[at].text) : 0;
    if (strcmp(path->parts[at].text, "*") == 0)
        walk_all(path, regions ? regions : node, at);
    else if (slot < node->count)
        walk_slot(path, node, slot, next);
    else if (regions && region < regions->count)
        walk_slot(path, regions, region, at + 1);
    else if (path->finding)
        refuse_unwritten(path, node, at);
    else if (at + 1 == path->count)
        create_key(path, node, at, node_create(NODE_SCALAR, path->place->file, 0, 0, ""));
    else if (may_create_above(path, node, at))
        create_key(
            path, node, at,
            node_create(NODE_MAPPING, path->place->file, path->place->line, path->place->column, NULL));
    else
        refuse_missing(path, node, at);
}

/* Sets what part `at` and the parts behind it name in `node`. */
static void walk(struct path *path, struct node *node, size_t at)
{
    if (node->kind == NODE_MAPPING) {
        walk_mapping(path, node, at);
        return;
    }
    if (node->kind == NODE_SEQUENCE && strcmp(path->parts[at].text, "*") == 0) {
        walk_all(path, node, at);
        return;
    }
    size_t slot = node->kind == NODE_SEQUENCE ? find_item(node, path->parts[at].text) : node->count;
    if (slot < node->count)
        walk_slot(path, node, slot, at + 1);
    else
        refuse_missing(path, node, at);
}

/* --- surface --- */

/* Where the path that starts at `text` ends: at a plus or at the end. */
static size_t term_length(const char *text, size_t length)
{
    const char *plus = memchr(text, '+', length);
    return plus ? (size_t)(plus - text) : length;
}

/* Walks every path of "A + B". */
static enum status walk_terms(struct path *path, const char *text, size_t length)
{
    for (size_t start = 0; start <= length && path->status != STATUS_MEMORY;) {
        size_t term = term_length(text + start, length - start), next = start + term + 1;
        while (term > 0 && text[start + term - 1] == ' ')
            term--;
        for (; term > 0 && text[start] == ' '; term--)
            start++;
        if (path_split(path, text + start, term, characters(text, start)))
            walk(path, path->tree->root, 0);
        start = next;
    }
    return path->status;
}

static enum status path_apply(const struct tree *tree, const struct node *place, const char *text,
                              size_t length, const struct node *value, struct errors *errors)
{
    struct path path = {.tree = tree, .place = place, .value = value, .errors = errors};
    return walk_terms(&path, text, length);
}

enum status path_find(const struct tree *tree, const struct node *place, const char *path,
                      struct path_place **places, size_t *count, struct errors *errors)
{
    struct path walked = {.tree = tree, .place = place, .errors = errors, .finding = 1};
    enum status status = walk_terms(&walked, path, strlen(path));
    if (status != STATUS_OK) {
        memory_free(walked.found);
        walked = (struct path){0};
    }
    *places = walked.found;
    *count = walked.matches;
    return status;
}

enum status path_set(struct tree *tree, const struct node *place, const char *path, const struct node *value,
                     struct errors *errors)
{
    return path_apply(tree, place, path, strlen(path), value, errors);
}

/* Blanks the path and the equals sign, so that the value keeps its columns. */
static void blank_path(char *text, size_t equals)
{
    size_t blanks = (size_t)characters(text, equals) + 1, rest = strlen(text + equals + 1);
    memmove(text + blanks, text + equals + 1, rest + 1);
    memset(text, ' ', blanks);
}

/* Value of a setting, with its places in `text`; *value NULL on errors. */
static enum status value_parse(struct tree *tree, int file, size_t equals, size_t *nodes, struct node **value,
                               struct errors *errors)
{
    const struct source_file *source = &tree->files[file];
    *value = NULL;
    char *blanked = memory_text_part(source->content, source->length);
    if (!blanked)
        return STATUS_MEMORY;
    blank_path(blanked, equals);
    const char *start = blanked + strspn(blanked, " ");
    enum status status;
    if (*start == '\0')
        status = tree_error(tree, file, 1, characters(source->content, equals) + 1, errors,
                            "a value is missing behind the equals sign");
    else
        status = reader_parse(tree, file, blanked, strlen(blanked), nodes, value, errors);
    if (status == STATUS_OK && (*value)->kind != NODE_SCALAR && *start != '[' && *start != '{') {
        status =
            node_error(tree, *value, errors,
                       "write a mapping as {key: value} and a list as [a, b]; quote the value if it is text");
        node_free(*value);
        *value = NULL;
    }
    memory_free(blanked);
    return status;
}

enum status path_set_text(struct tree *tree, const char *text, size_t *nodes, struct errors *errors)
{
    size_t length = strlen(text), equals = strcspn(text, "=");
    struct node *value = NULL;
    char *content = memory_text(text);
    int file = content ? source_add(tree, NODE_SET_FILE, "", content, length) : -1;
    if (file < 0)
        return STATUS_MEMORY;
    if (text[equals] == '\0' || equals == 0)
        return tree_error(tree, file, 1, 1, errors, "PATH=VALUE is wanted, such as shell.thickness=3 mm");
    enum status status = value_parse(tree, file, equals, nodes, &value, errors);
    const struct node place = {.kind = NODE_SCALAR, .file = file, .line = 1, .column = 1};
    if (status == STATUS_OK)
        status = path_apply(tree, &place, text, equals, value, errors);
    node_free(value);
    return status;
}
