#include "tests/fuzz/recipe.h"

#include <hdf5.h>
#include <hdf5_hl.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/probe.h"
#include "solver/base/memory.h"
#include "tests/fuzz/target.h"

enum { NAMES = 400, NAME = 160 };

/* All objects and all attributes of the small result, in the order of their names. */
static struct {
    unsigned char *bytes;
    size_t length;
    size_t object_count, attribute_count;
    char object[NAMES][NAME];
    char owner[NAMES][NAME], attribute[NAMES][NAME];
} base;

static herr_t take_attribute(hid_t where, const char *name, const H5A_info_t *info, void *object)
{
    (void)where;
    (void)info;
    if (base.attribute_count == NAMES)
        return 0;
    snprintf(base.owner[base.attribute_count], NAME, "%s", (const char *)object);
    snprintf(base.attribute[base.attribute_count++], NAME, "%s", name);
    return 0;
}

static herr_t take_object(hid_t file, const char *name, const H5O_info_t *info, void *unused)
{
    (void)info;
    (void)unused;
    if (base.object_count == NAMES)
        return 0;
    char *object = base.object[base.object_count++];
    snprintf(object, NAME, "/%s", strcmp(name, ".") == 0 ? "" : name);
    H5Aiterate_by_name(file, object, H5_INDEX_NAME, H5_ITER_INC, NULL, take_attribute, object, H5P_DEFAULT);
    return 0;
}

static hid_t open_image(void)
{
    hid_t access = H5Pcreate(H5P_FILE_ACCESS);
    hid_t file = H5I_INVALID_HID;
    if (H5Pset_fapl_core(access, 1 << 16, 0) >= 0 &&
        H5Pset_file_image(access, base.bytes + PROBE_BLOCK, base.length - PROBE_BLOCK) >= 0)
        file = H5Fopen("recipe", H5F_ACC_RDWR, access);
    H5Pclose(access);
    return file;
}

static void base_load(void)
{
    if (base.bytes)
        return;
    H5dont_atexit();
    H5Eset_auto2(H5E_DEFAULT, NULL, NULL);
    base.bytes = target_load("tests/fuzz/corpus/result/small.h5", &base.length);
    hid_t file = open_image();
    TARGET_CHECK(file >= 0);
    TARGET_CHECK(H5Ovisit(file, H5_INDEX_NAME, H5_ITER_INC, take_object, NULL) >= 0);
    TARGET_CHECK(base.object_count > 20 && base.attribute_count > 20);
    H5Fclose(file);
}

/* --- what a step is made of --- */

static const char *object_of(const unsigned char *step)
{
    return base.object[(step[1] | step[2] << 8) % (int)base.object_count];
}

static size_t attribute_of(const unsigned char *step)
{
    return (size_t)(step[1] | step[2] << 8) % base.attribute_count;
}

static hid_t type_of(unsigned kind, unsigned size)
{
    hid_t type;
    switch (kind % 10) {
    case 0:
        return H5Tcopy(H5T_STD_I32LE);
    case 1:
        return H5Tcopy(H5T_STD_I64LE);
    case 2:
        return H5Tcopy(H5T_IEEE_F64LE);
    case 3:
        return H5Tcopy(H5T_IEEE_F32BE);
    case 4:
        return H5Tcopy(H5T_STD_U64BE);
    case 5:
        type = H5Tcopy(H5T_C_S1);
        H5Tset_size(type, H5T_VARIABLE);
        return type;
    case 6:
        type = H5Tcreate(H5T_COMPOUND, 8);
        H5Tinsert(type, "a", 0, H5T_STD_I32LE);
        return type;
    default:
        type = H5Tcopy(H5T_C_S1);
        H5Tset_size(type, size % 1200 + 1);
        H5Tset_strpad(type, kind % 10 == 7 ? H5T_STR_NULLPAD : H5T_STR_NULLTERM);
        return type;
    }
}

static hsize_t extent_of(unsigned char byte)
{
    static const hsize_t large[] = {256, 65536, 1 << 20, 1u << 31, 1ull << 33, 1ull << 40, 1ull << 62};
    return byte < 249 ? byte : large[byte - 249];
}

static hid_t space_of(const unsigned char *step)
{
    hsize_t extent[3] = {extent_of(step[4]), extent_of(step[5]), 2};
    int rank = step[6] % 5;
    if (rank == 4)
        return H5Screate(H5S_NULL);
    return rank ? H5Screate_simple(rank, extent, NULL) : H5Screate(H5S_SCALAR);
}

static double value_of(const unsigned char *step)
{
    static const double odd[] = {NAN,  INFINITY, -INFINITY,  0,    -0.0,  -1,          1e308, -1e308,
                                 1e-3, 5e-324,   2147483647, 4e18, 1e300, -2147483648, 0.5,   3.2};
    int whole = (int)(step[6] | step[7] << 8) - 32768;
    return step[7] < sizeof odd / sizeof *odd ? odd[step[7]] : whole;
}

/* --- steps --- */

static void put_dataset(hid_t file, const unsigned char *step)
{
    const char *name = object_of(step);
    hid_t type = type_of(step[3], step[7] * 5u), space = space_of(step);
    H5Ldelete(file, name, H5P_DEFAULT);
    hid_t dataset = type >= 0 && space >= 0
                        ? H5Dcreate2(file, name, type, space, H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT)
                        : H5I_INVALID_HID;
    if (dataset >= 0)
        H5Dclose(dataset);
    H5Sclose(space);
    H5Tclose(type);
}

static void put_attribute(hid_t file, const unsigned char *step)
{
    size_t at = attribute_of(step);
    char text[2048];
    hid_t type = type_of(step[3], step[7] * 5u), space = H5Screate(H5S_SCALAR);
    memset(text, step[6], sizeof text);
    H5Adelete_by_name(file, base.owner[at], base.attribute[at], H5P_DEFAULT);
    hid_t attribute = H5Acreate_by_name(file, base.owner[at], base.attribute[at], type, space, H5P_DEFAULT,
                                        H5P_DEFAULT, H5P_DEFAULT);
    if (attribute >= 0 && step[3] % 10 != 5)
        H5Awrite(attribute, type, text);
    if (attribute >= 0)
        H5Aclose(attribute);
    H5Sclose(space);
    H5Tclose(type);
}

/* Sets one number of a dataset or attribute, or one byte of a text. */
static void set_number(hid_t file, const unsigned char *step)
{
    size_t at = attribute_of(step);
    double value = value_of(step);
    hid_t attribute = H5Aopen_by_name(file, base.owner[at], base.attribute[at], H5P_DEFAULT, H5P_DEFAULT);
    hid_t type = attribute >= 0 ? H5Aget_type(attribute) : H5I_INVALID_HID;
    if (type >= 0 && H5Tis_variable_str(type) == 0 && H5Tget_class(type) == H5T_STRING) {
        char text[2048] = "";
        if (H5Tget_size(type) < sizeof text && H5Aread(attribute, type, text) >= 0) {
            text[step[4] % H5Tget_size(type)] = (char)step[6];
            H5Awrite(attribute, type, text);
        }
    } else if (type >= 0 && H5Tget_class(type) != H5T_STRING) {
        H5Awrite(attribute, H5T_NATIVE_DOUBLE, &value);
    }
    if (type >= 0)
        H5Tclose(type);
    if (attribute >= 0)
        H5Aclose(attribute);
}

static void set_element(hid_t file, const unsigned char *step)
{
    double value = value_of(step);
    hid_t dataset = H5Dopen2(file, object_of(step), H5P_DEFAULT);
    hid_t space = dataset >= 0 ? H5Dget_space(dataset) : H5I_INVALID_HID;
    hid_t type = dataset >= 0 ? H5Dget_type(dataset) : H5I_INVALID_HID;
    hssize_t count = space >= 0 ? H5Sget_simple_extent_npoints(space) : 0;
    size_t size = type >= 0 ? H5Tget_size(type) : 0;
    if (count > 0 && size > 0 && (size_t)count * size < 1 << 20 && !H5Tis_variable_str(type)) {
        unsigned char *block = memory_zeroed((size_t)count, size > 8 ? size : 8);
        int text = H5Tget_class(type) == H5T_STRING;
        hid_t native = text ? H5Tcopy(type) : H5Tcopy(H5T_NATIVE_DOUBLE);
        H5Dread(dataset, native, H5S_ALL, H5S_ALL, H5P_DEFAULT, block);
        size_t at = (size_t)(step[4] | step[5] << 8);
        if (text)
            block[at % ((size_t)count * size)] = step[6];
        else
            memcpy(block + at % (size_t)count * 8, &value, 8);
        H5Dwrite(dataset, native, H5S_ALL, H5S_ALL, H5P_DEFAULT, block);
        H5Tclose(native);
        memory_free(block);
    }
    if (type >= 0)
        H5Tclose(type);
    if (space >= 0)
        H5Sclose(space);
    if (dataset >= 0)
        H5Dclose(dataset);
}

/* Another dataset, or a link of some kind, in the place of an object. */
static void put_link(hid_t file, const unsigned char *step)
{
    const char *name = object_of(step),
               *other = base.object[(step[3] | step[4] << 8) % (int)base.object_count];
    if (step[5] % 4 != 3)
        H5Ldelete(file, name, H5P_DEFAULT);
    switch (step[5] % 4) {
    case 0:
        H5Lcreate_soft(other, file, name, H5P_DEFAULT, H5P_DEFAULT);
        break;
    case 1:
        H5Lcreate_hard(file, other, file, name, H5P_DEFAULT, H5P_DEFAULT);
        break;
    case 2:
        H5Lcreate_external("other.h5", other, file, name, H5P_DEFAULT, H5P_DEFAULT);
        break;
    default:
        H5Lmove(file, other, file, name, H5P_DEFAULT, H5P_DEFAULT);
    }
}

static void apply(hid_t file, const unsigned char *step)
{
    switch (step[0] % 8) {
    case 0:
        put_dataset(file, step);
        break;
    case 1:
        put_attribute(file, step);
        break;
    case 2:
    case 3:
        set_number(file, step);
        break;
    case 4:
    case 5:
        set_element(file, step);
        break;
    case 6:
        put_link(file, step);
        break;
    default:
        if (step[3] % 2)
            H5Ldelete(file, object_of(step), H5P_DEFAULT);
        else
            H5Adelete_by_name(file, base.owner[attribute_of(step)], base.attribute[attribute_of(step)],
                              H5P_DEFAULT);
    }
}

unsigned char *recipe_make(const unsigned char *steps, size_t size, size_t *length)
{
    base_load();
    hid_t file = open_image();
    TARGET_CHECK(file >= 0);
    for (size_t i = 0; i < RECIPE_STEPS && (i + 1) * RECIPE_STEP <= size; i++)
        apply(file, steps + i * RECIPE_STEP);
    unsigned char *bytes = NULL;
    H5Fflush(file, H5F_SCOPE_LOCAL);
    ssize_t image = H5Fget_file_image(file, NULL, 0);
    if (image > 0) {
        *length = (size_t)image + PROBE_BLOCK;
        bytes = memory_zeroed(*length, 1);
        TARGET_CHECK(bytes);
        TARGET_CHECK(H5Fget_file_image(file, bytes + PROBE_BLOCK, (size_t)image) == image);
    }
    H5Fclose(file);
    return bytes;
}
