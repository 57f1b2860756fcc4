"""The equations of tests/verify/zones_ode.h on arrays of NumPy, through embedded pairs of Runge-Kutta.

peers.py FILE PAIR TOLERANCE: mesh, foam and striker from the JSON that tests/bench/peers.c writes; prints the
peak [g], the end [s], the calls of the right-hand side and the processor time [s] without start-up. Unknowns:
r, z, v_r, v_z of the nodes, then eight rows over the zones: skeleton normal, along, hoop, shear, u, rate and
two springs. Names and signs are those of zones_ode.h.
"""
import json
import sys
import time

import numpy as np

# Nodes, weights by stage, weights of the step, and these less those of the lower order; the last stage is
# the first of the next step.
PAIRS = {
    "bogacki": (  # P. Bogacki, L. F. Shampine, Appl. Math. Lett. 2 (1989) 321
        3,
        [[1 / 2], [0, 3 / 4], [2 / 9, 1 / 3, 4 / 9]],
        [-5 / 72, 1 / 12, 1 / 9, -1 / 8],
    ),
    "dormand": (  # J. R. Dormand, P. J. Prince, J. Comput. Appl. Math. 6 (1980) 19
        5,
        [
            [1 / 5],
            [3 / 40, 9 / 40],
            [44 / 45, -56 / 15, 32 / 9],
            [19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729],
            [9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656],
            [35 / 384, 0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84],
        ],
        [71 / 57600, 0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40],
    ),
}

BEFORE, AFTER = [3, 0, 1, 2], [1, 2, 3, 0]
SIGNS = np.array([1.0, -1.0, 1.0, -1.0])[:, None]


class Zones:
    def __init__(self, given):
        self.__dict__.update(given)
        self.nodes, columns = self.rings * (self.rows + 1), self.rings - 1
        self.count = columns * self.rows
        corner0 = (np.arange(self.rows)[:, None] * self.rings + np.arange(columns)).ravel()
        self.corner = np.array([corner0, corner0 + 1, corner0 + self.rings + 1, corner0 + self.rings])
        self.first, self.fold_from, self.height, self.width = (
            np.array(given[name])[corner0] for name in ("volume", "fold_from", "height", "width"))
        self.side = np.minimum(self.height, self.width)
        self.mass, self.table = np.array(self.mass), np.array(self.table)
        self.top = self.rows * self.rings
        self.last_mass = self.striker / (2 * np.pi) + self.mass[self.top:].sum()
        self.segments = np.diff(self.table) / self.table_step
        self.calls = 0

    def start(self):
        """Unknowns at rest, and the sizes that errors are measured by."""
        n, y, scale = self.nodes, np.zeros(4 * self.nodes + 8 * self.count), np.empty(0)
        y[:n], y[n:2 * n] = self.r, self.z
        y[3 * n + self.top:4 * n] = -self.speed * self.striker / (2 * np.pi) / self.last_mass
        of_zone = [self.collapse] * 4 + [1, 100] + [self.collapse] * 2
        scale = np.concatenate([np.full(2 * n, self.side[0]), np.full(2 * n, self.speed),
                                np.repeat(of_zone, self.count)])
        return y, scale

    def yields(self, factor, u):
        """Y and its slopes by u and by the rate factor."""
        root, at = np.sqrt(factor), np.maximum(u, 0)
        place = at / root
        index = np.minimum((place / self.table_step).astype(np.intp), len(self.segments) - 1)
        slope = self.segments[index]
        by_u = slope * root
        value = factor * (self.table[index] + slope * (place - index * self.table_step))
        return value, by_u, (value - 0.5 * at * by_u) / factor

    def law(self, zone, crushed, normal, along, hoop, shear):
        """Slopes of normal, along, hoop, shear, u, rate; pressure of the gas and stiffest slope."""
        s_normal, s_along, s_hoop, s_shear, u, rate = zone[:6]
        kappa = u * u
        modulus = self.young / (1 + self.softening * kappa)
        middle, half = 0.5 * (normal + along), 0.5 * (normal - along)
        fastest = np.maximum(np.maximum(middle + np.hypot(half, shear), hoop), 0)
        above = np.maximum(rate, self.rate_reference)
        gain = self.rate_gain / np.log(10)
        factor = 1 + gain * np.log(above / self.rate_reference)
        rate_slope = (fastest - rate) / self.rate_time
        factor_rate = np.where(rate > self.rate_reference, gain / above * rate_slope, 0)
        value, by_u, by_factor = self.yields(factor, u)
        mean, deviator = 0.5 * (s_normal + s_along), 0.5 * (s_normal - s_along)
        radius, near = np.hypot(deviator, s_shear), 1e-5 * value
        stressed, size = radius > near, np.hypot(half, shear)
        length = np.where(stressed, radius, size)
        length, moving = np.where(length > 0, length, 1), length > 0
        cos2 = np.where(moving, np.where(stressed, deviator, half) / length, 1)
        sin2 = np.where(stressed, s_shear, shear) / length
        apart, turn = half * cos2 + shear * sin2, shear * cos2 - half * sin2
        s = np.array([mean + radius, mean - radius, s_hoop])
        d = np.array([middle + apart, middle - apart, hoop])
        growth = by_factor * factor_rate
        lag = growth / modulus
        flows = (s >= value - near) & (d > lag)
        kappa_slope, most = 2 * np.maximum(u, 1e-10), d.max(0)
        for again in (True, True, False):
            ahead = np.where(flows, d - lag, 0).sum(0)
            u_slope = ahead / (kappa_slope + flows.sum(0) * by_u / self.young)
            rise = by_u * u_slope + growth
            if again:
                flows &= (modulus * d > rise) | (d >= most)
        to = np.where(flows, rise - (s - value) / self.return_time, modulus * d)
        off = np.where(flows[0] & flows[1], 0, modulus * turn)
        centre, spread = 0.5 * (to[0] + to[1]), 0.5 * (to[0] - to[1])
        across = spread * cos2 - off * sin2
        left = self.room - np.clip(crushed, 0, 0.98 * self.room)
        stiff = value / factor * gain / (self.rate_time * above)
        more = np.where(flows.any(0), np.maximum(stiff - modulus, 0), 0)
        slope = self.gas * self.room / (left * left)
        beyond = np.maximum(crushed - 0.98 * self.room, 0)
        pressure = self.gas * (self.room - left) / left + slope * beyond
        slopes = (centre + across, centre - across, to[2], spread * sin2 + off * cos2, u_slope, rate_slope)
        return slopes, pressure, modulus + slope + more

    def hold(self, r, z, area, triangle):
        """Forces that hold corners open: each is pushed by its two neighbours and, through the area, by all."""
        s, low = 2 * triangle / area, 0.1 * self.fold_from
        flat = np.maximum(s, low)
        slope = 0.5 - 0.5 * (self.fold_from / flat) ** 2 + self.fold_from**2 / low**3 * (s - flat)
        push = np.where(s < self.fold_from, -self.first * self.collapse * slope / area, 0)
        to_r, to_z, whole = r[AFTER] - r, z[AFTER] - z, 0.5 * (push * s).sum(0)
        from_r, from_z = r[BEFORE] - r, z[BEFORE] - z
        on_q_r, on_q_z = push * from_z, -push * from_r
        on_p_r, on_p_z = -push * to_z, push * to_r
        force_r = on_q_r[BEFORE] + on_p_r[AFTER] - on_q_r - on_p_r - whole * (z[AFTER] - z[BEFORE])
        force_z = on_q_z[BEFORE] + on_p_z[AFTER] - on_q_z - on_p_z + whole * (r[AFTER] - r[BEFORE])
        return force_r, force_z

    def slopes(self, y, out):
        self.calls += 1
        n = self.nodes
        zone, zone_slope = y[4 * n:].reshape(8, -1), out[4 * n:].reshape(8, -1)
        r, z, u, w = (y[k * n:(k + 1) * n][self.corner] for k in range(4))
        rp, rq, zp, zq = r[BEFORE], r[AFTER], z[BEFORE], z[AFTER]
        # shape
        area = 0.5 * ((r[2] - r[0]) * (z[3] - z[1]) - (r[3] - r[1]) * (z[2] - z[0]))
        triangle = 0.5 * ((rq - r) * (zp - z) - (rp - r) * (zq - z))
        share = (area + triangle) / 6
        by_r = ((z - zp) * (rp + 2 * r) + (zq - z) * (2 * r + rq)) / 6 - share
        by_z = (rp * rp - rq * rq + r * (rp - rq)) / 6
        volume = ((zq - z) * (r * r + r * rq + rq * rq)).sum(0) / 6
        # axes of the foam
        through_r, along_r = r[0] + r[1] - r[2] - r[3], r[1] + r[2] - r[0] - r[3]
        through_z, along_z = z[0] + z[1] - z[2] - z[3], z[1] + z[2] - z[0] - z[3]
        nr = through_r / self.height + along_z / self.width
        nz = through_z / self.height - along_r / self.width
        size = np.hypot(nr, nz)
        nr, nz = nr / size, nz / size
        # strain rates
        rr, rz, zr, zz = (by_r * u).sum(0), (by_z * u).sum(0), (by_r * w).sum(0), (by_z * w).sum(0)
        hh = (share * u).sum(0)
        cr, cz, cs = -rr / self.first, -zz / self.first, -0.5 * (rz + zr) / self.first
        remains, nn, zn, rn = volume / self.first, nr * nr, nz * nz, nr * nz
        rates, pressure, tangent = self.law(
            zone, 1 - remains, nn * cr + 2 * rn * cs + zn * cz, zn * cr - 2 * rn * cs + nn * cz,
            -hh / self.first, (nn - zn) * cs + rn * (cz - cr))
        for k in range(6):
            zone_slope[k] = rates[k]
        # viscosity
        shrinks = np.maximum(-(rr + zz + hh) / volume, 0)
        length = area / np.maximum(np.hypot(r[2] - r[0], z[2] - z[0]), np.hypot(r[3] - r[1], z[3] - z[1]))
        sound = remains * np.sqrt(tangent / self.density)
        pressure = pressure + self.density / remains * length * shrinks * (
            self.linear * sound + self.quadratic * length * shrinks)
        normal, along, hoop = zone[0] + pressure, zone[1] + pressure, zone[2] + pressure
        s_rr = nn * normal - 2 * rn * zone[3] + zn * along
        s_zz = zn * normal + 2 * rn * zone[3] + nn * along
        s_rz = rn * (normal - along) + (nn - zn) * zone[3]
        # hourglass springs
        gr, gz = (SIGNS * r).sum(0) / volume, (SIGNS * z).sum(0) / volume
        qr, qz = (SIGNS * u).sum(0) - gr * rr - gz * rz, (SIGNS * w).sum(0) - gr * zr - gz * zz
        stiffness, limit, per = self.hourglass * self.young, self.hourglass * self.collapse, 1 / self.side
        for k, q in ((6, qr * nr + qz * nz), (7, qz * nr - qr * nz)):
            move, over = q * per, np.abs(zone[k]) - limit
            slips = (over >= 0) & (zone[k] * move > 0)
            zone_slope[k] = np.where(slips, -np.copysign(over / self.return_time, zone[k]), stiffness * move)
        pull = self.first * per
        pr, pz = pull * (zone[6] * nr - zone[7] * nz), pull * (zone[6] * nz + zone[7] * nr)
        gamma = SIGNS - gr * by_r - gz * by_z
        held_r, held_z = self.hold(r, z, area, triangle)
        # corners to nodes
        where = self.corner.ravel()
        force_r = np.bincount(where, (s_rr * by_r + s_rz * by_z + hoop * share - pr * gamma + held_r).ravel(), n)
        force_z = np.bincount(where, (s_zz * by_z + s_rz * by_r - pz * gamma + held_z).ravel(), n)
        out[:2 * n] = y[2 * n:4 * n]
        speed_r, speed_z = out[2 * n:3 * n], out[3 * n:4 * n]
        np.divide(force_r, self.mass, out=speed_r)
        np.divide(force_z, self.mass, out=speed_z)
        speed_r[::self.rings] = 0
        speed_z[:self.rings] = 0
        speed_z[self.top:] = force_z[self.top:].sum() / self.last_mass


def integrate(zones, pair, tolerance):
    order, weights, errors = PAIRS[pair]
    weights, errors = [np.array(w) for w in weights], np.array(errors)
    y, scale = zones.start()
    stage = np.empty((len(weights) + 1, len(y)))
    striker = 3 * zones.nodes + zones.top
    t, step, peak, mark, interval = 0.0, 1e-7, 0.0, y[striker], 0
    zones.slopes(y, stage[0])
    while interval * zones.interval < zones.end - 0.5 * zones.interval:
        to = (interval + 1) * zones.interval
        while t < to:
            last = step >= to - t
            h = to - t if last else step
            for k, w in enumerate(weights):
                new = y + h * (w @ stage[:k + 1])
                zones.slopes(new, stage[k + 1])
            size = tolerance * (scale + np.abs(new))
            error = h * np.max(np.abs(errors @ stage) / size)
            grow = min(5.0, max(0.2, 0.9 * max(error, 1e-12) ** (-1 / order)))
            if error <= 1:
                t, y = to if last else t + h, new
                stage[0] = stage[-1]
                step = max(step, h * grow) if last else h * grow
            else:
                step = h * grow
        interval += 1
        peak = max(peak, (y[striker] - mark) / zones.interval / zones.gravity)
        mark = y[striker]
    return peak, interval * zones.interval


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        zones = Zones(json.load(file))
    np.seterr(all="ignore")
    start = time.process_time()
    peak, end = integrate(zones, sys.argv[2], float(sys.argv[3]))
    print(f"{peak:.17g} {end:.17g} {zones.calls} {time.process_time() - start:.17g}")


main()
