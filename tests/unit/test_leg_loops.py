"""Compiled passes over legs and places against plain loops that follow their description word by word."""

from __future__ import annotations

import numpy as np
import pytest

from towzone.checks.intervals import Intervals, merged
from towzone.checks.leg_loops import least_over, near_each_other
from towzone.checks.legs import (
    SPEED_WINDOW_S,
    filled_times,
    lengths_along,
    made_good,
    seconds_since_epoch,
    window_speeds,
)
from towzone.checks.paths import side_of
from towzone.checks.place_loops import corners_of, stays_on_pieces
from towzone.checks.places import instant, instants, positions_at, value_at, values_at
from towzone.geodesy.ellipsoid import to_geocentric
from towzone.geodesy.lines import LineKind
from towzone.model.track import Track, TrackKind
from towzone.tows.stretches import joined, runs, time_in
from towzone.units import KNOT_MPS

SEED = 20260717


def wander(rng, n, *, far_deg=3e-5):
    """A track with seconds to hours between fixes, some without a time, some of new segments."""
    seconds = np.cumsum(
        rng.choice([0.0, 1.0, 5.0, 30.0, 70.0, 2000.0], n, p=[0.05, 0.45, 0.2, 0.1, 0.15, 0.05])
    )
    times = (seconds * 1e6).astype(np.int64).astype("datetime64[us]")
    times[rng.random(n) < rng.choice([0.0, 0.2])] = np.datetime64("NaT")
    return Track(
        track_id="t",
        source="t.gpx",
        kind=TrackKind.COMPLETED,
        lon_deg=(179.99 + np.cumsum(rng.normal(0.0, far_deg, n)) + 180.0) % 360.0 - 180.0,
        lat_deg=np.clip(50.0 + np.cumsum(rng.normal(0.0, far_deg, n)), -80.0, 80.0),
        time_utc=times,
        part=np.cumsum(rng.random(n) < 0.02).astype(np.int32),
        fixes_read=n,
    )


def chord_m(track, a, b):
    xyz = to_geocentric(track.lon_deg[[a, b]], track.lat_deg[[a, b]])
    return float(np.linalg.norm(xyz[1] - xyz[0]))


def slow_speeds(track, time_s, timely):
    found = np.full(len(timely), np.nan)
    for leg in np.flatnonzero(timely).tolist():
        end = leg + 1
        while end < len(timely) and timely[end] and not time_s[end] >= time_s[leg] + SPEED_WINDOW_S:
            end += 1
        if time_s[end] > time_s[leg]:
            found[leg] = chord_m(track, leg, end) / (time_s[end] - time_s[leg]) / KNOT_MPS
    return found


def slow_made_good(track, time_s, length_m, covered):
    made_m, leg = np.where(covered, length_m, 0.0), 0
    while leg < len(covered):
        stretch = leg
        while stretch < len(covered) and covered[stretch]:
            stretch += 1
        begin = leg
        while begin < stretch:
            stride, end = np.floor((time_s[begin] - time_s[leg]) / SPEED_WINDOW_S), begin + 1
            while end < stretch and np.floor((time_s[end] - time_s[leg]) / SPEED_WINDOW_S) <= stride:
                stride, end = np.floor((time_s[end] - time_s[leg]) / SPEED_WINDOW_S), end + 1
            whole = made_m[begin:end].sum()
            if end - begin > 1 and whole > 0.0:
                made_m[begin:end] *= min(chord_m(track, begin, end) / whole, 1.0)
            begin = end
        leg = max(stretch, leg + 1)
    return made_m


@pytest.mark.parametrize("n", [1, 2, 3, 40, 300])
def test_speeds_and_metres_made_good_are_those_of_a_plain_loop(n):
    rng = np.random.default_rng([SEED, n])
    for _ in range(12):
        track = wander(rng, n)
        time_s, bracket_s, _ = filled_times(track)
        timely = bracket_s <= 900.0
        covered = timely & (np.diff(track.part) == 0)
        length_m = lengths_along(track, LineKind.GEODESIC)
        speeds = window_speeds(track, time_s, timely)
        np.testing.assert_allclose(speeds, slow_speeds(track, time_s, timely), rtol=1e-12, atol=1e-12)
        made_m = made_good(track, time_s, length_m, covered)
        np.testing.assert_allclose(made_m, slow_made_good(track, time_s, length_m, covered), rtol=1e-12)


def stretches(rng, fixes):
    count = int(rng.integers(0, 5))
    first = rng.uniform(0.0, fixes - 1.0, count)
    first = np.where(rng.random(count) < 0.5, np.floor(first), first)
    return merged(first, np.minimum(first + rng.choice([0.0, 0.3, 1.0, 5.5, 9.0], count), fixes - 1.0))


def test_corners_are_the_ends_of_stretches_and_the_fixes_between():
    place, counts = corners_of(np.array([0.0, 2.5, 4.0, 6.25, 8.0]), np.array([2.0, 3.5, 4.0, 6.75, 8.5]))
    assert counts.tolist() == [3, 3, 1, 2, 2]
    assert place.tolist() == [0.0, 1.0, 2.0, 2.5, 3.0, 3.5, 4.0, 6.25, 6.75, 8.0, 8.5]


@pytest.mark.parametrize("kind", LineKind)
@pytest.mark.parametrize("far_deg", [1e-4, 0.1])
def test_pieces_of_stretches_run_from_place_to_place_without_a_break(kind, far_deg):
    rng = np.random.default_rng([SEED, len(kind)])
    for _ in range(40):
        track = wander(rng, int(rng.integers(1, 40)), far_deg=far_deg)
        sets = [stretches(rng, len(track)) for _ in range(int(rng.integers(0, 4)))]
        side, begin, end = side_of(track, kind, sets)
        pieces = side.pieces
        for ends, points in ((begin, pieces.start_m), (end, pieces.end_m)):
            np.testing.assert_allclose(
                points, to_geocentric(*positions_at(track, kind, ends)), rtol=0, atol=1e-5
            )
        for number, some in enumerate(sets):
            mine = pieces.owner == number
            whole = merged(begin[mine], end[mine])
            np.testing.assert_allclose(np.array(whole), np.array(some), rtol=0, atol=1e-9)
            assert (np.floor(begin[mine]) >= np.ceil(end[mine] - 1e-9) - 1.0).all()  # within one leg each
            assert (begin[mine][1:] >= end[mine][:-1] - 1e-9).all()


def test_the_least_speed_is_that_of_covered_legs_where_it_is_known():
    speed_kn = np.array([np.nan, 3.0, 1.0, np.nan, 2.0])
    covered = np.array([True, True, False, True, True])
    begin, end = np.array([[0, 5], [0, 2], [1, 3], [4, 5], [0, 1], [2, 4], [3, 3]]).T
    found = least_over(speed_kn, covered, np.ascontiguousarray(begin), np.ascontiguousarray(end))
    np.testing.assert_array_equal(found, [2.0, 3.0, 3.0, 2.0, np.nan, np.nan, np.nan])


def on_pieces(begin, end, *sets):
    """Sets of stays on all the pieces; rows of first and last piece with their fractions, set by set."""
    cuts = np.repeat([[0], [len(begin)]], len(sets), axis=1)
    asked = np.array([len(some) for some in sets])
    first, last = (np.concatenate(ends) for ends in zip(*sets, strict=True))
    *columns, counts = stays_on_pieces(begin, end, cuts, asked, first, last)
    rows = list(zip(*(column.tolist() for column in columns), strict=True))
    ends = np.cumsum(counts).tolist()
    return [rows[low:high] for low, high in zip([0, *ends], ends, strict=False)]


def test_stays_begin_and_end_on_pieces_where_their_places_are():
    rng = np.random.default_rng(SEED)
    for _ in range(60):
        cuts = np.unique(np.concatenate([np.arange(12.0), rng.uniform(0.0, 11.0, 9)]))
        begin, end = cuts[:-1], cuts[1:]
        sets = [stretches(rng, 12) for _ in range(3)]
        for some, found in zip(sets, on_pieces(begin, end, *sets), strict=True):
            expected = []
            for first, last in zip(*some, strict=True):
                mine = np.flatnonzero((begin <= last) & (end >= first))
                parts = [
                    np.clip((place - begin[at]) / (end[at] - begin[at]), 0.0, 1.0)
                    for place, at in ((first, mine[0]), (last, mine[-1]))
                ]
                expected.append((mine[0], mine[-1], *parts))
            assert found == expected


def test_a_lone_place_is_a_piece_of_its_own():
    lone, nowhere = np.array([3.0, 4.0, 9.5]), np.array([5.0])
    some = Intervals(lone[1:], lone[1:]), Intervals(nowhere, nowhere)
    assert on_pieces(lone, lone, *some) == [[(1, 1, 0.0, 0.0), (2, 2, 0.0, 0.0)], []]


def test_places_looked_up_together_are_what_they_are_alone():
    rng = np.random.default_rng(SEED)
    for _ in range(20):
        track = wander(rng, 30)
        asked = np.concatenate([rng.uniform(0.0, 29.0, 20), np.arange(30.0)])
        time_s = seconds_since_epoch(track.time_utc)
        alone_s = [value_at(time_s, place) for place in asked.tolist()]
        np.testing.assert_array_equal(values_at(time_s, asked), alone_s)
        np.testing.assert_array_equal(instants(np.array(alone_s)), [instant(one) for one in alone_s])
        alone = [positions_at(track, LineKind.GEODESIC, np.array([place])) for place in asked]
        together = positions_at(track, LineKind.GEODESIC, asked)
        np.testing.assert_array_equal(together, np.concatenate(alone, axis=1))


def test_stretches_of_a_mask_against_plain_loops():
    rng = np.random.default_rng(SEED)
    for _ in range(200):
        n = int(rng.integers(0, 25))
        mask, able, lasts_s = rng.random(n) < 0.5, rng.random(n) < 0.8, rng.choice([0.0, 5.0, 20.0], n)
        first, last = runs(mask)
        inside = [any(a <= at < b for a, b in zip(first, last, strict=True)) for at in range(n)]
        assert inside == mask.tolist()
        assert (first[1:] > last[:-1]).all()
        assert time_in(mask, lasts_s).tolist() == [
            float(lasts_s[:at][mask[:at]].sum()) for at in range(n + 1)
        ]
        for passable in (None, able):
            filled = joined(mask, lasts_s, 30.0, passable)
            expected = mask.copy()
            for end, begin in zip(last[:-1], first[1:], strict=True):
                free = passable is None or passable[end:begin].all()
                expected[end:begin] = free and lasts_s[end:begin].sum() < 30.0
            assert filled.tolist() == expected.tolist()


def test_a_set_of_intervals_given_in_any_order_or_with_holes_in_memory_is_the_same():
    first, last = np.array([5.0, 0.0, 2.0, 9.0]), np.array([6.0, 1.0, 5.5, 9.0])
    expected = Intervals(np.array([0.0, 2.0, 9.0]), np.array([1.0, 6.0, 9.0]))
    both = np.stack([first, last], axis=1)
    frozen = first.copy(), last.copy()
    for column in frozen:
        column.setflags(write=False)
    for one, two in (
        (first, last),
        (first[::-1], last[::-1]),
        both.T,
        frozen,
        (first.tolist(), last.tolist()),
    ):
        np.testing.assert_array_equal(np.array(merged(one, two)), np.array(expected))


@pytest.mark.parametrize(
    ("lon_deg", "lat_deg", "near"),
    [
        ([5.0, 6.0, 5.5], [54.0, 57.0, 53.0], True),
        ([179.5, -179.5, 181.0, -178.0], [0.0, 0.0, 0.0, 0.0], True),
        ([5.0, 5.1, 15.0], [54.0, 54.0, 54.0], False),
        ([5.0, 5.1, 5.2], [54.0, 54.0, -54.0], False),
        ([0.0, 720.0], [0.0, 0.0], False),
        ([0.0, np.nan], [0.0, 0.0], False),
        ([0.0, 0.0], [np.nan, 0.0], False),
        ([0.0, np.inf], [0.0, 0.0], False),
        ([0.0], [0.0], True),
    ],
)
def test_only_positions_known_to_be_near_the_one_before_need_no_length(lon_deg, lat_deg, near):
    assert near_each_other(np.array(lon_deg), np.array(lat_deg)) is near
