"""Which steps between fixes a vessel could have made, judged so mildly that true fixes are not blamed.

A fix is a witness; it is set aside only when it tells what cannot have been. Three things keep true
fixes from being blamed: the top speed counts `CLEARLY` times, never as less than `LEAST_SPEED_KN`, and
every step has the error of both its fixes for nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.geodesy.ellipsoid import SEMI_MAJOR_M, SEMI_MINOR_M, to_geocentric
from towzone.model.track import Track
from towzone.tracks.raw import NOT_A_TIME
from towzone.units import KNOT_MPS, NAUTICAL_MILE_M

__all__ = [
    "CLEARLY",
    "LEAST_ERROR_M",
    "LEAST_SPEED_KN",
    "BoolArray",
    "FloatArray",
    "IntArray",
    "Possible",
    "fixes_within",
    "impossible_above_kn",
    "possible_in",
]

CLEARLY = 1.5
"""Own choice: only what is faster than one and a half times the top speed is impossible. A following
tide, and a figure from memory, make up less; whatever is merely faster is remarked on by the check."""

LEAST_SPEED_KN = 20.0
"""Own choice: hardly any vessel that tows goes faster, so that a top speed stated too low (the speed of
towing, say) does not turn its steaming into impossible jumps."""

LEAST_ERROR_M = 10.0
"""Own choice: ordinary receivers scatter by metres whatever is stated (8 m for 95 % of the time, GPS
civil service standard, 5th ed., 2020, from memory); at ten fixes a second that is no jump."""

_GRIDS_DEG = (0.1 / 60.0, 0.001, 1.0 / 3600.0, 0.01 / 60.0, 0.0001)
"""Tenths of a minute, thousandths of a degree, seconds and so on, coarsest first: the last digits in
which positions are written, as far as they matter beside `LEAST_ERROR_M`. Common practice, no source."""

_FEWEST_ON_A_GRID = 20
"""Own choice: so many positions do not lie on a grid by chance."""

_UNBOUNDED_US = 2**61
"""Stands for a time before or after all others; differences of two still fit into 64 bits."""

_MOST_M_PER_DEG = 1.001 * math.radians(SEMI_MAJOR_M**2 / SEMI_MINOR_M)
"""No degree on the ellipsoid is longer: it is flattest at its poles, where the radius of curvature is
``a^2 / b`` along every line (closed form, from memory). With a thousandth to spare, which no rounding uses
up."""

_BLOCK = 1_000_000
"""Fixes looked at together, which bounds the memory. Own choice."""

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Possible:
    """What a vessel could have done between the fixes of a track.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (n,)
    earliest_us, latest_us : ndarray of int64, shape (n,)
        Time of each fix, microseconds; for one without time the known times around it.
    speed_kn : float
        Above this a step is impossible.
    slack_m : float
        What two fixes may be apart without any time: the errors of both.
    """

    lon_deg: FloatArray
    lat_deg: FloatArray
    earliest_us: IntArray
    latest_us: IntArray
    speed_kn: float
    slack_m: float

    def __len__(self) -> int:
        return len(self.lon_deg)

    def most_s(self, before: IntArray, after: IntArray) -> FloatArray:
        """Return the longest that can have passed between fixes, seconds."""
        return (self.latest_us[after] - self.earliest_us[before]) / 1e6

    def least_s(self, before: IntArray, after: IntArray) -> FloatArray:
        """Return the shortest that can have passed between fixes, seconds; below zero when not known."""
        return (self.earliest_us[after] - self.latest_us[before]) / 1e6

    def apart_m(self, one: IntArray, other: IntArray) -> FloatArray:
        """Return the straight distances between fixes, metres: never more than any way on the surface."""
        start = to_geocentric(self.lon_deg[one], self.lat_deg[one])
        end = to_geocentric(self.lon_deg[other], self.lat_deg[other])
        return np.asarray(np.sqrt(((end - start) ** 2).sum(axis=-1)))

    def between(self, before: IntArray, after: IntArray) -> BoolArray:
        """Return whether the later of two fixes could have been reached from the earlier one."""
        way_m = self.speed_kn * KNOT_MPS * self.most_s(before, after) + self.slack_m
        return np.asarray(self.apart_m(before, after) <= way_m)

    def impossible_steps(self) -> IntArray:
        """Return the fixes from which the very next one could not have been reached, in order."""
        found = []
        for low in range(0, len(self) - 1, _BLOCK):
            here = slice(low, min(low + _BLOCK, len(self) - 1) + 1)
            most_s = (self.latest_us[here][1:] - self.earliest_us[here][:-1]) / 1e6
            way_m = self.speed_kn * KNOT_MPS * most_s + self.slack_m
            # North and then east is never shorter than straight on; most steps are settled by that alone.
            turned_deg = np.abs(np.diff(self.lon_deg[here])) + np.abs(np.diff(self.lat_deg[here]))
            far = low + np.flatnonzero(~(turned_deg * _MOST_M_PER_DEG <= way_m))
            found.append(far[~self.between(far, far + 1)])
        return np.concatenate(found) if found else np.empty(0, dtype=np.int64)


def impossible_above_kn(max_speed_kn: float) -> float:
    """Return the speed above which a step is impossible for a vessel of a stated top speed."""
    return max(CLEARLY * max_speed_kn, LEAST_SPEED_KN)


def possible_in(track: Track, *, max_speed_kn: float, position_error_m: float) -> Possible:
    """Return what the vessel could have done between the fixes of a track.

    Parameters
    ----------
    track : Track
    max_speed_kn, position_error_m : float
        As stated for the vessel.
    """
    error_m = max(position_error_m, LEAST_ERROR_M)
    written_m = max(track.resolution_m, _written_to_m(track.lon_deg, track.lat_deg))
    earliest_us, latest_us = _time_bounds(track.time_utc.view(np.int64))
    return Possible(
        lon_deg=track.lon_deg,
        lat_deg=track.lat_deg,
        earliest_us=earliest_us,
        latest_us=latest_us,
        speed_kn=impossible_above_kn(max_speed_kn),
        slack_m=2.0 * (error_m + written_m),
    )


def fixes_within(first: IntArray, last: IntArray) -> IntArray:
    """Return all fixes from each first to each last, both included."""
    sizes = np.maximum(last - first + 1, 0)
    offsets = np.arange(int(sizes.sum())) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    return np.asarray(np.repeat(first, sizes) + offsets)


def _time_bounds(time_us: IntArray) -> tuple[IntArray, IntArray]:
    """Return the latest known time at or before each fix and the earliest at or after it."""
    known = time_us != NOT_A_TIME
    if known.all():
        return time_us, time_us
    earliest = np.maximum.accumulate(np.where(known, time_us, -_UNBOUNDED_US))
    latest = np.minimum.accumulate(np.where(known, time_us, _UNBOUNDED_US)[::-1])[::-1]
    return earliest, latest


def _written_to_m(lon_deg: FloatArray, lat_deg: FloatArray) -> float:
    """Return how far positions may be off because all lie on one coarse grid; 0 where they do not."""
    if len(lon_deg) < _FEWEST_ON_A_GRID:
        return 0.0
    for grid_deg in _GRIDS_DEG:
        if _on_grid(lon_deg, grid_deg) and _on_grid(lat_deg, grid_deg):
            nearest = math.cos(math.radians(float(np.abs(lat_deg).min())))
            return 0.5 * grid_deg * 60.0 * NAUTICAL_MILE_M * math.hypot(1.0, nearest)
    return 0.0


def _on_grid(column_deg: FloatArray, grid_deg: float) -> bool:
    # The first few settle it for all but coarse files.
    for low, high in ((0, 100), *((at, at + _BLOCK) for at in range(100, len(column_deg), _BLOCK))):
        steps = column_deg[low:high] / grid_deg
        if (np.abs(steps - np.round(steps)) > 1e-6).any():
            return False
    return True
