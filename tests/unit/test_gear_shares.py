"""How the gear of a tow passed the zones, share by share: what only whole checks show."""

from dataclasses import replace

import numpy as np
import pytest
from gear_stretches import BEAM, BEAMS, GEARS, SINGLE, TWIN
from scenes import GEOD, KNOT_MPS, START, area, fixes, line, moved, points, steady, zone

from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings, GearProof, Towing
from towzone.model.gear import GearTier
from towzone.model.result import Activity, Part, Status
from towzone.model.zone import ZoneKind
from towzone.tows.logged import LoggedHaul

HOME = (-20.0, 57.0)
MPS = 3.0 * KNOT_MPS


@pytest.fixture(autouse=True)
def without_effects(monkeypatch):
    """What each figure does is tested elsewhere, and takes most of the time."""
    monkeypatch.setattr("towzone.checks.run.with_effects", lambda account, *_: account)


def beside(along_m, left_m):
    """A position so far along the tow and to its left (north)."""
    here = moved(HOME, 90.0, along_m)
    return moved(here, GEOD.inv(*here, *moved(HOME, 90.0, 40_000.0))[0] - 90.0, left_m)


def tow(length_m=4000.0, **given):
    return steady([HOME, moved(HOME, 90.0, length_m)], **given)


def checked(tracks, zones, figures=SINGLE, **settings):
    given = {"towing": Towing.ALL, "gear": GEARS[figures.rig], "position_error_m": 10.0} | settings
    some = list(tracks) if isinstance(tracks, list) else [tracks]
    return run_check(some, zones, CheckSettings(figures=figures, **given))


def gear_rows(tracks, zones, figures=SINGLE, **settings):
    return [row for row in checked(tracks, zones, figures, **settings).rows if row.part is Part.GEAR]


def wreck(along_m, left_m, **more):
    return zone(points(beside(along_m, left_m)), ZoneKind.OBSTRUCTION, **more)


# ---------------------------------------------------------------- what passes between the parts


def test_a_cable_between_the_doors_all_along_the_tow_is_touched():
    cable = zone(line(beside(-3000.0, 25.0), beside(8000.0, 25.0)), ZoneKind.CABLE)
    (row,) = gear_rows(tow(), [cable])
    assert (row.status, row.reason, row.clearance_m) == (Status.TOO_CLOSE, "touched", 0.0)
    assert not np.signbit(row.clearance_m)
    assert row.gear.tier is GearTier.SHOWN
    # It is told where the cable was met, which lies on the cable.
    assert (row.closest.lon_deg, row.closest.lat_deg) == (row.closest.zone_lon_deg, row.closest.zone_lat_deg)


def test_a_strip_between_the_doors_all_along_the_tow_is_touched():
    corners = [beside(x, y) for x, y in ((-800.0, 22.0), (1800.0, 22.0), (1800.0, 28.0), (-800.0, 28.0))]
    (row,) = gear_rows(tow(1200.0), [zone(area(corners))])
    assert (row.status, row.reason) == (Status.TOO_CLOSE, "touched")


@pytest.mark.parametrize(
    ("figures", "left_m", "part", "clearance_m"),
    [
        (TWIN, 95.0, "port door", 20.0),
        (TWIN, -95.0, "starboard door", 20.0),
        (BEAMS, 28.0, "port beam", 10.0),
        (BEAMS, -28.0, "starboard beam", 10.0),
        (BEAM, -16.0, "port beam", 10.0),
        (SINGLE, -60.0, "starboard door", 20.0),
    ],
)
def test_the_nearest_part_is_named_and_its_distance_told(figures, left_m, part, clearance_m):
    (row,) = gear_rows(tow(), [wreck(2000.0, left_m)], figures)
    assert row.gear.nearest_part == part
    assert row.clearance_m == pytest.approx(clearance_m, abs=0.02)


@pytest.mark.parametrize(("left_m", "touched"), [(0.0, False), (5.9, False), (8.0, True), (-17.0, True)])
def test_between_two_beams_nothing_is_touched_and_under_them_all_is(left_m, touched):
    (row,) = gear_rows(tow(), [wreck(2000.0, left_m)], BEAMS)
    assert (row.reason == "touched") is touched
    if not touched:
        assert row.clearance_m == pytest.approx(6.0 - left_m, abs=0.02)


def test_a_clump_ahead_of_the_doors_reaches_first():
    """A wall across the end of the tow, ahead of the doors and where the clump stops."""
    end = 4000.0 - np.sqrt(310.0**2 - 105.0**2)
    wall = zone(line(beside(end + 7.0, -200.0), beside(end + 7.0, 200.0)), ZoneKind.CABLE)
    (row,) = gear_rows(tow(), [wall], TWIN)
    assert (row.gear.nearest_part, row.clearance_m) == ("clump", pytest.approx(7.0, abs=0.03))


# ---------------------------------------------------------------- gear that is not seen on the bottom

HAUL = LoggedHaul(
    haul="1", shoot_utc=START + np.timedelta64(1200, "s"), haul_utc=START + np.timedelta64(3000, "s")
)
SHALLOW = replace(SINGLE, warp_m=200.0, depth_m=30.0, door_spread_m=60.0)
"""Doors leave the bottom as the warp is in, sweeps and net drag on for 160 m at 1.2 m/s: 133 s more."""


def logged(zones, figures=SHALLOW, **settings):
    track = steady([HOME, moved(HOME, 90.0, 9000.0)], step_s=20.0)
    return gear_rows(track, zones, figures, towing=Towing.LOG, hauls=(HAUL,), **settings)


def test_the_model_proves_nothing_of_a_net_that_drags_on_when_the_doors_are_up():
    """The vessel passes a wreck at 30 m while the net may still be down, of which no path is known."""
    up_s = 3000.0 + (200.0 - 35.0) / 1.2
    lies = wreck((up_s + 60.0) * MPS, 30.0)
    (row,) = logged([lies], gear_proof=GearProof.MODEL)
    assert (row.status, row.activity) == (Status.UNDETERMINED, Activity.UNKNOWN)
    assert row.reason == "rope_bound"


@pytest.mark.parametrize("proof", GearProof)
def test_far_from_where_the_gear_is_hauled_it_is_clear_all_the_same(proof):
    rows = logged([wreck(3000.0 * MPS, 900.0)], gear_proof=proof)
    assert {row.status for row in rows} == {Status.CLEAR}


def test_what_is_passed_while_the_gear_is_towed_the_model_may_prove():
    # Half way: 2.7 km from the vessel when it shot and hauled.
    (row,) = logged(
        [wreck(2100.0 * MPS, 250.0)], replace(SHALLOW, net_length_m=20.0), gear_proof=GearProof.MODEL
    )
    assert (row.status, row.gear.tier) == (Status.CLEAR, GearTier.NOT_RULED_OUT)


def test_a_vessel_that_stood_still_while_its_log_says_it_towed_has_gear_of_which_no_path_is_known():
    still = fixes([HOME] * 90, np.arange(90.0) * 60.0)
    for proof in GearProof:
        rows = gear_rows(still, [wreck(0.0, 200.0)], towing=Towing.LOG, hauls=(HAUL,), gear_proof=proof)
        assert {(row.status, row.reason, row.clearance_m) for row in rows} == {
            (Status.UNDETERMINED, "rope_bound", None)
        }
        assert {row.gear.nearest_part for row in rows} == {""}
