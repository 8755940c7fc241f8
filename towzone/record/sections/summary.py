"""The first screen: the answer, where the worst of it is, what is not known, and the caution."""

from __future__ import annotations

from collections.abc import Iterator

from towzone.caution import CAUTION
from towzone.model.result import FINDINGS, CheckResult, DisagreementKind, Gap, Outcome, Part, Row
from towzone.model.track import TrackKind
from towzone.model.zone import Zone
from towzone.record.catalogue import markup, markup_count, say
from towzone.record.clock import LocalClock
from towzone.record.sections.headline import headline, look, outcome_sentence, worst_move, worst_row
from towzone.record.sections.plain_table import unbroken
from towzone.record.sections.plan_words import beside
from towzone.record.sections.told import Teller, teller
from towzone.record.sections.top import page_top, verdict_shape
from towzone.record.sections.track_words import track_word
from towzone.record.sections.unproved import unproved
from towzone.record.text import escape, shown
from towzone.record.words import PART, PROHIBITED
from towzone.units import format_position

__all__ = ["summary"]

_MOST_TRACKS = 4
_MOST_PROBLEMS = 2
"""Beside the one that the headline tells. Own choice: the chart has to begin on the first screen."""


def summary(result: CheckResult, clock: LocalClock) -> str:
    """Return the head of the page, from the title to the caution, as HTML."""
    tell = teller(result)
    return (
        f"{_top(result)}\n<main>\n{_answer(result, tell, clock)}\n{unproved(result, tell)}\n"
        f'<p class="caution"><strong>{escape(say("page.caution.title"))}</strong> {escape(CAUTION)}</p>\n'
    )


def _top(result: CheckResult) -> str:
    tracks = [
        f"{escape(track_word(t, result))} {shown(t.track_id, 80)}" for t in result.tracks[:_MOST_TRACKS]
    ]
    if len(result.tracks) > _MOST_TRACKS:
        tracks.append(markup_count("page.title.more_tracks", len(result.tracks) - _MOST_TRACKS))
    return page_top(say("page.title.record"), "; ".join(tracks))


def _answer(result: CheckResult, tell: Teller, clock: LocalClock) -> str:
    seen = look(result)
    word = escape(say(f"page.answer.{seen}"))
    return (
        f'<section class="answer o-{seen}" id="answer" aria-label="{escape(say("page.answer.label"))}">\n'
        f'<p class="verdict">{verdict_shape(seen)}<span>{word}</span></p>\n<div class="told">'
        f'<p class="outcome" id="outcome">{headline(result, tell)}</p>\n'
        f'<p class="worst" id="worst">{_worst(result, tell, clock)}</p>\n{_problems(result, tell)}'
        f"{_unchecked_gear(result)}{_unseen_hauls(result)}{beside(result)}"
        f'<p class="counts" id="counts">{escape(outcome_sentence(result))}</p></div></section>'
    )


def _worst(result: CheckResult, tell: Teller, clock: LocalClock) -> str:
    """Return where and when the worst was and which rule it is about; else what the answer rests on."""
    if result.outcome is Outcome.CLEAR:
        return markup("page.worst.rests")
    open_still = markup("page.worst.undecided") if result.outcome is Outcome.UNDETERMINED else ""
    if worst_move(result) is not None:
        return open_still
    number, row = worst_row(result)
    button = tell.button(number, row, say("page.worst.show"))
    which = f'<span class="row-badge s-{row.status}">{escape(say("page.worst.row", number=number))}</span>'
    return " ".join([which, *_facts(row, result, tell, clock), button, open_still]).strip()


def _unchecked_gear(result: CheckResult) -> str:
    """Return that the gear was not checked, which a clear headline says itself."""
    if not result.gear_unchecked or result.outcome is Outcome.CLEAR:
        return ""
    planned = all(track.kind is TrackKind.PLANNED for track in result.tracks)
    rest = say(f"page.answer.gear_may{'_planned' if planned else ''}")
    gear = escape(say("page.answer.gear_unchecked"))
    return f'<p class="unchecked-gear"><strong>{gear}</strong> {escape(rest)}</p>\n'


def _unseen_hauls(result: CheckResult) -> str:
    """Return how many hauls of the log the track does not show: no headline can speak for them."""
    items = (item for some in result.log_disagreements.values() for item in some)
    count = sum(item.kind is DisagreementKind.NOT_IN_TRACK for item in items)
    return (
        f'<p class="unseen-hauls"><strong>{markup_count("page.answer.unseen_hauls", count)}</strong></p>\n'
        if count
        else ""
    )


def _facts(row: Row, result: CheckResult, tell: Teller, clock: LocalClock) -> Iterator[str]:
    if row.closest is not None:
        place = unbroken(format_position(row.closest.lon_deg, row.closest.lat_deg))
        yield _fact("where", place)
        yield _fact("when", clock.html(row.closest.utc))
    for gap in _open_gaps(row, result):
        times = {"begin": clock.html(gap.from_utc), "end": clock.html(gap.to_utc)}
        yield _fact("when", markup("page.worst.no_positions", **times))
    if row.part is Part.GEAR and row.gear is not None and row.gear.nearest_part:
        part = row.gear.nearest_part
        yield _fact("part", escape(PART[part]) if part in PART else shown(part, 80))
    yield _fact("rule", _rule(tell.zones[row.zone_id]))


def _open_gaps(row: Row, result: CheckResult) -> list[Gap]:
    """Return the first gap that leaves a row open, where that is all that is known of where and when."""
    if row.closest is not None or row.reason != "gap":
        return []
    gaps = result.gaps.get(row.track_id, ())
    return [gap for gap in gaps if any(reach.zone_id == row.zone_id for reach in gap.could_reach)][:1]


def _fact(name: str, value: str) -> str:
    return f'<span class="fact"><b>{escape(say(f"page.worst.{name}"))}</b> {value}.</span>'


def _rule(zone: Zone) -> str:
    rule = ", ".join(say("page.worst.no", what=PROHIBITED[prohibited]) for prohibited in zone.prohibits)
    source = shown(zone.source) if zone.source else escape(say("page.worst.no_source"))
    return f"{escape(rule)}; {source}"


def _problems(result: CheckResult, tell: Teller) -> str:
    """Return the worst problems beside the first, one line for each tow and zone, a button for each row."""
    first = worst_row(result)[0] if result.rows and worst_move(result) is None else 0
    found = [(i, row) for i, row in enumerate(result.rows, start=1) if row.status in FINDINGS and i != first]
    groups: dict[tuple[object, ...], list[tuple[int, Row]]] = {}
    for number, row in found:
        groups.setdefault((row.track_id, row.tow, row.zone_id), []).append((number, row))
    told = list(groups.values())[:_MOST_PROBLEMS]
    if not told:
        return ""
    left = len(found) - sum(len(some) for some in told)
    more = f"<li>{markup_count('page.worst.more', left)}</li>" if left else ""
    lines = "".join(_line(some, tell) for some in told)
    label = escape(say("page.worst.others"))
    return f'<ol class="problems" aria-label="{label}">{lines}{more}</ol>\n'


def _line(some: list[tuple[int, Row]], tell: Teller) -> str:
    (number, row), *rest = some
    others = [f"{tell.button(number, row)} {tell.how_near(row)}" for number, row in rest]
    also = "".join(markup("page.worst.also", what=other) for other in others)
    return f"<li>{tell.button(number, row)} {tell.did(row)}{also}.</li>"
