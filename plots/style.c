#include "plots/style.h"

#include <math.h>
#include <stdio.h>

/* The colour set of M. Okabe and K. Ito, "Color Universal Design" (published 2002, revised 2008, free to
 * use), less its yellow, which is too faint for a line on white. */
static const struct {
    const char *color;
    double width;
    const char *dash;
} series_table[STYLE_SERIES] = {
    {"#0072B2", 2.4, "1"},          {"#D55E00", 2.0, "(14,5)"},     {"#009E73", 2.6, "(3,4)"},
    {"#CC79A7", 2.0, "(14,4,3,4)"}, {"#000000", 1.6, "1"},          {"#E69F00", 2.4, "(8,4)"},
    {"#56B4E9", 2.4, "(2,3)"},      {"#555555", 2.0, "(10,3,2,3)"},
};

const char *style_color(size_t series)
{
    return series_table[series % STYLE_SERIES].color;
}

double style_width(size_t series)
{
    return series_table[series % STYLE_SERIES].width;
}

const char *style_dash(size_t series)
{
    return series_table[series % STYLE_SERIES].dash;
}

const char *style_line(size_t series)
{
    static _Thread_local char text[96];
    snprintf(text, sizeof text, "lc rgb '%s' lw %g dt %s", style_color(series), style_width(series),
             style_dash(series));
    return text;
}

/* A ramp from near white to the blue of the set, mixed so that CIE lightness falls evenly (97, 84, 70, 56,
 * 42, 28). */
void style_scale(double share, char color[8])
{
    static const int stops[6][3] = {{243, 247, 250}, {187, 215, 232}, {128, 179, 209},
                                    {70, 142, 183},  {20, 105, 152},  {4, 70, 106}};
    double at = 5 * (share > 0 ? share < 1 ? share : 1 : 0);
    int low = at < 4 ? (int)at : 4;
    int mixed[3];
    for (int i = 0; i < 3; i++)
        // cppcheck-suppress arrayIndexOutOfBounds ; low is at most 4
        mixed[i] = (int)lround(stops[low][i] + (at - low) * (stops[low + 1][i] - stops[low][i])) & 255;
    snprintf(color, 8, "#%02x%02x%02x", (unsigned)mixed[0] & 255, (unsigned)mixed[1] & 255,
             (unsigned)mixed[2] & 255);
}

const char *style_scale_ink(double share)
{
    return share > 0.6 ? "#ffffff" : STYLE_INK;
}

void style_begin(struct script *script, enum picture_format format, int width, int height, const char *title,
                 const char *remark)
{
    gnuplot_terminal(script, format, width, height);
    script_add(script, "unset key\n");
    if (format == PICTURE_TEXT) {
        script_add(script, "set title ");
        script_text(script, title, 90);
        script_add(script, "\n");
        return;
    }
    script_add(script, "set border 3 lc rgb '" STYLE_INK "' lw 0.8\n"
                       "set tics nomirror out scale 0.6 textcolor rgb '" STYLE_INK "'\n"
                       "set grid ytics lc rgb '" STYLE_RULE "' lw 0.6 lt 1\nset label 901 ");
    script_text(script, title, 100);
    script_add(script, " at screen 0.015,0.955 left tc rgb '" STYLE_INK "' front\nset label 902 ");
    script_text(script, remark, 130);
    script_add(script,
               " at screen 0.985,0.025 right tc rgb '" STYLE_SOFT "' font ',%d' front\nset tmargin at screen "
               "0.90\n",
               gnuplot_font(format, 14));
}

void style_axes(struct script *script, const char *x, const char *y)
{
    script_add(script, "set xlabel '%s' tc rgb '" STYLE_INK "'\nset ylabel '%s' tc rgb '" STYLE_INK "'\n", x,
               y);
}

void style_row(struct script *script, size_t series, size_t row, size_t rows, const char *name,
               const char *values)
{
    double gap = rows > 4 ? 0.64 / (double)rows : 0.15, at = 0.70 - gap * (double)row;
    script_add(script, "set arrow from screen 0.752,%g to screen 0.785,%g nohead %s front\nset label ", at,
               at, style_line(series));
    script_text(script, name, 20);
    script_add(script, " at screen 0.795,%g left tc rgb '%s' front\n", at, style_color(series));
    if (rows <= 6)
        script_add(script, "set label '%s' at screen 0.795,%g left tc rgb '" STYLE_SOFT "' front\n", values,
                   at - 0.045);
}

struct style_panels style_panels_of(size_t count)
{
    int columns = count <= 4 ? (int)count : (int)(count + 1) / 2;
    return (struct style_panels){.rows = count <= 4 ? 1 : 2, .columns = columns};
}

void style_panel(struct script *script, const struct style_panels *panels, size_t index, double right)
{
    int column = (int)index % panels->columns, row = (int)index / panels->columns;
    double left = 0.085, width = (0.99 - left) / panels->columns, height = 0.86 / panels->rows;
    double low = 0.93 - height * (row + 1);
    script_add(script,
               "set lmargin at screen %g\nset rmargin at screen %g\nset bmargin at screen %g\n"
               "set tmargin at screen %g\n",
               left + width * column, left + width * (column + 1 - right), low + 0.10 / panels->rows,
               low + height - 0.08 / panels->rows);
    /* The scale stands once, at the left. */
    script_add(script, column == 0 ? "set format y '%%g'\n" : "set format y ''\nunset ylabel\n");
}

double style_step(double span, int count)
{
    double raw = span / count, power = pow(10, floor(log10(raw)));
    double digit = raw / power;
    return power * (digit < 1.5 ? 1 : digit < 3.5 ? 2 : digit < 7.5 ? 5 : 10);
}
