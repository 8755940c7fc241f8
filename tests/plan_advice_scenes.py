"""Small plans for tests of advice: a line from courses and lengths, a gear of plain figures, a judge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scenes import GEOD, START, moved

from towzone.checks.settings import CheckSettings, GearProof
from towzone.geodesy.lines import LineKind
from towzone.model.vessel import GearFigures, Rig
from towzone.plan.judging import Judge, PlanSettings
from towzone.plan.lines import line_of

SPEED_KN = 3.0
FIGURES = GearFigures(
    rig=Rig.SINGLE,
    warp_m=350.0,
    depth_m=100.0,
    block_height_m=5.0,
    block_separation_m=8.0,
    door_spread_m=80.0,
    sweeps_m=110.0,
    net_length_m=45.0,
    wing_spread_m=20.0,
    block_aft_m=0.0,
    block_starboard_m=0.0,
    strongest_kn=0.4,
)
CHECK = CheckSettings(figures=FIGURES, gear="OTB", gear_proof=GearProof.MODEL, steering_m=20.0)


def corners(at, *legs):
    """Corners (lon, lat) from a start, and for each leg its course and length."""
    found = [at]
    for course_deg, length_m in legs:
        found.append(moved(found[-1], course_deg, length_m))
    return found


def planned(positions, name="A"):
    lon, lat = np.array(positions).T
    return line_of(name, lon, lat)


def judge_of(zones, *, figures=FIGURES, **check):
    settings = PlanSettings(
        check=replace(CHECK, figures=figures, legs=LineKind.GEODESIC, **check),
        depart_utc=START,
        speed_kn=SPEED_KN,
        hauling_way_kn=2.0,
        hauling_way_stated=True,
        strongest_kn=0.4,
    )
    return Judge(zones, settings)


def with_corners(line, changed):
    """A line with some corners, by number, put elsewhere."""
    lon, lat = line.lon_deg.copy(), line.lat_deg.copy()
    for number, (east, north) in changed.items():
        lon[number], lat[number] = east, north
    return replace(line, lon_deg=lon, lat_deg=lat)


def aside_m(at, first, second):
    """How far a position lies to starboard of the geodesic through two others, over a few kilometres."""
    course, _, _ = GEOD.inv(*first, *second)
    bearing, _, metres = GEOD.inv(*first, *at)
    return metres * np.sin(np.radians(bearing - course))
