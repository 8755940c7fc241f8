"""Stretches of a track: contiguous legs of one kind, joined over short interruptions."""

from __future__ import annotations

import numpy as np

from towzone.geodesy.compiling import compiled, solid
from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.thinning import BoolArray, IntArray

__all__ = ["joined", "runs", "time_in"]


def runs(mask: BoolArray) -> tuple[IntArray, IntArray]:
    """Return the first and the one-past-last index of every contiguous run of true values.

    Examples
    --------
    >>> [ends.tolist() for ends in runs(np.array([False, True, True, False, True]))]
    [[1, 4], [3, 5]]
    """
    return _runs(solid(mask, np.bool_))


@compiled
def _runs(mask: BoolArray) -> tuple[IntArray, IntArray]:
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


def time_in(mask: BoolArray, lasts_s: FloatArray) -> FloatArray:
    """Return running seconds spent in a mask, shape (n + 1,): the time in ``[i, j)`` is ``t[j] - t[i]``."""
    return _time_in(solid(mask, np.bool_), solid(lasts_s))


@compiled
def _time_in(mask: BoolArray, lasts_s: FloatArray) -> FloatArray:
    total = np.empty(len(mask) + 1)
    total[0] = 0.0
    for at in range(len(mask)):
        total[at + 1] = total[at] + (lasts_s[at] if mask[at] else 0.0)
    return total


def joined(
    mask: BoolArray, lasts_s: FloatArray, longest_s: float, passable: BoolArray | None = None
) -> BoolArray:
    """Return a mask with interruptions shorter than a time filled in.

    Parameters
    ----------
    mask : ndarray of bool, shape (n,)
    lasts_s : ndarray, shape (n,)
    longest_s : float
        Interruptions that last this long or longer stay.
    passable : ndarray of bool, shape (n,), optional
        Interruptions with anything else in them stay.
    """
    able = np.ones(len(mask), dtype=np.bool_) if passable is None else solid(passable, np.bool_)
    return _joined(solid(mask, np.bool_), solid(lasts_s), float(longest_s), able)


@compiled
def _joined(mask: BoolArray, lasts_s: FloatArray, longest_s: float, able: BoolArray) -> BoolArray:
    filled = mask.copy()
    # Running seconds, as `time_in` tells them.
    total_s, left_s, left = 0.0, 0.0, -1
    passing = True
    for at in range(len(mask)):
        if mask[at]:
            if 0 <= left < at and passing and total_s - left_s < longest_s:
                filled[left:at] = True
        else:
            passing &= able[at]
        total_s += lasts_s[at]
        if mask[at]:
            left, left_s, passing = at + 1, total_s, True
    return filled
