#include "plots/plots.h"

#include <string.h>

#include "plots/crush.h"
#include "plots/energy.h"
#include "plots/headmap.h"
#include "plots/layouts.h"
#include "plots/margins.h"
#include "plots/pulse.h"
#include "plots/rotation.h"
#include "plots/section.h"

const struct plot_info plot_table[PLOT_COUNT] = {
    {"pulse", "acceleration against time, all layouts, with the limit and the HIC window", 1, 1},
    {"headmap", "the head from above with the margin at each site", 1, 0},
    {"crush", "force on the headform against crush in % of the liner's thickness, all layouts", 1, 1},
    {"layers", "crush of each layer against time", 0, 1},
    {"energy", "energy by part: against time, or at the end for several layouts", 0, 1},
    {"margins", "margins of all hits to their nearest limits, worst first", 0, 0},
    {"rotation", "rotational acceleration and velocity of the head, and of the shell, all layouts", 0, 1},
    {"section", "the deformed cross-section, coloured by strain, density or stress (model axisymmetric)", 0,
     1},
};

_Static_assert((int)PLOT_RESULTS == (int)LAYOUTS_MOST, "both say how many results a picture shows");

typedef enum status compose(struct script *, const struct layout *, size_t, enum picture_format,
                            struct errors *);

/* The last takes a view besides. */
static compose *const composers[PLOT_COUNT - 1] = {pulse_compose,   headmap_compose, crush_compose,
                                                   layers_compose,  energy_compose,  margins_compose,
                                                   rotation_compose};

enum status plots_draw(const char *name, const struct case_result *results, size_t count,
                       const struct section_view *view, enum picture_format format, const char *path,
                       char **text, struct errors *errors)
{
    size_t at = 0;
    while (at < PLOT_COUNT && strcmp(plot_table[at].name, name) != 0)
        at++;
    if (at == PLOT_COUNT)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "there is no picture `%.40s`", name);
    if (count > PLOT_RESULTS)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "a picture shows at most %d results",
                          LAYOUTS_MOST);
    struct layout layouts[LAYOUTS_MOST];
    struct script script = {0};
    enum status status = STATUS_OK;
    if (!layouts_pick(results, count, layouts))
        status =
            errors_add(errors, STATUS_INPUT, NULL, 0, 0, "no impact was computed: there is nothing to draw");
    if (status == STATUS_OK)
        status = at + 1 == PLOT_COUNT ? section_compose(&script, layouts, count, view, format, errors)
                                      : composers[at](&script, layouts, count, format, errors);
    if (status == STATUS_OK)
        status = gnuplot_draw(&script, format, path, text, errors);
    script_free(&script);
    return status;
}
