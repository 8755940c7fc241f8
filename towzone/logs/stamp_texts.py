"""The forms of date and time that loggers write beside sentences, to UTC; read or left, never guessed.

References
----------
The forms are those seen in public logs; no standard fixes them. ISO 8601 for dates, days of the year and
offsets.
"""

from __future__ import annotations

import datetime as dt
import re
import zoneinfo
from collections.abc import Iterable
from enum import StrEnum
from typing import NamedTuple

from towzone.tracks.options import DateOrder

__all__ = ["EARLIEST_US", "LATEST_US", "StampNote", "TextReading", "TextTimes", "since_1970_us"]

_MICROSECONDS = 1_000_000
_EPOCH_DAY = dt.date(1970, 1, 1).toordinal()
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_MILLISECONDS_FROM = 100_000_000_000
"""Common practice, no source: seconds reach this number in the year 5138, milliseconds did so in 1973."""
EARLIEST_US = 631_152_000 * _MICROSECONDS
"""Own choice, 1990-01-01: before it no logger wrote satellite positions; such a clock was not set."""
LATEST_US = 4_102_444_800 * _MICROSECONDS
"""Own choice, 2100-01-01: dates beyond it are damage."""
_EPOCH_FROM_S = 1_000_000_000
_EPOCH_BEFORE_S = 2_524_608_000
"""Own choice, 2001-09-09 to 2050-01-01: a bare number of ten digits is taken for seconds since 1970 only in
here; the narrower, the fewer counters pass for times."""
_DECIDED_BY = 3
"""Own choice: a single date of a log may be damaged and show the wrong order; three alike are not."""
_LARGEST_OFFSET_MIN = 14 * 60
"""Largest offset of a time zone; published: W3C XML Schema Part 2 (2004), 3.2.7.3."""
_DAYS_KEPT = 4096
"""Own choice: days whose number is remembered; a log has few."""

_GAP = rb"(?:[Tt_]|[,;]?[ \t]{0,8})"
_CLOCK = (
    rb"(?P<hour>\d{1,2}):(?P<minute>\d\d):(?P<second>\d\d)"
    # A comma begins a fraction only when milli- or microseconds follow; else it parts two fields.
    rb"(?:\.(?P<fraction>\d{1,12})|,(?P<comma>\d{3}|\d{6}))?(?!\d|:\d)"
    rb"(?:[ ]?(?P<half>[AaPp])\.?[Mm]\b)?"
)
_ZONE = rb"(?:[ ]?(?P<zone>(?:[Zz]|UTC|GMT)(?![A-Za-z0-9])|[+-]\d\d(?::?\d\d)?(?![\d:.])))?"
_DATED = re.compile(
    rb"(?<!\d)(?<!\d[.:/])(?:"
    rb"(?P<year>\d{4})(?P<mark>[-/.])(?P<month>\d{1,2})(?P=mark)(?P<day>\d{1,2})"
    rb"|(?P<first>\d{1,2})(?P<mark2>[-/.])(?P<then>\d{1,2})(?P=mark2)(?P<year2>\d{4}))"
    + _GAP
    + _CLOCK
    + _ZONE
)
_BASIC = re.compile(
    rb"(?<!\d)(?P<year>\d{4})(?P<month>\d\d)(?P<day>\d\d)[Tt](?P<hour>\d\d)(?P<minute>\d\d)(?P<second>\d\d)"
    rb"(?:\.(?P<fraction>\d{1,12}))?(?!\d)" + _ZONE
)
_ORDINAL = re.compile(
    rb"(?<![\d.:/-])(?P<year>\d{4}):(?P<ordinal>\d{3}):(?P<hour>\d\d):(?P<minute>\d\d):(?P<second>\d\d)"
    rb"(?:\.(?P<fraction>\d{1,12}))?(?![\d:])" + _ZONE
)
_BARE = re.compile(rb"(?<![\w.:/+-])(\d{13}|\d{10})(?:\.(\d{1,9}))?(?![\w./-]|:\d)")


class StampNote(StrEnum):
    """What had to be assumed to read a time, or why it was not read."""

    NO_ZONE = "no_zone"
    EITHER_ORDER = "either_order"
    LIKE_OTHERS = "like_others"
    OTHER_ORDER = "other_order"
    IMPOSSIBLE = "impossible"
    CLOCK_CHANGED = "clock_changed"
    UNSET_CLOCK = "unset_clock"
    BAD_TAG_BLOCK = "bad_tag_block"


class TextReading(NamedTuple):
    """What one text gave: microseconds or nothing, whether the zone is stated, and what is to be noted."""

    time_us: int | None = None
    zone_stated: bool = True
    notes: tuple[StampNote, ...] = ()


_NOTHING = TextReading()


class _UnreadableError(Exception):
    """A text looks like a time but gives none; ``note`` says why."""

    def __init__(self, note: StampNote) -> None:
        super().__init__(note.value)
        self.note = note


class TextTimes:
    """Reads the times in prefixes and suffixes of one log, in the order of the file.

    Parameters
    ----------
    zone : ZoneInfo or None
        Of times that state none; ``None`` reads them as UTC.
    order : DateOrder or None
        Of day and month; ``None`` leaves it to figures over 12, of which three alike decide for dates without
        such a figure that come after them.
    """

    def __init__(self, zone: zoneinfo.ZoneInfo | None, order: DateOrder | None) -> None:
        self._zone = zone
        self._stated_order = order
        self._order = order
        self._shown = {DateOrder.DAY_FIRST: 0, DateOrder.MONTH_FIRST: 0}
        self._days: dict[tuple[int, int, int], int] = {}

    def read(self, text: bytes, *, first: bool) -> TextReading:
        """Return the time in a text; of several bare numbers the ``first``, or else the last."""
        try:
            return self._search(text, first=first)
        except _UnreadableError as error:
            return TextReading(notes=(error.note,))

    def _search(self, text: bytes, *, first: bool) -> TextReading:
        for pattern in (_DATED, _BASIC, _ORDINAL):
            if (match := pattern.search(text)) is not None:
                return self._calendar(match.groupdict())
        found: Iterable[re.Match[bytes]] = _BARE.finditer(text)
        # A receiving station writes its figures first and the time last; a logger begins with the time.
        for match in found if first else reversed(list(found)):
            time_us = since_1970_us(int(match[1]), match[2])
            if _EPOCH_FROM_S * _MICROSECONDS <= time_us < _EPOCH_BEFORE_S * _MICROSECONDS:
                return TextReading(time_us)
        return _NOTHING

    def _calendar(self, found: dict[str, bytes]) -> TextReading:
        """Return the time of a date and a clock; ``found`` holds the named groups of a pattern."""
        day, notes = self._day(found)
        seconds = day * 86_400 + _clock_s(found)
        if not EARLIEST_US <= seconds * _MICROSECONDS < LATEST_US:
            raise _UnreadableError(StampNote.UNSET_CLOCK)
        fraction = (found["fraction"] or found.get("comma") or b"")[:6].ljust(6, b"0")
        zone = found["zone"]
        if zone is None:
            notes = (*notes, StampNote.NO_ZONE)
            seconds -= self._local_offset_s(seconds)
        elif zone[:1] in b"+-":
            seconds -= _offset_s(zone)
        time_us = seconds * _MICROSECONDS + int(fraction)
        return TextReading(time_us, zone is not None, notes)

    def _day(self, found: dict[str, bytes]) -> tuple[int, tuple[StampNote, ...]]:
        """Return the day as days since 1970-01-01, and what was assumed to read it."""
        if (ordinal := found.get("ordinal")) is not None:
            year, day = int(found["year"]), int(ordinal)
            if not 1 <= day <= (self._number(year + 1, 1, 1) - self._number(year, 1, 1)):
                raise _UnreadableError(StampNote.IMPOSSIBLE)
            return self._number(year, 1, 1) + day - 1, ()
        if found["year"] is not None:
            return self._number(int(found["year"]), int(found["month"]), int(found["day"])), ()
        first, then = int(found["first"]), int(found["then"])
        order, notes = self._order_of(first, then)
        if order is DateOrder.DAY_FIRST:
            first, then = then, first
        return self._number(int(found["year2"]), first, then), notes

    def _order_of(self, first: int, then: int) -> tuple[DateOrder | None, tuple[StampNote, ...]]:
        """Return the order of a day and a month (``None``: either), and what was assumed for it."""
        if first == then or self._stated_order is not None:
            return self._stated_order, ()
        if first <= 12 and then <= 12:
            if self._order is None:
                raise _UnreadableError(StampNote.EITHER_ORDER)
            return self._order, (StampNote.LIKE_OTHERS,)
        if not (1 <= min(first, then) <= 12 and max(first, then) <= 31):
            raise _UnreadableError(StampNote.IMPOSSIBLE)
        shown = DateOrder.DAY_FIRST if first > 12 else DateOrder.MONTH_FIRST
        if self._order is None:
            self._shown[shown] += 1
            if self._shown[shown] >= _DECIDED_BY:
                self._order = shown
        elif self._order is not shown:
            raise _UnreadableError(StampNote.OTHER_ORDER)
        return shown, ()

    def _number(self, year: int, month: int, day: int) -> int:
        number = self._days.get((year, month, day))
        if number is None:
            try:
                number = dt.date(year, month, day).toordinal() - _EPOCH_DAY
            except ValueError as error:
                raise _UnreadableError(StampNote.IMPOSSIBLE) from error
            if len(self._days) >= _DAYS_KEPT:
                self._days.clear()
            self._days[year, month, day] = number
        return number

    def _local_offset_s(self, seconds: int) -> int:
        if self._zone is None:
            return 0
        naive = (_EPOCH + dt.timedelta(seconds=seconds)).replace(tzinfo=self._zone)
        first, second = naive.utcoffset(), naive.replace(fold=1).utcoffset()
        if first is None or first != second:
            raise _UnreadableError(StampNote.CLOCK_CHANGED)
        return int(first.total_seconds())


def since_1970_us(number: int, fraction: bytes | None) -> int:
    """Return microseconds of a count of seconds, or of milliseconds where it is that large.

    Examples
    --------
    >>> since_1970_us(1120959341, b"5"), since_1970_us(1120959341250, None)
    (1120959341500000, 1120959341250000)
    """
    unit_us = 1000 if number > _MILLISECONDS_FROM else _MICROSECONDS
    return number * unit_us + (int(fraction) * unit_us // 10 ** len(fraction) if fraction else 0)


def _clock_s(found: dict[str, bytes]) -> int:
    hour, minute, second = int(found["hour"]), int(found["minute"]), int(found["second"])
    half = found.get("half")
    if half is not None:
        if not 1 <= hour <= 12:
            raise _UnreadableError(StampNote.IMPOSSIBLE)
        hour = hour % 12 + (12 if half in b"Pp" else 0)
    # Second 60 is a leap second; counted on, it is the second after.
    if hour > 23 or minute > 59 or second > 60:
        raise _UnreadableError(StampNote.IMPOSSIBLE)
    return hour * 3600 + minute * 60 + second


def _offset_s(zone: bytes) -> int:
    digits = zone[1:].replace(b":", b"")
    hours, minutes = int(digits[:2]), int(digits[2:] or b"0")
    if minutes > 59 or hours * 60 + minutes > _LARGEST_OFFSET_MIN:
        raise _UnreadableError(StampNote.IMPOSSIBLE)
    return (-60 if zone[:1] == b"-" else 60) * (hours * 60 + minutes)
