#include <math.h>

#include "solver/impact/zones.h"

/*
 * Every loop runs over one contiguous range of zones or nodes, with corners at k, k + 1, k + stride and
 * k + stride + 1. What stands in the places without a zone is computed and thrown away by a selection, never
 * multiplied by zero, since it may be infinite.
 */

enum { LANES = 8 };

static const double two_pi = 6.28318530717958647693;

/* One coordinate of the four corners. */
struct corners {
    double at[4];
};

static INLINE struct corners corners_of(const double *x, size_t k, size_t stride)
{
    return (struct corners){{x[k], x[k + 1], x[k + stride + 1], x[k + stride]}};
}

/* Six times the volume per radian, of the triangles 0 1 2 and 0 2 3: twice the area of each times the sum of
 * its r. */
static INLINE double six_volumes(struct corners r, struct corners z)
{
    double pr = r.at[2] - r.at[0], pz = z.at[2] - z.at[0], even = r.at[0] + r.at[2];
    double first = (r.at[1] - r.at[0]) * pz - pr * (z.at[1] - z.at[0]);
    double second = pr * (z.at[3] - z.at[0]) - (r.at[3] - r.at[0]) * pz;
    return first * (even + r.at[1]) + second * (even + r.at[3]);
}

/* Diagonals 0 2 and 1 3. */
struct diagonals {
    double even_r, even_z, odd_r, odd_z;
};

static INLINE struct diagonals diagonals_of(struct corners r, struct corners z)
{
    return (struct diagonals){r.at[2] - r.at[0], z.at[2] - z.at[0], r.at[3] - r.at[1], z.at[3] - z.at[1]};
}

static INLINE double area_of(struct diagonals d)
{
    return 0.5 * (d.even_r * d.odd_z - d.odd_r * d.even_z);
}

/* Area of the triangle at the corner `c`, between `p` before and `q` after it. */
static INLINE double triangle_of(struct corners r, struct corners z, int p, int c, int q)
{
    return 0.5 * ((r.at[q] - r.at[c]) * (z.at[p] - z.at[c]) - (r.at[p] - r.at[c]) * (z.at[q] - z.at[c]));
}

/* With N the bilinear share of a corner, six times its integrals over a zone: of r dN/dr, r dN/dz, and N. The
 * last is the area plus the triangle at the corner, and with the first makes up dV/dr. */
struct slopes {
    double r[4], z[4], n[4];
};

/* Six dV/dr of a corner: r (z_q - z_p) and, of both edges that meet there, (z_b - z_a)(r_a + r_b). */
static INLINE void slopes_by_r(struct corners r, struct corners z, struct diagonals d, double *slope)
{
    double edge0 = (z.at[1] - z.at[0]) * (r.at[0] + r.at[1]);
    double edge1 = (z.at[2] - z.at[1]) * (r.at[1] + r.at[2]);
    double edge2 = (z.at[3] - z.at[2]) * (r.at[2] + r.at[3]);
    double edge3 = (z.at[0] - z.at[3]) * (r.at[3] + r.at[0]);
    slope[0] = (edge3 + edge0) - r.at[0] * d.odd_z;
    slope[1] = (edge0 + edge1) + r.at[1] * d.even_z;
    slope[2] = (edge1 + edge2) + r.at[2] * d.odd_z;
    slope[3] = (edge2 + edge3) - r.at[3] * d.even_z;
}

/* Six dV/dz of a corner: (r_p - r_q)(r_p + r_q + r). */
static INLINE void slopes_by_z(struct corners r, struct diagonals d, double *slope)
{
    double even = r.at[0] + r.at[2], odd = r.at[1] + r.at[3];
    slope[0] = d.odd_r * (odd + r.at[0]);
    slope[1] = -d.even_r * (even + r.at[1]);
    slope[2] = -d.odd_r * (odd + r.at[2]);
    slope[3] = d.even_r * (even + r.at[3]);
}

/* The triangles at corners 0 and 1; those at 2 and 3 make up the area with them. */
struct triangles {
    double at0, at1;
};

static INLINE struct slopes slopes_of(struct corners r, struct corners z, struct diagonals d, double area,
                                      struct triangles *triangles)
{
    struct slopes s;
    double at0 = triangle_of(r, z, 3, 0, 1), at1 = triangle_of(r, z, 0, 1, 2);
    s.n[0] = area + at0, s.n[1] = area + at1;
    s.n[2] = area + (area - at0), s.n[3] = area + (area - at1);
    slopes_by_r(r, z, d, s.r);
    slopes_by_z(r, d, s.z);
    for (int c = 0; c < 4; c++)
        s.r[c] -= s.n[c];
    *triangles = (struct triangles){at0, at1};
    return s;
}

/* Sum over corners. */
static INLINE double over_corners(const double *slope, struct corners x)
{
    return (slope[0] * x.at[0] + slope[1] * x.at[1]) + (slope[2] * x.at[2] + slope[3] * x.at[3]);
}

/* Normal of a zone, outwards, of any length: that of the rotation in the polar decomposition of its mean
 * deformation. The rotation that turns two unit vectors at right angles as near as it can to their images
 * points along the sum of the first image and the second one turned back by the right angle. */
struct axis {
    double r, z;
};

static INLINE struct axis normal_of(struct diagonals d, double per_height, double per_width)
{
    return (struct axis){(d.even_z - d.odd_z) * per_width - (d.even_r + d.odd_r) * per_height,
                         (d.odd_r - d.even_r) * per_width - (d.even_z + d.odd_z) * per_height};
}

static INLINE double length_of(struct axis n)
{
    return sqrt(n.r * n.r + n.z * n.z);
}

static INLINE double larger_of(double a, double b)
{
    return a > b ? a : b;
}

static INLINE double alternate(struct corners x)
{
    return (x.at[0] - x.at[1]) + (x.at[2] - x.at[3]);
}

/* A spring that slips at +-limit and gives way by `give` a stress; what slipping takes is added to `lost`. */
static INLINE double spring(double held, double step, double stiffness, double give, double limit,
                            double *lost)
{
    double trial = held + stiffness * step;
    double force = trial > limit ? limit : trial < -limit ? -limit : trial;
    *lost += force == trial ? 0.0 : 0.5 * ((held + force) * step - (force * force - held * held) * give);
    return force;
}

void ISA_NAME(zones_strain)(const struct zones_model *model, struct zones_state *state, double dt)
{
    size_t stride = model->stride;
    const double *restrict live = model->live, *restrict inverse_volume = model->inverse_volume;
    const double *restrict stiffness = model->stiffness, *restrict give = model->give;
    const double *restrict strength = model->strength;
    const double *restrict per_height = model->inverse_height, *restrict per_width = model->inverse_width;
    const double *r = state->r, *z = state->z, *vr = state->velocity_r, *vz = state->velocity_z;
    double *restrict volume = state->volume, *restrict change = state->change;
    double *restrict normal = state->crush[FOAM_NORMAL], *restrict along = state->crush[FOAM_ALONG];
    double *restrict hoop = state->crush[FOAM_HOOP], *restrict shear = state->crush[FOAM_SHEAR];
    double *restrict spring_n = state->hourglass[0], *restrict spring_a = state->hourglass[1];
    double *restrict artificial = state->artificial;
    double half = 0.5 * dt, sixth = two_pi / 6.0;
    INDEPENDENT
    for (size_t k = 0; k < model->count; k++) {
        struct corners rn = corners_of(r, k, stride), zn = corners_of(z, k, stride);
        struct corners u = corners_of(vr, k, stride), w = corners_of(vz, k, stride), rm, zm;
        for (int c = 0; c < 4; c++) {
            rm.at[c] = rn.at[c] - half * u.at[c];
            zm.at[c] = zn.at[c] - half * w.at[c];
        }
        struct diagonals d = diagonals_of(rm, zm);
        struct triangles unused;
        struct slopes b = slopes_of(rm, zm, d, area_of(d), &unused);
        double rr = over_corners(b.r, u), rz = over_corners(b.z, u);
        double zr = over_corners(b.r, w), zz = over_corners(b.z, w);
        double whole = sixth * inverse_volume[k], step = -whole * dt;
        double now = 1.0 - six_volumes(rn, zn) * whole;
        struct axis n = normal_of(d, per_height[k], per_width[k]);
        /* V is linear in z: the sum of z dV/dz */
        double volumes = over_corners(b.z, zm), length = length_of(n), inverse = 1.0 / (volumes * length);
        double per_volume = length * inverse, per_length = volumes * inverse;
        n.r *= per_length, n.z *= per_length;
        double crush_r = step * rr, crush_z = step * zz, crush_s = 0.5 * step * (rz + zr);
        double nn = n.r * n.r, ss = n.z * n.z, ns = n.r * n.z;
        double in_normal = nn * crush_r + 2.0 * ns * crush_s + ss * crush_z;
        double in_along = ss * crush_r - 2.0 * ns * crush_s + nn * crush_z;
        double in_shear = (nn - ss) * crush_s + ns * (crush_z - crush_r);
        double grown = now - volume[k];
        double hr = alternate(rm) * per_volume, hz = alternate(zm) * per_volume;
        double qr = alternate(u) - (hr * rr + hz * rz), qz = alternate(w) - (hr * zr + hz * zz);
        double per_line = dt * larger_of(per_height[k], per_width[k]), lost = 0.0;
        double step_n = (qr * n.r + qz * n.z) * per_line, step_a = (-qr * n.z + qz * n.r) * per_line;
        double held_n = spring(spring_n[k], step_n, stiffness[k], give[k], strength[k], &lost);
        double held_a = spring(spring_a[k], step_a, stiffness[k], give[k], strength[k], &lost);
        int there = live[k] > 0.0;
        normal[k] = there ? in_normal : 0.0;
        along[k] = there ? in_along : 0.0;
        shear[k] = there ? in_shear : 0.0;
        hoop[k] = there ? grown - crush_r - crush_z : 0.0;
        change[k] = there ? grown : 0.0;
        volume[k] = there ? now : 0.0;
        spring_n[k] = there ? held_n : 0.0;
        spring_a[k] = there ? held_a : 0.0;
        artificial[k] += there ? lost : 0.0;
    }
}

/* Larger of two; a NaN on either side stays. */
static inline double larger(double kept, double value)
{
    return (value <= kept) | (kept != kept) ? kept : value;
}

static double largest(const double *values, size_t count)
{
    double lane[LANES];
    for (int l = 0; l < LANES; l++)
        lane[l] = values[l];
    for (size_t k = 0; k < count; k += LANES) {
        for (int l = 0; l < LANES; l++)
            lane[l] = larger(lane[l], values[k + l]);
    }
    for (int l = 1; l < LANES; l++)
        lane[0] = larger(lane[0], lane[l]);
    return lane[0];
}

/* Stress of a zone in the plane and around, compression positive, whole rings. */
struct stress {
    double rr, zz, rz, hoop;
};

/* What divides: the share of the volume that is left, the area, the longer diagonal squared, the length of
 * the normal; one quotient for all. */
struct inverse {
    double share, area, diagonal, length;
};

static INLINE struct inverse inverse_of(double share, double area, double diagonal, double length)
{
    double first = share * length, second = area * diagonal, inverse = 1.0 / (first * second);
    double per_first = inverse * second, per_second = inverse * first;
    return (struct inverse){per_first * length, per_second * diagonal, per_second * area, per_first * share};
}

static INLINE double square_of_longest(struct diagonals d)
{
    return larger_of(d.even_r * d.even_r + d.even_z * d.even_z, d.odd_r * d.odd_r + d.odd_z * d.odd_z);
}

/* Viscous pressure C1 rho c L d + C2 rho L^2 d^2 of a zone that shrinks at the rate d; `frequency` becomes
 * the bound of the step. L is the area over the longer diagonal, c sqrt(tangent/density) with what is left of
 * the height. */
static INLINE double viscosity(const struct zones_model *model, double density, double wave_times_area,
                               double area, struct inverse per, double rate, double *frequency)
{
    double wave = wave_times_area * per.area;
    double damping = model->viscosity_linear * wave + model->viscosity_quadratic * rate;
    *frequency = wave + 2.0 * damping;
    return (density * per.share) * (area * area * per.diagonal) * rate * damping;
}

/* Where two neighbouring triangles at a zone's corners have no area two sides cross; one corner pushed in
 * makes a zone concave, which it may be. */
struct corner_state {
    double smallest;
    int crossed;
};

static INLINE struct corner_state judge_corners(struct triangles t, double area)
{
    double at2 = area - t.at0, at3 = area - t.at1;
    double first = t.at0 < at2 ? t.at0 : at2, second = t.at1 < at3 ? t.at1 : at3;
    return (struct corner_state){.smallest = first < second ? first : second,
                                 .crossed = (first > second ? first : second) <= 0.0};
}

static INLINE struct stress in_plane(struct axis n, double normal, double along, double shear, double hoop)
{
    double nn = n.r * n.r, ss = n.z * n.z, ns = n.r * n.z;
    return (struct stress){.rr = nn * normal - 2.0 * ns * shear + ss * along,
                           .zz = ss * normal + 2.0 * ns * shear + nn * along,
                           .rz = ns * (normal - along) + (nn - ss) * shear,
                           .hoop = hoop};
}

static INLINE void corner_forces(const struct zones_model *model, struct zones_state *state, double dt)
{
    size_t stride = model->stride;
    const double *restrict live = model->live, *restrict first = model->volume;
    const double *restrict density = model->density, *restrict fold_from = model->fold_from;
    const double *restrict inverse_volume = model->inverse_volume;
    const double *restrict inverse_density = model->inverse_density;
    const double *restrict per_height = model->inverse_height, *restrict per_width = model->inverse_width;
    const double *r = state->r, *z = state->z;
    const double *restrict normal = state->stress[FOAM_NORMAL], *restrict along = state->stress[FOAM_ALONG];
    const double *restrict hoop = state->stress[FOAM_HOOP], *restrict shear = state->stress[FOAM_SHEAR];
    const double *restrict spring_n = state->hourglass[0], *restrict spring_a = state->hourglass[1];
    const double *restrict volume = state->volume, *restrict change = state->change;
    double *restrict viscous = state->viscous, *restrict artificial = state->artificial;
    double *restrict frequency = state->tangent, *restrict folding = state->folding;
    double *restrict r0 = state->corner[0], *restrict r1 = state->corner[1], *restrict r2 = state->corner[2];
    double *restrict r3 = state->corner[3], *restrict z0 = state->corner[4], *restrict z1 = state->corner[5];
    double *restrict z2 = state->corner[6], *restrict z3 = state->corner[7];
    double per_step = 1.0 / dt, sixth = two_pi / 6.0;
    INDEPENDENT
    for (size_t k = 0; k < model->count; k++) {
        struct corners rc = corners_of(r, k, stride), zc = corners_of(z, k, stride);
        struct diagonals d = diagonals_of(rc, zc);
        double area = area_of(d), longest = square_of_longest(d), share = 1.0 - volume[k], bound;
        struct triangles triangles;
        struct slopes b = slopes_of(rc, zc, d, area, &triangles);
        struct axis n = normal_of(d, per_height[k], per_width[k]);
        struct inverse per = inverse_of(share, area, longest, length_of(n));
        n.r *= per.length, n.z *= per.length;
        double grown = change[k] > 0.0 ? change[k] : 0.0;
        double fresh = viscosity(model, density[k], share * sqrt(frequency[k] * inverse_density[k] * longest),
                                 area, per, grown * per_step * per.share, &bound);
        struct stress s = in_plane(n, normal[k] + fresh, along[k] + fresh, shear[k], hoop[k] + fresh);
        double lost = 0.5 * (viscous[k] + fresh) * change[k];
        double rr = sixth * s.rr, zz = sixth * s.zz, rz = sixth * s.rz, hh = sixth * s.hoop;
        /* hourglass: gamma of corners 0 .. 3 = +1, -1, +1, -1 less the linear part; six volumes per radian
         * are those at rest times the share that is left */
        double per_volume = sixth * inverse_volume[k] * per.share;
        double hr = alternate(rc) * per_volume, hz = alternate(zc) * per_volume;
        double pull = first[k] * larger_of(per_height[k], per_width[k]);
        double qr = pull * (spring_n[k] * n.r - spring_a[k] * n.z);
        double qz = pull * (spring_n[k] * n.z + spring_a[k] * n.r);
        double r_by_r = rr + qr * hr, r_by_z = rz + qr * hz, z_by_r = rz + qz * hr, z_by_z = zz + qz * hz;
        int there = live[k] > 0.0;
        double fr[4], fz[4];
        for (int c = 0; c < 4; c++) {
            double sign_r = c % 2 ? qr : -qr, sign_z = c % 2 ? qz : -qz;
            fr[c] = (r_by_r * b.r[c] + hh * b.n[c]) + (r_by_z * b.z[c] + sign_r);
            fz[c] = z_by_z * b.z[c] + (z_by_r * b.r[c] + sign_z);
        }
        r0[k] = there ? fr[0] : 0.0, r1[k] = there ? fr[1] : 0.0;
        r2[k] = there ? fr[2] : 0.0, r3[k] = there ? fr[3] : 0.0;
        z0[k] = there ? fz[0] : 0.0, z1[k] = there ? fz[1] : 0.0;
        z2[k] = there ? fz[2] : 0.0, z3[k] = there ? fz[3] : 0.0;
        viscous[k] = there ? fresh : 0.0;
        artificial[k] += there ? lost : 0.0;
        struct corner_state corners = judge_corners(triangles, area);
        frequency[k] = there ? corners.crossed ? INFINITY : bound : 0.0;
        folding[k] = there && 2.0 * corners.smallest < fold_from[k] * area ? 1.0 : 0.0;
    }
}

/* Slope of the energy that holds a corner open, by its share of half the zone, and how steep it gets. */
static double fold_slope(double share, double from, double *steepest)
{
    if (share >= from)
        return 0.0;
    double held = share > ZONES_FOLD_LEAST * from ? share : ZONES_FOLD_LEAST * from, ratio = from / held;
    double steep = ratio * ratio / held;
    *steepest = larger_of(*steepest, steep);
    return 0.5 * (1.0 - ratio * ratio) + steep * (share - held);
}

/* Adds what holds the corners of a zone open to their forces and to the bound of the step. The energy goes by
 * the shares at corners 0 and 1, twice a triangle over the area; those at 2 and 3 are 2 less these. */
static void hold_open(const struct zones_model *model, struct zones_state *state, size_t k)
{
    struct corners r = corners_of(state->r, k, model->stride), z = corners_of(state->z, k, model->stride);
    struct diagonals d = diagonals_of(r, z);
    double area = area_of(d), steepest = 0.0, fr[4] = {0}, fz[4] = {0};
    for (int c = 0; c < 2; c++) {
        int p = (c + 3) % 4, q = c + 1, o = c + 2;
        double share = 2.0 * triangle_of(r, z, p, c, q) / area, from = model->fold_from[k];
        double slope = fold_slope(share, from, &steepest) - fold_slope(2.0 - share, from, &steepest);
        double by_area = -0.5 * share * slope;
        fr[c] += (slope + by_area) * (z.at[q] - z.at[p]), fz[c] += (slope + by_area) * (r.at[p] - r.at[q]);
        fr[o] += by_area * (z.at[p] - z.at[q]), fz[o] += by_area * (r.at[q] - r.at[p]);
        fr[q] += slope * (z.at[p] - z.at[c]) + by_area * (z.at[o] - z.at[c]);
        fz[q] += slope * (r.at[c] - r.at[p]) + by_area * (r.at[c] - r.at[o]);
        fr[p] += slope * (z.at[c] - z.at[q]) + by_area * (z.at[c] - z.at[o]);
        fz[p] += slope * (r.at[q] - r.at[c]) + by_area * (r.at[o] - r.at[c]);
    }
    double scale = model->volume[k] * model->fold[k] / area;
    for (int c = 0; c < 4; c++) {
        state->corner[c][k] -= scale * fr[c];
        state->corner[4 + c][k] -= scale * fz[c];
    }
    double wave = sqrt(3.0 * model->fold[k] * steepest / model->density[k] * square_of_longest(d)) / area;
    state->tangent[k] = sqrt(state->tangent[k] * state->tangent[k] + wave * wave);
}

static void hold_corners(const struct zones_model *model, struct zones_state *state)
{
    if (largest(state->folding, model->count) == 0.0)
        return;
    for (size_t k = 0; k < model->count; k++) {
        if (state->folding[k] > 0.0)
            hold_open(model, state, k);
    }
}

/* Forces on the nodes, from the corners of up to four zones. */
static void gather(const struct zones_model *model, struct zones_state *state)
{
    size_t stride = model->stride, count = model->count + stride;
    for (int part = 0; part < 2; part++) {
        double *restrict force = part ? state->force_z : state->force_r;
        const double *restrict c0 = state->corner[4 * part], *restrict c1 = state->corner[4 * part + 1] - 1;
        const double *restrict c2 = state->corner[4 * part + 2] - stride - 1;
        const double *restrict c3 = state->corner[4 * part + 3] - stride;
        INDEPENDENT
        for (size_t k = 0; k < count; k++)
            force[k] = (c0[k] + c1[k]) + (c2[k] + c3[k]);
    }
}

struct zones_bounds ISA_NAME(zones_force)(const struct zones_model *model, struct zones_state *state,
                                          double dt)
{
    corner_forces(model, state, dt);
    hold_corners(model, state);
    gather(model, state);
    struct zones_bounds bounds = {.frequency = largest(state->tangent, model->count),
                                  .largest_strain = largest(state->volume, model->count),
                                  .tangled = model->count};
    int sound = bounds.largest_strain < 1.0 && bounds.frequency < INFINITY;
    for (size_t k = 0; !sound && bounds.tangled == model->count && k < model->count; k++)
        bounds.tangled = state->volume[k] < 1.0 && state->tangent[k] != INFINITY ? model->count : k;
    return bounds;
}

void ISA_NAME(zones_shift)(const struct zones_model *model, struct zones_state *state, double gravity,
                           double dt_velocity, double dt)
{
    const double *restrict mass = model->mass;
    const double *restrict force_r = state->force_r, *restrict force_z = state->force_z;
    double *restrict r = state->r, *restrict z = state->z;
    double *restrict velocity_r = state->velocity_r, *restrict velocity_z = state->velocity_z;
    size_t count = model->count + model->stride;
    INDEPENDENT
    for (size_t k = 0; k < count; k++) {
        double per_mass = dt_velocity / mass[k];
        int there = mass[k] > 0.0;
        double fast_r = velocity_r[k] + force_r[k] * per_mass;
        double fast_z = velocity_z[k] + force_z[k] * per_mass - gravity * dt_velocity;
        velocity_r[k] = there ? fast_r : 0.0;
        velocity_z[k] = there ? fast_z : 0.0;
        r[k] += velocity_r[k] * dt;
        z[k] += velocity_z[k] * dt;
    }
    for (size_t k = 0; k < count; k += model->stride) {
        r[k] -= velocity_r[k] * dt;
        velocity_r[k] = 0.0;
    }
}
