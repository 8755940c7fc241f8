"""The form of a zone file as a JSON Schema, made from the same names and words the reader knows.

The schema is a little stricter than the reader: lists as JSON text, spaces around words and numbers for
truths are read but not published. What it cannot say is left to the reader: that a time zone exists, that
``valid_until`` comes after ``valid_from``, that ids differ, and everything about geometry beyond its form.

References
----------
JSON Schema, draft 2020-12; regular expressions as in ECMA-262.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Any

from towzone.files.properties import KNOWN_PROPERTIES
from towzone.geodesy.lines import LineKind
from towzone.model.gears import GEAR_NAMES
from towzone.model.zone import DEFAULT_PROHIBITS, Prohibition, ZoneKind

__all__ = ["properties_schema", "zone_schema"]

_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_END = r"$(?!\n)"
"""In some languages ``$`` also matches before a last line end."""


def _quantity(digits: dict[str, int]) -> str:
    """Return the pattern of a number with its unit, of so few digits that the reader's limit is not met."""
    fraction = r"(\.[0-9]{0,12})?"
    forms = [rf"([0-9]{{1,{most}}}{fraction}|\.[0-9]{{1,12}}) ?{unit}" for unit, most in digits.items()]
    return rf"^\+?({'|'.join(forms)}){_END}"


_LENGTH = _quantity({"m": 7, "km": 4, "nmi": 4, "NM": 4, "ftm": 7})
_SPEED = _quantity({"kn": 3, "m/s": 2, "km/h": 3})
_LONG, _SHORT = "(0[13578]|1[02])", "(0[469]|11)"
_MONTH_DAY = (
    rf"^--({_LONG}-(0[1-9]|[12][0-9]|3[01])|{_SHORT}-(0[1-9]|[12][0-9]|30)|02-(0[1-9]|[12][0-9]|END)){_END}"
)
_LEAP_YEAR = "((19|20|21)(0[48]|[2468][048]|[13579][26])|2000)"
_DATE = (
    rf"((19|20|21)[0-9]{{2}}-({_LONG}-(0[1-9]|[12][0-9]|3[01])|{_SHORT}-(0[1-9]|[12][0-9]|30)"
    rf"|02-(0[1-9]|1[0-9]|2[0-8]))|{_LEAP_YEAR}-02-29)"
)
_TIME = r"(([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9](\.[0-9]{1,6})?)?|24:00(:00(\.0{1,6})?)?)"
_OFFSET = r"(Z|[+-]([01][0-9]|2[0-3]):[0-5][0-9])?"
_INSTANT = rf"^{_DATE}([T ]{_TIME}{_OFFSET})?{_END}"
_TIME_ZONE = rf"^[A-Za-z0-9_+-]+(/[A-Za-z0-9_+-]+)*{_END}"
_BLANK: dict[str, Any] = {"enum": [None, ""]}
"""What counts as not given."""


def zone_schema() -> dict[str, Any]:
    """Return the JSON Schema of a zone file in GeoJSON with positions on WGS 84."""
    return {
        "$schema": _DIALECT,
        "title": "towzone zone file",
        "description": "Zones as a GeoJSON FeatureCollection (RFC 7946), longitude and latitude on WGS 84.",
        "type": "object",
        "required": ["type", "features"],
        "properties": {
            "type": {"const": "FeatureCollection"},
            "features": {"type": "array", "minItems": 1, "items": {"$ref": "#/$defs/feature"}},
        },
        "not": {"required": ["crs"]},
        "$defs": {
            "feature": {
                "type": "object",
                "required": ["type", "properties", "geometry"],
                "properties": {
                    "type": {"const": "Feature"},
                    "properties": {"$ref": "#/$defs/properties"},
                    "geometry": {"$ref": "#/$defs/geometry"},
                },
            },
            "properties": properties_schema(),
            **_geometry_definitions(),
        },
    }


def properties_schema() -> dict[str, Any]:
    """Return the JSON Schema of the properties of one zone."""
    described = _properties()
    return {
        "type": "object",
        "required": ["kind"],
        "properties": {name: described[name] for name in KNOWN_PROPERTIES},
        "additionalProperties": True,
        "if": {
            "properties": {
                "kind": {"enum": [kind.value for kind in ZoneKind if kind not in DEFAULT_PROHIBITS]}
            }
        },
        "then": {"required": ["prohibits"], "properties": {"prohibits": {"not": _BLANK}}},
    }


def _properties() -> dict[str, dict[str, Any]]:
    gears = _one_or_list({"enum": list(GEAR_NAMES)}, at_least=0)
    window = {
        "type": "object",
        "required": ["from", "to"],
        "properties": {"from": _text(_MONTH_DAY), "to": _text(_MONTH_DAY)},
        "additionalProperties": False,
    }
    return {
        "zone_id": _free("Unique text id; default: file name and feature number."),
        "name": _free("What the notice calls the zone; default: zone_id."),
        "kind": {"description": "What lies there.", **_words(ZoneKind)},
        "edges": _optional("How corners are joined; default: lonlat, with a notice.", _words(LineKind)),
        "prohibits": _optional(
            "What must not happen there; the default follows from kind.",
            _one_or_list(_words(Prohibition), at_least=1),
        ),
        "gears": _optional("Gear codes the rule covers; default: all.", gears),
        "except_gears": _optional("Gear codes the rule spares; default: none.", gears),
        "season": _optional(
            "Days of every year, both ends inside; may run over the turn of the year. Default: always.",
            _one_or_list(window, at_least=0),
        ),
        "valid_from": _optional("Date or date-time at which the rule begins.", _text(_INSTANT)),
        "valid_until": _optional("Date, to its end, or date-time at which it ends.", _text(_INSTANT)),
        "time_zone": _optional("IANA name for dates and seasons; default: UTC.", _text(_TIME_ZONE)),
        "transit_min_speed": _optional("Least speed of a crossing without fishing.", _text(_SPEED)),
        "margin": _optional("Required clearance, with its unit.", _text(_LENGTH)),
        "radius": _optional("The zone is all within this distance of the shape.", _text(_LENGTH)),
        "allowed_only_inside": _optional("The rule is the other way round.", {"type": "boolean"}),
        "source": _free("Citation of the notice."),
        "issued": _free("Date of the notice."),
        "note": _free("Free text."),
        "datum_note": _free("How the corners came to WGS 84, when they were converted before."),
        "datum_accuracy": _optional("Stated accuracy of that conversion, with its unit.", _text(_LENGTH)),
    }


def _words(words: type[StrEnum]) -> dict[str, Any]:
    return {"enum": [word.value for word in words]}


def _text(pattern: str) -> dict[str, Any]:
    return {"type": "string", "pattern": pattern}


def _free(description: str) -> dict[str, Any]:
    return {"description": description, "type": ["string", "number", "null"]}


def _optional(description: str, schema: dict[str, Any]) -> dict[str, Any]:
    return {"description": description, "anyOf": [schema, _BLANK]}


def _one_or_list(item: dict[str, Any], *, at_least: int) -> dict[str, Any]:
    return {"anyOf": [item, {"type": "array", "items": item, "minItems": at_least}]}


def _geometry_definitions() -> dict[str, Any]:
    position = {"$ref": "#/$defs/position"}
    line = {"type": "array", "minItems": 2, "items": position}
    polygon = {"type": "array", "minItems": 1, "items": {"type": "array", "minItems": 3, "items": position}}
    forms = {
        "Point": position,
        "MultiPoint": {"type": "array", "minItems": 1, "items": position},
        "LineString": line,
        "MultiLineString": {"type": "array", "minItems": 1, "items": line},
        "Polygon": polygon,
        "MultiPolygon": {"type": "array", "minItems": 1, "items": polygon},
    }
    simple = [
        {
            "type": "object",
            "required": ["type", "coordinates"],
            "properties": {"type": {"const": name}, "coordinates": coordinates},
        }
        for name, coordinates in forms.items()
    ]
    collection = {
        "type": "object",
        "required": ["type", "geometries"],
        "properties": {
            "type": {"const": "GeometryCollection"},
            "geometries": {"type": "array", "minItems": 1, "items": {"$ref": "#/$defs/geometry"}},
        },
    }
    return {
        "position": {
            "description": "Longitude, latitude in degrees; a height is left out.",
            "type": "array",
            "minItems": 2,
            "prefixItems": [
                {"type": "number", "minimum": -180, "maximum": 180},
                {"type": "number", "minimum": -90, "maximum": 90},
            ],
        },
        "geometry": {"oneOf": [*simple, collection]},
    }
