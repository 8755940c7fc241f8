"""JSON, CSV and GeoJSON of a result: every field of the schema, right types, valid by their own standards."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import math
import re

import numpy as np
import pytest
from cli_runner import BANK, GAP_TRIP, PLAN, PLOVER, RISE, TRIP, call, zones_text
from gear_results import build_gear_result
from oracles import GEOD, Lines, distance_to_line
from scenes import area, areas, around, box, check, fixes, line, moved, points, route, zone
from strategies import wrapped

from towzone.geodesy.lines import LineKind
from towzone.model.gear import Basis, Figure, FigureEffect, GearAccount, GearReach, GearTier, GearTow
from towzone.model.result import CheckResult, Part
from towzone.model.zone import ZoneKind
from towzone.tables.features import to_geodataframe, to_geojson
from towzone.tables.result_json import to_json
from towzone.tables.rows_csv import COLUMNS, to_csv

A = (-20.0, 57.0)
TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{3})?Z")
NUMBER, TEXT, LIST = (int, float), str, list


class Time:
    """RFC 3339 in UTC with Z."""


class Maybe:
    """The same or null."""

    def __init__(self, kind):
        self.kind = kind


ROW_SCHEMA = {
    "track_id": TEXT,
    "tow": Maybe(int),
    "activity": {"towing", "not_towing", "unknown"},
    "zone_id": TEXT,
    "part": {"vessel", "gear"},
    "status": {"inside", "too_close", "undetermined", "transit", "not_in_force", "clear"},
    "reason": TEXT,
    "clearance_m": Maybe(NUMBER),
    "margin_m": NUMBER,
    "uncertainty_m": NUMBER,
    "closest": Maybe(
        {
            "utc": Maybe(Time),
            "lat_deg": NUMBER,
            "lon_deg": NUMBER,
            "zone_lat_deg": NUMBER,
            "zone_lon_deg": NUMBER,
            "bearing_deg": Maybe(NUMBER),
        }
    ),
    "inside": [
        {
            "enter_utc": Maybe(Time),
            "enter_lat_deg": NUMBER,
            "enter_lon_deg": NUMBER,
            "leave_utc": Maybe(Time),
            "leave_lat_deg": NUMBER,
            "leave_lon_deg": NUMBER,
            "seconds": Maybe(NUMBER),
            "length_m": NUMBER,
            "min_speed_kn": Maybe(NUMBER),
            "mean_speed_kn": Maybe(NUMBER),
        }
    ],
    "close": [{"from_utc": Maybe(Time), "to_utc": Maybe(Time), "seconds": Maybe(NUMBER)}],
    "explain": TEXT,
    "gear": Maybe(
        {
            "nearest_part": TEXT,
            "tier": {"shown", "possible", "cannot_be_ruled_out", "proved_clear"},
            "sigmas": NUMBER,
            "likely_clearance_m": Maybe(NUMBER),
            "rope_clearance_m": Maybe(NUMBER),
            "flags": [TEXT],
        }
    ),
}
BASIS = {"stated", "track", "haul_log", "derived", "assumed"}
FIGURE_SCHEMA = {
    "name": TEXT,
    "value": Maybe(NUMBER),
    "sigma": Maybe(NUMBER),
    "low": Maybe(NUMBER),
    "high": Maybe(NUMBER),
    "unit": TEXT,
    "basis": BASIS,
    "source": TEXT,
}
EFFECT_SCHEMA = {
    "name": TEXT,
    "unit": TEXT,
    "value": Maybe(NUMBER),
    "basis": BASIS,
    "low_value": Maybe(NUMBER),
    "high_value": Maybe(NUMBER),
    "low_clearance_m": Maybe(NUMBER),
    "high_clearance_m": Maybe(NUMBER),
}
GEAR_SCHEMA = {
    "tows": [
        {
            "track_id": TEXT,
            "tow": int,
            "computed": bool,
            "why_not": TEXT,
            "layback_m": [Maybe(NUMBER)],
            "rope_bound_m": Maybe(NUMBER),
            "swept_m2": Maybe(NUMBER),
            "first_contact_utc": Maybe(Time),
            "last_contact_utc": Maybe(Time),
            "earliest_contact_utc": Maybe(Time),
            "latest_contact_utc": Maybe(Time),
            "figures": [FIGURE_SCHEMA],
            "flags": [{"kind": TEXT, "from_utc": Maybe(Time), "to_utc": Maybe(Time), "words": TEXT}],
        }
    ],
    "sensitivity": Maybe(
        {
            "track_id": TEXT,
            "tow": int,
            "zone_id": TEXT,
            "clearance_m": Maybe(NUMBER),
            "effects": [EFFECT_SCHEMA],
        }
    ),
}
SCHEMA = {
    "schema": {"towzone.result/1"},
    "outcome": {"finding", "undetermined", "clear"},
    "counts": dict.fromkeys(("inside", "too_close", "undetermined", "transit", "not_in_force", "clear"), int),
    "tracks": [
        {
            "track_id": TEXT,
            "source": TEXT,
            "kind": {"completed", "planned"},
            "fixes_read": int,
            "fixes_used": int,
            "dropped": [{"reason": TEXT, "count": int}],
            "start_utc": Maybe(Time),
            "end_utc": Maybe(Time),
            "length_m": NUMBER,
            "gaps": [{"from_utc": Maybe(Time), "to_utc": Maybe(Time), "seconds": Maybe(NUMBER)}],
        }
    ],
    "tows": [
        {
            "track_id": TEXT,
            "tow": int,
            "shoot_utc": Maybe(Time),
            "haul_utc": Maybe(Time),
            "seconds": Maybe(NUMBER),
            "length_m": NUMBER,
            "mean_speed_kn": Maybe(NUMBER),
            "rectangles": LIST,
            "basis": {"log", "detected", "all"},
        }
    ],
    "zones": [
        {
            "zone_id": TEXT,
            "name": TEXT,
            "kind": {kind.value for kind in ZoneKind},
            "edges": {kind.value for kind in LineKind},
            "margin_m": NUMBER,
            "source": TEXT,
            "in_force_during_track": bool,
        }
    ],
    "rows": [ROW_SCHEMA],
    "gear": Maybe(GEAR_SCHEMA),
    "assumptions": [TEXT],
    "warnings": [{"file": TEXT, "where": TEXT, "message": TEXT}],
    "provenance": {
        "towzone": TEXT,
        "inputs": [{"file": TEXT, "sha256": TEXT, "bytes": int}],
        "settings": dict,
        "methods": dict,
    },
}
"""What a reader of the JSON may rely on; more keys are allowed, none may be missing."""


def faults(value, schema, where=""):
    """Everything in which a value does not fit a schema."""
    if isinstance(schema, Maybe):
        return [] if value is None else faults(value, schema.kind, where)
    if schema is Time:
        return [] if isinstance(value, str) and TIME.fullmatch(value) else [f"{where}: {value!r} is no time"]
    if isinstance(schema, set):
        return [] if value in schema else [f"{where}: {value!r} is not one of {sorted(schema)}"]
    if isinstance(schema, dict):
        if not isinstance(value, dict):
            return [f"{where}: {value!r} is no object"]
        missing = [f"{where}.{key} is missing" for key in schema if key not in value]
        return missing + [
            f for k, s in schema.items() if k in value for f in faults(value[k], s, f"{where}.{k}")
        ]
    if isinstance(schema, list):
        if not isinstance(value, list):
            return [f"{where}: {value!r} is no list"]
        return [f for n, item in enumerate(value) for f in faults(item, schema[0], f"{where}[{n}]")]
    if isinstance(value, bool) and schema is not bool:
        return [f"{where}: {value!r} is a truth value"]
    return [] if isinstance(value, schema) else [f"{where}: {value!r} is no {schema}"]


SAMPLES = {"plan": (PLAN, BANK), "trip": (TRIP, BANK), "gap": (GAP_TRIP, BANK), "plover": (PLOVER, RISE)}


@pytest.fixture(scope="module", params=SAMPLES)
def sample(request):
    """One sample in all three forms."""
    track, zones = SAMPLES[request.param]
    return {f: call("check", track, "--zones", zones, "--format", f).out for f in ("json", "csv", "geojson")}


def refuse(token):
    raise AssertionError(f"{token} is not JSON")


def mixed() -> CheckResult:
    """Every status and oddity in one result: unknown times, lone fixes, all kinds of shape, 180 degrees."""
    zones = [
        zone(area(around(A, 3000.0), around(A, 300.0)), zone_id="ring"),
        zone(points(A), ZoneKind.SAFETY_ZONE, radius_m=500.0, zone_id="=1+1"),
        zone(line(moved(A, 0.0, 9000.0), moved(A, 90.0, 9000.0)), ZoneKind.CABLE, zone_id="cable"),
        zone(areas([box(179, 10, 180, 11)], [box(-180, 10, -179, 11)]), edges=LineKind.RHUMB, zone_id="cut"),
        zone(area(box(178, 20, -178, 21)), edges=LineKind.GEODESIC, zone_id="across"),
    ]
    tracks = [
        fixes([moved(A, 90.0, 5000.0), A, moved(A, 0.0, 6000.0)], [0.0, 700.0, 9000.0]),
        fixes([(179.5, 10.5), (-179.5, 10.6)], [None, None], track_id="untimed"),
        route([(177.5, 19.9), (-177.5, 21.1)], track_id="@route"),
    ]
    return check(tracks, zones)


# JSON.


def test_the_json_of_a_sample_has_every_field_with_the_right_type(sample):
    assert faults(json.loads(sample["json"], parse_constant=refuse), SCHEMA) == []


def test_the_json_of_an_odd_scene_has_every_field_with_the_right_type():
    data = json.loads(to_json(mixed()), parse_constant=refuse)
    assert faults(data, SCHEMA) == []
    assert {row["status"] for row in data["rows"]} >= {"inside", "undetermined"}


def test_the_schema_of_this_test_can_fail():
    data = json.loads(to_json(mixed()))
    del data["rows"][0]["margin_m"]
    data["outcome"] = "violation"
    data["tracks"][0]["start_utc"] = "2026-03-01T06:00:00"
    assert len(faults(data, SCHEMA)) == 3


def test_json_has_sorted_keys_and_ends_with_one_line_end(sample):
    text = sample["json"]
    assert text == json.dumps(json.loads(text), sort_keys=True, indent=1, ensure_ascii=False) + "\n"


def test_json_rounds_to_what_it_promises_and_knows_no_minus_zero(sample):
    def walk(value, key=""):
        if isinstance(value, dict):
            for k, v in value.items():
                walk(v, k)
        elif isinstance(value, list):
            for v in value:
                walk(v, key)
        elif isinstance(value, float):
            digits = 7 if key.endswith("_deg") and key != "bearing_deg" else 2
            assert round(value, digits) == value or key not in KNOWN, (key, value)
            assert math.copysign(1.0, value) > 0 or value != 0.0

    data = json.loads(sample["json"])
    walk(data["rows"])
    walk(data["tracks"])


KNOWN = {"clearance_m", "margin_m", "lat_deg", "lon_deg", "zone_lat_deg", "zone_lon_deg", "length_m"}


def test_every_coordinate_of_the_json_is_in_range():
    for row in json.loads(to_json(mixed()))["rows"]:
        for place in [row["closest"] or {}, *row["inside"]]:
            for key, value in place.items():
                limit = 180.0 if "lon_deg" in key else 90.0
                assert not key.endswith(("lon_deg", "lat_deg")) or abs(value) <= limit, (key, value)


def test_counts_of_the_json_add_up(sample):
    data = json.loads(sample["json"])
    per_status = dict.fromkeys(data["counts"], 0)
    for row in data["rows"]:
        per_status[row["status"]] += 1
    per_status["clear"] += data["beyond_reach"]
    assert per_status == data["counts"]


def test_inputs_are_named_with_their_hashes(sample):
    import hashlib

    from cli_runner import ROOT

    for entry in json.loads(sample["json"])["provenance"]["inputs"]:
        data = (ROOT / entry["file"]).read_bytes()
        assert (entry["sha256"], entry["bytes"]) == (hashlib.sha256(data).hexdigest(), len(data))


def test_everything_that_changes_an_answer_is_in_the_provenance():
    """Enough to do the same check again: every option, defaults included."""
    options = (
        "--depart",
        "2026-05-12T06:30Z",
        "--speed",
        "3kn",
        "--edges",
        "rhumb",
        "--track-tz",
        "Europe/Dublin",
    )
    plain, given = (call("check", PLAN, "--zones", BANK, "--format", "json", *o).data for o in ((), options))
    settings = given["provenance"]["settings"]
    for fact in ("rhumb", "Europe/Dublin"):
        assert fact in json.dumps(settings)
    assert re.search(r"2026-05-12T06:30(:00)?Z", json.dumps(settings))
    changed = {k for k in settings if settings[k] != plain["provenance"]["settings"].get(k)}
    assert len(changed) >= 4


def test_edges_given_on_the_command_line_are_said_to_be_assumed(tmp_path):
    """The file does not state them; a reader of the result must see who did."""
    from cli_runner import ROOT

    text = json.loads(zones_text(({"type": "Point", "coordinates": [-9.0, 50.0]}, {"kind": "cable"})))
    text["features"][0]["geometry"] = {"type": "LineString", "coordinates": [[-9.5, 50.0], [-9.0, 50.5]]}
    del text["features"][0]["properties"]["edges"]
    (tmp_path / "z.geojson").write_text(json.dumps(text))
    ran = call(
        "check", ROOT / PLAN, "--zones", "z.geojson", "--edges", "rhumb", "--format", "json", cwd=tmp_path
    )
    assert any("edges" in line for line in ran.data["assumptions"])


# The gear.


@pytest.fixture(scope="module")
def with_gear() -> CheckResult:
    return build_gear_result(planned=False)


def test_the_json_of_a_result_with_gear_has_every_field_with_the_right_type(with_gear):
    data = json.loads(to_json(with_gear), parse_constant=refuse)
    assert faults(data, SCHEMA) == []
    assert [tow["computed"] for tow in data["gear"]["tows"]] == [True, True, False]
    assert {row["gear"] is None for row in data["rows"] if row["part"] == "vessel"} == {True}
    assert {row["gear"] is None for row in data["rows"] if row["part"] == "gear"} == {False}


def test_a_result_without_figures_of_the_gear_says_null(sample):
    data = json.loads(sample["json"])
    assert data["gear"] is None
    assert {row["gear"] for row in data["rows"]} == {None}


def test_a_tow_whose_gear_was_not_computed_has_null_for_every_number(with_gear):
    tow = json.loads(to_json(with_gear))["gear"]["tows"][2]
    assert tow["why_not"].startswith("The haul log gives no warp")
    assert tow["layback_m"] == [None, None]
    numbers = ("rope_bound_m", "swept_m2", "first_contact_utc", "last_contact_utc")
    assert [tow[key] for key in (*numbers, "earliest_contact_utc", "latest_contact_utc")] == [None] * 6


def test_the_json_keeps_what_the_model_says_of_the_gear(with_gear):
    data = json.loads(to_json(with_gear))["gear"]
    tow, drift = data["tows"][0], data["sensitivity"]["effects"][0]
    assert tow["layback_m"] == [327.0, 334.0]
    assert (tow["first_contact_utc"], tow["last_contact_utc"]) == (
        "2026-03-01T04:09:00Z",
        "2026-03-01T06:20:00Z",
    )
    assert (tow["earliest_contact_utc"], tow["latest_contact_utc"]) == (
        "2026-03-01T04:03:00Z",
        "2026-03-01T06:24:00Z",
    )
    assert tow["figures"][2] == {
        "name": "door_spread",
        "value": 80.0,
        "sigma": 12.0,
        "low": 60.0,
        "high": 105.0,
        "unit": "m",
        "basis": "derived",
        "source": "from the warps 8.7 m apart 3 m down",
    }
    assert [flag["kind"] for flag in tow["flags"]] == ["slack", "settling"]
    assert (tow["flags"][0]["from_utc"], tow["flags"][1]["from_utc"]) == ("2026-03-01T04:43:00Z", None)
    least = min(row.clearance_m for row in with_gear.rows if row.part is Part.GEAR)
    assert data["sensitivity"]["clearance_m"] == least
    assert (drift["low_value"], drift["high_value"]) == (-0.5, 0.5)
    assert (drift["low_clearance_m"], drift["high_clearance_m"]) == (
        round(least - 66, 2),
        round(least + 66, 2),
    )
    assert data["sensitivity"]["effects"][2]["low_clearance_m"] is None


def test_no_number_of_the_gear_is_ever_nan_or_minus_zero(with_gear):
    strange = Figure(
        name="warp",
        value=math.nan,
        sigma=math.inf,
        unit="m",
        basis=Basis.ASSUMED,
        source="=cmd",
        low=-0.0,
        high=-0.001,
    )
    effect = FigureEffect(
        figure=strange,
        low_value=math.nan,
        high_value=-math.inf,
        low_clearance_m=math.nan,
        high_clearance_m=-0.0,
    )
    rows = tuple(
        dataclasses.replace(
            row,
            gear=GearReach(
                nearest_part="=net",
                tier=GearTier.SHOWN,
                sigmas=math.nan,
                likely_clearance_m=math.nan,
                rope_clearance_m=-math.inf,
            ),
        )
        for row in with_gear.rows
    )
    tow = dataclasses.replace(with_gear.gear.tows[0], figures=(strange,), rope_bound_m=math.inf)
    account = dataclasses.replace(
        with_gear.gear, tows=(tow,), effects=(effect,), effects_clearance_m=math.nan
    )
    result = dataclasses.replace(with_gear, rows=rows, gear=account)
    data = json.loads(to_json(result), parse_constant=refuse)
    figure = data["gear"]["tows"][0]["figures"][0]
    assert [figure[key] for key in ("value", "sigma", "low", "high")] == [None, None, 0.0, 0.0]
    assert "-0.0" not in json.dumps(data["gear"])
    assert data["rows"][0]["gear"]["likely_clearance_m"] is None
    check_geojson(to_geojson(result))
    (first, *_) = csv.DictReader(io.StringIO(to_csv(result), newline=""))
    assert (first["gear_nearest_part"], first["gear_likely_clearance_m"]) == ("'=net", "")
    assert "nan" not in to_csv(result).lower()


def test_the_csv_tells_of_the_gear_in_its_last_columns(with_gear):
    assert COLUMNS[-4:] == (
        "gear_nearest_part",
        "gear_tier",
        "gear_likely_clearance_m",
        "gear_rope_clearance_m",
    )
    rows = list(csv.DictReader(io.StringIO(to_csv(with_gear), newline="")))
    for got, row in zip(rows, with_gear.rows, strict=True):
        told = [got[column] for column in COLUMNS[-4:]]
        if row.gear is None:
            assert told == [""] * 4
            continue
        reach = row.gear
        numbers = [round(reach.likely_clearance_m, 2), round(reach.rope_clearance_m, 2)]
        assert told[:2] == [reach.nearest_part, reach.tier.value]
        assert [float(value) for value in told[2:]] == numbers


@pytest.mark.parametrize("place", [(-18.6, 63.1), (180.02, -17.3)], ids=["plain", "across-180"])
def test_the_geojson_has_a_path_for_each_part_and_the_corridors_of_each_tow(place):
    result = build_gear_result(lon0=place[0], lat0=place[1], planned=False)
    features = check_geojson(to_geojson(result))["features"]
    paths = [f for f in features if f["properties"]["feature"] == "gear_path"]
    areas = [f for f in features if f["properties"]["feature"] == "gear_corridor"]
    parts = ("port door", "starboard door", "net")
    assert [(f["properties"]["tow"], f["properties"]["part"]) for f in paths] == [
        (tow, part) for tow in (1, 2) for part in parts
    ]
    assert [(f["properties"]["tow"], f["properties"]["part"]) for f in areas] == [
        (tow, part) for tow in (1, 2) for part in ("doors", "net", "likely")
    ]
    assert {f["geometry"]["type"] for f in paths} <= {"LineString", "MultiLineString"}
    assert {f["geometry"]["type"] for f in areas} == {"MultiPolygon"}
    assert {f["properties"]["track_id"] for f in paths + areas} == {"Invented trip"}
    for tow in result.gear.tows[:2]:
        own = {f["properties"]["part"]: f for f in areas if f["properties"]["tow"] == tow.tow}
        assert own["doors"]["properties"]["swept_m2"] == round(tow.swept_m2, 2)
        assert "swept_m2" not in own["likely"]["properties"]
        for part, polygons in (("doors", tow.corridor), ("net", tow.net_corridor), ("likely", tow.likely)):
            runs = [run for run, _ in coordinates(own[part]["geometry"])]
            wanted = [ring for polygon in polygons for ring in polygon]
            area, whole = (
                sum(GEOD.polygon_area_perimeter(*np.array(run).T)[0] for run in some)
                for some in (runs, wanted)
            )
            # Positions are written to 1e-7 degrees: 1 cm along edges of some 60 km.
            np.testing.assert_allclose(area, abs(whole), rtol=0, atol=600.0)


def test_the_parts_of_a_path_cut_at_180_degrees_are_all_of_it():
    result = build_gear_result(lon0=180.02, lat0=-17.3, planned=False)
    features = json.loads(to_geojson(result))["features"]
    crossing = 0
    for path in result.gear.tows[0].lines:
        (found,) = [
            f["geometry"]
            for f in features
            if f["properties"].get("feature") == "gear_path"
            and (f["properties"]["tow"], f["properties"]["part"]) == (1, path.part)
        ]
        crossing += found["type"] == "MultiLineString"
        length = sum(GEOD.line_length(*np.array(run).T) for run, _ in coordinates(found))
        # Positions are written to 1e-7 degrees, 1 cm, and there are about 1600 of them.
        np.testing.assert_allclose(length, GEOD.line_length(path.lon_deg, path.lat_deg), rtol=0, atol=16.0)
    assert crossing == 3


def test_stretches_of_one_part_are_one_feature(with_gear):
    tow = with_gear.gear.tows[0]
    line = tow.lines[0]
    halves = [
        dataclasses.replace(
            line,
            lon_deg=line.lon_deg[cut],
            lat_deg=line.lat_deg[cut],
            place=line.place[cut],
            time_s=line.time_s[cut],
        )
        for cut in (slice(0, 40), slice(60, 90), slice(95, 96))
    ]
    account = GearAccount(tows=(dataclasses.replace(tow, lines=tuple(halves)),))
    features = json.loads(to_geojson(dataclasses.replace(with_gear, gear=account)))["features"]
    (path,) = [f for f in features if f["properties"]["feature"] == "gear_path"]
    assert path["geometry"]["type"] == "MultiLineString"
    assert [len(run) for run in path["geometry"]["coordinates"]] == [40, 30]


def test_a_hole_in_a_corridor_stays_a_hole(with_gear):
    shell = np.array([(179.9, 10.0), (180.3, 10.0), (180.3, 10.2), (179.9, 10.2)])
    hole = np.array([(-179.9, 10.05), (-179.9, 10.1), (-179.8, 10.1), (-179.9, 10.05)])
    tow = GearTow(track_id="t", tow=1, likely=((shell, hole),))
    result = dataclasses.replace(with_gear, gear=GearAccount(tows=(tow,)))
    features = check_geojson(to_geojson(result))["features"]
    (area,) = [f for f in features if f["properties"]["feature"] == "gear_corridor"]
    assert sorted(ring for _, ring in coordinates(area["geometry"])) == ["hole", "shell", "shell"]


def test_a_closest_approach_of_the_gear_says_so_in_flat_properties(with_gear):
    features = json.loads(to_geojson(with_gear))["features"]
    rows = [f["properties"] for f in features if f["properties"]["feature"] == "closest_approach"]
    assert {"gear" in row for row in rows} == {False}
    assert {row["part"] for row in rows if "gear_tier" in row} == {"gear"}
    assert {row["part"] for row in rows if "gear_tier" not in row} == {"vessel"}
    assert "gear_nearest_part" in to_geodataframe(with_gear).columns


# CSV.


def test_csv_has_one_header_and_one_line_for_each_row(sample):
    rows = list(csv.DictReader(io.StringIO(sample["csv"], newline="")))
    wanted = json.loads(sample["json"])["rows"]
    assert sample["csv"].split("\n")[0] == ",".join(COLUMNS)
    assert len(rows) == len(wanted)
    for got, row in zip(rows, wanted, strict=True):
        assert (got["zone_id"], got["status"], got["reason"]) == (
            row["zone_id"],
            row["status"],
            row["reason"],
        )
        assert got["clearance_m"] == ("" if row["clearance_m"] is None else str(row["clearance_m"]))
        assert got["stays_inside"] == str(len(row["inside"]))
        assert None not in got


def test_no_cell_of_the_csv_would_be_run_as_a_formula():
    text = to_csv(mixed())
    cells = [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]
    assert "'=1+1" in cells
    assert "'@route" in cells
    for cell in cells:
        number = re.fullmatch(r"-?\d+(\.\d+)?", cell)
        assert number or not cell.startswith(("=", "+", "-", "@", "\t", "\r")), cell


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_name_of_a_zone_cannot_start_a_formula_or_a_line(start):
    shut = zone(area(around(A, 3000.0)), zone_id="Z", name=f'{start}cmd|"/c calc",\n"x')
    text = to_csv(check(fixes([A], [0.0]), shut))
    (row,) = csv.DictReader(io.StringIO(text, newline=""))
    assert row["zone_name"].lstrip()[:1] not in ("=", "+", "-", "@")
    assert "cmd|" in row["zone_name"]
    assert row["status"] == "inside"


# GeoJSON.


def coordinates(geometry):
    """Every run of positions of a geometry with whether it is a ring, and whether a hole."""
    kind, found = geometry["type"], geometry.get("coordinates")
    if kind == "GeometryCollection":
        for part in geometry["geometries"]:
            yield from coordinates(part)
    elif kind == "Point":
        yield [found], None
    elif kind == "LineString":
        yield found, None
    elif kind in ("MultiPoint", "MultiLineString", "MultiPolygon"):
        for part in found:
            yield from coordinates({"type": kind[5:], "coordinates": part})
    elif kind == "Polygon":
        for n, ring in enumerate(found):
            yield ring, "hole" if n else "shell"
    else:
        raise AssertionError(kind)


def check_geojson(text):
    """The rules of RFC 7946 that matter: ranges, closure, winding, cuts at 180 degrees, no empty geometry."""
    data = json.loads(text, parse_constant=refuse)
    assert data["type"] == "FeatureCollection"
    for feature in data["features"]:
        assert feature["type"] == "Feature"
        runs = list(coordinates(feature["geometry"]))
        assert runs, f"{feature['properties']['feature']} has no geometry"
        for run, ring in runs:
            lon, lat = np.array(run)[:, 0], np.array(run)[:, 1]
            assert np.abs(lon).max() <= 180.0
            assert np.abs(lat).max() <= 90.0
            assert np.abs(np.diff(lon)).max(initial=0.0) < 180.0, "not cut at 180 degrees"
            if ring:
                assert run[0] == run[-1]
                assert len(run) >= 4
                area2 = np.sum(lon[:-1] * lat[1:] - lon[1:] * lat[:-1])
                assert (area2 > 0) == (ring == "shell"), "wound the wrong way (RFC 7946, 3.1.6)"
    return data


def test_the_geojson_of_a_sample_is_valid(sample):
    data = check_geojson(sample["geojson"])
    wanted = json.loads(sample["json"])
    kinds = [feature["properties"]["feature"] for feature in data["features"]]
    assert kinds.count("zone") == len(wanted["zones"])
    assert kinds.count("track") == len(wanted["tracks"])
    assert kinds.count("tow") == len(wanted["tows"])
    assert kinds.count("closest_approach") == sum(row["closest"] is not None for row in wanted["rows"])


def test_the_geojson_of_an_odd_scene_is_valid_and_cut_at_180_degrees():
    data = check_geojson(to_geojson(mixed()))
    by_id = {
        f["properties"].get("zone_id"): f for f in data["features"] if f["properties"]["feature"] == "zone"
    }
    assert by_id["across"]["geometry"]["type"] == "MultiPolygon"
    sides = {np.sign(run[0][0]) for run, _ in coordinates(by_id["across"]["geometry"])}
    assert sides == {-1.0, 1.0}
    assert by_id["ring"]["geometry"]["type"] == "Polygon"
    assert len(by_id["ring"]["geometry"]["coordinates"]) == 2


@pytest.mark.parametrize("lon", [180.0, -180.0])
def test_what_lies_along_180_degrees_itself_does_not_vanish_from_the_geojson(lon):
    result = check(
        fixes([(lon, 10.2), (lon, 10.3)], [0.0, 800.0]), zone(line((lon, 10.0), (lon, 11.0)), ZoneKind.CABLE)
    )
    for feature in check_geojson(to_geojson(result))["features"][:3]:
        assert feature["geometry"]["type"] == "LineString"


@pytest.mark.parametrize("kind", list(LineKind))
def test_drawn_straight_in_degrees_the_geojson_is_true_to_a_metre(kind):
    """Middles of all stretches of a long-edged zone against the slow oracle's own lines."""
    corners = [(178.0, 55.0), (-177.0, 56.5), (-178.0, 60.0)]
    result = check(route([(-179.0, 57.0), (-178.9, 57.1)]), zone(area(corners), edges=kind))
    (found,) = [
        f for f in check_geojson(to_geojson(result))["features"] if f["properties"]["feature"] == "zone"
    ]
    middles = []
    for run, _ in coordinates(found["geometry"]):
        run = np.array(run)
        here = (run[:-1] + run[1:]) / 2.0
        cut = (np.abs(run[:-1, 0]) == 180.0) & (np.abs(run[1:, 0]) == 180.0)
        middles.append(here[~cut])
    middles = np.concatenate(middles)[:: max(1, sum(map(len, middles)) // 60)]
    near = np.full(len(middles), np.inf)
    for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
        side = Lines.between(str(kind), *(np.full(len(middles), c) for c in (*a, *b)))
        near = np.minimum(near, distance_to_line(side, wrapped(middles[:, 0]), middles[:, 1]))
    assert near.max() <= 1.0


def test_a_planned_leg_of_500_miles_is_drawn_true_to_a_metre():
    a, b = (-20.0, 50.0), (-8.0, 55.0)
    for legs in (LineKind.RHUMB, LineKind.GEODESIC):
        result = check(route([a, b]), zone(points((-8.0, 55.2)), ZoneKind.OBSTRUCTION), legs=legs)
        (track,) = [
            f for f in json.loads(to_geojson(result))["features"] if f["properties"]["feature"] == "track"
        ]
        run = np.array(track["geometry"]["coordinates"])
        middles = (run[:-1] + run[1:]) / 2.0
        leg = Lines.between(str(legs), *(np.full(len(middles), c) for c in (*a, *b)))
        assert distance_to_line(leg, middles[:, 0], middles[:, 1]).max() <= 1.0


def test_gaps_are_not_drawn_over():
    track = fixes(
        [moved(A, 90.0, d) for d in (0.0, 100.0, 9000.0, 9100.0, 30_000.0)], [0, 60, 6000, 6060, 20_000]
    )
    result = check(track, zone(points(A), ZoneKind.OBSTRUCTION))
    (drawn,) = [
        f for f in json.loads(to_geojson(result))["features"] if f["properties"]["feature"] == "track"
    ]
    assert sorted(len(run) for run, _ in coordinates(drawn["geometry"])) == [1, 2, 2]


def test_closest_approach_lines_are_as_long_as_their_clearance(sample):
    for feature in json.loads(sample["geojson"])["features"]:
        properties = feature["properties"]
        if properties["feature"] != "closest_approach" or abs(properties["clearance_m"]) < 1.0:
            continue
        length = 0.0
        for run, _ in coordinates(feature["geometry"]):
            lon, lat = np.array(run).T
            length += GEOD.line_length(lon, lat)
        # Positions are written to 1e-7 degrees: 1 cm at either end.
        np.testing.assert_allclose(length, abs(properties["clearance_m"]), rtol=0, atol=0.03)


def test_a_geodataframe_holds_the_rows_with_a_closest_approach():
    result = mixed()
    frame = to_geodataframe(result)
    assert len(frame) == sum(row.closest is not None for row in result.rows)
    assert frame.crs.to_epsg() == 4326
    assert list(frame["status"]) == [row.status.value for row in result.rows if row.closest is not None]


def test_an_empty_result_is_valid_in_every_form():
    result = check(fixes([A], [0.0]), [])
    assert faults(json.loads(to_json(result)), SCHEMA) == []
    assert to_csv(result) == ",".join(COLUMNS) + "\n"
    check_geojson(to_geojson(result))
