"""Which stretches look like tows: at towing speed, on a steady course, for long; brakes on to hauling."""

from __future__ import annotations

import numpy as np

from towzone.geodesy.compiling import solid
from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.bands import Band, GearBand
from towzone.tows.core_loops import mostly, settled, weighted_median
from towzone.tows.speeds import Profile
from towzone.tows.stretches import joined, runs, time_in
from towzone.tows.thinning import BoolArray, IntArray

__all__ = [
    "ENTER_KN",
    "LEAST_TOW_S",
    "LEAVE_KN",
    "LEAVE_S",
    "STEADY",
    "in_band",
    "steady_legs",
    "tow_cores",
]

LEAST_TOW_S = 600.0
"""Shorter stretches are not taken for tows. Own choice: survey tows last 30 min, commercial ones hours."""

ENTER_KN, LEAVE_KN = 0.2, 0.3
"""A tow is begun well inside the band and ended well outside it, or noise at its edge would cut it to pieces.
Own choice: about twice the noise of a speed (`towzone.tows.speeds.SPEED_WINDOW_S`)."""

LEAVE_S, BRIDGE_S, TURNING_S = 300.0, 600.0, 1800.0
"""What ends a tow lasts at least the first; the second when the vessel did not speed up (hauling and shooting
again take longer); the third when only its course wandered (at 3 kn a trawl is turned about in 10 to 30
minutes). Own choices."""

STEADY, STEADIEST, TIMES_TYPICAL = 0.9, 0.97, 3.0
"""Least mean resultant length of headings over ten minutes on a steady course. In general the first: a turn
of 90 degrees spread over the ten minutes gives 0.90, headings scattered by 26 degrees (standard deviation)
too. Where the tows of a trip are seen to be neater, up to three times their usual scatter is steady, and the
second (14 degrees) always. Own choices."""

STEADY_SHARE, ALL_STEADY_SHARE, STEADY_WINDOW_S = 0.6, 0.9, 3600.0
"""This much of the hour around must be on a steady course: a turn of ten minutes once an hour makes twenty
unsteady. At speeds unlike those of the other tows nearly all of it must be. Own choice."""

_LEAST_USUAL_S = 7200.0
"""Time at towing speed before a trip tells what is usual on it. Own choice."""

_INNER_SHARE = 0.5
"""Of the time of a tow that must lie well inside the band. Own choice."""

_LEAST_LEGS = 2
"""One leg at towing speed may be half passage and half rest. Own choice."""


def in_band(speed_kn: FloatArray, low_kn: float, high_kn: float) -> BoolArray:
    """Return where a speed is known and between two limits."""
    known = np.where(np.isnan(speed_kn), -1.0, speed_kn)
    return np.asarray((known >= max(low_kn, 0.0)) & (known <= high_kn))


def steady_legs(profile: Profile, known: GearBand) -> BoolArray:
    """Return the stretches on a steady course, measured by what is usual on this trip at towing speed.

    The scatter of headings is the square root of ``2 (1 - R)``, so three times it is nine times ``1 - R``.
    """
    told = np.where(np.isnan(profile.steadiness), 0.0, profile.steadiness)
    usual = in_band(profile.speed_kn, known.low_kn, known.high_kn) & (told > 0.0)
    limit = STEADY
    if profile.lasts_s[usual].sum() >= _LEAST_USUAL_S:
        typical = weighted_median(told[usual], profile.lasts_s[usual])
        limit = min(max(1.0 - TIMES_TYPICAL**2 * (1.0 - typical), STEADY), STEADIEST)
    return np.asarray(told >= limit)


def tow_cores(profile: Profile, band: Band, known: GearBand, steady: BoolArray) -> tuple[IntArray, IntArray]:
    """Return the marks at which the tows of a track reach their speed and leave it, in order.

    A tow is at the speeds of the band on a mostly steady course; or at those to which a stream may carry it,
    on a course that is steady nearly all the time.

    Parameters
    ----------
    steady : ndarray of bool, shape (m - 1,)
        Stretches on a steady course.
    """
    # The band of a trip has its margins in it already, so well inside means inside what a stream adds.
    inner = in_band(profile.speed_kn, band.stream_low_kn + ENTER_KN, band.stream_high_kn - ENTER_KN)
    share = STEADY_SHARE if known.straight else 0.0
    towing = _alike(profile, band.low_kn, band.high_kn, inner, steady, share)
    if known.straight:
        towing |= _alike(profile, band.stream_low_kn, band.stream_high_kn, inner, steady, ALL_STEADY_SHARE)
    speed_kn = np.where(np.isnan(profile.speed_kn), profile.mean_kn(), profile.speed_kn)
    slow = speed_kn <= band.stream_high_kn + LEAVE_KN
    first, last = runs(joined(towing, profile.lasts_s, BRIDGE_S, slow))
    columns = solid(profile.speed_kn), solid(profile.lasts_s), towing
    return settled(*columns, first, last, LEAST_TOW_S, LEAVE_S)


def _alike(
    profile: Profile, low_kn: float, high_kn: float, inner: BoolArray, steady: BoolArray, share: float
) -> BoolArray:
    """Return stretches long enough in a band, of which a share of the time around is on a steady course."""
    lasts_s, speed_kn = profile.lasts_s, profile.speed_kn
    inside = in_band(speed_kn, low_kn, high_kn)
    like = joined(in_band(speed_kn, low_kn - LEAVE_KN, high_kn + LEAVE_KN), lasts_s, LEAVE_S)
    if share > 0.0:
        like = _with_turns(like, _mostly(steady, like, profile, share), lasts_s)
    first, last = runs(like)
    total_s = time_in(like, lasts_s)
    inside_s, inner_s = time_in(inside, lasts_s), time_in(inner, lasts_s)
    legs = np.concatenate([[0], np.cumsum(inside)])
    good = inside_s[last] - inside_s[first] >= LEAST_TOW_S
    good &= inner_s[last] - inner_s[first] >= _INNER_SHARE * (total_s[last] - total_s[first])
    good &= legs[last] - legs[first] >= _LEAST_LEGS
    towing = np.zeros(len(profile), dtype=bool)
    for begin, end in zip(first[good].tolist(), last[good].tolist(), strict=True):
        towing[begin:end] = True
    return towing


def _mostly(steady: BoolArray, like: BoolArray, profile: Profile, share: float) -> BoolArray:
    """Return where stretches that are alike are on a steady course for most of the window around."""
    told = ~np.isnan(profile.steadiness)
    steady_s, told_s = time_in(steady, profile.lasts_s), time_in(told, profile.lasts_s)
    return mostly(solid(profile.time_s), *runs(like), steady_s, told_s, STEADY_WINDOW_S / 2.0, share)


def _with_turns(like: BoolArray, straight: BoolArray, lasts_s: FloatArray) -> BoolArray:
    """Return the straight parts of stretches with the short parts between them, before and after them."""
    hopeful = np.zeros(len(like), dtype=bool)
    number = np.concatenate([[0], np.cumsum(straight)])
    first, last = runs(like)
    some = number[last] > number[first]
    for begin, end in zip(first[some].tolist(), last[some].tolist(), strict=True):
        hopeful[begin:end] = True
    # What is no such stretch, and the ends of the track, stand for something to join to.
    held = np.concatenate([[True], straight | ~hopeful, [True]])
    return np.asarray(joined(held, np.concatenate([[0.0], lasts_s, [0.0]]), TURNING_S)[1:-1] & hopeful)
