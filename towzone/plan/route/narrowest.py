"""Where it is narrowest, and whether the zones with what must be kept off them close the way."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from towzone.geodesy.ellipsoid import FloatArray
from towzone.plan.route.obstacles import GEAR_SPARE_M, SPARE_M
from towzone.plan.route.room import Room

__all__ = ["Narrow", "is_closed", "narrowest"]

_TO_M = 1.0
"""The width of the narrowest place is known this well. Own choice."""

_WIDEST_M = 20_000.0
"""Wider than this nothing is called narrow. Own choice."""

_THREAD_M = 0.01
"""A line is no thinner than this, or it would part nothing. Own choice."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrow:
    """The narrowest place on the widest way from start to end.

    Parameters
    ----------
    closed : bool
        Whether the way is closed: no line keeps clear, within the waters looked at.
    xy_m : tuple of float
        The place, in the plane.
    numbers : tuple of int
        The obstacles beside it.
    width_m, needed_m : float
        The way between the zones, and what a straight leg between them would need, over the ground.
    """

    closed: bool
    xy_m: tuple[float, float]
    numbers: tuple[int, ...]
    width_m: float
    needed_m: float


def narrowest(room: Room, wanted: FloatArray, waters: Box) -> Narrow | None:
    """Return the narrowest place between start and end; ``None`` where nothing parts them.

    Notes
    -----
    Whoever goes from one to the other keeps off every shape by ``need``: the vessel by its margin and error,
    or the middle of the way that its gear takes by margin and half its least width, whichever is more.
    If shapes grown by that part start from end, no line passes. Shapes grown by ever less let through at last
    where it is narrowest.
    """
    need, ends = needs_m(room), wanted[[0, -1]]
    box = shapely.box(*waters)
    if not len(need):
        return None
    closed = _parted(room, need, 0.0, ends, box)
    low, high = (0.0, float(need.max()) + _TO_M) if closed else (-_WIDEST_M, 0.0)
    if closed and _parted(room, need, high, ends, box):
        return _barrier(room, need, wanted)
    if not closed and not _parted(room, need, low, ends, box):
        return None
    while high - low > _TO_M / 2.0:
        middle = (low + high) / 2.0
        if _parted(room, need, middle, ends, box):
            low = middle
        else:
            high = middle
    return _place(room, need, low, high, wanted, box, closed=closed)


def is_closed(room: Room, wanted: FloatArray, waters: Box) -> bool:
    """Return whether the obstacles part the end of a wanted line from its start, whatever the turns."""
    need = needs_m(room)
    return bool(len(need)) and _parted(room, need, 0.0, wanted[[0, -1]], shapely.box(*waters))


def needs_m(room: Room) -> FloatArray:
    """Return how far off each shape any way has to keep, metres of the plane, with nothing to spare."""
    half_m, scale = room.footprint.least_half_m * room.least_scale, room.greatest_scale
    vessel, gear = room.vessel_m - SPARE_M * scale, room.gear_m - (SPARE_M + GEAR_SPARE_M) * scale
    return np.asarray(np.maximum(vessel, gear + half_m))


def _grown(room: Room, need: FloatArray, less_m: float) -> Any:
    return shapely.buffer(room.shapes, np.maximum(need - less_m, _THREAD_M), quad_segs=8)


def _free(room: Room, need: FloatArray, less_m: float, box: Any) -> list[Any]:
    free = shapely.difference(box, shapely.union_all(_grown(room, need, less_m)))
    return [part for part in getattr(free, "geoms", [free]) if part.area > 0.0]


def _parted(room: Room, need: FloatArray, less_m: float, ends: FloatArray, box: Any) -> bool:
    """Return whether no part of the free waters has both start and end near."""
    return _both(_free(room, need, less_m, box), ends) is None


def _both(parts: Sequence[Any], ends: FloatArray) -> int | None:
    """Return the number of the part that start and end belong to: the nearest to each, where it is one."""
    if not parts:
        return None
    first, last = (_nearest(parts, end) for end in ends)
    return first if first == last else None


def _nearest(parts: Sequence[Any], end: FloatArray) -> int:
    return int(np.argmin(shapely.distance(np.array(parts, dtype=object), shapely.points(end))))


def _place(
    room: Room, need: FloatArray, shut_m: float, open_m: float, wanted: FloatArray, box: Any, *, closed: bool
) -> Narrow:
    """Return the place that is open with shapes grown by a little less."""
    ends = wanted[[0, -1]]
    shut, open_ = _free(room, need, shut_m, box), _free(room, need, open_m, box)
    whole = open_[_both(open_, ends) or 0]
    mine = _nearest(shut, ends[0]) if shut else 0
    others = [part for n, part in enumerate(shut) if n != mine and part.representative_point().within(whole)]
    if not shut or not others:
        return _barrier(room, need, wanted)
    line = shapely.shortest_line(shut[mine], shapely.union_all(others))
    at = shapely.get_coordinates(line).mean(axis=0)
    off = shapely.distance(room.shapes, shapely.points(at))
    beside = np.argsort(off - need, kind="stable")[:2]
    here, scale = (float(at[0]), float(at[1])), room.scale(float(at[1]))
    numbers = tuple(sorted({int(n) for n in beside if off[n] - need[n] < -shut_m + 5.0}))
    radius = np.array([o.radius_m for o in room.obstacles])
    pair = beside if len(numbers) > 1 else beside[[0, 0]]
    needed = float((need - radius)[pair].sum())
    width = float((need - radius)[pair].sum()) - 2.0 * (shut_m + open_m) / 2.0
    return Narrow(
        closed=closed,
        xy_m=here,
        numbers=numbers or (int(beside[0]),),
        width_m=max(width, 0.0) / scale,
        needed_m=needed / scale,
    )


def _parts_alone(room: Room, need: FloatArray, number: int, ends: FloatArray) -> bool:
    """Return whether one shape with what must be kept off it parts start from end."""
    grown = shapely.buffer(room.shapes[number], max(float(need[number]), _THREAD_M), quad_segs=8)
    free = shapely.difference(shapely.box(*room.waters), grown)
    parts = [part for part in getattr(free, "geoms", [free]) if part.area > 0.0]
    return _both(parts, ends) is None


def _barrier(room: Room, need: FloatArray, wanted: FloatArray) -> Narrow:
    """Return where the wanted line first meets what shuts the way off altogether."""
    line = shapely.LineString(wanted)
    met = [n for n, shape in enumerate(room.shapes) if shapely.intersects(shape, line)]
    # One that shuts the way off by itself rather than one that lies before it.
    met = [n for n in met if _parts_alone(room, need, n, wanted[[0, -1]])] or met
    nearest = met or [int(np.argmin(shapely.distance(room.shapes, line) - need))]
    places = [shapely.shortest_line(room.shapes[n], shapely.Point(wanted[0])) for n in nearest]
    if met:
        parts = [shapely.intersection(room.shapes[n], line) for n in nearest]
        places = [shapely.shortest_line(part, shapely.Point(wanted[0])) for part in parts]
    first = int(np.argmin([place.length for place in places]))
    x, y = shapely.get_coordinates(places[first])[0]
    number, scale = nearest[first], room.scale(float(y))
    radius = room.obstacles[number].radius_m
    needed = 2.0 * (float(need[number]) - radius) / scale
    assert math.isfinite(needed)
    return Narrow(closed=True, xy_m=(float(x), float(y)), numbers=(number,), width_m=0.0, needed_m=needed)
