#include "cases/journal.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "solver/base/memory.h"

enum { HEADER = 64, FRONT = 56, BEHIND = 4, MAGIC = 0x50464a52, LARGEST = 1 << 30 };

static const double flush_every = 1; /* [s] */

static enum status refused(const char *path, struct errors *errors, const char *what)
{
    return errors_add(errors, STATUS_FILE, path, 0, 0, "%s: %s", what, strerror(errno));
}

static enum status no_memory(const char *path, struct errors *errors)
{
    return errors_add(errors, STATUS_MEMORY, path, 0, 0, "out of memory");
}

/* --- bytes --- */

static void put(unsigned char *to, uint64_t value, size_t size)
{
    for (size_t i = 0; i < size; i++)
        to[i] = (unsigned char)(value >> 8 * i);
}

static uint64_t get(const unsigned char *from, size_t size)
{
    uint64_t value = 0;
    for (size_t i = 0; i < size; i++)
        value |= (uint64_t)from[i] << 8 * i;
    return value;
}

static void header_of(const char *kind, char header[HEADER])
{
    memset(header, 0, HEADER);
    snprintf(header, HEADER, "foampulse journal 1\nkind   %.32s\n", kind);
}

/* Bytes of the file at an offset; 0 when they are not all there, errno 0 at the end of the file. */
static int read_at(int descriptor, uint64_t offset, void *bytes, size_t length)
{
    unsigned char *to = bytes;
    while (length > 0) {
        ssize_t got = pread(descriptor, to, length, (off_t)offset);
        if (got < 0 && errno == EINTR)
            continue;
        if (got <= 0) {
            errno = got < 0 ? errno : 0;
            return 0;
        }
        to += got;
        offset += (uint64_t)got;
        length -= (size_t)got;
    }
    return 1;
}

/* --- reading --- */

static enum status entry_add(struct journal *journal, const struct journal_entry *entry)
{
    if (journal->count == journal->room) {
        size_t room = journal->room ? 2 * journal->room : 64;
        struct journal_entry *longer = memory_resized(journal->entries, journal->room, room, sizeof *longer);
        if (!longer)
            return STATUS_MEMORY;
        journal->entries = longer;
        journal->room = room;
    }
    journal->entries[journal->count++] = *entry;
    journal->sorted = 0;
    return STATUS_OK;
}

static void entry_read(const unsigned char front[FRONT], uint64_t at, struct journal_entry *entry)
{
    *entry = (struct journal_entry){.status = (uint32_t)get(front + 4, 4),
                                    .length = (size_t)get(front + 8, 8),
                                    .index = get(front + 16, 8),
                                    .offset = at + FRONT};
    memcpy(entry->hash, front + 24, DIGEST_BYTES);
}

/* A block that grows as records do. */
struct block {
    unsigned char *bytes;
    size_t room;
};

static int block_reserve(struct block *block, size_t length)
{
    if (length <= block->room)
        return 1;
    unsigned char *longer = memory_resized(block->bytes, block->room, length, 1);
    if (!longer)
        return 0;
    block->bytes = longer;
    block->room = length;
    return 1;
}

/* Reads the record at `at`, of which at most `left` bytes are there. *whole says whether it is one. A disk
 * that cannot be read is STATUS_FILE, and no reason to cut anything off. */
static enum status record_read(int descriptor, uint64_t at, uint64_t left, struct block *block,
                               struct journal_entry *entry, int *whole)
{
    unsigned char front[FRONT];
    *whole = 0;
    if (left < FRONT + BEHIND)
        return STATUS_OK;
    if (!read_at(descriptor, at, front, FRONT))
        return errno ? STATUS_FILE : STATUS_OK;
    entry_read(front, at, entry);
    if (get(front, 4) != MAGIC || entry->length > LARGEST || entry->length > left - FRONT - BEHIND)
        return STATUS_OK;
    if (!block_reserve(block, entry->length + BEHIND))
        return STATUS_MEMORY;
    if (!read_at(descriptor, entry->offset, block->bytes, entry->length + BEHIND))
        return errno ? STATUS_FILE : STATUS_OK;
    uint32_t checksum = digest_crc(digest_crc(0, front, FRONT), block->bytes, entry->length);
    *whole = checksum == get(block->bytes + entry->length, BEHIND);
    return STATUS_OK;
}

/* Takes the records of a file of `size` bytes up to the first that is not whole. */
static enum status records_scan(struct journal *journal, uint64_t size, struct errors *errors)
{
    struct block block = {0};
    enum status status = STATUS_OK;
    int whole = 1;
    journal->end = HEADER;
    while (status == STATUS_OK && whole) {
        struct journal_entry entry;
        status = record_read(journal->descriptor, journal->end, size - journal->end, &block, &entry, &whole);
        if (status == STATUS_OK && whole) {
            status = entry_add(journal, &entry);
            journal->end = entry.offset + entry.length + BEHIND;
        }
    }
    if (status == STATUS_FILE)
        refused(journal->path, errors, "cannot be read");
    if (status == STATUS_MEMORY)
        no_memory(journal->path, errors);
    journal->cut = size - journal->end;
    memory_free(block.bytes);
    return status;
}

/* --- opening --- */

static void journal_release(struct journal *journal)
{
    if (journal->descriptor >= 0)
        close(journal->descriptor);
    memory_free(journal->entries);
    *journal = (struct journal){.descriptor = -1};
}

/* Does the name still lead to the file that is open? */
static int still_there(const char *path, const struct stat *open)
{
    struct stat named;
    return lstat(path, &named) == 0 && named.st_dev == open->st_dev && named.st_ino == open->st_ino;
}

/* Opens and locks. Whoever waited for the name while another process removed the file it led to tries again.
 */
static enum status open_locked(const char *path, int flags, int *descriptor, struct errors *errors)
{
    for (int attempt = 0; attempt < 100; attempt++) {
        struct stat about;
        *descriptor = open(path, flags | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC, 0666);
        if (*descriptor < 0 || fstat(*descriptor, &about) != 0)
            return errno == ELOOP ? errors_add(errors, STATUS_FILE, path, 0, 0,
                                               "is a symbolic link, which is not followed")
                                  : refused(path, errors, "cannot be opened");
        if (!S_ISREG(about.st_mode))
            return errors_add(errors, STATUS_FILE, path, 0, 0, "is a folder or device");
        if (flock(*descriptor, LOCK_EX | LOCK_NB) != 0)
            return errno == EWOULDBLOCK ? errors_add(errors, STATUS_FILE, path, 0, 0,
                                                     "another process is working on this result: wait for "
                                                     "it, or give another name with -o")
                                        : refused(path, errors, "cannot be locked");
        if (still_there(path, &about))
            return STATUS_OK;
        close(*descriptor);
        *descriptor = -1;
    }
    return errors_add(errors, STATUS_FILE, path, 0, 0, "is made and removed by other processes all the time");
}

/* Is this what a process leaves that died, or lost its power, while it made the file? */
static int is_unfinished(const char *start, size_t length, const char *header)
{
    static const char zeros[HEADER];
    return (length < HEADER && memcmp(start, header, length) == 0) || memcmp(start, zeros, length) == 0;
}

/* Compares the header. *fresh: it has to be written (STATUS_OK). */
static enum status header_check(int descriptor, uint64_t size, const char *path, const char *kind, int *fresh,
                                struct errors *errors)
{
    char header[HEADER], start[HEADER] = "";
    size_t length = size < HEADER ? (size_t)size : HEADER;
    header_of(kind, header);
    if (!read_at(descriptor, 0, start, length))
        return refused(path, errors, "cannot be read");
    *fresh = is_unfinished(start, length, header);
    if (*fresh || memcmp(start, header, HEADER) == 0)
        return STATUS_OK;
    return errors_add(errors, STATUS_FILE, path, 0, 0,
                      "is there already and is no journal of this kind of result: move it away");
}

static enum status write_header(const struct journal *journal, const char *kind, struct errors *errors)
{
    char header[HEADER];
    header_of(kind, header);
    errno = 0;
    if (ftruncate(journal->descriptor, 0) == 0 && pwrite(journal->descriptor, header, HEADER, 0) == HEADER)
        return STATUS_OK;
    refused(journal->path, errors, "cannot be written");
    unlink(journal->path);
    return STATUS_FILE;
}

/* The name, the lock, the header; *size is that of the file then. */
static enum status take_file(const char *path, const char *kind, int flags, struct journal *journal,
                             uint64_t *size, struct errors *errors)
{
    struct stat about;
    int fresh = 0;
    *journal = (struct journal){.descriptor = -1};
    snprintf(journal->path, sizeof journal->path, "%s", path);
    snprintf(journal->kind, sizeof journal->kind, "%s", kind);
    enum status status = open_locked(path, flags, &journal->descriptor, errors);
    if (status == STATUS_OK && fstat(journal->descriptor, &about) != 0)
        status = refused(path, errors, "cannot be read");
    if (status != STATUS_OK)
        return status;
    *size = (uint64_t)about.st_size;
    status = header_check(journal->descriptor, *size, path, kind, &fresh, errors);
    if (status == STATUS_OK && fresh && (flags & O_CREAT)) {
        status = write_header(journal, kind, errors);
        *size = HEADER;
    }
    return status;
}

static double now(void)
{
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

enum status journal_open(const char *result, const char *kind, struct journal *journal, struct errors *errors)
{
    char path[SAVE_PATH];
    uint64_t size = 0;
    *journal = (struct journal){.descriptor = -1};
    int length = snprintf(path, sizeof path, "%s" JOURNAL_SUFFIX, result);
    if (length < 0 || (size_t)length >= sizeof path)
        return errors_add(errors, STATUS_FILE, result, 0, 0, "the name of the file is too long");
    enum status status = take_file(path, kind, O_RDWR | O_CREAT, journal, &size, errors);
    if (status == STATUS_OK)
        status = records_scan(journal, size, errors);
    if (status == STATUS_OK && journal->cut > 0 && ftruncate(journal->descriptor, (off_t)journal->end) != 0)
        status = refused(path, errors, "its damaged end cannot be cut off");
    if (status != STATUS_OK) {
        journal_release(journal);
        return status;
    }
    save_clean(result);
    journal->open = 1;
    journal->last_flush = now();
    return STATUS_OK;
}

/* --- looking up --- */

static int place_order(const struct journal_entry *a, const unsigned char *hash, uint64_t index)
{
    if (a->index != index)
        return a->index < index ? -1 : 1;
    return memcmp(a->hash, hash, DIGEST_BYTES);
}

static int entry_order(const void *a, const void *b)
{
    const struct journal_entry *one = a, *other = b;
    int order = place_order(one, other->hash, other->index);
    return order ? order : (one->offset > other->offset) - (one->offset < other->offset);
}

const struct journal_entry *journal_find(struct journal *journal, const unsigned char hash[DIGEST_BYTES],
                                         uint64_t index)
{
    if (!journal->sorted && journal->count > 0)
        qsort(journal->entries, journal->count, sizeof *journal->entries, entry_order);
    journal->sorted = 1;
    size_t low = 0, high = journal->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (place_order(&journal->entries[middle], hash, index) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    const struct journal_entry *found = low < journal->count ? &journal->entries[low] : NULL;
    return found && place_order(found, hash, index) == 0 ? found : NULL;
}

enum status journal_read(const struct journal *journal, const struct journal_entry *entry,
                         unsigned char **payload, struct errors *errors)
{
    *payload = memory_zeroed(entry->length + 1, 1);
    if (!*payload)
        return no_memory(journal->path, errors);
    if (read_at(journal->descriptor, entry->offset, *payload, entry->length))
        return STATUS_OK;
    memory_free(*payload);
    *payload = NULL;
    return refused(journal->path, errors, "cannot be read");
}

/* --- adding --- */

/* Makes what was written last through a power cut. */
static int flush(struct journal *journal)
{
    journal->flushes++;
    journal->last_flush = now();
    if (fdatasync(journal->descriptor) != 0)
        return 0;
    if (!journal->listed)
        journal->listed = save_flush_folder(journal->path) == 0;
    return journal->listed;
}

static unsigned char *record_make(const struct journal_point *point, size_t *length)
{
    *length = FRONT + point->length + BEHIND;
    unsigned char *record = memory_zeroed(*length, 1);
    if (!record)
        return NULL;
    put(record, MAGIC, 4);
    put(record + 4, point->status, 4);
    put(record + 8, point->length, 8);
    put(record + 16, point->index, 8);
    memcpy(record + 24, point->hash, DIGEST_BYTES);
    if (point->length > 0)
        memcpy(record + FRONT, point->payload, point->length);
    put(record + FRONT + point->length, digest_crc(0, record, FRONT + point->length), BEHIND);
    return record;
}

/* What could not be written in full is taken back, for the next record has to follow the last whole one. */
static enum status record_write(struct journal *journal, const unsigned char *record, size_t length,
                                struct errors *errors)
{
    ssize_t done;
    do {
        done = pwrite(journal->descriptor, record, length, (off_t)journal->end);
    } while (done < 0 && errno == EINTR);
    if (done == (ssize_t)length)
        return STATUS_OK;
    journal->failed = 1;
    errno = done < 0 ? errno : ENOSPC;
    refused(journal->path, errors, "cannot be written in full");
    if (ftruncate(journal->descriptor, (off_t)journal->end) != 0)
        refused(journal->path, errors, "its damaged end cannot be cut off");
    return STATUS_FILE;
}

enum status journal_append(struct journal *journal, const struct journal_point *point, struct errors *errors)
{
    if (journal->failed)
        return STATUS_FILE;
    size_t length;
    unsigned char *record = record_make(point, &length);
    if (!record)
        return no_memory(journal->path, errors);
    struct journal_entry entry;
    entry_read(record, journal->end, &entry);
    enum status status =
        entry_add(journal, &entry) == STATUS_OK ? STATUS_OK : no_memory(journal->path, errors);
    if (status == STATUS_OK) {
        status = record_write(journal, record, length, errors);
        if (status == STATUS_OK)
            journal->end += length;
        else
            journal->count--;
    }
    memory_free(record);
    if (status == STATUS_OK && now() - journal->last_flush >= flush_every && !flush(journal)) {
        journal->failed = 1;
        status = refused(journal->path, errors, "cannot be flushed to disk");
    }
    return status;
}

/* --- merging --- */

/* Are two payloads of one point equal? */
static enum status payloads_equal(const struct journal *a, const struct journal_entry *x,
                                  const struct journal *b, const struct journal_entry *y, int *equal,
                                  struct errors *errors)
{
    unsigned char *one = NULL, *other = NULL;
    enum status status = journal_read(a, x, &one, errors);
    if (status == STATUS_OK)
        status = journal_read(b, y, &other, errors);
    *equal = status == STATUS_OK && x->status == y->status && x->length == y->length &&
             memcmp(one, other, x->length) == 0;
    memory_free(one);
    memory_free(other);
    return status;
}

/* Leaves in `from` the entries that are new, each once. */
static enum status keep_new(struct journal *journal, struct journal *from, struct errors *errors)
{
    size_t kept = 0;
    enum status status = STATUS_OK;
    if (from->count > 0)
        qsort(from->entries, from->count, sizeof *from->entries, entry_order);
    for (size_t i = 0; i < from->count && status == STATUS_OK; i++) {
        const struct journal_entry *entry = &from->entries[i], *last = kept ? &from->entries[kept - 1] : NULL;
        const struct journal_entry *there = journal_find(journal, entry->hash, entry->index);
        const struct journal *holder = there ? journal : from;
        int equal = 1;
        if (!there && last && place_order(last, entry->hash, entry->index) == 0)
            there = last;
        if (there)
            status = payloads_equal(holder, there, from, entry, &equal, errors);
        if (status == STATUS_OK && !equal)
            status = errors_add(errors, STATUS_INPUT, from->path, 0, 0,
                                "point %llu has another result than in %s: one of the two is damaged",
                                (unsigned long long)entry->index, holder->path);
        if (!there)
            from->entries[kept++] = *entry;
    }
    from->count = kept;
    return status;
}

static enum status add_all(struct journal *journal, const struct journal *from, size_t *added,
                           struct errors *errors)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < from->count && status == STATUS_OK; i++) {
        const struct journal_entry *entry = &from->entries[i];
        unsigned char *payload;
        status = journal_read(from, entry, &payload, errors);
        if (status != STATUS_OK)
            break;
        struct journal_point point = {
            .index = entry->index, .status = entry->status, .length = entry->length, .payload = payload};
        memcpy(point.hash, entry->hash, DIGEST_BYTES);
        status = journal_append(journal, &point, errors);
        *added += status == STATUS_OK;
        memory_free(payload);
    }
    return status;
}

enum status journal_merge(struct journal *journal, const char *path, size_t *added, struct errors *errors)
{
    struct journal from = {.descriptor = -1};
    uint64_t size = 0;
    *added = 0;
    enum status status = take_file(path, journal->kind, O_RDONLY, &from, &size, errors);
    if (status == STATUS_OK && size >= HEADER)
        status = records_scan(&from, size, errors);
    if (status == STATUS_OK)
        status = keep_new(journal, &from, errors);
    if (status == STATUS_OK)
        status = add_all(journal, &from, added, errors);
    journal_release(&from);
    return status;
}

/* --- the end --- */

enum status journal_remove(struct journal *journal, struct errors *errors)
{
    enum status status =
        unlink(journal->path) == 0 ? STATUS_OK : refused(journal->path, errors, "cannot be removed");
    journal_release(journal);
    return status;
}

enum status journal_close(struct journal *journal, struct errors *errors)
{
    enum status status = STATUS_OK;
    if (!journal->open)
        return STATUS_OK;
    if (journal->count == 0)
        unlink(journal->path);
    else if (!flush(journal))
        status = refused(journal->path, errors, "cannot be flushed to disk");
    journal_release(journal);
    return status;
}
