"""What the properties of one zone give away: dates, dimensions in notes, sources, line types, odd names."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, datetime

import numpy as np

from towzone.model.candidate import Candidate
from towzone.model.gears import GEAR_NAMES
from towzone.model.zone import Zone
from towzone.surveys.defects import Defect, Severity, about
from towzone.surveys.measures import area_m2, departure, sides_m
from towzone.surveys.moments import day_span
from towzone.units import NAUTICAL_MILE_M, format_instant

__all__ = ["word_defects"]

_NUMBER = r"(\d{1,6}(?:[.,]\d{1,6})?)"
_MILES = r"nautical\s+miles?|sea\s+miles?|miles?|nmi?|n\.\s?m\."
_SIDES = re.compile(
    rf"{_NUMBER}\s*(?:x|×|by)\s*{_NUMBER}\s*(?P<unit>{_MILES}|km|kilomet(?:re|er)s?|m|met(?:re|er)s?)\b",
    re.IGNORECASE,
)
_AREA = re.compile(
    rf"{_NUMBER}\s*(?:(?P<km>km\s?(?:2|²)|sq(?:uare|\.)?\s*(?:km|kilomet(?:re|er)s?))"
    rf"|(?P<miles>nmi?\s?(?:2|²)|sq(?:uare|\.)?\s*(?:{_MILES})))",
    re.IGNORECASE,
)
_SIDE_TOLERANCE, _AREA_TOLERANCE = 0.2, 0.1
"""Own choice: dimensions in notes are rounded, and skew boxes have no one width; a missing digit is more."""
_REMARKS = (
    ("is not read; did you mean", "near-miss property", Severity.MISLEADS),
    ("28 February", "28 February", Severity.DOUBT),
)
"""Remarks of the reader that matter more than a note, by their words."""


def word_defects(candidate: Candidate, on: date | None) -> Iterator[Defect]:
    """Yield what is doubtful about the properties of one feature.

    Parameters
    ----------
    candidate : Candidate
    on : date or None
        The day, in the time zone of each rule, for which to ask whether it is still, or already, valid.
    """
    for remark in candidate.remarks:
        code, severity = next(
            ((code, level) for words, code, level in _REMARKS if words in remark), ("remark", Severity.NOTE)
        )
        yield about(candidate, severity, code, remark)
    zone = candidate.zone
    if zone is None:
        return
    if not zone.source:
        message = "no source stated; name the notice, so that a finding can be traced to it"
        yield about(candidate, Severity.NOTE, "no source", message)
    if not zone.edges_stated:
        yield from _line_type(candidate, zone)
    yield from _dimensions(candidate, zone)
    yield from _gears(candidate, zone)
    if on is not None:
        yield from _validity(candidate, zone, on)


def _line_type(candidate: Candidate, zone: Zone) -> Iterator[Defect]:
    if not zone.shape.polygons and not zone.shape.lines:
        return
    apart = departure(zone.shape)
    widest = max(apart.rhumb_m, apart.geodesic_m)
    message = "property 'edges' is missing, so corners are joined straight in longitude and latitude; "
    if widest < 1.0:
        message += "rhumb lines and geodesics lie within 1 m of that"
    else:
        message += (
            f"rhumb lines lie up to {apart.rhumb_m:.0f} m away, geodesics up to {apart.geodesic_m:.0f} m;"
            " state what the notice says"
        )
    yield about(candidate, Severity.NOTE if widest < 1.0 else Severity.DOUBT, "line type open", message)


def _gears(candidate: Candidate, zone: Zone) -> Iterator[Defect]:
    rules = zone.rules
    if rules.gears and not any(rules.covers_gear(gear) for gear in GEAR_NAMES):
        message = "'except_gears' spares every gear that 'gears' lists, so the rule covers nobody"
        yield about(candidate, Severity.DOUBT, "covers nobody", message)


def _validity(candidate: Candidate, zone: Zone, on: date) -> Iterator[Defect]:
    rules = zone.rules
    begin, end = day_span(on, rules.time_zone)
    if rules.valid_until is not None and rules.valid_until <= begin:
        message = f"no longer valid: it ended at {_time(rules.valid_until)}"
        yield about(candidate, Severity.DOUBT, "expired", message)
    if rules.valid_from is not None and rules.valid_from >= end:
        message = f"not yet valid: it begins at {_time(rules.valid_from)}"
        yield about(candidate, Severity.DOUBT, "not yet valid", message)


def _time(instant: datetime) -> str:
    return format_instant(np.datetime64(instant.replace(tzinfo=None), "us")) or ""


def _dimensions(candidate: Candidate, zone: Zone) -> Iterator[Defect]:
    if not zone.shape.polygons or not zone.note:
        return
    if (sides := _SIDES.search(zone.note)) is not None:
        unit_m = _unit_m(sides["unit"])
        said = sorted(_value(sides[group]) for group in (1, 2))
        found = [side / unit_m for side in sides_m(zone.shape)]
        if not all(_agree(a, b, _SIDE_TOLERANCE) for a, b in zip(said, found, strict=True)):
            message = (
                f"the note says '{sides[0]}', the corners make {found[0]:.1f} x {found[1]:.1f};"
                " either a corner or the note is wrong"
            )
            yield about(candidate, Severity.DOUBT, "size differs from note", message)
    if (area := _AREA.search(zone.note)) is not None:
        square_m2 = NAUTICAL_MILE_M**2 if area["miles"] else 1e6
        measured = area_m2(zone.shape, zone.edges) / square_m2
        if not _agree(_value(area[1]), measured, _AREA_TOLERANCE):
            message = (
                f"the note says '{area[0]}', the corners enclose {measured:.1f};"
                " either a corner or the note is wrong"
            )
            yield about(candidate, Severity.DOUBT, "size differs from note", message)


def _value(text: str) -> float:
    return float(text.replace(",", "."))


def _unit_m(word: str) -> float:
    word = word.lower()
    if word.startswith(("km", "kilo")):
        return 1000.0
    return 1.0 if word == "m" or word.startswith("met") else NAUTICAL_MILE_M


def _agree(said: float, found: float, tolerance: float) -> bool:
    return abs(said - found) <= tolerance * max(said, found)
