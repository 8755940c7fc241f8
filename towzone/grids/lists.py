"""Lists and ranges of rectangles as rules print them, word by word; nothing is left out unsaid.

Read are codes (``37F3``), ranges of rows and of columns (``31-33 E9-F4``, across Greenwich as well), several
of either (``31, 33 E9, F1``), and rectangles taken out (``excluding 38F2``).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from towzone.errors import InputError, Problem, UsageError, quoted
from towzone.grids.cells import Cell, CodeGrid
from towzone.grids.gfcm import GFCM
from towzone.grids.ices import ICES

__all__ = ["Ask", "Item", "ListedArea", "grid_of", "parse_rectangles"]

Ask = Callable[[str, str, tuple[str, ...]], str]
"""Called with place, question and possible answers; returns the answer, or empty text while it is open."""

_TOKEN = re.compile(r"[^\W_]+|[^\w\s]|_")
_DASHES = "-\u2010\u2011\u2012\u2013\u2014\u2212"
_LINKS = {"to": "-", "through": "-", "and": ",", "&": ",", "+": ","}
_FILLERS = {"ices", "gfcm", "statistical", "rectangle", "rectangles", "row", "rows", "column", "columns"}
_TAKING_OUT = {"excluding", "exclude", "except", "excepting", "without", "minus", "less", "not"}
_AFTER_TAKING_OUT = {"for", "including", "but"}
_ALLOWED = "a list has codes, ranges with a dash, commas, semicolons, 'and', 'excluding' and brackets"


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One entry of a list: the words, where they stand, and the cells they mean (taken out or put in).

    ``is_open`` marks an entry whose meaning waits for an answer; its cells are of no use.
    """

    where: str
    words: str
    cells: tuple[Cell, ...]
    taken_out: bool
    is_open: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedArea:
    """The entries under one label; ``label`` is empty where the text has none."""

    label: str
    where: str
    items: tuple[Item, ...]

    @property
    def cells(self) -> tuple[Cell, ...]:
        """The cells put in and not taken out, in order."""
        out = {cell for item in self.items if item.taken_out for cell in item.cells}
        put_in = {cell for item in self.items if not item.taken_out for cell in item.cells}
        return tuple(sorted(put_in - out))


@dataclass(frozen=True, slots=True)
class _Token:
    """``kind``: row, column, dash, comma, semicolon, open, close, out or end."""

    kind: str
    text: str
    start: int
    end: int
    line: int


def grid_of(text: str) -> CodeGrid:
    """Return the grid a text speaks of: rows such as ``M27`` are of the GFCM, plain numbers of ICES."""
    return GFCM if re.search(r"(?<![A-Za-z0-9])[Mm][0-9]{2}", text) else ICES


def parse_rectangles(text: str, *, ask: Ask, file: str = "rectangle list") -> tuple[ListedArea, ...]:
    """Return the areas of a text with the cells of `grid_of` that they list.

    Parameters
    ----------
    text : str
        One list; or several, each after a label with a colon at the start of a line.
    ask : callable
        Decides what the text leaves open, such as a missing dash.
    file : str
        Named in messages.

    Raises
    ------
    InputError
        A code that does not exist, a sub-rectangle, rows without columns, a range that runs backwards, a
        word that is not part of a list, or an area with nothing in it; every one is named.
    """
    grid = grid_of(text)
    problems: list[Problem] = []
    areas = []
    for label, line, start, stop in _labelled(text):
        tokens = list(_tokens(text, start, stop, grid, problems))
        if problems:
            continue
        where = f"line {line}"
        try:
            area = ListedArea(label=label, where=where, items=tuple(_Parser(text, tokens, grid, ask).items()))
        except _ListError as error:
            problems.append(Problem(error.where, str(error)))
            continue
        if not any(not item.taken_out for item in area.items):
            problems.append(Problem(where, "no rectangles are listed here"))
        areas.append(area)
    if problems:
        raise InputError(file, problems)
    return tuple(areas)


class _ListError(ValueError):
    """The words do not make a list; ``where`` is the place."""

    def __init__(self, where: str, message: str) -> None:
        super().__init__(message)
        self.where = where


def _labelled(text: str) -> Iterator[tuple[str, int, int, int]]:
    """Yield label, line number, start and end of each area."""
    labels = [
        match
        for match in re.finditer(r"^[ \t]*([^:;,\n]{1,60}):", text, re.MULTILINE)
        if match[1].strip() and not _is_list_text(match[1])
    ]
    if not labels or text[: labels[0].start()].strip():
        yield "", 1, 0, labels[0].start() if labels else len(text)
    for index, match in enumerate(labels):
        stop = labels[index + 1].start() if index + 1 < len(labels) else len(text)
        yield match[1].strip(), _line(text, match.start()), match.end(), stop


def _is_list_text(text: str) -> bool:
    """Return whether words before a colon belong to a list rather than name it."""
    words = text.split()
    code = re.compile("(M?[0-9]{2})?[A-Z][0-9]", re.ASCII | re.IGNORECASE)
    return words[0].lower() in _TAKING_OUT | _FILLERS or any(code.fullmatch(word) for word in words)


def _line(text: str, place: int) -> int:
    return text.count("\n", 0, place) + 1


def _tokens(text: str, start: int, stop: int, grid: CodeGrid, problems: list[Problem]) -> Iterator[_Token]:
    signs = {",": "comma", ";": "semicolon", "(": "open", ")": "close", ":": "", ".": ""}
    signs |= dict.fromkeys(_DASHES, "dash")
    taking_out = False
    for match in _TOKEN.finditer(text, start, stop):
        word = _LINKS.get(match[0].lower(), match[0])
        token = _Token("", match[0], match.start(), match.end(), _line(text, match.start()))
        small = word.lower()
        if word in signs:
            if signs[word]:
                yield replace(token, kind=signs[word])
        elif small in _TAKING_OUT:
            yield replace(token, kind="out")
        elif small not in _FILLERS and not (small in _AFTER_TAKING_OUT and (taking_out or small == "but")):
            yield from _code_tokens(token, grid, problems)
        taking_out = small in _TAKING_OUT


def _code_tokens(token: _Token, grid: CodeGrid, problems: list[Problem]) -> Iterator[_Token]:
    """Yield a row, a column or both from one word."""
    both = re.fullmatch(f"({grid.row_form})?({grid.column_form})?", token.text, re.ASCII | re.IGNORECASE)
    try:
        if both is None and not any(c.isdigit() for c in token.text):
            problems.append(
                Problem(f"line {token.line}", f"{quoted(token.text)} is not part of a list: {_ALLOWED}")
            )
        elif both is None or (both[1] and both[2]):
            grid.cell(token.text)
        elif both[1]:
            grid.row(both[1])
        else:
            grid.column(token.text)
    except UsageError as error:
        problems.append(Problem(f"line {token.line}", str(error)))
        return
    if both is not None and both[1]:
        yield replace(token, kind="row", text=both[1], end=token.start + len(both[1]))
    if both is not None and both[2]:
        start = token.end - len(both[2])
        yield replace(token, kind="column", text=both[2], start=start)


class _Parser:
    """Walks the words of one area."""

    def __init__(self, text: str, tokens: list[_Token], grid: CodeGrid, ask: Ask) -> None:
        self.text, self.tokens, self.grid = text, tokens, grid
        self.at = 0
        self.is_open = False
        self._ask = ask

    def ask(self, where: str, question: str, answers: tuple[str, ...]) -> str:
        answer = self._ask(where, question, answers)
        self.is_open |= not answer
        return answer

    def items(self) -> Iterator[Item]:
        taken_out, brackets, semicolon, ahead = False, 0, False, ""
        while (token := self.next()).kind != "end":
            if token.kind == "comma":
                self.at += 1
            elif token.kind == "semicolon":
                semicolon = True
                self.at += 1
            elif token.kind in ("open", "close"):
                brackets += 1 if token.kind == "open" else -1
                if brackets not in (0, 1):
                    raise self.error(token, "brackets do not match")
                taken_out = taken_out and token.kind == "open"
                self.at += 1
            elif token.kind == "out":
                taken_out, semicolon, ahead = True, False, ""
                self.at += 1
            else:
                self.is_open = ahead == "open"
                if taken_out and semicolon and not brackets and not ahead:
                    ahead = self._scope(token)
                    taken_out = ahead != "put in"
                yield self.item(taken_out=taken_out)
        if brackets:
            raise self.error(self.tokens[-1], "brackets do not match")

    def _scope(self, token: _Token) -> str:
        question = (
            f"{quoted(token.text)} follows rectangles taken out, after a semicolon: is it taken out as well,"
            " or put in?"
        )
        return self.ask(f"line {token.line}", question, ("taken out", "put in")) or "open"

    def item(self, *, taken_out: bool) -> Item:
        first = self.next()
        if first.kind != "row":
            raise self.error(
                first, "a row is missing before it" if first.kind == "column" else "out of place"
            )
        rows = self.ranges("row", self.grid.row)
        if self.next().kind != "column":
            raise self.error(self.tokens[self.at - 1], "this row has no columns")
        start = self.tokens[self.at]
        columns = self.ranges("column", self.grid.column)
        if self.next().kind == "dash":
            rows, columns = self.to_code(first, start, rows, columns)
        last = self.tokens[self.at - 1]
        return Item(
            where=f"line {first.line}",
            words=" ".join(self.text[first.start : last.end].split()),
            cells=tuple((row, column) for row in rows for column in columns),
            taken_out=taken_out,
            is_open=self.is_open,
        )

    def ranges(self, kind: str, number: Callable[[str], int]) -> list[int]:
        """Return the numbers of one or more rows or columns with ranges written out."""
        found: list[int] = []
        while True:
            start = self.take(kind)
            if self.next().kind == "dash" and self.next(1).kind == kind:
                self.at += 1
                found += self.span(start, self.take(kind), number)
            elif self.next().kind == kind:
                found += self.unlinked(start, self.take(kind), number)
            else:
                found.append(number(start.text))
            if not (self.next().kind == "comma" and self.next(1).kind == kind):
                return found
            self.at += 1

    def span(self, start: _Token, end: _Token, number: Callable[[str], int]) -> list[int]:
        low, high = number(start.text), number(end.text)
        if low > high:
            raise self.error(start, f"the range to {quoted(end.text)} runs backwards")
        return list(range(low, high + 1))

    def unlinked(self, start: _Token, end: _Token, number: Callable[[str], int]) -> list[int]:
        """Ask what two rows or columns mean with nothing between them."""
        both = (f"{start.text}-{end.text}", f"{start.text},{end.text}")
        question = (
            f"{quoted(self.text[start.start : end.end])}: a dash or a comma is missing; is the range"
            f" {both[0]} meant, or only the two, {both[1]}?"
        )
        answer = self.ask(f"line {start.line}", question, both)
        if answer == both[0]:
            return self.span(start, end, number)
        return [number(start.text), number(end.text)]

    def to_code(
        self, first: _Token, start: _Token, rows: list[int], columns: list[int]
    ) -> tuple[list[int], list[int]]:
        """Read the end of a range from code to code, such as ``30E4-33E4``."""
        dash = self.take("dash")
        if self.next().kind != "row" or self.next(1).kind != "column" or len(rows) * len(columns) != 1:
            raise self.error(dash, "after this dash a column, or after a single code another code, is needed")
        last, end = self.take("row"), self.take("column")
        all_rows = self.span(first, last, self.grid.row)
        all_columns = self.span(start, end, self.grid.column)
        if len(all_rows) > 1 and len(all_columns) > 1:
            question = (
                f"{quoted(self.text[first.start : end.end])}: is the whole block of"
                f" {len(all_rows) * len(all_columns)} rectangles between the two meant? If not, write the"
                " list differently"
            )
            self.ask(f"line {first.line}", question, ("block",))
        return all_rows, all_columns

    def next(self, ahead: int = 0) -> _Token:
        place = self.at + ahead
        return self.tokens[place] if place < len(self.tokens) else _Token("end", "", 0, 0, 0)

    def take(self, kind: str) -> _Token:
        token = self.next()
        if token.kind != kind:
            raise self.error(token, f"a {kind} is needed here")
        self.at += 1
        return token

    def error(self, token: _Token, message: str) -> _ListError:
        if token.kind == "end" and self.tokens:
            token = self.tokens[-1]
        return _ListError(f"line {token.line}", f"at {quoted(token.text)}: {message}")
