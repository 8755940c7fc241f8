"""Many sets of intervals at once, as columns: what `intervals` does with one set, compiled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from towzone.checks.intervals import TOUCH, Intervals, left_into, moved_to_middles, union_into
from towzone.checks.leg_loops import BoolArray
from towzone.checks.place_loops import count_below
from towzone.geodesy.compiling import compiled, solid
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["IntervalSets"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IntervalSets:
    """Sets of disjoint closed intervals, one set after the other, each in rising order.

    Parameters
    ----------
    cuts : ndarray of int, shape (sets + 1,)
        Set ``n`` has the rows from ``cuts[n]`` to ``cuts[n + 1]``.
    first, last : ndarray, shape (rows,)
    """

    cuts: IntArray
    first: FloatArray
    last: FloatArray

    def __len__(self) -> int:
        return len(self.cuts) - 1

    @classmethod
    def none(cls, sets: int) -> IntervalSets:
        """Return so many empty sets."""
        return cls(cuts=np.zeros(sets + 1, dtype=np.int64), first=np.empty(0), last=np.empty(0))

    @classmethod
    def of(cls, some: Sequence[Intervals]) -> IntervalSets:
        """Return sets side by side."""
        return cls(
            cuts=_cuts_of(np.array([len(one) for one in some], dtype=np.int64)),
            first=np.concatenate([np.empty(0), *(one.first for one in some)]),
            last=np.concatenate([np.empty(0), *(one.last for one in some)]),
        )

    @classmethod
    def numbered(cls, sets: int, number: IntArray, first: FloatArray, last: FloatArray) -> IntervalSets:
        """Return disjoint intervals put into sets by their numbers; those of each stand in rising order."""
        order = np.argsort(number, kind="stable")
        return cls(cuts=_cuts_of(np.bincount(number, minlength=sets)), first=first[order], last=last[order])

    @classmethod
    def merged(cls, sets: int, number: IntArray, first: FloatArray, last: FloatArray) -> IntervalSets:
        """Return the unions of intervals, each of those of one number; see `intervals.merged`."""
        if not _in_order(solid(number, np.int64), solid(first)):
            order = np.lexsort((first, number))
            number, first, last = number[order], first[order], last[order]
        cuts = _cuts_of(np.bincount(number, minlength=sets))
        return cls._made(_unions(cuts, solid(first), solid(last)))

    @classmethod
    def _made(cls, columns: tuple[IntArray, FloatArray, FloatArray]) -> IntervalSets:
        return cls(cuts=columns[0], first=columns[1], last=columns[2])

    def _solid(self) -> tuple[IntArray, FloatArray, FloatArray]:
        """Return the columns as compiled code takes them."""
        return solid(self.cuts, np.int64), solid(self.first), solid(self.last)

    @property
    def counts(self) -> IntArray:
        """How many intervals each set has."""
        return np.diff(self.cuts)

    @property
    def number(self) -> IntArray:
        """The number of the set of each row."""
        return np.repeat(np.arange(len(self)), self.counts)

    def each(self) -> list[Intervals]:
        """Return every set by itself."""
        first, last = self.first, self.last
        return [Intervals(first[low:high], last[low:high]) for low, high in pairwise(self.cuts.tolist())]

    def take(self, which: IntArray) -> IntervalSets:
        """Return some of the sets, in the order asked for."""
        counts = self.counts[which]
        cuts = _cuts_of(counts)
        row = np.repeat(self.cuts[which] - cuts[:-1], counts) + np.arange(cuts[-1])
        return IntervalSets(cuts=cuts, first=self.first[row], last=self.last[row])

    def where(self, which: BoolArray) -> IntervalSets:
        """Return the same sets with some of their intervals only."""
        kept = np.bincount(self.number[which], minlength=len(self))
        return IntervalSets(cuts=_cuts_of(kept), first=self.first[which], last=self.last[which])

    def together(self, more: IntervalSets) -> IntervalSets:
        """Return the union of each set with the one of the same number."""
        number = np.concatenate([self.number, more.number])
        first, last = np.concatenate([self.first, more.first]), np.concatenate([self.last, more.last])
        return IntervalSets.merged(len(self), number, first, last)

    def within(self, which: IntArray, low: FloatArray, high: FloatArray) -> tuple[IntervalSets, IntArray]:
        """Return what of some sets lies between two places each, and the row that each part of it is of.

        Intervals that only touch a place there leave that place.
        """
        cuts, row = _rows_within(*self._solid(), solid(which, np.int64), solid(low), solid(high))
        counts = np.diff(cuts)
        first = np.maximum(self.first[row], np.repeat(low, counts))
        return self._made((cuts, first, np.minimum(self.last[row], np.repeat(high, counts)))), row

    def between(self, taken: IntervalSets) -> IntervalSets:
        """Return what is left of each set without the one of the same number; see `intervals.between`."""
        return self._made(_lefts(*self._solid(), *taken._solid()))

    def to_middles(self, some: IntervalSets) -> IntervalSets:
        """Return sets with ends that are ends of others moved to their middles; what touches then is one."""
        first, last = _moved(*self._solid(), *some._solid())
        return IntervalSets.merged(len(self), self.number, first, last)


def _cuts_of(counts: IntArray) -> IntArray:
    return np.concatenate([np.zeros(1, dtype=np.int64), np.cumsum(counts, dtype=np.int64)])


@compiled
def _in_order(number: IntArray, first: FloatArray) -> bool:
    """Return whether rows stand in the order of their sets, and in each of their beginnings."""
    for row in range(1, len(number)):
        before = number[row - 1] < number[row]
        if not (before or (number[row - 1] == number[row] and first[row - 1] <= first[row])):
            return False
    return True


@compiled
def _unions(cuts: IntArray, first: FloatArray, last: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
    begins, ends, made = np.empty(len(first)), np.empty(len(first)), np.zeros(len(cuts), np.int64)
    count = 0
    for one in range(len(cuts) - 1):
        own = first[cuts[one] : cuts[one + 1]], last[cuts[one] : cuts[one + 1]]
        count = union_into(*own, TOUCH, begins, ends, count)
        made[one + 1] = count
    return made, begins[:count].copy(), ends[:count].copy()


@compiled
def _rows_within(
    cuts: IntArray, first: FloatArray, last: FloatArray, which: IntArray, low: FloatArray, high: FloatArray
) -> tuple[IntArray, IntArray]:
    """Return the rows of some sets that reach into one window each: where those of each begin, and which."""
    begin, made = np.empty(len(which), np.int64), np.zeros(len(which) + 1, np.int64)
    for one in range(len(which)):
        start, stop = cuts[which[one]], cuts[which[one] + 1]
        begin[one] = count_below(last, start, stop, low[one], False)
        end = count_below(first, start, stop, high[one], True)
        made[one + 1] = made[one] + max(end - begin[one], 0)
    row = np.empty(made[-1], np.int64)
    for one in range(len(which)):
        for at in range(made[one], made[one + 1]):
            row[at] = begin[one] + at - made[one]
    return made, row


@compiled
def _lefts(
    cuts: IntArray,
    first: FloatArray,
    last: FloatArray,
    taken_cuts: IntArray,
    taken_first: FloatArray,
    taken_last: FloatArray,
) -> tuple[IntArray, FloatArray, FloatArray]:
    # Every interval that is taken out cuts one in two at the most.
    room = len(first) + len(taken_first)
    begins, ends, made, count = np.empty(room), np.empty(room), np.zeros(len(cuts), np.int64), 0
    for one in range(len(cuts) - 1):
        own = first[cuts[one] : cuts[one + 1]], last[cuts[one] : cuts[one + 1]]
        low, high = taken_cuts[one], taken_cuts[one + 1]
        count = left_into(*own, taken_first[low:high], taken_last[low:high], begins, ends, count)
        made[one + 1] = count
    return made, begins[:count].copy(), ends[:count].copy()


@compiled
def _moved(
    cuts: IntArray,
    first: FloatArray,
    last: FloatArray,
    some_cuts: IntArray,
    some_first: FloatArray,
    some_last: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    begins, ends = first.copy(), last.copy()
    for one in range(len(cuts) - 1):
        low, high = some_cuts[one], some_cuts[one + 1]
        for column in (begins, ends):
            moved_to_middles(column[cuts[one] : cuts[one + 1]], some_first[low:high], some_last[low:high])
    return begins, ends
