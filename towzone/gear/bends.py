"""Compiled: where the paths of many points that move together bend by more than a tolerance."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from towzone.geodesy.compiling import compiled
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["mark_bends"]


@compiled
def mark_bends(  # type: ignore[no-untyped-def]
    x_m: FloatArray, y_m: FloatArray, tolerance_m: float, needed: npt.NDArray[np.bool_]
):
    """Mark the nodes without which some point would be farther than a tolerance from its path.

    Parameters
    ----------
    x_m, y_m : ndarray, shape (m, n)
        ``m`` points at each of ``n`` nodes, in a plane.
    needed : ndarray of bool, shape (n,)
        Nodes that are kept in any case, both ends among them; others are marked in place.

    Notes
    -----
    Between two nodes that are kept the node is kept at which any of the points is farthest from the straight
    line it would run on, until none is farther than the tolerance: Douglas and Peucker (1973), Cartographica
    10 (2), for all points at once.
    """
    stack = np.empty(len(needed) + 1, dtype=np.int64)
    first = 0
    for until in range(1, len(needed)):
        if not needed[until]:
            continue
        stack[0], depth = until, 1
        while depth:
            last = stack[depth - 1]
            split, most = -1, tolerance_m * tolerance_m
            for point in range(len(x_m)):
                x0, y0 = x_m[point, first], y_m[point, first]
                dx, dy = x_m[point, last] - x0, y_m[point, last] - y0
                square = dx * dx + dy * dy
                for node in range(first + 1, last):
                    px, py = x_m[point, node] - x0, y_m[point, node] - y0
                    part = 0.0 if square == 0.0 else min(max((px * dx + py * dy) / square, 0.0), 1.0)
                    off = (px - part * dx) ** 2 + (py - part * dy) ** 2
                    if not off <= most:  # what is no number is kept, and refused later
                        split, most = node, off
            if split < 0:
                depth -= 1
                first = last
            else:
                needed[split] = True
                stack[depth] = split
                depth += 1
