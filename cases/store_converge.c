#include "cases/store_converge.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "cases/fields.h"
#include "cases/probe.h"
#include "cases/texts.h"
#include "solver/base/memory.h"
#include "solver/base/save.h"
#include "solver/base/version.h"

#define COUNT(array) (sizeof(array) / sizeof *(array))

enum { PATH = 256 };

#define HIT(member, kind, name, units, text) FIELD(struct hit_result, member, kind, name, units, text)

static const struct field hit_fields[] = {
    HIT(impact, FIELD_INT, "impact", "1", "number of the impact, from 1"),
    HIT(hit, FIELD_INT, "hit", "1", "number of the hit of that impact, from 1"),
    HIT(size, FIELD_TEXT, "size", "1", "size of the helmet"),
    HIT(site, FIELD_TEXT, "site", "1", "site of the impact"),
    HIT(anvil, FIELD_TEXT, "anvil", "1", "anvil"),
    HIT(speed, FIELD_DOUBLE, "speed_m_s", "m/s", "speed at first touch"),
    HIT(temperature, FIELD_DOUBLE, "temperature_C", "degC", "temperature of the helmet"),
};

static const struct field mesh_fields[] = {
    FIELD(struct converge_mesh, rings, FIELD_INT, "rings", "1", "rings of the mesh; 0 for a pad"),
    FIELD(struct converge_mesh, cell, FIELD_DOUBLE, "cell", "m", "size of a cell through the thickness"),
    FIELD(struct converge_mesh, cells, FIELD_LONG, "cells", "1", "cells of the hit that has most"),
};

static void put_root(struct container *container, const struct converge_study *study)
{
    container_attribute_text(container, "/", "schema", STORE_CONVERGE);
    container_attribute_text(container, "/", "program_version", FOAMPULSE_VERSION);
    if (version_revision[0] != '\0')
        container_attribute_text(container, "/", "git_revision", version_revision);
    container_attribute_text(container, "/", "compiler", __VERSION__);
    container_attribute_text(container, "/", "caution", CAUTION_TEXT);
    container_attribute(container, "/", "ratio", VALUE_INT, &study->ratio);
}

static void put_case(struct container *container, const struct case_result *own)
{
    container_group(container, "/case");
    container_attribute_text(container, "/case", "case_hash", own->case_hash);
    container_attribute_text(container, "/case", "model", own->hit_count ? own->hits[0].model : "");
    texts_put(container, "/case/title", "title of the case", own->title);
    texts_put(container, "/case/text", "the case with all includes and defaults, as YAML", own->case_text);
}

static void put_metric(struct container *container, const struct converge_study *study,
                       const struct converge_metric *metric)
{
    const struct metric_info *info = &metric_table[metric->metric];
    const char *units = strcmp(info->unit, "g") == 0 ? "9.80665 m s-2" : info->unit;
    const struct field fields[] = {
        FIELD(struct converge_row, order, FIELD_DOUBLE, "order", "1",
              "order of the error in the size of the mesh; NaN where there is none"),
        FIELD(struct converge_row, extrapolated, FIELD_DOUBLE, "extrapolated", units,
              "value at a mesh of size 0; NaN where the order is not credible"),
        FIELD(struct converge_row, uncertainty, FIELD_DOUBLE, "uncertainty", units,
              "numerical uncertainty of the finest mesh"),
        FIELD(struct converge_row, judgement, FIELD_TEXT, "judgement", "1", "what the meshes say"),
    };
    char group[PATH], path[PATH + 16];
    snprintf(group, sizeof group, "/metrics/%s", info->name);
    snprintf(path, sizeof path, "%s/values", group);
    container_group(container, group);
    container_array(container, path, units, info->description,
                    &(struct values){.kind = VALUE_DOUBLE,
                                     .rank = 2,
                                     .extent = {study->own->hit_count, study->mesh_count},
                                     .data = metric->values});
    fields_put_columns(container, group, fields, COUNT(fields), metric->rows, sizeof *metric->rows,
                       study->own->hit_count);
}

enum status store_converge_write(const char *path, const struct converge_study *study, struct errors *errors)
{
    struct container *container = container_new();
    const struct case_result *own = study->own;
    if (container) {
        put_root(container, study);
        put_case(container, own);
        container_group(container, "/meshes");
        fields_put_columns(container, "/meshes", mesh_fields, COUNT(mesh_fields), study->meshes,
                           sizeof *study->meshes, study->mesh_count);
        container_group(container, "/hits");
        fields_put_columns(container, "/hits", hit_fields, COUNT(hit_fields), own->hits, sizeof *own->hits,
                           own->hit_count);
        container_group(container, "/metrics");
        for (size_t k = 0; k < study->metric_count; k++)
            put_metric(container, study, &study->metrics[k]);
    }
    unsigned char *bytes;
    size_t length;
    struct errors inner = {0};
    enum status status = container_end(container, STORE_CONVERGE, &bytes, &length, &inner);
    if (status == STATUS_OK)
        status = save_file(path, bytes, length, errors);
    else
        errors_add(errors, status, path, 0, 0, "%s", inner.count ? inner.kept[0].text : status_text(status));
    memory_free(bytes);
    return status;
}

enum status store_converge_check(const char *path, int force, struct errors *errors)
{
    struct save save;
    enum probe_owner owner = probe_owner(path, STORE_CONVERGE);
    if (owner == PROBE_SPECIAL)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "is a folder or device and is not replaced");
    if (owner == PROBE_UNREADABLE && !force)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "cannot be read: %s", strerror(errno));
    if (owner != PROBE_ABSENT && !force)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "is there already: -f replaces it");
    enum status status = save_begin(path, &save, errors);
    save_abandon(&save);
    return status;
}
