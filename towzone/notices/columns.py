"""Tables whose head says which columns are the latitude and the longitude, among others that are neither.

Depths, chainages and running numbers beside a position must not be read as coordinates, and the commas of a
table must not be read as those of decimals.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from towzone.notices.angles import LABELS
from towzone.notices.values import Axis

__all__ = ["Columns", "read_columns"]

_PARTINGS = (r"\t", r"\|", ";", ",", r"\s{2,}", r"\s+")
_WORD = re.compile(r"[^\W\d_]+")
_NUMBER = re.compile(r"[0-9]")
_DECIMALS = re.compile(r"\s*[-\u2212\u2013+]?[0-9]{1,3}[.,][0-9]{3,15}\s*")
_LOOSE = re.compile(r"[0-9]\s+-?[0-9][^°º˚'′]*$")
_PLAIN_NUMBER = re.compile(r"[^\w°º˚]*[0-9](?:[0-9_]|[^\w°º˚])*")
_COUNT = re.compile(r"[\s\"(#]*[0-9]{1,4}(?:_[0-9]{1,4})*[\s\".)]*")
_WHOLE = re.compile(r"[\s\"]*[-\u2212\u2013+]?[0-9]{1,3}[\s\"]*")
_QUOTED = re.compile(r'\s*"((?:[^"]|"")*)"\s*')
_NO_HEAD_TEXT = """
    the of and in is are for from at by to n s e w north south east west deg min sec degrees minutes seconds
    d m
"""
_NO_HEAD = frozenset(_NO_HEAD_TEXT.split())
_UNITS = frozenset(("deg", "min", "sec", "degrees", "minutes", "seconds", "d", "m", "s", "n", "e", "w"))
_MOST_CELL, _MOST_LINE = 60, 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """The columns of a table: what parts them, how many there are, and where the two coordinates stand.

    ``others`` tells whether there are more than these two.
    """

    parting: str
    count: int
    lat: int
    lon: int
    others: bool

    @property
    def first(self) -> Axis:
        """Which of the two comes first."""
        return Axis.LAT if self.lat < self.lon else Axis.LON

    def row(self, line: str) -> str | None:
        """Return a row with all numbers blank that are no coordinates; ``None`` when it is no such row.

        What is left stands in the columns where it stood.
        """
        cells = _cells(line, self.parting) if len(line) <= _MOST_LINE else []
        if len(cells) != self.count:
            return None
        texts = [line[first:last] for first, last in cells]
        both = texts[self.lat], texts[self.lon]
        if not all(_NUMBER.search(text) for text in both):
            return None
        if self.parting == r"\s+" and not all(_DECIMALS.fullmatch(text) for text in both):
            return None
        if self.parting == "," and any(_LOOSE.search(text) for text in texts):
            return None
        kept = [self._kept(at, text) for at, text in enumerate(texts)]
        if not all(kept) and any(_WHOLE.fullmatch(text) for text in both):
            return None  # the other numbers may be the minutes
        blank = [" "] * len(line)
        for at, (first, last) in enumerate(cells):
            if kept[at]:
                blank[first:last] = _unquoted(line[first:last])
        return "".join(blank)

    def _kept(self, at: int, text: str) -> bool:
        if at in (self.lat, self.lon) or _PLAIN_NUMBER.fullmatch(text) is None:
            return True
        return at < min(self.lat, self.lon) and _COUNT.fullmatch(text) is not None


def read_columns(line: str) -> Columns | None:
    """Return the columns of a line that is the head of a table with a latitude and a longitude."""
    if len(line) > _MOST_LINE:
        return None
    for parting in _PARTINGS:
        cells = _cells(line, parting)
        texts = [line[first:last] for first, last in cells]
        places: dict[Axis, list[int]] = {Axis.LAT: [], Axis.LON: []}
        for at, text in enumerate(texts):
            for axis in {LABELS[w.lower()] for w in _WORD.findall(text) if w.lower() in LABELS}:
                places[axis].append(at)
        lat, lon = places[Axis.LAT], places[Axis.LON]
        if len(lat) != 1 or len(lon) != 1 or lat == lon or any(len(t.strip()) > _MOST_CELL for t in texts):
            continue
        others = [text for at, text in enumerate(texts) if at not in (lat[0], lon[0])]
        inner = texts[1:-1] if parting == r"\|" else texts
        units = any(word.lower() in _UNITS for text in others for word in _WORD.findall(text))
        if units or not all(text.strip() for text in inner):
            return None  # minutes may stand in columns of their own
        loose = parting == r"\s+"
        if loose and any(w.lower() in _NO_HEAD for w in _WORD.findall(line)):
            return None
        return Columns(parting=parting, count=len(cells), lat=lat[0], lon=lon[0], others=len(cells) > 2)
    return None


def _cells(line: str, parting: str) -> list[tuple[int, int]]:
    """Return the columns where each cell of a line begins and ends."""
    if parting.startswith(r"\s"):
        begin = len(line) - len(line.lstrip())
        line = line.rstrip()
    else:
        begin = 0
    cells = []
    for match in re.finditer(parting, line):
        inside = line[begin : match.start()].count('"') % 2 == 1 and _opens(line, begin)
        if match.start() < begin or inside:
            continue
        cells.append((begin, match.start()))
        begin = match.end()
    return [*cells, (begin, len(line))]


def _opens(line: str, begin: int) -> bool:
    return line[begin:].lstrip().startswith('"')


def _unquoted(cell: str) -> str:
    match = _QUOTED.fullmatch(cell)
    if match is None:
        return cell
    return (
        cell[: match.start(1)].replace('"', " ")
        + match[1].replace('""', '" ')
        + " " * (len(cell) - match.end(1))
    )
