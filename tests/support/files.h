#ifndef FOAMPULSE_SUPPORT_FILES_H
#define FOAMPULSE_SUPPORT_FILES_H

#include <stddef.h>

/* Files of tests. What cannot be done ends the test. */

/* The whole of a file; the caller frees it. */
unsigned char *files_load(const char *path, size_t *length);

void files_dump(const char *path, const void *bytes, size_t length);
void files_write(const char *path, const char *text);

/* Bytes of a file, 0 where there is none. */
size_t files_size(const char *path);

/* How many files, hidden ones left out, lie in a folder; all of them removed. */
size_t files_count(const char *folder);
void files_remove(const char *folder);

#endif
