"""Sources of one vessel become one track: the better first, others in its gaps, disagreement told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from track_makers import TOW_MPS, at, counts, lines_left_out, log, made, merged, one_of, same, seconds_of

from towzone.model.track import Dropped, LeftOut, TrackKind

# --- files that follow each other -------------------------------------------------------------------


def test_files_of_one_vessel_are_joined_in_time_order_and_routes_pass_through() -> None:
    late, early = log("b", 1200, 1500, 60), log("a", 0, 600, 60)
    plan = replace(log("p", 0, 60, 60), kind=TrackKind.PLANNED)
    (first, joined), said = merged(plan, late, early)
    assert first is plan
    assert (joined.track_id, joined.source) == ("a+b", "a.csv, b.csv")
    assert seconds_of(joined) == [*range(0, 601, 60), *range(1200, 1501, 60)]
    assert joined.fixes_read == 17
    assert joined.line is None
    assert said == "b.csv, a.csv||2 completed tracks are taken as one vessel's and joined in time order"


def test_one_track_is_the_same_object() -> None:
    track = log("a", 0, 600, 60, part=[0] * 5 + [7] * 6)
    assert merged(track) == ([track], "")


def test_nothing_gives_nothing() -> None:
    assert merged() == ([], "")


def test_where_files_meet_there_is_no_break_but_their_own_breaks_stay() -> None:
    """Ten minutes from file to file are covered like ten minutes within one."""
    one = log("a", 0, 600, 60, part=[2] * 5 + [3] * 6)
    other = log("b", 1200, 1500, 60, part=[5] * 2 + [9] * 4)
    assert one_of(one, other).part.tolist() == [0] * 5 + [1] * 8 + [2] * 4


def test_the_fix_at_the_cut_of_a_split_log_counts_once() -> None:
    joined = one_of(log("a", 0, 600, 60), log("b", 600, 1200, 60))
    assert len(joined) == 21
    assert joined.dropped == (Dropped(reason="duplicate", count=1),)


@pytest.mark.parametrize("swapped", [False, True])
def test_a_cut_with_two_positions_at_one_time_says_so(swapped: bool) -> None:
    pieces = [log("a", 0, 600, 60), log("b", 600, 1200, 60, north_m=500.0)]
    (joined,), said = merged(*(pieces[::-1] if swapped else pieces))
    assert counts(joined) == {"conflicting_time": 1}
    assert joined.left_out[0].file == ("a.csv" if swapped else "b.csv")
    assert "1 fix elsewhere at the same time left out" in said
    assert "up to 500.0 m" in said


def test_a_season_of_daily_files_is_one_track() -> None:
    days = [log(f"day{n:03d}", n * 86_400, (n + 1) * 86_400 - 600, 600) for n in range(120)]
    joined = one_of(*days[::-1])
    assert len(joined) == 120 * 144
    assert (np.diff(joined.time_utc) > np.timedelta64(0)).all()
    assert joined.part.tolist() == [0] * len(joined)


# --- precedence -------------------------------------------------------------------------------------


def test_the_more_frequent_source_counts_and_others_fill_its_gaps() -> None:
    """A plotter's log with half an hour missing, hourly reports, and fixes every two minutes."""
    seconds = np.append(np.arange(0.0, 3600.0, 10.0), np.arange(5400.0, 7201.0, 10.0))
    plotter = made(seconds, TOW_MPS * seconds, name="plotter")
    reports = log("reports", -3600, 10_800, 3600)
    heard = log("heard", 5, 7000, 120)
    joined = one_of(reports, heard, plotter)
    in_gap = [s for s in np.arange(5.0, 7000.0, 120.0) if 3590.0 < s < 5400.0]
    assert seconds_of(joined) == [-3600.0, *seconds[:360], *in_gap, *seconds[360:], 10_800.0]
    assert counts(joined) == {
        "duplicate": 2,  # reports at 0 and 7200 s; the one at 3600 s falls into the filled gap
        "other_source": len(np.arange(5.0, 7001.0, 120.0)) - len(in_gap) + 1,
    }
    assert joined.part.tolist() == [0] * len(joined)


def test_a_gap_no_longer_than_the_limit_is_not_filled() -> None:
    often = made([0.0, 60.0, 120.0, 1020.0, 1080.0], 0.0, name="often")
    seldom = made([-1000.0, 600.0, 2000.0], 0.0, name="seldom")
    assert seconds_of(one_of(often, seldom)) == [-1000.0, 0.0, 60.0, 120.0, 1020.0, 1080.0, 2000.0]
    assert seconds_of(one_of(often, seldom, gap_s=899.0))[4] == 600.0


def test_a_seam_no_longer_than_the_limit_is_not_filled() -> None:
    one, other, third = log("a", 0, 300, 60), log("b", 1200, 1500, 60), made([700.0], [0.0], name="c")
    assert counts(one_of(one, other, third)) == {"other_source": 1}
    assert one_of(one, other, third, gap_s=899.0).dropped == ()


def test_fixes_on_both_sides_of_a_lone_better_one_stay_in_order() -> None:
    better = made([-5000.0, -4999.0, -4998.0, 150.0, 5000.0, 5001.0], 0.0, name="better")
    other = made([100.0, 200.0], 0.0, name="other")
    assert seconds_of(one_of(other, better))[3:6] == [100.0, 150.0, 200.0]


def test_a_fix_on_a_seam_is_of_another_source_not_of_a_cut_log() -> None:
    one, other = log("a", 0, 300, 60), log("b", 600, 900, 60)
    third = made([300.0, 5000.0], [TOW_MPS * 300.0, 0.0], 10.0, name="c")
    assert counts(one_of(one, other, third)) == {"other_source": 1}


def test_a_fix_in_a_gap_may_be_closer_to_its_edge_than_the_limit() -> None:
    often = made([0.0, 60.0, 120.0, 1200.0, 1260.0], 0.0, name="often")
    seldom = made([100.0, 200.0, 1100.0, 1230.0], 0.0, name="seldom")
    assert seconds_of(one_of(often, seldom)) == [0.0, 60.0, 120.0, 200.0, 1100.0, 1200.0, 1260.0]


def test_of_equally_frequent_sources_the_one_given_first_counts() -> None:
    one, other = log("a", 0, 600, 60), log("b", 30, 900, 60, north_m=5.0)
    for first, second in ((one, other), (other, one)):
        joined = one_of(first, second)
        assert counts(joined) == {"other_source": sum(len(some) for some in joined.left_out)}
        assert {some.file for some in joined.left_out} == {second.source}
        assert joined.track_id == "a+b"


def test_of_equally_frequent_sources_the_one_that_tells_more_counts() -> None:
    """So that depths are not lost; a column without any value tells nothing."""
    plain = log("a", 0, 600, 60, readings={"sog_kn": np.full(11, 3.0), "hdop": np.full(11, np.nan)})
    deep = log("b", 0, 600, 60, readings={"sog_kn": np.full(11, 3.0), "depth_m": np.full(11, 80.0)})
    for tracks in ((plain, deep), (deep, plain)):
        assert one_of(*tracks).readings["depth_m"].tolist() == [80.0] * 11
    (_,), said = merged(log("c", 30, 700, 60), plain, deep)
    assert "of equals the one with more kinds of readings, then the one given first, in this order:" in said
    assert "'b' (1 min, 2 kinds of readings), 'a' (1 min, 1 kind of readings), 'c' (1 min);" in said


def test_more_readings_do_not_outweigh_a_shorter_time_between_fixes() -> None:
    often, deep = log("a", 0, 600, 30), log("b", 0, 600, 60, readings={"depth_m": np.full(11, 80.0)})
    assert seconds_of(one_of(deep, often)) == seconds_of(often)


@pytest.mark.parametrize(
    ("sources", "name"),
    [
        (("all.gpx", "all.nmea"), "all.gpx+all.nmea"),
        (("one/all.gpx", "two/all.gpx"), "all.gpx (1)+all.gpx (2)"),
        (("one/all.gpx", "all.nmea", "two/all.gpx"), "all.gpx (1)+all.nmea+all.gpx (3)"),
        (("one/all", "two/all"), "all (1)+all (2)"),
    ],
)
def test_files_of_one_name_are_told_apart_in_the_name(sources: tuple[str, ...], name: str) -> None:
    tracks = [log("all", 60.0 * i, 600, 60, source=source) for i, source in enumerate(sources)]
    assert one_of(*tracks).track_id == name


def test_the_same_file_given_twice_changes_nothing_but_the_count() -> None:
    track = log("all", 0, 600, 60, readings={"depth_m": np.full(11, 80.0)})
    (joined,), said = merged(track, track)
    assert joined.track_id == "all"
    assert seconds_of(joined) == seconds_of(track)
    assert joined.part.tolist() == track.part.tolist()
    assert joined.readings["depth_m"].tolist() == [80.0] * 11
    assert counts(joined) == {"duplicate": 11}
    assert "2 completed tracks are taken as one vessel's and joined in time order" in said


def test_left_out_fixes_keep_file_line_time_and_place() -> None:
    often, seldom = log("often", 0, 600, 10), log("seldom", 5, 605, 300, north_m=3.0)
    joined = one_of(often, seldom)
    (some,) = joined.left_out
    assert (some.reason, some.file) == ("other_source", "seldom.csv")
    assert lines_left_out(joined, "other_source") == [2, 3]
    assert some.time_utc.tolist() == seldom.time_utc[:2].tolist()
    assert some.lat_deg.tolist() == seldom.lat_deg[:2].tolist()


def test_a_single_fix_comes_last_and_the_remark_names_the_order() -> None:
    (joined,), said = merged(made([100.0], [160.0], name="call"), log("log", 0, 600, 60))
    assert counts(joined) == {"other_source": 1}
    assert "in this order: 'log' (1 min), 'call' (one fix); 1 fix of others left out" in said


def test_what_was_left_out_before_is_carried_along() -> None:
    lon, lat = at([0.0, 0.0], [0.0, 0.0])
    track = log("a", 0, 600, 60)
    gone = LeftOut(
        reason="void",
        file="a.csv",
        line=np.array([90, 91], np.uint32),
        time_utc=track.time_utc[:2],
        lon_deg=lon,
        lat_deg=lat,
    )
    loaded = replace(track, left_out=(gone,), fixes_read=13)
    joined = one_of(loaded, log("b", 30, 270, 120))
    assert counts(joined) == {"other_source": 3, "void": 2}
    assert joined.fixes_read == 16


def test_readings_are_carried_and_unknown_where_a_source_has_none() -> None:
    one = log("a", 0, 120, 60, readings={"sog_kn": [3.0, 3.1, 3.2]})
    other = log("b", 180, 240, 60, readings={"depth_m": [80.0, 81.0]})
    joined = one_of(one, other)
    assert set(joined.readings) == {"sog_kn", "depth_m"}
    nan = np.nan
    np.testing.assert_array_equal(joined.readings["sog_kn"], np.float32([3.0, 3.1, 3.2, nan, nan]))
    np.testing.assert_array_equal(joined.readings["depth_m"], np.float32([nan, nan, nan, 80.0, 81.0]))


def test_a_source_that_gives_no_fix_gives_no_reading_and_no_coarseness() -> None:
    fine = log("a", 0, 600, 60, resolution_m=0.1)
    coarse = log("b", 90, 540, 90, resolution_m=100.0, readings={"depth_m": np.full(6, 80.0)})
    joined = one_of(fine, coarse)
    assert (joined.resolution_m, dict(joined.readings)) == (0.1, {})


def test_the_coarsest_of_the_sources_used_makes_the_coarseness() -> None:
    assert (
        one_of(log("a", 0, 60, 60, resolution_m=0.1), log("b", 90, 540, 90, resolution_m=9)).resolution_m == 9
    )


def test_lines_stay_where_all_is_of_one_file() -> None:
    one = log("a/1", 0, 120, 60, source="a.csv", vessel="Invented")
    other = replace(log("a/2", 180, 300, 60, source="a.csv", vessel="Invented"), line=np.uint32([7, 8, 9]))
    joined = one_of(other, one)
    assert joined.line is not None
    assert joined.line.tolist() == [2, 3, 4, 7, 8, 9]


# --- what cannot be merged --------------------------------------------------------------------------


@pytest.mark.parametrize("unknown", [0, -1])
def test_a_track_without_time_at_an_end_is_judged_by_itself(unknown: int) -> None:
    seconds = np.arange(0.0, 300.0, 60.0)
    seconds[unknown] = np.nan
    untimed = made(seconds, 0.0, name="u")
    one, other = log("a", 1000, 1300, 60), log("b", 1400, 1600, 60)
    tracks, said = merged(one, untimed, other)
    assert [track.track_id for track in tracks] == ["a+b", "u"]
    assert tracks[1] is untimed
    assert "u.csv|track 'u'|this track does not begin and end with a known time" in said


def test_fixes_without_time_in_the_middle_are_carried_where_nothing_overlaps() -> None:
    one = made([0.0, np.nan, 120.0], [0.0, 5.0, 9.0], name="a")
    joined = one_of(log("b", 180, 240, 60), one)
    assert np.isnat(joined.time_utc).tolist() == [False, True, False, False, False]
    assert joined.lon_deg[:3].tolist() == one.lon_deg.tolist()


def test_fixes_without_time_cannot_be_put_between_those_of_others() -> None:
    one = made([0.0, np.nan, 240.0], [0.0, 5.0, 9.0], name="a")
    other = log("b", 120, 360, 60)
    tracks, said = merged(other, one)
    assert tracks == [other, one]
    assert "track 'a'|this track has fixes without time and overlaps another track" in said


def test_a_track_of_another_vessel_is_not_thrown_away() -> None:
    """Two logs given as one vessel's, five nautical miles apart all the time: both are judged."""
    one, other = log("a", 0, 3600, 60), log("b", 30, 3600, 120, north_m=9260.0)
    tracks, said = merged(one, other)
    assert tracks == [one, other]
    assert "b.csv|track 'b'|30 of 30 fixes compared are more than 1852.0 m (1.000 nmi) from" in said


def test_a_few_wrong_positions_do_not_make_another_vessel() -> None:
    seconds = np.arange(30.0, 3600.0, 120.0)
    heard = made(seconds, TOW_MPS * seconds, np.where(np.arange(30) % 3 == 0, 9260.0, 0.0), name="b")
    (joined,), said = merged(log("a", 0, 3600, 60), heard)
    assert counts(joined) == {"other_source": 30}
    assert "of 30 fixes compared, 10 more than 30.0 m" in said


def test_two_fixes_elsewhere_are_too_few_to_make_another_vessel() -> None:
    (joined,), said = merged(log("a", 0, 3600, 60), log("b", 600, 1800, 1200, north_m=9260.0))
    assert counts(joined) == {"other_source": 2}
    assert "of 2 fixes compared, 2 more than" in said


# --- disagreement -----------------------------------------------------------------------------------


def test_sources_that_agree_within_their_errors_are_not_remarked_on() -> None:
    """Two errors of 15 m and 9 m of coarseness allow 39 m."""
    for north_m, remarks in ((38.0, 0), (40.0, 1)):
        _, said = merged(log("a", 0, 3600, 60), log("b", 90, 3000, 120, north_m=north_m, resolution_m=9.0))
        assert said.count("more than 39.0 m") == remarks


def test_a_disagreement_tells_count_distance_time_and_both_places() -> None:
    """The fix at 150 s stands 200 m north of a quarter of the way from 100 s to 300 s."""
    often = made([0.0, 100.0, 300.0, 400.0], [0.0, 100.0, 500.0, 600.0], name="often")
    seldom = made([50.0, 150.0, 350.0], [50.0, 200.0, 550.0], [3.0, 200.0, 60.0], name="seldom")
    _, said = merged(often, seldom)
    (line,) = [line for line in said.splitlines() if "compared" in line]
    assert line.startswith("seldom.csv|track 'seldom'|of 3 fixes compared, 2 more than 30.0 m (0.016 nmi)")
    assert "where 'often' has the vessel" in line
    assert "up to 200.0 m (0.108 nmi) at 2026-03-01 06:02:30 UTC" in line
    lon, lat = at([200.0, 200.0], [200.0, 0.0])
    minutes = [f"57°{(value - 57) * 60:06.3f}'N" for value in lat]
    assert f": {minutes[0]} " in line
    assert f" against {minutes[1]} " in line
    assert f"{-(lon[0] + 20) * 60:06.3f}'W" in line


def test_one_remark_for_each_pair_of_sources() -> None:
    """The lowest source is compared with both others, each where it covers."""
    a = log("a", 0, 600, 30)
    b = log("b", 0, 1800, 60)
    c = log("c", 15, 1800, 120, north_m=100.0)
    _, said = merged(c, b, a)
    assert [line.split("|")[1] for line in said.splitlines()[1:]] == ["track 'c'", "track 'c'"]
    assert "where 'a' has" in said
    assert "where 'b' has" in said


def test_nothing_is_compared_where_the_better_source_is_broken_or_silent() -> None:
    """The fix at 90 s lies on a break, that at 2000 s in a gap."""
    often = made([0.0, 60.0, 120.0, 180.0, 3000.0], 0.0, name="often", part=[0, 0, 1, 1, 1])
    seldom = made([90.0, 2000.0], [0.0, 0.0], 800.0, name="seldom")
    (joined,), said = merged(often, seldom)
    assert counts(joined) == {"other_source": 1}
    assert "compared" not in said


def test_sources_meet_without_break_and_are_compared_across_the_seam() -> None:
    """A third source between the last fix of one and the first of the next."""
    a, b = log("a", 0, 300, 30), log("b", 600, 900, 30)
    c = made([450.0, 5000.0], [TOW_MPS * 450.0, 0.0], 77.0, name="c")
    (joined,), said = merged(a, b, c)
    assert counts(joined) == {"other_source": 1}
    assert "of 1 fix compared, 1 more than 30.0 m (0.016 nmi) from where 'a' has the vessel" in said
    assert "up to 77.0 m" in said


def test_two_mergings_tell_the_same() -> None:
    sources = [log("a", 0, 3600, 60), log("b", 30, 5000, 120, north_m=50.0), log("c", 0, 9000, 900)]
    (one,), said = merged(*sources)
    (other,), said_again = merged(*sources)
    assert same(one, other)
    assert said == said_again
