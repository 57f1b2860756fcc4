#include "solver/impact/oblique.h"

#include <math.h>

#include "solver/base/memory.h"
#include "solver/base/numeric.h"

enum { NEWTON_ROUNDS = 60 }; /* two or three are usual */

enum status oblique_model_make(const struct oblique_setup *setup, const struct shear_setup *liner,
                               struct oblique_model *model)
{
    *model = (struct oblique_model){.setup = *setup, .shear.step = INFINITY};
    return setup->active && liner ? shear_model_make(liner, &model->shear) : STATUS_OK;
}

void oblique_model_free(struct oblique_model *model)
{
    shear_model_free(&model->shear);
    *model = (struct oblique_model){0};
}

enum status oblique_state_make(const struct oblique_model *model, struct oblique_state *state)
{
    size_t rings = model->shear.rings;
    *state = (struct oblique_state){.velocity = model->setup.speed, .sticks_from = NAN};
    if (!model->setup.active)
        return STATUS_OK;
    state->most = memory_zeroed(2 * rings + 1, sizeof *state->most);
    enum status status = state->most ? shear_state_make(&model->shear, &state->shear) : STATUS_MEMORY;
    if (status != STATUS_OK) {
        oblique_state_free(state);
        return status;
    }
    state->inner = state->most + rings;
    state->slip = model->setup.speed;
    return STATUS_OK;
}

void oblique_state_free(struct oblique_state *state)
{
    shear_state_free(&state->shear);
    memory_free(state->most);
    *state = (struct oblique_state){0};
}

/* --- forces --- */

static double mass_along(const struct oblique_model *model)
{
    return model->setup.head_mass + model->setup.helmet_mass;
}

static double shell_inertia(const struct oblique_model *model)
{
    return model->setup.shell_inertia + shear_outer_inertia(&model->shear);
}

/* Friction on the shell: what would end the slip within dt, or its limit. */
static void rub_face(const struct oblique_model *model, struct oblique_state *state,
                     const struct oblique_load *load, double torque, double dt)
{
    double mass = mass_along(model), inertia = shell_inertia(model);
    double arm = load->height, limit = model->setup.face_friction * load->face_force;
    double free_gain = model->setup.gravity * dt, free_turn = torque / inertia * dt;
    double before = state->velocity - arm * state->shell_rate;
    double mobility = 1.0 / mass + arm * arm / inertia;
    double ends = (before + free_gain - arm * free_turn) / (mobility * dt);
    double friction = ends > limit ? limit : ends < -limit ? -limit : ends;
    friction = limit > 0.0 ? friction : 0.0;
    state->friction = friction;
    state->gain = free_gain - friction / mass * dt;
    state->shell_gain = free_turn + friction * arm / inertia * dt;
    double after = before + state->gain - arm * state->shell_gain, slip = 0.5 * (before + after);
    state->slip = after;
    state->face_loss = friction * slip * dt;
    if (load->face_force <= 0.0)
        return;
    state->slid += numeric_absolute(slip) * dt;
    state->drift += arm * (state->shell_rate + 0.5 * state->shell_gain) * dt;
    if (limit > 0.0 && numeric_absolute(ends) <= limit && isnan(state->sticks_from))
        state->sticks_from = load->time;
}

/* Impulse of the head [N m s], at this rate, on the inner face of one ring: what makes it follow, or the most
 * that friction gives. */
static double hold(double rate, double inner, double inertia, double most)
{
    double impulse = inertia * (rate - inner);
    impulse = impulse > most ? most : impulse;
    return impulse < -most ? -most : impulse;
}

/* What the head's balance lacks at this rate [N m s], and its slope. It rises with the rate. */
static double lack(const struct oblique_model *model, const struct oblique_state *state, double turning,
                   double rate, double *slope)
{
    const struct shear_model *shear = &model->shear;
    const double *inertia = shear->inertia + shear->rows * shear->rings;
    double sum = model->setup.head_inertia * (rate - state->head_rate) + turning;
    *slope = model->setup.head_inertia;
    for (size_t i = 0; i < shear->rings; i++) {
        double impulse = hold(rate, state->inner[i], inertia[i], state->most[i]);
        sum += impulse;
        *slope += numeric_absolute(impulse) < state->most[i] ? inertia[i] : 0.0;
    }
    return sum;
}

/* The head's rate after the step, by which rings that stick go with it; `turning` is the impulse of the
 * offset. The balance is linear as long as the same rings stick, so Newton's steps end at the solution. */
static double head_rate(const struct oblique_model *model, const struct oblique_state *state, double turning)
{
    double rate = state->head_rate, slope = 0.0, before = 0.0;
    for (int round = 0; round < NEWTON_ROUNDS; round++) {
        rate -= lack(model, state, turning, rate, &slope) / slope;
        if (slope == before)
            break;
        before = slope;
    }
    return rate;
}

static void rub_head(const struct oblique_model *model, struct oblique_state *state,
                     const struct oblique_load *load, double dt)
{
    const struct shear_model *shear = &model->shear;
    size_t rings = shear->rings, last = shear->rows * rings;
    const double *rate = state->shear.rate + last, *torque = state->shear.torque + last - rings;
    const double *inertia = shear->inertia + last, *inverse = shear->inverse + last;
    double friction = model->setup.head_friction * dt, lost = 0.0;
    for (size_t i = 0; i < rings; i++) {
        state->inner[i] = rate[i] - torque[i] * inverse[i] * dt;
        state->most[i] = friction * load->push[i] * shear->head_radius[i] * shear->slip_weight[i];
    }
    double after = head_rate(model, state, model->setup.offset_along * load->head_force * dt);
    state->head_gain = after - state->head_rate;
    state->head_torque = model->setup.head_inertia * state->head_gain / dt;
    for (size_t i = 0; i < rings; i++) {
        double impulse = hold(after, state->inner[i], inertia[i], state->most[i]);
        state->inner[i] += impulse * inverse[i];
        lost += 0.5 * impulse * (state->head_rate + after - rate[i] - state->inner[i]);
    }
    state->head_loss = lost;
}

void oblique_act(const struct oblique_model *model, struct oblique_state *state,
                 const struct oblique_load *load, double dt)
{
    if (!model->setup.active)
        return;
    double torque = shear_act(&model->shear, &state->shear, load->push);
    rub_face(model, state, load, torque, dt);
    if (model->shear.rings > 0)
        rub_head(model, state, load, dt);
    state->angular_impulse +=
        (state->friction * load->height - model->setup.offset_along * load->head_force) * dt;
}

/* --- motion --- */

double oblique_move(const struct oblique_model *model, struct oblique_state *state, double dt_velocity,
                    double dt)
{
    const struct shear_model *shear = &model->shear;
    size_t rings = shear->rings, last = shear->rows * rings;
    if (!model->setup.active)
        return 0.0;
    state->velocity += state->gain;
    state->way += state->velocity * dt;
    state->shell_rate += state->shell_gain;
    state->shell_angle += state->shell_rate * dt;
    state->head_rate += state->head_gain;
    state->head_angle += state->head_rate * dt;
    shear_move(shear, &state->shear, dt_velocity, dt);
    for (size_t i = 0; i < rings; i++) {
        state->shear.rate[i] = state->shell_rate;
        state->shear.angle[i] = state->shell_angle;
        state->shear.rate[last + i] = state->inner[i];
        state->shear.angle[last + i] += state->inner[i] * dt;
    }
    state->lost_on_face += state->face_loss;
    state->lost_on_head += state->head_loss;
    return model->setup.offset_along * state->head_gain;
}

double oblique_centre_velocity(const struct oblique_model *model, const struct oblique_state *state)
{
    return model->setup.active ? model->setup.offset_along * state->head_rate : 0.0;
}

double oblique_centre_way(const struct oblique_model *model, const struct oblique_state *state)
{
    return model->setup.active ? model->setup.offset_along * state->head_angle : 0.0;
}

/* --- ledger --- */

static double half_product(double factor, double velocity, double gain)
{
    return 0.5 * factor * velocity * (velocity + gain);
}

static double inner_kinetic(const struct oblique_model *model, const struct oblique_state *state)
{
    const struct shear_model *shear = &model->shear;
    size_t last = shear->rows * shear->rings;
    double sum = 0.0;
    for (size_t i = 0; i < shear->rings; i++)
        sum += 0.5 * shear->inertia[last + i] * state->shear.rate[last + i] * state->inner[i];
    return sum;
}

void oblique_book(const struct oblique_model *model, const struct oblique_state *state, double dt_velocity,
                  double energy[ENERGY_COUNT])
{
    const struct oblique_setup *setup = &model->setup;
    if (!setup->active)
        return;
    energy[ENERGY_gravity] += mass_along(model) * setup->gravity * state->way;
    energy[ENERGY_rebound] += half_product(mass_along(model), state->velocity, state->gain) +
                              half_product(shell_inertia(model), state->shell_rate, state->shell_gain) +
                              half_product(setup->head_inertia, state->head_rate, state->head_gain) +
                              shear_kinetic(&model->shear, &state->shear, dt_velocity) +
                              inner_kinetic(model, state);
    energy[ENERGY_friction] += shear_dissipated(&model->shear, &state->shear);
    energy[ENERGY_friction_on_face] += state->lost_on_face + 0.5 * state->face_loss;
    energy[ENERGY_friction_on_head] += state->lost_on_head + 0.5 * state->head_loss;
    energy[ENERGY_stored] += shear_stored(&model->shear, &state->shear);
}

void oblique_record(const struct oblique_state *state, double to, struct history *history)
{
    history_turn(history, to, (double[]){state->friction, state->head_torque},
                 (double[]){state->head_rate, state->shell_rate, state->slip});
}

void oblique_end(const struct oblique_state *state, struct history *history)
{
    history->sticks_from = state->sticks_from;
    history->slid = state->slid;
    history->drift = state->drift;
}

double oblique_initial(const struct oblique_model *model)
{
    return model->setup.active ? 0.5 * mass_along(model) * model->setup.speed * model->setup.speed : 0.0;
}

double oblique_momentum(const struct oblique_model *model, const struct oblique_state *state)
{
    const struct shear_model *shear = &model->shear;
    double sum = shell_inertia(model) * state->shell_rate + model->setup.head_inertia * state->head_rate +
                 shear_momentum(shear, &state->shear);
    for (size_t i = 0; i < shear->rings; i++)
        sum += shear->inertia[shear->rows * shear->rings + i] *
               state->shear.rate[shear->rows * shear->rings + i];
    return sum;
}
