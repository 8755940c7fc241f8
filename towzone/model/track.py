"""A track as columns: where the vessel was, or is meant to go, and when."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from towzone.units import Instants

__all__ = ["Dropped", "Track", "TrackKind"]


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
        Fixes seen in the file: used plus dropped.
    dropped : tuple of Dropped

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
    dropped: tuple[Dropped, ...] = ()

    def __post_init__(self) -> None:
        n = len(self.lon_deg)
        columns = {
            "lon_deg": np.array(self.lon_deg, dtype=np.float64),
            "lat_deg": np.array(self.lat_deg, dtype=np.float64),
            "time_utc": np.array(self.time_utc, dtype="datetime64[us]"),
            "part": np.array(self.part, dtype=np.int32),
        }
        for name, column in columns.items():
            if column.shape != (n,):
                message = f"{name} has shape {column.shape}, expected ({n},)"
                raise ValueError(message)
            column.setflags(write=False)
            object.__setattr__(self, name, column)
        if not (np.isfinite(self.lon_deg).all() and np.isfinite(self.lat_deg).all()):
            message = "a track may not hold positions that are not finite"
            raise ValueError(message)
        if self.fixes_read != n + sum(d.count for d in self.dropped):
            message = f"fixes do not add up: read {self.fixes_read}, used {n}, dropped {self.dropped}"
            raise ValueError(message)

    def __len__(self) -> int:
        return len(self.lon_deg)
