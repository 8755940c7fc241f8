"""Moments at which one receiver stands at two places: which they are, and how many are too many.

Two devices of one name in one log say the same time at different places; taking the first would make the
other vanish, wherever it was. A clock that stands still swallows all positions but one in the same way.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.logs.fixes import Fixes, Reason
from towzone.logs.told import DEGREE_M, FAR_M, Told, epoch_keys
from towzone.units import NAUTICAL_MILE_M

__all__ = ["Conflicts", "mark_conflicts", "too_many"]

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

_FEW, _FEW_SHARE, _MOST_SHARE = 10, 0.01, 0.5
"""Own choice: how many moments of a log, by number or share, may be left out because of it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Conflicts:
    """The positions of moments at which a receiver stands at two places.

    Parameters
    ----------
    row : ndarray of int64, shape (n,)
        To which fix each position belongs, ascending.
    line : ndarray of int64, shape (n,)
    lon_deg, lat_deg : ndarray of float64, shape (n,)
    number : int
        Positions farther from that of their moment than receivers differ; at least one for each moment.
    largest_m : float
    rounded : int
        Moments whose positions differ as much only because some are written with few decimals.
    first_rounded : int
        Line of the first of them.
    """

    row: Ints
    line: Ints
    lon_deg: Floats
    lat_deg: Floats
    number: int = 0
    largest_m: float = 0.0
    rounded: int = 0
    first_rounded: int = 0

    def __len__(self) -> int:
        return len(self.row)

    @property
    def moments(self) -> int:
        """How many moments they belong to."""
        return len(np.unique(self.row))


def mark_conflicts(fixes: Fixes, told: Told, sender: int) -> Conflicts:
    """Return the conflicts of one receiver, whose fixes get the reason for being left out.

    Parameters
    ----------
    fixes : Fixes
        In the order of the file.
    told : Told
    sender : int
    """
    told = told.take(told.sender == sender)
    if not len(told) or not len(fixes):
        return _conflicts(np.zeros(0, dtype=np.int64), told.take(np.zeros(0, dtype=np.int64)))
    keys = epoch_keys(fixes.line, fixes.seq)
    row = np.minimum(np.searchsorted(keys, told.epoch), len(keys) - 1)
    ours = (keys[row] == told.epoch) & (fixes.reason[row] == Reason.GOOD)
    row, told = row[ours], told.take(ours)
    order = np.lexsort((told.line, row))
    row, told = row[order], told.take(order)
    firsts = np.flatnonzero(np.diff(row, prepend=-1) != 0)
    if not len(firsts):
        return _conflicts(row, told)
    east_m, north_m = _offsets_m(fixes, told, row)
    reach_m = _reach_m(east_m, north_m, firsts)
    # Figures that are cut off stand up to one unit of their last place away, along either axis.
    unit_m = NAUTICAL_MILE_M / 10.0**told.places
    east_m, north_m = (np.sign(some) * np.maximum(np.abs(some) - unit_m, 0.0) for some in (east_m, north_m))
    real = _reach_m(east_m, north_m, firsts) > FAR_M
    away = np.add.reduceat((np.hypot(east_m, north_m) > FAR_M).astype(np.int64), firsts)
    fixes.reason[row[firsts[real]]] = Reason.CONFLICTING_TIME
    rounded = row[firsts[~real & (reach_m > FAR_M)]]
    of_real = np.repeat(real, np.diff(np.append(firsts, len(row))))
    return _conflicts(
        row[of_real],
        told.take(of_real),
        number=int(np.maximum(away[real], 1).sum()),
        largest_m=float(reach_m[real].max(initial=0.0)),
        rounded=len(rounded),
        first_rounded=int(fixes.line[rounded[0]]) if len(rounded) else 0,
    )


def _offsets_m(fixes: Fixes, told: Told, row: Ints) -> tuple[Floats, Floats]:
    """Return how far east and north of its fix each position is, never across 180 degrees."""
    east_deg = (told.lon_deg - fixes.lon_deg[row] + 180.0) % 360.0 - 180.0
    east_m = DEGREE_M * east_deg * np.cos(np.radians(told.lat_deg))
    return east_m, DEGREE_M * (told.lat_deg - fixes.lat_deg[row])


def _reach_m(east_m: Floats, north_m: Floats, firsts: Ints) -> Floats:
    sides_m = [
        np.maximum.reduceat(some, firsts) - np.minimum.reduceat(some, firsts) for some in (east_m, north_m)
    ]
    reach_m: Floats = np.hypot(*sides_m)
    return reach_m


def too_many(number: int, moments: int) -> bool:
    """Return whether so many conflicting positions of all its moments leave no track to be trusted."""
    return number > min(max(_FEW, _FEW_SHARE * moments), _MOST_SHARE * moments)


def _conflicts(
    row: Ints, told: Told, number: int = 0, largest_m: float = 0.0, rounded: int = 0, first_rounded: int = 0
) -> Conflicts:
    return Conflicts(
        row=row,
        line=told.line,
        lon_deg=told.lon_deg,
        lat_deg=told.lat_deg,
        number=number,
        largest_m=largest_m,
        rounded=rounded,
        first_rounded=first_rounded,
    )
