"""Rules in force never turn what is open, or found, into clear: partial dates, lone fixes, short stays."""

from datetime import date

import numpy as np
import pytest
from scenes import START, LineKind, area, around, box, check, fixes, joined, moved, steady, zone

from towzone.checks.settings import Towing
from towzone.model.result import Outcome
from towzone.model.rules import Rules, Window
from towzone.model.zone import Prohibition

AT = (-20.0, 57.0)
DISC = area(around(AT, 2000.0))
HOUR = 3600.0
FIRST_OF_MARCH = Rules(season=(Window(from_month=3, from_day=1, to_month=3, to_day=1),))
FROM_SECOND = Rules(season=(Window(from_month=3, from_day=2, to_month=4, to_day=1),))
SIX_KNOTS = Rules(transit_min_speed_kn=6.0)
OTHER_DAY = date(2026, 6, 1)


def verdicts(*scene, **settings):
    result = check(*scene, **settings)
    return {(row.status.value, row.reason) for row in result.rows}


@pytest.mark.parametrize("after", [[20 * HOUR], []], ids=["within the track", "at its end"])
def test_a_lone_fix_at_the_very_instant_a_season_begins_is_in_it(after):
    """Tracks begin at 06:00 on 1 March; midnight is 18 hours later."""
    places = [moved(AT, 90, 40_000), AT, moved(AT, 270, 40_000)][: 2 + len(after)]
    track = fixes(places, [16 * HOUR, 18 * HOUR, *after])

    assert ("inside", "fishing_inside") in verdicts(track, zone(DISC, rules=FROM_SECOND))


@pytest.mark.parametrize(
    "times", [[None, 0.0, 600.0], [0.0, 600.0, None]], ids=["before the times", "after the times"]
)
@pytest.mark.parametrize("on", [None, OTHER_DAY])
def test_fixes_without_time_take_nothing_from_those_with_times(times, on):
    """The day stated is for what has no time; what has times is judged by them."""
    far, near = moved(AT, 90, 40_000), moved(AT, 90, 1000)
    track = fixes([far, near, AT] if times[0] is None else [AT, near, far], times)

    assert ("inside", "fishing_inside") in verdicts(track, zone(DISC, rules=FIRST_OF_MARCH), on=on)


def test_the_time_of_a_gap_is_that_of_the_fixes_around_it_that_have_one():
    track = fixes([moved(AT, 90, 4000), moved(AT, 0, 4000), moved(AT, 270, 4000)], [0.0, None, HOUR])

    assert verdicts(track, zone(DISC, rules=FIRST_OF_MARCH), on=OTHER_DAY) == {("undetermined", "gap")}


def test_a_gap_between_a_time_and_none_may_last_until_the_day_stated():
    """The rule holds neither at the last known time nor on the day stated, but between them."""
    track = fixes([moved(AT, 90, 4000), moved(AT, 270, 4000)], [0.0, None])
    rules = Rules(season=(Window(from_month=4, from_day=1, to_month=4, to_day=30),))

    assert ("undetermined", "missing_times") in verdicts(track, zone(DISC, rules=rules), on=OTHER_DAY)


def test_a_gap_far_outside_the_only_allowed_area_is_open():
    """The rule holds only while there are no positions, and the area is out of reach."""
    far = moved(AT, 0, 900_000)
    one_day = Window(from_month=3, from_day=2, to_month=3, to_day=2)
    rules = Rules(season=(one_day,), allowed_only_inside=True)
    found = verdicts(fixes([far, moved(far, 0, 3000)], [12 * HOUR, 48 * HOUR]), zone(DISC, rules=rules))

    assert ("undetermined", "gap") in found


def test_a_gap_in_which_the_only_allowed_area_could_not_be_left_is_closed():
    track = fixes([AT, moved(AT, 90, 10)], [0.0, HOUR])
    wide = zone(area(around(AT, 50_000.0)), rules=Rules(allowed_only_inside=True))

    assert check(track, wide).outcome is Outcome.CLEAR


def test_a_slow_stay_of_less_than_a_minute_is_slow():
    track = steady([moved(AT, 270, 60), moved(AT, 90, 60)], speed_kn=2.0, step_s=10.0)
    small = zone(area(around(AT, 29.0)), rules=SIX_KNOTS)

    assert verdicts(track, small, towing=Towing.NONE, position_error_m=1.0) == {("inside", "slow_transit")}


def test_a_single_position_keeps_no_speed():
    found = verdicts(fixes([AT], [0.0]), zone(DISC, rules=SIX_KNOTS), towing=Towing.NONE)

    assert found == {("undetermined", "missing_times")}


SQUARE = zone(area(box(-20.05, 57.0, -19.95, 57.05)), edges=LineKind.LONLAT, rules=SIX_KNOTS)
METRES_NORTH = 1.0 / 111_400.0
"""Degrees of latitude per metre near 57 degrees north."""


@pytest.mark.parametrize(
    ("north_m", "speed_kn", "expected"),
    [
        (-3.0, 2.0, {("undetermined", "position_error")}),
        (-3.0, 8.0, {("clear", "")}),
        (-40.0, 2.0, {("clear", "")}),
        (40.0, 2.0, {("inside", "slow_transit")}),
        (3.0, 2.0, {("undetermined", "position_error")}),
    ],
)
def test_going_slowly_along_the_limit_is_open_within_the_position_error(north_m, speed_kn, expected):
    south = 57.0 + north_m * METRES_NORTH
    track = steady([(-20.03, south), (-20.01, south)], speed_kn=speed_kn)

    assert verdicts(track, SQUARE, towing=Towing.NONE) == expected


def end_of(track):
    return float((track.time_utc[-1] - START) / np.timedelta64(1, "s"))


def test_slow_by_less_than_the_error_inside_and_fast_deep_inside_is_no_finding():
    """A fast crossing well inside, then a slow graze 3 m inside."""
    fast = steady([(-20.04, 56.98), (-20.04, 57.07)], speed_kn=9.0)
    end_s = end_of(fast)
    shallow = 57.05 - 3.0 * METRES_NORTH
    way = steady([(-20.04, 57.07), (-20.03, 57.07), (-20.03, 57.055)], speed_kn=9.0, first_s=end_s)
    then_s = end_of(way)
    slow = steady([(-20.03, 57.055), (-20.025, shallow), (-20.02, 57.055)], speed_kn=2.0, first_s=then_s)

    found = verdicts(joined(fast, way, slow), SQUARE, towing=Towing.NONE)
    assert found == {("undetermined", "position_error")}


def test_going_slowly_outside_the_only_area_free_of_a_transit_rule_is_found():
    far = moved(AT, 0, 100_000)
    rules = Rules(transit_min_speed_kn=6.0, allowed_only_inside=True)
    target = zone(DISC, rules=rules, prohibits=(Prohibition.ENTRY,))
    track = steady([moved(far, 270, 1000), moved(far, 90, 1000)], speed_kn=2.0)

    assert verdicts(track, target, towing=Towing.NONE) == {("inside", "slow_transit")}


def test_a_stay_of_seconds_is_slow_only_beyond_what_its_positions_can_tell():
    """62 m at 5.9 kn: two errors of 15 m over 20 s are 2.9 kn, and nobody can tell it from 6 kn."""
    strip = zone(area(box(-20.0005, 56.9, -19.9995, 57.1)), rules=SIX_KNOTS)

    def crossed(speed_kn):
        track = steady([moved(AT, 270.0, 5000.0), moved(AT, 90.0, 5000.0)], speed_kn=speed_kn, step_s=5.0)
        return verdicts(track, strip, towing=Towing.NONE)

    assert crossed(5.9) == {("undetermined", "position_error")}
    assert crossed(6.5) == {("transit", "kept_speed")}
    assert crossed(2.0) == {("inside", "slow_transit")}
