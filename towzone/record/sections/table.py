"""The rows of a result as a table for people; complete without any script, sorted and filtered with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from towzone.model.result import CheckResult, Part, Row
from towzone.model.zone import Zone
from towzone.plan.telling import corrected_ids
from towzone.record.catalogue import markup, say, say_count
from towzone.record.clock import LocalClock, local_clock
from towzone.record.sections.marks import status_mark
from towzone.record.sections.plain_table import length_cell, none, unbroken
from towzone.record.sections.table_details import FlagWords, details, words_of_flags
from towzone.record.sections.table_tools import MATTERS, file_tools, row_tools
from towzone.record.text import SENTENCE, escape, shown
from towzone.record.words import ACTIVITY, KIND, STATUS
from towzone.units import format_length, format_position, format_time

__all__ = ["rows_part"]

_COLUMNS = ("number", "result", "zone", "tow", "clearance", "required", "closest")
_SORTED_BY = {"number": "number", "zone": "zone", "tow": "tow", "clearance": "clearance", "closest": "time"}
"""What the script sorts by where a heading of these columns is pressed."""

_ID_LENGTH = 80
"""Characters of an identifier that a row shows. Own choice."""

_MANY = 200
"""With more rows than this the browser lays out only those in view. Own choice."""

_JOIN = " · "


@dataclass(frozen=True, slots=True, kw_only=True)
class _Context:
    zones: dict[str, Zone]
    zone_order: dict[str, int]
    tow_order: dict[tuple[str, int | None], int]
    several_tracks: bool
    corrected: frozenset[str]
    flags: FlagWords
    clock: LocalClock


def rows_part(result: CheckResult) -> str:
    """Return the section of the rows as HTML: tools, the table, worst first, and what is not listed."""
    parts = [row_tools(result, tows_in_order(result)), _table(result)] if result.rows else []
    if not result.rows:
        parts.append(none(escape(say("table.nothing"))))
    if result.beyond_reach:
        what = "gear" if any(row.part is Part.GEAR for row in result.rows) else "track"
        words = say_count(f"table.beyond.{what}", result.beyond_reach)
        parts.append(f'<p class="note">{escape(words)}</p>')
    if result.rows:
        parts.append(_reading(result))
    parts.append(file_tools())
    title = escape(say("table.title"))
    return (
        f'<section id="rows-part" aria-labelledby="rows-title"><h2 id="rows-title">{title}</h2>\n'
        + "\n".join(parts)
        + "</section>"
    )


def _reading(result: CheckResult) -> str:
    """Return what the uncertainties mean and which clock the sentences have, as HTML."""
    parts = [part for part in Part if any(row.part is part for row in result.rows)]
    said = [say(f"table.reading.{part}") for part in parts]
    said.append(say("table.reading.utc", name=local_clock(result).name))
    return f'<p id="rows-reading">{escape(" ".join(said))}</p>'


def tows_in_order(result: CheckResult) -> list[tuple[str, int | None]]:
    """Return the tracks and tows that have rows, in their order; what is outside tows last of each track."""
    tracks = {track.track_id: index for index, track in enumerate(result.tracks)}
    there = {(row.track_id, row.tow) for row in result.rows}
    return sorted(there, key=lambda one: (tracks[one[0]], one[1] is None, one[1] or 0))


def _table(result: CheckResult) -> str:
    context = _Context(
        zones={zone.zone_id: zone for zone in result.zones},
        zone_order={zone.zone_id: index for index, zone in enumerate(result.zones)},
        tow_order={tow: index for index, tow in enumerate(tows_in_order(result))},
        several_tracks=len(result.tracks) > 1,
        corrected=frozenset(corrected_ids(result)),
        flags=words_of_flags(result),
        clock=local_clock(result),
    )
    head = "".join(f"<th{_sorting(column)}>{_heading(column)}</th>" for column in _COLUMNS)
    columns = "".join(f'<col class="c-{column}">' for column in _COLUMNS)
    rows = sorted(enumerate(result.rows, start=1), key=lambda one: one[1].track_id in context.corrected)
    bodies = "\n".join(_row(number, row, context) for number, row in rows)
    kinds = [*(["many"] if len(result.rows) > _MANY else []), *(["tracks"] if context.several_tracks else [])]
    many = f' class="{" ".join(kinds)}"' if kinds else ""
    return (
        f'<table id="rows" role="table"{many}><caption>{_caption(result)}</caption>\n'
        f"<colgroup>{columns}</colgroup>\n"
        f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>\n{bodies}\n</table>'
    )


def _caption(result: CheckResult) -> str:
    """Return what the table is of; of one track alone its name stands here, not in every row."""
    if len(result.tracks) > 1:
        count = len(corrected_ids(result))
        last = f" {say_count('plan.beside.last', count)}" if count else ""
        return escape(f"{say('table.caption.tracks')}{last}")
    return markup("table.caption.track", track=shown(result.tracks[0].track_id, _ID_LENGTH))


def _sorting(column: str) -> str:
    by = f' data-sort="{_SORTED_BY[column]}"' if column in _SORTED_BY else ""
    return f' role="columnheader" scope="col" class="c-{column}"{by}'


def _heading(column: str) -> str:
    return escape(say(f"table.heading.{column}"))


def _row(number: int, row: Row, context: _Context) -> str:
    zone = context.zones[row.zone_id]
    cells = zip(_COLUMNS[1:], _cells(row, zone, context), strict=True)
    columns = "".join(
        f'<td role="cell" class="c-{column}" data-head="{_heading(column)}">{cell}</td>'
        for column, cell in cells
    )
    lines = "".join(f"<li>{line}</li>" for line in details(row, context.flags, context.clock))
    begin, end = _fold(row)
    return (
        f'<tbody role="rowgroup" class="row s-{row.status}" id="row-{number}"{_keys(row, context)}>\n'
        '<tr role="row" class="facts"><th role="rowheader" scope="rowgroup" rowspan="2" class="c-number">'
        f"{_button(number, row)}</th>{columns}</tr>\n"
        f'<tr role="row" class="explain"><td role="cell" colspan="{len(_COLUMNS) - 1}">'
        f'{begin}<p id="explain-{number}">{shown(row.explain, SENTENCE)}</p>'
        f"{f'<ul>{lines}</ul>' if lines else ''}{end}</td></tr></tbody>"
    )


def _fold(row: Row) -> tuple[str, str]:
    """Return what stands around the sentence of a row that a phone shows in brief: open elsewhere."""
    if row.status in MATTERS:
        return "", ""
    words = escape(say("table.row.details"))
    return f'<details class="of-row" open><summary>{words}</summary>', "</details>"


def _keys(row: Row, context: _Context) -> str:
    """Return what the script sorts and filters by; what is not known has no attribute."""
    keys: dict[str, object] = {
        "status": row.status,
        "zone": context.zone_order[row.zone_id],
        "tow": context.tow_order[row.track_id, row.tow],
    }
    if row.clearance_m is not None:
        keys["clearance"] = float(row.clearance_m)
    if row.closest is not None and not np.isnat(row.closest.utc):
        keys["time"] = int(row.closest.utc.astype("datetime64[us]").astype(np.int64)) / 1e6
    if row.track_id in context.corrected:
        # Rows of a line that nobody asked for never stand between the others, however they are sorted.
        keys["last"] = 1
    return "".join(f' data-{name}="{value}"' for name, value in keys.items())


def _button(number: int, row: Row) -> str:
    label = escape(say("table.row.show", number=number))
    return (
        f'<button type="button" class="show s-{row.status}" data-row="{number}" aria-label="{label}" '
        f'aria-describedby="explain-{number}">{number}</button>'
    )


def _cells(row: Row, zone: Zone, context: _Context) -> Sequence[str]:
    kind = escape(KIND[zone.kind])
    below = markup("table.row.zone", kind=kind, zone_id=shown(zone.zone_id, _ID_LENGTH))
    return (
        status_mark(row.status, STATUS[row.status]),
        f"<strong>{shown(zone.name)}</strong> {_second(below)}",
        _tow(row, context),
        length_cell(row.clearance_m),
        _required(row),
        _closest(row, context.clock),
    )


def _second(markup_text: str) -> str:
    return f'<span class="second">{markup_text}</span>'


def _tow(row: Row, context: _Context) -> str:
    part = escape(say(f"table.part.{row.part}"))
    first = (
        markup("table.row.outside_tows", part=part)
        if row.tow is None
        else markup("table.row.tow", tow=str(row.tow), part=part)
    )
    nearest = row.gear.nearest_part if row.gear is not None else ""
    activity = escape(ACTIVITY[row.activity])
    doing = markup("table.row.nearest", nearest=shown(nearest, _ID_LENGTH), activity=activity)
    lines = [doing if nearest else activity]
    if context.several_tracks:
        corrected = f"{escape(say('shared.track.corrected'))} " if row.track_id in context.corrected else ""
        lines.append(f"{corrected}{shown(row.track_id, _ID_LENGTH)}")
    return f"{first} {_second(_JOIN.join(lines))}"


def _required(row: Row) -> str:
    spread = unbroken(f"±{row.uncertainty_m:.1f} m")
    margin = format_length(row.margin_m).split(" (")[0]
    return f"{unbroken(margin)} {_second(spread)}"


def _closest(row: Row, clock: LocalClock) -> str:
    if row.closest is None:
        return escape(say("table.row.not_known"))
    place = unbroken(format_position(row.closest.lon_deg, row.closest.lat_deg))
    if np.isnat(row.closest.utc):
        return f"{escape(say('shared.clock.not_known'))} {_second(place)}"
    local = f'<span class="local">{unbroken(clock.local(row.closest.utc))}</span>'
    return f"{unbroken(format_time(row.closest.utc))} {_second(_JOIN.join((local, place)))}"
