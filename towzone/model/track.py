"""A track as columns: where the vessel was, or is meant to go, and when."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from towzone.units import Instants

__all__ = ["READINGS", "REASONS", "Dropped", "LeftOut", "Readings", "Track", "TrackKind"]

READINGS = ("sog_kn", "cog_deg", "heading_deg", "depth_m", "warp_m", "hdop")
"""What a source may tell beside position and time: speed and course over the ground as the receiver has
them, heading (true), depth of the water, warp that is out, horizontal dilution of precision."""

Readings = Mapping[str, npt.NDArray[np.float32]]
"""Readings by name, each as long as the fixes, ``NaN`` where unknown."""

REASONS = {
    "duplicate": "repeats time and position of another fix",
    "conflicting_time": "has the time of another fix but not its position",
    "backward_time": "steps back in time",
    "zero_position": "stands at 0, 0, which receivers write when they have no position",
    "void": "is marked by the receiver as not valid",
    "estimated": "is dead reckoning, manual or simulated, not a satellite fix",
    "bad_position": "has a position that is no position",
    "bad_time": "has a time that is no time",
    "coarse": "is given to a tenth of a minute only, while better fixes are there",
    "other_receiver": "comes from another receiver of the same log",
    "impossible_jump": "could not be reached at the top speed, nor left",
    "spike": "stands aside of neighbours that agree",
    "frozen": "repeats the same position while the vessel was under way",
    "large_hdop": "has satellites so badly placed that the position is not to be trusted",
    "other_source": "comes from a source that is used only where a better one has gaps",
}
"""Why a fix may be left out: the fixed word, and what it says of the fix."""


_NEXT_LINES = 10
"""Own choice: one fix of a log takes up a few lines."""


class TrackKind(StrEnum):
    """Whether the vessel has been there."""

    COMPLETED = "completed"
    PLANNED = "planned"


@dataclass(frozen=True, slots=True, kw_only=True)
class Dropped:
    """How many fixes were left out, and why.

    Parameters
    ----------
    reason : str
        A fixed word, for example ``duplicate`` or ``backward_time``.
    count : int
    """

    reason: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeftOut:
    """Fixes of one file left out for one reason, each with its place.

    Parameters
    ----------
    reason : str
        A word of `REASONS`.
    file : str
        Path as the user wrote it; untrusted text.
    line : ndarray of uint32, shape (n,)
        Lines of the file, from 1; 0 where the file has no lines.
    time_utc : ndarray of datetime64[us], shape (n,)
        ``NaT`` where unknown.
    lon_deg, lat_deg : ndarray of float64, shape (n,)
        ``NaN`` where there is none, or none that can be read.
    """

    reason: str
    file: str
    line: npt.NDArray[np.uint32]
    time_utc: Instants
    lon_deg: npt.NDArray[np.float64]
    lat_deg: npt.NDArray[np.float64]

    def __post_init__(self) -> None:
        if self.reason not in REASONS:
            message = f"{self.reason!r} is not a reason for leaving a fix out"
            raise ValueError(message)
        if not len(self.line) == len(self.time_utc) == len(self.lon_deg) == len(self.lat_deg):
            message = "the columns of fixes left out differ in length"
            raise ValueError(message)

    def __len__(self) -> int:
        return len(self.line)

    def runs(self) -> Iterator[tuple[int, int]]:
        """Yield the first and last of those that follow each other in the file, a few lines apart at most."""
        lines = self.line.astype(np.int64)
        apart = (np.diff(lines) < 0) | (np.diff(lines) > _NEXT_LINES) | (lines[1:] == 0)
        firsts = (
            np.flatnonzero(np.append(len(lines) > 0, apart)) if len(lines) else np.empty(0, dtype=np.int64)
        )
        lasts = np.append(firsts[1:], len(lines)) - 1
        yield from zip(firsts.tolist(), lasts.tolist(), strict=True)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """Fixes of one vessel in time order, or the corners of one planned route.

    Parameters
    ----------
    track_id : str
        Unique in a run; untrusted text.
    source : str
        Path of the file (or files, joined by ``, ``) as the user wrote it.
    kind : TrackKind
    lon_deg, lat_deg : ndarray of float64, shape (n,)
        Degrees WGS 84; longitude in [-180, 180].
    time_utc : ndarray of datetime64[us], shape (n,)
        ``NaT`` where the file gives no time. Known times never decrease.
    part : ndarray of int32, shape (n,)
        Number of the segment of the file each fix came from, from 0, never decreasing.
    fixes_read : int
        Fixes seen in the file: used plus left out.
    left_out : tuple of LeftOut
    vessel : str
        Who the source says it is (an MMSI, a name), empty when it does not; untrusted text.
    line : ndarray of uint32, shape (n,), or None
        Line of the file each fix stands in, where one file has them.
    readings : mapping of str to ndarray of float32, shape (n,)
        What else the source tells, by names of `READINGS`.
    resolution_m : float
        How far positions may be off because the source writes them so coarsely.
    towed : tuple of int, or None
        Of a planned route: the corners at which towing begins and at which the haul is called; before and
        after these the gear is shot and hauled. ``None``: all of it is towing.

    Notes
    -----
    Columns are copied and made read-only on construction.
    """

    track_id: str
    source: str
    kind: TrackKind
    lon_deg: npt.NDArray[np.float64]
    lat_deg: npt.NDArray[np.float64]
    time_utc: Instants
    part: npt.NDArray[np.int32]
    fixes_read: int
    left_out: tuple[LeftOut, ...] = ()
    vessel: str = ""
    line: npt.NDArray[np.uint32] | None = None
    readings: Readings = field(default_factory=dict)
    resolution_m: float = 0.0
    towed: tuple[int, int] | None = None

    def __post_init__(self) -> None:
        n = len(self.lon_deg)
        columns = {
            "lon_deg": np.array(self.lon_deg, dtype=np.float64),
            "lat_deg": np.array(self.lat_deg, dtype=np.float64),
            "time_utc": np.array(self.time_utc, dtype="datetime64[us]"),
            "part": np.array(self.part, dtype=np.int32),
        }
        if self.line is not None:
            columns["line"] = np.array(self.line, dtype=np.uint32)
        readings = {name: np.array(column, dtype=np.float32) for name, column in self.readings.items()}
        for name, column in (*columns.items(), *readings.items()):
            if column.shape != (n,):
                message = f"{name} has shape {column.shape}, expected ({n},)"
                raise ValueError(message)
            column.setflags(write=False)
        for name, column in columns.items():
            object.__setattr__(self, name, column)
        if not set(readings) <= set(READINGS):
            message = f"{sorted(set(readings) - set(READINGS))} are no readings of a track"
            raise ValueError(message)
        object.__setattr__(self, "readings", MappingProxyType(readings))
        if not (np.isfinite(self.lon_deg).all() and np.isfinite(self.lat_deg).all()):
            message = "a track may not hold positions that are not finite"
            raise ValueError(message)
        if self.towed is not None and not 0 <= self.towed[0] < self.towed[1] < n:
            message = f"towing cannot last from corner {self.towed[0]} to {self.towed[1]} of {n}"
            raise ValueError(message)
        if self.fixes_read != n + sum(len(some) for some in self.left_out):
            message = f"fixes do not add up: read {self.fixes_read}, used {n}, left out {self.dropped}"
            raise ValueError(message)

    @property
    def dropped(self) -> tuple[Dropped, ...]:
        """How many fixes were left out for each reason, by reason in alphabetical order."""
        counts: dict[str, int] = {}
        for some in self.left_out:
            counts[some.reason] = counts.get(some.reason, 0) + len(some)
        return tuple(Dropped(reason=reason, count=n) for reason, n in sorted(counts.items()) if n)

    def __len__(self) -> int:
        return len(self.lon_deg)
