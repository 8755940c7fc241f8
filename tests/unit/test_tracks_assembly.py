"""From raw fixes to tracks: order, parts, readings, and every fix accounted for."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from towzone.errors import InputError
from towzone.model.track import LeftOut
from towzone.tracks.assembly import assembled
from towzone.tracks.raw import NOT_A_TIME, RawTrack

MINUTE_US = 60_000_000
START_US = int(np.datetime64("2026-03-01T06:00:00", "us").astype(np.int64))


def raw(minutes, *, start_us=START_US, any_order=False, bounds=None, lat=None, **more):
    n = len(minutes)
    times = np.array([NOT_A_TIME if m is None else start_us + m * MINUTE_US for m in minutes], dtype=np.int64)
    return RawTrack(
        file="trip.csv",
        name="trip",
        lon_deg=np.full(n, -20.0),
        lat_deg=57.0 + np.arange(n) / 1000.0 if lat is None else np.array(lat, dtype=float),
        time_us=times,
        line=np.arange(2, n + 2, dtype=np.uint32),
        bounds=bounds or ((0, n),),
        any_order=any_order,
        **more,
    )


def void(lines):
    n = len(lines)
    return LeftOut(
        reason="void",
        file="trip.csv",
        line=np.array(lines, dtype=np.uint32),
        time_utc=np.full(n, np.datetime64("NaT"), dtype="datetime64[us]"),
        lon_deg=np.full(n, np.nan),
        lat_deg=np.full(n, np.nan),
    )


def test_a_table_in_reverse_order_is_put_in_time_order_and_says_so():
    (track,), (remark,) = assembled(raw([9, 8, 7, 6, 5, 4, 3, 2, 1, 0], any_order=True))
    assert (np.diff(track.time_utc) > np.timedelta64(0)).all()
    assert track.line.tolist() == list(range(11, 1, -1))
    assert "the 10 fixes of 'trip' were put in time order" in remark.message
    assert track.part.tolist() == [0] * 10


def test_a_log_that_runs_backward_is_refused_since_its_clock_cannot_be_believed():
    with pytest.raises(InputError, match=r"9 of 10 fixes are out of time order"):
        assembled(raw([9, 8, 7, 6, 5, 4, 3, 2, 1, 0]))


def test_readings_follow_their_fixes_into_time_order():
    speeds = np.array([3.0, 2.0, 1.0], dtype=np.float32)
    (track,), _ = assembled(raw([3, 2, 1], any_order=True, readings={"sog_kn": speeds}))
    assert track.readings["sog_kn"].tolist() == [1.0, 2.0, 3.0]


def test_a_fix_back_in_time_is_left_out_with_its_place_and_breaks_the_track():
    minutes = list(range(40))
    minutes[20] = 3
    lat = [57.0 + n / 1000.0 for n in range(40)]
    (track,), remarks = assembled(raw(minutes, lat=lat))
    (some,) = track.left_out
    assert (some.reason, some.file, some.line.tolist()) == ("backward_time", "trip.csv", [22])
    assert some.lat_deg.tolist() == [lat[20]]
    assert track.part.tolist() == [0] * 20 + [1] * 19
    assert "stepping back in time left out, first in line 22" in remarks[0].message


def test_what_the_reader_left_out_is_counted_once_with_the_track():
    (track,), _ = assembled(raw([0, 1], left_out=(void([3, 4, 5]),)))
    assert (track.fixes_read, len(track)) == (5, 2)
    assert [(d.reason, d.count) for d in track.dropped] == [("void", 3)]


def test_parts_that_overlap_are_tracks_of_their_own_and_lose_nothing():
    minutes = [*range(30), *range(30)]
    lat = [57.0 + n / 1000.0 for n in range(30)] + [58.0 + n / 1000.0 for n in range(30)]
    tracks, remarks = assembled(raw(minutes, lat=lat, bounds=((0, 30), (30, 60)), left_out=(void([99]),)))
    assert [len(track) for track in tracks] == [30, 30]
    assert [track.fixes_read for track in tracks] == [31, 30]
    assert "overlap in time" in remarks[0].message


def test_untimed_fixes_stay_where_they_stand():
    (track,), _ = assembled(raw([0, None, 2], any_order=True))
    assert np.isnat(track.time_utc).tolist() == [False, True, False]


def test_no_fixes_make_no_track():
    assert assembled(raw([], bounds=())) == ([], [])


def test_vessel_and_resolution_are_handed_on():
    (track,), _ = assembled(raw([0, 1], vessel="123456789", resolution_m=131.0))
    assert (track.vessel, track.resolution_m) == ("123456789", 131.0)


def test_a_clock_that_was_never_set_is_remarked_on():
    (_,), (remark,) = assembled(raw([0, 1], start_us=0))
    assert "the first fix is dated 1970-01-01T00:00:00Z" in remark.message


@pytest.mark.parametrize("seed", range(20))
def test_parts_begin_at_every_segment_and_where_a_time_stepped_back(seed):
    """Told from the lines that were kept and left out alone; repeats and rivals of a time tear nothing."""
    rng = np.random.default_rng(seed)
    n = 200
    minutes = np.arange(n) * 2
    minutes[rng.choice(n - 1, 4, replace=False) + 1] -= rng.integers(2, 5, 4)
    unknown = rng.random(n) < 0.1
    cuts = np.unique(rng.integers(1, n, int(rng.integers(0, 6)))).tolist()
    bounds = tuple(zip([0, *cuts], [*cuts, n], strict=True))

    (track,), _ = assembled(
        raw([None if gone else int(m) for m, gone in zip(minutes, unknown, strict=True)], bounds=bounds)
    )

    back = [int(line) for some in track.left_out if some.reason == "backward_time" for line in some.line]
    tears = [*back, *(cut + 2 for cut in cuts)]
    kept = track.line.tolist()
    expected = [0]
    for before, line in pairwise(kept):
        expected.append(expected[-1] + any(before < tear <= line for tear in tears))
    assert track.part.tolist() == expected
    assert track.part.dtype == np.int32
