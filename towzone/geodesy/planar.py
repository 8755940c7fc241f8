"""Nearest points and reach of straight segments in a plane, many pairs at once.

Points are arrays of shape ``(n, 2)`` in metres; a segment may have no length.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["NearestParts", "least_detour", "nearest_parts", "reach_interval"]


class NearestParts(NamedTuple):
    """Where two segments are nearest: fractions along each, shape ``(n,)``; and whether they cross."""

    first: FloatArray
    second: FloatArray
    crossing: npt.NDArray[np.bool_]


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    return a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1]


def _cross(a: FloatArray, b: FloatArray) -> FloatArray:
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]


def _part_nearest(point: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Return the fraction along each segment that is nearest to a point."""
    along = end - start
    square = _dot(along, along)
    part = _dot(point - start, along) / np.where(square > 0.0, square, 1.0)
    return np.where(square > 0.0, np.clip(part, 0.0, 1.0), 0.0)


def nearest_parts(a0: FloatArray, a1: FloatArray, b0: FloatArray, b1: FloatArray) -> NearestParts:
    """Return where segments ``a0 a1`` and ``b0 b1`` are nearest to each other.

    Notes
    -----
    Either they cross, or one of the four ends is nearest; all five are tried.
    """
    u, v, w = a1 - a0, b1 - b0, b0 - a0
    turn = _cross(u, v)
    # Nearly parallel lines cross nowhere that rounding would not move; their ends tell the distance.
    upright = np.abs(turn) > 1e-12 * np.sqrt(_dot(u, u) * _dot(v, v))
    divisor = np.where(upright, turn, 1.0)
    s, t = _cross(w, v) / divisor, _cross(w, u) / divisor
    crossing = np.asarray(upright & (s >= 0.0) & (s <= 1.0) & (t >= 0.0) & (t <= 1.0))
    zero, one = np.zeros(len(u)), np.ones(len(u))
    firsts = np.stack([zero, one, _part_nearest(b0, a0, a1), _part_nearest(b1, a0, a1)])
    seconds = np.stack([_part_nearest(a0, b0, b1), _part_nearest(a1, b0, b1), zero, one])
    apart = a0 + firsts[..., None] * u - b0 - seconds[..., None] * v
    best = np.argmin((apart**2).sum(axis=-1), axis=0)
    column = np.arange(len(u))
    return NearestParts(
        np.where(crossing, s, firsts[best, column]), np.where(crossing, t, seconds[best, column]), crossing
    )


def reach_interval(
    a0: FloatArray, a1: FloatArray, b0: FloatArray, b1: FloatArray, limit_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the fractions of segment ``a`` between which it is within a distance of segment ``b``.

    Returns
    -------
    first, last : ndarray, shape (n,)
        ``first > last`` where it is nowhere that near.

    Notes
    -----
    The points within a distance of a segment form a convex shape (two discs and the box between),
    so the answer is one interval: the hull of the three partial ones.
    """
    u = a1 - a0
    first, last = _disc_interval(a0, u, b0, limit_m)
    for low, high in (_disc_interval(a0, u, b1, limit_m), _box_interval(a0, u, b0, b1, limit_m)):
        some = low <= high
        first = np.where(some, np.minimum(first, low), first)
        last = np.where(some, np.maximum(last, high), last)
    return first, last


def _disc_interval(
    a0: FloatArray, u: FloatArray, centre: FloatArray, limit_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    w = a0 - centre
    square, half, rest = _dot(u, u), _dot(u, w), _dot(w, w) - limit_m**2
    still = square == 0.0
    root = half**2 - square * rest
    reached = np.where(still, rest <= 0.0, root >= 0.0)
    spread, divisor = np.sqrt(np.maximum(root, 0.0)), np.where(still, 1.0, square)
    first = np.where(still, 0.0, np.maximum((-half - spread) / divisor, 0.0))
    last = np.where(still, 1.0, np.minimum((-half + spread) / divisor, 1.0))
    return np.where(reached, first, 2.0), np.where(reached, last, -1.0)


def _box_interval(
    a0: FloatArray, u: FloatArray, b0: FloatArray, b1: FloatArray, limit_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    v = b1 - b0
    length = np.sqrt(_dot(v, v))
    unit = v / np.where(length > 0.0, length, 1.0)[:, None]
    w = a0 - b0
    along_first, along_last = _slab_interval(_dot(w, unit), _dot(u, unit), np.zeros(len(u)), length)
    beside_first, beside_last = _slab_interval(_cross(unit, w), _cross(unit, u), -limit_m, limit_m)
    first, last = np.maximum(along_first, beside_first), np.minimum(along_last, beside_last)
    some = (length > 0.0) & (first <= last)
    return np.where(some, first, 2.0), np.where(some, last, -1.0)


def _slab_interval(
    start: FloatArray, rate: FloatArray, low: FloatArray, high: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return where ``start + t * rate`` lies between two bounds, for ``t`` in [0, 1]."""
    still = rate == 0.0
    divisor = np.where(still, 1.0, rate)
    one, two = (low - start) / divisor, (high - start) / divisor
    first = np.where(still, 0.0, np.clip(np.minimum(one, two), 0.0, 2.0))
    last = np.where(still, 1.0, np.clip(np.maximum(one, two), -1.0, 1.0))
    within = (start >= low) & (start <= high)
    return np.where(still & ~within, 2.0, first), np.where(still & ~within, -1.0, last)


def least_detour(p: FloatArray, q: FloatArray, b0: FloatArray, b1: FloatArray) -> FloatArray:
    """Return the fraction along segment ``b`` where the way from ``p`` over it to ``q`` is shortest.

    Notes
    -----
    With ``q`` mirrored to the other side of the line the shortest way is straight (Heron), so the line is
    met at the offsets' weighted mean; the sum being convex along the line, ends are the nearest otherwise.
    """
    v = b1 - b0
    length = np.sqrt(_dot(v, v))
    unit = v / np.where(length > 0.0, length, 1.0)[:, None]
    along_p, along_q = _dot(p - b0, unit), _dot(q - b0, unit)
    off_p, off_q = np.abs(_cross(unit, p - b0)), np.abs(_cross(unit, q - b0))
    both = off_p + off_q
    share = np.where(both > 0.0, off_p / np.where(both > 0.0, both, 1.0), 0.0)
    meet = along_p + share * (along_q - along_p)
    # With both points on the line itself any place between them serves; the nearest to the segment does.
    low, high = np.minimum(along_p, along_q), np.maximum(along_p, along_q)
    meet = np.where(both > 0.0, meet, np.clip(np.clip(meet, 0.0, length), low, high))
    return np.where(length > 0.0, np.clip(meet / np.where(length > 0.0, length, 1.0), 0.0, 1.0), 0.0)
