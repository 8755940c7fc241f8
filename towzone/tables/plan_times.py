"""The timetable of a planned line on the screen: legs, events, changes of season, fuel."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import tzinfo

import numpy as np

from towzone.model.clock import board_zone, local_text
from towzone.model.plan import EventKind, PlanLeg, SeasonChange, Timetable
from towzone.model.result import CheckResult
from towzone.tables.cells import plain
from towzone.tables.row_lines import wrapped, zone_said
from towzone.units import NAUTICAL_MILE_M, format_duration, format_position, format_time

__all__ = ["corner_lines", "moment", "timetable_lines", "turn_words"]

EVENT_WORDS = {
    EventKind.NET_AWAY: "net in the water",
    EventKind.EARLIEST_CONTACT: "bottom contact, earliest",
    EventKind.TOWING: "towing begins, brakes on",
    EventKind.HAUL_CALL: "haul call",
    EventKind.DOORS_OFF: "doors off, by the figures",
    EventKind.LATEST_CONTACT: "bottom contact, latest",
}

_STRAIGHT_DEG = 0.05
"""A change of course that would be printed as 0.0 degrees."""


def timetable_lines(timetable: Timetable, result: CheckResult) -> list[str]:
    """Return events, legs and changes of season, each time as UTC and as local time."""
    clock = board_zone(result)
    whole = (
        f"{timetable.length_m / NAUTICAL_MILE_M:.2f} nmi, {format_duration(timetable.seconds)} of towing;"
        f" {format_duration(timetable.whole_seconds)} from the net in the water to no contact any more"
    )
    fuel = timetable.fuel
    burnt = f"; {fuel.litres:.0f} l of fuel at {fuel.litres_per_hour:g} l an hour" if fuel is not None else ""
    return [
        wrapped(f"{whole}{burnt}.", "  ", first="  "),
        *(
            f"  {EVENT_WORDS[event.kind]:<26} {moment(event.utc, clock):<41}"
            f"  {format_position(event.lon_deg, event.lat_deg)}"
            for event in timetable.events
        ),
        "",
        f"  {'leg':>3}  {'begins':<42} {'course':>6} {'nmi':>6} {'kn':>4}  turn at its end",
        *(line for leg in timetable.legs for line in _leg(leg, clock)),
        *(_season(change, result, clock) for change in timetable.seasons),
    ]


def moment(instant: np.datetime64, clock: tzinfo) -> str:
    """Return a time as UTC and, beside it, on board."""
    if np.isnat(instant):
        return format_time(instant)
    return f"{format_time(instant)} ({local_text(instant, clock)})"


def _leg(leg: PlanLeg, clock: tzinfo) -> Iterator[str]:
    yield (
        f"  {leg.number:>3}  {moment(leg.begin_utc, clock):<42} {leg.course_deg:05.1f}°"
        f" {leg.length_m / NAUTICAL_MILE_M:>6.2f} {leg.speed_kn:>4.1f}  {turn_words(leg.turn_deg)}"
    )
    rectangles = " ".join(leg.rectangles) or "outside the ICES grid"
    zones = ", ".join(plain(zone_id) for zone_id in leg.zones) or "none within reach"
    yield wrapped(f"rectangles {rectangles}; in force: {zones}", "         ", first="       ")


def turn_words(turn_deg: float | None) -> str:
    """Return a change of course for people; nothing at the end of a line.

    Examples
    --------
    >>> turn_words(-32.44), turn_words(90.0), turn_words(0.0), turn_words(None)
    ('32.4° to port', '90.0° to starboard', 'none', '-')
    """
    if turn_deg is None:
        return "-"
    if abs(turn_deg) < _STRAIGHT_DEG:
        return "none"
    return f"{abs(turn_deg):.1f}° to {'starboard' if turn_deg > 0.0 else 'port'}"


def _season(change: SeasonChange, result: CheckResult, clock: tzinfo) -> str:
    what = "begins" if change.begins else "ends"
    zone = zone_said(change.zone_id, result)
    return wrapped(f"The rule of {zone} {what} at {moment(change.at_utc, clock)}.", "    ", first="  ")


def corner_lines(timetable: Timetable) -> Iterator[str]:
    """Return the corners of a line, each with course, length and turn of the leg that begins there."""
    yield f"  {'corner':>6}  {'position':<26} {'course':>6} {'nmi':>6}  turn at the end of the leg"
    for leg in timetable.legs:
        yield (
            f"  {leg.number:>6}  {format_position(leg.lon0_deg, leg.lat0_deg):<26} {leg.course_deg:05.1f}°"
            f" {leg.length_m / NAUTICAL_MILE_M:>6.2f}  {turn_words(leg.turn_deg)}"
        )
    last = timetable.legs[-1]
    yield f"  {last.number + 1:>6}  {format_position(last.lon1_deg, last.lat1_deg)}"
