#ifndef FOAMPULSE_IMPACT_COLUMNS_H
#define FOAMPULSE_IMPACT_COLUMNS_H

#include <stdatomic.h>
#include <stddef.h>

#include "solver/base/status.h"
#include "solver/impact/comfort.h"
#include "solver/impact/contact.h"
#include "solver/impact/history.h"
#include "solver/impact/liner.h"
#include "solver/impact/oblique.h"
#include "solver/impact/shell.h"

/*
 * The helmet by columns: rings about the axis of an impact site, each with a node of the shell and, for every
 * region that shares the ring, a stack of foam on the line from the head to that node.
 *
 * Frame: z up from the anvil's top, r from the site's axis; the helmet falls towards -z. Ring i sits at polar
 * angle phi_i = i phi_max / (rings - 1). Unknowns: height of the headform; (r, z) of the shell's nodes; one
 * scalar along its line for each inner node of a column. A column pushes the node outwards and the head
 * inwards with the same force on the same line. The line's direction changes by a few degrees only, so masses
 * are split by the first direction: foam counts along the line where it is, and across the line with the
 * shell it is bonded to. The shell's motion across a line meets the liner's own shear while the head bears on
 * it.
 *
 * On a loose shell the outer end of a column is a node of its own on the line and meets the shell's node in a
 * contact that only pushes; friction there bounds the shear. Foam does not slide along the shell: its line
 * goes to the same node.
 *
 * Hits that share a helmet: the next one starts with foam, shell and head at rest. Foam lies free of stress
 * at the strain it keeps (liner_settle), its stacks lined up from the shell inwards; cracks have closed. The
 * shell has sprung back to the shape that its plastic strains alone leave (shell_rest), with its damage; a
 * bare liner has nothing outside to hold it and lines up from where its inner faces were. The helmet touches
 * the anvil as far as a new one does, and the head, on the site's axis, is as deep in it as the first column
 * allows that leaves it no more room than when new: what has been crushed under it is a gap. Padding has
 * recovered; energies count from there.
 *
 * Regions on one ring are separate columns with the same ends, which is the parallel sum at any order of
 * layers; a region's columns vanish smoothly with its share.
 */

enum { COLUMNS_REGIONS = 24, COLUMNS_RINGS = 1024 };

/* One region on this site, its stack closed to the shell. */
struct columns_region {
    const char *name;
    const double *share; /* (rings) of the ring's area */
    size_t layer_count;  /* from the shell to the head */
    struct liner_layer layers[LINER_LAYERS];
    double comfort_thickness, gap; /* [m] */
    double comfort_stress;         /* p40 [Pa]; 0 where there is no comfort layer */
    double comfort_density;        /* [kg/m3] */
};

struct columns_setup {
    size_t rings;
    double phi_max;           /* [rad] */
    double outer_radius;      /* of the liner [m] */
    double shell_thickness;   /* [m], 0 for a bare liner */
    struct shell_sheet shell; /* material; not read for a bare liner */
    int loose;                /* the shell lies on the liner, not bonded to it */
    double bond_friction;     /* of a loose shell on the liner */
    const double *bare;       /* (rings) share with neither liner nor shell; NULL for none */
    const double *hoop;       /* (rings) hoop stiffness that the shell keeps; NULL: 1 - bare */
    size_t region_count;
    struct columns_region regions[COLUMNS_REGIONS];
    double head_mass;   /* [kg] */
    double head_radius; /* [m], of parallel columns only: elsewhere the stacks end at the head */
    double mismatch;    /* [m] */
    double helmet_mass; /* [kg]: what the rings do not hold of it rides on the last; NaN: nothing */
    struct anvil anvil;
    double speed, gravity; /* [m/s], [m/s2] */
    double head_friction;  /* of liner or padding on the head */
    double recovered;      /* share of the foam's crush that comes back between two hits */
    double cell, duration, courant;
    double viscosity_linear, viscosity_quadratic;
    double contact_damping;       /* share of critical on the node, 0.6 */
    double contact_stiffness;     /* [N/m] of every node on the anvil; 0: 0.25 m / dt^2 */
    struct oblique_setup oblique; /* masses and inertia of the helmet are filled by the model */
    double layer_friction;        /* between layers that slip; INFINITY: one piece */
    size_t contact_points;        /* a segment of the shell; a bare liner touches with its nodes */
    int parallel; /* verification: nodes and columns move along the axis only, prisms, no shear */
};

/* Defaults: 48 rings to 80 deg, cell 1.75 mm, 25 ms, gravity g0, courant 0.7, viscosity 0.06 and 1.2, damping
 * 0.6. */
struct columns_setup columns_setup_default(void);

/* One region's columns. */
struct columns_group {
    struct liner_group liner;
    int region;                  /* index into setup.regions */
    int *node;                   /* (columns) ring of each column */
    double *anchor_r, *anchor_z; /* (columns) origin of the line, seen from the head's centre [m] */
    double *head_distance;       /* (columns) of the head's surface from the anchor [m] */
    double *space;               /* (columns) comfort + gap + mismatch [m] */
    double *bearing;             /* (columns) [N/m] stiffness of bare contact with the head */
    double *damping;             /* (columns) [N s/m] */
    double *bond;                /* (columns) [N/m] stiffness of the contact with a loose shell */
    double *bond_damping;        /* (columns) [N s/m] */
    double *memory;
};

struct columns_model {
    struct columns_setup setup;
    double *r, *z;                     /* (rings) nodes at first touch [m] */
    double *normal_r, *normal_z;       /* (rings) first direction, outwards */
    double *mass_normal, *mass_across; /* (rings) [kg] */
    struct contact_model contact;
    double *shear, *shear_limit; /* (rings) [N/m], [N] */
    double *memory;
    int has_shell, is_loose;
    struct shell_model shell;
    size_t group_count;
    struct columns_group groups[COLUMNS_REGIONS];
    struct oblique_model oblique;
    double node_offset; /* from a node to the shell's faces [m], half its thickness */
    double step;        /* first step [s] */
    size_t cell_count, layer_count;
};

/* Step 4 of the life of a run. STATUS_OK, or STATUS_MEMORY, then zeroed. */
enum status columns_model_make(const struct columns_setup *setup, struct columns_model *model);
void columns_model_free(struct columns_model *model);

/* Thickness [m] of a region's layers. */
double columns_thickness(const struct columns_region *region);

/* Borders [rad] of the rings of a set-up, (rings + 1): from the axis to phi_max. */
void columns_ring_edges(size_t rings, double phi_max, double *edge);

/* Mass [kg] of rings and rest, without the head: the helmet's mass, unless the rings alone weigh more. */
double columns_model_mass(const struct columns_model *model);

/* A helmet as a hit left it. */
struct columns_state;
void columns_state_free(const struct columns_model *model, struct columns_state *state);

/* Solves one hit at setup.speed, steps 5 and 6 of the life of a run. Layers of the history are those of the
 * groups in order; their crush is NaN where a layer has no column within 15 mm of the axis. `absorbed`
 * (layer_count) gets the energy [J] lost in crushing each layer. Errors as pad_hit. `last` is NULL for a
 * helmet that is hit once; else *last is what the hit before left, NULL for a new helmet, and becomes what
 * this one leaves (on failure it is of no use but to columns_state_free, which releases it). */
enum status columns_run(const struct columns_model *model, struct columns_state **last,
                        struct history *history, double *absorbed, const atomic_int *stop,
                        char message[HISTORY_MESSAGE]);

/* Thickness [m] of the liner on the axis, mean over r <= 15 mm. */
double columns_axis_thickness(const struct columns_model *model);

#endif
