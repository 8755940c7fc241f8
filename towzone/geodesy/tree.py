"""Boxes around runs of consecutive pieces, nested like a tree, for searching many pieces at once.

The boxes stand in geocentric space, where the straight distance between two boxes is never more than
the distance on the surface between anything in them: what a search throws away is proved to be far.
Pieces of a track, or of a boundary, that follow each other lie close together, so the tree is simply
built over their order; it has no trouble with 180 degrees or the poles.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from towzone.errors import GeometryError
from towzone.geodesy.compiling import compiled, solid
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.pieces import Pieces
from towzone.geodesy.points import Point, chord, off_chord, row

__all__ = [
    "FAN",
    "Tree",
    "apart",
    "around",
    "corners",
    "curve_apart",
    "curve_gap",
    "greatest_arc",
    "greatest_chord",
    "grow",
    "least_arc",
    "over_owners",
    "pieces_below",
]

_LONGEST_RADIUS_M = 6_400_000.0
"""Above every radius of curvature of WGS 84: the greatest is a**2 / b = 6 399 594 m."""

_BULGE = 0.99 / (24.0 * _LONGEST_RADIUS_M**2)
"""Times the cube of a chord: how much longer its arc is at the least, 1/m**2; see `least_arc`."""

_SHORTEST_RADIUS_M = 6_335_000.0
"""Below every radius of curvature of WGS 84: the smallest is a(1 - e**2) = 6 335 439 m."""

_MOST_BULGE = 1.03 / (24.0 * _SHORTEST_RADIUS_M**2)
"""Times the cube of a chord of up to `_FAR_M`: how much longer its arc is at the most, 1/m**2. The next term
of the series adds 0.07 % there; the rest covers that geodesics are not quite plane."""

_FAR_M = 500_000.0
_LONGEST_ARC = 1.6
"""No arc of the earth is longer than pi/2 times its chord; the rest covers the flattening."""

FAN = 8
"""Own choice: children of a box; 4 to 16 measure alike."""


class Tree(NamedTuple):
    """Nested boxes over pieces, one root for each owner; compiled code takes it as it is.

    Nodes are numbered through: the first ``len(start_m)`` of them are the pieces themselves, whose boxes are
    worked out when they are looked at (`around`), for most never are. The columns of boxes begin with the
    first node after them. Loops take the columns that they need once and hand on rows of them: a call that
    hands over all columns of a tree takes longer than what is done with a box.

    Parameters
    ----------
    low_m, high_m : ndarray, shape (boxes, 3)
        Corners of each box, geocentric metres; what is below it lies inside.
    first_child, child_count : ndarray of int, shape (boxes,)
        Children are consecutive nodes.
    root : ndarray of int, shape (owners,)
        Root node of each owner, -1 for an owner without pieces.
    start_m, end_m : ndarray, shape (pieces, 3)
        Ends of the pieces.
    swell_m : ndarray, shape (pieces,)
        The curve of a piece is nowhere farther than this from its chord.
    """

    low_m: FloatArray
    high_m: FloatArray
    first_child: IntArray
    child_count: IntArray
    root: IntArray
    start_m: FloatArray
    end_m: FloatArray
    swell_m: FloatArray


def grow(pieces: Pieces, owners: int) -> Tree:
    """Return the tree over pieces.

    Parameters
    ----------
    pieces : Pieces
        Owners never decrease along the columns.
    owners : int
        How many owners there are; some may own nothing.

    Raises
    ------
    GeometryError
        An end is not finite: its box would seem to be far from everything.
    """
    start_m, end_m = solid(pieces.start_m), solid(pieces.end_m)
    cuts = solid(np.searchsorted(pieces.owner, np.arange(owners + 1)), np.int64)
    tree, sound = _grown(start_m, end_m, solid(pieces.swell_m), cuts)
    if not sound:
        message = "a piece of a line has no place"
        raise GeometryError(message)
    return tree


@compiled
def _grown(start_m: FloatArray, end_m: FloatArray, swell_m: FloatArray, cuts: IntArray) -> tuple[Tree, bool]:
    """Return the tree, and whether every piece has a place; ``cuts`` is where the pieces of owners begin."""
    tree = _empty(cuts, start_m, end_m, swell_m)
    pieces, free, sound = len(start_m), 0, True
    for owner in range(len(cuts) - 1):
        begin, end, level = cuts[owner], cuts[owner + 1], free
        for first in range(begin, end, FAN):
            last = min(first + FAN, end)
            # A piece alone is its own root; a box around it is only looked at.
            sound &= _hold_pieces(tree, free, first, last)
            if end - begin > 1:
                tree.first_child[free], tree.child_count[free] = first, last - first
                free += 1
        tree.root[owner] = begin if end - begin == 1 else _nest(tree, level, free)
        free = max(free, tree.root[owner] - pieces + 1)
    return tree, sound


@compiled
def over_owners(tree: Tree, order: IntArray) -> Tree:
    """Return a tree over the owners of another, whose pieces run from corner to corner of their boxes.

    Parameters
    ----------
    order : ndarray of int, shape (n,)
        Owners with pieces; those that follow each other should lie close together.
    """
    low_m, high_m = np.empty((len(order), 3)), np.empty((len(order), 3))
    for number in range(len(order)):
        low, high = corners(tree, tree.root[order[number]])
        for axis in range(3):
            low_m[number, axis], high_m[number, axis] = low[axis], high[axis]
    cuts = np.zeros(2, np.int64)
    cuts[1] = len(order)
    over, _ = _grown(low_m, high_m, np.zeros(len(order)), cuts)
    return over


@compiled
def _empty(cuts: IntArray, start_m: FloatArray, end_m: FloatArray, swell_m: FloatArray) -> Tree:
    """Return a tree with room for all boxes over the pieces of owners."""
    boxes = 0
    for owner in range(len(cuts) - 1):
        level = cuts[owner + 1] - cuts[owner]
        while level > 1:
            level = (level + FAN - 1) // FAN
            boxes += level
    return Tree(
        np.empty((boxes, 3)),
        np.empty((boxes, 3)),
        np.empty(boxes, np.int64),
        np.empty(boxes, np.int64),
        np.full(len(cuts) - 1, -1, np.int64),
        start_m,
        end_m,
        swell_m,
    )


@compiled
def _nest(tree: Tree, first: int, last: int) -> int:
    """Put boxes around those from one to another, and around these, up to a single one; return its node.

    -1 where there is none. What is made is written behind the last.
    """
    pieces, free = len(tree.start_m), last
    while last - first > 1:
        level = free
        for child in range(first, last, FAN):
            after = min(child + FAN, last)
            _hold(tree, free, child, after)
            tree.first_child[free], tree.child_count[free] = child + pieces, after - child
            free += 1
        first, last = level, free
    return first + pieces if last > first else -1


@compiled
def _hold_pieces(tree: Tree, box: int, first: int, last: int) -> bool:
    """Make a box that holds consecutive pieces, where there is room; return whether each has a place."""
    low_x, low_y, low_z = math.inf, math.inf, math.inf
    high_x, high_y, high_z = -math.inf, -math.inf, -math.inf
    start_m, end_m, swell_m = tree.start_m, tree.end_m, tree.swell_m
    # Nothing, unless some number is not finite.
    nothing = 0.0
    for piece in range(first, last):
        one, other = row(start_m, piece), row(end_m, piece)
        low, high = around(one, other, swell_m[piece])
        low_x, low_y, low_z = min(low_x, low[0]), min(low_y, low[1]), min(low_z, low[2])
        high_x, high_y, high_z = max(high_x, high[0]), max(high_y, high[1]), max(high_z, high[2])
        all_of_it = one[0] + one[1] + one[2] + other[0] + other[1] + other[2] + swell_m[piece]
        nothing += all_of_it - all_of_it
    if box < len(tree.low_m):
        _put(tree.low_m, tree.high_m, box, (low_x, low_y, low_z), (high_x, high_y, high_z))
    return nothing == 0.0


@compiled
def _hold(tree: Tree, box: int, first: int, last: int) -> None:
    """Make a box that holds consecutive others."""
    low_m, high_m = tree.low_m, tree.high_m
    low, high = row(low_m, first), row(high_m, first)
    for other in range(first + 1, last):
        more, most = row(low_m, other), row(high_m, other)
        low = min(low[0], more[0]), min(low[1], more[1]), min(low[2], more[2])
        high = max(high[0], most[0]), max(high[1], most[1]), max(high[2], most[2])
    _put(low_m, high_m, box, low, high)


@compiled
def _put(low_m: FloatArray, high_m: FloatArray, box: int, low: Point, high: Point) -> None:
    for axis in range(3):
        low_m[box, axis], high_m[box, axis] = low[axis], high[axis]


@compiled
def around(start: Point, end: Point, swell_m: float) -> tuple[Point, Point]:
    """Return the lowest and the highest corner of the box around a piece."""
    return (
        (min(start[0], end[0]) - swell_m, min(start[1], end[1]) - swell_m, min(start[2], end[2]) - swell_m),
        (max(start[0], end[0]) + swell_m, max(start[1], end[1]) + swell_m, max(start[2], end[2]) + swell_m),
    )


@compiled
def corners(tree: Tree, node: int) -> tuple[Point, Point]:
    """Return the lowest and the highest corner of the box around a node."""
    box = node - len(tree.start_m)
    if box < 0:
        return around(row(tree.start_m, node), row(tree.end_m, node), tree.swell_m[node])
    return row(tree.low_m, box), row(tree.high_m, box)


@compiled
def pieces_below(tree: Tree, node: int) -> tuple[int, int]:
    """Return the first and the last piece below a node."""
    pieces, first, last = len(tree.start_m), node, node
    while last >= pieces:
        first, last = first - pieces, last - pieces
        first, last = tree.first_child[first], tree.first_child[last] + tree.child_count[last] - 1
    return first, last


@compiled
def apart(low: Point, high: Point, other_low: Point, other_high: Point) -> float:
    """Return the straight distance between two boxes told by their corners, squared, square metres."""
    x = max(low[0] - other_high[0], other_low[0] - high[0], 0.0)
    y = max(low[1] - other_high[1], other_low[1] - high[1], 0.0)
    z = max(low[2] - other_high[2], other_low[2] - high[2], 0.0)
    return x * x + y * y + z * z


@compiled
def curve_apart(low: Point, high: Point, start: Point, end: Point, swell_m: float) -> tuple[float, float]:
    """Return how far every point of a box is from the curve of a piece, at the least and at the most.

    Parameters
    ----------
    low, high : Point
        Corners of the box.
    start, end : Point
        Ends of the piece.
    swell_m : float
        Its curve is nowhere farther than this from its chord.

    Returns
    -------
    least_m, most_m : float
        Straight through; every point is at most ``most_m`` from the *nearest* point of the curve.

    Notes
    -----
    A box lies within half its diagonal of its middle. A box around a slanting piece of a kilometre holds
    much that is hundreds of metres off; this tells it.
    Numbers instead of trees: a call that hands over all columns of two trees takes ten times as long.
    """
    middle = (low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0, (low[2] + high[2]) / 2.0
    apart_m = off_chord(middle, start, end)
    around_m = chord(low, high) / 2.0 + swell_m
    return apart_m - around_m, apart_m + around_m


@compiled
def curve_gap(point: Point, start: Point, end: Point, swell_m: float) -> float:
    """Return what a point is away, straight, from the curve of a piece at the least, squared.

    The curve lies within the swell of the piece of its chord.
    """
    gap_m = off_chord(point, start, end) - swell_m
    # Written so that what is no number stays so.
    return 0.0 if gap_m < 0.0 else gap_m * gap_m


@compiled
def least_arc(chord_m: float) -> float:
    """Return what the way on the surface is at least, given the straight distance.

    Notes
    -----
    No curve on the ellipsoid bends less than the circle of its greatest radius of curvature, whose arc is
    longer than its chord by ``c**3 / 24 R**2`` and more. One hundredth is taken off because geodesics are
    not quite plane. Without this term all boundaries a few hundred kilometres off would look alike.
    """
    return chord_m + _BULGE * chord_m**3


@compiled
def greatest_arc(chord_m: float) -> float:
    """Return what the way on the surface is at most, given the straight distance."""
    if chord_m <= _FAR_M:
        return chord_m + _MOST_BULGE * chord_m**3
    return _LONGEST_ARC * chord_m


@compiled
def greatest_chord(arc_m: float) -> float:
    """Return a straight distance beyond which `least_arc` is more than a way on the surface.

    Notes
    -----
    With ``a = c + k c**3``, ``c <= a`` gives ``c >= a - k a**3``, and that ``c <= a - k (a - k a**3)**3``.
    """
    if arc_m >= 10_000_000.0:
        return arc_m
    return arc_m - _BULGE * max(arc_m - _BULGE * arc_m**3, 0.0) ** 3
