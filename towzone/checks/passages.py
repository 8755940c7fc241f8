"""How each part of a path passed each zone: least clearance, stays inside, stretches under the margin."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from towzone.checks.batches import Batch, Carrier
from towzone.checks.boundaries import Boundaries
from towzone.checks.intervals import Intervals, between, merged, to_middles
from towzone.checks.leg_loops import stays_on_pieces
from towzone.checks.legs import BoolArray
from towzone.geodesy.approach import Approaches, Side, closest, reaches
from towzone.geodesy.compiling import solid
from towzone.geodesy.depth import Stays, deepest_of_each
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
    """Pairs under measurement, as columns, with their closest approaches.

    Under ``limit_m`` from the shape stretches are told.
    """

    group: IntArray
    zone: IntArray
    radius_m: FloatArray
    margin_m: FloatArray
    limit_m: FloatArray
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
    starts_inside = _run_starts_inside(batch, boundaries)
    pairs, edge = _pairs(batch, zones, boundaries, demands, reach_m, starts_inside)
    crossing = np.array([zones[z].shape.is_area for z in pairs.zone.tolist()], dtype=bool)
    limit_m = pairs.limit_m
    crossing &= pairs.approach.distance_m <= CONTACT_M
    contacts = _stretches(batch, edge, pairs, np.full(len(pairs.zone), CONTACT_M), crossing)
    rounded = _stretches(
        batch,
        edge,
        pairs,
        pairs.radius_m,
        (pairs.radius_m > 0.0) & (pairs.approach.distance_m < pairs.radius_m),
    )
    near = _stretches(batch, edge, pairs, limit_m, (limit_m > 0.0) & (pairs.approach.distance_m < limit_m))
    within = _stays_inside(batch, boundaries, pairs, starts_inside, contacts)
    found = _least(batch, edge, pairs, within)
    numbers = np.array(list(found), dtype=np.int64)
    described = _described(batch, list(found.values()), pairs.radius_m[numbers])
    return [
        _passage(pairs, number, found[number][0], closest_to, within[number], rounded, near)
        for number, closest_to in zip(found, described, strict=True)
    ]


def _run_starts_inside(batch: Batch, boundaries: Boundaries) -> dict[tuple[int, int], BoolArray]:
    """Return, for (group, zone) with any, which covered stretches of the group begin inside the area."""
    if not batch.groups:
        return {}
    counts = np.array([len(group.covered) for group in batch.groups])
    first = np.cumsum(counts) - counts
    lon, lat = batch.path.positions(np.concatenate([group.covered.first for group in batch.groups]))
    zone, stretch = boundaries.regions.holding(lon, lat)
    group = np.searchsorted(first, stretch, side="right") - 1
    # Groups without a stretch begin where the next one does; the last of them is the one that has it.
    begins = np.flatnonzero(np.append(True, (np.diff(zone) != 0) | (np.diff(group) != 0)))
    inside: dict[tuple[int, int], BoolArray] = {}
    if not len(zone):
        return inside
    for low, high in zip(begins.tolist(), [*begins[1:].tolist(), len(zone)], strict=True):
        held = np.zeros(counts[group[low]], dtype=bool)
        held[stretch[low:high] - first[group[low]]] = True
        inside[int(group[low]), int(zone[low])] = held
    return inside


def _pairs(
    batch: Batch,
    zones: Sequence[Zone],
    boundaries: Boundaries,
    demands: Sequence[Demand],
    reach_m: float,
    starts_inside: dict[tuple[int, int], BoolArray],
) -> tuple[_Pairs, Side]:
    margin_m = np.array([demand.margin_m for demand in demands], dtype=np.float64)
    wanted_m = margin_m + np.array([demand.uncertainty_m for demand in demands], dtype=np.float64)
    radius_m = boundaries.radius_m
    # A line without a margin is met in places, not on stretches; each is told.
    least_m = np.array([0.0 if zone.shape.is_area else CONTACT_M for zone in zones], dtype=np.float64)
    limit_m = np.maximum(radius_m + margin_m, least_m)
    cutoff_m = np.maximum(reach_m, wanted_m) + radius_m + CONTACT_M
    near_group, near_zone = boundaries.near(batch.side, cutoff_m)
    held = np.array(list(starts_inside), dtype=np.int64).reshape(-1, 2)
    # One number for each pair, in the order of groups and then of zones.
    key = np.union1d(near_group * len(zones) + near_zone, held[:, 0] * len(zones) + held[:, 1])
    group, zone = np.divmod(key, max(len(zones), 1))
    edge = boundaries.measured(np.unique(zone))
    # What begins inside is told by how deep it was; its boundary matters only up to the margin.
    begins_inside = np.isin(key, held[:, 0] * len(zones) + held[:, 1])
    cutoff = np.where(begins_inside, limit_m[zone] + CONTACT_M, cutoff_m[zone])
    pairs = _Pairs(
        group=group,
        zone=zone,
        radius_m=radius_m[zone],
        margin_m=margin_m[zone],
        limit_m=limit_m[zone],
        approach=closest(batch.side, group, edge, zone, cutoff),
    )
    return pairs, edge


def _stretches(
    batch: Batch, edge: Side, pairs: _Pairs, limit_m: FloatArray, which: BoolArray
) -> dict[int, Intervals]:
    """Return the places within a limit of the boundary, for the pairs asked for that have any."""
    asked = np.flatnonzero(which)
    if not len(asked):
        return {}
    found = reaches(batch.side, pairs.group[asked], edge, pairs.zone[asked], limit_m[asked])
    first = batch.places(found.path_piece, found.first)
    last = batch.places(found.path_piece, found.last)
    cuts = np.searchsorted(found.pair, np.arange(len(asked) + 1))
    stretches = {}
    for row, number in enumerate(asked.tolist()):
        some = slice(cuts[row], cuts[row + 1])
        if some.start < some.stop:
            stretches[number] = merged(first[some], last[some])
    return stretches


def _stays_inside(
    batch: Batch,
    boundaries: Boundaries,
    pairs: _Pairs,
    starts_inside: dict[tuple[int, int], BoolArray],
    contacts: Mapping[int, Intervals],
) -> list[Intervals]:
    """Return the stays inside each area itself, from the middle of one contact with the line to the next."""
    open_ = {
        number: between(batch.groups[pairs.group[number]].covered, some) for number, some in contacts.items()
    }
    held = _middles_inside(batch, boundaries, pairs, open_)
    stays = []
    for number, pair in enumerate(zip(pairs.group.tolist(), pairs.zone.tolist(), strict=True)):
        if number in open_:
            within, some = _pick(open_[number], held[number]), contacts[number]
            stays.append(merged(to_middles(within.first, some), to_middles(within.last, some)))
        elif pair in starts_inside:
            stays.append(_pick(batch.groups[pair[0]].covered, starts_inside[pair]))
        else:
            stays.append(NOWHERE)
    return stays


def _middles_inside(
    batch: Batch, boundaries: Boundaries, pairs: _Pairs, some: Mapping[int, Intervals]
) -> dict[int, BoolArray]:
    """Return which of some stretches of each pair have their middle inside the area."""
    if not some:
        return {}
    sizes = [len(stretches) for stretches in some.values()]
    lon, lat = batch.path.positions(
        np.concatenate([(stretches.first + stretches.last) / 2.0 for stretches in some.values()])
    )
    zone = np.repeat(pairs.zone[list(some)], sizes)
    held = boundaries.regions.contain(zone, lon, lat)
    return dict(zip(some, np.split(held, np.cumsum(sizes)[:-1]), strict=True))


def _pick(some: Intervals, which: BoolArray) -> Intervals:
    return Intervals(some.first[which], some.last[which])


def _least(batch: Batch, edge: Side, pairs: _Pairs, within: Sequence[Intervals]) -> dict[int, Place]:
    """Return where each pair was deepest, or nearest, by its number; those beyond reach are left out."""
    near = np.isfinite(pairs.approach.distance_m).tolist()
    deep = [number for number, stays in enumerate(within) if len(stays)]
    found = {
        number: closest_place(batch, pairs.approach, number)
        for number, stays in enumerate(within)
        if near[number] and not len(stays)
    }
    cases = [(int(pairs.group[number]), int(pairs.zone[number]), within[number]) for number in deep]
    found |= zip(deep, _deepest_places(batch, edge, cases), strict=True)
    return dict(sorted(found.items()))


def _passage(
    pairs: _Pairs,
    number: int,
    signed_m: float,
    nearest: Closest,
    within: Intervals,
    rounded: Mapping[int, Intervals],
    near: Mapping[int, Intervals],
) -> Passage:
    """Put together what was measured of one pair."""
    radius_m, margin_m = float(pairs.radius_m[number]), float(pairs.margin_m[number])
    inside = _with(within, rounded.get(number)) if radius_m > 0.0 else within
    close = _with(inside, near.get(number)) if signed_m - radius_m < max(margin_m, 1e-9) else inside
    return Passage(
        group=int(pairs.group[number]),
        zone=int(pairs.zone[number]),
        clearance_m=signed_m - radius_m,
        closest=nearest,
        inside=inside,
        close=close,
    )


def _with(one: Intervals, more: Intervals | None) -> Intervals:
    return one if more is None else merged(*joined(one, more))


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
    return next(_deepest_places(batch, edge, [(group, zone, within)]))


def _deepest_places(batch: Batch, edge: Side, cases: Sequence[tuple[int, int, Intervals]]) -> Iterator[Place]:
    """Yield where groups are farthest from the boundaries of zones, on stretches on one side of each."""
    if not cases:
        return
    groups, zones = np.array([case[:2] for case in cases]).T
    first, last = (np.concatenate(ends) for ends in zip(*(case[2] for case in cases), strict=True))
    asked = np.array([len(within) for _, _, within in cases])
    cuts = np.searchsorted(batch.side.pieces.owner, [groups, groups + 1])
    begin, end, cuts = solid(batch.piece_begin), solid(batch.piece_end), solid(cuts, np.int64)
    low, high, low_part, high_part, counts = stays_on_pieces(begin, end, cuts, asked, first, last)
    stays = Stays(first_piece=low, last_piece=high, first=low_part, last=high_part)
    for one in deepest_of_each(batch.side, groups, stays, counts, edge, zones):
        place = batch.places(np.array([one.piece]), np.array([one.part]))
        vessel, nearest = (one.lon_deg, one.lat_deg), (one.edge_lon_deg, one.edge_lat_deg)
        yield -one.depth_m, float(place[0]), vessel, nearest


def describe_closest(
    batch: Batch, place: float, vessel: tuple[float, float], nearest: tuple[float, float], radius_m: float
) -> Closest:
    """Return where and when, with the boundary point moved out from the shape by the radius."""
    return _described(batch, [(0.0, place, vessel, nearest)], np.array([radius_m]))[0]


def _described(batch: Batch, places: Sequence[Place], radius_m: FloatArray) -> list[Closest]:
    """Return where and when each place is, with boundary points moved out from the shapes by the radii."""
    if not places:
        return []
    vessel = np.array([place[2] for place in places])
    nearest = np.array([place[3] for place in places])
    out = np.flatnonzero(radius_m > 0.0)
    if len(out):
        # At the very centre every way out is as short; WGS84.inv then names one of them.
        outward, _, _ = WGS84.inv(*nearest[out].T, *vessel[out].T)
        lon, lat, _ = WGS84.fwd(nearest[out, 0], nearest[out, 1], outward, radius_m[out])
        nearest[out] = np.stack([lon, lat], axis=1)
    bearing, _, apart_m = WGS84.inv(*vessel.T, *nearest.T)
    return [
        Closest(
            utc=batch.path.time_at(place[1]),
            lon_deg=lon,
            lat_deg=lat,
            zone_lon_deg=zone_lon,
            zone_lat_deg=zone_lat,
            bearing_deg=course % 360.0 if away_m >= 0.001 else None,
        )
        for place, (lon, lat), (zone_lon, zone_lat), course, away_m in zip(
            places, vessel.tolist(), nearest.tolist(), bearing.tolist(), apart_m.tolist(), strict=True
        )
    ]


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
    some = [one for one in some if len(one)]
    if len(some) < 2:
        return some[0] if some else NOWHERE
    return merged(np.concatenate([one.first for one in some]), np.concatenate([one.last for one in some]))
