#ifndef FOAMPULSE_CASES_CASE_H
#define FOAMPULSE_CASES_CASE_H

#include <stddef.h>
#include <stdint.h>

#include "cases/factor.h"
#include "cases/node.h"
#include "solver/base/status.h"
#include "solver/impact/anvil.h"
#include "solver/impact/metrics.h"
#include "solver/impact/site.h"

/*
 * A case file, read, checked and filled with defaults. SI, temperatures in degC, angles in rad; NaN where a
 * value was not given and has no default. Contract: cases are read whole, with up to ten messages. Step 1 of
 * the life of a run (DEVELOPERS.md).
 */

enum { CASE_NAME = 48 };

/* One of several foams side by side in a layer; a plain layer has one part of share 1. */
struct case_part {
    double share;
    char foam[CASE_NAME];
    double density; /* [kg/m3]; NaN for an own foam that has its own */
    double voids;   /* share of area removed */
    const struct node *place;
};

struct case_layer {
    double thickness; /* [m] */
    size_t part_count;
    struct case_part *parts;
    const struct node *place;
};

struct case_region {
    struct region_shape shape; /* its bounds are owned by case_file.map */
    size_t layer_count;        /* from the shell to the head */
    struct case_layer *layers;
    double comfort_thickness, comfort_gap; /* NaN: those of the case */
    double outer_radius, head_radius;      /* local curvature [m]; NaN: from the headform's ellipsoid */
    const struct node *place;
};

struct case_headform {
    char set[CASE_NAME], size[CASE_NAME]; /* "" for an own headform */
    double mass, circumference;
    double half_axes[3];             /* length, breadth, height */
    int sphere;                      /* shape: sphere of circumference / 2 pi, or of `radius` */
    double radius;                   /* given for all sites, or NaN */
    double cg_offset[3], inertia[3]; /* axes forward, right, down */
    int inertia_assumed;             /* that of a uniform ellipsoid */
    char skin[16];                   /* a name of headform_skins */
    char own[32]; /* "own mass", "own shape", "own mass and shape" in place of the size's; "" for none */
    char provenance[128]; /* of the mass */
    const struct node *place;
};

struct case_shell {
    int present;
    char material[CASE_NAME]; /* a name of `list shells`, or "" with the values below */
    double density, youngs_modulus, poisson, yield_stress, hardening, failure_strain, crack_energy;
    double thickness;
    double inner_radius;  /* NaN: head + gap + comfort + thickest stack */
    int loose;            /* bond: loose */
    double bond_friction; /* of a loose shell on the liner */
    double extra_mass, helmet_mass;
    double helmet_inertia[3]; /* of the whole helmet, axes forward, right, down; NaN: from the geometry */
    size_t temperature_count; /* 0: the same at every temperature */
    double *temperature, *temperature_factor;
    const struct node *place;
};

/* What wet impacts change; 1 where not given. */
struct case_wet {
    double comfort_factor;  /* on the pressure of comfort padding */
    double friction_factor; /* on the default friction on the head */
    const struct node *place;
};

struct case_comfort {
    char foam[CASE_NAME]; /* "" for none */
    double thickness, gap;
    const struct node *place;
};

struct case_anvil {
    char name[CASE_NAME];  /* a built-in name, or "own flat" and so on */
    char shape[CASE_NAME]; /* flat, hemisphere, kerbstone, edge, bar */
    struct anvil_sizes sizes;
    double angle, friction;
};

/* One test of a programme on one anvil: what its impacts are judged by. */
struct case_test {
    char programme[CASE_NAME], test[CASE_NAME]; /* "un-r22.06", "high/kerbstone" */
    double limit[METRIC_COUNT];                 /* NaN for none */
    char provenance[96], source[128];
    char anvil[CASE_NAME];
    int sample_impacts; /* of its programme: most impacts of one helmet in the laboratory; 0 for any number */
    double sample_apart; /* least distance of two points struck on one helmet [m]; NaN */
    char sample_provenance[96];
    const struct node *place; /* in its programme */
};

/* A programme as read from its file. */
struct case_programme {
    char name[CASE_NAME]; /* as the case has it */
    struct node *root;
    int sound; /* read without a fault */
};

enum {
    CASE_IMPACTS = 1000, /* of a case, its sizes together */
    CASE_SIZES = 16,
    CASE_PROGRAMMES = 16,
    CASE_TESTS = 256,
    CASE_JUDGES = 16,
    CASE_NOT_COVERED = 128
};

struct case_impact {
    int number; /* from 1 */
    int own;    /* of the case's `impacts`, not of a programme alone */
    char site[CASE_NAME];
    double elevation, azimuth;
    int region; /* index; -1 for a pad or a headform without shape (stack_head_missing) */
    struct case_anvil anvil;
    double angle;      /* between the fall and the face's normal [rad]; the anvil's, or the impact's own */
    double towards[2]; /* oblique: where the tangential motion points on the head, elevation, azimuth; NaN */
    double head_friction; /* liner or padding on head; NaN */
    size_t hit_count;
    double *speed; /* (hit_count) [m/s] */
    double recovered;
    double temperature;     /* [degC] */
    char condition[16];     /* ambient, cold, hot, wet, another of a programme, or "" */
    size_t test_count;      /* of programmes that judge it */
    int tests[CASE_JUDGES]; /* (test_count) index into case_file.tests */
    const struct node *place;
};

/* `foams: {NAME: {...}}`: keys given, by the name of the contract; NaN where not given. */
#define CASE_FOAM_LIST(X)                                                                                    \
    X(density)                                                                                               \
    X(collapse_stress)                                                                                       \
    X(stress_10)                                                                                             \
    X(youngs_modulus)                                                                                        \
    X(hardening)                                                                                             \
    X(gas_pressure)                                                                                          \
    X(solid_density)                                                                                         \
    X(rate_gain)                                                                                             \
    X(rate_reference)                                                                                        \
    X(rate_time)                                                                                             \
    X(unloading_softening)                                                                                   \
    X(tensile_strength)                                                                                      \
    X(crushed_tension)                                                                                       \
    X(shear_modulus)                                                                                         \
    X(shear_strength)                                                                                        \
    X(shear_friction)                                                                                        \
    X(densification_modulus)

struct case_foam {
    char name[CASE_NAME];
    char like[CASE_NAME]; /* "eps" when not given */
#define CASE_FOAM_FIELD(key) double key;
    CASE_FOAM_LIST(CASE_FOAM_FIELD)
#undef CASE_FOAM_FIELD
    int knee; /* 0 not given, 1 rounded, 2 sharp */
    size_t temperature_count;
    double *temperature, *temperature_factor;
    size_t curve_count;
    double *curve_density;
    char **curve_file; /* path as found */
    const struct node *place;
};

struct case_pad {
    int present;
    double area;
    size_t layer_count; /* from the anvil to the striker */
    struct case_layer *layers;
    double striker_mass;
};

struct case_solver {
    int gravity;
    int rings;
    double cell, duration, phi_max, opening_hoop;
    double snapshots; /* [s] between two pictures of the cross-section */
};

enum sample_kind { SAMPLE_GRID, SAMPLE_LATIN, SAMPLE_SOBOL };

/* `sweep`: what varies and how it is sampled. */
struct case_sweep {
    int present;
    size_t factor_count;
    struct factor *factors;
    enum sample_kind sample;
    size_t points; /* of a sample that is no grid */
    uint64_t seed;
    const struct node *place;
};

enum keep_kind { KEEP_METRIC, KEEP_HELMET_MASS, KEEP_STROKE_LEFT };

/* A bound that a layout has to keep, of a metric or of stroke left in every hit. */
struct case_keep {
    enum keep_kind kind;
    enum metric metric;
    int most;     /* the bound is an upper one */
    double bound; /* in the metric's unit, [kg], share of the stroke */
    const struct node *place;
};

enum { CASE_KEEPS = 16 };

/* `tune`: what is looked for in the ranges of `sweep`. */
struct case_tune {
    int metric; /* enum metric, whose largest value is made small; -1: the worst margin is made large */
    size_t keep_count;
    struct case_keep keeps[CASE_KEEPS];
    size_t runs;
    size_t factor_count;
    struct factor *factors; /* those of `sweep`, on their steps */
    const struct node *place;
};

/* One line of `tolerance.scatter`. */
struct case_scatter {
    char path[FACTOR_PATH];
    int programme;                  /* the tolerance of the speed in the tests of the programmes */
    int normal;                     /* `sd` is given, not `half_range` */
    double width;                   /* half range or standard deviation, in `unit` */
    char unit[UNITS_NAME];          /* as the user wrote it */
    double shared;                  /* lot part: share of the half range, or of the variance */
    const struct node *key, *place; /* path and width */
};

enum { CASE_SCATTERS = 32 };

/* `tolerance`: what scatters in production; its defaults where the case has none. */
struct case_tolerance {
    size_t scatter_count; /* 0: every density of the foam by the default */
    struct case_scatter *scatters;
    double factor; /* k of mean + k s */
    int factor_given;
    size_t runs;
    uint64_t seed;
};

struct case_file {
    char *path; /* as the user wrote it */
    char *title, *notes;
    struct tree tree;
    char *text;    /* resolved text */
    char hash[33]; /* first 128 bits of SHA-256 of `text`, hexadecimal */
    struct case_headform headform;
    struct case_shell shell;
    struct case_comfort comfort;
    struct case_wet wet;
    double mismatch;
    int fill_gap;                  /* fill: gap */
    int layers_slip;               /* interface: slip */
    double slip_friction;          /* between them */
    const struct node *slip_place; /* where that is given; NULL */
    size_t region_count;
    struct case_region *regions;
    struct helmet_map map;
    size_t impact_count;
    struct case_impact *impacts; /* of the case, then of its programmes */
    size_t programme_count;
    struct case_programme *programmes;
    size_t test_count;
    struct case_test *tests;
    size_t not_covered_count;
    char **not_covered; /* of its programmes, a line each */
    int incomplete;     /* whether one of these is a test of impacts */
    size_t foam_count;
    struct case_foam *foams;
    struct case_pad pad;
    double limit[METRIC_COUNT]; /* in the metric's unit; NaN for none */
    double helmet_mass_limit;   /* [kg] */
    double target;              /* fraction of the limit; NaN */
    char model[16];             /* columns, pad, axisymmetric */
    struct case_solver solver;
    struct case_sweep sweep;         /* of a family the family's */
    struct case_tune tune;           /* filled where there is a `sweep` */
    struct case_tolerance tolerance; /* of a family the family's */
    char size[CASE_NAME];            /* of a helmet of a family: its name in `sizes`; "" */
    size_t size_count;               /* of a family; 0: the case is one helmet */
    struct case_file *sizes;
};

/*
 * A helmet family (`sizes`) is a case whose helmets are cases of their own, each with the values of its size
 * set. The family itself holds what is said once (path, texts, hash, what is not covered) and the helmet as
 * written, which its shell is built round; it has no impacts: those of the sizes are numbered one after
 * another. A case without `sizes` is its own only helmet.
 */

/* Count of helmets, and one of them (from 0). */
size_t case_helmet_count(const struct case_file *file);
const struct case_file *case_helmet(const struct case_file *file, size_t at);

/* Impacts of all helmets together. */
size_t case_impact_count(const struct case_file *file);

/* The impact of a number and, if `helmet` is not NULL, the helmet that it strikes; NULL when there is none.
 */
const struct case_impact *case_impact_find(const struct case_file *file, int number,
                                           const struct case_file **helmet);

/* Reads and checks a case. On errors they are in `errors` and the case is zeroed. */
enum status case_load(const char *path, const char *const *sets, size_t set_count, struct case_file *file,
                      struct errors *errors);

/* A value for a path of a case, and where messages about the one and the other point to. */
struct case_change {
    const char *path;
    const char *value; /* a single value as a case writes it */
    const struct node *key, *place;
};

/* Reads the case that follows from a loaded one with other values, without its studies (`sweep`, `tune`,
 * `tolerance`): a layout of it. Errors as case_load. */
enum status case_load_changed(const struct case_file *base, const struct case_change *changes, size_t count,
                              struct case_file *file, struct errors *errors);

/* The resolved text of a case without its studies and with `marks` in place of what changes: the same for two
 * cases that differ only there (memory_free). STATUS_USAGE and STATUS_INPUT as case_load when a path names
 * nothing, or what another names too. */
enum status case_frame(const struct case_file *base, const struct case_change *marks, size_t count,
                       char **text, struct errors *errors);

void case_free(struct case_file *file);

/* Releases the impacts, with the tests that judge them and what these do not cover. */
void case_drop_impacts(struct case_file *file);

#endif
