"""The formats of vector files, known by suffix and content together."""

from __future__ import annotations

import re
import xml.parsers.expat as expat
from dataclasses import dataclass
from pathlib import Path

from towzone.errors import InputError, Problem
from towzone.files.fiona_guard import refused

__all__ = ["CONVERTIBLE", "DIRECT", "Format", "check_markup", "recognise"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """One format.

    Parameters
    ----------
    driver : str
        The library's name for it; empty where another library reads it.
    name : str
        For messages.
    magic : bytes
        How every file begins; empty for markup.
    root : str
        Local names the root element of markup may have, as a regular expression.
    """

    driver: str
    name: str
    magic: bytes = b""
    root: str = ""


DIRECT = {
    ".gpkg": Format(driver="GPKG", name="GeoPackage", magic=b"SQLite format 3\0"),
    ".shp": Format(driver="ESRI Shapefile", name="Shapefile", magic=b"\x00\x00\x27\x0a"),
    ".fgb": Format(driver="FlatGeobuf", name="FlatGeobuf file", magic=b"fgb\x03"),
}
"""Formats that are zone files themselves; first bytes published: SQLite file format section 1.3, ESRI
Shapefile Technical Description (1998) table 1, FlatGeobuf specification "Binary format"."""

CONVERTIBLE = DIRECT | {
    ".gml": Format(driver="GML", name="GML file", root="FeatureCollection|.*Collection|.*Dataset"),
    ".kml": Format(driver="KML", name="KML file", root="kml"),
    ".parquet": Format(driver="", name="GeoParquet file", magic=b"PAR1"),
    ".geoparquet": Format(driver="", name="GeoParquet file", magic=b"PAR1"),
}
"""Formats a zone file can be made of; first bytes published: Apache Parquet, "File format"."""

_CONVERT = "; make a zone file of it with 'towzone zones convert --from file'"
_OTHERS = {
    ".000": "an S-57 chart cell; make a zone file of it with 'towzone zones convert --from chart'",
    ".kml": f"a KML file{_CONVERT}",
    ".gml": f"a GML file{_CONVERT}",
    ".parquet": f"a Parquet table{_CONVERT}",
    ".geoparquet": f"a Parquet table{_CONVERT}",
    ".kmz": "a KML archive; unpack it first",
    ".gpx": "a GPX file, which holds tracks and routes",
    ".csv": "a table",
    ".zip": "a ZIP archive; unpack it first",
}
_READABLE = "zones are read from GeoJSON, GeoPackage (.gpkg), Shapefile (.shp) and FlatGeobuf (.fgb)"
_MADE_OF = f"{_READABLE}, and converted from GML (.gml), KML (.kml) and GeoParquet (.parquet) as well"


def recognise(data: bytes, path: str, formats: dict[str, Format]) -> Format:
    """Return the format of a file, by its suffix and then its content.

    Raises
    ------
    InputError
        None of these formats, or the content is not what the suffix says.
    """
    readable = _READABLE if formats is DIRECT else _MADE_OF
    suffix = Path(path).suffix.lower()
    if suffix not in formats:
        what = f"this is {_OTHERS[suffix]}" if suffix in _OTHERS else "this is not a zone file that is known"
        raise refused(path, f"{what}; {readable}")
    found = formats[suffix]
    if not data.startswith(found.magic):
        raise refused(path, f"the content is not that of a {found.name}; {readable}")
    return found


class _Markup:
    """Walks markup once: whole, without a document type, and how many features it holds."""

    def __init__(self, path: str) -> None:
        self.path = path
        self.depth = 0
        self.root = ""
        self.parent = ""
        self.features = 0
        self.placemarks = 0
        self.names: set[str] = set()

    def start(self, tag: str, _attributes: object) -> None:
        name = tag.rpartition(":")[2]
        self.names.add(name)
        if self.depth == 0:
            self.root = name
        elif self.depth == 1:
            self.parent = name
            self.features += name in ("featureMember", "member")
        elif self.depth == 2:
            self.features += self.parent == "featureMembers"
        self.placemarks += name == "Placemark"
        self.depth += 1

    def end(self, _tag: str) -> None:
        self.depth -= 1

    def doctype(self, *_parts: object) -> None:
        raise refused(self.path, "there is a document type declaration, which no such file needs; remove it")


def check_markup(data: bytes, path: str, kind: Format) -> tuple[int, set[str]]:
    """Return how many features markup holds and the names of its elements.

    The vector library reads on over damage, so the whole file is walked first.

    Raises
    ------
    InputError
        Not well-formed, the wrong root element, or a document type declaration.
    """
    markup = _Markup(path)
    parser = expat.ParserCreate()
    parser.StartElementHandler, parser.EndElementHandler = markup.start, markup.end
    parser.StartDoctypeDeclHandler = markup.doctype
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        place = f"line {error.lineno} column {error.offset + 1}"
        message = f"the {kind.name} is damaged or cut off: {expat.ErrorString(error.code)}. Export it again"
        raise InputError(path, [Problem(place, message)]) from error
    if not re.fullmatch(kind.root, markup.root):
        raise refused(path, f"the content is not that of a {kind.name}; {_MADE_OF}")
    return (markup.placemarks if kind.driver == "KML" else markup.features), markup.names
