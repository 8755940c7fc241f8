"""Small invented fleets in every form an audit reads, audits of them, and the same asked of a check."""

from __future__ import annotations

import contextlib
import csv
import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from unittest import mock

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from cli_runner import call, zones_text

from towzone.fleet import workers
from towzone.tables.cells import safe_cell
from towzone.tables.rows_csv import COLUMNS
from towzone.units import format_instant

FROM_UTC = np.datetime64("2026-03-01T00:00:00", "s")
NAMES = ("Alder", "Briar 2", "Cedar", "Dogrose", "Elm", "Fir")


@dataclass(frozen=True, eq=False)
class Fixes:
    """Rows of one vessel; the speed is what a receiver would tell."""

    vessel: str
    time_utc: np.ndarray
    lat: np.ndarray
    lon: np.ndarray
    speed_kn: np.ndarray

    def __len__(self):
        return len(self.lat)


def vessel(name, number, fixes=150):
    """A vessel that steams, tows to and fro over the zones, and has a gap."""
    rng = np.random.default_rng([8, number])
    second = np.arange(fixes) * 240
    second[fixes // 2 :] += 7_200
    towing = (np.arange(fixes) // 40) % 2 == 1
    speed_kn = np.where(towing, 3.2, 8.5) + rng.normal(0.0, 0.1, fixes)
    heading = np.where((np.arange(fixes) // 20) % 2 == 0, 1.0, -1.0)
    step_deg = np.append(0.0, speed_kn[1:] * np.diff(second) / 3600.0 / 60.0)
    lon = 2.0 + 0.05 * number + np.cumsum(step_deg * heading) / np.cos(np.radians(54.0))
    lat = 54.0 + 0.01 * number + 0.0004 * np.arange(fixes) + rng.normal(0.0, 3e-5, fixes)
    return Fixes(
        name,
        FROM_UTC + second.astype("timedelta64[s]"),
        np.round(lat, 6),
        np.round(lon, 6),
        np.round(speed_kn, 2),
    )


def fleet(names=NAMES, fixes=150):
    return [vessel(name, number, fixes) for number, name in enumerate(names)]


def _box(west, south, east, north):
    return {
        "type": "Polygon",
        "coordinates": [[[west, south], [east, south], [east, north], [west, north], [west, south]]],
    }


def write_zones(path):
    boxes = [
        (_box(2.1, 54.01, 2.2, 54.05), {"zone_id": "A", "kind": "closed_area", "margin": "0.25nmi"}),
        (_box(2.5, 54.0, 2.8, 54.02), {"zone_id": "B", "kind": "closed_area"}),
        (
            {"type": "LineString", "coordinates": [[1.8, 54.06], [3.0, 54.02]]},
            {"zone_id": "C", "kind": "cable", "margin": "300m", "name": "=Cable, <b>"},
        ),
        (_box(12.0, 54.0, 12.5, 54.2), {"zone_id": "far", "kind": "closed_area"}),
    ]
    path.write_text(zones_text(*boxes), encoding="utf-8")
    return path


def rows_of(vessels):
    """All rows of several vessels in one, in order of time, as an office would have them."""
    names = np.concatenate([np.full(len(v), v.vessel, dtype=object) for v in vessels])
    columns = {
        "vessel": names,
        "time_utc": np.concatenate([v.time_utc for v in vessels]),
        "lat": np.concatenate([v.lat for v in vessels]),
        "lon": np.concatenate([v.lon for v in vessels]),
        "speed_kn": np.concatenate([v.speed_kn for v in vessels]),
    }
    order = np.argsort(columns["time_utc"], kind="stable")
    return {name: column[order] for name, column in columns.items()}


def table(columns, *, zone="UTC"):
    arrays = {name: pa.array(column.tolist()) for name, column in columns.items() if name != "time_utc"}
    arrays["time_utc"] = pa.array(columns["time_utc"], type=pa.timestamp("s", tz=zone))
    return pa.table({name: arrays[name] for name in columns})


def write_parquet(path, vessels, *, group=100, parts=1, **how):
    """One file, or a folder of parts."""
    whole = table(rows_of(vessels), **how)
    if parts == 1:
        pq.write_table(whole, path, row_group_size=group)
        return path
    path.mkdir()
    edges = np.linspace(0, len(whole), parts + 1).astype(int).tolist()
    for number in range(parts):
        part = whole.slice(edges[number], edges[number + 1] - edges[number])
        pq.write_table(part, path / f"part-{number}.parquet", row_group_size=group)
    return path


def damaged(path, group, column="lat"):
    """Overwrite the pages of one column of a row group with zeros."""
    told = pq.ParquetFile(path).metadata.row_group(group)
    index = [told.column(i).path_in_schema for i in range(told.num_columns)].index(column)
    chunk = told.column(index)
    data = bytearray(path.read_bytes())
    begin = chunk.dictionary_page_offset or chunk.data_page_offset
    data[begin : begin + chunk.total_compressed_size] = bytes(chunk.total_compressed_size)
    path.write_bytes(data)


def csv_text(columns):
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    stamps = np.char.add(np.datetime_as_string(columns["time_utc"], unit="s"), "Z").tolist()
    cells = [stamps if name == "time_utc" else column.tolist() for name, column in columns.items()]
    writer.writerows(zip(*cells, strict=True))
    return out.getvalue()


def write_csv(path, vessels):
    path.write_text(csv_text(rows_of(vessels)), encoding="utf-8", newline="")
    return path


def audit(positions, zones, out, *more, cwd=None, inside=True):
    """Run the command, its work in this process unless told otherwise."""
    many = positions if isinstance(positions, Sequence) and not isinstance(positions, str) else [positions]
    where = mock.patch.object(workers, "local_workers", _here) if inside else contextlib.nullcontext()
    with where:
        return call("fleet", *many, "--zones", zones, "-o", out, *more, **({"cwd": cwd} if cwd else {}))


@contextlib.contextmanager
def _here(count, memory_bytes, folder):
    del count, memory_bytes, folder
    yield workers.Here()


def contents(out):
    """Every file of a result, by name."""
    return {
        p.relative_to(out).as_posix(): p.read_bytes() for p in sorted(Path(out).rglob("*")) if p.is_file()
    }


def tables(out, name="rows"):
    return pa.concat_tables([pq.read_table(path) for path in sorted(Path(out, name).glob("part-*.parquet"))])


def lines(out):
    return {line["vessel"]: line for line in pq.read_table(Path(out, "vessels.parquet")).to_pylist()}


def totals(out):
    return json.loads(Path(out, "totals.json").read_bytes())


def json_rows(out, vessel):
    """The rows of a vessel as a check tells them in JSON."""
    return [json.loads(row["json"]) for row in tables(out).to_pylist() if row["vessel"] == vessel]


def csv_rows(out, vessel):
    """The rows of a vessel as a check writes them in CSV, byte for byte."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for row in tables(out).to_pylist():
        if row["vessel"] == vessel:
            writer.writerow({name: safe_cell(_cell(row[name])) for name in COLUMNS})
    return text.getvalue()


def _cell(value):

    return (
        format_instant(np.datetime64(value.replace(tzinfo=None), "us"))
        if isinstance(value, datetime)
        else value
    )


def checked(positions, zones, *more, cwd=None):
    """What ``towzone check`` answers: rows in JSON, and its CSV."""
    many = positions if isinstance(positions, list) else [positions]
    how = {"cwd": cwd} if cwd else {}
    as_json = call("check", *many, "--zones", zones, "--format", "json", *more, **how)
    as_csv = call("check", *many, "--zones", zones, "--format", "csv", *more, **how)
    assert as_json.code in (0, 1, 4), as_json.err
    return as_json.data["rows"], as_csv.out
