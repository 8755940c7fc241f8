"""Shared vocabulary of made-up geometry: hypothesis strategies, and seeded random pairs for the oracles.

Geometry is built from its answer wherever possible: a foot point, a bearing and a clearance first,
then the line that has them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st
from oracles import GEOD, KINDS, Lines, densify

NAUTICAL_MILE_M = 1852.0
LONGEST_EDGE_M = 300 * NAUTICAL_MILE_M
WIDEST_CLEARANCE_M = 20 * NAUTICAL_MILE_M

# ---------------------------------------------------------------- hypothesis


def numbers(low, high):
    """Finite floats in a closed range, without subnormals."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False, allow_subnormal=False)


def kinds():
    """The three kinds of line, as the words users write."""
    return st.sampled_from(KINDS)


def longitudes():
    """Longitudes in [-180, 180), thick near 180 degrees and Greenwich."""
    near_wrap = numbers(-0.5, 0.5).map(lambda x: (x + 360.0) % 360.0 - 180.0)
    corners = st.sampled_from([-180.0, -0.0, 0.0, 179.9999, -179.9999, 179.0, -179.0])
    return st.one_of(numbers(-180.0, 179.999), near_wrap, corners)


def latitudes(limit_deg=80.0):
    """Latitudes within a limit, thick at the equator and at the limit."""
    return st.one_of(
        numbers(-limit_deg, limit_deg),
        st.sampled_from([-limit_deg, -0.0, 0.0, limit_deg, 1e-9, -1e-9]),
    )


def positions(limit_deg=80.0):
    """(lon, lat) in degrees."""
    return st.tuples(longitudes(), latitudes(limit_deg))


def azimuths():
    """Azimuths 0 to 360, thick on the cardinal points."""
    return st.one_of(
        numbers(0.0, 359.999), st.sampled_from([0.0, 90.0, 180.0, 270.0, 45.0, 90.000001, 89.999999])
    )


def lengths_m(longest_m=LONGEST_EDGE_M):
    """Lengths from 1 mm up, as many short as long ones."""
    return numbers(-3.0, float(np.log10(longest_m))).map(lambda x: 10.0**x)


@st.composite
def legs(draw, longest_m=LONGEST_EDGE_M, limit_deg=80.0):
    """(lon0, lat0, lon1, lat1) up to a length, any direction; the far end may pass the limit."""
    lon, lat = draw(positions(limit_deg))
    lon1, lat1, _ = GEOD.fwd(lon, lat, draw(azimuths()), draw(lengths_m(longest_m)))
    return lon, lat, wrapped(lon1), float(lat1)


@st.composite
def rings(draw, reach_m=150 * NAUTICAL_MILE_M, limit_deg=75.0):
    """(kind, corners, (lon, lat) of the middle): a star-shaped ring, so it never crosses itself."""
    kind = draw(kinds())
    lon, lat = draw(positions(limit_deg))
    n = draw(st.integers(3, 9))
    reach_m = 10.0 ** draw(numbers(2.0, float(np.log10(reach_m))))
    radii = draw(st.lists(numbers(0.5, 1.0), min_size=n, max_size=n))
    turn = draw(numbers(0.0, 360.0))
    return kind, star(lon, lat, turn + np.arange(n) * 360.0 / n, reach_m * np.array(radii)), (lon, lat)


# ---------------------------------------------------------------- helpers


def wrapped(lon):
    """Longitude in [-180, 180)."""
    lon = np.asarray(lon, float)
    result = np.where((lon >= -180.0) & (lon < 180.0), lon, (lon + 180.0) % 360.0 - 180.0)
    return float(result) if result.ndim == 0 else result


def star(lon, lat, bearings_deg, radii_m):
    """Corners (n, 2) at bearings and distances from a middle, in order of bearing: clockwise."""
    n = len(bearings_deg)
    x, y, _ = GEOD.fwd(np.full(n, lon), np.full(n, lat), bearings_deg, radii_m)
    return np.column_stack([wrapped(x), y])


def off_the_line(line, u, side_deg, distance_m):
    """Points off lines at parameter u: bearing ``side_deg`` clockwise from the line's own direction."""
    lon, lat, azimuth, _ = line.at(u)
    x, y, _ = GEOD.fwd(lon, lat, azimuth + side_deg, distance_m)
    return wrapped(x), np.asarray(y)


# ---------------------------------------------------------------- random pairs of a path and an edge


@dataclass(frozen=True)
class Pairs:
    """Paths and edges one to one, and the family each was made for."""

    path: Lines
    edge: Lines
    family: np.ndarray


FAMILIES = (
    "any direction",
    "near tangent",
    "crossing",
    "shared corner",
    "on a meridian",
    "on a parallel",
    "across 180",
    "high latitude",
    "beyond an end",
    "standing still",
    "point edge",
    "both ends shared",
)


def random_pairs(rng, path_kind, edge_kind, n):
    """Pairs with clearances from 0 to 20 nmi on edges up to 300 nmi, latitudes -80 to 80.

    The families of `FAMILIES` take turns. Paths are track segments (1 m to 60 nmi); rhumb and lonlat
    paths are route legs and reach 300 nmi.
    """
    family = np.arange(n) % len(FAMILIES)
    is_ = {name: family == i for i, name in enumerate(FAMILIES)}
    edge = _random_edges(rng, edge_kind, n, is_)
    foot = np.where(is_["beyond an end"], 1.0, rng.uniform(0.0, 1.0, n))
    clearance = _random_clearances(rng, n, is_)
    side = rng.choice([-90.0, 90.0], n)
    side = np.where(is_["beyond an end"], rng.uniform(-89.0, 89.0, n), side)
    x0, y0 = off_the_line(edge, foot, side, clearance)

    heading = rng.uniform(0.0, 360.0, n)
    _, _, along, _ = edge.at(foot)
    bent = along + rng.choice([-1.0, 1.0], n) * 10.0 ** rng.uniform(-6.0, 0.0, n)
    heading = np.where(is_["near tangent"], bent, heading)
    longest = 60 * NAUTICAL_MILE_M if path_kind == "geodesic" else LONGEST_EDGE_M
    length = 10.0 ** rng.uniform(0.0, np.log10(longest), n)
    length = np.where(is_["standing still"], 0.0, length)
    # The constructed point lies somewhere on the path, not always at its start.
    back = np.where(rng.random(n) < 0.5, 0.0, rng.uniform(0.0, 1.0, n)) * length
    x0, y0, _ = GEOD.fwd(x0, y0, heading + 180.0, back)
    heading_there = np.asarray(GEOD.inv(x0, y0, *off_the_line(edge, foot, side, clearance))[0])
    heading = np.where(back > 1.0, heading_there, heading)
    x1, y1, _ = GEOD.fwd(x0, y0, heading, length)
    x0, y0 = _replaced(is_, ("shared corner", "both ends shared"), (x0, y0), (edge.lon0, edge.lat0))
    x1, y1 = _replaced(is_, ("both ends shared",), (x1, y1), (edge.lon1, edge.lat1))
    # Standing still means the very same numbers twice.
    x1, y1 = _replaced(is_, ("standing still",), (x1, y1), (x0, y0))
    return Pairs(Lines.between(path_kind, wrapped(x0), y0, wrapped(x1), y1), edge, family)


def _replaced(is_, names, old, new):
    mask = np.any([is_[name] for name in names], axis=0)
    return tuple(np.where(mask, b, a) for a, b in zip(old, new, strict=True))


def _random_edges(rng, kind, n, is_):
    lon = np.where(is_["across 180"], wrapped(180.0 + rng.uniform(-1.0, 1.0, n)), rng.uniform(-180, 180, n))
    lat = rng.uniform(-80.0, 80.0, n)
    lat = np.where(is_["high latitude"], rng.choice([-1.0, 1.0], n) * rng.uniform(75.0, 80.0, n), lat)
    # Half of the edges have a length of any size, half are near the longest.
    length = 10.0 ** rng.uniform(0.0, np.log10(LONGEST_EDGE_M), n)
    length = np.where(rng.random(n) < 0.5, rng.uniform(0.5, 0.999, n) * LONGEST_EDGE_M, length)
    azimuth = rng.uniform(0.0, 360.0, n)
    azimuth = np.where(is_["across 180"], 90.0 + rng.uniform(-60.0, 60.0, n), azimuth)
    azimuth = np.where(is_["on a meridian"], rng.choice([0.0, 180.0], n), azimuth)
    # Turn lines that would leave the band of latitudes back towards the equator.
    leaves = np.abs(lat) + length * np.cos(np.radians(azimuth)) * np.sign(lat) / 111_000.0 > 80.0
    azimuth = np.where(leaves, 180.0 - azimuth, azimuth)
    x, y, _ = GEOD.fwd(lon, lat, azimuth, length)
    x = np.where(is_["on a meridian"], lon, x)
    y = np.where(is_["on a parallel"], lat, y)
    x, y = _replaced(is_, ("point edge",), (x, y), (lon, lat))
    return Lines.between(kind, lon, lat, wrapped(x), y)


def _random_clearances(rng, n, is_):
    small = 10.0 ** rng.uniform(-2.0, np.log10(WIDEST_CLEARANCE_M), n)
    clearance = np.where(rng.random(n) < 0.5, small, rng.uniform(0.0, WIDEST_CLEARANCE_M, n))
    return np.where(is_["crossing"], 0.0, clearance)


# ---------------------------------------------------------------- random areas


def random_polygons(rng, kind):
    """Polygons (outer ring, holes ...) of one random zone: a star with perhaps a hole and a second part.

    The hole keeps under 0.35, the outer ring over 0.5 of the reach; parts lie three reaches apart.
    """
    lat = rng.uniform(-78.0, 78.0)
    lon = wrapped(180.0 + rng.uniform(-2.0, 2.0)) if rng.random() < 0.3 else rng.uniform(-180.0, 180.0)
    reach = 10.0 ** rng.uniform(2.5, np.log10(150 * NAUTICAL_MILE_M))
    parts = [_random_star(rng, kind, lon, lat, reach, holes=rng.integers(0, 2))]
    if rng.random() < 0.5:
        x, y, _ = GEOD.fwd(lon, lat, rng.choice([90.0, 270.0]), 3.0 * reach)
        parts.append(_random_star(rng, kind, wrapped(x), y, reach, holes=rng.integers(0, 2)))
    return tuple(parts)


def _random_star(rng, kind, lon, lat, reach, holes):
    while True:
        n = int(rng.integers(3, 13))
        turns = rng.uniform(0.0, 360.0) + (np.arange(n) + rng.uniform(-0.3, 0.3, n)) * 360.0 / n
        rings = [star(lon, lat, turns, reach * rng.uniform(0.5, 1.0, n))]
        if holes:
            rings.append(star(lon, lat, np.arange(5) * 72.0, reach * rng.uniform(0.1, 0.35, 5)))
        if all(_goes_round_once(kind, ring, lon, lat, reach / 30.0) for ring in rings) and _keeps_apart(
            kind, rings, lon, lat, reach
        ):
            return tuple(ring[::-1] if rng.random() < 0.5 else ring for ring in rings)


def _goes_round_once(kind, ring, lon, lat, step_m):
    """Whether a ring, edges bent by their rule, is seen from the middle in ever-growing bearing."""
    x, y = (np.concatenate(c) for c in zip(*densify(kind, ring, step_m), strict=True))
    bearing = np.asarray(GEOD.inv(np.full_like(x, lon), np.full_like(y, lat), x, y)[0])
    step = (np.diff(bearing) + 180.0) % 360.0 - 180.0
    return bool((step > -1e-7).all() and abs(step.sum() - 360.0) < 1e-3)


def _keeps_apart(kind, rings, lon, lat, reach):
    """Whether a hole stays inside 0.42 and the outer ring outside 0.45 of the reach, bends included."""
    for ring, (least, most) in zip(
        rings, ((0.2 if len(rings) == 1 else 0.45, 2.0), (0.0, 0.42)), strict=False
    ):
        x, y = (np.concatenate(c) for c in zip(*densify(kind, ring, reach / 30.0), strict=True))
        d = np.asarray(GEOD.inv(np.full_like(x, lon), np.full_like(y, lat), x, y)[2])
        if d.min() < least * reach or d.max() > most * reach:
            return False
    return True
