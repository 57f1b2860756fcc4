#include "solver/base/isa.h"
#include "solver/impact/shell_damage.h"

/*
 * Derivatives of the energy of a shell that cracks. Blocks of eight halves in which no face has come to the
 * limit are elastic and are integrated through the thickness in closed form: without damage the strain is
 * linear there, so the first point to crack lies at a face.
 */

enum { LANES = 8 };

static void clear(size_t count, double *restrict values)
{
    for (size_t k = 0; k < count; k++)
        values[k] = 0.0;
}

/* Whether halves j .. j + 7 are whole at this point, now and ever. */
static int is_whole(struct crack_rule rule, struct crack_point at, size_t j)
{
    double worst[LANES];
    INDEPENDENT
    for (size_t k = 0; k < LANES; k++) {
        struct crack_strain strain = crack_strain(at, j + k);
        double s = (strain.s + rule.poisson * strain.t) * rule.whole;
        double t = (strain.t + rule.poisson * strain.s) * rule.whole;
        double now = crack_larger(s > 0.0 ? s : -s, t > 0.0 ? t : -t);
        double ever_s = crack_larger(at.pulled_s[j + k], at.pressed_s[j + k]);
        double ever_t = crack_larger(at.pulled_t[j + k], at.pressed_t[j + k]);
        worst[k] = crack_larger(now, crack_larger(ever_s, ever_t));
    }
    int whole = 1;
    for (size_t k = 0; k < LANES; k++)
        whole &= worst[k] <= rule.start;
    return whole;
}

/* Where the derivatives of a half are summed up, by segment. */
struct sums {
    double *force_s, *force_t, *moment_s, *moment_t;
};

static void add_whole(struct crack_rule rule, struct crack_point at, struct sums sums, size_t j)
{
    double young = rule.young * rule.whole, nu = rule.poisson;
    INDEPENDENT
    for (size_t k = j; k < j + LANES; k++) {
        double half = at.half_thickness[k], hoop = at.hoop_share[k];
        double stiff = young * at.volume[k], bend = stiff * half * half * (1.0 / 3.0);
        double strain_t = hoop * at.strain_t[k], curvature_t = hoop * at.curvature_t[k];
        sums.force_s[k] += stiff * (at.strain_s[k] + nu * strain_t);
        sums.force_t[k] += stiff * hoop * (strain_t + nu * at.strain_s[k]);
        sums.moment_s[k] += bend * (at.curvature_s[k] + nu * curvature_t);
        sums.moment_t[k] += bend * hoop * (curvature_t + nu * at.curvature_s[k]);
    }
}

/* Bears the strain, takes down what it comes to and adds the stress of a point to the derivatives. */
static void add_cracked(struct crack_rule rule, struct crack_point at, struct sums sums, size_t j)
{
    INDEPENDENT
    for (size_t k = j; k < j + LANES; k++) {
        struct crack_stress now = crack_bear(rule, crack_history(at, k), crack_strain(at, k));
        double volume = rule.young * at.share * at.volume[k], zeta = at.height * at.half_thickness[k];
        double s = volume * now.borne_s, t = volume * at.hoop_share[k] * now.borne_t;
        at.pulled_s[k] = crack_larger(at.pulled_s[k], now.e_s);
        at.pressed_s[k] = crack_larger(at.pressed_s[k], -now.e_s);
        at.pulled_t[k] = crack_larger(at.pulled_t[k], now.e_t);
        at.pressed_t[k] = crack_larger(at.pressed_t[k], -now.e_t);
        sums.force_s[k] += s;
        sums.force_t[k] += t;
        sums.moment_s[k] += zeta * s;
        sums.moment_t[k] += zeta * t;
    }
}

void ISA_NAME(shell_crack)(const struct shell_model *model, struct shell_state *state)
{
    struct crack_rule rule = crack_rule(&model->sheet);
    clear(model->stride, state->force_s);
    clear(model->stride, state->force_t);
    clear(model->stride, state->moment_s);
    clear(model->stride, state->moment_t);
    for (size_t half = 0; half < SHELL_HALVES; half++) {
        struct sums sums = {state->force_s, state->force_t, state->moment_s + half, state->moment_t + half};
        struct crack_point low = crack_point(model, state, half, 0);
        struct crack_point high = crack_point(model, state, half, SHELL_POINTS - 1);
        for (size_t j = 0; j < model->segment_count; j += LANES) {
            if (is_whole(rule, low, j) && is_whole(rule, high, j)) {
                add_whole(rule, low, sums, j);
                continue;
            }
            for (size_t p = 0; p < SHELL_POINTS; p++)
                add_cracked(rule, crack_point(model, state, half, p), sums, j);
        }
    }
}
