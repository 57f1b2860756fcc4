#ifndef FOAMPULSE_TESTS_ZONES_ODE_H
#define FOAMPULSE_TESTS_ZONES_ODE_H

/*
 * Foam as a body of revolution a second time, as ordinary differential equations for a general integrator:
 * the equations that solver/impact/zones.h names, with viscosity and hourglass springs, and the foam law of
 * struct foam_points in rate form, no time step anywhere. Shares no code with the solver. Foam that does not
 * tear: the cut-off in tension is left out.
 *
 * A body of one foam between plates without friction: row 0 stays where it is, the last row moves as one
 * with the striker, both slide. Compression positive; forces and volumes per radian.
 *
 * The law: s' = E_u J D in the zone's axes, principal stresses below Y. With t = Y_f f'/E_u and A those of
 * the principal directions at Y in which J D_i lasts above Y'/E_u, n of them,
 *     kappa' = (sum over A of (J D_i - t) ) / (1 + n Y_k/E),  s_i' = Y' = Y_k kappa' + Y_f f' in A.
 * Written in u = sqrt(kappa) and with the return to Y of foam_twin.h. A spring at its limit returns alike.
 */
#include <math.h>
#include <stddef.h>

#include "tests/verify/foam_twin.h"

enum { ZONES_ODE_NODES = 256, ZONES_ODE_STATES = 8 };

/* State of a zone. Stresses of the skeleton and springs in Pa, rate in 1/s. */
struct zones_ode_zone {
    double normal, along, hoop, shear, u, rate, spring[2];
};

struct zones_ode {
    size_t rings, rows; /* nodes (rows + 1) x rings, ring fastest */
    const struct foam_parameters *foam;
    twin_curve *curve;
    double striker;                      /* [kg] */
    double linear, quadratic, hourglass; /* as in struct zones_setup */
    double return_time;                  /* [s] */
    double r[ZONES_ODE_NODES], z[ZONES_ODE_NODES], mass[ZONES_ODE_NODES];
    double volume[ZONES_ODE_NODES], fold_from[ZONES_ODE_NODES]; /* zones, by corner 0 */
    double height[ZONES_ODE_NODES], width[ZONES_ODE_NODES];     /* twice the lines through the middle */
    long calls;
};

/* Unknowns: r, z, v_r, v_z of all nodes, then the zones. */
static inline size_t zones_ode_nodes(const struct zones_ode *ode)
{
    return ode->rings * (ode->rows + 1);
}

static inline size_t zones_ode_size(const struct zones_ode *ode)
{
    return 4 * zones_ode_nodes(ode) + ZONES_ODE_STATES * (ode->rings - 1) * ode->rows;
}

/* Index of the striker's velocity: that of the last row on the axis. */
static inline size_t zones_ode_striker(const struct zones_ode *ode)
{
    return 3 * zones_ode_nodes(ode) + ode->rows * ode->rings;
}

/* Corners of a zone: places, and what the scheme needs of them. */
struct zones_ode_shape {
    double r[4], z[4];
    double area, volume;
    double by_r[4], by_z[4], share[4]; /* integrals of r dN/dr, r dN/dz, N */
};

static inline void zones_ode_corners(const double *x, size_t k, size_t rings, double *corner)
{
    corner[0] = x[k], corner[1] = x[k + 1], corner[2] = x[k + rings + 1], corner[3] = x[k + rings];
}

/* V = 1/2 contour integral of r^2 dz, side by side; dV/dr and dV/dz of a corner c between p and q follow; the
 * integral of N over a quadrilateral is (its area + the triangle p c q)/6. */
static inline void zones_ode_measure(struct zones_ode_shape *s)
{
    const double *r = s->r, *z = s->z;
    s->area = 0.5 * ((r[2] - r[0]) * (z[3] - z[1]) - (r[3] - r[1]) * (z[2] - z[0]));
    s->volume = 0;
    for (int c = 0; c < 4; c++) {
        int p = (c + 3) % 4, q = (c + 1) % 4;
        double triangle = 0.5 * ((r[q] - r[c]) * (z[p] - z[c]) - (r[p] - r[c]) * (z[q] - z[c]));
        double volume_by_r = ((z[c] - z[p]) * (r[p] + 2 * r[c]) + (z[q] - z[c]) * (2 * r[c] + r[q])) / 6;
        s->volume += (z[q] - z[c]) * (r[c] * r[c] + r[c] * r[q] + r[q] * r[q]) / 6;
        s->share[c] = (s->area + triangle) / 6;
        s->by_r[c] = volume_by_r - s->share[c];
        s->by_z[c] = (r[p] * r[p] - r[q] * r[q] + r[c] * (r[p] - r[q])) / 6;
    }
}

static inline double zones_ode_sum(const double *weight, const double *x)
{
    return weight[0] * x[0] + weight[1] * x[1] + weight[2] * x[2] + weight[3] * x[3];
}

static inline double zones_ode_alternate(const double *x)
{
    return x[0] - x[1] + x[2] - x[3];
}

/* Twice the lines between the middles of opposite sides: through the thickness (outwards) and along. */
static inline void zones_ode_lines(const double *x, double *through, double *along)
{
    *through = x[0] + x[1] - x[2] - x[3];
    *along = x[1] + x[2] - x[0] - x[3];
}

/* Principal axes of a stress in the plane as cos and sin of twice the angle; of the strain rate where the
 * stress has none. */
struct zones_ode_axes {
    double cos2, sin2;
};

static inline struct zones_ode_axes zones_ode_axes(double half, double shear, double small, double rate_half,
                                                   double rate_shear)
{
    double radius = hypot(half, shear);
    if (radius > small)
        return (struct zones_ode_axes){half / radius, shear / radius};
    radius = hypot(rate_half, rate_shear);
    return radius > 0 ? (struct zones_ode_axes){rate_half / radius, rate_shear / radius}
                      : (struct zones_ode_axes){1, 0};
}

/* What the law answers beside the slopes of its state. */
struct zones_ode_answer {
    double pressure, tangent; /* of the gas; stiffest slope [Pa] */
};

/* Principal directions that flow, and u'. */
static inline double zones_ode_flow(const double *d, const int *at_yield, double lag, double modulus,
                                    double young, double kappa_slope, struct twin_slopes y,
                                    double factor_rate, int *flows)
{
    double u_rate = 0;
    for (int i = 0; i < 3; i++)
        flows[i] = at_yield[i] && d[i] > lag;
    for (int pass = 0; pass < 3; pass++) {
        double count = 0, sum = 0;
        for (int i = 0; i < 3; i++) {
            count += flows[i];
            sum += flows[i] ? d[i] - lag : 0;
        }
        if (count <= 0)
            return 0;
        u_rate = sum / (kappa_slope + count * y.by_u / young);
        double rise = y.by_u * u_rate + y.by_factor * factor_rate, most = fmax(d[0], fmax(d[1], d[2]));
        for (int i = 0; i < 3 && pass < 2; i++)
            flows[i] = flows[i] && (modulus * d[i] > rise || d[i] >= most);
    }
    return u_rate;
}

static inline struct zones_ode_answer zones_ode_law(const struct zones_ode *ode,
                                                    const struct zones_ode_zone *at, double crushed,
                                                    double normal, double along, double hoop, double shear,
                                                    struct zones_ode_zone *slope)
{
    const struct foam_parameters *p = ode->foam;
    double kappa = twin_kappa(p, at->u), modulus = p->youngs_modulus / (1 + p->unloading_softening * kappa);
    double middle = 0.5 * (normal + along), half = 0.5 * (normal - along);
    double fastest = fmax(fmax(middle + hypot(half, shear), hoop), 0);
    double rate = fmax(at->rate, p->rate_reference), factor = twin_factor(p, at->rate);
    slope->rate = (fastest - at->rate) / p->rate_time;
    double factor_rate = at->rate > p->rate_reference ? p->rate_gain / log(10) / rate * slope->rate : 0;
    struct twin_slopes y = ode->curve(p, factor, at->u);
    double mean = 0.5 * (at->normal + at->along), deviator = 0.5 * (at->normal - at->along);
    double radius = hypot(deviator, at->shear), near = 1e-5 * y.yield;
    struct zones_ode_axes axes = zones_ode_axes(deviator, at->shear, near, half, shear);
    double apart = half * axes.cos2 + shear * axes.sin2, turn = shear * axes.cos2 - half * axes.sin2;
    double s[3] = {mean + radius, mean - radius, at->hoop}, d[3] = {middle + apart, middle - apart, hoop};
    int at_yield[3], flows[3];
    double to[3];
    for (int i = 0; i < 3; i++)
        at_yield[i] = s[i] >= y.yield - near;
    slope->u = zones_ode_flow(d, at_yield, y.by_factor * factor_rate / modulus, modulus, p->youngs_modulus,
                              twin_kappa_slope(p, at->u), y, factor_rate, flows);
    double rise = y.by_u * slope->u + y.by_factor * factor_rate;
    for (int i = 0; i < 3; i++)
        to[i] = flows[i] ? rise - (s[i] - y.yield) / ode->return_time : modulus * d[i];
    double off = flows[0] && flows[1] ? 0 : modulus * turn, spread = 0.5 * (to[0] - to[1]);
    double spread_half = spread * axes.cos2 - off * axes.sin2;
    slope->normal = 0.5 * (to[0] + to[1]) + spread_half;
    slope->along = 0.5 * (to[0] + to[1]) - spread_half;
    slope->shear = spread * axes.sin2 + off * axes.cos2;
    slope->hoop = to[2];
    double stiff = y.yield / factor * p->rate_gain / log(10) / (p->rate_time * rate);
    double more = flows[0] || flows[1] || flows[2] ? fmax(stiff - modulus, 0) : 0;
    return (struct zones_ode_answer){twin_gas(p, crushed), modulus + twin_gas_slope(p, crushed) + more};
}

/* Viscous pressure of a zone that shrinks by `rate` of its volume. L: area over the longest diagonal. */
static inline double zones_ode_viscous(const struct zones_ode *ode, const struct zones_ode_shape *s,
                                       double share, double rate, double tangent)
{
    if (rate <= 0)
        return 0;
    double a = hypot(s->r[2] - s->r[0], s->z[2] - s->z[0]), b = hypot(s->r[3] - s->r[1], s->z[3] - s->z[1]);
    double length = s->area / fmax(a, b), density = ode->foam->density / share;
    /* c = (V/V0) sqrt(tangent/first density): the tangent counts against nominal strain */
    double speed = share * sqrt(tangent / ode->foam->density);
    return density * length * rate * (ode->linear * speed + ode->quadratic * length * rate);
}

/* Slope of a spring that moves by `step` and slips at `limit`. */
static inline double zones_ode_spring(double held, double step, double stiffness, double limit,
                                      double return_time)
{
    double over = fabs(held) - limit;
    return over >= 0 && held * step > 0 ? -copysign(over / return_time, held) : stiffness * step;
}

/* Slope of (f - s)^2/(2 s) by s, and on with its curvature below f/10. */
static inline double zones_ode_fold(double s, double f)
{
    double low = 0.1 * f;
    if (s >= f)
        return 0;
    return s > low ? 0.5 - f * f / (2 * s * s) : 0.5 - 50 + f * f / pow(low, 3) * (s - low);
}

/* Forces on the corners of a zone that hold each of them open: minus the slopes by places of the energy
 * Y V0 (f - s)^2/(2 s), s = twice the triangle at the corner over the area. */
static inline void zones_ode_hold(const struct zones_ode *ode, size_t k, const double *r, const double *z,
                                  double *fr, double *fz)
{
    double area = 0.5 * ((r[2] - r[0]) * (z[3] - z[1]) - (r[3] - r[1]) * (z[2] - z[0]));
    for (int c = 0; c < 4; c++) {
        int p = (c + 3) % 4, q = (c + 1) % 4, o = (c + 2) % 4;
        double ar = r[q] - r[c], az = z[q] - z[c], br = r[p] - r[c], bz = z[p] - z[c];
        double s = (ar * bz - br * az) / area;
        double push =
            -ode->volume[k] * ode->foam->collapse_stress * zones_ode_fold(s, ode->fold_from[k]) / area;
        fr[q] += push * bz, fz[q] -= push * br;
        fr[p] -= push * az, fz[p] += push * ar;
        fr[c] += push * (az - bz), fz[c] += push * (br - ar);
        double whole = 0.5 * push * s;
        fr[c] -= whole * (z[q] - z[p]), fz[c] += whole * (r[q] - r[p]);
        fr[o] += whole * (z[q] - z[p]), fz[o] -= whole * (r[q] - r[p]);
        fr[q] -= whole * (z[o] - z[c]), fz[q] += whole * (r[o] - r[c]);
        fr[p] += whole * (z[o] - z[c]), fz[p] -= whole * (r[o] - r[c]);
    }
}

/* Smallest share of half a zone that the triangle at a corner takes. */
static inline double zones_ode_tightest(const double *r, const double *z)
{
    double area = 0.5 * ((r[2] - r[0]) * (z[3] - z[1]) - (r[3] - r[1]) * (z[2] - z[0])), least = INFINITY;
    for (int c = 0; c < 4; c++) {
        int p = (c + 3) % 4, q = (c + 1) % 4;
        least = fmin(least, ((r[q] - r[c]) * (z[p] - z[c]) - (r[p] - r[c]) * (z[q] - z[c])) / area);
    }
    return least;
}

/* Forces of zone k on its corners, added to the slopes of the velocities, and the slopes of its state. */
static inline void zones_ode_add(const struct zones_ode *ode, size_t k, const double *y,
                                 const struct zones_ode_zone *at, double *slope_vr, double *slope_vz,
                                 struct zones_ode_zone *slope)
{
    const struct foam_parameters *p = ode->foam;
    size_t nodes = zones_ode_nodes(ode), rings = ode->rings;
    const size_t corner[] = {k, k + 1, k + rings + 1, k + rings};
    struct zones_ode_shape s;
    double u[4], w[4], hr, hz, ar, az;
    zones_ode_corners(y, k, rings, s.r), zones_ode_corners(y + nodes, k, rings, s.z);
    zones_ode_corners(y + 2 * nodes, k, rings, u), zones_ode_corners(y + 3 * nodes, k, rings, w);
    zones_ode_measure(&s);
    zones_ode_lines(s.r, &hr, &ar), zones_ode_lines(s.z, &hz, &az);
    double nr = hr / ode->height[k] + az / ode->width[k], nz = hz / ode->height[k] - ar / ode->width[k];
    double size = hypot(nr, nz), first = ode->volume[k], share = s.volume / first;
    nr /= size, nz /= size;
    double rr = zones_ode_sum(s.by_r, u), rz = zones_ode_sum(s.by_z, u);
    double zr = zones_ode_sum(s.by_r, w), zz = zones_ode_sum(s.by_z, w), hh = zones_ode_sum(s.share, u);
    double cr = -rr / first, cz = -zz / first, cs = -0.5 * (rz + zr) / first;
    struct zones_ode_answer foam =
        zones_ode_law(ode, at, 1 - share, nr * nr * cr + 2 * nr * nz * cs + nz * nz * cz,
                      nz * nz * cr - 2 * nr * nz * cs + nr * nr * cz, -hh / first,
                      (nr * nr - nz * nz) * cs + nr * nz * (cz - cr), slope);
    double isotropic =
        foam.pressure + zones_ode_viscous(ode, &s, share, -(rr + zz + hh) / s.volume, foam.tangent);
    double normal = at->normal + isotropic, along = at->along + isotropic, hoop = at->hoop + isotropic;
    double s_rr = nr * nr * normal - 2 * nr * nz * at->shear + nz * nz * along;
    double s_zz = nz * nz * normal + 2 * nr * nz * at->shear + nr * nr * along;
    double s_rz = nr * nz * (normal - along) + (nr * nr - nz * nz) * at->shear;
    double gr = zones_ode_alternate(s.r) / s.volume, gz = zones_ode_alternate(s.z) / s.volume;
    double qr = zones_ode_alternate(u) - gr * rr - gz * rz, qz = zones_ode_alternate(w) - gr * zr - gz * zz;
    double stiffness = ode->hourglass * p->youngs_modulus, limit = ode->hourglass * p->collapse_stress;
    double per = 1 / fmin(ode->height[k], ode->width[k]), pull = first * per;
    slope->spring[0] =
        zones_ode_spring(at->spring[0], (qr * nr + qz * nz) * per, stiffness, limit, ode->return_time);
    slope->spring[1] =
        zones_ode_spring(at->spring[1], (qz * nr - qr * nz) * per, stiffness, limit, ode->return_time);
    double pr = pull * (at->spring[0] * nr - at->spring[1] * nz);
    double pz = pull * (at->spring[0] * nz + at->spring[1] * nr);
    double fr[4] = {0}, fz[4] = {0};
    zones_ode_hold(ode, k, s.r, s.z, fr, fz);
    for (int c = 0; c < 4; c++) {
        double gamma = (c % 2 ? -1 : 1) - gr * s.by_r[c] - gz * s.by_z[c];
        slope_vr[corner[c]] += fr[c] + s_rr * s.by_r[c] + s_rz * s.by_z[c] + hoop * s.share[c] - pr * gamma;
        slope_vz[corner[c]] += fz[c] + s_zz * s.by_z[c] + s_rz * s.by_r[c] - pz * gamma;
    }
}

/* Forces to accelerations: axis, floor and striker. */
static inline void zones_ode_accelerate(const struct zones_ode *ode, double *slope_vr, double *slope_vz)
{
    size_t nodes = zones_ode_nodes(ode), rings = ode->rings, top = ode->rows * rings;
    double force = 0, mass = ode->striker / (2 * M_PI);
    for (size_t k = top; k < nodes; k++) {
        force += slope_vz[k];
        mass += ode->mass[k];
    }
    for (size_t k = 0; k < nodes; k++) {
        slope_vr[k] = k % rings ? slope_vr[k] / ode->mass[k] : 0;
        slope_vz[k] = k >= top ? force / mass : k < rings ? 0 : slope_vz[k] / ode->mass[k];
    }
}

/* For GSL; `context` is struct zones_ode. */
static inline int zones_ode_slopes(double t, const double y[], double slope[], void *context)
{
    struct zones_ode *ode = context;
    size_t nodes = zones_ode_nodes(ode);
    const struct zones_ode_zone *at = (const struct zones_ode_zone *)(y + 4 * nodes);
    struct zones_ode_zone *out = (struct zones_ode_zone *)(slope + 4 * nodes);
    (void)t;
    ode->calls++;
    for (size_t k = 0; k < 2 * nodes; k++) {
        slope[k] = y[2 * nodes + k];
        slope[2 * nodes + k] = 0;
    }
    for (size_t j = 0; j < ode->rows; j++) {
        for (size_t i = 0; i + 1 < ode->rings; i++)
            zones_ode_add(ode, j * ode->rings + i, y, at++, slope + 2 * nodes, slope + 3 * nodes, out++);
    }
    zones_ode_accelerate(ode, slope + 2 * nodes, slope + 3 * nodes);
    return 0;
}

/* Mass of a zone's corners: the integral of r N, two by two points of Gauss. */
static inline void zones_ode_masses(const struct zones_ode_shape *s, double *part)
{
    static const double side_r[] = {-1, 1, 1, -1}, side_z[] = {-1, -1, 1, 1};
    part[0] = part[1] = part[2] = part[3] = 0;
    for (int g = 0; g < 4; g++) {
        double x = side_r[g] / sqrt(3), y = side_z[g] / sqrt(3), n[4], nx[4], ny[4];
        for (int c = 0; c < 4; c++) {
            n[c] = 0.25 * (1 + side_r[c] * x) * (1 + side_z[c] * y);
            nx[c] = 0.25 * side_r[c] * (1 + side_z[c] * y);
            ny[c] = 0.25 * side_z[c] * (1 + side_r[c] * x);
        }
        double jacobian = zones_ode_sum(nx, s->r) * zones_ode_sum(ny, s->z) -
                          zones_ode_sum(ny, s->r) * zones_ode_sum(nx, s->z);
        for (int c = 0; c < 4; c++)
            part[c] += n[c] * zones_ode_sum(n, s->r) * jacobian;
    }
}

/* Volumes, sizes and masses of the mesh in r and z. */
static inline void zones_ode_fill(struct zones_ode *ode)
{
    for (size_t k = 0; k < zones_ode_nodes(ode); k++)
        ode->mass[k] = 0;
    for (size_t j = 0; j < ode->rows; j++) {
        for (size_t i = 0; i + 1 < ode->rings; i++) {
            size_t k = j * ode->rings + i;
            const size_t corner[] = {k, k + 1, k + ode->rings + 1, k + ode->rings};
            struct zones_ode_shape s;
            double part[4], hr, hz, ar, az;
            zones_ode_corners(ode->r, k, ode->rings, s.r), zones_ode_corners(ode->z, k, ode->rings, s.z);
            zones_ode_measure(&s);
            zones_ode_lines(s.r, &hr, &ar), zones_ode_lines(s.z, &hz, &az);
            ode->volume[k] = s.volume, ode->fold_from[k] = 0.3 * zones_ode_tightest(s.r, s.z);
            ode->height[k] = hypot(hr, hz), ode->width[k] = hypot(ar, az);
            zones_ode_masses(&s, part);
            for (int c = 0; c < 4; c++)
                ode->mass[corner[c]] += ode->foam->density * part[c];
        }
    }
}

/* Foam at rest, the last row with the speed it has once it moves with the striker; `scale`: sizes of the
 * unknowns that errors are measured by. */
static inline void zones_ode_start(const struct zones_ode *ode, double speed, double *y, double *scale)
{
    size_t nodes = zones_ode_nodes(ode), top = ode->rows * ode->rings;
    double mass = ode->striker / (2 * M_PI), striker = mass;
    for (size_t k = top; k < nodes; k++)
        mass += ode->mass[k];
    for (size_t k = 0; k < nodes; k++) {
        y[k] = ode->r[k], y[nodes + k] = ode->z[k];
        y[2 * nodes + k] = 0, y[3 * nodes + k] = k >= top ? -speed * striker / mass : 0;
        scale[k] = scale[nodes + k] = 0.5 * ode->height[0];
        scale[2 * nodes + k] = scale[3 * nodes + k] = speed;
    }
    const struct zones_ode_zone sizes = {.normal = ode->foam->collapse_stress,
                                         .along = ode->foam->collapse_stress,
                                         .hoop = ode->foam->collapse_stress,
                                         .shear = ode->foam->collapse_stress,
                                         .u = 1,
                                         .rate = 100,
                                         .spring = {ode->foam->collapse_stress, ode->foam->collapse_stress}};
    for (size_t i = 4 * nodes; i < zones_ode_size(ode); i += ZONES_ODE_STATES) {
        *(struct zones_ode_zone *)(y + i) = (struct zones_ode_zone){0};
        *(struct zones_ode_zone *)(scale + i) = sizes;
    }
}

#endif
