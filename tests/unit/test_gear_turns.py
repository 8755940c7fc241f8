"""The towline in turns, against numerical integration of its law, stepping, and the tractrix of textbooks."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from towzone.errors import UsageError
from towzone.gear.turns import (
    angle_after_arc,
    angle_after_leg,
    angle_after_winch_leg,
    corner_cut,
    gate_distance_m,
    gear_run_m,
    run_to_abeam_m,
    settle_run_m,
    sidestep_offset_m,
    steady_net_radius,
    steady_turn,
)

L = 400.0
EXACT = {"method": "DOP853", "rtol": 1e-12, "atol": 1e-13}


def rad(degrees):
    return np.radians(degrees)


def integrated(law, start, end):
    """The solution of an ordinary differential equation at its end."""
    return solve_ivp(law, (0.0, end), np.atleast_1d(start), **EXACT).y[:, -1]


def pulled(vessel, gear, end):
    """Where gear is that moves along its towline, the vessel's position and velocity being functions."""

    def law(s, g):
        place, velocity = vessel(s)
        towline = (place - g) / math.hypot(*(place - g))
        return float(velocity @ towline) * towline

    return integrated(law, gear, end)


def stepped_on_a_rope(course_rad, run, gear, n=20_000):
    """The gear's path behind a vessel that leaves (0, 0) on a course, dragged whenever the rope is taut."""
    path = np.empty((n + 1, 2))
    path[0] = gear
    towards = np.array([math.cos(course_rad), math.sin(course_rad)])
    x, y = gear
    for i in range(1, n + 1):
        vx, vy = run * i / n * towards
        apart = math.hypot(vx - x, vy - y)
        if apart > L:
            x, y = vx + (x - vx) * L / apart, vy + (y - vy) * L / apart
        path[i] = x, y
    return path


@pytest.mark.parametrize("degrees", [0.0, 1.0, 60.0, 89.0, 91.0, 150.0, 179.0, -75.0])
def test_the_angle_after_a_leg_solves_the_law_of_the_towline(degrees):
    for run in (0.0, 1.0, 400.0, 3000.0):
        expected = integrated(lambda _, a: -np.sin(a) / L, rad(degrees), run)[0] if run else rad(degrees)

        assert abs(angle_after_leg(rad(degrees), run, L) - expected) < 1e-10


def test_gear_pulled_along_its_towline_is_where_the_angle_says():
    """In coordinates, which the law of the angle was derived from."""
    gear = pulled(
        lambda s: (np.array([s, 0.0]), np.array([1.0, 0.0])), (-200.0, -200.0 * math.sqrt(3.0)), 700.0
    )
    angle = float(angle_after_leg(rad(60.0), 700.0, L))

    np.testing.assert_allclose(gear, [700.0 - L * math.cos(angle), -L * math.sin(angle)], rtol=0, atol=1e-8)


@pytest.mark.parametrize("run", [10.0, 200.0, 900.0])
def test_gear_that_was_abeam_draws_the_tractrix_of_textbooks(run):
    """x = a (ln cot(t / 2) - cos t), y = a sin t: Spiegel, Mathematical Handbook of Formulas and Tables."""
    angle = float(angle_after_leg(math.pi / 2, run, L))
    x = L * (math.log(1.0 / math.tan(angle / 2)) - math.cos(angle))

    assert abs(run - L * math.cos(angle) - x) < 1e-9


def test_gear_ahead_of_the_vessel_or_dead_astern_stays_there():
    np.testing.assert_array_equal(angle_after_leg([np.pi, -np.pi, 0.0], 1e5, L), [np.pi, -np.pi, 0.0])


def test_a_very_long_leg_brings_the_gear_dead_astern():
    assert float(angle_after_leg(3.0, 1e7, L)) == 0.0


@pytest.mark.parametrize("degrees", [5.0, -40.0, 85.0, 90.0])
def test_the_run_of_the_gear_is_the_length_of_its_path(degrees):
    end = float(angle_after_leg(rad(degrees), 700.0, L))
    _, length = integrated(lambda _, y: [-np.sin(y[0]) / L, np.cos(y[0])], [rad(degrees), 0.0], 700.0)

    assert abs(gear_run_m(rad(degrees), end, L) - length) < 1e-7


@pytest.mark.parametrize(
    ("start", "end"), [(0.0, 0.0), (0.5, 0.0), (0.5, -0.4), (0.4, 0.5), (1.6, 0.5), (np.nan, 0.1)]
)
def test_angles_that_do_not_tell_the_run_of_the_gear_are_refused(start, end):
    with pytest.raises(UsageError, match="angle"):
        gear_run_m(start, end, L)


def test_gear_that_has_not_moved_has_no_run():
    assert float(gear_run_m(0.5, 0.5, L)) == 0.0


@pytest.mark.parametrize("heave", [1.1, 0.3, 1e-9, 0.0, -1e-9, -0.9])
@pytest.mark.parametrize("degrees", [50.0, -120.0, 0.0])
def test_the_angle_on_a_leg_with_the_winch_running_solves_the_law(heave, degrees):
    expected = integrated(lambda t, a: -1.2 * np.sin(a) / (L - heave * t), rad(degrees), 200.0)[0]

    assert abs(angle_after_winch_leg(rad(degrees), 1.2, heave, 200.0, L) - expected) < 1e-10


def test_a_winch_that_stands_still_changes_nothing():
    """The limit, and beside it to the last digits."""
    still = angle_after_leg(1.0, 240.0, L)

    np.testing.assert_allclose(
        angle_after_winch_leg(1.0, 1.2, [0.0, 1e-300, -1e-300, 1e-15], 200.0, L), still, rtol=0, atol=1e-14
    )


def test_a_vessel_that_lies_still_and_heaves_keeps_the_direction_of_the_towline():
    np.testing.assert_allclose(
        angle_after_winch_leg([1.0, -2.5], 0.0, 1.1, 300.0, L), [1.0, -2.5], rtol=0, atol=1e-15
    )


def test_heaving_beyond_the_layback_is_refused():
    with pytest.raises(UsageError, match="layback 400 m, speed of heaving 2 m/s, time 200 s"):
        angle_after_winch_leg(1.0, 1.2, 2.0, 200.0, L)


RADII = [2 * L, 1.01 * L, L, 0.999999999 * L, 0.8 * L, 1e9, -2 * L, -L, -0.8 * L]


@pytest.mark.parametrize("radius", RADII)
@pytest.mark.parametrize("degrees", [0.0, -30.0, 15.0, 40.0, 90.0, -170.0])
def test_the_angle_after_an_arc_solves_the_law_wide_equal_and_tight(radius, degrees):
    for run in (10.0, 500.0, 2000.0):
        expected = integrated(lambda _, b: 1.0 / radius - np.sin(b) / L, rad(degrees), run)[0]
        found = float(angle_after_arc(rad(degrees), run, L, radius))

        assert abs(math.remainder(found - expected, 2 * math.pi)) < 1e-9
        assert abs(found) <= math.pi


def test_gear_pulled_round_an_arc_is_where_the_angle_says():
    radius, run = 700.0, 900.0

    def vessel(s):
        heading = s / radius
        place = radius * np.array([math.sin(heading), 1.0 - math.cos(heading)])
        return place, np.array([math.cos(heading), math.sin(heading)])

    gear = pulled(vessel, (-L, 0.0), run)
    towline = run / radius - float(angle_after_arc(0.0, run, L, radius))
    expected = vessel(run)[0] - L * np.array([math.cos(towline), math.sin(towline)])

    np.testing.assert_allclose(gear, expected, rtol=0, atol=1e-8)


@pytest.mark.parametrize("radius", [np.inf, -np.inf])
def test_an_arc_of_endless_radius_is_a_straight_leg(radius):
    for degrees in (0.0, 60.0, -120.0):
        leg = angle_after_leg(rad(degrees), 500.0, L)
        np.testing.assert_allclose(angle_after_arc(rad(degrees), 500.0, L, radius), leg, rtol=0, atol=1e-14)


def test_a_long_turn_becomes_the_steady_one():
    for radius in (1000.0, -1000.0):
        found = angle_after_arc(0.3, 1e6, L, radius)
        assert abs(found - steady_turn(radius, L).beta_rad) < 1e-12


def test_a_turn_as_tight_as_the_layback_brings_the_gear_abeam_in_the_end():
    found = angle_after_arc(0.0, [1e3, 1e5, 1e8], L, L)

    assert (np.diff(found) > 0.0).all()
    assert (found < math.pi / 2).all()
    assert found[-1] > math.pi / 2 - 1e-4


@pytest.mark.parametrize("radius", [0.8 * L, 0.1 * L, -0.5 * L])
@pytest.mark.parametrize("degrees", [0.0, 30.0, -80.0])
def test_the_gear_is_abeam_when_it_was_said_to_be(radius, degrees):
    run = float(run_to_abeam_m(rad(degrees), L, radius))

    assert 0.0 < run < math.inf
    assert abs(angle_after_arc(rad(degrees), run, L, radius) - math.copysign(math.pi / 2, radius)) < 1e-9


def test_a_turn_no_tighter_than_the_layback_never_brings_the_gear_abeam():
    np.testing.assert_array_equal(run_to_abeam_m(0.5, L, [L, -L, 2 * L, np.inf]), np.inf)
    assert abs(run_to_abeam_m(math.pi / 2, L, 0.5 * L)) < 1e-9


def test_a_steady_turn_is_steady():
    """Its angle does not change, and gear, centre and vessel make a right angle."""
    turn = steady_turn([1000.0, -500.0, 400.0], L)

    np.testing.assert_allclose(
        angle_after_arc(turn.beta_rad, 777.0, L, [1000.0, -500.0, 400.0]), turn.beta_rad, rtol=0, atol=1e-7
    )
    np.testing.assert_allclose(np.hypot(turn.gear_radius_m, L), [1000.0, 500.0, 400.0], rtol=0, atol=1e-9)
    np.testing.assert_allclose(turn.inside_m + turn.gear_radius_m, [1000.0, 500.0, 400.0], rtol=0, atol=1e-9)
    np.testing.assert_allclose(turn.speed_ratio, np.cos(turn.beta_rad), rtol=0, atol=1e-12)


def test_gear_in_a_very_wide_turn_runs_the_square_of_the_layback_inside():
    """L^2 / 2R, which the difference of two radii alone would lose in rounding."""
    assert abs(steady_turn(1e9, L).inside_m / (L**2 / 2e9) - 1.0) < 1e-9


def test_the_codend_settles_where_two_towlines_lead():
    """As a second body behind the first."""
    doors = steady_turn(1000.0, L).gear_radius_m

    assert abs(steady_net_radius(1000.0, L, 150.0) - steady_turn(doors, 150.0).gear_radius_m) < 1e-9
    assert float(steady_net_radius(-1000.0, L, 0.0)) == pytest.approx(float(doors), rel=1e-14)
    assert float(steady_net_radius(500.0, 400.0, 300.0)) == 0.0


@pytest.mark.parametrize(
    "asked",
    [
        lambda: steady_turn(399.9, L),
        lambda: steady_turn(-399.9, L),
        lambda: steady_net_radius(499.9, L, 300.0),
    ],
)
def test_a_turn_too_tight_to_become_steady_is_refused(asked):
    with pytest.raises(UsageError, match=r"found radius -?\d+.9 m, layback 400 m"):
        asked()


@pytest.mark.parametrize("degrees", [10.0, 45.0, 90.0, 120.0, 134.0, 150.0, 175.0])
def test_the_nearest_to_the_corner_is_what_stepping_finds(degrees):
    path = stepped_on_a_rope(rad(degrees), 3 * L, (-L, 0.0))
    away = np.hypot(*path.T) / L
    found = corner_cut(rad(degrees))

    assert abs(away.min() - found.distance) < 1e-4
    if degrees < 135.0:
        run = 3.0 * np.argmin(away) / 20_000
        assert abs(run - found.run) < 5e-3


def test_at_the_nearest_the_gear_moves_square_to_the_corner():
    """Of which the closed form says: a distance of tan a, after a run of sec a."""
    turn = rad(np.array([1e-6, 0.5, 20.0, 89.0, 90.0]))
    found = corner_cut(turn)

    np.testing.assert_allclose(angle_after_leg(turn, found.run, 1.0), found.angle_rad, rtol=0, atol=1e-12)
    np.testing.assert_allclose(np.hypot(1.0, found.distance), found.run, rtol=0, atol=1e-12)
    np.testing.assert_allclose(found.distance, np.tan(found.angle_rad), rtol=0, atol=1e-12)


def test_a_corner_of_nothing_is_passed_through():
    found = corner_cut([0.0, 1e-12])

    np.testing.assert_allclose(found.distance, 0.0, rtol=0, atol=1e-12)
    np.testing.assert_allclose(found.run, 1.0, rtol=0, atol=1e-12)


def test_a_gentle_corner_is_cut_by_the_turn_over_e():
    """The limit of the closed form: a = b / e (own derivation)."""
    assert abs(corner_cut(1e-4).distance / (1e-4 / math.e) - 1.0) < 1e-6


def test_from_135_degrees_on_the_gear_is_nearest_where_it_lay():
    """One layback from the corner, until the rope is taut after -2 cos a laybacks."""
    found = corner_cut(rad(np.array([135.0, 160.0, 180.0])))

    np.testing.assert_allclose(found.distance, 1.0, rtol=0, atol=1e-9)
    np.testing.assert_allclose(
        found.run, -2.0 * np.cos(rad(np.array([135.0, 160.0, 180.0]))), rtol=0, atol=1e-9
    )
    np.testing.assert_allclose(found.angle_rad, rad(np.array([45.0, 20.0, 0.0])), rtol=0, atol=1e-9)


def test_corners_of_all_turns_join_and_mirror():
    turns = np.linspace(0.0, np.pi, 3601)
    found = corner_cut(turns)

    for part in (found.distance, found.run, found.angle_rad):
        assert np.isfinite(part).all()
        assert (np.abs(np.diff(part)) < 3e-3).all()
    assert (np.diff(found.distance) > -1e-12).all()
    np.testing.assert_array_equal(corner_cut(-turns).distance, found.distance)


@pytest.mark.parametrize("degrees", [30.0, -60.0, 90.0])
def test_after_the_settling_run_the_gear_is_off_its_line_by_just_that(degrees):
    run = settle_run_m(rad(degrees), L, 20.0)

    assert abs(L * np.sin(np.abs(angle_after_leg(rad(degrees), run, L))) - 20.0) < 1e-9


@pytest.mark.parametrize("degrees", [60.0, 120.0, 150.0])
def test_gear_on_a_rope_settles_when_stepping_says_so(degrees):
    course = rad(degrees)
    path = stepped_on_a_rope(course, 5 * L, (-L, 0.0))
    off = np.abs(path @ np.array([-math.sin(course), math.cos(course)]))
    along = path @ np.array([math.cos(course), math.sin(course)])
    first = np.flatnonzero(off > 20.0)[-1] + 1

    assert abs(settle_run_m(course, L, 20.0) - 5 * L * first / 20_000) < 0.5
    assert abs(gate_distance_m(course, L, 20.0) - along[first]) < 0.5


def test_gear_that_is_near_its_line_already_needs_no_run_but_a_taut_rope():
    assert float(settle_run_m(rad(2.0), L, 20.0)) == 0.0
    assert float(settle_run_m(0.0, L, 20.0)) == 0.0
    assert float(settle_run_m(rad(90.0), L, L)) == 0.0
    assert float(settle_run_m(rad(90.0), L, 2 * L)) == 0.0
    assert float(settle_run_m(np.pi, L, 20.0)) == 2 * L
    # The gear then is as far before the gate as it trails.
    assert abs(gate_distance_m(rad(2.0), L, 20.0) + L * math.cos(rad(2.0))) < 1e-9
    assert abs(gate_distance_m(np.pi, L, 20.0) - L) < 1e-9


def test_a_small_sidestep_is_followed_as_stepping_says():
    """Within 0.2 % of a jog of 80 m at 30 degrees (own evaluation)."""
    jog, course = 80.0, rad(30.0)
    corner = jog / math.tan(course)
    angle = float(angle_after_leg(-course, jog / math.sin(course), L)) + course
    for past in (0.0, L, 2 * L):
        # On the third leg, the gear past the middle of the jog; found by stepping along it.
        runs = np.linspace(0.0, 4 * L, 40_001)
        towline = angle_after_leg(angle, runs, L)
        x = corner + runs - L * np.cos(towline)
        y = jog - L * np.sin(towline)
        offset = np.interp(corner / 2 + past, x, y)

        assert abs(sidestep_offset_m(jog, past, L) / jog - offset / jog) < 2e-3


def test_a_sidestep_ahead_of_the_vessel_has_moved_nothing():
    np.testing.assert_array_equal(sidestep_offset_m([80.0, -80.0], [-L, -3 * L], L), 0.0)
    np.testing.assert_array_equal(sidestep_offset_m(-80.0, 100.0, L), -sidestep_offset_m(80.0, 100.0, L))
    assert float(sidestep_offset_m(80.0, 1e6, L)) == 80.0


@pytest.mark.parametrize(
    ("asked", "figures"),
    [
        (angle_after_leg, (1.0, 100.0, L)),
        (angle_after_winch_leg, (1.0, 1.2, 0.5, 100.0, L)),
        (angle_after_arc, (1.0, 100.0, L, 1000.0)),
        (run_to_abeam_m, (1.0, L, 1000.0)),
        (gear_run_m, (1.0, 0.5, L)),
        (steady_turn, (1000.0, L)),
        (steady_net_radius, (1000.0, L, 150.0)),
        (corner_cut, (1.0,)),
        (settle_run_m, (1.0, L, 20.0)),
        (gate_distance_m, (1.0, L, 20.0)),
        (sidestep_offset_m, (80.0, 100.0, L)),
    ],
)
def test_no_figure_may_be_missing(asked, figures):
    """NaN in any place is refused, alone and in a column."""
    for place in range(len(figures)):
        for bad in (np.nan, [figures[place], np.nan]):
            with pytest.raises(UsageError, match="found nan"):
                asked(*figures[:place], bad, *figures[place + 1 :])


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (lambda: angle_after_leg(3.2, 100.0, L), "angle of the towline"),
        (lambda: angle_after_leg(1.0, -1.0, L), "run of the vessel"),
        (lambda: angle_after_leg(1.0, 1.0, 0.0), "layback"),
        (lambda: angle_after_arc(1.0, 1.0, L, 0.0), "a turn on the spot"),
        (lambda: angle_after_arc(1.0, 1.0, L, -1e-9), "a turn on the spot"),
        (lambda: angle_after_arc(-3.2, 1.0, L, 900.0), "angle of the towline"),
        (lambda: run_to_abeam_m(1.0, L, 0.0), "a turn on the spot"),
        (lambda: run_to_abeam_m(1.6, L, 100.0), "angle of the towline"),
        (lambda: angle_after_winch_leg(1.0, -1.0, 0.5, 1.0, L), "speed of the vessel"),
        (lambda: angle_after_winch_leg(1.0, 1.0, 0.5, -1.0, L), "time"),
        (lambda: corner_cut(3.2), "turn"),
        (lambda: settle_run_m(1.0, L, 0.0), "distance from the new line"),
    ],
)
def test_figures_that_cannot_be_are_refused(asked, words):
    with pytest.raises(UsageError, match=f"^{words}.*allowed"):
        asked()


def test_columns_broadcast():
    assert angle_after_arc([[0.0], [0.1]], [1.0, 2.0, 3.0], L, 900.0).shape == (2, 3)
    assert corner_cut([[0.1, 0.2]]).run.shape == (1, 2)
    assert settle_run_m([0.1, 0.2], [[300.0], [400.0]], 5.0).shape == (2, 2)
    assert steady_turn(900.0, [300.0, 400.0]).gear_radius_m.shape == (2,)
    assert angle_after_leg(1.0, 1.0, L).shape == ()
