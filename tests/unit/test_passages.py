"""Passages laid out from their answer: clearance, stays inside, stretches too close, where and when."""

from __future__ import annotations

import numpy as np
import pytest
from oracles import inside
from scenes import (
    GEOD,
    KNOT_MPS,
    START,
    apart_m,
    area,
    areas,
    around,
    box,
    check,
    fixes,
    joined,
    line,
    moved,
    only_row,
    points,
    route,
    steady,
    wait,
    zone,
)

from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape
from towzone.model.result import Activity, Status
from towzone.model.zone import Prohibition, ZoneKind

A = (-20.0, 57.0)
SIDE = box(-21.0, 57.0, -19.0, 58.0)
"""A rhumb box: its south side is the parallel of 57 degrees, and north is square to it."""


def seconds(instant):
    return float((instant - START) / np.timedelta64(1, "us")) / 1e6


def side_zone(kind=ZoneKind.CLOSED_AREA, **more):
    return zone(area(SIDE), kind, edges=LineKind.RHUMB, **more)


def north_of_side(lon, distance_m):
    """A place a distance north (or south, negative) of the side; a meridian is a geodesic."""
    return moved((lon, 57.0), 0.0, distance_m)


# Entry, exit and closest point.


def test_entry_and_exit_are_where_the_leg_crosses_the_boundary_and_when():
    """Straight north through a side and straight out again: entry after 500 of 1000 m, exit likewise."""
    track = fixes(
        [north_of_side(-20.0, -500.0), north_of_side(-20.0, 500.0), north_of_side(-20.0, -700.0)],
        [0.0, 400.0, 1000.0],
    )
    row = only_row(track, side_zone())
    (stay,) = row.inside
    assert abs(seconds(stay.enter_utc) - 200.0) < 0.01
    assert abs(seconds(stay.leave_utc) - 650.0) < 0.01
    for lon, lat in ((stay.enter_lon_deg, stay.enter_lat_deg), (stay.leave_lon_deg, stay.leave_lat_deg)):
        assert apart_m((lon, lat), (-20.0, 57.0)) < 0.01
    np.testing.assert_allclose([stay.seconds, stay.length_m], [450.0, 1000.0], rtol=0, atol=0.02)
    np.testing.assert_allclose(stay.mean_speed_kn, 1000.0 / 450.0 / KNOT_MPS, rtol=0, atol=1e-4)
    np.testing.assert_allclose(stay.min_speed_kn, 1200.0 / 600.0 / KNOT_MPS, rtol=0, atol=1e-4)
    assert abs(seconds(row.closest.utc) - 400.0) < 0.01
    np.testing.assert_allclose(row.clearance_m, -500.0, rtol=0, atol=0.01)
    np.testing.assert_allclose(row.closest.bearing_deg, 180.0, rtol=0, atol=0.01)


def test_entry_and_exit_on_a_slanting_track_agree_with_dense_points():
    """Through a star, found independently by counting crossings of dense points."""
    ring = [moved(A, n * 72.0, 3000.0 - 700.0 * (n % 2)) for n in range(5)]
    track = fixes([moved(A, 250.0, 6000.0), moved(A, 65.0, 6000.0)], [0.0, 800.0])
    row = only_row(track, zone(area(ring)))
    a, b = ((track.lon_deg[n], track.lat_deg[n]) for n in (0, 1))
    azimuth, _, length = GEOD.inv(*a, *b)
    at = np.linspace(0.0, length, 24001)
    lon, lat, _ = GEOD.fwd(np.full(len(at), a[0]), np.full(len(at), a[1]), np.full(len(at), azimuth), at)
    held = inside("geodesic", [[ring]], lon, lat, step_m=50.0)
    enter, leave = at[held][0], at[held][-1]
    (stay,) = row.inside
    # Points stand half a metre apart.
    assert abs(seconds(stay.enter_utc) / 800.0 * length - enter) < 0.51
    assert abs(seconds(stay.leave_utc) / 800.0 * length - leave) < 0.51
    assert apart_m((stay.enter_lon_deg, stay.enter_lat_deg), moved(a, azimuth, enter)) < 0.51


def test_a_track_that_starts_and_ends_inside_stays_from_its_first_fix_to_its_last():
    track = fixes([north_of_side(-20.0, 300.0), north_of_side(-19.99, 900.0)], [0.0, 600.0])
    (stay,) = only_row(track, side_zone()).inside
    assert (stay.enter_utc, stay.leave_utc) == (START, START + np.timedelta64(600, "s"))
    assert (stay.enter_lon_deg, stay.enter_lat_deg) == (track.lon_deg[0], track.lat_deg[0])


def test_two_stays_are_told_apart():
    track = fixes(
        [north_of_side(-20.0 + 0.01 * n, d) for n, d in enumerate((-100.0, 100.0, -100.0, 100.0, -100.0))],
        np.arange(5) * 300.0,
    )
    row = only_row(track, side_zone())
    assert len(row.inside) == 2
    assert all(a.leave_utc < b.enter_utc for a, b in zip(row.inside[:-1], row.inside[1:], strict=True))


def test_one_fix_inside_between_two_gaps_is_shown():
    track = fixes(
        [north_of_side(-20.0, -30_000.0), north_of_side(-20.0, 400.0), north_of_side(-20.0, -30_000.0)],
        [0.0, 7200.0, 14400.0],
    )
    row = only_row(track, side_zone())
    assert (row.status, row.reason) == (Status.INSIDE, "fishing_inside")
    np.testing.assert_allclose(row.clearance_m, -400.0, rtol=0, atol=0.01)
    (stay,) = row.inside
    assert (stay.seconds, stay.length_m) == (0.0, 0.0)


def test_positions_of_stays_are_written_with_longitudes_in_range():
    """Crossing 180 degrees eastward must not turn into 180.05."""
    ring = around((-179.9, 10.0), 5000.0)
    row = only_row(fixes([(179.9, 10.0), (-179.8, 10.0)], [0.0, 800.0]), zone(area(ring)))
    (stay,) = row.inside
    for lon in (stay.enter_lon_deg, stay.leave_lon_deg, row.closest.lon_deg, row.closest.zone_lon_deg):
        assert -180.0 <= lon <= 180.0


def test_a_stop_inside_followed_by_a_gap_is_answered():
    """The vessel lies still inside, its receiver falls silent, and later it tows far away."""
    first = wait(steady([moved(A, 90.0, 3000.0), A]), 1200.0)
    end = seconds(first.time_utc[-1])
    far = steady([moved(A, 0.0, 20_000.0), moved(A, 0.0, 25_000.0)], first_s=end + 7200.0)
    result = check(joined(first, far), zone(area(around(A, 5000.0))))
    assert {(row.tow, row.activity) for row in result.rows} >= {
        (1, Activity.TOWING),
        (None, Activity.NOT_TOWING),
    }
    second = [row for row in result.rows if row.tow == 2]
    assert [row.status for row in second] == [Status.UNDETERMINED], "the gap reaches; no tow was seen inside"


def test_a_gap_that_ends_in_a_stop_inside_is_answered():
    first = steady([moved(A, 0.0, 25_000.0), moved(A, 0.0, 20_000.0)])
    end = seconds(first.time_utc[-1])
    result = check(joined(first, wait(fixes([A], [end + 7200.0]), 1200.0)), zone(area(around(A, 5000.0))))
    assert [row.status for row in result.rows if row.tow == 1] == [Status.UNDETERMINED]


# On and along the boundary.


def test_a_track_along_the_boundary_touches_it():
    """Fixes on the side itself, a meridian: as near as the arithmetic of degrees allows."""
    west = -21.0
    row = only_row(fixes([(west, 57.2), (west, 57.4)], [0.0, 800.0]), side_zone())
    assert (row.status, row.reason) == (Status.TOO_CLOSE, "touched")
    np.testing.assert_allclose(row.clearance_m, 0.0, rtol=0, atol=0.005)
    assert row.closest.bearing_deg is None


def test_a_track_that_grazes_a_corner_touches():
    row = only_row(fixes([(-21.0, 56.9), (-21.0, 57.0)], [0.0, 800.0]), side_zone())
    assert (row.status, row.reason) == (Status.TOO_CLOSE, "touched")


def test_a_track_inside_a_huge_area_far_from_any_boundary_is_inside():
    huge = zone(area(box(-6.0, -6.0, 6.0, 6.0)), edges=LineKind.RHUMB)
    row = only_row(fixes([(1.0, 1.0), (1.05, 1.0)], [0.0, 800.0]), huge, reach_m=9260.0)
    assert row.status is Status.INSIDE
    assert row.clearance_m < -500_000.0


def test_a_hole_is_outside_and_its_rim_is_boundary():
    shape = area(around(A, 9000.0, 360), around(A, 4000.0, 360))
    row = only_row(fixes([A], [0.0]), zone(shape))
    assert row.status is Status.CLEAR
    # The rim's sides are nearer than its corners by r (1 - cos 0.5 deg) = 0.15 m.
    np.testing.assert_allclose(row.clearance_m, 4000.0 * np.cos(np.radians(0.5)), rtol=0, atol=0.01)
    assert row.inside == ()


def test_each_part_of_a_zone_counts():
    shape = areas([around(A, 1000.0, 36)], [around(moved(A, 90.0, 10_000.0), 1000.0, 36)])
    row = only_row(steady([moved(A, 270.0, 3000.0), moved(A, 90.0, 13_000.0)], step_s=300.0), zone(shape))
    assert len(row.inside) == 2


def test_lines_inside_a_mixed_zone_do_not_make_outside_of_inside():
    shape = Shape(
        polygons=area(SIDE).polygons, lines=line((-20.5, 57.5), (-19.5, 57.5)).lines, points=points(A).points
    )
    row = only_row(fixes([(-20.0, 57.4), (-20.0, 57.6)], [0.0, 800.0]), zone(shape, edges=LineKind.RHUMB))
    assert row.status is Status.INSIDE
    assert row.inside[0].seconds == 800.0


# Radius.


@pytest.mark.parametrize(
    ("distance_m", "status", "reason"),
    [
        (484.0, Status.INSIDE, "entry"),
        (499.9, Status.TOO_CLOSE, "touched"),
        (500.1, Status.UNDETERMINED, "position_error"),
        (515.1, Status.CLEAR, ""),
    ],
)
@pytest.mark.parametrize("bearing", [0.0, 77.0, 180.0, 300.0])
def test_a_safety_zone_of_500_metres_ends_500_metres_from_its_point(distance_m, bearing, status, reason):
    """Positions laid out with pyproj's geodesics; the position error is 15 m."""
    row = only_row(
        fixes([moved(A, bearing, distance_m)], [0.0]), zone(points(A), ZoneKind.SAFETY_ZONE, radius_m=500.0)
    )
    assert (row.status, row.reason) == (status, reason)
    np.testing.assert_allclose(row.clearance_m, distance_m - 500.0, rtol=0, atol=0.001)
    assert apart_m((row.closest.zone_lon_deg, row.closest.zone_lat_deg), A) == pytest.approx(500.0, abs=0.001)
    assert bool(row.inside) == (distance_m < 500.0)


def test_a_chord_through_a_circle_is_inside_between_its_two_crossings():
    """East-west 300 m north of the point, where north is square to the track at its middle."""
    middle = moved(A, 0.0, 300.0)
    track = fixes([moved(middle, 270.0, 1000.0), moved(middle, 90.0, 1000.0)], [0.0, 800.0])
    row = only_row(track, zone(points(A), ZoneKind.SAFETY_ZONE, radius_m=500.0))
    (stay,) = row.inside
    # sqrt(500**2 - 300**2) = 400 on either side: 600 to 1400 of 2000 m.
    np.testing.assert_allclose(
        [seconds(stay.enter_utc), seconds(stay.leave_utc)], [240.0, 560.0], rtol=0, atol=0.01
    )
    np.testing.assert_allclose(row.clearance_m, -200.0, rtol=0, atol=0.005)


def test_a_radius_widens_lines_and_areas_alike():
    cable = zone(line((-21.0, 57.0), (-19.0, 57.0)), ZoneKind.CABLE, edges=LineKind.RHUMB, radius_m=100.0)
    for widened in (cable, side_zone(radius_m=100.0)):
        row = only_row(fixes([north_of_side(-20.0, -150.0)], [0.0]), widened)
        np.testing.assert_allclose(row.clearance_m, 50.0, rtol=0, atol=0.005)
    row = only_row(fixes([north_of_side(-20.0, 50.0)], [0.0]), side_zone(radius_m=100.0))
    np.testing.assert_allclose(row.clearance_m, -150.0, rtol=0, atol=0.005)
    row = only_row(fixes([north_of_side(-20.0, -50.0)], [0.0]), side_zone(radius_m=100.0))
    assert (row.status, len(row.inside)) == (Status.INSIDE, 1)
    np.testing.assert_allclose(row.clearance_m, -50.0, rtol=0, atol=0.005)


def test_crossing_a_line_with_a_radius_is_as_deep_as_the_radius():
    cable = zone(line((-21.0, 57.0), (-19.0, 57.0)), ZoneKind.CABLE, edges=LineKind.RHUMB, radius_m=100.0)
    track = fixes([north_of_side(-20.0, -500.0), north_of_side(-20.0, 500.0)], [0.0, 500.0])
    row = only_row(track, cable)
    np.testing.assert_allclose(row.clearance_m, -100.0, rtol=0, atol=0.005)
    (stay,) = row.inside
    np.testing.assert_allclose(
        [seconds(stay.enter_utc), seconds(stay.leave_utc)], [200.0, 300.0], rtol=0, atol=0.01
    )


@pytest.mark.parametrize("position", [A, moved(A, 40.0, 30.0)], ids=["centre", "30 m off"])
def test_the_zone_position_inside_a_circle_is_as_far_as_its_clearance(position):
    """At the very centre too, the reported pair of points is the reported distance apart."""
    row = only_row(fixes([position], [0.0]), zone(points(A), ZoneKind.SAFETY_ZONE, radius_m=500.0))
    vessel = (row.closest.lon_deg, row.closest.lat_deg)
    boundary = (row.closest.zone_lon_deg, row.closest.zone_lat_deg)
    np.testing.assert_allclose(apart_m(vessel, boundary), -row.clearance_m, rtol=0, atol=0.01)


# Stretches under the margin.


def test_close_stretches_begin_and_end_at_the_margin():
    """Past a point at 300 m with a margin of 500 m: 400 m on either side of the nearest place."""
    middle = moved(A, 0.0, 300.0)
    track = fixes([moved(middle, 270.0, 1000.0), moved(middle, 90.0, 1000.0)], [0.0, 800.0])
    row = only_row(track, zone(points(A), ZoneKind.OBSTRUCTION, margin_m=500.0))
    assert (row.status, row.reason, row.inside) == (Status.TOO_CLOSE, "under_margin", ())
    (close,) = row.close
    np.testing.assert_allclose(
        [seconds(close.from_utc), seconds(close.to_utc), close.seconds],
        [240.0, 560.0, 320.0],
        rtol=0,
        atol=0.01,
    )


def test_radius_and_margin_add_up_in_close_stretches():
    """A radius of 200 m and a margin of 300 m reach as far as 500 m alone."""
    middle = moved(A, 0.0, 300.0)
    track = fixes([moved(middle, 270.0, 1000.0), moved(middle, 90.0, 1000.0)], [0.0, 800.0])
    row = only_row(track, zone(points(A), ZoneKind.OBSTRUCTION, radius_m=200.0, margin_m=300.0))
    np.testing.assert_allclose(row.clearance_m, 100.0, rtol=0, atol=0.005)
    (close,) = row.close
    np.testing.assert_allclose(
        [seconds(close.from_utc), seconds(close.to_utc)], [240.0, 560.0], rtol=0, atol=0.01
    )


def test_a_stay_inside_is_part_of_the_close_stretch_around_it():
    track = fixes([north_of_side(-20.0, -1000.0), north_of_side(-20.0, 1000.0)], [0.0, 800.0])
    row = only_row(track, side_zone(margin_m=250.0))
    (close,), (stay,) = row.close, row.inside
    np.testing.assert_allclose(
        [seconds(close.from_utc), seconds(stay.enter_utc)], [300.0, 400.0], rtol=0, atol=0.01
    )
    assert close.to_utc == stay.leave_utc == START + np.timedelta64(800, "s")


def test_a_clear_passage_has_no_close_stretch():
    row = only_row(
        fixes([moved(A, 0.0, 900.0)], [0.0]), zone(points(A), ZoneKind.OBSTRUCTION, margin_m=500.0)
    )
    assert (row.status, row.close) == (Status.CLEAR, ())


def test_times_of_passages_are_unknown_where_the_track_has_none():
    planned = route([north_of_side(-20.0, -500.0), north_of_side(-20.0, 500.0)])
    (stay,) = only_row(planned, side_zone()).inside
    assert np.isnat(stay.enter_utc)
    assert np.isnat(stay.leave_utc)
    assert (stay.seconds, stay.min_speed_kn, stay.mean_speed_kn) == (None, None, None)
    np.testing.assert_allclose(stay.length_m, 500.0, rtol=0, atol=0.01)


# What is looked at.


def test_a_zone_beyond_the_reach_is_counted_clear_and_not_listed():
    result = check(fixes([moved(A, 0.0, 9261.0)], [0.0]), zone(points(A), ZoneKind.OBSTRUCTION))
    assert (result.rows, result.beyond_reach) == ((), 1)
    assert result.counts[Status.CLEAR] == 1
    near = check(fixes([moved(A, 0.0, 9259.0)], [0.0]), zone(points(A), ZoneKind.OBSTRUCTION))
    assert [row.status for row in near.rows] == [Status.CLEAR]


@pytest.mark.parametrize("kind", list(LineKind))
def test_a_passage_by_the_middle_of_a_very_long_edge_is_not_lost(kind):
    """The middle of 20 degrees of the parallel of 60 lies 50 km off the box around its ends."""
    cable = zone(line((-10.0, 60.0), (10.0, 60.0)), ZoneKind.CABLE, edges=kind)
    middle = (0.0, 60.0) if kind is not LineKind.GEODESIC else GEOD.npts(-10.0, 60.0, 10.0, 60.0, 1)[0]
    (row,) = check(fixes([moved(middle, 0.0, 40.0)], [0.0]), cable, position_error_m=0.0).rows
    np.testing.assert_allclose(row.clearance_m, 40.0, rtol=0, atol=0.01)


def test_a_margin_wider_than_the_reach_is_still_judged():
    wide = zone(points(A), ZoneKind.OBSTRUCTION, margin_m=20_000.0)
    result = check(fixes([moved(A, 0.0, 15_000.0)], [0.0]), wide)
    assert [row.status for row in result.rows] == [Status.TOO_CLOSE]


def test_a_route_is_judged_along_its_rhumb_lines():
    """A point on the parallel half way: the rhumb leg runs over it, the geodesic 700 m away."""
    start, end = (-20.0, 57.0), (-18.0, 57.0)
    wreck = zone(points((-19.0, 57.0)), ZoneKind.OBSTRUCTION)
    assert only_row(route([start, end]), wreck).reason == "touched"
    geodesic = only_row(route([start, end]), wreck, legs=LineKind.GEODESIC)
    (middle,) = GEOD.npts(*start, *end, 1)
    np.testing.assert_allclose(geodesic.clearance_m, apart_m(middle, (-19.0, 57.0)), rtol=0, atol=0.01)
    assert geodesic.status is Status.CLEAR


def test_rows_are_sorted_worst_first():
    zones = [
        zone(points(moved(A, 0.0, 5000.0)), ZoneKind.OBSTRUCTION, zone_id="clear"),
        zone(points(moved(A, 0.0, 10.0)), ZoneKind.OBSTRUCTION, zone_id="undetermined"),
        zone(points(moved(A, 0.0, 200.0)), ZoneKind.OBSTRUCTION, zone_id="close", margin_m=300.0),
        zone(area(around(A, 3000.0)), zone_id="inside"),
        zone(area(around(A, 4000.0)), zone_id="deeper"),
    ]
    result = check(fixes([A], [0.0]), zones)
    assert [row.zone_id for row in result.rows] == ["deeper", "inside", "close", "undetermined", "clear"]


@pytest.mark.parametrize("nearer", ["a", "b"])
def test_rows_that_tell_the_same_clearance_stand_in_the_order_of_their_names(nearer):
    """Whatever the digits that are not told say of them."""
    places_m = {"a": 200.0012, "b": 200.0012, nearer: 200.0008}
    zones = [
        zone(points(moved(A, 0.0, north_m)), ZoneKind.OBSTRUCTION, zone_id=name, margin_m=300.0)
        for name, north_m in reversed(places_m.items())
    ]
    result = check(fixes([A], [0.0]), zones)
    first, second = (row.clearance_m for row in result.rows)
    assert (first < second) == (nearer == "a")
    assert [row.zone_id for row in result.rows] == ["a", "b"]


def test_an_entry_rule_holds_for_a_vessel_that_is_not_towing():
    shut = side_zone(kind=ZoneKind.SAFETY_ZONE, prohibits=(Prohibition.ENTRY,))
    row = only_row(wait(fixes([north_of_side(-20.0, 400.0)], [0.0]), 1800.0), shut)
    assert (row.activity, row.status, row.reason) == (Activity.NOT_TOWING, Status.INSIDE, "entry")
