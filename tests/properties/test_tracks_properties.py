"""What must hold of cleaned and merged tracks, whatever the fixes."""

from __future__ import annotations

import itertools
from typing import NamedTuple

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from oracles import GEOD
from strategies import numbers
from track_makers import KNOT_MPS, instants, made, same

from towzone.model.track import LeftOut, Track, TrackKind
from towzone.tracks.cleaning import clean
from towzone.tracks.merging import merge

GAP_S = 900.0
OURS = {"large_hdop", "frozen", "spike", "impossible_jump"}


def cleaned(track: Track, max_speed_kn: float = 12.0, position_error_m: float = 15.0) -> Track:
    return clean(track, max_speed_kn=max_speed_kn, position_error_m=position_error_m, gap_s=GAP_S)[0]


# --- strategies -------------------------------------------------------------------------------------


@st.composite
def sailed(draw: st.DrawFn, fastest_kn: float = 20.0, noise_m: float = 10.0, least: int = 2) -> Track:
    """A track that a vessel really sailed: any speeds up to a limit, any steps in time, noisy positions."""
    n = draw(st.integers(least, 200))
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    step_s = draw(st.sampled_from([0.1, 1.0, 10.0, 60.0, 600.0, 7200.0]))
    steps = step_s * np.where(rng.random(n - 1) < 0.05, rng.integers(1, 50, n - 1), 1)
    seconds = np.concatenate([[0.0], np.cumsum(steps)])
    # A chord on the ellipsoid is no longer than the way sailed; the plane of the makers stretches by less.
    speed = 0.999 * draw(numbers(0.1, fastest_kn)) * KNOT_MPS * rng.random(n - 1)
    course = np.cumsum(rng.normal(0.0, 0.5, n - 1))
    way = np.minimum(speed * steps, 20_000.0)
    east = np.concatenate([[0.0], np.cumsum(way * np.sin(course))])
    north = np.concatenate([[0.0], np.cumsum(way * np.cos(course))])
    off, angle = noise_m * rng.random(n), rng.random(n) * 2.0 * np.pi
    return made(seconds, east + off * np.sin(angle), north + off * np.cos(angle))


@st.composite
def torn(draw: st.DrawFn) -> Track:
    """A track with every fault at once, most of it nonsense."""
    n = draw(st.integers(1, 120))
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    seconds = np.cumsum(rng.choice([1.0, 1.0, 10.0, 60.0, 1000.0], n))
    seconds[rng.random(n) < draw(st.sampled_from([0.0, 0.0, 0.1]))] = np.nan
    places = 10.0 ** rng.uniform(1.0, 5.0, 6)
    stays = draw(st.sampled_from([0.0, 0.5, 0.9, 0.98]))
    spot = np.empty(n, dtype=np.int64)
    for i in range(n):
        spot[i] = spot[i - 1] if i and rng.random() < stays else rng.integers(0, 6)
    repeats = draw(st.sampled_from([0.0, 0.7, 0.97]))
    jitter = rng.normal(0.0, 5.0, n)
    for i in range(1, n):
        if spot[i] == spot[i - 1] and rng.random() < repeats:
            jitter[i] = jitter[i - 1]
    readings = {}
    if draw(st.booleans()):
        readings["hdop"] = np.where(rng.random(n) < 0.2, 24.4, 1.0)
        readings["hdop"][rng.integers(0, n)] = 1.0
    if draw(st.booleans()):
        readings["sog_kn"] = np.where(rng.random(n) < 0.2, np.nan, 5.0 * rng.random(n))
    part = np.cumsum(rng.random(n) < 0.05)
    lines = draw(st.booleans())
    return made(seconds, places[spot] + jitter, jitter, part=part, readings=readings, lines=lines)


class Fix(NamedTuple):
    """A fix as it is compared between a track and what is left out of it."""

    time: int
    lon_deg: float
    lat_deg: float


def fixes(some: Track | LeftOut) -> list[Fix]:
    times = some.time_utc.astype(np.int64).tolist()
    return [Fix(*row) for row in zip(times, some.lon_deg.tolist(), some.lat_deg.tolist(), strict=True)]


# --- cleaning ---------------------------------------------------------------------------------------


@given(sailed(), numbers(0.0, 40.0), numbers(0.0, 100.0))
def test_what_a_vessel_really_sailed_is_never_touched(track: Track, max_speed: float, error: float) -> None:
    """Below 20 kn, whatever top speed and position error are stated."""
    assert cleaned(track, max_speed, error) is track


@given(torn(), numbers(0.0, 20.0), numbers(0.0, 50.0))
def test_cleaning_a_clean_track_changes_nothing(track: Track, max_speed: float, error: float) -> None:
    once = cleaned(track, max_speed, error)
    assert cleaned(once, max_speed, error) is once


@given(torn())
def test_every_fix_is_kept_where_it_was_or_left_out_with_its_place(track: Track) -> None:
    result = cleaned(track)
    left = [fix for some in result.left_out for fix in fixes(some)]
    assert sorted(fixes(result) + left) == sorted(fixes(track))
    rest = iter(fixes(track))
    assert all(fix in rest for fix in fixes(result))  # in the same order
    assert {some.reason for some in result.left_out} <= OURS
    assert result.fixes_read == track.fixes_read
    if track.line is not None:
        kept = dict(zip(track.line.tolist(), fixes(track), strict=True))
        for some in result.left_out:
            assert [kept[line] for line in some.line.tolist()] == fixes(some)


@given(torn())
def test_the_track_breaks_exactly_where_it_did_where_fixes_are_missing_or_steps_impossible(
    track: Track,
) -> None:
    result = cleaned(track)
    index = {fix: i for i, fix in enumerate(fixes(track))}
    if len(index) < len(track):
        return  # two fixes alike: which is which cannot be told from outside
    kept = [index[fix] for fix in fixes(result)]
    for i, (one, other) in enumerate(itertools.pairwise(kept)):
        broken = result.part[i + 1] - result.part[i]
        assert broken >= 0
        if track.part[one] != track.part[other] or other > one + 1:
            assert broken > 0
        elif broken > 0:
            assert not possible_step(track, one, other)
        else:
            assert possible_step(result, i, i + 1)  # times left out no longer bound those not known


def possible_step(track: Track, one: int, other: int) -> bool:
    """Whether a step takes no more than 20 kn and the errors of two fixes, by another library's distance."""
    times = track.time_utc
    before, after = times[: one + 1], times[other:]
    before, after = before[~np.isnat(before)], after[~np.isnat(after)]
    if not len(before) or not len(after):
        return True
    ends = track.lon_deg[one], track.lat_deg[one], track.lon_deg[other], track.lat_deg[other]
    apart_m = GEOD.inv(*ends)[2]
    return bool(apart_m <= 20.0 * KNOT_MPS * ((after[0] - before[-1]) / np.timedelta64(1, "s")) + 30.0)


@given(sailed(fastest_kn=4.0, noise_m=5.0, least=60), st.data())
def test_lone_fixes_far_aside_are_found_and_nothing_else(track: Track, data: st.DataObject) -> None:
    """Up to six spikes, no two of them near each other, farther aside than the longest step allows.

    Each is so much farther aside than the one before that it could not be reached from there either.
    """
    tenth = len(track) // 10
    every = st.lists(st.integers(1, 8), min_size=1, max_size=min(6, tenth), unique=True)
    spikes = np.array([tenth * place for place in data.draw(every)])
    longest_s = np.diff(track.time_utc).max() / np.timedelta64(1, "s")
    every_m = 2.0 * 20.0 * KNOT_MPS * longest_s + 3000.0
    whole_s = (track.time_utc[-1] - track.time_utc[0]) / np.timedelta64(1, "s")
    apart_m = 2.0 * 20.0 * KNOT_MPS * whole_s + 3000.0
    aside_m = every_m + apart_m * np.arange(len(spikes))
    if aside_m[-1] > 1e6:
        return
    lat = track.lat_deg.copy()
    lat[spikes] += aside_m / 111_000.0 * data.draw(st.sampled_from([-1.0, 1.0]))
    spiked = Track(
        track_id="t",
        source="t.csv",
        kind=TrackKind.COMPLETED,
        lon_deg=track.lon_deg,
        lat_deg=lat,
        time_utc=track.time_utc,
        part=track.part,
        fixes_read=len(track),
    )
    result = cleaned(spiked)
    assert {some.reason for some in result.left_out} == {"spike"}
    kept = np.delete(np.arange(len(track)), spikes)
    assert result.lat_deg.tolist() == track.lat_deg[kept].tolist()
    assert np.flatnonzero(np.diff(result.part)).tolist() == [
        i for i, (one, other) in enumerate(itertools.pairwise(kept)) if other > one + 1
    ]


# --- merging ----------------------------------------------------------------------------------------


@st.composite
def sources(draw: st.DrawFn) -> list[Track]:
    """Up to four sources of one vessel with usual steps that all differ, gaps and breaks of their own."""
    tracks = []
    steps = draw(st.lists(st.integers(1, 40), min_size=1, max_size=4, unique=True))
    for number, step in enumerate(steps):
        rng = np.random.default_rng(draw(st.integers(0, 2**32)))
        n = draw(st.integers(3, 40))
        # More than half of the steps are the usual one, so that it is the median.
        odd = (np.arange(n - 1) % 3 == 0) & (rng.random(n - 1) < draw(st.sampled_from([0.0, 0.3, 1.0])))
        waits = np.where(odd, rng.integers(1, 60, n - 1), step) * 30.0
        seconds = draw(st.integers(0, 60)) * 30.0 + np.concatenate([[0.0], np.cumsum(waits)])
        part = np.cumsum(rng.random(n) < 0.1)
        level_m = draw(st.sampled_from([0.0, 0.0, 20.0, 400.0]))
        north = level_m + rng.normal(0.0, 3.0, n).round()
        name = "abcd"[number]
        readings = {"sog_kn": np.full(n, number)} if draw(st.booleans()) else {}
        readings["warp_m"] = np.full(n, level_m)  # so that tests can tell
        tracks.append(made(seconds, 1.5 * seconds, north, name=name, part=part, readings=readings))
    return tracks


def usual_s(track: Track) -> float:
    return float(np.median(np.diff(track.time_utc) / np.timedelta64(1, "s")))


def plainly_merged(tracks: list[Track]) -> list[tuple[int, str]]:
    """Times (microseconds) and sources of the fixes used, one fix after the other by the rule's words."""
    used: list[tuple[int, str]] = []
    for track in sorted(tracks, key=usual_s):
        times = [time for time, _ in used]
        taken = []
        for time in track.time_utc.astype(np.int64).tolist():
            before = max((t for t in times if t <= time), default=None)
            after = min((t for t in times if t >= time), default=None)
            if before is None or after is None or (before < time < after and after - before > GAP_S * 1e6):
                taken.append((time, track.track_id))
        used = sorted(used + taken)
    return used


def merged(tracks: list[Track]) -> tuple[Track, ...]:
    return merge(tracks, gap_s=GAP_S, position_error_m=15.0)[0]


@given(sources())
def test_fixes_are_used_by_the_rule(tracks: list[Track]) -> None:
    """No fix of a lower source within what a higher one covers, every one outside of it."""
    (result,) = merged(tracks)
    want = plainly_merged(tracks)
    assert result.time_utc.astype(np.int64).tolist() == [time for time, _ in want]
    by_name = {track.track_id: set(fixes(track)) for track in tracks}
    assert all(fix in by_name[name] for fix, (_, name) in zip(fixes(result), want, strict=True))
    if "sog_kn" in result.readings:
        number = {track.track_id: i for i, track in enumerate(tracks) if "sog_kn" in track.readings}
        told = [float(number.get(name, np.nan)) for _, name in want]
        np.testing.assert_array_equal(result.readings["sog_kn"], np.float32(told))


@given(sources())
def test_nothing_is_lost_and_times_go_on(tracks: list[Track]) -> None:
    (result,) = merged(tracks)
    left = [fix for some in result.left_out for fix in fixes(some)]
    assert sorted(fixes(result) + left) == sorted(fix for track in tracks for fix in fixes(track))
    assert (np.diff(result.time_utc) > np.timedelta64(0)).all()
    assert result.fixes_read == sum(track.fixes_read for track in tracks)
    by_file = {track.source: track for track in tracks}
    for some in result.left_out:
        assert some.line.tolist() == [2 + fixes(by_file[some.file]).index(fix) for fix in fixes(some)]


@given(sources(), st.randoms(use_true_random=False))
def test_the_order_of_files_does_not_matter(tracks: list[Track], random) -> None:
    """The usual steps all differ, so that the rule for ties never applies."""
    shuffled = list(tracks)
    random.shuffle(shuffled)
    (one,), (other,) = merged(tracks), merged(shuffled)
    assert same(one, other)


@given(sources())
def test_breaks_are_those_within_sources(tracks: list[Track]) -> None:
    (result,) = merged(tracks)
    owner = [name for _, name in plainly_merged(tracks)]
    part = {
        (track.track_id, fix): p for track in tracks for fix, p in zip(fixes(track), track.part, strict=True)
    }
    told = [part[name, fix] for name, fix in zip(owner, fixes(result), strict=True)]
    want = [
        one == other and told[i] != told[i + 1] for i, (one, other) in enumerate(itertools.pairwise(owner))
    ]
    assert (np.diff(result.part) > 0).tolist() == want


@given(sources())
def test_merging_what_is_merged_changes_nothing(tracks: list[Track]) -> None:
    (result,) = merged(tracks)
    assert merged([result]) == (result,)
    (again,) = merged([result, *tracks])
    assert again.time_utc.tolist() == result.time_utc.tolist()


@given(sources())
def test_disagreement_is_told_when_and_only_when_there_is_one(tracks: list[Track]) -> None:
    """Tracks side by side: 400 m are more than two errors of 100 m, 20 m are less."""
    (result,), remarks = merge(tracks, gap_s=GAP_S, position_error_m=100.0)
    said = {
        (remark.where.split("'")[1], remark.message.split("where '")[1].split("'")[0])
        for remark in remarks
        if "compared" in remark.message
    }
    aside = {track.track_id: track.readings["warp_m"][0] > 100.0 for track in tracks}
    if len(set(aside.values())) == 1:
        assert not said  # otherwise a seam of two that disagree lies between both
    used = dict(plainly_merged(tracks))
    name_of = {track.source: track.track_id for track in tracks}
    for some in result.left_out:
        one = name_of[some.file]
        others = {used[fix.time] for fix in fixes(some) if fix.time in used}
        assert {(one, other) for other in others if aside[one] != aside[other]} <= said


def test_the_makers_put_instants_where_they_say() -> None:
    assert instants([0.0, 1.5])[1] - instants([0.0])[0] == np.timedelta64(1_500_000, "us")
