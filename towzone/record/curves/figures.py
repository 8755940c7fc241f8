"""Clearance against time: for each track and each zone within its reach, the figures of one drawing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from towzone.checks.boundaries import Boundaries
from towzone.checks.settings import CheckSettings
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.lines import LineKind
from towzone.model.result import FINDINGS, CheckResult, Part, Row, Status, Tow
from towzone.model.track import Track, TrackKind
from towzone.model.zone import Zone
from towzone.record.curves.depth import BoolArray, Question
from towzone.record.curves.least import (
    Columns,
    State,
    Window,
    columns_near,
    least_of,
    measure_columns,
    nothing,
)
from towzone.record.curves.marks import CurveMark, RowsOnCurve
from towzone.record.curves.strands import COLUMNS, Axis, Strand, axis_of, gear_strand, vessel_strand
from towzone.record.curves.uncovered import GapsOnAxis, OpenSpan

__all__ = ["MOST_CURVES", "CurveMark", "CurveSet", "ZoneCurves", "clearance_curves"]

MOST_CURVES = 40
"""Zones drawn at the most, the worst first; what is beyond is counted. Own choice."""

_MARGINS = 3.0
_LEASTS = 1.2
_DEPTHS = 0.25
_LEAST_TOP_M = 200.0
_TWICE = 2.0
"""How much is drawn above the boundary: three times the margin, the least clearance and a fifth more, a
quarter of the depth inside, 200 m, whichever is most, but not beyond the reach; and the least of both vessel
and gear, unless that would more than double it. Own choice."""

_BORDER = 0.04
"""Share of what is near the zone that is drawn before and after it. Own choice."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneCurves:
    """One drawing.

    Parameters
    ----------
    zone : Zone
    track : Track
    track_number : int
        Its place among the tracks of the result, from 0.
    timed : bool
        Whether the axis is time (seconds since 1970 UTC) or the way along the track (metres).
    first, last : float
        Between which it runs.
    vessel : Columns
        In equal columns from first to last.
    gear : Columns or None
        The least over the parts of the gear on the bottom; ``None`` where no path of it is known.
    bottom_m, top_m : float
        Clearances between which is drawn.
    margin_m : float
    marks : tuple of CurveMark
        Of the rows, worst first.
    gaps : tuple of (float, float)
        Where the positions do not cover, those no farther apart than a column as one.
    joined : ndarray of bool, shape (columns - 1,)
        Whether positions cover all between the middles of a column and the next.
    left_open : bool
        Whether any gap of the track leaves the zone open.
    open_rows : tuple of (int, float, float)
        Rows that gaps leave undecided, each with the longest of these gaps.
    tows : tuple of (int, float, float)
        Number, shooting and hauling.
    idle : tuple of (float, float)
        Where the rule is not in force.
    knots : ndarray, shape (k, 2)
        Place among the drawn fixes of the track and value on the axis, between which both go evenly; for
        tracks without all times.
    """

    zone: Zone
    track: Track
    track_number: int
    timed: bool
    first: float
    last: float
    vessel: Columns
    gear: Columns | None
    bottom_m: float
    top_m: float
    margin_m: float
    marks: tuple[CurveMark, ...]
    gaps: tuple[tuple[float, float], ...]
    joined: BoolArray
    left_open: bool
    open_rows: tuple[OpenSpan, ...]
    tows: tuple[tuple[int, float, float], ...]
    idle: tuple[tuple[float, float], ...]
    knots: FloatArray

    @property
    def matters(self) -> bool:
        """Whether any of the rows is a finding or undecided."""
        return any(mark.matters for mark in self.marks)

    @property
    def kept_clear(self) -> bool:
        """Whether all of the rows are clear."""
        return all(mark.row.status is Status.CLEAR for mark in self.marks)

    @property
    def least(self) -> CurveMark:
        """The row with the least clearance drawn, of those that matter if any of them is drawn."""
        drawn = [mark for mark in self.marks if mark.at is not None]
        pool = [mark for mark in drawn if mark.matters] or drawn
        return min(pool, key=lambda mark: (mark.row.clearance_m or 0.0, mark.number))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurveSet:
    """All drawings, worst first, with how many zones are not drawn: beyond the most, or nothing to draw."""

    curves: tuple[ZoneCurves, ...]
    more: int
    unknown: tuple[tuple[int, Row], ...]


def clearance_curves(
    result: CheckResult, most: int = MOST_CURVES, kept: Sequence[IntArray] | None = None
) -> CurveSet:
    """Return the figures of the drawings of a result.

    Parameters
    ----------
    result : CheckResult
    most : int
        Zones drawn at the most.
    kept : sequence of ndarray of int, optional
        Of each track, which fixes the chart draws; all where not given.
    """
    by_pair: dict[tuple[str, str], list[tuple[int, Row]]] = {}
    for number, row in enumerate(result.rows, start=1):
        by_pair.setdefault((row.track_id, row.zone_id), []).append((number, row))
    zones = {zone.zone_id: zone for zone in result.zones}
    concerned = tuple(dict.fromkeys(zone_id for _, zone_id in by_pair))
    boundaries = Boundaries.of(tuple(zones[zone_id] for zone_id in concerned))
    drawn_fixes = [np.arange(len(track)) for track in result.tracks] if kept is None else kept
    courses = {
        track.track_id: _Course(result, number, drawn_fixes[number])
        for number, track in enumerate(result.tracks)
    }
    drawn: list[ZoneCurves] = []
    unknown: list[tuple[int, Row]] = []
    more = 0
    for (track_id, zone_id), rows in by_pair.items():
        course = courses[track_id]
        if course.axis is None or all(row.clearance_m is None for _, row in rows):
            unknown.append(rows[0])
        elif len(drawn) >= most:
            more += 1
        else:
            ask = _Asked(result, zones[zone_id], concerned.index(zone_id), boundaries, rows)
            curves = course.against(ask)
            drawn += [curves] if curves is not None else []
            unknown += [rows[0]] if curves is None else []
    return CurveSet(curves=tuple(drawn), more=more, unknown=tuple(unknown))


@dataclass(frozen=True, slots=True)
class _Asked:
    """A zone, and the rows of one track about it."""

    result: CheckResult
    zone: Zone
    number: int
    boundaries: Boundaries
    rows: Sequence[tuple[int, Row]]

    def of(self, strand: Strand) -> Question:
        """Return the question how a strand passed the zone."""
        return Question(strand, self.zone, self.number, self.boundaries)

    def limits_m(self) -> tuple[float, float]:
        """Return the least and the greatest clearance to draw."""
        reach_m = self.result.settings.get("reach_m", CheckSettings().reach_m)
        if not isinstance(reach_m, float | int):
            message = f"the reach of a result is a length in metres, not {reach_m!r}"
            raise TypeError(message)
        margin_m = self.result.margins_m[self.zone.zone_id]
        known = [row for _, row in self.rows if row.clearance_m is not None]
        matter = [row for row in known if row.status in FINDINGS or row.status is Status.UNDETERMINED]
        least_m = min((row.clearance_m or 0.0 for row in matter or known), default=0.0)
        if not matter and self.zone.rules.allowed_only_inside:
            least_m = max(least_m, 0.0)  # on its way there and back it may have been any distance outside
        parts = [[row.clearance_m or 0.0 for row in known if row.part is part] for part in Part]
        farthest_m = max((min(some) for some in parts if some), default=0.0)
        top_m = max(_MARGINS * margin_m, _LEASTS * least_m, -_DEPTHS * least_m, _LEAST_TOP_M)
        if farthest_m < _TWICE * top_m:
            top_m = max(top_m, _LEASTS * farthest_m)
        top_m = min(top_m, max(float(reach_m), _LEASTS * margin_m, 1.02 * least_m))
        return min(least_m * 1.06, -0.06 * top_m), top_m


class _Course:
    """A track and its gear, cut once for all zones."""

    def __init__(self, result: CheckResult, number: int, kept: IntArray) -> None:
        self.track = result.tracks[number]
        self.number = number
        planned = self.track.kind is TrackKind.PLANNED
        kind = LineKind(str(result.settings.get("legs", "rhumb"))) if planned else LineKind.GEODESIC
        self.axis = axis_of(self.track, kind)
        self.gaps = result.gaps.get(self.track.track_id, ())
        self._kept = kept
        self._on_axis = GapsOnAxis(self.gaps, self.axis) if self.axis is not None else None
        self.tows = [tow for tow in result.tows if tow.track_id == self.track.track_id and tow.in_track]
        self._kind = kind
        told = result.gear.tows if result.gear is not None else ()
        self._lines = [line for tow in told if tow.track_id == self.track.track_id for line in tow.lines]
        self._strands: tuple[Strand, Strand | None] | None = None

    def strands(self, axis: Axis) -> tuple[Strand, Strand | None]:
        """Return the path of the vessel and those of its gear."""
        if self._strands is None:
            vessel = vessel_strand(self.track, self._kind, self.gaps, axis)
            self._strands = vessel, gear_strand(self._lines, axis)
        return self._strands

    def against(self, ask: _Asked) -> ZoneCurves | None:
        """Return the drawing against a zone; ``None`` where nothing of the track is near it."""
        if self.axis is None or self._on_axis is None:
            return None
        axis, gaps, limits_m = self.axis, self._on_axis, ask.limits_m()
        window = self._window(axis, ask, gaps, limits_m)
        if window is None:
            return None
        vessel, gear = self._measured(axis, ask, window, limits_m)
        first, last = (axis.at_cut(end * window.width) for end in (window.first, window.last))
        own = RowsOnCurve(axis, vessel, gear, (first, last), limits_m)
        marks = tuple(own.mark(number, row) for number, row in ask.rows)
        if all(mark.at is None for mark in marks):
            return None
        for mark in marks:
            own.hit(mark)
        count = len(vessel.state)
        step = (last - first) / count
        return ZoneCurves(
            zone=ask.zone,
            track=self.track,
            track_number=self.number,
            timed=axis.timed,
            first=first,
            last=last,
            vessel=vessel,
            gear=gear if (gear.state != State.NOTHING).any() else None,
            bottom_m=limits_m[0],
            top_m=limits_m[1],
            margin_m=ask.result.margins_m[ask.zone.zone_id],
            marks=marks,
            gaps=gaps.spans(first, last, step),
            joined=gaps.joined(first, last, count),
            left_open=gaps.leave_open(ask.zone.zone_id),
            open_rows=gaps.open_spans(ask.rows, self.tows, first, last, step),
            tows=tuple(_tows(self.tows, axis, first, last)),
            idle=tuple(_idle(ask, axis, first, last)),
            knots=_knots(self.track, self._kept, axis, first, last),
        )

    def _window(
        self, axis: Axis, ask: _Asked, gaps: GapsOnAxis, limits_m: tuple[float, float]
    ) -> Window | None:
        """Return the columns to draw: what is near the zone, and a little more."""
        known = [strand for strand in self.strands(axis) if strand is not None]
        close = np.logical_or.reduce([columns_near(ask.of(some), axis.finest, limits_m) for some in known])
        shown = np.array(close)
        for fix in gaps.fix[gaps.reaching(ask.zone.zone_id)].tolist():
            first, last = (axis.column_of(float(axis.value[end])) for end in (fix, fix + 1))
            shown[first // axis.finest : last // axis.finest + 1] = True
        near = np.flatnonzero(shown)
        if not len(near):
            return None
        border = int(np.ceil(_BORDER * (near[-1] - near[0] + 1)))
        low, high = max(int(near[0]) - border, 0), min(int(near[-1]) + 1 + border, COLUMNS)
        width = axis.finest
        while width > 1 and 2 * (high - low) * axis.finest <= COLUMNS * width:
            width //= 2
        times = axis.finest // width
        return Window(
            width=width, first=low * times, last=high * times, near=np.repeat(close[low:high], times)
        )

    def _measured(
        self, axis: Axis, ask: _Asked, window: Window, limits_m: tuple[float, float]
    ) -> tuple[Columns, Columns]:
        vessel, gear = self.strands(axis)
        count = window.last - window.first
        alone = measure_columns(ask.of(vessel), window, limits_m)
        if gear is None:
            return alone, nothing(count)
        return alone, least_of(measure_columns(ask.of(gear), window, limits_m, samples=1), count)


def _tows(tows: Sequence[Tow], axis: Axis, first: float, last: float) -> Iterator[tuple[int, float, float]]:
    for tow in tows:
        low, high = max(axis.at_place(tow.shoot), first), min(axis.at_place(tow.haul), last)
        if low < high:
            yield tow.number, low, high


def _idle(ask: _Asked, axis: Axis, first: float, last: float) -> Iterator[tuple[float, float]]:
    """Yield where a zone's rule is not in force, by its dates; all of it where it was so by any reason."""
    if not ask.result.in_force[ask.zone.zone_id]:
        yield first, last
    elif axis.timed and ask.zone.rules.dated:
        begin, end = (_EPOCH + timedelta(seconds=at) for at in (first, last))
        at = first
        for since, until in ask.zone.rules.spans(begin, end):
            starts = (since - _EPOCH).total_seconds()
            if starts > at:
                yield at, starts
            at = (until - _EPOCH).total_seconds()
        if at < last:
            yield at, last


def _knots(track: Track, kept: IntArray, axis: Axis, first: float, last: float) -> FloatArray:
    """Return places and values where fixes have not all their times; ends of columns for too many fixes.

    The script counts places by the fixes that the chart draws.
    """
    if axis.timed and not np.isnat(track.time_utc).any():
        return np.empty((0, 2))
    value, place = axis.value[kept], np.arange(len(kept), dtype=np.float64)
    if len(place) > COLUMNS:
        place = np.interp(np.linspace(first, last, COLUMNS + 1), value, place)
    return np.column_stack([place, np.interp(place, np.arange(len(kept)), value)])
