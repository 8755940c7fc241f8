"""Cleaning leaves out what cannot be true, breaks the track there, and keeps whatever it cannot tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from track_makers import (
    KNOT_MPS,
    TOW_MPS,
    at,
    cleaned,
    counts,
    frozen_for,
    instants,
    lines_left_out,
    made,
    same,
    scattered,
    seconds_of,
    tow,
)

from towzone.errors import InputError
from towzone.model.track import LeftOut, Track, TrackKind
from towzone.tracks.cleaning import clean

# --- what stays -------------------------------------------------------------------------------------


def test_a_good_track_is_the_same_object() -> None:
    track = made(*tow())
    assert clean(track, max_speed_kn=12.0, position_error_m=15.0, gap_s=900.0) == (track, ())


def test_a_planned_track_is_left_alone() -> None:
    plan = replace(made([np.nan] * 3, [0.0, 1e6, 0.0]), kind=TrackKind.PLANNED)
    assert cleaned(plan) == (plan, "")


@pytest.mark.parametrize("step_s", [0.1, 1.0, 60.0])
def test_steaming_faster_than_the_stated_speed_is_not_eaten(step_s: float) -> None:
    """11 kn, and a top speed of 10 kn or of the tow only."""
    seconds = np.arange(600) * step_s
    track = made(seconds, 11.0 * KNOT_MPS * seconds + scattered(600))
    for max_speed_kn in (10.0, 4.0, 0.0):
        assert cleaned(track, max_speed_kn)[0] is track


def test_a_dash_there_and_back_at_11_kn_stays_whatever_speed_is_stated() -> None:
    seconds = np.arange(0.0, 4 * 3600.0, 600.0)
    east = 11.0 * KNOT_MPS * np.minimum(seconds, seconds[-1] - seconds)
    assert cleaned(made(seconds, east), max_speed_kn=3.0)[0].dropped == ()


def test_noise_at_ten_fixes_a_second_is_no_jump() -> None:
    """5 m in 0.1 s are 97 kn, but within the errors of two positions."""
    seconds = np.arange(3000) * 0.1
    track = made(seconds, TOW_MPS * seconds, np.where(np.arange(3000) % 2, 5.0, 0.0))
    assert cleaned(track)[0] is track


def test_jitter_is_no_jump_however_small_an_error_is_stated() -> None:
    seconds = np.arange(3000) * 0.1
    track = made(seconds, TOW_MPS * seconds, np.where(np.arange(3000) % 2, 5.0, 0.0))
    assert cleaned(track, position_error_m=0.0)[0] is track


def test_a_step_a_little_too_fast_is_no_reason() -> None:
    """One minute at 12 kn and two errors are 400 m; 560 m are more, but less than half more again."""
    seconds = np.arange(60) * 60.0
    east = TOW_MPS * seconds
    east[30] += 460.0
    assert cleaned(made(seconds, east))[0].dropped == ()


@pytest.mark.parametrize(("max_speed_kn", "spikes"), [(14.0, 1), (16.0, 0)])
def test_impossible_is_more_than_half_as_fast_again(max_speed_kn: float, spikes: int) -> None:
    """720 m aside in a minute are 22.4 kn without the errors of two fixes: 1.6 times 14, 1.4 times 16."""
    seconds = np.arange(60) * 60.0
    north = np.where(np.arange(60) == 30, 720.0, 0.0)
    assert len(cleaned(made(seconds, 0.1 * seconds, north), max_speed_kn)[0].left_out) == spikes


def test_long_gaps_allow_long_ways() -> None:
    seconds = np.array([0.0, 1.0, 7200.0, 7201.0])
    assert cleaned(made(seconds, [0.0, 2.0, 40_000.0, 40_002.0]))[0].dropped == ()


def test_a_track_across_180_degrees_has_no_jump() -> None:
    lon = np.array([179.9999, 179.99995, 180.0, -179.99995, -179.9999])
    track = replace(made(np.arange(5.0), np.zeros(5)), lon_deg=lon, lat_deg=np.full(5, 60.0))
    assert cleaned(track)[0] is track


def test_fixes_without_time_are_judged_by_the_times_around_them() -> None:
    """3 km in 10 minutes are possible, wherever between two times the fix stands; 30 km are not."""
    near = made([0.0, np.nan, 600.0, 601.0], [0.0, 3000.0, 900.0, 902.0])
    far = made([0.0, np.nan, 600.0, 601.0], [0.0, 30_000.0, 900.0, 902.0])
    assert cleaned(near)[0] is near
    assert lines_left_out(cleaned(far)[0], "spike") == [3]


def test_without_any_time_nothing_is_impossible() -> None:
    track = made([np.nan] * 4, [0.0, 1e5, 0.0, 5.0])
    assert cleaned(track)[0] is track


# --- spikes and jumps -------------------------------------------------------------------------------


def test_a_spike_is_left_out_and_the_track_breaks_there() -> None:
    seconds, east, north = tow(100)
    north[40] += 400.0
    result, said = cleaned(made(seconds, east, north))
    assert lines_left_out(result, "spike") == [42]
    assert counts(result) == {"spike": 1}
    assert seconds_of(result) == [s for s in seconds if s != 40.0]
    assert result.part.tolist() == [0] * 40 + [1] * 59
    assert "trip.csv|line 42|1 fix standing aside" in said
    assert "the first in line 42 at 2026-03-01 06:00:40 UTC" in said
    assert "%" not in said


def test_left_out_fixes_keep_their_place() -> None:
    seconds, east, north = tow(100)
    north[40] += 400.0
    track = made(seconds, east, north)
    (some,) = cleaned(track)[0].left_out
    assert (some.reason, some.file, some.line.tolist()) == ("spike", "trip.csv", [42])
    assert some.time_utc.tolist() == track.time_utc[[40]].tolist()
    assert (some.lon_deg[0], some.lat_deg[0]) == (track.lon_deg[40], track.lat_deg[40])


def test_without_lines_the_time_tells_the_place() -> None:
    seconds, east, north = tow(100)
    north[40] += 400.0
    result, said = cleaned(made(seconds, east, north, lines=False))
    assert result.left_out[0].line.tolist() == [0]
    assert "|track 'trip'|" in said
    assert "the first at 2026-03-01 06:00:40 UTC" in said


def test_what_else_the_source_tells_stays_with_its_fix() -> None:
    seconds, east, north = tow(100)
    north[40] += 400.0
    depth = np.arange(100.0)
    result, _ = cleaned(made(seconds, east, north, readings={"depth_m": depth}))
    assert result.readings["depth_m"].tolist() == [d for d in depth if d != 40.0]
    assert result.line is not None
    assert result.line.tolist() == [n for n in range(2, 102) if n != 42]


def test_a_run_that_could_be_neither_reached_nor_left_is_a_jump() -> None:
    seconds, east, north = tow(2000)
    north[500:512] += 5000.0
    result, said = cleaned(made(seconds, east, north))
    assert lines_left_out(result, "impossible_jump") == list(range(502, 514))
    assert counts(result) == {"impossible_jump": 12}
    assert "12 fixes that could not be reached and left again at 20 kn" in said


def test_a_run_torn_in_itself_is_bridged() -> None:
    """Eight fixes all over the place: each is out of reach of the next."""
    seconds, east, north = tow(2000)
    north[500:508] += np.array([1e4, -3e4, 5e4, -2e4, 7e4, 2e4, -6e4, 4e4])
    assert lines_left_out(cleaned(made(seconds, east, north))[0], "impossible_jump") == list(range(502, 510))


def test_a_bad_start_and_end_are_left_out_and_the_ends_are_told() -> None:
    seconds, east, north = tow(2000)
    north[:4] += 9000.0
    north[-3:] -= 9000.0
    result, said = cleaned(made(seconds, east, north))
    assert lines_left_out(result, "impossible_jump") == [2, 3, 4, 5, 1999, 2000, 2001]
    assert result.part.tolist() == [0] * 1993
    assert "it is judged from 2026-03-01 06:00:04 UTC, not from 2026-03-01 06:00:00 UTC" in said
    assert "it is judged up to 2026-03-01 06:33:16 UTC, not up to 2026-03-01 06:33:19 UTC" in said


def test_no_more_than_a_gap_is_cut_off_at_the_ends() -> None:
    """Three reports every 10 minutes at the end would be half an hour that nobody judges."""
    seconds = np.arange(60) * 600.0
    east = TOW_MPS * seconds
    east[-3:] += 40_000.0
    result, said = cleaned(made(seconds, east))
    assert result.dropped == ()
    assert result.part.tolist() == [0] * 57 + [1] * 3
    assert "1 step between fixes cannot have been made" in said


def test_a_bad_beginning_is_no_more_than_a_tenth_of_the_track() -> None:
    """Four fixes against twenty-six are not enough to tell who is right."""
    for n, lost in ((30, 0), (40, 4)):
        seconds, east, north = tow(n)
        north[:4] += 9000.0
        assert n - len(cleaned(made(seconds, east, north))[0]) == lost


def test_of_two_halves_that_cannot_both_be_true_none_is_lost() -> None:
    seconds, east, north = tow(1200)
    north[600:] += 20_000.0
    result, said = cleaned(made(seconds, east, north))
    assert result.dropped == ()
    assert result.part.tolist() == [0] * 600 + [1] * 600
    assert "line 602|1 step between fixes cannot have been made at 20 kn" in said
    assert "in line 602 at 2026-03-01 06:10:00 UTC" in said


def test_two_halves_do_not_save_a_spike() -> None:
    seconds, east, north = tow(1200)
    north[600:] += 20_000.0
    north[300] += 2000.0
    result, _ = cleaned(made(seconds, east, north))
    assert counts(result) == {"spike": 1}
    assert len(np.unique(result.part)) == 3


@pytest.mark.parametrize("block", [1, 8, 40])
def test_two_vessels_in_one_log_are_not_made_one(block: int) -> None:
    """Half of the fixes are 5 km aside, in turns: every step between them is a break, nothing is lost."""
    seconds, east, north = tow(1200)
    aside = np.arange(1200) // block % 2 == 1
    result, said = cleaned(made(seconds, east, np.where(aside, north + 5000.0, north)))
    assert result.dropped == ()
    assert result.part[-1] == np.count_nonzero(np.diff(aside))
    assert "it cannot be told which" in said


def test_many_spikes_are_left_out_and_their_share_is_told() -> None:
    """To the north and the south by turns: 25 s are not enough to get from one to the next."""
    seconds, east, north = tow(1000)
    north[10::50] += 3000.0
    north[35::50] -= 3000.0
    result, said = cleaned(made(seconds, east, north))
    assert counts(result) == {"spike": 40}
    assert "that is 4.0 % of all fixes" in said


def test_jumps_beyond_the_limit_stay_but_spikes_go() -> None:
    """Thirty runs of four: more than one fix in a hundred."""
    seconds, east, north = tow(2000)
    for first in range(60, 1800, 60):
        north[first : first + 4] += 5000.0
    north[30] += 5000.0
    result, _ = cleaned(made(seconds, east, north))
    assert counts(result) == {"spike": 1}
    assert len(np.unique(result.part)) == 2 + 2 * len(range(60, 1800, 60))


def test_neither_of_two_fixes_is_chosen() -> None:
    result, said = cleaned(made([0.0, 1.0], [0.0, 9000.0]))
    assert (result.dropped, result.part.tolist()) == ((), [0, 1])
    assert "1 step" in said


def test_where_half_the_fixes_would_go_none_goes() -> None:
    result, _ = cleaned(made(np.arange(4.0), [0.0, 9000.0, -9000.0, 5.0]))
    assert (result.dropped, result.part.tolist()) == ((), [0, 1, 2, 3])


def test_time_cut_off_before_counts_at_the_ends() -> None:
    """Fifteen minutes are gone already, so that the bad beginning stays."""
    seconds, east, north = tow(400)
    north[:4] += 9000.0
    lon, lat = at([0.0], [0.0])
    for before_s, lost in ((-890.0, 4), (-899.0, 0)):
        gone = LeftOut(
            reason="frozen",
            file="trip.csv",
            line=np.uint32([1]),
            time_utc=instants([before_s]),
            lon_deg=lon,
            lat_deg=lat,
        )
        track = replace(made(seconds, east, north), left_out=(gone,), fixes_read=401)
        assert 400 - len(cleaned(track)[0]) == lost


def test_a_break_of_the_source_is_not_counted_twice() -> None:
    seconds, east, north = tow(100)
    north[40] += 400.0
    part = [0] * 40 + [3] * 20 + [4] * 40
    assert cleaned(made(seconds, east, north, part=part))[0].part.tolist() == [0] * 40 + [3] * 19 + [4] * 40


def test_what_was_left_out_before_counts_as_left_out() -> None:
    """Cleaned piece by piece no more may go than at once."""
    seconds, east, north = tow(800)
    north[400:408] += 5000.0
    track = made(seconds, east, north)
    gone = at(np.zeros(6), np.zeros(6))
    before = LeftOut(
        reason="impossible_jump",
        file=track.source,
        line=np.arange(6, dtype=np.uint32),
        time_utc=instants(np.full(6, 5.0)),
        lon_deg=gone[0],
        lat_deg=gone[1],
    )
    assert counts(cleaned(track)[0]) == {"impossible_jump": 8}
    loaded = replace(track, left_out=(before,), fixes_read=806)
    assert counts(cleaned(loaded)[0]) == {"impossible_jump": 6}


# --- two vessels or receivers in one track ----------------------------------------------------------


@pytest.mark.parametrize("block", [1, 3, 5])
def test_a_few_fixes_aside_that_agree_with_each_other_are_a_second_vessel(block: int) -> None:
    """Less than a tenth of the fixes, 5 km aside, a minute apart: 20 kn make 620 m of it."""
    seconds, east, north = tow(1200)
    aside = np.zeros(1200, dtype=bool)
    for first in range(300, 300 + 60 * (2 if block > 1 else 3), 60):
        aside[first : first + block] = True
    result, said = cleaned(made(seconds, east, np.where(aside, north + 5000.0, north)))
    assert result.dropped == ()
    assert np.flatnonzero(np.diff(result.part)).tolist() == np.flatnonzero(np.diff(aside)).tolist()
    assert f"trip.csv|line 302|{aside.sum()} fixes standing aside of the others, out of reach" in said
    assert "at 20 kn, agree with each other, the first in line 302 at 2026-03-01 06:05:00 UTC" in said
    assert "two vessels or receivers are probably mixed" in said
    assert f"{np.count_nonzero(np.diff(aside))} impossible steps between fixes count as gaps" in said
    assert "cannot be told which" not in said


def test_agreement_counts_over_the_time_between() -> None:
    """Three spikes 5 km farther north each time: 10 minutes are enough for that at 20 kn, 5 are not."""
    for every, lost in ((600, 0), (300, 3)):
        seconds, east, north = tow(2000)
        north[100 : 100 + 3 * every : every] += np.array([5000.0, 10_000.0, 15_000.0])
        assert 2000 - len(cleaned(made(seconds, east, north))[0]) == lost


def test_two_spikes_that_agree_are_still_spikes() -> None:
    seconds, east, north = tow(1000)
    north[[300, 400]] += 5000.0
    assert lines_left_out(cleaned(made(seconds, east, north))[0], "spike") == [302, 402]


def test_two_jumps_with_time_to_go_back_between_them_agree_by_chance() -> None:
    """5 km there and back are 16 minutes at 20 kn."""
    for later, lost in ((900, 0), (1000, 8)):
        seconds, east, north = tow(2000)
        for first in (100, 100 + later):
            north[first : first + 4] += 5000.0
        assert 2000 - len(cleaned(made(seconds, east, north))[0]) == lost


def test_two_jumps_out_of_reach_of_each_other_do_not_agree() -> None:
    """10 km in 100 s."""
    seconds, east, north = tow(2000)
    north[300:304] += 5000.0
    north[400:404] -= 5000.0
    assert counts(cleaned(made(seconds, east, north))[0]) == {"impossible_jump": 8}


def test_three_fixes_in_two_stretches_are_enough() -> None:
    seconds, east, north = tow(1000)
    north[[300, 301, 400]] += 5000.0
    assert cleaned(made(seconds, east, north))[0].dropped == ()


def test_a_receiver_that_writes_one_place_again_and_again_is_no_second_vessel() -> None:
    seconds, east, north = tow(1000)
    east[100::200], north[100::200] = 0.0, 5000.0
    assert counts(cleaned(made(seconds, east, north))[0]) == {"spike": 5}
    seconds, east, north = tow(1000)
    east[[300, 301, 400, 401]], north[[300, 301, 400, 401]] = 0.0, 5000.0
    assert counts(cleaned(made(seconds, east, north))[0]) == {"spike": 4}


def test_a_second_vessel_mixed_in_does_not_keep_fixes_left_out_for_other_reasons() -> None:
    seconds, east, north = tow(1000)
    north[100::200] += 5000.0
    hdop = np.where(np.arange(1000) == 50, 24.4, 0.9)
    result, said = cleaned(made(seconds, east, north, readings={"hdop": hdop}))
    assert counts(result) == {"large_hdop": 1}
    assert "5 fixes standing aside of the others" in said


# --- HDOP -------------------------------------------------------------------------------------------


def test_a_large_hdop_is_left_out() -> None:
    """24.4 stands in a published GGA sentence (of 09:22:04.999, HDOP in field 8)."""
    seconds, east, north = tow(1200)
    hdop = np.full(1200, 0.9)
    hdop[500:510] = 24.4
    result, said = cleaned(made(seconds, east, north, readings={"hdop": hdop}))
    assert lines_left_out(result, "large_hdop") == list(range(502, 512))
    assert result.part.tolist() == [0] * 500 + [1] * 690
    assert "10 fixes with an HDOP above 10" in said


@pytest.mark.parametrize(("hdop", "error_m"), [(10.0, 15.0), (np.nan, 15.0), (24.4, 75.0)])
def test_a_hdop_within_the_stated_error_or_unknown_stays(hdop: float, error_m: float) -> None:
    """With 3 m for a range, 24.4 makes 73 m."""
    seconds, east, north = tow(100)
    hdops = np.full(100, 0.9)
    hdops[50] = hdop
    track = made(seconds, east, north, readings={"hdop": hdops})
    assert cleaned(track, position_error_m=error_m)[0] is track


def test_a_long_bad_beginning_is_a_gap_not_a_later_start() -> None:
    seconds, east, north = tow(3600)
    hdop = np.where(seconds < 1200.0, 24.4, 0.9)
    result, _ = cleaned(made(seconds, east, north, readings={"hdop": hdop}))
    assert seconds_of(result)[:3] == [0.0, 1200.0, 1201.0]
    assert result.part[:3].tolist() == [0, 1, 1]
    assert counts(result) == {"large_hdop": 1199}


def test_a_track_without_one_good_fix_is_refused() -> None:
    track = made(*tow(100), readings={"hdop": np.full(100, 24.4)})
    with pytest.raises(InputError, match=r"'trip'.* all 100 fixes have an HDOP of 24\.4 .* of 73 m or more"):
        clean(track, max_speed_kn=12.0, position_error_m=15.0, gap_s=900.0)


# --- beyond the ends --------------------------------------------------------------------------------


def logged_without_position(track: Track, reason: str, *seconds: float) -> Track:
    """A track from which its reader left out fixes at some times."""
    nowhere = np.full(len(seconds), np.nan)
    some = LeftOut(
        reason=reason,
        file=track.source,
        line=np.zeros(len(seconds), np.uint32),
        time_utc=instants(seconds),
        lon_deg=nowhere,
        lat_deg=nowhere,
    )
    return replace(track, left_out=(some,), fixes_read=len(track) + len(seconds))


def words_on(track: Track) -> str:
    result, remarks = clean(track, max_speed_kn=12.0, position_error_m=15.0, gap_s=900.0)
    assert result is track
    return "\n".join(f"{remark.file}|{remark.where}|{remark.message}" for remark in remarks)


@pytest.mark.parametrize("reason", ["void", "estimated", "bad_position"])
def test_a_log_that_goes_on_without_positions_is_told_of(reason: str) -> None:
    """Three hours at each end of a track of half an hour."""
    said = words_on(logged_without_position(made(*tow(1801)), reason, -10_800.0, np.nan, 12_600.0))
    assert said == (
        "trip.csv|track 'trip'|judged from 2026-03-01 06:00:00 UTC to 2026-03-01 06:30:00 UTC"
        " only; the log goes on for 3 h 00 min before and 3 h 00 min after without valid positions, and"
        " what could be reached in that time is open"
    )


def test_only_the_end_that_is_longer_than_a_gap_is_told_of() -> None:
    said = words_on(logged_without_position(made(*tow(1801)), "void", -900.0, 1800.0 + 901.0))
    assert "goes on for 15 min 01 s after without valid positions" in said
    assert "before" not in said


@pytest.mark.parametrize("seconds", [[-900.0, 900.0, 2700.0], [np.nan]])
def test_a_few_minutes_without_positions_at_an_end_are_not_worth_a_word(seconds: list[float]) -> None:
    assert words_on(logged_without_position(made(*tow(1801)), "void", *seconds)) == ""


def test_fixes_that_stand_elsewhere_in_the_track_are_not_taken_for_a_log_without_positions() -> None:
    assert words_on(logged_without_position(made(*tow(1801)), "backward_time", -10_800.0)) == ""


def test_times_are_measured_from_the_first_and_last_known() -> None:
    track = made([np.nan, 0.0, 60.0, np.nan], 0.0)
    said = words_on(logged_without_position(track, "void", -3600.0))
    assert "goes on for 1 h 00 min before without" in said
    timeless = made([np.nan, np.nan], 0.0)
    assert words_on(logged_without_position(timeless, "void", -3600.0)) == ""


# --- all together -----------------------------------------------------------------------------------


def test_everything_at_once_is_told_reason_by_reason() -> None:
    seconds, east, north = frozen_for(1000, 1600)
    north[200] += 800.0
    north[2500:2506] -= 7000.0
    hdop = np.full(3600, 1.2)
    hdop[3000:3003] = 99.9
    result, said = cleaned(made(seconds, east, north, readings={"hdop": hdop}))
    assert counts(result) == {"frozen": 600, "impossible_jump": 6, "large_hdop": 3, "spike": 1}
    assert result.fixes_read == 3600
    assert len(said.splitlines()) == 4


def test_hostile_names_are_made_visible() -> None:
    seconds, east, north = tow(100)
    north[40] += 400.0
    _, said = cleaned(made(seconds, east, north, name="a\x1b[2Jb", source="f.csv", lines=False))
    assert "\x1b" not in said


def test_two_cleanings_tell_the_same() -> None:
    seconds, east, north = frozen_for(1000, 1600)
    north[200] += 800.0
    one, other = made(seconds, east, north), made(seconds, east, north)
    assert same(cleaned(one)[0], cleaned(other)[0])
    assert cleaned(one)[1] == cleaned(other)[1]
