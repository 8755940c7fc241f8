"""The section on a plan: how each line came out, what to do, the corrected line, times and clearances."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from towzone.model.plan import Advice, LinePlan, NoLine, PlanAccount
from towzone.model.result import CheckResult, Outcome, Part, Status
from towzone.plan.advice.told import length_words
from towzone.plan.route.footprint import SHARPEST_DEG
from towzone.plan.telling import (
    Spare,
    corrected_of,
    least_spare,
    letter_of,
    on_board,
    season_in_it,
    sharp_turns,
    steered_exactly,
    worst_of,
)
from towzone.record.catalogue import markup, say, say_count
from towzone.record.clock import LocalClock
from towzone.record.sections.plain_table import plain_table, unbroken
from towzone.record.sections.plan_tables import corners_part, margins_part, season_sentence, timetable_part
from towzone.record.sections.plan_words import (
    corrected_sentence,
    line_sentence,
    spare_length,
    turn,
    zone_names,
)
from towzone.record.sections.told import Teller, teller
from towzone.record.text import SENTENCE, escape, short, shown
from towzone.record.words import STATUS
from towzone.units import NAUTICAL_MILE_M, format_position

__all__ = ["plan_part"]

_NONE = "–"
_NAME = 80
"""Characters of the name of a line. Own choice."""

_HOUR_S = 3600.0

_TO_DO = ("corrected", "advice")


def plan_part(result: CheckResult, clock: LocalClock) -> str:
    """Return the section as HTML; empty for a result without a plan."""
    account = result.plan
    if account is None:
        return ""
    # Each line stands under its own name.
    tell = replace(teller(result), several=False)
    several = len(account.lines) > 1
    items = "".join(
        f"<li>{_answer(plan, result, tell, clock, several=several)}</li>" for plan in account.lines
    )
    parts = [_comparison(account, result)] if several else []
    for number, plan in enumerate(account.lines):
        parts.append(_of_line(number, plan, account, result, clock))
    title, lines = escape(say("plan.title")), escape(say("plan.lines"))
    exactly = f'<p class="note">{escape(say("plan.exactly"))}</p>\n' if steered_exactly(result) else ""
    unknown = " ".join(shown(sentence, SENTENCE) for sentence in account.not_known)
    known = f"<strong>{escape(say('plan.not_known.title'))}</strong> {unknown}"
    return (
        f'<section id="plan" aria-labelledby="plan-title"><h2 id="plan-title">{title}</h2>\n'
        f'<ul class="plan-lines" aria-label="{lines}">{items}</ul>\n{exactly}'
        + "\n".join(parts)
        + f'\n<p class="unknowns">{known}</p></section>\n'
    )


def _answer(plan: LinePlan, result: CheckResult, tell: Teller, clock: LocalClock, *, several: bool) -> str:
    """Return how a line came out, and what became of a corrected one.

    Of a single line the box of the answer has just told what is wrong.
    """
    said = [_season(plan, result, clock), _turns(plan), corrected_sentence(plan, result)]
    if isinstance(plan.corrected, NoLine):
        said.append(_no_line(plan.corrected, result))
    if several or plan.corrected is None:
        said = [_badge(plan, result), line_sentence(plan, result, tell), *said]
    return " ".join(text for text in said if text)


def _season(plan: LinePlan, result: CheckResult, clock: LocalClock) -> str:
    """Return that the rule which is broken begins or ends while the gear is out; empty if it does not."""
    worst = worst_of(result, plan.track_id)
    if worst is None or result.outcome_of(plan.track_id) is Outcome.CLEAR:
        return ""
    change = season_in_it(plan, worst.zone_id)
    return "" if change is None else season_sentence(change, result, clock)


def _turns(plan: LinePlan) -> str:
    """Return which turns of a wanted line are sharper than the gear surely stands; empty for none."""
    sharp = sharp_turns(plan.timetable)
    if not sharp:
        return ""
    turns = ", ".join(
        markup("plan.line.sharp_turn", leg=str(leg.number), turn=turn(leg.turn_deg)) for leg in sharp
    )
    return markup("plan.line.sharp", limit=f"{SHARPEST_DEG:.0f}", turns=turns)


def _badge(plan: LinePlan, result: CheckResult) -> str:
    worst = worst_of(result, plan.track_id)
    status = worst.status if worst is not None else Status.CLEAR
    return f'<span class="row-badge s-{status}">{escape(STATUS[status])}</span>'


def _no_line(none: NoLine, result: CheckResult) -> str:
    said = [markup("plan.line.none", words=shown(none.words, SENTENCE))]
    if none.zone_ids:
        said.append(markup("plan.line.zones", zones=zone_names(none.zone_ids, result)))
    if none.lon_deg is not None and none.lat_deg is not None:
        place = unbroken(format_position(none.lon_deg, none.lat_deg))
        if none.width_m is not None and none.needed_m is not None:
            width, needed = unbroken(length_words(none.width_m)), unbroken(length_words(none.needed_m))
            said.append(markup("plan.line.narrowest_lengths", place=place, width=width, needed=needed))
        else:
            said.append(markup("plan.line.place", place=place))
    return " ".join(said)


def _comparison(account: PlanAccount, result: CheckResult) -> str:
    heads = [
        *("line", "outcome", "vessel", "gear", "length", "hours", "litres", "turns", "corrected", "show")
    ]
    rows = [_compared(n, plan, account, result) for n, plan in enumerate(account.lines)]
    # Fuel is told of all lines or of none: it is the profile that says what an hour takes.
    if all(plan.timetable.fuel is None for plan in account.lines):
        heads.remove("litres")
        rows = [row[:6] + row[7:] for row in rows]
    table = plain_table(say("plan.compare.caption"), [say(f"plan.compare.{head}") for head in heads], rows)
    return f'<div class="compared">{table}</div>'


def _compared(number: int, plan: LinePlan, account: PlanAccount, result: CheckResult) -> tuple[str, ...]:
    worst = worst_of(result, plan.track_id)
    status = worst.status if worst is not None else Status.CLEAR
    vessel, gear = (least_spare(result, plan.track_id, plan.margins, part) for part in Part)
    times, fuel = plan.timetable, plan.timetable.fuel
    letter = escape(letter_of(number, len(account.lines)))
    return (
        f"<strong>{letter}</strong> {shown(plan.line.name, _NAME)}",
        f'<span class="status s-{status}">{escape(STATUS[status])}</span>',
        _spare(vessel, result),
        _spare(gear, result),
        unbroken(f"{times.length_m / NAUTICAL_MILE_M:.2f} nmi"),
        unbroken(f"{times.whole_seconds / _HOUR_S:.1f}"),
        _NONE if fuel is None else unbroken(say("plan.compare.fuel", litres=f"{fuel.litres:.0f}")),
        str(sum(leg.turn_deg is not None for leg in times.legs)),
        _corrected_by(plan, result),
        _show(plan, result),
    )


def _spare(spare: Spare | None, result: CheckResult) -> str:
    if spare is None:
        return _NONE
    return f'{spare_length(spare)} <span class="second">{zone_names([spare.zone_id], result)}</span>'


def _corrected_by(plan: LinePlan, result: CheckResult) -> str:
    corrected = corrected_of(plan)
    if corrected is not None:
        key = "shorter" if corrected.longer_m < 0.0 else "longer"
        length = f"{abs(corrected.longer_m) / NAUTICAL_MILE_M:.2f} nmi"
        return escape(say(f"plan.compare.{key}", length=length))
    if result.outcome_of(plan.track_id) is Outcome.CLEAR:
        return escape(say("plan.compare.none_needed"))
    return escape(say(f"plan.compare.{'none' if isinstance(plan.corrected, NoLine) else 'not_asked'}"))


def _show(plan: LinePlan, result: CheckResult) -> str:
    """Return the button that shows a line on the chart."""
    track = next(i for i, track in enumerate(result.tracks) if track.track_id == plan.track_id)
    tow = next((tow.number for tow in result.tows if tow.track_id == plan.track_id), None)
    if tow is None:
        return _NONE
    label = escape(say("plan.show_line", track=short(plan.line.name, _NAME)))
    return (
        f'<button type="button" class="show-tow" data-track="{track}" data-tow="{tow}" '
        f'aria-label="{label}">{escape(say("plan.show"))}</button>'
    )


def _of_line(
    number: int, plan: LinePlan, account: PlanAccount, result: CheckResult, clock: LocalClock
) -> str:
    """Return what folds of one line; where there are several lines, all of it folds as one."""
    letter = letter_of(number, len(account.lines))
    folds = dict(_folds(plan, letter, result, clock))
    # What to do stands side by side where there is room, so that the chart is not far below.
    to_do = "\n".join(folds[name] for name in _TO_DO if name in folds)
    beside = f'<div class="plan-do">{to_do}</div>\n' if to_do else ""
    inner = beside + "\n".join(fold for name, fold in folds.items() if name not in _TO_DO)
    if not letter:
        return inner
    title = f"<h3>{escape(letter)} {shown(plan.line.name, _NAME)}</h3>"
    brief = ", ".join(say(f"plan.fold.{name}") for name in folds)
    return (
        f'<details class="plan-part"><summary>{title} '
        f'<span class="how-many">{escape(brief)}</span></summary>\n{inner}\n</details>'
    )


def _folds(plan: LinePlan, letter: str, result: CheckResult, clock: LocalClock) -> Iterator[tuple[str, str]]:
    """Yield by name the corrected line, the advice, the times and the clearances of one line.

    What to do stands open, what it rests on is folded.
    """
    corrected = corrected_of(plan)
    if corrected is not None:
        title = escape(say("plan.corrected.title"))
        brief = say_count("plan.corrected.how_many", len(corrected.line))
        yield "corrected", _fold("corrected", title, brief, corners_part(corrected, letter), is_open=True)
    if plan.advice:
        items = "".join(f"<li>{_advice(advice, result, clock)}</li>" for advice in plan.advice)
        note = f'<p class="note">{escape(say("plan.advice.checked"))}</p>'
        brief = say_count("plan.advice.how_many", len(plan.advice))
        title = escape(say("plan.advice.title"))
        yield "advice", _fold("advice", title, brief, f"{note}<ol>{items}</ol>", is_open=True)
    if corrected is not None:
        brief, times = timetable_part(corrected.timetable, result, clock)
        yield (
            "times_corrected",
            _fold("times-corrected", escape(say("plan.times.title_corrected")), brief, times),
        )
    brief, times = timetable_part(plan.timetable, result, clock)
    yield "times", _fold("times", escape(say("plan.times.title")), brief, times)
    if plan.margins:
        brief = say_count("plan.margins.how_many", len(plan.margins))
        title = escape(say("plan.margins.title"))
        yield "margins", _fold("margins", title, brief, margins_part(plan, result))


def _fold(name: str, title: str, brief: str, content: str, *, is_open: bool = False) -> str:
    opened = " open" if is_open else ""
    return (
        f'<details class="plan-part of-{name}"{opened}><summary><strong>{title}</strong> '
        f'<span class="how-many">{escape(brief)}</span></summary>\n{content}\n</details>'
    )


def _advice(advice: Advice, result: CheckResult, clock: LocalClock) -> str:
    said = [
        shown(on_board(advice.words, clock.zone), SENTENCE),
        f"<strong>{_effect(advice, result)}</strong>",
    ]
    if advice.line is not None:
        corners = zip(advice.line.lon_deg.tolist(), advice.line.lat_deg.tolist(), strict=True)
        places = "; ".join(unbroken(format_position(lon_deg, lat_deg)) for lon_deg, lat_deg in corners)
        label = escape(say("plan.advice.line"))
        said.append(
            f'<details class="advised"><summary>{label}</summary><p class="second">{places}</p></details>'
        )
    return " ".join(said)


def _effect(advice: Advice, result: CheckResult) -> str:
    zones = zone_names(advice.clears, result)
    if advice.whole:
        return markup("plan.advice.whole", zones=zones) if zones else markup("plan.advice.whole_bare")
    if zones:
        return markup("plan.advice.part", zones=zones)
    about = zone_names(advice.zone_ids, result)
    said = markup("plan.advice.about", zones=about) if about else markup("plan.advice.about_line")
    return f"{said} {markup('plan.advice.alone')}" if advice.line is not None else said
