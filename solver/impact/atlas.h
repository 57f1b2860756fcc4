#ifndef FOAMPULSE_IMPACT_ATLAS_H
#define FOAMPULSE_IMPACT_ATLAS_H

#include "solver/base/status.h"
#include "solver/impact/map.h"

/*
 * A helmet map made ready for many look-ups: directions are unit vectors (forward, right, up), angles are
 * kept as sines and cosines, so that asking for a region needs no angle of the direction.
 */

/* One bound, ready to use. A mirror image is asked for by mirroring the direction. */
struct patch {
    enum bound_kind kind;
    double sine[2], cosine[2]; /* box: of its low and high elevation */
    double side[2][2];         /* box: (cos, sin) of its azimuths */
    int sides;        /* box: 0 when all round; 1 when both side planes must hold; 2 when either does */
    double centre[3]; /* cap */
    double half, half_sine, half_cosine; /* cap: half angle */
    int around;                          /* band */
    double width, width_cosine;          /* band: as an angle; its cosine */
};

/* A short piece of the lower edge, at most 0.1 rad of azimuth. */
struct edge_piece {
    size_t segment;  /* between points `segment` and `segment` + 1 */
    double from, to; /* azimuths */
    double middle[3];
    double reach_sine, reach_cosine; /* of an angle about the middle that holds the whole piece */
};

struct atlas {
    const struct helmet_map *map;
    struct patch *patches;     /* of all regions, one after another; NULL: made when asked for */
    size_t *first;             /* (region_count + 1) of each region in `patches` */
    double edge_sine[2];       /* of the lower edge at its lowest and highest point */
    size_t piece_count;        /* of the lower edge where it has several points */
    struct edge_piece *pieces; /* NULL: made when asked for */
};

/* Makes the patches of a map, which must outlive the atlas. STATUS_MEMORY leaves the atlas zeroed. */
enum status atlas_open(struct atlas *atlas, const struct helmet_map *map);

/* Releases and zeroes; {0} is allowed. */
void atlas_free(struct atlas *atlas);

/* An atlas that makes its patches when asked: for single look-ups. Nothing to release. */
struct atlas atlas_of(const struct helmet_map *map);

/* Index of the region that holds direction p; -1 below the lower edge, -2 where no region holds it. Borders
 * belong to the region (1e-12 is granted for rounding); the lower edge belongs to the foam. */
int atlas_region(const struct atlas *atlas, const double p[3]);

/* 1 when one of a region's own boxes or caps holds p, whatever the regions before it do. */
int atlas_covers(const struct atlas *atlas, size_t region, const double p[3]);

/* Nearest point q of the border of a region's boxes and caps. Returns the cosine of the angle to it, -2 when
 * there is no border. Bands have no border of their own here. */
double atlas_border(const struct atlas *atlas, size_t region, const double p[3], double q[3]);

/* Nearest point q of the lower edge nearer than the angle of cosine `least`; returns as atlas_border, `least`
 * and an untouched q when nothing is nearer. The map must have an edge. */
double atlas_edge(const struct atlas *atlas, double least, const double p[3], double q[3]);

/* Elevation of the lower edge at an azimuth [rad]; the map must have one. */
double atlas_edge_elevation(const struct helmet_map *map, double azimuth);

/* Point i of the lower edge (i = 0 .. edge_count, the last is the first one turn on): azimuth, elevation. */
void atlas_edge_point(const struct helmet_map *map, size_t i, double *azimuth, double *elevation);

/* The edge between points i and i + 1, at an azimuth: unit vector d, its first and second derivative by
 * azimuth. */
void atlas_edge_curve(const struct helmet_map *map, size_t i, double azimuth, double d[3], double d1[3],
                      double d2[3]);

/* Patch `index` of a region, piece `index` of the edge: from the atlas, or made in `local`. */
const struct patch *atlas_patch(const struct atlas *atlas, size_t region, size_t index, struct patch *local);
const struct edge_piece *atlas_piece(const struct atlas *atlas, size_t index, struct edge_piece *local);

/* Unit vector of a direction, and back: azimuth in (-pi, pi], 0 at the poles. */
void direction_vector(double elevation, double azimuth, double p[3]);
void direction_angles(const double p[3], double *elevation, double *azimuth);

/* Two unit vectors across a unit vector and across each other: east x north = p. East is level. */
void direction_tangents(const double p[3], double east[3], double north[3]);

/* Angle between two unit vectors, exact for small ones [rad]. */
double direction_angle(const double p[3], const double q[3]);

static inline double direction_dot(const double p[3], const double q[3])
{
    return p[0] * q[0] + p[1] * q[1] + p[2] * q[2];
}

#endif
