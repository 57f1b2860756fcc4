#include "cases/schema.h"

#include <assert.h>
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/impact/columns.h"

#define ABOVE_0 SCHEMA_ABOVE_0
#define MM      1e-3
#define DEGREE  (3.14159265358979323846 / 180)

/* Rows by kind, so that each names only what it uses. */
#define VALUE(in, key, unit, least, most, otherwise, text)                                                   \
    {                                                                                                        \
        .group = SCHEMA_##in, .name = key, .kind = SCHEMA_QUANTITY, .quantity = QUANTITY_##unit,             \
        .low = least, .high = most, .fallback = otherwise, .help = text                                      \
    }
#define WHOLE(in, key, least, most, otherwise, text)                                                         \
    {                                                                                                        \
        .group = SCHEMA_##in, .name = key, .kind = SCHEMA_WHOLE, .low = least, .high = most,                 \
        .fallback = otherwise, .help = text                                                                  \
    }
#define PLAIN(in, key, form, otherwise, text)                                                                \
    {                                                                                                        \
        .group = SCHEMA_##in, .name = key, .kind = SCHEMA_##form, .fallback = otherwise, .help = text        \
    }
#define CHOICE(in, key, words, otherwise, text)                                                              \
    {                                                                                                        \
        .group = SCHEMA_##in, .name = key, .kind = SCHEMA_CHOICE, .choices = words, .fallback = otherwise,   \
        .help = text                                                                                         \
    }
#define VALUES(in, key, unit, number, least, most, text)                                                     \
    {                                                                                                        \
        .group = SCHEMA_##in, .name = key, .kind = SCHEMA_QUANTITIES, .quantity = QUANTITY_##unit,           \
        .items = number, .low = least, .high = most, .help = text                                            \
    }
#define HOLDS(in, key, form, of, number, text)                                                               \
    {                                                                                                        \
        .group = SCHEMA_##in, .name = key, .kind = SCHEMA_##form, .inner = SCHEMA_##of, .items = number,     \
        .help = text                                                                                         \
    }

#define BOUND_KEYS(in)                                                                                       \
    VALUES(in, "elevation", ANGLE, 2, -90 * DEGREE, 90 * DEGREE, "box: lowest and highest elevation"),       \
        VALUES(in, "azimuth", ANGLE, 2, -180 * DEGREE, 180 * DEGREE,                                         \
               "box: from and to, rightwards; may cross 180 deg"),                                           \
        PLAIN(in, "centre", DIRECTION, NULL, "circle: elevation and azimuth of its centre"),                 \
        VALUE(in, "half_angle", ANGLE, ABOVE_0, 180 * DEGREE, NULL, "circle: angle from its centre"),        \
        VALUE(in, "radius", LENGTH, ABOVE_0, 0.5, NULL, "circle: radius on the inner face of the shell"),    \
        PLAIN(in, "around", TEXT, NULL, "band: along the edge of this open region, or `lower edge`"),        \
        VALUE(in, "width", LENGTH, ABOVE_0, 0.5, NULL, "band: its width on the inner face of the shell")

/* Upper ends of ranges only catch slips of unit; they are far outside what is of use. Lists of regions,
 * layers and parts are bounded by the arrays of the solver. */
const struct schema_key schema_table[] = {
    PLAIN(CASE, "title", TEXT, "", "one line, copied to the result"),
    PLAIN(CASE, "notes", TEXT, "", "free text, copied to the result"),
    HOLDS(CASE, "headform", MAPPING, HEADFORM, 0, "the headform"),
    HOLDS(CASE, "shell", MAPPING, SHELL, 0, "the shell; absent: a bare liner"),
    HOLDS(CASE, "comfort", MAPPING, COMFORT, 0, "comfort padding; absent: none, gap 0"),
    HOLDS(CASE, "wet", MAPPING, WET, 0, "what impacts with the condition wet change; absent: nothing"),
    HOLDS(CASE, "fit", MAPPING, FIT, 0, "how the head sits in the helmet"),
    CHOICE(
        CASE, "fill", "comfort, gap", NULL,
        "what takes up the rest where a stack is thinner than the space; default comfort, gap where there is "
        "no comfort padding"),
    HOLDS(CASE, "liner", MAPPING, LINER, 0, "the foam"),
    PLAIN(CASE, "sites", OWN, NULL, "names of your own for directions: {NAME: [elevation, azimuth], ...}"),
    HOLDS(CASE, "impacts", LIST, IMPACT, 1000, "the impacts, each on a new helmet"),
    PLAIN(CASE, "limits", OWN, NULL, "limits by metric (`foampulse list metrics`), and helmet_mass"),
    VALUE(CASE, "target", FRACTION, ABOVE_0, 1, NULL,
          "house mark, a share of the limit: above it and under the limit reads \"tight\""),
    CHOICE(CASE, "model", "columns, pad, axisymmetric", NULL,
           "default axisymmetric for a helmet, pad for a pad"),
    HOLDS(CASE, "solver", MAPPING, SOLVER, 0, "mesh and duration; the defaults are enough"),
    HOLDS(CASE, "foams", NAMED, FOAM, 0, "foams of your own, by name"),
    HOLDS(CASE, "pad", MAPPING, PAD, 0, "a flat stack of foam in place of a helmet"),
    HOLDS(CASE, "striker", MAPPING, STRIKER, 0, "what falls on the pad"),
    PLAIN(CASE, "programme", OWN, NULL,
          "names of `foampulse list programmes`, paths of your own, or {name, sizes, temperatures, speed}"),
    PLAIN(CASE, "sizes", OWN, NULL,
          "helmets of a family under one shell: {NAME: {PATH: VALUE, take_up: comfort}, ...}"),
    HOLDS(CASE, "sweep", MAPPING, SWEEP, 0, "layouts to try, for `foampulse sweep`"),
    HOLDS(CASE, "tune", MAPPING, TUNE, 0, "what `foampulse tune` looks for in the ranges of `sweep`"),
    HOLDS(CASE, "tolerance", MAPPING, TOLERANCE, 0,
          "production scatter, for `foampulse tolerance`; absent: all at their defaults"),
    VALUE(CASE, "programme_speed", FRACTION, 0, 1, NULL,
          "speed of all tests of the programmes: 0 % the lowest that the tolerance of each allows, 100 % the "
          "highest; default as `programme` says"),

    PLAIN(HEADFORM, "set", TEXT, "en-960", "a set of `foampulse list headforms`"),
    PLAIN(HEADFORM, "size", TEXT, NULL, "a size of the set; absent for a headform of your own"),
    VALUE(HEADFORM, "mass", MASS, ABOVE_0, 100, NULL, "in place of the size's"),
    VALUE(HEADFORM, "circumference", LENGTH, 0.2, 1.5, NULL, "in place of the size's"),
    VALUE(HEADFORM, "half_height", LENGTH, 0.02, 0.3, NULL,
          "height of the ellipsoid above its centre; default sqrt(half length x half breadth), common "
          "practice, no source"),
    CHOICE(HEADFORM, "shape", "ellipsoid, sphere", "ellipsoid", "sphere: of circumference / 2 pi everywhere"),
    VALUE(HEADFORM, "radius", LENGTH, 0.02, 0.5, NULL, "one radius for all sites"),
    VALUES(HEADFORM, "cg_offset", LENGTH, 3, -0.2, 0.2,
           "centre of gravity from the centre, forward, right and down; default 0"),
    VALUES(HEADFORM, "inertia", INERTIA, 3, ABOVE_0, 10,
           "about the forward, right and down axes; default those of a uniform ellipsoid, by which limits on "
           "rotation are undecided"),
    CHOICE(HEADFORM, "skin", "bare, silicone, vinyl", "bare",
           "sets the friction of the liner on the head: 0.16, 0.3 (from memory), 0.75; its compliance is not "
           "computed"),

    PLAIN(SHELL, "material", TEXT, NULL, "a name of `foampulse list shells`"),
    VALUE(SHELL, "thickness", LENGTH, ABOVE_0, 0.05, NULL, "thickness, required"),
    VALUE(SHELL, "inner_radius", LENGTH, 0.02, 0.5, NULL,
          "of the inner face over a round head; default head + gap + comfort + the thickest stack"),
    {.group = SCHEMA_SHELL,
     .name = "lower_edge",
     .kind = SCHEMA_OWN,
     .quantity = QUANTITY_ANGLE,
     .fallback = "-30 deg",
     .help =
         "elevation below which there is neither shell nor liner, or pairs [azimuth, elevation] all round; "
         "-90 deg: closed"},
    CHOICE(SHELL, "bond", "bonded, loose", "bonded", "shell to liner"),
    VALUE(SHELL, "bond_friction", NUMBER, 0, 5, "0.3", "of a loose shell on the liner"),
    VALUE(SHELL, "extra_mass", MASS, 0, 20, NULL, "chin bar, visor, hardware; default 0"),
    VALUE(SHELL, "helmet_mass", MASS, ABOVE_0, 20, NULL, "the helmet as weighed, in place of extra_mass"),
    VALUES(
        SHELL, "helmet_inertia", INERTIA, 3, ABOVE_0, 10,
        "of the whole helmet about the forward, right and down axes through the head's centre; default from "
        "the geometry"),
    VALUE(SHELL, "density", DENSITY, ABOVE_0, 20000, NULL, "in place of the material's"),
    VALUE(SHELL, "youngs_modulus", STRESS, ABOVE_0, 1e12, NULL, "in place of the material's"),
    VALUE(SHELL, "poisson", NUMBER, 0, 0.49, NULL, "in place of the material's"),
    VALUE(SHELL, "yield_stress", STRESS, ABOVE_0, 1e11, NULL, "in place of the material's; absent: elastic"),
    VALUE(SHELL, "hardening", STRESS, 0, 1e11, NULL, "slope after yield, in place of the material's"),
    PLAIN(SHELL, "temperature", OWN, NULL,
          "pairs [temperature, factor on modulus, yield stress and hardening], temperatures ascending; "
          "default the same at every temperature"),
    VALUE(SHELL, "failure_strain", FRACTION, ABOVE_0, 10, NULL,
          "in place of the material's; reported against, and where cracks start with a crack_energy"),
    VALUE(SHELL, "crack_energy", ENERGY_PER_AREA, ABOVE_0, 1e8, NULL,
          "energy per area of a crack through a shell that does not yield; absent: nothing fails"),

    PLAIN(COMFORT, "foam", TEXT, "comfort-soft",
          "a name of `foampulse list comfort`, or an own foam like one"),
    VALUE(COMFORT, "thickness", LENGTH, ABOVE_0, 0.1, NULL, "thickness, required"),
    VALUE(COMFORT, "gap", LENGTH, 0, 0.1, "0 mm", "between head and padding"),

    VALUE(WET, "comfort_factor", NUMBER, ABOVE_0, 10, "1", "on the pressure of comfort padding"),
    VALUE(WET, "friction_factor", NUMBER, 0, 10, "1",
          "on the default friction of liner or padding on the head; none on what an impact gives"),

    VALUE(FIT, "mismatch", LENGTH, 0, 0.1, "0 mm",
          "how much rounder the head is than the cavity: closes later away from the site"),

    PLAIN(LINER, "foam", TEXT, "eps", "foam of layers that name none"),
    VALUE(LINER, "density", DENSITY, ABOVE_0, 2000, NULL, "of a liner of one layer"),
    VALUE(LINER, "thickness", LENGTH, ABOVE_0, 0.2, NULL, "of a liner of one layer"),
    CHOICE(LINER, "interface", "bonded, slip", "bonded", "layers to each other"),
    VALUE(LINER, "interface_friction", NUMBER, 0, 5, "0.3", "between layers that slip"),
    HOLDS(LINER, "regions", LIST, REGION, COLUMNS_REGIONS,
          "parts of the head; the first match wins, the last has no bounds"),

    PLAIN(REGION, "name", NAME, NULL, "required"),
    BOUND_KEYS(REGION),
    HOLDS(REGION, "areas", LIST, AREA, 32, "several bounds under one name"),
    PLAIN(REGION, "open", BOOLEAN, "false", "true: an opening, neither shell nor liner"),
    PLAIN(REGION, "mirror", BOOLEAN, "false", "true: holds on the other side as well"),
    HOLDS(REGION, "layers", LIST, LAYER, LINER_LAYERS, "foam, from the shell to the head"),
    HOLDS(REGION, "comfort", MAPPING, REGION_COMFORT, 0, "in place of the case's"),
    VALUE(REGION, "outer_radius", LENGTH, 0.02, 1, NULL, "local radius of the shell's outer face"),
    VALUE(REGION, "head_radius", LENGTH, 0.02, 1, NULL, "local radius of the head"),
    VALUE(REGION, "voids", FRACTION, 0, 0.95, "0 %", "share of area removed in every layer"),

    VALUE(REGION_COMFORT, "thickness", LENGTH, 0, 0.1, NULL, "in place of the case's"),
    VALUE(REGION_COMFORT, "gap", LENGTH, 0, 0.1, NULL, "in place of the case's"),

    BOUND_KEYS(AREA),

    PLAIN(LAYER, "foam", TEXT, NULL, "a name of `foampulse list foams` or of the case's `foams`"),
    VALUE(LAYER, "density", DENSITY, ABOVE_0, 2000, NULL, "required, unless an own foam has one"),
    VALUE(LAYER, "thickness", LENGTH, ABOVE_0, 0.2, NULL, "required"),
    VALUE(LAYER, "voids", FRACTION, 0, 0.95, NULL, "share of area removed; default the region's"),
    HOLDS(LAYER, "parallel", LIST, PART, LINER_PARTS,
          "foams side by side, by share of area; the shares sum to 100 %"),

    VALUE(PART, "share", FRACTION, ABOVE_0, 1, NULL, "share of area, required"),
    PLAIN(PART, "foam", TEXT, NULL, "default the layer's"),
    VALUE(PART, "density", DENSITY, ABOVE_0, 2000, NULL, "required, unless an own foam has one"),
    VALUE(PART, "voids", FRACTION, 0, 0.95, NULL, "default the layer's"),

    PLAIN(
        IMPACT, "at", OWN, NULL,
        "a site of `foampulse list sites` or of the case's `sites`, {region: NAME}, or [elevation, azimuth]"),
    PLAIN(IMPACT, "anvil", OWN, "flat",
          "a name of `foampulse list anvils`, or {shape, angle, friction and sizes}"),
    VALUE(IMPACT, "speed", SPEED, ABOVE_0, 100, NULL, "one of speed, drop_height, energy, hits is required"),
    VALUE(IMPACT, "drop_height", LENGTH, ABOVE_0, 500, NULL, "speed from sqrt(2 g h), g = 9.80665 m/s2"),
    VALUE(IMPACT, "energy", ENERGY, ABOVE_0, 1e6, NULL, "speed from the headform's (striker's) mass"),
    PLAIN(IMPACT, "hits", OWN, NULL, "list of speeds, drop heights or energies on one and the same helmet"),
    VALUE(IMPACT, "temperature", TEMPERATURE, -80, 150, NULL, "of the helmet; default 23 degC"),
    CHOICE(IMPACT, "condition", "ambient, cold, hot, wet", NULL,
           "in place of temperature: 23 degC, -20 degC, 50 degC, 23 degC"),
    PLAIN(IMPACT, "towards", OWN, NULL,
          "oblique: where the face's tangential motion points on the head: front, rear, left, right, up, "
          "down or "
          "[elevation, azimuth]"),
    VALUE(IMPACT, "angle", ANGLE, 0, 89.9 * DEGREE, NULL,
          "between the fall and the face's normal; default the anvil's"),
    VALUE(IMPACT, "recovered", FRACTION, 0, 1, "0 %", "share of crush that comes back between hits"),
    HOLDS(IMPACT, "friction", MAPPING, FRICTION, 0, "Coulomb friction"),

    CHOICE(ANVIL, "shape", "flat, hemisphere, kerbstone, edge, bar", NULL, "required"),
    VALUE(ANVIL, "diameter", LENGTH, ABOVE_0, 10, NULL, "of a flat face; default 130 mm"),
    VALUE(ANVIL, "radius", LENGTH, 0, 10, NULL,
          "of a hemisphere, default 48 mm; of the rounded edges of a kerbstone, 15 mm, an edge, 0 mm, a bar, "
          "1 mm"),
    VALUE(ANVIL, "width", LENGTH, ABOVE_0, 10, NULL, "of an edge, default 6.3 mm, or a bar, 25 mm"),
    VALUE(ANVIL, "height", LENGTH, ABOVE_0, 10, NULL, "of a bar on its plane; default 6 mm"),
    VALUE(ANVIL, "length", LENGTH, ABOVE_0, 10, NULL,
          "of a kerbstone, default longer than the contact, or an edge, 180 mm"),
    VALUE(ANVIL, "angle", ANGLE, 0, 89.9 * DEGREE, "0 deg", "between the fall and the face's normal"),
    VALUE(ANVIL, "friction", NUMBER, 0, 2, NULL, "shell on face; default 0.35, ABS on steel"),

    VALUE(FRICTION, "head", NUMBER, 0, 2, NULL, "liner or comfort padding on head; default that of the skin"),
    VALUE(FRICTION, "anvil", NUMBER, 0, 2, NULL, "shell on anvil; default the anvil's"),

    PLAIN(FOAM, "like", TEXT, "eps", "the foam that gives all values not given here"),
    VALUE(FOAM, "density", DENSITY, ABOVE_0, 2000, NULL, "density of the foam; a layer then needs none"),
    VALUE(FOAM, "collapse_stress", STRESS, ABOVE_0, 1e9, NULL, "plateau stress, slow"),
    VALUE(FOAM, "stress_10", STRESS, ABOVE_0, 1e9, NULL,
          "stress at 10 % strain, in place of collapse_stress"),
    VALUE(FOAM, "youngs_modulus", STRESS, ABOVE_0, 1e11, NULL, "initial slope"),
    VALUE(FOAM, "hardening", STRESS, 0, 1e10, NULL, "slope of the plateau"),
    VALUE(FOAM, "gas_pressure", STRESS, 0, 1e8, NULL, "absolute; 0 for open cells"),
    VALUE(FOAM, "solid_density", DENSITY, ABOVE_0, 20000, NULL, "of the polymer"),
    CHOICE(FOAM, "knee", "rounded, sharp", NULL, "how the virgin curve turns into the plateau"),
    VALUE(FOAM, "rate_gain", NUMBER, 0, 10, NULL, "gain of the plateau per decade of strain rate"),
    VALUE(FOAM, "rate_reference", RATE, ABOVE_0, 1e6, NULL, "strain rate of the slow test"),
    VALUE(FOAM, "rate_time", TIME, 0, 1, NULL, "time constant of the rate state"),
    VALUE(FOAM, "unloading_softening", NUMBER, 0, 1000, NULL, "a in E/(1 + a kappa)"),
    VALUE(FOAM, "tensile_strength", STRESS, 0, 1e9, NULL, "of uncrushed foam"),
    VALUE(FOAM, "crushed_tension", STRESS, 0, 1e9, NULL, "of crushed foam"),
    VALUE(FOAM, "shear_modulus", STRESS, ABOVE_0, 1e11, NULL, "initial"),
    VALUE(FOAM, "shear_strength", STRESS, 0, 1e9, NULL, "without pressure"),
    VALUE(FOAM, "shear_friction", NUMBER, 0, 5, NULL, "gain of the shear strength with pressure"),
    VALUE(FOAM, "densification_modulus", STRESS, 0, 1e11, NULL, "required for open cells"),
    PLAIN(FOAM, "temperature", OWN, NULL, "pairs [temperature, factor], temperatures ascending"),
    HOLDS(FOAM, "curves", LIST, CURVE, 64, "measured curves in place of the formula"),

    VALUE(CURVE, "density", DENSITY, ABOVE_0, 2000, NULL, "of the specimen, required"),
    PLAIN(CURVE, "file", TEXT, NULL, "CSV of strain and stress, required"),

    VALUE(PAD, "area", AREA, ABOVE_0, 10, NULL, "area of the stack, required"),
    HOLDS(PAD, "layers", LIST, LAYER, LINER_LAYERS,
          "from the face on the anvil to the face under the striker"),

    VALUE(STRIKER, "mass", MASS, ABOVE_0, 10000, NULL, "required"),

    PLAIN(SOLVER, "gravity", BOOLEAN, "true", "gravity acts during the impact"),
    WHOLE(SOLVER, "rings", 4, 1024, "48", "rings about the site"),
    VALUE(SOLVER, "cell", LENGTH, 1e-5, 0.05, "1.75 mm",
          "size of a cell through the thickness, less than the thinnest layer where it is given"),
    VALUE(SOLVER, "duration", TIME, 1e-4, 1, "25 ms", "longest time computed"),
    VALUE(SOLVER, "phi_max", ANGLE, 5 * DEGREE, 90 * DEGREE, "80 deg", "half angle of the part computed"),
    VALUE(SOLVER, "opening_hoop", FRACTION, ABOVE_0, 1, "0.25",
          "share of opening at which a ring's hoop counts as cut; common practice, no source"),
    VALUE(
        SOLVER, "snapshots", TIME, 1e-5, 1, "2 ms",
        "time between two pictures of the cross-section that the result keeps (model axisymmetric); the one "
        "at the largest crush is kept besides"),

    CHOICE(SIZE, "take_up", "comfort, inner layer, gap", NULL,
           "what absorbs the change of the head's radius; absent: what a smaller head leaves goes to `fill`"),

    PLAIN(PROGRAMME_USE, "name", TEXT, NULL, "a name of `foampulse list programmes`, or a path"),
    PLAIN(PROGRAMME_USE, "sizes", OWN, NULL, "sizes of the case that are struck: [M, L]; default all"),
    PLAIN(PROGRAMME_USE, "temperatures", OWN, NULL,
          "conditions of the programme that are wanted: [cold, ambient]; default all"),
    CHOICE(PROGRAMME_USE, "speed", "nominal, highest", "nominal", "of the tests; highest: tolerance added"),

    PLAIN(PROGRAMME, "title", TEXT, "", "one line"),
    PLAIN(PROGRAMME, "source", TEXT, "", "the standard, and whether its text was read"),
    HOLDS(PROGRAMME, "headforms", MAPPING, PROGRAMME_HEADFORMS, 0, "headforms that it strikes, required"),
    PLAIN(PROGRAMME, "sites", OWN, NULL, "names of sites: [P, B, R, X-right]"),
    PLAIN(PROGRAMME, "other_side", OWN, NULL,
          "sites struck as well where the regions are not the same on both sides"),
    PLAIN(PROGRAMME, "anvils", OWN, NULL, "names of anvils, for tests that name none"),
    PLAIN(PROGRAMME, "conditions", OWN, NULL, "names with temperatures: {ambient: 23 degC, cold: -20 degC}"),
    HOLDS(PROGRAMME, "sample", MAPPING, PROGRAMME_SAMPLE, 0,
          "what one helmet takes in the laboratory (`foampulse plan`); absent: nothing is known"),
    HOLDS(PROGRAMME, "tests", LIST, TEST, 64, "each strikes every site on every anvil in every condition"),
    PLAIN(PROGRAMME, "not_covered", OWN, NULL, "tests of impacts that are not in the list of tests"),
    PLAIN(PROGRAMME, "outside", OWN, NULL, "tests of the standard that the model does not touch"),

    PLAIN(PROGRAMME_HEADFORMS, "set", TEXT, "en-960", "a set of `foampulse list headforms`"),
    PLAIN(PROGRAMME_HEADFORMS, "sizes", OWN, NULL, "sizes of the set: [A, E, J], required"),

    WHOLE(PROGRAMME_SAMPLE, "impacts", 1, 1000, NULL,
          "most impacts of one helmet, the hits of one impact counted once; default any number"),
    VALUE(PROGRAMME_SAMPLE, "apart", LENGTH, ABOVE_0, 0.5, NULL,
          "least distance of two points that are struck on one helmet, along the inner face of its shell"),
    PLAIN(PROGRAMME_SAMPLE, "provenance", TEXT, "given in the programme", "where these come from"),

    PLAIN(TEST, "name", NAME, NULL, "required"),
    PLAIN(TEST, "anvils", OWN, NULL, "names of `foampulse list anvils`; default the programme's"),
    PLAIN(TEST, "sites", OWN, NULL, "default the programme's"),
    PLAIN(TEST, "conditions", OWN, NULL, "names of the programme's conditions; default all"),
    PLAIN(TEST, "towards", OWN, NULL, "of an oblique anvil: as of an impact"),
    VALUE(TEST, "speed", SPEED, ABOVE_0, 100, NULL, "one of speed, drop_height, energy, hits is required"),
    VALUE(TEST, "drop_height", LENGTH, ABOVE_0, 500, NULL, "speed from sqrt(2 g h), g = 9.80665 m/s2"),
    VALUE(TEST, "energy", ENERGY, ABOVE_0, 1e6, NULL, "speed from the headform's mass"),
    PLAIN(TEST, "hits", OWN, NULL, "list of speeds, drop heights or energies on one and the same helmet"),
    VALUES(TEST, "tolerance", SPEED, 2, 0, 5, "of the speed, below and above"),
    PLAIN(TEST, "limits", OWN, NULL,
          "limits by metric, `none`, or `not established` where no limit is known; required"),
    PLAIN(TEST, "provenance", TEXT, "given in the programme", "where the numbers of the limits come from"),
    PLAIN(TEST, "source", TEXT, "", "default the programme's"),

    PLAIN(SWEEP, "vary", OWN, NULL,
          "paths with their values: {PATH: {from, to, step}, PATH: {from, to, count}, PATH: [a, b]}"),
    CHOICE(SWEEP, "sample", "grid, latin, sobol", "grid",
           "grid: every combination; latin: Latin hypercube; sobol: Sobol sequence"),
    WHOLE(SWEEP, "points", 1, 1e6, "500", "layouts of latin and sobol"),
    WHOLE(SWEEP, "seed", 0, 1e9, "1", "of latin and sobol; sobol with 0 is the sequence as published"),

    PLAIN(VARY, "from", TEXT, NULL, "first value"),
    PLAIN(VARY, "to", TEXT, NULL, "last value, in the same unit"),
    PLAIN(VARY, "step", TEXT, NULL, "between two values; divides the range"),
    PLAIN(VARY, "count", TEXT, NULL,
          "number of values, both ends included; without step and count: any value"),

    PLAIN(TUNE, "objective", TEXT, "worst margin",
          "`worst margin` is made large, or a metric (`foampulse list metrics`) small, its largest value "
          "over the "
          "hits"),
    PLAIN(TUNE, "keep", OWN, NULL,
          "bounds: {helmet_mass: {max: 1.45 kg}, stroke_left: {min: 20 %}, METRIC: {max: VALUE}}"),
    PLAIN(TUNE, "steps", OWN, NULL,
          "by last word of the path, the multiples that a range without step keeps to: {density: 5 kg/m3}"),
    WHOLE(TUNE, "runs", 3, 10000, "200", "layouts to run at most, the case as written one of them"),

    PLAIN(KEEP, "max", TEXT, NULL, "no more"),
    PLAIN(KEEP, "min", TEXT, NULL, "no less"),

    PLAIN(TOLERANCE, "scatter", OWN, NULL,
          "paths with {half_range, shared} or {sd, shared}, and impacts.*.speed: programme; default every "
          "density of the foam by 9 kg/m3, half of it shared"),
    VALUE(TOLERANCE, "factor", NUMBER, 0, 10, "2.4", "k of mean + k s; the default is from memory"),
    WHOLE(TOLERANCE, "runs", 10, 1e5, "400", "layouts solved, beside the case as written"),
    WHOLE(TOLERANCE, "seed", 0, 1e9, "1", "of the Latin hypercube"),

    PLAIN(SCATTER, "half_range", TEXT, NULL,
          "values lie within the one written plus or minus this; lot and local part are even each"),
    PLAIN(SCATTER, "sd", TEXT, NULL,
          "standard deviation of normally distributed values, in place of half_range"),
    VALUE(
        SCATTER, "shared", FRACTION, 0, 1, "0 %",
        "lot part, common to all places of the path: of the half range, or of the variance with sd; the rest "
        "is each place's own"),
};
const size_t schema_count = sizeof schema_table / sizeof *schema_table;

static const char *const group_titles[SCHEMA_GROUP_COUNT] = {
    [SCHEMA_CASE] = "a case",
    [SCHEMA_HEADFORM] = "`headform`",
    [SCHEMA_SHELL] = "`shell`",
    [SCHEMA_COMFORT] = "`comfort`",
    [SCHEMA_WET] = "`wet`",
    [SCHEMA_FIT] = "`fit`",
    [SCHEMA_LINER] = "`liner`",
    [SCHEMA_REGION] = "a region",
    [SCHEMA_REGION_COMFORT] = "`comfort` of a region",
    [SCHEMA_AREA] = "an area",
    [SCHEMA_LAYER] = "a layer",
    [SCHEMA_PART] = "a part of `parallel`",
    [SCHEMA_IMPACT] = "an impact",
    [SCHEMA_ANVIL] = "an anvil",
    [SCHEMA_FRICTION] = "`friction`",
    [SCHEMA_FOAM] = "an own foam",
    [SCHEMA_CURVE] = "a curve",
    [SCHEMA_PAD] = "`pad`",
    [SCHEMA_STRIKER] = "`striker`",
    [SCHEMA_SOLVER] = "`solver`",
    [SCHEMA_SIZE] = "a size",
    [SCHEMA_SWEEP] = "`sweep`",
    [SCHEMA_VARY] = "a range",
    [SCHEMA_TUNE] = "`tune`",
    [SCHEMA_KEEP] = "a bound",
    [SCHEMA_TOLERANCE] = "`tolerance`",
    [SCHEMA_SCATTER] = "what scatters",
    [SCHEMA_PROGRAMME_USE] = "`programme`",
    [SCHEMA_PROGRAMME] = "a programme",
    [SCHEMA_PROGRAMME_HEADFORMS] = "`headforms`",
    [SCHEMA_PROGRAMME_SAMPLE] = "`sample`",
    [SCHEMA_TEST] = "a test of a programme",
};

const char *schema_group_title(enum schema_group group)
{
    return group_titles[group];
}

const struct schema_key *schema_find(enum schema_group group, const char *name)
{
    for (size_t i = 0; i < schema_count; i++) {
        if (schema_table[i].group == group && strcmp(schema_table[i].name, name) == 0)
            return &schema_table[i];
    }
    return NULL;
}

int schema_is_name(const char *text)
{
    size_t length = strlen(text);
    if (length < 1 || length > 40 || !isalpha((unsigned char)text[0]) || text[length - 1] == ' ')
        return 0;
    for (const char *letter = text; *letter; letter++) {
        unsigned char c = (unsigned char)*letter;
        if (c > 127 || (!isalnum(c) && c != ' ' && c != '-' && c != '_'))
            return 0;
    }
    return 1;
}

/* Appends a word to a list in a text of fixed size, with a comma before all but the first. */
static void text_append(char *text, size_t size, const char *word)
{
    size_t length = strlen(text);
    snprintf(text + length, size - length, "%s%s", length ? ", " : "", word);
}

enum { NAMES_MAX = 128 };

enum status schema_unknown(const struct tree *tree, const struct node *node, const char *what,
                           const char *word, const char *const *names, size_t count, struct errors *errors)
{
    char allowed[ERROR_TEXT] = "";
    for (size_t i = 0; i < count; i++)
        text_append(allowed, sizeof allowed, names[i]);
    const char *nearest = units_nearest(word, names, count);
    return node_error(tree, node, errors, "%s '%.60s' is not known%s%s%s; allowed: %s", what, word,
                      nearest ? "; nearest: '" : "", nearest ? nearest : "", nearest ? "'" : "", allowed);
}

/* Keys of this version in a group. */
static size_t group_names(enum schema_group group, const char *names[NAMES_MAX])
{
    size_t count = 0;
    if (group == SCHEMA_CASE)
        names[count++] = "include"; /* read before all else */
    for (size_t i = 0; i < schema_count; i++) {
        if (schema_table[i].group == group) {
            assert(count < NAMES_MAX);
            names[count++] = schema_table[i].name;
        }
    }
    return count;
}

/* "material, thickness, ...": the keys of a group, for messages. */
static void group_keys(enum schema_group group, char *text, size_t size)
{
    const char *names[NAMES_MAX];
    size_t count = group_names(group, names);
    text[0] = '\0';
    for (size_t i = 0; i < count; i++)
        text_append(text, size, names[i]);
}

static int unknown_key(const struct tree *tree, const struct node *key, enum schema_group group,
                       struct errors *errors)
{
    const char *names[NAMES_MAX];
    char what[64];
    size_t count = group_names(group, names);
    snprintf(what, sizeof what, "key of %s", group_titles[group]);
    schema_unknown(tree, key, what, key->text, names, count, errors);
    return 0;
}

/* Words of a choice as a list of names; `store` holds the text. */
static size_t choice_words(const char *choices, char store[256], const char *words[16])
{
    size_t count = 0;
    snprintf(store, 256, "%s", choices);
    for (char *at = store; at && count < 16;) {
        char *comma = strstr(at, ", ");
        words[count++] = at;
        if (comma)
            *comma = '\0';
        at = comma ? comma + 2 : NULL;
    }
    return count;
}

static int check_choice(const struct tree *tree, const struct node *value, const struct schema_key *key,
                        struct errors *errors)
{
    char store[256];
    const char *words[16];
    size_t count = choice_words(key->choices, store, words);
    for (size_t i = 0; i < count; i++) {
        if (strcmp(words[i], value->text) == 0)
            return 1;
    }
    char what[64];
    snprintf(what, sizeof what, "`%s`", key->name);
    schema_unknown(tree, value, what, value->text, words, count, errors);
    return 0;
}

/* A value outside its range, named in the unit that reports use. */
static int out_of_range(const struct tree *tree, const struct node *value, const struct schema_key *key,
                        struct errors *errors)
{
    char low[48], high[48];
    units_write(key->quantity, key->low == ABOVE_0 ? 0 : key->low, low, sizeof low);
    units_write(key->quantity, key->high, high, sizeof high);
    if (key->low == ABOVE_0)
        node_error(tree, value, errors, "`%s` must be above 0, and %s at most; got %.40s", key->name, high,
                   value->text);
    else
        node_error(tree, value, errors, "`%s` must be from %s to %s; got %.40s", key->name, low, high,
                   value->text);
    return 0;
}

static int check_quantity(const struct tree *tree, const struct node *value, const struct schema_key *key,
                          struct errors *errors)
{
    char message[UNITS_MESSAGE];
    double si;
    if (value->kind != NODE_SCALAR || value->quoted || value->text[0] == '\0') {
        node_error(tree, value, errors, "`%s` takes one value without quotes, a %s: %s", key->name,
                   units_quantity_name(key->quantity), units_allowed(key->quantity));
        return 0;
    }
    if (!units_read(key->quantity, value->text, &si, message)) {
        node_error(tree, value, errors, "`%s`: %s", key->name, message);
        return 0;
    }
    /* Bounds in degrees are products: let the last bit pass. */
    double slack = 1e-12 * fabs(key->high);
    if (si < (key->low == ABOVE_0 ? ABOVE_0 : key->low - slack) || si > key->high + slack)
        return out_of_range(tree, value, key, errors);
    return 1;
}

static int check_whole(const struct tree *tree, const struct node *value, const struct schema_key *key,
                       struct errors *errors)
{
    char message[UNITS_MESSAGE];
    double number;
    if (value->kind == NODE_SCALAR && !value->quoted && units_number(value->text, &number, message) &&
        number == floor(number) && number >= key->low && number <= key->high)
        return 1;
    node_error(tree, value, errors, "`%s` takes a whole number from %g to %g", key->name, key->low,
               key->high);
    return 0;
}

static int check_list_of_values(const struct tree *tree, const struct node *value,
                                const struct schema_key *key, struct errors *errors)
{
    if (value->kind != NODE_SEQUENCE || value->count != key->items) {
        node_error(tree, value, errors, "`%s` takes a list of %zu values: [.., ..]", key->name, key->items);
        return 0;
    }
    int sound = 1;
    for (size_t i = 0; i < value->count; i++)
        sound &= check_quantity(tree, value->items[i], key, errors);
    return sound;
}

static int check_direction(const struct tree *tree, const struct node *value, const struct schema_key *key,
                           struct errors *errors)
{
    static const struct schema_key parts[2] = {
        VALUE(CASE, "elevation", ANGLE, -90 * DEGREE, 90 * DEGREE, NULL, ""),
        VALUE(CASE, "azimuth", ANGLE, -180 * DEGREE, 180 * DEGREE, NULL, ""),
    };
    if (value->kind != NODE_SEQUENCE || value->count != 2) {
        node_error(tree, value, errors, "`%s` takes a direction: [elevation, azimuth]", key->name);
        return 0;
    }
    int sound = check_quantity(tree, value->items[0], &parts[0], errors);
    return check_quantity(tree, value->items[1], &parts[1], errors) && sound;
}

static int check_list_of_mappings(const struct tree *tree, const struct node *value,
                                  const struct schema_key *key, struct errors *errors)
{
    if (value->kind != NODE_SEQUENCE) {
        char keys[ERROR_TEXT];
        group_keys(key->inner, keys, sizeof keys);
        node_error(tree, value, errors, "`%s` takes a list, each item `- {...}` with the keys %s", key->name,
                   keys);
        return 0;
    }
    if (value->count == 0 || value->count > key->items) {
        /* the place is that of the first item too many */
        node_error(tree, value->count ? value->items[key->items] : value, errors,
                   "`%s` takes 1 to %zu items; got %zu", key->name, key->items, value->count);
        return 0;
    }
    int sound = 1;
    for (size_t i = 0; i < value->count; i++)
        sound &= schema_check(tree, value->items[i], key->inner, errors);
    return sound;
}

static int check_named(const struct tree *tree, const struct node *value, const struct schema_key *key,
                       struct errors *errors)
{
    if (value->kind != NODE_MAPPING) {
        node_error(tree, value, errors, "`%s` takes names of your own: {NAME: {...}, ...}", key->name);
        return 0;
    }
    int sound = 1;
    for (size_t i = 0; i < value->count; i++) {
        if (!schema_is_name(value->keys[i]->text)) {
            node_error(tree, value->keys[i], errors,
                       "a name has 1 to 40 letters, digits, spaces, - or _, and starts with a letter");
            sound = 0;
        }
        sound &= schema_check(tree, value->items[i], key->inner, errors);
    }
    return sound;
}

static int check_scalar(const struct tree *tree, const struct node *value, const struct schema_key *key,
                        struct errors *errors)
{
    if (value->kind != NODE_SCALAR || (value->text[0] == '\0' && !value->quoted)) {
        node_error(tree, value, errors, "`%s` takes a %s", key->name,
                   key->kind == SCHEMA_BOOLEAN  ? "true or false"
                   : key->kind == SCHEMA_CHOICE ? key->choices
                                                : "text");
        return 0;
    }
    if (key->kind == SCHEMA_CHOICE)
        return check_choice(tree, value, key, errors);
    if (key->kind == SCHEMA_NAME && !schema_is_name(value->text)) {
        node_error(tree, value, errors,
                   "a name has 1 to 40 letters, digits, spaces, - or _, and starts with a letter");
        return 0;
    }
    if (key->kind == SCHEMA_BOOLEAN &&
        (value->quoted || (strcmp(value->text, "true") != 0 && strcmp(value->text, "false") != 0))) {
        node_error(tree, value, errors, "`%s` takes true or false; got %.40s", key->name, value->text);
        return 0;
    }
    return 1;
}

int schema_check_value(const struct tree *tree, const struct node *value, const struct schema_key *key,
                       struct errors *errors)
{
    switch (key->kind) {
    case SCHEMA_QUANTITY:
        return check_quantity(tree, value, key, errors);
    case SCHEMA_WHOLE:
        return check_whole(tree, value, key, errors);
    case SCHEMA_TEXT:
    case SCHEMA_NAME:
    case SCHEMA_CHOICE:
    case SCHEMA_BOOLEAN:
        return check_scalar(tree, value, key, errors);
    case SCHEMA_QUANTITIES:
        return check_list_of_values(tree, value, key, errors);
    case SCHEMA_DIRECTION:
        return check_direction(tree, value, key, errors);
    case SCHEMA_MAPPING:
        return schema_check(tree, value, key->inner, errors);
    case SCHEMA_LIST:
        return check_list_of_mappings(tree, value, key, errors);
    case SCHEMA_NAMED:
        return check_named(tree, value, key, errors);
    case SCHEMA_OWN:
        break;
    }
    return 1;
}

int schema_check(const struct tree *tree, const struct node *mapping, enum schema_group group,
                 struct errors *errors)
{
    if (mapping->kind != NODE_MAPPING) {
        char keys[ERROR_TEXT];
        group_keys(group, keys, sizeof keys);
        node_error(tree, mapping, errors, "%s is written as keys with values; keys: %s", group_titles[group],
                   keys);
        return 0;
    }
    int sound = 1;
    for (size_t i = 0; i < mapping->count; i++) {
        const struct schema_key *key = schema_find(group, mapping->keys[i]->text);
        if (!key) {
            sound = unknown_key(tree, mapping->keys[i], group, errors);
        } else {
            sound &= schema_check_value(tree, mapping->items[i], key, errors);
        }
    }
    return sound;
}

/* The row of a key that the program itself asks for. */
static const struct schema_key *known(enum schema_group group, const char *name)
{
    const struct schema_key *key = schema_find(group, name);
    assert(key);
    return key;
}

double schema_quantity(const struct node *mapping, enum schema_group group, const char *name)
{
    const struct schema_key *key = known(group, name);
    const struct node *value = mapping ? node_get(mapping, name) : NULL;
    const char *text = value ? value->text : key->fallback;
    char message[UNITS_MESSAGE];
    double si = NAN;
    if (text && !units_read(key->kind == SCHEMA_WHOLE ? QUANTITY_NUMBER : key->quantity, text, &si, message))
        return NAN;
    return si;
}

const char *schema_text(const struct node *mapping, enum schema_group group, const char *name)
{
    const struct schema_key *key = known(group, name);
    const struct node *value = mapping ? node_get(mapping, name) : NULL;
    return value ? value->text : key->fallback ? key->fallback : "";
}

int schema_flag(const struct node *mapping, enum schema_group group, const char *name)
{
    return strcmp(schema_text(mapping, group, name), "true") == 0;
}

double schema_item(const struct node *mapping, enum schema_group group, const char *name, size_t index)
{
    const struct schema_key *key = known(group, name);
    const struct node *value = mapping ? node_get(mapping, name) : NULL;
    enum quantity quantity = key->kind == SCHEMA_DIRECTION ? QUANTITY_ANGLE : key->quantity;
    char message[UNITS_MESSAGE];
    double si;
    if (!value || value->kind != NODE_SEQUENCE || index >= value->count ||
        !units_read(quantity, value->items[index]->text, &si, message))
        return NAN;
    return si;
}
