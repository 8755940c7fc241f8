"""The fixes of a log in compact columns, whoever sent them, used or not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from towzone.logs.epochs import Epochs
from towzone.logs.fields import DAY_US, NOT_A_DAY
from towzone.logs.positions import BAD_POSITION, BAD_TIME, ESTIMATED, VOID
from towzone.tracks.raw import NOT_A_TIME

__all__ = ["TOLERANCE_US", "DateOrigin", "FixStore", "Fixes", "Reason", "day_near"]

Ints = npt.NDArray[np.int64]
Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]

TOLERANCE_US = 300 * 1_000_000
"""Own choice: sentences of one log are this much out of time order at most. Of the rules tried on real and
made logs, the one with this tolerance dated all fixes rightly whose silences were under a day."""
_MOST_PLACES = 20
_MOST_DIFFERENCES = 1000


class Reason(IntEnum):
    """Why a fix cannot be used; names are words of `towzone.model.track.REASONS`."""

    GOOD = 0
    VOID = 1
    ESTIMATED = 2
    BAD_POSITION = 3
    ZERO_POSITION = 4
    BAD_TIME = 5
    CONFLICTING_TIME = 6


class DateOrigin(IntEnum):
    """Where the date of a fix stands."""

    NOWHERE = 0
    RMC = 1
    OWN_ZDA = 2
    OTHER_ZDA = 3
    OTHER_RECEIVER = 4


@dataclass(slots=True, kw_only=True, eq=False)
class Fixes:
    """Fixes in columns of the same length.

    Parameters
    ----------
    time_us : ndarray of int64
        Time of day, or ``NOT_A_TIME``.
    lon_deg, lat_deg : ndarray of float64
        ``NaN`` where there is none.
    line : ndarray of uint32
    seq : ndarray of uint16
        Last 16 bits of the number of the sentence, for the order of fixes of one line.
    day : ndarray of int32
        The date stated with the fix, as days since 1970-01-01, or ``NOT_A_DAY``.
    origin : ndarray of uint8
        A `DateOrigin`.
    sender : ndarray of int16
    bits : ndarray of uint8
        Types of sentences, as in `Positions.bits`.
    reason : ndarray of uint8
        A `Reason`.
    sog_kn, cog_deg, heading_deg, depth_m, hdop : ndarray of float32
    """

    time_us: Ints
    lon_deg: Floats
    lat_deg: Floats
    line: npt.NDArray[np.uint32]
    seq: npt.NDArray[np.uint16]
    day: npt.NDArray[np.int32]
    origin: Bytes
    sender: npt.NDArray[np.int16]
    bits: Bytes
    reason: Bytes
    sog_kn: Singles
    cog_deg: Singles
    heading_deg: Singles
    depth_m: Singles
    hdop: Singles

    def __len__(self) -> int:
        return len(self.line)

    def take(self, name: str, rows: Ints) -> npt.NDArray[np.generic]:
        """Return some rows of a column, in ascending order, and let go of the rest."""
        column: npt.NDArray[np.generic] = getattr(self, name)
        if len(rows) == len(column):
            return column
        self.drop(name)
        return column[rows]

    def drop(self, *names: str) -> None:
        """Let go of columns that are not needed any more."""
        for name in names:
            setattr(self, name, getattr(self, name)[:0].copy())

    def split(self, parts: Sequence[Ints | slice]) -> list[Fixes]:
        """Return fixes by rows, each row in one part; these are empty then, unless they are the one part."""
        if len(parts) == 1 and isinstance(parts[0], slice):
            return [self]
        columns: list[dict[str, npt.NDArray[np.generic]]] = [{} for _ in parts]
        for name in (f.name for f in fields(Fixes)):
            # One column after the other, so that hardly more than the columns themselves is held at a time.
            column = getattr(self, name)
            for some, rows in zip(columns, parts, strict=True):
                some[name] = column[rows]
            self.drop(name)
        return [_fixes(some) for some in columns]


_TYPES = {
    "time_us": np.int64,
    "lon_deg": np.float64,
    "lat_deg": np.float64,
    "line": np.uint32,
    "seq": np.uint16,
    "day": np.int32,
    "origin": np.uint8,
    "sender": np.int16,
    "bits": np.uint8,
    "reason": np.uint8,
    "sog_kn": np.float32,
    "cog_deg": np.float32,
    "heading_deg": np.float32,
    "depth_m": np.float32,
    "hdop": np.float32,
}


class FixStore:
    """Takes in epochs and keeps of each what a track needs, some 60 bytes."""

    def __init__(self) -> None:
        self._columns: dict[str, npt.NDArray[np.generic]] = {
            name: np.empty(0, dtype=kind) for name, kind in _TYPES.items()
        }
        self._stored = 0
        self.places: dict[int, Ints] = {}
        """By sender: how many good fixes have minutes with 0, 1, 2, ... places."""
        self.differences: dict[int, dict[int, tuple[int, int]]] = {}
        """By sender: days ZDA is ahead of RMC at the same moment; how often, and the first line."""

    def add(self, epochs: Epochs) -> None:
        """Take in complete epochs."""
        if not len(epochs):
            return
        rows, besides = epochs.positions, epochs.besides
        reason = _reason(epochs)
        in_zda, of_zda = _zda_days(epochs)
        self._compare(epochs, in_zda, reason)
        from_rmc = rows.day != NOT_A_DAY
        origin = np.where(from_rmc, DateOrigin.RMC, of_zda)
        columns = {
            "time_us": rows.time_us,
            "lon_deg": rows.lon_deg,
            "lat_deg": rows.lat_deg,
            "line": rows.line,
            "seq": rows.seq & 0xFFFF,
            "day": np.where(from_rmc, rows.day, in_zda),
            "origin": origin,
            "sender": rows.sender,
            "bits": rows.bits,
            "reason": reason,
            "sog_kn": np.where(np.isnan(rows.sog_kn), besides["sog"], rows.sog_kn),
            "cog_deg": np.where(np.isnan(rows.cog_deg), besides["cog"], rows.cog_deg),
            "heading_deg": np.where(np.isnan(besides["hdt"]), besides["hdg"], besides["hdt"]),
            "depth_m": np.where(np.isnan(besides["dpt"]), besides["dbt"], besides["dpt"]),
            "hdop": rows.hdop,
        }
        self._store(columns)
        places = np.where(rows.rank > 0, (rows.rank - 1) // 4, 0)
        for sender in np.unique(rows.sender).tolist():
            good = (rows.sender == sender) & (reason == Reason.GOOD)
            count = np.bincount(places[good], minlength=_MOST_PLACES)[:_MOST_PLACES]
            self.places[sender] = self.places.get(sender, np.zeros(_MOST_PLACES, dtype=np.int64)) + count

    def finish(self) -> Fixes:
        """Return all fixes."""
        return _fixes({name: column[: self._stored] for name, column in self._columns.items()})

    def _store(self, columns: Mapping[str, npt.NDArray[np.generic]]) -> None:
        """Put columns behind those stored.

        Where there is no more room, each column in turn moves to one half as large again. The part not
        written yet takes no memory, where many small pieces would leave holes behind when put together.
        """
        end = self._stored + len(columns["line"])
        for name, column in columns.items():
            stored = self._columns[name]
            if end > len(stored):
                larger = np.empty(end + end // 2, dtype=stored.dtype)
                larger[: self._stored] = stored[: self._stored]
                self._columns[name] = stored = larger
            stored[self._stored : end] = column
        self._stored = end

    def _compare(self, epochs: Epochs, in_zda: npt.NDArray[np.int32], reason: Bytes) -> None:
        rows = epochs.positions
        both = np.flatnonzero((rows.day != NOT_A_DAY) & (in_zda != NOT_A_DAY) & (reason != Reason.VOID))
        ahead = in_zda[both].astype(np.int64) - rows.day[both]
        pairs = np.stack([rows.sender[both], ahead], axis=1)
        kinds, first, counts = np.unique(pairs, axis=0, return_index=True, return_counts=True)
        for (sender, days), row, count in zip(kinds.tolist(), first.tolist(), counts.tolist(), strict=True):
            known = self.differences.setdefault(sender, {})
            if days in known:
                known[days] = (known[days][0] + count, known[days][1])
            elif len(known) < _MOST_DIFFERENCES:
                known[days] = (count, int(rows.line[both[row]]))


def _fixes(columns: dict[str, npt.NDArray[np.generic]]) -> Fixes:
    return Fixes(**columns)  # type: ignore[arg-type]  # each is of the type it was added with


def day_near(clock_us: Ints, time_us: Ints) -> npt.NDArray[np.int32]:
    """Return the day on which a time of day is within the tolerance of a dated clock, or ``NOT_A_DAY``.

    Parameters
    ----------
    clock_us : ndarray of int64, shape (n,)
        Microseconds since 1970, or ``NOT_A_TIME``.
    time_us : ndarray of int64, shape (n,)
        Times of day, or ``NOT_A_TIME``.
    """
    known = (clock_us != NOT_A_TIME) & (time_us != NOT_A_TIME)
    clock_us, time_us = np.where(known, clock_us, 0), np.where(known, time_us, 0)
    # The first moment with this time of day that is not before the clock by more than the tolerance.
    day = -((time_us - (clock_us - TOLERANCE_US)) // DAY_US)
    late_us = day * DAY_US + time_us - clock_us
    return np.where(known & (late_us <= TOLERANCE_US), day, NOT_A_DAY).astype(np.int32)


def _reason(epochs: Epochs) -> Bytes:
    rows = epochs.positions
    said = rows.faults
    # Without a position and without a bad one there is nothing to be used, whatever the status.
    void = (said & VOID != 0) | ((rows.rank < 0) & (said & BAD_POSITION == 0))
    conditions = [
        void,
        said & ESTIMATED != 0,
        rows.rank < 0,
        rows.rank == 0,
        (rows.time_us == NOT_A_TIME) & (said & BAD_TIME != 0),
    ]
    reasons = [
        Reason.VOID,
        Reason.ESTIMATED,
        Reason.BAD_POSITION,
        Reason.ZERO_POSITION,
        Reason.BAD_TIME,
    ]
    return np.select(conditions, reasons, Reason.GOOD).astype(np.uint8)


def _zda_days(epochs: Epochs) -> tuple[npt.NDArray[np.int32], Bytes]:
    """Return the dates that ZDA give to epochs, and whose ZDA; the sender's own before any other."""
    time_us = epochs.positions.time_us
    day = np.full(len(epochs), NOT_A_DAY, dtype=np.int32)
    origin = np.zeros(len(epochs), dtype=np.uint8)
    for whose, word in (("own", DateOrigin.OWN_ZDA), ("any", DateOrigin.OTHER_ZDA)):
        before = day_near(epochs.besides[f"clock_{whose}"].astype(np.int64), time_us)
        for found in (epochs.besides[f"day_{whose}"].astype(np.int32), before):
            fresh = (day == NOT_A_DAY) & (found != NOT_A_DAY)
            day[fresh] = found[fresh]
            origin[fresh] = word
    return day, origin
