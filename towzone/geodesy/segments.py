"""Straight segments in a plane, compiled, one pair at a time: nearest points, reach and detours.

Points are tuples (east, north) in metres; a segment may have no length.
"""

from __future__ import annotations

import math

from towzone.geodesy.compiling import compiled
from towzone.geodesy.points import FlatPoint

__all__ = ["least_detour", "nearest_part", "nearest_parts", "reach_interval"]


@compiled
def _less(a: FlatPoint, b: FlatPoint) -> FlatPoint:
    return a[0] - b[0], a[1] - b[1]


@compiled
def _dot(a: FlatPoint, b: FlatPoint) -> float:
    return a[0] * b[0] + a[1] * b[1]


@compiled
def _cross(a: FlatPoint, b: FlatPoint) -> float:
    return a[0] * b[1] - a[1] * b[0]


@compiled
def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


@compiled
def nearest_part(point: FlatPoint, start: FlatPoint, end: FlatPoint) -> float:
    """Return the fraction along a segment that is nearest to a point."""
    along = _less(end, start)
    square = _dot(along, along)
    if square > 0.0:
        return _within(_dot(_less(point, start), along) / square, 0.0, 1.0)
    return 0.0


@compiled
def _apart(w: FlatPoint, u: FlatPoint, v: FlatPoint, first: float, second: float) -> float:
    """Return the squared distance between ``first * u`` and ``w + second * v``."""
    east, north = first * u[0] - w[0] - second * v[0], first * u[1] - w[1] - second * v[1]
    return east**2 + north**2


@compiled
def nearest_parts(a0: FlatPoint, a1: FlatPoint, b0: FlatPoint, b1: FlatPoint) -> tuple[float, float, bool]:
    """Return where segments ``a0 a1`` and ``b0 b1`` are nearest to each other.

    Returns
    -------
    first, second : float
        Fractions along each.
    crossing : bool
        Whether they meet there.

    Notes
    -----
    Either they cross, or one of the four ends is nearest; all five are tried.
    """
    u, v, w = _less(a1, a0), _less(b1, b0), _less(b0, a0)
    turn = _cross(u, v)
    # Nearly parallel lines cross nowhere that rounding would not move; their ends tell the distance.
    if abs(turn) > 1e-12 * math.sqrt(_dot(u, u) * _dot(v, v)):
        s, t = _cross(w, v) / turn, _cross(w, u) / turn
        if 0.0 <= s <= 1.0 and 0.0 <= t <= 1.0:
            return s, t, True
    first, second = 0.0, nearest_part(a0, b0, b1)
    least = _apart(w, u, v, first, second)
    part = nearest_part(a1, b0, b1)
    off = _apart(w, u, v, 1.0, part)
    if off < least:
        least, first, second = off, 1.0, part
    part = nearest_part(b0, a0, a1)
    off = _apart(w, u, v, part, 0.0)
    if off < least:
        least, first, second = off, part, 0.0
    part = nearest_part(b1, a0, a1)
    off = _apart(w, u, v, part, 1.0)
    if off < least:
        first, second = part, 1.0
    return first, second, False


@compiled
def reach_interval(
    a0: FlatPoint, a1: FlatPoint, b0: FlatPoint, b1: FlatPoint, limit_m: float
) -> tuple[float, float]:
    """Return the fractions of segment ``a`` between which it is within a distance of segment ``b``.

    Returns
    -------
    first, last : float
        ``first > last`` where it is nowhere that near.

    Notes
    -----
    The points within a distance of a segment form a convex shape (two discs and the box between),
    so the answer is one interval: the hull of the three partial ones.
    """
    u = _less(a1, a0)
    first, last = _disc_interval(_less(a0, b0), u, limit_m)
    low, high = _disc_interval(_less(a0, b1), u, limit_m)
    if low <= high:
        first, last = min(first, low), max(last, high)
    low, high = _box_interval(a0, u, b0, b1, limit_m)
    if low <= high:
        first, last = min(first, low), max(last, high)
    return first, last


@compiled
def _disc_interval(w: FlatPoint, u: FlatPoint, limit_m: float) -> tuple[float, float]:
    """Return where ``w + t * u`` is within a distance of the origin, for ``t`` in [0, 1]."""
    square, half, rest = _dot(u, u), _dot(u, w), _dot(w, w) - limit_m**2
    if square == 0.0:
        return (0.0, 1.0) if rest <= 0.0 else (2.0, -1.0)
    root = half**2 - square * rest
    if root < 0.0:
        return 2.0, -1.0
    spread = math.sqrt(root)
    return max((-half - spread) / square, 0.0), min((-half + spread) / square, 1.0)


@compiled
def _box_interval(
    a0: FlatPoint, u: FlatPoint, b0: FlatPoint, b1: FlatPoint, limit_m: float
) -> tuple[float, float]:
    v = _less(b1, b0)
    length = math.sqrt(_dot(v, v))
    if length == 0.0:
        return 2.0, -1.0
    unit = v[0] / length, v[1] / length
    w = _less(a0, b0)
    along_first, along_last = _slab_interval(_dot(w, unit), _dot(u, unit), 0.0, length)
    beside_first, beside_last = _slab_interval(_cross(unit, w), _cross(unit, u), -limit_m, limit_m)
    return max(along_first, beside_first), min(along_last, beside_last)


@compiled
def _slab_interval(start: float, rate: float, low: float, high: float) -> tuple[float, float]:
    """Return where ``start + t * rate`` lies between two bounds, for ``t`` in [0, 1]."""
    if rate == 0.0:
        return (0.0, 1.0) if low <= start <= high else (2.0, -1.0)
    one, two = (low - start) / rate, (high - start) / rate
    return _within(min(one, two), 0.0, 2.0), _within(max(one, two), -1.0, 1.0)


@compiled
def least_detour(p: FlatPoint, q: FlatPoint, b0: FlatPoint, b1: FlatPoint) -> float:
    """Return the fraction along segment ``b`` where the way from ``p`` over it to ``q`` is shortest.

    Notes
    -----
    With ``q`` mirrored to the other side of the line the shortest way is straight (Heron), so the line is
    met at the offsets' weighted mean; the sum being convex along the line, ends are the nearest otherwise.
    """
    v = _less(b1, b0)
    length = math.sqrt(_dot(v, v))
    if length == 0.0:
        return 0.0
    unit = v[0] / length, v[1] / length
    to_p, to_q = _less(p, b0), _less(q, b0)
    along_p, along_q = _dot(to_p, unit), _dot(to_q, unit)
    off_p, off_q = abs(_cross(unit, to_p)), abs(_cross(unit, to_q))
    both = off_p + off_q
    if both > 0.0:
        meet = along_p + off_p / both * (along_q - along_p)
    else:
        # With both points on the line itself any place between them serves; the nearest to the segment does.
        meet = _within(_within(along_p, 0.0, length), min(along_p, along_q), max(along_p, along_q))
    return _within(meet / length, 0.0, 1.0)
