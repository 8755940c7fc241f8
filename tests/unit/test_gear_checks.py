"""Rows of the gear: against zones laid out around a straight tow, whose gear is where the figures put it."""

from dataclasses import replace

import numpy as np
import pytest
from gear_stretches import SINGLE
from scenes import GEOD, KNOT_MPS, START, area, around, fixes, line, moved, points, route, steady, zone

from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings, GearProof, Towing
from towzone.files.rule_properties import read_rules
from towzone.model.gear import Basis, GearTier
from towzone.model.result import Activity, Outcome, Part, Status
from towzone.model.vessel import Current, GearFigures, Rig
from towzone.model.zone import Prohibition, ZoneKind
from towzone.record.sections.summary import outcome_sentence
from towzone.tables.screen import to_text
from towzone.tows.logged import LoggedHaul

HOME = (-20.0, 57.0)
FIGURES = SINGLE
LAYBACK_M = 331.9322
"""gear.md of the plan, V2: warp 350 m, depth 100 m, blocks 5 m up and 8 m apart, doors 80 m apart."""


def tow(length_m=8000.0, **given):
    """A tow due east from home at 3 kn."""
    return steady([HOME, moved(HOME, 90.0, length_m)], **given)


def gear_rows(tracks, zones, figures=FIGURES, **settings):
    given = {"towing": Towing.ALL, "gear": "OTB", "position_error_m": 10.0} | settings
    some = list(tracks) if isinstance(tracks, list) else [tracks]
    result = run_check(some, zones, CheckSettings(figures=figures, **given))
    return [row for row in result.rows if row.part is Part.GEAR], result


def only(rows):
    assert len(rows) == 1, [(row.status, row.reason) for row in rows]
    return rows[0]


def beside(along_m, left_m):
    """A position beside the tow: so far along it and to its left (north)."""
    here = moved(HOME, 90.0, along_m)
    course_deg = GEOD.inv(*here, *moved(HOME, 90.0, 20_000.0))[0]
    return moved(here, course_deg - 90.0, left_m)


def test_without_figures_there_are_no_rows_of_the_gear_and_it_is_said():
    rows, result = gear_rows(tow(), [zone(points(beside(4000.0, 45.0)), ZoneKind.OBSTRUCTION)], None)
    assert rows == []
    assert result.gear is None
    assert "gear astern of it is not computed" in result.assumptions[0]


def test_the_clearance_is_that_of_the_nearest_door():
    wreck = zone(points(beside(4000.0, 140.0)), ZoneKind.OBSTRUCTION)
    row = only(gear_rows(tow(), [wreck])[0])
    assert row.clearance_m == pytest.approx(100.0, abs=0.005)
    assert row.gear.nearest_part == "port door"
    assert row.status is Status.UNDETERMINED
    assert row.reason == "gear_uncertainty"


def test_the_doors_are_a_layback_behind_the_vessel():
    wreck = zone(points(beside(4000.0, 140.0)), ZoneKind.OBSTRUCTION)
    row = only(gear_rows(tow(), [wreck])[0])
    seconds = float((row.closest.utc - START) / np.timedelta64(1, "us")) / 1e6
    assert seconds * 3.0 * KNOT_MPS == pytest.approx(4000.0 + LAYBACK_M, abs=0.2)


def test_a_wreck_between_the_doors_is_touched():
    wreck = zone(points(beside(4003.0, 22.0)), ZoneKind.OBSTRUCTION)
    rows, result = gear_rows(tow(), [wreck])
    row = only(rows)
    assert (row.status, row.reason, row.clearance_m) == (Status.TOO_CLOSE, "touched", 0.0)
    assert row.gear.tier is GearTier.SHOWN
    assert result.outcome is Outcome.FINDING


def test_a_wreck_with_a_radius_between_the_doors_counts_from_its_rim():
    wreck = zone(points(beside(4003.0, 22.0)), ZoneKind.OBSTRUCTION, radius_m=15.0)
    row = only(gear_rows(tow(), [wreck])[0])
    assert row.clearance_m == pytest.approx(-15.0, abs=1e-6)


def test_a_small_area_between_the_doors_is_touched():
    small = zone(area(around(beside(4003.0, 22.0), 3.0)))
    row = only(gear_rows(tow(), [small])[0])
    assert (row.status, row.clearance_m) == (Status.TOO_CLOSE, 0.0)


def test_the_gear_may_be_inside_though_the_vessel_stayed_out():
    # The vessel turns sharply north at 4 km; the gear cuts the corner over the area inside the turn.
    corner = moved(HOME, 90.0, 4000.0)
    turned = steady([HOME, corner, moved(corner, 0.0, 4000.0)], step_s=10.0)
    inside = moved(moved(corner, 0.0, 350.0), 270.0, 350.0)
    closed = zone(
        area([inside, moved(inside, 180.0, 270.0), moved(corner, 340.0, 120.0), moved(corner, 350.0, 700.0)])
    )
    figures = replace(FIGURES, current=Current(set_deg=0.0, drift_kn=0.0))
    result = run_check(
        [turned],
        [closed],
        CheckSettings(figures=figures, towing=Towing.ALL, gear="OTB", position_error_m=3.0),
    )
    vessel, gear = (next(r for r in result.rows if r.part is part) for part in (Part.VESSEL, Part.GEAR))
    assert vessel.status is Status.CLEAR
    assert vessel.clearance_m > 0.0
    assert (gear.status, gear.reason) == (Status.INSIDE, "gear_inside")
    assert gear.inside
    assert gear.clearance_m < -gear.uncertainty_m
    assert gear.gear.likely_clearance_m == 0.0  # it reaches the zone: how deep is not computed
    assert result.outcome is Outcome.FINDING


def test_far_away_the_rope_alone_proves_the_gear_clear():
    wreck = zone(points(beside(4000.0, 900.0)), ZoneKind.OBSTRUCTION)
    row = only(gear_rows(tow(), [wreck])[0])
    assert (row.status, row.gear.tier) == (Status.CLEAR, GearTier.PROVED_CLEAR)
    assert row.gear.rope_clearance_m < row.clearance_m - 400.0


def test_what_only_the_rope_could_reach_is_open_unless_the_model_is_taken_for_proof():
    wreck = zone(points(beside(4000.0, 450.0)), ZoneKind.OBSTRUCTION)
    row = only(gear_rows(tow(), [wreck])[0])
    assert (row.status, row.reason) == (Status.UNDETERMINED, "rope_bound")
    assert row.gear.tier is GearTier.NOT_RULED_OUT
    assert 0.0 < row.gear.likely_clearance_m < row.clearance_m
    taken = only(gear_rows(tow(), [wreck], gear_proof=GearProof.MODEL)[0])
    assert (taken.status, taken.gear.tier) == (Status.CLEAR, GearTier.NOT_RULED_OUT)
    assert taken.gear.sigmas == 3.0
    assert taken.gear.likely_clearance_m < row.gear.likely_clearance_m


def test_a_margin_counts_for_the_gear():
    cable = zone(line(beside(3000.0, 240.0), beside(5000.0, 240.0)), ZoneKind.CABLE, margin_m=250.0)
    row = only(gear_rows(tow(), [cable])[0])
    assert (row.status, row.reason) == (Status.TOO_CLOSE, "under_margin")
    assert row.clearance_m == pytest.approx(200.0, abs=0.15)  # the cable is one geodesic, the tow another
    assert row.close


def test_a_stated_current_sets_the_gear_aside():
    wreck = zone(points(beside(4000.0, 140.0)), ZoneKind.OBSTRUCTION)
    set_north = replace(FIGURES, current=Current(set_deg=0.0, drift_kn=0.5))
    row = only(
        gear_rows(tow(12_000.0), [zone(points(beside(9000.0, 140.0)), ZoneKind.OBSTRUCTION)], set_north)[0]
    )
    still = only(gear_rows(tow(), [wreck])[0])
    # Steady: the towline stands at atan(0.5 / 3) to the course, gear.md of the plan, section 2.8, f = 0.
    angle = np.arctan2(0.5, 3.0)
    moved_m = LAYBACK_M * np.sin(angle) - 40.0 * (1.0 - np.cos(angle))
    assert still.clearance_m - row.clearance_m == pytest.approx(moved_m, abs=0.5)


def test_midwater_gear_is_judged_as_fishing_not_as_bottom_contact():
    wreck = zone(points(beside(4000.0, 20.0)), ZoneKind.OBSTRUCTION)
    closed = zone(
        area([beside(x, y) for x, y in ((4000.0, -20.0), (4500.0, -20.0), (4500.0, 900.0), (4000.0, 900.0))]),
        zone_id="C",
    )
    rows, _ = gear_rows(tow(), [wreck, closed], gear="OTM")
    assert {row.zone_id: row.status for row in rows} == {
        "Z": Status.NOT_IN_FORCE,
        "C": Status.TOO_CLOSE if rows[0].clearance_m > -rows[0].uncertainty_m else Status.INSIDE,
    }


@pytest.mark.parametrize("gear", ["PTB", "PTM", "SPR", "SSC", "GNS"])
def test_gear_that_is_not_modelled_leaves_every_zone_within_reach_open(gear):
    rows, result = gear_rows(tow(), [zone(area(around(beside(4000.0, 3000.0), 500.0)))], gear=gear)
    row = only(rows)
    assert (row.status, row.reason, row.clearance_m) == (Status.UNDETERMINED, "gear_not_computed", None)
    assert result.gear.tows[0].why_not
    assert result.gear.tows[0].why_not in row.explain
    assert any(result.gear.tows[0].why_not in line for line in result.assumptions)


def test_neither_warp_nor_depth_leaves_it_open():
    bare = GearFigures(rig=Rig.SINGLE)
    row = only(gear_rows(tow(), [zone(points(beside(4000.0, 900.0)), ZoneKind.OBSTRUCTION)], bare)[0])
    assert row.reason == "gear_not_computed"


def test_a_guessed_warp_is_flagged_and_widens_what_is_possible():
    wreck = zone(points(beside(4000.0, 300.0)), ZoneKind.OBSTRUCTION)
    guessed = replace(FIGURES, warp_m=None)
    told, result = gear_rows(tow(), [wreck], guessed)
    known = only(gear_rows(tow(), [wreck])[0])
    assert "no_warp" in only(told).gear.flags
    assert only(told).gear.rope_clearance_m < known.gear.rope_clearance_m
    assert any(line.startswith("ASSUMED: warp") for line in result.assumptions)
    assert any(flag.kind == "no_warp" for flag in result.gear.tows[0].flags)


def test_depth_and_warp_of_the_track_count_fix_by_fix():
    track = tow(step_s=30.0)
    readings = {
        "depth_m": np.linspace(60.0, 140.0, len(track)).astype(np.float32),
        "warp_m": np.full(len(track), 400.0, dtype=np.float32),
    }
    _, result = gear_rows(replace(track, readings=readings), [])
    told = result.gear.tows[0]
    bases = {figure.name: figure.basis for figure in told.figures}
    assert (bases["warp"], bases["depth"]) == (Basis.TRACK, Basis.TRACK)
    # Shallow at first, so the layback begins long: sqrt(400^2 - (60 + 5)^2 - 36^2) and so on.
    assert told.layback_m[1] == pytest.approx(np.sqrt(400.0**2 - 65.0**2 - 36.0**2), abs=0.5)
    assert told.layback_m[0] == pytest.approx(
        np.sqrt(400.0**2 - (140.0 - 0.01 * 380.0 + 5.0) ** 2 - 36.0**2), abs=1.0
    )


def test_the_haul_log_beats_the_profile():
    track = steady([HOME, moved(HOME, 90.0, 12_000.0)])
    haul = LoggedHaul(
        haul="1",
        shoot_utc=START + np.timedelta64(1200, "s"),
        haul_utc=START + np.timedelta64(6000, "s"),
        warp_m=500.0,
        depth_m=150.0,
    )
    _, result = gear_rows(track, [], towing=Towing.LOG, hauls=(haul,))
    figures = {figure.name: figure for figure in result.gear.tows[0].figures}
    assert (figures["warp"].value, figures["warp"].basis) == (500.0, Basis.HAUL_LOG)
    assert (figures["depth"].value, figures["depth"].basis) == (150.0, Basis.HAUL_LOG)


def test_while_hauling_the_gear_is_in_doubt_and_findings_are_open():
    track = steady([HOME, moved(HOME, 90.0, 12_000.0)], step_s=20.0)
    haul = LoggedHaul(
        haul="1", shoot_utc=START + np.timedelta64(1200, "s"), haul_utc=START + np.timedelta64(5000, "s")
    )
    at_haul = 5000.0 * 3.0 * KNOT_MPS - LAYBACK_M
    # Forty metres ahead of where the doors are when the winch starts; vessel and doors go on eastwards.
    wreck = zone(points(beside(at_haul + 40.0, 40.5)), ZoneKind.OBSTRUCTION, margin_m=5.0)
    rows, _ = gear_rows(track, [wreck], towing=Towing.LOG, hauls=(haul,))
    assert {row.status for row in rows} == {Status.UNDETERMINED}
    doubted = next(row for row in rows if row.activity is Activity.UNKNOWN)
    assert doubted.reason == "activity_unknown"
    assert doubted.clearance_m < 5.0


def test_contact_ends_when_the_warp_is_in_to_three_quarters_of_the_scope():
    track = steady([HOME, moved(HOME, 90.0, 12_000.0)], step_s=20.0)
    haul = LoggedHaul(
        haul="1", shoot_utc=START + np.timedelta64(1200, "s"), haul_utc=START + np.timedelta64(5000, "s")
    )
    _, result = gear_rows(track, [], towing=Towing.LOG, hauls=(haul,))
    told = result.gear.tows[0]
    seconds = float((told.last_contact_utc - haul.haul_utc) / np.timedelta64(1, "ms")) / 1e3
    # (350 - 350 / 1.33) / 1.2 = 72.4 s; gear.md of the plan, section 3.1, gives 72 s.
    assert seconds == pytest.approx((350.0 - 350.0 / 1.33) / 1.2, abs=0.1)
    hard = float((told.latest_utc - haul.haul_utc) / np.timedelta64(1, "ms")) / 1e3
    # Sweeps and net are longer than the depth: all of it has to come in, by a winch slower by 2 x 10 %.
    assert hard == pytest.approx((350.0 + 160.0) / (0.8 * 1.2), abs=0.1)


def test_a_gap_is_told_and_the_gear_settles_anew_after_it():
    first = tow(6000.0)
    second = tow(6000.0, first_s=60.0 * 110)
    shifted = fixes(
        [moved((lon, lat), 90.0, 9000.0) for lon, lat in zip(second.lon_deg, second.lat_deg, strict=True)],
        ((second.time_utc - START) / np.timedelta64(1, "s")).tolist(),
    )
    both = replace(
        first,
        lon_deg=np.concatenate([first.lon_deg, shifted.lon_deg]),
        lat_deg=np.concatenate([first.lat_deg, shifted.lat_deg]),
        time_utc=np.concatenate([first.time_utc, shifted.time_utc]),
        part=np.zeros(len(first) + len(shifted), dtype=np.int32),
        fixes_read=len(first) + len(shifted),
    )
    _, result = gear_rows(both, [])
    kinds = [flag.kind for flag in result.gear.tows[0].flags]
    assert kinds.count("gap") == 1
    assert kinds.count("settling") == 2


def test_where_only_the_gear_could_have_reached_a_zone_in_a_gap_it_is_open():
    first, last = HOME, moved(HOME, 90.0, 3000.0)
    track = fixes([first, moved(first, 90.0, 100.0), moved(last, 270.0, 100.0), last], [0, 60, 2460, 2520])
    # Top speed 3 kn for 40 min is 3704 m for a way of 2800 m: the ellipse is 1.21 km half-wide.
    wreck = zone(points(moved(moved(HOME, 90.0, 1500.0), 0.0, 1500.0)), ZoneKind.OBSTRUCTION)
    rows, result = gear_rows(track, [wreck], max_speed_kn=3.0)
    vessel = [row for row in result.rows if row.part is Part.VESSEL]
    assert all(row.status is Status.CLEAR for row in vessel)
    assert only(rows).reason == "gap"


def test_the_gear_is_told_of_a_planned_route_without_times():
    wreck = zone(points(beside(4000.0, 140.0)), ZoneKind.OBSTRUCTION)
    row = only(gear_rows(route([HOME, moved(HOME, 90.0, 8000.0)]), [wreck])[0])
    # The route is a rhumb line, in the middle of 8 km at 57 N 1.93 m off the geodesic: l^2 tan(lat) / 8 R.
    assert row.clearance_m == pytest.approx(101.93, abs=0.05)
    assert np.isnat(row.closest.utc)


def test_an_entry_prohibition_holds_for_gear_too_but_not_while_it_may_be_on_board():
    track = steady([HOME, moved(HOME, 90.0, 12_000.0)], step_s=20.0)
    haul = LoggedHaul(
        haul="1", shoot_utc=START + np.timedelta64(1200, "s"), haul_utc=START + np.timedelta64(5000, "s")
    )
    platform = zone(points(beside(600.0, 300.0)), ZoneKind.SAFETY_ZONE, radius_m=100.0)
    rows, _ = gear_rows(track, [platform], towing=Towing.LOG, hauls=(haul,))
    assert {(row.status, row.activity) for row in rows if row.status is not Status.CLEAR} <= {
        (Status.UNDETERMINED, Activity.UNKNOWN)
    }
    assert Prohibition.ENTRY in platform.prohibits


def test_gear_outside_an_area_that_must_not_be_left_is_as_far_outside_as_its_outer_door():
    rules, problems, _ = read_rules({"allowed_only_inside": True})
    assert problems == []
    corners = [
        beside(x, y) for x, y in ((-2000.0, -900.0), (12_000.0, -900.0), (12_000.0, 20.0), (-2000.0, 20.0))
    ]
    allowed = zone(area(corners), rules=rules)
    rows, result = gear_rows(tow(), [allowed])
    vessel = next(row for row in result.rows if row.part is Part.VESSEL)
    assert vessel.clearance_m > 0.0
    # The northern side is one geodesic over 14 km; beside() lays its ends 20 m off the tow's own.
    assert only(rows).clearance_m == pytest.approx(-20.0, abs=0.1)
    assert only(rows).status is Status.TOO_CLOSE
    assert only(rows).gear.nearest_part == "port door"


def test_the_figure_that_matters_most_comes_first():
    wreck = zone(points(beside(4000.0, 200.0)), ZoneKind.OBSTRUCTION)
    _, result = gear_rows(tow(), [wreck])
    effects = result.gear.effects
    assert result.gear.effects_clearance_m == pytest.approx(160.0, abs=0.01)
    assert effects[0].figure.name == "drift"
    by_name = {effect.figure.name: effect for effect in effects}
    spread = by_name["door_spread"]
    assert spread.low_clearance_m - spread.high_clearance_m == pytest.approx(
        (spread.high_value - spread.low_value) / 2.0, abs=0.02
    )
    assert by_name["block_starboard"].low_clearance_m == pytest.approx(
        160.0 + by_name["block_starboard"].low_value, abs=0.02
    )
    assert {figure.name for figure in result.gear.tows[0].figures} == set(by_name)


def test_swept_area_is_length_times_spread():
    _, result = gear_rows(tow(8000.0), [])
    told = result.gear.tows[0]
    assert told.swept_m2 == pytest.approx(8000.0 * 80.0, rel=1e-4)


def test_a_clear_result_of_the_vessel_alone_says_so():
    _, alone = gear_rows(tow(), [zone(points(beside(4000.0, 3000.0)), ZoneKind.OBSTRUCTION)], None)
    assert alone.outcome is Outcome.CLEAR
    assert alone.gear_unchecked
    first, _, third = to_text(alone).splitlines()[:3]
    assert "its gear was not checked" in first
    assert "not the gear far astern" in third
    assert "its gear was not checked" in outcome_sentence(alone)


def test_a_clear_result_by_the_model_says_so():
    wreck = zone(points(beside(4000.0, 450.0)), ZoneKind.OBSTRUCTION)
    _, result = gear_rows(tow(), [wreck], gear_proof=GearProof.MODEL)
    assert result.outcome is Outcome.CLEAR
    assert result.clear_by_model == 1
    assert "by the model" in to_text(result).splitlines()[0]
    assert "by the model of its path" in outcome_sentence(result)
    _, proved = gear_rows(tow(), [zone(points(beside(4000.0, 2000.0)), ZoneKind.OBSTRUCTION)])
    assert (proved.clear_by_model, proved.gear_unchecked) == (0, False)
    assert to_text(proved).startswith("CLEAR: proved clear under")


def test_where_the_gear_may_have_come_nearest_is_told_with_what_is_not_known_there():
    # Nearest by the figures at the wreck far along; but at the start, where it may have lain otherwise, the
    # cable is within what is possible.
    near = line(beside(-2000.0, 260.0), beside(1200.0, 260.0), beside(9000.0, 255.0))
    row = only(gear_rows(tow(), [zone(near, ZoneKind.CABLE)])[0])
    assert row.reason == "gear_uncertainty"
    assert "settling" in row.gear.flags
    along_m = GEOD.inv(*HOME, *row.gear.likely_at)[2]
    assert along_m < 1500.0
    assert GEOD.inv(*HOME, row.closest.lon_deg, row.closest.lat_deg)[2] > 5000.0
    assert "farther off proves it" in row.explain


def test_the_block_is_placed_by_the_heading_and_the_crab_is_told():
    track = tow(step_s=30.0)
    _, without = gear_rows(track, [])
    assert any("the track gives no heading" in line for line in without.assumptions)
    heading = np.full(len(track), 97.0, dtype=np.float32)  # the geodesic's own bearing is 90 degrees at home
    _, told = gear_rows(replace(track, readings={"heading_deg": heading}), [])
    assert any("7 degrees off its course on average (crab)" in line for line in told.assumptions)


def test_midwater_gear_is_told_of_at_its_depth():
    _, result = gear_rows(tow(), [], gear="OTM")
    assert not result.gear.tows[0].on_bottom
    text = to_text(result)
    assert "At its depth" in text
    assert "On the bottom" not in text
