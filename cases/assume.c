#include "cases/assume.h"

#include <math.h>
#include <string.h>

#include "cases/result.h"
#include "solver/impact/columns.h"
#include "solver/impact/headform.h"

struct notes {
    char ***list;
    size_t *count;
    enum status status;
};

/* Adds a line when a condition holds; after a failure nothing more. */
#define NOTE_IF(notes, condition, ...)                                                                       \
    do {                                                                                                     \
        if ((condition) && (notes)->status == STATUS_OK)                                                     \
            (notes)->status = result_note((notes)->list, (notes)->count, __VA_ARGS__);                       \
    } while (0)

static void note_headform(struct notes *notes, const struct case_file *file)
{
    const struct case_headform *headform = &file->headform;
    int ellipsoid = !headform->sphere && isnan(headform->radius) && !isnan(headform->circumference);
    int own_height = headform->place && node_get(headform->place, "half_height");
    NOTE_IF(
        notes, ellipsoid && !own_height,
        "half height of the headform %.1f mm = sqrt(half length x half breadth): common practice, no source",
        1e3 * headform->half_axes[2]);
    NOTE_IF(notes, strncmp(headform->provenance, "memory", 6) == 0, "headform mass %.4g kg: %s",
            headform->mass, headform->provenance);
}

static int any_hits(const struct case_file *file)
{
    for (size_t i = 0; i < file->impact_count; i++) {
        if (file->impacts[i].hit_count > 1)
            return 1;
    }
    return 0;
}

static int default_friction(const struct case_file *file)
{
    for (size_t i = 0; i < file->impact_count; i++) {
        if (isnan(file->impacts[i].head_friction))
            return 1;
    }
    return 0;
}

static void note_shell(struct notes *notes, const struct case_file *file)
{
    const struct case_shell *shell = &file->shell;
    int own_edge = shell->place && node_get(shell->place, "lower_edge");
    NOTE_IF(notes, !own_edge, "no lower edge is given: shell and liner end at %.4g deg",
            file->map.edge_elevation[0] * 180 / 3.14159265358979323846);
    NOTE_IF(notes, !shell->present, "no shell is given: a bare liner");
    NOTE_IF(notes, shell->present && !shell->loose, "the liner is bonded to the shell");
    NOTE_IF(notes, shell->loose, "the shell lies loose on the liner, friction %g%s", shell->bond_friction,
            node_get(shell->place, "bond_friction") ? "" : ": from memory, unchecked");
    NOTE_IF(notes, file->layers_slip,
            "layers of the liner slip on each other and part, friction %g%s; by columns that changes nothing",
            file->slip_friction, file->slip_place ? "" : ": from memory, unchecked");
    NOTE_IF(
        notes, shell->present,
        "a site with the border of the foam on its rings is solved with the shell's hoop stiffness kept in "
        "proportion on rings with openings, and cut where they are %.3g %% open (opening_hoop: common "
        "practice, no source)",
        100 * file->solver.opening_hoop);
    NOTE_IF(notes, shell->present && isnan(shell->helmet_mass) && shell->extra_mass == 0,
            "no extra mass (chin bar, visor, hardware)");
}

/* Whether an impact is hot or cold: outside the 17 to 27 degC of ambient tests, 16 CFR 1203.8. */
static int any_not_ambient(const struct case_file *file)
{
    for (size_t i = 0; i < file->impact_count; i++) {
        if (!(file->impacts[i].temperature >= 17 && file->impacts[i].temperature <= 27))
            return 1;
    }
    return 0;
}

/* Whether an impact has a condition; the temperatures of programmes are their own. */
static int any_condition(const struct case_file *file, const char *condition, int of_programmes)
{
    for (size_t i = 0; i < file->impact_count; i++) {
        if ((of_programmes || file->impacts[i].own) && strcmp(file->impacts[i].condition, condition) == 0)
            return 1;
    }
    return 0;
}

static void note_wet(struct notes *notes, const struct case_file *file)
{
    int own = any_condition(file, "wet", 0), any = any_condition(file, "wet", 1), none = !file->wet.place;
    NOTE_IF(notes, own && none, "wet helmets are computed as ambient ones at 23 degC");
    NOTE_IF(notes, any && !own && none, "wet helmets are computed as dry ones of the same temperature");
    NOTE_IF(
        notes, any && !none,
        "wet helmets: pressure of the padding times %g, default friction on the head times %g; else as dry "
        "ones of the same temperature",
        file->wet.comfort_factor, file->wet.friction_factor);
}

static void note_skin(struct notes *notes, const struct case_file *file)
{
    const struct headform_skin *skin = headform_skin_find(file->headform.skin);
    if (file->pad.present || !skin)
        return;
    NOTE_IF(notes, default_friction(file), "friction of the liner on the head %g, headform %s: %s (%s)",
            skin->friction, skin->name, skin->source, skin->provenance);
    NOTE_IF(notes, skin != &headform_skins[0], "the %s skin of the headform has friction but no compliance",
            skin->name);
}

/* Friction of a face that nobody gave: of each kind once. */
static void note_faces(struct notes *notes, const struct case_file *file)
{
    int abrasive = 0, bare = 0;
    for (size_t i = 0; i < file->impact_count; i++) {
        const struct case_impact *impact = &file->impacts[i];
        const struct anvil_info *info = anvil_find(impact->anvil.name);
        double usual = info ? info->friction : ANVIL_BARE_FRICTION;
        if (impact->angle == 0 || impact->anvil.friction != usual)
            continue;
        bare |= usual == ANVIL_BARE_FRICTION;
        abrasive |= usual != ANVIL_BARE_FRICTION;
    }
    NOTE_IF(notes, abrasive, "friction of the shell on abrasive paper 0.55 (Mills et al. 2009)");
    NOTE_IF(notes, bare,
            "friction of the shell on a face without abrasive %g: ABS on steel, a data sheet (secondary "
            "source)",
            ANVIL_BARE_FRICTION);
}

static int any_oblique(const struct case_file *file)
{
    for (size_t i = 0; i < file->impact_count; i++) {
        if (file->impacts[i].angle > 0)
            return 1;
    }
    return 0;
}

static void note_rotation(struct notes *notes, const struct case_file *file)
{
    const struct case_headform *headform = &file->headform;
    const double *offset = headform->cg_offset;
    int oblique = any_oblique(file), offset_given = offset[0] != 0 || offset[1] != 0 || offset[2] != 0;
    if (file->pad.present || (!oblique && !offset_given))
        return;
    note_faces(notes, file);
    NOTE_IF(notes, headform->inertia_assumed,
            "moments of inertia of the headform %.4f, %.4f, %.4f kg m2 (forward, right, down): assumed, a "
            "uniform ellipsoid of its size and mass; no limit on rotation is decided by them",
            headform->inertia[0], headform->inertia[1], headform->inertia[2]);
    NOTE_IF(
        notes, isnan(file->shell.helmet_inertia[0]),
        "moment of inertia of the helmet from its geometry; what lies outside of the site's rings and extra "
        "mass spread evenly over the shell's sphere");
    NOTE_IF(notes, oblique && !offset_given, "the headform's centre of gravity lies in its centre");
    NOTE_IF(notes, oblique,
            "the impact along the face's normal is not changed by the motion along the face: friction and "
            "shear act on rotation and sliding only");
    NOTE_IF(notes, oblique,
            "head and shell move along the face as one: a shift of the shell over the head is neglected, "
            "though the sides resist it");
    NOTE_IF(notes, oblique && file->comfort.foam[0],
            "comfort padding does not shear: it holds the head by friction alone");
    NOTE_IF(
        notes, oblique,
        "the liner in shear flows at half its plateau + pressure x tan 20 deg: from memory, but not above "
        "its shear strength");
}

static void note_impacts(struct notes *notes, const struct case_file *file)
{
    NOTE_IF(notes, any_condition(file, "cold", 0), "cold is -20 degC: from memory, common practice");
    NOTE_IF(notes, any_condition(file, "hot", 0), "hot is 50 degC: from memory, common practice");
    NOTE_IF(
        notes, !file->pad.present && any_hits(file),
        "between two hits foam, shell and padding come to rest; crush stays but for what is `recovered`, and "
        "the head is as deep in the helmet as where it was crushed least");
    note_skin(notes, file);
    note_rotation(notes, file);
    note_wet(notes, file);
    NOTE_IF(notes, file->shell.present && file->shell.temperature_count == 0 && any_not_ambient(file),
            "the shell is as stiff and strong at every temperature (shell: temperature gives a table)");
}

static int any_shape(const struct case_file *file, enum anvil_shape shape)
{
    for (size_t i = 0; i < file->impact_count; i++) {
        if (file->impacts[i].angle == 0 && strcmp(file->impacts[i].anvil.shape, anvil_table[shape].name) == 0)
            return 1;
    }
    return 0;
}

/* Whether an impact falls on a shape with the usual value of a size. */
static int any_usual(const struct case_file *file, enum anvil_shape shape, enum anvil_size size)
{
    double usual = anvil_ranges[shape][size].usual;
    for (size_t i = 0; i < file->impact_count; i++) {
        const struct case_anvil *anvil = &file->impacts[i].anvil;
        double here = anvil->sizes.of[size];
        if (file->impacts[i].angle == 0 && strcmp(anvil->shape, anvil_table[shape].name) == 0 &&
            here == usual)
            return 1;
    }
    return 0;
}

/* Anvils that are not what they are in the laboratory. */
static void note_anvils(struct notes *notes, const struct case_file *file)
{
    for (int shape = 0; shape < ANVIL_SHAPE_COUNT; shape++) {
        const struct anvil_info *info = &anvil_table[shape];
        int usual = 0;
        for (int size = 0; size < ANVIL_SIZE_COUNT; size++)
            usual |= any_usual(file, info->shape, (enum anvil_size)size);
        NOTE_IF(
            notes, anvil_equal_overlap(info->shape) && any_shape(file, info->shape),
            "%s: equal-overlap anvil, a body of revolution that meets the same area of the undeformed outer "
            "surface at every depth%s",
            info->name, usual ? "; usual sizes from memory" : "");
    }
    NOTE_IF(notes, any_usual(file, ANVIL_KERBSTONE, ANVIL_LENGTH),
            "a kerbstone without `length` is longer than the contact");
}

/* What holds parts apart in the computation, and what it loses. */
static void note_contacts(struct notes *notes, const struct case_file *file)
{
    double damping = columns_setup_default().contact_damping;
    int padded = file->comfort.foam[0] != '\0';
    NOTE_IF(notes, file->pad.present, "striker and pad join at first touch without rebound");
    if (file->pad.present)
        return;
    NOTE_IF(
        notes, file->shell.present,
        "the shell meets the anvil through a penalty of %g m/dt2, damped at %g of critical, at most %g m/dt",
        PENALTY_ON_SHELL, damping, PENALTY_MOST_DAMPING);
    NOTE_IF(notes, !file->shell.present || !padded,
            "foam meets %s through a penalty of %g m/dt2, damped at %g of critical, at most %g m/dt",
            file->shell.present ? "the head"
            : padded            ? "the anvil"
                                : "anvil and head",
            PENALTY_ON_FOAM, damping, PENALTY_MOST_DAMPING);
    NOTE_IF(notes, padded,
            "comfort padding loses %g %% of the work of closing it: from memory; closed beyond %g %% of its "
            "thickness it is damped as foam on the head is, at %g of critical",
            100 * comfort_default(1).loss, 100 * COMFORT_SHUT, damping);
}

enum status case_assumptions(const struct case_file *file, char ***list, size_t *count)
{
    struct notes notes = {.list = list, .count = count};
    if (!file->pad.present) {
        note_headform(&notes, file);
        note_shell(&notes, file);
        NOTE_IF(&notes, file->mismatch == 0, "the head fits the cavity all round (fit: mismatch 0 mm)");
    }
    note_contacts(&notes, file);
    if (!file->pad.present)
        note_anvils(&notes, file);
    note_impacts(&notes, file);
    return notes.status;
}

/* Smallest expanded beads of EPS [m] at a density [kg/m3]: a guide of a raw-bead supplier (secondary). */
static const struct {
    double density, bead;
} beads[] = {{20, 1.5e-3}, {25, 1.3e-3}, {30, 1.2e-3}, {45, 1.0e-3}};
enum { BEADS = sizeof beads / sizeof *beads };

/* Linear between the rows; 0 outside them. */
static double smallest_bead(double density)
{
    for (size_t i = 0; i + 1 < BEADS; i++) {
        double along = (density - beads[i].density) / (beads[i + 1].density - beads[i].density);
        if (along >= 0 && along <= 1)
            return beads[i].bead + along * (beads[i + 1].bead - beads[i].bead);
    }
    return 0;
}

/* The density of EPS in a stack whose beads are the largest against the cells. */
static void look_for_beads(const struct case_layer *layers, size_t count, double *bead, double *density)
{
    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < layers[i].part_count; k++) {
            const struct case_part *part = &layers[i].parts[k];
            double here = strcmp(part->foam, "eps") == 0 ? smallest_bead(part->density) : 0;
            if (here > *bead) {
                *bead = here;
                *density = part->density;
            }
        }
    }
}

enum status case_warnings(const struct case_file *file, char ***list, size_t *count)
{
    struct notes notes = {.list = list, .count = count};
    double bead = 0, density = 0;
    look_for_beads(file->pad.layers, file->pad.layer_count, &bead, &density);
    for (size_t i = 0; i < file->region_count; i++)
        look_for_beads(file->regions[i].layers, file->regions[i].layer_count, &bead, &density);
    NOTE_IF(
        &notes, file->solver.cell < bead,
        "cells of %.3g mm are thinner than the smallest expanded bead of eps at %.3g kg/m3, %.3g mm, below "
        "which the foam is no continuum",
        1e3 * file->solver.cell, density, 1e3 * bead);
    size_t layers = 0;
    for (size_t i = 0; i < file->region_count; i++)
        layers = file->regions[i].layer_count > layers ? file->regions[i].layer_count : layers;
    NOTE_IF(&notes, file->layers_slip && layers < 2,
            "interface: slip changes nothing, as no region has two layers");
    return notes.status;
}
