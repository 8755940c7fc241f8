"""Where something of a trip is not known, nothing is clear: ends of tracks, hauls beside them, gaps."""

from __future__ import annotations

import numpy as np
import pytest
from scenes import (
    KNOT_MPS,
    NMI_M,
    START,
    area,
    around,
    check,
    fixes,
    joined,
    line,
    moved,
    route,
    steady,
    zone,
)

from towzone.checks.settings import MoveOnRule, Towing
from towzone.model.result import Outcome, Status
from towzone.model.rules import Rules
from towzone.model.zone import Prohibition, ZoneKind
from towzone.tows.logged import LoggedHaul

A = (-20.0, 57.0)
FIVE_MILES = 5.0 * NMI_M


def haul(shoot_s, haul_s, name="1", **more):
    at = [START + np.timedelta64(round(s * 1e6), "us") for s in (shoot_s, haul_s)]
    return LoggedHaul(haul=name, shoot_utc=at[0], haul_utc=at[1], line=2, **more)


def end_s(track):
    return float((track.time_utc[-1] - START) / np.timedelta64(1, "us")) / 1e6


def rows(track, a_zone, *hauls, **settings):
    result = check(track, a_zone, towing=Towing.LOG, hauls=hauls, reach_m=1e6, **settings)
    return {(row.activity.value, row.status.value, row.reason) for row in result.rows}


def disc(at, radius_m=100.0, **more):
    return zone(area(around(at, radius_m)), **more)


# Hauls beside the track: at 1.2 kn nothing is detected as towing, so that only the log tells.


@pytest.fixture
def slow():
    return steady([A, moved(A, 90.0, 3000.0)], speed_kn=1.2)


MIDDLE = (2000.0, 2600.0, "2")


@pytest.mark.parametrize("ended_s", [0.0, -60.0, -900.0])
def test_a_haul_that_ended_shortly_before_the_first_position_may_be_hauled_after_it(slow, ended_s):
    here = disc(moved(A, 90.0, 120.0))
    found = rows(slow, here, haul(-7200.0, ended_s), haul(*MIDDLE))
    assert ("unknown", "undetermined", "activity_unknown") in found


def test_a_haul_that_ended_long_before_the_first_position_leaves_nothing_open(slow):
    here = disc(moved(A, 90.0, 120.0))
    found = rows(slow, here, haul(-7200.0, -1500.0), haul(3500.0, 3900.0, "2"))
    assert {status for _, status, _ in found} == {"transit", "clear"}


def test_a_haul_that_ended_long_ago_but_had_much_warp_out_may_be_hauled_still(slow):
    here = disc(moved(A, 90.0, 120.0))
    found = rows(slow, here, haul(-7200.0, -1500.0, warp_m=1500.0), haul(3500.0, 3900.0, "2"))
    assert ("unknown", "undetermined", "activity_unknown") in found


@pytest.mark.parametrize("later_s", [0.0, 30.0, 400.0])
def test_a_haul_shot_shortly_after_the_last_position_may_be_shot_before_it(slow, later_s):
    here = disc((slow.lon_deg[-1], slow.lat_deg[-1]))
    shot = end_s(slow) + later_s
    found = rows(slow, here, haul(300.0, 900.0), haul(shot, shot + 9000.0, "2"))
    assert ("unknown", "undetermined", "activity_unknown") in found


def test_a_haul_shot_long_after_the_last_position_leaves_nothing_open(slow):
    here = disc((slow.lon_deg[-1], slow.lat_deg[-1]))
    shot = end_s(slow) + 700.0
    found = rows(slow, here, haul(300.0, 900.0), haul(shot, shot + 9000.0, "2"))
    assert {status for _, status, _ in found} == {"transit", "clear"}


def test_a_log_without_a_haul_on_the_track_leaves_what_looks_like_a_tow_open():
    track = steady([A, moved(A, 90.0, 9000.0)])
    found = rows(track, disc(moved(A, 90.0, 5000.0)), haul(90_000.0, 99_000.0))
    assert found == {("unknown", "undetermined", "activity_unknown")}


# What a finding is said of.


def test_entry_while_shooting_is_entry_and_not_fishing():
    """That the gear was in the water then is not known, though the area was entered."""
    track = steady([A, moved(A, 90.0, 20_000.0)])
    both = (Prohibition.FISHING, Prohibition.ENTRY)
    here = disc(moved(A, 90.0, 3.0 * KNOT_MPS * 7000.0), prohibits=both)
    found = rows(track, here, haul(7200.0, 20_000.0))
    assert ("unknown", "inside", "entry") in found
    assert "fishing_inside" not in {reason for _, _, reason in found}
    shown = rows(track, here, haul(6800.0, 20_000.0))
    assert ("towing", "inside", "fishing_inside") in shown


def test_entry_while_towing_cannot_be_told_is_entry():
    track = steady([A, moved(A, 90.0, 20_000.0)])
    here = disc(moved(A, 90.0, 3000.0), prohibits=(Prohibition.FISHING, Prohibition.ENTRY))
    found = rows(track, here, haul(9000.0, 12_000.0))
    assert ("unknown", "inside", "entry") in found
    assert "fishing_inside" not in {reason for _, _, reason in found}


# The gear of a haul.


def cable_of_tow():
    track = steady([A, moved(A, 90.0, 20_000.0)])
    at = moved(A, 90.0, 10_000.0)
    return track, line(moved(at, 0.0, -3000.0), moved(at, 0.0, 3000.0))


@pytest.mark.parametrize(
    ("vessel", "logged", "status"),
    [("OTM", "OTB", "too_close"), ("OTB", "OTM", "not_in_force"), ("OTM", None, "not_in_force")],
)
def test_the_gear_the_log_gives_a_haul_beats_that_of_the_vessel(vessel, logged, status):
    track, cable = cable_of_tow()
    found = rows(track, zone(cable, ZoneKind.CABLE), haul(900.0, 11_000.0, gear=logged), gear=vessel)
    assert status in {said for _, said, _ in found}
    assert len({said for _, said, _ in found} & {"too_close", "not_in_force"}) == 1


def test_a_gap_in_a_trip_with_two_gears_is_open_for_a_rule_on_either():
    out = steady([A, moved(A, 90.0, 6000.0)])
    back = steady([moved(A, 90.0, 6000.0), A], first_s=end_s(out) + 7200.0)
    cable = zone(line(moved(A, 0.0, 1500.0), moved(A, 0.0, 4000.0)), ZoneKind.CABLE)
    hauls = haul(300.0, 1200.0, gear="OTM"), haul(1300.0, 2400.0, "2", gear="OTB")
    found = rows(joined(out, back), cable, *hauls, gear="OTM")
    assert "undetermined" in {status for _, status, _ in found}


# Long legs that the check covers and detection does not look at.


@pytest.mark.parametrize("speed_kn", [3.0, 5.0, 7.0])
def test_legs_of_twenty_minutes_that_are_covered_are_open_where_towing_cannot_be_told(speed_kn):
    seconds = np.arange(8) * 1200.0
    track = fixes([moved(A, 90.0, speed_kn * KNOT_MPS * s) for s in seconds], seconds)
    here = disc(moved(A, 90.0, speed_kn * KNOT_MPS * 4200.0), 300.0)
    result = check(track, here, towing=Towing.DETECT, gap_s=3600.0)
    assert {(row.activity.value, row.status.value) for row in result.rows} == {("unknown", "undetermined")}


# Planned and completed together.


def test_a_log_is_for_completed_tracks_and_a_planned_route_stays_one_tow():
    sailed = steady([A, moved(A, 90.0, 9000.0)], track_id="sailed")
    planned = route([A, moved(A, 90.0, 9000.0)])
    here = disc(moved(A, 90.0, 8900.0))
    result = check([sailed, planned], here, towing=Towing.LOG, hauls=(haul(0.0, 1200.0),))
    said = {(row.track_id, row.status) for row in result.rows}
    assert ("r", Status.INSIDE) in said
    assert ("sailed", Status.UNDETERMINED) in said, "the rest looks like a tow and is not in the log"


def test_a_slow_crossing_in_doubt_is_a_finding_under_a_transit_rule_and_open_when_fast():
    """Shooting inside: too slow for the rule whatever was done, or fast enough and open whether towing."""
    for speed_kn, status in [(3.0, "inside"), (6.5, "undetermined")]:
        track = steady([A, moved(A, 90.0, speed_kn * KNOT_MPS * 9000.0)], speed_kn=speed_kn)
        here = disc(
            moved(A, 90.0, speed_kn * KNOT_MPS * 3300.0), 400.0, rules=Rules(transit_min_speed_kn=6.0)
        )
        found = rows(track, here, haul(3600.0, 8000.0))
        assert status in {said for _, said, _ in found}, speed_kn


# Moving on.


def moves(track, *hauls, distance_m=FIVE_MILES):
    rule = MoveOnRule(distance_m=distance_m, from_tow=1)
    return check(track, [], move_on=rule, towing=Towing.LOG, hauls=hauls)


def tow_with_a_gap(away_m, *, then_gap_s=0.0, then_kn=10.0):
    """A tow east with a gap of four hours (44 km out and back at 12 kn), then away to the north."""
    turn, away = moved(A, 90.0, 6000.0), moved(moved(A, 90.0, 6000.0), 0.0, away_m)
    begin = steady([A, turn])
    more = steady([turn, moved(turn, 90.0, 6000.0)], first_s=end_s(begin) + 14_400.0)
    way = steady([moved(turn, 90.0, 6000.0), away], speed_kn=10.0, first_s=end_s(more) + 60.0)
    last = steady([away, moved(away, 0.0, 8000.0)], speed_kn=then_kn, first_s=end_s(way) + 60.0 + then_gap_s)
    return joined(begin, more, way, last), end_s(more), end_s(way)


def test_a_gap_in_the_tow_and_a_later_gap_may_meet_far_from_every_known_position():
    track, hauled_s, _ = tow_with_a_gap(60_000.0, then_gap_s=5400.0)
    result = moves(track, haul(0.0, hauled_s))
    assert [(move.tow, move.status, move.reason) for move in result.moves] == [
        (None, Status.UNDETERMINED, "gap")
    ]
    assert result.outcome is Outcome.UNDETERMINED


def test_gaps_that_cannot_meet_leave_nothing_open():
    track, hauled_s, _ = tow_with_a_gap(120_000.0, then_gap_s=3600.0)
    assert moves(track, haul(0.0, hauled_s)).moves == ()


def test_a_gap_in_the_tow_may_come_near_a_later_stretch_in_doubt():
    track, hauled_s, _ = tow_with_a_gap(50_000.0, then_kn=3.0)
    (move,) = moves(track, haul(0.0, hauled_s)).moves
    assert (move.tow, move.status, move.reason) == (None, Status.UNDETERMINED, "activity_unknown")


def test_a_gap_in_the_tow_may_come_near_where_a_later_one_was_begun_to_be_shot():
    """Within 53.7 km of the turn is open; shot at 54.7 km, but shooting may have begun at 52.9 km."""
    track, hauled_s, there_s = tow_with_a_gap(51_000.0, then_kn=6.0)
    result = moves(
        track, haul(0.0, hauled_s), haul(there_s + 1200.0, end_s(track), "2"), distance_m=FIVE_MILES
    )
    shot = next(move for move in result.moves if move.tow == 2)
    assert shot.status is Status.UNDETERMINED


def test_a_tow_shot_before_the_first_position_is_not_known_in_all_its_positions():
    track, hauled_s, there_s = tow_with_a_gap(120_000.0)
    later = haul(there_s + 600.0, end_s(track), "2")
    assert [move.status for move in moves(track, haul(0.0, hauled_s), later).moves] == [Status.CLEAR]
    assert [move.status for move in moves(track, haul(-900.0, hauled_s), later).moves] == [
        Status.UNDETERMINED
    ]


def test_a_logged_shot_after_the_last_position_is_told_and_open():
    track, hauled_s, _ = tow_with_a_gap(120_000.0)
    (move,) = moves(track, haul(0.0, hauled_s), haul(end_s(track) + 900.0, end_s(track) + 9000.0, "B7")).moves
    assert (move.tow, move.status) == (None, Status.UNDETERMINED)
    assert '"B7"' in move.explain or "'B7'" in move.explain
