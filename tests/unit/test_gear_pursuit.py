"""A towed body follows its lead: the check values of the gear model, and every edge of its domain.

Values V1 to V31 are those of the gear model (own derivation, checked there against an ODE solver), planar
metres to the digits printed.
"""

import numpy as np
import pytest
from pursuit_scenes import GEOD, Plane, apart_m, geodesic, planar, wandering

from towzone.errors import GeometryError
from towzone.gear.pursuit import pursue
from towzone.gear.towline import Legs, Line, followed
from towzone.gear.unrolling import NEAR_M, behind, leg_vectors

PLANE = Plane(0.0, 0.0)  # where north does not turn along a path


def in_plane(path, length, *, plane=PLANE, drift=None, start_bearing=None):
    """Pursue on the ellipsoid; return the pursuit and the bodies in the plane."""
    lon, lat = plane.positions(path)
    drifts = {} if drift is None else {"drift_east_m": drift[:, 0], "drift_north_m": drift[:, 1]}
    found = pursue(
        lon,
        lat,
        np.broadcast_to(float(length) if np.ndim(length) == 0 else length, len(lon)),
        start_bearing_deg=start_bearing,
        **drifts,
    )
    return found, plane.points(found.lon_deg, found.lat_deg)


def along(start, end, step_m):
    """Nodes on a straight line."""
    start, end = np.asarray(start, float), np.asarray(end, float)
    n = round(np.hypot(*(end - start)) / step_m)
    return start + np.linspace(0.0, 1.0, n + 1)[:, None] * (end - start)


def circle(radius, step_m, run_m):
    """Nodes on a circle around the origin, sailed with the centre to port."""
    phi = np.arange(round(run_m / step_m) + 1) * step_m / radius
    return radius * np.column_stack([np.cos(phi), np.sin(phi)])


def turned(a, b):
    return (np.asarray(a) - b + 180.0) % 360.0 - 180.0


# ---------------------------------------------------------------- published values of the gear model


def test_v4_angle_after_one_layback():
    """60 degrees are 23.9823184 after a run of one length."""
    found, _ = in_plane([(0, 0), (400, 0)], 400, start_bearing=150.0)

    assert abs(found.bearing_deg[1] - 90.0 - 23.9823184) < 1e-6


def test_v5_body_after_a_leg_square_to_the_line():
    _, body = in_plane([(0, 0), (0, 300)], 400, start_bearing=90.0)

    assert np.abs(body - [(-400, 0), (-308.9559, 45.9404190)]).max() < 1e-4


def test_v6_run_of_the_body():
    """302.5767 m of 400 m, in legs of 1 m."""
    found, _ = in_plane(along((0, 0), (400, 0), 1.0), 400, start_bearing=150.0)

    run = apart_m(found.lon_deg[:-1], found.lat_deg[:-1], found.lon_deg[1:], found.lat_deg[1:]).sum()
    assert abs(run - 302.5767) < 2e-4


def test_v7_angle_on_an_arc():
    """12.1102310 degrees after 300 m of a circle of 1000 m."""
    path = circle(1000.0, 0.5, 300.0)
    found, _ = in_plane(path, 400, start_bearing=0.0)

    heading = -np.degrees(0.3)
    assert abs(turned(found.bearing_deg[-1] - heading, 12.1102310)) < 1e-5


def test_v8_steady_circle():
    """916.5151 m from the centre, 83.48 m inside, at 0.9165151 of the speed, 23.5781785 degrees off."""
    path = circle(1000.0, 1.0, 12_000.0)
    found, body = in_plane(path, 400)

    heading = -np.degrees(np.arctan2(path[-1, 1], path[-1, 0]))
    assert abs(np.hypot(*body[-1]) - 916.5151) < 5e-4
    assert abs(np.hypot(*(body[-1] - body[-2])) - 0.9165151) < 1e-6
    assert abs(turned(found.bearing_deg[-1] - heading, 23.5781785)) < 2e-5


def test_v9_square_corner():
    found, body = in_plane([(0, 0), (1000, 0), (1000, 1000)], 400)

    assert np.abs(body[-1] - (934.7715, 605.3543)).max() < 1e-4
    assert not found.slack.any()


def test_v10_lead_coming_back_leaves_the_body_where_it_is():
    """Not a digit of its position changes; the line hangs slack, shorter than it is."""
    found, body = in_plane([(0, 0), (300, 0)], 400, start_bearing=np.degrees(np.arctan2(-200, 346.4101615)))

    assert found.slack.tolist() == [True]
    assert np.abs(body[0] - (200, -346.4101615)).max() < 1e-4
    assert (found.lon_deg[1], found.lat_deg[1]) == (found.lon_deg[0], found.lat_deg[0])
    assert abs(found.distance_m[1] - np.hypot(100.0, 346.4101615)) < 1e-5


@pytest.mark.parametrize(
    ("corner_deg", "cut"), [(45, 0.2981353), (60, 0.4078242), (90, 0.6627434), (120, 0.9427736)]
)
def test_v11_v12_corners_are_cut(corner_deg, cut):
    """Closest approach to the corner, in lengths; 120 degrees hang slack for a while."""
    a = np.radians(corner_deg)
    beyond = along((0, 0), (0, 1600), 0.5) @ np.array([[1, 0], [np.sin(a), np.cos(a)]])
    found, body = in_plane(np.vstack([[(0.0, -1200.0)], beyond]), 400)

    assert abs(np.hypot(*body.T).min() / 400 - cut) < 2e-6
    assert found.slack.any() == (corner_deg > 90)


def test_v13_settling_after_a_square_turn():
    """20 m off after 1475.3015 m."""
    _, body = in_plane([(0, -2000), (0, 0), (1475.3015, 0)], 400, start_bearing=0.0)

    assert abs(-body[-1, 1] - 20.0) < 1e-4


@pytest.mark.parametrize("legs", [1, 7, 240])
def test_v17_winch_in_any_number_of_nodes(legs):
    """50 degrees are 22.0844990 after 240 m while 400 m of line become 180 m."""
    path = along((0, 0), (0, 240), 240 / legs)
    found, _ = in_plane(path, np.linspace(400, 180, legs + 1), start_bearing=50.0)

    assert abs(found.bearing_deg[-1] - 22.0844990) < 1e-5
    assert found.distance_m[-1] == 180.0


def test_v29_geodesic_step():
    """60.0077214 N, 2.0233396 E, bearing 55.6596545."""
    found = pursue([2.0, 2.03], [60.0, 60.01], [450.0, 450.0], start_bearing_deg=0.0)

    assert abs(found.lat_deg[1] - 60.0077214) < 5e-8
    assert abs(found.lon_deg[1] - 2.0233396) < 5e-8
    assert abs(found.bearing_deg[1] - 55.6596545) < 5e-8


def test_v30_second_body_on_the_path_of_the_first():
    """Steady on a circle of 1000 m: doors at 916.5151 m, codend at 904.1571 m."""
    first, body = in_plane(circle(1000.0, 2.0, 12_000.0), 400)
    second = pursue(first.lon_deg, first.lat_deg, np.full(len(first.lon_deg), 150.0))

    assert abs(np.hypot(*body[-1]) - 916.5151) < 1e-3
    assert abs(np.hypot(*PLANE.points(second.lon_deg, second.lat_deg)[-1]) - 904.1571) < 1e-3


@pytest.mark.parametrize("legs", [1, 600])
def test_v31_current_is_a_moving_frame(legs):
    """900 m east in 600 s with 0.25 m/s to the north."""
    path = along((0, 0), (900, 0), 900 / legs)
    drift = np.tile((0.0, 150.0 / legs), (legs, 1))
    _, body = in_plane(path, 400, drift=drift, start_bearing=90.0)

    assert np.abs(body[-1] - (504.3867, 59.0774879)).max() < 2e-4


def test_steady_crab_angle():
    """3 kn with 0.5 kn across, 400 m: 9.4623222 degrees and 65.7596 m (V18, free of friction)."""
    path = along((0, 0), (9000, 0), 10)
    found, body = in_plane(path, 400, drift=np.tile((0.0, 10 / 6), (900, 1)))

    assert abs(found.bearing_deg[-1] - 90.0 - 9.4623222) < 1e-5
    assert abs(body[-1, 1] - 65.7596) < 1e-3


# ---------------------------------------------------------------- slack


@pytest.mark.parametrize("theta_deg", [95.0, 120.0, 150.0, 179.0])
def test_body_stands_until_the_lead_has_passed(theta_deg):
    """From a taut start the line tightens after ``-2 L cos(theta)``, then at the supplement of the angle."""
    run = -2.0 * 400.0 * np.cos(np.radians(theta_deg))
    found, body = in_plane([(0, 0), (0, run - 1e-3), (0, run + 1e-3)], 400, start_bearing=theta_deg)

    assert found.slack.tolist() == [True, True]
    assert found.distance_m[1] < 400.0
    assert found.distance_m[2] == 400.0
    assert abs(found.bearing_deg[2] - (180.0 - theta_deg)) < 1e-3
    assert np.hypot(*(body[2] - body[0])) < 1.1e-3


def test_line_paid_out_faster_than_the_lead_moves_hangs_slack():
    """60 m of line on 50 m of run: the body stands until 10 m less of line are out than run."""
    path = along((0, 0), (0, 200), 50)
    found, body = in_plane(path, [300.0, 360.0, 360.0, 360.0, 360.0], start_bearing=0.0)

    assert found.slack.tolist() == [True, True, False, False]
    assert np.abs(body[:, 1] - [-300, -300, -260, -210, -160]).max() < 1e-5
    assert np.abs(found.distance_m - [300, 350, 360, 360, 360]).max() < 1e-5


def test_line_hauled_by_a_lead_that_lies_still_draws_the_body_in():
    """Without a change of direction, and without slack."""
    found, body = in_plane([(0, 0)] * 4, [300.0, 200.0, 50.0, 0.0], start_bearing=30.0)

    assert not found.slack.any()
    assert np.abs(turned(found.bearing_deg, 30.0)).max() < 1e-9
    assert np.abs(np.hypot(*body.T) - [300, 200, 50, 0]).max() < 1e-6


def test_line_hauled_faster_than_the_lead_comes_back_stays_taut():
    """Backing 10 m while 20 m are hauled: the body comes 10 m nearer to meet it."""
    found, body = in_plane([(0, 0), (0, -10)], [300.0, 280.0], start_bearing=0.0)

    assert not found.slack.any()
    assert np.abs(body - [(0, -300), (0, -290)]).max() < 1e-5


def test_slack_line_is_tightened_by_the_winch_alone():
    """The lead backs 30 m and stops; of 40 m hauled the last 10 m draw the body."""
    found, body = in_plane([(0, 0), (0, -30), (0, -30)], [300.0, 300.0, 260.0], start_bearing=0.0)

    assert found.slack.tolist() == [True, True]
    assert np.abs(found.distance_m - [300, 270, 260]).max() < 1e-5
    assert np.abs(body[:, 1] - [-300, -300, -290]).max() < 1e-5


def test_lead_steaming_over_its_body_and_away():
    """The body stands; right above it the bearing is the one before; past it, the line points on."""
    found, body = in_plane([(0, 0), (0, -150), (0, -300), (0, -450), (0, -700)], 300, start_bearing=0.0)

    assert found.slack.all()
    assert np.abs(body[:4, 1] + 300).max() < 1e-5
    assert abs(body[4, 1] + 400) < 1e-5
    assert np.abs(found.distance_m - [300, 150, 0, 150, 300]).max() < 1e-5
    assert np.abs(turned(found.bearing_deg[[0, 1, 3, 4]], [0, 0, 180, 180])).max() < 1e-3


def test_slack_body_drifts_with_the_water():
    """While slack it keeps still in the moving frame."""
    path = [(0, 0), (0, -50), (0, -100)]
    found, body = in_plane(path, 400, drift=np.array([(3.0, -1.0), (3.0, -1.0)]), start_bearing=0.0)

    assert found.slack.all()
    assert np.abs(body - [(0, -400), (3, -401), (6, -402)]).max() < 1e-5


def test_body_on_still_legs_in_a_current_swings_down_stream():
    """A lead at anchor: the water moves the body, and legs of no length count as runs through the water."""
    found, body = in_plane([(0, 0)] * 2001, 100, drift=np.tile((1.0, 0.0), (2000, 1)), start_bearing=0.0)

    assert not found.slack.any()
    assert np.abs(body[-1] - (100, 0)).max() < 1e-3


def test_slack_may_last_over_many_legs_and_come_again():
    """Against a stepper that shares no code: sharp corners, lines hauled and veered at random."""
    rng = np.random.default_rng(5)
    path = wandering(rng, 3000, (0.5, 30.0), 1.0)
    length = 300.0 + 200.0 * np.sin(np.arange(3000) / 40.0)
    length += rng.uniform(0.0, 20.0, 3000)
    path *= 3000.0 / np.abs(path).max()
    found, body = in_plane(path, length, plane=Plane(-20.0, 10.0), start_bearing=10.0)
    start = -length[0] * np.array([np.sin(np.radians(10.0)), np.cos(np.radians(10.0))])
    wanted, distance, slack = planar(path, length, start)

    assert 0.1 < slack.mean() < 0.9
    assert np.abs(body - wanted).max() < 1e-2  # the plane stretches lengths by 0.04 mm a kilometre at 3 km
    assert np.abs(found.distance_m - distance).max() < 1e-2
    assert np.mean(found.slack != slack) < 0.002  # where both are a hair from slack


# ---------------------------------------------------------------- no line out


def test_without_a_line_the_body_is_the_lead_and_points_where_it_goes():
    """Also where the lead turns about exactly."""
    lon, lat = [1.0, 1.1, 1.0, 1.0, 1.0], [0.0, 0.0, 0.0, 0.1, 0.1]
    found = pursue(lon, lat, np.zeros(5))

    assert found.lon_deg.tolist() == lon
    assert found.lat_deg.tolist() == lat
    assert np.abs(found.bearing_deg - [90, 90, 270, 0, 0]).max() < 1e-9
    assert not found.slack.any()
    assert (found.distance_m == 0.0).all()


def test_without_a_line_long_paths_turn_about_as_well():
    """Thousands of exact reversals along a parallel, which a matrix product must not lose its way in."""
    lon = np.where(np.arange(20_000) % 2, 1.001, 1.0)
    lat = np.zeros(20_000)
    length = np.zeros(20_000)
    length[-3:] = 0.0, 40.0, 40.0
    found = pursue(lon, lat, length)

    assert np.abs(found.bearing_deg[1:-2] - np.where(np.arange(1, 19_998) % 2, 90, 270)).max() < 1e-9
    assert np.flatnonzero(found.slack).tolist() == [19_998]
    assert abs(apart_m(found.lon_deg[-2], 0.0, lon[-2], 0.0) - 40.0) < 1e-6


def test_line_paid_out_slower_than_the_lead_runs_draws_the_body_along():
    """From nothing to 30 m on 50 m of run: the body follows straight astern."""
    found, body = in_plane([(0, 0), (0, 50), (0, 100)], [0.0, 30.0, 60.0])

    assert not found.slack.any()
    assert np.abs(body - [(0, 0), (0, 20), (0, 40)]).max() < 1e-6


def test_line_paid_out_faster_than_the_lead_runs_leaves_the_body_where_it_was_shot():
    """From nothing to 80 m on 50 m of run, then no more: it starts to follow after 80 m."""
    found, body = in_plane(
        [(0, 0), (0, 50), (0, 100), (50, 100)], [0.0, 80.0, 80.0, 80.0], start_bearing=77.0
    )

    assert found.slack.tolist() == [True, True, False]
    assert np.abs(body[:3] - [(0, 0), (0, 0), (0, 20)]).max() < 1e-6
    assert np.abs(found.distance_m - [0, 50, 80, 80]).max() < 1e-6
    assert np.abs(found.bearing_deg[[0, 1, 2]] - [77, 0, 0]).max() < 1e-6


def test_line_paid_out_on_the_spot_lies_in_a_heap_under_the_lead():
    found, body = in_plane([(0, 0), (0, 0), (60, 0)], [0.0, 50.0, 50.0], start_bearing=20.0)

    assert found.slack.all()
    assert np.abs(body - [(0, 0), (0, 0), (10, 0)]).max() < 1e-6
    assert np.abs(found.bearing_deg - [20, 20, 90]).max() < 1e-3
    assert np.abs(found.distance_m - [0, 0, 50]).max() < 1e-6


def test_line_hauled_to_nothing_brings_the_body_to_the_lead():
    """On a leg at an angle, and straight at the body, where no angle is left to tell."""
    found, body = in_plane([(0, 0), (0, 50), (0, 80)], [100.0, 0.0, 0.0], start_bearing=50.0)
    ahead, _ = in_plane([(0, 0), (0, -50)], [100.0, 0.0], start_bearing=0.0)

    assert np.abs(body[1:] - [(0, 50), (0, 80)]).max() < 1e-6
    assert np.abs(turned(found.bearing_deg[1:], 0.0)).max() < 1e-6
    assert not ahead.slack.any()
    assert abs(ahead.bearing_deg[1] - 180.0) < 1e-6


def plane_legs(half_sin, half_cos, run, length):
    run, length = np.asarray(run, float), np.asarray(length, float)
    halves = np.asarray(half_sin, float), np.asarray(half_cos, float)
    return Legs(*halves, run, length[:-1], length[1:])


def test_hauled_straight_at_its_body_to_nothing_a_line_takes_the_direction_of_travel():
    """Where the half-angle vector vanishes to the last bit; and in the legs after."""
    legs = plane_legs([1.0] * 9, [0.0] * 9, [50.0] + [0.0] * 8, [100.0] + [0.0] * 9)
    nodes = followed(legs, Line(0.0, 1.0))

    assert np.abs(nodes.half_sin).tolist() == [1.0] * 9
    assert np.abs(nodes.half_cos).tolist() == [0.0] * 9
    assert not nodes.slack.any()


def test_from_nothing_on_a_leg_back_the_body_follows_if_the_lead_is_faster_than_the_winch():
    """What a line pointed to while it had no length does not matter."""
    found, body = in_plane([(0, 0), (50, 0), (0, 0), (0, -50)], [0.0, 0.0, 30.0, 30.0])
    legs = plane_legs([1.0], [0.0], [50.0], [0.0, 30.0])
    stepped = followed(legs, Line(0.0, 1.0))

    assert not found.slack.any()
    assert np.abs(body[:3] - [(0, 0), (50, 0), (30, 0)]).max() < 1e-6
    assert not stepped.slack.any()
    assert stepped.distance_m.tolist() == [30.0]
    assert (abs(stepped.half_sin[0]), abs(stepped.half_cos[0])) == (1.0, 0.0)


def test_line_paid_out_just_as_fast_as_the_lead_runs_stays_taut_and_the_body_still():
    """Rounding of positions must not make it slack."""
    path = along((0, 0), (600, 800), 0.5)
    found, body = in_plane(path, 100.0 + 0.5 * np.arange(len(path)))

    assert not found.slack.any()
    assert np.abs(body - body[0]).max() < 1e-5


def test_lines_of_next_to_no_length_give_numbers():
    """Denormal lengths, towed and tightened within a leg: never a number that is none."""
    tiny = 5e-324
    found, body = in_plane(
        [(0, 0), (0, 50), (0, 40), (0, 90), (0, 140), (0, 100)], [400.0, tiny, tiny, 300.0, 300.0, tiny]
    )
    again, _ = in_plane(
        [(0, 0), (0, -10), (0, -10), (0, -900)], [300.0, 300.0, 300.0, tiny], start_bearing=0.0
    )

    for some in (found, again):
        for column in (some.lon_deg, some.lat_deg, some.bearing_deg, some.distance_m):
            assert np.isfinite(column).all()
    assert np.abs(body[[1, 2, 5], 1] - [50, 40, 100]).max() < 1e-6
    assert again.slack.tolist() == [True, True, True]


def test_slack_line_a_bit_too_long_by_rounding_is_just_taut():
    """Where the quadratic has no root left: at right angles to the leg."""
    line = Line(np.sqrt(0.5), np.sqrt(0.5), 300.0000001, 0.0, slack=True)
    nodes = followed(plane_legs([0.0], [1.0], [10.0], [300.0, 300.0]), line)

    assert not nodes.slack[0]
    assert nodes.distance_m[0] == 300.0


def test_no_slack_line_is_longer_than_what_is_out():
    """Not by the last bit, where the lead stops just as the line tightens."""
    theta = np.radians(np.linspace(91.0, 179.0, 5000))
    for angle, run in zip(theta, -800.0 * np.cos(theta), strict=True):
        line = Line(float(np.sin(angle / 2.0)), float(np.cos(angle / 2.0)))
        nodes = followed(plane_legs([0.0], [1.0], [run], [400.0, 400.0]), line)

        assert nodes.slack[0]
        assert 399.9999 < nodes.distance_m[0] <= 400.0


# ---------------------------------------------------------------- starts, edges of the domain, refusals


def test_body_starts_astern_of_the_first_leg_with_a_length():
    found, body = in_plane([(0, 0), (0, 0), (0, 0), (30, 40)], 100)

    assert np.abs(body[0] - (-60, -80)).max() < 1e-5
    assert np.abs(found.bearing_deg - np.degrees(np.arctan2(3, 4))).max() < 1e-4


def test_in_a_current_the_start_is_astern_through_the_water():
    """Leg (10, 0) less drift (0, 10) points south-east; a leg that only drifts tells nothing."""
    found, _ = in_plane([(0, 0), (0, 5), (10, 5)], 100, drift=np.array([(0.0, 5.0), (0.0, 10.0)]))

    assert abs(found.bearing_deg[0] - 135.0) < 1e-4


def test_one_node_is_enough_with_a_start():
    found = pursue([179.9999], [60.0], [450.0], start_bearing_deg=270.0)

    assert found.slack.shape == (0,)
    assert abs(apart_m(found.lon_deg, found.lat_deg, 179.9999, 60.0).max() - 450.0) < 1e-6
    assert -180.0 <= found.lon_deg[0] < -179.99


def test_columns_cannot_be_written_to():
    found = pursue([0.0, 0.1], [0.0, 0.0], [10.0, 10.0])

    for name in ("lon_deg", "lat_deg", "bearing_deg", "distance_m", "slack"):
        with pytest.raises(ValueError, match="read-only"):
            getattr(found, name)[0] = 0


def test_input_is_left_as_it_was():
    lon, lat, length = np.array([0.0, 0.1]), np.array([0.0, 0.0]), np.array([10.0, 10.0])
    pursue(lon, lat, length)

    assert lon.tolist() + lat.tolist() + length.tolist() == [0.0, 0.1, 0.0, 0.0, 10.0, 10.0]
    assert length.flags.writeable


@pytest.mark.parametrize("bearing", [-1e-20, 360.0, 720.0, -360.0])
def test_bearings_are_under_360(bearing):
    found = pursue([0.0], [0.0], [10.0], start_bearing_deg=bearing)

    assert 0.0 <= found.bearing_deg[0] < 1e-6 or 359.999999 < found.bearing_deg[0] < 360.0


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        (([], [], []), "at least one node"),
        (([0.0, 1.0], [0.0], [1.0, 1.0]), "2 longitudes, 1 latitudes and 2 lengths"),
        (([0.0, 1.0], [0.0, 0.0], [1.0]), "2 longitudes, 2 latitudes and 1 lengths"),
        (([0.0, np.nan], [0.0, 0.0], [1.0, 1.0]), "longitudes: number 2 of 2 is not finite"),
        (([0.0, 1.0], [np.inf, 0.0], [1.0, 1.0]), "latitudes: number 1 of 2 is not finite"),
        (([0.0, 1.0], [0.0, 0.0], [1.0, np.nan]), "lengths of line: number 2 of 2 is not finite"),
        (([0.0, 1.0], [0.0, -90.5], [1.0, 1.0]), "latitude -90.5"),
        (([0.0, 1.0], [0.0, 0.0], [1.0, -2.5]), "a line of -2.500 m"),
        (([[0.0, 1.0]], [0.0, 0.0], [1.0, 1.0]), "2 dimensions"),
        (([0.0, 0.0], [5.0, 5.0], [1.0, 1.0]), "never moves"),
        (([0.0], [5.0], [1.0]), "never moves"),
    ],
)
def test_what_cannot_be_meant_is_refused(columns, words):
    with pytest.raises(GeometryError, match=words):
        pursue(*columns)


@pytest.mark.parametrize(
    ("drifts", "words"),
    [
        ({"drift_east_m": [1.0]}, "one direction only"),
        ({"drift_north_m": [1.0]}, "one direction only"),
        ({"drift_east_m": [1.0], "drift_north_m": [1.0, 2.0]}, "1 drifts east and 2 north for 1 legs"),
        ({"drift_east_m": [1.0, 2.0], "drift_north_m": [1.0]}, "2 drifts east and 1 north for 1 legs"),
        ({"drift_east_m": [np.nan], "drift_north_m": [1.0]}, "drifts east: number 1 of 1 is not finite"),
        ({"drift_east_m": [0.0], "drift_north_m": [np.inf]}, "drifts north: number 1 of 1 is not finite"),
        ({"start_bearing_deg": np.nan}, "bearing of the line at the start"),
    ],
)
def test_drifts_and_starts_that_cannot_be_meant_are_refused(drifts, words):
    with pytest.raises(GeometryError, match=words):
        pursue([0.0, 0.1], [0.0, 0.0], [1.0, 1.0], **drifts)


def test_first_leg_with_a_length_is_found_behind_many_without():
    found = pursue([0.0] * 6 + [0.01], [0.0] * 7, [50.0] * 7)

    assert np.abs(found.bearing_deg - 90.0).max() < 1e-9


# ---------------------------------------------------------------- the ellipsoid


@pytest.mark.parametrize(
    ("lon", "lat"), [(2.0, 60.0), (-50.0, 80.0), (179.95, 65.0), (-179.9, -45.0), (10.0, -78.0), (0.0, 0.0)]
)
@pytest.mark.parametrize("turn", [0.05, 1.0])
def test_thirty_kilometres_agree_with_exact_geodesics(lon, lat, turn):
    """To 0.1 mm, smooth and with slack, in legs up to 50 m."""
    rng = np.random.default_rng(round(abs(lon) + abs(lat)))
    x, y = Plane(lon, lat).positions(wandering(rng, 1000, (10.0, 50.0), turn))
    length = np.linspace(350.0, 450.0, 1000)
    found = pursue(x, y, length)
    wanted, slack = geodesic(x, y, length, found.bearing_deg[0])

    assert apart_m(found.lon_deg, found.lat_deg, *wanted.T).max() < 1e-4
    assert (found.slack == slack).all()
    assert slack.any() == (turn == 1.0)
    assert np.abs(found.lon_deg).max() <= 180.0


@pytest.mark.parametrize("lat", [60.0, 80.0, -55.0])
def test_thirty_kilometres_agree_with_a_plane(lat):
    """Straight on with bends, against stepping in an azimuthal equidistant plane around their middle."""
    rng = np.random.default_rng(1)
    heading = np.cumsum(rng.normal(0.0, 0.1, 600) * (np.arange(600) % 10 == 0))
    path = np.cumsum(50.0 * np.column_stack([np.sin(heading), np.cos(heading)]), axis=0)
    path -= (path[0] + path[-1]) / 2.0
    _, body = in_plane(path, 400, plane=Plane(179.9, lat))
    wanted, _, _ = planar(path, 400, body[0])

    assert np.hypot(*(body - wanted).T).max() < 1e-3


@pytest.mark.parametrize("lat", [0.0, 45.0, 60.0, 80.0])
@pytest.mark.parametrize("leg_m", [3000.0, 4990.0, 20_000.0])
def test_long_legs_agree_with_their_parts(lat, leg_m):
    """To 0.1 mm: one leg or two hundred on the same geodesic."""
    for azimuth in (0.0, 37.0, 90.0, 200.0, 301.0):
        part = np.arange(201) / 200.0
        lon, lat_, _ = GEOD.fwd(np.full(201, 3.0), np.full(201, lat), np.full(201, azimuth), leg_m * part)
        long = pursue(lon[[0, -1]], lat_[[0, -1]], [900.0, 800.0], start_bearing_deg=azimuth + 80.0)
        short = pursue(lon, lat_, 900.0 - 100.0 * part, start_bearing_deg=azimuth + 80.0)

        assert apart_m(long.lon_deg[-1], long.lat_deg[-1], short.lon_deg[-1], short.lat_deg[-1]) < 1e-4


@pytest.mark.parametrize("pole", [90.0, -90.0])
def test_poles_are_places_like_any_other(pole):
    """Over the pole in legs of 50 m, one node right on it: straight astern stays straight astern."""
    lat = np.sign(pole) * (90.0 - np.abs(np.arange(-40, 41)) * 50.0 / 111_694.0)
    lon = np.where(np.arange(-40, 41) < 0, 30.0, -150.0)
    found = pursue(lon, lat, np.full(81, 333.0))

    run = apart_m(found.lon_deg[:-1], found.lat_deg[:-1], found.lon_deg[1:], found.lat_deg[1:])
    assert np.abs(run - 50.0).max() < 1e-3
    assert np.abs(turned(found.bearing_deg[:40], 0.0 if pole > 0 else 180.0)).max() < 1e-6
    assert np.abs(turned(found.bearing_deg[41:], 180.0 if pole > 0 else 0.0)).max() < 1e-6
    assert not found.slack.any()


def test_longitudes_may_be_written_round_the_world():
    """190 is -170."""
    one = pursue([179.99, 180.01, 180.02], [50.0, 50.0, 50.01], [300.0] * 3)
    other = pursue([-180.01, -179.99, 180.02], [50.0, 50.0, 50.01], [300.0] * 3)

    assert apart_m(one.lon_deg, one.lat_deg, other.lon_deg, other.lat_deg).max() < 1e-6
    assert np.abs(other.lon_deg).max() <= 180.0


def random_geodesics(rng, n, length_m):
    """Starts all over the globe, a quarter of them within 10 km of a pole, and ends at a distance."""
    lon, lat = rng.uniform(-180.0, 180.0, n), np.degrees(np.arcsin(rng.uniform(-1.0, 1.0, n)))
    lat[: n // 4] = rng.choice([-1.0, 1.0], n // 4) * (90.0 - 0.09 * rng.uniform(0.0, 1.0, n // 4))
    azimuth = rng.uniform(0.0, 360.0, n)
    x, y, back = GEOD.fwd(lon, lat, azimuth, np.full(n, length_m))
    return lon, lat, azimuth, np.asarray(x), np.asarray(y), np.asarray(back)


@pytest.mark.parametrize(
    ("length_m", "within_m"), [(1.0, 1e-8), (100.0, 1e-8), (1000.0, 1e-7), (NEAR_M, 2e-5)]
)
def test_legs_and_bodies_are_those_of_geodesics(length_m, within_m):
    """Vectors of legs, the turn of north, and positions behind, all over the globe."""
    lon, lat, azimuth, x, y, back = random_geodesics(np.random.default_rng(3), 20_000, length_m)
    east, north, turn = (
        c[::2] for c in leg_vectors(np.stack([lon, x], 1).ravel(), np.stack([lat, y], 1).ravel())
    )
    turn_wanted = np.radians(turned(back + 180.0, azimuth))
    middle = np.radians(azimuth) + turn_wanted / 2.0
    body = behind(lon, lat, np.radians(azimuth + 180.0), np.full(len(lon), length_m))

    assert np.hypot(east - length_m * np.sin(middle), north - length_m * np.cos(middle)).max() < within_m
    assert np.abs(turned(np.degrees(turn), np.degrees(turn_wanted))).max() < 1e-11 + 1e-7 * (length_m == 1.0)
    assert apart_m(*body, x, y).max() < within_m


@pytest.mark.parametrize("length_m", [NEAR_M * 1.01, 60_000.0])
def test_legs_and_lines_beyond_the_series_are_exact(length_m):
    lon, lat, azimuth, x, y, back = random_geodesics(np.random.default_rng(4), 500, length_m)
    east, north, _ = (
        c[::2] for c in leg_vectors(np.stack([lon, x], 1).ravel(), np.stack([lat, y], 1).ravel())
    )
    body = behind(lon, lat, np.radians(azimuth + 180.0), np.full(len(lon), length_m))

    middle = np.radians(azimuth + turned(back + 180.0, azimuth) / 2.0)
    assert np.hypot(east - length_m * np.sin(middle), north - length_m * np.cos(middle)).max() < 1e-6
    assert apart_m(*body, x, y).max() < 1e-6
