"""Who sent each sentence: the talker in its address and the source in the tag block before it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from towzone.logs.scan import Scan

__all__ = ["UNNAMED", "Senders"]

Bytes = npt.NDArray[np.uint8]
Ints = npt.NDArray[np.int64]
Ids = npt.NDArray[np.int16]

UNNAMED = 0
"""The number of all senders beyond the first `_MOST_SENDERS`."""
_MOST_SENDERS = 100
"""Own choice: no ship has so many; a log with more has damaged addresses."""
_TAG_BYTES = 16
"""Published rule of thumb, from memory: a source in a tag block has at most 15 characters."""
_TALKER_BYTES = 5
_MOST_BLOCKS = 3
"""Own choice: tag blocks looked through before one sentence."""
_SLASH, _STAR, _COMMA, _COLON, _S = 92, 42, 44, 58, 115


class Senders:
    """Numbers the senders of one log as they come.

    A sender is a talker (``GP``) as one tag block source (``s:``) names it, or without.
    """

    def __init__(self) -> None:
        self.names: list[tuple[str, str]] = [("", "")]
        """Talker and tag of each number; of `UNNAMED` nothing is known."""
        self.damaged_tags = 0
        self._tags: dict[bytes, int] = {b"": 0}
        self._known = np.zeros(0, dtype=np.int64)
        self._numbers = np.zeros(0, dtype=np.int16)

    def numbers(self, found: Scan) -> Ids:
        """Return the number of the sender of each sentence of a scan."""
        comma = found.commas[found.first_comma] if len(found.start) else found.start
        talkers = comma - found.start - 4
        code = np.zeros(len(found.start), dtype=np.int64)
        for offset in range(_TALKER_BYTES):
            byte = found.data[found.start + 1 + offset]
            code = np.where(offset < talkers, code << 8 | byte, code)
        code = code << 16 | self._tag_numbers(found)
        self._add(code)
        if not len(self._known):
            return np.zeros(len(code), dtype=np.int16)
        place = np.minimum(np.searchsorted(self._known, code), len(self._known) - 1)
        return np.where(self._known[place] == code, self._numbers[place], UNNAMED).astype(np.int16)

    def _add(self, code: Ints) -> None:
        """Give numbers to senders that were not seen before."""
        if len(self.names) > _MOST_SENDERS:
            return
        place = np.searchsorted(self._known, code)
        padded = np.append(self._known, -1)
        unknown = np.flatnonzero(padded[place] != code)
        if not len(unknown):
            return
        fresh, first = np.unique(code[unknown], return_index=True)
        tags = [tag.decode("latin-1") for tag in self._tags]
        known, numbers = self._known.tolist(), self._numbers.tolist()
        for value in fresh[np.argsort(first)].tolist():
            if len(self.names) > _MOST_SENDERS:
                break
            talker = (value >> 16).to_bytes(_TALKER_BYTES, "big").lstrip(b"\0").decode("latin-1")
            known.append(value)
            numbers.append(len(self.names))
            self.names.append((talker, tags[value & 0xFFFF]))
        order = np.argsort(known)
        self._known = np.array(known, dtype=np.int64)[order]
        self._numbers = np.array(numbers, dtype=np.int16)[order]

    def _tag_numbers(self, found: Scan) -> Ints:
        """Return the number of the tag block source before each sentence, 0 without."""
        data, start = found.data, found.start
        number = np.zeros(len(start), dtype=np.int64)
        slashes = np.flatnonzero(data == _SLASH)
        if not len(slashes):
            return number
        tagged = np.flatnonzero((start > 0) & (data[start - 1] == _SLASH))
        begin, end = _tag_spans(found, slashes, start[tagged] - 1)
        named = end > begin
        self.damaged_tags += int((begin < 0).sum())
        tagged, begin, end = tagged[named], begin[named], end[named]
        if not len(tagged):
            return number
        column = begin[:, None] + np.arange(_TAG_BYTES)
        text = np.where(column < end[:, None], data[column], 0).astype(np.uint8)
        values, first, inverse = np.unique(
            text.view(f"S{_TAG_BYTES}"), return_index=True, return_inverse=True
        )
        ours = np.zeros(len(values), dtype=np.int64)
        for place in np.argsort(first).tolist():
            value = bytes(values[place])
            if value not in self._tags and len(self._tags) <= _MOST_SENDERS:
                self._tags[value] = len(self._tags)
            ours[place] = self._tags.get(value, 0)
        number[tagged] = ours[inverse.ravel()]
        return number


def _tag_spans(found: Scan, slashes: Ints, closing: Ints) -> tuple[Ints, Ints]:
    """Return where the source stands in the tag blocks that end at ``closing``.

    Of equal bounds where there is none, of -1 and -1 where the block is damaged.
    """
    data = found.data
    begin = np.zeros(len(closing), dtype=np.int64)
    end = np.zeros(len(closing), dtype=np.int64)
    if not len(closing):
        return begin, end
    sums = np.bitwise_xor.accumulate(data)
    places = np.flatnonzero((data[1:-1] == _S) & (data[2:] == _COLON)) + 1
    places = places[(data[places - 1] == _SLASH) | (data[places - 1] == _COMMA)]
    stops = np.flatnonzero((data == _STAR) | (data == _COMMA) | (data == _SLASH))
    which = np.arange(len(closing))
    for _ in range(_MOST_BLOCKS):
        before = np.searchsorted(slashes, closing[which])
        opening = np.where(before > 0, slashes[np.maximum(before - 1, 0)], closing[which])
        same_line = np.searchsorted(found.line_ends, opening) == np.searchsorted(
            found.line_ends, closing[which]
        )
        right = same_line & (before > 0) & _checks(data, sums, opening, closing[which])
        begin[which[~right]] = end[which[~right]] = -1
        which, opening = which[right], opening[right]
        if len(places):
            place = places[np.maximum(np.searchsorted(places, closing[which]) - 1, 0)]
            inside = (place > opening) & (place < closing[which])
            begin[which[inside]] = place[inside] + 2
            end[which[inside]] = stops[np.searchsorted(stops, place[inside] + 2)]
        # Without a source of its own, the block right before this one may have it.
        more = (end[which] == 0) & (opening > 0) & (data[opening - 1] == _SLASH)
        which, opening = which[more], opening[more]
        if not len(which):
            break
        closing = closing.copy()
        closing[which] = opening - 1
    return begin, end


def _checks(data: Bytes, sums: Bytes, opening: Ints, closing: Ints) -> npt.NDArray[np.bool_]:
    """Return which tag blocks are right: their checksum is, or they have none."""
    star = np.maximum(closing - 3, 0)
    summed = (data[star] == _STAR) & (star > opening)
    body = sums[np.maximum(star - 1, 0)] ^ sums[opening]
    stated = _digit(data[star + 1]) << 4 | _digit(data[star + 2])
    right: npt.NDArray[np.bool_] = ~summed | (body == stated)
    return right


def _digit(byte: Bytes) -> Ints:
    """Return the value of hexadecimal digits, 256 for other bytes."""
    decimal = (byte >= 48) & (byte <= 57)
    letter = byte | 32
    value = np.where(decimal, byte.astype(np.int64) - 48, letter.astype(np.int64) - 87)
    return np.where(decimal | ((letter >= 97) & (letter <= 102)), value, 256)
