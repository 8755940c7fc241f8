"""From measurements to a status: what is shown, what is proved, and what is neither."""

from __future__ import annotations

from dataclasses import dataclass

from towzone.checks.force import Standing, applies
from towzone.checks.passages import Demand, Passage
from towzone.model.result import FINDINGS, Activity, Status
from towzone.model.zone import Prohibition, Zone

__all__ = ["Verdict", "in_doubt", "is_near", "judge"]

_TOUCH_M = 0.005
"""Half the accuracy promised: a clearance smaller than this is a touch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A status and the fixed word that says why; the word is empty where there is nothing to say."""

    status: Status
    reason: str = ""


def judge(
    zone: Zone,
    activity: Activity,
    passage: Passage | None,
    demand: Demand,
    *,
    open_gap: str = "",
    kept_speed: bool | None = None,
) -> Verdict:
    """Return the verdict on a passage under a rule that holds.

    Parameters
    ----------
    passage : Passage or None
        ``None``: proved beyond reach.
    open_gap : str
        Reason why part of the path is unproved for this zone (``gap``, ``missing_times``), or empty.
    kept_speed : bool or None
        For a crossing without towing: whether it kept the speed of the transit rule; ``None`` when that
        cannot be said.

    Notes
    -----
    With clearance ``c`` (negative inside), margin ``m`` and uncertainty ``u``, the first that holds:
    ``c < -u`` inside; ``c < m`` or a touch: too close; ``c < m + u`` undetermined; an open gap:
    undetermined; else clear.
    """
    if not applies(zone, activity):
        return _passing(zone, passage, demand, open_gap, kept_speed)
    verdict = _by_clearance(zone, activity, passage, demand)
    if verdict.status is Status.CLEAR and open_gap:
        return Verdict(status=Status.UNDETERMINED, reason=open_gap)
    return verdict


def in_doubt(verdict: Verdict, doubt: Standing) -> Verdict:
    """Return what is left of a verdict when it is not known whether the rule holds."""
    if verdict.status in FINDINGS or verdict.status is Status.UNDETERMINED:
        return Verdict(status=Status.UNDETERMINED, reason=doubt.why)
    return verdict


def is_near(passage: Passage | None, demand: Demand) -> bool:
    """Return whether a passage was inside, touched, or under the margin."""
    if passage is None or passage.clearance_m is None:
        return False
    return passage.clearance_m < demand.margin_m or _touches(passage)


def _passing(
    zone: Zone, passage: Passage | None, demand: Demand, open_gap: str, kept_speed: bool | None
) -> Verdict:
    """Judge a vessel that was not towing where only towing, or going slowly, is prohibited."""
    crossed = passage is not None and (len(passage.inside) > 0 or _touches(passage))
    if passage is None or not crossed or zone.rules.allowed_only_inside:
        if open_gap and zone.rules.transit_min_speed_kn is not None:
            return Verdict(status=Status.UNDETERMINED, reason=open_gap)
        return Verdict(status=Status.CLEAR)
    if zone.rules.transit_min_speed_kn is None:
        return Verdict(status=Status.TRANSIT, reason="not_towing")
    if kept_speed is None:
        return Verdict(status=Status.UNDETERMINED, reason="missing_times")
    if kept_speed:
        return Verdict(status=Status.TRANSIT, reason="kept_speed")
    deep = passage.clearance_m is not None and passage.clearance_m < -demand.uncertainty_m
    if deep:
        return Verdict(status=Status.INSIDE, reason="slow_transit")
    return Verdict(status=Status.UNDETERMINED, reason="position_error")


def _by_clearance(zone: Zone, activity: Activity, passage: Passage | None, demand: Demand) -> Verdict:
    if passage is None or passage.clearance_m is None:
        return Verdict(status=Status.CLEAR)
    clearance_m = passage.clearance_m
    if clearance_m < -demand.uncertainty_m:
        return Verdict(status=Status.INSIDE, reason=_inside_reason(zone, activity))
    if clearance_m < demand.margin_m or _touches(passage):
        reason = "touched" if clearance_m < _TOUCH_M else "under_margin"
        return Verdict(status=Status.TOO_CLOSE, reason=reason)
    if clearance_m < demand.margin_m + demand.uncertainty_m:
        return Verdict(status=Status.UNDETERMINED, reason="position_error")
    return Verdict(status=Status.CLEAR)


def _inside_reason(zone: Zone, activity: Activity) -> str:
    if zone.rules.allowed_only_inside:
        return "outside_allowed_area"
    fishing = activity is not Activity.NOT_TOWING and zone.prohibits != (Prohibition.ENTRY,)
    return "fishing_inside" if fishing else "entry"


def _touches(passage: Passage) -> bool:
    return passage.clearance_m is not None and passage.clearance_m < _TOUCH_M
