"""Where a line may have its corners: around the zones in the way, around its ends, and between them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from towzone.geodesy.ellipsoid import FloatArray
from towzone.plan.route.footprint import SHARPEST_DEG
from towzone.plan.route.room import Leg, Room

__all__ = ["around_ends", "around_shape", "around_tips", "far_enough", "free_courses", "grid_nodes"]

_OFFSETS = ((0.02, 0.15, 0.38), (0.02, 0.08, 0.16, 0.28, 0.45, 0.8), (0.02, 0.08, 0.16, 0.28, 0.45, 0.8))
"""How much farther off than a straight leg corners are tried, in laybacks, at each of three densities: a turn
of 15, 30, 60 degrees cuts a tenth, a fifth, two fifths of the layback inside (`towzone.gear.turns`)."""

_PAIRS = ((1.04,), (1.01, 1.12, 1.3), (1.01, 1.12, 1.3))
"""How far off the two corners of a shortest leg are tried, by how far off they must be. Own choice."""

_TIPS = (1.05, 1.3)
"""How far off three corners round a tip are tried, by the least. Own choice."""

_ARCS = (3, 6, 6)
"""Corners on a quarter of a circle."""

_FINE_DEG = 5.0
_FAN_DEG = 15.0


def around_shape(room: Room, number: int, density: int, least_m: float) -> FloatArray:
    """Return corners around one obstacle, shape (n, 2).

    Parameters
    ----------
    least_m : float
        Shortest leg, metres of the plane: the two corners of one that passes close by are farther off.
    """
    need, layback = float(room.straight_m[number]), room.footprint.layback_m
    shape = room.shapes[number]
    coarse = max(need / 10.0, 10.0)
    simple = shapely.simplify(shape, coarse)
    quarter = _ARCS[density]
    near = need + coarse * 0.5
    radii = [(near + offset * layback) / math.cos(math.pi / 4.0 / quarter) for offset in _OFFSETS[density]]
    radii += [share * math.hypot(near + 0.1 * layback, 0.5 * least_m) for share in _PAIRS[density]]
    found = []
    for far in radii:
        ring = shapely.buffer(simple, far, quad_segs=quarter)
        found.append(_turns_out(ring, need / 4.0))
    return np.concatenate(found) if found else np.empty((0, 2))


def around_tips(room: Room, number: int, least_m: float) -> FloatArray:
    """Return corners for a way that turns back round one obstacle, shape (n, 2).

    Notes
    -----
    Round the end of a wall a way turns by more than two corners may, 120 degrees. Three corners that are a
    shortest leg from each other, with 60 degrees at each, lie on a circle as large as that leg, farther off
    than `around_shape` goes; or on one so large that the legs between them keep off.
    """
    need, layback = float(room.straight_m[number]), room.footprint.layback_m
    coarse = max(need / 10.0, 10.0)
    simple = shapely.simplify(room.shapes[number], coarse)
    keep = (need + coarse * 0.5 + 0.1 * layback) / math.cos(math.radians(SHARPEST_DEG / 2.0))
    rings = [shapely.buffer(simple, share * max(least_m, keep), quad_segs=_ARCS[1]) for share in _TIPS]
    return np.concatenate([_turns_out(ring, need / 4.0) for ring in rings])


def _turns_out(grown: Any, least_m: float) -> FloatArray:
    """Return the corners of an area at which a line around it would turn, none within a least distance."""
    kept: list[FloatArray] = [np.empty((0, 2))]
    for part in getattr(grown, "geoms", [grown]):
        for ring, hole in ((part.exterior, False), *((ring, True) for ring in part.interiors)):
            xy = np.asarray(ring.coords)[:-1]
            if not ring.is_ccw:
                xy = xy[::-1]
            before, after = xy - np.roll(xy, 1, axis=0), np.roll(xy, -1, axis=0) - xy
            left = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
            turning = (left < 0.0) if hole else (left > 0.0)
            kept.append(xy[turning])
    xy = np.concatenate(kept)
    chosen: list[int] = []
    for at in range(len(xy)):
        if not chosen or float(np.hypot(*(xy[chosen] - xy[at]).T).min()) > least_m:
            chosen.append(at)
    return np.asarray(xy[chosen])


def free_courses(
    room: Room, here: tuple[float, float], *, first: bool, length_m: float, step_deg: float = _FINE_DEG
) -> FloatArray:
    """Return the courses on which towing may begin (or the haul be called) at a position, degrees."""
    courses = np.arange(0.0, 360.0, step_deg)
    free = []
    for course in courses.tolist():
        ahead = math.sin(math.radians(course)) * length_m, math.cos(math.radians(course)) * length_m
        if first:
            leg = Leg(start=here, end=(here[0] + ahead[0], here[1] + ahead[1]), first=True)
        else:
            leg = Leg(start=(here[0] - ahead[0], here[1] - ahead[1]), end=here, last=True)
        free.append(not room.blocked(leg)[0])
    return np.asarray(courses[np.array(free, dtype=bool)])


def around_ends(
    courses: FloatArray, here: tuple[float, float], *, first: bool, least_m: float, density: int
) -> FloatArray:
    """Return corners on some courses from the start, or towards the end, of a line."""
    if not len(courses):
        return np.empty((0, 2))
    held = set(np.round(courses).tolist())
    rims = [c for c in held if (c - _FINE_DEG) % 360.0 not in held or (c + _FINE_DEG) % 360.0 not in held]
    step = _FAN_DEG if density == 0 else _FINE_DEG * 2.0
    chosen = np.array(sorted({*rims, *(c for c in held if c % step == 0.0)}))
    way = np.column_stack([np.sin(np.radians(chosen)), np.cos(np.radians(chosen))])
    far = (1.01, 2.0) if density == 0 else (1.01, 1.5, 2.0, 3.0)
    sign = 1.0 if first else -1.0
    return np.concatenate([np.array(here) + sign * least_m * times * way for times in far])


def grid_nodes(waters: tuple[float, float, float, float], spacing_m: float, most: int) -> FloatArray:
    """Return corners all over some waters, in rows set off by half; farther apart if too many."""
    width, height = waters[2] - waters[0], waters[3] - waters[1]
    spacing = max(spacing_m, math.sqrt(width * height / 0.866 / most))
    rows = np.arange(waters[1], waters[3] + 1.0, spacing * 0.866)
    found = [
        np.column_stack([x, np.full(len(x), y)])
        for n, y in enumerate(rows.tolist())
        for x in [np.arange(waters[0] + (n % 2) * spacing / 2.0, waters[2] + 1.0, spacing)]
    ]
    return np.concatenate(found)


def far_enough(nodes: FloatArray, room: Room, chosen: Sequence[int]) -> FloatArray:
    """Return the nodes that the vessel may be at, by the obstacles chosen."""
    free = np.ones(len(nodes), dtype=bool)
    points = shapely.points(nodes)
    for number in chosen:
        free &= shapely.distance(room.shapes[number], points) >= room.straight_m[number]
    return np.asarray(nodes[free])
