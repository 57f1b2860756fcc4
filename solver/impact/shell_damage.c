#include "solver/impact/shell_damage.h"

double shell_crack_length(const struct shell_sheet *sheet)
{
    return sheet->crack_energy / (sheet->youngs_modulus * sheet->crack_strain * sheet->crack_strain);
}

double shell_crack_end(const struct shell_sheet *sheet, double length)
{
    return 2.0 * sheet->crack_energy / (sheet->youngs_modulus * sheet->crack_strain * length);
}

/* Half of stress times strain at every point: unloading is on the secant. */
double shell_cracked_stored(const struct shell_model *model, const struct shell_state *state)
{
    struct crack_rule rule = crack_rule(&model->sheet);
    double sum = 0.0;
    for (size_t half = 0; half < SHELL_HALVES; half++) {
        for (size_t p = 0; p < SHELL_POINTS; p++) {
            struct crack_point at = crack_point(model, state, half, p);
            for (size_t j = 0; j < model->segment_count; j++) {
                struct crack_strain strain = crack_strain(at, j);
                struct crack_stress stress = crack_bear(rule, crack_history(at, j), strain);
                sum += 0.5 * at.share * at.volume[j] * rule.young *
                       (stress.borne_s * strain.s + stress.borne_t * strain.t);
            }
        }
    }
    return sum;
}

/* Energy taken by the cracks of one direction and sign [J/m3]. */
static double taken(struct crack_rule rule, double worst, double end)
{
    double open = (worst < end ? worst : end) - rule.start;
    return open > 0.0 ? 0.5 * rule.young * rule.start * end * open / (end - rule.start) : 0.0;
}

static double lost(struct crack_rule rule, struct crack_history past)
{
    return taken(rule, past.pulled_s, past.end_s) + taken(rule, past.pressed_s, past.end_s) +
           taken(rule, past.pulled_t, rule.end_t) + taken(rule, past.pressed_t, rule.end_t);
}

double shell_cracked(const struct shell_model *model, const struct shell_state *state)
{
    struct crack_rule rule = crack_rule(&model->sheet);
    double sum = 0.0;
    for (size_t half = 0; model->cracks && half < SHELL_HALVES; half++) {
        for (size_t p = 0; p < SHELL_POINTS; p++) {
            struct crack_point at = crack_point(model, state, half, p);
            for (size_t j = 0; j < model->segment_count; j++)
                sum += at.share * at.volume[j] * lost(rule, crack_history(at, j));
        }
    }
    return sum;
}
