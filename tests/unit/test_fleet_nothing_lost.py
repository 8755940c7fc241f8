"""Audits in which something could be lost without a word: other spellings, files behind links, torn rows."""

from __future__ import annotations

import dataclasses

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from fleet_audits import (
    audit,
    checked,
    csv_text,
    damaged,
    fleet,
    json_rows,
    lines,
    rows_of,
    table,
    totals,
    write_csv,
    write_parquet,
    write_zones,
)

from towzone.files.table_folders import part_names
from towzone.tracks.identity import Chosen

COLUMNS = ("time_utc", "lat", "lon", "speed_kn")


@pytest.fixture
def place(tmp_path):
    write_zones(tmp_path / "zones.geojson")
    return tmp_path


def part(fixes, name, rows):
    """Some rows of a vessel, under another name."""
    return dataclasses.replace(fixes, vessel=name, **{c: getattr(fixes, c)[rows] for c in COLUMNS})


@pytest.mark.parametrize("write", [write_csv, write_parquet])
def test_who_is_asked_for_is_found_in_every_spelling(place, write):
    alder, briar = fleet()[:2]
    name = f"positions.{'csv' if write is write_csv else 'parquet'}"
    # The first rows alone are clear, the others are not.
    write(place / name, [part(alder, "Alder", slice(0, 20)), part(alder, "ALDER", slice(20, None)), briar])
    assert audit(name, "zones.geojson", "out", "--only", "alder", cwd=place).code == 1

    found = lines(place / "out")
    assert list(found) == ["Alder"]
    assert found["Alder"]["fixes_read"] == len(alder)
    rows, _ = checked(name, "zones.geojson", "--only", "al der", cwd=place)
    assert json_rows(place / "out", "Alder") == rows


def test_names_that_are_none_choose_nobody():
    chosen = Chosen(["Hazel Ann", " "])
    assert "HAZEL  ANN" in chosen
    assert "" not in chosen
    assert chosen.missing(["hazelann", ""]) == [" "]
    assert not Chosen([])


def test_nothing_in_a_folder_is_passed_over(place):
    vessels = fleet()
    (place / "in").mkdir()
    (place / "elsewhere").mkdir()
    write_csv(place / "in" / "_alder.csv", vessels[:1])
    write_csv(place / "elsewhere" / "briar.csv", vessels[1:2])
    (place / "in" / "more").symlink_to(place / "elsewhere")
    (place / "in" / "round").symlink_to(place / "in")
    (place / "in" / "gone.csv").symlink_to(place / "nowhere.csv")
    (place / "in" / "_SUCCESS").touch()
    (place / "in" / ".notes").write_text("not a track", encoding="utf-8")
    assert audit("in", "zones.geojson", "out", cwd=place).code == 1

    assert list(lines(place / "out")) == ["Alder", "Briar 2"]
    (unread,) = totals(place / "out")["unread"]
    assert unread["file"] == "in/gone.csv"


def test_notes_beside_the_parts_of_a_table_are_none_of_them(place):
    write_parquet(place / "table", fleet()[:2], parts=2)
    (place / "table" / "_metadata").write_bytes(b"PAR1PAR1")
    (place / "table" / "_written_by.txt").touch()
    assert part_names(place / "table") == ["part-0.parquet", "part-1.parquet"]
    assert audit("table", "zones.geojson", "out", cwd=place).code == 1
    assert not totals(place / "out")["unread"]


def test_a_row_of_nobody_known_leaves_no_vessel_of_its_table_clear(place):
    far = [dataclasses.replace(v, lat=v.lat + 20.0) for v in fleet()[:3]]
    (place / "positions.csv").write_text(csv_text(rows_of(far)) + "Elm,torn\n", encoding="utf-8")
    write_csv(place / "others.csv", [dataclasses.replace(fleet()[3], lat=fleet()[3].lat + 20.0)])
    assert audit(["positions.csv", "others.csv"], "zones.geojson", "out", cwd=place).code == 4

    outcomes = {name: line["outcome"] for name, line in lines(place / "out").items()}
    assert outcomes.pop("Dogrose") == "clear"
    assert set(outcomes.values()) == {"not_checked"}
    assert "not known whose they are" in totals(place / "out")["said"][0]


@pytest.mark.parametrize(
    "numbers",
    [
        np.full(3, 2**64 - 5, dtype=np.uint64),
        np.full(3, -(2**63), dtype=np.int64),
        # Times a million, this is 2026 again where whole numbers begin anew.
        np.full(3, (2**64 * 96 + 1_772_323_200_000_000) // 1_000_000, dtype=np.int64),
    ],
)
def test_numbers_too_large_for_times_are_refused(place, numbers):
    alder = table(rows_of(fleet()[:1])).slice(0, 3).drop_columns(["time_utc"])
    pq.write_table(alder.append_column("epoch_s", pa.array(numbers)), place / "positions.parquet")
    ran = audit("positions.parquet", "zones.geojson", "out", cwd=place)

    assert ran.code == 4
    assert "before 1980 or after 2099" in totals(place / "out")["unread"][0]["reason"]


def test_a_folder_does_not_say_whose_rows_are_where_the_table_says_it_itself(place):
    """The column of names is damaged: the rows need not be of the vessel its folder is called after."""
    alder, briar = (dataclasses.replace(v, lat=v.lat + 20.0) for v in fleet()[:2])
    for number, one in enumerate((alder, briar)):
        (place / "in" / f"vessel={one.vessel}").mkdir(parents=True)
        write_parquet(place / "in" / f"vessel={one.vessel}" / f"part-{number}.parquet", [one])
    path = place / "in" / "vessel=Alder" / "part-2.parquet"
    write_parquet(path, [briar])
    damaged(path, 0)
    damaged(path, 0, "vessel")
    assert audit("in", "zones.geojson", "out", cwd=place).code == 4

    assert totals(place / "out")["unread"][0]["vessels"] is None
    assert {line["outcome"] for line in lines(place / "out").values()} == {"not_checked"}


@pytest.mark.parametrize("write", [write_csv, write_parquet])
def test_what_does_not_say_whose_it_is_and_is_not_asked_for_is_told(place, write):
    form = "csv" if write is write_csv else "parquet"
    (place / "in").mkdir()
    vessels = fleet()
    write(place / "in" / f"named.{form}", vessels[:2])
    for name, one in (("harrier", vessels[2]), ("kestrel", vessels[3])):
        path = place / "in" / f"{name}.{form}"
        columns = {column: values for column, values in rows_of([one]).items() if column != "vessel"}
        if form == "csv":
            path.write_text(csv_text(columns), encoding="utf-8", newline="")
        else:
            pq.write_table(table(columns), path)
    asked = ("--only", "Alder", "--only", "harrier")
    ran = audit("in", "zones.geojson", "out", *asked, cwd=place)

    assert ran.code == 1, ran.err
    assert sorted(lines(place / "out")) == ["Alder", "harrier"]
    said = totals(place / "out")
    (note,) = (note for note in said["notes"] if "left aside" in note)
    assert note.startswith("1 input left aside, not saying whose they are")
    assert f"in/kestrel.{form}" in note
    assert note in ran.out
    assert "harrier" not in note
    assert not any("all of it was read" in one for one in said["remarks"])


def test_inputs_without_a_completed_track_are_refused(place):
    """Nothing is wrong with the command line: exit 3, not 2."""
    path = place / "planned.gpx"
    corners = '<rtept lat="54.0" lon="2.0"/><rtept lat="54.1" lon="2.3"/>'
    path.write_text(
        f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><rte>{corners}</rte></gpx>',
        encoding="utf-8",
    )
    ran = audit("planned.gpx", "zones.geojson", "out", cwd=place)

    assert ran.code == 3
    assert "planned.gpx: there is no completed track" in ran.err
    assert not (place / "out" / ".work").exists()
