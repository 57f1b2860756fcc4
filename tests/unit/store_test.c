#include <criterion/criterion.h>
#include <errno.h>
#include <fcntl.h>
#include <hdf5.h>
#include <hdf5_hl.h>
#include <signal.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cases/container.h"
#include "cases/probe.h"
#include "cases/store.h"
#include "solver/base/digest.h"
#include "solver/base/version.h"
#include "tests/support/files.h"
#include "tests/support/sample_result.h"

static char folder[] = "/tmp/foampulse_store_XXXXXX";
static char path[64];

static void begin(void)
{
    signal(SIGXFSZ, SIG_IGN);
    cr_assert_not_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/a.h5", folder);
}

static void end(void)
{
    files_remove(folder);
    rmdir(folder);
}

TestSuite(store, .init = begin, .fini = end, .timeout = 120);

static int holds_text(const char *name, const char *text)
{
    char have[256] = "";
    FILE *file = fopen(name, "r");
    size_t got = file ? fread(have, 1, sizeof have - 1, file) : 0;
    if (file)
        fclose(file);
    return got == strlen(text) && strcmp(have, text) == 0;
}

static void write_sample(const char *name)
{
    struct case_result result;
    struct errors errors = {0};
    sample_result(&result, 0);
    enum status status = store_write(name, &result, NULL, &errors);
    case_result_free(&result);
    cr_assert_eq(status, STATUS_OK, "%s", errors.kept[0].text);
}

/* --- round trip --- */

/* Bits, so that NaN equals NaN and -0 is not 0. */
static int same(const double *a, const double *b, size_t count)
{
    return (!a && !b) || (a && b && memcmp(a, b, count * sizeof *a) == 0);
}

static void expect_output(const struct impact_output *a, const struct impact_output *b)
{
    cr_assert_eq(a->count, b->count);
    cr_assert_eq(a->ledger_count, b->ledger_count);
    cr_assert_eq(a->layer_count, b->layer_count);
    for (int i = 0; i < PULSE_COUNT; i++)
        cr_expect(same(a->channel[i], b->channel[i], a->count), "%s", pulse_table[i].name);
    for (int i = 0; i < ENERGY_COUNT; i++)
        cr_expect(same(a->ledger[i], b->ledger[i], a->ledger_count), "%s", energy_table[i].name);
    cr_expect(same(a->energy, b->energy, ENERGY_COUNT));
    cr_expect(same(a->metrics, b->metrics, METRIC_COUNT));
    for (size_t i = 0; i < a->layer_count; i++) {
        struct layer_output x = a->layers[i], y = b->layers[i];
        cr_expect(same(x.crush, y.crush, a->count), "crush of layer %zu", i);
        x.crush = y.crush = NULL;
        cr_expect_eq(memcmp(&x, &y, sizeof x), 0, "layer %zu", i);
    }
    double x[5] = {a->interval, a->ledger_interval, a->balance_error, a->impulse_error, a->anvil_impulse};
    double y[5] = {b->interval, b->ledger_interval, b->balance_error, b->impulse_error, b->anvil_impulse};
    cr_expect(same(x, y, 5));
    cr_expect(a->steps == b->steps && a->cells == b->cells && a->separated == b->separated);
}

static void expect_snapshots(const struct snapshots *a, const struct snapshots *b)
{
    cr_assert_eq(a->count, b->count);
    cr_expect(a->rings == b->rings && a->rows == b->rows && a->shell_thickness == b->shell_thickness);
    for (int k = 0; k < SNAPSHOT_COUNT; k++)
        cr_expect(same(a->array[k], b->array[k], a->count * (a->rings ? snapshots_values(a, k) : 0)), "%s",
                  snapshot_table[k].name);
    cr_expect(same(a->anvil_r, b->anvil_r, SNAPSHOT_ANVIL) && same(a->anvil_z, b->anvil_z, SNAPSHOT_ANVIL));
}

static void expect_rings(const struct hit_rings *a, const struct hit_rings *b)
{
    cr_assert_eq(a->count, b->count);
    cr_assert_eq(a->region_count, b->region_count);
    cr_expect(same(a->edge, b->edge, a->count + 1));
    cr_expect(same(a->share, b->share, (a->region_count + 1) * a->count));
    for (size_t i = 0; i < a->region_count; i++)
        cr_expect_str_eq(a->regions[i].name, b->regions[i].name);
}

static void expect_hit(const struct hit_result *a, const struct hit_result *b)
{
    expect_output(&a->output, &b->output);
    expect_snapshots(&a->output.snapshots, &b->output.snapshots);
    expect_rings(&a->rings, &b->rings);
    cr_assert_eq(a->judgement_count, b->judgement_count);
    for (size_t i = 0; i < a->judgement_count; i++)
        cr_expect_eq(memcmp(&a->judgements[i], &b->judgements[i], sizeof *a->judgements), 0);
    struct hit_result x = *a, y = *b;
    x.output = y.output = (struct impact_output){0};
    x.rings = y.rings = (struct hit_rings){0};
    x.judgements = y.judgements = NULL;
    cr_expect_eq(memcmp(&x, &y, sizeof x), 0, "conditions of hit %d", a->impact);
}

static void expect_lines(char **a, size_t a_count, char **b, size_t b_count)
{
    cr_assert_eq(a_count, b_count);
    for (size_t i = 0; i < a_count; i++)
        cr_expect_str_eq(a[i], b[i]);
}

static void expect_map(const struct helmet_map *a, const struct helmet_map *b)
{
    cr_expect_eq(a->inner_radius, b->inner_radius);
    cr_assert_eq(a->region_count, b->region_count);
    cr_assert_eq(a->edge_count, b->edge_count);
    cr_expect(same(a->edge_azimuth, b->edge_azimuth, a->edge_count));
    cr_expect(same(a->edge_elevation, b->edge_elevation, a->edge_count));
    for (size_t i = 0; i < a->region_count; i++) {
        const struct region_shape *x = &a->regions[i], *y = &b->regions[i];
        cr_expect_str_eq(x->name, y->name);
        cr_expect(x->open == y->open && x->mirror == y->mirror);
        cr_assert_eq(x->bound_count, y->bound_count);
        cr_expect_eq(memcmp(x->bounds, y->bounds, x->bound_count * sizeof *x->bounds), 0, "%s", x->name);
    }
}

static void expect_result(const struct case_result *a, const struct case_result *b)
{
    cr_expect_str_eq(a->file, b->file);
    cr_expect_str_eq(a->title, b->title);
    cr_expect_str_eq(a->case_text, b->case_text);
    cr_expect_str_eq(a->result_file, b->result_file);
    cr_expect_str_eq(a->case_hash, b->case_hash);
    cr_expect_str_eq(a->isa, b->isa);
    cr_expect(a->verdict == b->verdict && a->worst_hit == b->worst_hit && a->worst_metric == b->worst_metric);
    cr_expect_eq(memcmp(&a->mass, &b->mass, sizeof a->mass), 0);
    double x[4] = {a->worst_margin, a->target, a->helmet_mass_limit, a->wall};
    double y[4] = {b->worst_margin, b->target, b->helmet_mass_limit, b->wall};
    cr_expect(same(x, y, 4));
    cr_expect(same(a->limit, b->limit, METRIC_COUNT));
    cr_expect_eq(a->threads, b->threads);
    expect_lines(a->assumptions, a->assumption_count, b->assumptions, b->assumption_count);
    expect_lines(a->warnings, a->warning_count, b->warnings, b->warning_count);
    expect_lines(a->not_covered, a->not_covered_count, b->not_covered, b->not_covered_count);
    expect_map(&a->map, &b->map);
    cr_assert_eq(a->size_count, b->size_count);
    for (size_t i = 0; i < a->size_count; i++)
        cr_expect_eq(memcmp(&a->sizes[i], &b->sizes[i], sizeof *a->sizes), 0);
    cr_assert_eq(a->hit_count, b->hit_count);
    for (size_t i = 0; i < a->hit_count; i++)
        expect_hit(&a->hits[i], &b->hits[i]);
}

Test(store, what_is_written_is_read)
{
    struct case_result wrote, read;
    struct errors errors = {0};
    sample_result(&wrote, 1);
    /* Rows are kept in their order, not in that of the numbers. */
    wrote.hits[0].impact = 300;
    wrote.hits[2].impact = 5;
    wrote.hits[2].hit = 2;
    snprintf(wrote.hits[1].site, sizeof wrote.hits[1].site, "%s", "häuslich \xe2\x9c\x93");
    cr_assert_eq(store_write(path, &wrote, NULL, &errors), STATUS_OK, "%s", errors.kept[0].text);
    cr_assert_eq(store_read(path, &read, &errors), STATUS_OK, "%s", errors.kept[0].text);
    expect_result(&wrote, &read);
    case_result_free(&wrote);
    case_result_free(&read);
    cr_expect_eq(files_count(folder), 1);
}

/* What a picture walks through is sound: places within reach, no NaN, as many values as there are zones. */
Test(store, senseless_snapshots_are_refused)
{
    static const struct {
        enum snapshot_array array;
        double value;
    } bad[] = {{SNAPSHOT_r, NAN}, {SNAPSHOT_z, 1e9}, {SNAPSHOT_stress, INFINITY}, {SNAPSHOT_head_r, -11}};
    struct errors errors = {0};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct case_result wrote, read;
        sample_result(&wrote, 0);
        snapshots_at(&wrote.hits[4].output.snapshots, bad[i].array, 2)[3] = bad[i].value;
        cr_assert_eq(store_write(path, &wrote, NULL, &errors), STATUS_OK, "%s", errors.kept[0].text);
        cr_expect_eq(store_read(path, &read, &errors), STATUS_INPUT, "%s", snapshot_table[bad[i].array].name);
        case_result_free(&wrote);
    }
    struct case_result wrote, read;
    sample_result(&wrote, 0);
    wrote.hits[4].output.snapshots.rows = 3;
    cr_assert_eq(store_write(path, &wrote, NULL, &errors), STATUS_OK);
    cr_assert_eq(store_read(path, &read, &errors), STATUS_OK, "the same everywhere is no contradiction");
    case_result_free(&read);
    case_result_free(&wrote);
}

Test(store, a_bare_pad_result_is_read_too)
{
    struct case_result wrote = {.worst_hit = -1, .worst_metric = -1, .verdict = VERDICT_NO_LIMIT}, read;
    struct errors errors = {0};
    cr_assert_eq(store_write(path, &wrote, NULL, &errors), STATUS_OK, "%s", errors.kept[0].text);
    cr_assert_eq(store_read(path, &read, &errors), STATUS_OK, "%s", errors.kept[0].text);
    cr_expect(read.worst_hit == -1 && read.worst_metric == -1 && read.hit_count == 0);
    cr_expect_str_eq(read.title, "");
    case_result_free(&read);
}

Test(store, the_same_hit_twice_is_an_error)
{
    struct case_result result;
    struct errors errors = {0};
    sample_result(&result, 0);
    result.hits[1].impact = 1;
    cr_expect_eq(store_write(path, &result, NULL, &errors), STATUS_INTERNAL);
    cr_expect_not_null(strstr(errors.kept[0].text, "/impacts/0001/hit1"));
    cr_expect_eq(files_count(folder), 0);
    case_result_free(&result);
}

/* --- the hash --- */

Test(store, the_hash_covers_all_but_the_run)
{
    char first[65], other_run[65], other_bit[65];
    struct case_result result;
    struct errors errors = {0};
    sample_result(&result, 0);
    cr_assert_eq(store_write(path, &result, NULL, &errors), STATUS_OK);
    cr_assert_eq(store_hash(path, first, &errors), STATUS_OK);
    size_t length, again;
    unsigned char *bytes = files_load(path, &length);
    cr_assert_eq(store_write(path, &result, NULL, &errors), STATUS_OK);
    unsigned char *twice = files_load(path, &again);
    cr_expect(length == again && memcmp(bytes, twice, length) == 0, "equal results give equal bytes");
    free(bytes);
    free(twice);
    result.wall *= 2;
    result.threads = 7;
    result.hits[2].wall = 1;
    memory_free(result.file);
    result.file = memory_text("elsewhere/layout.yaml");
    cr_assert_eq(store_write(path, &result, NULL, &errors), STATUS_OK);
    cr_assert_eq(store_hash(path, other_run, &errors), STATUS_OK);
    cr_expect_str_eq(first, other_run);
    double *sample = &result.hits[3].output.channel[PULSE_velocity][700];
    *sample = nextafter(*sample, 0);
    cr_assert_eq(store_write(path, &result, NULL, &errors), STATUS_OK);
    cr_assert_eq(store_hash(path, other_bit, &errors), STATUS_OK);
    cr_expect_str_neq(first, other_bit);
    case_result_free(&result);
}

/* --- the file, seen through the library alone ------------------------------------------------------------
 */

struct census {
    hid_t file;
    size_t datasets, bad, lines;
    char *line[20000];
};

static int is_scale_attribute(const char *name)
{
    static const char *const names[] = {"CLASS", "NAME", "REFERENCE_LIST", "DIMENSION_LIST", "content_hash"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        if (strcmp(name, names[i]) == 0)
            return 1;
    }
    return 0;
}

/* One line of the text under the content hash, made from what the library says is in the file. */
static void census_line(struct census *census, hid_t type, hid_t space, const void *raw, const char *name)
{
    hsize_t extent[2] = {0};
    int rank = H5Sget_simple_extent_dims(space, extent, NULL);
    char shape[64] = "scalar", hex[DIGEST_HEX];
    if (rank == 1)
        snprintf(shape, sizeof shape, "%zu", (size_t)extent[0]);
    if (rank == 2)
        snprintf(shape, sizeof shape, "%zux%zu", (size_t)extent[0], (size_t)extent[1]);
    size_t size = H5Tget_size(type);
    H5T_class_t class = H5Tget_class(type);
    const char *kind = class == H5T_STRING  ? "text"
                       : class == H5T_FLOAT ? "float64"
                       : size == 4          ? "int32"
                                            : "int64";
    digest_hex(raw, size * (size_t)H5Sget_simple_extent_npoints(space), hex);
    char *line = malloc(1024);
    snprintf(line, 1024, "%s %s %s %s\n", hex, kind, shape, name);
    census->line[census->lines++] = line;
}

struct visit {
    struct census *census;
    const char *object;
};

static herr_t census_attribute(hid_t object, const char *name, const H5A_info_t *info, void *context)
{
    struct visit *visit = context;
    (void)info;
    if (is_scale_attribute(name))
        return 0;
    hid_t attribute = H5Aopen(object, name, H5P_DEFAULT), type = H5Aget_type(attribute);
    hid_t space = H5Aget_space(attribute);
    void *raw = calloc((size_t)H5Aget_storage_size(attribute) + 1, 1);
    char full[1024];
    snprintf(full, sizeof full, "%s@%s", visit->object, name);
    if (H5Tis_variable_str(type) != 0 || H5Aread(attribute, type, raw) < 0)
        visit->census->bad++;
    census_line(visit->census, type, space, raw, full);
    free(raw);
    H5Sclose(space);
    H5Tclose(type);
    H5Aclose(attribute);
    return 0;
}

static void census_dataset(struct census *census, hid_t dataset, const char *name, const char *full)
{
    hid_t type = H5Dget_type(dataset), space = H5Dget_space(dataset), create = H5Dget_create_plist(dataset);
    size_t count = (size_t)H5Sget_simple_extent_npoints(space);
    census->datasets++;
    int checked = 0;
    for (int i = 0; i < H5Pget_nfilters(create); i++) {
        unsigned flags, config;
        size_t none = 0;
        checked |= H5Pget_filter2(create, (unsigned)i, &flags, &none, NULL, 0, NULL, &config) ==
                   H5Z_FILTER_FLETCHER32;
    }
    H5O_info_t info;
    H5Oget_info2(dataset, &info, H5O_INFO_TIME);
    int good = H5Aexists(dataset, "units") > 0 && H5Aexists(dataset, "description") > 0 &&
               (checked || count == 0 || H5Sget_simple_extent_ndims(space) == 0) &&
               H5Tis_variable_str(type) == 0 && info.mtime == 0;
    if (!good)
        fprintf(stderr, "%s breaks a rule of the file\n", name);
    census->bad += !good;
    if (strncmp(full, "/run", 4) != 0) {
        void *raw = calloc(count + 1, H5Tget_size(type));
        if (count && H5Dread(dataset, type, H5S_ALL, H5S_ALL, H5P_DEFAULT, raw) < 0)
            census->bad++;
        census_line(census, type, space, raw, full);
        free(raw);
    }
    H5Pclose(create);
    H5Sclose(space);
    H5Tclose(type);
}

static herr_t census_visit(hid_t file, const char *name, const H5O_info_t *info, void *context)
{
    struct census *census = context;
    char full[1024];
    snprintf(full, sizeof full, "/%s", strcmp(name, ".") == 0 ? "" : name);
    hid_t object = H5Oopen(file, name, H5P_DEFAULT);
    if (info->type == H5O_TYPE_DATASET)
        census_dataset(census, object, name, full);
    struct visit visit = {census, full};
    hsize_t from = 0;
    if (strncmp(full, "/run", 4) != 0)
        H5Aiterate2(object, H5_INDEX_NAME, H5_ITER_INC, &from, census_attribute, &visit);
    H5Oclose(object);
    return 0;
}

static int line_order(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* The recipe of cases/container.h, followed with the library alone: rules of every dataset, and the hash. */
Test(store, others_can_read_it_and_check_the_hash)
{
    static struct census census;
    write_sample(path);
    hid_t file = H5Fopen(path, H5F_ACC_RDONLY, H5P_DEFAULT);
    cr_assert_geq(file, 0);
    H5Ovisit2(file, H5_INDEX_NAME, H5_ITER_INC, census_visit, &census, H5O_INFO_BASIC);
    cr_expect_eq(census.bad, 0);
    cr_expect_gt(census.datasets, 200);
    qsort(census.line, census.lines, sizeof *census.line, line_order);
    struct digest digest;
    unsigned char out[DIGEST_BYTES];
    digest_begin(&digest);
    for (size_t i = 0; i < census.lines; i++) {
        digest_add(&digest, census.line[i], strlen(census.line[i]));
        free(census.line[i]);
    }
    digest_end(&digest, out);
    char want[DIGEST_HEX] = "", have[DIGEST_HEX];
    cr_assert_geq(H5LTget_attribute_string(file, "/", "content_hash", want), 0);
    for (int i = 0; i < DIGEST_BYTES; i++)
        snprintf(have + 2 * i, 3, "%02x", out[i]);
    cr_expect_eq(memcmp(want, have, 64), 0);

    hid_t pulse = H5Dopen2(file, "/impacts/0003/hit1/pulse/acceleration", H5P_DEFAULT);
    hid_t time = H5Dopen2(file, "/impacts/0003/hit1/pulse/time", H5P_DEFAULT);
    cr_expect_eq(H5DSis_attached(pulse, time, 0), 1);
    H5Dclose(time);
    H5Dclose(pulse);
    H5Fclose(file);
}

/* --- damage --- */

static uint64_t seed = 20240611;

static uint64_t next_random(void)
{
    seed = seed * 6364136223846793005u + 1442695040888963407u;
    return seed >> 33;
}

/* Where the words stood in the message of the last refusal. */
static ptrdiff_t refused_at;

static void expect_refused(const char *name, const char *words)
{
    struct case_result read;
    struct errors errors = {0};
    enum status status = store_read(name, &read, &errors);
    cr_expect(status == STATUS_INPUT || status == STATUS_FILE, "status %d", status);
    cr_expect_null(read.hits);
    const char *found = strstr(errors.kept[0].text, words);
    cr_expect_not_null(found, "said: %s", errors.kept[0].text);
    refused_at = found ? found - errors.kept[0].text : -1;
    case_result_free(&read);
}

Test(store, any_flipped_bit_is_found)
{
    size_t length;
    write_sample(path);
    unsigned char *bytes = files_load(path, &length);
    for (int trial = 0; trial < 200; trial++) {
        size_t at = next_random() % (trial < 20 ? PROBE_BLOCK : length);
        unsigned char bit = (unsigned char)(1u << next_random() % 8);
        bytes[at] ^= bit;
        files_dump(path, bytes, length);
        expect_refused(path, "damaged or not a foampulse result");
        bytes[at] ^= bit;
    }
    free(bytes);
}

/* Damage that a checksum made over it again hides: HDF5 itself is in the line of fire. Whatever comes out,
 * this process lives. */
Test(store, resealed_damage_kills_the_child_at_most)
{
    size_t length, refused = 0;
    write_sample(path);
    unsigned char *bytes = files_load(path, &length), *worse = malloc(length);
    for (int trial = 0; trial < 40; trial++) {
        memcpy(worse, bytes, length);
        for (int i = 0; i < 40; i++)
            worse[PROBE_BLOCK + next_random() % (length - PROBE_BLOCK)] = (unsigned char)next_random();
        probe_seal(STORE_RUN, worse, length);
        files_dump(path, worse, length);
        struct case_result read;
        struct errors errors = {0};
        refused += store_read(path, &read, &errors) != STATUS_OK;
        case_result_free(&read);
    }
    cr_expect_gt(refused, 20);
    free(worse);
    free(bytes);
}

static void seal_again(void)
{
    size_t length;
    unsigned char *bytes = files_load(path, &length);
    probe_seal(STORE_RUN, bytes, length);
    files_dump(path, bytes, length);
    free(bytes);
}

static void set_text(hid_t file, const char *name, const char *text)
{
    if (H5Aexists(file, name) > 0)
        cr_assert_geq(H5Adelete(file, name), 0);
    if (!text[0])
        return;
    hid_t type = H5Tcopy(H5T_C_S1), space = H5Screate(H5S_SCALAR);
    H5Tset_size(type, strlen(text));
    H5Tset_strpad(type, H5T_STR_NULLPAD);
    H5Tset_cset(type, H5T_CSET_UTF8);
    hid_t attribute = H5Acreate2(file, name, type, space, H5P_DEFAULT, H5P_DEFAULT);
    cr_assert_geq(H5Awrite(attribute, type, text), 0);
    H5Aclose(attribute);
    H5Sclose(space);
    H5Tclose(type);
}

/* A sealed result that lacks a dataset, as if written by this version and revision of the program; NULL
 * leaves those of this one, "" takes the attribute away. */
static void write_lacking(const char *dataset, const char *version, const char *revision)
{
    write_sample(path);
    hid_t file = H5Fopen(path, H5F_ACC_RDWR, H5P_DEFAULT);
    cr_assert_geq(file, 0);
    cr_assert_geq(H5Ldelete(file, dataset, H5P_DEFAULT), 0);
    if (version)
        set_text(file, "program_version", version);
    if (revision)
        set_text(file, "git_revision", revision);
    H5Fclose(file);
    seal_again();
}

/* A whole file of an earlier or later program is not called damaged: that would send its owner to look for a
 * broken disk. One of this program that lacks something is. */
Test(store, files_of_another_program_are_called_so)
{
    static const char dataset[] = "/impacts/0003/hit1/pulse/time";
    static const char words[] = "cannot be read by this one: run its case again. What differs: "
                                "/impacts/0003/hit1/pulse/time: is missing";
    write_lacking(dataset, NULL, NULL);
    expect_refused(path, "/impacts/0003/hit1/pulse/time: is missing");
    cr_expect_eq(refused_at, 0, "nothing said of another program");
    write_lacking(dataset, "0.0.7", "");
    expect_refused(path, "was written by another foampulse (0.0.7; this is " FOAMPULSE_VERSION);
    expect_refused(path, words);
    write_lacking(dataset, NULL, "abcdef");
    expect_refused(path, "(" FOAMPULSE_VERSION ", abcdef; this is " FOAMPULSE_VERSION);
    expect_refused(path, words);
    write_lacking(dataset, "", "abcdef");
    expect_refused(path, "/: attribute program_version is missing");
    cr_expect_eq(refused_at, 0, "nothing said of another program");
}

/* The sample's hit has 3 rings and 2 regions: 4 edges, 2 x 3 shares, 3 bare shares. */
Test(store, rings_that_do_not_fit_are_refused)
{
    static const struct {
        const char *dataset;
        int rank;
        hsize_t extent[2];
        const char *words;
    } bad[] = {
        {"edge", 1, {1, 0}, "rings/edge: holds no ring"},
        {"edge", 1, {6, 0}, "rings/area_fraction: does not fit the rings"},
        {"area_fraction", 2, {2, 4}, "rings/area_fraction: does not fit the rings"},
        {"area_fraction", 2, {3, 3}, "rings/area_fraction: does not fit the rings"},
        {"bare", 1, {2, 0}, "rings/bare: does not fit the rings"},
    };
    const double values[12] = {0};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        char name[96];
        snprintf(name, sizeof name, "/impacts/0003/hit1/rings/%s", bad[i].dataset);
        write_sample(path);
        hid_t file = H5Fopen(path, H5F_ACC_RDWR, H5P_DEFAULT);
        cr_assert_geq(H5Ldelete(file, name, H5P_DEFAULT), 0);
        cr_assert_geq(H5LTmake_dataset_double(file, name, bad[i].rank, bad[i].extent, values), 0);
        H5Fclose(file);
        seal_again();
        expect_refused(path, bad[i].words);
    }
}

static enum status dies(void *context, struct errors *errors)
{
    (void)context;
    (void)errors;
    raise(SIGSEGV);
    return STATUS_OK;
}

static enum status eats(void *context, struct errors *errors)
{
    (void)context;
    void *block = malloc((size_t)3 << 30);
    int got = block != NULL;
    free(block);
    return got ? STATUS_OK : errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "no room");
}

static enum status hangs(void *context, struct errors *errors)
{
    (void)errors;
    for (volatile int *go_on = context; *go_on;)
        continue;
    return STATUS_OK;
}

/* A file that keeps HDF5 busy for ever costs ten seconds of the processor, not the evening. */
Test(store, the_child_hangs)
{
    struct errors errors = {0};
    struct rusage usage;
    volatile int forever = 1;
    cr_expect_eq(probe_try("x.h5", hangs, (void *)&forever, &errors), STATUS_INPUT);
    cr_expect_str_eq(errors.kept[0].text, "damaged or not a foampulse result");
    getrusage(RUSAGE_CHILDREN, &usage);
    cr_expect_lt(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec, 12);
}

Test(store, the_child_has_limits)
{
    struct errors errors = {0};
    cr_expect_eq(probe_try("x.h5", dies, NULL, &errors), STATUS_INPUT);
    cr_expect_str_eq(errors.kept[0].text, "damaged or not a foampulse result");
#if !defined(__SANITIZE_ADDRESS__)
    cr_expect_eq(probe_try("x.h5", eats, NULL, &errors), STATUS_MEMORY);
#else
    (void)eats;
#endif
}

Test(store, cut_files_and_other_things_are_refused)
{
    size_t length;
    write_sample(path);
    unsigned char *bytes = files_load(path, &length);
    const size_t cuts[] = {0, 1, 100, PROBE_BLOCK - 1, PROBE_BLOCK, PROBE_BLOCK + 8, length / 2, length - 1};
    for (size_t i = 0; i < sizeof cuts / sizeof *cuts; i++) {
        files_dump(path, bytes, cuts[i]);
        expect_refused(path, "damaged or not a foampulse result");
    }
    free(bytes);
    expect_refused(folder, "folder");
    expect_refused("/dev/null", "regular");
    char absent[96];
    snprintf(absent, sizeof absent, "%s/absent.h5", folder);
    expect_refused(absent, "No such file");
    files_write(path, "title: a case, not a result\n");
    expect_refused(path, "damaged or not a foampulse result");
}

/* --- what stands in the way ------------------------------------------------------------------------------
 */

static enum status write_over(const char *name, int force, struct errors *errors)
{
    struct case_result result;
    *errors = (struct errors){0};
    sample_result(&result, 0);
    enum status status = store_write(name, &result, &(struct store_options){.force = force}, errors);
    case_result_free(&result);
    return status;
}

Test(store, foreign_files_stay_unless_forced)
{
    struct errors errors;
    files_write(path, "my own notes");
    cr_expect_eq(write_over(path, 0, &errors), STATUS_FILE);
    cr_expect_not_null(strstr(errors.kept[0].text, "-f"));
    cr_expect(holds_text(path, "my own notes"));
    cr_expect_eq(write_over(path, 1, &errors), STATUS_OK);
    cr_expect_eq(write_over(path, 0, &errors), STATUS_OK, "our own result is replaced");
}

Test(store, folders_devices_and_links_are_left_alone)
{
    struct errors errors;
    cr_expect_eq(write_over(folder, 1, &errors), STATUS_FILE);
    char target[96], link[96];
    snprintf(target, sizeof target, "%s/target", folder);
    snprintf(link, sizeof link, "%s/pipe", folder);
    cr_assert_eq(mkfifo(link, 0600), 0);
    cr_expect_eq(write_over(link, 1, &errors), STATUS_FILE);
    files_write(target, "somewhere else");
    cr_assert_eq(symlink(target, path), 0);
    cr_expect_eq(write_over(path, 0, &errors), STATUS_FILE);
    cr_expect_eq(write_over(path, 1, &errors), STATUS_OK);
    cr_expect(holds_text(target, "somewhere else"), "the link is replaced, not followed");
}

Test(store, a_link_under_the_temporary_name_is_not_followed)
{
    struct errors errors;
    char target[96], link[128];
    snprintf(target, sizeof target, "%s/target", folder);
    snprintf(link, sizeof link, "%s.%ld.0.tmp", path, (long)getpid());
    cr_assert_eq(symlink(target, link), 0);
    cr_expect_eq(write_over(path, 0, &errors), STATUS_OK);
    cr_expect_neq(access(target, F_OK), 0);
}

Test(store, folders_that_cannot_be_written)
{
    struct errors errors;
    cr_expect_eq(write_over("/proc/a.h5", 0, &errors), STATUS_FILE);
    cr_expect_eq(write_over("/tmp/foampulse_no_such_folder/a.h5", 0, &errors), STATUS_FILE);
    cr_expect_not_null(strstr(errors.kept[0].text, "No such file"));
    char long_name[5000];
    memset(long_name, 'x', sizeof long_name);
    long_name[sizeof long_name - 1] = '\0';
    cr_expect_eq(write_over(long_name, 0, &errors), STATUS_FILE);
}

Test(store, a_full_disk_leaves_the_old_file)
{
    struct errors errors;
    size_t length, again;
    write_sample(path);
    unsigned char *before = files_load(path, &length);
    struct rlimit old, small = {.rlim_cur = 20000};
    getrlimit(RLIMIT_FSIZE, &old);
    small.rlim_max = old.rlim_max;
    setrlimit(RLIMIT_FSIZE, &small);
    enum status status = write_over(path, 0, &errors);
    setrlimit(RLIMIT_FSIZE, &old);
    cr_expect_eq(status, STATUS_FILE);
    cr_expect_not_null(strstr(errors.kept[0].text, "File too large"), "said: %s", errors.kept[0].text);
    cr_expect_eq(files_count(folder), 1);
    unsigned char *after = files_load(path, &again);
    cr_expect(length == again && memcmp(before, after, length) == 0);
    free(before);
    free(after);
}

/* The same on a real full disk, where the machine lets us make one. */
Test(store, a_full_tmpfs)
{
    if (mount("none", folder, "tmpfs", 0, "size=64k") != 0)
        cr_skip_test("no right to mount a small disk");
    struct errors errors;
    enum status status = write_over(path, 0, &errors);
    size_t left = files_count(folder);
    umount(folder);
    cr_expect_eq(status, STATUS_FILE);
    cr_expect_not_null(strstr(errors.kept[0].text, "No space left"), "said: %s", errors.kept[0].text);
    cr_expect_eq(left, 0);
}

/* Every single allocation of a write and a read fails once: an error, nothing leaked (under the sanitizers),
 * nothing left on the disk. */
Test(store, memory_runs_out)
{
    struct case_result result, read;
    sample_result(&result, 0);
    result.hit_count = 1;
    result.worst_hit = 0;
    struct case_result view = result;
    enum status status = STATUS_MEMORY;
    size_t tried = 0;
    for (; status != STATUS_OK && tried < 20000; tried += tried < 100 ? 1 : 17) {
        struct errors errors = {0};
        memory_fail_after(tried);
        status = store_write(path, &view, NULL, &errors);
        memory_fail_after(SIZE_MAX);
        cr_assert(status == STATUS_OK || status == STATUS_MEMORY, "%d at %zu: %s", status, tried,
                  errors.kept[0].text);
        cr_assert_eq(files_count(folder), status == STATUS_OK);
    }
    cr_expect_gt(tried, 300);
    status = STATUS_MEMORY;
    for (tried = 0; status != STATUS_OK && tried < 20000; tried += tried < 60 ? 1 : 7) {
        struct errors errors = {0};
        memory_fail_after(tried);
        status = store_read(path, &read, &errors);
        memory_fail_after(SIZE_MAX);
        cr_assert(status == STATUS_OK || status == STATUS_MEMORY, "%d at %zu: %s", status, tried,
                  errors.kept[0].text);
        case_result_free(&read);
    }
    cr_expect_gt(tried, 60);
    result.hit_count = 7;
    case_result_free(&result);
}

Test(store, no_object_stays_open)
{
    struct case_result read;
    struct errors errors = {0};
    write_sample(path);
    cr_expect_eq(store_read(path, &read, &errors), STATUS_OK);
    case_result_free(&read);
    size_t length;
    unsigned char *bytes = files_load(path, &length);
    struct container *container = container_open(bytes, length);
    struct values values;
    cr_expect_null(container_get_array(container, "/summary/hic", VALUE_TEXT, 1, &values), "another kind");
    cr_expect_eq(container_close(container, &errors), STATUS_INPUT);
    container = container_open(bytes, length);
    cr_expect_null(container_get_array(container, "/summary/hic", VALUE_DOUBLE, 2, &values), "another shape");
    cr_expect_eq(container_close(container, &errors), STATUS_INPUT);
    free(bytes);
    cr_expect_eq(H5Fget_obj_count((hid_t)H5F_OBJ_ALL, H5F_OBJ_ALL), 0);
}
