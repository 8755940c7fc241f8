"""What sentences say of the position: RMC, GGA, GNS and GLL, and whether they mean it.

References
----------
Layouts of RMC, GGA and GLL, letters and figures for validity: the comments of the NMEA 0183 driver of the
gpsd project, checked on published sentences in ``tests/reference/nmea``. GNS: NMEA 0183, version 4, from
memory.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Self

import numpy as np
import numpy.typing as npt

from towzone.logs.fields import NOT_A_DAY, Fields, Piece, angles, days_of_dates, times_of_day
from towzone.logs.readings import FASTEST_KN, SATELLITES, circle
from towzone.logs.scan import Kind
from towzone.tracks.raw import NOT_A_TIME, ZERO_TOLERANCE_DEG

__all__ = ["BAD_POSITION", "BAD_TIME", "ESTIMATED", "VOID", "Positions", "no_positions", "read_positions"]

Ints = npt.NDArray[np.int64]
Ids = npt.NDArray[np.int16]
Bytes = npt.NDArray[np.uint8]
Days = npt.NDArray[np.int32]
Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]

VOID, ESTIMATED, BAD_POSITION, BAD_TIME = 1, 2, 4, 8
"""What a sentence says against its own position."""

_LARGEST_HDOP = 1e6
_MOST_CHARACTERS = 8
"""Own choice: GNS has one letter for each satellite system, four or six so far."""


def _by_kind(**numbers: int) -> Ints:
    """Return field numbers by kind of sentence; 99, which none has, where not named."""
    table = np.full(len(Kind), 99, dtype=np.int64)
    for name, number in numbers.items():
        table[Kind[name]] = number
    return table


_TIME = _by_kind(RMC=1, GGA=1, GNS=1, GLL=5)
_LATITUDE = _by_kind(RMC=3, GGA=2, GNS=2, GLL=1)
_STATUS = _by_kind(RMC=2, GLL=6)
_MODE = _by_kind(RMC=12, GLL=7)
_BIT = np.array([0, 1, 2, 4, 8, *(0 for kind in Kind if kind > Kind.GLL)], dtype=np.uint8)
_PREFERENCE = np.array([0, 2, 3, 1, 0, *(0 for kind in Kind if kind > Kind.GLL)], dtype=np.int16)
"""Of positions with as many decimals, that of GGA is taken before RMC, GNS and GLL."""


def _letters(text: str) -> npt.NDArray[np.bool_]:
    table = np.zeros(256, dtype=np.bool_)
    table[np.frombuffer(text.encode("ascii"), dtype=np.uint8)] = True
    return table


_OTHER_MEANS = _letters("EMS")
"""Modes of other positions: estimated, manual, simulated."""
_GOOD_QUALITY = _letters("123459")
_OTHER_QUALITY = _letters("678")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Positions:
    """What sentences say of the position, one row for each sentence, or for each epoch made of them.

    Parameters
    ----------
    sender : ndarray of int16, shape (n,)
    seq : ndarray of int64, shape (n,)
        Number of the sentence among those read in the file.
    line : ndarray of int64, shape (n,)
        From 1.
    time_us : ndarray of int64, shape (n,)
        Time of day, or ``NOT_A_TIME``.
    bits : ndarray of uint8, shape (n,)
        Which types of sentences: 1 RMC, 2 GGA, 4 GNS, 8 GLL.
    faults : ndarray of uint8, shape (n,)
        `VOID` and so on.
    rank : ndarray of int16, shape (n,)
        -1 without a position, 0 at 0, 0, else larger for the better written one.
    lon_deg, lat_deg : ndarray of float64, shape (n,)
    west_deg, east_deg, south_deg, north_deg : ndarray of float64, shape (n,)
        How far the positions of an epoch reach; ``NaN`` without a good one.
    day : ndarray of int32, shape (n,)
        The date in the sentence as days since 1970-01-01, or ``NOT_A_DAY``.
    sog_kn, cog_deg, hdop : ndarray of float32, shape (n,)
    """

    sender: Ids
    seq: Ints
    line: Ints
    time_us: Ints
    bits: Bytes
    faults: Bytes
    rank: npt.NDArray[np.int16]
    lon_deg: Floats
    lat_deg: Floats
    west_deg: Floats
    east_deg: Floats
    south_deg: Floats
    north_deg: Floats
    day: Days
    sog_kn: Singles
    cog_deg: Singles
    hdop: Singles

    def __len__(self) -> int:
        return len(self.sender)

    def take(self, index: npt.NDArray[np.int64] | npt.NDArray[np.bool_]) -> Self:
        """Return some of the rows."""
        return replace(self, **{f.name: getattr(self, f.name)[index] for f in fields(self)})

    def joined(self, after: Self) -> Self:
        """Return these rows and then others."""
        return replace(
            self,
            **{f.name: np.concatenate([getattr(self, f.name), getattr(after, f.name)]) for f in fields(self)},
        )


def no_positions() -> Positions:
    """Return no rows."""
    types = {
        "sender": np.int16,
        "bits": np.uint8,
        "faults": np.uint8,
        "rank": np.int16,
        "day": np.int32,
        "sog_kn": np.float32,
        "cog_deg": np.float32,
        "hdop": np.float32,
    }
    types |= dict.fromkeys(("seq", "line", "time_us"), np.int64)
    return Positions(**{f.name: np.zeros(0, dtype=types.get(f.name, np.float64)) for f in fields(Positions)})


def read_positions(piece: Piece) -> tuple[Positions, Ints, dict[str, int]]:
    """Return the positions, where they begin, and counts."""
    index = np.flatnonzero(piece.found.kind <= Kind.GLL)
    table = Fields(piece.found, index)
    kind = piece.found.kind[index]
    time = times_of_day(table.decimals(_TIME[kind]))
    at = _LATITUDE[kind]
    lat = angles(table.decimals(at), table.letters(at + 1), "N", "S", 90.0)
    lon = angles(table.decimals(at + 2), table.letters(at + 3), "E", "W", 180.0)
    none = np.isnan(lat.degrees) | np.isnan(lon.degrees)
    zero = (np.abs(lat.degrees) <= ZERO_TOLERANCE_DEG) & (np.abs(lon.degrees) <= ZERO_TOLERANCE_DEG)
    faults = _validity(table, kind)
    faults |= np.where(none & ~(lat.empty & lon.empty), BAD_POSITION, 0).astype(np.uint8)
    faults |= np.where(time.bad, BAD_TIME, 0).astype(np.uint8)
    rank = np.minimum(lat.places, lon.places) * 4 + _PREFERENCE[kind] + 1
    rank = np.where(none, -1, np.where(zero, 0, rank)).astype(np.int16)
    lon_deg = np.where(none, np.nan, lon.degrees)
    lat_deg = np.where(none, np.nan, lat.degrees)
    reach_lon, reach_lat = np.where(zero, np.nan, lon_deg), np.where(zero, np.nan, lat_deg)
    rmc = np.flatnonzero(kind == Kind.RMC)
    in_rmc = Fields(piece.found, index[rmc])
    day, bad_day = np.full(len(index), NOT_A_DAY, dtype=np.int32), np.zeros(0, dtype=np.bool_)
    day[rmc], bad_day = days_of_dates(in_rmc.decimals(9))
    sog_kn, cog_deg, hdop = (np.full(len(index), np.nan, dtype=np.float32) for _ in range(3))
    sog_kn[rmc] = in_rmc.decimals(7).values(0.0, FASTEST_KN)
    cog_deg[rmc] = circle(in_rmc.decimals(8).values(0.0, 360.0))
    dilution = np.flatnonzero((kind == Kind.GGA) | (kind == Kind.GNS))
    hdop[dilution] = Fields(piece.found, index[dilution]).decimals(8).values(0.0, _LARGEST_HDOP)
    rows = Positions(
        sender=piece.sender[index],
        seq=piece.seqs(index),
        line=piece.lines(index),
        time_us=time.us,
        bits=_BIT[kind],
        faults=faults,
        rank=rank,
        lon_deg=lon_deg,
        lat_deg=lat_deg,
        west_deg=reach_lon,
        east_deg=reach_lon,
        south_deg=reach_lat,
        north_deg=reach_lat,
        day=day,
        sog_kn=sog_kn,
        cog_deg=cog_deg,
        hdop=hdop,
    )
    # With neither time nor position a sentence tells nothing, not even of which moment.
    telling = (time.us != NOT_A_TIME) | ~none | ((faults & BAD_POSITION) != 0)
    counts = {
        "empty": int((~telling).sum()),
        "bad_time_or_date": int(time.bad.sum() + bad_day.sum()),
    }
    return rows.take(telling), piece.found.start[index][telling], counts


def _validity(table: Fields, kind: Bytes) -> Bytes:
    """Return `VOID` and `ESTIMATED` as sentences of the four types with a position tell it."""
    status = table.letters(_STATUS[kind])
    # GLL had no status once; RMC always had.
    void = (kind == Kind.RMC) & (status != ord("A"))
    void |= (kind == Kind.GLL) & (status != ord("A")) & (status != 0)
    mode = table.letters(_MODE[kind])
    other = _OTHER_MEANS[mode]
    void |= (mode != 0) & ~other & ~SATELLITES[mode]
    quality = table.letters(np.where(kind == Kind.GGA, 6, 99))
    other |= _OTHER_QUALITY[quality]
    void |= (kind == Kind.GGA) & ~_GOOD_QUALITY[quality] & ~_OTHER_QUALITY[quality]
    gns = np.flatnonzero(kind == Kind.GNS)
    begin, end = table.span(6)
    begin, end = begin[gns], end[gns]
    satellites, means = (np.zeros(len(gns), dtype=np.bool_) for _ in range(2))
    for offset in range(_MOST_CHARACTERS):
        letter = np.where(begin + offset < end, table.data[begin + offset], 0)
        satellites |= SATELLITES[letter]
        means |= _OTHER_MEANS[letter]
    void[gns] |= ~satellites & ~means
    other[gns] |= means & ~satellites
    return np.where(void, VOID, np.where(other, ESTIMATED, 0)).astype(np.uint8)
