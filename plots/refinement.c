#include "plots/refinement.h"

#include <math.h>
#include <stdio.h>

#include "plots/style.h"

enum { NAME = 26 };

static const double *values_of(const struct refinement_row *row, int hic)
{
    return hic ? row->hic : row->peak;
}

/* Largest difference or uncertainty shown [%]. */
static double largest(const struct refinement_row *rows, size_t count, int hic)
{
    double most = 1;
    for (size_t i = 0; i < count; i++) {
        const double *value = values_of(&rows[i], hic);
        double finest = value[REFINEMENT_MESHES - 1];
        double bar = hic ? rows[i].hic_uncertainty : rows[i].peak_uncertainty;
        for (int m = 0; m < REFINEMENT_MESHES; m++)
            most = fmax(most, isfinite(value[m]) ? 100 * fabs(value[m] / finest - 1) : 0);
        most = fmax(most, isfinite(bar) ? 100 * bar / finest : 0);
    }
    return most;
}

static void add_data(struct script *script, const double *cell, const struct refinement_row *row, int hic,
                     size_t index)
{
    const double *value = values_of(row, hic), finest = value[REFINEMENT_MESHES - 1];
    double bar = hic ? row->hic_uncertainty : row->peak_uncertainty;
    /* bars of several impacts stand beside each other */
    double apart = pow(1.03, (double)index);
    script_add(script, "$line%zu << EOD\n", index);
    for (int m = 0; m < REFINEMENT_MESHES; m++)
        script_add(script, "%g %g\n", 1e3 * cell[m], 100 * (value[m] / finest - 1));
    script_add(script, "EOD\n$bar%zu << EOD\n%g 0 %g\nEOD\n", index,
               1e3 * cell[REFINEMENT_MESHES - 1] / apart, isfinite(bar) ? 100 * bar / finest : 0);
}

static void panel(struct script *script, const double *cell, const struct refinement_row *rows, size_t count,
                  int hic, int drawn)
{
    for (size_t i = 0; i < count; i++)
        add_data(script, cell, &rows[i], hic, i);
    script_add(script, "set title '%s'\nset yrange [%g:%g]\nplot ", hic ? "HIC" : "peak g",
               -1.15 * largest(rows, count, hic), 1.15 * largest(rows, count, hic));
    for (size_t i = 0; i < count; i++) {
        if (drawn)
            script_add(script,
                       "$bar%zu using 1:2:3 with yerrorbars lc rgb '%s' lw 1.2 pt 7 ps 0.01 notitle, ", i,
                       style_color(i));
        script_add(script, "$line%zu using 1:2 with linespoints %s pt %zu ps 0.7 title ", i,
                   drawn ? style_line(i) : "", 4 + i);
        script_text(script, rows[i].name, NAME);
        script_add(script, i + 1 < count ? ", \\\n" : "\n");
    }
}

void refinement_compose(struct script *script, const char *title, const double *cell,
                        const struct refinement_row *rows, size_t count, enum picture_format format)
{
    int drawn = format != PICTURE_TEXT;
    struct style_panels panels = style_panels_of(2);
    style_begin(script, format, 800, 460, title,
                "Bars: numerical uncertainty of the value on the finest mesh.");
    style_axes(script, "size of a cell (mm)", "difference from the finest mesh (%)");
    script_add(script, "set logscale x 2\nset xrange [%g:%g]\nset xtics (",
               1e3 * cell[REFINEMENT_MESHES - 1] / 1.5, 1e3 * cell[0] * 1.3);
    for (int m = 0; m < REFINEMENT_MESHES; m++)
        script_add(script, "%s'%.4g' %g", m ? ", " : "", 1e3 * cell[m], 1e3 * cell[m]);
    script_add(script, ")\n%s", drawn ? "set multiplot\n" : "set key top left\n");
    for (int hic = 0; hic < (drawn ? 2 : 1); hic++) {
        if (drawn)
            style_panel(script, &panels, (size_t)hic, hic ? 0.03 : 0.1);
        if (drawn)
            script_add(script, hic ? "set format y '%%g'\nunset key\n" : "set key bottom right\n");
        panel(script, cell, rows, count, hic, drawn);
        script_add(script, "unset label 901\nunset label 902\n");
    }
    if (drawn)
        script_add(script, "unset multiplot\n");
}
