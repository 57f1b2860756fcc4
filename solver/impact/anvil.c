#include "solver/impact/anvil.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/numeric.h"

static const double pi = 3.14159265358979323846;

#define DEGREES(x) ((x) * (3.14159265358979323846 / 180))
#define NONE                                                                                                 \
    {                                                                                                        \
        NAN, 0, 0                                                                                            \
    }

/* --- tables --- */

const char *const anvil_size_keys[ANVIL_SIZE_COUNT] = {"diameter", "radius", "width", "height", "length"};

/* Ends of ranges catch slips of unit and what no mesh of rings resolves. */
const struct anvil_range anvil_ranges[ANVIL_SHAPE_COUNT][ANVIL_SIZE_COUNT] = {
    [ANVIL_FLAT] = {{0.130, 0.01, 10}, NONE, NONE, NONE, NONE},
    [ANVIL_HEMISPHERE] = {NONE, {0.048, 0.005, 10}, NONE, NONE, NONE},
    [ANVIL_KERBSTONE] = {NONE, {0.015, 0.001, 1}, NONE, NONE, {INFINITY, 0.02, 10}},
    [ANVIL_EDGE] = {NONE, {0, 0, 0.1}, {0.0063, 0.003, 0.2}, NONE, {0.180, 0.02, 10}},
    [ANVIL_BAR] = {NONE, {0.001, 0, 0.1}, {0.025, 0.003, 0.2}, {0.006, 0.001, 0.2}, NONE},
};

/* Shell on face: abrasive paper 0.55, Mills et al. 2009, Int J Impact Eng 36:913. */
#define BARE     ANVIL_BARE_FRICTION
#define ABRASIVE 0.55

const struct anvil_info anvil_table[ANVIL_COUNT] = {
    {"flat", ANVIL_FLAT, 0, BARE, "flat steel disc", "memory-high", "UN R22 and EN standards: 130 +/- 3 mm"},
    {"hemisphere", ANVIL_HEMISPHERE, 0, BARE, "steel ball face", "memory-high",
     "radius 48 mm; 48.3 mm in 49 CFR 571.218"},
    {"kerbstone", ANVIL_KERBSTONE, 0, BARE,
     "two faces 52.5 deg from the vertical, rounded edge, 125 mm or longer", "memory-high", "UN R22"},
    {"edge", ANVIL_EDGE, 0, BARE, "upright plate", "memory-low", "Snell and ASTM standards"},
    {"bar", ANVIL_BAR, 0, BARE, "bar on a plane, its chamfer taken as a rounding", "memory-medium",
     "UN R22.05"},
    {"abrasive-45", ANVIL_FLAT, DEGREES(45), ABRASIVE, "flat face at 45 deg under abrasive paper",
     "published-seen", "UN R22.06, secondary source; diameter memory-medium"},
    {"abrasive-15-from-vertical", ANVIL_FLAT, DEGREES(75), ABRASIVE,
     "flat face 15 deg from the vertical under abrasive paper", "memory-medium", "UN R22.05 method A"},
    {"bars-15-from-vertical", ANVIL_BAR, DEGREES(75), BARE, "five bars on a face 15 deg from the vertical",
     "memory-medium", "UN R22.05 method A"},
};

/* Radius of the edge of a flat anvil's face [m]; common practice, no source. It keeps the normal of a shell
 * node smooth where it leaves the face. */
static const double flat_rounding = 0.001;

const struct anvil_info *anvil_find(const char *name)
{
    if (strcmp(name, "curbstone") == 0)
        name = "kerbstone";
    for (size_t i = 0; i < ANVIL_COUNT; i++) {
        if (strcmp(name, anvil_table[i].name) == 0)
            return &anvil_table[i];
    }
    return NULL;
}

const char *anvil_words(const char *name, double angle, char words[ANVIL_WORDS])
{
    const struct anvil_info *info = anvil_find(name);
    double own = info ? info->angle : 0;
    if (fabs(angle - own) > 1e-6)
        snprintf(words, ANVIL_WORDS, "%.47s %.4g deg", name, angle * (180 / pi));
    else
        snprintf(words, ANVIL_WORDS, "%.47s", name);
    return words;
}

enum anvil_shape anvil_shape_find(const char *word)
{
    const struct anvil_info *info = anvil_find(word);
    return info && info < anvil_table + ANVIL_SHAPE_COUNT ? info->shape : ANVIL_SHAPE_COUNT;
}

struct anvil_sizes anvil_usual(enum anvil_shape shape)
{
    struct anvil_sizes sizes;
    for (size_t i = 0; i < ANVIL_SIZE_COUNT; i++)
        sizes.of[i] = anvil_ranges[shape][i].usual;
    return sizes;
}

/* --- sections of ridges --- */

/* Depth of an edge rounded with radius c below its top, `out` beyond where the rounding begins. */
static double rounded(double c, double out)
{
    double left = c * c - out * out;
    return c - sqrt(left > 0 ? left : 0);
}

/* Kerbstone: an edge between two faces 52.5 deg from the vertical, which fall by tan 37.5 deg. */
static double kerb_height(const struct anvil_sizes *sizes, double across)
{
    double c = sizes->of[ANVIL_RADIUS], fall = DEGREES(37.5), sine = numeric_sin(fall);
    if (across < c * sine)
        return -rounded(c, across);
    return -rounded(c, c * sine) - (across - c * sine) * sine / numeric_cos(fall);
}

static double plate_height(const struct anvil_sizes *sizes, double across)
{
    double c = sizes->of[ANVIL_RADIUS], half = 0.5 * sizes->of[ANVIL_WIDTH];
    if (across > half)
        return -(double)INFINITY;
    return across > half - c ? -rounded(c, across - (half - c)) : 0;
}

static double bar_height(const struct anvil_sizes *sizes, double across)
{
    double height = plate_height(sizes, across), plane = -sizes->of[ANVIL_HEIGHT];
    return height > plane ? height : plane;
}

/* Where the section is not smooth, ascending. */
enum { KINKS = 2 };

static void kerb_kinks(const struct anvil_sizes *sizes, double kinks[KINKS])
{
    kinks[0] = kinks[1] = sizes->of[ANVIL_RADIUS] * numeric_sin(DEGREES(37.5));
}

static void plate_kinks(const struct anvil_sizes *sizes, double kinks[KINKS])
{
    kinks[1] = 0.5 * sizes->of[ANVIL_WIDTH];
    kinks[0] = kinks[1] - sizes->of[ANVIL_RADIUS];
}

/* Height of the section [m], <= 0, never rising with the distance `across` >= 0 from its middle. */
struct section {
    double (*height)(const struct anvil_sizes *, double across);
    void (*kinks)(const struct anvil_sizes *, double kinks[KINKS]);
};

static const struct section sections[ANVIL_SHAPE_COUNT] = {
    [ANVIL_KERBSTONE] = {kerb_height, kerb_kinks},
    [ANVIL_EDGE] = {plate_height, plate_kinks},
    [ANVIL_BAR] = {bar_height, plate_kinks},
};

int anvil_equal_overlap(enum anvil_shape shape)
{
    return sections[shape].height != NULL;
}

double anvil_largest_rounding(enum anvil_shape shape, const struct anvil_sizes *sizes)
{
    double half = 0.5 * sizes->of[ANVIL_WIDTH], height = sizes->of[ANVIL_HEIGHT];
    if (isnan(half) || isnan(anvil_ranges[shape][ANVIL_RADIUS].usual))
        return INFINITY;
    return height < half ? height : half;
}

/* --- overlap --- */

struct overlap {
    const struct section *section;
    const struct anvil_sizes *sizes;
    double outer, x, end; /* end: half the length of the ridge */
};

/* Square of the half length of the overlap at a distance from the ridge's middle, ends of the ridge left
 * aside; below 0 outside of it. The sphere is u below its own lowest point there: y^2 = 2 R u - u^2 - X^2. */
static double half_square(const struct overlap *overlap, double across)
{
    double u = overlap->x + overlap->section->height(overlap->sizes, across);
    return (u > 0 ? u * (2 * overlap->outer - u) : 0) - across * across;
}

/* Where half_square, which falls, passes a level. */
static double reach(const struct overlap *overlap, double level)
{
    double inside = 0, outside = overlap->outer;
    for (int i = 0; i < 50; i++) {
        double middle = 0.5 * (inside + outside);
        if (half_square(overlap, middle) > level)
            inside = middle;
        else
            outside = middle;
    }
    return inside;
}

/* A quarter of the overlap between two distances, by Simpson's rule in t: X = to - (to - from) t^2 takes a
 * square root at the far end out of the integrand. The near end is taken from inside: a section may jump
 * there. */
static double strip(const struct overlap *overlap, double from, double to)
{
    enum { STEPS = 24 };
    double sum = 0;
    for (int i = 1; i <= STEPS; i++) { /* nothing at t = 0 */
        double t = (double)i / STEPS, part = i < STEPS ? t * t : 1 - 1e-9;
        double square = half_square(overlap, to - (to - from) * part);
        double length = sqrt(square > 0 ? square : 0);
        double weight = i == STEPS ? 1 : i % 2 ? 4 : 2;
        sum += weight * t * (length < overlap->end ? length : overlap->end);
    }
    return 2 * (to - from) * sum / (3 * STEPS);
}

double anvil_overlap(enum anvil_shape shape, const struct anvil_sizes *sizes, double outer, double x)
{
    double half = 0.5 * sizes->of[ANVIL_LENGTH], end = half < outer ? half : outer;
    struct overlap overlap = {&sections[shape], sizes, outer, x, end};
    double kinks[KINKS], area = 0, from = 0;
    double last = reach(&overlap, 0), whole = reach(&overlap, end * end);
    overlap.section->kinks(sizes, kinks);
    while (from < last) {
        double to = last;
        for (int i = 0; i < KINKS; i++)
            to = kinks[i] > from && kinks[i] < to ? kinks[i] : to;
        to = whole > from && whole < to ? whole : to;
        area += strip(&overlap, from, to);
        from = to;
    }
    return 4 * area;
}

/* --- bodies of equal overlap --- */

/* Depth beyond which there is nothing new [m]: the helmet's surface has turned upright there, or the ridge
 * lies in it whole. */
static double last_depth(enum anvil_shape shape, const struct anvil_sizes *sizes, double outer)
{
    double most = 0.75 * outer, area = anvil_overlap(shape, sizes, outer, most), low = 0;
    for (int i = 0; i < 20; i++) {
        double middle = 0.5 * (low + most);
        if (anvil_overlap(shape, sizes, outer, middle) < area * (1 - 1e-6))
            low = middle;
        else
            most = middle;
    }
    return most;
}

/* The meridian at depths that grow as squares, as overlap does with r^2; the last point is the foot of the
 * cylinder. */
static void turn(struct anvil *anvil, const struct anvil_sizes *sizes, double outer)
{
    enum { LAST = ANVIL_POINTS - 2 };
    double most = last_depth(anvil->shape, sizes, outer);
    for (int i = 1; i <= LAST; i++) {
        double x = most * ((double)i / LAST) * ((double)i / LAST);
        double r = sqrt(anvil_overlap(anvil->shape, sizes, outer, x) / pi);
        double deep = x - (outer - sqrt(outer * outer - r * r));
        anvil->r[i] = r > anvil->r[i - 1] ? r : anvil->r[i - 1];
        anvil->z[i] = deep > 0 ? -deep : 0;
    }
    anvil->r[LAST + 1] = anvil->r[LAST];
    anvil->z[LAST + 1] = anvil->z[LAST] - outer;
}

/* The usual sizes where none are given; 0 when one is not positive (a rounding: negative or too large). */
static int close_sizes(enum anvil_shape shape, const struct anvil_sizes *given, struct anvil_sizes *sizes)
{
    *sizes = anvil_usual(shape);
    for (size_t i = 0; i < ANVIL_SIZE_COUNT; i++) {
        if (isnan(sizes->of[i]))
            continue;
        if (given && !isnan(given->of[i]))
            sizes->of[i] = given->of[i];
        int sharp = i == ANVIL_RADIUS && anvil_ranges[shape][i].least == 0;
        if (!(sizes->of[i] > 0) && !(sharp && sizes->of[i] == 0))
            return 0;
    }
    return !(sizes->of[ANVIL_RADIUS] > anvil_largest_rounding(shape, sizes));
}

int anvil_make(struct anvil *anvil, enum anvil_shape shape, const struct anvil_sizes *sizes, double outer)
{
    struct anvil_sizes closed;
    *anvil = (struct anvil){0};
    int ridge = anvil_equal_overlap(shape);
    if (!close_sizes(shape, sizes, &closed) || (ridge && !(outer > 0)))
        return 0;
    anvil->shape = shape;
    if (ridge) {
        turn(anvil, &closed, outer);
        return 1;
    }
    double radius = shape == ANVIL_FLAT ? 0.5 * closed.of[ANVIL_DIAMETER] : closed.of[ANVIL_RADIUS];
    anvil->radius = radius;
    if (shape == ANVIL_FLAT)
        anvil->rounding = flat_rounding < 0.5 * radius ? flat_rounding : 0.5 * radius;
    return 1;
}

/* --- distance --- */

/* A ball below z = 0; beneath its centre a cylinder of the same radius. */
static double ball_distance(double radius, double r, double z, double normal[2])
{
    double up = z + radius > 0 ? z + radius : 0, length = sqrt(r * r + up * up);
    normal[0] = length > 0 ? r / length : 0;
    normal[1] = length > 0 ? up / length : 1;
    return length - radius;
}

/* A rectangle is the set within `rounding` of a smaller one: outside of that, the distance to it. */
static double disc_distance(const struct anvil *anvil, double r, double z, double normal[2])
{
    double out = r - (anvil->radius - anvil->rounding), up = z + anvil->rounding;
    if (out > 0 && up > 0) {
        double length = sqrt(out * out + up * up);
        normal[0] = out / length;
        normal[1] = up / length;
        return length - anvil->rounding;
    }
    int sideways = out > up;
    normal[0] = sideways ? 1 : 0;
    normal[1] = sideways ? 0 : 1;
    return (sideways ? out : up) - anvil->rounding;
}

/* Segment of the meridian above or below a point; the last one beyond all. */
static int segment_at(const struct anvil *anvil, double r)
{
    int low = 0, high = ANVIL_POINTS - 1;
    while (high - low > 1) {
        int middle = (low + high) / 2;
        if (anvil->r[middle] <= r)
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* From the nearest point of segment i to (r, z); its place on the segment, 0 to 1. */
static double from_segment(const struct anvil *anvil, int i, double r, double z, double from[2])
{
    double along_r = anvil->r[i + 1] - anvil->r[i], along_z = anvil->z[i + 1] - anvil->z[i];
    double square = along_r * along_r + along_z * along_z;
    double to_r = r - anvil->r[i], to_z = z - anvil->z[i];
    double place = square > 0 ? (to_r * along_r + to_z * along_z) / square : 0;
    place = place < 0 ? 0 : place > 1 ? 1 : place;
    from[0] = to_r - place * along_r;
    from[1] = to_z - place * along_z;
    return place;
}

static double square_from(const struct anvil *anvil, int i, double r, double z)
{
    double from[2];
    from_segment(anvil, i, r, z, from);
    return from[0] * from[0] + from[1] * from[1];
}

/* The segment nearest to a point, downhill from the one above or below it. */
static int nearest_segment(const struct anvil *anvil, int i, double r, double z)
{
    double least = square_from(anvil, i, r, z);
    for (int way = -1; way <= 1; way += 2) {
        for (int k = i + way; k >= 0 && k < ANVIL_POINTS - 1; k += way) {
            double square = square_from(anvil, k, r, z);
            if (square >= least)
                break;
            least = square;
            i = k;
        }
    }
    return i;
}

/* Height of the meridian over a point less the point's own; outside of all below 0. */
static double buried(const struct anvil *anvil, int i, double r, double z)
{
    double span = anvil->r[i + 1] - anvil->r[i];
    if (r >= anvil->r[ANVIL_POINTS - 1])
        return -1;
    double part = span > 0 ? (r - anvil->r[i]) / span : 0;
    return anvil->z[i] + part * (anvil->z[i + 1] - anvil->z[i]) - z;
}

static double body_distance(const struct anvil *anvil, double r, double z, double normal[2])
{
    normal[0] = 0;
    normal[1] = 1;
    if (r <= 0)
        return z;
    double from[2];
    int above = segment_at(anvil, r), i = nearest_segment(anvil, above, r, z);
    double side = buried(anvil, above, r, z) > 0 ? -1 : 1, place = from_segment(anvil, i, r, z, from);
    double length = sqrt(from[0] * from[0] + from[1] * from[1]);
    if (place > 0 && place < 1) {
        double along_r = anvil->r[i + 1] - anvil->r[i], along_z = anvil->z[i + 1] - anvil->z[i];
        double all = sqrt(along_r * along_r + along_z * along_z);
        normal[0] = -along_z / all;
        normal[1] = along_r / all;
    } else if (length > 0) {
        normal[0] = side * from[0] / length;
        normal[1] = side * from[1] / length;
    }
    return side * length;
}

double anvil_distance(const struct anvil *anvil, double r, double z, double normal[2])
{
    switch (anvil->shape) {
    case ANVIL_HEMISPHERE:
        return ball_distance(anvil->radius, r, z, normal);
    case ANVIL_FLAT:
        return disc_distance(anvil, r, z, normal);
    default:
        return body_distance(anvil, r, z, normal);
    }
}
