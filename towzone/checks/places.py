"""Places on a path: ``3.25`` is a quarter of the way from fix 3 to fix 4."""

from __future__ import annotations

import math

import numpy as np

from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import LineKind, points_along
from towzone.model.track import Track

__all__ = ["KnownPlaces", "instant", "positions_at", "value_at"]


def value_at(column: FloatArray, place: float) -> float:
    """Return the value of a column at a place, ``NaN`` only where a fix it depends on has none."""
    fix = min(int(place), len(column) - 1)
    part, value = place - fix, float(column[fix])
    return value + part * (float(column[fix + 1]) - value) if part > 0.0 else value


def instant(seconds: float) -> np.datetime64:
    """Return seconds since 1970 as an instant, ``NaT`` for ``NaN``."""
    if math.isnan(seconds):
        return np.datetime64("NaT", "us")
    return np.datetime64(round(seconds * 1e6), "us")


class KnownPlaces:
    """The positions of places on a track, looked up together, for they are many and each has its cost.

    Parameters
    ----------
    track : Track
    kind : LineKind
    place : ndarray, shape (n,)
        Those that will be asked for; others are looked up when they are.
    """

    def __init__(self, track: Track, kind: LineKind, place: FloatArray) -> None:
        self._track, self._kind = track, kind
        some = np.unique(place)
        lon, lat = positions_at(track, kind, some)
        self._known = dict(zip(some.tolist(), zip(lon.tolist(), lat.tolist(), strict=True), strict=True))

    def positions(self, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return longitudes and latitudes of places, degrees."""
        known = [self._known.get(at) for at in place.tolist()]
        found = [position for position in known if position is not None]
        if len(found) < len(known):
            return positions_at(self._track, self._kind, place)
        lon, lat = np.array(found, dtype=np.float64).reshape(-1, 2).T
        return lon, lat


def positions_at(track: Track, kind: LineKind, place: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return longitudes and latitudes, degrees, of places on a track joined by a kind of line."""
    fix = np.minimum(place.astype(np.int64), len(track) - 1)
    part = place - fix
    lon, lat = track.lon_deg[fix], track.lat_deg[fix]
    inner = np.flatnonzero(part > 0.0)
    if len(inner):
        ends = fix[inner] + 1
        east, lat[inner] = points_along(
            kind, lon[inner], lat[inner], track.lon_deg[ends], track.lat_deg[ends], part[inner]
        )
        lon[inner] = wrap_longitude(east)
    return lon, lat
