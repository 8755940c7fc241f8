"""A plane in which the legs of a line are straight, for searching; never for a verdict.

Rhumb lines are straight on a Mercator chart, which is as long as the ground in the middle of the scene and
longer towards the pole: its scale is known everywhere. For geodesic legs the plane keeps distances and
directions from the middle; a leg of length ``l`` at a distance ``r`` from there bends by ``l^2 r / (12 R^2)``
(own derivation, as in `towzone.gear.corridor`): 2 m for 100 km at 100 km.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.geodesy.ellipsoid import (
    ECCENTRICITY_SQUARED,
    SEMI_MAJOR_M,
    FloatArray,
    isometric_latitude,
    latitude_from_isometric,
    wrap_longitude,
)
from towzone.geodesy.lines import WGS84, LineKind

__all__ = ["HIGHEST_DEG", "Plane", "plane_around"]

HIGHEST_DEG = 88.0
"""Nearer the poles no line is looked for: the chart grows without end there. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """A plane around a position, x east and y north, metres there.

    Parameters
    ----------
    lon_deg, lat_deg : float
        Its middle.
    mercator : bool
        Whether rhumb lines are straight in it; else geodesics nearly are.
    """

    lon_deg: float
    lat_deg: float
    mercator: bool

    def to_plane(self, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> FloatArray:
        """Return coordinates, shape ``(n, 2)``, of positions, shape ``(n,)``, on the middle's side."""
        lon, lat = np.asarray(lon_deg, dtype=np.float64), np.asarray(lat_deg, dtype=np.float64)
        if not self.mercator:
            start = np.full_like(lon, self.lon_deg), np.full_like(lat, self.lat_deg)
            azimuth, _, distance_m = WGS84.inv(*start, lon, lat)
            azimuth = np.radians(azimuth)
            return np.column_stack([distance_m * np.sin(azimuth), distance_m * np.cos(azimuth)])
        radius_m = SEMI_MAJOR_M / _mercator_scale(self.lat_deg)
        east = np.radians(wrap_longitude(lon - self.lon_deg))
        held = np.clip(lat, -HIGHEST_DEG - 1.0, HIGHEST_DEG + 1.0)
        north = isometric_latitude(held) - isometric_latitude(self.lat_deg)
        return np.column_stack([radius_m * east, radius_m * north])

    def from_plane(self, xy_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return longitudes, within [-180, 180), and latitudes of points of the plane, shape ``(n, 2)``."""
        xy_m = np.asarray(xy_m, dtype=np.float64).reshape(-1, 2)
        if not self.mercator:
            azimuth = np.degrees(np.arctan2(xy_m[:, 0], xy_m[:, 1]))
            start = np.full(len(xy_m), self.lon_deg), np.full(len(xy_m), self.lat_deg)
            lon, lat, _ = WGS84.fwd(*start, azimuth, np.hypot(xy_m[:, 0], xy_m[:, 1]))
            return wrap_longitude(lon), np.asarray(lat)
        radius_m = SEMI_MAJOR_M / _mercator_scale(self.lat_deg)
        lon = wrap_longitude(self.lon_deg + np.degrees(xy_m[:, 0] / radius_m))
        lat = latitude_from_isometric(isometric_latitude(self.lat_deg) + xy_m[:, 1] / radius_m)
        return lon, np.asarray(lat)

    def scale_at(self, xy_m: FloatArray) -> FloatArray:
        """Return how many metres of the plane one metre over the ground is, at points of shape ``(n, 2)``."""
        xy_m = np.asarray(xy_m, dtype=np.float64).reshape(-1, 2)
        if not self.mercator:
            return np.ones(len(xy_m))
        _, lat = self.from_plane(np.column_stack([np.zeros(len(xy_m)), xy_m[:, 1]]))
        return np.asarray(_mercator_scale(lat) / _mercator_scale(self.lat_deg))


def _mercator_scale(lat_deg: npt.ArrayLike) -> FloatArray:
    """Return how much longer a Mercator chart true at the equator is than the ground at a latitude."""
    lat = np.radians(np.asarray(lat_deg, dtype=np.float64))
    return np.asarray(np.sqrt(1.0 - ECCENTRICITY_SQUARED * np.sin(lat) ** 2) / np.cos(lat))


def plane_around(lon_deg: FloatArray, lat_deg: FloatArray, kind: LineKind) -> Plane:
    """Return a plane for lines between positions, joined by rhumb lines or geodesics."""
    way = np.concatenate([[0.0], np.cumsum(wrap_longitude(np.diff(lon_deg)))])
    lon = float(wrap_longitude(lon_deg[0] + (way.min() + way.max()) / 2.0))
    lat = float((lat_deg.min() + lat_deg.max()) / 2.0)
    return Plane(lon_deg=lon, lat_deg=lat, mercator=kind is not LineKind.GEODESIC)
