"""Coordinates on the ellipsoid: round trips, symmetries, and the frame clearances are measured in."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from oracles import GEOD, Lines, distance_m
from pyproj import Transformer
from strategies import azimuths, latitudes, legs, longitudes, numbers

from towzone.geodesy import ellipsoid
from towzone.geodesy.ellipsoid import (
    arc_from_chord,
    arc_vectors,
    from_geocentric,
    isometric_latitude,
    latitude_from_isometric,
    to_geocentric,
    wrap_longitude,
)


def test_constants_are_wgs_84():
    """Published: NGA.STND.0036 (2014), Tables 3.1 (a, 1/f), 3.5 (b 6 356 752.3142, e2 6.694379990141e-3)."""
    assert ellipsoid.SEMI_MAJOR_M == 6378137.0
    assert ellipsoid.FLATTENING == 1 / 298.257223563
    assert abs(ellipsoid.SEMI_MINOR_M - 6356752.3142) <= 0.00005
    assert abs(ellipsoid.ECCENTRICITY_SQUARED - 6.694379990141e-3) <= 0.5e-15


@given(longitudes(), latitudes(89.0))
def test_geocentric_round_trip_is_exact_to_a_nanometre(lon, lat):
    """There and back."""
    back_lon, back_lat = from_geocentric(to_geocentric([lon], [lat]))

    assert distance_m([lon], [lat], back_lon, back_lat)[0] < 1e-8


def test_geocentric_agrees_with_another_program():
    """Live cross-check: PROJ's EPSG:4979 to EPSG:4978 at height 0."""
    rng = np.random.default_rng(1)
    lon, lat = rng.uniform(-180.0, 180.0, 500), rng.uniform(-90.0, 90.0, 500)
    other = Transformer.from_crs("EPSG:4979", "EPSG:4978", always_xy=True)

    wanted = np.stack(other.transform(lon, lat, np.zeros(500)), axis=-1)

    np.testing.assert_allclose(to_geocentric(lon, lat), wanted, rtol=0, atol=1e-8)


@given(longitudes(), latitudes(85.0), numbers(-50.0, 50.0))
def test_points_a_little_off_the_surface_come_back_under_themselves(lon, lat, height_m):
    """Moving h metres radially shifts sideways by less than 0.0034 h, as documented."""
    xyz = to_geocentric([lon], [lat])
    radial = xyz / np.linalg.norm(xyz, axis=-1)[:, None]

    back_lon, back_lat = from_geocentric(xyz + height_m * radial)

    assert distance_m([lon], [lat], back_lon, back_lat)[0] <= 0.0034 * abs(height_m) + 1e-8


@given(latitudes(89.0))
@example(-0.0)
@example(5e-324)
def test_isometric_latitude_round_trips_and_mirrors(lat):
    """Back to the last digits, odd in latitude."""
    isometric = isometric_latitude(lat)

    assert abs(float(latitude_from_isometric(isometric)) - lat) < 1e-12
    assert float(isometric_latitude(-lat)) == -float(isometric)


@given(latitudes(88.9), numbers(1e-6, 0.1))
def test_isometric_latitude_grows_faster_than_latitude(lat, step):
    """Mercator's chart stretches polewards, and never less than at the equator (by 1 - e2)."""
    growth = isometric_latitude(lat + step) - isometric_latitude(lat)

    assert growth > np.radians(step) * (1.0 - ellipsoid.ECCENTRICITY_SQUARED) * (1.0 - 1e-9)


@given(legs(200_000.0))
@example((0.0, 0.0, 0.0, 0.0))
@example((179.9999, 10.0, -179.9999, 10.0))
def test_the_bent_chord_is_the_geodesic(leg):
    """0.1 mm to 40 km, 5 mm to 200 km; symmetric; nought for a line of no length."""
    a, b = to_geocentric([leg[0]], [leg[1]]), to_geocentric([leg[2]], [leg[3]])
    wanted = distance_m(leg[0], leg[1], leg[2], leg[3])

    got = arc_from_chord(a, b)[0]

    assert abs(got - wanted) < (0.0001 if wanted < 40_000.0 else 0.005)
    assert arc_from_chord(b, a)[0] == got
    assert got >= np.linalg.norm(b - a) - 1e-12  # a bit or two of rounding in the norm itself


@given(longitudes(), latitudes(85.0), azimuths(), numbers(0.001, 30_000.0))
def test_plane_coordinates_are_true_from_their_origin(lon, lat, azimuth, length_m):
    """Length to 0.1 mm; direction to 1 mm sideways, or a millionth of the length if that is more."""
    x, y, _ = GEOD.fwd(lon, lat, azimuth, length_m)

    east, north = arc_vectors(to_geocentric(lon, lat), to_geocentric(x, y))

    assert abs(np.hypot(east, north) - length_m) < 1e-4
    turn = (np.degrees(np.arctan2(east, north)) - azimuth + 180.0) % 360.0 - 180.0
    assert abs(np.radians(turn)) * length_m < max(0.001, 1e-6 * length_m)


def test_plane_coordinates_of_the_origin_are_nought():
    """No division by the length of nothing."""
    here = to_geocentric([5.0, -180.0], [54.0, -80.0])

    assert arc_vectors(here, here).tolist() == [[0.0, 0.0], [0.0, 0.0]]


@pytest.mark.parametrize(
    ("lon", "expected"),
    [
        (180.0, -180.0),
        (-180.0, -180.0),
        (179.9999, 179.9999),
        (-179.9999, -179.9999),
        (360.0, 0.0),
        (-360.0, 0.0),
        (540.0, -180.0),
        (0.0, 0.0),
        (-0.0, 0.0),
        (1e-300, 1e-300),
    ],
)
def test_wrap_longitude_at_its_edges(lon, expected):
    """[-180, 180), and nothing lost in between."""
    assert float(wrap_longitude(lon)) == expected


@given(numbers(-1e4, 1e4))
def test_wrap_longitude_lands_in_range_and_changes_by_whole_turns(lon):
    """The angle is the same."""
    got = float(wrap_longitude(lon))

    assert -180.0 <= got < 180.0
    turns = (lon - got) / 360.0
    assert abs(turns - round(turns)) < 1e-12


def test_empty_arrays_go_through():
    """No rows in, no rows out."""
    nothing = np.empty(0)

    assert to_geocentric(nothing, nothing).shape == (0, 3)
    assert [c.shape for c in from_geocentric(np.empty((0, 3)))] == [(0,), (0,)]
    assert isometric_latitude(nothing).shape == (0,)
    assert latitude_from_isometric(nothing).shape == (0,)
    assert arc_from_chord(np.empty((0, 3)), np.empty((0, 3))).shape == (0,)
    assert len(Lines.between("rhumb", nothing, nothing, nothing, nothing)) == 0
