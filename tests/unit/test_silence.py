"""Time beyond the ends of a track in which its log goes on without valid positions."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from scenes import START, check, moved, points, steady, zone

from towzone.checks.settings import Towing
from towzone.model.result import Outcome, Status
from towzone.model.rules import Rules
from towzone.model.track import LeftOut
from towzone.model.zone import Prohibition, ZoneKind

A = (-20.0, 57.0)
END = moved(A, 90.0, 3000.0)


def void(*seconds, reason="void"):
    n = len(seconds)
    return LeftOut(
        reason=reason,
        file="t.nmea",
        line=np.arange(n, dtype=np.uint32) + 1,
        time_utc=np.array([START + np.timedelta64(int(s), "s") for s in seconds]),
        lon_deg=np.full(n, np.nan),
        lat_deg=np.full(n, np.nan),
    )


def trip(*left_out):
    """3 km east at 3 kn: 1944 s."""
    track = steady([A, END])
    return replace(track, left_out=left_out, fixes_read=len(track) + sum(len(some) for some in left_out))


def disc(at, distance_m, bearing_deg, **more):
    centre = moved(at, bearing_deg, distance_m + 100.0)
    return zone(points(centre), ZoneKind.SAFETY_ZONE, radius_m=100.0, **more)


def judged(track, a_zone, **settings):
    result = check(
        track, a_zone, **({"position_error_m": 0.0, "reach_m": 1.0, "max_speed_kn": 10.0} | settings)
    )
    return [row for row in result.rows if row.status is not Status.CLEAR], result.outcome


@pytest.mark.parametrize(("distance_m", "open_"), [(10.0 * 1852.0 - 1.0, True), (10.0 * 1852.0 + 1.0, False)])
def test_an_hour_of_void_before_the_track_reaches_ten_miles_at_ten_knots(distance_m, open_):
    rows, outcome = judged(trip(void(-3600)), disc(A, distance_m, 270.0))
    assert outcome is (Outcome.UNDETERMINED if open_ else Outcome.CLEAR)
    assert len(rows) == int(open_)


def test_the_row_says_how_long_the_log_went_on_and_how_long_it_could_have_been_there():
    """An hour after the end, 5 miles away: half an hour there at most."""
    ((row,), _) = judged(trip(void(1944 + 3600)), disc(END, 5.0 * 1852.0, 90.0))
    assert (row.status, row.reason, row.tow) == (Status.UNDETERMINED, "gap", None)
    assert "goes on for 1 h 00 min after its last position" in row.explain
    assert "for 30 min" in row.explain


def test_both_ends_are_looked_at():
    rows, _ = judged(trip(void(-3600, 1944 + 3600)), disc(A, 2000.0, 270.0))
    assert len(rows) == 2


def test_no_longer_than_what_counts_as_sailed_straight_is_no_silence():
    assert judged(trip(void(-900)), disc(A, 500.0, 270.0))[0] == []
    assert len(judged(trip(void(-901)), disc(A, 500.0, 270.0))[0]) == 1


@pytest.mark.parametrize("reason", ["other_source", "other_receiver", "duplicate", "backward_time"])
def test_fixes_left_out_for_being_told_better_or_dated_wrongly_are_no_silence(reason):
    assert judged(trip(void(-36_000, reason=reason)), disc(A, 2000.0, 270.0))[1] is Outcome.CLEAR


def test_a_rule_that_did_not_hold_then_leaves_nothing_open():
    year = START.astype("datetime64[Y]").astype(int) + 1970
    later = Rules(valid_from=datetime(int(year) + 1, 1, 1, tzinfo=UTC))
    assert judged(trip(void(-3600)), disc(A, 2000.0, 270.0, rules=later))[1] is Outcome.CLEAR


def test_without_towing_only_rules_about_passage_stay_open():
    fishing = disc(A, 2000.0, 270.0, prohibits=(Prohibition.FISHING,))
    entry = disc(A, 2000.0, 270.0, prohibits=(Prohibition.ENTRY,))
    assert judged(trip(void(-3600)), fishing, towing=Towing.NONE)[1] is Outcome.CLEAR
    assert judged(trip(void(-3600)), entry, towing=Towing.NONE)[1] is Outcome.UNDETERMINED


def test_a_fix_inside_leaves_the_whole_silence_open():
    here = zone(points(A), ZoneKind.SAFETY_ZONE, radius_m=200.0, prohibits=(Prohibition.FISHING,))
    rows, _ = judged(trip(void(-7200)), here)
    assert any("for 2 h 00 min at most" in row.explain for row in rows)
