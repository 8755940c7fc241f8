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
from towzone.geodesy.points import Point, off_chord, row

__all__ = [
    "FAN",
    "Tree",
    "box_gap",
    "curve_apart",
    "curve_gap",
    "greatest_arc",
    "greatest_chord",
    "grow",
    "last_piece",
    "least_arc",
    "over_owners",
    "piece_gap",
    "point_gap",
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

    Nodes are numbered through: the first ``len(start_m)`` nodes are the pieces themselves.

    Parameters
    ----------
    low_m, high_m : ndarray, shape (nodes, 3)
        Corners of each box, geocentric metres; a node's curves lie inside.
    first_child, child_count : ndarray of int, shape (nodes,)
        Children are consecutive nodes; a piece has none.
    first_piece : ndarray of int, shape (nodes,)
        First piece below the node.
    size_m : ndarray, shape (nodes,)
        Diagonal of the box, metres.
    root : ndarray of int, shape (owners,)
        Root node of each owner, -1 for an owner without pieces.
    start_m, end_m : ndarray, shape (pieces, 3)
        Ends of the pieces.
    """

    low_m: FloatArray
    high_m: FloatArray
    first_child: IntArray
    child_count: IntArray
    first_piece: IntArray
    size_m: FloatArray
    root: IntArray
    start_m: FloatArray
    end_m: FloatArray


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
    tree, sound = _grown(start_m, end_m, solid(pieces.swell_m), solid(pieces.owner, np.int64), owners)
    if not sound:
        message = "a piece of a line has no place"
        raise GeometryError(message)
    return tree


@compiled
def _grown(
    start_m: FloatArray, end_m: FloatArray, swell_m: FloatArray, owner: IntArray, owners: int
) -> tuple[Tree, bool]:
    """Return the tree, and whether every piece has a place."""
    tree = _empty(owner, owners, start_m, end_m)
    sound = _boxed(start_m, end_m, swell_m, tree.low_m, tree.high_m)
    _nest(tree, owner)
    return tree, sound


@compiled
def _boxed(
    start_m: FloatArray, end_m: FloatArray, swell_m: FloatArray, low_m: FloatArray, high_m: FloatArray
) -> bool:
    """Write the box of each piece; return whether every piece has a place."""
    # Nothing, unless some number is not finite.
    nothing = 0.0
    for piece in range(len(swell_m)):
        pad = swell_m[piece]
        nothing += pad - pad
        for axis in range(3):
            one, other = start_m[piece, axis], end_m[piece, axis]
            nothing += (one - one) + (other - other)
            low_m[piece, axis] = (one if one < other else other) - pad
            high_m[piece, axis] = (other if one < other else one) + pad
    return nothing == 0.0


@compiled
def over_owners(tree: Tree, order: IntArray) -> Tree:
    """Return a tree over the owners of another, whose lowest boxes are its roots, in some order.

    Parameters
    ----------
    order : ndarray of int, shape (n,)
        Owners with pieces; those that follow each other should lie close together.
    """
    none = np.empty((0, 3))
    one = np.zeros(len(order), np.int64)
    over = _empty(one, 1, none, none)
    for number, owner in enumerate(order):
        for axis in range(3):
            over.low_m[number, axis] = tree.low_m[tree.root[owner], axis]
            over.high_m[number, axis] = tree.high_m[tree.root[owner], axis]
    _nest(over, one)
    return over


@compiled
def _empty(owner: IntArray, owners: int, start_m: FloatArray, end_m: FloatArray) -> Tree:
    nodes = _node_count(owner)
    return Tree(
        np.empty((nodes, 3)),
        np.empty((nodes, 3)),
        np.zeros(nodes, np.int64),
        np.zeros(nodes, np.int64),
        np.empty(nodes, np.int64),
        np.empty(nodes),
        np.full(owners, -1, np.int64),
        start_m,
        end_m,
    )


@compiled
def _nest(tree: Tree, owner: IntArray) -> None:
    """Put boxes around the lowest boxes of each owner, and around those, up to a single one."""
    lowest = len(owner)
    for node in range(lowest):
        tree.first_piece[node], tree.size_m[node] = node, _diagonal(tree.low_m, tree.high_m, node)
    free, begin = lowest, 0
    while begin < lowest:
        end = begin + 1
        while end < lowest and owner[end] == owner[begin]:
            end += 1
        first, last = begin, end
        while last - first > 1:
            level = free
            for child in range(first, last, FAN):
                after = min(child + FAN, last)
                _hold(tree.low_m, tree.high_m, free, child, after)
                tree.first_child[free], tree.child_count[free] = child, after - child
                tree.first_piece[free] = tree.first_piece[child]
                tree.size_m[free] = _diagonal(tree.low_m, tree.high_m, free)
                free += 1
            first, last = level, free
        tree.root[owner[begin]] = first
        begin = end


@compiled
def _node_count(owner: IntArray) -> int:
    nodes, begin = len(owner), 0
    while begin < len(owner):
        end = begin + 1
        while end < len(owner) and owner[end] == owner[begin]:
            end += 1
        level = end - begin
        while level > 1:
            level = (level + FAN - 1) // FAN
            nodes += level
        begin = end
    return nodes


@compiled
def _hold(low_m: FloatArray, high_m: FloatArray, node: int, first: int, last: int) -> None:
    """Make a box that holds consecutive others."""
    for axis in range(3):
        low, high = low_m[first, axis], high_m[first, axis]
        for child in range(first + 1, last):
            if low_m[child, axis] < low:
                low = low_m[child, axis]
            if high_m[child, axis] > high:
                high = high_m[child, axis]
        low_m[node, axis], high_m[node, axis] = low, high


@compiled
def _diagonal(low_m: FloatArray, high_m: FloatArray, node: int) -> float:
    x, y, z = (
        high_m[node, 0] - low_m[node, 0],
        high_m[node, 1] - low_m[node, 1],
        high_m[node, 2] - low_m[node, 2],
    )
    return math.sqrt(x**2 + y**2 + z**2)


@compiled
def last_piece(tree: Tree, node: int) -> int:
    """Return the last piece below a node."""
    while tree.child_count[node] > 0:
        node = tree.first_child[node] + tree.child_count[node] - 1
    return node


@compiled
def box_gap(tree_a: Tree, a: int, tree_b: Tree, b: int) -> float:
    """Return the straight distance between two boxes, squared, square metres."""
    square = 0.0
    for axis in range(3):
        over = tree_a.low_m[a, axis] - tree_b.high_m[b, axis]
        under = tree_b.low_m[b, axis] - tree_a.high_m[a, axis]
        gap = max(over, under, 0.0)
        square += gap * gap
    return square


@compiled
def curve_apart(
    low: Point, high: Point, size_m: float, start: Point, end: Point, lowest: float
) -> tuple[float, float]:
    """Return how far every point of a box is from the curve of a piece, at the least and at the most.

    Parameters
    ----------
    low, high, size_m
        Corners of the box and its diagonal.
    start, end : Point
        Ends of the piece.
    lowest : float
        Where the box of the piece begins on its first axis.

    Returns
    -------
    least_m, most_m : float
        Straight through; every point is at most ``most_m`` from the *nearest* point of the curve.

    Notes
    -----
    A box lies within half its diagonal of its middle, and a curve within the swell of its piece of the
    chord, by which the box of the piece is wider than that of its ends. A box around a slanting piece of a
    kilometre holds much that is hundreds of metres off; this tells it.
    Numbers instead of trees: a call that hands over all columns of two trees takes ten times as long.
    """
    middle = (low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0, (low[2] + high[2]) / 2.0
    apart_m = off_chord(middle, start, end)
    around_m = size_m / 2.0 + min(start[0], end[0]) - lowest
    return apart_m - around_m, apart_m + around_m


@compiled
def curve_gap(point: Point, tree: Tree, piece: int) -> float:
    """Return what a point is away, straight, from the curve of a piece at the least, squared.

    The curve lies within the swell of its piece of the chord, by which the box of the piece is wider than
    that of its ends.
    """
    start, end = row(tree.start_m, piece), row(tree.end_m, piece)
    gap_m = off_chord(point, start, end) - (min(start[0], end[0]) - tree.low_m[piece, 0])
    # Written so that what is no number stays so.
    return 0.0 if gap_m < 0.0 else gap_m * gap_m


@compiled
def point_gap(point: Point, tree: Tree, node: int) -> float:
    """Return the straight distance between a point and a box, squared, square metres."""
    square = 0.0
    for axis in range(3):
        over, under = point[axis] - tree.high_m[node, axis], tree.low_m[node, axis] - point[axis]
        gap = max(over, under, 0.0)
        square += gap * gap
    return square


@compiled
def piece_gap(start: Point, end: Point, swell_m: float, tree: Tree, node: int) -> float:
    """Return the straight distance between the box around a piece and another box, squared, square metres."""
    square = 0.0
    for axis in range(3):
        over = min(start[axis], end[axis]) - swell_m - tree.high_m[node, axis]
        under = tree.low_m[node, axis] - max(start[axis], end[axis]) - swell_m
        gap = max(over, under, 0.0)
        square += gap * gap
    return square


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
