#ifndef FOAMPULSE_BASE_MEMORY_H
#define FOAMPULSE_BASE_MEMORY_H

#include <stddef.h>

/*
 * The tree's only allocator. Every function returns NULL when memory is out (or when a test asked for a
 * failure); callers turn that into STATUS_MEMORY. All blocks are released by memory_free.
 */

enum { MEMORY_ALIGNMENT = 64 };

/* Zeroed block of count x size bytes, aligned to 64 bytes; NULL on overflow or failure. Count 0 gives a
 * valid block. */
void *memory_zeroed(size_t count, size_t size);

/* Array of `count` doubles, aligned to 64 bytes, zeroed in release builds, filled with NaN in debug builds
 * so that a value read before it is written shows. */
double *memory_doubles(size_t count);

/* Resizes a block from memory_zeroed or NULL, keeps the old content, zeroes what is new. On failure the old
 * block stays valid and NULL is returned. `old_count` is its present count. */
void *memory_resized(void *block, size_t old_count, size_t count, size_t size);

/* Copy of a text; of at most `length` bytes of it with memory_text_part. */
char *memory_text(const char *text);
char *memory_text_part(const char *text, size_t length);

/* Releases a block; NULL is allowed. */
void memory_free(void *block);

/* Bytes that this process may still take: those of the machine, or of a limit set for the process (`ulimit
 * -v`), less what it has mapped under that limit. Others may take them first. */
double memory_left(void);

/* For tests: lets `successes` allocations of this thread through, fails the next one, then all go through
 * again. SIZE_MAX switches it off. memory_failures counts the failures that were injected. */
void memory_fail_after(size_t successes);
size_t memory_failures(void);

#endif
