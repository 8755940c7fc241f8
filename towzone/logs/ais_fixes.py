"""Positions from AIS messages, as columns over all vessels of a log.

The payloads are decoded by pyais; which of them are decoded at all, and what of the answer is believed, is
decided here: pyais answers a cut payload with a wrong longitude, and "not available" with numbers.

References
----------
ITU-R M.1371, messages 1, 2, 3, 4, 11, 18, 19 and 27 (layout, units, values for "not available"), and ITU-R
M.585 (kinds of identities), from memory.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from towzone.logs.ais_sentences import Message, SentenceReader
from towzone.logs.stamps import StampReader

__all__ = ["LONG_RANGE", "Heap", "gathered", "is_vessel"]

LONG_RANGE = 27
"""The message with positions to a tenth of a minute."""
_OWN_SHIP = 0
"""Identity of a transponder that was never given one."""
_LARGEST_MMSI = 999_999_999
_NOT_VESSELS = (
    range(10_000_000),
    range(111_000_000, 112_000_000),
    range(970_000_000, 980_000_000),
    range(990_000_000, 1_000_000_000),
)
"""Published: ITU-R M.585: coast and base stations (00...), search aircraft (111...), transmitters of rafts
and persons in distress (970, 972, 974), aids to navigation (99...)."""
_NO_HEADING = 511
_NO_SECOND = 60
"""Published: ITU-R M.1371, values for "not available"."""
_SEEN_LIMIT = 1000
"""Own choice: identities remembered to name some of them in a refusal."""


@dataclass(frozen=True, slots=True)
class _Kind:
    """A message that is decoded: its number, its whole length and the part decoded, in characters."""

    number: int
    whole: int
    used: int


_KINDS = {
    b"1": _Kind(1, 28, 28),
    b"2": _Kind(2, 28, 28),
    b"3": _Kind(3, 28, 28),
    b"B": _Kind(18, 28, 28),
    b"C": _Kind(19, 52, 24),
    b"K": _Kind(LONG_RANGE, 16, 16),
}
"""By the first character of the payload. Published: ITU-R M.1371, 168 bits, 312 for 19, 96 for 27; of 19 the
name and size of the ship, from bit 144 on, are not needed."""
_BASE_KINDS = {b"4": _Kind(4, 28, 28), b";": _Kind(11, 28, 28)}


@dataclass(slots=True)
class Heap:
    """The positions of all vessels in the order of the file, and the sentences that gave none.

    ``tally`` counts those sentences by why; ``seen`` are identities of vessels that were not wanted, some of
    them; the columns are as the messages have them, "not available" included.
    """

    mmsi: array[int] = field(default_factory=lambda: array("I"))
    kind: array[int] = field(default_factory=lambda: array("B"))
    own: array[int] = field(default_factory=lambda: array("B"))
    line: array[int] = field(default_factory=lambda: array("I"))
    time_us: array[int] = field(default_factory=lambda: array("q"))
    lon_deg: array[float] = field(default_factory=lambda: array("d"))
    lat_deg: array[float] = field(default_factory=lambda: array("d"))
    sog_kn: array[float] = field(default_factory=lambda: array("f"))
    cog_deg: array[float] = field(default_factory=lambda: array("f"))
    heading_deg: array[int] = field(default_factory=lambda: array("H"))
    second: array[int] = field(default_factory=lambda: array("B"))
    sentences: array[int] = field(default_factory=lambda: array("B"))
    tally: dict[str, int] = field(default_factory=dict)
    seen: set[int] = field(default_factory=set)

    def count(self, why: str, sentences: int) -> None:
        """Count the sentences of a message that gives no position."""
        self.tally[why] = self.tally.get(why, 0) + sentences


def is_vessel(mmsi: int) -> bool:
    """Return whether an identity may be a vessel's: that of no station, aircraft, aid or distress beacon."""
    return not any(mmsi in some for some in _NOT_VESSELS)


def gathered(
    reader: SentenceReader, stamps: StampReader, chunks: Iterable[bytes], only: frozenset[int]
) -> Heap:
    """Return the positions in a log.

    Parameters
    ----------
    reader : SentenceReader
        Its clock hears the reports of base stations.
    stamps : StampReader
        Reads the times beside messages that are wanted.
    chunks : iterable of bytes
    only : frozenset of int
        Identities that are wanted, whatever they are; empty for all vessels.
    """
    decode = _decoder()
    heap = Heap()
    for message in reader.messages(chunks):
        payload = message.payload
        first = payload[:1]
        kind = _KINDS.get(first)
        if kind is None:
            heap.count("other_types", message.sentences)
            base = _BASE_KINDS.get(first)
            if base is not None and len(payload) >= base.whole:
                _hear_base(reader, message, decode(base.number, payload[: base.used]))
        elif len(payload) < kind.whole:
            heap.count("cut", message.sentences)
            reader.first_lost["cut"] = min(message.line, reader.first_lost.get("cut", message.line))
        else:
            mmsi = _mmsi(payload[1:7])
            why = _why_not(mmsi, message.own, only)
            if why is None:
                report = decode(kind.number, payload[: kind.used])
                _add(heap, message, message.received_us(stamps), kind.number, report)
            else:
                heap.count(why, message.sentences)
                if why == "other_vessels" and len(heap.seen) < _SEEN_LIMIT:
                    heap.seen.add(mmsi)
    return heap


@lru_cache(maxsize=1 << 16)
def _mmsi(characters: bytes) -> int:
    """Return the identity, 30 bits from bit 8 of every message, from the characters 1 to 6."""
    number = 0
    for character in characters:
        number = number << 6 | (character - 48 if character < 96 else character - 56)
    return number >> 4 & 0x3FFF_FFFF


def _why_not(mmsi: int, own: bool, only: frozenset[int]) -> str | None:
    """Return the word for a message that is not wanted because of who sent it."""
    if mmsi > _LARGEST_MMSI or (mmsi == _OWN_SHIP and not own):
        return "no_identity"
    if only:
        return None if mmsi in only else "other_vessels"
    return None if is_vessel(mmsi) or own else "other_stations"


def _decoder() -> Callable[[int, bytes], Any]:
    """Return the function that decodes the payload of a message of the number given."""
    # Imported here because it takes a tenth of a second, which no other command should pay.
    from pyais.bit_vector import bit_vector
    from pyais.messages import MSG_CLASS

    def decode(number: int, payload: bytes) -> Any:
        return MSG_CLASS[number].from_vector(bit_vector(payload, 0))

    return decode


def _hear_base(reader: SentenceReader, message: Message, base: Any) -> None:
    reader.clock.hear_base(message.line, base.year, base.month, base.day, base.hour, base.minute, base.second)


def _add(heap: Heap, message: Message, received_us: int, kind: int, report: Any) -> None:
    heap.mmsi.append(report.mmsi)
    heap.kind.append(kind)
    heap.own.append(message.own)
    heap.line.append(message.line)
    heap.time_us.append(received_us)
    heap.lon_deg.append(report.lon)
    heap.lat_deg.append(report.lat)
    heap.sentences.append(message.sentences)
    heap.sog_kn.append(report.speed)
    heap.cog_deg.append(report.course)
    if kind == LONG_RANGE:
        heap.heading_deg.append(_NO_HEADING)
        heap.second.append(_NO_SECOND)
    else:
        heap.heading_deg.append(report.heading)
        heap.second.append(report.second)
