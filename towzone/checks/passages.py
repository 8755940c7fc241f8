"""How each part of a path passed each zone: least clearance, stays inside, stretches under the margin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from towzone.checks.batches import Batch, Carrier
from towzone.checks.boundaries import Boundaries
from towzone.checks.intervals import Intervals, between, merged
from towzone.geodesy.approach import Approaches, Side, closest, reaches
from towzone.geodesy.depth import deepest
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.lines import WGS84
from towzone.model.result import Closest
from towzone.model.zone import Zone

__all__ = [
    "CONTACT_M",
    "NOWHERE",
    "Demand",
    "GearMeasure",
    "Passage",
    "closest_place",
    "deepest_place",
    "describe_closest",
    "joined",
    "measure",
    "together",
]

CONTACT_M = 0.002
"""Nearer than this to a boundary is on it: twice what cutting a curve into chords may cost."""


NOWHERE = Intervals(np.empty(0), np.empty(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """What is asked of a passage, metres: the required clearance and how uncertain positions are."""

    margin_m: float
    uncertainty_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GearMeasure:
    """What a passage of the gear knows beyond that of a vessel.

    Parameters
    ----------
    part : str
        The part that was nearest; empty where no path of the gear is known.
    carrier : Carrier or None
        The path of that part.
    uncertainty_m : float
        How far the part may be from there.
    likely_m : float or None
        Least clearance allowing for so many standard deviations; ``None`` where it was not needed.
    likely_at : tuple of float or None
        Where that is, longitude and latitude.
    rope_m : float or None
        Clearance left by the length of warp, sweeps and net alone; ``None`` where nothing bounds it.
    unseen_m : float
        The same of the stretches alone of which the model knows no path to rely on; infinite without any.
    flags : tuple of str
    why_not : str
        Why no path is known, in a sentence.
    """

    part: str = ""
    carrier: Carrier | None = None
    uncertainty_m: float = 0.0
    likely_m: float | None = None
    likely_at: tuple[float, float] | None = None
    rope_m: float | None = None
    unseen_m: float = np.inf
    flags: tuple[str, ...] = ()
    why_not: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Passage:
    """One group of a path against one zone.

    ``clearance_m`` is negative inside (the greatest depth) and ``None`` when nothing was within reach;
    ``inside`` and ``close`` are places on the path; ``rim``, measured for transit rules only, those so
    near the boundary that the uncertainty of positions leaves open on which side they were. ``gear`` is
    there for the gear.
    """

    group: int
    zone: int
    clearance_m: float | None
    closest: Closest | None
    inside: Intervals
    close: Intervals
    rim: Intervals = NOWHERE
    gear: GearMeasure | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pairs:
    """Pairs under measurement, as columns, with their closest approaches."""

    group: IntArray
    zone: IntArray
    radius_m: FloatArray
    margin_m: FloatArray
    approach: Approaches


def measure(
    batch: Batch,
    zones: Sequence[Zone],
    boundaries: Boundaries,
    demands: Sequence[Demand],
    reach_m: float,
) -> list[Passage]:
    """Return the passages of a path by all zones that are within reach or hold any of it.

    Pairs that are missing from the answer are proved farther than ``reach_m`` and than their margin
    and uncertainty together.
    """
    starts_inside = _run_starts_inside(batch, zones, boundaries)
    pairs, edge = _pairs(batch, zones, boundaries, demands, reach_m, starts_inside)
    crossing = np.array([zones[z].shape.is_area for z in pairs.zone], dtype=bool)
    crossing &= pairs.approach.distance_m <= CONTACT_M
    contacts = _stretches(batch, edge, pairs, np.full(len(pairs.zone), CONTACT_M), crossing)
    rounded = _stretches(
        batch,
        edge,
        pairs,
        pairs.radius_m,
        (pairs.radius_m > 0.0) & (pairs.approach.distance_m < pairs.radius_m),
    )
    limit_m = pairs.radius_m + pairs.margin_m
    # A line without a margin is met in places, not on stretches; each is told.
    lines = np.array([not zones[z].shape.is_area for z in pairs.zone], dtype=bool)
    limit_m = np.where(lines, np.maximum(limit_m, CONTACT_M), limit_m)
    near = _stretches(batch, edge, pairs, limit_m, (limit_m > 0.0) & (pairs.approach.distance_m < limit_m))
    passages = []
    for number, (group, zone) in enumerate(zip(pairs.group.tolist(), pairs.zone.tolist(), strict=True)):
        within = _stays_inside(batch, boundaries, group, zone, starts_inside, contacts[number])
        passage = _passage(batch, edge, pairs, number, within, rounded[number], near[number])
        if passage is not None:
            passages.append(passage)
    return passages


def _run_starts_inside(
    batch: Batch, zones: Sequence[Zone], boundaries: Boundaries
) -> dict[tuple[int, int], npt.NDArray[np.bool_]]:
    """Return, for (group, zone) with any, which covered stretches of the group begin inside the area."""
    counts = [len(group.covered) for group in batch.groups]
    firsts = np.concatenate([group.covered.first for group in batch.groups]) if counts else np.empty(0)
    lon, lat = batch.path.positions(firsts)
    ends = np.cumsum(counts)
    inside = {}
    for number, zone in enumerate(zones):
        if not zone.shape.is_area:
            continue
        held = boundaries.regions[number].contains(lon, lat)
        if held.any():
            for group, part in enumerate(np.split(held, ends[:-1])):
                if part.any():
                    inside[group, number] = part
    return inside


def _pairs(
    batch: Batch,
    zones: Sequence[Zone],
    boundaries: Boundaries,
    demands: Sequence[Demand],
    reach_m: float,
    starts_inside: dict[tuple[int, int], npt.NDArray[np.bool_]],
) -> tuple[_Pairs, Side]:
    radius_m = np.array([zone.radius_m for zone in zones])
    margin_m = np.array([demand.margin_m for demand in demands])
    wanted_m = np.array([demand.margin_m + demand.uncertainty_m for demand in demands])
    cutoff_m = np.maximum(reach_m, wanted_m) + radius_m + CONTACT_M
    near = set(zip(*(c.tolist() for c in boundaries.near(batch.side, cutoff_m)), strict=True))
    both = sorted(near | set(starts_inside))
    group = np.array([pair[0] for pair in both], dtype=np.int64)
    zone = np.array([pair[1] for pair in both], dtype=np.int64)
    edge = boundaries.measured(np.unique(zone))
    cutoff = np.array([np.inf if pair in starts_inside else cutoff_m[pair[1]] for pair in both])
    approach = closest(batch.side, group, edge, zone, cutoff)
    return _Pairs(
        group=group, zone=zone, radius_m=radius_m[zone], margin_m=margin_m[zone], approach=approach
    ), edge


def _stretches(
    batch: Batch, edge: Side, pairs: _Pairs, limit_m: FloatArray, which: npt.NDArray[np.bool_]
) -> dict[int, Intervals]:
    """Return the places within a limit of the boundary, for the pairs asked for; empty for the others."""
    asked = np.flatnonzero(which)
    found = reaches(batch.side, pairs.group[asked], edge, pairs.zone[asked], limit_m[asked])
    first = batch.places(found.path_piece, found.first)
    last = batch.places(found.path_piece, found.last)
    cuts = np.searchsorted(found.pair, np.arange(len(asked) + 1))
    nothing = Intervals(np.empty(0), np.empty(0))
    stretches = dict.fromkeys(range(len(pairs.zone)), nothing)
    for row, number in enumerate(asked.tolist()):
        some = slice(cuts[row], cuts[row + 1])
        stretches[number] = merged(first[some], last[some])
    return stretches


def _stays_inside(
    batch: Batch,
    boundaries: Boundaries,
    group: int,
    zone: int,
    starts_inside: dict[tuple[int, int], npt.NDArray[np.bool_]],
    contacts: Intervals,
) -> Intervals:
    """Return the stays inside the area itself, from the middle of one contact with the line to the next."""
    covered = batch.groups[group].covered
    if not len(contacts):
        begins = starts_inside.get((group, zone))
        return Intervals(covered.first[:0], covered.last[:0]) if begins is None else _pick(covered, begins)
    open_ = between(covered, contacts)
    lon, lat = batch.path.positions((open_.first + open_.last) / 2.0)
    within = _pick(open_, boundaries.regions[zone].contains(lon, lat))
    return merged(_to_middle(within.first, contacts), _to_middle(within.last, contacts))


def _pick(some: Intervals, which: npt.NDArray[np.bool_]) -> Intervals:
    return Intervals(some.first[which], some.last[which])


def _to_middle(place: FloatArray, contacts: Intervals) -> FloatArray:
    """Move places that end or begin a contact to its middle, where the line itself is met."""
    moved = np.array(place)
    for ends in (contacts.first, contacts.last):
        at = np.clip(np.searchsorted(ends, place), 0, len(ends) - 1)
        hit = ends[at] == place
        moved[hit] = (contacts.first[at[hit]] + contacts.last[at[hit]]) / 2.0
    return moved


def _passage(
    batch: Batch,
    edge: Side,
    pairs: _Pairs,
    number: int,
    within: Intervals,
    rounded: Intervals,
    near: Intervals,
) -> Passage | None:
    """Put together what was measured of one pair; ``None`` when it turned out beyond reach."""
    radius_m, margin_m = float(pairs.radius_m[number]), float(pairs.margin_m[number])
    if len(within):
        clearance_m, place, vessel, nearest = deepest_place(
            batch, int(pairs.group[number]), edge, int(pairs.zone[number]), within
        )
    elif np.isfinite(pairs.approach.distance_m[number]):
        clearance_m, place, vessel, nearest = closest_place(batch, pairs.approach, number)
    else:
        return None
    inside = merged(*joined(within, rounded)) if radius_m > 0.0 else within
    close = merged(*joined(inside, near)) if clearance_m - radius_m < max(margin_m, 1e-9) else inside
    return Passage(
        group=int(pairs.group[number]),
        zone=int(pairs.zone[number]),
        clearance_m=clearance_m - radius_m,
        closest=describe_closest(batch, place, vessel, nearest, radius_m),
        inside=inside,
        close=close,
    )


def joined(one: Intervals, two: Intervals) -> tuple[FloatArray, FloatArray]:
    """Return the beginnings and ends of two sets of intervals together."""
    return np.concatenate([one.first, two.first]), np.concatenate([one.last, two.last])


Place = tuple[float, float, tuple[float, float], tuple[float, float]]
"""Signed distance, place on the path, position there, nearest position on the boundary."""


def closest_place(batch: Batch, found: Approaches, number: int) -> Place:
    """Return where a group came nearest to a boundary, from one closest approach."""
    place = batch.places(found.path_piece[number : number + 1], found.path_part[number : number + 1])
    vessel = float(found.path_lon_deg[number]), float(found.path_lat_deg[number])
    nearest = float(found.edge_lon_deg[number]), float(found.edge_lat_deg[number])
    return float(found.distance_m[number]), float(place[0]), vessel, nearest


def deepest_place(batch: Batch, group: int, edge: Side, zone: int, within: Intervals) -> Place:
    """Return where a group is farthest from a boundary, on stretches that lie on one side of it."""
    piece, first, last = _pieces_of(batch, group, within)
    found = deepest(batch.side.pieces, piece, first, last, edge, zone)
    place = batch.places(np.array([found.piece]), np.array([found.part]))
    vessel, nearest = (found.lon_deg, found.lat_deg), (found.edge_lon_deg, found.edge_lat_deg)
    return -found.depth_m, float(place[0]), vessel, nearest


def _pieces_of(batch: Batch, group: int, stays: Intervals) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return the pieces of a group that lie in some stretches, with the fractions that do."""
    low, high = np.searchsorted(batch.side.pieces.owner, [group, group + 1])
    begin, end = batch.piece_begin[low:high], batch.piece_end[low:high]
    columns = []
    for first, last in zip(stays.first.tolist(), stays.last.tolist(), strict=True):
        some = slice(np.searchsorted(end, first, side="left"), np.searchsorted(begin, last, side="right"))
        span = np.where(end[some] > begin[some], end[some] - begin[some], 1.0)
        low_part = np.clip((first - begin[some]) / span, 0.0, 1.0)
        high_part = np.clip((last - begin[some]) / span, 0.0, 1.0)
        columns.append((np.arange(low + some.start, low + some.stop), low_part, high_part))
    piece, first_part, last_part = (np.concatenate(c) for c in zip(*columns, strict=True))
    return piece, first_part, last_part


def describe_closest(
    batch: Batch, place: float, vessel: tuple[float, float], nearest: tuple[float, float], radius_m: float
) -> Closest:
    """Return where and when, with the boundary point moved out from the shape by the radius."""
    if radius_m > 0.0:
        # At the very centre every way out is as short; WGS84.inv then names one of them.
        outward, _, _ = WGS84.inv(*nearest, *vessel)
        lon, lat, _ = WGS84.fwd(*nearest, outward, radius_m)
        nearest = lon, lat
    bearing, _, apart_m = WGS84.inv(*vessel, *nearest)
    return Closest(
        utc=batch.path.time_at(place),
        lon_deg=vessel[0],
        lat_deg=vessel[1],
        zone_lon_deg=nearest[0],
        zone_lat_deg=nearest[1],
        bearing_deg=float(bearing) % 360.0 if apart_m >= 0.001 else None,
    )


def together(passages: Sequence[Passage | None]) -> Passage | None:
    """Return the passages of several shares by one zone as one: the worst place, all stays and stretches."""
    known = [passage for passage in passages if passage is not None]
    if len(known) < 2:
        return known[0] if known else None
    worst = min(known, key=lambda p: np.inf if p.clearance_m is None else p.clearance_m)
    return replace(
        worst,
        inside=_all_of([p.inside for p in known]),
        close=_all_of([p.close for p in known]),
        rim=_all_of([p.rim for p in known]),
        gear=_gear_of(worst, [p.gear for p in known if p.gear is not None]),
    )


def _gear_of(worst: Passage, some: Sequence[GearMeasure]) -> GearMeasure | None:
    """Return what is known of the gear in several shares: the nearest part, the least of every clearance."""
    if worst.gear is None:
        return None
    likely = [(one.likely_m, one.likely_at) for one in some if one.likely_m is not None]
    nearest = min(likely, key=lambda pair: pair[0], default=(None, None))
    rope = [one.rope_m for one in some if one.rope_m is not None]
    return replace(
        worst.gear,
        likely_m=nearest[0],
        likely_at=nearest[1],
        rope_m=min(rope, default=None) if len(rope) == len(some) else None,
        unseen_m=min(one.unseen_m for one in some),
        why_not=next((one.why_not for one in some if one.why_not), ""),
    )


def _all_of(some: Sequence[Intervals]) -> Intervals:
    return merged(np.concatenate([s.first for s in some]), np.concatenate([s.last for s in some]))
