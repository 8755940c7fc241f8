"""Tracks as paths: what positions cover, what they leave open, what counts as a tow."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scenes import GEOD, KNOT_MPS, START, apart_m, fixes, joined, moved, route, steady, wait

from towzone.checks.activity import STOP_TIME_S
from towzone.checks.batches import batches
from towzone.checks.intervals import merged
from towzone.checks.paths import build_path
from towzone.checks.settings import CheckSettings, Towing
from towzone.geodesy.approach import Reaches
from towzone.geodesy.lines import LineKind
from towzone.model.result import Activity

A = (-20.0, 57.0)
NONE = np.datetime64("NaT", "us")


def path_of(track, **settings):
    return build_path(track, CheckSettings(**{"towing": Towing.ALL, **settings}))


def eastward(seconds, speed_kn=3.0):
    """Positions due east of A at a steady speed at the given seconds."""
    return [moved(A, 90.0, speed_kn * KNOT_MPS * s) for s in seconds]


def straight(times, speed_kn=3.0):
    return fixes(eastward([t or 0.0 for t in times], speed_kn), times)


def covered(path):
    return path.covered.tolist()


def tows(path):
    return [(g.tow.number, g.tow.first, g.tow.last) for g in path.groups if g.tow]


# Coverage and gaps.


def test_fixes_exactly_the_limit_apart_are_covered_and_a_second_more_is_a_gap():
    path = path_of(straight([0, 900, 1801]))
    assert covered(path) == [True, False]
    (gap,) = path.gaps
    assert (gap.fix, gap.seconds) == (1, 901.0)
    assert gap.from_utc == START + np.timedelta64(900, "s")
    assert gap.to_utc == START + np.timedelta64(1801, "s")


def test_the_reach_of_a_gap_is_greatest_speed_times_time_and_twice_the_position_error():
    (gap,) = path_of(straight([0, 1000]), max_speed_kn=10.0, position_error_m=20.0).gaps
    np.testing.assert_allclose(gap.reach_m, 10.0 * 1852.0 / 3600.0 * 1000.0 + 40.0, rtol=0, atol=1e-6)


def test_a_gap_crossed_faster_than_possible_reaches_at_least_the_straight_way():
    track = straight([0, 1000], speed_kn=30.0)
    (gap,) = path_of(track, max_speed_kn=10.0, position_error_m=20.0).gaps
    a, b = ((track.lon_deg[n], track.lat_deg[n]) for n in (0, 1))
    np.testing.assert_allclose(gap.reach_m, apart_m(a, b) + 40.0, rtol=0, atol=0.001)


def test_a_wider_gap_limit_closes_gaps():
    assert covered(path_of(straight([0, 1800]), gap_s=1800.0)) == [True]
    assert covered(path_of(straight([0, 60]), gap_s=59.0)) == [False]


def test_the_path_of_a_planned_route_has_no_gaps_however_long_its_legs():
    path = path_of(route([A, moved(A, 90.0, 500_000.0)]))
    assert covered(path) == [True]
    assert path.gaps == ()
    assert tows(path) == [(1, 0, 1)]


def test_a_route_follows_rhumb_lines_unless_geodesics_are_asked_for():
    """Half way along the parallel of 57 degrees against half way along the geodesic, 500 km."""
    end = (moved(A, 90.0, 500_000.0)[0], 57.0)
    rhumb, geodesic = (path_of(route([A, end]), legs=k) for k in (LineKind.RHUMB, LineKind.GEODESIC))
    assert rhumb.positions(np.array([0.5]))[1][0] == pytest.approx(57.0, abs=1e-12)
    ((lon, lat),) = GEOD.npts(*A, *end, 1)
    np.testing.assert_allclose(geodesic.positions(np.array([0.5])), [[lon], [lat]], rtol=0, atol=1e-9)
    assert rhumb.length_m[0] > geodesic.length_m[0] + 50.0


# Few fixes, equal positions.


def test_one_fix_is_a_tow_of_one_place():
    path = path_of(fixes([A], [0.0]))
    (group,) = path.groups
    assert group.activity is Activity.TOWING
    assert (group.covered.first.tolist(), group.covered.last.tolist()) == ([0.0], [0.0])
    assert (group.tow.first, group.tow.last, group.tow.seconds, group.tow.length_m) == (0, 0, 0.0, 0.0)
    assert group.tow.mean_speed_kn is None
    assert path.gaps == ()
    (whole,) = batches(path)
    assert len(whole.side.pieces) == 1


def test_one_fix_without_time_is_covered_all_the_same():
    path = path_of(fixes([A], [None]))
    assert path.groups[0].covered.first.tolist() == [0.0]
    assert np.isnat(path.time_at(0.0))
    assert path.groups[0].tow.seconds is None


def test_two_fixes_are_one_leg():
    path = path_of(straight([0, 600]))
    assert (covered(path), tows(path)) == ([True], [(1, 0, 1)])


def test_a_lone_fix_between_two_gaps_is_a_place_of_its_own():
    path = path_of(straight([0, 60, 3000, 6000, 6060]))
    assert covered(path) == [True, False, False, True]
    (group,) = path.groups
    assert group.covered.first.tolist() == [0.0, 2.0, 3.0]
    assert group.covered.last.tolist() == [1.0, 2.0, 4.0]
    assert [gap.fix for gap in path.gaps] == [1, 2]


def test_equal_positions_are_a_leg_of_no_length():
    path = path_of(fixes([A, A, moved(A, 0.0, 300.0)], [0.0, 100.0, 300.0]))
    assert path.length_m[0] == 0.0
    assert covered(path) == [True, True]
    assert tows(path) == [(1, 0, 2)]


# Unknown times.


def test_untimed_fixes_between_timed_ones_are_filled_in_by_distance():
    """A quarter of the way is passed after a quarter of the time."""
    positions = [A, moved(A, 90.0, 250.0), moved(A, 90.0, 1000.0)]
    path = path_of(fixes(positions, [0, None, 400]))
    assert path.filled == 1
    assert covered(path) == [True, True]
    seconds = (path.time_at(1.0) - START) / np.timedelta64(1, "us") / 1e6
    np.testing.assert_allclose(seconds, 100.0, rtol=0, atol=0.001)


def test_untimed_fixes_do_not_make_a_long_silence_short():
    """Fifty positions without times between fixes an hour apart prove nothing about when."""
    times = [0, *[None] * 50, 3600]
    path = path_of(fixes([moved(A, 90.0, 100.0 * n) for n in range(52)], times))
    assert not path.covered.any()
    assert {gap.seconds for gap in path.gaps} == {3600.0}
    assert len(path.gaps) == 51


@pytest.mark.parametrize(
    ("times", "open_"),
    [
        ([None, None, 0, 60], [0, 1]),
        ([0, 60, None, None], [1, 2]),
        ([None, None, None], [0, 1]),
        ([None, 0], [0]),
    ],
)
def test_fixes_before_the_first_or_after_the_last_known_time_leave_gaps_without_bound(times, open_):
    path = path_of(fixes(eastward(np.arange(len(times)) * 60.0), times))
    assert [gap.fix for gap in path.gaps] == open_
    assert all(gap.seconds is None and gap.reach_m is None for gap in path.gaps)
    assert path.filled == 0


# Stops and tows.


def test_a_stop_of_ten_minutes_ends_a_tow_and_a_shorter_one_does_not():
    long = joined_after_stop(STOP_TIME_S + 120.0)
    short = joined_after_stop(STOP_TIME_S - 120.0)
    assert len(tows(path_of(long))) == 2
    assert len(tows(path_of(short))) == 1


def joined_after_stop(seconds):
    first = wait(steady([A, moved(A, 90.0, 6000.0)], speed_kn=3.0), seconds)
    here = (first.lon_deg[-1], first.lat_deg[-1])
    last = float((first.time_utc[-1] - START) / np.timedelta64(1, "s"))
    more = steady([moved(here, 90.0, 90.0), moved(here, 90.0, 6000.0)], speed_kn=3.0, first_s=last + 60.0)
    return joined(first, more)


def test_what_lies_between_two_tows_is_one_group_that_is_not_towing():
    path = path_of(joined_after_stop(1800.0))
    assert [group.activity for group in path.groups] == [
        Activity.TOWING,
        Activity.TOWING,
        Activity.NOT_TOWING,
    ]
    one, two, rest = path.groups
    assert one.covered.last[-1] == rest.covered.first[0]
    assert rest.covered.last[-1] == two.covered.first[0]
    assert all(g.covered.first.tolist() == sorted(g.covered.first.tolist()) for g in path.groups)


def test_every_covered_leg_belongs_to_exactly_one_group():
    path = path_of(joined_after_stop(1800.0))
    total = sum(float((g.covered.last - g.covered.first).sum()) for g in path.groups)
    assert total == np.count_nonzero(path.covered)


def test_unknown_speed_is_never_taken_for_a_stop():
    """Standing still for an hour without a single time: towing, as far as anyone knows."""
    path = path_of(fixes([A] * 60, [None] * 60))
    assert len(tows(path)) == 1
    assert [g.activity for g in path.groups] == [Activity.TOWING]


def test_a_gap_is_never_taken_for_a_stop():
    """Two fixes at one place an hour apart: the vessel may have been away and back."""
    path = path_of(fixes([A, A], [0, 3600]))
    assert [g.activity for g in path.groups] == [Activity.TOWING]


def test_noise_of_positions_does_not_hide_a_stop():
    """Jitter of 3 m once a second is 6 knots from fix to fix and none over a minute."""
    rng = np.random.default_rng(5)
    positions = [moved(A, rng.uniform(0, 360), abs(rng.normal(0.0, 3.0))) for _ in range(1200)]
    path = path_of(fixes(positions, np.arange(1200.0)))
    stopped = [g for g in path.groups if g.activity is Activity.NOT_TOWING]
    assert stopped
    assert (stopped[0].covered.last - stopped[0].covered.first).sum() > 1000


def test_towing_none_leaves_no_tow_on_a_completed_track_and_does_not_touch_a_route():
    path = path_of(straight([0, 60, 120]), towing=Towing.NONE)
    assert [g.activity for g in path.groups] == [Activity.NOT_TOWING]
    assert path.groups[0].tow is None
    planned = path_of(route([A, moved(A, 0.0, 900.0)]), towing=Towing.NONE)
    assert [g.activity for g in planned.groups] == [Activity.TOWING]


def test_a_gap_between_two_stops_is_no_tow():
    """The receiver was off while the vessel lay still: there is nothing to show that it towed."""
    first = wait(fixes([A], [0.0]), 1200.0)
    second = wait(fixes([A], [9000.0]), 1200.0)
    path = path_of(joined(first, second))
    assert tows(path) == []
    assert path.gap_unit == (None,)


def test_gaps_inside_a_tow_belong_to_it():
    path = path_of(straight([0, 60, 3000, 3060]))
    assert path.gap_unit == (0,)


def test_a_tow_has_its_times_length_and_mean_speed():
    path = path_of(straight([0, 60, 120, 180], speed_kn=3.0))
    (group,) = path.groups
    tow = group.tow
    assert (tow.shoot_utc, tow.haul_utc) == (START, START + np.timedelta64(180, "s"))
    assert tow.seconds == 180.0
    np.testing.assert_allclose(tow.length_m, 3.0 * KNOT_MPS * 180.0, rtol=0, atol=0.001)
    np.testing.assert_allclose(tow.mean_speed_kn, 3.0, rtol=0, atol=1e-5)


# Places, times, speeds.


@pytest.mark.parametrize("place", [0.0, 0.25, 1.0, 1.9999, 3.0])
def test_places_between_fixes_are_on_the_leg_at_their_share_of_length_and_time(place):
    track = fixes(
        [A, moved(A, 30.0, 500.0), moved(A, 50.0, 2000.0), moved(A, 70.0, 2500.0)], [0, 100, 300, 700]
    )
    path = path_of(track)
    fix = min(int(place), 2)
    share = place - fix
    a, b = ((track.lon_deg[n], track.lat_deg[n]) for n in (fix, fix + 1))
    azimuth, _, length = GEOD.inv(*a, *b)
    wanted = moved(a, azimuth, length * share)
    lon, lat = path.positions(np.array([place]))
    assert apart_m((lon[0], lat[0]), wanted) < 0.001
    times = np.array([0.0, 100.0, 300.0, 700.0])
    seconds = times[fix] + share * (times[fix + 1] - times[fix])
    assert abs((path.time_at(place) - START) / np.timedelta64(1, "us") / 1e6 - seconds) < 1e-5


def test_length_between_places_counts_covered_legs_only():
    path = path_of(straight([0, 100, 2000, 2100], speed_kn=3.6 / 1.852))
    leg_m = 3.6 / 1.852 * KNOT_MPS * 100.0
    ends = np.array([0.5, 0.0]), np.array([2.5, 3.0])
    np.testing.assert_allclose(path.lengths_between(*ends), [leg_m, 2 * leg_m], rtol=0, atol=0.001)


def test_speeds_are_taken_over_a_minute_and_never_across_a_gap():
    """3 kn for 5 min, then 6 kn: the last minute before the change mixes both; the gap starts anew."""
    first = straight(np.arange(0, 301, 10).tolist(), 3.0)
    here = (first.lon_deg[-1], first.lat_deg[-1])
    second = fixes(
        [moved(here, 90.0, 6.0 * KNOT_MPS * 10.0 * n) for n in range(1, 31)], 300.0 + 10.0 * np.arange(1, 31)
    )
    third = fixes([moved(here, 90.0, 9000.0 + 20.0 * n) for n in range(10)], 5000.0 + 10.0 * np.arange(10))
    path = path_of(joined(first, second, third))
    np.testing.assert_allclose(path.speed_kn[:25], 3.0, rtol=0, atol=1e-3)
    np.testing.assert_allclose(path.speed_kn[30:60], 6.0, rtol=0, atol=1e-3)
    assert ((path.speed_kn[25:30] > 3.1) & (path.speed_kn[25:30] < 5.9)).all()
    assert np.isnan(path.speed_kn[60])
    np.testing.assert_allclose(path.speed_kn[61:], 2.0 / KNOT_MPS, rtol=0, atol=1e-3)


def test_the_least_speed_of_a_stretch_is_that_of_its_legs():
    path = path_of(straight(np.arange(0, 301, 60).tolist(), 3.0))
    ends = np.array([0.5, 2.0, 5.0]), np.array([3.5, 2.0, 5.0])
    np.testing.assert_allclose(path.least_speeds_kn(*ends), [3.0, 3.0, np.nan], rtol=0, atol=1e-3)
    untimed = path_of(fixes(eastward([0, 60]), [None, None]))
    assert np.isnan(untimed.least_speeds_kn(np.array([0.0]), np.array([1.0]))).all()


def test_pieces_are_owned_by_their_groups_in_order():
    path = path_of(joined_after_stop(1800.0))
    (whole,) = batches(path)
    owner = whole.side.pieces.owner
    assert (np.diff(owner) >= 0).all()
    assert set(owner.tolist()) == {0, 1, 2}
    for number, group in enumerate(path.groups):
        mine = owner == number
        lows, highs = whole.piece_begin[mine], whole.piece_end[mine]
        assert lows.min() == group.covered.first[0]
        assert highs.max() == group.covered.last[-1]


def test_batches_hold_every_stretch_once_whatever_their_size():
    path = path_of(straight(np.arange(0, 60_000, 60).tolist()))
    for size in (1, 7, 100, 10_000):
        parts = [g.covered for batch in batches(path, size) for g in batch.groups]
        assert np.concatenate([part.first for part in parts])[0] == 0.0
        assert np.concatenate([part.last for part in parts])[-1] == 999.0
        ends = np.concatenate([part.last for part in parts])[:-1]
        assert (np.concatenate([part.first for part in parts])[1:] == ends).all(), "one begins where one ends"
        if size > 2:
            assert max(len(batch.side.pieces) for batch in batches(path, size)) <= size + 1


def test_stretches_near_a_boundary_are_cut_where_what_is_covered_ends():
    """Random stretches over pieces of three groups, two of them in several strings, against each piece."""
    rng = np.random.default_rng(20261126)
    (batch,) = batches(path_of(joined_after_stop(1800.0)))
    owner = batch.side.pieces.owner
    cut_at = rng.choice(np.flatnonzero(np.diff(owner) == 0)[5:-5], 3, replace=False)
    begin = batch.piece_begin + 0.25 * (np.arange(len(owner))[:, None] > cut_at).sum(axis=1)
    batch = replace(batch, piece_begin=begin, piece_end=begin + batch.piece_end - batch.piece_begin)
    ends = np.sort(rng.integers(0, len(owner), (200, 2)), axis=1)
    ends = ends[owner[ends[:, 0]] == owner[ends[:, 1]]]
    part = np.sort(rng.random((len(ends), 2)), axis=1)
    found = Reaches(
        pair=np.arange(len(ends)),
        path_piece=ends[:, 0],
        last_piece=ends[:, 1],
        first=part[:, 0],
        last=part[:, 1],
    )
    pair, first, last = batch.stretches(found)
    pieces = found.each_piece()
    lows, highs = (batch.places(pieces.path_piece, part) for part in (pieces.first, pieces.last))
    assert len(first) > len(ends) > 50
    for number in range(len(ends)):
        own, mine = pair == number, pieces.pair == number
        told, wanted = merged(first[own], last[own]), merged(lows[mine], highs[mine])
        np.testing.assert_allclose(told.first, wanted.first, rtol=0, atol=1e-12)
        np.testing.assert_allclose(told.last, wanted.last, rtol=0, atol=1e-12)


def test_a_new_segment_of_the_file_is_a_gap_however_short():
    """A receiver begins a new segment when it lost its position."""
    track = straight([0, 60, 120, 180])
    broken = replace(track, part=np.array([0, 0, 1, 1]))
    path = path_of(broken)
    assert covered(path) == [True, False, True]
    (gap,) = path.gaps
    assert (gap.fix, gap.seconds) == (1, 60.0)
    assert tows(path) == [(1, 0, 3)]
