"""What changed between two editions of a zone file, as text and JSON."""

from __future__ import annotations

import json
import textwrap
from typing import Any

from towzone import __version__
from towzone.model.result import InputFile
from towzone.model.zone import Zone
from towzone.surveys.compare import Changes, CornerChange, PropertyChange, ZoneChange
from towzone.tables.cells import plain
from towzone.tables.result_json import rounded
from towzone.units import format_length, format_position

__all__ = ["CHANGES_SCHEMA", "changes_to_json", "changes_to_text"]

CHANGES_SCHEMA = "towzone.changes/1"
_WIDTH = 100
_DEGREE_DIGITS = 7
_METRE_DIGITS = 3


def changes_to_text(changes: Changes, old: str, new: str) -> str:
    """Return changes for people: counts first, then removed, added and changed zones."""
    if changes.none:
        same = f"{changes.unchanged} zone{'s' * (changes.unchanged != 1)}"
        return plain(f"The same: {same} in {old} and {new}.") + "\n"
    lines = [
        f"From {plain(old)} to {plain(new)}: {len(changes.changed)} changed, {len(changes.added)} added,"
        f" {len(changes.removed)} removed, {changes.unchanged} the same."
    ]
    lines += [line for zone in changes.removed for line in ("", f"removed  {_title(zone)}")]
    lines += [line for zone in changes.added for line in ("", f"added    {_title(zone)}")]
    for change in changes.changed:
        by = "" if change.matched_by == "zone_id" else f" (matched by {change.matched_by}, the id is new)"
        lines += ["", f"changed  {_title(change.new)}{by}"]
        lines += [_property_line(one) for one in change.properties]
        lines += [_corner_line(one) for one in change.corners]
    return "\n".join(lines) + "\n"


def _title(zone: Zone) -> str:
    return plain(zone.zone_id if zone.name == zone.zone_id else f"{zone.zone_id}  {zone.name}")


def _property_line(change: PropertyChange) -> str:
    old, new = (repr(value) if value else "nothing" for value in (change.old, change.new))
    return textwrap.fill(
        plain(f"{change.name}: {old} -> {new}"), _WIDTH, initial_indent="  ", subsequent_indent="    "
    )


def _corner_line(change: CornerChange) -> str:
    if change.old is None and change.new is not None:
        return f"  {change.new_corner} is new: {format_position(*change.new)}"
    if change.new is None and change.old is not None:
        return f"  {change.old_corner} is gone: {format_position(*change.old)}"
    if change.old is None or change.new is None or change.moved_m is None:
        return ""
    name = change.old_corner
    if change.new_corner != change.old_corner:
        name += f" (now {change.new_corner})"
    moved = f"{change.moved_m:.3f} m" if change.moved_m < 1.0 else format_length(change.moved_m)
    return f"  {name} moved {moved}: {format_position(*change.old)} -> {format_position(*change.new)}"


def changes_to_json(changes: Changes, old: InputFile, new: InputFile) -> str:
    """Return changes as JSON text: keys sorted, degrees and metres."""
    data = {
        "schema": CHANGES_SCHEMA,
        "towzone": __version__,
        "old": {"file": old.file, "sha256": old.sha256, "bytes": old.bytes},
        "new": {"file": new.file, "sha256": new.sha256, "bytes": new.bytes},
        "same": changes.none,
        "unchanged": changes.unchanged,
        "added": [_zone(zone) for zone in changes.added],
        "removed": [_zone(zone) for zone in changes.removed],
        "changed": [_change(change) for change in changes.changed],
    }
    return json.dumps(data, sort_keys=True, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _zone(zone: Zone) -> dict[str, Any]:
    return {"zone_id": zone.zone_id, "name": zone.name, "feature": zone.feature}


def _change(change: ZoneChange) -> dict[str, Any]:
    return {
        "old": _zone(change.old),
        "new": _zone(change.new),
        "matched_by": change.matched_by,
        "properties": [{"name": one.name, "old": one.old, "new": one.new} for one in change.properties],
        "corners": [
            {
                "old_corner": one.old_corner,
                "new_corner": one.new_corner,
                **_place("old", one.old),
                **_place("new", one.new),
                "moved_m": rounded(one.moved_m, _METRE_DIGITS),
            }
            for one in change.corners
        ],
    }


def _place(word: str, place: tuple[float, float] | None) -> dict[str, float | None]:
    lon, lat = place if place is not None else (None, None)
    return {f"{word}_lat_deg": rounded(lat, _DEGREE_DIGITS), f"{word}_lon_deg": rounded(lon, _DEGREE_DIGITS)}
