"""Numbers of a table, strictly; a file has one decimal mark, and what it is shows where it is used."""

from __future__ import annotations

import re
from array import array
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from towzone.errors import quoted
from towzone.files.csv_text import Problems
from towzone.files.reading_limits import LIMITS, is_possible
from towzone.words import counted

__all__ = ["DecimalMark", "NumberTextError", "ReadingColumn", "is_missing", "tidied"]

FloatArray = npt.NDArray[np.float64]

_PLAIN = b"0123456789.,+- "
# A program writes 1e-05 for what is nearly nothing; 5.55E+01 was cut short by a spreadsheet.
_NUMBER = re.compile(r"[+-]?(?:\d{1,30}(?:[.,]\d{0,60})?|[.,]\d{1,60})(?:[eE]-\d{1,3})?", re.ASCII)
_MISSING = frozenset(("na", "n/a", "nan", "null", "none", "-", "--", "---", "?"))
"""Own choice: what a cell says that has no reading; compared in small letters."""
_LOOKALIKES = {0x2212: "-", 0x00A0: " ", 0x202F: " "}
"""A minus sign and blanks that are not those of ASCII, and cannot be meant otherwise."""


class NumberTextError(ValueError):
    """A text is no number; the message says what it is instead."""


class DecimalMark:
    """Reads numbers, holding a file to the one decimal mark it uses.

    Attributes
    ----------
    mark : str
        A point or a comma, empty as long as no number had one.
    """

    def __init__(self) -> None:
        self.mark = ""

    def together(self, cells: Sequence[str]) -> FloatArray | None:
        """Return the numbers of many cells, ``NaN`` for empty ones; ``None`` if not all are plain.

        What is not plain is not refused: another way, one by one, may read it, or tell what is wrong.
        """
        joined = "\n".join(cells)
        if joined.count("\n") >= len(cells):  # a line end inside a cell
            return None
        if not joined.isascii() or joined.encode("ascii").translate(None, _PLAIN + b"\n"):
            return None
        marks = {mark for mark in ".," if mark in joined}
        if len(marks | ({self.mark} - {""})) > 1:
            return None
        if "" in cells:
            cells = [cell or "nan" for cell in cells]
            joined = "\n".join(cells)
        if "," in marks:
            cells = joined.replace(",", ".").split("\n")
        try:
            numbers = np.array([*map(float, cells)], dtype=np.float64)
        except ValueError:
            return None
        self.mark = self.mark or "".join(marks)
        return numbers

    def number(self, text: str) -> float:
        """Return one number.

        Raises
        ------
        NumberTextError
            Not a number, or one with the other decimal mark than numbers before it.
        """
        if not _NUMBER.fullmatch(text):
            message = f"{quoted(text)} is not a number"
            raise NumberTextError(message)
        for mark in ".,":
            if mark in text:
                self.mark = self.mark or mark
                if mark != self.mark:
                    message = f"{quoted(text)} has another decimal mark than numbers above it"
                    raise NumberTextError(message)
        return float(text.replace(",", "."))


def tidied(text: str) -> str:
    """Return a cell without blanks around it, with plain signs and blanks.

    Examples
    --------
    >>> tidied(" \u22125.5 ")
    '-5.5'
    """
    return text.translate(_LOOKALIKES).strip()


def is_missing(text: str) -> bool:
    """Return whether a tidied cell says that there is no number.

    Examples
    --------
    >>> is_missing(""), is_missing("N/A"), is_missing("0")
    (True, True, False)
    """
    return not text or text.lower() in _MISSING


class ReadingColumn:
    """One column of readings: numbers in our unit, ``NaN`` where there is none or none that is possible.

    Parameters
    ----------
    name : str
        Of the column, for messages.
    role : str
        A name of `towzone.model.track.READINGS`.
    factor : float
        What one of the numbers is in our unit.
    mark : DecimalMark
    problems : Problems

    Attributes
    ----------
    values : array of float32
    """

    def __init__(self, name: str, role: str, factor: float, mark: DecimalMark, problems: Problems) -> None:
        self.name, self.role, self.factor = name, role, factor
        self.values = array("f")
        self._mark, self._problems = mark, problems
        self._impossible = 0
        self._first = (0, "")

    def add(self, cells: Sequence[str], lines: Sequence[int]) -> None:
        """Take the readings of more rows; those that are no numbers are told to the problems."""
        numbers = self._mark.together(cells)
        if numbers is None:
            numbers = np.array([self._one(cell, line) for cell, line in zip(cells, lines, strict=True)])
        impossible = self._keep(numbers)
        if self._impossible and not self._first[0]:
            self._first = (lines[impossible], cells[impossible].strip())

    def add_numbers(self, numbers: FloatArray, first_line: int) -> None:
        """Take the readings of more rows that are numbers already, ``NaN`` where there is none."""
        impossible = self._keep(numbers)
        if self._impossible and not self._first[0]:
            self._first = (first_line + impossible, f"{numbers[impossible]:g}")

    def _keep(self, numbers: FloatArray) -> int:
        """Keep what is possible; return the first row that is not, if any is."""
        # Limits hold for what is kept, which is of single precision.
        with np.errstate(over="ignore"):
            values = (numbers * self.factor).astype(np.float32)
        impossible = ~np.isnan(values) & ~is_possible(self.role, values.astype(np.float64))
        rows = np.flatnonzero(impossible)
        self._impossible += len(rows)
        values[rows] = np.nan
        self.values.frombytes(values.tobytes())
        return int(rows[0]) if len(rows) else 0

    def note(self) -> tuple[int, str] | None:
        """Return the first line and words on readings that are not possible, if there are any."""
        if not self._impossible:
            return None
        low, high = LIMITS[self.role]
        unit = f" in the unit of {self.role}" if self.factor != 1.0 else ""
        return self._first[0], (
            f"{counted(self._impossible, 'value')} of column {quoted(self.name)} left out, the first"
            f" {quoted(self._first[1])}: possible are {low:g} to under {high:g}{unit}"
        )

    def _one(self, cell: str, line: int) -> float:
        text = tidied(cell)
        if is_missing(text):
            return np.nan
        try:
            return self._mark.number(text)
        except NumberTextError as error:
            message = f"{error}; write a number, with the unit in the name of the column, or nothing"
            self._problems.add(line, message, self.name)
            return np.nan
