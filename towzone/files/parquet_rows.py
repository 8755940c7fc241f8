"""Rows of a Parquet table to raw tracks, one for each vessel; every row used or counted, none guessed at."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, quoted
from towzone.files.csv_angles import AXES
from towzone.files.csv_columns import track_columns
from towzone.files.csv_head import Head
from towzone.files.csv_numbers import DecimalMark, ReadingColumn
from towzone.files.csv_positions import USED, VOID, ZERO, Positions
from towzone.files.csv_text import Problems
from towzone.files.csv_times import TimeColumn
from towzone.files.parquet_columns import (
    Names,
    is_text,
    names_in,
    numbers_in,
    point_column,
    points_in,
    texts_in,
    times_in,
)
from towzone.files.table_parts import Known, Settled, TablePart, read_whole
from towzone.model.result import Remark
from towzone.model.track import LeftOut
from towzone.tracks.identity import Chosen
from towzone.tracks.options import ReadingOptions
from towzone.tracks.raw import NOT_A_TIME, ZERO_TOLERANCE_DEG, RawTrack, SourceContent
from towzone.words import counted

if TYPE_CHECKING:
    import pyarrow as pa

__all__ = ["ParquetColumns", "ParquetRows"]

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_REASONS = {VOID: "void", ZERO: "zero_position"}
_MOST_LINES = 2**32 - 1


class ParquetColumns:
    """Which columns of a table are read, and the names of those.

    Parameters
    ----------
    schema : pyarrow.Schema
    file : str
        For messages.
    vessel : str or None
        What the name of a folder says (``vessel=NAME``), for all rows; the table's own columns come first.

    Raises
    ------
    InputError
        Columns are missing, or can be read in several ways; points are not on WGS 84.
    """

    def __init__(self, schema: pa.Schema, file: str, vessel: str | None = None) -> None:
        self.names = [str(name) for name in schema.names]
        self.point = ""
        self.vessel = vessel
        head = Head(names=tuple(self.names), delimiter=",", line=0)
        try:
            self.read = track_columns(head, file)
        except InputError:
            self.point = point_column(schema, file)
            if not self.point:
                raise
            # Points stand for a latitude and a longitude behind all other columns.
            others = tuple("" if name == self.point else name for name in self.names)
            self.read = track_columns(replace(head, names=(*others, "lat", "lon")), file)

    @property
    def wanted(self) -> list[str]:
        """The names of the columns that are read."""
        read = self.read
        some = [*read.time, *read.identity, *read.readings]
        some += [] if self.point else [read.lat, read.lon, *(c for c in (read.ns, read.ew) if c is not None)]
        return list(dict.fromkeys([*(c.name for c in some), *([self.point] if self.point else [])]))


class ParquetRows:
    """The rows of a table as they come, batch by batch.

    Parameters
    ----------
    columns : ParquetColumns
    file : str
        Path as the user wrote it.
    options : ReadingOptions
    known : Known
    part : str
        Name of the part of the table, for remarks; empty where it has one only.
    """

    def __init__(
        self, columns: ParquetColumns, file: str, options: ReadingOptions, known: Known, part: str = ""
    ) -> None:
        self._columns, self._read = columns, columns.read
        self._file, self._part, self._options = file, part, options
        self._only, self._without = Chosen(options.only), known.without
        self._problems = Problems(file)
        self._mark = DecimalMark()
        read = self._read
        self._positions = Positions(read.lat, read.lon, self._mark, self._problems)
        self._readings = [
            (c, ReadingColumn(c.name, c.role, c.factor, self._mark, self._problems)) for c in read.readings
        ]
        self._texts = TimeColumn(
            " and ".join(column.name for column in read.time),
            replace(read.words, since_1970=read.words.since_1970 or known.since_1970),
            zone=options.track_tz,
            order=options.date_order or known.date_order,
            problems=self._problems,
        )
        self._lon: list[FloatArray] = []
        self._lat: list[FloatArray] = []
        self._time: list[IntArray] = []
        self._line: list[npt.NDArray[np.uint32]] = []
        self._vessel: list[IntArray] = []
        self._fate: list[npt.NDArray[np.uint8]] = []
        self._vessels: dict[str, int] = {}
        self._others_seen: dict[str, None] = {}
        self._bad: dict[int, str] = {}
        self._unnamed_line = self._rows = self._others = 0
        self._typed_times = self._unzoned = False

    def add(self, batch: pa.RecordBatch, first_line: int) -> None:
        """Take more rows; the first of them is row ``first_line`` of the table, from 1.

        Raises
        ------
        InputError
            A column is of a type that is not read, or too much is wrong.
        """
        self._rows += batch.num_rows
        lines = first_line + np.arange(batch.num_rows, dtype=np.int64)
        names = self._named(batch)
        kept = self._asked_for(batch, names)
        if kept is not None:
            batch, lines = batch.filter(_mask(kept)), lines[kept]
            names = _present(names, kept)
        if not batch.num_rows:
            return
        own = np.array([self._vessels.setdefault(n, len(self._vessels)) for n in names.names], dtype=np.int64)
        vessel = own[names.code]
        if "" in names.names and self._is_named and not self._unnamed_line:
            unnamed = names.code == names.names.index("")
            self._unnamed_line = int(lines[unnamed][0]) if unnamed.any() else 0
        lon, lat, fate = self._fixes(batch, lines, vessel)
        self._lon.append(lon)
        self._lat.append(lat)
        self._fate.append(fate)
        self._line.append(np.where(lines <= _MOST_LINES, lines, 0).astype(np.uint32))
        self._vessel.append(vessel)
        self._time.append(self._times(batch, lines))
        for column, reading in self._readings:
            cells = batch.column(column.name)
            if is_text(cells):
                reading.add(texts_in(cells), lines.tolist())
            else:
                reading.add_numbers(numbers_in(cells, self._file, column.name), int(lines[0]))

    @property
    def _is_named(self) -> bool:
        return bool(self._read.identity) or self._columns.vessel is not None

    def _named(self, batch: pa.RecordBatch) -> Names:
        if self._read.identity:
            name = self._read.identity[0].name
            return names_in(batch.column(name), self._file, name)
        return Names([self._columns.vessel or ""], np.zeros(batch.num_rows, dtype=np.int64))

    def _asked_for(self, batch: pa.RecordBatch, names: Names) -> npt.NDArray[np.bool_] | None:
        """Return which rows are of vessels asked for, ``None`` for all; the others are counted."""
        if not self._is_named or not (self._only or self._without):
            return None
        self._others_seen.update(dict.fromkeys(names.names))
        kept = np.array([name not in self._without for name in names.names], dtype=bool)[names.code]
        if self._only:
            asked = np.zeros(batch.num_rows, dtype=bool)
            others = [names_in(batch.column(c.name), self._file, c.name) for c in self._read.identity[1:]]
            for some in (names, *others):
                self._others_seen.update(dict.fromkeys(some.names))
                asked |= np.array([name in self._only for name in some.names], dtype=bool)[some.code]
            kept &= asked
        self._others += int((~kept).sum())
        return None if kept.all() else kept

    def _fixes(
        self, batch: pa.RecordBatch, lines: IntArray, vessel: IntArray
    ) -> tuple[FloatArray, FloatArray, npt.NDArray[np.uint8]]:
        read, file = self._read, self._file
        if self._columns.point:
            lon, lat = points_in(batch.column(self._columns.point), file, self._columns.point)
        else:
            cells = [batch.column(column.name) for column in (read.lat, read.lon)]
            if any(map(is_text, cells)) or read.ns is not None:
                letters = None
                if read.ns is not None and read.ew is not None:
                    letters = texts_in(batch.column(read.ns.name)), texts_in(batch.column(read.ew.name))
                texts = [texts_in(column) for column in cells]
                fixes = self._positions.read(texts[0], texts[1], letters, lines.tolist())
                return fixes.lon_deg, fixes.lat_deg, fixes.fate
            lat, lon = (
                numbers_in(column, file, of.name)
                for column, of in zip(cells, (read.lat, read.lon), strict=True)
            )
        return self._judged(lon.copy(), lat.copy(), lines, vessel)

    def _judged(
        self, lon: FloatArray, lat: FloatArray, lines: IntArray, vessel: IntArray
    ) -> tuple[FloatArray, FloatArray, npt.NDArray[np.uint8]]:
        """Return positions and what becomes of each row, by the same rules as positions in text."""
        read = self._read
        no_lat, no_lon = np.isnan(lat), np.isnan(lon)
        unset = (lat == AXES["lat"].unset_deg) & (lon == AXES["lon"].unset_deg)
        for column, degrees, none, other in (
            (read.lat, lat, no_lat, no_lon),
            (read.lon, lon, no_lon, no_lat),
        ):
            axis = AXES[column.role]
            outside = ~none & ~unset & ~(np.abs(degrees) <= axis.limit_deg)
            for row in self._first_of_each(outside, vessel):
                self._problem(vessel[row], lines[row], str(axis.outside(f"{degrees[row]:g}")), column.name)
            message = f"the row has no {axis.name}, but the other half of a position; give both or none"
            for row in self._first_of_each(none & ~other, vessel):
                self._problem(vessel[row], lines[row], message, column.name)
            if column.packed:
                message = (
                    "holds degrees and minutes run together; write degrees, or text with a letter beside it"
                )
                self._problem(vessel[0], lines[0], message, column.name)
        nowhere = no_lat | no_lon | unset
        at_zero = (np.abs(lat) <= ZERO_TOLERANCE_DEG) & (np.abs(lon) <= ZERO_TOLERANCE_DEG)
        fate = np.where(nowhere, VOID, np.where(at_zero, ZERO, USED)).astype(np.uint8)
        lat[nowhere] = lon[nowhere] = np.nan
        return lon, lat, fate

    def _first_of_each(self, wrong: npt.NDArray[np.bool_], vessel: IntArray) -> list[int]:
        """Return the first wrong row of each vessel: more would tell nothing new."""
        rows = np.flatnonzero(wrong)
        _, first = np.unique(vessel[rows], return_index=True)
        return [row for row in rows[np.sort(first)].tolist() if int(vessel[row]) not in self._bad]

    def _problem(self, vessel: int, line: int, message: str, column: str) -> None:
        self._bad.setdefault(int(vessel), message)
        self._problems.add(int(line), message, column)

    def _times(self, batch: pa.RecordBatch, lines: IntArray) -> IntArray:
        time = self._read.time
        if not time:
            return np.full(len(lines), NOT_A_TIME, dtype=np.int64)
        cells = [batch.column(column.name) for column in time]
        if len(cells) == 1 and not is_text(cells[0]):
            time_us, utc = times_in(cells[0], time[0], self._file)
            self._typed_times = True
            self._unzoned = not utc and not self._read.words.utc
            return time_us
        texts = [texts_in(column) for column in cells]
        together = texts[0] if len(texts) == 1 else [*map(" ".join, zip(*texts, strict=True))]
        self._texts.add(together, lines.tolist())
        return np.empty(0, dtype=np.int64)

    @property
    def settled(self) -> Settled:
        """What the rows so far settle for all of the table."""
        texts = self._texts
        form = texts.form
        if self._typed_times:
            clocks = self._unzoned and self._options.track_tz is None
            form = "timestamps without a zone" if clocks else "timestamps"
        return Settled(
            orders=texts.orders,
            time_form=form,
            decimal_mark=self._mark.mark,
            is_open=texts.is_open,
            unnamed_line=self._unnamed_line,
        )

    @property
    def seen(self) -> tuple[str, ...]:
        """The names of all vessels that were met, those left aside, too."""
        return tuple(dict.fromkeys((*self._vessels, *self._others_seen)))

    def part(self, name: str) -> TablePart:
        """Return everything that was read, or why it is not to be used."""
        lines = np.concatenate(self._line) if self._line else np.zeros(0, dtype=np.uint32)
        time_us = np.concatenate(self._time) if self._time else np.zeros(0, dtype=np.int64)
        if self._typed_times:
            time_us = self._texts.typed(time_us, lines, zoned=not self._unzoned)
        elif self._read.time:
            time_us = self._texts.finish(lines)
        settled, names = self.settled, tuple(self._vessels)
        if settled.is_open:
            return TablePart(content=None, settled=settled, vessels=names, seen=self.seen)
        try:
            self._problems.refuse()
        except InputError as error:
            return TablePart(
                content=None,
                settled=settled,
                refused=error,
                vessels=names,
                suspects=self._suspects(lines),
                seen=self.seen,
            )
        content = self._content(name, time_us, lines)
        return TablePart(content=content, settled=settled, vessels=names, seen=self.seen)

    def _suspects(self, lines: npt.NDArray[np.uint32]) -> dict[str, str] | None:
        """Return the vessels of the rows with something wrong, and what it is."""
        if not self._is_named:
            return None
        vessels, vessel = list(self._vessels), np.concatenate(self._vessel)
        found: dict[str, str] = {}
        for line, problem in self._problems.found:
            row = int(np.searchsorted(lines, line))
            if row == len(lines) or lines[row] != line:
                return None
            found.setdefault(vessels[int(vessel[row])], str(problem))
        return found

    def _content(self, name: str, time_us: IntArray, lines: npt.NDArray[np.uint32]) -> SourceContent:
        fate = np.concatenate(self._fate) if self._fate else np.zeros(0, dtype=np.uint8)
        raw = self._raw_tracks(name, time_us, lines, fate) if len(lines) else []
        used = int((fate == USED).sum())
        return SourceContent(
            form="GeoParquet table" if self._columns.point else "Parquet table",
            raw=tuple(raw),
            remarks=tuple(self._remarks(fate, lines)),
            tally={
                "rows": self._rows,
                "used": used,
                "left_out": len(fate) - used,
                "other_vessels": self._others,
            },
        )

    def _raw_tracks(
        self, name: str, time_us: IntArray, lines: npt.NDArray[np.uint32], fate: npt.NDArray[np.uint8]
    ) -> list[RawTrack]:
        """Return the tracks of all vessels, in order of their first rows: sorted once, then cut."""
        count = len(self._vessels)
        vessel = np.concatenate(self._vessel)
        # Used first, then what was left out by reason, vessel by vessel; few numbers sort by counting.
        place = vessel * len((USED, *_REASONS)) + fate
        kind = np.uint16 if count * 3 < 2**16 else np.uint32
        order = np.argsort(place.astype(kind), kind="stable")
        ends = np.cumsum(np.bincount(place, minlength=3 * count))
        lon, lat = np.concatenate(self._lon)[order], np.concatenate(self._lat)[order]
        time_us, lines = time_us[order], lines[order]
        readings = {c.role: np.frombuffer(r.values, dtype=np.float32)[order] for c, r in self._readings}
        tracks = []
        for number, own in enumerate(self._vessels):
            first, stop = (int(ends[3 * number - 1]) if number else 0), int(ends[3 * number])
            left_out = []
            for code, reason in _REASONS.items():
                out = slice(int(ends[3 * number + code - 1]), int(ends[3 * number + code]))
                if out.stop > out.start:
                    left_out.append(
                        LeftOut(
                            reason=reason,
                            file=self._file,
                            line=lines[out],
                            time_utc=time_us[out].view("datetime64[us]"),
                            lon_deg=lon[out],
                            lat_deg=lat[out],
                        )
                    )
            tracks.append(
                RawTrack(
                    file=self._file,
                    name=f"{name}/{own}" if own else name,
                    lon_deg=lon[first:stop],
                    lat_deg=lat[first:stop],
                    time_us=time_us[first:stop],
                    line=lines[first:stop],
                    bounds=((0, stop - first),) if stop > first else (),
                    vessel=own,
                    readings={role: column[first:stop] for role, column in readings.items()},
                    left_out=tuple(left_out),
                    any_order=True,
                )
            )
        return tracks

    def _remarks(self, fate: npt.NDArray[np.uint8], lines: npt.NDArray[np.uint32]) -> list[Remark]:
        said = [(0, message) for message in self._read.remarks]
        said += self._texts.notes
        said += [note for _, reading in self._readings if (note := reading.note()) is not None]
        void = lines[fate == VOID]
        if len(void):
            said.append((int(void[0]), f"{counted(len(void), 'row')} without a position left out"))
        said += [(0, message) for message in self._of_vessels()]
        places = [", ".join(p for p in (self._part, f"line {line}" if line else "") if p) for line, _ in said]
        return [
            Remark(file=self._file, where=where, message=message)
            for where, (_, message) in zip(places, said, strict=True)
        ]

    def _of_vessels(self) -> list[str]:
        if not self._is_named:
            return [read_whole(self._only.names)] if self._only else []
        said = []
        if len(self._vessels) > 1 and self._read.identity:
            by = quoted(self._read.identity[0].name)
            said.append(
                f"{len(self._vessels)} vessels, told apart by column {by}, each with a track of its own"
            )
        if self._others:
            said.append(f"{counted(self._others, 'row')} of other vessels left aside")
        return said


def _present(names: Names, kept: npt.NDArray[np.bool_]) -> Names:
    """Return the vessels of the rows that are kept, and no others: one without a row would get a track."""
    number, first, code = np.unique(names.code[kept], return_index=True, return_inverse=True)
    order = np.argsort(first)
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    return Names([names.names[one] for one in number[order].tolist()], place[code.reshape(-1)])


def _mask(kept: npt.NDArray[np.bool_]) -> Any:
    import pyarrow as pa

    return pa.array(kept)
