"""The text of CSV files: bytes in pieces to rows of cells, each with the line it begins in.

References
----------
RFC 4180 (quotes, doubled quotes, line ends inside quotes); RFC 3629, section 6, and RFC 2781, section 3.2
(byte order marks).
"""

from __future__ import annotations

import codecs
import csv
import io
import itertools
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from towzone.errors import InputError, Problem, quoted

__all__ = ["BLANKS", "Batch", "Lines", "Problems", "cells_of", "read_batches"]

BLANKS = " "
"""The delimiter of tables whose columns are parted by any number of blanks."""

_LONGEST_LINE = 4 << 20
"""Own limit, characters: no row of positions needs a thousandth of it."""
_MOST_LINES_OF_A_ROW = 1000
"""Own limit: a cell may hold line ends, but a quote that nobody closed swallows the rest of the file."""
_ROWS_AT_ONCE = 512
"""Own choice: enough for work by columns to pay; more of them cost the collector of garbage more than that
gains (measured: 16 384 at once take three times as long to split)."""
_MOST_PROBLEMS = 1000

_MARKS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
_LONGEST_MARK = 3


class Problems:
    """What is wrong with one file, gathered so that all of it can be told together."""

    def __init__(self, file: str) -> None:
        self.file = file
        self._found: list[tuple[int, Problem]] = []

    def add(self, line: int, message: str, column: str | None = None) -> None:
        """Note one more thing, by its line and, where there is one, its column.

        Raises
        ------
        InputError
            There are a thousand: reading on would tell nothing new.
        """
        where = f"line {line}" if column is None else f"line {line}, column {quoted(column)}"
        self._found.append((line, Problem(where, message)))
        if len(self._found) >= _MOST_PROBLEMS:
            self._found.append((line, Problem(where, f"reading stopped after {_MOST_PROBLEMS} problems")))
            self.refuse()

    @property
    def are_too_many(self) -> bool:
        """Whether reading stopped because of them."""
        return len(self._found) > _MOST_PROBLEMS

    @property
    def found(self) -> tuple[tuple[int, Problem], ...]:
        """What is wrong, each with its line, in the order in which it was found."""
        return tuple(self._found)

    def refuse(self) -> None:
        """Refuse the file if anything is wrong with it, the problems in order of lines.

        Raises
        ------
        InputError
        """
        if self._found:
            ordered = sorted(self._found, key=lambda found: found[0])
            raise InputError(self.file, [problem for _, problem in ordered])


class Batch(NamedTuple):
    """Rows of cells and the line each begins in."""

    rows: list[list[str]]
    lines: list[int]


class Lines:
    """The lines of a file as an iterator, where it matters with their ends; read once.

    Parameters
    ----------
    chunks : iterable of bytes
        The content: UTF-8, or UTF-16 with a byte order mark; lines end in LF, CR LF or CR.
    file : str
        Path as the user wrote it.

    Attributes
    ----------
    row_begins : int
        To be kept by whoever reads rows: the line where the present one begins.

    Raises
    ------
    InputError
        While iterating: bytes that are no text, a NUL, a line beyond 4 million characters, a row of over a
        thousand lines.
    """

    def __init__(self, chunks: Iterable[bytes], file: str) -> None:
        self.file = file
        self.row_begins = 1
        self._chunks = iter(chunks)
        self._lines: Iterator[str] = self._split()

    def __iter__(self) -> Iterator[str]:
        return self._lines

    def put_back(self, line: str) -> None:
        """Have a line that was taken come again, first of those to come."""
        self._lines = itertools.chain([line], self._lines)

    def _split(self) -> Iterator[str]:
        done, rest, quoted_cells = 0, "", False
        try:
            for text in self._decoded():
                rest += text
                if "\r" in rest:
                    # The last character may be half of a line end.
                    held = "\r" if rest.endswith("\r") else ""
                    rest = _with_lf(rest[: len(rest) - len(held)]) + held
                whole, end, rest = rest.rpartition("\n")
                if "\0" in text:
                    self._refuse_nul(whole + end + rest, done)
                if len(rest) > _LONGEST_LINE:
                    message = "the line is longer than 4 million characters; this is not a usable CSV file"
                    raise self._refused(done + whole.count("\n") + len(end) + 1, message)
                if end and done - self.row_begins > _MOST_LINES_OF_A_ROW:
                    message = "the row that begins here does not end in a thousand lines; check its quotes"
                    raise self._refused(self.row_begins, message)
                quoted_cells = quoted_cells or '"' in whole
                if quoted_cells:
                    # A cell may run over the end of a line, so that the ends matter.
                    yield from io.StringIO(whole + end, newline="\n")
                elif end:
                    yield from whole.split("\n")
                done += whole.count("\n") + len(end)
        except UnicodeDecodeError as error:
            before = _with_lf(rest + error.object[: error.start].decode(error.encoding))
            raise self._refused(done + before.count("\n") + 1, _undecodable(error)) from error
        if rest:
            yield rest.removesuffix("\r")

    def _decoded(self) -> Iterator[str]:
        start = b""
        while len(start) < _LONGEST_MARK and (piece := next(self._chunks, None)) is not None:
            start += piece
        mark, encoding = next((pair for pair in _MARKS if start.startswith(pair[0])), (b"", "utf-8"))
        decoder = codecs.getincrementaldecoder(encoding)("strict")
        yield decoder.decode(start[len(mark) :])
        for piece in self._chunks:
            yield decoder.decode(piece)
        yield decoder.decode(b"", True)

    def _refuse_nul(self, text: str, done: int) -> None:
        line = done + text[: text.index("\0")].count("\n") + 1
        message = (
            "holds a NUL character, which no text has; the file is damaged, no CSV file, or UTF-16 without"
            " its mark. Save it as UTF-8"
        )
        raise self._refused(line, message)

    def _refused(self, line: int, message: str) -> InputError:
        return InputError(self.file, [Problem(f"line {line}", message)])


def _with_lf(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _undecodable(error: UnicodeDecodeError) -> str:
    if error.encoding != "utf-8":
        return "is not UTF-16 text, as the mark at its beginning says; save it as UTF-8"
    byte = error.object[error.start]
    return (
        f"byte 0x{byte:02X} is not UTF-8 text; older programs save letters beyond a to z in another encoding"
        " (Windows-1252, for example). Save the file as UTF-8"
    )


def cells_of(line: str, delimiter: str) -> list[str]:
    """Return the cells of a single line, leniently; for finding out what the line is.

    Examples
    --------
    >>> cells_of('"a; b";c', ";"), cells_of("  a   b ", BLANKS)
    (['a; b', 'c'], ['a', 'b'])
    """
    try:
        return next(csv.reader([_tidied(line, delimiter)], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return []


def read_batches(lines: Lines, delimiter: str, first_line: int) -> Iterator[Batch]:
    """Yield the rows that follow, many at a time, blank lines left out.

    Parameters
    ----------
    lines : Lines
        Of which some, such as a head, may have been taken.
    delimiter : str
        A character, or `BLANKS`.
    first_line : int
        Number of the next line.

    Raises
    ------
    InputError
        As `Lines`; quotes that do not match, a cell beyond the limit of the reader (131 072 characters).
    """
    begin = lines.row_begins = first_line
    source = (_tidied(line, delimiter) for line in lines) if delimiter == BLANKS else lines
    reader = csv.reader(source, delimiter=delimiter, skipinitialspace=True, strict=True)
    rows: list[list[str]] = []
    starts: list[int] = []
    try:
        for row in reader:
            if row:
                rows.append(row)
                starts.append(begin)
                if len(rows) == _ROWS_AT_ONCE:
                    yield Batch(rows, starts)
                    rows, starts = [], []
            begin = lines.row_begins = first_line + reader.line_num
    except csv.Error as error:
        message = f"the row that begins here cannot be read ({error}); check its quotes"
        raise InputError(lines.file, [Problem(f"line {begin}", message)]) from error
    if rows:
        yield Batch(rows, starts)


def _tidied(line: str, delimiter: str) -> str:
    return " ".join(line.split()) if delimiter == BLANKS else line
