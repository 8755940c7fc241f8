"""GeoJSON (RFC 7946, and the older ``crs`` member): every feature becomes a zone or a problem.

References
----------
RFC 7946 (2016), The GeoJSON Format; section 4 for the coordinate reference system, and
"The GeoJSON Format Specification" (2008), section 3, for the ``crs`` member of older files.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Mapping
from typing import Any

from towzone.errors import InputError, Problem, quoted
from towzone.files.columns import pack
from towzone.files.datum import DatumError, is_degrees
from towzone.files.features import GEOMETRY_TYPES, GeometryReader, Layer, RawFeature

__all__ = ["looks_like_json", "read_geojson"]

_BOM_UTF8 = b"\xef\xbb\xbf"
_CRS_NAME = re.compile(
    r"(?:urn:(?:x-)?ogc:def:crs:(?P<urn>EPSG|OGC|ESRI):[^:]*:"
    r"|https?://www\.opengis\.net/def/crs/(?P<uri>EPSG|OGC)/[^/]*/"
    r"|(?P<plain>EPSG|OGC|ESRI):)(?P<code>[A-Z0-9]+)",
    re.ASCII | re.IGNORECASE,
)
_WGS84_NAMES = frozenset({"EPSG:4326", "OGC:CRS84", "EPSG:4979", "OGC:CRS84H"})
"""GeoJSON positions are longitude first whatever the axis order of the register (2008, section 2.1.1)."""


class _DuplicateKeyError(ValueError):
    """A member is given twice; which one counts nobody can say."""


def looks_like_json(data: bytes) -> bool:
    """Return whether the content begins as a JSON object or array does."""
    return data[:4096].removeprefix(_BOM_UTF8).lstrip(b" \t\r\n").startswith((b"{", b"["))


def read_geojson(data: bytes, file: str) -> Layer:
    """Return the features of a GeoJSON text.

    Parameters
    ----------
    data : bytes
        UTF-8, with or without byte order mark.
    file : str
        Path as the user wrote it, for messages.

    Returns
    -------
    Layer
        Features that could be read and problems of those that could not.

    Raises
    ------
    InputError
        Not UTF-8, not JSON, a member given twice, or no GeoJSON object at the top.
    """
    document = _document(_text(data, file), file)
    kind = document.get("type") if isinstance(document, Mapping) else None
    if not isinstance(document, Mapping) or kind not in ("FeatureCollection", "Feature", *GEOMETRY_TYPES):
        found = f"type {quoted(kind)}" if isinstance(document, Mapping) else "not an object"
        message = f"this is JSON but not GeoJSON ({found}); a FeatureCollection is needed"
        raise InputError(file, [Problem("", message)])
    layer = Layer()
    features: Any = [document]
    if kind == "FeatureCollection":
        features = document.get("features")
        if not isinstance(features, list) or not features:
            message = "the FeatureCollection holds no features, so there is nothing to keep clear of"
            raise InputError(file, [Problem("", message)])
    elif kind != "Feature":
        features = [{"type": "Feature", "properties": {}, "geometry": document}]
    if "crs" in document:
        layer.crs = _crs(document["crs"], "crs", layer.problems)
    reader = GeometryReader(degrees=not layer.crs or is_degrees(layer.crs))
    for number, feature in enumerate(features, start=1):
        _add_feature(feature, number, document, reader, layer)
    layer.remarks += [("", sentence) for sentence in reader.remarks()]
    return layer


def _text(data: bytes, file: str) -> str:
    body = data.removeprefix(_BOM_UTF8)
    try:
        return body.decode("utf-8")
    except UnicodeDecodeError as error:
        line = body[: error.start].count(b"\n") + 1
        offset = error.start + len(data) - len(body)
        message = f"byte {offset} (0x{body[error.start]:02x}) is not UTF-8; save the file as UTF-8"
        raise InputError(file, [Problem(f"line {line}", message)]) from error


def _document(text: str, file: str) -> object:
    try:
        return json.loads(text, object_pairs_hook=_unique_members)
    except json.JSONDecodeError as error:
        where = f"line {error.lineno} column {error.colno}"
        message = f"the JSON is damaged or cut off here ({error.msg}); nothing of the file is used"
    except RecursionError:
        where, message = "", "the JSON is nested too deeply; this is not a usable zone file"
    except _DuplicateKeyError as error:
        where, message = "", str(error)
    except ValueError as error:  # a number of thousands of digits
        where, message = "", f"a number cannot be read ({error})"
    raise InputError(file, [Problem(where, message)])


def _unique_members(pairs: list[tuple[str, object]]) -> dict[str, object]:
    """Return an object of JSON, its positions packed; refuse a member given twice."""
    members = dict(pairs)
    if len(members) < len(pairs):
        twice = Counter(name for name, _ in pairs).most_common(1)[0][0]
        about = next(
            (f" (in the object with {key} {quoted(members[key])})" for key in _LABELS if key in members), ""
        )
        message = f"member {quoted(twice)} is given twice{about}; keep one of them"
        raise _DuplicateKeyError(message)
    pack(members)
    return members


_LABELS = ("zone_id", "name", "kind", "type")


def _add_feature(
    feature: object, number: int, document: Mapping[str, object], reader: GeometryReader, layer: Layer
) -> None:
    where = f"feature {number}"
    if not isinstance(feature, Mapping) or feature.get("type") != "Feature":
        found = quoted(feature.get("type")) if isinstance(feature, Mapping) else quoted(feature)
        layer.problems.append(Problem(where, f"this is not a Feature but {found}"))
        return
    properties = feature.get("properties")
    if properties is None:
        properties = {}
    if not isinstance(properties, Mapping):
        layer.problems.append(Problem(where, f"properties is {quoted(properties)}, not an object"))
        return
    where = named(where, properties)
    _check_inner_crs(feature, document, where, layer.problems)
    if "geometry" not in feature:
        layer.problems.append(Problem(where, "the feature has no geometry; a zone needs a place"))
        return
    shape, problems = reader.read(feature["geometry"], where)
    layer.problems += problems
    if shape is not None:
        layer.features.append(RawFeature(number=number, where=where, properties=properties, shape=shape))


def named(where: str, properties: Mapping[str, object]) -> str:
    """Return the place of a feature with the name of its zone, when it has one."""
    for key in ("name", "zone_id"):
        value = properties.get(key)
        if isinstance(value, str) and value.strip():
            return f"{where} (zone {quoted(value.strip())})"
    return where


def _check_inner_crs(
    feature: Mapping[str, object], document: Mapping[str, object], where: str, problems: list[Problem]
) -> None:
    """Refuse a ``crs`` below the top unless it says what the top says."""
    todo: list[Any] = [feature] if feature is not document else []
    todo += [feature["geometry"]] if isinstance(feature.get("geometry"), Mapping) else []
    while todo:
        member = todo.pop()
        if "crs" in member and member is not document and member["crs"] != document.get("crs"):
            own: list[Problem] = []
            if _crs(member["crs"], where, own) or own or "crs" in document:
                message = (
                    "this feature has a crs of its own; put one crs at the top of the file for all features"
                )
                problems.append(Problem(where, message))
                return
        inner = member.get("geometries")
        todo += [part for part in inner if isinstance(part, Mapping)] if isinstance(inner, list) else []


def _crs(crs: object, where: str, problems: list[Problem]) -> str:
    """Return the code of a ``crs`` member, empty for WGS 84; what cannot be looked up here is a problem."""
    name = None
    if isinstance(crs, Mapping) and crs.get("type") == "name" and isinstance(crs.get("properties"), Mapping):
        name = crs["properties"].get("name")
    if isinstance(crs, Mapping) and crs.get("type") == "link":
        message = "the crs is a link, which is never followed; name the crs, or convert the file to WGS 84"
    elif crs is None:
        message = "the crs is null, so the positions have no known datum; remove it if they are WGS 84"
    elif not isinstance(name, str):
        message = f"the crs {quoted(crs)} has no name; remove it if the positions are WGS 84"
    else:
        match = _CRS_NAME.fullmatch(name.strip())
        if match is not None:
            code = f"{match['urn'] or match['uri'] or match['plain']}:{match['code']}".upper()
            return "" if code in _WGS84_NAMES else _known(code, where, problems)
        message = f"the crs name {quoted(name)} is not known; write for example urn:ogc:def:crs:EPSG::4230"
    problems.append(Problem(where, message))
    return ""


def _known(code: str, where: str, problems: list[Problem]) -> str:
    try:
        is_degrees(code)
    except DatumError as error:
        problems.append(Problem(where, f"{error}; write for example urn:ogc:def:crs:EPSG::4230"))
        return ""
    return code
