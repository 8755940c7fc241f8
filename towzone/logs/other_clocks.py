"""What else in a log tells the date of a receiver: another receiver, the logger, ZDA beside RMC."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.logs.date_runs import ROLLOVER_DAYS
from towzone.logs.fields import DAY_US, NOT_A_DAY
from towzone.logs.fixes import DateOrigin, day_near
from towzone.logs.receivers import Receiver
from towzone.logs.sampled_stamps import Sampled
from towzone.tracks.raw import NOT_A_TIME

__all__ = ["Opinion", "days_by_receiver", "days_by_stamps", "opinions", "rounds_behind"]

Ints = npt.NDArray[np.int64]
Days = npt.NDArray[np.int32]

_REACH_LINES = 500
"""Own choice: a dated fix of another receiver so many lines before tells nothing of the moment any more."""
_COMPARED = 2000
"""Own choice: fixes of two receivers compared with each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Opinion:
    """How far another clock of the log is ahead of a receiver's.

    Parameters
    ----------
    whose : str
        For people.
    ahead_us : int
        Median, microseconds.
    compared : int
        In how many moments.
    line : int
        The first of them.
    """

    whose: str
    ahead_us: int
    compared: int
    line: int


def days_by_receiver(one: Receiver, other: Receiver) -> Days:
    """Return the days of the fixes of a receiver by the dated fixes of another shortly before them."""
    return day_near(_beside(one, other), one.fixes.time_us)


def days_by_stamps(one: Receiver, sampled: Sampled) -> Days:
    """Return the days of the fixes of a receiver that come nearest to the logger's times; few have one."""
    day = np.full(len(one.fixes), NOT_A_DAY, dtype=np.int32)
    rows, which = _stamped(one, sampled)
    time_us, stamp_us = sampled.time_us[which], sampled.stamp_us[which]
    day[rows] = (stamp_us - time_us + DAY_US // 2) // DAY_US
    return day


def opinions(
    one: Receiver,
    others: Sequence[Receiver],
    sampled: Sampled,
    differences: Mapping[int, tuple[int, int]],
) -> list[Opinion]:
    """Return what other clocks say against a dated receiver; none from clocks that were themselves set by it.

    Parameters
    ----------
    one : Receiver
    others : sequence of Receiver
    sampled : Sampled
    differences : mapping of int to (int, int)
        How often ZDA was so many days ahead of RMC, and in which line first.
    """
    found = []
    compared = sum(count for count, _ in differences.values())
    by_rmc = one.fixes.origin == DateOrigin.RMC
    if compared and by_rmc.any():
        days, (count, line) = max(differences.items(), key=lambda item: (item[1][0], item[0]))
        if 2 * count >= compared:
            found.append(Opinion(whose="ZDA", ahead_us=days * DAY_US, compared=compared, line=line))
    own = one.times.time_us
    for other in others:
        if other.has_dates and not other.dated_by:
            clock_us = _beside(one, other)
            both = np.flatnonzero((clock_us != NOT_A_TIME) & (own != NOT_A_TIME))
            both = both[:: max(1, len(both) // _COMPARED)]
            if len(both):
                found.append(_opinion(f"receiver {other.name}", clock_us[both] - own[both], one, both))
    rows, which = _stamped(one, sampled)
    timed = own[rows] != NOT_A_TIME
    rows, which = rows[timed], which[timed]
    if len(rows):
        found.append(_opinion("the logger", sampled.stamp_us[which] - own[rows], one, rows))
    return found


def rounds_behind(opinion: Opinion) -> int:
    """Return the whole rounds of weeks, in days, that a receiver is behind another clock; 0 if it is not."""
    days = round(opinion.ahead_us / DAY_US)
    nearest = ROLLOVER_DAYS * round(days / ROLLOVER_DAYS)
    # The clock of a logger may be in another time zone, or some hours wrong.
    return nearest if nearest > 0 and abs(days - nearest) <= 1 else 0


def _opinion(whose: str, ahead_us: Ints, one: Receiver, rows: Ints) -> Opinion:
    return Opinion(
        whose=whose,
        ahead_us=int(np.median(ahead_us)),
        compared=len(rows),
        line=int(one.fixes.line[rows[0]]),
    )


def _beside(one: Receiver, other: Receiver) -> Ints:
    """Return the time of the last dated fix of another receiver shortly before each fix."""
    dated = np.flatnonzero(other.times.time_us != NOT_A_TIME)
    if not len(dated):
        return np.full(len(one.fixes), NOT_A_TIME, dtype=np.int64)
    lines = other.fixes.line[dated].astype(np.int64)
    own = one.fixes.line.astype(np.int64)
    place = np.searchsorted(lines, own, side="right") - 1
    before = np.maximum(place, 0)
    near = (place >= 0) & (own - lines[before] <= _REACH_LINES)
    return np.where(near, other.times.time_us[dated[before]], NOT_A_TIME)


def _stamped(one: Receiver, sampled: Sampled) -> tuple[Ints, Ints]:
    """Return the fixes of a receiver that have a logger's time, and which."""
    which = np.flatnonzero(sampled.sender == one.sender)
    if not len(which):
        return which, which
    place = np.searchsorted(one.fixes.line, sampled.line[which].astype(np.uint32), side="right") - 1
    same = (place >= 0) & (one.fixes.time_us[np.maximum(place, 0)] == sampled.time_us[which])
    return place[same], which[same]
