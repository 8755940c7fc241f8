"""What GPX 1.1 asks of a document of routes, written down again as rules; a second view beside the writer.

References
----------
GPX 1.1 schema, https://www.topografix.com/GPX/1/1/gpx.xsd: types gpxType, metadataType, rteType, wptType,
latitudeType, longitudeType, fixType, dgpsStationType; xsd:dateTime and xsd:nonNegativeInteger.
"""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

SPACE = "{http://www.topografix.com/GPX/1/1}"
ORDER = {
    "gpx": ["metadata", "wpt", "rte", "trk", "extensions"],
    "metadata": ["name", "desc", "author", "copyright", "link", "time", "keywords", "bounds", "extensions"],
    "rte": ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "rtept"],
    "rtept": [
        *("ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type", "fix"),
        *("sat", "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions"),
    ],
}
"""Children of each element, in the only order in which they may stand."""
MANY = {"wpt", "rte", "trk", "link", "rtept"}
"""Of all others there may be one."""
ATTRIBUTES = {"gpx": {"version", "creator"}, "rtept": {"lat", "lon"}}
NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")
MOMENT = re.compile(r"-?\d{4,}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)?")


def broken_rules(text):
    """Every rule that a document breaks, in words; nothing for a sound one."""
    root = ET.fromstring(text.encode("utf-8"))
    if root.tag != f"{SPACE}gpx":
        return [f"the root is {root.tag}"]
    found = [] if root.get("version") == "1.1" else [f"version is {root.get('version')}"]
    return found + list(walked(root))


def walked(element):
    """What an element and those in it break."""
    name = element.tag.removeprefix(SPACE)
    asked = ATTRIBUTES.get(name, set())
    if set(element.keys()) != asked:
        yield f"{name} has attributes {sorted(element.keys())}"
    if name not in ORDER:
        yield from plain(name, element)
        return
    if (element.text or "").strip() or any((child.tail or "").strip() for child in element):
        yield f"{name} holds text"
    children = [child.tag.removeprefix(SPACE) for child in element]
    for child in set(children):
        if child not in ORDER[name]:
            yield f"{name} may not hold {child}"
        elif child not in MANY and children.count(child) > 1:
            yield f"{name} holds {child} twice"
    known = [ORDER[name].index(child) for child in children if child in ORDER[name]]
    if known != sorted(known):
        yield f"{name} holds {children} in the wrong order"
    if name == "rtept":
        yield from position(element)
    for child in element:
        yield from walked(child)


def position(element):
    """Latitude from -90 to 90, longitude from -180 to below 180, both as plain decimals."""
    lat, lon = element.get("lat", ""), element.get("lon", "")
    if not NUMBER.fullmatch(lat) or not -90.0 <= float(lat) <= 90.0:
        yield f"lat {lat}"
    if not NUMBER.fullmatch(lon) or not -180.0 <= float(lon) < 180.0:
        yield f"lon {lon}"


def plain(name, element):
    """Elements of text alone."""
    text = element.text or ""
    if len(element):
        yield f"{name} holds elements"
    if name == "number" and not re.fullmatch(r"\s*\+?\d+\s*", text):
        yield f"number {text}"
    if name == "time" and not MOMENT.fullmatch(text.strip()):
        yield f"time {text}"
