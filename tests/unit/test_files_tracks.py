"""What a file of positions is, told by its content: a table stays a table, a log a log in any encoding."""

from __future__ import annotations

from pathlib import Path

import pytest

from towzone.errors import InputError
from towzone.files.csv_tracks import is_table_of_fixes
from towzone.files.tracks import read_tracks

SENTENCE = "$GPRMC,040000.00,A,5136.00000,N,00700.00000,W,3.3,90,120526,,,A"
"""Invented; without its checksum."""
ROWS = [f"2026-05-12T04:0{minute}:00Z,50.{36 + minute},-9.2" for minute in range(4)]
TABLE = "\n".join(["time,lat,lon", *ROWS]) + "\n"


def with_checksum(sentence: str) -> str:
    """Return a sentence with its checksum: the exclusive or of what stands behind the $ (NMEA 0183)."""
    total = 0
    for byte in sentence[1:].encode():
        total ^= byte
    return f"{sentence}*{total:02X}"


def saved(folder: Path, data: bytes) -> str:
    path = folder / "a.dat"
    path.write_bytes(data)
    return str(path)


def test_a_sentence_in_a_remark_of_a_table_leaves_it_a_table(tmp_path: Path) -> None:
    """Read as a log, all rows but that of the remark would vanish, and the rest could seem clear."""
    rows = [f'{row},"{with_checksum(SENTENCE)}"' if row is ROWS[2] else f"{row}," for row in ROWS]
    read = read_tracks(saved(tmp_path, "\n".join(["time,lat,lon,note", *rows]).encode()))
    (track,) = read.tracks
    assert track.lat_deg.tolist() == [50.36, 50.37, 50.38, 50.39]
    assert read.input.form == "CSV"


def test_a_table_with_a_log_behind_it_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="line 6: the row has 13 cells, but the head names 3 columns"):
        read_tracks(saved(tmp_path, (TABLE + with_checksum(SENTENCE) + "\n").encode()))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be"])
def test_a_log_reads_the_same_in_every_encoding_with_a_mark(tmp_path: Path, encoding: str) -> None:
    mark = "\ufeff" if encoding == "utf-16-be" else ""
    other = SENTENCE.replace("040000", "040100").replace("5136", "5137")
    text = f"{mark}{with_checksum(SENTENCE)}\r\nÆ\r\n{with_checksum(other)}\r\n"
    (track,) = read_tracks(saved(tmp_path, text.encode(encoding))).tracks
    assert track.lat_deg.tolist() == pytest.approx([51.6, 51 + 37 / 60], abs=1e-12)
    assert track.line is not None
    assert track.line.tolist() == [1, 3]


def test_a_wide_log_that_is_cut_inside_a_letter_keeps_what_is_whole(tmp_path: Path) -> None:
    data = f"{with_checksum(SENTENCE)}\r\n{with_checksum(SENTENCE)}".encode("utf-16")[:-1]
    read = read_tracks(saved(tmp_path, data))
    assert [len(track.lat_deg) for track in read.tracks] == [1]
    assert any("cut off or broken" in remark.message for remark in read.remarks)


@pytest.mark.parametrize(
    ("start", "expected"),
    [
        (TABLE.encode(), True),
        (b"# by hand\n\nlat;lon\n", True),
        ("Latitude\tLongitude\r".encode("utf-16"), True),
        (b"time,lat,lon\n" + b"1,2,3\n" * 20_000 + b"\xff\xfe", True),
        (b"lat,depth\n", False),
        (with_checksum(SENTENCE).encode(), False),
        (b"\0\1\2", False),
        (b"", False),
    ],
)
def test_a_table_of_fixes_is_known_by_the_names_of_its_columns(start: bytes, *, expected: bool) -> None:
    assert is_table_of_fixes(start) is expected
