"""GeoJSON zone files: every feature becomes a zone, with its own words, or the file is refused."""

from __future__ import annotations

import io
import json
import socket
from pathlib import Path

import numpy as np
import pytest
from bad_inputs import SQUARE, collection, crs, feature, named_crs, polygon, zone

from towzone.errors import InputError
from towzone.files.zones import ZoneFile, read_zones
from towzone.geodesy.lines import WGS84, LineKind
from towzone.model.rules import Rules, Window
from towzone.model.zone import Prohibition, Zone, ZoneKind


def read(tmp_path: Path, data: bytes, name: str = "zones.geojson", edges: LineKind | None = None) -> ZoneFile:
    path = tmp_path / name
    path.write_bytes(data)
    return read_zones(str(path), default_edges=edges)


def one(tmp_path: Path, geometry: object, **properties: object) -> Zone:
    (found,) = read(tmp_path, collection(feature(geometry, **properties))).zones
    return found


def messages(file: ZoneFile) -> str:
    return "\n".join(f"{remark.where}: {remark.message}" for remark in file.remarks)


# --- geometry -------------------------------------------------------------------------------------


def test_every_geometry_type_of_rfc_7946_becomes_a_shape(tmp_path: Path) -> None:
    """The examples of RFC 7946 appendix A, coordinates as printed there."""
    examples = {
        "Point": ({"type": "Point", "coordinates": [100.0, 0.0]}, (0, 0, 1)),
        "LineString": ({"type": "LineString", "coordinates": [[100.0, 0.0], [101.0, 1.0]]}, (0, 1, 0)),
        "Polygon with hole": (
            polygon(
                [[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]],
                [[100.8, 0.8], [100.8, 0.2], [100.2, 0.2], [100.2, 0.8], [100.8, 0.8]],
            ),
            (1, 0, 0),
        ),
        "MultiPoint": ({"type": "MultiPoint", "coordinates": [[100.0, 0.0], [101.0, 1.0]]}, (0, 0, 2)),
        "MultiLineString": (
            {
                "type": "MultiLineString",
                "coordinates": [[[100.0, 0.0], [101.0, 1.0]], [[102.0, 2.0], [103.0, 3.0]]],
            },
            (0, 2, 0),
        ),
        "MultiPolygon": (
            {
                "type": "MultiPolygon",
                "coordinates": [
                    [[[102.0, 2.0], [103.0, 2.0], [103.0, 3.0], [102.0, 3.0], [102.0, 2.0]]],
                    [
                        [[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]],
                        [[100.2, 0.2], [100.2, 0.8], [100.8, 0.8], [100.8, 0.2], [100.2, 0.2]],
                    ],
                ],
            },
            (2, 0, 0),
        ),
        "GeometryCollection": (
            {
                "type": "GeometryCollection",
                "geometries": [
                    {"type": "Point", "coordinates": [100.0, 0.0]},
                    {"type": "LineString", "coordinates": [[101.0, 0.0], [102.0, 1.0]]},
                ],
            },
            (0, 1, 1),
        ),
    }
    data = collection(
        *(feature(geometry, zone_id=name, radius="500m") for name, (geometry, _) in examples.items())
    )
    zones = {z.zone_id: z.shape for z in read(tmp_path, data).zones}
    counts = {name: (len(s.polygons), len(s.lines), len(s.points)) for name, s in zones.items()}
    assert counts == {name: expected for name, (_, expected) in examples.items()}
    assert zones["Polygon with hole"].polygons[0][1].tolist() == [
        [100.8, 0.8],
        [100.8, 0.2],
        [100.2, 0.2],
        [100.2, 0.8],
    ]


def test_a_single_feature_is_a_zone_file(tmp_path: Path) -> None:
    data = json.dumps(feature(polygon(SQUARE)) | {"bbox": [-21, 57, -20, 58], "foreign": {"a": 1}}).encode()
    (found,) = read(tmp_path, b"\xef\xbb\xbf \n" + data).zones
    assert (found.zone_id, found.name, found.feature) == ("zones-1", "Box A", 1)


def test_rings_do_not_repeat_their_first_corner(tmp_path: Path) -> None:
    assert one(tmp_path, polygon(SQUARE)).shape.polygons[0][0].tolist() == SQUARE[:-1]


def test_what_was_mended_is_said(tmp_path: Path) -> None:
    ring = [[-21, 57, 0], [-20, 57, 0], [-20, 57, 0], [-20, 58, 0]]
    file = read(tmp_path, zone(polygon(ring)))
    assert file.zones[1].shape.polygons[0][0].tolist() == [[-21, 57], [-20, 57], [-20, 58]]
    said = messages(file)
    assert "heights of 4 positions are not used" in said
    assert "1 ring not closed in the file, closed here" in said
    assert "1 corner repeating the one before" in said


def test_a_zone_across_180_is_read_the_shorter_way_and_said(tmp_path: Path) -> None:
    file = read(tmp_path, zone(polygon([[179, -18], [-179, -18], [-179, -17], [179, -17], [179, -18]])))
    assert file.zones[1].shape.polygons[0][0][:, 0].tolist() == [179, -179, -179, 179]
    assert "feature 2 (zone 'Box A'): corners lie more than 180 degrees of longitude apart" in messages(file)


def test_a_zone_cut_at_180_as_rfc_7946_asks_is_read_in_parts(tmp_path: Path) -> None:
    """RFC 7946 section 3.1.9, with closed rings of our own."""
    west = [[180, 40], [180, 50], [170, 50], [170, 40], [180, 40]]
    east = [[-170, 40], [-170, 50], [-180, 50], [-180, 40], [-170, 40]]
    file = read(tmp_path, zone({"type": "MultiPolygon", "coordinates": [[west], [east]]}))
    assert len(file.zones[1].shape.polygons) == 2
    assert "180" not in messages(file)


def test_an_area_kind_without_area_or_radius_is_said(tmp_path: Path) -> None:
    file = read(tmp_path, zone({"type": "Point", "coordinates": [1, 50]}, kind="safety_zone"))
    assert "without an area and without radius" in messages(file)


def test_a_network_is_never_asked(tmp_path: Path) -> None:
    """A general-purpose reader follows a linked crs; here the listening port stays silent."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(0.2)
        href = f"http://127.0.0.1:{server.getsockname()[1]}/crs"
        link = {"type": "link", "properties": {"href": href, "type": "proj4"}}
        with pytest.raises(InputError, match="never followed"):
            read(tmp_path, crs(link))
        with pytest.raises(InputError, match="not known"):
            read(tmp_path, named_crs(href))
        vrt = f'<OGRVRTDataSource><OGRVRTLayer name="a"><SrcDataSource>/vsicurl/{href}</SrcDataSource>'
        for name in ("zones.geojson", "zones.gpkg", "zones.shp", "zones.fgb"):
            with pytest.raises(InputError):
                read(tmp_path, vrt.encode(), name)
        with pytest.raises(TimeoutError):
            server.accept()


def test_standard_input_may_hold_zones(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(collection(feature(polygon(SQUARE))))))
    assert read_zones("-").zones[0].zone_id == "stdin-1"


# --- properties -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "prohibits"),
    [
        ("closed_area", (Prohibition.FISHING,)),
        ("safety_zone", (Prohibition.ENTRY,)),
        ("cable", (Prohibition.BOTTOM_CONTACT,)),
        ("pipeline", (Prohibition.BOTTOM_CONTACT,)),
        ("obstruction", (Prohibition.BOTTOM_CONTACT,)),
    ],
)
def test_what_a_kind_prohibits_unless_stated(
    kind: str, prohibits: tuple[Prohibition, ...], tmp_path: Path
) -> None:
    found = one(tmp_path, polygon(SQUARE), kind=kind)
    assert (found.kind, found.prohibits) == (ZoneKind(kind), prohibits)


@pytest.mark.parametrize(
    "value", [["entry", "fishing"], '["entry", "fishing"]', ["entry", "fishing", "entry"]]
)
def test_prohibits_is_a_list_or_the_json_text_of_one(value: object, tmp_path: Path) -> None:
    found = one(tmp_path, polygon(SQUARE), kind="other", prohibits=value)
    assert found.prohibits == (Prohibition.ENTRY, Prohibition.FISHING)


def test_all_fields_come_from_the_feature(tmp_path: Path) -> None:
    found = one(
        tmp_path,
        {"type": "Point", "coordinates": [1, 50]},
        zone_id=17,
        name=" Platform X ",
        kind="safety_zone",
        edges="geodesic",
        prohibits="entry",
        margin="0.25nmi",
        radius="500m",
        source="invented",
        issued="2026-01-02",
        note="n",
    )
    assert (found.zone_id, found.name, found.edges, found.edges_stated) == (
        "17",
        "Platform X",
        LineKind.GEODESIC,
        True,
    )
    assert (found.margin_m, found.radius_m, found.prohibits) == (463.0, 500.0, (Prohibition.ENTRY,))
    assert (found.source, found.issued, found.note) == ("invented", "2026-01-02", "n")
    assert (found.datum_note, found.datum_accuracy_m) == ("", 0.0)


def test_what_is_not_stated_is_marked_so(tmp_path: Path) -> None:
    found = one(tmp_path, polygon(SQUARE), name=None, margin="", source=" ")
    assert (found.zone_id, found.name) == ("zones-1", "zones-1")
    assert (found.margin_m, found.radius_m, found.source, found.rules) == (None, 0.0, "", Rules())
    assert (found.edges, found.edges_stated) == (LineKind.LONLAT, False)


def test_edges_asked_for_apply_only_where_none_are_stated(tmp_path: Path) -> None:
    data = collection(feature(polygon(SQUARE), edges="geodesic"), feature(polygon(SQUARE), name="B"))
    first, second = read(tmp_path, data, edges=LineKind.RHUMB).zones
    assert (first.edges, second.edges) == (LineKind.GEODESIC, LineKind.RHUMB)
    assert second.edges_stated


@pytest.mark.parametrize(
    ("properties", "rules"),
    [
        (
            {"season": [{"from": "--10-01", "to": "--01-31"}]},
            Rules(season=(Window(from_month=10, from_day=1, to_month=1, to_day=31),), time_zone_stated=False),
        ),
        ({"gears": ["OTB"], "except_gears": '["SSC"]'}, Rules(gears=("OTB",), except_gears=("SSC",))),
        ({"transit_min_speed": "6kn"}, Rules(transit_min_speed_kn=6.0)),
        ({"allowed_only_inside": True}, Rules(allowed_only_inside=True)),
        ({"allowed_only_inside": "true"}, Rules(allowed_only_inside=True)),
        ({"allowed_only_inside": 1}, Rules(allowed_only_inside=True)),
        ({"allowed_only_inside": False, "time_zone": "Europe/Oslo"}, Rules(time_zone="Europe/Oslo")),
        (
            {"season": [], "gears": None, "except_gears": "[]", "valid_from": "", "valid_until": "null"},
            Rules(),
        ),
    ],
)
def test_rules_come_from_properties_and_from_text_in_columns(
    properties: dict[str, object], rules: Rules, tmp_path: Path
) -> None:
    assert one(tmp_path, polygon(SQUARE), **properties).rules == rules


def test_a_season_that_is_no_season_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="not even JSON"):
        one(tmp_path, polygon(SQUARE), season="not even JSON")


@pytest.mark.parametrize(
    ("key", "meant"),
    [
        ("Margin", "margin"),
        ("seasons", "season"),
        ("valid-from", "valid_from"),
        ("prohibit", "prohibits"),
        ("gear", "gears"),
        ("zoneid", "zone_id"),
        ("allowed_onlyinside", "allowed_only_inside"),
        ("transit_min_sped", "transit_min_speed"),
    ],
)
def test_a_near_miss_of_a_property_name_is_said(key: str, meant: str, tmp_path: Path) -> None:
    file = read(tmp_path, zone(polygon(SQUARE), **{key: "x"}))
    assert f"property '{key}' is not read; did you mean '{meant}'?" in messages(file)


def test_the_same_remark_on_many_features_is_made_once(tmp_path: Path) -> None:
    data = collection(*(feature(polygon(SQUARE), Margin="1km") for _ in range(50)))
    (remark,) = read(tmp_path, data).remarks
    assert remark.where == "feature 1 (zone 'Box A')"
    assert remark.message.endswith("did you mean 'margin'? (and 49 more like this)")


def test_foreign_properties_are_left_alone(tmp_path: Path) -> None:
    properties = {"id": 7, "area_km2": 12.5, "colour": "red", "OBJL": [1], "type": "Box", "update": None}
    assert read(tmp_path, zone(polygon(SQUARE), **properties)).remarks == ()


# --- datum ----------------------------------------------------------------------------------------

WGS84_NAMES = [
    "EPSG:4326",
    "urn:ogc:def:crs:OGC:1.3:CRS84",
    "urn:ogc:def:crs:OGC::CRS84",
    "urn:ogc:def:crs:EPSG::4326",
    "http://www.opengis.net/def/crs/EPSG/0/4326",
]


@pytest.mark.parametrize("name", WGS84_NAMES)
def test_wgs84_under_any_name_is_longitude_first_and_untouched(name: str, tmp_path: Path) -> None:
    (found,) = read(tmp_path, named_crs(name)).zones
    assert found.shape.polygons[0][0].tolist() == SQUARE[:-1]
    assert (found.datum_note, found.datum_accuracy_m) == ("", 0.0)


def from_ed50(tmp_path: Path, lon: float, lat: float) -> Zone:
    data = collection(
        feature({"type": "Point", "coordinates": [lon, lat]}, kind="obstruction", radius="50m"),
        crs={"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::4230"}},
    )
    (found,) = read(tmp_path, data).zones
    return found


@pytest.mark.parametrize(
    ("lon", "lat", "shift_m", "atol_m"),
    [
        (3.0, 56.0, 119.0, 1.0),
        (1.0, 54.5, 127.0, 4.0),
        (2.0, 61.0, 111.0, 4.0),
        (3.0, 55.0, 121.0, 1.0),
    ],
)
def test_ed50_is_brought_to_wgs84_by_the_known_shift(
    lon: float, lat: float, shift_m: float, atol_m: float, tmp_path: Path
) -> None:
    """Computed by others with the default operation of general-purpose libraries, a few metres accurate:
    119, 127 and 111 m towards the south-west; fiona, pyogrio and pyproj agree on 121 m at 55N 3E."""
    found = from_ed50(tmp_path, lon, lat)
    (there,) = found.shape.points
    azimuth, _, distance = WGS84.inv(lon, lat, *there)
    assert abs(distance - shift_m) <= atol_m
    assert -180 < azimuth < -90
    assert "from ED50 by ED50 to WGS 84" in found.datum_note
    assert 0 < found.datum_accuracy_m <= 10


def test_ed50_at_56_north_3_east_is_where_the_reference_puts_it(tmp_path: Path) -> None:
    """55.99932 N 2.99854 E by the default operation of a general-purpose library; the operation chosen
    here is the one made for that area, which differs by less than its own accuracy."""
    (there,) = from_ed50(tmp_path, 3.0, 56.0).shape.points
    _, _, apart_m = WGS84.inv(*there, 2.99854, 55.99932)
    assert apart_m <= 2.0


def test_a_conversion_is_said_with_its_name_and_accuracy(tmp_path: Path) -> None:
    ring = [[2, 56], [3, 56], [3, 57], [2, 56]]
    data = collection(feature(polygon(ring)), crs={"type": "name", "properties": {"name": "EPSG:4230"}})
    file = read(tmp_path, data)
    assert "positions converted to WGS 84 from ED50 by ED50 to WGS 84" in messages(file)
    assert f"accuracy {file.zones[0].datum_accuracy_m:g} m" in messages(file)


def test_a_datum_far_from_where_it_was_ever_used_is_refused(tmp_path: Path) -> None:
    """ED50 ends west of Ireland (area of use of EPSG:4230: 16.1 W to 48.61 E); this zone lies at 21 W."""
    with pytest.raises(InputError, match=r"from 'ED50' to WGS 84 where these .* -16\.1 to 48\.61 E"):
        read(tmp_path, named_crs("EPSG:4230"))


def test_metres_of_a_projection_are_converted_corner_by_corner(tmp_path: Path) -> None:
    """UTM zone 31 on WGS 84: the central meridian 3E has easting 500 000 m exactly, and the equator
    northing 0 (definition of the projection, EPSG:32631)."""
    ring = [[500000, 0], [510000, 0], [500000, 10000], [500000, 0]]
    data = collection(feature(polygon(ring)), crs={"type": "name", "properties": {"name": "EPSG:32631"}})
    file = read(tmp_path, data)
    corners = file.zones[0].shape.polygons[0][0]
    np.testing.assert_allclose(corners[0], [3.0, 0.0], rtol=0, atol=1e-9)
    assert corners[1, 1] == pytest.approx(0.0, rel=0, abs=1e-9)
    assert "only the corners were converted" in messages(file)


def test_projected_positions_beyond_the_earth_are_refused(tmp_path: Path) -> None:
    ring = [[5e9, 0], [5.1e9, 0], [5e9, 1e4]]
    data = collection(feature(polygon(ring)), crs={"type": "name", "properties": {"name": "EPSG:32631"}})
    with pytest.raises(InputError, match=r"feature 1 .*corner 1"):
        read(tmp_path, data)


def test_a_missing_grid_is_said(tmp_path: Path) -> None:
    """The best operation from OSGB36 needs a grid file that does not come with the libraries."""
    ring = [[-3, 54], [-2, 54], [-2, 55], [-3, 54]]
    data = collection(feature(polygon(ring)), crs={"type": "name", "properties": {"name": "EPSG:4277"}})
    assert "needs a grid file that is not installed" in messages(read(tmp_path, data))


def test_a_crs_repeated_in_a_feature_is_harmless(tmp_path: Path) -> None:
    member = {"type": "name", "properties": {"name": "EPSG:4326"}}
    data = collection(feature(polygon(SQUARE)) | {"crs": member})
    assert len(read(tmp_path, data).zones) == 1
