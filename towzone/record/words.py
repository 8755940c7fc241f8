"""The record's own words for statuses, kinds and rules, in one place."""

from __future__ import annotations

from collections.abc import Sequence

from towzone.geodesy.lines import LineKind
from towzone.model.gear import Basis, GearTier
from towzone.model.result import Activity, Part, Row, Status
from towzone.model.track import TrackKind
from towzone.model.zone import Prohibition, ZoneKind
from towzone.record.catalogue import say
from towzone.units import NAUTICAL_MILE_M

__all__ = [
    "ACTIVITY",
    "BASIS",
    "EDGES",
    "KIND",
    "PROHIBITED",
    "STATUS",
    "TIER",
    "TRACK",
    "brief_length",
    "count_of",
    "pairs_of",
]

STATUS = {status: say(f"shared.status.{status}") for status in Status}

KIND = {kind: say(f"shared.kind.{kind}") for kind in ZoneKind}

EDGES = {
    LineKind.RHUMB: "rhumb lines",
    LineKind.GEODESIC: "geodesics",
    LineKind.LONLAT: "straight in longitude and latitude",
}

PROHIBITED = {
    Prohibition.ENTRY: "entry",
    Prohibition.FISHING: "fishing",
    Prohibition.BOTTOM_CONTACT: "gear on the bottom",
}

TRACK = {TrackKind.COMPLETED: "Completed track", TrackKind.PLANNED: "Planned route"}

ACTIVITY = {
    Activity.TOWING: "towing",
    Activity.NOT_TOWING: "not towing",
    Activity.UNKNOWN: "activity not known",
}

BASIS = {
    Basis.STATED: "stated",
    Basis.TRACK: "track",
    Basis.HAUL_LOG: "haul log",
    Basis.DERIVED: "derived",
    Basis.ASSUMED: "ASSUMED",
}

TIER = {
    GearTier.SHOWN: "nearer than required by its figures as they are",
    GearTier.POSSIBLE: "nearer than required within the spread of its figures",
    GearTier.NOT_RULED_OUT: "not ruled out by the rope bound",
    GearTier.PROVED_CLEAR: "proved clear by the rope bound, whatever it did",
}
"""What each tier says of the gear."""


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


def pairs_of(count: int, rows: Sequence[Row], *, more: str = "") -> str:
    """Return a count of pairs with what was paired: the gear too, where it has rows of its own."""
    who = "track or gear" if any(row.part is Part.GEAR for row in rows) else "track"
    return count_of(count, f"{more}pair of {who} and zone", f"{more}pairs of {who} and zone")


def count_of(count: int, one: str, many: str) -> str:
    """Return a count with its noun.

    Examples
    --------
    >>> count_of(1, "row", "rows"), count_of(2, "row", "rows")
    ('1 row', '2 rows')
    """
    return f"{count} {one if count == 1 else many}"
