"""Which part of a track was towing, seen from its positions alone; and where that cannot be told."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.errors import UsageError
from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.around import (
    HAULING_S,
    SHOOTING_KN,
    SHOOTING_S,
    STANDING_KN,
    stretches_of,
)
from towzone.tows.around_loops import Bounds, surrounded
from towzone.tows.bands import Band, GearBand, band_of_gear
from towzone.tows.cores import LEAST_TOW_S, LEAVE_KN, steady_legs, tow_cores
from towzone.tows.doubts import doubtful
from towzone.tows.mixture import band_of_trip
from towzone.tows.speeds import SPEED_WINDOW_S, Profile, profile_of
from towzone.tows.thinning import LONGEST_LEG_S, IntArray
from towzone.units import format_duration

__all__ = [
    "CANNOT_TELL",
    "NOT_TOWING",
    "TOWING",
    "Codes",
    "DetectedTow",
    "Detection",
    "detect",
    "hauling_kn",
    "shooting_kn",
]

TOWING, NOT_TOWING, CANNOT_TELL = 1, 0, -1
"""What was done on a leg."""

Codes = npt.NDArray[np.int8]


@dataclass(frozen=True, slots=True, kw_only=True)
class DetectedTow:
    """One tow, by the numbers of fixes.

    Parameters
    ----------
    first, last : int
        Outside them the gear was surely on board.
    shoot, haul : int
        Where the vessel reached its towing speed (brakes on) and left it (start of hauling).
    short : bool
        Whether it lasted less than `LEAST_TOW_S` from shoot to haul.
    """

    first: int
    last: int
    shoot: int
    haul: int
    short: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Detection:
    """What a track was doing.

    Parameters
    ----------
    activity : ndarray of int8, shape (n - 1,)
        `TOWING`, `NOT_TOWING` or `CANNOT_TELL` for each leg; towing from the first to the last fix of a tow.
    tows : tuple of DetectedTow
        In order; they may touch but do not overlap.
    band : Band or None
        Speeds looked for; ``None`` when speed cannot show the gear at work.
    assumptions : tuple of str
        Sentences for the result.
    profile : Profile
        The speeds found, for those who go on from here.
    """

    activity: Codes
    tows: tuple[DetectedTow, ...]
    band: Band | None
    assumptions: tuple[str, ...]
    profile: Profile

    def __post_init__(self) -> None:
        self.activity.setflags(write=False)


def detect(
    *,
    lon_deg: FloatArray,
    lat_deg: FloatArray,
    time_s: FloatArray,
    part: npt.NDArray[np.integer],
    gap_s: float,
    max_speed_kn: float,
    gear: str | None,
) -> Detection:
    """Return which part of a completed track was towing.

    Speeds are those from position to position over a minute or more. A tow is a stretch of ten minutes or
    more at the towing speeds of the gear, or of the trip where it shows them clearly, on a course that is
    steady most of the time. Shooting before and hauling after it, while the vessel stays slow, belong to it.
    What lies at towing speed for long and yet does not look like a tow, and what positions leave open, cannot
    be told.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (n,)
        Degrees WGS 84, finite.
    time_s : ndarray, shape (n,)
        Seconds, ``NaN`` where unknown; known times never decrease. Times filled in by distance make every
        speed between the same: leave them unknown.
    part : ndarray of int, shape (n,)
        Segment of each fix; between two segments is a gap.
    gap_s : float
        Longest time between fixes that is not a gap; longer than `LONGEST_LEG_S` always is one.
    max_speed_kn : float
        Fastest the vessel can go.
    gear : str or None
        Code of `towzone.model.gears.GEAR_NAMES`, ``None`` when not known.

    Raises
    ------
    UsageError
        The gear is not a code, or a limit is not a positive number.
    GeometryError
        Known times decrease.

    References
    ----------
    Skaar et al. (2011), ICES J. Mar. Sci. 68:1615, and Mendo et al. (2019), R. Soc. Open Sci. 6:191161, for
    how well bands of speed and mixtures of each trip tell towing.
    """
    if not (gap_s > 0.0 and max_speed_kn > 0.0):
        message = "the gap and the top speed must be more than 0 for tows to be detected"
        raise UsageError(message)
    known = band_of_gear(gear)
    profile = profile_of(lon_deg, lat_deg, time_s, part, gap_s)
    if isinstance(known, str):
        return Detection(
            activity=np.full(max(profile.fixes - 1, 0), CANNOT_TELL, dtype=np.int8),
            tows=(),
            band=None,
            assumptions=(f"With gear {gear} it cannot be told from positions when it is at work: {known}.",),
            profile=profile,
        )
    steady = steady_legs(profile, known)
    band = band_of_trip(profile, known, steady) or _band_of_gear(known, gear)
    marks = _with_surroundings(profile, band, *tow_cores(profile, band, known, steady))
    towing, core = (np.zeros(len(profile), dtype=bool) for _ in range(2))
    for first, shoot, haul, last in marks.tolist():
        towing[first:last] = core[shoot:haul] = True
    activity = np.where(towing, TOWING, NOT_TOWING).astype(np.int8)
    activity[doubtful(profile, band, towing, core, max_speed_kn)] = CANNOT_TELL
    return Detection(
        activity=_of_legs(profile, activity),
        tows=_tows(profile, marks),
        band=band,
        assumptions=_assumptions(band, known, gap_s, max_speed_kn),
        profile=profile,
    )


def shooting_kn(band: Band | None) -> float:
    """Return the fastest speed that may be shooting; any, when speed does not show the gear at work."""
    return np.inf if band is None else max(SHOOTING_KN, band.high_kn + LEAVE_KN)


def hauling_kn(band: Band | None) -> float:
    """Return the fastest speed that may be hauling; any, when speed does not show the gear at work."""
    return np.inf if band is None else band.high_kn + LEAVE_KN


def _band_of_gear(known: GearBand, gear: str | None) -> Band:
    words = "gear not stated" if gear is None else f"gear {gear}"
    return Band(
        low_kn=known.low_kn,
        high_kn=known.high_kn,
        stream_low_kn=known.low_kn,
        stream_high_kn=known.high_kn,
        doubt_low_kn=known.low_kn,
        doubt_high_kn=known.doubt_high_kn,
        basis=f"usual speeds, {words}: {known.source}",
    )


def _with_surroundings(profile: Profile, band: Band, shoot: IntArray, haul: IntArray) -> IntArray:
    """Return the marks first, shoot, haul, last of each tow, shape (k, 4)."""
    shooting = Bounds(STANDING_KN, shooting_kn(band), SHOOTING_S, SPEED_WINDOW_S)
    hauling = Bounds(0.0, hauling_kn(band), HAULING_S, SPEED_WINDOW_S)
    first, last = surrounded(stretches_of(profile), shoot, haul, shooting, hauling)
    return np.stack([first, shoot, haul, last], axis=1)


def _tows(profile: Profile, marks: IntArray) -> tuple[DetectedTow, ...]:
    """Return tows by the numbers of fixes, from their marks."""
    short = profile.time_s[marks[:, 2]] - profile.time_s[marks[:, 1]] < LEAST_TOW_S
    return tuple(
        DetectedTow(first=first, last=last, shoot=shoot, haul=haul, short=brief)
        for (first, shoot, haul, last), brief in zip(profile.fix[marks].tolist(), short.tolist(), strict=True)
    )


def _of_legs(profile: Profile, activity: Codes) -> Codes:
    """Return codes of stretches as codes of legs; before the first and after the last time none is known."""
    if not len(profile.fix):
        return np.full(max(profile.fixes - 1, 0), CANNOT_TELL, dtype=np.int8)
    legs = np.full(profile.fixes - 1, CANNOT_TELL, dtype=np.int8)
    legs[profile.fix[0] : profile.fix[-1]] = np.repeat(activity, np.diff(profile.fix))
    return legs


def _assumptions(band: Band, known: GearBand, gap_s: float, max_speed_kn: float) -> tuple[str, ...]:
    longest = format_duration(min(gap_s, LONGEST_LEG_S))
    least = format_duration(LEAST_TOW_S)
    course = " on a mostly steady course" if known.straight else ""
    carried = (
        f" (or {band.stream_low_kn:g} to {band.stream_high_kn:g} kn, where the course was steady nearly all "
        "the time)"
    )
    beyond = (band.stream_low_kn, band.stream_high_kn) != (band.low_kn, band.high_kn)
    lines = [
        f"Tows were detected from speed over the ground: at least {least} at {band.low_kn:g} to "
        f"{band.high_kn:g} kn{course}{carried if beyond else ''}. Basis: {band.basis}.",
        f"A tow slower over the ground than {band.doubt_low_kn:g} kn (against a strong stream), faster than "
        f"{band.doubt_high_kn:g} kn or shorter than {least} is not detected.",
        f"Speeds were taken from positions over {SPEED_WINDOW_S:g} s or more.",
        f"To each tow belong up to {format_duration(SHOOTING_S)} before it for shooting, while the vessel "
        f"moved at {STANDING_KN:g} to {shooting_kn(band):g} kn, and up to {format_duration(HAULING_S)} after "
        f"it for hauling, while it was no faster than {hauling_kn(band):g} kn.",
        f"Where fixes are more than {longest} apart, or of two segments, or without time, the vessel is "
        f"taken not to have towed only if a tow of {least} does not fit in at a top speed of "
        f"{max_speed_kn:g} kn; otherwise it cannot be told.",
        f"It cannot be told either where the vessel went at {band.doubt_low_kn:g} to "
        f"{band.doubt_high_kn:g} kn for long without looking like a tow: on a wandering course, at speeds "
        "unlike those of the other tows, or for too short a time.",
    ]
    return tuple(lines)
