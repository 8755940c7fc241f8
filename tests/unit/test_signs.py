"""Signs, wraps and refusals: +-0, +-180, 179.9999, poles, NaN, infinities, no length, no rows."""

from __future__ import annotations

import numpy as np
import pytest
from oracles import KINDS, distance_m

from towzone.errors import GeometryError
from towzone.geodesy import approach, lines
from towzone.geodesy.ellipsoid import LATITUDE_LIMIT_DEG
from towzone.geodesy.lines import LineKind
from towzone.geodesy.region import Region
from towzone.geodesy.shape import Shape, freeze

pytestmark = pytest.mark.parametrize("kind", [LineKind(kind) for kind in KINDS])

NOTHING = np.empty(0)


def clearance(kind, path, edge):
    columns = [[c] for c in path], [[c] for c in edge]
    return float(approach.clearances(LineKind.GEODESIC, *columns[0], kind, *columns[1]).distance_m[0])


@pytest.mark.parametrize("zero_lon", [0.0, -0.0])
@pytest.mark.parametrize("zero_lat", [0.0, -0.0])
def test_the_sign_of_zero_changes_nothing(kind, zero_lon, zero_lat):
    """-0.0 is 0.0 in every coordinate."""
    got = lines.inverse(kind, zero_lon, zero_lat, 1.0, 1.0)
    plain = lines.inverse(kind, 0.0, 0.0, 1.0, 1.0)
    back = lines.inverse(kind, 1.0, 1.0, zero_lon, zero_lat)

    assert [float(c) for c in got] == [float(c) for c in plain]
    assert [float(c) for c in back] == [float(c) for c in lines.inverse(kind, 1.0, 1.0, 0.0, 0.0)]


@pytest.mark.parametrize(
    ("lon0", "lon1", "width"),
    [
        (180.0, -179.0, 1.0),
        (-180.0, -179.0, 1.0),
        (179.0, 180.0, 1.0),
        (179.0, -180.0, 1.0),
        (179.9999, -179.9999, 0.0002),
        (180.0, -180.0, 0.0),
        (-180.0, 180.0, 0.0),
        (359.5, 0.5, 1.0),
        (190.0, -169.0, 1.0),
    ],
)
def test_longitudes_meet_at_180_and_360(kind, lon0, lon1, width):
    """A line over 180 degrees goes the short way, and +180 is -180."""
    length, azimuth = lines.inverse(kind, lon0, 12.0, lon1, 12.0)
    wanted, course = lines.inverse(kind, 10.0, 12.0, 10.0 + width, 12.0)

    assert abs(float(length) - float(wanted)) < 1e-6
    if width:
        assert abs(float(azimuth) - float(course)) < 1e-6


def test_azimuths_are_0_to_360(kind):
    """No negative course and no 360."""
    ends = np.array([(0, 1), (1, 0), (0, -1), (-1, 0), (-1e-12, 1), (1e-12, 1), (-1, 1e-12), (-1e-3, -1)])
    _, azimuth = lines.inverse(kind, 0.0, 0.0, ends[:, 0], ends[:, 1])

    assert ((azimuth >= 0.0) & (azimuth < 360.0)).all()
    assert azimuth[:4].tolist() == [0.0, 90.0, 180.0, 270.0]


@pytest.mark.parametrize("azimuth", [-90.0, 270.0, 630.0])
def test_direct_takes_courses_of_any_turn(kind, azimuth):
    """-90, 270 and 630 degrees are west."""
    lon, lat = lines.direct(kind, -179.9, 0.0, azimuth, 111_319.490793)

    assert abs(float(lon) - 179.1) < 1e-9
    assert abs(float(lat)) < 1e-9


def test_direct_ends_in_half_open_range(kind):
    """The far end is never +180."""
    lon, _ = lines.direct(kind, 179.0, 0.0, 90.0, np.linspace(0.0, 400_000.0, 101))

    assert ((lon >= -180.0) & (lon < 180.0)).all()


def test_direct_of_no_length_stays(kind):
    """Whatever the course."""
    lon, lat = lines.direct(kind, [5.0, 180.0, -180.0], [54.0, -70.0, 0.0], [0.0, 123.0, 270.0], 0.0)

    assert distance_m(lon, lat, [5.0, -180.0, -180.0], [54.0, -70.0, 0.0]).max() < 1e-8


def test_a_line_of_no_length_has_length_0_and_a_finite_course(kind):
    """The same corner twice; also once as +180 and once as -180."""
    length, azimuth = lines.inverse(
        kind, [5.0, 180.0, 0.0], [54.0, 60.0, 0.0], [5.0, -180.0, -0.0], [54.0, 60.0, -0.0]
    )

    assert length.tolist() == [0.0, 0.0, 0.0]
    assert np.isfinite(azimuth).all()
    assert ((azimuth >= 0.0) & (azimuth < 360.0)).all()


def test_points_along_a_line_of_no_length_are_that_point(kind):
    """No division by the length of nothing."""
    lon, lat = lines.points_along(kind, 5.0, 54.0, 5.0, 54.0, [0.0, 0.5, 1.0])

    assert distance_m(lon, lat, np.full(3, 5.0), np.full(3, 54.0)).max() < 1e-8


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
@pytest.mark.parametrize("place", range(4))
def test_numbers_that_are_not_finite_are_refused(kind, bad, place):
    """NaN compares False with everything: it would be clear of every zone."""
    columns = [1.0, 2.0, 3.0, 4.0]
    columns[place] = bad

    with pytest.raises(GeometryError):
        lines.inverse(kind, *columns)
    with pytest.raises(GeometryError):
        lines.direct(kind, *columns)
    with pytest.raises(GeometryError):
        lines.points_along(kind, *columns, 0.5)
    with pytest.raises(GeometryError):
        lines.points_along(kind, 1.0, 2.0, 3.0, 4.0, bad)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
@pytest.mark.parametrize("place", range(4))
def test_clearances_of_numbers_that_are_not_finite_are_refused(kind, bad, place):
    """An infinite distance, or none, would be a false clear."""
    for columns in ([1.0, 2.0, 3.0, 4.0], [1.0, 2.0, 1.0, 2.0]):
        columns[place] = bad
        with pytest.raises(GeometryError):
            clearance(kind, (0.0, 0.0, 0.1, 0.1), columns)
        with pytest.raises(GeometryError):
            clearance(kind, columns, (0.0, 0.0, 0.1, 0.1))


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_sides_of_positions_that_are_not_finite_are_refused(kind, bad):
    """Outside would be a false clear."""
    zone = Region(Shape(polygons=((freeze([(0, 50), (1, 50), (1, 51)]),),)), kind)

    with pytest.raises(GeometryError):
        zone.contains([0.5, bad], [50.2, 50.2])
    with pytest.raises(GeometryError):
        zone.contains([0.5, 0.5], [50.2, bad])


@pytest.mark.parametrize("lat", [90.0, -90.0, 89.0001, -89.0001, 91.0, -123.0])
def test_latitudes_at_and_beyond_the_limit_are_refused(kind, lat):
    """At either end; a pole is no corner."""
    assert abs(lat) > LATITUDE_LIMIT_DEG
    for ends in (
        (0.0, lat, 1.0, lat - np.sign(lat)),
        (0.0, lat - np.sign(lat) * 2, 1.0, lat),
        (0.0, lat, 0.0, lat),
    ):
        with pytest.raises(GeometryError, match="latitude"):
            lines.inverse(kind, *ends)
        with pytest.raises(GeometryError):
            lines.points_along(kind, *ends, 0.5)
    with pytest.raises(GeometryError, match="latitude"):
        lines.direct(kind, 0.0, lat, 0.0, 1.0)


@pytest.mark.parametrize("lat", [90.0, -90.0, 89.0001, -89.0001, 91.0, -123.0])
def test_clearances_at_and_beyond_the_latitude_limit_are_refused(kind, lat):
    """Long lines, lines of half a metre and lone points alike."""
    near = lat - np.sign(lat)
    for ends in (
        (0.0, lat, 1.0, near),
        (0.0, near, 1.0, lat),
        (0.0, lat, 0.0, lat),
        (0.0, lat, 0.0, lat + 5e-6),
    ):
        with pytest.raises(GeometryError, match="latitude"):
            clearance(kind, (0.0, 80.0, 0.1, 80.1), ends)
        with pytest.raises(GeometryError, match="latitude"):
            clearance(kind, ends, (0.0, 80.0, 0.1, 80.1))


def test_the_latitude_limit_itself_is_allowed(kind):
    """The limit is inclusive."""
    length, _ = lines.inverse(kind, 0.0, LATITUDE_LIMIT_DEG, 1.0, -LATITUDE_LIMIT_DEG + 100.0)

    assert np.isfinite(length)


def test_half_way_round_is_refused(kind):
    """|dlon| of exactly 180 degrees does not say which way; a hair less does."""
    for lon0, lon1 in ((0.0, 180.0), (0.0, -180.0), (-90.0, 90.0), (90.0, -90.0), (10.0, 190.0)):
        with pytest.raises(GeometryError, match="180"):
            lines.inverse(kind, lon0, 80.0, lon1, 80.0)
        with pytest.raises(GeometryError):
            lines.points_along(kind, lon0, 80.0, lon1, 80.0, 0.5)
        with pytest.raises(GeometryError):
            clearance(kind, (0.0, 80.0, 0.1, 80.1), (lon0, 80.0, lon1, 80.0))
    length, azimuth = lines.inverse(kind, 0.0, 80.0, 179.999999, 80.0)
    assert np.isfinite(length)
    assert float(azimuth) <= 90.0


def test_over_long_lines_are_refused(kind):
    """Over 10 000 km, and nearly antipodal."""
    for ends in ((0.0, 0.0, 100.0, 0.0), (-50.0, 45.0, 129.9, -45.0), (0.0, -60.0, 1.0, 60.0)):
        with pytest.raises(GeometryError, match="km"):
            lines.inverse(kind, *ends)
        with pytest.raises(GeometryError):
            clearance(kind, (0.0, 0.0, 0.1, 0.1), ends)
    with pytest.raises(GeometryError, match="km"):
        lines.direct(kind, 0.0, 0.0, 90.0, 10_000_001.0)


def test_one_bad_row_among_good_ones_is_not_overlooked(kind):
    """A column is refused whole."""
    lat = np.full(50, 54.0)
    lat[37] = np.nan
    with pytest.raises(GeometryError):
        lines.inverse(kind, np.zeros(50), lat, np.ones(50), np.full(50, 55.0))
    with pytest.raises(GeometryError):
        approach.clearances(
            *(LineKind.GEODESIC, np.zeros(50), lat, np.zeros(50), lat),
            *(kind, np.zeros(50), np.full(50, 55.0), np.ones(50), np.full(50, 55.0)),
        )


def test_no_rows_in_no_rows_out(kind):
    """Empty columns are no error."""
    assert [c.shape for c in lines.inverse(kind, NOTHING, NOTHING, NOTHING, NOTHING)] == [(0,), (0,)]
    assert [c.shape for c in lines.direct(kind, NOTHING, NOTHING, NOTHING, NOTHING)] == [(0,), (0,)]
    assert [c.shape for c in lines.points_along(kind, *[NOTHING] * 5)] == [(0,), (0,)]
    found = approach.clearances(LineKind.GEODESIC, *[NOTHING] * 4, kind, *[NOTHING] * 4)
    assert found.distance_m.shape == (0,)
    box = Region(Shape(polygons=((freeze([(0, 50), (1, 50), (1, 51)]),),)), kind)
    assert box.contains(NOTHING, NOTHING).shape == (0,)
    assert Region(Shape(), kind).contains([0.5, 180.0], [50.2, 0.0]).tolist() == [False, False]


def test_arrays_broadcast_and_scalars_agree_with_rows(kind):
    """The same numbers however they are passed."""
    lon, lat = np.array([[0.0, 179.5, -3.0]]), np.array([[54.0], [-60.0]])
    length, azimuth = lines.inverse(kind, lon, lat, lon + 1.0, lat + 1.0)

    assert length.shape == azimuth.shape == (2, 3)
    for i in range(2):
        for j in range(3):
            one = lines.inverse(kind, lon[0, j], lat[i, 0], lon[0, j] + 1.0, lat[i, 0] + 1.0)
            assert np.shape(one[0]) == ()
            assert abs(float(one[0]) - length[i, j]) < 1e-8
            assert abs(float(one[1]) - azimuth[i, j]) < 1e-10


def test_inputs_are_not_changed(kind):
    """Arrays of the caller stay as they were."""
    columns = [
        np.array([181.0, -0.0]),
        np.array([54.0, -54.0]),
        np.array([-178.0, 1.0]),
        np.array([55.0, -55.0]),
    ]
    before = [c.copy() for c in columns]

    lines.inverse(kind, *columns)
    lines.direct(kind, *columns)
    lines.points_along(kind, *columns, np.array([0.5, 0.5]))
    approach.clearances(kind, *columns, kind, *columns)

    for now, then in zip(columns, before, strict=True):
        np.testing.assert_array_equal(now, then)


@pytest.mark.parametrize("seam", [180.0, -180.0])
def test_points_on_180_degrees_are_inside_whatever_their_sign(kind, seam):
    """A zone across 180 degrees has no slit there, nor has a path."""
    ring = freeze([(179.0, 50.0), (-179.0, 50.0), (-179.0, 52.0), (179.0, 52.0)])
    zone = Region(Shape(polygons=((ring,),)), kind)

    assert zone.contains([seam, seam, seam], [51.0, 49.9, 52.1]).tolist() == [True, False, False]
    assert clearance(kind, (seam, 49.0, seam, 51.0), (179.0, 50.0, -179.0, 50.0)) == 0.0


def test_a_path_beside_180_degrees_sees_an_edge_on_the_other_side(kind):
    """0.0002 degrees of the equator, 22.26 m, not 40 000 km."""
    got = clearance(kind, (179.9999, 0.0, 179.9999, 0.0), (-179.9999, -1.0, -179.9999, 1.0))

    assert abs(got - 22.263898) < 0.0005
