"""Compiled: the search for the deepest point of `towzone.geodesy.depth`, which explains its bounds."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from towzone.geodesy.compiling import compiled
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.pairs import nearest_to_point
from towzone.geodesy.points import Point, between, chord, lifted, row
from towzone.geodesy.tree import Tree, greatest_arc
from towzone.geodesy.walks import Stack, closest_to_point, new_stack

__all__ = ["RESOLUTION_M", "Stretches", "search_each"]

RESOLUTION_M = 0.002
"""Own choice: the search stops when nothing can be deeper by more than this."""

_BLOCK = 128
"""Own choice: consecutive stretches looked at as one before any of them is looked at alone."""

_SHORTEST_RADIUS_M = 6_335_000.0
"""Below every radius of curvature of WGS 84: the smallest is a(1 - e**2) = 6 335 439 m."""

_LEAN = 0.0034
"""Sine of the greatest angle between the normal of the ellipsoid and the way from its middle (11.55')."""

_HALVINGS = 64
"""More than a stretch can be halved before its length is below any resolution."""


class Stretches(NamedTuple):
    """Stretches of a path: pieces, and the fractions of them where each begins and ends.

    Parameters
    ----------
    start_m, end_m : ndarray, shape (pieces, 3)
        Ends of all pieces of the path, geocentric metres.
    piece, first, last : ndarray, shape (k,)
    """

    start_m: FloatArray
    end_m: FloatArray
    piece: IntArray
    first: FloatArray
    last: FloatArray


class _Boundary(NamedTuple):
    tree: Tree
    root: int
    stack: Stack


class _Best(NamedTuple):
    """The deepest place found so far: depth, stretch and fraction of its piece, in columns of one row.

    ``sound`` is 0 as soon as a distance could not be computed.
    """

    depth_m: FloatArray
    stretch: IntArray
    part: FloatArray
    sound: IntArray


@compiled
def search_each(
    path: Stretches,
    counts: IntArray,
    tree: Tree,
    owner: IntArray,
    stretch: IntArray,
    part: FloatArray,
) -> bool:
    """Write the deepest places of sets of stretches that follow each other, each in an area of its own.

    Parameters
    ----------
    counts : ndarray of int, shape (m,)
        How many stretches each has, at least one.
    owner : ndarray of int, shape (m,)
        The area of each, by the owner of its boundary.
    stretch, part : ndarray, shape (m,)
        Are written: the number among all stretches, and the fraction of the piece.

    Returns
    -------
    sound : bool
        False when a distance could not be computed, or a boundary is not there.
    """
    begin = 0
    for number in range(len(counts)):
        end = begin + counts[number]
        some = Stretches(
            path.start_m, path.end_m, path.piece[begin:end], path.first[begin:end], path.last[begin:end]
        )
        root = tree.root[owner[number]]
        if root < 0:
            return False
        place, part[number], sound = _search(some, tree, root)
        stretch[number] = begin + place
        if not sound:
            return False
        begin = end
    return True


@compiled
def _search(path: Stretches, tree: Tree, root: int) -> tuple[int, float, bool]:
    """Return the deepest place, as the number of its stretch and the fraction of the piece.

    Where the path stands still there, it is told when it came.

    Returns
    -------
    stretch : int
    part : float
    sound : bool
        False when a distance could not be computed; then the rest means nothing.
    """
    boundary = _Boundary(tree, root, new_stack())
    best = _Best(np.full(1, -1.0), np.zeros(1, np.int64), np.full(1, path.first[0]), np.ones(1, np.int64))
    count = len(path.piece)
    blocks = (count + _BLOCK - 1) // _BLOCK
    upper_m, near = np.empty(blocks), np.zeros(blocks, np.int64)
    for block in range(blocks):
        low, high = block * _BLOCK, min((block + 1) * _BLOCK, count)
        middle = (low + high) // 2
        guess = near[block - 1] if block > 0 else tree.first_piece[root]
        depth_m, near[block] = _measured(path, middle, path.first[middle], boundary, guess, best)
        # With the stretch in the middle on both sides: the path may jump to where it begins.
        before_m, after_m = _walked(path, low, middle + 1), _walked(path, middle, high)
        upper_m[block] = depth_m + max(before_m, after_m)
    while best.sound[0] != 0:
        block = _greatest(upper_m)
        if not upper_m[block] > best.depth_m[0] + RESOLUTION_M:
            break
        upper_m[block] = -1.0
        low, high = block * _BLOCK, min((block + 1) * _BLOCK, count)
        _look_into(path, low, high, boundary, near[block], best)
    stretch, part = _arrival(path, best.stretch[0], best.part[0])
    return stretch, part, best.sound[0] != 0


@compiled
def _arrival(path: Stretches, stretch: int, part: float) -> tuple[int, float]:
    """Return when a place was come to, where the path then stands still: as a stretch and a fraction."""
    place = _place(path, stretch, part)
    while chord(_place(path, stretch, path.first[stretch]), place) == 0.0:
        part = path.first[stretch]
        if stretch == 0 or chord(_place(path, stretch - 1, path.last[stretch - 1]), place) > 0.0:
            break
        stretch, part = stretch - 1, path.last[stretch - 1]
    return stretch, part


@compiled
def _greatest(values: FloatArray) -> int:
    """Return the place of the greatest value, the first of equal ones."""
    place = 0
    for number in range(1, len(values)):
        if values[number] > values[place]:
            place = number
    return place


@compiled
def _place(path: Stretches, stretch: int, part: float) -> Point:
    """Return a place on the chord of a stretch's piece."""
    piece = path.piece[stretch]
    return between(row(path.start_m, piece), row(path.end_m, piece), part)


@compiled
def _measured(
    path: Stretches, stretch: int, part: float, boundary: _Boundary, guess: int, best: _Best
) -> tuple[float, int]:
    """Return the depth of a place and the piece of boundary nearest to it; remember the deepest.

    ``guess`` is a piece of boundary that may be near.
    """
    tree = boundary.tree
    point = lifted(_place(path, stretch, part))
    bound_m, _ = nearest_to_point(point, row(tree.start_m, guess), row(tree.end_m, guess))
    depth_m, near, _ = closest_to_point(point, tree, boundary.root, bound_m, boundary.stack)
    if near < 0 or not math.isfinite(bound_m + depth_m):
        best.sound[0] = 0
        return math.inf, guess
    earlier = depth_m == best.depth_m[0] and (
        stretch < best.stretch[0] or (stretch == best.stretch[0] and part < best.part[0])
    )
    if depth_m > best.depth_m[0] or earlier:
        best.depth_m[0], best.stretch[0], best.part[0] = depth_m, stretch, part
    return depth_m, near


@compiled
def _walked(path: Stretches, low: int, high: int) -> float:
    """Return how far a walk over some stretches is at most, jumps from one to the next included."""
    walked_m = 0.0
    for stretch in range(low, high):
        begin = _place(path, stretch, path.first[stretch])
        end = _place(path, stretch, path.last[stretch])
        walked_m += greatest_arc(chord(begin, end))
        if stretch + 1 < high:
            walked_m += greatest_arc(chord(end, _place(path, stretch + 1, path.first[stretch + 1])))
    # Places on chords are lifted to the surface, farther apart by less than a millionth (20 km long).
    return 1.000_01 * walked_m


@compiled
def _look_into(path: Stretches, low: int, high: int, boundary: _Boundary, near: int, best: _Best) -> None:
    """Look at the stretches of a block, those first that may be the deepest."""
    upper_m = np.full(high - low, np.inf)
    _lower(path, low, upper_m, boundary.tree, near)
    while best.sound[0] != 0:
        stretch = _greatest(upper_m)
        if not upper_m[stretch] > best.depth_m[0] + RESOLUTION_M:
            return
        upper_m[stretch] = -1.0
        near = _halved(path, low + stretch, boundary, near, best)
        _lower(path, low, upper_m, boundary.tree, near)


@compiled
def _lower(path: Stretches, low: int, upper_m: FloatArray, tree: Tree, near: int) -> None:
    """Lower the bounds of depths to the distance from one piece of boundary, at the worse end of each."""
    start, end = row(tree.start_m, near), row(tree.end_m, near)
    along = (end[0] - start[0], end[1] - start[1], end[2] - start[2])
    square = along[0] ** 2 + along[1] ** 2 + along[2] ** 2
    for number in range(len(upper_m)):
        stretch = low + number
        if upper_m[number] < 0.0:
            continue
        one, other = row(path.start_m, path.piece[stretch]), row(path.end_m, path.piece[stretch])
        sunk_m = (square + chord(one, other) ** 2) / (8.0 * _SHORTEST_RADIUS_M)
        far_m = max(
            _off(between(one, other, path.first[stretch]), start, along, square),
            _off(between(one, other, path.last[stretch]), start, along, square),
        )
        # Written so that what is no number lowers nothing.
        bound_m = greatest_arc(far_m + _rise(sunk_m, far_m))
        if bound_m < upper_m[number]:
            upper_m[number] = bound_m


@compiled
def _off(point: Point, start: Point, along: Point, square: float) -> float:
    """Return the straight distance between a point and a chord."""
    x, y, z = point[0] - start[0], point[1] - start[1], point[2] - start[2]
    part = 0.0
    if square > 0.0:
        part = min(max((x * along[0] + y * along[1] + z * along[2]) / square, 0.0), 1.0)
    x, y, z = x - part * along[0], y - part * along[1], z - part * along[2]
    return math.sqrt(x**2 + y**2 + z**2)


@compiled
def _rise(sunk_m: float, far_m: float) -> float:
    """Return how much farther apart two places are, at most, after they are lifted to the surface.

    They rise by no more than ``sunk_m`` together, in directions that are square to the way between them but
    for half the arc, the lean of the normal, and what they rise themselves.
    """
    share = far_m / (2.0 * _SHORTEST_RADIUS_M) + _LEAN + sunk_m / max(far_m, 1e-9)
    return sunk_m * min(share, 1.0)


@compiled
def _halved(path: Stretches, stretch: int, boundary: _Boundary, near: int, best: _Best) -> int:
    """Halve one stretch as long as some of it may be the deepest; return a piece of boundary near it."""
    first, last = np.empty(_HALVINGS), np.empty(_HALVINGS)
    near0, near1 = np.empty(_HALVINGS, np.int64), np.empty(_HALVINGS, np.int64)
    depth0, depth1 = np.empty(_HALVINGS), np.empty(_HALVINGS)
    first[0], last[0] = path.first[stretch], path.last[stretch]
    depth0[0], near0[0] = _measured(path, stretch, first[0], boundary, near, best)
    depth1[0], near1[0] = _measured(path, stretch, last[0], boundary, near0[0], best)
    near = near0[0] if depth0[0] >= depth1[0] else near1[0]
    top = 1
    while top > 0 and best.sound[0] != 0:
        top -= 1
        begin, end = _place(path, stretch, first[top]), _place(path, stretch, last[top])
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
        depth_m, near_middle = _measured(path, stretch, middle, boundary, near0[top], best)
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
