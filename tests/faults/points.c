#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "cases/container.h"
#include "cases/journal.h"
#include "cases/pack.h"
#include "solver/base/memory.h"

/*
 * A sweep without physics, to be killed: its points are numbers made from their index, so that what is in the
 * end result can depend on nothing but the journal. tests/faults/kills.sh drives it.
 *
 *   points solve RESULT COUNT [SHARE OF]     solves the points that the journal of RESULT lacks (of one share
 *                                            of several), says "taken N" first and each index behind its
 *                                            record; with all COUNT there, writes RESULT
 *   points merge RESULT COUNT PART...        the same after the points of other journals
 *   points count JOURNAL                     whole records in a file, found without the code of the journal
 */

#define KIND "foampulse/points/1"

enum { FACTORS = 4, HITS = 3, METRICS = 8, NUMBERS = FACTORS + HITS * METRICS };

static void fail(const char *what, const struct errors *errors)
{
    fprintf(stderr, "points: %s: %s %s\n", what, errors->kept[0].file, errors->kept[0].text);
    exit(1);
}

/* --- a point --- */

static uint64_t scramble(uint64_t value)
{
    value += 0x9e3779b97f4a7c15u;
    value = (value ^ value >> 30) * 0xbf58476d1ce4e5b9u;
    value = (value ^ value >> 27) * 0x94d049bb133111ebu;
    return value ^ value >> 31;
}

static void point_hash(uint64_t index, unsigned char hash[DIGEST_BYTES])
{
    struct digest digest;
    digest_begin(&digest);
    digest_add(&digest, &index, sizeof index);
    digest_end(&digest, hash);
}

/* Every 97th point fails, every 31st metric does not apply. */
static void point_solve(uint64_t index, struct pack *pack, uint32_t *status)
{
    double numbers[NUMBERS];
    for (uint64_t i = 0; i < NUMBERS; i++)
        numbers[i] = (index + i) % 31 == 0 ? (double)NAN
                                           : (double)(scramble(index * NUMBERS + i) >> 11) * 0x1p-53 - 0.25;
    *status = index % 97 == 0;
    pack_text(pack, *status ? "the foam tore at 3.1 ms" : "");
    pack_doubles(pack, numbers, NUMBERS);
}

/* --- solving --- */

static void point_keep(struct journal *journal, uint64_t index)
{
    struct errors errors = {0};
    struct pack pack = {0};
    struct journal_point point = {.index = index};
    point_hash(index, point.hash);
    point_solve(index, &pack, &point.status);
    point.payload = pack.bytes;
    point.length = pack.length;
    if (pack.out_of_memory || journal_append(journal, &point, &errors) != STATUS_OK)
        fail("append", &errors);
    memory_free(pack.bytes);
}

static void say(const char *what, uint64_t number)
{
    if (printf("%s%llu\n", what, (unsigned long long)number) < 0 || fflush(stdout) != 0)
        exit(1);
}

/* Solves what is missing; 1 when all points are there in the end. */
static int solve(struct journal *journal, uint64_t count, uint64_t share, uint64_t of)
{
    char *there = memory_zeroed(count + 1, 1);
    uint64_t missing = 0;
    for (uint64_t i = 1; i <= count; i++) {
        unsigned char hash[DIGEST_BYTES];
        point_hash(i, hash);
        there[i] = journal_find(journal, hash, i) != NULL;
    }
    say("taken ", journal->count);
    for (uint64_t i = 1; i <= count; i++) {
        if (!there[i] && i % of == share % of) {
            nanosleep(&(struct timespec){.tv_nsec = 20000}, NULL); /* solving takes a while */
            point_keep(journal, i);
            there[i] = 1;
            say("", i);
        }
        missing += !there[i];
    }
    memory_free(there);
    return missing == 0;
}

/* --- the result --- */

/* All points in the order of their index, as a sweep stores them. */
struct columns {
    int *status;
    double *numbers; /* (count, NUMBERS) */
    char *message;   /* (count, MESSAGE) */
};
enum { MESSAGE = 32 };

static void columns_read(struct journal *journal, uint64_t count, struct columns *columns)
{
    struct errors errors = {0};
    for (uint64_t i = 0; i < count; i++) {
        unsigned char hash[DIGEST_BYTES], *payload;
        point_hash(i + 1, hash);
        const struct journal_entry *entry = journal_find(journal, hash, i + 1);
        if (!entry || journal_read(journal, entry, &payload, &errors) != STATUS_OK)
            fail("read", &errors);
        struct unpack unpack = {.at = payload, .left = entry->length};
        columns->status[i] = (int)entry->status;
        unpack_text(&unpack, columns->message + i * MESSAGE, MESSAGE);
        unpack_doubles(&unpack, columns->numbers + i * NUMBERS, NUMBERS);
        if (unpack.bad || unpack.left)
            fail("unpack", &errors);
        memory_free(payload);
    }
}

/* One column of the numbers of all points, `width` of each from `first` on. */
static void put_numbers(struct container *container, const char *path, const double *numbers, uint64_t count,
                        size_t first, size_t width)
{
    double *block = memory_doubles(count * width);
    for (uint64_t i = 0; i < count; i++)
        memcpy(block + i * width, numbers + i * NUMBERS + first, width * sizeof *block);
    container_array(
        container, path, "1", "synthetic",
        &(struct values){.kind = VALUE_DOUBLE, .rank = 2, .extent = {count, width}, .data = block});
    memory_free(block);
}

static void write_result(const char *path, const struct columns *columns, uint64_t count)
{
    struct errors errors = {0};
    struct container *container = container_new();
    unsigned char *bytes;
    size_t length;
    container_group(container, "/sweep");
    container_group(container, "/sweep/metrics");
    put_numbers(container, "/sweep/factors", columns->numbers, count, 0, FACTORS);
    for (size_t m = 0; m < METRICS; m++) {
        char name[64];
        snprintf(name, sizeof name, "/sweep/metrics/m%zu", m);
        put_numbers(container, name, columns->numbers, count, FACTORS + m * HITS, HITS);
    }
    container_array(
        container, "/sweep/status", "1", "0 solved, 1 failed",
        &(struct values){.kind = VALUE_INT, .rank = 1, .extent = {count, 0}, .data = columns->status});
    container_array(container, "/sweep/message", "1", "why it failed",
                    &(struct values){.kind = VALUE_TEXT,
                                     .text_size = MESSAGE,
                                     .rank = 1,
                                     .extent = {count, 0},
                                     .data = columns->message});
    if (container_end(container, KIND, &bytes, &length, &errors) != STATUS_OK ||
        save_file(path, bytes, length, &errors) != STATUS_OK)
        fail("write", &errors);
    memory_free(bytes);
}

static void finish(struct journal *journal, const char *path, uint64_t count)
{
    struct errors errors = {0};
    struct columns columns = {.status = memory_zeroed(count, sizeof(int)),
                              .numbers = memory_doubles(count * NUMBERS),
                              .message = memory_zeroed(count, MESSAGE)};
    columns_read(journal, count, &columns);
    write_result(path, &columns, count);
    if (journal_remove(journal, &errors) != STATUS_OK)
        fail("remove", &errors);
    memory_free(columns.status);
    memory_free(columns.numbers);
    memory_free(columns.message);
}

/* --- counting --- */

/* Bitwise, so that it shares nothing with the table of solver/base/digest. */
static uint32_t crc_add(uint32_t crc, int byte)
{
    crc ^= (uint32_t)byte;
    for (int bit = 0; bit < 8; bit++)
        crc = crc & 1 ? crc >> 1 ^ 0xedb88320u : crc >> 1;
    return crc;
}

/* Reads one record by the table in cases/journal.h; 1 when it is whole. */
static int next_record(FILE *file)
{
    unsigned char front[56], behind[4];
    uint32_t crc = ~0u;
    uint64_t length = 0;
    if (fread(front, 1, sizeof front, file) != sizeof front || memcmp(front, "RJFP", 4) != 0)
        return 0;
    for (size_t i = 0; i < sizeof front; i++)
        crc = crc_add(crc, front[i]);
    for (int i = 7; i >= 0; i--)
        length = length << 8 | front[8 + i];
    for (uint64_t i = 0; i < length; i++) {
        int byte = getc(file);
        if (byte == EOF)
            return 0;
        crc = crc_add(crc, byte);
    }
    if (fread(behind, 1, sizeof behind, file) != sizeof behind)
        return 0;
    return ~crc ==
           (behind[0] | (uint32_t)behind[1] << 8 | (uint32_t)behind[2] << 16 | (uint32_t)behind[3] << 24);
}

static uint64_t count_records(const char *path)
{
    char header[64];
    uint64_t count = 0;
    FILE *file = fopen(path, "rb");
    if (file && fread(header, 1, sizeof header, file) == sizeof header &&
        strncmp(header, "foampulse journal 1\n", 20) == 0) {
        while (next_record(file))
            count++;
    }
    if (file)
        fclose(file);
    return count;
}

int main(int argc, char **argv)
{
    struct errors errors = {0};
    struct journal journal;
    if (argc == 3 && strcmp(argv[1], "count") == 0) {
        printf("%llu\n", (unsigned long long)count_records(argv[2]));
        return 0;
    }
    /* a shell lets what it starts in the background ignore it */
    signal(SIGINT, SIG_DFL);
    if (argc < 4) {
        fprintf(stderr, "usage: points solve|merge|count, see the source\n");
        return 2;
    }
    uint64_t count = strtoull(argv[3], NULL, 10), share = 0, of = 1;
    int merging = strcmp(argv[1], "merge") == 0;
    if (!merging && argc == 6) {
        share = strtoull(argv[4], NULL, 10);
        of = strtoull(argv[5], NULL, 10);
    }
    if (journal_open(argv[2], KIND, &journal, &errors) != STATUS_OK)
        fail("open", &errors);
    for (int i = 4; merging && i < argc; i++) {
        size_t added;
        if (journal_merge(&journal, argv[i], &added, &errors) != STATUS_OK)
            fail("merge", &errors);
        say("added ", added);
    }
    if (solve(&journal, count, share, of))
        finish(&journal, argv[2], count);
    return journal_close(&journal, &errors) != STATUS_OK;
}
