"""The rows of one part of a path against one zone: what holds, what is in doubt, what did not hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, Protocol

import numpy as np

from towzone.checks.explain import NOT_IN_TRACK, explain
from towzone.checks.explain_gear import explain_gear
from towzone.checks.force import ACTIVITY_UNKNOWN, Force, Standing, applies
from towzone.checks.intervals import Intervals
from towzone.checks.passages import Demand, GearMeasure, Passage, together
from towzone.checks.paths import Path
from towzone.checks.places import KnownPlaces
from towzone.checks.settings import GearProof
from towzone.checks.transit import CrossingSpeed, crossing_speed
from towzone.checks.verdicts import Verdict, in_doubt, is_near, judge, judge_gear, tier_of
from towzone.geodesy.ellipsoid import FloatArray
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
from towzone.units import KNOT_MPS

__all__ = ["Measured", "Pair", "gap_row", "open_row", "rows_of_pair", "unknown_reach"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pair:
    """One unit of a path (a tow, what is in doubt, what was not towing) against one zone.

    ``activity`` is what the unit is for: a tow is for towing, though shooting and hauling are in doubt.
    ``part`` is what passed, the vessel or its gear; ``proof`` what proves the gear clear; ``places`` knows
    where the vessel's stays begin and end, if that has been looked up for many pairs together.
    """

    path: Path
    tow: Tow | None
    activity: Activity
    zone: Zone
    demand: Demand
    gaps: tuple[Gap, ...]
    part: Part = Part.VESSEL
    proof: GearProof = GearProof.ROPE
    places: KnownPlaces | None = None


class _Positions(Protocol):
    def positions(self, place: FloatArray) -> tuple[FloatArray, FloatArray]: ...


class Measured(NamedTuple):
    """How a share passed one zone, whether the zone's rule holds for it, and what was done."""

    passage: Passage | None
    standing: Standing
    activity: Activity


def rows_of_pair(pair: Pair, measured: Sequence[Measured]) -> list[Row]:
    """Return the row where the rule holds (or may hold), and one where it did not while it was near."""
    holds = [share for share in measured if share.standing.force is Force.HOLDS]
    doubts = [share for share in measured if share.standing.force is Force.UNKNOWN]
    idle = [share for share in measured if share.standing.force is Force.IDLE]
    rows = []
    if holds or doubts or pair.gaps:
        rows.extend(_rows_in_force(pair, holds, doubts))
    passage = _together(idle)
    if passage is not None and _idle_matters(pair, passage):
        verdict = Verdict(status=Status.NOT_IN_FORCE, reason=idle[0].standing.why)
        rows.append(_row(pair, passage, verdict, pair.activity))
    elif passage is not None and not rows:
        rows.append(_row(pair, passage, Verdict(status=Status.CLEAR), pair.activity))
    return rows


def _together(shares: Sequence[Measured]) -> Passage | None:
    return together([share.passage for share in shares])


def _rows_in_force(pair: Pair, holds: Sequence[Measured], doubts: Sequence[Measured]) -> list[Row]:
    """Return one row; or two, where a finding is sure and more would be one if the rule held there too."""
    activity = _shown_activity(pair, holds)
    sure = _judged(pair, _together(holds), activity)
    open_passage = _together(doubts)
    unsure = [_judged_in_doubt(pair, open_passage, doubts[0].standing)] if doubts else []
    if sure.status in FINDINGS:
        rows = [_row(pair, _together(holds), sure, activity)]
        said = [v for v in unsure if v.status in FINDINGS or v.reason == doubts[0].standing.why]
        return rows + [_row(pair, open_passage, verdict, _doubted(pair, verdict)) for verdict in said]
    passage = _together([*holds, *doubts])
    verdict = min([sure, *unsure], key=lambda verdict: list(Status).index(verdict.status))
    left_open = verdict.status is Status.UNDETERMINED and pair.part is Part.GEAR and unsure
    if left_open and is_near(open_passage, pair.demand):
        # The rope leaves much open; what would be a finding if the gear was down tells more.
        verdict = unsure[0]
    if verdict.status is Status.CLEAR and passage is None:
        return []
    if verdict.status is not Status.CLEAR and verdict in unsure and verdict != sure:
        return [_row(pair, open_passage, verdict, _doubted(pair, verdict))]
    return [_row(pair, passage, verdict, activity)]


def _shown_activity(pair: Pair, holds: Sequence[Measured]) -> Activity:
    """Return what a finding may be said of: of a tow only if there is one while it surely was towing."""
    if pair.tow is None:
        return pair.activity
    whole = _judged(pair, _together(holds), Activity.TOWING)
    if whole.status not in FINDINGS:
        return Activity.TOWING
    towing = _judged(pair, _together([s for s in holds if s.activity is Activity.TOWING]), Activity.TOWING)
    return Activity.TOWING if towing.status is whole.status else Activity.UNKNOWN


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


def _row(pair: Pair, passage: Passage | None, verdict: Verdict, activity: Activity) -> Row:
    path, gear = pair.path, passage.gear if passage is not None else None
    carrier = gear.carrier if gear is not None and gear.carrier is not None else pair.places or path
    stretches = passage is not None and applies(pair.zone, activity)
    demand = pair.demand if gear is None else replace(pair.demand, uncertainty_m=gear.uncertainty_m)
    row = Row(
        track_id=path.track.track_id,
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
        inside=_stays(path, carrier, passage.inside) if passage is not None else (),
        close=_close(path, passage.close) if passage is not None and stretches else (),
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


def _stays(path: Path, carrier: _Positions, inside: Intervals) -> tuple[InsideStretch, ...]:
    count = len(inside)
    if not count:
        return ()
    lon, lat = (c.tolist() for c in carrier.positions(np.concatenate([inside.first, inside.last])))
    stays = []
    for number, (first, last) in enumerate(zip(inside.first.tolist(), inside.last.tolist(), strict=True)):
        enter_utc, leave_utc = path.time_at(first), path.time_at(last)
        seconds = _seconds(enter_utc, leave_utc)
        length_m = path.length_between(first, last)
        stays.append(
            InsideStretch(
                enter_utc=enter_utc,
                enter_lon_deg=lon[number],
                enter_lat_deg=lat[number],
                leave_utc=leave_utc,
                leave_lon_deg=lon[count + number],
                leave_lat_deg=lat[count + number],
                seconds=seconds,
                length_m=length_m,
                min_speed_kn=path.least_speed_kn(first, last),
                mean_speed_kn=length_m / seconds / KNOT_MPS if seconds else None,
            )
        )
    return tuple(stays)


def _close(path: Path, close: Intervals) -> tuple[CloseStretch, ...]:
    ends = (
        (path.time_at(first), path.time_at(last))
        for first, last in zip(close.first.tolist(), close.last.tolist(), strict=True)
    )
    return tuple(
        CloseStretch(from_utc=start, to_utc=end, seconds=_seconds(start, end)) for start, end in ends
    )


def _seconds(start: np.datetime64, end: np.datetime64) -> float | None:
    if np.isnat(start) or np.isnat(end):
        return None
    return float((end - start) / np.timedelta64(1, "us")) / 1e6
