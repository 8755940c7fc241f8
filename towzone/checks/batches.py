"""A path in batches that are measured one after the other, so that memory stays bounded on long tracks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Protocol

import numpy as np

from towzone.checks.interval_sets import IntervalSets
from towzone.checks.intervals import TOUCH, Intervals
from towzone.checks.paths import Path, side_of
from towzone.checks.shares import Group
from towzone.geodesy.approach import Reaches, Side
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["BATCH_LEGS", "Batch", "Carrier", "batches"]

BATCH_LEGS = 500_000
"""Legs measured together: about 150 MB of pieces and boxes. Own choice; no answer depends on it."""


class Carrier(Protocol):
    """What is measured against zones: the vessel, or a part of its gear; places are those of the vessel."""

    def positions(self, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return longitudes and latitudes at places, degrees."""

    def time_at(self, place: float) -> np.datetime64:
        """Return the time of a place, ``NaT`` when unknown."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Batch:
    """Some groups of a path (or parts of groups) with their pieces.

    Parameters
    ----------
    path : Carrier
    groups : tuple of Group
    side : Side
        Pieces of all that is covered, owned by the group of the same number in the batch.
    piece_begin, piece_end : ndarray
        Places of the ends of each piece.
    """

    path: Carrier
    groups: tuple[Group, ...]
    side: Side
    piece_begin: FloatArray
    piece_end: FloatArray

    @classmethod
    def of(cls, path: Path, groups: Sequence[Group]) -> Batch:
        """Return groups with their pieces."""
        side, begin, end = side_of(path.track, path.kind, [group.covered for group in groups])
        return cls(path=path, groups=tuple(groups), side=side, piece_begin=begin, piece_end=end)

    @cached_property
    def covered(self) -> IntervalSets:
        """The covered stretches of each group."""
        return IntervalSets.of([group.covered for group in self.groups])

    @cached_property
    def _breaks(self) -> IntArray:
        """The pieces that do not begin where the one before ends."""
        return np.flatnonzero(self.piece_begin[1:] > self.piece_end[:-1] + TOUCH) + 1

    def places(self, piece: IntArray, part: FloatArray) -> FloatArray:
        """Return places on the path from fractions of pieces."""
        begin = self.piece_begin[piece]
        return np.asarray(begin + part * (self.piece_end[piece] - begin))

    def stretches(self, found: Reaches) -> tuple[IntArray, FloatArray, FloatArray]:
        """Return the numbers of pairs and the places between which each of their groups was near.

        What runs over the end of a covered stretch is cut there.
        """
        low, high = (
            np.searchsorted(self._breaks, end, side="right") for end in (found.path_piece, found.last_piece)
        )
        counts = high - low + 1
        row = np.repeat(np.arange(len(counts)), counts)
        step = np.arange(len(row)) - (np.cumsum(counts) - counts)[row]
        begins, ends = step == 0, step == counts[row] - 1
        after = low[row] + step
        # Where a stretch itself begins or ends some break is looked up, too, and not taken.
        breaks = np.append(self._breaks, -1)
        first_piece = np.where(begins, found.path_piece[row], breaks[after - 1])
        last_piece = np.where(ends, found.last_piece[row], breaks[after] - 1)
        first = self.places(first_piece, np.where(begins, found.first[row], 0.0))
        last = self.places(last_piece, np.where(ends, found.last[row], 1.0))
        return found.pair[row], first, last


def batches(path: Path, most_legs: int = BATCH_LEGS) -> Iterator[Batch]:
    """Yield all groups of a path in order; those with more legs than a batch holds come in parts."""
    some: list[Group] = []
    room = float(most_legs)
    for group in path.groups:
        for part in _parts(group, most_legs):
            size = _legs(part.covered)
            if some and size > room:
                yield Batch.of(path, some)
                some, room = [], float(most_legs)
            some.append(part)
            room -= size
    if some:
        yield Batch.of(path, some)


def _legs(covered: Intervals) -> float:
    return float((covered.last - covered.first).sum()) + len(covered)


def _parts(group: Group, most_legs: int) -> Iterator[Group]:
    """Yield a group, cut at whole fixes into parts of no more legs than a batch holds."""
    if _legs(group.covered) <= most_legs:
        yield group
        return
    first, last = [], []
    for begin, end in zip(group.covered.first.tolist(), group.covered.last.tolist(), strict=True):
        cuts = np.arange(np.floor(begin) + most_legs, end, most_legs).tolist()
        first += [begin, *cuts]
        last += [*cuts, end]
    sizes = np.array(last) - np.array(first) + 1.0
    # By where they begin: two pieces of one stretch never come into one part, which would tell them as two.
    number = ((np.cumsum(sizes) - sizes) // most_legs).astype(np.int64)
    for one in np.unique(number).tolist():
        mine = number == one
        yield replace(group, covered=Intervals(np.array(first)[mine], np.array(last)[mine]))
