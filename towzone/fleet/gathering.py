"""The answers of all vessels gathered into tables in parts, the same whatever was done where, and when."""

from __future__ import annotations

import dataclasses
import hashlib
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from towzone.files.outputs import put_in_place
from towzone.fleet.answers import TABLES, read_answer
from towzone.fleet.job import Job
from towzone.fleet.tasks import answer_path
from towzone.model.fleet import VesselLine
from towzone.model.result import Status

__all__ = ["VESSELS_A_PART", "Part", "ZoneShare", "gather_part", "parts_of", "together", "write_vessels"]

VESSELS_A_PART = 64
"""Own choice: vessels in one part of the result, in order of their names."""

_STATUSES = [status.value for status in Status]


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneShare:
    """What some vessels have with one zone.

    Parameters
    ----------
    counts : mapping of str to int
        Rows of each status.
    vessels : mapping of str to int
        Vessels by the worst status of their rows.
    worst : (int, float, str)
        Of the worst row: its status by number, its clearance (infinite where not known), its vessel.
    """

    counts: Mapping[str, int]
    vessels: Mapping[str, int]
    worst: tuple[int, float, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What gathering some vessels gave.

    Parameters
    ----------
    files : mapping of str to str
        SHA-256 (hex) of each file, by its name in the result.
    zones : mapping of str to ZoneShare
    """

    files: Mapping[str, str]
    zones: Mapping[str, ZoneShare]


def parts_of(keys: Sequence[str]) -> list[tuple[str, ...]]:
    """Return the vessels of each part, in order."""
    return [tuple(keys[at : at + VESSELS_A_PART]) for at in range(0, len(keys), VESSELS_A_PART)]


def gather_part(job: Job, number: int, keys: Sequence[str]) -> Part:
    """Write the rows, tows and gaps of some vessels, in order."""
    import pyarrow as pa

    answers = [read_answer(answer_path(job, key)) for key in keys]
    files = {}
    for name in TABLES:
        table = pa.concat_tables([answer.tables[name] for answer in answers])
        path = job.gathered / name / f"part-{number:05d}.parquet"
        files[f"{name}/{path.name}"] = _write(path, table)
    shares: list[dict[str, ZoneShare]] = []
    for answer in answers:
        rows = answer.tables["rows"]
        shares.append(
            _shares(
                rows.column("zone_id").to_pylist(),
                rows.column("status").to_pylist(),
                rows.column("clearance_m").to_pylist(),
                answer.line.vessel,
            )
        )
    return Part(files=files, zones=together(shares))


def _shares(
    zone_ids: Sequence[str], statuses: Sequence[str], clearances_m: Sequence[float | None], vessel: str
) -> dict[str, ZoneShare]:
    """Return the shares of one vessel, whose rows come worst first."""
    counts: dict[str, dict[str, int]] = {}
    worst: dict[str, tuple[str, float]] = {}
    for zone_id, status, clearance_m in zip(zone_ids, statuses, clearances_m, strict=True):
        own = counts.setdefault(zone_id, {})
        own[status] = own.get(status, 0) + 1
        if zone_id not in worst:
            worst[zone_id] = status, math.inf if clearance_m is None else clearance_m
    return {
        zone_id: ZoneShare(
            counts=counts[zone_id],
            vessels={status: 1},
            worst=(_STATUSES.index(status), clearance_m, vessel),
        )
        for zone_id, (status, clearance_m) in worst.items()
    }


def together(shares: Iterable[Mapping[str, ZoneShare]]) -> dict[str, ZoneShare]:
    """Return the shares of several vessels, or parts, in one."""
    found: dict[str, ZoneShare] = {}
    for some in shares:
        for zone_id, share in some.items():
            known = found.get(zone_id)
            found[zone_id] = (
                share
                if known is None
                else ZoneShare(
                    counts=_sum(known.counts, share.counts),
                    vessels=_sum(known.vessels, share.vessels),
                    worst=min(known.worst, share.worst),
                )
            )
    return found


def _sum(first: Mapping[str, int], second: Mapping[str, int]) -> dict[str, int]:
    return {name: first.get(name, 0) + second.get(name, 0) for name in {**first, **second}}


def _write(path: Path, table: Any) -> str:
    """Write a table as Parquet, the same bytes for the same table, and return their SHA-256."""
    import pyarrow.parquet as pq

    path.parent.mkdir(parents=True, exist_ok=True)
    put_in_place(path, lambda place: pq.write_table(table, place, compression="zstd", row_group_size=1 << 16))
    return hashlib.sha256(path.read_bytes()).hexdigest()


def write_vessels(path: Path, lines: Iterable[VesselLine]) -> str:
    """Write a line for each vessel as Parquet; return the SHA-256 of the file."""
    import pyarrow as pa

    text, number, count = pa.string(), pa.float64(), pa.int64()
    instant = pa.timestamp("ms", tz="UTC")
    kinds = {
        "spellings": pa.list_(text),
        "remarks": pa.list_(text),
        "files": pa.list_(text),
        "start_utc": instant,
        "end_utc": instant,
        "worst_utc": instant,
        "found_in": pa.list_(text),
        "gear_unchecked": pa.bool_(),
        **dict.fromkeys(_NUMBERS, number),
        **dict.fromkeys(("tows", "fixes_read", "fixes_used", "fixes_left_out", "gaps", "tracks"), count),
    }
    rows = [_row(line) for line in lines]
    names = [name for field in dataclasses.fields(VesselLine) for name in _columns(field.name)]
    columns = []
    for name in names:
        kind = kinds.get(name, count if name in _COUNTS else text)
        cells = [row[name] for row in rows]
        if pa.types.is_timestamp(kind):
            cells = [None if cell is None else _instant(cell) for cell in cells]
        columns.append(pa.array(cells, type=kind))
    return _write(path, pa.table(dict(zip(names, columns, strict=True))))


_NUMBERS = (
    "worst_clearance_m",
    "worst_margin_m",
    "worst_lon_deg",
    "worst_lat_deg",
    "towing_s",
    "tracked_s",
    "gap_s",
    "length_m",
)
_COUNTS = [f"rows_{status.value}" for status in Status]


def _columns(field: str) -> list[str]:
    return _COUNTS if field == "counts" else [field]


def _row(line: VesselLine) -> dict[str, Any]:
    row = {field.name: _plain(getattr(line, field.name)) for field in dataclasses.fields(line)}
    return row | {f"rows_{status.value}": line.counts[status.value] for status in Status}


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return value.encode("utf-8", "backslashreplace").decode("utf-8") if isinstance(value, str) else value


def _instant(text: str) -> Any:
    import numpy as np

    return np.datetime64(text.removesuffix("Z"), "ms").astype(object)
