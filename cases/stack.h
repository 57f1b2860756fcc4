#ifndef FOAMPULSE_CASES_STACK_H
#define FOAMPULSE_CASES_STACK_H

#include <stddef.h>

#include "cases/case.h"
#include "solver/impact/liner.h"

/*
 * How a case's stacks close: shell, liner layers, comfort padding, gap, head.
 *
 * The shell is one surface. Over a round head of the headform's circumference its inner radius is
 * `shell.inner_radius`, or head + the thickest of all stacks (layers + comfort padding + gap). That fixes the
 * *space* between head and shell, one length for the whole helmet. At a site the head has its local radius
 * (or the region gives one), the shell stands off by the same space, and each region's stack closes between
 * the two; what a stack leaves of the space goes to the comfort padding or to the gap (`fill`).
 */

/* Radii about a site [m]. */
struct stack_site {
    double head;  /* head's surface */
    double inner; /* shell's inner face, liner's outer face */
    double outer; /* shell's outer face; equals inner without a shell */
};

struct stack_layer {
    double outer, inner; /* radii [m] */
    const struct case_layer *layer;
};

/* One region's stack, closed. Outside in: layers, comfort padding, gap, head. */
struct stack {
    struct stack_site site;
    size_t layer_count;
    struct stack_layer layers[LINER_LAYERS];
    double comfort; /* thickness of the padding [m], fill included; 0 for none */
    double gap;     /* between padding (or liner) and head [m], fill included */
    double fill;    /* what the padding or the gap took up beyond what was asked [m] */
    double excess;  /* by how much the stack is too thick [m]; 0 when it fits, else the rest is not closed */
};

/* Radius of a round head of this headform [m]: its `radius`, circumference / 2 pi, or the geometric mean of
 * its half axes. */
double stack_head_radius(const struct case_headform *headform);

/* Why nothing can be computed on this headform: it has neither circumference nor radius; NULL when it has.
 * Its radii are NaN then, and so are inner radius, masses and distances. */
const char *stack_head_missing(const struct case_headform *headform);

/* Radius of the head at a site [m]: `radius`, the sphere's, or sqrt(R1 R2) of the ellipsoid there. */
double stack_head_radius_at(const struct case_headform *headform, double elevation, double azimuth);

/* Thickness asked for by a region: layers + comfort padding + gap [m]; 0 for an opening. */
double stack_needed(const struct case_file *file, size_t region);

/* Space between head and shell [m]. */
double stack_space(const struct case_file *file);

/* The same in a region: that of its own `outer_radius` and `head_radius` where it has both. */
double stack_region_space(const struct case_file *file, size_t region);

/* Inner radius of the shell over a round head [m]: that of case_file.map. */
double stack_inner_radius(const struct case_file *file);

/* Radii about a site that lies in `region`, with that region's own radii where it gives them. Elevation NaN:
 * over a round head, own radii left aside. */
void stack_site(const struct case_file *file, int region, double elevation, double azimuth,
                struct stack_site *site);

/* Closes the stack of a region between the radii of a site (its own or another region's). */
void stack_close(const struct case_file *file, int region, const struct stack_site *site,
                 struct stack *stack);

/* "shell 3.5 mm | eps 45 kg/m3 18 mm | comfort-soft 8 mm | gap 1 mm | head", for people. */
void stack_words(const struct case_file *file, const struct stack *stack, char *text, size_t size);

/* "eps 45 kg/m3 18 mm | eps 30 kg/m3 17 mm": layers alone. */
void stack_layers_words(const struct case_layer *layers, size_t count, char *text, size_t size);

/* Mean density [kg/m3] of a layer over its full volume, voids counted as empty. */
double stack_layer_density(const struct case_layer *layer);

/* Masses [kg] and volumes of matter [m3] over the whole head, shares of the regions taken into account,
 * layers as parts of spherical shells about a round head. */
struct stack_masses {
    double shell, liner, comfort, other, helmet;
    double shell_volume, liner_volume, comfort_volume;
    double covered; /* share of the full sphere that is neither open nor below the lower edge */
};

/* Adds up the helmet. `share` are the region shares of helmet_map_shares, `shell_density` and
 * `comfort_density` [kg/m3] those of the materials (0 where there is none). `other` closes the helmet: the
 * extra mass, or what `helmet_mass` leaves (negative when the parts weigh more than that). `region_liner`
 * (region_count), if not NULL, gets the liner's mass by region. */
void stack_masses(const struct case_file *file, const double *share, double shell_density,
                  double comfort_density, struct stack_masses *masses, double *region_liner);

#endif
