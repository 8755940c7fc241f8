"""Compiled: the convex hulls of what lies at two moments together, for many moments one after the other."""

from __future__ import annotations

import numpy as np

from towzone.geodesy.compiling import compiled
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["hulls_between"]


@compiled
def hulls_between(xy_m: FloatArray, out_m: FloatArray, count: IntArray):  # type: ignore[no-untyped-def]
    """Write the hull of each moment and the next, anticlockwise; of one moment alone, its own.

    Parameters
    ----------
    xy_m : ndarray, shape (n, m, 2)
        ``m`` points at each of ``n`` moments, in a plane.
    out_m : ndarray, shape (at least h * 2 * m, 2)
        Corners of all ``h = max(n - 1, 1)`` hulls, one hull after the other.
    count : ndarray of int, shape (h,)
        How many corners each has; 1 and 2 where all points are one, or lie on one line.

    Returns
    -------
    int
        How many corners were written.
    """
    moments, many = xy_m.shape[0], xy_m.shape[1]
    some, chain = np.empty((2 * many, 2)), np.empty((2 * many + 2, 2))
    before, after = np.empty((many, 2)), np.empty((many, 2))
    had = _hull_of_moment(xy_m, 0, some, chain, before)
    if moments == 1:
        for row in range(had):
            out_m[row, 0], out_m[row, 1] = before[row, 0], before[row, 1]
        count[0] = had
        return had
    written = 0
    for moment in range(1, moments):
        has = _hull_of_moment(xy_m, moment, some, chain, after)
        for row in range(had):
            some[row, 0], some[row, 1] = before[row, 0], before[row, 1]
        for row in range(has):
            some[had + row, 0], some[had + row, 1] = after[row, 0], after[row, 1]
        size = _hull(some, had + has, chain)
        for row in range(size):
            out_m[written + row, 0], out_m[written + row, 1] = chain[row, 0], chain[row, 1]
        count[moment - 1] = size
        written += size
        before, after, had = after, before, has
    return written


@compiled
def _hull_of_moment(  # type: ignore[no-untyped-def]
    xy_m: FloatArray, moment: int, some: FloatArray, chain: FloatArray, out_m: FloatArray
):
    many = xy_m.shape[1]
    for row in range(many):
        some[row, 0], some[row, 1] = xy_m[moment, row, 0], xy_m[moment, row, 1]
    size = _hull(some, many, chain)
    for row in range(size):
        out_m[row, 0], out_m[row, 1] = chain[row, 0], chain[row, 1]
    return size


@compiled
def _hull(some: FloatArray, many: int, chain: FloatArray):  # type: ignore[no-untyped-def]
    """Write the corners of the hull of the first points, which are put in order; return how many.

    The monotone chain: points from west to east along the lower side, and back along the upper one.
    """
    for row in range(1, many):
        x, y, place = some[row, 0], some[row, 1], row
        while place > 0 and (some[place - 1, 0] > x or (some[place - 1, 0] == x and some[place - 1, 1] > y)):
            some[place, 0], some[place, 1] = some[place - 1, 0], some[place - 1, 1]
            place -= 1
        some[place, 0], some[place, 1] = x, y
    size = 0
    for row in range(many):
        size = _added(some, row, chain, size, 1)
    lower = size
    for row in range(many - 2, -1, -1):
        size = _added(some, row, chain, size, lower)
    # The last corner is the first again, but for a single point.
    return max(size - 1, 1)


@compiled
def _added(  # type: ignore[no-untyped-def]
    some: FloatArray, row: int, chain: FloatArray, size: int, least: int
):
    """Add a point to a chain, without the corners that it makes needless; return the new size."""
    x, y = some[row, 0], some[row, 1]
    if size > 0 and chain[size - 1, 0] == x and chain[size - 1, 1] == y:
        return size
    while size > least:
        ax, ay = chain[size - 1, 0] - chain[size - 2, 0], chain[size - 1, 1] - chain[size - 2, 1]
        bx, by = x - chain[size - 2, 0], y - chain[size - 2, 1]
        if ax * by - ay * bx > 0.0:
            break
        size -= 1
    chain[size, 0], chain[size, 1] = x, y
    return size + 1
