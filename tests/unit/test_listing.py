"""Figures of zones: areas by the edge rule, extents across 180 degrees, what is in force on a day."""

from __future__ import annotations

from datetime import UTC, date, datetime

import numpy as np
import pytest
from bad_inputs import feature
from hypothesis import given
from hypothesis import strategies as st
from zone_sets import PUBLISHED, area, box, zones_of

from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape, freeze
from towzone.model.rules import Rules
from towzone.surveys.listing import listing
from towzone.surveys.measures import Extent, area_m2, departure, extent, sides_m
from towzone.surveys.moments import InForce, in_force_on

SEMI_MAJOR_M, E2 = 6378137.0, 0.0066943799901413165
"""Published: NGA.STND.0036 (2014), WGS 84, Table 3.1 and the first eccentricity squared that follows."""


def shape_of(*rings):
    return Shape(polygons=(tuple(freeze(ring) for ring in rings),))


def zone_between_parallels_m2(south_deg, north_deg, width_deg):
    """Exact area of the ellipsoid between parallels and meridians.

    Snyder (1987), Map Projections, USGS Professional Paper 1395, eq. 3-12 (authalic latitude):
    a**2 (1 - e**2) (q(north) - q(south)) / 2 for a radian of longitude.
    """
    e = np.sqrt(E2)

    def q(lat_deg):
        s = np.sin(np.radians(lat_deg))
        return s / (1 - E2 * s**2) + np.arctanh(e * s) / e

    return SEMI_MAJOR_M**2 * (1 - E2) / 2 * (q(north_deg) - q(south_deg)) * np.radians(width_deg)


@pytest.mark.parametrize(
    ("name", "area_km2"),
    [
        # Computed once with geodesic edges on WGS 84 (polygon areas of Karney 2013); corners as printed
        # in Council Regulation (EU) 2025/202 Annex IV and Regulation (EU) 2019/1241 Annex XII.
        ("Coral edge", 1072.74),
        ("Foula Deeps", 297.67),
        ("West Bank", 2832.16),
        ("Revet", 218.37),
        ("Rabarberen", 36.84),
        ("Northern MAR", 39795.06),
    ],
)
def test_areas_of_published_zones_with_geodesic_edges(name, area_km2):
    """To the last digit of the list."""
    found = area_m2(shape_of(PUBLISHED[name]), LineKind.GEODESIC) / 1e6

    assert found == pytest.approx(area_km2, rel=0, abs=0.005)


@pytest.mark.parametrize("kind", [LineKind.RHUMB, LineKind.LONLAT])
@pytest.mark.parametrize(
    ("south", "height", "width"), [(56.5, 0.5, 1.0), (-10.0, 20.0, 30.0), (70.0, 5.0, 12.0)]
)
def test_areas_between_parallels_are_those_of_the_closed_formula(kind, south, height, width):
    """Along parallels and meridians rhumb lines and lon/lat lines are the same."""
    found = area_m2(shape_of(box(170.0, south, width, height)), kind)
    if 170.0 + width > 180.0:
        wrapped = [((lon + 180.0) % 360.0 - 180.0, lat) for lon, lat in box(170.0, south, width, height)]
        found = area_m2(shape_of(wrapped), kind)
    exact = zone_between_parallels_m2(south, south + height, width)

    assert found == pytest.approx(exact, rel=1e-6, abs=0)


def test_a_hole_is_taken_off_and_parts_are_added():
    """Two boxes, one with a hole."""
    whole = area_m2(shape_of(box(0, 50)), LineKind.RHUMB)
    hole = area_m2(shape_of(box(0.2, 50.2, 0.2, 0.2)), LineKind.RHUMB)
    rings = (freeze(box(0, 50)), freeze(box(0.2, 50.2, 0.2, 0.2)[::-1]))
    both = Shape(polygons=(rings, (freeze(box(5, 50)),)))

    assert area_m2(both, LineKind.RHUMB) == pytest.approx(2 * whole - hole, rel=1e-9, abs=0)


@given(
    shift=st.integers(0, 3),
    backwards=st.booleans(),
    turn=st.sampled_from([0.0, 179.5, -90.0]),
    kind=st.sampled_from(list(LineKind)),
)
def test_start_direction_and_180_degrees_do_not_change_an_area(shift, backwards, turn, kind):
    """One box, written eight ways in three places."""
    corners = np.roll(np.array(box(0, 50)), shift, axis=0)[:: -1 if backwards else 1]
    corners[:, 0] = (corners[:, 0] + turn + 180.0) % 360.0 - 180.0
    expected = area_m2(shape_of(box(0, 50)), kind)

    assert area_m2(shape_of(corners), kind) == pytest.approx(expected, rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("corners", "box_deg"),
    [
        (((0, 50), (1, 50), (1, 51)), (50, 0, 51, 1)),
        (((179, 50), (-179, 50), (-179, 51)), (50, 179, 51, -179)),
        (((170, 50), (180, 50), (180, 51)), (50, 170, 51, 180)),
        (((-180, 50), (-179, 50), (-179, 51)), (50, -180, 51, -179)),
        (((-100, 50), (0, 50), (100, 51)), (50, -100, 51, 100)),
    ],
)
def test_extents_leave_out_the_widest_gap(corners, box_deg):
    """South, west, north, east; west lies east of east across 180 degrees."""
    south, west, north, east = box_deg

    assert extent(shape_of(corners)) == Extent(south_deg=south, west_deg=west, north_deg=north, east_deg=east)


def test_sides_of_a_published_zone():
    """Rabarberen: 4.009 and 2.68 miles (computed on WGS 84); a box turned any way, so the shorter first."""
    short, long = (side / 1852.0 for side in sides_m(shape_of(PUBLISHED["Rabarberen"])))

    assert short == pytest.approx(2.68, rel=0, abs=0.01)
    assert long == pytest.approx(4.009, rel=0, abs=0.005)


def test_departure_of_a_parallel():
    """1 degree of the parallel of 57 N: rhumb line and lon/lat line are one, the geodesic lies 111 m off
    (computed on WGS 84, at the middle)."""
    line = Shape(lines=(freeze([(-15.0, 57.0), (-14.0, 57.0)]),))
    found = departure(line)

    assert found.rhumb_m == pytest.approx(0.0, abs=1e-6)
    assert found.geodesic_m == pytest.approx(111.0, rel=0, abs=1.0)


def test_lines_and_points_have_no_area(tmp_path):
    """Nothing is made up for them."""
    cable = feature({"type": "LineString", "coordinates": [[0, 50], [1, 50]]}, kind="cable")
    (listed,) = listing(zones_of(tmp_path, cable))

    assert listed.area_m2 is None
    assert (listed.corners, listed.parts, listed.in_force, listed.next_change) == (2, 1, None, None)


@pytest.mark.parametrize(
    ("on", "in_force", "change"),
    [
        (date(2026, 9, 30), InForce.NO, datetime(2026, 10, 1, tzinfo=UTC)),
        (date(2026, 10, 1), InForce.YES, datetime(2027, 2, 1, tzinfo=UTC)),
        (date(2027, 1, 31), InForce.YES, datetime(2027, 2, 1, tzinfo=UTC)),
        (date(2027, 2, 1), InForce.NO, datetime(2027, 10, 1, tzinfo=UTC)),
    ],
)
def test_a_season_over_the_turn_of_the_year(tmp_path, on, in_force, change):
    """1 October to 31 January of the following year: Regulation (EU) 2019/1241, Annex VII Part C 1(a)."""
    season = [{"from": "--10-01", "to": "--01-31"}]
    (listed,) = listing(zones_of(tmp_path, area(box(-9, 43), season=season)), on=on)

    assert (listed.in_force, listed.next_change) == (in_force, change)


def test_a_day_is_that_of_the_rule_and_may_be_in_force_in_part():
    """From 12:00 UTC on 12 May; and a day of Auckland that is over before UTC's begins to end."""
    noon = Rules(valid_from=datetime(2026, 5, 12, 12, tzinfo=UTC))
    abroad = Rules(valid_from=datetime(2026, 5, 12, 12, tzinfo=UTC), time_zone="Pacific/Auckland")

    assert in_force_on(noon, date(2026, 5, 12)) is InForce.PART
    assert in_force_on(abroad, date(2026, 5, 12)) is InForce.NO  # it ended at 12:00 UTC
    assert in_force_on(abroad, date(2026, 5, 13)) is InForce.YES
