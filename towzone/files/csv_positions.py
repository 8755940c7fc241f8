"""Columns of latitudes and longitudes: many cells at once where they are alike, else one by one."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.errors import quoted
from towzone.files.csv_angles import AXES, read_angle
from towzone.files.csv_columns import Column
from towzone.files.csv_numbers import DecimalMark, NumberTextError, tidied
from towzone.files.csv_text import Problems
from towzone.tracks.raw import ZERO_TOLERANCE_DEG

__all__ = ["USED", "VOID", "ZERO", "Fixes", "Positions"]

FloatArray = npt.NDArray[np.float64]

USED, VOID, ZERO = 0, 1, 2
"""What becomes of a fix: it has a position, none, or stands at 0, 0."""

_LETTERS = "NSEWnsew"
_PADDED = re.compile(r"\n[ ]*[+-]?0\d{3}", re.ASCII)
"""Four figures before the point of what is small enough for degrees: no one writes degrees so."""
_SIXTIETH = r"([0-9]{1,2}(?:\.[0-9]{0,15})?)"
_MINUTES = re.compile(
    rf"^([0-9]{{1,3}})[ °º]{_SIXTIETH}(?:['′’ ]{_SIXTIETH})?(?:''|[\"″”'′’])? ?([NSEW])$", re.MULTILINE
)
"""The usual forms of degrees and minutes, or degrees, minutes and seconds, with a letter behind."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixes:
    """Positions of rows and what becomes of each; degrees are ``NaN`` where there is none.

    Parameters
    ----------
    lat_deg, lon_deg : ndarray of float64, shape (n,)
    fate : ndarray of uint8, shape (n,)
        `USED`, `VOID` or `ZERO`.
    """

    lat_deg: FloatArray
    lon_deg: FloatArray
    fate: npt.NDArray[np.uint8]


class Positions:
    """The positions of a table.

    Parameters
    ----------
    lat, lon : Column
    mark : DecimalMark
        Of the file.
    problems : Problems
        Where to tell what cannot be read.
    """

    def __init__(self, lat: Column, lon: Column, mark: DecimalMark, problems: Problems) -> None:
        self._lat, self._lon = _Angles(lat, mark, problems), _Angles(lon, mark, problems)
        self._problems = problems

    def read(
        self,
        lat: Sequence[str],
        lon: Sequence[str],
        letters: tuple[Sequence[str], Sequence[str]] | None,
        lines: Sequence[int],
    ) -> Fixes:
        """Return the fixes of rows; a cell without a partner is told to the problems.

        Parameters
        ----------
        lat, lon : sequence of str, n of them
        letters : two sequences of str, n of them each, or None
            For the hemispheres, where they have columns of their own.
        lines : sequence of int, n of them
        """
        ns, ew = letters or (None, None)
        lat_deg, lon_deg = self._lat.read(lat, ns, lines), self._lon.read(lon, ew, lines)
        for angles, degrees, other in ((self._lat, lat_deg, lon_deg), (self._lon, lon_deg, lat_deg)):
            unset = (degrees == angles.axis.unset_deg) & ~(
                (lat_deg == AXES["lat"].unset_deg) & (lon_deg == AXES["lon"].unset_deg)
            )
            for row in np.flatnonzero(unset).tolist():
                text = f"{degrees[row]:g}"
                self._problems.add(lines[row], str(angles.axis.outside(text)), angles.column.name)
            for row in np.flatnonzero(np.isnan(degrees) & ~np.isnan(other)).tolist():
                message = (
                    f"the row has no {angles.axis.name}, but the other half of a position; give both or none"
                )
                self._problems.add(lines[row], message, angles.column.name)
        nowhere = np.isnan(lat_deg) | (lat_deg == AXES["lat"].unset_deg)
        at_zero = (np.abs(lat_deg) <= ZERO_TOLERANCE_DEG) & (np.abs(lon_deg) <= ZERO_TOLERANCE_DEG)
        fate = np.where(nowhere, VOID, np.where(at_zero, ZERO, USED)).astype(np.uint8)
        lat_deg[nowhere] = lon_deg[nowhere] = np.nan
        return Fixes(lat_deg=lat_deg, lon_deg=lon_deg, fate=fate)


class _Angles:
    """The latitudes of a table, or its longitudes."""

    def __init__(self, column: Column, mark: DecimalMark, problems: Problems) -> None:
        self.column = column
        self.axis = AXES[column.role]
        self._mark, self._problems = mark, problems

    def read(self, cells: Sequence[str], letters: Sequence[str] | None, lines: Sequence[int]) -> FloatArray:
        """Return degrees, ``NaN`` for empty cells; `Axis.unset_deg` stays."""
        found = self._degrees(cells) if letters is None else self._beside_letters(cells, letters)
        if found is None and letters is None:
            found = self._minutes(cells)
        if found is None:
            beside = [None] * len(cells) if letters is None else letters
            rows = zip(cells, beside, lines, strict=True)
            found = np.array([self._one(*row) for row in rows], dtype=np.float64)
        return found

    def _degrees(self, cells: Sequence[str]) -> FloatArray | None:
        """Return plain decimal degrees, if that is what all cells hold."""
        if self.column.packed:
            return None
        numbers = self._mark.together(cells)
        if numbers is None or _PADDED.search("\n" + "\n".join(cells)):
            return None
        inside = np.isnan(numbers) | (np.abs(numbers) <= self.axis.limit_deg)
        return numbers if (inside | (numbers == self.axis.unset_deg)).all() else None

    def _beside_letters(self, cells: Sequence[str], letters: Sequence[str]) -> FloatArray | None:
        """Return decimal degrees, or degrees and minutes run together, beside a letter in every row."""
        if not set(letters) <= set(self.axis.letters) or any("-" in cell or "+" in cell for cell in cells):
            return None
        if self.column.packed:
            numbers = self._mark.together(cells)
            if numbers is None or not (numbers < 10.0**self.axis.packed_figures).all():
                return None
            degrees, minutes = np.divmod(numbers, 100.0)
            return self._signed(degrees, minutes, 0.0, letters)
        found = self._degrees(cells)
        return None if found is None else self._signed(found, np.zeros(len(found)), 0.0, letters)

    def _minutes(self, cells: Sequence[str]) -> FloatArray | None:
        """Return degrees and minutes with a letter, if that is what all cells hold."""
        if self.column.packed or self._mark.mark == ",":
            return None
        found = _MINUTES.findall("\n".join(cells))
        if len(found) != len(cells):
            return None
        degrees, minutes, seconds, letters = zip(*found, strict=True)
        if not set(letters) <= set(self.axis.letters):
            return None
        if any("." in minute and second for minute, second in zip(minutes, seconds, strict=True)):
            return None
        if any("." in text for text in (*minutes, *seconds)):
            self._mark.mark = "."
        return self._signed(
            np.array([*map(float, degrees)]),
            np.array([*map(float, minutes)]),
            np.array([float(text or 0.0) for text in seconds]),
            letters,
        )

    def _signed(
        self, degrees: FloatArray, minutes: FloatArray, seconds: FloatArray | float, letters: Sequence[str]
    ) -> FloatArray | None:
        """Return angles with the sign of their letters, unless one is none; the sums of `read_angle`."""
        value = degrees + minutes / 60.0 + seconds / 60.0 / 60.0
        if not ((minutes < 60.0) & (seconds < 60.0) & (value <= self.axis.limit_deg)).all():
            return None
        return np.where(np.array(letters) == self.axis.letters[0], value, -value)

    def _one(self, cell: str, letter: str | None, line: int) -> float:
        text, beside = tidied(cell), tidied(letter or "")
        if not text:
            return np.nan
        try:
            if letter is not None and not (beside or text[-1] in _LETTERS or text[0] in _LETTERS):
                message = (
                    f"{self.axis.name} {quoted(text)} has no letter beside it; give {self.axis.either_letter}"
                )
                raise NumberTextError(message)
            return read_angle(text, beside, self.axis, packed=self.column.packed, mark=self._mark)
        except NumberTextError as error:
            self._problems.add(line, str(error), self.column.name)
            return 1.0  # anything, as the file is refused
