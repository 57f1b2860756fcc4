#ifndef FOAMPULSE_CLI_KEEPING_H
#define FOAMPULSE_CLI_KEEPING_H

#include "cases/journal.h"

/*
 * How commands begin and end their journals, and what they say of them on stderr.
 */

/* Takes the result `path` for this process (journal_open); says how much of a torn end was cut off. */
enum status keeping_begin(const char *path, const char *schema, int quiet, struct journal *journal,
                          struct errors *errors);

/* The journal goes when the result stands on the disk. Until then it is what the same command goes on from;
 * then only does it matter when it could not be written (`failed`). Says where it is when it holds anything.
 * STATUS_OK without an open journal. */
enum status keeping_end(struct journal *journal, int stands, const struct errors *failed, int quiet,
                        struct errors *errors);

#endif
