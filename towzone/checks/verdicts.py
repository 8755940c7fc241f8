"""From measurements to a status: what is shown, what is proved, and what is neither."""

from __future__ import annotations

from dataclasses import dataclass

from towzone.checks.force import ACTIVITY_UNKNOWN, Standing, applies
from towzone.checks.passages import Demand, GearMeasure, Passage
from towzone.checks.settings import GearProof
from towzone.checks.transit import CrossingSpeed
from towzone.model.gear import GearTier
from towzone.model.result import FINDINGS, Activity, Status
from towzone.model.zone import Prohibition, Zone

__all__ = ["CLEAR", "RANKS", "TOUCH_M", "Verdict", "in_doubt", "is_near", "judge", "judge_gear", "tier_of"]

TOUCH_M = 0.005
"""Half the accuracy promised: a clearance smaller than this is a touch."""

RANKS = {status: rank for rank, status in enumerate(Status)}
"""Places of statuses in the order from the worst to the best."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A status and the fixed word that says why; the word is empty where there is nothing to say."""

    status: Status
    reason: str = ""


CLEAR = Verdict(status=Status.CLEAR)
"""Proved clear."""


def judge(
    zone: Zone,
    activity: Activity,
    passage: Passage | None,
    demand: Demand,
    *,
    open_gap: str = "",
    speed: CrossingSpeed = CrossingSpeed.OPEN,
) -> Verdict:
    """Return the verdict on a passage under a rule that holds.

    Parameters
    ----------
    passage : Passage or None
        ``None``: proved beyond reach.
    open_gap : str
        Reason why part of the path is unproved for this zone (``gap``, ``missing_times``), or empty.
    speed : CrossingSpeed
        For a crossing without towing: whether it kept the speed of the transit rule.

    Notes
    -----
    With clearance ``c`` (negative inside), margin ``m`` and uncertainty ``u``, the first that holds:
    ``c < -u`` inside; ``c < m`` or a touch: too close; ``c < m + u`` undetermined; an open gap:
    undetermined; else clear.
    """
    if not applies(zone, activity):
        return _passing(zone, passage, demand, open_gap, speed)
    verdict = _by_clearance(zone, activity, passage, demand)
    if verdict.status is Status.CLEAR and open_gap:
        return Verdict(status=Status.UNDETERMINED, reason=open_gap)
    return verdict


def judge_gear(
    zone: Zone, passage: Passage | None, demand: Demand, proof: GearProof, *, open_gap: str = ""
) -> Verdict:
    """Return the verdict on a passage of the gear under a rule that holds.

    Notes
    -----
    With the clearance ``c`` by the figures as they are, the margin ``m`` and the uncertainty ``u`` of where
    the part was, the first that holds: ``c < -u`` inside; ``c < m`` or a touch: too close; no path of the
    gear known: undetermined; under the margin allowing for the spread of the figures: undetermined; an open
    gap: undetermined; under the margin by the length of the rope alone: undetermined, unless the model is
    taken for proof (which it is not while gear is shot and hauled); else clear.
    """
    gear = passage.gear if passage is not None else None
    if passage is None or gear is None:
        return Verdict(status=Status.UNDETERMINED, reason=open_gap) if open_gap else CLEAR
    if passage.clearance_m is not None:
        if passage.clearance_m < -gear.uncertainty_m:
            turned = zone.rules.allowed_only_inside
            return Verdict(status=Status.INSIDE, reason="outside_allowed_area" if turned else "gear_inside")
        if _short(passage.clearance_m, demand):
            reason = "touched" if passage.clearance_m < TOUCH_M else "under_margin"
            return Verdict(status=Status.TOO_CLOSE, reason=reason)
    if gear.why_not:
        return Verdict(status=Status.UNDETERMINED, reason="gear_not_computed")
    if gear.likely_m is not None and _short(gear.likely_m, demand):
        return Verdict(status=Status.UNDETERMINED, reason="gear_uncertainty")
    if open_gap:
        return Verdict(status=Status.UNDETERMINED, reason=open_gap)
    # Where no path is known the length of the rope is all there is, whatever is taken for proof.
    needs_rope = proof is GearProof.ROPE or gear.likely_m is None
    left_m = gear.rope_m if needs_rope else gear.unseen_m
    if left_m is None or _short(left_m, demand):
        return Verdict(status=Status.UNDETERMINED, reason="rope_bound")
    return CLEAR


def tier_of(gear: GearMeasure, demand: Demand, verdict: Verdict) -> GearTier:
    """Return how surely the gear kept the margin, whatever the rule."""
    if verdict.status in FINDINGS:
        return GearTier.SHOWN
    if gear.likely_m is not None and _short(gear.likely_m, demand):
        return GearTier.POSSIBLE
    rope_keeps = gear.rope_m is not None and not _short(gear.rope_m, demand)
    return GearTier.PROVED_CLEAR if rope_keeps and verdict.reason not in _OPEN else GearTier.NOT_RULED_OUT


_OPEN = frozenset({"gap", "missing_times"})


def _short(clearance_m: float, demand: Demand) -> bool:
    """Return whether a clearance is under the margin, or none at all."""
    return clearance_m < demand.margin_m or clearance_m < TOUCH_M


def in_doubt(verdict: Verdict, doubt: Standing) -> Verdict:
    """Return what is left of a verdict when it is not known whether the rule holds.

    Where only the activity is in doubt, what else left it open (a gap, the position error) stays the reason.
    """
    keeps_reason = doubt.why == ACTIVITY_UNKNOWN and verdict.status is Status.UNDETERMINED
    if (verdict.status in FINDINGS or verdict.status is Status.UNDETERMINED) and not keeps_reason:
        return Verdict(status=Status.UNDETERMINED, reason=doubt.why)
    return verdict


def is_near(passage: Passage | None, demand: Demand) -> bool:
    """Return whether a passage was inside, touched, or under the margin."""
    if passage is None or passage.clearance_m is None:
        return False
    return passage.clearance_m < demand.margin_m or _touches(passage)


def _passing(
    zone: Zone, passage: Passage | None, demand: Demand, open_gap: str, speed: CrossingSpeed
) -> Verdict:
    """Judge a vessel that was not towing where only towing, or going slowly, is prohibited."""
    crossed = passage is not None and (len(passage.inside) > 0 or _touches(passage))
    if zone.rules.transit_min_speed_kn is None:
        if crossed and not zone.rules.allowed_only_inside:
            return Verdict(status=Status.TRANSIT, reason="not_towing")
        return CLEAR
    near = crossed or (passage is not None and _within(passage, demand.uncertainty_m))
    if near and speed is CrossingSpeed.SLOW:
        return Verdict(status=Status.INSIDE, reason="slow_transit")
    if near and speed is CrossingSpeed.SLOW_AT_RIM:
        return Verdict(status=Status.UNDETERMINED, reason="position_error")
    if near and speed is CrossingSpeed.OPEN:
        return Verdict(status=Status.UNDETERMINED, reason="missing_times")
    if open_gap:
        return Verdict(status=Status.UNDETERMINED, reason=open_gap)
    return Verdict(status=Status.TRANSIT, reason="kept_speed") if crossed else CLEAR


def _within(passage: Passage, distance_m: float) -> bool:
    return passage.clearance_m is not None and passage.clearance_m < distance_m


def _by_clearance(zone: Zone, activity: Activity, passage: Passage | None, demand: Demand) -> Verdict:
    if passage is None or passage.clearance_m is None:
        return CLEAR
    clearance_m = passage.clearance_m
    if clearance_m < -demand.uncertainty_m:
        return Verdict(status=Status.INSIDE, reason=_inside_reason(zone, activity))
    if clearance_m < demand.margin_m or _touches(passage):
        reason = "touched" if clearance_m < TOUCH_M else "under_margin"
        return Verdict(status=Status.TOO_CLOSE, reason=reason)
    if clearance_m < demand.margin_m + demand.uncertainty_m:
        return Verdict(status=Status.UNDETERMINED, reason="position_error")
    return CLEAR


def _inside_reason(zone: Zone, activity: Activity) -> str:
    if zone.rules.allowed_only_inside:
        return "outside_allowed_area"
    if activity is Activity.UNKNOWN and Prohibition.ENTRY in zone.prohibits:
        return "entry"  # that is shown; whether it was fishing is not
    fishing = activity is not Activity.NOT_TOWING and zone.prohibits != (Prohibition.ENTRY,)
    return "fishing_inside" if fishing else "entry"


def _touches(passage: Passage) -> bool:
    return passage.clearance_m is not None and passage.clearance_m < TOUCH_M
