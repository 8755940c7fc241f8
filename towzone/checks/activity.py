"""What a track was doing on each leg, by the way chosen: all of it, none, detected, or by the haul log."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from towzone.checks.legs import BoolArray, alone_fixes, leg_of, seconds_since_epoch, window_speeds
from towzone.checks.settings import CheckSettings, Towing
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.result import Disagreement, DisagreementKind
from towzone.model.track import Track, TrackKind
from towzone.tows.bands import GearBand, band_of_gear
from towzone.tows.detection import (
    CANNOT_TELL,
    NOT_TOWING,
    TOWING,
    Codes,
    Detection,
    detect,
)
from towzone.tows.haul_log import apply_log

__all__ = ["CANNOT_TELL", "NOT_TOWING", "STOP_SPEED_KN", "STOP_TIME_S", "TOWING", "Doing", "TowSpan", "doing"]

STOP_SPEED_KN = 0.5
"""Slower is not moving. Common practice, no source; a tow is never that slow."""

STOP_TIME_S = 600.0
"""A stop is at least this long. Own choice."""

FASTEST_TOW_KN = 8.0
"""Top of the widest band of towing speeds, that of beam trawls (`towzone.tows.bands`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TowSpan:
    """One tow on a path.

    ``first`` and ``last`` are fixes: outside them the gear was surely on board. ``shoot`` and ``haul`` are
    places between which it surely was not (3.25 is a quarter of the way from fix 3 to fix 4). What lies
    between the two pairs, shooting and hauling, is in doubt. ``depth_m`` is what the haul log says;
    ``in_track`` is false where the track does not show what it says; ``begins`` and ``ends`` tell that the
    log's own times of shooting and hauling lie within those of the positions.
    """

    first: int
    last: int
    shoot: float
    haul: float
    basis: str
    haul_id: str = ""
    depth_m: float | None = None
    in_track: bool = True
    begins: bool = False
    ends: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Doing:
    """What was done on each leg of a track.

    Parameters
    ----------
    leg : ndarray of int8, shape (n - 1,)
        `TOWING`, `NOT_TOWING` or `CANNOT_TELL`; within a tow that includes shooting and hauling.
    tow : ndarray of int, shape (n - 1,)
        Number of the tow from 0, -1 outside tows.
    tows : tuple of TowSpan
    assumptions : tuple of str
        Sentences for the result.
    disagreements : tuple of Disagreement
        Of the haul log with the track.
    fastest_tow_kn : float
        No tow is faster.
    single : int
        What a track of one fix, which has no legs, was doing where it is in no tow.
    """

    leg: Codes
    tow: IntArray
    tows: tuple[TowSpan, ...]
    assumptions: tuple[str, ...] = ()
    disagreements: tuple[Disagreement, ...] = ()
    fastest_tow_kn: float = FASTEST_TOW_KN
    single: int = NOT_TOWING


def doing(
    track: Track, settings: CheckSettings, time_s: FloatArray, timely: BoolArray, covered: BoolArray
) -> Doing:
    """Return what a track was doing on each leg.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Seconds since 1970, ``NaN`` where unknown.
    timely, covered : ndarray of bool, shape (n - 1,)
        Whether a leg is short enough in time to be sailed straight; and within one segment, too.
    """
    n = len(track) - 1
    if track.kind is TrackKind.PLANNED:
        return _one_tow(n) if track.towed is None else _planned_tow(n, *track.towed)
    if settings.towing is Towing.NONE:
        return Doing(leg=np.zeros(n, dtype=np.int8), tow=np.full(n, -1), tows=())
    if settings.towing is Towing.ALL:
        return _one_tow(n) if n < 1 else _between_stops(time_s, window_speeds(track, time_s, timely), covered)
    known = detect(
        lon_deg=track.lon_deg,
        lat_deg=track.lat_deg,
        time_s=seconds_since_epoch(track.time_utc),
        part=track.part,
        gap_s=settings.gap_s,
        max_speed_kn=settings.max_speed_kn,
        gear=settings.gear,
    )
    if settings.towing is Towing.LOG:
        return _by_log(known, settings, time_s)
    spans = tuple(
        TowSpan(
            first=tow.first, last=tow.last, shoot=float(tow.shoot), haul=float(tow.haul), basis="detected"
        )
        for tow in known.tows
    )
    return _of_spans(known.activity, spans, known.assumptions, settings.gear)


def _one_tow(legs: int) -> Doing:
    span = TowSpan(first=0, last=legs, shoot=0.0, haul=float(legs), basis="all")
    return Doing(leg=np.ones(legs, dtype=np.int8), tow=np.zeros(legs, dtype=np.int64), tows=(span,))


def _planned_tow(legs: int, shoot: int, haul: int) -> Doing:
    """Return the tow of a plan that tells where towing begins and ends."""
    span = TowSpan(first=0, last=legs, shoot=float(shoot), haul=float(haul), basis="all")
    number = np.arange(legs)
    leg = np.where((number >= shoot) & (number < haul), TOWING, CANNOT_TELL).astype(np.int8)
    return Doing(leg=leg, tow=np.zeros(legs, dtype=np.int64), tows=(span,))


def _between_stops(time_s: FloatArray, speed_kn: FloatArray, covered: BoolArray) -> Doing:
    """Return every stretch between stops as a tow."""
    stopped = _stopped_legs(time_s, speed_kn)
    begins = ~stopped & np.append(True, stopped[:-1])
    number = np.where(stopped, -1, np.cumsum(begins) - 1)
    # A stretch without a single position of its own between two stops is a gap, not a tow.
    supported = np.union1d(number[covered & ~stopped], number[leg_of(alone_fixes(covered), len(number))])
    supported = supported[supported >= 0]
    tow = np.where(np.isin(number, supported), np.searchsorted(supported, number), -1)
    spans = []
    for at in range(len(supported)):
        legs = np.flatnonzero(tow == at)
        first, last = int(legs[0]), int(legs[-1]) + 1
        spans.append(TowSpan(first=first, last=last, shoot=float(first), haul=float(last), basis="all"))
    return Doing(leg=np.where(tow >= 0, TOWING, NOT_TOWING).astype(np.int8), tow=tow, tows=tuple(spans))


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


def _by_log(known: Detection, settings: CheckSettings, time_s: FloatArray) -> Doing:
    logged = apply_log(known, settings.hauls, time_s)
    known_s = time_s[~np.isnan(time_s)]
    missing = {item.haul_id for item in logged.disagreements if item.kind is DisagreementKind.NOT_IN_TRACK}
    spans = tuple(
        TowSpan(
            first=t.first,
            last=t.last,
            shoot=t.shoot,
            haul=t.haul,
            basis="log",
            haul_id=t.haul_id,
            depth_m=t.logged.depth_m,
            in_track=t.haul_id not in missing,
            begins=bool(seconds_since_epoch(np.array([t.logged.shoot_utc]))[0] >= known_s[0]),
            ends=bool(seconds_since_epoch(np.array([t.logged.haul_utc]))[0] <= known_s[-1]),
        )
        for t in logged.tows
    )
    done = _of_spans(logged.activity, spans, logged.assumptions, settings.gear)
    return replace(done, disagreements=logged.disagreements)


def _of_spans(
    activity: Codes, spans: tuple[TowSpan, ...], assumptions: tuple[str, ...], gear: str | None
) -> Doing:
    tow = np.full(len(activity), -1, dtype=np.int64)
    for number, span in enumerate(spans):
        tow[span.first : span.last] = number
    band = band_of_gear(gear)
    return Doing(
        leg=activity,
        tow=tow,
        tows=spans,
        assumptions=assumptions,
        fastest_tow_kn=band.doubt_high_kn if isinstance(band, GearBand) else FASTEST_TOW_KN,
        single=CANNOT_TELL,
    )
