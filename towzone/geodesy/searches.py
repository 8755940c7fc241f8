"""Searches over many pairs of owners, compiled: the loops behind `approach`.

Every search returns one of the outcomes below beside its columns; the front raises what is wrong.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt

from towzone.geodesy.compiling import compiled
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.pairs import detour_over, nearest_of_piece, reach_of_piece
from towzone.geodesy.points import Point, between, lifted, lon_lat, row
from towzone.geodesy.tree import (
    Tree,
    box_gap,
    curve_apart,
    greatest_arc,
    last_piece,
    least_arc,
    over_owners,
    piece_gap,
    point_gap,
)
from towzone.geodesy.walks import SLACK_M, Stack, new_stack, push, square_limit

__all__ = [
    "FAR_M",
    "NO_NUMBER",
    "NO_OWNER",
    "SOUND",
    "closest_pairs",
    "near_owners",
    "places_along_curve",
    "reached_pieces",
    "touching_ways",
]

SOUND = 0
NO_NUMBER = 1
"""A distance, or a limit, is no number: compared with another it would pass for far away."""
NO_OWNER = 2
"""An owner that is not there, or one of several pieces where one is allowed."""

FAR_M = 100_000.0
"""Beyond this the bent chord is replaced by the exact geodesic (it would err by more than 0.1 mm)."""

_FEW = 64
"""Rows that a growing column begins with. Own choice."""

_SMALL = 2.0
"""Boxes that are smaller than a piece of the other side by this are compared with its curve. Own choice."""

_AHEAD = 128
"""Enough for a tree of more boxes than there is memory: 11 levels, 8 boxes on each."""

BoolArray = npt.NDArray[np.bool_]


@compiled
def _roots(path: Tree, path_owner: int, edge: Tree, edge_owner: int) -> tuple[int, int, bool]:
    """Return the nodes of two owners, and whether both are there; -1 where one has no pieces."""
    if not (0 <= path_owner < len(path.root) and 0 <= edge_owner < len(edge.root)):
        return -1, -1, False
    return path.root[path_owner], edge.root[edge_owner], True


@compiled
def _start(path: Tree, a: int, edge: Tree, b: int, stack: Stack) -> int:
    if a < 0 or b < 0:
        return 0
    return push(stack, 0, 0, a, b, box_gap(path, a, edge, b))


@compiled
def _open(path: Tree, a: int, edge: Tree, b: int, limit: float, stack: Stack, top: int) -> int:
    """Put the children of the larger of two boxes on the stack, nearest on top; return the new top."""
    base, pieces = top, len(edge.start_m)
    open_path = path.child_count[a] > 0 and (edge.child_count[b] == 0 or path.size_m[a] >= edge.size_m[b])
    tree, node = (path, a) if open_path else (edge, b)
    for child in range(tree.first_child[node], tree.first_child[node] + tree.child_count[node]):
        one, other = (child, b) if open_path else (a, child)
        gap = box_gap(path, one, edge, other)
        # The box of a long piece says less than its curve.
        if gap <= limit and other < pieces and _SMALL * path.size_m[one] < edge.size_m[other]:
            least_m, _ = curve_apart(
                row(path.low_m, one),
                row(path.high_m, one),
                path.size_m[one],
                row(edge.start_m, other),
                row(edge.end_m, other),
                edge.low_m[other, 0],
            )
            gap = max(gap, max(least_m, 0.0) ** 2)
        if gap <= limit:
            top = push(stack, base, top, one, other, gap)
    return top


@compiled
def closest_pairs(
    path: Tree, path_owner: IntArray, edge: Tree, edge_owner: IntArray, cutoff_m: FloatArray
) -> tuple[int, FloatArray, IntArray, IntArray, FloatArray, BoolArray]:
    """Return the closest approach of each pair of owners.

    Returns
    -------
    outcome : int
    distance_m : ndarray, shape (n,)
        By `points.arc`; infinite where nothing is within the cutoff.
    path_piece, edge_piece : ndarray of int, shape (n,)
        -1 where there is nothing.
    places : ndarray, shape (n, 5)
        Part of the path piece; longitude and latitude on the path, and on the boundary.
    far : ndarray of bool, shape (n,)
        Pairs that are to be settled with exact geodesics.
    """
    n = len(path_owner)
    distance_m, places = np.full(n, np.inf), np.full((n, 5), np.nan)
    path_piece, edge_piece = np.full(n, -1, np.int64), np.full(n, -1, np.int64)
    far = np.zeros(n, np.bool_)
    outcome, stack = SOUND, new_stack()
    for pair in range(n):
        root_a, root_b, known = _roots(path, path_owner[pair], edge, edge_owner[pair])
        bound_m = cutoff_m[pair]
        if not known:
            outcome = NO_OWNER
        if math.isnan(bound_m):
            outcome = NO_NUMBER
        if outcome != SOUND:
            break
        limit = square_limit(bound_m)
        best_m, best_a, best_b, best_part, best_second = math.inf, -1, -1, math.nan, math.nan
        top = _start(path, root_a, edge, root_b, stack)
        while top > 0:
            top -= 1
            a, b = stack.one[top], stack.other[top]
            if stack.gap[top] > limit or (best_m == 0.0 and path.first_piece[a] > best_a):
                continue
            if path.child_count[a] > 0 or edge.child_count[b] > 0:
                top = _open(path, a, edge, b, limit, stack, top)
                continue
            a0, a1, b0, b1 = (
                row(path.start_m, a),
                row(path.end_m, a),
                row(edge.start_m, b),
                row(edge.end_m, b),
            )
            apart_m, part, second, _ = nearest_of_piece(a0, a1, b0, b1)
            if not math.isfinite(apart_m):
                return NO_NUMBER, distance_m, path_piece, edge_piece, places, far
            far[pair] |= apart_m > FAR_M
            if apart_m <= bound_m + SLACK_M and (
                apart_m < best_m
                # Of equal ones the earliest on the path wins, so that the order of search leaves no trace.
                or (apart_m == best_m and _earlier(a, part, b, best_a, best_part, best_b))
            ):
                best_m, best_a, best_b, best_part, best_second = apart_m, a, b, part, second
                limit = min(limit, square_limit(apart_m))
        far[pair] &= best_m > FAR_M
        if best_a >= 0:
            on_path = lifted(between(row(path.start_m, best_a), row(path.end_m, best_a), best_part))
            on_edge = lifted(between(row(edge.start_m, best_b), row(edge.end_m, best_b), best_second))
            distance_m[pair], path_piece[pair], edge_piece[pair] = best_m, best_a, best_b
            places[pair, 0] = best_part
            places[pair, 1], places[pair, 2] = lon_lat(on_path)
            places[pair, 3], places[pair, 4] = lon_lat(on_path if best_m == 0.0 else on_edge)
    return outcome, distance_m, path_piece, edge_piece, places, far


@compiled
def _earlier(a: int, part: float, b: int, best_a: int, best_part: float, best_b: int) -> bool:
    if a != best_a:
        return a < best_a
    if part != best_part:
        return part < best_part
    return b < best_b


@compiled
def _longer(rows: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """Return rows with room for as many again."""
    # Loops and plain shapes: a slice that is written, or a shape put together, costs seconds of compiling.
    longer = np.empty((2 * len(rows), rows.shape[1]), rows.dtype)
    for number in range(len(rows)):
        for column in range(rows.shape[1]):
            longer[number, column] = rows[number, column]
    return longer


@compiled
def measured_within(
    path: Tree, path_owner: IntArray, edge: Tree, edge_owner: IntArray, bound_m: FloatArray
) -> tuple[int, IntArray, FloatArray]:
    """Return all pairs of pieces that may be within a bound of each other, measured.

    Returns
    -------
    outcome : int
    pieces : ndarray of int, shape (k, 3)
        Number of the pair of owners, piece of the path, piece of the boundary.
    measured : ndarray, shape (k, 6)
        Distance by `points.arc`, then as ``places`` of `closest_pairs`.
    """
    pieces, measured, count = np.empty((_FEW, 3), np.int64), np.empty((_FEW, 6)), 0
    stack = new_stack()
    for pair in range(len(path_owner)):
        limit = square_limit(bound_m[pair])
        root_a, root_b, _ = _roots(path, path_owner[pair], edge, edge_owner[pair])
        top = _start(path, root_a, edge, root_b, stack)
        while top > 0:
            top -= 1
            a, b = stack.one[top], stack.other[top]
            if stack.gap[top] > limit:
                continue
            if path.child_count[a] > 0 or edge.child_count[b] > 0:
                top = _open(path, a, edge, b, limit, stack, top)
                continue
            a0, a1, b0, b1 = (
                row(path.start_m, a),
                row(path.end_m, a),
                row(edge.start_m, b),
                row(edge.end_m, b),
            )
            apart_m, part, second, _ = nearest_of_piece(a0, a1, b0, b1)
            if not math.isfinite(apart_m):
                return NO_NUMBER, pieces[:0], measured[:0]
            if count == len(pieces):
                pieces, measured = _longer(pieces), _longer(measured)
            pieces[count, 0], pieces[count, 1], pieces[count, 2] = pair, a, b
            measured[count, 0], measured[count, 1] = apart_m, part
            measured[count, 2], measured[count, 3] = lon_lat(lifted(between(a0, a1, part)))
            measured[count, 4], measured[count, 5] = lon_lat(lifted(between(b0, b1, second)))
            count += 1
    return SOUND, pieces[:count], measured[:count]


@compiled
def reached_pieces(
    path: Tree, path_owner: IntArray, edge: Tree, edge_owner: IntArray, limit_m: FloatArray
) -> tuple[int, IntArray, FloatArray]:
    """Return where paths are within a limit of boundaries.

    Returns
    -------
    outcome : int
    pieces : ndarray of int, shape (k, 2)
        Number of the pair of owners, piece of the path; in order.
    parts : ndarray, shape (k, 2)
        First and last fraction of that piece, in order; a piece that is near as a whole is told once.

    Notes
    -----
    Down the tree of the path, each box with those of the boundary that are not proved to be farther than the
    limit from it. A box that is proved to be within the limit of one piece of the boundary is told as a
    whole, so that only the rim of what is near is measured piece by piece.
    """
    # Of each run: pair, first and last piece.
    runs, parts, count = np.empty((_FEW, 3), np.int64), np.empty((_FEW, 2)), 0
    ahead, near, stack = np.empty((_AHEAD, 3), np.int64), np.empty((_FEW, 1), np.int64), new_stack()
    for pair in range(len(path_owner)):
        root_a, root_b, known = _roots(path, path_owner[pair], edge, edge_owner[pair])
        if not known:
            return NO_OWNER, runs[:0, :2], parts[:0]
        if not math.isfinite(limit_m[pair]):
            return NO_NUMBER, runs[:0, :2], parts[:0]
        near[0, 0], top = root_b, 0
        if root_a >= 0 and root_b >= 0:
            ahead[0, 0], ahead[0, 1], ahead[0, 2], top = root_a, 0, 1, 1
        while top > 0:
            top -= 1
            a, low, high = ahead[top, 0], ahead[top, 1], ahead[top, 2]
            box = row(path.low_m, a), row(path.high_m, a), path.size_m[a]
            single = path.child_count[a] == 0
            near, end, whole = _narrowed(box, single, edge, near, low, high, limit_m[pair], stack)
            if whole:
                begin, end = path.first_piece[a], last_piece(path, a)
                runs, parts, count = _with_run(runs, parts, count, pair, begin, end, 0.0, 1.0)
            elif path.child_count[a] > 0 and end > high:
                # The first child on top; what the others have near stays below what it writes.
                for number in range(path.child_count[a]):
                    child = path.first_child[a] + path.child_count[a] - 1 - number
                    ahead[top, 0], ahead[top, 1], ahead[top, 2] = child, high, end
                    top += 1
            else:
                begin = count
                for place in range(high, end):
                    first, last = _reach(path, a, edge, near[place, 0], limit_m[pair])
                    if math.isnan(first) or math.isnan(last):
                        return NO_NUMBER, runs[:0, :2], parts[:0]
                    if first <= 0.0 and last >= 1.0:
                        count = begin
                    if first <= last:
                        runs, parts, count = _with_run(runs, parts, count, pair, a, a, first, last)
                    if first <= 0.0 and last >= 1.0:
                        break
                _sort(parts, begin, count)
    pieces, parts = _piece_by_piece(runs, parts, count)
    return SOUND, pieces, parts


@compiled
def _narrowed(
    box: tuple[Point, Point, float],
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
        Corners of the box of the path, and its diagonal.
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
    low_m, high_m, size_m = box
    for place in range(low, high):
        stack.one[0], top = near[place, 0], 1
        while top > 0:
            top -= 1
            b = stack.one[top]
            if piece_gap(low_m, high_m, 0.0, edge, b) > limit:
                continue
            if edge.child_count[b] > 0:
                if single or edge.size_m[b] >= size_m:
                    for child in range(edge.first_child[b], edge.first_child[b] + edge.child_count[b]):
                        stack.one[top] = child
                        top += 1
                    continue
            else:
                least_m, most_m = curve_apart(
                    low_m, high_m, size_m, row(edge.start_m, b), row(edge.end_m, b), edge.low_m[b, 0]
                )
                if max(least_m, 0.0) ** 2 > limit:
                    continue
                if greatest_arc(most_m) <= limit_m - SLACK_M:
                    return near, end, True
            if end == len(near):
                near = _longer(near)
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
        runs, parts = _longer(runs), _longer(parts)
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
def _piece_by_piece(runs: IntArray, parts: FloatArray, count: int) -> tuple[IntArray, FloatArray]:
    """Return a row for every piece of runs of pieces."""
    total = 0
    for run in range(count):
        total += runs[run, 2] - runs[run, 1] + 1
    pieces, each = np.empty((total, 2), np.int64), np.empty((total, 2))
    at = 0
    for run in range(count):
        for piece in range(runs[run, 1], runs[run, 2] + 1):
            pieces[at, 0], pieces[at, 1] = runs[run, 0], piece
            each[at, 0], each[at, 1] = parts[run, 0], parts[run, 1]
            at += 1
    return pieces, each


@compiled
def _way_gap(path: Tree, a: int, edge: Tree, node: int) -> float:
    """Return what a way from one end of a path piece over a box to its other end is long at the least."""
    there = least_arc(math.sqrt(point_gap(row(path.start_m, a), edge, node)))
    return there + least_arc(math.sqrt(point_gap(row(path.end_m, a), edge, node)))


@compiled
def touching_ways(
    path: Tree, path_owner: IntArray, edge: Tree, edge_owner: IntArray, budget_m: FloatArray, every: bool
) -> tuple[int, IntArray, FloatArray]:
    """Return ways between the two ends of a path, of one piece, that touch a boundary.

    Parameters
    ----------
    every : bool
        Return a row for every piece of the boundary that may be touched within the budget; otherwise one
        for each pair, the shortest.

    Returns
    -------
    outcome : int
    pairs : ndarray of int, shape (k,)
        Number of the pair of owners.
    ways : ndarray, shape (k, 3)
        Length by `points.arc`; longitude and latitude of the place that is touched.
    """
    pairs, ways, count = np.empty((_FEW, 1), np.int64), np.empty((_FEW, 3)), 0
    stack = new_stack()
    for pair in range(len(path_owner)):
        a, root, known = _roots(path, path_owner[pair], edge, edge_owner[pair])
        if not known or a >= len(path.start_m):
            return NO_OWNER, pairs[:0, 0], ways[:0]
        if math.isnan(budget_m[pair]):
            return NO_NUMBER, pairs[:0, 0], ways[:0]
        top, first = 0, count
        bound_m = budget_m[pair] + SLACK_M
        if a >= 0 and root >= 0:
            top = push(stack, 0, 0, a, root, _way_gap(path, a, edge, root))
        while top > 0:
            top -= 1
            node = stack.other[top]
            if stack.gap[top] > bound_m:
                continue
            if edge.child_count[node] > 0:
                base = top
                for child in range(edge.first_child[node], edge.first_child[node] + edge.child_count[node]):
                    gap = _way_gap(path, a, edge, child)
                    if gap <= bound_m:
                        top = push(stack, base, top, a, child, gap)
                continue
            p, q = row(path.start_m, a), row(path.end_m, a)
            way_m, touch = detour_over(p, q, row(edge.start_m, node), row(edge.end_m, node))
            if not math.isfinite(way_m):
                return NO_NUMBER, pairs[:0, 0], ways[:0]
            if every or count == first or way_m < ways[first, 0]:
                place = count if every else first
                if place == len(pairs):
                    pairs, ways = _longer(pairs), _longer(ways)
                pairs[place, 0], ways[place, 0] = pair, way_m
                ways[place, 1], ways[place, 2] = lon_lat(touch)
                count = place + 1
            if not every:
                bound_m = min(bound_m, way_m + 2.0 * SLACK_M)
    return SOUND, pairs[:count, 0], ways[:count]


@compiled
def near_owners(
    path: Tree, path_order: IntArray, edge: Tree, edge_order: IntArray, cutoff_m: FloatArray
) -> tuple[int, IntArray]:
    """Return the pairs of owners that may come within a cutoff of each other.

    Parameters
    ----------
    path_order, edge_order : ndarray of int
        The owners with pieces; those that follow each other should lie close together.
    cutoff_m : ndarray, shape (edge owners,)

    Returns
    -------
    outcome : int
    owners : ndarray of int, shape (k, 2)
        Of the path and of the boundary, in no order.
    """
    found, count = np.empty((_FEW, 2), np.int64), 0
    above_a, above_b = over_owners(path, path_order), over_owners(edge, edge_order)
    most_m = _greatest_below(above_b, edge_order, cutoff_m)
    outer, inner = new_stack(), new_stack()
    top = _start(above_a, above_a.root[0], above_b, above_b.root[0], outer)
    while top > 0:
        top -= 1
        a, b = outer.one[top], outer.other[top]
        if math.isnan(most_m[b]):
            return NO_NUMBER, found[:0]
        if outer.gap[top] > square_limit(most_m[b]):
            continue
        if above_a.child_count[a] > 0 or above_b.child_count[b] > 0:
            top = _open(above_a, a, above_b, b, math.inf, outer, top)
            continue
        owner_a, owner_b = path_order[a], edge_order[b]
        if _any_near(path, path.root[owner_a], edge, edge.root[owner_b], most_m[b], inner):
            if count == len(found):
                found = _longer(found)
            found[count, 0], found[count, 1] = owner_a, owner_b
            count += 1
    return SOUND, found[:count]


@compiled
def _greatest_below(above: Tree, order: IntArray, cutoff_m: FloatArray) -> FloatArray:
    """Return for each node the greatest cutoff of the owners below it; NaN where one is no number."""
    most_m = np.empty(len(above.size_m))
    for node in range(len(most_m)):
        if node < len(order):
            most_m[node] = cutoff_m[order[node]]
            continue
        first = above.first_child[node]
        most_m[node] = most_m[first]
        for child in range(first + 1, first + above.child_count[node]):
            if most_m[child] > most_m[node] or math.isnan(most_m[child]):
                most_m[node] = most_m[child]
    return most_m


@compiled
def _any_near(path: Tree, root_a: int, edge: Tree, root_b: int, cutoff_m: float, stack: Stack) -> bool:
    """Return whether the boxes of any two pieces below two nodes are within a cutoff."""
    limit = square_limit(cutoff_m)
    top = _start(path, root_a, edge, root_b, stack)
    while top > 0:
        top -= 1
        a, b = stack.one[top], stack.other[top]
        if stack.gap[top] > limit:
            continue
        if path.child_count[a] == 0 and edge.child_count[b] == 0:
            return True
        top = _open(path, a, edge, b, limit, stack, top)
    return False


@compiled
def places_along_curve(tree: Tree, owner: IntArray) -> IntArray:
    """Return for each owner the place of its box along a curve that fills space (bits of x, y, z in turn).

    Neighbours along such a curve lie close together; nothing but speed depends on it. After Morton (1966),
    A computer oriented geodetic data base and a new technique in file sequencing.
    """
    places = np.zeros(len(owner), np.int64)
    for number in range(len(owner)):
        node = tree.root[owner[number]]
        for axis in range(3):
            middle_m = (tree.low_m[node, axis] + tree.high_m[node, axis]) / 2.0
            # 2 km steps over 16 000 km: 13 bits an axis.
            step = int(min(max((middle_m + 8_000_000.0) / 2_000.0, 0.0), 8_191.0))
            for bit in range(13):
                places[number] |= ((step >> bit) & 1) << (3 * bit + axis)
    return places
