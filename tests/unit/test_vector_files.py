"""GeoPackage, Shapefile and FlatGeobuf: all layers, all features, a known datum, or a refusal."""

from __future__ import annotations

import hashlib
import sqlite3
import warnings
from collections.abc import Iterable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import fiona
import fiona.crs
import pytest
from bad_inputs import SQUARE

from towzone.errors import InputError
from towzone.files.zones import ZoneFile, read_zones
from towzone.geodesy.lines import WGS84, LineKind
from towzone.model.zone import Prohibition

DRIVERS = {"gpkg": "GPKG", "shp": "ESRI Shapefile", "fgb": "FlatGeobuf"}
COLUMNS = {"name": "str", "kind": "str", "edges": "str", "prohibits": "str", "margin": "str"}


def square(shift_deg: float = 0.0) -> dict[str, object]:
    return {"type": "Polygon", "coordinates": [[(lon + shift_deg, lat) for lon, lat in SQUARE]]}


def record(n: int, geometry: object = "square", **more: object) -> dict[str, object]:
    values = {
        "name": f"Box {n}",
        "kind": "closed_area",
        "edges": "rhumb",
        "prohibits": '["entry"]',
        "margin": "1km",
    }
    return {"geometry": square(n / 100) if geometry == "square" else geometry, "properties": values | more}


def write(
    path: Path,
    records: Iterable[dict[str, object]],
    *,
    columns: dict[str, str] | None = None,
    crs: str | None = "EPSG:4326",
    layer: str | None = None,
    geometry: str = "Polygon",
) -> Path:
    schema = {"geometry": geometry, "properties": columns or COLUMNS}
    driver = DRIVERS[path.suffix[1:]]
    extra = {"layer": layer} if layer else {}
    with warnings.catch_warnings():
        # The library itself warns while it cuts long names for a Shapefile; that is what is tested.
        warnings.simplefilter("ignore", UserWarning)
        with fiona.open(path, "w", driver=driver, schema=schema, crs=crs, **extra) as sink:
            sink.writerecords(list(records))
    return path


def messages(file: ZoneFile) -> str:
    return "\n".join(f"{remark.where}: {remark.message}" for remark in file.remarks)


@pytest.mark.parametrize("suffix", DRIVERS)
def test_zones_come_back_as_written(suffix: str, tmp_path: Path) -> None:
    path = write(tmp_path / f"zones.{suffix}", [record(n) for n in range(1, 4)])
    file = read_zones(str(path))
    assert sorted(zone.name for zone in file.zones) == ["Box 1", "Box 2", "Box 3"]
    zone = next(zone for zone in file.zones if zone.name == "Box 2")
    assert {tuple(corner) for corner in zone.shape.polygons[0][0].tolist()} == {
        (lon + 0.02, lat) for lon, lat in SQUARE
    }
    assert (zone.edges, zone.edges_stated) == (LineKind.RHUMB, True)
    assert (zone.prohibits, zone.margin_m) == ((Prohibition.ENTRY,), 1000.0)
    assert (zone.datum_note, file.input.file) == ("", str(path))


def test_all_layers_of_a_geopackage_are_read(tmp_path: Path) -> None:
    """Opened without a layer name, only the first would come."""
    path = tmp_path / "zones.gpkg"
    write(path, [record(1)], layer="areas")
    line = {"type": "LineString", "coordinates": [(1, 50), (2, 51)]}
    write(path, [record(2, line, kind="cable")], layer="cables", geometry="LineString")
    file = read_zones(str(path))
    assert [(zone.name, zone.feature, zone.zone_id) for zone in file.zones] == [
        ("Box 1", 1, "zones-1"),
        ("Box 2", 2, "zones-2"),
    ]


def test_a_fault_in_the_second_layer_names_it(tmp_path: Path) -> None:
    path = tmp_path / "zones.gpkg"
    write(path, [record(1)], layer="areas")
    write(path, [record(2, kind="reef")], layer="wrecks")
    with pytest.raises(InputError, match=r"layer 'wrecks', feature 1 \(zone 'Box 2'\): .*'reef'"):
        read_zones(str(path))


def test_a_table_without_geometries_is_said_not_read(tmp_path: Path) -> None:
    path = tmp_path / "zones.gpkg"
    write(path, [record(1)], layer="areas")
    write(path, [record(2, None)], layer="notices", geometry="None")
    file = read_zones(str(path))
    assert len(file.zones) == 1
    assert "table 'notices': holds no geometries and is not read" in messages(file)


def test_half_a_flatgeobuf_is_refused(tmp_path: Path) -> None:
    """Measured: the library hands out 94 of 179 features and no error."""
    path = write(tmp_path / "zones.fgb", [record(n) for n in range(179)])
    data = path.read_bytes()
    refused = 0
    for share in (0.4, 0.5, 0.6, 0.8, 0.95, 0.999):
        path.write_bytes(data[: int(len(data) * share)])
        with pytest.raises(InputError, match=r"cut off|damaged"):
            read_zones(str(path))
        refused += 1
    assert refused == 6


def test_a_truncated_shapefile_is_refused_feature_by_feature(tmp_path: Path) -> None:
    """Measured: the library hands out features whose geometry is None."""
    path = write(tmp_path / "zones.shp", [record(n) for n in range(20)])
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 7 // 10])
    with pytest.raises(InputError, match=r"geometry is null|damaged"):
        read_zones(str(path))


@pytest.mark.parametrize("suffix", ["gpkg", "shp"])
def test_a_null_geometry_is_refused(suffix: str, tmp_path: Path) -> None:
    path = write(tmp_path / f"zones.{suffix}", [record(1), record(2, None)])
    with pytest.raises(InputError, match=r"feature \d \(zone 'Box 2'\): the geometry is null"):
        read_zones(str(path))


@pytest.mark.parametrize("suffix", ["shp", "fgb"])
def test_a_missing_reference_system_is_refused(suffix: str, tmp_path: Path) -> None:
    path = write(tmp_path / f"zones.{suffix}", [record(1)])
    if suffix == "shp":
        path.with_suffix(".prj").unlink()
    else:
        path.unlink()
        write(path, [record(1)], crs=None)
    with pytest.raises(InputError, match="no coordinate reference system"):
        read_zones(str(path))


def test_a_geopackage_of_undefined_system_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "zones.gpkg", [record(1)], crs=None)
    with pytest.raises(InputError, match=r"coordinate reference system|no conversion|gives no positions"):
        read_zones(str(path))


def test_an_unknown_datum_is_refused(tmp_path: Path) -> None:
    """Transforming it would change nothing, without a word."""
    path = write(tmp_path / "zones.shp", [record(1)])
    path.with_suffix(".prj").write_text(
        'GEOGCS["x",DATUM["unknown",SPHEROID["x",6377000,300]],PRIMEM["Greenwich",0],'
        'UNIT["degree",0.0174532925199433]]'
    )
    with pytest.raises(InputError, match="no conversion of known accuracy"):
        read_zones(str(path))


@pytest.mark.parametrize("suffix", DRIVERS)
def test_ed50_is_converted_with_its_accuracy(suffix: str, tmp_path: Path) -> None:
    """121 m at 55N 3E: fiona, pyogrio and pyproj agree, measured with their default operations."""
    point = {"type": "Point", "coordinates": (3.0, 55.0)}
    path = write(
        tmp_path / f"zones.{suffix}",
        [record(1, point, kind="obstruction")],
        crs="EPSG:4230",
        geometry="Point",
    )
    (zone,) = read_zones(str(path)).zones
    _, _, shift_m = WGS84.inv(3.0, 55.0, *zone.shape.points[0])
    assert abs(shift_m - 121.0) <= 1.0
    assert zone.datum_note.startswith("from ED50 by")
    assert zone.datum_accuracy_m > 0


def test_names_a_shapefile_cuts_to_ten_letters_are_still_rules(tmp_path: Path) -> None:
    columns = {
        "kind": "str",
        "allowed_on": "str",
        "transit_mi": "str",
        "except_gea": "str",
        "valid_unti": "str",
    }
    values = {
        "kind": "closed_area",
        "allowed_on": "true",
        "transit_mi": "6kn",
        "except_gea": '["SSC"]',
        "valid_unti": "2026-12-31",
    }
    path = write(tmp_path / "zones.shp", [{"geometry": square(), "properties": values}], columns=columns)
    (zone,) = read_zones(str(path)).zones
    assert zone.rules.allowed_only_inside
    assert zone.rules.transit_min_speed_kn == 6.0
    assert zone.rules.except_gears == ("SSC",)
    assert zone.rules.valid_until == datetime(2027, 1, 1, tzinfo=UTC)


def test_a_shapefile_without_its_table_has_no_kind_and_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "zones.shp", [record(1)])
    path.with_suffix(".dbf").unlink()
    with pytest.raises(InputError, match="'kind' is missing"):
        read_zones(str(path))


def test_letters_read_without_their_code_page_are_said(tmp_path: Path) -> None:
    path = write(tmp_path / "zones.shp", [record(1, name="K\u00f8ge")])
    assert read_zones(str(path)).zones[0].name == "K\u00f8ge"
    path.with_suffix(".cpg").unlink()
    assert "no .cpg file" in messages(read_zones(str(path)))


def test_reading_leaves_the_folder_as_it_was(tmp_path: Path) -> None:
    path = write(tmp_path / "zones.shp", [record(1)])
    write(tmp_path / "zones.gpkg", [record(1)])
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    read_zones(str(path))
    read_zones(str(tmp_path / "zones.gpkg"))
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_heights_are_dropped_and_said(tmp_path: Path) -> None:
    ring = [(lon, lat, 5.0) for lon, lat in SQUARE]
    path = write(
        tmp_path / "zones.gpkg",
        [record(1, {"type": "Polygon", "coordinates": [ring]})],
        geometry="3D Polygon",
    )
    file = read_zones(str(path))
    assert file.zones[0].shape.polygons[0][0].shape == (4, 2)
    assert "heights of 5 positions are not used" in messages(file)


def test_an_upper_case_kind_column_is_pointed_out(tmp_path: Path) -> None:
    path = write(
        tmp_path / "zones.shp",
        [{"geometry": square(), "properties": {"KIND": "cable"}}],
        columns={"KIND": "str"},
    )
    with pytest.raises(InputError, match=r"'kind' is missing \(there is 'KIND': write it 'kind'\)"):
        read_zones(str(path))


def test_a_garbled_table_definition_is_refused(tmp_path: Path) -> None:
    """Measured: the library ends the whole program over the text of its own error message."""
    path = write(tmp_path / "zones.gpkg", [record(1)])
    path.write_bytes(path.read_bytes().replace(b'"margin"', b'"mar\xa9in"'))
    with pytest.raises(InputError, match="the GeoPackage is damaged"):
        read_zones(str(path))


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9, 0.999])
def test_a_truncated_geopackage_is_refused(share: float, tmp_path: Path) -> None:
    path = write(tmp_path / "zones.gpkg", [record(n) for n in range(50)])
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    with pytest.raises(InputError, match="the GeoPackage is damaged"):
        read_zones(str(path))


def test_changes_waiting_in_a_log_are_not_overlooked(tmp_path: Path) -> None:
    path = write(tmp_path / "zones.gpkg", [record(1)])
    Path(f"{path}-wal").write_bytes(b"something")
    with pytest.raises(InputError, match="-wal file"):
        read_zones(str(path))


def test_a_layer_taken_off_the_list_is_noticed(tmp_path: Path) -> None:
    path = write(tmp_path / "zones.gpkg", [record(1)], layer="areas")
    write(path, [record(2)], layer="cables")
    with closing(sqlite3.connect(path)) as database, database:
        database.execute("DELETE FROM gpkg_contents WHERE table_name = 'cables'")
    with pytest.raises(InputError, match="'cables' is listed as features in one place only"):
        read_zones(str(path))


def test_a_projection_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "zones.shp", [record(1)])
    text = path.with_suffix(".prj").read_bytes()
    path.with_suffix(".prj").write_bytes(text.replace(b"WGS_1984", b"WGS\xfa1984"))
    with pytest.raises(InputError, match=r"coordinate reference system|no conversion of known accuracy"):
        read_zones(str(path))


def test_the_files_beside_a_shapefile_are_identified_too(tmp_path: Path) -> None:
    """Margins stand in the .dbf and the datum in the .prj: a record without them could be changed unseen."""
    path = write(tmp_path / "zones.shp", [record(1)])
    file = read_zones(str(path))
    names = [Path(companion.file).name for companion in file.companions]
    assert names == ["zones.cpg", "zones.dbf", "zones.prj", "zones.shx"]
    table = path.with_suffix(".dbf").read_bytes()
    assert file.companions[1].sha256 == hashlib.sha256(table).hexdigest()
    assert read_zones(str(write(tmp_path / "zones.gpkg", [record(1)]))).companions == ()
