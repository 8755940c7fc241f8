"""Times a logger wrote beside the sentences of a receiver, read on a few lines only.

They tell the day where no sentence does, and whether the receiver's own dates are whole rounds of weeks
behind.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.logs.fixes import TOLERANCE_US
from towzone.logs.sentences import Said
from towzone.logs.stamps import StampReader
from towzone.model.result import Remark
from towzone.tracks.options import ReadingOptions
from towzone.tracks.raw import NOT_A_TIME

__all__ = ["Sampled", "StampSampler"]

Ints = npt.NDArray[np.int64]

_FIRST = 20
_EVERY_BITS = 14
"""Own choice: of the sentences read, one in 16 384 is looked at beside those after a silence."""
_MOST = 20_000
"""Own choice: so many lines cost seconds, and a month of log has fewer silences."""
_BEFORE_BYTES, _AFTER_BYTES = 500, 200


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sampled:
    """Lines with a position and a logger's time, in the order of the file.

    Parameters
    ----------
    sender : ndarray of int64, shape (n,)
    line : ndarray of int64, shape (n,)
    time_us : ndarray of int64, shape (n,)
        Time of day in the sentence.
    stamp_us : ndarray of int64, shape (n,)
        Microseconds since 1970 by the logger.
    """

    sender: Ints
    line: Ints
    time_us: Ints
    stamp_us: Ints


class StampSampler:
    """Looks at the first lines of a log, at lines after silences, and at some between."""

    def __init__(self, options: ReadingOptions) -> None:
        self._reader = StampReader(options)
        self._found: list[tuple[int, int, int, int]] = []
        self._looked = 0
        self._last: dict[int, int] = {}
        self._last_seq = -1 << _EVERY_BITS

    def add(self, said: Said, piece: bytes) -> None:
        """Look at some lines of a piece."""
        rows = said.positions
        timed = np.flatnonzero(rows.time_us != NOT_A_TIME)
        if not len(timed):
            return
        times, senders, seq = rows.time_us[timed], rows.sender[timed], rows.seq[timed]
        wanted = np.diff(seq >> _EVERY_BITS, prepend=self._last_seq >> _EVERY_BITS) != 0
        self._last_seq = int(seq[-1])
        for sender in np.unique(senders).tolist():
            own = np.flatnonzero(senders == sender)
            before = self._last.get(sender, -(TOLERANCE_US + 1))
            steps = np.diff(times[own], prepend=before)
            wanted[own[(steps < 0) | (steps > TOLERANCE_US)]] = True
            self._last[sender] = int(times[own[-1]])
        first = max(0, _FIRST - self._looked)
        wanted[:first] = True
        for row in timed[wanted].tolist():
            if self._looked >= _MOST:
                break
            self._looked += 1
            before_text, after_text = _around(piece, int(said.place[row]))
            stamp = self._reader.read(before_text, after_text)
            if stamp is not None:
                self._found.append(
                    (int(rows.sender[row]), int(rows.line[row]), int(rows.time_us[row]), stamp.time_us)
                )

    def finish(self) -> Sampled:
        """Return what was found."""
        table = np.array(self._found, dtype=np.int64).reshape(-1, 4)
        return Sampled(sender=table[:, 0], line=table[:, 1], time_us=table[:, 2], stamp_us=table[:, 3])

    def remarks(self, file: str) -> list[Remark]:
        """Return what was assumed to read the times."""
        return self._reader.remarks(file)


def _around(piece: bytes, place: int) -> tuple[bytes, bytes]:
    """Return the text of the line before a sentence and behind its checksum."""
    before = piece[max(0, place - _BEFORE_BYTES) : place]
    before = before[max(before.rfind(b"\n"), before.rfind(b"\r")) + 1 :]
    after = piece[place : place + _BEFORE_BYTES + _AFTER_BYTES]
    after = after[: after.find(b"\n")] if b"\n" in after else after
    _, star, behind = after.partition(b"*")
    return before, behind[2 : 2 + _AFTER_BYTES].strip() if star else b""
