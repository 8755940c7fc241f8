"""The depth of a path behind a boundary, searched for in many columns at once.

Depth is the distance from the boundary on its wrong side, and minus that on its right side.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.checks.boundaries import Boundaries
from towzone.geodesy.approach import Side, closest
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, from_geocentric
from towzone.geodesy.pieces import Pieces
from towzone.model.zone import Zone
from towzone.record.curves.strands import Strand

__all__ = [
    "SAMPLES",
    "TOLERANCE_M",
    "BoolArray",
    "Intervals",
    "Question",
    "deepest_by_column",
    "intervals_of",
    "least_of_columns",
    "wrong_side",
]

TOLERANCE_M = 0.8
"""How far the depth drawn of a column may be from the greatest there: within the metre that is promised.
Own choice."""

SAMPLES = 4
"""Positions of a column, at least (as far as it holds so many), from which its greatest clearance is taken.
Own choice."""

_STRAIGHT_M = 20_000.0
"""Chords longer than this are not taken for straight lines on a plane, on which distances are convex."""

BoolArray = npt.NDArray[np.bool_]


class Question(NamedTuple):
    """A strand against one zone, by its number among the boundaries."""

    strand: Strand
    zone: Zone
    number: int
    boundaries: Boundaries

    @property
    def edge(self) -> Side:
        """The boundary, ready to be measured to."""
        return self.boundaries.measured(np.array([self.number]))


def wrong_side(ask: Question, xyz_m: FloatArray) -> BoolArray:
    """Return which points, geocentric, are where they should not be; beside lines and points none is."""
    if not ask.zone.shape.is_area:
        return np.zeros(len(xyz_m), dtype=bool)
    inside = ask.boundaries.regions[ask.number].contains(*from_geocentric(xyz_m))
    return np.asarray(inside != ask.zone.rules.allowed_only_inside)


def _depths(ask: Question, xyz_m: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the depths of points, and the pieces of the boundary nearest to them."""
    count = len(xyz_m)
    points, each = Side.of(Pieces.each_alone(xyz_m, xyz_m), count), np.arange(count)
    found = closest(points, each, ask.edge, np.full(count, ask.number), np.full(count, np.inf))
    return np.where(wrong_side(ask, xyz_m), found.distance_m, -found.distance_m), found.edge_piece


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Intervals:
    """Stretches of a strand without a jump, as columns: from a part of one piece to a part of another.

    ``depth`` is the distance from the boundary at either end, negative on the right side of it; ``near`` the
    piece of the boundary that is nearest there.
    """

    column: IntArray
    piece0: IntArray
    part0: FloatArray
    piece1: IntArray
    part1: FloatArray
    depth0: FloatArray
    depth1: FloatArray
    near0: IntArray
    near1: IntArray

    def pick(self, which: IntArray | BoolArray) -> Intervals:
        """Return some of the intervals."""
        return Intervals(**{name: getattr(self, name)[which] for name in self.__slots__})

    def length_m(self, strand: Strand) -> FloatArray:
        """Return how far the path goes on each."""
        legs_m = np.diff(strand.walked_m)
        begin = strand.walked_m[self.piece0] + self.part0 * legs_m[self.piece0]
        end = strand.walked_m[self.piece1] + self.part1 * legs_m[self.piece1]
        # The way on the surface is longer than chords of up to a kilometre by less than a millionth.
        return np.asarray(1.000_001 * (end - begin))


def intervals_of(ask: Question, some: IntArray, lows: IntArray, highs: IntArray, samples: int) -> Intervals:
    """Return the pieces of some columns in a few intervals each, with the depths at their ends."""
    counts = highs[some] - lows[some]
    row = np.repeat(np.arange(len(some)), counts)
    step = np.arange(len(row)) - np.repeat(np.cumsum(counts) - counts, counts)
    piece = lows[some][row] + step
    share = step * samples // counts[row]
    begins = np.append(True, (np.diff(share) != 0) | (np.diff(row) != 0)) | ~ask.strand.follows[piece]
    first = np.flatnonzero(begins)
    last = np.append(first[1:], len(row)) - 1
    column = some[row[first]]
    piece0, piece1 = piece[first], piece[last]
    start_m, end_m = ask.strand.pieces.start_m[piece0], ask.strand.pieces.end_m[piece1]
    # Most intervals end where the next one begins: such points are asked about once.
    joins = np.append((piece0[1:] == piece1[:-1] + 1) & ask.strand.follows[piece0[1:]], False)
    ends = np.flatnonzero(~joins)
    depth, near = _depths(ask, np.concatenate([start_m, end_m[ends]]))
    after = np.arange(len(first)) + 1
    after[ends] = len(first) + np.arange(len(ends))
    return Intervals(
        column=column,
        piece0=piece0,
        part0=np.zeros(len(first)),
        piece1=piece1,
        part1=np.ones(len(first)),
        depth0=depth[: len(first)],
        depth1=depth[after],
        near0=near[: len(first)],
        near1=near[after],
    )


def least_of_columns(some: Intervals, value: FloatArray, columns: int) -> FloatArray:
    """Return the least of values of intervals in each column, infinite where it has none."""
    least = np.full(columns, np.inf)
    np.minimum.at(least, some.column, value)
    return least


def deepest_by_column(
    ask: Question, open_: Intervals, columns: int, enough_m: float
) -> tuple[FloatArray, FloatArray]:
    """Return the greatest depth of each column and its place, true to the tolerance up to a depth.

    Notes
    -----
    Branch and bound. Depth changes by no more than a metre a metre; and along a straight line the distance to
    a bit of boundary is convex, so it is nowhere greater than at the worse end, by as much more as the path
    strays from the straight line.
    """
    best, at = np.full(columns, -np.inf), np.zeros(columns)

    def keep(column: IntArray, depth: FloatArray, piece: IntArray, part: FloatArray) -> None:
        order = np.argsort(depth, kind="stable")
        order = order[depth[order] > best[column[order]]]
        best[column[order]] = depth[order]  # of several the last stays, which is the deepest
        at[column[order]] = ask.strand.place(piece[order], part[order])

    keep(open_.column, open_.depth0, open_.piece0, open_.part0)
    keep(open_.column, open_.depth1, open_.piece1, open_.part1)
    while len(open_.column):
        goal = best + TOLERANCE_M
        goal[best >= enough_m] = np.inf
        open_ = open_.pick(
            (open_.depth0 + open_.depth1 + open_.length_m(ask.strand)) / 2.0 > goal[open_.column]
        )
        open_ = open_.pick(_by_straightness(ask, open_) > goal[open_.column])
        if not len(open_.column):
            break
        piece, part, piece_after, part_after = _middles(open_)
        start_m, end_m = ask.strand.pieces.start_m[piece], ask.strand.pieces.end_m[piece]
        xyz_m = start_m + part[:, None] * (end_m - start_m)
        depth, near = _depths(ask, xyz_m)
        keep(open_.column, depth, piece, part)
        open_ = _halves(open_, piece, part, piece_after, part_after, depth, near)
    return best, at


def _by_straightness(ask: Question, some: Intervals) -> FloatArray:
    """Return what the depth is at most on intervals, by the bits of boundary nearest to their ends."""
    pieces = ask.strand.pieces
    start_m = pieces.start_m[some.piece0] + some.part0[:, None] * (
        pieces.end_m[some.piece0] - pieces.start_m[some.piece0]
    )
    end_m = pieces.start_m[some.piece1] + some.part1[:, None] * (
        pieces.end_m[some.piece1] - pieces.start_m[some.piece1]
    )
    to_far = _to_boundary(ask.edge.pieces, end_m, some.near0)
    to_near = _to_boundary(ask.edge.pieces, start_m, some.near1)
    upper = np.minimum(
        np.maximum(np.abs(some.depth0), to_far), np.maximum(np.abs(some.depth1), to_near)
    ) + _astray_m(pieces, some, start_m, end_m)
    return np.where(np.sqrt(((end_m - start_m) ** 2).sum(axis=1)) < _STRAIGHT_M, upper, np.inf)


def _to_boundary(boundary: Pieces, xyz_m: FloatArray, piece: IntArray) -> FloatArray:
    """Return the distance from points to given pieces of a boundary, pair by pair, not too little.

    Straight through the earth, which up to `_STRAIGHT_M` is shorter than the way on the surface by 9 mm.
    """
    straight_m = _to_chords(xyz_m, boundary.start_m[piece], boundary.end_m[piece])
    return np.where(straight_m < _STRAIGHT_M, straight_m + 0.05, np.inf)


def _to_chords(xyz_m: FloatArray, start_m: FloatArray, end_m: FloatArray) -> FloatArray:
    """Return the straight distance from points to chords, pair by pair."""
    along_m, from_m = end_m - start_m, xyz_m - start_m
    squared = np.einsum("ij,ij->i", along_m, along_m)
    part = np.einsum("ij,ij->i", from_m, along_m) / np.where(squared > 0.0, squared, 1.0)
    off_m = from_m - np.clip(part, 0.0, 1.0)[:, None] * along_m
    return np.asarray(np.sqrt(np.einsum("ij,ij->i", off_m, off_m)))


def _astray_m(pieces: Pieces, some: Intervals, start_m: FloatArray, end_m: FloatArray) -> FloatArray:
    """Return how far a path strays from the straight line between the ends of each interval."""
    counts = some.piece1 - some.piece0
    row = np.repeat(np.arange(len(counts)), counts)
    step = np.arange(len(row)) - np.repeat(np.cumsum(counts) - counts, counts)
    node_m = pieces.end_m[some.piece0[row] + step]
    astray = np.zeros(len(counts))
    np.maximum.at(astray, row, _to_chords(node_m, start_m[row], end_m[row]))
    return astray


def _middles(some: Intervals) -> tuple[IntArray, FloatArray, IntArray, FloatArray]:
    """Return where intervals are halved, as the end of their first half and the beginning of the second."""
    piece = (some.piece0 + some.piece1) // 2
    single = some.piece0 == some.piece1
    part = np.where(single, (some.part0 + some.part1) / 2.0, 1.0)
    return piece, part, np.where(single, piece, piece + 1), np.where(single, part, 0.0)


def _halves(
    some: Intervals,
    piece: IntArray,
    part: FloatArray,
    piece_after: IntArray,
    part_after: FloatArray,
    depth: FloatArray,
    near: IntArray,
) -> Intervals:
    return Intervals(
        column=np.append(some.column, some.column),
        piece0=np.append(some.piece0, piece_after),
        part0=np.append(some.part0, part_after),
        piece1=np.append(piece, some.piece1),
        part1=np.append(part, some.part1),
        depth0=np.append(some.depth0, depth),
        depth1=np.append(depth, some.depth1),
        near0=np.append(some.near0, near),
        near1=np.append(near, some.near1),
    )
