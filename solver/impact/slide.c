#include "solver/impact/slide.h"

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

/* A point of the curve, and how far from it a node lies. */
struct touch {
    size_t piece;
    double along;              /* 0 .. 1 in it */
    double share[3];           /* of nodes piece - 1, piece, piece + 1 */
    double distance;           /* to the left of the curve, negative to its right */
    double normal_r, normal_z; /* to the left */
    double pitch;              /* length of a piece here */
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
    touch.pitch = length;
    touch.normal_r = -off.by_z / length;
    touch.normal_z = off.by_r / length;
    touch.distance = -(off.r * touch.normal_r + off.z * touch.normal_z);
    touch.share[0] = 0.5 * (1.0 - t) * (1.0 - t);
    touch.share[1] = 0.5 + t - t * t;
    touch.share[2] = 0.5 * t * t;
    return touch;
}

/* --- model and state --- */

/* What meets where node i is held by piece `piece` of the curve [kg]. */
static double meeting_mass(const struct slide_model *model, size_t i, size_t piece)
{
    double m = model->node_mass[i], least = model->curve_mass[piece];
    if (piece > 0 && model->curve_mass[piece - 1] < least)
        least = model->curve_mass[piece - 1];
    if (piece + 1 < model->count && model->curve_mass[piece + 1] < least)
        least = model->curve_mass[piece + 1];
    return m > 0.0 && least > 0.0 ? model->share * m * least / (m + least) : 0.0;
}

/* On the curve, where the search for the nearest point of node i starts. */
static double first_place(size_t i)
{
    return (double)i + 0.5;
}

enum status slide_model_make(const struct slide_setup *setup, struct slide_model *model)
{
    size_t count = setup->count;
    const struct slide_row *curve = &setup->curve;
    *model = (struct slide_model){.count = count,
                                  .share = setup->share,
                                  .pole = curve->r[0] == 0.0,
                                  .side = setup->side,
                                  .friction = setup->friction};
    double *next = model->memory = memory_zeroed(7 * count, sizeof *next);
    if (!next)
        return STATUS_MEMORY;
    double **const arrays[] = {&model->first, &model->stiffness, &model->damping,   &model->grip,
                               &model->mass,  &model->node_mass, &model->curve_mass};
    for (size_t a = 0; a < sizeof arrays / sizeof *arrays; a++, next += count)
        *arrays[a] = next;
    memcpy(model->node_mass, setup->node_mass, count * sizeof *setup->node_mass);
    memcpy(model->curve_mass, setup->curve_mass, count * sizeof *setup->curve_mass);
    for (size_t i = 0; i < count; i++) {
        double mass = model->mass[i] = meeting_mass(model, i, i);
        if (mass <= 0.0)
            continue;
        model->first[i] = model->side * touch_row(count, model->pole, curve->r, curve->z, first_place(i),
                                                  setup->nodes.r[i], setup->nodes.z[i])
                                            .distance;
        penalty_set(mass, setup->step, PENALTY_ON_FOAM, setup->damping, &model->stiffness[i],
                    &model->damping[i]);
        model->grip[i] = grip_share * mass / (setup->step * setup->step);
    }
    return STATUS_OK;
}

void slide_model_free(struct slide_model *model)
{
    memory_free(model->memory);
    *model = (struct slide_model){0};
}

enum status slide_state_make(const struct slide_model *model, struct slide_state *state)
{
    size_t count = model->count;
    *state = (struct slide_state){.memory = memory_zeroed(6 * count, sizeof *state->memory)};
    if (!state->memory)
        return STATUS_MEMORY;
    state->depth = state->memory;
    state->push = state->depth + count;
    state->held = state->push + count;
    state->place = state->held + count;
    state->ease = state->place + count;
    state->touching = state->ease + count;
    memcpy(state->touching, model->first, count * sizeof *model->first);
    for (size_t i = 0; i < count; i++) {
        state->place[i] = first_place(i);
        state->ease[i] = 1.0;
    }
    return STATUS_OK;
}

void slide_state_free(struct slide_state *state)
{
    memory_free(state->memory);
    *state = (struct slide_state){0};
}

/* --- forces --- */

/* Share of the curve that is there at a place: 1 up to its end nodes, 0 from a segment beyond them. */
static double presence(const struct slide_model *model, double place)
{
    double before = model->pole ? 1.0 : place + 0.5, after = (double)model->count + 0.5 - place;
    double share = before < after ? before : after;
    return share > 1.0 ? 1.0 : share > 0.0 ? share : 0.0;
}

/* Eases node i where it has come to lighter nodes or leaves the curve, booking what penalty and friction held
 * less. */
static void ease(const struct slide_model *model, struct slide_state *state, size_t i, size_t piece)
{
    double meets = meeting_mass(model, i, piece) / model->mass[i];
    double old = state->ease[i], now = meets * presence(model, state->place[i]);
    if (now >= old)
        return;
    double held = state->held[i], grip = old * model->grip[i], depth = state->depth[i];
    state->friction_loss += (1.0 - now / old) * 0.5 * held * held / grip;
    state->loss += (old - now) * penalty_energy(model->stiffness[i], depth);
    state->held[i] *= now / old;
    state->push[i] *= now / old;
    state->ease[i] = now;
}

/* Push of a node that touches, booking what its damping takes. */
static double push_apart(const struct slide_model *model, struct slide_state *state, size_t i, double depth,
                         double dt)
{
    double k = state->ease[i] * model->stiffness[i], held = state->push[i], change = depth - state->depth[i];
    double force = penalty_force(k, state->ease[i] * model->damping[i], depth, dt > 0.0 ? change / dt : 0.0);
    if (dt > 0.0)
        state->loss +=
            0.5 * (held + force) * change - penalty_energy(k, depth) + penalty_energy(k, state->depth[i]);
    state->depth[i] = depth;
    state->push[i] = force;
    return force;
}

/* Coulomb friction on the node; motion along the curve that sticks is elastic. */
static double drag(const struct slide_model *model, struct slide_state *state, size_t i, double slide)
{
    double stiffness = state->ease[i] * model->grip[i], held = state->held[i],
           limit = model->friction * state->push[i];
    double force = held - stiffness * slide;
    force = force > limit ? limit : force < -limit ? -limit : force;
    state->friction_loss -= 0.5 * (held + force) * slide + 0.5 * (force * force - held * held) / stiffness;
    state->held[i] = force;
    return force;
}

/* Way of a node over the curve in the last step, along it. */
static double way_over(const struct slide_model *model, struct slide_row curve, struct slide_row nodes,
                       size_t i, const struct touch *at, double dt)
{
    double r[3], z[3], curve_r = 0.0, curve_z = 0.0;
    take_nodes(model->count, model->pole, curve.velocity_r, curve.velocity_z, at->piece, r, z);
    for (int k = 0; k < 3; k++) {
        curve_r += at->share[k] * r[k];
        curve_z += at->share[k] * z[k];
    }
    return ((nodes.velocity_r[i] - curve_r) * at->normal_z - (nodes.velocity_z[i] - curve_z) * at->normal_r) *
           dt;
}

/* Hands a force to the nodes that make a point: the transpose of take_nodes. */
static void give_nodes(const struct slide_model *model, struct slide_row curve, const struct touch *at,
                       double f_r, double f_z)
{
    double *r = curve.force_r + at->piece, *z = curve.force_z + at->piece;
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

void slide_press(const struct slide_model *model, struct slide_state *state, struct slide_row curve,
                 struct slide_row nodes, double dt)
{
    for (size_t i = 0; i < model->count; i++) {
        if (model->stiffness[i] <= 0.0)
            continue;
        struct touch at =
            touch_row(model->count, model->pole, curve.r, curve.z, state->place[i], nodes.r[i], nodes.z[i]);
        state->place[i] = (double)at.piece + at.along;
        ease(model, state, i, at.piece);
        if (state->ease[i] <= 0.0)
            continue;
        double push =
            model->side * push_apart(model, state, i, state->touching[i] - model->side * at.distance, dt);
        if (push != 0.0)
            state->furthest = fmax(state->furthest, fabs(state->place[i] - first_place(i)) * at.pitch);
        double along = i == 0 ? 0.0 : drag(model, state, i, way_over(model, curve, nodes, i, &at, dt));
        double f_r = push * at.normal_r + along * at.normal_z, f_z = push * at.normal_z - along * at.normal_r;
        nodes.force_r[i] += f_r;
        nodes.force_z[i] += f_z;
        give_nodes(model, curve, &at, -f_r, -f_z);
    }
}

void slide_settle(const struct slide_model *model, struct slide_state *state, struct slide_row curve,
                  struct slide_row nodes)
{
    for (size_t i = 0; i < model->count; i++) {
        if (model->stiffness[i] <= 0.0)
            continue;
        struct touch at =
            touch_row(model->count, model->pole, curve.r, curve.z, state->place[i], nodes.r[i], nodes.z[i]);
        state->place[i] = (double)at.piece + at.along;
        state->touching[i] = model->side * at.distance;
    }
}

double slide_stored(const struct slide_model *model, const struct slide_state *state)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++) {
        double grip = state->ease[i] * model->grip[i];
        sum += penalty_energy(state->ease[i] * model->stiffness[i], state->depth[i]);
        sum += grip > 0.0 ? 0.5 * state->held[i] * state->held[i] / grip : 0.0;
    }
    return sum;
}
