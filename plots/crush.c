#include "plots/crush.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "plots/style.h"
#include "solver/base/memory.h"

#define GRAVITY 9.80665 /* [m/s2] */

enum { NAME = 26, REGION = 16, LAYERS_MOST = 8 };

/* --- force against crush ---------------------------------------------------------------------------------
 */

/* Thickness of the liner on the site's axis [m]; NaN when the metrics do not say. */
static double stroke(const struct hit_result *hit)
{
    return 1e-3 * (hit->output.metrics[METRIC_crush] + hit->output.metrics[METRIC_crush_left]);
}

static int has_crush(const struct layout *layout)
{
    return layout->hit && layout->hit->output.channel[PULSE_crush] && stroke(layout->hit) > 0;
}

/* Adds the data block of a layout and gives its largest force [kN]. */
static double add_loop(struct script *script, const struct hit_result *hit, size_t series)
{
    size_t count = hit->output.count;
    double *crush = memory_doubles(count), *force = memory_doubles(count), largest = 0;
    for (size_t i = 0; crush && force && i < count; i++) {
        crush[i] = 100 * hit->output.channel[PULSE_crush][i] / stroke(hit);
        force[i] = 1e-3 * hit->headform_mass * hit->output.channel[PULSE_acceleration][i];
        largest = force[i] > largest ? force[i] : largest;
    }
    char name[32];
    snprintf(name, sizeof name, "loop%zu", series);
    if (crush && force)
        script_block(script, name, crush, force, count);
    else
        script->failed = 1;
    memory_free(crush);
    memory_free(force);
    return largest;
}

/* The limit of the peak as a force on this headform. Returns the force [kN], 0 for none. */
static double add_limit(struct script *script, const struct hit_result *hit)
{
    const struct judgement *limit = layouts_judgement(hit, METRIC_peak);
    if (!limit)
        return 0;
    double force = 1e-3 * hit->headform_mass * GRAVITY * limit->limit;
    script_add(script,
               "set arrow from graph 0,first %g to graph 1,first %g nohead lc rgb '" STYLE_INK
               "' lw 1.2 dt (10,6) back\n"
               "set label 'limit %g g%s' at graph 0.985,first %g right offset 0,0.6 tc rgb '" STYLE_INK
               "' front\n",
               force, force, limit->limit, layouts_unchecked(limit) ? " (unchecked)" : "", force);
    return force;
}

enum status crush_compose(struct script *script, const struct layout *layouts, size_t count,
                          enum picture_format format, struct errors *errors)
{
    const struct hit_result *shown = NULL;
    for (size_t i = 0; i < count && !shown; i++)
        shown = has_crush(&layouts[i]) ? layouts[i].hit : NULL;
    if (!shown)
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0, "there is no crush to draw");
    char condition[LAYOUT_TEXT], title[LAYOUT_TEXT + 64];
    layouts_condition(shown, condition);
    snprintf(title, sizeof title, "Force against crush of the liner. %s", condition);
    style_begin(script, format, 800, 480, title, LAYOUTS_REMARK);
    style_axes(script, "crush on the axis of impact (% of liner thickness)",
               "force on headform, CFC 1000 (kN)");
    int drawn = format != PICTURE_TEXT;
    double top = drawn ? add_limit(script, shown) : 0;
    for (size_t i = 0; i < count; i++) {
        if (!has_crush(&layouts[i]))
            continue;
        const struct hit_result *hit = layouts[i].hit;
        top = fmax(top, add_loop(script, hit, i));
        char values[96];
        snprintf(values, sizeof values, "%.0f %%, %.1f mm left",
                 100 * hit->output.metrics[METRIC_crush_fraction], hit->output.metrics[METRIC_crush_left]);
        if (drawn)
            style_row(script, i, i, count, layouts[i].name, values);
    }
    script_add(script, "set xrange [0:100]\nset yrange [0:%g]\nset xtics 0,20\n", 1.08 * top);
    if (drawn)
        script_add(script, STYLE_MARGINS);
    else
        script_add(script, "set key top left\n");
    const char *between = "plot ";
    for (size_t i = 0; i < count; i++) {
        if (!has_crush(&layouts[i]))
            continue;
        script_add(script, "%s$loop%zu with lines %s title ", between, i, drawn ? style_line(i) : "");
        script_text(script, layouts[i].name, NAME);
        between = ", \\\n";
    }
    script_add(script, "\n");
    return STATUS_OK;
}

/* --- crush through the layers -----------------------------------------------------------------------------
 */

/* A layer that carries a curve, and where its label goes. */
struct line {
    const struct layer_output *layer;
    double end, label; /* largest crush, height of the label [%] */
};

static int lower_first(const void *a, const void *b)
{
    double x = ((const struct line *)a)->end, y = ((const struct line *)b)->end;
    return (x > y) - (x < y);
}

/* Layers with a curve, and their largest crush. */
static size_t lines_of(const struct layout *layout, struct line lines[LAYERS_MOST])
{
    size_t count = 0;
    const struct impact_output *output = layout->hit ? &layout->hit->output : NULL;
    for (size_t i = 0; output && i < output->layer_count && count < LAYERS_MOST; i++) {
        if (!output->layers[i].crush)
            continue;
        struct line line = {.layer = &output->layers[i]};
        for (size_t k = 0; k < output->count; k++)
            line.end = fmax(line.end, 100 * line.layer->crush[k]);
        lines[count++] = line;
    }
    return count;
}

/* Moves labels apart, upwards from the lowest. */
static void spread(struct line *lines, size_t count, double gap)
{
    qsort(lines, count, sizeof *lines, lower_first);
    double free_from = 0;
    for (size_t i = 0; i < count; i++) {
        lines[i].label = fmax(lines[i].end, free_from);
        free_from = lines[i].label + gap;
    }
}

static void add_layer(struct script *script, const struct impact_output *output,
                      const struct layer_output *layer, size_t panel, size_t series)
{
    double *time = memory_doubles(output->count), *crush = memory_doubles(output->count);
    for (size_t i = 0; time && crush && i < output->count; i++) {
        time[i] = 1e3 * (double)(i + 1) * output->interval;
        crush[i] = 100 * layer->crush[i];
    }
    char name[48];
    snprintf(name, sizeof name, "layer%zu_%zu", panel, series);
    if (time && crush)
        script_block(script, name, time, crush, output->count);
    else
        script->failed = 1;
    memory_free(time);
    memory_free(crush);
}

static double end_time(const struct layout *layouts, size_t count)
{
    double end = 0;
    for (size_t i = 0; i < count; i++) {
        const struct impact_output *output = layouts[i].hit ? &layouts[i].hit->output : NULL;
        for (size_t k = output ? output->count : 0; k-- > 0;) {
            if (output->channel[PULSE_acceleration][k] > 2 * GRAVITY) {
                end = fmax(end, 1e3 * (double)(k + 1) * output->interval);
                break;
            }
        }
    }
    return end;
}

/* Marks of one layer: its name beside the end of its curve and its strain of best efficiency as a faint line.
 */
static void add_layer_marks(struct script *script, const struct line *line, size_t series, size_t tag,
                            size_t most)
{
    char name[64];
    snprintf(name, sizeof name, "%d %s", line->layer->layer, line->layer->region);
    script_add(script, "set label %zu ", tag);
    script_text(script, name, most);
    script_add(script, " at graph 1.02,first %g left tc rgb '%s' front\n", line->label, style_color(series));
    if (isfinite(line->layer->best_strain))
        script_add(script,
                   "set arrow %zu from graph 0,first %g to graph 1,first %g nohead lc rgb '%s' lw 0.7 dt "
                   "(5,5) back\n",
                   tag, 100 * line->layer->best_strain, 100 * line->layer->best_strain, style_color(series));
}

static void layers_panel(struct script *script, const struct layout *layout, size_t panel, int drawn,
                         size_t most)
{
    struct line lines[LAYERS_MOST];
    size_t count = lines_of(layout, lines);
    spread(lines, count, 6);
    for (size_t i = 0; i < count; i++) {
        add_layer(script, &layout->hit->output, lines[i].layer, panel, i);
        if (drawn)
            add_layer_marks(script, &lines[i], i, 10 + i, most);
    }
    script_add(script, "set title ");
    script_text(script, layout->name, NAME);
    script_add(script, "\nplot ");
    for (size_t i = 0; i < count; i++) {
        char name[64];
        snprintf(name, sizeof name, "%d %s", lines[i].layer->layer, lines[i].layer->region);
        script_add(script, "%s$layer%zu_%zu with lines %s title ", i ? ", \\\n" : "", panel, i,
                   drawn ? style_line(i) : "");
        script_text(script, name, most);
    }
    script_add(script, count ? "\n" : "NaN notitle\n");
    for (size_t i = 0; drawn && i < count; i++)
        script_add(script, "unset label %zu\nunset arrow %zu\n", 10 + i, 10 + i);
}

enum status layers_compose(struct script *script, const struct layout *layouts, size_t count,
                           enum picture_format format, struct errors *errors)
{
    struct line lines[LAYERS_MOST];
    const struct hit_result *shown = NULL;
    for (size_t i = 0; i < count && !shown; i++)
        shown = lines_of(&layouts[i], lines) ? layouts[i].hit : NULL;
    if (!shown)
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0, "there is no crush of layers to draw");
    char condition[LAYOUT_TEXT], title[LAYOUT_TEXT + 64];
    layouts_condition(shown, condition);
    snprintf(title, sizeof title, "Crush through the layers. %s", condition);
    int drawn = format != PICTURE_TEXT;
    struct style_panels panels = style_panels_of(count);
    style_begin(script, format, 800, drawn ? 60 + 400 * panels.rows : 0, title,
                "Thin dashes: strain of best efficiency of the layer's foam. " LAYOUTS_REMARK);
    style_axes(script, "time since first touch (ms)", "nominal crush of the layer (%)");
    script_add(script, "set xrange [0:%g]\nset yrange [0:100]\nset ytics 0,20\n",
               1.02 * end_time(layouts, count));
    if (drawn)
        script_add(script, "set multiplot\n");
    else
        script_add(script, "set key top left\n");
    for (size_t i = 0; i < (drawn ? count : 1); i++) {
        if (drawn)
            style_panel(script, &panels, i, count > 1 ? 0.30 : 0.20);
        layers_panel(script, &layouts[i], i, drawn, REGION - 3 * (size_t)(panels.columns - 1));
        script_add(script, "unset label 901\nunset label 902\n");
    }
    if (drawn)
        script_add(script, "unset multiplot\n");
    return STATUS_OK;
}
