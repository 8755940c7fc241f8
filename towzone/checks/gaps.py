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

__all__ = ["reached"]


def reached(
    path: Path, zones: Sequence[Zone], boundaries: Boundaries, demands: Sequence[Demand]
) -> dict[tuple[int | None, int], tuple[int, ...]]:
    """Return the gaps in which each zone (or its margin) could have been reached.

    Returns
    -------
    dict
        ``(tow from 0 or None, zone)`` to the numbers of the gaps, as in ``path.gaps`` and ``path.gap_unit``.
        A gap without times could reach every zone.

    Notes
    -----
    A zone widened by ``w`` metres (radius, margin and the accuracy of its datum) is compared by giving
    the vessel ``2 w`` more to sail: a little more than the truth, never less.
    """
    found: dict[tuple[int | None, int], list[int]] = {}
    for gap, zone in sorted(_timed(path, zones, boundaries, demands) | _untimed(path, zones)):
        found.setdefault((path.gap_unit[gap], zone), []).append(gap)
    return {key: tuple(gaps) for key, gaps in found.items()}


def _untimed(path: Path, zones: Sequence[Zone]) -> set[tuple[int, int]]:
    unbounded = [number for number, gap in enumerate(path.gaps) if gap.reach_m is None]
    return {(gap, zone) for gap in unbounded for zone in range(len(zones))}


def _timed(
    path: Path, zones: Sequence[Zone], boundaries: Boundaries, demands: Sequence[Demand]
) -> set[tuple[int, int]]:
    numbers = np.array([n for n, gap in enumerate(path.gaps) if gap.reach_m is not None], dtype=np.int64)
    if not len(numbers) or not zones:
        return set()
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
    pairs = set(zip(numbers[gap[touched]].tolist(), zone[touched].tolist(), strict=True))
    return pairs | _from_inside(path, zones, boundaries, numbers, fix)


def _foci(path: Path, fix: np.ndarray) -> Side:
    """Return each gap as one piece between its two fixes; only its ends matter."""
    xyz = to_geocentric(path.track.lon_deg, path.track.lat_deg)
    return Side.of(Pieces.each_alone(xyz[fix], xyz[fix + 1]), len(fix))


def _from_inside(
    path: Path, zones: Sequence[Zone], boundaries: Boundaries, numbers: np.ndarray, fix: np.ndarray
) -> set[tuple[int, int]]:
    """Return gaps that begin or end where a zone's prohibition applies, its boundary maybe out of reach.

    That is inside an area, or outside one that is allowed only inside; between two positions inside that
    one, with its boundary out of reach, the vessel never left it.
    """
    lon, lat = path.track.lon_deg, path.track.lat_deg
    pairs = set()
    for number, zone in enumerate(zones):
        if zone.shape.is_area:
            contains = boundaries.regions[number].contains
            start, end = contains(lon[fix], lat[fix]), contains(lon[fix + 1], lat[fix + 1])
            held = ~(start & end) if zone.rules.allowed_only_inside else start | end
            pairs |= {(gap, number) for gap in numbers[held].tolist()}
    return pairs
