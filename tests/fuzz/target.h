#ifndef FOAMPULSE_FUZZ_TARGET_H
#define FOAMPULSE_FUZZ_TARGET_H

#include <stddef.h>

/*
 * The readers of what others send, each as a function of bytes: what the program does with a file of this
 * content, and what must hold afterwards. A breach aborts, so that a fuzzer and a test see the same thing.
 */

typedef void target_function(const unsigned char *bytes, size_t size);

/* YAML to a checked case with its materials, as `check` does. Lines that start with "#set " are handed over
 * as --set too; common.yaml and curve.csv lie beside the case. A case found sound must read the same again
 * from its resolved text. */
target_function case_target;

/* A measured pulse (`measure`), then the same file as a table of the program's own data. */
target_function csv_target;

/* A result file, then all that `show` prints and the pictures draw of it. Content that starts like a file of
 * ours is one, whose checksum is mended; any other is a list of changes that are made to a real small result
 * by way of HDF5, so that what is behind the library is reached. */
target_function result_target;

/* Result files so far that the child process did not survive reading. */
size_t result_contained(void);

/* Makes the file NAME in a folder of this process's own with this content and returns its path, which holds
 * until the next call. The folder goes when the process ends well. */
const char *target_file(const char *name, const void *bytes, size_t size);

/* A file of the source tree, whole, freed with memory_free. Aborts when it cannot be read. */
unsigned char *target_load(const char *path, size_t *size);

/* Aborts, saying what does not hold and where. */
#define TARGET_CHECK(condition)                                                                              \
    do {                                                                                                     \
        if (!(condition))                                                                                    \
            target_fail(__FILE__, __LINE__, #condition);                                                     \
    } while (0)
_Noreturn void target_fail(const char *file, int line, const char *condition);

struct errors;

/* What holds for every list of messages: each has words; a place has a line and a column; none without an
 * error status, which `status` is too. */
void target_messages(const struct errors *errors, int failed);

#endif
