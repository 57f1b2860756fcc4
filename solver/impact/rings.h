#ifndef FOAMPULSE_IMPACT_RINGS_H
#define FOAMPULSE_IMPACT_RINGS_H

#include "solver/base/status.h"
#include "solver/impact/atlas.h"

/*
 * Integrals over rings about a site, exact to quadrature: no direction is sampled.
 *
 * The border of every bound is made of circles on the sphere (n.p = c): parallels, meridians, caps, and for
 * bands the same moved aside and circles round corners; a lower edge of several points adds tracks. On a
 * circle of polar angle phi about the site their crossings are in closed form (tracks: root finding to
 * rounding), and between two crossings the region is one. What the arcs give is then integrated over phi.
 */

/* What is integrated: per circle, the sum over its arcs. */
struct ring_measure {
    size_t components;
    int projected;           /* weight sin phi cos phi: area as seen along the site's axis; else sin phi */
    const double *stiffness; /* for ring_moment: (region_count) */
    double scale;            /* for ring_moment: 1 / largest stiffness */
    /* Adds an arc from psi0 to psi1 > psi0 [rad] that lies in a region (`slot`: its index, region_count below
     * the lower edge) to sum (components). psi runs from east to north about the site. */
    void (*add)(const struct ring_measure *measure, size_t slot, size_t region_count, double psi0,
                double psi1, double *sum);
};

/* Measures: arc length in each region and below the edge, (region_count + 1) components; and stiffness
 * (as part of the largest) times 1, cos psi, sin psi, three components, bare directions counting nothing. */
struct ring_measure ring_share(size_t region_count);
struct ring_measure ring_moment(const double *stiffness, size_t region_count);

/* Integral of a measure over each ring, weight included: (ring_count x components), row by row. Ring i lies
 * between edge[i] and edge[i + 1] in [0, pi], ascending. The error of a share is below 1e-7 (measured in
 * tests/verify/rings_test.c). The atlas must be opened. STATUS_MEMORY leaves zeros. */
enum status rings_integrate(const struct atlas *atlas, const double site[3], size_t ring_count,
                            const double *edge, const struct ring_measure *measure, double *integral);

#endif
