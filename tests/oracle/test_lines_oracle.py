"""Lines against numerical integrals: lengths, courses and points of all three kinds to 1 mm."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from oracles import KINDS, Lines, direct, distance_m, distance_to_line
from strategies import FAMILIES, random_pairs, wrapped

from towzone.geodesy import ellipsoid, lines
from towzone.geodesy.lines import LineKind

SEED = 20260304
TOLERANCE_M = 0.001
"""The stated accuracy of all three kinds."""


def some_lines(kind, n=1200):
    """Edges to 300 nmi, with meridians, parallels, 180 degrees, 80 degrees and lines of no length."""
    return random_pairs(np.random.default_rng(SEED), "rhumb", kind, n).edge


def long_lines(kind, n=400):
    """Lines to thousands of kilometres, over the equator and 180 degrees; none over 10 000 km."""
    rng = np.random.default_rng(SEED)
    lon, lat = rng.uniform(-180.0, 180.0, n), rng.uniform(-70.0, 70.0, n)
    line = Lines.between(kind, lon, lat, wrapped(lon + rng.uniform(-80, 80, n)), rng.uniform(-70, 70, n))
    return line.take(line.inverse()[0] < 9_999_000.0)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("make", [some_lines, long_lines])
def test_length_and_course_agree_with_integrals(kind, make):
    """Length to 1 mm; the course so that the far end moves by no more than 1 mm."""
    line = make(kind)
    wanted_length, wanted_azimuth = line.inverse()

    length, azimuth = lines.inverse(LineKind(kind), line.lon0, line.lat0, line.lon1, line.lat1)

    np.testing.assert_allclose(length, wanted_length, rtol=0, atol=TOLERANCE_M)
    turn = np.radians(np.abs(wrapped(azimuth - wanted_azimuth)))
    assert np.max(turn * np.where(wanted_length > 0.001, wanted_length, 0.0)) < TOLERANCE_M
    assert ((azimuth >= 0.0) & (azimuth < 360.0)).all()


@pytest.mark.parametrize("kind", KINDS)
def test_direct_agrees_with_integrals(kind):
    """The end of a line, found by bisection on integrals, to 1 mm."""
    rng = np.random.default_rng(SEED)
    n = 300
    lon, lat, azimuth = rng.uniform(-180, 180, n), rng.uniform(-75, 75, n), rng.uniform(0, 360, n)
    azimuth[: n // 3] = rng.choice([0.0, 90.0, 180.0, 270.0, 360.0], n // 3)
    length = 10.0 ** rng.uniform(-1.0, 5.8, n)
    wanted = direct(kind, lon, lat, azimuth, length)

    got = lines.direct(LineKind(kind), lon, lat, azimuth, length)

    assert distance_m(*got, *wanted).max() < TOLERANCE_M
    assert ((got[0] >= -180.0) & (got[0] < 180.0)).all()


@pytest.mark.parametrize("kind", KINDS)
def test_points_along_agree_with_integrals(kind):
    """Points at fractions of the length (of the RFC 7946 parameter for lon/lat lines), to 1 mm."""
    line = some_lines(kind)
    fraction = np.random.default_rng(SEED).uniform(0.0, 1.0, len(line))
    fraction[:50], fraction[50:100] = 0.0, 1.0
    wanted_lon, wanted_lat, _, _ = line.at(line.parameter(fraction))

    lon, lat = lines.points_along(LineKind(kind), line.lon0, line.lat0, line.lon1, line.lat1, fraction)

    off = distance_m(lon, lat, wanted_lon, wanted_lat)
    worst = int(np.argmax(off))
    assert off[worst] < TOLERANCE_M, (
        f"{FAMILIES[worst % len(FAMILIES)]}: {line.take([worst])} {fraction[worst]}"
    )


@pytest.mark.parametrize("kind", KINDS)
def test_lines_almost_along_a_parallel_are_as_good_as_others(kind):
    """A micrometre to 100 m of latitude on long lines, where formulas divide by almost nothing."""
    rng = np.random.default_rng(SEED)
    n = 2000
    lat = rng.uniform(-80.0, 80.0, n)
    dlat = rng.choice([-1.0, 1.0], n) * 10.0 ** rng.uniform(-11.0, -3.0, n)
    dlon = rng.uniform(0.1, 4.98, n) / np.cos(np.radians(lat))
    lon = wrapped(rng.uniform(-180.0, 180.0, n))
    line = Lines.between(kind, lon, lat, wrapped(lon + dlon), lat + dlat)
    fraction = rng.uniform(0.0, 1.0, n)
    columns = (LineKind(kind), line.lon0, line.lat0, line.lon1, line.lat1)

    length, _ = lines.inverse(*columns)
    x, y = lines.points_along(*columns, fraction)

    np.testing.assert_allclose(length, line.inverse()[0], rtol=0, atol=TOLERANCE_M)
    assert distance_to_line(line, x, y).max() < TOLERANCE_M
    assert distance_m(x, y, *line.at(line.parameter(fraction))[:2]).max() < TOLERANCE_M


def test_geodesics_agree_with_a_second_implementation():
    """Live cross-check: geographiclib in Python against the engine in use, 2 000 random geodesics."""
    rng = np.random.default_rng(SEED)
    n = 2000
    lon, lat = rng.uniform(-180.0, 180.0, n), rng.uniform(-88.0, 88.0, n)
    azimuth, length = rng.uniform(0.0, 360.0, n), 10.0 ** rng.uniform(-2.0, 6.9, n)
    answers = [Geodesic.WGS84.Direct(*row) for row in zip(lat, lon, azimuth, length, strict=True)]
    x, y = (np.array([a[name] for a in answers]) for name in ("lon2", "lat2"))
    keep = np.abs(y) < 89.0

    columns = (lon[keep], lat[keep])
    got_x, got_y = lines.direct(LineKind.GEODESIC, *columns, azimuth[keep], length[keep])
    got_length, got_azimuth = lines.inverse(LineKind.GEODESIC, *columns, x[keep], y[keep])

    assert keep.sum() > 1900
    # Two implementations of 15 nm each, and latitudes rounded to 1e-14 degrees (1 nm).
    assert distance_m(got_x, got_y, x[keep], y[keep]).max() < 1e-7
    np.testing.assert_allclose(got_length, length[keep], rtol=0, atol=1e-7)
    turn = np.radians(np.abs(wrapped(got_azimuth - azimuth[keep])))
    assert np.max(turn * length[keep]) < 1e-6


@pytest.mark.parametrize(("longest_m", "promise_m"), [(40_000.0, 0.0001), (200_000.0, 0.005)])
def test_the_bent_chord_keeps_its_promise(longest_m, promise_m):
    """The arc of the middle curvature against exact geodesics: 0.1 mm to 40 km, 5 mm to 200 km."""
    rng = np.random.default_rng(SEED)
    n = 20_000
    lon, lat = rng.uniform(-180.0, 180.0, n), rng.uniform(-89.0, 89.0, n)
    wanted = longest_m * rng.uniform(0.0, 1.0, n) ** 0.2
    line = Lines.between("geodesic", lon, lat, *direct("geodesic", lon, lat, rng.uniform(0, 360, n), wanted))

    got = ellipsoid.arc_from_chord(
        ellipsoid.to_geocentric(line.lon0, line.lat0), ellipsoid.to_geocentric(line.lon1, line.lat1)
    )

    assert np.abs(got - line.inverse()[0]).max() < promise_m
