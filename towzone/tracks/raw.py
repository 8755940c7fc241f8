"""What every reader of tracks hands over: the fixes of one source as they stand in the file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from towzone.model.result import Remark
from towzone.model.track import LeftOut, Readings

__all__ = ["NOT_A_TIME", "ZERO_TOLERANCE_DEG", "RawTrack", "SourceContent"]

NOT_A_TIME = -(2**63)
"""The integer behind numpy's ``NaT``."""

ZERO_TOLERANCE_DEG = 1e-6
"""Own limit: receivers without a fix write 0, 0; one millionth of a degree is 0.1 m."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RawTrack:
    """Fixes of one vessel from one source in file order, not yet in time order nor cleaned.

    Parameters
    ----------
    file : str
        Path as the user wrote it; untrusted text.
    name : str
        Of the track to be, unique in the file; untrusted text.
    lon_deg, lat_deg : ndarray of float64, shape (n,)
        Degrees WGS 84, finite and in range, none at 0, 0.
    time_us : ndarray of int64, shape (n,)
        Microseconds since 1970-01-01 UTC, `NOT_A_TIME` where unknown.
    line : ndarray of uint32, shape (n,)
        Line of the file, from 1.
    bounds : tuple of (int, int)
        First and one past the last fix of each segment, in file order, none empty, together all fixes.
    vessel : str
        Who the source says it is; empty when it does not.
    readings : mapping of str to ndarray of float32, shape (n,)
        By names of `towzone.model.track.READINGS`.
    left_out : tuple of LeftOut
        Fixes the reader itself did not take.
    resolution_m : float
        How far positions may be off because the source writes them so coarsely.
    any_order : bool
        Whether the order of the file says nothing, as in a table or a log of what others sent: then a
        fix that steps back in time is no sign of a fault.
    """

    file: str
    name: str
    lon_deg: npt.NDArray[np.float64]
    lat_deg: npt.NDArray[np.float64]
    time_us: npt.NDArray[np.int64]
    line: npt.NDArray[np.uint32]
    bounds: tuple[tuple[int, int], ...]
    vessel: str = ""
    readings: Readings = field(default_factory=dict)
    left_out: tuple[LeftOut, ...] = ()
    resolution_m: float = 0.0
    any_order: bool = False

    def __len__(self) -> int:
        return len(self.lon_deg)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SourceContent:
    """Everything one file of completed tracks gave.

    Parameters
    ----------
    form : str
        What the file is, for people: ``"NMEA 0183 log"``, ``"AIS log"``, ``"CSV"``.
    raw : tuple of RawTrack
        One for each vessel; none without a single position.
    remarks : tuple of Remark
    tally : mapping of str to int
        What was counted in the file, by fixed words, for example ``{"sentences": 5000, "bad_checksum": 3}``.
    """

    form: str
    raw: tuple[RawTrack, ...]
    remarks: tuple[Remark, ...] = ()
    tally: Mapping[str, int] = field(default_factory=dict)
