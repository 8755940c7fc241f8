"""Files cut into pieces that fit into memory: row groups of Parquet, stretches of lines of CSV, others whole.

How files are cut never shows in the answer: pieces of a table are put together again vessel by vessel.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from towzone.errors import InputError, Problem
from towzone.files.csv_tracks import csv_head, is_table_of_fixes
from towzone.files.inputs import open_input
from towzone.files.parquet_tracks import ParquetPart, row_groups
from towzone.fleet.sources import Form, Seen, SourceFile, fingerprint

__all__ = [
    "WHOLE_FACTOR",
    "Cut",
    "Lines",
    "Piece",
    "PieceSizes",
    "Survey",
    "after_lines",
    "parquet_part",
    "stretches",
    "survey",
]

_SCAN_BYTES = 1 << 22
_WIDE = (b"\xff\xfe", b"\xfe\xff")
"""UTF-16. Published: RFC 2781, section 3.2."""
_TRIES = 4096
"""Own choice: line ends looked at for one outside quotes before a file is read on for a later one."""


WHOLE_FACTOR = 12
"""Bytes of memory that one byte of a file takes that is read whole. Own choice, from GPX, the largest."""


class Cut(StrEnum):
    """What a piece is of its file."""

    GROUPS = "groups"
    LINES = "lines"
    STREAM = "stream"
    WHOLE = "whole"


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceSizes:
    """How large pieces may be: rows of a binary table, bytes of text, bytes of a file read whole."""

    rows: int
    text_bytes: int
    whole_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece of a file.

    Parameters
    ----------
    number : int
        Its place in the audit.
    file : SourceFile
    cut : Cut
    groups : tuple of int
        Row groups, of a binary table.
    begin, end : int
        Bytes, of a stretch of lines.
    first_line : int
        Number of the first row or line of the piece in its table.
    """

    number: int
    file: SourceFile
    cut: Cut
    groups: tuple[int, ...] = ()
    begin: int = 0
    end: int = 0
    first_line: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """A file looked over: what it is known by, its pieces and its rows (of binary tables)."""

    seen: Seen
    pieces: tuple[Piece, ...]
    rows: int = 0


def parquet_part(piece: Piece) -> ParquetPart:
    """Return a piece of a binary table as its reader takes it."""
    file = piece.file
    return ParquetPart(
        file=file.file,
        part=file.part,
        place=Path(file.place),
        vessel=file.vessel,
        first_line=piece.first_line,
    )


def survey(file: SourceFile, sizes: PieceSizes) -> Survey:
    """Return the pieces of a file, numbered from 0.

    Raises
    ------
    InputError
        It cannot be read, or not be cut.
    """
    try:
        if file.form is Form.PARQUET:
            return _of_parquet(file, sizes)
        return _of_other(file, sizes)
    except OSError as error:
        message = f"cannot be read: {error.strerror or error}"
        raise InputError(file.shown, [Problem("", message)]) from error


def _of_parquet(file: SourceFile, sizes: PieceSizes) -> Survey:
    groups = row_groups(parquet_part(Piece(number=0, file=file, cut=Cut.GROUPS)))
    pieces: list[Piece] = []
    held: list[int] = []
    line = first = 1
    for number, rows in enumerate(groups.rows):
        if held and line - first + rows > sizes.rows:
            pieces.append(_group_piece(len(pieces), file, held, first))
            held, first = [], line
        held.append(number)
        line += rows
    # A table without rows is a piece, too: that it holds none is to be told.
    pieces.append(_group_piece(len(pieces), file, held, first))
    return Survey(seen=fingerprint(file.place), pieces=tuple(pieces), rows=line - 1)


def _group_piece(number: int, file: SourceFile, groups: list[int], line: int) -> Piece:
    return Piece(number=number, file=file, cut=Cut.GROUPS, groups=tuple(groups), first_line=line)


def _of_other(file: SourceFile, sizes: PieceSizes) -> Survey:
    opened = open_input(file.shown, at=file.place)
    head, unpacked = opened.head, opened.unpacked
    del opened
    whole = Piece(number=0, file=file, cut=Cut.WHOLE)
    wide = head.startswith(_WIDE)
    if not is_table_of_fixes(head) or wide:
        seen = fingerprint(file.place)
        if seen.bytes > sizes.whole_bytes:
            message = (
                f"{seen.bytes / 2**20:.0f} MiB of this kind are read whole, which takes about"
                f" {seen.bytes * WHOLE_FACTOR / 2**30:.1f} GiB; give each worker that much (--memory), or"
                " split the file"
            )
            raise InputError(file.shown, [Problem("", message)])
        return Survey(seen=seen, pieces=(whole,))
    table = csv_head([head], file.shown)
    if unpacked:
        return Survey(seen=fingerprint(file.place), pieces=(replace(whole, cut=Cut.STREAM),))
    begin = after_lines(head, table.next_line - 1)
    seen, cuts = _scanned(file.place, begin, table.next_line, sizes.text_bytes)
    pieces = tuple(
        Piece(number=number, file=file, cut=Cut.LINES, begin=start, end=end, first_line=line)
        for number, (start, end, line) in enumerate(cuts)
    )
    return Survey(seen=seen, pieces=pieces)


def after_lines(data: bytes, lines: int) -> int:
    """Return where the text after some lines begins; its length where there are no more."""
    at = 0
    for _ in range(lines):
        ends = [end for end in (data.find(b"\n", at), data.find(b"\r", at)) if end >= 0]
        if not ends:
            return len(data)
        at = min(ends) + (2 if data[min(ends) : min(ends) + 2] == b"\r\n" else 1)
    return at


class Lines:
    """Counts the line ends and quotes of text that comes in pieces."""

    def __init__(self) -> None:
        self.ends = self.quotes = 0
        self._carriage = False

    def take(self, text: bytes) -> None:
        """Count on; a CR and an LF that follow each other are one line end, wherever they are parted."""
        cr = text.count(b"\r")
        joined = text.count(b"\r\n") if cr else 0
        joined += self._carriage and text.startswith(b"\n")
        self.ends += text.count(b"\n") + cr - joined
        self.quotes += text.count(b'"')
        if text:
            self._carriage = text.endswith(b"\r")


def _cut_after(text: bytes, begin: int, quotes: int) -> int:
    """Return where a row ends in text, at or behind a place: behind an LF outside quotes; 0 for nowhere.

    Parameters
    ----------
    quotes : int
        How many quotes there were before the text: in a cell they come in pairs.
    """
    at, counted_to = begin, 0
    for _ in range(_TRIES):
        at = text.find(b"\n", at) + 1
        if not at:
            return 0
        quotes += text.count(b'"', counted_to, at)
        counted_to = at
        if quotes % 2 == 0:
            return at
    return 0


def _scanned(place: str, begin: int, line: int, most_bytes: int) -> tuple[Seen, list[tuple[int, int, int]]]:
    """Return what a file is known by, and the stretches of its rows: first byte, one past the last, line."""
    path = Path(place)
    told, digest = path.stat(), hashlib.sha256()
    cuts, lines, start, first_line, at = [], Lines(), begin, line, 0
    with path.open("rb") as stream:
        while piece := stream.read(_SCAN_BYTES):
            digest.update(piece)
            rows = piece[max(begin - at, 0) :]
            offset = at + len(piece) - len(rows)
            while start + most_bytes - offset < len(rows):
                end = _cut_after(rows, max(start + most_bytes - offset, 0), lines.quotes)
                if not end:
                    break
                lines.take(rows[:end])
                cuts.append((start, offset + end, first_line))
                start = offset = offset + end
                first_line, rows = line + lines.ends, rows[end:]
            lines.take(rows)
            at += len(piece)
    if at > start or not cuts:
        cuts.append((start, max(at, start), first_line))
    return Seen(bytes=told.st_size, changed_ns=told.st_mtime_ns, sha256=digest.hexdigest()), cuts


def stretches(chunks: Iterable[bytes], most_bytes: int) -> Iterator[tuple[bytes, int]]:
    """Yield text that comes in chunks in stretches of whole rows, each with the line ends before it.

    Parameters
    ----------
    chunks : iterable of bytes
    most_bytes : int
        About how long a stretch may be; longer only where no row ends.
    """
    held = bytearray()
    lines = Lines()
    for chunk in chunks:
        held += chunk
        if len(held) >= most_bytes:
            end = held.rfind(b"\n") + 1
            while end and held.count(b'"', 0, end) % 2:
                end = held.rfind(b"\n", 0, end - 1) + 1
            if end:
                text = bytes(held[:end])
                yield text, lines.ends
                lines.take(text)
                del held[:end]
    if held:
        yield bytes(held), lines.ends
