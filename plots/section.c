#include "plots/section.h"

#include <math.h>
#include <stdio.h>

#include "plots/style.h"

/*
 * Every panel has the same window and one scale of colour stands for all. Zones of one colour that lie side
 * by side in a row are drawn as one polygon, which keeps files small and hides the seams between them.
 */

const char *const section_field_names[SECTION_FIELDS] = {"strain", "density", "stress"};

static const struct {
    enum snapshot_array array;
    double scale; /* shown / SI */
    const char *title, *unit;
    int from_zero;
} fields[SECTION_FIELDS] = {
    [SECTION_STRAIN] = {SNAPSHOT_strain, 100, "compressive strain by volume", "%", 1},
    [SECTION_DENSITY] = {SNAPSHOT_density, 1, "density of the foam", "kg/m³", 0},
    [SECTION_STRESS] = {SNAPSHOT_stress, 1e-3, "compressive stress through the thickness", "kPa", 1},
};

enum { COLORS = 32, PANELS_MOST = 8, NAME = 30, TICS_MOST = 12, FRAMES_MOST = 60 };

#define ANVIL_FILL "#9a9a9a"
#define SHELL_FILL "#2b2b2b"
#define HEAD_FILL  "#ececec"

/* Sizes in units of the canvas, and of the window in mm. */
static const double canvas = 800, left = 66, right = 112, between = 16, above = 38, over_panel = 26,
                    below = 74;
static const double window_below = 16, window_margin = 4;

/* One snapshot of one layout. */
struct panel {
    const struct layout *layout;
    size_t at;
    int deepest;
};

struct drawing {
    struct script *script;
    enum picture_format format;
    enum section_field field;
    size_t layouts;
    double low, high, step;    /* scale of colour, in the unit shown */
    double reach, bottom, top; /* window [mm] */
    size_t columns, rows;      /* of panels */
    double width, height;      /* of a panel */
    double tall;               /* canvas */
};

static const struct snapshots *shots(const struct panel *panel)
{
    return &panel->layout->hit->output.snapshots;
}

static const double *values(const struct panel *panel, enum snapshot_array array)
{
    return snapshots_at(shots(panel), array, panel->at);
}

/* --- which snapshots --- */

/* Time of the largest crush on the axis, in the middle of its interval. */
static double deepest_time(const struct impact_output *output)
{
    const double *crush = output->channel[PULSE_crush];
    size_t best = 0;
    for (size_t i = 0; crush && i < output->count; i++)
        best = crush[i] > crush[best] ? i : best;
    return ((double)best + 0.5) * output->interval;
}

static size_t nearest(const struct snapshots *snapshots, double time)
{
    const double *times = snapshots->array[SNAPSHOT_time];
    size_t best = 0;
    for (size_t i = 0; i < snapshots->count; i++)
        best = fabs(times[i] - time) < fabs(times[best] - time) ? i : best;
    return best;
}

static struct panel panel_at(const struct layout *layout, double time)
{
    const struct impact_output *output = &layout->hit->output;
    size_t deepest = nearest(&output->snapshots, deepest_time(output));
    size_t at = isnan(time) ? deepest : nearest(&output->snapshots, time);
    return (struct panel){layout, at, at == deepest};
}

static int has_snapshots(const struct layout *layout)
{
    return layout->hit && layout->hit->output.snapshots.count > 0;
}

/* --- scales --- */

static void widen(const struct panel *panel, struct drawing *drawing, double *least, double *most)
{
    const struct snapshots *snapshots = shots(panel);
    const double *field = values(panel, fields[drawing->field].array);
    const double *density = values(panel, SNAPSHOT_density);
    for (size_t i = 0; i < snapshots_values(snapshots, SNAPSHOT_density); i++) {
        if (density[i] <= 0)
            continue;
        *least = fmin(*least, fields[drawing->field].scale * field[i]);
        *most = fmax(*most, fields[drawing->field].scale * field[i]);
    }
    const double *shell = values(panel, SNAPSHOT_shell_r), *z = values(panel, SNAPSHOT_z);
    for (size_t i = 0; i < snapshots->rings; i++)
        drawing->reach = fmax(drawing->reach, 1e3 * shell[i] + window_margin);
    for (size_t i = 0; i < snapshots_values(snapshots, SNAPSHOT_z); i++)
        drawing->top = fmax(drawing->top, 1e3 * z[i] + window_margin);
}

static void set_scale(struct drawing *drawing, double least, double most)
{
    if (!(most > least))
        most = least + 1;
    least = fields[drawing->field].from_zero ? 0 : least;
    most = most > least ? most : least + 1;
    drawing->step = style_step(most - least, 5);
    drawing->low = drawing->step * floor(least / drawing->step);
    drawing->high = drawing->step * ceil(most / drawing->step);
}

static void set_panels(struct drawing *drawing, size_t panels)
{
    drawing->columns = panels > 1 ? 2 : 1;
    drawing->rows = (panels + drawing->columns - 1) / drawing->columns;
    drawing->width =
        (canvas - left - right - between * (double)(drawing->columns - 1)) / (double)drawing->columns;
    drawing->height = drawing->width * (drawing->top - drawing->bottom) / (2 * drawing->reach);
    drawing->tall = above + (double)drawing->rows * (drawing->height + over_panel) + below;
}

/* --- polygons and lines --- */

static void point(struct script *script, double r, double z)
{
    script_add(script, "%.2f %.2f\n", 1e3 * r, 1e3 * z);
}

/* A row of points from the axis outwards, continued on the other side of the axis. */
static void mirrored(struct script *script, const double *r, const double *z, size_t count)
{
    for (size_t i = count; i-- > 1;)
        point(script, -r[i], z[i]);
    for (size_t i = 0; i < count; i++)
        point(script, r[i], z[i]);
}

static void add_head(struct script *script, const struct panel *panel, double top)
{
    size_t rings = shots(panel)->rings;
    const double *r = values(panel, SNAPSHOT_head_r), *z = values(panel, SNAPSHOT_head_z);
    double up = fmax(1e-3 * top, z[rings - 1]) + 0.05, side = r[rings - 1];
    script_add(script, "$head << EOD\n");
    point(script, -side, up);
    mirrored(script, r, z, rings);
    point(script, side, up);
    script_add(script, "EOD\n");
}

static void add_anvil(struct script *script, const struct panel *panel, double bottom)
{
    const struct snapshots *snapshots = shots(panel);
    double down = fmin(1e-3 * bottom, snapshots->anvil_z[SNAPSHOT_ANVIL - 1]) - 0.05;
    double side = snapshots->anvil_r[SNAPSHOT_ANVIL - 1];
    script_add(script, "$anvil << EOD\n");
    point(script, -side, down);
    mirrored(script, snapshots->anvil_r, snapshots->anvil_z, SNAPSHOT_ANVIL);
    point(script, side, down);
    script_add(script, "EOD\n");
}

/* A face of the shell, `offset` [m] outwards from its middle at ring i. */
static void shell_point(struct script *script, const struct panel *panel, size_t i, double offset,
                        double side)
{
    size_t rings = shots(panel)->rings, before = i ? i - 1 : 0, after = i + 1 < rings ? i + 1 : i;
    const double *r = values(panel, SNAPSHOT_shell_r), *z = values(panel, SNAPSHOT_shell_z);
    double dr = i ? r[after] - r[before] : 1, dz = i ? z[after] - z[before] : 0;
    double length = sqrt(dr * dr + dz * dz);
    length = length > 0 ? length : 1;
    point(script, side * (r[i] + offset * dz / length), z[i] - offset * dr / length);
}

static void add_shell(struct script *script, const struct panel *panel)
{
    size_t rings = shots(panel)->rings;
    double half = 0.5 * shots(panel)->shell_thickness;
    script_add(script, "$shell << EOD\n");
    for (size_t i = rings; i-- > 1;)
        shell_point(script, panel, i, half, -1);
    for (size_t i = 0; i < rings; i++)
        shell_point(script, panel, i, half, 1);
    for (size_t i = rings; i-- > 0;)
        shell_point(script, panel, i, -half, 1);
    for (size_t i = 1; i < rings; i++)
        shell_point(script, panel, i, -half, -1);
    script_add(script, "EOD\n");
}

/* Colour of a zone, -1 in an opening. */
static int color_of(const struct drawing *drawing, const struct panel *panel, size_t zone)
{
    if (values(panel, SNAPSHOT_density)[zone] <= 0)
        return -1;
    double value = fields[drawing->field].scale * values(panel, fields[drawing->field].array)[zone];
    double share = (value - drawing->low) / (drawing->high - drawing->low);
    int color = (int)(COLORS * fmin(fmax(share, 0), 1));
    return color < COLORS ? color : COLORS - 1;
}

/* Zones from..to - 1 of row j as one polygon on one side of the axis. */
static void add_run(struct script *script, const struct panel *panel, size_t j, size_t from, size_t to,
                    double side)
{
    size_t rings = shots(panel)->rings;
    const double *r = values(panel, SNAPSHOT_r) + j * rings, *z = values(panel, SNAPSHOT_z) + j * rings;
    for (size_t i = from; i <= to; i++)
        point(script, side * r[i], z[i]);
    for (size_t i = to + 1; i-- > from;)
        point(script, side * r[rings + i], z[rings + i]);
    script_add(script, "\n");
}

/* The zones of one colour; how many there are. */
static size_t add_color(const struct drawing *drawing, const struct panel *panel, int color)
{
    size_t zones = shots(panel)->rings - 1, found = 0;
    for (size_t j = 0; j < shots(panel)->rows; j++) {
        for (size_t from = 0, to; from < zones; from = to) {
            to = from + 1;
            if (color_of(drawing, panel, j * zones + from) != color)
                continue;
            while (to < zones && color_of(drawing, panel, j * zones + to) == color)
                to++;
            if (found++ == 0)
                script_add(drawing->script, "$color%d << EOD\n", color);
            add_run(drawing->script, panel, j, from, to, 1);
            add_run(drawing->script, panel, j, from, to, -1);
        }
    }
    if (found)
        script_add(drawing->script, "EOD\n");
    return found;
}

/* Whether row j is the empty one between layers that slip: it has no thickness in the first shape. */
static int is_empty(const struct panel *panel, size_t j)
{
    size_t rings = shots(panel)->rings;
    const double *r = shots(panel)->array[SNAPSHOT_r] + j * rings,
                 *z = shots(panel)->array[SNAPSHOT_z] + j * rings;
    return r[rings - 1] == r[2 * rings - 1] && z[0] == z[rings] && z[rings - 1] == z[2 * rings - 1];
}

/* Whether the nodes of rows j and j + 1 are apart on ring i. */
static int parted(const struct panel *panel, size_t j, size_t i)
{
    static const double least = 5e-6;
    size_t rings = shots(panel)->rings, k = j * rings + i;
    const double *r = values(panel, SNAPSHOT_r), *z = values(panel, SNAPSHOT_z);
    return hypot(r[k + rings] - r[k], z[k + rings] - z[k]) > least;
}

/* Whether nodes i and i + 1 of row j lie on a border between layers: the density of the first shape jumps
 * there, or layers that slip have parted. */
static int is_border(const struct panel *panel, size_t j, size_t i)
{
    static const double jump = 0.02;
    size_t zones = shots(panel)->rings - 1, out = j - 1, in = j;
    const double *density = shots(panel)->array[SNAPSHOT_density];
    int apart = 0;
    if (is_empty(panel, in)) {
        apart = parted(panel, in, i) || parted(panel, in, i + 1);
        in++;
    } else if (is_empty(panel, out)) {
        apart = parted(panel, out, i) || parted(panel, out, i + 1);
        out--;
    }
    double outside = density[out * zones + i], inside = density[in * zones + i];
    return apart || fabs(outside - inside) > jump * fmax(outside, inside);
}

static size_t add_borders(struct script *script, const struct panel *panel)
{
    size_t rings = shots(panel)->rings, found = 0;
    const double *r = values(panel, SNAPSHOT_r), *z = values(panel, SNAPSHOT_z);
    script_add(script, "$borders << EOD\n");
    for (size_t j = 1; j < shots(panel)->rows; j++) {
        for (size_t i = 0; i + 1 < rings; i++) {
            if (!is_border(panel, j, i))
                continue;
            for (int side = -1; side <= 1; side += 2) {
                point(script, side * r[j * rings + i], z[j * rings + i]);
                point(script, side * r[j * rings + i + 1], z[j * rings + i + 1]);
                script_add(script, "\n");
            }
            found++;
        }
    }
    script_add(script, "EOD\n");
    return found;
}

/* Outer and inner face of the foam and its edge. */
static void add_faces(struct script *script, const struct panel *panel)
{
    size_t rings = shots(panel)->rings, rows = shots(panel)->rows;
    const double *r = values(panel, SNAPSHOT_r), *z = values(panel, SNAPSHOT_z);
    script_add(script, "$faces << EOD\n");
    mirrored(script, r, z, rings);
    for (size_t j = 1; j <= rows; j++)
        point(script, r[j * rings + rings - 1], z[j * rings + rings - 1]);
    for (size_t i = rings; i-- > 0;)
        point(script, r[rows * rings + i], z[rows * rings + i]);
    for (size_t i = 1; i < rings; i++)
        point(script, -r[rows * rings + i], z[rows * rings + i]);
    for (size_t j = rows + 1; j-- > 0;)
        point(script, -r[j * rings + rings - 1], z[j * rings + rings - 1]);
    script_add(script, "EOD\n");
}

/* --- panels --- */

static void add_legend(const struct drawing *drawing)
{
    struct script *script = drawing->script;
    double x = 1 - (right - 16) / canvas, wide = 16 / canvas, low = below / drawing->tall;
    double high = 1 - (above + over_panel + 24) / drawing->tall, span = high - low;
    for (int i = 0; i < COLORS; i++) {
        char color[8];
        style_scale((i + 0.5) / COLORS, color);
        script_add(script,
                   "set object %d rectangle from screen %.4f,%.4f to screen %.4f,%.4f fc rgb '%s' fs solid "
                   "border lc rgb '%s' lw 0.5 front\n",
                   100 + i, x, low + span * i / COLORS, x + wide, low + span * (i + 1) / COLORS, color,
                   color);
    }
    script_add(script,
               "set object 99 rectangle from screen %.4f,%.4f to screen %.4f,%.4f fs empty border lc rgb "
               "'" STYLE_INK "' lw 0.8 front\n",
               x, low, x + wide, high);
    for (int i = 0; i <= TICS_MOST && drawing->low + i * drawing->step <= drawing->high + 0.5 * drawing->step;
         i++) {
        double value = drawing->low + i * drawing->step;
        script_add(script, "set label '%g' at screen %.4f,%.4f left tc rgb '" STYLE_INK "' front\n", value,
                   x + wide + 6 / canvas,
                   low + span * (value - drawing->low) / (drawing->high - drawing->low));
    }
    script_add(script, "set label '%s (%s)' at screen %.4f,%.4f right tc rgb '" STYLE_INK "' front\n",
               section_field_names[drawing->field], fields[drawing->field].unit, 1 - 8 / canvas,
               high + 16 / drawing->tall);
}

static void place_panel(const struct drawing *drawing, size_t index)
{
    size_t column = index % drawing->columns, row = index / drawing->columns;
    double x = left + (double)column * (drawing->width + between);
    double y =
        drawing->tall - above - over_panel - drawing->height - (double)row * (drawing->height + over_panel);
    int lowest = row + 1 == drawing->rows;
    script_add(drawing->script,
               "set lmargin at screen %.5f\nset rmargin at screen %.5f\nset bmargin at screen %.5f\n"
               "set tmargin at screen %.5f\n",
               x / canvas, (x + drawing->width) / canvas, y / drawing->tall,
               (y + drawing->height) / drawing->tall);
    script_add(drawing->script, column ? "set format y ''\nunset ylabel\n"
                                       : "set format y '%%g'\nset ylabel 'height (mm)' tc rgb '" STYLE_INK
                                         "'\n");
    script_add(drawing->script, lowest
                                    ? "set format x '%%g'\nset xlabel 'distance from the axis (mm)' tc rgb "
                                      "'" STYLE_INK "'\n"
                                    : "set format x ''\nunset xlabel\n");
}

static void title_panel(const struct drawing *drawing, const struct panel *panel)
{
    char text[NAME * 4 + 64], name[NAME * 4 + 8] = "";
    if (drawing->layouts > 1) {
        script_clean(panel->layout->name, NAME, name, sizeof name - 2);
        size_t length = 0;
        while (name[length])
            length++;
        snprintf(name + length, sizeof name - length, ", ");
    }
    snprintf(text, sizeof text, "%s%.2f ms%s", name, 1e3 * values(panel, SNAPSHOT_time)[0],
             panel->deepest ? ", largest crush" : "");
    script_add(drawing->script, "set label 903 ");
    script_text(drawing->script, text, SCRIPT_TEXT);
    script_add(drawing->script, " at graph 0,1 left offset 0,0.7 tc rgb '" STYLE_INK "' font ',%d' front\n",
               gnuplot_font(drawing->format, 17));
}

/* Names of the parts, where they hide nothing. */
static void name_parts(const struct drawing *drawing, const struct panel *panel)
{
    static const double shell_at = 0.72; /* of the rings */
    struct script *script = drawing->script;
    size_t i = (size_t)(shell_at * (double)(shots(panel)->rings - 1));
    const char *look = "tc rgb '" STYLE_SOFT "' front";
    int size = gnuplot_font(drawing->format, 16);
    double head = 1e3 * values(panel, SNAPSHOT_head_z)[0];
    script_add(script, "set label 904 'head' at 0,%.2f center font ',%d' %s\n", 0.5 * (head + drawing->top),
               size, look);
    script_add(script, "set label 905 'anvil' at 0,%.2f center font ',%d' tc rgb '#ffffff' front\n",
               0.55 * drawing->bottom, size);
    if (shots(panel)->shell_thickness > 0)
        script_add(script, "set label 906 'shell' at %.2f,%.2f left offset 1.2,-0.6 font ',%d' %s\n",
                   1e3 * values(panel, SNAPSHOT_shell_r)[i], 1e3 * values(panel, SNAPSHOT_shell_z)[i], size,
                   look);
}

static void plot_panel(const struct drawing *drawing, const struct panel *panel)
{
    struct script *script = drawing->script;
    int used[COLORS];
    add_anvil(script, panel, drawing->bottom);
    add_head(script, panel, drawing->top);
    add_shell(script, panel);
    add_faces(script, panel);
    for (int i = 0; i < COLORS; i++)
        used[i] = add_color(drawing, panel, i) > 0;
    size_t borders = add_borders(script, panel);
    script_add(script, "plot $anvil using 1:2 with filledcurves closed lc rgb '" ANVIL_FILL "', \\\n"
                       "$head using 1:2 with filledcurves closed lc rgb '" HEAD_FILL "'");
    for (int i = 0; i < COLORS; i++) {
        char color[8];
        style_scale((i + 0.5) / COLORS, color);
        if (used[i])
            script_add(
                script,
                ", \\\n$color%d using 1:2 with filledcurves closed fc rgb '%s' fs solid border lc rgb '%s' "
                "lw 0.5",
                i, color, color);
    }
    if (borders)
        script_add(script, ", \\\n$borders using 1:2 with lines lc rgb '" STYLE_INK "' lw 0.6");
    if (shots(panel)->shell_thickness > 0)
        script_add(script, ", \\\n$shell using 1:2 with filledcurves closed lc rgb '" SHELL_FILL "'");
    script_add(script, ", \\\n$faces using 1:2 with lines lc rgb '" STYLE_INK "' lw 0.6, \\\n"
                       "$head using 1:2 with lines lc rgb '" STYLE_INK "' lw 1.2\n");
}

/* A text picture has outlines only. */
static void plot_outlines(const struct drawing *drawing, const struct panel *panel)
{
    struct script *script = drawing->script;
    add_anvil(script, panel, drawing->bottom);
    add_head(script, panel, drawing->top);
    add_faces(script, panel);
    script_add(script,
               "set key top left\nplot $anvil using 1:2 with lines title 'anvil', \\\n"
               "$faces using 1:2 with lines title 'foam', \\\n$head using 1:2 with lines title 'head'\n");
}

/* Panels of one picture or frame. */
static void plot_panels(const struct drawing *drawing, const struct panel *panels, size_t count)
{
    struct script *script = drawing->script;
    if (drawing->format == PICTURE_TEXT) {
        plot_outlines(drawing, panels);
        return;
    }
    script_add(script, "set multiplot\n");
    add_legend(drawing);
    for (size_t i = 0; i < count; i++) {
        place_panel(drawing, i);
        title_panel(drawing, &panels[i]);
        name_parts(drawing, &panels[i]);
        plot_panel(drawing, &panels[i]);
        if (i == 0)
            script_add(script, "unset for [i=99:%d] object i\nunset label\n", 100 + COLORS);
    }
    script_add(script, "unset multiplot\n");
}

static void begin(const struct drawing *drawing, const struct hit_result *hit)
{
    char condition[LAYOUT_TEXT], title[LAYOUT_TEXT + 96];
    layouts_condition(hit, condition);
    snprintf(title, sizeof title, "Cross-section, %s. %s", fields[drawing->field].title, condition);
    style_begin(drawing->script, drawing->format, (int)canvas, (int)lround(drawing->tall), title,
                LAYOUTS_REMARK);
    script_add(drawing->script, "unset grid\nset xrange [%g:%g]\nset yrange [%g:%g]\n", -drawing->reach,
               drawing->reach, drawing->bottom, drawing->top);
}

/* --- all of it --- */

/* Times to be shown: those asked for, or for a GIF those of the first layout, thinned evenly. */
static size_t time_count(const struct section_view *view, const struct layout *first,
                         enum picture_format format)
{
    size_t all = first->hit->output.snapshots.count;
    if (view->time_count > 0)
        return view->time_count;
    return format != PICTURE_GIF ? 1 : all < FRAMES_MOST ? all : FRAMES_MOST;
}

static double time_at(const struct section_view *view, const struct layout *first, enum picture_format format,
                      size_t index)
{
    size_t frames = time_count(view, first, format), all = first->hit->output.snapshots.count;
    if (view->time_count > 0)
        return view->time[index];
    if (format != PICTURE_GIF)
        return NAN;
    return first->hit->output.snapshots
        .array[SNAPSHOT_time][frames > 1 ? index * (all - 1) / (frames - 1) : 0];
}

static enum status check_times(const struct section_view *view, const struct layout *first,
                               struct errors *errors)
{
    const struct snapshots *snapshots = &first->hit->output.snapshots;
    double last = snapshots->array[SNAPSHOT_time][snapshots->count - 1];
    for (size_t i = 0; i < view->time_count; i++) {
        if (view->time[i] > last + 1e-3 || view->time[i] < 0)
            return errors_add(
                errors, STATUS_INPUT, NULL, 0, 0,
                "there is no snapshot near %g ms: they reach from 0 to %.3g ms (solver.snapshots "
                "sets how often one is taken)",
                1e3 * view->time[i], 1e3 * last);
    }
    return STATUS_OK;
}

static size_t keep_those(const struct layout *layouts, size_t count, struct layout shown[LAYOUTS_MOST])
{
    size_t found = 0;
    for (size_t i = 0; i < count; i++) {
        if (has_snapshots(&layouts[i]))
            shown[found++] = layouts[i];
    }
    return found;
}

enum status section_compose(struct script *script, const struct layout *layouts, size_t count,
                            const struct section_view *view, enum picture_format format,
                            struct errors *errors)
{
    struct layout shown[LAYOUTS_MOST];
    struct panel panels[PANELS_MOST];
    size_t here = keep_those(layouts, count, shown);
    if (here == 0)
        return errors_add(
            errors, STATUS_INPUT, NULL, 0, 0,
            "there are no snapshots of the cross-section to draw: `run --model axisymmetric` keeps "
            "some");
    enum status status = check_times(view, shown, errors);
    size_t times = time_count(view, shown, format), at_once = format == PICTURE_GIF ? here : here * times;
    if (status == STATUS_OK && at_once > PANELS_MOST)
        status =
            errors_add(errors, STATUS_USAGE, NULL, 0, 0,
                       "a cross-section has at most %d panels, not %zu: fewer results or times, or --format "
                       "gif",
                       PANELS_MOST, at_once);
    if (status != STATUS_OK)
        return status;
    struct drawing drawing = {
        .script = script, .format = format, .field = view->field, .layouts = here, .bottom = -window_below};
    double least = INFINITY, most = -INFINITY;
    for (size_t i = 0; i < here * times; i++) {
        struct panel panel = panel_at(&shown[i % here], time_at(view, shown, format, i / here));
        widen(&panel, &drawing, &least, &most);
    }
    set_scale(&drawing, least, most);
    set_panels(&drawing, at_once);
    begin(&drawing, shown[0].hit);
    for (size_t from = 0; from < here * times; from += at_once) {
        for (size_t i = 0; i < at_once; i++)
            panels[i] = panel_at(&shown[(from + i) % here], time_at(view, shown, format, (from + i) / here));
        plot_panels(&drawing, panels, at_once);
    }
    return STATUS_OK;
}
