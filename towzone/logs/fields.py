"""Fields of many sentences read at once: numbers, letters, angles, times of day, dates; strictly.

What is empty is unknown; what is not empty and not what it should be is bad, which is not the same.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.logs.scan import Scan
from towzone.tracks.raw import NOT_A_TIME

__all__ = [
    "DAY_US",
    "NOT_A_DAY",
    "Angles",
    "Decimals",
    "Fields",
    "Piece",
    "Times",
    "angles",
    "calendar_days",
    "days_of_dates",
    "decimals",
    "times_of_day",
]

Bytes = npt.NDArray[np.uint8]
Ints = npt.NDArray[np.int64]
Days = npt.NDArray[np.int32]
Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

DAY_US = 86_400_000_000
NOT_A_DAY = -(2**31)
"""Stands for a date that is not known, in columns of days since 1970-01-01."""
_LONGEST_NUMBER = 32
"""Own choice: sentences have at most 82 characters by the standard; logs show numbers of up to 13."""
_MOST_DIGITS = 17
"""What a 64-bit integer holds with room for a factor of 10; digits behind the point beyond them are read and
dropped, they are worth less than the rounding of a double."""
_MOST_BLANKS = 16
"""Own choice: programs that print with a fixed width fill numbers with blanks."""
_MONTH_DAYS = np.array([0, 31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
_FIRST_TWO_DIGIT, _LAST_TWO_DIGIT = 80, 68
"""Published: the daemon of the gpsd project takes 69 to 99 as 19xx and 00 to 68 as 20xx. Own choice: 69 to 79
are refused, satellite navigation for ships began in the eighties (the first message is of 1980-01-06)."""
_FIRST_YEAR, _LAST_YEAR = 1980, 2099


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Decimals:
    """Decimal numbers as written, one for each sentence.

    Parameters
    ----------
    digits : ndarray of int64, shape (n,)
        All digits as one number, the point left out; 0 where not known.
    places : ndarray of int64, shape (n,)
        How many of them stand behind the point.
    whole : ndarray of int64, shape (n,)
        How many stand before it.
    negative : ndarray of bool, shape (n,)
    known, empty : ndarray of bool, shape (n,)
        A number; nothing at all. What is neither is bad.
    """

    digits: Ints
    places: Ints
    whole: Ints
    negative: Flags
    known: Flags
    empty: Flags

    def values(self, low: float, high: float) -> npt.NDArray[np.float32]:
        """Return the numbers, ``NaN`` where there is none from ``low`` to ``high``."""
        value = self.digits / 10.0**self.places
        value[self.negative] *= -1.0
        value[~(self.known & (value >= low) & (value <= high))] = np.nan
        return value.astype(np.float32)

    def integers(self, digits: int) -> Ints:
        """Return whole numbers without a point of at most ``digits`` digits, -1 where there is none."""
        fits = self.known & (self.places == 0) & (self.whole <= digits) & ~self.negative
        return np.where(fits, self.digits, -1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Angles:
    """Angles in degrees, ``NaN`` where ``empty`` (no number) or bad, and the places their minutes have."""

    degrees: Floats
    places: Ints
    empty: Flags


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Times:
    """Times of day in microseconds, ``NOT_A_TIME`` where empty or ``bad``."""

    us: Ints
    bad: Flags


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """The sentences of a scan, and where it stands in the file.

    Parameters
    ----------
    found : Scan
    sender : ndarray of int16
        Number of the sender of each sentence.
    first_seq : int
        Number of its first sentence among those read in the file.
    first_line : int
        Number of its first line, from 1.
    """

    found: Scan
    sender: npt.NDArray[np.int16]
    first_seq: int
    first_line: int

    def seqs(self, index: Ints) -> Ints:
        """Return the numbers of some sentences in the file."""
        return index + self.first_seq

    def lines(self, index: Ints) -> Ints:
        """Return the lines in which some sentences begin."""
        return np.searchsorted(self.found.line_ends, self.found.start[index]) + self.first_line


class Fields:
    """Where the fields of some sentences stand.

    Parameters
    ----------
    found : Scan
    index : ndarray of int64, shape (n,)
        Which sentences of the scan, all of one layout.
    """

    def __init__(self, found: Scan, index: Ints) -> None:
        self.data = found.data
        self._stop = found.stop[index]
        self._first = found.first_comma[index]
        self._commas = found.commas
        self._blanks = found.blanks
        self.count = found.fields[index]

    def __len__(self) -> int:
        return len(self._stop)

    def span(self, number: int | Ints) -> tuple[Ints, Ints]:
        """Return where a field (1 is the first after the address) begins and ends, blanks around it left out.

        A field that a sentence does not have is empty.
        """
        place = self._first + number
        begin = np.minimum(self._commas[place - 1] + 1, self._stop)
        end = np.minimum(self._commas[place], self._stop)
        return _without_blanks(self.data, begin, end) if self._blanks else (begin, end)

    def decimals(self, number: int | Ints) -> Decimals:
        """Return a field as numbers without sign."""
        return decimals(self.data, *self.span(number))

    def signed(self, number: int | Ints) -> Decimals:
        """Return a field as numbers with or without sign."""
        begin, end = self.span(number)
        first = self.data[begin]
        sign = (end > begin) & ((first == ord("-")) | (first == ord("+")))
        without = decimals(self.data, begin + sign, end)
        return Decimals(
            digits=without.digits,
            places=without.places,
            whole=without.whole,
            negative=sign & (first == ord("-")),
            known=without.known,
            # A sign alone is no number, but it is not nothing.
            empty=without.empty & ~sign,
        )

    def letters(self, number: int | Ints) -> Bytes:
        """Return a field of one character in upper case, 0 where it is empty, 255 where it is longer."""
        begin, end = self.span(number)
        first = self.data[begin]
        upper = np.where((first >= ord("a")) & (first <= ord("z")), first - 32, first)
        return np.where(end == begin, 0, np.where(end == begin + 1, upper, 255)).astype(np.uint8)


def decimals(data: Bytes, begin: Ints, end: Ints) -> Decimals:
    """Return the decimal numbers that stand in ``data`` from each ``begin`` to before each ``end``.

    Digits with at most one point among, before or behind them; anything else is bad. ``data`` is that of a
    scan, with its padding.
    """
    n = len(begin)
    width = end - begin
    digits = np.zeros(n, dtype=np.int64)
    places, whole, count, points = (np.zeros(n, dtype=np.int8) for _ in range(4))
    good = width <= _LONGEST_NUMBER
    for offset in range(min(int(width.max(initial=0)), _LONGEST_NUMBER)):
        inside = width > offset
        byte = data[begin + offset]
        digit = byte - np.uint8(48)
        is_digit = inside & (digit < 10)
        is_point = inside & (byte == 46)
        good &= ~inside | is_digit | is_point
        behind = points > 0
        counted = is_digit & (count < _MOST_DIGITS)
        good &= counted | ~is_digit | behind
        digits = np.where(counted, digits * 10 + digit, digits)
        count += is_digit
        whole += is_digit & ~behind
        places += counted & behind
        points += is_point
    known = good & (points < 2) & (count > 0)
    digits[~known] = 0
    places[~known] = 0
    return Decimals(
        digits=digits,
        places=places.astype(np.int64),
        whole=whole.astype(np.int64),
        negative=np.zeros(n, dtype=np.bool_),
        known=known,
        empty=width == 0,
    )


def angles(number: Decimals, hemisphere: Bytes, positive: str, negative: str, limit_deg: float) -> Angles:
    """Return angles written as degrees and minutes in one number, and a letter.

    Parameters
    ----------
    number : Decimals
        ``ddmm.mmm`` or ``dddmm.mmm``.
    hemisphere : ndarray of uint8, shape (n,)
        Letters in upper case.
    positive, negative : str
        The letters allowed.
    limit_deg : float

    Notes
    -----
    The degrees are all but the last two digits before the point, so a leading zero may be missing; with less
    than three digits there are no degrees, and what is written is something else (decimal degrees, mostly).
    """
    unit = 10**number.places
    degrees = number.digits // unit // 100
    minutes = (number.digits - degrees * 100 * unit) / unit
    value = degrees + minutes / 60.0
    east = hemisphere == ord(positive)
    west = hemisphere == ord(negative)
    good = number.known & (number.whole >= 3) & (number.whole <= 5)
    good &= (minutes < 60.0) & (value <= limit_deg) & (east | west)
    return Angles(
        degrees=np.where(good, np.where(west, 0.0 - value, value), np.nan),
        places=number.places,
        empty=number.empty,
    )


def times_of_day(number: Decimals) -> Times:
    """Return times of day written ``hhmmss`` with any fraction, cut to microseconds.

    Second 60, a leap second, is the second after 59; of the last minute of a day it is 24:00:00.
    """
    unit = 10**number.places
    clock = number.digits // unit
    hour, minute, second = clock // 10_000, clock // 100 % 100, clock % 100
    fraction_us = (number.digits - clock * unit) * 1_000_000 // unit
    good = number.known & (number.whole == 6) & (hour < 24) & (minute < 60) & (second < 61)
    us = ((hour * 60 + minute) * 60 + second) * 1_000_000 + fraction_us
    return Times(us=np.where(good, us, NOT_A_TIME), bad=~good & ~number.empty)


def days_of_dates(number: Decimals) -> tuple[Days, Flags]:
    """Return dates written ``ddmmyy`` as days since 1970-01-01, and which are bad.

    Years 80 to 99 are 1980 to 1999, 00 to 68 are 2000 to 2068; 69 to 79 are bad.
    """
    written = np.where(number.whole == 6, number.integers(6), -1)
    two = written % 100
    year = np.where(two >= _FIRST_TWO_DIGIT, 1900 + two, np.where(two <= _LAST_TWO_DIGIT, 2000 + two, -1))
    day = calendar_days(np.where(written >= 0, year, -1), written // 100 % 100, written // 10_000)
    return day, (day == NOT_A_DAY) & ~number.empty


def calendar_days(year: Ints, month: Ints, day: Ints) -> Days:
    """Return days since 1970-01-01, `NOT_A_DAY` where there is no such date from 1980 to 2099."""
    good = (year >= _FIRST_YEAR) & (year <= _LAST_YEAR) & (month >= 1) & (month <= 12) & (day >= 1)
    year, month = np.where(good, year, _FIRST_YEAR), np.where(good, month, 1)
    longest = _MONTH_DAYS[month] - ((month == 2) & (year % 4 != 0))
    good &= day <= longest
    months = (year - 1970) * 12 + month - 1
    first = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    return np.where(good, first + day - 1, NOT_A_DAY).astype(np.int32)


def _without_blanks(data: Bytes, begin: Ints, end: Ints) -> tuple[Ints, Ints]:
    """Return the bounds of texts without blanks at either end."""
    for _ in range(_MOST_BLANKS):
        blank = (end > begin) & (data[begin] == 32)
        if not blank.any():
            break
        begin = begin + blank
    for _ in range(_MOST_BLANKS):
        blank = (end > begin) & (data[end - 1] == 32)
        if not blank.any():
            break
        end = end - blank
    return begin, end
