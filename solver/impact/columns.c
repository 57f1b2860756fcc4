#include "solver/impact/columns.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/impact/clock.h"

/*
 * Order of a step: forces of columns, comfort layer, anvil, shell and shear at the present positions; ledger
 * when due; velocities and positions; record; new directions of the lines; foam.
 */

_Static_assert(COLUMNS_REGIONS *LINER_LAYERS <= HISTORY_LAYERS, "a history holds every layer of a helmet");

static const double axis_radius = 15e-3; /* crush on the axis is the mean over this radius */

/* --- state --- */

struct group_state {
    struct liner_state liner;
    double *head;            /* (columns) way of the head along the line so far [m] */
    double *distance;        /* (columns) from anchor to node [m] */
    double *line_r, *line_z; /* (columns) direction, outwards */
    double *closure;         /* (columns) of the room that the comfort layer fills [m] */
    double *push;            /* (columns) of the head on the foam [N] */
    double *contact;         /* (columns) energy lost in bare contact [J] */
    double *thickness;       /* (columns) of the comfort layer [m] */
    double *damped;          /* (columns) damping force beyond a shut comfort layer [N] */
    double *before;          /* (columns) closure a step ago [m] */
    double *depth;           /* (columns) of the foam in a loose shell [m]; negative: a gap */
    double *lift;            /* (columns) of the foam on a loose shell, outwards [N] */
    struct comfort_law comfort;
    struct comfort_rings rings;
    double *memory;
};

struct columns_state {
    double head_z, head_velocity, head_force; /* upwards */
    double *r, *z, *velocity_r, *velocity_z;  /* (rings) */
    double *force_r, *force_z;
    double *shear; /* (rings) [N], along increasing phi */
    double *bears; /* (rings) force of the head on the foam [N] */
    double *lifts; /* (rings) force of the foam on a loose shell [N] */
    double *memory;
    double friction_loss, initial, potential_before;   /* [J] */
    double stored_before, shell_before, damage_before; /* [J] at first touch; 0 of a new helmet */
    double weight;                                     /* [N] */
    double first_head_z;                               /* [m] at first touch */
    int hit_before;                                    /* not a new helmet */
    struct contact_state contact;
    struct shell_state shell;
    struct oblique_state oblique;
    struct group_state groups[COLUMNS_REGIONS];
};

static void state_free(const struct columns_model *model, struct columns_state *state)
{
    for (size_t g = 0; g < model->group_count; g++) {
        liner_state_free(&state->groups[g].liner);
        memory_free(state->groups[g].memory);
    }
    oblique_state_free(&state->oblique);
    shell_state_free(&state->shell);
    contact_state_free(&state->contact);
    memory_free(state->memory);
}

/* Unit line and distance from each anchor to its node. */
static void point_lines(const struct columns_model *model, struct columns_state *state, size_t g)
{
    const struct columns_group *group = &model->groups[g];
    struct group_state *own = &state->groups[g];
    for (size_t c = 0; c < group->liner.columns; c++) {
        int node = group->node[c];
        double dr = state->r[node] - group->anchor_r[c];
        double dz = state->z[node] - state->head_z - group->anchor_z[c];
        double distance = sqrt(dr * dr + dz * dz);
        own->distance[c] = distance;
        own->line_r[c] = dr / distance;
        own->line_z[c] = dz / distance;
    }
}

/* Places the outer ends of the columns from the geometry. */
static void place_ends(const struct columns_model *model, struct columns_state *state, size_t g)
{
    struct group_state *own = &state->groups[g];
    for (size_t c = 0; c < model->groups[g].liner.columns; c++)
        own->liner.position[c] = own->head[c] + own->distance[c] - model->node_offset;
}

/* Comfort layer of a group: the contact that follows once it is shut is that of a bare liner. */
static void pad_head(const struct columns_model *model, size_t g, struct group_state *own, double *next)
{
    const struct columns_group *group = &model->groups[g];
    const struct columns_region *region = &model->setup.regions[group->region];
    size_t columns = group->liner.columns;
    own->comfort = comfort_default(group->bearing[0] / group->liner.area[0]);
    own->comfort.pressure = region->comfort_stress;
    own->rings = (struct comfort_rings){.count = columns,
                                        .thickness = own->thickness,
                                        .closure = own->closure,
                                        .before = next,
                                        .friction = next + columns,
                                        .limit = next + 2 * columns,
                                        .dissipated = next + 3 * columns,
                                        .stored = next + 4 * columns,
                                        .pressure = next + 5 * columns};
    for (size_t c = 0; c < columns; c++)
        own->thickness[c] = region->comfort_thickness;
}

static void fall(const struct columns_model *model, struct columns_state *state, size_t g)
{
    const struct columns_group *group = &model->groups[g];
    size_t columns = group->liner.columns;
    for (size_t k = 0; k < (group->liner.rows + 1) * columns; k++)
        state->groups[g].liner.velocity[k] = -model->setup.speed * model->normal_z[group->node[k % columns]];
}

static enum status make_group_state(const struct columns_model *model, struct columns_state *state, size_t g)
{
    const struct columns_group *group = &model->groups[g];
    struct group_state *own = &state->groups[g];
    size_t columns = group->liner.columns;
    double *next = own->memory = memory_zeroed(18 * columns, sizeof *next);
    if (!next || !liner_state_make(&group->liner, &own->liner))
        return STATUS_MEMORY;
    double **const arrays[] = {&own->head,    &own->distance, &own->line_r,  &own->line_z,
                               &own->closure, &own->push,     &own->contact, &own->thickness,
                               &own->damped,  &own->before,   &own->depth,   &own->lift};
    for (size_t a = 0; a < sizeof arrays / sizeof *arrays; a++, next += columns)
        *arrays[a] = next;
    pad_head(model, g, own, next);
    point_lines(model, state, g);
    place_ends(model, state, g);
    liner_lay(&group->liner, &own->liner);
    fall(model, state, g);
    return STATUS_OK;
}

static enum status state_make(const struct columns_model *model, struct columns_state *state)
{
    size_t rings = model->setup.rings;
    *state = (struct columns_state){0};
    double *next = state->memory = memory_zeroed(9 * rings, sizeof *next);
    if (!next)
        return STATUS_MEMORY;
    double **const arrays[] = {&state->r,          &state->z,       &state->velocity_r,
                               &state->velocity_z, &state->force_r, &state->force_z,
                               &state->shear,      &state->bears,   &state->lifts};
    for (size_t a = 0; a < sizeof arrays / sizeof *arrays; a++, next += rings)
        *arrays[a] = next;
    memcpy(state->r, model->r, rings * sizeof *state->r);
    memcpy(state->z, model->z, rings * sizeof *state->z);
    for (size_t i = 0; i < rings; i++)
        state->velocity_z[i] = -model->setup.speed;
    state->head_velocity = -model->setup.speed;
    state->head_z = state->first_head_z = model->setup.outer_radius + model->setup.shell_thickness;
    enum status status = contact_state_make(&model->contact, &state->contact);
    if (status == STATUS_OK && model->has_shell)
        status = shell_state_make(&model->shell, &state->shell);
    if (status == STATUS_OK)
        status = oblique_state_make(&model->oblique, &state->oblique);
    for (size_t g = 0; status == STATUS_OK && g < model->group_count; g++)
        status = make_group_state(model, state, g);
    return status;
}

/* --- forces --- */

/* Bare contact of one column with the head; books what it loses. */
static void touch_head(const struct columns_group *group, struct group_state *own, size_t c, double before,
                       double dt)
{
    double now = own->closure[c], held = own->push[c], rate = dt > 0.0 ? (now - before) / dt : 0.0;
    own->push[c] = penalty_force(group->bearing[c], group->damping[c], now, rate);
    if (dt > 0.0)
        own->contact[c] += 0.5 * (held + own->push[c]) * (now - before) -
                           penalty_energy(group->bearing[c], now) + penalty_energy(group->bearing[c], before);
}

/* Damping of the contact beyond a shut comfort layer, which would ring at the frequency of its penalty; the
 * two together only push. */
static void damp_shut(const struct columns_group *group, struct group_state *own, size_t c, double thickness,
                      double dt)
{
    double held = own->damped[c], change = own->closure[c] - own->before[c];
    int shut = own->closure[c] > COMFORT_SHUT * thickness && dt > 0.0;
    double most = -own->rings.pressure[c] * group->liner.area[c];
    double force = shut ? group->damping[c] * change / dt : 0.0;
    own->damped[c] = force > most ? force : most;
    own->contact[c] += 0.5 * (held + own->damped[c]) * change;
    own->before[c] = own->closure[c];
}

/* Head against one group: comfort layer, or bare contact where there is none. Closure is how far the foam has
 * moved into the room that the comfort layer fills. */
static void bear_on_head(const struct columns_model *model, struct columns_state *state, size_t g, double dt)
{
    const struct columns_group *group = &model->groups[g];
    const struct columns_region *region = &model->setup.regions[group->region];
    struct group_state *own = &state->groups[g];
    size_t columns = group->liner.columns, inner = group->liner.rows * columns;
    for (size_t c = 0; c < columns; c++) {
        double room = own->liner.position[inner + c] - own->head[c] - group->head_distance[c];
        double before = own->closure[c];
        own->closure[c] = region->comfort_thickness - room;
        if (region->comfort_stress <= 0.0)
            touch_head(group, own, c, before, dt);
    }
    if (region->comfort_stress <= 0.0)
        return;
    comfort_update(&own->comfort, &own->rings);
    for (size_t c = 0; c < columns; c++) {
        damp_shut(group, own, c, region->comfort_thickness, dt);
        own->push[c] = own->rings.pressure[c] * group->liner.area[c] + own->damped[c];
    }
}

/* Where the end of a column touches its shell. */
static double shell_face(const struct columns_model *model, const struct group_state *own, size_t c)
{
    return own->head[c] + own->distance[c] - model->node_offset;
}

/* A loose shell and the outer end of one column; books what the damping takes. */
static void touch_shell(const struct columns_model *model, const struct columns_group *group,
                        struct group_state *own, size_t c, double dt)
{
    double depth = own->liner.position[c] - shell_face(model, own, c), change = depth - own->depth[c];
    double held = own->lift[c], k = group->bond[c];
    own->lift[c] = penalty_force(k, group->bond_damping[c], depth, dt > 0.0 ? change / dt : 0.0);
    if (dt > 0.0)
        own->contact[c] += 0.5 * (held + own->lift[c]) * change - penalty_energy(k, depth) +
                           penalty_energy(k, own->depth[c]);
    own->depth[c] = depth;
}

/* Acceleration of the outer end of a column under a loose shell, along the line. */
static double end_acceleration(const struct columns_group *group, const struct group_state *own, size_t c)
{
    return (own->liner.force[c] - own->lift[c]) / group->liner.mass[c] + group->liner.gravity[c];
}

/* Adds the ends' forces of one group to nodes and head. */
static void add_columns(const struct columns_model *model, struct columns_state *state, size_t g, double dt)
{
    const struct columns_group *group = &model->groups[g];
    struct group_state *own = &state->groups[g];
    size_t columns = group->liner.columns, inner = group->liner.rows * columns;
    for (size_t c = 0; c < columns; c++) {
        int node = group->node[c];
        if (model->is_loose)
            touch_shell(model, group, own, c, dt);
        double outer = model->is_loose ? own->lift[c] : own->liner.force[c], push = own->push[c];
        state->lifts[node] += own->lift[c];
        own->liner.force[inner + c] = push;
        state->force_r[node] += outer * own->line_r[c];
        state->force_z[node] += outer * own->line_z[c];
        state->head_force -= push * own->line_z[c];
        state->bears[node] += push;
    }
}

/* Liner's shear against motion of the node across the line to the head, up to half the foam's plateau. Under
 * a shell it passes to the head by Coulomb friction on the padding, so a head that hardly touches is not held
 * back; a bare liner is held by its own neighbours and keeps it. */
static void shear_liner(const struct columns_model *model, struct columns_state *state, double dt)
{
    for (size_t i = 1; i < model->setup.rings; i++) {
        double stiffness = model->shear[i], limit = model->shear_limit[i], held = state->shear[i];
        double grip = model->setup.head_friction * state->bears[i];
        limit = model->has_shell && grip < limit ? grip : limit;
        grip = model->setup.bond_friction * state->lifts[i];
        limit = model->is_loose && grip < limit ? grip : limit;
        if (stiffness <= 0.0)
            continue;
        double across_r = -model->normal_z[i], across_z = model->normal_r[i];
        double slide =
            (state->velocity_r[i] * across_r + (state->velocity_z[i] - state->head_velocity) * across_z) * dt;
        double force = held + stiffness * slide;
        force = force > limit ? limit : force < -limit ? -limit : force;
        state->friction_loss +=
            0.5 * (held + force) * slide - 0.5 * (force * force - held * held) / stiffness;
        state->shear[i] = force;
        state->force_r[i] -= force * across_r;
        state->force_z[i] -= force * across_z;
        state->head_force += force * across_z;
    }
}

/* All forces at the present positions, `dt` after the last. */
static void act(const struct columns_model *model, struct columns_state *state, double dt)
{
    size_t rings = model->setup.rings;
    memset(state->force_r, 0, rings * sizeof *state->force_r);
    memset(state->force_z, 0, rings * sizeof *state->force_z);
    memset(state->bears, 0, rings * sizeof *state->bears);
    memset(state->lifts, 0, rings * sizeof *state->lifts);
    state->head_force = 0.0;
    for (size_t g = 0; g < model->group_count; g++) {
        bear_on_head(model, state, g, dt);
        add_columns(model, state, g, dt);
    }
    if (model->has_shell)
        shell_forces(&model->shell, &state->shell, state->r, state->z, state->force_r, state->force_z);
    contact_press(&model->contact, &state->contact, &model->setup.anvil, state->r, state->z, dt,
                  state->force_r, state->force_z);
    shear_liner(model, state, dt);
}

/* --- motion --- */

/* Acceleration of a node: masses along and across its first line. */
static void node_acceleration(const struct columns_model *model, const struct columns_state *state, size_t i,
                              double *a_r, double *a_z)
{
    double n_r = model->normal_r[i], n_z = model->normal_z[i];
    if (model->mass_normal[i] <= 0.0) {
        *a_r = *a_z = 0.0;
        return;
    }
    double along = (state->force_r[i] * n_r + state->force_z[i] * n_z) / model->mass_normal[i];
    double across = model->setup.parallel
                        ? 0.0
                        : (-state->force_r[i] * n_z + state->force_z[i] * n_r) / model->mass_across[i];
    *a_r = i == 0 ? 0.0 : along * n_r - across * n_z;
    *a_z = along * n_z + across * n_r - model->setup.gravity;
}

static void move_nodes(const struct columns_model *model, struct columns_state *state, double dt_velocity,
                       double dt)
{
    for (size_t i = 0; i < model->setup.rings; i++) {
        double a_r, a_z;
        node_acceleration(model, state, i, &a_r, &a_z);
        state->velocity_r[i] += a_r * dt_velocity;
        state->velocity_z[i] += a_z * dt_velocity;
        state->r[i] += state->velocity_r[i] * dt;
        state->z[i] += state->velocity_z[i] * dt;
    }
}

static void move_group(const struct columns_model *model, struct columns_state *state, size_t g,
                       double dt_velocity, double dt)
{
    const struct columns_group *group = &model->groups[g];
    struct group_state *own = &state->groups[g];
    double before[COLUMNS_RINGS];
    memcpy(before, own->line_z, group->liner.columns * sizeof *before);
    point_lines(model, state, g);
    for (size_t c = 0; c < group->liner.columns; c++)
        own->head[c] += 0.5 * (before[c] + own->line_z[c]) * state->head_velocity * dt;
    for (size_t c = 0; model->is_loose && c < group->liner.columns; c++) {
        own->liner.velocity[c] += end_acceleration(group, own, c) * dt_velocity;
        own->liner.position[c] += own->liner.velocity[c] * dt;
    }
    liner_move(&group->liner, &own->liner, dt_velocity, dt);
    if (!model->is_loose)
        place_ends(model, state, g);
}

static void move(const struct columns_model *model, struct columns_state *state, double dt_velocity,
                 double dt)
{
    const struct columns_setup *setup = &model->setup;
    move_nodes(model, state, dt_velocity, dt);
    state->head_velocity += (state->head_force / setup->head_mass - setup->gravity) * dt_velocity -
                            oblique_move(&model->oblique, &state->oblique, dt_velocity, dt);
    state->head_z += state->head_velocity * dt;
    for (size_t g = 0; g < model->group_count; g++)
        move_group(model, state, g, dt_velocity, dt);
}

/* --- record --- */

/* Kinetic energy of the outer ends under a loose shell, as liner_kinetic; their potential, as
 * liner_potential.
 */
static double ends_kinetic(const struct columns_model *model, const struct columns_state *state, size_t g,
                           double dt_velocity)
{
    const struct columns_group *group = &model->groups[g];
    const struct group_state *own = &state->groups[g];
    double sum = 0.0;
    for (size_t c = 0; model->is_loose && c < group->liner.columns; c++) {
        double velocity = own->liner.velocity[c], gain = end_acceleration(group, own, c) * dt_velocity;
        sum += 0.5 * group->liner.mass[c] * velocity * (velocity + gain);
    }
    return sum;
}

static double ends_potential(const struct columns_model *model, const struct columns_state *state, size_t g)
{
    const struct liner_group *liner = &model->groups[g].liner;
    double sum = 0.0;
    for (size_t c = 0; model->is_loose && c < liner->columns; c++)
        sum -= liner->mass[c] * liner->gravity[c] * state->groups[g].liner.position[c];
    return sum;
}

static double kinetic(const struct columns_model *model, const struct columns_state *state,
                      double dt_velocity)
{
    const struct columns_setup *setup = &model->setup;
    double acceleration = state->head_force / setup->head_mass - setup->gravity;
    double before = state->head_velocity + oblique_centre_velocity(&model->oblique, &state->oblique);
    double energy = 0.5 * setup->head_mass * before * (before + acceleration * dt_velocity);
    for (size_t i = 0; i < setup->rings; i++) {
        double a_r, a_z, n_r = model->normal_r[i], n_z = model->normal_z[i];
        node_acceleration(model, state, i, &a_r, &a_z);
        double along = state->velocity_r[i] * n_r + state->velocity_z[i] * n_z;
        double across = -state->velocity_r[i] * n_z + state->velocity_z[i] * n_r;
        double gain_along = (a_r * n_r + a_z * n_z) * dt_velocity;
        double gain_across = (-a_r * n_z + a_z * n_r) * dt_velocity;
        energy += 0.5 * model->mass_normal[i] * along * (along + gain_along);
        energy += 0.5 * model->mass_across[i] * across * (across + gain_across);
    }
    for (size_t g = 0; g < model->group_count; g++)
        energy += liner_kinetic(&model->groups[g].liner, &state->groups[g].liner, dt_velocity) +
                  ends_kinetic(model, state, g, dt_velocity);
    return energy;
}

/* Of gravity [J]: the masses of a node along and across its first line fall by their share of its way. */
static double potential(const struct columns_model *model, const struct columns_state *state)
{
    double gravity = model->setup.gravity;
    double height = state->head_z + oblique_centre_way(&model->oblique, &state->oblique);
    double energy = model->setup.head_mass * gravity * height;
    for (size_t i = 0; i < model->setup.rings; i++) {
        double n_r = model->normal_r[i], n_z = model->normal_z[i];
        double along = state->r[i] * n_r + state->z[i] * n_z;
        double across = -state->r[i] * n_z + state->z[i] * n_r;
        energy += gravity * (model->mass_normal[i] * n_z * along + model->mass_across[i] * n_r * across);
    }
    for (size_t g = 0; g < model->group_count; g++)
        energy += liner_potential(&model->groups[g].liner, &state->groups[g].liner) +
                  ends_potential(model, state, g);
    return energy;
}

/* Energy in the contacts with a loose shell. */
static double stored_in_bonds(const struct columns_model *model, const struct columns_state *state)
{
    double energy = 0.0;
    for (size_t g = 0; model->is_loose && g < model->group_count; g++) {
        for (size_t c = 0; c < model->groups[g].liner.columns; c++)
            energy += penalty_energy(model->groups[g].bond[c], state->groups[g].depth[c]);
    }
    return energy;
}

/* Energy in penalties, shear and comfort layers. */
static double stored_in_contacts(const struct columns_model *model, const struct columns_state *state)
{
    double energy = contact_stored(&model->contact, &state->contact) + stored_in_bonds(model, state);
    for (size_t i = 0; i < model->setup.rings; i++) {
        if (model->shear[i] > 0.0)
            energy += 0.5 * state->shear[i] * state->shear[i] / model->shear[i];
    }
    for (size_t g = 0; g < model->group_count; g++) {
        const struct columns_group *group = &model->groups[g];
        const struct group_state *own = &state->groups[g];
        int padded = model->setup.regions[group->region].comfort_stress > 0.0;
        for (size_t c = 0; c < group->liner.columns; c++)
            energy += padded ? group->liner.area[c] *
                                   (own->rings.stored[c] +
                                    comfort_spring(&own->comfort, own->thickness[c], own->closure[c]))
                             : penalty_energy(group->bearing[c], own->closure[c]);
    }
    return energy;
}

/* Of these, what is in penalties, those beyond shut comfort layers included. */
static double stored_in_penalties(const struct columns_model *model, const struct columns_state *state)
{
    double energy = contact_stored(&model->contact, &state->contact) + stored_in_bonds(model, state);
    for (size_t g = 0; g < model->group_count; g++) {
        const struct columns_group *group = &model->groups[g];
        const struct group_state *own = &state->groups[g];
        int padded = model->setup.regions[group->region].comfort_stress > 0.0;
        for (size_t c = 0; c < group->liner.columns; c++)
            energy += padded ? group->liner.area[c] *
                                   comfort_contact(&own->comfort, own->thickness[c], own->closure[c])
                             : penalty_energy(group->bearing[c], own->closure[c]);
    }
    return energy;
}

static double stored(const struct columns_model *model, const struct columns_state *state)
{
    double energy = stored_in_contacts(model, state);
    if (model->has_shell)
        energy += shell_stored(&model->shell, &state->shell);
    for (size_t g = 0; g < model->group_count; g++)
        energy += liner_stored(&model->groups[g].liner, &state->groups[g].liner);
    return energy;
}

static void book(const struct columns_model *model, const struct columns_state *state, double dt_velocity,
                 struct history *history)
{
    double energy[ENERGY_COUNT] = {0};
    energy[ENERGY_initial] = state->initial;
    energy[ENERGY_gravity] = state->potential_before - potential(model, state);
    energy[ENERGY_rebound] = kinetic(model, state, dt_velocity);
    energy[ENERGY_friction] = state->friction_loss;
    energy[ENERGY_contact] = state->contact.loss;
    energy[ENERGY_stored] = stored(model, state) - state->stored_before;
    if (model->has_shell) {
        energy[ENERGY_shell] = shell_dissipated(&model->shell, &state->shell) - state->shell_before;
        energy[ENERGY_damage] = shell_cracked(&model->shell, &state->shell) - state->damage_before;
    }
    for (size_t g = 0; g < model->group_count; g++) {
        const struct liner_group *liner = &model->groups[g].liner;
        const struct group_state *own = &state->groups[g];
        energy[ENERGY_foam] += liner_crushed(liner, &own->liner);
        energy[ENERGY_artificial] += liner_artificial(liner, &own->liner);
        for (size_t c = 0; c < liner->columns; c++) {
            energy[ENERGY_comfort] += liner->area[c] * own->rings.dissipated[c];
            energy[ENERGY_contact] += own->contact[c];
        }
    }
    oblique_book(&model->oblique, &state->oblique, dt_velocity, energy);
    history_penalties(history, stored_in_penalties(model, state));
    history_ledger(history, energy);
}

/* Area of a column that counts on the axis. */
static double axis_weight(const struct columns_model *model, const struct columns_group *group, size_t column)
{
    return model->r[group->node[column]] <= axis_radius ? group->liner.area[column] : 0.0;
}

/* Crush of the stack [m] and nominal crush by layer, means over r <= 15 mm. */
static double axis_crush(const struct columns_model *model, const struct columns_state *state, double *layers)
{
    double all = 0.0, crush = 0.0;
    size_t at = 0;
    for (size_t g = 0; g < model->group_count; g++) {
        const struct columns_group *group = &model->groups[g];
        size_t count = model->setup.regions[group->region].layer_count;
        double weight = 0.0;
        for (size_t c = 0; c < group->liner.columns; c++)
            weight += axis_weight(model, group, c);
        for (size_t layer = 0; layer < count; layer++, at++) {
            double shortening = 0.0, first = 0.0;
            for (size_t c = 0; c < group->liner.columns; c++) {
                double length, now = liner_layer_length(&group->liner, &state->groups[g].liner,
                                                        (int)layer + 1, c, &length);
                shortening += axis_weight(model, group, c) * (length - now);
                first += axis_weight(model, group, c) * length;
            }
            layers[at] = weight > 0.0 ? shortening / first : NAN;
            crush += shortening;
        }
        all += weight;
    }
    return all > 0.0 ? crush / all : NAN;
}

double columns_axis_thickness(const struct columns_model *model)
{
    double all = 0.0, thickness = 0.0;
    for (size_t g = 0; g < model->group_count; g++) {
        const struct columns_group *group = &model->groups[g];
        for (size_t c = 0; c < group->liner.columns; c++) {
            double weight = axis_weight(model, group, c);
            all += weight;
            thickness += weight * columns_thickness(&model->setup.regions[group->region]);
        }
    }
    return all > 0.0 ? thickness / all : NAN;
}

static void write_down(const struct columns_model *model, const struct columns_state *state, double t,
                       struct history *history)
{
    double layers[HISTORY_LAYERS], crush = axis_crush(model, state, layers);
    history_state(history, t, state->first_head_z - state->head_z, crush, layers);
    if (model->has_shell)
        history_shell_strain(history, shell_largest_strain(&model->shell, &state->shell, NULL));
    size_t at = 0;
    for (size_t g = 0; g < model->group_count; g++) {
        size_t count = model->setup.regions[model->groups[g].region].layer_count;
        for (size_t layer = 0; layer < count; layer++, at++)
            liner_layer_past(&model->groups[g].liner, &state->groups[g].liner, (int)layer + 1,
                             &history->past[at]);
    }
}

/* Momentum towards the anvil. */
static double momentum(const struct columns_model *model, const struct columns_state *state)
{
    double centre = oblique_centre_velocity(&model->oblique, &state->oblique);
    double sum = -model->setup.head_mass * (state->head_velocity + centre);
    for (size_t i = 0; i < model->setup.rings; i++) {
        double n_r = model->normal_r[i], n_z = model->normal_z[i];
        double along = state->velocity_r[i] * n_r + state->velocity_z[i] * n_z;
        double across = -state->velocity_r[i] * n_z + state->velocity_z[i] * n_r;
        sum -= model->mass_normal[i] * along * n_z + model->mass_across[i] * across * n_r;
    }
    for (size_t g = 0; g < model->group_count; g++) {
        const struct columns_group *group = &model->groups[g];
        size_t columns = group->liner.columns;
        for (size_t k = model->is_loose ? 0 : columns; k < (group->liner.rows + 1) * columns; k++)
            sum -= group->liner.mass[k] * state->groups[g].liner.velocity[k] *
                   model->normal_z[group->node[k % columns]];
    }
    return sum;
}

/* Weight of everything that falls [N]. */
static double weight(const struct columns_model *model)
{
    return (model->setup.head_mass + columns_model_mass(model)) * model->setup.gravity;
}

/* --- hits --- */

enum { TOUCH_ROUNDS = 60, SEAT_ROUNDS = 8 };

/* The shell of the hit before at rest, its edge, which bends least, at its first height. */
static enum status spring_back(const struct columns_model *model, struct columns_state *last,
                               struct columns_state *state)
{
    size_t rings = model->setup.rings;
    struct shell_state fresh = state->shell;
    state->shell = last->shell;
    last->shell = fresh;
    memcpy(state->r, last->r, rings * sizeof *state->r);
    memcpy(state->z, last->z, rings * sizeof *state->z);
    enum status status = shell_rest(&model->shell, &state->shell, state->r, state->z);
    double up = model->z[rings - 1] - state->z[rings - 1];
    int bent = shell_has_yielded(&model->shell, &state->shell);
    for (size_t i = 0; i < rings; i++) {
        state->r[i] = bent ? state->r[i] : model->r[i];
        state->z[i] = bent ? state->z[i] + up : model->z[i];
    }
    return status;
}

/* Moves the nodes of a bare liner in by the shortening of its columns, the mean on each ring. */
static void shrink_bare(const struct columns_model *model, struct columns_state *state)
{
    double shortening[COLUMNS_RINGS] = {0}, area[COLUMNS_RINGS] = {0};
    for (size_t g = 0; g < model->group_count; g++) {
        const struct columns_group *group = &model->groups[g];
        const struct liner_group *liner = &group->liner;
        for (size_t k = 0; k < liner->rows * liner->columns; k++)
            shortening[group->node[k % liner->columns]] +=
                liner->area[k] * liner->length[k] * state->groups[g].liner.strain[k];
        for (size_t c = 0; c < liner->columns; c++)
            area[group->node[c]] += liner->area[c];
    }
    for (size_t i = 0; i < model->setup.rings; i++) {
        double in = area[i] > 0.0 ? shortening[i] / area[i] : 0.0;
        state->r[i] -= in * model->normal_r[i];
        state->z[i] -= in * model->normal_z[i];
    }
}

/* Stacks from the outer nodes inwards, the head where it is. */
static void line_up(const struct columns_model *model, struct columns_state *state)
{
    for (size_t g = 0; g < model->group_count; g++) {
        point_lines(model, state, g);
        place_ends(model, state, g);
        liner_lay(&model->groups[g].liner, &state->groups[g].liner);
    }
}

/* How far the head goes down until the first column has no more room at it than when new. */
static double head_room(const struct columns_model *model, const struct columns_state *state)
{
    double least = INFINITY;
    for (size_t g = 0; g < model->group_count; g++) {
        const struct columns_group *group = &model->groups[g];
        const struct group_state *own = &state->groups[g];
        size_t columns = group->liner.columns, inner = group->liner.rows * columns;
        for (size_t c = 0; c < columns; c++) {
            double room = own->liner.position[inner + c] - own->head[c] - group->head_distance[c];
            double down = (room - group->space[c]) / -own->line_z[c];
            least = down < least ? down : least;
        }
    }
    return least < INFINITY ? least : 0.0;
}

/* The helmet on the anvil as far as a new one, the head in it. */
static void seat(const struct columns_model *model, struct columns_state *state)
{
    const struct anvil *anvil = &model->setup.anvil;
    double touches = contact_gap(&model->contact, anvil, model->r, model->z);
    for (int round = 0; round < TOUCH_ROUNDS; round++) {
        double down = contact_gap(&model->contact, anvil, state->r, state->z) - touches;
        for (size_t i = 0; i < model->setup.rings; i++)
            state->z[i] -= down;
        state->head_z -= down;
    }
    for (int round = 0; round < SEAT_ROUNDS; round++) {
        line_up(model, state);
        state->head_z -= head_room(model, state);
    }
    line_up(model, state);
    state->first_head_z = state->head_z;
}

/* The helmet that the hit before left, ready for the next: see columns.h. */
static enum status take_over(const struct columns_model *model, struct columns_state *last,
                             struct columns_state *state, struct history *history)
{
    double layers[HISTORY_LAYERS];
    enum status status = model->has_shell ? spring_back(model, last, state) : STATUS_OK;
    for (size_t g = 0; g < model->group_count; g++) {
        struct liner_state fresh = state->groups[g].liner;
        state->groups[g].liner = last->groups[g].liner;
        last->groups[g].liner = fresh;
        liner_settle(&model->groups[g].liner, &state->groups[g].liner, model->setup.recovered);
    }
    if (!model->has_shell)
        shrink_bare(model, state);
    seat(model, state);
    if (model->has_shell) /* its step follows from its shape; the forces are set anew before they count */
        shell_forces(&model->shell, &state->shell, state->r, state->z, state->force_r, state->force_z);
    for (size_t g = 0; g < model->group_count; g++)
        fall(model, state, g);
    state->hit_before = 1;
    history->crush_before = axis_crush(model, state, layers);
    return status;
}

/* Energies at first touch that a hit before has left. */
static void count_from_here(const struct columns_model *model, struct columns_state *state)
{
    state->stored_before = stored(model, state);
    if (!model->has_shell)
        return;
    state->shell_before = shell_dissipated(&model->shell, &state->shell);
    state->damage_before = shell_cracked(&model->shell, &state->shell);
}

/* --- run --- */

/* Names the first cell that is crushed to nothing. */
static void name_tangle(const struct columns_model *model, const struct columns_state *state, double time,
                        char *message)
{
    for (size_t g = 0; g < model->group_count; g++) {
        const struct columns_group *group = &model->groups[g];
        char place[96], where[64];
        size_t cell;
        const struct liner_block *block = liner_used_up(&group->liner, &state->groups[g].liner, &cell);
        if (!block)
            continue;
        snprintf(place, sizeof place, "region '%s', layer %d", model->setup.regions[group->region].name,
                 block->layer);
        snprintf(where, sizeof where, "ring %d, cell %zu from the shell",
                 group->node[cell % group->liner.columns] + 1, cell / group->liner.columns + 1);
        history_used_up(message, "liner", place, where, block->foam, time);
        return;
    }
    snprintf(message, HISTORY_MESSAGE, "the solution is not a number at %.3f ms", time * 1e3);
}

/* Foam of all groups; the longest step they allow, or 0 when a cell failed. */
static double update_foam(const struct columns_model *model, struct columns_state *state, double dt,
                          struct history *history)
{
    double step =
        model->has_shell ? model->setup.courant * shell_stable_step(&model->shell, &state->shell) : INFINITY;
    for (size_t g = 0; g < model->group_count; g++) {
        struct liner_bounds bounds = liner_update(&model->groups[g].liner, &state->groups[g].liner, dt);
        if (!(bounds.largest_strain < 1.0) || !isfinite(bounds.frequency))
            return 0.0;
        if (bounds.largest_strain > history->largest_strain)
            history->largest_strain = bounds.largest_strain;
        double limit = model->setup.courant / bounds.frequency;
        step = limit < step ? limit : step;
    }
    return step;
}

/* One step on the forces of now: ledger when due, motion, record. */
static void advance(const struct columns_model *model, struct columns_state *state, const struct clock *clock,
                    struct history *history)
{
    double dt_velocity = clock_velocity_step(clock);
    oblique_act(&model->oblique, &state->oblique,
                &(struct oblique_load){.time = clock->time,
                                       .face_force = state->contact.force,
                                       .head_force = state->head_force,
                                       .push = state->bears,
                                       .height = state->head_z},
                dt_velocity);
    if (history_ledger_due(history, clock->time))
        book(model, state, dt_velocity, history);
    double end = clock->time + clock->step;
    int due = history_state_due(history, end);
    if (due)
        write_down(model, state, clock->time, history);
    move(model, state, dt_velocity, clock->step);
    history_force(history, clock_force_to(clock), state->head_force, state->contact.force,
                  -state->head_velocity);
    oblique_record(&state->oblique, clock_force_to(clock), history);
    history->gravity_impulse += state->weight * dt_velocity;
    if (due)
        write_down(model, state, end, history);
}

static enum status steps(const struct columns_model *model, struct columns_state *state,
                         struct history *history, const atomic_int *stop, char *message)
{
    int over = 0;
    double first = update_foam(model, state, 1e-9, history);
    act(model, state, 0.0);
    if (state->hit_before)
        count_from_here(model, state);
    /* the contacts are made for this step, within the limit of crushed foam too unless it is nearly solid */
    int shorter = state->hit_before && first < model->setup.courant * model->step;
    struct clock clock = clock_start(shorter ? first : model->step, model->step);
    while (clock_force_from(&clock) < model->setup.duration && !over) {
        advance(model, state, &clock, history);
        double stable = update_foam(model, state, clock.step, history);
        if (stable <= 0.0) {
            name_tangle(model, state, clock.time, message);
            return STATUS_COMPUTATION;
        }
        act(model, state, clock.step);
        if (!clock_advance(&clock, stable)) {
            snprintf(message, HISTORY_MESSAGE, "the time step collapsed at %.3f ms", clock.time * 1e3);
            return STATUS_COMPUTATION;
        }
        if (stop && *stop)
            return STATUS_INTERRUPTED;
        over = history_over(history, clock.time, state->contact.force, state->head_force,
                            model->setup.head_mass, state->head_velocity);
    }
    history->last_momentum = momentum(model, state);
    history->last_speed = -state->head_velocity;
    history->steps = clock.count;
    oblique_end(&state->oblique, history);
    book(model, state, clock_velocity_step(&clock), history);
    return STATUS_OK;
}

/* What is left of the helmet goes to whoever keeps it. */
static enum status keep(const struct columns_model *model, struct columns_state *state,
                        struct columns_state **last)
{
    if (!*last)
        *last = memory_zeroed(1, sizeof **last);
    else
        state_free(model, *last);
    if (!*last)
        return STATUS_MEMORY;
    **last = *state;
    *state = (struct columns_state){0};
    return STATUS_OK;
}

void columns_state_free(const struct columns_model *model, struct columns_state *state)
{
    if (state)
        state_free(model, state);
    memory_free(state);
}

enum status columns_run(const struct columns_model *model, struct columns_state **last,
                        struct history *history, double *absorbed, const atomic_int *stop,
                        char message[HISTORY_MESSAGE])
{
    struct columns_state state;
    enum status status = state_make(model, &state);
    if (status == STATUS_OK && last && *last)
        status = take_over(model, *last, &state, history);
    if (status == STATUS_OK) {
        history->cells = (long)model->cell_count;
        history->first_momentum = momentum(model, &state);
        state.initial = kinetic(model, &state, 0.0) + oblique_initial(&model->oblique);
        state.weight = weight(model);
        state.potential_before = potential(model, &state);
        status = steps(model, &state, history, stop, message);
    }
    size_t at = 0;
    for (size_t g = 0; status == STATUS_OK && g < model->group_count; g++) {
        size_t count = model->setup.regions[model->groups[g].region].layer_count;
        for (size_t layer = 0; layer < count; layer++)
            absorbed[at++] =
                liner_layer_crushed(&model->groups[g].liner, &state.groups[g].liner, (int)layer + 1);
    }
    if (status == STATUS_OK && last)
        status = keep(model, &state, last);
    state_free(model, &state);
    return status;
}
