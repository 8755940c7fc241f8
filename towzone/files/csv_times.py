"""The times of a table, whatever their form, to UTC; and what had to be assumed."""

from __future__ import annotations

import zoneinfo
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt

from towzone.files.csv_dates import FLAG_LEAP, FLAG_NO_SECONDS, FLAG_ZONED, DateColumn
from towzone.files.csv_epochs import NUMBER, EpochColumn
from towzone.files.csv_text import Problems
from towzone.files.times import MICROSECONDS, TimeTextError, local_offset_seconds
from towzone.tracks.options import DateOrder
from towzone.tracks.raw import NOT_A_TIME
from towzone.words import counted

__all__ = ["TimeColumn", "TimeWords"]

IntArray = npt.NDArray[np.int64]

_MINUTE_US = 60 * MICROSECONDS


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeWords:
    """What the name of a column says of its times.

    Parameters
    ----------
    utc, local : bool
        Times that state no zone are UTC; or those of some other place.
    order : DateOrder or None
        Of dates in figures.
    since_1970 : bool
        Numbers are counted from 1970.
    unit_us : int
        Microseconds in one of them; 0 where the name does not say.
    """

    utc: bool = False
    local: bool = False
    order: DateOrder | None = None
    since_1970: bool = False
    unit_us: int = 0


class TimeColumn:
    """Times as they come, row by row, to UTC when all of them are known.

    Parameters
    ----------
    name : str
        Of the column, for messages.
    words : TimeWords
    zone : ZoneInfo or None
        Of times that state none, unless the column says that they are UTC.
    order : DateOrder or None
        Of dates in figures, as the user states it.
    problems : Problems
        Where to tell what cannot be read.
    to_the_minute : bool
        Times without seconds are as they should be.

    Attributes
    ----------
    notes : list of (int, str)
        What was assumed and how often, each with the first line; known at the end.
    """

    def __init__(
        self,
        name: str,
        words: TimeWords,
        *,
        zone: zoneinfo.ZoneInfo | None,
        order: DateOrder | None,
        problems: Problems,
        to_the_minute: bool = False,
    ) -> None:
        self.name, self.words, self.zone, self.order = name, words, zone, order
        self.to_the_minute = to_the_minute
        self.notes: list[tuple[int, str]] = []
        self._problems = problems
        self._column: DateColumn | EpochColumn | None = None
        self._blank_rows = 0

    @property
    def orders(self) -> frozenset[DateOrder]:
        """In which orders day and month stand, by dates that can be read in one only."""
        return self._column.orders if isinstance(self._column, DateColumn) else frozenset()

    @property
    def form(self) -> str:
        """What the times are, in a word or two; empty as long as there is none."""
        if self._column is None:
            return ""
        return self._column.form if isinstance(self._column, EpochColumn) else "dates"

    @property
    def is_open(self) -> bool:
        """Whether all of the times can be read in several ways; known at the end."""
        return self._column is not None and self._column.is_open

    def add(self, texts: Sequence[str], lines: Sequence[int]) -> None:
        """Take the times of more rows; one of nothing but blanks is no time."""
        if self._column is None:
            first = next(filter(None, map(str.strip, texts)), None)
            if first is None:
                self._blank_rows += len(texts)
                return
            self._column = self._made_for(first, lines[0])
        self._column.add(texts, lines)

    def overhear(self, texts: Sequence[str], lines: Sequence[int]) -> None:
        """Learn from rows that are not asked for what holds for the whole column."""
        if self._column is None:
            first = next(filter(None, map(str.strip, texts)), None)
            if first is None:
                return
            self._column = self._made_for(first, lines[0])
        self._column.overhear(texts, lines)

    def finish(self, lines: npt.NDArray[np.uint32]) -> IntArray:
        """Return microseconds since 1970 UTC of all rows, `NOT_A_TIME` where there is none.

        Parameters
        ----------
        lines : ndarray of uint32, shape (n,)
            Of all rows that were added.
        """
        if self._column is None:
            return np.full(self._blank_rows, NOT_A_TIME, dtype=np.int64)
        time_us, flags = self._column.finish()
        self._note(time_us == NOT_A_TIME, lines, "fix", "without a time", many="fixes")
        if flags is None:
            return time_us
        known = time_us != NOT_A_TIME
        unzoned = known & (flags & FLAG_ZONED == 0)
        if not self.words.utc and unzoned.any():
            time_us = self._zoned(time_us, unzoned, lines)
        short = known & (flags & FLAG_NO_SECONDS != 0)
        if not self.to_the_minute:
            self._note(short, lines, "time", "without seconds, taken at the full minute")
        self._note(known & (flags & FLAG_LEAP != 0), lines, "time", "with second 60, read as the next second")
        return time_us

    def typed(self, time_us: IntArray, lines: npt.NDArray[np.uint32], *, zoned: bool) -> IntArray:
        """Return the times of a column that holds instants, not text: those of clocks brought to UTC.

        Parameters
        ----------
        time_us : ndarray of int64, shape (n,)
            Microseconds since 1970, `NOT_A_TIME` where there is none.
        lines : ndarray of uint32, shape (n,)
        zoned : bool
            They are UTC; else as a clock shows them.
        """
        known = time_us != NOT_A_TIME
        self._note(~known, lines, "fix", "without a time", many="fixes")
        return time_us if zoned or not known.any() else self._zoned(time_us, known, lines)

    def _made_for(self, first: str, line: int) -> DateColumn | EpochColumn:
        words, problems = self.words, self._problems
        if self.order and words.order and self.order is not words.order:
            message = "the name of the column tells another order of day and month than the one asked for"
            problems.add(line, message, self.name)
        column: DateColumn | EpochColumn
        if NUMBER.fullmatch(first):
            column = EpochColumn(
                self.name, since_1970=words.since_1970, unit_us=words.unit_us, problems=problems
            )
        else:
            order = self.order or words.order
            column = DateColumn(self.name, utc=words.utc, order=order, problems=problems)
        column.skip(self._blank_rows)
        return column

    def _zoned(
        self, time_us: IntArray, unzoned: npt.NDArray[np.bool_], lines: npt.NDArray[np.uint32]
    ) -> IntArray:
        """Bring times that state no zone to UTC by the zone the user states, or take them as UTC."""
        if self.zone is not None:
            self._note(unzoned, lines, "time", f"without a zone, read in {self.zone.key}, as asked")
            time_us = time_us.copy()
            rows = np.flatnonzero(unzoned)
            time_us[rows] -= self._offsets_us(time_us[rows], lines[rows], self.zone)
        elif self.words.local:
            first = int(lines[unzoned][0])
            message = (
                "the time states no zone, and the column says that it is not UTC; state the zone with"
                " --track-tz (for example Europe/Copenhagen), or write offsets such as +01:00"
            )
            self._problems.add(first, message, self.name)
        else:
            self._note(unzoned, lines, "time", "without a zone, read as UTC")
        return time_us

    def _offsets_us(
        self, local_us: IntArray, lines: npt.NDArray[np.uint32], zone: zoneinfo.ZoneInfo
    ) -> IntArray:
        """Return how far the zone is ahead of UTC at local times; looked up once for each minute."""
        minutes, minute_of = np.unique(local_us // _MINUTE_US, return_inverse=True)
        offsets = np.zeros(len(minutes), dtype=np.int64)
        unsure = np.zeros(len(minutes), dtype=np.bool_)
        for number, minute in enumerate(minutes.tolist()):
            try:
                ends = {_offset_s(minute * 60 + second, zone) for second in (0, 59)}
            except TimeTextError:
                ends = set()
            unsure[number] = len(ends) != 1
            offsets[number] = ends.pop() if len(ends) == 1 else 0
        result = offsets[minute_of]
        for row in np.flatnonzero(unsure[minute_of]).tolist():
            try:
                result[row] = _offset_s(int(local_us[row]) // MICROSECONDS, zone)
            except TimeTextError as error:
                self._problems.add(int(lines[row]), str(error), self.name)
        return result * MICROSECONDS

    def _note(
        self, rows: npt.NDArray[np.bool_], lines: npt.NDArray[np.uint32], one: str, what: str, many: str = ""
    ) -> None:
        count = int(rows.sum())
        if count:
            self.notes.append((int(lines[rows][0]), f"{counted(count, one, many)} {what}"))


def _offset_s(seconds: int, zone: zoneinfo.ZoneInfo) -> int:
    return local_offset_seconds(seconds, zone, _shown(seconds))


def _shown(seconds: int) -> str:
    """Return a local time as its clock shows it."""
    try:
        return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%dT%H:%M:%S")
    except (ValueError, OverflowError, OSError):
        return f"{seconds} s since 1970"
