"""One plain sentence for each row."""

from __future__ import annotations

from collections.abc import Sequence

from towzone.checks.passages import Demand
from towzone.model.result import Activity, Gap, Row, Status
from towzone.model.track import TrackKind
from towzone.model.zone import Zone, ZoneKind
from towzone.units import format_duration, format_instant, format_length

__all__ = ["explain"]

_KIND_WORDS = {
    ZoneKind.CLOSED_AREA: "the closed area",
    ZoneKind.CABLE: "the cable",
    ZoneKind.PIPELINE: "the pipeline",
    ZoneKind.SAFETY_ZONE: "the safety zone",
    ZoneKind.OBSTRUCTION: "the obstruction",
    ZoneKind.OTHER: "the zone",
}

_TO_SETTLE = {
    "position_error": "More accurate positions (--position-error) or a wider berth would settle it.",
    "gap": "Positions from another source for that time, or a lower proved --max-speed, would settle it.",
    "missing_times": "Times for the positions would settle it.",
    "rule_not_applied": "Read the notice: this version cannot apply that rule.",
}


def explain(row: Row, zone: Zone, kind: TrackKind, demand: Demand, gaps: Sequence[Gap]) -> str:
    """Return the sentence for a row; what it says, the row's numbers say too."""
    who = _who(row, kind)
    what = f"{_KIND_WORDS[zone.kind]} '{zone.name}'"
    sentence = _SENTENCES[row.status](row, zone, who, what, demand)
    if gaps:
        sentence += " " + _gap_sentence(gaps, what)
    if row.status is Status.UNDETERMINED:
        sentence += " " + _TO_SETTLE[row.reason]
    return sentence


def _who(row: Row, kind: TrackKind) -> str:
    if kind is TrackKind.PLANNED:
        return "The planned tow"
    if row.tow is not None:
        return f"Tow {row.tow}"
    return "The vessel, while not towing," if row.activity is Activity.NOT_TOWING else "The vessel"


def _when(row: Row) -> str:
    time = format_instant(row.closest.utc) if row.closest is not None else None
    return f" at {time}" if time else ""


def _inside(row: Row, zone: Zone, who: str, what: str, demand: Demand) -> str:
    del zone, demand
    seconds = [stay.seconds for stay in row.inside]
    known = [s for s in seconds if s is not None]
    spent = f" for {format_duration(sum(known))}" if known and len(known) == len(seconds) else ""
    stays = f" in {len(row.inside)} stays" if len(row.inside) > 1 else ""
    depth = format_length(-(row.clearance_m or 0.0))
    return f"{who} was inside {what}{spent}{stays}, at most {depth} deep{_when(row)}."


def _too_close(row: Row, zone: Zone, who: str, what: str, demand: Demand) -> str:
    del zone
    clearance_m = row.clearance_m or 0.0
    if row.reason == "touched" and clearance_m >= 0.0:
        return f"{who} crossed or touched {what}{_when(row)}."
    if clearance_m < 0.0:
        return (
            f"{who} was inside {what} by {format_length(-clearance_m)}{_when(row)}, "
            f"less than the uncertainty of {demand.uncertainty_m:.1f} m."
        )
    short = format_length(demand.margin_m - clearance_m)
    return (
        f"{who} came within {format_length(clearance_m)} of {what}{_when(row)}: "
        f"{short} less than the margin of {format_length(demand.margin_m)}."
    )


def _undetermined(row: Row, zone: Zone, who: str, what: str, demand: Demand) -> str:
    if row.reason == "rule_not_applied":
        rules = ", ".join(zone.pending_rules)
        place = _nearest(row, who, what)
        return f"{place} The zone carries rules that were not applied ({rules}), so nothing is proved."
    if row.reason == "position_error":
        return (
            f"{_nearest(row, who, what)} That is within the uncertainty of {demand.uncertainty_m:.1f} m "
            f"of the margin of {format_length(demand.margin_m)}."
        )
    if row.clearance_m is None:
        return f"Whether the vessel kept clear of {what} is not proved."
    return f"{_nearest(row, who, what)} The positions do not cover all of it."


def _nearest(row: Row, who: str, what: str) -> str:
    if row.clearance_m is None:
        return f"{who} was measured against {what}."
    if row.clearance_m < 0.0:
        return f"{who} was inside {what}, at most {format_length(-row.clearance_m)} deep{_when(row)}."
    return f"{who} came within {format_length(row.clearance_m)} of {what}{_when(row)}."


def _transit(row: Row, zone: Zone, who: str, what: str, demand: Demand) -> str:
    del row, zone, demand
    return f"{who} crossed {what}; only fishing is prohibited there."


def _clear(row: Row, zone: Zone, who: str, what: str, demand: Demand) -> str:
    del zone
    if row.clearance_m is None:
        return f"{who} kept farther from {what} than was looked for."
    if row.activity is Activity.NOT_TOWING and row.clearance_m < demand.margin_m:
        return f"{_nearest(row, who, what)} Only fishing is prohibited there."
    if demand.margin_m == 0.0:
        return _nearest(row, who, what)
    spare = format_length(row.clearance_m - demand.margin_m)
    return f"{_nearest(row, who, what)} That is {spare} more than its margin."


_SENTENCES = {
    Status.INSIDE: _inside,
    Status.TOO_CLOSE: _too_close,
    Status.UNDETERMINED: _undetermined,
    Status.TRANSIT: _transit,
    Status.NOT_IN_FORCE: _transit,
    Status.CLEAR: _clear,
}


def _gap_sentence(gaps: Sequence[Gap], what: str) -> str:
    worst = max(gaps, key=lambda gap: (gap.seconds is None, gap.seconds or 0.0))
    if worst.seconds is None:
        return (
            f"Fixes without times leave open where the vessel was between them; {what} cannot be ruled out."
        )
    start, end = format_instant(worst.from_utc), format_instant(worst.to_utc)
    more = f" (and {len(gaps) - 1} more such gaps)" if len(gaps) > 1 else ""
    return (
        f"There are no positions from {start} to {end} ({format_duration(worst.seconds)}){more}; "
        f"in that time the vessel could have reached {what} or its margin."
    )
