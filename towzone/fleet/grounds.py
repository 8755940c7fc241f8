"""The zones of an audit made ready for one vessel after the other, once in each worker."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from towzone.checks.boundaries import Boundaries
from towzone.checks.plausible import first_corners
from towzone.fleet.handing import Handed, handed_zones
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.zone import Zone

__all__ = ["Grounds", "grounds_of"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grounds:
    """Zones as a worker has them at hand for one vessel after the other.

    Parameters
    ----------
    zones : tuple of Zone
    boundaries : Boundaries
    corners : ndarray, shape (zones, 2)
        The first of each zone.
    """

    zones: tuple[Zone, ...]
    boundaries: Boundaries
    corners: FloatArray


@functools.lru_cache(maxsize=1)
def grounds_of(handed: Handed) -> Grounds:
    """Return the zones of an audit made ready.

    Raises
    ------
    OutputError
        What was put down is not seen from here.
    """
    zones = handed_zones(handed)
    boundaries = Boundaries.of(zones)
    if handed.all_at_once:
        boundaries.measured(np.arange(len(zones)))
    return Grounds(zones=zones, boundaries=boundaries, corners=first_corners(zones))
