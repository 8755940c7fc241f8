"""The first screen: the answer, where the worst of it is, what is not known, and the caution."""

from __future__ import annotations

from collections.abc import Iterator

from towzone.caution import CAUTION
from towzone.model.result import FINDINGS, CheckResult, Outcome, Part, Row, Status
from towzone.model.zone import Zone
from towzone.record.catalogue import markup, markup_count, say
from towzone.record.clock import LocalClock
from towzone.record.headline import headline, look, outcome_sentence, worst_move
from towzone.record.plain_table import unbroken
from towzone.record.text import escape, shown
from towzone.record.told import Teller, teller
from towzone.record.unproved import unproved
from towzone.record.words import PROHIBITED, TRACK
from towzone.units import format_position

__all__ = ["MODES", "summary"]

MODES = ("auto", "day", "dusk", "night")

_MOST_TRACKS = 4
_MOST_PROBLEMS = 3

_SHAPES = {
    "finding": '<path class="full" d="M24 3L45 41H3Z"/>',
    "undetermined": '<circle class="broken" cx="24" cy="24" r="19"/>',
    "unchecked": '<circle class="broken" cx="24" cy="24" r="19"/>',
    "clear": '<rect class="hollow" x="6" y="6" width="36" height="36"/>',
}
"""A full triangle, a broken ring, a hollow square: told apart without any colour."""


def summary(result: CheckResult, clock: LocalClock) -> str:
    """Return the head of the page, from the title to the caution, as HTML."""
    tell = teller(result)
    return (
        f"{_top(result)}\n<main>\n{_answer(result, tell, clock)}\n{unproved(result, tell)}\n"
        f'<p class="caution"><strong>{escape(say("page.caution.title"))}</strong> {escape(CAUTION)}</p>\n'
    )


def _top(result: CheckResult) -> str:
    tracks = [f"{escape(TRACK[t.kind])} {shown(t.track_id, 80)}" for t in result.tracks[:_MOST_TRACKS]]
    if len(result.tracks) > _MOST_TRACKS:
        tracks.append(markup_count("page.title.more_tracks", len(result.tracks) - _MOST_TRACKS))
    modes = "".join(f'<option value="{m}">{escape(say(f"page.display.{m}"))}</option>' for m in MODES)
    return (
        f'<header class="top"><div><h1>{escape(say("page.title.record"))}</h1>'
        f'<p class="of">{"; ".join(tracks)}</p></div>\n'
        f'<p class="mode needs-script"><label for="mode">{escape(say("page.display.label"))}</label> '
        f'<select id="mode">{modes}</select></p></header>'
    )


def _answer(result: CheckResult, tell: Teller, clock: LocalClock) -> str:
    seen = look(result)
    word = escape(say(f"page.answer.{seen}"))
    return (
        f'<section class="answer o-{seen}" id="answer" aria-label="{escape(say("page.answer.label"))}">\n'
        f'<p class="verdict">{_shape(seen)}<span>{word}</span></p>\n<div class="told">'
        f'<p class="outcome" id="outcome">{headline(result, tell)}</p>\n'
        f'<p class="worst" id="worst">{_worst(result, tell, clock)}</p>\n{_problems(result, tell)}'
        f'<p class="counts" id="counts">{escape(outcome_sentence(result))}</p></div></section>'
    )


def _shape(seen: str) -> str:
    mark = {"finding": "!", "clear": "0"}.get(seen) or say("page.answer.mark_unknown")
    return (
        '<svg class="shape" viewBox="0 0 48 48" width="48" height="48" aria-hidden="true">'
        f'{_SHAPES[seen]}<text x="24" y="{37 if seen == "finding" else 32}">{escape(mark)}</text></svg>'
    )


def _worst(result: CheckResult, tell: Teller, clock: LocalClock) -> str:
    """Return where and when the worst was and which rule it is about; else what the answer rests on."""
    if result.outcome is Outcome.CLEAR:
        return markup("page.worst.rests")
    if worst_move(result) is None:
        row = min(result.rows, key=lambda row: list(Status).index(row.status))
        more = f" {markup('page.worst.undecided')}" if row.status is Status.UNDETERMINED else ""
        return " ".join(_facts(row, tell, clock)) + more
    return markup("page.worst.undecided") if result.outcome is Outcome.UNDETERMINED else ""


def _facts(row: Row, tell: Teller, clock: LocalClock) -> Iterator[str]:
    if row.closest is not None:
        place = unbroken(format_position(row.closest.lon_deg, row.closest.lat_deg))
        yield _fact("where", place)
        yield _fact("when", clock.html(row.closest.utc))
    if row.part is Part.GEAR and row.gear is not None and row.gear.nearest_part:
        yield _fact("part", shown(row.gear.nearest_part, 80))
    yield _fact("rule", _rule(tell.zones[row.zone_id]))


def _fact(name: str, value: str) -> str:
    return f'<span class="fact"><b>{escape(say(f"page.worst.{name}"))}</b> {value}.</span>'


def _rule(zone: Zone) -> str:
    rule = ", ".join(say("page.worst.no", what=PROHIBITED[prohibited]) for prohibited in zone.prohibits)
    source = shown(zone.source) if zone.source else escape(say("page.worst.no_source"))
    return f"{escape(rule)}; {source}"


def _problems(result: CheckResult, tell: Teller) -> str:
    """Return the worst problems, one line for each tow and zone, with a button for every row."""
    found = [(i, row) for i, row in enumerate(result.rows, start=1) if row.status in FINDINGS]
    groups: dict[tuple[object, ...], list[tuple[int, Row]]] = {}
    for number, row in found:
        groups.setdefault((row.track_id, row.tow, row.zone_id), []).append((number, row))
    lines = [_line(some, tell) for some in list(groups.values())[:_MOST_PROBLEMS]]
    if not lines:
        return ""
    told = sum(len(some) for some in list(groups.values())[:_MOST_PROBLEMS])
    more = f"<li>{markup_count('page.worst.more', len(found) - told)}</li>" if len(found) > told else ""
    return (
        f'<ol class="problems" aria-label="{escape(say("page.worst.others"))}">{"".join(lines)}{more}</ol>\n'
    )


def _line(some: list[tuple[int, Row]], tell: Teller) -> str:
    first, *rest = (f"{tell.button(number, row)} {tell.did(row)}" for number, row in some)
    also = "".join(f"; {markup('page.worst.also', what=words)}" for words in rest)
    return f"<li>{first}{also}.</li>"
