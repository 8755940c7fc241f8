"""Fixes sorted by vessel, kept on disk between reading and checking; read back without being copied.

A spool is one file of the Arrow IPC format with one batch: for every raw track its fixes, then those its
reader left out; where each begins stands in the metadata.
"""

from __future__ import annotations

import functools
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from towzone.files.outputs import put_in_place
from towzone.fleet.keys import key_of
from towzone.model.track import READINGS, REASONS, LeftOut
from towzone.tracks.raw import RawTrack

__all__ = ["Spooled", "raw_tracks", "write_spool"]

_INDEX = b"towzone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spooled:
    """How much of one vessel is in a spool, and what it is called there."""

    key: str
    vessel: str
    fixes: int
    left_out: int


def write_spool(path: Path, raws: Sequence[RawTrack]) -> list[Spooled]:
    """Write raw tracks of one file into a spool.

    Returns
    -------
    list of Spooled
        One for each raw track.
    """
    import pyarrow as pa

    roles = [role for role in READINGS if any(role in raw.readings for raw in raws)]
    index, spooled, at = [], [], 0
    columns: dict[str, list[Any]] = {name: [] for name in ("lon", "lat", "time", "line", *roles)}
    for raw in raws:
        key = key_of(raw.vessel, raw.file)
        out = sum(map(len, raw.left_out))
        index.append(
            {
                "key": key,
                "vessel": raw.vessel,
                "name": raw.name,
                "file": raw.file,
                "at": at,
                "fixes": len(raw),
                "out": [[some.reason, some.file, len(some)] for some in raw.left_out],
                "bounds": [list(pair) for pair in raw.bounds],
                "roles": list(raw.readings),
                "resolution_m": raw.resolution_m,
                "any_order": raw.any_order,
            }
        )
        spooled.append(Spooled(key=key, vessel=raw.vessel, fixes=len(raw), left_out=out))
        at += len(raw) + out
        columns["lon"] += [raw.lon_deg, *(some.lon_deg for some in raw.left_out)]
        columns["lat"] += [raw.lat_deg, *(some.lat_deg for some in raw.left_out)]
        columns["time"] += [raw.time_us, *(some.time_utc.view(np.int64) for some in raw.left_out)]
        columns["line"] += [raw.line, *(some.line for some in raw.left_out)]
        for role in roles:
            own = raw.readings.get(role)
            columns[role].append(np.full(len(raw), np.nan, dtype=np.float32) if own is None else own)
            columns[role].append(np.full(out, np.nan, dtype=np.float32))
    kinds = {"lon": np.float64, "lat": np.float64, "time": np.int64, "line": np.uint32}
    arrays = {
        name: pa.array(np.concatenate([np.zeros(0, dtype=kinds.get(name, np.float32)), *some]))
        for name, some in columns.items()
    }
    told = json.dumps(index, ensure_ascii=True, separators=(",", ":")).encode("ascii")
    schema = pa.schema([(name, array.type) for name, array in arrays.items()], metadata={_INDEX: told})
    batch = pa.record_batch(list(arrays.values()), schema=schema)

    def write(place: Path) -> None:
        with pa.OSFile(str(place), "wb") as sink, pa.ipc.new_file(sink, schema) as writer:
            writer.write_batch(batch)

    put_in_place(path, write)
    return spooled


def raw_tracks(path: Path, key: str) -> list[RawTrack]:
    """Return the raw tracks of one vessel in a spool, in its order."""
    told = path.stat()
    # A later audit may put another file in its place, and workers may outlive both.
    batch, index = _opened(str(path), told.st_ino, told.st_mtime_ns, told.st_size)
    return [_raw(batch, entry) for entry in index.get(key, [])]


@functools.lru_cache(maxsize=128)
def _opened(path: str, *_: int) -> tuple[dict[str, Any], dict[str, list[dict[str, Any]]]]:
    """Return the columns of a spool as they lie on the disk, and the entries of its index by vessel."""
    import pyarrow as pa

    reader = pa.ipc.open_file(pa.memory_map(path))
    by_key: dict[str, list[dict[str, Any]]] = {}
    for entry in json.loads(reader.schema.metadata[_INDEX]):
        by_key.setdefault(entry["key"], []).append(entry)
    batch = reader.get_batch(0)
    return {name: batch.column(name).to_numpy() for name in batch.schema.names}, by_key


def _raw(columns: dict[str, Any], entry: dict[str, Any]) -> RawTrack:
    first, stop = entry["at"], entry["at"] + entry["fixes"]
    left_out, at = [], stop
    for reason, file, count in entry["out"]:
        if reason not in REASONS:
            message = f"a spool tells of fixes left out for {reason!r}"
            raise AssertionError(message)
        own = slice(at, at + count)
        at += count
        left_out.append(
            LeftOut(
                reason=reason,
                file=file,
                line=columns["line"][own],
                time_utc=columns["time"][own].view("datetime64[us]"),
                lon_deg=columns["lon"][own],
                lat_deg=columns["lat"][own],
            )
        )
    return RawTrack(
        file=entry["file"],
        name=entry["name"],
        lon_deg=columns["lon"][first:stop],
        lat_deg=columns["lat"][first:stop],
        time_us=columns["time"][first:stop],
        line=columns["line"][first:stop],
        bounds=tuple((low, high) for low, high in entry["bounds"]),
        vessel=entry["vessel"],
        readings={role: columns[role][first:stop] for role in entry["roles"]},
        left_out=tuple(left_out),
        resolution_m=entry["resolution_m"],
        any_order=entry["any_order"],
    )
