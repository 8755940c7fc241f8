"""The record's own words for statuses, kinds and rules, in one place."""

from __future__ import annotations

from towzone.geodesy.lines import LineKind
from towzone.model.result import Activity, Status
from towzone.model.track import TrackKind
from towzone.model.zone import Prohibition, ZoneKind
from towzone.units import NAUTICAL_MILE_M

__all__ = [
    "ACTIVITY",
    "EDGES",
    "KIND",
    "PROHIBITED",
    "STATUS",
    "TRACK",
    "brief_length",
    "count_of",
]

STATUS = {
    Status.INSIDE: "Inside",
    Status.TOO_CLOSE: "Too close",
    Status.UNDETERMINED: "Not decided",
    Status.TRANSIT: "Crossed in transit",
    Status.NOT_IN_FORCE: "Rule not in force",
    Status.CLEAR: "Clear",
}

KIND = {
    ZoneKind.CLOSED_AREA: "Closed area",
    ZoneKind.CABLE: "Cable",
    ZoneKind.PIPELINE: "Pipeline",
    ZoneKind.SAFETY_ZONE: "Safety zone",
    ZoneKind.OBSTRUCTION: "Obstruction",
    ZoneKind.OTHER: "Other zone",
}

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


def count_of(count: int, one: str, many: str) -> str:
    """Return a count with its noun.

    Examples
    --------
    >>> count_of(1, "row", "rows"), count_of(2, "row", "rows")
    ('1 row', '2 rows')
    """
    return f"{count} {one if count == 1 else many}"
