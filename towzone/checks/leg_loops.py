"""Speeds and metres made good on the legs of a track, compiled: one pass over the fixes each."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from towzone.geodesy.compiling import compiled
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.points import chord, geocentric
from towzone.units import KNOT_MPS

__all__ = ["corners_of", "pieces_within", "speeds_over", "strides_over"]

BoolArray = npt.NDArray[np.bool_]


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
    after = 0
    for leg in range(len(timely)):
        after = max(after, leg + 1)
        if not timely[leg] or math.isnan(time_s[leg]):
            continue
        until_s = time_s[leg] + window_s
        while after < len(timely) and not time_s[after] >= until_s and timely[after]:
            after += 1
        if time_s[after] > time_s[leg]:
            start_m, end_m = (
                geocentric(lon_deg[leg], lat_deg[leg]),
                geocentric(lon_deg[after], lat_deg[after]),
            )
            speed_kn[leg] = chord(start_m, end_m) / (time_s[after] - time_s[leg]) / KNOT_MPS
    return speed_kn


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
def pieces_within(
    begin: FloatArray, end: FloatArray, first: FloatArray, last: FloatArray
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return the pieces between places that lie in some stretches, with the fractions that do.

    Parameters
    ----------
    begin, end : ndarray, shape (pieces,)
        Places of the ends of pieces, in rising order.
    first, last : ndarray, shape (n,)
        Stretches in rising order; a piece that ends where one begins is in it, too.
    """
    lows, highs = np.empty(len(first), np.int64), np.empty(len(first), np.int64)
    total = 0
    for one in range(len(first)):
        lows[one] = _count_below(end, first[one], False)
        highs[one] = max(_count_below(begin, last[one], True), lows[one])
        total += highs[one] - lows[one]
    piece, low_part, high_part = np.empty(total, np.int64), np.empty(total), np.empty(total)
    at = 0
    for one in range(len(first)):
        for number in range(lows[one], highs[one]):
            span = end[number] - begin[number]
            span = span if span > 0.0 else 1.0
            piece[at] = number
            low_part[at] = min(max((first[one] - begin[number]) / span, 0.0), 1.0)
            high_part[at] = min(max((last[one] - begin[number]) / span, 0.0), 1.0)
            at += 1
    return piece, low_part, high_part


@compiled
def _count_below(values: FloatArray, limit: float, equal: bool) -> int:
    """Return how many of rising values are below a limit, or at it where equal ones count."""
    low, high = 0, len(values)
    while low < high:
        middle = (low + high) // 2
        if values[middle] < limit or (equal and values[middle] == limit):
            low = middle + 1
        else:
            high = middle
    return low
