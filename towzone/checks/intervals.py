"""Sets of intervals on a line, as sorted arrays of beginnings and ends."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

__all__ = ["Intervals", "between", "intersect", "merged"]


class Intervals(NamedTuple):
    """Disjoint closed intervals in rising order; an interval may be a single place."""

    first: npt.NDArray[np.float64]
    last: npt.NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.first)


def merged(first: npt.ArrayLike, last: npt.ArrayLike, *, touch: float = 1e-9) -> Intervals:
    """Return the union of intervals; those nearer than ``touch`` to each other become one.

    Examples
    --------
    >>> merged([3.0, 0.0, 1.0], [4.0, 1.0, 2.0])
    Intervals(first=array([0., 3.]), last=array([2., 4.]))
    """
    one, two = np.asarray(first, dtype=np.float64), np.asarray(last, dtype=np.float64)
    if not len(one):
        return Intervals(one, two)
    order = np.argsort(one, kind="stable")
    one, reached = one[order], np.maximum.accumulate(two[order])
    begins = np.flatnonzero(np.append(True, one[1:] > reached[:-1] + touch))
    ends = np.append(begins[1:], len(one)) - 1
    return Intervals(one[begins], reached[ends])


def between(whole: Intervals, taken: Intervals) -> Intervals:
    """Return what is left of intervals when others are taken out; single places left over stay.

    Examples
    --------
    >>> between(merged([0.0], [5.0]), merged([1.0, 4.0], [2.0, 6.0]))
    Intervals(first=array([0., 2.]), last=array([1., 4.]))
    """
    firsts: list[float] = []
    lasts: list[float] = []
    for start, end in zip(whole.first.tolist(), whole.last.tolist(), strict=True):
        low = int(np.searchsorted(taken.last, start, side="left"))
        high = int(np.searchsorted(taken.first, end, side="right"))
        here, open_ = start, True
        for first, last in zip(taken.first[low:high].tolist(), taken.last[low:high].tolist(), strict=True):
            if first > here:
                firsts.append(here)
                lasts.append(first)
            here, open_ = last, last < end
        if open_:
            firsts.append(here)
            lasts.append(end)
    return Intervals(np.array(firsts), np.array(lasts))


def intersect(one: Intervals, two: Intervals) -> Intervals:
    """Return the common part of two sets of intervals.

    Examples
    --------
    >>> intersect(merged([0.0, 4.0], [2.0, 9.0]), merged([1.0], [5.0]))
    Intervals(first=array([1., 4.]), last=array([2., 5.]))
    """
    firsts: list[float] = []
    lasts: list[float] = []
    for start, end in zip(one.first.tolist(), one.last.tolist(), strict=True):
        low = int(np.searchsorted(two.last, start, side="left"))
        high = int(np.searchsorted(two.first, end, side="right"))
        for first, last in zip(two.first[low:high].tolist(), two.last[low:high].tolist(), strict=True):
            firsts.append(max(first, start))
            lasts.append(min(last, end))
    return Intervals(np.array(firsts), np.array(lasts))
