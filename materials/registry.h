#ifndef FOAMPULSE_MATERIALS_REGISTRY_H
#define FOAMPULSE_MATERIALS_REGISTRY_H

#include <stddef.h>

#include "materials/foam.h"
#include "solver/base/status.h"
#include "solver/base/units.h"

/*
 * The foams that the program knows, from data files with a source for every number, and own foams of a case.
 *
 * materials/foams.csv names the data files. A data file has one number a row; a property that depends on
 * density is a power law in two rows (see materials/eps.csv).
 */

/* Properties of a foam: key (also the key of an own foam where a case may give it), quantity, needed for
 * every liner foam, meaning. Of a comfort foam there are density and collapse_stress alone. Each may be
 * constant or a power law in density. */
#define REGISTRY_PROPERTIES(X)                                                                               \
    X(youngs_modulus, STRESS, 1, "slope of the virgin curve at zero strain")                                 \
    X(collapse_stress, STRESS, 1, "plateau of the skeleton at the reference rate")                           \
    X(hardening, STRESS, 0, "slope of the skeleton's plateau")                                               \
    X(gas_pressure, STRESS, 1, "absolute pressure in the cells; 0 for open cells")                           \
    X(solid_density, DENSITY, 1, "density of the solid")                                                     \
    X(rate_gain, NUMBER, 1, "relative rise of the plateau per decade of rate")                               \
    X(rate_reference, RATE, 1, "rate below which there is no rise")                                          \
    X(rate_time, TIME, 1, "time over which the rate is averaged")                                            \
    X(unloading_softening, NUMBER, 1, "a in the unloading modulus E/(1 + a kappa)")                          \
    X(tensile_strength, STRESS, 1, "of uncrushed foam")                                                      \
    X(crushed_tension, STRESS, 0, "tension that crushed foam bears")                                         \
    X(shear_modulus, STRESS, 0, "half of youngs_modulus when not given")                                     \
    X(shear_strength, STRESS, 1, "without pressure")                                                         \
    X(shear_friction, NUMBER, 0, "tangent by which pressure adds to the shear strength")                     \
    X(densification_modulus, STRESS, 0, "rise of the skeleton beyond 0.9 (1 - R)")

enum registry_property {
#define REGISTRY_ENUM(key, quantity, needed, meaning) REGISTRY_##key,
    REGISTRY_PROPERTIES(REGISTRY_ENUM)
#undef REGISTRY_ENUM
        REGISTRY_PROPERTY_COUNT
};

enum { REGISTRY_TEMPERATURES = 16, REGISTRY_SENTENCE = 256 };

/* Factor on collapse stress and Young's modulus against temperature [degC], rising. */
struct registry_temperature {
    size_t count;
    double degree[REGISTRY_TEMPERATURES], factor[REGISTRY_TEMPERATURES];
};

/* Factor at a temperature [degC] by straight lines between `count` rows, temperatures rising; NaN outside. */
double registry_factor_at(size_t count, const double *degree, const double *factor, double temperature);

/* A row of a data file as it stands there. */
struct registry_row {
    char *parameter, *value, *unit, *low, *high, *provenance, *source, *note;
};

/* One foam of the data files. */
struct registry_material {
    char name[FOAM_NAME];
    char *title, *file;                        /* file as found */
    int comfort;                               /* for comfort padding, not for liners */
    double density, density_low, density_high; /* [kg/m3]: of the tables, stated range */
    double checked_up_to;                      /* [kg/m3]: denser foam is extrapolated; NaN when not stated */
    double factor[REGISTRY_PROPERTY_COUNT],
        exponent[REGISTRY_PROPERTY_COUNT];               /* factor (rho/(kg/m3))^exponent */
    double solid_modulus, solid_strength, edge_fraction; /* NaN when not stated */
    int sharp;
    struct registry_temperature temperature;
    size_t row_count;
    struct registry_row *rows;
};

struct registry {
    size_t count;
    struct registry_material *materials;
};

/* What a case says of an own foam; NaN, 0 and NULL where it says nothing. All is borrowed. */
struct registry_own {
    const char *name, *like; /* like: NULL for eps */
    double density;          /* [kg/m3] */
    double value[REGISTRY_PROPERTY_COUNT];
    double stress_10; /* [Pa] at 10 % strain, instead of collapse_stress */
    int knee;         /* 0 not given, 1 rounded, 2 sharp */
    size_t temperature_count;
    const double *temperature, *temperature_factor;
    size_t curve_count;
    const double *curve_density;
    char *const *curve_file; /* CSV with the columns strain and stress, each with its unit */
};

/* What is to be said about a foam that was asked for. */
struct registry_report {
    int computed;                     /* 0: not computed for want of data, `sentence` says why */
    char sentence[REGISTRY_SENTENCE]; /* why not computed; "" */
    int extrapolated;                 /* denser than what the curve was checked against */
    double checked_up_to;             /* [kg/m3] */
    double cross_check;               /* [Pa] collapse stress by the open/closed-cell formula; NaN */
    double temperature_factor;
    double softening_asked; /* foam->softening is smaller where a measured curve allows no more */
};

/* Reads the data files; `beside` as in data_find, may be NULL. On failure the registry is zeroed. */
enum status registry_load(const char *beside, struct registry *registry, struct errors *errors);

void registry_free(struct registry *registry);

/* An own foam that says nothing. */
struct registry_own registry_own_none(void);

/* The material of that name; NULL with an error that lists the names, and the nearest. */
const struct registry_material *registry_find(const struct registry *registry, const char *name,
                                              struct errors *errors);

/* Value of a property at a density [kg/m3], at 23 degC and the reference rate; NaN where the file says
 * nothing. */
double registry_value(const struct registry_material *material, enum registry_property property,
                      double density);

/* Makes the foam `name`, or the own foam `own` (then `name` is ignored), at a density [kg/m3] (NaN: that of
 * the own foam) and a temperature [degC]. STATUS_OK with report->computed 0 and an empty foam when there is
 * no value for that temperature; STATUS_INPUT for a density out of range
 * (an own foam with its own collapse stress and modulus may lie outside that of the foam it is like), an
 * unknown name or values that make no sense; STATUS_FILE for a curve that cannot be read. Release with
 * foam_free. */
enum status registry_foam(const struct registry *registry, const char *name, const struct registry_own *own,
                          double density, double temperature, struct foam *foam,
                          struct registry_report *report, struct errors *errors);

/* Whether a provenance says that the number was not seen. */
int registry_from_memory(const char *provenance);

/* What a foam takes from a row of its data file: the key of the property, or the parameter of a row that is
 * none. NULL where the own foam (NULL: none) gives the value itself or has no use for it. */
const char *registry_row_taken(const struct registry_material *material, const struct registry_row *row,
                               const struct registry_own *own);

/* Pressure at 40 % closure [Pa], which is the collapse stress, and density [kg/m3] of the comfort foam
 * `name`, or of the own foam `own` like one. STATUS_INPUT when it is none. */
enum status registry_comfort(const struct registry *registry, const char *name,
                             const struct registry_own *own, double *pressure, double *density,
                             struct errors *errors);

/* One line of `list foams` or `list comfort`: a property at the reference density, and where it comes from.
 */
struct registry_line {
    const char *material, *title, *parameter, *meaning;
    enum quantity quantity;
    double value, density; /* SI; at this density [kg/m3], NaN when it does not depend on it */
    double density_low, density_high;
    const char *low, *high, *unit; /* range of the number in the file, as written: of the value, or of the
                                    * power law's factor (or share), which is no range of the value */
    /* A power law: its factor (kept as written), or the share of the solid's modulus; its exponent, NULL when
     * 0. A property that does not depend on density has neither. */
    const struct registry_row *factor, *share, *exponent;
    const char *provenance, *source, *note;
};

/* Fills at most `size` lines of all foams for liners (comfort 0) or for comfort (1), in the order of the
 * files, and returns how many there are. Texts belong to the registry. */
size_t registry_lines(const struct registry *registry, int comfort, struct registry_line *lines, size_t size);

/* The same of what an own foam takes from the material that it is like, at a density [kg/m3], NaN for the
 * material's own. */
size_t registry_taken(const struct registry_material *material, const struct registry_own *own,
                      double density, struct registry_line *lines, size_t size);

#endif
