"""How fast and how straight a vessel went, from positions alone, over windows that drown their noise."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.geodesy.compiling import compiled, solid
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.points import geocentric
from towzone.tows.thinning import BoolArray, IntArray, thinned
from towzone.units import KNOT_MPS

__all__ = ["HEADING_WINDOW_S", "SPEED_WINDOW_S", "Profile", "profile_of"]

SPEED_WINDOW_S = 60.0
"""Speeds are the straight way over at least this long: two positions 3 m out of place each then make 0.14 kn,
while the sum of noisy legs makes any figure (Ranacher et al. 2016, Int. J. Geogr. Inf. Sci. 30:316). The
length is an own choice."""

HEADING_WINDOW_S = 600.0
_HEADING_LEGS = 3
"""Headings are compared over this long, or over three legs where these are longer. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profile:
    """A track as stretches between marks, each with its speed.

    Parameters
    ----------
    fixes : int
        How many the track has.
    fix : ndarray of int64, shape (m,)
        Marks: the fixes looked at (`towzone.tows.thinning`).
    time_s : ndarray, shape (m,)
    gap : ndarray of bool, shape (m - 1,)
        Stretches of which the positions say nothing.
    lasts_s : ndarray, shape (m - 1,)
    way_m : ndarray, shape (m - 1,)
        Straight distance from mark to mark, through the earth: never more than the way sailed.
    speed_kn : ndarray, shape (m - 1,)
        Over `SPEED_WINDOW_S` or more; ``NaN`` in gaps and where the positions between two gaps last less.
    steadiness : ndarray, shape (m - 1,)
        Mean resultant length of the headings around: 1 on a straight course, towards 0 when wandering;
        ``NaN`` where there are fewer than two headings or no speed.
    """

    fixes: int
    fix: IntArray
    time_s: FloatArray
    gap: BoolArray
    lasts_s: FloatArray
    way_m: FloatArray
    speed_kn: FloatArray
    steadiness: FloatArray

    def __len__(self) -> int:
        return len(self.gap)

    def mean_kn(self) -> FloatArray:
        """Return the mean speed of each stretch by itself, gaps included; of no time at all, infinite."""
        still = self.lasts_s <= 0.0
        mean = self.way_m / np.where(still, 1.0, self.lasts_s) / KNOT_MPS
        return np.where(still, np.inf, mean)


def profile_of(
    lon_deg: FloatArray,
    lat_deg: FloatArray,
    time_s: FloatArray,
    part: npt.NDArray[np.integer],
    gap_s: float,
) -> Profile:
    """Return speeds and headings of a track.

    Parameters
    ----------
    lon_deg, lat_deg, time_s, part : ndarray, shape (n,)
    gap_s : float
        Longest time between two fixes that is not a gap.

    Raises
    ------
    GeometryError
        Known times decrease.
    """
    fix, gap = thinned(time_s, part, gap_s)
    at_s = time_s[fix]
    lon, lat = lon_deg[fix], lat_deg[fix]
    lasts_s = np.diff(at_s)
    way_m, _ = _between(lon, lat, np.arange(len(gap)), np.arange(len(gap)) + 1)
    low, high = _windows(at_s, gap)
    across_m, heading = _between(lon, lat, low, high)
    across_s = at_s[high] - at_s[low]
    known = ~gap & (across_s >= SPEED_WINDOW_S)
    speed_kn = np.where(known, across_m / np.where(known, across_s, 1.0) / KNOT_MPS, np.nan)
    return Profile(
        fixes=len(time_s),
        fix=fix,
        time_s=at_s,
        gap=gap,
        lasts_s=lasts_s,
        way_m=way_m,
        speed_kn=speed_kn,
        steadiness=_steadiness(at_s, lasts_s, heading, known),
    )


def _windows(time_s: FloatArray, gap: BoolArray) -> tuple[IntArray, IntArray]:
    """Return the marks over which the speed of each stretch is taken: within its run, 60 s if there are."""
    first, last = _run_ends(gap)
    # Beside a long leg the window stays among short ones, if these last long enough: its mean is not theirs.
    near_first, near_last = _run_ends(gap | (np.diff(time_s) >= SPEED_WINDOW_S))
    enough = time_s[near_last] - time_s[near_first] >= SPEED_WINDOW_S
    first, last = np.where(enough, near_first, first), np.where(enough, near_last, last)
    middle = (time_s[:-1] + time_s[1:]) / 2.0
    low = np.maximum(np.searchsorted(time_s, middle - SPEED_WINDOW_S / 2.0, side="right") - 1, first)
    high = np.minimum(np.searchsorted(time_s, middle + SPEED_WINDOW_S / 2.0), last)
    # Cut off at one end of the run, the window reaches farther at the other.
    high = np.minimum(np.maximum(high, np.searchsorted(time_s, time_s[low] + SPEED_WINDOW_S)), last)
    low = np.maximum(
        np.minimum(low, np.searchsorted(time_s, time_s[high] - SPEED_WINDOW_S, side="right") - 1), first
    )
    return low, high


def _run_ends(gap: BoolArray) -> tuple[IntArray, IntArray]:
    """Return the first and the last mark of the run each stretch lies in; its own two for a gap."""
    legs = np.arange(len(gap))
    last_gap = np.maximum.accumulate(np.where(gap, legs, -1)) if len(gap) else legs
    next_gap = np.minimum.accumulate(np.where(gap, legs, len(gap))[::-1])[::-1] if len(gap) else legs
    first = np.where(gap, legs, last_gap + 1)
    last = np.where(gap, legs + 1, next_gap)
    return first, last


def _between(
    lon_deg: FloatArray, lat_deg: FloatArray, low: IntArray, high: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Return the straight distance, metres, and the true heading, radians, from marks to marks."""
    return _ways(solid(lon_deg), solid(lat_deg), solid(low, np.int64), solid(high, np.int64))


@compiled
def _ways(
    lon_deg: FloatArray, lat_deg: FloatArray, low: IntArray, high: IntArray
) -> tuple[FloatArray, FloatArray]:
    way_m, heading = np.empty(len(low)), np.empty(len(low))
    for way in range(len(low)):
        a, b = low[way], high[way]
        start, end = geocentric(lon_deg[a], lat_deg[a]), geocentric(lon_deg[b], lat_deg[b])
        x, y, z = end[0] - start[0], end[1] - start[1], end[2] - start[2]
        lon, lat = math.radians(lon_deg[a]), math.radians(lat_deg[a])
        east = -math.sin(lon) * x + math.cos(lon) * y
        inward = math.cos(lon) * x + math.sin(lon) * y
        north = math.cos(lat) * z - math.sin(lat) * inward
        way_m[way] = math.sqrt(x**2 + y**2 + z**2)
        heading[way] = math.atan2(east, north)
    return way_m, heading


def _steadiness(time_s: FloatArray, lasts_s: FloatArray, heading: FloatArray, known: BoolArray) -> FloatArray:
    """Return the mean resultant length of the headings around each stretch, weighted by time.

    References
    ----------
    Mardia and Jupp (2000), Directional Statistics, section 2.3.
    """
    n = len(lasts_s)
    if not n:
        return np.empty(0)
    first, last = _run_ends(~known)
    legs = np.arange(n)
    middle = (time_s[:-1] + time_s[1:]) / 2.0
    half = _HEADING_LEGS // 2
    low = np.minimum(np.searchsorted(time_s, middle - HEADING_WINDOW_S / 2.0), legs - half)
    high = np.maximum(
        np.searchsorted(time_s, middle + HEADING_WINDOW_S / 2.0, side="right") - 1, legs + 1 + half
    )
    low, high = np.maximum(low, first), np.minimum(high, last)
    weight = np.where(known, lasts_s, 0.0)
    east, north, total = (
        np.concatenate([[0.0], np.cumsum(weight * column)])
        for column in (np.sin(heading), np.cos(heading), np.ones(n))
    )
    spent = total[high] - total[low]
    able = known & (high - low >= 2) & (spent > 0.0)
    length = np.hypot(east[high] - east[low], north[high] - north[low]) / np.where(able, spent, 1.0)
    return np.where(able, np.minimum(length, 1.0), np.nan)
