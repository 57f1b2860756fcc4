#include "solver/cli/csv_field.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/cli/terminal.h"

const char *csv_field_text(const char *value, char field[CSV_FIELD])
{
    char clean[(CSV_FIELD - 8) / 2];
    size_t at = 0;
    terminal_clean(value ? value : "", clean, sizeof clean);
    int formula = clean[0] != '\0' && strchr("=+-@", clean[0]) != NULL;
    if (!formula && !strpbrk(clean, ",\""))
        return strcpy(field, clean);
    field[at++] = '"';
    if (formula)
        field[at++] = '\'';
    for (const char *from = clean; *from; from++) {
        if (*from == '"')
            field[at++] = '"';
        field[at++] = *from;
    }
    field[at++] = '"';
    field[at] = '\0';
    return field;
}

const char *csv_field_number(double value, char field[CSV_FIELD])
{
    snprintf(field, CSV_FIELD, isfinite(value) ? "%.9g" : "", value);
    return field;
}
