#include "solver/impact/loose.h"

#include <math.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/impact/contact.h"

static const double grip_share = 0.1; /* of m/dt^2, as on the head */

/* --- nearest point --- */

enum { NEAREST_ROUNDS = 12 };

/* Nodes i - 1, i, i + 1 of a row. Before a pole its first node is mirrored, other ends go straight on. */
static void take_nodes(size_t count, int pole, const double *r, const double *z, size_t i, double at_r[3],
                       double at_z[3])
{
    size_t last = count - 1;
    at_r[1] = r[i];
    at_z[1] = z[i];
    at_r[0] = i > 0 ? r[i - 1] : pole ? -r[1] : 2.0 * r[0] - r[1];
    at_z[0] = i > 0 ? z[i - 1] : pole ? z[1] : 2.0 * z[0] - z[1];
    at_r[2] = i < last ? r[i + 1] : 2.0 * r[last] - r[last - 1];
    at_z[2] = i < last ? z[i + 1] : 2.0 * z[last] - z[last - 1];
}

/* A point of the curve, and how far inside of it a node lies. */
struct touch {
    size_t piece;
    double along;              /* 0 .. 1 in it */
    double share[3];           /* of nodes piece - 1, piece, piece + 1 */
    double distance;           /* on the inner side, negative beyond the shell */
    double normal_r, normal_z; /* inwards */
};

/* Place of a point less that of the node, and its first and second derivatives by `along`. */
struct offset {
    double r, z, by_r, by_z, bend_r, bend_z;
};

static struct offset offset_at(const double r[3], const double z[3], double along, double at_r, double at_z)
{
    double bend_r = r[0] - 2.0 * r[1] + r[2], bend_z = z[0] - 2.0 * z[1] + z[2];
    double by_r = r[1] - r[0] + along * bend_r, by_z = z[1] - z[0] + along * bend_z;
    return (struct offset){0.5 * (r[0] + r[1]) + along * (by_r - 0.5 * along * bend_r) - at_r,
                           0.5 * (z[0] + z[1]) + along * (by_z - 0.5 * along * bend_z) - at_z,
                           by_r,
                           by_z,
                           bend_r,
                           bend_z};
}

/* Newton's steps to the nearest point of the curve from place `from`, in pieces; the slope is held positive
 * so that they go downhill. */
static struct touch touch_row(size_t count, int pole, const double *r, const double *z, double from,
                              double at_r, double at_z)
{
    double place = from, most = (double)(count - 1), node_r[3], node_z[3];
    struct touch touch = {0};
    struct offset off = {0};
    for (int round = 0; round <= NEAREST_ROUNDS; round++) {
        double inside = place < 0.0 ? 0.0 : place < most ? place : most;
        touch.piece = (size_t)inside;
        touch.along = place - (double)touch.piece;
        take_nodes(count, pole, r, z, touch.piece, node_r, node_z);
        off = offset_at(node_r, node_z, touch.along, at_r, at_z);
        double square = off.by_r * off.by_r + off.by_z * off.by_z;
        double slope = square + off.r * off.bend_r + off.z * off.bend_z;
        double way = (off.r * off.by_r + off.z * off.by_z) / (slope > 0.25 * square ? slope : 0.25 * square);
        if (round == NEAREST_ROUNDS || fabs(way) < 1e-14)
            break;
        place -= way > 0.5 ? 0.5 : way < -0.5 ? -0.5 : way;
    }
    double length = sqrt(off.by_r * off.by_r + off.by_z * off.by_z), t = touch.along;
    touch.normal_r = -off.by_z / length;
    touch.normal_z = off.by_r / length;
    touch.distance = -(off.r * touch.normal_r + off.z * touch.normal_z);
    touch.share[0] = 0.5 * (1.0 - t) * (1.0 - t);
    touch.share[1] = 0.5 + t - t * t;
    touch.share[2] = 0.5 * t * t;
    return touch;
}

/* --- model --- */

/* The least of a value over a ring and its neighbours. */
static double least_near(const double *values, size_t count, size_t i)
{
    double least = values[i];
    if (i > 0 && values[i - 1] < least)
        least = values[i - 1];
    return i + 1 < count && values[i + 1] < least ? values[i + 1] : least;
}

/* On the curve, where the search for the nearest point of node i starts. */
static double first_place(size_t i)
{
    return (double)i + 0.5;
}

enum status loose_model_make(size_t count, struct loose_row foam, struct loose_row shell, double step,
                             double damping, double friction, struct loose_model *model)
{
    *model = (struct loose_model){.count = count, .pole = shell.r[0] == 0.0, .friction = friction};
    double *next = model->memory = memory_zeroed(5 * count, sizeof *next);
    if (!next)
        return STATUS_MEMORY;
    double **const arrays[] = {&model->first, &model->stiffness, &model->damping, &model->grip,
                               &model->shell_mass};
    for (size_t a = 0; a < sizeof arrays / sizeof *arrays; a++, next += count)
        *arrays[a] = next;
    memcpy(model->shell_mass, shell.mass, count * sizeof *shell.mass);
    for (size_t i = 0; i < count; i++) {
        if (foam.mass[i] <= 0.0)
            continue;
        model->first[i] =
            touch_row(count, model->pole, shell.r, shell.z, first_place(i), foam.r[i], foam.z[i]).distance;
        double shell_mass = least_near(shell.mass, count, i) * PENALTY_ON_SHELL / PENALTY_ON_FOAM;
        double mass = foam.mass[i] < shell_mass ? foam.mass[i] : shell_mass;
        penalty_set(mass, step, PENALTY_ON_FOAM, damping, &model->stiffness[i], &model->damping[i]);
        model->grip[i] = grip_share * mass / (step * step);
    }
    return STATUS_OK;
}

void loose_model_free(struct loose_model *model)
{
    memory_free(model->memory);
    *model = (struct loose_model){0};
}

/* --- state --- */

enum status loose_state_make(const struct loose_model *model, struct loose_row shell, double velocity_z,
                             struct loose_state *state)
{
    size_t count = model->count;
    *state = (struct loose_state){.memory = memory_zeroed(10 * count, sizeof *state->memory)};
    if (!state->memory)
        return STATUS_MEMORY;
    double *next = state->memory;
    double **const arrays[] = {&state->r,       &state->z,       &state->velocity_r, &state->velocity_z,
                               &state->force_r, &state->force_z, &state->depth,      &state->push,
                               &state->held,    &state->place};
    for (size_t a = 0; a < sizeof arrays / sizeof *arrays; a++, next += count)
        *arrays[a] = next;
    memcpy(state->r, shell.r, count * sizeof *shell.r);
    memcpy(state->z, shell.z, count * sizeof *shell.z);
    for (size_t i = 0; i < count; i++) {
        state->velocity_z[i] = velocity_z;
        state->place[i] = first_place(i);
    }
    return STATUS_OK;
}

void loose_state_free(struct loose_state *state)
{
    memory_free(state->memory);
    *state = (struct loose_state){0};
}

/* --- forces --- */

/* Push of a node that touches, booking what its damping takes. */
static double push_apart(const struct loose_model *model, struct loose_state *state, size_t i, double depth,
                         double dt)
{
    double k = model->stiffness[i], held = state->push[i], change = depth - state->depth[i];
    double force = penalty_force(k, model->damping[i], depth, dt > 0.0 ? change / dt : 0.0);
    if (dt > 0.0)
        state->loss +=
            0.5 * (held + force) * change - penalty_energy(k, depth) + penalty_energy(k, state->depth[i]);
    state->depth[i] = depth;
    state->push[i] = force;
    return force;
}

/* Coulomb friction on the foam's node; motion over the shell that sticks is elastic. */
static double drag(const struct loose_model *model, struct loose_state *state, size_t i, double slide)
{
    double stiffness = model->grip[i], held = state->held[i], limit = model->friction * state->push[i];
    double force = held - stiffness * slide;
    force = force > limit ? limit : force < -limit ? -limit : force;
    state->friction_loss -= 0.5 * (held + force) * slide + 0.5 * (force * force - held * held) / stiffness;
    state->held[i] = force;
    return force;
}

/* Way of a foam node over the shell in the last step, along increasing phi. */
static double way_over(const struct loose_model *model, const struct loose_state *state,
                       struct loose_row foam, size_t i, const struct touch *at, double dt)
{
    double r[3], z[3], shell_r = 0.0, shell_z = 0.0;
    take_nodes(model->count, model->pole, state->velocity_r, state->velocity_z, at->piece, r, z);
    for (int k = 0; k < 3; k++) {
        shell_r += at->share[k] * r[k];
        shell_z += at->share[k] * z[k];
    }
    return ((foam.velocity_r[i] - shell_r) * at->normal_z - (foam.velocity_z[i] - shell_z) * at->normal_r) *
           dt;
}

/* Hands a force to the nodes that make a point: the transpose of take_nodes. */
static void give_nodes(const struct loose_model *model, struct loose_state *state, const struct touch *at,
                       double f_r, double f_z)
{
    double *r = state->force_r + at->piece, *z = state->force_z + at->piece;
    double first = at->share[0], middle = at->share[1], last = at->share[2];
    if (at->piece == 0) {
        middle += model->pole ? 0.0 : 2.0 * first;
        r[1] -= first * f_r;
        z[1] += (model->pole ? first : -first) * f_z;
    } else {
        double back = at->piece + 1 == model->count ? first - last : first;
        r[-1] += back * f_r;
        z[-1] += back * f_z;
    }
    if (at->piece + 1 == model->count) {
        middle += 2.0 * last;
    } else {
        r[1] += last * f_r;
        z[1] += last * f_z;
    }
    r[0] += middle * f_r;
    z[0] += middle * f_z;
}

void loose_press(const struct loose_model *model, struct loose_state *state, struct loose_row foam, double dt,
                 double *foam_force_r, double *foam_force_z)
{
    memset(state->force_r, 0, model->count * sizeof *state->force_r);
    memset(state->force_z, 0, model->count * sizeof *state->force_z);
    for (size_t i = 0; i < model->count; i++) {
        if (model->stiffness[i] <= 0.0)
            continue;
        struct touch at =
            touch_row(model->count, model->pole, state->r, state->z, state->place[i], foam.r[i], foam.z[i]);
        state->place[i] = (double)at.piece + at.along;
        double push = push_apart(model, state, i, model->first[i] - at.distance, dt);
        double along = i == 0 ? 0.0 : drag(model, state, i, way_over(model, state, foam, i, &at, dt));
        double f_r = push * at.normal_r + along * at.normal_z, f_z = push * at.normal_z - along * at.normal_r;
        foam_force_r[i] += f_r;
        foam_force_z[i] += f_z;
        give_nodes(model, state, &at, -f_r, -f_z);
    }
}

/* --- motion and sums --- */

void loose_move(const struct loose_model *model, struct loose_state *state, double gravity,
                double dt_velocity, double dt)
{
    for (size_t i = 0; i < model->count; i++) {
        double per_mass = dt_velocity / model->shell_mass[i];
        state->velocity_r[i] += i == 0 ? 0.0 : state->force_r[i] * per_mass;
        state->velocity_z[i] += state->force_z[i] * per_mass - gravity * dt_velocity;
        state->r[i] += state->velocity_r[i] * dt;
        state->z[i] += state->velocity_z[i] * dt;
    }
}

double loose_kinetic(const struct loose_model *model, const struct loose_state *state, double gravity,
                     double dt_velocity)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++) {
        double mass = model->shell_mass[i], r = state->velocity_r[i], z = state->velocity_z[i];
        double gain_r = i == 0 ? 0.0 : state->force_r[i] / mass * dt_velocity;
        double gain_z = (state->force_z[i] / mass - gravity) * dt_velocity;
        sum += 0.5 * mass * (r * (r + gain_r) + z * (z + gain_z));
    }
    return sum;
}

double loose_momentum(const struct loose_model *model, const struct loose_state *state)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++)
        sum += model->shell_mass[i] * state->velocity_z[i];
    return sum;
}

double loose_height(const struct loose_model *model, const struct loose_state *state)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++)
        sum += model->shell_mass[i] * state->z[i];
    return sum;
}

double loose_mass(const struct loose_model *model)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++)
        sum += model->shell_mass[i];
    return sum;
}

double loose_stored(const struct loose_model *model, const struct loose_state *state)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++) {
        sum += penalty_energy(model->stiffness[i], state->depth[i]);
        sum += model->grip[i] > 0.0 ? 0.5 * state->held[i] * state->held[i] / model->grip[i] : 0.0;
    }
    return sum;
}
