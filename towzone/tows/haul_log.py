"""Tows as a haul log tells them: the log beats what is seen in the track, and the two are compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from towzone.errors import UsageError
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.result import Disagreement, DisagreementKind
from towzone.tows.around import HAULING_S, SHOOTING_S, STANDING_KN, begin_of_shooting, end_of_hauling
from towzone.tows.comparison import APART_S, Span, compared, unlogged_tows
from towzone.tows.detection import (
    CANNOT_TELL,
    NOT_TOWING,
    TOWING,
    Codes,
    Detection,
    hauling_kn,
    shooting_kn,
)
from towzone.tows.logged import LoggedHaul
from towzone.units import format_duration

__all__ = ["Disagreement", "DisagreementKind", "LoggedTow", "LoggedTows", "apply_log"]

VEERING_MPS, SETTLING_S = 2.0, 300.0
HEAVING_MPS, NET_S = 1.0, 600.0
"""Shooting lasts the warp over the first and the second; hauling the warp over the third and the fourth, for
sweeps and net: common practice, no source. With ``warp / heaving`` the doors are under the block, so this is
never less than the time until they left the bottom, ``(warp - depth) / heaving``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedTow:
    """One haul of the log on a track.

    Parameters
    ----------
    haul_id : str
        What the log calls it; untrusted text.
    first, last : int
        Fixes outside which the gear was surely on board.
    shoot, haul : float
        Places at the logged times: 3.25 is a quarter of the way, in time, from fix 3 to fix 4. Times before
        the first and after the last known position become those.
    logged : LoggedHaul
    """

    haul_id: str
    first: int
    last: int
    shoot: float
    haul: float
    logged: LoggedHaul


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoggedTows:
    """What a track was doing according to a haul log.

    Parameters
    ----------
    activity : ndarray of int8, shape (n - 1,)
        Towing from the first to the last fix of each logged tow; where only the track shows a tow it cannot
        be told, nor where times are not known; not towing elsewhere.
    tows : tuple of LoggedTow
        In order of time. Two may share the leg in which one ends and the next begins. Hauls from times before
        or after the track are not among them.
    disagreements : tuple of Disagreement
    assumptions : tuple of str
        Sentences for the result.
    """

    activity: Codes
    tows: tuple[LoggedTow, ...]
    disagreements: tuple[Disagreement, ...]
    assumptions: tuple[str, ...]

    def __post_init__(self) -> None:
        self.activity.setflags(write=False)


def apply_log(detection: Detection, hauls: Sequence[LoggedHaul], time_s: FloatArray) -> LoggedTows:
    """Return what a track was doing according to a haul log, and where the track tells otherwise.

    Parameters
    ----------
    detection : Detection
        What is seen in the same track.
    hauls : sequence of LoggedHaul
        In any order; at least one.
    time_s : ndarray, shape (n,)
        Seconds since 1970 of the fixes, ``NaN`` where unknown; those filled in between known ones may be
        among them.

    Raises
    ------
    UsageError
        The log has no hauls: an empty log does not say that nothing was towed.
    """
    if not hauls:
        message = "the haul log holds no haul; without one it cannot be told what was towing"
        raise UsageError(message)
    ordered = sorted(hauls, key=lambda one: (one.shoot_utc, one.haul_utc, one.line))
    logged = [Span(_seconds(one.shoot_utc), _seconds(one.haul_utc)) for one in ordered]
    tows = _on_track(detection, ordered, logged, time_s)
    # The log says nothing of legs whose time is not known.
    activity = np.full(len(detection.activity), CANNOT_TELL, dtype=np.int8)
    fix = detection.profile.fix
    activity[slice(int(fix[0]), int(fix[-1])) if len(fix) else slice(0)] = NOT_TOWING
    missed = unlogged_tows(detection, logged, [(tow.first, tow.last) for tow in tows])
    for number, seen in enumerate(detection.tows):
        activity[seen.shoot : seen.haul] = CANNOT_TELL
        if number in missed:
            activity[seen.first : seen.last] = CANNOT_TELL
    for tow in tows:
        activity[tow.first : tow.last] = TOWING
    return LoggedTows(
        activity=_with_hauls_beside(activity, detection, ordered),
        tows=tuple(tows),
        disagreements=compared(detection, ordered, logged, missed),
        assumptions=_assumptions(detection),
    )


def _seconds(instant: np.datetime64) -> float:
    return float(instant.astype("datetime64[us]").astype(np.int64)) / 1e6


def _with_hauls_beside(activity: Codes, known: Detection, hauls: Sequence[LoggedHaul]) -> Codes:
    """Return codes of legs with those in doubt that may be hauling or shooting of hauls beside the track.

    A haul that ended before the first position may have been hauled still after it, and one that was shot
    after the last position may have been shot from before it on.
    """
    profile, band = known.profile, known.band
    if not len(profile):
        return activity
    last, first = 0, len(profile)
    for haul in hauls:
        shoot_s, haul_s = _seconds(haul.shoot_utc), _seconds(haul.haul_utc)
        warp_m = haul.warp_m or 0.0
        hauling_s = max(HAULING_S, warp_m / HEAVING_MPS + NET_S) - float(profile.time_s[0] - haul_s)
        if haul_s <= profile.time_s[0] and hauling_s > 0.0:
            ends = end_of_hauling(profile, 0, len(profile), hauling_s, hauling_kn(band), np.inf)
            last = max(last, ends)
        shooting_s = max(SHOOTING_S, warp_m / VEERING_MPS + SETTLING_S) - float(shoot_s - profile.time_s[-1])
        if shoot_s >= profile.time_s[-1] and shooting_s > 0.0:
            still = STANDING_KN if band is not None else 0.0
            limits_kn = shooting_kn(band), np.inf, still
            first = min(first, begin_of_shooting(profile, len(profile), 0, shooting_s, *limits_kn))
    beside = np.zeros(len(activity), dtype=bool)
    beside[profile.fix[0] : profile.fix[last]] = beside[profile.fix[first] : profile.fix[-1]] = True
    return np.where(beside & (activity == NOT_TOWING), CANNOT_TELL, activity).astype(np.int8)


def _on_track(
    detection: Detection, hauls: Sequence[LoggedHaul], logged: Sequence[Span], time_s: FloatArray
) -> list[LoggedTow]:
    """Return the hauls that happened while the track lasted."""
    marks_s = detection.profile.time_s
    if not len(marks_s):
        return []
    inside = [at for at, span in enumerate(logged) if span.end > marks_s[0] and span.begin < marks_s[-1]]
    if not inside:
        return []
    following = [*(logged[at].begin for at in inside), np.inf][1:]
    places = _places(time_s, np.array([logged[at] for at in inside]).reshape(-1, 2))
    tows: list[LoggedTow] = []
    floor = 0
    for at, next_s, (shoot, haul) in zip(inside, following, places.tolist(), strict=True):
        first, last = _surrounded(detection, hauls[at], logged[at], floor, next_s)
        floor = last
        tows.append(
            LoggedTow(
                haul_id=hauls[at].haul,
                first=int(detection.profile.fix[first]),
                last=int(detection.profile.fix[last]),
                shoot=shoot,
                haul=haul,
                logged=hauls[at],
            )
        )
    return tows


def _surrounded(
    detection: Detection, haul: LoggedHaul, span: Span, floor: int, following_s: float
) -> tuple[int, int]:
    """Return the marks outside which the gear was surely on board.

    Parameters
    ----------
    floor : int
        Mark before which this haul's shooting does not reach, unless the log says so.
    following_s : float
        When the next haul is shot.
    """
    profile, warp_m = detection.profile, haul.warp_m or 0.0
    begin = max(int(np.searchsorted(profile.time_s, span.begin, side="right")) - 1, 0)
    end = min(int(np.searchsorted(profile.time_s, span.end)), len(profile))
    ceiling = min(int(np.searchsorted(profile.time_s, following_s)), len(profile))
    # What lies between the logged time and the mark is part of the shooting or hauling already.
    shooting_s = max(SHOOTING_S, warp_m / VEERING_MPS + SETTLING_S) - (span.begin - profile.time_s[begin])
    hauling_s = max(HAULING_S, warp_m / HEAVING_MPS + NET_S) - (profile.time_s[end] - span.end)
    speeds = shooting_kn(detection.band), hauling_kn(detection.band)
    still = STANDING_KN if detection.band is not None else 0.0
    first = begin_of_shooting(
        profile, begin, min(floor, begin), max(float(shooting_s), 0.0), speeds[0], np.inf, still
    )
    last = end_of_hauling(profile, end, max(ceiling, end), max(float(hauling_s), 0.0), speeds[1], np.inf)
    return first, last


def _places(time_s: FloatArray, instants_s: FloatArray) -> FloatArray:
    """Return where on a track instants lie, by time between the known fixes around them.

    Instants before the first known time and after the last become those.
    """
    blank = np.isnan(time_s)
    known = np.flatnonzero(~blank) if blank.any() else None
    times_s = time_s if known is None else time_s[known]
    after = np.clip(np.searchsorted(times_s, instants_s, side="right"), 1, max(len(times_s) - 1, 1))
    begin, end = after - 1, np.minimum(after, len(times_s) - 1)
    lasts_s = times_s[end] - times_s[begin]
    part = np.clip((instants_s - times_s[begin]) / np.where(lasts_s > 0.0, lasts_s, 1.0), 0.0, 1.0)
    low, high = (begin, end) if known is None else (known[begin], known[end])
    return np.asarray(low + part * (high - low))


def _assumptions(detection: Detection) -> tuple[str, ...]:
    band = detection.band
    speeds = f" at {STANDING_KN:g} to {shooting_kn(band):g} kn" if band is not None else ""
    slow = f" at no more than {hauling_kn(band):g} kn" if band is not None else ""
    lines = [
        "Towing is what the haul log says, from shooting to hauling; it is taken as complete. Where only the "
        "track shows a tow, it cannot be told.",
        f"To each logged tow belong at least {format_duration(SHOOTING_S)} before it{speeds}, and "
        f"{format_duration(HAULING_S)} after it{slow}, in which the gear may have been in the water; longer "
        f"when the log gives much warp ({VEERING_MPS:g} m/s out and {format_duration(SETTLING_S)}, "
        f"{HEAVING_MPS:g} m/s in and {format_duration(NET_S)}).",
        f"Log and track are said to disagree from {format_duration(APART_S)} on.",
    ]
    return (*lines, *detection.assumptions)
