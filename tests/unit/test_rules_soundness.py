"""Rules in force never turn what is open, or found, into clear: partial dates, lone fixes, short stays."""

from datetime import date

import pytest
from scenes import area, around, check, fixes, moved, steady, zone

from towzone.checks.settings import Towing
from towzone.model.result import Outcome
from towzone.model.rules import Rules, Window

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
