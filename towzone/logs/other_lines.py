"""Lines of a log that hold no sentence: few are headers and noise, many are positions written another way."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem, quoted
from towzone.logs.scan import Scan
from towzone.model.result import Remark
from towzone.words import counted

__all__ = ["OtherLines"]

Bytes = npt.NDArray[np.uint8]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

_HEADERS = 5
"""Own choice: so many lines before the first sentence are what a program writes about itself."""
_TOO_MANY_SHARE, _NEARLY_ALL_SHARE = 0.5, 0.9
"""Own choice: a file of which half is something else is no log, or not only one, if some of that may be
positions; loggers that write their time on a line of its own are logs. What is nearly all else is none."""
_LIKE_POSITIONS_SHARE = 0.1
"""Own choice, of the other lines: fewer may be anything."""
_SHOWN_BYTES = 200
_BLANK = 32
_ZERO, _NINE, _DOT = 48, 57, 46
_HASH, _SEMICOLON, _SLASH, _BACKSLASH = 35, 59, 47, 92


class OtherLines:
    """Counts the lines of a log that hold no sentence, nor are blank, a comment or a tag block alone.

    Attributes
    ----------
    number : int
    held : int
        Lines with a sentence, whole or not.
    """

    def __init__(self) -> None:
        self.number = 0
        self.held = 0
        self._headers = 0
        self._first: tuple[int, str] | None = None
        self._first_after: tuple[int, str] | None = None
        self._others = 0
        self._like_positions = 0

    def add(self, found: Scan, size: int, first_line: int) -> None:
        """Take in a scanned piece of so many bytes, whose first line has this number."""
        begins, ends = _lines(found.ends, size)
        held = np.zeros(len(begins), dtype=np.bool_)
        held[np.searchsorted(ends, found.addressed)] = True
        begin, end = _trimmed(found.data, begins[~held], ends[~held])
        aside = _aside(found.data, begin, end)
        self._others += int(aside.sum())
        begin, end = begin[~aside], end[~aside]
        if len(begin):
            before = 0
            if not self.held:
                first_held = begins[np.argmax(held)] if held.any() else size
                before = min(int((begin < first_held).sum()), _HEADERS - self._headers)
            self._headers += before
            if self._first is None:
                self._first = _shown(found, begin[0], end[0], first_line)
            if self._first_after is None and before < len(begin):
                self._first_after = _shown(found, begin[before], end[before], first_line)
        self.number += len(begin)
        self._like_positions += _like_positions(found.data, begin, end)
        self.held += int(held.sum())

    def refuse(self, file: str) -> None:
        """Refuse a file too much of which is something else.

        Raises
        ------
        InputError
            At least half of its lines that are not blank hold no sentence and some of these may be
            positions, or nearly all hold none.
        """
        lines = self.number + self.held + self._others
        may_be = self._like_positions > _LIKE_POSITIONS_SHARE * self.number
        if self._first is None or self.number < (_TOO_MANY_SHARE if may_be else _NEARLY_ALL_SHARE) * lines:
            return
        line, text = self._first
        message = (
            f"{self.number} of the {counted(lines, 'line')} of this log that are not blank hold no sentence"
            f" ($ or !, address, fields); the first is {text}. What they tell, positions perhaps, would be"
            " passed over. Take them out, or give them as a file of their own (CSV or GPX)"
        )
        raise InputError(file, [Problem(f"line {line}", message)])

    def remarks(self, file: str) -> list[Remark]:
        """Return what a person should know of them, if there are more than a few headers."""
        if self._first_after is None:
            return []
        line, text = self._first_after
        count = counted(self.number - self._headers, "line")
        message = f"{count} without any sentence not read; the first is {text}"
        return [Remark(file=file, where=f"line {line}", message=message)]


def _lines(ends: Ints, size: int) -> tuple[Ints, Ints]:
    """Return where the lines of a piece begin and end."""
    begins = np.append(0, ends + 1)
    return begins, np.append(ends, size)


def _trimmed(data: Bytes, begin: Ints, end: Ints) -> tuple[Ints, Ints]:
    """Return lines without the blanks around them, and without those that are nothing else."""
    begin, end = begin[begin < end], end[begin < end]
    if not len(begin):
        return begin, end
    filled = np.flatnonzero(data > _BLANK)
    first, stop = np.searchsorted(filled, begin), np.searchsorted(filled, end)
    first, stop = first[first < stop], stop[first < stop]
    return filled[first], filled[stop - 1] + 1


def _aside(data: Bytes, begin: Ints, end: Ints) -> Flags:
    """Return which lines are comments, or tag blocks alone."""
    first, second, last = data[begin], data[begin + 1], data[end - 1]
    comment = (first == _HASH) | (first == _SEMICOLON) | ((first == _SLASH) & (second == _SLASH))
    block = (first == _BACKSLASH) & (last == _BACKSLASH) & (end - begin > 1)
    aside: Flags = comment | block
    return aside


def _like_positions(data: Bytes, begin: Ints, end: Ints) -> int:
    """Return how many lines hold two decimal numbers or more, as positions do and times do not."""
    digit = (data >= _ZERO) & (data <= _NINE)
    dot = np.flatnonzero(data[1:-1] == _DOT) + 1
    dot = dot[digit[dot - 1] & digit[dot + 1]]
    count = np.searchsorted(dot, end) - np.searchsorted(dot, begin)
    return int((count >= 2).sum())


def _shown(found: Scan, begin: int, end: int, first_line: int) -> tuple[int, str]:
    line = first_line + int(np.searchsorted(found.line_ends, begin))
    text = found.data[begin : min(end, begin + _SHOWN_BYTES)].tobytes()
    return line, quoted(text.decode("utf-8", errors="replace"))
