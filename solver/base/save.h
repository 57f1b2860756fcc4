#ifndef FOAMPULSE_BASE_SAVE_H
#define FOAMPULSE_BASE_SAVE_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * Files that are complete or absent: written under a temporary name in the same folder, then renamed. Nothing
 * is ever written through a name or a link that was there before. The program ignores SIGXFSZ, so that a file
 * size limit is an error like a full disk.
 */

enum { SAVE_PATH = 4096 };

struct save {
    int open;       /* 1 while a temporary file exists */
    int descriptor; /* of the temporary file, for reading and writing */
    char path[SAVE_PATH], temporary[SAVE_PATH];
};

/* Creates the temporary file for `path`. STATUS_FILE with a message in `errors`; also when a folder, device
 * or pipe stands under the name. */
enum status save_begin(const char *path, struct save *save, struct errors *errors);

/* Appends bytes. After an error the caller calls save_abandon. */
enum status save_write(struct save *save, const void *bytes, size_t length, struct errors *errors);

/* Flushes to the disk, gives the file its name in one step, flushes the folder. On an error the temporary
 * file is removed and what stood under the name is untouched. */
enum status save_commit(struct save *save, struct errors *errors);

/* Removes the temporary file, if there is one; {0} is allowed. */
void save_abandon(struct save *save);

/* Makes a new name in the folder of `path` last through a power cut. 0, or -1 and errno. Folders that may not
 * be read and file systems that cannot do this count as done. */
int save_flush_folder(const char *path);

/* Removes temporary files for `path` that killed processes left. Only for who holds a lock that keeps others
 * from writing it (cases/journal). */
void save_clean(const char *path);

/* Makes sure that this process can have so many more files open at a time, and raises its limit where it may.
 * STATUS_FILE when the system does not let it. */
enum status save_room(size_t files, struct errors *errors);

/* The whole in one call. */
enum status save_file(const char *path, const void *bytes, size_t length, struct errors *errors);

#endif
