#ifndef FOAMPULSE_IMPACT_SITE_H
#define FOAMPULSE_IMPACT_SITE_H

#include <stddef.h>

#include "solver/base/status.h"
#include "solver/impact/map.h"

/*
 * One impact site of the helmet: which region holds it, what lies on the rings about it, how far the edge is,
 * how round the head is there. site_shares is step 3 of the life of a run. Directions and angles as in
 * solver/impact/map.h.
 */

/* Index of the region that holds a direction; -1 below the lower edge, -2 where no region holds it. */
int helmet_map_region(const struct helmet_map *map, double elevation, double azimuth);

/* Share of each region in the solid angle 4 pi of the whole head: (region_count + 1), the last the share
 * below the lower edge. The shares sum to 1 less what no region holds. STATUS_MEMORY leaves zeros. */
enum status helmet_map_shares(const struct helmet_map *map, double *share);

/* Area share of each region on rings about a site. Ring i lies between polar angles edge[i] and edge[i + 1]
 * about the site's direction; share is (ring_count x (region_count + 1)), row by row, the last column below
 * the lower edge. Boundaries are intersected with circles, so shares move smoothly with them. STATUS_MEMORY
 * leaves zeros. */
enum status site_shares(const struct helmet_map *map, double elevation, double azimuth, size_t ring_count,
                        const double *edge, double *share);

/* How one-sided the support at a site is: over the cap of half angle phi_max about it, with each region's
 * stiffness k (region_count, any unit; what is bare counts nothing) and the area w as seen along the site's
 * axis (dw = sin phi cos phi dphi dpsi), |integral of k e^(i psi) dw| / integral of k dw. 0 for an even
 * surrounding, 2/pi where one half of the cap carries all, 1 in the limit of a thin sector; 0 also where
 * nothing is stiff. */
enum status site_asymmetry(const struct helmet_map *map, double elevation, double azimuth, double phi_max,
                           const double *stiffness, double *fraction);

/* Angle [rad] from a direction to the nearest border of the foam: an opening or the lower edge; INFINITY
 * when there is neither. Negative when the direction itself is bare: then the depth below the edge, or inside
 * the opening's nearest bound. Of an opening its boxes and caps count, whether another region hides them or
 * not. */
double site_edge_distance(const struct helmet_map *map, double elevation, double azimuth);

/* Principal radii [m] of the ellipsoid x^2/a^2 + y^2/b^2 + z^2/c^2 = 1 at the surface point seen in this
 * direction from its centre (half length a forward, half breadth b to the right, half height c up), the
 * larger first. Source: with D = diag(a^-2, b^-2, c^-2) and the surface point p, the normal curvature along a
 * unit tangent t is (t.D.t) / |D p| (second derivative of the level set x.D.x = 1); the radii are the inverse
 * eigenvalues of that form on the tangent plane. */
void ellipsoid_radii(const double half_axes[3], double elevation, double azimuth, double radii[2]);

/* A site that cases can name. Test points of a standard are on the head, in the planes of its drawing. */
struct site_info {
    const char *name;
    double elevation, azimuth; /* [rad]; where `below` is set, the elevation on a headform of size J */
    double below;              /* depth below plane AA' [m], 0 where the elevation is given as an angle */
    const char *text;
    const char *provenance;
    const char *source; /* "" where the direction is a convention of this program */
};
extern const struct site_info site_table[];
extern const size_t site_table_count;

/* Elevation [rad] of a named site on a head of this half breadth [m]: a depth below plane AA' is taken at the
 * side of the head, atan(depth / half breadth). */
double site_elevation(const struct site_info *site, double half_breadth);

/* Centre of a region, for `at: {region: NAME}`, of its first bound: the middle of a box or cap; of a band,
 * the middle of its width above the centre of the opening's first box or cap (at azimuth 0 for the lower
 * edge). 1 when that direction lies in the region, else 0; a region without such a bound gives 0, 0 and 0. */
int region_centre(const struct helmet_map *map, int region, double *elevation, double *azimuth);

#endif
