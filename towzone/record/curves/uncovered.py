"""Where the positions do not cover a drawing: nothing is joined there, and what it leaves open is told."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from towzone.model.result import Gap, Row, Status, Tow
from towzone.record.curves.strands import Axis

__all__ = ["GapsOnAxis", "OpenSpan"]

_BY_GAPS = frozenset({"gap", "missing_times"})
"""Reasons of rows that are not decided because of gaps (`towzone.checks.pair_rows`)."""

OpenSpan = tuple[int, float, float]
"""Number of a row that is not decided, and the longest of the gaps that leave it so, from and to."""


class GapsOnAxis:
    """The gaps of one track, on its axis."""

    def __init__(self, gaps: Sequence[Gap], axis: Axis) -> None:
        self.fix = np.array([gap.fix for gap in gaps], dtype=np.int64)
        self._low, self._high = axis.value[self.fix], axis.value[self.fix + 1]
        # Without a bound on the way across it a gap leaves every zone open.
        self._unbounded = np.array([gap.reach_m is None for gap in gaps], dtype=bool)
        self._reaching: dict[str, list[int]] = {}
        for number, gap in enumerate(gaps):
            for reach in gap.could_reach:
                self._reaching.setdefault(reach.zone_id, []).append(number)

    def reaching(self, zone_id: str) -> npt.NDArray[np.int64]:
        """Return the numbers of the gaps with a bound that leave a zone open."""
        return np.array(self._reaching.get(zone_id, ()), dtype=np.int64)

    def leave_open(self, zone_id: str) -> bool:
        """Return whether any gap leaves a zone open."""
        return bool(self._unbounded.any()) or zone_id in self._reaching

    def spans(self, first: float, last: float, apart: float) -> tuple[tuple[float, float], ...]:
        """Return the gaps between two values; those no farther apart than so much are one."""
        return self._merged(np.arange(len(self.fix)), first, last, apart)

    def _merged(
        self, some: npt.NDArray[np.int64], first: float, last: float, apart: float
    ) -> tuple[tuple[float, float], ...]:
        low, high = np.maximum(self._low[some], first), np.minimum(self._high[some], last)
        held = low < high
        if not held.any():
            return ()
        low, high = low[held], high[held]
        parted = low[1:] > high[:-1] + apart
        starts, ends = low[np.append(True, parted)], high[np.append(parted, True)]
        return tuple(zip(starts.tolist(), ends.tolist(), strict=True))

    def joined(self, first: float, last: float, count: int) -> npt.NDArray[np.bool_]:
        """Return of so many equal columns whether no gap lies between the middles of each and the next."""
        step = (last - first) / count
        begin = np.floor((self._low - first) / step - 1.5).astype(np.int64) + 1
        end = np.ceil((self._high - first) / step - 0.5).astype(np.int64)
        edges = np.zeros(count + 1, dtype=np.int64)
        held = (begin < end) & (end > 0) & (begin < count - 1)
        np.add.at(edges, np.clip(begin[held], 0, count), 1)
        np.add.at(edges, np.clip(end[held], 0, count), -1)
        return np.asarray(np.cumsum(edges)[: count - 1] == 0)

    def open_spans(
        self, rows: Sequence[tuple[int, Row]], tows: Sequence[Tow], first: float, last: float, apart: float
    ) -> tuple[OpenSpan, ...]:
        """Return each row that gaps leave undecided, with the longest of these gaps, as `spans` has them."""
        found = []
        for number, row in rows:
            if row.status is not Status.UNDETERMINED or row.reason not in _BY_GAPS:
                continue
            spans = self._merged(self._of_row(row, tows), first, last, apart)
            if spans:
                found.append((number, *max(spans, key=lambda span: span[1] - span[0])))
        return tuple(found)

    def _of_row(self, row: Row, tows: Sequence[Tow]) -> npt.NDArray[np.int64]:
        """Return the gaps that leave a row open; all of its zone where its tow, or what is none, has none."""
        some = np.union1d(self.reaching(row.zone_id), np.flatnonzero(self._unbounded))
        within = np.zeros(len(some), dtype=bool)
        for tow in tows:
            if row.tow is None or tow.number == row.tow:
                within |= (self.fix[some] >= tow.first) & (self.fix[some] < tow.last)
        own = within if row.tow is not None else ~within
        return np.asarray(some[own] if own.any() else some)
