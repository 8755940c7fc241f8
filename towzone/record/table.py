"""The rows of a result as a table for people; complete without any script."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from towzone.model.result import CheckResult, InsideStretch, Row
from towzone.model.zone import Zone
from towzone.record.plain_table import length_cell, unbroken
from towzone.record.text import SENTENCE, shown
from towzone.record.words import ACTIVITY, KIND, STATUS, TIER, count_of
from towzone.units import format_duration, format_length, format_position, format_time

__all__ = ["rows_table"]

_HEADINGS = ("No.", "Result", "Zone", "Track and tow", "Clearance", "Required", "Closest approach")
_MOST_STAYS = 12


def rows_table(result: CheckResult) -> str:
    """Return the table of all rows, worst first, each with its own explanation below it."""
    zones = {zone.zone_id: zone for zone in result.zones}
    head = "".join(f'<th scope="col">{heading}</th>' for heading in _HEADINGS)
    bodies = "\n".join(
        _row(number, row, zones[row.zone_id], _flags(row, result))
        for number, row in enumerate(result.rows, start=1)
    )
    return (
        '<table id="rows"><caption>Every track or tow against every zone within reach.</caption>\n'
        f"<thead><tr>{head}</tr></thead>\n{bodies}\n</table>"
    )


def _row(number: int, row: Row, zone: Zone, flags: Mapping[str, str]) -> str:
    cells = (
        f'<button type="button" class="show s-{row.status}" data-row="{number}" '
        f'aria-label="Show row {number} on the chart">{number}</button>',
        f'<span class="status s-{row.status}">{STATUS[row.status]}</span>',
        f'<strong>{shown(zone.name)}</strong> <span class="second">{KIND[zone.kind]} · '
        f"{shown(zone.zone_id, 80)}</span>",
        _tow(row),
        length_cell(row.clearance_m),
        f'{unbroken(format_length(row.margin_m))} <span class="second">uncertainty '
        f"{unbroken(f'±{row.uncertainty_m:.1f} m')}</span>",
        _closest(row),
    )
    columns = "".join(
        f'<td data-head="{heading}">{cell}</td>' for heading, cell in zip(_HEADINGS, cells, strict=True)
    )
    stays = "".join(f"<li>{text}</li>" for text in (*_gear(row, flags), *_stays(row)))
    return (
        f'<tbody class="row s-{row.status}" id="row-{number}"><tr>{columns}</tr>\n'
        f'<tr class="explain"><td></td><td colspan="{len(_HEADINGS) - 1}">'
        f"<p>{shown(row.explain, SENTENCE)}</p>{f'<ul>{stays}</ul>' if stays else ''}</td></tr></tbody>"
    )


def _tow(row: Row) -> str:
    tow = "outside tows" if row.tow is None else f"Tow {row.tow}"
    nearest = row.gear.nearest_part if row.gear is not None else ""
    part = f"{row.part} ({shown(nearest, 80)})" if nearest else row.part
    return f'{tow} <span class="second">{shown(row.track_id, 80)} · {part}, {ACTIVITY[row.activity]}</span>'


def _closest(row: Row) -> str:
    if row.closest is None:
        return "not known"
    place = unbroken(format_position(row.closest.lon_deg, row.closest.lat_deg))
    return f'{unbroken(format_time(row.closest.utc))} <span class="second">{place}</span>'


def _flags(row: Row, result: CheckResult) -> dict[str, str]:
    """Return what the flags that a row names say of its tow."""
    kinds = row.gear.flags if row.gear is not None else ()
    tows = result.gear.tows if result.gear is not None and kinds else ()
    flags = [flag for tow in tows if (tow.track_id, tow.tow) == (row.track_id, row.tow) for flag in tow.flags]
    said = {flag.kind: flag.words for flag in reversed(flags)}
    return {kind: said.get(kind, kind.replace("_", " ")) for kind in kinds}


def _gear(row: Row, flags: Mapping[str, str]) -> Iterator[str]:
    if row.gear is None:
        return
    likely, rope = row.gear.likely_clearance_m, row.gear.rope_clearance_m
    yield (
        f"The gear is {TIER[row.gear.tier]}; clearance of the likely corridor"
        f" ({row.gear.sigmas:g} standard deviations) {_length(likely)}, by the rope bound {_length(rope)}"
    )
    yield from (f"There: {shown(words, SENTENCE)}" for words in flags.values())


def _length(length_m: float | None) -> str:
    return "not computed" if length_m is None else unbroken(format_length(length_m))


def _stays(row: Row) -> Iterator[str]:
    for stay in row.inside[:_MOST_STAYS]:
        yield _stay(stay)
    if len(row.inside) > _MOST_STAYS:
        more = count_of(len(row.inside) - _MOST_STAYS, "more stay", "more stays")
        yield f"and {more}; see the embedded result"
    for stretch in row.close[:_MOST_STAYS]:
        length = "" if stretch.seconds is None else f" ({format_duration(stretch.seconds)})"
        if np.isnat(stretch.from_utc) and np.isnat(stretch.to_utc):
            yield f"Nearer than required, times not known{length}"
        else:
            times = f"{format_time(stretch.from_utc)} to {format_time(stretch.to_utc)}"
            yield f"Nearer than required from {times}{length}"
    if len(row.close) > _MOST_STAYS:
        more = count_of(len(row.close) - _MOST_STAYS, "more stretch", "more stretches")
        yield f"and {more}; see the embedded result"


def _stay(stay: InsideStretch) -> str:
    enter = unbroken(format_position(stay.enter_lon_deg, stay.enter_lat_deg))
    leave = unbroken(format_position(stay.leave_lon_deg, stay.leave_lat_deg))
    if np.isnat(stay.enter_utc) and np.isnat(stay.leave_utc):
        ends = f"Inside from {enter} to {leave}, times not known"
    else:
        times = (format_time(stay.enter_utc), format_time(stay.leave_utc))
        ends = f"Inside from {times[0]} at {enter} to {times[1]} at {leave}"
    duration = "" if stay.seconds is None else f", {format_duration(stay.seconds)}"
    speed = "" if stay.mean_speed_kn is None else f", mean speed {stay.mean_speed_kn:.1f} kn"
    slowest = "" if stay.min_speed_kn is None else f", slowest {stay.min_speed_kn:.1f} kn"
    return f"{ends}: {unbroken(format_length(stay.length_m))}{duration}{speed}{slowest}"
