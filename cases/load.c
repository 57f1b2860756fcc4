#include <assert.h>
#include <stdio.h>
#include <string.h>

#include "cases/case.h"
#include "cases/fill.h"
#include "cases/fill_foams.h"
#include "cases/fill_headform.h"
#include "cases/fill_helmet.h"
#include "cases/fill_impacts.h"
#include "cases/fill_regions.h"
#include "cases/fill_sites.h"
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
    if (file->text)
        hash_text(file->text, file->hash);
    else
        fill->out_of_memory = 1;
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
    fill_thickness(fill);
    fill_map(fill);
    if (fill->out_of_memory || fill->errors->count > errors_before)
        return;
    if (!stack_head_missing(&fill->file->headform))
        fill_hidden(fill);
    fill_sites(fill);
    fill_impacts(fill, fill->file->headform.mass);
}

static void fill_case(struct fill *fill, const char *path)
{
    size_t errors_before = fill->errors->count;
    fill_texts(fill, path);
    fill_foams(fill);
    if (node_get(fill->root, "pad")) {
        fill_pad(fill);
        fill_impacts(fill, fill->file->pad.striker_mass);
    } else {
        fill_helmet(fill, errors_before);
    }
    fill_limits(fill);
    fill_model(fill);
}

enum status case_load(const char *path, const char *const *sets, size_t set_count, struct case_file *file,
                      struct errors *errors)
{
    struct fill fill = {.file = file, .errors = errors};
    size_t errors_before = errors->count;
    *file = (struct case_file){0};
    enum status status = tree_read(path, sets, set_count, &file->tree, errors);
    if (status != STATUS_OK)
        return status;
    fill.root = file->tree.root;
    if (schema_check(&file->tree, fill.root, SCHEMA_CASE, errors)) {
        status = registry_load(path, &fill.registry, errors);
        if (status == STATUS_OK)
            fill_case(&fill, path);
        registry_free(&fill.registry);
    }
    if (status == STATUS_OK)
        status = fill.out_of_memory ? STATUS_MEMORY : status_since(errors, errors_before);
    if (status != STATUS_OK)
        case_free(file);
    return status;
}
