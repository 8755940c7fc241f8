"""Files cut into small pieces give the very result of files that are not cut."""

from __future__ import annotations

import csv
import gzip
import io
import itertools
from unittest import mock

import numpy as np
import pytest
from fleet_audits import audit, contents, csv_text, fleet, lines, rows_of, totals, write_parquet, write_zones

from towzone.fleet import pieces, preparing
from towzone.fleet.pieces import Lines, PieceSizes, stretches, survey
from towzone.fleet.sources import find_sources

SMALL = PieceSizes(rows=60, text_bytes=900, whole_bytes=1 << 30)


def small(*arguments, **how):
    with (
        mock.patch.object(preparing, "sizes_for", return_value=SMALL),
        mock.patch.object(pieces, "_SCAN_BYTES", 333),
    ):
        return audit(*arguments, **how)


def quoted(text, end):
    """The same table with quotes, line ends in a cell that is not read, and another line end."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator=end)
    for number, row in enumerate(csv.reader(io.StringIO(text))):
        writer.writerow([*row, 'say "what"\nnot, read' if number else "note"])
    return out.getvalue()


def figures(columns):
    """The same table with dates in figures, of which only the last can be read one way."""
    days = [t.item() for t in columns["time_utc"]]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["vessel", "time_utc", "lat", "lon"])
    for row, day in enumerate(days):
        moved = day.replace(day=25) if row == len(days) - 1 else day
        cells = [columns[name][row] for name in ("vessel", "lat", "lon")]
        writer.writerow([cells[0], f"{moved:%d/%m/%Y %H:%M:%S}", *cells[1:]])
    return out.getvalue()


COLUMNS = rows_of(fleet())
TEXTS = {
    "plain": csv_text(COLUMNS),
    "crlf": csv_text(COLUMNS).replace("\n", "\r\n"),
    "cr": csv_text(COLUMNS).replace("\n", "\r"),
    "quoted": quoted(csv_text(COLUMNS), "\r\n"),
    "figures": figures(COLUMNS),
    "head as a comment": "#" + csv_text(COLUMNS),
    "blank lines": "\n\n" + csv_text(COLUMNS).replace("\n", "\n\n"),
    "byte order mark": "\ufeff" + csv_text(COLUMNS),
}


@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize("form", TEXTS)
def test_text_in_pieces_is_the_text_as_a_whole(tmp_path, form, packed):
    write_zones(tmp_path / "zones.geojson")
    data = TEXTS[form].encode()
    name = "positions.csv.gz" if packed else "positions.csv"
    (tmp_path / name).write_bytes(gzip.compress(data, mtime=0) if packed else data)
    assert audit(name, "zones.geojson", "whole", cwd=tmp_path).code == 1
    ran = small(name, "zones.geojson", "pieces", cwd=tmp_path)

    assert ran.code == 1, ran.err
    whole, cut = contents(tmp_path / "whole"), contents(tmp_path / "pieces")
    for part in ("rows/part-00000.parquet", "tows/part-00000.parquet", "gaps/part-00000.parquet"):
        assert cut[part] == whole[part]
    assert lines(tmp_path / "pieces") == lines(tmp_path / "whole")
    assert totals(tmp_path / "pieces")["unread"] == []


@pytest.mark.parametrize("scanned", [333, 1 << 22])
@pytest.mark.parametrize("form", sorted(set(TEXTS) - {"cr"}))
def test_text_is_cut_into_many_pieces_that_know_their_lines(tmp_path, monkeypatch, form, scanned):
    monkeypatch.setattr(pieces, "_SCAN_BYTES", scanned)
    path = tmp_path / "positions.csv"
    path.write_bytes(TEXTS[form].encode())
    (file,) = find_sources([str(path)])
    found = survey(file, SMALL).pieces

    assert len(found) > 5
    text = path.read_bytes()
    assert found[-1].end == len(text)
    for one, other in itertools.pairwise(found):
        assert one.end == other.begin
        counter = Lines()
        counter.take(text[: other.begin])
        assert other.first_line == counter.ends + 1


def test_pieces_of_binary_tables(tmp_path):
    write_zones(tmp_path / "zones.geojson")
    for name, group in (("whole", 10_000), ("groups", 40), ("slices", 10_000)):
        (tmp_path / name).mkdir()
        write_parquet(tmp_path / name / "positions.parquet", fleet(), group=group)
    assert audit("whole/positions.parquet", "zones.geojson", "a", cwd=tmp_path).code == 1
    assert small("groups/positions.parquet", "zones.geojson", "b", cwd=tmp_path).code == 1
    assert small("slices/positions.parquet", "zones.geojson", "c", cwd=tmp_path).code == 1

    expected = contents(tmp_path / "a")["rows/part-00000.parquet"]
    assert contents(tmp_path / "b")["rows/part-00000.parquet"] == expected
    assert contents(tmp_path / "c")["rows/part-00000.parquet"] == expected


def test_dates_that_no_piece_settles_are_asked_about(tmp_path):
    write_zones(tmp_path / "zones.geojson")
    text = TEXTS["figures"].replace("25/03", "02/03")
    (tmp_path / "positions.csv").write_text(text, encoding="utf-8")
    ran = small("positions.csv", "zones.geojson", "out", cwd=tmp_path)
    assert ran.code == 3
    assert "--date-order" in ran.err

    assert small("positions.csv", "zones.geojson", "out", "--date-order", "dmy", cwd=tmp_path).code == 1


def test_pieces_that_contradict_each_other_refuse_their_file(tmp_path):
    write_zones(tmp_path / "zones.geojson")
    rows = TEXTS["figures"].splitlines()
    rows[1] = rows[1].replace("01/03/2026", "03/25/2026")
    (tmp_path / "positions.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (tmp_path / "good.csv").write_text(csv_text(rows_of(fleet(("Gorse",)))), encoding="utf-8")
    ran = small(["positions.csv", "good.csv"], "zones.geojson", "out", cwd=tmp_path)

    assert ran.code == 1
    assert "one order" in totals(tmp_path / "out")["unread"][0]["reason"]
    assert lines(tmp_path / "out")["Gorse"]["outcome"] == "finding"
    others = [line for name, line in lines(tmp_path / "out").items() if name != "Gorse"]
    assert {line["outcome"] for line in others} <= {"not_checked"}


@pytest.mark.parametrize("size", [1, 7, 64, 1 << 20])
def test_stretches_lose_nothing_and_end_behind_rows(size):
    text = TEXTS["quoted"].encode()
    rng = np.random.default_rng(8)
    cuts = [0, *sorted(rng.integers(0, len(text), 50).tolist()), len(text)]
    chunks = [text[a:b] for a, b in itertools.pairwise(cuts)]
    found = list(stretches(chunks, size))

    assert b"".join(part for part, _ in found) == text
    at = 0
    for part, before in found:
        counter = Lines()
        counter.take(text[:at])
        assert before == counter.ends
        assert text[:at].count(b'"') % 2 == 0
        at += len(part)
