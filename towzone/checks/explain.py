"""One plain sentence for each row; what it says, the row's numbers say too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from towzone.checks.passages import Demand
from towzone.model.result import Activity, Gap, Part, Row, Status, ZoneReach
from towzone.model.rule_words import rule_words
from towzone.model.track import TrackKind
from towzone.model.zone import Zone, ZoneKind
from towzone.tows.cores import LEAST_TOW_S
from towzone.units import format_duration, format_length, format_time
from towzone.words import counted

__all__ = [
    "DOUBTS",
    "NOT_IN_TRACK",
    "TO_SETTLE",
    "Case",
    "explain",
    "explain_silence",
    "farther_off",
    "gap_sentence",
    "how_often",
]

NOT_IN_TRACK = "That it was towing then is said by the haul log alone; the track does not show it."
"""Added to rows of a logged haul that the track does not show."""

_KIND_WORDS = {
    ZoneKind.CLOSED_AREA: "the closed area",
    ZoneKind.CABLE: "the cable",
    ZoneKind.PIPELINE: "the pipeline",
    ZoneKind.SAFETY_ZONE: "the safety zone",
    ZoneKind.OBSTRUCTION: "the obstruction",
    ZoneKind.OTHER: "the zone",
}

TO_SETTLE = {
    "position_error": "More accurate positions (--position-error) or a wider berth would settle it.",
    "gap": "Positions from another source for that time, or a lower proved --max-speed, would settle it.",
    "missing_times": "Times for the positions would settle it.",
    "date_unknown": "Times for the positions, or a day (--on), would settle it.",
    "gear_unknown": "The code of the gear (vessel profile, gear) would settle it.",
    "activity_unknown": "A haul log (--towing FILE.csv) that covers that time would settle it.",
}

_SHOOTING_TO_SETTLE = "Only knowing when the gear went in and came out would settle it."
"""Beside a tow: the stretch stays in doubt with a haul log, too, which tells of the tow alone."""

_FARTHER_OFF = "Shooting or hauling farther off would settle it."
"""On a planned tow, which has yet to be made."""

_FARTHER_IN = "Shooting or hauling farther inside it would settle it."
"""The same of an area in which alone it is allowed."""

_INSIDE_TO_SETTLE = (
    "A haul log (--towing FILE.csv) would tell what it did inside, positions for that time the rest."
)


_ONLY_TOWING = "being there is not prohibited, only towing"


class _Verbs(NamedTuple):
    inside: str
    outside: str
    came: str
    touched: str
    crossed: str


_VERBS = {
    TrackKind.COMPLETED: _Verbs("was inside", "was outside", "came within", "crossed or touched", "crossed"),
    TrackKind.PLANNED: _Verbs("runs inside", "runs outside", "comes within", "crosses or touches", "crosses"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A row with what its sentence needs; ``subject`` where it is not the vessel or its tow."""

    row: Row
    zone: Zone
    kind: TrackKind
    demand: Demand
    subject: str = ""

    @property
    def who(self) -> str:
        """Say who came near."""
        if self.subject:
            return self.subject
        if self.kind is TrackKind.PLANNED and self.row.activity is Activity.UNKNOWN:
            return "The vessel, shooting or hauling on the planned tow,"
        if self.kind is TrackKind.PLANNED:
            return "The planned tow"
        if self.row.tow is not None and self.row.activity is Activity.UNKNOWN:
            return f"The vessel, about to shoot or hauling (tow {self.row.tow}),"
        if self.row.tow is not None:
            return f"Tow {self.row.tow}"
        return "The vessel, while not towing," if self.row.activity is Activity.NOT_TOWING else "The vessel"

    @property
    def verbs(self) -> _Verbs:
        """Say what it did, of a completed or a planned track."""
        return _VERBS[self.kind]

    @property
    def what(self) -> str:
        """Say what it came near to."""
        if self.zone.rules.allowed_only_inside:
            return f"the only area allowed, '{self.zone.name}'"
        return f"{_KIND_WORDS[self.zone.kind]} '{self.zone.name}'"

    @property
    def when(self) -> str:
        """Say when that was, where it is known."""
        if self.row.closest is None or np.isnat(self.row.closest.utc):
            return ""
        return f" at {format_time(self.row.closest.utc)}"

    @property
    def nearest(self) -> str:
        """Say how near it came, or how deep it was."""
        clearance_m = self.row.clearance_m
        if clearance_m is None:
            return f"{self.who} was not near {self.what}."
        if clearance_m < 0.0:
            return f"{self.who} {self.strayed} {self.what}, at most {self.depth}{self.when}."
        rim = "the limits of " if self.zone.rules.allowed_only_inside else ""
        return f"{self.who} {self.verbs.came} {format_length(clearance_m)} of {rim}{self.what}{self.when}."

    @property
    def strayed(self) -> str:
        """Say on which side it should not have been."""
        return self.verbs.outside if self.zone.rules.allowed_only_inside else self.verbs.inside

    @property
    def depth(self) -> str:
        """Say how far on the wrong side."""
        how = "away" if self.zone.rules.allowed_only_inside else "deep"
        return f"{format_length(-(self.row.clearance_m or 0.0))} {how}"


def explain(row: Row, zone: Zone, kind: TrackKind, demand: Demand, gaps: Sequence[Gap]) -> str:
    """Return the sentence (or two or three) for a row.

    Parameters
    ----------
    gaps : sequence of Gap
        Those in which the zone could have been reached.
    """
    case = Case(row=row, zone=zone, kind=kind, demand=demand)
    sentences = [_SENTENCES[row.status](case)]
    turned = zone.rules.allowed_only_inside
    if row.status is Status.UNDETERMINED:
        sentences += (
            [gap_sentence(gaps, case.what, zone.zone_id, turned=turned, seen=_deep(case))] if gaps else []
        )
        sentences.append(_to_settle(case))
    return " ".join(sentences)


def explain_silence(
    row: Row, zone: Zone, kind: TrackKind, demand: Demand, *, seconds: float, before: bool, longest_s: float
) -> str:
    """Return the sentences for a row of time beyond an end of the track, where the log has no position."""
    case = Case(row=row, zone=zone, kind=kind, demand=demand)
    who = "the vessel" if row.part is Part.VESSEL else "its gear"
    end = "before its first" if before else "after its last"
    could = "been outside" if zone.rules.allowed_only_inside else "been in or near"
    return (
        f"{_undetermined(case)} The log goes on for {format_duration(seconds)} {end} position without a valid"
        f" one; in that time {who} could have {could} {case.what}, for {format_duration(longest_s)} at"
        f" most. {TO_SETTLE['gap']}"
    )


def farther_off(zone: Zone) -> str:
    """Return what would settle it where gear is shot or hauled on a planned tow."""
    return _FARTHER_IN if zone.rules.allowed_only_inside else _FARTHER_OFF


def _to_settle(case: Case) -> str:
    if case.row.reason == "activity_unknown" and case.row.tow is not None:
        planned = case.kind is TrackKind.PLANNED
        return farther_off(case.zone) if planned else _SHOOTING_TO_SETTLE
    by_log = case.row.reason == "gap" and _seen_inside(case)  # without times no haul log fits the track
    return _INSIDE_TO_SETTLE if by_log else TO_SETTLE[case.row.reason]


def _seen_inside(case: Case) -> bool:
    """Say whether a row open for want of positions or times has some inside, where it may have towed."""
    open_for = case.row.reason in ("gap", "missing_times")
    return _deep(case) and open_for and case.row.activity is Activity.UNKNOWN


def _deep(case: Case) -> bool:
    """Say whether there are positions where the zone does not want them, beyond any doubt."""
    return case.row.clearance_m is not None and case.row.clearance_m < -case.demand.uncertainty_m


def _inside(case: Case) -> str:
    stays = case.row.inside
    known = [stay.seconds for stay in stays if stay.seconds is not None]
    spent = f" for {format_duration(sum(known))}" if known and len(known) == len(stays) else ""
    times = f" in {len(stays)} stays" if len(stays) > 1 else ""
    sentence = f"{case.who} {case.strayed} {case.what}{spent}{times}, at most {case.depth}{case.when}."
    if case.row.reason == "slow_transit" and case.row.activity is Activity.UNKNOWN:
        sentence += (
            f" Whether it was towing cannot be told, but it did not keep the"
            f" {case.zone.rules.transit_min_speed_kn:g} kn asked of who is not."
        )
    elif case.row.reason == "slow_transit":
        sentence += f" It did not keep the {case.zone.rules.transit_min_speed_kn:g} kn asked for."
    return sentence


def _too_close(case: Case) -> str:
    clearance_m = case.row.clearance_m or 0.0
    if clearance_m < 0.0:
        uncertainty = f"less than the uncertainty of {case.demand.uncertainty_m:.1f} m"
        return f"{case.nearest[:-1]}, {uncertainty}."
    if case.row.reason == "touched":
        return f"{case.who} {case.verbs.touched} {case.what}{case.when}.{how_often(case)}"
    margin_m = case.demand.margin_m
    short = f"{format_length(margin_m - clearance_m)} less than the margin of {format_length(margin_m)}"
    return f"{case.nearest[:-1]}: {short}.{how_often(case)}"


def how_often(case: Case) -> str:
    """Say that it happened more than once: who mends only the place named has not mended the tow."""
    count = len(case.row.close)
    if count < 2:
        return ""
    if case.demand.margin_m > 0.0:
        return f" It was under the margin on {count} separate stretches."
    return f" It did so {count} times in all."


DOUBTS = {
    "date_unknown": "Whether the rule held then is not known",
    "gear_unknown": "Whether the rule covers the gear is not known",
    "activity_unknown": "Whether its gear was in the water then cannot be told from its positions",
}


_DOWN = "Whether its gear is on the bottom then is not sure"


def _undetermined(case: Case) -> str:
    limit_kn = case.zone.rules.transit_min_speed_kn
    if case.row.reason == "position_error" and case.row.activity is Activity.NOT_TOWING and limit_kn:
        uncertainty = f"the uncertainty of {case.demand.uncertainty_m:.1f} m"
        slow = f"It may have been slower than the {limit_kn:g} kn asked for"
        return f"{case.nearest} {slow}, within {uncertainty}."
    if case.row.reason == "position_error":
        margin = format_length(case.demand.margin_m)
        uncertainty = f"the uncertainty of {case.demand.uncertainty_m:.1f} m"
        return f"{case.nearest} That is within {uncertainty} of the margin of {margin}."
    if case.row.reason == "activity_unknown" and case.kind is TrackKind.PLANNED:
        return f"{case.nearest} {_DOWN}."
    if case.row.reason in DOUBTS:
        rules = "; ".join(rule_words(case.zone.rules))
        return f"{case.nearest} {DOUBTS[case.row.reason]}{f' ({rules})' if rules else ''}."
    if case.row.clearance_m is None:
        return f"Whether the vessel kept clear of {case.what} is not proved."
    if _seen_inside(case):
        return f"{case.nearest} {DOUBTS['activity_unknown']}, and the positions do not cover all of it."
    return f"{case.nearest} But the positions do not cover all of it."


def _transit(case: Case) -> str:
    if case.row.reason == "kept_speed":
        limit = f"{case.zone.rules.transit_min_speed_kn:g} kn"
        return f"{case.who} {case.verbs.crossed} {case.what}, never slower than {limit}."
    return f"{case.who} {case.verbs.crossed} {case.what}; {_ONLY_TOWING}."


def _not_in_force(case: Case) -> str:
    rules = "; ".join(rule_words(case.zone.rules))
    why = "does not cover the gear" if case.row.reason == "gear" else "did not hold then"
    return f"{case.nearest} The rule {why}{f' ({rules})' if rules else ''}."


def _clear(case: Case) -> str:
    clearance_m, margin_m = case.row.clearance_m, case.demand.margin_m
    if clearance_m is not None and clearance_m < margin_m:
        return f"{case.nearest[:-1]}; {_ONLY_TOWING}."
    if clearance_m is None or margin_m == 0.0:
        return case.nearest
    return f"{case.nearest} That is {format_length(clearance_m - margin_m)} more than its margin."


_SENTENCES = {
    Status.INSIDE: _inside,
    Status.TOO_CLOSE: _too_close,
    Status.UNDETERMINED: _undetermined,
    Status.TRANSIT: _transit,
    Status.NOT_IN_FORCE: _not_in_force,
    Status.CLEAR: _clear,
}


def gap_sentence(
    gaps: Sequence[Gap],
    what: str,
    zone_id: str,
    *,
    turned: bool,
    who: str = "the vessel",
    seen: bool = False,
) -> str:
    """Say what gaps leave open of a zone; ``seen`` where it was seen on the wrong side of its boundary."""
    if seen and any(gap.seconds is None for gap in gaps):
        return "Without times it is open where else the vessel was between its fixes."
    if any(gap.seconds is None for gap in gaps):
        open_ = f"that it left {what}" if turned else what
        return (
            f"Without times it is open where the vessel was between its fixes; {open_} cannot be ruled out."
        )
    reaches = [(gap, next(r for r in gap.could_reach if r.zone_id == zone_id)) for gap in gaps]
    worst, reach = max(reaches, key=lambda pair: (pair[1].longest_inside_s, pair[0].seconds))
    start, end = format_time(worst.from_utc), format_time(worst.to_utc)
    more = f" (and {counted(len(gaps) - 1, 'more such gap')})" if len(gaps) > 1 else ""
    could = f"been outside {what} or near its limits" if turned else f"reached {what} or its margin"
    return (
        f"There are no positions from {start} to {end} ({format_duration(worst.seconds or 0.0)}){more}; "
        f"in that time {who} could have {could}, {_how(reach)}."
    )


def _how(reach: ZoneReach) -> str:
    tow = "long enough" if reach.tow_fits else "not long enough"
    return (
        f"at {reach.least_speed_kn:.1f} kn or more on average, for {format_duration(reach.longest_inside_s)}"
        f" at most, {tow} for a tow of {format_duration(LEAST_TOW_S)}"
    )
