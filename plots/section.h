#ifndef FOAMPULSE_PLOTS_SECTION_H
#define FOAMPULSE_PLOTS_SECTION_H

#include "plots/gnuplot.h"
#include "plots/layouts.h"

enum section_field { SECTION_STRAIN, SECTION_DENSITY, SECTION_STRESS, SECTION_FIELDS };

/* "strain", "density", "stress". */
extern const char *const section_field_names[SECTION_FIELDS];

enum { SECTION_TIMES = 8 };

/* What is to be seen: at each time [s] the nearest snapshot; NaN is the one at the largest crush. No time is
 * that one too, but in a GIF all there are. */
struct section_view {
    enum section_field field;
    size_t time_count;
    double time[SECTION_TIMES];
};

/* The deformed cross-section of the governing impact, both sides of the axis at one scale of length: anvil,
 * shell, foam coloured by the field, head. A panel a layout and time, at most 8; in a GIF a frame a time. */
enum status section_compose(struct script *script, const struct layout *layouts, size_t count,
                            const struct section_view *view, enum picture_format format,
                            struct errors *errors);

#endif
