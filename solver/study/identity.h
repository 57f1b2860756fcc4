#ifndef FOAMPULSE_STUDY_IDENTITY_H
#define FOAMPULSE_STUDY_IDENTITY_H

#include <stdint.h>

#include "solver/base/digest.h"
#include "solver/study/resolve.h"

/*
 * What the result of a point depends on, as one hash: what a journal holds may be taken over only where this
 * is equal. It covers the sources of the program and its compiler, the model, every data file of materials
 * and curves as its bytes are, the headform's numbers, and the resolved text of the case.
 */

/* What all points share whose materials and headform are the same. */
struct identity {
    struct digest shared;
};

/* Reads the files that the resolver's case uses. `model` as in the results. STATUS_FILE, STATUS_MEMORY. */
enum status identity_make(const struct resolver *resolver, const char *model, struct identity *identity,
                          struct errors *errors);

/* The first 128 bits of a hash, as results show them. */
enum { IDENTITY_TEXT = 33 };
void identity_text(const unsigned char hash[DIGEST_BYTES], char text[IDENTITY_TEXT]);

/* Hash of point `index` (from 1) of the case with this resolved text. */
void identity_point(const struct identity *identity, const char *text, uint64_t index,
                    unsigned char hash[DIGEST_BYTES]);

#endif
