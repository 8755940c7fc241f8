"""The answer of one vessel as it lies on the disk until all are gathered: a line, rows, tows and gaps."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from operator import itemgetter
from pathlib import Path
from typing import Any

import numpy as np

from towzone.files.outputs import put_in_place
from towzone.model.fleet import FleetOutcome, KnownBy, VesselLine
from towzone.model.result import CheckResult
from towzone.tables.result_json import gap_as_data, row_as_data, tow_as_data
from towzone.tables.rows_csv import row_cells

__all__ = ["TABLES", "Answer", "read_answer", "read_line", "schema_of", "tables_of", "write_answer"]

TABLES = ("rows", "tows", "gaps")
"""What an audit gathers of every vessel, in the order in which an answer holds it."""

_DIGEST = 32
_LENGTH = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came of one vessel.

    Parameters
    ----------
    key : str
    line : VesselLine
    tables : mapping of str to pyarrow.Table
        By the names of `TABLES`; missing ones are empty.
    assumptions : tuple of str
    methods : mapping
        How it was computed; empty where it was not.
    """

    key: str
    line: VesselLine
    tables: Mapping[str, Any] = field(default_factory=dict)
    assumptions: tuple[str, ...] = ()
    methods: Mapping[str, Any] = field(default_factory=dict)


@cache
def schema_of(table: str) -> Any:
    """Return the Arrow schema of one of `TABLES`."""
    import pyarrow as pa

    text, number, count = pa.string(), pa.float64(), pa.int32()
    instant = pa.timestamp("ms", tz="UTC")
    shapes = {
        "rows": {
            "vessel": text,
            "track_id": text,
            "tow": count,
            "activity": text,
            "zone_id": text,
            "zone_name": text,
            "zone_kind": text,
            "part": text,
            "status": text,
            "reason": text,
            "clearance_m": number,
            "margin_m": number,
            "uncertainty_m": number,
            "closest_utc": instant,
            "lat_deg": number,
            "lon_deg": number,
            "zone_lat_deg": number,
            "zone_lon_deg": number,
            "bearing_deg": number,
            "stays_inside": count,
            "first_enter_utc": instant,
            "last_leave_utc": instant,
            "inside_seconds": number,
            "close_seconds": number,
            "explain": text,
            "gear_nearest_part": text,
            "gear_tier": text,
            "gear_likely_clearance_m": number,
            "gear_rope_clearance_m": number,
            "json": text,
        },
        "tows": {
            "vessel": text,
            "track_id": text,
            "tow": count,
            "shoot_utc": instant,
            "haul_utc": instant,
            "seconds": number,
            "length_m": number,
            "mean_speed_kn": number,
            "rectangles": pa.list_(text),
            "basis": text,
            "depth_m": number,
            "shoot_open": pa.bool_(),
            "haul_open": pa.bool_(),
            "gap_seconds": number,
            "shoot_lat_deg": number,
            "shoot_lon_deg": number,
            "haul_lat_deg": number,
            "haul_lon_deg": number,
            "json": text,
        },
        "gaps": {
            "vessel": text,
            "track_id": text,
            "from_utc": instant,
            "to_utc": instant,
            "seconds": number,
            "reach_m": number,
            "zones_within_reach": count,
            "json": text,
        },
    }
    return pa.schema(list(shapes[table].items()))


def tables_of(result: CheckResult, vessel: str) -> dict[str, Any]:
    """Return rows, tows and gaps of the result of a check as Arrow tables."""
    zones = {zone.zone_id: zone for zone in result.zones}
    told_rows = [(row, row_as_data(row)) for row in result.rows]
    rows = [{**row_cells(row, zones[row.zone_id], told), "json": _json(told)} for row, told in told_rows]
    told_tows = [tow_as_data(tow, result) for tow in result.tows]
    tows = [{**tow, "json": _json(tow)} for tow in told_tows]
    told_gaps = [(track_id, gap_as_data(gap)) for track_id, some in result.gaps.items() for gap in some]
    gaps = [
        {"track_id": track_id, **gap, "zones_within_reach": len(gap["could_reach"]), "json": _json(gap)}
        for track_id, gap in told_gaps
    ]
    return {name: _table(name, some, vessel) for name, some in zip(TABLES, (rows, tows, gaps), strict=True)}


_json = json.JSONEncoder(
    sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":")
).encode  # made once: there are many rows


def _table(name: str, rows: Sequence[Mapping[str, Any]], vessel: str) -> Any:
    import pyarrow as pa

    schema, columns = schema_of(name), []
    if not rows:
        return schema.empty_table()
    told = [one for one in schema.names if one != "vessel"]
    cells_of = zip(*map(itemgetter(*told), rows), strict=True)
    by_name = {"vessel": (vessel,) * len(rows), **dict(zip(told, cells_of, strict=True))}
    for field_ in schema:
        cells = by_name[field_.name]
        if pa.types.is_timestamp(field_.type):
            instants = np.array(
                ["NaT" if cell is None else cell.removesuffix("Z") for cell in cells], dtype="datetime64[ms]"
            )
            columns.append(pa.array(instants, type=pa.timestamp("ms")).cast(field_.type))
        elif pa.types.is_string(field_.type):
            columns.append(_texts(cells, field_.type))
        else:
            columns.append(pa.array(cells, type=field_.type))
    return pa.Table.from_arrays(columns, schema=schema)


def _texts(cells: Sequence[Any], kind: Any) -> Any:
    """Return a column of text, half characters, which UTF-8 cannot hold, as other outputs write them."""
    import pyarrow as pa

    try:
        return pa.array(cells, type=kind)
    except UnicodeEncodeError:
        fixed = [None if c is None else c.encode("utf-8", "backslashreplace").decode("utf-8") for c in cells]
        return pa.array(fixed, type=kind)


def write_answer(path: Path, answer: Answer) -> None:
    """Write an answer, sealed by its digest: one that is not whole never counts."""
    import pyarrow as pa

    told = {
        "key": answer.key,
        "line": dataclasses.asdict(answer.line),
        "assumptions": answer.assumptions,
        "methods": answer.methods,
    }
    head = json.dumps(told, ensure_ascii=True, separators=(",", ":"), allow_nan=False).encode("ascii")
    sink = pa.BufferOutputStream()
    sink.write(len(head).to_bytes(_LENGTH, "little"))
    sink.write(head)
    for name in TABLES:
        table = answer.tables.get(name)
        if table is None:
            table = schema_of(name).empty_table()
        options = pa.ipc.IpcWriteOptions(compression="lz4")
        with pa.ipc.new_stream(sink, table.schema, options=options) as writer:
            writer.write_table(table)
    data = sink.getvalue().to_pybytes()

    def write(place: Path) -> None:
        with place.open("wb") as stream:
            stream.write(hashlib.sha256(data).digest())
            stream.write(data)

    put_in_place(path, write)


def read_line(path: Path) -> Answer | None:
    """Return an answer without its tables, ``None`` where there is none, or none that is whole."""
    data = _sealed(path)
    return None if data is None else _head(data)[0]


def read_answer(path: Path) -> Answer:
    """Return an answer with its tables.

    Raises
    ------
    AssertionError
        It is not there, or not whole.
    """
    import pyarrow as pa

    data = _sealed(path)
    if data is None:
        message = f"{path.name} is not there, or not whole"
        raise AssertionError(message)
    answer, begin = _head(data)
    source = pa.BufferReader(pa.py_buffer(data).slice(begin))
    tables = {name: pa.ipc.open_stream(source).read_all() for name in TABLES}
    return dataclasses.replace(answer, tables=tables)


def _sealed(path: Path) -> bytes | None:
    try:
        data = path.read_bytes()
    except OSError:
        return None
    seal, data = data[:_DIGEST], data[_DIGEST:]
    return data if hashlib.sha256(data).digest() == seal else None


def _head(data: bytes) -> tuple[Answer, int]:
    end = _LENGTH + int.from_bytes(data[:_LENGTH], "little")
    told = json.loads(data[_LENGTH:end])
    line = told["line"]
    texts = {name: tuple(line[name]) for name in ("spellings", "remarks", "files", "found_in")}
    enums = {"known_by": KnownBy(line["known_by"]), "outcome": FleetOutcome(line["outcome"])}
    return (
        Answer(
            key=told["key"],
            line=VesselLine(**{**line, **texts, **enums}),
            assumptions=tuple(told["assumptions"]),
            methods=told["methods"],
        ),
        end,
    )
