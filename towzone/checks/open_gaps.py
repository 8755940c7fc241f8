"""The gaps of a path that leave zones open, where something prohibited could have happened in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from towzone.checks.force import Force, GapStandings, harmless
from towzone.checks.gap_reach import gaps_with_reaches
from towzone.checks.gaps import Ways, reached
from towzone.checks.passages import Demand
from towzone.checks.path_passages import PathScene
from towzone.checks.paths import Path
from towzone.model.result import Gap

__all__ = ["OpenGaps", "open_gaps"]


class OpenGaps(NamedTuple):
    """The gaps that leave zones open, by unit (``None``: in none) and zone; and all gaps, told in full."""

    by_unit: dict[tuple[int | None, int], tuple[Gap, ...]]
    told: tuple[Gap, ...]

    def zones_by_unit(self) -> dict[int | None, set[int]]:
        """Return the zones that gaps leave open in each unit."""
        found: dict[int | None, set[int]] = {}
        for unit, zone in self.by_unit:
            found.setdefault(unit, set()).add(zone)
        return found


def open_gaps(scene: PathScene, wider_m: float = 0.0) -> OpenGaps:
    """Return the gaps of a path that leave zones open.

    Parameters
    ----------
    wider_m : float
        How much nearer than the vessel something that it tows may have come.
    """
    path, zones, settings = scene.path, scene.zones, scene.settings
    demands = _widened(scene.demands, wider_m)
    known = GapStandings(zones, scene.boundaries.rule, path, settings)
    ways = _open_ways(scene, known, reached(path, zones, scene.boundaries, demands))
    told = gaps_with_reaches(
        path, zones, scene.boundaries, demands, ways, settings.max_speed_kn, settings.position_error_m
    )
    numbers = _by_unit(path, ways)
    for key, some in _untimed(scene, known).items():
        numbers[key] = tuple(sorted((*numbers.get(key, ()), *some))) if key in numbers else some
    # In the order of the gaps, so that equal rows stay in theirs.
    ordered = sorted(numbers.items(), key=lambda item: (item[1][0], item[0][1]))
    gaps_of: dict[tuple[int, ...], tuple[Gap, ...]] = {}
    for _, some in ordered:
        if some not in gaps_of:
            gaps_of[some] = tuple(told[number] for number in some)
    return OpenGaps({key: gaps_of[some] for key, some in ordered}, told)


def _widened(demands: Sequence[Demand], wider_m: float) -> Sequence[Demand]:
    """Return demands with wider margins; zones of which the same is asked share one."""
    if wider_m == 0.0:
        return demands
    made = {demand: replace(demand, margin_m=demand.margin_m + wider_m) for demand in set(demands)}
    return [made[demand] for demand in demands]


_Numbers = dict[tuple[int | None, int], tuple[int, ...]]
"""The numbers of gaps by unit and zone."""


def _open_ways(scene: PathScene, known: GapStandings, ways: Ways) -> Ways:
    """Leave out the gaps in which nothing prohibited could have happened: rule idle, or stated no towing."""
    kept: Ways = {}
    for (number, z), way_m in ways.items():
        if not harmless(scene.zones[z], scene.settings) and known.of(z, number).force is not Force.IDLE:
            kept[number, z] = way_m
    return kept


def _by_unit(path: Path, ways: Ways) -> _Numbers:
    found: dict[tuple[int | None, int], list[int]] = {}
    for gap, zone in sorted(ways):
        found.setdefault((path.gap_unit[gap], zone), []).append(gap)
    return {key: tuple(gaps) for key, gaps in found.items()}


def _untimed(scene: PathScene, known: GapStandings) -> _Numbers:
    """Return the gaps without times, which leave every zone open whose rule may have held in them."""
    numbers = [number for number, gap in enumerate(scene.path.gaps) if gap.reach_m is None]
    found: _Numbers = {}
    by_rule: dict[int, dict[int | None, tuple[int, ...]]] = {}
    for z, (zone, rule) in enumerate(zip(scene.zones, scene.boundaries.rule.tolist(), strict=True)):
        if not numbers or harmless(zone, scene.settings):
            continue
        if rule not in by_rule:
            open_ = [number for number in numbers if known.of(z, number).force is not Force.IDLE]
            ways = dict.fromkeys(((number, z) for number in open_), np.nan)
            by_rule[rule] = {unit: some for (unit, _), some in _by_unit(scene.path, ways).items()}
        found |= {(unit, z): some for unit, some in by_rule[rule].items()}
    return found
