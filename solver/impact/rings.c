#include "solver/impact/rings.h"

#include <math.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/numeric.h"

/*
 * As a function of phi, what a circle gives is smooth between marks: angles at which the circle touches a
 * border or passes a corner (where two borders cross or one ends). At a mark it may have a kink, a jump or
 * infinite slope (a square root). So rings are cut at the marks, and in each panel phi = a + L t^2 (3 - 2 t),
 * which turns square roots at both ends into smooth functions of t; a 7-15 point Gauss-Kronrod pair checks
 * itself and halves the panel where a mark was missed (bands along a bent lower edge leave some).
 *
 * Most crossings of circles are not corners of the map: their neighbourhood lies in one region or two. A mark
 * is kept only if the regions around it show that borders end or turn there.
 */

static const double pi = 3.14159265358979323846;

/* How far [rad] from a possible mark the regions around it are asked for. */
static const double aside = 1e-7;

/* Allowed difference of the pair of rules, as share of a ring. */
static const double tolerance = 1e-9;

enum { POINTS = 8, DEPTH = 40 };

/* Longest panel [rad]. */
static const double longest_panel = 0.25;

/* Circle n.p = c, and how it lies to the site: n = along s + across (cos heading u + sin heading v). */
struct wall {
    double normal[3], offset;
    double along, across, heading;
};

/* A border along a segment of the lower edge, moved up by an angle (cosine, sine of it), perhaps mirrored. On
 * its azimuths the distance from the site runs one way; `low`, `high` are the cosines at both ends. */
struct track {
    size_t segment;
    double from, to;
    double up_cosine, up_sine;
    int flip;
    double at_from, at_to;
};

struct scan {
    const struct atlas *atlas;
    double site[3], east[3], north[3];
    size_t wall_count, wall_room;
    struct wall *walls;
    size_t track_count, track_room;
    struct track *tracks;
    size_t mark_count, mark_room;
    double *marks;
    double *crossing; /* (2 wall_count + track_count) */
    int failed;       /* memory ran out */
};

/* Room for one more item: the array, perhaps moved. NULL and `failed` when memory is out. */
static void *grown(struct scan *scan, void *items, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return items;
    size_t wanted = *room ? 2 * *room : 32;
    void *fresh = memory_resized(items, *room, wanted, size);
    if (!fresh)
        scan->failed = 1;
    else
        *room = wanted;
    return fresh;
}

static void add_mark(struct scan *scan, double cosine)
{
    double *marks = grown(scan, scan->marks, scan->mark_count, &scan->mark_room, sizeof *marks);
    if (!marks)
        return;
    scan->marks = marks;
    double s = sqrt(cosine * cosine < 1 ? 1 - cosine * cosine : 0);
    scan->marks[scan->mark_count++] = numeric_atan2(s, cosine);
}

/* --- walls -------------------------------------------------------------------------------------------------
 */

static int same_wall(const struct wall *wall, const double normal[3], double offset)
{
    double turn = direction_dot(wall->normal, normal);
    return fabs(turn) > 1 - 1e-15 && fabs(wall->offset - (turn > 0 ? offset : -offset)) < 1e-14;
}

static void add_wall(struct scan *scan, double x, double y, double z, double offset, int flip)
{
    double normal[3] = {x, flip ? -y : y, z};
    if (fabs(offset) >= 1)
        return;
    for (size_t i = 0; i < scan->wall_count; i++) {
        if (same_wall(&scan->walls[i], normal, offset))
            return;
    }
    struct wall *walls = grown(scan, scan->walls, scan->wall_count, &scan->wall_room, sizeof *walls);
    if (!walls)
        return;
    scan->walls = walls;
    struct wall *wall = &walls[scan->wall_count++];
    double u = direction_dot(normal, scan->east), v = direction_dot(normal, scan->north);
    memcpy(wall->normal, normal, sizeof normal);
    wall->offset = offset;
    wall->along = direction_dot(normal, scan->site);
    wall->across = sqrt(u * u + v * v);
    wall->heading = numeric_atan2(v, u);
}

/* Borders of a box, moved outwards by `width` [rad]. */
static void box_walls(struct scan *scan, const struct bound *bound, const struct patch *patch, double width,
                      int flip)
{
    double low = bound->elevation[0] - width, high = bound->elevation[1] + width;
    if (low > -0.5 * pi)
        add_wall(scan, 0, 0, 1, numeric_sin(low), 0);
    if (high < 0.5 * pi)
        add_wall(scan, 0, 0, 1, numeric_sin(high), 0);
    for (int k = 0; k < 2 && patch->sides; k++) {
        const double *side = patch->side[k];
        if (width < 0.5 * pi)
            add_wall(scan, -side[1], side[0], 0, k == 0 ? -numeric_sin(width) : numeric_sin(width), flip);
        for (int end = 0; end < 2 && width > 0 && width < pi; end++)
            add_wall(scan, patch->cosine[end] * side[0], patch->cosine[end] * side[1], patch->sine[end],
                     numeric_cos(width), flip);
    }
}

static void cap_walls(struct scan *scan, const struct patch *patch, double width, int flip)
{
    if (patch->half + width < pi)
        add_wall(scan, patch->centre[0], patch->centre[1], patch->centre[2], numeric_cos(patch->half + width),
                 flip);
}

static void add_tracks(struct scan *scan, double width, int flip);

static void edge_band_walls(struct scan *scan, double width, int flip)
{
    const struct helmet_map *map = scan->atlas->map;
    double p[3], azimuth, elevation;
    if (map->edge_count == 1 && map->edge_elevation[0] + width < 0.5 * pi)
        add_wall(scan, 0, 0, 1, numeric_sin(map->edge_elevation[0] + width), 0);
    if (map->edge_count <= 1)
        return;
    add_tracks(scan, width, flip);
    if (flip)
        add_tracks(scan, 0, flip);
    for (size_t i = 0; i < map->edge_count && width < pi; i++) {
        atlas_edge_point(map, i, &azimuth, &elevation);
        direction_vector(elevation, azimuth, p);
        add_wall(scan, p[0], p[1], p[2], numeric_cos(width), flip);
    }
}

/* Borders of the boxes and caps of a region, moved outwards by `width`. */
static void solid_walls(struct scan *scan, size_t region, double width, int flip)
{
    const struct region_shape *shape = &scan->atlas->map->regions[region];
    struct patch local;
    for (size_t i = 0; i < shape->bound_count; i++) {
        const struct patch *patch = atlas_patch(scan->atlas, region, i, &local);
        for (int image = 0; image <= shape->mirror; image++) {
            if (patch->kind == BOUND_BOX)
                box_walls(scan, &shape->bounds[i], patch, width, flip != image);
            else if (patch->kind == BOUND_CAP)
                cap_walls(scan, patch, width, flip != image);
        }
    }
}

static void region_walls(struct scan *scan, size_t region)
{
    const struct region_shape *shape = &scan->atlas->map->regions[region];
    struct patch local;
    solid_walls(scan, region, 0, 0);
    for (size_t i = 0; i < shape->bound_count; i++) {
        const struct patch *patch = atlas_patch(scan->atlas, region, i, &local);
        if (patch->kind != BOUND_BAND)
            continue;
        for (int image = 0; image <= shape->mirror; image++) {
            if (patch->around < 0) {
                edge_band_walls(scan, patch->width, image);
            } else {
                solid_walls(scan, (size_t)patch->around, 0, image);
                solid_walls(scan, (size_t)patch->around, patch->width, image);
            }
        }
    }
}

/* --- tracks along a bent lower edge ------------------------------------------------------------------------
 */

/* Point of a track, and the direction in which it runs (of the edge below it: the same). */
static void track_point(const struct scan *scan, const struct track *track, double azimuth, double q[3],
                        double ahead[3])
{
    double d[3], d2[3], up[3];
    atlas_edge_curve(scan->atlas->map, track->segment, azimuth, d, ahead, d2);
    double speed = sqrt(direction_dot(ahead, ahead));
    up[0] = (d[1] * ahead[2] - d[2] * ahead[1]) / speed;
    up[1] = (d[2] * ahead[0] - d[0] * ahead[2]) / speed;
    up[2] = (d[0] * ahead[1] - d[1] * ahead[0]) / speed;
    for (int k = 0; k < 3; k++)
        q[k] = track->up_cosine * d[k] + track->up_sine * up[k];
    if (track->flip) {
        q[1] = -q[1];
        ahead[1] = -ahead[1];
    }
}

/* n.q - c at an azimuth of a track; with `slope`, n.ahead in its place. */
static double track_value(const struct scan *scan, const struct track *track, double azimuth,
                          const double normal[3], double offset, int slope)
{
    double q[3], ahead[3];
    track_point(scan, track, azimuth, q, ahead);
    return slope ? direction_dot(normal, ahead) : direction_dot(normal, q) - offset;
}

/* Root between two azimuths with values of opposite sign: false position with the Illinois halving, then done
 * when the bracket or the value is at rounding. */
static double track_root(const struct scan *scan, const struct track *track, double from, double to,
                         double at_from, double at_to, const double normal[3], double offset, int slope)
{
    double a = from;
    int kept = 0;
    for (int round = 0; round < 80 && fabs(to - from) > 1e-14; round++) {
        a = (from * at_to - to * at_from) / (at_to - at_from);
        double value = track_value(scan, track, a, normal, offset, slope);
        if (fabs(value) < 1e-15)
            break;
        if ((value > 0) == (at_to > 0)) {
            to = a;
            at_to = value;
            at_from = kept == 1 ? 0.5 * at_from : at_from;
            kept = 1;
        } else {
            from = a;
            at_from = value;
            at_to = kept == 2 ? 0.5 * at_to : at_to;
            kept = 2;
        }
    }
    return a;
}

/* Adds the track from..to, and marks where it ends. */
static void add_track(struct scan *scan, struct track track, double from, double to)
{
    struct track *tracks = grown(scan, scan->tracks, scan->track_count, &scan->track_room, sizeof *tracks);
    if (!tracks)
        return;
    scan->tracks = tracks;
    track.from = from;
    track.to = to;
    track.at_from = track_value(scan, &track, from, scan->site, 0, 0);
    track.at_to = track_value(scan, &track, to, scan->site, 0, 0);
    tracks[scan->track_count++] = track;
    add_mark(scan, track.at_from);
    add_mark(scan, track.at_to);
}

/* Tracks along the whole lower edge, cut at its points and where they are nearest to or farthest from the
 * site. */
static void add_tracks(struct scan *scan, double width, int flip)
{
    const struct atlas *atlas = scan->atlas;
    struct track track = {.up_cosine = numeric_cos(width), .up_sine = numeric_sin(width), .flip = flip};
    double from = 0, before = 0;
    for (size_t i = 0; i < atlas->piece_count; i++) {
        const struct edge_piece *piece = &atlas->pieces[i];
        int first = i == 0 || piece->segment != piece[-1].segment;
        int last = i + 1 == atlas->piece_count || piece->segment != piece[1].segment;
        track.segment = piece->segment;
        if (first) {
            from = piece->from;
            before = track_value(scan, &track, from, scan->site, 0, 1);
        }
        double after = track_value(scan, &track, piece->to, scan->site, 0, 1);
        if ((before > 0) != (after > 0)) {
            double turn = track_root(scan, &track, piece->from, piece->to, before, after, scan->site, 0, 1);
            add_track(scan, track, from, turn);
            from = turn;
        }
        if (last)
            add_track(scan, track, from, piece->to);
        before = after;
    }
}

/* --- marks -------------------------------------------------------------------------------------------------
 */

/* Region at a point near p: p + x a + y b, brought back to the sphere. */
static int region_near(const struct scan *scan, const double p[3], double x, const double a[3], double y,
                       const double b[3])
{
    double q[3], length = 0;
    for (int k = 0; k < 3; k++) {
        q[k] = p[k] + x * a[k] + y * b[k];
        length += q[k] * q[k];
    }
    for (int k = 0; k < 3; k++)
        q[k] /= sqrt(length);
    return atlas_region(scan->atlas, q);
}

/* Marks where circles about the site touch a wall: at the near and the far end of its diameter. A wall that
 * is itself a circle about the site is met all at once. */
static void touching_marks(struct scan *scan, const struct wall *wall)
{
    double reach = sqrt(1 - wall->offset * wall->offset), zero[3] = {0};
    if (wall->across < 1e-9) {
        add_mark(scan, wall->along > 0 ? wall->offset : -wall->offset);
        return;
    }
    double ahead[3], p[3], over[3]; /* from n towards the site; the touching point; over the wall there */
    for (int k = 0; k < 3; k++)
        ahead[k] = (scan->site[k] - wall->along * wall->normal[k]) / wall->across;
    for (int side = -1; side <= 1; side += 2) {
        for (int k = 0; k < 3; k++) {
            p[k] = wall->offset * wall->normal[k] + side * reach * ahead[k];
            over[k] = reach * wall->normal[k] - side * wall->offset * ahead[k];
        }
        if (region_near(scan, p, aside, over, 0, zero) != region_near(scan, p, -aside, over, 0, zero))
            add_mark(scan, direction_dot(p, scan->site));
    }
}

/* 1 when two walls that cross at p make a corner there: neither is without effect around p. The four quarters
 * between them are asked, by steps a and b of equal length along the sphere, each of which keeps to one side
 * of the other wall. Walls that all but touch count as a corner. */
static int corner(const struct scan *scan, const double p[3], const struct wall *one, const struct wall *two)
{
    double g[3], h[3], a[3], b[3]; /* across each wall, along the sphere; the steps */
    for (int k = 0; k < 3; k++) {
        g[k] = one->normal[k] - one->offset * p[k];
        h[k] = two->normal[k] - two->offset * p[k];
    }
    double gg = direction_dot(g, g), hh = direction_dot(h, h), gh = direction_dot(g, h);
    double turn = gg * hh - gh * gh;
    if (turn < 1e-6 * gg * hh)
        return 1;
    for (int k = 0; k < 3; k++) {
        a[k] = (hh * g[k] - gh * h[k]) / sqrt(turn * hh);
        b[k] = (gg * h[k] - gh * g[k]) / sqrt(turn * gg);
    }
    int r[2][2];
    for (int i = 0; i < 2; i++) {
        for (int j = 0; j < 2; j++)
            r[i][j] = region_near(scan, p, i ? aside : -aside, a, j ? aside : -aside, b);
    }
    int first_idle = r[0][0] == r[1][0] && r[0][1] == r[1][1];
    int second_idle = r[0][0] == r[0][1] && r[1][0] == r[1][1];
    return !first_idle && !second_idle;
}

/* Marks at the two points p = x n1 + y n2 +- z (n1 x n2) where walls cross. */
static void crossing_marks(struct scan *scan, const struct wall *one, const struct wall *two)
{
    const double *m = one->normal, *n = two->normal;
    double turn = direction_dot(m, n), square = 1 - turn * turn;
    if (square < 1e-14)
        return;
    double x = (one->offset - turn * two->offset) / square, y = (two->offset - turn * one->offset) / square;
    double rest = 1 - x * one->offset - y * two->offset;
    if (rest <= 0)
        return;
    double across[3] = {m[1] * n[2] - m[2] * n[1], m[2] * n[0] - m[0] * n[2], m[0] * n[1] - m[1] * n[0]};
    double z = sqrt(rest / square), p[3];
    for (int side = -1; side <= 1; side += 2) {
        for (int k = 0; k < 3; k++)
            p[k] = x * m[k] + y * n[k] + side * z * across[k];
        if (corner(scan, p, one, two))
            add_mark(scan, direction_dot(p, scan->site));
    }
}

/* Marks where tracks cross a wall. */
static void track_marks(struct scan *scan, const struct wall *wall)
{
    for (size_t i = 0; i < scan->track_count; i++) {
        const struct track *track = &scan->tracks[i];
        size_t steps = (size_t)((track->to - track->from) / 0.1) + 1;
        double from = track->from, q[3], ahead[3];
        double at_from = track_value(scan, track, from, wall->normal, wall->offset, 0);
        for (size_t j = 1; j <= steps; j++) {
            double to = track->from + (track->to - track->from) * (double)j / (double)steps;
            double at_to = track_value(scan, track, to, wall->normal, wall->offset, 0);
            if ((at_from > 0) != (at_to > 0)) {
                double a = track_root(scan, track, from, to, at_from, at_to, wall->normal, wall->offset, 0);
                track_point(scan, track, a, q, ahead);
                add_mark(scan, direction_dot(q, scan->site));
            }
            from = to;
            at_from = at_to;
        }
    }
}

static void sort(double *values, size_t count)
{
    for (size_t i = 1; i < count; i++) {
        double value = values[i];
        size_t j = i;
        for (; j > 0 && values[j - 1] > value; j--)
            values[j] = values[j - 1];
        values[j] = value;
    }
}

static void find_marks(struct scan *scan)
{
    for (size_t i = 0; i < scan->wall_count && !scan->failed; i++) {
        touching_marks(scan, &scan->walls[i]);
        for (size_t j = 0; j < i; j++)
            crossing_marks(scan, &scan->walls[i], &scan->walls[j]);
        track_marks(scan, &scan->walls[i]);
    }
    sort(scan->marks, scan->mark_count);
}

/* --- one circle --------------------------------------------------------------------------------------------
 */

static double within_turn(double psi)
{
    return psi < 0 ? psi + 2 * pi : psi >= 2 * pi ? psi - 2 * pi : psi;
}

/* Angles in [0, 2 pi) at which the circle of polar angle phi crosses walls and tracks, ascending. On a wall
 * along cos phi + across sin phi cos(psi - heading) = offset. */
static size_t crossings(struct scan *scan, double s, double c)
{
    size_t count = 0;
    double q[3], ahead[3];
    for (size_t i = 0; i < scan->wall_count; i++) {
        const struct wall *wall = &scan->walls[i];
        double have = wall->across * s, want = wall->offset - wall->along * c;
        if (have * have <= want * want)
            continue;
        double half = numeric_atan2(sqrt(have * have - want * want), want);
        scan->crossing[count++] = within_turn(wall->heading - half);
        scan->crossing[count++] = within_turn(wall->heading + half);
    }
    for (size_t i = 0; i < scan->track_count; i++) {
        const struct track *track = &scan->tracks[i];
        if ((track->at_from > c) == (track->at_to > c))
            continue;
        double a = track_root(scan, track, track->from, track->to, track->at_from - c, track->at_to - c,
                              scan->site, c, 0);
        track_point(scan, track, a, q, ahead);
        scan->crossing[count++] =
            within_turn(numeric_atan2(direction_dot(q, scan->north), direction_dot(q, scan->east)));
    }
    sort(scan->crossing, count);
    return count;
}

static void add_arc(const struct scan *scan, const struct ring_measure *measure, double s, double c,
                    double psi0, double psi1, double *sum)
{
    double middle = 0.5 * (psi0 + psi1), u = s * numeric_cos(middle), v = s * numeric_sin(middle), p[3];
    for (int k = 0; k < 3; k++)
        p[k] = c * scan->site[k] + u * scan->east[k] + v * scan->north[k];
    int region = atlas_region(scan->atlas, p);
    size_t regions = scan->atlas->map->region_count;
    if (region >= -1)
        measure->add(measure, region < 0 ? regions : (size_t)region, regions, psi0, psi1, sum);
}

/* What the circle of polar angle phi gives, weight included: (components). */
static void circle(struct scan *scan, const struct ring_measure *measure, double phi, double *sum)
{
    double s = numeric_sin(phi), c = numeric_cos(phi), weight = measure->projected ? s * c : s;
    size_t count = crossings(scan, s, c);
    memset(sum, 0, measure->components * sizeof *sum);
    for (size_t i = 0; i + 1 < count; i++) {
        if (scan->crossing[i + 1] > scan->crossing[i])
            add_arc(scan, measure, s, c, scan->crossing[i], scan->crossing[i + 1], sum);
    }
    double last = count ? scan->crossing[count - 1] : 0, first = count ? scan->crossing[0] : 0;
    add_arc(scan, measure, s, c, last, first + 2 * pi, sum);
    for (size_t k = 0; k < measure->components; k++)
        sum[k] *= weight;
}

/* --- panels and rings --------------------------------------------------------------------------------------
 */

/* Nodes and weights on [-1, 1] of the 15-point Kronrod rule; odd entries are those of the 7-point Gauss rule.
 * Source: Piessens et al., QUADPACK (1983). */
static const double node[POINTS] = {
    0.991455371120812639207, 0.949107912342758524526, 0.864864423359769072790, 0.741531185599394439864,
    0.586087235467691130294, 0.405845151377397166907, 0.207784955007898467601, 0};
static const double kronrod[POINTS] = {
    0.022935322010529224964, 0.063092092629978553291, 0.104790010322250183840, 0.140653259715525918745,
    0.169004726639267902827, 0.190350578064785409913, 0.204432940075298892414, 0.209482141084727828013};
static const double gauss[POINTS] = {0, 0.129484966168869693271, 0, 0.279705391489276667901,
                                     0, 0.381830050505118944950, 0, 0.417959183673469387755};

/* Both rules over a panel: `work` is (3 x components), the better one in its first row. Returns their largest
 * difference. */
static double panel(struct scan *scan, const struct ring_measure *measure, double a, double b, double *work)
{
    size_t n = measure->components;
    double *fine = work, *coarse = work + n, *sum = work + 2 * n, worst = 0;
    memset(work, 0, 2 * n * sizeof *work);
    for (int i = 0; i < 2 * POINTS - 1; i++) {
        int k = i < POINTS ? i : 2 * POINTS - 2 - i;
        double t = 0.5 * (1 + (i < POINTS ? -node[k] : node[k])), stretch = 3 * t * (1 - t) * (b - a);
        circle(scan, measure, a + (b - a) * t * t * (3 - 2 * t), sum);
        for (size_t j = 0; j < n; j++) {
            fine[j] += kronrod[k] * stretch * sum[j];
            coarse[j] += gauss[k] * stretch * sum[j];
        }
    }
    for (size_t j = 0; j < n; j++)
        worst = fabs(fine[j] - coarse[j]) > worst ? fabs(fine[j] - coarse[j]) : worst;
    return worst;
}

/* Adds the integral from a to b, free of marks inside, halving while the rules differ by more than `allowed`.
 */
static void span(struct scan *scan, const struct ring_measure *measure, double a, double b, double allowed,
                 double *work, double *integral)
{
    double end[DEPTH + 1];
    size_t waiting = 0;
    end[waiting++] = b;
    while (waiting) {
        double stop = end[waiting - 1];
        int split = stop - a > longest_panel;
        if (!split)
            split = panel(scan, measure, a, stop, work) > allowed && waiting < DEPTH && stop - a > 1e-9;
        if (split) {
            end[waiting++] = 0.5 * (a + stop);
            continue;
        }
        for (size_t k = 0; k < measure->components; k++)
            integral[k] += work[k];
        a = stop;
        waiting--;
    }
}

static void ring(struct scan *scan, const struct ring_measure *measure, double from, double to, double *work,
                 double *integral)
{
    double allowed = tolerance * 2 * pi * (numeric_cos(from) - numeric_cos(to)), a = from;
    for (size_t i = 0; i < scan->mark_count; i++) {
        double b = scan->marks[i];
        if (b <= a + 1e-13 || b >= to - 1e-13)
            continue;
        span(scan, measure, a, b, allowed, work, integral);
        a = b;
    }
    span(scan, measure, a, to, allowed, work, integral);
}

static void share_add(const struct ring_measure *measure, size_t slot, size_t region_count, double psi0,
                      double psi1, double *sum)
{
    (void)measure;
    (void)region_count;
    sum[slot] += psi1 - psi0;
}

static void moment_add(const struct ring_measure *measure, size_t slot, size_t region_count, double psi0,
                       double psi1, double *sum)
{
    if (slot == region_count)
        return;
    double k = measure->scale * measure->stiffness[slot];
    sum[0] += k * (psi1 - psi0);
    sum[1] += k * (numeric_sin(psi1) - numeric_sin(psi0));
    sum[2] += k * (numeric_cos(psi0) - numeric_cos(psi1));
}

struct ring_measure ring_share(size_t region_count)
{
    return (struct ring_measure){.components = region_count + 1, .add = share_add};
}

struct ring_measure ring_moment(const double *stiffness, size_t region_count)
{
    double largest = 0;
    for (size_t k = 0; k < region_count; k++)
        largest = stiffness[k] > largest ? stiffness[k] : largest;
    return (struct ring_measure){.components = 3,
                                 .projected = 1,
                                 .stiffness = stiffness,
                                 .scale = largest > 0 ? 1 / largest : 0,
                                 .add = moment_add};
}

static void find_borders(struct scan *scan)
{
    const struct helmet_map *map = scan->atlas->map;
    if (map->edge_count == 1)
        add_wall(scan, 0, 0, 1, scan->atlas->edge_sine[0], 0);
    if (map->edge_count > 1)
        add_tracks(scan, 0, 0);
    for (size_t k = 0; k < map->region_count; k++)
        region_walls(scan, k);
}

enum status rings_integrate(const struct atlas *atlas, const double site[3], size_t ring_count,
                            const double *edge, const struct ring_measure *measure, double *integral)
{
    struct scan scan = {.atlas = atlas};
    enum status status = STATUS_MEMORY;
    memset(integral, 0, ring_count * measure->components * sizeof *integral);
    memcpy(scan.site, site, sizeof scan.site);
    direction_tangents(site, scan.east, scan.north);
    double *work = memory_doubles(3 * measure->components);
    find_borders(&scan);
    if (!scan.failed)
        find_marks(&scan);
    scan.crossing = memory_doubles(2 * scan.wall_count + scan.track_count);
    if (!work || scan.failed || !scan.crossing)
        goto done;
    for (size_t i = 0; i < ring_count; i++)
        ring(&scan, measure, edge[i], edge[i + 1], work, integral + i * measure->components);
    status = STATUS_OK;
done:
    memory_free(scan.walls);
    memory_free(scan.tracks);
    memory_free(scan.marks);
    memory_free(scan.crossing);
    memory_free(work);
    return status;
}
