"""One piece of a path against one piece of a boundary, compiled: distance, reach, and the way over it.

Nearest points are *found* in a plane around the piece; what is told is the arc between them.
"""

from __future__ import annotations

import math

from towzone.geodesy.compiling import compiled
from towzone.geodesy.points import Point, arc, between, lifted, plane_at, seen
from towzone.geodesy.segments import least_detour, nearest_part, nearest_parts, reach_interval

__all__ = ["detour_over", "middle", "nearest_of_piece", "nearest_to_point", "reach_of_piece"]


@compiled
def middle(start: Point, end: Point) -> Point:
    """Return the point on the ellipsoid over the middle of a chord."""
    return lifted(between(start, end, 0.5))


@compiled
def nearest_of_piece(a0: Point, a1: Point, b0: Point, b1: Point) -> tuple[float, float, float, bool]:
    """Return the distance of two pieces, where they are nearest, and whether they cross.

    Returns
    -------
    distance_m : float
        By `arc`, 0 where they cross; NaN when it could not be computed, which no caller may overlook.
    first, second : float
        Fractions along each.
    crossing : bool
    """
    plane = plane_at(middle(a0, a1))
    p0, p1, q0, q1 = seen(plane, a0), seen(plane, a1), seen(plane, b0), seen(plane, b1)
    first, second, crossing = nearest_parts(p0, p1, q0, q1)
    if not math.isfinite(p0[0] + p0[1] + p1[0] + p1[1] + q0[0] + q0[1] + q1[0] + q1[1]):
        return math.nan, first, second, False
    if crossing:
        return 0.0, first, second, True
    return arc(lifted(between(a0, a1, first)), lifted(between(b0, b1, second))), first, second, False


@compiled
def nearest_to_point(point: Point, b0: Point, b1: Point) -> tuple[float, float]:
    """Return the distance of a point from a piece, and the fraction along it that is nearest.

    Returns
    -------
    distance_m : float
        By `arc`; NaN when it could not be computed, which no caller may overlook.
    part : float
    """
    plane = plane_at(point)
    q0, q1 = seen(plane, b0), seen(plane, b1)
    part = nearest_part((0.0, 0.0), q0, q1)
    if not math.isfinite(q0[0] + q0[1] + q1[0] + q1[1]):
        return math.nan, part
    return arc(point, lifted(between(b0, b1, part))), part


@compiled
def reach_of_piece(a0: Point, a1: Point, b0: Point, b1: Point, limit_m: float) -> tuple[float, float]:
    """Return the fractions of piece ``a`` between which it is within a distance of piece ``b``.

    Returns
    -------
    first, last : float
        ``first > last`` where it is nowhere that near; NaN when it could not be computed.
    """
    plane = plane_at(middle(a0, a1))
    p0, p1, q0, q1 = seen(plane, a0), seen(plane, a1), seen(plane, b0), seen(plane, b1)
    if not math.isfinite(p0[0] + p0[1] + p1[0] + p1[1] + q0[0] + q0[1] + q1[0] + q1[1]):
        return math.nan, math.nan
    return reach_interval(p0, p1, q0, q1, limit_m)


@compiled
def detour_over(p: Point, q: Point, b0: Point, b1: Point) -> tuple[float, Point]:
    """Return the shortest way from ``p`` over a piece to ``q``, by `arc`, and where it touches the piece."""
    plane = plane_at(middle(b0, b1))
    part = least_detour(seen(plane, p), seen(plane, q), seen(plane, b0), seen(plane, b1))
    touch = lifted(between(b0, b1, part))
    return arc(p, touch) + arc(touch, q), touch
