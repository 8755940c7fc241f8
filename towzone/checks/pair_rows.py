"""Rows of one part of a path against one zone, drafted (what holds, is in doubt, did not hold), then made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from towzone.checks.batches import Carrier
from towzone.checks.explain import NOT_IN_TRACK, explain
from towzone.checks.explain_gear import explain_gear
from towzone.checks.force import ACTIVITY_UNKNOWN, Force, Standing, applies
from towzone.checks.intervals import Intervals
from towzone.checks.passages import NOWHERE, Demand, GearMeasure, Passage, together
from towzone.checks.paths import Path
from towzone.checks.settings import GearProof
from towzone.checks.stays import close_told, stays_told
from towzone.checks.transit import CrossingSpeed, crossing_speed
from towzone.checks.verdicts import CLEAR, RANKS, Verdict, in_doubt, is_near, judge, judge_gear, tier_of
from towzone.model.gear import GearReach, GearTier
from towzone.model.result import (
    FINDINGS,
    Activity,
    CloseStretch,
    Gap,
    InsideStretch,
    Part,
    Row,
    Status,
    Tow,
)
from towzone.model.zone import Zone

__all__ = ["Draft", "Measured", "Pair", "drafts_of_pair", "gap_row", "open_row", "rows_of", "unknown_reach"]


class Pair(NamedTuple):
    """One unit of a path (a tow, what is in doubt, what was not towing) against one zone.

    ``activity`` is what the unit is for: a tow is for towing, though shooting and hauling are in doubt.
    ``part`` is what passed, the vessel or its gear; ``proof`` what proves the gear clear.
    """

    path: Path
    tow: Tow | None
    activity: Activity
    zone: Zone
    demand: Demand
    gaps: tuple[Gap, ...]
    part: Part = Part.VESSEL
    proof: GearProof = GearProof.ROPE


class Measured(NamedTuple):
    """How a share passed one zone, whether the zone's rule holds for it, and what was done."""

    passage: Passage | None
    standing: Standing
    activity: Activity


class Draft(NamedTuple):
    """What a row will say of a pair, before its stays are looked up together with those of others."""

    pair: Pair
    passage: Passage | None
    verdict: Verdict
    activity: Activity

    @property
    def carrier(self) -> Carrier:
        """What passed: the vessel, or a part of its gear."""
        gear = self.passage.gear if self.passage is not None else None
        return gear.carrier if gear is not None and gear.carrier is not None else self.pair.path

    @property
    def inside(self) -> Intervals:
        """The stays that are told."""
        return self.passage.inside if self.passage is not None else NOWHERE

    @property
    def close(self) -> Intervals:
        """The stretches under the margin that are told."""
        if self.passage is None or not applies(self.pair.zone, self.activity):
            return NOWHERE
        return self.passage.close


def rows_of(path: Path, drafts: Sequence[Draft]) -> list[Row]:
    """Return the rows that drafts of one path are for."""
    inside = stays_told(path, [draft.inside for draft in drafts], [draft.carrier for draft in drafts])
    close = close_told(path, [draft.close for draft in drafts])
    return [_row(*each) for each in zip(drafts, inside, close, strict=True)]


def drafts_of_pair(pair: Pair, measured: Sequence[Measured]) -> list[Draft]:
    """Return a draft where the rule holds (or may hold), and one where it did not while it was near."""
    holds = [share for share in measured if share.standing.force is Force.HOLDS]
    doubts = [share for share in measured if share.standing.force is Force.UNKNOWN]
    idle = [share for share in measured if share.standing.force is Force.IDLE]
    drafts = []
    if holds or doubts or pair.gaps:
        drafts.extend(_drafts_in_force(pair, holds, doubts))
    passage = _together(idle)
    if passage is not None and _idle_matters(pair, passage):
        verdict = Verdict(status=Status.NOT_IN_FORCE, reason=idle[0].standing.why)
        drafts.append(Draft(pair, passage, verdict, pair.activity))
    elif passage is not None and not drafts:
        drafts.append(Draft(pair, passage, CLEAR, pair.activity))
    return drafts


def _together(shares: Sequence[Measured]) -> Passage | None:
    return together([share.passage for share in shares])


def _drafts_in_force(pair: Pair, holds: Sequence[Measured], doubts: Sequence[Measured]) -> list[Draft]:
    """Return one draft; or two, where a finding is sure and more would be one if the rule held there too."""
    sure_passage, open_passage = _together(holds), _together(doubts)
    sure, activity = _judged_sure(pair, sure_passage, holds)
    unsure = _judged_in_doubt(pair, open_passage, doubts[0].standing) if doubts else None
    if sure.status in FINDINGS:
        drafts = [Draft(pair, sure_passage, sure, activity)]
        if unsure is not None and (unsure.status in FINDINGS or unsure.reason == doubts[0].standing.why):
            drafts.append(Draft(pair, open_passage, unsure, _doubted(pair, unsure)))
        return drafts
    verdict = sure
    if unsure is not None:
        verdict = min(sure, unsure, key=lambda verdict: RANKS[verdict.status])
        # The rope leaves much open; what would be a finding if the gear was down tells more.
        left_open = verdict.status is Status.UNDETERMINED and pair.part is Part.GEAR
        if left_open and is_near(open_passage, pair.demand):
            verdict = unsure
    passage = together([sure_passage, open_passage])
    if verdict.status is Status.CLEAR and passage is None:
        return []
    if verdict.status is not Status.CLEAR and verdict == unsure and verdict != sure:
        return [Draft(pair, open_passage, verdict, _doubted(pair, verdict))]
    return [Draft(pair, passage, verdict, activity)]


def _judged_sure(pair: Pair, passage: Passage | None, holds: Sequence[Measured]) -> tuple[Verdict, Activity]:
    """Return what is sure where the rule holds, and of what.

    A finding is said of a tow only if there is one while it surely was towing.
    """
    if pair.tow is None:
        return _judged(pair, passage, pair.activity), pair.activity
    whole = _judged(pair, passage, Activity.TOWING)
    if whole.status in FINDINGS:
        towing = _together([share for share in holds if share.activity is Activity.TOWING])
        if _judged(pair, towing, Activity.TOWING).status is not whole.status:
            return _judged(pair, passage, Activity.UNKNOWN), Activity.UNKNOWN
    return whole, Activity.TOWING


def _judged_in_doubt(pair: Pair, passage: Passage | None, doubt: Standing) -> Verdict:
    """Return what is left of a verdict in doubt.

    Who was in a zone with a transit rule, too slow for it, broke the rule whether towing or not; that is the
    vessel, not gear that may have been on board.
    """
    if doubt.why != ACTIVITY_UNKNOWN:
        return in_doubt(_judged(pair, passage, pair.activity), doubt)
    vessel = pair.part is Part.VESSEL
    if vessel and pair.zone.rules.transit_min_speed_kn is not None and passage is not None:
        passing = _judged(pair, passage, Activity.NOT_TOWING)
        if passing.status in FINDINGS:
            return passing
    return in_doubt(_judged(pair, passage, Activity.UNKNOWN), doubt)


def _doubted(pair: Pair, verdict: Verdict) -> Activity:
    # Where it is open whether the gear was in the water, whatever is said of it is.
    unknown = verdict.reason in (ACTIVITY_UNKNOWN, "slow_transit") or pair.part is Part.GEAR
    return Activity.UNKNOWN if unknown else pair.activity


def _idle_matters(pair: Pair, passage: Passage) -> bool:
    """Return whether a passage would have been worth a word had the rule held."""
    if pair.part is Part.GEAR:  # even if nothing more is known than that it may have come near
        return judge_gear(pair.zone, passage, pair.demand, pair.proof).status is not Status.CLEAR
    if applies(pair.zone, pair.activity):
        return is_near(passage, pair.demand)
    return len(passage.inside) > 0


def _judged(pair: Pair, passage: Passage | None, activity: Activity) -> Verdict:
    if pair.part is Part.GEAR:
        return judge_gear(pair.zone, passage, pair.demand, pair.proof, open_gap=_gap_reason(pair.gaps))
    limit = pair.zone.rules.transit_min_speed_kn
    passing = limit is not None and not applies(pair.zone, activity) and passage is not None
    return judge(
        pair.zone,
        activity,
        passage,
        pair.demand,
        open_gap=_gap_reason(pair.gaps),
        speed=crossing_speed(pair.path, passage, limit, pair.demand.uncertainty_m)
        if passing and passage and limit
        else CrossingSpeed.OPEN,
    )


def _gap_reason(gaps: Sequence[Gap]) -> str:
    if any(gap.reach_m is None for gap in gaps):
        return "missing_times"
    return "gap" if gaps else ""


def _row(draft: Draft, inside: tuple[InsideStretch, ...], close: tuple[CloseStretch, ...]) -> Row:
    pair, passage, verdict, activity = draft
    gear = passage.gear if passage is not None else None
    demand = pair.demand if gear is None else replace(pair.demand, uncertainty_m=gear.uncertainty_m)
    row = Row(
        track_id=pair.path.track.track_id,
        tow=pair.tow.number if pair.tow is not None else None,
        activity=activity,
        zone_id=pair.zone.zone_id,
        part=pair.part,
        status=verdict.status,
        reason=verdict.reason,
        clearance_m=passage.clearance_m if passage is not None else None,
        margin_m=pair.demand.margin_m,
        uncertainty_m=demand.uncertainty_m,
        closest=passage.closest if passage is not None else None,
        inside=inside,
        close=close,
        gear=_reach_told(pair, gear, verdict),
    )
    words = _words(pair, row, demand, gear)
    if pair.tow is not None and not pair.tow.in_track and row.status is not Status.CLEAR:
        words += " " + NOT_IN_TRACK
    return replace(row, explain=words)


def _words(pair: Pair, row: Row, demand: Demand, gear: GearMeasure | None) -> str:
    if pair.part is Part.GEAR:
        why_not = gear.why_not if gear is not None else ""
        return explain_gear(row, pair.zone, pair.path.track.kind, demand, pair.gaps, why_not=why_not)
    return explain(row, pair.zone, pair.path.track.kind, demand, pair.gaps)


def _reach_told(pair: Pair, gear: GearMeasure | None, verdict: Verdict) -> GearReach | None:
    if pair.part is not Part.GEAR:
        return None
    known = gear if gear is not None else GearMeasure()
    return GearReach(
        nearest_part=known.part,
        tier=tier_of(known, pair.demand, verdict),
        sigmas=pair.proof.sigmas,
        likely_clearance_m=_likely_told(known.likely_m),
        likely_at=known.likely_at,
        rope_clearance_m=known.rope_m,
        flags=known.flags,
    )


def _likely_told(likely_m: float | None) -> float | None:
    """Return 0 wherever the likely corridor reaches the zone: by how much it does is not computed."""
    return 0.0 if likely_m is not None and likely_m <= 0.0 else likely_m


def gap_row(
    path: Path,
    unit: int | None,
    zone: Zone,
    demand: Demand,
    gaps: tuple[Gap, ...],
    *,
    part: Part = Part.VESSEL,
    proof: GearProof = GearProof.ROPE,
) -> Row:
    """Return the row for gaps that nothing measured belongs to."""
    tow = unit + 1 if unit is not None and unit < len(path.tows) else None
    row = open_row(path, tow, zone, demand, _gap_reason(gaps))
    if part is Part.VESSEL:
        return replace(row, explain=explain(row, zone, path.track.kind, demand, gaps))
    row = replace(row, part=part, gear=unknown_reach(proof))
    return replace(row, explain=explain_gear(row, zone, path.track.kind, demand, gaps))


def unknown_reach(proof: GearProof) -> GearReach:
    """Return what is known of gear where no position tells: nothing."""
    return GearReach(
        nearest_part="",
        tier=GearTier.NOT_RULED_OUT,
        sigmas=proof.sigmas,
        likely_clearance_m=None,
        rope_clearance_m=None,
    )


def open_row(path: Path, tow: int | None, zone: Zone, demand: Demand, reason: str) -> Row:
    """Return an undetermined row for time of which no position tells, still without its sentence."""
    return Row(
        track_id=path.track.track_id,
        tow=tow,
        activity=Activity.UNKNOWN,
        zone_id=zone.zone_id,
        part=Part.VESSEL,
        status=Status.UNDETERMINED,
        reason=reason,
        clearance_m=None,
        margin_m=demand.margin_m,
        uncertainty_m=demand.uncertainty_m,
        closest=None,
    )
