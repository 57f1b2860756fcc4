#include "solver/cli/csv_out.h"

#include "solver/cli/csv_field.h"
#include "solver/cli/terminal.h"

void csv_out_text(const char *value, const char *end)
{
    char field[CSV_FIELD];
    terminal_print(stdout, STYLE_PLAIN, "%s%s", csv_field_text(value, field), end);
}

void csv_out_number(double value, const char *end)
{
    char field[CSV_FIELD];
    terminal_print(stdout, STYLE_PLAIN, "%s%s", csv_field_number(value, field), end);
}
