"""Zones the other way round: what is prohibited is prohibited outside them."""

from __future__ import annotations

import numpy as np

from towzone.checks.batches import Batch
from towzone.checks.boundaries import Boundaries
from towzone.checks.interval_sets import IntervalSets
from towzone.checks.intervals import Intervals, between, merged, union
from towzone.checks.passages import NOWHERE, Demand, Passage
from towzone.checks.worst_places import deepest_places, described, nearest_places
from towzone.geodesy.approach import Side, closest, reaches

__all__ = ["near_boundary", "turned_round"]


def turned_round(
    batch: Batch, group: int, zone: int, boundaries: Boundaries, passage: Passage | None, demand: Demand
) -> Passage:
    """Return the passage of a group by an area it should not have left.

    Parameters
    ----------
    passage : Passage or None
        Its passage by the area itself, ``None`` when it was never near or inside.

    Returns
    -------
    Passage
        ``clearance_m`` is the least distance to the boundary while all of it was inside the area, and
        minus the greatest distance outside otherwise; ``inside`` are the stretches outside the area.
    """
    covered = batch.groups[group].covered
    outside = between(covered, passage.inside if passage is not None else NOWHERE)
    edge, pair = boundaries.measured(np.array([zone])), (np.array([group]), np.array([zone]))
    if len(outside):
        worst = deepest_places(batch, pair[0], edge, pair[1], IntervalSets.of([outside]))
    else:
        worst = nearest_places(batch, closest(batch.side, pair[0], edge, pair[1], np.array([np.inf])))
    near = near_boundary(batch, group, edge, zone, demand.margin_m)
    return Passage(
        group=group,
        zone=zone,
        clearance_m=float(worst.signed_m[0]),
        closest=described(batch, worst, np.zeros(1))[0],
        inside=outside,
        close=union(outside, near),
    )


def near_boundary(batch: Batch, group: int, edge: Side, zone: int, within_m: float) -> Intervals:
    """Return where a group was within a distance of a boundary."""
    if within_m <= 0.0:
        return NOWHERE
    found = reaches(batch.side, np.array([group]), edge, np.array([zone]), np.array([within_m]))
    _, first, last = batch.stretches(found)
    return merged(first, last)
