"""Vector files to zones: columns mapped, nothing lost, nothing guessed, the datum carried into the zone."""

from __future__ import annotations

import builtins
import json
import warnings
from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path

import fiona
import geopandas
import pytest
import shapely

from towzone.errors import InputError, UsageError
from towzone.files.vector_mapping import convert_vector
from towzone.geodesy.lines import WGS84
from towzone.model.draft import Converted, Draft

SQUARE = [(3.0, 55.0), (4.0, 55.0), (4.0, 56.0), (3.0, 56.0), (3.0, 55.0)]
SUFFIXES = {"gpkg": "GPKG", "shp": "ESRI Shapefile", "fgb": "FlatGeobuf", "gml": "GML"}
TITLE = {"title": "str", "rule": "str"}
KIND = {"kind": "closed_area", "edges": "rhumb"}


def square(shift_deg: float = 0.0) -> dict[str, object]:
    return {"type": "Polygon", "coordinates": [[(lon + shift_deg, lat) for lon, lat in SQUARE]]}


def record(n: int, **values: object) -> dict[str, object]:
    return {"geometry": square(n / 100), "properties": {"title": f"Box {n}", "rule": "fishing"} | values}


def write(
    path: Path,
    records: Iterable[dict[str, object]],
    *,
    columns: Mapping[str, str] = TITLE,
    crs: str | None = "EPSG:4326",
    layer: str | None = None,
    geometry: str = "Polygon",
    **options: str,
) -> Path:
    if layer:
        options["layer"] = layer
    schema = {"geometry": geometry, "properties": dict(columns)}
    with warnings.catch_warnings():
        # The library itself warns while it cuts long names for a Shapefile.
        warnings.simplefilter("ignore", UserWarning)
        with fiona.open(
            path, "w", driver=SUFFIXES[path.suffix[1:]], schema=schema, crs=crs, **options
        ) as sink:
            sink.writerecords(list(records))
    return path


def write_point(path: Path, lon: float, lat: float, crs: str) -> Path:
    point = {
        "geometry": {"type": "Point", "coordinates": (lon, lat)},
        "properties": {"title": "a", "rule": "b"},
    }
    return write(path, [point], crs=crs, geometry="Point")


def remarks(converted: Converted) -> str:
    return "\n".join(f"{where}: {message}" for where, message in converted.remarks)


def by_name(converted: Converted) -> dict[object, Draft]:
    return {draft.properties["name"]: draft for draft in converted.drafts}


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_columns_become_properties_and_corners_stay(suffix: str, tmp_path: Path) -> None:
    path = write(tmp_path / f"areas.{suffix}", [record(n) for n in range(1, 4)])
    converted = convert_vector(
        str(path), columns={"name": "title", "prohibits": "rule"}, defaults=KIND | {"source": "a notice"}
    )
    assert converted.questions == ()
    drafts = by_name(converted)
    assert sorted(drafts) == ["Box 1", "Box 2", "Box 3"]
    wanted = {
        "name": "Box 2",
        "kind": "closed_area",
        "edges": "rhumb",
        "prohibits": "fishing",
        "source": "a notice",
    }
    assert {key: drafts["Box 2"].properties[key] for key in wanted} == wanted
    assert "title" not in drafts["Box 2"].properties
    assert "datum_note" not in drafts["Box 2"].properties
    corners = {tuple(corner) for corner in drafts["Box 2"].shape.polygons[0][0].tolist()}
    assert corners == {(lon + 0.02, lat) for lon, lat in SQUARE}


def test_reading_leaves_nothing_beside_a_gml_file(tmp_path: Path) -> None:
    """The library would write a .gfs file there."""
    path = write(tmp_path / "areas.gml", [record(1)])
    path.with_suffix(".xsd").unlink()
    convert_vector(str(path), defaults=KIND)
    assert [p.name for p in tmp_path.iterdir()] == ["areas.gml"]


def test_columns_that_are_no_properties_are_kept_beside_them(tmp_path: Path) -> None:
    columns = TITLE | {"depth_m": "float", "listed": "date"}
    path = write(tmp_path / "a.gpkg", [record(1, depth_m=12.5, listed="2026-01-31")], columns=columns)
    (draft,) = convert_vector(str(path), defaults=KIND).drafts
    assert (draft.properties["title"], draft.properties["depth_m"]) == ("Box 1", 12.5)
    assert draft.properties["listed"] == "2026-01-31"
    json.dumps(dict(draft.properties), allow_nan=False)


def test_columns_called_like_properties_are_those_properties(tmp_path: Path) -> None:
    columns = {"name": "str", "kind": "str", "prohibits": "str"}
    values = {"name": "Box", "kind": "safety_zone", "prohibits": '["entry", "fishing"]'}
    path = write(tmp_path / "a.gpkg", [{"geometry": square(), "properties": values}], columns=columns)
    (draft,) = convert_vector(str(path), defaults=KIND).drafts
    assert draft.properties["kind"] == "safety_zone"
    assert draft.properties["prohibits"] == ["entry", "fishing"]


def test_a_value_of_the_file_is_not_replaced_by_a_constant_and_that_is_said(tmp_path: Path) -> None:
    path = write(
        tmp_path / "a.gpkg",
        [{"geometry": square(), "properties": {"kind": "cable"}}],
        columns={"kind": "str"},
    )
    converted = convert_vector(str(path), defaults=KIND)
    assert converted.drafts[0].properties["kind"] == "cable"
    assert "1 feature with a value of its own for 'kind'" in remarks(converted)


def test_a_kind_and_edges_that_nothing_says_are_asked_once(tmp_path: Path) -> None:
    path = write(tmp_path / "a.gpkg", [record(1), record(2)])
    converted = convert_vector(str(path), columns={"name": "title"})
    assert [question.number for question in converted.questions] == [1, 2]
    assert "2 features of 2 without a kind" in converted.questions[0].text
    assert converted.questions[1].answers == ("rhumb", "geodesic", "lonlat")
    answered = convert_vector(str(path), columns={"name": "title"}, answers={1: "cable", 2: "geodesic"})
    assert answered.questions == ()
    assert {(d.properties["kind"], d.properties["edges"]) for d in answered.drafts} == {("cable", "geodesic")}


def test_the_question_for_edges_says_how_many_metres_it_leaves_open(tmp_path: Path) -> None:
    """10 degrees along 60 N part by 10 546 m (computed with an independent library), 1 degree by 1/100."""
    ring = [(0.0, 59.0), (1.0, 59.0), (1.0, 60.0), (0.0, 60.0), (0.0, 59.0)]
    geometry = {"type": "Polygon", "coordinates": [ring]}
    path = write(tmp_path / "a.gpkg", [{"geometry": geometry, "properties": {"title": "x", "rule": "y"}}])
    (question,) = convert_vector(str(path), defaults={"kind": "cable"}).questions
    assert "up to 1.1e+02 m here" in question.text or "up to 110 m here" in question.text


def test_points_need_no_edges(tmp_path: Path) -> None:
    path = write_point(tmp_path / "a.gpkg", 3.0, 55.0, "EPSG:4326")
    assert convert_vector(str(path), defaults={"kind": "obstruction"}).questions == ()


@pytest.mark.parametrize(
    ("lon", "lat", "to_lon", "to_lat", "shift_m"),
    # Computed with another general-purpose library's default operation, WGS 84 position and shift.
    [(3.0, 56.0, 2.99854, 55.99932, 119.0), (1.0, 54.5, None, None, 127.0), (2.0, 61.0, None, None, 111.0)],
)
def test_ed50_moves_south_west_and_says_how(
    lon: float, lat: float, to_lon: float | None, to_lat: float | None, shift_m: float, tmp_path: Path
) -> None:
    path = write_point(tmp_path / "a.shp", lon, lat, "EPSG:4230")
    converted = convert_vector(str(path), defaults={"kind": "obstruction"})
    (draft,) = converted.drafts
    got_lon, got_lat = draft.shape.points[0].tolist()
    course, _, moved_m = WGS84.inv(lon, lat, got_lon, got_lat)
    assert abs(moved_m - shift_m) <= 3.0  # regional operations differ by 2.3 m
    assert -180.0 < course < -90.0
    if to_lon is not None and to_lat is not None:
        assert abs(got_lon - to_lon) <= 3e-5
        assert abs(got_lat - to_lat) <= 3e-5
    assert str(draft.properties["datum_note"]).startswith("from ED50 by ED50 to WGS 84")
    assert draft.properties["datum_accuracy"] == "1m"
    assert "converted to WGS 84 from ED50" in remarks(converted)


@pytest.mark.parametrize(("lon", "accuracy"), [(3.0, "1m"), (-20.0, "2m")])
def test_a_datum_that_is_wgs84_by_definition_is_taken_everywhere(
    lon: float, accuracy: str, tmp_path: Path
) -> None:
    """ETRS89 west of 16.1 W lies outside its published area; it is no unknown datum for that."""
    path = write_point(tmp_path / "a.gpkg", lon, 60.0, "EPSG:4258")
    (draft,) = convert_vector(str(path), defaults={"kind": "obstruction"}).drafts
    assert draft.shape.points.tolist() == [[lon, 60.0]]
    assert draft.properties["datum_accuracy"] == accuracy


@pytest.mark.parametrize("crs", ["EPSG:4230", "EPSG:4267"])
def test_a_datum_that_moves_is_refused_where_nothing_is_published(crs: str, tmp_path: Path) -> None:
    path = write_point(tmp_path / "a.gpkg", -35.0, 60.0 if crs == "EPSG:4230" else -20.0, crs)
    with pytest.raises(InputError, match="no conversion of known accuracy"):
        convert_vector(str(path), defaults={"kind": "obstruction"})


def test_a_map_projection_comes_back_in_degrees(tmp_path: Path) -> None:
    path = write_point(tmp_path / "a.gpkg", 500_000.0, 6_100_000.0, "EPSG:25832")
    converted = convert_vector(str(path), defaults={"kind": "obstruction"})
    lon, lat = converted.drafts[0].shape.points[0].tolist()
    assert abs(lon - 9.0) <= 1e-9
    assert 55.0 < lat < 55.1
    assert "only the corners were converted" in remarks(converted)


@pytest.mark.parametrize("suffix", ["shp", "fgb"])
def test_a_missing_system_is_refused_until_stated(suffix: str, tmp_path: Path) -> None:
    path = write(tmp_path / f"a.{suffix}", [record(1)], crs=None)
    with pytest.raises(InputError, match="--crs"):
        convert_vector(str(path), defaults=KIND)
    (draft,) = convert_vector(str(path), defaults=KIND, crs="EPSG:4230").drafts
    assert str(draft.properties["datum_note"]).startswith("from ED50")
    converted = convert_vector(str(path), defaults=KIND, crs="EPSG:4326")
    assert "'EPSG:4326' was stated for it" in remarks(converted)
    assert "datum_note" not in converted.drafts[0].properties


def test_a_system_the_file_states_is_not_overruled(tmp_path: Path) -> None:
    path = write(tmp_path / "a.gpkg", [record(1)])
    with pytest.raises(InputError, match="states its coordinate reference system"):
        convert_vector(str(path), defaults=KIND, crs="EPSG:4230")


def test_a_system_nobody_knows_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "a.shp", [record(1)], crs=None)
    with pytest.raises(InputError, match=r"'EPSG:99999' is not known"):
        convert_vector(str(path), defaults=KIND, crs="EPSG:99999")


def test_all_layers_are_read_or_the_one_asked_for(tmp_path: Path) -> None:
    path = write(tmp_path / "a.gpkg", [record(1)], layer="north")
    write(path, [record(2), record(3)], layer="south")
    assert len(convert_vector(str(path), defaults=KIND).drafts) == 3
    converted = convert_vector(str(path), layer="south", defaults=KIND)
    assert len(converted.drafts) == 2
    assert "layer 'north': was not asked for" in remarks(converted)
    with pytest.raises(InputError, match="there is no layer 'east'; there are 'north', 'south'"):
        convert_vector(str(path), layer="east", defaults=KIND)


def test_letters_of_a_stated_encoding(tmp_path: Path) -> None:
    path = write(tmp_path / "a.shp", [record(1, title="Køge")], encoding="ISO-8859-1")
    path.with_suffix(".cpg").unlink()
    (draft,) = convert_vector(
        str(path), columns={"name": "title"}, defaults=KIND, encoding="iso-8859-1"
    ).drafts
    assert draft.properties["name"] == "Køge"


def test_an_encoding_is_known_and_for_shapefiles(tmp_path: Path) -> None:
    path = write(tmp_path / "a.shp", [record(1)])
    with pytest.raises(UsageError, match="'klingon' is not known"):
        convert_vector(str(path), defaults=KIND, encoding="klingon")
    with pytest.raises(UsageError, match="for Shapefiles only"):
        convert_vector(str(write(tmp_path / "a.gpkg", [record(1)])), defaults=KIND, encoding="cp1252")


@pytest.mark.parametrize("where", ["columns", "defaults"])
def test_a_property_that_does_not_exist_is_refused(where: str, tmp_path: Path) -> None:
    path = write(tmp_path / "a.gpkg", [record(1)])
    with pytest.raises(UsageError, match="'seasons' is not a zone property"):
        convert_vector(str(path), **{where: {"seasons": "title"}})


def test_a_column_that_does_not_exist_is_refused_with_those_that_do(tmp_path: Path) -> None:
    path = write(tmp_path / "a.gpkg", [record(1)])
    with pytest.raises(InputError, match=r"there is no column 'titel' .* 'title', 'rule'"):
        convert_vector(str(path), columns={"name": "titel"}, defaults=KIND)


def test_what_no_zone_file_may_say_is_refused_with_its_place(tmp_path: Path) -> None:
    path = write(tmp_path / "a.gpkg", [record(1), record(2, rule="diving")])
    with pytest.raises(InputError, match=r"feature 2 \(zone 'Box 2'\).*'diving'"):
        convert_vector(str(path), columns={"name": "title", "prohibits": "rule"}, defaults=KIND)


def test_a_shape_that_cannot_be_judged_is_refused_with_its_place(tmp_path: Path) -> None:
    bow = {"type": "Polygon", "coordinates": [[(0, 50), (1, 51), (1, 50), (0, 51), (0, 50)]]}
    path = write(tmp_path / "a.gpkg", [{"geometry": bow, "properties": {"title": "Bow", "rule": "x"}}])
    with pytest.raises(InputError, match=r"feature 1 \(zone 'Bow'\): .*cross"):
        convert_vector(str(path), columns={"name": "title"}, defaults=KIND)


def test_a_file_without_features_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no features"):
        convert_vector(str(write(tmp_path / "a.gpkg", [])), defaults=KIND)


KML = """<?xml version="1.0" encoding="UTF-8"?>
<kml xmlns="http://www.opengis.net/kml/2.2"><Document>
<Folder><name>Cables</name><Placemark><name>A</name>{extra}
<LineString><coordinates>1,50,0 2,51,0</coordinates></LineString></Placemark></Folder>
<Folder><name>Wrecks</name><Placemark><name>B</name><Point><coordinates>3,52</coordinates></Point></Placemark>
</Folder></Document></kml>
"""


def test_kml_folders_are_all_read(tmp_path: Path) -> None:
    path = tmp_path / "a.kml"
    path.write_text(KML.format(extra=""), encoding="utf-8")
    converted = convert_vector(str(path), columns={"name": "Name"}, defaults=KIND | {"kind": "cable"})
    drafts = by_name(converted)
    assert drafts["A"].shape.lines[0].tolist() == [[1.0, 50.0], [2.0, 51.0]]
    assert drafts["B"].shape.points.tolist() == [[3.0, 52.0]]
    assert "heights of" in remarks(converted)
    assert len(convert_vector(str(path), layer="Wrecks", defaults=KIND).drafts) == 1


def test_kml_data_that_cannot_be_read_is_said(tmp_path: Path) -> None:
    extra = '<ExtendedData><Data name="kind"><value>cable</value></Data></ExtendedData>'
    path = tmp_path / "a.kml"
    path.write_text(KML.format(extra=extra), encoding="utf-8")
    assert "extended data of placemarks cannot be read" in remarks(convert_vector(str(path), defaults=KIND))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("</Folder></Document>", "</Document>"), r"line \d+ column \d+: the KML file is damaged"),
        (("<Document>", "<Document><NetworkLink><name>n</name></NetworkLink>"), "NetworkLink"),
        (("<kml xmlns", "<!DOCTYPE kml [<!ENTITY a 'b'>]><kml xmlns"), "document type declaration"),
        (("<Point><coordinates>3,52</coordinates></Point>", ""), "only 1 of 2 features|geometry is null"),
        (("kml", "html"), "not that of a KML file"),
    ],
)
def test_kml_that_would_lose_a_zone_is_refused(change: tuple[str, str], said: str, tmp_path: Path) -> None:
    path = tmp_path / "a.kml"
    path.write_text(KML.format(extra="").replace(*change), encoding="utf-8")
    with pytest.raises(InputError, match=said):
        convert_vector(str(path), columns={"name": "Name"}, defaults=KIND)


GML = """<?xml version="1.0" encoding="utf-8"?>
<f:FeatureCollection xmlns:f="urn:f" xmlns:gml="http://www.opengis.net/gml"><gml:featureMember><f:area><f:geom>
<gml:Polygon srsName="{crs}"><gml:outerBoundaryIs><gml:LinearRing><gml:coordinates>{ring}</gml:coordinates>
</gml:LinearRing></gml:outerBoundaryIs></gml:Polygon></f:geom><f:title>Box</f:title></f:area></gml:featureMember>
</f:FeatureCollection>
"""


@pytest.mark.parametrize(
    ("crs", "ring", "said"),
    [
        ("urn:ogc:def:crs:EPSG::4326", "50,1 50,2 51,2 51,1 50,1", False),
        ("EPSG:4326", "1,50 2,50 2,51 1,51 1,50", True),
    ],
)
def test_gml_axis_order_follows_the_form_of_the_name(crs: str, ring: str, said: bool, tmp_path: Path) -> None:
    path = tmp_path / "a.gml"
    path.write_text(GML.format(crs=crs, ring=ring), encoding="utf-8")
    converted = convert_vector(str(path), defaults=KIND)
    corners = sorted(converted.drafts[0].shape.polygons[0][0].tolist())
    assert corners == [[1.0, 50.0], [1.0, 51.0], [2.0, 50.0], [2.0, 51.0]]
    assert ("read as longitude first" in remarks(converted)) == said


def test_gml_cut_off_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "a.gml", [record(n) for n in range(200)])
    data = path.read_bytes()
    for share in (0.3, 0.6, 0.9, 0.999):
        path.write_bytes(data[: int(len(data) * share)])
        with pytest.raises(InputError, match=r"line \d+ column \d+: the GML file is damaged or cut off"):
            convert_vector(str(path), defaults=KIND)


def parquet(path: Path, *, crs: str | None = "OGC:CRS84", **columns: object) -> Path:
    ring = shapely.Polygon(SQUARE)
    values = {"title": ["Box"], "rule": [["fishing", "entry"]], "day": [date(2026, 1, 31)]} | columns
    geopandas.GeoDataFrame(values, geometry=[ring], crs=crs).to_parquet(path)
    return path


def test_geoparquet_becomes_zones(tmp_path: Path) -> None:
    path = parquet(tmp_path / "a.parquet")
    columns = {"name": "title", "prohibits": "rule", "issued": "day"}
    (draft,) = convert_vector(str(path), columns=columns, defaults=KIND).drafts
    assert sorted(draft.shape.polygons[0][0].tolist()) == sorted(map(list, SQUARE[1:]))
    assert draft.properties["prohibits"] == ["fishing", "entry"]
    assert (draft.properties["name"], draft.properties["issued"]) == ("Box", "2026-01-31")


def test_geoparquet_on_another_datum_is_converted(tmp_path: Path) -> None:
    path = parquet(tmp_path / "a.parquet", crs="EPSG:4230")
    (draft,) = convert_vector(str(path), defaults=KIND).drafts
    assert str(draft.properties["datum_note"]).startswith("from ED50")


def test_geoparquet_on_an_unknown_system_is_refused_until_stated(tmp_path: Path) -> None:
    """``crs`` null means unknown; only a missing key means WGS 84."""
    path = parquet(tmp_path / "a.parquet", crs=None)
    with pytest.raises(InputError, match="--crs"):
        convert_vector(str(path), defaults=KIND)
    assert len(convert_vector(str(path), defaults=KIND, crs="EPSG:4326").drafts) == 1


def test_damaged_geoparquet_is_refused(tmp_path: Path) -> None:
    path = parquet(tmp_path / "a.parquet")
    data = path.read_bytes()
    for share in (0.1, 0.5, 0.99):
        path.write_bytes(data[: int(len(data) * share)])
        with pytest.raises(InputError, match="GeoParquet file is damaged"):
            convert_vector(str(path), defaults=KIND)


def test_a_table_without_geometries_is_refused(tmp_path: Path) -> None:
    path = parquet(tmp_path / "a.parquet")
    geopandas.pd.DataFrame({"title": ["Box"]}).to_parquet(path)
    with pytest.raises(InputError, match="GeoParquet file is damaged or cannot be read"):
        convert_vector(str(path), defaults=KIND)


def test_without_pyarrow_it_is_said_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = parquet(tmp_path / "a.parquet")
    real = builtins.__import__

    def without(name: str, *rest: object) -> object:
        if name.startswith("pyarrow"):
            raise ImportError(name)
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(InputError, match=r"towzone\[parquet\]"):
        convert_vector(str(path), defaults=KIND)


def test_geojson_with_columns_of_others_becomes_zones(tmp_path: Path) -> None:
    feature = {"type": "Feature", "geometry": square(), "properties": {"title": "Box", "rule": "entry"}}
    path = tmp_path / "a.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}), encoding="utf-8")
    (draft,) = convert_vector(str(path), columns={"name": "title", "prohibits": "rule"}, defaults=KIND).drafts
    assert (draft.properties["name"], draft.properties["prohibits"]) == ("Box", "entry")
    assert sorted(draft.shape.polygons[0][0].tolist()) == sorted(map(list, SQUARE[1:]))
    with pytest.raises(InputError, match="on WGS 84 unless it says otherwise"):
        convert_vector(str(path), defaults=KIND, crs="EPSG:4230")


def test_a_chart_cell_is_sent_to_its_own_reader(tmp_path: Path) -> None:
    (tmp_path / "XX5.000").write_bytes(b"02000")
    with pytest.raises(InputError, match="--from chart"):
        convert_vector(str(tmp_path / "XX5.000"))


def test_network_addresses_are_refused_before_anything_opens_them() -> None:
    with pytest.raises(InputError, match="network address"):
        convert_vector("http://127.0.0.1:1/a.gml")
