"""What sentences say beside the position: motion, heading, depth, date and datum.

References
----------
Layouts of VTG, ZDA, HDT, HDG, DPT and DBT: the comments of the NMEA 0183 driver of the gpsd project, checked
on published sentences in ``tests/reference/nmea``. DTM: NMEA 0183, version 4, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.logs.fields import NOT_A_DAY, Fields, Piece, calendar_days, times_of_day
from towzone.logs.scan import Kind
from towzone.tracks.raw import NOT_A_TIME

__all__ = [
    "FASTEST_KN",
    "SATELLITES",
    "Clocks",
    "Datum",
    "Values",
    "circle",
    "read_clocks",
    "read_datums",
    "read_depths",
    "read_headings",
    "read_motions",
]

Ints = npt.NDArray[np.int64]
Ids = npt.NDArray[np.int16]
Days = npt.NDArray[np.int32]
Singles = npt.NDArray[np.float32]

FASTEST_KN = 102.2
"""Published: the largest speed over ground that AIS can tell; no ship comes near it. ITU-R M.1371, message 1,
from memory."""
_DEEPEST_M = 12_000.0
"""Own limit; the deepest sea has 11 km."""
_MOST_DATUMS = 20
SATELLITES = np.zeros(256, dtype=np.bool_)
SATELLITES[np.frombuffer(b"ADFRP", dtype=np.uint8)] = True
"""Modes of a satellite fix: autonomous, differential, float and fixed real-time kinematic, precise."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Values:
    """One kind of reading: who said it, in which sentence, and what."""

    sender: Ids
    seq: Ints
    value: Singles


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clocks:
    """Dates and times of day of ZDA."""

    sender: Ids
    seq: Ints
    line: Ints
    time_us: Ints
    day: Days


@dataclass(frozen=True, slots=True, kw_only=True)
class Datum:
    """A datum other than WGS 84 that a sender declares, by its code, and where it first does."""

    sender: int
    line: int
    code: str


def read_motions(piece: Piece) -> dict[str, Values]:
    """Return speed and course over ground of VTG, in the layouts with and without unit letters."""
    index, table = _of(piece, Kind.VTG)
    lettered = (table.letters(2) == ord("T")) | (table.letters(6) == ord("N"))
    speed = table.decimals(np.where(lettered, 5, np.where(table.count == 4, 3, 99)))
    sog_kn = speed.values(0.0, FASTEST_KN)
    cog_deg = circle(table.decimals(1).values(0.0, 360.0))
    mode = table.letters(9)
    doubtful = (mode != 0) & ~SATELLITES[mode]
    sog_kn[doubtful] = cog_deg[doubtful] = np.nan
    return {"sog": _values(piece, index, sog_kn), "cog": _values(piece, index, cog_deg)}


def read_headings(piece: Piece) -> dict[str, Values]:
    """Return true headings of HDT, and of HDG where it has the variation."""
    index, table = _of(piece, Kind.HDT)
    true_deg = circle(table.decimals(1).values(0.0, 360.0))
    result = {"hdt": _values(piece, index, true_deg)}
    index, table = _of(piece, Kind.HDG)
    sensor_deg = table.decimals(1).values(0.0, 360.0)
    deviation_deg = _east(table, 2)
    # A compass that knows no deviation leaves it empty; without variation there is no true heading.
    begin, end = table.span(2)
    deviation_deg[begin == end] = 0.0
    total = (sensor_deg + deviation_deg + _east(table, 4)) % np.float32(360.0)
    return result | {"hdg": _values(piece, index, circle(total))}


def read_depths(piece: Piece) -> tuple[dict[str, Values], int]:
    """Return depths of DPT and DBT, and of how many DPT the offset to the waterline was added."""
    index, table = _of(piece, Kind.DPT)
    below_m = _sounded(table.decimals(1).values(0.0, _DEEPEST_M))
    offset_m = table.signed(2).values(0.0, 100.0)
    to_waterline = offset_m > 0.0
    depth_m = below_m + np.where(to_waterline, offset_m, np.float32(0.0))
    result = {"dpt": _values(piece, index, depth_m)}
    surface = int((to_waterline & ~np.isnan(depth_m)).sum())
    index, table = _of(piece, Kind.DBT)
    metres = _sounded(table.decimals(3).values(0.0, _DEEPEST_M))
    metres[table.letters(4) != ord("M")] = np.nan
    return result | {"dbt": _values(piece, index, metres)}, surface


def read_clocks(piece: Piece) -> tuple[Clocks, int]:
    """Return the complete dates and times of ZDA, and how many others are bad."""
    index, table = _of(piece, Kind.ZDA)
    time = times_of_day(table.decimals(1))
    year = table.decimals(4).integers(4)
    day = calendar_days(year, table.decimals(3).integers(2), table.decimals(2).integers(2))
    begin, end = table.span(4)
    bad = time.bad | ((day == NOT_A_DAY) & (end > begin))
    known = (time.us != NOT_A_TIME) & (day != NOT_A_DAY)
    index = index[known]
    clocks = Clocks(
        sender=piece.sender[index],
        seq=piece.seqs(index),
        line=piece.lines(index),
        time_us=time.us[known],
        day=day[known],
    )
    return clocks, int(bad.sum())


def read_datums(piece: Piece) -> list[Datum]:
    """Return the first datums declared that are not WGS 84, as the sentences name them."""
    index, table = _of(piece, Kind.DTM)
    begin, end = table.span(1)
    data = piece.found.data
    wgs84 = end == begin + 3
    for offset, letter in enumerate(b"W84"):
        wgs84 &= data[begin + offset] == letter
    foreign = np.flatnonzero(~wgs84 & (end > begin))[:_MOST_DATUMS]
    lines = piece.lines(index[foreign])
    return [
        Datum(
            sender=int(piece.sender[index[row]]),
            line=int(line),
            code=data[begin[row] : end[row]].tobytes()[:100].decode("latin-1"),
        )
        for row, line in zip(foreign.tolist(), lines.tolist(), strict=True)
    ]


def _of(piece: Piece, kind: Kind) -> tuple[Ints, Fields]:
    index = np.flatnonzero(piece.found.kind == kind)
    return index, Fields(piece.found, index)


def _values(piece: Piece, index: Ints, value: Singles) -> Values:
    known = ~np.isnan(value)
    index = index[known]
    return Values(sender=piece.sender[index], seq=piece.seqs(index), value=value[known])


def circle(angle_deg: Singles) -> Singles:
    """Return angles with 360 as 0."""
    angle_deg[angle_deg == np.float32(360.0)] = 0.0
    return angle_deg


def _east(table: Fields, number: int) -> Singles:
    """Return an angle that a letter in the next field counts as east or west, ``NaN`` without either."""
    angle_deg = table.decimals(number).values(0.0, 180.0)
    letter = table.letters(number + 1)
    angle_deg[letter == ord("W")] *= np.float32(-1.0)
    angle_deg[(letter != ord("W")) & (letter != ord("E"))] = np.nan
    return angle_deg


def _sounded(depth_m: Singles) -> Singles:
    """Return depths without those of 0, which echo sounders write when they have lost the bottom."""
    depth_m[depth_m == 0.0] = np.nan
    return depth_m
