"""Dates and times of day as tables write them; figures in an order that nothing settles are not guessed.

Forms read: ISO 8601 (``2026-03-12T06:10:00Z``), the same with a blank, slashes or points, ``12.03.2026``,
``12/03/2026``, ``03/12/2026``, ``12-Mar-2026``, ``12 March 2026``, ``Mar 12, 2026``; a clock of 24 hours, or
of 12 with AM or PM; after it ``Z``, ``UTC``, ``GMT``, an offset, or nothing.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import NamedTuple

from towzone.errors import quoted
from towzone.files.times import (
    EPOCH_DAY,
    EXAMPLE,
    MICROSECONDS,
    TimeTextError,
    clock_seconds,
    offset_seconds,
)
from towzone.tracks.options import DateOrder

__all__ = ["Clock", "Figures", "day_number", "order_of", "read_clock", "read_date"]

_FIGURES_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})", re.ASCII)
_FIGURES_LAST = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4})", re.ASCII)
_DAY_NAMED = re.compile(r"(\d{1,2})[-/. ]{0,2}([A-Za-z]{3,9})[-/., ]{0,2}(\d{4})", re.ASCII)
_NAMED_DAY = re.compile(r"([A-Za-z]{3,9})[-/. ]{0,2}(\d{1,2})[-/, ]{1,2}(\d{4})", re.ASCII)
_YEAR_NAMED = re.compile(r"(\d{4})[-/ ]([A-Za-z]{3,9})[-/ ](\d{1,2})", re.ASCII)
_SHORT_YEAR = re.compile(r"\d{1,2}[-/. ]\d{1,2}[-/. ]\d\d|\d{1,2}[-/. ][A-Za-z]{3,9}[-/. ]\d\d", re.ASCII)
_CLOCK = re.compile(
    r"(\d{1,2}):(\d\d)(?::(\d\d)(?:[.,](\d{1,30}))?)?(?:\s?([AaPp])\.?[Mm]\.?)?"
    r"\s{0,3}(?:([Zz]|UTC|utc|GMT)|([+-])(\d\d)(?::?(\d\d))?)?",
    re.ASCII,
)
_MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)


class Figures(NamedTuple):
    """A date of which the first two figures are day and month, or month and day."""

    first: int
    second: int
    year: int


class Clock(NamedTuple):
    """A time of day.

    ``minute_us`` is microseconds from midnight to its minute as the clock shows it, ``rest_us`` those from
    there, less ``offset_s``, by which the text says that the clock is ahead of UTC. ``zoned`` is whether the
    text states a zone.
    """

    minute_us: int
    rest_us: int
    offset_s: int
    zoned: bool
    has_seconds: bool
    leap_second: bool


def read_date(text: str) -> int | Figures:
    """Return the days from 1970-01-01 to a date, or its figures where their order is open.

    Raises
    ------
    TimeTextError
        Not a date, or no date of the calendar.

    Examples
    --------
    >>> read_date("2026-03-12"), read_date("12 Mar 2026"), read_date("12/03/2026")
    (20524, 20524, Figures(first=12, second=3, year=2026))
    """
    if match := _FIGURES_FIRST.fullmatch(text):
        return day_number(int(match[4]), int(match[3]), int(match[1]), text)
    if match := _FIGURES_LAST.fullmatch(text):
        return Figures(int(match[1]), int(match[3]), int(match[4]))
    for form, day, month, year in ((_DAY_NAMED, 1, 2, 3), (_NAMED_DAY, 2, 1, 3), (_YEAR_NAMED, 3, 2, 1)):
        if match := form.fullmatch(text):
            return day_number(int(match[day]), _month(match[month], text), int(match[year]), text)
    if _SHORT_YEAR.fullmatch(text):
        message = f"date {quoted(text)} has a year of two digits, or none; write all four"
        raise TimeTextError(message)
    message = f"{quoted(text)} is not a date; {EXAMPLE}"
    raise TimeTextError(message)


def day_number(day: int, month: int, year: int, text: str) -> int:
    """Return the days from 1970-01-01 to a date; ``text`` is what was read.

    Raises
    ------
    TimeTextError
        The calendar has no such date.
    """
    try:
        return dt.date(year, month, day).toordinal() - EPOCH_DAY
    except ValueError as error:
        message = f"date {quoted(text)} is not in the calendar; {EXAMPLE}"
        raise TimeTextError(message) from error


def _month(name: str, text: str) -> int:
    """Return the number of a month by its English name or the beginning of it."""
    word = name.lower()
    for number, month in enumerate(_MONTHS, start=1):
        if month.startswith(word):
            return number
    message = f"date {quoted(text)} names no month in English; {EXAMPLE}"
    raise TimeTextError(message)


def read_clock(text: str) -> Clock:
    """Return a time of day; a fraction is cut to microseconds.

    Raises
    ------
    TimeTextError
        Not a time of day, or one that no clock shows.

    Examples
    --------
    >>> read_clock("06:10:00.5Z")[:2], read_clock("6:10 PM+01:00")[:3]
    ((22200000000, 500000), (65400000000, -3600000000, 3600))
    """
    match = _CLOCK.fullmatch(text)
    if match is None:
        message = f"{quoted(text)} is not a time of day; {EXAMPLE}"
        raise TimeTextError(message)
    hour_text, minute, second, fraction, half, utc, sign, offset_h, offset_min = match.groups()
    hour = int(hour_text)
    if half:
        if not 1 <= hour <= 12:
            message = f"{quoted(text)} has an impossible hour: before AM or PM stands 1 to 12; {EXAMPLE}"
            raise TimeTextError(message)
        hour = hour % 12 + (12 if half in "Pp" else 0)
    clock_seconds(hour, int(minute), int(second or 0), fraction, text)  # refuses what no clock shows
    offset_s = offset_seconds(sign, int(offset_h), int(offset_min or 0), text) if sign else 0
    return Clock(
        minute_us=(hour * 60 + int(minute)) * 60 * MICROSECONDS,
        rest_us=(int(second or 0) - offset_s) * MICROSECONDS + int((fraction or "")[:6].ljust(6, "0")),
        offset_s=offset_s,
        zoned=bool(utc or sign),
        has_seconds=second is not None,
        leap_second=second == "60",
    )


def order_of(figures: Figures) -> DateOrder | None:
    """Return the only order in which figures are a date, ``None`` when both are or neither is.

    Examples
    --------
    >>> order_of(Figures(13, 3, 2026)), order_of(Figures(4, 3, 2026))
    (<DateOrder.DAY_FIRST: 'dmy'>, None)
    """
    if (figures.first > 12) == (figures.second > 12):
        return None
    return DateOrder.DAY_FIRST if figures.first > 12 else DateOrder.MONTH_FIRST
