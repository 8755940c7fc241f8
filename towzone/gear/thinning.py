"""Which nodes of the gear's path are enough for the ground it swept: fewer where it ran straight."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
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
    for outline in outlines:
        for point in range(outline.shape[1]):
            needed[_bends(outline[:, point, 0], outline[:, point, 1], tolerance_m)] = True
    return np.flatnonzero(needed)


def _bends(lon_deg: FloatArray, lat_deg: FloatArray, tolerance_m: float) -> IntArray:
    """Return the nodes at which the path of one point bends."""
    # Only for choosing nodes: degrees as metres, true to a per mille along one tow.
    east_m = np.unwrap(lon_deg, period=360.0) * np.cos(np.radians(lat_deg[0])) * _DEGREE_M
    number = np.arange(len(east_m), dtype=np.float64)
    path = shapely.LineString(np.column_stack([east_m, lat_deg * _DEGREE_M, number]))
    kept = shapely.get_coordinates(path.simplify(tolerance_m, preserve_topology=False), include_z=True)
    return np.asarray(kept[:, 2], dtype=np.int64)
