"""When to leave where the time is the trouble: moments by hand, answers by the check at that departure."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from planned_tows import PORT, bent, judge_of
from scenes import START, moved, points, zone

from towzone.gear.bounds import rope_reach_m
from towzone.model.plan import AdviceKind
from towzone.model.result import Status
from towzone.model.rules import Rules, Window
from towzone.model.zone import ZoneKind
from towzone.plan.advice.departure import departure_advice
from towzone.plan.judging import OPEN

MPS = 1852.0 / 3600.0
EAST = bent((90.0, 12_000.0))
MIDDLE = moved(PORT, 90.0, 6000.0)
OF_DAY = datetime(2026, 3, 1, tzinfo=UTC)


def at(hour, minute=0, *, days=0):
    return OF_DAY + timedelta(days=days, hours=hour, minutes=minute)


def hole(zone_id="Z", centre=MIDDLE, **rules):
    """All within 500 m of a place on the tow east."""
    return zone(points(centre), ZoneKind.OBSTRUCTION, radius_m=500.0, zone_id=zone_id, rules=Rules(**rules))


def advised(zones, of_line=EAST, **settings):
    judge = judge_of(zones, **settings)
    return departure_advice(of_line, judge, judge.rows(of_line)), judge


def by_figure(found, name):
    """The one piece of advice with a figure."""
    (one,) = [advice for advice in found if name in advice.figures]
    return one


def instant(text):
    return np.datetime64(text.removesuffix("Z"), "us")


def is_open(judge, zone_id="Z"):
    return any(row.status in OPEN and row.zone_id == zone_id for row in judge.rows(EAST))


def near_m(judge):
    """How far from the middle of the hole the rope of the gear can touch it."""
    return 500.0 + rope_reach_m(judge.rigging)


def test_the_latest_departure_is_past_the_zone_before_its_season_begins():
    """It begins at 07:00, when the tow that leaves at 06:00 is 5556 m on, 444 m short of the middle."""
    found, judge = advised([hole(valid_from=at(7))])
    advice = by_figure(found, "latest_departure_utc")
    depart = instant(advice.figures["latest_departure_utc"])

    past_s = (6000.0 + near_m(judge)) / (3.0 * MPS)
    latest = np.datetime64("2026-03-01T07:00:00", "us") - np.timedelta64(round(past_s * 1e6), "us")
    assert latest - np.timedelta64(61, "s") < depart <= latest
    assert advice.figures["rule_begins_utc"] == "2026-03-01T07:00:00Z"
    assert advice.kind is AdviceKind.DEPARTURE
    assert (advice.zone_ids, advice.clears, advice.whole) == (("Z",), ("Z",), True)
    assert not is_open(judge.at(depart))
    assert is_open(judge.at(depart + np.timedelta64(3, "m")))
    assert "before its rule begins at 2026-03-01 07:00:00 UTC" in advice.words


def test_the_earliest_departure_comes_to_the_zone_after_its_season_has_ended():
    found, judge = advised([hole(valid_until=at(9))])
    advice = by_figure(found, "earliest_departure_utc")
    depart = instant(advice.figures["earliest_departure_utc"])

    before_s = (6000.0 - near_m(judge)) / (3.0 * MPS)
    earliest = np.datetime64("2026-03-01T09:00:00", "us") - np.timedelta64(round(before_s * 1e6), "us")
    assert earliest <= depart < earliest + np.timedelta64(61, "s")
    assert not is_open(judge.at(depart))
    # By the rope; the vessel itself comes up to it 6 minutes later.
    assert is_open(judge.at(depart - np.timedelta64(10, "m")))
    assert advice.words.startswith("Begin towing no earlier than 2026-03-01 ")
    assert len(found) == 1


def test_a_zone_near_the_end_waits_for_the_haul():
    """The line ends 500 m short of it: hauling brings the gear near."""
    centre = moved(PORT, 90.0, 13_000.0)
    found, judge = advised([hole(centre=centre, valid_from=at(8, 12))])
    depart = instant(by_figure(found, "latest_departure_utc").figures["latest_departure_utc"])

    up_s = 12_000.0 / (3.0 * MPS) + judge.contact.latest_s
    latest = np.datetime64("2026-03-01T08:12:00", "us") - np.timedelta64(round(up_s * 1e6), "us")
    assert latest - np.timedelta64(64, "s") < depart <= latest
    assert not is_open(judge.at(depart))


def test_a_zone_at_the_start_waits_for_shooting():
    found, judge = advised([hole(centre=moved(PORT, 270.0, 800.0), valid_until=at(8))])
    depart = instant(by_figure(found, "earliest_departure_utc").figures["earliest_departure_utc"])

    wait_s = -judge.contact.earliest_s
    earliest = np.datetime64("2026-03-01T08:00:00", "us") + np.timedelta64(round(wait_s * 1e6), "us")
    assert earliest <= depart < earliest + np.timedelta64(64, "s")
    assert not is_open(judge.at(depart))


def test_between_two_seasons_both_ways_are_told():
    found, judge = advised(
        [
            hole(
                season=(
                    Window(from_month=3, from_day=1, to_month=3, to_day=1),
                    Window(from_month=3, from_day=3, to_month=3, to_day=3),
                )
            )
        ]
    )
    earlier, later = (
        instant(by_figure(found, name).figures[name])
        for name in ("latest_departure_utc", "earliest_departure_utc")
    )

    assert earlier < np.datetime64("2026-03-01T00:00:00", "us") < START < later
    assert later < np.datetime64("2026-03-02T00:00:00", "us")
    assert not is_open(judge.at(earlier))
    assert not is_open(judge.at(later))


def test_a_break_too_short_for_the_passage_is_no_time_to_leave():
    """A season but for an hour; the passage of the hole takes near 25 minutes at 3 kn, 75 at 1 kn."""
    windows = hole(valid_from=at(6, 30))
    found, judge = advised([windows], speed_kn=1.0, hauling_way_kn=1.0)
    depart = instant(by_figure(found, "latest_departure_utc").figures["latest_departure_utc"])

    assert not is_open(judge.at(depart))
    assert depart < np.datetime64("2026-03-01T03:00:00", "us")


def test_the_least_speed_that_is_past_in_time_is_told_in_tenths():
    """Begun at 07:30: 7091 m and more in 90 minutes are 2.6 kn; 2.4 kn are planned."""
    found, judge = advised([hole(valid_from=at(7, 30))], speed_kn=2.4, hauling_way_kn=2.4)
    advice = by_figure(found, "least_speed_kn")

    least_kn = (6000.0 + near_m(judge)) / (90.0 * 60.0) / MPS
    assert advice.figures["least_speed_kn"] == pytest.approx(np.ceil(least_kn * 10.0) / 10.0)
    assert advice.words.startswith(
        f"Tow at {advice.figures['least_speed_kn']:.1f} kn or more (2.4 kn is planned)"
    )
    for tenths, open_ in ((0.0, False), (-0.2, True)):
        speed_kn = advice.figures["least_speed_kn"] + tenths
        assert is_open(judge_of(judge.zones, speed_kn=speed_kn, hauling_way_kn=speed_kn)) is open_
    assert (advice.clears, advice.whole) == (("Z",), True)


def test_a_speed_beyond_what_the_gear_is_towed_at_is_not_told():
    """Begun at 06:40: 11 kn would do it."""
    found, _ = advised([hole(valid_from=at(6, 40))])

    assert not [advice for advice in found if "least_speed_kn" in advice.figures]
    assert len(found) == 1


def test_a_rule_that_changes_in_more_than_a_week_makes_no_departure():
    found, _ = advised([hole(valid_from=at(0, days=-9), valid_until=at(0, days=9))])

    assert found == ()


def test_a_rule_that_always_holds_and_one_that_does_not_hold_then_need_no_other_time():
    assert advised([hole()])[0] == ()
    assert advised([hole(valid_until=at(5))])[0] == ()


def test_what_else_is_open_stays_open_and_is_not_counted_as_cleared():
    always = hole("always", moved(PORT, 90.0, 9500.0))
    found, judge = advised([hole(valid_until=at(9)), always])
    advice = by_figure(found, "earliest_departure_utc")

    assert (advice.clears, advice.whole) == (("Z",), False)
    assert is_open(judge.at(instant(advice.figures["earliest_departure_utc"])), "always")


def test_leaving_for_one_zone_must_not_run_into_the_season_of_the_same_again():
    """Free from 09:00 to 09:10 only, then from the next noon: ten minutes are no passage."""
    rules = {"season": (Window(from_month=1, from_day=1, to_month=3, to_day=1),)}
    found, judge = advised([hole(**rules)])
    depart = instant(by_figure(found, "earliest_departure_utc").figures["earliest_departure_utc"])

    statuses = {row.status for row in judge.at(depart).rows(EAST)}
    assert statuses <= {Status.CLEAR, Status.NOT_IN_FORCE}
