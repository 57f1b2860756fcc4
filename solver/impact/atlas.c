#include "solver/impact/atlas.h"

#include <math.h>

#include "solver/base/memory.h"
#include "solver/base/numeric.h"

static const double pi = 3.14159265358979323846;

/* Borders belong to both sides within this sine; a micrometre of a micrometre on a helmet. */
static const double rounding = 1e-12;

/* Step [rad] of the first look along the lower edge for the point nearest to a direction. */
static const double edge_step = 0.1;

void direction_vector(double elevation, double azimuth, double p[3])
{
    p[0] = numeric_cos(elevation) * numeric_cos(azimuth);
    p[1] = numeric_cos(elevation) * numeric_sin(azimuth);
    p[2] = numeric_sin(elevation);
}

void direction_angles(const double p[3], double *elevation, double *azimuth)
{
    double level = sqrt(p[0] * p[0] + p[1] * p[1]);
    *elevation = numeric_atan2(p[2], level);
    *azimuth = level > rounding ? numeric_atan2(p[1], p[0]) : 0;
}

void direction_tangents(const double p[3], double east[3], double north[3])
{
    double level = sqrt(p[0] * p[0] + p[1] * p[1]);
    int steep = level < rounding;
    east[0] = steep ? 0 : -p[1] / level;
    east[1] = steep ? 1 : p[0] / level;
    east[2] = 0;
    north[0] = p[1] * east[2] - p[2] * east[1];
    north[1] = p[2] * east[0] - p[0] * east[2];
    north[2] = p[0] * east[1] - p[1] * east[0];
}

double direction_angle(const double p[3], const double q[3])
{
    double x = p[1] * q[2] - p[2] * q[1], y = p[2] * q[0] - p[0] * q[2], z = p[0] * q[1] - p[1] * q[0];
    return numeric_atan2(sqrt(x * x + y * y + z * z), direction_dot(p, q));
}

static void mirrored(const double p[3], double flipped[3])
{
    flipped[0] = p[0];
    flipped[1] = -p[1];
    flipped[2] = p[2];
}

static void box_patch(struct patch *patch, const struct bound *bound)
{
    double span = bound->azimuth[1] - bound->azimuth[0];
    span = span < 0 ? span + 2 * pi : span;
    patch->sides = span >= 2 * pi - rounding ? 0 : span <= pi ? 1 : 2;
    for (int k = 0; k < 2; k++) {
        patch->sine[k] = numeric_sin(bound->elevation[k]);
        patch->cosine[k] = numeric_cos(bound->elevation[k]);
        patch->side[k][0] = numeric_cos(bound->azimuth[k]);
        patch->side[k][1] = numeric_sin(bound->azimuth[k]);
    }
}

static void make_patch(struct patch *patch, const struct helmet_map *map, const struct bound *bound)
{
    *patch = (struct patch){.kind = bound->kind};
    if (bound->kind == BOUND_BOX) {
        box_patch(patch, bound);
    } else if (bound->kind == BOUND_CAP) {
        patch->half = bound->half_angle;
        patch->half_sine = numeric_sin(bound->half_angle);
        patch->half_cosine = bound->half_angle < pi ? numeric_cos(bound->half_angle) : -1;
        direction_vector(bound->centre[0], bound->centre[1], patch->centre);
    } else if (bound->kind == BOUND_BAND) {
        patch->around = bound->around;
        patch->width = bound->width / map->inner_radius;
        patch->width_cosine = patch->width < pi ? numeric_cos(patch->width) : -1;
    }
}

/* Pieces that a segment of the edge is cut into. */
static size_t segment_pieces(const struct helmet_map *map, size_t segment)
{
    double from, to, elevation;
    atlas_edge_point(map, segment, &from, &elevation);
    atlas_edge_point(map, segment + 1, &to, &elevation);
    return (size_t)((to - from) / edge_step) + 1;
}

static void make_piece(struct edge_piece *piece, const struct helmet_map *map, size_t index)
{
    double from, to, e0, e1, d1[3], d2[3];
    size_t segment = 0, pieces = segment_pieces(map, 0);
    for (; index >= pieces; pieces = segment_pieces(map, ++segment))
        index -= pieces;
    atlas_edge_point(map, segment, &from, &e0);
    atlas_edge_point(map, segment + 1, &to, &e1);
    *piece = (struct edge_piece){.segment = segment};
    piece->from = from + (to - from) * (double)index / (double)pieces;
    piece->to = index + 1 < pieces ? from + (to - from) * (double)(index + 1) / (double)pieces : to;
    atlas_edge_curve(map, segment, 0.5 * (piece->from + piece->to), piece->middle, d1, d2);
    /* no arc is longer than its rise and its turn together */
    double reach = 0.5 * (piece->to - piece->from + fabs(e1 - e0) / (double)pieces);
    piece->reach_sine = numeric_sin(reach < 0.5 * pi ? reach : 0.5 * pi);
    piece->reach_cosine = numeric_cos(reach < 0.5 * pi ? reach : 0.5 * pi);
}

struct atlas atlas_of(const struct helmet_map *map)
{
    struct atlas atlas = {.map = map};
    double low = 0.5 * pi, high = -0.5 * pi;
    for (size_t i = 0; i < map->edge_count; i++) {
        low = map->edge_elevation[i] < low ? map->edge_elevation[i] : low;
        high = map->edge_elevation[i] > high ? map->edge_elevation[i] : high;
        atlas.piece_count += map->edge_count > 1 ? segment_pieces(map, i) : 0;
    }
    atlas.edge_sine[0] = numeric_sin(low);
    atlas.edge_sine[1] = numeric_sin(high);
    return atlas;
}

enum status atlas_open(struct atlas *atlas, const struct helmet_map *map)
{
    size_t total = 0;
    *atlas = atlas_of(map);
    for (size_t k = 0; k < map->region_count; k++)
        total += map->regions[k].bound_count;
    atlas->patches = memory_zeroed(total, sizeof *atlas->patches);
    atlas->first = memory_zeroed(map->region_count + 1, sizeof *atlas->first);
    atlas->pieces = memory_zeroed(atlas->piece_count, sizeof *atlas->pieces);
    if (!atlas->patches || !atlas->first || !atlas->pieces) {
        atlas_free(atlas);
        return STATUS_MEMORY;
    }
    size_t at = 0;
    for (size_t k = 0; k < map->region_count; k++) {
        atlas->first[k] = at;
        for (size_t i = 0; i < map->regions[k].bound_count; i++)
            make_patch(&atlas->patches[at++], map, &map->regions[k].bounds[i]);
    }
    atlas->first[map->region_count] = at;
    for (size_t i = 0; i < atlas->piece_count; i++)
        make_piece(&atlas->pieces[i], map, i);
    return STATUS_OK;
}

void atlas_free(struct atlas *atlas)
{
    memory_free(atlas->patches);
    memory_free(atlas->first);
    memory_free(atlas->pieces);
    *atlas = (struct atlas){0};
}

const struct patch *atlas_patch(const struct atlas *atlas, size_t region, size_t index, struct patch *local)
{
    if (atlas->patches)
        return &atlas->patches[atlas->first[region] + index];
    make_patch(local, atlas->map, &atlas->map->regions[region].bounds[index]);
    return local;
}

const struct edge_piece *atlas_piece(const struct atlas *atlas, size_t index, struct edge_piece *local)
{
    if (atlas->pieces)
        return &atlas->pieces[index];
    make_piece(local, atlas->map, index);
    return local;
}

/* 1 when p lies between the azimuths of a box. Each side is a half plane through the vertical axis; a box of
 * at most half a turn is where both hold, a wider one where either does. At the poles all azimuths hold. */
static int between_sides(const struct patch *patch, const double p[3])
{
    if (patch->sides == 0)
        return 1;
    int after = patch->side[0][0] * p[1] - patch->side[0][1] * p[0] >= -rounding;
    int before = patch->side[1][1] * p[0] - patch->side[1][0] * p[1] >= -rounding;
    return patch->sides == 1 ? after && before : after || before;
}

static int box_holds(const struct patch *patch, const double p[3])
{
    return p[2] >= patch->sine[0] - rounding && p[2] <= patch->sine[1] + rounding && between_sides(patch, p);
}

/* Takes q as the nearest point so far if it is nearer than `best` (a cosine). */
static double nearer(double best, const double p[3], double x, double y, double z, double q[3])
{
    double candidate = p[0] * x + p[1] * y + p[2] * z;
    if (candidate <= best)
        return best;
    q[0] = x;
    q[1] = y;
    q[2] = z;
    return candidate;
}

/* Nearest point on the side of a box: on its meridian if the foot of p lies on it, else a corner. */
static double side_nearest(const struct patch *patch, int k, double best, const double p[3], double q[3])
{
    const double *side = patch->side[k];
    double level = side[0] * p[0] + side[1] * p[1], length = sqrt(level * level + p[2] * p[2]);
    int above_low = patch->cosine[0] * p[2] - patch->sine[0] * level >= 0;
    int below_high = patch->sine[1] * level - patch->cosine[1] * p[2] >= 0;
    if (above_low && below_high && length > 0)
        return nearer(best, p, level / length * side[0], level / length * side[1], p[2] / length, q);
    for (int end = 0; end < 2; end++)
        best =
            nearer(best, p, patch->cosine[end] * side[0], patch->cosine[end] * side[1], patch->sine[end], q);
    return best;
}

/* Nearest point on the border of a box. From an azimuth between its sides, the nearest point of a parallel
 * lies on p's own meridian; from elsewhere, it is an end of the parallel, which the sides cover. */
static double box_nearest(const struct patch *patch, double best, const double p[3], double q[3])
{
    double level = sqrt(p[0] * p[0] + p[1] * p[1]);
    for (int k = 0; k < 2; k++) {
        if (patch->cosine[k] < rounding || !between_sides(patch, p))
            continue;
        double x = level > rounding ? p[0] / level : patch->side[0][0];
        double y = level > rounding ? p[1] / level : patch->side[0][1];
        best = nearer(best, p, patch->cosine[k] * x, patch->cosine[k] * y, patch->sine[k], q);
    }
    for (int k = 0; k < 2 && patch->sides; k++)
        best = side_nearest(patch, k, best, p, q);
    return best;
}

static double cap_nearest(const struct patch *patch, double best, const double p[3], double q[3])
{
    if (patch->half >= pi)
        return best;
    const double *c = patch->centre;
    double along = direction_dot(p, c),
           t[3] = {p[0] - along * c[0], p[1] - along * c[1], p[2] - along * c[2]};
    double length = sqrt(direction_dot(t, t));
    if (length < rounding) { /* at the centre, or opposite: any point of the border is as near */
        double north[3];
        direction_tangents(c, t, north);
        length = 1;
    }
    double s = patch->half_sine / length, h = patch->half_cosine;
    return nearer(best, p, h * c[0] + s * t[0], h * c[1] + s * t[1], h * c[2] + s * t[2], q);
}

double atlas_border(const struct atlas *atlas, size_t region, const double p[3], double q[3])
{
    const struct region_shape *shape = &atlas->map->regions[region];
    struct patch local;
    double flipped[3], best = -2;
    mirrored(p, flipped);
    for (size_t i = 0; i < shape->bound_count; i++) {
        const struct patch *patch = atlas_patch(atlas, region, i, &local);
        for (int image = 0; image <= shape->mirror; image++) {
            const double *seen = image ? flipped : p;
            double before = best;
            if (patch->kind == BOUND_BOX)
                best = box_nearest(patch, best, seen, q);
            else if (patch->kind == BOUND_CAP)
                best = cap_nearest(patch, best, seen, q);
            if (image && best > before)
                q[1] = -q[1];
        }
    }
    return best;
}

void atlas_edge_point(const struct helmet_map *map, size_t i, double *azimuth, double *elevation)
{
    size_t at = i % map->edge_count;
    *azimuth = map->edge_azimuth[at] + (i >= map->edge_count ? 2 * pi : 0);
    *elevation = map->edge_elevation[at];
}

/* Segment of the edge that holds an azimuth in [first, first + 2 pi). */
static size_t edge_segment(const struct helmet_map *map, double azimuth)
{
    size_t i = map->edge_count - 1;
    while (i > 0 && map->edge_azimuth[i] > azimuth)
        i--;
    return i;
}

/* Brings an azimuth into [from, from + 2 pi). */
static double turned(double azimuth, double from)
{
    double turns = floor((azimuth - from) / (2 * pi));
    return azimuth - 2 * pi * turns;
}

double atlas_edge_elevation(const struct helmet_map *map, double azimuth)
{
    double a0, a1, e0, e1, a = turned(azimuth, map->edge_azimuth[0]);
    size_t i = edge_segment(map, a);
    atlas_edge_point(map, i, &a0, &e0);
    atlas_edge_point(map, i + 1, &a1, &e1);
    return a1 > a0 ? e0 + (e1 - e0) * (a - a0) / (a1 - a0) : e0;
}

void atlas_edge_curve(const struct helmet_map *map, size_t i, double azimuth, double d[3], double d1[3],
                      double d2[3])
{
    double a0, a1, e0, e1;
    atlas_edge_point(map, i, &a0, &e0);
    atlas_edge_point(map, i + 1, &a1, &e1);
    double slope = a1 > a0 ? (e1 - e0) / (a1 - a0) : 0, e = e0 + slope * (azimuth - a0);
    double ce = numeric_cos(e), se = numeric_sin(e), ca = numeric_cos(azimuth), sa = numeric_sin(azimuth);
    d[0] = ce * ca;
    d[1] = ce * sa;
    d[2] = se;
    d1[0] = -slope * se * ca - ce * sa;
    d1[1] = -slope * se * sa + ce * ca;
    d1[2] = slope * ce;
    d2[0] = -(1 + slope * slope) * ce * ca + 2 * slope * se * sa;
    d2[1] = -(1 + slope * slope) * ce * sa - 2 * slope * se * ca;
    d2[2] = -slope * slope * se;
}

/* Nearest point on a piece of the edge, short enough to hold one maximum of the cosine: Newton on its slope,
 * halving where that leaves the bracket. */
static double piece_nearest(const struct helmet_map *map, const struct edge_piece *piece, double best,
                            const double p[3], double q[3])
{
    double d[3], d1[3], d2[3], low = piece->from, high = piece->to, a = 0.5 * (low + high);
    for (int round = 0; round < 60 && high - low > 1e-14; round++) {
        atlas_edge_curve(map, piece->segment, a, d, d1, d2);
        double slope = direction_dot(p, d1), bend = direction_dot(p, d2);
        if (slope > 0)
            low = a;
        else
            high = a;
        double next = bend < 0 ? a - slope / bend : 0.5 * (low + high);
        next = next < low ? low : next > high ? high : next;
        if (fabs(next - a) < 1e-15)
            break;
        a = next;
    }
    atlas_edge_curve(map, piece->segment, a, d, d1, d2);
    return nearer(best, p, d[0], d[1], d[2], q);
}

/* 1 when no point of a piece can be nearer to p than the angle of cosine `best`. */
static int too_far(const struct edge_piece *piece, double best, const double p[3])
{
    double c = direction_dot(p, piece->middle), s = sqrt(c < 1 ? 1 - c * c : 0);
    return c < piece->reach_cosine && c * piece->reach_cosine + s * piece->reach_sine < best;
}

double atlas_edge(const struct atlas *atlas, double least, const double p[3], double q[3])
{
    const struct helmet_map *map = atlas->map;
    double best = least, level = sqrt(p[0] * p[0] + p[1] * p[1]);
    if (map->edge_count == 1) {
        double edge_cosine = sqrt(1 - atlas->edge_sine[0] * atlas->edge_sine[0]);
        double x = level > rounding ? p[0] / level : 1, y = level > rounding ? p[1] / level : 0;
        return nearer(best, p, edge_cosine * x, edge_cosine * y, atlas->edge_sine[0], q);
    }
    for (size_t i = 0; i < atlas->piece_count; i++) {
        struct edge_piece local;
        const struct edge_piece *piece = atlas_piece(atlas, i, &local);
        if (!too_far(piece, best, p))
            best = piece_nearest(map, piece, best, p, q);
    }
    return best;
}

static int solid_holds(const struct patch *patch, const double p[3])
{
    if (patch->kind == BOUND_BOX)
        return box_holds(patch, p);
    if (patch->kind == BOUND_CAP)
        return direction_dot(p, patch->centre) >= patch->half_cosine - rounding;
    return patch->kind == BOUND_ALL;
}

int atlas_covers(const struct atlas *atlas, size_t region, const double p[3])
{
    const struct region_shape *shape = &atlas->map->regions[region];
    struct patch local;
    double flipped[3];
    mirrored(p, flipped);
    for (size_t i = 0; i < shape->bound_count; i++) {
        const struct patch *patch = atlas_patch(atlas, region, i, &local);
        if (solid_holds(patch, p) || (shape->mirror && solid_holds(patch, flipped)))
            return 1;
    }
    return 0;
}

static int below_edge(const struct atlas *atlas, const double p[3])
{
    if (atlas->map->edge_count == 0)
        return 0;
    if (p[2] < atlas->edge_sine[0] - rounding || p[2] >= atlas->edge_sine[1] - rounding)
        return p[2] < atlas->edge_sine[0] - rounding;
    double elevation, azimuth;
    direction_angles(p, &elevation, &azimuth);
    return elevation < atlas_edge_elevation(atlas->map, azimuth) - rounding;
}

/* 1 when p lies in the band: near the border it follows, and outside the opening. */
static int band_holds(const struct atlas *atlas, const struct patch *patch, const double p[3])
{
    double q[3], enough = patch->width_cosine - rounding;
    if (patch->around < 0)
        return atlas->map->edge_count > 0 && !below_edge(atlas, p) &&
               atlas_edge(atlas, enough, p, q) > enough;
    size_t opening = (size_t)patch->around;
    return atlas_border(atlas, opening, p, q) >= enough && !atlas_covers(atlas, opening, p);
}

static int region_holds(const struct atlas *atlas, size_t region, const double p[3])
{
    const struct region_shape *shape = &atlas->map->regions[region];
    struct patch local;
    double flipped[3];
    if (atlas_covers(atlas, region, p))
        return 1;
    mirrored(p, flipped);
    for (size_t i = 0; i < shape->bound_count; i++) {
        const struct patch *patch = atlas_patch(atlas, region, i, &local);
        if (patch->kind != BOUND_BAND)
            continue;
        if (band_holds(atlas, patch, p) || (shape->mirror && band_holds(atlas, patch, flipped)))
            return 1;
    }
    return 0;
}

int atlas_region(const struct atlas *atlas, const double p[3])
{
    if (below_edge(atlas, p))
        return -1;
    for (size_t k = 0; k < atlas->map->region_count; k++) {
        if (region_holds(atlas, k, p))
            return (int)k;
    }
    return -2;
}
