"""Sets of intervals on a line, as sorted arrays of beginnings and ends."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.geodesy.compiling import compiled, solid
from towzone.geodesy.ellipsoid import FloatArray

__all__ = [
    "TOUCH",
    "Intervals",
    "between",
    "intersect",
    "left_into",
    "merged",
    "moved_to_middles",
    "union",
    "union_into",
]

TOUCH = 1e-9
"""Own choice: intervals nearer than this to each other are one."""


class Intervals(NamedTuple):
    """Disjoint closed intervals in rising order; an interval may be a single place."""

    first: FloatArray
    last: FloatArray

    def __len__(self) -> int:
        return len(self.first)


def merged(first: npt.ArrayLike, last: npt.ArrayLike, *, touch: float = TOUCH) -> Intervals:
    """Return the union of intervals; those nearer than ``touch`` to each other become one.

    Examples
    --------
    >>> merged([3.0, 0.0, 1.0], [4.0, 1.0, 2.0])
    Intervals(first=array([0., 3.]), last=array([2., 4.]))
    """
    one, two = solid(first), solid(last)
    if (one[1:] < one[:-1]).any():
        order = np.argsort(one, kind="stable")
        one, two = one[order], two[order]
    return Intervals(*_union(one, two, float(touch)))


@compiled
def _union(first: FloatArray, last: FloatArray, touch: float) -> tuple[FloatArray, FloatArray]:
    begins, ends = np.empty(len(first)), np.empty(len(first))
    count = union_into(first, last, touch, begins, ends, 0)
    return begins[:count].copy(), ends[:count].copy()


@compiled
def union_into(
    first: FloatArray, last: FloatArray, touch: float, begins: FloatArray, ends: FloatArray, start: int
) -> int:
    """Write the union of intervals in rising order of their beginnings; return where its rows end."""
    count, reached = start, -np.inf
    for one in range(len(first)):
        if count == start or first[one] > reached + touch:
            begins[count] = first[one]
            count += 1
        reached = max(reached, last[one])
        ends[count - 1] = reached
    return count


def union(*some: Intervals) -> Intervals:
    """Return the union of one or more sets of intervals.

    Examples
    --------
    >>> union(merged([0.0, 6.0], [2.0, 7.0]), merged([1.0], [4.0]))
    Intervals(first=array([0., 6.]), last=array([4., 7.]))
    """
    return merged(np.concatenate([one.first for one in some]), np.concatenate([one.last for one in some]))


def between(whole: Intervals, taken: Intervals) -> Intervals:
    """Return what is left of intervals when others are taken out; single places left over stay.

    Examples
    --------
    >>> between(merged([0.0], [5.0]), merged([1.0, 4.0], [2.0, 6.0]))
    Intervals(first=array([0., 2.]), last=array([1., 4.]))
    """
    return Intervals(*_left(solid(whole.first), solid(whole.last), solid(taken.first), solid(taken.last)))


@compiled
def _left(
    first: FloatArray, last: FloatArray, taken_first: FloatArray, taken_last: FloatArray
) -> tuple[FloatArray, FloatArray]:
    room = len(first) + len(taken_first)
    begins, ends = np.empty(room), np.empty(room)
    count = left_into(first, last, taken_first, taken_last, begins, ends, 0)
    return begins[:count].copy(), ends[:count].copy()


@compiled
def left_into(
    first: FloatArray,
    last: FloatArray,
    taken_first: FloatArray,
    taken_last: FloatArray,
    begins: FloatArray,
    ends: FloatArray,
    count: int,
) -> int:
    """Write what is left of intervals from a row on; return where its rows end."""
    low = 0
    for one in range(len(first)):
        while low < len(taken_last) and taken_last[low] < first[one]:
            low += 1
        here, open_, at = first[one], True, low
        while at < len(taken_first) and taken_first[at] <= last[one]:
            if taken_first[at] > here:
                begins[count], ends[count] = here, taken_first[at]
                count += 1
            here, open_ = taken_last[at], taken_last[at] < last[one]
            at += 1
        if open_:
            begins[count], ends[count] = here, last[one]
            count += 1
    return count


@compiled
def moved_to_middles(place: FloatArray, first: FloatArray, last: FloatArray) -> None:
    """Move rising places, those at which one of some intervals begins or ends, to its middle.

    Examples
    --------
    >>> place = np.array([0.0, 2.0, 5.0])
    >>> moved_to_middles(place, np.array([2.0]), np.array([3.0]))
    >>> place.tolist()
    [0.0, 2.5, 5.0]
    """
    low = 0
    for one in range(len(place)):
        while low < len(last) and last[low] < place[one]:
            low += 1
        if low < len(last) and (first[low] == place[one] or last[low] == place[one]):
            place[one] = (first[low] + last[low]) / 2.0


def intersect(one: Intervals, two: Intervals) -> Intervals:
    """Return the common part of two sets of intervals.

    Examples
    --------
    >>> intersect(merged([0.0, 4.0], [2.0, 9.0]), merged([1.0], [5.0]))
    Intervals(first=array([1., 4.]), last=array([2., 5.]))
    """
    return Intervals(*_common(solid(one.first), solid(one.last), solid(two.first), solid(two.last)))


@compiled
def _common(
    first: FloatArray, last: FloatArray, other_first: FloatArray, other_last: FloatArray
) -> tuple[FloatArray, FloatArray]:
    # Every interval meets at most one more of the other set than lie in it, at either end.
    room = 2 * (len(first) + len(other_first))
    begins, ends = np.empty(room), np.empty(room)
    count = low = 0
    for one in range(len(first)):
        while low < len(other_last) and other_last[low] < first[one]:
            low += 1
        at = low
        while at < len(other_first) and other_first[at] <= last[one]:
            begins[count], ends[count] = max(other_first[at], first[one]), min(other_last[at], last[one])
            count += 1
            at += 1
    return begins[:count].copy(), ends[:count].copy()
