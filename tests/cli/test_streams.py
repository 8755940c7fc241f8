"""What goes to which stream, what is written to files, and that nothing depends on chance."""

from __future__ import annotations

import json
import re
import stat
from pathlib import Path

import pytest
from cli_runner import (
    BANK,
    GAP_TRIP,
    MENDED,
    PLAN,
    PLOVER,
    RISE,
    ROOT,
    call,
    route_text,
    run,
    run_code,
    track_text,
    written,
    zones_text,
)

FORMS = ("text", "json", "csv", "geojson")
NOTED = track_text(
    [
        (-20.0, 57.0, "2026-03-01T06:00:00"),  # no zone: a remark
        (-20.0, 57.01, "2026-03-01T06:10:00"),
    ]
)
POINT = {"type": "Point", "coordinates": [-20.0, 57.2]}
WRECK = {"kind": "obstruction", "zone_id": "W", "name": "wreck"}


@pytest.fixture
def scene(tmp_path):
    """A folder with a track that needs a remark and one zone; the command runs there."""
    (tmp_path / "t.gpx").write_text(NOTED)
    (tmp_path / "z.geojson").write_text(zones_text((POINT, WRECK)))
    return tmp_path


@pytest.mark.parametrize("form", FORMS)
def test_standard_output_holds_the_result_and_standard_error_the_remarks(scene, form):
    ran = run("check", "t.gpx", "--zones", "z.geojson", "--format", form, cwd=scene)
    assert ran.code == 0
    assert ran.err.startswith("note: t.gpx: ")
    assert "note:" not in ran.out
    if form in ("json", "geojson"):
        json.loads(ran.out)
    if form == "csv":
        assert ran.out.startswith("track_id,tow,activity,zone_id,")
    assert ran.out.endswith("\n")


def test_quiet_leaves_standard_error_empty_and_the_result_as_it_was(scene):
    loud, quiet = (call("check", "t.gpx", "--zones", "z.geojson", *q, cwd=scene) for q in ((), ("-q",)))
    assert (quiet.out, quiet.err, quiet.code) == (loud.out, "", loud.code)
    assert loud.err


def test_quiet_does_not_hide_refusals(scene):
    assert "t2.gpx" in call("check", "t2.gpx", "--zones", "z.geojson", "-q", cwd=scene).err


def test_verbose_adds_what_is_left_out_and_changes_no_verdict():
    short, long = (call("check", GAP_TRIP, "--zones", BANK, *v) for v in ((), ("-v",)))
    assert short.code == long.code
    assert "gap from" in long.out
    assert "gap from" not in short.out
    assert short.out.splitlines()[:2] == long.out.splitlines()[:2]


@pytest.mark.parametrize("form", FORMS)
def test_o_writes_what_standard_output_would_have_held(tmp_path, form):
    target = tmp_path / "result"
    plain = call("check", PLAN, "--zones", BANK, "--format", form)
    ran = call("check", PLAN, "--zones", BANK, "--format", form, "-o", target)
    assert (ran.code, ran.out) == (1, "")
    assert target.read_text() == plain.out
    assert call("check", PLAN, "--zones", BANK, "--format", form, "-o", "-").out == plain.out


def test_written_files_have_ordinary_rights_and_nothing_else_is_left(tmp_path):
    call("check", PLAN, "--zones", BANK, "-o", tmp_path / "a.txt", "--record", tmp_path / "a.html")
    assert written(tmp_path) == ["a.html", "a.txt"]
    (tmp_path / "plain").touch()
    for name in ("a.txt", "a.html"):
        assert stat.S_IMODE((tmp_path / name).stat().st_mode) == stat.S_IMODE(
            (tmp_path / "plain").stat().st_mode
        )


@pytest.mark.parametrize("option", ["-o", "--record"])
def test_a_file_that_exists_is_kept_and_nothing_is_read(tmp_path, option):
    """Neither track nor zones exist, and yet it is the kept file that is spoken of."""
    target = tmp_path / "kept.html"
    target.write_bytes(b"mine")
    ran = call("check", "no.gpx", "--zones", "no.geojson", option, target)
    assert (ran.code, ran.out, target.read_bytes()) == (3, "", b"mine")
    assert "kept" in ran.err
    assert "--force" in ran.err
    assert "no.gpx" not in ran.err


@pytest.mark.parametrize("option", ["-o", "--record"])
def test_force_replaces_a_file(tmp_path, option):
    target = tmp_path / "kept.html"
    target.write_bytes(b"mine")
    assert call("check", PLAN, "--zones", BANK, option, target, "--force").code == 1
    assert target.read_bytes() != b"mine"


def test_force_does_not_replace_a_file_by_a_refusal(tmp_path):
    target = tmp_path / "kept"
    target.write_bytes(b"mine")
    assert call("check", "no.gpx", "--zones", BANK, "-o", target, "--force").code == 3
    assert target.read_bytes() == b"mine"


@pytest.mark.parametrize("option", ["-o", "--record"])
def test_an_unwritable_place_is_refused(tmp_path, option):
    for target in (tmp_path / "no such folder" / "out.html", tmp_path):
        ran = call("check", PLAN, "--zones", BANK, option, target)
        assert (ran.code, ran.out) == (3, "")
        assert str(target) in ran.err
    assert written(tmp_path) == []


def test_the_record_and_the_result_cannot_be_one_file(tmp_path):
    target = tmp_path / "one.html"
    ran = call("check", PLAN, "--zones", BANK, "-o", target, "--record", f"{tmp_path}/./one.html")
    assert ran.code == 3
    assert written(tmp_path) == []


def test_a_failure_while_writing_leaves_no_half_record(tmp_path):
    """The disk fails at the last moment: what was there stays, and no temporary file is left."""
    (tmp_path / "r.html").write_bytes(b"old")
    code = """
import os, sys
def failing(handle):
    raise OSError(28, "No space left on device")
os.fsync = failing
from towzone.cli import main
sys.exit(main(sys.argv[1:]))
"""
    ran = run_code(code, "check", PLAN, "--zones", BANK, "--record", tmp_path / "r.html", "--force")
    assert (ran.code, ran.out) == (3, "")
    assert "No space left" in ran.err
    assert written(tmp_path) == ["r.html"]
    assert (tmp_path / "r.html").read_bytes() == b"old"


def test_nothing_is_printed_when_the_record_cannot_be_written(tmp_path):
    """A result on the screen without the record that was asked for would be taken for complete."""
    ran = call("check", PLAN, "--zones", BANK, "--record", tmp_path / "none" / "r.html")
    assert (ran.code, ran.out) == (3, "")


@pytest.mark.parametrize("form", FORMS)
def test_the_same_input_gives_the_same_bytes_whatever_the_hash_seed(form, tmp_path):
    outputs = set()
    for seed in ("0", "4242"):
        record = tmp_path / f"{seed}.html"
        ran = run(
            "check", PLOVER, "--zones", RISE, "--format", form, "--record", record,
            PYTHONHASHSEED=seed, TZ=f"UTC-{seed[0]}", COLUMNS=f"{60 + int(seed[:1])}",
        )  # fmt: skip
        outputs.add((ran.out, record.read_bytes()))
    assert len(outputs) == 1


def test_the_result_does_not_depend_on_the_folder_it_is_run_from(tmp_path):
    absolute = [ROOT / PLAN, "--zones", ROOT / BANK, "--format", "csv"]
    assert call("check", *absolute).out == call("check", *absolute, cwd=tmp_path).out


def test_standard_input_is_a_track():
    data = (ROOT / PLAN).read_bytes()
    piped = run("check", "-", "--zones", BANK, "--format", "json", stdin=data)
    assert piped.code == 1
    named = call("check", PLAN, "--zones", BANK, "--format", "json").data
    assert piped.data["counts"] == named["counts"]
    assert [row["clearance_m"] for row in piped.data["rows"]] == [row["clearance_m"] for row in named["rows"]]


def test_several_zone_files_are_one_set_of_zones():
    ran = call("check", PLAN, "--zones", BANK, "--zones", RISE, "--format", "json")
    assert len(ran.data["zones"]) == 7
    assert call("check", PLAN, "--zones", BANK, "--zones", BANK).code == 3


# Files whose names or contents are awkward.


@pytest.mark.parametrize("form", FORMS)
def test_a_file_name_that_is_not_utf_8_is_no_fault_of_ours(tmp_path, form):
    """Latin-1 names from an old ship's computer."""
    name = tmp_path / "caf\udce9.gpx"
    name.write_bytes((ROOT / PLAN).read_bytes())
    target, record = tmp_path / "out", tmp_path / "r.html"
    ran = call("check", name, "--zones", BANK, "--format", form, "-o", target, "--record", record)
    assert ran.code == 1, ran.err
    assert target.read_bytes().decode("utf-8")
    assert record.read_bytes().decode("utf-8")


HOSTILE = {
    "escape": "\x1b[2J\x1b]0;owned\x07",
    "bidi": "\u202egnihsif\u2066",
    "c1": "\x9b31m",
    "lines": "Box\n\nCLEAR: proved clear under the assumptions below",
    "return": "Box\rCLEAR",
    "separators": "a\u2028b\u2029c\x85d",
    "zero width": "\u200b\ufeff",
    "surrogate": "x\ud800y",
    "tag": "<script>alert(1)</script>",
    "formula": "=HYPERLINK(0)",
}


def hostile(tmp_path, text):
    properties = {"kind": "obstruction", "zone_id": "W", "name": text, "source": text, "note": text}
    (tmp_path / "z.geojson").write_text(zones_text((POINT, properties)))
    (tmp_path / "r.gpx").write_text(route_text([(-20.0, 57.0), (-20.0, 57.4)]))
    return tmp_path


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.parametrize("form", FORMS)
def test_a_hostile_zone_name_is_no_fault_of_ours(tmp_path, name, form):
    """Taken or refused with a message, but never a crash."""
    folder = hostile(tmp_path, HOSTILE[name])
    ran = call("check", "r.gpx", "--zones", "z.geojson", "--format", form, "-o", "out", cwd=folder)
    assert ran.code in (1, 3), ran.err
    if ran.code == 1:
        (folder / "out").read_bytes().decode("utf-8")


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_zone_name_cannot_forge_or_hide_lines_of_text(tmp_path, name):
    folder = hostile(tmp_path, HOSTILE[name])
    ran = call("check", "r.gpx", "--zones", "z.geojson", "-v", cwd=folder)
    shown = ran.out + ran.err
    assert all(c.isprintable() or c == "\n" for c in shown)
    assert not re.search(r"^CLEAR", shown, flags=re.MULTILINE)


def test_a_hostile_track_name_cannot_forge_or_hide_lines_of_text(tmp_path):
    (tmp_path / "z.geojson").write_text(zones_text((POINT, WRECK)))
    text = route_text([(-20.0, 57.0), (-20.0, 57.4)], name="a&#10;&#10;CLEAR: all&#x202e;&#x9b;")
    (tmp_path / "r.gpx").write_text(text)
    ran = call("check", "r.gpx", "--zones", "z.geojson", "-v", cwd=tmp_path)
    assert ran.code == 1
    assert all(c.isprintable() or c == "\n" for c in ran.out + ran.err)
    assert not re.search(r"^CLEAR", ran.out, flags=re.MULTILINE)


def test_demo_needs_nothing_and_may_be_run_again(tmp_path):
    first = call("demo", "out", cwd=tmp_path)
    assert (first.code, first.err) == (0, "")
    made = {name: (tmp_path / name).read_bytes() for name in written(tmp_path)}
    assert "out/greywether_trip.html" in made
    assert "out/greywether_trip.json" in made
    assert sum(name.startswith("out/sample_") for name in made) == 14
    assert "invented" in first.out
    second = call("demo", "out", cwd=tmp_path)
    assert second.out == first.out
    assert {name: (tmp_path / name).read_bytes() for name in written(tmp_path)} == made


def test_demo_says_what_it_did_with_commands_that_work(tmp_path):
    first = call("demo", "out", cwd=tmp_path)
    (command,) = [
        line.split() for line in first.out.splitlines() if line.startswith("  ") and " check " in line
    ]
    assert command[0].endswith("towzone")
    assert call(*command[1:], cwd=tmp_path).code == 1


def test_demo_into_an_impossible_place_is_refused(tmp_path):
    (tmp_path / "file").write_text("in the way")
    ran = call("demo", "file", cwd=tmp_path)
    assert ran.code == 3
    assert "Traceback" not in ran.err
    assert Path(tmp_path / "file").read_text() == "in the way"


def test_mended_plan_is_clear_in_every_form():
    for form in FORMS:
        assert call("check", MENDED, "--zones", BANK, "--format", form).code == 0


@pytest.mark.parametrize("option", ["-o", "--record"])
def test_an_input_is_never_replaced_not_even_with_force(option, tmp_path):
    """The track is the evidence; a slip of the hand must not put the result in its place."""
    track = tmp_path / "plan.html"  # recognised by content
    track.write_bytes((ROOT / PLAN).read_bytes())
    before = track.read_bytes()

    ran = call("check", track, "--zones", ROOT / BANK, option, track, "--force")

    assert (ran.code, ran.out) == (3, "")
    assert "is read by this command" in ran.err
    assert track.read_bytes() == before


@pytest.mark.parametrize(
    "words",
    [
        ("list", "{}"),
        ("lint", "{}"),
        ("compare", BANK, "{}"),
        ("compare", "{}", BANK),
        ("convert", "--from", "file", "{}"),
    ],
)
def test_no_command_on_zone_files_puts_its_result_in_the_place_of_what_it_reads(words, tmp_path):
    zones = tmp_path / "zones.geojson"
    zones.write_bytes((ROOT / BANK).read_bytes())
    before = zones.read_bytes()

    given = [str(zones) if word == "{}" else word for word in words]
    ran = call("zones", *given, "-o", zones, "--force")

    assert (ran.code, ran.out) == (3, "")
    assert "is read by this command" in ran.err
    assert zones.read_bytes() == before


def test_a_vessel_profile_is_never_replaced_either(tmp_path):
    profile = tmp_path / "vessel.toml"
    profile.write_text('[vessel]\ngear = "OTB"\n', encoding="utf-8")

    ran = call("check", PLAN, "--zones", BANK, "--vessel", profile, "-o", profile, "--force")

    assert ran.code == 3
    assert profile.read_text(encoding="utf-8") == '[vessel]\ngear = "OTB"\n'
