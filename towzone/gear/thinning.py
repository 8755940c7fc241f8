"""Which nodes of the gear's path are enough for the ground it swept: fewer where it ran straight."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from towzone.gear.bends import mark_bends
from towzone.geodesy.compiling import solid
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.units import NAUTICAL_MILE_M

__all__ = ["LIKELY_TOLERANCE_M", "TOLERANCE_M", "enough_nodes"]

TOLERANCE_M, LIKELY_TOLERANCE_M = 0.005, 0.05
"""The path of every point through the nodes kept lies nowhere farther than this from all of it. Own choice:
half of what is promised of distances; more for where the gear may have been, which nobody knows to that."""

_DEGREE_M = 60.0 * NAUTICAL_MILE_M
"""Of a meridian, roughly."""

_LONGEST_M = 50.0
"""Longest way between nodes kept: how sure the path is changes along it, too. Own choice."""


def enough_nodes(
    run_m: FloatArray, outlines: Sequence[FloatArray], tolerance_m: float = TOLERANCE_M
) -> IntArray:
    """Return the numbers of the nodes that no point of some outlines can do without, the ends among them.

    Parameters
    ----------
    run_m : ndarray, shape (n,)
        Way of what tows them, up to each node.
    outlines : sequence of ndarray, shape (n, m, 2)
        Longitudes and latitudes of ``m`` points at each node. In a turn one door may nearly stand while the
        other swings round it, and a net still turns when its doors run straight: each point counts.
    """
    stride = np.floor(run_m / _LONGEST_M)
    needed = np.append(True, np.diff(stride) > 0.0)
    needed[-1] = True
    points = np.concatenate(outlines, axis=1)
    # Only for choosing nodes: degrees as metres, true to a per mille along one tow.
    lon, lat = points[..., 0], points[..., 1]
    east_m = wrap_longitude(lon - lon[0, 0]) * (np.cos(np.radians(lat[0, 0])) * _DEGREE_M)
    mark_bends(solid(east_m.T), solid(lat.T * _DEGREE_M), float(tolerance_m), needed)
    return np.flatnonzero(needed)
