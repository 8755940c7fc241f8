"""The clearance of every fix from every zone within reach, as a table to be worked on further.

No verdict is taken from it: it knows no gaps, no legs between fixes, no activity, no rules of time or gear.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from towzone.checks.boundaries import Boundaries
from towzone.geodesy.point_clearances import (
    PointClearances,
    Surroundings,
    point_clearances,
    zones_in_reach,
)
from towzone.model.zone import Zone

__all__ = ["clearance_table"]


def clearance_table(
    lon_deg: npt.ArrayLike,
    lat_deg: npt.ArrayLike,
    zones: Sequence[Zone],
    boundaries: Boundaries,
    reach_m: float,
) -> Iterator[PointClearances]:
    """Yield rows of (fix, zone, clearance), sorted by fix and then by zone, about a million at a time.

    Parameters
    ----------
    lon_deg, lat_deg : array_like, shape (n,)
        Fixes of one track, in order.
    zones : sequence of Zone
    boundaries : Boundaries
        Those of the zones.
    reach_m : float
        Rows with a greater clearance are left out.

    Yields
    ------
    PointClearances
        ``point`` numbers the fixes. The clearance is negative inside a zone, or within its radius; for areas
        that may not be left, outside.

    Raises
    ------
    GeometryError
        A coordinate is not finite, or a distance could not be computed.

    Notes
    -----
    Error under 1 cm, as of all clearances (`towzone.geodesy.point_clearances`). Rows do not depend on how
    they are blocked.
    """
    turned = np.array([zone.rules.allowed_only_inside for zone in zones], dtype=bool)
    # What is prohibited outside an area is bounded by the area itself, without a radius.
    radius_m = np.where(turned, 0.0, np.array([zone.radius_m for zone in zones], dtype=np.float64))
    every = Surroundings(
        zone=np.arange(len(zones)),
        edge=boundaries.coarse,
        regions=boundaries.regions,
        radius_m=radius_m,
        turned=turned,
    )
    some = zones_in_reach(lon_deg, lat_deg, every, reach_m)
    near = Surroundings(
        zone=some,
        edge=boundaries.measured(some),
        regions=boundaries.regions,
        radius_m=radius_m,
        turned=turned,
    )
    yield from point_clearances(lon_deg, lat_deg, near, reach_m)
