"""Stretches of a track: contiguous legs of one kind, joined over short interruptions."""

from __future__ import annotations

import numpy as np

from towzone.geodesy.compiling import solid
from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.stretch_loops import ends_of_runs, filled, running_s
from towzone.tows.thinning import BoolArray, IntArray

__all__ = ["joined", "runs", "time_in"]


def runs(mask: BoolArray) -> tuple[IntArray, IntArray]:
    """Return the first and the one-past-last index of every contiguous run of true values.

    Examples
    --------
    >>> [ends.tolist() for ends in runs(np.array([False, True, True, False, True]))]
    [[1, 4], [3, 5]]
    """
    return ends_of_runs(solid(mask, np.bool_))


def time_in(mask: BoolArray, lasts_s: FloatArray) -> FloatArray:
    """Return running seconds spent in a mask, shape (n + 1,): the time in ``[i, j)`` is ``t[j] - t[i]``."""
    return running_s(solid(mask, np.bool_), solid(lasts_s))


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
    return filled(solid(mask, np.bool_), solid(lasts_s), float(longest_s), able)
