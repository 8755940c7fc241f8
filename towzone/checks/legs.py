"""What is known of each leg between two fixes: time, length, speed, and which tow it belongs to."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from towzone.checks.settings import CheckSettings, Towing
from towzone.errors import GeometryError
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, to_geocentric
from towzone.geodesy.lines import LONGEST_EDGE_M, LineKind, inverse
from towzone.geodesy.pieces import leg_lengths
from towzone.model.track import Track, TrackKind
from towzone.units import KNOT_MPS, Instants, format_position

__all__ = [
    "SPEED_WINDOW_S",
    "STOP_SPEED_KN",
    "STOP_TIME_S",
    "BoolArray",
    "alone_fixes",
    "filled_times",
    "group_of_fixes",
    "lengths_along",
    "seconds_since_epoch",
    "tow_legs",
    "window_speeds",
]

BoolArray = npt.NDArray[np.bool_]

STOP_SPEED_KN = 0.5
"""Slower is not moving. Common practice, no source; a tow is never that slow."""

STOP_TIME_S = 600.0
"""A stop is at least this long. Own choice."""

SPEED_WINDOW_S = 60.0
"""Speeds are taken over at least this long, so that the noise of positions stays small. Own choice."""


def seconds_since_epoch(time_utc: Instants) -> FloatArray:
    """Return instants as seconds since 1970, ``NaN`` for ``NaT``."""
    whole = time_utc.astype("datetime64[us]")
    return np.where(np.isnat(whole), np.nan, whole.astype(np.int64) / 1e6)


def filled_times(track: Track) -> tuple[FloatArray, FloatArray, int]:
    """Return times with those between timed fixes filled in by distance, and each leg's known bracket.

    The bracket is the time between the nearest *timed* fixes around a leg, infinite where one is missing:
    what is proved about a leg is proved by those alone.
    """
    time_s = seconds_since_epoch(track.time_utc)
    timed = np.flatnonzero(~np.isnan(time_s))
    legs = np.arange(len(time_s) - 1)
    before = np.searchsorted(timed, legs, side="right") - 1
    after = before + 1
    known = (before >= 0) & (after < len(timed))
    bracket_s = np.full(len(legs), np.inf)
    low, high = timed[before[known]], timed[after[known]]
    bracket_s[known] = time_s[high] - time_s[low]
    blank = np.flatnonzero(np.isnan(time_s))
    inner = blank[(blank > timed[0]) & (blank < timed[-1])] if len(timed) else blank[:0]
    if len(inner):
        steps = leg_lengths(track.lon_deg, track.lat_deg) + 1e-6  # never a division of nothing by nothing
        travelled = np.concatenate([[0.0], np.cumsum(steps)])
        time_s[inner] = np.interp(travelled[inner], travelled[timed], time_s[timed])
    return time_s, bracket_s, len(inner)


def lengths_along(track: Track, kind: LineKind) -> FloatArray:
    """Return the length of each leg by its kind of line, metres, shape (n - 1,).

    Raises
    ------
    GeometryError
        A leg is too long or ambiguous; names the track and the fixes.
    """
    lon, lat = track.lon_deg, track.lat_deg
    lengths_m = leg_lengths(lon, lat)
    if kind is LineKind.GEODESIC and not np.any(lengths_m > LONGEST_EDGE_M):
        return lengths_m
    try:
        return inverse(kind, lon[:-1], lat[:-1], lon[1:], lat[1:])[0]
    except GeometryError:
        _name_bad_leg(track, kind)
        raise


def _name_bad_leg(track: Track, kind: LineKind) -> None:
    """Raise the error of the first leg that cannot be measured, with its place."""
    lon, lat = track.lon_deg, track.lat_deg
    for leg in range(len(track) - 1):
        try:
            inverse(kind, lon[leg], lat[leg], lon[leg + 1], lat[leg + 1])
        except GeometryError as error:
            ends = f"{format_position(lon[leg], lat[leg])} to {format_position(lon[leg + 1], lat[leg + 1])}"
            message = (
                f"{track.source}: track '{track.track_id}', fix {leg + 1} to {leg + 2} ({ends}): {error}"
            )
            raise GeometryError(message) from error


def window_speeds(track: Track, time_s: FloatArray, timely: BoolArray) -> FloatArray:
    """Return for each leg the speed over the ground, knots, from its start over a window of timely legs.

    The straight distance across the window counts, not the sum of its legs: that would add up the noise
    of every position. ``NaN`` where times are unknown or the leg itself is not timely.
    """
    n = len(timely)
    if not n:
        return np.empty(0)
    runs_out = np.append(np.flatnonzero(~timely), n)
    run_end = runs_out[np.searchsorted(runs_out, np.arange(n))]
    usable = np.where(np.isnan(time_s), -np.inf, time_s)
    target = np.searchsorted(np.maximum.accumulate(usable), usable[:-1] + SPEED_WINDOW_S)
    target = np.clip(target, np.arange(n) + 1, np.maximum(run_end, np.arange(n) + 1))
    elapsed = time_s[target] - time_s[:-1]
    xyz = to_geocentric(track.lon_deg, track.lat_deg)
    distance = np.sqrt(((xyz[target] - xyz[:-1]) ** 2).sum(axis=1))
    known = timely & ~np.isnan(elapsed) & (elapsed > 0.0)
    return np.where(known, distance / np.where(known, elapsed, 1.0) / KNOT_MPS, np.nan)


def tow_legs(
    track: Track, settings: CheckSettings, time_s: FloatArray, speed_kn: FloatArray, covered: BoolArray
) -> tuple[IntArray, int]:
    """Return the tow number (from 0) of each leg, -1 for legs that are not towing, and how many tows."""
    n = len(track) - 1
    if track.kind is TrackKind.PLANNED or n < 1:
        towing = track.kind is TrackKind.PLANNED or settings.towing is Towing.ALL
        return np.full(max(n, 0), 0 if towing else -1), int(towing)
    if settings.towing is Towing.NONE:
        return np.full(n, -1), 0
    stopped = _stopped_legs(time_s, speed_kn)
    begins = ~stopped & np.append(True, stopped[:-1])
    number = np.where(stopped, -1, np.cumsum(begins) - 1)
    # A stretch without a single position of its own between two stops is a gap, not a tow.
    supported = np.union1d(number[covered & ~stopped], number[_leg_of(alone_fixes(covered), n)])
    supported = supported[supported >= 0]
    return np.where(np.isin(number, supported), np.searchsorted(supported, number), -1), len(supported)


def _stopped_legs(time_s: FloatArray, speed_kn: FloatArray) -> BoolArray:
    """Return the legs of stretches slower than `STOP_SPEED_KN` for at least `STOP_TIME_S`."""
    # Unknown speed is never taken for a stop.
    slow = np.nan_to_num(speed_kn, nan=np.inf) < STOP_SPEED_KN
    edges = np.flatnonzero(np.diff(np.concatenate([[0], slow.astype(np.int8), [0]])))
    stopped = np.zeros(len(slow), dtype=bool)
    for first, last in zip(edges[0::2].tolist(), edges[1::2].tolist(), strict=True):
        if time_s[last] - time_s[first] >= STOP_TIME_S:
            stopped[first:last] = True
    return stopped


def alone_fixes(covered: BoolArray) -> IntArray:
    """Return the fixes that no covered leg begins or ends at."""
    return np.flatnonzero(np.append(True, ~covered) & np.append(~covered, True))


def _leg_of(fix: IntArray, legs: int) -> IntArray:
    return np.minimum(fix, legs - 1)


def group_of_fixes(fix: IntArray, leg_group: IntArray, tows: int) -> IntArray:
    """Return the tow (from 0) that lone fixes belong to, -1 for none: that of the leg after (or before)."""
    if not len(leg_group):
        return np.full(len(fix), 0 if tows else -1)
    return leg_group[_leg_of(fix, len(leg_group))]
