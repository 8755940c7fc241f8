"""The gaps of a path that leave zones open, where something prohibited could have happened in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from towzone.checks.force import Force, gap_standing, harmless
from towzone.checks.gap_reach import gaps_with_reaches
from towzone.checks.gaps import Ways, by_unit, reached
from towzone.checks.path_passages import PathScene
from towzone.checks.paths import Path
from towzone.checks.settings import CheckSettings
from towzone.model.result import Gap
from towzone.model.zone import Zone

__all__ = ["OpenGaps", "open_gaps"]


class OpenGaps(NamedTuple):
    """The gaps that leave zones open, by unit (``None``: in none) and zone; and all gaps, told in full."""

    by_unit: dict[tuple[int | None, int], tuple[Gap, ...]]
    told: tuple[Gap, ...]


def open_gaps(scene: PathScene, wider_m: float = 0.0) -> OpenGaps:
    """Return the gaps of a path that leave zones open.

    Parameters
    ----------
    wider_m : float
        How much nearer than the vessel something that it tows may have come.
    """
    path, zones, settings = scene.path, scene.zones, scene.settings
    demands = [replace(demand, margin_m=demand.margin_m + wider_m) for demand in scene.demands]
    ways = _open_ways(path, zones, reached(path, zones, scene.boundaries, demands), settings)
    told = gaps_with_reaches(
        path, zones, scene.boundaries, demands, ways, settings.max_speed_kn, settings.position_error_m
    )
    units = {key: tuple(told[n] for n in numbers) for key, numbers in by_unit(path, ways).items()}
    return OpenGaps(units, told)


def _open_ways(path: Path, zones: Sequence[Zone], ways: Ways, settings: CheckSettings) -> Ways:
    """Leave out the gaps in which nothing prohibited could have happened: rule idle, or stated no towing."""
    kept: Ways = {}
    for (number, z), way_m in ways.items():
        zone = zones[z]
        if harmless(zone, settings):
            continue
        if gap_standing(zone, path, path.gaps[number], settings).force is not Force.IDLE:
            kept[number, z] = way_m
    return kept
