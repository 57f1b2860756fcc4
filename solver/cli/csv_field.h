#ifndef FOAMPULSE_CLI_CSV_FIELD_H
#define FOAMPULSE_CLI_CSV_FIELD_H

/* One field of comma-separated values (RFC 4180). */

enum { CSV_FIELD = 2 * 1024 + 8 };

/* A text as a field, on one line, in quotes where it holds a comma or a quote; one that a spreadsheet would
 * take for a formula gets an apostrophe in front. NULL is empty; at most 1023 bytes are taken. Returns
 * `field`. */
const char *csv_field_text(const char *value, char field[CSV_FIELD]);

/* A number of nine digits; empty where it is not finite. Returns `field`. */
const char *csv_field_number(double value, char field[CSV_FIELD]);

#endif
