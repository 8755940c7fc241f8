"""What a plan adds to the map: moments of its lines, what was advised, the narrowest place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from towzone.geodesy.lines import LineKind
from towzone.geodesy.pieces import outline
from towzone.geodesy.shape import Shape, freeze
from towzone.model.plan import Advice, LinePlan, NoLine, PlannedLine, Timetable
from towzone.model.result import CheckResult
from towzone.plan.telling import corrected_ids, corrected_of, wanted_ids
from towzone.tables.geometry import assembled
from towzone.tables.plan_json import figure_as_data
from towzone.tables.rounding import known
from towzone.units import format_instant

__all__ = ["plan_features", "role_of"]

_Feature = tuple[str, dict[str, Any], BaseGeometry]

_TOLERANCE_M = 1.0
_LAT, _LON = "lat_deg", "lon_deg"


def role_of(track_id: str, result: CheckResult) -> dict[str, str]:
    """Return the property that tells wanted lines from corrected ones; empty for other tracks."""
    if track_id in wanted_ids(result):
        return {"line": "wanted"}
    return {"line": "corrected"} if track_id in corrected_ids(result) else {}


def plan_features(result: CheckResult) -> Iterator[_Feature]:
    """Yield the features of a plan, each as its name, its properties and its geometry."""
    for plan in result.plan.lines if result.plan is not None else ():
        yield from _events(plan.track_id, plan.timetable, result)
        corrected = corrected_of(plan)
        if corrected is not None:
            yield from _events(corrected.track_id, corrected.timetable, result)
        for number, advice in enumerate(plan.advice, start=1):
            yield from _advised(plan, number, advice, result)
        if isinstance(plan.corrected, NoLine):
            yield from _narrowest(plan.track_id, plan.corrected)


def _events(track_id: str, timetable: Timetable, result: CheckResult) -> Iterator[_Feature]:
    for event in timetable.events:
        properties = {
            "track_id": track_id,
            **role_of(track_id, result),
            "event": event.kind.value,
            "utc": format_instant(event.utc),
        }
        yield "plan_event", properties, _point(event.lon_deg, event.lat_deg)


def _advised(plan: LinePlan, number: int, advice: Advice, result: CheckResult) -> Iterator[_Feature]:
    properties = {
        "track_id": plan.track_id,
        "advice": number,
        "kind": advice.kind.value,
        "leg": advice.leg,
        "words": advice.words,
        "clears_all": advice.whole,
        **{name: figure_as_data(name, value) for name, value in advice.figures.items()},
    }
    if advice.line is not None:
        yield "advised_line", properties, _line(advice.line, LineKind(str(result.settings["legs"])))
    for name, lat_deg in advice.figures.items():
        point = name.removesuffix(_LAT)
        lon_deg = advice.figures.get(f"{point}{_LON}") if name.endswith(_LAT) else None
        if isinstance(lat_deg, str) or lon_deg is None or isinstance(lon_deg, str):
            continue
        if np.isfinite([lat_deg, lon_deg]).all():
            yield (
                "advised_point",
                {**properties, "point": point.rstrip("_")},
                _point(float(lon_deg), float(lat_deg)),
            )


def _narrowest(track_id: str, none: NoLine) -> Iterator[_Feature]:
    if none.lon_deg is None or none.lat_deg is None:
        return
    properties = {
        "track_id": track_id,
        "why": none.why.value,
        "width_m": known(none.width_m),
        "needed_m": known(none.needed_m),
    }
    yield "narrowest_place", properties, _point(none.lon_deg, none.lat_deg)


def _point(lon_deg: float, lat_deg: float) -> BaseGeometry:
    return assembled([shapely.Point(lon_deg, lat_deg)])


def _line(line: PlannedLine, kind: LineKind) -> BaseGeometry:
    corners = freeze(np.stack([line.lon_deg, line.lat_deg], axis=1))
    return assembled(
        [shapely.LineString(outline(Shape(lines=(corners,)), kind, tolerance_m=_TOLERANCE_M)[0][0])]
    )
