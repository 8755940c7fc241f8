"""The time a logger wrote on a line, before the sentence or after it, to UTC; read or left, never guessed.

References
----------
NMEA 0183, version 4 (tag blocks: fields ``c`` and ``g``, own checksum), from memory. The forms of prefixes
and suffixes are those seen in public logs; no standard fixes them.
"""

from __future__ import annotations

import datetime as dt
import re
from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import reduce
from operator import xor

from towzone.errors import quoted
from towzone.model.result import Remark
from towzone.tracks.options import DateOrder, ReadingOptions

__all__ = ["Origin", "Stamp", "StampNote", "StampReader"]

_MICROSECONDS = 1_000_000
_EPOCH_DAY = dt.date(1970, 1, 1).toordinal()
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_MILLISECONDS_FROM = 100_000_000_000
"""Common practice, no source: seconds reach this number in the year 5138, milliseconds did so in 1973."""
_EARLIEST_S = 631_152_000
"""Own choice, 1990-01-01: before it no logger wrote satellite positions; such a clock was not set."""
_LATEST_S = 4_102_444_800
"""Own choice, 2100-01-01: dates beyond it are damage."""
_EPOCH_FROM_S = 1_000_000_000
_EPOCH_BEFORE_S = 2_524_608_000
"""Own choice, 2001-09-09 to 2050-01-01: a bare number of ten digits is taken for seconds since 1970 only in
here; the narrower, the fewer counters pass for times."""
_LARGEST_OFFSET_MIN = 14 * 60
"""Largest offset of a time zone; published: W3C XML Schema Part 2 (2004), 3.2.7.3."""
_GROUPS_KEPT = 64
"""Own choice: groups of tag blocks remembered at a time."""
_GROUP_REACH = 200
"""Own choice: after so many lines a group of the same number is another one."""
_DAYS_KEPT = 4096

_BLOCK = re.compile(rb"\\([^\\*]{1,400})\*([0-9A-Fa-f]{2})\\")
_SECONDS = re.compile(rb"(\d{1,16})(?:\.(\d{1,9}))?")
_GROUP = re.compile(rb"(\d{1,3})-(\d{1,3})-(\d{1,9})")

_GAP = rb"(?:[Tt_]|[,;]?[ \t]{0,8})"
_CLOCK = (
    rb"(?P<hour>\d{1,2}):(?P<minute>\d\d):(?P<second>\d\d)"
    # A comma begins a fraction only when milli- or microseconds follow; else it parts two fields.
    rb"(?:\.(?P<fraction>\d{1,12})|,(?P<comma>\d{3}|\d{6}))?(?![\d:])"
    rb"(?:[ ]?(?P<half>[AaPp])\.?[Mm]\b)?"
)
_ZONE = rb"(?:[ ]?(?P<zone>(?:[Zz]|UTC|GMT)(?![A-Za-z0-9])|[+-]\d\d(?::?\d\d)?(?![\d:.])))?"
_DATED = re.compile(
    rb"(?<![\d.:/-])(?:"
    rb"(?P<year>\d{4})(?P<mark>[-/.])(?P<month>\d{1,2})(?P=mark)(?P<day>\d{1,2})"
    rb"|(?P<first>\d{1,2})(?P<mark2>[-/.])(?P<then>\d{1,2})(?P=mark2)(?P<year2>\d{4}))"
    + _GAP
    + _CLOCK
    + _ZONE
)
_BASIC = re.compile(
    rb"(?<!\d)(?P<year>\d{4})(?P<month>\d\d)(?P<day>\d\d)[Tt](?P<hour>\d\d)(?P<minute>\d\d)(?P<second>\d\d)"
    rb"(?:\.(?P<fraction>\d{1,12}))?(?!\d)" + _ZONE
)
_ORDINAL = re.compile(
    rb"(?<![\d.:/-])(?P<year>\d{4}):(?P<ordinal>\d{3}):(?P<hour>\d\d):(?P<minute>\d\d):(?P<second>\d\d)"
    rb"(?:\.(?P<fraction>\d{1,12}))?(?![\d:])" + _ZONE
)
_BARE = re.compile(rb"(?<![\w.:/+-])(\d{13}|\d{10})(?:\.(\d{1,9}))?(?![\w./-]|:\d)")


class Origin(StrEnum):
    """Where on the line a time stands."""

    TAG_BLOCK = "tag block"
    PREFIX = "prefix"
    SUFFIX = "suffix"


class StampNote(StrEnum):
    """What had to be assumed to read a time, or why it was not read."""

    NO_ZONE = "no_zone"
    EITHER_ORDER = "either_order"
    OTHER_ORDER = "other_order"
    IMPOSSIBLE = "impossible"
    CLOCK_CHANGED = "clock_changed"
    UNSET_CLOCK = "unset_clock"
    BAD_TAG_BLOCK = "bad_tag_block"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """When a logger received a sentence.

    Parameters
    ----------
    time_us : int
        Microseconds since 1970-01-01 UTC.
    origin : Origin
    zone_stated : bool
        Whether the line itself says that the time is UTC, or how far from it.
    """

    time_us: int
    origin: Origin
    zone_stated: bool


class _UnreadableError(Exception):
    """A text looks like a time but gives none; the argument is the `StampNote`."""

    def __init__(self, note: StampNote) -> None:
        super().__init__(note.value)
        self.note = note


@dataclass(frozen=True, slots=True)
class _Reading:
    """What one text gave: microseconds or nothing, whether the zone is stated, and what is to be noted."""

    time_us: int | None = None
    zone_stated: bool = True
    note: StampNote | None = None


_NOTHING = _Reading()


class StampReader:
    """Reads the times of one log, line after line in the order of the file.

    Parameters
    ----------
    options : ReadingOptions
        ``track_tz`` for times without a zone (UTC if not given), ``date_order`` for dates such as 03/04/2026.

    Attributes
    ----------
    notes : dict of StampNote to int
        How often what was noted.
    examples : dict of StampNote to str
        The first text of each note, quoted.

    Notes
    -----
    A date that can be read both ways is not read, unless the option or an earlier date of the log
    (13/04/2026) decides. Of several times on a line the tag block counts, then the prefix, then the suffix.
    """

    def __init__(self, options: ReadingOptions) -> None:
        self.notes: dict[StampNote, int] = {}
        self.examples: dict[StampNote, str] = {}
        self._zone = options.track_tz
        self._stated_order = options.date_order
        self._order = options.date_order
        self._days: dict[tuple[int, int, int], int] = {}
        self._groups: OrderedDict[int, tuple[int, int, int, Stamp]] = OrderedDict()
        self._reads = 0
        self._last_text = b""
        self._last_reading = _NOTHING

    def read(self, before: bytes, after: bytes = b"") -> Stamp | None:
        """Return the time on a line, or ``None`` where it has none that can be read.

        Parameters
        ----------
        before : bytes
            Text of the line before the ``$`` or ``!`` of the sentence.
        after : bytes
            Text after the checksum.
        """
        self._reads += 1
        if not before and not after:
            return None
        if b"\\" in before:
            stamp = self._from_blocks(before)
            if stamp is not None:
                return stamp
            before = _BLOCK.sub(b" ", before)
        if before and (time := self._read(before, first=True)).time_us is not None:
            return Stamp(time_us=time.time_us, origin=Origin.PREFIX, zone_stated=time.zone_stated)
        if after and (time := self._read(after, first=False)).time_us is not None:
            return Stamp(time_us=time.time_us, origin=Origin.SUFFIX, zone_stated=time.zone_stated)
        return None

    def remarks(self, file: str) -> list[Remark]:
        """Return what to tell people about the times of the log, one remark for each kind of note."""
        return [
            Remark(file=file, where="", message=self._message(note, count))
            for note, count in self.notes.items()
        ]

    def _message(self, note: StampNote, count: int) -> str:
        zone = (
            f"as {self._zone} (--track-tz)" if self._zone is not None else "as UTC; --track-tz states another"
        )
        told = {
            StampNote.NO_ZONE: f"name no time zone and were read {zone}",
            StampNote.EITHER_ORDER: (
                "can be read as day first or month first and were not used; --date-order settles it"
            ),
            StampNote.OTHER_ORDER: "do not have day and month in the order of the others and were not used",
            StampNote.IMPOSSIBLE: "are no date and time that exist and were not used",
            StampNote.CLOCK_CHANGED: (
                "occur twice or never because the clock was changed, and were not used"
            ),
            StampNote.UNSET_CLOCK: "lie before 1990 or after 2099: the clock was not set; they were not used",
            StampNote.BAD_TAG_BLOCK: "",
        }[note]
        if note is StampNote.BAD_TAG_BLOCK:
            subject = "1 line has a tag block" if count == 1 else f"{count} lines have tag blocks"
            return f"{subject} cut or damaged, not used; the first is {self.examples[note]}"
        return f"{count} of the times the logger wrote {told}; the first is {self.examples[note]}"

    def _note(self, note: StampNote, text: bytes) -> None:
        self.notes[note] = self.notes.get(note, 0) + 1
        if note not in self.examples:
            self.examples[note] = quoted(text.strip()[:200].decode("latin-1"))

    # ---------------------------------------------------------------- tag blocks

    def _from_blocks(self, before: bytes) -> Stamp | None:
        stamp: Stamp | None = None
        group: tuple[int, int, int] | None = None
        whole = 0
        for block in _BLOCK.finditer(before):
            whole += 1
            body, checksum = block.groups()
            if reduce(xor, body) != int(checksum, 16):
                self._note(StampNote.BAD_TAG_BLOCK, block[0])
                continue
            for field in body.split(b","):
                name, _, value = field.partition(b":")
                if name == b"c" and stamp is None:
                    stamp = self._block_time(value, block[0])
                elif name == b"g" and (match := _GROUP.fullmatch(value)) is not None:
                    group = int(match[1]), int(match[2]), int(match[3])
        if whole * 2 < before.count(b"\\"):
            self._note(StampNote.BAD_TAG_BLOCK, before)
        return stamp if group is None else self._of_group(*group, stamp)

    def _block_time(self, value: bytes, block: bytes) -> Stamp | None:
        match = _SECONDS.fullmatch(value)
        if match is None:
            self._note(StampNote.IMPOSSIBLE, block)
            return None
        time_us = _since_1970_us(int(match[1]), match[2])
        if not _EARLIEST_S * _MICROSECONDS <= time_us < _LATEST_S * _MICROSECONDS:
            self._note(StampNote.UNSET_CLOCK, block)
            return None
        return Stamp(time_us=time_us, origin=Origin.TAG_BLOCK, zone_stated=True)

    def _of_group(self, number: int, total: int, name: int, stamp: Stamp | None) -> Stamp | None:
        """Return the time of a part of a group: its own, or that of the first part if no part is missing."""
        known = self._groups.pop(name, None)
        if stamp is None and known is not None and number > 1:
            before, of_total, at, first = known
            if number == before + 1 and total == of_total and self._reads - at <= _GROUP_REACH:
                stamp = first
        if stamp is not None and number < total:
            self._groups[name] = (number, total, self._reads, stamp)
            if len(self._groups) > _GROUPS_KEPT:
                self._groups.popitem(last=False)
        return stamp

    # ---------------------------------------------------------------- prefixes and suffixes

    def _read(self, text: bytes, *, first: bool) -> _Reading:
        # Lines of the same second often carry the very same text.
        if text != self._last_text:
            order = self._order
            try:
                reading = self._search(text, first=first)
            except _UnreadableError as error:
                reading = _Reading(note=error.note)
            self._last_text, self._last_reading = text, reading
            if self._order is not order:
                self._last_text = b""
        else:
            reading = self._last_reading
        if reading.note is not None:
            self._note(reading.note, text)
        return reading

    def _search(self, text: bytes, *, first: bool) -> _Reading:
        for pattern in (_DATED, _BASIC, _ORDINAL):
            if (match := pattern.search(text)) is not None:
                return self._calendar(match.groupdict())
        found: Iterable[re.Match[bytes]] = _BARE.finditer(text)
        # A receiving station writes its figures first and the time last; a logger begins with the time.
        for match in found if first else reversed(list(found)):
            time_us = _since_1970_us(int(match[1]), match[2])
            if _EPOCH_FROM_S * _MICROSECONDS <= time_us < _EPOCH_BEFORE_S * _MICROSECONDS:
                return _Reading(time_us)
        return _NOTHING

    def _calendar(self, found: dict[str, bytes]) -> _Reading:
        """Return the time of a date and a clock; ``found`` holds the named groups of a pattern."""
        seconds = self._day(found) * 86_400 + _clock_s(found)
        if not _EARLIEST_S <= seconds < _LATEST_S:
            raise _UnreadableError(StampNote.UNSET_CLOCK)
        fraction = (found["fraction"] or found.get("comma") or b"")[:6].ljust(6, b"0")
        zone = found["zone"]
        if zone is None:
            seconds -= self._local_offset_s(seconds)
        elif zone[:1] in b"+-":
            seconds -= _offset_s(zone)
        time_us = seconds * _MICROSECONDS + int(fraction)
        return _Reading(time_us, zone is not None, StampNote.NO_ZONE if zone is None else None)

    def _day(self, found: dict[str, bytes]) -> int:
        """Return the day as days since 1970-01-01."""
        if (ordinal := found.get("ordinal")) is not None:
            year, day = int(found["year"]), int(ordinal)
            if not 1 <= day <= (self._number(year + 1, 1, 1) - self._number(year, 1, 1)):
                raise _UnreadableError(StampNote.IMPOSSIBLE)
            return self._number(year, 1, 1) + day - 1
        if found["year"] is not None:
            return self._number(int(found["year"]), int(found["month"]), int(found["day"]))
        first, then = int(found["first"]), int(found["then"])
        if self._ordered(first, then) is DateOrder.DAY_FIRST:
            first, then = then, first
        return self._number(int(found["year2"]), first, then)

    def _ordered(self, first: int, then: int) -> DateOrder:
        """Return the order of a day and a month, from the option, the figures or earlier ones."""
        if self._stated_order is not None:
            return self._stated_order
        if first > 12 or then > 12:
            shown = DateOrder.DAY_FIRST if first > 12 else DateOrder.MONTH_FIRST
            if self._order is not None and self._order is not shown:
                raise _UnreadableError(StampNote.OTHER_ORDER)
            self._order = shown
        elif first == then:
            return DateOrder.DAY_FIRST
        if self._order is None:
            raise _UnreadableError(StampNote.EITHER_ORDER)
        return self._order

    def _number(self, year: int, month: int, day: int) -> int:
        number = self._days.get((year, month, day))
        if number is None:
            try:
                number = dt.date(year, month, day).toordinal() - _EPOCH_DAY
            except ValueError as error:
                raise _UnreadableError(StampNote.IMPOSSIBLE) from error
            if len(self._days) >= _DAYS_KEPT:
                self._days.clear()
            self._days[year, month, day] = number
        return number

    def _local_offset_s(self, seconds: int) -> int:
        if self._zone is None:
            return 0
        naive = (_EPOCH + dt.timedelta(seconds=seconds)).replace(tzinfo=self._zone)
        first, second = naive.utcoffset(), naive.replace(fold=1).utcoffset()
        if first is None or first != second:
            raise _UnreadableError(StampNote.CLOCK_CHANGED)
        return int(first.total_seconds())


def _since_1970_us(number: int, fraction: bytes | None) -> int:
    """Return microseconds of a count of seconds, or of milliseconds where it is that large."""
    unit_us = 1000 if number > _MILLISECONDS_FROM else _MICROSECONDS
    return number * unit_us + (int(fraction) * unit_us // 10 ** len(fraction) if fraction else 0)


def _clock_s(found: dict[str, bytes]) -> int:
    hour, minute, second = int(found["hour"]), int(found["minute"]), int(found["second"])
    half = found.get("half")
    if half is not None:
        if not 1 <= hour <= 12:
            raise _UnreadableError(StampNote.IMPOSSIBLE)
        hour = hour % 12 + (12 if half in b"Pp" else 0)
    # Second 60 is a leap second; counted on, it is the second after.
    if hour > 23 or minute > 59 or second > 60:
        raise _UnreadableError(StampNote.IMPOSSIBLE)
    return hour * 3600 + minute * 60 + second


def _offset_s(zone: bytes) -> int:
    digits = zone[1:].replace(b":", b"")
    hours, minutes = int(digits[:2]), int(digits[2:] or b"0")
    if minutes > 59 or hours * 60 + minutes > _LARGEST_OFFSET_MIN:
        raise _UnreadableError(StampNote.IMPOSSIBLE)
    return (-60 if zone[:1] == b"-" else 60) * (hours * 60 + minutes)
