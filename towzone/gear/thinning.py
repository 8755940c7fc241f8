"""Which nodes of the gear's path are enough for the ground it swept: fewer where it ran straight."""

from __future__ import annotations

import numpy as np
import shapely

from towzone.gear.stretch import GearStretch
from towzone.geodesy.edges import IntArray
from towzone.units import NAUTICAL_MILE_M

__all__ = ["enough_nodes"]

_TOLERANCE_M = 0.005
"""The path through the nodes kept lies nowhere farther than this from all of it. Own choice: half of what is
promised of distances."""

_DEGREE_M = 60.0 * NAUTICAL_MILE_M
"""Of a meridian, roughly."""

_LONGEST_M = 50.0
"""Longest way between nodes kept: how sure the path is changes along it, too. Own choice."""


def enough_nodes(stretch: GearStretch) -> IntArray:
    """Return the numbers of the nodes of a stretch that its path between the doors cannot do without."""
    tracer = stretch.tracers[0]
    # Only for choosing nodes: degrees as metres, true to a per mille along one tow.
    east_m = np.unwrap(tracer.lon_deg, period=360.0) * np.cos(np.radians(tracer.lat_deg[0])) * _DEGREE_M
    number = np.arange(len(east_m), dtype=np.float64)
    path = shapely.LineString(np.column_stack([east_m, tracer.lat_deg * _DEGREE_M, number]))
    bends = shapely.get_coordinates(path.simplify(_TOLERANCE_M, preserve_topology=False), include_z=True)[
        :, 2
    ]
    stride = np.floor(stretch.run_m / _LONGEST_M)
    steps = np.flatnonzero(np.append(True, np.diff(stride) > 0.0))
    return np.union1d(bends.astype(np.int64), steps)
