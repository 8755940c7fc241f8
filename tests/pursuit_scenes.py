"""For the tests of pursuit: planes on the ellipsoid, and slow steppers of their own."""

from __future__ import annotations

import cmath
import math

import numpy as np
from pyproj import Geod

GEOD = Geod(ellps="WGS84")


class Plane:
    """The azimuthal equidistant plane around a position: x east, y north, metres.

    Lengths across are stretched by ``r**2 / 6 R**2``: 0.02 mm on 1 km, 3 km from the middle.
    """

    def __init__(self, lon=0.0, lat=0.0):
        self.lon, self.lat = lon, lat

    def positions(self, xy):
        x, y = np.asarray(xy, float).T
        n = len(x)
        lon, lat, _ = GEOD.fwd(
            np.full(n, self.lon), np.full(n, self.lat), np.degrees(np.arctan2(x, y)), np.hypot(x, y)
        )
        return np.asarray(lon), np.asarray(lat)

    def points(self, lon, lat):
        n = len(lon)
        azimuth, _, r = GEOD.inv(np.full(n, self.lon), np.full(n, self.lat), lon, lat)
        azimuth = np.radians(azimuth)
        return np.column_stack([r * np.sin(azimuth), r * np.cos(azimuth)])


def apart_m(lon0, lat0, lon1, lat1):
    return np.asarray(GEOD.inv(lon0, lat0, lon1, lat1)[2])


def wandering(rng, n, step_m, turn):
    """A random polyline, shape (n, 2): turns of a normal spread (radians), steps between two lengths."""
    heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0.0, turn, n - 1))
    steps = rng.uniform(*step_m, n - 1)[:, None] * np.column_stack([np.sin(heading), np.cos(heading)])
    return np.vstack([[0.0, 0.0], np.cumsum(steps, axis=0)])


def tightening(r, d, before, after):
    """First tau in (0, 1] at which |r + tau d| outgrows the line, None if none; r, d complex."""
    change = after - before
    roots = np.roots(
        [abs(d) ** 2 - change**2, 2 * ((r * d.conjugate()).real - before * change), abs(r) ** 2 - before**2]
    )
    for tau in sorted(root.real for root in roots if abs(root.imag) < 1e-12):
        there = r + tau * d
        if -1e-9 < tau <= 1.0 and (there * d.conjugate()).real - (before + tau * change) * change >= -1e-9:
            return max(tau, 0.0)
    return None


def pulled(r, d, before, after):
    """Offset lead minus body after a taut leg; r, d complex, |r| = before."""
    if before == after:
        k = abs(d) / after
    else:
        k = abs(d) * math.log1p((before - after) / after) / (before - after)
    theta = cmath.phase(r / d)
    return cmath.rect(after, cmath.phase(d) + 2.0 * math.atan(math.tan(theta / 2.0) * math.exp(-k)))


def stepped(r, slack, d, before, after):
    """Offset, slack at the end, slack on some of the leg."""
    if d == 0 and not slack and after <= before:
        return r * after / before, False, False
    change = after - before
    if not slack and (r * d.conjugate()).real >= before * change - 1e-9 * before:
        return pulled(r, d, before, after), False, False
    tau = tightening(r, d, before, after)
    if tau is None:
        return r + d, True, True
    rest = (1.0 - tau) * d
    r = r + tau * d
    if rest == 0:
        return r * after / abs(r), False, True
    return pulled(r, rest, before + tau * change, after), False, True


def planar(path, length, start, drift=None):
    """Step by step in a plane: bodies (n, 2), distances, and slack legs. ``start`` is the first body."""
    path, length = np.asarray(path, float), np.broadcast_to(np.asarray(length, float), len(path))
    drift = np.zeros((len(path) - 1, 2)) if drift is None else np.asarray(drift, float)
    r, slack = complex(*(path[0] - np.asarray(start, float))), False
    bodies, distances, slacks = [np.asarray(start, float)], [abs(r)], []
    for i in range(len(path) - 1):
        d = complex(*(path[i + 1] - path[i] - drift[i]))
        r, slack, was = stepped(r, slack, d, length[i], length[i + 1])
        bodies.append(path[i + 1] - (r.real, r.imag))
        distances.append(abs(r))
        slacks.append(was)
    return np.array(bodies), np.array(distances), np.array(slacks)


def geodesic(lon, lat, length, start_bearing):
    """Step by step with exact geodesics, carrying the position of the body. Bodies (n, 2), slack legs."""
    (x, y, _), slack = GEOD.fwd(lon[0], lat[0], start_bearing + 180.0, length[0]), False
    bodies, slacks = [(x, y)], []
    for i in range(len(lon) - 1):
        azimuth, back, run = GEOD.inv(lon[i], lat[i], lon[i + 1], lat[i + 1])
        to_body, _, distance = GEOD.inv(lon[i], lat[i], x, y)
        # In a plane turned so that the leg runs along the real axis; positive angles to starboard.
        r = cmath.rect(distance if slack else length[i], math.radians(to_body + 180.0 - azimuth))
        r, slack, was = stepped(r, slack, complex(run), length[i], length[i + 1])
        if not (slack and was):
            x, y, _ = GEOD.fwd(lon[i + 1], lat[i + 1], back + math.degrees(cmath.phase(r)), abs(r))
        bodies.append((x, y))
        slacks.append(was)
    return np.array(bodies), np.array(slacks)
