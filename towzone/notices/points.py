"""From the lines of a notice to its pieces: angles found and paired, everything else kept as words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from towzone.errors import InputError, Problem, quoted
from towzone.notices.angles import LABELS, read_angle
from towzone.notices.columns import Columns, read_columns
from towzone.notices.pieces import Blank, Header, Lone, Piece, Position, Text
from towzone.notices.rows import read_cell, read_row
from towzone.notices.tokens import Kind, Token, tokenize
from towzone.notices.torn import torn
from towzone.notices.values import AXIS_OF, Angle, Axis
from towzone.notices.words import point_label

__all__ = ["MOST_POSITIONS", "read_pieces"]

MOST_POSITIONS = 200_000
"""Own limit: a text with more is a data file, not a notice, and no person could compare its echo."""

_PUNCTUATION = " \t,;/|\\.()[]&-\u2013\u2014"
_SPACES = dict.fromkeys(
    map(
        ord,
        "\u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000",
    ),
    " ",
)
_HEADER_WORDS_TEXT = """
    point points position positions no nr number order label polygon area name id north south east
    west n s e w decimal degrees deg minutes min seconds wgs datum corner coordinates coordinate
    vertex lat latitude lon long lng longitude and of the in d m
"""
_HEADER_WORDS = frozenset(_HEADER_WORDS_TEXT.split())
_LETTER = re.compile(
    r"\b(?:lat(?:itude)?|lon(?:g|gitude)?|lng)\b[\s.,:(°]{0,4}(north|south|east|west|[NSEW])\b"
    r"|\b(north|south|east|west|[NSEW])\b[.\s°]{0,3}(?:lat(?:itude)?|lon(?:g|gitude)?|lng)\b",
    re.IGNORECASE,
)
_BETWEEN_QUOTES = re.compile(r'\s*"\s*[,;\t|]\s*"\s*')
_DIGIT = re.compile(r"[0-9]")
_HEAD_WORD = re.compile(r"\b(?:lat|lon|lng)", re.IGNORECASE)
_CUT = re.compile(r"[0-9]\s?[-\u2010\u2011\u2212\u2013]\s*$")
_STARTS_WITH_LETTER = re.compile(r"\s*[NSEW]\b")
_NUMERAL = (
    "(?:zero|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|(?:thir|four|fif|six|seven|eigh|nine)teen"
    "|twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety|hundred)"
)
_UNREAD = re.compile(
    rf"\b{_NUMERAL}\s{{1,3}}(?:degrees?|minutes?|seconds?)\b|[0-9]\s?d\s?[0-9]{{1,2}}(?:[.,][0-9]+)?\s?m|"
    r"[0-9]\s?[°º˚′″]|[0-9][.,][0-9]{1,15}\s?[NSEW]\b|[°º˚]\s?[0-9]"
    r"|[0-9][.,][0-9]{1,15}[\s,;/]{1,3}[-\u2212\u2013+]?[0-9]{1,3}[.,][0-9]",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class _Found:
    """An angle where it was found."""

    line: int
    text: str
    angle: Angle
    header: Header | None

    @property
    def words(self) -> str:
        return self.text[self.angle.first : self.angle.last].strip()


def read_pieces(text: str, file: str) -> list[Piece]:
    """Return the pieces of a notice in printed order.

    Raises
    ------
    InputError
        More than `MOST_POSITIONS` positions.
    """
    reader = _Reader()
    for number, line in enumerate(text.translate(_SPACES).split("\n"), start=1):
        reader.line(line.rstrip("\r"), number)
        if reader.found > 2 * MOST_POSITIONS:
            message = (
                f"more than {MOST_POSITIONS} positions; this is a data file, not a notice. Split the text"
            )
            raise InputError(file, [Problem(f"line {number}", message)])
    return _best_pairs(reader.parts)


class _Reader:
    """Angles and pieces of the lines so far, and the table head in force."""

    def __init__(self) -> None:
        self.parts: list[_Found | Piece] = []
        self.found = 0
        self._header: Header | None = None
        self._half: Axis | None = None
        self._columns: Columns | None = None
        self._letters: tuple[str, ...] = ()
        self._cut = False

    def line(self, line: str, number: int) -> None:
        """Add what one line holds."""
        if not line.strip():
            self.parts.append(Blank(line=number))
            return
        self._doubt_wrapped(line, number)
        row = self._columns.row(line) if self._columns is not None else None
        if row is not None:
            self._row(row, line, number)
        else:
            self._line(line, number)
        self._cut = _CUT.search(line) is not None

    def _doubt_wrapped(self, line: str, number: int) -> None:
        """Doubt an angle without a letter at the end of a line when the next line begins with a letter."""
        last = self.parts[-1] if self.parts else None
        wrapped = isinstance(last, _Found) and last.line == number - 1 and last.angle.axis is None
        before = self.parts[-2] if len(self.parts) > 1 else None
        if isinstance(before, _Found) and before.line == number - 1 and before.angle.axis is None:
            return  # a row without letters, before one that is named by a letter
        if wrapped and isinstance(last, _Found) and _STARTS_WITH_LETTER.match(line):
            doubt = "its letter may be the one that begins the next line"
            angle = replace(last.angle, doubt="; ".join(filter(None, (last.angle.doubt, doubt))), readings={})
            self.parts[-1] = replace(last, angle=angle)

    def _row(self, row: str, line: str, number: int) -> None:
        """Add a row of a table with a head, which holds one position."""
        header, begin = self._header, len(self.parts)
        if header is None and self._columns is not None:
            self._header = Header(first=self._columns.first, letters=self._letters)
        self._line(row, number)
        self._header = header
        made = self.parts[begin:]
        sizes = [2 if isinstance(part, Position) else isinstance(part, (_Found, Lone)) for part in made]
        if sum(sizes) != 2 or any(isinstance(part, Lone) for part in made):
            why = "this row of the table does not hold one latitude and one longitude in their columns"
            self.parts[begin:] = [Lone(line=number, words=line.strip(), why=why)]

    def _line(self, line: str, number: int) -> None:
        if not _DIGIT.search(line) and not _HEAD_WORD.search(line):
            self._half = None
            self._text(line, number, 0, len(line))
            return
        tokens = tokenize(line)
        angles = list(_angles(tokens))
        if not angles and self._header is not None and (cell := read_cell(tokens)) is not None:
            angles = [cell]
        if angles:
            self._half = None
            self._mixed(line, number, angles)
            return
        row = read_row(line, tokens, number, self._header)
        many = sum(isinstance(piece, Position) for piece in row or ()) > 1
        if many and self._columns is not None and self._columns.others:
            why = "this row has not the columns of the head of its table"
            row = [Lone(line=number, words=line.strip(), why=why)]
        if row is not None:
            for piece in row:
                if isinstance(piece, Text):
                    self._words(piece)
                else:
                    self.parts.append(piece)
                    self.found += 1
        elif not self._take_header(line, tokens):
            self._text(line, number, 0, len(line))

    def _mixed(self, line: str, number: int, angles: list[Angle]) -> None:
        at = 0
        for found in angles:
            angle = self._doubted(line, at, found)
            self._text(line, number, at, angle.first)
            self.parts.append(_Found(number, line, angle, self._header))
            at = angle.last
        self._text(line, number, at, len(line))
        self.found += len(angles)

    def _doubted(self, line: str, begin: int, angle: Angle) -> Angle:
        """Return an angle with a doubt when it may be a part only of what was meant."""
        whole = re.sub(r"\s", "", line[angle.first : angle.last])
        if self._cut and not line[: angle.first].strip() and not re.search("[°º˚]", whole):
            doubt = "the line before it ends in a number and a dash, which may belong to it"
        elif glue := torn(line, begin, angle.first, angle.last):
            doubt = f"it is glued to {quoted(glue)}, which may be a misprinted part of it"
        else:
            return angle
        return replace(angle, doubt="; ".join(filter(None, (angle.doubt, doubt))), readings={})

    def _text(self, line: str, number: int, first: int, last: int) -> None:
        words = line[first:last]
        if words.strip(_PUNCTUATION):
            self._words(
                Text(line=number, words=words, begins=not line[:first].strip(), ends=not line[last:].strip())
            )

    def _words(self, text: Text) -> None:
        if _UNREAD.search(text.words):
            why = "this looks like a coordinate but is in no known form"
            self.parts.append(Lone(line=text.line, words=text.words.strip(), why=why))
        elif text.words.strip(_PUNCTUATION):
            self.parts.append(text)

    def _take_header(self, line: str, tokens: list[Token]) -> bool:
        columns = read_columns(line)
        if columns is not None:
            self._columns = columns
            self._letters = tuple((after or before).upper()[0] for after, before in _LETTER.findall(line))
        words = [token.text.lower() for token in tokens if token.kind is Kind.WORD]
        axes = [LABELS[word] for word in words if word in LABELS]
        if not axes or any(word not in _HEADER_WORDS for word in words):
            self._half = None
            return False
        if len(set(axes)) == 1:
            # Perhaps the heads of two columns on lines of their own.
            half, self._half = self._half, axes[0]
            if half is None or half is axes[0]:
                return True
            axes = [half, axes[0]]
        letters = tuple((after or before).upper()[0] for after, before in _LETTER.findall(line))
        self._half = None
        self._header = Header(first=axes[0], letters=letters)
        return True


def _angles(tokens: list[Token]) -> Iterator[Angle]:
    at = 0
    while at < len(tokens):
        found = read_angle(tokens, at) if _may_begin(tokens, at) else None
        if found is None:
            at += 1
            continue
        angle, at = found
        yield angle


def _may_begin(tokens: list[Token], at: int) -> bool:
    """Return whether an angle can begin at a token: a quick look that spares prose the slow one."""
    token = tokens[at]
    if token.kind is Kind.NUMBER:
        return True
    if token.kind in (Kind.DASH, Kind.PLUS):
        return at + 1 < len(tokens) and tokens[at + 1].kind is Kind.NUMBER
    return token.kind is Kind.WORD and (token.text in AXIS_OF or token.text.lower() in LABELS)


def _best_pairs(parts: list[_Found | Piece]) -> list[Piece]:
    """Join angles to positions in the order, latitude or longitude first, that leaves fewer alone.

    Text that is wrapped anywhere would mislead a look at single lines; they decide only between equals.
    """
    usual = _usual_order(parts)
    if usual is None:
        return list(_paired(parts, None))
    other = Axis.LON if usual is Axis.LAT else Axis.LAT
    ways = [list(_paired(parts, order)) for order in (usual, other)]
    alone = [sum(isinstance(piece, Lone) for piece in way) for way in ways]
    return ways[0] if alone[0] <= alone[1] else ways[1]


def _paired(parts: list[_Found | Piece], order: Axis | None) -> Iterator[Piece]:
    """Join angles to positions; only punctuation may stand between the two of one position."""
    waiting: _Found | None = None
    lone_line = 0
    label: Text | None = None
    for part in parts:
        if isinstance(part, Text) and waiting is not None and _parts_two(part.words, waiting.angle):
            continue
        if waiting is not None and isinstance(part, _Found):
            across = waiting.line == part.line or waiting.line != lone_line
            if across and _one_position(waiting.angle, part.angle, order):
                yield _position(waiting, part, label)
                waiting, label = None, None
                continue
        if waiting is not None:
            if label is not None:
                yield label
            yield _lone(waiting)
            lone_line, waiting, label = waiting.line, None, None
        if isinstance(part, _Found):
            waiting = part
            continue
        if label is not None:
            yield label
            label = None
        if isinstance(part, Text) and point_label(part.words) is not None:
            label = part
        else:
            yield part
    if label is not None:
        yield label
    if waiting is not None:
        yield _lone(waiting)


def _parts_two(words: str, angle: Angle) -> bool:
    """Return whether words may stand between the two angles of a position, an angle being the first."""
    if _BETWEEN_QUOTES.fullmatch(words):
        return True
    plain = [word for word in words.strip(_PUNCTUATION).lower().replace(".", " ").split() if word != "and"]
    if plain[:1] and angle.axis is not None and LABELS.get(plain[0]) is angle.axis:
        plain = plain[1:]  # "54°30' north" at the end of a line, "latitude" on the next
    if plain[-1:] and plain[-1] in LABELS:
        return len(plain) == 1 and LABELS[plain[0]] is _other(angle.axis)
    return not plain or plain in (["by"], ["x"])


def _usual_order(parts: list[_Found | Piece]) -> Axis | None:
    """Return which axis comes first on most lines that hold two angles, of which one has its letter."""
    votes = {Axis.LAT: 0, Axis.LON: 0}
    alone: Axis | None = None
    begun: _Found | None = None
    voted = 0
    for part in parts:
        if not isinstance(part, _Found):
            continue
        alone = alone or part.angle.axis
        if begun is not None and begun.line == part.line and voted != part.line:
            first = begun.angle.axis or _other(part.angle.axis)
            if first is not None:
                votes[first] += 1
            voted = part.line
        elif begun is None or begun.line != part.line:
            begun = part
    if votes[Axis.LAT] == votes[Axis.LON]:
        return alone
    return Axis.LAT if votes[Axis.LAT] > votes[Axis.LON] else Axis.LON


def _other(axis: Axis | None) -> Axis | None:
    if axis is None:
        return None
    return Axis.LON if axis is Axis.LAT else Axis.LAT


def _one_position(one: Angle, other: Angle, order: Axis | None) -> bool:
    if one.axis is not None and one.axis is other.axis:
        return False
    if (one.axis is None and other.axis is None) or order is None:
        return True
    return one.axis is order or (one.axis is None and other.axis is not order)


def _position(one: _Found, other: _Found, label: Text | None) -> Position:
    if one.line == other.line:
        words = one.text[one.angle.first : other.angle.last].strip()
    else:
        words = f"{one.words} {other.words}"
    return Position(
        line=one.line,
        words=words,
        first=one.angle,
        second=other.angle,
        label=(point_label(label.words) or "") if label is not None else "",
        header=one.header,
    )


def _lone(found: _Found) -> Lone:
    name = {Axis.LAT: "latitude", Axis.LON: "longitude", None: "angle"}[found.angle.axis]
    other = {Axis.LAT: " without a longitude", Axis.LON: " without a latitude", None: " without a partner"}
    article = "a" if found.angle.axis else "an"
    return Lone(line=found.line, words=found.words, why=f"this is {article} {name}{other[found.angle.axis]}")
