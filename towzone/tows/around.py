"""How far around a tow the gear may be in the water: shooting before it, hauling after it."""

from __future__ import annotations

import numpy as np

from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.speeds import SPEED_WINDOW_S, Profile
from towzone.tows.thinning import BoolArray
from towzone.units import KNOT_MPS

__all__ = [
    "HAULING_S",
    "POSITION_ERROR_M",
    "SHOOTING_KN",
    "SHOOTING_S",
    "STANDING_KN",
    "begin_of_shooting",
    "end_of_hauling",
    "longest_towing_s",
    "towed_beside_s",
]

SHOOTING_S = 600.0
"""Longest shooting before the brakes are on. Own choice: 600 m of warp at 2 m/s take 5 min, and the spread
settles within another 5 (common practice, no source)."""

HAULING_S = 1200.0
"""Longest hauling until the net is surely off the bottom. Own choice: 600 m of warp at 1 m/s take 10 min,
sweeps and net as long again (common practice, no source)."""

SHOOTING_KN = 7.0
"""Faster is not shooting. Common practice, no source: warp is paid out at 5 to 7 kn, easing to the speed of
the tow."""

STANDING_KN = 0.5
"""Slower is not moving, and a trawl is not shot without way on: shooting began after it. Common practice, no
source."""

SHORT_LEG_S = 300.0
"""Within shorter legs the change from one speed to another is not looked for. Own choice."""

POSITION_ERROR_M = 15.0
"""How far a position may be from the truth. Common practice, no source; as for clearances."""


def longest_towing_s(
    way_m: FloatArray, lasts_s: FloatArray, towing_kn: float, max_speed_kn: float
) -> FloatArray:
    """Return for how long a vessel can have been towing between two fixes, seconds.

    A vessel that makes good ``d`` metres in ``dt`` seconds and tows for ``T`` of them at ``u`` or slower has
    at most ``u T`` behind it from towing; the rest, ``d - u T``, took it ``(d - u T) / v`` at least, with
    ``v`` its top speed. It fits when ``T + max(0, d - u T) / v <= dt``. As ``u < v`` the left side grows with
    ``T``, so the longest is all of ``dt`` where ``d <= u dt``, and otherwise ``(dt - d / v) / (1 - u / v)``.

    Parameters
    ----------
    way_m : ndarray
        Straight distances; twice `POSITION_ERROR_M` are taken off.
    lasts_s : ndarray
    towing_kn, max_speed_kn : float
        Top speed of a tow, and of the vessel; where the vessel is no faster than a tow all the time fits.
    """
    least_m = np.maximum(way_m - 2.0 * POSITION_ERROR_M, 0.0)
    tow, top = towing_kn * KNOT_MPS, max_speed_kn * KNOT_MPS
    if top <= tow:
        return np.asarray(lasts_s, dtype=np.float64)
    rest = (lasts_s - least_m / top) / (1.0 - tow / top)
    return np.where(least_m <= tow * lasts_s, lasts_s, np.clip(rest, 0.0, lasts_s))


def begin_of_shooting(
    profile: Profile,
    at: int,
    floor: int,
    longest_s: float,
    top_kn: float,
    longest_gap_s: float = SPEED_WINDOW_S,
    least_kn: float = STANDING_KN,
) -> int:
    """Return the mark before which the gear was surely on board, ``floor`` at the earliest.

    From the mark ``at`` it goes back while the vessel moves and is no faster than ``top_kn``, over every
    stretch that ends within ``longest_s``; then over one more if that is so long that its mean speed may hide
    the change. Gaps as long as ``longest_gap_s`` or longer end it: the tow itself may lie in them.
    """
    reach = int(np.searchsorted(profile.time_s, profile.time_s[at] - longest_s, side="right")) - 1
    low = min(max(reach, floor), at)
    blocked = np.flatnonzero(~_passable(profile, slice(low, at), (least_kn, top_kn), longest_gap_s))
    if not len(blocked):
        return low
    last = low + int(blocked[-1])
    return last if _mixed(profile, last) else last + 1


def end_of_hauling(
    profile: Profile,
    at: int,
    ceiling: int,
    longest_s: float,
    top_kn: float,
    longest_gap_s: float = SPEED_WINDOW_S,
) -> int:
    """Return the mark after which the gear was surely on board, ``ceiling`` at the latest.

    As `begin_of_shooting`, onward.
    """
    reach = int(np.searchsorted(profile.time_s, profile.time_s[at] + longest_s))
    high = max(min(reach, ceiling), at)
    blocked = np.flatnonzero(~_passable(profile, slice(at, high), (0.0, top_kn), longest_gap_s))
    if not len(blocked):
        return high
    first = at + int(blocked[0])
    return first + 1 if _mixed(profile, first) else first


def towed_beside_s(profile: Profile, leg: int, towing: int, other: int) -> float:
    """Return for how long a leg beside a tow was part of it, seconds, judged by its mean speed.

    With the speed ``a`` of the tow and ``b`` of what is on the other side, a mean of ``v`` is made up by a
    share of ``(v - b) / (a - b)``. Where that cannot be worked out it is all of the leg. For legs of
    `SHORT_LEG_S` and less it is 0: as shooting and hauling are counted in whole legs, they come out right.

    Parameters
    ----------
    leg, towing, other : int
        Stretches: the long one, the one of the tow beside it, the one on its other side.
    """
    inside = 0 <= leg < len(profile)
    if not inside or profile.gap[leg] or profile.lasts_s[leg] <= SHORT_LEG_S:
        return 0.0
    lasts_s = float(profile.lasts_s[leg])
    if not 0 <= other < len(profile):
        return lasts_s
    v, a, b = (float(profile.speed_kn[at]) for at in (leg, towing, other))
    if np.isnan([v, a, b]).any() or a == b:
        return lasts_s
    return lasts_s * min(max((v - b) / (a - b), 0.0), 1.0)


def _passable(
    profile: Profile, legs: slice, limits_kn: tuple[float, float], longest_gap_s: float
) -> BoolArray:
    """Return whether shooting and hauling may go on over stretches; an unknown speed does not end them."""
    speed_kn = profile.speed_kn[legs]
    known_kn = np.where(np.isnan(speed_kn), limits_kn[0], speed_kn)
    brief = profile.lasts_s[legs] < longest_gap_s
    able = (known_kn >= limits_kn[0]) & (known_kn <= limits_kn[1])
    return np.asarray(np.where(profile.gap[legs], brief, able))


def _mixed(profile: Profile, leg: int) -> bool:
    """Return whether a stretch is so long that two speeds may hide in its mean."""
    return not profile.gap[leg] and bool(profile.lasts_s[leg] >= SPEED_WINDOW_S)
