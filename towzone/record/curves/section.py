"""The section of the record that shows clearance against time: a drawing for each zone, with its words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from towzone.model.result import FINDINGS, CheckResult, Part, Row, Status
from towzone.record.catalogue import markup, say, say_count
from towzone.record.clock import LocalClock, local_clock
from towzone.record.curves.depth import SAMPLES
from towzone.record.curves.drawing import curve_patterns, draw_curve, length_of
from towzone.record.curves.figures import CurveSet, ZoneCurves, clearance_curves
from towzone.record.curves.marks import CurveMark
from towzone.record.drawn.scene import Scene
from towzone.record.text import escape, short, shown
from towzone.record.words import KIND, STATUS, brief_length
from towzone.units import NAUTICAL_MILE_M, format_length

__all__ = ["curves_part"]

_NAME = 80
"""Characters of a name; the tables show more. Own choice."""

_MOST_BUTTONS = 8
"""Rows of a drawing with a button at once; the others can be unfolded. Own choice."""

_MOST_UNKNOWN = 12
"""Zones that are not drawn named at the most; the table has all. Own choice."""


def curves_part(result: CheckResult, scene: Scene) -> str:
    """Return the section of all drawings, worst first; those without a finding can be folded away.

    Parameters
    ----------
    result : CheckResult
    scene : Scene
        What both charts show; drawings have the zones that these have.
    """
    found = clearance_curves(result, kept=[drawing.kept for drawing in scene.tracks])
    clock = local_clock(result)
    open_ = [curves for curves in found.curves if curves.matters] or list(found.curves[:1])
    rest = [curves for curves in found.curves if not any(curves is one for one in open_)]
    body = "".join(
        (
            *_introduction(found, scene),
            *(_figure(number, curves, clock) for number, curves in enumerate(open_, start=1)),
            *_folded(rest, len(open_), clock),
            *_not_drawn(found, result),
        )
    )
    head = f'<h2 id="curves-title">{escape(say("curves.title"))}</h2>'
    return f'<section id="curves" aria-labelledby="curves-title">{head}\n{body}</section>\n'


def _introduction(found: CurveSet, scene: Scene) -> Iterator[str]:
    if not found.curves:
        if not found.unknown:
            yield f'<p class="none">{escape(say("curves.none"))}</p>\n'
        return
    key = "curves.intro" if scene.gear else "curves.intro_vessel"
    yield f'{curve_patterns()}<p class="note">{escape(say(key, samples=SAMPLES))}</p>\n'
    if scene.gear:
        yield f'<p class="note">{escape(say("curves.gear_shown"))}</p>\n'
    if not all(curves.timed for curves in found.curves):
        yield f'<p class="note">{escape(say("curves.axis.way_note"))}</p>\n'
    yield f'<p class="note needs-script">{escape(say("curves.point"))}</p>\n'


def _folded(rest: Sequence[ZoneCurves], before: int, clock: LocalClock) -> Iterator[str]:
    if not rest:
        return
    # Who stayed inside the only area allowed did not keep clear of it.
    kept = all(curves.kept_clear and not curves.zone.rules.allowed_only_inside for curves in rest)
    key = "curves.rest" if kept else "curves.rest_mixed"
    figures = "".join(_figure(before + number, curves, clock) for number, curves in enumerate(rest, start=1))
    summary = escape(say_count(key, len(rest)))
    yield f'<details class="more-curves"><summary>{summary}</summary>\n{figures}</details>\n'


def _not_drawn(found: CurveSet, result: CheckResult) -> Iterator[str]:
    if found.more:
        yield f'<p class="note">{escape(say_count("curves.more", found.more))}</p>\n'
    if found.unknown:
        names = {zone.zone_id: zone.name for zone in result.zones}
        items = "".join(
            f"<li>{_button(number, row)} {shown(names[row.zone_id], _NAME)} "
            f"({shown(row.track_id, _NAME)})</li>"
            for number, row in found.unknown[:_MOST_UNKNOWN]
        )
        head = escape(say_count("curves.unknown", len(found.unknown)))
        yield f'<p class="note">{head}</p>\n<ul class="not-drawn">{items}</ul>\n'


def _figure(number: int, curves: ZoneCurves, clock: LocalClock) -> str:
    name = f"curve-{number}"
    rows = _buttons([(mark.number, mark.row) for mark in curves.marks if mark.matters])
    drawing = draw_curve(curves, clock, _alternative(curves, clock))
    return (
        f'<figure class="curve-figure" id="{name}"><figcaption><h3>{shown(curves.zone.name, _NAME)}</h3>'
        f"<p>{_facts(curves, clock)}</p>"
        f'{rows}</figcaption>\n<div class="curve-box">{drawing}</div></figure>\n'
    )


def _buttons(rows: Sequence[tuple[int, Row]]) -> str:
    """Return the buttons of rows, those beyond a few folded away."""
    buttons = [_button(number, row) for number, row in rows]
    if not buttons:
        return ""
    first = f'<p class="curve-rows">{" ".join(buttons[:_MOST_BUTTONS])}</p>'
    if len(buttons) <= _MOST_BUTTONS:
        return first
    summary = escape(say_count("curves.figure.more_buttons", len(buttons) - _MOST_BUTTONS))
    rest = f'<p class="curve-rows">{" ".join(buttons[_MOST_BUTTONS:])}</p>'
    return f'{first}<details class="more-rows"><summary>{summary}</summary>{rest}</details>'


def _button(number: int, row: Row) -> str:
    status, part = STATUS[row.status], say(f"curves.part.{row.part}")
    if row.tow is not None:
        status = say("curves.figure.button_tow", status=status, tow=row.tow)
    label = say("curves.figure.button_label", number=number, status=status, part=part)
    word = say("curves.figure.button", number=number, status=status)
    return (
        f'<button type="button" class="show-row s-{row.status}" data-row="{number}" '
        f'aria-label="{escape(label)}">{escape(word)}</button>'
    )


def _facts(curves: ZoneCurves, clock: LocalClock) -> str:
    track = shown(curves.track.track_id, _NAME)
    of = markup("curves.figure.of", kind=escape(KIND[curves.zone.kind]), track=track)
    return " ".join((of, *(escape(sentence) for sentence in _sentences(curves, clock))))


def _alternative(curves: ZoneCurves, clock: LocalClock) -> str:
    against = say(f"curves.alternative.{'time' if curves.timed else 'way'}")
    zone, track = short(curves.zone.name, _NAME), short(curves.track.track_id, _NAME)
    start = say("curves.alternative.start", track=track, zone=zone, against=against)
    return " ".join((start, *_sentences(curves, clock), *_counts(curves)))


def _sentences(curves: ZoneCurves, clock: LocalClock) -> Iterator[str]:
    for part in Part:
        drawn = [mark for mark in curves.marks if mark.row.part is part and mark.at is not None]
        if drawn:
            yield _least(curves, min(drawn, key=_clearance_m), clock)
    if curves.margin_m > 0.0:
        # Both units, up to where the second alone is what is worked with.
        required = brief_length if curves.margin_m > NAUTICAL_MILE_M else format_length
        yield say("curves.figure.required", length=required(curves.margin_m))
    else:
        yield say("curves.figure.no_margin")
    if curves.gear is None and any(mark.row.part is Part.GEAR for mark in curves.marks):
        yield say("curves.figure.no_gear")
    if curves.gaps:
        yield say("curves.figure.gap" if curves.timed else "curves.figure.gap_way")


def _clearance_m(mark: CurveMark) -> float:
    return mark.row.clearance_m if mark.row.clearance_m is not None else float("inf")


def _least(curves: ZoneCurves, mark: CurveMark, clock: LocalClock) -> str:
    when = clock.text(mark.row.closest.utc) if mark.row.closest is not None else say("curves.figure.untimed")
    told = {
        "least": say(f"curves.figure.{'least_where_known' if curves.left_open else 'least'}"),
        "length": length_of(curves, mark),
        "when": when,
    }
    if mark.row.part is Part.VESSEL:
        return say("curves.figure.least_vessel", **told)
    nearest = mark.row.gear.nearest_part if mark.row.gear is not None else ""
    if not nearest:
        return say("curves.figure.least_gear_plain", **told)
    return say("curves.figure.least_gear", part=short(nearest, _NAME), **told)


def _counts(curves: ZoneCurves) -> Iterator[str]:
    findings = sum(mark.row.status in FINDINGS for mark in curves.marks)
    undecided = sum(mark.row.status is Status.UNDETERMINED for mark in curves.marks)
    if findings:
        yield say_count("curves.figure.findings", findings)
    else:
        yield say("curves.figure.no_findings")
    if undecided:
        yield say_count("curves.figure.undecided", undecided)
