"""Planned lines as the check follows them, against distances worked out elsewhere: corners, gates and more.

The values are those of `gear_values.csv` and, where it says so, of own stepping by a script of its own. The
layback is 400 m, doors are as far apart as the blocks, so that their middle is what the values are about.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from gear_stretches import SINGLE
from planned_tows import PORT, judge_of, planned
from pyproj import Proj
from reference_rows import read_table
from scenes import points, zone

from towzone.checks.gear_figures import gear_of_tow
from towzone.checks.paths import build_path
from towzone.gear.stretch import gear_stretch
from towzone.model.result import Part
from towzone.model.zone import ZoneKind

L = 400.0
FIGURES = replace(SINGLE, warp_m=math.hypot(L, 105.0), door_spread_m=8.0, wing_spread_m=4.0)
BEHIND_M = math.sqrt(110.0**2 - 2.0**2) + 50.0
"""Doors to codend: sweeps of 110 m to wing-ends 2 m farther in on either side, and the net."""
PLANE = Proj(proj="aeqd", ellps="WGS84", lon_0=PORT[0], lat_0=PORT[1])
NEAR_M = 0.6
"""Legs are rhumb lines, which bend by decimetres in the plane; nodes of the path are metres apart."""

EXPECTED = {row["id"]: float(row["expected"]) for row in read_table("gear_values.csv")}


def drawn(*corners_m):
    """A planned line through points east and north of the port, metres."""
    return planned(*(PLANE(*corner, inverse=True) for corner in corners_m))


def flat(lon_deg, lat_deg):
    x, y = PLANE(lon_deg, lat_deg)
    return np.asarray(x) + 1j * np.asarray(y)


def doors(line):
    """The middle between the doors along a planned tow, and the blocks at the same moments."""
    judge = judge_of([], figures=FIGURES)
    path = build_path(judge.track(line), judge.settings.check)
    gear = gear_of_tow(path, path.tows[0], judge.settings.check)
    (lead,) = gear.leads(path, np.arange(len(line) + 2, dtype=float))
    stretch = gear_stretch(lead, gear.rigging)
    port, starboard = (flat(t.lon_deg, t.lat_deg) for t in stretch.tracers[:2])
    towed = (lead.place >= 1.0) & (lead.place <= len(line))
    return ((port + starboard) / 2.0)[towed], flat(lead.lon_deg, lead.lat_deg)[towed]


def along(z, steps=200):
    """The same path with points between its nodes."""
    at = np.linspace(0.0, len(z) - 1.0, (len(z) - 1) * steps + 1)
    n = np.arange(len(z))
    return np.interp(at, n, z.real) + 1j * np.interp(at, n, z.imag)


def turned(turn_deg, before_m=5000.0, after_m=6000.0):
    """A tow east and then a turn to port, the corner at (0, 0)."""
    on = after_m * np.exp(1j * math.radians(turn_deg))
    return drawn((-before_m, 0.0), (0.0, 0.0), (on.real, on.imag))


@pytest.mark.parametrize(
    ("turn_deg", "row"), [(90.0, "V11-distance"), (45.0, "V12-45"), (60.0, "V12-60"), (120.0, "V12-120")]
)
def test_the_gear_of_a_planned_tow_passes_a_corner_at_the_distance_worked_out(turn_deg, row):
    gear, _ = doors(turned(turn_deg))

    assert np.abs(along(gear)).min() == pytest.approx(EXPECTED[row] * L, abs=NEAR_M)


@pytest.mark.parametrize(
    ("turn_deg", "inside"), [(15.0, 0.0957), (30.0, 0.1887), (45.0, 0.2768), (90.0, 0.4816)]
)
def test_the_gear_of_a_planned_tow_cuts_inside_by_as_much_as_stepping_says(turn_deg, inside):
    """Own stepping: the greatest distance from the vessel's way, in laybacks."""
    gear, _ = doors(turned(turn_deg))
    gear, on = along(gear), np.exp(1j * math.radians(turn_deg))
    off = np.minimum(abs(gear.imag), abs((gear / on).imag))
    inner = (gear.imag > 0.0) & ((gear / on).imag > 0.0)

    assert off[inner].max() == pytest.approx(inside * L, abs=NEAR_M)


def test_two_turns_of_45_degrees_cut_no_deeper_than_one_does():
    """0.277 laybacks each instead of 0.482, where they are three laybacks apart or more."""
    on = 3.0 * L * np.exp(0.25j * math.pi)
    gear, block = doors(drawn((-5000.0, 0.0), (0.0, 0.0), (on.real, on.imag), (on.real, on.imag + 6000.0)))
    way, settled = along(block), along(gear)
    settled = settled[settled.real > -2000.0][::50]
    off = max(np.abs(way - z).min() for z in settled)

    assert off == pytest.approx(0.2768 * L, abs=6.0)


def test_a_turn_ended_a_gate_distance_before_a_gate_lets_the_gear_pass_it_near_the_axis():
    """A turn of 90 degrees; the gate lies on the new line, and 20 m are near enough."""
    gate_m = EXPECTED["V13-gate"]
    gear = along(doors(turned(90.0))[0])
    new = gear[gear.real > -L]
    passed = new[np.argmin(np.abs(new.imag - gate_m))]

    assert -passed.real == pytest.approx(20.0, abs=0.3)


def test_after_the_settling_run_the_gear_is_that_near_the_new_line():
    gear, block = doors(turned(90.0))
    way = np.where(block.real < -0.5, -1.0, block.imag)
    new = way > 0.0
    off = np.interp(EXPECTED["V13-run"], way[new], -gear.real[new])

    assert off == pytest.approx(20.0, abs=0.3)


@pytest.mark.parametrize(
    ("past", "row"),
    [(0.0, "sidestep-abeam"), (L, "sidestep-one-layback-on"), (2.0 * L, "sidestep-two-laybacks-on")],
)
def test_a_sidestep_of_a_planned_tow_is_followed_by_the_share_worked_out(past, row):
    """80 m at 30 degrees."""
    run = 80.0 / math.tan(math.radians(30.0))
    gear, _ = doors(drawn((-5000.0, 0.0), (-run / 2.0, 0.0), (run / 2.0, 80.0), (5000.0, 80.0)))

    assert np.interp(past, gear.real, gear.imag) / 80.0 * 100.0 == pytest.approx(EXPECTED[row], abs=0.8)


def gear_m(wreck_m, *corners_m):
    """Clearance of all the gear of a line from a wreck, by the whole check."""
    wreck = zone(points(PLANE(*wreck_m, inverse=True)), ZoneKind.OBSTRUCTION)
    rows = judge_of([wreck], figures=FIGURES).rows(drawn(*corners_m))
    (row,) = [row for row in rows if row.part is Part.GEAR]
    return row.clearance_m


def test_held_on_until_layback_sweeps_and_net_are_past_it_an_obstacle_inside_the_turn_stays_clear():
    """gear.md of the plan, 8.3: then the gear begins to cut the corner beyond the obstacle."""
    wreck = (0.0, 60.0)
    held_m = L + BEHIND_M
    on = (held_m, 0.0)
    straight = gear_m(wreck, (-5000.0, 0.0), on, (5000.0, 0.0))
    waited, early = (gear_m(wreck, (-5000.0, 0.0), (x, 0.0), (x, 5000.0)) for x in (held_m, held_m / 2.0))

    # Half of the doors' spread; and the rhumb line east runs a little south of the geodesic.
    assert straight == pytest.approx(60.0 - 4.0, abs=0.5)
    assert waited == pytest.approx(straight, abs=0.05)
    assert early < straight - 10.0
