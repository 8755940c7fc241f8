"""Malformed files are refused whole, with the file, the place and the value in one message."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from bad_inputs import BAD_INPUTS, SQUARE, BadInput, collection, feature, polygon, trk

from towzone.errors import InputError
from towzone.files.planned_lines import read_lines
from towzone.files.tracks import read_tracks
from towzone.files.vessels import read_vessel
from towzone.files.zones import read_zones


def refusal(path: str) -> str:
    readers = {".gpx": read_tracks, ".toml": read_vessel, ".plan": read_lines}
    read = readers.get(Path(path).suffix, read_zones)
    with pytest.raises(InputError) as caught:
        read(path)
    return str(caught.value)


@pytest.mark.parametrize("case", BAD_INPUTS, ids=lambda case: case.name)
def test_a_malformed_file_is_refused_with_file_place_and_value(case: BadInput, tmp_path: Path) -> None:
    path = tmp_path / case.filename
    path.write_bytes(case.data)
    message = refusal(str(path))
    for line in message.splitlines():
        assert line.startswith(f"{path}: ")
    for fragment in case.fragments:
        assert fragment in message


def test_the_table_covers_more_than_the_forty_that_are_promised() -> None:
    assert len({case.name for case in BAD_INPUTS}) == len(BAD_INPUTS) >= 45


def test_all_problems_of_one_file_are_told_together(tmp_path: Path) -> None:
    path = tmp_path / "many.gpx"
    path.write_bytes(trk("\n".join(f'<trkpt lat="x{n}" lon="0"/>' for n in range(15))))
    lines = refusal(str(path)).splitlines()
    assert len(lines) == 11
    assert "line 4: latitude 'x0'" in lines[0]
    assert "line 13: latitude 'x9'" in lines[9]
    assert lines[10].endswith("and 5 more problems")


def test_a_file_of_nothing_but_faults_is_given_up_after_a_thousand(tmp_path: Path) -> None:
    path = tmp_path / "hopeless.gpx"
    path.write_bytes(trk('<trkpt lat="x" lon="0"/>\n' * 5000))
    with pytest.raises(InputError) as caught:
        read_tracks(str(path))
    assert len(caught.value.problems) == 1001
    assert "stopped after 1000 problems" in caught.value.problems[-1].message


def test_text_from_a_file_cannot_write_control_characters_to_the_terminal(tmp_path: Path) -> None:
    path = tmp_path / "escape.geojson"
    path.write_bytes(collection(feature(polygon(SQUARE), name="\x1b[2Jgone", kind="\x1b]0;x\x07")))
    message = refusal(str(path))
    assert "\x1b" not in message
    assert "\\x1b" in message


@pytest.mark.parametrize(
    ("path", "fragment"),
    [
        ("http://127.0.0.1:9/zones.geojson", "network address"),
        ("s3://bucket/track.gpx", "network address"),
        ("/vsicurl/http/zones.fgb", "virtual path"),
        ("/VSIZIP/zones.zip/a.shp", "virtual path"),
        ("no such file.gpx", "no such file"),
        ("a\0b.gpx", "not a possible file name"),
    ],
)
def test_only_local_files_are_opened(path: str, fragment: str) -> None:
    assert fragment in refusal(path)


def test_a_folder_is_not_a_file(tmp_path: Path) -> None:
    assert "folder" in refusal(str(tmp_path))


def test_an_empty_standard_input_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"")))
    with pytest.raises(InputError, match=r"^-: the file is empty"):
        read_tracks("-")
