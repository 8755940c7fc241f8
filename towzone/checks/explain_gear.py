"""One plain sentence (or a few) for each row of the gear."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from towzone.checks.explain import DOUBTS, TO_SETTLE, Case, farther_off, gap_sentence, how_often
from towzone.checks.passages import Demand
from towzone.checks.settings import GearProof
from towzone.gear.flags import FLAG_WORDS
from towzone.model.gear import GearTier
from towzone.model.result import Activity, Gap, Row, Status
from towzone.model.rule_words import rule_words
from towzone.model.track import TrackKind
from towzone.model.zone import Zone
from towzone.units import format_duration, format_length, format_position

__all__ = ["explain_gear"]

_TO_SETTLE_GEAR = {
    "gear_uncertainty": (
        "Better figures of the gear (above all warp out, and the current: vessel profile, haul log) or a "
        "wider berth would settle it."
    ),
    "rope_bound": "Only a wider berth, or taking the model for proof (--gear-proof model), would settle it.",
    "gear_not_computed": "",
}

_UNSEEN_TO_SETTLE = (
    "Only a wider berth would settle it: the model is no proof while the gear is shot or hauled, where it "
    "may be off the bottom, or where the vessel lay still."
)

_DOUBTS = {**DOUBTS, "activity_unknown": "Whether it was in the water then cannot be told from the positions"}
"""Of the gear, not of a vessel and its gear."""


class _Verbs(NamedTuple):
    """What gear did, of a completed track, or does, of a planned one; ``left`` is of an area to stay in."""

    where: str
    kept: str
    may_have_reached: str
    may_have_left: str
    may_have_come: str
    could_have_reached: str
    could_have_left: str


_VERBS = {
    TrackKind.COMPLETED: _Verbs(
        "the gear was while the vessel passed",
        "kept",
        "may have reached it",
        "may have left it",
        "may have come within",
        "could have reached it",
        "could have left it",
    ),
    TrackKind.PLANNED: _Verbs(
        "the gear is while the vessel passes",
        "keeps",
        "may reach it",
        "may leave it",
        "may come within",
        "could reach it",
        "could leave it",
    ),
}

_UNPROVED_MODEL = "How doors behave in turns was not found measured at sea."


def explain_gear(
    row: Row, zone: Zone, kind: TrackKind, demand: Demand, gaps: Sequence[Gap], *, why_not: str = ""
) -> str:
    """Return the sentences for a row of the gear.

    Parameters
    ----------
    gaps : sequence of Gap
        Those in which the gear could have reached the zone.
    why_not : str
        Why no path of the gear is known, in a sentence.
    """
    case = Case(row=row, zone=zone, kind=kind, demand=demand, subject=_subject(row, kind))
    sentences = [_SENTENCES[row.status](case, why_not)]
    if row.status is Status.UNDETERMINED:
        if gaps:
            turned = zone.rules.allowed_only_inside
            sentences.append(gap_sentence(gaps, case.what, zone.zone_id, turned=turned, who="its gear"))
        sentences.append(_settle(row, zone, kind))
    return " ".join(sentence for sentence in sentences if sentence)


def _subject(row: Row, kind: TrackKind) -> str:
    part = f" ({row.gear.nearest_part})" if row.gear is not None and row.gear.nearest_part else ""
    if kind is TrackKind.PLANNED and row.activity is Activity.UNKNOWN:
        return f"The gear{part}, being shot or hauled on the planned tow,"
    if kind is TrackKind.PLANNED:
        return f"The gear{part} on the planned tow"
    if row.tow is None:
        return "The gear, if it was out,"
    if row.activity is Activity.UNKNOWN:
        return f"The gear of tow {row.tow}{part}, being shot or hauled,"
    return f"The gear of tow {row.tow}{part}"


def _settle(row: Row, zone: Zone, kind: TrackKind) -> str:
    if row.reason == "activity_unknown" and kind is TrackKind.PLANNED:
        return f"{farther_off(zone)}{_berth(row, zone)}"
    if row.reason == "activity_unknown" and row.tow is not None:
        return "Only knowing when the gear came to the bottom and left it would settle it."
    if row.reason == "rope_bound" and row.gear is not None and row.gear.sigmas == GearProof.MODEL.sigmas:
        return _UNSEEN_TO_SETTLE + _berth(row, zone)
    if row.reason in ("rope_bound", "gear_uncertainty"):
        return _TO_SETTLE_GEAR[row.reason] + _berth(row, zone)
    return {**TO_SETTLE, **_TO_SETTLE_GEAR}[row.reason]


def _berth(row: Row, zone: Zone) -> str:
    """Say how much farther off the vessel would have to be for the length of the rope to prove it."""
    if row.gear is None or row.gear.rope_clearance_m is None:
        return ""
    where = "farther inside" if zone.rules.allowed_only_inside else "farther off"
    return f" Passing {format_length(row.margin_m - row.gear.rope_clearance_m)} {where} proves it."


def _inside(case: Case, _: str) -> str:
    known = [stay.seconds for stay in case.row.inside if stay.seconds is not None]
    spent = f" for {format_duration(sum(known))}" if known and len(known) == len(case.row.inside) else ""
    return f"{case.who} {case.strayed} {case.what}{spent}, at most {case.depth}{case.when}.{_flags(case)}"


def _too_close(case: Case, _: str) -> str:
    clearance_m = case.row.clearance_m or 0.0
    if clearance_m < 0.0:
        uncertainty = f"less than the uncertainty of {case.demand.uncertainty_m:.0f} m of where it was"
        return f"{case.nearest[:-1]}, {uncertainty}.{_flags(case)}"
    if case.row.reason == "touched":
        return f"{case.who} {case.verbs.touched} {case.what}{case.when}.{how_often(case)}{_flags(case)}"
    margin_m = case.demand.margin_m
    short = f"{format_length(margin_m - clearance_m)} less than the margin of {format_length(margin_m)}"
    return f"{case.nearest[:-1]}: {short}.{how_often(case)}{_flags(case)}"


def _undetermined(case: Case, why_not: str) -> str:
    row, reach = case.row, case.row.gear
    if row.reason == "gear_not_computed" and why_not:
        return f"Whether the gear {_verbs(case).kept} clear of {case.what} is not computed: {why_not}"
    if row.reason == "activity_unknown" and case.kind is TrackKind.PLANNED:
        return f"{_nearest(case)} Whether it is on the bottom then is not sure.{_rope(case)}"
    if row.reason in _DOUBTS:
        rules = "; ".join(rule_words(case.zone.rules))
        return f"{_nearest(case)} {_DOUBTS[row.reason]}{f' ({rules})' if rules else ''}.{_rope(case)}"
    if row.reason == "gear_uncertainty" and reach is not None:
        likely_m = reach.likely_clearance_m or 0.0
        limits = " of its limits" if case.zone.rules.allowed_only_inside else ""
        far = f"{_verbs(case).may_have_come} {format_length(likely_m)}{limits}"
        if likely_m <= 0.0:
            far = _verbs(case).may_have_left if limits else _verbs(case).may_have_reached
        margin = "" if row.margin_m == 0.0 else f"; the margin is {format_length(row.margin_m)}"
        place = f" at {format_position(*reach.likely_at)}" if reach.likely_at is not None else ""
        return f"{case.nearest} Allowing for the spread of its figures it {far}{place}{margin}.{_flags(case)}"
    if row.reason == "rope_bound":
        return f"{_nearest(case)}{_likely(case)}{_rope(case)}{_flags(case)}"
    if row.clearance_m is None:
        return f"Whether the gear {_verbs(case).kept} clear of {case.what} is not proved."
    return f"{case.nearest} But the positions do not cover all of it."


def _nearest(case: Case) -> str:
    if case.row.clearance_m is not None:
        return case.nearest
    return f"Where {_verbs(case).where} {case.what} is not known."


def _verbs(case: Case) -> _Verbs:
    return _VERBS[case.kind]


def _likely(case: Case) -> str:
    reach = case.row.gear
    if reach is None or reach.likely_clearance_m is None:
        return ""
    return (
        f" Allowing for {reach.sigmas:g} standard deviations of its figures it {_verbs(case).kept}"
        f" {format_length(reach.likely_clearance_m)}."
    )


def _rope(case: Case) -> str:
    """Say what the length of the rope leaves open."""
    reach = case.row.gear
    if reach is None or reach.rope_clearance_m is None:
        return ""
    alone = " By the length of warp, sweeps and net alone it"
    if reach.rope_clearance_m <= 0.0:
        left = case.zone.rules.allowed_only_inside
        return f"{alone} {_verbs(case).could_have_left if left else _verbs(case).could_have_reached}."
    less = ", less than the margin" if reach.rope_clearance_m < case.row.margin_m else ""
    return f"{alone} {_verbs(case).kept} {format_length(reach.rope_clearance_m)}{less}."


def _flags(case: Case) -> str:
    """Say what the model does not know there."""
    kinds = case.row.gear.flags if case.row.gear is not None else ()
    return "".join(f" {FLAG_WORDS[kind]}" for kind in kinds)


def _not_in_force(case: Case, _: str) -> str:
    rules = "; ".join(rule_words(case.zone.rules))
    why = "does not cover the gear" if case.row.reason == "gear" else "did not hold then"
    return f"{_nearest(case)} The rule {why}{f' ({rules})' if rules else ''}."


def _clear(case: Case, _: str) -> str:
    row, reach = case.row, case.row.gear
    tail = ""
    if row.clearance_m is not None and row.margin_m > 0.0:
        tail = f" That is {format_length(row.clearance_m - row.margin_m)} more than its margin."
    if reach is not None and reach.tier is GearTier.NOT_RULED_OUT:
        return f"{_nearest(case)}{tail}{_likely(case)} {_BY_MODEL}{_rope(case)}"
    return f"{_nearest(case)}{tail}{_rope(case)}"


_BY_MODEL = f"That rests on the model of the gear's path. {_UNPROVED_MODEL}"

_SENTENCES = {
    Status.INSIDE: _inside,
    Status.TOO_CLOSE: _too_close,
    Status.UNDETERMINED: _undetermined,
    Status.TRANSIT: _not_in_force,
    Status.NOT_IN_FORCE: _not_in_force,
    Status.CLEAR: _clear,
}
