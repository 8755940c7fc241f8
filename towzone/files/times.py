"""Time texts of tracks to UTC, strictly: no date without a time, no impossible date, no guessed zone."""

from __future__ import annotations

import datetime as dt
import re
import zoneinfo
from enum import StrEnum

from towzone.errors import quoted

__all__ = [
    "EPOCH_DAY",
    "EXAMPLE",
    "MICROSECONDS",
    "TimeNote",
    "TimeReader",
    "TimeTextError",
    "clock_seconds",
    "local_offset_seconds",
    "offset_seconds",
]

MICROSECONDS = 1_000_000

EPOCH_DAY = dt.date(1970, 1, 1).toordinal()
"""Number of the first day of 1970 in the count of `datetime.date.toordinal`."""
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_LARGEST_OFFSET_MIN = 14 * 60
"""Largest offset of a time zone; published: W3C XML Schema Part 2 (2004), 3.2.7.3."""

_TIME = re.compile(
    r"(\d{4}-\d\d-\d\d)[Tt ](\d\d):(\d\d):(\d\d)(?:[.,](\d+))?\s*(?:([Zz])|([+-])(\d\d):?(\d\d))?", re.ASCII
)
_BARE_DATE = re.compile(r"\d{4}-\d\d-\d\d(?:Z|[+-]\d\d:?\d\d)?", re.ASCII | re.IGNORECASE)
EXAMPLE = "write for example 2026-03-01T06:10:00Z"
"""What to do about a time that cannot be read."""


class TimeTextError(ValueError):
    """A time text cannot be read; the message says why and what to write."""


class TimeNote(StrEnum):
    """What had to be assumed to read a time."""

    NO_ZONE = "no_zone"
    LEAP_SECOND = "leap_second"


class TimeReader:
    """Reads ISO 8601 date-times as GPX and XML Schema write them, and what writers make of them.

    Parameters
    ----------
    local : ZoneInfo or None
        The zone of times that state none; ``None`` reads them as UTC, which GPX defines.

    Attributes
    ----------
    notes : dict of TimeNote to int
        How often each assumption was made.
    """

    def __init__(self, local: zoneinfo.ZoneInfo | None = None) -> None:
        self.local = local
        self.notes: dict[TimeNote, int] = {}
        # Many fixes share a day; looking its number up is ten times faster than building a date.
        self._days: dict[str, int] = {}

    def read(self, text: str) -> int:
        """Return microseconds since 1970-01-01T00:00:00Z.

        A fraction is cut to microseconds; ``24:00:00`` is the next midnight; second 60 is the next second.

        Raises
        ------
        TimeTextError
            Not a date and time, an impossible one, or a local time that occurs twice or never.
        """
        match = _TIME.fullmatch(text.strip())
        if match is None:
            raise TimeTextError(_why_unreadable(text))
        day_text, hour, minute, second, fraction, utc, sign, offset_h, offset_min = match.groups()
        seconds = self._day(day_text, text) * 86_400 + clock_seconds(
            int(hour), int(minute), int(second), fraction, text
        )
        if second == "60":
            self._note(TimeNote.LEAP_SECOND)
        if sign is not None:
            seconds -= offset_seconds(sign, int(offset_h), int(offset_min), text)
        elif utc is None:
            self._note(TimeNote.NO_ZONE)
            if self.local is not None:
                seconds -= local_offset_seconds(seconds, self.local, text)
        return seconds * MICROSECONDS + (int(fraction[:6].ljust(6, "0")) if fraction else 0)

    def _note(self, note: TimeNote) -> None:
        self.notes[note] = self.notes.get(note, 0) + 1

    def _day(self, day_text: str, text: str) -> int:
        day = self._days.get(day_text)
        if day is None:
            try:
                day = dt.date.fromisoformat(day_text).toordinal() - EPOCH_DAY
            except ValueError as error:
                message = f"time {quoted(text)} has an impossible date; {EXAMPLE}"
                raise TimeTextError(message) from error
            self._days[day_text] = day
        return day


def local_offset_seconds(seconds: int, zone: zoneinfo.ZoneInfo, text: str) -> int:
    """Return how far a zone is ahead of UTC when its clocks show a time.

    Parameters
    ----------
    seconds : int
        Shown by the clocks, since they showed 1970-01-01T00:00:00.
    zone : ZoneInfo
    text : str
        What was read, for messages.

    Raises
    ------
    TimeTextError
        The clocks show this time twice or never, or it is beyond the calendar.
    """
    try:
        naive = (_EPOCH + dt.timedelta(seconds=seconds)).replace(tzinfo=zone)
        first, second = naive.utcoffset(), naive.replace(fold=1).utcoffset()
    except OverflowError as error:
        message = f"time {quoted(text)} is beyond the calendar; {EXAMPLE}"
        raise TimeTextError(message) from error
    if first is None or second is None or first != second:
        # The two readings differ when the clock was set back (twice) or forward (never).
        twice = first is not None and second is not None and first > second
        message = (
            f"time {quoted(text)} occurs {'twice' if twice else 'never'} in {zone}"
            " because the clock was changed; state the offset, for example +01:00"
        )
        raise TimeTextError(message)
    return int(first.total_seconds())


def clock_seconds(hour: int, minute: int, second: int, fraction: str | None, text: str) -> int:
    """Return the seconds since midnight of a clock time; ``24:00:00`` and second 60 are possible.

    Raises
    ------
    TimeTextError
        No clock shows this; ``text`` is what was read.
    """
    midnight = hour == 24 and minute == 0 and second == 0 and not (fraction or "").strip("0")
    if (hour > 23 and not midnight) or minute > 59 or second > 60:
        message = f"time {quoted(text)} has an impossible clock time; {EXAMPLE}"
        raise TimeTextError(message)
    return hour * 3600 + minute * 60 + second


def offset_seconds(sign: str, hours: int, minutes: int, text: str) -> int:
    """Return how far a stated offset is ahead of UTC.

    Raises
    ------
    TimeTextError
        No time zone is that far; ``text`` is what was read.
    """
    total_min = hours * 60 + minutes
    if minutes > 59 or total_min > _LARGEST_OFFSET_MIN:
        message = f"time {quoted(text)} has an impossible offset; allowed are -14:00 to +14:00"
        raise TimeTextError(message)
    return (-60 if sign == "-" else 60) * total_min


def _why_unreadable(text: str) -> str:
    if not text.strip():
        return f"the time is empty; {EXAMPLE} or leave the element out"
    if _BARE_DATE.fullmatch(text.strip()):
        return f"time {quoted(text)} is a date without a time of day; {EXAMPLE}"
    return f"time {quoted(text)} is not a date and time; {EXAMPLE}"
