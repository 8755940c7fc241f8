"""What was counted in an NMEA 0183 log; every sentence in one place only."""

from __future__ import annotations

from collections import Counter

import numpy as np
import numpy.typing as npt

from towzone.logs.scan import Kind, Scan
from towzone.logs.sentences import Said
from towzone.logs.sources import Senders

__all__ = ["LogCounts"]

_PARTS = {
    "positions": (Kind.RMC, Kind.GGA, Kind.GNS, Kind.GLL),
    "readings": (Kind.VTG, Kind.HDT, Kind.HDG, Kind.DPT, Kind.DBT),
    "dates": (Kind.ZDA,),
    "datums": (Kind.DTM,),
    "ais": (Kind.VDM, Kind.VDO),
}
_MOST_TYPES = 1000


class LogCounts:
    """Counts sentences of a log by what becomes of them.

    Attributes
    ----------
    numbers : Counter of str
        The words of the tally, and ``no_checksum``, ``no_star`` (sentences without
        the asterisk before their checksum), ``empty`` (positions with neither time nor position),
        ``bad_time_or_date`` and ``depths_from_waterline``.
    """

    def __init__(self, senders: Senders) -> None:
        self.numbers: Counter[str] = Counter()
        self._senders = senders
        self._by_sender: dict[str, npt.NDArray[np.int64]] = {}
        self._types: Counter[int] = Counter()

    def add(self, found: Scan, said: Said) -> None:
        """Count the sentences of a piece."""
        of_kind = np.bincount(found.kind, minlength=len(Kind))
        for word, kinds in _PARTS.items():
            self.numbers[word] += sum(int(of_kind[kind]) for kind in kinds)
        counts = found.counts
        self.numbers["sentences"] += counts.sentences
        self.numbers["other_types"] += counts.other
        self.numbers["bad_checksum"] += counts.bad_checksum
        self.numbers["cut"] += counts.cut
        self.numbers["no_checksum"] += counts.no_checksum
        self.numbers["no_star"] += counts.no_star
        self.numbers.update(said.counts)
        for word, values in said.values.items():
            by = np.bincount(values.sender, minlength=len(self._senders.names))
            known = self._by_sender.get(word, by[:0])
            by[: len(known)] += known
            self._by_sender[word] = by
        types, numbers = np.unique(found.others, return_counts=True)
        for code, number in zip(types.tolist(), numbers.tolist(), strict=True):
            if code in self._types or len(self._types) < _MOST_TYPES:
                self._types[code] += number

    @property
    def whole(self) -> int:
        """How many sentences are whole and have no wrong checksum."""
        return self.numbers["sentences"] - self.numbers["bad_checksum"] - self.numbers["cut"]

    def talkers(self, *words: str) -> dict[str, int]:
        """Return how many readings, by the words of `Said.values`, each talker gave."""
        found: Counter[str] = Counter()
        for word in words:
            by = self._by_sender.get(word, np.zeros(0, dtype=np.int64))
            for sender in np.flatnonzero(by).tolist():
                found[self._senders.names[sender][0]] += int(by[sender])
        return dict(found.most_common())

    def types(self, most: int) -> list[str]:
        """Return the types of sentences that are not read, the most frequent first."""
        found = self._types.most_common(most)
        return [code.to_bytes(3, "big").decode("latin-1") for code, _ in found]

    def tally(self) -> dict[str, int]:
        """Return all counts for the record.

        Raises
        ------
        ValueError
            They do not add up: a fault of the program.
        """
        parts = (*_PARTS, "other_types", "bad_checksum", "cut")
        if self.numbers["sentences"] != sum(self.numbers[part] for part in parts):
            message = f"sentences do not add up: {dict(self.numbers)}"
            raise ValueError(message)
        words = ("sentences", *parts, "no_checksum", "empty", "bad_time_or_date")
        return {word: self.numbers[word] for word in words}
