"""Stretches of a track: contiguous legs of one kind, joined over short interruptions."""

from __future__ import annotations

import numpy as np

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
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return edges[0::2], edges[1::2]


def time_in(mask: BoolArray, lasts_s: FloatArray) -> FloatArray:
    """Return running seconds spent in a mask, shape (n + 1,): the time in ``[i, j)`` is ``t[j] - t[i]``."""
    return np.concatenate([[0.0], np.cumsum(np.where(mask, lasts_s, 0.0))])


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
    first, last = runs(mask)
    if len(first) < 2:
        return mask.copy()
    begins, ends = last[:-1], first[1:]
    total_s = time_in(np.ones(len(mask), dtype=bool), lasts_s)
    fill = total_s[ends] - total_s[begins] < longest_s
    if passable is not None:
        blocked = np.concatenate([[0], np.cumsum(~passable)])
        fill &= blocked[ends] == blocked[begins]
    change = np.zeros(len(mask) + 1, dtype=np.int64)
    np.add.at(change, begins[fill], 1)
    np.add.at(change, ends[fill], -1)
    return np.asarray(mask | (np.cumsum(change[:-1]) > 0))
