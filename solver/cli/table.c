#include "solver/cli/table.h"

#include <assert.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "solver/base/memory.h"

enum { CELL = 512, FIRST_ROWS = 16 };

void table_make(struct table *table, const struct table_column *columns, size_t column_count)
{
    assert(column_count <= TABLE_COLUMNS);
    *table = (struct table){.columns = columns, .column_count = column_count};
}

static void table_free(struct table *table)
{
    for (size_t i = 0; i < table->room * table->column_count; i++)
        memory_free(table->cells[i].text);
    memory_free(table->cells);
    *table = (struct table){0};
}

void table_row(struct table *table)
{
    size_t width = table->column_count, room = table->room ? 2 * table->room : FIRST_ROWS;
    if (table->status == STATUS_OK && table->row_count == table->room) {
        struct table_cell *cells =
            memory_resized(table->cells, table->room * width, room * width, sizeof *cells);
        table->status = cells ? STATUS_OK : STATUS_MEMORY;
        table->room = cells ? room : table->room;
        table->cells = cells ? cells : table->cells;
    }
    if (table->status == STATUS_OK)
        table->row_count++;
    table->at = 0;
}

void table_text(struct table *table, enum style style, const char *format, ...)
{
    char text[CELL], clean[CELL];
    va_list arguments;
    if (table->status != STATUS_OK)
        return;
    assert(table->row_count > 0 && table->at < table->column_count);
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    struct table_cell *cell = &table->cells[(table->row_count - 1) * table->column_count + table->at++];
    cell->text = memory_text(terminal_clean(text, clean, sizeof clean));
    cell->style = style;
    if (!cell->text)
        table->status = STATUS_MEMORY;
}

void table_number(struct table *table, double value, int decimals)
{
    if (isfinite(value))
        table_text(table, STYLE_PLAIN, "%.*f", decimals, value);
    else
        table_text(table, STYLE_PLAIN, "-");
}

/* Whether a column is printed. */
static int is_shown(const struct table *table, size_t column)
{
    int shown = table->columns[column].right != TABLE_IF_ANY;
    for (size_t row = 0; row < table->row_count && !shown; row++) {
        const char *text = table->cells[row * table->column_count + column].text;
        shown = text && *text;
    }
    return shown;
}

/* -1 for a column that is not printed. */
static int width_of(const struct table *table, size_t column)
{
    if (!is_shown(table, column))
        return -1;
    size_t width = terminal_columns(table->columns[column].head);
    for (size_t row = 0; row < table->row_count; row++) {
        const char *text = table->cells[row * table->column_count + column].text;
        size_t length = text ? terminal_columns(text) : 0;
        width = length > width ? length : width;
    }
    return (int)width;
}

/* One line; nothing follows its last text. */
static void print_line(const struct table *table, const int *widths, const struct table_cell *cells)
{
    int owed = 0; /* blanks before the next text */
    for (size_t column = 0; column < table->column_count; column++) {
        if (widths[column] < 0)
            continue;
        const char *text = cells[column].text ? cells[column].text : "";
        int blanks = widths[column] - (int)terminal_columns(text), right = table->columns[column].right == 1;
        owed += 2 + (right ? blanks : 0);
        if (*text) {
            terminal_print(stdout, STYLE_PLAIN, "%*s", owed, "");
            terminal_print(stdout, cells[column].style, "%s", text);
            owed = 0;
        }
        owed += right ? 0 : blanks;
    }
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

enum status table_print(struct table *table)
{
    enum status status = table->status;
    struct table_cell head[TABLE_COLUMNS];
    int widths[TABLE_COLUMNS];
    for (size_t column = 0; column < table->column_count && status == STATUS_OK; column++) {
        head[column] = (struct table_cell){(char *)table->columns[column].head, STYLE_FAINT};
        widths[column] = width_of(table, column);
    }
    if (status == STATUS_OK)
        print_line(table, widths, head);
    for (size_t row = 0; row < table->row_count && status == STATUS_OK; row++)
        print_line(table, widths, &table->cells[row * table->column_count]);
    table_free(table);
    return status;
}

void table_value(enum quantity quantity, double value, char text[48])
{
    text[0] = '\0';
    if (quantity == QUANTITY_STRESS && !isnan(value))
        snprintf(text, 48, "%.4g %s",
                 fabs(value) < 1e6 ? value / 1e3 : value / (fabs(value) < 1e10 ? 1e6 : 1e9),
                 fabs(value) < 1e6    ? "kPa"
                 : fabs(value) < 1e10 ? "MPa"
                                      : "GPa");
    else if (!isnan(value))
        units_write(quantity, value, text, 48);
}
