"""What is in a zone file: one line of figures for each zone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from towzone.model.rule_words import rule_words
from towzone.model.zone import Zone
from towzone.surveys.measures import Extent, area_m2, extent
from towzone.surveys.moments import InForce, in_force_on, next_change_after

__all__ = ["Listed", "listing"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Listed:
    """A zone with its figures.

    Parameters
    ----------
    zone : Zone
    extent : Extent
        Box of its corners; edges may bulge out of it, and radius and margin reach beyond it.
    area_m2 : float or None
        Of the areas inside their edges, without radius and margin; ``None`` for lines and points.
    corners, parts : int
        How many corners, and how many areas, lines and points.
    rules : tuple of str
        When and for whom it holds, in words; empty for always and everyone.
    in_force : InForce or None
        On the day asked for; ``None`` when none was.
    next_change : datetime or None
        When the rule next begins or ceases to hold after that day begins, UTC.
    """

    zone: Zone
    extent: Extent
    area_m2: float | None
    corners: int
    parts: int
    rules: tuple[str, ...]
    in_force: InForce | None
    next_change: datetime | None


def listing(zones: Sequence[Zone], *, on: date | None = None) -> tuple[Listed, ...]:
    """Return the figures of zones, in their order.

    Parameters
    ----------
    zones : sequence of Zone
    on : date or None
        Day, in the time zone of each rule, for which to ask what is in force.
    """
    return tuple(_listed(zone, on) for zone in zones)


def _listed(zone: Zone, on: date | None) -> Listed:
    shape = zone.shape
    return Listed(
        zone=zone,
        extent=extent(shape),
        area_m2=area_m2(shape, zone.edges) if shape.polygons else None,
        corners=sum(len(corners) for corners, _ in shape.strings()),
        parts=len(shape.polygons) + len(shape.lines) + len(shape.points),
        rules=tuple(rule_words(zone.rules)),
        in_force=in_force_on(zone.rules, on) if on is not None else None,
        next_change=next_change_after(zone.rules, on) if on is not None else None,
    )
