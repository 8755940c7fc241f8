"""``towzone zones``: streams, forms, exit codes and what is printed."""

from __future__ import annotations

import csv
import io
import shlex
import shutil

import jsonschema
import pytest
from bad_inputs import collection, feature
from cli_runner import BANK, RISE, ROOT, call, run
from zone_sets import PUBLISHED, area, as_json, box, written

CLEAN = area(box(0, 50), zone_id="A", name="Box A")


def zones(*arguments):
    return call("zones", *arguments)


def examples(name):
    text = zones(name, "--help").out.partition("Examples:")[2].partition("\n\n")[0]
    return [" ".join(line.split()) for line in text.strip().splitlines() if line.strip()]


# --- the group ------------------------------------------------------------------------------------


def test_help_of_the_group_names_its_commands():
    """And each has a line."""
    out = zones("--help").out

    for name in ("list", "lint", "compare", "convert", "schema"):
        assert f"\n  {name} " in out


@pytest.mark.parametrize("name", ["list", "lint", "compare", "schema"])
def test_help_tells_exit_codes_and_its_examples_run(name, tmp_path):
    """From the root of the repository."""
    assert "Exit codes:" in zones(name, "--help").out
    shutil.copytree(ROOT / "sample_zones", tmp_path / "sample_zones")
    lines = examples(name)
    assert lines
    for line in lines:
        words = shlex.split(line)
        assert words[:3] == ["towzone", "zones", name]
        ran = call(*words[1:], cwd=tmp_path)
        assert ran.code == 0, ran.err
        assert ran.out


def test_a_wrong_command_is_a_usage_error():
    """2, as everywhere."""
    assert zones("lists").code == 2
    assert zones("list").code == 2
    assert zones("lint", BANK, "--on", "tomorrow").code == 2


# --- lint -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("feature_", "code"),
    [
        (CLEAN, 0),
        (area(box(0, 50), source=""), 0),  # a note
        (area(PUBLISHED["Northern MAR"], edges=None), 4),  # a doubt
        (area(box(0, 50), margins="5m"), 1),  # misleads
        (area(PUBLISHED["Stanhope ground"]), 1),  # refused by the reader, yet linted
    ],
)
def test_exit_codes_of_lint(tmp_path, feature_, code):
    """Nothing or notes 0, doubts 4, what misleads or is refused 1; --exit-zero makes them 0."""
    path = written(tmp_path, feature_)

    assert zones("lint", path).code == code
    assert zones("lint", path, "--format", "json").code == code
    assert zones("lint", path, "--exit-zero").code == 0


@pytest.mark.parametrize("data", [b"", b"{", b"[]", b'{"type": "FeatureCollection", "features": []}'])
def test_what_is_no_zone_file_is_3(tmp_path, data):
    """Nothing can be said about it; --exit-zero does not hide that."""
    path = tmp_path / "zones.geojson"
    path.write_bytes(data)
    ran = zones("lint", path, "--exit-zero")

    assert (ran.code, ran.out) == (3, "")
    assert ran.err.startswith(f"error: {path}: ")


def test_lint_as_text(tmp_path):
    """Counts first, then feature by feature."""
    path = written(tmp_path, CLEAN, area(PUBLISHED["Stanhope ground"], name="Stanhope", source=""))
    ran = zones("lint", path)
    lines = ran.out.splitlines()

    assert ran.err == ""
    assert lines[0] == "1 refused, 0 misleading, 0 doubts, 0 notes in 2 features of 1 file."
    assert lines[2:4] == [path, "  feature 2 (zone 'Stanhope')"]
    assert lines[4].startswith("    refused   ring: edge 2-3 and edge 4-1 cross near 60°17.5")


def test_features_without_a_readable_shape_are_counted(tmp_path):
    """Refused they are, but they are there."""
    ran = zones(
        "lint", written(tmp_path, CLEAN, feature(None), feature({"type": "Point", "coordinates": [0, 99]}))
    )

    assert ran.out.startswith("2 refused, 0 misleading, 0 doubts, 0 notes in 3 features of 1 file.\n")


def test_lint_as_json(tmp_path):
    """Every defect with its place."""
    path = written(tmp_path, area(((0, 50), (1, 50), (1, 50), (1, 51)), zone_id="A", source=""))
    data = as_json(zones("lint", path, "--format", "json", "--on", "2026-05-12").out)

    assert (data["schema"], data["on"], data["features"]) == ("towzone.lint/1", "2026-05-12", 1)
    assert data["counts"] == {"refused": 0, "misleads": 0, "doubt": 0, "note": 2}
    assert data["inputs"][0]["file"] == path
    (source, repeated) = data["defects"]
    assert (source["code"], source["corner"], source["lat_deg"]) == ("no source", "", None)
    assert (repeated["code"], repeated["zone_id"], repeated["corner"]) == (
        "repeated corner",
        "A",
        "ring, corner 3",
    )
    assert (repeated["lat_deg"], repeated["lon_deg"]) == (50.0, 1.0)


def test_what_comes_often_is_counted_unless_asked_for(tmp_path):
    """Thirty zones without a source: twenty lines and a count, or all with -v."""
    path = written(tmp_path, *(area(box(2 * i, 50), zone_id=f"Z{i}", source="") for i in range(30)))

    assert zones("lint", path).out.count("no source stated") == 20
    assert zones("lint", path).out.endswith("\n... and 10 more: no source (-v lists them)\n")
    assert zones("lint", path, "-v").out.count("no source stated") == 30


def test_zones_of_several_files_are_compared_with_each_other(tmp_path):
    """A twin in another file is named with that file."""
    first = written(tmp_path, CLEAN, name="first.geojson")
    second = written(tmp_path, area(box(0, 50), zone_id="B"), name="second.geojson")
    ran = zones("lint", first, second)

    assert ran.code == 4
    assert "duplicate: the same corners as feature 1 (zone 'Box A') of" in ran.out


def test_a_change_of_datum_is_a_note_on_the_file(tmp_path):
    """ED50, named in the crs member of older GeoJSON."""
    path = tmp_path / "zones.geojson"
    path.write_bytes(collection(CLEAN, crs={"type": "name", "properties": {"name": "EPSG:4230"}}))
    ran = zones("lint", path)

    assert ran.code == 0
    assert ran.out.splitlines()[2:4] == [str(path), "  the whole file"]
    assert "converted to WGS 84" in ran.out


def test_names_cannot_forge_lines(tmp_path):
    """Line ends and escapes in names and sources are shown as codes."""
    evil = area(box(0, 50), zone_id="A\nno defects", name="B\n0 refused\x1b[2J", source="\u202e", kinds="x")
    path = written(tmp_path, evil)
    for ran in (
        zones("lint", path),
        zones("list", path),
        zones("compare", path, written(tmp_path, CLEAN, name="n.json")),
    ):
        assert not {"\x1b", "\u202e"} & set(ran.out)
        assert "\nno defects" not in ran.out
        assert "\n0 refused" not in ran.out


# --- list -----------------------------------------------------------------------------------------


def test_list_as_text(tmp_path):
    """What, where, when and who, in words of the trade."""
    season = [{"from": "--10-01", "to": "--01-31"}]
    path = written(tmp_path, area(box(-9, 43), zone_id="H", name="Hake", season=season, margin="0.25nmi"))
    out = zones("list", path, "--on", "2026-09-30").out

    assert out.startswith(
        "1 zone; on 2026-09-30: 0 in force, 0 for part of the day, 1 not in force.\n\nH  Hake\n"
    )
    for line in (
        "  what     closed_area, prohibits fishing",
        "  where    43°00.000'N 009°00.000'W to 44°00.000'N 008°00.000'W",
        "  margin   463.0 m (0.250 nmi)",
        "  rule     season 1 October to 31 January (UTC)",
        "  in force no, next change 2026-10-01T00:00:00Z",
        "  source   invented",
    ):
        assert f"\n{line}\n" in out
    assert "not for navigation" in " ".join(out.split())


def test_list_as_json_and_csv_say_the_same():
    """Zone by zone, column by column; nothing is said of a day that was not asked for."""
    data = as_json(zones("list", BANK, "--format", "json").out)
    rows = list(csv.DictReader(io.StringIO(zones("list", BANK, "--format", "csv").out)))

    assert data["schema"] == "towzone.zones/1"
    assert len(rows) == len(data["zones"]) == 5
    for row, zone in zip(rows, data["zones"], strict=True):
        assert set(row) == set(zone)
        assert (row["zone_id"], row["area_m2"] or None) == (
            zone["zone_id"],
            str(zone["area_m2"]) if zone["area_m2"] is not None else None,
        )
        assert zone["in_force"] is None


def test_list_across_180_degrees():
    """West lies east of east."""
    first = as_json(zones("list", RISE, "--format", "json").out)["zones"][0]

    assert first["west_deg"] > 0 > first["east_deg"]


def test_list_refuses_what_check_refuses(tmp_path):
    """A zone left out would be a false all-clear."""
    ran = zones("list", written(tmp_path, CLEAN, area(PUBLISHED["Stanhope ground"])))

    assert (ran.code, ran.out) == (3, "")


def test_remarks_go_to_standard_error_unless_quiet(tmp_path):
    """The result stands alone."""
    path = written(tmp_path, area(box(0, 50), margins="5m"))

    assert "'margins'" in zones("list", path).err
    assert zones("list", path, "-q").err == ""


def test_cells_are_no_formulas(tmp_path):
    """A spreadsheet must not run a name."""
    out = zones("list", written(tmp_path, area(box(0, 50), name="=1+1")), "--format", "csv").out

    assert "'=1+1" in out


# --- compare --------------------------------------------------------------------------------------


def test_exit_codes_of_compare(tmp_path):
    """0 the same, 1 different, 3 unreadable."""
    old = written(tmp_path, CLEAN, name="old.geojson")
    new = written(tmp_path, area(box(0, 50), zone_id="A", name="Box A", margin="5m"), name="new.geojson")

    assert zones("compare", old, old).code == 0
    assert zones("compare", old, new).code == 1
    assert zones("compare", old, new, "--exit-zero").code == 0
    assert zones("compare", old, tmp_path / "none.geojson").code == 3


def test_compare_as_text_and_json(tmp_path):
    """Moved corner, changed rule, new id, added and removed zones."""
    moved = (*box(0, 50)[:2], (1.001, 51.0), (0.0, 51.0))
    old = written(tmp_path, CLEAN, area(box(3, 50), zone_id="R", name="R"), name="old.geojson")
    new = written(
        tmp_path,
        area(moved, zone_id="A2", name="Box A", margin="5m"),
        area(box(6, 50), zone_id="N", name="N"),
        name="new.geojson",
    )
    out = zones("compare", old, new).out
    data = as_json(zones("compare", old, new, "--format", "json").out)

    assert out.splitlines() == [
        f"From {old} to {new}: 1 changed, 1 added, 1 removed, 0 the same.",
        "",
        "removed  R",
        "",
        "added    N",
        "",
        "changed  A2  Box A (matched by name, the id is new)",
        "  zone_id: 'A' -> 'A2'",
        "  margin: nothing -> '5 m'",
        "  ring, corner 3 moved 70.2 m (0.038 nmi): 51°00.000'N 001°00.000'E -> 51°00.000'N 001°00.060'E",
    ]
    assert (data["schema"], data["same"], data["unchanged"]) == ("towzone.changes/1", False, 0)
    assert [z["zone_id"] for z in data["removed"] + data["added"]] == ["R", "N"]
    (change,) = data["changed"]
    assert change["matched_by"] == "name"
    assert change["corners"][0]["moved_m"] == pytest.approx(70.2, rel=0, abs=0.05)


# --- output and schema ----------------------------------------------------------------------------


def test_results_go_to_files_that_are_not_replaced_unasked(tmp_path):
    """Same bytes as on standard output."""
    target = tmp_path / "out.json"
    wanted = zones("list", BANK, "--format", "json").out

    assert zones("list", BANK, "--format", "json", "-o", target).code == 0
    assert target.read_text(encoding="utf-8") == wanted
    assert zones("lint", BANK, "-o", target).code == 3
    assert target.read_text(encoding="utf-8") == wanted
    assert zones("lint", BANK, "-o", target, "--force").code == 0
    assert target.read_text(encoding="utf-8") != wanted


def test_the_schema_is_printed_whole():
    """And accepts a zone file."""
    schema = as_json(run("zones", "schema").out)

    jsonschema.Draft202012Validator(schema).validate(as_json(collection(CLEAN)))


def test_commands_work_as_a_program():
    """Through python -m, standard input included."""
    point = {"type": "Point", "coordinates": [1, 50]}
    data = collection(feature(point, kind="obstruction", source="invented", radius="50m"))
    ran = run("zones", "lint", "-", stdin=data)

    assert (ran.code, ran.err) == (0, "")
    assert ran.out == "0 refused, 0 misleading, 0 doubts, 0 notes in 1 feature of 1 file.\n"
