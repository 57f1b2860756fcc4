#include "solver/base/csv.h"

#include <ctype.h>
#include <errno.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "solver/base/memory.h"

enum { UNQUOTED = CSV_LINE + CSV_COLUMNS + 1, NUMBER_TEXT = 64 };

static const char minus_sign[] = "\xe2\x88\x92"; /* U+2212 */

/* --- characters ------------------------------------------------------------------------------------------
 */

/* Bytes of the well-formed UTF-8 character at `text` (RFC 3629), 0 when it is none. */
static size_t character_bytes(const unsigned char *text, size_t left)
{
    unsigned char first = *text;
    size_t bytes = first < 0x80   ? 1
                   : first < 0xc2 ? 0
                   : first < 0xe0 ? 2
                   : first < 0xf0 ? 3
                   : first < 0xf5 ? 4
                                  : 0;
    if (bytes > left)
        return 0;
    for (size_t i = 1; i < bytes; i++) {
        if ((text[i] & 0xc0) != 0x80)
            return 0;
    }
    if ((first == 0xe0 && text[1] < 0xa0) || (first == 0xed && text[1] > 0x9f) ||
        (first == 0xf0 && text[1] < 0x90) || (first == 0xf4 && text[1] > 0x8f))
        return 0;
    return bytes;
}

/* Place, from 1, in characters, of the byte `offset` of a line. */
static int column_of(const char *line, size_t offset)
{
    int column = 1;
    for (size_t i = 0; i < offset; i++)
        column += (line[i + 1] & 0xc0) != 0x80;
    return column;
}

static enum status complain(const struct csv_reader *reader, struct errors *errors, int column,
                            const char *text)
{
    enum status status =
        errors_add(errors, STATUS_INPUT, reader->name, reader->line_number, column, "%s", text);
    errors_source(errors, reader->line);
    return status;
}

/* --- lines -----------------------------------------------------------------------------------------------
 */

/* Refuses a line that is not text. */
static enum status check_text(struct csv_reader *reader, size_t length, struct errors *errors)
{
    for (size_t i = 0; i < length;) {
        unsigned char byte = (unsigned char)reader->line[i];
        size_t bytes = character_bytes((const unsigned char *)reader->line + i, length - i);
        if (bytes && (byte >= 0x20 || byte == '\t') && byte != 0x7f) {
            i += bytes;
            continue;
        }
        int column = i ? column_of(reader->line, i - 1) + 1 : 1;
        const char *hint = bytes ? "this is not a text file" : "the file is not UTF-8; save it as UTF-8 text";
        reader->line[0] = '\0'; /* never shown */
        return errors_add(errors, STATUS_INPUT, reader->name, reader->line_number, column,
                          "byte 0x%02x is not text: %s", byte, hint);
    }
    return STATUS_OK;
}

/* Reads one line without its end into `line`; sets at_end when there is none. */
static enum status read_line(struct csv_reader *reader, struct errors *errors)
{
    size_t length = 0;
    int byte;
    reader->line_number++;
    while ((byte = getc_unlocked(reader->stream)) != EOF && byte != '\n') {
        if (length == CSV_LINE) {
            reader->line[0] = '\0';
            return errors_add(errors, STATUS_INPUT, reader->name, reader->line_number, 0,
                              "the line is longer than %d bytes", CSV_LINE);
        }
        reader->line[length++] = (char)byte;
    }
    if (byte == EOF && ferror(reader->stream))
        return errors_add(errors, STATUS_FILE, reader->name, 0, 0, "cannot be read: %s", strerror(errno));
    if (length && reader->line[length - 1] == '\r')
        length--;
    reader->line[length] = '\0';
    reader->at_end = byte == EOF && length == 0;
    return check_text(reader, length, errors);
}

static int is_skipped(const char *line)
{
    line += strspn(line, " \t");
    return *line == '\0' || *line == '#';
}

/* A line of separators alone: spreadsheets write them below their data. */
static int is_empty_row(const struct csv_reader *reader)
{
    char blank[] = {' ', '\t', reader->separator, '\0'};
    return reader->line[strspn(reader->line, blank)] == '\0';
}

/* Reads on to the next line that counts. */
static enum status next_line(struct csv_reader *reader, struct errors *errors)
{
    do {
        enum status status = read_line(reader, errors);
        if (status != STATUS_OK)
            return status;
    } while (!reader->at_end && (is_skipped(reader->line) || is_empty_row(reader)));
    return STATUS_OK;
}

/* --- cells -----------------------------------------------------------------------------------------------
 */

static size_t trimmed(const char *text, size_t length)
{
    while (length && isspace((unsigned char)text[length - 1]))
        length--;
    return length;
}

/* Copies the quoted cell that starts at *at to `*out`, moves both on. 0 when the quotes do not fit. */
static int copy_quoted(const struct csv_reader *reader, size_t *at, char **out)
{
    const char *line = reader->line;
    size_t i = *at + 1;
    while (line[i] && (line[i] != '"' || line[i + 1] == '"')) {
        i += line[i] == '"';
        *(*out)++ = line[i++];
    }
    if (line[i] != '"')
        return 0;
    i++;
    while (line[i] == ' ')
        i++;
    *at = i;
    return line[i] == '\0' || line[i] == reader->separator;
}

/* Copies the plain cell that starts at *at, outer blanks left out. */
static void copy_plain(const struct csv_reader *reader, size_t *at, char **out)
{
    const char *start = reader->line + *at;
    const char stop[] = {reader->separator, '\0'};
    size_t length = strcspn(start, stop);
    size_t kept = trimmed(start, length);
    memcpy(*out, start, kept);
    *out += kept;
    *at += length;
}

/* Splits the line into cells; `count` receives their number. */
static enum status split(struct csv_reader *reader, size_t *count, struct errors *errors)
{
    const char *line = reader->line;
    char *out = reader->unquoted;
    size_t at = 0;
    *count = 0;
    for (;;) {
        if (*count == CSV_COLUMNS)
            return complain(reader, errors, 1, "more than 256 columns");
        while (line[at] == ' ' || (line[at] == '\t' && reader->separator != '\t'))
            at++;
        size_t start = at;
        reader->cells[*count] = (struct csv_cell){.text = out, .column = column_of(line, at)};
        if (line[at] != '"')
            copy_plain(reader, &at, &out);
        else if (!copy_quoted(reader, &at, &out))
            return complain(reader, errors, column_of(line, start),
                            "the quotes are not closed before the end of the cell");
        *out++ = '\0';
        ++*count;
        if (line[at] == '\0')
            return STATUS_OK;
        at++;
    }
}

static char find_separator(const char *line)
{
    static const char candidates[] = "\t;,";
    for (const char *candidate = candidates; *candidate; candidate++) {
        int quoted = 0;
        for (const char *at = line; *at; at++) {
            quoted ^= *at == '"';
            if (!quoted && *at == *candidate)
                return *candidate;
        }
    }
    return '\0';
}

/* --- numbers ---------------------------------------------------------------------------------------------
 */

static size_t digits(const char *text)
{
    return strspn(text, "0123456789");
}

/* sign, digits with one point, exponent: nothing else. */
static int is_decimal(const char *text)
{
    text += *text == '+' || *text == '-';
    size_t whole = digits(text);
    text += whole;
    size_t part = 0;
    if (*text == '.') {
        part = digits(++text);
        text += part;
    }
    if (whole + part == 0)
        return 0;
    if (*text == 'e' || *text == 'E') {
        text++;
        text += *text == '+' || *text == '-';
        size_t exponent = digits(text);
        if (exponent == 0)
            return 0;
        text += exponent;
    }
    return *text == '\0';
}

int csv_parse_number(const char *text, int comma, double *value)
{
    char plain[NUMBER_TEXT + 1];
    *value = NAN;
    int negative = strncmp(text, minus_sign, sizeof minus_sign - 1) == 0;
    if (negative)
        text += sizeof minus_sign - 1;
    if (strlen(text) >= NUMBER_TEXT || (negative && (*text == '-' || *text == '+')))
        return 0;
    snprintf(plain, sizeof plain, "%s%s", negative ? "-" : "", text);
    char *point = comma ? strchr(plain, ',') : NULL;
    if (point)
        *point = '.';
    if (!is_decimal(plain))
        return 0;
    double number = strtod(plain, NULL);
    if (!isfinite(number))
        return 0;
    *value = number;
    return 1;
}

static const char *number_hint(const char *text, char separator)
{
    if (separator == ',' || separator == '\0' || !strchr(text, ','))
        return "a finite decimal number is expected";
    return "a finite decimal number is expected, at most one decimal comma and no digit separators";
}

enum status csv_number(const struct csv_reader *reader, size_t column, double *value, struct errors *errors)
{
    const struct csv_cell *cell = &reader->cells[column];
    *value = NAN;
    if (*cell->text == '\0' || csv_parse_number(cell->text, reader->separator != ',', value))
        return STATUS_OK;
    enum status status = errors_add(errors, STATUS_INPUT, reader->name, reader->line_number, cell->column,
                                    "\"%.80s\" in column \"%.80s\": %s", cell->text, reader->header[column],
                                    number_hint(cell->text, reader->separator));
    errors_source(errors, reader->line);
    return status;
}

/* --- opening ---------------------------------------------------------------------------------------------
 */

static enum status open_stream(struct csv_reader *reader, const char *path, struct errors *errors)
{
    struct stat about;
    int standard = strcmp(path, "-") == 0;
    reader->name = memory_text(standard ? "standard input" : path);
    reader->line = memory_zeroed(CSV_LINE + 1, 1);
    reader->unquoted = memory_zeroed(UNQUOTED, 1);
    reader->cells = memory_zeroed(CSV_COLUMNS, sizeof *reader->cells);
    if (!reader->name || !reader->line || !reader->unquoted || !reader->cells)
        return errors_add(errors, STATUS_MEMORY, path, 0, 0, "out of memory");
    reader->stream = standard ? stdin : fopen(path, "r");
    if (!reader->stream || fstat(fileno(reader->stream), &about) != 0)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "cannot be opened: %s", strerror(errno));
    if (S_ISDIR(about.st_mode))
        return errors_add(errors, STATUS_FILE, path, 0, 0, "is a folder, not a file");
    return STATUS_OK;
}

/* Drops a byte-order mark; names one of another encoding. */
static enum status drop_mark(struct csv_reader *reader, struct errors *errors)
{
    int first = getc_unlocked(reader->stream);
    if (first == 0xfe || first == 0xff)
        return errors_add(errors, STATUS_INPUT, reader->name, 1, 1,
                          "the file is not UTF-8 (it looks like UTF-16); save it as UTF-8 text");
    if (first != 0xef) {
        if (first != EOF)
            ungetc(first, reader->stream);
        return STATUS_OK;
    }
    if (getc_unlocked(reader->stream) != 0xbb || getc_unlocked(reader->stream) != 0xbf)
        return errors_add(errors, STATUS_INPUT, reader->name, 1, 1,
                          "byte 0xef is not text: the file is not UTF-8; save it as UTF-8 text");
    return STATUS_OK;
}

static int all_numbers(const struct csv_reader *reader, size_t count)
{
    double ignored;
    for (size_t i = 0; i < count; i++) {
        if (!csv_parse_number(reader->cells[i].text, reader->separator != ',', &ignored))
            return 0;
    }
    return 1;
}

/* Copies pointers and texts of `count` cells into one block that memory_free releases. */
static char **copy_texts(const struct csv_cell *cells, size_t count)
{
    size_t bytes = count * sizeof(char *);
    for (size_t i = 0; i < count; i++)
        bytes += strlen(cells[i].text) + 1;
    char **texts = memory_zeroed(bytes, 1);
    if (!texts)
        return NULL;
    char *out = (char *)(texts + count);
    for (size_t i = 0; i < count; i++) {
        texts[i] = out;
        out += strlen(strcpy(out, cells[i].text)) + 1;
    }
    return texts;
}

static enum status read_header(struct csv_reader *reader, struct errors *errors)
{
    size_t count = 0;
    enum status status = drop_mark(reader, errors);
    if (status == STATUS_OK)
        status = next_line(reader, errors);
    if (status != STATUS_OK)
        return status;
    if (reader->at_end)
        return errors_add(errors, STATUS_INPUT, reader->name, 0, 0, "the file is empty");
    reader->separator = find_separator(reader->line);
    status = split(reader, &count, errors);
    if (status != STATUS_OK)
        return status;
    if (all_numbers(reader, count))
        return complain(reader, errors, 1,
                        "the first row holds numbers; a header row that names each column is needed");
    if (count > 1 && *reader->cells[count - 1].text == '\0')
        count--;
    reader->column_count = count;
    reader->header = copy_texts(reader->cells, count);
    return reader->header ? STATUS_OK
                          : errors_add(errors, STATUS_MEMORY, reader->name, 0, 0, "out of memory");
}

enum status csv_open(struct csv_reader *reader, const char *path, struct errors *errors)
{
    *reader = (struct csv_reader){0};
    enum status status = open_stream(reader, path, errors);
    if (status == STATUS_OK)
        status = read_header(reader, errors);
    if (status != STATUS_OK)
        csv_close(reader);
    return status;
}

enum status csv_next(struct csv_reader *reader, struct errors *errors)
{
    size_t count = 0;
    char text[ERROR_TEXT];
    enum status status = next_line(reader, errors);
    if (status != STATUS_OK || reader->at_end)
        return status;
    status = split(reader, &count, errors);
    if (status != STATUS_OK)
        return status;
    if (count == reader->column_count + 1 && *reader->cells[count - 1].text == '\0')
        count--;
    if (count != reader->column_count) {
        snprintf(text, sizeof text, "%zu cells, but the header names %zu columns%s", count,
                 reader->column_count,
                 reader->separator == ',' && count > reader->column_count
                     ? " (decimal commas need a semicolon or a tab between the columns)"
                     : "");
        return complain(reader, errors, 1, text);
    }
    reader->row++;
    return STATUS_OK;
}

void csv_close(struct csv_reader *reader)
{
    if (reader->stream && reader->stream != stdin)
        fclose(reader->stream);
    memory_free(reader->name);
    memory_free(reader->header);
    memory_free(reader->line);
    memory_free(reader->unquoted);
    memory_free(reader->cells);
    *reader = (struct csv_reader){0};
}

/* --- column names ----------------------------------------------------------------------------------------
 */

static int unit_index(const char *text, size_t length, const char *const *units, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (strlen(units[i]) == length && memcmp(units[i], text, length) == 0)
            return (int)i;
    }
    return -1;
}

/* Start of the opening bracket when the name ends with a pair of them, else NULL. */
static const char *open_bracket(const char *header, size_t length)
{
    char last = length ? header[length - 1] : '\0';
    char want = last == ')' ? '(' : last == ']' ? '[' : '\0';
    for (size_t i = length; want && i-- > 0;) {
        if (header[i] == want)
            return header + i;
    }
    return NULL;
}

/* Start of the longest known unit that ends the name behind a blank, '_', ',' or '/'; `index` receives it. */
static const char *bare_unit(const char *header, size_t length, const char *const *units, size_t count,
                             int *index)
{
    for (size_t i = 1; i + 1 < length; i++) {
        if (!strchr(" _,/", header[i]))
            continue;
        *index = unit_index(header + i + 1, length - i - 1, units, count);
        if (*index >= 0)
            return header + i;
    }
    return NULL;
}

int csv_column_unit(const char *header, const char *const *units, size_t count, char *name, char *unknown,
                    size_t size)
{
    int index = -1;
    size_t length = trimmed(header, strlen(header));
    const char *start = open_bracket(header, length);
    *unknown = '\0';
    if (start) {
        const char *inside = start + 1 + strspn(start + 1, " ");
        size_t inside_length = trimmed(inside, (size_t)(header + length - 1 - inside));
        index = unit_index(inside, inside_length, units, count);
        if (index < 0) {
            index = -2;
            snprintf(unknown, size, "%.*s", (int)inside_length, inside);
        }
    } else {
        start = bare_unit(header, length, units, count, &index);
    }
    size_t end = start ? (size_t)(start - header) : length;
    while (end && strchr(" _,/", header[end - 1]))
        end--;
    snprintf(name, size, "%.*s", (int)end, header);
    return index;
}

/* --- tables ----------------------------------------------------------------------------------------------
 */

/* Copies the cells of the present row into one block: cells first, then their texts. */
static struct csv_cell *copy_cells(const struct csv_reader *reader)
{
    size_t count = reader->column_count, bytes = count * sizeof(struct csv_cell);
    for (size_t i = 0; i < count; i++)
        bytes += strlen(reader->cells[i].text) + 1;
    struct csv_cell *cells = memory_zeroed(bytes, 1);
    if (!cells)
        return NULL;
    char *out = (char *)(cells + count);
    for (size_t i = 0; i < count; i++) {
        cells[i] = (struct csv_cell){.text = out, .column = reader->cells[i].column};
        out += strlen(strcpy(out, reader->cells[i].text)) + 1;
    }
    return cells;
}

static enum status add_row(struct csv_table *table, const struct csv_reader *reader, size_t *room,
                           struct errors *errors)
{
    if (table->row_count == CSV_TABLE_ROWS)
        return errors_add(errors, STATUS_INPUT, reader->name, reader->line_number, 0,
                          "the table has more than %d rows", CSV_TABLE_ROWS);
    if (table->row_count == *room) {
        size_t more = *room ? 2 * *room : 64;
        struct csv_row *rows = memory_resized(table->rows, *room, more, sizeof *rows);
        if (!rows)
            return errors_add(errors, STATUS_MEMORY, reader->name, 0, 0, "out of memory");
        table->rows = rows;
        *room = more;
    }
    struct csv_cell *cells = copy_cells(reader);
    if (!cells)
        return errors_add(errors, STATUS_MEMORY, reader->name, 0, 0, "out of memory");
    table->rows[table->row_count++] = (struct csv_row){.line = reader->line_number, .cells = cells};
    return STATUS_OK;
}

enum status csv_table_read(const char *path, struct csv_table *table, struct errors *errors)
{
    struct csv_reader reader;
    size_t room = 0;
    *table = (struct csv_table){0};
    enum status status = csv_open(&reader, path, errors);
    if (status != STATUS_OK)
        return status;
    while ((status = csv_next(&reader, errors)) == STATUS_OK && !reader.at_end) {
        status = add_row(table, &reader, &room, errors);
        if (status != STATUS_OK)
            break;
    }
    table->name = reader.name;
    table->header = reader.header;
    table->column_count = reader.column_count;
    reader.name = NULL;
    reader.header = NULL;
    csv_close(&reader);
    if (status != STATUS_OK)
        csv_table_free(table);
    return status;
}

void csv_table_free(struct csv_table *table)
{
    for (size_t i = 0; i < table->row_count; i++)
        memory_free(table->rows[i].cells);
    memory_free(table->rows);
    memory_free(table->header);
    memory_free(table->name);
    *table = (struct csv_table){0};
}

size_t csv_table_column(const struct csv_table *table, const char *header)
{
    for (size_t i = 0; i < table->column_count; i++) {
        if (strcmp(table->header[i], header) == 0)
            return i;
    }
    return SIZE_MAX;
}

enum status csv_table_number(const struct csv_table *table, size_t row, size_t column, double *value,
                             struct errors *errors)
{
    const struct csv_cell *cell = &table->rows[row].cells[column];
    *value = NAN;
    if (*cell->text == '\0' || csv_parse_number(cell->text, 0, value))
        return STATUS_OK;
    return errors_add(errors, STATUS_INPUT, table->name, table->rows[row].line, cell->column,
                      "\"%.80s\" in column \"%.80s\": a finite decimal number is expected", cell->text,
                      table->header[column]);
}
