"""How long a tow may be that lies in part in a stretch, compiled: one pass each way."""

from __future__ import annotations

import numpy as np

from towzone.geodesy.compiling import compiled
from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.mark_loops import BoolArray

__all__ = ["longest_tows_s"]


@compiled
def longest_tows_s(held_s: FloatArray, full: BoolArray) -> FloatArray:
    """Return how long a tow that lies in part in each stretch can be, from what the stretches can hold.

    To either side it reaches through all full stretches into the first that is not; through a stretch that is
    not full itself it does not reach.

    Parameters
    ----------
    held_s : ndarray, shape (n,)
        For how long the vessel can have been towing in each.
    full : ndarray of bool, shape (n,)
        Stretches that a tow may fill from end to end.
    """
    total_s = np.empty(len(held_s) + 1)
    total_s[0] = 0.0
    for at in range(len(held_s)):
        total_s[at + 1] = total_s[at] + held_s[at]
    found = np.empty(len(held_s))
    before = 0
    for at in range(len(held_s)):
        found[at] = total_s[at] - total_s[before]
        if not full[at]:
            before = at
    after = len(held_s) - 1
    for at in range(len(held_s) - 1, -1, -1):
        left_s, right_s = found[at], total_s[after + 1] - total_s[at + 1]
        found[at] = left_s + held_s[at] + right_s if full[at] else held_s[at] + max(left_s, right_s)
        if not full[at]:
            after = at
    return found
