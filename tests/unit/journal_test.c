#include <criterion/criterion.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "cases/journal.h"
#include "cases/pack.h"
#include "cases/probe.h"
#include "solver/base/memory.h"
#include "tests/support/files.h"
#include "tests/support/sample_result.h"

#define KIND "foampulse/test/1"

static char folder[64];
static char result[80], part[96];

static void begin(void)
{
    signal(SIGXFSZ, SIG_IGN);
    /* in memory where that can be, for these tests flush to the disk thousands of times */
    snprintf(folder, sizeof folder, "/dev/shm/foampulse_journal_XXXXXX");
    if (!mkdtemp(folder)) {
        snprintf(folder, sizeof folder, "/tmp/foampulse_journal_XXXXXX");
        cr_assert_not_null(mkdtemp(folder));
    }
    snprintf(result, sizeof result, "%s/a.h5", folder);
    snprintf(part, sizeof part, "%s.part", result);
}

static void end(void)
{
    files_remove(folder);
    rmdir(folder);
}

TestSuite(journal, .init = begin, .fini = end, .timeout = 120);

/* --- points --- */

static void hash_of(unsigned seed, unsigned char hash[DIGEST_BYTES])
{
    struct digest digest;
    digest_begin(&digest);
    digest_add(&digest, &seed, sizeof seed);
    digest_end(&digest, hash);
}

/* A payload that tells points apart; its length grows with the index, from 0. */
static size_t payload_of(unsigned seed, size_t index, unsigned char *payload)
{
    size_t length = (index - 1) * 37 % 1000;
    for (size_t i = 0; i < length; i++)
        payload[i] = (unsigned char)(seed * 31 + index * 7 + i);
    return length;
}

static void append(struct journal *journal, unsigned seed, size_t index)
{
    unsigned char payload[1000];
    struct errors errors = {0};
    struct journal_point point = {.index = index, .status = (uint32_t)index % 3, .payload = payload};
    point.length = payload_of(seed, index, payload);
    hash_of(seed, point.hash);
    cr_assert_eq(journal_append(journal, &point, &errors), STATUS_OK, "%s", errors.kept[0].text);
}

static int holds(struct journal *journal, unsigned seed, size_t index)
{
    unsigned char hash[DIGEST_BYTES], want[1000], *have;
    struct errors errors = {0};
    hash_of(seed, hash);
    const struct journal_entry *entry = journal_find(journal, hash, index);
    if (!entry)
        return 0;
    size_t length = payload_of(seed, index, want);
    cr_assert_eq(entry->length, length);
    cr_assert_eq(entry->status, index % 3);
    cr_assert_eq(journal_read(journal, entry, &have, &errors), STATUS_OK, "%s", errors.kept[0].text);
    int equal = memcmp(have, want, length) == 0;
    memory_free(have);
    cr_expect(equal, "point %zu", index);
    return 1;
}

static void open_good(struct journal *journal)
{
    struct errors errors = {0};
    cr_assert_eq(journal_open(result, KIND, journal, &errors), STATUS_OK, "%s", errors.kept[0].text);
}

static void write_points(unsigned seed, size_t from, size_t to)
{
    struct journal journal;
    open_good(&journal);
    for (size_t i = from; i <= to; i++)
        append(&journal, seed, i);
    cr_assert_eq(journal_close(&journal, NULL), STATUS_OK);
}

static void expect_refused(const char *words)
{
    struct journal journal;
    struct errors errors = {0};
    cr_expect_eq(journal_open(result, KIND, &journal, &errors), STATUS_FILE);
    cr_expect(strstr(errors.kept[0].text, words), "said: %s", errors.kept[0].text);
    cr_expect_str_eq(errors.kept[0].file, part);
    cr_expect_eq(errors.count, 1);
    cr_expect_not(journal.open);
}

/* --- keeping and finding --- */

Test(journal, what_was_added_is_found_by_the_next)
{
    struct journal journal;
    write_points(1, 1, 150);
    write_points(2, 10, 20); /* other points of the same indices */
    open_good(&journal);
    cr_expect_eq(journal.count, 161);
    cr_expect_eq(journal.cut, 0);
    for (size_t i = 1; i <= 150; i++)
        cr_expect(holds(&journal, 1, i));
    for (size_t i = 1; i <= 30; i++)
        cr_expect_eq(holds(&journal, 2, i), i >= 10 && i <= 20);
    cr_expect_not(holds(&journal, 1, 151));
    append(&journal, 1, 151);
    cr_expect(holds(&journal, 1, 151), "found by the process that added it");
    cr_expect_eq(journal_remove(&journal, NULL), STATUS_OK);
    cr_expect_neq(access(part, F_OK), 0);
}

Test(journal, without_points_nothing_is_left)
{
    struct journal journal;
    open_good(&journal);
    cr_expect_eq(access(part, F_OK), 0, "the lock is there");
    cr_expect_eq(journal_close(&journal, NULL), STATUS_OK);
    cr_expect_neq(access(part, F_OK), 0);
    cr_expect_eq(journal_close(&journal, NULL), STATUS_OK, "closed twice");
}

/* The layout of cases/journal.h, read without its code. */
Test(journal, bytes_are_as_documented)
{
    size_t length;
    write_points(7, 3, 3);
    unsigned char *bytes = files_load(part, &length), want[1000], hash[DIGEST_BYTES];
    size_t payload = payload_of(7, 3, want);
    char header[64] = "foampulse journal 1\nkind   " KIND "\n";
    hash_of(7, hash);
    cr_assert_eq(length, 64 + 56 + payload + 4);
    cr_expect_eq(memcmp(bytes, header, 64), 0);
    const unsigned char *record = bytes + 64, *check = record + 56 + payload;
    cr_expect_eq(memcmp(record, "RJFP", 4), 0, "0x50464a52, the low byte first");
    cr_expect(record[4] == 0 && record[8] == payload && record[9] == 0 && record[16] == 3 && record[17] == 0);
    cr_expect_eq(memcmp(record + 24, hash, DIGEST_BYTES), 0);
    cr_expect_eq(memcmp(record + 56, want, payload), 0);
    uint32_t crc = check[0] | (uint32_t)check[1] << 8 | (uint32_t)check[2] << 16 | (uint32_t)check[3] << 24;
    cr_expect_eq(crc, digest_crc(0, record, 56 + payload));
    free(bytes);
}

/* --- damage --- */

/* Cut at every length: all records before the cut are there, and only they; going on repairs the file. */
Test(journal, a_torn_tail_is_cut)
{
    size_t length, at = 64, whole = 0, points = 12;
    write_points(1, 1, points);
    unsigned char *bytes = files_load(part, &length), payload[1000];
    for (size_t cut = 64; cut < length; cut++) {
        struct journal journal;
        while (cut >= at + 60 + payload_of(1, whole + 1, payload))
            at += 60 + payload_of(1, ++whole, payload);
        files_dump(part, bytes, cut);
        open_good(&journal);
        cr_assert_eq(journal.count, whole, "%zu at %zu", journal.count, cut);
        cr_assert_eq(journal.cut, cut - at);
        cr_assert_eq(files_size(part), at);
        for (size_t i = whole + 1; i <= points; i++)
            append(&journal, 1, i);
        cr_assert_eq(journal_close(&journal, NULL), STATUS_OK);
        size_t again;
        unsigned char *mended = files_load(part, &again);
        cr_assert(again == length && memcmp(mended, bytes, length) == 0, "cut at %zu", cut);
        free(mended);
    }
    free(bytes);
}

/* A flipped bit anywhere behind the header costs its record and those behind it, never one before it. */
Test(journal, damage_is_never_taken)
{
    size_t length;
    unsigned char payload[1000];
    write_points(1, 1, 12);
    unsigned char *bytes = files_load(part, &length);
    size_t before = 0, at = 64;
    for (size_t place = 64; place < length; place++) {
        struct journal journal;
        while (place >= at + 60 + payload_of(1, before + 1, payload))
            at += 60 + payload_of(1, ++before, payload);
        unsigned char bit = (unsigned char)(1u << place % 8);
        bytes[place] ^= bit;
        files_dump(part, bytes, length);
        bytes[place] ^= bit;
        open_good(&journal);
        cr_assert_eq(journal.count, before, "bit at %zu: %zu records, not %zu", place, journal.count, before);
        journal_close(&journal, NULL);
    }
    free(bytes);
}

/* What a process leaves that died while it made the file: nothing, a part of the header, or, after a power
 * cut, zeros. */
Test(journal, an_unfinished_header_is_written_again)
{
    struct journal journal;
    char header[64] = "foampulse journal 1\nkind   " KIND "\n", zeros[200] = "";
    for (size_t length = 0; length < 64; length += 9) {
        files_dump(part, header, length);
        open_good(&journal);
        append(&journal, 1, 1);
        journal_close(&journal, NULL);
        open_good(&journal);
        cr_expect(holds(&journal, 1, 1), "%zu", length);
        journal_close(&journal, NULL);
    }
    files_dump(part, zeros, sizeof zeros);
    open_good(&journal);
    cr_expect_eq(journal.count, 0);
    journal_close(&journal, NULL);
}

/* --- what stands in the way --- */

Test(journal, other_things_are_left_alone)
{
    files_dump(part, "my own notes", 12);
    expect_refused("is no journal of this kind of result");
    cr_expect_eq(files_size(part), 12);
    char other[64] = "foampulse journal 1\nkind   foampulse/other/1\n";
    files_dump(part, other, sizeof other);
    expect_refused("is no journal of this kind of result");
    remove(part);
    cr_assert_eq(mkfifo(part, 0600), 0);
    expect_refused("folder or device");
    remove(part);
    cr_assert_eq(mkdir(part, 0700), 0);
    expect_refused("cannot be opened");
    remove(part);
    char target[128];
    snprintf(target, sizeof target, "%s/target", folder);
    files_dump(target, "elsewhere", 9);
    cr_assert_eq(symlink(target, part), 0);
    expect_refused("symbolic link");
    cr_expect_eq(files_size(target), 9);
    struct journal journal;
    struct errors errors = {0};
    cr_expect_eq(journal_open("/proc/a.h5", KIND, &journal, &errors), STATUS_FILE);
    char name[SAVE_PATH];
    memset(name, 'x', sizeof name);
    name[SAVE_PATH - 4] = '\0';
    cr_expect_eq(journal_open(name, KIND, &journal, &errors), STATUS_FILE);
}

/* Temporary files of the result go, and nothing that only looks like one. */
Test(journal, leftovers_of_killed_processes_go)
{
    static const struct {
        const char *name;
        int stays;
    } files[] = {{"a.h5.12.0.tmp", 0}, {"a.h5.4711.3.tmp", 0}, {"a.h5.tmp", 1},
                 {"a.h5.12.tmp", 1},   {"a.h5.12.0.tmp2", 1},  {"b.h5.12.0.tmp", 1},
                 {"a.h5.1x.0.tmp", 1}, {"xa.h5.12.0.tmp", 1},  {"a.h5.12.0.0.tmp", 1},
                 {"a.h5", 1}};
    struct journal journal;
    char path[128];
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, files[i].name);
        files_dump(path, "x", 1);
    }
    open_good(&journal);
    journal_close(&journal, NULL);
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, files[i].name);
        cr_expect_eq(access(path, F_OK) == 0, files[i].stays, "%s", files[i].name);
    }
}

/* --- the lock --- */

Test(journal, one_process_at_a_time)
{
    struct journal journal;
    open_good(&journal);
    pid_t child = fork();
    if (child == 0) {
        struct journal second;
        struct errors errors = {0};
        enum status status = journal_open(result, KIND, &second, &errors);
        _exit(status == STATUS_FILE && strstr(errors.kept[0].text, "another process is working on this") ? 0
                                                                                                         : 1);
    }
    int status = -1;
    waitpid(child, &status, 0);
    cr_expect_eq(status, 0);
    append(&journal, 1, 1);
    expect_refused("another process is working on this result");
    cr_expect(holds(&journal, 1, 1));
    cr_expect_eq(journal_remove(&journal, NULL), STATUS_OK);
    open_good(&journal);
    cr_expect_eq(journal.count, 0);
    journal_close(&journal, NULL);
}

static enum status lives_on(void *context, struct errors *errors)
{
    (void)context;
    (void)errors;
    kill(getppid(), SIGKILL);
    sleep(2);
    return STATUS_OK;
}

/* A child of the probe that outlives its parent does not keep the result locked. */
Test(journal, the_probe_does_not_hold_the_lock)
{
    pid_t parent = fork();
    if (parent == 0) {
        struct journal journal;
        struct errors errors = {0};
        if (journal_open(result, KIND, &journal, &errors) == STATUS_OK)
            probe_try("x.h5", lives_on, NULL, &errors);
        _exit(1);
    }
    int status = 0;
    waitpid(parent, &status, 0);
    cr_assert(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
    struct journal journal;
    open_good(&journal);
    journal_close(&journal, NULL);
}

/* Processes that open, add and remove without end: whoever gets in is alone, and none works on a file that
 * has lost its name. */
Test(journal, a_removed_file_is_not_worked_on)
{
    enum { PROCESSES = 4 };
    pid_t children[PROCESSES];
    for (int i = 0; i < PROCESSES; i++) {
        children[i] = fork();
        if (children[i] != 0)
            continue;
        int wrong = 0, got = 0;
        for (int turn = 0; turn < 20000 && got < 300; turn++) {
            struct journal journal;
            struct stat named, opened;
            if (journal_open(result, KIND, &journal, NULL) != STATUS_OK)
                continue;
            got++;
            append(&journal, 1, 1);
            wrong += fstat(journal.descriptor, &opened) != 0 || lstat(part, &named) != 0 ||
                     named.st_ino != opened.st_ino || journal.count != 1;
            wrong += journal_remove(&journal, NULL) != STATUS_OK;
        }
        _exit(wrong || !got);
    }
    for (int i = 0; i < PROCESSES; i++) {
        int status = -1;
        waitpid(children[i], &status, 0);
        cr_expect_eq(status, 0, "process %d", i);
    }
}

/* --- faults --- */

Test(journal, a_full_disk_leaves_the_points_before)
{
    struct journal journal;
    struct errors errors = {0};
    struct rlimit old, small = {.rlim_cur = 64 + 1500};
    getrlimit(RLIMIT_FSIZE, &old);
    small.rlim_max = old.rlim_max;
    open_good(&journal);
    setrlimit(RLIMIT_FSIZE, &small);
    unsigned char payload[1000] = {1};
    struct journal_point point = {.index = 1, .length = 1000, .payload = payload};
    enum status first = journal_append(&journal, &point, &errors);
    point.index = 2;
    enum status second = journal_append(&journal, &point, &errors);
    size_t messages = errors.count;
    point.length = 0;
    enum status third = journal_append(&journal, &point, &errors);
    setrlimit(RLIMIT_FSIZE, &old);
    cr_expect_eq(first, STATUS_OK);
    cr_expect_eq(second, STATUS_FILE);
    cr_expect_eq(messages, 1);
    cr_expect(strstr(errors.kept[0].text, "cannot be written in full"), "said: %s", errors.kept[0].text);
    cr_expect_eq(third, STATUS_FILE);
    cr_expect_eq(errors.count, 1, "told once");
    cr_expect_eq(files_size(part), 64 + 1060, "the part of a record is taken back");
    cr_expect_eq(journal.count, 1);
    journal_close(&journal, NULL);
    open_good(&journal);
    cr_expect(journal.count == 1 && journal.cut == 0);
    journal_close(&journal, NULL);
}

Test(journal, memory_runs_out)
{
    write_points(1, 1, 70);
    size_t length;
    unsigned char *bytes = files_load(part, &length);
    enum status status = STATUS_MEMORY;
    size_t tried = 0;
    for (; status != STATUS_OK; tried++) {
        struct journal journal;
        struct errors errors = {0};
        unsigned char *payload = NULL;
        struct journal_point point = {.index = 71};
        memory_fail_after(tried);
        status = journal_open(result, KIND, &journal, &errors);
        if (status == STATUS_OK)
            status = journal_append(&journal, &point, &errors);
        if (status == STATUS_OK)
            status = journal_read(&journal, &journal.entries[50], &payload, &errors);
        memory_fail_after(SIZE_MAX);
        cr_assert(status == STATUS_OK || status == STATUS_MEMORY, "%d", status);
        cr_assert(files_size(part) == length || files_size(part) == length + 60, "%zu", tried);
        memory_free(payload);
        journal_close(&journal, NULL);
        files_dump(part, bytes, length);
    }
    cr_expect_gt(tried, 4);
    free(bytes);
}

/* At most one flush a second, however many points; one more when it is closed. */
Test(journal, flushes_once_a_second)
{
    struct journal journal;
    struct timespec start, time;
    size_t index = 0;
    double spent;
    open_good(&journal);
    clock_gettime(CLOCK_MONOTONIC, &start);
    do {
        append(&journal, 1, ++index);
        clock_gettime(CLOCK_MONOTONIC, &time);
        spent = (double)(time.tv_sec - start.tv_sec) + 1e-9 * (double)(time.tv_nsec - start.tv_nsec);
    } while (spent < 2.5);
    size_t flushes = journal.flushes;
    journal_remove(&journal, NULL);
    cr_expect(flushes >= 1 && (double)flushes <= spent, "%zu flushes in %.2f s", flushes, spent);
}

/* --- merging --- */

static void merge(struct journal *journal, const char *path, size_t expected)
{
    struct errors errors = {0};
    size_t added;
    cr_assert_eq(journal_merge(journal, path, &added, &errors), STATUS_OK, "%s", errors.kept[0].text);
    cr_expect_eq(added, expected, "%zu, not %zu", added, expected);
}

Test(journal, shares_are_merged)
{
    char other[128];
    size_t length, again;
    struct journal journal;
    snprintf(other, sizeof other, "%s/share", folder);
    write_points(1, 1, 60);
    write_points(1, 40, 45); /* twice in one share */
    cr_assert_eq(rename(part, other), 0);
    unsigned char *before = files_load(other, &length);
    write_points(1, 50, 100);
    open_good(&journal);
    merge(&journal, other, 49);
    merge(&journal, other, 0);
    cr_expect_eq(journal.count, 100);
    for (size_t i = 1; i <= 100; i++)
        cr_expect(holds(&journal, 1, i));
    files_dump(other, before, length - 1);
    merge(&journal, other, 0);
    unsigned char *after = files_load(other, &again);
    cr_expect(again == length - 1 && memcmp(before, after, again) == 0, "the share is as it was");
    free(before);
    free(after);
    journal_close(&journal, NULL);
}

Test(journal, shares_that_contradict_are_refused)
{
    char other[128];
    struct journal journal;
    struct errors errors = {0};
    size_t added;
    snprintf(other, sizeof other, "%s/share", folder);
    write_points(1, 1, 5);
    open_good(&journal);
    unsigned char payload[1] = {9};
    struct journal_point point = {.index = 6, .length = 1, .payload = payload};
    hash_of(1, point.hash);
    cr_assert_eq(journal_append(&journal, &point, &errors), STATUS_OK);
    journal_close(&journal, NULL);
    cr_assert_eq(rename(part, other), 0);
    write_points(1, 6, 8);
    open_good(&journal);
    cr_expect_eq(journal_merge(&journal, other, &added, &errors), STATUS_INPUT);
    cr_expect(strstr(errors.kept[0].text, "point 6 has another result"), "said: %s", errors.kept[0].text);
    cr_expect(added == 0 && journal.count == 3);
    cr_expect_eq(journal_merge(&journal, part, &added, &errors), STATUS_FILE, "with itself");
    cr_expect_eq(journal_merge(&journal, "/nowhere/x.part", &added, &errors), STATUS_FILE);
    files_dump(other, "notes", 5);
    cr_expect_eq(journal_merge(&journal, other, &added, &errors), STATUS_FILE);
    journal_close(&journal, NULL);
}

/* --- hits as payload --- */

static void pack_sample(struct pack *pack, struct case_result *sample, size_t from, size_t count)
{
    sample_result(sample, 1);
    pack_hits(pack, sample->hits + from, count);
    cr_assert_not(pack->out_of_memory);
}

/* Of the output every byte comes back: what it makes when it is packed again is the same, and nothing of it
 * is left at its zero. */
Test(journal, hits_come_back)
{
    struct case_result sample;
    struct pack pack = {0}, again = {0};
    struct hit_result read[2] = {0};
    pack_sample(&pack, &sample, 4, 2);
    struct unpack unpack = {.at = pack.bytes, .left = pack.length};
    cr_assert_eq(unpack_hits(&unpack, read, 2), STATUS_OK);
    pack_hits(&again, read, 2);
    cr_expect(again.length == pack.length && memcmp(again.bytes, pack.bytes, pack.length) == 0);
    for (int i = 0; i < 2; i++) {
        const struct hit_result *a = &sample.hits[4 + i], *b = &read[i];
        struct impact_output x = a->output, y = b->output;
        cr_expect(a->status == b->status && a->wall == b->wall && strcmp(a->message, b->message) == 0);
        cr_expect_eq(memcmp(&a->hoop, &b->hoop, sizeof a->hoop), 0);
        for (size_t k = 0; k < x.layer_count; k++) {
            struct layer_output p = x.layers[k], q = y.layers[k];
            cr_expect_eq(!p.crush, !q.crush);
            p.crush = q.crush = NULL;
            cr_expect_eq(memcmp(&p, &q, sizeof p), 0, "layer %zu", k);
        }
        for (int k = 0; k < PULSE_COUNT; k++)
            cr_expect_eq(memcmp(x.channel[k], y.channel[k], x.count * sizeof(double)), 0);
        for (int k = 0; k < ENERGY_COUNT; k++)
            cr_expect_eq(memcmp(x.ledger[k], y.ledger[k], x.ledger_count * sizeof(double)), 0);
        memcpy(y.channel, x.channel, sizeof x.channel);
        memcpy(y.ledger, x.ledger, sizeof x.ledger);
        y.layers = x.layers;
        for (int k = 0; k < SNAPSHOT_COUNT; k++)
            cr_expect_eq(memcmp(x.snapshots.array[k], y.snapshots.array[k],
                                x.snapshots.count * snapshots_values(&x.snapshots, k) * sizeof(double)),
                         0, "%s", snapshot_table[k].name);
        memcpy(y.snapshots.array, x.snapshots.array, sizeof x.snapshots.array);
        cr_expect_eq(memcmp(&x, &y, sizeof x), 0, "every member of the output");
        impact_output_free(&read[i].output);
    }
    case_result_free(&sample);
    memory_free(pack.bytes);
    memory_free(again.bytes);
}

/* Bytes from elsewhere: cut anywhere, or with any byte another one. An error or sound hits; the sanitizers
 * watch. */
Test(journal, hostile_payloads)
{
    struct case_result sample;
    struct pack pack = {0};
    pack_sample(&pack, &sample, 0, 1);
    size_t refused = 0, tried = 0;
    for (size_t at = 0; at < pack.length; at += at < 2000 || at + 2000 > pack.length ? 1 : 997) {
        for (int what = 0; what < 4; what++) {
            struct hit_result read = {0};
            unsigned char kept = pack.bytes[at];
            struct unpack unpack = {.at = pack.bytes, .left = what == 0 ? at : pack.length};
            pack.bytes[at] = what == 0   ? kept
                             : what == 1 ? 0xff
                             : what == 2 ? 0
                                         : (unsigned char)(kept ^ 0x80);
            enum status status = unpack_hits(&unpack, &read, 1);
            pack.bytes[at] = kept;
            cr_assert(status == STATUS_OK || status == STATUS_INPUT, "%d", status);
            cr_assert(what != 0 || status == STATUS_INPUT, "cut at %zu", at);
            cr_assert(status == STATUS_OK || !read.output.layers);
            refused += status != STATUS_OK;
            tried++;
            impact_output_free(&read.output);
        }
    }
    cr_expect_gt(refused, tried / 4);
    struct hit_result read = {0};
    pack_integer(&pack, 0);
    struct unpack unpack = {.at = pack.bytes, .left = pack.length};
    cr_expect_eq(unpack_hits(&unpack, &read, 1), STATUS_INPUT, "more follows");
    case_result_free(&sample);
    memory_free(pack.bytes);
}

Test(journal, hits_without_memory)
{
    struct case_result sample;
    struct pack pack = {0};
    pack_sample(&pack, &sample, 0, 1);
    enum status status = STATUS_MEMORY;
    size_t tried = 0;
    for (; status != STATUS_OK; tried++) {
        struct hit_result read = {0};
        struct unpack unpack = {.at = pack.bytes, .left = pack.length};
        memory_fail_after(tried);
        status = unpack_hits(&unpack, &read, 1);
        memory_fail_after(SIZE_MAX);
        cr_assert(status == STATUS_OK || status == STATUS_MEMORY, "%d", status);
        impact_output_free(&read.output);
    }
    cr_expect_gt(tried, PULSE_COUNT);
    for (size_t i = 0; i < 3; i++) {
        struct pack fails = {0};
        memory_fail_after(i);
        pack_hits(&fails, sample.hits, 1);
        memory_fail_after(SIZE_MAX);
        cr_expect(fails.out_of_memory);
        memory_free(fails.bytes);
    }
    case_result_free(&sample);
    memory_free(pack.bytes);
}
