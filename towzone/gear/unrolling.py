"""Legs of a path as vectors of one plane, and positions near a path, on the ellipsoid and fast.

Each leg becomes a vector at its middle and the turn of north along it. Laid end to end, each turned by all
turns before it, the legs unroll the path into a plane in which directions carried along the path keep still.
"""

from __future__ import annotations

import numpy as np

from towzone.gear.surface import shift, vectors
from towzone.geodesy.compiling import solid
from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
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
    east, north, turn = np.empty((3, len(lon_deg) - 1))
    vectors(solid(lon_deg), solid(lat_deg), east, north, turn)
    far = np.flatnonzero(~(east**2 + north**2 <= NEAR_M**2))
    if len(far):
        azimuth, back, run = WGS84.inv(lon_deg[far], lat_deg[far], lon_deg[far + 1], lat_deg[far + 1])
        turn[far] = np.radians(wrap_longitude(np.asarray(back) + 180.0 - np.asarray(azimuth)))
        mean = np.radians(azimuth) + turn[far] / 2.0
        east[far], north[far] = run * np.sin(mean), run * np.cos(mean)
    return east, north, turn


def behind(
    lon_deg: FloatArray, lat_deg: FloatArray, bearing: FloatArray, distance_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return positions at a distance opposite to a bearing (radians), longitudes within [-180, 180]."""
    lon, lat = np.empty((2, len(lon_deg)))
    shift(solid(lon_deg), solid(lat_deg), solid(bearing), -distance_m, np.zeros(len(lon)), lon, lat)
    far = np.flatnonzero(~(distance_m <= NEAR_M))
    if len(far):
        azimuth = np.degrees(bearing[far]) + 180.0
        exact, lat[far], _ = WGS84.fwd(lon_deg[far], lat_deg[far], azimuth, distance_m[far])
        lon[far] = wrap_longitude(exact)
    return lon, lat
