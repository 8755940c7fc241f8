"""The first screen of an overview: how many vessels stand how, what was not checked, and the caution."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from towzone.caution import CAUTION
from towzone.model.fleet import FleetOutcome, FleetTotals, VesselLine, in_one_line
from towzone.model.result import Status
from towzone.record.catalogue import markup, markup_count, say, say_count
from towzone.record.overview.vessels import NAME_LENGTH, grouped, hours_text, length_text, name_text
from towzone.record.sections.top import page_top, verdict_shape
from towzone.record.text import SENTENCE, escape, short, shown
from towzone.record.words import STATUS

__all__ = ["counts_sentence", "first_screen"]

_UNCHECKED = (FleetOutcome.FAULT, FleetOutcome.NOT_CHECKED)

_MOST_TOLD = 6
"""Lines of what was not checked before the tables, of files and of vessels each. Own choice."""


def first_screen(totals: FleetTotals, lines: Sequence[VesselLine]) -> str:
    """Return the head of the page, from the title to the caution, as HTML; ``lines`` stand worst first."""
    top = page_top(say("overview.title.page"), escape(say_count("overview.title.of", len(lines))))
    return (
        f"{top}\n<main>\n{_answer(totals, lines)}\n{_not_checked(totals, lines)}\n"
        f'<p class="caution"><strong>{escape(say("page.caution.title"))}</strong> {escape(CAUTION)}</p>\n'
    )


def look(totals: FleetTotals, lines: Sequence[VesselLine]) -> str:
    """Return how the answer looks; clear only where every vessel and file was checked and is clear."""
    standings = {line.standing for line in lines}
    if FleetOutcome.FINDING in standings:
        return "finding"
    if not lines or totals.unread or standings & set(_UNCHECKED):
        return "unchecked"
    return "undetermined" if FleetOutcome.UNDETERMINED in standings else "clear"


def counts_sentence(totals: FleetTotals, lines: Sequence[VesselLine]) -> str:
    """Return how many vessels stand how, what was not checked first; our own words only."""
    unread = _unread(totals)
    if not lines:
        return say("overview.headline.nothing", unread=unread).strip()
    standings = Counter(line.standing for line in lines)
    unchecked = sum(standings[one] for one in _UNCHECKED)
    items = [say("overview.headline.not_checked", count=unchecked)] if unchecked else []
    for standing in (FleetOutcome.FINDING, FleetOutcome.UNDETERMINED, FleetOutcome.CLEAR):
        items.append(say(f"overview.headline.{standing}", count=standings[standing]))
    counts = say_count("overview.headline.vessels", len(lines), items=", ".join(items))
    if unread:
        return f"{counts} {unread}"
    return counts if unchecked else f"{counts} {say('overview.headline.all_checked')}"


def _unread(totals: FleetTotals) -> str:
    """Return how much could not be read, and whom that leaves open: all, where nobody knows whose it is."""
    unknown = sum(one.vessels is None for one in totals.unread)
    known = len(totals.unread) - unknown
    said = [say_count("overview.headline.unread", unknown)] if unknown else []
    said += [say_count("overview.headline.unread_of", known)] if known else []
    return " ".join(said)


def _answer(totals: FleetTotals, lines: Sequence[VesselLine]) -> str:
    seen = look(totals, lines)
    checked = any(line.standing not in _UNCHECKED for line in lines)
    word = "part" if seen == "unchecked" and checked else seen
    gear = ""
    if any(line.gear_unchecked for line in lines):
        gear = f'<p class="unchecked-gear"><strong>{escape(_gear(lines))}</strong></p>\n'
    return (
        f'<section class="answer o-{seen}" id="answer" aria-label="{escape(say("page.answer.label"))}">\n'
        f'<p class="verdict">{verdict_shape(seen)}<span>{escape(say(f"overview.answer.{word}"))}</span></p>\n'
        f'<div class="told"><p class="outcome" id="outcome">{escape(counts_sentence(totals, lines))}</p>\n'
        f'<p class="worst" id="worst">{_worst(lines)}</p>\n{gear}'
        f'<p class="counts">{escape(" ".join(_amounts(totals)))}</p></div></section>'
    )


def _gear(lines: Sequence[VesselLine]) -> str:
    count = sum(line.gear_unchecked for line in lines)
    if count == len(lines):
        return say("overview.answer.gear_of_all")
    return say_count("overview.answer.gear_of_some", count)


def _worst(lines: Sequence[VesselLine]) -> str:
    if not lines or lines[0].standing is not FleetOutcome.FINDING or not lines[0].worst_status:
        return ""
    line = lines[0]
    return markup(
        "overview.answer.worst",
        vessel=_name(line),
        status=escape(STATUS[Status(line.worst_status)].lower()),
        zone=shown(line.worst_zone_name or line.worst_zone_id, NAME_LENGTH),
        clearance=escape(length_text(line.worst_clearance_m)),
        margin=escape(length_text(line.worst_margin_m)),
    )


def _amounts(totals: FleetTotals) -> Iterator[str]:
    used, read = totals.fixes_used, totals.fixes_read
    yield say("overview.amounts.fixes", used=grouped(used), read=grouped(read), left=grouped(read - used))
    tracked, towing = hours_text(totals.tracked_s), hours_text(totals.towing_s)
    yield say("overview.amounts.time", tracked=tracked, towing=towing)
    yield say_count("overview.amounts.gaps", totals.gaps, time=hours_text(totals.gap_s))
    yield say_count("overview.amounts.zones", len(totals.zones))
    # What the command itself says beside its answer, which stands above in the words of records.
    yield from (short(sentence, SENTENCE) for sentence in totals.notes)


def _not_checked(totals: FleetTotals, lines: Sequence[VesselLine]) -> str:
    """Return what was not checked and why, in words: before any table, and never folded."""
    vessels = [line for line in lines if line.standing in _UNCHECKED]
    if not vessels and not totals.unread:
        return ""
    items = [shown(in_one_line(one.reason, one.file), SENTENCE) for one in totals.unread[:_MOST_TOLD]]
    if len(totals.unread) > _MOST_TOLD:
        items.append(markup_count("overview.not_checked.more_files", len(totals.unread) - _MOST_TOLD))
    items += [
        markup(f"overview.not_checked.{line.standing}", vessel=_name(line), why=_why(line))
        for line in vessels[:_MOST_TOLD]
    ]
    if len(vessels) > _MOST_TOLD:
        items.append(markup_count("overview.not_checked.more_vessels", len(vessels) - _MOST_TOLD))
    title = escape(say("overview.not_checked.title"))
    listed = "".join(f"<li>{item}</li>" for item in items)
    return (
        f'<section class="not-checked" id="not-checked" aria-labelledby="not-checked-title">'
        f'<h2 id="not-checked-title">{title}</h2>\n<ul>{listed}</ul></section>'
    )


def _name(line: VesselLine) -> str:
    return f"<bdi>{escape(name_text(line.vessel))}</bdi>"


def _why(line: VesselLine) -> str:
    return (
        shown(in_one_line(line.problem, ""), SENTENCE)
        if line.problem
        else escape(say("overview.vessels.no_reason"))
    )
