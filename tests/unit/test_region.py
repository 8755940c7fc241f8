"""Many areas asked at once: the same answers as from counting the densified edges of each."""

from __future__ import annotations

import numpy as np
import pytest
from oracles import GEOD, distance_m, inside
from strategies import random_polygons, star, wrapped

from towzone.errors import GeometryError
from towzone.geodesy.lines import LineKind
from towzone.geodesy.region import Region, Regions
from towzone.geodesy.shape import Shape, freeze

SEED = 20260711
KINDS = tuple(LineKind)


def shape_of(polygons):
    return Shape(polygons=tuple(tuple(freeze(ring) for ring in polygon) for polygon in polygons))


def scene(rng, count):
    """Zones of all kinds with holes and parts, and points in, beside and far from them."""
    kinds = [KINDS[i % 3] for i in range(count)]
    many = [random_polygons(rng, kind.value) for kind in kinds]
    corners = np.concatenate([ring for polygons in many for polygon in polygons for ring in polygon])
    pick = rng.integers(0, len(corners), 120)
    lon = wrapped(corners[pick, 0] + rng.uniform(-0.3, 0.3, 120))
    lat = np.clip(corners[pick, 1] + rng.uniform(-0.3, 0.3, 120), -88.0, 88.0)
    return kinds, many, lon, lat


def test_pairs_of_zones_and_points_are_those_that_brute_force_finds():
    """Every pair is told once, sorted by zone and point; none is missing."""
    kinds, many, lon, lat = scene(np.random.default_rng(SEED), 12)
    regions = Regions([shape_of(polygons) for polygons in many], kinds)

    number, point = regions.holding(lon, lat)

    wanted = [
        (z, p)
        for z, (kind, polygons) in enumerate(zip(kinds, many, strict=True))
        for p in np.flatnonzero(inside(kind.value, polygons, lon, lat, step_m=2000.0)).tolist()
    ]
    assert list(zip(number.tolist(), point.tolist(), strict=True)) == wanted
    assert len(wanted) > 30


def test_a_zone_by_itself_and_among_others_answers_alike():
    """Also row by row, with another zone beside each point."""
    rng = np.random.default_rng(SEED + 1)
    kinds, many, lon, lat = scene(rng, 12)
    shapes = [shape_of(polygons) for polygons in many]
    regions = Regions(shapes, kinds)
    alone = np.stack(
        [Region(shape, kind).contains(lon, lat) for shape, kind in zip(shapes, kinds, strict=True)]
    )
    number = rng.integers(0, len(shapes), len(lon))

    assert np.stack([regions[z].contains(lon, lat) for z in range(len(shapes))]).tolist() == alone.tolist()
    assert regions.contain(number, lon, lat).tolist() == alone[number, np.arange(len(lon))].tolist()
    assert alone.any()


def test_more_pairs_than_were_expected_are_all_told():
    """Fifty boxes over one another, a hundred points in all of them."""
    box = shape_of([[[(0, 50), (1, 50), (1, 51), (0, 51)]]])
    regions = Regions([box] * 50, [LineKind.RHUMB] * 50)

    number, point = regions.holding(np.linspace(0.1, 0.9, 100), np.full(100, 50.5))

    assert number.tolist() == np.repeat(np.arange(50), 100).tolist()
    assert point.tolist() == np.tile(np.arange(100), 50).tolist()


@pytest.mark.parametrize("lon", [-179.5, -10.0, 179.5])
def test_points_all_in_one_place_are_held_by_zones_of_any_size_around_it(lon):
    """Whichever corner a zone is told from, and though other zones are left out at once."""
    sizes = [0.1, 1.0, 30.0, 100.0]
    shapes = [
        shape_of([[np.roll(ring, turn, axis=0)]])
        for size in sizes
        for turn in range(4)
        for ring in [
            np.array(
                [
                    (wrapped(lon + x * size / 2.1), y * min(size, 40.0))
                    for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))
                ]
            )
        ]
    ]
    aside = shape_of([[np.array([(wrapped(lon + x), y) for x, y in ((2, -1), (3, -1), (3, 1), (2, 1))])]])
    regions = Regions([*shapes, aside], [LineKind.LONLAT] * 17)

    number, point = regions.holding(wrapped(lon + np.array([-0.01, 0.0, 0.02])), np.zeros(3))

    assert number.tolist() == np.repeat(np.arange(16), 3).tolist()
    assert point.tolist() == list(range(3)) * 16


def test_lines_points_and_nothing_hold_nothing():
    regions = Regions(
        [Shape(lines=(freeze([(0, 50), (1, 50)]),)), Shape(points=freeze([(0.5, 50)])), Shape()],
        [LineKind.RHUMB, LineKind.GEODESIC, LineKind.LONLAT],
    )

    assert regions.holding([0.5], [50.0])[0].tolist() == []
    assert regions.contain(np.arange(3), np.full(3, 0.5), np.full(3, 50.0)).tolist() == [False] * 3
    assert Regions([], []).holding([0.5], [50.0])[0].tolist() == []


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_positions_that_are_not_finite_are_refused(bad):
    """Outside would be a false clear."""
    regions = Regions([shape_of([[[(0, 50), (1, 50), (1, 51)]]])], [LineKind.RHUMB])

    for lon, lat in (([0.5, bad], [50.2, 50.2]), ([0.5, 0.5], [50.2, bad])):
        with pytest.raises(GeometryError):
            regions.holding(lon, lat)
        with pytest.raises(GeometryError):
            regions.contain(np.zeros(2, dtype=int), lon, lat)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("west", [-100.0, 90.0])
def test_an_area_wider_than_half_the_world_is_inside_all_along(kind, west):
    """A band of 300 degrees, corners every 10, with 180 degrees somewhere in it."""
    east = np.arange(0.0, 301.0, 10.0)
    ring = np.concatenate(
        [np.stack([east, np.full(31, -10.0)], 1), np.stack([east[::-1], np.full(31, 10.0)], 1)]
    )
    ring[:, 0] = wrapped(ring[:, 0] + west)
    region = Region(shape_of([[ring]]), kind)
    lon = wrapped(west + np.arange(1.0, 360.0, 2.0))

    assert region.contains(lon, np.zeros(180)).tolist() == (np.arange(1.0, 360.0, 2.0) < 300.0).tolist()
    assert not region.contains(lon, np.full(180, 11.0)).any()


@pytest.mark.parametrize("kind", KINDS)
def test_a_hole_in_the_far_east_of_such_an_area_is_outside(kind):
    """It lies half the world from the first corner and more, where longitudes have begun anew."""
    east = np.arange(0.0, 301.0, 10.0)
    ring = np.concatenate(
        [np.stack([east, np.full(31, -10.0)], 1), np.stack([east[::-1], np.full(31, 10.0)], 1)]
    )
    hole = np.array([(250.0, -5.0), (260.0, -5.0), (260.0, 5.0), (250.0, 5.0)])
    ring[:, 0], hole[:, 0] = wrapped(ring[:, 0] - 100.0), wrapped(hole[:, 0] - 100.0)
    lon = np.arange(1.0, 300.0, 2.0)

    within = Region(shape_of([[ring, hole]]), kind).contains(wrapped(lon - 100.0), np.zeros(150))

    assert within.tolist() == ((lon < 250.0) | (lon > 260.0)).tolist()


@pytest.mark.parametrize("length_m", [1e3, 3e4, 5e5, 9.9e5])
def test_long_geodesics_stray_from_their_plane_by_less_than_is_taken_for_doubt(length_m):
    """Their exact points against the plane; and the doubt is no more than a few times what they do."""
    rng = np.random.default_rng(SEED + 2)
    n = 400
    lon, lat = rng.uniform(-180.0, 180.0, n), rng.uniform(-84.0, 84.0, n)
    azimuth = rng.uniform(0.0, 360.0, n)
    lon1, lat1, _ = GEOD.fwd(lon, lat, azimuth, np.full(n, length_m))
    worst, doubts = [], []
    for i in np.flatnonzero(np.abs(lat1) < 84.9):
        third = star(lon[i], lat[i], [azimuth[i] + 90.0], [1000.0])[0]
        ring = [(lon[i], lat[i]), (wrapped(lon1[i]), lat1[i]), third]
        rings = Regions([shape_of([[ring]])], [LineKind.GEODESIC]).rings
        steps = length_m * np.arange(1, 10) / 10
        x, y, _ = GEOD.fwd(*(np.full(9, c) for c in (lon[i], lat[i], azimuth[i])), steps)
        worst.append(np.abs(places(x, y) @ rings.normal[0]).max())
        doubts.append(rings.doubt_m[0])

    assert (np.array(worst) <= np.array(doubts)).all()
    assert max(worst) > 0.2 * (doubts[0] - 1e-6)


def places(lon_deg, lat_deg):
    """Geocentric places on WGS 84, NGA.STND.0036 (2014), eq. 4-14."""
    lon, lat, e2 = np.radians(lon_deg), np.radians(lat_deg), 0.0066943799901413165
    n = 6378137.0 / np.sqrt(1.0 - e2 * np.sin(lat) ** 2)
    return np.stack(
        [n * np.cos(lat) * np.cos(lon), n * np.cos(lat) * np.sin(lon), n * (1.0 - e2) * np.sin(lat)], axis=-1
    )


def test_points_a_hair_off_a_long_geodesic_fall_on_their_side():
    """An edge of 900 km strays metres from its plane; points 2 mm off its exact course are told apart."""
    start, azimuth, length = (-20.0, 48.0), 63.0, 900_000.0
    end = GEOD.fwd(*start, azimuth, length)[:2]
    far = GEOD.fwd(*start, azimuth + 60.0, 500_000.0)[:2]
    region = Region(shape_of([[[start, end, far]]]), LineKind.GEODESIC)
    steps = np.linspace(0.02, 0.98, 50) * length
    x, y, back = (np.asarray(c) for c in GEOD.fwd(*(np.full(50, c) for c in (*start, azimuth)), steps))

    for side, wanted in ((90.0, True), (-90.0, False)):
        lon, lat, _ = GEOD.fwd(x, y, back + 180.0 + side, np.full(50, 0.002))
        assert region.contains(lon, lat).tolist() == [wanted] * 50
        assert distance_m(lon, lat, x, y).max() < 0.0021
