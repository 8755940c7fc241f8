"""Where the rows of one drawing lie on it: their closest approaches, and the stretches they tell of."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from towzone.checks.legs import seconds_since_epoch
from towzone.model.result import FINDINGS, Part, Row, Status
from towzone.record.curves.least import Columns, State
from towzone.record.curves.strands import Axis

__all__ = ["CurveMark", "RowsOnCurve"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveMark:
    """One row on a drawing.

    Parameters
    ----------
    number : int
        Of the row.
    row : Row
    at : float or None
        Where its closest approach is on the axis; ``None`` where it is not drawn.
    stretches : tuple of (str, float, float)
        ``inside`` or ``close``, from and to on the axis.
    """

    number: int
    row: Row
    at: float | None
    stretches: tuple[tuple[str, float, float], ...]

    @property
    def matters(self) -> bool:
        """Whether the row is a finding or undecided."""
        return self.row.status in FINDINGS or self.row.status is Status.UNDETERMINED


class RowsOnCurve:
    """The columns of one drawing, and where rows lie on it."""

    def __init__(
        self,
        axis: Axis,
        vessel: Columns,
        gear: Columns,
        span: tuple[float, float],
        limits_m: tuple[float, float],
    ) -> None:
        self._axis, (self._first, self._last), self._limits_m = axis, span, limits_m
        self._columns = {Part.VESSEL: vessel, Part.GEAR: gear}

    def mark(self, number: int, row: Row) -> CurveMark:
        """Return a row with where it is on the axis."""
        return CurveMark(number=number, row=row, at=self._at(row), stretches=tuple(self._stretches(row)))

    def hit(self, mark: CurveMark) -> None:
        """Make the least of the column a row is in no greater than the clearance the check found there.

        The search for depths stops half a metre short of that, and gear can go over a zone between its parts.
        """
        columns, clearance_m = self._columns[mark.row.part], mark.row.clearance_m
        if mark.at is None or clearance_m is None:
            return
        at = self._column(mark.at)
        if columns.state[at] != State.WITHIN:
            columns.state[at], columns.most_m[at] = State.WITHIN, clearance_m
            columns.least_m[at] = clearance_m
        columns.least_m[at] = min(float(columns.least_m[at]), clearance_m)

    def _column(self, value: float) -> int:
        count = len(self._columns[Part.VESSEL].state)
        share = (value - self._first) / (self._last - self._first)
        return min(max(int(share * count), 0), count - 1)

    def _at(self, row: Row) -> float | None:
        if row.closest is None or row.clearance_m is None:
            return None
        if not self._limits_m[0] <= row.clearance_m <= self._limits_m[1]:
            return None
        if self._axis.timed:
            if np.isnat(row.closest.utc):
                return None
            at = _seconds(row.closest.utc)
            return at if self._first <= at <= self._last else None
        columns = self._columns[row.part]
        within = np.flatnonzero(columns.state == State.WITHIN)
        if not len(within):
            return None
        return self._axis.at_place(float(columns.place[within[np.argmin(columns.least_m[within])]]))

    def _stretches(self, row: Row) -> Iterator[tuple[str, float, float]]:
        if not self._axis.timed:
            yield from self._by_columns(row)
            return
        for kind, begin, end in (
            *(("close", close.from_utc, close.to_utc) for close in row.close),
            *(("inside", stay.enter_utc, stay.leave_utc) for stay in row.inside),
        ):
            if np.isnat(begin) or np.isnat(end):
                continue
            low, high = max(_seconds(begin), self._first), min(_seconds(end), self._last)
            if low <= high:
                yield kind, low, high

    def _by_columns(self, row: Row) -> Iterator[tuple[str, float, float]]:
        """Yield the stretches of a row without times, to the width of a column."""
        columns = self._columns[row.part]
        within = columns.state == State.WITHIN
        step = (self._last - self._first) / len(within)
        limits = (("close", row.margin_m, bool(row.close)), ("inside", 0.0, bool(row.inside)))
        for kind, limit_m, told in limits:
            mask = (within & (columns.least_m < limit_m)) | (columns.state == State.BELOW)
            edges = np.flatnonzero(np.diff(mask.astype(np.int8), prepend=0, append=0))
            for low, high in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
                if told:
                    yield kind, self._first + low * step, self._first + high * step


def _seconds(instant: np.datetime64) -> float:
    return float(seconds_since_epoch(np.array([instant]))[0])
