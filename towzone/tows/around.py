"""How far around a tow the gear may be in the water: shooting before it, hauling after it."""

from __future__ import annotations

import numpy as np

from towzone.geodesy.compiling import solid
from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.around_loops import Bounds, Stretches, back_from, on_from
from towzone.tows.speeds import SPEED_WINDOW_S, Profile
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
    "stretches_of",
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
    bounds = Bounds(float(least_kn), float(top_kn), float(longest_s), float(longest_gap_s))
    return back_from(stretches_of(profile), at, floor, bounds)


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
    bounds = Bounds(0.0, float(top_kn), float(longest_s), float(longest_gap_s))
    return on_from(stretches_of(profile), at, ceiling, bounds)


def stretches_of(profile: Profile) -> Stretches:
    """Return what compiled code looks at of a profile."""
    return Stretches(
        time_s=solid(profile.time_s),
        gap=solid(profile.gap, np.bool_),
        lasts_s=solid(profile.lasts_s),
        speed_kn=solid(profile.speed_kn),
    )
