"""The record's words for statuses, kinds and rules: look-ups in the catalogue."""

from __future__ import annotations

from collections.abc import Sequence

from towzone.geodesy.lines import LineKind
from towzone.model.gear import Basis, GearTier
from towzone.model.result import Activity, Part, Row, Status
from towzone.model.track import TrackKind
from towzone.model.zone import Prohibition, ZoneKind
from towzone.record.catalogue import say, say_count
from towzone.units import NAUTICAL_MILE_M

__all__ = [
    "ACTIVITY",
    "BASIS",
    "EDGES",
    "KIND",
    "PART",
    "PROHIBITED",
    "STATUS",
    "TIER",
    "TRACK",
    "brief_length",
    "pairs_of",
]

STATUS = {status: say(f"shared.status.{status}") for status in Status}
KIND = {kind: say(f"shared.kind.{kind}") for kind in ZoneKind}
EDGES = {kind: say(f"shared.edges.{kind}") for kind in LineKind}
PROHIBITED = {prohibited: say(f"shared.prohibited.{prohibited}") for prohibited in Prohibition}
TRACK = {kind: say(f"shared.track.{kind}") for kind in TrackKind}
ACTIVITY = {activity: say(f"shared.activity.{activity}") for activity in Activity}
BASIS = {basis: say(f"shared.basis.{basis}") for basis in Basis}
TIER = {tier: say(f"shared.tier.{tier}") for tier in GearTier}
"""What each tier says of the gear."""

_PARTS = ("port_door", "starboard_door", "clump", "net", "port_beam", "starboard_beam")
PART = {name.replace("_", " "): say(f"shared.part.{name}") for name in _PARTS}
"""Parts of the gear by the names that the check gives them."""


def brief_length(length_m: float) -> str:
    """Return a length for a label on the chart, in metres below a nautical mile.

    Examples
    --------
    >>> brief_length(463.04), brief_length(12.34), brief_length(2500.0)
    ('463 m', '12.3 m', '1.35 nmi')
    """
    if length_m < 99.95:
        return f"{length_m:.1f} m"
    if length_m < NAUTICAL_MILE_M:
        return f"{length_m:.0f} m"
    return f"{length_m / NAUTICAL_MILE_M:.2f} nmi"


def pairs_of(count: int, rows: Sequence[Row]) -> str:
    """Return a count of pairs with what was paired: the gear too, where it has rows of its own."""
    who = "gear" if any(row.part is Part.GEAR for row in rows) else "track"
    return say_count(f"shared.pairs.{who}", count)
