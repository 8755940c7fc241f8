"""The plan on the chart: corners with their numbers, where towing begins and ends, the narrowest place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from towzone.geodesy.lines import LineKind, inverse
from towzone.model.plan import EventKind, LinePlan, NoLine, PlannedLine, Timetable
from towzone.model.result import CheckResult
from towzone.plan.telling import corrected_of, letter_of
from towzone.record.catalogue import say
from towzone.record.drawn.paths import TrackDrawing
from towzone.record.words import brief_length

__all__ = ["SHAPES", "PlanMark", "brief_names", "draw_plan"]

SHAPES = {
    "begins": "M-5.5 -5.5H5.5V5.5H-5.5Z",
    "haul_call": "M0 -7.5L7.5 0L0 7.5L-7.5 0Z",
    "contact": "M-5.5 -5.5L5.5 5.5M-5.5 5.5L5.5 -5.5",
    "corner": "M-3.5 0A3.5 3.5 0 1 0 3.5 0A3.5 3.5 0 1 0 -3.5 0Z",
    "narrowest": "M-11 -7L-1.5 0L-11 7ZM11 -7L1.5 0L11 7Z",
}
"""Around their place, picture units or pixels: square, diamond, cross, disc, two wedges. Own drawings."""

_EVENTS = {EventKind.LATEST_CONTACT: "contact"}
_SAME_M = 1.0
"""Nearer than this a corner of a corrected line is that of the wanted one. Own choice."""

_APART_M = 250.0
"""Nearer than this the end of a corrected line is not named again. Own choice: the words would pile up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanMark:
    """One place of a plan.

    Parameters
    ----------
    kind : str
        A key of `SHAPES`.
    place : tuple of float
        Longitude and latitude in the frame of the chart.
    text : str
        What stands beside it, empty for nothing.
    corrected : bool
        Whether it belongs to a corrected line.
    """

    kind: str
    place: tuple[float, float]
    text: str
    corrected: bool


def draw_plan(result: CheckResult, tracks: Sequence[TrackDrawing]) -> tuple[PlanMark, ...]:
    """Return the marks of all lines near their tracks; none without a plan."""
    by_track = {drawing.track.track_id: drawing for drawing in tracks}
    plans = result.plan.lines if result.plan is not None else ()
    marks: list[PlanMark] = []
    for number, plan in enumerate(plans):
        letter = letter_of(number, len(plans))
        marks += _wanted(plan, letter, by_track[plan.track_id])
        marks += _corrected(plan, letter, by_track)
        marks += _narrowest(plan, by_track[plan.track_id])
    return tuple(marks)


def brief_names(result: CheckResult) -> dict[str, str]:
    """Return what each line of a plan is called on the chart, by its track; none without a plan."""
    plans = result.plan.lines if result.plan is not None else ()
    names: dict[str, str] = {}
    for number, plan in enumerate(plans):
        letter = letter_of(number, len(plans))
        corrected = corrected_of(plan)
        names[plan.track_id] = say("chart.plan.wanted_line", letter=letter).rstrip()
        if corrected is not None:
            names[corrected.track_id] = say("chart.plan.corrected_line", letter=letter).rstrip()
    return names


def _wanted(plan: LinePlan, letter: str, track: TrackDrawing) -> Iterator[PlanMark]:
    last = len(plan.line) - 1
    for at in range(last + 1):
        kind = "begins" if at == 0 else "haul_call" if at == last else "corner"
        number = say("chart.plan.corner", letter=letter, number=at + 1)
        text = number if kind == "corner" else say(f"chart.plan.{kind}", number=number)
        yield _mark(kind, plan.line, at, text, track)
    yield from _events(plan.timetable, track, say("chart.plan.contact"), corrected=False)


def _corrected(plan: LinePlan, letter: str, by_track: dict[str, TrackDrawing]) -> Iterator[PlanMark]:
    corrected = corrected_of(plan)
    if corrected is None:
        return
    track, line = by_track[corrected.track_id], corrected.line
    last = len(line) - 1
    for at in range(last + 1):
        if _near(line, at, plan.line) < _SAME_M:
            continue
        kind = "begins" if at == 0 else "haul_call" if at == last else "corner"
        number = say("chart.plan.corrected_corner", letter=letter, number=at + 1)
        text = number if kind == "corner" else say(f"chart.plan.{kind}", number=number)
        yield _mark(kind, line, at, text, track, corrected=True)
    ends = [timetable.events[-1] for timetable in (plan.timetable, corrected.timetable) if timetable.events]
    far = len(ends) == 2 and _metres(ends[0].lon_deg, ends[0].lat_deg, ends[1].lon_deg, ends[1].lat_deg)
    text = say("chart.plan.corrected_contact") if far > _APART_M else ""
    yield from _events(corrected.timetable, track, text, corrected=True)


def _near(line: PlannedLine, at: int, other: PlannedLine) -> float:
    here = (float(line.lon_deg[at]), float(line.lat_deg[at]))
    corners = zip(other.lon_deg.tolist(), other.lat_deg.tolist(), strict=True)
    return min(_metres(*here, *corner) for corner in corners)


def _metres(lon0_deg: float, lat0_deg: float, lon1_deg: float, lat1_deg: float) -> float:
    length_m, _ = inverse(LineKind.GEODESIC, lon0_deg, lat0_deg, lon1_deg, lat1_deg)
    return float(length_m)


def _mark(
    kind: str, line: PlannedLine, at: int, text: str, track: TrackDrawing, *, corrected: bool = False
) -> PlanMark:
    lon_deg, lat_deg = float(line.lon_deg[at]), float(line.lat_deg[at])
    place = (track.near_deg(lon_deg), lat_deg)
    return PlanMark(kind=kind, place=place, text=text, corrected=corrected)


def _events(timetable: Timetable, track: TrackDrawing, text: str, *, corrected: bool) -> Iterator[PlanMark]:
    for event in timetable.events:
        if event.kind in _EVENTS:
            place = (track.near_deg(event.lon_deg), event.lat_deg)
            yield PlanMark(kind=_EVENTS[event.kind], place=place, text=text, corrected=corrected)


def _narrowest(plan: LinePlan, track: TrackDrawing) -> Iterator[PlanMark]:
    none = plan.corrected
    if not isinstance(none, NoLine) or none.lon_deg is None or none.lat_deg is None:
        return
    text = say("chart.plan.narrowest")
    if none.width_m is not None and none.needed_m is not None:
        lengths = {"width": brief_length(none.width_m), "needed": brief_length(none.needed_m)}
        text = say("chart.plan.narrowest_lengths", **lengths)
    place = (track.near_deg(none.lon_deg), none.lat_deg)
    yield PlanMark(kind="narrowest", place=place, text=text, corrected=False)
