#include "solver/base/csv.h"

#include <criterion/criterion.h>
#include <fcntl.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "solver/base/memory.h"

static char path[64];

/* Writes `length` bytes to a fresh file and returns its path. */
static const char *file_of_bytes(const char *bytes, size_t length)
{
    snprintf(path, sizeof path, "/tmp/foampulse_csv_XXXXXX");
    int file = mkstemp(path);
    cr_assert(file >= 0);
    cr_assert_eq(write(file, bytes, length), (ssize_t)length);
    close(file);
    return path;
}

static const char *file_of(const char *text)
{
    return file_of_bytes(text, strlen(text));
}

/* Reads all rows as numbers into `values` (row by row) and returns their count; asserts success. */
static size_t read_all(const char *text, double *values, size_t columns)
{
    struct csv_reader reader;
    struct errors errors = {0};
    size_t rows = 0;
    cr_assert_eq(csv_open(&reader, file_of(text), &errors), STATUS_OK, "%s", errors.kept[0].text);
    cr_assert_eq(reader.column_count, columns);
    while (csv_next(&reader, &errors) == STATUS_OK && !reader.at_end) {
        for (size_t i = 0; i < columns; i++)
            cr_assert_eq(csv_number(&reader, i, &values[rows * columns + i], &errors), STATUS_OK);
        rows++;
    }
    cr_assert_eq(errors.count, 0, "%s", errors.kept[0].text);
    csv_close(&reader);
    unlink(path);
    return rows;
}

/* Reads until something is wrong; returns the first message, with its place. */
static struct error first_error(const char *name)
{
    struct csv_reader reader;
    struct errors errors = {0};
    double ignored;
    if (csv_open(&reader, name, &errors) == STATUS_OK) {
        while (errors.count == 0 && csv_next(&reader, &errors) == STATUS_OK && !reader.at_end) {
            for (size_t i = 0; i < reader.column_count && errors.count == 0; i++)
                csv_number(&reader, i, &ignored, &errors);
        }
        csv_close(&reader);
    }
    cr_assert_geq(errors.count, 1);
    return errors.kept[0];
}

static struct error error_in(const char *text)
{
    struct error error = first_error(file_of(text));
    cr_expect_str_eq(error.file, path);
    unlink(path);
    return error;
}

static void expect_error(const char *text, int line, int column, const char *part)
{
    struct error error = error_in(text);
    cr_expect_eq(error.status, STATUS_INPUT);
    cr_expect_eq(error.line, line, "line %d: %s", error.line, error.text);
    cr_expect_eq(error.column, column, "column %d: %s", error.column, error.text);
    cr_expect(strstr(error.text, part), "%s", error.text);
}

Test(csv, separators)
{
    static const char *const files[] = {
        "t (ms),a (g)\n0,1.5\n1e-1,-2.5\n",
        "t (ms);a (g)\n0;1,5\n1e-1;-2,5\n",
        "t (ms);a (g)\n0;1.5\n0.1;-2.5\n",
        "t (ms)\ta (g)\r\n0\t1,5\r\n0,1\t-2,5\r\n",
        "\xef\xbb\xbft (ms),a (g)\n0,1.5\n.1,-2.5",
        "# made up\n\n \"t, ms\" , \"a (g)\"\n # x\n0, 1.5\n+0.1,\"-2.5\"\n,\n",
        "t;a;\n0;1,5;\n0,1;\xe2\x88\x92"
        "2,5;\n",
    };
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        double values[8] = {0};
        cr_expect_eq(read_all(files[i], values, 2), 2, "file %zu", i);
        cr_expect(values[0] == 0 && values[1] == 1.5 && values[2] == 0.1 && values[3] == -2.5, "file %zu", i);
    }
}

Test(csv, missing_cells_and_one_column)
{
    double values[8];
    cr_expect_eq(read_all("a,b,c\n1,,3\n", values, 3), 1);
    cr_expect(values[0] == 1 && isnan(values[1]) && values[2] == 3);
    cr_expect_eq(read_all("a (g)\n1,25\n", values, 1), 1);
    cr_expect_eq(values[0], 1.25);
}

Test(csv, quoted_quotes)
{
    struct csv_table table;
    struct errors errors = {0};
    cr_assert_eq(
        csv_table_read(file_of("name,note\n\"a, b\",say \"\"x\n\" c \"\"d\"\"\",e;f\n"), &table, &errors),
        STATUS_OK);
    unlink(path);
    cr_expect_str_eq(table.rows[0].cells[0].text, "a, b");
    cr_expect_str_eq(table.rows[0].cells[1].text, "say \"\"x");
    cr_expect_str_eq(table.rows[1].cells[0].text, " c \"d\"");
    cr_expect_str_eq(table.rows[1].cells[1].text, "e;f");
    csv_table_free(&table);
}

Test(csv, messages_name_the_place)
{
    expect_error("", 0, 0, "empty");
    expect_error("# only a comment\n\n", 0, 0, "empty");
    expect_error("0,1\n1,2\n", 1, 1, "header row");
    expect_error("t,a\n0,1\n1,high\n", 3, 3, "\"high\" in column \"a\"");
    expect_error("t;\xc2\xb5\xc2\xb5s;a\n0;\"\xc2\xb5\";1\n", 2, 3, "in column");
    expect_error("t;a\n\xe2\x88\x92"
                 "1;x\n",
                 2, 4, "\"x\" in column");
    expect_error("t,a\n0,nan\n", 2, 3, "finite");
    expect_error("t,a\n0,-inf\n", 2, 3, "finite");
    expect_error("t,a\n0,1e999\n", 2, 3, "finite");
    expect_error("t,a\n0,0x10\n", 2, 3, "finite");
    expect_error("t,a\n0,1_000\n", 2, 3, "finite");
    expect_error("t,a\n0,1.5 g\n", 2, 3, "finite");
    expect_error("t;a\n0;1.000,5\n", 2, 3, "digit separators");
    expect_error("t;a\n0;1,000,5\n", 2, 3, "digit separators");
    expect_error("t,a\n0,1,5\n", 2, 1, "decimal commas need a semicolon");
    expect_error("t,a\n0\n", 2, 1, "1 cells, but the header names 2");
    expect_error("t,a\n0,\"1\n2\"\n", 2, 3, "quotes");
    expect_error("t,a\n0,\"1\"2\n", 2, 3, "quotes");
}

Test(csv, not_text)
{
    struct error error = first_error(file_of_bytes("t,a\n0,\0001\n", 10));
    unlink(path);
    cr_expect_eq(error.status, STATUS_INPUT);
    cr_expect_eq(error.line, 2);
    cr_expect_eq(error.column, 3);
    cr_expect(strstr(error.text, "not a text file"));
    cr_expect_str_eq(error.source, "");
    expect_error("t,a (m/s\xb2)\n", 1, 9, "not UTF-8");
    expect_error("t,a \xed\xa0\x80\n", 1, 5, "not UTF-8");
    expect_error("t,a \xc0\xaf\n", 1, 5, "not UTF-8");
    expect_error("\xff\xfet\n", 1, 1, "UTF-16");
    expect_error("\xef\xbbt\n", 1, 1, "UTF-8");
    expect_error("t,a\r0,1\r", 1, 4, "not a text file");
}

Test(csv, files_that_cannot_be_read)
{
    struct error error = first_error("/tmp/foampulse_no_such_file.csv");
    cr_expect_eq(error.status, STATUS_FILE);
    cr_expect(strstr(error.text, "No such file"));
    error = first_error("/tmp");
    cr_expect_eq(error.status, STATUS_FILE);
    cr_expect(strstr(error.text, "folder"));
}

Test(csv, limits)
{
    char *text = calloc(CSV_LINE + 16, 1);
    strcpy(text, "t,a\n");
    memset(text + 4, '1', CSV_LINE - 2);
    strcpy(text + 4 + CSV_LINE - 2, ",1\n");
    expect_error(text, 2, 1, "finite");
    memset(text + 4, '1', CSV_LINE);
    strcpy(text + 4 + CSV_LINE, "1\n");
    expect_error(text, 2, 0, "longer than 65536 bytes");
    memset(text, ',', CSV_COLUMNS + 1);
    text[0] = 'a';
    text[CSV_COLUMNS + 1] = '\0';
    expect_error(text, 1, 1, "more than 256 columns");
    free(text);
}

Test(csv, table_with_line_numbers)
{
    struct csv_table table;
    struct errors errors = {0};
    double value;
    const char *name = file_of("# source: invented\nname,density,note\n\neps,45,\nbad,4x,\"n, o\"\n");
    cr_assert_eq(csv_table_read(name, &table, &errors), STATUS_OK);
    unlink(path);
    cr_expect_eq(table.row_count, 2);
    cr_expect_eq(table.rows[0].line, 4);
    cr_expect_eq(csv_table_column(&table, "density"), 1);
    cr_expect_eq(csv_table_column(&table, "Density"), SIZE_MAX);
    cr_expect_str_eq(table.rows[1].cells[2].text, "n, o");
    cr_expect_eq(csv_table_number(&table, 0, 1, &value, &errors), STATUS_OK);
    cr_expect_eq(value, 45);
    cr_expect_eq(csv_table_number(&table, 0, 2, &value, &errors), STATUS_OK);
    cr_expect(isnan(value));
    cr_expect_eq(csv_table_number(&table, 1, 1, &value, &errors), STATUS_INPUT);
    cr_expect_eq(errors.kept[0].line, 5);
    cr_expect_eq(errors.kept[0].column, 5);
    csv_table_free(&table);
    cr_expect_null(table.rows);
}

Test(csv, every_allocation_may_fail)
{
    const char *name = file_of("name,density\neps,45\nepp,30\n");
    size_t at = 0;
    for (;; at++) {
        struct csv_table table;
        struct errors errors = {0};
        size_t before = memory_failures();
        memory_fail_after(at);
        enum status status = csv_table_read(name, &table, &errors);
        memory_fail_after(SIZE_MAX);
        if (memory_failures() == before) {
            cr_expect_eq(status, STATUS_OK);
            csv_table_free(&table);
            break;
        }
        cr_expect_eq(status, STATUS_MEMORY);
        cr_expect_null(table.rows);
        cr_expect_null(table.header);
    }
    cr_expect_geq(at, 6);
    unlink(path);
}

Test(csv, units_in_column_names)
{
    static const char *const units[] = {"s", "ms", "g", "m/s2", "m/s\xc2\xb2"};
    static const struct {
        const char *header, *name;
        int index;
    } rows[] = {
        {"time (ms)", "time", 1},
        {"a_x [g]", "a_x", 2},
        {"acceleration_m/s2", "acceleration", 3},
        {"t/ms", "t", 1},
        {"time, s", "time", 0},
        {"a ( m/s\xc2\xb2 )", "a", 4},
        {"acceleration g ", "acceleration", 2},
        {"a_x", "a_x", -1},
        {"g", "g", -1},
        {"a_x/g", "a_x", 2},
        {"force (N)", "force", -2},
        {"_g", "_g", -1},
        {"", "", -1},
        {")", ")", -1},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char name[32], unknown[32];
        cr_expect_eq(csv_column_unit(rows[i].header, units, 5, name, unknown, sizeof name), rows[i].index,
                     "%s", rows[i].header);
        cr_expect_str_eq(name, rows[i].name, "%s: %s", rows[i].header, name);
        cr_expect_str_eq(unknown, rows[i].index == -2 ? "N" : "");
    }
}

Test(csv, numbers)
{
    static const char *const good[] = {"0",
                                       "-1.5",
                                       "+2.",
                                       ".5",
                                       "1e3",
                                       "1E-3",
                                       "\xe2\x88\x92"
                                       "3"};
    static const double value[] = {0, -1.5, 2, 0.5, 1000, 0.001, -3};
    static const char *const bad[] = {"",    "-",   ".",   "1e",  "e3",       "1e+", "--1", "\xe2\x88\x92-3",
                                      "1 2", "1,5", "nan", "inf", "Infinity", "0x1", "1d3", "1..2"};
    double number;
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        cr_expect(csv_parse_number(good[i], 0, &number), "%s", good[i]);
        cr_expect_eq(number, value[i], "%s", good[i]);
    }
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        cr_expect_not(csv_parse_number(bad[i], 0, &number), "%s", bad[i]);
        cr_expect(isnan(number));
    }
}
