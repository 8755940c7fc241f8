"""The least clearance asked of stretches alone, and what each figure does to it, against whole checks."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from gear_stretches import BEAMS, GEARS, SINGLE, TWIN
from scenes import GEOD, KNOT_MPS, START, area, fixes, line, moved, points, steady, zone

from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings, Towing
from towzone.files.rule_properties import read_rules
from towzone.model.result import Part, Status
from towzone.model.vessel import Current
from towzone.model.zone import ZoneKind
from towzone.tows.logged import LoggedHaul

HOME = (-20.0, 57.0)
LAYBACK_M = 331.9322
"""gear.md of the plan, V2."""


def beside(along_m, left_m):
    here = moved(HOME, 90.0, along_m)
    return moved(here, GEOD.inv(*here, *moved(HOME, 90.0, 40_000.0))[0] - 90.0, left_m)


def tow(length_m=3000.0):
    return steady([HOME, moved(HOME, 90.0, length_m)])


def told(track, zones, figures=SINGLE, **settings):
    given = {"towing": Towing.ALL, "gear": GEARS[figures.rig], "position_error_m": 10.0} | settings
    return run_check([track], zones, CheckSettings(figures=figures, **given))


def effects_of(result):
    return {effect.figure.name: effect for effect in result.gear.effects}


def wreck(along_m, left_m, **more):
    return zone(points(beside(along_m, left_m)), ZoneKind.OBSTRUCTION, **more)


def wall(along_m):
    """A line across the tow, so far along it."""
    return zone(line(beside(along_m, -2000.0), beside(along_m, 2000.0)), ZoneKind.CABLE)


AHEAD = 3000.0 - LAYBACK_M + 50.0
"""Fifty metres ahead of where the doors are at the end of the tow."""


def test_what_moves_the_gear_along_counts_for_a_line_across_its_way():
    result = told(tow(), [wall(AHEAD)])
    assert result.gear.effects_clearance_m == pytest.approx(50.0, abs=0.1)
    found = effects_of(result)
    for name, low, high in (
        ("warp", 350.0 - 2.0 * found["warp"].figure.sigma, 350.0 + 2.0 * found["warp"].figure.sigma),
        ("depth", 100.0 - 2.0 * found["depth"].figure.sigma, 100.0 + 2.0 * found["depth"].figure.sigma),
        ("block_height", 4.0, 6.0),
    ):
        effect = found[name]
        assert (effect.low_value, effect.high_value) == pytest.approx((low, high), abs=1e-9)
        for value, clearance in ((low, effect.low_clearance_m), (high, effect.high_clearance_m)):
            warp, height = (
                (value, 105.0) if name == "warp" else (350.0, value + (5.0 if name == "depth" else 100.0))
            )
            layback = np.sqrt(warp**2 - height**2 - 36.0**2)
            assert clearance == pytest.approx(50.0 + layback - LAYBACK_M, abs=0.1), (name, value)


def test_a_block_farther_aft_keeps_the_gear_farther_back():
    aft = effects_of(told(tow(), [wall(AHEAD)]))["block_aft"]
    assert aft.high_clearance_m - aft.low_clearance_m == pytest.approx(
        aft.high_value - aft.low_value, abs=0.05
    )
    assert aft.low_value < 0.0 < aft.high_value


def test_a_current_of_any_direction_brings_the_gear_nearer_or_keeps_it_off():
    figures = replace(SINGLE, current=None)
    drift = effects_of(told(tow(6000.0), [wreck(4500.0, 240.0)], figures))["drift"]
    # Steady, f = 0: the towline stands at atan(1 / 3) to the course where 1 kn sets across 3 kn.
    angle = np.arctan2(1.0, 3.0)
    aside = LAYBACK_M * np.sin(angle) - 40.0 * (1.0 - np.cos(angle))
    assert drift.high_value == pytest.approx(1.0)
    assert drift.high_clearance_m <= 200.0 - aside + 1.0
    assert drift.low_clearance_m > 200.0 + 0.7 * aside


def _farthest_aside_m(angle):
    """How far aside the farthest of door, wing-end and codend is when all are at an angle to the course."""
    wing, codend = np.sqrt(110.0**2 - 30.0**2), np.sqrt(110.0**2 - 30.0**2) + 50.0
    parts = ((LAYBACK_M, 40.0), (LAYBACK_M + wing, 10.0), (LAYBACK_M + codend, 0.0))
    return max(behind * np.sin(angle) + aside * np.cos(angle) for behind, aside in parts)


def test_a_stated_current_is_changed_by_what_is_not_known_of_it():
    figures = replace(SINGLE, current=Current(set_deg=0.0, drift_kn=0.5))
    result = told(tow(6000.0), [wreck(4500.0, 340.0)], figures)
    drift = effects_of(result)["drift"]
    # Steady, f = 0: the towline points along the vessel's way through the water.
    asides = []
    for heading in np.radians(np.arange(0.0, 360.0, 45.0)):
        through = np.array([3.0, -0.5]) - drift.high_value * np.array([np.sin(heading), np.cos(heading)])
        angle = np.arctan2(-through[1], through[0])
        asides.append(_farthest_aside_m(angle))
    now = _farthest_aside_m(np.arctan2(0.5, 3.0))
    assert result.gear.effects_clearance_m == pytest.approx(340.0 - now, abs=0.5)
    assert drift.high_clearance_m == pytest.approx(340.0 - max(asides), abs=1.0)
    assert drift.low_clearance_m == pytest.approx(340.0 - min(asides), abs=1.0)


def test_errors_of_places_move_the_gear_by_as_much_nearer_and_away():
    result = told(tow(), [wreck(1500.0, 140.0)])
    found = effects_of(result)
    for name, sigma in (("position", 10.0 / 3.0), ("antenna", 2.0)):
        assert found[name].low_clearance_m == pytest.approx(100.0 + 2.0 * sigma, abs=0.02)
        assert found[name].high_clearance_m == pytest.approx(100.0 - 2.0 * sigma, abs=0.02)


def test_the_figure_that_matters_most_comes_first_and_those_that_do_not_matter_by_name():
    result = told(tow(), [wall(AHEAD)])
    base = result.gear.effects_clearance_m
    sizes = [max(abs(e.low_clearance_m - base), abs(e.high_clearance_m - base)) for e in result.gear.effects]
    assert all(one >= other - 1e-12 for one, other in itertools.pairwise(sizes))
    assert sizes[0] > 10.0 > sizes[-1]


HAUL = LoggedHaul(
    haul="1", shoot_utc=START + np.timedelta64(1200, "s"), haul_utc=START + np.timedelta64(3000, "s")
)


def test_how_fast_the_warp_comes_in_counts_where_the_gear_is_hauled():
    """The slower the winch, the farther the doors are dragged on before they lift."""
    track = steady([HOME, moved(HOME, 90.0, 6000.0)], step_s=20.0)
    # Doors on the bottom go on for (350 - 111) / 1.2 = 199 s and 307 m more, and come up beneath the vessel.
    ends_m = (3000.0 + (350.0 - 111.0) / 1.2) * 3.0 * KNOT_MPS
    result = told(track, [wall(ends_m + 120.0)], towing=Towing.LOG, hauls=(HAUL,))
    speed = effects_of(result)["haul_speed"]
    # Of the last 10 m that the vessel makes before, in which the doors make 50, nothing is measured.
    assert 119.0 < result.gear.effects_clearance_m < 120.0 + 50.0
    assert speed.low_value == pytest.approx(0.8 * 1.2)
    later_m = ((350.0 - 111.0) / speed.low_value - (350.0 - 111.0) / 1.2) * 3.0 * KNOT_MPS
    assert result.gear.effects_clearance_m - speed.low_clearance_m == pytest.approx(later_m, abs=50.0)
    assert later_m > 75.0
    assert speed.high_clearance_m > result.gear.effects_clearance_m


@pytest.mark.parametrize(
    ("figures", "left_m", "clearance_m"), [(TWIN, 125.0, 50.0), (BEAMS, 48.0, 30.0), (SINGLE, -90.0, 50.0)]
)
def test_the_effects_start_from_the_clearance_of_the_row(figures, left_m, clearance_m):
    result = told(tow(), [wreck(1500.0, left_m)], figures)
    assert result.gear.effects_clearance_m == pytest.approx(clearance_m, abs=0.02)
    position = effects_of(result)["position"]
    middle = (position.low_clearance_m + position.high_clearance_m) / 2.0
    assert middle == pytest.approx(result.gear.effects_clearance_m, abs=0.005)


def test_the_depth_inside_an_area_is_asked_for_again_to_a_centimetre():
    corners = [beside(x, y) for x, y in ((1000.0, -300.0), (1400.0, -300.0), (1400.0, 90.0), (1000.0, 90.0))]
    result = told(tow(2600.0), [zone(area(corners))])
    position = effects_of(result)["position"]
    row = next(row for row in result.rows if row.part is Part.GEAR)
    assert row.status is Status.INSIDE
    middle = (position.low_clearance_m + position.high_clearance_m) / 2.0
    assert middle == pytest.approx(row.clearance_m, abs=0.01)


def test_outside_the_only_area_allowed_the_effects_start_from_the_distance_outside():
    rules, problems, _ = read_rules({"allowed_only_inside": True})
    assert problems == []
    corners = [
        beside(x, y) for x, y in ((-2000.0, -900.0), (6000.0, -900.0), (6000.0, 20.0), (-2000.0, 20.0))
    ]
    result = told(tow(2000.0), [zone(area(corners), rules=rules)])
    position = effects_of(result)["position"]
    row = next(row for row in result.rows if row.part is Part.GEAR)
    middle = (position.low_clearance_m + position.high_clearance_m) / 2.0
    assert middle == pytest.approx(row.clearance_m, abs=0.01)
    spread = effects_of(result)["door_spread"]
    assert spread.low_clearance_m - spread.high_clearance_m == pytest.approx(
        (spread.high_value - spread.low_value) / 2.0, abs=0.02
    )


def test_sweeps_too_short_for_the_spread_have_no_clearance_rather_than_a_wrong_one():
    figures = replace(SINGLE, door_spread_m=110.0, sweeps_m=46.0, wing_spread_m=20.0)
    found = effects_of(told(tow(), [wreck(1500.0, 150.0)], figures))
    assert found["door_spread"].high_clearance_m is None
    assert found["door_spread"].low_clearance_m == pytest.approx(
        150.0 - found["door_spread"].low_value / 2.0, abs=0.02
    )
    assert found["sweeps"].low_clearance_m is None


def test_without_a_row_of_the_gear_there_are_no_effects():
    result = told(tow(), [])
    assert (result.gear.effects, result.gear.effects_clearance_m) == ((), None)


def test_gear_that_never_moved_has_no_effects():
    still = fixes([HOME] * 90, np.arange(90.0) * 60.0)
    result = told(still, [wreck(0.0, 200.0)], towing=Towing.LOG, hauls=(HAUL,))
    assert result.gear.effects == ()


def test_the_row_with_the_least_left_above_its_margin_is_asked_about():
    near, wide = wreck(1000.0, 140.0, zone_id="A"), wreck(2000.0, 300.0, zone_id="B", margin_m=250.0)
    result = told(tow(), [near, wide])
    assert result.gear.effects_zone_id == "B"
    assert result.gear.effects_clearance_m == pytest.approx(260.0, abs=0.02)


def test_a_radius_around_a_wreck_counts_in_trials_as_in_rows():
    found = told(tow(), [wreck(1500.0, 140.0, radius_m=30.0)])
    position = effects_of(found)["position"]
    assert found.gear.effects_clearance_m == pytest.approx(70.0, abs=0.02)
    assert (position.low_clearance_m + position.high_clearance_m) / 2.0 == pytest.approx(70.0, abs=0.02)


def test_a_turn_before_the_place_that_matters_is_made_again_in_every_trial():
    corner = moved(HOME, 90.0, 1500.0)
    track = steady([HOME, corner, moved(corner, 0.0, 1100.0)], step_s=20.0)
    # North of the turn the doors still come in from the west; astern of where they would be had they settled.
    lies = zone(points(moved(moved(corner, 0.0, 450.0), 270.0, 190.0)), ZoneKind.OBSTRUCTION)
    result = told(track, [lies])
    position = effects_of(result)["position"]
    middle = (position.low_clearance_m + position.high_clearance_m) / 2.0
    assert middle == pytest.approx(result.gear.effects_clearance_m, abs=0.02)
