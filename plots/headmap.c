#include "plots/headmap.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "plots/style.h"
#include "solver/base/memory.h"
#include "solver/impact/site.h"

#define DEGREE  0.017453292519943295 /* pi / 180 */
#define LOWEST  (-45 * DEGREE)       /* elevation at the rim of the map */
#define OUTSIDE (-9)                 /* label of a place beyond the rim */

enum { GRID = 200, NAME = 26, SPOTS_MOST = 64, SPOT_NAME = 64, SPOT_SHOWN = 7, SIZE_TEXT = 64 };

/* Sizes on the map: radius of a ring, fonts of its number, its name, and all other text. */
struct sizes {
    double radius;
    int number, name, other;
};

static struct sizes sizes_of(int columns, enum picture_format format)
{
    struct sizes sizes = columns == 1   ? (struct sizes){0.22, 20, 15, 14}
                         : columns == 2 ? (struct sizes){0.25, 18, 13, 13}
                                        : (struct sizes){0.28, 15, 11, 11};
    if (format == PICTURE_TEXT)
        sizes.radius = 0.12;
    sizes.number = gnuplot_font(format, sizes.number);
    sizes.name = gnuplot_font(format, sizes.name);
    sizes.other = gnuplot_font(format, sizes.other);
    return sizes;
}

struct place {
    double x, y;
};

static struct place project(double elevation, double azimuth)
{
    double radius = 2 * sin(0.5 * (90 * DEGREE - elevation));
    struct place at = {.x = radius * sin(azimuth), .y = radius * cos(azimuth)};
    return at;
}

static double rim(void)
{
    return 2 * sin(0.5 * (90 * DEGREE - LOWEST));
}

/* Region at a place of the map; OUTSIDE beyond the rim. */
static int label_at(const struct helmet_map *map, struct place at)
{
    double radius = hypot(at.x, at.y);
    if (radius > rim())
        return OUTSIDE;
    return helmet_map_region(map, 90 * DEGREE - 2 * asin(0.5 * radius), atan2(at.x, at.y));
}

/* --- regions ----------------------------------------------------------------------------------------------
 */

static struct place node_at(int column, int row)
{
    double step = 2 * rim() / GRID;
    return (struct place){-rim() + step * column, -rim() + step * row};
}

/* Where the label changes between two places that differ, by bisection. */
static struct place change_between(const struct helmet_map *map, struct place a, struct place b, int label)
{
    for (int i = 0; i < 8; i++) {
        struct place middle = {0.5 * (a.x + b.x), 0.5 * (a.y + b.y)};
        if (label_at(map, middle) == label)
            a = middle;
        else
            b = middle;
    }
    return (struct place){0.5 * (a.x + b.x), 0.5 * (a.y + b.y)};
}

static void add_segment(struct script *script, struct place a, struct place b)
{
    script_add(script, "%.4f %.4f\n%.4f %.4f\n\n", a.x, a.y, b.x, b.y);
}

/* Pieces of border within one cell of the grid: from each change on its sides to the next, or to the middle
 * of all where more than two labels meet. */
static void add_cell(struct script *script, const struct helmet_map *map, const int *labels, int column,
                     int row)
{
    static const int corner[5][2] = {{0, 0}, {1, 0}, {1, 1}, {0, 1}, {0, 0}};
    struct place found[4], middle = {0, 0};
    int count = 0;
    for (int side = 0; side < 4; side++) {
        int c = column + corner[side][0], r = row + corner[side][1];
        int next_c = column + corner[side + 1][0], next_r = row + corner[side + 1][1];
        int here = labels[r * (GRID + 1) + c], there = labels[next_r * (GRID + 1) + next_c];
        if (here == there || here == OUTSIDE || there == OUTSIDE)
            continue;
        found[count] = change_between(map, node_at(c, r), node_at(next_c, next_r), here);
        middle.x += found[count].x;
        middle.y += found[count++].y;
    }
    if (count == 2)
        add_segment(script, found[0], found[1]);
    for (int i = 0; count > 2 && i < count; i++)
        add_segment(script, found[i], (struct place){middle.x / count, middle.y / count});
}

static void add_outlines(struct script *script, const struct helmet_map *map, const int *labels, size_t panel)
{
    script_add(script, "$outline%zu << END_OF_BLOCK\n", panel);
    size_t before = script->length;
    for (int row = 0; row < GRID; row++) {
        for (int column = 0; column < GRID; column++)
            add_cell(script, map, labels, column, row);
    }
    if (script->length == before)
        script_add(script, "NaN NaN\n");
    script_add(script, "END_OF_BLOCK\n");
}

/* --- sites ------------------------------------------------------------------------------------------------
 */

/* What a site shows. */
struct spot {
    double elevation, azimuth;
    struct place at, shown; /* the site itself, and the ring with its number */
    double value;           /* margin, or peak [g]; NaN where nothing was computed */
    char name[SPOT_NAME];   /* of all sites there, "/" between them */
};

/* Adds the name of a site to those of its spot; one without a name is called by its direction. */
static void name_spot(struct spot *spot, const struct hit_result *hit)
{
    char name[SPOT_NAME], all[2 * SPOT_NAME + 2];
    snprintf(name, sizeof name, "%s", hit->site);
    if (name[0] == '[')
        snprintf(name, sizeof name, "%.0f,%.0f", spot->elevation / DEGREE, spot->azimuth / DEGREE);
    size_t length = strlen(name);
    for (const char *at = strstr(spot->name, name); at; at = strstr(at + 1, name)) {
        if ((at == spot->name || at[-1] == '/') && (at[length] == '/' || at[length] == '\0'))
            return;
    }
    snprintf(all, sizeof all, "%s%s%s", spot->name, spot->name[0] ? "/" : "", name);
    snprintf(spot->name, sizeof spot->name, "%.*s", (int)sizeof spot->name - 1, all);
}

static struct spot *spot_of(struct spot spots[SPOTS_MOST], size_t *count, const struct hit_result *hit)
{
    for (size_t i = 0; i < *count; i++) {
        double apart = fabs(remainder(spots[i].azimuth - hit->azimuth, 360 * DEGREE)) * cos(hit->elevation);
        if (fabs(spots[i].elevation - hit->elevation) + apart < 0.5 * DEGREE)
            return &spots[i];
    }
    if (*count == SPOTS_MOST)
        return NULL;
    struct place at = project(hit->elevation, hit->azimuth);
    spots[*count] = (struct spot){hit->elevation, hit->azimuth, at, at, NAN, ""};
    return &spots[(*count)++];
}

/* Whether a hit is of the helmet that is shown, at a site. */
static int is_on_map(const struct layout *layout, const struct hit_result *hit)
{
    return isfinite(hit->elevation) && isfinite(hit->azimuth) && strcmp(hit->size, layout->size) == 0;
}

static size_t spots_find(const struct layout *layout, int margins, struct spot spots[SPOTS_MOST])
{
    const struct case_result *result = layout->result;
    size_t count = 0;
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct hit_result *hit = &result->hits[i];
        struct spot *spot = is_on_map(layout, hit) ? spot_of(spots, &count, hit) : NULL;
        if (spot)
            name_spot(spot, hit);
        if (!spot || hit->status != HIT_COMPUTED)
            continue;
        const struct judgement *worst = layouts_worst(hit);
        double value = !margins ? -hit->output.metrics[METRIC_peak] : worst ? worst->margin : NAN;
        if (isfinite(value) && !(spot->value <= value))
            spot->value = value;
    }
    return count;
}

/* Moves rings apart that would cover each other. */
static void spots_spread(struct spot *spots, size_t count, double radius)
{
    for (int round = 0; round < 200; round++) {
        for (size_t i = 0; i < count; i++) {
            for (size_t k = i + 1; k < count; k++) {
                double x = spots[k].shown.x - spots[i].shown.x, y = spots[k].shown.y - spots[i].shown.y;
                double apart = hypot(x, y), want = 2.15 * radius;
                if (apart >= want)
                    continue;
                if (apart < 1e-6)
                    x = 0, y = 1e-6, apart = 1e-6;
                double push = 0.25 * (want - apart) / apart;
                spots[i].shown.x -= push * x, spots[i].shown.y -= push * y;
                spots[k].shown.x += push * x, spots[k].shown.y += push * y;
            }
        }
    }
}

/* Of the colours: four steps up from `low`. */
struct scale {
    int margins;
    double low, step;
    int missing; /* whether a site shows a dash */
};

/* Darker where less is left. */
static double share_of(double value, struct scale scale)
{
    return (scale.low + 4 * scale.step - value) / (4 * scale.step);
}

/* The finest of the steps 1, 2, 2.5, 5, 10, ... (in 10 % or 50 g) of which four hold all values of all
 * layouts. */
static struct scale scale_of(const struct layout *layouts, size_t count, int margins)
{
    static const double gain[] = {2, 1.25, 2, 2};
    struct scale scale = {margins, 0, margins ? 0.1 : 50, 0};
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < count; i++) {
        struct spot spots[SPOTS_MOST];
        size_t spot_count = spots_find(&layouts[i], margins, spots);
        for (size_t k = 0; k < spot_count; k++) {
            low = spots[k].value < low ? spots[k].value : low;
            high = spots[k].value > high ? spots[k].value : high;
            scale.missing |= !isfinite(spots[k].value);
        }
    }
    for (int i = 0; low <= high; scale.step *= gain[i++ % 4]) {
        scale.low = scale.step * floor(low / scale.step);
        if (scale.low + 4 * scale.step >= high)
            break;
    }
    if (margins && scale.low + 4 * scale.step > 1) /* no margin is larger */
        scale.low = 1 - 4 * scale.step;
    return scale;
}

static void value_text(double value, int margins, char text[32])
{
    if (!isfinite(value))
        snprintf(text, 32, "–");
    else if (margins)
        snprintf(text, 32, "%s%.0f %%", value < -0.005 ? "−" : "", fabs(100 * value));
    else
        snprintf(text, 32, "%.0f g", -value);
}

/* The site itself as a dot with a line to its ring, where the ring had to move away from it. */
static void add_leader(struct script *script, const struct spot *spot, double radius)
{
    double x = spot->shown.x - spot->at.x, y = spot->shown.y - spot->at.y, away = hypot(x, y);
    if (away < radius)
        return;
    double share = 1 - radius / away;
    script_add(script,
               "set arrow from %g,%g to %g,%g nohead lc rgb '" STYLE_INK "' lw 1 front\n"
               "set object circle at %g,%g size 0.025 fs solid noborder fc rgb '" STYLE_INK "' front\n",
               spot->at.x, spot->at.y, spot->at.x + share * x, spot->at.y + share * y, spot->at.x,
               spot->at.y);
}

static void add_spot(struct script *script, const struct spot *spot, struct scale scale, struct sizes sizes,
                     int drawn)
{
    char color[8], text[32];
    double share = share_of(spot->value, scale);
    int exceeds = scale.margins && spot->value < 0, known = isfinite(spot->value);
    const char *ink = known && drawn ? style_scale_ink(share) : STYLE_INK;
    style_scale(share, color);
    value_text(spot->value, scale.margins, text);
    if (drawn) {
        script_add(script,
                   "set object circle at %g,%g size %g fs solid border lc rgb '" STYLE_INK
                   "' fc rgb '%s' lw %g front\n",
                   spot->shown.x, spot->shown.y, sizes.radius, known ? color : "#ffffff",
                   exceeds ? 2.6 : 0.6);
        add_leader(script, spot, sizes.radius);
    }
    script_add(script, "set label '%s' at %g,%g center tc rgb '%s' font ',%d' front\nset label ", text,
               spot->shown.x, spot->shown.y + 0.25 * sizes.radius, ink, sizes.number);
    int several = strchr(spot->name, '/') != NULL;
    script_text(script, spot->name, several ? 2 * SPOT_SHOWN : SPOT_SHOWN);
    script_add(script, " at %g,%g center tc rgb '%s' font ',%d' front\n", spot->shown.x,
               spot->shown.y - (drawn ? 0.4 : 1.0) * sizes.radius, ink, sizes.name);
}

/* --- names of regions --------------------------------------------------------------------------------------
 */

static double smaller(double a, double b)
{
    return a < b ? a : b;
}

/* Distance [cells, about] of each node to the nearest other label, the rim or a ring: two sweeps of a
 * chamfer. */
static void clearance(const int *labels, const struct spot *spots, size_t count, double radius, double *clear)
{
    const int width = GRID + 1;
    for (int node = 0; node < width * width; node++) {
        int column = node % width, row = node / width;
        int inner = column > 0 && row > 0 && column < GRID && row < GRID;
        int border = !inner || labels[node] != labels[node + 1] || labels[node] != labels[node + width];
        struct place at = node_at(column, row);
        for (size_t i = 0; i < count && !border; i++)
            border = hypot(at.x - spots[i].shown.x, at.y - spots[i].shown.y) < radius;
        clear[node] = border ? 0 : 1e9;
    }
    for (int node = width + 1; node < width * width; node++)
        clear[node] = smaller(clear[node], smaller(0.25 + clear[node - 1], 1 + clear[node - width]));
    for (int node = width * width - width - 2; node >= 0; node--)
        clear[node] = smaller(clear[node], smaller(0.25 + clear[node + 1], 1 + clear[node + width]));
}

static void add_region_names(struct script *script, const struct helmet_map *map, const int *labels,
                             const double *clear, int font)
{
    const int width = GRID + 1;
    for (size_t region = 0; region < map->region_count; region++) {
        int best = -1;
        for (int node = 0; node < width * width; node++) {
            if (labels[node] == (int)region && (best < 0 || clear[node] > clear[best]))
                best = node;
        }
        if (best < 0)
            continue;
        struct place at = node_at(best % width, best / width);
        script_add(script, "set label ");
        script_text(script, map->regions[region].name, 16);
        script_add(script, " at %g,%g center tc rgb '" STYLE_SOFT "' font ',%d' front\n", at.x, at.y, font);
    }
}

/* --- the picture ------------------------------------------------------------------------------------------
 */

/* Circles of elevation and their labels, directions at the rim. */
static void add_graticule(struct script *script, int font)
{
    static const struct {
        const char *text;
        double azimuth;
    } directions[] = {{"0° front", 0}, {"90° right", 90}, {"180° rear", 180}, {"−90° left", -90}};
    for (int degrees = -30; degrees <= 60; degrees += 30) {
        struct place at = project(degrees * DEGREE, 135 * DEGREE);
        script_add(script,
                   "set object circle at 0,0 size %g fs empty border lc rgb '" STYLE_RULE "' lw 0.7 back\n"
                   "set label '%s%d°' at %g,%g center tc rgb '" STYLE_SOFT "' font ',%d' back\n",
                   hypot(at.x, at.y), degrees < 0 ? "−" : "", degrees < 0 ? -degrees : degrees, at.x, at.y,
                   font);
    }
    script_add(script,
               "set object circle at 0,0 size %g fs empty border lc rgb '" STYLE_SOFT "' lw 0.8 back\n",
               rim());
    for (size_t i = 0; i < sizeof directions / sizeof *directions; i++) {
        double azimuth = directions[i].azimuth * DEGREE, far = 1.075 * rim();
        int sideways = i % 2 == 1;
        script_add(script, "set label '%s' at %g,%g center %s tc rgb '" STYLE_SOFT "' font ',%d' front\n",
                   directions[i].text, far * sin(azimuth), far * cos(azimuth), sideways ? "rotate by 90" : "",
                   font);
    }
}

/* The scale at the right edge of the picture, with its meaning. */
static void add_scale(struct script *script, struct scale scale, int square, int font)
{
    double low = square ? 0.22 : 0.24, height = square ? 0.5 : 0.46, left = square ? 0.85 : 0.905;
    double step = height / 32;
    for (int i = 0; i < 32; i++) {
        char color[8];
        style_scale(1 - (i + 0.5) / 32, color);
        /* each a little higher than its share, so that no seam shows below the next */
        script_add(
            script,
            "set object rectangle from screen %g,%g to screen %g,%g fs solid noborder fc rgb '%s' front\n",
            left, low + step * i, left + 0.02, low + step * (i < 31 ? i + 1.3 : 32), color);
    }
    for (int i = 0; i <= 4; i++) {
        char text[32];
        value_text(scale.low + scale.step * i, scale.margins, text);
        script_add(script, "set label '%s' at screen %g,%g left tc rgb '" STYLE_INK "' font ',%d' front\n",
                   text, left + 0.027, low + height * i / 4, font);
    }
    script_add(script, "set label '%s' at screen %g,%g left tc rgb '" STYLE_INK "' font ',%d' front\n",
               scale.margins ? "margin" : "peak", left, low + height + 0.06, font);
    if (scale.margins)
        script_add(script,
                   "set label 'bold ring:' at screen %g,%g left tc rgb '" STYLE_INK "' font ',%d' front\n"
                   "set label 'exceeds' at screen %g,%g left tc rgb '" STYLE_INK "' font ',%d' front\n",
                   left, low - 0.06, font, left, low - (square ? 0.09 : 0.105), font);
    if (scale.missing)
        script_add(script,
                   "set label '–: no' at screen %g,%g left tc rgb '" STYLE_INK "' font ',%d' front\n"
                   "set label 'margin' at screen %g,%g left tc rgb '" STYLE_INK "' font ',%d' front\n",
                   left, low - (square ? 0.13 : 0.16), font, left, low - (square ? 0.16 : 0.205), font);
}

/* Regions of one layout: outlines as a data block, names as labels. */
static void add_regions(struct script *script, const struct helmet_map *map, const struct spot *spots,
                        size_t count, size_t panel, struct sizes sizes)
{
    const int nodes = (GRID + 1) * (GRID + 1);
    int *labels = memory_zeroed((size_t)nodes, sizeof *labels);
    double *clear = memory_doubles((size_t)nodes);
    if (labels && clear) {
        for (int node = 0; node < nodes; node++)
            labels[node] = label_at(map, node_at(node % (GRID + 1), node / (GRID + 1)));
        clearance(labels, spots, count, sizes.radius, clear);
        add_outlines(script, map, labels, panel);
        add_region_names(script, map, labels, clear, sizes.other);
    } else {
        script->failed = 1;
    }
    memory_free(labels);
    memory_free(clear);
}

/* Draws one layout into the panel that is set up. */
static void add_map(struct script *script, const struct layout *layout, size_t panel, struct scale scale,
                    struct sizes sizes, int drawn)
{
    struct spot spots[SPOTS_MOST];
    size_t count = spots_find(layout, scale.margins, spots);
    spots_spread(spots, count, sizes.radius);
    add_regions(script, &layout->result->map, spots, count, panel, sizes);
    if (drawn)
        add_graticule(script, sizes.other);
    for (size_t i = 0; i < count; i++)
        add_spot(script, &spots[i], scale, sizes, drawn);
    script_add(script, "plot $outline%zu with %s\n", panel,
               drawn ? "lines lc rgb '" STYLE_INK "' lw 1.2 dt 1" : "dots");
}

static int has_sites(const struct layout *layout, int *margins)
{
    const struct case_result *result = layout->result;
    int found = 0;
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct hit_result *hit = &result->hits[i];
        found |= is_on_map(layout, hit) && hit->status == HIT_COMPUTED;
        *margins |= layouts_worst(hit) != NULL;
    }
    return found && result->map.region_count > 0;
}

/* Where the panels lie [points]. */
struct page {
    struct style_panels panels;
    int width, height;
    double cell;
};

static struct page page_of(size_t count)
{
    struct page page = {.panels = style_panels_of(count)};
    page.width = page.panels.columns == 1 ? 720 : 900 + 120 * (page.panels.columns - 2);
    page.cell = 0.84 * page.width / page.panels.columns;
    page.height =
        (int)((page.panels.rows > 1 ? 70 : 55) + page.panels.rows * (page.cell + (count > 1 ? 25 : 0)));
    return page;
}

static void page_panel(struct script *script, const struct page *page, size_t index, const char *name)
{
    int column = (int)index % page->panels.columns, row = (int)index / page->panels.columns;
    double low = (22 + (page->panels.rows - 1 - row) * (page->cell + 25)) / page->height;
    script_add(script,
               "set lmargin at screen %g\nset rmargin at screen %g\nset bmargin at screen %g\n"
               "set tmargin at screen %g\n",
               (column + 0.01) * page->cell / page->width, (column + 1) * page->cell / page->width, low,
               low + page->cell / page->height);
    if (page->panels.columns > 1) {
        script_add(script, "set title ");
        script_text(script, name, NAME);
        script_add(script, " offset 0,-0.7\n");
    }
}

/* "size L" behind and before other words; "" where a layout is one helmet. */
static void size_text(const char *before, const char *size, const char *after, char text[SIZE_TEXT])
{
    snprintf(text, SIZE_TEXT, size[0] ? "%s%.40s%s" : "", before, size, after);
}

/* Whether all layouts show helmets of one size, which the title then names. */
static int is_one_size(const struct layout *layouts, size_t count)
{
    int one = 1;
    for (size_t i = 1; i < count; i++)
        one &= strcmp(layouts[i].size, layouts[0].size) == 0;
    return one;
}

static void begin(struct script *script, const struct page *page, const struct layout *layouts, size_t count,
                  int margins, enum picture_format format)
{
    char title[2 * LAYOUT_TEXT], size[SIZE_TEXT];
    size_text(" on size ", is_one_size(layouts, count) ? layouts[0].size : "", "", size);
    snprintf(title, sizeof title, "%s%s%s%s%.150s",
             margins ? "Smallest margin to any limit" : "Largest peak acceleration", size,
             margins ? ", by site" : ", by site (no limit)", page->panels.columns == 1 ? ". " : "",
             page->panels.columns == 1 ? layouts[0].name : "");
    style_begin(script, format, page->width, page->height, title,
                "Seen from above, equal areas; elevation and azimuth in degrees. " LAYOUTS_REMARK);
    script_add(script,
               "unset border\nunset tics\nunset grid\nunset xlabel\nunset ylabel\nset size ratio -1\n"
               "set xrange [%g:%g]\nset yrange [%g:%g]\n",
               -1.14 * rim(), 1.14 * rim(), -1.14 * rim(), 1.14 * rim());
}

enum status headmap_compose(struct script *script, const struct layout *layouts, size_t count,
                            enum picture_format format, struct errors *errors)
{
    int margins = 0, found = 0, drawn = format != PICTURE_TEXT;
    size_t shown = drawn ? count : 1;
    for (size_t i = 0; i < count; i++)
        found |= has_sites(&layouts[i], &margins);
    if (!found)
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0, "there are no sites on a head to draw");
    struct page page = page_of(shown);
    struct scale scale = scale_of(layouts, shown, margins);
    struct sizes sizes = sizes_of(page.panels.columns, format);
    begin(script, &page, layouts, shown, margins, format);
    if (drawn) {
        script_add(script, "set multiplot\n");
        add_scale(script, scale, count == 1, gnuplot_font(format, 14));
    }
    for (size_t i = 0; i < shown; i++) {
        char size[SIZE_TEXT], name[LAYOUT_TEXT];
        size_text("", is_one_size(layouts, shown) ? "" : layouts[i].size, ": ", size);
        snprintf(name, sizeof name, "%s%.60s", size, layouts[i].name);
        if (drawn)
            page_panel(script, &page, i, name);
        add_map(script, &layouts[i], i, scale, sizes, drawn);
        script_add(script, "unset object\nunset label\nunset arrow\n");
    }
    script_add(script, drawn ? "unset multiplot\n" : "");
    return STATUS_OK;
}
