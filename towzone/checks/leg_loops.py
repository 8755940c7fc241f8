"""Speeds and metres made good on the legs of a track, compiled: one pass over the fixes each."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from towzone.geodesy.compiling import compiled
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.legs import surface_points
from towzone.geodesy.points import chord, geocentric, row
from towzone.units import KNOT_MPS

__all__ = [
    "at_fixes",
    "corners_of",
    "count_below",
    "least_over",
    "near_each_other",
    "piece_places",
    "speeds_over",
    "stays_on_pieces",
    "strides_over",
]

BoolArray = npt.NDArray[np.bool_]

_NEAR_DEG = 5.0
"""Own choice: positions so near are not as far apart as any line may be long, nor opposite each other."""


@compiled
def speeds_over(
    lon_deg: FloatArray,
    lat_deg: FloatArray,
    time_s: FloatArray,
    timely: BoolArray,
    window_s: float,
) -> FloatArray:
    """Return for each leg the speed from its start over a window of timely legs, knots.

    The window ends with the first fix that is so many seconds later, or where a leg is not timely. Known
    times never decrease.
    """
    speed_kn = np.full(len(timely), np.nan)
    points_m, _ = surface_points(lon_deg, lat_deg)
    after = 0
    for leg in range(len(timely)):
        after = max(after, leg + 1)
        if not timely[leg] or math.isnan(time_s[leg]):
            continue
        until_s = time_s[leg] + window_s
        while after < len(timely) and not time_s[after] >= until_s and timely[after]:
            after += 1
        if time_s[after] > time_s[leg]:
            speed_kn[leg] = (
                chord(row(points_m, leg), row(points_m, after)) / (time_s[after] - time_s[leg]) / KNOT_MPS
            )
    return speed_kn


@compiled
def near_each_other(lon_deg: FloatArray, lat_deg: FloatArray) -> bool:
    """Return whether every position is within some degrees of the one before, either way round the world."""
    for fix in range(1, len(lon_deg)):
        east = abs(lon_deg[fix] - lon_deg[fix - 1])
        # Written so that what is no number is near nothing.
        if not (
            min(east, abs(east - 360.0)) < _NEAR_DEG and abs(lat_deg[fix] - lat_deg[fix - 1]) < _NEAR_DEG
        ):
            return False
    return True


@compiled
def least_over(speed_kn: FloatArray, covered: BoolArray, begin: IntArray, end: IntArray) -> FloatArray:
    """Return the least known speed of covered legs of each of some stretches, NaN where there is none."""
    least_kn = np.full(len(begin), np.nan)
    for one in range(len(begin)):
        for leg in range(begin[one], end[one]):
            if covered[leg] and not speed_kn[leg] >= least_kn[one] and not math.isnan(speed_kn[leg]):
                least_kn[one] = speed_kn[leg]
    return least_kn


@compiled
def strides_over(
    lon_deg: FloatArray,
    lat_deg: FloatArray,
    time_s: FloatArray,
    length_m: FloatArray,
    covered: BoolArray,
    stride_s: float,
) -> FloatArray:
    """Return the metres made good on each covered leg, 0 on the others.

    Every stretch of covered legs is stepped off in strides of so many seconds at the least, straight from
    position to position, each shared out among its legs by their length; without times every leg is one.
    """
    legs = len(covered)
    made_m = np.empty(legs)
    for leg in range(legs):
        made_m[leg] = length_m[leg] if covered[leg] else 0.0
    begin, start_s, number = 0, np.nan, np.nan
    for leg in range(legs + 1 if legs else 0):
        fresh = leg == 0 or leg == legs or not (covered[leg - 1] and covered[leg])
        if fresh and leg < legs:
            start_s = time_s[leg]
        stride = math.floor((time_s[leg] - start_s) / stride_s) if _known(time_s[leg], start_s) else np.nan
        if fresh or not stride - number <= 0.0:
            if leg - begin > 1:
                _share_out(lon_deg, lat_deg, made_m, begin, leg)
            begin = leg
        number = stride
    return made_m


@compiled
def _known(one: float, other: float) -> bool:
    return not (math.isnan(one) or math.isnan(other))


@compiled
def _share_out(lon_deg: FloatArray, lat_deg: FloatArray, made_m: FloatArray, begin: int, end: int) -> None:
    """Share the straight way from one fix to another out among the legs between, none longer than it is."""
    sailed_m = 0.0
    for leg in range(begin, end):
        sailed_m += made_m[leg]
    if not sailed_m > 0.0:
        return
    start_m = geocentric(lon_deg[begin], lat_deg[begin])
    share = chord(start_m, geocentric(lon_deg[end], lat_deg[end])) / sailed_m
    for leg in range(begin, end):
        made_m[leg] *= min(share, 1.0)


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
    """Return after how many of values, rising between two, come those not below a limit (or not at it)."""
    while low < high:
        middle = (low + high) // 2
        if values[middle] < limit or (equal and values[middle] == limit):
            low = middle + 1
        else:
            high = middle
    return low
