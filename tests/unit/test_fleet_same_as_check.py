"""The rows of an audit are those of a check, byte for byte, whatever the form and parts of the positions."""

from __future__ import annotations

import gzip

import pytest
from cli_runner import BANK, PLOVER, RISE, ROOT, TRIP
from fleet_audits import (
    NAMES,
    audit,
    checked,
    contents,
    csv_rows,
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


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A folder with one fleet in every form, and zones."""
    folder = tmp_path_factory.mktemp("fleet")
    write_zones(folder / "zones.geojson")
    vessels = fleet()
    write_parquet(folder / "positions.parquet", vessels)
    write_csv(folder / "positions.csv", vessels)
    (folder / "packed").mkdir()
    packed = gzip.compress((folder / "positions.csv").read_bytes(), mtime=0)
    (folder / "packed" / "positions.csv.gz").write_bytes(packed)
    for parts in (2, 4):
        (folder / str(parts)).mkdir()
        write_parquet(folder / str(parts) / "positions", vessels, parts=parts)
    return folder


@pytest.fixture(scope="module")
def expected(place):
    return {name: checked("positions.parquet", "zones.geojson", "--only", name, cwd=place) for name in NAMES}


FORMS = ("positions.parquet", "positions.csv", "packed/positions.csv.gz", "2/positions", "4/positions")


@pytest.mark.parametrize("form", FORMS)
def test_every_form_gives_the_rows_of_a_check(place, expected, form):
    out = place / f"out-{FORMS.index(form)}"
    ran = audit(form, "zones.geojson", out, cwd=place)

    assert ran.code == 1, ran.err
    assert sorted(lines(out)) == sorted(NAMES)
    for name in NAMES:
        rows, text = expected[name]
        assert rows
        assert json_rows(out, name) == rows
        assert csv_rows(out, name) == text


@pytest.mark.parametrize("form", FORMS)
def test_a_check_reads_the_same_form_too(place, expected, form):
    rows, text = checked(form, "zones.geojson", "--only", "Cedar", cwd=place)

    assert (rows, text) == expected["Cedar"]


def test_parts_and_pieces_leave_no_trace(place):
    """Rows, tows and gaps are the same bytes from one file, two parts and four."""
    results = []
    for form in ("positions.parquet", "2/positions", "4/positions"):
        out = place / f"traceless-{form.replace('/', '-')}"
        assert audit(form, "zones.geojson", out, cwd=place).code == 1
        results.append(contents(out))

    for name in ("rows/part-00000.parquet", "tows/part-00000.parquet", "gaps/part-00000.parquet"):
        assert results[0][name] == results[1][name] == results[2][name]


def test_samples_in_a_folder_of_tracks(tmp_path):
    """A vessel of a file that names none is that file."""
    out = tmp_path / "out"
    ran = audit([TRIP, PLOVER], BANK, out, "--zones", RISE, cwd=ROOT)

    assert ran.code in (1, 4), ran.err
    for file in (TRIP, PLOVER):
        name = file.rpartition("/")[2].removesuffix(".gpx")
        rows, text = checked(file, BANK, "--zones", RISE, cwd=ROOT)
        assert rows
        assert json_rows(out, name) == rows
        assert csv_rows(out, name) == text
        assert lines(out)[name]["known_by"] == "file"
    assert any("name of a file" in said for said in totals(out)["notes"])


def test_settings_and_profiles_are_those_of_a_check(place, tmp_path):
    profile = ROOT / "sample_tracks" / "greywether_vessel.toml"
    folder = tmp_path / "profiles"
    folder.mkdir()
    (folder / "briar 2.toml").write_bytes(profile.read_bytes())
    options = ("--margin", "0.5nmi", "--gap", "30min", "--reach", "3nmi", "--edges", "rhumb")
    out = tmp_path / "out"
    ran = audit("positions.parquet", "zones.geojson", out, *options, "--profiles", folder, cwd=place)

    assert ran.code == 1, ran.err
    for name, more in (("Briar 2", ("--vessel", profile)), ("Cedar", ())):
        rows, text = checked("positions.parquet", "zones.geojson", "--only", name, *options, *more, cwd=place)
        assert json_rows(out, name) == rows
        assert csv_rows(out, name) == text
    assert any(row["part"] == "gear" for row in json_rows(out, "Briar 2"))
    assert lines(out)["Briar 2"]["profile"] == str(folder / "briar 2.toml")
    assert lines(out)["Cedar"]["profile"] == ""


def test_one_vessel_over_several_files_is_joined_as_a_check_joins_them(tmp_path):
    write_zones(tmp_path / "zones.geojson")
    one, two = fleet(NAMES[:2])
    halves = [[_part(v, slice(0, 90)) for v in (one, two)], [_part(v, slice(60, None)) for v in (one, two)]]
    (tmp_path / "in").mkdir()
    write_csv(tmp_path / "in" / "a.csv", halves[0])
    write_parquet(tmp_path / "in" / "b.parquet", halves[1])
    ran = audit("in", "zones.geojson", "out", cwd=tmp_path)

    assert ran.code == 1, ran.err
    for name in NAMES[:2]:
        rows, text = checked(["in/a.csv", "in/b.parquet"], "zones.geojson", "--only", name, cwd=tmp_path)
        assert json_rows(tmp_path / "out", name) == rows
        assert csv_rows(tmp_path / "out", name) == text
        assert lines(tmp_path / "out")[name]["files"] == ["in/a.csv", "in/b.parquet"]


def _part(fixes, rows):
    import dataclasses

    columns = {
        field.name: getattr(fixes, field.name)[rows]
        for field in dataclasses.fields(fixes)
        if field.name != "vessel"
    }
    return dataclasses.replace(fixes, **columns)


def test_folders_that_name_the_vessel(tmp_path):
    import pyarrow.parquet as pq

    write_zones(tmp_path / "zones.geojson")
    vessels = fleet(NAMES[:3])
    for one in vessels:
        folder = tmp_path / "positions" / f"vessel={one.vessel.replace(' ', '%20')}"
        folder.mkdir(parents=True)
        pq.write_table(table(rows_of([one])).drop(["vessel"]), folder / "part-0.parquet")
    write_parquet(tmp_path / "positions.parquet", vessels)
    assert audit("positions", "zones.geojson", "out", cwd=tmp_path).code == 1

    for name in NAMES[:3]:
        rows, _ = checked("positions.parquet", "zones.geojson", "--only", name, cwd=tmp_path)
        assert json_rows(tmp_path / "out", name) == rows
        assert checked("positions", "zones.geojson", "--only", name, cwd=tmp_path)[0] == rows


def test_only_those_asked_for(place, tmp_path):
    out = tmp_path / "out"
    assert (
        audit("positions.csv", "zones.geojson", out, "--only", "Elm", "--only", "Alder", cwd=place).code == 1
    )
    assert sorted(lines(out)) == ["Alder", "Elm"]

    ran = audit("positions.csv", "zones.geojson", tmp_path / "none", "--only", "Nobody", cwd=place)
    assert ran.code == 3
    assert "Nobody" in ran.err


def test_a_vessel_known_by_its_file_has_its_profile_and_a_profile_of_nobody_is_told(tmp_path):
    folder = tmp_path / "profiles"
    folder.mkdir()
    profile = (ROOT / "sample_tracks/greywether_vessel.toml").read_text(encoding="utf-8")
    (folder / "Greywether_Corner.toml").write_text(profile, encoding="utf-8")
    track, zones = ROOT / "sample_tracks/greywether_corner.gpx", ROOT / "sample_zones/greywether_bank.geojson"
    ran = audit(track, zones, tmp_path / "own", "--profiles", folder, cwd=tmp_path)
    rows, _ = checked(track, zones, "--vessel", folder / "Greywether_Corner.toml", cwd=tmp_path)

    assert ran.code == 1, ran.err
    assert json_rows(tmp_path / "own", "greywether_corner") == rows
    assert "not used" not in ran.out
    assert "the gear was not checked" not in ran.out

    (folder / "Greywether_Corner.toml").rename(folder / "Greywether Corner.toml")
    ran = audit(track, zones, tmp_path / "none", "--profiles", folder, cwd=tmp_path)
    assert "1 profile not used" in ran.out
    assert "Greywether Corner.toml" in ran.out
    assert "Of 1 vessel the gear was not checked" in ran.out
