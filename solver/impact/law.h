#ifndef FOAMPULSE_IMPACT_LAW_H
#define FOAMPULSE_IMPACT_LAW_H

#include <stddef.h>

#include "solver/base/isa.h"

/*
 * What a foam law is to the solvers.
 *
 * Compression is positive, strain is nominal: 1 - length/first length. A `struct foam` is one foam at one
 * density and one temperature, made by materials/ and constant during an impact. A solver hands a law blocks
 * of zones that all hold the same foam (structure of arrays); the law does not allocate, print or fail.
 *
 * Per zone the stress is skeleton + gas. The skeleton is capped by a yield stress that depends on the plastic
 * strain `plastic`; the gas depends on the strain of the matter alone. Where the cut-off in tension is
 * reached, a crack opens: the zone's strain goes on falling, the strain of the matter stays (struct
 * foam_zones.matter), so that closing the crack needs no force and costs no energy. A closed crack has
 * healed. In one dimension an open crack transmits nothing.
 */

enum { FOAM_NAME = 48 };

struct law;

struct foam {
    char name[FOAM_NAME];
    const struct law *law;
    double density;            /* [kg/m3] */
    double temperature;        /* [degC] of the impact */
    double young;              /* E [Pa], slope of the virgin curve at zero strain */
    double plateau;            /* sigma_pl [Pa] at the reference rate and this temperature */
    double hardening;          /* H [Pa] */
    double gas_pressure;       /* p0 [Pa] absolute; 0 for open cells */
    double solid_growth;       /* of the slope beyond 0.98 (1 - R) by strain [Pa]; 0: none */
    double relative_density;   /* R = density / density of the solid */
    double softening;          /* a in E_u = E / (1 + a kappa) */
    double tensile_strength;   /* sigma_t [Pa], cut on the skeleton of uncrushed foam */
    double crushed_tension;    /* sigma_tc [Pa], cut on the total stress of crushed foam */
    double crushed_from;       /* plastic strain from which foam counts as crushed */
    double rate_gain;          /* k per decade above rate_reference */
    double rate_reference;     /* [1/s] */
    double rate_time;          /* tau [s] of the rate state */
    double shear_modulus;      /* G [Pa] */
    double shear_strength;     /* [Pa] */
    double shear_friction;     /* tan of the angle by which pressure adds to the strength in shear */
    double densification;      /* E_d [Pa] */
    double densification_from; /* eps_d */
    double best_strain;        /* strain of best efficiency of the virgin curve at the reference rate */
    double curve_end;          /* strain of the last point of a measured curve; 0: no measured curve */
    double floor_share;        /* of a zone's yield stress that may stand as its floor: 1, or 0 for none */
    /* Y(kappa) at kappa = (i table_step)^2, i = 0 .. table_count - 1: plateau part, and the part that
     * densification adds (NULL when there is none) */
    size_t table_count;
    double table_step;
    double *yield_table;
    double *densification_table;
};

/* Zones of one foam, arrays of `count` each. The law reads strain, updates the state, writes stress and
 * tangent. */
struct foam_zones {
    size_t count;
    const double *strain; /* nominal strain of the zone at the end of the step */
    double *matter;       /* state: strain of the matter; equals strain unless a crack is open */
    double *skeleton;     /* state: skeleton stress [Pa] */
    double *plastic;      /* state: plastic strain kappa */
    double *rate;         /* state: filtered compressive strain rate [1/s] */
    double *dissipated;   /* state: energy lost in crushing so far [J/m3 of first volume] */
    double *stress;       /* out: skeleton + gas [Pa] */
    double *tangent;      /* out: stiffest slope of stress against strain in a step like this [Pa] */
    double *floor;        /* of the law: the yield stress is not below this [Pa]; 0 at first, or NULL */
};

/* Components of a symmetric tensor in a zone of revolution, in the zone's own axes: through the thickness,
 * along the layer, the shear between the two (as in a tensor, half the engineering strain), and around. */
enum { FOAM_NORMAL, FOAM_ALONG, FOAM_HOOP, FOAM_SHEAR, FOAM_COMPONENTS };

/* The axes in which cracks are remembered. */
enum { FOAM_AXES = FOAM_SHEAR };

/* Zones of one foam in a body of revolution, arrays of `count` each. Axes turn with the zone, so that a
 * rigid rotation changes nothing here.
 *
 * `crush` is J D dt with D the rate of deformation and J = V/V0 in the middle of the step: in uniaxial crush
 * exactly the increment of nominal strain. The skeleton is E times that, without Poisson's ratio; its
 * principal stresses are capped by the yield stress, which grows with the sum `plastic` of the compressive
 * plastic strains of all principal directions, and cut off in tension as in struct foam_zones. While a
 * crack opens the cut-off is held: there is no energy per area of crack to let it fall by, and a fall without
 * one would make the result depend on the size of zones. On the way back the tension goes first, then the
 * crack closes. The gas depends on V/V0 less the cracks. */
struct foam_points {
    size_t count;
    const double *crush[FOAM_COMPONENTS]; /* increment of the step, compression positive */
    const double *volume;                 /* 1 - V/V0 at the end of the step */
    double *skeleton[FOAM_COMPONENTS];    /* state [Pa], compression positive */
    double *crack[FOAM_AXES];             /* state: opening, as strain */
    double *plastic;                      /* state: kappa */
    double *rate;                         /* state: filtered largest compressive strain rate [1/s] */
    double *dissipated;                   /* state: energy lost so far [J/m3 of first volume] */
    double *floor;                        /* of the law, as in struct foam_zones; not NULL */
    double *stress[FOAM_COMPONENTS];      /* out: skeleton + gas [Pa] */
    double *tangent;                      /* out: stiffest slope of a stress against `crush` [Pa] */
};

struct law {
    const char *name;
    /* Advances zones by a step of `dt` [s]; one function an instruction set, same bits. */
    void (*update[ISA_COUNT])(const struct foam *foam, const struct foam_zones *zones, double dt);
    void (*update_points[ISA_COUNT])(const struct foam *foam, const struct foam_points *points, double dt);
    /* Energy that a zone in this state would give back [J/m3]: skeleton s^2 / 2 E_u, and gas. A state
     * function. In a body of revolution the skeleton's invariant sqrt(s:s) takes the place of s. */
    double (*stored)(const struct foam *foam, double matter, double skeleton, double plastic);
    /* Virgin curve at strain rate `rate` [1/s], held for long: total stress [Pa] at nominal strain. */
    double (*virgin)(const struct foam *foam, double strain, double rate);
};

/* The foam that was crushed furthest past the last point of its measured curve. */
struct foam_past {
    const struct foam *foam; /* NULL: none was */
    double strain;           /* that it was crushed to */
};

/* Takes foam at this strain down if it is further past its curve than what is there. */
static inline void foam_past_take(struct foam_past *past, const struct foam *foam, double strain)
{
    double before = past->foam ? past->strain - past->foam->curve_end : 0.0;
    if (strain - foam->curve_end > before)
        *past = (struct foam_past){foam, strain};
}

#endif
