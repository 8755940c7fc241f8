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
from towzone.geodesy.pairs import detour_over, nearest_of_piece
from towzone.geodesy.points import Point, between, lifted, lon_lat, row
from towzone.geodesy.tree import (
    Tree,
    apart,
    around,
    corners,
    curve_apart,
    least_arc,
    over_owners,
    pieces_below,
)
from towzone.geodesy.walks import SLACK_M, Stack, new_stack, push, square_limit

__all__ = [
    "FAR_M",
    "FEW",
    "NO_NUMBER",
    "NO_OWNER",
    "SOUND",
    "closest_pairs",
    "longer",
    "near_owners",
    "places_along_curve",
    "roots",
    "touching_ways",
]

SOUND = 0
NO_NUMBER = 1
"""A distance, or a limit, is no number: compared with another it would pass for far away."""
NO_OWNER = 2
"""An owner that is not there, or one of several pieces where one is allowed."""

FAR_M = 100_000.0
"""Beyond this the bent chord is replaced by the exact geodesic (it would err by more than 0.1 mm)."""

FEW = 64
"""Rows that a growing column begins with. Own choice."""

_SMALL = 2.0
"""Boxes that are smaller than a piece of the other side by this are compared with its curve. Own choice."""

BoolArray = npt.NDArray[np.bool_]


@compiled
def roots(path: Tree, path_owner: int, edge: Tree, edge_owner: int) -> tuple[int, int, bool]:
    """Return the nodes of two owners, and whether both are there; -1 where one has no pieces."""
    if not (0 <= path_owner < len(path.root) and 0 <= edge_owner < len(edge.root)):
        return -1, -1, False
    return path.root[path_owner], edge.root[edge_owner], True


@compiled
def _start(path: Tree, a: int, edge: Tree, b: int, stack: Stack) -> int:
    if a < 0 or b < 0:
        return 0
    (low, high), (edge_low, edge_high) = corners(path, a), corners(edge, b)
    return push(stack, 0, 0, a, b, apart(low, high, edge_low, edge_high))


@compiled
def _square(low: Point, high: Point) -> float:
    """Return the square of the diagonal of a box."""
    return (high[0] - low[0]) ** 2 + (high[1] - low[1]) ** 2 + (high[2] - low[2]) ** 2


@compiled
def _much_smaller(low: Point, high: Point, other_low: Point, other_high: Point) -> bool:
    return _SMALL**2 * _square(low, high) < _square(other_low, other_high)


@compiled
def _open(path: Tree, a: int, edge: Tree, b: int, curved: bool, limit: float, stack: Stack, top: int) -> int:
    """Put the children of the larger of two boxes on the stack, nearest on top; return the new top.

    ``curved`` is whether pieces of the boundary are curves, and not boxes from corner to corner.
    """
    base, box_a, box_b = top, a - len(path.start_m), b - len(edge.start_m)
    low_m, high_m, edge_low_m, edge_high_m = path.low_m, path.high_m, edge.low_m, edge.high_m
    start_m, end_m, swell_m = path.start_m, path.end_m, path.swell_m
    edge_start_m, edge_end_m, edge_swell_m = edge.start_m, edge.end_m, edge.swell_m
    if box_a >= 0:
        low, high = row(low_m, box_a), row(high_m, box_a)
    else:
        low, high = around(row(start_m, a), row(end_m, a), swell_m[a])
    if box_b >= 0:
        edge_low, edge_high = row(edge_low_m, box_b), row(edge_high_m, box_b)
    else:
        edge_low, edge_high = around(row(edge_start_m, b), row(edge_end_m, b), edge_swell_m[b])
    open_path = box_a >= 0 and (box_b < 0 or _square(low, high) >= _square(edge_low, edge_high))
    first = path.first_child[box_a] if open_path else edge.first_child[box_b]
    after = first + (path.child_count[box_a] if open_path else edge.child_count[box_b])
    one, other = a, b
    for child in range(first, after):
        if open_path:
            one, box_a = child, child - len(start_m)
            if box_a >= 0:
                low, high = row(low_m, box_a), row(high_m, box_a)
            else:
                low, high = around(row(start_m, child), row(end_m, child), swell_m[child])
        else:
            other, box_b = child, child - len(edge_start_m)
            if box_b >= 0:
                edge_low, edge_high = row(edge_low_m, box_b), row(edge_high_m, box_b)
            else:
                edge_low, edge_high = around(
                    row(edge_start_m, child), row(edge_end_m, child), edge_swell_m[child]
                )
        gap = apart(low, high, edge_low, edge_high)
        # The box of a long piece says less than its curve.
        if box_b < 0 and curved and not gap > limit and _much_smaller(low, high, edge_low, edge_high):
            start, end = row(edge_start_m, other), row(edge_end_m, other)
            least_m, _ = curve_apart(low, high, start, end, edge_swell_m[other])
            gap = max(gap, max(least_m, 0.0) ** 2)
        # Asked the way round that keeps what is no number: its distance is refused, where it is measured.
        if not gap > limit:
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
        root_a, root_b, known = roots(path, path_owner[pair], edge, edge_owner[pair])
        bound_m = cutoff_m[pair]
        if not known:
            outcome = NO_OWNER
        if math.isnan(bound_m):
            outcome = NO_NUMBER
        if outcome != SOUND:
            break
        limit, pieces_a, pieces_b = square_limit(bound_m), len(path.start_m), len(edge.start_m)
        best_m, best_a, best_b, best_part, best_second = math.inf, -1, -1, math.nan, math.nan
        top = _start(path, root_a, edge, root_b, stack)
        while top > 0:
            top -= 1
            a, b = stack.one[top], stack.other[top]
            if stack.gap[top] > limit or (best_m == 0.0 and pieces_below(path, a)[0] > best_a):
                continue
            if a >= pieces_a or b >= pieces_b:
                top = _open(path, a, edge, b, True, limit, stack, top)
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
def longer(rows: npt.NDArray[Any]) -> npt.NDArray[Any]:
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
    pieces, measured, count = np.empty((FEW, 3), np.int64), np.empty((FEW, 6)), 0
    pieces_a, pieces_b = len(path.start_m), len(edge.start_m)
    stack = new_stack()
    for pair in range(len(path_owner)):
        limit = square_limit(bound_m[pair])
        root_a, root_b, _ = roots(path, path_owner[pair], edge, edge_owner[pair])
        top = _start(path, root_a, edge, root_b, stack)
        while top > 0:
            top -= 1
            a, b = stack.one[top], stack.other[top]
            if stack.gap[top] > limit:
                continue
            if a >= pieces_a or b >= pieces_b:
                top = _open(path, a, edge, b, True, limit, stack, top)
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
                pieces, measured = longer(pieces), longer(measured)
            pieces[count, 0], pieces[count, 1], pieces[count, 2] = pair, a, b
            measured[count, 0], measured[count, 1] = apart_m, part
            measured[count, 2], measured[count, 3] = lon_lat(lifted(between(a0, a1, part)))
            measured[count, 4], measured[count, 5] = lon_lat(lifted(between(b0, b1, second)))
            count += 1
    return SOUND, pieces[:count], measured[:count]


@compiled
def _way_gap(p: Point, q: Point, low: Point, high: Point) -> float:
    """Return what a way from one point over a box to another is long at the least."""
    return least_arc(math.sqrt(apart(p, p, low, high))) + least_arc(math.sqrt(apart(q, q, low, high)))


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
    pairs, ways, count = np.empty((FEW, 1), np.int64), np.empty((FEW, 3)), 0
    stack, pieces = new_stack(), len(edge.start_m)
    start_m, end_m, swell_m, low_m, high_m = edge.start_m, edge.end_m, edge.swell_m, edge.low_m, edge.high_m
    p, q = (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    for pair in range(len(path_owner)):
        a, root, known = roots(path, path_owner[pair], edge, edge_owner[pair])
        if not known or a >= len(path.start_m):
            return NO_OWNER, pairs[:0, 0], ways[:0]
        if math.isnan(budget_m[pair]):
            return NO_NUMBER, pairs[:0, 0], ways[:0]
        top, first = 0, count
        bound_m = budget_m[pair] + SLACK_M
        if a >= 0 and root >= 0:
            p, q = row(path.start_m, a), row(path.end_m, a)
            top = push(stack, 0, 0, a, root, 0.0)
        while top > 0:
            top -= 1
            node = stack.other[top]
            if stack.gap[top] > bound_m:
                continue
            if node >= pieces:
                base, first_child = top, edge.first_child[node - pieces]
                for child in range(first_child, first_child + edge.child_count[node - pieces]):
                    if child < pieces:
                        low, high = around(row(start_m, child), row(end_m, child), swell_m[child])
                    else:
                        low, high = row(low_m, child - pieces), row(high_m, child - pieces)
                    gap = _way_gap(p, q, low, high)
                    if not gap > bound_m:
                        top = push(stack, base, top, a, child, gap)
                continue
            way_m, touch = detour_over(p, q, row(start_m, node), row(end_m, node))
            if not math.isfinite(way_m):
                return NO_NUMBER, pairs[:0, 0], ways[:0]
            if every or count == first or way_m < ways[first, 0]:
                place = count if every else first
                if place == len(pairs):
                    pairs, ways = longer(pairs), longer(ways)
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
    found, count = np.empty((FEW, 2), np.int64), 0
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
        if a >= len(path_order) or b >= len(edge_order):
            top = _open(above_a, a, above_b, b, False, math.inf, outer, top)
            continue
        owner_a, owner_b = path_order[a], edge_order[b]
        if _any_near(path, path.root[owner_a], edge, edge.root[owner_b], most_m[b], inner):
            if count == len(found):
                found = longer(found)
            found[count, 0], found[count, 1] = owner_a, owner_b
            count += 1
    return SOUND, found[:count]


@compiled
def _greatest_below(above: Tree, order: IntArray, cutoff_m: FloatArray) -> FloatArray:
    """Return for each node the greatest cutoff of the owners below it; NaN where one is no number."""
    most_m = np.empty(len(order) + len(above.low_m))
    for node in range(len(most_m)):
        if node < len(order):
            most_m[node] = cutoff_m[order[node]]
            continue
        first = above.first_child[node - len(order)]
        most_m[node] = most_m[first]
        for child in range(first + 1, first + above.child_count[node - len(order)]):
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
        if a < len(path.start_m) and b < len(edge.start_m):
            return True
        top = _open(path, a, edge, b, True, limit, stack, top)
    return False


@compiled
def places_along_curve(tree: Tree, owner: IntArray) -> IntArray:
    """Return for each owner the place of its box along a curve that fills space (bits of x, y, z in turn).

    Neighbours along such a curve lie close together; nothing but speed depends on it. After Morton (1966),
    A computer oriented geodetic data base and a new technique in file sequencing.
    """
    places = np.zeros(len(owner), np.int64)
    for number in range(len(owner)):
        low, high = corners(tree, tree.root[owner[number]])
        for axis in range(3):
            middle_m = (low[axis] + high[axis]) / 2.0
            # 2 km steps over 16 000 km: 13 bits an axis.
            step = int(min(max((middle_m + 8_000_000.0) / 2_000.0, 0.0), 8_191.0))
            for bit in range(13):
                places[number] |= ((step >> bit) & 1) << (3 * bit + axis)
    return places
