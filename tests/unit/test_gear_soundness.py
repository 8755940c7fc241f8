"""Checks with gear never say clear where gear may have been, nor find what is not shown: scenes set as traps.

Each scene was one that a check with gear once answered wrongly.
"""

from dataclasses import replace

import numpy as np
import pytest
from gear_stretches import SINGLE, lead_along, rigging_of
from scenes import KNOT_MPS, START, area, fixes, joined, moved, points, route, steady, zone

from towzone.checks.boundaries import Boundaries
from towzone.checks.gear_least import least_clearance_m
from towzone.checks.passages import Demand
from towzone.checks.path_passages import PathScene
from towzone.checks.paths import build_path
from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings, GearProof, Towing
from towzone.files.rule_properties import read_rules
from towzone.gear.bounds import rope_reach_m
from towzone.gear.figures import Rigging, rigging_for
from towzone.gear.stretch import gear_stretch
from towzone.model.result import Outcome, Part, Status
from towzone.model.track import LeftOut
from towzone.model.vessel import Current, GearFigures, Rig
from towzone.model.zone import ZoneKind
from towzone.tows.logged import LoggedHaul

HOME = (-20.0, 57.0)
FIGURES = SINGLE
"""The rope reaches 580.9 m by them: warp 350 + 3 x 17.5 m, sweeps 110 + 6.6 m, net 50 + 7.5 m."""


def beside(east_m, north_m):
    """A position so far east of home, and north of there."""
    return moved(moved(HOME, 90.0, east_m), 0.0, north_m)


def wreck(east_m, north_m, **more):
    return zone(points(beside(east_m, north_m)), ZoneKind.OBSTRUCTION, **more)


def tow(length_m=8000.0, **given):
    """A tow due east from home at 3 kn."""
    return steady([HOME, moved(HOME, 90.0, length_m)], **given)


def checked(track, zones, figures=FIGURES, **settings):
    given = {"towing": Towing.ALL, "gear": "OTB"} | settings
    return run_check([track], zones, CheckSettings(figures=figures, **given))


def gear_row(result):
    rows = [row for row in result.rows if row.part is Part.GEAR]
    assert len(rows) == 1, [(row.tow, row.status, row.reason) for row in rows]
    return rows[0]


@pytest.mark.parametrize("reach_m", [0.0, 100.0, 9260.0])
def test_no_reach_hides_a_zone_whose_margin_the_gear_may_have_come_under(reach_m):
    # Vessel 600 m off; the gear reaches 580.9 m towards it, and 500 m are asked for.
    result = checked(tow(), [wreck(4000.0, 600.0, margin_m=500.0)], reach_m=reach_m)
    assert result.outcome is Outcome.UNDETERMINED
    assert gear_row(result).reason == "gear_uncertainty"


@pytest.mark.parametrize("away_m", [300.0, 5500.0])
def test_no_reach_hides_a_zone_from_gear_of_which_nothing_is_known(away_m):
    result = checked(tow(), [wreck(4000.0, away_m)], gear="PTB", reach_m=0.0)
    assert result.outcome is Outcome.UNDETERMINED
    assert gear_row(result).reason == "gear_not_computed"


def test_how_far_rows_are_listed_does_not_change_what_the_model_proves():
    given = {"gear_proof": GearProof.MODEL}
    far, near = (
        gear_row(checked(tow(), [wreck(4000.0, 450.0)], reach_m=reach_m, **given))
        for reach_m in (9260.0, 50.0)
    )
    assert far.status is near.status is Status.CLEAR
    assert near.clearance_m == pytest.approx(far.clearance_m, abs=1e-6)


def measured(track, **readings):
    """A track with readings at each fix."""
    n = len(track)
    return replace(
        track, readings={name: np.broadcast_to(some, n).astype(np.float32) for name, some in readings.items()}
    )


def test_the_rope_is_as_long_as_the_longest_warp_that_was_measured_in_the_tow():
    track = tow(12_000.0)
    warp = np.where(np.arange(len(track)) < len(track) // 2, 300.0, 520.0)
    told = gear_row(checked(measured(track, warp_m=warp, depth_m=100.0), [wreck(9000.0, 640.0)]))
    stated = gear_row(checked(track, [wreck(9000.0, 640.0)], replace(FIGURES, warp_m=520.0)))
    assert (told.status, told.reason) == (stated.status, stated.reason) == (Status.UNDETERMINED, "rope_bound")


def test_the_rope_reaches_farthest_where_it_was_shallowest():
    depth = np.linspace(40.0, 260.0, len(tow()))
    track = measured(tow(), warp_m=350.0, depth_m=depth)
    shallow = checked(measured(tow(), warp_m=350.0, depth_m=40.0), [])
    assert checked(track, []).gear.tows[0].rope_bound_m >= shallow.gear.tows[0].rope_bound_m - 0.01


def test_a_warp_that_nobody_knows_may_be_as_long_as_is_usual_where_it_was_deepest():
    depth = np.linspace(40.0, 260.0, len(tow()))
    unknown = replace(FIGURES, warp_m=None, depth_m=None)
    bound_m = checked(measured(tow(), depth_m=depth), [], unknown).gear.tows[0].rope_bound_m
    assert bound_m > checked(measured(tow(), depth_m=260.0), [], unknown).gear.tows[0].rope_bound_m


def test_echoes_deeper_than_the_warp_do_not_make_the_bottom_deeper():
    depth = np.where(np.arange(len(tow())) % 5 == 0, 700.0, 100.0)
    noisy, clean = (
        checked(measured(tow(), warp_m=350.0, depth_m=some), []).gear.tows[0] for some in (depth, 100.0)
    )
    assert noisy.rope_bound_m == pytest.approx(clean.rope_bound_m, abs=0.01)
    assert noisy.layback_m == pytest.approx(clean.layback_m, abs=0.01)


def test_warp_that_was_measured_while_it_came_in_is_not_taken_for_that_of_the_tow():
    track = steady([HOME, moved(HOME, 90.0, 12_000.0)], step_s=20.0)
    time_s = (track.time_utc - START) / np.timedelta64(1, "s")
    warp = np.clip(350.0 - 1.2 * np.clip(time_s - 5000.0, 0.0, None), 0.0, None)
    haul = LoggedHaul(
        haul="1", shoot_utc=START + np.timedelta64(1200, "s"), haul_utc=START + np.timedelta64(5000, "s")
    )
    told, stated = (
        checked(some, [], towing=Towing.LOG, hauls=(haul,)).gear.tows[0]
        for some in (measured(track, warp_m=warp), track)
    )
    assert told.layback_m == pytest.approx(stated.layback_m, abs=0.01)
    assert told.latest_utc == stated.latest_utc


HAUL = LoggedHaul(
    haul="1", shoot_utc=START + np.timedelta64(1200, "s"), haul_utc=START + np.timedelta64(5000, "s")
)
HAUL_M = 5000.0 * 3.0 * KNOT_MPS
"""Where the vessel is when the winch starts, east of home at 3 kn."""


def hauled():
    """A track due east, of which `HAUL` is the tow."""
    return steady([HOME, moved(HOME, 90.0, 12_000.0)], step_s=20.0)


def test_gear_that_may_be_on_board_breaks_no_transit_rule():
    rules, problems, _ = read_rules({"transit_min_speed": "6kn"})
    assert problems == []
    # The vessel passes 20 m north of it; the starboard door over it, if it has not left the bottom by then.
    first, last = HAUL_M - 270.0, HAUL_M + 130.0
    corners = [beside(x, y) for x, y in ((first, -100.0), (last, -100.0), (last, -20.0), (first, -20.0))]
    result = checked(hauled(), [zone(area(corners), rules=rules)], towing=Towing.LOG, hauls=(HAUL,))
    row = gear_row(result)
    assert (row.status, row.reason) == (Status.UNDETERMINED, "activity_unknown")
    assert row.clearance_m < 0.0
    assert result.outcome is Outcome.UNDETERMINED


def test_a_rule_that_did_not_hold_is_not_said_to_be_kept_by_gear_that_may_have_come_too_near():
    rules, problems, _ = read_rules({"season": [{"from": "--07-01", "to": "--08-01"}]})
    assert problems == []
    row = gear_row(checked(tow(), [wreck(4000.0, 300.0, rules=rules)]))
    assert row.gear.rope_clearance_m < 0.0
    assert (row.status, row.reason) == (Status.NOT_IN_FORCE, "season")
    far = gear_row(checked(tow(), [wreck(4000.0, 900.0, rules=rules)]))
    assert far.status is Status.CLEAR


@pytest.mark.parametrize("tow_speed_kn", [0.5, 1.0])
def test_a_slow_planned_tow_is_computed_in_every_current_that_is_tried(tow_speed_kn):
    # At 0.5 kn less twice 0.3 kn nothing would move; at 1 kn a tow due east goes with the water of 1 kn.
    slow = replace(FIGURES, tow_speed_kn=tow_speed_kn, current=Current(set_deg=10.0, drift_kn=0.3))
    for figures in (slow, replace(slow, current=None)):
        line_east = route([(0.0, 0.0), (0.1, 0.0)])
        result = checked(line_east, [zone(points((0.05, 0.002)), ZoneKind.OBSTRUCTION)], figures)
        assert result.outcome is Outcome.UNDETERMINED
        effects = [effect.figure.name for effect in result.gear.effects]
        assert {"tow_speed", "drift"} <= set(effects)


def test_gear_of_a_vessel_that_goes_with_the_water_lies_astern_of_her():
    carried = replace(FIGURES, current=Current(set_deg=90.0, drift_kn=3.0))
    line_east = route([(0.0, 0.0), (0.1, 0.0)])
    still, moved_on = (
        gear_row(checked(line_east, [zone(points((0.05, 0.002)), ZoneKind.OBSTRUCTION)], figures))
        for figures in (FIGURES, carried)
    )
    assert moved_on.clearance_m == pytest.approx(still.clearance_m, abs=0.01)


def test_the_warp_is_bounded_in_the_deepest_water_a_profile_may_state():
    deep = replace(FIGURES, warp_m=None, depth_m=2950.0, door_spread_m=150.0)
    assert gear_row(checked(tow(), [wreck(4000.0, 1000.0)], deep)).status is Status.UNDETERMINED


def test_where_no_towing_is_stated_no_gear_was_out_in_a_gap():
    track = fixes([HOME, beside(100.0, 0.0), beside(2900.0, 0.0), beside(3000.0, 0.0)], [0, 60, 2460, 2520])
    platform = zone(points(beside(1500.0, 1500.0)), ZoneKind.SAFETY_ZONE)
    given = {"max_speed_kn": 3.0}
    towed = checked(track, [platform], **given)
    assert gear_row(towed).reason == "gap"
    none = checked(track, [platform], towing=Towing.NONE, **given)
    assert none.outcome is Outcome.CLEAR
    assert not [row for row in none.rows if row.part is Part.GEAR]


def test_figures_that_only_stretches_in_doubt_rest_on_are_told_as_assumed():
    # Three hours of going round in circles at towing speed: no tow, and not surely none.
    ring = [moved(HOME, 50.0 * number % 360.0, 300.0) for number in range(60)]
    track = fixes(ring, [180.0 * number for number in range(60)])
    bare = GearFigures(warp_m=350.0, depth_m=100.0)
    result = checked(track, [wreck(0.0, 3000.0)], bare, towing=Towing.DETECT)
    assert not result.tows
    assert result.doubts
    told = [line for line in result.assumptions if line.startswith("ASSUMED")]
    assert any("sweeps and bridles 120 m" in line for line in told)
    assert any("length of warp, sweeps and net alone" in line for line in result.assumptions)


def test_a_winch_slower_than_is_usual_keeps_the_gear_on_the_bottom_for_longer():
    # From the haul on at 8 kn. At 1.0 m/s warp, sweeps and net are in after 510 s; at 0.7 m/s, which is as
    # usual, after 729 s. The wreck is passed after 720 s.
    away = [(5000.0 + t, 8.0 * t * KNOT_MPS) for t in range(20, 2000, 20)]
    out = steady([HOME, beside(HAUL_M, 0.0)], step_s=20.0)
    track = joined(out, fixes([beside(HAUL_M + m, 0.0) for _, m in away], [s for s, _ in away]))
    figures = replace(FIGURES, heave_speed_mps=None)
    met = wreck(HAUL_M + 8.0 * 720.0 * KNOT_MPS, 30.0)
    result = checked(track, [met], figures, towing=Towing.LOG, hauls=(HAUL,))
    assert result.outcome is Outcome.UNDETERMINED
    assert gear_row(result).reason == "rope_bound"
    told = result.gear.tows[0]
    assert told.latest_utc - HAUL.haul_utc == np.timedelta64(1275, "s")  # 510 m at 1.0 - 2 x 0.3 m/s
    assert told.last_contact_utc - HAUL.haul_utc < np.timedelta64(120, "s")


def test_the_model_is_no_proof_while_the_net_is_hauled_over_shallow_ground():
    # 12 m deep, sweeps and net 160 m long: the net is on the bottom until it is on board, wherever the doors
    # are. The wreck lies 100 m beside where the vessel is 200 s after the winch started.
    shallow = replace(FIGURES, warp_m=75.0, depth_m=12.0, door_spread_m=30.0, wing_spread_m=12.0)
    met = wreck(HAUL_M + 200.0 * 3.0 * KNOT_MPS, 100.0)
    given = {"towing": Towing.LOG, "hauls": (HAUL,), "gear_proof": GearProof.MODEL}
    row = gear_row(checked(hauled(), [met], shallow, **given))
    assert (row.status, row.reason) == (Status.UNDETERMINED, "rope_bound")
    assert "taking the model for proof" not in row.explain
    # While it is towed the model proves what it proved: the same wreck, passed well before the haul.
    towed = gear_row(checked(hauled(), [wreck(HAUL_M - 3000.0, 250.0)], shallow, **given))
    assert towed.status is Status.CLEAR


def test_the_model_is_no_proof_where_by_its_own_figures_the_warp_does_not_reach_down():
    # A trench in the middle of the tow, deeper than the warp is long: what the gear did there is not known.
    track = steady([HOME, moved(HOME, 90.0, 8000.0)], step_s=20.0)
    east_m = 3.0 * KNOT_MPS * ((track.time_utc - START) / np.timedelta64(1, "s"))
    depth = np.where(np.abs(east_m - 4000.0) < 600.0, 344.9, 100.0)
    met = wreck(4000.0, 300.0)
    given = {"gear_proof": GearProof.MODEL}
    row = gear_row(checked(measured(track, warp_m=350.0, depth_m=depth), [met], **given))
    assert (row.status, row.reason) == (Status.UNDETERMINED, "rope_bound")


def test_the_net_is_inside_only_where_it_is_deeper_than_itself_is_uncertain():
    # A short warp and a long net: what turns the warps by an angle moves the net three times as far.
    shallow = replace(
        FIGURES, warp_m=75.0, depth_m=12.0, door_spread_m=30.0, wing_spread_m=12.0,
        current=Current(set_deg=180.0, drift_kn=1.0),
    )  # fmt: skip
    south = zone(
        area(
            [beside(x, y) for x, y in ((3000.0, -45.0), (5000.0, -45.0), (5000.0, -900.0), (3000.0, -900.0))]
        )
    )
    north = zone(
        area([beside(x, y) for x, y in ((3000.0, 45.0), (5000.0, 45.0), (5000.0, 900.0), (3000.0, 900.0))])
    )
    net, door = (gear_row(checked(tow(), [some], shallow, position_error_m=5.0)) for some in (south, north))
    assert (net.gear.nearest_part, door.gear.nearest_part) == ("net", "port door")
    assert net.uncertainty_m > 2.0 * door.uncertainty_m
    assert -net.uncertainty_m < net.clearance_m < -door.uncertainty_m
    assert net.status is Status.TOO_CLOSE


def lost(track, after_s):
    """A track whose log goes on for so long after its last position, without valid ones."""
    there = LeftOut(
        reason="void",
        file="t.nmea",
        line=np.array([1], dtype=np.uint32),
        time_utc=track.time_utc[-1:] + np.timedelta64(after_s, "s"),
        lon_deg=np.array([np.nan]),
        lat_deg=np.array([np.nan]),
    )
    return replace(track, left_out=(there,), fixes_read=len(track) + 1)


def test_gear_may_have_been_where_its_vessel_could_not_be_when_the_positions_were_lost():
    # In an hour at 10 knots the vessel comes as far as 10 miles, and her gear 581 m farther.
    far = wreck(8000.0 + 10.0 * 1852.0 + 400.0, 0.0)
    given = {"max_speed_kn": 10.0, "reach_m": 0.0}
    result = checked(lost(tow(), 3600), [far], **given)
    assert result.outcome is Outcome.UNDETERMINED
    row = gear_row(result)
    assert row.reason == "gap"
    assert "its gear could have been in or near" in row.explain
    beyond = wreck(8000.0 + 10.0 * 1852.0 + 700.0, 0.0)
    assert checked(lost(tow(), 3600), [beyond], **given).outcome is Outcome.CLEAR
    assert checked(lost(tow(), 3600), [far], towing=Towing.NONE, **given).outcome is Outcome.CLEAR


def test_vessels_and_gears_lost_for_long_have_one_row_a_zone():
    near = wreck(8000.0 + 9.0 * 1852.0, 0.0)
    result = checked(lost(tow(), 3600), [near], max_speed_kn=10.0, reach_m=0.0)
    assert [row.part for row in result.rows] == [Part.VESSEL]


def test_it_is_told_that_shooting_and_hauling_of_a_tow_without_ends_are_not_judged():
    words = "while it is shot and hauled, is not judged"
    for track in (route([HOME, moved(HOME, 90.0, 8000.0)]), tow()):
        assert any(words in line for line in checked(track, []).assumptions)
    ended = checked(hauled(), [], towing=Towing.LOG, hauls=(HAUL,))
    assert not any(words in line for line in ended.assumptions)


@pytest.mark.parametrize("astern", [False, True])
def test_gear_that_was_towed_into_a_gap_is_not_on_board_at_once_when_it_ends(astern):
    # A gap of 90 s, then 8 knots; at 1.2 m/s warp, sweeps and net take 425 s to come in. The wreck is passed
    # 180 s after the gap; and the other way round, shooting, 180 s before one.
    towed = steady([HOME, beside(8000.0, 0.0)], step_s=20.0)
    end_s = float((towed.time_utc[-1] - START) / np.timedelta64(1, "s"))
    away_m, along_s = 8000.0 + 6.0 * KNOT_MPS * 90.0, np.arange(0.0, 1500.0, 20.0)
    off = fixes([beside(away_m + 8.0 * KNOT_MPS * s, 0.0) for s in along_s], end_s + 90.0 + along_s)
    track = joined(towed, off)
    if astern:
        last = track.time_utc[-1]
        track = replace(
            track,
            lon_deg=track.lon_deg[::-1].copy(),
            lat_deg=track.lat_deg[::-1].copy(),
            time_utc=START + (last - track.time_utc[::-1]),
        )
    met = wreck(away_m + 8.0 * KNOT_MPS * 180.0, 30.0)
    given = {"towing": Towing.DETECT, "gap_s": 60.0, "max_speed_kn": 8.5}
    result = checked(track, [met], **given)
    assert len(result.tows) == 1
    assert result.outcome is Outcome.UNDETERMINED
    assert gear_row(result).tow == 1
    # Twenty minutes later all of it is in.
    later = wreck(away_m + 8.0 * KNOT_MPS * 1300.0, 30.0)
    assert checked(track, [later], **given).outcome is Outcome.CLEAR


def only_down(stretch, nodes):
    """A stretch whose gear is on the bottom at some nodes alone."""
    return replace(stretch, layback_m=np.where(np.isin(np.arange(len(stretch.layback_m)), nodes), 330.0, 0.0))


def test_the_least_clearance_is_that_of_gear_on_the_bottom_not_of_what_lies_between():
    settings = CheckSettings(towing=Towing.ALL, figures=FIGURES, gear="OTB")
    sides = ((3000.0, -90.0), (3200.0, -90.0), (3200.0, 90.0), (3000.0, 90.0))
    square = zone(area([beside(x, y) for x, y in sides]))
    demands = [Demand(margin_m=0.0, uncertainty_m=0.0)]
    scene = PathScene(build_path(tow(), settings), [square], Boundaries.of((square,)), demands, settings)
    stretch = gear_stretch(lead_along([(0.0, 0.0), (8000.0, 0.0)]), rigging_of(FIGURES))

    def least_m(*nodes):
        return least_clearance_m(scene, [only_down(stretch, nodes)], 0, (0.0, 800.0))

    # A node every 10 m: on the bottom before the square and after it, or at one moment alone.
    assert least_m(290, 291, 420, 421) > 100.0
    assert least_m(290) > 100.0
    assert least_m(*range(801)) == pytest.approx(-90.0, abs=1.0)


def exactly(figures, gear):
    """The rigging by figures that are exact."""
    rigging = rigging_for(figures, gear, position_error_m=0.0)
    figured = {f.name: replace(f, sigma=0.0) for f in rigging.all() if f.name in Rigging.__dataclass_fields__}
    return replace(rigging, **figured)


BEAMS = GearFigures(
    rig=Rig.BEAM, warp_m=90.0, depth_m=25.0, block_height_m=5.0, beam_length_m=12.0, beams_apart_m=14.0,
    block_separation_m=40.0, net_length_m=20.0, block_aft_m=0.0, block_starboard_m=0.0,
)  # fmt: skip


def test_a_beam_lies_as_far_aside_as_the_boom_it_hangs_from():
    # 20 m aside to the end of the boom, from there warp and net, and half a beam.
    assert rope_reach_m(exactly(BEAMS, "TBB")) == pytest.approx(np.sqrt(110.0**2 - 30.0**2) + 26.0, abs=1e-6)


@pytest.mark.parametrize("name", ["block_separation", "beam_length"])
def test_widths_count_three_standard_deviations_wider_as_lengths_do(name):
    rigging = exactly(BEAMS, "TBB")
    doubted = replace(rigging, **{name: replace(getattr(rigging, name), sigma=2.0)})
    assert rope_reach_m(doubted) - rope_reach_m(rigging) == pytest.approx(3.0, abs=1e-6)


def test_a_midwater_net_near_the_surface_is_within_the_bound():
    midwater = replace(FIGURES, net_length_m=150.0)
    rigging = exactly(midwater, "OTM")
    assert rope_reach_m(rigging) == pytest.approx(350.0 + 110.0 + 150.0 + 4.0, abs=1e-6)
