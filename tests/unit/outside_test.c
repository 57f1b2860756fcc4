#include <criterion/criterion.h>
#include <hdf5.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cases/probe.h"
#include "cases/store.h"
#include "solver/base/memory.h"
#include "tests/support/files.h"
#include "tests/support/sample_result.h"

/*
 * A result file that points out of itself: HDF5 would open other files of the reader's, or wait for ever on a
 * pipe. Such a file is refused and nothing outside is opened.
 */

static char folder[] = "/tmp/foampulse_outside_XXXXXX";
static char path[64], secret[64], pipe_path[64];

static void begin(void)
{
    cr_assert_not_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/a.h5", folder);
    snprintf(secret, sizeof secret, "%s/secret", folder);
    snprintf(pipe_path, sizeof pipe_path, "%s/pipe", folder);
    files_write(secret, "not for the reader of a result file");
    cr_assert_eq(mkfifo(pipe_path, 0600), 0);
    struct case_result result;
    struct errors errors = {0};
    sample_result(&result, 0);
    cr_assert_eq(store_write(path, &result, NULL, &errors), STATUS_OK);
    case_result_free(&result);
}

static void end(void)
{
    unlink(path);
    unlink(secret);
    unlink(pipe_path);
    rmdir(folder);
}

TestSuite(outside, .init = begin, .fini = end, .timeout = 60);

/* Mends the checksum of a file that was changed. */
static void reseal(void)
{
    size_t length;
    unsigned char *bytes = files_load(path, &length);
    probe_seal(STORE_RUN, bytes, length);
    files_dump(path, bytes, length);
    free(bytes);
}

static void expect_refused(const char *words)
{
    struct case_result read;
    struct errors errors = {0};
    reseal();
    cr_expect_eq(store_read(path, &read, &errors), STATUS_INPUT);
    cr_expect_not_null(strstr(errors.kept[0].text, words), "said: %s", errors.kept[0].text);
    cr_expect(read.title == NULL || !strstr(read.title, "not for the reader"), "title: %s", read.title);
    case_result_free(&read);
}

/* Puts a text of 35 bytes that lies in another file in the place of the title. */
static void title_from(const char *other)
{
    hid_t file = H5Fopen(path, H5F_ACC_RDWR, H5P_DEFAULT), type = H5Tcopy(H5T_C_S1),
          space = H5Screate(H5S_SCALAR);
    hid_t create = H5Pcreate(H5P_DATASET_CREATE);
    cr_assert(file >= 0);
    H5Tset_size(type, 35);
    cr_assert(H5Pset_external(create, other, 0, 35) >= 0);
    cr_assert(H5Ldelete(file, "/case/title", H5P_DEFAULT) >= 0);
    hid_t dataset = H5Dcreate2(file, "/case/title", type, space, H5P_DEFAULT, create, H5P_DEFAULT);
    cr_assert(dataset >= 0);
    H5Dclose(dataset);
    H5Pclose(create);
    H5Sclose(space);
    H5Tclose(type);
    H5Fclose(file);
}

Test(outside, data_in_another_file)
{
    title_from(secret);
    expect_refused("/case/title: is missing or not of the kind");
}

Test(outside, data_in_a_pipe)
{
    title_from(pipe_path);
    expect_refused("/case/title: is missing or not of the kind");
}

Test(outside, data_of_another_hdf5_file)
{
    hsize_t one = 1;
    hid_t file = H5Fopen(path, H5F_ACC_RDWR, H5P_DEFAULT), space = H5Screate_simple(1, &one, NULL);
    hid_t create = H5Pcreate(H5P_DATASET_CREATE);
    cr_assert(H5Pset_virtual(create, space, pipe_path, "/x", space) >= 0);
    cr_assert(H5Ldelete(file, "/run/impacts_wall", H5P_DEFAULT) >= 0);
    hid_t dataset =
        H5Dcreate2(file, "/run/impacts_wall", H5T_IEEE_F64LE, space, H5P_DEFAULT, create, H5P_DEFAULT);
    cr_assert(dataset >= 0);
    H5Dclose(dataset);
    H5Pclose(create);
    H5Sclose(space);
    H5Fclose(file);
    expect_refused("/run/impacts_wall: is missing or not of the kind");
}

static void link_to(const char *object, const char *other_file)
{
    hid_t file = H5Fopen(path, H5F_ACC_RDWR, H5P_DEFAULT);
    cr_assert(H5Ldelete(file, object, H5P_DEFAULT) >= 0);
    cr_assert(H5Lcreate_external(other_file, object, file, object, H5P_DEFAULT, H5P_DEFAULT) >= 0);
    H5Fclose(file);
}

Test(outside, a_link_to_another_hdf5_file)
{
    char other[64];
    snprintf(other, sizeof other, "%s/b.h5", folder);
    struct case_result result;
    struct errors errors = {0};
    sample_result(&result, 1);
    cr_assert_eq(store_write(other, &result, NULL, &errors), STATUS_OK);
    case_result_free(&result);
    link_to("/case/title", other);
    expect_refused("/case/title: is missing or not of the kind");
    unlink(other);
}

Test(outside, a_link_to_a_pipe)
{
    link_to("/case", pipe_path);
    expect_refused("is missing or not of the kind");
}
