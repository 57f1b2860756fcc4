#ifndef FOAMPULSE_IMPACT_AXISYMMETRIC_H
#define FOAMPULSE_IMPACT_AXISYMMETRIC_H

#include "solver/impact/bearing.h"
#include "solver/impact/columns.h"
#include "solver/impact/loose.h"
#include "solver/impact/zones.h"

/*
 * The helmet as a body of revolution about the axis of an impact site: zones of foam (solver/impact/zones.h)
 * under a shell, between a rigid head and an anvil. The reference model.
 *
 * Frame as in columns: z up from the anvil's top, the helmet falls towards -z. Ring i of the mesh sits at
 * polar angle phi_i = i phi_max/(rings - 1), row 0 on the shell, row `rows` towards the head. Rows lie at
 * equal shares of the local thickness and follow the borders between layers, those of the region with the
 * largest part of the cap first; a zone that a border crosses holds both layers by their share.
 *
 * Layers that slip have nodes of their own on both sides of each border, with a row of zones between that is
 * empty and has no thickness. The nodes of either side meet a curve through those of the other
 * (solver/impact/slide.h), both at half the strength, so that neither side is the smoother one. On rings
 * where no more than half of the foam has that border the two nodes move as one.
 *
 * Hits that share a helmet: between them shell, head and padding come to rest as in columns.h. The foam keeps
 * its strain through the thickness, zone by zone (zones_settle): rows lie on the lines they lay on when new,
 * from the shell inwards, each line with the mean strain of the zones on both sides; there every zone is free
 * of stress, with the plastic strain it has. That is a choice. It leaves out what foam was permanently pushed
 * along the layer, and the balance of stress locked in between neighbours; in exchange any shape is at rest,
 * uniaxial crush gives that of the columns, and no row keeps the place where a rebound happened to carry it.
 *
 * The shell is bonded to row 0, half its thickness outside, and its nodes move with those of the foam; or it
 * is loose and has nodes of its own (solver/impact/loose.h). Regions that share a zone act side by side on
 * the same strain. The head bears on row `rows` through the comfort layer and holds it by friction.
 */

enum { AXISYMMETRIC_ROWS = 512 };

struct axisymmetric_setup {
    struct columns_setup helmet;
    const double *zone_share[COLUMNS_REGIONS]; /* (rings - 1) of each region between rings i and i + 1 */
    double hourglass;                          /* share of the foam's stiffness and strength */
    double fold;                               /* share of its plateau that holds corners open */
    double snapshot_interval;                  /* [s]; 0: no snapshots */
    int layers_slip;                           /* on each other, and part; else they are one piece */
    double slip_friction;                      /* coefficient between them */
};

/* Helmet as columns_setup_default; hourglass 0.1, fold 1, no snapshots. */
struct axisymmetric_setup axisymmetric_setup_default(void);

/* Borders [rad] between which zone_share holds: the rings' polar angles, (rings). */
void axisymmetric_zone_edges(size_t rings, double phi_max, double *edge);

/* A layer of a region that is on the mesh: a row of the history and of the output. */
struct axisymmetric_layer {
    int region, layer; /* index into setup.helmet.regions; from 1, from the shell */
    double from, to;   /* shares of the region's thickness, from the shell */
};

/* A border between layers that slip. */
struct axisymmetric_slip {
    size_t row;                         /* the empty row of zones: nodes of the same row, and of the next */
    int *tied;                          /* (rings) whether both nodes move as one */
    struct slide_model inside, outside; /* nodes of the next row at a curve through this one; the reverse */
};

struct axisymmetric_model {
    struct axisymmetric_setup setup;
    struct zones_model zones;
    int has_shell, is_loose;
    struct shell_model shell;
    struct loose_model loose;    /* of a loose shell */
    double *offset_r, *offset_z; /* (rings) from the foam's outer node to the shell's node [m] */
    double *liner, *weight;      /* (rings) thickness [m]; area that counts on the axis [m2] */
    double *head_distance;       /* (rings) of the head's surface from its centre [m] */
    double *grip;                /* (rings) stiffness of friction on the head [N/m] */
    double *memory;
    struct contact_model contact;
    struct bearing_model bearing;
    struct oblique_model oblique;
    size_t slip_count;
    struct axisymmetric_slip *slips; /* of layers that slip */
    int *tied_memory;
    size_t layer_count;
    struct axisymmetric_layer layers[HISTORY_LAYERS];
    double cut[AXISYMMETRIC_ROWS + 1]; /* (rows + 1) shares of the thickness */
    double first_z;                    /* height of the head's centre at first touch [m] */
    double step;                       /* first step [s] */
    size_t cell_count;
};

/* Step 4 of the life of a run. STATUS_OK, or STATUS_MEMORY, then zeroed. */
enum status axisymmetric_model_make(const struct axisymmetric_setup *setup, struct axisymmetric_model *model);
void axisymmetric_model_free(struct axisymmetric_model *model);

/* Mass [kg] of the helmet, without the head. */
double axisymmetric_model_mass(const struct axisymmetric_model *model);

/* Thickness [m] of the liner on the axis, mean over r <= 15 mm. */
double axisymmetric_axis_thickness(const struct axisymmetric_model *model);

/* A helmet as a hit left it. */
struct axisymmetric_state;
void axisymmetric_state_free(const struct axisymmetric_model *model, struct axisymmetric_state *state);

/* Solves one hit at setup.helmet.speed, steps 5 and 6 of the life of a run. Layers of the history are
 * model->layers; their crush is NaN off the axis; it gets the snapshots. `absorbed` (layer_count) gets the
 * energy [J] lost in each layer. `last` and errors as columns_run. */
enum status axisymmetric_run(const struct axisymmetric_model *model, struct axisymmetric_state **last,
                             struct history *history, double *absorbed, const atomic_int *stop,
                             char message[HISTORY_MESSAGE]);

#endif
