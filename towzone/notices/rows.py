"""Rows of bare numbers: decimal degrees, and degrees and minutes in columns, without marks and letters."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from towzone.notices.pieces import Header, Lone, Piece, Position, Text
from towzone.notices.tokens import Kind, Token, glued
from towzone.notices.values import Angle, fraction
from towzone.notices.words import Words, classify

__all__ = ["read_cell", "read_row"]

_SURE_DECIMALS = 3
"""Own choice: two neighbouring numbers with so many decimals are a position even among other words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Number:
    text: str
    sign: int
    first: int
    last: int
    chained: bool

    @property
    def whole(self) -> bool:
        return self.text.isdigit()

    @property
    def decimals(self) -> int:
        return 0 if self.whole else len(self.text) - 1 - max(self.text.find(mark) for mark in ",.·")


def read_row(line: str, tokens: list[Token], number: int, header: Header | None) -> list[Piece] | None:
    """Return the pieces of a line of bare numbers, or ``None`` when it is a line of words.

    Parameters
    ----------
    line : str
    tokens : list of Token
        The line's.
    number : int
        The line's, from 1.
    header : Header or None
        The table head in force.
    """
    pieces: list[Piece] = []
    found = False
    foreign = _foreign(tokens)
    for part in _parts(tokens):
        row = _positions(line, part, number, header, foreign=foreign)
        found = found or row is not None
        if row is None:
            words = line[part[0].start : part[-1].end]
            pieces.append(
                Text(line=number, words=words, begins=part[0] is tokens[0], ends=part[-1] is tokens[-1])
            )
        else:
            pieces += row
    return pieces if found else None


def read_cell(tokens: list[Token]) -> Angle | None:
    """Return the angle of a line that holds one number with decimals and nothing else: a cell of a table."""
    numbers = _signed(tokens)
    alone = len(numbers) == 1 and len(tokens) == 1 + (numbers[0].sign != 0)
    return _decimal(numbers[0]) if alone and not numbers[0].whole else None


def _parts(tokens: list[Token]) -> list[list[Token]]:
    """Return a line cut at semicolons and brackets, unless they only part the columns of one row."""
    parts: list[list[Token]] = [[]]
    for token in tokens:
        if token.kind in (Kind.SEMICOLON, Kind.OPEN, Kind.CLOSE):
            parts.append([])
        else:
            parts[-1].append(token)
    found = [part for part in parts if part]
    if max((sum(token.kind is Kind.NUMBER for token in part) for part in found), default=0) < 2:
        return [[token for part in found for token in part]]
    return found


def _foreign(tokens: list[Token]) -> bool:
    """Return whether a line holds words other than those that join coordinates."""
    words = " ".join(token.text for token in tokens if token.kind is Kind.WORD)
    return bool(words) and classify(words) is not Words.JOINT


def _positions(
    line: str, part: list[Token], number: int, header: Header | None, *, foreign: bool
) -> list[Piece] | None:
    numbers = _signed(part)
    words = " ".join(token.text for token in part if token.kind is Kind.WORD)
    group = next((token.text.partition("_")[0] for token in part if token.kind is Kind.LABEL), "")
    if not numbers:
        return None
    text = line[part[0].start : part[-1].end].strip()
    if not _is_row(part, numbers, header, foreign=foreign):
        return [Lone(line=number, words=text, why="two numbers among words")] if _neighbours(part) else None
    if any(n.chained for n in numbers):
        return [Lone(line=number, words=text, why="commas both part the numbers and mark their decimals")]
    cut = _cut(numbers, header)
    if cut is None:
        harmless = len(numbers) < 4 and all(n.whole and not n.sign for n in numbers)
        return None if harmless else [Lone(line=number, words=text, why="these numbers are in no known form")]
    lead, angles = cut
    labels = [n.text for n in lead]
    if len(labels) > 1 and not group:
        group = labels[0]
    label = labels[-1] if labels else ""
    pieces: list[Piece] = []
    if words and classify(words) not in (Words.JOINT, Words.NOTHING):
        pieces.append(Text(line=number, words=words, begins=True, ends=False))
    pieces += [
        Position(
            line=number,
            words=text,
            first=one,
            second=two,
            label=label if k == 0 else "",
            group=group,
            header=header,
        )
        for k, (one, two) in enumerate(zip(angles[::2], angles[1::2], strict=True))
    ]
    return pieces


def _signed(part: list[Token]) -> list[_Number]:
    numbers = []
    for at, token in enumerate(part):
        if token.kind is not Kind.NUMBER:
            continue
        signed = at > 0 and part[at - 1].kind in (Kind.DASH, Kind.PLUS) and glued(part, at)
        # A dash that touches both its neighbours parts them, as in a date.
        signed = signed and not (at > 1 and glued(part, at - 1) and part[at - 2].kind is Kind.NUMBER)
        sign = 0 if not signed else -1 if part[at - 1].kind is Kind.DASH else 1
        comma = (
            at + 2 < len(part)
            and part[at + 1].kind is Kind.COMMA
            and glued(part, at + 1)
            and glued(part, at + 2)
        )
        chained = comma and "," in token.text
        numbers.append(
            _Number(text=token.text, sign=sign, first=token.start - signed, last=token.end, chained=chained)
        )
    return numbers


def _is_row(part: list[Token], numbers: list[_Number], header: Header | None, *, foreign: bool) -> bool:
    """Return whether a part of a line is numbers first of all, and not a sentence with numbers in it."""
    if not foreign:
        return True
    last = part[-1].kind is Kind.NUMBER and len(numbers) > 1
    sure = last and all(n.decimals >= _SURE_DECIMALS for n in numbers[-2:])
    return sure or (last and header is not None and not all(n.whole for n in numbers[-2:]))


def _neighbours(part: list[Token]) -> bool:
    """Return whether two numbers with decimals stand side by side, as those of a position do."""
    before: Token | None = None
    for token in part:
        if token.kind is Kind.NUMBER:
            if before is not None and not before.text.isdigit() and not token.text.isdigit():
                return True
            before = token
        elif token.kind not in (Kind.COMMA, Kind.SLASH, Kind.DASH, Kind.PLUS):
            before = None
    return False


def _cut(numbers: list[_Number], header: Header | None) -> tuple[list[_Number], list[Angle]] | None:
    """Return the leading labels and the angles of a row, an even number of them."""
    for size in (2, 3):
        if len(numbers) >= 2 * size and (cut := _columns(numbers, size, header)):
            return cut
    lead = numbers[:-2]
    told = header is not None or not all(n.whole for n in numbers[-2:])
    if len(numbers) >= 2 and told and all(n.whole and not n.sign for n in lead):
        return lead, [_decimal(n) for n in numbers[-2:]]
    start = next((at for at, n in enumerate(numbers) if not n.whole or n.sign), len(numbers))
    rest = numbers[start:]
    if rest and len(rest) % 2 == 0 and not any(n.whole for n in rest):
        return numbers[:start], [_decimal(n) for n in rest]
    return None


def _columns(
    numbers: list[_Number], size: int, header: Header | None
) -> tuple[list[_Number], list[Angle]] | None:
    """Return degrees and minutes (and seconds) in columns of their own."""
    lead, columns = numbers[: -2 * size], numbers[-2 * size :]
    halves = columns[:size], columns[size:]
    shaped = all(
        all(n.whole for n in half[:-1]) and not any(n.sign for n in half[1:]) for half in halves
    ) and all(n.whole and not n.sign for n in lead)
    printed_so = header is not None or (size == 2 and not any(half[-1].whole for half in halves))
    small = all(fraction(n.text) < 60 for half in halves for n in half[1:])
    if not (shaped and printed_so and small and len(lead) <= 2):
        return None
    return lead, [_sexagesimal(half) for half in halves]


def _sexagesimal(half: list[_Number]) -> Angle:
    value = sum((fraction(n.text) / 60**place for place, n in enumerate(half)), Fraction(0))
    return _angle(half, value, whole=False)


def _decimal(number: _Number) -> Angle:
    return _angle([number], fraction(number.text), whole=True)


def _angle(numbers: list[_Number], value: Fraction | int, *, whole: bool) -> Angle:
    sign = numbers[0].sign
    return Angle(
        value_deg=Fraction(value) * (-1 if sign < 0 else 1),
        axis=None,
        sided=sign != 0,
        signed=sign != 0,
        whole=whole,
        first=numbers[0].first,
        last=numbers[-1].last,
    )
