"""Invented work of a chosen size: one long trip and a field of zones around it. Same seed, same work."""

from __future__ import annotations

import numpy as np

from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape, freeze
from towzone.model.track import Track, TrackKind
from towzone.model.zone import Prohibition, Zone, ZoneKind

METRES_PER_DEGREE = 111_320.0


def trip(fixes: int, *, seed: int = 1) -> Track:
    """Return a trip at 1 Hz: tows of four hours at 3.3 kn, steaming at 9.7 kn, 1.5 m of noise."""
    rng = np.random.default_rng(seed)
    second = np.arange(fixes)
    heading = np.cumsum(rng.normal(0.0, 0.004, fixes)) + np.pi / 2.0 * np.sin(second / 20_000.0)
    speed = np.where(second // 14_400 % 4 == 3, 5.0, 1.7)
    north_m = np.cumsum(speed * np.cos(heading)) + rng.normal(0.0, 1.5, fixes)
    east_m = np.cumsum(speed * np.sin(heading)) + rng.normal(0.0, 1.5, fixes)
    lat = 46.0 + north_m / METRES_PER_DEGREE
    return Track(
        track_id="bench",
        source="bench",
        kind=TrackKind.COMPLETED,
        lon_deg=-9.0 + east_m / METRES_PER_DEGREE / np.cos(np.radians(lat)),
        lat_deg=lat,
        time_utc=np.datetime64("2026-01-01", "us") + second.astype("timedelta64[s]"),
        part=np.zeros(fixes, dtype=np.int32),
        fixes_read=fixes,
    )


def field(zones: int, corners: int, track: Track, *, seed: int = 2) -> tuple[Zone, ...]:
    """Return closed areas of wavy outline spread over the waters of a track, rhumb edges, 0.25 nmi margin."""
    rng = np.random.default_rng(seed)
    west, east = float(track.lon_deg.min()) - 0.5, float(track.lon_deg.max()) + 0.5
    south, north = float(track.lat_deg.min()) - 0.5, float(track.lat_deg.max()) + 0.5
    turn = np.linspace(0.0, 2.0 * np.pi, corners, endpoint=False)
    made = []
    for number in range(zones):
        size = rng.uniform(0.02, 0.3) * (1.0 + 0.2 * np.sin(5.0 * turn + number))
        ring = np.stack(
            [
                rng.uniform(west, east) + 1.5 * size * np.cos(turn),
                rng.uniform(south, north) + size * np.sin(turn),
            ],
            axis=1,
        )
        made.append(
            Zone(
                zone_id=f"Z{number}",
                name=f"Zone {number}",
                kind=ZoneKind.CLOSED_AREA,
                shape=Shape(polygons=((freeze(ring),),)),
                edges=LineKind.RHUMB,
                edges_stated=True,
                prohibits=(Prohibition.FISHING,),
                margin_m=463.0,
            )
        )
    return tuple(made)
