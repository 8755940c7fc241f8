"""Whether the receivers of a log stand at one place at the same time; two that do not are two devices."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.geodesy.lines import WGS84
from towzone.logs.fields import DAY_US
from towzone.logs.receivers import Receiver
from towzone.logs.told import DEGREE_M
from towzone.tracks.raw import NOT_A_TIME
from towzone.units import NAUTICAL_MILE_M

__all__ = ["DIFFERENT_M", "ELSEWHERE_M", "Disagreement", "disagreement"]

Ints = npt.NDArray[np.int64]
Pairs = Iterator[tuple[Ints, Ints]]

DIFFERENT_M = 100.0
"""Own choice: antennas and smoothing account for tens of metres."""
ELSEWHERE_M = NAUTICAL_MILE_M
"""Own choice: so far apart no two receivers are on one vessel."""
_TOGETHER_US = 1_000_000
"""Own choice: within a second a vessel makes metres."""
_FEWEST = 3
"""Own choice: fewer moments may be those of a start, or of one error."""
_REACH_LINES = 500
"""Own choice: what stands so many lines away may be of another day."""
_BLOCK = 1 << 18
"""Own choice: fixes worked on at a time, so that what is needed on the way takes no memory to speak of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """How far another receiver stands from the one used at the same moments.

    Parameters
    ----------
    compared : int
    different, elsewhere : int
        In how many moments they are more than `DIFFERENT_M` or `ELSEWHERE_M` apart.
    largest_m : float
    line : int
        Of the other receiver, where they are farthest apart.
    time_us : int
        When; ``NOT_A_TIME`` if no day is known.
    """

    compared: int
    different: int
    elsewhere: int
    largest_m: float
    line: int
    time_us: int

    @property
    def told(self) -> bool:
        """Whether most of enough moments differ, or some by so much that one of the two is false."""
        most = self.compared >= _FEWEST and 2 * self.different > self.compared
        return most or self.elsewhere >= _FEWEST

    @property
    def two_vessels(self) -> bool:
        """Whether the receivers are not at one place."""
        return self.compared >= _FEWEST and 2 * self.elsewhere > self.compared


def disagreement(one: Receiver, other: Receiver) -> Disagreement:
    """Return how far two receivers are apart in the moments they share.

    Moments are shared by their times; where these show too few, as without dates or with clocks that differ
    by days, by the time of day of fixes that follow each other in the file.
    """
    by_time = _measured(one, other, _at_same_time(one, other))
    return by_time if by_time.compared >= _FEWEST else _measured(one, other, _beside_in_file(one, other))


def _measured(one: Receiver, other: Receiver, pairs: Pairs) -> Disagreement:
    compared = different = elsewhere = 0
    largest_m, at = 0.0, (0, 0)
    for own, theirs in pairs:
        if not len(own):
            continue
        lat_deg, its_lat_deg = one.fixes.lat_deg[own], other.fixes.lat_deg[theirs]
        east_deg = (other.fixes.lon_deg[theirs] - one.fixes.lon_deg[own] + 180.0) % 360.0 - 180.0
        east_deg *= np.cos(np.radians((lat_deg + its_lat_deg) / 2))
        apart_m = DEGREE_M * np.hypot(east_deg, its_lat_deg - lat_deg)
        compared += len(own)
        different += int((apart_m > DIFFERENT_M).sum())
        elsewhere += int((apart_m > ELSEWHERE_M).sum())
        farthest = int(np.argmax(apart_m))
        if apart_m[farthest] > largest_m:
            largest_m, at = float(apart_m[farthest]), (int(own[farthest]), int(theirs[farthest]))
    if compared:
        ends = [(one.fixes, at[0]), (other.fixes, at[1])]
        lon_deg, lat_deg = (
            np.array([getattr(some, word)[row] for some, row in ends]) for word in ("lon_deg", "lat_deg")
        )
        largest_m = float(WGS84.line_length(lon_deg, lat_deg))
    return Disagreement(
        compared=compared,
        different=different,
        elsewhere=elsewhere,
        largest_m=largest_m,
        line=int(other.fixes.line[at[1]]) if compared else 0,
        time_us=int(one.times.time_us[at[0]]) if compared else NOT_A_TIME,
    )


def _at_same_time(one: Receiver, other: Receiver) -> Pairs:
    """Yield fixes of both within a second of each other."""
    own = np.flatnonzero(one.usable() & (one.times.time_us != NOT_A_TIME))
    theirs = np.flatnonzero(other.usable() & (other.times.time_us != NOT_A_TIME))
    if not len(own):
        return
    own_us = one.times.time_us[own]
    if (np.diff(own_us) < 0).any():
        order = np.argsort(own_us, kind="stable")
        own, own_us = own[order], own_us[order]
    for begin in range(0, len(theirs), _BLOCK):
        block = theirs[begin : begin + _BLOCK]
        its_us = other.times.time_us[block]
        after = np.searchsorted(own_us, its_us)
        before, after = np.maximum(after - 1, 0), np.minimum(after, len(own) - 1)
        nearest = np.where(its_us - own_us[before] <= own_us[after] - its_us, before, after)
        near = np.abs(own_us[nearest] - its_us) <= _TOGETHER_US
        yield own[nearest[near]], block[near]


def _beside_in_file(one: Receiver, other: Receiver) -> Pairs:
    """Yield fixes of both that follow each other in the file within a second of the day."""
    own = np.flatnonzero(one.usable() & (one.fixes.time_us != NOT_A_TIME))
    theirs = np.flatnonzero(other.usable() & (other.fixes.time_us != NOT_A_TIME))
    if not len(own):
        return
    lines = one.fixes.line[own]
    for begin in range(0, len(theirs), _BLOCK):
        block = theirs[begin : begin + _BLOCK]
        after = np.searchsorted(lines, other.fixes.line[block])
        before, after = np.maximum(after - 1, 0), np.minimum(after, len(own) - 1)
        steps_us = [
            (one.fixes.time_us[own[place]] - other.fixes.time_us[block] + DAY_US // 2) % DAY_US - DAY_US // 2
            for place in (before, after)
        ]
        nearest = np.where(np.abs(steps_us[0]) <= np.abs(steps_us[1]), before, after)
        near = np.minimum(np.abs(steps_us[0]), np.abs(steps_us[1])) <= _TOGETHER_US
        near &= np.abs(lines[nearest].astype(np.int64) - other.fixes.line[block]) <= _REACH_LINES
        yield own[nearest[near]], block[near]
