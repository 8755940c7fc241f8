"""Rows on the screen: what came how close to what, where and when, and why that is so."""

from __future__ import annotations

import textwrap

from towzone.model.result import Activity, CheckResult, Part, Row, Status
from towzone.tables.cells import plain
from towzone.tables.gear_words import reach_lines
from towzone.units import format_length, format_position, format_time

__all__ = ["STATUS_WORDS", "WIDTH", "row_block", "row_line", "wrapped", "zone_named", "zone_said"]

WIDTH = 100
"""Columns of a screen. Own choice."""

STATUS_WORDS = {
    Status.INSIDE: "inside",
    Status.TOO_CLOSE: "too close",
    Status.UNDETERMINED: "undetermined",
    Status.TRANSIT: "transit",
    Status.NOT_IN_FORCE: "not in force",
    Status.CLEAR: "clear",
}

_ACTIVITY = {
    Activity.TOWING: "towing",
    Activity.NOT_TOWING: "not towing",
    Activity.UNKNOWN: "maybe towing",
}


def row_block(number: int, row: Row, result: CheckResult) -> list[str]:
    """Return a numbered row in several lines."""
    lines = [
        f"{number:>3}  {STATUS_WORDS[row.status].upper():<13} {_who(row, result)}  {_zone_of(row, result)}"
    ]
    if row.clearance_m is not None and row.closest is not None:
        measured = f"clearance {format_length(row.clearance_m)}, margin {format_length(row.margin_m)}"
        time = format_time(row.closest.utc)
        position = format_position(row.closest.lon_deg, row.closest.lat_deg)
        lines += [f"     {measured}", f"     {position}   {time}"]
    lines += reach_lines(row)
    lines.append(wrapped(row.explain, "     ", first="     "))
    return lines


def row_line(row: Row, result: CheckResult) -> str:
    """Return a clear row in one line."""
    clearance = format_length(row.clearance_m) if row.clearance_m is not None else "beyond reach"
    width = 29 if row.part is Part.GEAR else 12
    return f"clear  {clearance:<24} {_who(row, result):<{width}} {_zone_of(row, result)}"


def _who(row: Row, result: CheckResult) -> str:
    who = f"tow {row.tow}" if row.tow is not None else _ACTIVITY[row.activity]
    if row.part is Part.GEAR:
        part = f": {plain(row.gear.nearest_part)}" if row.gear and row.gear.nearest_part else ""
        who += f"  gear{part}"
    return who if len(result.tracks) == 1 else f"{plain(row.track_id)} {who}"


def _zone_of(row: Row, result: CheckResult) -> str:
    return zone_named(row.zone_id, result)


def zone_named(zone_id: str, result: CheckResult) -> str:
    """Return a zone by its id and, where it has another, its name."""
    zone = next(zone for zone in result.zones if zone.zone_id == zone_id)
    return plain(f"{zone.zone_id}  {zone.name}" if zone.name != zone.zone_id else zone.zone_id)


def zone_said(zone_id: str, result: CheckResult) -> str:
    """Return a zone for a sentence: its name and, where it is another, its id."""
    zone = next(zone for zone in result.zones if zone.zone_id == zone_id)
    return plain(f"{zone.name} ({zone.zone_id})" if zone.name != zone.zone_id else zone.zone_id)


def wrapped(text: str, indent: str, *, first: str = "") -> str:
    """Return text in lines that fit the screen, without control characters; all but the first indented."""
    return textwrap.fill(plain(text), WIDTH, initial_indent=first, subsequent_indent=indent)
