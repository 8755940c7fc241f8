"""Places beside others, bearings carried along, and courses, against another library's geodesics."""

import numpy as np
import pytest
from gear_stretches import GEOD, flat, laid, stepped

from towzone.gear.offsets import bearing_at, beside, courses_deg

HEADINGS = [0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0]
PLACES = [(-20.0, 57.0), (180.0, 10.0), (-179.9999, -60.0), (0.0, 0.0), (30.0, 80.0)]


def at(place):
    return np.array([place[0]]), np.array([place[1]])


@pytest.mark.parametrize("heading", HEADINGS)
@pytest.mark.parametrize(("ahead_m", "right_m"), [(40.0, 0.0), (-40.0, 0.0), (0.0, 7.0), (-35.0, -6.0)])
def test_a_place_ahead_and_to_the_right_on_each_heading(heading, ahead_m, right_m):
    lon, lat = beside(*at((-20.0, 57.0)), heading, ahead_m, right_m)
    turned = np.radians(heading)
    # East and north of a ship's axes, by rotation.
    east = ahead_m * np.sin(turned) + right_m * np.cos(turned)
    north = ahead_m * np.cos(turned) - right_m * np.sin(turned)
    np.testing.assert_allclose(flat(lon, lat)[0], [east, north], rtol=0, atol=1e-6)


@pytest.mark.parametrize("place", PLACES)
def test_longitudes_stay_within_180_degrees_wherever_it_is(place):
    lon, lat = beside(*at(place), 90.0, 5000.0, 0.0)
    expected = GEOD.fwd(*place, 90.0, 5000.0)
    assert -180.0 <= lon[0] <= 180.0
    assert GEOD.inv(lon[0], lat[0], expected[0], expected[1])[2] < 1e-6


def test_longitudes_of_any_turn_come_back_within_180_degrees():
    lon, _ = beside(np.array([340.0]), np.array([57.0]), 0.0, 0.0, 0.0)
    assert lon[0] == pytest.approx(-20.0, abs=1e-9)


def test_no_way_at_all_stays_where_it_is():
    lon, lat = beside(*at((-20.0, 57.0)), 123.0, 0.0, 0.0)
    np.testing.assert_allclose([lon[0], lat[0]], [-20.0, 57.0], rtol=0, atol=1e-12)


def test_each_node_may_have_its_own_bearing_and_offsets():
    places = laid([(0.0, 0.0), (100.0, 0.0), (200.0, 0.0)])
    lon, lat = beside(places[:, 0], places[:, 1], [0.0, 90.0, 180.0], [10.0, 20.0, 30.0], [1.0, 2.0, 3.0])
    np.testing.assert_allclose(
        flat(lon, lat), [(1.0, 10.0), (120.0, -2.0), (197.0, -30.0)], rtol=0, atol=2e-3
    )


@pytest.mark.parametrize("place", [(-20.0, 57.0), (179.99, -60.0), (30.0, 80.0), (3.0, 0.0)])
@pytest.mark.parametrize("heading", HEADINGS)
def test_the_bearing_of_a_line_holds_at_its_other_end(place, heading):
    lon, lat, back = GEOD.fwd(*place, heading, 3000.0)
    found = bearing_at(np.array([heading]), *at(place), np.array([lon]), np.array([lat]))
    apart = (found[0] - (back + 180.0) + 180.0) % 360.0 - 180.0
    assert abs(apart) < 2e-6
    assert 0.0 <= found[0] < 360.0


@pytest.mark.parametrize("heading", [*HEADINGS, 359.99, 0.01])
@pytest.mark.parametrize("place", PLACES)
def test_the_course_of_a_straight_way_is_its_heading_at_every_node(heading, place):
    steps = [GEOD.fwd(*place, heading, 10.0 * n) for n in range(12)]
    lon, lat = np.array([s[0] for s in steps]), np.array([s[1] for s in steps])
    found = courses_deg(lon, lat)
    apart = (found - heading + 180.0) % 360.0 - 180.0
    # Meridians converge by 6e-3 degrees over 120 m at 80 degrees of latitude.
    np.testing.assert_allclose(apart, 0.0, rtol=0, atol=0.01)
    assert ((found >= 0.0) & (found < 360.0)).all()


def test_at_a_corner_the_course_is_that_of_the_chord_over_thirty_metres_each_way():
    way = [(10.0 * n, 0.0) for n in range(7)] + [(60.0, 10.0 * n) for n in range(1, 7)]
    found = courses_deg(*laid(way).T)
    assert found[6] == pytest.approx(45.0, abs=1e-3)
    assert found[3] == pytest.approx(90.0, abs=1e-3)
    assert found[4] == pytest.approx(np.degrees(np.arctan2(50.0, 10.0)), abs=1e-3)
    assert found[9] == pytest.approx(0.0, abs=1e-3)


def test_noise_of_a_metre_turns_the_course_by_little():
    rng = np.random.default_rng(3)
    way = np.column_stack([10.0 * np.arange(200), np.zeros(200)]) + rng.normal(0.0, 1.0, (200, 2))
    found = courses_deg(*laid(way).T)
    assert np.abs(found[3:-3] - 90.0).max() < 6.0


def test_while_the_vessel_stands_its_course_is_that_from_before_to_after():
    way = [(10.0 * n, 0.0) for n in range(6)] + [(50.0, 0.0)] * 20 + [(50.0, 10.0 * n) for n in range(1, 6)]
    found = courses_deg(*laid(way).T)
    np.testing.assert_allclose(found[5:26], 45.0, rtol=0, atol=1e-3)
    np.testing.assert_allclose(found[[0, 1, 2, 28, 29, 30]], [90.0] * 3 + [0.0] * 3, rtol=0, atol=1e-3)


def test_at_the_tip_of_a_way_back_over_itself_the_course_is_that_of_the_nearest_node_with_one():
    way = [(10.0 * n, 0.0) for n in range(11)] + [(100.0 - 10.0 * n, 0.0) for n in range(1, 11)]
    found = courses_deg(*laid(way).T)
    assert found[9] == pytest.approx(90.0, abs=1e-3)
    assert min(abs(found[10] - 90.0), abs(found[10] - 270.0)) < 0.01
    assert found[11] == pytest.approx(270.0, abs=0.01)


@pytest.mark.parametrize("step_m", [1.0, 4.0, 10.0, 10.0 / 3.0])
def test_it_does_not_matter_how_dense_the_nodes_are_or_whether_they_are_said_twice(step_m):
    corners = [(0.0, 0.0), (200.0, 0.0), (200.0, 120.0)]
    way = stepped(corners, step_m)
    found = courses_deg(*laid(way).T)
    coarse = stepped(corners, 20.0)
    expected = courses_deg(*laid(np.repeat(coarse, 3, axis=0)).T)[1::3]
    same = [int(np.argmin(np.hypot(*(way - node).T))) for node in coarse]
    apart = (found[same] - expected + 180.0) % 360.0 - 180.0
    np.testing.assert_allclose(apart, 0.0, rtol=0, atol=0.01)


def test_two_nodes_have_one_course_and_nodes_on_one_spot_none():
    np.testing.assert_allclose(courses_deg(*laid([(0.0, 0.0), (0.0, 50.0)]).T), 0.0, rtol=0, atol=1e-9)
    assert np.isnan(courses_deg(*laid([(0.0, 0.0)] * 4).T)).all()
    # Rounding of coordinates is no movement: 0.1 m is asked for.
    assert np.isnan(courses_deg(*laid([(0.0, 0.0), (0.05, 0.0), (0.0, 0.05)]).T)).all()
