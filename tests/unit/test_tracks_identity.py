"""Tracks are put together when they are one vessel's, by what their sources say."""

from __future__ import annotations

import pytest
from track_makers import counts, log, merged, one_of


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("", ""),
        ("", "219000001"),
        ("Invented One", "219000001"),
        ("Invented One", "INVENTED  one "),
        (" 219000001", "219000001"),
        ("219000001", "12345678"),
    ],
)
def test_files_are_one_vessels_unless_they_say_otherwise(one: str, other: str) -> None:
    assert len(one_of(log("a", 0, 60, 60, vessel=one), log("b", 90, 150, 60, vessel=other))) == 4


@pytest.mark.parametrize(
    ("one", "other"), [("219000001", "219000002"), ("Invented One", "Invented Two"), ("12345678", "1234567")]
)
def test_two_identities_of_one_sort_are_two_vessels(one: str, other: str) -> None:
    tracks = [log("a", 0, 60, 60, vessel=one), log("b", 90, 150, 60, vessel=other)]
    result, said = merged(*tracks)
    assert result == tracks
    assert said.count("\n") == 0
    assert "not all one vessel's (2 of them named)" in said


def test_once_there_are_two_vessels_only_equal_identities_are_put_together() -> None:
    tracks = [
        log("a", 0, 60, 60, vessel="219000001"),
        log("b", 90, 150, 60),
        log("c", 180, 240, 60, vessel="219000002"),
        log("d", 270, 330, 60, vessel="219000001"),
    ]
    result, said = merged(*tracks)
    assert [track.track_id for track in result] == ["a+d", "b", "c"]
    assert "'b' does not say whose it is and is judged apart" in said


def test_a_file_of_several_vessels_makes_others_join_by_identity_only() -> None:
    fleet = [log(f"f/{n}", 0, 60, 60, source="f.csv", vessel=f"21900000{n}") for n in (1, 2)]
    own = log("own", 90, 150, 60, vessel="219000002")
    nobody = log("x", 200, 260, 60)
    assert [track.track_id for track in merged(*fleet, own, nobody)[0]] == ["f/1", "f/2+own", "x"]


def test_a_file_of_several_vessels_alone_needs_no_word() -> None:
    fleet = [log(f"f/{n}", 0, 60, 60, source="f.csv", vessel=f"21900000{n}") for n in (1, 2)]
    assert merged(*fleet) == (fleet, "")


def test_parts_that_a_reader_held_apart_are_not_put_together_again() -> None:
    """Nameless tracks of one file that overlap: its reader could not make one path of them."""
    two = [log(f"t/{n}", 0, 600, 60, source="t.gpx", north_m=n) for n in (1, 2)]
    assert merged(*two) == (two, "")
    tracks, said = merged(*two, log("c", 700, 760, 60))
    assert [track.track_id for track in tracks] == ["t/1", "t/2", "c"]
    assert "'t/1', 't/2', 'c' do not say whose they are and are judged apart" in said


def test_the_identity_is_that_of_the_first_source_that_tells_one() -> None:
    joined = one_of(log("a", 0, 600, 60), log("b", 30, 630, 120, vessel="219000001"))
    assert joined.vessel == "219000001"


def test_one_file_twice_is_one_track() -> None:
    track = log("a", 0, 600, 60)
    joined = one_of(track, track)
    assert (joined.track_id, joined.source, counts(joined)) == ("a", "a.csv", {"duplicate": 11})
    assert joined.lon_deg.tolist() == track.lon_deg.tolist()


def test_ids_are_unique() -> None:
    tracks = [log("a", 0, 60, 60, source=f"{n}.csv", vessel=f"21900000{n}") for n in (1, 2)]
    assert [track.track_id for track in merged(*tracks)[0]] == ["a", "a (2)"]
