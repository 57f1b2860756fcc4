#ifndef FOAMPULSE_CLI_CSV_OUT_H
#define FOAMPULSE_CLI_CSV_OUT_H

/*
 * Fields of comma-separated values on standard output (RFC 4180), each with what stands behind it: a comma, a
 * line end or nothing.
 */

/* A text; a comma or quote in it puts it in quotes. One that a spreadsheet would take for a formula gets an
 * apostrophe in front. NULL is empty. */
void csv_out_text(const char *value, const char *end);

/* Nine digits; nothing for NaN and infinity. */
void csv_out_number(double value, const char *end);

#endif
