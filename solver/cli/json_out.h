#ifndef FOAMPULSE_CLI_JSON_OUT_H
#define FOAMPULSE_CLI_JSON_OUT_H

#include <jansson.h>
#include <stddef.h>

/*
 * Values of the JSON objects that commands print. The reference is the caller's; NULL when memory is out.
 */

/* A number; NaN and infinity are null. */
json_t *json_out_number(double value);

/* A text; NULL, "" and broken UTF-8, which JSON cannot hold, are null. */
json_t *json_out_text(const char *value);

/* An array of texts (count). */
json_t *json_out_lines(char *const *list, size_t count);

#endif
