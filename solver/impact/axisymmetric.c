#include "solver/impact/axisymmetric.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/impact/clock.h"
#include "solver/impact/section.h"

/*
 * Order of a step: strain and stress of the zones at the present places; forces of shell, anvil and head;
 * ledger when due; velocities and places; record.
 */

/* Of one border between layers that slip. */
struct slip_state {
    struct slide_state inside, outside;
};

static const double same_share = 1e-9; /* of the thickness, within which two places are one */

struct axisymmetric_state {
    struct zones_state zones;
    struct shell_state shell;
    struct contact_state contact;
    struct bearing_state bearing;
    struct loose_state loose; /* of a loose shell */
    struct oblique_state oblique;
    struct slip_state *slips;  /* (slip_count) */
    double *shell_r, *shell_z; /* (rings) nodes of the shell [m]; of a loose one those of `loose` */
    double *line_r, *line_z;   /* (rings) from the head's centre to the inner node */
    double *held;              /* (rings) friction of the head on the foam, along increasing phi [N] */
    double *memory;
    double head_z, head_velocity, head_force; /* upwards */
    double friction_loss, initial, height;    /* [J], [J], [kg m] of all masses at first touch */
    double weight;                            /* of all that falls [N] */
    double first_head_z;                      /* [m] at first touch */
    int hit_before;                           /* not a new helmet */
    double stored_before, sprung_before, shell_before,
        damage_before; /* [J] at first touch; 0 of a new helmet */
    struct section_recorder pictures;
};

static void state_free(const struct axisymmetric_model *model, struct axisymmetric_state *state)
{
    for (size_t k = 0; state->slips && k < model->slip_count; k++) {
        slide_state_free(&state->slips[k].inside);
        slide_state_free(&state->slips[k].outside);
    }
    memory_free(state->slips);
    zones_state_free(&state->zones);
    oblique_state_free(&state->oblique);
    shell_state_free(&state->shell);
    contact_state_free(&state->contact);
    bearing_state_free(&state->bearing);
    loose_state_free(&state->loose);
    snapshots_free(&state->pictures.snapshots);
    memory_free(state->memory);
}

/* The nodes of a bonded shell go with those of row 0. */
static void place_shell(const struct axisymmetric_model *model, struct axisymmetric_state *state)
{
    for (size_t i = 0; i < model->setup.helmet.rings; i++) {
        state->shell_r[i] = state->zones.r[i] + model->offset_r[i];
        state->shell_z[i] = state->zones.z[i] + model->offset_z[i];
    }
}

static enum status make_loose(const struct axisymmetric_model *model, struct axisymmetric_state *state)
{
    place_shell(model, state);
    struct loose_row first = {.r = state->shell_r, .z = state->shell_z};
    enum status status = loose_state_make(&model->loose, first, -model->setup.helmet.speed, &state->loose);
    state->shell_r = state->loose.r;
    state->shell_z = state->loose.z;
    return status;
}

static enum status make_slips(const struct axisymmetric_model *model, struct axisymmetric_state *state)
{
    state->slips = memory_zeroed(model->slip_count, sizeof *state->slips);
    enum status status = state->slips ? STATUS_OK : STATUS_MEMORY;
    for (size_t k = 0; k < model->slip_count && status == STATUS_OK; k++) {
        status = slide_state_make(&model->slips[k].inside, &state->slips[k].inside);
        if (status == STATUS_OK)
            status = slide_state_make(&model->slips[k].outside, &state->slips[k].outside);
    }
    return status;
}

static void fall(const struct axisymmetric_model *model, struct axisymmetric_state *state)
{
    for (size_t k = 0; k < model->zones.count + model->zones.stride; k++)
        state->zones.velocity_z[k] = model->zones.mass[k] > 0.0 ? -model->setup.helmet.speed : 0.0;
}

static enum status state_make(const struct axisymmetric_model *model, struct axisymmetric_state *state)
{
    size_t rings = model->setup.helmet.rings;
    *state = (struct axisymmetric_state){.head_z = model->first_z,
                                         .first_head_z = model->first_z,
                                         .head_velocity = -model->setup.helmet.speed};
    double *next = state->memory = memory_zeroed(5 * rings, sizeof *next);
    if (!next || !zones_state_make(&model->zones, &state->zones))
        return STATUS_MEMORY;
    double **const arrays[] = {&state->shell_r, &state->shell_z, &state->line_r, &state->line_z,
                               &state->held};
    for (size_t a = 0; a < sizeof arrays / sizeof *arrays; a++, next += rings)
        *arrays[a] = next;
    fall(model, state);
    enum status status = contact_state_make(&model->contact, &state->contact);
    if (status == STATUS_OK)
        status = bearing_state_make(&model->bearing, &state->bearing);
    if (status == STATUS_OK && model->has_shell)
        status = shell_state_make(&model->shell, &state->shell);
    if (status == STATUS_OK)
        status = oblique_state_make(&model->oblique, &state->oblique);
    if (status == STATUS_OK && model->is_loose)
        status = make_loose(model, state);
    if (status == STATUS_OK && model->slip_count > 0)
        status = make_slips(model, state);
    if (status == STATUS_OK)
        status = section_recorder_make(&state->pictures, model->setup.snapshot_interval,
                                       model->setup.helmet.duration, &model->zones,
                                       &model->setup.helmet.anvil, model->setup.helmet.outer_radius);
    state->pictures.snapshots.shell_thickness = model->setup.helmet.shell_thickness;
    return status;
}

/* --- forces --- */

/* Row j of nodes. */
static struct slide_row row_of(const struct axisymmetric_model *model, const struct axisymmetric_state *state,
                               size_t j)
{
    const struct zones_state *zones = &state->zones;
    size_t first = j * model->zones.stride;
    return (struct slide_row){zones->r + first,          zones->z + first,       zones->velocity_r + first,
                              zones->velocity_z + first, zones->force_r + first, zones->force_z + first};
}

/* A bonded shell hands its forces to row 0; a loose one keeps them and meets row 0 in a contact. */
static void press_outside(const struct axisymmetric_model *model, struct axisymmetric_state *state, double dt)
{
    double *force_r = state->zones.force_r, *force_z = state->zones.force_z;
    if (model->is_loose) {
        loose_press(&model->loose, &state->loose, row_of(model, state, 0), dt);
        force_r = state->loose.force_r;
        force_z = state->loose.force_z;
    } else {
        place_shell(model, state);
    }
    if (model->has_shell)
        shell_forces(&model->shell, &state->shell, state->shell_r, state->shell_z, force_r, force_z);
    contact_press(&model->contact, &state->contact, &model->setup.helmet.anvil, state->shell_r,
                  state->shell_z, dt, force_r, force_z);
}

/* Lines from the head's centre to the inner nodes, and the room left there. */
static void face_head(const struct axisymmetric_model *model, struct axisymmetric_state *state)
{
    const double *r = state->zones.r + model->zones.count, *z = state->zones.z + model->zones.count;
    for (size_t i = 0; i < model->setup.helmet.rings; i++) {
        double dz = z[i] - state->head_z, distance = sqrt(r[i] * r[i] + dz * dz);
        state->line_r[i] = r[i] / distance;
        state->line_z[i] = dz / distance;
        state->bearing.closure[i] = model->bearing.thickness[i] - (distance - model->head_distance[i]);
    }
}

/* Coulomb friction of the head on one inner node; its motion over the head that sticks is elastic. */
static double hold(const struct axisymmetric_model *model, struct axisymmetric_state *state, size_t i,
                   double slide)
{
    double stiffness = model->grip[i], held = state->held[i];
    double limit = model->setup.helmet.head_friction * state->bearing.push[i];
    double force = held - stiffness * slide;
    force = force > limit ? limit : force < -limit ? -limit : force;
    state->friction_loss -= 0.5 * (held + force) * slide + 0.5 * (force * force - held * held) / stiffness;
    return force;
}

static void press_head(const struct axisymmetric_model *model, struct axisymmetric_state *state, double dt)
{
    size_t inner = model->zones.count;
    struct zones_state *zones = &state->zones;
    face_head(model, state);
    bearing_press(&model->bearing, &state->bearing, dt);
    state->head_force = 0.0;
    for (size_t i = 0; i < model->setup.helmet.rings; i++) {
        double line_r = state->line_r[i], line_z = state->line_z[i], push = state->bearing.push[i];
        if (model->grip[i] <= 0.0)
            continue;
        double along_r = -line_z, along_z = line_r; /* to increasing phi */
        double slide = (zones->velocity_r[inner + i] * along_r +
                        (zones->velocity_z[inner + i] - state->head_velocity) * along_z) *
                       dt;
        double force = state->held[i] = i == 0 ? 0.0 : hold(model, state, i, slide);
        zones->force_r[inner + i] += push * line_r + force * along_r;
        zones->force_z[inner + i] += push * line_z + force * along_z;
        state->head_force -= push * line_z + force * along_z;
    }
}

/* Nodes that move as one share their forces as their masses. */
static void share_forces(const struct axisymmetric_model *model, const struct axisymmetric_slip *slip,
                         struct axisymmetric_state *state)
{
    for (size_t i = 0; i < model->setup.helmet.rings; i++) {
        size_t outer = slip->row * model->zones.stride + i, inner = outer + model->zones.stride;
        double m = model->zones.mass[outer], all = m + model->zones.mass[inner];
        if (!slip->tied[i] || all <= 0.0)
            continue;
        double *const forces[] = {state->zones.force_r, state->zones.force_z};
        for (int k = 0; k < 2; k++) {
            double sum = forces[k][outer] + forces[k][inner];
            forces[k][outer] = sum * (m / all);
            forces[k][inner] = sum - forces[k][outer];
        }
    }
}

static void press_layers(const struct axisymmetric_model *model, struct axisymmetric_state *state, double dt)
{
    for (size_t k = 0; k < model->slip_count; k++) {
        const struct axisymmetric_slip *slip = &model->slips[k];
        struct slide_row outer = row_of(model, state, slip->row), inner = row_of(model, state, slip->row + 1);
        slide_press(&slip->inside, &state->slips[k].inside, outer, inner, dt);
        slide_press(&slip->outside, &state->slips[k].outside, inner, outer, dt);
    }
    for (size_t k = 0; k < model->slip_count; k++)
        share_forces(model, &model->slips[k], state);
}

static void act(const struct axisymmetric_model *model, struct axisymmetric_state *state, double dt)
{
    press_outside(model, state, dt);
    press_head(model, state, dt);
    press_layers(model, state, dt);
}

static void move(const struct axisymmetric_model *model, struct axisymmetric_state *state, double dt_velocity,
                 double dt)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    zones_move(&model->zones, &state->zones, helmet->gravity, dt_velocity, dt);
    loose_move(&model->loose, &state->loose, helmet->gravity, dt_velocity, dt);
    state->head_velocity += (state->head_force / helmet->head_mass - helmet->gravity) * dt_velocity -
                            oblique_move(&model->oblique, &state->oblique, dt_velocity, dt);
    state->head_z += state->head_velocity * dt;
}

/* --- record --- */

static double kinetic(const struct axisymmetric_model *model, const struct axisymmetric_state *state,
                      double dt_velocity)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    double gain = (state->head_force / helmet->head_mass - helmet->gravity) * dt_velocity;
    double before = state->head_velocity + oblique_centre_velocity(&model->oblique, &state->oblique);
    return 0.5 * helmet->head_mass * before * (before + gain) +
           zones_kinetic(&model->zones, &state->zones, helmet->gravity, dt_velocity) +
           loose_kinetic(&model->loose, &state->loose, helmet->gravity, dt_velocity);
}

static double height(const struct axisymmetric_model *model, const struct axisymmetric_state *state)
{
    double head = state->head_z + oblique_centre_way(&model->oblique, &state->oblique);
    return model->setup.helmet.head_mass * head + zones_height(&model->zones, &state->zones) +
           loose_height(&model->loose, &state->loose);
}

/* What contacts and friction on head, anvil, a loose shell and between layers hold. */
static double gripped(const struct axisymmetric_model *model, const struct axisymmetric_state *state)
{
    double sum = slide_stored(&model->loose.contact, &state->loose.contact);
    for (size_t i = 0; i < model->setup.helmet.rings; i++)
        sum += model->grip[i] > 0.0 ? 0.5 * state->held[i] * state->held[i] / model->grip[i] : 0.0;
    double layers = 0.0;
    for (size_t k = 0; k < model->slip_count; k++)
        layers += slide_stored(&model->slips[k].inside, &state->slips[k].inside) +
                  slide_stored(&model->slips[k].outside, &state->slips[k].outside);
    return sum + layers;
}

static double stored(const struct axisymmetric_model *model, const struct axisymmetric_state *state)
{
    double sum = gripped(model, state) + contact_stored(&model->contact, &state->contact) +
                 bearing_stored(&model->bearing, &state->bearing) +
                 zones_stored(&model->zones, &state->zones);
    return model->has_shell ? sum + shell_stored(&model->shell, &state->shell) : sum;
}

/* What contacts between layers have lost. */
static void book_slips(const struct axisymmetric_model *model, const struct axisymmetric_state *state,
                       double *energy)
{
    for (size_t k = 0; k < model->slip_count; k++) {
        const struct slip_state *slip = &state->slips[k];
        energy[ENERGY_friction] += slip->inside.friction_loss + slip->outside.friction_loss;
        energy[ENERGY_contact] += slip->inside.loss + slip->outside.loss;
    }
}

static void book(const struct axisymmetric_model *model, const struct axisymmetric_state *state,
                 double dt_velocity, struct history *history)
{
    double energy[ENERGY_COUNT] = {0};
    energy[ENERGY_initial] = state->initial;
    energy[ENERGY_gravity] = model->setup.helmet.gravity * (state->height - height(model, state));
    energy[ENERGY_rebound] = kinetic(model, state, dt_velocity);
    energy[ENERGY_friction] = state->friction_loss + state->loose.contact.friction_loss;
    energy[ENERGY_comfort] = bearing_padding(&model->bearing, &state->bearing);
    energy[ENERGY_contact] =
        state->contact.loss + state->loose.contact.loss + bearing_damping(&model->bearing, &state->bearing);
    book_slips(model, state, energy);
    energy[ENERGY_stored] = stored(model, state) - state->stored_before;
    energy[ENERGY_artificial] = zones_artificial(&model->zones, &state->zones) +
                                zones_sprung(&model->zones, &state->zones) - state->sprung_before;
    for (size_t b = 0; b < model->zones.block_count; b++)
        energy[ENERGY_foam] += zones_absorbed(&model->zones, &state->zones, b);
    if (model->has_shell) {
        energy[ENERGY_shell] = shell_dissipated(&model->shell, &state->shell) - state->shell_before;
        energy[ENERGY_damage] = shell_cracked(&model->shell, &state->shell) - state->damage_before;
    }
    oblique_book(&model->oblique, &state->oblique, dt_velocity, energy);
    history_penalties(history, gripped(model, state) + contact_stored(&model->contact, &state->contact) +
                                   bearing_penalties(&model->bearing, &state->bearing));
    history_ledger(history, energy);
}

/* Place on ring i at a share of the thickness, between rows; at a border, to rounding, on its outer or its
 * inner side. */
static void place_at(const struct axisymmetric_model *model, const struct axisymmetric_state *state, size_t i,
                     double share, int inside, double place[2])
{
    size_t j = 0, stride = model->zones.stride;
    double from = inside ? share + same_share : share - same_share;
    while (j + 1 < model->zones.rows && model->cut[j + 1] < from)
        j++;
    double part = (share - model->cut[j]) / (model->cut[j + 1] - model->cut[j]);
    size_t low = j * stride + i, high = low + stride;
    place[0] = state->zones.r[low] + part * (state->zones.r[high] - state->zones.r[low]);
    place[1] = state->zones.z[low] + part * (state->zones.z[high] - state->zones.z[low]);
}

static double length_between(const struct axisymmetric_model *model, const struct axisymmetric_state *state,
                             size_t i, double from, double to)
{
    double a[2], b[2];
    place_at(model, state, i, from, 1, a);
    place_at(model, state, i, to, 0, b);
    return sqrt((a[0] - b[0]) * (a[0] - b[0]) + (a[1] - b[1]) * (a[1] - b[1]));
}

/* Crush of the stack [m] and nominal crush by layer, means over r <= 15 mm. */
static double axis_crush(const struct axisymmetric_model *model, const struct axisymmetric_state *state,
                         double *layers)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    double crush = 0.0, all = 0.0;
    for (size_t i = 0; i < helmet->rings && model->weight[i] > 0.0; i++) {
        crush += model->weight[i] * (model->liner[i] - length_between(model, state, i, 0.0, 1.0));
        all += model->weight[i];
    }
    for (size_t l = 0; l < model->layer_count; l++) {
        const struct axisymmetric_layer *layer = &model->layers[l];
        double shortening = 0.0, first = 0.0;
        for (size_t i = 0; i < helmet->rings && model->weight[i] > 0.0; i++) {
            double share = model->weight[i] * helmet->regions[layer->region].share[i];
            double length = (layer->to - layer->from) * model->liner[i];
            shortening += share * (length - length_between(model, state, i, layer->from, layer->to));
            first += share * length;
        }
        layers[l] = first > 0.0 ? shortening / first : NAN;
    }
    return all > 0.0 ? crush / all : NAN;
}

static void write_down(const struct axisymmetric_model *model, const struct axisymmetric_state *state,
                       double t, struct history *history)
{
    double layers[HISTORY_LAYERS], crush = axis_crush(model, state, layers);
    history_state(history, t, state->first_head_z - state->head_z, crush, layers);
    if (model->has_shell)
        history_shell_strain(history, shell_largest_strain(&model->shell, &state->shell, NULL));
    for (size_t b = 0; b < model->zones.block_count; b++)
        zones_past(&model->zones, &state->zones, b, &history->past[model->zones.blocks[b].layer]);
}

/* The cross-section now, with the crush that write_down found. */
static void take_picture(const struct axisymmetric_model *model, struct axisymmetric_state *state, double t,
                         const struct history *history)
{
    struct section section = {.model = &model->zones,
                              .zones = &state->zones,
                              .shell_r = state->shell_r,
                              .shell_z = state->shell_z,
                              .head_distance = model->head_distance,
                              .phi_max = model->setup.helmet.phi_max,
                              .head_z = state->head_z};
    section_record(&state->pictures, t, history->states.last[HISTORY_CRUSH], &section);
}

/* Momentum towards the anvil. */
static double momentum(const struct axisymmetric_model *model, const struct axisymmetric_state *state)
{
    double centre = oblique_centre_velocity(&model->oblique, &state->oblique);
    return -model->setup.helmet.head_mass * (state->head_velocity + centre) -
           zones_momentum(&model->zones, &state->zones) - loose_momentum(&model->loose, &state->loose);
}

/* --- hits --- */

enum { TOUCH_ROUNDS = 60, SEAT_ROUNDS = 8 };

/* Shell of the hit before at rest, its edge, which bends least, at its first height. */
static enum status spring_back(const struct axisymmetric_model *model, struct axisymmetric_state *last,
                               struct axisymmetric_state *state)
{
    size_t rings = model->setup.helmet.rings;
    struct shell_state fresh = state->shell;
    state->shell = last->shell;
    last->shell = fresh;
    enum status status = shell_rest(&model->shell, &state->shell, last->shell_r, last->shell_z);
    double up = model->zones.first_z[rings - 1] + model->offset_z[rings - 1] - last->shell_z[rings - 1];
    int bent = shell_has_yielded(&model->shell, &state->shell);
    for (size_t i = 0; i < rings; i++) {
        state->shell_r[i] = bent ? last->shell_r[i] : model->zones.first_r[i] + model->offset_r[i];
        state->shell_z[i] = bent ? last->shell_z[i] + up : model->zones.first_z[i] + model->offset_z[i];
    }
    return status;
}

/* Strain of the line of nodes i through row j of zones: the mean of those on both sides. */
static double line_strain(const struct axisymmetric_model *model, const double *strain, size_t i, size_t j)
{
    const struct zones_model *zones = &model->zones;
    size_t k = j * zones->stride + i;
    int before = i > 0 && zones->live[k - 1] > 0.0, after = zones->live[k] > 0.0;
    double sum = (before ? strain[k - 1] : 0.0) + (after ? strain[k] : 0.0);
    return before && after ? 0.5 * sum : sum;
}

/* Nodes on their first lines, from the shell or, without one, from the first inner faces. */
static void line_up(const struct axisymmetric_model *model, const double *strain,
                    struct axisymmetric_state *state)
{
    const struct zones_model *zones = &model->zones;
    double *r = state->zones.r, *z = state->zones.z;
    for (size_t i = 0; i < model->setup.helmet.rings; i++) {
        size_t inner = zones->count + i;
        r[i] = model->has_shell ? state->shell_r[i] - model->offset_r[i] : zones->first_r[i];
        z[i] = model->has_shell ? state->shell_z[i] - model->offset_z[i] : zones->first_z[i];
        for (size_t j = 0; j < zones->rows; j++) {
            size_t k = j * zones->stride + i, next = k + zones->stride;
            double left = 1.0 - line_strain(model, strain, i, j);
            r[next] = r[k] + left * (zones->first_r[next] - zones->first_r[k]);
            z[next] = z[k] + left * (zones->first_z[next] - zones->first_z[k]);
        }
        double up_r = zones->first_r[inner] - r[inner], up_z = zones->first_z[inner] - z[inner];
        for (size_t k = i; !model->has_shell && k <= inner; k += zones->stride) {
            r[k] += up_r;
            z[k] += up_z;
        }
    }
}

static void raise_all(const struct axisymmetric_model *model, struct axisymmetric_state *state, double up)
{
    for (size_t k = 0; k < model->zones.count + model->zones.stride; k++)
        state->zones.z[k] += model->zones.mass[k] > 0.0 ? up : 0.0;
    for (size_t i = 0; model->is_loose && i < model->setup.helmet.rings; i++)
        state->shell_z[i] += up;
    if (!model->is_loose)
        place_shell(model, state);
    state->head_z += up;
}

/* How far the head goes down until the first ring has no more room at it than when new. */
static double head_room(const struct axisymmetric_model *model, struct axisymmetric_state *state)
{
    const double *r = model->zones.first_r + model->zones.count;
    const double *z = model->zones.first_z + model->zones.count;
    double least = INFINITY;
    face_head(model, state);
    for (size_t i = 0; i < model->setup.helmet.rings; i++) {
        double dz = z[i] - model->first_z, distance = sqrt(r[i] * r[i] + dz * dz);
        double closure = model->bearing.thickness[i] - (distance - model->head_distance[i]);
        double down = (closure - state->bearing.closure[i]) / -state->line_z[i];
        if (model->bearing.area[i] > 0.0 && down < least)
            least = down;
    }
    return least < INFINITY ? least : 0.0;
}

/* The helmet on the anvil as far as a new one, the head in it. */
static void seat(const struct axisymmetric_model *model, double touches, struct axisymmetric_state *state)
{
    for (int round = 0; round < TOUCH_ROUNDS; round++)
        raise_all(model, state,
                  touches - contact_gap(&model->contact, &model->setup.helmet.anvil, state->shell_r,
                                        state->shell_z));
    for (int round = 0; round < SEAT_ROUNDS; round++)
        state->head_z -= head_room(model, state);
    state->first_head_z = state->head_z;
}

/* Contacts of a loose shell and of layers that slip: touching. */
static void touch_layers(const struct axisymmetric_model *model, struct axisymmetric_state *state)
{
    if (model->is_loose)
        slide_settle(&model->loose.contact, &state->loose.contact,
                     (struct slide_row){.r = state->loose.r, .z = state->loose.z}, row_of(model, state, 0));
    for (size_t k = 0; k < model->slip_count; k++) {
        const struct axisymmetric_slip *slip = &model->slips[k];
        struct slide_row outer = row_of(model, state, slip->row), inner = row_of(model, state, slip->row + 1);
        slide_settle(&slip->inside, &state->slips[k].inside, outer, inner);
        slide_settle(&slip->outside, &state->slips[k].outside, inner, outer);
    }
}

/* The helmet that the hit before left, ready for the next: see axisymmetric.h. */
static enum status take_over(const struct axisymmetric_model *model, struct axisymmetric_state *last,
                             struct axisymmetric_state *state, struct history *history)
{
    double layers[HISTORY_LAYERS], *strain = memory_doubles(model->zones.count);
    if (!strain)
        return STATUS_MEMORY;
    place_shell(model, state);
    double touches = contact_gap(&model->contact, &model->setup.helmet.anvil, state->shell_r, state->shell_z);
    enum status status = model->has_shell ? spring_back(model, last, state) : STATUS_OK;
    zones_settle(&model->zones, &last->zones, model->setup.helmet.recovered, strain);
    struct zones_state fresh = state->zones;
    state->zones.points = last->zones.points;
    state->zones.point_memory = last->zones.point_memory;
    last->zones.points = fresh.points;
    last->zones.point_memory = fresh.point_memory;
    line_up(model, strain, state);
    memory_free(strain);
    seat(model, touches, state);
    zones_rest(&model->zones, &state->zones);
    if (model->has_shell) /* its step follows from its shape; the forces are set anew before they count */
        shell_forces(&model->shell, &state->shell, state->shell_r, state->shell_z, state->zones.force_r,
                     state->zones.force_z);
    touch_layers(model, state);
    fall(model, state);
    state->hit_before = 1;
    history->crush_before = axis_crush(model, state, layers);
    return status;
}

/* Energies at first touch that a hit before has left. */
static void count_from_here(const struct axisymmetric_model *model, struct axisymmetric_state *state)
{
    state->stored_before = stored(model, state);
    state->sprung_before = zones_sprung(&model->zones, &state->zones);
    if (!model->has_shell)
        return;
    state->shell_before = shell_dissipated(&model->shell, &state->shell);
    state->damage_before = shell_cracked(&model->shell, &state->shell);
}

/* What is left of the helmet goes to whoever keeps it. */
static enum status keep(const struct axisymmetric_model *model, struct axisymmetric_state *state,
                        struct axisymmetric_state **last)
{
    if (!*last)
        *last = memory_zeroed(1, sizeof **last);
    else
        state_free(model, *last);
    if (!*last)
        return STATUS_MEMORY;
    **last = *state;
    *state = (struct axisymmetric_state){0};
    return STATUS_OK;
}

void axisymmetric_state_free(const struct axisymmetric_model *model, struct axisymmetric_state *state)
{
    if (state)
        state_free(model, state);
    memory_free(state);
}

/* --- run --- */

/* Number from 1 of a zone's row from the shell; empty ones do not count. */
static size_t row_number(const struct axisymmetric_model *model, size_t zone)
{
    size_t number = 0;
    for (size_t j = 0; j <= zone / model->zones.stride; j++)
        number += model->cut[j] < model->cut[j + 1];
    return number;
}

/* Where a run could not go on: the zone's place, and whether its foam is solid by then. */
static void name_zone(const struct axisymmetric_model *model, const struct axisymmetric_state *state,
                      const struct zones_block *block, size_t zone, const char *what, double time,
                      char *message)
{
    double crushed = state->zones.volume[zone];
    int used_up = block && crushed > block->foam->densification_from;
    snprintf(message, HISTORY_MESSAGE,
             "%s at %.3f ms%s: region '%s', layer %d, ring %zu, row %zu from the shell is %s %.0f %%", what,
             time * 1e3, used_up ? ", the liner is used up" : "",
             block ? model->setup.helmet.regions[block->region].name : "none",
             block ? model->layers[block->layer].layer : 0, zone % model->zones.stride + 1,
             row_number(model, zone), crushed < 0.0 ? "stretched by" : "crushed to", 100.0 * fabs(crushed));
}

/* Names a zone without volume or with crossed sides; a solution that is not a number otherwise. */
static void name_tangle(const struct axisymmetric_model *model, const struct axisymmetric_state *state,
                        size_t zone, double time, char *message)
{
    for (size_t b = 0; b < model->zones.block_count; b++) {
        const struct zones_block *block = &model->zones.blocks[b];
        for (size_t i = 0; i < block->count; i++) {
            if ((size_t)block->zone[i] != zone || isnan(state->zones.volume[zone]))
                continue;
            name_zone(model, state, block, zone, "a zone is folded", time, message);
            return;
        }
    }
    snprintf(message, HISTORY_MESSAGE, "the solution is not a number at %.3f ms", time * 1e3);
}

/* Names the zone that is left with the least of its volume when the step has become too small to go on. */
static void name_collapse(const struct axisymmetric_model *model, const struct axisymmetric_state *state,
                          double time, char *message)
{
    const struct zones_block *worst = NULL;
    size_t at = 0;
    for (size_t b = 0; b < model->zones.block_count; b++) {
        const struct zones_block *block = &model->zones.blocks[b];
        for (size_t i = 0; i < block->count; i++) {
            size_t zone = (size_t)block->zone[i];
            if (!worst || state->zones.volume[zone] > state->zones.volume[at]) {
                worst = block;
                at = zone;
            }
        }
    }
    name_zone(model, state, worst, at, "the time step collapsed", time, message);
}

/* Strain, stress and zones' forces; the longest step they allow, or 0 when a zone failed. */
static double update(const struct axisymmetric_model *model, struct axisymmetric_state *state, double dt,
                     struct history *history, size_t *tangled)
{
    double courant = model->setup.helmet.courant;
    struct zones_bounds bounds = zones_update(&model->zones, &state->zones, dt);
    *tangled = bounds.tangled;
    if (bounds.tangled < model->zones.count || !isfinite(bounds.frequency))
        return 0.0;
    if (bounds.largest_strain > history->largest_strain)
        history->largest_strain = bounds.largest_strain;
    double zones = courant / bounds.frequency;
    double shell = model->has_shell ? courant * shell_stable_step(&model->shell, &state->shell) : INFINITY;
    return zones < shell ? zones : shell;
}

/* One step on the forces of now: ledger when due, motion, record. */
static void advance(const struct axisymmetric_model *model, struct axisymmetric_state *state,
                    const struct clock *clock, struct history *history)
{
    double dt_velocity = clock_velocity_step(clock), end = clock->time + clock->step;
    oblique_act(&model->oblique, &state->oblique,
                &(struct oblique_load){.time = clock->time,
                                       .face_force = state->contact.force,
                                       .head_force = state->head_force,
                                       .push = state->bearing.push,
                                       .height = state->head_z},
                dt_velocity);
    if (history_ledger_due(history, clock->time))
        book(model, state, dt_velocity, history);
    int due = history_state_due(history, end);
    if (due) {
        write_down(model, state, clock->time, history);
        take_picture(model, state, clock->time, history);
    }
    move(model, state, dt_velocity, clock->step);
    history_force(history, clock_force_to(clock), state->head_force, state->contact.force,
                  -state->head_velocity);
    oblique_record(&state->oblique, clock_force_to(clock), history);
    history->gravity_impulse += state->weight * dt_velocity;
    if (due)
        write_down(model, state, end, history);
}

static enum status steps(const struct axisymmetric_model *model, struct axisymmetric_state *state,
                         struct history *history, const atomic_int *stop, char *message)
{
    int over = 0;
    size_t tangled;
    double first = update(model, state, 1e-9, history, &tangled);
    if (state->hit_before && first <= 0.0) {
        name_tangle(model, state, tangled, 0.0, message);
        return STATUS_COMPUTATION;
    }
    act(model, state, 0.0);
    if (state->hit_before)
        count_from_here(model, state);
    /* the contacts are made for this step, within the limit of crushed foam too unless it is nearly solid */
    int shorter = state->hit_before && first < model->setup.helmet.courant * model->step;
    struct clock clock = clock_start(shorter ? first : model->step, model->step);
    take_picture(model, state, 0.0, history);
    while (clock_force_from(&clock) < model->setup.helmet.duration && !over) {
        advance(model, state, &clock, history);
        double stable = update(model, state, clock.step, history, &tangled);
        if (stable <= 0.0) {
            name_tangle(model, state, tangled, clock.time, message);
            return STATUS_COMPUTATION;
        }
        act(model, state, clock.step);
        if (!clock_advance(&clock, stable)) {
            name_collapse(model, state, clock.time, message);
            return STATUS_COMPUTATION;
        }
        if (stop && *stop)
            return STATUS_INTERRUPTED;
        over = history_over(history, clock.time, state->contact.force, state->head_force,
                            model->setup.helmet.head_mass, state->head_velocity);
    }
    history->last_momentum = momentum(model, state);
    history->last_speed = -state->head_velocity;
    history->steps = clock.count;
    oblique_end(&state->oblique, history);
    for (size_t k = 0; k < model->slip_count; k++)
        history->layer_slide = fmax(history->layer_slide,
                                    fmax(state->slips[k].inside.furthest, state->slips[k].outside.furthest));
    section_recorder_end(&state->pictures);
    history->snapshots = state->pictures.snapshots;
    state->pictures.snapshots = (struct snapshots){0};
    book(model, state, clock_velocity_step(&clock), history);
    return STATUS_OK;
}

enum status axisymmetric_run(const struct axisymmetric_model *model, struct axisymmetric_state **last,
                             struct history *history, double *absorbed, const atomic_int *stop,
                             char message[HISTORY_MESSAGE])
{
    struct axisymmetric_state state;
    enum status status = state_make(model, &state);
    if (status == STATUS_OK && last && *last)
        status = take_over(model, *last, &state, history);
    if (status == STATUS_OK) {
        history->cells = (long)model->cell_count;
        history->first_momentum = momentum(model, &state);
        state.initial = kinetic(model, &state, 0.0) + oblique_initial(&model->oblique);
        state.height = height(model, &state);
        state.weight =
            model->setup.helmet.gravity * (model->setup.helmet.head_mass + axisymmetric_model_mass(model));
        status = steps(model, &state, history, stop, message);
    }
    memset(absorbed, 0, model->layer_count * sizeof *absorbed);
    for (size_t b = 0; status == STATUS_OK && b < model->zones.block_count; b++)
        absorbed[model->zones.blocks[b].layer] += zones_absorbed(&model->zones, &state.zones, b);
    if (status == STATUS_OK && last)
        status = keep(model, &state, last);
    state_free(model, &state);
    return status;
}
