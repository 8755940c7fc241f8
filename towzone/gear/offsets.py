"""Places a little ahead or abeam of others: the towing block of the antenna, the net of the doors."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from towzone.gear.surface import shift
from towzone.geodesy.compiling import solid
from towzone.geodesy.ellipsoid import (
    FloatArray,
    arc_from_chord,
    from_geocentric,
    to_geocentric,
    wrap_longitude,
)
from towzone.geodesy.lines import WGS84

__all__ = ["bearing_at", "beside", "courses_deg"]

_COURSE_M = 30.0
"""Courses are taken from so far before to so far after along the way: the noise of positions turns them by a
few degrees at most then, and it does not matter how dense the nodes are. Own choice."""


_NEAR_M = 1_000.0
"""Farther places go through exact geodesics. Up to here series err by less than 0.1 micrometres (own choice,
tests/unit)."""


def beside(
    lon_deg: FloatArray,
    lat_deg: FloatArray,
    bearing_deg: npt.ArrayLike,
    ahead_m: npt.ArrayLike,
    right_m: npt.ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """Return the places so far ahead (along a true bearing) and to the right of others.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (n,)
    bearing_deg, ahead_m, right_m : array_like, broadcast to shape (n,)
        Degrees and metres; negative is behind and to the left.

    Returns
    -------
    lon_deg, lat_deg : ndarray, shape (n,)
        Longitudes within [-180, 180].
    """
    shape = lon_deg.shape
    bearing, ahead, right = (
        solid(np.broadcast_to(np.asarray(column, dtype=np.float64), shape))
        for column in (np.radians(bearing_deg), ahead_m, right_m)
    )
    lon, lat = np.empty(shape), np.empty(shape)
    shift(solid(lon_deg), solid(lat_deg), bearing, ahead, right, lon, lat)
    distance_m = np.hypot(ahead, right)
    far = np.flatnonzero(~(distance_m <= _NEAR_M))
    if len(far):
        azimuth = np.degrees(bearing[far] + np.arctan2(right[far], ahead[far]))
        exact, lat[far], _ = WGS84.fwd(lon_deg[far], lat_deg[far], azimuth, distance_m[far])
        lon[far] = wrap_longitude(exact)
    return lon, lat


def bearing_at(
    bearing_deg: FloatArray,
    from_lon_deg: FloatArray,
    from_lat_deg: FloatArray,
    lon: FloatArray,
    lat: FloatArray,
) -> FloatArray:
    """Return the bearing of a geodesic at another place on it, no more than a few kilometres away.

    Notes
    -----
    Meridians converge by the difference of longitudes times the sine of the middle latitude; over 3 km that
    is true to 1e-6 degrees, or 0.05 mm at the other end of a 3 km line.
    """
    east = wrap_longitude(lon - from_lon_deg)
    return np.asarray((bearing_deg + east * np.sin(np.radians((lat + from_lat_deg) / 2.0))) % 360.0)


def courses_deg(lon_deg: FloatArray, lat_deg: FloatArray) -> FloatArray:
    """Return the course made good around each of at least two nodes, degrees true, shape (n,).

    Where the way comes back on itself and so has none, that of the nearest node with one is taken; ``NaN`` if
    no node has one.
    """
    xyz_m = to_geocentric(lon_deg, lat_deg)
    run_m = np.concatenate([[0.0], np.cumsum(arc_from_chord(xyz_m[:-1], xyz_m[1:]))])
    ends = [
        from_geocentric(np.stack([np.interp(run_m + off_m, run_m, axis) for axis in xyz_m.T], axis=1))
        for off_m in (-_COURSE_M, _COURSE_M)
    ]
    azimuth, _, length_m = WGS84.inv(*ends[0], *ends[1])
    # A chord's azimuth holds at its beginning; meridians converge by nothing that matters over 60 m.
    node, moving = np.arange(len(lon_deg)), np.flatnonzero(np.asarray(length_m) > 0.1)
    if not len(moving):
        return np.full(len(node), np.nan)
    at = np.clip(np.searchsorted(moving, node), 0, len(moving) - 1)
    earlier = np.maximum(at - 1, 0)
    nearer = np.abs(moving[earlier] - node) < np.abs(moving[at] - node)
    return np.asarray(azimuth)[moving[np.where(nearer, earlier, at)]] % 360.0
