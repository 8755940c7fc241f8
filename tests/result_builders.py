"""Hand-made results for tests of the record: invented zones and tracks, rough distances, no check run.

Nothing here comes from the code under test except the model's data classes; clearances are brute force
over sampled positions (good to some metres) because a picture needs plausible figures, not exact ones.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import numpy as np
import pyproj
import shapely

from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape, freeze
from towzone.model.result import (
    Activity,
    CheckResult,
    Closest,
    CloseStretch,
    Gap,
    InputFile,
    InsideStretch,
    Part,
    Remark,
    Row,
    Status,
    Tow,
)
from towzone.model.rules import Rules
from towzone.model.track import Track, TrackKind
from towzone.model.zone import Prohibition, Zone, ZoneKind

GEOD = pyproj.Geod(ellps="WGS84")
NAMES = (
    "Invented Bank closed area",
    "Made-up cable, southern leg",
    "Nowhere platform",
    "Unnamed wreck",
    "Fancy pipeline",
)
START = np.datetime64("2026-03-01T04:00:00", "us")
NEVER = np.datetime64("NaT", "us")


def build_result(
    *,
    lon0: float = -18.6,
    lat0: float = 63.1,
    names: Sequence[str] = NAMES,
    fixes: int = 600,
    planned: bool = True,
    source: str = "Invented notice 1 of 2026",
) -> CheckResult:
    """Return a trip of three tows with a gap (and a planned route) among five zones around a position."""
    zones = _zones(lon0, lat0, names, source)
    trip, tows, gap = _trip(lon0, lat0, fixes)
    tracks = [trip]
    if planned:
        tracks.append(_route(lon0, lat0))
    rows = [_row(trip, tow, zone) for tow in tows for zone in zones[:4]]
    if planned:
        rows += [_row(tracks[1], None, zone) for zone in zones[:4]]
    order = list(Status)
    rows.sort(key=lambda row: (order.index(row.status), row.clearance_m))
    return CheckResult(
        tracks=tuple(tracks),
        zones=zones,
        margins_m={zone.zone_id: zone.margin_m or 0.0 for zone in zones},
        in_force={zone.zone_id: zone.kind is not ZoneKind.PIPELINE for zone in zones},
        gaps={trip.track_id: (gap,)},
        lengths_m={track.track_id: _length_m(track) for track in tracks},
        tows=tows,
        rows=tuple(rows),
        beyond_reach=4,
        assumptions=(
            "Every moving part of the trip counts as towing (--towing all).",
            "Each position is taken to be true within 15 m.",
        ),
        warnings=(
            Remark(file="trip.gpx", where="line 812", message="2 fixes repeat the one before; left out"),
        ),
        inputs=(InputFile(file="trip.gpx", sha256="ab" * 32, bytes=123456),),
        settings={"legs": "rhumb", "position_error_m": 15.0, "gap_s": 900.0},
        methods={"distance": "geodesic on WGS 84"},
        version="0.1.0",
    )


def result_json(result: CheckResult) -> str:
    """Return a small JSON of the shape the result has: schema, outcome and one object for each row."""
    rows = [
        {
            "track_id": row.track_id,
            "zone_id": row.zone_id,
            "zone_name": next(zone.name for zone in result.zones if zone.zone_id == row.zone_id),
            "tow": row.tow,
            "status": str(row.status),
            "clearance_m": row.clearance_m,
            "closest": None if row.closest is None else _json_closest(row.closest),
            "explain": row.explain,
        }
        for row in result.rows
    ]
    value = {"schema": "towzone.result/1", "outcome": str(result.outcome), "rows": rows}
    return json.dumps(value, sort_keys=True, allow_nan=False, indent=1) + "\n"


def _json_closest(closest: Closest) -> dict[str, Any]:
    return {"lat_deg": closest.lat_deg, "lon_deg": closest.lon_deg}


def wrapped(lonlat: Sequence[Sequence[float]]) -> np.ndarray:
    """Return positions as a read-only array, longitudes within [-180, 180)."""
    points = np.array(lonlat, dtype=float)
    points[:, 0] = (points[:, 0] + 180.0) % 360.0 - 180.0
    return freeze(points)


def _zones(lon0: float, lat0: float, names: Sequence[str], source: str) -> tuple[Zone, ...]:
    def at(*offsets: tuple[float, float]) -> np.ndarray:
        return wrapped([(lon0 + x, lat0 + y) for x, y in offsets])

    area = (
        at((0.10, 0.02), (0.62, 0.05), (0.55, 0.22), (0.12, 0.20)),
        at((0.4, 0.1), (0.5, 0.1), (0.45, 0.15)),
    )
    shapes = (
        (ZoneKind.CLOSED_AREA, Shape(polygons=(area,)), 0.0, 185.2, Prohibition.FISHING),
        (ZoneKind.CABLE, Shape(lines=(at((-0.5, -0.14), (0.05, -0.05), (0.7, -0.16)),)), 0.0, 463.0, None),
        (ZoneKind.SAFETY_ZONE, Shape(points=at((-0.25, 0.08))), 500.0, 0.0, Prohibition.ENTRY),
        (ZoneKind.OBSTRUCTION, Shape(points=at((0.38, -0.082))), 0.0, 185.2, None),
        (ZoneKind.PIPELINE, Shape(lines=(at((-0.5, 0.2), (-0.1, 0.25)),)), 0.0, 0.0, None),
    )
    return tuple(
        Zone(
            zone_id=f"zone-{i}",
            name=name,
            kind=kind,
            shape=shape,
            edges=LineKind.LONLAT,
            edges_stated=i % 2 == 0,
            prohibits=(prohibition or Prohibition.BOTTOM_CONTACT,),
            margin_m=margin_m,
            radius_m=radius_m,
            rules=Rules(gears=("OTB",)) if i == 3 else Rules(),
            source=source if i != 2 else "",
            file="zones.geojson",
            feature=i + 1,
        )
        for i, (name, (kind, shape, radius_m, margin_m, prohibition)) in enumerate(
            zip(names, shapes, strict=True)
        )
    )


def _trip(lon0: float, lat0: float, fixes: int) -> tuple[Track, tuple[Tow, ...], Gap]:
    corners = np.array(
        [
            *((-0.45, -0.02), (-0.2, 0.045), (0.0, 0.03), (0.0, 0.03), (0.35, 0.08), (0.52, 0.005)),
            *((0.52, 0.005), (0.5, -0.10), (0.1, -0.052), (-0.2, -0.09)),
        ]
    )
    span = np.concatenate([[0.0], np.hypot(*np.diff(corners * [0.45, 1.0], axis=0).T).cumsum()])
    along = np.linspace(0.0, span[-1], fixes)
    lon = np.interp(along, span, corners[:, 0]) + 0.004 * np.sin(along * 60.0) + lon0
    lat = np.interp(along, span, corners[:, 1]) + 0.002 * np.sin(along * 85.0) + lat0
    time = START + np.arange(fixes) * np.timedelta64(36_000_000_000 // fixes, "us")
    jump = int(fixes * 0.52)
    time[jump + 1 :] += np.timedelta64(6900, "s")
    lost = slice(jump + 1, jump + 1 + fixes // 15)
    lon, lat, time, along = (np.delete(column, lost) for column in (lon, lat, time, along))
    fixes = len(lon)
    track = Track(
        track_id="Invented trip",
        source="trip.gpx",
        kind=TrackKind.COMPLETED,
        lon_deg=(lon + 180.0) % 360.0 - 180.0,
        lat_deg=lat,
        time_utc=time,
        part=np.zeros(fixes, dtype=np.int32),
        fixes_read=fixes,
    )
    ends = np.searchsorted(along, [span[2], span[5]])
    pairs = [(3, int(ends[0])), (int(ends[0]) + 5, jump), (jump + 1, fixes - 4)]
    tows = tuple(_tow(track, i, *pair) for i, pair in enumerate(pairs, start=1))
    gap = Gap(
        fix=jump,
        from_utc=time[jump],
        to_utc=time[jump + 1],
        seconds=float((time[jump + 1] - time[jump]) / np.timedelta64(1, "s")),
        reach_m=43_000.0,
    )
    return track, tows, gap


def _tow(track: Track, number: int, first: int, last: int) -> Tow:
    length_m = float(GEOD.line_length(track.lon_deg[first : last + 1], track.lat_deg[first : last + 1]))
    seconds = float((track.time_utc[last] - track.time_utc[first]) / np.timedelta64(1, "s"))
    return Tow(
        track_id=track.track_id,
        number=number,
        first=first,
        last=last,
        shoot=float(first),
        haul=float(last),
        shoot_utc=track.time_utc[first],
        haul_utc=track.time_utc[last],
        seconds=seconds,
        length_m=length_m,
        mean_speed_kn=length_m / seconds * 3600.0 / 1852.0,
        basis="all",
    )


def _route(lon0: float, lat0: float) -> Track:
    route = wrapped([(lon0 + x, lat0 + y) for x, y in [(-0.5, 0.12), (-0.1, 0.09), (0.3, 0.19), (0.7, 0.19)]])
    return Track(
        track_id="Invented plan",
        source="plan.gpx",
        kind=TrackKind.PLANNED,
        lon_deg=route[:, 0],
        lat_deg=route[:, 1],
        time_utc=np.full(len(route), NEVER),
        part=np.zeros(len(route), dtype=np.int32),
        fixes_read=len(route),
    )


def _length_m(track: Track) -> float:
    return float(GEOD.line_length(track.lon_deg, track.lat_deg))


def _dense(points: np.ndarray, step_deg: float = 0.0005) -> np.ndarray:
    points = points.copy()
    points[:, 0] = np.unwrap(points[:, 0], period=360.0)
    if len(points) == 1:
        return points
    return shapely.get_coordinates(shapely.segmentize(shapely.linestrings(points), step_deg))


def _row(track: Track, tow: Tow | None, zone: Zone) -> Row:
    span = slice(tow.first, tow.last + 1) if tow else slice(None)
    path = np.column_stack([track.lon_deg[span], track.lat_deg[span]])
    times = track.time_utc[span]
    if tow is None:
        path = _dense(path)
        times = np.full(len(path), NEVER)
    path[:, 0] = np.unwrap(path[:, 0], period=360.0)
    edge, areas = strings_of(zone, path[0, 0])
    inside = np.zeros(len(path), dtype=bool)
    for area in areas:
        inside |= shapely.contains_xy(area, path[:, 0], path[:, 1])
    scale = np.array([np.cos(np.radians(path[0, 1])), 1.0])
    distance, foot = nearest(path * scale, edge * scale)
    distance_m = distance * 111_195.0 - zone.radius_m
    signed_m = np.where(inside, -distance_m, distance_m)
    i = int(np.argmin(signed_m))
    zone_lon, zone_lat = edge[foot[i]]
    closest = Closest(
        utc=times[i],
        lon_deg=float(wrapped([path[i]])[0, 0]),
        lat_deg=float(path[i, 1]),
        zone_lon_deg=float(wrapped([edge[foot[i]]])[0, 0]),
        zone_lat_deg=float(zone_lat),
        bearing_deg=float(GEOD.inv(path[i, 0], path[i, 1], zone_lon, zone_lat)[0] % 360.0),
    )
    margin_m = zone.margin_m or 0.0
    status = status_of(float(signed_m[i]), margin_m, zone)
    where = f"tow {tow.number}" if tow else "the route"
    return Row(
        track_id=track.track_id,
        tow=tow.number if tow else None,
        activity=Activity.TOWING,
        zone_id=zone.zone_id,
        part=Part.VESSEL,
        status=status,
        reason="fishing_inside" if status is Status.INSIDE else "",
        clearance_m=round(float(signed_m[i]), 2),
        margin_m=margin_m,
        uncertainty_m=15.0,
        closest=closest,
        inside=_stays(path, times, signed_m < 0),
        close=_close(times, signed_m < margin_m),
        explain=f"On {where} {zone.name} was cleared by {signed_m[i]:.0f} m; required {margin_m:.0f} m.",
    )


def strings_of(zone: Zone, lon: float) -> tuple[np.ndarray, list[shapely.Polygon]]:
    """Return the boundary of a zone as dense positions near a longitude, and its areas."""
    strings = [np.vstack([s, s[:1]]) if closed else np.array(s) for s, closed in zone.shape.strings()]
    edge = _turned(np.vstack([_dense(string) for string in strings]), lon)
    areas = []
    for polygon in zone.shape.polygons:
        rings = [_turned(_dense(ring), lon) for ring in polygon]
        areas.append(shapely.Polygon(rings[0], rings[1:]))
    return edge, areas


def _turned(points: np.ndarray, lon: float) -> np.ndarray:
    return np.column_stack([points[:, 0] + 360.0 * np.round((lon - points[0, 0]) / 360.0), points[:, 1]])


def nearest(path: np.ndarray, edge: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the distance from each position to the nearest of an edge, and which that is."""
    tree = shapely.STRtree(shapely.points(edge))
    (_, foot), distance = tree.query_nearest(shapely.points(path), return_distance=True, all_matches=False)
    return distance, foot


def status_of(clearance_m: float, margin_m: float, zone: Zone) -> Status:
    """Return what a clearance means, roughly as the check would."""
    if clearance_m < -15.0:
        return Status.INSIDE
    if zone.rules.gears:
        return Status.UNDETERMINED
    return Status.TOO_CLOSE if clearance_m < margin_m else Status.CLEAR


def _spans(mask: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(mask.astype(int), prepend=0, append=0))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _stays(path: np.ndarray, times: np.ndarray, mask: np.ndarray) -> tuple[InsideStretch, ...]:
    stays = []
    for a, b in _spans(mask):
        ends = wrapped([path[a], path[b]])
        known = not np.isnat(times[a])
        stays.append(
            InsideStretch(
                enter_utc=times[a],
                enter_lon_deg=float(ends[0, 0]),
                enter_lat_deg=float(ends[0, 1]),
                leave_utc=times[b],
                leave_lon_deg=float(ends[1, 0]),
                leave_lat_deg=float(ends[1, 1]),
                seconds=float((times[b] - times[a]) / np.timedelta64(1, "s")) if known else None,
                length_m=float(GEOD.line_length(path[a : b + 1, 0], path[a : b + 1, 1])),
                min_speed_kn=3.1 if known else None,
                mean_speed_kn=3.4 if known else None,
            )
        )
    return tuple(stays)


def _close(times: np.ndarray, mask: np.ndarray) -> tuple[CloseStretch, ...]:
    return tuple(
        CloseStretch(
            from_utc=times[a],
            to_utc=times[b],
            seconds=None if np.isnat(times[a]) else float((times[b] - times[a]) / np.timedelta64(1, "s")),
        )
        for a, b in _spans(mask)
    )
