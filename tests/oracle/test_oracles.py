"""The oracles themselves: held against published figures, other programs, each other and built answers."""

from __future__ import annotations

import numpy as np
import pytest
from oracles import (
    A_M,
    GEOD,
    KINDS,
    Lines,
    clearances,
    densify,
    direct,
    distance_m,
    distance_to_line,
    inside,
    isometric_rad,
    least_from,
    meridian_arc_m,
)
from pyproj import Transformer
from strategies import random_pairs, wrapped

SEED = 20260303
BOUND_M = 1e-4
"""What the oracle of clearances promises."""


def test_quarter_meridian_is_the_published_one():
    """Published: GeographicLib, tests/CMakeLists.txt, test RhumbSolve0: 10 001 965.729 m, equator to pole."""
    assert abs(meridian_arc_m(0.0, 90.0) - 10_001_965.729) <= 0.0005


def test_rhumb_example_is_the_published_one():
    """Published: GeographicLib, manual page RhumbSolve, Examples: 103d34'58.2", 18 523 563 m.

    From 40d38'23"N 073d46'44"W to 01d21'33"N 103d59'22"E; half of the last printed digit is allowed.
    """
    start, end = (
        (-(73 + 46 / 60 + 44 / 3600), 40 + 38 / 60 + 23 / 3600),
        (103 + 59 / 60 + 22 / 3600, 1 + 1293 / 3600),
    )

    length, azimuth = Lines.between("rhumb", *start, *end).inverse()

    assert abs(length[0] - 18_523_563) <= 0.5
    assert abs(azimuth[0] - (103 + 34 / 60 + 58.2 / 3600)) <= 0.05 / 3600


def test_isometric_latitude_is_the_ordinate_of_another_programs_mercator_chart():
    """Live cross-check: PROJ's ellipsoidal ``merc``, closed form, against our quadrature."""
    chart = Transformer.from_crs("EPSG:4326", "+proj=merc +ellps=WGS84", always_xy=True)
    lat = np.linspace(-88.9, 88.9, 201)

    np.testing.assert_allclose(
        isometric_rad(lat), chart.transform(0.0 * lat, lat)[1] / A_M, rtol=0, atol=1e-13
    )


def test_rhumb_lines_are_straight_on_that_chart():
    """Live cross-check: rhumb lines are straight on PROJ's Mercator chart, to 1 micrometre."""
    chart = Transformer.from_crs("EPSG:4326", "+proj=merc +ellps=WGS84", always_xy=True)
    rng = np.random.default_rng(SEED)
    n = 500
    lon, lat = rng.uniform(-170.0, 170.0, n), rng.uniform(-80.0, 80.0, n)
    line = Lines.between("rhumb", lon, lat, lon + rng.uniform(-9.0, 9.0, n), lat + rng.uniform(-4.0, 4.0, n))
    middle = line.at(rng.uniform(0.0, 1.0, n))[:2]
    a, b, c = (
        np.array(chart.transform(*p)) for p in ((line.lon0, line.lat0), (line.lon1, line.lat1), middle)
    )
    u, w = b - a, c - a

    off = np.abs(u[0] * w[1] - u[1] * w[0]) / np.hypot(*u) * np.cos(np.radians(middle[1]))

    assert off.max() < 1e-6


@pytest.mark.parametrize("kind", KINDS)
def test_direct_takes_inverse_back(kind):
    """Two separate routines: one integrates, the other searches by bisection."""
    rng = np.random.default_rng(SEED)
    n = 200
    lon, lat, azimuth = rng.uniform(-180, 180, n), rng.uniform(-80, 80, n), rng.uniform(0, 360, n)
    length = 10.0 ** rng.uniform(0.0, 5.7, n)

    x, y = direct(kind, lon, lat, azimuth, length)

    back = Lines.between(kind, lon, lat, x, y).inverse()
    np.testing.assert_allclose(back[0], length, rtol=0, atol=1e-5)
    turn = np.abs(wrapped(back[1] - azimuth))
    assert np.max(np.radians(turn) * length) < 1e-5


@pytest.mark.parametrize("edge_kind", KINDS)
@pytest.mark.parametrize("path_kind", ["geodesic", "rhumb"])
def test_clearances_survive_finer_sampling_and_exchanged_roles(path_kind, edge_kind):
    """Three searches through different samples agree within the bound where the bound applies.

    Exchanged roles sample the longer line, so they may miss a lower valley: too long, never too short.
    """
    pairs = random_pairs(np.random.default_rng(SEED), path_kind, edge_kind, 300)
    plain = clearances(pairs.path, pairs.edge).distance_m
    finer = least_from(pairs.path, pairs.edge, count=65)[0]
    exchanged = least_from(pairs.edge, pairs.path, count=49)[0]

    assert np.max(plain - finer) <= BOUND_M
    assert np.max(plain - exchanged) <= BOUND_M
    shorter = pairs.path.inverse()[0] <= pairs.edge.inverse()[0]
    np.testing.assert_allclose(plain[shorter], finer[shorter], rtol=0, atol=BOUND_M)


@pytest.mark.parametrize("kind", KINDS)
def test_clearances_of_points_are_what_they_were_built_with(kind):
    """A point set square off a line at a distance has that distance; no search was needed to know it."""
    rng = np.random.default_rng(SEED)
    n = 200
    lon, lat = rng.uniform(-180.0, 180.0, n), rng.uniform(-80.0, 80.0, n)
    x, y, _ = GEOD.fwd(lon, lat, rng.choice([60.0, 120.0, 240.0, 300.0], n), np.full(n, 400_000.0))
    line = Lines.between(kind, lon, lat, x, np.clip(y, -84.0, 84.0))
    built = 10.0 ** rng.uniform(-3.0, np.log10(37_040.0), n)
    foot_lon, foot_lat, azimuth, _ = line.at(rng.uniform(0.2, 0.8, n))
    p_lon, p_lat, _ = GEOD.fwd(foot_lon, foot_lat, azimuth + rng.choice([-90.0, 90.0], n), built)

    np.testing.assert_allclose(distance_to_line(line, p_lon, p_lat), built, rtol=0, atol=BOUND_M)


@pytest.mark.parametrize("kind", KINDS)
def test_densified_edges_keep_to_their_lines_and_their_spacing(kind):
    """Every added point lies on its edge; steps are no longer than asked; corners are met to the last bit."""
    ring = np.array([[179.0, 60.0], [-178.5, 60.5], [-179.0, 61.5], [178.0, 61.2]])
    edges = densify(kind, ring, 500.0)
    ends = np.roll(ring, -1, axis=0)

    for (lon, lat), start, end in zip(edges, ring, ends, strict=True):
        assert distance_m(lon[:-1], lat[:-1], lon[1:], lat[1:]).max() <= 500.0
        line = Lines.between(kind, *(np.full(len(lon), c) for c in (*start, *end)))
        assert distance_to_line(line.take(slice(None, None, 40)), lon[::40], lat[::40]).max() < 1e-5
    for before, after in zip(edges, [*edges[1:], edges[0]], strict=True):
        assert before[0][-1] == after[0][0]
        assert before[1][-1] == after[1][0]


def test_inside_knows_a_box_with_a_hole_across_180_degrees():
    """Known without computing: meridians and parallels as lon/lat edges."""
    box = np.array([[178.0, -20.0], [-177.0, -20.0], [-177.0, -16.0], [178.0, -16.0]])
    hole = np.array([[-179.5, -19.0], [179.5, -19.0], [179.5, -17.0], [-179.5, -17.0]])
    lon = np.array([179.0, -179.0, 180.0, -180.0, 179.4, 179.6, 177.9, -176.9, 0.0, 178.0, 179.0])
    lat = np.array([-18.0, -18.0, -18.0, -16.5, -18.0, -18.0, -18.0, -18.0, -18.0, -15.9, -20.1])

    expected = [True, True, False, True, True, False, False, False, False, False, False]
    assert inside("lonlat", [(box, hole)], lon, lat).tolist() == expected


def test_inside_refuses_a_ring_round_the_pole():
    """Counting along a meridian means nothing there."""
    ring = np.array([[0.0, 80.0], [90.0, 80.0], [180.0 - 1e-9, 80.0], [-90.0, 80.0]])

    with pytest.raises(ValueError, match="pole"):
        inside("rhumb", [(ring,)], np.array([0.0]), np.array([85.0]))
