"""What is told of tows: when, where, how long, how deep, through which rectangles."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from towzone.checks.activity import TowSpan
from towzone.checks.legs import BoolArray, LegLengths
from towzone.checks.place_loops import corners_of
from towzone.checks.places import instants, positions_at, values_at
from towzone.geodesy.compiling import solid
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.lines import LineKind
from towzone.grids.crossed import cells_of_each
from towzone.grids.ices import ICES
from towzone.model.result import Tow
from towzone.model.track import Track, TrackKind
from towzone.units import KNOT_MPS

__all__ = ["tows_of"]


def tows_of(
    track: Track,
    kind: LineKind,
    spans: Sequence[TowSpan],
    *,
    time_s: FloatArray,
    lengths: LegLengths,
    covered: BoolArray,
) -> tuple[Tow, ...]:
    """Return the tows of a track, numbered from 1.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Seconds since 1970, ``NaN`` where unknown.
    lengths : LegLengths
    covered : ndarray of bool, shape (n - 1,)
    """
    if not spans:
        return ()
    shoot, haul = np.array([[span.shoot, span.haul] for span in spans]).T
    shoot_s, haul_s = values_at(time_s, shoot), values_at(time_s, haul)
    told = zip(
        instants(shoot_s),
        instants(haul_s),
        (haul_s - shoot_s).tolist(),
        (values_at(lengths.travelled_m, haul) - values_at(lengths.travelled_m, shoot)).tolist(),
        _uncovered_s(time_s, covered, (shoot, haul), (shoot_s, haul_s)),
        _positions(track, kind, covered, shoot),
        _positions(track, kind, covered, haul),
        _rectangles(track, kind, shoot, haul),
        strict=True,
    )
    return tuple(
        _tow(track, covered, number, span, _Told(*own))
        for number, (span, own) in enumerate(zip(spans, told, strict=True), start=1)
    )


class _Told(NamedTuple):
    """What is looked up of all tows at once; ``open_s`` of its seconds are in gaps."""

    shoot_utc: np.datetime64
    haul_utc: np.datetime64
    seconds: float
    length_m: float
    open_s: float
    shoot_at: tuple[float, float] | None
    haul_at: tuple[float, float] | None
    rectangles: tuple[str, ...]


def _tow(track: Track, covered: BoolArray, number: int, span: TowSpan, told: _Told) -> Tow:
    planned = track.kind is TrackKind.PLANNED
    known_s = told.seconds - told.open_s
    return Tow(
        track_id=track.track_id,
        number=number,
        first=span.first,
        last=span.last,
        shoot=span.shoot,
        haul=span.haul,
        shoot_utc=told.shoot_utc,
        haul_utc=told.haul_utc,
        seconds=None if math.isnan(told.seconds) else told.seconds,
        length_m=told.length_m,
        mean_speed_kn=told.length_m / known_s / KNOT_MPS if known_s > 0.0 else None,
        basis=span.basis,
        haul_id=span.haul_id,
        shoot_position=told.shoot_at,
        haul_position=told.haul_at,
        depth_m=span.depth_m if span.depth_m is not None else _mean_depth(track, span),
        rectangles=told.rectangles,
        shoot_open=not planned and _opens(covered, span),
        haul_open=not planned and _ends_open(covered, span),
        gap_seconds=told.open_s,
        in_track=span.in_track,
    )


def _opens(covered: BoolArray, span: TowSpan) -> bool:
    """Return whether a tow runs from where the positions begin, or come out of a gap."""
    if span.basis == "log":
        return not span.begins
    return span.shoot == span.first and (span.first == 0 or not covered[span.first - 1])


def _ends_open(covered: BoolArray, span: TowSpan) -> bool:
    """Return whether a tow runs to where the positions end, or go into a gap."""
    if span.basis == "log":
        return not span.ends
    return span.haul == span.last and (span.last == len(covered) or not covered[span.last])


def _uncovered_s(
    time_s: FloatArray,
    covered: BoolArray,
    places: tuple[FloatArray, FloatArray],
    times_s: tuple[FloatArray, FloatArray],
) -> list[float]:
    """Return how many seconds between shooting and hauling no positions cover, 0 where that is not known."""
    first, last = places[0].astype(np.int64), np.ceil(places[1]).astype(np.int64)
    begin_s, end_s = times_s
    before = np.concatenate([[0], np.cumsum(~covered)])
    open_s = np.zeros(len(first))
    for tow in np.flatnonzero((before[last] > before[first]) & ~np.isnan(end_s - begin_s)).tolist():
        legs = slice(first[tow], last[tow])
        times = np.clip(time_s[legs.start : legs.stop + 1], begin_s[tow], end_s[tow])
        open_s[tow] = np.diff(times)[~covered[legs]].sum()
    return open_s.tolist()


def _positions(
    track: Track, kind: LineKind, covered: BoolArray, place: FloatArray
) -> list[tuple[float, float] | None]:
    """Return where places are, ``None`` within a gap."""
    lon, lat = positions_at(track, kind, place)
    fix = place.astype(np.int64)
    lost = place != fix
    lost[lost] = ~covered[fix[lost]]
    columns = zip(lon.tolist(), lat.tolist(), lost.tolist(), strict=True)
    return [None if gone else (east, north) for east, north, gone in columns]


def _mean_depth(track: Track, span: TowSpan) -> float | None:
    depths = track.readings.get("depth_m")
    if depths is None:
        return None
    own = depths[int(np.ceil(span.shoot)) : int(span.haul) + 1].astype(np.float64)
    own = own[~np.isnan(own)]
    return float(own.mean()) if len(own) else None


def _rectangles(track: Track, kind: LineKind, shoot: FloatArray, haul: FloatArray) -> list[tuple[str, ...]]:
    """Return the ICES rectangles of each tow in the order they were entered."""
    place, counts = corners_of(solid(shoot), solid(haul))
    if track.kind is TrackKind.PLANNED:
        # Corners may be far apart: a hundred steps a leg follow their own line closely enough for a code.
        steps = [np.arange(begin, end, 0.01) for begin, end in zip(shoot, haul, strict=True)]
        cut = np.split(place, np.cumsum(counts)[:-1])
        each = [np.unique(np.concatenate(some)) for some in zip(cut, steps, strict=True)]
        place, counts = np.concatenate(each), np.array([len(some) for some in each])
    return cells_of_each(ICES, *positions_at(track, kind, place), counts)
