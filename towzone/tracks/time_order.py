"""Time order inside a completed track: which fixes stay, which are left out and why."""

from __future__ import annotations

from bisect import bisect_right

import numpy as np
import numpy.typing as npt

from towzone.tracks.raw import NOT_A_TIME

__all__ = ["BACKWARD", "CONFLICTING", "DUPLICATE", "KEPT", "Fate", "mark_duplicates", "mark_order"]

KEPT, DUPLICATE, CONFLICTING, BACKWARD = 0, 1, 2, 3
"""What became of a fix."""

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
Fate = npt.NDArray[np.uint8]


def mark_duplicates(time_us: IntArray, lon_deg: FloatArray, lat_deg: FloatArray) -> Fate:
    """Return `DUPLICATE` for every timed fix that repeats time and position of an earlier one.

    Parameters
    ----------
    time_us : ndarray of int64, shape (n,)
        Microseconds, or ``NOT_A_TIME``; untimed fixes are never duplicates.
    lon_deg, lat_deg : ndarray, shape (n,)
        Degrees.

    Notes
    -----
    Nothing is lost by leaving these out, wherever in the file they stand.
    """
    fate = np.zeros(len(time_us), dtype=np.uint8)
    timed = np.flatnonzero(time_us != NOT_A_TIME)
    times = time_us[timed]
    if not (np.diff(times) <= 0).any():
        return fate
    # Sorting is stable, so of equal fixes the first of the file stays first.
    order = timed[np.lexsort((lat_deg[timed], lon_deg[timed], times))]
    repeated = (
        (np.diff(time_us[order]) == 0) & (np.diff(lon_deg[order]) == 0.0) & (np.diff(lat_deg[order]) == 0.0)
    )
    fate[order[1:][repeated]] = DUPLICATE
    return fate


def mark_order(time_us: IntArray) -> Fate:
    """Return what becomes of each fix so that the known times of those kept increase strictly.

    Parameters
    ----------
    time_us : ndarray of int64, shape (n,)
        In file order and without duplicates; ``NOT_A_TIME`` where unknown.

    Returns
    -------
    ndarray of uint8, shape (n,)
        `BACKWARD` outside the longest non-decreasing run of times (O(n log n), and only when some time
        steps back), `CONFLICTING` for a second position at a time already taken, `KEPT` for the rest and
        for every untimed fix.
    """
    fate = np.zeros(len(time_us), dtype=np.uint8)
    timed = np.flatnonzero(time_us != NOT_A_TIME)
    steps_us = np.diff(time_us[timed])
    if (steps_us < 0).any():
        kept = _longest_nondecreasing(time_us[timed])
        fate[timed] = BACKWARD
        timed = timed[kept]
        fate[timed] = KEPT
        steps_us = np.diff(time_us[timed])
    fate[timed[1:][steps_us == 0]] = CONFLICTING
    return fate


def _longest_nondecreasing(values: IntArray) -> IntArray:
    """Return the indices of one longest non-decreasing subsequence (patience sorting)."""
    tops: list[int] = []  # smallest possible last value of a run of each length
    at: list[int] = []  # where that value stands
    before = np.full(len(values), -1, dtype=np.int64)
    for index, value in enumerate(values.tolist()):
        place = bisect_right(tops, value)
        if place:
            before[index] = at[place - 1]
        if place == len(tops):
            tops.append(value)
            at.append(index)
        else:
            tops[place] = value
            at[place] = index
    chosen = np.empty(len(tops), dtype=np.int64)
    index = at[-1]
    for place in range(len(tops) - 1, -1, -1):
        chosen[place] = index
        index = int(before[index])
    return chosen
