"""The deepest point of a path inside an area, against brute force over dense points."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from depths import deepest, deepest_rows
from oracles import inside
from scenes import GEOD, area, around, box, fixes, moved, only_row, zone
from strategies import star

from towzone.errors import GeometryError
from towzone.geodesy.approach import Side, closest
from towzone.geodesy.depth import Stays
from towzone.geodesy.edges import edges_of, join_edges
from towzone.geodesy.ellipsoid import to_geocentric
from towzone.geodesy.lines import LineKind
from towzone.geodesy.pieces import Pieces, cut
from towzone.geodesy.shape import Shape, freeze

SEED = 20260314
STEP_M = 50.0
"""Chords of 50 m run 0.05 mm under the surface and, on geodesics, nowhere aside of it."""


def chords(ring):
    """Straight pieces of the geodesic edges of a ring, geocentric, (n, 3) starts and ends."""
    starts, ends = [], []
    for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
        between = GEOD.npts(*a, *b, int(GEOD.inv(*a, *b)[2] // STEP_M))
        points = to_space(np.array([a, *between, b]))
        starts.append(points[:-1])
        ends.append(points[1:])
    return np.concatenate(starts), np.concatenate(ends)


def to_space(points):
    return to_geocentric(points[:, 0], points[:, 1])


def depths_m(points, boundary):
    """Distance of points to the nearest chord; at 4 km shorter than along the sea by 0.07 mm."""
    start, end = boundary
    along = end - start
    best = np.full(len(points), np.inf)
    here = to_space(points)
    for a, v in zip(start, along, strict=True):
        t = np.clip((here - a) @ v / (v @ v), 0.0, 1.0)
        best = np.minimum(best, np.sqrt(((here - a - t[:, None] * v) ** 2).sum(1)))
    return best


def brute_depth_m(track, rings):
    """Greatest depth over dense points of every leg, looked at finer three times round the best ten."""
    boundary = tuple(np.concatenate(c) for c in zip(*(chords(ring) for ring in rings), strict=True))
    lon, lat = track.lon_deg, track.lat_deg
    azimuth, _, length = GEOD.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
    leg, u = (c.ravel() for c in np.meshgrid(np.arange(len(length)), np.linspace(0.0, 1.0, 301)))
    cell = 1.0 / 300.0
    for _ in range(4):
        x, y, _ = GEOD.fwd(lon[leg], lat[leg], azimuth[leg], length[leg] * u)
        points = np.column_stack([x, y])
        depth = depths_m(points, boundary)
        depth[~inside("geodesic", [rings], points[:, 0], points[:, 1], step_m=200.0)] = -1.0
        best = np.argsort(depth)[-10:]
        deepest, leg, u = depth.max(), np.repeat(leg[best], 21), np.repeat(u[best], 21)
        u = np.clip(u + np.tile(np.linspace(-cell, cell, 21), 10), 0.0, 1.0)
        cell /= 10.0
    return float(deepest)


def wiggly(rng, centre, reach_m, legs):
    """A track that wanders about in (and out of) a zone, across its middle."""
    positions = [
        moved(centre, rng.uniform(0.0, 360.0), reach_m * np.sqrt(rng.uniform(0.0, 1.2))) for _ in range(legs)
    ]
    return fixes(positions, np.arange(legs) * 120.0)


@pytest.mark.parametrize("case", range(12))
def test_random_tracks_in_random_areas_are_as_deep_as_brute_force_finds(case):
    """Stars with and without a hole, 1 to 4 km across, at many latitudes and across 180 degrees."""
    rng = np.random.default_rng(SEED + case)
    centre = [(-20.0, 57.0), (179.999, -16.0), (30.0, 79.0), (0.0, 0.0), (-179.99, 65.0), (10.0, -45.0)][
        case % 6
    ]
    reach = rng.uniform(500.0, 2000.0)
    n = int(rng.integers(4, 9))
    rings = [star(*centre, np.arange(n) * 360.0 / n, reach * rng.uniform(0.6, 1.0, n)).tolist()]
    if case % 4 > 1:
        rings.append(star(*centre, np.arange(4) * 90.0, np.full(4, reach * 0.15)).tolist())
    track = wiggly(rng, centre, reach * 0.6, 7)
    row = only_row(track, zone(area(*rings)))
    wanted = brute_depth_m(track, rings)
    print(f"\ncase {case}: depth {-row.clearance_m:.4f} m, brute force {wanted:.4f} m")
    assert wanted > 20.0
    np.testing.assert_allclose(-row.clearance_m, wanted, rtol=0, atol=0.01)
    assert row.closest is not None
    apart = GEOD.inv(
        row.closest.lon_deg, row.closest.lat_deg, row.closest.zone_lon_deg, row.closest.zone_lat_deg
    )[2]
    np.testing.assert_allclose(apart, -row.clearance_m, rtol=0, atol=0.01)


def test_the_deeper_of_two_separated_stays_decides():
    """In at 300 m depth, out, and in again at 700 m: constructed square to a long straight side."""
    south = 57.0
    ring = box(-21.0, south, -19.0, 58.5)
    track = fixes(
        [
            (-20.2, south - 0.02),
            moved((-20.15, south), 0.0, 300.0),
            (-20.1, south - 0.02),
            moved((-20.0, south), 0.0, 700.0),
            (-19.9, south - 0.02),
        ],
        np.arange(5) * 600.0,
    )
    row = only_row(track, zone(area(ring), edges=LineKind.RHUMB))
    assert len(row.inside) == 2
    # North along a meridian is square to a parallel.
    np.testing.assert_allclose(row.clearance_m, -700.0, rtol=0, atol=0.01)
    np.testing.assert_allclose(row.closest.lat_deg, moved((-20.0, south), 0.0, 700.0)[1], rtol=0, atol=1e-7)


def test_a_hole_takes_its_depth_from_the_rim_of_the_hole():
    """Half way between the hole's side and the outer side it is deepest."""
    centre = (-20.0, 57.0)
    outer, hole = around(centre, 4000.0, corners=360), around(centre, 1000.0, corners=360)
    track = fixes([moved(centre, 90.0, 1100.0), moved(centre, 90.0, 3900.0)], [0.0, 800.0])
    row = only_row(track, zone(area(outer, hole)))
    # Rings of 360 corners lie up to r (1 - cos(0.5 deg)) = 0.04 and 0.15 m inside their circles; at the
    # corners themselves, where the track runs, they are on it: (4000 - 1000) / 2 from either.
    np.testing.assert_allclose(row.clearance_m, -1500.0, rtol=0, atol=0.2)


def test_a_huge_area_is_deep_however_far_its_boundary():
    """5 degrees of latitude north of a parallel: the meridian arc is the depth, far beyond the reach."""
    row = only_row(
        fixes([(0.0, 15.0), (0.1, 15.0)], [0.0, 800.0]),
        zone(area(box(-30, 10, 30, 40)), edges=LineKind.RHUMB),
        reach_m=9260.0,
    )
    assert row.status.value == "inside"
    wanted = GEOD.inv(0.0, 10.0, 0.0, 15.0)[2]
    # The geodesic bows a little north of 15 degrees between the two fixes: 0.9 m at its middle.
    np.testing.assert_allclose(-row.clearance_m, wanted, rtol=0, atol=2.0)


def test_a_single_fix_has_the_depth_of_its_position():
    centre = (100.0, 20.0)
    row = only_row(fixes([centre], [0.0]), zone(area(around(centre, 800.0, corners=720))))
    np.testing.assert_allclose(row.clearance_m, -800.0 * np.cos(np.radians(0.25)), rtol=0, atol=0.01)


def side_of(*rings):
    return Side.of(cut(edges_of(area(*rings), LineKind.GEODESIC)), 1)


def path_of(points):
    """Straight pieces between consecutive points (lon, lat)."""
    xyz = to_space(np.asarray(points, float))
    return as_one(Pieces.each_alone(xyz[:-1], xyz[1:]))


def as_one(pieces):
    """A side of which all pieces are one owner's."""
    return Side.of(replace(pieces, owner=np.zeros(len(pieces), dtype=np.int64)), 1)


def each_piece(piece, first, last):
    """Stays that are on one piece each."""
    return Stays(first_piece=piece, last_piece=piece, first=first, last=last)


def deepest_of(path, edge):
    """Of one stay on all of a path, which is as deep as one stay on every piece of it."""
    n, zero = len(path.pieces), np.zeros(1, dtype=np.int64)
    whole = Stays(first_piece=zero, last_piece=zero + n - 1, first=np.zeros(1), last=np.ones(1))
    found = deepest(path, 0, whole, edge, 0)
    assert found == deepest(path, 0, each_piece(np.arange(n), np.zeros(n), np.ones(n)), edge, 0)
    return found


@pytest.mark.parametrize("case", range(6))
def test_long_stays_are_as_deep_as_a_look_at_every_fix_finds(case):
    """Thousands of fixes with noise, in stars with a hole: many blocks, most of them never looked into."""
    rng = np.random.default_rng(SEED + 100 + case)
    centre = [(-20.0, 57.0), (179.999, -16.0), (30.0, 79.0)][case % 3]
    n = 7
    rings = [
        star(*centre, np.arange(n) * 360.0 / n, 6000.0 * rng.uniform(0.7, 1.0, n)).tolist(),
        star(*centre, np.arange(4) * 90.0, np.full(4, 400.0)).tolist(),
    ]
    way_m, turn = 1500.0 + 1000.0 * np.sin(np.arange(4000) / 700.0), np.arange(4000) / 25.0
    noise = rng.normal(0.0, 1.5, 4000)
    points = star(*centre, turn + case * 40.0, way_m + noise)

    found = deepest_of(path_of(points), side_of(*rings))

    boundary = tuple(np.concatenate(c) for c in zip(*(chords(ring) for ring in rings), strict=True))
    at_fixes = depths_m(points, boundary)
    # Between two fixes it is deeper than at both by at most half their distance: so only these can matter.
    apart = GEOD.inv(*points[:-1].T, *points[1:].T)[2]
    bound = np.maximum(at_fixes[:-1], at_fixes[1:]) + np.asarray(apart) / 2.0
    some = np.flatnonzero(bound > at_fixes.max())
    part = np.linspace(0.0, 1.0, 201)[:, None]
    inner = np.concatenate([points[i] + part * (points[i + 1] - points[i]) for i in some])
    wanted = max(depths_m(inner, boundary).max(), at_fixes.max())
    assert abs(found.depth_m - wanted) < 0.01
    assert found.piece in some
    apart = GEOD.inv(found.lon_deg, found.lat_deg, found.edge_lon_deg, found.edge_lat_deg)[2]
    assert abs(apart - found.depth_m) < 0.001


def test_where_the_deepest_is_a_standstill_the_time_of_coming_there_is_told():
    """However long it lasts, and however the path is cut into blocks."""
    edge = side_of(around(CENTRE_OF_STILL, 2000.0))
    way = [moved(CENTRE_OF_STILL, 90.0, d) for d in np.arange(1500.0, -1.0, -50.0)]
    for still in (1, 5, 700):
        found = deepest_of(path_of([*way, *[way[-1]] * still]), edge)
        assert found.piece + found.part == 30.0
        assert abs(found.depth_m - 2000.0 * np.cos(np.radians(7.5))) < 0.1


def test_60_km_deep_nothing_deeper_is_passed_over():
    """There arcs are 0.2 m longer than chords; against the depths of all ends, searched for one by one."""
    rng = np.random.default_rng(SEED + 300)
    n, centre = 12, (-20.0, 47.0)
    ring = star(*centre, np.arange(n) * 360.0 / n, 60_000.0 * rng.uniform(0.95, 1.0, n))
    edge = side_of(ring.tolist())
    points = star(*centre, np.arange(3000) / 9.0, 400.0 + rng.uniform(-60.0, 60.0, 3000))
    path = path_of(points)

    found = deepest_of(path, edge)

    xyz, each = to_space(points), np.arange(3000)
    alone = Side.of(Pieces.each_alone(xyz, xyz), 3000)
    ends_m = closest(alone, each, edge, np.zeros(3000, dtype=int), np.full(3000, np.inf)).distance_m
    assert found.depth_m > ends_m.max() - 0.002
    # Between ends 20 m apart it is deeper by at most half of that.
    assert found.depth_m < ends_m.max() + 10.0


CENTRE_OF_STILL = (5.0, 55.0)


def test_parts_of_pieces_alone_are_searched():
    """Only the stretches asked for count, not the rest of their pieces."""
    edge = side_of(box(0.0, 50.0, 1.0, 51.0))
    path = path_of([(0.1, 50.5), (0.11, 50.5), (0.12, 50.5)])

    found = deepest(
        path, 0, each_piece(np.array([0, 1]), np.array([0.25, 0.1]), np.array([0.5, 0.4])), edge, 0
    )

    assert (found.piece, found.part) == (1, 0.4)


def test_what_has_no_depth_is_refused():
    """No stretch, and an area of which no boundary is known."""
    path, none = path_of([(0.1, 50.5), (0.2, 50.5)]), np.empty(0)
    edge = Side.of(cut(edges_of(Shape(points=freeze([(0.0, 50.0)])), LineKind.RHUMB, owner=1)), 2)

    with pytest.raises(ValueError, match="no stay"):
        deepest(path, 0, each_piece(none.astype(int), none, none), edge, 1)
    with pytest.raises(GeometryError):
        deepest(path, 0, each_piece(np.array([0]), np.zeros(1), np.ones(1)), edge, 0)


def test_lone_places_far_apart_are_all_looked_at():
    """Between them the path may have jumped: the depth of one bounds that of the next by the jump alone."""
    rng = np.random.default_rng(SEED)
    centre = (-20.0, 57.0)
    ring = around(centre, 20_000.0, 24)
    boundary = chords(ring)
    edge = as_one(Pieces.each_alone(*boundary))
    for count in (2, 3, 5, 200, 300):
        places = np.array(
            [moved(centre, rng.uniform(0.0, 360.0), rng.uniform(0.0, 19_000.0)) for _ in range(count)]
        )
        xyz = to_space(places)
        each, zero = np.arange(count), np.zeros(count)
        found = deepest(as_one(Pieces.each_alone(xyz, xyz)), 0, each_piece(each, zero, zero), edge, 0)
        np.testing.assert_allclose(found.depth_m, depths_m(places, boundary).max(), rtol=0, atol=0.02)


def test_several_sets_asked_together_answer_as_each_alone():
    """Sets of many and of few stretches, of two areas, one after the other."""
    rng = np.random.default_rng(SEED + 200)
    edges = [
        edges_of(area(around(CENTRE_OF_STILL, r)), LineKind.GEODESIC, owner=i)
        for i, r in enumerate((3e3, 5e3))
    ]
    edge = Side.of(cut(join_edges(edges)), 2)
    points = star(*CENTRE_OF_STILL, np.arange(900) / 3.0, rng.uniform(100.0, 2500.0, 900))
    path = path_of(points)
    counts, owner = np.array([300, 1, 2, 596]), np.array([1, 0, 1, 0])
    piece, first, last = np.arange(899), rng.uniform(0.0, 0.5, 899), rng.uniform(0.5, 1.0, 899)

    zero = np.zeros(4, dtype=np.int64)

    together = deepest_rows(path, zero, each_piece(piece, first, last), counts, edge, owner)

    ends = np.cumsum(counts)
    for number, found in enumerate(together):
        mine = slice(ends[number] - counts[number], ends[number])
        alone = each_piece(piece[mine], first[mine], last[mine])
        assert found == deepest(path, 0, alone, edge, int(owner[number]))
    none = each_piece(piece[:0], first[:0], last[:0])
    assert deepest_rows(path, zero[:0], none, counts[:0], edge, owner[:0]) == []


def test_a_vessel_that_stands_still_came_there_in_its_own_stay_whatever_others_are_asked_for():
    """Three sets of one path: what the second and third hold lies before and after the first."""
    shape = Shape(polygons=((freeze(box(-21.0, 57.0, -19.0, 58.0)),),))
    edge = Side.of(cut(edges_of(shape, LineKind.RHUMB)), 1)
    lon = np.array([-20.2, -20.19, -20.18, -20.0, -20.0, -20.0, -20.0, -19.9, -19.8, -19.7])
    points = to_geocentric(lon, np.where(lon == -20.0, 57.3, 57.1))
    own = Pieces.each_alone(points[:-1], points[1:])
    path = Side.of(replace(own, owner=np.zeros(len(own), dtype=np.int64)), 1)
    # Fixes 3 to 6 are one place; the first stay begins there on the way from fix 4 to fix 5.
    stays = Stays(
        np.array([4, 0, 7]), np.array([6, 1, 8]), np.array([0.25, 0.0, 0.5]), np.array([0.5, 1.0, 0.9])
    )
    nobody, counts = np.zeros(3, dtype=np.int64), np.ones(3, dtype=np.int64)
    together = deepest_rows(path, nobody, stays, counts, edge, nobody)

    assert (together[0].piece, together[0].part) == (4, 0.25)
    for number, one in enumerate(together):
        alone = Stays(*(column[number : number + 1] for column in stays))
        assert deepest(path, 0, alone, edge, 0) == one
