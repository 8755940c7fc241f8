"""Zone files other than GeoJSON, through fiona, behind guards: the only module that calls it.

The library opens addresses and virtual paths, reads the first layer only, hands out features without a
geometry where a file is damaged, and knows no missing datum; each of that is caught here.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import fiona
from fiona._err import CPLE_BaseError
from fiona.errors import FionaError, UnsupportedGeometryTypeError

from towzone.errors import InputError, Problem, quoted
from towzone.files.datum import DatumError, is_degrees
from towzone.files.features import GeometryReader, Layer, RawFeature
from towzone.files.geojson import named
from towzone.files.geopackage import GeoPackageError, geopackage_tables
from towzone.files.properties import KNOWN_PROPERTIES

__all__ = ["companion_paths", "read_vector"]

_DRIVERS = {
    ".gpkg": ("GPKG", b"SQLite format 3\0"),
    ".shp": ("ESRI Shapefile", b"\x00\x00\x27\x0a"),
    ".fgb": ("FlatGeobuf", b"fgb\x03"),
}
"""Driver and first bytes by suffix; published: SQLite file format section 1.3, ESRI Shapefile Technical
Description (1998) table 1, FlatGeobuf specification "Binary format"."""
_NAMES = {"GPKG": "GeoPackage", "ESRI Shapefile": "Shapefile", "FlatGeobuf": "FlatGeobuf file"}
_NOT_YET = {
    ".000": "an S-57 chart cell",
    ".kml": "a KML file",
    ".kmz": "a KML archive",
    ".gml": "a GML file",
    ".gpx": "a GPX file, which holds tracks and routes",
    ".csv": "a table",
    ".zip": "a ZIP archive; unpack it first",
}
_READABLE = (
    "this version reads zones from GeoJSON, GeoPackage (.gpkg), Shapefile (.shp) and FlatGeobuf (.fgb)"
)
_SHAPEFILE_NAME = 10
"""Longest column name in the dBase table of a Shapefile; from memory, and as the library cuts them."""
_OFFLINE = {"GDAL_HTTP_PROXY": "127.0.0.1:1", "PROJ_NETWORK": "OFF"}
"""Measured: with an unreachable proxy no request leaves, and nothing waits for one."""
_FAILURES = (FionaError, CPLE_BaseError, UnsupportedGeometryTypeError, OSError, ValueError)
"""What reading a damaged file has been seen to raise; the library has no common root for them."""


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
    suffix = Path(path).suffix.lower()
    if suffix not in _DRIVERS:
        what = (
            f"this is {_NOT_YET[suffix]}" if suffix in _NOT_YET else "this is not a zone file that is known"
        )
        raise _refused(path, f"{what}; {_READABLE}")
    driver, magic = _DRIVERS[suffix]
    if not data.startswith(magic):
        raise _refused(path, f"the content is not that of a {_NAMES[driver]}; {_READABLE}")
    try:
        with fiona.Env(**_OFFLINE), _lost_errors() as lost:
            layers = _layers(data, path, driver)
    except InputError:
        raise
    except GeoPackageError as error:
        raise _refused(path, str(error)) from error
    except _FAILURES as error:
        # The library's own sentence says little; the one behind it names the fault.
        raise _damaged(path, driver, str(error.__cause__ or error)) from error
    if lost:
        raise _damaged(path, driver, lost[0])
    return layers


def companion_paths(path: str) -> list[str]:
    """Return the paths of the files beside a Shapefile that are read with it; none for other formats."""
    if Path(path).suffix.lower() != ".shp":
        return []
    beside = (str(Path(path).with_suffix(suffix)) for suffix in (".cpg", ".dbf", ".prj", ".shx"))
    return [companion for companion in beside if Path(companion).exists()]


def _damaged(path: str, driver: str, said: str) -> InputError:
    said = re.sub(r"<[^<>]* at 0x[0-9a-f]+>", "", said)
    return _refused(
        path, f"the {_NAMES[driver]} is damaged or cannot be read: {quoted(said)}. Export it again"
    )


@contextmanager
def _lost_errors() -> Iterator[list[str]]:
    """Collect errors the library cannot raise, because its own error handler failed over them.

    It happens where a damaged file garbles the text of the message; printed and forgotten, the damage
    would go unnoticed.
    """
    lost: list[str] = []
    before = sys.unraisablehook
    sys.unraisablehook = lambda event: lost.append(str(event.exc_value))
    try:
        yield lost
    finally:
        sys.unraisablehook = before


def _layers(data: bytes, path: str, driver: str) -> list[Layer]:
    # One layer in every Shapefile and FlatGeobuf; a GeoPackage may hide others behind its first.
    names: tuple[str | None, ...] = (None,)
    layers: list[Layer] = []
    if driver == "GPKG":
        tables = geopackage_tables(data, path)
        names = tables.features
        said = [(f"table {quoted(name)}", "holds no geometries and is not read") for name in tables.others]
        layers.append(Layer(remarks=said))
    for name in names:
        read = sum(len(layer.features) for layer in layers)
        layers.append(_layer(path, driver, name, several=len(names) > 1, before=read))
    return layers


def _layer(path: str, driver: str, name: str | None, *, several: bool, before: int) -> Layer:
    layer = Layer()
    prefix = f"layer {quoted(name)}, " if several else ""
    with fiona.open(path, driver=driver, layer=name) as collection:
        try:
            layer.crs = collection.crs_wkt
        except UnboundLocalError as error:  # how the library fails over a definition that is no text
            raise _damaged(path, driver, "the coordinate reference system is not text") from error
        if not layer.crs:
            raise _refused(path, f"{prefix}{_no_crs(driver)}")
        try:
            reader = GeometryReader(degrees=is_degrees(layer.crs))
        except DatumError as error:
            raise _refused(path, f"{prefix}{error}") from error
        expected, found = len(collection), 0
        for found, feature in enumerate(collection, start=1):
            properties = _columns(dict(feature.properties), driver)
            where = named(f"{prefix}feature {found}", properties)
            shape, problems = reader.read(_plain(feature.geometry), where)
            layer.problems += problems
            if shape is not None:
                layer.features.append(
                    RawFeature(number=before + found, where=where, properties=properties, shape=shape)
                )
        if found != expected:
            message = f"{prefix}only {found} of {expected} features can be read; the file is cut off"
            raise _refused(path, message)
    _text_remark(path, driver, layer)
    layer.remarks += [(prefix.rstrip(", "), sentence) for sentence in reader.remarks()]
    return layer


def _no_crs(driver: str) -> str:
    missing = " (no .prj file)" if driver == "ESRI Shapefile" else ""
    return (
        f"there is no coordinate reference system{missing}; positions on an unknown datum can be off by"
        " 100 m and more. Ask the supplier and state it in the file"
    )


def _plain(geometry: object) -> object:
    """Return a geometry as the plain mapping that GeoJSON has."""
    return None if geometry is None else getattr(geometry, "__geo_interface__", geometry)


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


def _refused(path: str, message: str) -> InputError:
    return InputError(path, [Problem("", message)])
