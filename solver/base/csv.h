#ifndef FOAMPULSE_BASE_CSV_H
#define FOAMPULSE_BASE_CSV_H

#include <stddef.h>
#include <stdio.h>

#include "solver/base/status.h"

/*
 * Delimiter-separated files: data tables of text, and columns of numbers such as measured pulses.
 *
 * UTF-8, with or without byte-order mark; lines end with LF or CRLF; blank lines and lines that start with #
 * are skipped. The first other line is the header row, one name a column. The separator is found in it: a
 * tab, else a semicolon, else a comma, else there is one column. Where it is not a comma, numbers may have a
 * decimal comma. A cell may stand in double quotes, "" inside is one quote; a cell never spans lines. An
 * empty cell is a missing value. Memory: two lines, whatever the length of the file.
 */

enum {
    CSV_LINE = 65536,      /* longest line [bytes] */
    CSV_COLUMNS = 256,     /* most columns */
    CSV_TABLE_ROWS = 20000 /* most rows of a table held whole */
};

struct csv_cell {
    const char *text; /* without quotes and outer blanks; "" where missing */
    int column;       /* place of its first character in the line, from 1, in characters */
};

/* A file being read. Rows are handed out one at a time. */
struct csv_reader {
    char *name;     /* as the user wrote it, or "standard input" */
    FILE *stream;   /* owned, except standard input */
    char separator; /* ',', ';', '\t', or 0 for one column */
    int line_number;
    size_t column_count;
    char **header; /* (column_count) */
    int at_end;
    size_t row;             /* rows handed out so far */
    char *line;             /* (CSV_LINE + 1) the line as it stands in the file */
    char *unquoted;         /* (CSV_LINE + CSV_COLUMNS + 1) its cells, each closed by NUL */
    struct csv_cell *cells; /* (CSV_COLUMNS) those of the present row */
};

/* Opens `path` ("-": standard input) and reads up to the header row. A file without one (all cells of the
 * first row are numbers) is refused. On error the reader is zeroed: STATUS_FILE when the file cannot be
 * read, STATUS_INPUT when it is not such a file, STATUS_MEMORY. */
enum status csv_open(struct csv_reader *reader, const char *path, struct errors *errors);

/* Reads the next row into `cells`; sets `at_end` instead when there is none. A row has as many cells as the
 * header; more or fewer is STATUS_INPUT (one empty cell after a last separator is dropped). */
enum status csv_next(struct csv_reader *reader, struct errors *errors);

/* Reads one cell of the present row as a finite number; NaN for a missing value. */
enum status csv_number(const struct csv_reader *reader, size_t column, double *value, struct errors *errors);

/* Closes the file, releases and zeroes; {0} is allowed. */
void csv_close(struct csv_reader *reader);

/* Reads a finite decimal number that fills the text; `comma` allows a decimal comma. 1 on success. Refuses
 * inf, nan, hexadecimal and digit separators; accepts the typographic minus. */
int csv_parse_number(const char *text, int comma, double *value);

/* Splits a column name into name and unit: "time (ms)", "a_x [g]", or one of `units` (count) after the last
 * blank, '_', ',' or '/': "acceleration_m/s2", "t/ms". Writes the name without unit into `name` (size bytes).
 * Returns the index into `units`, -1 when there is no unit, -2 when brackets hold an unknown one, which is
 * then in `unknown` (size bytes). */
int csv_column_unit(const char *header, const char *const *units, size_t count, char *name, char *unknown,
                    size_t size);

struct csv_row {
    int line;
    struct csv_cell *cells; /* (column_count) */
};

/* A small file held whole. */
struct csv_table {
    char *name;
    size_t column_count;
    char **header; /* (column_count) */
    size_t row_count;
    struct csv_row *rows; /* (row_count) */
};

/* Reads a whole file; on error the table is zeroed. */
enum status csv_table_read(const char *path, struct csv_table *table, struct errors *errors);

void csv_table_free(struct csv_table *table);

/* Index of a column by its header; SIZE_MAX when there is none. */
size_t csv_table_column(const struct csv_table *table, const char *header);

/* Reads a cell as a number in plain decimal notation; NaN for a missing value. */
enum status csv_table_number(const struct csv_table *table, size_t row, size_t column, double *value,
                             struct errors *errors);

#endif
