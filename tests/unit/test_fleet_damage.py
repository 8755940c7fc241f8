"""What cannot be read is told, the rest is done, and no vessel it may be of is called clear."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from cli_runner import track_text
from fleet_audits import (
    NAMES,
    audit,
    checked,
    contents,
    csv_text,
    damaged,
    fleet,
    json_rows,
    lines,
    rows_of,
    table,
    tables,
    totals,
    vessel,
    write_csv,
    write_parquet,
    write_zones,
)

from towzone.fleet import checking, reading


@pytest.fixture
def place(tmp_path):
    write_zones(tmp_path / "zones.geojson")
    return tmp_path


def far_away(fixes):
    """The same vessel where no zone is."""
    return dataclasses.replace(fixes, lat=fixes.lat + 20.0)


def grouped(path, vessels):
    """One row group for each vessel."""
    with pq.ParquetWriter(path, table(rows_of(vessels[:1])).schema) as writer:
        for one in vessels:
            writer.write_table(table(rows_of([one])))
    return path


def test_a_damaged_row_group_marks_its_vessel_and_no_other(place):
    vessels = [far_away(v) for v in fleet()]
    path = grouped(place / "positions.parquet", vessels)
    damaged(path, 2)
    ran = audit(path, "zones.geojson", "out", cwd=place)

    assert ran.code == 4
    outcomes = {name: line["outcome"] for name, line in lines(place / "out").items()}
    assert outcomes.pop("Cedar") == "not_checked"
    assert set(outcomes.values()) == {"clear"}
    (unread,) = totals(place / "out")["unread"]
    assert unread["vessels"] == ["Cedar"]
    assert "positions.parquet" in unread["reason"]
    assert "could not be read" in totals(place / "out")["said"][0]


def test_a_damaged_row_group_of_which_not_even_the_vessels_can_be_read(place):
    vessels = [far_away(v) for v in fleet()]
    path = grouped(place / "positions.parquet", vessels)
    damaged(path, 2)
    damaged(path, 2, "vessel")
    ran = audit(path, "zones.geojson", "out", cwd=place)

    assert ran.code == 4
    assert "not known whose they are" in ran.out.splitlines()[0]
    assert totals(place / "out")["unread"][0]["vessels"] is None
    assert totals(place / "out")["outcome"] == "not_checked"


def test_a_vessel_with_findings_and_unread_positions_keeps_its_findings(place):
    vessels = fleet()
    path = grouped(place / "positions.parquet", [*vessels, dataclasses.replace(far_away(vessels[1]))])
    damaged(path, len(vessels))
    ran = audit(path, "zones.geojson", "out", cwd=place)

    assert ran.code == 1
    line = lines(place / "out")["Briar 2"]
    assert line["outcome"] == "finding"
    assert "cannot be read" in line["problem"]


def _cut_off(path, columns):
    pq.write_table(table(columns), path)
    path.write_bytes(path.read_bytes()[:-200])


def _without_latitudes(path, columns):
    pq.write_table(table(columns).drop(["lat"]), path)


def _without_rows(path, columns):
    pq.write_table(table(columns).slice(0, 0), path)


def _nothing(path, columns):
    del columns
    path.write_bytes(b"")


def _of_numbers(path, columns):
    numbers = pa.array(columns["time_utc"].astype(np.int64))
    pq.write_table(table(columns).drop(["time_utc"]).append_column("time", numbers), path)


def _in_another_system(path, columns):
    found = table(columns).drop(["lat", "lon"])
    points = pa.array([b"\x01\x01\x00\x00\x00" + bytes(16)] * len(found), type=pa.binary())
    told = {"version": "1.1.0", "primary_column": "geometry"}
    told["columns"] = {"geometry": {"encoding": "WKB", "geometry_types": ["Point"], "crs": None}}
    found = found.append_column("geometry", points).replace_schema_metadata({"geo": json.dumps(told)})
    pq.write_table(found, path)


@pytest.mark.parametrize(
    ("spoil", "word", "whose"),
    [
        (_cut_off, "damaged or cut off", None),
        (_without_latitudes, "no column for the latitude", ["Fir"]),
        (_without_rows, "holds no position", None),
        (_nothing, "the file is empty", None),
        (_of_numbers, "does not say what of", ["Fir"]),
        (_in_another_system, "unknown system", ["Fir"]),
    ],
)
def test_a_file_that_is_refused_beside_one_that_is_not(place, spoil, word, whose):
    (place / "in").mkdir()
    write_csv(place / "in" / "good.csv", [far_away(v) for v in fleet()[:3]])
    spoil(place / "in" / "bad.parquet", rows_of(fleet()[5:]))
    ran = audit("in", "zones.geojson", "out", cwd=place)

    assert ran.code == 4, ran.err
    (unread,) = totals(place / "out")["unread"]
    assert word in unread["reason"]
    assert "in/bad.parquet" in unread["reason"]
    assert unread["vessels"] == whose
    found = lines(place / "out")
    assert {found[name]["outcome"] for name in NAMES[:3]} == {"clear"}
    if whose:
        assert found["Fir"]["outcome"] == "not_checked"
    else:
        assert "not known whose they are" in ran.out.splitlines()[0]


def test_everything_refused_is_no_audit(place):
    (place / "bad.csv").write_text("a,b\n1,2\n", encoding="utf-8")
    ran = audit("bad.csv", "zones.geojson", "out", cwd=place)

    assert ran.code == 3
    assert "bad.csv" in ran.err
    assert not (place / "out" / "totals.json").exists()


def test_parts_whose_times_state_no_zone_among_parts_that_do(place):
    vessels = [far_away(v) for v in fleet()[:4]]
    folder = place / "positions"
    folder.mkdir()
    for number, one in enumerate(vessels):
        zone = None if number == 2 else ("Europe/Paris" if number == 1 else "UTC")
        found = table(rows_of([one]), zone=zone)
        found = found.rename_columns(["time" if name == "time_utc" else name for name in found.column_names])
        pq.write_table(found, folder / f"{number}.parquet")
    ran = audit("positions", "zones.geojson", "out", cwd=place)

    assert ran.code == 4, ran.err
    outcomes = {name: line["outcome"] for name, line in lines(place / "out").items()}
    assert outcomes == {"Alder": "clear", "Briar 2": "clear", "Cedar": "not_checked", "Dogrose": "clear"}
    assert "--track-tz" in totals(place / "out")["unread"][0]["reason"]

    assert audit("positions", "zones.geojson", "out2", "--track-tz", "UTC", cwd=place).code == 0
    assert lines(place / "out2")["Briar 2"]["start_utc"] == lines(place / "out2")["Cedar"]["start_utc"]


def test_a_faulty_row_of_csv_is_its_vessels_alone(place):
    text = csv_text(rows_of(fleet()))
    faulty = text.splitlines()
    row = next(number for number, line in enumerate(faulty) if line.startswith("Dogrose"))
    cells = faulty[row].split(",")
    cells[2] = "154.5"
    faulty[row] = ",".join(cells)
    (place / "positions.csv").write_text("\n".join(faulty) + "\n", encoding="utf-8")
    (place / "whole").mkdir()
    (place / "whole" / "positions.csv").write_text(text, encoding="utf-8")
    ran = audit("positions.csv", "zones.geojson", "out", cwd=place)

    assert ran.code == 1
    line = lines(place / "out")["Dogrose"]
    assert line["outcome"] == "not_checked"
    assert f"line {row + 1}" in line["problem"]
    for name in set(NAMES) - {"Dogrose"}:
        rows, _ = checked("whole/positions.csv", "zones.geojson", "--only", name, cwd=place)
        assert json_rows(place / "out", name) == rows
        # A check of such a vessel alone does not mind the rows of others either.
        assert checked("positions.csv", "zones.geojson", "--only", name, cwd=place)[0] == rows


def test_a_row_that_cannot_be_told_to_be_anyones_spoils_its_piece(place):
    text = csv_text(rows_of([far_away(v) for v in fleet()])) + 'Elm,"2026\n'
    (place / "positions.csv").write_text(text, encoding="utf-8")
    (place / "good.csv").write_text(csv_text(rows_of([far_away(vessel("Gorse", 9))])), encoding="utf-8")
    ran = audit(["positions.csv", "good.csv"], "zones.geojson", "out", cwd=place)

    assert ran.code == 4
    assert totals(place / "out")["unread"][0]["vessels"] is None
    assert lines(place / "out")["Gorse"]["outcome"] == "clear"


def test_rows_in_any_order_are_put_in_order(place):
    vessels = fleet()
    columns = rows_of(vessels)
    shuffled = np.random.default_rng(8).permutation(len(columns["lat"]))
    for name, order in (("sorted", np.arange(len(shuffled))), ("shuffled", shuffled)):
        (place / name).mkdir()
        found = {column: cells[order] for column, cells in columns.items()}
        pq.write_table(table(found), place / name / "positions.parquet", row_group_size=77)
    a, b = place / "a", place / "b"
    assert audit("sorted/positions.parquet", "zones.geojson", a, cwd=place).code == 1
    assert audit("shuffled/positions.parquet", "zones.geojson", b, cwd=place).code == 1

    assert contents(a)["rows/part-00000.parquet"] == contents(b)["rows/part-00000.parquet"]
    assert any("put in time order" in remark for remark in lines(b)["Alder"]["remarks"])


def test_a_vessel_with_one_fix(place):
    one = vessel("Alone", 1, fixes=1)
    write_csv(place / "positions.csv", [one, *fleet()[:1]])
    ran = audit("positions.csv", "zones.geojson", "out", cwd=place)

    assert ran.code == 1
    rows, _ = checked("positions.csv", "zones.geojson", "--only", "Alone", cwd=place)
    assert json_rows(place / "out", "Alone") == rows
    assert lines(place / "out")["Alone"]["fixes_read"] == 1


def test_a_vessel_without_a_usable_position(place):
    nowhere = dataclasses.replace(vessel("Nowhere", 1, fixes=5), lat=np.zeros(5), lon=np.zeros(5))
    write_parquet(place / "positions.parquet", [nowhere, far_away(fleet()[0])])
    ran = audit("positions.parquet", "zones.geojson", "out", cwd=place)

    assert ran.code == 4
    assert lines(place / "out")["Nowhere"]["outcome"] == "not_checked"
    assert lines(place / "out")["Alder"]["outcome"] == "clear"


HOSTILE = (
    "../../../evil",
    "a/b",
    "..",
    "line\nbreak",
    "{{7*7}}",
    "<script>alert(1)</script>",
    "=1+2",
    "long" * 5000,
    "x\x00y",
    "CON",
    "\u202eevil",
)


def test_hostile_names_are_names_and_nothing_else(place):
    (place / "deep" / "er").mkdir(parents=True)
    vessels = [vessel(name, number, fixes=60) for number, name in enumerate(HOSTILE)]
    write_parquet(place / "positions.parquet", vessels)
    before = {path for path in place.rglob("*") if path.is_file()}
    ran = audit("../../positions.parquet", "../../zones.geojson", "out", cwd=place / "deep" / "er")

    assert ran.code in (1, 4), ran.err
    out = place / "deep" / "er" / "out"
    assert sorted(lines(out)) == sorted(HOSTILE)
    assert {row["vessel"] for row in tables(out).to_pylist()} <= set(HOSTILE)
    after = {path for path in place.rglob("*") if path.is_file()} - before
    assert all(path.is_relative_to(out) for path in after)
    assert not any(name in path.name for path in after for name in ("evil", "alert", "long"))


def test_files_of_one_name_in_two_folders_are_two_vessels(place):
    for number, folder in enumerate(("a", "b")):
        (place / "in" / folder).mkdir(parents=True)
        one = vessel("", number)
        stamps = [f"{t}Z" for t in np.datetime_as_string(one.time_utc, unit="s")]
        text = track_text(zip(one.lon, one.lat, stamps, strict=True))
        (place / "in" / folder / "trip.gpx").write_text(text, encoding="utf-8")
    assert audit("in", "zones.geojson", "out", cwd=place).code == 1

    assert sorted(lines(place / "out")) == ["in/a/trip.gpx", "in/b/trip.gpx"]


def test_spellings_of_one_name_are_one_vessel(place):
    one = fleet()[0]
    halves = [
        dataclasses.replace(one, **{f: getattr(one, f)[rows] for f in ("time_utc", "lat", "lon", "speed_kn")})
        for rows in (slice(0, 75), slice(75, None))
    ]
    halves[1] = dataclasses.replace(halves[1], vessel="ALDER ")
    write_csv(place / "positions.csv", halves)
    assert audit("positions.csv", "zones.geojson", "out", cwd=place).code == 1

    line = lines(place / "out")["Alder"]
    assert line["spellings"] == ["Alder", "ALDER"]
    rows, _ = checked("positions.csv", "zones.geojson", "--only", "Alder", "--only", "ALDER", cwd=place)
    assert json_rows(place / "out", "Alder") == rows


def test_a_fault_of_our_own_stops_no_other_vessel(place, monkeypatch):
    write_csv(place / "positions.csv", [far_away(v) for v in fleet()[:3]])
    ordinary = checking.run_check

    def failing(tracks, *more, **how):
        if tracks[0].vessel == "Briar 2":
            message = "made to fail"
            raise ZeroDivisionError(message)
        return ordinary(tracks, *more, **how)

    monkeypatch.setattr(checking, "run_check", failing)
    ran = audit("positions.csv", "zones.geojson", "out", cwd=place)

    assert ran.code == 70
    found = lines(place / "out")
    assert found["Briar 2"]["outcome"] == "fault"
    assert "ZeroDivisionError" in found["Briar 2"]["problem"]
    assert found["Alder"]["outcome"] == found["Cedar"]["outcome"] == "clear"


def test_a_fault_of_our_own_in_reading_is_told_as_one(place, monkeypatch):
    write_csv(place / "positions.csv", [far_away(v) for v in fleet()[:2]])
    write_csv(place / "other.csv", [far_away(fleet()[2])])
    ordinary = reading.read_csv_part

    def failing(text, *more, file, **how):
        if file == "other.csv":
            raise ZeroDivisionError
        return ordinary(text, *more, file=file, **how)

    monkeypatch.setattr(reading, "read_csv_part", failing)
    ran = audit(["positions.csv", "other.csv"], "zones.geojson", "out", cwd=place)

    assert ran.code == 70
    assert "ZeroDivisionError" in totals(place / "out")["unread"][0]["reason"]
    assert lines(place / "out")["Alder"]["outcome"] == "clear"


def test_a_vessel_too_large_for_a_worker_is_told_and_not_tried(place, monkeypatch):
    write_csv(place / "positions.csv", [far_away(v) for v in fleet()[:2]])
    monkeypatch.setattr(checking, "needed_bytes", lambda fixes: fixes * 2**40)
    ran = audit("positions.csv", "zones.geojson", "out", cwd=place)

    assert ran.code == 4
    assert "--memory" in lines(place / "out")["Alder"]["problem"]


def test_a_folder_with_other_files_is_left_alone(place):
    write_csv(place / "positions.csv", fleet()[:1])
    (place / "out" / "rows").mkdir(parents=True)
    (place / "out" / "rows" / "mine.txt").write_text("mine", encoding="utf-8")
    for more in ((), ("--force",)):
        ran = audit("positions.csv", "zones.geojson", "out", *more, cwd=place)
        assert ran.code == 3
        assert (place / "out" / "rows" / "mine.txt").read_text(encoding="utf-8") == "mine"


def test_a_result_may_not_lie_among_the_positions(place):
    (place / "in").mkdir()
    write_csv(place / "in" / "positions.csv", fleet()[:1])
    assert audit("in", "zones.geojson", "in/out", cwd=place).code == 3
    assert audit("in", "zones.geojson", "in", cwd=place).code == 3


def test_thousands_of_faulty_rows_of_one_vessel_take_no_other_of_the_table_with_them(place):
    sound = fleet(NAMES[:2])
    many = vessel("Cedar", 2, fixes=1_500)
    broken = dataclasses.replace(many, lat=np.full(len(many), 95.0))
    (place / "sound").mkdir()
    write_csv(place / "positions.csv", [sound[0], broken, sound[1]])
    write_csv(place / "sound" / "positions.csv", sound)
    ran = audit("positions.csv", "zones.geojson", "out", cwd=place)
    audit("sound/positions.csv", "zones.geojson", "whole", cwd=place)

    found = lines(place / "out")
    assert found["Cedar"]["outcome"] == "not_checked"
    assert "latitude '95.0'" in found["Cedar"]["problem"]
    for name in NAMES[:2]:
        assert json_rows(place / "out", name)
        assert json_rows(place / "out", name) == json_rows(place / "whole", name)
    assert "3 vessels: 2 with findings, 1 not checked, 0 undetermined, 0 clear." in ran.out


@pytest.mark.parametrize("write", [write_csv, write_parquet])
def test_a_name_that_is_in_no_input_is_told_with_those_that_are(place, write):
    write(place / "positions", fleet())
    ran = audit("positions", "zones.geojson", "out", "--only", "Aldr", cwd=place)

    assert ran.code == 3
    assert "there is no vessel 'Aldr' in these inputs (--only); there are 'Alder', 'Briar 2'," in ran.err
    assert "perhaps more" not in ran.err


def test_a_result_stays_where_one_that_was_to_replace_it_is_refused(place):
    write_csv(place / "positions.csv", fleet()[:1])
    assert audit("positions.csv", "zones.geojson", "out", cwd=place).code in (0, 1, 4)
    before = {file: file.read_bytes() for file in (place / "out").rglob("*") if file.is_file()}
    refused = audit("positions.csv", "zones.geojson", "out", "--force", "--only", "Nobody", cwd=place)
    assert refused.code == 3
    assert {file: file.read_bytes() for file in (place / "out").rglob("*") if file.is_file()} == before
    again = audit("positions.csv", "zones.geojson", "out", "--force", cwd=place)
    assert again.code in (0, 1, 4)
    assert not (place / "out" / ".work").exists()
