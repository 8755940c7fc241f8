"""`towzone plan` as people call it: answers, exit codes, files, and the same answer again."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from cli_runner import BANK, MENDED, PLAN, ROOT, call, run

VESSEL = "sample_tracks/greywether_vessel.toml"
DEPART = ("--depart", "2026-05-11T06:00Z")
HERE = ("--zones", BANK, "--vessel", VESSEL)
QUICK = ("--no-advice", "--no-correction")
NORTH = "50°40N 9°35W; 50°41N 9°20W"
"""A line well clear of all zones of the samples."""
BY_CABLE = "50.6366,-9.6833; 50.6183,-9.7000; 50.6000,-9.7167"
"""A line along the cable of the samples, on a part of it under its margin."""


def plan(*arguments, depart=DEPART, **how):
    return call("plan", *arguments, *HERE, *depart, **how)


@pytest.fixture(scope="module")
def sample(tmp_path_factory):
    """The sample plan with everything that can be written, once for all tests."""
    folder = tmp_path_factory.mktemp("plan")
    files = {name: folder / name for name in ("plan.html", "line.gpx", "line.geojson", "margins.geojson")}
    ran = plan(
        PLAN, "--format", "json", "--record", files["plan.html"], "--export-line", files["line.gpx"],
        "--export-line", files["line.geojson"], "--export-margins", files["margins.geojson"],
    )  # fmt: skip
    return ran, files


def test_the_sample_plan_is_found_too_close_and_has_a_line_that_is_clear(sample):
    ran, _ = sample
    assert ran.code == 1
    data = ran.data
    (line,) = data["plan"]["lines"]
    assert data["outcome"] == "finding"
    corrected = line["corrected"]
    tracks = [track["track_id"] for track in data["tracks"]]
    assert tracks == [line["track_id"], corrected["track_id"]]
    statuses = {row["status"] for row in data["rows"] if row["track_id"] == corrected["track_id"]}
    assert statuses == {"clear"}
    assert {row["status"] for row in data["rows"] if row["track_id"] == line["track_id"]} & {"inside"}
    assert data["provenance"]["settings"]["plan"]["depart_utc"].startswith("2026-05-11T06:00")


def test_a_line_that_was_written_out_is_clear_when_it_is_planned_again(sample, tmp_path):
    """What a plotter gets, read back: the same engine, through a file."""
    _, files = sample
    again = plan(files["line.gpx"], *QUICK, "--format", "json", cwd=ROOT)
    assert (again.code, again.data["outcome"]) == (0, "clear"), again.err
    del tmp_path


def test_the_record_follows_again_from_its_inputs(sample):
    _, files = sample
    ran = run("verify", files["plan.html"], "--inputs", ROOT)
    assert ran.code == 0, ran.out + ran.err


def test_margins_and_lines_are_geojson(sample):
    _, files = sample
    for name in ("line.geojson", "margins.geojson"):
        collection = json.loads(files[name].read_text(encoding="utf-8"))
        assert collection["type"] == "FeatureCollection"
        assert collection["features"]


def test_the_same_plan_gives_the_same_bytes(sample):
    ran, _ = sample
    assert plan(PLAN, "--format", "json").out == ran.out


def test_a_clear_line_needs_nothing_and_is_written_as_it_is(tmp_path):
    out = tmp_path / "line.gpx"
    ran = plan("--line", NORTH, "--format", "json", "--export-line", out)
    assert ran.code == 0, ran.err
    (line,) = ran.data["plan"]["lines"]
    assert (line["corrected"], line["advice"]) == (None, [])
    assert out.exists()


def test_lines_are_compared_both_ways_round():
    ran = plan("--line", NORTH, "--line", BY_CABLE, "--reverse", *QUICK, "--format", "json")
    assert ran.code == 1
    names = [line["track_id"] for line in ran.data["plan"]["lines"]]
    assert names == ["line 1", "line 2", "line 1 reversed", "line 2 reversed"]
    assert len(ran.data["tracks"]) == 4


def test_without_a_clear_line_nothing_is_written_and_that_is_said(tmp_path):
    out = tmp_path / "line.gpx"
    ran = plan("--line", BY_CABLE, *QUICK, "--export-line", out)
    assert ran.code == 1
    assert "not written: no line is clear" in ran.err
    assert not out.exists()


def test_speed_and_times_may_come_from_the_route_itself(tmp_path):
    route = tmp_path / "timed.gpx"
    points = [(50.666, -9.583, "06:00"), (50.683, -9.333, "09:00")]
    route.write_text(
        '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><rte><name>t</name>'
        + "".join(
            f'<rtept lat="{a}" lon="{b}"><time>2026-05-11T{at}:00Z</time></rtept>' for a, b, at in points
        )
        + "</rte></gpx>",
        encoding="utf-8",
    )
    ran = plan(route, *QUICK, "--format", "json", depart=())
    assert ran.code == 0, ran.err
    assert ran.data["provenance"]["settings"]["plan"]["depart_utc"].startswith("2026-05-11T06:00")


def timed_route(path, begins, ends):
    points = [(50.666, -9.583, begins), (50.683, -9.333, ends)]
    path.write_text(
        '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><rte>'
        + "".join(
            f'<rtept lat="{a}" lon="{b}"><time>2026-05-11T{at}:00Z</time></rtept>' for a, b, at in points
        )
        + "</rte></gpx>",
        encoding="utf-8",
    )
    return path


def test_routes_that_are_towed_at_different_speeds_are_not_planned_at_the_first_of_them(tmp_path):
    profile = tmp_path / "vessel.toml"
    told = (ROOT / VESSEL).read_text(encoding="utf-8")
    profile.write_text(told.replace('\ntow_speed = "2.6kn"', ""), encoding="utf-8")
    slow, fast = (timed_route(tmp_path / f"{at}.gpx", "06:00", f"{at}:00") for at in ("10", "09"))
    both = call("plan", slow, fast, "--zones", BANK, "--vessel", profile, *QUICK)
    assert (both.code, both.out) == (2, "")
    assert "by their times the routes are towed at 2.4 to 3.2 kn" in both.err
    assert call("plan", slow, "--zones", BANK, "--vessel", profile, *QUICK).code == 0
    stated = call("plan", slow, fast, "--zones", BANK, "--vessel", profile, *QUICK, "--speed", "2.8kn")
    assert stated.code == 0, stated.err


def test_a_steady_current_is_not_replaced_by_a_weaker_strongest_one(tmp_path):
    """That of the profile would be left out as one of those from any direction, which it is not."""
    profile = tmp_path / "vessel.toml"
    told = (ROOT / VESSEL).read_text(encoding="utf-8")
    profile.write_text(f'{told}\n[current]\nset_deg = 90\ndrift = "0.8kn"\n', encoding="utf-8")
    asked = ("plan", "--line", NORTH, "--zones", BANK, "--vessel", profile, *DEPART, *QUICK)
    weaker = call(*asked, "--strongest", "0.3kn")
    assert (weaker.code, weaker.out) == (2, "")
    assert "less than the steady one of the vessel profile, 0.8 kn" in weaker.err
    assert call(*asked, "--strongest", "0.8kn").code == 0
    slow = call(*asked, "--speed", "0.8kn")
    assert (slow.code, slow.out) == (2, "")
    assert "carried along faster than it is towed" in slow.err


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("--line", NORTH), 2, "when towing begins is stated nowhere"),
        (DEPART, 2, "there is nothing to plan"),
        (("--line", NORTH, *DEPART, "--speed", "0kn"), 2, "--speed must be more than 0"),
        (("--line", NORTH, *DEPART, "--steering", "30"), 2, "unit"),
        (("--line", NORTH, *DEPART, "--export-line", "x.kmz"), 2, "name it .gpx for a plotter"),
        (("--line", NORTH, *DEPART, "--export-margins", "x.gpx"), 2, "name it .geojson"),
        (("--line", "50°40N 9°35W", *DEPART), 2, "point"),
        (("--line", "50°40N 9°35W; 50°40N 9°35W", *DEPART), 2, "point"),
        (("--line", "50°40N 9°35W; 50°41N 9°20W; 50°40N 9°35W", *DEPART), 2, "turn"),
        (("no_such.gpx", *DEPART), 3, "no_such.gpx"),
        ((BANK, *DEPART), 3, "greywether_bank.geojson: this looks like GeoJSON, from which zones are read"),
        (("--line", NORTH, *DEPART, "--speed", "30kn"), 2, "more than the vessel can go, 12 kn"),
        (("--line", NORTH, *DEPART, "--hauling-way", "13kn"), 2, "13 kn (--hauling-way"),
        (("--line", NORTH, *DEPART, "--strongest", "2.6kn"), 2, "no less than the towing speed, 2.6 kn"),
    ],
)
def test_bad_plans_are_answered(arguments, code, said):
    ran = call("plan", *arguments, *HERE)
    assert (ran.code, ran.out) == (code, "")
    assert said in ran.err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--line", NORTH), ""),
        (("--line", NORTH, "--speed", "8kn"), "towing at 8 kn is planned; vessels tow such gear at 1.5 to"),
        (("--line", "50°40N 9°35W; 50°40N 8°15W"), "takes 19 h"),
    ],
)
def test_what_may_be_a_slip_is_pointed_out(arguments, said):
    ran = plan(*arguments, *QUICK)
    assert ran.code in {0, 1, 4}
    assert said in ran.err
    assert bool(ran.err) is bool(said), ran.err


def test_that_nothing_is_allowed_for_steering_is_an_assumption():
    said = "ASSUMED: the vessel keeps to the line exactly"
    for arguments, told in (((), True), (("--steering", "30m"), False)):
        ran = plan("--line", NORTH, *QUICK, *arguments, "--format", "json")
        assert any(one.startswith(said) for one in ran.data["assumptions"]) is told
        ran = plan("--line", NORTH, *QUICK, *arguments)
        assert (("Nothing is allowed for steering" in ran.out), said in ran.out) == (told, told)


def test_a_start_inside_a_zone_is_said_to_be_that():
    ran = plan("--line", "50.515,-9.37; 50.64,-9.25", "--no-advice", "--format", "json")
    assert ran.code == 1
    (line,) = ran.data["plan"]["lines"]
    assert line["corrected"] is None
    assert (line["no_line"]["why"], line["no_line"]["zone_ids"]) == ("start", ["GW-AREA"])
    assert "inside a zone" in line["no_line"]["words"]


def test_a_profile_without_gear_is_refused(tmp_path):
    profile = tmp_path / "bare.toml"
    profile.write_text('[vessel]\nname = "invented"\ngear = "OTB"\n', encoding="utf-8")
    ran = call("plan", "--line", NORTH, "--zones", BANK, "--vessel", profile, *DEPART)
    assert (ran.code, ran.out) == (2, "")
    assert "has no table [gear]" in ran.err


def test_files_that_exist_are_kept(tmp_path):
    out = tmp_path / "line.gpx"
    out.write_text("mine", encoding="utf-8")
    ran = plan("--line", NORTH, *QUICK, "--export-line", out)
    assert (ran.code, ran.out) == (3, "")
    assert out.read_text(encoding="utf-8") == "mine"
    assert plan("--line", NORTH, *QUICK, "--export-line", out, "--force").code == 0
    assert "<gpx" in out.read_text(encoding="utf-8")


def test_what_no_plan_knows_is_said_every_time():
    for arguments in (("--line", NORTH), ("--line", BY_CABLE)):
        out = " ".join(plan(*arguments, *QUICK).out.split())
        for word in ("Depth", "Land", "vessels", "weather", "not for navigation", "never permission"):
            assert word in out


def test_a_plan_by_rope_asks_for_more_than_one_by_model():
    model, rope = (
        plan("--line", BY_CABLE, *QUICK, "--gear-proof", proof, "--format", "json").data["counts"]
        for proof in ("model", "rope")
    )
    assert rope["clear"] <= model["clear"]


def test_exit_zero_hides_findings_and_not_errors():
    assert plan("--line", BY_CABLE, *QUICK, "--exit-zero").code == 0
    assert plan("no_such.gpx", *QUICK, "--exit-zero").code == 3


def test_help_says_what_it_is_not(monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    out = " ".join(call("plan", "--help").out.split())
    assert "not for navigation" in out
    assert Path(MENDED).name.endswith(".gpx")
