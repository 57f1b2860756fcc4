#include <assert.h>
#include <stdio.h>
#include <string.h>

#include "cases/case.h"
#include "cases/family.h"
#include "cases/fill.h"
#include "cases/fill_foams.h"
#include "cases/fill_headform.h"
#include "cases/fill_helmet.h"
#include "cases/fill_impacts.h"
#include "cases/fill_programmes.h"
#include "cases/fill_regions.h"
#include "cases/fill_sites.h"
#include "cases/fill_sizes.h"
#include "cases/fill_sweep.h"
#include "cases/fill_tune.h"
#include "cases/fill_tolerance.h"
#include "cases/path.h"
#include "cases/schema.h"
#include "cases/stack.h"
#include "solver/base/digest.h"
#include "solver/base/memory.h"

/*
 * A case is read in three rounds, each only when the one before found no fault, so that one fault does not
 * show up as ten: the tree (cases/node), keys and values (cases/schema), and what they mean together
 * (fill_*). Within a round, all faults are found.
 */

/* The hash of a case: the first 128 bits of SHA-256 of its resolved text. */
static void hash_text(const char *text, char hash[33])
{
    char hex[DIGEST_HEX];
    digest_hex(text, strlen(text), hex);
    snprintf(hash, 33, "%.32s", hex);
}

static void fill_texts(struct fill *fill, const char *path)
{
    struct case_file *file = fill->file;
    file->path = fill_text(fill, path);
    file->title = fill_text(fill, schema_text(fill->root, SCHEMA_CASE, "title"));
    file->notes = fill_text(fill, schema_text(fill->root, SCHEMA_CASE, "notes"));
    file->text = tree_text(&file->tree);
    fill->out_of_memory |= !file->text;
}

/* `text` with the programme behind it as comments, fresh; NULL when memory is out. */
static char *with_programme(const char *text, const struct case_programme *programme, const char *content)
{
    size_t lines = 2;
    for (const char *c = content; *c; c++)
        lines += *c == '\n';
    char *all = memory_zeroed(strlen(text) + strlen(content) + 2 * lines + CASE_NAME + 32, 1), *to = all;
    if (!all)
        return NULL;
    to += sprintf(to, "%s\n# programme %s\n# ", text, programme->name);
    for (const char *c = content; *c; c++) {
        *to++ = *c;
        if (*c == '\n' && c[1])
            to += sprintf(to, "# ");
    }
    return all;
}

/* The resolved text holds the programmes too, so that a result tells what it was computed for; its hash. */
static void fill_hash(struct fill *fill)
{
    struct case_file *file = fill->file;
    for (size_t i = 0; file->text && i < file->programme_count; i++) {
        const struct case_programme *programme = &file->programmes[i];
        char *all = with_programme(file->text, programme, file->tree.files[programme->root->file].content);
        memory_free(file->text);
        file->text = all;
    }
    fill->out_of_memory |= !file->text;
    if (file->text)
        hash_text(file->text, file->hash);
}

/* Worst status of the messages from number `first` on. A message beyond those kept is like the last kept. */
static enum status status_since(const struct errors *errors, size_t first)
{
    enum status status = errors->count > first ? STATUS_INPUT : STATUS_OK;
    for (size_t i = first; i < errors->count && i < ERRORS_KEPT; i++)
        status = status_worse(status, errors->kept[i].status);
    return status;
}

/* The helmet and its impacts. Sites need a sound map, the map sound stacks. */
static void fill_helmet(struct fill *fill, size_t errors_before)
{
    const struct node *striker = node_get(fill->root, "striker");
    if (striker)
        node_error(&fill->file->tree, striker, fill->errors,
                   "`striker` falls on a `pad`, which this case has not");
    fill_headform(fill);
    fill_shell(fill);
    fill_comfort(fill);
    fill_regions(fill);
    if (fill->out_of_memory || fill->errors->count > errors_before)
        return;
    if (fill->size)
        fill_take_up(fill);
    else if (fill->sizes && stack_head_missing(&fill->file->headform))
        node_error(
            &fill->file->tree, fill->file->headform.place, fill->errors,
            "the shell of all sizes is built round this headform: give its `circumference` or `radius`");
    if (fill->errors->count > errors_before)
        return;
    fill_thickness(fill);
    fill_map(fill);
    if (fill->out_of_memory || fill->errors->count > errors_before)
        return;
    if (!stack_head_missing(&fill->file->headform))
        fill_hidden(fill);
    fill_sites(fill);
    fill_impacts(fill, fill->file->headform.mass);
    fill_programmes(fill, fill->file->headform.mass);
}

static void fill_case(struct fill *fill, const char *path)
{
    size_t errors_before = fill->errors->count;
    fill_texts(fill, path);
    fill_foams(fill);
    if (node_get(fill->root, "pad")) {
        fill_pad(fill);
        fill_impacts(fill, fill->file->pad.striker_mass);
        fill_programmes(fill, fill->file->pad.striker_mass);
    } else {
        fill_helmet(fill, errors_before);
    }
    fill_limits(fill);
    const struct node *limits = node_get(fill->root, "limits");
    if (limits && limits->kind == NODE_SCALAR && limits->text[0] && fill->errors->count == errors_before)
        fill_limits_of(fill, limits);
    fill_model(fill);
    fill_sweep(fill);
    fill_tune(fill);
    fill_tolerance(fill);
    fill_hash(fill);
}

/* --- sizes --- */

/* Adds what was found in one size to the messages of its case. */
static void report_size(const char *size, const struct errors *found, struct errors *errors)
{
    for (size_t i = 0; i < found->count; i++) {
        const struct error *error = &found->kept[i < ERRORS_KEPT ? i : ERRORS_KEPT - 1];
        errors_add(errors, error->status, error->file, error->line, error->column, "size %s: %s", size,
                   error->text);
        errors_source(errors, error->source);
        errors_included(errors, error->included);
    }
}

/* A tree for each size, with its values set and their form checked. */
static enum status make_sizes(struct fill *family, struct errors *errors)
{
    struct case_file *file = family->file;
    size_t count = family->sizes->count;
    enum status status = STATUS_OK;
    file->sizes = memory_zeroed(count, sizeof *file->sizes);
    if (!file->sizes)
        return STATUS_MEMORY;
    for (size_t i = 0; i < count && status != STATUS_MEMORY; i++) {
        struct case_file *size = &file->sizes[file->size_count++];
        fill_name(size->size, family->sizes->keys[i]->text);
        enum status found = tree_copy(&file->tree, &size->tree);
        if (found == STATUS_OK)
            found = fill_size_values(family, i, &size->tree, errors);
        if (found == STATUS_OK && !schema_check(&size->tree, size->tree.root, SCHEMA_CASE, errors))
            found = STATUS_INPUT;
        status = status_worse(status, found);
    }
    return status;
}

/* Fills one size; its impacts are numbered behind those of the sizes before it. */
static enum status fill_size(struct fill *family, size_t at, const char *path, int *last)
{
    struct errors found = {0};
    struct case_file *file = &family->file->sizes[at];
    struct fill fill = {.file = file,
                        .root = file->tree.root,
                        .registry = family->registry,
                        .errors = &found,
                        .sizes = family->sizes,
                        .size = family->sizes->items[at],
                        .family = family->file};
    fill_case(&fill, path);
    report_size(file->size, &found, family->errors);
    for (size_t i = 0; i < file->impact_count; i++)
        file->impacts[i].number = ++*last;
    return fill.out_of_memory ? STATUS_MEMORY : STATUS_OK;
}

static enum status fill_family(struct fill *family, const char *path)
{
    struct case_file *file = family->file;
    size_t errors_before = family->errors->count;
    int last = 0;
    fill_case(family, path);
    enum status status = family->out_of_memory ? STATUS_MEMORY : STATUS_OK;
    if (family->errors->count > errors_before)
        return status;
    for (size_t i = 0; i < file->size_count && status == STATUS_OK; i++)
        status = fill_size(family, i, path, &last);
    case_drop_impacts(file);
    if (last > CASE_IMPACTS)
        node_error(&file->tree, family->sizes, family->errors,
                   "%d impacts in all sizes together; a case takes %d at most", last, CASE_IMPACTS);
    if (status == STATUS_OK && family->errors->count == errors_before)
        status = family_cover(file, family->sizes, family->errors);
    return status;
}

/* The second and third round of a family: form of its sizes, then what all of it means. */
static enum status load_family(struct fill *fill, const char *path)
{
    fill->sizes = node_get(fill->root, "sizes");
    if (!fill_sizes_check(fill))
        return STATUS_INPUT;
    enum status status = make_sizes(fill, fill->errors);
    return status == STATUS_OK ? fill_family(fill, path) : status;
}

/* --- the case --- */

static enum status load(struct fill *fill, const char *path)
{
    enum status status = registry_load(path, &fill->registry, fill->errors);
    if (status == STATUS_OK && node_get(fill->root, "sizes") && !node_get(fill->root, "pad"))
        status = load_family(fill, path);
    else if (status == STATUS_OK)
        fill_case(fill, path);
    registry_free(&fill->registry);
    return status;
}

/* The rounds after the tree, for a case whose tree is read. On errors the case is zeroed. */
static enum status load_tree(const char *path, struct case_file *file, struct errors *errors)
{
    struct fill fill = {.file = file, .root = file->tree.root, .errors = errors};
    size_t errors_before = errors->count;
    enum status status = STATUS_OK;
    if (schema_check(&file->tree, fill.root, SCHEMA_CASE, errors))
        status = load(&fill, path);
    if (status == STATUS_OK)
        status = fill.out_of_memory ? STATUS_MEMORY : status_since(errors, errors_before);
    if (status != STATUS_OK)
        case_free(file);
    return status;
}

enum status case_load(const char *path, const char *const *sets, size_t set_count, struct case_file *file,
                      struct errors *errors)
{
    *file = (struct case_file){0};
    enum status status = tree_read(path, sets, set_count, &file->tree, errors);
    return status == STATUS_OK ? load_tree(path, file, errors) : status;
}

/* --- layouts --- */

static enum status change_tree(struct tree *tree, const struct case_change *change, struct errors *errors)
{
    static const struct node nowhere;
    const struct node *place = change->place ? change->place : &nowhere;
    struct node *value = node_create(NODE_SCALAR, place->file, place->line, place->column, change->value);
    if (!value)
        return STATUS_MEMORY;
    enum status status = path_set(tree, change->key ? change->key : &nowhere, change->path, value, errors);
    node_free(value);
    return status;
}

/* A copy of a case's tree without its studies. */
static enum status copy_bare(const struct case_file *base, struct tree *tree)
{
    static const char *const studies[] = {"sweep", "tune", "tolerance"};
    enum status status = tree_copy(&base->tree, tree);
    for (size_t i = 0; status == STATUS_OK && i < sizeof studies / sizeof *studies; i++) {
        size_t at = node_index(tree->root, studies[i]);
        if (at < tree->root->count)
            node_remove(tree->root, at);
    }
    return status;
}

enum status case_load_changed(const struct case_file *base, const struct case_change *changes, size_t count,
                              struct case_file *file, struct errors *errors)
{
    *file = (struct case_file){0};
    enum status status = copy_bare(base, &file->tree);
    for (size_t i = 0; i < count && status == STATUS_OK; i++)
        status = change_tree(&file->tree, &changes[i], errors);
    if (status != STATUS_OK) {
        case_free(file);
        return status;
    }
    return load_tree(base->path, file, errors);
}

/* How many single values of a tree read like this. */
static size_t count_values(const struct node *node, const char *text)
{
    size_t count = node->kind == NODE_SCALAR && strcmp(node->text, text) == 0;
    for (size_t i = 0; i < node->count; i++)
        count += count_values(node->items[i], text);
    return count;
}

/* Every mark still stands where it was set, so no two paths name the same place. */
static enum status check_marks(const struct tree *tree, const struct case_change *marks, size_t count,
                               const size_t *places, struct errors *errors)
{
    static const struct node nowhere;
    for (size_t i = 0; i < count; i++) {
        if (count_values(tree->root, marks[i].value) < places[i])
            return node_error(tree, marks[i].key ? marks[i].key : &nowhere, errors,
                              "%s is also set by another path below it: a value has one factor",
                              marks[i].path);
    }
    return STATUS_OK;
}

enum status case_frame(const struct case_file *base, const struct case_change *marks, size_t count,
                       char **text, struct errors *errors)
{
    struct tree tree = {0};
    size_t *places = memory_zeroed(count + 1, sizeof *places);
    *text = NULL;
    enum status status = places ? copy_bare(base, &tree) : STATUS_MEMORY;
    for (size_t i = 0; i < count && status == STATUS_OK; i++) {
        status = change_tree(&tree, &marks[i], errors);
        places[i] = status == STATUS_OK ? count_values(tree.root, marks[i].value) : 0;
    }
    if (status == STATUS_OK)
        status = check_marks(&tree, marks, count, places, errors);
    if (status == STATUS_OK) {
        *text = tree_text(&tree);
        status = *text ? STATUS_OK : STATUS_MEMORY;
    }
    tree_free(&tree);
    memory_free(places);
    return status;
}
