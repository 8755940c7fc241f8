"""Lengths, courses and ends of lines against published and recomputed values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from oracles import Lines, distance_to_line
from reference_rows import rows

from towzone.errors import GeometryError
from towzone.geodesy import approach, lines
from towzone.geodesy.ellipsoid import isometric_latitude
from towzone.geodesy.lines import LineKind

NAUTICAL_MILE_M = 1852.0
UNITS_M = {"m": 1.0, "nmi": NAUTICAL_MILE_M}


def ends(row):
    return tuple(row.number(name) for name in ("lon0_deg", "lat0_deg", "lon1_deg", "lat1_deg"))


def turned(difference_deg):
    """A difference of angles, the short way round."""
    return (difference_deg + 180.0) % 360.0 - 180.0


@pytest.mark.parametrize("row", rows("lines.csv", quantity=["length"]))
def test_length_is_the_reference_value(row):
    """Lengths of geodesics and rhumb lines, to half of the last printed digit."""
    length_m, _ = lines.inverse(LineKind(row.inputs["line"]), *ends(row))

    assert abs(float(length_m) / UNITS_M[row.unit] - row.value) <= row.tolerance


@pytest.mark.parametrize("row", rows("lines.csv", quantity=["azimuth"]))
def test_course_is_the_reference_value(row):
    """Forward azimuth at the start, 0 to 360."""
    _, azimuth_deg = lines.inverse(LineKind(row.inputs["line"]), *ends(row))

    assert 0.0 <= float(azimuth_deg) < 360.0
    assert abs(turned(float(azimuth_deg) - row.value)) <= row.tolerance


@pytest.mark.parametrize("row", rows("lines.csv", quantity=["refused"]))
def test_over_long_lines_are_refused(row):
    """Published lines over 10 000 km, nearly antipodal ones and the pole raise, and give no number."""
    assert row.value > 10_000_000
    with pytest.raises(GeometryError):
        lines.inverse(LineKind(row.inputs["line"]), *ends(row))


@pytest.mark.parametrize("row", rows("ends.csv", quantity=["lon", "lat"]))
def test_end_of_a_line_is_the_reference_value(row):
    """The direct problem, to half of the last printed digit."""
    columns = (row.number(name) for name in ("lon0_deg", "lat0_deg", "azimuth_deg", "length_m"))
    lon, lat = lines.direct(LineKind(row.inputs["line"]), *columns)

    got = float(lon) if row.inputs["quantity"] == "lon" else float(lat)
    assert abs(turned(got - row.value)) <= row.tolerance
    assert -180.0 <= float(lon) < 180.0


@pytest.mark.parametrize("row", rows("degrees.csv", what=["degree of latitude", "minute of latitude"]))
@pytest.mark.parametrize("kind", list(LineKind))
def test_degree_of_latitude_has_its_length(row, kind):
    """Along a meridian all three kinds of line are the same."""
    lat, half = row.number("lat_deg"), 0.5 if row.inputs["what"].startswith("degree") else 0.5 / 60

    length_m, _ = lines.inverse(kind, 7.0, lat - half, 7.0, lat + half)

    assert abs(float(length_m) - row.value) <= row.tolerance


@pytest.mark.parametrize("row", rows("degrees.csv", what=["degree of longitude", "minute of longitude"]))
@pytest.mark.parametrize("kind", [LineKind.RHUMB, LineKind.LONLAT])
def test_degree_of_longitude_has_its_length(row, kind):
    """Along a parallel rhumb and lon/lat lines are the same, and longer than the geodesic."""
    lat, width = row.number("lat_deg"), 1.0 if row.inputs["what"].startswith("degree") else 1.0 / 60

    length_m, azimuth_deg = lines.inverse(kind, -0.5, lat, -0.5 + width, lat)

    assert abs(float(length_m) - row.value) <= row.tolerance
    assert float(azimuth_deg) == 90.0


@pytest.mark.parametrize("row", rows("meridional_parts.csv", ellipsoid=["wgs84"]))
def test_meridional_parts_are_the_reference_values(row):
    """Isometric latitude in minutes of arc, north and south."""
    parts = np.degrees(isometric_latitude(row.number("lat_deg"))) * 60.0

    assert abs(parts - row.value) <= row.tolerance
    assert np.degrees(isometric_latitude(-row.number("lat_deg"))) * 60.0 == -parts


def classical_parts(lat_deg):
    """Meridional parts as quoted from Shufeldt and Newcomer (1980), The Calculator Afloat."""
    lat = math.radians(lat_deg)
    return 7915.7045 * math.log10(math.tan(math.pi / 4 + lat / 2)) - 23.2689 * math.sin(lat)


@pytest.mark.parametrize("row", rows("meridional_parts.csv", ellipsoid=["classical"]))
def test_classical_meridional_parts_differ_by_their_ellipsoid_only(row):
    """The quoted formula gives its table; ours lies 0.1 to 0.25 minutes above, all of it ellipsoid."""
    parts = np.degrees(isometric_latitude(row.number("lat_deg"))) * 60.0

    assert abs(classical_parts(row.number("lat_deg")) - row.value) <= row.tolerance
    assert 0.10 < parts - row.value < 0.25


@pytest.mark.parametrize("row", rows("mercator_sailing.csv", quantity=["course", "distance"]))
def test_classical_mercator_sailing_gives_the_printed_figures(row):
    """By hand: tan C = DLo / m, D = DLat / cos C, with 60 nautical miles to a degree of latitude."""
    lon0, lat0, lon1, lat1 = ends(row)
    parts = classical_parts(lat1) - classical_parts(lat0)
    course = math.atan2((lon1 - lon0) * 60.0, parts)
    got = {"course": math.degrees(course) % 360.0, "distance": (lat1 - lat0) * 60.0 / math.cos(course)}

    assert abs(got[row.inputs["quantity"]] - row.value) <= row.tolerance


@pytest.mark.parametrize("row", rows("mercator_sailing.csv", quantity=["true course", "true length"]))
def test_the_ellipsoid_corrects_mercator_sailing(row):
    """Ours is the true rhumb line: same course within 0.05 degrees, shorter by up to 0.2 %."""
    length_m, azimuth_deg = lines.inverse(LineKind.RHUMB, *ends(row))
    got = {"true course": float(azimuth_deg), "true length": float(length_m) / NAUTICAL_MILE_M}

    assert abs(got[row.inputs["quantity"]] - row.value) <= row.tolerance
    lon0, lat0, lon1, lat1 = ends(row)
    course = math.atan2((lon1 - lon0) * 60.0, classical_parts(lat1) - classical_parts(lat0))
    classical_nmi = (lat1 - lat0) * 60.0 / math.cos(course)
    assert 0.0 < classical_nmi / got["true length"] - 1.0 < 0.002
    assert abs(turned(math.degrees(course) - float(azimuth_deg))) < 0.05


@pytest.mark.parametrize("row", rows("boundaries.csv", quantity=["midpoint_lat", "midpoint_lon"]))
def test_half_way_along_the_long_leg(row):
    """`points_along` at half of the length of a published closure edge."""
    lon, lat = lines.points_along(LineKind(row.inputs["line"]), *ends(row), row.number("at"))

    got = float(lat) if row.inputs["quantity"] == "midpoint_lat" else float(lon)
    assert abs(got - row.value) <= row.tolerance


@pytest.mark.parametrize("row", rows("boundaries.csv", quantity=["boundary_lat"]))
def test_the_boundary_crosses_the_meridian_where_the_reference_says(row):
    """The three kinds of edge cross 30°30'W up to 8 km apart; a meridian meets each where it is known."""
    lon = row.number("at")
    found = approach.clearances(
        LineKind.GEODESIC,
        [lon],
        [57.0],
        [lon],
        [60.0],
        LineKind(row.inputs["line"]),
        *([c] for c in ends(row)),
    )

    assert found.distance_m.tolist() == [0.0]
    assert abs(float(found.path_lon_deg[0]) - lon) < 1e-9
    assert abs(float(found.path_lat_deg[0]) - row.value) <= row.tolerance


@pytest.mark.parametrize("row", rows("boundaries.csv", quantity=["widest_gap"]))
def test_the_kinds_of_line_lie_as_far_apart_as_the_reference_says(row):
    """Widest distance of points of the rhumb line (by brute force) from the other line (by the product)."""
    u = np.linspace(0.0, 1.0, 401)
    rhumb = Lines.between("rhumb", *(np.full(401, c) for c in ends(row)))
    lon, lat, _, _ = rhumb.at(u)
    kind = LineKind(row.inputs["line"])

    found = approach.clearances(
        LineKind.GEODESIC, lon, lat, lon, lat, kind, *(np.full(401, c) for c in ends(row))
    )

    assert abs(found.distance_m.max() - row.value) <= row.tolerance
    other = Lines.between(row.inputs["line"], *(np.full(401, c) for c in ends(row)))
    assert abs(distance_to_line(other, lon, lat).max() - row.value) <= row.tolerance


def test_the_antimeridian_line_of_rfc_7946_is_20_degrees_long_cut_or_not():
    """Published: RFC 7946 (2016) section 3.1.9: 45N 170E to 45N 170W, cut at 180 into two parts."""
    whole, course = lines.inverse(LineKind.LONLAT, 170.0, 45.0, -170.0, 45.0)
    east, _ = lines.inverse(LineKind.LONLAT, 170.0, 45.0, 180.0, 45.0)
    west, _ = lines.inverse(LineKind.LONLAT, -180.0, 45.0, -170.0, 45.0)

    assert abs(float(east + west) - float(whole)) < 1e-6
    # Derived by hand: 20 degrees of the parallel of 45N, a cos(lat) / sqrt(1 - e2 sin(lat)**2) each radian.
    e2 = (2.0 - 1 / 298.257223563) / 298.257223563
    assert abs(float(whole) - math.radians(20) * 6378137.0 * math.sqrt(0.5 / (1.0 - e2 / 2.0))) < 1e-6
    assert float(course) == 90.0


@pytest.mark.parametrize("lat_deg", [0.0, 28.5, -45.0, 61.25, -80.0])
@pytest.mark.parametrize("lon_deg", [2.5, 180.0, -180.0])
def test_500_m_round_a_point_is_500_m_in_every_direction(lon_deg, lat_deg):
    """UK safety zone: 'within 500 metres of any part' of an installation, Petroleum Act 1987 s. 21(5).

    Points built by geographiclib (another implementation) at 499.99 and 500.01 m on 24 bearings.
    """
    for distance_m in (499.99, 500.01):
        built = [
            Geodesic.WGS84.Direct(lat_deg, lon_deg, azimuth, distance_m) for azimuth in range(0, 360, 15)
        ]
        lon, lat = (np.array([p[name] for p in built]) for name in ("lon2", "lat2"))
        n = len(built)

        found = approach.clearances(
            *(LineKind.GEODESIC, lon, lat, lon, lat),
            *(LineKind.GEODESIC, [lon_deg] * n, [lat_deg] * n, [lon_deg] * n, [lat_deg] * n),
        )

        np.testing.assert_allclose(found.distance_m, distance_m, rtol=0, atol=0.001)
        assert ((found.distance_m <= 500.0) == (distance_m < 500.0)).all()
