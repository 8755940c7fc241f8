"""The record: one HTML file that explains a result to a person, opened from disk, with no network."""

from __future__ import annotations

import json

from towzone.model.result import CheckResult
from towzone.record.assets import script, style
from towzone.record.catalogue import said_by_script, say
from towzone.record.chart import CHART_ELEMENT, assemble
from towzone.record.clock import local_clock
from towzone.record.curves.section import curves_part
from towzone.record.drawn.coast import load_coast
from towzone.record.drawn.data import chart_data
from towzone.record.drawn.legend import legend, patterns
from towzone.record.drawn.scene import build_scene
from towzone.record.drawn.still_chart import draw_static
from towzone.record.island import dump
from towzone.record.leaflet import load_leaflet
from towzone.record.proof.versions import made_with
from towzone.record.sections.evidence import coast_note, evidence
from towzone.record.sections.footer import footer
from towzone.record.sections.instruments import instruments, readout_note
from towzone.record.sections.paper import paper_style
from towzone.record.sections.plan import plan_part
from towzone.record.sections.summary import summary
from towzone.record.sections.table import rows_part
from towzone.record.sections.trip_index import trip_index
from towzone.record.shell import PageParts
from towzone.record.text import escape, short

__all__ = ["render_record"]

_BUTTONS = {"previous": "previous", "next": "next", "to-row": "to_row", "whole": "whole"}
"""Element and words of each button below the chart."""


def render_record(result: CheckResult, result_json: str, rows_csv: str) -> str:
    """Return the record of a result as the text of one HTML file.

    Parameters
    ----------
    result : CheckResult
        With at least one track with at least one fix.
    result_json : str
        The same result as JSON text; put into the page once, character for character except that ``<``,
        ``>`` and ``&`` inside strings are written as JSON escapes.
    rows_csv : str
        Its rows as CSV text, carried along to be saved again.

    Returns
    -------
    str
        To be written as UTF-8 with newlines as they are. The same arguments and the same installed versions
        give the same text: no clock, no random number, no order of a set is used.

    Raises
    ------
    ValueError
        No track has a fix, or ``result_json`` is not valid JSON.
    OutputError
        Leaflet is not installed or not the known release.
    """
    json.loads(result_json)
    leaflet = load_leaflet()
    scene = build_scene(result)
    coast = load_coast(scene.window)
    clock = local_clock(result)
    still = draw_static(scene, coast, say("page.title.still_chart"))
    parts = PageParts(
        title=escape(say("page.title.window", track=short(result.tracks[0].track_id, 80))),
        comment=_comment(leaflet.version, leaflet.licence),
        styles=(("leaflet-style", leaflet.style), ("style", style()), ("paper-style", paper_style())),
        body=(
            ("answer", f"{patterns()}\n{summary(result, clock)}"),
            ("plan", plan_part(result, clock)),
            ("index", f"{trip_index(result, clock)}{_chart_head()}"),
            CHART_ELEMENT,
            ("still-chart", f'<div class="still-chart">{still}</div>'),
            ("instruments", instruments(result)),
            ("bar", f'{_chart_bar()}{readout_note()}<p class="note">{escape(coast_note(coast))}</p></div>'),
            ("legend", f"{legend(scene, coast)}</div></section>"),
            ("curves", curves_part(result, scene)),
            ("rows", rows_part(result)),
            ("evidence", evidence(result, scene, leaflet, coast, clock)),
            ("footer", f"{footer()}\n</main>"),
        ),
        islands=(
            ("words", dump(said_by_script())),
            ("chart-data", dump(chart_data(scene, coast, rows_csv))),
            ("result", result_json),
        ),
        scripts=(("leaflet", leaflet.script), ("script", script())),
        made_with=made_with(result, leaflet, coast),
    )
    return assemble(parts, scene.view)


def _comment(version: str, licence: str) -> str:
    # Two hyphens would end the comment.
    return say("page.title.leaflet", version=version, licence=licence.replace("--", "- -").strip())


def _chart_head() -> str:
    return (
        '<section class="chart-part" aria-labelledby="chart-title">'
        f'<h2 id="chart-title">{escape(say("page.title.chart"))}</h2>\n<div class="chart-grid"><div>'
    )


def _chart_bar() -> str:
    buttons = " ".join(
        f'<button type="button" id="{name}"{" hidden" if name == "to-row" else ""}>'
        f"{escape(say(f'page.bar.{words}'))}</button>"
        for name, words in _BUTTONS.items()
    )
    choose = escape(say("page.bar.choose"))
    return (
        f'<div class="chart-bar needs-script"><p>{buttons}</p>\n'
        f'<p id="chosen" aria-live="polite">{choose}</p></div>\n'
    )
