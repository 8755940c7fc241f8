"""A list of zones as text, JSON and CSV."""

from __future__ import annotations

import csv
import io
import json
import textwrap
from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import Any

from towzone import __version__
from towzone.caution import CAUTION
from towzone.model.result import InputFile
from towzone.surveys.listing import Listed
from towzone.tables.cells import plain, safe_cell
from towzone.tables.result_json import rounded
from towzone.units import NAUTICAL_MILE_M, format_length, format_position

__all__ = ["LIST_SCHEMA", "list_to_csv", "list_to_json", "list_to_text"]

LIST_SCHEMA = "towzone.zones/1"
_WIDTH = 100
_DEGREE_DIGITS = 7
"""What a spreadsheet would run."""


def list_to_text(listed: Sequence[Listed], on: date | None) -> str:
    """Return zones for people, one block each, in file order."""
    lines = [f"{len(listed)} zone{'s' * (len(listed) != 1)}."]
    if on is not None:
        asked = ", ".join(
            f"{sum(1 for item in listed if item.in_force == word)} {said}"
            for word, said in (
                ("yes", "in force"),
                ("part of the day", "for part of the day"),
                ("no", "not in force"),
            )
        )
        lines[0] = f"{len(listed)} zone{'s' * (len(listed) != 1)}; on {on.isoformat()}: {asked}."
    for item in listed:
        lines += ["", *_block(item, on)]
    return "\n".join([*lines, "", textwrap.fill(CAUTION, _WIDTH)]) + "\n"


def _block(item: Listed, on: date | None) -> list[str]:
    zone = item.zone
    title = zone.zone_id if zone.name == zone.zone_id else f"{zone.zone_id}  {zone.name}"
    facts = [
        ("what", f"{zone.kind.value}, prohibits {', '.join(zone.prohibits)}"),
        ("where", f"{_corner(item, 'south')} to {_corner(item, 'north')}"),
        ("form", _form(item)),
        ("margin", "none stated" if zone.margin_m is None else format_length(zone.margin_m)),
        ("rule", "; ".join(item.rules) or "always, all gears"),
    ]
    if on is not None:
        change = f"next change {_time(item.next_change)}" if item.next_change else "no further change"
        facts.append(("in force", f"{item.in_force}, {change}"))
    facts.append(("source", zone.source or "no source stated"))
    return [
        plain(title),
        *(
            textwrap.fill(plain(text), _WIDTH, initial_indent=f"  {word:<9}", subsequent_indent=" " * 11)
            for word, text in facts
        ),
    ]


def _corner(item: Listed, side: str) -> str:
    box = item.extent
    if side == "south":
        return format_position(box.west_deg, box.south_deg)
    return format_position(box.east_deg, box.north_deg)


def _form(item: Listed) -> str:
    zone = item.zone
    edges = zone.edges.value if zone.edges_stated else f"{zone.edges.value} (not stated)"
    parts = [f"{item.corners} corners" if item.corners != 1 else "1 corner"]
    if item.parts > 1:
        parts.append(f"{item.parts} parts")
    if zone.shape.polygons or zone.shape.lines:
        parts.append(f"edges {edges}")
    if zone.radius_m:
        parts.append(f"all within {format_length(zone.radius_m)}")
    if item.area_m2 is not None:
        parts.append(f"{item.area_m2 / 1e6:.2f} km² ({item.area_m2 / NAUTICAL_MILE_M**2:.2f} nmi²)")
    return ", ".join(parts)


def list_to_json(listed: Sequence[Listed], on: date | None, inputs: Sequence[InputFile]) -> str:
    """Return zones as JSON text: keys sorted, degrees, metres and UTC."""
    data = {
        "schema": LIST_SCHEMA,
        "towzone": __version__,
        "on": on.isoformat() if on is not None else None,
        "inputs": [{"file": i.file, "sha256": i.sha256, "bytes": i.bytes} for i in inputs],
        "zones": [_data(item) for item in listed],
    }
    return json.dumps(data, sort_keys=True, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _data(item: Listed) -> dict[str, Any]:
    zone, box = item.zone, item.extent
    return {
        "zone_id": zone.zone_id,
        "name": zone.name,
        "kind": zone.kind.value,
        "edges": zone.edges.value,
        "edges_stated": zone.edges_stated,
        "prohibits": [word.value for word in zone.prohibits],
        "margin_m": rounded(zone.margin_m),
        "radius_m": rounded(zone.radius_m),
        "south_deg": rounded(box.south_deg, _DEGREE_DIGITS),
        "west_deg": rounded(box.west_deg, _DEGREE_DIGITS),
        "north_deg": rounded(box.north_deg, _DEGREE_DIGITS),
        "east_deg": rounded(box.east_deg, _DEGREE_DIGITS),
        "area_m2": rounded(item.area_m2, 0),
        "corners": item.corners,
        "parts": item.parts,
        "rules": list(item.rules),
        "in_force": item.in_force.value if item.in_force is not None else None,
        "next_change_utc": _time(item.next_change) if item.next_change is not None else None,
        "source": zone.source,
        "issued": zone.issued,
        "note": zone.note,
        "file": zone.file,
        "feature": zone.feature,
    }


def _time(instant: datetime) -> str:
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def list_to_csv(listed: Sequence[Listed]) -> str:
    """Return one header and one line for each zone; lists are joined with a semicolon."""
    out = io.StringIO()
    names = list(_data(listed[0])) if listed else []
    writer = csv.DictWriter(out, names, lineterminator="\n")
    writer.writeheader()
    for item in listed:
        row = {
            name: "; ".join(value) if isinstance(value, list) else value
            for name, value in _data(item).items()
        }
        writer.writerow({name: safe_cell(value) for name, value in row.items()})
    return out.getvalue()
