"""A grid of cells along meridians and parallels, each with a code of row and column."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from towzone.errors import GeometryError, UsageError, quoted
from towzone.geodesy.ellipsoid import wrap_longitude

__all__ = ["Bounds", "Cell", "CodeGrid"]

Cell = tuple[int, int]
"""Row from the south and column from the west, both from 0."""

CodeArray = npt.NDArray[np.str_]

_SUB_RECTANGLE = (
    "has a digit for a sub-rectangle (10 minutes by 20 minutes); which digit is which corner is not known"
    " here, so only whole rectangles are read"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """The sides of a cell in degrees; its south and west sides belong to it, the others do not."""

    west_deg: float
    south_deg: float
    east_deg: float
    north_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeGrid:
    """A grid of equal cells in degrees.

    Parameters
    ----------
    name : str
        For messages.
    west_deg, south_deg : float
        The south-western corner, whole multiples of the cell sides.
    columns_per_deg, rows_per_deg : int
        Cells in one degree.
    rows, columns : tuple of str
        Parts of the code, from the south and from the west.
    row_form, column_form : str
        Regular expressions of what looks like a row or a column, valid or not.
    example : str
        A valid code.
    hint : str
        Which rows and columns there are, for messages.
    """

    name: str
    west_deg: float
    south_deg: float
    columns_per_deg: int
    rows_per_deg: int
    rows: tuple[str, ...]
    columns: tuple[str, ...]
    row_form: str
    column_form: str
    example: str
    hint: str

    def row(self, text: str) -> int:
        """Return the number of a row.

        Raises
        ------
        UsageError
            There is no such row.
        """
        return self._number(text, self.rows, "row")

    def column(self, text: str) -> int:
        """Return the number of a column.

        Raises
        ------
        UsageError
            There is no such column.
        """
        return self._number(text, self.columns, "column")

    def _number(self, text: str, names: tuple[str, ...], what: str) -> int:
        try:
            return names.index(text.upper())
        except ValueError as error:
            message = f"{quoted(text)} is not a {what} of the {self.name}: {self.hint}"
            raise UsageError(message) from error

    def cell(self, code: str) -> Cell:
        """Return row and column of a code; small letters are read as capitals.

        Raises
        ------
        UsageError
            Not a code of this grid; the message names it and says what is wrong.
        """
        text = code.strip()
        match = re.fullmatch(f"({self.row_form})({self.column_form})", text, re.ASCII | re.IGNORECASE)
        try:
            if match is not None:
                return self.row(match[1]), self.column(match[2])
        except UsageError as error:
            message = f"{quoted(text)} is not a rectangle: {error}"
            raise UsageError(message) from error
        raise UsageError(self._why_not(text))

    def _why_not(self, text: str) -> str:
        row, column = self.row_form, self.column_form
        if re.fullmatch(f"{row}{column}[1-9]", text, re.ASCII | re.IGNORECASE):
            return f"{quoted(text)} {_SUB_RECTANGLE}"
        if turned := re.fullmatch(f"({column})({row})", text, re.ASCII | re.IGNORECASE):
            return (
                f"{quoted(text)} is not a rectangle: the row comes first;"
                f" is {quoted((turned[2] + turned[1]).upper())} meant?"
            )
        return f"{quoted(text)} is not a rectangle of the {self.name}; write for example {self.example}"

    def code(self, cell: Cell) -> str:
        """Return the code of a row and column."""
        return self.rows[cell[0]] + self.columns[cell[1]]

    def codes(self) -> Iterator[str]:
        """Yield every code, row by row from the south, each from the west."""
        return (row + column for row in self.rows for column in self.columns)

    def corner_deg(self, row: int, column: int) -> tuple[float, float]:
        """Return longitude and latitude of a node of the grid; exact."""
        return (
            self.west_deg + column / self.columns_per_deg,
            self.south_deg + row / self.rows_per_deg,
        )

    def bounds(self, code: str) -> Bounds:
        """Return the sides of a rectangle.

        Raises
        ------
        UsageError
            As `cell`.
        """
        row, column = self.cell(code)
        west_deg, south_deg = self.corner_deg(row, column)
        east_deg, north_deg = self.corner_deg(row + 1, column + 1)
        return Bounds(west_deg=west_deg, south_deg=south_deg, east_deg=east_deg, north_deg=north_deg)

    def at(self, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> CodeArray:
        """Return the code of the rectangle that holds each position.

        Parameters
        ----------
        lon_deg, lat_deg : array_like
            Degrees, broadcast against each other; longitudes of any turn.

        Returns
        -------
        ndarray of str
            Of the broadcast shape; empty text where a position lies outside the grid. A position on a
            side belongs to the rectangle north or east of it.

        Raises
        ------
        GeometryError
            A position is not finite.
        """
        lon, lat = np.broadcast_arrays(np.asarray(lon_deg, np.float64), np.asarray(lat_deg, np.float64))
        if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
            message = "a position is not finite, so it lies in no rectangle"
            raise GeometryError(message)
        lon = wrap_longitude(lon)
        # Whole cells are counted before the origin is taken off, which keeps every bit of the position.
        row = np.floor(lat * self.rows_per_deg) - self.south_deg * self.rows_per_deg
        column = np.floor(lon * self.columns_per_deg) - self.west_deg * self.columns_per_deg
        inside = (row >= 0) & (row < len(self.rows)) & (column >= 0) & (column < len(self.columns))
        rows = _texts(self.rows)[np.where(inside, row, 0).astype(np.int64)]
        columns = _texts(self.columns)[np.where(inside, column, 0).astype(np.int64)]
        return np.asarray(np.where(inside, np.char.add(rows, columns), ""))


@cache
def _texts(parts: tuple[str, ...]) -> CodeArray:
    texts = np.array(parts)
    texts.setflags(write=False)
    return texts
