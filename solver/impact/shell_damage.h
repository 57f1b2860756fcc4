#ifndef FOAMPULSE_IMPACT_SHELL_DAMAGE_H
#define FOAMPULSE_IMPACT_SHELL_DAMAGE_H

#include <stddef.h>

#include "solver/base/isa.h"
#include "solver/impact/shell.h"

/*
 * Cracks in a brittle sheet: strain-limited damage with an energy per crack area, at each point through each
 * half, in the two directions s and t apart and in each for tension and compression apart.
 *
 * With q a share kept, the strains of a point are those of an elastic sheet in plane stress whose cracks open
 * in series with it (J. Lubliner, R. L. Taylor in A. Matzenmiller, J. Lubliner, R. L. Taylor, A constitutive
 * model for anisotropic damage in fiber-composites, Mechanics of Materials 20, 1995):
 *
 *   s = e_s - nu q_t e_t,  t = e_t - nu q_s e_s,  stress_s = E q_s e_s,  stress_t = E q_t e_t
 *
 * e is the strain that the stress would give alone; q follows from the largest e so far, w, in that direction
 * and of that sign: with e0 the limit and e1 the strain at which the crack has parted
 *
 *   q = 1 up to e0, 0 from e1, between them e0 (e1 - w)/(w (e1 - e0)):  stress falls along a straight line.
 *
 * Unloading is on the secant; a crack that closes bears compression as the sheet does, as pressing has a w of
 * its own. The energy taken a volume is the integral of E e^2/2 by -dq,
 *
 *   E e0 e1 (min(w, e1) - e0)/(2 (e1 - e0)),  whole E e0 e1/2, whatever the other direction does.
 *
 * A crack across the meridian lies in one segment: e1 = 2 G/(E e0 L) with G the energy per crack area and L
 * the segment's length makes it take G on its area for any mesh (crack band: Z. P. Bazant, B. H. Oh, Crack
 * band theory for fracture of concrete, Materiaux et Constructions 16, 1983). Cracks along the meridian have
 * no place of their own in a body of revolution: they are taken a characteristic length E G/(stress limit)^2
 * apart (A. Hillerborg, M. Modeer, P.-E. Petersson, Cement and Concrete Research 6, 1976), each with G on its
 * area, so that e1 = 2 e0 for any mesh. A segment longer than that length would have to give back more than
 * the crack takes: e1 < 2 e0 is refused by the maker of the sheet.
 *
 * The equations for e are solved by repeated insertion, e_s = s + nu q_t e_t and the like: the slope of q e
 * lies in -1 .. 1 where e1 >= 2 e0, so that each round takes nu^2 of the error away.
 */

enum { CRACK_ROUNDS = 12 };

struct crack_rule {
    double young, poisson, start; /* start: e0 */
    double end_t;                 /* e1 of cracks along the meridian */
    double whole;                 /* 1/(1 - nu^2) */
};

static inline struct crack_rule crack_rule(const struct shell_sheet *sheet)
{
    double nu = sheet->poisson;
    return (struct crack_rule){.young = sheet->youngs_modulus,
                               .poisson = nu,
                               .start = sheet->crack_strain,
                               .end_t = 2.0 * sheet->crack_strain,
                               .whole = 1.0 / (1.0 - nu * nu)};
}

/* One point through the thickness of one half of every segment: arrays by segment. */
struct crack_point {
    double height, share; /* of half the thickness, of the thickness */
    const double *half_thickness, *hoop_share, *volume, *parted;
    const double *strain_s, *strain_t, *curvature_s, *curvature_t;
    double *pulled_s, *pressed_s, *pulled_t, *pressed_t; /* largest e so far */
};

static inline struct crack_point crack_point(const struct shell_model *model, const struct shell_state *state,
                                             size_t half, size_t p)
{
    size_t row = half * model->stride, at = (half * SHELL_POINTS + p) * model->stride;
    size_t pressed = at + (size_t)SHELL_HALVES * SHELL_POINTS * model->stride;
    return (struct crack_point){.height = shell_point_height[p],
                                .share = shell_point_share[p],
                                .half_thickness = model->half_thickness + row,
                                .hoop_share = model->hoop_share + row,
                                .volume = model->volume + row,
                                .parted = model->parted,
                                .strain_s = state->strain_s,
                                .strain_t = state->strain_t,
                                .curvature_s = state->curvature_s + half,
                                .curvature_t = state->curvature_t + half,
                                .pulled_s = state->worst_s + at,
                                .pressed_s = state->worst_s + pressed,
                                .pulled_t = state->worst_t + at,
                                .pressed_t = state->worst_t + pressed};
}

struct crack_strain {
    double s, t;
};

/* Strains of segment j, hoop strain as the matter sees it. */
static INLINE struct crack_strain crack_strain(struct crack_point at, size_t j)
{
    double zeta = at.height * at.half_thickness[j];
    return (struct crack_strain){at.strain_s[j] + zeta * at.curvature_s[j],
                                 at.hoop_share[j] * (at.strain_t[j] + zeta * at.curvature_t[j])};
}

/* What a point remembers, and e1 in direction s. */
struct crack_history {
    double pulled_s, pressed_s, pulled_t, pressed_t, end_s;
};

static INLINE double crack_larger(double a, double b)
{
    return a > b ? a : b;
}

static INLINE struct crack_history crack_history(struct crack_point at, size_t j)
{
    return (struct crack_history){at.pulled_s[j], at.pressed_s[j], at.pulled_t[j], at.pressed_t[j],
                                  at.parted[j]};
}

/* q e of one direction. */
static INLINE double crack_borne(double e, double pulled, double pressed, double start, double end)
{
    double worst = e > 0.0 ? pulled : pressed, size = e > 0.0 ? e : -e;
    worst = crack_larger(crack_larger(worst, size), start);
    worst = worst < end ? worst : end;
    return e * ((start * (end - worst)) / (worst * (end - start)));
}

struct crack_stress {
    double e_s, e_t;         /* strains that the stress would give alone */
    double borne_s, borne_t; /* stress / E */
};

static INLINE struct crack_stress crack_bear(struct crack_rule rule, struct crack_history past,
                                             struct crack_strain strain)
{
    double nu = rule.poisson, end_t = rule.end_t;
    struct crack_stress now = {.e_t = (strain.t + nu * strain.s) * rule.whole};
    now.borne_t = crack_borne(now.e_t, past.pulled_t, past.pressed_t, rule.start, end_t);
    for (int round = 0; round < CRACK_ROUNDS; round++) {
        now.e_s = strain.s + nu * now.borne_t;
        now.borne_s = crack_borne(now.e_s, past.pulled_s, past.pressed_s, rule.start, past.end_s);
        now.e_t = strain.t + nu * now.borne_s;
        now.borne_t = crack_borne(now.e_t, past.pulled_t, past.pressed_t, rule.start, end_t);
    }
    return now;
}

#endif
