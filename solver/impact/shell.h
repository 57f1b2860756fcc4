#ifndef FOAMPULSE_IMPACT_SHELL_H
#define FOAMPULSE_IMPACT_SHELL_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * Axisymmetric thin shell of revolution, large displacement and rotation, elastic-plastic.
 *
 * One row of nodes (r_i, z_i), i = 0 .. node_count - 1, joined by straight segments; segment j joins nodes j
 * and j + 1. With the segment's direction (cos theta, sin theta) and lengths of the first shape, the strain
 * measures are those of Reissner's finite axisymmetric bending (E. Reissner, On axisymmetrical deformations
 * of thin shells of revolution, 1950):
 *
 *   segment  eps_s = L / L0 - 1                    eps_t = (r_j + r_j+1) / (r0_j + r0_j+1) - 1
 *   node     kappa_s = (turn - first turn) / span  kappa_t = (sin theta - first sin theta) / r0
 *
 * turn = theta_i - theta_i-1; span = mean length of both segments; sin theta at a node is interpolated from
 * both. At a pole kappa_s = kappa_t = 2 (rotation of the first segment) / L0, over the disc of radius L0/2;
 * at a clamped edge kappa_s = -2 (rotation of the last segment) / L0; at an edge without moment kappa_s = -nu
 * kappa_t. Without these end terms the order is 1.
 *
 * Each segment has two halves; half h = 0 touches node j, h = 1 node j + 1. A half has the strain of its
 * segment and the curvature of its node; energies are sums over halves and forces are minus their gradient.
 * The strain at a height zeta from the middle surface is eps + zeta kappa, |zeta| <= thickness / 2.
 *
 * Yielding: von Mises in plane stress with linear isotropic hardening at five points through each half, on
 * the strain of its segment and the curvature of its node.
 *
 * Cracks: damage at the same points, see solver/impact/shell_damage.h.
 *
 * Ring i is the two halves about node i. `bare` and `hoop` describe openings: a ring keeps 1 - bare of mass
 * and of meridional stiffness, and `hoop` of its hoop stiffness; its matter sees the hoop strain times
 * sqrt(hoop / (1 - bare)), the openings take up the rest.
 */

/* How a row of nodes ends. The caller holds the nodes of a clamped or simply supported edge in place, and r
 * = 0 at a pole. */
enum shell_end {
    SHELL_POLE,   /* on the axis */
    SHELL_FREE,   /* no moment: a free or a simply supported edge */
    SHELL_CLAMPED /* keeps its first slope */
};

/* Material of a sheet, isotropic in its plane. */
struct shell_sheet {
    double density;        /* [kg/m3] */
    double youngs_modulus; /* [Pa] */
    double poisson;
    double yield_stress; /* of a uniaxial test [Pa]; INFINITY: stays elastic */
    double hardening;    /* slope of stress against plastic strain [Pa], >= 0 */
    double crack_strain; /* stress / youngs_modulus at which a crack starts; not read without crack_energy */
    double
        crack_energy; /* of a crack through the sheet [J/m2]; 0: none. A sheet that cracks does not yield */
};

struct shell_setup {
    size_t node_count;   /* >= 3 */
    const double *r, *z; /* (node_count) stress-free first shape [m] */
    double thickness;    /* [m] */
    struct shell_sheet sheet;
    enum shell_end start, end;
    const double *thickness_share; /* (node_count) ring's thickness / thickness; NULL: 1 */
    const double *bare;            /* (node_count) 0 .. < 1; NULL: 0 */
    const double *hoop;            /* (node_count) hoop stiffness kept, 0 .. 1; NULL: 1 - bare */
};

/* Points of Simpson's rule through the thickness; exact for the elastic energy and for the fully plastic
 * moment. */
enum { SHELL_POINTS = 5, SHELL_HALVES = 2 };

/* Their heights over half the thickness, and their shares of it. */
extern const double shell_point_height[SHELL_POINTS], shell_point_share[SHELL_POINTS];

/* Constant arrays: name, rows of `stride`, what is in a row. All quantities are of whole rings (2 pi). */
#define SHELL_MODEL_LIST(X)                                                                                  \
    X(mass, 1)           /* node [kg] */                                                                     \
    X(length, 1)         /* segment, L0 [m] */                                                               \
    X(inverse_length, 1) /* segment [1/m] */                                                                 \
    X(radius, 1)         /* segment, mean radius of the first shape [m] */                                   \
    X(inverse_radius, 1) /* segment [1/m] */                                                                 \
    X(parted, 1)         /* segment, strain that parts a crack across the meridian, or 0 */                  \
    X(membrane_s, 1)     /* segment, second derivatives of the energy by eps_s and eps_t [J] */              \
    X(membrane_st, 1)                                                                                        \
    X(membrane_t, 1)                                                                                         \
    X(turn, 1)          /* node, first turn [rad]; 0 at the ends */                                          \
    X(inverse_span, 1)  /* node [1/m]; 0 at the ends */                                                      \
    X(sine, 1)          /* node, first sin theta */                                                          \
    X(weight_before, 1) /* node, shares of the segments before and after in sin theta; 0 at the ends */      \
    X(weight_after, 1)                                                                                       \
    X(inverse_node_radius, 1) /* node, 1 / r0 [1/m]; 0 at a pole */                                          \
    X(bending_s, 1)           /* node, second derivatives of the energy by kappa_s and kappa_t [J m2] */     \
    X(bending_st, 1)                                                                                         \
    X(bending_t, 1)                                                                                          \
    X(volume, 2)         /* half, of matter [m3] */                                                          \
    X(half_thickness, 2) /* half, thickness / 2 [m] */                                                       \
    X(hoop_share, 2)     /* half, hoop strain of the matter / hoop strain of the ring */

struct shell_model {
    size_t node_count, segment_count;
    size_t stride; /* of the arrays: node_count + 8 rounded up to 8; what pads them is 0 */
    struct shell_sheet sheet;
    enum shell_end start, end;
    int yields, cracks;
    double start_direction[2], end_direction[2]; /* of the first and last segment in the first shape */
    double largest_frequency; /* bound on the largest angular frequency of the first shape [1/s] */
    double *memory;           /* the block that holds all arrays */
#define SHELL_MODEL_ARRAY(name, rows) double *name;
    SHELL_MODEL_LIST(SHELL_MODEL_ARRAY)
#undef SHELL_MODEL_ARRAY
};

/* Arrays of the state: name, rows of `stride`, what is in a row. */
#define SHELL_STATE_LIST(X)                                                                                  \
    X(direction_r, 1)    /* segment, cos theta */                                                            \
    X(direction_z, 1)    /* segment, sin theta */                                                            \
    X(inverse_length, 1) /* segment, 1 / L [1/m] */                                                          \
    X(turn, 1)           /* node [rad] */                                                                    \
    X(strain_s, 1)       /* segment */                                                                       \
    X(strain_t, 1)                                                                                           \
    X(curvature_s, 1) /* node [1/m] */                                                                       \
    X(curvature_t, 1)                                                                                        \
    X(change_strain_s, 1) /* the four above, less their values one call before */                            \
    X(change_strain_t, 1)                                                                                    \
    X(change_curvature_s, 1)                                                                                 \
    X(change_curvature_t, 1)                                                                                 \
    X(force_s, 1) /* segment, derivatives of the energy by eps_s and eps_t [J] */                            \
    X(force_t, 1)                                                                                            \
    X(moment_s, 1) /* node, derivatives of the energy by kappa_s and kappa_t [J m] */                        \
    X(moment_t, 1)                                                                                           \
    X(pull_r, 1) /* segment j at j + 1: its derivative of the energy by its end's r and z [N] */             \
    X(pull_z, 1)                                                                                             \
    X(hoop_pull, 1) /* segment j at j + 1: half its derivative by the mean radius [N] */

/* Arrays of a shell that yields. */
#define SHELL_PLASTIC_LIST(X)                                                                                \
    X(plastic_s, 10) /* half x point, plastic strains */                                                     \
    X(plastic_t, 10)                                                                                         \
    X(equivalent, 10)      /* half x point, equivalent plastic strain */                                     \
    X(dissipated, 2)       /* half, plastic work so far [J/m3 of matter] */                                  \
    X(trial_sum, 1)        /* segment, work space of one point: stress s + t [Pa] */                         \
    X(trial_difference, 1) /* s - t [Pa] */                                                                  \
    X(trial_excess, 1)     /* equivalent stress^2 less yield stress^2 [Pa2] */

/* Arrays of a shell that cracks. */
#define SHELL_DAMAGE_LIST(X)                                                                                 \
    X(worst_s, 20) /* pulled, pressed x half x point: largest stress the matter has borne / E */             \
    X(worst_t, 20)

struct shell_state {
    double *memory;
#define SHELL_STATE_ARRAY(name, rows) double *name;
    SHELL_STATE_LIST(SHELL_STATE_ARRAY)
    SHELL_PLASTIC_LIST(SHELL_STATE_ARRAY) /* NULL unless the model yields */
    SHELL_DAMAGE_LIST(SHELL_STATE_ARRAY)  /* NULL unless the model cracks */
#undef SHELL_STATE_ARRAY
};

/* Builds the constant model; copies what it needs. STATUS_MEMORY when memory is out, the model then zeroed.
 */
enum status shell_model_make(const struct shell_setup *setup, struct shell_model *model);

/* Releases the arrays and zeroes; {0} is allowed. */
void shell_model_free(struct shell_model *model);

/* The unstrained state of a model. STATUS_MEMORY when memory is out, the state then zeroed. */
enum status shell_state_make(const struct shell_model *model, struct shell_state *state);

/* Releases the arrays and zeroes; {0} is allowed. */
void shell_state_free(struct shell_state *state);

/* Advances the state to the shape r, z (node_count) [m] and adds the forces [N] of whole rings that the shell
 * puts on its nodes to force_r, force_z (node_count). The radial force on a pole is left alone. A second call
 * with the same shape changes nothing but the `change_` arrays. */
void shell_forces(const struct shell_model *model, struct shell_state *state, const double *r,
                  const double *z, double *force_r, double *force_z);

/* Whether any of it has plastic strain. */
int shell_has_yielded(const struct shell_model *model, const struct shell_state *state);

/* Lets a shell that has yielded go from the shape r, z (node_count) [m], which becomes the one where it holds
 * itself, to 1 nm; plastic strains may change on the way. Any other shell rests in its first shape, and r, z
 * are left alone. The start is a pole and the end free. STATUS_MEMORY. */
enum status shell_rest(const struct shell_model *model, struct shell_state *state, double *r, double *z);

/* Energy [J] that the shell would give back, at the shape of the last call of shell_forces: a function of
 * that shape and the plastic strains. */
double shell_stored(const struct shell_model *model, const struct shell_state *state);

/* Plastic work [J] so far: in each update the mean of old and new stress times the change of plastic strain,
 * which makes the elastic energy of a step exact for the trapezoid rule of the step. */
double shell_dissipated(const struct shell_model *model, const struct shell_state *state);

/* Energy [J] that cracks have taken so far: a function of the damage. */
double shell_cracked(const struct shell_model *model, const struct shell_state *state);

/* Largest stretch of a fibre at either face, hoop strains as the matter sees them, at the shape of the last
 * call of shell_forces; `node` (may be NULL) becomes the ring it is in. */
double shell_largest_strain(const struct shell_model *model, const struct shell_state *state, size_t *node);

/* Bound on the stable time step [s] of central differences with the shell's own masses, 2 / largest angular
 * frequency, times the largest shortening of a segment at the last call of shell_forces. Multiply by a safety
 * factor (0.7); added mass on the nodes only lengthens it. */
double shell_stable_step(const struct shell_model *model, const struct shell_state *state);

/* Bound on the largest angular frequency [1/s] of a model in its first shape: Gershgorin's circles of the
 * stiffness in meridional and normal directions. For shell_model_make. Negative when memory is out. */
double shell_frequency_bound(const struct shell_model *model, const double *r, const double *z);

/* For shell_stored of a shell that cracks. */
double shell_cracked_stored(const struct shell_model *model, const struct shell_state *state);

/* Longest segment [m] on which a sheet can crack, its characteristic length E G/(limit of stress)^2. */
double shell_crack_length(const struct shell_sheet *sheet);

/* Strain that parts a crack whose band has that length [m]. For shell_model_make. */
double shell_crack_end(const struct shell_sheet *sheet, double length);

/* Kernels, one an instruction set: directions, strains and turns of a shape; derivatives of the energy of a
 * shell that cracks, by its strains; all of shell_forces. */
#define SHELL_KERNELS(isa)                                                                                   \
    void shell_shape_##isa(const struct shell_model *model, struct shell_state *state, const double *r,      \
                           const double *z);                                                                 \
    void shell_crack_##isa(const struct shell_model *model, struct shell_state *state);                      \
    void shell_advance_##isa(const struct shell_model *model, struct shell_state *state, const double *r,    \
                             const double *z, double *force_r, double *force_z);
SHELL_KERNELS(base)
SHELL_KERNELS(v3)
SHELL_KERNELS(v4)
#undef SHELL_KERNELS

#endif
