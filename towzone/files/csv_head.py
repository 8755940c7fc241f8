"""The head of a table: in which line it stands, what parts its columns, and how they are named."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from towzone.errors import InputError, Problem, quoted
from towzone.files.csv_text import BLANKS, Lines, cells_of

__all__ = ["Head", "find_head", "listed"]

_DELIMITERS = (",", ";", "\t", "|", BLANKS)
_STATED = re.compile(r"sep=([,;\t|])", re.IGNORECASE)
"""A first line by which spreadsheets are told what parts the columns; common practice, no source."""
_NUMBER = re.compile(r"\s*[+-]?\d+(?:[.,]\d*)?\s*", re.ASCII)
_NAMES_SHOWN = 20
_LONGEST_HEAD = 100_000
"""Own limit, characters: a first line beyond it is no head."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """Names of the columns, what parts them, and the number of the line after the head.

    ``line`` is the number of the head's own line, which may begin with ``#`` where numbers follow it, or 0
    for tables that are no text;
    ``comment`` names a line before it that begins with ``#`` and would do for a head, or is 0.
    """

    names: tuple[str, ...]
    delimiter: str
    line: int
    comment: int = 0

    @property
    def next_line(self) -> int:
        """Number of the line after the head."""
        return self.line + 1

    def looks_like_data(self) -> bool:
        """Return whether numbers stand where names should."""
        return sum(_NUMBER.fullmatch(name) is not None for name in self.names) >= 2


def find_head(lines: Lines, known: Callable[[Sequence[str]], int]) -> Head:
    """Return the head of a table, taking its lines.

    Parameters
    ----------
    lines : Lines
        From the beginning; blank lines, lines that begin with ``#`` and ``sep=`` are passed over.
    known : callable
        How many of some names have a meaning; by it the delimiter is found.

    Raises
    ------
    InputError
        There is no other line, or it is too long for a head.
    """
    delimiters: Sequence[str] = _DELIMITERS
    comment, hashed = 0, ("", [""])
    for number, line in enumerate(lines, start=1):
        text = line.rstrip("\n")
        stated = _STATED.fullmatch(text.strip("\"' "))
        if len(text) > _LONGEST_HEAD:
            break
        if stated:
            delimiters = (stated[1],)
        elif text.lstrip().startswith("#"):
            split = _split(text.lstrip("# "), delimiters, known)
            if known(split[1]):
                comment, hashed = number, split
        elif text.strip(" ,;\t|"):
            delimiter, names = _split(text, delimiters, known)
            if comment == number - 1 and _is_row_under(text, *hashed):
                # Some writers mark the head as a comment; right under it stand as many numbers as names.
                lines.put_back(line)
                return _head(hashed[1], hashed[0], comment, 0)
            return _head(names, delimiter, number, comment)
    else:
        raise InputError(lines.file, [Problem("", "holds no table, only blank lines or comments")])
    raise InputError(lines.file, [Problem(f"line {number}", "is too long for the names of columns")])


def _head(names: Sequence[str], delimiter: str, line: int, comment: int) -> Head:
    return Head(names=tuple(name.strip() for name in names), delimiter=delimiter, line=line, comment=comment)


def _is_row_under(text: str, delimiter: str, names: Sequence[str]) -> bool:
    """Return whether a line is a row of numbers under names, not names itself."""
    if len(names) < 2:
        return False
    cells = cells_of(text, delimiter)
    return len(cells) == len(names) and sum(_NUMBER.fullmatch(cell) is not None for cell in cells) >= 2


def _split(
    text: str, delimiters: Sequence[str], known: Callable[[Sequence[str]], int]
) -> tuple[str, list[str]]:
    """Return the delimiter that gives most names with a meaning, else most names, and the names.

    Blanks stand inside names as well, so that they part columns only where nothing else does.
    """
    parted = [(delimiter, cells_of(text, delimiter)) for delimiter in delimiters]
    marks = [pair for pair in parted if pair[0] != BLANKS and known(pair[1]) > 1]
    return max(marks or parted, key=lambda pair: (known(pair[1]), pair[0] != BLANKS, len(pair[1])))


def listed(names: Sequence[str]) -> str:
    """Return names for a message, the first twenty of them.

    Examples
    --------
    >>> listed(["a", "b"])
    "'a', 'b'"
    """
    shown = [quoted(name) for name in itertools.islice(names, _NAMES_SHOWN)]
    hidden = len(names) - len(shown)
    return ", ".join(shown) + (f" and {hidden} more" if hidden > 0 else "")
