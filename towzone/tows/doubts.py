"""Where it cannot be told whether a vessel was towing: at its speed without looking like it, and in gaps."""

from __future__ import annotations

import numpy as np

from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.around import (
    HAULING_S,
    POSITION_ERROR_M,
    SHOOTING_KN,
    SHOOTING_S,
    STANDING_KN,
    longest_towing_s,
    stretches_of,
)
from towzone.tows.around_loops import Bounds, beside
from towzone.tows.bands import Band
from towzone.tows.cores import LEAST_TOW_S, LEAVE_KN, LEAVE_S, in_band
from towzone.tows.doubt_loops import longest_tows_s
from towzone.tows.speeds import SPEED_WINDOW_S, Profile
from towzone.tows.stretches import joined, runs, time_in
from towzone.tows.thinning import BoolArray
from towzone.units import KNOT_MPS

__all__ = ["LEAST_DOUBT_S", "doubtful"]

LEAST_DOUBT_S = 300.0
"""A change from one speed to another that takes longer may be something else. Own choice: slowing down
from passage to towing speed takes a few minutes."""


def doubtful(
    profile: Profile, band: Band, towing: BoolArray, core: BoolArray, max_speed_kn: float
) -> BoolArray:
    """Return the stretches of which it cannot be told whether the vessel was towing.

    Parameters
    ----------
    towing : ndarray of bool, shape (m - 1,)
        Stretches that belong to tows, shooting and hauling with them.
    core : ndarray of bool, shape (m - 1,)
        Those of them between shooting and hauling.
    """
    held_s = _held_s(profile, band, max_speed_kn)
    alike, long_enough = _like_towing(profile, band, core, held_s)
    doubt = (alike & ~towing) | _fitting(profile, band, towing | alike, held_s)
    unknown = profile.gap | np.isnan(profile.speed_kn)
    return doubt | _around(profile, band, ~towing & ~doubt, (doubt & unknown) | long_enough)


def _held_s(profile: Profile, band: Band, max_speed_kn: float) -> FloatArray:
    """Return for how long the vessel can have been towing in each stretch, seconds.

    In a fast one, and in a gap, `longest_towing_s`. In a slow one it can have been towing no longer than it
    takes to make good its way at the lowest speed of a tow.
    """
    fast_s = longest_towing_s(profile.way_m, profile.lasts_s, band.doubt_high_kn + LEAVE_KN, max_speed_kn)
    slow_s = (profile.way_m + 2.0 * POSITION_ERROR_M) / (band.doubt_low_kn * KNOT_MPS)
    slow = in_band(profile.speed_kn, 0.0, band.doubt_low_kn)
    return np.where(slow, np.minimum(slow_s, profile.lasts_s), fast_s)


def _like_towing(
    profile: Profile, band: Band, core: BoolArray, held_s: FloatArray
) -> tuple[BoolArray, BoolArray]:
    """Return stretches at towing speed for long that are no tows, and those that may be as long as one.

    What is taken for shooting or hauling because it is beside a tow counts: if it is at towing speed for as
    long as a tow lasts, it may be one, with its own hauling after it.
    """
    inside = in_band(profile.speed_kn, band.doubt_low_kn, band.doubt_high_kn) & ~core
    like = joined(inside, profile.lasts_s, LEAVE_S, ~core & ~profile.gap)
    first, last = runs(like)
    spent = time_in(inside, profile.lasts_s)
    lasts = spent[last] - spent[first]
    # Beside a gap, and at the ends of the track, a short stretch may be part of a long one; and the legs on
    # both sides of it may hold more of it, which matters where they are long.
    beside_s = np.where(profile.gap, np.inf, np.where(core, 0.0, held_s))
    beside_s = np.concatenate([[np.inf], beside_s, [np.inf]])
    may_last = lasts + beside_s[first] + beside_s[last + 1]
    doubt, long_enough = (np.zeros(len(profile), dtype=bool) for _ in range(2))
    kept = (lasts > LEAST_DOUBT_S) | ((lasts >= SPEED_WINDOW_S) & (may_last >= LEAST_TOW_S))
    for begin, end, may in zip(*(c[kept].tolist() for c in (first, last, may_last)), strict=True):
        doubt[begin:end] = True
        long_enough[begin:end] = may >= LEAST_TOW_S
    return doubt, long_enough


def _fitting(profile: Profile, band: Band, taken: BoolArray, held_s: FloatArray) -> BoolArray:
    """Return stretches that say too little, into which a tow of the least length fits.

    Such are gaps, positions too short for a speed between two gaps, and legs so long that a tow may hide in
    their mean. What a stretch can hold is taken together with what follows on it
    without a break: a tow over several stretches fills those in the middle all the time. A gap that meets a
    tow, or a stretch in doubt, may hold any part of one; a long leg may not, where it does there is in the
    extent of the tow already (`towzone.tows.around`).
    """
    unknown = (profile.gap | np.isnan(profile.speed_kn)) & ~taken
    known_kn = np.where(np.isnan(profile.speed_kn), 0.0, profile.speed_kn)
    fast = ~unknown & ~taken & (known_kn > band.doubt_high_kn)
    held_s = np.where(taken, 0.0, held_s)
    full = unknown & (held_s >= profile.lasts_s)
    # Before the first and after the last position anything may have been.
    padded_s = np.concatenate([[LEAST_TOW_S], np.where(taken, LEAST_TOW_S, held_s), [LEAST_TOW_S]])
    whole = longest_tows_s(padded_s, np.concatenate([[False], full, [False]]))[1:-1]
    alone = longest_tows_s(held_s, full)
    fits = np.where(unknown, whole, np.where(fast, alone, 0.0)) >= LEAST_TOW_S
    return np.asarray(fits & (held_s > np.where(unknown, 0.0, SPEED_WINDOW_S)))


def _around(profile: Profile, band: Band, other: BoolArray, maybe: BoolArray) -> BoolArray:
    """Return those of the other stretches that are shooting and hauling of what may have been a tow."""
    shooting = Bounds(STANDING_KN, max(SHOOTING_KN, band.doubt_high_kn), SHOOTING_S, LEAST_TOW_S)
    hauling = Bounds(0.0, band.doubt_high_kn, HAULING_S, LEAST_TOW_S)
    return beside(stretches_of(profile), *runs(maybe), shooting, hauling) & other
