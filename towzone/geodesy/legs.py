"""Legs between positions one after the other, compiled: each position is turned into a point once."""

from __future__ import annotations

import math

import numpy as np

from towzone.geodesy.compiling import compiled
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import LATITUDE_LIMIT_DEG, FloatArray
from towzone.geodesy.points import arc, chord, geocentric, row

__all__ = ["FAR_M", "joined", "lengths", "one_string", "surface_points"]

FAR_M = 20_000.0
"""Longer legs are measured with exact geodesics. Own choice: up to here `points.arc` errs by under 0.1 mm."""


@compiled
def surface_points(lon_deg: FloatArray, lat_deg: FloatArray) -> tuple[FloatArray, bool]:
    """Return positions as points, shape ``(n, 3)``, and whether all are positions that lines may have."""
    points_m = np.empty((len(lon_deg), 3))
    sound = True
    for fix in range(len(lon_deg)):
        sound &= math.isfinite(lon_deg[fix]) and abs(lat_deg[fix]) <= LATITUDE_LIMIT_DEG
        points_m[fix, 0], points_m[fix, 1], points_m[fix, 2] = geocentric(lon_deg[fix], lat_deg[fix])
    return points_m, sound


@compiled
def lengths(lon_deg: FloatArray, lat_deg: FloatArray) -> tuple[FloatArray, bool]:
    """Return the lengths of legs by `points.arc`, shape ``(n - 1,)``, and whether any is beyond `FAR_M`."""
    lengths_m, far = np.empty(max(len(lon_deg) - 1, 0)), False
    if len(lon_deg) == 0:
        return lengths_m, far
    here = geocentric(lon_deg[0], lat_deg[0])
    for leg in range(len(lengths_m)):
        there = geocentric(lon_deg[leg + 1], lat_deg[leg + 1])
        lengths_m[leg] = arc(here, there)
        far |= lengths_m[leg] > FAR_M
        here = there
    return lengths_m, far


@compiled
def one_string(lon_deg: FloatArray, lat_deg: FloatArray) -> tuple[FloatArray, FloatArray, bool]:
    """Return positions that follow each other as points, and their legs, in one pass.

    Returns
    -------
    points_m : ndarray, shape (n, 3)
    chord_m : ndarray, shape (n - 1,)
        The straight length of each leg.
    sound : bool
        Whether all are positions that lines may have.
    """
    points_m, chord_m = np.empty((len(lon_deg), 3)), np.empty(max(len(lon_deg) - 1, 0))
    before, sound = (0.0, 0.0, 0.0), True
    for fix in range(len(lon_deg)):
        sound &= math.isfinite(lon_deg[fix]) and abs(lat_deg[fix]) <= LATITUDE_LIMIT_DEG
        here = geocentric(lon_deg[fix], lat_deg[fix])
        points_m[fix, 0], points_m[fix, 1], points_m[fix, 2] = here
        if fix > 0:
            chord_m[fix - 1] = chord(before, here)
        before = here
    return points_m, chord_m, sound


@compiled
def joined(points_m: FloatArray, counts: IntArray) -> tuple[IntArray, IntArray, IntArray, FloatArray]:
    """Return the legs of strings of points.

    Parameters
    ----------
    points_m : ndarray, shape (n, 3)
        Points of all strings, one string after the other.
    counts : ndarray of int, shape (k,)
        Points of each string; a lone one is a leg of no length.

    Returns
    -------
    first, last : ndarray of int, shape (m,)
        Points where each leg begins and ends.
    string : ndarray of int, shape (m,)
        Which string it belongs to.
    chord_m : ndarray, shape (m,)
        Its straight length.
    """
    legs = 0
    for count in counts:
        legs += max(count - 1, 1)
    first, last = np.empty(legs, np.int64), np.empty(legs, np.int64)
    string, chord_m = np.empty(legs, np.int64), np.empty(legs)
    leg = begin = 0
    for number, count in enumerate(counts):
        for point in range(begin, begin + max(count - 1, 1)):
            first[leg], last[leg], string[leg] = point, min(point + 1, begin + count - 1), number
            chord_m[leg] = chord(row(points_m, point), row(points_m, last[leg]))
            leg += 1
        begin += count
    return first, last, string, chord_m
