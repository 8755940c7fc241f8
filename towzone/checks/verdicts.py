"""From measurements to a status: what is shown, what is proved, and what is neither."""

from __future__ import annotations

from dataclasses import dataclass

from towzone.checks.passages import Demand, Passage
from towzone.model.result import Activity, Status
from towzone.model.zone import Prohibition, Zone

__all__ = ["ONLY_INSIDE", "Verdict", "applies", "judge"]

ONLY_INSIDE = "allowed_only_inside"
"""The rule property that turns a zone inside out: being far from it proves nothing."""

_TOUCH_M = 0.005
"""Half the accuracy promised: a clearance smaller than this is a touch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A status and the fixed word that says why; the word is empty where there is nothing to say."""

    status: Status
    reason: str = ""


def applies(zone: Zone, activity: Activity) -> bool:
    """Return whether what a vessel does can be against what a zone prohibits.

    Entry is prohibited to all; fishing and bottom contact only to who may be towing.
    """
    return Prohibition.ENTRY in zone.prohibits or activity is not Activity.NOT_TOWING


def judge(
    zone: Zone, activity: Activity, passage: Passage | None, demand: Demand, *, open_gap: str
) -> Verdict:
    """Return the verdict on one passage.

    Parameters
    ----------
    passage : Passage or None
        ``None``: proved beyond reach.
    open_gap : str
        Reason why part of the path is unproved for this zone (``gap``, ``missing_times``), or empty.

    Notes
    -----
    With clearance ``c`` (negative inside), margin ``m`` and uncertainty ``u``, the first that holds:
    ``c < -u`` inside; ``c < m`` or a touch: too close; ``c < m + u`` undetermined; an open gap:
    undetermined; else clear. A zone whose rules cannot be applied is undetermined wherever it is near.
    """
    if zone.pending_rules and (passage is not None or open_gap or ONLY_INSIDE in zone.pending_rules):
        return Verdict(status=Status.UNDETERMINED, reason="rule_not_applied")
    if not applies(zone, activity):
        crossed = passage is not None and (len(passage.inside) > 0 or _touches(passage))
        return Verdict(
            status=Status.TRANSIT if crossed else Status.CLEAR, reason="not_towing" if crossed else ""
        )
    verdict = _by_clearance(zone, activity, passage, demand)
    if verdict.status is Status.CLEAR and open_gap:
        return Verdict(status=Status.UNDETERMINED, reason=open_gap)
    return verdict


def _by_clearance(zone: Zone, activity: Activity, passage: Passage | None, demand: Demand) -> Verdict:
    if passage is None or passage.clearance_m is None:
        return Verdict(status=Status.CLEAR)
    clearance_m = passage.clearance_m
    if clearance_m < -demand.uncertainty_m:
        fishing = activity is not Activity.NOT_TOWING and zone.prohibits != (Prohibition.ENTRY,)
        return Verdict(status=Status.INSIDE, reason="fishing_inside" if fishing else "entry")
    if clearance_m < demand.margin_m or _touches(passage):
        return Verdict(
            status=Status.TOO_CLOSE, reason="touched" if clearance_m < _TOUCH_M else "under_margin"
        )
    if clearance_m < demand.margin_m + demand.uncertainty_m:
        return Verdict(status=Status.UNDETERMINED, reason="position_error")
    return Verdict(status=Status.CLEAR)


def _touches(passage: Passage) -> bool:
    return passage.clearance_m is not None and passage.clearance_m < _TOUCH_M
