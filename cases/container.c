#include "cases/container.h"

#include <hdf5.h>
#include <hdf5_hl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cases/probe.h"
#include "solver/base/digest.h"
#include "solver/base/memory.h"

/* Name of what is in memory only. No file can have it: HDF5 opens no image whose name is that of a file. */
#define IMAGE "/dev/null/foampulse"

enum { PATH = 512, LARGEST_CHUNK = 1 << 17, COMPACT_BELOW = 1024 };

struct container {
    hid_t file;
    enum status status;
    char what[ERROR_TEXT];
    size_t line_count, line_room;
    char **lines; /* of the content hash */
};

size_t values_count(const struct values *values)
{
    size_t count = 1;
    for (int i = 0; i < values->rank; i++)
        count *= values->extent[i];
    return count;
}

static void fail(struct container *container, enum status status, const char *path, const char *what)
{
    if (container->status != STATUS_OK)
        return;
    container->status = status;
    snprintf(container->what, sizeof container->what, "%.300s: %.150s", path, what);
}

static void check(struct container *container, int good, const char *path, const char *what)
{
    if (!good)
        fail(container, STATUS_INTERNAL, path, what);
}

/* --- values --- */

static size_t value_size(const struct values *values)
{
    switch (values->kind) {
    case VALUE_INT:
        return sizeof(int);
    case VALUE_LONG:
        return sizeof(long);
    case VALUE_DOUBLE:
        return sizeof(double);
    default:
        return values->text_size;
    }
}

static hid_t text_type(size_t size)
{
    hid_t type = H5Tcopy(H5T_C_S1);
    H5Tset_size(type, size);
    H5Tset_strpad(type, H5T_STR_NULLPAD);
    H5Tset_cset(type, H5T_CSET_UTF8);
    return type;
}

/* Type in the file (stored = 1) or in memory; closed by the caller. */
static hid_t type_of(const struct values *values, int stored)
{
    switch (values->kind) {
    case VALUE_INT:
        return H5Tcopy(stored ? H5T_STD_I32LE : H5T_NATIVE_INT);
    case VALUE_LONG:
        return H5Tcopy(stored ? H5T_STD_I64LE : H5T_NATIVE_LONG);
    case VALUE_DOUBLE:
        return H5Tcopy(stored ? H5T_IEEE_F64LE : H5T_NATIVE_DOUBLE);
    default:
        return text_type(values->text_size);
    }
}

static hid_t space_of(const struct values *values)
{
    hsize_t extent[2] = {values->extent[0], values->extent[1]};
    return values->rank ? H5Screate_simple(values->rank, extent, NULL) : H5Screate(H5S_SCALAR);
}

/* --- the content hash --- */

static void line_add(struct container *container, char *line)
{
    if (line && container->line_count == container->line_room) {
        size_t room = container->line_room ? 2 * container->line_room : 256;
        char **longer = memory_resized(container->lines, container->line_count, room, sizeof *longer);
        if (!longer) {
            memory_free(line);
            line = NULL;
        } else {
            container->lines = longer;
            container->line_room = room;
        }
    }
    if (line)
        container->lines[container->line_count++] = line;
    else
        container_out_of_memory(container);
}

static void hash_values(struct container *container, const char *path, const char *name,
                        const struct values *values)
{
    static const char *const kinds[] = {"int32", "int64", "float64", "text"};
    if (strncmp(path, "/run", 4) == 0 && (path[4] == '/' || path[4] == '\0'))
        return;
    char extent[64] = "scalar";
    if (values->rank == 1)
        snprintf(extent, sizeof extent, "%zu", values->extent[0]);
    else if (values->rank == 2)
        snprintf(extent, sizeof extent, "%zux%zu", values->extent[0], values->extent[1]);
    char hex[DIGEST_HEX], line[PATH + 512];
    digest_hex(values->data, values_count(values) * value_size(values), hex);
    snprintf(line, sizeof line, "%s %s %s %s%s%s\n", hex, kinds[values->kind], extent, path, name ? "@" : "",
             name ? name : "");
    line_add(container, memory_text(line));
}

static int line_order(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static void hash_end(struct container *container)
{
    qsort(container->lines, container->line_count, sizeof *container->lines, line_order);
    size_t length = 0;
    for (size_t i = 0; i < container->line_count; i++)
        length += strlen(container->lines[i]);
    char *text = memory_zeroed(length, 1);
    if (!text) {
        container_out_of_memory(container);
        return;
    }
    char *end = text;
    for (size_t i = 0; i < container->line_count; i++) {
        size_t part = strlen(container->lines[i]);
        memcpy(end, container->lines[i], part);
        end += part;
    }
    char hex[DIGEST_HEX];
    digest_hex(text, length, hex);
    memory_free(text);
    container_attribute_text(container, "/", "content_hash", hex);
}

/* --- writing --- */

static struct container *container_zeroed(void)
{
    H5dont_atexit();
    H5Eset_auto2(H5E_DEFAULT, NULL, NULL);
    struct container *container = memory_zeroed(1, sizeof *container);
    if (container)
        container->file = H5I_INVALID_HID;
    return container;
}

struct container *container_new(void)
{
    struct container *container = container_zeroed();
    if (!container)
        return NULL;
    hid_t access = H5Pcreate(H5P_FILE_ACCESS), create = H5Pcreate(H5P_FILE_CREATE);
    int good = H5Pset_fapl_core(access, 1 << 20, 0) >= 0 &&
               /* The oldest format that holds the content: other programs read it, and the image of a newer
                * one comes out of this library with a wrong checksum in its first block. */
               H5Pset_libver_bounds(access, H5F_LIBVER_EARLIEST, H5F_LIBVER_V18) >= 0 &&
               H5Pset_userblock(create, PROBE_BLOCK) >= 0 && H5Pset_istore_k(create, 1) >= 0 &&
               H5Pset_obj_track_times(create, 0) >= 0;
    if (good)
        container->file = H5Fcreate(IMAGE, H5F_ACC_TRUNC, create, access);
    good = H5Pclose(access) >= 0 && good;
    good = H5Pclose(create) >= 0 && good;
    check(container, good && container->file >= 0, "/", "HDF5 cannot make a file in memory");
    return container;
}

void container_group(struct container *container, const char *path)
{
    if (container->status != STATUS_OK)
        return;
    hid_t create = H5Pcreate(H5P_GROUP_CREATE);
    int good = H5Pset_obj_track_times(create, 0) >= 0;
    hid_t group = good ? H5Gcreate2(container->file, path, H5P_DEFAULT, create, H5P_DEFAULT) : -1;
    good = group >= 0 && H5Gclose(group) >= 0 && good;
    good = H5Pclose(create) >= 0 && good;
    check(container, good, path, "HDF5 cannot make this group");
}

static void attribute_write(struct container *container, const char *path, const char *name,
                            const struct values *values)
{
    if (container->status != STATUS_OK)
        return;
    hid_t stored = type_of(values, 1), native = type_of(values, 0), space = space_of(values);
    hid_t attribute =
        H5Acreate_by_name(container->file, path, name, stored, space, H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT);
    int good = attribute >= 0 && H5Awrite(attribute, native, values->data) >= 0;
    good = attribute >= 0 && H5Aclose(attribute) >= 0 && good;
    good = H5Sclose(space) >= 0 && good;
    good = H5Tclose(native) >= 0 && good;
    good = H5Tclose(stored) >= 0 && good;
    check(container, good, path, "HDF5 cannot write an attribute here");
    if (good && strcmp(name, "content_hash") != 0)
        hash_values(container, path, name, values);
}

void container_attribute_text(struct container *container, const char *path, const char *name,
                              const char *text)
{
    size_t length = strlen(text);
    attribute_write(container, path, name,
                    &(struct values){.kind = VALUE_TEXT, .text_size = length ? length : 1, .data = text});
}

void container_attribute(struct container *container, const char *path, const char *name,
                         enum value_kind kind, const void *value)
{
    attribute_write(container, path, name, &(struct values){.kind = kind, .data = value});
}

/* Layout of a dataset: one value within its header, arrays in checked and, if worth it, compressed pieces. */
static hid_t layout_of(const struct values *values)
{
    hid_t create = H5Pcreate(H5P_DATASET_CREATE);
    size_t count = values_count(values), bytes = count * value_size(values);
    int good = H5Pset_obj_track_times(create, 0) >= 0;
    if (values->rank == 0)
        good = good && H5Pset_layout(create, bytes < COMPACT_BELOW ? H5D_COMPACT : H5D_CONTIGUOUS) >= 0;
    if (values->rank > 0 && count > 0) {
        hsize_t chunk[2] = {values->extent[0], values->extent[1]};
        int last = values->rank - 1;
        chunk[last] = chunk[last] < LARGEST_CHUNK ? chunk[last] : LARGEST_CHUNK;
        if (last == 1 && chunk[0] * chunk[1] > LARGEST_CHUNK)
            chunk[0] = LARGEST_CHUNK / chunk[1];
        good = good && H5Pset_chunk(create, values->rank, chunk) >= 0;
        if (bytes >= COMPACT_BELOW)
            good = good && H5Pset_shuffle(create) >= 0 && H5Pset_deflate(create, 4) >= 0;
        good = good && H5Pset_fletcher32(create) >= 0;
    }
    if (good)
        return create;
    H5Pclose(create);
    return H5I_INVALID_HID;
}

static void dataset_write(struct container *container, const char *path, const struct values *values)
{
    hid_t stored = type_of(values, 1), native = type_of(values, 0), space = space_of(values);
    hid_t create = layout_of(values);
    hid_t dataset = create >= 0
                        ? H5Dcreate2(container->file, path, stored, space, H5P_DEFAULT, create, H5P_DEFAULT)
                        : H5I_INVALID_HID;
    int good = dataset >= 0 && (values_count(values) == 0 ||
                                H5Dwrite(dataset, native, H5S_ALL, H5S_ALL, H5P_DEFAULT, values->data) >= 0);
    good = dataset >= 0 && H5Dclose(dataset) >= 0 && good;
    good = create >= 0 && H5Pclose(create) >= 0 && good;
    good = H5Sclose(space) >= 0 && good;
    good = H5Tclose(native) >= 0 && good;
    good = H5Tclose(stored) >= 0 && good;
    check(container, good, path, "HDF5 cannot write this dataset");
}

void container_array(struct container *container, const char *path, const char *units,
                     const char *description, const struct values *values)
{
    if (container->status != STATUS_OK)
        return;
    dataset_write(container, path, values);
    hash_values(container, path, NULL, values);
    container_attribute_text(container, path, "units", units);
    container_attribute_text(container, path, "description", description);
}

void container_scale(struct container *container, const char *path, const char *name)
{
    if (container->status != STATUS_OK)
        return;
    hid_t dataset = H5Dopen2(container->file, path, H5P_DEFAULT);
    int good = dataset >= 0 && H5DSset_scale(dataset, name) >= 0;
    good = dataset >= 0 && H5Dclose(dataset) >= 0 && good;
    check(container, good, path, "HDF5 cannot make a dimension scale of this");
}

void container_attach(struct container *container, const char *path, const char *scale, int dimension)
{
    if (container->status != STATUS_OK)
        return;
    hid_t dataset = H5Dopen2(container->file, path, H5P_DEFAULT);
    hid_t along = H5Dopen2(container->file, scale, H5P_DEFAULT);
    int good = dataset >= 0 && along >= 0 && H5DSattach_scale(dataset, along, (unsigned)dimension) >= 0;
    good = dataset >= 0 && H5Dclose(dataset) >= 0 && good;
    good = along >= 0 && H5Dclose(along) >= 0 && good;
    check(container, good, path, "HDF5 cannot attach a dimension scale to this");
}

static void container_free(struct container *container)
{
    for (size_t i = 0; i < container->line_count; i++)
        memory_free(container->lines[i]);
    memory_free(container->lines);
    memory_free(container);
}

static void image_take(struct container *container, unsigned char **bytes, size_t *length)
{
    if (container->status != STATUS_OK)
        return;
    check(container, H5Fflush(container->file, H5F_SCOPE_LOCAL) >= 0, "/", "HDF5 cannot finish the file");
    /* The image comes without the block of the user that it was told to leave room for. */
    ssize_t size = H5Fget_file_image(container->file, NULL, 0);
    check(container, size > 0, "/", "HDF5 gives no image of the file");
    if (container->status != STATUS_OK)
        return;
    *length = (size_t)size + PROBE_BLOCK;
    *bytes = memory_zeroed(*length, 1);
    if (!*bytes)
        container_out_of_memory(container);
    else
        check(container, H5Fget_file_image(container->file, *bytes + PROBE_BLOCK, (size_t)size) == size, "/",
              "HDF5 gives no image of the file");
}

enum status container_end(struct container *container, const char *kind, unsigned char **bytes,
                          size_t *length, struct errors *errors)
{
    *bytes = NULL;
    *length = 0;
    if (!container)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    if (container->status == STATUS_OK)
        hash_end(container);
    image_take(container, bytes, length);
    enum status status = container_close(container, errors);
    if (status == STATUS_OK) {
        probe_seal(kind, *bytes, *length);
    } else {
        memory_free(*bytes);
        *bytes = NULL;
        *length = 0;
    }
    return status;
}

/* --- reading --- */

/* A file stands alone: without these, HDF5 would open other files that it names, and wait on a pipe. */
static void stay_inside(void)
{
    H5Lunregister(H5L_TYPE_EXTERNAL);
    H5PLset_loading_state(0);
}

/* Whether the data of a dataset lie in this file. */
static int is_inside(hid_t dataset)
{
    hid_t create = H5Dget_create_plist(dataset);
    int inside = create >= 0 && H5Pget_layout(create) != H5D_VIRTUAL && H5Pget_external_count(create) == 0;
    if (create >= 0)
        H5Pclose(create);
    return inside;
}

struct container *container_open(const unsigned char *bytes, size_t length)
{
    struct container *container = container_zeroed();
    if (!container)
        return NULL;
    stay_inside();
    hid_t access = H5Pcreate(H5P_FILE_ACCESS);
    /* HDF5 takes a copy of the bytes, and promises not to write to those it is given. */
    int good = H5Pset_fapl_core(access, 1 << 20, 0) >= 0 &&
               H5Pset_file_image(access, (void *)(size_t)bytes, length) >= 0;
    if (good)
        container->file = H5Fopen(IMAGE, H5F_ACC_RDONLY, access);
    H5Pclose(access);
    if (container->file < 0)
        fail(container, STATUS_INPUT, "/", "HDF5 cannot open it");
    return container;
}

int container_has(struct container *container, const char *path)
{
    return container->status == STATUS_OK && H5Lexists(container->file, path, H5P_DEFAULT) > 0 &&
           H5Oexists_by_name(container->file, path, H5P_DEFAULT) > 0;
}

int container_has_attribute(struct container *container, const char *path, const char *name)
{
    return container->status == STATUS_OK && H5Aexists_by_name(container->file, path, name, H5P_DEFAULT) > 0;
}

/* Whether a stored type can be read as this kind without loss; for texts finds their size. */
static int type_fits(hid_t type, struct values *values)
{
    H5T_class_t class = H5Tget_class(type);
    size_t size = H5Tget_size(type);
    switch (values->kind) {
    case VALUE_INT:
        return class == H5T_INTEGER && size <= sizeof(int);
    case VALUE_LONG:
        return class == H5T_INTEGER && size <= sizeof(long);
    case VALUE_DOUBLE:
        return class == H5T_FLOAT && size <= sizeof(double);
    default:
        values->text_size = size;
        return class == H5T_STRING && H5Tis_variable_str(type) == 0 && size > 0;
    }
}

static int space_fits(hid_t space, int rank, struct values *values)
{
    hsize_t extent[2] = {0, 0};
    values->rank = rank;
    if (H5Sget_simple_extent_ndims(space) != rank ||
        (rank && H5Sget_simple_extent_dims(space, extent, NULL) < 0))
        return 0;
    if (rank == 0)
        return H5Sget_simple_extent_npoints(space) == 1;
    for (int i = 0; i < rank; i++)
        values->extent[i] = (size_t)extent[i];
    return extent[0] < 1u << 31 && extent[1] < 1u << 31;
}

/* Reads an opened dataset or attribute. Texts come with a NUL behind the last one. */
static void *values_read(struct container *container, hid_t object, int is_attribute, int rank,
                         struct values *values)
{
    hid_t type = is_attribute ? H5Aget_type(object) : H5Dget_type(object);
    hid_t space = is_attribute ? H5Aget_space(object) : H5Dget_space(object);
    void *block = NULL;
    if (type >= 0 && space >= 0 && type_fits(type, values) && space_fits(space, rank, values)) {
        hid_t native = type_of(values, 0);
        block = memory_zeroed(values_count(values) + 1, value_size(values));
        if (!block)
            container_out_of_memory(container);
        else if (values_count(values) > 0 &&
                 (is_attribute ? H5Aread(object, native, block)
                               : H5Dread(object, native, H5S_ALL, H5S_ALL, H5P_DEFAULT, block)) < 0) {
            memory_free(block);
            block = NULL;
        }
        H5Tclose(native);
    }
    if (space >= 0)
        H5Sclose(space);
    if (type >= 0)
        H5Tclose(type);
    values->data = block;
    return block;
}

static void *attribute_read(struct container *container, const char *path, const char *name,
                            struct values *values)
{
    if (container->status != STATUS_OK)
        return NULL;
    hid_t attribute = H5Aopen_by_name(container->file, path, name, H5P_DEFAULT, H5P_DEFAULT);
    void *block = attribute >= 0 ? values_read(container, attribute, 1, 0, values) : NULL;
    if (attribute >= 0)
        H5Aclose(attribute);
    if (!block) {
        char what[128];
        snprintf(what, sizeof what, "attribute %.64s is missing or not of the kind it should be", name);
        container_bad(container, path, what);
    }
    return block;
}

void container_get_text(struct container *container, const char *path, const char *name, char *text,
                        size_t size)
{
    struct values values = {.kind = VALUE_TEXT};
    char *block = attribute_read(container, path, name, &values);
    text[0] = '\0';
    if (block && strlen(block) < size)
        snprintf(text, size, "%s", block);
    else if (block)
        container_bad(container, path, "a text is too long");
    memory_free(block);
}

void container_get(struct container *container, const char *path, const char *name, enum value_kind kind,
                   void *value)
{
    struct values values = {.kind = kind};
    void *block = attribute_read(container, path, name, &values);
    memset(value, 0, value_size(&values));
    if (block)
        memcpy(value, block, value_size(&values));
    memory_free(block);
}

void *container_get_array(struct container *container, const char *path, enum value_kind kind, int rank,
                          struct values *values)
{
    *values = (struct values){.kind = kind, .rank = rank};
    if (container->status != STATUS_OK)
        return NULL;
    hid_t dataset = H5Dopen2(container->file, path, H5P_DEFAULT);
    void *block =
        dataset >= 0 && is_inside(dataset) ? values_read(container, dataset, 0, rank, values) : NULL;
    if (dataset >= 0)
        H5Dclose(dataset);
    if (!block)
        container_bad(container, path, "is missing or not of the kind and shape it should be");
    return block;
}

void container_bad(struct container *container, const char *path, const char *what)
{
    fail(container, STATUS_INPUT, path, what);
}

void container_out_of_memory(struct container *container)
{
    fail(container, STATUS_MEMORY, "/", "out of memory");
}

enum status container_status(const struct container *container)
{
    return container->status;
}

enum status container_close(struct container *container, struct errors *errors)
{
    if (!container)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    if (container->file >= 0)
        check(container, H5Fclose(container->file) >= 0, "/", "HDF5 cannot close the file");
    enum status status = container->status;
    if (status != STATUS_OK)
        errors_add(errors, status, NULL, 0, 0, "%s", container->what);
    container_free(container);
    return status;
}
