"""What the record says of planned lines: how each came out, how much longer another is, what is to spare."""

from __future__ import annotations

from collections.abc import Sequence

from towzone.model.plan import CorrectedLine, LinePlan, ZoneMargin
from towzone.model.result import CheckResult, Outcome, Part, Row, Status
from towzone.plan.advice.told import length_words
from towzone.plan.judging import OPEN
from towzone.plan.telling import (
    Spare,
    clear_by_model,
    corrected_of,
    least_of,
    least_spare,
    missed_corners,
    rows_of,
    worst_of,
)
from towzone.record.catalogue import markup, markup_count, say, say_count
from towzone.record.sections.plain_table import unbroken
from towzone.record.sections.told import Teller
from towzone.record.text import escape, shown
from towzone.record.words import brief_length
from towzone.units import NAUTICAL_MILE_M, format_duration

__all__ = [
    "beside",
    "corrected_sentence",
    "counted_in",
    "degrees",
    "line_sentence",
    "longer",
    "metres",
    "spare_length",
    "turn",
    "zone_names",
]

_NAME = 80
"""Characters of the name of a line or zone in a sentence. Own choice."""

_STRAIGHT_DEG = 0.05
"""A change of course that would be printed as 0.0 degrees."""


def line_sentence(plan: LinePlan, result: CheckResult, tell: Teller) -> str:
    """Return how a line came out, as HTML."""
    name = f"<strong>{shown(plan.line.name, _NAME)}</strong>"
    return markup("plan.line.said", name=name, what=_verdict(plan, result, tell))


def corrected_sentence(plan: LinePlan, result: CheckResult) -> str:
    """Return that there is a corrected line, and how much longer it is, as HTML; empty for none."""
    corrected = corrected_of(plan)
    if corrected is None:
        return ""
    how = escape(say(f"plan.how.{_how(corrected.track_id, result)}"))
    aside = unbroken(length_words(corrected.aside_m))
    spare = _spare(corrected.track_id, corrected.margins, result)
    missed = "".join(
        markup("plan.line.missed", corner=str(number), distance=unbroken(length_words(metres)))
        for number, metres in missed_corners(corrected)
    )
    told = {"how": how, "longer": escape(longer(corrected)), "aside": aside, "missed": missed}
    return markup("plan.line.corrected", **told, spare=spare)


def _verdict(plan: LinePlan, result: CheckResult, tell: Teller) -> str:
    worst = worst_of(result, plan.track_id)
    if worst is None:
        reach = unbroken(f"{float(str(result.settings['reach_m'])) / NAUTICAL_MILE_M:g} nmi")
        return markup_count("plan.line.nothing_near", len(result.zones), reach=reach)
    if result.outcome_of(plan.track_id) is Outcome.CLEAR:
        free, spare = _free(plan, result), _spare(plan.track_id, plan.margins, result)
        how = f"{_how(plan.track_id, result)}{'_free' if free else ''}"
        return markup(f"plan.verdict.{how}", free=free, spare=spare)
    count = sum(row.status in OPEN for row in rows_of(result, plan.track_id)) - 1
    more = markup_count("plan.verdict.more", count) if count else ""
    return markup("plan.verdict.found", worst=tell.did(worst), more=more)


def _how(track_id: str, result: CheckResult) -> str:
    if result.gear_unchecked:
        return "vessel_only"
    return "by_model" if clear_by_model(result, track_id) else "proved"


def _free(plan: LinePlan, result: CheckResult) -> str:
    """Return which zone it goes inside or close to where no rule forbids that; empty for none."""
    rows = rows_of(result, plan.track_id)
    free: list[Row] = [row for row in rows if row.status in (Status.TRANSIT, Status.NOT_IN_FORCE)]
    return markup("plan.verdict.free", zone=zone_names([free[0].zone_id], result)) if free else ""


def _spare(track_id: str, margins: Sequence[ZoneMargin], result: CheckResult) -> str:
    known = [least_spare(result, track_id, margins, part) for part in Part]
    least = least_of(spare for spare in known if spare is not None)
    if least is None:
        return ""
    return markup(
        "plan.verdict.spare",
        length=spare_length(least),
        zone=zone_names([least.zone_id], result),
        measure=escape(say(f"plan.measure.{least.measure}")),
    )


def longer(corrected: CorrectedLine) -> str:
    """Return how much longer, or shorter, a corrected line is; our own words only."""
    key = "shorter" if corrected.longer_m < 0.0 else "longer"
    values = {
        "length": f"{abs(corrected.longer_m) / NAUTICAL_MILE_M:.2f} nmi",
        "time": format_duration(abs(corrected.longer_s)),
    }
    if corrected.more_litres is None:
        return say(f"plan.longer.{key}", **values)
    return say(f"plan.longer.{key}_fuel", **values, litres=f"{abs(corrected.more_litres):.0f}")


def beside(result: CheckResult) -> str:
    """Return what stands beside the headline of corrected lines, as HTML; empty where there are none.

    It says first that the headline is about the lines that were asked for, so that nobody takes them for
    clear.
    """
    plans = result.plan.lines if result.plan is not None else ()
    corrected = [line for line in map(corrected_of, plans) if line is not None]
    if not corrected:
        return ""
    if len(plans) > 1:
        said = markup_count("plan.beside.many", len(corrected))
    else:
        how = escape(say(f"plan.how.{_how(corrected[0].track_id, result)}"))
        key = "shorter" if corrected[0].longer_m < 0.0 else "longer"
        length = unbroken(f"{abs(corrected[0].longer_m) / NAUTICAL_MILE_M:.2f} nmi")
        said = markup(f"plan.beside.one_{key}", how=how, length=length)
    return f'<p class="corrected-beside">{said}</p>\n'


def counted_in(result: CheckResult) -> str:
    """Return that corrected lines are counted in; empty where there are none. Our own words only."""
    plans = result.plan.lines if result.plan is not None else ()
    count = sum(corrected_of(plan) is not None for plan in plans)
    return say_count("plan.beside.counted", count) if count else ""


def zone_names(zone_ids: Sequence[str], result: CheckResult) -> str:
    """Return zones by their names, as HTML."""
    names = {zone.zone_id: zone.name for zone in result.zones}
    return ", ".join(shown(names.get(zone_id, zone_id), _NAME) for zone_id in zone_ids)


def metres(length_m: float | None) -> str:
    """Return a length as HTML on one line: metres below a nautical mile, also where it falls short."""
    if length_m is None:
        return escape(say("shared.not_known"))
    sign = "-" if length_m < 0.0 else ""
    return unbroken(f"{sign}{brief_length(abs(length_m))}")


def spare_length(spare: Spare) -> str:
    """Return what is spare as HTML, with that it may be less."""
    length = metres(spare.spare_m)
    return markup("plan.spare.or_less", length=length) if spare.or_less else length


def degrees(course_deg: float) -> str:
    """Return a true course as HTML on one line.

    Examples
    --------
    >>> degrees(80.04), degrees(359.97)
    ('<span class="nb">080.0°</span>', '<span class="nb">000.0°</span>')
    """
    return unbroken(f"{round(course_deg, 1) % 360.0:05.1f}°")


def turn(turn_deg: float | None) -> str:
    """Return a change of course as HTML; a dash at the end of a line."""
    if turn_deg is None:
        return "–"
    if abs(turn_deg) < _STRAIGHT_DEG:
        return escape(say("plan.turn.none"))
    side = "starboard" if turn_deg > 0.0 else "port"
    return escape(say(f"plan.turn.{side}", degrees=f"{abs(turn_deg):.1f}"))
