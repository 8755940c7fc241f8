"""Which zones come into question for which gaps: those whose box lies within the longest way, compiled."""

from __future__ import annotations

import math

import numpy as np

from towzone.geodesy.compiling import compiled, solid
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.points import row
from towzone.geodesy.tree import Tree, apart, corners
from towzone.geodesy.walks import SLACK_M

__all__ = ["near_gaps"]

_ROOM = 4096


def near_gaps(
    start_m: FloatArray, end_m: FloatArray, reach_m: FloatArray, boundaries: Tree, wider_m: FloatArray
) -> tuple[IntArray, IntArray]:
    """Return the pairs of a gap and a zone whose boundary may be touched on a way across the gap.

    Parameters
    ----------
    start_m, end_m : ndarray, shape (gaps, 3)
        The fixes around each gap, geocentric.
    reach_m : ndarray, shape (gaps,)
        The longest way.
    boundaries : Tree
        Owned by the zones.
    wider_m : ndarray, shape (zones,)
        By how much each zone is widened; the way may be longer by twice that.

    Returns
    -------
    gap, zone : ndarray of int
        Sorted by gap and then by zone. Every pair that is not in the answer is proved out of reach: the
        straight way over the box is longer than any way allowed, and no way is shorter than the straight one.
    """
    columns = (solid(start_m), solid(end_m), solid(reach_m), boundaries, solid(wider_m))
    zone = _in_question(*columns)
    room = _ROOM
    while True:
        pairs = np.empty((room, 2), dtype=np.int64)
        found = int(_pairs(*columns, zone, pairs))
        if found <= room:
            return pairs[:found, 0].copy(), pairs[:found, 1].copy()
        room = found


@compiled
def _in_question(
    start_m: FloatArray, end_m: FloatArray, reach_m: FloatArray, boundaries: Tree, wider_m: FloatArray
) -> IntArray:
    """Return the zones within the longest reach of the box around all gaps."""
    low, high, farthest_m = np.full(3, np.inf), np.full(3, -np.inf), 0.0
    for gap in range(len(reach_m)):
        farthest_m = max(farthest_m, np.inf if math.isnan(reach_m[gap]) else reach_m[gap])
        for axis in range(3):
            low[axis] = min(low[axis], start_m[gap, axis], end_m[gap, axis])
            high[axis] = max(high[axis], start_m[gap, axis], end_m[gap, axis])
    zones = np.empty(len(wider_m), np.int64)
    count = 0
    for zone in range(len(wider_m)):
        root = boundaries.root[zone]
        if root < 0:
            continue
        zone_low, zone_high = corners(boundaries, root)
        square = apart((low[0], low[1], low[2]), (high[0], high[1], high[2]), zone_low, zone_high)
        # Asked the way round that keeps what cannot be computed.
        if not math.sqrt(square) > farthest_m + 2.0 * wider_m[zone] + SLACK_M:
            zones[count] = zone
            count += 1
    return zones[:count]


@compiled
def _pairs(
    start_m: FloatArray,
    end_m: FloatArray,
    reach_m: FloatArray,
    boundaries: Tree,
    wider_m: FloatArray,
    zones: IntArray,
    pairs: IntArray,
) -> int:
    """Write the pairs as far as there is room for them; return how many there are."""
    found = 0
    for gap in range(len(reach_m)):
        start, end = row(start_m, gap), row(end_m, gap)
        for zone in zones:
            most_m = reach_m[gap] + 2.0 * wider_m[zone] + SLACK_M
            low, high = corners(boundaries, boundaries.root[zone])
            out_m = math.sqrt(apart(start, start, low, high))
            if out_m > most_m:
                continue
            if not out_m + math.sqrt(apart(end, end, low, high)) > most_m:
                if found < len(pairs):
                    pairs[found, 0], pairs[found, 1] = gap, zone
                found += 1
    return found
