"""From the positions of a whole AIS log to one track for each vessel, every position kept or left out.

References
----------
ITU-R M.1371, messages 1, 2, 3, 18, 19 and 27 (units, and values for "not available"), from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.geodesy.ellipsoid import ECCENTRICITY_SQUARED, SEMI_MAJOR_M
from towzone.logs.ais_fixes import LONG_RANGE, Heap
from towzone.model.track import LeftOut
from towzone.tracks.raw import RawTrack

__all__ = ["LONG_RANGE_RESOLUTION_M", "RESOLUTION_M", "Vessels", "vessels"]

_UNITS_PER_DEG = 600_000
_LONG_RANGE_UNITS_PER_DEG = 600
"""Published: ITU-R M.1371, positions in 1/10 000 of a minute, in message 27 in 1/10 of a minute."""
_NO_LON_DEG, _NO_LAT_DEG = 181, 91
_NO_SOG_KN, _NO_COG_DEG, _FULL_CIRCLE_DEG = 102.3, 360.0, 360.0
_LONG_RANGE_NO_SOG_KN = 63
"""Published: ITU-R M.1371, values for "not available"; a course or heading from 360 degrees on is none."""
_ESTIMATED_FROM, _ESTIMATED_TO = 61, 63
"""Published: ITU-R M.1371, time stamp 61 is manual input, 62 dead reckoning, 63 an inoperative receiver."""


def _half_diagonal_m(units_per_deg: int) -> float:
    """Return half the diagonal of a cell of one unit at the equator, where on the ellipsoid it is largest."""
    unit_rad = math.radians(1.0 / units_per_deg)
    return 0.5 * unit_rad * math.hypot(SEMI_MAJOR_M, SEMI_MAJOR_M * (1.0 - ECCENTRICITY_SQUARED))


RESOLUTION_M = _half_diagonal_m(_UNITS_PER_DEG)
"""0.13 m: a position rounded to 1/10 000 of a minute is nowhere farther from the one that was measured."""
LONG_RANGE_RESOLUTION_M = _half_diagonal_m(_LONG_RANGE_UNITS_PER_DEG)
"""131 m: the same for 1/10 of a minute."""

USED, VOID, BAD, ZERO, ESTIMATED, COARSE = range(6)
_REASONS = {
    VOID: "void",
    BAD: "bad_position",
    ZERO: "zero_position",
    ESTIMATED: "estimated",
    COARSE: "coarse",
}

BoolArray = npt.NDArray[np.bool_]
FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Vessels:
    """The tracks of a log.

    ``tracks`` are in the order of their identities; ``tally`` has the sentences of positions ``used`` and, by
    reason, left out; ``silent`` names vessels without a single usable position; ``own`` those whose own
    transponder is in the log; ``coarse`` those with long-range positions only.
    """

    tracks: tuple[RawTrack, ...]
    tally: dict[str, int]
    silent: tuple[str, ...]
    own: tuple[str, ...]
    coarse: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Table:
    """All positions of a log in the order of the file, in the units of a track."""

    line: npt.NDArray[np.uint32]
    time_us: npt.NDArray[np.int64]
    lon_deg: FloatArray
    lat_deg: FloatArray
    readings: dict[str, npt.NDArray[np.float32]]
    fate: npt.NDArray[np.uint8]


def vessels(heap: Heap, time_us: npt.NDArray[np.int64], file: str, name: str) -> Vessels:
    """Return the tracks of a log and what became of its positions.

    Parameters
    ----------
    heap : Heap
    time_us : ndarray of int64, shape (n,)
        Of the positions in the heap, or ``NOT_A_TIME``.
    file, name : str
        Path as the user wrote it, and the name that those of the tracks begin with.
    """
    mmsi, kind = np.frombuffer(heap.mmsi, dtype=np.uint32), np.frombuffer(heap.kind, dtype=np.uint8)
    own, sentences = np.frombuffer(heap.own, dtype=np.uint8), np.frombuffer(heap.sentences, dtype=np.uint8)
    table = _table(heap, time_us, mmsi, kind)
    order = np.argsort(mmsi, kind="stable")
    identities, starts = np.unique(mmsi[order], return_index=True)
    tracks: list[RawTrack] = []
    silent: list[str] = []
    stops = [*starts[1:].tolist(), len(order)]
    for identity, start, stop in zip(identities.tolist(), starts.tolist(), stops[: len(starts)], strict=True):
        rows = order[start:stop]
        label = f"{identity:09d}" if identity else "own ship"
        used = rows[table.fate[rows] == USED]
        if not len(used):
            silent.append(label)
            continue
        coarse = bool((kind[used] == LONG_RANGE).all())
        tracks.append(
            RawTrack(
                file=file,
                name=f"{name}/{label}",
                lon_deg=table.lon_deg[used],
                lat_deg=table.lat_deg[used],
                time_us=table.time_us[used],
                line=table.line[used],
                bounds=((0, len(used)),),
                vessel=label if identity else "",
                readings={reading: column[used] for reading, column in table.readings.items()},
                left_out=_left_out(table, rows, file),
                resolution_m=LONG_RANGE_RESOLUTION_M if coarse else RESOLUTION_M,
                # Messages come by several ways and are repeated; only their own seconds tell their order.
                any_order=True,
            )
        )
    counts = np.bincount(table.fate, weights=sentences, minlength=len(_REASONS) + 1).astype(np.int64)
    named = {"used": int(counts[USED])} | {_REASONS[fate]: int(counts[fate]) for fate in _REASONS}
    return Vessels(
        tracks=tuple(tracks),
        tally={word: count for word, count in named.items() if count or word == "used"},
        silent=tuple(silent),
        own=tuple(f"{identity:09d}" for identity in np.unique(mmsi[own == 1]).tolist() if identity),
        coarse=tuple(track.vessel for track in tracks if track.resolution_m == LONG_RANGE_RESOLUTION_M),
    )


def _table(
    heap: Heap, time_us: npt.NDArray[np.int64], mmsi: npt.NDArray[np.uint32], kind: npt.NDArray[np.uint8]
) -> _Table:
    long_range = kind == LONG_RANGE
    scale = np.where(long_range, _LONG_RANGE_UNITS_PER_DEG, _UNITS_PER_DEG)
    # pyais rounds to a millionth of a degree, up to 4 cm away; the whole units it read are unmistakable.
    lon_units = np.rint(np.frombuffer(heap.lon_deg, dtype=np.float64) * scale).astype(np.int64)
    lat_units = np.rint(np.frombuffer(heap.lat_deg, dtype=np.float64) * scale).astype(np.int64)
    void = (lon_units == _NO_LON_DEG * scale) | (lat_units == _NO_LAT_DEG * scale)
    bad = (np.abs(lon_units) > 180 * scale) | (np.abs(lat_units) > 90 * scale)
    zero = (lon_units == 0) & (lat_units == 0)
    second = np.frombuffer(heap.second, dtype=np.uint8)
    estimated = (second >= _ESTIMATED_FROM) & (second <= _ESTIMATED_TO)
    fate = np.select([void, bad, zero, estimated], [VOID, BAD, ZERO, ESTIMATED], USED).astype(np.uint8)
    better = np.unique(mmsi[(fate == USED) & ~long_range])
    fate[(fate == USED) & long_range & np.isin(mmsi, better)] = COARSE
    nowhere = void | bad
    return _Table(
        line=np.frombuffer(heap.line, dtype=np.uint32),
        time_us=time_us,
        lon_deg=np.where(nowhere, np.nan, lon_units / scale),
        lat_deg=np.where(nowhere, np.nan, lat_units / scale),
        readings=_readings(heap, long_range),
        fate=fate,
    )


def _readings(heap: Heap, long_range: BoolArray) -> dict[str, npt.NDArray[np.float32]]:
    """Return speed, course and heading, ``NaN`` where the message says that it has none."""
    unknown = np.float32(np.nan)
    sog_kn = np.frombuffer(heap.sog_kn, dtype=np.float32)
    cog_deg = np.frombuffer(heap.cog_deg, dtype=np.float32)
    heading_deg = np.frombuffer(heap.heading_deg, dtype=np.uint16).astype(np.float32)
    none_kn = np.where(long_range, _LONG_RANGE_NO_SOG_KN, _NO_SOG_KN)
    return {
        "sog_kn": np.where(np.rint(sog_kn * 10) >= np.rint(none_kn * 10), unknown, sog_kn),
        "cog_deg": np.where(cog_deg >= _NO_COG_DEG, unknown, cog_deg),
        "heading_deg": np.where(heading_deg >= _FULL_CIRCLE_DEG, unknown, heading_deg),
    }


def _left_out(table: _Table, rows: npt.NDArray[np.int64], file: str) -> tuple[LeftOut, ...]:
    result = []
    for fate, reason in _REASONS.items():
        some = rows[table.fate[rows] == fate]
        if len(some):
            result.append(
                LeftOut(
                    reason=reason,
                    file=file,
                    line=table.line[some],
                    time_utc=table.time_us[some].view("datetime64[us]"),
                    lon_deg=table.lon_deg[some],
                    lat_deg=table.lat_deg[some],
                )
            )
    return tuple(result)
