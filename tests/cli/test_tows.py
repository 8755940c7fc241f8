"""``towzone tows``, and tracks other than GPX, through the command line."""

from __future__ import annotations

import csv
import gzip
import io
import json
from dataclasses import replace

import pytest
from cli_runner import BANK, ROOT, call, run

from towzone.cli.check_request import CheckRequest
from towzone.cli.requests import check_files

TRIP = "sample_tracks/greywether_trip.gpx"
LOG = "sample_tracks/greywether_log.nmea"
REPORTS = "sample_tracks/greywether_reports.csv"
HAULS = "sample_tracks/greywether_hauls.csv"


def test_the_table_is_on_standard_output_in_a_process_of_its_own():
    ran = run("tows", TRIP)
    assert ran.code == 0
    assert ran.out.startswith("3 tows in track greywether_trip.\n")


@pytest.mark.parametrize(
    ("distance", "code"),
    [("5nmi", 0), ("9nmi", 0), ("10nmi", 1), ("17544m", 4)],
    ids=["clear", "clear still", "too near", "within the position error"],
)
def test_a_move_on_rule_sets_the_exit_code(distance, code):
    """Tow 2 was shot 17 551 m from tow 1, tow 3 farther."""
    assert call("tows", TRIP, "--move-on", distance, "--from-tow", "1").code == code


@pytest.mark.parametrize(
    "arguments",
    [
        ("tows",),
        ("tows", TRIP, "--move-on", "5nmi"),
        ("tows", TRIP, "--from-tow", "1"),
        ("tows", TRIP, "--move-on", "5nmi", "--from-tow", "0"),
        ("tows", TRIP, "--move-on", "5nmi", "--from-tow", "9"),
        ("tows", TRIP, "--towing", "sometimes"),
        ("tows", TRIP, "--local-tz", "Nowhere/Harbour"),
        ("tows", TRIP, "--date-order", "ymd"),
        ("tows", TRIP, "--year", "26"),
    ],
)
def test_2_when_the_command_line_makes_no_sense(arguments):
    ran = call(*arguments)
    assert (ran.code, ran.out) == (2, "")
    assert "Traceback" not in ran.err


def test_3_when_the_haul_log_is_missing_or_no_log(tmp_path):
    missing = call("tows", TRIP, "--towing", "none_such.csv")
    assert (missing.code, missing.out) == (3, "")
    (tmp_path / "h.csv").write_text("haul,begin\n1,now\n")
    refused = call("tows", ROOT / TRIP, "--towing", "h.csv", cwd=tmp_path)
    assert (refused.code, refused.out) == (3, "")
    assert "h.csv" in refused.err


def test_a_haul_log_names_its_hauls_and_tells_what_differs():
    data = json.loads(call("tows", TRIP, "--towing", HAULS, "--format", "json").out)
    assert [(tow["haul_id"], tow["basis"], tow["depth_m"]) for tow in data["tows"]] == [
        ("1", "log", 117.0),
        ("2", "log", 118.0),
        ("3", "log", 119.0),
    ]
    assert [item["kind"] for item in data["haul_log"]] == ["times_apart"]


def test_a_haul_log_is_not_applied_to_several_vessels(tmp_path):
    rows = "".join(f"{v},2026-05-12T0{h}:00:00Z,50.{h},-9.{v}\n" for v in (1, 2) for h in range(5))
    (tmp_path / "two.csv").write_text(f"vessel,time,lat,lon\n{rows}")
    ran = call("tows", "two.csv", "--towing", ROOT / HAULS, cwd=tmp_path)
    assert ran.code == 2
    assert "a haul log is one vessel's" in ran.err
    assert call("tows", "two.csv", "--towing", ROOT / HAULS, "--only", "2", cwd=tmp_path).code == 0


def test_csv_has_the_tows_and_standard_error_what_it_has_no_place_for():
    ran = call("tows", TRIP, "--towing", HAULS, "--format", "csv", "--zones", BANK)
    rows = list(csv.DictReader(io.StringIO(ran.out)))
    assert [row["nearest_zone_id"] for row in rows] == ["GW-AREA", "GW-CABLE", "GW-AREA"]
    assert "The haul log and the track disagree:" in ran.err
    assert call("tows", TRIP, "--towing", HAULS, "--format", "csv", "-q").err == ""


def test_a_table_is_written_to_a_file_and_never_over_what_it_reads(tmp_path):
    (tmp_path / "trip.gpx").write_bytes((ROOT / TRIP).read_bytes())
    assert call("tows", "trip.gpx", "-o", "tows.txt", cwd=tmp_path).code == 0
    assert (tmp_path / "tows.txt").read_text().startswith("3 tows")
    assert call("tows", "trip.gpx", "-o", "tows.txt", cwd=tmp_path).code == 3
    assert call("tows", "trip.gpx", "-o", "trip.gpx", "--force", cwd=tmp_path).code == 3
    assert (tmp_path / "trip.gpx").read_bytes() == (ROOT / TRIP).read_bytes()


@pytest.mark.parametrize("source", [LOG, REPORTS, TRIP])
def test_any_source_may_come_compressed_and_by_standard_input(source, tmp_path):
    plain = call("tows", source, "--format", "json")
    (tmp_path / "packed.dat").write_bytes(gzip.compress((ROOT / source).read_bytes()))
    packed = call("tows", "packed.dat", "--format", "json", cwd=tmp_path)
    assert packed.code == plain.code == 0
    one, two = json.loads(plain.out), json.loads(packed.out)
    without_names = [{k: v for k, v in tow.items() if k != "track_id"} for tow in one["tows"]]
    assert [{k: v for k, v in tow.items() if k != "track_id"} for tow in two["tows"]] == without_names
    assert two["tracks"][0]["fixes_used"] == one["tracks"][0]["fixes_used"]


def test_several_sources_of_one_vessel_are_one_track_with_an_account_of_every_fix():
    ran = call("check", TRIP, LOG, REPORTS, "--zones", BANK, "--format", "json")
    (track,) = json.loads(ran.out)["tracks"]
    assert track["fixes_read"] == track["fixes_used"] + sum(d["count"] for d in track["dropped"])
    assert {d["reason"] for d in track["dropped"]} == {"duplicate", "other_source"}
    assert ran.code == 1
    assert all(fix["line"] for d in track["dropped"] for fix in d["fixes"])


def test_reports_two_hours_apart_are_undetermined_near_a_zone_and_claim_no_tow():
    ran = call("check", REPORTS, "--zones", BANK, "--format", "json")
    result = json.loads(ran.out)
    assert (ran.code, result["tows"]) == (4, [])
    (track,) = result["tracks"]
    assert all(gap["seconds"] == 7200.0 for gap in track["gaps"])
    assert any(reach["tow_possible"] for gap in track["gaps"] for reach in gap["could_reach"])


def test_every_fix_left_out_is_listed_when_asked_for():
    ran = call("check", TRIP, LOG, "--zones", BANK, "-v")
    assert "left out: sample_tracks/greywether_log.nmea line" in ran.out
    assert "other source" in ran.out


def test_without_zones_the_gear_is_not_worked_out():
    request = CheckRequest(
        tracks=(str(ROOT / "sample_tracks" / "greywether_corner.gpx"),),
        vessel_file=str(ROOT / "sample_tracks" / "greywether_vessel.toml"),
    )
    assert check_files(request).gear is None
    assert check_files(replace(request, zone_files=(str(ROOT / BANK),))).gear.tows
