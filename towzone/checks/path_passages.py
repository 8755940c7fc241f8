"""How the groups of a path passed all zones, batch by batch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from towzone.checks.allowed import near_boundary, turned_round
from towzone.checks.batches import Batch, batches
from towzone.checks.boundaries import Boundaries
from towzone.checks.intervals import between
from towzone.checks.passages import Demand, Passage, measure
from towzone.checks.paths import Path
from towzone.checks.settings import CheckSettings
from towzone.checks.shares import Group
from towzone.model.result import Activity
from towzone.model.zone import Zone

__all__ = ["PathScene", "Share", "batch_shares", "full_passages"]


class PathScene(NamedTuple):
    """One path and all that it is judged against."""

    path: Path
    zones: Sequence[Zone]
    boundaries: Boundaries
    demands: Sequence[Demand]
    settings: CheckSettings

    def out_to_m(self, farther_m: float) -> float:
        """Return how far from the vessel zones matter, where what matters is up to so much farther off.

        What is listed ends at the reach, what is judged does not: not below any margin.
        """
        judged = (demand.margin_m + demand.uncertainty_m for demand in self.demands)
        return max(self.settings.reach_m, *judged, 0.0) + farther_m

    def off_m(self, z: int) -> float:
        """Return how far gear may be from where it is computed for reasons that are not its own.

        The zone may lie elsewhere, and the whole of vessel and gear may be steered off a planned line.
        """
        return self.zones[z].datum_accuracy_m + self.settings.steering_m


class Share(NamedTuple):
    """A group of a path, or part of one, with its passages by the numbers of the zones."""

    group: Group
    passages: dict[int, Passage]


def full_passages(scene: PathScene, reach_m: float) -> dict[int, list[Share]]:
    """Return what was measured of each unit of a path, up to a distance at the least."""
    shares: dict[int, list[Share]] = {}
    for batch in batches(scene.path):
        for share in batch_shares(scene, batch, reach_m):
            shares.setdefault(share.group.unit, []).append(share)
    return shares


def batch_shares(scene: PathScene, batch: Batch, reach_m: float) -> list[Share]:
    """Return what was measured of each group of a batch."""
    found: list[dict[int, Passage]] = [{} for _ in batch.groups]
    for passage in measure(batch, scene.boundaries, scene.demands, reach_m):
        found[passage.group][passage.zone] = passage
    turned = [z for z, zone in enumerate(scene.zones) if zone.rules.allowed_only_inside]
    shares = []
    for number, (group, some) in enumerate(zip(batch.groups, found, strict=True)):
        # An area that must not be left matters from wherever the vessel is.
        own = {
            z: _full_passage(
                batch, number, z, scene.zones[z], scene.boundaries, some.get(z), scene.demands[z]
            )
            for z in sorted({*some, *turned})
        }
        shares.append(Share(group, own))
    return shares


def _full_passage(
    batch: Batch,
    group: int,
    number: int,
    zone: Zone,
    boundaries: Boundaries,
    passage: Passage | None,
    demand: Demand,
) -> Passage:
    """Return a passage with what only some rules ask for: the other way round, or the rim for transits."""
    if passage is None or zone.rules.allowed_only_inside:
        passage = turned_round(batch, group, number, boundaries, passage, demand)
    may_pass = batch.groups[group].activity is not Activity.TOWING
    if zone.rules.transit_min_speed_kn is None or not may_pass:
        return passage
    edge, within_m = boundaries.measured(np.array([number])), zone.radius_m + demand.uncertainty_m
    rim = near_boundary(batch, group, edge, number, within_m)
    if zone.radius_m > demand.uncertainty_m:
        well_inside = near_boundary(batch, group, edge, number, zone.radius_m - demand.uncertainty_m)
        rim = between(rim, well_inside)
    return replace(passage, rim=rim)
