"""Thinning, speeds and steadiness of courses: what detection is built on."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from synthetic_trips import sail

from towzone.errors import GeometryError
from towzone.tows.speeds import profile_of
from towzone.tows.stretches import joined, runs
from towzone.tows.thinning import thinned

KNOT_MPS = 1852.0 / 3600.0  # exactly; SI Brochure, 8th ed. (2006), Table 8


def profile(fixes, gap_s=900.0):
    return profile_of(fixes.lon_deg, fixes.lat_deg, fixes.time_s, fixes.part, gap_s)


def one_part(time_s):
    return np.zeros(len(time_s), dtype=np.int32)


@pytest.mark.parametrize(("step_s", "apart"), [(0.1, 100), (1.0, 10), (10.0, 1), (60.0, 1)])
def test_marks_are_about_ten_seconds_apart_or_as_the_fixes_are(step_s, apart):
    """The first fix of each ten seconds is looked at, and the last of all."""
    time_s = 1.7e9 + np.arange(1001) * step_s

    marks = thinned(time_s, one_part(time_s), 900.0)

    assert marks.fix.tolist() == sorted({*range(0, 1001, apart), 1000})
    assert not marks.gap.any()


def test_a_step_does_not_hang_on_the_last_digits_of_a_time():
    """What is a thousandth of a second or less short of ten seconds is ten seconds."""
    time_s = 1.7e9 + np.array([0.0, 9.998, 19.9995, 20.0, 29.9995, 30.0, 31.0])

    assert thinned(time_s, one_part(time_s), 900.0).fix.tolist() == [0, 2, 4, 6]


def test_marks_stand_on_both_sides_of_every_gap():
    """A gap in time and a change of segment; the marks beside them are the fixes beside them."""
    time_s = np.concatenate([np.arange(0.0, 95.0), np.arange(2000.0, 2095.0), np.arange(2095.0, 2190.0)])
    part = np.repeat([0, 0, 1], 95)

    marks = thinned(time_s, part, 900.0)

    before = marks.fix[:-1][marks.gap]
    after = marks.fix[1:][marks.gap]
    assert before.tolist() == [94, 189]
    assert after.tolist() == [95, 190]


def test_fixes_without_time_are_left_out_and_their_neighbours_bound_them():
    """What lies between two timed fixes is one stretch, a gap when these are far apart."""
    time_s = np.array([0.0, np.nan, 300.0, np.nan, np.nan, 2000.0])

    marks = thinned(time_s, one_part(time_s), 900.0)

    assert marks.fix.tolist() == [0, 2, 5]
    assert marks.gap.tolist() == [False, True]


def test_a_leg_over_a_quarter_of_an_hour_is_a_gap_whatever_is_allowed():
    """Its mean speed may hide a tow and a passage."""
    time_s = np.array([0.0, 900.0, 1801.0])

    assert thinned(time_s, one_part(time_s), 36_000.0).gap.tolist() == [False, True]


def test_times_that_go_back_are_refused_with_the_fix():
    """Tracks are put in order before; here it is a fault of the caller."""
    time_s = np.array([0.0, 20.0, 10.0])

    with pytest.raises(GeometryError, match="fix 3"):
        thinned(time_s, one_part(time_s), 900.0)


@pytest.mark.parametrize("every_s", [1, 10, 60, 300])
@pytest.mark.parametrize("origin", [(-8.0, 54.0), (179.99, -60.0), (0.0, 0.0), (20.0, 84.0)])
def test_a_steady_speed_is_found_to_a_thousandth_of_a_knot(every_s, origin):
    """Three knots north-east for an hour, at 180 degrees and far north too."""
    found = profile(sail([(60, 3.0, 45.0, 45.0)], every_s, origin))

    assert found.speed_kn == pytest.approx(np.full(len(found), 3.0), abs=1e-3)
    assert found.way_m.sum() == pytest.approx(3.0 * 1852.0, rel=1e-3)


def test_a_long_leg_does_not_lend_its_speed_to_the_short_ones_beside_it():
    """Ten knots for ten minutes in one leg, then three knots every ten seconds."""
    fixes = sail([(10, 10.0, 0.0, 0.0), (10, 3.0, 0.0, 0.0)], 10)
    fixes = replace(fixes, **{name: np.delete(column, range(1, 60)) for name, column in vars(fixes).items()})

    assert profile(fixes).speed_kn == pytest.approx([10.0] + [3.0] * 60, abs=1e-3)


def test_noise_of_positions_does_not_add_up():
    """Every second fix stands 6 m aside; the sum of legs would make 12 kn of it, the window 3 kn."""
    fixes = sail([(60, 3.0, 0.0, 0.0)], 1)
    fixes.lon_deg[::2] += 6.0 / (111_320.0 * math.cos(math.radians(54.0)))

    assert profile(fixes).speed_kn == pytest.approx(3.0, abs=0.2)


def test_a_straight_course_is_steady_and_a_quarter_turn_in_ten_minutes_is_at_the_limit():
    """Mean resultant length of headings spread over an angle a: sin(a/2) / (a/2), 0.900 for 90 degrees."""
    turning = profile(sail([(60, 3.0, 0.0, 540.0)], 10))
    middle = len(turning) // 2

    assert profile(sail([(60, 3.0, 30.0, 30.0)], 10)).steadiness == pytest.approx(1.0, abs=1e-6)
    assert turning.steadiness[middle] == pytest.approx(math.sin(math.pi / 4) / (math.pi / 4), abs=0.005)


def test_long_legs_are_compared_by_threes():
    """Five-minute legs of headings 0, 90, 180: two of three cancel, one is left."""
    found = profile(sail([(5, 3.0, 0.0, 0.0), (5, 3.0, 90.0, 90.0), (5, 3.0, 180.0, 180.0)], 300))

    assert found.steadiness[1] == pytest.approx(1.0 / 3.0, abs=0.01)


def test_speed_is_unknown_in_gaps_and_where_positions_last_less_than_a_minute():
    """A lone fix, and four within half a minute, have no speed."""
    time_s = np.array([0.0, 5000.0, 10_000.0, 10_010.0, 10_020.0, 10_030.0, 20_000.0])
    lon = np.linspace(-8.0, -7.0, 7)

    found = profile_of(lon, np.full(7, 54.0), time_s, one_part(time_s), 900.0)

    assert np.isnan(found.speed_kn).all()
    assert found.gap.tolist() == [True, True, False, False, False, True]


@pytest.mark.parametrize("n", [0, 1])
def test_a_track_without_legs_has_an_empty_profile(n):
    """No fix, one fix."""
    found = profile_of(np.zeros(n), np.zeros(n), np.zeros(n), one_part(np.zeros(n)), 900.0)

    assert len(found) == 0
    assert found.fixes == n


def test_only_short_interruptions_are_joined():
    """Interruptions of 2 and 3 with a limit of 3: the first is filled, the second stays."""
    mask = np.array([0, 1, 0, 0, 1, 0, 0, 0, 1, 0], dtype=bool)

    assert joined(mask, np.ones(10), 3.0).astype(int).tolist() == [0, 1, 1, 1, 1, 0, 0, 0, 1, 0]


def test_nothing_is_joined_over_what_must_not_be_passed():
    """The same interruption, with and without something in it."""
    mask = np.array([True, False, False, True])

    assert joined(mask, np.ones(4), 9.0, np.array([True, True, False, True])).tolist() == mask.tolist()
    assert joined(mask, np.ones(4), 9.0, np.ones(4, dtype=bool)).all()


def test_runs_of_nothing_and_of_everything():
    """Ends of the array are ends of runs."""
    assert [ends.tolist() for ends in runs(np.zeros(3, dtype=bool))] == [[], []]
    assert [ends.tolist() for ends in runs(np.ones(3, dtype=bool))] == [[0], [3]]
