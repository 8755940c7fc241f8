"""Whether a crossing kept the speed that a transit rule asks for.

Speed is taken over the ground from positions, over every stretch of `WINDOW_S` of the stay inside (or the
whole stay, if shorter), so a stop inside fails and the noise of single positions does not count. It is
compared after rounding to a hundredth of a knot: exactly the stated speed is enough.
Published: "not be less than 6 knots", Council Regulation (EC) 1224/2009, Article 50.
"""

from __future__ import annotations

import numpy as np

from towzone.checks.intervals import Intervals
from towzone.checks.paths import Path
from towzone.units import KNOT_MPS

__all__ = ["WINDOW_S", "kept_speed", "least_speed_kn"]

WINDOW_S = 300.0
"""Own choice: over 5 minutes two position errors of 15 m make 0.2 kn, over one minute 1 kn."""


def least_speed_kn(path: Path, first: float, last: float) -> float | None:
    """Return the least speed over any window of a stay between two places; ``None`` without times."""
    low, high = int(np.ceil(first)), int(np.floor(last))
    places = np.unique(np.concatenate([[first], np.arange(low, high + 1), [last]]))
    fixes = np.arange(len(path.time_s))
    times = np.interp(places, fixes, path.time_s)
    if np.isnan(times).any() or times[-1] <= times[0]:
        return None
    travelled = np.interp(places, fixes, path.travelled_m)
    starts = times[times <= times[-1] - WINDOW_S]
    if not len(starts):
        return float((travelled[-1] - travelled[0]) / (times[-1] - times[0]) / KNOT_MPS)
    # Windows that begin at a fix, and those that end at one: between them speed changes linearly.
    starts = np.concatenate([starts, times[times >= times[0] + WINDOW_S] - WINDOW_S])
    sailed = np.interp(starts + WINDOW_S, times, travelled) - np.interp(starts, times, travelled)
    return float(sailed.min() / WINDOW_S / KNOT_MPS)


def kept_speed(path: Path, stays: Intervals, limit_kn: float) -> bool | None:
    """Return whether every stay kept a speed; ``None`` when that cannot be said."""
    speeds = [
        least_speed_kn(path, first, last)
        for first, last in zip(stays.first.tolist(), stays.last.tolist(), strict=True)
        if last > first
    ]
    if any(speed is not None and round(speed, 2) < limit_kn for speed in speeds):
        return False
    return None if any(speed is None for speed in speeds) else True
