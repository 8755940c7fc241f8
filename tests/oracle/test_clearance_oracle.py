"""Clearances against brute force: 10 200 random pairs of all kinds of line, worst error 1 cm."""

from __future__ import annotations

import numpy as np
import pytest
from oracles import GEOD, KINDS, Lines, clearances, distance_m, distance_to_line
from strategies import FAMILIES, LONGEST_EDGE_M, random_pairs

from towzone.geodesy import approach
from towzone.geodesy.lines import LineKind

SEED = 20260301
PAIRS = 1700
"""For each of six combinations of kinds; 10 200 in all."""

TOLERANCE_M = 0.01
"""The promise: 1 cm for clearances to 20 nmi, edges to 300 nmi, latitudes -80 to 80."""


def measured(path, edge):
    return approach.clearances(
        LineKind(path.kind),
        path.lon0,
        path.lat0,
        path.lon1,
        path.lat1,
        LineKind(edge.kind),
        edge.lon0,
        edge.lat0,
        edge.lon1,
        edge.lat1,
    )


@pytest.mark.parametrize("edge_kind", KINDS)
@pytest.mark.parametrize("path_kind", ["geodesic", "rhumb"])
def test_random_pairs_agree_with_brute_force_to_a_centimetre(path_kind, edge_kind):
    """Distance, and both reported points, true to 1 cm.

    The brute force can only err upwards (by 0.1 mm); that the product is not too small either is proved by
    its own two points: each must lie on its line, and the geodesic between them must be as long as reported.
    """
    seed = SEED + 10 * KINDS.index(path_kind) + KINDS.index(edge_kind)
    pairs = random_pairs(np.random.default_rng(seed), path_kind, edge_kind, PAIRS)

    got = measured(pairs.path, pairs.edge)

    wanted = clearances(pairs.path, pairs.edge).distance_m
    error = np.abs(got.distance_m - wanted)
    error[~np.isfinite(got.distance_m)] = np.inf
    worst = int(np.argmax(error))
    apart = distance_m(got.path_lon_deg, got.path_lat_deg, got.edge_lon_deg, got.edge_lat_deg)
    off_path = distance_to_line(pairs.path, got.path_lon_deg, got.path_lat_deg)
    off_edge = distance_to_line(pairs.edge, got.edge_lon_deg, got.edge_lat_deg)
    print(
        f"\n{path_kind} path, {edge_kind} edge, seed {seed}, {PAIRS} pairs: worst error "
        f"{1000 * error[worst]:.3f} mm ({FAMILIES[pairs.family[worst]]}), points off their lines "
        f"{1000 * max(off_path.max(), off_edge.max()):.3f} mm, "
        f"reported distance off its points {1000 * np.abs(apart - got.distance_m).max():.3f} mm"
    )
    assert error[worst] <= TOLERANCE_M, (
        f"{FAMILIES[pairs.family[worst]]}: {got.distance_m[worst]} instead of {wanted[worst]} m; "
        f"{pairs.path.take([worst])}; {pairs.edge.take([worst])}"
    )
    assert off_path.max() <= TOLERANCE_M
    assert off_edge.max() <= TOLERANCE_M
    np.testing.assert_allclose(apart, got.distance_m, rtol=0, atol=TOLERANCE_M)


@pytest.mark.parametrize("kind", KINDS)
def test_the_random_pairs_cover_what_is_promised(kind):
    """The pairs reach the ends of the promise: 20 nmi, 300 nmi, 80 and 180 degrees, crossings, touches."""
    pairs = random_pairs(np.random.default_rng(SEED), "rhumb", kind, PAIRS)
    length = pairs.edge.inverse()[0]
    clearance = clearances(pairs.path, pairs.edge).distance_m

    assert set(pairs.family) == set(range(len(FAMILIES)))
    assert length.max() > 0.95 * LONGEST_EDGE_M
    assert pairs.path.inverse()[0].max() > 0.9 * LONGEST_EDGE_M
    assert 35_000.0 < clearance.max() < 38_000.0
    assert (clearance < 0.001).sum() > 100
    assert ((clearance > 0.01) & (clearance < 1.0)).sum() > 20
    assert np.abs(pairs.edge.lat0).max() > 79.0
    assert (np.abs(pairs.edge.lon1 - pairs.edge.lon0) > 300.0).sum() > 20
    assert (pairs.edge.lon1 == pairs.edge.lon0).sum() > 100
    assert (pairs.edge.lat1 == pairs.edge.lat0).sum() > 100


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("clearance_m", [0.0, 0.02, 1.0, 463.0, 1852.0, 37_040.0])
def test_a_path_that_leaves_the_boundary_squarely_has_the_clearance_it_was_built_with(kind, clearance_m):
    """Built from the answer: foot point, square to the edge, clearance, then straight away from it."""
    rng = np.random.default_rng(SEED)
    n = 60
    lon, lat = rng.uniform(-180.0, 180.0, n), rng.uniform(-80.0, 80.0, n)
    x, y = shifted(lon, lat, rng.uniform(0.0, 360.0, n), rng.uniform(10_000.0, 0.9 * LONGEST_EDGE_M, n))
    edge = Lines.between(kind, lon, lat, x, np.clip(y, -84.0, 84.0))
    foot_lon, foot_lat, azimuth, _ = edge.at(rng.uniform(0.01, 0.99, n))
    away = azimuth + rng.choice([-90.0, 90.0], n)
    near = shifted(foot_lon, foot_lat, away, np.full(n, clearance_m))
    far = shifted(foot_lon, foot_lat, away, clearance_m + 10.0 ** rng.uniform(0.0, 4.0, n))
    path = Lines.between("geodesic", *near, *far)

    got = measured(path, edge)

    # 1 mm of what is allowed is left to the construction, which is exact to a micrometre.
    np.testing.assert_allclose(got.distance_m, clearance_m, rtol=0, atol=TOLERANCE_M - 0.001)


@pytest.mark.parametrize("kind", KINDS)
def test_a_path_past_the_end_of_an_edge_is_measured_to_its_corner(kind):
    """Built from the answer: beyond the corner the corner itself is nearest."""
    rng = np.random.default_rng(SEED + 1)
    n = 120
    lon, lat = rng.uniform(-180.0, 180.0, n), rng.uniform(-75.0, 75.0, n)
    x, y = shifted(lon, lat, rng.uniform(0.0, 360.0, n), 10.0 ** rng.uniform(1.0, 5.0, n))
    edge = Lines.between(kind, lon, lat, x, y)
    _, _, azimuth, _ = edge.at(np.ones(n))
    bearing = azimuth + rng.uniform(-80.0, 80.0, n)
    clearance = 10.0 ** rng.uniform(-2.0, 4.5, n)
    near = shifted(x, y, bearing, clearance)
    far = shifted(x, y, bearing, clearance + 10.0 ** rng.uniform(0.0, 4.0, n))
    path = Lines.between("geodesic", *near, *far)

    got = measured(path, edge)

    np.testing.assert_allclose(got.distance_m, clearance, rtol=0, atol=TOLERANCE_M - 0.001)


def shifted(lon, lat, azimuth, distance):
    x, y, _ = GEOD.fwd(lon, lat, azimuth, distance)
    return (np.asarray(x) + 180.0) % 360.0 - 180.0, np.asarray(y)
