"""What the answer takes for granted, and what becomes of it if that is wrong."""

from __future__ import annotations

from collections.abc import Iterator

from towzone.model.result import CheckResult, Part, Row, Status
from towzone.model.track import TrackKind
from towzone.record.catalogue import markup, markup_count, say, say_count
from towzone.record.sections.plain_table import plain_table, unbroken
from towzone.record.text import escape, shown
from towzone.record.words import EDGES
from towzone.units import format_duration, format_length

__all__ = ["what_if"]

_TOWING = ("detect", "all", "none")


def what_if(result: CheckResult) -> str:
    """Return the table as HTML; what does not bear on this result is left out."""
    heads = [say(f"evidence.assumptions.{head}") for head in ("granted", "here", "wrong")]
    rows = [*_positions(result), *_rules(result)]
    return f'<div class="what-if">{plain_table(say("evidence.assumptions.caption"), heads, rows)}</div>'


def _line(name: str, here: str, **values: str) -> tuple[str, str, str]:
    granted = escape(say(f"evidence.what_if.{name}"))
    return (granted, here, markup(f"evidence.what_if.{name}_wrong", **values))


def _said(name: str) -> str:
    return escape(say(f"evidence.what_if.{name}"))


def _number(result: CheckResult, name: str) -> float | None:
    value = result.settings.get(name)
    return float(value) if isinstance(value, int | float) else None


def _positions(result: CheckResult) -> Iterator[tuple[str, str, str]]:
    error_m = _number(result, "position_error_m")
    if error_m is not None:
        here = unbroken(format_length(error_m))
        yield _line("position", here, rows=_near_the_limit(result, 2.0 * error_m))
    yield _line("datum", _said("datum_here"))
    kinds = {track.kind for track in result.tracks}
    if TrackKind.COMPLETED in kinds:
        yield from _completed(result)
    legs = result.settings.get("legs")
    if TrackKind.PLANNED in kinds and legs is not None:
        known = {str(kind): word for kind, word in EDGES.items()}
        yield _line("legs", escape(known[str(legs)]) if str(legs) in known else shown(str(legs), 80))


def _completed(result: CheckResult) -> Iterator[tuple[str, str, str]]:
    gap_s, max_speed_kn = _number(result, "gap_s"), _number(result, "max_speed_kn")
    if gap_s is not None:
        yield _line("gap", unbroken(format_duration(gap_s)))
    if max_speed_kn is not None:
        yield _line("max_speed", unbroken(f"{max_speed_kn:g} kn"))
    towing = result.settings.get("towing")
    if towing is not None:
        yield _line("towing", _said(f"towing_{towing}" if towing in _TOWING else "towing_log"))


def _near_the_limit(result: CheckResult, error_m: float) -> str:
    """Return how many decided rows of the vessel lie so near what decides them that this would matter."""
    near = sum(_is_near(row, error_m) for row in result.rows)
    length = unbroken(f"{error_m:.0f} m")
    if not near:
        return markup("evidence.assumptions.none_near", length=length)
    return markup_count("evidence.assumptions.near_limit", near, length=length)


def _is_near(row: Row, error_m: float) -> bool:
    if row.status is Status.UNDETERMINED or row.part is not Part.VESSEL or row.clearance_m is None:
        return False
    return min(abs(row.clearance_m - row.margin_m), abs(row.clearance_m)) <= error_m


def _rules(result: CheckResult) -> Iterator[tuple[str, str, str]]:
    if result.gear is not None:
        yield _line("gear", _said("gear_here"))
    elif result.gear_unchecked:
        yield _line("no_gear", _said("no_gear_here"))
    if not result.zones:
        return
    silent = sum(not zone.edges_stated for zone in result.zones)
    if silent:
        yield _line("edges", escape(say_count("evidence.what_if.edges_here", silent)))
    yield _line("margins", _said("margins_here"))
    if any(zone.rules.dated or zone.rules.gears or zone.rules.except_gears for zone in result.zones):
        yield _line("dates", _said("dates_here"))
    yield _line("zone_files", _said("zone_files_here"))
