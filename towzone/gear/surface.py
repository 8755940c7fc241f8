"""Compiled: legs of a path as vectors, and places near others, on the ellipsoid; good to a few kilometres.

`towzone.gear.unrolling` and `towzone.gear.offsets` say how good, and take exact geodesics beyond that.
"""

from __future__ import annotations

import math

from towzone.geodesy.compiling import compiled
from towzone.geodesy.ellipsoid import ECCENTRICITY_SQUARED, SEMI_MAJOR_M, FloatArray

__all__ = ["shift", "vectors"]

_RADIAN = math.pi / 180.0


@compiled
def vectors(  # type: ignore[no-untyped-def]
    lon_deg: FloatArray, lat_deg: FloatArray, east_m: FloatArray, north_m: FloatArray, turn: FloatArray
):
    """Write legs as vectors east and north at their middle, and how much north turns, radians."""
    for leg in range(len(turn)):
        middle = (lat_deg[leg] + lat_deg[leg + 1]) * _RADIAN / 2.0
        up = (lat_deg[leg + 1] - lat_deg[leg]) * _RADIAN / 2.0
        across = _within_180(lon_deg[leg + 1] - lon_deg[leg]) * _RADIAN / 2.0
        sin_middle, sin_across, cos_across = math.sin(middle), math.sin(across), math.cos(across)
        meridional, normal = _radii(sin_middle)
        east = 2.0 * normal * math.cos(middle) * sin_across
        north = 2.0 * meridional * math.sin(up) * cos_across
        turn[leg] = 2.0 * math.atan2(sin_middle * sin_across, math.cos(up) * cos_across)
        # From chord to arc.
        stretch = 1.0 + (east * east + north * north) / (24.0 * meridional * normal)
        east_m[leg], north_m[leg] = east * stretch, north * stretch


@compiled
def shift(  # type: ignore[no-untyped-def]
    lon_deg: FloatArray,
    lat_deg: FloatArray,
    bearing: FloatArray,
    ahead_m: FloatArray,
    right_m: FloatArray,
    lon_out_deg: FloatArray,
    lat_out_deg: FloatArray,
):
    """Write the places so far ahead along a bearing (radians) and to the right of others.

    An arc of the normal curvature of that direction (Euler's theorem), in the meridian plane of the start.
    """
    for row in range(len(lon_deg)):
        ahead, right = ahead_m[row], right_m[row]
        distance = math.sqrt(ahead * ahead + right * right)
        if distance == 0.0:
            lon_out_deg[row], lat_out_deg[row] = _within_180(lon_deg[row]), lat_deg[row]
            continue
        sin_bearing, cos_bearing = math.sin(bearing[row]), math.cos(bearing[row])
        sin_way = (ahead * sin_bearing + right * cos_bearing) / distance
        cos_way = (ahead * cos_bearing - right * sin_bearing) / distance
        lat = lat_deg[row] * _RADIAN
        sin_lat, cos_lat = math.sin(lat), math.cos(lat)
        meridional, normal = _radii(sin_lat)
        angle = distance * (cos_way * cos_way / meridional + sin_way * sin_way / normal)
        level = distance * (1.0 - angle * angle / 6.0)
        drop = distance * angle / 2.0
        out = (normal - drop) * cos_lat - level * cos_way * sin_lat
        across = level * sin_way
        up = (normal * (1.0 - ECCENTRICITY_SQUARED) - drop) * sin_lat + level * cos_way * cos_lat
        lon_out_deg[row] = _within_180(lon_deg[row] + math.atan2(across, out) / _RADIAN)
        flat = (1.0 - ECCENTRICITY_SQUARED) * math.sqrt(out * out + across * across)
        lat_out_deg[row] = math.atan2(up, flat) / _RADIAN


@compiled
def _within_180(lon_deg: float):  # type: ignore[no-untyped-def]
    """Return a longitude, or a difference, brought within [-180, 180]."""
    # A value already in range is passed through untouched: the modulo would cost it its last digits.
    return lon_deg if abs(lon_deg) <= 180.0 else (lon_deg + 180.0) % 360.0 - 180.0


@compiled
def _radii(sin_lat: float):  # type: ignore[no-untyped-def]
    """Return the radii of curvature along the meridian and across it, metres."""
    square = 1.0 - ECCENTRICITY_SQUARED * sin_lat * sin_lat
    normal = SEMI_MAJOR_M / math.sqrt(square)
    return normal * (1.0 - ECCENTRICITY_SQUARED) / square, normal
