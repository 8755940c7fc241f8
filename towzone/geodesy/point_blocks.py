"""Compiled: signed clearances of every point of a track, worked out for blocks of neighbouring points.

`towzone.geodesy.point_clearances` is the front. What makes it fast is that neighbours share their work, and
each shortcut is proved:

* A *stretch* of points, some kilometres long, shares the zones that can matter to any of them.
* A *block*, some hundred metres long, shares the pieces of boundary that can be nearest to any of its points.
  With the nearest boundary ``d`` from the middle of the block and all points within ``r`` of the middle, the
  nearest to each point is within ``d + r`` of it, so within ``d + 2 r`` of the middle.
* It shares a plane around its middle, in which distances are taken. Lengths from the middle are true there,
  others are too long, by ``r**2 s / 6 R**2`` at the most for a way ``s`` from a point ``r`` off the middle:
  the plane's length element exceeds that of the sphere by ``(p**2 - R**2 sin(p / R)**2) dt**2 / 2 ds`` at a
  distance ``p`` from the middle in direction ``t``, and along a geodesic ``dt`` is at most
  ``r ds / (R sin(p / R))**2`` (Clairaut). That is 0.15 mm for 600 m and 100 km. A piece of boundary of
  length ``l``, straight on the surface, strays ``l**2 p / 8 R**2`` from a straight line of the plane, 0.3 mm
  for 1 km and 100 km. Directions of chords differ from those of geodesics by 2e-7 at 100 km: 0.1 mm.
* Where no boundary is within ``r`` of the middle, all points are on the side of the middle. Elsewhere a
  point is on the side of the one before if the boundary is farther from that than the step between them.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.geodesy.compiling import compiled
from towzone.geodesy.crossings import INSIDE, UNSURE, Rings, side, sides_of_point
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.pairs import nearest_to_point
from towzone.geodesy.points import Plane, Point, arc, chord, lifted, lon_lat, plane_at, row, seen
from towzone.geodesy.tree import Tree, apart, corners, curve_gap
from towzone.geodesy.walks import SLACK_M, Stack, new_stack, push, square_limit

__all__ = ["Asked", "Found", "clearances", "zones_in_reach"]

FAR_M = 100_000.0
"""Beyond this arcs err by more than 1 mm, and the plane, too; such rows are marked for exact geodesics."""

_STRETCH_M = 20_000.0
_STRETCH_POINTS = 4096
"""Own choice: how far from the first the others may be that share its zones, and how many all may be."""

_BLOCK_M = 300.0
_BLOCK_POINTS = 64
"""Own choice: how far from the first the others may be that share pieces of boundary and a plane with it, and
how many all may be. They are within twice that of their middle."""

_LONGEST_ARC = 1.6
"""No arc of the earth is longer than pi/2 times its chord; the rest covers the flattening."""

_SURE_M = 0.01
"""Own choice: what every comparison of sides gives away, more than all errors of distances together."""

_RIGHT, _WRONG, _OPEN, _SILENT = 0, 1, 2, 3
"""A point is on the right or the wrong side of a zone, or the front has to settle it; or no row is told."""


class Asked(NamedTuple):
    """What clearances are asked for; numbers of zones are owners of the tree and of the rings.

    Parameters
    ----------
    zone : ndarray of int, shape (k,)
        The zones asked about, ascending.
    xyz_m : ndarray, shape (n, 3)
        The points, geocentric.
    lon_deg, lat_deg : ndarray, shape (n,)
        The same in degrees; longitudes in [-180, 180).
    tree : Tree
    rings : Rings
    radius_m : ndarray, shape (zones,)
    turned : ndarray of bool, shape (zones,)
        Of zones that may not be left the outside is the wrong side.
    reach_m : float
    """

    zone: IntArray
    xyz_m: FloatArray
    lon_deg: FloatArray
    lat_deg: FloatArray
    tree: Tree
    rings: Rings
    radius_m: FloatArray
    turned: npt.NDArray[np.bool_]
    reach_m: float


class Found(NamedTuple):
    """Columns to be filled; ``doubt`` marks rows whose side or distance takes exact geodesics."""

    point: IntArray
    zone: IntArray
    clearance_m: FloatArray
    doubt: npt.NDArray[np.bool_]


class _Work(NamedTuple):
    """Room that is used again for every block.

    ``on`` has what goes for all of a block, by zones; ``state`` and ``value_m`` by zones and points.
    """

    stack: Stack
    near: IntArray
    near_m: FloatArray
    flat: FloatArray
    on: npt.NDArray[np.int8]
    state: npt.NDArray[np.int8]
    value_m: FloatArray


@compiled
def clearances(asked: Asked, begin: int, found: Found) -> tuple[int, int, bool]:
    """Fill columns with the clearances of points from ``begin`` on, whole stretches as long as there is room.

    Returns
    -------
    end : int
        The first point that is left; ``begin`` when its stretch needs more room.
    rows : int
        How many rows were written, sorted by point and zone; or how many the first stretch may need.
    sound : bool
        False when a distance could not be computed; then the rest means nothing.
    """
    pieces = len(asked.tree.start_m)
    some, on, rows = np.empty(len(asked.zone), np.int64), np.empty(len(asked.zone), np.int8), 0
    work = _Work(
        new_stack(),
        np.empty(pieces, np.int64),
        np.empty(pieces),
        np.empty((_BLOCK_POINTS, 2)),
        on,
        np.empty((0, 0), np.int8),
        np.empty((0, 0)),
    )
    start = begin
    while start < len(asked.xyz_m):
        end = _stretch_end(asked.xyz_m, start, _STRETCH_M, _STRETCH_POINTS)
        count = _zones_near(asked, start, end, some, on)
        room = rows + count * (end - start)
        if room > len(found.point):
            return (start, room, True) if start == begin else (start, rows, True)
        if count > len(work.state):
            state, value_m = np.empty((count, _BLOCK_POINTS), np.int8), np.empty((count, _BLOCK_POINTS))
            work = _Work(work.stack, work.near, work.near_m, work.flat, on, state, value_m)
        while start < end:
            stop = min(_stretch_end(asked.xyz_m, start, _BLOCK_M, _BLOCK_POINTS), end)
            if not _block(asked, start, stop, some[:count], work):
                return start, rows, False
            rows = _told(start, stop, some[:count], work, found, rows)
            start = stop
    return start, rows, True


@compiled
def zones_in_reach(asked: Asked) -> npt.NDArray[np.bool_]:
    """Return which zones may matter to any of the points; the others are proved not to."""
    matters = np.zeros(len(asked.tree.root), np.bool_)
    some, on = np.empty(len(asked.zone), np.int64), np.empty(len(asked.zone), np.int8)
    start = 0
    while start < len(asked.xyz_m):
        end = _stretch_end(asked.xyz_m, start, _STRETCH_M, _STRETCH_POINTS)
        for number in range(_zones_near(asked, start, end, some, on)):
            matters[some[number]] = True
        start = end
    return matters


@compiled
def _stretch_end(xyz_m: FloatArray, start: int, longest_m: float, most: int) -> int:
    """Return where a run of points ends that are all near its first."""
    first, end = row(xyz_m, start), start + 1
    last = min(start + most, len(xyz_m))
    while end < last and chord(first, row(xyz_m, end)) <= longest_m:
        end += 1
    return end


@compiled
def _zones_near(asked: Asked, start: int, end: int, some: IntArray, on: npt.NDArray[np.int8]) -> int:
    """Write the zones that can matter to a stretch of points; return how many there are.

    The others have no boundary within reach of the box around the points, nor within a circle around the
    first that holds them all, so that all are on the side of the first; and that is the right one.
    """
    first = row(asked.xyz_m, start)
    low_x, low_y, low_z = first
    high_x, high_y, high_z = first
    apart_m = 0.0
    for number in range(start + 1, end):
        x, y, z = row(asked.xyz_m, number)
        low_x, low_y, low_z = min(low_x, x), min(low_y, y), min(low_z, z)
        high_x, high_y, high_z = max(high_x, x), max(high_y, y), max(high_z, z)
        apart_m = max(apart_m, chord(first, (x, y, z)))
    low, high = (low_x, low_y, low_z), (high_x, high_y, high_z)
    circle_m = _LONGEST_ARC * apart_m + _SURE_M
    sides_of_point(asked.rings, asked.zone, asked.lon_deg[start], asked.lat_deg[start], on)
    tree, root = asked.tree, asked.tree.root
    count = 0
    for number in range(len(asked.zone)):
        zone = asked.zone[number]
        if _side_told(on[number], asked.turned[zone]) == _RIGHT:
            if root[zone] < 0:
                continue
            reach_m = asked.reach_m + asked.radius_m[zone] + _SURE_M
            box_low, box_high = corners(tree, root[zone])
            if (
                apart(first, first, box_low, box_high) > circle_m**2
                and apart(low, high, box_low, box_high) > reach_m**2
            ):
                continue
        some[count] = zone
        count += 1
    return count


@compiled
def _side_told(on: int, turned: bool) -> int:
    if on == UNSURE:
        return _OPEN
    return _WRONG if (on == INSIDE) != turned else _RIGHT


@compiled
def _block(asked: Asked, start: int, stop: int, some: IntArray, work: _Work) -> bool:
    """Work out the clearances of a block of points from some zones; return False where one has no number."""
    middle = _middle(asked.xyz_m, start, stop)
    plane, radius_m, count = plane_at(middle), 0.0, stop - start
    for number in range(count):
        one = row(asked.xyz_m, start + number)
        work.flat[number, 0], work.flat[number, 1] = seen(plane, one)
        radius_m = max(radius_m, arc(middle, one))
    lon_deg, lat_deg = lon_lat(middle)
    if lon_deg >= 180.0:
        lon_deg -= 360.0
    sides_of_point(asked.rings, some, lon_deg, lat_deg, work.on)
    tree, root = asked.tree, asked.tree.root
    for number in range(len(some)):
        zone = some[number]
        told = _side_told(work.on[number], asked.turned[zone])
        work.on[number] = told
        bound_m = math.inf
        if told == _RIGHT:
            bound_m = asked.reach_m + asked.radius_m[zone] + radius_m + _SURE_M
            if root[zone] < 0 or apart(middle, middle, *corners(tree, root[zone])) > bound_m**2:
                work.on[number] = _SILENT
                continue
        near, nearest_m = _candidates(middle, asked.tree, root[zone], bound_m, radius_m, work)
        if near < 0 or (near == 0 and told != _RIGHT):
            return False
        if near == 0:
            work.on[number] = _SILENT
            continue
        _distances(
            plane,
            asked.tree.start_m,
            asked.tree.end_m,
            work.near[:near],
            work.flat[:count],
            work.value_m[number],
        )
        if nearest_m > radius_m + _SURE_M:
            work.state[number, :count] = told
        else:
            _tell_one_by_one(asked, zone, start, count, work.flat, work.value_m[number], work.state[number])
        _sign(work.value_m[number], work.state[number], count, asked.radius_m[zone], asked.reach_m)
    return True


@compiled
def _middle(xyz_m: FloatArray, start: int, stop: int) -> Point:
    x, y, z = 0.0, 0.0, 0.0
    for number in range(start, stop):
        x, y, z = x + xyz_m[number, 0], y + xyz_m[number, 1], z + xyz_m[number, 2]
    count = stop - start
    return lifted((x / count, y / count, z / count))


@compiled
def _candidates(
    middle: Point, tree: Tree, root: int, bound_m: float, radius_m: float, work: _Work
) -> tuple[int, float]:
    """Find the pieces of boundary that can be nearest to any point within a radius of a middle.

    Returns
    -------
    count : int
        How many there are, in ``work.near``; 0 where no boundary is within the bound of the middle, -1 where
        a distance has no number.
    nearest_m : float
        The distance of the middle.
    """
    stack, best_m, count, top = work.stack, math.inf, 0, 0
    # Farther than the bound: on the other side of what is within it points are deeper than the reach.
    limit = square_limit(bound_m + 2.0 * radius_m)
    pieces, start_m, end_m, swell_m = len(tree.start_m), tree.start_m, tree.end_m, tree.swell_m
    low_m, high_m = tree.low_m, tree.high_m
    if root >= 0:
        top = push(stack, 0, 0, 0, root, 0.0)
    while top > 0:
        top -= 1
        if stack.gap[top] > limit:
            continue
        node = stack.other[top]
        if node >= pieces:
            base, first = top, tree.first_child[node - pieces]
            for child in range(first, first + tree.child_count[node - pieces]):
                if child < pieces:
                    gap = curve_gap(middle, row(start_m, child), row(end_m, child), swell_m[child])
                else:
                    gap = apart(middle, middle, row(low_m, child - pieces), row(high_m, child - pieces))
                if not gap > limit:
                    top = push(stack, base, top, 0, child, gap)
            continue
        distance_m, _ = nearest_to_point(middle, row(tree.start_m, node), row(tree.end_m, node))
        if not math.isfinite(distance_m):
            return -1, distance_m
        if distance_m < best_m:
            best_m = distance_m
            limit = min(limit, square_limit(best_m + 2.0 * radius_m))
        work.near[count], work.near_m[count] = node, distance_m
        count += 1
    if best_m > bound_m + SLACK_M:
        return 0, best_m
    kept = 0
    for number in range(count):
        if work.near_m[number] <= best_m + 2.0 * radius_m + SLACK_M:
            work.near[kept] = work.near[number]
            kept += 1
    return kept, best_m


@compiled
def _distances(
    plane: Plane,
    start_m: FloatArray,
    end_m: FloatArray,
    near: IntArray,
    flat: FloatArray,
    value_m: FloatArray,
) -> None:
    """Write the distances of a block's points from the nearest of some pieces, taken in the plane."""
    count = len(flat)
    for point in range(count):
        value_m[point] = math.inf
    for piece in near:
        east, north = seen(plane, row(start_m, piece))
        end_east, end_north = seen(plane, row(end_m, piece))
        along, up = end_east - east, end_north - north
        square = along * along + up * up
        inverse = 1.0 / square if square > 0.0 else 0.0
        for point in range(count):
            x, y = flat[point, 0] - east, flat[point, 1] - north
            part = min(max((x * along + y * up) * inverse, 0.0), 1.0)
            x, y = x - part * along, y - part * up
            value_m[point] = min(value_m[point], x * x + y * y)
    for point in range(count):
        value_m[point] = math.sqrt(value_m[point])


@compiled
def _tell_one_by_one(
    asked: Asked,
    zone: int,
    start: int,
    count: int,
    flat: FloatArray,
    distance_m: FloatArray,
    state: npt.NDArray[np.int8],
) -> None:
    """Write on which side each point of a block is, asking only where the one before does not tell."""
    told = _OPEN
    for point in range(count):
        step_m = math.inf
        if point > 0:
            step_m = math.hypot(flat[point, 0] - flat[point - 1, 0], flat[point, 1] - flat[point - 1, 1])
        # Written so that what cannot be told, and what is no number, is asked.
        if not (told != _OPEN and step_m + _SURE_M < distance_m[point - 1]):
            on = side(asked.rings, zone, asked.lon_deg[start + point], asked.lat_deg[start + point])
            told = _side_told(on, asked.turned[zone])
        state[point] = told


@compiled
def _sign(
    value_m: FloatArray, state: npt.NDArray[np.int8], count: int, radius_m: float, reach_m: float
) -> None:
    """Turn distances into signed clearances; points on the right side beyond reach become silent."""
    for point in range(count):
        if value_m[point] > FAR_M:
            state[point] = _OPEN
        if state[point] == _WRONG:
            value_m[point] = -value_m[point]
        value_m[point] -= radius_m
        if state[point] == _RIGHT and value_m[point] > reach_m:
            state[point] = _SILENT


@compiled
def _told(start: int, stop: int, some: IntArray, work: _Work, found: Found, rows: int) -> int:
    """Write the rows of a block, point by point."""
    speaking = 0
    for number in range(len(some)):
        if work.on[number] != _SILENT:
            work.near[speaking] = number
            speaking += 1
    for point in range(stop - start):
        for number in work.near[:speaking]:
            state = work.state[number, point]
            if state != _SILENT:
                found.point[rows], found.zone[rows] = start + point, some[number]
                found.clearance_m[rows] = work.value_m[number, point]
                found.doubt[rows] = state == _OPEN
                rows += 1
    return rows
