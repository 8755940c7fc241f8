"""Compiled passes over the marks of a track: runs without gaps, windows around stretches, ways, headings."""

from __future__ import annotations

import math

import numpy as np

from towzone.geodesy.compiling import compiled
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.points import chord, geocentric, row
from towzone.tows.mark_loops import BoolArray, IntArray

__all__ = ["resultants", "run_ends", "spans_around", "speed_windows", "ways"]


@compiled
def run_ends(gap: BoolArray) -> tuple[IntArray, IntArray]:
    """Return the first and the last mark of the run each stretch lies in; its own two for a gap."""
    first, last = np.empty(len(gap), np.int64), np.empty(len(gap), np.int64)
    begin = 0
    for leg in range(len(gap)):
        if gap[leg]:
            begin = leg + 1
        first[leg] = leg if gap[leg] else begin
    end = len(gap)
    for leg in range(len(gap) - 1, -1, -1):
        if gap[leg]:
            end = leg
        last[leg] = leg + 1 if gap[leg] else end
    return first, last


@compiled
def speed_windows(time_s: FloatArray, gap: BoolArray, least_s: float) -> tuple[IntArray, IntArray]:
    """Return the marks over which the speed of each stretch is taken.

    Half of ``least_s`` before and after the middle of the stretch, within its run; what is cut off at one end
    of the run is made up for at the other, as far as it goes.
    """
    first, last = run_ends(gap)
    # Beside a long leg the window stays among short ones, if these last long enough: its mean is not theirs.
    apart = gap.copy()
    for leg in range(len(gap)):
        apart[leg] |= time_s[leg + 1] - time_s[leg] >= least_s
    near_first, near_last = run_ends(apart)
    low, high = np.empty(len(gap), np.int64), np.empty(len(gap), np.int64)
    for leg in range(len(gap)):
        begin, end = first[leg], last[leg]
        if time_s[near_last[leg]] - time_s[near_first[leg]] >= least_s:
            begin, end = near_first[leg], near_last[leg]
        middle_s = (time_s[leg] + time_s[leg + 1]) / 2.0
        a = _back_to(time_s, middle_s - least_s / 2.0, leg, begin)
        b = _on_to(time_s, middle_s + least_s / 2.0, leg + 1, end)
        b = _on_to(time_s, time_s[a] + least_s, b, end)
        low[leg], high[leg] = _back_to(time_s, time_s[b] - least_s, a, begin), b
    return low, high


@compiled
def _back_to(time_s: FloatArray, instant_s: float, mark: int, begin: int) -> int:
    """Return the last mark no later than an instant, from one mark back; ``begin`` at the earliest."""
    while mark > begin and time_s[mark] > instant_s:
        mark -= 1
    return mark


@compiled
def _on_to(time_s: FloatArray, instant_s: float, mark: int, end: int) -> int:
    """Return the first mark no earlier than an instant, from one mark on; ``end`` at the latest."""
    while mark < end and time_s[mark] < instant_s:
        mark += 1
    return mark


@compiled
def ways(
    lon_deg: FloatArray, lat_deg: FloatArray, low: IntArray, high: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return straight distances, metres, and true headings, radians.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (m,)
        Marks.
    low, high : ndarray of int64, shape (m - 1,)
        Of each stretch, the marks over which its speed is taken.

    Returns
    -------
    way_m : ndarray, shape (m - 1,)
        From each mark to the next.
    across_m, heading : ndarray, shape (m - 1,)
        From the low marks to the high ones.
    """
    points_m = np.empty((len(lon_deg), 3))
    turns = np.empty((len(lon_deg), 4))
    for mark in range(len(lon_deg)):
        points_m[mark, 0], points_m[mark, 1], points_m[mark, 2] = geocentric(lon_deg[mark], lat_deg[mark])
        lon, lat = math.radians(lon_deg[mark]), math.radians(lat_deg[mark])
        turns[mark, 0], turns[mark, 1] = math.sin(lon), math.cos(lon)
        turns[mark, 2], turns[mark, 3] = math.sin(lat), math.cos(lat)
    way_m, across_m, heading = np.empty(len(low)), np.empty(len(low)), np.empty(len(low))
    for way in range(len(low)):
        a, b = low[way], high[way]
        start, end = row(points_m, a), row(points_m, b)
        x, y, z = end[0] - start[0], end[1] - start[1], end[2] - start[2]
        east = -turns[a, 0] * x + turns[a, 1] * y
        inward = turns[a, 1] * x + turns[a, 0] * y
        north = turns[a, 3] * z - turns[a, 2] * inward
        way_m[way] = chord(row(points_m, way), row(points_m, way + 1))
        across_m[way] = chord(start, end)
        heading[way] = math.atan2(east, north)
    return way_m, across_m, heading


@compiled
def spans_around(time_s: FloatArray, half_s: float) -> tuple[IntArray, IntArray]:
    """Return the first and the last mark within half a window of the middle of each stretch."""
    legs = max(len(time_s) - 1, 0)
    low, high = np.empty(legs, np.int64), np.empty(legs, np.int64)
    first = after = 0
    for leg in range(legs):
        middle_s = (time_s[leg] + time_s[leg + 1]) / 2.0
        while first < len(time_s) and time_s[first] < middle_s - half_s:
            first += 1
        while after < len(time_s) and time_s[after] <= middle_s + half_s:
            after += 1
        low[leg], high[leg] = first, after - 1
    return low, high


@compiled
def resultants(
    time_s: FloatArray, unknown: BoolArray, east: FloatArray, north: FloatArray, half_s: float, half_legs: int
) -> FloatArray:
    """Return the mean resultant length of the headings around each stretch, weighted by time.

    Parameters
    ----------
    time_s : ndarray, shape (m,)
    unknown : ndarray of bool, shape (m - 1,)
        Stretches without a heading that can be told; no window reaches over one.
    east, north : ndarray, shape (m - 1,)
        Sines and cosines of the headings.
    half_s, half_legs : float, int
        The window reaches so far, and over so many legs at the least, before and after a stretch.

    Returns
    -------
    ndarray, shape (m - 1,)
        ``NaN`` where unknown, and where there are fewer than two headings or no time.
    """
    legs = len(unknown)
    spent_s, east_s, north_s = np.zeros(legs + 1), np.zeros(legs + 1), np.zeros(legs + 1)
    for leg in range(legs):
        weight_s = 0.0 if unknown[leg] else time_s[leg + 1] - time_s[leg]
        spent_s[leg + 1] = spent_s[leg] + weight_s
        east_s[leg + 1] = east_s[leg] + weight_s * east[leg]
        north_s[leg + 1] = north_s[leg] + weight_s * north[leg]
    first, last = run_ends(unknown)
    low, high = spans_around(time_s, half_s)
    found = np.full(legs, np.nan)
    for leg in range(legs):
        a = max(min(low[leg], leg - half_legs), first[leg])
        b = min(max(high[leg], leg + 1 + half_legs), last[leg])
        if unknown[leg] or b - a < 2 or not spent_s[b] > spent_s[a]:
            continue
        length = math.hypot(east_s[b] - east_s[a], north_s[b] - north_s[a]) / (spent_s[b] - spent_s[a])
        found[leg] = 1.0 if length > 1.0 else length
    return found
