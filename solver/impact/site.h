#ifndef FOAMPULSE_IMPACT_SITE_H
#define FOAMPULSE_IMPACT_SITE_H

#include <stddef.h>

/*
 * The helmet on the head, and one impact site of it.
 *
 * Directions are seen from point Z: elevation up from plane AA', azimuth 0 at the front, positive to the
 * wearer's right; a unit vector is (forward, right, up) = (cos e cos a, cos e sin a, sin e). All angles here
 * are [rad]. Regions are a list in which the first match wins; each is the union of its bounds. For shares
 * and areas the inner face of the shell counts as a sphere of `inner_radius`.
 */

enum { REGION_NAME = 48 };

enum bound_kind { BOUND_ALL, BOUND_BOX, BOUND_CAP, BOUND_BAND };

struct bound {
    enum bound_kind kind;
    double elevation[2]; /* box, low and high, inclusive */
    double azimuth[2];   /* box, from and to; from > to crosses 180 deg; a span of 2 pi is all round */
    double centre[2];    /* cap: elevation, azimuth */
    double half_angle;   /* cap */
    int around;          /* band: index of the open region whose edge it follows, or -1 for the lower edge */
    double width;        /* band [m] on the inner face of the shell */
};

struct region_shape {
    char name[REGION_NAME];
    int open;   /* neither liner nor shell */
    int mirror; /* each bound holds at +azimuth and -azimuth */
    size_t bound_count;
    struct bound *bounds;
};

struct helmet_map {
    double inner_radius; /* of the shell [m]; turns widths into angles */
    size_t region_count;
    struct region_shape *regions;
    /* No shell, no liner below: elevation of the lower edge against azimuth, linear between points, periodic,
     * azimuths ascending in [-pi, pi); one point is the same elevation all round, none is no edge at all. */
    size_t edge_count;
    double *edge_azimuth, *edge_elevation;
};

/* Index of the region that holds a direction; -1 below the lower edge, -2 where no region holds it. */
int helmet_map_region(const struct helmet_map *map, double elevation, double azimuth);

/* Share of each region in the solid angle 4 pi of the whole head: (region_count + 1), the last the share
 * below the lower edge. The shares sum to 1 less what no region holds. */
void helmet_map_shares(const struct helmet_map *map, double *share);

/* Area share of each region on rings about a site. Ring i lies between polar angles edge[i] and edge[i + 1]
 * about the site's direction; share is (ring_count x (region_count + 1)), row by row, the last column below
 * the lower edge. Boundaries are intersected with circles, so shares move smoothly with them. */
void site_shares(const struct helmet_map *map, double elevation, double azimuth, size_t ring_count,
                 const double *edge, double *share);

/* Angle [rad] from a direction to the nearest border of the foam: an opening or the lower edge; INFINITY
 * when there is neither. Negative when the direction itself is bare. */
double site_edge_distance(const struct helmet_map *map, double elevation, double azimuth);

/* Principal radii [m] of the ellipsoid x^2/a^2 + y^2/b^2 + z^2/c^2 = 1 at the surface point seen in this
 * direction from its centre (half length a forward, half breadth b to the right, half height c up). */
void ellipsoid_radii(const double half_axes[3], double elevation, double azimuth, double radii[2]);

/* Centre of a region for `at: {region: NAME}`: of its first box or cap; of a band, the middle of its width
 * above the opening's centre (at azimuth 0 for the lower edge). 1 when that direction lies in the region,
 * else 0. */
int region_centre(const struct helmet_map *map, int region, double *elevation, double *azimuth);

#endif
