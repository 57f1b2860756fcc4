#ifndef FOAMPULSE_IMPACT_LINER_H
#define FOAMPULSE_IMPACT_LINER_H

#include <stddef.h>

#include "solver/impact/law.h"

/*
 * Stacks of foam cells: a group of columns that all have the same layers, cut into the same rows.
 *
 * The bench pad is a group of one column; a helmet has one group a region, with one column on each ring that
 * the region shares. A column is a line of nodes with a scalar coordinate that grows from the head towards
 * the anvil. Row 0 is at the anvil (shell) end, node row `rows` at the head end, so the length of a cell is
 * position[row] - position[row + 1], and compression pushes node `row` forward and node `row + 1` back.
 * Every interface of a column has the same area; masses come from the true volume.
 *
 * Arrays over cells are (rows x columns), over nodes ((rows + 1) x columns), columns fastest.
 */

enum { LINER_PARTS = 8, LINER_LAYERS = 16 };

/* One foam in a layer, and its share of the layer's area, voids taken off. */
struct liner_part {
    const struct foam *foam;
    double share;
};

/* One layer of a stack: one foam, or several side by side. */
struct liner_layer {
    double thickness; /* [m] */
    size_t part_count;
    struct liner_part parts[LINER_PARTS];
};

/* Rows of one layer that hold one foam. Foams side by side in a layer (plugs) are blocks over the same rows
 * that share the area; their strain is equal. */
struct liner_block {
    const struct foam *foam;
    int layer; /* from 1, from the shell */
    size_t first_row, row_count;
    double share; /* of the column's area, voids taken off */
};

struct liner_group {
    size_t columns, rows, block_count;
    struct liner_block *blocks;                   /* (block_count), owned */
    double *area;                                 /* cells [m2] */
    double *length;                               /* cells, first length [m] */
    double *inverse_length;                       /* cells [1/m] */
    double *inertia;                              /* cells: mass x length / area [kg/m], rho l^2 in a prism */
    double *mass;                                 /* nodes [kg]; the owner may add to rows 0 and `rows` */
    double *gravity;                              /* nodes: acceleration along the column [m/s2] */
    double viscosity_linear, viscosity_quadratic; /* C1, C2 of physics: q = C1 ..., C2 ... */
};

struct liner_state {
    double *position;   /* nodes [m] */
    double *velocity;   /* nodes [m/s], half a step behind position */
    double *strain;     /* cells */
    double *change;     /* cells: strain less strain a step ago */
    double *viscous;    /* cells: viscous stress [Pa] */
    double *stress;     /* cells: all blocks and viscosity [Pa of column area] */
    double *force;      /* nodes: force of cell `row` [N]; row `rows`: force of the head, set by the owner */
    double *tangent;    /* cells: slope of stress against strain, all blocks [Pa] */
    double *artificial; /* cells: energy lost in viscosity [J/m3] */
    struct foam_zones *zones; /* (block_count) */
    double *memory;           /* one block behind all arrays above */
    double *zone_memory;
};

/* How a stack of layers is cut into rows. */
struct liner_rows {
    size_t rows, block_count;
    size_t row_count[LINER_LAYERS];
    struct liner_block blocks[LINER_LAYERS * LINER_PARTS];
};

/* Cuts layers into rows no thicker than `cell` [m], at least `least` a layer. */
void liner_cut(const struct liner_layer *layers, size_t layer_count, double cell, size_t least,
               struct liner_rows *rows);

/* Thickness [m] of a stack; least strain of best efficiency among the foams of a layer. */
double liner_thickness(const struct liner_layer *layers, size_t layer_count);
double liner_best_strain(const struct liner_layer *layer);

/* What a step has to know of all zones. */
struct liner_bounds {
    double largest_strain;
    double frequency; /* largest sqrt(tangent / inertia) [1/s]; a step of 2 / (2 frequency) is the limit */
};

/* Allocates the arrays of a group of columns that are cut alike; the columns are filled one by one. 1, or 0
 * when memory is out, then zeroed. */
int liner_group_make(struct liner_group *group, size_t columns, const struct liner_rows *rows);

/* Fills one column: cells of equal length in each layer, masses of the end nodes those of the half cells.
 * `outer_radius` > 0 takes masses from slices of a cone whose outer face at that radius has `area`; 0 is a
 * prism. */
void liner_group_column(struct liner_group *group, size_t column, double area, double outer_radius,
                        const struct liner_layer *layers, size_t layer_count, const struct liner_rows *rows);

void liner_group_free(struct liner_group *group);

/* State at rest: virgin foam, velocities zero, node row 0 at position 0. 1, or 0 when memory is out. */
int liner_state_make(const struct liner_group *group, struct liner_state *state);
void liner_state_free(struct liner_state *state);

/* Between two hits: brings every cell to rest, free of stress, at the strain its plastic strain leaves; node
 * row 0 stays. Of what is left, the share `recovered` (0 .. 1) comes back: plastic strain and strain of the
 * matter, and so the volume of the gas, shrink together; 1 leaves new foam. Energies lost start from 0. */
void liner_settle(const struct liner_group *group, struct liner_state *state, double recovered);

/* Lines the nodes of all columns up behind row 0 at the strains of their cells. */
void liner_lay(const struct liner_group *group, struct liner_state *state);

/* Strain, stress and force of all cells for the present positions, after a step of `dt`. */
struct liner_bounds liner_update(const struct liner_group *group, struct liner_state *state, double dt);

/* Moves nodes 1 .. rows: velocity over `dt_velocity`, position over `dt`. Row 0 is the owner's. */
void liner_move(const struct liner_group *group, struct liner_state *state, double dt_velocity, double dt);

/* Kinetic energy [J] of nodes 1 .. rows now, as v(n - 1/2) v(n + 1/2), before liner_move. */
double liner_kinetic(const struct liner_group *group, const struct liner_state *state, double dt_velocity);

/* Energy [J] stored, lost in crushing, lost in viscosity. */
double liner_stored(const struct liner_group *group, const struct liner_state *state);
double liner_crushed(const struct liner_group *group, const struct liner_state *state);
double liner_artificial(const struct liner_group *group, const struct liner_state *state);

/* Energy [J] lost in crushing one layer (from 1) over all columns. */
double liner_layer_crushed(const struct liner_group *group, const struct liner_state *state, int layer);

/* The first cell that is crushed to nothing and, of its layer, a block; NULL when there is none. */
const struct liner_block *liner_used_up(const struct liner_group *group, const struct liner_state *state,
                                        size_t *cell);

/* Foam of one layer (from 1) that is crushed past the end of its measured curve. */
void liner_layer_past(const struct liner_group *group, const struct liner_state *state, int layer,
                      struct foam_past *past);

/* Present length [m] of one layer in a column, and its first length. */
double liner_layer_length(const struct liner_group *group, const struct liner_state *state, int layer,
                          size_t column, double *first);

/* Potential of gravity on nodes 1 .. rows [J], sum of -m g x: a state function. */
double liner_potential(const struct liner_group *group, const struct liner_state *state);

/* Kernels, one an instruction set. */
void liner_strain_base(const struct liner_group *group, struct liner_state *state);
void liner_strain_v3(const struct liner_group *group, struct liner_state *state);
void liner_strain_v4(const struct liner_group *group, struct liner_state *state);
struct liner_bounds liner_force_base(const struct liner_group *group, struct liner_state *state, double dt);
struct liner_bounds liner_force_v3(const struct liner_group *group, struct liner_state *state, double dt);
struct liner_bounds liner_force_v4(const struct liner_group *group, struct liner_state *state, double dt);
void liner_move_base(const struct liner_group *group, struct liner_state *state, double dt_velocity,
                     double dt);
void liner_move_v3(const struct liner_group *group, struct liner_state *state, double dt_velocity, double dt);
void liner_move_v4(const struct liner_group *group, struct liner_state *state, double dt_velocity, double dt);

#endif
