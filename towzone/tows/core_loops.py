"""From stretches that look like towing to tows, compiled: hauling cut out, ends trimmed."""

from __future__ import annotations

import math

import numpy as np

from towzone.geodesy.compiling import compiled
from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.mark_loops import BoolArray, IntArray
from towzone.tows.speed_loops import spans_around
from towzone.tows.stretch_loops import ends_of_runs, filled, running_s

__all__ = ["mostly", "settled", "weighted_median"]

HAULING_SHARE = 0.6
"""A tow that for `cores.LEAVE_S` goes at less than this share of its own speed has been hauled. Own choice: a
slow turn keeps more way on, or the doors fall."""

OWN_SPEED_KN, OWN_SPEED_S, OWN_SPEED_WINDOW_S = 0.4, 180.0, 1800.0
"""A tow begins and ends where its own speed is held for three minutes: within 0.4 kn of the median of
its first (last) half hour. Own choice: brakes on to settled spread takes 2 to 5 minutes (common practice, no
source)."""

SMOOTH_S = 60.0
"""Interruptions this short are noise. Own choice: the length of a speed window."""


@compiled
def settled(
    speed_kn: FloatArray,
    lasts_s: FloatArray,
    towing: BoolArray,
    first: IntArray,
    last: IntArray,
    least_s: float,
    leave_s: float,
) -> tuple[IntArray, IntArray]:
    """Return where tows reach their own speed and where they leave it.

    A stretch ends, and another begins, where the vessel slowed down as for hauling; parts that last less than
    ``least_s`` are none. From each part goes what passes until it holds its own speed, at both ends, unless
    that is all of it.

    Parameters
    ----------
    speed_kn, lasts_s : ndarray, shape (m - 1,)
    towing : ndarray of bool, shape (m - 1,)
        Legs that look like towing.
    first, last : ndarray of int64, shape (k,)
        Stretches of them, with what was bridged.
    least_s, leave_s : float
        How long a tow, and hauling, lasts at the least.
    """
    shoot, haul = np.empty(len(speed_kn), np.int64), np.empty(len(speed_kn), np.int64)
    count = 0
    for number in range(len(first)):
        begin, end = first[number], last[number]
        of_time = lasts_s[begin:end]
        low, high = _between_hauling(speed_kn[begin:end], of_time, towing[begin:end], leave_s)
        total_s = running_s(np.ones(end - begin, np.bool_), of_time)
        for part in range(len(low)):
            if not total_s[high[part]] - total_s[low[part]] >= least_s:
                continue
            a, b = begin + low[part], begin + high[part]
            late = _late(speed_kn, lasts_s, towing, a, b)
            early = _late(speed_kn, lasts_s, towing, b, a)
            if late + early >= b - a:
                late = early = 0
            shoot[count], haul[count] = a + late, b - early
            count += 1
    return shoot[:count].copy(), haul[:count].copy()


@compiled
def _between_hauling(
    speed_kn: FloatArray, lasts_s: FloatArray, towing: BoolArray, leave_s: float
) -> tuple[IntArray, IntArray]:
    """Return the parts of a stretch between those where the vessel slowed down as for hauling."""
    whole = np.ones(len(speed_kn), np.bool_)
    hauling = _held(speed_kn, 0.0, HAULING_SHARE * _own_speed(speed_kn, lasts_s, towing))
    hauling = filled(hauling, lasts_s, SMOOTH_S, whole)
    first, last = ends_of_runs(hauling)
    spent_s = running_s(hauling, lasts_s)
    low, high = np.empty(len(first) + 1, np.int64), np.empty(len(first) + 1, np.int64)
    low[0], count = 0, 0
    for run in range(len(first)):
        if spent_s[last[run]] - spent_s[first[run]] >= leave_s:
            high[count], low[count + 1] = first[run], last[run]
            count += 1
    high[count] = len(speed_kn)
    return low[: count + 1].copy(), high[: count + 1].copy()


@compiled
def _late(speed_kn: FloatArray, lasts_s: FloatArray, towing: BoolArray, begin: int, end: int) -> int:
    """Return how many legs pass from one mark on, or back, towards another until their speed is held."""
    legs, step = abs(end - begin), 1 if end > begin else -1
    start = min(begin, begin + step)
    some, spent_s = 0, 0.0
    while some < legs and spent_s < OWN_SPEED_WINDOW_S:
        spent_s += lasts_s[start + some * step]
        some += 1
    some = min(max(some, 2), legs)
    of_speed, of_time, here = np.empty(some), np.empty(some), np.empty(some, np.bool_)
    for at in range(some):
        leg = start + at * step
        of_speed[at], of_time[at], here[at] = speed_kn[leg], lasts_s[leg], towing[leg]
    own_kn = _own_speed(of_speed, of_time, here)
    own = filled(
        _held(of_speed, own_kn - OWN_SPEED_KN, own_kn + OWN_SPEED_KN),
        of_time,
        SMOOTH_S,
        np.ones(some, np.bool_),
    )
    first, last = ends_of_runs(own)
    held_s = running_s(own, of_time)
    for run in range(len(first)):
        if held_s[last[run]] - held_s[first[run]] >= OWN_SPEED_S:
            return int(first[run])
    return 0


@compiled
def _held(speed_kn: FloatArray, low_kn: float, high_kn: float) -> BoolArray:
    """Return where a speed is known and between two limits; see `towzone.tows.cores.in_band`."""
    found = np.zeros(len(speed_kn), np.bool_)
    for leg in range(len(speed_kn)):
        if not math.isnan(speed_kn[leg]):
            found[leg] = max(low_kn, 0.0) <= speed_kn[leg] <= high_kn
    return found


@compiled
def _own_speed(speed_kn: FloatArray, lasts_s: FloatArray, towing: BoolArray) -> float:
    """Return the median of the known speeds of legs that look like towing; ``NaN`` without any."""
    values, weights, count = np.empty(len(speed_kn)), np.empty(len(speed_kn)), 0
    for leg in range(len(speed_kn)):
        if towing[leg] and not math.isnan(speed_kn[leg]):
            values[count], weights[count] = speed_kn[leg], lasts_s[leg]
            count += 1
    return weighted_median(values[:count], weights[:count])


@compiled
def weighted_median(values: FloatArray, weights: FloatArray) -> float:
    """Return the least value up to which half of all weight lies; ``NaN`` without any.

    Parameters
    ----------
    values, weights : ndarray, shape (n,)
        None of them ``NaN``, no weight negative.

    Notes
    -----
    The values are parted at the middle between the least and the greatest, again and again, going on with
    those where half the weight is reached. Unlike with sorting, most are looked at a few times only; and as
    the way between least and greatest is halved each time, none so often that it matters, whatever they are.
    """
    values, weights = values.copy(), weights.copy()
    half = 0.0
    for weight in weights:
        half += weight
    half /= 2.0
    begin, end, below = 0, len(values), 0.0
    while begin < end:
        least = most = values[begin]
        for at in range(begin, end):
            least, most = min(least, values[at]), max(most, values[at])
        if not least < most:
            return float(least)
        pivot = least + (most - least) / 2.0
        if not pivot < most:  # rounded up
            pivot = least
        parted, under = begin, 0.0
        for at in range(begin, end):
            if values[at] <= pivot:
                under += weights[at]
                values[at], values[parted] = values[parted], values[at]
                weights[at], weights[parted] = weights[parted], weights[at]
                parted += 1
        if below + under >= half:
            end = parted
        else:
            begin, below = parted, below + under
    return math.nan


@compiled
def mostly(
    time_s: FloatArray,
    first: IntArray,
    last: IntArray,
    steady_s: FloatArray,
    told_s: FloatArray,
    half_s: float,
    share: float,
) -> BoolArray:
    """Return where enough of the runs within half a window on both sides is on a steady course.

    Parameters
    ----------
    time_s : ndarray, shape (m,)
    first, last : ndarray of int64, shape (k,)
        Runs; false outside them, and no window reaches over the end of one.
    steady_s, told_s : ndarray, shape (m,)
        Running seconds on a steady course, and where it can be told whether it is.
    half_s, share : float
    """
    low, high = spans_around(time_s, half_s)
    found = np.zeros(len(low), np.bool_)
    for run in range(len(first)):
        for leg in range(first[run], last[run]):
            a, b = max(low[leg], first[run]), min(high[leg], last[run])
            told = told_s[b] - told_s[a]
            found[leg] = told > 0.0 and steady_s[b] - steady_s[a] >= share * told
    return found
