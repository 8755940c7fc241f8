"""A track as a path that can be measured: what its positions cover, what they leave open, what is a tow.

Places on a path are numbers: ``3.25`` is a quarter of the way from fix 3 to fix 4.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from towzone.checks.activity import CANNOT_TELL, NOT_TOWING, Doing, TowSpan, doing
from towzone.checks.intervals import Intervals, intersect, merged
from towzone.checks.legs import (
    BoolArray,
    alone_fixes,
    filled_times,
    leg_of,
    lengths_along,
    made_good,
    window_speeds,
)
from towzone.checks.settings import CheckSettings
from towzone.geodesy.approach import Side
from towzone.geodesy.edges import Edges, IntArray
from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import LineKind, points_along
from towzone.geodesy.pieces import cut
from towzone.grids.crossed import cells_crossed
from towzone.grids.ices import ICES
from towzone.model.result import Activity, Gap, Tow
from towzone.model.track import Track, TrackKind
from towzone.units import KNOT_MPS

__all__ = ["Group", "Path", "build_path", "instant", "side_of"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Group:
    """Part of a path that is measured together: a tow, all that was not towing, or a share of these.

    Shares are made where a rule begins or ceases to hold, so that each is under the same rules throughout,
    and where a tow passes from shooting to towing and to hauling.

    Parameters
    ----------
    unit : int
        Number of the tow (from 0), of all of which towing cannot be told, or of what was not towing, that
        the group is a share of.
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
    travelled_m : ndarray, shape (n,)
        Metres made good on covered legs up to each fix.
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
    covered: BoolArray
    length_m: FloatArray
    speed_kn: FloatArray
    groups: tuple[Group, ...]
    travelled_m: FloatArray
    gaps: tuple[Gap, ...]
    gap_unit: tuple[int | None, ...]
    tows: tuple[Tow, ...]
    doing: Doing

    def positions(self, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return longitudes and latitudes of places, degrees."""
        return _positions(self.track, self.kind, place)

    def time_at(self, place: float) -> np.datetime64:
        """Return the time of a place, ``NaT`` when unknown."""
        return instant(_at(self.time_s, place))

    def length_between(self, first: float, last: float) -> float:
        """Return the metres made good on covered legs between two places."""
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


def _at(column: FloatArray, place: float) -> float:
    """Return the value of a column at a place, ``NaN`` only where a fix it depends on has none."""
    fix = min(int(place), len(column) - 1)
    part, value = place - fix, float(column[fix])
    return value + part * (float(column[fix + 1]) - value) if part > 0.0 else value


def instant(seconds: float) -> np.datetime64:
    """Return seconds since 1970 as an instant, ``NaT`` for ``NaN``."""
    if np.isnan(seconds):
        return np.datetime64("NaT", "us")
    return np.datetime64(round(float(seconds) * 1e6), "us")


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
    made_m = np.where(covered, length_m, 0.0) if planned else made_good(track, time_s, length_m, covered)
    travelled_m = np.concatenate([[0.0], np.cumsum(made_m)])
    done = doing(track, settings, time_s, speed_kn, covered)
    tows = tuple(
        replace(_tow(track, at, span, time_s, travelled_m), **_whereabouts(track, kind, covered, span))
        for at, span in enumerate(done.tows, start=1)
    )
    units = _units(covered, done, tows)
    groups = _shares(units, time_s, _cuts(time_s, changes_s))
    return Path(
        track=track,
        time_s=time_s,
        filled=filled,
        kind=kind,
        covered=covered,
        length_m=length_m,
        speed_kn=speed_kn,
        groups=groups,
        travelled_m=travelled_m,
        gaps=_gaps(track, settings, bracket_s, covered, length_m),
        gap_unit=_gap_units(covered, done, units),
        tows=tows,
        doing=done,
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


_Part = tuple[Activity, Intervals]
"""What was done on some covered stretches."""


class _Unit(NamedTuple):
    """A tow, or all of which towing cannot be told, or all that was not towing: what gets rows of its own."""

    tow: Tow | None
    parts: tuple[_Part, ...]


def _units(covered: BoolArray, done: Doing, tows: Sequence[Tow]) -> list[_Unit]:
    """Return the tows, then what is in doubt, then what was not towing, each as far as it is covered."""
    places, alone = _covered_places(covered), alone_fixes(covered)
    units = [
        _Unit(tow, _parts_of_tow(span, places, alone)) for tow, span in zip(tows, done.tows, strict=True)
    ]
    outside = done.tow < 0
    after = leg_of(alone, len(covered))
    for code, activity in ((CANNOT_TELL, Activity.UNKNOWN), (NOT_TOWING, Activity.NOT_TOWING)):
        mine = outside & (done.leg == code)
        legs, lone = np.flatnonzero(covered & mine), alone[mine[after]] if len(mine) else alone[:0]
        if len(legs) or len(lone):
            stretches = merged(np.concatenate([legs, lone]), np.concatenate([legs + 1.0, lone]))
            units.append(_Unit(None, ((activity, stretches),)))
    if not len(covered) and not tows:
        single = Activity.NOT_TOWING if done.single == NOT_TOWING else Activity.UNKNOWN
        units.append(_Unit(None, ((single, places),)))
    return units


def _parts_of_tow(span: TowSpan, places: Intervals, alone: IntArray) -> tuple[_Part, ...]:
    """Return what is covered of a tow: shooting (in doubt), towing, hauling (in doubt)."""
    spans = (
        (Activity.UNKNOWN, float(span.first), span.shoot),
        (Activity.TOWING, span.shoot, span.haul),
        (Activity.UNKNOWN, span.haul, float(span.last)),
    )
    parts = []
    for activity, first, last in spans:
        if first < last or activity is Activity.TOWING:
            some = intersect(places, Intervals(np.array([first]), np.array([last])))
            # Where a stop only touches the tow, its last fix is the stop's, not a lone fix of the tow.
            own = (some.first < some.last) | np.isin(some.first, alone)
            parts.append((activity, Intervals(some.first[own], some.last[own])))
    return tuple(parts)


def _gap_units(covered: BoolArray, done: Doing, units: Sequence[_Unit]) -> tuple[int | None, ...]:
    unknown = [n for n, unit in enumerate(units) if unit.tow is None and unit.parts[0][0] is Activity.UNKNOWN]
    doubts = unknown[0] if unknown else None
    return tuple(
        tow if tow >= 0 else doubts if leg == CANNOT_TELL else None
        for tow, leg in zip(done.tow[~covered].tolist(), done.leg[~covered].tolist(), strict=True)
    )


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
    parts = [(number, unit.tow, *part) for number, unit in enumerate(units) for part in unit.parts]
    for number, tow, activity, covered in parts:
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


def _tow(track: Track, number: int, span: TowSpan, time_s: FloatArray, travelled_m: FloatArray) -> Tow:
    shoot_s, haul_s = _at(time_s, span.shoot), _at(time_s, span.haul)
    seconds, length_m = haul_s - shoot_s, _at(travelled_m, span.haul) - _at(travelled_m, span.shoot)
    known = not np.isnan(seconds)
    return Tow(
        track_id=track.track_id,
        number=number,
        first=span.first,
        last=span.last,
        shoot=span.shoot,
        haul=span.haul,
        shoot_utc=instant(shoot_s),
        haul_utc=instant(haul_s),
        seconds=seconds if known else None,
        length_m=length_m,
        mean_speed_kn=length_m / seconds / KNOT_MPS if known and seconds > 0.0 else None,
        basis=span.basis,
        haul_id=span.haul_id,
    )


def _whereabouts(track: Track, kind: LineKind, covered: BoolArray, span: TowSpan) -> dict[str, Any]:
    """Return the fields of a tow that say where it was."""
    ends = np.array([span.shoot, span.haul])
    lon, lat = _positions(track, kind, ends)
    known = [place == int(place) or bool(covered[int(place)]) for place in ends.tolist()]
    positions = [
        at if sure else None
        for at, sure in zip(zip(lon.tolist(), lat.tolist(), strict=True), known, strict=True)
    ]
    return {
        "shoot_position": positions[0],
        "haul_position": positions[1],
        "depth_m": span.depth_m if span.depth_m is not None else _mean_depth(track, span),
        "rectangles": _rectangles(track, kind, span),
    }


def _mean_depth(track: Track, span: TowSpan) -> float | None:
    depths = track.readings.get("depth_m")
    if depths is None:
        return None
    own = depths[int(np.ceil(span.shoot)) : int(span.haul) + 1].astype(np.float64)
    own = own[~np.isnan(own)]
    return float(own.mean()) if len(own) else None


def _rectangles(track: Track, kind: LineKind, span: TowSpan) -> tuple[str, ...]:
    """Return the ICES rectangles of a tow in the order they were entered."""
    fixes = np.arange(np.floor(span.shoot) + 1.0, np.ceil(span.haul))
    places = np.concatenate([[span.shoot], fixes, [span.haul]])
    if track.kind is TrackKind.PLANNED:
        # Corners may be far apart: a hundred steps a leg follow its own line closely enough for a code.
        places = np.unique(np.concatenate([places, np.arange(span.shoot, span.haul, 0.01)]))
    return cells_crossed(ICES, *_positions(track, kind, places))


def side_of(
    track: Track, kind: LineKind, stretches: Sequence[Intervals]
) -> tuple[Side, FloatArray, FloatArray]:
    """Return the pieces of sets of stretches, each set the owner of its own, and the places of their ends."""
    first = np.concatenate([np.empty(0), *(some.first for some in stretches)])
    last = np.concatenate([np.empty(0), *(some.last for some in stretches)])
    owner = np.repeat(np.arange(len(stretches)), [len(some) for some in stretches])
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
    return Side.of(pieces, len(stretches)), starts + pieces.from_part * span, starts + pieces.to_part * span


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
