"""A track as a path that can be measured: what its positions cover, what they leave open, what is a tow.

Places on a path are numbers: ``3.25`` is a quarter of the way from fix 3 to fix 4.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from towzone.checks.intervals import Intervals, intersect, merged
from towzone.checks.legs import (
    BoolArray,
    alone_fixes,
    filled_times,
    group_of_fixes,
    lengths_along,
    tow_legs,
    window_speeds,
)
from towzone.checks.settings import CheckSettings
from towzone.geodesy.approach import Side
from towzone.geodesy.edges import Edges, IntArray
from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import LineKind, points_along
from towzone.geodesy.pieces import cut
from towzone.model.result import Activity, Gap, Tow
from towzone.model.track import Track, TrackKind
from towzone.units import KNOT_MPS

__all__ = ["Group", "Path", "build_path"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Group:
    """Part of a path that is measured together: one tow, or all that was not towing, or a share of it.

    Shares are made where a rule begins or ceases to hold, so that each is under the same rules throughout.

    Parameters
    ----------
    unit : int
        Number of the tow (from 0), or of what was not towing, that the group is a share of.
    tow : Tow or None
    activity : Activity
    covered : Intervals
        The stretches that the positions cover, as places on the path.
    first_s, last_s : float
        Times of its ends, seconds since 1970, ``NaN`` where unknown.
    """

    unit: int
    tow: Tow | None
    activity: Activity
    covered: Intervals
    first_s: float
    last_s: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
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
    covered : ndarray of bool, shape (n - 1,)
        Whether a leg may be taken as sailed along its line.
    length_m, speed_kn : ndarray, shape (n - 1,)
        Of each leg; the speed is taken over `SPEED_WINDOW_S` or more, ``NaN`` where unknown.
    groups : tuple of Group
    side : Side
        Pieces of all covered legs, owned by the group of the same number.
    piece_begin, piece_end : ndarray
        Places of the ends of each piece.
    travelled_m : ndarray, shape (n,)
        Metres sailed on covered legs up to each fix.
    gaps : tuple of Gap
    gap_unit : tuple of int or None
        Number of the tow (from 0) each gap lies in, ``None`` for gaps outside all tows.
    """

    track: Track
    time_s: FloatArray
    filled: int
    kind: LineKind
    covered: BoolArray
    length_m: FloatArray
    speed_kn: FloatArray
    groups: tuple[Group, ...]
    side: Side
    piece_begin: FloatArray
    piece_end: FloatArray
    travelled_m: FloatArray
    gaps: tuple[Gap, ...]
    gap_unit: tuple[int | None, ...]

    def places(self, piece: IntArray, part: FloatArray) -> FloatArray:
        """Return places on the path from fractions of pieces."""
        begin = self.piece_begin[piece]
        return np.asarray(begin + part * (self.piece_end[piece] - begin))

    def positions(self, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return longitudes and latitudes of places, degrees."""
        return _positions(self.track, self.kind, place)

    def time_at(self, place: float) -> np.datetime64:
        """Return the time of a place, ``NaT`` when unknown."""
        fix = min(int(place), len(self.track) - 1)
        part, seconds = place - fix, self.time_s[fix]
        if part > 0.0:
            seconds = seconds + part * (self.time_s[fix + 1] - seconds)
        if np.isnan(seconds):
            return np.datetime64("NaT", "us")
        return np.datetime64(round(float(seconds) * 1e6), "us")

    def length_between(self, first: float, last: float) -> float:
        """Return the metres sailed on covered legs between two places."""
        low, high = int(first), min(int(np.ceil(last)), len(self.track) - 1)
        fixes = np.arange(low, high + 1)
        ends = np.interp([first, last], fixes, self.travelled_m[low : high + 1])
        return float(ends[1] - ends[0])

    def least_speed_kn(self, first: float, last: float) -> float | None:
        """Return the least speed on the legs between two places, ``None`` when unknown."""
        legs = slice(int(first), max(int(first) + 1, int(np.ceil(last))))
        speeds = self.speed_kn[legs][self.covered[legs]]
        known = speeds[~np.isnan(speeds)]
        return float(known.min()) if len(known) else None


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
    length_m = lengths_along(track, kind)
    timely = bracket_s <= settings.gap_s
    # A new segment of the file means that positions were lost, however short the time.
    covered = np.ones(len(length_m), dtype=bool) if planned else timely & (np.diff(track.part) == 0)
    speed_kn = window_speeds(track, time_s, timely)
    leg_group, tows = tow_legs(track, settings, time_s, speed_kn, covered)
    units = _units(track, time_s, length_m, covered, leg_group, tows)
    groups = _shares(units, time_s, _cuts(time_s, changes_s))
    side, begin, end = _side(track, kind, groups)
    return Path(
        track=track,
        time_s=time_s,
        filled=filled,
        kind=kind,
        covered=covered,
        length_m=length_m,
        speed_kn=speed_kn,
        groups=groups,
        side=side,
        piece_begin=begin,
        piece_end=end,
        travelled_m=np.concatenate([[0.0], np.cumsum(np.where(covered, length_m, 0.0))]),
        gaps=_gaps(track, settings, bracket_s, covered, length_m),
        gap_unit=tuple(int(g) if g >= 0 else None for g in leg_group[~covered]),
    )


def _positions(track: Track, kind: LineKind, place: FloatArray) -> tuple[FloatArray, FloatArray]:
    fix = np.minimum(place.astype(np.int64), len(track) - 1)
    part = place - fix
    lon, lat = track.lon_deg[fix], track.lat_deg[fix]
    inner = np.flatnonzero(part > 0.0)
    if len(inner):
        ends = fix[inner] + 1
        east, lat[inner] = points_along(
            kind, lon[inner], lat[inner], track.lon_deg[ends], track.lat_deg[ends], part[inner]
        )
        lon[inner] = wrap_longitude(east)
    return lon, lat


_Unit = tuple[Tow | None, Activity, Intervals]


def _units(
    track: Track,
    time_s: FloatArray,
    length_m: FloatArray,
    covered: BoolArray,
    leg_group: IntArray,
    tows: int,
) -> list[_Unit]:
    """Return the tows and, last, all that was not towing, each with what the positions cover of it."""
    units: list[_Unit] = []
    for number in range(tows):
        legs = np.flatnonzero(leg_group == number)
        first, last = (int(legs[0]), int(legs[-1]) + 1) if len(legs) else (0, 0)
        span = Intervals(np.array([float(first)]), np.array([float(last)]))
        tow = _tow(track, number + 1, first, last, time_s, np.where(covered, length_m, 0.0))
        places = intersect(_covered_places(covered), span)
        # Where a stop only touches the tow, its last fix is the stop's, not a lone fix of the tow.
        own = (places.first < places.last) | np.isin(places.first, alone_fixes(covered))
        places = Intervals(places.first[own], places.last[own])
        units.append((tow, Activity.TOWING, places))
    legs, alone = np.flatnonzero(covered & (leg_group < 0)), alone_fixes(covered)
    alone = alone[group_of_fixes(alone, leg_group, tows) < 0]
    if len(legs) or len(alone):
        places = merged(np.concatenate([legs, alone]), np.concatenate([legs + 1.0, alone]))
        units.append((None, Activity.NOT_TOWING, places))
    return units


def _places_of(time_s: FloatArray, changes_s: Sequence[float]) -> list[float]:
    """Return the places at which instants fall, those within the timed part of the path only."""
    timed = np.flatnonzero(~np.isnan(time_s))
    places = []
    for instant in sorted(set(changes_s)):
        after = int(np.searchsorted(time_s[timed], instant))
        if 0 < after < len(timed):
            low, high = timed[after - 1], timed[after]
            part = (instant - time_s[low]) / (time_s[high] - time_s[low])
            places.append(float(low + part * (high - low)))
    return places


class _Cuts(NamedTuple):
    """Places at which a path is cut into shares; ``tail`` is where its times end, infinite at its end."""

    places: list[float]
    tail: float

    def share_of(self, place: FloatArray) -> IntArray:
        """Return the number of the share that single places belong to.

        A rule that begins at an instant holds at it, so a place on a cut belongs to what follows; but
        the last fix with a time belongs to what has times.
        """
        inner = self.places[:-1] if np.isfinite(self.tail) else self.places
        return np.asarray(np.searchsorted(inner, place, side="right") + (place > self.tail))


def _cuts(time_s: FloatArray, changes_s: Sequence[float]) -> _Cuts:
    """Return where rules change, and where the times begin and end if that is not with the path."""
    timed = np.flatnonzero(~np.isnan(time_s))
    places = _places_of(time_s, changes_s)
    if not len(timed):
        return _Cuts(places, np.inf)
    head = [float(timed[0])] if timed[0] > 0 else []
    if timed[-1] == len(time_s) - 1:
        return _Cuts([*head, *places], np.inf)
    return _Cuts([*head, *places, float(timed[-1])], float(timed[-1]))


def _shares(units: Sequence[_Unit], time_s: FloatArray, cuts: _Cuts) -> tuple[Group, ...]:
    groups = []
    for number, (tow, activity, covered) in enumerate(units):
        alone = covered.first[covered.first == covered.last]
        for n, (low, high) in enumerate(pairwise([-np.inf, *cuts.places, np.inf])):
            share = intersect(covered, Intervals(np.array([low]), np.array([high])))
            # A stretch that only touches the cut lies beyond it; a lone fix on it belongs to one side.
            here = np.isin(share.first, alone) & (cuts.share_of(share.first) == n)
            real = (share.first < share.last) | here
            share = Intervals(share.first[real], share.last[real])
            if len(share):
                ends = np.interp([share.first[0], share.last[-1]], np.arange(len(time_s)), time_s)
                groups.append(
                    Group(
                        unit=number,
                        tow=tow,
                        activity=activity,
                        covered=share,
                        first_s=float(ends[0]),
                        last_s=float(ends[1]),
                    )
                )
    return tuple(groups)


def _covered_places(covered: BoolArray) -> Intervals:
    """Return the stretches of consecutive covered legs; a lone fix is a stretch of one place."""
    legs, alone = np.flatnonzero(covered), alone_fixes(covered)
    return merged(np.concatenate([legs, alone]), np.concatenate([legs + 1.0, alone]))


def _tow(track: Track, number: int, first: int, last: int, time_s: FloatArray, covered_m: FloatArray) -> Tow:
    seconds = float(time_s[last] - time_s[first])
    length_m = float(covered_m[first:last].sum())
    known = not np.isnan(seconds)
    return Tow(
        track_id=track.track_id,
        number=number,
        first=first,
        last=last,
        shoot_utc=track.time_utc[first],
        haul_utc=track.time_utc[last],
        seconds=seconds if known else None,
        length_m=length_m,
        mean_speed_kn=length_m / seconds / KNOT_MPS if known and seconds > 0.0 else None,
        basis="all",
    )


def _side(track: Track, kind: LineKind, groups: Sequence[Group]) -> tuple[Side, FloatArray, FloatArray]:
    """Return the pieces of all that is covered, by group, and the places of their ends."""
    first = np.concatenate([np.empty(0), *(group.covered.first for group in groups)])
    last = np.concatenate([np.empty(0), *(group.covered.last for group in groups)])
    owner = np.repeat(np.arange(len(groups)), [len(group.covered) for group in groups])
    leg = np.floor(first)
    counts = np.maximum(1, np.ceil(last) - leg).astype(np.int64)
    row = np.repeat(np.arange(len(first)), counts)
    step = np.arange(len(row)) - np.repeat(np.cumsum(counts) - counts, counts)
    begin = np.maximum(first[row], leg[row] + step)
    end = np.minimum(last[row], leg[row] + step + 1.0)
    lon0, lat0 = _positions(track, kind, begin)
    lon1, lat1 = _positions(track, kind, end)
    edges = Edges(
        lon0_deg=lon0,
        lat0_deg=lat0,
        lon1_deg=lon1,
        lat1_deg=lat1,
        owner=owner[row],
        kind=np.full(len(row), kind, dtype=object),
    )
    pieces = cut(edges)
    span = (end - begin)[pieces.edge]
    starts = begin[pieces.edge]
    return Side.of(pieces, len(groups)), starts + pieces.from_part * span, starts + pieces.to_part * span


def _gaps(
    track: Track, settings: CheckSettings, bracket_s: FloatArray, covered: BoolArray, length_m: FloatArray
) -> tuple[Gap, ...]:
    error_m = 2.0 * settings.position_error_m
    # The vessel did get across, however fast the fixes say it went: never less than the straight way.
    reach_m = np.maximum(settings.max_speed_kn * KNOT_MPS * bracket_s, length_m) + error_m
    return tuple(
        Gap(
            fix=int(fix),
            from_utc=track.time_utc[fix],
            to_utc=track.time_utc[fix + 1],
            seconds=float(bracket_s[fix]) if np.isfinite(bracket_s[fix]) else None,
            reach_m=float(reach_m[fix]) if np.isfinite(bracket_s[fix]) else None,
        )
        for fix in np.flatnonzero(~covered)
    )
