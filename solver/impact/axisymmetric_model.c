#include "solver/impact/axisymmetric.h"

#include <math.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/numeric.h"
#include "solver/impact/oblique_model.h"

/* The constant part: rows and nodes, blocks of foam, shell, masses, contacts. */

static const double pi = 3.14159265358979323846;
static const double least_share = 1e-9, largest_bare = 0.999;
static const double grip_share = 0.1; /* of m/dt^2 */
static const double axis_radius = 15e-3;
static const double merged_share =
    0.5;                              /* of a ring's foam that has a border, up to which its nodes are tied */
static const double border_gap = 0.5; /* of a cell, within which two borders are one */

enum { LEAST_ROWS = 2 }; /* between two cuts */

struct axisymmetric_setup axisymmetric_setup_default(void)
{
    return (struct axisymmetric_setup){.helmet = columns_setup_default(), .hourglass = 0.1, .fold = 1};
}

static double ring_angle(const struct columns_setup *helmet, size_t i)
{
    return (double)i * helmet->phi_max / (double)(helmet->rings - 1);
}

void axisymmetric_zone_edges(size_t rings, double phi_max, double *edge)
{
    for (size_t i = 0; i < rings; i++)
        edge[i] = (double)i * phi_max / (double)(rings - 1);
}

/* --- rows --- */

/* A region's part of the cap, as seen along the axis. */
static double region_part(const struct axisymmetric_setup *setup, size_t k)
{
    double sum = 0.0;
    for (size_t i = 0; i + 1 < setup->helmet.rings; i++) {
        double middle = 0.5 * (ring_angle(&setup->helmet, i) + ring_angle(&setup->helmet, i + 1));
        sum += setup->zone_share[k][i] * numeric_sin(middle) * numeric_cos(middle);
    }
    return sum;
}

/* The region with the largest part that is not `taken`; region_count when none is left. */
static size_t next_region(const struct axisymmetric_setup *setup, const int *taken)
{
    size_t best = setup->helmet.region_count;
    double most = 0.0;
    for (size_t k = 0; k < setup->helmet.region_count; k++) {
        double part = taken[k] ? 0.0 : region_part(setup, k);
        if (part > most) {
            most = part;
            best = k;
        }
    }
    return best;
}

/* A row more for each, should the layers slip. */
enum { CUTS = AXISYMMETRIC_ROWS / (LEAST_ROWS + 1) + 1 };

/* Puts a cut in its place unless another is nearer than `gap` or rows are left for no more. */
static void add_cut(double *cut, size_t *count, double at, double gap)
{
    size_t place = 0;
    while (place < *count && cut[place] < at)
        place++;
    int near = (place > 0 && at - cut[place - 1] < gap) || (place < *count && cut[place] - at < gap);
    if (near || *count == CUTS)
        return;
    memmove(cut + place + 1, cut + place, (*count - place) * sizeof *cut);
    cut[place] = at;
    (*count)++;
}

/* Borders between layers as shares of the thickness, 0 and 1 included. */
static size_t find_cuts(const struct axisymmetric_setup *setup, double *cut, double *thickest)
{
    const struct columns_setup *helmet = &setup->helmet;
    int taken[COLUMNS_REGIONS] = {0};
    size_t count = 2;
    cut[0] = 0.0;
    cut[1] = 1.0;
    *thickest = 0.0;
    for (size_t k = next_region(setup, taken); k < helmet->region_count; k = next_region(setup, taken)) {
        const struct columns_region *region = &helmet->regions[k];
        double thickness = columns_thickness(region), depth = 0.0;
        taken[k] = 1;
        *thickest = thickness > *thickest ? thickness : *thickest;
        for (size_t i = 0; i + 1 < region->layer_count; i++) {
            depth += region->layers[i].thickness;
            add_cut(cut, &count, depth / thickness, border_gap * helmet->cell / thickness);
        }
    }
    return count;
}

/* Rows between the cuts, no thicker than a cell; an empty one at each border of layers that slip. */
static size_t cut_rows(const struct axisymmetric_setup *setup, double *row)
{
    double cut[CUTS], thickest;
    size_t count = find_cuts(setup, cut, &thickest), rows = 0;
    size_t left = AXISYMMETRIC_ROWS - (setup->layers_slip ? count - 2 : 0);
    for (size_t c = 0; c + 1 < count; c++) {
        double part = cut[c + 1] - cut[c];
        size_t wish = (size_t)ceil(part * thickest / setup->helmet.cell - 1e-9);
        size_t room = left / (count - 1 - c);
        wish = wish < LEAST_ROWS ? LEAST_ROWS : wish > room ? room : wish;
        if (c > 0 && setup->layers_slip)
            row[rows++] = cut[c];
        for (size_t i = 0; i < wish; i++)
            row[rows++] = cut[c] + part * (double)i / (double)wish;
        left -= wish;
    }
    row[rows] = 1.0;
    return rows;
}

/* --- rings --- */

/* Mean over the regions on ring i of one of their lengths; that of the nearest ring with foam where it has
 * none. */
static double ring_mean(const struct columns_setup *helmet, size_t ring,
                        double (*of)(const struct columns_region *))
{
    for (size_t i = ring + 1; i-- > 0;) {
        double sum = 0.0, all = 0.0;
        for (size_t k = 0; k < helmet->region_count; k++) {
            sum += helmet->regions[k].share[i] * of(&helmet->regions[k]);
            all += helmet->regions[k].share[i];
        }
        if (all > least_share)
            return sum / all;
    }
    return helmet->region_count ? of(&helmet->regions[0]) : 0.0;
}

static double comfort_of(const struct columns_region *region)
{
    return region->comfort_thickness;
}

static double gap_of(const struct columns_region *region)
{
    return region->gap;
}

static double filled(const struct columns_setup *helmet, size_t ring)
{
    double sum = 0.0;
    for (size_t k = 0; k < helmet->region_count; k++)
        sum += helmet->regions[k].share[ring];
    return sum;
}

static double solid_angle(const struct columns_setup *helmet, size_t i)
{
    double pitch = helmet->phi_max / (double)(helmet->rings - 1), at = ring_angle(helmet, i);
    double from = i == 0 ? 0.0 : at - 0.5 * pitch, to = i + 1 == helmet->rings ? at : at + 0.5 * pitch;
    return 2.0 * pi * (numeric_cos(from) - numeric_cos(to));
}

static enum status take_rings(struct axisymmetric_model *model)
{
    size_t rings = model->setup.helmet.rings;
    double *next = model->memory = memory_zeroed(6 * rings, sizeof *next);
    if (!next || bearing_model_make(rings, &model->bearing) != STATUS_OK)
        return STATUS_MEMORY;
    double **const arrays[] = {&model->offset_r, &model->offset_z,      &model->liner,
                               &model->weight,   &model->head_distance, &model->grip};
    for (size_t a = 0; a < sizeof arrays / sizeof *arrays; a++, next += rings)
        *arrays[a] = next;
    return STATUS_OK;
}

static void fill_rings(struct axisymmetric_model *model)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    double outer = helmet->outer_radius, half = 0.5 * helmet->shell_thickness;
    for (size_t i = 0; i < helmet->rings; i++) {
        double sine = numeric_sin(ring_angle(helmet, i)), cosine = numeric_cos(ring_angle(helmet, i));
        double comfort = ring_mean(helmet, i, comfort_of), there = filled(helmet, i);
        model->liner[i] = ring_mean(helmet, i, columns_thickness);
        double inner = outer - model->liner[i];
        model->offset_r[i] = i == 0 ? 0.0 : half * sine;
        model->offset_z[i] = -half * cosine;
        model->head_distance[i] =
            inner - comfort - ring_mean(helmet, i, gap_of) - helmet->mismatch * (1.0 - cosine);
        model->weight[i] = outer * sine <= axis_radius ? outer * outer * solid_angle(helmet, i) * there : 0.0;
        model->bearing.thickness[i] = comfort;
        model->bearing.area[i] = there > least_share ? inner * inner * solid_angle(helmet, i) * there : 0.0;
    }
    for (size_t k = 0; k < helmet->region_count; k++) {
        if (helmet->regions[k].comfort_stress > 0.0)
            model->bearing.pressure = helmet->regions[k].comfort_stress;
    }
    model->first_z = outer + helmet->shell_thickness;
}

/* --- zones --- */

static void find_layers(struct axisymmetric_model *model)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    for (size_t k = 0; k < helmet->region_count; k++) {
        const struct columns_region *region = &helmet->regions[k];
        double thickness = columns_thickness(region), depth = 0.0;
        if (region_part(&model->setup, k) <= least_share)
            continue;
        for (size_t i = 0; i < region->layer_count; i++) {
            double from = depth / thickness;
            depth += region->layers[i].thickness;
            model->layers[model->layer_count++] = (struct axisymmetric_layer){
                (int)k, (int)i + 1, from, i + 1 == region->layer_count ? 1.0 : depth / thickness};
        }
    }
}

/* Part of row j that lies in a layer; none of an empty one. */
static double row_part(const struct axisymmetric_model *model, const struct axisymmetric_layer *layer,
                       size_t j)
{
    double low = model->cut[j], high = model->cut[j + 1];
    if (high <= low)
        return 0.0;
    double from = layer->from > low ? layer->from : low, to = layer->to < high ? layer->to : high;
    double part = (to - from) / (high - low);
    return part > least_share ? part : 0.0;
}

/* The zones of one foam of one layer, appended at zone and share; their count. */
static size_t list_zones(const struct axisymmetric_model *model, const struct axisymmetric_layer *layer,
                         double part_share, size_t rows, int *zone, double *share)
{
    size_t rings = model->setup.helmet.rings, stride = zones_stride(rings), count = 0;
    const double *of_region = model->setup.zone_share[layer->region];
    for (size_t j = 0; j < rows; j++) {
        double part = row_part(model, layer, j) * part_share;
        for (size_t i = 0; i + 1 < rings; i++) {
            if (part * of_region[i] <= least_share)
                continue;
            if (zone) {
                zone[count] = (int)(j * stride + i);
                share[count] = part * of_region[i];
            }
            count++;
        }
    }
    return count;
}

/* Blocks in order of layers and of the foams in them; only counts while `zone` is NULL. */
static size_t list_blocks(const struct axisymmetric_model *model, size_t rows, struct zones_block *blocks,
                          int *zone, double *share, size_t *zone_count)
{
    size_t at = 0, all = 0;
    for (size_t l = 0; l < model->layer_count; l++) {
        const struct axisymmetric_layer *layer = &model->layers[l];
        const struct liner_layer *of = &model->setup.helmet.regions[layer->region].layers[layer->layer - 1];
        for (size_t p = 0; p < of->part_count; p++, at++) {
            size_t count = list_zones(model, layer, of->parts[p].share, rows, zone ? zone + all : NULL,
                                      zone ? share + all : NULL);
            if (zone)
                blocks[at] = (struct zones_block){.foam = of->parts[p].foam,
                                                  .region = layer->region,
                                                  .layer = (int)l,
                                                  .count = count,
                                                  .zone = zone + all,
                                                  .share = share + all};
            all += count;
        }
    }
    *zone_count = all;
    return at;
}

static void place_nodes(const struct axisymmetric_model *model, size_t rows, double *r, double *z)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    for (size_t j = 0; j <= rows; j++) {
        for (size_t i = 0; i < helmet->rings; i++) {
            double radius = helmet->outer_radius - model->cut[j] * model->liner[i];
            double angle = ring_angle(helmet, i);
            r[j * helmet->rings + i] = i == 0 ? 0.0 : radius * numeric_sin(angle);
            z[j * helmet->rings + i] = model->first_z - radius * numeric_cos(angle);
        }
    }
}

static enum status make_zones(struct axisymmetric_model *model)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    size_t rows = cut_rows(&model->setup, model->cut), nodes = (rows + 1) * helmet->rings, all;
    find_layers(model);
    size_t count = list_blocks(model, rows, NULL, NULL, NULL, &all);
    struct zones_block *blocks = memory_zeroed(count, sizeof *blocks);
    int *zone = memory_zeroed(all, sizeof *zone);
    double *share = memory_zeroed(all, sizeof *share), *place = memory_zeroed(2 * nodes, sizeof *place);
    enum status status = blocks && zone && share && place ? STATUS_OK : STATUS_MEMORY;
    if (status == STATUS_OK) {
        list_blocks(model, rows, blocks, zone, share, &all);
        place_nodes(model, rows, place, place + nodes);
        struct zones_setup setup = {.rings = helmet->rings,
                                    .rows = rows,
                                    .r = place,
                                    .z = place + nodes,
                                    .block_count = count,
                                    .blocks = blocks,
                                    .viscosity_linear = helmet->viscosity_linear,
                                    .viscosity_quadratic = helmet->viscosity_quadratic,
                                    .hourglass = model->setup.hourglass,
                                    .fold = model->setup.fold};
        status = zones_model_make(&setup, &model->zones) ? STATUS_OK : STATUS_MEMORY;
    }
    model->cell_count = all;
    memory_free(blocks);
    memory_free(zone);
    memory_free(share);
    memory_free(place);
    return status;
}

/* --- shell and masses --- */

static enum status make_shell(struct axisymmetric_model *model)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    size_t rings = helmet->rings;
    if (helmet->shell_thickness <= 0.0)
        return STATUS_OK;
    double *place = memory_zeroed(3 * rings, sizeof *place);
    if (!place)
        return STATUS_MEMORY;
    double *bare = place + 2 * rings;
    for (size_t i = 0; i < rings; i++) {
        double share = helmet->bare ? helmet->bare[i] : 0.0;
        bare[i] = share < largest_bare ? share : largest_bare;
        place[i] = model->zones.first_r[i] + model->offset_r[i];
        place[rings + i] = model->zones.first_z[i] + model->offset_z[i];
    }
    struct shell_setup setup = {.node_count = rings,
                                .r = place,
                                .z = place + rings,
                                .thickness = helmet->shell_thickness,
                                .sheet = helmet->shell,
                                .start = SHELL_POLE,
                                .end = SHELL_FREE,
                                .bare = bare,
                                .hoop = helmet->hoop};
    enum status status = shell_model_make(&setup, &model->shell);
    model->has_shell = status == STATUS_OK;
    model->is_loose = model->has_shell && helmet->loose;
    memory_free(place);
    return status;
}

/* Shell on row 0, padding on the last row, the rest of the helmet on the last ring. */
static void add_masses(struct axisymmetric_model *model)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    size_t inner = model->zones.count;
    double padding = 0.0;
    for (size_t k = 0; k < helmet->region_count; k++)
        padding = helmet->regions[k].comfort_density > padding ? helmet->regions[k].comfort_density : padding;
    for (size_t i = 0; i < helmet->rings; i++) {
        model->zones.mass[i] += model->has_shell && !model->is_loose ? model->shell.mass[i] : 0.0;
        model->zones.mass[inner + i] += model->bearing.area[i] * model->bearing.thickness[i] * padding;
    }
    double rest = helmet->helmet_mass - axisymmetric_model_mass(model);
    double *rides_on = model->is_loose ? model->shell.mass : model->zones.mass;
    if (rest > 0.0)
        rides_on[helmet->rings - 1] += rest;
}

double axisymmetric_model_mass(const struct axisymmetric_model *model)
{
    double sum = 0.0;
    for (size_t k = 0; k < model->zones.count + model->zones.stride; k++)
        sum += model->zones.mass[k];
    for (size_t i = 0; model->is_loose && i < model->setup.helmet.rings; i++)
        sum += model->shell.mass[i];
    return sum;
}

double axisymmetric_axis_thickness(const struct axisymmetric_model *model)
{
    double sum = 0.0, all = 0.0;
    for (size_t i = 0; i < model->setup.helmet.rings; i++) {
        sum += model->weight[i] * model->liner[i];
        all += model->weight[i];
    }
    return all > 0.0 ? sum / all : NAN;
}

/* --- contacts --- */

static enum status first_step(struct axisymmetric_model *model)
{
    struct zones_state state;
    if (!zones_state_make(&model->zones, &state))
        return STATUS_MEMORY;
    double frequency = zones_update(&model->zones, &state, 1e-9).frequency;
    zones_state_free(&state);
    double step = 1.0 / frequency, shell = model->has_shell ? 2.0 / model->shell.largest_frequency : INFINITY;
    step = numeric_smaller(shell < step ? shell : step, model->oblique.shear.step);
    model->step = model->setup.helmet.courant * step;
    return STATUS_OK;
}

static enum status set_anvil(struct axisymmetric_model *model)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    double stiffness[COLUMNS_RINGS], damping[COLUMNS_RINGS], length[COLUMNS_RINGS];
    for (size_t i = 0; i < helmet->rings; i++) {
        double m = model->is_loose ? model->shell.mass[i] : model->zones.mass[i];
        stiffness[i] = helmet->contact_stiffness;
        penalty_set(m, model->step, model->has_shell ? PENALTY_ON_SHELL : PENALTY_ON_FOAM,
                    helmet->contact_damping, &stiffness[i], &damping[i]);
        double dr = i ? model->zones.first_r[i] - model->zones.first_r[i - 1] : 0.0;
        double dz = i ? model->zones.first_z[i] - model->zones.first_z[i - 1] : 0.0;
        length[i > 0 ? i - 1 : helmet->rings - 1] = sqrt(dr * dr + dz * dz);
    }
    return contact_on_segments(helmet->rings, model->zones.first_r, length, helmet->contact_points, stiffness,
                               damping, 0.5 * helmet->shell_thickness, &model->contact);
}

static enum status set_loose(struct axisymmetric_model *model)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    double r[COLUMNS_RINGS], z[COLUMNS_RINGS];
    for (size_t i = 0; i < helmet->rings; i++) {
        r[i] = model->zones.first_r[i] + model->offset_r[i];
        z[i] = model->zones.first_z[i] + model->offset_z[i];
    }
    struct loose_row foam = {.r = model->zones.first_r, .z = model->zones.first_z, .mass = model->zones.mass};
    struct loose_row shell = {.r = r, .z = z, .mass = model->shell.mass};
    return loose_model_make(helmet->rings, foam, shell, model->step, helmet->contact_damping,
                            helmet->bond_friction, &model->loose);
}

/* Share of the foam on ring i that has the border at a cut. */
static double border_share(const struct columns_setup *helmet, size_t i, double cut)
{
    double sum = 0.0, all = filled(helmet, i);
    for (size_t k = 0; k < helmet->region_count; k++) {
        const struct columns_region *region = &helmet->regions[k];
        double thickness = columns_thickness(region), depth = 0.0, nearest = INFINITY;
        for (size_t l = 0; l + 1 < region->layer_count; l++) {
            depth += region->layers[l].thickness;
            nearest = fmin(nearest, fabs(depth - cut * thickness));
        }
        sum += nearest < border_gap * helmet->cell ? region->share[i] : 0.0;
    }
    return all > least_share ? sum / all : 0.0;
}

/* Masses of the nodes of a row that meet those of the other. */
static void free_masses(const struct axisymmetric_model *model, const struct axisymmetric_slip *slip,
                        size_t row, double *mass)
{
    const double *of_row = model->zones.mass + row * model->zones.stride;
    for (size_t i = 0; i < model->setup.helmet.rings; i++)
        mass[i] = slip->tied[i] ? 0.0 : of_row[i];
}

static enum status set_slip(struct axisymmetric_model *model, struct axisymmetric_slip *slip)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    const struct zones_model *zones = &model->zones;
    size_t outer = slip->row * zones->stride, inner = outer + zones->stride;
    double mass[COLUMNS_RINGS];
    for (size_t i = 0; i < helmet->rings; i++)
        slip->tied[i] = border_share(helmet, i, model->cut[slip->row]) <= merged_share;
    struct slide_row outside = {.r = zones->first_r + outer, .z = zones->first_z + outer};
    struct slide_row inside = {.r = zones->first_r + inner, .z = zones->first_z + inner};
    struct slide_setup setup = {.count = helmet->rings,
                                .curve = outside,
                                .nodes = inside,
                                .side = 1,
                                .node_mass = mass,
                                .curve_mass = zones->mass + outer,
                                .share = 0.5, /* both rows do so */
                                .step = model->step,
                                .damping = helmet->contact_damping,
                                .friction = model->setup.slip_friction};
    free_masses(model, slip, slip->row + 1, mass);
    if (slide_model_make(&setup, &slip->inside) != STATUS_OK)
        return STATUS_MEMORY;
    setup.curve = inside;
    setup.nodes = outside;
    setup.side = -1;
    setup.curve_mass = zones->mass + inner;
    free_masses(model, slip, slip->row, mass);
    return slide_model_make(&setup, &slip->outside);
}

static enum status set_slips(struct axisymmetric_model *model)
{
    size_t rings = model->setup.helmet.rings, count = 0;
    for (size_t j = 0; j < model->zones.rows; j++)
        count += model->cut[j] >= model->cut[j + 1];
    if (count == 0)
        return STATUS_OK;
    model->slips = memory_zeroed(count, sizeof *model->slips);
    model->tied_memory = memory_zeroed(count * rings, sizeof *model->tied_memory);
    if (!model->slips || !model->tied_memory)
        return STATUS_MEMORY;
    enum status status = STATUS_OK;
    for (size_t j = 0; j < model->zones.rows && status == STATUS_OK; j++) {
        if (model->cut[j] < model->cut[j + 1])
            continue;
        struct axisymmetric_slip *slip = &model->slips[model->slip_count];
        slip->row = j;
        slip->tied = model->tied_memory + model->slip_count++ * rings;
        status = set_slip(model, slip);
    }
    return status;
}

static void set_head(struct axisymmetric_model *model)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    struct bearing_model *bearing = &model->bearing;
    bearing->contact = INFINITY;
    for (size_t i = 0; i < helmet->rings; i++) {
        double m = model->zones.mass[model->zones.count + i];
        if (bearing->area[i] <= 0.0 || m <= 0.0) {
            bearing->area[i] = 0.0;
            continue;
        }
        penalty_set(m, model->step, PENALTY_ON_FOAM, helmet->contact_damping, &bearing->stiffness[i],
                    &bearing->damping[i]);
        double contact = bearing->stiffness[i] / bearing->area[i];
        bearing->contact = contact < bearing->contact ? contact : bearing->contact;
        model->grip[i] = grip_share * m / (model->step * model->step);
    }
}

enum status axisymmetric_model_make(const struct axisymmetric_setup *setup, struct axisymmetric_model *model)
{
    *model = (struct axisymmetric_model){.setup = *setup};
    enum status status = take_rings(model);
    if (status == STATUS_OK) {
        fill_rings(model);
        status = make_zones(model);
    }
    if (status == STATUS_OK)
        status = make_shell(model);
    if (status == STATUS_OK) {
        add_masses(model);
        status = oblique_of_helmet(&setup->helmet, axisymmetric_model_mass(model), &model->oblique);
    }
    if (status == STATUS_OK)
        status = first_step(model);
    if (status == STATUS_OK) {
        status = set_anvil(model);
        set_head(model);
    }
    if (status == STATUS_OK && model->is_loose)
        status = set_loose(model);
    if (status == STATUS_OK)
        status = set_slips(model);
    if (status != STATUS_OK)
        axisymmetric_model_free(model);
    return status;
}

void axisymmetric_model_free(struct axisymmetric_model *model)
{
    zones_model_free(&model->zones);
    shell_model_free(&model->shell);
    contact_model_free(&model->contact);
    bearing_model_free(&model->bearing);
    oblique_model_free(&model->oblique);
    loose_model_free(&model->loose);
    for (size_t k = 0; k < model->slip_count; k++) {
        slide_model_free(&model->slips[k].inside);
        slide_model_free(&model->slips[k].outside);
    }
    memory_free(model->slips);
    memory_free(model->tied_memory);
    memory_free(model->memory);
    *model = (struct axisymmetric_model){0};
}
