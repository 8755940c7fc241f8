"""The rows of the gear on one track: every tow, and what may have been one, against every zone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from towzone.checks.batches import Batch
from towzone.checks.force import ACTIVITY_UNKNOWN, Force, Standing, Standings
from towzone.checks.gear_figures import gear_of_tow, gear_outside_tows
from towzone.checks.gear_leads import TowGear
from towzone.checks.gear_shares import TowPassed, gear_passages, passages_without_path
from towzone.checks.gear_tows import tow_told, tow_untold
from towzone.checks.intervals import Intervals, intersect
from towzone.checks.open_gaps import OpenGaps, open_gaps
from towzone.checks.pair_rows import Draft, Measured, Pair, drafts_of_pair, gap_row, rows_of
from towzone.checks.path_passages import PathScene, Share, batch_shares
from towzone.checks.paths import Path
from towzone.checks.settings import CheckSettings, Towing
from towzone.checks.shares import Group, Unit, covered_places, shares_of
from towzone.gear.bounds import FARTHEST_M, rope_reach_m
from towzone.gear.figures import NoRigging, Rigging
from towzone.model.gear import GearTow
from towzone.model.result import Activity, Gap, Part, Row, Tow

__all__ = ["GearKnown", "GearRows", "gear_known", "gear_rows"]


class GearKnown(NamedTuple):
    """What is known of the gear of each tow of a path, and outside tows; and how far away it can be."""

    tows: tuple[TowGear | NoRigging, ...]
    outside: Rigging | NoRigging
    reach_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GearRows:
    """The rows of the gear on a track, the pairs proved clear beyond reach, and the gear of each tow.

    ``passed`` is there for the tows that were computed, by their number; ``units`` counts those that get a
    row, or are counted, for each zone; ``outside`` are the figures that
    hold for stretches in doubt and for gaps outside tows, where there are any.
    """

    rows: tuple[Row, ...] = ()
    beyond_reach: int = 0
    tows: tuple[GearTow, ...] = ()
    passed: Mapping[int, TowPassed]
    units: int = 0
    outside: Rigging | NoRigging | None = None


def gear_known(path: Path, settings: CheckSettings) -> GearKnown | None:
    """Return what is known of the gear on a path; ``None`` where no figures of it are given."""
    outside = gear_outside_tows(path, settings)
    if outside is None:
        return None
    found = [gear_of_tow(path, tow, settings) for tow in path.tows]
    tows = tuple(gear for gear in found if gear is not None)
    rigged = [*(g.farthest if isinstance(g, TowGear) else g for g in tows), outside]
    reach_m = [rope_reach_m(some) if isinstance(some, Rigging) else FARTHEST_M for some in rigged]
    return GearKnown(tows, outside, max(reach_m))


def gear_rows(
    scene: PathScene,
    shares: Mapping[int, Sequence[Share]],
    known: GearKnown,
    vessel_gaps: OpenGaps,
    changes_s: Sequence[float],
) -> GearRows:
    """Return the rows of the gear on one path.

    Parameters
    ----------
    shares : mapping of int to sequence of Share
        Of the vessel, by unit, measured out to the reach and as far beyond it as gear can be.
    vessel_gaps : OpenGaps
        Of the vessel: what its own rows leave open outside tows need not be said twice.
    changes_s : sequence of float
        Instants at which some rule begins or ceases to hold.
    """
    gaps = open_gaps(scene, known.reach_m)
    open_in, standings = gaps.zones_by_unit(), _Standings(scene)
    drafts: list[Draft] = []
    told: list[GearTow] = []
    passed: dict[int, TowPassed] = {}
    beyond = units = 0
    for number, unit in shares.items():
        tow = unit[0].group.tow
        if tow is None and unit[0].group.activity is Activity.NOT_TOWING:
            continue
        units += 1
        some, gear_tow, tow_passed = _unit(scene, number, unit, known, changes_s)
        told += [gear_tow] if gear_tow is not None else []
        if tow is not None and tow_passed is not None:
            passed[tow.number] = tow_passed
        # All other zones are proved clear beyond reach, and no gap leaves them open: they are only counted.
        near = {z for share in some for z in share.passages}
        beyond += len(scene.zones)
        for z in sorted(near | open_in.get(number, set())):
            made = _drafts_of_unit(scene, some, tow, z, standings, gaps.by_unit.get((number, z), ()))
            drafts += made
            beyond -= bool(made)
    return GearRows(
        rows=(*rows_of(scene.path, drafts), *_gap_rows(scene, shares, gaps, vessel_gaps)),
        beyond_reach=beyond,
        tows=tuple(told),
        passed=passed,
        units=units,
        outside=known.outside if _outside_tows(scene, shares) else None,
    )


def _outside_tows(scene: PathScene, shares: Mapping[int, Sequence[Share]]) -> bool:
    """Return whether gear may have been out though there is no tow: in stretches in doubt, or in gaps."""
    if scene.settings.towing is Towing.NONE:
        return False
    tows = len(scene.path.tows)  # which are the first units
    groups = (unit[0].group for unit in shares.values())
    doubts = any(group.tow is None and group.activity is Activity.UNKNOWN for group in groups)
    return doubts or any(unit is None or unit >= tows for unit in scene.path.gap_unit)


def _unit(
    scene: PathScene, number: int, unit: Sequence[Share], known: GearKnown, changes_s: Sequence[float]
) -> tuple[Sequence[Share], GearTow | None, TowPassed | None]:
    """Return the shares of the gear of a unit, and what is told of it where it is a tow."""
    tow = unit[0].group.tow
    if tow is None:
        return passages_without_path(scene, unit, known.outside), None, None
    gear = known.tows[tow.number - 1]
    if isinstance(gear, NoRigging):
        return passages_without_path(scene, unit, gear), tow_untold(scene.path, tow, gear), None
    beside = _groups_beside(scene.path, number, tow, gear, changes_s)
    out_to_m = scene.out_to_m(known.reach_m)
    more = batch_shares(scene, Batch.of(scene.path, beside), out_to_m) if beside else []
    passed = gear_passages(scene, [*unit, *more], gear)
    return passed.shares, tow_told(scene.path, tow, passed), passed


def _groups_beside(
    path: Path, number: int, tow: Tow, gear: TowGear, changes_s: Sequence[float]
) -> list[Group]:
    """Return what lies before and after a tow while its gear may still have touched the bottom."""
    places = covered_places(path.covered)
    parts = []
    for first, last in ((gear.span[0], float(tow.first)), (float(tow.last), gear.span[1])):
        if first < last:
            some = intersect(places, Intervals(np.array([first]), np.array([last])))
            real = some.first < some.last
            parts.append((Activity.UNKNOWN, Intervals(some.first[real], some.last[real])))
    groups = shares_of([Unit(tow, tuple(parts))], path.time_s, changes_s)
    return [replace(group, unit=number) for group in groups]


def _drafts_of_unit(
    scene: PathScene,
    shares: Sequence[Share],
    tow: Tow | None,
    z: int,
    standings: _Standings,
    gaps: tuple[Gap, ...],
) -> list[Draft]:
    pair = Pair(
        path=scene.path,
        tow=tow,
        activity=Activity.TOWING if tow is not None else Activity.UNKNOWN,
        zone=scene.zones[z],
        demand=scene.demands[z],
        gaps=gaps,
        part=Part.GEAR,
        proof=scene.settings.gear_proof,
    )
    measured = [
        Measured(share.passages.get(z), standings.of(z, share.group), share.group.activity)
        for share in shares
    ]
    return drafts_of_pair(pair, measured)


class _Standings:
    """Whether rules hold for the gear: in doubt where it is not known to be in the water.

    That is so even where entry is prohibited, which of the vessel itself would be shown.
    """

    def __init__(self, scene: PathScene) -> None:
        self._known = Standings(scene.zones, scene.boundaries.rule, scene.settings)
        self._towing: dict[Group, Group] = {}

    def of(self, z: int, group: Group) -> Standing:
        if group not in self._towing:
            self._towing[group] = replace(group, activity=Activity.TOWING)
        known = self._known.of(z, self._towing[group])
        if known.force is Force.HOLDS and group.activity is Activity.UNKNOWN:
            return Standing(Force.UNKNOWN, ACTIVITY_UNKNOWN)
        return known


def _gap_rows(
    scene: PathScene, shares: Mapping[int, Sequence[Share]], gaps: OpenGaps, vessel_gaps: OpenGaps
) -> list[Row]:
    """Return rows for gaps outside all units, where only the gear could have reached a zone.

    Where no towing is stated it was on board.
    """
    if scene.settings.towing is Towing.NONE:
        return []
    return [
        gap_row(
            scene.path,
            number,
            scene.zones[z],
            scene.demands[z],
            some,
            part=Part.GEAR,
            proof=scene.settings.gear_proof,
        )
        for (number, z), some in gaps.by_unit.items()
        if number not in shares and (number, z) not in vessel_gaps.by_unit
    ]
