"""One compiled pass over the fixes of a track: which of them detection looks at."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from towzone.geodesy.compiling import compiled
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["BoolArray", "IntArray", "marked"]

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

_STEP_S = 10.0
"""Marks are at least about this far apart. Own choice: a sixth of the window speeds are taken over."""

_SLACK_S = 1e-3
"""Own choice: seconds since 1970 are told apart to a quarter of a microsecond; no step must hang on that."""


@compiled
def marked(
    time_s: FloatArray, part: npt.NDArray[np.int32], longest_s: float
) -> tuple[BoolArray, BoolArray, int]:
    """Return which fixes are marks, which begin a run, and the first whose time is before another's.

    Parameters
    ----------
    time_s, part : ndarray, shape (n,)
        See `towzone.tows.thinning.thinned`.
    longest_s : float
        A longer time between two fixes is a gap.

    Returns
    -------
    marks, begins : ndarray of bool, shape (n,)
    wrong : int
        A fix that steps back in time, -1 where none does; what was found is then of no use.
    """
    marks, begins = np.zeros(len(time_s), np.bool_), np.zeros(len(time_s), np.bool_)
    last, run_s, step = -1, 0.0, 0
    for fix in range(len(time_s)):
        if math.isnan(time_s[fix]):
            continue
        if last >= 0 and time_s[fix] < time_s[last]:
            return marks, begins, fix
        if last < 0 or time_s[fix] - time_s[last] > longest_s or part[fix] != part[last]:
            if last >= 0:
                marks[last] = True
            begins[fix] = marks[fix] = True
            run_s, step = time_s[fix], 0
        else:
            here = math.floor((time_s[fix] - run_s + _SLACK_S) / _STEP_S)
            marks[fix] = here != step
            step = here
        last = fix
    if last >= 0:
        marks[last] = True
    return marks, begins, -1
