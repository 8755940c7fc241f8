"""A column of dates with their clocks; one date may settle for all in which order day and month stand."""

from __future__ import annotations

from array import array
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from towzone.errors import quoted
from towzone.files.csv_text import Problems
from towzone.files.date_texts import Clock, Figures, day_number, order_of, read_clock, read_date
from towzone.files.times import EXAMPLE, MICROSECONDS, TimeTextError
from towzone.tracks.options import DateOrder
from towzone.tracks.raw import NOT_A_TIME

__all__ = ["FLAG_LEAP", "FLAG_NO_SECONDS", "FLAG_ZONED", "DateColumn"]

IntArray = npt.NDArray[np.int64]

FLAG_ZONED, FLAG_NO_SECONDS, FLAG_LEAP = 1, 2, 4
"""What is known of one time: that it is UTC, that it has no seconds, that its second was 60."""
_FLAG_BITS = 3
_DAY_US = 86_400 * MICROSECONDS
_MOST_RESTS = 100_000
"""Own choice: ends of times that are remembered; a minute has 60 000 milliseconds."""
_FIGURES = "0123456789"
_MOST_FIGURES = 30
_WORDS = {DateOrder.DAY_FIRST: "day before month", DateOrder.MONTH_FIRST: "month before day"}


class DateColumn:
    """Dates and clocks as they come, to microseconds when all of them are known.

    Parameters
    ----------
    name : str
        Of the column, for messages.
    utc : bool
        The column says that its times are UTC; another offset in a cell contradicts it.
    order : DateOrder or None
        As the user states it.
    problems : Problems
        Where to tell what cannot be read.

    Attributes
    ----------
    is_open : bool
        Nothing in the column settles the order; known at the end.
    """

    def __init__(self, name: str, *, utc: bool, order: DateOrder | None, problems: Problems) -> None:
        self.name, self.utc, self.order = name, utc, order
        self.is_open = False
        self._problems = problems
        # Of each row: which date and minute (0 is none), and the rest of it with flags in the lowest bits.
        self._minute, self._rest = array("I"), array("q")
        self._dates: list[tuple[int | Figures, str, int]] = [(0, "", 0)]
        self._minutes: dict[tuple[int, int], int] = {(0, 0): 0}
        # Many rows share a minute, and many what is behind it: both are looked up by their text.
        self._date_of: dict[str, int] = {}
        self._minute_of: dict[str, int] = {}
        self._rest_of: dict[str, int] = {}
        self._evidence: dict[DateOrder, tuple[int, str]] = {}
        self._seen_elsewhere: set[str] = set()

    @property
    def orders(self) -> frozenset[DateOrder]:
        """In which orders day and month stand, by dates that can be read in one only."""
        return frozenset(self._evidence)

    def skip(self, rows: int) -> None:
        """Take rows without a time."""
        self._minute.extend([0] * rows)
        self._rest.extend([0] * rows)

    def add(self, texts: Sequence[str], lines: Sequence[int]) -> None:
        """Take the times of more rows; one of nothing but blanks is no time."""
        minutes, rests = self._minute_of, self._rest_of
        add_minute, add_rest = self._minute.append, self._rest.append
        for text, line in zip(texts, lines, strict=True):
            at = text.find(":") + 3
            minute, rest = minutes.get(text[:at]), rests.get(text[at:])
            if minute is None or rest is None:
                minute, rest = self._parsed(text, at, line)
            add_minute(minute)
            add_rest(rest)

    def overhear(self, texts: Sequence[str], lines: Sequence[int]) -> None:
        """Learn the order of day and month from rows that are not asked for."""
        for text, line in zip(texts, lines, strict=True):
            key = text[: max(text.find(":") - 2, 0)]
            if key not in self._date_of and key not in self._seen_elsewhere:
                self._seen_elsewhere.add(key)
                try:
                    self._weigh(read_date(_bare(key)), _bare(key), line)
                except TimeTextError:
                    continue  # whether others' rows can be read is not asked

    def finish(self) -> tuple[IntArray, npt.NDArray[np.int64]]:
        """Return microseconds since 1970 as the clocks show them (`NOT_A_TIME` for none), and flags.

        What is wrong with the dates is told to the problems; the figures are of no use then.
        """
        order = self._settled()
        days = np.zeros(len(self._dates), dtype=np.int64)
        for number, (date, text, line) in enumerate(self._dates):
            days[number] = self._day(date, text, line, order)
        minutes = np.array([days[date] * _DAY_US + us for date, us in self._minutes], dtype=np.int64)
        minute = np.frombuffer(self._minute, dtype=np.uint32)
        rest = np.frombuffer(self._rest, dtype=np.int64)
        time_us = np.where(minute == 0, NOT_A_TIME, minutes[minute] + (rest >> _FLAG_BITS))
        return time_us, rest & ((1 << _FLAG_BITS) - 1)

    def _parsed(self, text: str, at: int, line: int) -> tuple[int, int]:
        """Return minute and rest of a time; ``at`` is where its minute ends."""
        minute, rest = self._minute_of.get(text[:at]), self._with_fraction(text[at:])
        if minute is not None and rest is not None:
            return minute, rest
        if not text.strip():
            return 0, 0
        try:
            if ":" not in text[2:]:
                raise TimeTextError(_why_unreadable(text.strip()))
            date = self._date_number(text[: at - 5], line)
            clock = read_clock(text[at - 5 :].strip().lstrip("Tt "))
            if self.utc and clock.offset_s:
                message = f"time {quoted(text.strip())} is not UTC, as the column says of itself; rename it"
                raise TimeTextError(message)
        except TimeTextError as error:
            self._problems.add(line, str(error), self.name)
            return 0, 0
        return self._kept(text, at, date, clock)

    def _kept(self, text: str, at: int, date: int, clock: Clock) -> tuple[int, int]:
        """Return minute and rest of a time, and remember their texts where each stands for itself."""
        minute = self._minutes.setdefault((date, clock.minute_us), len(self._minutes))
        flags = FLAG_ZONED * clock.zoned + FLAG_NO_SECONDS * (not clock.has_seconds)
        rest = (clock.rest_us << _FLAG_BITS) | flags | FLAG_LEAP * clock.leap_second
        # AM and PM change the hour before them; after 24:00 only zeros may stand.
        if "m" not in text[at:].lower() and clock.minute_us < _DAY_US:
            self._minute_of[text[:at]] = minute
            if len(self._rest_of) < _MOST_RESTS:
                self._rest_of[text[at:]] = rest
        return minute, rest

    def _with_fraction(self, text: str) -> int | None:
        """Return the rest of a time by that of the whole second: fractions are too many to remember."""
        known = self._rest_of.get(text)
        if known is not None or text[3:4] != ".":
            return known
        zone = text[4:].lstrip(_FIGURES)
        fraction = text[4 : len(text) - len(zone)]
        whole = self._rest_of.get(text[:3] + zone)
        if whole is None or not fraction or len(fraction) > _MOST_FIGURES:
            return None
        return whole + (int(fraction[:6].ljust(6, "0")) << _FLAG_BITS)

    def _date_number(self, key: str, line: int) -> int:
        known = self._date_of.get(key)
        if known is not None:
            return known
        text = _bare(key)
        if not text:
            message = f"the time of day has no date; {EXAMPLE}"
            raise TimeTextError(message)
        date = read_date(text)
        self._weigh(date, text, line)
        self._date_of[key] = len(self._dates)
        self._dates.append((date, text, line))
        return self._date_of[key]

    def _weigh(self, date: int | Figures, text: str, line: int) -> None:
        order = order_of(date) if isinstance(date, Figures) else None
        if order is not None:
            self._evidence.setdefault(order, (line, text))

    def _settled(self) -> DateOrder | None:
        """Return the order of all dates in figures; tell what contradicts it, or that nothing settles it."""
        if len(self._evidence) == 2:
            (other_line, other), (line, text) = sorted(self._evidence.values())
            message = (
                f"date {quoted(text)} and date {quoted(other)} in line {other_line} do not have day and month"
                f" in one order; {EXAMPLE}"
            )
            self._problems.add(line, message, self.name)
        elif self._evidence:
            ((order, (line, text)),) = self._evidence.items()
            if self.order not in (None, order):
                message = f"date {quoted(text)} has the {_WORDS[order]}, not as asked for"
                self._problems.add(line, message, self.name)
            return order
        elif self.order is None:
            self._refuse_open_figures()
        return self.order

    def _refuse_open_figures(self) -> None:
        """Tell the first date that is one either way; all others of the column are as open as that."""
        for date, text, line in self._dates:
            if isinstance(date, Figures) and date.first != date.second and max(date[:2]) <= 12:
                message = (
                    f"date {quoted(text)} can be read with the day or the month first, and no date of the"
                    " column settles it; say it with --date-order dmy or --date-order mdy"
                )
                self._problems.add(line, message, self.name)
                self.is_open = True
                return

    def _day(self, date: int | Figures, text: str, line: int, order: DateOrder | None) -> int:
        if not isinstance(date, Figures):
            return date
        first, second, year = date
        try:
            if order is DateOrder.MONTH_FIRST:
                return day_number(second, first, year, text)
            return day_number(first, second, year, text)
        except TimeTextError as error:
            if len(self._evidence) < len(DateOrder):  # else the contradiction was told
                self._problems.add(line, str(error), self.name)
            return 0


def _bare(key: str) -> str:
    """Return a date without what parts it from its clock."""
    return key.strip().rstrip("Tt,_ ")


def _why_unreadable(text: str) -> str:
    if ":" in text:
        return f"time {quoted(text)} has no date; {EXAMPLE}"
    try:
        read_date(text)
    except TimeTextError:
        return f"{quoted(text)} is not a date and time, as others in the column are; {EXAMPLE}"
    return f"{quoted(text)} is a date without a time of day; {EXAMPLE}"
