"""What searches that walk trees of boxes share, compiled, and the search for what is nearest to one point.

A search keeps a stack of boxes still to be looked at, the nearest on top. A box is dropped only when it is
proved to be farther than the limit or the best so far. Gaps between boxes are straight and squared, and are
compared with the longest chord that a way as long as the limit can have (`tree.greatest_chord`).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from towzone.geodesy.compiling import compiled
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.pairs import nearest_to_point
from towzone.geodesy.points import Point, row
from towzone.geodesy.tree import Tree, apart, curve_gap, greatest_chord

__all__ = [
    "SLACK_M",
    "Stack",
    "closest_to_point",
    "new_stack",
    "push",
    "square_limit",
]

SLACK_M = 0.002
"""Kept beside the best so far: chords rank pairs like arcs only to a fraction of a millimetre."""

_DEPTH = 256
"""Enough for two trees of more boxes than there is memory: 11 levels each, 7 left behind on every one."""


class Stack(NamedTuple):
    """Boxes of two trees still to be looked at and the squares of their gaps; to be used again and again."""

    one: IntArray
    other: IntArray
    gap: FloatArray


@compiled
def new_stack() -> Stack:
    """Return an empty stack, deep enough for every search of this module."""
    return Stack(np.empty(_DEPTH, np.int64), np.empty(_DEPTH, np.int64), np.empty(_DEPTH))


@compiled
def square_limit(bound_m: float) -> float:
    """Return the square of the longest gap that a box may have to be looked at, -1 if there is none."""
    return greatest_chord(bound_m + SLACK_M) ** 2 if bound_m + SLACK_M >= 0.0 else -1.0


@compiled
def push(stack: Stack, base: int, top: int, one: int, other: int, gap: float) -> int:
    """Put boxes on a stack, below the nearer ones above ``base``; return the new top."""
    place = top
    while place > base and stack.gap[place - 1] <= gap:
        stack.one[place], stack.other[place] = stack.one[place - 1], stack.other[place - 1]
        stack.gap[place] = stack.gap[place - 1]
        place -= 1
    stack.one[place], stack.other[place], stack.gap[place] = one, other, gap
    return top + 1


@compiled
def closest_to_point(
    point: Point, tree: Tree, root: int, bound_m: float, stack: Stack
) -> tuple[float, int, float]:
    """Return the piece below a node that is nearest to a point.

    Parameters
    ----------
    root : int
        A node, such as ``tree.root[owner]``; -1 for none.
    bound_m : float
        Pieces farther than this are not looked for; may be infinite. Not NaN.

    Returns
    -------
    distance_m : float
        By `points.arc`: under 0.1 mm off to 40 km, 5 mm to 200 km. Infinite where nothing is within the
        bound; NaN when a distance could not be computed, which no caller may overlook.
    piece : int
        The earliest of equally near ones, -1 for none.
    part : float
        The fraction along it.
    """
    best_m, best, best_part = math.inf, -1, math.nan
    limit, pieces = square_limit(bound_m), len(tree.start_m)
    start_m, end_m, swell_m = tree.start_m, tree.end_m, tree.swell_m
    low_m, high_m = tree.low_m, tree.high_m
    top = push(stack, 0, 0, 0, root, 0.0) if root >= 0 else 0
    while top > 0:
        top -= 1
        if stack.gap[top] > limit:
            continue
        node = stack.other[top]
        if node >= pieces:
            base, first = top, tree.first_child[node - pieces]
            for child in range(first, first + tree.child_count[node - pieces]):
                if child < pieces:
                    # The box of a piece says less than its curve.
                    gap = curve_gap(point, row(start_m, child), row(end_m, child), swell_m[child])
                else:
                    gap = apart(point, point, row(low_m, child - pieces), row(high_m, child - pieces))
                if not gap > limit:
                    top = push(stack, base, top, 0, child, gap)
            continue
        distance_m, part = nearest_to_point(point, row(start_m, node), row(end_m, node))
        if not math.isfinite(distance_m):
            return math.nan, node, math.nan
        if distance_m <= bound_m + SLACK_M and (
            distance_m < best_m or (distance_m == best_m and node < best)
        ):
            best_m, best, best_part = distance_m, node, part
            limit = min(limit, square_limit(distance_m))
    return best_m, best, best_part
