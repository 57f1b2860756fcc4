#ifndef FOAMPULSE_MATERIALS_SHELL_MATERIAL_H
#define FOAMPULSE_MATERIALS_SHELL_MATERIAL_H

#include <stddef.h>

#include "solver/base/csv.h"
#include "solver/base/status.h"
#include "solver/base/units.h"
#include "solver/impact/shell.h"

/*
 * Materials of shells, from materials/shells.csv with a source for every number, and what a case sets itself.
 *
 * Laminates are elastic and isotropic in their plane. Where the file gives a ply instead of the laminate, the
 * laminate has the same share of plies in all directions. With the stiffness of a ply in plane stress,
 *   Q11 = E1/(1 - nu12 nu21), Q22 = E2/(1 - nu12 nu21), Q12 = nu12 Q22, Q66 = G12, nu21 = nu12 E2/E1,
 * its mean over all directions is isotropic with
 *   U1 = (3 Q11 + 3 Q22 + 2 Q12 + 4 Q66)/8, U4 = (Q11 + Q22 + 6 Q12 - 4 Q66)/8,
 *   E = (U1^2 - U4^2)/U1, nu = U4/U1
 * (invariants of Tsai and Pagano 1968, textbook form from memory; the test averages a turned ply).
 *
 * Damage (solver/impact/shell_damage.h) is off until a crack_energy is given, for which there is no source.
 * The largest strain is compared with failure_strain.
 */

enum { SHELL_MATERIAL_NAME = 48 };

/* Values of a material: key (also that of a case), quantity, 1 when needed, meaning. */
#define SHELL_MATERIAL_VALUES(X)                                                                             \
    X(density, DENSITY, 1, "of the sheet")                                                                   \
    X(youngs_modulus, STRESS, 1, "in the plane")                                                             \
    X(poisson, NUMBER, 1, "in the plane")                                                                    \
    X(yield_stress, STRESS, 0, "in a uniaxial test; none: the material stays elastic")                       \
    X(hardening, STRESS, 0, "slope of stress against plastic strain after yield")                            \
    X(failure_strain, FRACTION, 0, "reported against; where cracks start if there is a crack_energy")        \
    X(crack_energy, ENERGY_PER_AREA, 0, "of a crack through the sheet; none: nothing fails")

/* Rows of the data file that are not values of the sheet. */
#define SHELL_MATERIAL_PLY(X)                                                                                \
    X(ply_modulus_1, STRESS, "of one ply, along the fibres")                                                 \
    X(ply_modulus_2, STRESS, "of one ply, across the fibres")                                                \
    X(ply_shear_modulus, STRESS, "of one ply, in its plane")                                                 \
    X(ply_poisson, NUMBER, "of one ply, pulled along the fibres")                                            \
    X(strength, STRESS, "reported only")

/* NaN where not given. SI. */
struct shell_values {
#define SHELL_MATERIAL_FIELD(key, quantity, needed, meaning) double key;
    SHELL_MATERIAL_VALUES(SHELL_MATERIAL_FIELD)
#undef SHELL_MATERIAL_FIELD
};

struct shell_material {
    char name[SHELL_MATERIAL_NAME];
    const char *title, *caution; /* of the file, "" when none; what a report must say of the material */
    struct shell_values values;
    int from_ply; /* youngs_modulus and poisson are derived from ply_ rows */
#define SHELL_MATERIAL_FIELD(key, quantity, meaning) double key;
    SHELL_MATERIAL_PLY(SHELL_MATERIAL_FIELD)
#undef SHELL_MATERIAL_FIELD
};

struct shell_materials {
    size_t count;
    struct shell_material *materials;
    char *file; /* as found */
    struct csv_table table;
};

/* A material as a shell needs it. */
struct shell_choice {
    struct shell_sheet sheet;
    double failure_strain; /* NaN: not known */
    const char *caution;   /* "" when none */
};

/* Reads the data file; `beside` as in data_find, may be NULL. On failure the materials are zeroed. */
enum status shell_materials_load(const char *beside, struct shell_materials *materials,
                                 struct errors *errors);

/* Releases and zeroes; {0} is allowed. */
void shell_materials_free(struct shell_materials *materials);

/* The material of that name; NULL with an error that lists the names, and the nearest. */
const struct shell_material *shell_materials_find(const struct shell_materials *materials, const char *name,
                                                  struct errors *errors);

/* Values of which none is given. */
struct shell_values shell_values_none(void);

/* The material `name` ("": an own one) with those of `own` in place of its values where given; temperature
 * and rate have no effect. STATUS_INPUT for an unknown name, a value that is missing or makes no sense. */
enum status shell_material_choose(const struct shell_materials *materials, const char *name,
                                  const struct shell_values *own, struct shell_choice *choice,
                                  struct errors *errors);

/* Writes the keys of what a shell takes from memory, ", " between them, "" for nothing: rows of the material
 * `name` that `own` does not give, or does without. */
void shell_material_memory(const struct shell_materials *materials, const char *name,
                           const struct shell_values *own, char *text, size_t size);

/* Modulus [Pa] and Poisson's ratio of a laminate with the same share of plies in all directions. */
void shell_laminate(double modulus_1, double modulus_2, double poisson, double shear_modulus, double *modulus,
                    double *laminate_poisson);

/* One line of `list shells`. */
struct shell_line {
    const char *material, *title, *parameter, *meaning;
    enum quantity quantity;
    double value;                  /* SI */
    const char *low, *high, *unit; /* range of the number in the file, as written */
    const char *provenance, *source, *note;
};

/* Fills at most `size` lines of all materials, in the order of the file, derived ones after those of their
 * plies, and returns how many there are. Texts belong to the materials. */
size_t shell_material_lines(const struct shell_materials *materials, struct shell_line *lines, size_t size);

#endif
