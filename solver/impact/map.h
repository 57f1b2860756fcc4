#ifndef FOAMPULSE_IMPACT_MAP_H
#define FOAMPULSE_IMPACT_MAP_H

#include <stddef.h>

/*
 * The helmet on the head: regions, openings, lower edge.
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

#endif
