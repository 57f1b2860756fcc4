#include <math.h>
#include <string.h>

#include "solver/base/csv.h"
#include "solver/study/measured.h"
#include "tests/fuzz/target.h"

static void check_pulse(const struct measured_pulse *pulse)
{
    TARGET_CHECK(pulse->samples >= 2 && pulse->samples <= MEASURED_SAMPLES);
    TARGET_CHECK(pulse->channels >= 1 && pulse->channels <= MEASURED_AXES);
    TARGET_CHECK(pulse->interval > 0 && isfinite(pulse->interval) && isfinite(pulse->touch));
    TARGET_CHECK(pulse->note_count <= MEASURED_NOTES);
    for (size_t i = 0; i < METRIC_COUNT; i++)
        TARGET_CHECK(!isinf(pulse->metrics[i]));
    TARGET_CHECK(pulse->metrics[METRIC_peak] > 5 * 0.99);
}

static void check_table(const struct csv_table *table)
{
    double value;
    for (size_t row = 0; row < table->row_count; row++) {
        for (size_t column = 0; column < table->column_count; column++) {
            struct errors errors = {0};
            const struct csv_cell *cell = &table->rows[row].cells[column];
            TARGET_CHECK(cell->column > 0);
            enum status status = csv_table_number(table, row, column, &value, &errors);
            target_messages(&errors, status != STATUS_OK);
            TARGET_CHECK(status == STATUS_OK ? isfinite(value) || *cell->text == '\0' : isnan(value));
        }
    }
    for (size_t column = 0; column < table->column_count; column++)
        TARGET_CHECK(csv_table_column(table, table->header[column]) <= column);
}

void csv_target(const unsigned char *bytes, size_t size)
{
    struct measured_pulse pulse;
    struct csv_table table;
    struct errors errors = {0}, others = {0};
    const char *path = target_file("pulse.csv", bytes, size);
    enum status status = measured_read(path, &pulse, &errors);
    target_messages(&errors, status != STATUS_OK);
    TARGET_CHECK(status == STATUS_OK || status == STATUS_INPUT);
    if (status == STATUS_OK)
        check_pulse(&pulse);
    status = csv_table_read(path, &table, &others);
    target_messages(&others, status != STATUS_OK);
    TARGET_CHECK(status == STATUS_OK || status == STATUS_INPUT);
    check_table(&table);
    csv_table_free(&table);
}
