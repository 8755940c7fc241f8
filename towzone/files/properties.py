"""Zone properties from GeoJSON members or table columns to the fields of a zone, strictly."""

from __future__ import annotations

import difflib
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

from towzone.errors import UsageError, quoted
from towzone.files.json_text import from_json_text
from towzone.files.rule_properties import read_rules
from towzone.geodesy.lines import LineKind
from towzone.model.rules import Rules
from towzone.model.zone import DEFAULT_PROHIBITS, Prohibition, ZoneKind
from towzone.units import parse_length

__all__ = ["KNOWN_PROPERTIES", "ZoneFields", "read_properties"]

KNOWN_PROPERTIES = (
    "zone_id",
    "name",
    "kind",
    "edges",
    "prohibits",
    "gears",
    "except_gears",
    "season",
    "valid_from",
    "valid_until",
    "time_zone",
    "transit_min_speed",
    "margin",
    "radius",
    "allowed_only_inside",
    "source",
    "issued",
    "note",
    "datum_note",
    "datum_accuracy",
)

_CLOSE_ENOUGH = 0.8
"""Own choice: catches one wrong or missing letter in a short name, and leaves other words alone."""

_Word = TypeVar("_Word", bound=StrEnum)


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneFields:
    """What the properties of one feature say; see `towzone.model.zone.Zone` for the meanings.

    ``zone_id`` and ``name`` are empty and ``edges`` is ``None`` where the file does not say.
    """

    zone_id: str
    name: str
    kind: ZoneKind
    edges: LineKind | None
    prohibits: tuple[Prohibition, ...]
    margin_m: float | None
    radius_m: float
    rules: Rules
    source: str
    issued: str
    note: str
    datum_note: str
    datum_accuracy_m: float


def read_properties(properties: Mapping[str, object]) -> tuple[ZoneFields | None, list[str], list[str]]:
    """Return the fields of a zone, the problems and the remarks.

    Parameters
    ----------
    properties : mapping
        Members or columns by name; empty text, ``None`` and NaN count as not given, and lists may be
        JSON text, because a table has no lists. Names that are not known are left alone.

    Returns
    -------
    ZoneFields or None
        ``None`` when there are problems.
    list of str
        What must be mended: every unknown word, missing kind, length without a unit.
    list of str
        Names that look like a known one but are not read.
    """
    reader = _Reader({key: value for key, value in properties.items() if not _is_blank(value)})
    kind = reader.kind()
    rules, rule_problems, rule_remarks = read_rules(_rule_values(reader.given))
    reader.problems += rule_problems
    fields = ZoneFields(
        zone_id=reader.text("zone_id"),
        name=reader.text("name"),
        kind=kind or ZoneKind.OTHER,
        edges=reader.word("edges", LineKind),
        prohibits=reader.prohibits(kind),
        margin_m=reader.length_m("margin"),
        radius_m=reader.length_m("radius") or 0.0,
        rules=rules,
        source=reader.text("source"),
        issued=reader.text("issued"),
        note=reader.text("note"),
        datum_note=reader.text("datum_note"),
        datum_accuracy_m=reader.length_m("datum_accuracy") or 0.0,
    )
    remarks = [
        f"property {quoted(key)} is not read; did you mean {quoted(near)}?"
        for key in reader.given
        if (near := _near_miss(key, reader.given))
    ]
    return (None if reader.problems else fields), reader.problems, [*remarks, *rule_remarks]


def _is_blank(value: object) -> bool:
    if isinstance(value, str):
        return not value.strip()
    return value is None or (isinstance(value, float) and math.isnan(value))


def _rule_values(given: Mapping[str, object]) -> dict[str, object]:
    """Return the given values with lists as lists, without those that are empty."""
    values = {name: from_json_text(value) for name, value in given.items()}
    return {name: value for name, value in values.items() if value not in ([], {}, None, "null")}


def _near_miss(key: str, given: Mapping[str, object]) -> str:
    """Return the known name that a foreign one was probably meant to be, or nothing."""
    if key in KNOWN_PROPERTIES:
        return ""
    plain = key.strip().lower().replace("-", "_").replace(" ", "_")
    for known in KNOWN_PROPERTIES:
        if plain.replace("_", "").rstrip("s") == known.replace("_", "").rstrip("s"):
            return known
    near = difflib.get_close_matches(plain, KNOWN_PROPERTIES, n=1, cutoff=_CLOSE_ENOUGH)
    # A near miss of a name that is there as well is most likely a word of its own.
    return near[0] if near and near[0] not in given else ""


class _Reader:
    """The properties that were given, and what was wrong with them."""

    def __init__(self, given: Mapping[str, object]) -> None:
        self.given = given
        self.problems: list[str] = []

    def kind(self) -> ZoneKind | None:
        if "kind" not in self.given:
            near = next((key for key in self.given if _near_miss(key, self.given) == "kind"), None)
            found = f" (there is {quoted(near)}: write it 'kind')" if near else ""
            self.problems.append(f"property 'kind' is missing{found}; allowed are {_allowed(ZoneKind)}")
            return None
        return self.word("kind", ZoneKind)

    def text(self, name: str) -> str:
        value = self.given.get(name, "")
        if isinstance(value, bool) or not isinstance(value, (str, int, float)):
            self.problems.append(f"property '{name}' is {quoted(value)}, it must be text")
            return ""
        return str(value).strip()

    def word(self, name: str, words: type[_Word]) -> _Word | None:
        if name not in self.given:
            return None
        return self._one_of(name, self.given[name], words)

    def _one_of(self, name: str, value: object, words: type[_Word]) -> _Word | None:
        text = value.strip() if isinstance(value, str) else value
        if isinstance(text, str) and text in list(words):
            return words(text)
        parts = [part.strip() for part in text.split(",")] if isinstance(text, str) else []
        form = f"; write a list, {json.dumps(parts)}" if len(parts) > 1 and set(parts) <= set(words) else ""
        self.problems.append(f"property '{name}' has {quoted(value)}; allowed are {_allowed(words)}{form}")
        return None

    def prohibits(self, kind: ZoneKind | None) -> tuple[Prohibition, ...]:
        if "prohibits" not in self.given:
            if kind is ZoneKind.OTHER:
                allowed = _allowed(Prohibition)
                self.problems.append(
                    f"a zone of kind 'other' needs property 'prohibits'; allowed are {allowed}"
                )
            return DEFAULT_PROHIBITS.get(kind, ()) if kind is not None else ()
        value = from_json_text(self.given["prohibits"])
        values = value if isinstance(value, (list, tuple)) else [value]
        if not values:
            self.problems.append(
                f"property 'prohibits' is an empty list; allowed are {_allowed(Prohibition)}"
            )
        words = [self._one_of("prohibits", item, Prohibition) for item in values]
        return tuple(dict.fromkeys(word for word in words if word is not None))

    def length_m(self, name: str) -> float | None:
        if name not in self.given:
            return None
        value = self.given[name]
        if not isinstance(value, str):
            self.problems.append(
                f"property '{name}' is {quoted(value)} without a unit; write for example \"500m\""
            )
            return None
        try:
            return parse_length(value)
        except UsageError as error:
            self.problems.append(f"property '{name}': {error}")
            return None


def _allowed(words: type[StrEnum]) -> str:
    return ", ".join(words)
