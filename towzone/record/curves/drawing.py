"""One drawing of clearance against time, as a picture that needs no script and stretches to any width.

Lines stand in a frame of their own that is stretched; words, marks and shades stand at shares of the width,
so that letters keep their size on a phone and on paper.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from towzone.checks.passages import CONTACT_M
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.result import Part
from towzone.record.catalogue import say
from towzone.record.clock import LocalClock
from towzone.record.curves.depth import BoolArray
from towzone.record.curves.figures import ZoneCurves
from towzone.record.curves.least import Columns, State
from towzone.record.curves.marks import CurveMark
from towzone.record.curves.ticks import Tick, level_ticks, local_name, time_ticks, way_ticks
from towzone.record.text import escape
from towzone.record.words import brief_length
from towzone.units import NAUTICAL_MILE_M

__all__ = ["curve_patterns", "draw_curve", "length_of"]

_TOP = 26
_HEIGHT = 220
_LANE = 14
"""Where lines begin, how high they are drawn, and how high the lane of tows below them is, px. Own choice."""

_WIDE, _HIGH = 7200, 2200
"""The frame of the lines: at least fifteen units for a column, and ten for a px."""

_TURN = 68.0
"""Share of the width, per cent, beyond which words end at their place instead of beginning there."""

_AT_EDGE = 7.0
"""Share of the width, per cent, that half a word takes on a phone. Own choice."""

_MOST_POINTS = 120
"""Positions alone between gaps drawn at the most, so that they do not run into a line: the lowest of those
that stand too close. Own choice."""

_MOST_MARKS = 8
"""Rows whose numbers stand on a drawing at the most; all are listed below it. Own choice."""


def curve_patterns() -> str:
    """Return the hatching that drawings use, once for the page."""
    return (
        '<svg class="patterns" width="0" height="0" aria-hidden="true"><defs>'
        '<pattern id="curve-gap" width="8" height="8" patternUnits="userSpaceOnUse">'
        '<path class="hatch" d="M-2 2L2 -2M0 8L8 0M6 10L10 6"/></pattern>'
        '<pattern id="curve-close" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<path class="hatch close" d="M3 0V6"/></pattern>'
        '<pattern id="curve-idle" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<path class="hatch" d="M0 3H6"/></pattern></defs></svg>'
    )


def draw_curve(curves: ZoneCurves, clock: LocalClock, alternative: str) -> str:
    """Return the drawing as an ``svg`` element.

    Parameters
    ----------
    curves : ZoneCurves
    clock : LocalClock
    alternative : str
        What it shows, in words, as plain text.
    """
    scale = _Scale(curves)
    body = "".join(
        (
            *_shades(curves, scale),
            *_levels(curves, scale),
            _lines(curves, scale),
            *_bars(curves, scale),
            *_ticks(curves, clock, scale),
            *_numbers_in_gaps(curves, scale),
            *_marks(curves, scale),
        )
    )
    kind = "curve" if curves.timed else "curve by-way"
    name = f'role="img" aria-label="{escape(alternative)}"'
    return f'<svg class="{kind}" {name} {_for_script(curves)}>{body}</svg>'


def _for_script(curves: ZoneCurves) -> str:
    """Return what the script needs to know of the axis, as attributes."""
    data = {
        "track": str(curves.track_number),
        "timed": str(int(curves.timed)),
        "first": f"{curves.first:.3f}",
        "last": f"{curves.last:.3f}",
        "columns": str(len(curves.vessel.state)),
    }
    if len(curves.knots):
        data["knots"] = ";".join(f"{place:.6g},{value:.1f}" for place, value in curves.knots.tolist())
    return " ".join(f'data-{name}="{value}"' for name, value in data.items())


class _Scale:
    """From values on the axis and clearances to places on the drawing."""

    def __init__(self, curves: ZoneCurves) -> None:
        self._first, self._span = curves.first, curves.last - curves.first
        self._top_m, self._range_m = curves.top_m, curves.top_m - curves.bottom_m

    def share(self, value: float) -> float:
        """Return the share of the width, per cent."""
        return 100.0 * (value - self._first) / self._span

    def x(self, value: float) -> str:
        """Return the same as an attribute."""
        return f"{self.share(value):.3f}%"

    def width(self, low: float, high: float) -> str:
        """Return the width between two values as an attribute."""
        return f"{max(self.share(high) - self.share(low), 0.15):.3f}%"

    def y(self, clearance_m: float) -> float:
        """Return the height of a clearance, px from the top of the drawing."""
        return round(_TOP + _HEIGHT * (self._top_m - clearance_m) / self._range_m, 1)

    def ys(self, clearance_m: FloatArray) -> IntArray:
        """Return heights in the frame of the lines."""
        return np.rint(_HIGH * (self._top_m - clearance_m) / self._range_m).astype(np.int64)


def _rect(kind: str, x: str, width: str, y: float, height: float, more: str = "") -> str:
    return f'<rect class="{kind}" x="{x}" y="{y:g}" width="{width}" height="{height:g}"{more}/>'


def _text(kind: str, x: str, y: float, text: str, dx: float = 0.0) -> str:
    shift = f' dx="{dx:g}"' if dx else ""
    return f'<text class="{kind}" x="{x}" y="{y:g}"{shift}>{escape(text)}</text>'


def _shades(curves: ZoneCurves, scale: _Scale) -> Iterator[str]:
    yield _rect("frame", "0", "100%", _TOP, _HEIGHT)
    zero = min(max(scale.y(0.0), _TOP), _TOP + _HEIGHT)
    yield _rect("wrong-side", "0", "100%", zero, _TOP + _HEIGHT - zero)
    for first, last in curves.idle:
        yield _rect("idle", scale.x(first), scale.width(first, last), _TOP, _HEIGHT)
    for first, last in curves.gaps:
        yield _rect("not-covered", scale.x(first), scale.width(first, last), _TOP, _HEIGHT)
    for mark in reversed(curves.marks):
        if mark.matters:
            for kind, first, last in mark.stretches:
                more = f' data-row="{mark.number}"'
                shade = f"shade {kind} s-{mark.row.status}"
                yield _rect(shade, scale.x(first), scale.width(first, last), _TOP, _HEIGHT, more)
    for number, first, last in reversed(curves.open_rows[:_MOST_MARKS]):
        more = f' data-row="{number}"'
        yield _rect("shade gap s-undetermined", scale.x(first), scale.width(first, last), _TOP, _HEIGHT, more)
    yield from _words_of_shades(curves, scale)


def _numbers_in_gaps(curves: ZoneCurves, scale: _Scale) -> Iterator[str]:
    """Yield the numbers of rows that a gap leaves open, in that gap."""
    in_gap: dict[tuple[float, float], list[int]] = {}
    for number, first, last in curves.open_rows[:_MOST_MARKS]:
        in_gap.setdefault((first, last), []).append(number)
    for (first, last), numbers in in_gap.items():
        word = say("curves.word.open", numbers=", ".join(map(str, numbers)))
        yield _placed("mark-word", scale.share((first + last) / 2.0), _TOP + 0.55 * _HEIGHT, word)


def _words_of_shades(curves: ZoneCurves, scale: _Scale) -> Iterator[str]:
    """Yield one word for each kind of hatching, at its widest."""
    for spans, key, y in ((curves.gaps, "gap", _TOP + 14), (curves.idle, "idle", _TOP + 28)):
        if spans:
            first, last = max(spans, key=lambda span: span[1] - span[0])
            yield _placed("shade-word", scale.share((first + last) / 2.0), y, say(f"curves.word.{key}"))


def _placed(kind: str, share: float, y: float, text: str) -> str:
    """Return a text at a share of the width, turned inwards near the ends so that it stays on the drawing."""
    if share > _TURN:
        return _text(f"{kind} at-end", f"{share:.3f}%", y, text)
    if share < 100.0 - _TURN:
        return _text(f"{kind} at-start", f"{share:.3f}%", y, text)
    return _text(kind, f"{share:.3f}%", y, text)


def _levels(curves: ZoneCurves, scale: _Scale) -> Iterator[str]:
    miles = [
        (value, scale.y(value * NAUTICAL_MILE_M))
        for value in level_ticks(curves.bottom_m / NAUTICAL_MILE_M, curves.top_m / NAUTICAL_MILE_M)
    ]
    wide = max(curves.top_m, -curves.bottom_m) > NAUTICAL_MILE_M
    metres = [(value, scale.y(value)) for value in level_ticks(curves.bottom_m, curves.top_m)]
    for value, y in miles if wide else metres:
        yield f'<line class="level" x1="0" x2="100%" y1="{y:g}" y2="{y:g}"/>'
        yield _text("level-word left", "0", y + 4.0, _number(value), -7.0)
    unit = say("curves.axis.miles" if wide else "curves.axis.metres")
    yield _text("level-word left", "0", _TOP - 11, unit, -7.0)
    if not wide:
        yield from (_text("level-word right", "100%", y + 4.0, _number(value), 7.0) for value, y in miles)
        yield _text("level-word right", "100%", _TOP - 11, say("curves.axis.miles"), 7.0)
    zero, margin = scale.y(0.0), scale.y(curves.margin_m)
    yield f'<line class="boundary" x1="0" x2="100%" y1="{zero:g}" y2="{zero:g}"/>'
    if curves.margin_m > 0.0:
        yield f'<line class="required" x1="0" x2="100%" y1="{margin:g}" y2="{margin:g}"/>'
        word = say("curves.word.margin", length=brief_length(curves.margin_m))
        yield _level_name(curves, scale, margin - 5.0, word)
    if zero - margin > 16.0 or not curves.margin_m > 0.0:
        yield _level_name(curves, scale, zero - 5.0, say("curves.word.boundary"))


def _number(value: float) -> str:
    return f"{value:g}".replace("-", "−")


def _level_name(curves: ZoneCurves, scale: _Scale, y: float, word: str) -> str:
    """Return the name of a level at the end of it where fewer lines are in the way."""
    taken = {True: 0, False: 0}
    for columns in (curves.vessel, *([curves.gear] if curves.gear is not None else [])):
        lines = _TOP + _heights(columns, scale, columns.least_m) * _HEIGHT / _HIGH
        there = (columns.state == State.WITHIN) & (lines > y - 14.0) & (lines < y + 4.0)
        for left, some in ((True, there[: len(there) // 3]), (False, there[-(len(there) // 3) :])):
            taken[left] += int(np.count_nonzero(some))
    if taken[True] < taken[False]:
        return _text("level-name at-start", "0", y, word, 6.0)
    return _text("level-name at-end", "100%", y, word, -6.0)


def _lines(curves: ZoneCurves, scale: _Scale) -> str:
    parts = [_band(curves.vessel, curves.joined, scale)]
    parts += _paths("curve-line vessel", curves.vessel, curves.joined, scale)
    if curves.gear is not None:
        parts += _paths("curve-line of-gear", curves.gear, curves.joined, scale)
    return (
        f'<svg x="0" y="{_TOP}" width="100%" height="{_HEIGHT}" viewBox="0 0 {_WIDE} {_HIGH}" '
        f'preserveAspectRatio="none">{"".join(parts)}</svg>'
    )


def _runs(some: BoolArray, joined: BoolArray) -> list[tuple[int, int]]:
    """Return the first and last of each run of some columns that positions cover without a break."""
    on = some[1:] & some[:-1] & joined
    firsts = np.flatnonzero(some & ~np.append(False, on))
    lasts = np.flatnonzero(some & ~np.append(on, False))
    return list(zip(firsts.tolist(), lasts.tolist(), strict=True))


def _heights(columns: Columns, scale: _Scale, which: FloatArray) -> IntArray:
    """Return the heights of columns, those beyond the drawing just beyond it."""
    y = scale.ys(which)
    y = np.where(columns.state == State.ABOVE, -_HIGH // 20, y)
    y = np.where(columns.state == State.BELOW, _HIGH + _HIGH // 20, y)
    return np.clip(y, -_HIGH // 20, _HIGH + _HIGH // 20)


def _middles(count: int) -> IntArray:
    return np.rint((np.arange(count) + 0.5) * _WIDE / count).astype(np.int64)


def _paths(kind: str, columns: Columns, joined: BoolArray, scale: _Scale) -> Iterator[str]:
    """Yield the line, and the columns that are joined to none as points."""
    x, y = _middles(len(columns.state)), _heights(columns, scale, columns.least_m)
    runs = _runs(columns.state != State.NOTHING, joined)
    line = "".join(_way(*_kept(x, y, first, last)) for first, last in runs if first < last)
    if line:
        yield f'<path class="{kind}" d="{line}"/>'
    alone = np.array([first for first, last in runs if first == last], dtype=np.int64)
    points = "".join(f"M{x[at]} {y[at]}h0" for at in _apart(alone, y, len(x)).tolist())
    if points:
        yield f'<path class="{kind} points" d="{points}"/>'


def _apart(alone: IntArray, y: IntArray, count: int) -> IntArray:
    """Return columns that stand far enough apart, of those that do not the lowest."""
    if len(alone) <= _MOST_POINTS:
        return alone
    order = np.lexsort((-y[alone], alone * _MOST_POINTS // count))
    place = (alone * _MOST_POINTS // count)[order]
    return np.asarray(alone[order][np.append(True, place[1:] != place[:-1])])


def _kept(x: IntArray, y: IntArray, first: int, last: int) -> tuple[IntArray, IntArray]:
    """Return the points of a run, without those in the middle of three at one height."""
    some = slice(first, last + 1)
    xs, ys = x[some], y[some]
    flat = np.zeros(len(ys), dtype=bool)
    flat[1:-1] = (ys[1:-1] == ys[:-2]) & (ys[1:-1] == ys[2:])
    return xs[~flat], ys[~flat]


def _way(x: IntArray, y: IntArray) -> str:
    """Return points as the data of a path, steps after the first."""
    steps = "".join(f"l{dx} {dy}" for dx, dy in zip(np.diff(x).tolist(), np.diff(y).tolist(), strict=True))
    return f"M{x[0]} {y[0]}{steps}"


def _band(columns: Columns, joined: BoolArray, scale: _Scale) -> str:
    """Return the area between the least and the greatest of each column."""
    x = _middles(len(columns.state))
    low, high = _heights(columns, scale, columns.least_m), _heights(columns, scale, columns.most_m)
    wide = (low - high > 8) & (columns.state == State.WITHIN)
    d = []
    for first, last in _runs(wide, joined):
        if first == last:
            continue
        back = slice(first, last + 1)
        xs = np.append(x[back], x[back][::-1])
        d.append(_way(xs, np.append(low[back], high[back][::-1])) + "z")
    return f'<path class="curve-band" d="{"".join(d)}"/>' if d else ""


def _bars(curves: ZoneCurves, scale: _Scale) -> Iterator[str]:
    y = _TOP + _HEIGHT + 3
    for number, first, last in curves.tows:
        width = scale.share(last) - scale.share(first)
        yield _rect("tow-bar", scale.x(first), scale.width(first, last), y, _LANE)
        if width > 12.0:
            middle = scale.share((first + last) / 2.0)
            yield _text("tow-bar-word", f"{middle:.3f}%", y + 11, say("curves.word.tow", number=number))


def _ticks(curves: ZoneCurves, clock: LocalClock, scale: _Scale) -> Iterator[str]:
    base = _TOP + _HEIGHT + (_LANE + 3 if curves.tows else 0)
    if curves.timed:
        ticks: Sequence[Tick] = time_ticks(curves.first, curves.last, clock)
        yield _text("tick-word left", "0", base + 20, say("curves.axis.utc"), -7.0)
        yield _text("tick-word left", "0", base + 36, local_name(curves.first, clock), -7.0)
    else:
        ticks = way_ticks(curves.first, curves.last)
        yield _text("tick-word at-end", "100%", base + 36, say("curves.axis.way"))
    for tick in ticks:
        x, thin = scale.x(tick.at), " thin" if tick.thin else ""
        aside = " at-start" if scale.share(tick.at) < _AT_EDGE else ""  # clear of the names of the clocks
        yield f'<line class="tick{thin}" x1="{x}" x2="{x}" y1="{base}" y2="{base + 5}"/>'
        for line, word in enumerate(tick.words):
            yield _text(f"tick-word{thin}{aside}", x, base + 20 + 16 * line, word)


def _marks(curves: ZoneCurves, scale: _Scale) -> Iterator[str]:
    drawn = [mark for mark in curves.marks if mark.at is not None]
    chosen = [mark for mark in drawn if mark.matters or mark is curves.least][:_MOST_MARKS]
    for mark in reversed(chosen):
        yield from _mark(curves, mark, scale)


def _mark(curves: ZoneCurves, mark: CurveMark, scale: _Scale) -> Iterator[str]:
    share, y = scale.share(mark.at or 0.0), scale.y(mark.row.clearance_m or 0.0)
    named, least = mark is curves.least, scale.share(curves.least.at or 0.0)
    part = "of-gear" if mark.row.part is Part.GEAR else "vessel"
    yield f'<circle class="least {part}" cx="{share:.3f}%" cy="{y:g}" r="4.5" data-row="{mark.number}"/>'
    word = f"{mark.number}: {length_of(curves, mark)}" if named else str(mark.number)
    # Above the mark, unless the top of the drawing or the margin's line is in the way there.
    crowded = y - _TOP <= 40.0 or 0.0 < y - scale.y(curves.margin_m) < 32.0
    above = y + 18.0 if crowded and y < _TOP + _HEIGHT - 20 else y - 9.0
    # The number of another row stands on the other side of its mark, away from the words of the least.
    kind = "at-end" if named == (least > _TURN) else "at-start"
    yield _text(f"mark-word {kind}", f"{share:.3f}%", above, word, -6.0 if kind == "at-end" else 6.0)


def length_of(curves: ZoneCurves, mark: CurveMark) -> str:
    """Return the clearance of a row in words: so far off, so far on the wrong side, or on the boundary."""
    clearance_m = mark.row.clearance_m or 0.0
    if abs(clearance_m) <= CONTACT_M:
        return say("curves.word.touched")
    if clearance_m >= 0.0:
        return brief_length(clearance_m)
    side = "outside" if curves.zone.rules.allowed_only_inside else "inside"
    return say(f"curves.word.{side}", length=brief_length(-clearance_m))
