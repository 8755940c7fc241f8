"""The move-on rule: later shots and every position of a tow."""

from __future__ import annotations

import numpy as np
import pytest
from scenes import KNOT_MPS, NMI_M, apart_m, check, fixes, joined, moved, route, steady, wait

from towzone.checks.settings import MoveOnRule, Towing
from towzone.errors import UsageError
from towzone.model.result import Outcome, Status

A = (-20.0, 57.0)
FIVE_MILES = 5.0 * NMI_M


def trip(*, away_m, bearing_deg=0.0, gap_s=0.0):
    """A tow of 6 miles east, a stop, steaming, a stop, and a second tow begun somewhere."""
    end = moved(A, 90.0, 6.0 * NMI_M)
    # A stop before it: a tow that runs from the first position on may have begun before.
    first = wait(joined(wait(fixes([A], [0.0]), 1200.0), steady([A, end], first_s=1260.0)), 1200.0)
    start = moved(end, bearing_deg, away_m)
    now = float((first.time_utc[-1] - first.time_utc[0]) / np.timedelta64(1, "s"))
    way = steady([end, start], speed_kn=10.0, first_s=now + 60.0 + gap_s)
    way = wait(way, 1200.0)
    now = float((way.time_utc[-1] - first.time_utc[0]) / np.timedelta64(1, "s"))
    second = steady([start, moved(start, 0.0, 5000.0)], first_s=now + 60.0)
    return joined(first, way, second)


def moves(track, distance_m=FIVE_MILES, from_tow=1, **settings):
    rule = MoveOnRule(distance_m=distance_m, from_tow=from_tow)
    return check(track, [], move_on=rule, **({"towing": Towing.ALL} | settings)).moves


def test_a_shot_nearer_than_asked_is_a_finding_with_its_distance():
    """With every moving stretch a tow, the steaming after tow 1 is tow 2 and begins at its end."""
    found = moves(trip(away_m=4.0 * NMI_M))
    assert [(move.tow, move.status) for move in found] == [(2, Status.TOO_CLOSE), (3, Status.TOO_CLOSE)]
    np.testing.assert_allclose([move.distance_m for move in found], [0.0, 4.0 * NMI_M], rtol=0, atol=0.1)
    assert "2.5 m (1.000 nmi) less" not in found[1].explain
    assert "1852.0 m (1.000 nmi) less than the 9260.0 m (5.000 nmi) asked for" in found[1].explain


def test_any_position_of_the_tow_counts_not_its_end():
    """Shot 5.5 miles west of the end of an eastward tow of 6 miles: on the very line of the tow."""
    track = trip(away_m=5.5 * NMI_M, bearing_deg=270.0)
    third = moves(track)[1]
    assert third.status is Status.TOO_CLOSE
    assert third.distance_m < 40.0, "the way back is a geodesic of its own, which bows by some metres"


def test_far_enough_is_clear_and_within_twice_the_error_is_open():
    assert moves(trip(away_m=FIVE_MILES + 31.0))[1].status is Status.CLEAR
    near = moves(trip(away_m=FIVE_MILES + 29.0))[1]
    assert (near.status, near.reason) == (Status.UNDETERMINED, "position_error")
    assert moves(trip(away_m=FIVE_MILES - 1.0))[1].status is Status.TOO_CLOSE


def test_detected_tows_are_compared_and_steaming_is_no_shot():
    track = trip(away_m=6.0 * NMI_M)
    found = moves(track, towing=Towing.DETECT)
    assert [(move.tow, move.status) for move in found] == [(2, Status.CLEAR)]
    shot = found[0]
    end = moved(A, 90.0, 6.0 * NMI_M)
    assert abs(apart_m((shot.lon_deg, shot.lat_deg), moved(end, 0.0, 6.0 * NMI_M))) < 400.0
    assert check(
        track, [], move_on=MoveOnRule(distance_m=FIVE_MILES, from_tow=1), towing=Towing.DETECT
    ).outcome is (Outcome.CLEAR)


def test_a_gap_after_the_tow_may_hide_a_shot():
    found = moves(trip(away_m=6.0 * NMI_M, gap_s=3600.0), towing=Towing.DETECT)
    assert Status.UNDETERMINED in {move.status for move in found}
    (hidden,) = [move for move in found if move.tow is None and move.reason == "gap"]
    assert "there are no positions from" in hidden.explain
    assert hidden.distance_m is None


def test_a_gap_in_the_tow_itself_may_have_come_nearer():
    """The tow is known at its two ends only; the shot lies between what is known and what is possible."""
    speed = 3.0 * KNOT_MPS
    ends = fixes([A, moved(A, 90.0, 1000.0)], [0.0, 1000.0 / speed + 3600.0])
    tow = joined(
        steady([moved(A, 270.0, 2000.0), A]),
        fixes([(ends.lon_deg[1], ends.lat_deg[1])], [2000 / speed + 6000.0]),
    )
    track = wait(tow, 1200.0)
    now = float((track.time_utc[-1] - track.time_utc[0]) / np.timedelta64(1, "s"))
    start = moved(A, 0.0, FIVE_MILES + 2000.0)
    later = steady([start, moved(start, 0.0, 4000.0)], first_s=now + 10 * 3600.0)
    found = moves(joined(track, later), towing=Towing.ALL, gap_s=900.0)
    assert found, "there is a later shot or what may hide one"
    assert Status.CLEAR not in {move.status for move in found}


def test_a_tow_that_runs_from_the_first_position_on_may_have_begun_nearer():
    track = trip(away_m=6.0 * NMI_M)
    late = replace_first(track, 60)
    found = moves(late, towing=Towing.DETECT)
    assert [(move.tow, move.status, move.reason) for move in found] == [(2, Status.UNDETERMINED, "gap")]


def replace_first(track, fixes_lost):
    """The same track without its first fixes."""
    kept = slice(fixes_lost, None)
    seconds = ((track.time_utc[kept] - track.time_utc[0]) / np.timedelta64(1, "s")).tolist()
    return fixes(np.stack([track.lon_deg[kept], track.lat_deg[kept]], axis=1), seconds)


def test_a_tow_that_comes_out_of_a_gap_was_shot_nobody_knows_where():
    """Without the way to the second tow and its first half hour, it seems shot where the positions begin."""
    track = trip(away_m=2.0 * NMI_M)
    seconds = (track.time_utc - track.time_utc[0]) / np.timedelta64(1, "s")
    end = float(seconds[-1])
    keep = (seconds < 8700.0) | (seconds > end - 2400.0)
    cut = fixes(np.stack([track.lon_deg[keep], track.lat_deg[keep]], axis=1), seconds[keep].tolist())
    found = [move for move in moves(cut, towing=Towing.DETECT) if move.tow == 2]
    assert [(move.status, move.distance_m) for move in found] == [(Status.UNDETERMINED, None)]


@pytest.mark.parametrize("from_tow", [4, 99])
def test_a_tow_that_is_not_there_is_refused(from_tow):
    with pytest.raises(UsageError, match=rf"--from-tow {from_tow}: track 't' has 3 tows"):
        moves(trip(away_m=FIVE_MILES), from_tow=from_tow)


def test_it_needs_the_track_of_one_vessel():
    with pytest.raises(UsageError, match="0 completed tracks were read"):
        moves(route([A, moved(A, 90.0, 1000.0)]))


def test_a_finding_makes_the_outcome_a_finding_even_without_zones():
    rule = MoveOnRule(distance_m=FIVE_MILES, from_tow=1)
    assert check(trip(away_m=4.0 * NMI_M), [], move_on=rule).outcome is Outcome.FINDING
