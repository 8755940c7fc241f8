"""Places on a path and on its pieces, compiled: corners of stretches, ends of pieces, stays on pieces."""

from __future__ import annotations

import math

import numpy as np

from towzone.geodesy.compiling import compiled
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["at_fixes", "corners_of", "count_below", "piece_places", "stays_on_pieces"]


@compiled
def corners_of(first: FloatArray, last: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the places between which stretches are straight, and how many each of them has.

    These are its ends and the fixes between; a stretch of one place has that alone.
    """
    counts = np.empty(len(first), np.int64)
    total = 0
    for one in range(len(first)):
        fixes = math.ceil(last[one]) - math.floor(first[one]) - 1
        counts[one] = fixes + 2 if first[one] < last[one] else 1
        total += counts[one]
    place = np.empty(total)
    at = 0
    for one in range(len(first)):
        place[at] = first[one]
        low = math.floor(first[one])
        for step in range(1, counts[one]):
            place[at + step] = min(low + step, last[one])
        at += counts[one]
    return place, counts


@compiled
def at_fixes(
    lon_deg: FloatArray, lat_deg: FloatArray, place: FloatArray
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return the positions of the fix at or before each place, and which places lie between two fixes."""
    lon, lat, count = np.empty(len(place)), np.empty(len(place)), 0
    for at in range(len(place)):
        fix = min(int(place[at]), len(lon_deg) - 1)
        lon[at], lat[at] = lon_deg[fix], lat_deg[fix]
        count += place[at] > fix
    between, number = np.empty(count, np.int64), 0
    for at in range(len(place)):
        if place[at] > min(int(place[at]), len(lon_deg) - 1):
            between[number] = at
            number += 1
    return lon, lat, between


@compiled
def piece_places(
    place: FloatArray, counts: IntArray, begins: IntArray, from_part: FloatArray, to_part: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the places where pieces of legs begin and end.

    Parameters
    ----------
    place : ndarray, shape (n,)
        Corners of strings of legs, one string after the other.
    counts : ndarray of int, shape (k,)
        Corners of each string; a lone one is a leg by itself.
    begins : ndarray of int, shape (pieces,)
        The corner where the leg of each piece begins, never decreasing.
    from_part, to_part : ndarray, shape (pieces,)
        Fractions of the leg.
    """
    begin, end = np.empty(len(begins)), np.empty(len(begins))
    string, stop = -1, 0
    for piece in range(len(begins)):
        corner = begins[piece]
        while corner >= stop:
            string += 1
            stop += counts[string]
        start = place[corner]
        span = place[min(corner + 1, stop - 1)] - start
        begin[piece], end[piece] = start + from_part[piece] * span, start + to_part[piece] * span
    return begin, end


@compiled
def stays_on_pieces(
    begin: FloatArray, end: FloatArray, cuts: IntArray, counts: IntArray, first: FloatArray, last: FloatArray
) -> tuple[IntArray, IntArray, FloatArray, FloatArray, IntArray]:
    """Return on which pieces sets of stays begin and end, and at which fractions of these.

    Parameters
    ----------
    begin, end : ndarray, shape (pieces,)
        Places of the ends of pieces.
    cuts : ndarray of int, shape (2, m)
        Pieces that each set is of, in rising order of their places: the first, and the one after the last.
    counts : ndarray of int, shape (m,)
        How many stays each set has.
    first, last : ndarray, shape (n,)
        Stays of all sets, those of each in rising order; a piece that ends where one begins is in it, too.

    Returns
    -------
    first_piece, last_piece : ndarray of int, shape (k,)
    first_part, last_part : ndarray, shape (k,)
    counts : ndarray of int, shape (m,)
        How many stays of each set are on any piece.
    """
    lows, highs = np.empty(len(first), np.int64), np.empty(len(first), np.int64)
    low_parts, high_parts = np.empty(len(first)), np.empty(len(first))
    known, kept, stay = np.zeros(len(counts), np.int64), 0, 0
    for number in range(len(counts)):
        for _ in range(counts[number]):
            low = count_below(end, cuts[0, number], cuts[1, number], first[stay], False)
            high = count_below(begin, cuts[0, number], cuts[1, number], last[stay], True) - 1
            if low <= high:
                lows[kept], highs[kept] = low, high
                low_parts[kept] = _part_of(first[stay], begin[low], end[low])
                high_parts[kept] = _part_of(last[stay], begin[high], end[high])
                known[number] += 1
                kept += 1
            stay += 1
    return lows[:kept].copy(), highs[:kept].copy(), low_parts[:kept].copy(), high_parts[:kept].copy(), known


@compiled
def _part_of(place: float, begin: float, end: float) -> float:
    """Return the fraction of a piece that a place is at, within it."""
    return min(max((place - begin) / (end - begin if end > begin else 1.0), 0.0), 1.0)


@compiled
def count_below(values: FloatArray, low: int, high: int, limit: float, equal: bool) -> int:
    """Return the first index from ``low`` on, ``high`` at most, of a rising value not below a limit.

    With ``equal``, of one above the limit.
    """
    while low < high:
        middle = (low + high) // 2
        if values[middle] < limit or (equal and values[middle] == limit):
            low = middle + 1
        else:
            high = middle
    return low
