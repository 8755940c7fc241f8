"""A column of numbers counted from 1970, taken for times only where nothing else can be meant."""

from __future__ import annotations

import re
from array import array
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from towzone.errors import quoted
from towzone.files.csv_text import Problems
from towzone.files.times import EXAMPLE, MICROSECONDS
from towzone.tracks.raw import NOT_A_TIME

__all__ = ["NUMBER", "EpochColumn"]

IntArray = npt.NDArray[np.int64]

NUMBER = re.compile(r"(\d{1,20})(?:[.,](\d{0,20}))?", re.ASCII)
"""What a cell of such a column looks like."""

_UNITS_US = {10: 1_000_000, 13: 1_000, 16: 1}
"""Microseconds in one, by the digits of a number counted from 1970, in the years 2001 to 2099."""
_DIGITS_AFTER = {1_000_000: 6, 1_000: 3, 1: 0}
_SURE_DIGITS = 18
"""So many fit in 64 bits, whatever they are."""
_NAMES = {1_000_000: "seconds", 1_000: "milliseconds", 1: "microseconds"}
_EARLIEST_US = 315_964_800 * MICROSECONDS
"""1980-01-06, when the time of GPS begins (published: IS-GPS-200, 3.3.4): no fix is older."""
_LATEST_US = 4_102_444_800 * MICROSECONDS
"""Own choice, 2100-01-01."""
_RUN_TOGETHER = {
    10: re.compile(r"\d\d(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])(?:[01]\d|2[0-3])[0-5]\d", re.ASCII),
    13: re.compile(r"(?:19|20)\d\d(?:[012]\d\d|3[0-5]\d|36[0-6])(?:[01]\d|2[0-3])(?:[0-5]\d){2}", re.ASCII),
    16: re.compile(
        r"(?:19|20)\d\d(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])(?:[01]\d|2[0-3])(?:[0-5]\d){2}\d\d", re.ASCII
    ),
}
"""What else so many digits may be: year of two digits to minute, day of the year to second, hundredths."""


class EpochColumn:
    """Numbers as they come, to microseconds since 1970 UTC.

    Parameters
    ----------
    name : str
        Of the column, for messages.
    since_1970 : bool
        The column says that its numbers are counted from 1970.
    unit_us : int
        Microseconds in one, where the column says it, else 0: then ten digits before the point are seconds,
        thirteen milliseconds, sixteen microseconds, and nothing else is read.
    problems : Problems
        Where to tell what cannot be read.
    """

    def __init__(self, name: str, *, since_1970: bool, unit_us: int, problems: Problems) -> None:
        self.name = name
        self._problems = problems
        self._stated_us, self._unit_us = unit_us, unit_us
        self._time_us = array("q")
        self._first: tuple[int, str] | None = None
        self._digits = 0
        # While every number could be a date run together, nothing is certain.
        self._doubtful = not (since_1970 or unit_us)

    @property
    def form(self) -> str:
        """What the numbers are: those of one column are alike."""
        return f"numbers in {_NAMES.get(self._unit_us, 'an unknown unit')}"

    @property
    def is_open(self) -> bool:
        """Whether all numbers so far may be something else."""
        return self._doubtful and self._first is not None

    def skip(self, rows: int) -> None:
        """Take rows without a time."""
        self._time_us.extend([NOT_A_TIME] * rows)

    def add(self, texts: Sequence[str], lines: Sequence[int]) -> None:
        """Take the times of more rows; one of nothing but blanks is no time."""
        if self._first is not None and not self._doubtful and self._taken_together(texts):
            return
        for text, line in zip(texts, lines, strict=True):
            self._time_us.append(self._read(text.strip(), line))

    def overhear(self, texts: Sequence[str], lines: Sequence[int]) -> None:
        """Learn nothing: numbers do not depend on the rows of others."""

    def finish(self) -> tuple[IntArray, None]:
        """Return microseconds since 1970 UTC, `NOT_A_TIME` where there is none; there are no flags."""
        if self.is_open and self._first is not None:
            line, text = self._first
            message = (
                f"number {quoted(text)} may be counted from 1970 or be a date run together, and so may all"
                f" others of the column; name it epoch_s if it is counted in seconds, or {EXAMPLE}"
            )
            self._problems.add(line, message, self.name)
        return np.frombuffer(self._time_us, dtype=np.int64), None

    def _taken_together(self, texts: Sequence[str]) -> bool:
        """Take whole numbers at once, if that is what all of them are."""
        if not self._unit_us or self._digits + _DIGITS_AFTER[self._unit_us] > _SURE_DIGITS:
            return False
        joined = "".join(texts)
        if not (joined.isascii() and joined.isdigit()) or {*map(len, texts)} != {self._digits}:
            return False
        time_us = np.array([*map(int, texts)], dtype=np.int64) * self._unit_us
        if time_us.min() < _EARLIEST_US or time_us.max() >= _LATEST_US:
            return False
        self._time_us.frombytes(time_us.tobytes())
        return True

    def _read(self, text: str, line: int) -> int:
        if not text:
            return NOT_A_TIME
        match = NUMBER.fullmatch(text)
        if match is None:
            message = (
                f"{quoted(text)} is not a number counted from 1970, as others in the column are; {EXAMPLE}"
            )
            self._problems.add(line, message, self.name)
            return NOT_A_TIME
        whole, fraction = match[1], match[2] or ""
        if self._first is None:
            self._first, self._digits = (line, text), len(whole)
            self._unit_us = self._stated_us or _UNITS_US.get(self._digits, 0)
        unit_us = self._unit_us if self._stated_us or len(whole) == self._digits else 0
        if self._doubtful:
            rival = _RUN_TOGETHER.get(len(whole))
            self._doubtful = rival is not None and rival.fullmatch(whole) is not None
        time_us = int(whole) * unit_us
        if unit_us:
            digits = _DIGITS_AFTER[unit_us]
            time_us += int(fraction[:digits].ljust(digits, "0") or 0)
        if not _EARLIEST_US <= time_us < _LATEST_US:
            self._problems.add(line, _not_a_time(text, unit_us), self.name)
            return NOT_A_TIME
        return time_us


def _not_a_time(text: str, unit_us: int) -> str:
    if not unit_us:
        return (
            f"number {quoted(text)} is no time that can be read: before the point, all of a column must have"
            f" 10 digits (seconds since 1970), 13 (milliseconds) or 16 (microseconds); {EXAMPLE}"
        )
    what = f"number {quoted(text)}, in {_NAMES[unit_us]} since 1970,"
    return f"{what} is a time before 1980 or after 2099; {EXAMPLE}"
