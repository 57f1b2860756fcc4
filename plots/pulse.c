#include "plots/pulse.h"

#include <math.h>
#include <stdio.h>

#include "plots/style.h"
#include "solver/base/memory.h"

#define GRAVITY 9.80665 /* [m/s2] */

enum { NAME = 26 };

/* What the axes must hold: until when any head is slowed [ms]; the largest acceleration or limit, the lowest
 * and the highest peak [g]. */
struct extent {
    double time, level, lowest, limit, least, peak;
};

static double sample(const struct hit_result *hit, size_t i)
{
    return hit->output.channel[PULSE_acceleration][i] / GRAVITY;
}

static void extent_add(struct extent *extent, const struct hit_result *hit)
{
    double peak = 0;
    for (size_t i = 0; i < hit->output.count; i++) {
        double time = 1e3 * (double)(i + 1) * hit->output.interval, level = sample(hit, i);
        extent->time = level > 2 && time > extent->time ? time : extent->time;
        peak = level > peak ? level : peak;
        extent->lowest = level < extent->lowest ? level : extent->lowest;
    }
    const struct judgement *limit = layouts_judgement(hit, METRIC_peak);
    extent->least = extent->peak > 0 && extent->least < peak ? extent->least : peak;
    extent->peak = peak > extent->peak ? peak : extent->peak;
    extent->level = fmax(extent->level, fmax(limit ? limit->limit : 0, extent->peak));
    if (limit && !(extent->limit < limit->limit && extent->limit > 0))
        extent->limit = limit->limit;
}

/* Last time [ms] at which a pulse stands above a level [g]; 0 for never. */
static double flank(const struct hit_result *hit, double level)
{
    for (size_t i = hit->output.count; i-- > 0;) {
        if (sample(hit, i) > level)
            return 1e3 * ((double)i + 1) * hit->output.interval;
    }
    return 0;
}

static void add_data(struct script *script, const struct hit_result *hit, size_t series)
{
    size_t count = hit->output.count;
    double *time = memory_doubles(count), *level = memory_doubles(count);
    for (size_t i = 0; time && level && i < count; i++) {
        time[i] = 1e3 * ((double)i + 0.5) * hit->output.interval;
        level[i] = sample(hit, i);
    }
    char name[32];
    snprintf(name, sizeof name, "pulse%zu", series);
    if (time && level)
        script_block(script, name, time, level, count);
    else
        script->failed = 1;
    memory_free(time);
    memory_free(level);
}

/* Limits that differ, each once, as a line across with its number. */
static void add_limits(struct script *script, const struct layout *layouts, size_t count)
{
    double drawn[LAYOUTS_MOST];
    size_t drawn_count = 0;
    for (size_t i = 0; i < count; i++) {
        const struct judgement *limit =
            layouts[i].hit ? layouts_judgement(layouts[i].hit, METRIC_peak) : NULL;
        int is_new = limit != NULL;
        for (size_t k = 0; is_new && k < drawn_count; k++)
            is_new = drawn[k] != limit->limit;
        if (!is_new)
            continue;
        drawn[drawn_count++] = limit->limit;
        script_add(script,
                   "set arrow from graph 0,first %g to graph 1,first %g nohead lc rgb '" STYLE_INK
                   "' lw 1.2 dt (10,6) back\n"
                   "set label 'limit %g g%s' at graph 1.015,first %g left tc rgb '" STYLE_INK "' front\n",
                   limit->limit, limit->limit, limit->limit, layouts_unchecked(limit) ? " (unchecked)" : "",
                   limit->limit);
    }
}

/* Name and values of a layout beside the plot, and a leader from there to the falling flank of its pulse. */
static void add_label(struct script *script, const struct layout *layout, size_t series, double level,
                      int values)
{
    const struct impact_output *output = &layout->hit->output;
    double time = flank(layout->hit, level);
    const char *color = style_color(series);
    script_add(script,
               "set arrow from first %g,first %g to graph 1,first %g nohead lc rgb '%s' lw 0.7 back\n"
               "set label ",
               time, level, level, color);
    script_text(script, layout->name, NAME);
    script_add(script, " at graph 1.015,first %g left tc rgb '%s' front\n", level, color);
    if (values)
        script_add(
            script,
            "set label '%.0f g, HIC %.0f' at graph 1.015,first %g left offset 0,-1.05 tc rgb '" STYLE_SOFT
            "' front\n",
            output->metrics[METRIC_peak], output->metrics[METRIC_hic], level);
    script_add(script, "set object circle at first %g,first %g size graph 0.004 fs solid fc rgb '%s' front\n",
               time, level, color);
}

/* The window of HIC as a bar below the time axis. */
static void add_window(struct script *script, const struct hit_result *hit, size_t series, double level)
{
    double start = hit->output.metrics[METRIC_hic_start], end = hit->output.metrics[METRIC_hic_end];
    if (isfinite(start) && isfinite(end))
        script_add(script,
                   "set arrow from first %g,first %g to first %g,first %g heads size graph 0.006,90 lc rgb "
                   "'%s' lw %g dt 1 front\n",
                   start, level, end, level, style_color(series), 1.2 * style_width(series));
}

/* Everything beside the curves: limits, windows below the axis, labels at the right. */
static void add_marks(struct script *script, const struct layout *layouts, size_t count,
                      const struct extent *extent)
{
    /* the windows stand below the axis, and below what little acceleration is negative */
    double top = 1.12 * extent->level, row = 0.05 * top, base = fmin(0, extent->lowest + 0.4 * row);
    double low = base - row * ((double)count + 0.8);
    /* Labels take two lines each; they start below the lowest peak so that each leader finds its flank. */
    double first = fmin(0.93 * extent->least, 0.8 * top), step = 0.125 * (top - low);
    if (extent->limit > 0)
        first = fmin(first, extent->limit - 0.07 * (top - low));
    if (count > 1)
        step = fmin(step, (first - 0.05 * top) / (double)(count - 1));
    add_limits(script, layouts, count);
    for (size_t i = 0; i < count; i++) {
        if (!layouts[i].hit)
            continue;
        add_label(script, &layouts[i], i, first - step * (double)i, step > 0.1 * (top - low));
        add_window(script, layouts[i].hit, i, base - row * ((double)i + 0.9));
    }
    script_add(script,
               "set label 'HIC window%s' at graph 1.015,first %g left tc rgb '" STYLE_SOFT "' front\n"
               "set arrow from graph 0,first 0 to graph 1,first 0 nohead lc rgb '" STYLE_INK
               "' lw 0.8 back\n",
               count > 1 ? "s" : "", base - row * (0.9 + 0.5 * ((double)count - 1)));
    script_add(script,
               "set rmargin at screen 0.745\nset lmargin at screen 0.095\nset bmargin at screen 0.15\n");
    script_add(script, "set xrange [0:%g]\nset yrange [%g:%g]\nset ytics 0,%g\n", 1.04 * extent->time, low,
               top, style_step(top, 6));
}

static void add_curves(struct script *script, const struct layout *layouts, size_t count, int text)
{
    script_add(script, "plot ");
    int some = 0;
    for (size_t i = 0; i < count; i++) {
        if (!layouts[i].hit)
            continue;
        script_add(script, "%s$pulse%zu with lines %s title ", some++ ? ", \\\n" : "", i,
                   text ? "" : style_line(i));
        script_text(script, layouts[i].name, NAME);
    }
    script_add(script, "\n");
}

enum status pulse_compose(struct script *script, const struct layout *layouts, size_t count,
                          enum picture_format format, struct errors *errors)
{
    struct extent extent = {0};
    char title[LAYOUT_TEXT + 64] = "Headform acceleration (CFC 1000). ", condition[LAYOUT_TEXT];
    const struct hit_result *shown = NULL;
    for (size_t i = 0; i < count; i++) {
        if (!layouts[i].hit)
            continue;
        shown = layouts[i].hit;
        extent_add(&extent, shown);
    }
    if (!shown || !(extent.time > 0))
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0, "there is no pulse to draw");
    layouts_condition(shown, condition);
    snprintf(title + 34, sizeof title - 34, "%s", condition);
    style_begin(script, format, 800, 480, title, LAYOUTS_REMARK);
    style_axes(script, "time since first touch (ms)", "acceleration (g)");
    for (size_t i = 0; i < count; i++) {
        if (layouts[i].hit)
            add_data(script, layouts[i].hit, i);
    }
    if (format == PICTURE_TEXT)
        script_add(script, "set key bottom center\nset xrange [0:%g]\nset yrange [%g:%g]\n",
                   1.04 * extent.time, 1.05 * extent.lowest, 1.05 * extent.peak);
    else
        add_marks(script, layouts, count, &extent);
    add_curves(script, layouts, count, format == PICTURE_TEXT);
    return STATUS_OK;
}
