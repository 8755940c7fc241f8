"""Places on a path: ``3.25`` is a quarter of the way from fix 3 to fix 4."""

from __future__ import annotations

import math

import numpy as np

from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import LineKind, points_along
from towzone.model.track import Track
from towzone.units import Instants

__all__ = ["instant", "instants", "positions_at", "value_at", "values_at"]


def value_at(column: FloatArray, place: float) -> float:
    """Return the value of a column at a place, ``NaN`` only where a fix it depends on has none."""
    fix = min(int(place), len(column) - 1)
    part, value = place - fix, float(column[fix])
    return value + part * (float(column[fix + 1]) - value) if part > 0.0 else value


def values_at(column: FloatArray, place: FloatArray) -> FloatArray:
    """Return the values of a column at places; see `value_at`."""
    fix = np.minimum(place.astype(np.int64), len(column) - 1)
    part, value = place - fix, column[fix]
    inner = np.flatnonzero(part > 0.0)
    value[inner] += part[inner] * (column[fix[inner] + 1] - value[inner])
    return value


def instant(seconds: float) -> np.datetime64:
    """Return seconds since 1970 as an instant, ``NaT`` for ``NaN``."""
    if math.isnan(seconds):
        return np.datetime64("NaT", "us")
    return np.datetime64(round(seconds * 1e6), "us")


def instants(seconds: FloatArray) -> Instants:
    """Return seconds since 1970 as instants, ``NaT`` for ``NaN``."""
    known = ~np.isnan(seconds)
    found = np.full(len(seconds), np.datetime64("NaT", "us"))
    found[known] = np.rint(seconds[known] * 1e6).astype(np.int64).view("datetime64[us]")
    return found


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
