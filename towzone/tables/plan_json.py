"""What a plan adds to a result, as plain dictionaries and lists: times, margins, advice, corrected lines."""

from __future__ import annotations

from typing import Any

from towzone.model.plan import (
    Advice,
    CorrectedLine,
    Fuel,
    LinePlan,
    NoLine,
    PlanEvent,
    PlanLeg,
    PlannedLine,
    SeasonChange,
    Timetable,
    ZoneMargin,
)
from towzone.model.result import CheckResult
from towzone.tables.rounding import DEGREE_DIGITS, known
from towzone.units import METRE_DIGITS, format_instant

__all__ = ["figure_as_data", "plan_as_data"]

_COURSE_DIGITS = 1
"""As of bearings: a tenth of a degree is 2 m aside on a nautical mile and a half. Own choice."""

_POSITION_ENDS = ("lat_deg", "lon_deg")


def plan_as_data(result: CheckResult) -> dict[str, Any] | None:
    """Return the plan of a result, ``None`` for a result without one."""
    if result.plan is None:
        return None
    return {
        "lines": [_line_plan(plan, result) for plan in result.plan.lines],
        "not_known": list(result.plan.not_known),
    }


def _line_plan(plan: LinePlan, result: CheckResult) -> dict[str, Any]:
    corrected = plan.corrected
    return {
        "track_id": plan.track_id,
        "outcome": result.outcome_of(plan.track_id).value,
        "line": _line(plan.line),
        "timetable": _timetable(plan.timetable),
        "margins": [_margin(margin) for margin in plan.margins],
        "advice": [_advice(advice) for advice in plan.advice],
        "corrected": _corrected(corrected) if isinstance(corrected, CorrectedLine) else None,
        "no_line": _no_line(corrected) if isinstance(corrected, NoLine) else None,
    }


def _line(line: PlannedLine) -> dict[str, Any]:
    corners = zip(line.lat_deg.tolist(), line.lon_deg.tolist(), line.point_names, strict=True)
    return {
        "name": line.name,
        "source": line.source,
        "corners": [
            {"lat_deg": _degrees(lat_deg), "lon_deg": _degrees(lon_deg), "name": name}
            for lat_deg, lon_deg, name in corners
        ],
    }


def _timetable(timetable: Timetable) -> dict[str, Any]:
    return {
        "legs": [_leg(leg) for leg in timetable.legs],
        "events": [_event(event) for event in timetable.events],
        "seasons": [_season(change) for change in timetable.seasons],
        "length_m": known(timetable.length_m),
        "seconds": known(timetable.seconds),
        "whole_seconds": known(timetable.whole_seconds),
        "fuel": _fuel(timetable.fuel),
    }


def _leg(leg: PlanLeg) -> dict[str, Any]:
    return {
        "leg": leg.number,
        "begin_lat_deg": _degrees(leg.lat0_deg),
        "begin_lon_deg": _degrees(leg.lon0_deg),
        "end_lat_deg": _degrees(leg.lat1_deg),
        "end_lon_deg": _degrees(leg.lon1_deg),
        "course_deg": known(leg.course_deg, _COURSE_DIGITS),
        "turn_deg": known(leg.turn_deg, _COURSE_DIGITS),
        "length_m": known(leg.length_m),
        "speed_kn": known(leg.speed_kn),
        "begin_utc": format_instant(leg.begin_utc),
        "end_utc": format_instant(leg.end_utc),
        "rectangles": list(leg.rectangles),
        "zones_in_force": list(leg.zones),
    }


def _event(event: PlanEvent) -> dict[str, Any]:
    return {
        "event": event.kind.value,
        "utc": format_instant(event.utc),
        "lat_deg": _degrees(event.lat_deg),
        "lon_deg": _degrees(event.lon_deg),
    }


def _season(change: SeasonChange) -> dict[str, Any]:
    return {"zone_id": change.zone_id, "utc": format_instant(change.at_utc), "begins": change.begins}


def _fuel(fuel: Fuel | None) -> dict[str, Any] | None:
    if fuel is None:
        return None
    return {"litres": known(fuel.litres), "litres_per_hour": known(fuel.litres_per_hour)}


def _margin(margin: ZoneMargin) -> dict[str, Any]:
    return {
        "zone_id": margin.zone_id,
        "margin_m": known(margin.margin_m),
        "vessel_clearance_m": known(margin.vessel_m),
        "gear_clearance_m": known(margin.gear_m),
        "likely_clearance_m": known(margin.likely_m),
        "worst_current_clearance_m": known(margin.set_m),
        "worst_current_towards_deg": known(margin.set_deg, _COURSE_DIGITS),
        "leg": margin.leg,
    }


def _advice(advice: Advice) -> dict[str, Any]:
    return {
        "kind": advice.kind.value,
        "leg": advice.leg,
        "zone_ids": list(advice.zone_ids),
        "words": advice.words,
        "figures": {name: figure_as_data(name, value) for name, value in advice.figures.items()},
        "line": _line(advice.line) if advice.line is not None else None,
        "clears": list(advice.clears),
        "clears_all": advice.whole,
    }


def figure_as_data(name: str, value: float | str) -> float | str | None:
    """Return a number of advice rounded by the unit that its name ends with; text as it is.

    Examples
    --------
    >>> figure_as_data("shift_m", 412.3456), figure_as_data("lat_deg", 54.50333333)
    (412.35, 54.5033333)
    >>> figure_as_data("side", "port")
    'port'
    """
    if isinstance(value, str):
        return value
    digits = DEGREE_DIGITS if name.endswith(_POSITION_ENDS) else METRE_DIGITS
    return known(float(value), digits)


def _corrected(corrected: CorrectedLine) -> dict[str, Any]:
    return {
        "track_id": corrected.track_id,
        "line": _line(corrected.line),
        "timetable": _timetable(corrected.timetable),
        "margins": [_margin(margin) for margin in corrected.margins],
        "longer_m": known(corrected.longer_m),
        "longer_seconds": known(corrected.longer_s),
        "more_litres": known(corrected.more_litres),
        "aside_m": known(corrected.aside_m),
        "missed_m": [known(metres) for metres in corrected.missed_m],
    }


def _no_line(none: NoLine) -> dict[str, Any]:
    return {
        "why": none.why.value,
        "words": none.words,
        "zone_ids": list(none.zone_ids),
        "lat_deg": _degrees(none.lat_deg),
        "lon_deg": _degrees(none.lon_deg),
        "width_m": known(none.width_m),
        "needed_m": known(none.needed_m),
    }


def _degrees(value: float | None) -> float | None:
    return known(value, DEGREE_DIGITS)
