"""A plan as JSON, text, GeoJSON and CSV: everything is told, in the right units, and no line is mixed up."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import re

import numpy as np
import pytest
from cli_runner import BANK, PLAN, call
from plan_results import LITRES_PER_HOUR, NAMES, NOT_KNOWN, A, build_plan
from scenes import GEOD, moved

from towzone.model.plan import NoLine, NoLineWhy, SeasonChange, ZoneMargin
from towzone.model.result import CheckResult, Outcome, Part, Status
from towzone.plan.telling import Measure, least_spare, rows_of, sharp_turns, spares_of_zone, worst_of
from towzone.tables.features import to_geojson
from towzone.tables.result_json import to_json
from towzone.tables.rows_csv import to_csv
from towzone.tables.screen import to_text

MENDED = f"{NAMES[0]} corrected"


@pytest.fixture(scope="module")
def plan() -> CheckResult:
    return build_plan()


@pytest.fixture(scope="module")
def one() -> CheckResult:
    return build_plan(lines=(0,))


@pytest.fixture(scope="module")
def told(plan):
    return json.loads(to_json(plan))["plan"]


def only(result, **change):
    """The same with something changed in the first line of its plan."""
    first, *rest = result.plan.lines
    lines = (dataclasses.replace(first, **change), *rest)
    return dataclasses.replace(result, plan=dataclasses.replace(result.plan, lines=lines))


def flat(text):
    """Text without its line ends, so that wrapping does not matter."""
    return re.sub(r"\s+", " ", text)


# JSON


def test_a_check_has_no_plan_and_says_null():
    data = json.loads(call("check", PLAN, "--zones", BANK, "--format", "json").out)
    assert data["plan"] is None
    assert data["schema"] == "towzone.result/1"


def test_the_json_tells_every_line_with_its_outcome_and_what_became_of_it(plan, told):
    assert [line["track_id"] for line in told["lines"]] == list(NAMES)
    assert [line["outcome"] for line in told["lines"]] == ["finding", "finding", "clear"]
    mended, no_line = told["lines"][0]["corrected"], told["lines"][1]["no_line"]
    assert mended["track_id"] == MENDED
    assert plan.outcome_of(MENDED) is Outcome.CLEAR
    assert (no_line["why"], no_line["width_m"], no_line["needed_m"]) == ("start", 612.0, 790.5)
    assert [line["corrected"] for line in told["lines"][1:]] == [None, None]
    assert [line["no_line"] for line in told["lines"][::2]] == [None, None]
    assert told["not_known"] == list(NOT_KNOWN)


def test_legs_of_the_json_join_and_agree_with_independent_geodesics(told):
    for line in told["lines"]:
        corners, legs = line["line"]["corners"], line["timetable"]["legs"]
        assert len(legs) == len(corners) - 1
        for leg, begin, end in zip(legs, corners, corners[1:], strict=False):
            assert (leg["begin_lat_deg"], leg["begin_lon_deg"]) == (begin["lat_deg"], begin["lon_deg"])
            assert (leg["end_lat_deg"], leg["end_lon_deg"]) == (end["lat_deg"], end["lon_deg"])
            ends = (begin["lon_deg"], begin["lat_deg"], end["lon_deg"], end["lat_deg"])
            # 1e-7 degrees of either end are 1.1 cm each.
            np.testing.assert_allclose(leg["length_m"], GEOD.inv(*ends)[2], rtol=0, atol=0.05)
            seconds = (np.datetime64(leg["end_utc"][:-1]) - np.datetime64(leg["begin_utc"][:-1])) / 1e3
            speed_kn = leg["length_m"] / float(seconds.astype(float)) * 3600.0 / 1852.0
            np.testing.assert_allclose(speed_kn, leg["speed_kn"], rtol=0, atol=0.01)
        np.testing.assert_allclose(
            sum(leg["length_m"] for leg in legs), line["timetable"]["length_m"], rtol=0, atol=0.05
        )
        assert [leg["turn_deg"] is None for leg in legs] == [False] * (len(legs) - 1) + [True]


def test_fuel_in_the_json_is_for_the_whole_time_or_null(told):
    fuel = told["lines"][0]["timetable"]["fuel"]
    hours = told["lines"][0]["timetable"]["whole_seconds"] / 3600.0
    assert fuel == {"litres": pytest.approx(hours * LITRES_PER_HOUR, abs=0.01), "litres_per_hour": 110.0}
    without = json.loads(to_json(build_plan(lines=(0,), fuel=False)))["plan"]["lines"][0]
    assert without["timetable"]["fuel"] is None
    assert without["corrected"]["more_litres"] is None


def test_margins_of_the_json_name_what_each_clearance_is(plan, told):
    for entry, line in zip(told["lines"], plan.plan.lines, strict=True):
        for data, margin in zip(entry["margins"], line.margins, strict=True):
            assert data["zone_id"] == margin.zone_id
            assert data["vessel_clearance_m"] == round(margin.vessel_m, 2)
            assert data["worst_current_clearance_m"] == round(margin.set_m, 2)
            assert data["worst_current_towards_deg"] == margin.set_deg


def test_advice_in_the_json_has_its_figures_and_the_corners_of_the_advised_line(told):
    hold_on, haul_call, shift = told["lines"][0]["advice"]
    assert (hold_on["figures"]["hold_on_m"], hold_on["figures"]["side"]) == (560.0, "starboard")
    assert hold_on["figures"]["lat_deg"] == hold_on["line"]["corners"][1]["lat_deg"]
    assert (hold_on["clears"], hold_on["clears_all"]) == (["W-1"], False)
    assert (haul_call["clears"], haul_call["clears_all"]) == ([], False)
    assert shift["clears_all"]
    assert len(shift["line"]["corners"]) == 4


def test_the_json_has_no_number_that_json_does_not_know(plan):
    margin = ZoneMargin(
        zone_id="W-1",
        margin_m=0.0,
        vessel_m=float("nan"),
        gear_m=None,
        likely_m=float("inf"),
        set_m=None,
        set_deg=None,
        leg=None,
    )
    data = json.loads(to_json(only(plan, margins=(margin,))))["plan"]["lines"][0]["margins"]
    assert data[0]["vessel_clearance_m"] is None
    assert data[0]["likely_clearance_m"] is None


# What is told first


def test_the_least_spare_is_the_least_clearance_beyond_a_margin_that_binds(plan):
    first = plan.plan.lines[0]
    gear = least_spare(plan, first.track_id, first.margins, Part.GEAR)
    wreck = next(margin for margin in first.margins if margin.zone_id == "W-1")
    assert (gear.zone_id, gear.measure) == ("W-1", Measure.LIKELY)
    assert gear.spare_m == wreck.likely_m - wreck.margin_m
    # The line runs 160 m inside A-2, whose rule holds from tomorrow on only.
    area = next(margin for margin in first.margins if margin.zone_id == "A-2")
    assert min(spare.spare_m for spare in spares_of_zone(area)) < gear.spare_m
    assert least_spare(plan, first.track_id, (area,), Part.VESSEL) is None


def test_the_worst_row_is_that_of_the_worst_status_and_then_of_the_least_spare(plan):
    for name in NAMES:
        rows = rows_of(plan, name)
        worst = worst_of(plan, name)
        order = list(Status)
        assert order.index(worst.status) == min(order.index(row.status) for row in rows)
        same = [row for row in rows if row.status is worst.status]
        assert worst.clearance_m - worst.margin_m == min(row.clearance_m - row.margin_m for row in same)
    assert worst_of(plan, "no such line") is None


def test_where_the_likely_corridor_reaches_a_zone_what_is_spare_may_be_less(one):
    first = one.plan.lines[0]
    reached = tuple(
        dataclasses.replace(margin, likely_m=0.0 if margin.zone_id == "W-1" else margin.likely_m)
        for margin in first.margins
    )
    gear = least_spare(one, first.track_id, reached, Part.GEAR)
    vessel = least_spare(one, first.track_id, reached, Part.VESSEL)
    assert (gear.spare_m, gear.or_less, vessel.or_less) == (-185.2, True, False)
    text = to_text(only(one, margins=reached))
    wreck = next(line for line in text.splitlines() if line.startswith("  W-1  Made-up wreck"))
    assert wreck.split()[6] == "reached"
    assert wreck.split()[-3:] == ["≤", "-185.2", "2"]


# Text


def test_the_text_answers_for_each_line_first(plan):
    text = flat(to_text(plan))
    assert text.startswith(" least to spare, m line outcome")
    assert (
        "TOO CLOSE: line A (Long tow) is not clear: the gear (starboard door) comes 162.3 m (0.088 nmi) from "
        "Made-up wreck (W-1), 22.9 m (0.012 nmi) less than its margin. It turns by more than 60° at the end "
        "of leg 1 (70.0° to starboard), leg 2 (70.0° to port): the inner door may fall over there, and what "
        "the gear then does is not known. A corrected line is clear by the model of the gear: longer by 0.05 "
        "nmi, 1 min 07 s, 2 l of fuel, up to 450 m (0.24 nmi) aside of this one; least to spare: "
    ) in text
    inner = text.index("INSIDE: line B (Inner tow) is not clear: the vessel goes 971.9 m (0.525 nmi) inside")
    assert "No corrected line: Where towing begins," in text[inner:]
    clear = "CLEAR: line C (Outer tow) is proved clear under the assumptions below; least to spare: the "
    assert (
        text.index("TOO CLOSE: line A") < text.index("Corrected line 'Long tow") < inner < text.index(clear)
    )


def test_a_line_far_from_all_zones_asks_whether_they_are_the_right_ones():
    far = dataclasses.replace(build_plan(lines=(2,)), rows=())
    said = "Outer tow' comes within 5 nmi of none of the 4 zones given: make sure they are of these"
    assert said in flat(to_text(far))


def test_other_zones_that_a_line_is_not_clear_of_stand_in_its_answer():
    inner = build_plan(lines=(1,))
    assert "Not clear either" not in to_text(inner)
    first, second, *rest = inner.rows
    both = dataclasses.replace(inner, rows=(first, dataclasses.replace(second, zone_id="W-1"), *rest))
    assert "closed area (A-1). Not clear either: Made-up wreck (W-1)." in flat(to_text(both))


def test_what_to_do_comes_before_the_rows_and_they_before_the_timetable(one):
    text = to_text(one)
    heads = (
        "TOO CLOSE: line 'Long tow'",
        "Corrected line '",
        "Advice, each",
        "Found in the check",
        "Timetable:",
    )
    places = [text.index(head) for head in heads]
    assert places == sorted(places)
    assert "haul call 2026-03-01 08:37:" in text


def test_that_nothing_is_allowed_for_steering_is_said(one):
    said = "Nothing is allowed for steering off the line"
    for steering_m in (0.0, 30.0):
        steered = dataclasses.replace(one, settings={**one.settings, "steering_m": steering_m})
        assert (said in to_text(steered)) is (steering_m == 0.0)


def test_a_rule_that_begins_while_the_gear_is_out_stands_in_the_answer(one):
    first = one.plan.lines[0]
    worst = worst_of(one, first.track_id).zone_id
    at = first.timetable.legs[1].begin_utc
    inside, later = (
        SeasonChange(zone_id=worst, at_utc=when, begins=True) for when in (at, at + np.timedelta64(2, "D"))
    )
    answers = [
        flat(to_text(only(one, timetable=dataclasses.replace(first.timetable, seasons=(change,)))))
        for change in (inside, later)
    ]
    said = "less than its margin. Its rule begins at 2026-03-01 06:57:51 UTC (05:57:51 UTC-1)."
    assert [said in answer for answer in answers] == [True, False]
    assert "Its rule begins" not in answers[1]


def test_the_times_of_advice_are_told_on_board_too(one):
    first = one.plan.lines[0]
    timed = dataclasses.replace(first.advice[0], words="Call by 2026-03-01 00:10:00 UTC.")
    text = flat(to_text(only(one, advice=(timed,))))
    assert "Call by 2026-03-01 00:10:00 UTC = 2026-02-28 23:10:00 UTC-1." in text


def test_turns_are_called_sharp_beyond_what_a_corrected_line_may_have(one):
    legs = one.plan.lines[0].timetable.legs
    turns = [dataclasses.replace(legs[0], turn_deg=turn) for turn in (60.0, -60.1, None, 179.0)]
    times = dataclasses.replace(one.plan.lines[0].timetable, legs=tuple(turns))
    assert [leg.turn_deg for leg in sharp_turns(times)] == [-60.1, 179.0]


def test_several_lines_are_compared_in_one_table(plan):
    lines = to_text(plan).splitlines()
    head = next(n for n, line in enumerate(lines) if line.split()[:2] == ["line", "outcome"])
    first, second, third = lines[head + 1 : head + 4]
    assert " ".join(first.split()) == "A Long tow TOO CLOSE 66.3 -179.4 W-1 7.29 2.8 311 2 +0.05 nmi"
    assert second.endswith("  none")
    assert third.endswith("  none needed")


def test_a_finding_without_a_corrected_line_never_says_that_none_is_needed(plan):
    text = to_text(only(plan, corrected=None))
    row = next(line for line in text.splitlines() if line.startswith("  A Long tow  "))
    assert row.endswith("not asked for")


def test_one_line_is_told_with_its_timetable_and_margins(one):
    text = to_text(one)
    assert "  haul call                  2026-03-01 08:36:12 UTC (07:36:12 UTC-1)   56°59.019'N" in text
    assert "    1  2026-03-01 06:00:00 UTC (05:00:00 UTC-1)   080.0°   2.70  2.8  70.0° to starboard" in text
    assert "       rectangles 43E0; in force: A-1, W-1" in text
    season = "The rule of Invented spawning area (A-2) begins at 2026-03-02 00:00:00 UTC (2026-03-01 23:00:00"
    assert season in flat(text)
    wreck = next(line for line in text.splitlines() if line.startswith("  W-1  Made-up wreck"))
    assert wreck.split()[3:] == ["185.2", "302.2", "162.3", "5.8", "82.3", "to", "170°", "-179.4", "2"]
    area = next(line for line in text.splitlines() if line.startswith("  A-2  Invented spawning"))
    assert "no rule" in area
    assert "least to spare, m" not in text


def test_timetables_of_several_lines_are_told_when_asked_for(plan):
    assert "Timetable:" not in to_text(plan)
    assert "-v tells timetable and margins of each line." in to_text(plan)
    full = to_text(plan, verbose=True)
    assert full.count("\nTimetable:\n") == 3
    assert f"Timetable of the corrected line '{MENDED}':" in full


def test_advice_is_numbered_and_says_what_it_clears(one):
    text = flat(to_text(one))
    assert (
        "1 Hold on for 560 m on leg 1 before turning. Not enough alone: clears the line of Made-up wreck "
        "(W-1), not of the rest. 2 Call the haul 900 m before the end of leg 3 at the latest. For Made-up "
        "cable (C-1); not enough alone. 3 Shift leg 2 by 430 m to port. Enough alone: clears the line of "
        "Made-up cable (C-1), Made-up wreck (W-1), and nothing stays open."
    ) in text


def test_the_corrected_line_is_told_with_its_corners_and_courses(one):
    text = to_text(one)
    assert "       2  57°00.686'N 019°54.950'W   151.9°   2.11  66.6° to port" in text
    assert "       4  56°59.019'N 019°48.791'W\n" in text


def test_without_a_corrected_line_it_says_why_and_where_it_is_narrowest():
    text = flat(to_text(build_plan(lines=(1,))))
    assert "No corrected line: Where towing begins, the gear is too close to a zone on any course." in text
    assert (
        "Zones: Invented Bank closed area (A-1), Made-up wreck (W-1). Narrowest at 57°00.759'N 019°59.493'W."
        in text
    )
    assert "A corrected line" not in text


@pytest.mark.parametrize("why", NoLineWhy)
def test_a_narrowest_place_is_told_only_where_there_is_one(one, why):
    text = to_text(only(one, corrected=NoLine(why=why, words="No reason here.")))
    assert "No corrected line: No reason here." in text
    assert "Narrowest" not in text


@pytest.mark.parametrize("lines", [(0,), (1,), (2,), (0, 1, 2)])
def test_what_no_plan_knows_and_the_caution_are_said_every_time(lines):
    text = flat(to_text(build_plan(lines=lines)))
    assert "Not known to any plan:" in text
    for sentence in NOT_KNOWN:
        assert sentence in text
    assert "A clear result is never permission to tow over a cable." in text


def test_without_figures_the_text_never_speaks_of_gear_as_clear():
    text = to_text(build_plan(lines=(0, 2), figures=False))
    assert (
        "CLEAR: line B (Outer tow) is proved clear for the vessel under the assumptions below; its gear was "
        "not checked" in flat(text)
    )
    assert "Only the vessel was planned for" in text


def test_names_of_lines_and_tracks_cannot_forge_a_line_of_the_text():
    names = ("Long\nCLEAR: line x", "b", "c")
    text = to_text(build_plan(lines=(0,), names=names), verbose=True)
    assert "\nCLEAR: line x" not in text
    assert "Long<U+000A>CLEAR: line x" in text


def test_no_table_of_the_text_is_wider_than_the_screen(plan):
    for line in to_text(plan, verbose=True).splitlines():
        # Rows of the check are as wide as there; what a plan adds keeps to 100 columns, its table to 116.
        if "likely corridor" not in line:
            assert len(line) <= 116, line


# GeoJSON and CSV


def test_features_tell_wanted_from_corrected_lines(plan):
    features = json.loads(to_geojson(plan))["features"]
    tracks = [f["properties"] for f in features if f["properties"]["feature"] == "track"]
    assert {t["track_id"]: t["line"] for t in tracks} == {
        **dict.fromkeys(NAMES, "wanted"),
        MENDED: "corrected",
    }
    for kind in ("tow", "gear_path", "gear_corridor", "plan_event"):
        lines = {f["properties"]["line"] for f in features if f["properties"]["feature"] == kind}
        assert lines == {"wanted", "corrected"}


def test_features_hold_shoot_and_haul_call_points_and_what_was_advised(plan):
    features = json.loads(to_geojson(plan))["features"]
    long = plan.plan.lines[0]
    events = {
        f["properties"]["event"]: f["geometry"]["coordinates"]
        for f in features
        if f["properties"]["feature"] == "plan_event" and f["properties"]["track_id"] == NAMES[0]
    }
    np.testing.assert_allclose(
        events["haul_call"], [long.line.lon_deg[-1], long.line.lat_deg[-1]], rtol=0, atol=1e-7
    )
    np.testing.assert_allclose(
        events["towing"], [long.line.lon_deg[0], long.line.lat_deg[0]], rtol=0, atol=1e-7
    )
    advised = [f for f in features if f["properties"]["feature"] == "advised_point"]
    assert [f["properties"]["advice"] for f in advised] == [1]
    np.testing.assert_allclose(
        advised[0]["geometry"]["coordinates"],
        [long.advice[0].line.lon_deg[1], long.advice[0].line.lat_deg[1]],
        rtol=0,
        atol=1e-7,
    )
    lines = [f["properties"]["advice"] for f in features if f["properties"]["feature"] == "advised_line"]
    assert lines == [1, 2, 3]
    narrow = next(f for f in features if f["properties"]["feature"] == "narrowest_place")
    np.testing.assert_allclose(narrow["geometry"]["coordinates"], moved(A, 20.0, 1500.0), rtol=0, atol=1e-7)


def test_features_of_a_plan_across_180_degrees_stay_in_range():
    result = build_plan(lines=(0,), at=(179.98, -17.0))
    text = to_geojson(result)
    pairs = re.findall(r"\[(-?\d+\.\d+), (-?\d+\.\d+)\]", text)
    assert len(pairs) > 100
    assert all(abs(float(lon)) <= 180.0 for lon, _ in pairs)


def test_a_check_gains_no_feature_and_no_property_by_plans():
    out = call("check", PLAN, "--zones", BANK, "--format", "geojson").out
    features = json.loads(out)["features"]
    assert all("line" not in f["properties"] for f in features)
    assert {f["properties"]["feature"] for f in features} <= {"zone", "track", "tow", "closest_approach"}


def test_the_csv_has_a_line_for_every_row_of_every_line(plan):
    rows = list(csv.DictReader(io.StringIO(to_csv(plan))))
    assert len(rows) == len(plan.rows)
    assert {row["track_id"] for row in rows} == {*NAMES, MENDED}
