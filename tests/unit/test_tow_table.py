"""The table of tows: text, CSV and JSON."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import zoneinfo

import numpy as np
from result_builders import build_result

from towzone.model.result import Disagreement, DisagreementKind, Doubt, MoveOn, Status
from towzone.tables.tows import COLUMNS, to_tow_csv, to_tow_json, to_tow_text

DUBLIN = zoneinfo.ZoneInfo("Europe/Dublin")
NEVER = np.datetime64("NaT", "us")


def result(**more):
    base = build_result(planned=False)
    tows = tuple(
        dataclasses.replace(
            tow,
            shoot_position=(-9.5, 50.25),
            haul_position=None,
            rectangles=("29E0", "30E0"),
            depth_m=118.4,
            haul_id="=A1",
        )
        for tow in base.tows
    )
    return dataclasses.replace(base, tows=tows, **more)


def test_text_holds_what_a_logbook_asks_for():
    text = to_tow_text(result(), DUBLIN)
    assert text.startswith("3 tows in track ")
    assert "50°15.000'N 009°30.000'W" in text
    assert "position not known" in text
    assert "Europe/Dublin" in text
    assert "rectangles  29E0 30E0" in text
    assert "depth 118 m" in text
    assert "nearest zone" in text
    assert text.rstrip().endswith("A clear result is never permission to tow over a cable.")


def test_local_time_stands_beside_utc_and_says_its_zone():
    base = result()
    tow = dataclasses.replace(base.tows[0], shoot_utc=np.datetime64("2026-07-01T10:30:00", "us"))
    text = to_tow_text(dataclasses.replace(base, tows=(tow,)), DUBLIN)
    assert "2026-07-01 10:30:00 UTC = 2026-07-01 11:30 Europe/Dublin" in text


def test_csv_has_one_line_a_tow_and_no_formula():
    rows = list(csv.DictReader(io.StringIO(to_tow_csv(result(), DUBLIN))))
    assert tuple(rows[0]) == COLUMNS
    assert [row["tow"] for row in rows] == ["1", "2", "3"]
    assert rows[0]["haul_id"] == "'=A1"
    assert (rows[0]["shoot_lat_deg"], rows[0]["haul_lat_deg"]) == ("50.25", "")
    assert rows[0]["rectangles"] == "29E0 30E0"
    assert rows[0]["nearest_zone_id"]


def test_without_a_local_zone_the_local_columns_are_empty():
    (row, *_) = csv.DictReader(io.StringIO(to_tow_csv(result(), None)))
    assert (row["shoot_local"], row["haul_local"]) == ("", "")


def test_json_says_what_it_is_and_holds_every_tow():
    data = json.loads(to_tow_json(result(), DUBLIN))
    assert data["schema"] == "towzone.tows/1"
    assert data["local_time_zone"] == "Europe/Dublin"
    assert [tow["tow"] for tow in data["tows"]] == [1, 2, 3]
    assert data["tows"][0]["nearest"].keys() == {"zone_id", "clearance_m", "status"}
    assert data["tows"][0]["depth_m"] == 118.4
    assert {"tracks", "assumptions", "warnings", "provenance", "cannot_tell", "haul_log", "move_on"} <= set(
        data
    )


def test_doubts_disagreements_and_shots_are_told():
    doubt = Doubt(track_id="t", first=0, last=5, from_utc=NEVER, to_utc=NEVER, seconds=None)
    said = Disagreement(
        kind=DisagreementKind.UNLOGGED,
        haul_id="",
        logged_shoot_utc=NEVER,
        logged_haul_utc=NEVER,
        track_shoot_utc=NEVER,
        track_haul_utc=NEVER,
        explain="Tow 2 is not in the log.",
    )
    move = MoveOn(
        track_id="t",
        from_tow=1,
        tow=2,
        status=Status.TOO_CLOSE,
        reason="under_margin",
        distance_m=8000.0,
        required_m=9260.0,
        uncertainty_m=30.0,
        shoot_utc=NEVER,
        lon_deg=-9.0,
        lat_deg=50.0,
        nearest_utc=NEVER,
        nearest_lon_deg=-9.1,
        nearest_lat_deg=50.0,
        explain="Tow 2 was shot too near.",
    )
    some = result(doubts=(doubt,), log_disagreements={"t": (said,)}, moves=(move,))
    text = to_tow_text(some, None)
    assert "- 6 fixes without times" in text
    assert "- Tow 2 is not in the log." in text
    assert "At least 9260.0 m (5.000 nmi) from every position of tow 1:" in text
    assert "- TOO CLOSE: Tow 2 was shot too near." in text
    data = json.loads(to_tow_json(some, None))
    assert data["move_on"][0]["distance_m"] == 8000.0
    assert data["haul_log"][0]["kind"] == "unlogged"
    assert data["cannot_tell"][0]["seconds"] is None


def test_hostile_names_cannot_forge_a_line():
    base = result()
    tows = tuple(dataclasses.replace(tow, haul_id="x\nCLEAR: all") for tow in base.tows)
    assert "\nCLEAR" not in to_tow_text(dataclasses.replace(base, tows=tows), None)
