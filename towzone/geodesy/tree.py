"""Boxes around runs of consecutive pieces, nested like a tree, for searching many pieces at once.

The boxes stand in geocentric space, where the straight distance between two boxes is never more than
the distance on the surface between anything in them: what a search throws away is proved to be far.
Pieces of a track, or of a boundary, that follow each other lie close together, so the tree is simply
built over their order; it has no trouble with 180 degrees or the poles.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.errors import GeometryError
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.pieces import Pieces

__all__ = ["FAN", "Tree", "box_distance", "greatest_arc", "grow", "least_arc"]

_SHORTEST_RADIUS_M = 6_335_000.0
"""Below every radius of curvature of WGS 84: the smallest is a(1 - e**2) = 6 335 439 m."""

_LONGEST_RADIUS_M = 6_400_000.0
"""Above every radius of curvature of WGS 84: the greatest is a**2 / b = 6 399 594 m."""

FAN = 8
"""Own choice: children of a box; 4 to 16 measure alike."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tree:
    """Nested boxes over pieces, one root for each owner.

    Nodes are numbered through: the first ``len(pieces)`` nodes are the pieces themselves.

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
    """

    low_m: FloatArray
    high_m: FloatArray
    first_child: IntArray
    child_count: IntArray
    first_piece: IntArray
    size_m: FloatArray
    root: IntArray


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
    if not (np.isfinite(pieces.start_m).all() and np.isfinite(pieces.end_m).all()):
        message = "a piece of a line has no place"
        raise GeometryError(message)
    pad_m = pieces.swell_m[:, None]
    low = [np.minimum(pieces.start_m, pieces.end_m) - pad_m]
    high = [np.maximum(pieces.start_m, pieces.end_m) + pad_m]
    first_child = [np.zeros(len(pieces), dtype=np.int64)]
    child_count = [np.zeros(len(pieces), dtype=np.int64)]
    first_piece = [np.arange(len(pieces), dtype=np.int64)]
    root = np.full(owners, -1, dtype=np.int64)
    owner, offset = pieces.owner, 0
    while len(owner):
        _remember_roots(root, owner, offset)
        if len(np.unique(owner)) == len(owner):
            break
        starts = _group_starts(owner)
        counts = np.diff(np.append(starts, len(owner)))
        low.append(np.minimum.reduceat(low[-1], starts))
        high.append(np.maximum.reduceat(high[-1], starts))
        first_child.append(offset + starts)
        child_count.append(counts)
        first_piece.append(first_piece[-1][starts])
        offset += len(owner)
        owner = owner[starts]
    low_m, high_m = np.concatenate(low), np.concatenate(high)
    return Tree(
        low_m=low_m,
        high_m=high_m,
        first_child=np.concatenate(first_child),
        child_count=np.concatenate(child_count),
        first_piece=np.concatenate(first_piece),
        size_m=np.sqrt(((high_m - low_m) ** 2).sum(axis=1)),
        root=root,
    )


def _remember_roots(root: IntArray, owner: IntArray, offset: int) -> None:
    """Note the node of every owner that has come down to a single one."""
    values, first, count = np.unique(owner, return_index=True, return_counts=True)
    single = (count == 1) & (root[values] == -1)
    root[values[single]] = offset + first[single]


def _group_starts(owner: IntArray) -> IntArray:
    """Return where each group of at most `FAN` neighbours of one owner begins."""
    begins = np.flatnonzero(np.append(True, owner[1:] != owner[:-1]))
    counts = np.diff(np.append(begins, len(owner)))
    groups = -(-counts // FAN)
    which = np.arange(groups.sum()) - np.repeat(np.cumsum(groups) - groups, groups)
    return np.asarray(np.repeat(begins, groups) + FAN * which)


def box_distance(tree_a: Tree, a: IntArray, tree_b: Tree, b: IntArray) -> FloatArray:
    """Return a lower bound of the distance on the surface between anything in two boxes, pair by pair."""
    gap = np.maximum(tree_a.low_m[a] - tree_b.high_m[b], tree_b.low_m[b] - tree_a.high_m[a])
    np.maximum(gap, 0.0, out=gap)
    return least_arc(np.sqrt(np.einsum("ij,ij->i", gap, gap)))


def least_arc(chord_m: FloatArray) -> FloatArray:
    """Return what the way on the surface is at least, given the straight distance.

    Notes
    -----
    No curve on the ellipsoid bends less than the circle of its greatest radius of curvature, whose arc is
    longer than its chord by ``c**3 / 24 R**2`` and more. One hundredth is taken off because geodesics are
    not quite plane. Without this term all boundaries a few hundred kilometres off would look alike.
    """
    return np.asarray(chord_m + 0.99 * chord_m**3 / (24.0 * _LONGEST_RADIUS_M**2))


def greatest_arc(chord_m: FloatArray) -> FloatArray:
    """Return what the distance on the surface is at most, given the straight distance.

    Notes
    -----
    Up to 5000 km no geodesic bends more than the circle of the smallest radius of curvature (a fiftieth of
    the excess is added because geodesics are not quite plane); beyond, no arc of the earth is longer than
    pi/2 times its chord, and 1.6 covers the flattening.
    """
    half = np.minimum(chord_m / (2.0 * _SHORTEST_RADIUS_M), 1.0)
    excess = 2.0 * _SHORTEST_RADIUS_M * np.arcsin(half) - chord_m
    return np.where(chord_m < 5_000_000.0, chord_m + 1.02 * excess, 1.6 * chord_m)
