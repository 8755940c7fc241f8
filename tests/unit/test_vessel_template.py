"""The profile to fill in: nothing in it counts as it is, all of it is read once it is filled in."""

from __future__ import annotations

import re
import tomllib

import pytest
from cli_runner import call

from towzone.errors import UsageError
from towzone.files.vessel_template import vessel_template
from towzone.files.vessels import PROFILE_KEYS, read_vessel
from towzone.gear.figures import Rigging, assumed_lines, rigging_for
from towzone.gear.rigs import rigs_of
from towzone.model.gear import Basis
from towzone.model.gears import GEAR_NAMES
from towzone.model.vessel import GearFigures, PlanFigures, Rig

HIDDEN = re.compile(r"^#(?=\w+ = |\[)", re.MULTILINE)
MODELLED = [gear for gear in GEAR_NAMES if rigs_of(gear)]


@pytest.fixture
def read(tmp_path):
    def reading(text):
        path = tmp_path / "vessel.toml"
        path.write_text(text, encoding="utf-8")
        return read_vessel(str(path))

    return reading


def keys_of(text):
    """Every figure in a template, those behind a # too, as pairs of table and name."""
    data = tomllib.loads(HIDDEN.sub("", text))
    return {(table, key) for table, figures in data.items() for key in figures}


@pytest.mark.parametrize("gear", GEAR_NAMES)
def test_as_it_is_the_template_states_the_gear_and_nothing_else(read, gear):
    file = read(vessel_template(gear))
    vessel = file.vessel
    assert (vessel.gear, vessel.name, vessel.max_speed_kn, vessel.position_error_m) == (gear, "", None, None)
    assert vessel.margins_m == {}
    assert vessel.figures == (GearFigures() if rigs_of(gear) else None)
    assert vessel.plan == PlanFigures()
    assert file.remarks == ()


@pytest.mark.parametrize("gear", GEAR_NAMES)
@pytest.mark.parametrize("how", ["filled", "every # taken away"])
def test_filled_in_the_template_is_read_without_a_problem(read, gear, how):
    text = vessel_template(gear, filled=True) if how == "filled" else HIDDEN.sub("", vessel_template(gear))
    file = read(text)
    assert file.vessel.name == "invented"
    # Only the two ways to state a door spread are in each other's way, where both are filled in.
    told = [remark.where for remark in file.remarks]
    assert told == (
        ["gear.warps_apart"] if how != "filled" and "#warps_apart" in vessel_template(gear) else []
    )


def test_every_name_the_reader_knows_is_in_a_template_and_the_other_way_round():
    known = {(table, key) for table, keys in PROFILE_KEYS.items() for key in keys}
    shown = {gear: keys_of(vessel_template(gear)) for gear in GEAR_NAMES}
    assert set.union(*shown.values()) == known
    # Each rig alone shows all but the figures of other rigs.
    beams = {("gear", "beam_length"), ("gear", "beams_apart")}
    assert known - shown["OTT"] == beams
    assert known - shown["OTB"] == beams | {("gear", "clump_warp")}
    doors = ("clump_warp", "door_spread", "warps_apart", "warps_apart_at", "sweeps", "wing_spread")
    assert known - shown["TBB"] == {("gear", key) for key in doors}


@pytest.mark.parametrize("gear", MODELLED)
def test_filled_in_the_template_leaves_no_figure_to_be_assumed_but_deviations(read, gear):
    figures = read(vessel_template(gear, filled=True)).vessel.figures
    found = rigging_for(figures, gear, position_error_m=10.0)
    assert isinstance(found, Rigging)
    assert found.rig is rigs_of(gear)[0]
    unsure = {f.name for f in found.all() if f.basis in (Basis.ASSUMED, Basis.DERIVED)}
    wide = {"door_spread"} if found.rig is Rig.BEAM else set()
    assert unsure == {"veer_speed", "drift", "position"} | wide


@pytest.mark.parametrize("gear", MODELLED)
def test_what_the_template_says_is_taken_for_a_figure_is_taken_for_it(read, gear):
    """Each figure of the filled template left out alone: its value in words is that of the sentence told."""
    filled = vessel_template(gear, filled=True)
    for key in (
        "block_height",
        "block_separation",
        "sweeps",
        "net_length",
        "beam_length",
        "tow_speed",
        "haul_speed",
    ):
        if f"\n{key} = " not in filled:
            continue
        before = filled.partition(f"\n{key} = ")[0]
        comment = " ".join(line[2:] for line in before.rsplit("\n", 8)[1:] if line.startswith("# "))
        wanted = re.search(r"If left out: ([\d.]+ \S+), give or take ([\d.]+ \S+)\.$", comment)
        figures = read(re.sub(rf"^{key} = .*$", "", filled, flags=re.MULTILINE)).vessel.figures
        lines = assumed_lines(rigging_for(figures, gear, position_error_m=10.0))
        if wanted is None:
            assert key == "block_separation"
            assert "TBB" in gear
            continue
        assert any(f" {wanted[1]} (" in line and f"give or take {wanted[2]}." in line for line in lines), key


@pytest.mark.parametrize("gear", GEAR_NAMES)
def test_the_template_explains_every_figure_right_above_it(gear):
    lines = vessel_template(gear).splitlines()
    for number, line in enumerate(lines):
        if re.match(r"#?\w+ = ", line):
            assert lines[number - 1].startswith("# "), line
    assert all(len(line) <= 96 for line in lines)
    assert vessel_template(gear).endswith("\n")


@pytest.mark.parametrize("gear", sorted(set(GEAR_NAMES) - set(MODELLED)))
def test_the_template_of_a_gear_that_is_not_modelled_says_why(gear):
    text = vessel_template(gear)
    assert "# No table [gear]: " in text
    assert "\n[gear]" not in text
    assert {table for table, _ in keys_of(text)} == {"vessel", "position", "margins"}


@pytest.mark.parametrize("gear", ["", "otb", "OTB ", "X\x1b"])
def test_no_gear_code_no_template(gear):
    with pytest.raises(UsageError, match="is not a gear code; known are OTB"):
        vessel_template(gear)


# The command.


def test_the_command_prints_the_template_of_a_bottom_trawl():
    ran = call("vessel")
    assert (ran.code, ran.out, ran.err) == (0, vessel_template("OTB"), "")


@pytest.mark.parametrize("code", ["TBB", "tbb"])
def test_the_command_prints_the_template_of_the_gear_asked_for(code):
    assert call("vessel", "--gear", code).out == vessel_template("TBB")


def test_the_command_writes_a_file_that_is_read_and_never_over_another(tmp_path):
    path = tmp_path / "vessel.toml"
    ran = call("vessel", "--gear", "OTT", "-o", path)
    assert (ran.code, ran.out) == (0, "")
    assert read_vessel(str(path)).vessel.gear == "OTT"
    path.write_text("mine", encoding="utf-8")
    again = call("vessel", "-o", path)
    assert again.code == 3
    assert "--force" in again.err
    assert path.read_text(encoding="utf-8") == "mine"
    assert call("vessel", "-o", path, "--force").code == 0
    assert path.read_text(encoding="utf-8") == vessel_template("OTB")


def test_the_command_refuses_what_is_no_gear_before_anything_is_written(tmp_path):
    path = tmp_path / "vessel.toml"
    ran = call("vessel", "--gear", "trawl", "-o", path)
    assert (ran.code, ran.out) == (2, "")
    assert "'TRAWL' is not a gear code" in ran.err
    assert not path.exists()


def test_the_help_of_the_command_carries_the_caution_and_the_exit_codes():
    text = " ".join(call("vessel", "--help").out.split())
    assert "not for navigation" in text
    assert "0 the profile was written" in text
