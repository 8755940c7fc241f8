"""Small scenes for tests of checks: tracks and zones from plain numbers, and one call to judge them.

Positions are laid out with pyproj's geodesics from a point and bearings, so that clearances are known
from how a scene was built.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
from pyproj import Geod

from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings, Towing
from towzone.geodesy.edges import Edges
from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape, freeze
from towzone.model.track import Track, TrackKind
from towzone.model.zone import DEFAULT_PROHIBITS, Prohibition, Zone, ZoneKind

GEOD = Geod(ellps="WGS84")
NMI_M = 1852.0
KNOT_MPS = NMI_M / 3600.0
START = np.datetime64("2026-03-01T06:00:00", "us")


def moved(at, bearing_deg, distance_m):
    """Position (lon, lat) at a bearing and distance from another."""
    lon, lat, _ = GEOD.fwd(*at, bearing_deg, distance_m)
    return float(lon), float(lat)


def apart_m(a, b):
    return float(GEOD.inv(*a, *b)[2])


def fixes(positions, times_s, *, track_id="t", kind=TrackKind.COMPLETED):
    """A track of positions (lon, lat) at seconds after `START`; ``None`` for an unknown time."""
    lon_lat = np.asarray(positions, float).reshape(-1, 2)
    times = np.array(
        [
            np.datetime64("NaT", "us") if s is None else START + np.timedelta64(round(s * 1e6), "us")
            for s in times_s
        ],
        dtype="datetime64[us]",
    )
    return Track(
        track_id=track_id,
        source=f"{track_id}.gpx",
        kind=kind,
        lon_deg=lon_lat[:, 0],
        lat_deg=lon_lat[:, 1],
        time_utc=times,
        part=np.zeros(len(lon_lat), dtype=np.int32),
        fixes_read=len(lon_lat),
    )


def steady(positions, *, speed_kn=3.0, step_s=60.0, track_id="t", first_s=0.0):
    """A track along geodesics through positions at one speed, with a fix every step and at each corner."""
    points, times, now = [tuple(positions[0])], [first_s], first_s
    for a, b in itertools.pairwise(positions):
        azimuth, _, length = GEOD.inv(*a, *b)
        seconds = length / (speed_kn * KNOT_MPS)
        for at in np.arange(step_s, seconds - 1.0, step_s):
            points.append(moved(a, azimuth, length * at / seconds))
            times.append(now + float(at))
        now += seconds
        points.append(tuple(b))
        times.append(now)
    return fixes(points, times, track_id=track_id)


def route(positions, *, track_id="r"):
    return fixes(positions, [None] * len(positions), track_id=track_id, kind=TrackKind.PLANNED)


def wait(track, seconds, *, step_s=60.0):
    """The same track, then standing still at its last fix."""
    end = (track.lon_deg[-1], track.lat_deg[-1])
    last = float((track.time_utc[-1] - START) / np.timedelta64(1, "us")) / 1e6
    times = last + np.arange(step_s, seconds + 1e-6, step_s)
    return joined(track, fixes([end] * len(times), times))


def joined(*tracks):
    """Tracks one after the other as one."""
    first = tracks[0]
    total = sum(len(t) for t in tracks)
    return replace(
        first,
        lon_deg=np.concatenate([t.lon_deg for t in tracks]),
        lat_deg=np.concatenate([t.lat_deg for t in tracks]),
        time_utc=np.concatenate([t.time_utc for t in tracks]),
        part=np.zeros(total, dtype=np.int32),
        fixes_read=total,
    )


def zone(shape, kind=ZoneKind.CLOSED_AREA, *, edges=LineKind.GEODESIC, zone_id="Z", **more):
    """A zone of a kind with what that kind prohibits."""
    defaults = {
        "name": f"invented {zone_id}",
        "edges_stated": True,
        "prohibits": DEFAULT_PROHIBITS.get(kind, (Prohibition.FISHING,)),
        "file": "zones.geojson",
        "feature": 1,
    }
    return Zone(zone_id=zone_id, kind=kind, shape=shape, edges=edges, **(defaults | more))


def area(*rings):
    """One polygon: outer ring, then holes."""
    return Shape(polygons=(tuple(freeze(r) for r in rings),))


def areas(*polygons):
    return Shape(polygons=tuple(tuple(freeze(r) for r in p) for p in polygons))


def line(*corners):
    return Shape(lines=(freeze(corners),))


def points(*positions):
    return Shape(points=freeze(positions))


def box(west, south, east, north):
    return [(west, south), (east, south), (east, north), (west, north)]


def around(centre, radius_m, corners=24, turn_deg=0.0):
    """A ring of corners at one distance from a centre."""
    return [moved(centre, turn_deg + 360.0 * n / corners, radius_m) for n in range(corners)]


def check(tracks, zones, **settings):
    """The result for one or several tracks and zones; settings as `CheckSettings` names them."""
    tracks = tracks if isinstance(tracks, (list, tuple)) else [tracks]
    zones = zones if isinstance(zones, (list, tuple)) else [zones]
    return run_check(tracks, zones, CheckSettings(**{"towing": Towing.ALL, **settings}))


def only_row(tracks, zones, **settings):
    """The row of a scene that has exactly one."""
    result = check(tracks, zones, **({"reach_m": 1e6} | settings))
    assert len(result.rows) == 1, [(r.tow, r.status, r.zone_id) for r in result.rows]
    return result.rows[0]


def edges(rows, owner, kind=LineKind.GEODESIC):
    """Edges from rows of lon0, lat0, lon1, lat1 and their owners."""
    columns = np.asarray(rows, float).reshape(-1, 4)
    return Edges(
        lon0_deg=columns[:, 0],
        lat0_deg=columns[:, 1],
        lon1_deg=columns[:, 2],
        lat1_deg=columns[:, 3],
        owner=np.asarray(owner, dtype=np.int64),
        kind=np.full(len(columns), kind, dtype=object),
    )
