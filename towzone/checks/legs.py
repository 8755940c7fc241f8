"""What is known of each leg between two fixes: time, length, speed, and which tow it belongs to."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from towzone.checks.leg_loops import BoolArray, near_each_other, speeds_over, strides_over
from towzone.errors import GeometryError
from towzone.geodesy.compiling import solid
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.lines import LONGEST_EDGE_M, LineKind, inverse
from towzone.geodesy.pieces import leg_lengths
from towzone.model.track import Track, TrackKind
from towzone.units import Instants, format_position

__all__ = [
    "SPEED_WINDOW_S",
    "BoolArray",
    "LegLengths",
    "alone_fixes",
    "filled_times",
    "leg_of",
    "lengths_along",
    "made_good",
    "refuse_bad_legs",
    "seconds_since_epoch",
    "window_speeds",
]

SPEED_WINDOW_S = 60.0
"""Speeds are taken over at least this long, so that the noise of positions stays small. Own choice."""


_BLOCK = 1_000_000
"""Legs looked at together; bounds memory, not the answer."""


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
    if not np.isnan(time_s).any():
        return time_s, np.diff(time_s), 0
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
    blocks = [
        leg_lengths(lon[begin : begin + _BLOCK + 1], lat[begin : begin + _BLOCK + 1])
        for begin in range(0, max(len(lon) - 1, 1), _BLOCK)
    ]
    lengths_m = np.concatenate(blocks)
    if kind is LineKind.GEODESIC and not np.any(lengths_m > LONGEST_EDGE_M):
        return lengths_m
    try:
        return inverse(kind, lon[:-1], lat[:-1], lon[1:], lat[1:])[0]
    except GeometryError:
        _name_bad_leg(track, kind)
        raise


def refuse_bad_legs(track: Track, kind: LineKind) -> None:
    """Stop where a leg is too long or ambiguous; see `lengths_along`.

    Legs that span less than a few degrees either way are not measured for it.
    """
    if kind is not LineKind.GEODESIC or not near_each_other(solid(track.lon_deg), solid(track.lat_deg)):
        lengths_along(track, kind)


class LegLengths:
    """The lengths of the legs of a track, made when they are asked for.

    Parameters
    ----------
    track : Track
    kind : LineKind
        How fixes are joined.
    time_s : ndarray, shape (n,)
    covered : ndarray of bool, shape (n - 1,)
    """

    def __init__(self, track: Track, kind: LineKind, time_s: FloatArray, covered: BoolArray) -> None:
        self._track, self._kind, self._time_s, self._covered = track, kind, time_s, covered

    @cached_property
    def length_m(self) -> FloatArray:
        """Of each leg, shape ``(n - 1,)``."""
        return lengths_along(self._track, self._kind)

    @cached_property
    def travelled_m(self) -> FloatArray:
        """Metres made good on covered legs up to each fix, shape ``(n,)``."""
        if self._track.kind is TrackKind.PLANNED:
            made_m = np.where(self._covered, self.length_m, 0.0)
        else:
            made_m = made_good(self._track, self._time_s, self.length_m, self._covered)
        return np.concatenate([[0.0], np.cumsum(made_m)])


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
    columns = (solid(track.lon_deg), solid(track.lat_deg), solid(time_s), solid(timely, np.bool_))
    return speeds_over(*columns, SPEED_WINDOW_S)


def alone_fixes(covered: BoolArray) -> IntArray:
    """Return the fixes that no covered leg begins or ends at."""
    return np.flatnonzero(np.append(True, ~covered) & np.append(~covered, True))


def leg_of(fix: IntArray, legs: int) -> IntArray:
    """Return the leg after each fix (before it at the end of the path)."""
    return np.minimum(fix, legs - 1)


def made_good(track: Track, time_s: FloatArray, length_m: FloatArray, covered: BoolArray) -> FloatArray:
    """Return the metres made good on each covered leg, 0 on the others, shape (n - 1,).

    Every stretch of covered legs is stepped off in strides of at least `SPEED_WINDOW_S`, straight from
    position to position, and each stride is shared out among its legs by their length: the sum of the legs
    themselves would add up the noise of every position, at one fix a second to several times the way.
    """
    columns = (solid(track.lon_deg), solid(track.lat_deg), solid(time_s), solid(length_m))
    return strides_over(*columns, solid(covered, np.bool_), SPEED_WINDOW_S)
