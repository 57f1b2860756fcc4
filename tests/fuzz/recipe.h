#ifndef FOAMPULSE_FUZZ_RECIPE_H
#define FOAMPULSE_FUZZ_RECIPE_H

#include <stddef.h>

/*
 * Hostile result files that HDF5 itself finds in order: a recipe is a list of steps of RECIPE_STEP bytes,
 * each a change made to a real small result through the library (tests/fuzz/corpus/result/small.h5).
 *
 *   byte 0     what: see recipe.c
 *   byte 1-2   which object, or attribute of all attributes
 *   byte 3     kind of data, or other object
 *   byte 4-5   extents, or element
 *   byte 6-7   value
 */

enum { RECIPE_STEP = 8, RECIPE_STEPS = 32 };

/* Makes the file that a recipe describes, the block for the checksum in front not yet filled in; a step that
 * HDF5 refuses is left out. The caller frees it with memory_free. NULL when HDF5 gives no file back. */
unsigned char *recipe_make(const unsigned char *steps, size_t size, size_t *length);

#endif
