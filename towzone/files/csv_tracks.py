"""Tables of fixes (CSV) to raw tracks, one for each vessel; every row used or counted, none guessed at.

The general-purpose table readers that were measured guess types and drop what does not fit, so that every
cell is read here by what the name of its column says.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem, quoted
from towzone.files.csv_columns import TrackColumns, count_known, name_positions, track_columns
from towzone.files.csv_head import Head, find_head, listed
from towzone.files.csv_numbers import DecimalMark, ReadingColumn
from towzone.files.csv_positions import USED, VOID, ZERO, Positions
from towzone.files.csv_text import Batch, Lines, Problems, read_batches
from towzone.files.csv_times import TimeColumn
from towzone.files.table_parts import WHOLE, Known, Settled, TablePart, read_whole
from towzone.model.result import Remark
from towzone.model.track import LeftOut
from towzone.tracks.identity import Chosen
from towzone.tracks.options import ReadingOptions
from towzone.tracks.raw import NOT_A_TIME, RawTrack, SourceContent
from towzone.words import counted

__all__ = ["csv_head", "is_table_of_fixes", "read_csv_part", "read_csv_tracks"]

_REASONS = {VOID: "void", ZERO: "zero_position"}

_HEAD_BYTES, _PIECE_BYTES = 1 << 16, 1 << 12
"""Own choice: names of columns take less than the first; what is no text behind them does not matter."""

IntArray = npt.NDArray[np.int64]


def is_table_of_fixes(start: bytes) -> bool:
    """Return whether a file begins with the names of columns of positions, whatever stands below them."""
    pieces = (start[at : at + _PIECE_BYTES] for at in range(0, min(len(start), _HEAD_BYTES), _PIECE_BYTES))
    try:
        return name_positions(find_head(Lines(pieces, ""), count_known).names)
    except InputError:
        return False


def read_csv_tracks(
    chunks: Iterable[bytes], *, file: str, name: str, options: ReadingOptions
) -> SourceContent:
    """Return the fixes of a table as they stand in the file.

    Parameters
    ----------
    chunks : iterable of bytes
        The content from its beginning, in pieces of any size.
    file : str
        Path as the user wrote it, for messages.
    name : str
        Of the track, or of the group of tracks where a column tells vessels apart.
    options : ReadingOptions
        ``track_tz``, ``date_order`` and ``only`` are used.

    Returns
    -------
    SourceContent
        ``tally`` counts ``rows`` but blank ones, and of them ``used``, ``left_out``, of ``other_vessels``.

    Raises
    ------
    InputError
        The table cannot be read, or any row of it; columns are missing or can be read in several ways; it
        holds no position; a vessel asked for is not in it.
    """
    lines = Lines(chunks, file)
    head = find_head(lines, count_known)
    table = _Table(head, track_columns(head, file), file, options)
    for batch in read_batches(lines, head.delimiter, head.next_line):
        table.add(batch)
    return table.content(name)


def csv_head(chunks: Iterable[bytes], file: str) -> Head:
    """Return the head of a table, of which no row is looked at.

    Raises
    ------
    InputError
        There is none, or its columns are missing or can be read in several ways.
    """
    head = find_head(Lines(chunks, file), count_known)
    track_columns(head, file)
    return head


def read_csv_part(
    chunks: Iterable[bytes],
    head: Head,
    first_line: int,
    *,
    file: str,
    name: str,
    options: ReadingOptions,
    known: Known,
) -> TablePart:
    """Return the fixes of some rows of a table, and what these settle for all of it.

    Parameters
    ----------
    chunks : iterable of bytes
        Whole rows.
    head : Head
        Of the table.
    first_line : int
        Number of the line with which they begin.
    file, name, options
        As for `read_csv_tracks`; of the vessels asked for any or none may be in the part.
    known : Known
    """
    table = _Table(head, track_columns(head, file), file, options, known)
    try:
        for batch in read_batches(Lines(chunks, file), head.delimiter, first_line):
            table.add(batch)
    except InputError as error:
        # How much was read before does not matter: which vessels the rest is of cannot be known. Where it was
        # only too much that is wrong, it may all be of a few vessels, without whom the rest can be read.
        return TablePart(
            content=None,
            settled=table.settled,
            refused=error,
            vessels=() if table.columns.identity else ("",),
            suspects=table.suspects() if table.problems.are_too_many else None,
        )
    return table.part(name)


class _Table:
    """The columns of a table as they grow."""

    def __init__(
        self,
        head: Head,
        columns: TrackColumns,
        file: str,
        options: ReadingOptions,
        known: Known = WHOLE,
    ) -> None:
        self.head, self.columns, self.file, self.options = head, columns, file, options
        self.problems = Problems(file)
        self._without = known.without
        mark = self._mark = DecimalMark()
        self._positions = Positions(columns.lat, columns.lon, mark, self.problems)
        self._readings = [
            (column, ReadingColumn(column.name, column.role, column.factor, mark, self.problems))
            for column in columns.readings
        ]
        self._times = TimeColumn(
            " and ".join(column.name for column in columns.time),
            replace(columns.words, since_1970=columns.words.since_1970 or known.since_1970),
            zone=options.track_tz,
            order=options.date_order or known.date_order,
            problems=self.problems,
        )
        self._lat_deg, self._lon_deg = array("d"), array("d")
        self._line, self._vessel, self._fate = array("I"), array("I"), bytearray()
        self._vessels: dict[str, int] = {}
        self._number_of: dict[str, int] = {}  # by the cell as it stands
        self._unnamed_line = 0
        self._rows = self._others = 0
        self._wanted = Chosen(options.only)
        self._names: dict[str, None] = {}  # in order of appearance; only while some are asked for

    def add(self, batch: Batch) -> None:
        """Take more rows."""
        rows, lines = self._squared(batch)
        if not rows:
            return
        cells = list(zip(*rows, strict=True))
        self._rows += len(rows)
        if (self._wanted or self._without) and self.columns.identity:
            kept = self._asked_for(cells, lines)
            if not kept:
                return
            if len(kept) < len(lines):
                cells = [tuple(column[row] for row in kept) for column in cells]
                lines = [lines[row] for row in kept]
        self._take(cells, lines)

    def _squared(self, batch: Batch) -> tuple[list[list[str]], list[int]]:
        """Return the rows that hold anything, each with as many cells as the head."""
        width = len(self.head.names)
        lat = self.columns.lat.index
        if {*map(len, batch.rows)} == {width} and all(row[lat] for row in batch.rows):
            return batch.rows, batch.lines
        rows, lines = [], []
        for row, line in zip(*batch, strict=True):
            if not any(map(str.strip, row)):
                continue
            if len(row) > width and not any(map(str.strip, row[width:])):
                row = row[:width]  # a delimiter behind the last cell
            if len(row) == width:
                rows.append(row)
                lines.append(line)
            else:
                self.problems.add(line, self._wrong_width(len(row)))
        return rows, lines

    def _wrong_width(self, cells: int) -> str:
        names = counted(len(self.head.names), "column")
        message = f"the row has {counted(cells, 'cell')}, but the head names {names}; mend the row"
        if self.head.delimiter == "," and cells > len(self.head.names):
            message += ", and put numbers with a decimal comma in quotes"
        return message

    def _asked_for(self, cells: Sequence[Sequence[str]], lines: Sequence[int]) -> list[int]:
        """Return which rows are of vessels that are asked for; the others are counted, and overheard."""
        columns = [[*map(str.strip, cells[column.index])] for column in self.columns.identity]
        for names in columns:
            self._names.update(dict.fromkeys(names))
        if "" in columns[0]:
            self._unnamed_line = self._unnamed_line or lines[columns[0].index("")]
        wanted = self._wanted
        asked = [
            names[0] not in self._without and (not wanted or any(name in wanted for name in names))
            for names in zip(*columns, strict=True)
        ]
        others = [row for row, is_asked in enumerate(asked) if not is_asked]
        if others:
            self._others += len(others)
            times = self._time_texts(cells)
            if times:
                self._times.overhear([times[row] for row in others], [lines[row] for row in others])
        return [row for row, is_asked in enumerate(asked) if is_asked]

    def _time_texts(self, cells: Sequence[Sequence[str]]) -> Sequence[str]:
        """Return date and time of day of rows in one text each; nothing where no column has times."""
        columns = [cells[column.index] for column in self.columns.time]
        if len(columns) == 2:
            return [*map(" ".join, zip(*columns, strict=True))]
        return columns[0] if columns else ()

    def _take(self, cells: Sequence[Sequence[str]], lines: list[int]) -> None:
        columns = self.columns
        # Lines and vessels first: what is wrong with a row is told of its vessel.
        self._line.extend(lines)
        if columns.identity:
            self._name(cells[columns.identity[0].index], lines)
        letters = None
        if columns.ns is not None and columns.ew is not None:
            letters = cells[columns.ns.index], cells[columns.ew.index]
        fixes = self._positions.read(cells[columns.lat.index], cells[columns.lon.index], letters, lines)
        self._lat_deg.frombytes(fixes.lat_deg.tobytes())
        self._lon_deg.frombytes(fixes.lon_deg.tobytes())
        self._fate += fixes.fate.tobytes()
        if columns.time:
            self._times.add(self._time_texts(cells), lines)
        for column, reading in self._readings:
            reading.add(cells[column.index], lines)

    def _name(self, names: Sequence[str], lines: Sequence[int]) -> None:
        """Tell the vessels of rows apart by their names."""
        numbers = self._number_of
        if not numbers.keys() >= set(names):
            for name in names:
                own = name.strip()
                numbers[name] = self._vessels.setdefault(own, len(self._vessels))
        self._vessel.extend([numbers[name] for name in names])
        if "" in self._vessels and not self._unnamed_line:
            self._unnamed_line = next(
                line for name, line in zip(names, lines, strict=True) if not name.strip()
            )

    @property
    def settled(self) -> Settled:
        """What the rows so far settle for all of the table."""
        return Settled(
            orders=self._times.orders,
            time_form=self._times.form,
            decimal_mark=self._mark.mark,
            is_open=self._times.is_open,
            unnamed_line=self._unnamed_line,
        )

    def part(self, name: str) -> TablePart:
        """Return everything that was read of a part, or why it is not to be used."""
        time_us = self._time_us()
        names = tuple(self._vessels) if self.columns.identity else ("",)
        about = TablePart(
            content=None,
            settled=self.settled,
            vessels=names,
            seen=tuple(dict.fromkeys((*names, *self._names))),
        )
        if about.settled.is_open:
            return about
        try:
            self.problems.refuse()
        except InputError as error:
            return replace(about, refused=error, suspects=self.suspects())
        return replace(about, content=self._content(name, time_us, empty=True))

    def suspects(self) -> dict[str, str] | None:
        """Return the vessels of the rows with something wrong, and what it is."""
        if not self.columns.identity:
            return None
        vessels, rows = list(self._vessels), dict(zip(self._line, self._vessel, strict=True))
        found: dict[str, str] = {}
        for line, problem in self.problems.found:
            if line not in rows:
                return None
            found.setdefault(vessels[rows[line]], str(problem))
        return found

    def content(self, name: str) -> SourceContent:
        """Return everything that was read, or refuse it."""
        time_us = self._time_us()
        self._refuse_unnamed()
        self.problems.refuse()
        self._refuse_unknown()
        fate = np.frombuffer(self._fate, dtype=np.uint8)
        if not (fate == USED).any():
            raise InputError(self.file, [Problem("", self._nothing(fate))])
        return self._content(name, time_us)

    def _time_us(self) -> IntArray:
        lines = np.frombuffer(self._line, dtype=np.uint32)
        if self.columns.time:
            return self._times.finish(lines)
        return np.full(len(lines), NOT_A_TIME, dtype=np.int64)

    def _content(self, name: str, time_us: IntArray, *, empty: bool = False) -> SourceContent:
        lines, fate = np.frombuffer(self._line, dtype=np.uint32), np.frombuffer(self._fate, dtype=np.uint8)
        raw = self._raw_tracks(name, time_us, fate, empty=empty)
        used, left_out = int((fate == USED).sum()), int((fate != USED).sum())
        if used + left_out + self._others != self._rows or sum(map(len, raw)) != used:
            message = f"rows of {self.file} do not add up"
            raise AssertionError(message)
        return SourceContent(
            form="CSV",
            raw=tuple(raw),
            remarks=tuple(self._remarks(fate, lines)),
            tally={"rows": self._rows, "used": used, "left_out": left_out, "other_vessels": self._others},
        )

    def _refuse_unnamed(self) -> None:
        if self._unnamed_line and (len(self._vessels) > 1 or self._wanted):
            message = "the row does not say which vessel it is of, as others do; fill it in, or leave it out"
            self.problems.add(self._unnamed_line, message, self.columns.identity[0].name)

    def _refuse_unknown(self) -> None:
        """Refuse a vessel that is asked for and does not occur; a slip there would check another's track."""
        if not self._wanted or not self.columns.identity:
            return
        unknown = self._wanted.missing(self._names)
        if unknown:
            there = listed([name for name in self._names if name])
            message = f"there is no vessel {listed(unknown)}; those in the file are {there}"
            raise InputError(self.file, [Problem("", message)])

    def _nothing(self, fate: npt.NDArray[np.uint8]) -> str:
        if not self._rows:
            return "holds the names of columns, but no row"
        found = [
            f"{counted(int((fate == VOID).sum()), 'row')} without a position",
            f"{counted(int((fate == ZERO).sum()), 'row')} at 0, 0",
        ]
        return f"holds no position: {' and '.join(found)}"

    def _raw_tracks(
        self, name: str, time_us: IntArray, fate: npt.NDArray[np.uint8], *, empty: bool
    ) -> list[RawTrack]:
        """Return the tracks of all vessels that have a position (or all), in order of their first rows."""
        if not len(fate):
            return []  # a part of nothing but blank lines
        if not self.columns.identity:
            return [self._raw(name, "", np.arange(len(fate)), time_us, fate)]
        vessel = np.frombuffer(self._vessel, dtype=np.uint32)
        order = np.argsort(vessel, kind="stable")
        ends = np.cumsum(np.bincount(vessel, minlength=len(self._vessels)))
        parts = np.split(order, ends[:-1])
        tracks = []
        for own, rows in zip(self._vessels, parts, strict=True):
            if empty or (fate[rows] == USED).any():
                tracks.append(self._raw(f"{name}/{own}" if own else name, own, rows, time_us, fate))
        return tracks

    def _raw(
        self, name: str, vessel: str, rows: IntArray, time_us: IntArray, fate: npt.NDArray[np.uint8]
    ) -> RawTrack:
        lat_deg, lon_deg = np.frombuffer(self._lat_deg), np.frombuffer(self._lon_deg)
        line = np.frombuffer(self._line, dtype=np.uint32)
        used = rows[fate[rows] == USED]
        left_out = []
        for code, reason in _REASONS.items():
            out = rows[fate[rows] == code]
            if len(out):
                left_out.append(
                    LeftOut(
                        reason=reason,
                        file=self.file,
                        line=line[out],
                        time_utc=time_us[out].view("datetime64[us]"),
                        lon_deg=lon_deg[out],
                        lat_deg=lat_deg[out],
                    )
                )
        return RawTrack(
            file=self.file,
            name=name,
            lon_deg=lon_deg[used],
            lat_deg=lat_deg[used],
            time_us=time_us[used],
            line=line[used],
            bounds=((0, len(used)),) if len(used) else (),
            vessel=vessel,
            readings={
                column.role: np.frombuffer(reading.values, dtype=np.float32)[used]
                for column, reading in self._readings
            },
            left_out=tuple(left_out),
            any_order=True,
        )

    def _remarks(self, fate: npt.NDArray[np.uint8], lines: npt.NDArray[np.uint32]) -> list[Remark]:
        said = [(self.head.line, message) for message in self.columns.remarks]
        said += self._times.notes
        said += [note for _, reading in self._readings if (note := reading.note()) is not None]
        void = lines[fate == VOID]
        if len(void):
            said.append((int(void[0]), f"{counted(len(void), 'row')} without a position left out"))
        said += [(0, message) for message in self._of_vessels(fate)]
        return [
            Remark(file=self.file, where=f"line {line}" if line else "", message=message)
            for line, message in said
        ]

    def _of_vessels(self, fate: npt.NDArray[np.uint8]) -> list[str]:
        if not self.columns.identity:
            return [read_whole(self._wanted.names)] if self._wanted else []
        said = []
        if len(self._vessels) > 1:
            by = quoted(self.columns.identity[0].name)
            said.append(
                f"{len(self._vessels)} vessels, told apart by column {by}, each with a track of its own"
            )
        vessel = np.frombuffer(self._vessel, dtype=np.uint32)
        positions = np.bincount(vessel[fate == USED], minlength=len(self._vessels))
        nowhere = [own for own, count in zip(self._vessels, positions.tolist(), strict=True) if not count]
        if nowhere:
            said.append(f"no position at all of {listed(nowhere)}")
        if self._others:
            said.append(f"{counted(self._others, 'row')} of other vessels left aside")
        return said
