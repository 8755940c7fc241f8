"""Vessel profiles: what is read, in which unit, and what is refused with which words."""

from __future__ import annotations

import pytest

from towzone.errors import InputError
from towzone.files.vessel_figures import FIGURES
from towzone.files.vessel_plan import PLAN_FIGURES
from towzone.files.vessels import PROFILE_KEYS, read_vessel
from towzone.model.vessel import Current, GearFigures, PlanFigures, Rig
from towzone.model.zone import ZoneKind

FULL = """
[vessel]
name = "invented"
gear = "OTT"
max_speed = "11kn"
[position]
error = "10m"
block_aft = "18m"
block_starboard = "-1.5m"
[gear]
rig = "twin"
warp = "0.35km"
clump_warp = "345m"
depth = "100ftm"
block_height = "5m"
block_separation = "8m"
door_spread = "100m"
sweeps = "75m"
net_length = "45m"
wing_spread = "18m"
[handling]
tow_speed = "3.4kn"
haul_speed = "1.2m/s"
shoot_time = "8min"
[current]
set_deg = 90
drift = "0.5kn"
[margins]
cable = "0.25nmi"
"""


@pytest.fixture
def read(tmp_path):
    """Reads a profile given as text."""

    def reading(text):
        path = tmp_path / "vessel.toml"
        path.write_text(text, encoding="utf-8")
        return read_vessel(str(path))

    return reading


@pytest.fixture
def refused(read):
    """The problems of a profile given as text: a dict of place to message (or several)."""

    def reading(text):
        with pytest.raises(InputError) as caught:
            read(text)
        found = {}
        for problem in caught.value.problems:
            found[problem.where] = found.get(problem.where, "") + problem.message
        return found

    return reading


def test_every_figure_is_read_in_its_unit(read):
    vessel = read(FULL).vessel
    assert (vessel.name, vessel.gear, vessel.max_speed_kn, vessel.position_error_m) == (
        "invented",
        "OTT",
        11.0,
        10.0,
    )
    assert vessel.margins_m == {ZoneKind.CABLE: 463.0}
    assert vessel.figures == GearFigures(
        rig=Rig.TWIN,
        warp_m=350.0,
        clump_warp_m=345.0,
        depth_m=182.88,  # a fathom is 1.8288 m
        block_height_m=5.0,
        block_separation_m=8.0,
        door_spread_m=100.0,
        sweeps_m=75.0,
        net_length_m=45.0,
        wing_spread_m=18.0,
        block_aft_m=18.0,
        block_starboard_m=-1.5,
        tow_speed_kn=3.4,
        heave_speed_mps=1.2,
        shoot_time_s=480.0,
        current=Current(set_deg=90.0, drift_kn=0.5),
    )


def test_a_full_profile_needs_no_remark(read):
    assert read(FULL).remarks == ()


def test_beams_and_warps_apart_are_read_too(read):
    beam = read('[vessel]\ngear="TBB"\n[gear]\nbeam_length="9m"\nbeams_apart="20m"').vessel.figures
    assert (beam.beam_length_m, beam.beams_apart_m) == (9.0, 20.0)
    warps = read('[gear]\nwarps_apart="8.8m"\nwarps_apart_at="4m"').vessel.figures
    assert (warps.warps_apart_m, warps.warps_apart_at_m) == (8.8, 4.0)


def test_an_empty_table_gear_asks_for_the_gear_with_nothing_known(read):
    assert read("[gear]").vessel.figures == GearFigures()


def test_without_a_table_gear_there_are_no_figures_and_those_that_stand_are_told(read):
    position, handling = '[position]\nerror="5m"\nblock_aft="9m"\n', '[handling]\ntow_speed="3kn"\n'
    file = read(f'{position}{handling}[current]\nset_deg=0\ndrift="1kn"')
    assert file.vessel.figures is None
    assert file.vessel.position_error_m == 5.0
    (remark,) = file.remarks
    assert remark.where == "position.block_aft, handling.tow_speed, current.set_deg, current.drift"
    assert "without a table [gear]" in remark.message


def test_a_profile_without_any_of_it_has_no_remark(read):
    assert read('[vessel]\ngear="OTB"').remarks == ()


def test_a_door_spread_comes_before_warps_apart_and_that_is_told(read):
    (remark,) = read('[gear]\ndoor_spread="80m"\nwarps_apart="9m"\nwarps_apart_at="4m"').remarks
    assert (remark.where, "door_spread is stated" in remark.message) == ("gear.warps_apart", True)


# Each figure for itself.


def text_of(form, value):
    return f'[{form.table}]\n{form.key} = "{value:g}{form.unit}"\n'


ALONE = [form for form in FIGURES if form.key not in ("clump_warp", "warps_apart", "warps_apart_at")]


@pytest.mark.parametrize("form", ALONE, ids=lambda form: form.key)
@pytest.mark.parametrize("end", ["low", "high"])
def test_the_limits_of_a_figure_are_allowed(read, form, end):
    rig = '[vessel]\ngear="TBB"\n' if form.key.startswith("beam") else ""
    text = f"{rig}{text_of(form, getattr(form, end))}" + ("" if form.table == "gear" else "[gear]\n")
    found = getattr(read(text).vessel.figures, form.field)
    assert found == pytest.approx(getattr(form, end), rel=1e-9, abs=0.0)


@pytest.mark.parametrize("form", FIGURES, ids=lambda form: form.key)
@pytest.mark.parametrize("end", ["low", "high"])
def test_beyond_its_limits_a_figure_is_refused_with_both_and_with_what_to_write(refused, form, end):
    step = 0.01 * (form.high - form.low)
    beyond = form.low - step if end == "low" else form.high + step
    if beyond < 0.0 and form.low >= 0.0:
        beyond = form.low / 2.0
        if form.low == 0.0:
            beyond = -1.0
    message = refused(text_of(form, beyond))[f"{form.table}.{form.key}"]
    assert f"{beyond:g}{form.unit}" in message
    if beyond >= 0.0 or form.low < 0.0:
        assert f"{form.low:g} to {form.high:g} {form.unit}" in message
        assert f"Write {form.what}" in message
    else:
        assert "zero or more" in message


@pytest.mark.parametrize("form", FIGURES, ids=lambda form: form.key)
@pytest.mark.parametrize("value", ["350", '"350"', "nan", "inf", "true", '"inf m"', "[1]", '""', '"1e999m"'])
def test_what_has_no_unit_or_is_no_number_is_refused_for_every_figure(refused, form, value):
    message = refused(f"[{form.table}]\n{form.key} = {value}\n")[f"{form.table}.{form.key}"]
    assert "is not a" in message or "must be" in message


@pytest.mark.parametrize("key", ["depth", "warp", "block_height", "sweeps", "door_spread"])
def test_only_the_place_of_the_block_may_be_negative(refused, key):
    assert "zero or more" in refused(f'[gear]\n{key} = "-3m"')[f"gear.{key}"]


def test_a_block_ahead_and_to_port_is_negative(read):
    figures = read('[gear]\n[position]\nblock_aft=" -3m"\nblock_starboard="-0.5m"').vessel.figures
    assert (figures.block_aft_m, figures.block_starboard_m) == (-3.0, -0.5)


@pytest.mark.parametrize("text", ["--3m", "- -3m", "-"])
def test_one_sign_is_enough(refused, text):
    assert "position.block_aft" in refused(f'[position]\nblock_aft="{text}"')


@pytest.mark.parametrize("speed", ["1.2kn", "4km/h"])
def test_the_speed_of_the_winch_is_in_metres_a_second_and_nothing_else(refused, speed):
    """In knots it is most likely the vessel's own speed while hauling."""
    message = refused(f'[handling]\nhaul_speed="{speed}"')["handling.haul_speed"]
    assert speed in message
    assert "m/s" in message
    assert "not the speed of the vessel" in message


@pytest.mark.parametrize("tenths", range(1, 51))
def test_the_speed_of_the_winch_comes_back_as_it_was_stated(read, tenths):
    text = f'[gear]\n[handling]\nhaul_speed="{tenths / 10}m/s"'
    assert read(text).vessel.figures.heave_speed_mps == tenths / 10


# The current.


@pytest.mark.parametrize(("written", "read_as"), [("0", 0.0), ("359.5", 359.5), ("360", 0.0)])
def test_the_set_of_a_current_is_a_plain_number_of_degrees(read, written, read_as):
    current = read(f'[gear]\n[current]\nset_deg={written}\ndrift="1kn"').vessel.figures.current
    assert current == Current(set_deg=read_as, drift_kn=1.0)


@pytest.mark.parametrize("value", ["-1", "360.5", '"90"', '"90deg"', "nan", "inf", "true", "1" + "0" * 400])
def test_no_other_set_is_taken(refused, value):
    message = refused(f'[current]\nset_deg={value}\ndrift="1kn"')["current.set_deg"]
    assert "plain number from 0 to 360, without quotes" in message


@pytest.mark.parametrize(
    ("line", "alone", "missing"), [("set_deg=90", "set_deg", "drift"), ('drift="1kn"', "drift", "set_deg")]
)
def test_set_and_drift_belong_together(refused, line, alone, missing):
    problems = refused(f"[current]\n{line}")
    assert list(problems) == [f"current.{alone}"]
    assert f"state {missing} too" in problems[f"current.{alone}"]


def test_a_refused_drift_is_not_also_called_missing(refused):
    assert list(refused('[current]\nset_deg=90\ndrift="1"')) == ["current.drift"]


# Figures against each other.


@pytest.mark.parametrize(
    ("gear", "rig"),
    [
        ("TBB", "single"),
        ("TBB", "twin"),
        ("OTB", "beam"),
        ("OTT", "single"),
        ("OTP", "beam"),
        ("OTM", "beam"),
    ],
)
def test_the_rig_must_go_with_the_gear_code(refused, gear, rig):
    message = refused(f'[vessel]\ngear="{gear}"\n[gear]\nrig="{rig}"')["gear.rig"]
    assert f"'{rig}'" in message
    assert gear in message


@pytest.mark.parametrize(
    ("gear", "rig"),
    [("TBB", "beam"), ("OTB", "single"), ("OTB", "twin"), ("OTT", "twin"), ("TX", "beam"), ("TBS", "beam")],
)
def test_a_rig_that_goes_with_the_gear_code_is_taken(read, gear, rig):
    assert read(f'[vessel]\ngear="{gear}"\n[gear]\nrig="{rig}"').vessel.figures.rig == rig


@pytest.mark.parametrize("rig", ["single", "twin", "beam"])
def test_any_rig_goes_with_a_gear_that_is_not_stated_or_not_modelled(read, rig):
    assert read(f'[gear]\nrig="{rig}"').vessel.figures.rig == rig
    assert read(f'[vessel]\ngear="DRB"\n[gear]\nrig="{rig}"').vessel.figures.rig == rig


def test_an_unknown_rig_is_refused_with_the_nearest(refused):
    message = refused('[gear]\nrig="Twin"')["gear.rig"]
    assert "single, twin, beam" in message
    assert "Did you mean 'twin'?" in message


@pytest.mark.parametrize("warp", ["100m", "105m"])
def test_a_warp_must_reach_down_depth_and_height(refused, warp):
    message = refused(f'[gear]\nwarp="{warp}"\ndepth="100m"\nblock_height="5m"')["gear.warp"]
    assert warp[:-1] in message
    assert "105 m" in message


def test_a_warp_that_just_reaches_down_is_taken(read):
    assert read('[gear]\nwarp="105.1m"\ndepth="100m"\nblock_height="5m"').vessel.figures.warp_m == 105.1


def test_the_warp_of_the_clump_must_reach_down_too(refused):
    text = '[gear]\nrig="twin"\nwarp="350m"\nclump_warp="100m"\ndepth="100m"'
    assert list(refused(text)) == ["gear.clump_warp"]


def test_doors_cannot_be_farther_apart_than_the_warps_let_them(refused):
    """Down 55 m, and (210 - 10) / 2 = 100 m aside: 114.1 m of warp are needed."""
    text = '[gear]\nwarp="{}m"\ndepth="50m"\nblock_height="5m"\nblock_separation="10m"\ndoor_spread="210m"'
    assert "100 m to each side" in refused(text.format(114))["gear.door_spread"]


def test_doors_that_the_warps_let_be_so_far_apart_are_taken(read):
    text = '[gear]\nwarp="115m"\ndepth="50m"\nblock_height="5m"\nblock_separation="10m"\ndoor_spread="210m"'
    assert read(text).vessel.figures.door_spread_m == 210.0


@pytest.mark.parametrize(("rig", "most"), [("single", 100), ("twin", 200)])
def test_doors_are_no_farther_apart_than_wings_and_sweeps_allow(read, refused, rig, most):
    """One net: 20 m + 2 x 40 m; two of them twice that."""
    text = f'[gear]\nrig="{rig}"\nwing_spread="20m"\nsweeps="40m"\ndoor_spread="{{}}m"'
    assert read(text.format(most)).vessel.figures.door_spread_m == most
    assert f"= {most} m" in refused(text.format(most + 1))["gear.door_spread"]


@pytest.mark.parametrize(("rig", "most"), [("single", 60), ("twin", 30)])
def test_wing_ends_are_no_farther_apart_than_the_doors_of_their_net(read, refused, rig, most):
    text = f'[gear]\nrig="{rig}"\ndoor_spread="60m"\nwing_spread="{{}}m"'
    assert read(text.format(most)).vessel.figures.wing_spread_m == most
    assert f"{most} m" in refused(text.format(most + 1))["gear.wing_spread"]


@pytest.mark.parametrize(
    ("line", "missing"),
    [
        ('warps_apart="9m"', "warps_apart_at"),
        ('warps_apart_at="4m"', "warps_apart"),
        ('clump_warp="300m"', "warp"),
    ],
)
def test_figures_that_say_nothing_alone_are_refused_alone(refused, line, missing):
    problems = refused(f'[gear]\nrig="twin"\n{line}')
    (message,) = problems.values()
    assert list(problems) == [f"gear.{line.partition('=')[0]}"]
    assert f"state {missing} too" in message


def test_warps_cannot_be_measured_beyond_their_ends(refused):
    assert "gear.warps_apart_at" in refused('[gear]\nwarp="50m"\nwarps_apart="9m"\nwarps_apart_at="51m"')


@pytest.mark.parametrize(
    "key", ["door_spread", "sweeps", "wing_spread", "warps_apart", "warps_apart_at", "clump_warp"]
)
def test_a_beam_trawl_has_no_figures_of_doors(refused, key):
    text = f'[vessel]\ngear="TBB"\n[gear]\nwarp="150m"\n{key}="20m"'
    assert "means nothing for a beam trawl" in refused(text)[f"gear.{key}"]


@pytest.mark.parametrize("key", ["beam_length", "beams_apart"])
@pytest.mark.parametrize("head", ['[vessel]\ngear="OTB"\n[gear]', "[gear]", '[gear]\nrig="twin"'])
def test_a_trawl_with_doors_has_no_beams(refused, head, key):
    assert "rig = 'beam'" in refused(f'{head}\n{key}="20m"')[f"gear.{key}"]


@pytest.mark.parametrize("head", ['[vessel]\ngear="OTB"\n[gear]', '[gear]\nrig="single"', "[gear]"])
def test_only_a_twin_rig_has_a_clump(refused, head):
    assert "rig = 'twin'" in refused(f'{head}\nwarp="350m"\nclump_warp="345m"')["gear.clump_warp"]


def test_two_beams_do_not_overlap_and_a_single_one_is_nowhere_apart(read, refused):
    text = '[gear]\nrig="beam"\nbeam_length="12m"\nbeams_apart="{}m"'
    assert "overlap" in refused(text.format(11))["gear.beams_apart"]
    assert read(text.format(12)).vessel.figures.beams_apart_m == 12.0
    assert read(text.format(0)).vessel.figures.beams_apart_m == 0.0


def test_where_the_rig_was_refused_nothing_is_said_of_what_suits_it(refused):
    assert list(refused('[gear]\nrig="threefold"\nbeam_length="9m"')) == ["gear.rig"]
    assert list(refused('[vessel]\ngear="XYZ"\n[gear]\nbeam_length="9m"')) == ["vessel.gear"]


# Names, tables, files.


@pytest.mark.parametrize(
    ("key", "meant"),
    [
        ("netlength", "net_length"),
        ("Warp", "warp"),
        ("door-spread", "door_spread"),
        ("block height", "block_height"),
    ],
)
def test_a_slip_of_a_name_is_refused_with_what_was_meant(refused, key, meant):
    (message,) = refused(f'[gear]\n"{key}" = "20m"').values()
    assert message.endswith(f"Did you mean '{meant}'?")


def test_a_name_in_the_wrong_table_is_sent_to_the_right_one(refused):
    (message,) = refused('[gear]\ntow_speed = "3kn"').values()
    assert message.endswith("It belongs in the table [handling]")


def test_an_unknown_table_is_refused_with_the_nearest(refused):
    (message,) = refused("[gears]").values()
    assert message.endswith("Did you mean 'gear'?")


def test_names_unlike_any_other_get_no_suggestion(refused):
    problems = refused(f'[gear]\ncolour = "red"\n{"x" * 100_000} = 1')
    assert not any("Did you mean" in message for message in problems.values())
    assert all(len(where) < 80 for where in problems)


def test_a_gear_code_in_small_letters_is_refused_with_the_right_one(refused):
    assert refused('[vessel]\ngear="otb"')["vessel.gear"].endswith("Did you mean 'OTB'?")


def test_a_figure_in_place_of_a_table_is_refused(refused):
    assert "write its name in brackets" in refused('gear = "OTB"')["'gear'"]


def test_every_problem_of_a_profile_is_told_at_once(refused):
    text = '[vessel]\ngear="XX"\nspeed=1\n[gear]\nrig="x"\nwarp=1\ndepth="9km"\n[current]\ndrift="1kn"\n[x]'
    assert list(refused(text)) == [
        "vessel.gear",
        "gear.warp",
        "gear.depth",
        "gear.rig",
        "current.drift",
        "vessel.'speed'",
        "['x']",
    ]


def test_what_stands_in_a_file_cannot_write_control_characters(refused):
    problems = refused('[gear]\n"\\u001b[2J" = 1\nrig = "\\u001b[1m"\n["\\u0007"]\n')
    assert len(problems) == 3
    assert all("\x1b" not in f"{where}{message}" for where, message in problems.items())
    assert all("\x07" not in f"{where}{message}" for where, message in problems.items())


@pytest.mark.parametrize(
    "data",
    [b"[gear", b"\xff\xfe", b"a = " + b"9" * 5000, b"a = " + b"[" * 100_000, b"[a]\n[a]\n", b"a = 1\na = 2"],
)
def test_what_is_no_toml_is_refused_as_such(tmp_path, data):
    path = tmp_path / "vessel.toml"
    path.write_bytes(data)
    with pytest.raises(InputError, match="not a vessel profile"):
        read_vessel(str(path))


def test_no_name_is_in_two_tables():
    """So that a name in the wrong table can be sent to the right one."""
    names = [name for keys in PROFILE_KEYS.values() for name in keys]
    assert len(names) == len(set(names))


def test_a_warp_of_a_digit_too_many_is_refused(refused):
    found = refused('[gear]\nwarp = "3500m"\ndepth = "118m"\n')
    assert "30 times the depth" in found["gear.warp"]


def test_gear_that_would_be_carried_faster_than_it_is_towed_is_refused(refused):
    text = '[gear]\nwarp = "350m"\n[handling]\ntow_speed = "3kn"\n[current]\nset_deg = 90\ndrift = "3kn"\n'
    assert "no less than tow_speed" in refused(text)["current.drift"]


# Figures for planning.

PLANNING = '[handling]\nhauling_way = "1.5kn"\ntow_fuel = "180l/h"\n[current]\nstrongest = "0.8kn"\n'


@pytest.mark.parametrize("gear", ["", "[gear]\n"])
def test_figures_for_planning_are_read_with_and_without_a_gear(read, gear):
    file = read(f"{PLANNING}{gear}")
    assert file.vessel.plan == PlanFigures(hauling_way_kn=1.5, tow_fuel_l_per_h=180.0, strongest_kn=0.8)
    assert file.remarks == ()


def test_a_check_sees_nothing_of_the_figures_for_planning(read):
    with_them, without = read(f"{PLANNING}[gear]").vessel, read("[gear]").vessel
    assert with_them.figures == without.figures == GearFigures()
    assert without.plan == PlanFigures()


def test_a_strongest_current_stands_beside_a_steady_one(read):
    vessel = read('[gear]\n[current]\nset_deg=90\ndrift="0.5kn"\nstrongest="0.5kn"').vessel
    assert (vessel.figures.current, vessel.plan.strongest_kn) == (Current(set_deg=90.0, drift_kn=0.5), 0.5)


@pytest.mark.parametrize("form", PLAN_FIGURES, ids=lambda form: form.key)
def test_limits_of_planning_are_allowed_and_beyond_them_is_refused(read, refused, form):
    for value in (form.low, form.high):
        vessel = read(f'[{form.table}]\n{form.key} = "{value}{form.unit}"').vessel
        assert getattr(vessel.plan, form.field) == value
    outside = [form.high * 1.01, *([form.low * 0.99] if form.low else [])]
    for value in outside:
        message = refused(f'[{form.table}]\n{form.key} = "{value}{form.unit}"')[f"{form.table}.{form.key}"]
        assert f"allowed is {form.low:g} to {form.high:g} {form.unit}" in message
        assert form.what in message


@pytest.mark.parametrize(
    ("line", "where", "words"),
    [
        ('[handling]\ntow_fuel = "180"', "handling.tow_fuel", "no unit; write for example 180l/h"),
        ("[handling]\ntow_fuel = 180", "handling.tow_fuel", "no unit; write for example 180l/h"),
        ('[handling]\ntow_fuel = "40gal/h"', "handling.tow_fuel", "gallons differ"),
        ('[handling]\ntow_fuel = "180L/h"', "handling.tow_fuel", "write l/h"),
        ('[handling]\nhauling_way = "1.5"', "handling.hauling_way", "no unit"),
        ("[current]\nstrongest = 1", "current.strongest", "no unit"),
        ('[handling]\nstrongest = "1kn"', "handling.'strongest'", "belongs in the table [current]"),
        ('[handling]\nhaulingway = "1kn"', "handling.'haulingway'", "Did you mean 'hauling_way'?"),
        (
            '[gear]\n[current]\nset_deg = 0\ndrift = "0.6kn"\nstrongest = "0.5kn"',
            "current.strongest",
            "less than drift, 0.6 kn",
        ),
        (
            '[gear]\n[handling]\ntow_speed = "2kn"\n[current]\nstrongest = "2kn"',
            "current.strongest",
            "no less than tow_speed, 2 kn",
        ),
    ],
)
def test_figures_for_planning_that_make_no_sense_are_refused_with_what_to_do(refused, line, where, words):
    problems = refused(line)
    assert list(problems) == [where]
    assert words in problems[where]
