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

__all__ = ["BoolArray", "least_over", "near_each_other", "speeds_over", "strides_over"]

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
