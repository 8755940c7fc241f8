"""Tables of waypoints (CSV) to the points of planned lines, in the order of their rows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem, quoted
from towzone.files.csv_columns import PositionColumns, count_known, position_columns
from towzone.files.csv_head import Head, find_head, listed
from towzone.files.csv_names import plain
from towzone.files.csv_numbers import DecimalMark
from towzone.files.csv_positions import VOID, ZERO, Positions
from towzone.files.csv_text import Lines, Problems, read_batches
from towzone.words import counted

__all__ = ["Waypoints", "read_waypoints"]

_POINT_NAMES = frozenset(
    ("name", "point", "pointname", "waypoint", "waypointname", "wpt", "wptname", "mark", "markname", "label")
)
_LINE_NAMES = frozenset(("line", "linename", "route", "routename", "tow", "towline"))
"""Names of columns, compared as `plain` writes them. Common practice, no source."""
_EXAMPLE = "name,lat,lon"


@dataclass(frozen=True, slots=True, kw_only=True)
class Waypoints:
    """The points of one line: its name, empty where no column names lines; positions, names, file lines."""

    line: str
    lon_deg: npt.NDArray[np.float64]
    lat_deg: npt.NDArray[np.float64]
    names: tuple[str, ...]
    lines: tuple[int, ...]


def read_waypoints(chunks: Iterable[bytes], file: str) -> tuple[tuple[Waypoints, ...], tuple[str, ...]]:
    """Return the lines of a table, in order of their first rows, and what to tell of the table.

    Parameters
    ----------
    chunks : iterable of bytes
        The content from its beginning, in pieces of any size.
    file : str
        Path as the user wrote it, for messages.

    Raises
    ------
    InputError
        The table cannot be read, or any row of it; columns are missing or can be read in several ways; a row
        has no position, or none but 0, 0; a line goes on after another has begun.
    """
    lines = Lines(chunks, file)
    head = find_head(lines, _count_known)
    where = position_columns(head, file, _EXAMPLE)
    table = _Table(head, where, file)
    for batch in read_batches(lines, head.delimiter, head.next_line):
        table.add(batch.rows, batch.lines)
    return table.waypoints(), table.remarks


def _count_known(names: Sequence[str]) -> int:
    return count_known(names) + sum(plain(name) in _POINT_NAMES | _LINE_NAMES for name in names)


class _Table:
    """The rows of a table as they come."""

    def __init__(self, head: Head, where: PositionColumns, file: str) -> None:
        self.head, self.where, self.file = head, where, file
        self.problems = Problems(file)
        self._point_column = self._column(_POINT_NAMES)
        self._line_column = self._column(_LINE_NAMES)
        self._positions = Positions(where.lat, where.lon, DecimalMark(), self.problems)
        self._lon: list[float] = []
        self._lat: list[float] = []
        self._lines: list[int] = []
        self._names: list[str] = []
        self._groups: dict[str, list[int]] = {}
        self._group = ""

    @property
    def remarks(self) -> tuple[str, ...]:
        """Which columns are not used."""
        used = {
            column.index
            for column in (self.where.lat, self.where.lon, self.where.ns, self.where.ew)
            if column
        }
        used |= {index for index in (self._point_column, self._line_column) if index is not None}
        others = [name for index, name in enumerate(self.head.names) if index not in used and name]
        return (f"columns not used: {listed(others)}",) if others else ()

    def _column(self, words: frozenset[str]) -> int | None:
        found = [index for index, name in enumerate(self.head.names) if plain(name) in words]
        if len(found) > 1:
            names = listed([self.head.names[index] for index in found])
            message = f"has several columns that mean the same: {names}; leave all but one out"
            raise InputError(self.file, [Problem(f"line {self.head.line}", message)])
        return found[0] if found else None

    def add(self, rows: Sequence[list[str]], lines: Sequence[int]) -> None:
        """Take more rows, blank ones left out."""
        width = len(self.head.names)
        kept = []
        for row, line in zip(rows, lines, strict=True):
            if not any(map(str.strip, row)):
                continue
            if any(map(str.strip, row[width:])) or len(row) < width:
                message = (
                    f"the row has {counted(len(row), 'cell')}, but the head names {counted(width, 'column')};"
                    " mend the row, and put text or numbers with a comma in quotes"
                )
                self.problems.add(line, message)
                continue
            kept.append((row, line))
        if kept:
            self._take([row for row, _ in kept], [line for _, line in kept])

    def _take(self, rows: Sequence[list[str]], lines: list[int]) -> None:
        where = self.where
        letters = None
        if where.ns is not None and where.ew is not None:
            letters = [row[where.ns.index] for row in rows], [row[where.ew.index] for row in rows]
        lat, lon = [row[where.lat.index] for row in rows], [row[where.lon.index] for row in rows]
        fixes = self._positions.read(lat, lon, letters, lines)
        for at, (row, line) in enumerate(zip(rows, lines, strict=True)):
            if fixes.fate[at] == VOID:
                self.problems.add(line, "the row has no position; fill it in, or leave the row out")
            elif fixes.fate[at] == ZERO:
                message = "stands at 0, 0, which programs write when they have no position; give the true one"
                self.problems.add(line, message)
            self._names.append("" if self._point_column is None else row[self._point_column].strip())
            self._put_in_line(row, line, len(self._lines) + at)
        self._lon += fixes.lon_deg.tolist()
        self._lat += fixes.lat_deg.tolist()
        self._lines += lines

    def _put_in_line(self, row: list[str], line: int, number: int) -> None:
        """Say which line a row belongs to."""
        if self._line_column is None:
            self._groups.setdefault("", []).append(number)
            return
        group, column = row[self._line_column].strip(), self.head.names[self._line_column]
        if not group:
            self.problems.add(line, "the row does not say which line it is of; fill it in", column)
        elif group != self._group and group in self._groups:
            message = (
                f"line {quoted(group)} goes on here after {quoted(self._group)} has begun; put the rows of a"
                " line together"
            )
            self.problems.add(line, message, column)
        self._group = group
        self._groups.setdefault(group, []).append(number)

    def waypoints(self) -> tuple[Waypoints, ...]:
        """Return the points of each line, or refuse the file."""
        self.problems.refuse()
        if not self._groups:
            raise InputError(self.file, [Problem("", "holds the names of columns, but no row")])
        return tuple(
            Waypoints(
                line=line,
                lon_deg=np.array([self._lon[row] for row in rows]),
                lat_deg=np.array([self._lat[row] for row in rows]),
                names=tuple(self._names[row] for row in rows),
                lines=tuple(self._lines[row] for row in rows),
            )
            for line, rows in self._groups.items()
        )
