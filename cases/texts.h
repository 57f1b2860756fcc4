#ifndef FOAMPULSE_CASES_TEXTS_H
#define FOAMPULSE_CASES_TEXTS_H

#include "cases/container.h"

/*
 * Texts and lists of texts as datasets of a container. Errors stick in the container, as all of them do.
 */

/* Writes one text; NULL is an empty one. */
void texts_put(struct container *container, const char *path, const char *description, const char *text);

/* Writes a list (count). */
void texts_put_list(struct container *container, const char *path, const char *description,
                    char *const *texts, size_t count);

/* Writes members that stand `stride` bytes apart as a list (count); NULL is an empty one. */
void texts_put_members(struct container *container, const char *path, const char *description,
                       char *const *first, size_t stride, size_t count);

/* Reads one text, fresh; NULL after an error. */
char *texts_get(struct container *container, const char *path);

/* Reads a list of fresh texts (count), as result_note makes them; what was read before an error too. */
char **texts_get_list(struct container *container, const char *path, size_t *count);

/* Reads exactly `count` texts, none longer than `most` bytes, into members `stride` bytes apart; an empty one
 * leaves its member. */
void texts_get_members(struct container *container, const char *path, size_t most, char **first,
                       size_t stride, size_t count);

#endif
