"""How each part of a path passed each zone: least clearance, stays inside, stretches under the margin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from towzone.checks.batches import Batch, Carrier
from towzone.checks.boundaries import Boundaries
from towzone.checks.interval_sets import IntervalSets
from towzone.checks.intervals import Intervals, union
from towzone.checks.legs import BoolArray
from towzone.checks.worst_places import WorstPlaces, deepest_places, described, nearest_places
from towzone.geodesy.approach import Approaches, Side, closest, reaches
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.result import Closest

__all__ = [
    "CONTACT_M",
    "NOWHERE",
    "Demand",
    "GearMeasure",
    "Passage",
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Held:
    """Covered stretches that begin inside an area, as columns; sorted by group, zone and stretch.

    ``stretch`` numbers those of all groups of a batch.
    """

    group: IntArray
    zone: IntArray
    stretch: IntArray


def measure(
    batch: Batch,
    boundaries: Boundaries,
    demands: Sequence[Demand],
    reach_m: float,
) -> list[Passage]:
    """Return the passages of a path by all zones that are within reach or hold any of it.

    Pairs that are missing from the answer are proved farther than ``reach_m`` and than their margin
    and uncertainty together.

    Parameters
    ----------
    demands : sequence of Demand
        What is asked of passages by each zone.
    """
    held = _stretches_held(batch, boundaries)
    pairs, edge = _pairs(batch, boundaries, demands, reach_m, held)
    distance_m, limit_m = pairs.approach.distance_m, pairs.limit_m
    crossing = boundaries.is_area[pairs.zone] & (distance_m <= CONTACT_M)
    contacts = _stretches(batch, edge, pairs, np.full(len(pairs.zone), CONTACT_M), crossing)
    within = _stays_inside(batch, boundaries, pairs, held, contacts)
    rounded = _stretches(
        batch, edge, pairs, pairs.radius_m, (pairs.radius_m > 0.0) & (distance_m < pairs.radius_m)
    )
    near = _stretches(batch, edge, pairs, limit_m, (limit_m > 0.0) & (distance_m < limit_m))
    places = _worst(batch, edge, pairs, within)
    return _passages(batch, pairs, places, within, within.together(rounded), near)


def _stretches_held(batch: Batch, boundaries: Boundaries) -> _Held:
    """Return which covered stretches of the groups begin inside which areas."""
    lon, lat = batch.path.positions(batch.covered.first)
    zone, stretch = boundaries.regions.holding(lon, lat)
    group = batch.covered.number[stretch]
    order = np.lexsort((stretch, zone, group))
    return _Held(group=group[order], zone=zone[order], stretch=stretch[order])


def _pairs(
    batch: Batch, boundaries: Boundaries, demands: Sequence[Demand], reach_m: float, held: _Held
) -> tuple[_Pairs, Side]:
    margin_m = np.array([demand.margin_m for demand in demands], dtype=np.float64)
    wanted_m = margin_m + np.array([demand.uncertainty_m for demand in demands], dtype=np.float64)
    radius_m, count = boundaries.radius_m, len(demands)
    # A line without a margin is met in places, not on stretches; each is told.
    limit_m = np.maximum(radius_m + margin_m, np.where(boundaries.is_area, 0.0, CONTACT_M))
    cutoff_m = np.maximum(reach_m, wanted_m) + radius_m + CONTACT_M
    near_group, near_zone = boundaries.near(batch.side, cutoff_m)
    # One number for each pair, in the order of groups and then of zones.
    begins_inside = held.group * count + held.zone
    key = np.union1d(near_group * count + near_zone, begins_inside)
    group, zone = np.divmod(key, max(count, 1))
    edge = boundaries.measured(np.unique(zone))
    # What begins inside is told by how deep it was; its boundary matters only up to the margin.
    cutoff = np.where(np.isin(key, begins_inside), limit_m[zone] + CONTACT_M, cutoff_m[zone])
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
) -> IntervalSets:
    """Return the places within a limit of the boundary, a set for each pair; none for those not asked for."""
    asked = np.flatnonzero(which)
    if not len(asked):
        return IntervalSets.none(len(which))
    found = reaches(batch.side, pairs.group[asked], edge, pairs.zone[asked], limit_m[asked])
    number, first, last = batch.stretches(found)
    return IntervalSets.merged(len(which), asked[number], first, last)


def _stays_inside(
    batch: Batch, boundaries: Boundaries, pairs: _Pairs, held: _Held, contacts: IntervalSets
) -> IntervalSets:
    """Return the stays inside each area itself, from the middle of one contact with the line to the next."""
    met = contacts.counts > 0
    touched = np.flatnonzero(met)
    contacts = contacts.take(touched)
    open_ = batch.covered.take(pairs.group[touched]).between(contacts)
    lon, lat = batch.path.positions((open_.first + open_.last) / 2.0)
    inside = boundaries.regions.contain(pairs.zone[touched][open_.number], lon, lat)
    stays = open_.where(inside).to_middles(contacts)
    # What never meets the line is inside as a whole, or not at all.
    count = len(boundaries.radius_m)
    number = np.searchsorted(pairs.group * count + pairs.zone, held.group * count + held.zone)
    whole = ~met[number]
    stretch = held.stretch[whole]
    return IntervalSets.numbered(
        len(met),
        np.concatenate([touched[stays.number], number[whole]]),
        np.concatenate([stays.first, batch.covered.first[stretch]]),
        np.concatenate([stays.last, batch.covered.last[stretch]]),
    )


def _worst(batch: Batch, edge: Side, pairs: _Pairs, within: IntervalSets) -> WorstPlaces:
    """Return where each pair was deepest, or nearest; infinitely far what is beyond reach."""
    places, deep = nearest_places(batch, pairs.approach), np.flatnonzero(within.counts)
    if not len(deep):
        return places
    found = deepest_places(batch, pairs.group[deep], edge, pairs.zone[deep], within.take(deep))
    return places.replaced(deep, found)


def _passages(
    batch: Batch,
    pairs: _Pairs,
    places: WorstPlaces,
    within: IntervalSets,
    rounded: IntervalSets,
    near: IntervalSets,
) -> list[Passage]:
    """Put together what was measured of each pair that is within reach.

    Parameters
    ----------
    within, rounded : IntervalSets
        Stays inside the shapes, and with what is within their radii.
    near : IntervalSets
        Stretches under the limits.
    """
    clearance_m = places.signed_m - pairs.radius_m
    inside = within.together(rounded)
    under = clearance_m < np.maximum(pairs.margin_m, 1e-9)
    close = inside.together(near.where(under[near.number]))
    known = np.flatnonzero(np.isfinite(places.signed_m))
    columns = zip(
        pairs.group[known].tolist(),
        pairs.zone[known].tolist(),
        clearance_m[known].tolist(),
        described(batch, places.take(known), pairs.radius_m[known]),
        inside.take(known).each(),
        close.take(known).each(),
        strict=True,
    )
    return [
        Passage(group=group, zone=zone, clearance_m=away_m, closest=where, inside=stays, close=stretches)
        for group, zone, away_m, where, stays, stretches in columns
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
    return union(*some)
