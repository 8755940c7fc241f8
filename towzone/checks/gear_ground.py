"""The ground a tow's gear swept, or may have been over, against zones: what curves alone cannot tell.

A wreck between the doors touches neither; and how near the gear may have come, allowing for the spread of its
figures, is the distance of an area.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from towzone.checks.boundaries import Boundaries
from towzone.checks.gear_curves import rims_of
from towzone.checks.intervals import Intervals
from towzone.checks.passages import CONTACT_M
from towzone.gear.corridor import Swept, swept
from towzone.gear.figures import Rigging
from towzone.gear.likely import likely_outline
from towzone.gear.stretch import GearStretch
from towzone.gear.thinning import LIKELY_TOLERANCE_M, TOLERANCE_M, enough_nodes
from towzone.geodesy.approach import closest
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.zone import Zone

__all__ = [
    "Nearness",
    "SweptShare",
    "held_corner",
    "likely_ground",
    "met_at",
    "nearness",
    "stretch_nodes",
    "swept_ground",
]


_SAME = 1e-9
"""Places nearer than this are one (`towzone.checks.intervals`)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SweptShare:
    """The stretches of a tow with their outlines, and the places that some share of it covers."""

    stretches: Sequence[GearStretch]
    rigging: Rigging
    covered: Intervals


def stretch_nodes(stretch: GearStretch, covered: Intervals) -> list[IntArray]:
    """Return the runs of nodes of a stretch that lie in some places, while the gear may be down."""
    place = stretch.lead.place
    runs = []
    for first, last in zip(covered.first.tolist(), covered.last.tolist(), strict=True):
        low, high = np.searchsorted(place, first - _SAME), np.searchsorted(place, last + _SAME)
        inner = np.flatnonzero(stretch.down[low:high]) + low
        if len(inner):
            runs += np.split(inner, np.flatnonzero(np.diff(inner) > 1) + 1)
    return runs


def _thinned(
    stretch: GearStretch, covered: Intervals, outlines: Sequence[FloatArray], tolerance_m: float
) -> list[FloatArray]:
    """Return outlines on the same runs, at the nodes only that what was swept cannot do without."""
    runs = stretch_nodes(stretch, covered)
    if not runs or not outlines:
        return []
    enough = enough_nodes(stretch.run_m, outlines, tolerance_m)
    kept = [
        np.unique(np.concatenate([run[[0, -1]], np.intersect1d(run, enough, assume_unique=True)]))
        for run in runs
    ]
    return [outline[run] for run in kept for outline in outlines]


def swept_ground(share: SweptShare, *, doors: bool = True, nets: bool = True) -> Swept:
    """Return the ground swept between doors (under beams) and between wing-ends and codends."""
    outlines: list[FloatArray] = []
    for stretch in share.stretches:
        own = (*stretch.doors * doors, *stretch.nets * nets)
        outlines += _thinned(stretch, share.covered, own, TOLERANCE_M)
    return swept(outlines)


def likely_ground(share: SweptShare, count: float, outlines: Sequence[FloatArray] = ()) -> Swept:
    """Return the ground the gear may have been over, allowing for so many standard deviations.

    Parameters
    ----------
    outlines : sequence of ndarray
        The likely outline of each stretch, where it has been worked out before.
    """
    known = outlines or [likely_outline(stretch, share.rigging, count) for stretch in share.stretches]
    found: list[FloatArray] = []
    for stretch, outline in zip(share.stretches, known, strict=True):
        found += _thinned(stretch, share.covered, [outline], LIKELY_TOLERANCE_M)
    return swept(found)


def held_corner(ground: Swept, zone: Zone) -> tuple[float, float] | None:
    """Return a corner of a zone that lies on some ground, longitude and latitude; ``None`` if none does."""
    corners = np.concatenate([string for string, _ in zone.shape.strings()])
    held = np.flatnonzero(ground.holds(corners[:, 0], corners[:, 1]))
    return (float(corners[held[0], 0]), float(corners[held[0], 1])) if len(held) else None


def met_at(ground: Swept, zone: Zone, number: int, boundaries: Boundaries) -> tuple[float, float] | None:
    """Return a position at which some ground meets the boundary of a zone; ``None`` if it does not.

    That is a corner of the zone on the ground, or where its boundary crosses the rim: a cable that runs
    between the doors from before they came down until they lifted has no corner there.
    """
    corner = held_corner(ground, zone)
    if corner is not None or not ground.polygons:
        return corner
    one = np.array([number])
    edge, cutoff_m = boundaries.measured(one), np.array([2.0 * CONTACT_M])
    found = closest(rims_of([ground]), np.array([0]), edge, one, cutoff_m)
    if not found.distance_m[0] <= CONTACT_M:
        return None
    return float(found.edge_lon_deg[0]), float(found.edge_lat_deg[0])


class Nearness(NamedTuple):
    """How near some ground came to zones, and where on its rim: columns, one row for each zone."""

    clearance_m: FloatArray
    lon_deg: FloatArray
    lat_deg: FloatArray


def nearness(ground: Swept, zones: Sequence[Zone], wanted: Sequence[int], boundaries: Boundaries) -> Nearness:
    """Return how near some ground came to the boundaries of zones, after their radius, in order.

    0 or less where the ground reaches a boundary or the radius around it; infinite, and nowhere (``NaN``),
    without ground.
    """
    number = np.array(wanted, dtype=np.int64)
    if not ground.polygons:
        nowhere = np.full(len(number), np.nan)
        return Nearness(np.full(len(number), np.inf), nowhere, nowhere)
    owner = np.zeros(len(number), dtype=np.int64)
    edge = boundaries.measured(np.unique(number))
    found = closest(rims_of([ground]), owner, edge, number, np.full(len(number), np.inf))
    distance, lon, lat = found.distance_m, found.path_lon_deg, found.path_lat_deg
    for at, z in enumerate(wanted):
        corner = held_corner(ground, zones[z])
        if corner is not None:
            distance[at] = 0.0
            lon[at], lat[at] = corner
        distance[at] -= zones[z].radius_m
    return Nearness(distance, lon, lat)
