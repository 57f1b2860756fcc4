#include "plots/energy.h"

#include <math.h>
#include <stdio.h>

#include "plots/style.h"
#include "solver/base/memory.h"

/* Parts in the order in which they are stacked, from what stays in the helmet to what goes back; their fills
 * differ in lightness from one to the next. */
static const struct {
    enum energy_part part;
    const char *name, *fill;
} stack[] = {
    {ENERGY_foam, "foam", "#0072B2"},        {ENERGY_shell, "shell", "#E69F00"},
    {ENERGY_comfort, "comfort", "#009E73"},  {ENERGY_friction, "friction", "#F0E442"},
    {ENERGY_contact, "contacts", "#D55E00"}, {ENERGY_artificial, "artificial", "#000000"},
    {ENERGY_stored, "stored", "#56B4E9"},    {ENERGY_rebound, "kinetic", "#D0D0D0"},
};
enum { STACK = sizeof stack / sizeof *stack };

enum { NAME = 20 };

/* The part of the stack that another one is shown with. */
static enum energy_part shown_with(size_t part)
{
    if (part == ENERGY_damage)
        return ENERGY_shell;
    return part == ENERGY_friction_on_face || part == ENERGY_friction_on_head ? ENERGY_friction
                                                                              : (enum energy_part)part;
}

/* Energy [J] of row k of the stack. */
static double shown(const double energy[ENERGY_COUNT], int k)
{
    double sum = 0.0;
    for (size_t part = 0; part < ENERGY_COUNT; part++)
        sum += shown_with(part) == stack[k].part ? energy[part] : 0.0;
    return sum;
}

static double put_in(const double energy[ENERGY_COUNT])
{
    return energy[ENERGY_initial] + energy[ENERGY_gravity];
}

/* Parts whose share never shows are left out of lists of names. */
static int is_visible(const struct layout *layouts, size_t count, int part)
{
    for (size_t i = 0; i < count; i++) {
        const struct hit_result *hit = layouts[i].hit;
        if (hit && shown(hit->output.energy, part) > 0.004 * put_in(hit->output.energy))
            return 1;
    }
    return 0;
}

/* A list of the parts at the right, in the order of the stack seen from its top, with values for one layout.
 */
static void add_names(struct script *script, const struct layout *layouts, size_t count)
{
    int row = 0;
    for (int k = STACK - 1; k >= 0; k--) {
        if (!is_visible(layouts, count, k))
            continue;
        double at = 0.84 - 0.075 * row++;
        script_add(
            script,
            "set object rectangle from screen 0.757,%g to screen 0.778,%g fs solid border rgb '" STYLE_INK
            "' fc rgb '%s' lw 0.5 front\n",
            at - 0.015, at + 0.015, stack[k].fill);
        script_add(script, "set label '%s", stack[k].name);
        if (count == 1)
            script_add(script, ", %.1f J", shown(layouts[0].hit->output.energy, k));
        script_add(script, "' at screen 0.79,%g left tc rgb '" STYLE_INK "' front\n", at);
    }
}

/* Data block: time [ms] and the running sums of the parts [J]. */
static void add_sums(struct script *script, const struct impact_output *output)
{
    script_add(script, "$sums << END_OF_BLOCK\n");
    size_t thin = output->ledger_count / SCRIPT_PAIRS + 1;
    for (size_t i = 0; i < output->ledger_count; i += thin) {
        double sum = 0;
        script_add(script, "%.7g 0", 1e3 * (double)(i + 1) * output->ledger_interval);
        for (int k = 0; k < STACK; k++) {
            for (size_t part = 0; part < ENERGY_COUNT; part++) {
                if (shown_with(part) == stack[k].part && output->ledger[part])
                    sum += output->ledger[part][i];
            }
            script_add(script, " %.7g", sum);
        }
        script_add(script, "\n");
    }
    script_add(script, "END_OF_BLOCK\n");
}

static int has_ledger(const struct hit_result *hit)
{
    for (int k = 0; k < STACK; k++) {
        if (!hit->output.ledger[stack[k].part])
            return 0;
    }
    return hit->output.ledger_count > 1;
}

static void compose_over_time(struct script *script, const struct layout *layout, int drawn)
{
    const struct impact_output *output = &layout->hit->output;
    style_axes(script, "time since first touch (ms)", "energy (J)");
    add_sums(script, output);
    script_add(script, "set xrange [0:%g]\nset yrange [0:%g]\n",
               1e3 * (double)output->ledger_count * output->ledger_interval, 1.06 * put_in(output->energy));
    if (drawn) {
        script_add(script, STYLE_MARGINS "set tics front\nset grid front\nset label ");
        script_text(script, layout->name, NAME);
        script_add(script, " at screen 0.752,0.91 left tc rgb '" STYLE_INK "' front\n");
        add_names(script, layout, 1);
    } else {
        script_add(script, "set key top right\n");
    }
    const char *between = "plot ";
    for (int k = 0; k < STACK; k++) {
        if (drawn)
            script_add(script, "%s$sums using 1:%d:%d with filledcurves fs solid fc rgb '%s' notitle",
                       between, k + 2, k + 3, stack[k].fill);
        else if (is_visible(layout, 1, k))
            script_add(script, "%s$sums using 1:($%d-$%d) with lines title '%s'", between, k + 3, k + 2,
                       stack[k].name);
        else
            continue;
        between = ", \\\n";
    }
    for (int k = 0; drawn && k < STACK; k++)
        script_add(script, ", \\\n$sums using 1:%d with lines lc rgb '#ffffff' lw 0.8 dt 1 notitle", k + 3);
    script_add(script, "\n");
}

/* A bar of one layout at height `row`, and the numbers of parts that are wide enough for one. */
static void add_bar(struct script *script, const struct hit_result *hit, double row, double full)
{
    double sum = 0;
    for (int k = 0; k < STACK; k++) {
        double value = shown(hit->output.energy, k);
        int dark = k == 0 || k == 2 || k == 4 || k == 5;
        script_add(script,
                   "set object rectangle from first %g,first %g to first %g,first %g fs solid border rgb "
                   "'#ffffff' fc "
                   "rgb '%s' lw 0.8 front\n",
                   sum, row - 0.32, sum + value, row + 0.32, stack[k].fill);
        if (value > 0.03 * full)
            script_add(script, "set label '%.0f' at first %g,first %g center tc rgb '%s' front\n", value,
                       sum + 0.5 * value, row, dark ? "#ffffff" : STYLE_INK);
        sum += value;
    }
}

static void compose_bars(struct script *script, const struct layout *layouts, size_t count)
{
    double full = 0;
    for (size_t i = 0; i < count; i++)
        full = fmax(full, layouts[i].hit ? put_in(layouts[i].hit->output.energy) : 0);
    style_axes(script, "energy at the end (J)", "");
    script_add(script, "set xrange [0:%g]\nset yrange [%g:%g]\nunset ylabel\nset ytics scale 0 (",
               1.04 * full, -0.6 - ((double)count - 1), 0.6);
    for (size_t i = 0; i < count; i++) {
        script_add(script, i ? ", " : "");
        script_tic(script, layouts[i].name, NAME);
        script_add(script, " %g", -(double)i);
    }
    script_add(script, ")\nunset grid\n");
    for (size_t i = 0; i < count; i++) {
        if (layouts[i].hit)
            add_bar(script, layouts[i].hit, -(double)i, full);
    }
    script_add(script, STYLE_MARGINS "set lmargin at screen 0.2\nset bmargin at screen 0.19\n");
    add_names(script, layouts, count);
    script_add(script, "plot NaN notitle\n");
}

/* Bars have no place in a text: one row a layout and part instead, as a column of points would be no clearer.
 */
static void compose_text_bars(struct script *script, const struct layout *layouts, size_t count)
{
    script_add(script, "set yrange [0:*]\nset style fill solid\nset xtics rotate by 0 (");
    int place = 0;
    for (int k = 0; k < STACK; k++) {
        if (!is_visible(layouts, count, k))
            continue;
        script_add(script, "%s'%s' %d", place ? ", " : "", stack[k].name, place);
        place++;
    }
    script_add(script, ")\nset ylabel 'energy (J)'\nset key top right\n");
    for (size_t i = 0; i < count; i++) {
        script_add(script, "$parts%zu << END_OF_BLOCK\n", i);
        place = 0;
        for (int k = 0; k < STACK; k++) {
            if (layouts[i].hit && is_visible(layouts, count, k))
                script_add(script, "%d %.7g\n", place++, shown(layouts[i].hit->output.energy, k));
        }
        script_add(script, "END_OF_BLOCK\n");
    }
    script_add(script, "set xrange [-0.5:%g]\nset yrange [0:*]\n", place - 0.5);
    for (size_t i = 0; i < count; i++) {
        script_add(script, "%s$parts%zu using ($1+%g):2 with impulses title ", i ? ", " : "plot ", i,
                   0.15 * ((double)i - 0.5 * ((double)count - 1)));
        script_text(script, layouts[i].name, NAME);
    }
    script_add(script, "\n");
}

enum status energy_compose(struct script *script, const struct layout *layouts, size_t count,
                           enum picture_format format, struct errors *errors)
{
    const struct hit_result *shown = NULL;
    for (size_t i = 0; i < count && !shown; i++)
        shown = layouts[i].hit && put_in(layouts[i].hit->output.energy) > 0 ? layouts[i].hit : NULL;
    if (!shown || (count == 1 && !has_ledger(shown)))
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0, "there is no energy to draw");
    char condition[LAYOUT_TEXT], title[LAYOUT_TEXT + 64];
    layouts_condition(shown, condition);
    snprintf(title, sizeof title, "Where the energy goes. %s", condition);
    style_begin(script, format, 800, count > 1 && count < 5 ? 190 + 70 * (int)count : 480, title,
                LAYOUTS_REMARK);
    if (count == 1)
        compose_over_time(script, layouts, format != PICTURE_TEXT);
    else if (format == PICTURE_TEXT)
        compose_text_bars(script, layouts, count);
    else
        compose_bars(script, layouts, count);
    return STATUS_OK;
}
