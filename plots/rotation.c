#include "plots/rotation.h"

#include <math.h>
#include <stdio.h>

#include "cases/fill_sites.h"
#include "plots/style.h"
#include "solver/base/memory.h"

/* The curves: acceleration above, rates below. */
static const struct {
    enum pulse_channel channel;
    const char *name;
    double scale;
} curves[] = {{PULSE_rotational_acceleration, "acceleration", 1e-3},
              {PULSE_rotational_velocity, "head", 1.0},
              {PULSE_shell_rotational_velocity, "shell", 1.0}};
enum { CURVES = sizeof curves / sizeof *curves };

static int turns(const struct hit_result *hit)
{
    return hit && hit->status == HIT_COMPUTED && hit->output.count > 0 &&
           hit->output.channel[PULSE_rotational_acceleration];
}

/* The hit of a layout that is drawn. */
static const struct hit_result *hit_of(const struct layout *layout, const struct hit_result *as)
{
    for (size_t h = 0; h < layout->result->hit_count; h++) {
        const struct hit_result *hit = &layout->result->hits[h];
        if (turns(hit) && layouts_same(hit, as))
            return hit;
    }
    return NULL;
}

/* The hit that all show: the governing one, or that of the largest BrIC. */
static const struct hit_result *choose(const struct layout *layouts, size_t count)
{
    const struct hit_result *best = NULL;
    for (size_t i = 0; i < count; i++) {
        if (turns(layouts[i].hit))
            return layouts[i].hit;
    }
    for (size_t i = 0; i < count; i++) {
        for (size_t h = 0; h < layouts[i].result->hit_count; h++) {
            const struct hit_result *hit = &layouts[i].result->hits[h];
            if (turns(hit) && (!best || hit->output.metrics[METRIC_bric] > best->output.metrics[METRIC_bric]))
                best = hit;
        }
    }
    return best;
}

static void add_data(struct script *script, const struct hit_result *hit, size_t series, int curve)
{
    size_t count = hit->output.count;
    double *time = memory_doubles(count), *value = memory_doubles(count);
    const double *channel = hit->output.channel[curves[curve].channel];
    double middle = curve == 0 ? 0.5 : 1.0; /* rates stand at the ends of intervals */
    for (size_t i = 0; time && value && i < count; i++) {
        time[i] = 1e3 * ((double)i + middle) * hit->output.interval;
        value[i] = curves[curve].scale * channel[i];
    }
    char name[48];
    snprintf(name, sizeof name, "%s%zu", curves[curve].name, series);
    if (time && value)
        script_block(script, name, time, value, count);
    else
        script->failed = 1;
    memory_free(time);
    memory_free(value);
}

/* Until when the head is slowed or turned faster [ms]. */
static double last_time(const struct hit_result *hit)
{
    double most = hit->output.metrics[METRIC_peak_rot_acc], last = 0.0;
    for (size_t i = 0; i < hit->output.count; i++) {
        if (fabs(hit->output.channel[PULSE_rotational_acceleration][i]) > 0.03 * most)
            last = 1e3 * ((double)i + 1.0) * hit->output.interval;
    }
    return last > 0.0 ? last : 1e3 * (double)hit->output.count * hit->output.interval;
}

/* Height of a panel, so that it holds the curves of a metric and its limit, which is a line across. */
static void add_height(struct script *script, const struct layout *layouts, size_t count,
                       const struct hit_result *shown, enum metric metric, double scale)
{
    const struct judgement *limit = hit_limit(shown, metric);
    int first = metric != METRIC_peak_rot_acc, end = first ? CURVES : 1;
    double top = limit ? scale * limit->limit : 0.0, low = 0.0;
    for (size_t i = 0; i < count; i++) {
        const struct hit_result *hit = hit_of(&layouts[i], shown);
        for (int curve = first; hit && curve < end; curve++) {
            for (size_t k = 0; k < hit->output.count; k++) {
                double value = scale * hit->output.channel[curves[curve].channel][k];
                top = fmax(top, value);
                low = fmin(low, value);
            }
        }
    }
    top = top > low ? top : low + 1.0;
    script_add(script, "set yrange [%g:%g]\nset ytics %g\n", 1.1 * low, 1.1 * top, style_step(top - low, 5));
    if (limit)
        script_add(script,
                   "set arrow 99 from graph 0,first %g to graph 1,first %g nohead lc rgb '" STYLE_INK
                   "' lw 1.2 dt (10,6) back\nset label 99 'limit %g%s' at graph 1.015,first %g left tc rgb "
                   "'" STYLE_INK "' front\n",
                   scale * limit->limit, scale * limit->limit, scale * limit->limit,
                   layouts_unchecked(limit) ? " (unchecked)" : "", scale * limit->limit);
}

static void add_panel(struct script *script, const struct layout *layouts, size_t count,
                      const struct hit_result *shown, int below, int drawn)
{
    const char *between = "plot ";
    for (size_t i = 0; i < count; i++) {
        if (!hit_of(&layouts[i], shown))
            continue;
        for (int curve = below ? 1 : 0; curve < (below ? CURVES : 1); curve++) {
            script_add(script, "%s$%s%zu with lines ", between, curves[curve].name, i);
            if (drawn && curve == 2)
                script_add(script, "lc rgb '%s' lw 1 dt (2,3) notitle", style_color(i));
            else if (drawn)
                script_add(script, "%s notitle", style_line(i));
            else
                script_add(script, "title '%s'", curves[curve].name);
            between = ", \\\n";
        }
    }
    script_add(script, "\n");
}

static void add_names(struct script *script, const struct layout *layouts, size_t count,
                      const struct hit_result *shown)
{
    for (size_t i = 0; i < count; i++) {
        const struct hit_result *hit = hit_of(&layouts[i], shown);
        char values[96] = "no such impact";
        if (hit)
            snprintf(values, sizeof values, "%.1f rad/s, BrIC %.2f", hit->output.metrics[METRIC_peak_rot_vel],
                     hit->output.metrics[METRIC_bric]);
        style_row(script, i, i, count, layouts[i].name, values);
    }
    script_add(script,
               "set label 'thick: head' at screen 0.752,0.22 left tc rgb '" STYLE_SOFT
               "' front\nset label 'thin, dotted: shell' at screen 0.752,0.18 left tc rgb '" STYLE_SOFT
               "' front\n");
}

enum status rotation_compose(struct script *script, const struct layout *layouts, size_t count,
                             enum picture_format format, struct errors *errors)
{
    const struct hit_result *shown = choose(layouts, count);
    char title[LAYOUT_TEXT + FILL_HEADING + 32], condition[LAYOUT_TEXT], towards[FILL_HEADING];
    double last = 0.0;
    if (!shown)
        return errors_add(
            errors, STATUS_INPUT, NULL, 0, 0,
            "no impact has rotation: none is oblique, and no centre of gravity is off the axis");
    layouts_condition(shown, condition);
    /* where to stands before what is cut of a long title */
    if (isnan(shown->towards[0]))
        snprintf(title, sizeof title, "Rotation of the headform. %s", condition);
    else
        snprintf(title, sizeof title, "Rotation, towards %s. %s", fill_heading(shown->towards, towards),
                 condition);
    style_begin(script, format, 800, 560, title, LAYOUTS_REMARK);
    for (size_t i = 0; i < count; i++) {
        const struct hit_result *hit = hit_of(&layouts[i], shown);
        for (int curve = 0; hit && curve < CURVES; curve++)
            add_data(script, hit, i, curve);
        last = hit ? fmax(last, last_time(hit)) : last;
    }
    script_add(script, "set xrange [0:%g]\n", 1.1 * last);
    if (format == PICTURE_TEXT) {
        style_axes(script, "time since first touch (ms)", "rotational velocity (rad/s)");
        add_panel(script, layouts, count, shown, 1, 0);
        return STATUS_OK;
    }
    script_add(script, "set multiplot\nset lmargin at screen 0.095\nset rmargin at screen 0.735\n"
                       "set bmargin at screen 0.56\nset tmargin at screen 0.92\n");
    style_axes(script, "", "acceleration (krad/s²)");
    add_names(script, layouts, count, shown);
    add_height(script, layouts, count, shown, METRIC_peak_rot_acc, curves[0].scale);
    add_panel(script, layouts, count, shown, 0, 1);
    script_add(script, "unset label\nunset arrow\nunset object\nunset title\nset bmargin at screen 0.13\nset "
                       "tmargin at screen 0.49\n");
    style_axes(script, "time since first touch (ms)", "velocity (rad/s)");
    add_height(script, layouts, count, shown, METRIC_peak_rot_vel, 1.0);
    add_panel(script, layouts, count, shown, 1, 1);
    script_add(script, "unset multiplot\n");
    return STATUS_OK;
}
