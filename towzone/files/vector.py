"""Vector files other than GeoJSON, through fiona, behind guards.

The library opens addresses and virtual paths, reads the first layer only, hands out features without a
geometry where a file is damaged, and knows no missing datum; each of that is caught here.
"""

from __future__ import annotations

import codecs
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import fiona

from towzone.errors import UsageError, quoted
from towzone.files.datum import DatumError, is_degrees
from towzone.files.features import GeometryReader, Layer, RawFeature
from towzone.files.fiona_guard import damaged, guarded, plain_geometry, refused
from towzone.files.geojson import looks_like_json, named, read_geojson
from towzone.files.geopackage import GeoPackageError, geopackage_tables
from towzone.files.geoparquet import read_geoparquet
from towzone.files.properties import KNOWN_PROPERTIES
from towzone.files.vector_formats import CONVERTIBLE, DIRECT, Format, check_markup, recognise

__all__ = ["AS_IT_STANDS", "Opening", "companion_paths", "read_layers", "read_vector"]

_SHAPEFILE_NAME = 10
"""Longest column name in the dBase table of a Shapefile; from memory, and as the library cuts them."""
_OPTIONS: dict[str, dict[str, str]] = {"GML": {"WRITE_GFS": "NO", "DOWNLOAD_SCHEMA": "NO"}}
"""The library would write a file beside a GML file and fetch its schema."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """What a person states about a file.

    Parameters
    ----------
    layer : str
        The only layer wanted; empty for all.
    crs : str
        Coordinate reference system of layers that state none; empty if unknown.
    encoding : str
        Of the letters in a Shapefile; empty for what the file says.
    """

    layer: str = ""
    crs: str = ""
    encoding: str = ""


AS_IT_STANDS = Opening()


def read_vector(data: bytes, path: str) -> list[Layer]:
    """Return all layers of a GeoPackage, Shapefile or FlatGeobuf file.

    Parameters
    ----------
    data : bytes
        Content of the file, to recognise it; the library opens ``path`` itself.
    path : str
        An existing local file (`towzone.files.inputs.load` has seen to that).

    Raises
    ------
    InputError
        Not one of these formats, damaged, or a layer without coordinate reference system.
    """
    return _read(data, path, recognise(data, path, DIRECT), AS_IT_STANDS)


def read_layers(data: bytes, path: str, opening: Opening) -> list[Layer]:
    """Return the layers of any vector file that can be converted, as `read_vector` does.

    Raises
    ------
    InputError
        As `read_vector`; also a layer that is not there, a system stated for a file that states its own.
    UsageError
        The encoding is not known, or the file is no Shapefile.
    """
    if looks_like_json(data) or path.lower().endswith((".json", ".geojson")):
        if opening != AS_IT_STANDS:
            raise refused(
                path, "GeoJSON is in UTF-8, has no layers and is on WGS 84 unless it says otherwise"
            )
        return [read_geojson(data, path)]
    kind = recognise(data, path, CONVERTIBLE)
    if opening.encoding:
        _check_encoding(kind, opening.encoding)
    if kind.driver:
        return _read(data, path, kind, opening)
    if opening.layer:
        raise refused(path, f"a {kind.name} has no layers; leave out the layer {quoted(opening.layer)}")
    return [_with_crs(path, read_geoparquet(data, path), opening, kind)]


def _check_encoding(kind: Format, encoding: str) -> None:
    if kind.driver != "ESRI Shapefile":
        message = f"an encoding is for Shapefiles only; in a {kind.name} letters are always UTF-8"
        raise UsageError(message)
    try:
        codecs.lookup(encoding)
    except (LookupError, ValueError) as error:
        message = f"the encoding {quoted(encoding)} is not known; write for example cp1252 or iso-8859-1"
        raise UsageError(message) from error


def companion_paths(path: str) -> list[str]:
    """Return the paths of the files beside a Shapefile that are read with it; none for other formats."""
    if Path(path).suffix.lower() != ".shp":
        return []
    beside = (str(Path(path).with_suffix(suffix)) for suffix in (".cpg", ".dbf", ".prj", ".shx"))
    return [companion for companion in beside if Path(companion).exists()]


def _read(data: bytes, path: str, kind: Format, opening: Opening) -> list[Layer]:
    with guarded(path, kind.name):
        try:
            return _layers(data, path, kind, opening)
        except GeoPackageError as error:
            raise refused(path, str(error)) from error


def _layers(data: bytes, path: str, kind: Format, opening: Opening) -> list[Layer]:
    first = Layer()
    expected = -1
    names: tuple[str, ...] = (Path(path).stem,)
    if kind.driver == "GPKG":
        tables = geopackage_tables(data, path)
        names = tables.features
        first.remarks = [
            (f"table {quoted(name)}", "holds no geometries and is not read") for name in tables.others
        ]
    elif kind.root:
        expected, elements = check_markup(data, path, kind)
        first.remarks = _markup_remarks(path, kind, elements)
        names = tuple(fiona.listlayers(path, **_OPTIONS.get(kind.driver, {})))
        if len(set(names)) < len(names):
            raise refused(path, "two layers or folders have one name; give each its own")
    if opening.layer:
        names, expected = _wanted(path, names, opening.layer, first), -1
    layers = [first]
    for name in names:
        # One layer in every Shapefile and FlatGeobuf, whatever it is called.
        several = len(names) > 1
        key = None if kind.driver in ("ESRI Shapefile", "FlatGeobuf") else name
        read = sum(len(layer.features) for layer in layers)
        layers.append(_layer(path, kind, key, name if several else "", read, opening))
    found = sum(len(layer.features) for layer in layers)
    if found < expected and not any(layer.problems for layer in layers):
        raise refused(path, f"only {found} of {expected} features of the {kind.name} can be read")
    return layers


def _wanted(path: str, names: tuple[str, ...], wanted: str, first: Layer) -> tuple[str, ...]:
    """Return the one layer asked for, and say which others are left."""
    if wanted not in names:
        have = ", ".join(quoted(name) for name in names)
        raise refused(path, f"there is no layer {quoted(wanted)}; there are {have}")
    others = [name for name in names if name != wanted]
    first.remarks += [(f"layer {quoted(name)}", "was not asked for and is not read") for name in others]
    return (wanted,)


def _markup_remarks(path: str, kind: Format, elements: set[str]) -> list[tuple[str, str]]:
    if "NetworkLink" in elements:
        raise refused(path, "the file links to others (NetworkLink), whose zones would be missing; save them")
    remarks = []
    if elements & {"ExtendedData", "SchemaData"}:
        message = "the extended data of placemarks cannot be read here; state kind and rules by options"
        remarks.append(("", message))
    if kind.driver == "GML" and not _has_long_crs(path):
        message = (
            "no reference system is written in the long form (urn:...), so coordinates were read as longitude"
            " first; compare a corner with the original"
        )
        remarks.append(("", message))
    return remarks


def _has_long_crs(path: str) -> bool:
    data = Path(path).read_bytes()
    return b"urn:ogc:def:crs" in data or b"opengis.net/def/crs" in data


def _layer(path: str, kind: Format, key: str | None, name: str, before: int, opening: Opening) -> Layer:
    layer = Layer()
    prefix = f"layer {quoted(name)}, " if name else ""
    options = dict(_OPTIONS.get(kind.driver, {}))
    if opening.encoding:
        options["encoding"] = opening.encoding
    with fiona.open(
        path, driver=kind.driver, layer=key, allow_unsupported_drivers=kind.driver == "KML", **options
    ) as collection:
        try:
            layer.crs = collection.crs_wkt
        except UnboundLocalError as error:  # how the library fails over a definition that is no text
            raise damaged(path, kind.name, "the coordinate reference system is not text") from error
        _with_crs(path, layer, opening, kind, prefix)
        try:
            reader = GeometryReader(degrees=is_degrees(layer.crs))
        except DatumError as error:
            raise refused(path, f"{prefix}{error}") from error
        # The features of markup were counted while its elements were walked; here it may have no length.
        expected, found = None if kind.root else len(collection), 0
        for found, feature in enumerate(collection, start=1):
            properties = _columns(dict(feature.properties), kind.driver)
            where = named(f"{prefix}feature {found}", properties)
            shape, problems = reader.read(plain_geometry(feature.geometry), where)
            layer.problems += problems
            if shape is not None:
                layer.features.append(
                    RawFeature(number=before + found, where=where, properties=properties, shape=shape)
                )
        if expected is not None and found != expected:
            message = f"{prefix}only {found} of {expected} features can be read; the file is cut off"
            raise refused(path, message)
    if not opening.encoding:
        _text_remark(path, kind.driver, layer)
    layer.remarks += [(prefix.rstrip(", "), sentence) for sentence in reader.remarks()]
    return layer


def _with_crs(path: str, layer: Layer, opening: Opening, kind: Format, prefix: str = "") -> Layer:
    """Give a layer the stated system where it has none; a file's own is never overruled."""
    if layer.crs and opening.crs:
        message = (
            f"{prefix}the file states its coordinate reference system; it cannot be stated again."
            " If the file is wrong, mend the file"
        )
        raise refused(path, message)
    if not layer.crs and not opening.crs:
        raise refused(path, f"{prefix}{_no_crs(kind.driver)}")
    if opening.crs:
        layer.crs = opening.crs
        layer.remarks.append((prefix.rstrip(", "), f"{quoted(opening.crs)} was stated for it"))
    return layer


def _no_crs(driver: str) -> str:
    missing = " (no .prj file)" if driver == "ESRI Shapefile" else ""
    return (
        f"there is no coordinate reference system{missing}; positions on an unknown datum can be off by"
        " 100 m and more. Ask the supplier and state it in the file, or when converting it with --crs"
    )


def _columns(properties: dict[str, object], driver: str) -> Mapping[str, object]:
    """Return columns by property name: a Shapefile cuts names to ten letters."""
    if driver != "ESRI Shapefile":
        return properties
    cut = {known[:_SHAPEFILE_NAME]: known for known in KNOWN_PROPERTIES if len(known) > _SHAPEFILE_NAME}
    return {cut.get(key, key): value for key, value in properties.items()}


def _text_remark(path: str, driver: str, layer: Layer) -> None:
    if driver != "ESRI Shapefile" or Path(path).with_suffix(".cpg").exists():
        return
    values = (value for feature in layer.features for value in feature.properties.values())
    if any(isinstance(value, str) and not value.isascii() for value in values):
        layer.remarks.append(("", "there is no .cpg file, so letters beyond ASCII may be wrong in names"))
