"""Bad input and bad quantities: one clear message, nothing printed, nothing written."""

from __future__ import annotations

import pytest
from bad_inputs import BAD_INPUTS, BadInput
from cli_runner import BANK, PLAN, ROOT, call, run, written

FOLDER_OF_COMPANIONS = {"alone.shp"}


VESSEL = "sample_tracks/greywether_vessel.toml"
DEPART = ("--depart", "2026-05-11T06:00Z")


@pytest.mark.parametrize("case", BAD_INPUTS, ids=lambda case: case.name)
def test_a_malformed_file_ends_in_exit_3_with_one_message_and_no_output(case: BadInput, tmp_path):
    (tmp_path / case.filename).write_bytes(case.data)
    command, read = "check", [ROOT / PLAN, "--zones", ROOT / BANK]
    if case.filename.endswith(".plan"):
        command, read = "plan", [case.filename, *read[1:], "--vessel", ROOT / VESSEL, *DEPART]
    elif case.filename.endswith(".gpx"):
        read[0] = case.filename
    elif case.filename.endswith(".toml"):
        read += ["--vessel", case.filename]
    else:
        read[2] = case.filename
    ran = call(
        command,
        *read,
        "--record",
        "r.html",
        "-o",
        "r.json",
        "--format",
        "json",
        cwd=tmp_path,
    )
    assert (ran.code, ran.out) == (3, "")
    lines = ran.err.strip().splitlines()
    assert lines[0].startswith(f"error: {case.filename}: ")
    assert all(case.filename in line for line in lines)
    assert "Traceback" not in ran.err
    for fragment in case.fragments:
        assert fragment in ran.err
    assert written(tmp_path) == [case.filename]


def test_the_table_of_malformed_inputs_has_the_forty_that_are_promised():
    assert len(BAD_INPUTS) >= 40


@pytest.mark.parametrize("case", BAD_INPUTS[:3] + BAD_INPUTS[-3:], ids=lambda case: case.name)
def test_and_so_it_does_in_a_process_of_its_own(case: BadInput, tmp_path):
    (tmp_path / case.filename).write_bytes(case.data)
    plans = case.filename.endswith(".plan")
    track, zones = (
        (case.filename, ROOT / BANK)
        if plans or case.filename.endswith(".gpx")
        else (ROOT / PLAN, case.filename)
    )
    more = ("--vessel", ROOT / VESSEL, *DEPART) if plans else ()
    ran = run(
        "plan" if plans else "check", track, "--zones", zones, *more, "--record", "r.html", cwd=tmp_path
    )
    assert (ran.code, ran.out) == (3, "")
    assert ran.err.startswith("error: ")
    assert written(tmp_path) == [case.filename]


LENGTHS = ("--margin", "--position-error", "--reach")
QUANTITIES = [
    *((option, text, hint) for option in LENGTHS for text, hint in [
        ("5", "no unit"),
        ("5M", "nmi"),
        ("5nm", "nmi"),
        ("-5m", "zero or more"),
        ("-0m", "zero or more"),
        ("nanm", "not a length"),
        ("infm", "not a length"),
        ("1e999m", "finite"),
        ("1e308km", "finite"),
        ("five m", "not a length"),
        ("5 m 5", "not a length"),
        ("", "not a length"),
        ("5fm", "ftm"),
        ("5mi", "nmi"),
        ("5kn", "unit"),
        ("٥m", "not a length"),
    ]),
    ("--gap", "15", "no unit"),
    ("--gap", "15m", "min"),
    ("--gap", "1e308d", "finite"),
    ("--max-speed", "12", "no unit"),
    ("--max-speed", "12kt", "kn"),
    ("--max-speed", "12knots", "kn"),
    ("--max-speed", "-1kn", "zero or more"),
]  # fmt: skip


@pytest.mark.parametrize(("option", "text", "hint"), QUANTITIES, ids=lambda value: repr(value))
def test_a_quantity_without_a_clear_unit_is_refused_with_a_hint(option, text, hint):
    ran = call("check", PLAN, "--zones", BANK, f"{option}={text}")
    assert (ran.code, ran.out) == (2, "")
    assert option in ran.err
    assert hint in ran.err


@pytest.mark.parametrize("text", ["463m", "0.463km", "0.25nmi", "0.25NM", " 0.25 nmi "])
def test_the_same_length_in_any_unit_is_the_same_margin(text):
    rows = call("check", PLAN, "--zones", BANK, "--margin", text, "--format", "json").data["rows"]
    assert {row["margin_m"] for row in rows} == {463.0}


@pytest.mark.parametrize("quantity", ["1e300m", "1e12m"])
@pytest.mark.filterwarnings("error")
def test_a_margin_larger_than_the_earth_is_answered_or_refused_without_a_crash(quantity):
    ran = run("check", PLAN, "--zones", BANK, "--margin", quantity)
    assert ran.code in (1, 2)
    assert "Warning" not in ran.err


def test_a_schedule_that_does_not_fit_the_calendar_is_refused():
    """10 nmi at 1e-300 kn end after the last date there is."""
    ran = run("check", PLAN, "--zones", BANK, "--depart", "2026-03-01T06:00Z", "--speed", "1e-300kn")
    assert ran.code in (2, 3)
    assert "Warning" not in ran.err


@pytest.mark.parametrize("edges", ["rhumb", "geodesic", "lonlat"])
def test_a_ring_that_crosses_itself_is_refused_by_every_reading_of_its_edges(tmp_path, edges):
    bow = '{"type":"Polygon","coordinates":[[[0,50],[1,51],[1,50],[0,51],[0,50]]]}'
    text = f'{{"type":"Feature","properties":{{"name":"bow","kind":"closed_area"}},"geometry":{bow}}}'
    (tmp_path / "z.geojson").write_text(text)
    ran = call("check", ROOT / PLAN, "--zones", "z.geojson", "--edges", edges, cwd=tmp_path)
    assert (ran.code, ran.out) == (3, "")
    assert "bow" in ran.err
