"""Fixes of a receiver that went on repeating its last position while the vessel moved.

A vessel at rest repeats positions too, all the more when they have few digits. What gives a frozen
receiver away is what it says afterwards, or beside it: a jump with which it catches up, too far for the
last step but not for the time since the first of the repeated fixes; or its own speed, which would have
carried the vessel away.
"""

from __future__ import annotations

import numpy as np

from towzone.model.track import Track
from towzone.tracks.possible import BoolArray, IntArray, Possible, fixes_within
from towzone.units import KNOT_MPS

__all__ = ["FROZEN_S", "MOVING_KN", "frozen_fixes"]

FROZEN_S = 30.0
"""Own choice: in half a minute a vessel that tows at 3 kn has moved 46 m, more than the errors of two
positions; what stands still for less does no harm."""

MOVING_KN = 1.0
"""Own choice: receivers of a vessel at rest show some tenths of a knot."""


def frozen_fixes(track: Track, possible: Possible, *, gap_s: float) -> IntArray:
    """Return the fixes that repeat a position the vessel had left, all but the first of each run.

    Parameters
    ----------
    track : Track
    possible : Possible
        Of this track.
    gap_s : float
        Speeds are not taken to last over longer steps. A run at the end of the track that lasts longer
        keeps its last fix too, so that the time it stands for is not lost but a gap.
    """
    same = (track.lon_deg[1:] == track.lon_deg[:-1]) & (track.lat_deg[1:] == track.lat_deg[:-1])
    turns = np.flatnonzero(np.diff(same.astype(np.int8), prepend=0, append=0))
    first, last = turns[0::2], turns[1::2]
    long = possible.least_s(first, last) >= FROZEN_S
    first, last = first[long], last[long]
    if not len(first):
        return np.empty(0, dtype=np.int64)
    frozen = _catches_up(possible, first, last) | _says_it_moves(track, possible, first, last, gap_s)
    first, last = first[frozen], last[frozen]
    if len(last) and last[-1] == len(track) - 1 and possible.most_s(first[-1:], last[-1:])[0] > gap_s:
        last = np.append(last[:-1], last[-1] - 1)
    return fixes_within(first + 1, last)


def _catches_up(possible: Possible, first: IntArray, last: IntArray) -> BoolArray:
    """Return whether the fix after each run is too far from its last fix, but not from its first."""
    found = np.zeros(len(first), dtype=bool)
    followed = np.flatnonzero(last < len(possible) - 1)
    begin, end = first[followed], last[followed]
    jumps = ~possible.between(end, end + 1) & possible.between(begin, end + 1)
    followed, end = followed[jumps], end[jumps]
    if not len(followed):
        return found
    # Where the track comes back, not the position stood still but the fixes after it were wrong.
    steps = np.append(possible.impossible_steps(), len(possible) - 1)
    back = steps[np.searchsorted(steps, end + 1)] + 1
    inside = back < len(possible)
    returns = np.zeros(len(end), dtype=bool)
    returns[inside] = possible.apart_m(end[inside], back[inside]) <= possible.slack_m
    found[followed[~returns]] = True
    return found


def _says_it_moves(
    track: Track, possible: Possible, first: IntArray, last: IntArray, gap_s: float
) -> BoolArray:
    """Return whether by its own speeds the vessel left the place of each run, most of the time moving."""
    found = np.zeros(len(first), dtype=bool)
    speeds_kn = track.readings.get("sog_kn")
    if speeds_kn is None:
        return found
    # Most runs are of a vessel at rest; only those with some way on are looked at.
    fast = np.flatnonzero(np.nan_to_num(speeds_kn, nan=0.0) > MOVING_KN)
    some = np.flatnonzero(np.searchsorted(fast, last) > np.searchsorted(fast, first))
    if not len(some):
        return found
    first, last = first[some], last[some]
    steps = fixes_within(first, last - 1)
    known = ~np.isnat(track.time_utc[steps]) & ~np.isnat(track.time_utc[steps + 1])
    lasted = (track.time_utc[steps + 1] - track.time_utc[steps]).astype(np.int64)
    seconds = np.where(known, lasted / 1e6, 0.0)
    speed_kn = speeds_kn[steps].astype(np.float64)
    told = ~np.isnan(speed_kn) & (seconds <= gap_s)
    moving = told & (np.where(told, speed_kn, 0.0) > MOVING_KN)
    starts = np.concatenate([[0], np.cumsum(last - first)[:-1]])
    told_s = np.add.reduceat(np.where(told, seconds, 0.0), starts)
    moving_s = np.add.reduceat(np.where(moving, seconds, 0.0), starts)
    moved_m = np.add.reduceat(np.where(moving, speed_kn * KNOT_MPS * seconds, 0.0), starts)
    found[some] = (moved_m > possible.slack_m) & (2.0 * moving_s > told_s)
    return found
