"""AIS sentences of a log: found, checked, put together to messages, every one accounted for.

References
----------
IEC 61162-1, sentences VDM and VDO (number of sentences, number, sequence, channel, payload, fill bits),
from memory. The ``$PGHP`` line before a message is proprietary; its last field is the exclusive or of the
checksums of all sentences of the message, as published samples show.
"""

from __future__ import annotations

import datetime as dt
import re
from collections import OrderedDict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from towzone.logs.ais_clock import Clock
from towzone.logs.ais_lines import numbered_lines
from towzone.logs.checksum import checksum
from towzone.logs.stamps import StampReader
from towzone.tracks.raw import NOT_A_TIME

__all__ = ["Message", "SentenceReader", "vdm_count"]

_OPEN_GROUPS = 64
"""Own choice: messages of several sentences put together at a time; a receiver numbers them 0 to 9."""
_GROUP_REACH = 200
"""Own choice: sentences after which a part of the same number belongs to another message."""

_FRAME = re.compile(rb"[!$]([A-Z0-9]{2}VD[MO],[^*!$]*)\*([0-9A-Fa-f]{2})")
_ANY = re.compile(
    rb"[!$](?:(?P<ais>[A-Z0-9]{2}VD[MO](?![A-Z0-9]))|(?P<clock>[A-Z]{2}(?:RMC|ZDA)),|(?P<wrapper>PGHP),)"
)
_BARE = re.compile(rb"[!$][A-Z0-9]{5}(?:,[^,]*){4},[^,*]+,[0-5](?![^,\s])")
_OTHER_FRAME = re.compile(rb"\$([A-Z]{4,5},[^*!$]*)\*([0-9A-Fa-f]{2})")
_ARMOUR = bytes((*range(48, 88), *range(96, 120)))
"""The characters of a payload; published: ITU-R M.1371 and IEC 61162-1, six bits each."""
_BETWEEN = b" \t,;|\"'"
"""Own choice: what loggers put between two sentences of a line, and is no time."""
_FILLS = frozenset((b"0", b"1", b"2", b"3", b"4", b"5"))
_SMALL = {str(number).encode(): number for number in range(1, 10)}


class Message(NamedTuple):
    """One AIS message of which all sentences are there.

    ``line`` is that of the first sentence, ``own`` whether it is of the ship's own transponder (VDO),
    ``sentences`` how many it took, ``beside`` what stands on their lines before and after them, and
    ``wrapped_us`` the time of a ``$PGHP`` line before it (or ``NOT_A_TIME``).
    """

    payload: bytes
    line: int
    own: bool
    sentences: int
    beside: tuple[tuple[bytes, bytes], ...]
    wrapped_us: int

    def received_us(self, stamps: StampReader) -> int:
        """Return when the logger received the message, by the first of its sentences that tells."""
        for before, after in self.beside:
            stamp = stamps.read(before, after)
            if stamp is not None:
                return stamp.time_us
        return self.wrapped_us


@dataclass(slots=True)
class _Wrapper:
    """The time of a ``$PGHP`` line and the checksums it is meant for (``None``: not stated)."""

    time_us: int
    checksums: int | None


@dataclass(slots=True)
class _Group:
    """A message of which some sentences are still to come."""

    total: int
    line: int
    at: int
    wrapper: _Wrapper | None
    payloads: list[bytes] = field(default_factory=list)
    beside: list[tuple[bytes, bytes]] = field(default_factory=list)
    checksums: int = 0


class SentenceReader:
    """Reads the messages of one log and counts what cannot be used.

    Attributes
    ----------
    sentences : int
        All that begin as an AIS sentence does.
    lost : dict of str to int
        Sentences of no message: ``bad_checksum``, ``no_checksum``, ``cut``, ``malformed``,
        ``incomplete_groups``.
    first_lost : dict of str to int
        The first line of each.
    clock : Clock
        What the log's other sentences tell of the time.
    """

    def __init__(self) -> None:
        self.sentences = 0
        self.lost: dict[str, int] = {}
        self.first_lost: dict[str, int] = {}
        self.clock = Clock()
        self._groups: OrderedDict[tuple[bytes, bytes, bytes], _Group] = OrderedDict()
        self._wrapper: _Wrapper | None = None

    def messages(self, chunks: Iterable[bytes]) -> Iterator[Message]:
        """Yield the messages of a log in the order in which they were completed."""
        for line, text in numbered_lines(chunks):
            if b"VD" in text and text.count(b"!") + text.count(b"$") == 1:
                frame = _FRAME.search(text)
                if frame is not None:
                    self.sentences += 1
                    message = self._framed(line, frame, text[: frame.start()], text[frame.end() :])
                    if message is not None:
                        yield message
                    continue
            if b"$" in text or b"!" in text:
                yield from self._any(line, text)
        for group in self._groups.values():
            self._lose("incomplete_groups", group.line, len(group.payloads))
        self._groups.clear()

    def _lose(self, why: str, line: int, count: int = 1) -> None:
        self.lost[why] = self.lost.get(why, 0) + count
        self.first_lost[why] = min(line, self.first_lost.get(why, line))

    def _any(self, line: int, text: bytes) -> Iterator[Message]:
        """Yield the messages of a line that holds something else than one whole AIS sentence."""
        starts = [*_ANY.finditer(text)]
        last = 0  # where the text before the next sentence begins
        for index, start in enumerate(starts):
            stop = starts[index + 1].start() if index + 1 < len(starts) else len(text)
            segment = text[start.start() : stop]
            if start["ais"] is None:
                self._other(line, segment, wrapper=start["wrapper"] is not None)
                last = stop
                continue
            self.sentences += 1
            frame = _FRAME.match(segment)
            if frame is None:
                self._lose(_why_unframed(segment), line)
                self._wrapper = None
                continue
            # The text between two sentences stands before the second; before the first is the prefix of all.
            before = text[last : start.start()]
            if not before.strip(_BETWEEN):
                before = text[: starts[0].start()]
            after = segment[frame.end() :] if stop == len(text) else b""
            message = self._framed(line, frame, before, after)
            last = start.start() + frame.end()
            if message is not None:
                yield message

    def _other(self, line: int, segment: bytes, *, wrapper: bool) -> None:
        frame = _OTHER_FRAME.match(segment)
        if frame is None or checksum(frame[1]) != int(frame[2], 16):
            return
        fields = frame[1].split(b",")
        if wrapper:
            self._wrapper = _wrapper(fields)
        else:
            self.clock.hear(line, fields)

    def _framed(self, line: int, frame: re.Match[bytes], before: bytes, after: bytes) -> Message | None:
        """Return the message that a sentence completes; the sentence is counted here or with its message."""
        wrapper, self._wrapper = self._wrapper, None
        body, stated = frame.groups()
        own_checksum = int(stated, 16)
        if checksum(body) != own_checksum:
            self._lose("bad_checksum", line)
            return None
        fields = body.split(b",")
        if len(fields) != 7:
            self._lose("malformed", line)
            return None
        tag, total_text, number_text, sequence, _, payload, fill = fields
        total, number = _SMALL.get(total_text, 0), _SMALL.get(number_text, 0)
        if not 1 <= number <= total or fill not in _FILLS or payload.translate(None, _ARMOUR):
            self._lose("malformed", line)
            return None
        beside = ((before, after),) if before or after else ()
        if total == 1:
            wrapped_us = _wrapped_us(wrapper, own_checksum)
            return Message(payload, line, tag[4:] == b"O", 1, beside, wrapped_us)
        group = self._group((tag, total_text, sequence), line, number, total, wrapper)
        if group is None:
            return None
        group.payloads.append(payload)
        group.checksums ^= own_checksum
        group.beside += beside
        if number < total:
            return None
        del self._groups[tag, total_text, sequence]
        wrapped_us = _wrapped_us(group.wrapper, group.checksums)
        whole = b"".join(group.payloads)
        return Message(whole, group.line, tag[4:] == b"O", total, tuple(group.beside), wrapped_us)

    def _group(
        self, key: tuple[bytes, bytes, bytes], line: int, number: int, total: int, wrapper: _Wrapper | None
    ) -> _Group | None:
        """Return the open message a part belongs to; ``None`` where parts before it are missing."""
        group = self._groups.get(key)
        if (
            group is not None
            and number == len(group.payloads) + 1
            and self.sentences - group.at <= _GROUP_REACH
        ):
            return group
        if group is not None:
            del self._groups[key]
            self._lose("incomplete_groups", group.line, len(group.payloads))
        if number != 1:
            self._lose("incomplete_groups", line)
            return None
        if len(self._groups) >= _OPEN_GROUPS:
            _, oldest = self._groups.popitem(last=False)
            self._lose("incomplete_groups", oldest.line, len(oldest.payloads))
        group = self._groups[key] = _Group(total, line, self.sentences, wrapper)
        return group


def vdm_count(head: bytes) -> int:
    """Return how many whole AIS sentences (VDM or VDO) with their right checksum a text holds."""
    return sum(checksum(frame[1]) == int(frame[2], 16) for frame in _FRAME.finditer(head))


def _why_unframed(segment: bytes) -> str:
    """Return the word for a sentence that does not end in a checksum."""
    return "no_checksum" if _BARE.match(segment) else "cut"


def _wrapped_us(wrapper: _Wrapper | None, checksums: int) -> int:
    """Return the time of the line before a message, if it is meant for that message."""
    meant = wrapper is not None and wrapper.checksums in (None, checksums)
    return wrapper.time_us if wrapper is not None and meant else NOT_A_TIME


def _wrapper(fields: list[bytes]) -> _Wrapper | None:
    """Return the time of ``PGHP,1,year,month,day,hour,minute,second,millisecond,...,checksums``."""
    try:
        year, month, day, hour, minute, second, milli = (int(text) for text in fields[2:9])
        moment = dt.datetime(year, month, day, hour, minute, second, milli * 1000, tzinfo=dt.UTC)
        checksums = int(fields[-1], 16) if fields[-1] and len(fields) > 9 else None
    except ValueError:
        return None
    since = moment - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
    return _Wrapper(since // dt.timedelta(microseconds=1), checksums)
