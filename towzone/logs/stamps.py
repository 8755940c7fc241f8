"""The time a logger wrote on a line: in tag blocks, before the sentence or after it; never guessed.

References
----------
NMEA 0183, version 4 (tag blocks: fields ``c`` and ``g``, own checksum), from memory.
"""

from __future__ import annotations

import re
from collections import OrderedDict
from dataclasses import dataclass
from enum import StrEnum

from towzone.errors import quoted
from towzone.logs.checksum import checksum
from towzone.logs.stamp_texts import (
    EARLIEST_US,
    LATEST_US,
    StampNote,
    TextTimes,
    since_1970_us,
)
from towzone.model.result import Remark
from towzone.tracks.options import ReadingOptions

__all__ = ["Origin", "Stamp", "StampNote", "StampReader"]

_GROUPS_KEPT = 64
"""Own choice: groups of tag blocks remembered at a time."""
_GROUP_REACH = 200
"""Own choice: after so many lines a group of the same number is another one."""

_BLOCK = re.compile(rb"\\([^\\*]{1,400})\*([0-9A-Fa-f]{2})\\")
_SECONDS = re.compile(rb"(\d{1,16})(?:\.(\d{1,9}))?")
_GROUP = re.compile(rb"(\d{1,3})-(\d{1,3})-(\d{1,9})")


class Origin(StrEnum):
    """Where on the line a time stands."""

    TAG_BLOCK = "tag block"
    PREFIX = "prefix"
    SUFFIX = "suffix"


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
    A date that can be read both ways is not read, unless the option or earlier dates of the log
    (13/04/2026) decide. Of several times on a line the tag block counts, then the prefix, then the suffix.
    """

    def __init__(self, options: ReadingOptions) -> None:
        self.notes: dict[StampNote, int] = {}
        self.examples: dict[StampNote, str] = {}
        self._zone = options.track_tz
        self._texts = TextTimes(options.track_tz, options.date_order)
        self._groups: OrderedDict[int, tuple[int, int, int, Stamp]] = OrderedDict()
        self._reads = 0
        self._last_beside: tuple[bytes, bytes] | None = None
        self._last_stamp: Stamp | None = None
        self._last_notes: list[tuple[StampNote, bytes]] = []

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
        # Lines of the same second often carry the very same texts.
        if (before, after) != self._last_beside:
            self._last_beside = before, after
            self._last_notes = []
            self._last_stamp = self._read(before, after)
        for note, text in self._last_notes:
            self._count(note, text)
        return self._last_stamp

    def _read(self, before: bytes, after: bytes) -> Stamp | None:
        if b"\\" in before:
            stamp = self._from_blocks(before)
            if stamp is not None:
                return stamp
            before = _BLOCK.sub(b" ", before)
        for text, origin in ((before, Origin.PREFIX), (after, Origin.SUFFIX)):
            if text:
                reading = self._texts.read(text, first=origin is Origin.PREFIX)
                for note in reading.notes:
                    self._note(note, text)
                if reading.time_us is not None:
                    return Stamp(time_us=reading.time_us, origin=origin, zone_stated=reading.zone_stated)
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
            StampNote.LIKE_OTHERS: (
                "can be read as day first or month first and were read like earlier ones, which can be read"
                " one way only; --date-order states it"
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
        self._last_notes.append((note, text))

    def _count(self, note: StampNote, text: bytes) -> None:
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
            body, stated = block.groups()
            if checksum(body) != int(stated, 16):
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
        time_us = since_1970_us(int(match[1]), match[2])
        if not EARLIEST_US <= time_us < LATEST_US:
            self._note(StampNote.UNSET_CLOCK, block)
            return None
        return Stamp(time_us=time_us, origin=Origin.TAG_BLOCK, zone_stated=True)

    def _of_group(self, number: int, total: int, name: int, stamp: Stamp | None) -> Stamp | None:
        """Return the time of a part of a group: its own, or that of the first part if no part is missing."""
        known = self._groups.pop(name, None)
        self._last_beside = None  # the same text would be another part of a group
        if stamp is None and known is not None and number > 1:
            before, of_total, at, first = known
            if number == before + 1 and total == of_total and self._reads - at <= _GROUP_REACH:
                stamp = first
        if stamp is not None and number < total:
            self._groups[name] = (number, total, self._reads, stamp)
            if len(self._groups) > _GROUPS_KEPT:
                self._groups.popitem(last=False)
        return stamp
