"""The fixes of a track that detection looks at: those with times, and no two in the same ten seconds."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.errors import GeometryError
from towzone.geodesy.compiling import solid
from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.mark_loops import BoolArray, IntArray, marked

__all__ = ["LONGEST_LEG_S", "BoolArray", "IntArray", "Marks", "thinned"]

LONGEST_LEG_S = 900.0
"""A longer leg is a gap whatever the user allows elsewhere: its mean may hide tow and passage. Own choice."""


class Marks(NamedTuple):
    """The fixes looked at, and whether the stretch from each to the next is a gap.

    ``fix`` has shape (m,), ``gap`` shape (m - 1,). Every fix beside a gap is a mark.
    """

    fix: IntArray
    gap: BoolArray


def thinned(time_s: FloatArray, part: npt.NDArray[np.integer], gap_s: float) -> Marks:
    """Return the marks of a track.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Seconds, ``NaN`` where unknown; known times never decrease.
    part : ndarray of int, shape (n,)
        Segment each fix belongs to.
    gap_s : float
        Longest time between two fixes that is not a gap.

    Raises
    ------
    GeometryError
        Known times decrease.
    """
    marks, begins, wrong = marked(solid(time_s), solid(part, np.int32), min(float(gap_s), LONGEST_LEG_S))
    if wrong >= 0:
        message = (
            f"the time of fix {wrong + 1} is before that of a fix before it; fixes must be in time order"
        )
        raise GeometryError(message)
    fix = np.flatnonzero(marks)
    return Marks(fix=fix, gap=begins[fix[1:]])
