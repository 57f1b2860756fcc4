#include "solver/base/memory.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

static _Thread_local size_t until_failure = SIZE_MAX;
static _Thread_local size_t failures;

static int failure_due(void)
{
    if (until_failure == SIZE_MAX)
        return 0;
    if (until_failure-- > 0)
        return 0;
    until_failure = SIZE_MAX;
    failures++;
    return 1;
}

/* Bytes of a block rounded up to whole cache lines; 0 on overflow. */
static size_t block_bytes(size_t count, size_t size)
{
    if (size && count > (SIZE_MAX - MEMORY_ALIGNMENT) / size)
        return 0;
    size_t bytes = count * size;
    bytes += (MEMORY_ALIGNMENT - bytes % MEMORY_ALIGNMENT) % MEMORY_ALIGNMENT;
    return bytes ? bytes : MEMORY_ALIGNMENT;
}

void *memory_zeroed(size_t count, size_t size)
{
    size_t bytes = block_bytes(count, size);
    if (bytes == 0 || failure_due())
        return NULL;
    void *block = aligned_alloc(MEMORY_ALIGNMENT, bytes);
    if (block)
        memset(block, 0, bytes);
    return block;
}

double *memory_doubles(size_t count)
{
    double *block = memory_zeroed(count, sizeof *block);
#ifndef NDEBUG
    for (size_t i = 0; block && i < count; i++)
        block[i] = NAN;
#endif
    return block;
}

void *memory_resized(void *block, size_t old_count, size_t count, size_t size)
{
    void *fresh = memory_zeroed(count, size);
    if (!fresh)
        return NULL;
    if (block)
        memcpy(fresh, block, (old_count < count ? old_count : count) * size);
    memory_free(block);
    return fresh;
}

char *memory_text_part(const char *text, size_t length)
{
    char *copy = memory_zeroed(length + 1, 1);
    if (copy)
        memcpy(copy, text, length);
    return copy;
}

char *memory_text(const char *text)
{
    return memory_text_part(text, strlen(text));
}

void memory_free(void *block)
{
    free(block);
}

/* Bytes of the address space that are mapped; 0 where the system does not say. */
static double mapped(void)
{
    double pages = 0.0;
    char line[64];
    FILE *about = fopen("/proc/self/statm", "r");
    if (!about)
        return 0.0;
    if (fgets(line, sizeof line, about))
        pages = strtod(line, NULL);
    fclose(about);
    return pages * (double)sysconf(_SC_PAGESIZE);
}

double memory_left(void)
{
    struct rlimit limit;
    double left = (double)sysconf(_SC_PHYS_PAGES) * (double)sysconf(_SC_PAGESIZE);
    if (getrlimit(RLIMIT_AS, &limit) != 0 || limit.rlim_cur == RLIM_INFINITY)
        return left;
    double under = (double)limit.rlim_cur - mapped();
    return under < left ? under : left;
}

void memory_fail_after(size_t successes)
{
    until_failure = successes;
}

size_t memory_failures(void)
{
    return failures;
}
