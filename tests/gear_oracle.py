"""Slow second opinions on where towed gear is; plain on purpose, and sharing nothing with towzone.

A rope holds each body within its length of what pulls it. `dragged` moves the bodies in small steps of time
from forces: water drags them along with the current, the sea bed rubs, the rope pulls when it is taut and
does nothing when it is slack. No closed form of a pursuit curve is used, and no moving frame.
`thrashed` knows still less: points that are thrown about at random and only ever held by their ropes.

Places in a plane are complex numbers, east + north * 1j, metres; the plane is pyproj's azimuthal equidistant
projection, whose scale is wrong by r * r / (6 R * R): 0.5 mm on 1 km at r = 11 km. Distances to zones are
straight lines in space from points of the gear to chords of the boundary.

Arrays have shape ``(n, k)``: n moments, k possible truths that are worked out side by side.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from oracles import _ball, densify
from pyproj import Proj
from scipy.spatial import cKDTree

KNOT_MPS = 1852.0 / 3600.0


# ---------------------------------------------------------------- plane and time


class Plane:
    """The plane round one place: complex metres from degrees and back."""

    def __init__(self, lon_deg, lat_deg):
        self._proj = Proj(proj="aeqd", ellps="WGS84", lon_0=float(lon_deg), lat_0=float(lat_deg))

    def flat(self, lon_deg, lat_deg):
        x, y = self._proj(np.asarray(lon_deg, float), np.asarray(lat_deg, float))
        return np.asarray(x) + 1j * np.asarray(y)

    def degrees(self, z):
        lon, lat = self._proj(np.real(z), np.imag(z), inverse=True)
        return np.asarray(lon), np.asarray(lat)


def moments(time_s, step_s):
    """Moments at most ``step_s`` apart that hold every given one."""
    return np.unique(
        np.concatenate(
            [np.linspace(a, b, max(1, int(np.ceil((b - a) / step_s))) + 1) for a, b in pairwise(time_s)]
        )
    )


def along(time_s, z, at_s):
    """Places at moments of a path that runs straight between its own."""
    return np.interp(at_s, time_s, np.real(z)) + 1j * np.interp(at_s, time_s, np.imag(z))


def offset(z, aft_m, starboard_m, reach_m=25.0):
    """Path of the towing block of an antenna's path (n, 1), small steps apart.

    The vessel heads as it went from some 25 m before to some 25 m after.
    """
    run = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(z[:, 0])))])
    n = np.arange(len(run))
    before, after = (np.interp(run + way, run, n) for way in (-reach_m, reach_m))
    course = np.interp(after, n, z[:, 0].real) - np.interp(before, n, z[:, 0].real) + 0.0j
    course += 1j * (np.interp(after, n, z[:, 0].imag) - np.interp(before, n, z[:, 0].imag))
    ahead = (course / np.maximum(np.abs(course), 1e-9))[:, None]
    return z - ahead * (aft_m + 1j * starboard_m)


# ---------------------------------------------------------------- one rope, two bodies


def level(warp_m, height_m, sideways_m=0.0):
    """What a straight warp covers over the ground, 0 where it hangs straight down."""
    return np.sqrt(np.maximum(np.square(warp_m) - np.square(height_m) - np.square(sideways_m), 0.0))


def _ahead(u, v):
    return np.real(np.conj(u) * v)


def _pull(u, leader, shortening, current, rub, taut):
    """Velocity over the ground of a body on a rope in direction u, and whether the rope pulled it.

    Forces per drag coefficient K: ``|w| w + rub * g / |g|`` with w the speed through the water, g over the
    ground and rub = friction / K. The rope takes what lies along it; across it they balance.
    """
    along_rope = _ahead(u, leader) + shortening
    with_u, across_u = _ahead(u, current), _ahead(1j * u, current)
    across = across_u + 0.0 * along_rope
    if np.any(rub > 0.0):
        for _ in range(8):  # a fixed point; shrinks its error by 3 or more at the speeds of a tow
            both = np.hypot(along_rope - with_u, across - across_u) * np.hypot(along_rope, across)
            across = across_u * both / np.maximum(both + rub, 1e-12)
    # A body left alone goes with the water, less what the bottom holds.
    drift = np.abs(current)
    free = current * np.maximum(0.0, 1.0 - np.sqrt(rub) / np.maximum(drift, 1e-12))
    pulled = taut & (_ahead(u, free) < along_rope)
    return np.where(pulled, u * (along_rope + 1j * across), free), pulled


def _advance(body, leader0, leader1, length0, length1, dt, current0, current1, rub):
    """One step of second order (Heun) of a body behind a leader; a taut rope keeps its length."""

    def look(body, leader, length, current, v):
        r = leader - body
        size = np.maximum(np.abs(r), 1e-9)
        return _pull(r / size, v, (length0 - length1) / dt, current, rub, size >= length * (1.0 - 1e-7))

    v = (leader1 - leader0) / dt
    g0, pulled0 = look(body, leader0, length0, current0, v)
    g1, pulled1 = look(body + g0 * dt, leader1, length1, current1, v)
    body = body + (g0 + g1) / 2.0 * dt
    r = leader1 - body
    size = np.maximum(np.abs(r), 1e-9)
    hold = (size > length1) | (pulled0 & pulled1)
    return np.where(hold, leader1 - r / size * length1, body)


@dataclass(frozen=True)
class Dragged:
    """Paths of block, middle of the doors and end of the net, and the directions of their ropes."""

    block: np.ndarray
    doors: np.ndarray
    codend: np.ndarray

    @property
    def u(self):
        return _unit(self.block - self.doors)

    @property
    def u2(self):
        return _unit(self.doors - self.codend)


def _unit(z):
    return z / np.maximum(np.abs(z), 1e-9)


def dragged(
    time_s,
    block,
    towline_m,
    second_m,
    *,
    current_mps=0.0,
    friction=0.0,
    speed_mps=1.5,
    start=None,
    turned=0.0,
):
    """Drag gear behind a block.

    Parameters
    ----------
    time_s : (n,) or (n, k)
        Small steps: 1 m of way keeps the error to millimetres on ropes of hundreds of metres.
    block : (n, k) or (n, 1) complex
    towline_m, second_m : (n, k), or what broadcasts
        Over the ground, block to doors and doors to the end of the net.
    current_mps : (n, k) complex, or what broadcasts
        Where the water at the gear goes.
    friction : (k,) or float
        Friction as a share of drag at ``speed_mps``.
    turned : (k,) or float
        Radians by which gear and net first lie off that direction, anticlockwise.
    start : complex, optional
        Direction from gear to block at the first moment; of the first motion through the water where not
        given.
    """
    shape = np.broadcast_shapes(
        *(np.shape(a) for a in (block, towline_m, second_m, current_mps, friction)), (len(time_s), 1)
    )
    block, towline, second, current = (
        np.broadcast_to(a, shape) for a in (block, towline_m, second_m, current_mps)
    )
    rub = np.broadcast_to(np.asarray(friction) * np.square(speed_mps), shape[1:])
    if start is None:
        # The water's way counts for the direction through it; what it does later in the first metre does not.
        passed = np.abs(block - block[0]) > 1.0
        moved = np.argmax(passed, axis=0)
        way = np.take_along_axis(block, moved[None], 0)[0] - block[0]
        clock = time_s[:, None] if np.ndim(time_s) == 1 else time_s
        passed_s = np.take_along_axis(np.broadcast_to(clock - clock[0], shape), moved[None], 0)[0]
        start = _unit(way - current[0] * passed_s)
    u = start * np.exp(1j * np.asarray(turned))
    doors, codend = np.empty(shape, complex), np.empty(shape, complex)
    doors[0] = block[0] - towline[0] * u
    codend[0] = doors[0] - second[0] * u
    for n in range(len(time_s) - 1):
        dt, m = time_s[n + 1] - time_s[n], n + 1
        water = current[n], current[m], rub
        doors[m] = _advance(doors[n], block[n], block[m], towline[n], towline[m], dt, *water)
        codend[m] = _advance(codend[n], doors[n], doors[m], second[n], second[m], dt, *water)
    return Dragged(block, doors, codend)


# ---------------------------------------------------------------- ropes alone


def thrashed(rng, time_s, block, *, reach_m, blocks_m, sweeps_m, net_m, wildness_mps, current_mps):
    """Two doors, two wing-ends and a codend, thrown about at random and held by their ropes alone.

    ``block`` has shape (n,), ``reach_m`` (n,): what each warp covers over the ground; answers a dict of
    part to (n,) complex. Nobody's gear moves like that: what holds for it holds for any.
    """
    n = len(time_s)
    heading = _unit(np.gradient(block) + 1e-12)
    hooks = [block + side * 1j * heading * blocks_m / 2.0 for side in (1, -1)]
    places = np.empty((5, n), complex)
    for k in range(2):
        places[k, 0] = hooks[k][0] - heading[0] * reach_m[0]
        places[2 + k, 0] = places[k, 0] - heading[0] * sweeps_m
    places[4, 0] = (places[2, 0] + places[3, 0]) / 2.0 - heading[0] * net_m * 0.9
    push = np.zeros(5, complex)
    for m in range(1, n):
        dt = time_s[m] - time_s[m - 1]
        fresh = rng.normal(size=5) + 1j * rng.normal(size=5)
        push = 0.98 * push + 0.2 * fresh * wildness_mps
        z = places[:, m - 1] + (push + current_mps[m]) * dt
        for k in range(2):
            z[k] = _held(z[k], hooks[k][m], reach_m[m])
            z[2 + k] = _held(z[2 + k], z[k], sweeps_m)
        for _ in range(40):
            for k in range(2):
                z[4] = _held(z[4], z[2 + k], net_m)
        for k in range(2):  # wings that have run apart farther than the net spans come to the codend
            z[2 + k] = _held(_held(z[2 + k], z[4], net_m), z[k], sweeps_m)
            z[4] = _held(z[4], z[2 + k], net_m)
        places[:, m] = z
    names = ("port door", "starboard door", "port wing-end", "starboard wing-end", "codend")
    return dict(zip(names, places, strict=True))


def _held(z, by, length):
    r = z - by
    size = abs(r)
    return z if size <= length else by + r / size * length


# ---------------------------------------------------------------- distances


class Boundary:
    """Boundary of a zone as chords in space, and its inside as polygons of the same chords in a plane.

    ``polygons`` and ``strings`` are as `towzone.geodesy.shape.Shape` lists them; ``edges`` is a kind of line.
    Chords of 20 m lie within 8 micrometres of their line, in the plane of a zone of 100 km within 1 mm.
    """

    CHORD_M = 20.0

    def __init__(self, edges, polygons, strings, radius_m=0.0):
        self.edges, self.radius_m = str(edges), radius_m
        self._inside = [self._polygon([np.array(ring) for ring in polygon]) for polygon in polygons]
        starts, ends = [], []
        for corners, closed in strings:
            if len(corners) == 1:
                here = _ball(corners[:, 0], corners[:, 1])
                starts.append(here)
                ends.append(here)
                continue
            for lon, lat in densify(self.edges, np.array(corners), self.CHORD_M, closed=closed):
                here = _ball(lon, lat)
                starts.append(here[:-1])
                ends.append(here[1:])
        self._start, self._leg = np.concatenate(starts), np.concatenate(ends) - np.concatenate(starts)
        self._tree = cKDTree(self._start + self._leg / 2.0)

    def _polygon(self, rings):
        plane, dense = Plane(*rings[0][0]), []
        for ring in rings:
            lon, lat = (np.concatenate(c) for c in zip(*densify(self.edges, ring, self.CHORD_M), strict=True))
            z = plane.flat(lon, lat)
            dense.append(np.column_stack([z.real, z.imag]))
        whole = shapely.polygons(dense[0], holes=dense[1:] or None)
        shapely.prepare(whole)
        return plane, whole

    @classmethod
    def of(cls, zone):
        return cls(zone.edges, zone.shape.polygons, zone.shape.strings(), zone.radius_m)

    def distance_m(self, lon, lat, within_m=np.inf):
        """Distance of points from the boundary, less the radius; infinite beyond ``within_m``.

        The chord that is nearest has its middle within half a chord of the nearest of all middles, plus half
        its own: the dozen nearest middles hold it but for boundaries that lie within 20 m of themselves.
        """
        p = _ball(np.ravel(lon), np.ravel(lat))
        many = min(12, len(self._start))
        _, near = self._tree.query(p, k=many, distance_upper_bound=within_m + self.radius_m + self.CHORD_M)
        near = near.reshape(len(p), many)
        best = np.full(len(p), np.inf)
        held = np.flatnonzero(near[:, 0] < len(self._start))
        for k in range(many):
            index = np.minimum(near[held, k], len(self._start) - 1)
            start, leg = self._start[index], self._leg[index]
            t = ((p[held] - start) * leg).sum(1) / np.maximum((leg**2).sum(1), 1e-18)
            foot = start + np.clip(t, 0.0, 1.0)[:, None] * leg
            best[held] = np.minimum(best[held], np.sqrt(((p[held] - foot) ** 2).sum(1)))
        return (best - self.radius_m).reshape(np.shape(lon))

    def roughly_m(self, lon, lat, within_m=np.inf):
        """As `clearance_m`, but to 10 m."""
        apart, _ = self._tree.query(
            _ball(lon, lat), distance_upper_bound=within_m + self.radius_m + self.CHORD_M
        )
        held = self.holds(lon, lat)
        if held.any() and np.isfinite(within_m):
            apart[held], _ = self._tree.query(_ball(lon[held], lat[held]))
        return np.where(held, -apart, apart) - self.radius_m

    def holds(self, lon, lat):
        """Whether points are inside."""
        held = np.zeros(np.shape(lon), dtype=bool)
        for plane, whole in self._inside:
            z = plane.flat(lon, lat)
            held |= shapely.contains_xy(whole, z.real, z.imag)
        return held

    def clearance_m(self, lon, lat, within_m=np.inf):
        """As `distance_m`, negative inside; of areas everywhere, whatever ``within_m``."""
        out, held = self.distance_m(lon, lat, within_m), self.holds(lon, lat)
        if held.any():
            # Inside an area the radius around its boundary adds to the depth.
            depth = self.distance_m(np.asarray(lon)[held], np.asarray(lat)[held]) + self.radius_m
            out[held] = -depth - self.radius_m
        return out


def least_of(boundary, lon, lat, within_m=np.inf):
    """Least clearance along the first axis of (n, ...) points, NaN passed over; infinite where none is near.

    The middle of the nearest chord tells a distance to 10 m; only points that may be the least are looked at
    closely.
    """
    flat = np.full(lon.shape, np.inf)
    held = ~np.isnan(lon)
    flat[held] = boundary.roughly_m(lon[held], lat[held], within_m)
    may = held & (flat <= flat.min(axis=0) + 2.0 * boundary.CHORD_M) & np.isfinite(flat)
    flat[may] = boundary.clearance_m(lon[may], lat[may], within_m)
    return np.where(may, flat, np.inf).min(axis=0)


def least_m(boundary, plane, z, within_m=np.inf):
    """Least clearance of one path (n,) and the index where; the way between its points is looked at too."""
    clearance = boundary.clearance_m(*plane.degrees(z), within_m)
    at = int(np.argmin(clearance))
    lo, hi = max(at - 1, 0), min(at + 1, len(z) - 1)
    dense = np.interp(np.linspace(lo, hi, 201), np.arange(len(z)), np.real(z)) + 1j * np.interp(
        np.linspace(lo, hi, 201), np.arange(len(z)), np.imag(z)
    )
    return float(min(clearance[at], boundary.clearance_m(*plane.degrees(dense), within_m).min())), at
