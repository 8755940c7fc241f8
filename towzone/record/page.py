"""The record: one HTML file that explains a result to a person, opened from disk, with no network."""

from __future__ import annotations

import json

from towzone.model.result import CheckResult
from towzone.record.assets import script, style
from towzone.record.catalogue import said_by_script
from towzone.record.chart import CHART_ELEMENT, PageParts, assemble
from towzone.record.coast import load_coast
from towzone.record.data import chart_data
from towzone.record.evidence import coast_note, evidence
from towzone.record.island import dump
from towzone.record.leaflet import load_leaflet
from towzone.record.legend import legend, patterns
from towzone.record.scene import build_scene
from towzone.record.seal import DIGEST_ELEMENT
from towzone.record.static_svg import draw_static
from towzone.record.summary import summary
from towzone.record.table import rows_table
from towzone.record.text import escape, short
from towzone.record.versions import made_with
from towzone.record.words import pairs_of

__all__ = ["render_record"]

_STILL_TITLE = (
    "Still chart of the zones, the tracks and the numbered findings; the table below says the same in words"
)


def render_record(result: CheckResult, result_json: str) -> str:
    """Return the record of a result as the text of one HTML file.

    Parameters
    ----------
    result : CheckResult
        With at least one track with at least one fix.
    result_json : str
        The same result as JSON text; put into the page once, character for character except that ``<``,
        ``>`` and ``&`` inside strings are written as JSON escapes.

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
    first = result.tracks[0]
    parts = PageParts(
        title=escape(f"Clearance record: {short(first.track_id, 80)}"),
        comment=_comment(leaflet.version, leaflet.licence),
        styles=(("leaflet-style", leaflet.style), ("style", style())),
        body=(
            ("answer", f"{patterns()}\n{summary(result)}{_chart_head()}"),
            CHART_ELEMENT,
            (
                "chart",
                f'<div class="still-chart">{draw_static(scene, coast, _STILL_TITLE)}</div>\n'
                f'{_chart_bar()}<p class="note">{escape(coast_note(coast))}</p></div>\n'
                f"{legend(scene, coast)}</div></section>",
            ),
            ("rows", _rows(result)),
            ("evidence", evidence(result, scene, leaflet, coast)),
            ("footer", f"</main>\n<footer><p>{DIGEST_ELEMENT}</p></footer>"),
        ),
        islands=(
            ("words", dump(said_by_script())),
            ("chart-data", dump(chart_data(scene, coast))),
            ("result", result_json),
        ),
        scripts=(("leaflet", leaflet.script), ("script", script())),
        made_with=made_with(result, leaflet),
    )
    return assemble(parts, scene.view)


def _comment(version: str, licence: str) -> str:
    # Two hyphens would end the comment.
    licence = licence.replace("--", "- -").strip()
    return f"The interactive chart uses Leaflet {version}, under this licence:\n\n{licence}"


def _chart_head() -> str:
    return (
        '<section class="chart-part" aria-labelledby="chart-title"><h2 id="chart-title">Chart</h2>\n'
        '<div class="chart-grid"><div>'
    )


def _chart_bar() -> str:
    return (
        '<div class="chart-bar needs-script"><p id="chosen" aria-live="polite">'
        "Choose a number on the chart or in the table.</p>\n<p>"
        '<button type="button" id="previous">Previous</button> <button type="button" id="next">Next</button> '
        '<button type="button" id="to-row" hidden>To its row</button> '
        '<button type="button" id="whole">Whole chart</button></p></div>\n'
    )


def _rows(result: CheckResult) -> str:
    table = (
        rows_table(result) if result.rows else '<p class="none">No zone lies within reach of any track.</p>'
    )
    beyond = ""
    if result.beyond_reach:
        pairs = pairs_of(result.beyond_reach, result.rows, more=True)
        pairs += " is" if result.beyond_reach == 1 else " are"
        beyond = f'<p class="note">{pairs} farther apart than the reach and therefore clear; not listed.</p>'
    head = '<section aria-labelledby="rows-title"><h2 id="rows-title">Results, worst first</h2>'
    return f"{head}\n{table}\n{beyond}</section>"
