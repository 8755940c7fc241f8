"""Malformed inputs: name, file name, bytes, and what the refusal must say (place and value).

Files ending in ``.gpx`` are tracks, those in ``.toml`` vessel profiles, those in ``.plan`` planned lines, all
others are zone files.
"""

from __future__ import annotations

import json
from typing import NamedTuple


class BadInput(NamedTuple):
    name: str
    filename: str
    data: bytes
    fragments: tuple[str, ...]


def gpx(body: str, *, head: str = '<?xml version="1.0" encoding="UTF-8"?>\n') -> bytes:
    """A GPX 1.1 document; the body begins on line 3."""
    return f'{head}<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">\n{body}\n</gpx>\n'.encode()


def trk(points: str) -> bytes:
    """A document with one segment; the points begin on line 4."""
    return gpx(f"<trk><trkseg>\n{points}\n</trkseg></trk>")


GOOD_POINT = '<trkpt lat="57.5" lon="-20.25"><time>2026-03-01T06:10:00Z</time></trkpt>'


def timed(text: str) -> bytes:
    """Two points, the second (line 5) with this time."""
    return trk(f'{GOOD_POINT}\n<trkpt lat="57.6" lon="-20.25"><time>{text}</time></trkpt>')


SQUARE = [[-21.0, 57.0], [-20.0, 57.0], [-20.0, 58.0], [-21.0, 58.0], [-21.0, 57.0]]


def feature(geometry: object, **properties: object) -> dict[str, object]:
    return {
        "type": "Feature",
        "properties": {"name": "Box A", "kind": "closed_area"} | properties,
        "geometry": geometry,
    }


def polygon(*rings: object) -> dict[str, object]:
    return {"type": "Polygon", "coordinates": list(rings)}


def collection(*features: object, **members: object) -> bytes:
    return json.dumps({"type": "FeatureCollection", **members, "features": list(features)}).encode()


def zone(geometry: object, **properties: object) -> bytes:
    """A sound zone first, then this one as feature 2."""
    return collection(feature(polygon(SQUARE), name="Sound"), feature(geometry, **properties))


def corner(lon: object, lat: object) -> bytes:
    """A zone whose third corner is this."""
    return zone(polygon([[-21, 57], [-20, 57], [lon, lat], [-21, 58], [-21, 57]]))


def crs(member: object) -> bytes:
    return collection(feature(polygon(SQUARE)), crs=member)


def named_crs(name: object) -> bytes:
    return crs({"type": "name", "properties": {"name": name}})


_LAUGHS = '<?xml version="1.0"?>\n<!DOCTYPE gpx [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]>\n<gpx>&b;</gpx>'
_EXTERNAL = (
    '<?xml version="1.0"?>\n<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/hostname">]>\n<gpx>&x;</gpx>'
)
_HTML = "<!DOCTYPE html>\n<html><head><title>Sign in</title></head><body><p>Expired<br></body></html>"
_SOUND = collection(feature(polygon(SQUARE)))
_HALF_GPX = trk("\n".join([GOOD_POINT] * 3))[:-60]
_DEEP_GPX = gpx("<extensions>" * 80 + "</extensions>" * 80)

GPX_CASES = [
    BadInput("empty file", "empty.gpx", b"", ("empty",)),
    BadInput("only blanks", "blank.gpx", b" \n\t\n", ("only blank lines",)),
    BadInput("binary", "photo.gpx", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", ("neither GPX", "nor CSV")),
    BadInput("JSON named gpx", "zones.gpx", _SOUND, ("no table of fixes (nor GPX",)),
    BadInput(
        "a log of damaged sentences",
        "log.gpx",
        b"$GPGGA,120000,5730.0,N,02015.0,W,1,08,1,0,M,0,M,,*00\r\n",
        ("checksum",),
    ),
    BadInput("web page", "download.gpx", _HTML.encode(), ("line 1", "web page")),
    BadInput(
        "web page without doctype", "page.gpx", b"<html><body>Sign in</body></html>", ("line 1", "web page")
    ),
    BadInput("KML named gpx", "map.gpx", b"<kml><Document/></kml>", ("KML",)),
    BadInput("other XML", "feed.gpx", b"<?xml version='1.0'?>\n<rss></rss>", ("line 2", "'rss'")),
    BadInput("cut off", "cut.gpx", _HALF_GPX, ("line 6 column", "damaged or cut off", "after 3 points")),
    BadInput(
        "bare ampersand", "amp.gpx", gpx("<metadata><name>Nets & co</name></metadata>"), ("line 3", "damaged")
    ),
    BadInput("NUL bytes inside", "nul.gpx", trk(GOOD_POINT + "\n\0\0\0"), ("line 5", "damaged")),
    BadInput("wrong end tag", "tags.gpx", gpx("<trk><trkseg></trk></trkseg>"), ("line 3", "mismatched tag")),
    BadInput("two roots", "two.gpx", gpx("") + b"<gpx/>", ("line 5", "junk after document element")),
    BadInput("text after the end", "tail.gpx", trk(GOOD_POINT) + b"END", ("line 7", "damaged")),
    BadInput(
        "Latin text declared UTF-8",
        "latin.gpx",
        gpx("<metadata><name>H\u00f8jen</name></metadata>").decode().encode("latin-1"),
        ("line 3", "invalid token"),
    ),
    BadInput(
        "unknown encoding",
        "odd.gpx",
        gpx("", head='<?xml version="1.0" encoding="x-none-such"?>\n'),
        ("encoding", "UTF-8"),
    ),
    BadInput("entity bomb", "laughs.gpx", _LAUGHS.encode(), ("line 2", "DOCTYPE")),
    BadInput("external entity", "external.gpx", _EXTERNAL.encode(), ("line 2", "DOCTYPE")),
    BadInput(
        "undefined entity",
        "entity.gpx",
        gpx("<metadata><name>&reef;</name></metadata>"),
        ("undefined entity",),
    ),
    BadInput("nested 80 deep", "deep.gpx", _DEEP_GPX, ("line 3", "nested more than 64")),
    BadInput("5 MiB comment", "comment.gpx", gpx(f"<!--{'x' * (5 << 20)}-->"), ("longer than 4 MiB",)),
    BadInput("nothing inside", "nothing.gpx", gpx(""), ("no track", "only nothing")),
    BadInput(
        "only waypoints", "marks.gpx", gpx('<wpt lat="57" lon="-20"/>' * 3), ("3 waypoints", "not a track")
    ),
    BadInput("empty segment", "hollow.gpx", trk(""), ("no track", "1 empty track segment")),
    BadInput(
        "only zero positions", "zero.gpx", trk('<trkpt lat="0" lon="0"/>' * 2), ("2 track points at 0, 0",)
    ),
    BadInput(
        "route of one point",
        "one.gpx",
        gpx('<rte><rtept lat="57" lon="-20"/></rte>'),
        ("line 3", "one point"),
    ),
    BadInput(
        "route through 0, 0",
        "null.gpx",
        gpx('<rte><rtept lat="57" lon="-20"/>\n<rtept lat="0.0" lon="0.0"/></rte>'),
        ("line 4", "0, 0"),
    ),
    BadInput(
        "route back in time",
        "back.gpx",
        gpx(
            '<rte><rtept lat="57" lon="-20"><time>2026-03-01T06:00:00Z</time></rtept>\n'
            '<rtept lat="57" lon="-21"><time>2026-03-01T05:00:00Z</time></rtept></rte>'
        ),
        ("line 4", "before that of an earlier one"),
    ),
    BadInput("no lat", "nolat.gpx", trk('<trkpt lon="-20"/>'), ("line 4", "no latitude")),
    BadInput("no lon", "nolon.gpx", trk('<trkpt lat="57"/>'), ("line 4", "no longitude")),
    BadInput(
        "decimal comma", "comma.gpx", trk('<trkpt lat="57,5" lon="-20"/>'), ("line 4", "'57,5'", "point")
    ),
    BadInput("word for lat", "word.gpx", trk('<trkpt lat="abc" lon="-20"/>'), ("line 4", "latitude 'abc'")),
    BadInput("empty lon", "emptylon.gpx", trk('<trkpt lat="57" lon=""/>'), ("line 4", "longitude ''")),
    BadInput(
        "degrees and minutes", "minutes.gpx", trk('<trkpt lat="57 30.0" lon="-20"/>'), ("line 4", "'57 30.0'")
    ),
    BadInput(
        "NaN", "nan.gpx", trk('<trkpt lat="NaN" lon="-20"/>'), ("line 4", "latitude 'NaN'", "-90 to 90")
    ),
    BadInput("infinite", "inf.gpx", trk('<trkpt lat="57" lon="inf"/>'), ("line 4", "longitude 'inf'")),
    BadInput("overflowing", "big.gpx", trk('<trkpt lat="1e400" lon="-20"/>'), ("line 4", "'1e400'")),
    BadInput(
        "underscore", "under.gpx", trk('<trkpt lat="5_7" lon="-20"/>'), ("line 4", "'5_7'", "not a number")
    ),
    BadInput(
        "other digits", "digits.gpx", trk('<trkpt lat="\u0665\u0667" lon="-20"/>'), ("line 4", "not a number")
    ),
    BadInput(
        "lat 95",
        "lat95.gpx",
        trk(f'{GOOD_POINT}\n<trkpt lat="95" lon="-20"/>'),
        ("line 5", "'95'", "-90 to 90"),
    ),
    BadInput("lon 190", "lon190.gpx", trk('<trkpt lat="57" lon="190"/>'), ("line 4", "'190'", "-180 to 180")),
    BadInput(
        "swapped", "swapped.gpx", trk('<trkpt lat="-150" lon="57"/>'), ("line 4", "'-150'", "changed places")
    ),
    BadInput(
        "bare date", "date.gpx", timed("2026-03-01"), ("line 5", "'2026-03-01'", "without a time of day")
    ),
    BadInput(
        "29 February 2023", "leap.gpx", timed("2023-02-29T10:00:00Z"), ("line 5", "2023-02-29", "impossible")
    ),
    BadInput("hour 25", "hour.gpx", timed("2026-03-01T25:00:00Z"), ("line 5", "T25:00:00Z", "clock")),
    BadInput("24:00:01", "midnight.gpx", timed("2026-03-01T24:00:01Z"), ("line 5", "24:00:01", "clock")),
    BadInput("second 61", "second.gpx", timed("2026-03-01T10:00:61Z"), ("line 5", "10:00:61", "clock")),
    BadInput("offset 15 h", "offset.gpx", timed("2026-03-01T10:00:00+15:00"), ("line 5", "+15:00", "offset")),
    BadInput("American date", "us.gpx", timed("03/01/2026 10:00:00"), ("line 5", "'03/01/2026 10:00:00'")),
    BadInput("week date", "week.gpx", timed("2026-W09-7T10:00:00Z"), ("line 5", "2026-W09-7")),
    BadInput("empty time", "notime.gpx", timed("  "), ("line 5", "time is empty")),
    BadInput(
        "two times",
        "twice.gpx",
        trk(
            '<trkpt lat="57" lon="-20"><time>2026-03-01T10:00:00Z</time>\n'
            "<time>2026-03-01T11:00:00Z</time></trkpt>"
        ),
        ("line 5", "more than one time"),
    ),
]

_NOT_UTF8 = collection(feature(polygon(SQUARE), note="K\u00f8ge")).replace(b"\\u00f8", b"\xf8")

ZONE_CASES = [
    BadInput("empty zone file", "empty.geojson", b"", ("empty",)),
    BadInput("cut off zone file", "cut.geojson", _SOUND[:-40], ("line 1 column", "damaged or cut off")),
    BadInput("trailing text", "tail.geojson", _SOUND + b"\nend", ("line 2 column 1", "Extra data")),
    BadInput("not UTF-8", "latin.geojson", _NOT_UTF8, ("byte", "0xf8", "UTF-8")),
    BadInput("UTF-16", "wide.geojson", _SOUND.decode().encode("utf-16"), ("UTF-8",)),
    BadInput("deep nesting", "deep.geojson", b'{"a":' * 200_000, ("nested too deeply",)),
    BadInput("not GeoJSON", "other.geojson", b'{"zones": []}', ("not GeoJSON", "None")),
    BadInput("JSON array", "list.geojson", b"[1, 2]", ("not GeoJSON", "not an object")),
    BadInput("wrong type", "topo.geojson", b'{"type": "Topology", "objects": {}}', ("'Topology'",)),
    BadInput("no features", "none.geojson", collection(), ("holds no features",)),
    BadInput(
        "features is null", "null.geojson", b'{"type":"FeatureCollection","features":null}', ("no features",)
    ),
    BadInput(
        "a feature that is none",
        "item.geojson",
        collection(feature(polygon(SQUARE)), 7),
        ("feature 2", "'7'"),
    ),
    BadInput(
        "member twice",
        "twice.geojson",
        _SOUND.replace(b'"kind"', b'"kind": "cable", "kind"'),
        ("'kind' is given twice", "Box A"),
    ),
    BadInput("huge number", "digits.geojson", _SOUND.replace(b"57.0", b"5" * 5000), ("number",)),
    BadInput("null geometry", "nogeom.geojson", zone(None), ("feature 2 (zone 'Box A')", "null")),
    BadInput(
        "geometry left out",
        "missing.geojson",
        collection({"type": "Feature", "properties": {"kind": "cable"}}),
        ("feature 1", "no geometry"),
    ),
    BadInput("empty polygon", "hollow.geojson", zone(polygon()), ("feature 2", "Polygon is empty")),
    BadInput("empty ring", "noring.geojson", zone(polygon([])), ("feature 2", "ring 1")),
    BadInput(
        "empty collection",
        "nothing.geojson",
        zone({"type": "GeometryCollection", "geometries": []}),
        ("feature 2", "no geometries"),
    ),
    BadInput(
        "null inside a collection",
        "part.geojson",
        zone({"type": "GeometryCollection", "geometries": [polygon(SQUARE), None]}),
        ("feature 2", "member 2", "null"),
    ),
    BadInput(
        "unknown geometry",
        "curve.geojson",
        zone({"type": "Curve", "coordinates": []}),
        ("feature 2", "'Curve'"),
    ),
    BadInput(
        "coordinates as text", "text.geojson", corner("-20", "58"), ("ring 1, corner 3", "'-20'", "unquoted")
    ),
    BadInput("null coordinate", "nil.geojson", corner(-20, None), ("ring 1, corner 3", "latitude 'None'")),
    BadInput("true as coordinate", "true.geojson", corner(True, 58), ("corner 3", "longitude 'True'")),
    BadInput(
        "one number", "single.geojson", zone(polygon([[-21], [-20, 57], [-20, 58]])), ("corner 1", "'[-21]'")
    ),
    BadInput("NaN corner", "nan.geojson", corner(float("nan"), 58), ("corner 3", "nan", "finite")),
    BadInput("infinite corner", "inf.geojson", corner(-20, float("inf")), ("corner 3", "inf", "finite")),
    BadInput(
        "1e400", "big.geojson", corner(-20, 57.125).replace(b"57.125", b"1e400"), ("corner 3", "finite")
    ),
    BadInput(
        "metres without crs", "utm.geojson", corner(500000, 6100000), ("corner 3", "6100000.0", "metres")
    ),
    BadInput(
        "latitude first",
        "swapped.geojson",
        corner(57.5, -120.0),
        ("corner 3", "-120.0", "latitude comes first"),
    ),
    BadInput("longitude 190", "lon190.geojson", corner(190, 58), ("corner 3", "190.0", "write 190 as -170")),
    BadInput("latitude 89.5", "pole.geojson", corner(-20.5, 89.5), ("corner 3", "89.5", "89 degrees")),
    BadInput(
        "two-cornered ring",
        "thin.geojson",
        zone(polygon([[0, 50], [1, 50], [0, 50]])),
        ("ring 1", "at least 3"),
    ),
    BadInput(
        "ring on one line",
        "flat.geojson",
        zone(polygon([[0, 50], [1, 50], [2, 50], [0, 50]]), edges="rhumb"),
        ("feature 2", "encloses nothing", "50\u00b000.000'N 000\u00b000.000'E"),
    ),
    BadInput(
        "bow tie",
        "bowtie.geojson",
        zone(polygon([[0, 50], [2, 52], [2, 50], [0, 52], [0, 50]])),
        ("zone 'Box A'", "edge 1-2 and edge 3-4 cross near 51\u00b000.000'N 001\u00b000.000'E"),
    ),
    BadInput(
        "spike",
        "spike.geojson",
        zone(polygon([[0, 50], [2, 50], [2, 53], [2, 51], [0, 51], [0, 50]])),
        ("edge 2-3 and edge 3-4 overlap",),
    ),
    BadInput(
        "hole outside",
        "hole.geojson",
        zone(polygon(SQUARE, [[0, 50], [1, 50], [1, 51], [0, 50]])),
        ("hole at 50\u00b000.000'N 000\u00b000.000'E lies outside",),
    ),
    BadInput(
        "hole across the edge",
        "across.geojson",
        zone(polygon(SQUARE, [[-20.5, 57.5], [-19.5, 57.4], [-19.5, 57.6], [-20.5, 57.5]])),
        ("edge 2-3 of outer ring and edge 1-2 of hole cross",),
    ),
    BadInput(
        "hole in a hole",
        "nested.geojson",
        zone(
            polygon(
                SQUARE,
                [[-20.9, 57.1], [-20.1, 57.1], [-20.1, 57.9], [-20.9, 57.1]],
                [[-20.3, 57.3], [-20.2, 57.3], [-20.2, 57.4], [-20.3, 57.3]],
            )
        ),
        ("hole 2", "lies inside hole 1"),
    ),
    BadInput(
        "round the pole",
        "around.geojson",
        zone(polygon([[0, 80], [120, 80], [-120, 80], [0, 80]])),
        ("runs round a pole",),
    ),
    BadInput(
        "half way round",
        "half.geojson",
        zone(polygon([[-90, 50], [90, 50], [0, 60], [-90, 50]])),
        ("edge 1-2", "exactly 180 degrees", "50\u00b000.000'N 090\u00b000.000'W"),
    ),
    BadInput(
        "all the way round",
        "band.geojson",
        zone(polygon([[-180, 10], [180, 10], [180, 20], [-180, 20], [-180, 10]])),
        ("edge 1-2", "exactly 360 degrees"),
    ),
    BadInput(
        "edge too long",
        "long.geojson",
        zone({"type": "LineString", "coordinates": [[-60, 0], [60, 0]]}, kind="cable"),
        ("edge 1-2", "longer than 10000 km"),
    ),
    BadInput(
        "line of one corner",
        "dot.geojson",
        zone({"type": "LineString", "coordinates": [[1, 50], [1, 50]]}, kind="cable"),
        ("feature 2", "at least 2 different corners"),
    ),
    BadInput(
        "one bad part of many",
        "parts.geojson",
        zone({"type": "MultiPolygon", "coordinates": [[SQUARE], [[[0, 50], [1, "x"], [1, 51]]]]}),
        ("part 2, ring 1, corner 2", "'x'"),
    ),
    BadInput(
        "linked crs",
        "link.geojson",
        crs({"type": "link", "properties": {"href": "x"}}),
        ("link", "never followed"),
    ),
    BadInput("unknown crs", "local.geojson", named_crs("My local grid"), ("'My local grid'", "not known")),
    BadInput(
        "crs number not in use", "epsg.geojson", named_crs("EPSG:999999"), ("'EPSG:999999'", "not known")
    ),
    BadInput("crs is null", "crsnull.geojson", crs(None), ("crs is null", "datum")),
    BadInput("crs without name", "crsname.geojson", crs({"type": "name"}), ("no name",)),
    BadInput("vertical crs", "height.geojson", named_crs("EPSG:5773"), ("EGM96 height",)),
    BadInput(
        "crs inside a feature",
        "inner.geojson",
        collection(feature(polygon(SQUARE)) | {"crs": {"type": "name", "properties": {"name": "EPSG:4230"}}}),
        ("feature 1", "crs of its own"),
    ),
    BadInput(
        "properties is a list",
        "props.geojson",
        collection(feature(None) | {"properties": [1]}),
        ("properties is",),
    ),
    BadInput(
        "no kind",
        "nokind.geojson",
        collection({"type": "Feature", "properties": {"Kind": "cable"}, "geometry": polygon(SQUARE)}),
        ("feature 1", "'kind' is missing", "'Kind'", "closed_area, cable, pipeline"),
    ),
    BadInput(
        "bare geometry",
        "bare.geojson",
        json.dumps(polygon(SQUARE)).encode(),
        ("feature 1", "'kind' is missing"),
    ),
    BadInput(
        "unknown kind",
        "reef.geojson",
        zone(polygon(SQUARE), kind="reef"),
        ("'kind' has 'reef'", "safety_zone"),
    ),
    BadInput(
        "unknown edges",
        "edges.geojson",
        zone(polygon(SQUARE), edges="straight"),
        ("'straight'", "rhumb, geodesic"),
    ),
    BadInput(
        "unknown prohibition",
        "ban.geojson",
        zone(polygon(SQUARE), prohibits=["swimming"]),
        ("'swimming'", "entry"),
    ),
    BadInput(
        "nothing prohibited",
        "free.geojson",
        zone(polygon(SQUARE), prohibits=[]),
        ("'prohibits' is an empty list",),
    ),
    BadInput(
        "other without prohibits",
        "kind.geojson",
        zone(polygon(SQUARE), kind="other"),
        ("needs property 'prohibits'",),
    ),
    BadInput(
        "margin without unit",
        "margin.geojson",
        zone(polygon(SQUARE), margin=500),
        ("'margin' is '500'", "500m"),
    ),
    BadInput("margin in nm", "nm.geojson", zone(polygon(SQUARE), margin="0.25nm"), ("'0.25nm'", "nmi")),
    BadInput(
        "negative radius",
        "radius.geojson",
        zone(polygon(SQUARE), radius="-5m"),
        ("'radius'", "'-5m'", "zero or more"),
    ),
    BadInput(
        "name is a list", "name.geojson", zone(polygon(SQUARE), name=["a"]), ("'name' is", "must be text")
    ),
    BadInput(
        "only inside, maybe",
        "maybe.geojson",
        zone(polygon(SQUARE), allowed_only_inside="maybe"),
        ("'maybe'", "true and"),
    ),
    BadInput(
        "one id for two zones",
        "ids.geojson",
        collection(feature(polygon(SQUARE), zone_id="A1"), feature(polygon(SQUARE), zone_id="A1")),
        ("feature 2", "'A1'", "feature 1"),
    ),
    BadInput("chart cell", "XX5TEST.000", b"01582", ("S-57", "GeoJSON")),
    BadInput("KML zones", "zones.kml", b"<kml/>", ("KML", "GeoJSON")),
    BadInput("unknown suffix", "zones.dat", b"\0\1\2", ("not a zone file", "GeoPackage")),
    BadInput("not a GeoPackage", "zones.gpkg", b"<OGRVRTDataSource/>", ("not that of a GeoPackage",)),
    BadInput("not a Shapefile", "zones.shp", b"hello", ("not that of a Shapefile",)),
    BadInput("damaged GeoPackage", "broken.gpkg", b"SQLite format 3\0" + b"\0" * 200, ("damaged",)),
    BadInput("Shapefile alone", "alone.shp", b"\0\0\x27\x0a" + b"\0" * 96, ("damaged",)),
    BadInput("damaged FlatGeobuf", "broken.fgb", b"fgb\3fgb\0" + b"\xff" * 60, ("damaged",)),
]

PROFILE_CASES = [
    BadInput("empty profile", "empty.toml", b"", ("empty",)),
    BadInput("cut profile", "cut.toml", b'[vessel]\ngear = "OT', ("not a vessel profile", "end of document")),
    BadInput("no quotes", "bare.toml", b"[gear]\nwarp = 350m\n", ("stands in quotes", 'warp = "350m"')),
    BadInput("zones for a profile", "zones.toml", _SOUND, ("not a vessel profile",)),
    BadInput("Latin profile", "latin.toml", b'[vessel]\nname = "K\xf8ge"', ("not a vessel profile", "0xf8")),
    BadInput("table twice", "twice.toml", b"[gear]\n[gear]\n", ("not a vessel profile", "line 2")),
    BadInput("digits without end", "digits.toml", b"a = " + b"7" * 5000, ("not a vessel profile",)),
    BadInput("warp without unit", "bare.toml", b"[gear]\nwarp = 350", ("gear.warp", "'350'", "no unit")),
    BadInput("warp in miles or metres", "m.toml", b'[gear]\nwarp = "350M"', ("gear.warp", "'350M'", "nmi")),
    BadInput(
        "warp of no winch", "long.toml", b'[gear]\nwarp = "9km"', ("gear.warp", "'9km'", "10 to 4000 m")
    ),
    BadInput(
        "negative depth", "deep.toml", b'[gear]\ndepth = "-9m"', ("gear.depth", "'-9m'", "zero or more")
    ),
    BadInput(
        "set that is no number",
        "set.toml",
        b'[current]\nset_deg = nan\ndrift = "1kn"',
        ("current.set_deg", "'nan'", "0 to 360"),
    ),
    BadInput("bare fuel", "fuel.toml", b"[handling]\ntow_fuel = 180", ("handling.tow_fuel", "'180'", "l/h")),
    BadInput(
        "hauling at a run",
        "way.toml",
        b'[handling]\nhauling_way = "15kn"',
        ("handling.hauling_way", "'15kn'", "0.1 to 10 kn"),
    ),
    BadInput("drift to nowhere", "drift.toml", b'[current]\ndrift = "1kn"', ("current.drift", "set_deg")),
    BadInput(
        "rig of no gear",
        "rig.toml",
        b'[gear]\nrig = "triple"',
        ("gear.rig", "'triple'", "single, twin, beam"),
    ),
    BadInput(
        "beam trawl with doors",
        "beam.toml",
        b'[vessel]\ngear = "TBB"\n[gear]\nrig = "single"',
        ("gear.rig", "TBB", "'beam'"),
    ),
    BadInput(
        "warp that hangs",
        "hang.toml",
        b'[gear]\nwarp = "90m"\ndepth = "100m"',
        ("gear.warp", "90 m", "100 m"),
    ),
    BadInput(
        "misspelt figure", "slip.toml", b'[gear]\ndoorspread = "80m"', ("gear.'doorspread'", "'door_spread'")
    ),
    BadInput(
        "figure in a wrong table",
        "table.toml",
        b'[gear]\nhaul_speed = "1m/s"',
        ("gear.'haul_speed'", "[handling]"),
    ),
]

_TWO = '<rtept lat="57.5" lon="-20.25"/>\n<rtept lat="57.6" lon="-20.25"/>\n'

PLAN_CASES = [
    BadInput("empty plan", "empty.plan", b"", ("the file is empty",)),
    BadInput("plan of waypoints", "wpt.plan", gpx('<wpt lat="1" lon="2"/>'), ("waypoints are not a track",)),
    BadInput("plan of zones", "zones.plan", _SOUND, ("looks like GeoJSON", "--zones")),
    BadInput("plan of sentences", "log.plan", b"$GPGLL,5400.00,N,00800.00,E,060000,A*2F\n", ("log of sent",)),
    BadInput("cut route", "cut.plan", gpx(f"<rte>{_TWO}")[:-9], ("line 4", "damaged or cut off")),
    BadInput(
        "plan of one point", "one.plan", gpx('<rte><rtept lat="57" lon="2"/></rte>'), ("line 3", "one point")
    ),
    BadInput(
        "doubled point",
        "twice.plan",
        gpx(f"<rte>\n{_TWO}{_TWO.splitlines()[1]}</rte>"),
        ("line 6", "coincide"),
    ),
    BadInput(
        "way back", "back.plan", gpx(f"<rte>\n{_TWO}{_TWO}</rte>"), ("line 5", "point 2", "180.0 degrees")
    ),
    BadInput(
        "point nowhere", "zero.plan", gpx(f'<rte>\n{_TWO}<rtept lat="0" lon="0"/></rte>'), ("line 6", "0, 0")
    ),
    BadInput(
        "point of no number", "nan.plan", gpx('<rte>\n<rtept lat="NaN" lon="2"/></rte>'), ("line 4", "'NaN'")
    ),
    BadInput(
        "swapped waypoint",
        "swap.plan",
        b"lat,lon\n54.1,8.1\n54.2,8.1\n8.1,54.3\n54.4,8.1\n",
        ("line 4", "point 3", "change places"),
    ),
    BadInput("waypoint half there", "half.plan", b"lat,lon\n54.1,8.1\n54.2,\n", ("line 3", "no longitude")),
    BadInput("waypoints without names", "head.plan", b"54.1,8.1\n54.2,8.1\n", ("line 1", "name,lat,lon")),
    BadInput("leg round the earth", "far.plan", b"lat,lon\n54.1,8.1\n54.1,98.1\n", ("line 3", "300 nmi")),
    BadInput(
        "minutes without letter", "min.plan", b"lat,lon\n54 30,8 10\n", ("line 2", "'54 30'", "no letter")
    ),
]

BAD_INPUTS = [*GPX_CASES, *ZONE_CASES, *PROFILE_CASES, *PLAN_CASES]
