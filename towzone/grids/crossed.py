"""Which cells of a grid paths cross, in order."""

from __future__ import annotations

import itertools
import math

import numpy as np
import numpy.typing as npt

from towzone.geodesy.compiling import compiled, solid
from towzone.grids.cells import CodeGrid

__all__ = ["cells_crossed", "cells_of_each"]

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


def cells_crossed(grid: CodeGrid, lon_deg: FloatArray, lat_deg: FloatArray) -> tuple[str, ...]:
    """Return the codes of the cells a path crosses, by their first entry; parts outside the grid have none.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (n,)
        Degrees; neighbours a few miles apart at most, for they are joined straight in longitude and
        latitude (over 3 nautical miles at 60 degrees that is 4 m from the geodesic).

    Examples
    --------
    >>> from towzone.grids.ices import ICES
    >>> cells_crossed(ICES, np.array([2.9, 3.2]), np.array([54.47, 54.6]))
    ('37F2', '38F2', '38F3')
    """
    return cells_of_each(grid, lon_deg, lat_deg, np.array([len(lon_deg)]))[0]


def cells_of_each(
    grid: CodeGrid, lon_deg: FloatArray, lat_deg: FloatArray, counts: IntArray
) -> list[tuple[str, ...]]:
    """Return the codes of the cells that each of many paths crosses; see `cells_crossed`.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (n,)
        Of one path after the other.
    counts : ndarray of int, shape (paths,)
        How many positions each has.
    """
    columns = (solid(lon_deg), solid(lat_deg), solid(counts, np.int64))
    lon, moved = _moves(*columns, grid.columns_per_deg, grid.rows_per_deg)
    starts = (np.cumsum(counts) - counts)[counts > 0]
    # One point in every cell on the way: the start, then the middle of what lies between two crossings.
    points = [(fix, float(lon[fix]), float(lat_deg[fix])) for fix in starts.tolist()]
    for leg in moved.tolist():
        ends = (float(lon[leg]), float(lat_deg[leg])), (float(lon[leg + 1]), float(lat_deg[leg + 1]))
        points += [(leg, *point) for point in _between_crossings(grid, *ends)]
    # Those of a path are together again by the fixes after which they lie; its start stays first.
    points.sort(key=lambda point: point[0])
    codes = grid.at([point[1] for point in points], [point[2] for point in points]).tolist()
    cuts = np.searchsorted([point[0] for point in points], np.cumsum([0, *counts])).tolist()
    return [
        tuple(code for code in dict.fromkeys(codes[low:high]) if code)
        for low, high in itertools.pairwise(cuts)
    ]


@compiled
def _moves(
    lon_deg: FloatArray, lat_deg: FloatArray, counts: IntArray, columns_per_deg: int, rows_per_deg: int
) -> tuple[FloatArray, IntArray]:
    """Return longitudes without a jump within a path, and the legs that end in another cell.

    They are unrolled by whole turns, so that a leg over 180 degrees is as short as it is; sums of differences
    would take a meridian that bounds cells for one a hair beside it.
    """
    lon, moved = np.empty(len(lon_deg)), np.empty(len(lon_deg), np.int64)
    fix = legs = 0
    for count in counts:
        turns = 0.0
        for at in range(count):
            if at > 0:
                turns -= math.floor((lon_deg[fix] - lon_deg[fix - 1] + 180.0) / 360.0)
            lon[fix] = lon_deg[fix] + 360.0 * turns
            if at > 0 and (
                math.floor(lon[fix] * columns_per_deg) != math.floor(lon[fix - 1] * columns_per_deg)
                or math.floor(lat_deg[fix] * rows_per_deg) != math.floor(lat_deg[fix - 1] * rows_per_deg)
            ):
                moved[legs] = fix - 1
                legs += 1
            fix += 1
    return lon, moved[:legs].copy()


def _between_crossings(
    grid: CodeGrid, start: tuple[float, float], end: tuple[float, float]
) -> list[tuple[float, float]]:
    parts = {0.0, 1.0}
    for begin, finish, per_deg in (
        (start[0], end[0], grid.columns_per_deg),
        (start[1], end[1], grid.rows_per_deg),
    ):
        low, high = sorted((begin * per_deg, finish * per_deg))
        lines = range(math.floor(low) + 1, math.ceil(high))
        parts |= {(line / per_deg - begin) / (finish - begin) for line in lines}
    cuts = sorted(parts)
    middles = [(one + two) / 2.0 for one, two in itertools.pairwise(cuts)]
    # The end itself counts too: a path that ends on a side has entered the cell beyond it.
    return [(start[0] + t * (end[0] - start[0]), start[1] + t * (end[1] - start[1])) for t in (*middles, 1.0)]
