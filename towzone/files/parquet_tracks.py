"""Tables of fixes in Parquet, one file or a folder of parts, to raw tracks, one for each vessel.

Parts are the files of one table, in order of their names; a folder called ``vessel=NAME`` (or another name
for what tells vessels apart) says whose rows are in it, as is common practice of programs that write
partitioned tables.
"""

from __future__ import annotations

import io
import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePath
from typing import IO, Any
from urllib.parse import unquote

from towzone.errors import InputError, Problem, quoted
from towzone.files.csv_columns import identity_columns
from towzone.files.csv_head import listed
from towzone.files.parquet_columns import names_in
from towzone.files.parquet_rows import ParquetColumns, ParquetRows
from towzone.files.table_parts import WHOLE, Known, Settled, TablePart, disagreement, joined_parts
from towzone.tracks.identity import Chosen
from towzone.tracks.options import DateOrder, ReadingOptions
from towzone.tracks.raw import SourceContent
from towzone.words import counted

__all__ = [
    "MAGIC",
    "ParquetPart",
    "ParquetSlice",
    "RowGroups",
    "has_identities",
    "hive_vessel",
    "known_by",
    "parquet_slices",
    "read_parquet",
    "read_parquet_file",
    "row_groups",
    "table_of",
    "vessels_of",
]

MAGIC = b"PAR1"
"""First bytes. Published: Apache Parquet format, file layout."""

_BATCH_ROWS = 1 << 17
"""Own choice: few enough to be small, many enough to be fast."""
_NO_VESSEL = "__HIVE_DEFAULT_PARTITION__"
"""Folder name of rows without a value; common practice."""
_Source = Path | IO[bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class ParquetPart:
    """One file of a table.

    Parameters
    ----------
    file : str
        Path of the table as the user wrote it, for messages.
    part : str
        Name of this file in it, empty where the table is one file.
    place : Path or binary stream
        Where the file lies.
    vessel : str or None
        What its folder says.
    first_line : int
        Number of its first row in the table, from 1.
    """

    file: str
    part: str
    place: _Source
    vessel: str | None = None
    first_line: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class RowGroups:
    """How many rows a part has in each of its row groups, and how many bytes these unpack to."""

    rows: tuple[int, ...]
    bytes: tuple[int, ...]


def hive_vessel(part: PurePath) -> str | None:
    """Return what the folders of a path say of the vessel, ``None`` where they say nothing.

    Examples
    --------
    >>> hive_vessel(PurePath("2024/vessel=Hazel%20Ann/part-0.parquet"))
    'Hazel Ann'
    """
    found = [folder.partition("=") for folder in part.parts[:-1] if "=" in folder]
    columns = identity_columns([key for key, _, _ in found])
    if not columns:
        return None
    value = unquote(found[columns[0].index][2])
    return "" if value == _NO_VESSEL else value.strip()


def has_identities(part: ParquetPart) -> bool:
    """Return whether a column of a part says whose rows are whose.

    Raises
    ------
    InputError
        pyarrow is not installed, or the file is damaged.
    """
    names = _opened(part).schema_arrow.names
    return bool(identity_columns([str(name) for name in names]))


def row_groups(part: ParquetPart) -> RowGroups:
    """Return the sizes of the row groups of a part.

    Raises
    ------
    InputError
        pyarrow is not installed, or the file is damaged.
    """
    told = _opened(part).metadata
    groups = [told.row_group(number) for number in range(told.num_row_groups)]
    return RowGroups(
        rows=tuple(group.num_rows for group in groups), bytes=tuple(g.total_byte_size for g in groups)
    )


def read_parquet(
    part: ParquetPart,
    groups: Sequence[int] | None,
    *,
    name: str,
    options: ReadingOptions,
    known: Known = WHOLE,
) -> TablePart:
    """Return the fixes of a part of a table, or of some of its row groups, and what they settle for it.

    Parameters
    ----------
    part : ParquetPart
        ``first_line`` is that of the first row of the groups.
    groups : sequence of int, or None
        Numbers of row groups that follow each other; all of them where ``None``.
    name : str
        Of the table; tracks are called ``name/vessel``.
    options : ReadingOptions
        ``track_tz``, ``date_order`` and ``only`` are used; of the vessels asked for any or none may be there.
    known : Known
    """
    try:
        (rows,) = parquet_slices(part, groups, None)
    except InputError as error:
        return TablePart(content=None, settled=Settled(), refused=error, vessels=vessels_of(part, groups))
    return rows.read(name=name, options=options, known=known)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ParquetSlice:
    """Some rows of a part of a table, to be read at once.

    Parameters
    ----------
    part : ParquetPart
        ``first_line`` is that of the first of these rows.
    columns : ParquetColumns
    batches : iterable of pyarrow.RecordBatch
        To be gone through as often as the rows are read.
    """

    part: ParquetPart
    columns: ParquetColumns
    batches: Iterable[Any]

    def read(self, *, name: str, options: ReadingOptions, known: Known = WHOLE) -> TablePart:
        """Return the fixes of these rows, as `read_parquet`."""
        part, line = self.part, self.part.first_line
        rows = ParquetRows(self.columns, part.file, options, known, part.part)
        try:
            for batch in self.batches:
                rows.add(batch, line)
                line += batch.num_rows
        except InputError as error:
            named = _within(error, part)
            return TablePart(content=None, settled=rows.settled, refused=named)
        found = rows.part(name)
        return replace(found, refused=_within(found.refused, part)) if found.refused is not None else found


class _Batches:
    """The batches of some row groups, read anew as often as they are wanted."""

    def __init__(self, part: ParquetPart, groups: Sequence[int] | None, columns: list[str]) -> None:
        self._part, self._groups, self._columns = part, groups, columns

    def __iter__(self) -> Iterator[Any]:
        return _batches(_opened(self._part), self._groups, self._columns, self._part)


def parquet_slices(
    part: ParquetPart, groups: Sequence[int] | None, most_rows: int | None
) -> Iterator[ParquetSlice]:
    """Yield the rows of some row groups in slices that fit into memory.

    Parameters
    ----------
    part, groups
        As `read_parquet`.
    most_rows : int or None
        About how many rows a slice may have; ``None``: one slice, of which only a batch is held at a time.

    Raises
    ------
    InputError
        While iterating: the file is damaged, or has not the columns of positions.
    """
    columns = ParquetColumns(_opened(part).schema_arrow, part.file, part.vessel)
    batches = _Batches(part, groups, columns.wanted)
    if most_rows is None:
        yield ParquetSlice(part=part, columns=columns, batches=batches)
        return
    held: list[Any] = []
    line = part.first_line
    for batch in batches:
        held.append(batch)
        if sum(one.num_rows for one in held) >= most_rows:
            yield ParquetSlice(part=replace(part, first_line=line), columns=columns, batches=held)
            line += sum(one.num_rows for one in held)
            held = []
    if held:
        yield ParquetSlice(part=replace(part, first_line=line), columns=columns, batches=held)


def vessels_of(part: ParquetPart, groups: Sequence[int] | None) -> tuple[str, ...]:
    """Return the vessels that have rows in some row groups, none where that cannot be read."""
    by_folder = () if part.vessel is None else (part.vessel,)
    try:
        file = _opened(part)
    except InputError:
        return by_folder
    columns = identity_columns([str(name) for name in file.schema_arrow.names])
    if not columns:
        return by_folder
    found: dict[str, None] = {}
    try:
        for batch in _batches(file, groups, [columns[0].name], part):
            found.update(dict.fromkeys(names_in(batch.column(0), part.file, columns[0].name).names))
    except InputError:
        # The column of the table comes first, whatever its folder is called; whom it names is unknown.
        return ()
    return tuple(found)


def read_parquet_file(
    path: str, place: Path, content: bytes | None, *, name: str, options: ReadingOptions
) -> SourceContent:
    """Return the fixes of a table in one file, which lies at a place or is held in memory.

    Raises
    ------
    InputError
        As `towzone.files.table_folders.read_parquet_folder`.
    """
    source: _Source = place if content is None else io.BytesIO(content)
    part = ParquetPart(file=path, part="", place=source, vessel=hive_vessel(PurePath(path)))
    return table_of([part], path, name, options)


def table_of(parts: Sequence[ParquetPart], file: str, name: str, options: ReadingOptions) -> SourceContent:
    """Return the fixes of all parts of a table.

    Raises
    ------
    InputError
        A part cannot be read, or any row of it; parts contradict each other; a vessel asked for is in none.
    """
    found = [read_parquet(part, None, name=name, options=options) for part in parts]
    known = known_by([one.settled for one in found])
    found = [
        read_parquet(part, None, name=name, options=options, known=known) if one.settled.is_open else one
        for part, one in zip(parts, found, strict=True)
    ]
    problems = [one.refused for one in found if one.refused is not None]
    if problems:
        raise InputError(file, [problem for error in problems for problem in error.problems])
    seen = dict.fromkeys(vessel for one in found for vessel in one.seen)
    contradiction = disagreement(file, [one.settled for one in found], named=any(seen))
    if contradiction is not None:
        raise contradiction
    if any(one.settled.is_open for one in found):
        message = (
            "its times can be read in several ways, and nothing in it settles which is meant: state the order"
            " of day and month with --date-order dmy or --date-order mdy, or name a column of numbers epoch_s"
        )
        raise InputError(file, [Problem("", message)])
    unknown = Chosen(options.only).missing(seen)
    if unknown and any(seen):
        message = (
            f"there is no vessel {listed(unknown)}; those in the file are {listed([s for s in seen if s])}"
        )
        raise InputError(file, [Problem("", message)])
    return _whole([one.content for one in found if one.content is not None], file)


def known_by(parts: Sequence[Settled]) -> Known:
    """Return what the parts of a table settle for those of them that are open."""
    orders: set[DateOrder] = {order for part in parts for order in part.orders}
    numbers = [part for part in parts if part.time_form.startswith("numbers")]
    return Known(
        date_order=orders.pop() if len(orders) == 1 else None,
        since_1970=any(not part.is_open for part in numbers),
    )


def _whole(contents: Sequence[SourceContent], file: str) -> SourceContent:
    by_name: dict[str, list[Any]] = {}
    for raw in itertools.chain.from_iterable(content.raw for content in contents):
        by_name.setdefault(raw.name, []).append(raw)
    raws = [joined_parts(some) for some in by_name.values()]
    kept = tuple(raw for raw in raws if len(raw))
    tally: dict[str, int] = {}
    for content in contents:
        for word, count in content.tally.items():
            tally[word] = tally.get(word, 0) + count
    if not kept:
        found = counted(tally.get("rows", 0), "row")
        raise InputError(file, [Problem("", f"holds no position that can be used ({found})")])
    return SourceContent(
        form=contents[0].form,
        raw=kept,
        remarks=tuple(dict.fromkeys(remark for content in contents for remark in content.remarks)),
        tally=tally,
    )


def _within(error: InputError, part: ParquetPart) -> InputError:
    """Return an error with the part of the table it is about."""
    if not part.part:
        return error
    told = [
        Problem(", ".join(p for p in (part.part, problem.where) if p), problem.message)
        for problem in error.problems
    ]
    return InputError(part.file, told)


def _opened(part: ParquetPart) -> Any:
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError as error:
        message = "reading Parquet needs pyarrow, which is not installed; install towzone[parquet]"
        raise InputError(part.file, [Problem(part.part, message)]) from error
    try:
        return pq.ParquetFile(part.place)
    except (pa.ArrowException, OSError) as error:
        raise _damaged(part, error) from error


def _batches(file: Any, groups: Sequence[int] | None, columns: list[str], part: ParquetPart) -> Iterator[Any]:
    import pyarrow as pa

    numbers = list(range(file.num_row_groups)) if groups is None else list(groups)
    try:
        yield from file.iter_batches(
            batch_size=_BATCH_ROWS, row_groups=numbers, columns=columns, use_threads=False
        )
    except (pa.ArrowException, OSError) as error:
        raise _damaged(part, error) from error


def _damaged(part: ParquetPart, error: Exception) -> InputError:
    what = quoted(" ".join(str(error).split()))
    message = f"cannot be read as Parquet ({what}); it is damaged or cut off. Get it again"
    return InputError(part.file, [Problem(part.part if isinstance(part.place, Path) else "", message)])
