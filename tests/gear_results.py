"""Hand-made results with gear: the invented trip of `result_builders` towing doors and a net behind it.

The gear follows the vessel like a stone on a string, stepped crudely in a flat plane; its clearances are
brute force over sampled positions. Nothing here comes from the code under test but the model's classes.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import shapely
from result_builders import GEOD, build_result, nearest, status_of, strings_of, wrapped

from towzone.model.gear import (
    Basis,
    Figure,
    FigureEffect,
    GearAccount,
    GearFlag,
    GearLine,
    GearReach,
    GearTier,
    GearTow,
)
from towzone.model.result import Activity, CheckResult, Closest, CloseStretch, Part, Row, Status, Tow
from towzone.model.track import Track
from towzone.model.zone import Zone

LAYBACK_M, SPREAD_M, NET_BEHIND_M, STEP_M = 333.0, 80.0, 160.0, 15.0
DOORS = ("port door", "starboard door")
METRES_PER_DEGREE = 111_195.0
"""Of a sphere of 6 371 km: good enough for a picture."""

SLACK = "In this turn the towline was slack: the doors may have fallen."


def build_gear_result(**options: Any) -> CheckResult:
    """Return the trip of `build_result` with gear rows; the gear of its third tow was not computed."""
    base = dataclasses.replace(build_result(**options), settings={"legs": "rhumb", "reach_m": 9260.0})
    track = base.tracks[0]
    gears = [gear_of_tow(track, tow) for tow in base.tows[:2]]
    why = "The haul log gives no warp for this tow, and no depth is known to guess it from."
    gears.append(GearTow(track_id=track.track_id, tow=base.tows[2].number, why_not=why))
    rows = [
        gear_row(track, tow, gear, zone)
        for tow, gear in zip(base.tows, gears[:2], strict=False)
        for zone in base.zones[:4]
    ]
    worst = min(rows, key=lambda row: row.clearance_m)
    order = list(Status)
    everything = sorted(
        (*base.rows, *rows),
        key=lambda row: (order.index(row.status), row.clearance_m, row.part is Part.GEAR),
    )
    return dataclasses.replace(
        base,
        rows=tuple(everything),
        gaps={**{each.track_id: () for each in base.tracks}, **base.gaps},
        gear=GearAccount(
            tows=tuple(gears),
            effects=effects(worst.clearance_m),
            effects_track_id=worst.track_id,
            effects_tow=worst.tow,
            effects_zone_id=worst.zone_id,
            effects_clearance_m=worst.clearance_m,
        ),
    )


def figures() -> tuple[Figure, ...]:
    """Five figures, every way of knowing among them."""
    return (
        Figure(name="warp", value=350.0, sigma=7.0, unit="m", basis=Basis.STATED, source="vessel profile"),
        Figure(
            name="depth", value=100.0, sigma=3.0, unit="m", basis=Basis.TRACK, source="depths on the track"
        ),
        Figure(
            name="door_spread",
            value=80.0,
            sigma=12.0,
            unit="m",
            basis=Basis.DERIVED,
            source="from the warps 8.7 m apart 3 m down",
            low=60.0,
            high=105.0,
        ),
        Figure(name="sweeps", value=120.0, sigma=30.0, unit="m", basis=Basis.ASSUMED, source="own choice"),
        Figure(
            name="current_drift",
            value=0.0,
            sigma=0.25,
            unit="kn",
            basis=Basis.ASSUMED,
            source="no current stated",
        ),
    )


def effects(clearance_m: float) -> tuple[FigureEffect, ...]:
    """Three effects, the greatest first, one of them without an answer on one side."""
    warp, _, spread, _, drift = figures()
    return (
        FigureEffect(
            figure=drift,
            low_value=-0.5,
            high_value=0.5,
            low_clearance_m=clearance_m - 66.0,
            high_clearance_m=clearance_m + 66.0,
        ),
        FigureEffect(
            figure=warp,
            low_value=336.0,
            high_value=364.0,
            low_clearance_m=clearance_m + 6.0,
            high_clearance_m=clearance_m - 6.25,
        ),
        FigureEffect(
            figure=spread,
            low_value=60.0,
            high_value=105.0,
            low_clearance_m=None,
            high_clearance_m=clearance_m,
        ),
    )


def gear_of_tow(track: Track, tow: Tow) -> GearTow:
    """Return paths and corridors of one tow."""
    path = np.column_stack([track.lon_deg, track.lat_deg])[tow.first : tow.last + 1]
    path[:, 0] = np.unwrap(path[:, 0], period=360.0)
    scale = METRES_PER_DEGREE * np.array([math.cos(math.radians(path[0, 1])), 1.0])
    flat = (path - path[0]) * scale
    along = np.concatenate([[0.0], np.hypot(*np.diff(flat, axis=0).T).cumsum()])
    at = np.arange(0.0, along[-1], STEP_M)
    vessel = np.column_stack([np.interp(at, along, flat[:, i]) for i in (0, 1)])
    seconds = track.time_utc[tow.first : tow.last + 1].astype("datetime64[us]").astype(np.int64) / 1e6
    time_s = np.interp(at, along, seconds)
    place = np.interp(at, along, np.arange(tow.first, tow.last + 1))
    middle = followed(vessel, LAYBACK_M)
    towards = vessel - middle
    ahead = towards / np.hypot(*towards.T)[:, np.newaxis]
    port = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    parts = {
        DOORS[0]: middle + port * SPREAD_M / 2.0,
        DOORS[1]: middle - port * SPREAD_M / 2.0,
        "net": followed(middle, NET_BEHIND_M),
    }
    ends = np.stack([parts[DOORS[0]], parts[DOORS[1]]], axis=1)
    quads = np.concatenate([ends[:-1], ends[1:, ::-1]], axis=1)
    swept = shapely.union_all(shapely.buffer(shapely.polygons(quads), 0.01, cap_style="square"))
    net = shapely.buffer(shapely.linestrings(parts["net"]), 10.0)
    start, end = track.time_utc[tow.first], track.time_utc[tow.last]
    minutes = np.timedelta64(60, "s")
    return GearTow(
        track_id=track.track_id,
        tow=tow.number,
        lines=tuple(
            GearLine(
                part=part,
                lon_deg=wrapped(path[0] + xy / scale)[:, 0],
                lat_deg=(path[0] + xy / scale)[:, 1],
                place=place,
                time_s=time_s,
            )
            for part, xy in parts.items()
        ),
        corridor=rings(swept, path[0], scale),
        net_corridor=rings(net, path[0], scale),
        likely=rings(shapely.buffer(swept, 45.0), path[0], scale),
        swept_m2=float(shapely.area(swept)),
        layback_m=(LAYBACK_M - 6.0, LAYBACK_M + 1.0),
        rope_bound_m=506.9,
        first_contact_utc=start + 6 * minutes,
        last_contact_utc=end - 4 * minutes,
        earliest_utc=start,
        latest_utc=end,
        figures=figures(),
        flags=(
            GearFlag(kind="slack", from_utc=start + 40 * minutes, to_utc=start + 44 * minutes, words=SLACK),
            GearFlag(
                kind="settling",
                from_utc=np.datetime64("NaT", "us"),
                to_utc=np.datetime64("NaT", "us"),
                words="Where the gear was when the track begins is not known.",
            ),
        ),
    )


def followed(leader: np.ndarray, rope_m: float) -> np.ndarray:
    """Return the path of something dragged on a rope: at each step it moves straight towards the leader."""
    direction = leader[1] - leader[0]
    here = leader[0] - rope_m * direction / np.hypot(*direction)
    path = []
    for there in leader:
        apart = there - here
        distance = float(np.hypot(*apart))
        if distance > rope_m:
            here = here + apart * (distance - rope_m) / distance
        path.append(here)
    return np.array(path)


def rings(shape: Any, origin: np.ndarray, scale: np.ndarray) -> tuple[tuple[np.ndarray, ...], ...]:
    """Return polygons in metres as rings in degrees, unrolled, shell first."""
    return tuple(
        tuple(origin + shapely.get_coordinates(ring) / scale for ring in shapely.get_rings(part))
        for part in shapely.get_parts(shape)
    )


def gear_row(track: Track, tow: Tow, gear: GearTow, zone: Zone) -> Row:
    """Return the row of the gear of one tow and one zone, by brute force over the nodes of its paths."""
    best: tuple[float, int, GearLine, np.ndarray] | None = None
    signed: dict[str, np.ndarray] = {}
    for line in gear.lines:
        path = np.column_stack([np.unwrap(line.lon_deg, period=360.0), line.lat_deg])
        edge, areas = strings_of(zone, float(path[0, 0]))
        scale = np.array([np.cos(np.radians(path[0, 1])), 1.0])
        distance, foot = nearest(path * scale, edge * scale)
        inside = np.zeros(len(path), dtype=bool)
        for area in areas:
            inside |= shapely.contains_xy(area, path[:, 0], path[:, 1])
        signed_m = np.where(inside, -1.0, 1.0) * (distance * METRES_PER_DEGREE - zone.radius_m)
        signed[line.part] = signed_m
        i = int(np.argmin(signed_m))
        if best is None or signed_m[i] < best[0]:
            best = (float(signed_m[i]), i, line, edge[foot[i]])
    assert best is not None
    clearance_m, i, line, zone_at = best
    times = (line.time_s * 1e6).astype(np.int64).astype("datetime64[us]")
    lon, lat = float(line.lon_deg[i]), float(line.lat_deg[i])
    margin_m = zone.margin_m or 0.0
    near = np.flatnonzero(signed[line.part] < margin_m)
    close = tuple(
        CloseStretch(from_utc=times[a], to_utc=times[b], seconds=float(line.time_s[b] - line.time_s[a]))
        for a, b in ([(near[0], near[-1])] if len(near) else [])
    )
    return Row(
        track_id=track.track_id,
        tow=tow.number,
        activity=Activity.TOWING,
        zone_id=zone.zone_id,
        part=Part.GEAR,
        status=status_of(clearance_m, margin_m, zone),
        reason="gear_inside" if clearance_m < -15.0 else "",
        clearance_m=round(clearance_m, 2),
        margin_m=margin_m,
        uncertainty_m=23.0,
        closest=Closest(
            utc=times[i],
            lon_deg=lon,
            lat_deg=lat,
            zone_lon_deg=float(wrapped([zone_at])[0, 0]),
            zone_lat_deg=float(zone_at[1]),
            bearing_deg=float(GEOD.inv(lon, lat, *zone_at)[0] % 360.0),
        ),
        close=close,
        explain=f"On tow {tow.number} the {line.part} came within {clearance_m:.0f} m of {zone.name}.",
        gear=GearReach(
            nearest_part=line.part,
            tier=tier_of(clearance_m - margin_m),
            sigmas=2.0,
            likely_clearance_m=max(clearance_m - 45.0, 0.0),
            rope_clearance_m=clearance_m - 420.0,
            flags=("slack",) if clearance_m < margin_m else (),
        ),
    )


def tier_of(left_m: float) -> GearTier:
    """Return how surely the gear kept its distance, by what is left of it."""
    for needed_m, tier in ((0.0, GearTier.SHOWN), (45.0, GearTier.POSSIBLE), (420.0, GearTier.NOT_RULED_OUT)):
        if left_m < needed_m:
            return tier
    return GearTier.PROVED_CLEAR
