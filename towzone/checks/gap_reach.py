"""How a vessel could have reached a zone in a gap: how fast, for how long, and with time for a tow.

All three are bounds on the side of what is possible. With ``D1`` and ``D2`` the distances of the two fixes
from the zone (widened by radius, margin and the uncertainty of positions; 0 inside), ``d`` the distance
between the fixes, ``v`` the top speed and ``t`` the time:

- on its way in and out the vessel sails at least ``D1 + D2`` outside the zone, so it was in it for
  ``t - (D1 + D2) / v`` at most. The shortest way over a single point of the zone, with which this is often
  computed, gives less than the truth where the way leads right across: what is sailed inside counts too;
- a tow of ``T`` seconds at ``u`` or slower begins and ends at two points of the zone no more than ``u T``
  apart, so the way to the one and from the other is at least ``max(D1 + D2, d - u T)`` long, and the tow
  fits only if ``T + max(D1 + D2, d - u T) / v <= t``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from towzone.checks.boundaries import Boundaries
from towzone.checks.passages import Demand
from towzone.checks.paths import Path
from towzone.geodesy.approach import Side, closest
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, to_geocentric
from towzone.geodesy.pieces import Pieces, leg_lengths
from towzone.model.result import Gap, ZoneReach
from towzone.model.zone import Zone
from towzone.tows.cores import LEAST_TOW_S
from towzone.units import KNOT_MPS

__all__ = ["distance_outside", "gaps_with_reaches", "widening_m"]


def gaps_with_reaches(
    path: Path,
    zones: Sequence[Zone],
    boundaries: Boundaries,
    demands: Sequence[Demand],
    ways_m: Mapping[tuple[int, int], float],
    max_speed_kn: float,
    position_error_m: float,
) -> tuple[Gap, ...]:
    """Return the gaps of a path with what each leaves open.

    Parameters
    ----------
    ways_m : mapping of (gap, zone) to float
        Pairs that are open, with the shortest way between the fixes over the zone's boundary, metres;
        the straight way where a fix lies where the prohibition applies.
    """
    pairs = sorted(ways_m)
    if not pairs:
        return path.gaps
    gap, zone = np.array(pairs, dtype=np.int64).T
    fix = np.array([one.fix for one in path.gaps])[gap]
    # Gaps of no known length have no pair here.
    seconds = np.array([one.seconds or 0.0 for one in path.gaps])[gap]
    wider_m = np.array([widening_m(*pair) for pair in zip(zones, demands, strict=True)])[zone]
    wider_m += position_error_m
    apart_m = np.maximum(_apart(path, fix) - 2.0 * position_error_m, 0.0)
    outside_m = sum(distance_outside(path, zones, boundaries, end, zone, wider_m) for end in (fix, fix + 1))
    way_m = np.array([ways_m[pair] for pair in pairs]) - 2.0 * wider_m
    least_m = np.maximum(np.maximum(way_m, outside_m), apart_m)
    fastest = max_speed_kn * KNOT_MPS
    longest_s = np.clip(seconds - outside_m / fastest, 0.0, None)
    towed_m = path.doing.fastest_tow_kn * KNOT_MPS * LEAST_TOW_S
    fits = LEAST_TOW_S + np.maximum(outside_m, apart_m - towed_m) / fastest <= seconds
    least_kn, longest, fitting = (least_m / seconds / KNOT_MPS).tolist(), longest_s.tolist(), fits.tolist()
    found: dict[int, list[ZoneReach]] = {}
    for row, (number, z) in enumerate(pairs):
        reach = ZoneReach(
            zone_id=zones[z].zone_id,
            least_speed_kn=least_kn[row],
            longest_inside_s=longest[row],
            tow_fits=fitting[row],
        )
        found.setdefault(number, []).append(reach)
    return tuple(
        Gap(
            fix=gap.fix,
            from_utc=gap.from_utc,
            to_utc=gap.to_utc,
            seconds=gap.seconds,
            reach_m=gap.reach_m,
            could_reach=tuple(found.get(number, ())),
        )
        for number, gap in enumerate(path.gaps)
    )


def widening_m(zone: Zone, demand: Demand) -> float:
    """Return by how much a zone is widened where what could be reached of it is asked."""
    return zone.radius_m + demand.margin_m + zone.datum_accuracy_m


def _apart(path: Path, fix: IntArray) -> FloatArray:
    lon, lat = path.track.lon_deg, path.track.lat_deg
    pairs = np.stack([fix, fix + 1], axis=1).ravel()
    return leg_lengths(lon[pairs], lat[pairs])[0::2]


def distance_outside(
    path: Path,
    zones: Sequence[Zone],
    boundaries: Boundaries,
    fix: IntArray,
    zone: IntArray,
    wider_m: FloatArray,
) -> FloatArray:
    """Return how far fixes are from where the zones' prohibitions apply, at the least.

    Parameters
    ----------
    fix, zone : ndarray of int, shape (n,)
        Pairs.
    wider_m : ndarray, shape (n,)
        By how much each zone is widened, and the position error.

    Returns
    -------
    ndarray, shape (n,)
        Metres, 0 inside.
    """
    some, at = np.unique(fix, return_inverse=True)
    lon, lat = path.track.lon_deg[some], path.track.lat_deg[some]
    xyz = to_geocentric(lon, lat)
    points = Side.of(Pieces.each_alone(xyz, xyz), len(some))
    area = np.array([zone.shape.is_area for zone in zones], dtype=bool)
    turned = np.array([zone.rules.allowed_only_inside for zone in zones], dtype=bool)
    held = boundaries.regions.contain(zone, lon[at], lat[at])
    outside = np.flatnonzero(~area[zone] | (held == turned[zone]))
    edge, far = boundaries.measured(np.unique(zone)), np.full(len(outside), np.inf)
    distance_m = np.zeros(len(fix))
    distance_m[outside] = closest(points, at[outside], edge, zone[outside], far).distance_m
    return np.clip(distance_m - wider_m, 0.0, None)
