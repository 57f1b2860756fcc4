#ifndef FOAMPULSE_CLI_TABLE_H
#define FOAMPULSE_CLI_TABLE_H

#include <stddef.h>

#include "solver/base/units.h"
#include "solver/cli/terminal.h"

/*
 * A table on standard output. Columns are as wide as their widest cell, so long names never break the
 * alignment; the last column runs free.
 */

enum { TABLE_COLUMNS = 24, TABLE_IF_ANY = 2 };

struct table_column {
    const char *head;
    int right; /* 1: numbers, to the right; TABLE_IF_ANY: texts, and no column where all are empty */
};

struct table_cell {
    char *text; /* NULL is empty */
    enum style style;
};

struct table {
    size_t column_count, row_count, room, at; /* room: rows allocated; at: next cell of the last row */
    const struct table_column *columns;       /* (column_count), the caller's */
    struct table_cell *cells;                 /* (room x column_count) */
    enum status status;                       /* STATUS_MEMORY once memory was out; then nothing is printed */
};

/* An empty table of at most TABLE_COLUMNS columns. */
void table_make(struct table *table, const struct table_column *columns, size_t column_count);

/* Begins a row; its cells are added one after the other. */
void table_row(struct table *table);
void table_text(struct table *table, enum style style, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* A number with so many decimals; "-" for NaN and infinity. */
void table_number(struct table *table, double value, int decimals);

/* Prints head and rows, each line behind two blanks, and releases everything. */
enum status table_print(struct table *table);

/* A value in its usual unit; "" for NaN. */
void table_value(enum quantity quantity, double value, char text[48]);

#endif
