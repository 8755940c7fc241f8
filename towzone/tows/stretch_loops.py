"""Compiled passes over the stretches of a track: runs of one kind, the time in them, interruptions filled."""

from __future__ import annotations

import numpy as np

from towzone.geodesy.compiling import compiled
from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.mark_loops import BoolArray, IntArray

__all__ = ["ends_of_runs", "filled", "running_s"]


@compiled
def ends_of_runs(mask: BoolArray) -> tuple[IntArray, IntArray]:
    """Return the first and the one-past-last index of every run; see `towzone.tows.stretches.runs`."""
    first, last = np.empty(len(mask), np.int64), np.empty(len(mask), np.int64)
    count, inside = 0, False
    for at in range(len(mask)):
        if mask[at] and not inside:
            first[count] = at
            count += 1
        inside = mask[at]
        if inside:
            last[count - 1] = at + 1
    return first[:count].copy(), last[:count].copy()


@compiled
def running_s(mask: BoolArray, lasts_s: FloatArray) -> FloatArray:
    """Return running seconds spent in a mask; see `towzone.tows.stretches.time_in`."""
    total = np.empty(len(mask) + 1)
    total[0] = 0.0
    for at in range(len(mask)):
        total[at + 1] = total[at] + (lasts_s[at] if mask[at] else 0.0)
    return total


@compiled
def filled(mask: BoolArray, lasts_s: FloatArray, longest_s: float, able: BoolArray) -> BoolArray:
    """Return a mask with short interruptions filled in; see `towzone.tows.stretches.joined`."""
    found = mask.copy()
    # Running seconds, as `running_s` tells them.
    total_s, left_s, left = 0.0, 0.0, -1
    passing = True
    for at in range(len(mask)):
        if mask[at]:
            if 0 <= left < at and passing and total_s - left_s < longest_s:
                found[left:at] = True
        else:
            passing &= able[at]
        total_s += lasts_s[at]
        if mask[at]:
            left, left_s, passing = at + 1, total_s, True
    return found
