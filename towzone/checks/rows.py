"""The rows of the vessel on one track: every tow, and what was not towing, against every zone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from towzone.checks.force import Standings
from towzone.checks.open_gaps import OpenGaps
from towzone.checks.pair_rows import Measured, Pair, gap_row, rows_of_pair
from towzone.checks.passages import CONTACT_M, Demand, Passage
from towzone.checks.path_passages import PathScene, Share
from towzone.checks.places import KnownPlaces
from towzone.checks.settings import CheckSettings
from towzone.checks.shares import Group
from towzone.model.result import Activity, Row
from towzone.model.zone import Zone

__all__ = ["TrackRows", "track_rows"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackRows:
    """The rows of a track, the pairs proved clear beyond reach, and the (unit, zone) pairs within it."""

    rows: tuple[Row, ...]
    beyond_reach: int
    near: frozenset[tuple[int, int]]


def track_rows(scene: PathScene, shares: Mapping[int, Sequence[Share]], gaps: OpenGaps) -> TrackRows:
    """Return the rows of the vessel on one path against all zones.

    Parameters
    ----------
    shares : mapping of int to sequence of Share
        By unit; passages beyond the reach are counted, not listed.
    gaps : OpenGaps
    """
    path, zones, settings = scene.path, scene.zones, scene.settings
    rows: list[Row] = []
    near: set[tuple[int, int]] = set()
    known = Standings(zones, scene.boundaries.rule, settings)
    open_in = gaps.zones_by_unit()
    stays = [
        passage.inside for unit in shares.values() for share in unit for passage in share.passages.values()
    ]
    ends = [end for some in stays for end in some]
    places = KnownPlaces(path.track, path.kind, np.concatenate(ends) if ends else np.empty(0))
    for number, unit in shares.items():
        # All other zones are proved beyond reach, and no gap leaves them open: they are only counted.
        some = {z for share in unit for z in share.passages}
        for z in sorted(some | open_in.get(number, set())):
            zone = zones[z]
            pair = Pair(
                path=path,
                tow=unit[0].group.tow,
                activity=_main_activity(unit[0].group),
                zone=zone,
                demand=scene.demands[z],
                gaps=gaps.by_unit.get((number, z), ()),
                places=places,
            )
            measured = [
                Measured(
                    _within_reach(share.passages.get(z), scene.demands[z], zone, settings),
                    known.of(z, share.group),
                    share.group.activity,
                )
                for share in unit
            ]
            made = rows_of_pair(pair, measured)
            if made:
                rows.extend(made)
                near.add((number, z))
    pairs = len(shares) * len(zones) - len(near)
    # A gap outside all units, or in a unit without a single position of its own, has a row by itself.
    rows += [
        gap_row(path, number, zones[z], scene.demands[z], some)
        for (number, z), some in gaps.by_unit.items()
        if number not in shares
    ]
    return TrackRows(rows=tuple(rows), beyond_reach=pairs, near=frozenset(near))


def _within_reach(
    passage: Passage | None, demand: Demand, zone: Zone, settings: CheckSettings
) -> Passage | None:
    """Leave out a passage that is only known because the gear reaches farther than the rows are asked to."""
    if passage is None or zone.rules.allowed_only_inside or passage.clearance_m is None:
        return passage
    reach_m = max(settings.reach_m, demand.margin_m + demand.uncertainty_m) + CONTACT_M
    return passage if passage.clearance_m <= reach_m else None


def _main_activity(group: Group) -> Activity:
    return Activity.TOWING if group.tow is not None else group.activity
