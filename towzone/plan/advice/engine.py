"""What the check itself says of parts of a line: the confirmation of advice for one leg among several."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from towzone.checks.batches import Batch
from towzone.checks.force import ACTIVITY_UNKNOWN, Force, Standing, change_instants, standing
from towzone.checks.gear_leads import TowGear
from towzone.checks.gear_rows import GearKnown, gear_known
from towzone.checks.gear_shares import gear_passages, passages_without_path
from towzone.checks.intervals import Intervals
from towzone.checks.pair_rows import Draft, Measured, Pair, drafts_of_pair, rows_of
from towzone.checks.passages import Demand
from towzone.checks.path_passages import PathScene, Share, batch_shares
from towzone.checks.paths import build_path
from towzone.checks.settings import CheckSettings
from towzone.checks.shares import Unit, shares_of
from towzone.model.plan import PlannedLine
from towzone.model.result import Activity, Part, Row
from towzone.model.zone import Zone
from towzone.plan.judging import OPEN, Judge

__all__ = ["PartJudge", "open_rows_between"]

_LEAD_IN = 10.0
"""So many lengths of its rope before the part that is asked about the gear is followed, dead astern at first:
what is wrong about that is forgotten by then (`exp(-10)`). Own choice."""


class PartJudge(Judge):
    """A judge of some of the zones of another.

    Parameters
    ----------
    judge : Judge
    zone_ids : frozenset of str, or None
        Those that count; ``None``: all of them.
    """

    def __init__(self, judge: Judge, zone_ids: frozenset[str] | None = None) -> None:
        super().__init__(judge.zones, judge.settings, judge)
        self._zone_ids = zone_ids

    def _counts(self, zone: int) -> bool:
        return self._zone_ids is None or self.zones[zone].zone_id in self._zone_ids


def open_rows_between(
    judge: Judge, line: PlannedLine, spans: Sequence[tuple[float, float]]
) -> list[tuple[Row, ...]]:
    """Return the open rows of vessel and gear for each of some parts of a line by itself.

    Parameters
    ----------
    spans : sequence of (first, last)
        Corners of the line, from 0, with a part of the next leg; below 0 gear is shot, beyond the last corner
        it is hauled.

    Raises
    ------
    GeometryError
        A leg is too long or ambiguous.
    """
    track, settings = judge.track(line), judge.settings.check
    zones, boundaries = judge.near(track)
    if not zones:
        return [() for _ in spans]
    changes_s = change_instants(track, zones)
    path = build_path(track, settings, changes_s)
    scene = PathScene(path, zones, boundaries, [_demand(zone, settings) for zone in zones], settings)
    units = [Unit(path.tows[0], _parts(first + 1.0, last + 1.0, len(line))) for first, last in spans]
    groups = shares_of(units, path.time_s, changes_s)
    known = gear_known(path, settings)
    out_to_m = scene.out_to_m(known.reach_m if known is not None else 0.0)
    vessel = batch_shares(scene, Batch.of(path, groups), out_to_m)
    gear = _of_gear(scene, vessel, known) if known is not None else []
    found = []
    for number in range(len(units)):
        rows = _rows(scene, [share for share in vessel if share.group.unit == number], Part.VESSEL)
        rows += _rows(scene, [share for share in gear if share.group.unit == number], Part.GEAR)
        found.append(tuple(row for row in rows if row.status in OPEN))
    return found


def _parts(first: float, last: float, corners: int) -> tuple[tuple[Activity, Intervals], ...]:
    """Return what is done between two places of a track: shooting, towing, hauling."""
    bounds = (
        (Activity.UNKNOWN, 0.0, 1.0),
        (Activity.TOWING, 1.0, float(corners)),
        (Activity.UNKNOWN, float(corners), corners + 1.0),
    )
    cut = [(activity, max(first, low), min(last, high)) for activity, low, high in bounds]
    return tuple(
        (activity, Intervals(np.array([low]), np.array([high]))) for activity, low, high in cut if low < high
    )


def _of_gear(scene: PathScene, vessel: Sequence[Share], known: GearKnown) -> Sequence[Share]:
    gear = known.tows[0]
    if not isinstance(gear, TowGear):
        return passages_without_path(scene, vessel, gear)
    way_m = scene.path.travelled_m
    places = np.arange(len(way_m), dtype=np.float64)
    begin = min(float(share.group.covered.first.min()) for share in vessel)
    since_m = float(np.interp(begin, places, way_m)) - _LEAD_IN * known.reach_m
    first = max(gear.span[0], float(np.interp(since_m, way_m, places)))
    last = max(float(share.group.covered.last.max()) for share in vessel)
    return gear_passages(scene, vessel, replace(gear, span=(first, last))).shares


def _rows(scene: PathScene, shares: Sequence[Share], part: Part) -> list[Row]:
    drafts: list[Draft] = []
    for z, zone in enumerate(scene.zones):
        pair = Pair(
            path=scene.path,
            tow=scene.path.tows[0],
            activity=Activity.TOWING,
            zone=zone,
            demand=scene.demands[z],
            gaps=(),
            part=part,
            proof=scene.settings.gear_proof,
        )
        measured = [
            Measured(share.passages.get(z), _standing(scene, share, zone, part), share.group.activity)
            for share in shares
        ]
        drafts += drafts_of_pair(pair, measured)
    return rows_of(scene.path, drafts)


def _standing(scene: PathScene, share: Share, zone: Zone, part: Part) -> Standing:
    """Return whether a rule holds; for gear that is shot or hauled it is open whether it does."""
    known = standing(zone, share.group, scene.settings)
    doubt = share.group.activity is Activity.UNKNOWN and part is Part.GEAR
    return Standing(Force.UNKNOWN, ACTIVITY_UNKNOWN) if doubt and known.force is Force.HOLDS else known


def _demand(zone: Zone, settings: CheckSettings) -> Demand:
    stated = (settings.margin_m, zone.margin_m, settings.kind_margins_m.get(zone.kind), 0.0)
    return Demand(
        margin_m=next(margin for margin in stated if margin is not None),
        uncertainty_m=settings.position_error_m + settings.steering_m + zone.datum_accuracy_m,
    )
