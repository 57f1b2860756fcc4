#include "solver/cli/csv_out.h"

#include <math.h>
#include <string.h>

#include "solver/cli/terminal.h"

void csv_out_text(const char *value, const char *end)
{
    char clean[1024];
    terminal_clean(value ? value : "", clean, sizeof clean);
    int formula = clean[0] != '\0' && strchr("=+-@", clean[0]) != NULL;
    if (!formula && !strpbrk(clean, ",\"")) {
        terminal_print(stdout, STYLE_PLAIN, "%s%s", clean, end);
        return;
    }
    terminal_print(stdout, STYLE_PLAIN, "\"%s", formula ? "'" : "");
    for (const char *at = clean; *at;) {
        size_t part = strcspn(at, "\"");
        terminal_print(stdout, STYLE_PLAIN, "%.*s%s", (int)part, at, at[part] ? "\"\"" : "");
        at += part + (at[part] != '\0');
    }
    terminal_print(stdout, STYLE_PLAIN, "\"%s", end);
}

void csv_out_number(double value, const char *end)
{
    if (isfinite(value))
        terminal_print(stdout, STYLE_PLAIN, "%.9g%s", value, end);
    else
        terminal_print(stdout, STYLE_PLAIN, "%s", end);
}
