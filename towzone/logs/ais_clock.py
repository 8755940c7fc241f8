"""The time of AIS positions: from the time of reception and from other sentences of the log.

A position report names the second of its fix, not the minute. Where the logger wrote when it received the
message, the minute follows; elsewhere the reports of base stations, or the date and time of the ship's own
receiver, stand in if they come closely enough.

References
----------
ITU-R M.1371, messages 1 to 4, 11 and 18 (time stamp, UTC date and time), and NMEA 0183 (RMC, ZDA), from
memory.
"""

from __future__ import annotations

import datetime as dt
from array import array
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from towzone.tracks.raw import NOT_A_TIME

__all__ = ["AHEAD_US", "Clock", "Heard", "Reception", "reception"]

_SECOND_US = 1_000_000
_MINUTE_US = 60 * _SECOND_US
_NO_SECOND = 60
"""Published: ITU-R M.1371, time stamp: 0 to 59 are seconds, 60 is none, 61 to 63 say how the fix was made."""

AHEAD_US = 10 * _SECOND_US
"""Own choice: how far after its reception a fix may be dated, because the logger's clock is behind.

In a real coastal stream of AIS, reception came 0.6 s after the fix in the median, 0.8 s before it at the 5th
and 18.7 s after it at the 95th percentile (measured). Ten seconds leave a dozen times the 5th percentile to a
slow clock, and 50 s, over twice the 95th, to delays; beyond either a fix would be dated a minute wrong."""
_DOUBTFUL_US = 5 * _SECOND_US
_DOUBTFUL_SHARE = 0.05
"""Own choice: more than one delay in twenty within 5 s of either limit, and the limits cut through the delays
themselves: the seconds are then not trusted to say which minute is meant."""
_LONG_DELAY_US = 15 * _SECOND_US
"""Own choice, 25 times the measured median delay: a clock so far ahead may be a minute or more off, too."""
_FEW = 20
"""Own choice: fewer delays than this show nothing about a clock."""

_ANCHOR_GAP_US = 30 * _SECOND_US
_ANCHOR_BACK_US = 2 * _SECOND_US
_OLD_US = 20 * _SECOND_US
"""Own choice: reports of base stations (every 10 s by M.1371) or of a receiver may be up to 30 s apart and
step back by 2 s; a message between them is then dated from 20 s before the first of them (95 of 100 delays
are below 18.7 s) to 10 s after the second: one minute, so that its second decides."""
_NOT_SATELLITES = ([b"N"], [b"S"], [b"M"], [b"E"])
"""Published: NMEA 0183, mode of RMC: not valid, simulator, manual, estimated; absent before version 2.3."""
_FIRST_YEAR = 2002
"""Published: SOLAS chapter V, regulation 19, has ships carry AIS from 1 July 2002; a clock that says less has
counted its weeks over again."""
_LAST_YEAR = 2099
_CENTURY = 2000
"""Own choice, as AIS is younger than that: RMC writes years with two figures."""
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)

IntArray = npt.NDArray[np.int64]


@dataclass(slots=True)
class Heard:
    """Moments that other sentences state: line of the file and microseconds since 1970 UTC."""

    line: array[int] = field(default_factory=lambda: array("I"))
    time_us: array[int] = field(default_factory=lambda: array("q"))

    def add(self, line: int, moment_us: int | None) -> None:
        """Add a moment, unless it is none."""
        if moment_us is not None:
            self.line.append(line)
            self.time_us.append(moment_us)

    def around(self, line: IntArray, second: npt.NDArray[np.uint8]) -> IntArray:
        """Return when fixes were made that stand between two of these moments, or ``NOT_A_TIME``.

        Parameters
        ----------
        line : ndarray of int, shape (n,)
        second : ndarray of uint8, shape (n,)
            As the messages name it.
        """
        times = np.frombuffer(self.time_us, dtype=np.int64)
        after = np.searchsorted(np.frombuffer(self.line, dtype=np.uint32), line, side="right")
        known = (after > 0) & (after < len(times)) & (second < _NO_SECOND)
        result = np.full(len(line), NOT_A_TIME, dtype=np.int64)
        start, end = times[after[known] - 1], times[after[known]]
        first = start - _OLD_US
        moment = first - first % _MINUTE_US + second[known].astype(np.int64) * _SECOND_US
        moment[moment < first] += _MINUTE_US
        close = (end - start >= -_ANCHOR_BACK_US) & (end - start <= _ANCHOR_GAP_US)
        result[known] = np.where(close, moment, NOT_A_TIME)
        return result


class Clock:
    """What the log tells of the time beside the lines' own stamps.

    Attributes
    ----------
    base : Heard
        From base stations.
    own : Heard
        From the ship's own receiver.
    """

    def __init__(self) -> None:
        self.base = Heard()
        self.own = Heard()

    def hear(self, line: int, fields: list[bytes]) -> None:
        """Take the date and time of an RMC or ZDA sentence, split into fields, if it is valid."""
        if fields[0].endswith(b"ZDA"):
            self.own.add(line, _moment(fields[1], fields[4:1:-1]) if len(fields) > 4 else None)
        elif len(fields) > 9 and fields[2] == b"A" and fields[12:13] not in _NOT_SATELLITES:
            date = fields[9]
            self.own.add(line, _moment(fields[1], [date[4:], date[2:4], date[:2]]))

    def hear_base(self, line: int, *date_and_time: int) -> None:
        """Take year, month, day, hour, minute and second of a base station report."""
        self.base.add(line, _since_1970_us(*date_and_time))

    def moments(self, line: IntArray, second: npt.NDArray[np.uint8]) -> tuple[IntArray, str]:
        """Return when fixes were made by what was heard around them, and in words from whom.

        Returns
        -------
        time_us : ndarray of int64, shape (n,)
            ``NOT_A_TIME`` where nothing was heard closely enough.
        source : str
            Empty if nothing was; ``"contradiction"`` if base stations and receiver differ by over a minute.
        """
        by_base, by_own = self.base.around(line, second), self.own.around(line, second)
        has_base, has_own = by_base != NOT_A_TIME, by_own != NOT_A_TIME
        both = has_base & has_own
        if both.any() and np.median(np.abs(by_base[both] - by_own[both])) > _MINUTE_US:
            return np.full(len(line), NOT_A_TIME, dtype=np.int64), "contradiction"
        sources = [(has_base, "base stations"), (has_own & ~has_base, "the ship's own receiver")]
        return np.where(has_base, by_base, by_own), " and ".join(name for some, name in sources if some.any())


@dataclass(frozen=True, slots=True, kw_only=True)
class Reception:
    """Fixes dated by the time of their reception.

    ``time_us`` is that of the fix, or of the reception where the message names no second or the seconds do
    not fit; ``named`` counts messages with a second; ``median_s`` is their median delay (``None`` without
    any); ``fits`` is whether the seconds fit the logger's clock.
    """

    time_us: IntArray
    named: int
    median_s: float | None
    fits: bool


def reception(received_us: IntArray, second: npt.NDArray[np.uint8]) -> Reception:
    """Return when fixes were made: the latest instant with their second, at most `AHEAD_US` after reception.

    Parameters
    ----------
    received_us : ndarray of int64, shape (n,)
        All known.
    second : ndarray of uint8, shape (n,)
        As the messages name it; 60 and more is none.
    """
    named = second < _NO_SECOND
    latest = received_us[named] + AHEAD_US
    fixed = latest - latest % _MINUTE_US + second[named].astype(np.int64) * _SECOND_US
    fixed[fixed > latest] -= _MINUTE_US
    delays = received_us[named] - fixed
    doubtful = (delays < _DOUBTFUL_US - AHEAD_US) | (delays >= _MINUTE_US - AHEAD_US - _DOUBTFUL_US)
    median_us = float(np.median(delays)) if len(delays) else None
    fits = median_us is None or len(delays) < _FEW
    if median_us is not None and not fits:
        fits = float(doubtful.mean()) <= _DOUBTFUL_SHARE and median_us <= _LONG_DELAY_US
    time_us = received_us.copy()
    if fits:
        time_us[named] = fixed
    return Reception(
        time_us=time_us,
        named=len(delays),
        median_s=None if median_us is None else median_us / _SECOND_US,
        fits=fits,
    )


def _moment(clock: bytes, date: list[bytes]) -> int | None:
    """Return the instant of ``hhmmss.ss`` and year, month, day; a year of two figures is of the 2000s."""
    try:
        year, month, day = (int(text) for text in date)
        hour, minute, second = int(clock[:2]), int(clock[2:4]), int(clock[4:6])
    except ValueError:
        return None
    return _since_1970_us(year + (_CENTURY if len(date[0]) == 2 else 0), month, day, hour, minute, second)


def _since_1970_us(year: int, month: int, day: int, hour: int, minute: int, second: int) -> int | None:
    if not _FIRST_YEAR <= year <= _LAST_YEAR:
        return None
    try:
        moment = dt.datetime(year, month, day, hour, minute, second, tzinfo=dt.UTC)
    except ValueError:
        return None
    return (moment - _EPOCH) // dt.timedelta(seconds=1) * _SECOND_US
