"""Haul logs (CSV): when the gear was shot and hauled, and what was out; all of it or nothing."""

from __future__ import annotations

import zoneinfo
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from towzone.errors import InputError, Problem, quoted
from towzone.files.csv_head import Head, find_head, listed
from towzone.files.csv_names import LENGTH_UNITS, plain, time_words, unit_after
from towzone.files.csv_numbers import DecimalMark, NumberTextError, is_missing, tidied
from towzone.files.csv_text import Lines, Problems, read_batches
from towzone.files.csv_times import TimeColumn, TimeWords
from towzone.files.inputs import open_input
from towzone.files.reading_limits import LIMITS
from towzone.model.gears import GEAR_NAMES
from towzone.model.result import InputFile, Remark
from towzone.tows.logged import LoggedHaul
from towzone.tracks.options import DateOrder
from towzone.units import Instants, format_duration, format_time
from towzone.words import counted

__all__ = ["HaulLogFile", "read_haul_log"]

_IDS = ("haul", "haulid", "haulno", "haulnr", "haulnumber", "tow", "towid", "towno", "townumber")
_SHOOTS = ("shooting", "shoot", "shot")
_HAULS = ("hauling", "hauled", "haulback", "haul")
_GEARS = ("gear", "gearcode")
_LENGTHS = {
    "warp_m": (("warplength", "warpout", "warp", "wireout"), LIMITS["warp_m"][1]),
    "depth_m": (("waterdepth", "bottomdepth", "depth"), LIMITS["depth_m"][1]),
    "door_spread_m": (("doorspread", "doorsspread", "doordistance"), 1_000.0),
}
"""Words for each length, and the first that cannot be; own choice that no doors are a kilometre apart."""
_NO_WORDS = TimeWords()
_REQUIRED = ("haul", "shoot_utc", "haul_utc")
_LONG = np.timedelta64(24, "h")
"""Own choice: a haul of more than a day is more likely a slip in a date."""
_MOST_HAULS = 100_000
"""Own limit: more than any vessel shoots in its life."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HaulLogFile:
    """What one log gave: its hauls in order of time, what a person should know, and the input itself."""

    hauls: tuple[LoggedHaul, ...]
    remarks: tuple[Remark, ...]
    input: InputFile


def read_haul_log(
    path: str,
    *,
    track_tz: zoneinfo.ZoneInfo | None,
    date_order: DateOrder | None = None,
    at: str | None = None,
) -> HaulLogFile:
    """Return the hauls of a log.

    Parameters
    ----------
    path : str
        A local CSV file, or ``-`` for standard input.
    track_tz : ZoneInfo or None
        Zone of times that state none, in columns that do not say that they are UTC.
    date_order : DateOrder or None
        Of dates in figures, where nothing in the log settles it.
    at : str or None
        Where the file lies, if not there (`towzone.files.inputs.open_input`).

    Raises
    ------
    InputError
        It cannot be read; columns are missing; a haul does not end after it begins, overlaps another or has
        its name, or has a length or a gear that cannot be.
    """
    opened = open_input(path, at=at)
    lines = Lines(opened.chunks(), path)
    head = find_head(lines, _count_known)
    log = _Log(head, path, track_tz, date_order)
    for batch in read_batches(lines, head.delimiter, head.next_line):
        for row, line in zip(*batch, strict=True):
            log.add(row, line)
    hauls = log.hauls()
    return HaulLogFile(hauls=hauls, remarks=tuple(log.remarks), input=opened.record)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    """A column that is read; ``factor`` makes metres of its numbers, 0 where the unit is not known."""

    index: int
    name: str
    role: str
    factor: float = 1.0
    words: TimeWords = _NO_WORDS


def _meanings(names: Sequence[str]) -> list[_Column]:
    found = (_meaning(index, name) for index, name in enumerate(names))
    return [column for column in found if column is not None]


def _count_known(names: Sequence[str]) -> int:
    return len({column.role for column in _meanings(names)})


def _meaning(index: int, name: str) -> _Column | None:
    word = plain(name)
    if word in _IDS:
        return _Column(index=index, name=name, role="haul")
    if word in _GEARS:
        return _Column(index=index, name=name, role="gear")
    for role, (lengths, _) in _LENGTHS.items():
        factor = unit_after(word, lengths, LENGTH_UNITS)
        if factor is not None:
            return _Column(index=index, name=name, role=role, factor=factor)
    for role, starts in (("shoot_utc", _SHOOTS), ("haul_utc", _HAULS)):
        for start in starts:
            rest = _behind(name, start)
            of_time = None if rest is None else time_words(rest) or time_words(f"time{rest}")
            if of_time is not None and of_time[0] in ("time", "stamp"):
                return _Column(index=index, name=name, role=role, words=of_time[1])
    return None


def _behind(name: str, start: str) -> str | None:
    """Return what follows a word at the beginning of a name, ``None`` if it does not begin so."""
    at = 0
    for letter in start:
        while at < len(name) and not name[at].isalnum():
            at += 1
        if name[at : at + 1].lower() != letter:
            return None
        at += 1
    return name[at:]


class _Log:
    """The rows of a log, and what is wrong with them."""

    def __init__(
        self, head: Head, file: str, track_tz: zoneinfo.ZoneInfo | None, date_order: DateOrder | None
    ) -> None:
        self.head, self.file = head, file
        self.remarks: list[Remark] = []
        self.problems = Problems(file)
        self.columns = self._chosen()
        self._mark = DecimalMark()
        self._lines: list[int] = []
        self._rows: list[list[str]] = []
        self._times = {
            role: TimeColumn(
                self.columns[role].name,
                self.columns[role].words,
                zone=track_tz,
                order=date_order,
                problems=self.problems,
                to_the_minute=True,
            )
            for role in ("shoot_utc", "haul_utc")
        }

    def _chosen(self) -> dict[str, _Column]:
        """Return the column of each role; tell how they were understood, and which are not used."""
        found = _meanings(self.head.names)
        chosen: dict[str, _Column] = {}
        for column in found:
            if not column.factor:
                self._remark(
                    self.head.line,
                    f"column {quoted(column.name)} is not used, because its name says no unit that is read"
                    f" (m or ftm); name it {column.role}, if that is what it is",
                )
            elif column.role in chosen:
                names = listed([chosen[column.role].name, column.name])
                message = f"has several columns that mean the same: {names}; leave all but one out"
                raise self._refused(self.head.line, message)
            else:
                chosen[column.role] = column
        missing = [role for role in _REQUIRED if role not in chosen]
        if missing:
            message = (
                f"has no column {listed(missing)}; found are {listed(self.head.names)}. A haul log begins"
                " with a row of names, for example haul,shoot_utc,haul_utc,warp_m,depth_m,door_spread_m,gear"
            )
            raise self._refused(self.head.line, message)
        taken = [
            f"{quoted(column.name)} as {role}"
            for role, column in chosen.items()
            if column.name.lower() != role
        ]
        if taken:
            self._remark(self.head.line, f"columns read: {', '.join(taken)}")
        known = {column.index for column in found}
        others = [name for index, name in enumerate(self.head.names) if index not in known and name]
        if others:
            self._remark(self.head.line, f"columns not used: {listed(others)}")
        return chosen

    def add(self, row: list[str], line: int) -> None:
        """Take one more row."""
        width = len(self.head.names)
        if not any(map(str.strip, row)):
            return
        if len(row) > width and not any(map(str.strip, row[width:])):
            row = row[:width]
        if len(row) != width:
            names = counted(width, "column")
            message = f"the row has {counted(len(row), 'cell')}, but the head names {names}; mend the row"
            self.problems.add(line, message)
            return
        if len(self._rows) == _MOST_HAULS:
            message = f"holds more than {_MOST_HAULS} hauls; this is no haul log of one vessel"
            raise self._refused(line, message)
        self._rows.append(row)
        self._lines.append(line)

    def hauls(self) -> tuple[LoggedHaul, ...]:
        """Return all hauls in order of time, or refuse the log."""
        shoots, hauls = self._instants()
        names = self._names()
        lengths = {role: self._lengths_m(role) for role in _LENGTHS}
        gears = self._gears()
        for number, line in enumerate(self._lines):
            if not (np.isnat(shoots[number]) or np.isnat(hauls[number]) or shoots[number] < hauls[number]):
                message = (
                    f"haul {quoted(names[number])} is hauled at {format_time(hauls[number])}, not after it is"
                    f" shot at {format_time(shoots[number])}; check both times"
                )
                self.problems.add(line, message)
        self.problems.refuse()
        if not self._rows:
            message = "holds the names of columns, but no haul"
            raise self._refused(self.head.line, message)
        found = [
            LoggedHaul(
                haul=names[number],
                shoot_utc=shoots[number],
                haul_utc=hauls[number],
                gear=gears[number],
                line=line,
                **{role: column[number] for role, column in lengths.items()},
            )
            for number, line in enumerate(self._lines)
        ]
        found.sort(key=lambda haul: (haul.shoot_utc, haul.line))
        self._check_overlaps(found)
        self.problems.refuse()
        self._remark_long(found)
        return tuple(found)

    def _instants(self) -> tuple[Instants, Instants]:
        """Return the times of shooting and hauling, UTC; those of one may settle the dates of the other."""
        texts = {
            role: [row[self.columns[role].index] for row in self._rows] for role in ("shoot_utc", "haul_utc")
        }
        found = []
        for role, other in (("shoot_utc", "haul_utc"), ("haul_utc", "shoot_utc")):
            column = self._times[role]
            column.add(texts[role], self._lines)
            column.overhear(texts[other], self._lines)
            found.append(column.finish(np.array(self._lines, dtype=np.uint32)).view("datetime64[us]"))
            for text, line in zip(texts[role], self._lines, strict=True):
                if not text.strip():
                    message = "the haul has no such time; fill it in, or leave the haul out"
                    self.problems.add(line, message, self.columns[role].name)
            for line, message in column.notes:
                self._remark(line, f"column {quoted(column.name)}: {message}")
        return found[0], found[1]

    def _names(self) -> list[str]:
        column = self.columns["haul"]
        names = [row[column.index].strip() for row in self._rows]
        first: dict[str, int] = {}
        for name, line in zip(names, self._lines, strict=True):
            if not name:
                self.problems.add(line, "the haul has no name or number; give it one", column.name)
            elif first.setdefault(name, line) != line:
                message = f"haul {quoted(name)} stands in line {first[name]} as well; names must differ"
                self.problems.add(line, message, column.name)
        return names

    def _lengths_m(self, role: str) -> list[float | None]:
        column = self.columns.get(role)
        if column is None:
            return [None] * len(self._rows)
        limit_m = _LENGTHS[role][1]
        lengths: list[float | None] = []
        for row, line in zip(self._rows, self._lines, strict=True):
            text = tidied(row[column.index])
            length_m = None
            if not is_missing(text):
                try:
                    length_m = self._mark.number(text) * column.factor
                except NumberTextError as error:
                    message = f"{error}; write a number, with the unit in the name of the column, or nothing"
                    self.problems.add(line, message, column.name)
                else:
                    if not 0.0 < length_m < limit_m:
                        message = f"{quoted(text)} cannot be; possible are more than 0 to under {limit_m:g} m"
                        self.problems.add(line, message, column.name)
            lengths.append(length_m)
        return lengths

    def _gears(self) -> list[str | None]:
        column = self.columns.get("gear")
        if column is None:
            return [None] * len(self._rows)
        gears = []
        for row, line in zip(self._rows, self._lines, strict=True):
            code = row[column.index].strip()
            if code and code not in GEAR_NAMES:
                message = f"{quoted(code)} is not a gear code; known are {', '.join(GEAR_NAMES)}"
                self.problems.add(line, message, column.name)
            gears.append(code or None)
        return gears

    def _check_overlaps(self, hauls: Sequence[LoggedHaul]) -> None:
        """Refuse two hauls at one time: one of them is wrong, and nothing tells which."""
        if not hauls:
            return
        last = hauls[0]
        for haul in hauls[1:]:
            if haul.shoot_utc < last.haul_utc:
                message = (
                    f"haul {quoted(haul.haul)} is shot at {format_time(haul.shoot_utc)}, before haul"
                    f" {quoted(last.haul)} in line {last.line} is hauled at {format_time(last.haul_utc)}"
                )
                self.problems.add(haul.line, message)
            if haul.haul_utc > last.haul_utc:
                last = haul

    def _remark_long(self, hauls: Sequence[LoggedHaul]) -> None:
        for haul in hauls:
            lasts = haul.haul_utc - haul.shoot_utc
            if lasts > _LONG:
                duration = format_duration(lasts / np.timedelta64(1, "s"))
                message = f"haul {quoted(haul.haul)} lasts {duration}, more than a day; check its dates"
                self._remark(haul.line, message)

    def _remark(self, line: int, message: str) -> None:
        self.remarks.append(Remark(file=self.file, where=f"line {line}", message=message))

    def _refused(self, line: int, message: str) -> InputError:
        return InputError(self.file, [Problem(f"line {line}", message)])
