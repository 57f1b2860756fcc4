#ifndef FOAMPULSE_IMPACT_ZONES_H
#define FOAMPULSE_IMPACT_ZONES_H

#include <stddef.h>

#include "solver/impact/law.h"

/*
 * Foam as a body of revolution: Lagrangian quadrilateral zones in the half plane (r, z), one stress a zone.
 *
 * Nodes form a grid: ring i = 0 .. rings - 1 away from the axis, row j = 0 .. rows from the outer face
 * inwards. Zone (i, j) has the corners 0 = (i, j), 1 = (i + 1, j), 2 = (i + 1, j + 1), 3 = (i, j + 1),
 * counter-clockwise where row j + 1 lies above row j.
 *
 * Scheme (M. L. Wilkins, Calculation of elastic-plastic flow, Methods in Computational Physics 3, 1964;
 * uniform gradients: D. P. Flanagan and T. Belytschko, Int. J. Numer. Meth. Engng 17, 1981). With N a
 * corner's bilinear share, a zone's rates of deformation are means over its exact volume of revolution, in
 * the plane V D_rr = sum of u R, V D_zz = sum of w Z, 2 V D_rz = sum of u Z + w R with R and Z the integrals
 * of r dN/dr = dV/dr - P and r dN/dz = dV/dz, P that of N; the hoop rate is V'/V less D_rr + D_zz. The force
 * of a zone on a corner is minus the derivative of its work, f_r = 2 pi (s_rr R + s_rz Z + s_h P), f_z = 2 pi
 * (s_zz Z + s_rz R), compression positive, all per radian, and the mass of a corner is the integral of
 * density N. Momentum along the axis is kept exactly, the energy to second order in the step; a uniform
 * stress s_zz or s_rr = s_h leaves no force on an inner node, and a plane wave along the axis stays plane.
 * (The mean over the area times V/A in place of R and Z is not consistent at the axis.)
 *
 * The law sees each zone in its own axes, normal (through the thickness, outwards) and along. They turn by
 * the rotation in the polar decomposition of the zone's mean deformation (A. E. Green and P. M. Naghdi, Arch.
 * Rational Mech. Anal. 18, 1965), so a rigid motion changes no stress. Axes that follow the line through the
 * thickness alone let rows buckle sideways as soon as the stress along it exceeds l times the shear modulus
 * at a stretch l, which crushed foam comes to; with the polar rotation it takes 1 + l times the modulus.
 *
 * The two motions of a quadrilateral that strain it nowhere on the mean (hourglasses) meet a spring of
 * `hourglass` times the foam's modulus over the shorter of the zone's two lines, which slips at the same
 * share of its strength (the same paper, stiffness form); viscosity acts in compression only.
 *
 * Foam at its plateau hardly resists being crushed more on one side of a zone than on the other, and a zone
 * that is crushed to a fifth comes to fold. With s the area of the triangle at a corner over half the zone's
 * (1 in a parallelogram), an energy Y (f - s)^2/(2 s) by volume at rest, Y = `fold` times the plateau, holds
 * a corner open from s = f = ZONES_FOLD_FROM of the smallest s at rest; below ZONES_FOLD_LEAST f it goes on
 * with its curvature there. It is a function of the shape alone and does nothing to zones that stay
 * parallelograms.
 *
 * Zone and node arrays are (rows + 1) x stride, ring fastest, stride = rings rounded up to 8. Zone (i, j) has
 * the index of its corner 0; where there is none (last ring, last row, padding) `live` is 0 and so is all the
 * rest. A zone with openings holds the share of its volume that the blocks on it add up to.
 */

#define ZONES_FOLD_FROM  0.3
#define ZONES_FOLD_LEAST 0.1

/* Zones that hold one foam of one layer of one region. Blocks on a zone act side by side on the same strain.
 */
struct zones_block {
    const struct foam *foam;
    int region, layer; /* names for the owner */
    size_t count;
    int *zone;     /* (count) index of each zone, ascending */
    double *share; /* (count) of the zone's volume */
};

/* Zones of a block that follow each other: `count` from zone `first`, `at` in the block. */
struct zones_run {
    size_t first, at, count;
};

struct zones_model {
    size_t rings, rows, stride, count; /* count = rows x stride, zones and what pads them */
    double *first_r, *first_z;         /* nodes [m] */
    double *mass;                      /* nodes [kg]; the owner may add to it */
    double *live;                      /* zones: 1 or 0 */
    double *volume;                    /* zones, first volume of the whole ring [m3] */
    double *inverse_volume;            /* zones [1/m3] */
    double *density, *inverse_density; /* zones, of what is there over the whole volume [kg/m3], 1 over it */
    double *stiffness, *give;          /* zones, of the hourglass spring [Pa], and 1 over it or 0 */
    double *strength;                  /* zones, where it slips [Pa] */
    double *fold;                      /* zones, the Y of corners held open [Pa] */
    double *fold_from;      /* zones, the f of a corner held open; below any where one is pushed in at rest */
    double *inverse_height; /* zones, 1 / (2 x first line through the thickness) [1/m] */
    double *inverse_width;  /* zones, 1 / (2 x first line along) [1/m] */
    double viscosity_linear, viscosity_quadratic;
    size_t block_count;
    struct zones_block *blocks;
    struct zones_run *runs; /* of all blocks, in order */
    size_t *run_end;        /* (block_count) runs of this block and those before it */
    double *memory;
    int *zone_memory;
};

struct zones_state {
    double *r, *z;                   /* nodes [m] */
    double *velocity_r, *velocity_z; /* nodes [m/s], half a step behind */
    double *force_r, *force_z;       /* nodes [N], of the zones; the owner adds to it */
    double *volume;                  /* zones: 1 - V/V0 */
    double *change;                  /* zones: of that in the last step */
    double *crush[FOAM_COMPONENTS];  /* zones: increment of the last step in its axes */
    double *stress[FOAM_COMPONENTS]; /* zones: of all blocks, in its axes, without viscosity [Pa] */
    double *tangent;                 /* zones [Pa], then the bound of the step [1/s] */
    double *viscous;                 /* zones [Pa] */
    double *hourglass[2];            /* zones: spring along the zone's axes [Pa] */
    double *artificial;              /* zones: lost in viscosity and hourglass slip [J/m3] */
    double *folding;                 /* zones: 1 where a corner is held open, else 0 */
    double *corner[8];               /* zones: forces on corners 0 .. 3, r then z [N]; padded in front */
    struct foam_points *points;      /* (block_count) */
    double *memory, *point_memory;
};

/* A mesh of (rows + 1) x rings nodes given as r, z (ring fastest, no padding) and its blocks, in order.
 * `hourglass` and `fold` are the shares above. */
struct zones_setup {
    size_t rings, rows;
    const double *r, *z;
    size_t block_count;
    const struct zones_block *blocks; /* zone indices as i + j x stride: zones_stride() */
    double viscosity_linear, viscosity_quadratic, hourglass, fold;
};

/* Rings rounded up. */
size_t zones_stride(size_t rings);

/* 1, or 0 when memory is out, then zeroed. */
int zones_model_make(const struct zones_setup *setup, struct zones_model *model);
void zones_model_free(struct zones_model *model);

/* At rest in the first shape. 1, or 0 when memory is out, then zeroed. */
int zones_state_make(const struct zones_model *model, struct zones_state *state);
void zones_state_free(struct zones_state *state);

struct zones_bounds {
    double frequency;      /* largest sound speed / thickness of a zone, viscosity in [1/s] */
    double largest_strain; /* largest 1 - V/V0; a NaN anywhere stays */
    size_t tangled;        /* a zone of no volume or with crossed sides, model.count if none */
};

/* Strain, stress and the zones' forces at the present places, `dt` after the last. */
struct zones_bounds zones_update(const struct zones_model *model, struct zones_state *state, double dt);

/* Permanent strain through the thickness (count) of zones between two hits: from the line through a zone as
 * it is, unloaded elastically along it by the law, its cracks closed as far as costs nothing, to where the
 * first of its foams is whole. Of it and of the plastic strains the share `recovered` comes back. `state` is
 * not at rest after that: place its nodes, then zones_rest. */
void zones_settle(const struct zones_model *model, struct zones_state *state, double recovered,
                  double *strain);

/* Zones at rest at the present places of the nodes: without velocity, cracks and hourglass, free of stress
 * (skeletons hold the gas, alike in all directions) with the plastic strains they have. Energies lost start
 * from 0. */
void zones_rest(const struct zones_model *model, struct zones_state *state);

/* Moves the nodes: velocity over `dt_velocity`, place over `dt`, by the forces there are and gravity [m/s2].
 * Nodes without mass stay; those of ring 0 stay on the axis. */
void zones_move(const struct zones_model *model, struct zones_state *state, double gravity,
                double dt_velocity, double dt);

/* Kinetic energy [J] of all nodes now, as v(n - 1/2) v(n + 1/2), before zones_move; momentum along z [N s];
 * sum of m z [kg m]. */
double zones_kinetic(const struct zones_model *model, const struct zones_state *state, double gravity,
                     double dt_velocity);
double zones_momentum(const struct zones_model *model, const struct zones_state *state);
double zones_height(const struct zones_model *model, const struct zones_state *state);

/* Energies [J]: stored in foam; stored in hourglass springs and in corners held open; lost in viscosity and
 * slip of the springs; lost in the foam of block `block`. */
double zones_stored(const struct zones_model *model, const struct zones_state *state);
double zones_sprung(const struct zones_model *model, const struct zones_state *state);
double zones_artificial(const struct zones_model *model, const struct zones_state *state);
double zones_absorbed(const struct zones_model *model, const struct zones_state *state, size_t block);

/* Foam of block `block` that is crushed past the end of its measured curve. */
void zones_past(const struct zones_model *model, const struct zones_state *state, size_t block,
                struct foam_past *past);

/* Volume of revolution [m3] of the quadrilateral with corner 0 at node k. */
double zones_volume(const double *r, const double *z, size_t k, size_t stride);

/* Kernels, one an instruction set. `zones_strain`: crush, volume, change and hourglass springs of a step.
 * `zones_force`: viscosity and forces of the stress there is; returns the bounds. `zones_shift`: zones_move.
 */
#define ZONES_KERNELS(isa)                                                                                   \
    void zones_strain_##isa(const struct zones_model *model, struct zones_state *state, double dt);          \
    struct zones_bounds zones_force_##isa(const struct zones_model *model, struct zones_state *state,        \
                                          double dt);                                                        \
    void zones_shift_##isa(const struct zones_model *model, struct zones_state *state, double gravity,       \
                           double dt_velocity, double dt);
ZONES_KERNELS(base)
ZONES_KERNELS(v3)
ZONES_KERNELS(v4)
#undef ZONES_KERNELS

#endif
