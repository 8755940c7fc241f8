"""Sentences found in the bytes of a log, all at once: where each begins and ends, and whether it is whole.

No line is ever split off. A sentence is what stands between the last ``$`` or ``!`` before a ``*`` and that
``*``; so prefixes, tag blocks, noise and several sentences on one line need no care of their own.

References
----------
NMEA 0183 (frame and checksum), as public descriptions of the format tell it; checked on published sentences
in ``tests/reference/nmea``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

__all__ = [
    "PADDING_BYTES",
    "PIECE_BYTES",
    "Kind",
    "Scan",
    "ScanCounts",
    "holds_own_positions",
    "looks_like_sentences",
    "scan",
    "whole_lines",
]

Bytes = npt.NDArray[np.uint8]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

PIECE_BYTES = 4 << 20
"""Own choice: large enough that the cost of calls does not count, small enough for the caches and for a piece
that is nothing but ``$``."""
PADDING_BYTES = 104
_PADDING = b"\n*" + b"," * (PADDING_BYTES - 2)
"""Behind the last byte of a piece, so that whatever is looked for or at behind a place is always there: more
commas than any field has bytes, and than fields are asked for."""
_SHORTEST_ADDRESS, _USUAL_ADDRESS, _LONGEST_ADDRESS = 3, 5, 8
"""Own choice: a formatter alone, and a talker of up to five letters; the standard has two."""
_MOST_BLANKS = 64
"""Own choice: loggers pad lines to a width; beyond it, what is left is part of the last field."""
_KNOWN_SHARE = 0.2
"""Own choice: without one right checksum, so many of the lines must look like sentences of known types."""

_LF, _CR, _BLANK, _BANG, _DOLLAR, _STAR, _COMMA = 10, 13, 32, 33, 36, 42, 44
_NO_DIGIT = 255
_LOW_BYTES = np.array([(1 << 8 * count) - 1 for count in range(8)], dtype=np.uint64)


class Kind(IntEnum):
    """Types of sentences that are read; all others are `OTHER`."""

    OTHER = 0
    RMC = 1
    GGA = 2
    GNS = 3
    GLL = 4
    VTG = 5
    ZDA = 6
    HDT = 7
    HDG = 8
    DPT = 9
    DBT = 10
    DTM = 11
    VDM = 12
    VDO = 13


_FEWEST_FIELDS = np.array([0, 11, 14, 12, 4, 4, 4, 2, 5, 2, 4, 8, 6, 6])
"""By kind: fields of the shortest published layout. Where no checksum tells, a shorter sentence is cut."""


def _code(formatter: str) -> int:
    first, second, third = formatter.encode("ascii")
    return first << 16 | second << 8 | third


_CODES = np.array([-1, *(_code(kind.name) for kind in Kind if kind)], dtype=np.int64)

_HEX = np.full(256, _NO_DIGIT, dtype=np.uint8)
_HEX[np.frombuffer(b"0123456789ABCDEF", dtype=np.uint8)] = np.arange(16)
_HEX[np.frombuffer(b"abcdef", dtype=np.uint8)] = np.arange(10, 16)
_NAME = np.zeros(256, dtype=np.bool_)
_NAME[np.frombuffer(b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", dtype=np.uint8)] = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanCounts:
    """What became of every ``$`` and ``!``: the first is the sum of the four after it.

    Parameters
    ----------
    sentences : int
    read, other : int
        Whole sentences of the kinds that are read, and of other types.
    bad_checksum : int
    cut : int
        Ended by another sentence, by the end of the line before it was complete, or no sentence at all.
    no_checksum : int
        Whole sentences, read or other, that have no checksum.
    no_star : int
        Of these, sentences that end in their right checksum, without the asterisk before it.
    """

    sentences: int
    read: int
    other: int
    bad_checksum: int
    cut: int
    no_checksum: int
    no_star: int

    def __post_init__(self) -> None:
        if self.sentences != self.read + self.other + self.bad_checksum + self.cut:
            message = f"sentences do not add up: {self}"
            raise ValueError(message)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scan:
    """Whole sentences of one piece of a log.

    Parameters
    ----------
    data : ndarray of uint8
        The piece and at least `PADDING_BYTES` of padding behind it: a line end, a star and commas.
    start : ndarray of int64, shape (n,)
        Where the ``$`` or ``!`` of each sentence that is read stands.
    stop : ndarray of int64, shape (n,)
        One past the last byte of its last field.
    commas : ndarray of int64
        Where all commas of the piece stand, and as many more behind all sentences as any has fields.
    blanks : bool
        Whether any field may begin or end with a blank.
    first_comma : ndarray of int64, shape (n,)
        Index in ``commas`` of the one after the address.
    fields : ndarray of int64, shape (n,)
        How many fields follow the address.
    kind : ndarray of uint8, shape (n,)
        A `Kind`, never `Kind.OTHER`.
    line_ends : ndarray of int64
        Where the bytes of the piece stand that lines are counted by.
    ends : ndarray of int64
        Where all line feeds and carriage returns of the piece stand.
    addressed : ndarray of int64
        Where each ``$`` or ``!`` stands that an address may follow.
    others : ndarray of int64
        Formatters (as three bytes in one number) of the sentences of other types.
    counts : ScanCounts
    proved : int
        Sentences with an address and the right checksum.
    recognised : int
        Sentences of known types, whatever their checksum says.
    """

    data: Bytes
    start: Ints
    stop: Ints
    commas: Ints
    blanks: bool
    first_comma: Ints
    fields: Ints
    kind: npt.NDArray[np.uint8]
    line_ends: Ints
    ends: Ints
    addressed: Ints
    others: Ints
    counts: ScanCounts
    proved: int
    recognised: int


def whole_lines(chunks: Iterable[bytes], size: int = PIECE_BYTES) -> Iterator[bytes]:
    """Yield the same bytes in pieces of at most ``size``, each cut behind a line end where it has one.

    Where the chunks were cut makes no difference. What has no line end for ``size`` bytes is noise and is
    handed over as it is.
    """
    rest = bytearray()
    for chunk in chunks:
        view = memoryview(chunk)
        while view:
            room = size - len(rest)
            rest += view[:room]
            view = view[room:]
            if len(rest) == size:
                cut = max(rest.rfind(b"\n"), rest.rfind(b"\r")) + 1 or size
                yield bytes(rest[:cut])
                del rest[:cut]
    if rest:
        yield bytes(rest)


def scan(piece: bytes, line_end: bytes = b"\n") -> Scan:
    """Return the whole sentences of a piece of a log.

    Parameters
    ----------
    piece : bytes
        Cut at line ends; a sentence that runs over its end is counted as cut.
    line_end : bytes
        The one byte that lines are counted by. A sentence ends at a carriage return, too, in any case.
    """
    # Behind the piece stands one more of everything that is looked for, and whole words for `_sums`.
    data = np.frombuffer(piece + _PADDING + b"\n" * (8 - len(piece) % 8), dtype=np.uint8)
    none = len(piece) + _PADDING.index(b"*")
    start = np.flatnonzero((data == _DOLLAR) | (data == _BANG))
    ends = np.flatnonzero((data == _LF) | (data == _CR))
    star = _next(np.flatnonzero(data == _STAR), start)
    end = _next(ends, start)
    following = np.append(start[1:], none)

    whole = (star < end) & (star < following)
    high = _HEX[data[star + 1]]
    low = _HEX[data[star + 2]]
    summed = whole & (high != _NO_DIGIT) & (low != _NO_DIGIT)
    right = summed & (_sums(data, start, star) == ((high & 15) << 4 | low & 15))
    open_ended = (end < star) & (end < following)

    found = np.flatnonzero(right | open_ended)
    unsummed = open_ended[found]
    stop = np.where(unsummed, end[found], star[found])
    _trim(data, start[found], stop, np.flatnonzero(unsummed))
    commas = np.flatnonzero(data == _COMMA)
    kind, named, code = _kinds(data, start[found], stop, commas)
    ours = np.flatnonzero(kind != Kind.OTHER)
    first_comma, fields = (np.zeros(len(found), dtype=np.int64) for _ in range(2))
    first_comma[ours] = np.searchsorted(commas, start[found][ours])
    fields[ours] = np.searchsorted(commas, stop[ours]) - first_comma[ours]

    short = unsummed & (~named | (fields < _FEWEST_FIELDS[kind]))
    # Five fields of a GLL end within its time, if they are five because the rest is missing.
    short |= unsummed & (kind == Kind.GLL) & (fields == 5)
    read = ~short & (kind != Kind.OTHER)
    bad = summed & ~right
    # Whatever its checksum: only to tell a log from other text.
    doubtful = np.flatnonzero(bad)
    doubtful_kind, _, _ = _kinds(data, start[doubtful], star[doubtful], commas)
    counts = ScanCounts(
        sentences=len(start),
        read=int(read.sum()),
        other=int((~short & (kind == Kind.OTHER)).sum()),
        bad_checksum=len(doubtful),
        cut=int((~summed & ~open_ended).sum() + short.sum()),
        no_checksum=int((unsummed & ~short).sum()),
        no_star=_without_star(data, start[found], stop, np.flatnonzero(unsummed & ~short)),
    )
    return Scan(
        data=data,
        start=start[found][read],
        stop=stop[read],
        commas=commas,
        blanks=b" " in piece and _blank_beside(data, commas, stop),
        first_comma=first_comma[read],
        fields=fields[read],
        kind=kind[read],
        line_ends=ends[(data[ends] == line_end[0]) & (ends < len(piece))],
        ends=ends[ends < len(piece)],
        addressed=start[_NAME[data[start + 1]] & _NAME[data[start + 2]] & _NAME[data[start + 3]]],
        others=code[~short & (kind == Kind.OTHER)],
        counts=counts,
        proved=int((named & ~unsummed).sum()),
        recognised=int(read.sum() + (doubtful_kind != Kind.OTHER).sum()),
    )


def looks_like_sentences(head: bytes) -> bool:
    """Return whether the head of a file is that of a log of NMEA 0183 or AIS sentences.

    Parameters
    ----------
    head : bytes
        The first bytes of the file, a megabyte at most.

    Notes
    -----
    One sentence with the right checksum is enough, whatever stands around it: chance does not write one.
    Without any, one line in five must hold what looks like a sentence of a known type.
    """
    found = scan(head)
    if found.proved:
        return True
    lines = sum(1 for line in head.splitlines() if line.strip())
    return found.recognised > 0 and found.recognised >= _KNOWN_SHARE * lines


def holds_own_positions(head: bytes) -> bool:
    """Return whether the head of a log has sentences of a receiver's own position.

    Parameters
    ----------
    head : bytes
        The first bytes of the file, a megabyte at most.

    Notes
    -----
    In such a log AIS sentences tell of other vessels; in one without, they are all there is.
    """
    kind = scan(head).kind
    return bool((kind <= Kind.GLL).any())


def _blank_beside(data: Bytes, commas: Ints, stop: Ints) -> bool:
    """Return whether any blank stands beside a comma or before the end of a sentence."""
    places = (commas + 1, commas - 1, stop - 1)
    return any(bool((data[place] == _BLANK).any()) for place in places)


def _next(places: Ints, after: Ints) -> Ints:
    """Return for each position the first of the sorted places behind it; the last is behind all."""
    return places[np.searchsorted(places, after, side="right")]


def _trim(data: Bytes, start: Ints, stop: Ints, which: Ints) -> None:
    """Move the stops of some sentences back over blanks, NULs and other bytes that print nothing."""
    for _ in range(_MOST_BLANKS):
        blank = (data[stop[which] - 1] <= 32) & (stop[which] - 1 > start[which])
        which = which[blank]
        stop[which] -= 1
        if not len(which):
            break


def _without_star(data: Bytes, start: Ints, stop: Ints, which: Ints) -> int:
    """Return how many sentences end in their right checksum, without an asterisk or with a comma for it."""
    start, last = start[which], stop[which] - 2
    start, last = start[last > start + 1], last[last > start + 1]
    high, low = _HEX[data[last]], _HEX[data[last + 1]]
    hexadecimal = (high != _NO_DIGIT) & (low != _NO_DIGIT)
    start, last = start[hexadecimal], last[hexadecimal]
    stated = high[hexadecimal] << 4 | low[hexadecimal]
    right = _sums(data, start, last) == stated
    right |= (data[last - 1] == _COMMA) & (_sums(data, start, last - 1) == stated)
    return int(right.sum())


def _sums(data: Bytes, start: Ints, star: Ints) -> Bytes:
    """Return the exclusive or of the bytes between each start and the star behind it.

    Eight bytes at a time: running sums of whole words, of which the bytes before a place that are not in a
    whole word are taken from the word itself.
    """
    words = data.view("<u8")
    running = np.append(np.uint64(0), np.bitwise_xor.accumulate(words))
    result = np.zeros(len(start), dtype=np.uint64)
    for place in (start + 1, star):
        word = place >> 3
        result ^= running[word] ^ (words[word] & _LOW_BYTES[place & 7])
    for half in (32, 16, 8):
        result ^= result >> np.uint64(half)
    return (result & np.uint64(255)).astype(np.uint8)


def _kinds(data: Bytes, start: Ints, stop: Ints, commas: Ints) -> tuple[npt.NDArray[np.uint8], Flags, Ints]:
    """Return the kind of each sentence, whether its address is one, and its formatter as a number."""
    comma = start + 1 + _USUAL_ADDRESS
    named = (data[comma] == _COMMA) & (comma < stop)
    for place in range(1, _USUAL_ADDRESS + 1):
        named &= _NAME[data[start + place]]
    unusual = np.flatnonzero(~named)
    if len(unusual):
        comma[unusual] = _next(commas, start[unusual])
        length = comma[unusual] - start[unusual] - 1
        there = (
            (comma[unusual] < stop[unusual]) & (length >= _SHORTEST_ADDRESS) & (length <= _LONGEST_ADDRESS)
        )
        for back in range(1, _LONGEST_ADDRESS + 1):
            there &= (back > length) | _NAME[data[np.maximum(comma[unusual] - back, 0)]]
        named[unusual] = there
        comma[unusual[~there]] = 3
    third, second, first = (data[comma - back].astype(np.int64) for back in (1, 2, 3))
    code = np.where(named, first << 16 | second << 8 | third, 0)
    # P begins the addresses that makers give to sentences of their own, whatever their last letters are.
    standard = named & (data[start + 1] != ord("P"))
    bang = data[start] == _BANG
    kind = np.zeros(len(start), dtype=np.uint8)
    for known in Kind:
        if known:
            kind[code == _CODES[known]] = known
    kind[~standard | (bang & (kind < Kind.VDM))] = Kind.OTHER
    return kind, named, code
