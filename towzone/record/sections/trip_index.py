"""The index of a trip: every tow in one line, with its worst result and a button that shows it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from towzone.model.result import FINDINGS, CheckResult, MoveOn, Row, Status, Tow
from towzone.model.track import Track, TrackKind
from towzone.record.catalogue import say, say_count
from towzone.record.clock import LocalClock
from towzone.record.sections.plain_table import plain_table, unbroken
from towzone.record.sections.told import Teller, teller
from towzone.record.text import escape, short, shown
from towzone.record.words import STATUS, brief_length

__all__ = ["trip_index"]

_MOST_NAMED = 6
"""Tows named beside the title; the table names all. Own choice: one line."""

_NAME = 40
"""Characters of a track's name there. Own choice."""

_NONE = "–"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """One tow, or what a track did outside its tows (``tow`` is ``None``)."""

    track: Track
    index: int
    tow: Tow | None
    rows: tuple[tuple[int, Row], ...]
    moves: tuple[MoveOn, ...]

    @property
    def worst(self) -> Status | None:
        statuses = [row.status for _, row in self.rows] + [move.status for move in self.moves]
        return min(statuses, key=list(Status).index) if statuses else None

    @property
    def findings(self) -> int:
        found = [*(row.status for _, row in self.rows), *(move.status for move in self.moves)]
        return sum(status in FINDINGS for status in found)

    @property
    def name(self) -> str:
        if self.tow is not None:
            return say("page.index.name", tow=self.tow.number)
        return say(f"page.index.{'route' if self.track.kind is TrackKind.PLANNED else 'outside'}")


def trip_index(result: CheckResult, clock: LocalClock) -> str:
    """Return the index as HTML; empty for one track with one tow, which needs none, and for a plan.

    A plan compares its lines in a section of its own.
    """
    if result.plan is not None or (len(result.tracks) < 2 and len(result.tows) < 2):
        return ""
    tell = teller(result)
    lines = list(_lines(result))
    heads = ["tow", "track", "shoot", "haul", "length", "worst", "findings", "show"]
    if not tell.several:
        heads.remove("track")
    rows = []
    for line in lines:
        cells = _cells(line, result, tell, clock)
        rows.append([cells[head] for head in heads])
    table = plain_table(say("page.index.caption"), [say(f"page.index.{head}") for head in heads], rows)
    title = escape(say("page.index.title"))
    summary = f"<summary><h2>{title}</h2> <span>{escape(_brief(result, lines))}</span></summary>"
    scrolls = f'<div class="scrolls" tabindex="0" role="region" aria-label="{title}">{table}</div>'
    several = ' class="several"' if tell.several else ""
    return (
        f'<nav id="trip-index"{several} aria-label="{title}"><details>{summary}\n{scrolls}</details></nav>\n'
    )


def _lines(result: CheckResult) -> Iterator[_Line]:
    """Yield the tows in order of time, those without a time as they come, then what lies outside tows."""
    tracks = {track.track_id: i for i, track in enumerate(result.tracks)}
    known = [tow for tow in result.tows if tow.track_id in tracks]
    for tow in sorted(known, key=lambda tow: (np.isnat(tow.shoot_utc), _ticks(tow.shoot_utc))):
        yield _line(result, tracks[tow.track_id], tow)
    for index in tracks.values():
        outside = _line(result, index, None)
        if outside.rows or outside.moves or not any(t.track_id == outside.track.track_id for t in known):
            yield outside


def _ticks(instant: np.datetime64) -> int:
    return int(instant.astype("datetime64[us]").astype(np.int64))


def _line(result: CheckResult, index: int, tow: Tow | None) -> _Line:
    track = result.tracks[index]
    number = None if tow is None else tow.number
    whose = (track.track_id, number)
    return _Line(
        track=track,
        index=index,
        tow=tow,
        rows=tuple((i, r) for i, r in enumerate(result.rows, start=1) if (r.track_id, r.tow) == whose),
        moves=tuple(m for m in result.moves if (m.track_id, m.tow) == whose),
    )


def _brief(result: CheckResult, lines: Sequence[_Line]) -> str:
    """Return how many tows there are and which of them have problems."""
    some = [say_count("page.index.tracks", len(result.tracks))] if len(result.tracks) > 1 else []
    some += [say_count("page.index.count", len(result.tows))] if result.tows else []
    found = [line for line in lines if line.findings]
    undecided = [line for line in lines if line.worst is Status.UNDETERMINED]
    said = [
        say(f"page.index.{key}", which=_named(which, several=len(result.tracks) > 1))
        for key, which in (("line_finding", found), ("line_undecided", undecided))
        if which
    ]
    clear = "line_vessel_clear" if result.gear_unchecked else "line_clear"
    return f"{', '.join(some)}. {' '.join(said) or say(f'page.index.{clear}')}"


def _named(lines: Sequence[_Line], *, several: bool) -> str:
    # Two vessels may each have a tow 1, and only one of them a problem.
    names = [
        say("page.index.of_track", name=line.name, track=short(line.track.track_id, _NAME))
        if several
        else line.name
        for line in lines
    ]
    more = [say_count("page.index.and_more", len(names) - _MOST_NAMED)] if len(names) > _MOST_NAMED else []
    return ", ".join([*names[:_MOST_NAMED], *more])


def _cells(line: _Line, result: CheckResult, tell: Teller, clock: LocalClock) -> dict[str, str]:
    tow = line.tow
    length_m = result.lengths_m[line.track.track_id] if tow is None else tow.length_m
    whole = tow is not None or line.track.kind is TrackKind.PLANNED
    return {
        "tow": f"<strong>{escape(line.name)}</strong>",
        "track": shown(line.track.track_id, 80),
        "shoot": _NONE if tow is None else _moment(tow.shoot_utc, tow.shoot_open, "or_earlier", clock),
        "haul": _NONE if tow is None else _moment(tow.haul_utc, tow.haul_open, "or_later", clock),
        "length": unbroken(brief_length(length_m)) if whole else _NONE,
        "worst": _worst(line, result, tell),
        "findings": str(line.findings),
        "show": _button(line, tell),
    }


def _moment(instant: np.datetime64, unsure: bool, words: str, clock: LocalClock) -> str:
    return clock.html(instant) + (f" {escape(say(f'page.index.{words}'))}" if unsure else "")


def _worst(line: _Line, result: CheckResult, tell: Teller) -> str:
    worst = line.worst
    if worst is None:
        # No row within the reach: every pair was proved clear, or there was nothing to check.
        return escape(say("page.index.beyond" if result.zones else "page.index.none"))
    where = next((tell.zone(row) for _, row in line.rows if row.status is worst), "")
    word = f'<span class="status s-{worst}">{escape(STATUS[worst])}</span>'
    return f"{word} {where}".strip()


def _button(line: _Line, tell: Teller) -> str:
    """Return the button that shows the tow; outside tows, the one for the worst row there."""
    if line.tow is None:
        return tell.button(*line.rows[0], say("page.index.show")) if line.rows else _NONE
    label = escape(say("page.index.show_tow", tow=line.tow.number, track=short(line.track.track_id, 80)))
    return (
        f'<button type="button" class="show-tow" data-track="{line.index}" data-tow="{line.tow.number}" '
        f'aria-label="{label}">{escape(say("page.index.show"))}</button>'
    )
