"""The rows of the vessel on one track: every tow, and what was not towing, against every zone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from towzone.checks.force import Standings
from towzone.checks.open_gaps import OpenGaps
from towzone.checks.pair_rows import Draft, Measured, Pair, drafts_of_pair, gap_row, rows_of
from towzone.checks.passages import CONTACT_M
from towzone.checks.path_passages import PathScene, Share
from towzone.checks.settings import CheckSettings
from towzone.checks.shares import Group
from towzone.model.result import Activity, Row

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
    drafts: list[Draft] = []
    near: set[tuple[int, int]] = set()
    known = Standings(zones, scene.boundaries.rule, settings)
    open_in = gaps.zones_by_unit()
    for number, unit in shares.items():
        tow, activity = unit[0].group.tow, _main_activity(unit[0].group)
        # All other zones are proved beyond reach, and no gap leaves them open: they are only counted.
        some = {z for share in unit for z in share.passages}
        for z in sorted(some | open_in.get(number, set())):
            pair = Pair(
                path=path,
                tow=tow,
                activity=activity,
                zone=zones[z],
                demand=scene.demands[z],
                gaps=gaps.by_unit.get((number, z), ()),
            )
            made = drafts_of_pair(pair, _measured(pair, z, unit, known, settings))
            if made:
                drafts += made
                near.add((number, z))
    rows = rows_of(path, drafts)
    # A gap outside all units, or in a unit without a single position of its own, has a row by itself.
    rows += [
        gap_row(path, number, zones[z], scene.demands[z], some)
        for (number, z), some in gaps.by_unit.items()
        if number not in shares
    ]
    beyond = len(shares) * len(zones) - len(near)
    return TrackRows(rows=tuple(rows), beyond_reach=beyond, near=frozenset(near))


def _measured(
    pair: Pair, z: int, unit: Sequence[Share], known: Standings, settings: CheckSettings
) -> list[Measured]:
    """Return how the shares of a unit passed a zone, leaving out what is farther off than rows are asked for.

    Such a passage is only known because the gear reaches farther.
    """
    demand = pair.demand
    within_m = max(settings.reach_m, demand.margin_m + demand.uncertainty_m) + CONTACT_M
    turned = pair.zone.rules.allowed_only_inside
    measured = []
    for group, passages in unit:
        passage = passages.get(z)
        far = passage is not None and passage.clearance_m is not None and passage.clearance_m > within_m
        kept = passage if turned or not far else None
        measured.append(Measured(kept, known.of(z, group), group.activity))
    return measured


def _main_activity(group: Group) -> Activity:
    return Activity.TOWING if group.tow is not None else group.activity
