"""Gear along tows drawn on a flat sheet, for tests of its parts: rigs, tows, and back to the sheet."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
from pyproj import Geod

from towzone.gear.figures import rigging_for
from towzone.gear.stretch import Lead, gear_stretch
from towzone.model.vessel import GearFigures, Rig

GEOD = Geod(ellps="WGS84")
HOME = (-20.0, 57.0)
STEP_M = 10.0
SPEED_MPS = 1.5

SINGLE = GearFigures(
    rig=Rig.SINGLE,
    warp_m=350.0,
    depth_m=100.0,
    block_height_m=5.0,
    block_separation_m=8.0,
    door_spread_m=80.0,
    sweeps_m=110.0,
    net_length_m=50.0,
    wing_spread_m=20.0,
    block_aft_m=0.0,
    block_starboard_m=0.0,
    tow_speed_kn=3.0,
    heave_speed_mps=1.2,
)
TWIN = replace(SINGLE, rig=Rig.TWIN, door_spread_m=150.0, clump_warp_m=310.0)
BEAMS = GearFigures(
    rig=Rig.BEAM,
    warp_m=90.0,
    depth_m=25.0,
    block_height_m=5.0,
    beam_length_m=12.0,
    beams_apart_m=24.0,
    net_length_m=20.0,
    block_aft_m=0.0,
    block_starboard_m=0.0,
)
BEAM = replace(BEAMS, beams_apart_m=0.0)
RIGS = {"single": SINGLE, "twin": TWIN, "beams": BEAMS, "beam": BEAM}
GEARS = {Rig.SINGLE: "OTB", Rig.TWIN: "OTT", Rig.BEAM: "TBB"}


def laid(xy_m, place=HOME):
    """Positions of points of a flat drawing, metres east and north of a place, shape (n, 2)."""
    xy = np.asarray(xy_m, dtype=float).reshape(-1, 2)
    start = [np.full(len(xy), value) for value in place]
    lon, lat, _ = GEOD.fwd(*start, np.degrees(np.arctan2(xy[:, 0], xy[:, 1])), np.hypot(*xy.T))
    return np.column_stack([lon, lat])


def flat(lon_deg, lat_deg, place=HOME):
    """Metres east and north of a place, shape (n, 2)."""
    lon, lat = np.atleast_1d(np.asarray(lon_deg, float)), np.atleast_1d(np.asarray(lat_deg, float))
    start = [np.full(len(lon), value) for value in place]
    azimuth, _, length = GEOD.inv(*start, lon, lat)
    return np.column_stack([length * np.sin(np.radians(azimuth)), length * np.cos(np.radians(azimuth))])


def stepped(corners_m, step_m=STEP_M):
    """A flat way through corners with a node every step, shape (n, 2)."""
    way = [np.asarray(corners_m[0], float)[None]]
    for a, b in itertools.pairwise(corners_m):
        a, b = np.asarray(a, float), np.asarray(b, float)
        steps = max(1, int(np.ceil(np.hypot(*(b - a)) / step_m)))
        way.append(a + np.arange(1, steps + 1)[:, None] / steps * (b - a))
    return np.concatenate(way)


def lead_along(corners_m, figures=SINGLE, *, warp_m=None, height_m=None, place=HOME):
    """The towing block along a flat way at `SPEED_MPS`; warp and height may be arrays."""
    xy = stepped(corners_m)
    lon_lat = laid(xy, place)
    count = len(xy)
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    height = figures.depth_m + figures.block_height_m if height_m is None else height_m
    return Lead(
        place=np.arange(count, dtype=float),
        clock_s=way / SPEED_MPS,
        lon_deg=lon_lat[:, 0],
        lat_deg=lon_lat[:, 1],
        speed_mps=np.full(count, SPEED_MPS),
        warp_m=np.broadcast_to(np.asarray(figures.warp_m if warp_m is None else warp_m, float), count),
        height_m=np.broadcast_to(np.asarray(height, float), count),
    )


def rigging_of(figures):
    return rigging_for(figures, GEARS[figures.rig], position_error_m=10.0)


def stretch_along(corners_m, figures=SINGLE, **more):
    """The gear along a flat way, and its rigging."""
    rigging = rigging_of(figures)
    return gear_stretch(lead_along(corners_m, figures, **more), rigging), rigging


def zigzag(seed=1, legs=12):
    """Corners of a way with sharp turns and short legs."""
    rng = np.random.default_rng(seed)
    corners, heading = [(0.0, 0.0)], 1.5
    for length in rng.uniform(60.0, 900.0, legs):
        east, north = corners[-1]
        corners.append((east + length * np.sin(heading), north + length * np.cos(heading)))
        heading += np.radians(rng.choice([10, 45, 90, -60, 150, -20]))
    return corners
