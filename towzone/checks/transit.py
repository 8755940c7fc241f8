"""Whether a crossing kept the speed that a transit rule asks for.

Speed is taken over the ground from positions, over every stretch of `WINDOW_S` of the stay inside (or the
whole stay, if shorter), so a stop inside fails and the noise of single positions does not count. It is
compared after rounding to a hundredth of a knot: exactly the stated speed is enough.
Published: "not be less than 6 knots", Council Regulation (EC) 1224/2009, Article 50.
"""

from __future__ import annotations

from enum import Enum

import numpy as np

from towzone.checks.intervals import Intervals, between, union
from towzone.checks.legs import SPEED_WINDOW_S
from towzone.checks.passages import Passage
from towzone.checks.paths import Path
from towzone.checks.places import value_at
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.pieces import leg_lengths
from towzone.units import KNOT_MPS

__all__ = ["WINDOW_S", "CrossingSpeed", "crossing_speed", "kept_speed", "least_speed_kn"]

WINDOW_S = 300.0
"""Own choice: over 5 minutes two position errors of 15 m make 0.2 kn, over one minute 1 kn."""


def least_speed_kn(path: Path, first: float, last: float) -> float | None:
    """Return the least speed over any window of a stay between two places; ``None`` without times."""
    places = np.unique(np.concatenate([[first], np.arange(np.ceil(first), np.floor(last) + 1.0), [last]]))
    fixes = np.arange(int(first), min(int(np.ceil(last)), len(path.time_s) - 1) + 1)
    times = np.interp(places, fixes, path.time_s[fixes])
    if np.isnan(times).any() or times[-1] <= times[0]:
        return None
    times, travelled = _steps(path, places, times)
    starts = times[times <= times[-1] - WINDOW_S]
    if not len(starts):
        return float((travelled[-1] - travelled[0]) / (times[-1] - times[0]) / KNOT_MPS)
    # Windows that begin at a step, and those that end at one: between them speed changes linearly.
    starts = np.concatenate([starts, times[times >= times[0] + WINDOW_S] - WINDOW_S])
    sailed = np.interp(starts + WINDOW_S, times, travelled) - np.interp(starts, times, travelled)
    return float(sailed.min() / WINDOW_S / KNOT_MPS)


def _steps(path: Path, places: FloatArray, times: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return times at least `SPEED_WINDOW_S` apart and the metres made good up to each.

    Steps that short in distance would add up the noise of positions, and a stop would seem to sail.
    """
    wanted = np.arange(times[0], times[-1] - SPEED_WINDOW_S, SPEED_WINDOW_S)
    chosen = np.unique(np.concatenate([[0], np.searchsorted(times, wanted), [len(times) - 1]]))
    lon, lat = path.positions(places[chosen])
    return times[chosen], np.concatenate([[0.0], np.cumsum(leg_lengths(lon, lat))])


class CrossingSpeed(Enum):
    """Whether a crossing kept a speed."""

    KEPT = "kept"
    SLOW = "slow"
    SLOW_AT_RIM = "slow at the rim"
    OPEN = "open"


def crossing_speed(path: Path, passage: Passage, limit_kn: float, error_m: float) -> CrossingSpeed:
    """Return whether a crossing kept a speed, wherever in their uncertainty its positions truly were.

    It is proved slow where it was certainly inside, and proved kept where it was possibly inside. The
    speed of a stay shorter than a window is the less sure the shorter it is: it is slow only beyond what
    the errors of its two ends add to those of a window.
    """
    inside, rim = passage.inside, passage.rim
    if kept_speed(path, between(inside, rim), limit_kn, error_m) is False:
        return CrossingSpeed.SLOW
    kept = kept_speed(path, union(inside, rim), limit_kn)
    if kept is None:
        return CrossingSpeed.OPEN
    return CrossingSpeed.KEPT if kept else CrossingSpeed.SLOW_AT_RIM


def kept_speed(path: Path, stays: Intervals, limit_kn: float, error_m: float = 0.0) -> bool | None:
    """Return whether every stay kept a speed; ``None`` when that cannot be said.

    Parameters
    ----------
    error_m : float
        By how much positions may be off, for stays shorter than a window.
    """
    # A stay of a single position, with no leg before or after it, has no speed that could be known.
    pairs = list(zip(stays.first.tolist(), stays.last.tolist(), strict=True))
    speeds = [least_speed_kn(path, first, last) if last > first else None for first, last in pairs]
    for speed, (first, last) in zip(speeds, pairs, strict=True):
        if speed is not None and round(speed + _doubt_kn(path, first, last, error_m), 2) < limit_kn:
            return False
    return None if any(speed is None for speed in speeds) else True


def _doubt_kn(path: Path, first: float, last: float, error_m: float) -> float:
    """Return what the errors of two ends add to the speed of a stay, beyond what they add to a window."""
    seconds = value_at(path.time_s, last) - value_at(path.time_s, first)
    if not 0.0 < seconds < WINDOW_S:
        return 0.0
    return 2.0 * error_m * (1.0 / seconds - 1.0 / WINDOW_S) / KNOT_MPS
