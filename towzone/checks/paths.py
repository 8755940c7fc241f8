"""A track as a path that can be measured: what its positions cover, what they leave open, what is a tow.

Places on a path are numbers: ``3.25`` is a quarter of the way from fix 3 to fix 4.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from towzone.checks.activity import Doing, doing
from towzone.checks.intervals import Intervals
from towzone.checks.leg_loops import least_over
from towzone.checks.legs import BoolArray, LegLengths, filled_times, refuse_bad_legs, window_speeds
from towzone.checks.place_loops import at_fixes, corners_of, piece_places
from towzone.checks.places import instant, positions_at, value_at, values_at
from towzone.checks.settings import CheckSettings
from towzone.checks.shares import Group, gap_units, shares_of, units_of
from towzone.checks.tow_facts import tows_of
from towzone.geodesy.approach import Side
from towzone.geodesy.compiling import solid
from towzone.geodesy.edges import Edges
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.lines import LineKind
from towzone.geodesy.pieces import cut, cut_legs
from towzone.model.result import Gap, Tow
from towzone.model.track import Track, TrackKind
from towzone.units import KNOT_MPS

__all__ = ["Path", "build_path", "side_of"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Path:
    """A track made ready for measuring.

    Parameters
    ----------
    track : Track
    time_s : ndarray, shape (n,)
        Seconds since 1970 UTC, ``NaN`` where unknown; times of fixes between timed ones are filled in.
    filled : int
        How many times were filled in.
    kind : LineKind
        How fixes are joined.
    timely : ndarray of bool, shape (n - 1,)
        Whether a leg took no longer than what may be sailed straight.
    covered : ndarray of bool, shape (n - 1,)
        Whether a leg may be taken as sailed along its line.
    lengths : LegLengths
    groups : tuple of Group
    gaps : tuple of Gap
    gap_unit : tuple of int or None
        Number of the unit each gap lies in, ``None`` for gaps outside tows and doubts.
    tows : tuple of Tow
    doing : Doing
    """

    track: Track
    time_s: FloatArray
    filled: int
    kind: LineKind
    timely: BoolArray
    covered: BoolArray
    lengths: LegLengths
    groups: tuple[Group, ...]
    gaps: tuple[Gap, ...]
    gap_unit: tuple[int | None, ...]
    tows: tuple[Tow, ...]
    doing: Doing

    @property
    def length_m(self) -> FloatArray:
        """The length of each leg, metres, shape ``(n - 1,)``."""
        return self.lengths.length_m

    @property
    def travelled_m(self) -> FloatArray:
        """The metres made good on covered legs up to each fix, shape ``(n,)``."""
        return self.lengths.travelled_m

    @cached_property
    def speed_kn(self) -> FloatArray:
        """The speed on each leg over `SPEED_WINDOW_S` or more, knots, ``NaN`` where unknown."""
        return window_speeds(self.track, self.time_s, self.timely)

    def positions(self, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return longitudes and latitudes of places, degrees."""
        return positions_at(self.track, self.kind, place)

    def time_at(self, place: float) -> np.datetime64:
        """Return the time of a place, ``NaT`` when unknown."""
        return instant(value_at(self.time_s, place))

    def lengths_between(self, first: FloatArray, last: FloatArray) -> FloatArray:
        """Return the metres made good on covered legs between pairs of places."""
        return values_at(self.travelled_m, last) - values_at(self.travelled_m, first)

    def least_speeds_kn(self, first: FloatArray, last: FloatArray) -> FloatArray:
        """Return the least speed on the legs between pairs of places, ``NaN`` when unknown."""
        begin = first.astype(np.int64)
        end = np.minimum(np.maximum(begin + 1, np.ceil(last).astype(np.int64)), len(self.covered))
        return least_over(self.speed_kn, solid(self.covered, np.bool_), begin, end)


def build_path(track: Track, settings: CheckSettings, changes_s: Sequence[float] = ()) -> Path:
    """Return a track as a path; nothing of it is left out or smoothed.

    Parameters
    ----------
    changes_s : sequence of float
        Instants, seconds since 1970, at which some rule begins or ceases to hold.

    Raises
    ------
    GeometryError
        A leg is too long or ambiguous (`towzone.geodesy.lines.inverse`); names the track and the fixes.
    """
    planned = track.kind is TrackKind.PLANNED
    kind = settings.legs if planned else LineKind.GEODESIC
    time_s, bracket_s, filled = filled_times(track)
    refuse_bad_legs(track, kind)
    timely = bracket_s <= settings.gap_s
    # A new segment of the file means that positions were lost, however short the time.
    covered = np.ones(len(timely), dtype=bool) if planned else timely & (np.diff(track.part) == 0)
    lengths = LegLengths(track, kind, time_s, covered)
    done = doing(track, settings, time_s, timely, covered)
    tows = tows_of(track, kind, done.tows, time_s=time_s, lengths=lengths, covered=covered)
    units = units_of(covered, done, tows)
    groups = shares_of(units, time_s, changes_s)
    return Path(
        track=track,
        time_s=time_s,
        filled=filled,
        kind=kind,
        timely=timely,
        covered=covered,
        lengths=lengths,
        groups=groups,
        gaps=_gaps(track, settings, bracket_s, covered, lengths),
        gap_unit=gap_units(covered, done, units),
        tows=tows,
        doing=done,
    )


def side_of(
    track: Track, kind: LineKind, stretches: Sequence[Intervals]
) -> tuple[Side, FloatArray, FloatArray]:
    """Return the pieces of sets of stretches, each set the owner of its own, and the places of their ends."""
    first = np.concatenate([np.empty(0), *(some.first for some in stretches)])
    last = np.concatenate([np.empty(0), *(some.last for some in stretches)])
    owner = np.repeat(np.arange(len(stretches)), [len(some) for some in stretches])
    place, counts = corners_of(solid(first), solid(last))
    lon, lat = _corner_positions(track, kind, place)
    if kind is LineKind.GEODESIC:
        pieces = cut_legs(lon, lat, counts, owner)
        begins = pieces.edge
    else:
        # Each corner but the last of its stretch begins a leg; a lone one begins and ends one.
        after = np.arange(1, len(place) + 1)
        ends = np.cumsum(counts) - 1
        after[ends] = ends
        begin = np.flatnonzero((after > np.arange(len(place))) | (np.repeat(counts, counts) == 1))
        edges = Edges(
            lon0_deg=lon[begin],
            lat0_deg=lat[begin],
            lon1_deg=lon[after[begin]],
            lat1_deg=lat[after[begin]],
            owner=np.repeat(owner, counts)[begin],
            kind=np.full(len(begin), kind, dtype=object),
        )
        pieces = cut(edges)
        begins = begin[pieces.edge]
    side = Side.of(pieces, len(stretches))
    if len(counts) == 1 and len(pieces) == len(place) - 1:
        # One stretch of legs that are a piece each, as in a long track.
        return side, place[:-1], place[1:]
    return side, *piece_places(place, counts, begins, solid(pieces.from_part), solid(pieces.to_part))


def _corner_positions(track: Track, kind: LineKind, place: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the positions of places of which nearly all are fixes."""
    lon, lat, between = at_fixes(solid(track.lon_deg), solid(track.lat_deg), place)
    if len(between):
        lon[between], lat[between] = positions_at(track, kind, place[between])
    return lon, lat


def _gaps(
    track: Track, settings: CheckSettings, bracket_s: FloatArray, covered: BoolArray, lengths: LegLengths
) -> tuple[Gap, ...]:
    open_ = np.flatnonzero(~covered)
    if not len(open_):
        return ()
    error_m = 2.0 * settings.position_error_m
    # The vessel did get across, however fast the fixes say it went: never less than the straight way.
    straight_m, seconds = lengths.length_m[open_], bracket_s[open_]
    reach_m = np.maximum(settings.max_speed_kn * KNOT_MPS * seconds, straight_m) + error_m
    return tuple(
        Gap(
            fix=fix,
            from_utc=track.time_utc[fix],
            to_utc=track.time_utc[fix + 1],
            seconds=lasts_s if math.isfinite(lasts_s) else None,
            reach_m=far_m if math.isfinite(lasts_s) else None,
        )
        for fix, lasts_s, far_m in zip(open_.tolist(), seconds.tolist(), reach_m.tolist(), strict=True)
    )
