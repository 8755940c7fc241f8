"""Which zones the vessel could have reached where the positions leave a gap.

Within a gap the vessel can only have been at places from which both ends lie within its longest possible
way: an ellipse with the two fixes as foci (Hägerstrand's prism; Miller 2005, A measurement theory for
time geography, Geographical Analysis 37, doi:10.1111/j.1538-4632.2005.00575.x). The ellipse is never
drawn for a verdict: the shortest way between the fixes that touches the zone is computed and compared.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from towzone.checks.boundaries import Boundaries
from towzone.checks.gap_boxes import near_gaps
from towzone.checks.passages import Demand
from towzone.checks.paths import Path
from towzone.geodesy.approach import Side, detours
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import to_geocentric
from towzone.geodesy.pieces import Pieces
from towzone.model.zone import Zone

__all__ = ["Ways", "reached"]

Ways = dict[tuple[int, int], float]
"""By gap (as in ``path.gaps``) and zone, the shortest way between the fixes that touches the zone, metres."""


def reached(path: Path, zones: Sequence[Zone], boundaries: Boundaries, demands: Sequence[Demand]) -> Ways:
    """Return the pairs of a gap and a zone that it (or its margin) could have been reached in.

    Returns
    -------
    Ways
        The straight way where a fix lies where the zone's prohibition applies. Gaps without times, in which
        every zone could have been reached, are left out.

    Notes
    -----
    A zone widened by ``w`` metres (radius, margin and the accuracy of its datum) is compared by giving
    the vessel ``2 w`` more to sail: a little more than the truth, never less.
    """
    numbers = np.array([n for n, gap in enumerate(path.gaps) if gap.reach_m is not None], dtype=np.int64)
    if not len(numbers) or not zones:
        return {}
    fix = np.array([path.gaps[n].fix for n in numbers])
    reach_m = np.array([path.gaps[n].reach_m for n in numbers], dtype=np.float64)
    wider_m = np.array(
        [
            zone.radius_m + demand.margin_m + zone.datum_accuracy_m
            for zone, demand in zip(zones, demands, strict=True)
        ]
    )
    foci = _foci(path, fix)
    gap, zone = near_gaps(foci.pieces.start_m, foci.pieces.end_m, reach_m, boundaries.coarse.tree, wider_m)
    way_m = detours(foci, gap, boundaries.measured(np.unique(zone)), zone, reach_m[gap] + 2.0 * wider_m[zone])
    touched = np.isfinite(way_m)
    pairs = zip(numbers[gap[touched]].tolist(), zone[touched].tolist(), strict=True)
    ways = dict(zip(pairs, way_m[touched].tolist(), strict=True))
    return {**ways, **_from_inside(path, zones, boundaries, numbers, fix)}


def _foci(path: Path, fix: IntArray) -> Side:
    """Return each gap as one piece between its two fixes; only its ends matter."""
    lon, lat = path.track.lon_deg, path.track.lat_deg
    ends = (to_geocentric(lon[at], lat[at]) for at in (fix, fix + 1))
    return Side.of(Pieces.each_alone(*ends), len(fix))


def _from_inside(
    path: Path, zones: Sequence[Zone], boundaries: Boundaries, numbers: IntArray, fix: IntArray
) -> Ways:
    """Return the straight way of gaps that begin or end where a zone's prohibition applies.

    Its boundary may be out of reach. That is inside an area, or outside one that is allowed only inside;
    between two positions inside that one, with its boundary out of reach, the vessel never left it.
    """
    gaps, some = len(fix), np.union1d(fix, fix + 1)
    zone, at = boundaries.regions.holding(path.track.lon_deg[some], path.track.lat_deg[some])
    # One number for each pair of a zone and a gap.
    start, end = (_gaps_at(zone, some[at], ends) for ends in (fix, fix + 1))
    turned = np.array([zone.shape.is_area and zone.rules.allowed_only_inside for zone in zones], dtype=bool)
    either, both = np.union1d(start, end), np.intersect1d(start, end)
    elsewhere = np.flatnonzero(turned)[:, None] * gaps + np.arange(gaps)
    held = np.concatenate([either[~turned[either // gaps]], np.setdiff1d(elsewhere, both)])
    zone, gap = np.divmod(held, gaps)
    pairs = zip(numbers[gap].tolist(), zone.tolist(), strict=True)
    return dict(zip(pairs, path.length_m[fix[gap]].tolist(), strict=True))


def _gaps_at(zone: IntArray, inside: IntArray, ends: IntArray) -> IntArray:
    """Return the pairs of zones and of gaps that have one of their ends at the fixes inside."""
    gap = np.minimum(np.searchsorted(ends, inside), len(ends) - 1)
    found = ends[gap] == inside
    return np.asarray(zone[found] * len(ends) + gap[found])
