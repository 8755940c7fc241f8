"""A plan as text: the answer, what would mend it, what is not clear, times, clearances."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from towzone.caution import CAUTION
from towzone.model.plan import LinePlan, PlanAccount, ZoneMargin
from towzone.model.result import CheckResult, Outcome, Part, Status
from towzone.plan.telling import (
    Spare,
    clear_by_model,
    corrected_of,
    least_of,
    least_spare,
    letter_of,
    rows_of,
    spare_of,
    spares_of_zone,
    steered_exactly,
    wanted_ids,
    worst_of,
)
from towzone.tables.cells import plain
from towzone.tables.gear_words import gear_lines
from towzone.tables.plan_times import timetable_lines
from towzone.tables.plan_words import OUTCOME_WORDS, advice_lines, answer_lines, corrected_lines
from towzone.tables.row_lines import row_block, row_line, wrapped, zone_named
from towzone.units import NAUTICAL_MILE_M, format_length
from towzone.words import counted

__all__ = ["plan_text"]

_COMPARED = "  {:<22} {:<12} {:>10} {:>10}  {:<14} {:>6} {:>6} {:>6} {:>5}  {}"
_MARGINS = "  {:<32} {:>8} {:>8} {:>8} {:>8}  {:<16} {:>8} {:>4}"
_NAME_SHOWN, _ZONE_SHOWN, _ZONES_SHOWN = 22, 32, 14
"""Columns of names in tables: longer ones are cut, and stand in full elsewhere. Own choice."""

_HOUR_S = 3600.0


def plan_text(result: CheckResult, plan: PlanAccount, *, verbose: bool) -> str:
    """Return a plan for people; names from files are shown without control characters.

    One line is told in full. Of several a table that compares them comes first, and the timetables only with
    ``verbose``.
    """
    several = len(plan.lines) > 1
    full = verbose or not several
    letters = [letter_of(number, len(plan.lines)) for number in range(len(plan.lines))]
    lettered = list(zip(letters, plan.lines, strict=True))
    lines = [*_comparison(lettered, result), *_reckoned(result), ""] if several else []
    for letter, one in lettered:
        lines += answer_lines(one, letter, result)
        lines += [*([] if several else _reckoned(result)), ""]
        lines += _of_line(one, result, full=full, verbose=verbose)
    if not full:
        lines += ["-v tells timetable and margins of each line.", ""]
    lines += gear_lines(_wanted_gear(result), verbose=verbose)
    lines += ["Not known to any plan:", *(wrapped(f"- {one}", "  ") for one in plan.not_known), ""]
    lines += ["Assumed:", *(wrapped(f"- {assumption}", "  ") for assumption in result.assumptions)]
    return "\n".join([*lines, "", wrapped(CAUTION, "")]) + "\n"


def _reckoned(result: CheckResult) -> Iterator[str]:
    """Say what the answers do not rest on, so that nobody takes them for more."""
    if result.gear_unchecked:
        yield wrapped(
            "Only the vessel was planned for, not the gear far astern of it. Write its figures into a vessel "
            "profile (towzone vessel).",
            "",
        )
    elif any(clear_by_model(result, track.track_id) for track in result.tracks):
        yield wrapped(
            "Where the gear is clear, it is by the model of its path, not by the length of its rope.", ""
        )
    if steered_exactly(result):
        yield "Nothing is allowed for steering off the line: state that with --steering, such as 30m."


def _of_line(plan: LinePlan, result: CheckResult, *, full: bool, verbose: bool) -> Iterator[str]:
    yield from corrected_lines(plan, result)
    yield from advice_lines(plan, result, verbose=verbose)
    yield from _rows(plan.track_id, result, verbose=verbose)
    if full:
        yield "Timetable:"
        yield from (*timetable_lines(plan.timetable, result), "")
        yield from _margins(plan, result)
    corrected = corrected_of(plan)
    if corrected is not None and verbose:
        yield f"Timetable of the corrected line '{plain(corrected.track_id)}':"
        yield from (*timetable_lines(corrected.timetable, result), "")
        yield from _rows(corrected.track_id, result, verbose=True)


def _comparison(plans: Sequence[tuple[str, LinePlan]], result: CheckResult) -> Iterator[str]:
    """Yield a table of all lines; spare is what is left beyond the margin."""
    yield "  " + " " * 36 + "least to spare, m"
    heads = ("line", "outcome", "vessel", "gear", "of zone", "nmi", "hours", "litres", "turns", "corrected")
    yield _COMPARED.format(*heads).rstrip()
    for letter, one in plans:
        row = worst_of(result, one.track_id)
        vessel, gear = (least_spare(result, one.track_id, one.margins, part) for part in Part)
        least = least_of(spare for spare in (vessel, gear) if spare is not None)
        fuel, times = one.timetable.fuel, one.timetable
        yield _COMPARED.format(
            f"{letter} {_cut_middle(one.line.name, _NAME_SHOWN - 2)}",
            OUTCOME_WORDS[row.status] if row is not None else "CLEAR",
            _spare(vessel),
            _spare(gear),
            _cut(least.zone_id, _ZONES_SHOWN) if least is not None else "-",
            f"{times.length_m / NAUTICAL_MILE_M:.2f}",
            f"{times.whole_seconds / _HOUR_S:.1f}",
            f"{fuel.litres:.0f}" if fuel is not None else "-",
            sum(leg.turn_deg is not None for leg in times.legs),
            _longer(one, result),
        )


def _longer(plan: LinePlan, result: CheckResult) -> str:
    """Say how much longer the corrected line is, or why there is none to compare."""
    corrected = corrected_of(plan)
    if corrected is not None:
        return f"{corrected.longer_m / NAUTICAL_MILE_M:+.2f} nmi"
    if result.outcome_of(plan.track_id) is Outcome.CLEAR:
        return "none needed"
    return "not asked for" if plan.corrected is None else "none"


def _margins(plan: LinePlan, result: CheckResult) -> Iterator[str]:
    if not plan.margins:
        return
    yield "Least clearance of each zone, metres (spare: the least of them beyond the margin;"
    yield "reached: so far or farther, which is not computed; no rule: none that forbids it holds then):"
    heads = ("zone", "margin", "vessel", "gear", "likely", "worst current", "spare", "leg")
    yield _MARGINS.format(*heads)
    for margin in plan.margins:
        yield _margin(margin, plan.track_id, result)
    errors = [row.uncertainty_m for row in rows_of(result, plan.track_id) if row.part is Part.VESSEL]
    if errors:
        yield wrapped(
            f"Errors of position, steering and zones, up to {format_length(max(errors))}, are not taken off "
            "the vessel's clearance here; the outcome allows for them.",
            "  ",
            first="  ",
        )
    yield ""


def _margin(margin: ZoneMargin, track_id: str, result: CheckResult) -> str:
    spare = spare_of(result, track_id, margin)
    told = _spare(spare) if spare is not None or not any(spares_of_zone(margin)) else "no rule"
    reached = margin.likely_m is not None and margin.likely_m <= 0.0
    current = _metres(margin.set_m)
    if margin.set_m is not None and margin.set_deg is not None:
        current += f" to {margin.set_deg:03.0f}°"
    return _MARGINS.format(
        _cut(zone_named(margin.zone_id, result), _ZONE_SHOWN),
        f"{margin.margin_m:.1f}",
        _metres(margin.vessel_m),
        _metres(margin.gear_m),
        "reached" if reached else _metres(margin.likely_m),
        current,
        told,
        margin.leg if margin.leg is not None else "-",
    )


def _rows(track_id: str, result: CheckResult, *, verbose: bool) -> Iterator[str]:
    rows = rows_of(result, track_id)
    clear = [row for row in rows if row.status is Status.CLEAR]
    if len(clear) < len(rows):
        yield "Found in the check, worst first:"
    for number, row in enumerate((row for row in rows if row.status is not Status.CLEAR), start=1):
        yield from (*row_block(number, row, result), "")
    if clear and verbose:
        yield from (*(row_line(row, result) for row in clear), "")
    elif clear:
        yield from (f"{counted(len(clear), 'row')} clear (-v lists them)", "")


def _wanted_gear(result: CheckResult) -> CheckResult:
    """Return the result with the gear of the wanted lines only; the record tells that of corrected ones."""
    if result.gear is None:
        return result
    wanted = wanted_ids(result)
    tows = tuple(tow for tow in result.gear.tows if tow.track_id in wanted)
    return replace(result, gear=replace(result.gear, tows=tows))


def _spare(spare: Spare | None) -> str:
    """Return what is spare, with a sign where it may be less."""
    return "-" if spare is None else f"{'≤ ' if spare.or_less else ''}{_metres(spare.spare_m)}"


def _metres(length_m: float | None) -> str:
    return "-" if length_m is None else f"{length_m + 0.0:.1f}"


def _cut(text: str, columns: int) -> str:
    text = plain(text)
    return text if len(text) <= columns else f"{text[: columns - 3]}..."


def _cut_middle(text: str, columns: int) -> str:
    """Return a name of a line: of two of one file the ends differ."""
    text = plain(text)
    if len(text) <= columns:
        return text
    head = (columns - 3) // 3
    return f"{text[:head]}...{text[-(columns - 3 - head) :]}"
