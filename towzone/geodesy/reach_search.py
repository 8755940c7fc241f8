"""The search for where paths are within a limit of boundaries, compiled: behind `approach.reaches`."""

from __future__ import annotations

import math

import numpy as np

from towzone.geodesy.compiling import compiled
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.pairs import reach_of_piece
from towzone.geodesy.points import Point, chord, row
from towzone.geodesy.searches import FEW, NO_NUMBER, NO_OWNER, SOUND, longer, roots
from towzone.geodesy.tree import Tree, apart, around, curve_apart, greatest_arc, pieces_below
from towzone.geodesy.walks import SLACK_M, Stack, new_stack, square_limit

__all__ = ["reached_runs"]

_AHEAD = 128
"""Enough for a tree of more boxes than there is memory: 11 levels, 8 boxes on each."""


@compiled
def reached_runs(
    path: Tree, path_owner: IntArray, edge: Tree, edge_owner: IntArray, limit_m: FloatArray
) -> tuple[int, IntArray, FloatArray]:
    """Return where paths are within a limit of boundaries.

    Returns
    -------
    outcome : int
    runs : ndarray of int, shape (k, 3)
        Number of the pair of owners, first and last piece of the path; in order.
    parts : ndarray, shape (k, 2)
        Fraction of the first piece where it begins and of the last where it ends, in order. Pieces that
        follow each other and are near as a whole are told as one run.

    Notes
    -----
    Down the tree of the path, each box with those of the boundary that are not proved to be farther than the
    limit from it. A box that is proved to be within the limit of one piece of the boundary is told as a
    whole, so that only the rim of what is near is measured piece by piece.
    """
    # Of each run: pair, first and last piece.
    runs, parts, count = np.empty((FEW, 3), np.int64), np.empty((FEW, 2)), 0
    pieces, low_m, high_m = len(path.start_m), path.low_m, path.high_m
    start_m, end_m, swell_m = path.start_m, path.end_m, path.swell_m
    ahead, near, stack = np.empty((_AHEAD, 3), np.int64), np.empty((FEW, 1), np.int64), new_stack()
    for pair in range(len(path_owner)):
        root_a, root_b, known = roots(path, path_owner[pair], edge, edge_owner[pair])
        if not known:
            return NO_OWNER, runs[:0], parts[:0]
        if not math.isfinite(limit_m[pair]):
            return NO_NUMBER, runs[:0], parts[:0]
        near[0, 0], top = root_b, 0
        if root_a >= 0 and root_b >= 0:
            ahead[0, 0], ahead[0, 1], ahead[0, 2], top = root_a, 0, 1, 1
        while top > 0:
            top -= 1
            a, low, high = ahead[top, 0], ahead[top, 1], ahead[top, 2]
            single = a < pieces
            if single:
                box = around(row(start_m, a), row(end_m, a), swell_m[a])
            else:
                box = row(low_m, a - pieces), row(high_m, a - pieces)
            near, end, whole = _narrowed(box, single, edge, near, low, high, limit_m[pair], stack)
            if whole:
                begin, end = pieces_below(path, a)
                runs, parts, count = _with_run(runs, parts, count, pair, begin, end, 0.0, 1.0)
                count = _lengthened(runs, parts, count - 1, count)
            elif not single and end > high:
                # The first child on top; what the others have near stays below what it writes.
                first_child, children = path.first_child[a - pieces], path.child_count[a - pieces]
                for number in range(children):
                    child = first_child + children - 1 - number
                    ahead[top, 0], ahead[top, 1], ahead[top, 2] = child, high, end
                    top += 1
            else:
                begin = count
                for place in range(high, end):
                    first, last = _reach(path, a, edge, near[place, 0], limit_m[pair])
                    if math.isnan(first) or math.isnan(last):
                        return NO_NUMBER, runs[:0], parts[:0]
                    if first <= 0.0 and last >= 1.0:
                        count = begin
                    if first <= last:
                        runs, parts, count = _with_run(runs, parts, count, pair, a, a, first, last)
                    if first <= 0.0 and last >= 1.0:
                        break
                _sort(parts, begin, count)
                count = _lengthened(runs, parts, begin, count)
    return SOUND, runs[:count], parts[:count]


@compiled
def _narrowed(
    box: tuple[Point, Point],
    single: bool,
    edge: Tree,
    near: IntArray,
    low: int,
    high: int,
    limit_m: float,
    stack: Stack,
) -> tuple[IntArray, int, bool]:
    """Write those boxes of some that are not proved to be farther than a limit from a box of the path.

    Boxes of the boundary that are larger than that of the path, and all for a single piece, are opened.

    Parameters
    ----------
    box
        Corners of the box of the path.
    single : bool
        Whether it is that of a single piece.
    near : ndarray of int, shape (n, 1)
        Those to be looked at from ``low`` to ``high``; from there on it is written.

    Returns
    -------
    near : ndarray of int
        The same, or a longer one.
    end : int
        After the last that was written.
    whole : bool
        Whether all in the box of the path is proved to be within the limit.
    """
    limit, end = square_limit(limit_m), high
    low_m, high_m = box
    size_m, pieces = chord(low_m, high_m), len(edge.start_m)
    start_m, end_m, swell_m = edge.start_m, edge.end_m, edge.swell_m
    box_low_m, box_high_m = edge.low_m, edge.high_m
    for place in range(low, high):
        stack.one[0], top = near[place, 0], 1
        while top > 0:
            top -= 1
            b = stack.one[top]
            if b < pieces:
                box_low, box_high = around(row(start_m, b), row(end_m, b), swell_m[b])
            else:
                box_low, box_high = row(box_low_m, b - pieces), row(box_high_m, b - pieces)
            if apart(low_m, high_m, box_low, box_high) > limit:
                continue
            if b >= pieces:
                if single or chord(box_low, box_high) >= size_m:
                    first = edge.first_child[b - pieces]
                    for child in range(first, first + edge.child_count[b - pieces]):
                        stack.one[top] = child
                        top += 1
                    continue
            else:
                one, other = row(start_m, b), row(end_m, b)
                least_m, most_m = curve_apart(low_m, high_m, one, other, swell_m[b])
                if max(least_m, 0.0) ** 2 > limit:
                    continue
                if greatest_arc(most_m) <= limit_m - SLACK_M:
                    return near, end, True
            if end == len(near):
                near = longer(near)
            near[end, 0] = b
            end += 1
    return near, end, False


@compiled
def _reach(path: Tree, a: int, edge: Tree, b: int, limit_m: float) -> tuple[float, float]:
    a0, a1 = row(path.start_m, a), row(path.end_m, a)
    return reach_of_piece(a0, a1, row(edge.start_m, b), row(edge.end_m, b), limit_m)


@compiled
def _with_run(
    runs: IntArray,
    parts: FloatArray,
    count: int,
    pair: int,
    begin: int,
    end: int,
    first: float,
    last: float,
) -> tuple[IntArray, FloatArray, int]:
    """Return rows with one more, from a piece to another, and how many there are."""
    if count == len(runs):
        runs, parts = longer(runs), longer(parts)
    runs[count, 0], runs[count, 1], runs[count, 2] = pair, begin, end
    parts[count, 0], parts[count, 1] = first, last
    return runs, parts, count + 1


@compiled
def _sort(parts: FloatArray, begin: int, end: int) -> None:
    """Put a few rows of fractions in order."""
    for one in range(begin + 1, end):
        first, last, place = parts[one, 0], parts[one, 1], one
        while place > begin and (
            parts[place - 1, 0] > first or (parts[place - 1, 0] == first and parts[place - 1, 1] > last)
        ):
            parts[place, 0], parts[place, 1] = parts[place - 1, 0], parts[place - 1, 1]
            place -= 1
        parts[place, 0], parts[place, 1] = first, last


@compiled
def _lengthened(runs: IntArray, parts: FloatArray, last: int, count: int) -> int:
    """Let the last run but one go on over the last, if that is near as a whole from where the other ends."""
    if count - last != 1 or last == 0 or parts[last, 0] > 0.0 or parts[last - 1, 1] < 1.0:
        return count
    if runs[last - 1, 0] != runs[last, 0] or runs[last - 1, 2] + 1 != runs[last, 1]:
        return count
    runs[last - 1, 2], parts[last - 1, 1] = runs[last, 2], parts[last, 1]
    return last
