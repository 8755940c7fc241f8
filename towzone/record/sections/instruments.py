"""The instruments directly below the chart, both seen together: along the track, read-out, measuring.

All of them need the script.
"""

from __future__ import annotations

import math

from towzone.model.result import CheckResult, Part
from towzone.record.catalogue import say
from towzone.record.text import escape

__all__ = ["instruments", "readout_note"]

_PACES = (30, 120, 600)
"""Times faster than it was: a tow of four hours in eight minutes, two minutes, or 24 seconds. Own choice."""

_READINGS = ("time", "position", "motion", "activity", "zone", "gear")


def instruments(result: CheckResult) -> str:
    """Return the instruments as HTML; the script fills in what they show, from the page's data."""
    doubt_m = _doubt_m(result)
    doubt = "" if doubt_m is None else f' data-doubt-m="{doubt_m:.1f}"'
    return (
        f'<div id="instruments" class="instruments needs-script" role="group" '
        f'aria-label="{_words("title")}"{doubt}>\n'
        f'{_playback()}\n<p id="measured"></p>\n{_readout()}\n<div class="moving">{_steps()}\n{_pace()}\n'
        f'<button type="button" id="measure" aria-pressed="false">{_words("measure")}</button></div>\n'
        '<p id="instruments-said" class="unseen" aria-live="polite"></p></div>'
    )


def readout_note() -> str:
    """Return how to use the read-out and how far it is to be trusted, for below all buttons."""
    return f'<p class="note needs-script">{_words("readout.hint")} {_words("readout.note")}</p>'


def _doubt_m(result: CheckResult) -> float | None:
    """Return how uncertain the vessel's distance to a zone is at most; ``None`` where that is not known."""
    known = [row.uncertainty_m for row in result.rows if row.part is Part.VESSEL]
    stated = result.settings.get("position_error_m")
    if isinstance(stated, int | float):
        known.append(float(stated) + max((zone.datum_accuracy_m for zone in result.zones), default=0.0))
    return max((value for value in known if math.isfinite(value)), default=None)


def _playback() -> str:
    return (
        f'<div class="playback"><label id="of-track" hidden>{_words("tracks")} '
        '<select id="moment-track"></select></label>\n'
        f'<button type="button" id="play">{_words("play")}</button>\n'
        '<input type="range" id="moment-slider" min="0" max="1" value="0" step="any" '
        f'aria-label="{_words("slider")}"></div>'
    )


def _pace() -> str:
    paces = "".join(
        f'<option value="{pace}"{" selected" if pace == _PACES[1] else ""}>'
        f"{_words('paces', pace=pace)}</option>"
        for pace in _PACES
    )
    return f'<label>{_words("pace")} <select id="pace">{paces}</select></label>'


def _steps() -> str:
    buttons = " ".join(
        f'<button type="button" data-step="{step}">{_words(name)}</button>'
        for name, step in (("back_ten", -10), ("back", -1), ("ahead", 1), ("ahead_ten", 10))
    )
    return f'<div class="steps" role="group" aria-label="{_words("steps")}">{buttons}</div>'


def _readout() -> str:
    readings = "".join(
        f'<div class="r-{name}"><dt>{_words(f"readout.{name}")}</dt><dd data-reading="{name}"></dd></div>'
        for name in _READINGS
    )
    return f'<dl id="readout" aria-label="{_words("readout.title")}">{readings}</dl>'


def _words(entry: str, **values: object) -> str:
    return escape(say(f"instruments.{entry}", **values))
