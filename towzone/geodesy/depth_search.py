"""Compiled: the search for the deepest point of `towzone.geodesy.depth`, which explains its bounds."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from towzone.geodesy.compiling import compiled
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.pairs import nearest_to_point
from towzone.geodesy.points import Point, between, chord, lifted, off_chord, row
from towzone.geodesy.tree import Tree, curve_apart, greatest_arc, pieces_below
from towzone.geodesy.walks import Stack, closest_to_point, new_stack, push

__all__ = ["RESOLUTION_M", "Stays", "search_each"]

RESOLUTION_M = 0.002
"""Own choice: the search stops when nothing can be deeper by more than this."""

_SHORTEST_RADIUS_M = 6_335_000.0
"""Below every radius of curvature of WGS 84: the smallest is a(1 - e**2) = 6 335 439 m."""

_LEAN = 0.0034
"""Sine of the greatest angle between the normal of the ellipsoid and the way from its middle (11.55')."""

_HALVINGS = 64
"""More than a stretch can be halved before its length is below any resolution."""


class Stays(NamedTuple):
    """Stretches of a path: from a fraction of one piece to a fraction of another, with all pieces between.

    Parameters
    ----------
    first_piece, last_piece : ndarray of int, shape (k,)
    first, last : ndarray, shape (k,)
        The fraction of the first piece where each begins, and of the last where it ends.
    """

    first_piece: IntArray
    last_piece: IntArray
    first: FloatArray
    last: FloatArray


class _Boundary(NamedTuple):
    tree: Tree
    root: int
    stack: Stack


class _Best(NamedTuple):
    """The deepest place found so far: depth, piece and fraction of it, in columns of one row.

    ``sound`` is 0 as soon as a distance could not be computed.
    """

    depth_m: FloatArray
    piece: IntArray
    part: FloatArray
    sound: IntArray


@compiled
def search_each(
    path: Tree,
    path_owner: IntArray,
    stays: Stays,
    counts: IntArray,
    edge: Tree,
    edge_owner: IntArray,
    piece: IntArray,
    part: FloatArray,
) -> bool:
    """Write the deepest places of sets of stays, each in an area of its own.

    Parameters
    ----------
    path_owner, edge_owner : ndarray of int, shape (m,)
        Whose pieces the stays of each set are of, and whose boundary the area of each has.
    counts : ndarray of int, shape (m,)
        How many stays each has, at least one.
    piece, part : ndarray, shape (m,)
        Are written.

    Returns
    -------
    sound : bool
        False when a distance could not be computed, or a path or a boundary is not there.
    """
    begin, ahead, inner = 0, new_stack(), new_stack()
    for number in range(len(counts)):
        end = begin + counts[number]
        root_a, root_b = path.root[path_owner[number]], edge.root[edge_owner[number]]
        if root_a < 0 or root_b < 0:
            return False
        boundary = _Boundary(edge, root_b, inner)
        piece[number], part[number], sound = _search(path, root_a, stays, begin, end, boundary, ahead)
        if not sound:
            return False
        begin = end
    return True


@compiled
def _search(
    path: Tree, root: int, stays: Stays, begin: int, end: int, boundary: _Boundary, ahead: Stack
) -> tuple[int, float, bool]:
    """Return the deepest place of the stays from ``begin`` to ``end``, as a piece and a fraction of it.

    The boxes of the path that may be deepest come first. On the stack stands the bound of the depth in each,
    with its sign turned as the stack has the least on top, and a piece of boundary that may be near.

    Returns
    -------
    piece : int
    part : float
    sound : bool
        False when a distance could not be computed; then the rest means nothing.
    """
    best = _Best(np.full(1, -1.0), np.full(1, -1, np.int64), np.zeros(1), np.ones(1, np.int64))
    pieces, start_m, end_m = len(path.start_m), path.start_m, path.end_m
    low_m, high_m = path.low_m, path.high_m
    top = push(ahead, 0, 0, root, pieces_below(boundary.tree, boundary.root)[0], -math.inf)
    while top > 0 and best.sound[0] != 0:
        top -= 1
        node, near, upper_m = ahead.one[top], ahead.other[top], -ahead.gap[top]
        if upper_m <= best.depth_m[0] + RESOLUTION_M:
            continue
        low, high = pieces_below(path, node)
        stay = _first_stay(stays, begin, end, low)
        if stay == end or stays.first_piece[stay] > high:
            continue
        if node < pieces:
            while stay < end and stays.first_piece[stay] <= node:
                first, last = _parts(stays, stay, node)
                near = _halved(path, node, first, last, boundary, near, best)
                stay += 1
            continue
        # Half way along the box, or where the stay is nearest to there.
        piece = min(max((low + high) // 2, stays.first_piece[stay]), stays.last_piece[stay])
        first, last = _parts(stays, stay, piece)
        _, near = _measured(path, piece, first, boundary, near, best)
        base, tree = top, boundary.tree
        here, there, swell_m = row(tree.start_m, near), row(tree.end_m, near), tree.swell_m[near]
        first_child = path.first_child[node - pieces]
        for child in range(first_child, first_child + path.child_count[node - pieces]):
            if child < pieces:
                bound_m = _greatest_of_piece(row(start_m, child), row(end_m, child), here, there)
            else:
                corner, other = row(low_m, child - pieces), row(high_m, child - pieces)
                _, most_m = curve_apart(corner, other, here, there, swell_m)
                size_m = chord(corner, other)
                # Places are lifted from their chords, which no box is smaller than, to the surface.
                bound_m = greatest_arc(most_m + size_m**2 / (8.0 * _SHORTEST_RADIUS_M))
            # Written so that what is no number drops nothing, and lowers nothing.
            bound_m = bound_m if bound_m < upper_m else upper_m
            if not bound_m <= best.depth_m[0] + RESOLUTION_M:
                top = push(ahead, base, top, child, near, -bound_m)
    piece, part = _arrival(path, stays, begin, end, best)
    return piece, part, best.sound[0] != 0 and best.piece[0] >= 0


@compiled
def _first_stay(stays: Stays, begin: int, end: int, piece: int) -> int:
    """Return the first of some stays that does not end before a piece."""
    low, high = begin, end
    while low < high:
        middle = (low + high) // 2
        if stays.last_piece[middle] < piece:
            low = middle + 1
        else:
            high = middle
    return low


@compiled
def _parts(stays: Stays, stay: int, piece: int) -> tuple[float, float]:
    """Return from where to where a stay is on a piece."""
    first = stays.first[stay] if piece == stays.first_piece[stay] else 0.0
    return first, stays.last[stay] if piece == stays.last_piece[stay] else 1.0


@compiled
def _arrival(path: Tree, stays: Stays, begin: int, end: int, best: _Best) -> tuple[int, float]:
    """Return when the deepest place was come to, where the path then stands still."""
    piece, part = best.piece[0], best.part[0]
    if piece < 0:
        return piece, part
    place = _place(path, piece, part)
    stay = _first_stay(stays, begin, end, piece)
    while stays.last_piece[stay] == piece and part > stays.last[stay]:
        stay += 1
    while chord(_place(path, piece, _parts(stays, stay, piece)[0]), place) == 0.0:
        part = _parts(stays, stay, piece)[0]
        if piece > stays.first_piece[stay]:
            before, before_stay = piece - 1, stay
        elif stay > begin:
            before, before_stay = stays.last_piece[stay - 1], stay - 1
        else:
            break
        left = _parts(stays, before_stay, before)[1]
        if chord(_place(path, before, left), place) > 0.0:
            break
        piece, part, stay = before, left, before_stay
    return piece, part


@compiled
def _place(path: Tree, piece: int, part: float) -> Point:
    """Return a place on the chord of a piece."""
    return between(row(path.start_m, piece), row(path.end_m, piece), part)


@compiled
def _measured(
    path: Tree, piece: int, part: float, boundary: _Boundary, guess: int, best: _Best
) -> tuple[float, int]:
    """Return the depth of a place and the piece of boundary nearest to it; remember the deepest.

    ``guess`` is a piece of boundary that may be near.
    """
    tree = boundary.tree
    point = lifted(_place(path, piece, part))
    # The curve of a piece lies within its swell of its chord.
    here, there = row(tree.start_m, guess), row(tree.end_m, guess)
    bound_m = greatest_arc(off_chord(point, here, there) + tree.swell_m[guess])
    depth_m, near, _ = closest_to_point(point, tree, boundary.root, bound_m, boundary.stack)
    if near < 0 or not math.isfinite(bound_m + depth_m):
        best.sound[0] = 0
        return math.inf, guess
    earlier = depth_m == best.depth_m[0] and (
        piece < best.piece[0] or (piece == best.piece[0] and part < best.part[0])
    )
    if depth_m > best.depth_m[0] or earlier:
        best.depth_m[0], best.piece[0], best.part[0] = depth_m, piece, part
    return depth_m, near


@compiled
def _greatest_of_piece(one: Point, other: Point, start: Point, end: Point) -> float:
    """Return the greatest depth on a piece of the path, from one piece of boundary, at the worse end."""
    sunk_m = (chord(start, end) ** 2 + chord(one, other) ** 2) / (8.0 * _SHORTEST_RADIUS_M)
    far_m = max(off_chord(one, start, end), off_chord(other, start, end))
    return greatest_arc(far_m + _rise(sunk_m, far_m))


@compiled
def _rise(sunk_m: float, far_m: float) -> float:
    """Return how much farther apart two places are, at most, after they are lifted to the surface.

    They rise by no more than ``sunk_m`` together, in directions that are square to the way between them but
    for half the arc, the lean of the normal, and what they rise themselves.
    """
    share = far_m / (2.0 * _SHORTEST_RADIUS_M) + _LEAN + sunk_m / max(far_m, 1e-9)
    return sunk_m * min(share, 1.0)


@compiled
def _halved(
    path: Tree, piece: int, begin_part: float, end_part: float, boundary: _Boundary, near: int, best: _Best
) -> int:
    """Halve what a stay has of a piece while some of it may be deepest; return a piece of boundary near."""
    first, last = np.empty(_HALVINGS), np.empty(_HALVINGS)
    near0, near1 = np.empty(_HALVINGS, np.int64), np.empty(_HALVINGS, np.int64)
    depth0, depth1 = np.empty(_HALVINGS), np.empty(_HALVINGS)
    first[0], last[0] = begin_part, end_part
    depth0[0], near0[0] = _measured(path, piece, first[0], boundary, near, best)
    depth1[0], near1[0] = _measured(path, piece, last[0], boundary, near0[0], best)
    near = near0[0] if depth0[0] >= depth1[0] else near1[0]
    top = 1
    while top > 0 and best.sound[0] != 0:
        top -= 1
        begin, end = _place(path, piece, first[top]), _place(path, piece, last[top])
        length_m = 1.000_01 * greatest_arc(chord(begin, end))
        upper_m = (depth0[top] + depth1[top] + length_m) / 2.0
        if upper_m > best.depth_m[0] + RESOLUTION_M and near0[top] != near1[top]:
            to_far = max(depth0[top], _to_piece(end, boundary.tree, near0[top]))
            to_near = max(depth1[top], _to_piece(begin, boundary.tree, near1[top]))
            if not math.isfinite(to_far + to_near):
                best.sound[0] = 0
            nearer_m = min(to_far, to_near)
            upper_m = min(upper_m, nearer_m + _sag(nearer_m, length_m))
        elif near0[top] == near1[top]:
            deeper_m = max(depth0[top], depth1[top])
            upper_m = min(upper_m, deeper_m + _sag(deeper_m, length_m))
        # A stretch that cannot be halved any more is as deep as its ends.
        if upper_m <= best.depth_m[0] + RESOLUTION_M or top + 2 > _HALVINGS:
            continue
        middle = (first[top] + last[top]) / 2.0
        depth_m, near_middle = _measured(path, piece, middle, boundary, near0[top], best)
        first[top + 1], last[top + 1] = middle, last[top]
        near0[top + 1], near1[top + 1] = near_middle, near1[top]
        depth0[top + 1], depth1[top + 1] = depth_m, depth1[top]
        last[top], near1[top], depth1[top] = middle, near_middle, depth_m
        top += 2
    return near


@compiled
def _to_piece(place: Point, tree: Tree, piece: int) -> float:
    distance_m, _ = nearest_to_point(lifted(place), row(tree.start_m, piece), row(tree.end_m, piece))
    return distance_m


@compiled
def _sag(depth_m: float, length_m: float) -> float:
    """Return how much the distance from a bit of boundary may be greater between the ends of a short stretch.

    On a plane it is nowhere greater. On a sphere the distance ``d`` from a great circle bends down by
    ``tan(d / R) / R`` at the most, which makes ``length**2 / 8`` times that; a tenth is for the ellipsoid.
    """
    angle = min(depth_m / _SHORTEST_RADIUS_M, 1.5)
    return 1.1 * math.tan(angle) / _SHORTEST_RADIUS_M * length_m**2 / 8.0
