"""Inside or outside against brute force: no wrong side beyond 1 cm of a boundary."""

from __future__ import annotations

import numpy as np
import pytest
from oracles import GEOD, KINDS, Lines, distance_to_line, inside
from strategies import random_polygons, wrapped

from towzone.geodesy.lines import LineKind
from towzone.geodesy.region import Region
from towzone.geodesy.shape import Shape, freeze

SEED = 20260302
ZONES = 25
"""For each kind of edge."""

OFFSETS_M = (0.011, 0.015, 0.1, 1.0, 100.0)
"""Just beyond the promised 1 cm, and more."""


def region(kind, polygons):
    return Region(Shape(polygons=tuple(tuple(freeze(r) for r in p) for p in polygons)), LineKind(kind))


def edges_of(kind, polygons):
    """Every edge of every ring, and +1 where the inside of the zone lies to the left of it, else -1."""
    starts, ends, left = [], [], []
    for polygon in polygons:
        for i, ring in enumerate(polygon):
            x = np.concatenate([[0.0], np.cumsum(wrapped(np.diff(np.append(ring[:, 0], ring[0, 0]))))])[:-1]
            y = ring[:, 1]
            anticlockwise = np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0
            starts.append(ring)
            ends.append(np.roll(ring, -1, axis=0))
            left.append(np.full(len(ring), 1 if anticlockwise == (i == 0) else -1))
    a, b = np.concatenate(starts), np.concatenate(ends)
    return Lines.between(kind, a[:, 0], a[:, 1], b[:, 0], b[:, 1]), np.concatenate(left)


def beside(edges, u, offset_m, side):
    lon, lat, azimuth, _ = edges.at(u)
    x, y, _ = GEOD.fwd(lon, lat, azimuth + side, np.full(len(edges), offset_m))
    return wrapped(x), np.asarray(y)


@pytest.mark.parametrize("kind", KINDS)
def test_points_beside_the_boundary_fall_on_their_side(kind):
    """Points built 1.1 cm to 100 m left and right of random boundary points of zones with holes and parts.

    The expected side is known twice: from the winding of the ring, and from counting densified edges.
    Points that the offset has brought within 1 cm of another edge would prove nothing; at these offsets from
    zones this size only those at 100 m can, and the brute force decides them.
    """
    rng = np.random.default_rng(SEED + KINDS.index(kind))
    judged = 0
    for _ in range(ZONES):
        polygons = random_polygons(rng, kind)
        edges, left = edges_of(kind, polygons)
        lon, lat, by_winding = [], [], []
        for offset_m in OFFSETS_M:
            for side in (-90.0, 90.0):
                # Clear of corners by 2 % of the edge, so that small offsets stay on their side.
                x, y = beside(edges, rng.uniform(0.02, 0.98, len(edges)), offset_m, side)
                lon.append(x)
                lat.append(y)
                known = offset_m <= 0.1
                by_winding.append(np.where((side < 0) == (left > 0), 1, 0) if known else np.full(len(x), -1))
        lon, lat, by_winding = (np.concatenate(c) for c in (lon, lat, by_winding))

        got = region(kind, polygons).contains(lon, lat)

        wanted = inside(kind, polygons, lon, lat)
        sure = by_winding >= 0
        np.testing.assert_array_equal(wanted[sure], by_winding[sure] == 1)
        np.testing.assert_array_equal(got, wanted)
        judged += len(lon)
    print(
        f"\n{kind}: seed {SEED + KINDS.index(kind)}, {ZONES} zones, {judged} points, none on the wrong side"
    )
    assert judged > 2_000


@pytest.mark.parametrize("kind", KINDS)
def test_points_all_over_the_place_fall_on_their_side(kind):
    """Random points in and round zones, and due north and south of corners, where counting is delicate."""
    rng = np.random.default_rng(SEED + 10 + KINDS.index(kind))
    counts = {True: 0, False: 0}
    for _ in range(ZONES):
        polygons = random_polygons(rng, kind)
        corners = np.concatenate([ring for polygon in polygons for ring in polygon])
        reach_deg = np.ptp(corners[:, 1])
        spread = rng.uniform(-1.5, 1.5, (2, 200)) * reach_deg
        pick = rng.integers(0, len(corners), 200)
        widen = 1.0 / np.cos(np.radians(corners[pick, 1]))
        lon = np.concatenate([wrapped(corners[pick, 0] + spread[0] * widen), corners[pick, 0]])
        lat = np.concatenate([corners[pick, 1] + spread[1], corners[pick, 1] + spread[1] / 2.0])
        lat = np.clip(lat, -88.0, 88.0)
        edges, _ = edges_of(kind, polygons)
        far = np.array([_clear_of(edges, x, y) for x, y in zip(lon, lat, strict=True)])

        got = region(kind, polygons).contains(lon[far], lat[far])

        wanted = inside(kind, polygons, lon[far], lat[far])
        np.testing.assert_array_equal(got, wanted)
        counts = {side: counts[side] + int((wanted == side).sum()) for side in counts}
    assert min(counts.values()) > 500


def _clear_of(edges, lon, lat):
    """Whether a point is not a corner; others are within 1 cm of an edge only by a chance of 1 in 1e5."""
    apart = np.maximum(np.abs(wrapped(edges.lon0 - lon)), np.abs(edges.lat0 - lat))
    return bool(apart.min() > 1e-6)


@pytest.mark.parametrize("kind", KINDS)
def test_corners_and_edges_are_within_a_centimetre_of_both_sides(kind):
    """Both answers lie within 1.1 cm of boundary points found by brute force: the line is not shifted."""
    rng = np.random.default_rng(SEED + 20)
    polygons = random_polygons(rng, kind)
    edges, _ = edges_of(kind, polygons)
    zone = region(kind, polygons)
    u = rng.uniform(0.01, 0.99, len(edges))
    one, other = (zone.contains(*beside(edges, u, 0.011, side)) for side in (-90.0, 90.0))

    assert (one != other).all()
    on_edge = distance_to_line(edges, *edges.at(u)[:2])
    assert on_edge.max() < 1e-6
