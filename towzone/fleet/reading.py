"""One piece read by the ordinary readers and sorted into spools; what came of it is put down in a receipt."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from towzone.errors import InputError, Problem
from towzone.files.csv_head import Head
from towzone.files.csv_tracks import csv_head, read_csv_part
from towzone.files.gpx import looks_like_xml
from towzone.files.inputs import name_stem, open_input
from towzone.files.outputs import put_in_place
from towzone.files.parquet_tracks import ParquetPart, parquet_slices, row_groups, vessels_of
from towzone.files.table_parts import Known, Settled, TablePart, read_whole
from towzone.files.tracks import read_raw
from towzone.fleet.job import Job
from towzone.fleet.keys import key_of
from towzone.fleet.pieces import Cut, Piece, after_lines, parquet_part, stretches
from towzone.fleet.spool import Spooled, write_spool
from towzone.model.result import Remark
from towzone.tracks.identity import Chosen
from towzone.tracks.options import DateOrder
from towzone.tracks.raw import SourceContent

__all__ = ["OTHERS", "Receipt", "Refusal", "read_piece", "read_receipt", "receipt_path"]

_HEAD_BYTES = 1 << 20
_ROUNDS = 6
"""Own choice: rows are read again without vessels that have faulty ones, at most so often."""
OTHERS = 10
"""Own choice: so many names are told where one that was asked for is in no input."""
_REMARKS = 20
"""Own choice: of one piece so many are kept, the others counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Rows that could not be read: why, and whose they are (key, name); ``None`` where that is unknown.

    ``fault``: towzone itself failed on them.
    """

    reason: str
    vessels: tuple[tuple[str, str], ...] | None
    fault: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """What came of a piece.

    Parameters
    ----------
    spools : tuple of (str, int)
        Names of spools and their bytes, in order.
    vessels : tuple of (int, Spooled)
        What is in each, by its place in ``spools``.
    settled : tuple of Settled
        By slices of the piece.
    refusals : tuple of Refusal
    remarks : tuple of str
    form : str
        What the file is.
    tally : dict of str to int
    found : tuple of str
        Of the vessels asked for, those that were met.
    others : tuple of str
        Some of the other names met where vessels were asked for.
    routes : int
        Planned routes, which are not audited.
    """

    spools: tuple[tuple[str, int], ...] = ()
    vessels: tuple[tuple[int, Spooled], ...] = ()
    settled: tuple[Settled, ...] = ()
    refusals: tuple[Refusal, ...] = ()
    remarks: tuple[str, ...] = ()
    form: str = ""
    tally: dict[str, int] = field(default_factory=dict)
    found: tuple[str, ...] = ()
    others: tuple[str, ...] = ()
    routes: int = 0

    @property
    def is_open(self) -> bool:
        """Whether other pieces of the table have to settle what this one leaves open."""
        return any(settled.is_open for settled in self.settled)


def receipt_path(job: Job, piece: Piece, known: Known) -> Path:
    """Return where the receipt of a piece lies; one read by what other pieces settled is another."""
    order = known.date_order.value if known.date_order else "-"
    return job.spools / f"{piece.number:06d}.{order}{'n' if known.since_1970 else ''}.json"


def read_piece(job: Job, piece: Piece, known: Known) -> None:
    """Read a piece, and write its spools and then its receipt; nothing to do where that is there already."""
    path = receipt_path(job, piece, known)
    if read_receipt(path) is not None:
        return
    receipt = _Reading(job, piece, known, path.stem).receipt()
    text = json.dumps(_as_data(receipt), ensure_ascii=True).encode("ascii")
    put_in_place(path, lambda place: _written(place, text))


def _written(place: Path, data: bytes) -> None:
    place.write_bytes(data)


class _Reading:
    """The work on one piece, and what came of it so far."""

    def __init__(self, job: Job, piece: Piece, known: Known, stem: str) -> None:
        self._job, self._piece, self._known, self._stem = job, piece, known, stem
        self._found: dict[str, None] = {}
        self._others: dict[str, None] = {}
        self._routes = 0
        self._forget()

    def _forget(self) -> None:
        """Begin anew: spools that were written are written over."""
        self._spools: list[tuple[str, int]] = []
        self._vessels: list[tuple[int, Spooled]] = []
        self._settled: list[Settled] = []
        self._refusals: list[Refusal] = []
        self._remarks: dict[str, None] = {}
        self._form = ""
        self._tally: dict[str, int] = {}

    def receipt(self) -> Receipt:
        """Read everything and return what came of it."""
        if self._piece.cut is Cut.GROUPS:
            self._read_groups()
        else:
            self._read_text()
        remarks = list(self._remarks)
        if len(remarks) > _REMARKS:
            remarks[_REMARKS:] = [f"and {len(remarks) - _REMARKS} more remarks"]
        return Receipt(
            spools=tuple(self._spools),
            vessels=tuple(self._vessels),
            settled=tuple(self._settled),
            refusals=tuple(self._refusals),
            remarks=tuple(remarks),
            form=self._form,
            tally=self._tally,
            found=tuple(self._found),
            others=tuple(self._others)[:OTHERS],
            routes=self._routes,
        )

    def _read_groups(self) -> None:
        """Read the row groups of the piece; where something is damaged, each by itself."""
        part, groups = parquet_part(self._piece), self._piece.groups
        try:
            self._slices_of(part, groups)
        except InputError as error:
            self._forget()
            if len(groups) < 2:
                self._refuse(str(error), vessels_of(part, groups) or None)
                return
        else:
            return
        line, rows = part.first_line, row_groups(part).rows
        for group in groups:
            own = replace(part, first_line=line)
            try:
                self._slices_of(own, (group,))
            except InputError as error:
                self._refuse(str(error), vessels_of(own, (group,)) or None)
            line += rows[group]

    def _slices_of(self, part: ParquetPart, groups: Sequence[int]) -> None:
        name, options = name_stem(part.file), self._job.reading
        for rows in parquet_slices(part, groups, self._job.sizes.rows):
            self._slice(partial(rows.read, name=name, options=options), partial(vessels_of, part, groups))

    def _read_text(self) -> None:
        """Read a file, or stretches of its lines; of one that is not whole nothing is used."""
        try:
            if self._piece.cut is Cut.WHOLE:
                self._read_whole()
            elif self._piece.cut is Cut.STREAM:
                self._read_stream()
            else:
                self._read_lines()
        except InputError as error:
            self._forget()
            self._refuse(str(error), self._vessels_by_form())

    def _vessels_by_form(self) -> tuple[str, ...] | None:
        """Return whose positions a file holds that cannot be read, where its form alone tells."""
        try:
            head = open_input(self._piece.file.shown, at=self._piece.file.place).head
        except InputError:
            return None
        return ("",) if looks_like_xml(head) else None

    def _read_whole(self) -> None:
        file = self._piece.file
        # Who is asked for is chosen later: a log need not hold all of them.
        read = read_raw(file.shown, replace(self._job.reading, only=()), at=file.place)
        self._routes += len(read.routes)
        self._keep(read.content)

    def _read_stream(self) -> None:
        file = self._piece.file
        opened = open_input(file.shown, at=file.place)
        head = csv_head([opened.head], file.shown)
        skipped = head.next_line - 1
        for text, before in stretches(opened.chunks(), self._job.sizes.text_bytes):
            if before:
                self._rows_of(text, head, before + 1)
            else:
                self._rows_of(text[after_lines(text, skipped) :], head, skipped + 1)

    def _read_lines(self) -> None:
        piece, file = self._piece, self._piece.file
        try:
            with Path(file.place).open("rb") as stream:
                head = csv_head([stream.read(_HEAD_BYTES)], file.shown)
                stream.seek(piece.begin)
                text = stream.read(piece.end - piece.begin)
        except OSError as error:
            message = f"cannot be read: {error.strerror or error}"
            raise InputError(file.shown, [Problem("", message)]) from error
        self._rows_of(text, head, piece.first_line)

    def _rows_of(self, text: bytes, head: Head, line: int) -> None:
        file, options = self._piece.file.shown, self._job.reading

        self._slice(
            partial(read_csv_part, [text], head, line, file=file, name=name_stem(file), options=options)
        )

    def _slice(self, read: Callable[..., TablePart], whose: Callable[[], tuple[str, ...]] = tuple) -> None:
        """Read some rows, if need be again without the vessels that have faulty ones.

        ``whose`` looks for the vessels of rows that cannot be read.
        """
        known = self._known
        part = read(known=known)
        for _ in range(_ROUNDS):
            if part.refused is None or not part.suspects:
                break
            for vessel, reason in part.suspects.items():
                self._refuse(f"{self._piece.file.file}: {reason}", [vessel])
            known = replace(known, without=known.without | part.suspects.keys())
            part = read(known=known)
        self._settled.append(part.settled)
        only = self._job.reading.only
        absent = Chosen(only).missing(part.seen)
        self._found.update(dict.fromkeys(name for name in only if name not in absent))
        if absent:
            self._others.update(dict.fromkeys(name for name in part.seen if name))
        if part.refused is not None:
            self._refuse(str(part.refused), part.vessels or whose() or None)
            if part.suspects is None and any(part.vessels):
                # A row that cannot be told to be anyone's need not be of one of these.
                self._refuse(str(part.refused), None)
        elif part.content is not None:
            self._keep(part.content)

    def _refuse(self, reason: str, vessels: Sequence[str] | None) -> None:
        file = self._piece.file.file
        named = None if vessels is None else tuple((key_of(one, file), one) for one in vessels)
        self._refusals.append(Refusal(reason=reason, vessels=named))

    def _keep(self, content: SourceContent) -> None:
        if content.raw:
            name = f"{self._stem}-{len(self._spools):03d}.arrow"
            path = self._job.spools / name
            spooled = write_spool(path, content.raw)
            self._vessels += [(len(self._spools), one) for one in spooled]
            self._spools.append((name, path.stat().st_size))
        self._form = content.form
        for word, count in content.tally.items():
            self._tally[word] = self._tally.get(word, 0) + count
        # What is not of a vessel asked for is left aside later, which is told then.
        told = [one for one in content.remarks if one.message != read_whole(self._job.reading.only)]
        self._remarks.update(dict.fromkeys(map(_told, told)))


def _told(remark: Remark) -> str:
    return ": ".join(part for part in (remark.file, remark.where, remark.message) if part)


def read_receipt(path: Path) -> Receipt | None:
    """Return a receipt, ``None`` where there is none or a spool it tells of is not whole."""
    try:
        data = json.loads(path.read_bytes())
    except (OSError, ValueError):
        return None
    receipt = _from_data(data)
    for name, size in receipt.spools:
        spool = path.parent / name
        if not spool.is_file() or spool.stat().st_size != size:
            return None
    return receipt


def _as_data(receipt: Receipt) -> dict[str, Any]:
    return {
        "spools": [list(one) for one in receipt.spools],
        "vessels": [[place, one.key, one.vessel, one.fixes, one.left_out] for place, one in receipt.vessels],
        "settled": [
            {
                "orders": sorted(order.value for order in one.orders),
                "time_form": one.time_form,
                "decimal_mark": one.decimal_mark,
                "is_open": one.is_open,
                "unnamed_line": one.unnamed_line,
            }
            for one in receipt.settled
        ],
        "refusals": [[one.reason, one.vessels] for one in receipt.refusals],
        "remarks": receipt.remarks,
        "form": receipt.form,
        "tally": receipt.tally,
        "found": receipt.found,
        "others": receipt.others,
        "routes": receipt.routes,
    }


def _from_data(data: dict[str, Any]) -> Receipt:
    return Receipt(
        spools=tuple((name, size) for name, size in data["spools"]),
        vessels=tuple(
            (place, Spooled(key=key, vessel=vessel, fixes=fixes, left_out=left_out))
            for place, key, vessel, fixes, left_out in data["vessels"]
        ),
        settled=tuple(
            Settled(**{**one, "orders": frozenset(map(DateOrder, one["orders"]))}) for one in data["settled"]
        ),
        refusals=tuple(
            Refusal(reason=reason, vessels=None if vessels is None else tuple((k, v) for k, v in vessels))
            for reason, vessels in data["refusals"]
        ),
        remarks=tuple(data["remarks"]),
        form=data["form"],
        tally=data["tally"],
        found=tuple(data["found"]),
        others=tuple(data["others"]),
        routes=data["routes"],
    )
