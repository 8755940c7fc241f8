"""What is told of one tow: when, where, how long, how deep, through which rectangles."""

from __future__ import annotations

import numpy as np

from towzone.checks.activity import TowSpan
from towzone.checks.legs import BoolArray
from towzone.checks.places import instant, positions_at, value_at
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.lines import LineKind
from towzone.grids.crossed import cells_crossed
from towzone.grids.ices import ICES
from towzone.model.result import Tow
from towzone.model.track import Track, TrackKind
from towzone.units import KNOT_MPS

__all__ = ["tow_of"]


def tow_of(
    track: Track,
    kind: LineKind,
    number: int,
    span: TowSpan,
    *,
    time_s: FloatArray,
    travelled_m: FloatArray,
    covered: BoolArray,
) -> Tow:
    """Return a tow of a track.

    Parameters
    ----------
    number : int
        From 1.
    time_s, travelled_m : ndarray, shape (n,)
        Seconds since 1970 (``NaN`` where unknown) and metres made good at each fix.
    covered : ndarray of bool, shape (n - 1,)
    """
    shoot_s, haul_s = value_at(time_s, span.shoot), value_at(time_s, span.haul)
    seconds = haul_s - shoot_s
    length_m = value_at(travelled_m, span.haul) - value_at(travelled_m, span.shoot)
    known = not np.isnan(seconds)
    gap_s = _uncovered_s(time_s, covered, span) if known else 0.0
    towed_s = seconds - gap_s
    planned = track.kind is TrackKind.PLANNED
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
        mean_speed_kn=length_m / towed_s / KNOT_MPS if known and towed_s > 0.0 else None,
        basis=span.basis,
        haul_id=span.haul_id,
        shoot_position=_position(track, kind, covered, span.shoot),
        haul_position=_position(track, kind, covered, span.haul),
        depth_m=span.depth_m if span.depth_m is not None else _mean_depth(track, span),
        rectangles=_rectangles(track, kind, span),
        shoot_open=not planned and _opens(covered, span),
        haul_open=not planned and _ends_open(covered, span),
        gap_seconds=gap_s,
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


def _uncovered_s(time_s: FloatArray, covered: BoolArray, span: TowSpan) -> float:
    """Return how many seconds between shooting and hauling no positions cover."""
    first, last = int(span.shoot), int(np.ceil(span.haul))
    times = np.clip(time_s[first : last + 1], value_at(time_s, span.shoot), value_at(time_s, span.haul))
    return float(np.diff(times)[~covered[first:last]].sum())


def _position(track: Track, kind: LineKind, covered: BoolArray, place: float) -> tuple[float, float] | None:
    """Return where a place is, ``None`` within a gap."""
    if place != int(place) and not covered[int(place)]:
        return None
    lon, lat = positions_at(track, kind, np.array([place]))
    return float(lon[0]), float(lat[0])


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
    return cells_crossed(ICES, *positions_at(track, kind, places))
