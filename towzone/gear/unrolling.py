"""Legs of a path as vectors of one plane, and positions near a path, on the ellipsoid and fast.

Each leg becomes a vector at its middle and the turn of north along it. Laid end to end, each turned by all
turns before it, the legs unroll the path into a plane in which directions carried along the path keep still.
"""

from __future__ import annotations

import numpy as np

from towzone.geodesy.ellipsoid import ECCENTRICITY_SQUARED, SEMI_MAJOR_M, FloatArray, wrap_longitude
from towzone.geodesy.lines import WGS84

__all__ = ["NEAR_M", "behind", "leg_vectors"]

NEAR_M = 5_000.0
"""Longer legs and lines go through exact geodesics. Up to here series err by less than 0.02 mm (own
choice, tests/unit)."""


def leg_vectors(lon_deg: FloatArray, lat_deg: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return legs as vectors east and north at their middle, metres, and how much north turns, radians.

    Notes
    -----
    Delambre's analogies in the triangle of two points and the pole, with half the differences of latitude
    and longitude, give the directions at both ends of a great circle as mean and difference, without loss of
    digits and at the poles too. On the ellipsoid lengths north and east are those of its radii of curvature
    at the middle latitude; the turn of north holds as it stands, because carrying a direction along a path
    depends on the normals of the surface alone, and those are points of a sphere.
    """
    middle = np.radians(lat_deg[:-1] + lat_deg[1:]) / 2.0
    up, across = np.radians(np.diff(lat_deg)) / 2.0, np.radians(wrap_longitude(np.diff(lon_deg))) / 2.0
    sin_middle, cos_middle = np.sin(middle), np.cos(middle)
    sin_across, cos_across = np.sin(across), np.cos(across)
    meridional, normal = _radii(sin_middle)
    east = 2.0 * normal * cos_middle * sin_across
    north = 2.0 * meridional * np.sin(up) * cos_across
    turn = 2.0 * np.arctan2(sin_middle * sin_across, np.cos(up) * cos_across)
    chord = east**2 + north**2
    stretch = 1.0 + chord / (24.0 * meridional * normal)  # from chord to arc
    east, north = east * stretch, north * stretch
    far = np.flatnonzero(chord > NEAR_M**2)
    if len(far):
        azimuth, back, run = WGS84.inv(lon_deg[far], lat_deg[far], lon_deg[far + 1], lat_deg[far + 1])
        turn[far] = np.radians(wrap_longitude(np.asarray(back) + 180.0 - np.asarray(azimuth)))
        mean = np.radians(azimuth) + turn[far] / 2.0
        east[far], north[far] = run * np.sin(mean), run * np.cos(mean)
    return east, north, turn


def behind(
    lon_deg: FloatArray, lat_deg: FloatArray, bearing: FloatArray, distance_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return positions at a distance opposite to a bearing (radians), longitudes within [-180, 180].

    Notes
    -----
    An arc of the normal curvature of that direction (Euler's theorem), in the meridian plane of the start.
    """
    lat = np.radians(lat_deg)
    sin_lat, cos_lat = np.sin(lat), np.cos(lat)
    meridional, normal = _radii(sin_lat)
    sin_way, cos_way = -np.sin(bearing), -np.cos(bearing)
    angle = distance_m * (cos_way**2 / meridional + sin_way**2 / normal)
    level = distance_m * (1.0 - angle**2 / 6.0)
    drop = distance_m * angle / 2.0
    out = (normal - drop) * cos_lat - level * cos_way * sin_lat
    across = level * sin_way
    up = (normal * (1.0 - ECCENTRICITY_SQUARED) - drop) * sin_lat + level * cos_way * cos_lat
    lon = lon_deg + np.degrees(np.arctan2(across, out))
    lat = np.degrees(np.arctan2(up, (1.0 - ECCENTRICITY_SQUARED) * np.hypot(out, across)))
    far = np.flatnonzero(distance_m > NEAR_M)
    if len(far):
        azimuth = np.degrees(bearing[far]) + 180.0
        lon[far], lat[far], _ = WGS84.fwd(lon_deg[far], lat_deg[far], azimuth, distance_m[far])
    at_lead = distance_m == 0.0
    lon, lat = np.where(at_lead, lon_deg, lon), np.where(at_lead, lat_deg, lat)
    return np.where(np.abs(lon) <= 180.0, lon, wrap_longitude(lon)), lat


def _radii(sin_lat: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the radii of curvature along the meridian and across it, metres."""
    square = 1.0 - ECCENTRICITY_SQUARED * sin_lat**2
    normal = SEMI_MAJOR_M / np.sqrt(square)
    return normal * (1.0 - ECCENTRICITY_SQUARED) / square, normal
