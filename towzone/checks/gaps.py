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
from towzone.checks.passages import Demand
from towzone.checks.paths import Path
from towzone.geodesy.approach import Side, detours
from towzone.geodesy.ellipsoid import to_geocentric
from towzone.geodesy.pieces import Pieces
from towzone.model.zone import Zone

__all__ = ["Ways", "by_unit", "reached"]

Ways = dict[tuple[int, int], float]
"""By gap (as in ``path.gaps``) and zone, the shortest way between the fixes that touches the zone, metres."""


def reached(path: Path, zones: Sequence[Zone], boundaries: Boundaries, demands: Sequence[Demand]) -> Ways:
    """Return the pairs of a gap and a zone that it (or its margin) could have been reached in.

    Returns
    -------
    Ways
        The straight way where a fix lies where the zone's prohibition applies. A gap without times could
        reach every zone, by a way that is not known (``NaN``).

    Notes
    -----
    A zone widened by ``w`` metres (radius, margin and the accuracy of its datum) is compared by giving
    the vessel ``2 w`` more to sail: a little more than the truth, never less.
    """
    return {**_untimed(path, zones), **_timed(path, zones, boundaries, demands)}


def by_unit(path: Path, ways: Ways) -> dict[tuple[int | None, int], tuple[int, ...]]:
    """Return the numbers of the gaps of each unit (as in ``path.gap_unit``) and zone."""
    found: dict[tuple[int | None, int], list[int]] = {}
    for gap, zone in sorted(ways):
        found.setdefault((path.gap_unit[gap], zone), []).append(gap)
    return {key: tuple(gaps) for key, gaps in found.items()}


def _untimed(path: Path, zones: Sequence[Zone]) -> Ways:
    unbounded = [number for number, gap in enumerate(path.gaps) if gap.reach_m is None]
    return {(gap, zone): np.nan for gap in unbounded for zone in range(len(zones))}


def _timed(path: Path, zones: Sequence[Zone], boundaries: Boundaries, demands: Sequence[Demand]) -> Ways:
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
    budget_m = reach_m[:, None] + 2.0 * wider_m[None, :]
    gap, zone = boundaries.near(foci, budget_m, foci=True)
    way_m = detours(foci, gap, boundaries.measured(np.unique(zone)), zone, budget_m[gap, zone])
    touched = np.isfinite(way_m)
    found = zip(numbers[gap[touched]].tolist(), zone[touched].tolist(), way_m[touched].tolist(), strict=True)
    ways = {(number, z): way for number, z, way in found}
    return {**ways, **_from_inside(path, zones, boundaries, numbers, fix)}


def _foci(path: Path, fix: np.ndarray) -> Side:
    """Return each gap as one piece between its two fixes; only its ends matter."""
    xyz = to_geocentric(path.track.lon_deg, path.track.lat_deg)
    return Side.of(Pieces.each_alone(xyz[fix], xyz[fix + 1]), len(fix))


def _from_inside(
    path: Path, zones: Sequence[Zone], boundaries: Boundaries, numbers: np.ndarray, fix: np.ndarray
) -> Ways:
    """Return the straight way of gaps that begin or end where a zone's prohibition applies.

    Its boundary may be out of reach. That is inside an area, or outside one that is allowed only inside;
    between two positions inside that one, with its boundary out of reach, the vessel never left it.
    """
    lon, lat = path.track.lon_deg, path.track.lat_deg
    ways: Ways = {}
    for number, zone in enumerate(zones):
        if zone.shape.is_area:
            contains = boundaries.regions[number].contains
            start, end = contains(lon[fix], lat[fix]), contains(lon[fix + 1], lat[fix + 1])
            held = ~(start & end) if zone.rules.allowed_only_inside else start | end
            straight_m = path.length_m[fix[held]].tolist()
            ways |= {(gap, number): way for gap, way in zip(numbers[held].tolist(), straight_m, strict=True)}
    return ways
