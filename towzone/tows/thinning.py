"""The fixes of a track that detection looks at: those with times, and no two in the same ten seconds."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.errors import GeometryError
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["LONGEST_LEG_S", "STEP_S", "BoolArray", "IntArray", "Marks", "thinned"]

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

STEP_S = 10.0
"""Marks are at least about this far apart. Own choice: a sixth of the window speeds are taken over."""

LONGEST_LEG_S = 900.0
"""A longer leg is a gap whatever the user allows elsewhere: its mean may hide tow and passage. Own choice."""

_BLOCK = 1 << 20
"""Fixes looked at in one go; bounds the memory that is needed beside the columns."""

_SLACK_S = 1e-3
"""Seconds since 1970 are told apart to a quarter of a microsecond; a step must not hang on that."""


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
    longest_s = min(gap_s, LONGEST_LEG_S)
    found: list[IntArray] = []
    begins: list[IntArray] = []
    last = _Last()
    for low in range(0, len(time_s), _BLOCK):
        block = time_s[low : low + _BLOCK]
        fix = low + np.flatnonzero(~np.isnan(block))
        if len(fix):
            kept, begun = _of_block(fix, time_s[fix], part[fix], longest_s, last)
            found += kept
            begins.append(begun)
    if not found:
        return Marks(fix=np.empty(0, dtype=np.int64), gap=np.empty(0, dtype=bool))
    if not last.kept:
        found.append(np.array([last.fix]))
    fix = np.concatenate(found)
    return Marks(fix=fix, gap=np.isin(fix[1:], np.concatenate(begins), assume_unique=True))


class _Last:
    """The last timed fix of the block before."""

    fix = -1
    time_s = -np.inf
    part = -1
    run_s = -np.inf
    step = -1.0
    kept = True


def _of_block(
    fix: IntArray, time_s: FloatArray, part: npt.NDArray[np.integer], longest_s: float, last: _Last
) -> tuple[list[IntArray], IntArray]:
    """Return the marks of a block, and those of them that begin a run; moves ``last`` on."""
    elapsed_s = np.diff(time_s, prepend=last.time_s)
    if np.any(elapsed_s < 0.0):
        at = int(fix[np.flatnonzero(elapsed_s < 0.0)[0]])
        message = f"the time of fix {at + 1} is before that of a fix before it; fixes must be in time order"
        raise GeometryError(message)
    begins = (elapsed_s > longest_s) | (np.diff(part, prepend=last.part) != 0)
    run_s = np.maximum.accumulate(np.where(begins, time_s, last.run_s))
    step = np.floor((time_s - run_s + _SLACK_S) / STEP_S)
    keep = begins | (np.diff(step, prepend=last.step) != 0.0)
    kept = [np.array([last.fix])] if begins[0] and not last.kept else []
    keep[:-1] |= begins[1:]  # the last fix before a gap
    last.fix, last.time_s, last.part = int(fix[-1]), float(time_s[-1]), int(part[-1])
    last.run_s, last.step, last.kept = float(run_s[-1]), float(step[-1]), bool(keep[-1])
    return [*kept, fix[keep]], fix[begins]
