"""Parquet tables of positions: columns by their types, points, times; the fixes of CSV, or a refusal."""

from __future__ import annotations

import io
import json
import struct

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from fleet_audits import csv_text, fleet, rows_of, table

from towzone.errors import InputError
from towzone.files.tracks import read_tracks
from towzone.tracks.options import ReadingOptions

COLUMNS = rows_of(fleet()[:2])


@pytest.fixture(scope="module")
def from_csv(tmp_path_factory):
    """The tracks of the same rows as text."""
    path = tmp_path_factory.mktemp("csv") / "positions.csv"
    path.write_text(csv_text(COLUMNS), encoding="utf-8")
    return read_tracks(str(path)).tracks


def read(path, found, **options):
    pq.write_table(found, path, row_group_size=37)
    return read_tracks(str(path), ReadingOptions(**options))


def require_same(tracks, expected):
    assert [t.track_id for t in tracks] == [t.track_id for t in expected]
    for one, other in zip(tracks, expected, strict=True):
        assert np.array_equal(one.lon_deg, other.lon_deg)
        assert np.array_equal(one.lat_deg, other.lat_deg)
        assert np.array_equal(one.time_utc, other.time_utc)
        assert one.vessel == other.vessel
        assert one.fixes_read == other.fixes_read
        assert set(one.readings) == set(other.readings)
        for name, column in one.readings.items():
            assert np.array_equal(column, other.readings[name], equal_nan=True)


def replaced(name, array, new_name=""):
    found = table(COLUMNS)
    return found.set_column(found.column_names.index(name), new_name or name, array)


def _stamps(unit):
    return COLUMNS["time_utc"].astype(f"datetime64[{unit}]")


FORMS = {
    "plain": table(COLUMNS),
    "dictionary": replaced("vessel", pa.array(COLUMNS["vessel"].tolist()).dictionary_encode()),
    "nanoseconds": replaced("time_utc", pa.array(_stamps("ns"), type=pa.timestamp("ns", tz="UTC"))),
    "another zone": replaced("time_utc", pa.array(_stamps("us"), type=pa.timestamp("us", tz="Asia/Tokyo"))),
    "clocks, UTC by their name": replaced("time_utc", pa.array(_stamps("ms"), type=pa.timestamp("ms"))),
    "seconds": replaced("time_utc", pa.array(_stamps("s").astype(np.int64)), "epoch_s"),
    "milliseconds": replaced("time_utc", pa.array(_stamps("ms").astype(np.int64)), "epoch_ms"),
    "seconds, broken": replaced("time_utc", pa.array(_stamps("s").astype(np.float64)), "epoch_s"),
    "text": replaced("time_utc", pa.array([f"{t}Z" for t in np.datetime_as_string(_stamps("s"))])),
    "numbers as text": replaced("lat", pa.array([repr(v) for v in COLUMNS["lat"].tolist()])),
    "metres a second": replaced("speed_kn", pa.array(COLUMNS["speed_kn"] * 1852.0 / 3600.0), "speed_mps"),
}


@pytest.mark.parametrize("form", FORMS)
def test_the_fixes_of_every_form_are_those_of_csv(tmp_path, from_csv, form):
    tracks = read(tmp_path / "positions.parquet", FORMS[form]).tracks
    if form == "metres a second":
        for track, other in zip(tracks, from_csv, strict=True):
            assert np.allclose(track.readings["sog_kn"], other.readings["sog_kn"], rtol=1e-6)
        return
    require_same(tracks, from_csv)


def _points(encoding, crs=...):
    found = table(COLUMNS).drop(["lat", "lon"])
    pairs = list(zip(COLUMNS["lon"].tolist(), COLUMNS["lat"].tolist(), strict=True))
    if encoding == "point":
        cells = pa.array([{"x": x, "y": y} for x, y in pairs])
    elif encoding == "big-endian":
        cells = pa.array([struct.pack(">BIdd", 0, 1, x, y) for x, y in pairs])
    else:
        cells = pa.array([struct.pack("<BIdd", 1, 1, x, y) for x, y in pairs])
    told = {"encoding": "point" if encoding == "point" else "WKB", "geometry_types": ["Point"]}
    told |= {} if crs is ... else {"crs": crs}
    geo = {"version": "1.1.0", "primary_column": "geometry", "columns": {"geometry": told}}
    return found.append_column("geometry", cells).replace_schema_metadata({"geo": json.dumps(geo)})


@pytest.mark.parametrize("encoding", ["WKB", "point", "big-endian"])
def test_points_of_geoparquet(tmp_path, from_csv, encoding):
    file = read(tmp_path / "positions.parquet", _points(encoding))

    require_same(file.tracks, from_csv)
    assert file.input.form == "GeoParquet table"


def test_points_by_the_library_that_others_use(tmp_path, from_csv):
    import geopandas

    frame = geopandas.GeoDataFrame(
        table(COLUMNS).drop(["lat", "lon"]).to_pandas(),
        geometry=geopandas.points_from_xy(COLUMNS["lon"], COLUMNS["lat"]),
        crs="EPSG:4326",
    )
    frame.to_parquet(tmp_path / "positions.parquet")

    require_same(read_tracks(str(tmp_path / "positions.parquet")).tracks, from_csv)


def test_points_that_are_missing_or_empty_are_counted(tmp_path):
    found = _points("WKB")
    cells = found["geometry"].to_pylist()
    cells[3], cells[4] = None, struct.pack("<BIdd", 1, 1, np.nan, np.nan)
    found = found.set_column(found.column_names.index("geometry"), "geometry", pa.array(cells))
    file = read(tmp_path / "positions.parquet", found)

    left_out = [some for track in file.tracks for some in track.left_out]
    assert {some.reason for some in left_out} == {"void"}
    assert sum(map(len, left_out)) == 2
    assert sum(track.fixes_read for track in file.tracks) == len(cells)


def test_clocks_of_a_stated_zone(tmp_path, from_csv):
    shifted = _stamps("s") + np.timedelta64(1, "h")
    found = replaced("time_utc", pa.array(shifted, type=pa.timestamp("s")), "time")
    import zoneinfo

    file = read(tmp_path / "positions.parquet", found, track_tz=zoneinfo.ZoneInfo("Etc/GMT-1"))
    require_same(file.tracks, from_csv)

    silent = read(tmp_path / "positions.parquet", found)
    assert any("without a zone, read as UTC" in remark.message for remark in silent.remarks)


def test_rows_without_positions_are_counted(tmp_path):
    lat, lon = COLUMNS["lat"].copy(), COLUMNS["lon"].copy()
    lat[3] = lon[3] = np.nan
    lat[4] = lon[4] = 0.0
    lat[5], lon[5] = 91.0, 181.0
    file = read(tmp_path / "positions.parquet", table(COLUMNS | {"lat": lat, "lon": lon}))

    assert file.input.tally["left_out"] == 3
    reasons = {some.reason: len(some) for track in file.tracks for some in track.left_out}
    assert reasons == {"void": 2, "zero_position": 1}


def _with(name, row, value):
    cells = COLUMNS[name].copy()
    cells[row] = value
    return table(COLUMNS | {name: cells})


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (_with("lat", 7, 95.0), ("line 8", "latitude '95' is outside")),
        (_with("lat", 7, np.inf), ("line 8", "outside")),
        (_with("lon", 7, np.nan), ("line 8", "no longitude")),
        (replaced("time_utc", pa.array(_stamps("s").astype(np.int64)), "time"), ("does not say what of",)),
        (replaced("time_utc", pa.array(_stamps("s").astype(np.int64)), "epoch_ms"), ("before 1980",)),
        (replaced("time_utc", pa.array([True] * len(COLUMNS["lat"]))), ("holds bool",)),
        (replaced("lat", pa.array(COLUMNS["lat"].astype(np.float16))), ("column 'lat'", "halffloat")),
        (replaced("lat", pa.array(COLUMNS["lat"]), "lat_ddmm"), ("run together",)),
        (table(COLUMNS).drop(["lon"]), ("no column for the longitude",)),
        (_points("WKB", crs=None), ("unknown system",)),
        (_points("WKB", crs={"type": "nonsense"}), ("WGS 84",)),
        (table(COLUMNS).slice(0, 0), ("holds no position",)),
    ],
)
def test_what_cannot_be_meant_is_refused(tmp_path, found, words):
    with pytest.raises(InputError) as refusal:
        read(tmp_path / "positions.parquet", found)

    for word in words:
        assert word in str(refusal.value)


def test_dates_in_figures_are_settled_by_any_part(tmp_path, from_csv):
    days = [t.item() for t in _stamps("s")]
    folder = tmp_path / "positions"
    folder.mkdir()
    late = np.array([f"{d.day + 14:02d}/{d.month:02d}/{d.year} {d:%H:%M:%S}" for d in days])
    early = np.array([f"{d.day:02d}/{d.month:02d}/{d.year} {d:%H:%M:%S}" for d in days])
    for name, texts in (("a", early), ("b", late)):
        pq.write_table(replaced("time_utc", pa.array(texts.tolist()), "time"), folder / f"{name}.parquet")
    tracks = read_tracks(str(folder)).tracks

    assert len(tracks) == len(from_csv)
    assert tracks[0].time_utc[0] == from_csv[0].time_utc[0]
    assert len(tracks[0]) == 2 * len(from_csv[0])

    with pytest.raises(InputError, match="--date-order"):
        read_tracks(str(folder / "a.parquet"))


def test_a_vessel_that_is_not_there(tmp_path):
    with pytest.raises(InputError, match=r"no vessel 'Nobody'; those in the file are 'Alder', 'Briar 2'"):
        read(tmp_path / "positions.parquet", table(COLUMNS), only=("Nobody",))


def test_a_folder_of_anything_else_is_no_table(tmp_path):
    pq.write_table(table(COLUMNS), tmp_path / "a.parquet")
    (tmp_path / "b.txt").write_text("notes", encoding="utf-8")

    with pytest.raises(InputError, match="this is a folder"):
        read_tracks(str(tmp_path))


def test_damaged_bytes_are_refused_wherever_they_are(tmp_path):
    out = io.BytesIO()
    pq.write_table(table(COLUMNS), out)
    whole = out.getvalue()
    path = tmp_path / "positions.parquet"
    for size in range(5, len(whole), len(whole) // 40):
        path.write_bytes(whole[:size])
        with pytest.raises(InputError):
            read_tracks(str(path))
